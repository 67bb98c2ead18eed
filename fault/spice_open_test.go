package fault_test

import (
	"testing"

	"feederwright/fault"
	"feederwright/network"
	"feederwright/quantity"
)

// A loaded feeder with conductors open at 40 % of its length, or at its end:
//
//	source ── A ──── p ×  q ────── r × E ── load in wye to earth, and a load in delta
//	12.6 kV      L1: Z1 0.6 + j1.5, Z0 1.5 + j4.5 ohm
//
// Every value expected is derived: the state that ngspice gives.
func TestSpiceOpenFeeder(t *testing.T) {
	t.Parallel()
	h := &hand{hz: 60, ports: []string{"p_a", "p_b", "p_c", "q_a", "q_b", "q_c", "r_a", "r_b", "r_c", "l1_1a", "l1_1b", "l1_1c"}, cards: `
Xs e1 e2 e3 0 emf v={12600/sqrt(3)} deg=5
Xzs e1 e2 e3 s_0a s_0b s_0c line3 r1=0.1 x1=1.0 r0=0.2 x0=0.7

Xl1 l1_0a l1_0b l1_0c p_a p_b p_c line3 r1={0.4*0.6} x1={0.4*1.5} r0={0.4*1.5} x0={0.4*4.5}
Xl2 q_a q_b q_c r_a r_b r_c line3 r1={0.6*0.6} x1={0.6*1.5} r0={0.6*1.5} x0={0.6*4.5}

* 80 + j40 ohm a phase, parallel: admittance 0.01 - j0.005 S
Rya yloads_0a 0 100
Lya yloads_0a 0 {200/w}
Ryb yloads_0b 0 100
Lyb yloads_0b 0 {200/w}
Ryc yloads_0c 0 100
Lyc yloads_0c 0 {200/w}

Rab dloads_0a dloads_0b 400
Rbc dloads_0b dloads_0c 400
Rca dloads_0c dloads_0a 400
`}
	do := h.must(t)
	a, e := h.AddBus("A", abc, 12470), h.AddBus("E", abc, 12470)
	do(h.AddInfeed("S", a, network.InfeedData{Z1: 0.1 + 1i, Z2: 0.1 + 1i, Z0: 0.2 + 0.7i, VLL: 12600, Angle: 5 * degrees}))
	l1 := do(h.AddLine("L1", a, e, abc, network.BalancedMatrix(3, 0.6+1.5i, 1.5+4.5i), nil))
	do(h.AddShunt(network.Load, "YLoads", e, abc, network.ConnectedShunt(network.EarthedWye, 3, 0.01-0.005i)))
	do(h.AddShunt(network.Load, "DLoads", e, abc, network.ConnectedShunt(network.Delta, 3, 1./400)))

	pq, end := [2]string{"p_", "q_"}, join("r_", "l1_1", abc)
	cases := []handCase{{cards: join("p_", "q_", abc) + end}}
	for _, phases := range []quantity.Phases{1, 2, 4, 3, 6, 5, 7} {
		rest := join("p_", "q_", abc&^phases) + end
		cases = append(cases,
			// One, two and three open conductors, both ends in the air: the load side takes what the delta and the mutual coupling give it.
			handCase{[]fault.Part{breakIn(l1, 0.4, fault.OpenConductor, phases, 0)}, rest, pq})
		for i, r := range []float64{0, 12} {
			if i == 1 && phases.Count() > 1 {
				continue // bolted is enough
			}
			earth := func(side string) string {
				s := rest
				for _, node := range nodesOf(side, phases) {
					s += lie(0, node, r)
				}
				return s
			}
			cases = append(cases,
				handCase{[]fault.Part{breakIn(l1, 0.4, fault.OpenFromEarthed, phases, r)}, earth("p_"), pq},
				handCase{[]fault.Part{breakIn(l1, 0.4, fault.OpenToEarthed, phases, r)}, earth("q_"), pq})
			// The same at the end of the line near E.
			atEnd := func(side string) string {
				s := join("p_", "q_", abc) + join("r_", "l1_1", abc&^phases)
				if side != "" {
					for _, node := range nodesOf(side, phases) {
						s += lie(0, node, r)
					}
				}
				return s
			}
			cases = append(cases,
				handCase{[]fault.Part{breakAt(l1, 1, fault.OpenFromEarthed, phases, r)}, atEnd("r_"), [2]string{"r_", "l1_1"}},
				handCase{[]fault.Part{breakAt(l1, 1, fault.OpenToEarthed, phases, r)}, atEnd("l1_1"), [2]string{"r_", "l1_1"}},
				handCase{[]fault.Part{breakAt(l1, 1, fault.OpenConductor, phases, r)}, atEnd(""), [2]string{"r_", "l1_1"}})
		}
	}
	// An open conductor and a short circuit beyond it, and before it.
	for _, k := range []string{"lg:A", "lg:B", "ll:AB", "ll-g:CA", "3ph"} {
		kind := kind(t, k)
		for i, name := range []string{"a", "e"} {
			cases = append(cases, handCase{
				[]fault.Part{breakIn(l1, 0.4, fault.OpenConductor, quantity.PhaseA, 0), shortPart(fault.AtBus([]int{a, e}[i]), kind, 3)},
				join("p_", "q_", abc&^quantity.PhaseA) + end + short(1, name, kind, 3), pq})
		}
	}
	h.compare(t, cases)
}

