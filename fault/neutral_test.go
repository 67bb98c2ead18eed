package fault

import (
	"fmt"
	"math/cmplx"
	"strings"
	"testing"

	"feederwright/internal/onefile"
	"feederwright/study"
)

// Two feeders of two sections: one with its neutral explicit and earthed
// solidly at every bus, one with the neutral reduced. By the definition of Kron
// reduction they are the same network for the phases (derived).
const neutralFeeder = `feederwright: 1
study: neutral
frequency: 50 Hz
method: { loads: counted }
supply:
  grid: { at: S, maximum: { three-phase: 6 kA, x/r: 8, z0: 0.2 + j1.1 ohm } }
buses:
  S: { voltage: 11 kV, EARTHED }
  M: { voltage: 11 kV, EARTHED }
  E: { voltage: 11 kV, EARTHED }
conductors:
  W: { diameter: 14 mm, gmr: 5.3 mm, resistance: 0.3 ohm/km }
  N: { diameter: 9 mm, gmr: 3.2 mm, resistance: 0.7 ohm/km }
pole tops:
  arm: { positions: { left: -1.1 m at 9.5 m, middle: 0.2 m at 9.9 m, right: 1.2 m at 9.5 m, low: 0.1 m at 7.4 m } }
line types:
  OH: { pole top: arm, conductor: W, neutral conductor: N, positions: { A: left, B: middle, C: right, N: low }, earth return: carson-series, earth resistivity: 300 ohm.m, NEUTRAL }
lines:
  one: { from: S, to: M, type: OH, length: 3 km }
  two: { from: M, to: E, type: OH, length: 2 km }
loads:
  L: { at: E, power: 1 MVA, pf: 0.9 lag, connection: STAR }
breakers:
  CB: { in: one, near: S }
  RC: { in: two, near: M }
current transformers:
  C1: { at: CB, facing: M, ratio: 400/1 A }
  C2: { at: RC, facing: E, ratio: 400/1 A }
  CM: { in: one, near: M, facing: M, ratio: 400/1 A }
`

