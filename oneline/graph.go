package oneline

import (
	"slices"
	"strings"

	"feederwright/quantity"
	"feederwright/study"
)

// A node is a bus in the graph.
type node struct {
	bus   *study.Entry[study.Bus]
	edges []*edge
	seen  bool
	dead  bool
	tree  *tree
}

// An edge is a branch, or a device between two buses.
type edge struct {
	kind, name string
	ends       []string
	normal     []bool // of each end: no device there is normally open
	state      []bool // the same in the state drawn
	used       bool
	outlet     [3]int // of a unit of three windings: where each end comes out, 1 below and 2 to the right
}

// A tree is part of the drawing that is laid out by itself: parts one below
// the other, and then, at a bus or hub, what hangs from it.
type tree struct {
	parts   []part
	bus     *study.Entry[study.Bus] // at the lower end, if any
	hub     bool                    // the lower end is in a unit of three windings
	kids    []*tree
	main    bool // the first of kids goes straight down
	rank    int  // order among siblings
	port    *port
	station bool // its bus is a bar
	feeder  bool // begins with a breaker
	dead    bool // the conductor at its lower end
	name    string
	padLeft float64 // room to keep on the left of the bar
	padTop  float64 // conductor added on top, to bring two bars to one height
	extra   float64 // conductor added on top to spare width
	fill    float64 // conductor added on top to make the length whole rows
	trips   []trip
	gear    int     // of a feeder: how many of its parts are the switchgear at its bus
	kept    int     // where it is cut: how many of its parts stay at the bus
	lift    float64 // of the main child of a hub: the parts begin this far below

	layout
}

// A port is the open lower end of a tree from which a joining line goes on.
type port struct {
	tie  *tie
	side int // 0 or 1
}

// A tie is a connection that is no part of the tree: it closes a loop, or
// joins what is normally apart.
type tie struct {
	edge     *edge
	ends     [2]int // which ends of the edge
	trees    [2]*tree
	dead     bool
	straight bool // drawn level between two bars
	flagged  bool // not joined: each end names the other
	device   study.PlacedDevice
}

// graph reads the connections.
func (b *builder) graph() []*edge {
	b.nodes = make(map[string]*node)
	for i := range b.doc.Buses.Entries {
		e := &b.doc.Buses.Entries[i]
		b.nodes[e.Name] = &node{bus: e}
	}
	b.devices = make(map[string][]study.PlacedDevice)
	var edges []*edge
	for _, br := range b.doc.Branches() {
		e := &edge{kind: br.Kind, name: br.Name}
		for _, end := range br.Ends {
			e.ends = append(e.ends, string(end.V))
			e.normal = append(e.normal, true)
			e.state = append(e.state, true)
		}
		edges = append(edges, e)
	}
	for _, d := range b.doc.Devices() {
		open := d.Normally.V == "open"
		if d.In.Given {
			k := endKey(string(d.In.V), string(d.Near.V))
			b.devices[k] = append(b.devices[k], d)
			for _, e := range edges {
				if i := slices.Index(e.ends, string(d.Near.V)); e.name == string(d.In.V) && i >= 0 {
					e.normal[i] = e.normal[i] && !open
					e.state[i] = e.state[i] && !b.state.Open[d.Name]
				}
			}
			continue
		}
		s := !b.state.Open[d.Name]
		edges = append(edges, &edge{kind: "device", name: d.Name, ends: []string{string(d.From.V), string(d.To.V)}, normal: []bool{!open, !open}, state: []bool{s, s}})
	}
	for _, e := range edges {
		for i, end := range e.ends {
			if n := b.nodes[end]; n != nil && slices.Index(e.ends, end) == i {
				n.edges = append(n.edges, e)
			}
		}
	}
	b.findDead(edges)
	return edges
}