// A conductor open at the end of a branch, before a delta-wye transformer: as
// a fuse that has blown, or a line down at the transformer's pole with the
// transformer's side on earth, fed back through the delta from the two
// sound phases. The load is behind the transformer; nothing else at E holds
// phase A to anything.
//
//	source ── A ──── p × q ──── E ─┤Dyn1├─ V ── load in wye
//	          L1                 t_0 × tp
func TestSpiceOpenBeforeDeltaWye(t *testing.T) {
	t.Parallel()
	h := &hand{hz: 50, neutrals: []string{"T 1"},
		ports: []string{"p_a", "p_b", "p_c", "q_a", "q_b", "q_c", "t_0a", "t_0b", "t_0c", "tp_a", "tp_b", "tp_c"}, cards: `
Xs e1 e2 e3 0 emf v={20400/sqrt(3)} deg=-10
Xzs e1 e2 e3 s_0a s_0b s_0c line3 r1=0.3 x1=2.0 r0=0.8 x0=3.5
Xl1 l1_0a l1_0b l1_0c p_a p_b p_c line3 r1={0.7*2.0} x1={0.7*2.8} r0={0.7*3.1} x0={0.7*9.3}
Xl2 q_a q_b q_c l1_1a l1_1b l1_1c line3 r1={0.3*2.0} x1={0.3*2.8} r0={0.3*3.1} x0={0.3*9.3}

* 20 kV to 400 V; 400/sqrt(3) volts of the wye coil for 20 kV of the delta coil
Xt tp_a tp_b tp_c t_1a t_1b t_1c st dy1 k={400/sqrt(3)/20000} r=0.004 x=0.016
Vn_t_1 0 st1 0
Rst st1 st 0.05

Rla yloads_0a 0 0.5
Rlb yloads_0b 0 0.5
Rlc yloads_0c 0 0.5
`}
	do := h.must(t)
	a, e, v := h.AddBus("A", abc, 20e3), h.AddBus("E", abc, 20e3), h.AddBus("V", abc, 400)
	do(h.AddInfeed("S", a, network.InfeedData{Z1: 0.3 + 2i, Z2: 0.3 + 2i, Z0: 0.8 + 3.5i, VLL: 20400, Angle: -10 * degrees}))
	l1 := do(h.AddLine("L1", a, e, abc, network.BalancedMatrix(3, 2+2.8i, 3.1+9.3i), nil))
	x := do(h.AddTransformer("T", e, v, network.TransformerData{Group: group(t, "Dyn1"), VFrom: 20e3, VTo: 400, Z1: 0.004 + 0.016i, Z0: 0.004 + 0.016i,
		To: network.NeutralPoint{Exists: true, Earthed: true, Z: 0.05}}))
	do(h.AddShunt(network.Load, "YLoads", v, abc, network.ConnectedShunt(network.EarthedWye, 3, 2)))

	whole := join("p_", "q_", abc) + join("t_0", "tp_", abc)
	cases := []handCase{{cards: whole}}
	for _, phases := range []quantity.Phases{1, 2, 4, 3, 6, 5} {
		for i, r := range []float64{0, 40} {
			for j, what := range []fault.Break{fault.OpenConductor, fault.OpenFromEarthed, fault.OpenToEarthed} {
				if i == 1 && (phases.Count() > 1 || j == 0) {
					continue // bolted is enough for two; no resistance where none lies on earth
				}
				inLine := join("p_", "q_", abc&^phases) + join("t_0", "tp_", abc)
				atFuse := join("p_", "q_", abc) + join("t_0", "tp_", abc&^phases)
				for _, c := range phases.Conductors() {
					letter := string("abc"[c])
					switch what {
					case fault.OpenFromEarthed:
						inLine += lie(0, "p_"+letter, r)
						atFuse += lie(0, "t_0"+letter, r)
					case fault.OpenToEarthed:
						inLine += lie(0, "q_"+letter, r)
						atFuse += lie(0, "tp_"+letter, r)
					}
				}
				cases = append(cases,
					handCase{[]fault.Part{breakIn(l1, 0.7, what, phases, r)}, inLine, [2]string{"p_", "q_"}},
					handCase{[]fault.Part{breakAt(x, 0, what, phases, r)}, atFuse, [2]string{"t_0", "tp_"}})
			}
		}
		// A fuse blown and a fault behind the transformer.
		for _, k := range []string{"lg:B", "ll:CA", "3ph-g"} {
			cases = append(cases, handCase{[]fault.Part{breakAt(x, 0, fault.OpenConductor, phases, 0), shortPart(fault.AtBus(v), kind(t, k), 0.01)},
				join("p_", "q_", abc) + join("t_0", "tp_", abc&^phases) + short(1, "v", kind(t, k), 0.01), [2]string{"t_0", "tp_"}})
		}
	}
	h.compare(t, cases)
}
