// Package network turns plant into a nodal admittance model in phases.
//
// Every bus has one to four conductors (A B C, and N where it is explicit).
// Plant is stamped as it is: single-phase sections, vector groups, any
// earthing. Symmetrical components are views of results, not a second model.
//
// The model is linear and in the frequency domain: r.m.s. phasors at system
// frequency, SI units (V line-to-earth, A, ohm, S). Currents count positive
// from the network into an element.
//
// Closed ideal switches merge buses into one node; a Probe brings their
// currents back by Kirchhoff's law. Parts without a source are left out and
// named. A part without a path to earth has no defined voltage to earth: see
// Floating for the convention.
package network

import (
	"fmt"
	"math"
	"math/cmplx"
	"sort"

	"feederwright/phasor"
	"feederwright/quantity"
	"feederwright/sparse"
)

// A Bus is a place where plant is connected.
type Bus struct {
	Name    string
	Phases  quantity.Phases
	Nominal float64 // V, line-to-line
	// LineEnd is the line or transformer that this bus is an inner terminal
	// of, between the plant and the devices at its end; "" for a bus of the study.
	LineEnd string
	// Half: phases A and B are the legs of a centre-tapped service, N is its
	// middle: the voltage from a leg to it is half of the nominal one.
	Half bool
}

// PhaseVoltage is the nominal voltage from a phase to the neutral, V.
func (b *Bus) PhaseVoltage() float64 {
	if b.Half {
		return b.Nominal / 2
	}
	return b.Nominal / math.Sqrt(3)
}

// A Kind says what an Element is, in the words of the study file.
type Kind string

const (
	Line                Kind = "line"
	Transformer         Kind = "transformer"
	Infeed              Kind = "infeed"
	EarthingTransformer Kind = "earthing transformer"
	Capacitor           Kind = "capacitor"
	Load                Kind = "load"
	Earthing            Kind = "earthing" // of a neutral conductor
)

// A Terminal is one end of an Element: a bus and the conductors used there.
type Terminal struct {
	Bus    int
	Phases quantity.Phases
}

// An Element is one piece of plant as an admittance between its terminals.
type Element struct {
	Name      string
	Kind      Kind
	Terminals []Terminal
	// Y is the admittance matrix, row-major, over the conductors of all
	// terminals in order: current into the element = Y·V − Inject.
	Y []complex128
	// Inject is the current of the equivalent source into the network, or nil.
	Inject []complex128
	// Series is the series impedance matrix of a Line, ohm, over its
	// conductors; places along the line divide it. Nil for other kinds.
	Series []complex128
	// Control is how an Inverter answers to the voltage; nil for other kinds.
	Control *InverterData
	// Solid is true where this joins a conductor N to earth without impedance;
	// its current is then not Y·V: see AddNeutralEarthing.
	Solid bool
	// Demand is what a load or running machine takes beside Y·V, where that is
	// no linear function of the voltage; see the load flow. Nil for other kinds.
	Demand *Demand

	ties  []tie
	feeds [][2]int // rows of which one feeds the other; nil: all feed each other
	// Of a machine that follows the network: its positive-sequence admittance,
	// and its matrix with that left out.
	y1      complex128
	passive []complex128
	holds   bool // a machine that holds an island, as an infeed does
}

// source tells whether the element feeds by itself.
func (e *Element) source() bool { return e.Kind == Infeed || e.holds }

// offset returns the first row of a terminal.
func (e *Element) offset(terminal int) int {
	n := 0
	for _, t := range e.Terminals[:terminal] {
		n += t.Phases.Count()
	}
	return n
}

// A tie tells how an element connects conductors galvanically, for the search
// of parts that float: v[a] = weight·v[b] carries no current. b < 0 is earth.
type tie struct {
	a, b   int // rows of Y
	weight float64
}

// A Switch joins two buses when closed; it has no impedance.
type Switch struct {
	Name   string
	Kind   string // "switch", "breaker", "recloser", "fuse"
	From   int    // bus
	To     int    // bus
	Closed bool
}

