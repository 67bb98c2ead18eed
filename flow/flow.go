// Package flow solves the state of service: three-phase unbalanced load flow,
// with loads of constant power, current and impedance, machines, inverters,
// and controlled taps.
//
// The network is the one of package network: linear plant in its matrix Y,
// sources behind their impedance. What is not linear is a current J that
// depends on the voltages V of its own bus:
//
//	Y·V + J(V) = I          I: of the sources
//
// Two iterations solve it. The first keeps the factors of Y:
//
//	V ← Y⁻¹·(I − J(V))
//
// which contracts wherever the loads are well below what the network can
// deliver; a round costs one solution. Where it contracts slowly or not at
// all, Newton's iteration goes on from its best point, on V and V* together
// because J is no analytic function of V:
//
//	│ Y + ∂J/∂V    ∂J/∂V*      │ │ΔV │     │ r │
//	│ (∂J/∂V*)*    (Y+∂J/∂V)*  │ │ΔV*│  =  │ r*│      r = I − J(V) − Y·V
//
// with the step halved until Y⁻¹·r gets smaller. See Solve for the rule by which
// it stops, and Trouble for what is said when it doesn't get there.
package flow

import (
	"errors"
	"fmt"
	"math"
	"math/cmplx"

	"feederwright/network"
	"feederwright/quantity"
	"feederwright/sparse"
)

// Stop rule and bounds of the iterations.
const (
	// settledAt: the state is found when the power that is missing or left over
	// at every conductor is below this part of the largest load.
	settledAt = 1e-9
	// mostRounds and slowAfter: rounds of the first iteration; after slowAfter
	// rounds it has to gain a digit in about four rounds, or Newton's takes over.
	mostRounds = 60
	slowAfter  = 4
	slow       = 0.6
	// mostNewton: rounds of Newton's. From where it converges it needs few.
	mostNewton = 30
	// stillAt: Newton's iteration also ends where what is missing would move no
	// voltage by this part of nominal, |Y⁻¹·r|. Beside a source of next to no
	// impedance, rounding of its large currents alone may leave more power than
	// settledAt allows.
	stillAt = 1e-11
	// leastStep: the smallest part of a Newton step tried.
	leastStep = 1. / 256
)

// A Solution is a state of service.
type Solution struct {
	Net *network.Network
	V   []complex128 // voltage to earth of every unknown, V

	Converged bool
	Rounds    int     // of the first iteration
	Newton    int     // of Newton's
	Mismatch  float64 // largest power missing or left over at a conductor, VA
	Trouble   *Trouble

	scale float64
}

// A Trouble says where and why no state was found.
type Trouble struct {
	Bus, Conductor int     // where the largest power is missing
	Mismatch       float64 // VA
	// Multiple of all loads and machines up to which a state is found, by
	// bisection to 1 in 1000; 0 where none is. At that multiple LowVoltage is the
	// lowest voltage from a phase to the neutral over its nominal one, and where.
	Multiple             float64
	LowBus, LowConductor int
	LowVoltage           float64
	// Control is the number of an inverter, where there is no state even without
	// loads and an inverter is there to cause that; else −1.
	Control int
}

// Cause tells the likely cause, with the name of a phase by its number.
func (t *Trouble) Cause(net *network.Network, phase func(int) string) string {
	switch {
	case t.Multiple > 0:
		return fmt.Sprintf("the loads are beyond what the network can deliver: there is a state up to %.1f %% of them, and there the voltage at %s, phase %s, is %.1f %% of nominal",
			100*t.Multiple, BusName(net, t.LowBus), phase(t.LowConductor), 100*t.LowVoltage)
	case t.Control >= 0:
		return fmt.Sprintf("there is no state even without the loads: the control of inverter %s finds no output that agrees with the voltage it makes", net.Elements[t.Control].Name)
	}
	return "there is no state even at a small part of the loads: look for a source that is too weak, a wrong impedance, or a conductor that leads nowhere"
}

