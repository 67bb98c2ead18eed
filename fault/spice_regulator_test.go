package fault_test

import (
	"testing"

	"feederwright/fault"
	"feederwright/network"
	"feederwright/quantity"
)

// Step-voltage regulators as what they are: autotransformers, a series coil
// that adds a part of the voltage of the exciting coil.
//
//	source ── A ─┤R├─ B ── L1 ── E ── load
//
// Every value expected is derived: the state that ngspice gives.

// auto is one unit: the exciting coil between p and m, the series coil from p to q
// with r - 1 times its turns, the impedance of the unit behind.
const auto = `
.subckt auto p m q r=1
X1 p m q p coils k={r-1}
.ends
`

func regulated(t *testing.T, cards string, phases quantity.Phases, d network.RegulatorData) (h *hand, r, a, b, e int) {
	h = &hand{hz: 60, cards: auto + `
Xs e1 e2 e3 0 emf v={12300/sqrt(3)} deg=2
Xzs e1 e2 e3 s_0a s_0b s_0c line3 r1=0.3 x1=1.6 r0=0.6 x0=2.4
` + cards}
	do := h.must(t)
	a, b, e = h.AddBus("A", phases|abc, 12470), h.AddBus("B", phases, 12470), h.AddBus("E", phases, 12470)
	do(h.AddInfeed("S", a, network.InfeedData{Z1: 0.3 + 1.6i, Z2: 0.3 + 1.6i, Z0: 0.6 + 2.4i, VLL: 12300, Angle: 2 * degrees}))
	r = do(h.AddRegulator("R", a, b, phases, d))
	return h, r, a, b, e
}

// Wye: three units of different tap positions, to earth.
func TestSpiceRegulatorWye(t *testing.T) {
	t.Parallel()
	h, r, a, b, e := regulated(t, `
Xa u_a 0 ra auto r=1.05
Xb u_b 0 rb auto r=0.975
Xc u_c 0 rc auto r=1.0625
Xza ra r_1a z r=0.02 x=0.3
Xzb rb r_1b z r=0.02 x=0.3
Xzc rc r_1c z r=0.02 x=0.3
Xl1 l1_0a l1_0b l1_0c l1_1a l1_1b l1_1c line3 r1=1.2 x1=2.1 r0=2.6 x0=7.4
Ra loads_0a 0 200
Rb loads_0b 0 150
Lb loads_0b 0 {300/w}
Rc loads_0c 0 400
`, abc, network.RegulatorData{Connection: network.RegulatorWye, Ratio: []float64{1.05, 0.975, 1.0625}, Z: 0.02 + 0.3i})
	do := h.must(t)
	h.ports = []string{"r_0a", "r_0b", "r_0c", "u_a", "u_b", "u_c"}
	do(h.AddLine("L1", b, e, abc, network.BalancedMatrix(3, 1.2+2.1i, 2.6+7.4i), nil))
	do(h.AddShunt(network.Load, "Loads", e, abc, []complex128{1. / 200, 0, 0, 0, 1./150 - 1i/300, 0, 0, 0, 1. / 400}))
	whole := join("r_0", "u_", abc)
	cases := append([]handCase{{cards: whole}}, h.everyFault(4, map[string]int{"A": a, "B": b, "E": e}, whole, abc)...)
	for _, p := range []quantity.Phases{pa, pb | pc} {
		rest := join("r_0", "u_", abc&^p)
		cases = append(cases, handCase{[]fault.Part{breakAt(r, 0, fault.OpenConductor, p, 0)}, rest, [2]string{"r_0", "u_"}},
			handCase{[]fault.Part{breakAt(r, 0, fault.OpenConductor, p, 0), shortPart(fault.AtBus(e), kind(t, "ll-g:AB"), 2)}, rest + short(1, "e", kind(t, "ll-g:AB"), 2), [2]string{"r_0", "u_"}})
	}
	h.compare(t, cases)
}

