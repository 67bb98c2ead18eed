package fault_test

import (
	"fmt"
	"math"
	"math/cmplx"
	"slices"
	"strings"
	"testing"

	"feederwright/fault"
	"feederwright/network"
	"feederwright/phasor"
	"feederwright/quantity"
)

// The circuits of the files spice_*_test.go are written by hand, card by card,
// as one would draw them; the tests of spice_test.go write theirs from a list of plant.
// Each file is about a subject. A test gives the plant twice: to a Builder and
// as the cards of a netlist, with its numbers typed again.
//
// Names in the cards:
//
//	e_a      conductor A of the bus E
//	l1_0a    behind the meter at terminal 0 of the element L1, conductor A
//
// The meters between the two are added here, one for each conductor of each
// terminal of each element, so that a current no card gives fails the test.
// Faults are cards outside of the plant, where "@" is the name of the case
// and an underscore:
//
//	V@f0_a @e_a @x 0     the meter of part 0 of the case, conductor A

// handTolerance is part of the largest voltage and of the largest current at its
// voltage level. Both programs work with 16 digits; the circuits are small, and
// what is lost to conditioning is well below this.
const handTolerance = 1e-9

// handParts are the building blocks of the cards. Reactances are in ohm; w is
// the angular frequency.
const handParts = `
* An impedance.
.subckt z p q r=1 x=1
R1 p m {r}
L1 m q {x/w}
.ends

* Two ideal coils on one core: v(p2,m2) = k·v(p1,m1); the ampere-turns balance.
.subckt coils p1 m1 p2 m2 k=1
E1 q m2 p1 m1 {k}
V1 p2 q 0
F1 p1 m1 V1 {-k}
.ends

* A voltage source per phase, to one star point.
.subckt emf a b c s v=1 deg=0
Va a s dc 0 ac {v} {deg}
Vb b s dc 0 ac {v} {deg-120}
Vc c s dc 0 ac {v} {deg+120}
.ends

* Three transposed conductors: each with Z1, and the sum of their currents through
* (Z0-Z1)/3 gives the voltage that all have in series.
.subckt line3 a b c a2 b2 c2 r1=1 x1=1 r0=1 x0=1
Va a a3 0
Vb b b3 0
Vc c c3 0
Xa a3 a4 z r={r1} x={x1}
Xb b3 b4 z r={r1} x={x1}
Xc c3 c4 z r={r1} x={x1}
Ea a4 a2 g 0 1
Eb b4 b2 g 0 1
Ec c4 c2 g 0 1
Fa 0 g Va 1
Fb 0 g Vb 1
Fc 0 g Vc 1
Xg g 0 z r={(r0-r1)/3} x={(x0-x1)/3}
.ends

* Capacitors of a transposed line's end: b1 between conductors and earth as
* the positive sequence sees them, b0 as the zero sequence does, in siemens.
.subckt charge3 a b c b1=1 b0=1
Ca a 0 {b0/w}
Cb b 0 {b0/w}
Cc c 0 {b0/w}
Cab a b {(b1-b0)/3/w}
Cbc b c {(b1-b0)/3/w}
Cca c a {(b1-b0)/3/w}
.ends

* Delta-wye, the wye lagging by 30 degrees: the coil of phase a is on the limb of
* the delta coil between A and C. k = wye coil's volts per delta coil's. Leakage in
* the wye, before its star point.
.subckt dy1 A1 B1 C1 a2 b2 c2 s k=1 r=1 x=1
Xa A1 C1 ai s coils k={k}
Xb B1 A1 bi s coils k={k}
Xc C1 B1 ci s coils k={k}
Xza ai a2 z r={r} x={x}
Xzb bi b2 z r={r} x={x}
Xzc ci c2 z r={r} x={x}
.ends
`

// A handCase is what is wrong, in both forms.
type handCase struct {
	parts []fault.Part // none: the state before the fault
	cards string
	sides [2]string // of a place within a line or of a break: nodes @p_a… and @q_a… of its first part
}

