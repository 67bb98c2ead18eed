package fault

import (
	"fmt"
	"math"

	"feederwright/network"
)

// Stop rule of the iteration on inverters: it has settled when no inverter's
// current would change by more than this part of its rated current; it has
// not when it does not get there in so many rounds. Linear plant converges to
// rounding well inside these; what doesn't is a control that jumps between two
// responses at its threshold.
const (
	settledAt  = 1e-6
	mostRounds = 400
)

// seq2 holds positive and negative sequence; an inverter has no zero sequence.
type seq2 [2]complex128

// A control is an inverter in service, with how its current moves the network.
type control struct {
	element, bus int
	data         *network.InverterData
	rated        float64         // rated current, A
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
func (s *Solver) setUpControls() error {
	n := s.Net
	dim := n.Dim()
	for i := range n.Elements {
		e := &n.Elements[i]
		if e.Control == nil || !n.Live(i) || n.Fed[e.Terminals[0].Bus]&abc != abc {
			continue
		}
		if err := s.hasWayBack(e); err != nil {
			return err
		}
		c := control{element: i, bus: e.Terminals[0].Bus, data: e.Control, rated: e.Control.RatedCurrent()}
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
		return nil
	}
	between := func(cols func(i, q int) []complex128) []complex128 {
		k := len(s.controls)
		z := make([]complex128, 4*k*k)
		for i := range s.controls {
			for j := range s.controls {
				for q := range 2 {
					v := sequenceOf(n, s.phasesAt(s.controls[i].bus, cols(j, q)))
					for p := range 2 {
						z[(2*i+p)*2*k+2*j+q] = v[p]
					}
				}
			}
		}
		return z
	}
	s.between = between(func(i, q int) []complex128 { return s.controls[i].cols[q] })
	if !n.Following() {
		s.settleBefore(s.pre, s.between)
	} else if err := s.followControls(between); err != nil {
		return err
	}
	for i := range s.controls {
		for q, x := range s.controls[i].before {
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
	return nil
}

// hasWayBack refuses an inverter in a part without earth that its current
// would charge: where the phases' ratios to that part differ, as behind
// regulators at unequal positions that stand to earth, three currents that sum
// to zero do not balance there, and only magnetising currents would.
func (s *Solver) hasWayBack(e *network.Element) error {
	n := s.Net
	bus := e.Terminals[0].Bus
	part, weight := n.FloatingOf(n.Unknown(bus, 0))
	for k := 1; k < 3; k++ {
		p, w := n.FloatingOf(n.Unknown(bus, k))
		if p != part || part >= 0 && math.Abs(w-weight) > 1e-9*math.Abs(weight) {
			return fmt.Errorf("inverter %s: it stands in a part without earth, behind regulators that have unequal ratios and stand to earth; what its current does there only their magnetising currents decide, which this model leaves out: earth the part, connect the regulators in delta, or set their positions equal", e.Name)
		}
	}
	return nil
}

// settleBefore finds what the inverters give before the fault, on node
// voltages without them.
func (s *Solver) settleBefore(v, between []complex128) {
	k := len(s.controls)
	given, driven := make([]seq2, k), make([]seq2, k)
	for i := range s.controls {
		c := &s.controls[i]
		driven[i] = sequenceOf(s.Net, s.phasesAt(c.bus, v))
		c.memory = driven[i][0]
	}
	var rounds int
	s.unsettledBefore = s.settle(given, driven, between, &rounds, make([]seq2, 2*k))
	for i := range s.controls {
		s.controls[i].before = given[i]
	}
}

// followControls finds it where machines follow the network: on the network
// without them, so that they carry nothing of it, and sets their voltages.
func (s *Solver) followControls(between func(func(i, q int) []complex128) []complex128) error {
	n := s.Net
	without, source := n.WithoutMachines()
	factor, err := without.Factor()
	if err != nil {
		return fmt.Errorf("before the machines' voltages can be found: %w", err)
	}
	v := make([]complex128, n.Dim())
	factor.SolveRefined(without, source, v)
	cols := make([][2][]complex128, len(s.controls))
	for i := range s.controls {
		for q := range 2 {
			col := make([]complex128, n.Dim())
			for k, x := range phasesOf(n, unitSequence(q)) {
				col[n.Unknown(s.controls[i].bus, k)] = x
			}
			factor.Solve(col)
			cols[i][q] = col
		}
	}
	s.settleBefore(v, between(func(i, q int) []complex128 { return cols[i][q] }))
	for i := range s.controls {
		for q, x := range s.controls[i].before {
			for u, z := range cols[i][q] {
				v[u] += z * x
			}
		}
	}
	n.Follow(v)
	s.quality = s.factor.SolveRefined(n.Matrix, n.Source, s.pre)
	return nil
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

// sequences is how many sequences the inverters' currents have: one, unless
// some control gives negative sequence.
func (s *Solver) sequences() int {
	for i := range s.controls {
		if s.controls[i].data.Gain2 > 0 {
			return 2
		}
	}
	return 1
}

// settle iterates on a linear network: the voltages at the inverters that
// their currents make, the currents that their controls give at these. driven
// are the voltages without given; through[(2i+p)·2k+2j+q] is the voltage of
// sequence p at inverter i for a unit current of sequence q of inverter j.
func (s *Solver) settle(given, driven []seq2, through []complex128, rounds *int, v []seq2) float64 {
	k, sequences := len(s.controls), s.sequences()
	return s.iterate(given, rounds, v, func(given, v []seq2) bool {
		for i := range v {
			sum := driven[i]
			for p := range sequences {
				row := through[(2*i+p)*2*k:][:2*k]
				for j := range given {
					sum[p] += row[2*j] * given[j][0]
					if sequences > 1 {
						sum[p] += row[2*j+1] * given[j][1]
					}
				}
			}
			v[i] = sum
		}
		return true
	})
}

// iterate is the iteration itself, for any way to find the voltages v; it ends
// where that can't. given holds the currents beyond those of before, and is
// left at the last round. The step is halved whenever a round ends further
// from agreement than the one before, and lengthened again slowly. It returns
// the largest remaining change over rated current, 0 where it has settled.
func (s *Solver) iterate(given []seq2, rounds *int, v []seq2, voltages func(given, v []seq2) bool) float64 {
	k := len(given)
	next := v[k : 2*k] // room behind the voltages
	v = v[:k]
	step, last := 1.0, math.Inf(1)
	for *rounds = 1; ; *rounds++ {
		if !voltages(given, v) {
			return 0
		}
		change := 0.0 // squared
		for i := range s.controls {
			c := &s.controls[i]
			i1, i2 := c.data.Current(v[i][0], v[i][1], c.memory)
			next[i] = seq2{i1 - c.before[0] - given[i][0], i2 - c.before[1] - given[i][1]}
			change = max(change, (square(next[i][0])+square(next[i][1]))/(c.rated*c.rated))
		}
		if change <= settledAt*settledAt {
			for i := range given { // nearer still, for nothing
				given[i][0] += next[i][0]
				given[i][1] += next[i][1]
			}
			return 0
		}
		if *rounds == mostRounds {
			return math.Sqrt(change)
		}
		if change >= last {
			step = max(step/2, 1./64)
		} else {
			step = min(step*1.1, 1)
		}
		last = change
		for i := range given {
			for q := range given[i] {
				given[i][q] += complex(step, 0) * next[i][q]
			}
		}
	}
}

func square(x complex128) float64 { return real(x)*real(x) + imag(x)*imag(x) }

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

// room is what one worker needs for faults with inverters, kept between them.
type room struct {
	place                  Place
	known                  bool            // the next two hold for place
	cols, rows             [][4]complex128 // voltages at the place by the inverters' currents, and theirs by currents there; 2j+q
	through                []complex128    // see settle
	driven, given, voltage []seq2          // voltage has room for twice the inverters
}

func (s *Solver) newRoom() *room {
	k := len(s.controls)
	return &room{cols: make([][4]complex128, 2*k), rows: make([][4]complex128, 2*k), through: make([]complex128, 4*k*k),
		driven: make([]seq2, k), given: make([]seq2, k), voltage: make([]seq2, 2*k)}
}

// solveControlled solves a fault with inverters. The fault's currents are
// linear in the voltages at its place, so what the inverters see is linear in
// their currents with the fault on; the iteration needs that matrix alone.
func (s *Solver) solveControlled(p Place, t *Thevenin, kind Kind, r float64, res *Result) error {
	k, sequences := len(s.controls), s.sequences()
	if res.room == nil {
		res.room = s.newRoom()
	}
	w := res.room
	list := t.Phases.Conductors()
	if !w.known || w.place != p {
		w.place, w.known = p, true
		for j := range s.controls {
			for q := range sequences {
				w.rows[2*j+q] = [4]complex128{}
				for i, c := range list {
					w.cols[2*j+q][i] = s.atPlace(p, c, s.controls[j].cols[q])
					w.rows[2*j+q][c] = s.atPlace(p, c, s.controls[j].rows[q])
				}
			}
		}
	}
	var e mesh
	if err := s.solveMesh(&e, p, t, kind, r, res, true); err != nil {
		return err
	}
	// What the fault draws from each conductor without what the inverters add,
	// and for a unit voltage in each leg.
	drawn := func(column int) (d [4]complex128) {
		for i := range e.l.n {
			d[e.l.a[i]] += e.m[i][column]
			if e.l.b[i] >= 0 {
				d[e.l.b[i]] -= e.m[i][column]
			}
		}
		return d
	}
	first := drawn(7)
	var perVolt [3][4]complex128
	for i := range e.l.n {
		perVolt[i] = drawn(8 + i)
	}
	for i := range s.controls {
		w.driven[i] = s.controls[i].pre
		w.given[i] = seq2{}
		for q := range sequences {
			for c, x := range first {
				w.driven[i][q] -= w.rows[2*i+q][c] * x
			}
		}
	}
	for j := range s.controls {
		for o := range sequences {
			var sum [4]complex128
			for leg := range e.l.n {
				u := e.across(leg, &w.cols[2*j+o])
				for c, x := range perVolt[leg] {
					sum[c] += x * u
				}
			}
			for i := range s.controls {
				for q := range sequences {
					at := (2*i+q)*2*k + 2*j + o
					row := &w.rows[2*i+q]
					w.through[at] = s.between[at] - row[0]*sum[0] - row[1]*sum[1] - row[2]*sum[2] - row[3]*sum[3]
				}
			}
		}
	}
	var rounds int
	unsettled := s.settle(w.given, w.driven, w.through, &rounds, w.voltage)
	moved := *t
	for j := range w.given {
		for q := range sequences {
			for i := range list {
				moved.V[i] += w.cols[2*j+q][i] * w.given[j][q]
			}
		}
	}
	var x [7]complex128
	for i := range e.size {
		x[i] = e.m[i][7]
		for leg := range e.l.n {
			x[i] += e.m[i][8+leg] * (e.across(leg, &moved.V) - e.across(leg, &t.V))
		}
	}
	e.finish(&moved, &x, res)
	res.Rounds, res.Unsettled = rounds, unsettled
	res.Sources = s.sources(w.given, res.Sources[:0])
	s.observe(p, res, w.given)
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

// watchControls works out how the inverters' currents move a watched quantity,
// by conductor: an entry for each sequence of each inverter.
func (s *Solver) watchControls(w *watched) {
	if len(s.controls) == 0 {
		return
	}
	for c, row := range w.rows {
		if row == nil {
			continue
		}
		for j := range s.controls {
			for q := range s.sequences() {
				unit := phasesOf(s.Net, unitSequence(q))
				sum := complex128(0)
				for k := range 3 {
					sum += row[s.Net.Unknown(s.controls[j].bus, k)] * unit[k]
				}
				for _, t := range w.controls {
					if t.control == j && c < 3 {
						sum -= complex(t.sign, 0) * unit[c]
					}
				}
				w.from[c] = append(w.from[c], sum)
			}
		}
	}
}
