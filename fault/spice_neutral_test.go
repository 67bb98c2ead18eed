package fault_test

import (
	"fmt"
	"strings"
	"testing"

	"feederwright/fault"
	"feederwright/network"
	"feederwright/quantity"
)

// wire4 is a line of four conductors with earth return, m spans long: each conductor
// with its own resistance and inductance, all coupled in pairs, and the
// resistance of the earth in the path of the sum of their currents. The neutral
// is thinner and hangs lower.
const wire4 = `
.subckt wire4 a b c n a2 b2 c2 n2 m=1
Va a a3 0
Vb b b3 0
Vc c c3 0
Vn n n3 0
Ra a3 a4 {m*0.19}
Rb b3 b4 {m*0.19}
Rc c3 c4 {m*0.19}
Rn n3 n4 {m*0.37}
La a4 a5 {m*0.87/w}
Lb b4 b5 {m*0.87/w}
Lc c4 c5 {m*0.87/w}
Ln n4 n5 {m*0.91/w}
K1 La Lb {0.47/0.87}
K2 Lb Lc {0.45/0.87}
K3 La Lc {0.40/0.87}
K4 La Ln {0.38/sqrt(0.87*0.91)}
K5 Lb Ln {0.42/sqrt(0.87*0.91)}
K6 Lc Ln {0.36/sqrt(0.87*0.91)}
Fa 0 g Va 1
Fb 0 g Vb 1
Fc 0 g Vc 1
Fn 0 g Vn 1
Rg g 0 {m*0.059}
Ea a5 a2 g 0 1
Eb b5 b2 g 0 1
Ec c5 c2 g 0 1
En n5 n2 g 0 1
.ends
`

// wire4Matrix is the series matrix of the same line over some of its
// conductors, in ohm.
func wire4Matrix(m float64, phases quantity.Phases) []complex128 {
	full := [4][4]complex128{
		{0.249 + 0.87i, 0.059 + 0.47i, 0.059 + 0.40i, 0.059 + 0.38i},
		{0.059 + 0.47i, 0.249 + 0.87i, 0.059 + 0.45i, 0.059 + 0.42i},
		{0.059 + 0.40i, 0.059 + 0.45i, 0.249 + 0.87i, 0.059 + 0.36i},
		{0.059 + 0.38i, 0.059 + 0.42i, 0.059 + 0.36i, 0.429 + 0.91i}}
	var z []complex128
	for _, i := range phases.Conductors() {
		for _, j := range phases.Conductors() {
			z = append(z, complex(m, 0)*full[i][j])
		}
	}
	return z
}

// A four-wire line, its neutral joined to the mat of the substation and to a
// rod at three poles of four. The fault current parts between the neutral and the rods.
//
//	source ── P0 ─── P1 ─── P2 ─── P3     phases and N
//	          │N     │N            │N
//	        0.4 ohm  25            15      rods, ohm; P2 has none
//
// Every value expected is derived: the state that ngspice gives.
func TestSpiceFourWire(t *testing.T) {
	t.Parallel()
	all := abc | quantity.PhaseN
	h := &hand{hz: 60, cards: wire4 + `
Xs e1 e2 e3 0 emf v={12470/sqrt(3)} deg=0
Xzs e1 e2 e3 s_0a s_0b s_0c line3 r1=0.08 x1=1.1 r0=0.05 x0=0.9
Rmat mat_0n 0 0.4
Xl1 l1_0a l1_0b l1_0c l1_0n l1_1a l1_1b l1_1c l1_1n wire4 m=0.8
R1 rod1_0n 0 25
Xl2 l2_0a l2_0b l2_0c l2_0n l2_1a l2_1b l2_1c l2_1n wire4 m=1.3
Xl3 l3_0a l3_0b l3_0c l3_0n l3_1a l3_1b l3_1c l3_1n wire4 m=0.6
R3 rod3_0n 0 15
* A load between each phase and the neutral at P3, not equal.
Ra loads_0a loads_0n 90
Rb loads_0b loads_0n 70
Rc loads_0c loads_0n 120
`}
	do := h.must(t)
	var p [4]int
	for i := range p {
		p[i] = h.AddBus(fmt.Sprint("P", i), all, 12470)
	}
	do(h.AddInfeed("S", p[0], network.InfeedData{Z1: 0.08 + 1.1i, Z2: 0.08 + 1.1i, Z0: 0.05 + 0.9i, VLL: 12470}))
	rod := func(name string, bus int, ohm float64) {
		do(h.AddShunt(network.Load, name, bus, quantity.PhaseN, []complex128{complex(1/ohm, 0)}))
	}
	rod("Mat", p[0], 0.4)
	rod("Rod1", p[1], 25)
	rod("Rod3", p[3], 15)
	for i, m := range []float64{0.8, 1.3, 0.6} {
		do(h.AddLine(fmt.Sprint("L", i+1), p[i], p[i+1], all, wire4Matrix(m, all), nil))
	}
	a, b, c := complex128(1./90), complex128(1./70), complex128(1./120)
	do(h.AddShunt(network.Load, "Loads", p[3], all, []complex128{
		a, 0, 0, -a,
		0, b, 0, -b,
		0, 0, c, -c,
		-a, -b, -c, a + b + c}))
	cases := []handCase{{}}
	cases = append(cases, h.everyFault(8, map[string]int{"P1": p[1], "P3": p[3]}, "", abc)...)
	// To the neutral, not to earth: a line-to-line fault of which the neutral is one; and the neutral to earth where it has no rod.
	for i := range p {
		name := strings.ToLower(fmt.Sprint("P", i))
		for _, phases := range []quantity.Phases{quantity.PhaseA, quantity.PhaseB, quantity.PhaseC} {
			k := fault.Kind{Type: fault.LineLine, Phases: phases | quantity.PhaseN}
			cases = append(cases, h.at(p[i], name, k, float64(2*i)))
		}
		k, n := kind(t, "lg:B"), fault.Kind{Type: fault.LineEarth, Phases: quantity.PhaseN}
		cases = append(cases, h.at(p[i], name, n, 10),
			handCase{parts: []fault.Part{shortPart(fault.AtBus(p[3]), k, 0), shortPart(fault.AtBus(p[2]), n, 4)}, cards: short(0, "p3", k, 0) + short(1, "p2", n, 4)})
	}
	h.compare(t, cases)
}

