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

// seq2 holds positive and negative sequence; an inverter has no zero sequence.
type seq2 [2]complex128

// A control is an inverter in service, with how its current moves the network.
type control struct {
	element, bus int
	data         *network.InverterData
	rows         [2][]complex128 // its sequence voltages by currents injected at unknowns
	cols         [2][]complex128 // node voltages by its sequence currents
	memory       complex128      // positive-sequence voltage before the fault, V
	before       seq2            // what it gives before the fault, A
	pre          seq2            // its voltages then, V
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
		for q := range c.rows {
			row, col := make([]complex128, dim), make([]complex128, dim)
			for k := range 3 {
				u := n.Unknown(c.bus, k)
				var unit [3]complex128
				unit[k] = 1
				row[u] = sequenceOf(n, unit)[q]
				col[u] = phasesOf(n, unitSequence(q))[k]
			}
			s.factor.SolveTransposed(row)
			s.factor.Solve(col)
			c.rows[q], c.cols[q] = row, col
		}
		s.controls = append(s.controls, c)
	}
	if len(s.controls) == 0 {
		return
	}
	k := len(s.controls)
	s.between = make([]complex128, 4*k*k)
	for i := range s.controls {
		for j := range s.controls {
			for q := range 2 {
				v := sequenceOf(n, s.phasesAt(s.controls[i].bus, s.controls[j].cols[q]))
				for p := range 2 {
					s.between[(2*i+p)*2*k+2*j+q] = v[p]
				}
			}
		}
	}
	for i := range s.controls {
		c := &s.controls[i]
		c.pre = sequenceOf(n, s.phasesAt(c.bus, s.pre))
		c.memory = c.pre[0]
	}
	given, driven := make([]seq2, k), make([]seq2, k)
	for i := range driven {
		driven[i] = s.controls[i].pre
	}
	var rounds int
	s.unsettledBefore = s.settle(given, driven, s.between, &rounds)
	for i := range s.controls {
		s.controls[i].before = given[i]
		for q, x := range given[i] {
			for u, z := range s.controls[i].cols[q] {
				s.pre[u] += z * x
			}
		}
	}
	for i := range s.controls {
		c := &s.controls[i]
		c.pre = sequenceOf(n, s.phasesAt(c.bus, s.pre))
		c.memory = c.pre[0]
	}
}

func sequenceOf(n *network.Network, v [3]complex128) seq2 {
	_, positive, negative := n.Rotation.Sequence(v)
	return seq2{positive, negative}
}

func unitSequence(q int) (s seq2) {
	s[q] = 1
	return s
}

func phasesOf(n *network.Network, s seq2) [3]complex128 { return n.Rotation.Phases(0, s[0], s[1]) }

// phasesAt are the phase voltages of a bus among node voltages.
func (s *Solver) phasesAt(bus int, v []complex128) (out [3]complex128) {
	for k := range out {
		out[k] = v[s.Net.Unknown(bus, k)]
	}
	return out
}

// settle iterates on a linear network: the voltages at the inverters that
// their currents make, the currents that their controls give at these. driven
// are the voltages without given; through[(2i+p)·2k+2j+q] is the voltage of
// sequence p at inverter i for a unit current of sequence q of inverter j.
func (s *Solver) settle(given, driven []seq2, through []complex128, rounds *int) float64 {
	k := len(s.controls)
	return s.iterate(given, rounds, func(given, v []seq2) bool {
		for i := range v {
			v[i] = driven[i]
			for j := range given {
				for q, x := range given[j] {
					if x == 0 {
						continue
					}
					v[i][0] += through[(2*i)*2*k+2*j+q] * x
					v[i][1] += through[(2*i+1)*2*k+2*j+q] * x
				}
			}
		}
		return true
	})
}