func openNeutral(t *testing.T, explicit bool, edit ...string) *Case {
	t.Helper()
	r := strings.NewReplacer("EARTHED", "phases: ABC", "NEUTRAL", "neutral: reduced", "STAR", "earthed-wye")
	if explicit {
		r = strings.NewReplacer("EARTHED", "phases: ABCN, neutral earthing: solid", "NEUTRAL", "neutral: explicit", "STAR", "wye")
	}
	text := strings.NewReplacer(edit...).Replace(r.Replace(neutralFeeder))
	doc, ds := study.Read(onefile.FS{Name: "s.yaml", Text: []byte(text)}, "s.yaml")
	if doc != nil {
		ds = append(ds, doc.Validate()...)
	}
	for _, d := range ds {
		if d.Severity == study.Error { // a poor neutral earthing is told of, and meant here
			t.Fatal(d.Text())
		}
	}
	states, _ := doc.States()
	c, err := Open(doc, states[0])
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func TestSolidNeutralFaults(t *testing.T) {
	explicit, reduced := openNeutral(t, true), openNeutral(t, false)
	near := func(what string, a, b [4]complex128, scale float64) {
		t.Helper()
		for c := range 3 {
			if d := cmplx.Abs(a[c] - b[c]); !(d <= 1e-9*scale) {
				t.Errorf("%s, conductor %d: %v explicit, %v reduced", what, c, a[c], b[c])
			}
		}
	}
	for _, place := range []string{"S", "M", "E"} {
		for _, kind := range []string{"lg:A", "lg:C", "ln:B", "ll-g:BC", "ll:AB", "3ph"} {
			run := func(c *Case, kind string) *Result {
				p, err := c.ParsePlace(place)
				if err != nil {
					t.Fatal(err)
				}
				k, err := ParseKinds(kind)
				if err != nil {
					t.Fatal(err)
				}
				res, err := c.Fault(p.Place, k[0], 2)
				if err != nil {
					t.Fatal(err)
				}
				return res
			}
			// Between a phase and its solidly earthed neutral is between phase and earth.
			a, b := run(explicit, kind), run(reduced, strings.Replace(kind, "ln", "lg", 1))
			near(place+" "+kind, a.I, b.I, b.Largest())
			for i := range a.Current {
				near(fmt.Sprintf("%s %s, watched %d", place, kind, i), a.Current[i], b.Current[i], b.Largest())
			}
			if a.Earth == 0 {
				continue
			}
			// What goes into earth at the fault comes back by the earthings, less what did before.
			sum := complex128(0)
			v, _ := explicit.State(a)
			before := explicit.EarthReturns(explicit.Prefault())
			for i, r := range explicit.EarthReturns(v) {
				sum += r.Current - before[i].Current
			}
			if d := cmplx.Abs(sum - a.Earth); !(d <= 1e-9*a.Largest()) {
				t.Errorf("%s %s: %v into earth, %v back", place, kind, a.Earth, sum)
			}
		}
	}
	for _, text := range []string{"open:A@one/40%", "open:A@one/S", "open-to-g:B@two/M", "lg:A@M+open:C@two/M", "lg:A@E+lg:B@S"} {
		run := func(c *Case) *Compound {
			at, parts, err := c.ParseParts(text)
			if err != nil {
				t.Fatal(err)
			}
			out, err := at.Compound(parts)
			if err != nil {
				t.Fatal(err)
			}
			return out
		}
		a, b := run(explicit), run(reduced)
		for i := range a.Parts {
			near(text, a.Parts[i].I, b.Parts[i].I, 1000)
			near(text+", volts", a.Parts[i].V, b.Parts[i].V, 11e3)
		}
		for i := range a.Current {
			near(fmt.Sprintf("%s, watched %d", text, i), a.Current[i], b.Current[i], 1000)
		}
		for _, bus := range []string{"S", "M", "E"} {
			if u := a.State[explicit.Net.Unknown(explicit.Net.BusByName(bus), 3)]; u != 0 {
				t.Errorf("%s: N at %s is at %v V", text, bus, u)
			}
		}
	}
}

// Inside a section the neutral is not at earth: a place there is a bus whose N
// is joined to nothing but the two parts (derived: by cutting the section).
func TestExplicitNeutralInsideSection(t *testing.T) {
	counted := []string{"loads: counted", "charging: neglected"}
	whole := openNeutral(t, true, counted...)
	cut := openNeutral(t, true, append(counted, "facing: E", "facing: X", "  E: {", "  X: { voltage: 11 kV, phases: ABCN }\n  E: {",
		"  two: { from: M, to: E, type: OH, length: 2 km }", "  two: { from: M, to: X, type: OH, length: 0.6 km }\n  three: { from: X, to: E, type: OH, length: 1.4 km }")...)
	for _, kind := range []string{"lg:A", "ln:A", "ll-g:BC", "ll:CA", "3ph"} {
		k, err := ParseKinds(kind)
		if err != nil {
			t.Fatal(err)
		}
		run := func(c *Case, place string) *Result {
			p, err := c.ParsePlace(place)
			if err != nil {
				t.Fatal(err)
			}
			res, err := c.Fault(p.Place, k[0], 1)
			if err != nil {
				t.Fatal(err)
			}
			return res
		}
		a, b := run(whole, "two/30%"), run(cut, "X")
		for c := range 3 {
			if d := cmplx.Abs(a.I[c] - b.I[c]); !(d <= 1e-9*b.Largest()) {
				t.Errorf("%s, conductor %d: %v inside the section, %v at a bus", kind, c, a.I[c], b.I[c])
			}
		}
		for i := range a.Current {
			for c := range 4 {
				if d := cmplx.Abs(a.Current[i][c] - b.Current[i][c]); !(d <= 1e-9*b.Largest()) {
					t.Errorf("%s, watched %d, conductor %d: %v, %v", kind, i, c, a.Current[i][c], b.Current[i][c])
				}
			}
		}
	}
}

// A neutral earthed through electrodes carries a share of the earth current,
// and more of it the better it is earthed; the sum of earth returns holds.
func TestExplicitNeutralCarries(t *testing.T) {
	last := 0.0
	for _, ohm := range []string{"100 ohm", "10 ohm", "1 ohm"} {
		c := openNeutral(t, true, "phases: ABCN, neutral earthing: solid", "phases: ABCN, neutral earthing: "+ohm)
		p, err := c.ParsePlace("E")
		if err != nil {
			t.Fatal(err)
		}
		k, _ := ParseKinds("lg:A")
		res, err := c.Fault(p.Place, k[0], 0)
		if err != nil {
			t.Fatal(err)
		}
		v, _ := c.State(res)
		n := c.Net.ElementCurrents(c.Net.ElementByName("line", "two"), v)
		carried := cmplx.Abs(n[3])
		if !(carried > last) || carried > cmplx.Abs(res.Earth) {
			t.Errorf("%s: the neutral carries %g A of %g", ohm, carried, cmplx.Abs(res.Earth))
		}
		last = carried
		sum := complex128(0)
		before := c.EarthReturns(c.Prefault())
		for i, r := range c.EarthReturns(v) {
			sum += r.Current - before[i].Current
		}
		if d := cmplx.Abs(sum - res.Earth); !(d <= 1e-9*res.Largest()) {
			t.Errorf("%s: %v into earth, %v back", ohm, res.Earth, sum)
		}
	}
}

// The working of a fault on a built line names its sections and derives the type's matrix once.
func TestWorkingOfBuiltLines(t *testing.T) {
	c := openNeutral(t, false)
	p, err := c.ParsePlace("E")
	if err != nil {
		t.Fatal(err)
	}
	k, _ := ParseKinds("lg:A")
	res, err := c.Fault(p.Place, k[0], 0)
	if err != nil {
		t.Fatal(err)
	}
	steps, err := c.Working(res)
	if err != nil {
		t.Fatal(err)
	}
	count := map[string]int{}
	for _, s := range steps {
		count[s.Symbol]++
	}
	for _, symbol := range []string{"Z1 one", "Z0 one", "Z1 two", "Z0 two", "type OH", "r N", "z AA", "z AB", "z NN", "Z AA", "Z BC", "B AA", "I"} {
		if count[symbol] != 1 {
			t.Errorf("%s stands %d times in the working", symbol, count[symbol])
		}
	}
}
