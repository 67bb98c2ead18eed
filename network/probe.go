package network

import (
	"fmt"

	"feederwright/quantity"
)

// A Probe measures the conductor currents through one place: into an element
// at a terminal, or through a closed switch.
//
//	current = Σ sign·(Y·V − Inject)[terminal]  +  fault current drawn at the buses of Beyond
type Probe struct {
	Phases quantity.Phases
	terms  []term
	beyond []bool // by bus; nil: none
	back   bool   // reversed: what flows to buses beyond counts negative
	open   bool   // a switch that is open: no current
	loop   string // not empty: why the current is not determined
	dead   bool

	// Which side a bus lies on, with the probe's element or switch taken out.
	near, far []bool
}

type term struct {
	element, terminal int
	sign              float64
}

// AtTerminal measures the current from a bus into an element.
func (n *Network) AtTerminal(element, terminal int) Probe {
	e := &n.Elements[element]
	p := Probe{Phases: e.Terminals[terminal].Phases, terms: []term{{element, terminal, 1}}}
	if !n.Live(element) {
		return Probe{Phases: p.Phases, dead: true}
	}
	p.near = n.reach(e.Terminals[terminal].Bus, element, -1)
	p.far = make([]bool, len(n.Buses))
	for i, t := range e.Terminals {
		if i == terminal {
			continue
		}
		for bus, in := range n.reach(t.Bus, element, -1) {
			p.far[bus] = p.far[bus] || in
		}
	}
	return p
}

// InNeutral measures the current from earth into the neutral of the winding
// at a terminal: minus the sum of the currents into its phases.
func (n *Network) InNeutral(element, terminal int) Probe {
	p := n.AtTerminal(element, terminal)
	for i := range p.terms {
		p.terms[i].sign = -1
	}
	p.near, p.far = nil, nil // earth is everywhere: no side is forward
	return p
}

// ThroughSwitch measures the current through a switch, positive towards the
// bus on its far side (one of its two buses).
//
// The switch has no impedance, so its current is what the far side draws: the
// buses that only this switch joins to the near side within their common
// node. Where other ideal switches close a loop the current is not determined,
// and Undetermined says so.
func (n *Network) ThroughSwitch(number, far int) Probe {
	s := n.Switches[number]
	near := s.From
	if far == s.From {
		near = s.To
	}
	p := Probe{Phases: n.Buses[s.From].Phases & n.Buses[s.To].Phases}
	if n.Node[far] < 0 && n.Node[near] < 0 {
		p.dead = true
		return p
	}
	if !s.Closed {
		p.open = true
		p.near = n.reach(near, -1, number)
		p.far = n.reach(far, -1, number)
		return p
	}
	p.beyond = make([]bool, len(n.Buses))
	p.beyond[far] = true
	stack := []int{far}
	for len(stack) > 0 {
		b := stack[len(stack)-1]
		stack = stack[:len(stack)-1]
		for _, i := range n.switchesAt[b] {
			if i == number {
				continue
			}
			o := n.Switches[i].From
			if o == b {
				o = n.Switches[i].To
			}
			if !p.beyond[o] {
				p.beyond[o] = true
				stack = append(stack, o)
			}
		}
	}
	if p.beyond[near] {
		p.loop = fmt.Sprintf("%s %s is in a loop of closed devices without impedance: only their sum is determined", s.Kind, s.Name)
		p.beyond = nil
		return p
	}
	for b, in := range p.beyond {
		if !in {
			continue
		}
		for _, i := range n.elementsAt[b] {
			for t, u := range n.Elements[i].Terminals {
				if u.Bus == b {
					p.terms = append(p.terms, term{i, t, 1})
				}
			}
		}
	}
	p.near = n.reach(near, -1, number)
	p.far = n.reach(far, -1, number)
	return p
}

// Undetermined says why the current has no value, or "".
func (p *Probe) Undetermined() string { return p.loop }

// Carries tells whether current can flow: the place is energised and closed.
func (p *Probe) Carries() bool { return !p.dead && !p.open && p.loop == "" }

// A Side says where a place lies, seen from a probe.
type Side int

const (
	Neither Side = iota // not connected, or the probe has no direction
	Far                 // on the side that the probe faces
	Near                // on the side behind it
	Both                // on a loop through the probe
)

// SideOf tells on which side a bus lies.
func (p *Probe) SideOf(bus int) Side {
	switch {
	case p.near == nil:
		return Neither
	case p.near[bus] && p.far[bus]:
		return Both
	case p.far[bus]:
		return Far
	case p.near[bus]:
		return Near
	}
	return Neither
}