// A Builder collects plant and makes a Network of it.
type Builder struct {
	Rotation phasor.Rotation
	buses    []Bus
	elements []Element
	switches []Switch
}

// AddBus adds a bus and returns its number.
func (b *Builder) AddBus(name string, phases quantity.Phases, nominal float64) int {
	b.buses = append(b.buses, Bus{Name: name, Phases: phases, Nominal: nominal})
	return len(b.buses) - 1
}

// AddLineEnd adds an inner terminal of a branch: a bus between the plant and
// the devices that stand at its end.
func (b *Builder) AddLineEnd(branch string, phases quantity.Phases, nominal float64, name string) int {
	b.buses = append(b.buses, Bus{Name: name, Phases: phases, Nominal: nominal, LineEnd: branch})
	return len(b.buses) - 1
}

// AddSwitch adds an ideal switch between two buses and returns its number. It
// carries the conductors that both buses have.
func (b *Builder) AddSwitch(kind, name string, from, to int, closed bool) int {
	b.switches = append(b.switches, Switch{Name: name, Kind: kind, From: from, To: to, Closed: closed})
	return len(b.switches) - 1
}

func (b *Builder) add(e Element) int {
	b.elements = append(b.elements, e)
	return len(b.elements) - 1
}

// A Floating is a part without a path to earth: galvanically joined
// conductors, and those joined to them by unearthed zero-sequence paths. Its
// phase-to-earth voltages are defined only up to a common shift. Convention:
// the mean of the phase-to-earth voltages is zero at the bus Reference. It is
// met by an admittance from that bus's star point to earth, which carries no
// current because there is no way back, so that the rest of the solution is
// exact whatever its size.
type Floating struct {
	Reference int   // bus
	Buses     []int // all buses of the part
}

// A Network is the nodal model of one condition.
type Network struct {
	Rotation phasor.Rotation
	Buses    []Bus
	Elements []Element
	Switches []Switch

	// Node is the node of each bus, or −1 where the bus has no source.
	Node []int
	// Fed are the conductors of each bus that a source feeds, and the neutral beside them.
	Fed []quantity.Phases
	// Dead are groups of connected buses without a source, in bus order.
	Dead [][]int
	// Floating are the parts without a path to earth.
	Floating []Floating

	nodePhases []quantity.Phases // conductors of each node
	nodeBuses  [][]int
	offset     []int // first unknown of each node
	dim        int

	Analysis *sparse.Analysis
	Matrix   *sparse.Matrix
	// Source is the right-hand side of the state before the fault, A.
	Source []complex128

	group  []int     // floating part of each unknown, or −1
	weight []float64 // its entry in the part's null vector

	solid []bool // unknowns earthed solidly

	elementsAt [][]int // live elements by bus
	switchesAt [][]int // closed switches by bus
}

// Dim is the number of unknowns.
func (n *Network) Dim() int { return n.dim }

// Unknown returns the index of a conductor's voltage at a bus, or −1 where the
// bus has no source or no such conductor.
func (n *Network) Unknown(bus, conductor int) int {
	node := n.Node[bus]
	if node < 0 {
		return -1
	}
	p := n.nodePhases[node]
	if !p.HasConductor(conductor) {
		return -1
	}
	return n.offset[node] + position(p, conductor)
}

// Nodes is the number of nodes.
func (n *Network) Nodes() int { return len(n.nodePhases) }

// NodePhases returns the conductors of a node.
func (n *Network) NodePhases(node int) quantity.Phases { return n.nodePhases[node] }

// NodeBuses returns the buses that a node joins, in order.
func (n *Network) NodeBuses(node int) []int { return n.nodeBuses[node] }

// FloatingOf returns the floating part that an unknown belongs to and its
// weight in the part's null vector, or −1 for one that has a path to earth.
func (n *Network) FloatingOf(unknown int) (part int, weight float64) {
	return n.group[unknown], n.weight[unknown]
}

// BusByName returns the number of a bus, or −1.
func (n *Network) BusByName(name string) int {
	for i, b := range n.Buses {
		if b.Name == name {
			return i
		}
	}
	return -1
}

