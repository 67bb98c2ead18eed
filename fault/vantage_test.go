package fault_test

import (
	"math/cmplx"
	"strings"
	"testing"
	"testing/fstest"

	"feederwright/fault"
	"feederwright/study"
)

// openStudy reads a study's text and opens one of its conditions.
func openStudy(t *testing.T, text, condition string) *fault.Case {
	t.Helper()
	doc, ds := study.Read(fstest.MapFS{"s.yaml": {Data: []byte(strings.TrimLeft(text, "\n"))}}, "s.yaml")
	ds = append(ds, doc.Validate()...)
	states, more := doc.States()
	for _, d := range append(ds, more...) {
		if d.Severity == study.Error {
			t.Fatal(d.Text())
		}
	}
	chosen := must[[]study.State](t)(study.Select(states, condition))
	return must[*fault.Case](t)(fault.Open(doc, chosen[0]))
}

const ring = `
feederwright: 1
study: two ways to a bus
frequency: 60 Hz
supply:
  S: { at: A, maximum: { three-phase: 10 kA, x/r: 10, line-to-ground: 9 kA, line-to-ground x/r: 9 } }
buses:
  A: { voltage: 12.47 kV }
  B: { voltage: 12.47 kV }
  C: { voltage: 12.47 kV }
  D: { voltage: 12.47 kV, phases: B }
line types:
  L: { z1: 0.3061 + j0.6270 ohm/mi, z0: 0.7735 + j1.9373 ohm/mi }
  S: { phases: 1, z: 1.9 + j1.4 ohm/mi }
lines:
  AB: { from: A, to: B, type: L, length: 2 mi }
  AC: { from: A, to: C, type: L, length: 3 mi }
  BD: { from: B, to: D, type: S, length: 1 mi, phases: B }
switches:
  BC: { from: B, to: C, normally: open }
breakers:
  X: { in: AB, near: A }
fuses:
  F: { in: BD, near: B }
current transformers:
  wye:      { at: X, facing: B, ratio: 600/5 A }
  back:     { at: X, facing: A, ratio: 600/5 A }
  inside:   { in: AB, near: A, ratio: 600/5 A }
  far end:  { in: AB, near: B, facing: B, ratio: 600/5 A }
  delta:    { at: X, ratio: 600/5 A, connection: delta-AB }
  other:    { at: X, ratio: 600/5 A, connection: delta-AC }
  residual: { at: X, ratio: 600/5 A, connection: residual }
  window:   { at: X, ratio: 50/5 A, connection: core-balance }
  odd:      { at: X, ratio: 600/5 A, encloses: [A - B + C, -A] }
  tie:      { at: BC, facing: C, ratio: 600/5 A }
  fuse:     { at: F, ratio: 100/5 A }
voltage transformers:
  star:   { at: B, ratio: 7200/120 V }
  open:   { at: B, ratio: 12470/120 V, connection: open-delta }
  broken: { at: B, ratio: 7200/120 V, connection: broken-delta }
  one:    { at: B, ratio: 7200/120 V, measures: [C] }
conditions:
  radial: {}
  closed: { close: [BC] }
`

