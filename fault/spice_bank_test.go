package fault_test

import (
	"testing"

	"feederwright/fault"
	"feederwright/network"
	"feederwright/quantity"
)

// Banks of single-phase transformers. In the circuits each unit is a pair of ideal
// coils and a leakage impedance; one with its middle brought out has a leakage in the
// first winding and one in each half.
//
// Every value expected is derived: the state that ngspice gives.

// threeCoils is a unit with its second winding in two halves, q1-qm and qm-q2;
// k is a half's volts per volt of the first winding. zp is in the first winding, zh in each half.
const threeCoils = `
.subckt unit3 p1 p2 q1 qm q2 k=1 rp=1 xp=1 rh=1 xh=1
Xp p1 pi z r={rp} x={xp}
X1 pi p2 q1i qm coils k={k}
X2 pi p2 qm q2i coils k={k}
Xh1 q1i q1 z r={rh} x={xh}
Xh2 q2i q2 z r={rh} x={xh}
.ends
.subckt unit2 p1 p2 q1 q2 k=1 r=1 x=1
X1 p1 p2 q1i q2 coils k={k}
Xz q1i q1 z r={r} x={x}
.ends
`

// middle gives the two impedances of a unit with its middle brought out: seen
// from the whole second winding and from a half, with the first winding short-circuited.
func middle(zp, zh complex128, vp, vs float64) (z, half complex128) {
	k := complex(vs/2/vp, 0)
	return 2*zh + 4*zp*k*k, zh + zp*k*k
}

const bankSource = `
Xs e1 e2 e3 0 emf v={12470/sqrt(3)} deg=-4
Xzs e1 e2 e3 s_0a s_0b s_0c line3 r1=0.4 x1=1.9 r0=0.7 x0=2.6
`

func (h *hand) bankSource(t *testing.T) int {
	hv := h.AddBus("Hv", abc, 12470)
	h.must(t)(h.AddInfeed("S", hv, network.InfeedData{Z1: 0.4 + 1.9i, Z2: 0.4 + 1.9i, Z0: 0.7 + 2.6i, VLL: 12470, Angle: -4 * degrees}))
	h.cards = bankSource + threeCoils + h.cards
	return hv
}

const (
	star = network.Star
	pa   = quantity.PhaseA
	pb   = quantity.PhaseB
	pc   = quantity.PhaseC
	pn   = quantity.PhaseN
)

// withNeutral lists the faults in which the neutral conductor takes part.
func withNeutral(phases quantity.Phases) []fault.Kind {
	list := []fault.Kind{{Type: fault.LineEarth, Phases: pn}}
	for _, c := range phases.Conductors() {
		p := quantity.Phases(1 << c)
		list = append(list, fault.Kind{Type: fault.LineLine, Phases: p | pn}, fault.Kind{Type: fault.LineLineEarth, Phases: p | pn})
	}
	return list
}