// ElementByName returns the number of an element, or −1. Names are unique
// within a kind; lines and transformers share one name space.
func (n *Network) ElementByName(kind Kind, name string) int {
	for i := range n.Elements {
		if n.Elements[i].Name == name && n.Elements[i].Kind == kind {
			return i
		}
	}
	return -1
}

// BranchByName returns the number of the branch of that name, or −1.
func (n *Network) BranchByName(name string) int {
	for _, kind := range []Kind{Line, Transformer, ThreeWindingTransformer, Bank, Regulator, Reactor} {
		if i := n.ElementByName(kind, name); i >= 0 {
			return i
		}
	}
	return -1
}

// Live tells whether all of an element's terminals are energised.
func (n *Network) Live(element int) bool {
	for _, t := range n.Elements[element].Terminals {
		if n.Node[t.Bus] < 0 {
			return false
		}
	}
	return true
}

func position(p quantity.Phases, conductor int) int {
	k := 0
	for c := 0; c < conductor; c++ {
		if p.HasConductor(c) {
			k++
		}
	}
	return k
}

// Build merges buses over closed switches, leaves out what has no source,
// finds the parts that float and assembles the matrix.
func (b *Builder) Build() (*Network, error) {
	n := &Network{Rotation: b.Rotation, Buses: b.buses, Elements: b.elements, Switches: b.switches}
	for _, bus := range n.Buses {
		if bus.Phases.Count() == 0 {
			return nil, fmt.Errorf("bus %s has no conductors", bus.Name)
		}
	}

	// Conductors are numbered 4·bus + conductor. Electrically joined conductors
	// are fed by the same sources; closed switches also make one node of them.
	fed := newSets(4 * len(n.Buses))
	nodes := newSets(len(n.Buses))
	for _, s := range n.Switches {
		if !s.Closed {
			continue
		}
		nodes.join(s.From, s.To)
		for c := 0; c < 4; c++ {
			if n.Buses[s.From].Phases.HasConductor(c) && n.Buses[s.To].Phases.HasConductor(c) {
				fed.join(4*s.From+c, 4*s.To+c)
			}
		}
	}
	if err := n.checkJoined(nodes, fed); err != nil {
		return nil, err
	}
	var sources []int
	for i := range n.Elements {
		e := &n.Elements[i]
		rows := rowConductors(e)
		for _, r := range rows {
			bus, c := r/4, r%4
			if !n.Buses[bus].Phases.HasConductor(c) {
				return nil, fmt.Errorf("%s %s uses phase %c, which bus %s does not have", e.Kind, e.Name, "ABCN"[c], n.Buses[bus].Name)
			}
		}
		switch e.Kind {
		case Line:
			h := len(rows) / 2
			for k := 0; k < h; k++ {
				fed.join(rows[k], rows[h+k])
			}
		case Capacitor, Load, Inverter, Earthing:
			// A shunt doesn't feed; but a delta or wye one joins its phases, which matters only within a fed bus.
		default:
			if e.feeds != nil {
				for _, f := range e.feeds {
					fed.join(rows[f[0]], rows[f[1]])
				}
				break
			}
			for _, r := range rows[1:] {
				fed.join(rows[0], r)
			}
		}
		if e.source() {
			sources = append(sources, rows[0])
		}
	}
	live := make(map[int]bool)
	for _, r := range sources {
		live[fed.root(r)] = true
	}
	// An earthed neutral belongs to the circuit that it stands beside: earth is
	// its way back to the source.
	for i := range n.Elements {
		e := &n.Elements[i]
		if e.Kind != Earthing || e.Terminals[0].Phases != quantity.PhaseN {
			continue
		}
		bus := e.Terminals[0].Bus
		for _, c := range (n.Buses[bus].Phases & abc).Conductors() {
			if live[fed.root(4*bus+c)] {
				live[fed.root(4*bus+neutral)] = true
			}
		}
	}
	n.Fed = make([]quantity.Phases, len(n.Buses))
	for i, bus := range n.Buses {
		for c := 0; c < 4; c++ {
			if bus.Phases.HasConductor(c) && live[fed.root(4*i+c)] {
				n.Fed[i] |= 1 << c
			}
		}
		if n.Fed[i] != 0 {
			// No source feeds a neutral that only earth and the plant beside it hold, but its voltage is determined as theirs are.
			n.Fed[i] |= bus.Phases & quantity.PhaseN
		}
	}
	n.number(nodes)
	n.findDead()
	n.findSolid()
	n.findFloating()
	if err := n.assemble(); err != nil {
		return nil, err
	}
	if err := n.follow(); err != nil {
		return nil, err
	}
	return n, nil
}