// iterate is the iteration itself, for any way to find the voltages v; it ends
// where that can't. given holds the currents beyond those of before, and is
// left at the last round. The step is halved whenever a round ends further
// from agreement than the one before, and lengthened again slowly. It returns
// the largest remaining change over rated current, 0 where it has settled.
func (s *Solver) iterate(given []seq2, rounds *int, voltages func(given, v []seq2) bool) float64 {
	k := len(given)
	v, next := make([]seq2, k), make([]seq2, k)
	step, last := 1.0, math.Inf(1)
	for *rounds = 1; ; *rounds++ {
		if !voltages(given, v) {
			return 0
		}
		change := 0.0
		for i := range s.controls {
			c := &s.controls[i]
			i1, i2 := c.data.Current(v[i][0], v[i][1], c.memory)
			next[i] = seq2{i1 - c.before[0] - given[i][0], i2 - c.before[1] - given[i][1]}
			change = math.Max(change, (cmplx.Abs(next[i][0])+cmplx.Abs(next[i][1]))/c.data.RatedCurrent())
		}
		if change <= settledAt {
			return 0
		}
		if *rounds == mostRounds {
			return change
		}
		if change >= last {
			step = math.Max(step/2, 1./64)
		} else {
			step = math.Min(step*1.1, 1)
		}
		last = change
		for i := range given {
			for q := range given[i] {
				given[i][q] += complex(step, 0) * next[i][q]
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

// solveControlled solves a fault with inverters. The fault's currents are
// linear in the voltages at its place, so what the inverters see is linear in
// their currents with the fault on; the iteration needs that matrix alone.
func (s *Solver) solveControlled(p Place, t *Thevenin, kind Kind, r float64, res *Result) error {
	k := len(s.controls)
	list := t.Phases.Conductors()
	// Fault currents for a unit voltage at each conductor of the place.
	var perVolt [4][4]complex128
	unit := *t
	for i, c := range list {
		unit.V = [4]complex128{}
		unit.V[i] = 1
		if err := s.legsOf(p, &unit, kind, r, res); err != nil {
			return err
		}
		perVolt[c] = res.I
	}
	if err := s.legsOf(p, t, kind, r, res); err != nil {
		return err
	}
	place := make([][2][4]complex128, k) // voltages at the place by sequence currents
	through := make([]complex128, 4*k*k)
	driven := make([]seq2, k)
	for j := range s.controls {
		for q := range 2 {
			for _, c := range list {
				place[j][q][c] = s.atPlace(p, c, s.controls[j].cols[q])
			}
		}
	}
	for i := range s.controls {
		for q := range 2 {
			var back [4]complex128 // the inverter's voltage by currents drawn at the place
			for _, c := range list {
				back[c] = s.atPlace(p, c, s.controls[i].rows[q])
			}
			driven[i][q] = s.controls[i].pre[q]
			for _, c := range list {
				driven[i][q] -= back[c] * res.I[c]
			}
			for j := range s.controls {
				for o := range 2 {
					z := s.between[(2*i+q)*2*k+2*j+o]
					for _, d := range list {
						if u := place[j][o][d]; u != 0 {
							for _, c := range list {
								z -= back[c] * perVolt[d][c] * u
							}
						}
					}
					through[(2*i+q)*2*k+2*j+o] = z
				}
			}
		}
	}
	given := make([]seq2, k)
	var rounds int
	unsettled := s.settle(given, driven, through, &rounds)
	moved := *t
	for j := range given {
		for q, x := range given[j] {
			for i, c := range list {
				moved.V[i] += place[j][q][c] * x
			}
		}
	}
	if err := s.legsOf(p, &moved, kind, r, res); err != nil {
		return err
	}
	res.Rounds, res.Unsettled = rounds, unsettled
	res.Sources = s.sources(given, res.Sources[:0])
	s.observe(p, res, given)
	return nil
}

// sources are the currents of the inverters, in phases, with those of before.
func (s *Solver) sources(given []seq2, list []SourceCurrent) []SourceCurrent {
	for i := range s.controls {
		c := &s.controls[i]
		list = append(list, SourceCurrent{c.element, phasesOf(s.Net, seq2{given[i][0] + c.before[0], given[i][1] + c.before[1]})})
	}
	return list
}

// atPlace is the value at a place's conductor of a vector over unknowns.
func (s *Solver) atPlace(p Place, conductor int, v []complex128) complex128 {
	n := s.Net
	if p.Line < 0 {
		return v[n.Unknown(p.Bus, conductor)]
	}
	t, x := n.Elements[p.Line].Terminals, complex(p.Fraction, 0)
	return (1-x)*v[n.Unknown(t[0].Bus, conductor)] + x*v[n.Unknown(t[1].Bus, conductor)]
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

// watchControls works out how the inverters' sequence currents move a watched
// quantity, by conductor.
func (s *Solver) watchControls(w *watched) {
	if len(s.controls) == 0 {
		return
	}
	for c, row := range w.rows {
		if row == nil {
			continue
		}
		w.from[c] = make([]seq2, len(s.controls))
		for j := range s.controls {
			for q := range 2 {
				unit := phasesOf(s.Net, unitSequence(q))
				for k := range 3 {
					w.from[c][j][q] += row[s.Net.Unknown(s.controls[j].bus, k)] * unit[k]
				}
				for _, t := range w.controls {
					if t.control == j && c < 3 {
						w.from[c][j][q] -= complex(t.sign, 0) * unit[c]
					}
				}
			}
		}
	}
}
