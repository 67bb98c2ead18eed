package fault_test

import (
	"fmt"
	"testing"

	"feederwright/fault"
	"feederwright/network"
)

// Two feeders from one bus; a phase of the one on earth at F, another phase of
// the other at G (the cross-country fault), with single faults beside them.
//
//	          ┌─ L1 ─ F
//	source ─ M┤
//	          └─ L2 ─ G ─ L3 ─ H
//
// Every value expected is derived: the state that ngspice gives.
type twoFeeders struct {
	hand
	m, f, g, h int
}

// twoFeedersCards are the lines; capacitances are large enough for some 60 A to earth.
const twoFeedersCards = `
Xl1 l1_0a l1_0b l1_0c l1_1a l1_1b l1_1c line3 r1=1.2 x1=2.1 r0=2.6 x0=7.4
Xc10 l1_0a l1_0b l1_0c charge3 b1={3e-4/2} b0={2.2e-4/2}
Xc11 l1_1a l1_1b l1_1c charge3 b1={3e-4/2} b0={2.2e-4/2}
Xl2 l2_0a l2_0b l2_0c l2_1a l2_1b l2_1c line3 r1=0.8 x1=0.5 r0=2.4 x0=1.9
Xc20 l2_0a l2_0b l2_0c charge3 b1={9e-4/2} b0={9e-4/2}
Xc21 l2_1a l2_1b l2_1c charge3 b1={9e-4/2} b0={9e-4/2}
Xl3 l3_0a l3_0b l3_0c l3_1a l3_1b l3_1c line3 r1=2.2 x1=2.9 r0=3.7 x0=10.1
Xc30 l3_0a l3_0b l3_0c charge3 b1={2e-4/2} b0={1.3e-4/2}
Xc31 l3_1a l3_1b l3_1c charge3 b1={2e-4/2} b0={1.3e-4/2}
Rab loads_0a loads_0b 800
Rbc loads_0b loads_0c 800
Rca loads_0c loads_0a 800
`

func newTwoFeeders(t *testing.T, s network.InfeedData, cards string) *twoFeeders {
	x := &twoFeeders{hand: hand{hz: 50, cards: cards + twoFeedersCards}}
	x.m, x.f, x.g, x.h = x.AddBus("M", abc, 20e3), x.AddBus("F", abc, 20e3), x.AddBus("G", abc, 20e3), x.AddBus("H", abc, 20e3)
	do := x.must(t)
	do(x.AddInfeed("S", x.m, s))
	line := func(name string, from, to int, z1, z0 complex128, b1, b0 float64) {
		do(x.AddLine(name, from, to, abc, network.BalancedMatrix(3, z1, z0), network.BalancedMatrix(3, complex(0, b1), complex(0, b0))))
	}
	line("L1", x.m, x.f, 1.2+2.1i, 2.6+7.4i, 3e-4, 2.2e-4)
	line("L2", x.m, x.g, 0.8+0.5i, 2.4+1.9i, 9e-4, 9e-4)
	line("L3", x.g, x.h, 2.2+2.9i, 3.7+10.1i, 2e-4, 1.3e-4)
	do(x.AddShunt(network.Load, "Loads", x.h, abc, network.ConnectedShunt(network.Delta, 3, 1./800)))
	return x
}

func (x *twoFeeders) cases(t *testing.T) []handCase {
	list := []handCase{{}}
	names := map[int]string{x.m: "m", x.f: "f", x.g: "g", x.h: "h"}
	for i, two := range [][2]int{{x.f, x.h}, {x.f, x.g}, {x.m, x.h}, {x.g, x.h}} {
		for _, k := range [][2]string{{"lg:A", "lg:B"}, {"lg:C", "lg:A"}, {"lg:B", "lg:B"}, {"lg:C", "ll:AB"}, {"ll-g:AB", "lg:C"}, {"3ph", "lg:B"}} {
			for _, r := range [][2]float64{{0, 0}, {5, 60}} {
				if i > 0 && r[0] == 0 {
					continue
				}
				k0, k1 := kind(t, k[0]), kind(t, k[1])
				list = append(list, handCase{
					parts: []fault.Part{shortPart(fault.AtBus(two[0]), k0, r[0]), shortPart(fault.AtBus(two[1]), k1, r[1])},
					cards: short(0, names[two[0]], k0, r[0]) + short(1, names[two[1]], k1, r[1])})
			}
		}
	}
	for _, k := range []string{"lg:A", "lg:B", "lg:C", "ll:BC", "ll-g:CA"} {
		for _, r := range []float64{0, 500} {
			list = append(list, x.at(x.h, "H", kind(t, k), r))
		}
	}
	return list
}

