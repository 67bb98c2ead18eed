package flow

import (
	"math/cmplx"

	"feederwright/network"
	"feederwright/quantity"
)

// Voltage is the voltage to earth of a conductor at a bus, V; 0 where there is
// no source.
func (s *Solution) Voltage(bus, conductor int) complex128 {
	if u := s.Net.Unknown(bus, conductor); u >= 0 && s.Net.Fed[bus].HasConductor(conductor) {
		return s.V[u]
	}
	return 0
}

// Currents are the currents into an element, one for each row of its Y, A.
func (s *Solution) Currents(element int) []complex128 {
	e := &s.Net.Elements[element]
	if e.Solid { // what the other plant there leaves over
		out := []complex128{0}
		s.Net.SolidTerms(element, func(i, terminal int, sign float64) {
			out[0] += complex(sign, 0) * Terminal(&s.Net.Elements[i], s.Currents(i), terminal)[3]
		})
		return out
	}
	i := s.Net.ElementCurrents(element, s.V)
	if e.Demand == nil && e.Control == nil {
		return i
	}
	v := make([]complex128, 0, 4)
	t := e.Terminals[0]
	for _, c := range t.Phases.Conductors() {
		if (e.Control != nil || e.Demand.Sequence != 0) && !s.Net.Fed[t.Bus].HasConductor(c) {
			return i // a three-phase machine on fewer phases has stopped
		}
		v = append(v, s.V[s.Net.Unknown(t.Bus, c)])
	}
	own := make([]complex128, len(v))
	e.Demanded(s.Net.Rotation, v, own, nil, nil)
	for r := range own {
		if s.scale != 1 && e.Demand != nil {
			own[r] *= complex(s.scale, 0)
		}
		i[r] += own[r]
	}
	return i
}

// Terminal picks the currents into one terminal of an element, by conductor.
func Terminal(e *network.Element, currents []complex128, terminal int) (i [4]complex128) {
	k := 0
	for n, t := range e.Terminals {
		for _, c := range t.Phases.Conductors() {
			if n == terminal {
				i[c] = currents[k]
			}
			k++
		}
	}
	return i
}

// Through is the current through a probe, by conductor, A.
func (s *Solution) Through(p *network.Probe) (i [4]complex128) {
	if !p.Carries() {
		return i
	}
	p.Terms(func(element, terminal int, sign float64) {
		for c, x := range Terminal(&s.Net.Elements[element], s.Currents(element), terminal) {
			i[c] += complex(sign, 0) * x
		}
	})
	return i
}

// Power is the complex power into an element at a terminal, VA.
func (s *Solution) Power(element, terminal int) complex128 {
	e := &s.Net.Elements[element]
	i := Terminal(e, s.Currents(element), terminal)
	t := e.Terminals[terminal]
	sum := complex128(0)
	for _, c := range t.Phases.Conductors() {
		sum += s.Voltage(t.Bus, c) * cmplx.Conj(i[c])
	}
	return sum
}

// A Balance is where the power goes, VA. Their sum of sources less the rest
// is what the iteration leaves.
type Balance struct {
	Sources  complex128 // given by infeeds
	Machines complex128 // given by machines and inverters, negative where they take power
	Loads    complex128 // taken
	Shunts   complex128 // taken by capacitors and by what earths
	Losses   complex128 // of branches, with their charging
	Rest     complex128 // Sources + Machines − Loads − Shunts − Losses
}

// Balance adds the powers of all plant.
func (s *Solution) Balance() Balance {
	var b Balance
	for i := range s.Net.Elements {
		if !s.Net.Live(i) {
			continue
		}
		e := &s.Net.Elements[i]
		currents := s.Currents(i)
		sum := complex128(0)
		for t := range e.Terminals {
			at := Terminal(e, currents, t)
			for _, c := range e.Terminals[t].Phases.Conductors() {
				sum += s.Voltage(e.Terminals[t].Bus, c) * cmplx.Conj(at[c])
			}
		}
		switch e.Kind {
		case network.Infeed:
			b.Sources -= sum
		case network.InductionMachine, network.SynchronousMachine, network.Inverter:
			b.Machines -= sum
		case network.Load:
			b.Loads += sum
		case network.Capacitor, network.EarthingTransformer, network.Earthing:
			b.Shunts += sum
		default:
			b.Losses += sum
		}
	}
	b.Rest = b.Sources + b.Machines - b.Loads - b.Shunts - b.Losses
	return b
}

// PhaseToNeutral is the voltage of a phase to the bus's neutral conductor, or
// to earth where it has none.
func (s *Solution) PhaseToNeutral(bus, phase int) complex128 {
	v := s.Voltage(bus, phase)
	if s.Net.Fed[bus].HasConductor(3) {
		v -= s.Voltage(bus, 3)
	}
	return v
}

// LineToLine are the voltages AB, BC and CA of a bus, 0 where a phase is not
// there, V.
func (s *Solution) LineToLine(bus int) (v [3]complex128) {
	for k := range v {
		m := (k + 1) % 3
		if both := quantity.Phases(1<<k | 1<<m); s.Net.Fed[bus]&both == both {
			v[k] = s.Voltage(bus, k) - s.Voltage(bus, m)
		}
	}
	return v
}
