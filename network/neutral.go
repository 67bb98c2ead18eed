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

// SolidTerms calls visit for each element terminal whose current of N, with
// its sign and share, makes up the current into a solid earthing.
func (n *Network) SolidTerms(element int, visit func(element, terminal int, sign float64)) {
	node := n.Node[n.Elements[element].Terminals[0].Bus]
	if node < 0 {
		return
	}
	solid := 0
	for _, b := range n.nodeBuses[node] {
		for _, i := range n.elementsAt[b] {
			if n.Elements[i].Solid {
				solid++
			}
		}
	}
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
