package fault_test

import (
	"fmt"
	"testing"

	"feederwright/fault"
	"feederwright/network"
	"feederwright/quantity"
)

// Faults within a section whose phases are coupled unequally (not transposed),
// fed from both sides, at two places of its length; and within a section of two phases.
//
//	source A ── M ──── p ──── N ── source B        N ──── u ──── W   (phases A and C)
//	                L1: 2.4 spans                     L2: 1.5 spans
//
// Every value expected is derived: the state that ngspice gives.
func TestSpiceFaultWithinLine(t *testing.T) {
	t.Parallel()
	for _, x := range []float64{0.05, 0.7} {
		h := &hand{hz: 60, ports: []string{"p_a", "p_b", "p_c", "u_a", "u_c"}, cards: wire4 + fmt.Sprintf(".param x=%g", x) + `
Xs e1 e2 e3 0 emf v={12600/sqrt(3)} deg=3
Xzs e1 e2 e3 sa_0a sa_0b sa_0c line3 r1=0.07 x1=0.9 r0=0.1 x0=0.6
* The neutral conductor's place is left unused: open at one end.
Xl1 l1_0a l1_0b l1_0c j1 p_a p_b p_c j2 wire4 m={2.4*x}
Xl2 p_a p_b p_c j3 l1_1a l1_1b l1_1c j4 wire4 m={2.4*(1-x)}
Rj1 j1 0 1
Rj2 j3 0 1
Xs2 f1 f2 f3 0 emf v={12300/sqrt(3)} deg=-7
Xzs2 f1 f2 f3 sb_0a sb_0b sb_0c line3 r1=0.2 x1=2.9 r0=0.3 x0=1.6
Xl3 l2_0a j5 l2_0c j6 u_a j7 u_c j8 wire4 m={1.5*x}
Xl4 u_a j9 u_c j10 l2_1a j11 l2_1c j12 wire4 m={1.5*(1-x)}
Rj5 j5 0 1
Rj6 j6 0 1
Rj9 j9 0 1
Rj10 j10 0 1
Rw loads_0a loads_0c 150
`}
		do := h.must(t)
		ac := quantity.PhaseA | quantity.PhaseC
		m, n, w := h.AddBus("M", abc, 12470), h.AddBus("N", abc, 12470), h.AddBus("W", ac, 12470)
		do(h.AddInfeed("SA", m, network.InfeedData{Z1: 0.07 + 0.9i, Z2: 0.07 + 0.9i, Z0: 0.1 + 0.6i, VLL: 12600, Angle: 3 * degrees}))
		do(h.AddInfeed("SB", n, network.InfeedData{Z1: 0.2 + 2.9i, Z2: 0.2 + 2.9i, Z0: 0.3 + 1.6i, VLL: 12300, Angle: -7 * degrees}))
		l1 := do(h.AddLine("L1", m, n, abc, wire4Matrix(2.4, abc), nil))
		l2 := do(h.AddLine("L2", n, w, ac, wire4Matrix(1.5, ac), nil))
		do(h.AddShunt(network.Load, "Loads", w, ac, network.ConnectedShunt(network.Delta, 2, 1./150)))
		cases := []handCase{{}}
		for i, r := range []float64{0, 6} {
			for j, k := range fault.All(abc) {
				if i != j%2 {
					continue
				}
				cases = append(cases, handCase{[]fault.Part{shortPart(fault.OnLine(l1, x), k, r)}, short(0, "p", k, r), [2]string{"p_"}})
			}
			for _, k := range fault.All(ac) {
				cases = append(cases, handCase{[]fault.Part{shortPart(fault.OnLine(l2, x), k, r)}, short(0, "u", k, r), [2]string{"u_"}},
					// Both lines at once.
					handCase{[]fault.Part{shortPart(fault.OnLine(l2, x), k, r), shortPart(fault.OnLine(l1, x), kind(t, "lg:B"), 1)},
						short(0, "u", k, r) + short(1, "p", kind(t, "lg:B"), 1), [2]string{"u_"}})
			}
		}
		h.compare(t, cases)
	}
}
