package server_test

import (
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"feederwright/server"
)

// large is a feeder of n buses: a trunk, laterals of ten buses with one phase.
func large(n int) string {
	var buses, lines strings.Builder
	phases := []string{"A", "B", "C"}
	trunk := "MAIN"
	for i := 0; i < n; i++ {
		name, from, extra, length := fmt.Sprintf("B%d", i), fmt.Sprintf("B%d", i-1), "", "0.05 mi"
		if k := i % 11; k == 0 {
			from, trunk, length = trunk, name, "0.1 mi"
		} else {
			if k == 1 {
				from = trunk
			}
			extra = ", phases: " + phases[i/11%3]
		}
		kind := "OH336"
		if extra != "" {
			kind = "OH2"
		}
		fmt.Fprintf(&buses, "  %s: { voltage: 12.47 kV%s }\n", name, extra)
		fmt.Fprintf(&lines, "  %s-%s: { from: %s, to: %s, type: %s, length: %s%s }\n", from, name, from, name, kind, length, extra)
	}
	return strings.NewReplacer("BUSES", buses.String(), "LINES", lines.String()).Replace(`feederwright: 1
study: Large feeder
frequency: 60 Hz
supply:
  utility:
    at: HV
    maximum: { three-phase: 8.0 kA, x/r: 12, source: invented }
    minimum: { three-phase: 5.0 kA, x/r: 10, source: invented }
buses:
  HV:   { voltage: 69 kV }
  MAIN: { voltage: 12.47 kV }
BUSES
transformers:
  T1: { from: HV, to: MAIN, group: Dyn1, rating: 10 MVA, voltages: 69/12.47 kV, impedance: 8.0 % on 10 MVA, zero-sequence: 7.6 % on 10 MVA, x/r: 15, neutral: solid, source: invented }
line types:
  OH336: { z1: 0.3061 + j0.6270 ohm/mi, z0: 0.7735 + j1.9373 ohm/mi, source: line-constant calculation }
  OH2:   { phases: 1, z: 1.9219 + j1.4209 ohm/mi, source: line-constant calculation }
lines:
LINES
conditions:
  maximum: { infeed: maximum }
  minimum: { infeed: minimum }
`)
}

// A study of two thousand nodes answers an edit, a fault and its map while a person waits. The bounds are wide, since a test
// machine may be busy; BenchmarkLarge has the times.
func TestLarge(t *testing.T) {
	if testing.Short() {
		t.Skip("takes seconds")
	}
	dir := filepath.Join(t.TempDir(), "large")
	if err := os.Mkdir(dir, 0o777); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "study.yaml"), []byte(large(2000)), 0o666); err != nil {
		t.Fatal(err)
	}
	v := serve(t, server.Options{Path: dir}) + "/api/studies/large"
	st := get(t, v)
	if st["state"] != "good" {
		t.Fatalf("%v", st["diagnostics"])
	}
	took := func(what string, do func()) {
		start := time.Now()
		do()
		d := time.Since(start)
		t.Logf("%s: %d ms", what, d.Milliseconds())
		if d > 5*time.Second {
			t.Errorf("%s took %v", what, d)
		}
	}
	c := "&condition=maximum"
	for i := range 2 {
		took("edit", func() {
			code, out := call(t, "POST", v+"/edit", object{"base": st["version"], "what": "length", "changes": []object{{"op": "set", "path": "lines / B0-B11 / length", "value": fmt.Sprintf("0.%d mi", 2+i)}}})
			if code != 200 {
				t.Fatalf("%d %v", code, out)
			}
			st = out
		})
		took("fault", func() { get(t, v+"/fault?at=B1500&kind="+url.QueryEscape("lg:B")+c) })
		took("another fault", func() { get(t, v+"/fault?at=B1501&kind="+url.QueryEscape("lg:B")+c) })
		took("profile", func() { get(t, v+"/profile?to=B1501"+c) })
		took("places", func() { get(t, v+"/places") })
		took("map", func() {
			m := get(t, v+"/map?condition=maximum")
			t.Log(len(m["svg"].(string)), len(m["items"].([]any)), m["width"], m["height"])
		})
		took("map, folded", func() {
			m := get(t, v+"/map?condition=maximum&fold=4&open=B23")
			t.Log(len(m["svg"].(string)), len(m["items"].([]any)), m["width"], m["height"], len(m["folds"].([]any)))
		})
		took("findings", func() { get(t, v+"/findings") })
		took("table", func() { get(t, v+"/faults?x=1"+c) })
	}
}