// A hand is a circuit in both forms.
type hand struct {
	network.Builder
	hz       float64
	cards    string   // of the plant
	ports    []string // nodes of the plant, besides those of buses, that the cards of cases use
	neutrals []string // metered in the cards from earth: "T 1" for terminal 1 of T, as Vn_t_1
}

// must takes what a method of a Builder returns.
func (h *hand) must(t *testing.T) func(int, error) int {
	return func(i int, err error) int {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return i
	}
}

// nodesOf names the nodes of conductors: with p_, p_a p_b p_c.
func nodesOf(p string, phases quantity.Phases) (list []string) {
	for _, c := range phases.Conductors() {
		list = append(list, fmt.Sprintf("%s%c", p, "abcn"[c]))
	}
	return list
}

// join writes the cards that leave some conductors whole between the nodes that
// begin with p and with q.
func join(p, q string, phases quantity.Phases) string {
	var s strings.Builder
	for _, c := range phases.Conductors() {
		fmt.Fprintf(&s, "V@%[1]s%[2]s%[3]c @%[1]s%[3]c @%[2]s%[3]c 0\n", p, q, "abcn"[c])
	}
	return s.String()
}

// short writes the cards of a short circuit, r ohm, as part number part of a
// case; at names the nodes, as e for e_a e_b e_c.
func short(part int, at string, k fault.Kind, r float64) string {
	var s strings.Builder
	common := fmt.Sprintf("@f%d_common", part)
	letters := ""
	for _, c := range k.Phases.Conductors() {
		letters += string("abcn"[c])
	}
	leg := func(i int, to string, ohm float64) { // meter and resistance from a conductor
		fmt.Fprintf(&s, "V@f%d_%c @%s_%c @f%d_%c 0\n", part, letters[i], at, letters[i], part, letters[i])
		link(&s, fmt.Sprintf("@f%d%c", part, letters[i]), fmt.Sprintf("@f%d_%c", part, letters[i]), to, ohm)
	}
	switch k.Type {
	case fault.LineLine:
		leg(0, common, r)
		leg(1, common, 0)
	case fault.LineLineEarth:
		leg(0, common, 0)
		leg(1, common, 0)
		link(&s, fmt.Sprintf("@f%d", part), common, "0", r)
	case fault.ThreePhase:
		for i := range letters {
			leg(i, common, r)
		}
	default:
		for i := range letters {
			leg(i, "0", r)
		}
	}
	return s.String()
}

func link(s *strings.Builder, name, from, to string, r float64) {
	if r == 0 {
		fmt.Fprintf(s, "Vl%s %s %s 0\n", name, from, to)
		return
	}
	fmt.Fprintf(s, "R%s %s %s %.17g\n", name, from, to, r)
}

// lie is a part of a break that lies on earth over r ohm: its card, with its meter.
func lie(part int, node string, r float64) string {
	var s strings.Builder
	c := node[len(node)-1]
	fmt.Fprintf(&s, "V@f%d_%c @%s @f%d_%c 0\n", part, c, node, part, c)
	link(&s, fmt.Sprintf("@f%d%c", part, c), fmt.Sprintf("@f%d_%c", part, c), "0", r)
	return s.String()
}

// at is a short circuit at a bus, with its cards.
func (h *hand) at(bus int, name string, k fault.Kind, r float64) handCase {
	return handCase{parts: []fault.Part{shortPart(fault.AtBus(bus), k, r)}, cards: short(0, strings.ToLower(name), k, r)}
}

// everyFault makes a case of each fault that exists at each bus named, bolted
// and with r in turn.
func (h *hand) everyFault(r float64, buses map[string]int, extra string, among quantity.Phases) []handCase {
	var list []handCase
	for _, name := range sortedNames(buses) {
		for i, k := range fault.All(among) {
			x := h.at(buses[name], name, k, r*float64(i%2))
			x.cards += extra
			list = append(list, x)
		}
	}
	return list
}