// Every connection is the signed sum of the same conductor currents: derived
// from the wiring, by hand.
func TestVantageConnections(t *testing.T) {
	c := openStudy(t, ring, "radial")
	p := must[fault.NamedPlace](t)(c.ParsePlace("AB/60%"))
	res := must[*fault.Result](t)(c.Fault(p.Place, kind(t, "ll-g:BC"), 1))
	current := map[string]fault.CurrentReading{}
	voltage := map[string]fault.VoltageReading{}
	for _, r := range c.Read(res) {
		for _, x := range r.Currents {
			current[x.Input.Name] = x
		}
		for _, x := range r.Voltages {
			voltage[x.Input.Name] = x
		}
	}
	w := current["wye"]
	i := w.Primary
	for k := 0; k < 3; k++ {
		near(t, "wye is the fault's current", cmplx.Abs(i[k]-res.I[k]), 0, 1e-6)
		near(t, "wye, secondary", cmplx.Abs(w.Secondary[k]-i[k]/120), 0, 1e-9)
		near(t, "facing the bus", cmplx.Abs(current["back"].Primary[k]+i[k]), 0, 1e-6)
		near(t, "in the branch", cmplx.Abs(current["inside"].Primary[k]-i[k]), 0, 1e-6)
		near(t, "beyond the fault", cmplx.Abs(current["far end"].Primary[k]), 0, 1e-6)
	}
	for k, want := range []complex128{i[0] - i[1], i[1] - i[2], i[2] - i[0]} {
		near(t, "delta-AB", cmplx.Abs(current["delta"].Secondary[k]-want/120), 0, 1e-9)
	}
	for k, want := range []complex128{i[0] - i[2], i[1] - i[0], i[2] - i[1]} {
		near(t, "delta-AC", cmplx.Abs(current["other"].Secondary[k]-want/120), 0, 1e-9)
	}
	sum := i[0] + i[1] + i[2]
	near(t, "residual", cmplx.Abs(current["residual"].Secondary[0]-sum/120), 0, 1e-9)
	near(t, "core balance", cmplx.Abs(current["window"].Secondary[0]-sum/10), 0, 1e-9)
	near(t, "enclosed", cmplx.Abs(current["odd"].Secondary[0]-(i[0]-i[1]+i[2])/120), 0, 1e-9)
	near(t, "enclosed, turned", cmplx.Abs(current["odd"].Secondary[1]+i[0]/120), 0, 1e-9)
	if d := [...]string{w.Direction, current["back"].Direction, current["inside"].Direction}; d != [...]string{"forward", "reverse", "forward"} {
		t.Errorf("directions %q", d)
	}
	if n := current["tie"].Note; n == "" {
		t.Error("the open tie has a current")
	}
	if got := len(current["fuse"].Secondary); got != 1 {
		t.Errorf("a single-phase fuse has %d circuits", got)
	}
	v := voltage["star"].Primary
	near(t, "open delta A-B", cmplx.Abs(voltage["open"].Secondary[0]-(v[0]-v[1])*120/12470), 0, 1e-9)
	near(t, "open delta B-C", cmplx.Abs(voltage["open"].Secondary[1]-(v[1]-v[2])*120/12470), 0, 1e-9)
	near(t, "broken delta", cmplx.Abs(voltage["broken"].Secondary[0]-(v[0]+v[1]+v[2])/60), 0, 1e-9)
	near(t, "one phase", cmplx.Abs(voltage["one"].Secondary[0]-v[2]/60), 0, 1e-9)
}

// On a loop the direction follows the fault, and the tie's current by
// Kirchhoff's law is that of the far line.
func TestVantageOnLoop(t *testing.T) {
	c := openStudy(t, ring, "closed")
	for _, tt := range []struct{ place, wye, far, tie string }{
		{"AB/60%", "forward", "reverse", "reverse"},
		{"AC/50%", "forward", "forward", "forward"},
	} {
		p := must[fault.NamedPlace](t)(c.ParsePlace(tt.place))
		res := must[*fault.Result](t)(c.Fault(p.Place, kind(t, "lg:A"), 0))
		got := map[string]fault.CurrentReading{}
		for _, r := range c.Read(res) {
			for _, x := range r.Currents {
				got[x.Input.Name] = x
			}
		}
		if got["wye"].Direction != tt.wye || got["tie"].Direction != tt.tie || got["far end"].Direction != tt.far {
			t.Errorf("%s: X %s, far end %s, tie %s; want %s, %s, %s", tt.place, got["wye"].Direction, got["far end"].Direction, got["tie"].Direction, tt.wye, tt.far, tt.tie)
		}
		near(t, "what leaves AB enters the tie", cmplx.Abs(got["far end"].Primary[0]-got["tie"].Primary[0]), 0, 1e-6)
	}
	// A fault at B itself is behind the tie that faces C.
	p := must[fault.NamedPlace](t)(c.ParsePlace("D"))
	res := must[*fault.Result](t)(c.Fault(p.Place, kind(t, "lg:B"), 0))
	for _, r := range c.Read(res) {
		for _, x := range r.Currents {
			if x.Input.Name == "fuse" {
				near(t, "the lateral's fuse carries its fault", cmplx.Abs(x.Primary[1]-res.I[1]), 0, 1e-6)
			}
		}
	}
}