// Open wye to open delta: two units, of phases A and B, their star point
// earthed over 3 ohm; the second windings between A-B and B-C of 480 V. Phase B of the
// service is earthed over 0.1 ohm. A fault on any two phases of the service
// comes back in the neutral of the first side.
func TestSpiceOpenWyeOpenDelta(t *testing.T) {
	t.Parallel()
	for _, zn := range []float64{0, 3} {
		earth := "Rn n1 n 3\n"
		if zn == 0 {
			earth = "Vz n1 n 0\n"
		}
		h := &hand{hz: 60, neutrals: []string{"Bk 0"}, cards: earth + `
Vn_bk_0 0 n1 0
Xu1 bk_0a n bk_1a bk_1b unit2 k={480/7200} r=0.02 x=0.05
Xu2 bk_0b n bk_1b bk_1c unit2 k={480/7200} r=0.03 x=0.06
Re corner_0b 0 0.1
Rab loads_0a loads_0b 6
Rbc loads_0b loads_0c 9
Rca loads_0c loads_0a 5
Lca loads_0c loads_0a {8/w}
`}
		hv := h.bankSource(t)
		lv := h.AddBus("Lv", abc, 480)
		do := h.must(t)
		do(h.AddBank("Bk", hv, lv, network.BankData{Units: []network.Unit{
			{Name: "1", Primary: [2]int{0, star}, Secondary: []int{0, 1}, VPrimary: 7200, VSecondary: 480, Z: 0.02 + 0.05i},
			{Name: "2", Primary: [2]int{1, star}, Secondary: []int{1, 2}, VPrimary: 7200, VSecondary: 480, Z: 0.03 + 0.06i},
		}, From: network.NeutralPoint{Exists: true, Earthed: true, Z: complex(zn, 0)}}))
		do(h.AddShunt(network.Earthing, "Corner", lv, pb, []complex128{10}))
		ab, bc, ca := complex128(1./6), complex128(1./9), complex128(1./5-1i/8)
		do(h.AddShunt(network.Load, "Loads", lv, abc, []complex128{
			ab + ca, -ab, -ca,
			-ab, ab + bc, -bc,
			-ca, -bc, bc + ca}))
		cases := append([]handCase{{}}, h.everyFault(0.02, map[string]int{"Lv": lv}, "", abc)...)
		cases = append(cases, h.aFewFaults(t, 5, map[string]int{"Hv": hv}, "")...)
		h.compare(t, cases)
	}
}

// The same with the middle of the first unit's second winding brought out as the
// neutral of the service and earthed at it: 120/240 V, three phases, four wires.
func TestSpiceOpenWyeOpenDeltaFourWire(t *testing.T) {
	t.Parallel()
	h := &hand{hz: 60, neutrals: []string{"Bk 0"}, cards: `
Vn_bk_0 0 n 0
Xu1 bk_0a n bk_1a bk_1n bk_1b unit3 k={120/7200} rp=20 xp=38 rh=0.004 xh=0.003
Xu2 bk_0b n bk_1b bk_1c unit2 k={240/7200} r=0.012 x=0.02
Re rod_0n 0 4
Ran loads_0a loads_0n 2
Rbn loads_0b loads_0n 3
Rbc loads_0b loads_0c 5
`}
	hv := h.bankSource(t)
	all := abc | pn
	lv := h.AddBus("Lv", all, 240)
	do := h.must(t)
	z, half := middle(20+38i, 0.004+0.003i, 7200, 240)
	do(h.AddBank("Bk", hv, lv, network.BankData{Units: []network.Unit{
		{Name: "1", Primary: [2]int{0, star}, Secondary: []int{0, 3, 1}, VPrimary: 7200, VSecondary: 240, Z: z, ZHalf: half},
		{Name: "2", Primary: [2]int{1, star}, Secondary: []int{1, 2}, VPrimary: 7200, VSecondary: 240, Z: 0.012 + 0.02i},
	}, From: network.NeutralPoint{Exists: true, Earthed: true}}))
	do(h.AddShunt(network.Earthing, "Rod", lv, pn, []complex128{0.25}))
	an, bn, bc := complex128(1./2), complex128(1./3), complex128(1./5)
	do(h.AddShunt(network.Load, "Loads", lv, all, []complex128{
		an, 0, 0, -an,
		0, bn + bc, -bc, -bn,
		0, -bc, bc, 0,
		-an, -bn, 0, an + bn}))
	cases := append([]handCase{{}}, h.everyFault(0.01, map[string]int{"Lv": lv}, "", abc)...)
	for i, k := range withNeutral(abc) {
		cases = append(cases, h.at(lv, "Lv", k, 0.02*float64(i%2)))
	}
	cases = append(cases, h.aFewFaults(t, 5, map[string]int{"Hv": hv}, "")...)
	h.compare(t, cases)
}