// BusName names a bus for messages; the inner terminals of a branch by the branch.
func BusName(net *network.Network, bus int) string {
	if b := &net.Buses[bus]; b.LineEnd != "" {
		return "the end of " + b.LineEnd
	}
	return net.Buses[bus].Name
}

// An Options chooses how to solve.
type Options struct {
	Scale      float64 // multiplies every load and motor that is no impedance; 0: 1
	NewtonOnly bool    // no first iteration
	NoSearch   bool    // do not search for the multiple where it fails
}

// ErrNoSource says that nothing is energised.
var ErrNoSource = errors.New("no source feeds any bus")

// A part is the demand of one element.
type part struct {
	element int
	at      []int // unknowns of its rows
	node    int
}

type solver struct {
	net    *network.Network
	factor *sparse.Factor
	parts  []part
	scale  float64
	volt   []float64 // nominal voltage to the neutral of every unknown, V

	v, i, byV, byConj []complex128 // of one element

	// Of Newton's.
	double *sparse.Analysis
	matrix *sparse.Matrix
	second *sparse.Factor
}

// Solve finds the state of a network.
//
// It stops when the power missing or left over at every conductor, |r| times
// the nominal voltage, is below 1e-9 of the largest load (in Newton's, also when
// it would move no voltage by 1e-11 of nominal); the state is then in Solution. Where that is
// not reached in 60 rounds of the first iteration and 30 of Newton's,
// Converged is false and Trouble says where and why. An error is about
// networks that have no equations to iterate on.
func Solve(net *network.Network, o Options) (*Solution, error) {
	if net.Dim() == 0 {
		return nil, ErrNoSource
	}
	s := &solver{net: net, scale: o.Scale}
	if s.scale == 0 {
		s.scale = 1
	}
	if err := s.collect(); err != nil {
		return nil, err
	}
	s.volt = make([]float64, net.Dim())
	for bus := range net.Buses {
		for _, c := range net.Buses[bus].Phases.Conductors() {
			if u := net.Unknown(bus, c); u >= 0 {
				s.volt[u] = net.Buses[bus].PhaseVoltage()
			}
		}
	}
	factor, err := net.Matrix.Factor()
	if err != nil {
		var singular *sparse.SingularError
		if errors.As(err, &singular) {
			var buses []int
			for _, node := range singular.Parts[0] {
				buses = append(buses, net.NodeBuses(node)...)
			}
			return nil, fmt.Errorf("the network equations have no single solution at %s: check the impedances, and the earthing, of what is connected there", net.Names(buses, 6))
		}
		return nil, err
	}
	s.factor = factor
	start := make([]complex128, net.Dim())
	factor.SolveRefined(net.Matrix, net.Source, start)
	sol, err := s.solve(start, o.NewtonOnly)
	if err != nil || sol.Converged || o.NoSearch {
		return sol, err
	}
	s.explain(sol, start)
	return sol, nil
}

// collect lists what has a demand.
func (s *solver) collect() error {
	n := s.net
	for i := range n.Elements {
		e := &n.Elements[i]
		if e.Demand == nil && e.Control == nil || !n.Live(i) {
			continue
		}
		t := e.Terminals[0]
		p := part{element: i, node: n.Node[t.Bus]}
		fed := true
		for _, c := range t.Phases.Conductors() {
			u := n.Unknown(t.Bus, c)
			fed = fed && n.Fed[t.Bus].HasConductor(c)
			p.at = append(p.at, u)
		}
		if !fed && (e.Control != nil || e.Demand.Sequence != 0) {
			continue // a three-phase machine on fewer phases has stopped
		}
		if e.Demand != nil {
			for _, b := range e.Demand.Branches {
				if b.B < 0 {
					if k, _ := n.FloatingOf(p.at[b.A]); k >= 0 {
						return fmt.Errorf("load %s stands between phase and earth, and its part of the network (%s) has no path to earth: give it the connection delta, or earth a neutral there", e.Name, n.Names(n.Floating[k].Buses, 6))
					}
				}
			}
		}
		s.parts = append(s.parts, p)
	}
	return nil
}

