package fault

import (
	"math/cmplx"
	"testing"

	"feederwright/internal/onefile"
	"feederwright/study"
)

// A bus whose conductors come from two windings without a path to earth: A and
// B from one, C and N from the other.
const twoParts = `feederwright: 1
study: two parts
frequency: 60 Hz
supply:
  grid: { at: S, maximum: { three-phase: 8 kA, x/r: 10, z0: j1 ohm } }
buses:
  S: { voltage: 12.47 kV }
  P: { voltage: 240 V, phases: ABCN }
banks:
  B: { from: S, to: P, from neutral: solid }
single-phase transformers:
  U1: { bank: B, primary: A-N, secondary: A-B, rating: 25 kVA, voltages: 7200/240 V, impedance: 2 %, x/r: 1.5 }
  U2: { bank: B, primary: B-N, secondary: C-N, rating: 25 kVA, voltages: 7200/139 V, impedance: 2 %, x/r: 1.5 }
`

// Between two parts without earth no current can return (Kirchhoff), and a
// fault that also joins conductors of one part draws what it does there alone
// (derived). The parts' shifts are determined against each other only, which
// once left the fault without a solution.
func TestFaultJoinsTwoPartsWithoutEarth(t *testing.T) {
	doc, ds := study.Read(onefile.FS{Name: "s.yaml", Text: []byte(twoParts)}, "s.yaml")
	if doc != nil {
		ds = append(ds, doc.Validate()...)
	}
	for _, d := range ds {
		t.Fatal(d.Text())
	}
	states, _ := doc.States()
	c, err := Open(doc, states[0])
	if err != nil {
		t.Fatal(err)
	}
	solve := func(kind string) [4]complex128 {
		t.Helper()
		k, err := ParseKinds(kind)
		if err != nil {
			t.Fatal(err)
		}
		place, err := c.ParsePlace("P")
		if err != nil {
			t.Fatal(err)
		}
		r, err := c.Fault(place.Place, k[0], 0)
		if err != nil {
			t.Fatalf("%s: %v", kind, err)
		}
		return r.I
	}
	ab := solve("ll:AB")
	if cmplx.Abs(ab[0]) < 1000 {
		t.Fatalf("ll:AB draws %v", ab)
	}
	for kind, want := range map[string][4]complex128{
		"ll:BC": {}, "ll:CA": {}, "ln:A": {}, "ln:B": {},
		"3ph": {ab[0], ab[1]}, "ll-g:AB": {ab[0], ab[1]}, "3ph-g": {ab[0], ab[1]},
	} {
		got := solve(kind)
		for n := range got {
			// Rounding of currents of 5 kA, on a part held to earth by an admittance of the convention.
			if !(cmplx.Abs(got[n]-want[n]) <= 1e-9*cmplx.Abs(ab[0])) {
				t.Errorf("%s, conductor %d: %v, want %v", kind, n, got[n], want[n])
			}
		}
	}
}

// The same as several faults at once: two between the parts, or one of them with one inside a part (derived as above).
func TestCompoundJoinsTwoPartsWithoutEarth(t *testing.T) {
	doc, ds := study.Read(onefile.FS{Name: "s.yaml", Text: []byte(twoParts)}, "s.yaml")
	if ds.Errors() > 0 {
		t.Fatal(ds)
	}
	states, _ := doc.States()
	c, err := Open(doc, states[0])
	if err != nil {
		t.Fatal(err)
	}
	place, err := c.ParsePlace("P")
	if err != nil {
		t.Fatal(err)
	}
	solve := func(names ...string) [4]complex128 {
		t.Helper()
		var parts []Part
		for _, name := range names {
			k, err := ParseKinds(name)
			if err != nil {
				t.Fatal(err)
			}
			parts = append(parts, Part{Place: place.Place, Kind: k[0]})
		}
		r, err := c.Compound(parts)
		if err != nil {
			t.Fatalf("%q: %v", names, err)
		}
		var sum [4]complex128
		for _, p := range r.Parts {
			for n := range sum {
				sum[n] += p.I[n]
			}
		}
		return sum
	}
	alone := solve("ll:AB")
	if cmplx.Abs(alone[0]) < 1000 {
		t.Fatalf("ll:AB draws %v", alone)
	}
	for _, w := range []struct {
		names []string
		want  [4]complex128
	}{
		{[]string{"ll:BC"}, [4]complex128{}},
		{[]string{"ll:AB", "ll:BC"}, alone},
		{[]string{"ll:BC", "lg:A"}, [4]complex128{}}, // C joins B and A is on earth: nothing closes a loop through a source
	} {
		got := solve(w.names...)
		for n := range got {
			if !(cmplx.Abs(got[n]-w.want[n]) <= 1e-8*cmplx.Abs(alone[0])) {
				t.Errorf("%q, conductor %d: %v, want %v", w.names, n, got[n], w.want[n])
			}
		}
	}
}
