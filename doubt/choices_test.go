package doubt

import (
	"fmt"
	"strings"
	"testing"
	"testing/fstest"

	"feederwright/examples"
	"feederwright/quantity"
	"feederwright/study"
)

// A study that leaves every default which is a value to the program.
const silent = `
feederwright: 1
study: silent
frequency: 60 Hz
supply:
  G: { at: HV, maximum: { three-phase: 10 kA, x/r: 10, line-to-ground: 9 kA, line-to-ground x/r: 9 } }
buses:
  HV: { voltage: 69 kV }
  A: { voltage: 12.47 kV }
  B: { voltage: 12.47 kV }
  C: { voltage: 12.47 kV }
  T: { voltage: 4.16 kV }
  M: { voltage: 12.47 kV }
three-winding transformers:
  T1: { first: HV, second: A, third: T, group: YNyn0d1, rating: 12 MVA, voltages: 69/12.47/4.16 kV, impedance 1-2: 8.2 %, impedance 1-3: 13.5 %, impedance 2-3: 4.1 %, x/r: 18, zero-sequence 1-2: 7.9 %, zero-sequence 1-3: 13.0 %, zero-sequence 2-3: 4.0 %, first neutral: solid, second neutral: solid }
transformers:
  T2: { from: HV, to: M, group: Dyn1, rating: 10 MVA, voltages: 69/12.47 kV, impedance: 8 %, x/r: 15, zero-sequence: 7.6 %, neutral: solid }
earthing transformers:
  E: { at: T, neutral current: 400 A }
conductors:
  wire: { library: ACSR 336.4 kcmil 26/7 }
pole tops:
  top: { positions: { l: -0.9 m at 9.5 m, m: 0 m at 10 m, r: 0.9 m at 9.5 m } }
line types:
  OH: { z1: 0.2 + j0.4 ohm/km, z0: 0.5 + j1.2 ohm/km, b1: 3 uS/km }
  BUILT: { pole top: top, conductor: wire, positions: { A: l, B: m, C: r } }
lines:
  AB: { from: A, to: B, type: OH, length: 4 km }
  BC: { from: B, to: C, type: BUILT, length: 3 km }
capacitors:
  K: { at: B, power: 600 kvar, connection: earthed-wye }
loads:
  L: { at: B, power: 1 MVA, pf: 0.9 lag }
induction machines:
  IM: { at: M, power: 250 kW, efficiency: 94.5 %, pf: 0.87 lag, locked-rotor current: 6.2, x/r: 7 }
synchronous machines:
  SM: { at: M, rating: 2.0 MVA, subtransient: 19 %, transient: 28 %, zero: 8 %, x/r: 28, neutral: 60 ohm }
inverters:
  PV: { at: C, rating: 1.0 MVA, current limit: 115 %, response: support, gain: 2 }
conditions:
  usual: {}
`

// What is recorded as taken for a default is what was taken: put into the study,
// it changes nothing but the list of defaults.
func TestChoicesAreWhatWasTaken(t *testing.T) {
	kinds := map[string]bool{}
	for _, name := range []string{"silent", "loads counted", "first-study", "velmora", "harnmoor"} {
		var doc *study.Document
		var states []study.State
		switch name {
		case "silent":
			doc, states = open(t, fstest.MapFS{"s.yaml": {Data: []byte(strings.TrimLeft(silent, "\n"))}}, "s.yaml")
		case "loads counted":
			doc, states = open(t, fstest.MapFS{"s.yaml": {Data: []byte(strings.Replace(strings.TrimLeft(silent, "\n"), "supply:", "method: { loads: counted }\nsupply:", 1))}}, "s.yaml")
		default:
			doc, states = open(t, examples.Files, name+"/study.yaml")
		}
		base, err := judge(doc, states)
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range base.report.Choices {
			if c.Text == "" {
				t.Errorf("%s: %s has no words", name, c.At)
			}
			kinds[c.At[0]+"/"+c.At[len(c.At)-1]] = true
			text, ok := c.Taken.(string)
			if !ok {
				if text, ok = scaled(c.Taken, 1); !ok {
					t.Errorf("%s: %s has a value that cannot be written: %v", name, c.At, c.Taken)
					continue
				}
			}
			if n, is := c.Taken.(quantity.Number); is && fmt.Sprint(float64(n)) == "+Inf" {
				continue // no number of the format says so
			}
			varied, states, why := vary(doc, []study.Put{{At: c.At, Text: text}})
			if why != "" {
				if c.At[len(c.At)-1] != "ceases below" && c.At[len(c.At)-1] != "negative-sequence gain" { // 0 is their absence
					t.Errorf("%s: %s: %s is refused: %s", name, c.At, text, why)
				}
				continue
			}
			now, err := judge(varied, states)
			if err != nil {
				t.Fatal(err)
			}
			var tr Trial
			tr.compare(base, now)
			const digits = 1e-5 // values are written with six
			if tr.Changes != nil || tr.Finding != nil && tr.Finding.Relative > digits || tr.Current != nil && tr.Current.Relative > digits {
				t.Errorf("%s: %s = %s changes %+v, %+v, %+v", name, c.At, text, tr.Changes, tr.Finding, tr.Current)
			}
			if len(now.report.Choices) != len(base.report.Choices)-1 {
				t.Errorf("%s: %s = %s leaves %d defaults of %d", name, c.At, text, len(now.report.Choices), len(base.report.Choices))
			}
		}
	}
	for _, want := range []string{"method/charging", "method/capacitors", "method/loads", "method/prefault", "method/machines", "method/inverters",
		"supply/z2", "transformers/zero-sequence x/r", "three-winding transformers/zero-sequence x/r", "earthing transformers/x/r", "line types/b0",
		"line types/earth resistivity", "loads/connection", "induction machines/z2", "synchronous machines/negative",
		"inverters/output", "inverters/dip below", "inverters/negative-sequence gain", "inverters/ceases below"} {
		if !kinds[want] {
			t.Errorf("no study of this test leaves %s to its default", want)
		}
	}
}
