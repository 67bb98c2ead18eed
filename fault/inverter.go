package fault

import (
	"math"
	"math/cmplx"

	"feederwright/network"
)

// Stop rule of the iteration on inverters: it has settled when no inverter's
// current would change by more than this part of its rated current; it has
// not when it does not get there in so many rounds. Linear plant converges to
// rounding well inside these; what doesn't is a control that jumps between two
// responses at its threshold.
const (
	settledAt  = 1e-9
	mostRounds = 400
)

// A control is an inverter in service, with how its current moves the network.
type control struct {
	element, bus int
	data         *network.InverterData
	rows, cols   [3][]complex128 // phase voltages by injected current; node voltages by its currents
	memory       complex128      // positive-sequence voltage before the fault, V
	before       [3]complex128   // what it gives before the fault, A
}

// A SourceCurrent is what an inverter gives, into the network.
type SourceCurrent struct {
	Element int
	I       [3]complex128 // A
}

// setUpControls finds the inverters in service and solves the state before
// the fault with them.
func (s *Solver) setUpControls() {
	n := s.Net
	dim := n.Dim()
	for i := range n.Elements {
		e := &n.Elements[i]
		if e.Control == nil || !n.Live(i) || n.Fed[e.Terminals[0].Bus]&abc != abc {
			continue
		}
		c := control{element: i, bus: e.Terminals[0].Bus, data: e.Control}
		for k := range 3 {
			u := n.Unknown(c.bus, k)
			row, col := make([]complex128, dim), make([]complex128, dim)
			row[u], col[u] = 1, 1
			s.factor.SolveTransposed(row)
			s.factor.Solve(col)
			c.rows[k], c.cols[k] = row, col
		}
		s.controls = append(s.controls, c)
	}
	if len(s.controls) == 0 {
		return
	}
	given := make([][3]complex128, len(s.controls))
	at := func(given [][3]complex128) [][3]complex128 {
		list := make([][3]complex128, len(s.controls))
		for i := range s.controls {
			list[i] = s.atControl(i, given)
		}
		return list
	}
	for i := range s.controls {
		_, s.controls[i].memory, _ = n.Rotation.Sequence(s.atControl(i, nil))
	}
	s.roundsBefore, s.unsettledBefore = s.settle(given, nil, at)
	for i := range s.controls {
		s.controls[i].before = given[i]
		_, s.controls[i].memory, _ = n.Rotation.Sequence(s.atControl(i, given))
		for k, x := range given[i] {
			for u, z := range s.controls[i].cols[k] {
				s.pre[u] += z * x
			}
		}
	}
}

// atControl is the voltage at an inverter before the fault, with what further
// currents the inverters give.
func (s *Solver) atControl(i int, given [][3]complex128) [3]complex128 {
	var v [3]complex128
	c := &s.controls[i]
	for k := range 3 {
		v[k] = s.pre[s.Net.Unknown(c.bus, k)]
		for j := range given {
			for m, x := range given[j] {
				v[k] += c.rows[k][s.Net.Unknown(s.controls[j].bus, m)] * x
			}
		}
	}
	return v
}

// settle iterates: the voltages at the inverters that their currents make,
// the currents that their controls give at these. given holds the currents
// beyond those of before, and is left at the last round. The step is halved
// whenever a round ends further from agreement than the one before, and
// lengthened again slowly. It returns the rounds, and the largest remaining
// change over rated current, 0 where it has settled.
func (s *Solver) settle(given, before [][3]complex128, voltages func([][3]complex128) [][3]complex128) (rounds int, unsettled float64) {
	n := s.Net
	step, last := 1.0, math.Inf(1)
	for rounds = 1; ; rounds++ {
		v := voltages(given)
		change := 0.0
		next := make([][3]complex128, len(given))
		for i := range s.controls {
			c := &s.controls[i]
			_, v1, v2 := n.Rotation.Sequence(v[i])
			i1, i2 := c.data.Current(v1, v2, c.memory)
			next[i] = n.Rotation.Phases(0, i1, i2)
			for k := range 3 {
				if before != nil {
					next[i][k] -= before[i][k]
				}
				next[i][k] -= given[i][k]
				change = math.Max(change, cmplx.Abs(next[i][k])/c.data.RatedCurrent())
			}
		}
		if change <= settledAt {
			return rounds, 0
		}
		if rounds == mostRounds {
			return rounds, change
		}
		if change >= last {
			step = math.Max(step/2, 1./64)
		} else {
			step = math.Min(step*1.1, 1)
		}
		last = change
		for i := range given {
			for k := range 3 {
				given[i][k] += complex(step, 0) * next[i][k]
			}
		}
	}
}