// checkJoined refuses buses that closed switches join as a whole but a
// conductor of which they don't join: a node has each conductor once.
// conductors holds what closed switches join, by 4·bus + conductor.
func (n *Network) checkJoined(nodes, conductors sets) error {
	first := make(map[int]int) // 4·node + conductor → the first bus with it
	for i, bus := range n.Buses {
		for _, c := range bus.Phases.Conductors() {
			key := 4*nodes.root(i) + c
			k, ok := first[key]
			if !ok {
				first[key] = i
			} else if conductors.root(4*k+c) != conductors.root(4*i+c) {
				return fmt.Errorf("buses %s and %s both have phase %c, and the closed switches between them lead only over buses without it: give those buses the phase, or put a line there", n.Buses[k].Name, bus.Name, "ABCN"[c])
			}
		}
	}
	return nil
}

// rowConductors lists 4·bus + conductor for each row of an element's Y.
func rowConductors(e *Element) []int {
	var rows []int
	for _, t := range e.Terminals {
		for c := 0; c < 4; c++ {
			if t.Phases.HasConductor(c) {
				rows = append(rows, 4*t.Bus+c)
			}
		}
	}
	return rows
}

// number makes nodes of the merged buses that have a fed conductor.
func (n *Network) number(nodes sets) {
	n.Node = make([]int, len(n.Buses))
	alive := make(map[int]bool)
	for i := range n.Buses {
		if n.Fed[i] != 0 {
			alive[nodes.root(i)] = true
		}
	}
	index := make(map[int]int)
	for i, bus := range n.Buses {
		r := nodes.root(i)
		if !alive[r] {
			n.Node[i] = -1
			continue
		}
		k, ok := index[r]
		if !ok {
			k = len(n.nodePhases)
			index[r] = k
			n.nodePhases = append(n.nodePhases, 0)
			n.nodeBuses = append(n.nodeBuses, nil)
		}
		n.Node[i] = k
		n.nodePhases[k] |= bus.Phases
		n.nodeBuses[k] = append(n.nodeBuses[k], i)
	}
	n.offset = make([]int, len(n.nodePhases))
	for k, p := range n.nodePhases {
		n.offset[k] = n.dim
		n.dim += p.Count()
	}
	n.elementsAt = make([][]int, len(n.Buses))
	n.switchesAt = make([][]int, len(n.Buses))
	for i := range n.Elements {
		if !n.Live(i) {
			continue
		}
		for _, t := range n.Elements[i].Terminals {
			n.elementsAt[t.Bus] = append(n.elementsAt[t.Bus], i)
		}
	}
	for i, s := range n.Switches {
		if s.Closed {
			n.switchesAt[s.From] = append(n.switchesAt[s.From], i)
			n.switchesAt[s.To] = append(n.switchesAt[s.To], i)
		}
	}
}

// findDead groups the buses without a source by what still connects them.
func (n *Network) findDead() {
	s := newSets(len(n.Buses))
	for i := range n.Elements {
		t := n.Elements[i].Terminals
		for _, u := range t[1:] {
			if n.Node[t[0].Bus] < 0 && n.Node[u.Bus] < 0 {
				s.join(t[0].Bus, u.Bus)
			}
		}
	}
	for _, w := range n.Switches {
		if w.Closed {
			s.join(w.From, w.To)
		}
	}
	index := make(map[int]int)
	for i := range n.Buses {
		if n.Node[i] >= 0 {
			continue
		}
		r := s.root(i)
		k, ok := index[r]
		if !ok {
			k = len(n.Dead)
			index[r] = k
			n.Dead = append(n.Dead, nil)
		}
		n.Dead[k] = append(n.Dead[k], i)
	}
}