// The neutral of the same line open between P1 and P2, with and without a fault
// beyond: the return is through earth alone.
func TestSpiceOpenNeutral(t *testing.T) {
	t.Parallel()
	all := abc | quantity.PhaseN
	h := &hand{hz: 60, ports: append(nodesOf("p_", all), nodesOf("q_", all)...), cards: wire4 + `
Xs e1 e2 e3 0 emf v={12470/sqrt(3)} deg=0
Xzs e1 e2 e3 s_0a s_0b s_0c line3 r1=0.08 x1=1.1 r0=0.05 x0=0.9
Rmat mat_0n 0 0.4
Xl1 l1_0a l1_0b l1_0c l1_0n p_a p_b p_c p_n wire4 m={0.25*1.6}
Xl2 q_a q_b q_c q_n l1_1a l1_1b l1_1c l1_1n wire4 m={0.75*1.6}
R3 rod_0n 0 15
Ra loads_0a loads_0n 90
Rb loads_0b loads_0n 70
Rc loads_0c loads_0n 120
`}
	do := h.must(t)
	p0, p1 := h.AddBus("P0", all, 12470), h.AddBus("P1", all, 12470)
	do(h.AddInfeed("S", p0, network.InfeedData{Z1: 0.08 + 1.1i, Z2: 0.08 + 1.1i, Z0: 0.05 + 0.9i, VLL: 12470}))
	do(h.AddShunt(network.Load, "Mat", p0, quantity.PhaseN, []complex128{1 / 0.4}))
	do(h.AddShunt(network.Load, "Rod", p1, quantity.PhaseN, []complex128{1. / 15}))
	l1 := do(h.AddLine("L1", p0, p1, all, wire4Matrix(1.6, all), nil))
	a, b, c := complex128(1./90), complex128(1./70), complex128(1./120)
	do(h.AddShunt(network.Load, "Loads", p1, all, []complex128{
		a, 0, 0, -a,
		0, b, 0, -b,
		0, 0, c, -c,
		-a, -b, -c, a + b + c}))
	cases := []handCase{{cards: join("p_", "q_", all)}}
	for _, phases := range []quantity.Phases{quantity.PhaseN, quantity.PhaseN | quantity.PhaseA, quantity.PhaseB} {
		part := breakIn(l1, 0.25, fault.OpenConductor, phases, 0)
		whole := join("p_", "q_", all&^phases)
		cases = append(cases, handCase{[]fault.Part{part}, whole, [2]string{"p_", "q_"}})
		for _, k := range fault.All(abc) {
			cases = append(cases, handCase{[]fault.Part{part, shortPart(fault.AtBus(p1), k, 1)}, whole + short(1, "p1", k, 1), [2]string{"p_", "q_"}})
		}
	}
	h.compare(t, cases)
}