// In a part without earth an earth fault draws exactly nothing, through a
// resistance too, and no vantage takes rounding for a current.
func TestNoCurrentWithoutEarth(t *testing.T) {
	c := openStudy(t, strings.Replace(ring, ", line-to-ground: 9 kA, line-to-ground x/r: 9", ", z0: open", 1), "radial")
	p := must[fault.NamedPlace](t)(c.ParsePlace("C"))
	for _, r := range []float64{0, 20, 40} {
		res := must[*fault.Result](t)(c.Fault(p.Place, kind(t, "lg:C"), r))
		if res.Largest() != 0 || res.Earth != 0 {
			t.Errorf("through %g ohm: %v, earth %v, want exactly nothing", r, res.I, res.Earth)
		}
		for _, rd := range c.Read(res) {
			for _, x := range rd.Currents {
				if x.Direction != "" {
					t.Errorf("%s: a direction, %s, without a current", x.Input.Name, x.Direction)
				}
			}
		}
	}
}

// Faults on both sides of a vantage have no one direction; on one side they have.
func TestDirectionOfSeveralFaults(t *testing.T) {
	c := openStudy(t, ring, "radial")
	for _, tt := range []struct{ kinds, want string }{
		{"lg:A@B+lg:C@B", "forward"}, {"lg:A@B+lg:B@C", ""}, {"lg:A@C+lg:B@A", "reverse"},
	} {
		c, parts, err := c.ParseParts(tt.kinds)
		if err != nil {
			t.Fatal(err)
		}
		res := must[*fault.Compound](t)(c.Compound(parts))
		for _, r := range c.Read(&res.Result) {
			for _, x := range r.Currents {
				if x.Input.Name != "wye" {
					continue
				}
				// Behind the vantage nothing feeds back in a radial feeder, so there is no current to have a direction.
				if got := x.Direction; got != tt.want && !(tt.want == "reverse" && got == "") {
					t.Errorf("%s: %q, want %q", tt.kinds, got, tt.want)
				}
			}
		}
	}
}

