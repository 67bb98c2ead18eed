package profile_test

import (
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"feederwright/internal/onefile"
	"feederwright/profile"
	"feederwright/review"
	"feederwright/study"
)

const ring = `feederwright: 1
study: ring
frequency: 50 Hz
supply:
  G: { at: H, maximum: { three-phase: 1000 MVA, x/r: 10, z0: open }, minimum: { three-phase: 500 MVA, x/r: 10, z0: open } }
buses:
  H: { voltage: 33 kV }
  L: { voltage: 11 kV }
  A: { voltage: 11 kV }
  B: { voltage: 11 kV }
  C: { voltage: 11 kV, phases: B }
  X: { voltage: 11 kV }
transformers:
  T: { from: H, to: L, group: Dyn11, rating: 10 MVA, voltages: 33/11 kV, impedance: 10 %, x/r: 20, zero-sequence: 9 %, neutral: solid }
lines:
  far:   { from: L, to: B, z1: 2 + j3 ohm, z0: 4 + j9 ohm, length: 3 km }
  near:  { from: A, to: L, z1: 0.5 + j0.6 ohm, z0: 1 + j2 ohm, length: 2 km }
  cross: { from: A, to: B, z1: 0.5 + j0.7 ohm, z0: 1 + j2 ohm, length: 1.5 km }
  spur:  { from: B, to: C, z: 0.9 + j0.8 ohm, length: 1 km, phases: B }
breakers:
  CB: { in: near, near: L }
fuses:
  F: { in: spur, near: B }
loads:
  d: { at: C, power: 300 kVA, pf: 1, phases: B, connection: earthed-wye, model: current }
conditions:
  strong: { infeed: maximum }
  weak:   { infeed: minimum, loads: 50 % }
  apart:  { out: [cross] }
`

