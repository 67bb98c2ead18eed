package fault_test

import (
	"fmt"
	"testing"

	"feederwright/fault"
	"feederwright/network"
	"feederwright/phasor"
)

// spiceMachine is a machine with three different sequence impedances. Filters of
// controlled sources take the sequence voltages from its terminals; a current
// through 1 ohm of reactance gives what is turned by 90 degrees. Each sequence
// voltage drives its current through a resistance and an inductance, the positive
// one against the node emf; the terminals draw the sum. The node n is its star point.
const spiceMachine = `
.subckt machine a b c n emf v1 r1=1 x1=1 r2=1 x2=1 r0=1 x0=1
* v1 = (va - (vb+vc)/2)/3 + j (vb-vc) sqrt(3)/6; v2 with -j; v0 = (va+vb+vc)/3 - vn
Gq 0 jq b c 1
Lq jq 0 {1/w}
E11 v1 p1 a 0 {1/3}
E12 p1 p2 b 0 {-1/6}
E13 p2 p3 c 0 {-1/6}
E14 p3 0 jq 0 {sqrt(3)/6}
E21 v2 s1 a 0 {1/3}
E22 s1 s2 b 0 {-1/6}
E23 s2 s3 c 0 {-1/6}
E24 s3 0 jq 0 {-sqrt(3)/6}
E01 v0 t1 a n {1/3}
E02 t1 t2 b n {1/3}
E03 t2 0 c n {1/3}
V1 v1 y1 0
X1 y1 emf z r={r1} x={x1}
V2 v2 y2 0
X2 y2 0 z r={r2} x={x2}
V0 v0 y0 0
X0 y0 0 z r={r0} x={x0}
* ji = j (i1 - i2); ib = i0 - (i1+i2)/2 - ji sqrt(3)/2, ic with the other sign
Fj1 0 ji V1 1
Fj2 0 ji V2 -1
Lj ji 0 {1/w}
Fa0 a n V0 1
Fa1 a n V1 1
Fa2 a n V2 1
Fb0 b n V0 1
Fb1 b n V1 -0.5
Fb2 b n V2 -0.5
Gb b n ji 0 {-sqrt(3)/2}
Fc0 c n V0 1
Fc1 c n V1 -0.5
Fc2 c n V2 -0.5
Gc c n ji 0 {sqrt(3)/2}
.ends
`

// A machine alone, whose negative-sequence impedance is not its positive one,
// behind a delta-wye transformer; its own star point is in the air, or earthed.
//
//	G ── A ─┤Dyn1├─ M ── L1 ── E ── load in delta
//
// Every value expected is derived: the state that ngspice gives.
func TestSpiceSourceOfTwoImpedances(t *testing.T) {
	t.Parallel()
	for _, rotation := range []phasor.Rotation{phasor.ABC, phasor.ACB} {
		for _, earthed := range []bool{false, true} {
			b, c := "b", "c"
			if rotation == phasor.ACB { // the machine turns backwards; the transformer is the same iron
				b, c = "c", "b"
			}
			d := network.InfeedData{Z1: 0.03 + 0.9i, Z2: 0.07 + 0.55i, Open: true, VLL: 4200, Angle: 20 * degrees}
			star, z0 := "", "r0=0 x0=1" // the star point in the air takes the potential at which no current flows, whatever Z0
			if earthed {
				d.Open, d.Z0 = false, 0.02+0.31i
				star, z0 = "Vn n 0 0\n", "r0=0.02 x0=0.31"
			}
			h := &hand{hz: 50, neutrals: []string{"T 1"}, cards: spiceMachine + fmt.Sprintf(`
Xg g_0a g_0%s g_0%s n emf v1 machine r1=0.03 x1=0.9 r2=0.07 x2=0.55 %s
Vemf emf 0 dc 0 ac {4200/sqrt(3)} 20
%s
Xt t_0a t_0b t_0c t_1a t_1b t_1c st dy1 k={12470/sqrt(3)/4160} r=0.11 x=2.2
Vn_t_1 0 st1 0
Xst st1 st z r=3 x=0.4
Xl1 l1_0a l1_0b l1_0c l1_1a l1_1b l1_1c line3 r1=0.7 x1=1.1 r0=1.5 x0=3.6
Rab loads_0a loads_0b 300
Rbc loads_0b loads_0c 300
Rca loads_0c loads_0a 300
`, b, c, z0, star)}
			h.Rotation = rotation
			do := h.must(t)
			a, m, e := h.AddBus("A", abc, 4160), h.AddBus("M", abc, 12470), h.AddBus("E", abc, 12470)
			do(h.AddInfeed("G", a, d))
			data := network.TransformerData{Group: group(t, "Dyn1"), VFrom: 4160, VTo: 12470, Z1: 0.11 + 2.2i, Z0: 0.11 + 2.2i,
				To: network.NeutralPoint{Exists: true, Earthed: true, Z: 3 + 0.4i}}
			do(h.AddTransformer("T", a, m, data))
			do(h.AddLine("L1", m, e, abc, network.BalancedMatrix(3, 0.7+1.1i, 1.5+3.6i), nil))
			do(h.AddShunt(network.Load, "Loads", e, abc, network.ConnectedShunt(network.Delta, 3, 1./300)))
			if !earthed { // hold the machine's side: a capacitance to earth of its cables
				h.cards += "Ca caps_0a 0 {1e-4/w}\nCb caps_0b 0 {1e-4/w}\nCc caps_0c 0 {1e-4/w}\n"
				do(h.AddShunt(network.Capacitor, "Caps", a, abc, network.ConnectedShunt(network.EarthedWye, 3, 1e-4i)))
			}
			cases := append([]handCase{{}}, h.aFewFaults(t, 2, map[string]int{"A": a, "M": m, "E": e}, "")...)
			h.compare(t, cases)
		}
	}
}