// findDead marks the buses that no infeed or synchronous machine reaches in
// the state drawn.
func (b *builder) findDead(edges []*edge) {
	for _, n := range b.nodes {
		n.dead = true
	}
	var queue []string
	reach := func(bus string) {
		if n := b.nodes[bus]; n != nil && n.dead {
			n.dead = false
			queue = append(queue, bus)
		}
	}
	for _, e := range b.doc.Supply.Entries {
		if b.state.Infeed[e.Name] != "out" {
			reach(string(e.Item.At.V))
		}
	}
	for _, e := range b.doc.SynchronousMachines.Entries {
		if !b.state.Out[study.PlantRef{Kind: "synchronous machine", Name: e.Name}] {
			reach(string(e.Item.At.V))
		}
	}
	for len(queue) > 0 {
		bus := queue[0]
		queue = queue[1:]
		for _, e := range b.nodes[bus].edges {
			i := slices.Index(e.ends, bus)
			if !e.state[i] || b.state.Out[study.PlantRef{Kind: e.kind, Name: e.name}] {
				continue
			}
			for j, other := range e.ends {
				if j != i && e.state[j] {
					reach(other)
				}
			}
		}
	}
}

// inside tells whether no source reaches the middle of an edge.
func (b *builder) inside(e *edge) (dead bool) {
	if b.state.Out[study.PlantRef{Kind: e.kind, Name: e.name}] {
		return true
	}
	for i, end := range e.ends {
		if n := b.nodes[end]; n != nil && !n.dead && e.state[i] {
			return false
		}
	}
	return true
}

// grow makes the trees of the study, one for each infeed, and then for what
// none reaches, and the ties between and within them.
//
// It goes breadth first over all infeeds together and over what is normally
// closed, so that a loop is cut half way round; what is normally open is
// followed only where nothing else leads there.
func (b *builder) grow() (roots []*tree, ties []*tie) {
	edges := b.graph()
	b.placeRelays()
	type outlet struct {
		e    *edge
		end  int
		into *tree
	}
	var queue []string
	var pending []outlet
	var order []string // buses in the order in which they were reached
	visit := func(bus string, t *tree) {
		n := b.nodes[bus]
		n.seen, n.tree = true, t
		queue = append(queue, bus)
		order = append(order, bus)
	}
	root := func(bus string, infeed *study.Entry[study.Infeed]) {
		n := b.nodes[bus]
		t := &tree{name: bus}
		if infeed != nil {
			t.parts = append(t.parts, b.infeed(infeed, true))
		}
		b.endAt(t, n)
		roots = append(roots, t)
		visit(bus, t)
	}
	joined := make(map[[2]any]bool)
	addTie := func(e *edge, i, j int, at *tree) {
		// at is where end i comes out, if that is a hub already drawn.
		if joined[[2]any{e, j}] {
			return
		}
		joined[[2]any{e, i}], joined[[2]any{e, j}] = true, true
		t := &tie{edge: e, ends: [2]int{i, j}, dead: b.inside(e)}
		if e.kind == "device" {
			t.device = b.deviceNamed(e.name)
		}
		first := at
		if first == nil {
			first = b.nodes[e.ends[i]].tree
		}
		t.trees = [2]*tree{first, b.nodes[e.ends[j]].tree}
		ties = append(ties, t)
	}
	// follow uses an edge from one of its ends.
	follow := func(bus string, e *edge, all bool) {
		i := slices.Index(e.ends, bus)
		if e.used || !all && !e.normal[i] {
			return
		}
		var fresh []int
		for j, other := range e.ends {
			if j != i && b.nodes[other] != nil && !b.nodes[other].seen && other != bus && (all || e.normal[j]) {
				fresh = append(fresh, j)
			}
		}
		parent := b.nodes[bus].tree
		if len(e.ends) == 3 || e.kind == "three-winding transformer" {
			// A hub takes its place as soon as it is reached.
			e.used = true
			order := [3]int{i, (i + 1) % 3, (i + 2) % 3}
			if i != 0 {
				order = [3]int{i, 0, 3 - i}
			}
			for place, end := range order {
				e.outlet[end] = place
			}
			hub := b.hub(e, order, b.nodes[bus])
			parent.kids = append(parent.kids, hub)
			for _, j := range order[1:] {
				if j >= len(e.ends) {
					continue
				}
				if slices.Contains(fresh, j) && !b.nodes[e.ends[j]].seen {
					t := b.fromHub(e, j)
					hub.kids = append(hub.kids, t)
					visit(e.ends[j], t)
				} else {
					pending = append(pending, outlet{e, j, hub})
				}
			}
			return
		}
		if len(fresh) == 0 {
			return
		}
		e.used = true
		t := b.branch(e, i, fresh[0])
		parent.kids = append(parent.kids, t)
		visit(e.ends[fresh[0]], t)
	}
	run := func(all bool) {
		for len(queue) > 0 {
			bus := queue[0]
			queue = queue[1:]
			for _, e := range b.nodes[bus].edges {
				follow(bus, e, all)
			}
		}
	}
	flood := func() {
		run(false)
		for again := true; again; {
			again = false
			for k := 0; k < len(pending); k++ {
				p := pending[k]
				if n := b.nodes[p.e.ends[p.end]]; !n.seen {
					t := b.fromHub(p.e, p.end)
					p.into.kids = append(p.into.kids, t)
					visit(p.e.ends[p.end], t)
					pending = slices.Delete(pending, k, k+1)
					again = true
					break
				}
			}
			if !again {
				for _, bus := range slices.Clone(order) {
					for _, e := range b.nodes[bus].edges {
						before := len(order)
						follow(bus, e, true)
						if len(order) > before {
							again = true
						}
					}
					if again {
						break
					}
				}
			}
			run(false)
		}
	}
	for i := range b.doc.Supply.Entries {
		e := &b.doc.Supply.Entries[i]
		if n := b.nodes[string(e.Item.At.V)]; n != nil && !n.seen {
			root(string(e.Item.At.V), e)
		}
	}
	flood()
	for _, e := range b.doc.Buses.Entries {
		if !b.nodes[e.Name].seen {
			root(e.Name, nil)
			flood()
		}
	}
	for _, p := range pending {
		addTie(p.e, p.end, p.end, p.into)
	}
	for _, e := range edges {
		if !e.used && len(e.ends) == 2 && b.nodes[e.ends[0]] != nil && b.nodes[e.ends[1]] != nil {
			addTie(e, 0, 1, nil)
		}
	}
	for i := range b.doc.Buses.Entries {
		b.shunts(b.nodes[b.doc.Buses.Entries[i].Name])
	}
	return roots, ties
}

