package network

import (
	"fmt"
	"testing"

	"feederwright/quantity"
)

// A star point without earth holds its conductors together: what floats there is
// one part, not one for each phase, whichever side is on earth.
//
// Expected values: derived, from where a zero-sequence current could flow.
func TestPartsAtStarPoints(t *testing.T) {
	earthed, air := NeutralPoint{Exists: true, Earthed: true}, NeutralPoint{Exists: true}
	bank := func(from, to NeutralPoint) func(b *Builder, x, y, z int) error {
		return func(b *Builder, x, y, _ int) error {
			var units []Unit
			for c := range 3 {
				units = append(units, Unit{Name: fmt.Sprint(c), Primary: [2]int{c, Star}, Secondary: []int{c, Star}, VPrimary: 7200, VSecondary: 277, Z: 0.02 + 0.05i})
			}
			_, err := b.AddBank("B", x, y, BankData{Units: units, From: from, To: to})
			return err
		}
	}
	three := func(first, second, third NeutralPoint) func(b *Builder, x, y, z int) error {
		return func(b *Builder, x, y, z int) error {
			w := quantity.Winding{Kind: 'Y', Neutral: true}
			_, err := b.AddThreeWinding("T", [3]int{x, y, z}, ThreeWindingData{Winding: [3]quantity.Winding{w, w, w}, V: [3]float64{12470, 480, 480},
				Z1: [3]complex128{1i, 1i, 1.5i}, Z0: [3]complex128{1i, 1i, 1.5i}, Point: [3]NeutralPoint{first, second, third}})
			return err
		}
	}
	tests := []struct {
		what       string
		add        func(b *Builder, x, y, z int) error
		openInfeed bool
		want       [][]string // buses of each part without earth
	}{
		{"wye-wye bank, both on earth", bank(earthed, earthed), false, nil},
		{"second in the air", bank(earthed, air), false, [][]string{{"y"}}},
		{"first in the air", bank(air, earthed), false, [][]string{{"y"}}},
		{"both in the air", bank(air, air), false, [][]string{{"y"}}},
		{"second in the air, infeed too", bank(earthed, air), true, [][]string{{"x"}, {"y"}}},
		{"three wyes, all on earth", three(earthed, earthed, earthed), false, nil},
		{"three wyes, the first in the air", three(air, earthed, earthed), false, [][]string{{"y", "z"}}},
		{"three wyes, the last in the air", three(earthed, earthed, air), false, [][]string{{"z"}}},
		{"three wyes, two in the air", three(earthed, air, air), false, [][]string{{"y"}, {"z"}}},
	}
	for _, x := range tests {
		var b Builder
		buses := [3]int{b.AddBus("x", abc, 12470), b.AddBus("y", abc, 480), b.AddBus("z", abc, 480)}
		if _, err := b.AddInfeed("S", buses[0], InfeedData{Z1: 1i, Z2: 1i, Z0: 1i, Open: x.openInfeed, VLL: 12470}); err != nil {
			t.Fatal(err)
		}
		if err := x.add(&b, buses[0], buses[1], buses[2]); err != nil {
			t.Fatal(err)
		}
		n, err := b.Build()
		if err != nil {
			t.Fatalf("%s: %v", x.what, err)
		}
		var got [][]string
		for _, f := range n.Floating {
			var names []string
			for _, bus := range f.Buses {
				names = append(names, n.Buses[bus].Name)
			}
			got = append(got, names)
		}
		if fmt.Sprint(got) != fmt.Sprint(x.want) {
			t.Errorf("%s: parts without earth %v, want %v", x.what, got, x.want)
		}
	}
}

// A neutral that loads and rods alone hold is fed beside its phases.
func TestNeutralIsFed(t *testing.T) {
	var b Builder
	bus := b.AddBus("x", abc|quantity.PhaseN, 480)
	if _, err := b.AddInfeed("S", bus, InfeedData{Z1: 1i, Z2: 1i, Z0: 1i, VLL: 480}); err != nil {
		t.Fatal(err)
	}
	if _, err := b.AddShunt(Earthing, "rod", bus, quantity.PhaseN, []complex128{0.1}); err != nil {
		t.Fatal(err)
	}
	n, err := b.Build()
	if err != nil {
		t.Fatal(err)
	}
	if n.Fed[bus] != abc|quantity.PhaseN {
		t.Errorf("fed: %v, want A B C N (derived)", n.Fed[bus].Letters())
	}
}