// room makes room for an element of m rows.
func (s *solver) room(m int) {
	if cap(s.v) < m {
		s.v, s.i = make([]complex128, 4), make([]complex128, 4)
		s.byV, s.byConj = make([]complex128, 16), make([]complex128, 16)
	}
	s.v, s.i, s.byV, s.byConj = s.v[:m], s.i[:m], s.byV[:m*m], s.byConj[:m*m]
	clear(s.i)
}

// demanded sets j to J(V), and returns the largest power of a part, VA.
func (s *solver) demanded(v, j []complex128) (largest float64) {
	clear(j)
	for k := range s.parts {
		p := &s.parts[k]
		s.currents(p, v, false)
		sum := complex128(0)
		for r, u := range p.at {
			j[u] += s.i[r]
			sum += s.v[r] * cmplx.Conj(s.i[r])
		}
		largest = max(largest, magnitude(sum))
	}
	s.net.ClearSolid(j) // earth takes it
	return largest
}

// currents works out one part's currents into s.i, with derivatives where
// wanted.
func (s *solver) currents(p *part, v []complex128, slopes bool) {
	e := &s.net.Elements[p.element]
	s.room(len(p.at))
	for r, u := range p.at {
		s.v[r] = v[u]
	}
	if !slopes {
		e.Demanded(s.net.Rotation, s.v, s.i, nil, nil)
	} else {
		clear(s.byV)
		clear(s.byConj)
		e.Demanded(s.net.Rotation, s.v, s.i, s.byV, s.byConj)
	}
	if s.scale != 1 && e.Demand != nil {
		k := complex(s.scale, 0)
		for r := range s.i {
			s.i[r] *= k
		}
		if slopes {
			for r := range s.byV {
				s.byV[r] *= k
				s.byConj[r] *= k
			}
		}
	}
}

func magnitude(x complex128) float64 { return math.Sqrt(real(x)*real(x) + imag(x)*imag(x)) }

// missing is the largest power that a residual means, VA, and where.
func (s *solver) missing(r []complex128) (worst float64, at int) {
	for u := range r {
		if m := s.volt[u] * magnitude(r[u]); !(m <= worst) { // NaN is the worst
			worst, at = m, u
		}
	}
	return worst, at
}

// solve iterates from a start. A state in which the voltage of a load has
// collapsed is none: the laws of loads end there.
func (s *solver) solve(start []complex128, newtonOnly bool) (*Solution, error) {
	sol, err := s.iterate(start, newtonOnly)
	if err == nil && sol.Converged {
		_, _, collapsed := s.collapsed(sol.V)
		sol.Converged = !collapsed
	}
	return sol, err
}

// collapsed finds a load without voltage although its conductors are fed, and
// the power that it lacks, VA.
func (s *solver) collapsed(v []complex128) (unknown int, lacks float64, ok bool) {
	for k := range s.parts {
		p := &s.parts[k]
		e := &s.net.Elements[p.element]
		if e.Demand == nil {
			continue
		}
		t := e.Terminals[0]
		rows := t.Phases.Conductors()
		fed := func(row int) bool { return row < 0 || s.net.Fed[t.Bus].HasConductor(rows[row]) }
		for r, u := range p.at {
			s.room(len(p.at))
			s.v[r] = v[u]
		}
		for _, b := range e.Demand.Branches {
			u := s.v[b.A]
			if b.B >= 0 {
				u -= s.v[b.B]
			}
			if b.S != 0 && fed(b.A) && fed(b.B) && magnitude(u) < network.LeastDemandVoltage*b.Rated {
				return p.at[b.A], magnitude(b.S) * s.scale, true
			}
		}
	}
	return 0, 0, false
}

