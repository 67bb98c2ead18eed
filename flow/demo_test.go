package flow_test

import (
	"io/fs"
	"math"
	"math/cmplx"
	"strings"
	"testing"
	"testing/fstest"

	"feederwright/examples"
	"feederwright/flow"
	"feederwright/study"
)

// The demonstration fed over its tie, against a calculation outside this
// program (derived: nodal, loads as constant impedances, taps neutral,
// capacitor out; printed with two decimals and whole amperes).
func TestDemonstrationOverItsTie(t *testing.T) {
	open := func(condition string, edits ...string) *flow.Case {
		t.Helper()
		files := fstest.MapFS{}
		for _, name := range []string{"study.yaml", "conductors.yaml"} {
			b, err := fs.ReadFile(examples.Files, "velmora/"+name)
			if err != nil {
				t.Fatal(err)
			}
			text := string(b)
			if name == "study.yaml" {
				for i := 0; i < len(edits); i += 2 {
					if !strings.Contains(text, edits[i]) {
						t.Fatalf("the demonstration has no %q", edits[i])
					}
					text = strings.ReplaceAll(text, edits[i], edits[i+1])
				}
			}
			files[name] = &fstest.MapFile{Data: []byte(text)}
		}
		doc, ds := study.Read(files, "study.yaml")
		if ds.Errors() > 0 {
			t.Fatal(ds)
		}
		states, ds := doc.States()
		if ds.Errors() > 0 {
			t.Fatal(ds)
		}
		states, err := study.Select(states, condition)
		if err != nil {
			t.Fatal(err)
		}
		c, err := flow.Open(doc, states[0])
		if err != nil {
			t.Fatal(err)
		}
		if !c.Converged {
			t.Fatalf("%s: %s", condition, c.Trouble.Cause(c.Net, c.PhaseName))
		}
		return c
	}
	impedance := []string{"pf: 0.95 lag", "pf: 0.95 lag, model: impedance", "pf: 0.88 lag", "pf: 0.88 lag, model: impedance",
		"[TS] }", "[TS, C-N4] }"}
	band := func(c *flow.Case, low, high float64, buses ...string) {
		t.Helper()
		least, most := math.Inf(1), math.Inf(-1)
		for _, b := range c.Buses() {
			for _, name := range buses {
				if b.Name == name {
					for _, p := range b.Phases.Conductors() {
						least, most = math.Min(least, b.PerUnit[p]), math.Max(most, b.PerUnit[p])
					}
				}
			}
		}
		if !(math.Abs(least-low) <= 0.005) || !(math.Abs(most-high) <= 0.005) { // half of the last digit
			t.Errorf("%s, %v: %.4f to %.4f of nominal, want %.2f to %.2f (derived)", c.State.Name, buses, least, most, low, high)
		}
	}
	band(open("maximum, tie-fed, no plant", impedance...), 0.74, 0.79, "N1", "N2", "N3")
	apart := open("maximum, tie-fed to R1, no plant", impedance...)
	band(apart, 0.85, 0.87, "N4")
	band(apart, 0.91, 0.93, "N7")
	cold := open("maximum, tie-fed, no plant", append(impedance, "tie-fed:       {", "tie-fed:       { loads: cold,")...)
	most := 0.0
	for _, r := range cold.Read() {
		if r.Vantage.Name == "AQ-21" {
			for _, i := range r.Currents[0].Primary {
				most = math.Max(most, cmplx.Abs(i))
			}
		}
	}
	if !(math.Abs(most-654) <= 0.5) {
		t.Errorf("AQ-21 sees %.2f A in cold load, want 654 A (derived)", most)
	}
}