// aFewFaults is everyFault with one kind of each type but the three-phase one
// without earth, on different phases: enough to tell a wrong connection.
func (h *hand) aFewFaults(t *testing.T, r float64, buses map[string]int, extra string) []handCase {
	var list []handCase
	for i, name := range sortedNames(buses) {
		for j, text := range []string{"lg:A", "ll:BC", "ll-g:AC", "3ph-g", "lg:C"} {
			x := h.at(buses[name], name, kind(t, text), r*float64((i+j)%2))
			x.cards += extra
			list = append(list, x)
		}
	}
	return list
}

func sortedNames(m map[string]int) []string {
	var names []string
	for n := range m {
		names = append(names, n)
	}
	slices.Sort(names)
	return names
}

func shortPart(p fault.Place, k fault.Kind, r float64) fault.Part {
	return fault.Part{Place: p, Kind: k, Resistance: r, Element: -1, Terminal: -1}
}

// breakIn is open conductors within a line.
func breakIn(line int, x float64, what fault.Break, phases quantity.Phases, r float64) fault.Part {
	return fault.Part{Place: fault.OnLine(line, x), Kind: fault.Kind{Phases: phases}, Break: what, Resistance: r, Element: -1, Terminal: -1}
}

// breakAt is open conductors at an end of a branch.
func breakAt(element, terminal int, what fault.Break, phases quantity.Phases, r float64) fault.Part {
	return fault.Part{Place: fault.Place{Line: -1}, Kind: fault.Kind{Phases: phases}, Break: what, Resistance: r, Element: element, Terminal: terminal}
}

// netlist writes the plant as a subcircuit and each case as an instance of it.
func (h *hand) netlist(n *network.Network, cases []handCase) *circuit {
	c := &circuit{omega: 2 * math.Pi * h.hz}
	c.card(".param w=%.17g\n%s", c.omega, handParts)
	var ports []string
	for _, b := range n.Buses {
		ports = append(ports, nodesOf(strings.ToLower(b.Name)+"_", b.Phases)...)
	}
	ports = append(ports, h.ports...)
	c.card(".subckt plant %s", strings.Join(ports, " "))
	for i := range n.Elements {
		e := &n.Elements[i]
		for k, at := range e.Terminals {
			for _, x := range at.Phases.Conductors() {
				c.card("Vi_%[1]s_%[2]d%[3]c %[4]s_%[3]c %[1]s_%[2]d%[3]c 0", strings.ToLower(e.Name), k, "abcn"[x], strings.ToLower(n.Buses[at.Bus].Name))
			}
		}
	}
	c.card("%s\n.ends", h.cards)
	for i, x := range cases {
		c.card("Xk%d k%d_%s plant", i, i, strings.Join(ports, fmt.Sprintf(" k%d_", i)))
		c.card("%s", strings.ReplaceAll(x.cards, "@", fmt.Sprintf("k%d_", i)))
	}
	return c
}