// iterate is solve's iteration.
func (s *solver) iterate(start []complex128, newtonOnly bool) (*Solution, error) {
	n := s.net
	dim := n.Dim()
	sol := &Solution{Net: n, V: append([]complex128(nil), start...), scale: s.scale}
	v := sol.V
	j, next := make([]complex128, dim), make([]complex128, dim)
	s.demanded(v, j)
	if len(s.parts) == 0 {
		sol.Converged = true
		return sol, nil
	}
	b, r := make([]complex128, dim), make([]complex128, dim)
	best, bestV := math.Inf(1), append([]complex128(nil), v...)
	last := math.Inf(1)
	for !newtonOnly && sol.Rounds < mostRounds {
		sol.Rounds++
		for u := range b {
			b[u] = n.Source[u] - j[u]
		}
		copy(v, b)
		s.factor.Solve(v)
		largest := s.demanded(v, next)
		for u := range r {
			r[u] = j[u] - next[u]
		}
		j, next = next, j
		sol.Mismatch, _ = s.missing(r)
		if sol.Mismatch <= settledAt*largest {
			sol.Converged = true
			return sol, nil
		}
		if sol.Mismatch < best {
			best = sol.Mismatch
			copy(bestV, v)
		} else if math.IsNaN(sol.Mismatch) || sol.Mismatch > 100*best {
			break
		}
		if sol.Rounds >= slowAfter && !(sol.Mismatch < slow*last) {
			break
		}
		last = sol.Mismatch
	}
	copy(v, bestV)
	return sol, s.newton(sol)
}

// newton goes on from sol.V.
func (s *solver) newton(sol *Solution) error {
	n := s.net
	dim := n.Dim()
	if s.double == nil {
		if err := s.setUpNewton(); err != nil {
			return err
		}
	}
	v := sol.V
	j, r := make([]complex128, dim), make([]complex128, dim)
	shift := make([]complex128, dim)
	residual := func(v []complex128) (worst, norm float64, found bool) {
		largest := s.demanded(v, j)
		n.Matrix.MulVec(r, v)
		for u := range r {
			r[u] = n.Source[u] - j[u] - r[u]
		}
		n.ClearSolid(r)
		copy(shift, r)
		s.factor.Solve(shift)
		most := 0.0
		for u := range shift {
			m := magnitude(shift[u]) / s.volt[u]
			norm += m * m
			most = max(most, m)
		}
		worst, _ = s.missing(r)
		return worst, norm, worst <= settledAt*largest || most <= stillAt
	}
	step := make([]complex128, 2*dim)
	trial := make([]complex128, dim)
	worst, norm, found := residual(v)
	for {
		sol.Mismatch = worst
		if found {
			sol.Converged = true
			return nil
		}
		if sol.Newton == mostNewton || math.IsNaN(worst) {
			return nil
		}
		sol.Newton++
		s.assembleNewton(v)
		var err error
		if s.second == nil {
			s.second, err = s.matrix.Factor()
		} else {
			err = s.second.Refactor(s.matrix)
		}
		if err != nil {
			s.second = nil
			return nil // at the edge of what can be delivered the equations are singular
		}
		for u := range r {
			step[u], step[dim+u] = r[u], cmplx.Conj(r[u])
		}
		s.second.Solve(step)
		for part := 1.0; ; part /= 2 {
			for u := range trial {
				trial[u] = v[u] + complex(part, 0)*step[u]
			}
			w, m, ok := residual(trial)
			if m < norm || ok {
				copy(v, trial)
				worst, norm, found = w, m, ok
				break
			}
			if part <= leastStep {
				return nil
			}
		}
	}
}

func (s *solver) setUpNewton() error {
	n := s.net
	count := n.Nodes()
	size := make([]int, 2*count)
	for k := range count {
		size[k] = n.NodePhases(k).Count()
		size[count+k] = size[k]
	}
	var edges [][2]int32
	n.Matrix.Blocks(func(i, j int, _ []complex128) {
		if i < j {
			edges = append(edges, [2]int32{int32(i), int32(j)}, [2]int32{int32(count + i), int32(count + j)})
		}
	})
	for _, p := range s.parts {
		edges = append(edges, [2]int32{int32(p.node), int32(count + p.node)})
	}
	a, err := sparse.Analyse(size, edges)
	if err != nil {
		return err
	}
	s.double, s.matrix = a, a.NewMatrix()
	return nil
}