// A centre-tapped 120/240 V service from one phase: legs A and B and the
// neutral N, which stands on a rod; some way of service cable.
func TestSpiceCentreTapped(t *testing.T) {
	t.Parallel()
	abn := pa | pb | pn
	for _, betweenPhases := range []bool{false, true} {
		// The unit's first winding stands between phase C and earth,
		first, unit, neutrals := "Vn_bk_0 0 n1 0\n", "Xu bk_0c n1 ", []string{"Bk 0"}
		primary, point := [2]int{2, star}, network.NeutralPoint{Exists: true, Earthed: true}
		if betweenPhases { // or C and A
			first, unit, neutrals = "", "Xu bk_0c bk_0a ", nil
			primary, point = [2]int{2, 0}, network.NeutralPoint{}
		}
		h := &hand{hz: 60, neutrals: neutrals, cards: first + unit + `bk_1a bk_1n bk_1b unit3 k={120/7200} rp=31 xp=45 rh=0.005 xh=0.004
Re rod_0n 0 20
* Service cable: three conductors, each 0.011 + j0.004 ohm, no coupling.
Xa l1_0a l1_1a z r=0.011 x=0.004
Xb l1_0b l1_1b z r=0.011 x=0.004
Xn l1_0n l1_1n z r=0.013 x=0.005
Re2 rod2_0n 0 35
Ran loads_0a loads_0n 3
Rbn loads_0b loads_0n 5
Rab loads_0a loads_0b 10
`}
		hv := h.bankSource(t)
		lv, e := h.AddBus("Lv", abn, 240), h.AddBus("E", abn, 240)
		do := h.must(t)
		z, half := middle(31+45i, 0.005+0.004i, 7200, 240)
		do(h.AddBank("Bk", hv, lv, network.BankData{Units: []network.Unit{
			{Name: "1", Primary: primary, Secondary: []int{0, 3, 1}, VPrimary: 7200, VSecondary: 240, Z: z, ZHalf: half}}, From: point}))
		do(h.AddShunt(network.Earthing, "Rod", lv, pn, []complex128{1. / 20}))
		do(h.AddShunt(network.Earthing, "Rod2", e, pn, []complex128{1. / 35}))
		do(h.AddLine("L1", lv, e, abn, []complex128{0.011 + 0.004i, 0, 0, 0, 0.011 + 0.004i, 0, 0, 0, 0.013 + 0.005i}, nil))
		an, bn, ab := complex128(1./3), complex128(1./5), complex128(1./10)
		do(h.AddShunt(network.Load, "Loads", e, abn, []complex128{
			an + ab, -ab, -an,
			-ab, bn + ab, -bn,
			-an, -bn, an + bn}))
		cases := []handCase{{}}
		for _, r := range []float64{0, 0.05} {
			for _, k := range append(fault.All(pa|pb), withNeutral(pa|pb)...) {
				cases = append(cases, h.at(lv, "Lv", k, r), h.at(e, "E", k, r))
			}
		}
		cases = append(cases, h.aFewFaults(t, 5, map[string]int{"Hv": hv}, "")...)
		h.compare(t, cases)
	}
}