// Row adds to row (one entry per unknown) the factors that give the current
// of a conductor from the node voltages, and returns the constant part from
// the sources.
func (n *Network) Row(p *Probe, conductor int, row []complex128) complex128 {
	constant := complex128(0)
	for _, t := range p.terms {
		e := &n.Elements[t.element]
		phases := e.Terminals[t.terminal].Phases
		if !phases.HasConductor(conductor) {
			continue
		}
		if e.Solid {
			q := Probe{}
			n.SolidTerms(t.element, func(i, terminal int, sign float64) { q.terms = append(q.terms, term{i, terminal, t.sign * sign}) })
			constant += n.Row(&q, conductor, row)
			continue
		}
		r := e.offset(t.terminal) + position(phases, conductor)
		rows := rowConductors(e)
		for c, b := range rows {
			if y := e.Y[r*len(rows)+c]; y != 0 {
				row[n.Unknown(b/4, b%4)] += complex(t.sign, 0) * y
			}
		}
		if e.Inject != nil {
			constant -= complex(t.sign, 0) * e.Inject[r]
		}
	}
	return constant
}

// Direct is the part of a fault current, drawn at a bus, that flows through
// the probe whatever the voltages: one where the bus is beyond a switch, minus
// one where the probe is reversed.
func (p *Probe) Direct(bus int) float64 {
	switch {
	case p.beyond == nil || !p.beyond[bus]:
		return 0
	case p.back:
		return -1
	}
	return 1
}

// DirectOnLine is that part for a fault at a fraction of a line's length from
// its first terminal: the shares (1−x) and x that its ends deliver.
func (p *Probe) DirectOnLine(line int, x float64) float64 {
	d := 0.0
	for _, t := range p.terms {
		if t.element == line {
			if t.terminal == 0 {
				d += t.sign * (1 - x)
			} else {
				d += t.sign * x
			}
		}
	}
	return d
}

// Current evaluates a conductor's current at given node voltages, without a
// fault.
func (n *Network) Current(p *Probe, conductor int, v []complex128) complex128 {
	row := make([]complex128, n.dim)
	i := n.Row(p, conductor, row)
	for k, y := range row {
		if y != 0 {
			i += y * v[k]
		}
	}
	return i
}

// ElementCurrents returns the currents into an element at given node
// voltages, one per row of its Y.
func (n *Network) ElementCurrents(element int, v []complex128) []complex128 {
	e := &n.Elements[element]
	rows := rowConductors(e)
	out := make([]complex128, len(rows))
	if e.Solid {
		n.SolidTerms(element, func(i, terminal int, sign float64) {
			o := &n.Elements[i]
			out[0] += complex(sign, 0) * n.ElementCurrents(i, v)[o.offset(terminal)+position(o.Terminals[terminal].Phases, neutral)]
		})
		return out
	}
	for r := range rows {
		for c, b := range rows {
			out[r] += e.Y[r*len(rows)+c] * v[n.Unknown(b/4, b%4)]
		}
		if e.Inject != nil {
			out[r] -= e.Inject[r]
		}
	}
	return out
}

// Reversed is the probe with its direction the other way.
func (p Probe) Reversed() Probe {
	q := p
	q.terms = append([]term(nil), p.terms...)
	for i := range q.terms {
		q.terms[i].sign = -q.terms[i].sign
	}
	q.back = !p.back
	q.near, q.far = p.far, p.near
	return q
}

// SideOnLine tells on which side a place on a line lies: in front of the
// probe where it measures into that very line, else as the line's ends.
func (p *Probe) SideOnLine(n *Network, line int) Side {
	if p.near == nil {
		return Neither
	}
	for _, t := range p.terms {
		if t.element == line && len(p.terms) == 1 && p.beyond == nil {
			if t.sign > 0 {
				return Far
			}
			return Near
		}
	}
	a, b := p.SideOf(n.Elements[line].Terminals[0].Bus), p.SideOf(n.Elements[line].Terminals[1].Bus)
	if a == b {
		return a
	}
	return Both
}

// Bus is the bus at which the probe measures: of the near side.
func (p *Probe) Bus(n *Network) int {
	for _, t := range p.terms {
		return n.Elements[t.element].Terminals[t.terminal].Bus
	}
	return -1
}

// Terms calls visit for each element terminal whose current the probe counts,
// with its sign.
func (p *Probe) Terms(visit func(element, terminal int, sign float64)) {
	for _, t := range p.terms {
		visit(t.element, t.terminal, t.sign)
	}
}