// findFloating finds null vectors from the galvanic structure: conductors
// joined by ties with a weight; a group that no tie leads to earth from, and
// whose weights agree round every loop, floats.
func (n *Network) findFloating() {
	w := newWeighted(n.dim)
	for i := range n.Elements {
		if !n.Live(i) {
			continue
		}
		e := &n.Elements[i]
		rows := rowConductors(e)
		for _, t := range e.ties {
			a := n.Unknown(rows[t.a]/4, rows[t.a]%4)
			if t.b < 0 {
				w.earth(a)
				continue
			}
			w.join(a, n.Unknown(rows[t.b]/4, rows[t.b]%4), t.weight)
		}
	}
	n.group = make([]int, n.dim)
	n.weight = make([]float64, n.dim)
	index := make(map[int]int)
	best := []int{} // number of the group's conductors at the reference
	for bus := range n.Buses {
		if n.Node[bus] < 0 {
			continue
		}
		count := make(map[int]int)
		for c := 0; c < 4; c++ {
			u := n.Unknown(bus, c)
			if u < 0 || !n.Buses[bus].Phases.HasConductor(c) {
				continue
			}
			root, weight := w.find(u)
			n.group[u] = -1
			if w.earthed[root] {
				continue
			}
			k, ok := index[root]
			if !ok {
				k = len(n.Floating)
				index[root] = k
				n.Floating = append(n.Floating, Floating{Reference: bus})
				best = append(best, 0)
			}
			n.group[u], n.weight[u] = k, weight
			count[k]++
		}
		for k, m := range count {
			n.Floating[k].Buses = append(n.Floating[k].Buses, bus)
			if m > best[k] {
				best[k] = m
				n.Floating[k].Reference = bus
			}
		}
	}
	// Weights are relative to the group's root; make the reference bus's one.
	for k, f := range n.Floating {
		scale := 0.0
		for c := 0; c < 4 && scale == 0; c++ {
			if u := n.Unknown(f.Reference, c); u >= 0 && n.group[u] == k {
				scale = n.weight[u]
			}
		}
		for u := range n.group {
			if n.group[u] == k {
				n.weight[u] /= scale
			}
		}
	}
}

// assemble stamps the live elements and the reference ties.
func (n *Network) assemble() error {
	size := make([]int, len(n.nodePhases))
	for k, p := range n.nodePhases {
		size[k] = p.Count()
	}
	var edges [][2]int32
	for i := range n.Elements {
		if !n.Live(i) {
			continue
		}
		t := n.Elements[i].Terminals
		for a := range t {
			for b := 0; b < a; b++ {
				if x, y := n.Node[t[a].Bus], n.Node[t[b].Bus]; x != y {
					edges = append(edges, [2]int32{int32(x), int32(y)})
				}
			}
		}
	}
	analysis, err := sparse.Analyse(size, edges)
	if err != nil {
		return err
	}
	n.Analysis, n.Matrix = analysis, analysis.NewMatrix()
	n.Source = make([]complex128, n.dim)
	for i := range n.Elements {
		if n.Live(i) {
			n.stamp(&n.Elements[i])
		}
	}
	for i := range n.Elements {
		// The equation of a solidly earthed conductor is V = 0, scaled as its neighbours are.
		if e := &n.Elements[i]; e.Solid && n.Live(i) && n.entry(e.Terminals[0].Bus, neutral, e.Terminals[0].Bus, neutral) == 0 {
			n.addEntry(e.Terminals[0].Bus, neutral, e.Terminals[0].Bus, neutral, 1)
		}
	}
	for k, f := range n.Floating {
		var at []int
		norm, diagonal := 0.0, 0.0
		for c := 0; c < 4; c++ {
			u := n.Unknown(f.Reference, c)
			if u >= 0 && n.group[u] == k {
				at = append(at, c)
				norm += n.weight[u] * n.weight[u]
				diagonal = math.Max(diagonal, cmplx.Abs(n.entry(f.Reference, c, f.Reference, c)))
			}
		}
		if diagonal == 0 {
			diagonal = 1 // a conductor with nothing connected: any admittance gives zero volts
		}
		for _, c := range at {
			for _, d := range at {
				wc, wd := n.weight[n.Unknown(f.Reference, c)], n.weight[n.Unknown(f.Reference, d)]
				n.addEntry(f.Reference, c, f.Reference, d, complex(diagonal*wc*wd/norm, 0))
			}
		}
	}
	return nil
}