func (b *builder) deviceNamed(name string) study.PlacedDevice {
	for _, d := range b.doc.Devices() {
		if d.Name == name {
			return d
		}
	}
	return study.PlacedDevice{}
}

// placeRelays says beside which transformer each relay is drawn: the first of
// its phase current transformers that stands in a line, else one of its
// earth-fault ones, else a voltage transformer; if it can, one that no other
// relay stands beside.
func (b *builder) placeRelays() {
	b.placed = make(map[string]string)
	taken := make(map[string]bool)
	for _, r := range b.doc.Relays.Entries {
		s := r.Item.Sees
		if s == nil {
			continue
		}
		var choices, last []string
		for _, list := range [][]study.Ref{s.Current.V, s.Ground.V} {
			for _, ref := range list {
				if ct := b.doc.CurrentTransformers.Find(string(ref)); ct != nil {
					if ct.Item.Neutral.Given {
						last = append(last, ct.Name)
					} else {
						choices = append(choices, ct.Name)
					}
				}
			}
		}
		for _, ref := range s.Voltage.V {
			if vt := b.doc.VoltageTransformers.Find(string(ref)); vt != nil && vt.Item.At.Given {
				choices = append(choices, vt.Name)
			}
		}
		i := slices.IndexFunc(choices, func(c string) bool { return !taken[c] })
		switch {
		case i >= 0:
			b.placed[r.Name] = choices[i]
			taken[choices[i]] = true
		case len(choices) > 0:
			b.placed[r.Name] = choices[0]
		case len(last) > 0:
			b.placed[r.Name] = last[0]
		}
	}
}

// undrawn tells of relays that no line shows: those that see nothing but a
// neutral or the end of a line stand in words.
func (b *builder) undrawn() []string {
	var names []string
	for _, r := range b.doc.Relays.Entries {
		at := b.placed[r.Name]
		ct, vt := b.doc.CurrentTransformers.Find(at), b.doc.VoltageTransformers.Find(at)
		if !(ct != nil && !ct.Item.Neutral.Given || vt != nil && vt.Item.At.Given) {
			words := strings.Join(b.relayLines(&r), ", ")
			names = append(names, words)
		}
	}
	if len(names) == 0 {
		return nil
	}
	return []string{"Relays not drawn, as they see no transformer in a line: " + strings.Join(names, "; ") + "."}
}