// compare solves all cases in both programs and compares all voltages, and
// the currents into all elements, in neutrals, in the faults and at breaks.
// A single short circuit is computed in both of our ways.
func (h *hand) compare(t *testing.T, cases []handCase) {
	t.Helper()
	n, err := h.Build()
	if err != nil {
		t.Fatal(err)
	}
	s, err := fault.NewSolver(n)
	if err != nil {
		t.Fatal(err)
	}
	type vantage struct {
		what, name string // the circuit's name for it, less the case and the conductor
		bus        int
		phases     quantity.Phases
		neutral    bool
		index      int
		probe      *network.Probe
	}
	var vantages []vantage
	for i := range n.Elements {
		for k, at := range n.Elements[i].Terminals {
			probe := n.AtTerminal(i, k)
			v := vantage{what: fmt.Sprintf("current into %s at %s", n.Elements[i].Name, n.Buses[at.Bus].Name),
				name: fmt.Sprintf("vi_%s_%d", strings.ToLower(n.Elements[i].Name), k), bus: at.Bus, phases: at.Phases, probe: &probe}
			if !v.probe.Carries() {
				t.Fatalf("%s carries nothing", v.what)
			}
			v.index = s.WatchCurrent(v.probe)
			vantages = append(vantages, v)
			if name := fmt.Sprintf("%s %d", n.Elements[i].Name, k); slices.Contains(h.neutrals, name) {
				inNeutral := n.InNeutral(i, k)
				v = vantage{what: "current in the neutral of " + name, name: strings.ToLower("vn_" + strings.ReplaceAll(name, " ", "_")), bus: at.Bus, phases: at.Phases, neutral: true, probe: &inNeutral}
				v.index = s.WatchCurrent(v.probe)
				vantages = append(vantages, v)
			}
		}
	}
	voltages := make([]int, len(n.Buses))
	for b := range n.Buses {
		voltages[b] = s.WatchVoltage(b)
	}
	want := runSpice(t, h.netlist(n, cases))
	// The largest current at its level in a case, in VA; where nothing flows, in any case.
	power, most := make([]float64, len(cases)), 0.0
	for name, x := range want {
		var k int
		for _, v := range vantages {
			for _, c := range v.phases.Conductors() {
				if _, err := fmt.Sscanf(name, "i(v.xk%d."+v.name+string("abcn"[c])+")", &k); err == nil {
					power[k] = max(power[k], cmplx.Abs(x)*n.Buses[v.bus].Nominal)
					most = max(most, power[k])
				}
			}
		}
	}
	compared, worst := 0, 0.0
	for i, x := range cases {
		title := fmt.Sprintf("case %d", i)
		for k, p := range x.parts {
			title += []string{", ", " and "}[min(k, 1)] + fmt.Sprintf("%s, %.3g ohm", p, p.Resistance)
		}
		type pair struct {
			what      string
			got, want complex128
			unit      string
			volts     float64 // nominal voltage there
		}
		var pairs []pair
		add := func(what, name string, got complex128, bus int) {
			t.Helper()
			w, ok := want[name]
			if !ok {
				t.Fatalf("%s: the circuit has no %s", title, name)
			}
			pairs = append(pairs, pair{what, got, w, map[byte]string{'v': "V", 'i': "A"}[name[0]], n.Buses[bus].Nominal})
		}
		take := func(way string, state []complex128, current, voltage [][4]complex128) {
			for b := range n.Buses {
				for _, c := range n.Fed[b].Conductors() {
					add(fmt.Sprintf("%s: voltage %s.%c", way, n.Buses[b].Name, "ABCN"[c]), fmt.Sprintf("v(k%d_%s_%c)", i, strings.ToLower(n.Buses[b].Name), "abcn"[c]), state[n.Unknown(b, c)], b)
					if voltage != nil {
						add(fmt.Sprintf("%s: watched voltage %s.%c", way, n.Buses[b].Name, "ABCN"[c]), fmt.Sprintf("v(k%d_%s_%c)", i, strings.ToLower(n.Buses[b].Name), "abcn"[c]), voltage[voltages[b]][c], b)
					}
				}
			}
			for _, v := range vantages {
				sum := complex128(0)
				for _, c := range v.phases.Conductors() {
					sum += current[v.index][c]
					if !v.neutral {
						add(fmt.Sprintf("%s: %s.%c", way, v.what, "ABCN"[c]), fmt.Sprintf("i(v.xk%d.%s%c)", i, v.name, "abcn"[c]), current[v.index][c], v.bus)
					}
				}
				if v.neutral {
					add(way+": "+v.what, fmt.Sprintf("i(v.xk%d.%s)", i, v.name), sum, v.bus)
				}
			}
		}
		if len(x.parts) == 0 {
			current := make([][4]complex128, len(vantages))
			for _, v := range vantages {
				for _, c := range v.phases.Conductors() {
					current[v.index][c] = n.Current(v.probe, c, s.Prefault())
				}
			}
			take("before the fault", s.Prefault(), current, nil)
		} else {
			out, err := s.Compound(x.parts)
			if err != nil {
				t.Errorf("%s: %v", title, err)
				continue
			}
			take("compound", out.State, out.Current, out.Voltage)
			place := func(p fault.Part) (bus int, phases quantity.Phases) {
				switch {
				case p.Break != fault.NoBreak && p.Terminal >= 0:
					at := n.Elements[p.Element].Terminals[p.Terminal]
					return at.Bus, at.Phases
				case p.Place.Line >= 0:
					at := n.Elements[p.Place.Line].Terminals[0]
					return at.Bus, at.Phases
				}
				return p.Place.Bus, n.Fed[p.Place.Bus]
			}
			for k, p := range out.Parts {
				bus, phases := place(p.Part)
				if p.Break != fault.OpenConductor {
					for _, c := range p.Kind.Phases.Conductors() {
						add(fmt.Sprintf("compound: current of part %d in %c", k, "ABCN"[c]), fmt.Sprintf("i(vk%d_f%d_%c)", i, k, "abcn"[c]), p.I[c], bus)
					}
				}
				if k > 0 || x.sides[0] == "" {
					continue
				}
				for _, c := range phases.Conductors() {
					first := fmt.Sprintf("v(k%d_%s%c)", i, x.sides[0], "abcn"[c])
					add(fmt.Sprintf("compound: voltage at the place %c", "ABCN"[c]), first, p.V[c], bus)
					if p.Break == fault.NoBreak {
						continue
					}
					second := fmt.Sprintf("v(k%d_%s%c)", i, x.sides[1], "abcn"[c])
					add(fmt.Sprintf("compound: voltage beyond the break %c", "ABCN"[c]), second, p.Beyond[c], bus)
					pairs = append(pairs, pair{fmt.Sprintf("compound: voltage across the break %c", "ABCN"[c]), p.Across[c], want[first] - want[second], "V", n.Buses[bus].Nominal})
				}
			}
			if len(x.parts) == 1 && x.parts[0].Break == fault.NoBreak {
				p := x.parts[0]
				res, err := s.Fault(p.Place, p.Kind, p.Resistance)
				if err != nil {
					t.Errorf("%s: %v", title, err)
					continue
				}
				state, _ := s.State(res)
				take("single", state, res.Current, res.Voltage)
				bus, phases := place(p)
				for _, c := range p.Kind.Phases.Conductors() {
					add(fmt.Sprintf("single: fault current %c", "ABCN"[c]), fmt.Sprintf("i(vk%d_f0_%c)", i, "abcn"[c]), res.I[c], bus)
				}
				if x.sides[0] != "" {
					for _, c := range phases.Conductors() {
						add(fmt.Sprintf("single: voltage at the place %c", "ABCN"[c]), fmt.Sprintf("v(k%d_%s%c)", i, x.sides[0], "abcn"[c]), res.V[c], bus)
					}
				}
			}
		}
		if power[i] < 1e-9*most {
			power[i] = most
		}
		for _, p := range pairs {
			full := p.volts
			if p.unit == "A" {
				full = power[i] / p.volts
			}
			compared++
			off := cmplx.Abs(p.got-p.want) / full
			worst = max(worst, off)
			if !(off <= handTolerance) {
				t.Errorf("%s: %s = %.9g ∠ %.6f° %s, ngspice has %.9g ∠ %.6f° %s: %.2g of %.4g (derived: ngspice, circuit by hand)", title, p.what,
					cmplx.Abs(p.got), phasor.Degrees(p.got), p.unit, cmplx.Abs(p.want), phasor.Degrees(p.want), p.unit, off, full)
			}
		}
	}
	if compared == 0 {
		t.Fatal("nothing was compared")
	}
	t.Logf("%d phasors compared, the worst %.1g of full scale off", compared, worst)
}

// degrees makes radians of degrees.
const degrees = math.Pi / 180