// Resonant earthing: a zigzag earthing transformer at M with a coil in its neutral,
// tuned 5 % above the capacitance, and a resistance for its losses.
func TestSpiceCrossCountryResonant(t *testing.T) {
	t.Parallel()
	// 3·ω·C0 of all lines: 3 · 12.5e-4 S; the coil takes 1.05 times that.
	coil := 1 / (1.05 * 3 * (2.2e-4 + 9e-4 + 1.3e-4))
	x := newTwoFeeders(t, network.InfeedData{Z1: 0.15 + 1.9i, Z2: 0.15 + 1.9i, Open: true, VLL: 20500, Angle: 12 * degrees}, `
* Source with its star point in the air.
Xs e1 e2 e3 star emf v={20500/sqrt(3)} deg=12
Xsa e1 s_0a z r=0.15 x=1.9
Xsb e2 s_0b z r=0.15 x=1.9
Xsc e3 s_0c z r=0.15 x=1.9

* Zigzag: each phase goes through a coil on its limb, then backwards through one on the next.
* Z0 of 2 + j30 ohm is between the half coils; the neutral follows.
Xza p_0a za z r=2 x=30
Xzb p_0b zb z r=2 x=30
Xzc p_0c zc z r=2 x=30
X1 za ma n mc coils k=1
X2 zb mb n ma coils k=1
X3 zc mc n mb coils k=1
* The flux common to the three limbs acts on nothing outside: a shorted turn round all three gives it a value.
E1 d1 0 za ma 1
E2 d2 d1 zb mb 1
E3 d3 d2 zc mc 1
Vd d3 d4 0
Rd d4 0 50
Fd1 za ma Vd 1
Fd2 zb mb Vd 1
Fd3 zc mc Vd 1
Vn_p_0 0 n1 0
`+fmt.Sprintf("Xcoil n1 n z r=7 x=%.17g\n", coil))
	x.must(t)(x.AddEarthingTransformer("P", x.m, 2+30i, complex(7, coil)))
	x.neutrals = []string{"P 0"}
	x.compare(t, x.cases(t))
}

// The same feeders earthed solidly, by an infeed with a zero-sequence impedance.
func TestSpiceCrossCountrySolid(t *testing.T) {
	t.Parallel()
	x := newTwoFeeders(t, network.InfeedData{Z1: 0.15 + 1.9i, Z2: 0.15 + 1.9i, Z0: 0.2 + 1.3i, VLL: 20500, Angle: 12 * degrees}, `
Xs e1 e2 e3 0 emf v={20500/sqrt(3)} deg=12
Xzs e1 e2 e3 s_0a s_0b s_0c line3 r1=0.15 x1=1.9 r0=0.2 x0=1.3
`)
	x.compare(t, x.cases(t))
}

// The same feeders with nothing to earth but their capacitances.
func TestSpiceCrossCountryUnearthed(t *testing.T) {
	t.Parallel()
	x := newTwoFeeders(t, network.InfeedData{Z1: 0.15 + 1.9i, Z2: 0.15 + 1.9i, Open: true, VLL: 20500, Angle: 12 * degrees}, `
Xs e1 e2 e3 star emf v={20500/sqrt(3)} deg=12
Xsa e1 s_0a z r=0.15 x=1.9
Xsb e2 s_0b z r=0.15 x=1.9
Xsc e3 s_0c z r=0.15 x=1.9
`)
	x.compare(t, x.cases(t))
}