// Three units wye-delta. The star point of the wye is in the air: with the
// fuse of one unit blown, the two others go on as one phase. With it on
// earth, the blown fuse leaves an open wye, and the delta carries the zero sequence of
// the first side.
func TestSpiceWyeDeltaFuse(t *testing.T) {
	t.Parallel()
	for _, earthed := range []bool{false, true} {
		point, neutral := network.NeutralPoint{Exists: true}, ""
		var neutrals []string
		if earthed {
			point.Earthed, point.Z, neutral, neutrals = true, 1.5, "Vn_bk_0 0 n1 0\nRn n1 n 1.5\n", []string{"Bk 0"}
		}
		h := &hand{hz: 60, neutrals: neutrals, ports: []string{"bk_0a", "bk_0b", "bk_0c", "u_a", "u_b", "u_c"}, cards: neutral + `
Xu1 u_a n bk_1a bk_1b unit2 k={480/7200} r=0.02 x=0.05
Xu2 u_b n bk_1b bk_1c unit2 k={480/7200} r=0.02 x=0.07
Xu3 u_c n bk_1c bk_1a unit2 k={480/7200} r=0.03 x=0.06
Ra loads_0a 0 8
Rb loads_0b 0 5
Rc loads_0c 0 6
`}
		hv := h.bankSource(t)
		lv := h.AddBus("Lv", abc, 480)
		do := h.must(t)
		bk := do(h.AddBank("Bk", hv, lv, network.BankData{Units: []network.Unit{
			{Name: "1", Primary: [2]int{0, star}, Secondary: []int{0, 1}, VPrimary: 7200, VSecondary: 480, Z: 0.02 + 0.05i},
			{Name: "2", Primary: [2]int{1, star}, Secondary: []int{1, 2}, VPrimary: 7200, VSecondary: 480, Z: 0.02 + 0.07i},
			{Name: "3", Primary: [2]int{2, star}, Secondary: []int{2, 0}, VPrimary: 7200, VSecondary: 480, Z: 0.03 + 0.06i},
		}, From: point}))
		do(h.AddShunt(network.Load, "Loads", lv, abc, []complex128{1. / 8, 0, 0, 0, 1. / 5, 0, 0, 0, 1. / 6}))
		whole := join("bk_0", "u_", abc)
		cases := []handCase{{cards: whole}}
		cases = append(cases, h.everyFault(0.05, map[string]int{"Lv": lv}, whole, abc)...)
		cases = append(cases, h.aFewFaults(t, 5, map[string]int{"Hv": hv}, whole)...)
		for _, blown := range []quantity.Phases{pa, pb, pc} {
			part, rest := breakAt(bk, 0, fault.OpenConductor, blown, 0), join("bk_0", "u_", abc&^blown)
			sides := [2]string{"bk_0", "u_"}
			cases = append(cases, handCase{[]fault.Part{part}, rest, sides})
			for _, k := range fault.All(abc) {
				cases = append(cases, handCase{[]fault.Part{part, shortPart(fault.AtBus(lv), k, 0.02)}, rest + short(1, "lv", k, 0.02), sides})
			}
		}
		h.compare(t, cases)
	}
}

// Delta-delta with the middle of one unit's second winding brought out and
// earthed: 240/120 V, three phases, four wires, the third phase high against earth; and
// the same with one of the other units taken away (open delta).
func TestSpiceHighLegDelta(t *testing.T) {
	t.Parallel()
	for _, open := range []bool{false, true} {
		third := "Xu3 bk_0c bk_0a bk_1c bk_1a unit2 k={240/12470} r=0.011 x=0.02\n"
		if open {
			third = ""
		}
		h := &hand{hz: 60, cards: third + `
Xu1 bk_0a bk_0b bk_1a bk_1n bk_1b unit3 k={120/12470} rp=50 xp=95 rh=0.003 xh=0.002
Xu2 bk_0b bk_0c bk_1b bk_1c unit2 k={240/12470} r=0.012 x=0.03
Re rod_0n 0 0.5
Ran loads_0a loads_0n 2
Rbn loads_0b loads_0n 3
Rbc loads_0b loads_0c 5
Rca loads_0c loads_0a 4
`}
		hv := h.bankSource(t)
		all := abc | pn
		lv := h.AddBus("Lv", all, 240)
		do := h.must(t)
		z, half := middle(50+95i, 0.003+0.002i, 12470, 240)
		units := []network.Unit{
			{Name: "1", Primary: [2]int{0, 1}, Secondary: []int{0, 3, 1}, VPrimary: 12470, VSecondary: 240, Z: z, ZHalf: half},
			{Name: "2", Primary: [2]int{1, 2}, Secondary: []int{1, 2}, VPrimary: 12470, VSecondary: 240, Z: 0.012 + 0.03i},
			{Name: "3", Primary: [2]int{2, 0}, Secondary: []int{2, 0}, VPrimary: 12470, VSecondary: 240, Z: 0.011 + 0.02i},
		}
		if open {
			units = units[:2]
		}
		do(h.AddBank("Bk", hv, lv, network.BankData{Units: units}))
		do(h.AddShunt(network.Earthing, "Rod", lv, pn, []complex128{2}))
		an, bn, bc, ca := complex128(1./2), complex128(1./3), complex128(1./5), complex128(1./4)
		do(h.AddShunt(network.Load, "Loads", lv, all, []complex128{
			an + ca, 0, -ca, -an,
			0, bn + bc, -bc, -bn,
			-ca, -bc, bc + ca, 0,
			-an, -bn, 0, an + bn}))
		cases := append([]handCase{{}}, h.everyFault(0.01, map[string]int{"Lv": lv}, "", abc)...)
		for i, k := range withNeutral(abc) {
			cases = append(cases, h.at(lv, "Lv", k, 0.02*float64(i%2)))
		}
		cases = append(cases, h.aFewFaults(t, 5, map[string]int{"Hv": hv}, "")...)
		h.compare(t, cases)
	}
}