// Controls are the numbers of the inverters in service, in the order of
// Result.Sources.
func (s *Solver) Controls() []int {
	var list []int
	for i := range s.controls {
		list = append(list, s.controls[i].element)
	}
	return list
}

// UnsettledBefore is how far the state before the fault is from agreement
// between inverters and network, over rated current; 0 where it agrees.
func (s *Solver) UnsettledBefore() float64 { return s.unsettledBefore }

// solveControlled solves a fault with inverters: the linear fault again and
// again, on the voltages that the inverters' currents add to.
func (s *Solver) solveControlled(p Place, t *Thevenin, kind Kind, r float64, res *Result) error {
	given := make([][3]complex128, len(s.controls))
	before := make([][3]complex128, len(s.controls))
	for i := range s.controls {
		before[i] = s.controls[i].before
	}
	var failed error
	moved := *t
	res.Rounds, res.Unsettled = s.settle(given, before, func(given [][3]complex128) [][3]complex128 {
		moved.V = t.V
		i := 0
		for _, c := range t.Phases.Conductors() {
			moved.V[i] += s.addedAt(p, c, given)
			i++
		}
		v := make([][3]complex128, len(s.controls))
		if err := s.legsOf(p, &moved, kind, r, res); err != nil {
			failed = err
			return v
		}
		at, inject, m := s.injections(p, res)
		for i := range s.controls {
			v[i] = s.atControl(i, given)
			for k := range 3 {
				for j := range m {
					v[i][k] += s.controls[i].rows[k][at[j]] * inject[j]
				}
				v[i][k] += res.shiftOf(s.Net.FloatingOf(s.Net.Unknown(s.controls[i].bus, k)))
			}
		}
		return v
	})
	if failed != nil {
		return failed
	}
	res.Sources = res.Sources[:0]
	for i := range s.controls {
		src := SourceCurrent{Element: s.controls[i].element, I: given[i]}
		for k := range 3 {
			src.I[k] += before[i][k]
		}
		res.Sources = append(res.Sources, src)
	}
	res.driving = moved.V
	s.observe(p, res, given)
	return nil
}

// addedAt is what further currents of the inverters add to a conductor's
// voltage at a place.
func (s *Solver) addedAt(p Place, conductor int, given [][3]complex128) complex128 {
	n := s.Net
	at := func(bus int) complex128 {
		u := n.Unknown(bus, conductor)
		sum := complex128(0)
		for i := range given {
			for k, x := range given[i] {
				sum += s.controls[i].cols[k][u] * x
			}
		}
		return sum
	}
	if p.Line < 0 {
		return at(p.Bus)
	}
	t, x := n.Elements[p.Line].Terminals, complex(p.Fraction, 0)
	return (1-x)*at(t[0].Bus) + x*at(t[1].Bus)
}

// controlTerms are the inverters whose current a probe counts, with the sign
// of the current into them.
func (s *Solver) controlTerms(p *network.Probe) (list []controlTerm) {
	p.Terms(func(element, _ int, sign float64) {
		for i := range s.controls {
			if s.controls[i].element == element {
				list = append(list, controlTerm{i, sign})
			}
		}
	})
	return list
}

type controlTerm struct {
	control int
	sign    float64
}