// An induction machine with its star point in the air and a synchronous
// machine earthed over a resistance, on a feeder with an unequal load. The voltage behind
// their impedances is the positive-sequence voltage that the network gives
// them before the fault: in the circuit, a copy of what case 0 measures there,
// so that none of the machines carries positive-sequence current in case 0.
//
//	source ── A ─┤Dyn1├─ M ── L1 ── E ── load between A and B, and in wye
//	                     │          │
//	                 motor       generator
//
// Every value expected is derived: the state that ngspice gives.
func TestSpiceMachines(t *testing.T) {
	t.Parallel()
	h := &hand{hz: 60, neutrals: []string{"T 1", "G 0"}, ports: []string{"emfm", "v1m", "emfg", "v1g"}, cards: spiceMachine + `
Xs e1 e2 e3 0 emf v={67000/sqrt(3)} deg=0
Xzs e1 e2 e3 s_0a s_0b s_0c line3 r1=0.7 x1=8 r0=1.4 x0=14
Xt t_0a t_0b t_0c t_1a t_1b t_1c st dy1 k={4160/sqrt(3)/66000} r=0.01 x=0.16
Vn_t_1 0 st1 0
Rst st1 st 0.8
Xl1 l1_0a l1_0b l1_0c l1_1a l1_1b l1_1c line3 r1=0.2 x1=0.3 r0=0.5 x0=1.0
Xm m_0a m_0b m_0c mn emfm v1m machine r1=0.03 x1=0.7 r2=0.05 x2=0.74 r0=0 x0=0.1
Xg g_0a g_0b g_0c gn emfg v1g machine r1=0.02 x1=0.9 r2=0.04 x2=0.6 r0=0.01 x0=0.3
Vn_g_0 0 gn1 0
Rgn gn1 gn 6
Rab loads_0a loads_0b 12
Rc loads_0c 0 20
Lb loads_0b 0 {15/w}
`}
	do := h.must(t)
	a, m, e := h.AddBus("A", abc, 66e3), h.AddBus("Mv", abc, 4160), h.AddBus("E", abc, 4160)
	do(h.AddInfeed("S", a, network.InfeedData{Z1: 0.7 + 8i, Z2: 0.7 + 8i, Z0: 1.4 + 14i, VLL: 67e3}))
	do(h.AddTransformer("T", a, m, network.TransformerData{Group: group(t, "Dyn1"), VFrom: 66e3, VTo: 4160, Z1: 0.01 + 0.16i, Z0: 0.01 + 0.16i,
		To: network.NeutralPoint{Exists: true, Earthed: true, Z: 0.8}}))
	do(h.AddLine("L1", m, e, abc, network.BalancedMatrix(3, 0.2+0.3i, 0.5+1.0i), nil))
	do(h.AddMachine(network.InductionMachine, "M", m, network.MachineData{Z1: 0.03 + 0.7i, Z2: 0.05 + 0.74i}))
	do(h.AddMachine(network.SynchronousMachine, "G", e, network.MachineData{Z1: 0.02 + 0.9i, Z2: 0.04 + 0.6i, Z0: 0.01 + 0.3i,
		Neutral: network.NeutralPoint{Exists: true, Earthed: true, Z: 6}}))
	ab, bg, cg := complex128(1./12), complex128(-1i/15), complex128(1./20)
	do(h.AddShunt(network.Load, "Loads", e, abc, []complex128{
		ab, -ab, 0,
		-ab, ab + bg, 0,
		0, 0, cg}))
	const hold = "E@m @emfm 0 k0_v1m 0 1\nE@g @emfg 0 k0_v1g 0 1\n"
	cases := append([]handCase{{cards: hold}}, h.everyFault(0.4, map[string]int{"A": a, "Mv": m, "E": e}, hold, abc)...)
	// Cross-country, with both machines.
	for _, k := range [][2]string{{"lg:A", "lg:C"}, {"ll:BC", "lg:A"}} {
		k0, k1 := kind(t, k[0]), kind(t, k[1])
		cases = append(cases, handCase{parts: []fault.Part{shortPart(fault.AtBus(m), k0, 0), shortPart(fault.AtBus(e), k1, 0.3)},
			cards: short(0, "mv", k0, 0) + short(1, "e", k1, 0.3) + hold})
	}
	h.compare(t, cases)
}
