package main

import (
	"bytes"
	"encoding/json"
	"math"
	"math/cmplx"
	"os"
	"path/filepath"
	"testing"
)

// TestParallelRuns: cables in parallel are one impedance divided by their
// number, for both sequences.
//
// Source of the expected values: derived, by hand from the definitions, with
// U the nominal voltage:
//
//	three-phase     I = U/√3 / |Zs + Z/n|
//	line to earth   I = √3·U / |2·(Zs + Z/n) + Z0s + Z0/n|
func TestParallelRuns(t *testing.T) {
	const (
		u   = 11e3 // V
		zs  = 0.02 + 0.3i
		z0s = 0.05 + 0.9i
		z   = 0.0791 + 0.0980i // ohm, 1 km
		z0  = 0.412 + 0.061i
	)
	for _, runs := range []string{"", "1", "2", "3"} {
		dir := t.TempDir()
		from, to := filepath.Join(dir, "tables"), filepath.Join(dir, "study")
		if err := os.Mkdir(from, 0o755); err != nil {
			t.Fatal(err)
		}
		for name, text := range map[string]string{
			"study.csv":      "study,frequency\nRuns,50 Hz\n",
			"buses.csv":      "name,voltage\nA,11 kV\nB,11 kV\n",
			"supply.csv":     "name,at,level,z1,z0\ngrid,A,maximum,0.02 + j0.3 ohm,0.05 + j0.9 ohm\n",
			"line_types.csv": "name,r1 (ohm/km),x1 (ohm/km),z0\nC,0.0791,0.0980,0.412 + j0.061 ohm/km\n",
			"cables.csv":     "name,from,to,type,length (m),runs\nW1,A,B,C,1000," + runs + "\n",
		} {
			write(t, filepath.Join(from, name), text)
		}
		var out, errs bytes.Buffer
		if code := run([]string{"new", to, "--from", from}, &out, &errs); code != 0 {
			t.Fatalf("exit code %d\n%s", code, errs.String())
		}
		n := complex(1, 0)
		switch runs {
		case "2":
			n = 2
		case "3":
			n = 3
		}
		want := map[string]float64{
			"3ph":  u / math.Sqrt(3) / cmplx.Abs(zs+z/n),
			"lg:A": math.Sqrt(3) * u / cmplx.Abs(2*(zs+z/n)+z0s+z0/n),
		}
		for kind, current := range want {
			out.Reset()
			if code := run([]string{"faults", to, "--at", "B", "--kind", kind, "--format", "json"}, &out, &errs); code != 0 {
				t.Fatalf("exit code %d\n%s", code, errs.String())
			}
			var got struct {
				Faults []struct {
					Current float64 `json:"current_ampere"`
				} `json:"faults"`
			}
			if err := json.Unmarshal(out.Bytes(), &got); err != nil || len(got.Faults) != 1 {
				t.Fatalf("%v\n%s", err, out.String())
			}
			const rounding = 1e-9 // relative; of the solver, whose residual is below 1e-12
			if i := got.Faults[0].Current; !(math.Abs(i/current-1) <= rounding) {
				t.Errorf("%s with %q runs: %.6f A, want %.6f A (derived)", kind, runs, i, current)
			}
		}
	}
}