func open(t *testing.T) *review.Report {
	t.Helper()
	doc, ds := study.Read(onefile.FS{Name: "s.yaml", Text: []byte(ring)}, "s.yaml")
	if doc != nil {
		ds = append(ds, doc.Validate()...)
	}
	if ds.Errors() > 0 {
		t.Fatal(ds)
	}
	states, ds := doc.States()
	if ds.Errors() > 0 {
		t.Fatal(ds)
	}
	r, err := review.Open(doc, states)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func of(t *testing.T, r *review.Report, o profile.Options) *profile.Profile {
	t.Helper()
	flows, err := r.Flows()
	if err != nil {
		t.Fatal(err)
	}
	p, err := profile.Of(r, flows, o)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// The way of least impedance, its lengths and impedances (by hand).
func TestPath(t *testing.T) {
	p := of(t, open(t), profile.Options{To: "C"})
	zt := complex(0.1*11*11/10/math.Sqrt(401), 20*0.1*11*11/10/math.Sqrt(401)) // 10 % on 10 MVA at 11 kV, X/R 20
	want := []struct {
		place, over, devices string
		km                   float64
		z                    complex128
	}{
		{"H", "", "", 0, 0},
		{"L", "T", "", 0, zt},
		{"A", "near", "CB", 2, zt + 0.5 + 0.6i},
		{"B", "cross", "", 3.5, zt + 1 + 1.3i},
		{"C", "spur", "F", 4.5, zt + 1.9 + 2.1i},
	}
	if p.From != "H" || p.To != "C" || len(p.Points) != len(want) {
		t.Fatalf("%+v", p)
	}
	for i, w := range want {
		got := p.Points[i]
		if got.Place != w.place || got.Branch != w.over || strings.Join(got.Devices, " ") != w.devices || math.Abs(got.Distance-1e3*w.km) > 1e-9 || !(cmplx.Abs(got.Impedance-w.z) <= 1e-9) {
			t.Errorf("point %d is %s over %q (%v) at %g m, %v ohm; want %+v (by hand)", i, got.Place, got.Branch, got.Devices, got.Distance, got.Impedance, w)
		}
	}
	// From a stated start, backwards along "near".
	p = of(t, open(t), profile.Options{From: "A", To: "L", Between: 1})
	if len(p.Points) != 3 || p.Points[1].Place != "near/50%" || p.Points[1].Distance != 1e3 || p.Points[2].Devices[0] != "CB" {
		t.Errorf("%+v", p.Points)
	}
	p = of(t, open(t), profile.Options{From: "L", To: "B", Between: 3})
	if got := p.Points[1].Place; got != "near/75%" {
		t.Errorf("a quarter of the way from L along near, which begins at A, is %s, want near/75%%", got)
	}
}

// What stands at the points: the extremes over the conditions that faults and
// load flow give there.
func TestBands(t *testing.T) {
	r := open(t)
	flows, err := r.Flows()
	if err != nil {
		t.Fatal(err)
	}
	p := of(t, r, profile.Options{To: "C"})
	b := p.Points[3]
	if len(p.Without) != 0 || len(p.Conditions) != 3 || len(b.Faults) != len(p.Kinds) || p.Kinds[0] != "3ph" {
		t.Fatalf("%+v", p)
	}
	low, high := math.Inf(1), math.Inf(-1)
	for i, c := range r.Cases {
		place, err := c.ParsePlace("B")
		if err != nil {
			t.Fatal(err)
		}
		th, err := c.At(place.Place)
		if err != nil {
			t.Fatal(err)
		}
		_, z1, _, _, _ := c.Sequence(&th)
		x := 11e3 / math.Sqrt(3) / cmplx.Abs(z1) // the definition of the three-phase current
		low, high = math.Min(low, x), math.Max(high, x)
		// The spur's current is the load's: 300 kVA at 11/√3 kV, or half of it.
		want := 300e3 / (11e3 / math.Sqrt(3))
		if flows[i].State.Name == "weak" {
			want /= 2
		}
		var got float64
		for _, br := range flows[i].Branches() {
			if br.Name == "spur" {
				got = cmplx.Abs(br.Ends[0].Current[1])
			}
		}
		if !(math.Abs(got-want) <= 1e-6) {
			t.Errorf("%s: %g A in the spur, want %g A (by hand)", flows[i].State.Name, got, want)
		}
	}
	if f := b.Faults[0]; !f.Known || !(math.Abs(f.Least-low) <= 1e-6*low) || !(math.Abs(f.Most-high) <= 1e-6*high) || f.MostIn != "strong" {
		t.Errorf("three-phase band %+v, want %g to %g A", f, low, high)
	}
	if c := p.Points[4]; c.Faults[0].Known || c.Faults[1].Known || !c.Faults[3].Known {
		t.Errorf("faults at a single-phase bus: %+v", c.Faults)
	}
	full := 300e3 / (11e3 / math.Sqrt(3))
	if l := p.Points[4].Load; !(math.Abs(l.Most-full) <= 1e-6) || !(math.Abs(l.Least-full/2) <= 1e-6) || l.LeastIn != "weak" {
		t.Errorf("load %+v, want %g to %g A (by hand)", l, full/2, full)
	}
	for i := 1; i < len(p.Points); i++ {
		if v, before := p.Points[i].Voltage, p.Points[i-1].Voltage; !v.Known || v.Least >= before.Least {
			t.Errorf("lowest voltage %g at %s and %g before it: it falls along the load", v.Least, p.Points[i].Place, before.Least)
		}
	}
}

func TestRefused(t *testing.T) {
	r := open(t)
	for o, want := range map[profile.Options]string{
		{To: "D"}:                `no bus is called "D"`,
		{To: "L", From: "L"}:     "the path from L to L has no length",
		{To: "X"}:                "no infeed reaches X in any of the conditions",
		{To: "L", From: "X"}:     "nothing joins X and L in any of the conditions",
		{To: "L", Between: 1000}: "want 0 to 100",
	} {
		if _, err := profile.Of(r, nil, o); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%+v: error %v, want %q", o, err, want)
		}
	}
}
