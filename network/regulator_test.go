package network

import (
	"testing"

	"feederwright/quantity"
)

// What a regulator or reactor is to the phases does not depend on a conductor
// N beside them, unless its windings end there; N passes through it with
// BridgeImpedance (derived: the definition).
func TestNeutralPassesDeltaRegulatorAndReactor(t *testing.T) {
	const all = abc | quantity.Phases(1<<neutral)
	add := func(b *Builder, from, to int, p quantity.Phases, kind string) *Element {
		t.Helper()
		var i int
		var err error
		switch kind {
		case "open delta":
			i, err = b.AddRegulator("R", from, to, p, RegulatorData{RegulatorOpenDelta, []float64{1.05, 0.975}, 0.02 + 0.3i})
		case "closed delta":
			i, err = b.AddRegulator("R", from, to, p, RegulatorData{RegulatorClosedDelta, []float64{1.05, 0.975, 1.0625}, 0.02 + 0.3i})
		default:
			i, err = b.AddReactor("X", from, to, p, 0.02+0.3i)
		}
		if err != nil {
			t.Fatal(err)
		}
		return &b.elements[i]
	}
	for _, kind := range []string{"open delta", "closed delta", "reactor"} {
		var b Builder
		three := add(&b, b.AddBus("A", abc, 12470), b.AddBus("B", abc, 12470), abc, kind)
		yThree := append([]complex128(nil), three.Y...)
		four := add(&b, b.AddBus("C", all, 12470), b.AddBus("D", all, 12470), all, kind)
		for i := range 8 {
			for j := range 8 {
				var want complex128
				switch ci, cj := i%4, j%4; {
				case ci < 3 && cj < 3:
					want = yThree[(i/4*3+ci)*6+j/4*3+cj]
				case ci == 3 && cj == 3 && i == j:
					want = 1 / BridgeImpedance
				case ci == 3 && cj == 3:
					want = -1 / BridgeImpedance
				}
				if got := four.Y[i*8+j]; got != want {
					t.Errorf("%s: Y[%d][%d] = %v, want %v", kind, i, j, got, want)
				}
			}
		}
	}
}