// endAt gives a tree its bus.
func (b *builder) endAt(t *tree, n *node) {
	t.bus = n.bus
	t.dead = n.dead
	t.parts = append(t.parts, b.header(n.bus, n.dead))
}

// branch makes the tree behind a branch of two ends, or a device between two
// buses, entered at end i.
func (b *builder) branch(e *edge, i, j int) *tree {
	t := &tree{name: e.name, rank: b.rankOf(e, i, j)}
	near, far := b.nodes[e.ends[i]], b.nodes[e.ends[j]]
	if e.kind == "device" {
		d := b.deviceNamed(e.name)
		t.parts = append(t.parts, b.deviceParts([]study.PlacedDevice{d}, near.dead, true, e.ends[i])...)
		t.feeder = d.Kind == "breaker"
	} else {
		t.parts = append(t.parts, b.endParts(e, i, true)...)
		t.gear = len(t.parts)
		t.parts = append(t.parts, b.middle(e, i))
		t.parts = append(t.parts, b.endParts(e, j, false)...)
		t.feeder = b.hasBreaker(e, i)
	}
	b.endAt(t, far)
	return t
}

func (b *builder) hasBreaker(e *edge, end int) bool {
	for _, d := range b.devices[endKey(e.name, e.ends[end])] {
		if d.Kind == "breaker" {
			return true
		}
	}
	return false
}

// rankOf orders what hangs from a bus: the lowest goes straight on. A fuse, a
// transformer, fewer phases, or a normally open device make a side branch.
func (b *builder) rankOf(e *edge, i, j int) int {
	rank := 0
	for k, normal := range e.normal {
		if !normal {
			rank += 1000
		}
		for _, d := range b.devices[endKey(e.name, e.ends[k])] {
			if k == i && d.Kind == "fuse" {
				rank += 100
			}
		}
	}
	if e.kind == "transformer" || e.kind == "bank" {
		rank += 300
	}
	phases := quantity.PhaseA | quantity.PhaseB | quantity.PhaseC
	if n := b.nodes[e.ends[j]]; n != nil && n.bus.Item.Phases.Given {
		phases = n.bus.Item.Phases.V &^ quantity.PhaseN
	}
	return rank + 30*(3-phases.Count())
}

// endParts are the devices and instrument transformers of a branch at one of
// its ends, from the bus outwards where away, else towards the bus.
func (b *builder) endParts(e *edge, end int, away bool) []part {
	bus := e.ends[end]
	n := b.nodes[bus]
	var parts []part
	reached := !n.dead
	devices := b.devices[endKey(e.name, bus)]
	inner := !b.inside(e)
	add := func(p part) { parts = append(parts, p) }
	for _, d := range devices {
		for _, p := range b.deviceParts([]study.PlacedDevice{d}, !reached && !(inner && !b.state.Open[d.Name]), away, bus) {
			add(p)
		}
		if b.state.Open[d.Name] {
			reached = inner
		}
	}
	for i := range b.doc.CurrentTransformers.Entries {
		c := &b.doc.CurrentTransformers.Entries[i]
		if string(c.Item.In.V) == e.name && string(c.Item.Near.V) == bus && !c.Item.Neutral.Given {
			add(b.current(c, !inner, away, bus))
		}
	}
	for i := range b.doc.VoltageTransformers.Entries {
		v := &b.doc.VoltageTransformers.Entries[i]
		if string(v.Item.In.V) == e.name && string(v.Item.Near.V) == bus {
			add(b.tapped(v, !inner))
		}
	}
	if !away {
		slices.Reverse(parts)
	}
	return parts
}

// deviceParts are devices, each with its current transformers on the side away
// from its bus.
func (b *builder) deviceParts(devices []study.PlacedDevice, dead, away bool, bus string) []part {
	var parts []part
	for _, d := range devices {
		dev := b.device(d, dead)
		parts = append(parts, dev)
		for i := range b.doc.CurrentTransformers.Entries {
			c := &b.doc.CurrentTransformers.Entries[i]
			if string(c.Item.At.V) == d.Name {
				parts = append(parts, b.current(c, dead, away, bus))
			}
		}
	}
	return parts
}

