package fault

import (
	"math/cmplx"
	"os"
	"strings"
	"testing"
	"testing/fstest"

	"feederwright/study"
)

// What faults start from is the load flow itself: every vantage and bus shows
// before the fault what the flow shows, with constant-power loads, regulators,
// machines and inverters (derived: the linear network that holds the state has
// the same equations at it).
func TestPrefaultIsTheFlow(t *testing.T) {
	for _, name := range []string{"harnmoor", "velmora"} {
		files := fstest.MapFS{}
		for _, f := range []string{"study.yaml", "conductors.yaml"} {
			if text, err := os.ReadFile("../examples/" + name + "/" + f); err == nil {
				text := string(text)
				if !strings.Contains(text, "\nmethod:\n") && f == "study.yaml" {
					t.Fatal("no method to change")
				}
				files[f] = &fstest.MapFile{Data: []byte(strings.Replace(text, "\nmethod:\n", "\nmethod:\n  prefault state: load-flow\n", 1))}
			}
		}
		doc, diags := study.Read(files, "study.yaml")
		if diags.Errors() > 0 {
			t.Fatal(diags)
		}
		states, diags := doc.States()
		if diags.Errors() > 0 || len(states) == 0 {
			t.Fatal(diags)
		}
		solved := 0
		for _, state := range states {
			c, err := Open(doc, state)
			if err != nil {
				t.Fatalf("%s, %s: %v", name, state.Name, err)
			}
			if !c.Flow.Converged {
				if c.options.Flow || !strings.Contains(strings.Join(c.Model.Defaults, "\n"), "start from the sources alone") {
					t.Errorf("%s, %s: no state of service, and the faults don't say so", name, state.Name)
				}
				continue
			}
			solved++
			seen := 0
			for i := range c.Net.Buses {
				for _, k := range c.Net.Fed[i].Conductors() {
					a, b := c.PrefaultVoltage(i, k), c.Flow.Voltage(i, k)
					// The stop rules: 1e-9 of the flow, 1e-6 of an inverter's rated current.
					if !(cmplx.Abs(a-b) <= 1e-6*c.Net.Buses[i].Nominal) {
						t.Errorf("%s, %s: bus %s conductor %d: %v before the fault, %v in service", name, state.Name, c.Net.Buses[i].Name, k, a, b)
					}
					seen++
				}
			}
			res := &Result{Current: make([][4]complex128, len(c.currents)), Voltage: make([][4]complex128, len(c.voltages))}
			c.observe(AtBus(0), res, nil)
			for i, r := range c.Flow.Read() {
				for k, in := range r.Currents {
					for x := range in.Primary {
						a, b := c.Conductors(res, i, k)[x], in.Primary[x]
						if !(cmplx.Abs(a-b) <= 1e-4+1e-5*cmplx.Abs(b)) {
							t.Errorf("%s, %s: %s, %s: %v before the fault, %v in service", name, state.Name, r.Vantage.Name, in.Input.Name, a, b)
						}
						seen++
					}
				}
			}
			if seen == 0 {
				t.Error("nothing compared")
			}
		}
		if solved == 0 {
			t.Errorf("%s: no condition has a state of service", name)
		}
	}
}