func (n *Network) addEntry(busI, c, busJ, d int, y complex128) {
	i, j := n.Node[busI], n.Node[busJ]
	n.Matrix.AddAt(i, position(n.nodePhases[i], c), j, position(n.nodePhases[j], d), y)
}

func (n *Network) entry(busI, c, busJ, d int) complex128 {
	i, j := n.Node[busI], n.Node[busJ]
	return n.Matrix.At(i, position(n.nodePhases[i], c), j, position(n.nodePhases[j], d))
}

func (n *Network) stamp(e *Element) {
	rows := rowConductors(e)
	m := len(rows)
	for r, a := range rows {
		for c, b := range rows {
			i, j := n.Unknown(a/4, a%4), n.Unknown(b/4, b%4)
			if y := e.Y[r*m+c]; y != 0 && (i == j || !n.solid[i] && !n.solid[j]) {
				n.addEntry(a/4, a%4, b/4, b%4, y)
			}
		}
		if e.Inject != nil {
			n.Source[n.Unknown(a/4, a%4)] += e.Inject[r]
		}
	}
}

// Neighbours lists the buses next to a bus over live elements and closed
// switches, except over the element or switch that is left out (−1: none).
func (n *Network) neighbours(bus, exceptElement, exceptSwitch int, visit func(int)) {
	for _, i := range n.elementsAt[bus] {
		if i == exceptElement {
			continue
		}
		for _, t := range n.Elements[i].Terminals {
			if t.Bus != bus {
				visit(t.Bus)
			}
		}
	}
	for _, i := range n.switchesAt[bus] {
		if i == exceptSwitch {
			continue
		}
		s := n.Switches[i]
		if s.From == bus {
			visit(s.To)
		} else {
			visit(s.From)
		}
	}
}

// reach marks all buses connected to a bus without the one element or switch.
func (n *Network) reach(from, exceptElement, exceptSwitch int) []bool {
	seen := make([]bool, len(n.Buses))
	seen[from] = true
	stack := []int{from}
	for len(stack) > 0 {
		b := stack[len(stack)-1]
		stack = stack[:len(stack)-1]
		n.neighbours(b, exceptElement, exceptSwitch, func(o int) {
			if !seen[o] {
				seen[o] = true
				stack = append(stack, o)
			}
		})
	}
	return seen
}

// Names joins the names of buses, at most so many, for messages.
func (n *Network) Names(buses []int, most int) string {
	names := make([]string, 0, len(buses))
	for _, b := range buses {
		if n.Buses[b].LineEnd == "" {
			names = append(names, n.Buses[b].Name)
		}
	}
	sort.Strings(names)
	text := ""
	for i, s := range names {
		if i == most {
			return fmt.Sprintf("%s and %d more", text, len(names)-most)
		}
		if i > 0 {
			text += ", "
		}
		text += s
	}
	return text
}

// Connections calls visit for each live element and closed switch at a bus:
// with the element's number, or −1 for a switch, and the bus at its other end
// (the same bus for plant with one terminal; once for each other end of plant
// with three).
func (n *Network) Connections(bus int, visit func(element, other int)) {
	for _, i := range n.elementsAt[bus] {
		alone := true
		for _, u := range n.Elements[i].Terminals {
			if u.Bus != bus {
				visit(i, u.Bus)
				alone = false
			}
		}
		if alone {
			visit(i, bus)
		}
	}
	for _, i := range n.switchesAt[bus] {
		s := n.Switches[i]
		if s.From == bus {
			visit(-1, s.To)
		} else {
			visit(-1, s.From)
		}
	}
}