// middle is the branch itself.
func (b *builder) middle(e *edge, entry int) part {
	dead := b.inside(e)
	switch e.kind {
	case "line":
		return b.line(b.doc.Lines.Find(e.name), dead)
	case "transformer":
		return b.transformer(b.doc.Transformers.Find(e.name), entry, dead)
	case "bank":
		return b.bank(b.doc.Banks.Find(e.name), entry, dead)
	case "regulator":
		return b.regulator(b.doc.Regulators.Find(e.name), dead)
	default:
		return b.reactor(b.doc.Reactors.Find(e.name), dead)
	}
}

// hub makes the tree down to a unit of three windings.
func (b *builder) hub(e *edge, order [3]int, near *node) *tree {
	t := &tree{name: e.name, hub: true, rank: 300, dead: b.inside(e)}
	t.parts = b.endParts(e, order[0], true)
	third := order[2] < len(e.ends)
	t.parts = append(t.parts, b.threeWinding(b.doc.ThreeWinding.Find(e.name), order, third, t.dead))
	last := &t.parts[len(t.parts)-1]
	last.h = last.anchor
	t.feeder = b.hasBreaker(e, order[0])
	return t
}

// fromHub makes the tree of another winding's bus.
func (b *builder) fromHub(e *edge, j int) *tree {
	t := &tree{name: e.name, rank: e.outlet[j]}
	t.parts = b.endParts(e, j, false)
	b.endAt(t, b.nodes[e.ends[j]])
	return t
}

// shunts hangs what is connected to a bus alone on its tree, before the
// branches.
func (b *builder) shunts(n *node) {
	var list []*tree
	name := n.bus.Name
	hang := func(p part) {
		list = append(list, &tree{parts: []part{p}, name: p.name, rank: 5000, dead: n.dead})
	}
	first := true
	for i := range b.doc.Supply.Entries {
		e := &b.doc.Supply.Entries[i]
		if string(e.Item.At.V) == name {
			if !first || !(len(n.tree.parts) > 0 && n.tree.parts[0].kind == "infeed" && n.tree.parts[0].name == e.Name) {
				hang(b.infeed(e, false))
			}
			first = false
		}
	}
	for i := range b.doc.VoltageTransformers.Entries {
		if e := &b.doc.VoltageTransformers.Entries[i]; string(e.Item.At.V) == name {
			hang(b.voltage(e, n.dead))
		}
	}
	for i := range b.doc.EarthingTransformers.Entries {
		if e := &b.doc.EarthingTransformers.Entries[i]; string(e.Item.At.V) == name {
			hang(b.earthing(e, n.dead))
		}
	}
	for i := range b.doc.Capacitors.Entries {
		if e := &b.doc.Capacitors.Entries[i]; string(e.Item.At.V) == name {
			hang(b.capacitor(e, n.dead))
		}
	}
	for i := range b.doc.Loads.Entries {
		if e := &b.doc.Loads.Entries[i]; string(e.Item.At.V) == name {
			hang(b.load(e, n.dead))
		}
	}
	for i := range b.doc.InductionMachines.Entries {
		if e := &b.doc.InductionMachines.Entries[i]; string(e.Item.At.V) == name {
			m := &e.Item
			hang(b.machine("induction machine", e.Name, "M", m.Count.V, []string{text(m.Power), text(m.Rating), rating(b, "locked rotor ", m.LockedRotor, "")}, n.dead, nil))
		}
	}
	for i := range b.doc.SynchronousMachines.Entries {
		if e := &b.doc.SynchronousMachines.Entries[i]; string(e.Item.At.V) == name {
			m := &e.Item
			hang(b.machine("synchronous machine", e.Name, "G", m.Count.V, []string{text(m.Rating), rating(b, "x″d ", m.Subtransient, "")}, n.dead, &m.Neutral))
		}
	}
	for i := range b.doc.Inverters.Entries {
		if e := &b.doc.Inverters.Entries[i]; string(e.Item.At.V) == name {
			hang(b.inverter(e, n.dead))
		}
	}
	n.tree.kids = append(list, n.tree.kids...)
	for _, e := range n.edges {
		for k, end := range e.ends {
			if end == name && (b.hasBreaker(e, k) || e.kind == "device") {
				n.tree.station = true
			}
		}
	}
}