// Wye-wye, units of three sizes; its star points: both on earth over
// impedances, one, or none; and with the second one a conductor of the service.
func TestSpiceWyeWyeBank(t *testing.T) {
	t.Parallel()
	for _, x := range []struct{ from, to, conductor bool }{{true, true, false}, {true, false, false}, {false, true, false}, {false, false, false}, {true, false, true}} {
		var neutrals []string
		cards := ""
		var from, to network.NeutralPoint
		if x.from {
			from, cards, neutrals = network.NeutralPoint{Exists: true, Earthed: true, Z: 2 + 1i}, "Vn_bk_0 0 n1 0\nXn n1 n z r=2 x=1\n", append(neutrals, "Bk 0")
		}
		if x.to {
			to, cards, neutrals = network.NeutralPoint{Exists: true, Earthed: true, Z: 0.1}, cards+"Vn_bk_1 0 m1 0\nRm m1 m 0.1\n", append(neutrals, "Bk 1")
		}
		phases, end := abc, star
		if !x.from && !x.to { // no zero-sequence current can flow, so this one carries none; but the flux common to the cores needs a value
			cards = "Rm m 0 10\n"
		}
		if x.conductor {
			phases, end, cards = abc|pn, 3, cards+"Vmn m bk_1n 0\nRrod rod_0n 0 2\n"
		}
		h := &hand{hz: 60, neutrals: neutrals, cards: cards + `
Xu1 bk_0a n bk_1a m unit2 k={277/7200} r=0.02 x=0.05
Xu2 bk_0b n bk_1b m unit2 k={277/7200} r=0.03 x=0.04
Xu3 bk_0c n bk_1c m unit2 k={277/7200} r=0.01 x=0.06
Ra loads_0a 0 8
Rb loads_0b 0 5
Rc loads_0c 0 6
`}
		hv := h.bankSource(t)
		lv := h.AddBus("Lv", phases, 480)
		do := h.must(t)
		var units []network.Unit
		for i, z := range []complex128{0.02 + 0.05i, 0.03 + 0.04i, 0.01 + 0.06i} {
			units = append(units, network.Unit{Name: string("123"[i]), Primary: [2]int{i, star}, Secondary: []int{i, end}, VPrimary: 7200, VSecondary: 277, Z: z})
		}
		do(h.AddBank("Bk", hv, lv, network.BankData{Units: units, From: from, To: to}))
		do(h.AddShunt(network.Load, "Loads", lv, abc, []complex128{1. / 8, 0, 0, 0, 1. / 5, 0, 0, 0, 1. / 6}))
		if x.conductor {
			do(h.AddShunt(network.Earthing, "Rod", lv, pn, []complex128{0.5}))
		}
		cases := append([]handCase{{}}, h.aFewFaults(t, 0.05, map[string]int{"Lv": lv}, "")...)
		cases = append(cases, h.aFewFaults(t, 5, map[string]int{"Hv": hv}, "")...)
		h.compare(t, cases)
	}
}