func (s *solver) assembleNewton(v []complex128) {
	n := s.net
	count := n.Nodes()
	m := s.matrix
	m.Clear()
	var conj []complex128
	n.Matrix.Blocks(func(i, j int, block []complex128) {
		m.Add(i, j, block)
		conj = conj[:0]
		for _, x := range block {
			conj = append(conj, cmplx.Conj(x))
		}
		m.Add(count+i, count+j, conj)
	})
	a := n.Matrix.Analysis()
	for k := range s.parts {
		p := &s.parts[k]
		s.currents(p, v, true)
		rows := len(p.at)
		first := a.Offset(p.node)
		for x := range rows {
			if n.Solid(p.at[x]) {
				continue
			}
			for y := range rows {
				dv, dc := s.byV[x*rows+y], s.byConj[x*rows+y]
				if dv == 0 && dc == 0 {
					continue
				}
				i, j := p.at[x]-first, p.at[y]-first
				m.AddAt(p.node, i, p.node, j, dv)
				m.AddAt(p.node, i, count+p.node, j, dc)
				m.AddAt(count+p.node, i, p.node, j, cmplx.Conj(dc))
				m.AddAt(count+p.node, i, count+p.node, j, cmplx.Conj(dv))
			}
		}
	}
}

// explain finds where and why there is no state.
func (s *solver) explain(sol *Solution, start []complex128) {
	n := s.net
	t := &Trouble{LowBus: -1, Control: -1}
	sol.Trouble = t
	j, r := make([]complex128, n.Dim()), make([]complex128, n.Dim())
	s.demanded(sol.V, j)
	n.Matrix.MulVec(r, sol.V)
	for u := range r {
		r[u] = n.Source[u] - j[u] - r[u]
	}
	n.ClearSolid(r)
	worst, at := s.missing(r)
	if u, lacks, collapsed := s.collapsed(sol.V); collapsed {
		at, worst = u, lacks
	}
	t.Mismatch = worst
	t.Bus, t.Conductor = s.place(at)
	whole := s.scale
	defer func() { s.scale = whole }()
	low, high := 0.0, 1.0
	var found *Solution
	from := start
	for high-low > 1e-3 {
		middle := (low + high) / 2
		s.scale = whole * middle
		if try, err := s.solve(from, false); err == nil && try.Converged {
			low, found, from = middle, try, try.V
		} else {
			high = middle
		}
	}
	t.Multiple = low
	if found == nil {
		s.scale = 0
		if try, err := s.solve(start, false); err == nil && !try.Converged {
			for _, p := range s.parts {
				if e := &n.Elements[p.element]; e.Control != nil {
					t.Control = p.element
				}
			}
		}
		return
	}
	t.LowVoltage = math.Inf(1)
	for bus := range n.Buses {
		for _, c := range (n.Fed[bus] & quantity.PhasesABC).Conductors() {
			u, per := found.V[n.Unknown(bus, c)], n.Buses[bus].PhaseVoltage()
			if n.Fed[bus].HasConductor(3) {
				u -= found.V[n.Unknown(bus, 3)]
			}
			if x := magnitude(u) / per; x < t.LowVoltage {
				t.LowVoltage, t.LowBus, t.LowConductor = x, bus, c
			}
		}
	}
}

// place is the bus and conductor of an unknown.
func (s *solver) place(unknown int) (bus, conductor int) {
	n := s.net
	for node := range n.Nodes() {
		for _, b := range n.NodeBuses(node) {
			for _, c := range n.Buses[b].Phases.Conductors() {
				if n.Unknown(b, c) == unknown {
					return b, c
				}
			}
		}
	}
	return -1, 0
}