// Wye on a four-wire line: the exciting coils end at the neutral conductor,
// which passes through and stands on earth over rods alone.
func TestSpiceRegulatorFourWire(t *testing.T) {
	t.Parallel()
	all := abc | pn
	h, _, a, b, e := regulated(t, `
Xa r_0a r_0n ra auto r=1.05
Xb r_0b r_0n rb auto r=0.975
Xc r_0c r_0n rc auto r=1.0625
Xza ra r_1a z r=0.02 x=0.3
Xzb rb r_1b z r=0.02 x=0.3
Xzc rc r_1c z r=0.02 x=0.3
Lzn r_0n r_1n {1e-6/w}
Rmat mat_0n 0 0.6
Rrod rod_0n 0 18
Xl1 l1_0a l1_0b l1_0c l1_0n l1_1a l1_1b l1_1c l1_1n wire4 m=2
Ra loads_0a loads_0n 200
Rb loads_0b loads_0n 150
Rc loads_0c loads_0n 400
`+wire4, all, network.RegulatorData{Connection: network.RegulatorWye, Ratio: []float64{1.05, 0.975, 1.0625}, Z: 0.02 + 0.3i})
	do := h.must(t)
	do(h.AddShunt(network.Earthing, "Mat", a, pn, []complex128{1 / 0.6}))
	do(h.AddShunt(network.Earthing, "Rod", e, pn, []complex128{1. / 18}))
	do(h.AddLine("L1", b, e, all, wire4Matrix(2, all), nil))
	ra, rb, rc := complex128(1./200), complex128(1./150), complex128(1./400)
	do(h.AddShunt(network.Load, "Loads", e, all, []complex128{
		ra, 0, 0, -ra,
		0, rb, 0, -rb,
		0, 0, rc, -rc,
		-ra, -rb, -rc, ra + rb + rc}))
	cases := append([]handCase{{}}, h.everyFault(4, map[string]int{"B": b, "E": e}, "", abc)...)
	for i, k := range withNeutral(abc) {
		cases = append(cases, h.at(b, "B", k, float64(i%2)), h.at(e, "E", k, float64(i%2)))
	}
	h.compare(t, cases)
}

// Open delta: units between A-B and C-B at different positions; B passes through.
// Closed delta: the exciting coil of each ends at the regulated side of the next phase.
func TestSpiceRegulatorDelta(t *testing.T) {
	t.Parallel()
	for _, x := range []struct {
		d     network.RegulatorData
		cards string
	}{
		{network.RegulatorData{Connection: network.RegulatorOpenDelta, Ratio: []float64{1.0625, 0.96}, Z: 0.02 + 0.3i}, `
Xa r_0a r_0b ra auto r=1.0625
Vb r_0b rb 0
Xc r_0c r_0b rc auto r=0.96
`},
		{network.RegulatorData{Connection: network.RegulatorClosedDelta, Ratio: []float64{1.0625, 0.96, 1.03}, Z: 0.02 + 0.3i}, `
Xa r_0a rb ra auto r=1.0625
Xb r_0b rc rb auto r=0.96
Xc r_0c ra rc auto r=1.03
`},
	} {
		h, _, a, b, e := regulated(t, x.cards+`
Xza ra r_1a z r=0.02 x=0.3
Xzb rb r_1b z r=0.02 x=0.3
Xzc rc r_1c z r=0.02 x=0.3
Xl1 l1_0a l1_0b l1_0c l1_1a l1_1b l1_1c line3 r1=1.2 x1=2.1 r0=2.6 x0=7.4
Rab loads_0a loads_0b 500
Rc loads_0c 0 400
`, abc, x.d)
		do := h.must(t)
		do(h.AddLine("L1", b, e, abc, network.BalancedMatrix(3, 1.2+2.1i, 2.6+7.4i), nil))
		do(h.AddShunt(network.Load, "Loads", e, abc, []complex128{1. / 500, -1. / 500, 0, -1. / 500, 1. / 500, 0, 0, 0, 1. / 400}))
		h.compare(t, append([]handCase{{}}, h.everyFault(4, map[string]int{"A": a, "B": b, "E": e}, "", abc)...))
	}
}

// One unit in a single-phase lateral, and a series reactor in a feeder.
func TestSpiceRegulatorOfOnePhaseAndReactor(t *testing.T) {
	t.Parallel()
	h := &hand{hz: 60, cards: auto + `
Xs e1 e2 e3 0 emf v={12300/sqrt(3)} deg=2
Xzs e1 e2 e3 s_0a s_0b s_0c line3 r1=0.3 x1=1.6 r0=0.6 x0=2.4
Xra x_0a x_1a z r=0.01 x=0.7
Xrb x_0b x_1b z r=0.01 x=0.7
Xrc x_0c x_1c z r=0.01 x=0.7
Xb r_0b 0 rb auto r=1.05
Xzb rb r_1b z r=0.04 x=0.5
Rb loads_0b 0 300
`}
	do := h.must(t)
	a, b, e := h.AddBus("A", abc, 12470), h.AddBus("B", abc, 12470), h.AddBus("E", pb, 12470)
	do(h.AddInfeed("S", a, network.InfeedData{Z1: 0.3 + 1.6i, Z2: 0.3 + 1.6i, Z0: 0.6 + 2.4i, VLL: 12300, Angle: 2 * degrees}))
	do(h.AddReactor("X", a, b, abc, 0.01+0.7i))
	do(h.AddRegulator("R", b, e, pb, network.RegulatorData{Connection: network.RegulatorWye, Ratio: []float64{1.05}, Z: 0.04 + 0.5i}))
	do(h.AddShunt(network.Load, "Loads", e, pb, []complex128{1. / 300}))
	cases := append([]handCase{{}}, h.everyFault(4, map[string]int{"A": a, "B": b}, "", abc)...)
	for i, k := range fault.All(pb) {
		cases = append(cases, h.at(e, "E", k, float64(i)), h.at(e, "E", k, 9))
	}
	h.compare(t, cases)
}
