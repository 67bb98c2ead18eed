package network

import "fmt"

// AddNeutralEarthing earths the conductor N of a bus through an impedance in
// ohm; 0 is solidly.
//
// Solid earthing is exact: the voltage of N is zero there, so its equation is
// replaced by V = 0 and its column carries nothing. The current into earth is
// what the other plant at the node leaves over (Kirchhoff); where several
// solid earthings stand at one node their shares are not determined, and are
// taken as equal.
func (b *Builder) AddNeutralEarthing(name string, bus int, z complex128) (int, error) {
	if !b.buses[bus].Phases.HasConductor(neutral) {
		return 0, fmt.Errorf("bus %s has no conductor N to be earthed", b.buses[bus].Name)
	}
	if z != 0 {
		return b.AddShunt(Earthing, name, bus, 1<<neutral, []complex128{1 / z})
	}
	return b.add(Element{Name: name, Kind: Earthing, Terminals: []Terminal{{bus, 1 << neutral}},
		Y: []complex128{0}, Solid: true, ties: []tie{{0, -1, 0}}}), nil
}

const neutral = 3 // number of conductor N

// findSolid marks the unknowns that are earthed solidly.
func (n *Network) findSolid() {
	n.solid = make([]bool, n.dim)
	for i := range n.Elements {
		if e := &n.Elements[i]; e.Solid && n.Live(i) {
			n.solid[n.Unknown(e.Terminals[0].Bus, neutral)] = true
		}
	}
}

// Solid tells whether an unknown is a conductor earthed solidly: its voltage
// is zero, whatever current flows into it.
func (n *Network) Solid(unknown int) bool { return n.solid[unknown] }

// solidAt counts the solid earthings at a node.
func (n *Network) solidAt(node int) int {
	solid := 0
	for _, b := range n.nodeBuses[node] {
		for _, i := range n.elementsAt[b] {
			if n.Elements[i].Solid {
				solid++
			}
		}
	}
	return solid
}

// SolidTerms calls visit for each element terminal whose current of N, with
// its sign and share, makes up the current into a solid earthing.
func (n *Network) SolidTerms(element int, visit func(element, terminal int, sign float64)) {
	node := n.Node[n.Elements[element].Terminals[0].Bus]
	if node < 0 {
		return
	}
	solid := n.solidAt(node)
	for _, b := range n.nodeBuses[node] {
		for _, i := range n.elementsAt[b] {
			e := &n.Elements[i]
			for t, u := range e.Terminals {
				if u.Bus == b && !e.Solid && u.Phases.HasConductor(neutral) {
					visit(i, t, -1/float64(solid))
				}
			}
		}
	}
}

// ClearSolid takes out of a right-hand side what is injected at conductors
// earthed solidly: it takes any current without a voltage.
func (n *Network) ClearSolid(b []complex128) {
	for u, solid := range n.solid {
		if solid {
			b[u] = 0
		}
	}
}

// SolidDirect is the part of a current drawn from conductor N at a bus that
// comes back through the solid earthings which a probe counts.
func (n *Network) SolidDirect(p *Probe, bus int) float64 {
	d := 0.0
	for _, t := range p.terms {
		e := &n.Elements[t.element]
		if !e.Solid || n.Node[e.Terminals[0].Bus] != n.Node[bus] {
			continue
		}
		d -= t.sign / float64(n.solidAt(n.Node[bus]))
	}
	return d
}

// SolidDirectOnLine is that part for a current drawn at a fraction of a line's
// length: of the shares (1−x) and x that its ends deliver.
func (n *Network) SolidDirectOnLine(p *Probe, line int, x float64) float64 {
	d := 0.0
	for _, t := range p.terms {
		if !n.Elements[t.element].Solid {
			continue
		}
		n.SolidTerms(t.element, func(element, terminal int, sign float64) {
			if element != line {
				return
			}
			share := 1 - x
			if terminal == 1 {
				share = x
			}
			d += t.sign * sign * share
		})
	}
	return d
}