// Several places on one line are what they are with buses put there.
//
// Expected values: derived, the same study with two buses in the line.
func TestPlacesOnOneLine(t *testing.T) {
	loads := strings.Replace(ring, "switches:", "loads:\n  farm: { at: B, power: 2 MVA, pf: 0.9 lag }\nmethod: { loads: counted }\nswitches:", 1)
	split := strings.Replace(loads, "  AB: { from: A, to: B, type: L, length: 2 mi }",
		"  AB: { from: A, to: P, type: L, length: 0.6 mi }\n  PQ: { from: P, to: Q, type: L, length: 0.8 mi }\n  QB: { from: Q, to: B, type: L, length: 0.6 mi }", 1)
	split = strings.Replace(split, "buses:\n", "buses:\n  P: { voltage: 12.47 kV }\n  Q: { voltage: 12.47 kV }\n", 1)
	split = strings.Replace(split, "far end:  { in: AB, near: B", "far end:  { in: QB, near: B", 1)
	split = strings.Replace(split, "wye:      { at: X, facing: B", "wye:      { at: X, facing: P", 1)
	for _, condition := range []string{"radial", "closed"} {
		whole, pieces := openStudy(t, loads, condition), openStudy(t, split, condition)
		for _, tt := range []struct{ whole, pieces string }{
			{"lg:A@AB/30%+lg:B@AB/70%", "lg:A@P+lg:B@Q"},
			{"open:A@AB/30%+lg:A@AB/70%", "open:A@AB/P+lg:A@Q"},
			{"open-to-g:C@AB/30%+ll:AB@AB/70%", "open-to-g:C@AB/P+ll:AB@Q"},
			{"open-from-g:C@AB/70%+open:A@AB/30%", "open-from-g:C@PQ/Q+open:A@AB/P"},
		} {
			get := func(c *fault.Case, text string) map[string][4]complex128 {
				c, parts, err := c.ParseParts(text)
				if err != nil {
					t.Fatal(err)
				}
				res := must[*fault.Compound](t)(c.Compound(parts))
				out := map[string][4]complex128{}
				for _, r := range c.Read(&res.Result) {
					for _, x := range r.Currents {
						out[x.Input.Name] = x.Primary
					}
					for _, x := range r.Voltages {
						out[x.Input.Name] = x.Primary
					}
				}
				return out
			}
			got, want := get(whole, tt.whole), get(pieces, tt.pieces)
			for name, w := range want {
				for k := range w {
					if cmplx.Abs(got[name][k]-w[k]) > 1e-6 {
						t.Errorf("%s, %s: %s sees %v, with buses there %v", condition, tt.whole, name, got[name], w)
						break
					}
				}
			}
		}
	}
}

// A conductor open in a device between two buses is a conductor open at the
// line's end beside it.
//
// Expected values: derived, the same break at the end of the line that alone
// is beyond the device.
func TestConductorOpenInADevice(t *testing.T) {
	text := strings.Replace(ring, "switches:\n  BC: { from: B, to: C, normally: open }",
		"loads:\n  farm: { at: E, power: 2 MVA, pf: 0.9 lag }\nmethod: { loads: counted }\nswitches:\n  BC: { from: B, to: C, normally: open }\n  BE: { from: B, to: E }", 1)
	text = strings.Replace(text, "buses:\n", "buses:\n  E: { voltage: 12.47 kV }\n  G: { voltage: 12.47 kV }\n", 1)
	text = strings.Replace(text, "lines:\n", "lines:\n  EG: { from: E, to: G, type: L, length: 1 mi }\n", 1)
	text = strings.Replace(text, "at: E, power", "at: G, power", 1)
	text = strings.Replace(text, "current transformers:\n", "current transformers:\n  at BE:   { at: BE, facing: E, ratio: 600/5 A }\n", 1)
	c := openStudy(t, text, "radial")
	for _, phases := range []string{"A", "BC"} {
		for _, kind := range []string{"open:", "open-to-g:", "open-from-g:"} {
			var seen [2]map[string][4]complex128
			for i, where := range []string{"BE", "EG/E"} {
				c, parts, err := c.ParseParts(kind + phases + "@" + where)
				if err != nil {
					t.Fatal(err)
				}
				res := must[*fault.Compound](t)(c.Compound(parts))
				seen[i] = map[string][4]complex128{}
				for _, r := range c.Read(&res.Result) {
					for _, x := range r.Currents {
						seen[i][x.Input.Name] = x.Primary
					}
				}
			}
			for name, w := range seen[1] {
				for k := range w {
					// A millionth of an ohm stands for the device.
					if cmplx.Abs(seen[0][name][k]-w[k]) > 1e-5*(1+cmplx.Abs(w[k])) {
						t.Errorf("%s%s: %s sees %v in the device, %v at the line's end", kind, phases, name, seen[0][name], w)
						break
					}
				}
			}
		}
	}
	if _, _, err := c.ParseParts("open:A@BC"); err == nil || !strings.Contains(err.Error(), "is open already") {
		t.Errorf("a device that is open: %v", err)
	}
}
