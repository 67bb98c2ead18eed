package fault

import (
	"errors"
	"fmt"
	"math"
	"math/cmplx"
	"slices"
	"strings"

	"feederwright/network"
	"feederwright/quantity"
	"feederwright/study"
)

// A Break is a conductor that is open in series.
type Break int

const (
	NoBreak         Break = iota
	OpenConductor         // open: the conductors are open, both ends in the air
	OpenFromEarthed       // open-from-g: the end towards the first bus of the branch lies on earth
	OpenToEarthed         // open-to-g: the end towards the second bus lies on earth
)

var breakNames = map[string]Break{"open": OpenConductor, "open-from-g": OpenFromEarthed, "open-to-g": OpenToEarthed}

func (b Break) String() string {
	for n, x := range breakNames {
		if x == b {
			return n
		}
	}
	return ""
}

// A Part is one of several things wrong at once: a short circuit at a place,
// or open conductors in a branch.
type Part struct {
	Place      Place
	Kind       Kind    // of a short circuit; for a break, Phases are those open
	Break      Break   // not NoBreak: the phases are open here
	Resistance float64 // ohm: of the short circuit, or of the earthed end

	// Element and Terminal are set for a break at the end of a branch; a break
	// inside a line has the line as its Place and Terminal −1.
	Element, Terminal int
}

func (p Part) String() string {
	if p.Break != NoBreak {
		return p.Break.String() + ":" + p.Kind.Phases.Letters()
	}
	return p.Kind.String()
}

// A Compound is the result of several parts at once.
type Compound struct {
	Parts  []PartResult
	State  []complex128 // node voltages, by unknown
	Result              // what is watched; its I, V and Earth are those of the first short circuit, or of the first part

	elements map[int][]complex128 // currents into elements that a part changes
}

// A PartResult is what happens at one part.
type PartResult struct {
	Part
	I      [4]complex128 // current drawn from each conductor, A (of a break: by its earthed end)
	Earth  complex128    // current into earth, A
	V      [4]complex128 // voltages to earth at the place, V; of a break: on the side of the first bus
	Beyond [4]complex128 // of a break: voltages on the other side
	Across [4]complex128 // of a break: voltage across it
}

// unknown quantity of a compound fault.
type unknown struct {
	part int
	leg  int  // of a short circuit, or of an earthed end
	open bool // a voltage across a break
	c    int  // conductor of a break or earthed end
	x    []complex128
}

// ErrOpenEnd says that a break leaves conductors without any path.
var ErrOpenEnd = errors.New("beyond the open conductor nothing determines the voltage: no load and no charging is counted there")

// ErrNoShare says that short circuits without resistance join the same
// conductors.
var ErrNoShare = errors.New("two of the faults join the same conductors at one place without resistance: how the current divides between them is not determined")

// unsolved says why several things at once have no single solution.
func unsolved(parts []Part) error {
	for _, p := range parts {
		if p.Break != NoBreak {
			return ErrOpenEnd
		}
	}
	return ErrNoShare
}

// Compound computes several things at once: short circuits at different
// places and open conductors.
//
// Each leg of a short circuit is an unknown current, each open conductor an
// unknown voltage in series with it. With the node voltages linear in both,
//
//	V = V_before + Σ A⁻¹·J_k·x_k
//
// the conditions (no voltage drives a leg but its resistance; no current
// through a break; no current out of a part without earth) are a small system.
// A break at an end of a branch puts the voltage in series with the
// conductor there; inside a line it stands at the place, with the series
// impedance divided.
func (s *Solver) Compound(parts []Part) (*Compound, error) {
	if len(parts) == 0 {
		return nil, errors.New("nothing is wrong: give at least one fault")
	}
	if s.factor == nil {
		return nil, ErrNoSource
	}
	lines := map[int]bool{}
	for _, p := range parts {
		if err := s.checkPart(p); err != nil {
			return nil, err
		}
		if p.Place.Line >= 0 {
			if lines[p.Place.Line] {
				return nil, fmt.Errorf("two places on line %s: put a bus at one of them", s.Net.Elements[p.Place.Line].Name)
			}
			lines[p.Place.Line] = true
		}
	}
	var us []unknown
	for i, p := range parts {
		if p.Break == NoBreak {
			for k := 0; k < p.Kind.legs(0).n; k++ {
				us = append(us, unknown{part: i, leg: k})
			}
			continue
		}
		for _, c := range p.Kind.Phases.Conductors() {
			us = append(us, unknown{part: i, open: true, c: c})
		}
		if p.Break != OpenConductor {
			for _, c := range p.Kind.Phases.Conductors() {
				us = append(us, unknown{part: i, c: c})
			}
		}
	}
	n := s.Net
	dim := n.Dim()
	for k := range us {
		us[k].x = make([]complex128, dim)
		b := make([]complex128, dim)
		s.inject(parts, &us[k], b)
		s.factor.SolveRefined(n.Matrix, b, us[k].x)
	}
	// Floating parts that the injections would charge: their sum must be zero.
	floats := s.floatingOf(parts, us)
	size := len(us) + len(floats)
	m := newDense(size)
	for r := range us {
		// The condition of unknown r, evaluated on each unknown's response and on the state before.
		for c := range us {
			m.set(r, c, s.condition(parts, &us[r], us[c].x, &us[c]))
		}
		if us[r].open {
			m.least[r] = s.interrupted(parts[us[r].part], us[r].c)
		}
		for f, part := range floats {
			shift := make([]complex128, dim)
			for u := range shift {
				if g, w := n.FloatingOf(u); g == part {
					shift[u] = complex(w, 0)
				}
			}
			m.set(r, len(us)+f, s.condition(parts, &us[r], shift, nil))
		}
	}
	for f, part := range floats {
		for c := range us {
			b := make([]complex128, dim)
			s.inject(parts, &us[c], b)
			sum := complex128(0)
			for u, v := range b {
				if g, w := n.FloatingOf(u); g == part {
					sum += v * complex(w, 0)
				}
			}
			m.set(len(us)+f, c, sum)
		}
	}
	var x []complex128
	ok := true
	out := &Compound{elements: map[int][]complex128{}}
	// The state for given currents of the inverters beyond those of before.
	solve := func(given []seq2) {
		base := append([]complex128(nil), s.pre...)
		for i := range given {
			for k, j := range given[i] {
				for u, z := range s.controls[i].cols[k] {
					base[u] += z * j
				}
			}
		}
		for r := range us {
			m.right[r] = s.injected(parts, &us[r]) - s.condition(parts, &us[r], base, nil)
		}
		if x, ok = m.solve(); !ok {
			return
		}
		for k := range us {
			for u := range base {
				base[u] += us[k].x[u] * x[k]
			}
		}
		for f, part := range floats {
			for u := range base {
				if g, w := n.FloatingOf(u); g == part {
					base[u] += x[len(us)+f] * complex(w, 0)
				}
			}
		}
		out.State = base
	}
	if len(s.controls) == 0 {
		solve(nil)
		if !ok {
			return nil, unsolved(parts)
		}
		s.collect(out, parts, us, x)
		return out, nil
	}
	given := make([]seq2, len(s.controls))
	var rounds int
	unsettled := s.iterate(given, &rounds, make([]seq2, 2*len(s.controls)), func(given, v []seq2) bool {
		if solve(given); !ok {
			return false
		}
		for i := range v {
			v[i] = sequenceOf(n, s.phasesAt(s.controls[i].bus, out.State))
		}
		return true
	})
	if ok {
		solve(given) // the last round moved the currents once more
	}
	if !ok {
		return nil, unsolved(parts)
	}
	sources := s.sources(given, nil)
	for _, src := range sources {
		out.elements[src.Element] = []complex128{-src.I[0], -src.I[1], -src.I[2]}
	}
	s.collect(out, parts, us, x)
	out.Result.Sources, out.Result.Rounds, out.Result.Unsettled = sources, rounds, unsettled
	return out, nil
}

// injected is the part of a source's own current in the condition of unknown
// r: where a break is at the end of a source.
func (s *Solver) injected(parts []Part, r *unknown) complex128 {
	p := parts[r.part]
	if !r.open || p.Terminal < 0 || s.Net.Elements[p.Element].Inject == nil {
		return 0
	}
	return s.Net.Elements[p.Element].Inject[s.rowOf(p.Element, p.Terminal, r.c)]
}

func (s *Solver) checkPart(p Part) error {
	n := s.Net
	if p.Break != NoBreak && p.Terminal >= 0 {
		if !n.Live(p.Element) {
			return ErrNoSource
		}
		if p.Kind.Phases&^n.Elements[p.Element].Terminals[p.Terminal].Phases != 0 {
			return ErrNoPhase
		}
		return nil
	}
	t, err := s.At(p.Place)
	if err != nil {
		return err
	}
	if p.Break != NoBreak && p.Place.Line < 0 {
		return errors.New("an open conductor is in a branch: give a place on a line, or an end of a branch")
	}
	if p.Kind.Conductors()&^t.Phases != 0 {
		return ErrNoPhase
	}
	return nil
}

// inverseSeries is the inverse of a line's series matrix, as stamped: the part
// of its admittance between the two ends, with the sign turned.
func (s *Solver) inverseSeries(line, i, j int) complex128 {
	e := &s.Net.Elements[line]
	k := e.Terminals[0].Phases.Count()
	return -e.Y[i*2*k+k+j]
}

// inject adds the node currents of one unknown of size one.
func (s *Solver) inject(parts []Part, u *unknown, b []complex128) {
	n := s.Net
	p := parts[u.part]
	draw := func(c int, sign complex128) {
		if p.Place.Line < 0 {
			b[n.Unknown(p.Place.Bus, c)] -= sign
			return
		}
		t := n.Elements[p.Place.Line].Terminals
		x := complex(p.Place.Fraction, 0)
		b[n.Unknown(t[0].Bus, c)] -= (1 - x) * sign
		b[n.Unknown(t[1].Bus, c)] -= x * sign
	}
	switch {
	case u.open && p.Terminal >= 0:
		// Current into the element is Y·(V − u·e): the network gains Y·e·u.
		for r, row := range s.column(p.Element, p.Terminal, u.c) {
			b[s.row(p.Element, r)] += row
		}
	case u.open:
		e := &n.Elements[p.Place.Line]
		j := place(e.Terminals[0].Phases, u.c)
		for i, c := range e.Terminals[0].Phases.Conductors() {
			y := s.inverseSeries(p.Place.Line, i, j)
			b[n.Unknown(e.Terminals[0].Bus, c)] += y
			b[n.Unknown(e.Terminals[1].Bus, c)] -= y
		}
	case p.Break != NoBreak && p.Terminal >= 0:
		// The bus delivers what the element takes and what the earthed end takes, on whichever side of the break it is.
		b[n.Unknown(n.Elements[p.Element].Terminals[p.Terminal].Bus, u.c)]--
	case p.Break != NoBreak:
		draw(u.c, 1)
	default:
		l := p.Kind.legs(0)
		draw(l.a[u.leg], 1)
		if l.b[u.leg] >= 0 {
			draw(l.b[u.leg], -1)
		}
	}
	n.ClearSolid(b)
}

// earthedAtBus tells whether the earthed end of a break at a branch's end is
// the bus side.
func (s *Solver) earthedAtBus(p Part) bool {
	return (p.Break == OpenFromEarthed) == (p.Terminal == 0)
}

// row is the unknown of a row of an element's matrix.
func (s *Solver) row(element, r int) int {
	e := &s.Net.Elements[element]
	for _, t := range e.Terminals {
		for _, c := range t.Phases.Conductors() {
			if r == 0 {
				return s.Net.Unknown(t.Bus, c)
			}
			r--
		}
	}
	panic("fault: row beyond the element's matrix")
}

// rowOf is the row of a conductor at a terminal in an element's matrix.
func (s *Solver) rowOf(element, terminal, c int) int {
	e := &s.Net.Elements[element]
	r := 0
	for _, t := range e.Terminals[:terminal] {
		r += t.Phases.Count()
	}
	return r + place(e.Terminals[terminal].Phases, c)
}

func (s *Solver) column(element, terminal, c int) []complex128 {
	e := &s.Net.Elements[element]
	k := 0
	for _, t := range e.Terminals {
		k += t.Phases.Count()
	}
	col := make([]complex128, k)
	j := s.rowOf(element, terminal, c)
	for i := range col {
		col[i] = e.Y[i*k+j]
	}
	return col
}

// interrupted is the size of the admittance that a break takes out: what its
// current is without cancellation, per volt.
func (s *Solver) interrupted(p Part, c int) float64 {
	if p.Terminal >= 0 {
		return cmplx.Abs(s.column(p.Element, p.Terminal, c)[s.rowOf(p.Element, p.Terminal, c)])
	}
	i := place(s.Net.Elements[p.Place.Line].Terminals[0].Phases, c)
	return cmplx.Abs(s.inverseSeries(p.Place.Line, i, i))
}

// condition is the left side of the condition of unknown r, on given node
// voltages v, for a unit of unknown x (nil: none), of which only direct
// effects count, as v already holds its effect through the network. What a
// source's own current adds is left out, see injected.
func (s *Solver) condition(parts []Part, r *unknown, v []complex128, x *unknown) complex128 {
	p := parts[r.part]
	same := x != nil && x.part == r.part
	switch {
	case r.open && p.Terminal >= 0:
		// Current into the element's conductor, less what its earthed end takes on the branch side.
		i := s.elementRow(p.Element, s.rowOf(p.Element, p.Terminal, r.c), v)
		if same && x.open {
			i -= s.column(p.Element, p.Terminal, x.c)[s.rowOf(p.Element, p.Terminal, r.c)]
		}
		if same && !x.open && p.Break != OpenConductor && !s.earthedAtBus(p) && x.c == r.c {
			i++ // the element takes −I where its end gives I to earth
		}
		return i
	case r.open:
		return s.breakCurrent(p, r.c, v, x, same)
	}
	// A voltage condition: of a leg, or of an earthed end.
	at := func(c int) complex128 { return s.placeVoltage(p, c, v, x, same) }
	var u complex128
	resistance := complex(p.Resistance, 0)
	if p.Break != NoBreak {
		u = at(r.c)
		if same && !x.open && x.c == r.c {
			u -= resistance
		}
		return u
	}
	l := p.Kind.legs(p.Resistance)
	u = at(l.a[r.leg])
	if l.b[r.leg] >= 0 {
		u -= at(l.b[r.leg])
	}
	if same {
		u -= complex(l.r[r.leg][x.leg], 0)
	}
	return u
}

func (s *Solver) elementRow(element, r int, v []complex128) complex128 {
	e := &s.Net.Elements[element]
	k, sum := 0, complex128(0)
	for _, t := range e.Terminals {
		k += t.Phases.Count()
	}
	for j := 0; j < k; j++ {
		if y := e.Y[r*k+j]; y != 0 {
			sum += y * v[s.row(element, j)]
		}
	}
	return sum
}

// drawn is the current vector that a unit of unknown x draws at the place of
// part p, by conductor; x belongs to p.
func drawn(p Part, x *unknown) (d [4]complex128) {
	if x == nil || x.open {
		return d
	}
	if p.Break != NoBreak {
		d[x.c] = 1
		return d
	}
	l := p.Kind.legs(0)
	d[l.a[x.leg]]++
	if l.b[x.leg] >= 0 {
		d[l.b[x.leg]]--
	}
	return d
}

// breakCurrent is the current through a break inside a line, conductor c: in
// the first part of the line where the far end is earthed, else in the second.
//
//	i1 = Zs⁻¹·(V1 − V2 − u) + (1−x)·I      i2 = i1 − I
func (s *Solver) breakCurrent(p Part, c int, v []complex128, x *unknown, same bool) complex128 {
	n := s.Net
	e := &n.Elements[p.Place.Line]
	t := e.Terminals
	r := place(t[0].Phases, c)
	sum := complex128(0)
	for j, d := range t[0].Phases.Conductors() {
		drop := v[n.Unknown(t[0].Bus, d)] - v[n.Unknown(t[1].Bus, d)]
		if same && x.open && x.c == d {
			drop--
		}
		sum += s.inverseSeries(p.Place.Line, r, j) * drop
	}
	if same {
		share := complex(1-p.Place.Fraction, 0)
		if p.Break == OpenFromEarthed {
			share = complex(-p.Place.Fraction, 0) // i2
		}
		sum += share * drawn(p, x)[c]
	}
	return sum
}

// placeVoltage is the voltage to earth at a part's place: of a bus, of a place
// on a line, or of the earthed end of a break.
func (s *Solver) placeVoltage(p Part, c int, v []complex128, x *unknown, same bool) complex128 {
	n := s.Net
	if p.Break != NoBreak && p.Terminal >= 0 {
		t := n.Elements[p.Element].Terminals[p.Terminal]
		u := v[n.Unknown(t.Bus, c)]
		if !s.earthedAtBus(p) && same && x.open && x.c == c {
			u-- // the branch side lies behind the break's voltage
		}
		return u
	}
	if p.Place.Line < 0 {
		return v[n.Unknown(p.Place.Bus, c)]
	}
	e := &n.Elements[p.Place.Line]
	t := e.Terminals
	f := complex(p.Place.Fraction, 0)
	u := (1-f)*v[n.Unknown(t[0].Bus, c)] + f*v[n.Unknown(t[1].Bus, c)]
	if !same {
		return u
	}
	if x.open && x.c == c {
		u += f // before the break: V1 − x·Zs·i1, with i1 lowered by Zs⁻¹·u
		if p.Break == OpenToEarthed {
			u-- // beyond it
		}
	}
	d := drawn(p, x)
	k := t[0].Phases.Count()
	for j, o := range t[0].Phases.Conductors() {
		u -= f * (1 - f) * e.Series[place(t[0].Phases, c)*k+j] * d[o]
	}
	return u
}

// floatingOf lists the floating parts whose balance the unknowns could upset.
// Parts that only these faults join have one condition between them, and one
// shift: what leaves the one enters the other. Of such the first stands.
func (s *Solver) floatingOf(parts []Part, us []unknown) []int {
	n := s.Net
	rows := make(map[int][]complex128)
	for k := range us {
		b := make([]complex128, n.Dim())
		s.inject(parts, &us[k], b)
		sum := map[int]complex128{}
		size := map[int]float64{}
		for u, v := range b {
			if v == 0 {
				continue
			}
			if g, w := n.FloatingOf(u); g >= 0 {
				sum[g] += v * complex(w, 0)
				size[g] += cmplx.Abs(v) * math.Abs(w)
			}
		}
		for g, v := range sum {
			if cmplx.Abs(v) <= sameWeight*size[g] {
				continue // rounding
			}
			if rows[g] == nil {
				rows[g] = make([]complex128, len(us))
			}
			rows[g][k] = v
		}
	}
	var list []int
	var basis [][]complex128 // orthogonal
	for g := range n.Floating {
		row := rows[g]
		if row == nil {
			continue
		}
		size := norm(row)
		for _, q := range basis {
			f, d := complex128(0), norm(q)
			for k := range q {
				f += row[k] * cmplx.Conj(q[k])
			}
			for k := range q {
				row[k] -= f / complex(d*d, 0) * q[k]
			}
		}
		if norm(row) > sameWeight*size {
			list, basis = append(list, g), append(basis, row)
		}
	}
	return list
}

func norm(v []complex128) float64 {
	sum := 0.0
	for _, x := range v {
		sum += real(x)*real(x) + imag(x)*imag(x)
	}
	return math.Sqrt(sum)
}

// collect fills in what the parts and the watched places see.
func (s *Solver) collect(out *Compound, parts []Part, us []unknown, x []complex128) {
	n := s.Net
	for i, p := range parts {
		r := PartResult{Part: p}
		terminals := []network.Terminal{}
		if p.Break != NoBreak && p.Terminal >= 0 {
			terminals = append(terminals, n.Elements[p.Element].Terminals[p.Terminal])
		} else if p.Place.Line >= 0 {
			terminals = append(terminals, n.Elements[p.Place.Line].Terminals[0])
		}
		phases := quantity.Phases(0)
		if len(terminals) > 0 {
			phases = terminals[0].Phases
		} else {
			phases = n.Fed[p.Place.Bus]
		}
		for k := range us {
			if us[k].part != i {
				continue
			}
			if us[k].open {
				// The unknown is the bus's voltage less the branch's; at the first end alone the bus is the side of the first bus.
				r.Across[us[k].c] = x[k]
				if p.Terminal > 0 {
					r.Across[us[k].c] = -x[k]
				}
				continue
			}
			d := drawn(p, &us[k])
			for c := range d {
				r.I[c] += d[c] * x[k]
				r.Earth += d[c] * x[k]
			}
		}
		for _, c := range phases.Conductors() {
			q := p
			if q.Break != NoBreak { // the side of the first bus
				q.Break = OpenFromEarthed
			}
			v := s.placeVoltage(q, c, out.State, nil, false)
			for k := range us {
				if us[k].part == i {
					zero := make([]complex128, n.Dim())
					v += s.placeVoltage(q, c, zero, &us[k], true) * x[k]
				}
			}
			r.V[c] = v
			r.Beyond[c] = v - r.Across[c]
		}
		out.Parts = append(out.Parts, r)
		s.changed(out, p, us, x, i)
	}
	first := out.Parts[0]
	for _, r := range out.Parts {
		if r.Break == NoBreak {
			first = r
			break
		}
	}
	if first.Break != NoBreak && first.Terminal >= 0 {
		first.Place = Place{Bus: -1, Line: -1} // an end of a branch: it has no side of its own
	}
	out.Result = Result{Place: first.Place, Kind: first.Kind, Resistance: first.Resistance, I: first.I, Earth: first.Earth, V: first.V,
		Current: make([][4]complex128, len(s.currents)), Voltage: make([][4]complex128, len(s.voltages)),
		available: 1} // a billionth of an ampere is rounding
	for _, r := range out.Parts {
		place := r.Place
		if r.Break != NoBreak && r.Terminal >= 0 {
			place = Place{Bus: -1, Line: -1}
		}
		out.Result.others = append(out.Result.others, place)
	}
	for i := range s.currents {
		w := &s.currents[i]
		if !w.probe.Carries() {
			continue
		}
		for _, c := range w.has.Conductors() {
			out.Result.Current[i][c] = s.throughProbe(out, w.probe, c)
		}
	}
	for i := range s.voltages {
		w := &s.voltages[i]
		for _, c := range w.has.Conductors() {
			out.Result.Voltage[i][c] = out.State[n.Unknown(w.bus, c)]
		}
	}
}

// changed works out the currents into an element that a part sits in.
func (s *Solver) changed(out *Compound, p Part, us []unknown, x []complex128, part int) {
	n := s.Net
	element := p.Place.Line
	if p.Break != NoBreak && p.Terminal >= 0 {
		element = p.Element
	}
	if element < 0 {
		return
	}
	cur, ok := out.elements[element]
	if !ok {
		cur = n.ElementCurrents(element, out.State)
	}
	for k := range us {
		if us[k].part != part {
			continue
		}
		if p.Terminal >= 0 && p.Break != NoBreak {
			if us[k].open {
				for i, y := range s.column(element, p.Terminal, us[k].c) {
					cur[i] -= y * x[k]
				}
			}
			continue
		}
		e := &n.Elements[element]
		m := e.Terminals[0].Phases.Count()
		if us[k].open {
			j := place(e.Terminals[0].Phases, us[k].c)
			for i := 0; i < m; i++ {
				y := s.inverseSeries(element, i, j) * x[k]
				cur[i] -= y
				cur[m+i] += y
			}
			continue
		}
		d := drawn(p, &us[k])
		for i, c := range e.Terminals[0].Phases.Conductors() {
			cur[i] += complex(1-p.Place.Fraction, 0) * d[c] * x[k]
			cur[m+i] += complex(p.Place.Fraction, 0) * d[c] * x[k]
		}
	}
	out.elements[element] = cur
}

// throughProbe is the current of a conductor through a probe.
func (s *Solver) throughProbe(out *Compound, p *network.Probe, c int) complex128 {
	sum := complex128(0)
	var visit func(element, terminal int, sign float64)
	visit = func(element, terminal int, sign float64) {
		e := &s.Net.Elements[element]
		if !e.Terminals[terminal].Phases.HasConductor(c) {
			return
		}
		if e.Solid {
			s.Net.SolidTerms(element, func(i, t int, share float64) { visit(i, t, sign*share) })
			return
		}
		cur, ok := out.elements[element]
		if !ok {
			cur = s.Net.ElementCurrents(element, out.State)
		}
		i := cur[s.rowOf(element, terminal, c)]
		for _, r := range out.Parts {
			// A break at the end of a branch lies beyond the place measured at, with its earthed end.
			if r.Break != NoBreak && r.Terminal == terminal && r.Element == element {
				i += r.I[c]
			}
		}
		sum += complex(sign, 0) * i
	}
	p.Terms(visit)
	for _, r := range out.Parts {
		if r.Break == NoBreak && r.Place.Line < 0 {
			sum += complex(p.Direct(r.Place.Bus), 0) * r.I[c]
			if c == 3 {
				sum += complex(s.Net.SolidDirect(p, r.Place.Bus), 0) * r.I[c]
			}
		}
	}
	return sum
}

// A wanted is a part as it was asked for, before it has a place in a network.
type wanted struct {
	text  string
	brk   Break
	kind  Kind
	where string
	// On a line: its name and the fraction; of a break at a device between two
	// buses, its name.
	line     string
	fraction float64
	device   string
}

// ParseParts reads "lg:A@N3+lg:B@N5", "open:A@L2/40%" or "open-to-g:A@L2/40%".
// An end of a branch is BRANCH/BUS; a device that a conductor is open in is
// its name. It returns the case that the places are in: this one, or one made
// for them where several places are on one line, or a device between two
// buses is opened.
func (c *Case) ParseParts(text string) (*Case, []Part, error) {
	var list []wanted
	onLine := map[string][]float64{}
	options := network.Options{Split: map[string][]float64{}, Bridge: map[string]bool{}, Flow: c.options.Flow, Held: c.options.Held}
	for _, piece := range strings.Split(text, "+") {
		w, err := c.parseWanted(strings.TrimSpace(piece))
		if err != nil {
			return nil, nil, err
		}
		list = append(list, w)
		switch {
		case w.line != "":
			onLine[w.line] = append(onLine[w.line], w.fraction)
		case w.device != "":
			options.Bridge[w.device] = true
		}
	}
	for line, fractions := range onLine {
		if len(fractions) < 2 {
			continue
		}
		slices.Sort(fractions)
		for _, x := range slices.Compact(fractions) {
			if x > 0 && x < 1 {
				options.Split[line] = append(options.Split[line], x)
			}
		}
	}
	if len(options.Split) > 0 || len(options.Bridge) > 0 {
		var err error
		if c, err = openWith(c.Doc, c.Model.State, options); err != nil {
			return nil, nil, err
		}
	}
	var parts []Part
	for _, w := range list {
		p, err := c.place(w)
		if err != nil {
			return nil, nil, fmt.Errorf("%q: %w", w.text, err)
		}
		parts = append(parts, p)
	}
	return c, parts, nil
}

func (c *Case) parseWanted(piece string) (wanted, error) {
	w := wanted{text: piece}
	kind, where, ok := strings.Cut(piece, "@")
	if !ok {
		return w, fmt.Errorf("%q: each part needs its place, as lg:A@N3", piece)
	}
	w.where = strings.TrimSpace(where)
	name, phases, _ := strings.Cut(kind, ":")
	if b, isBreak := breakNames[name]; isBreak {
		w.brk = b
		if err := w.kind.Phases.UnmarshalText([]byte(phases)); err != nil {
			return w, fmt.Errorf("%q: say which phases are open, as open:A: %w", piece, err)
		}
		for _, d := range c.Doc.Devices() {
			if d.Name != w.where {
				continue
			}
			if c.Model.State.Open[d.Name] {
				return w, fmt.Errorf("%q: %s %s is open already in condition %q", piece, d.Kind, d.Name, c.Model.State.Name)
			}
			if d.In.Given { // at that end of its branch
				w.where = string(d.In.V) + "/" + string(d.Near.V)
				return w, nil
			}
			w.device = d.Name
			return w, nil
		}
		if branch, end, ok := strings.Cut(w.where, "/"); ok {
			if b, known := c.Doc.Branch(branch); known && b.End(study.Ref(end)) >= 0 {
				return w, nil
			}
		}
	} else {
		kinds, err := ParseKinds(kind)
		if err != nil {
			return w, err
		}
		if len(kinds) != 1 {
			return w, fmt.Errorf("%q: say which phases, as lg:A", piece)
		}
		w.kind = kinds[0]
	}
	if line, along, ok := strings.Cut(w.where, "/"); ok {
		if e := c.Doc.Lines.Find(line); e != nil {
			x, err := alongLine(along, float64(e.Item.Length.V))
			if err != nil {
				return w, fmt.Errorf("%q: %w", piece, err)
			}
			w.line, w.fraction = line, x
		}
	}
	return w, nil
}

// place gives a part its place in the network.
func (c *Case) place(w wanted) (Part, error) {
	p := Part{Break: w.brk, Kind: w.kind, Element: -1, Terminal: -1, Place: Place{Line: -1}}
	if w.device != "" {
		if p.Element = c.Net.ElementByName(network.Reactor, w.device); p.Element < 0 {
			return p, fmt.Errorf("%s can't be opened phase by phase here", w.device)
		}
		p.Terminal = 0
		return p, nil
	}
	if fractions := c.options.Split[w.line]; len(fractions) > 0 {
		// The piece that ends at the place; the first begins at the line's first bus.
		n, found := slices.BinarySearch(fractions, w.fraction)
		end := 1
		switch {
		case w.fraction == 0:
			n, end = 0, 0
		case !found:
			n = len(fractions)
		}
		e := c.Net.ElementByName(network.Line, network.PieceName(w.line, n))
		if w.brk != NoBreak {
			p.Element, p.Terminal = e, end
			return p, nil
		}
		p.Place = AtBus(c.Net.Elements[e].Terminals[end].Bus)
		return p, nil
	}
	if w.brk != NoBreak {
		err := c.breakPlace(&p, w.where)
		return p, err
	}
	place, err := c.ParsePlace(w.where)
	p.Place = place.Place
	return p, err
}

// breakPlace reads where a conductor is open: on a line, or at the end of a
// branch near a bus.
func (c *Case) breakPlace(p *Part, where string) error {
	name, bus, ok := strings.Cut(where, "/")
	if branch, known := c.Doc.Branch(name); ok && known {
		e := c.Net.BranchByName(name)
		if t := branch.End(study.Ref(bus)); e >= 0 && t >= 0 {
			p.Element, p.Terminal = e, t
			return nil
		}
		if branch.Kind != "line" {
			var ends []string
			for _, end := range branch.Ends {
				ends = append(ends, name+"/"+string(end.V))
			}
			if e < 0 {
				return fmt.Errorf("%s %s is out of service in condition %q", branch.Kind, name, c.Model.State.Name)
			}
			return fmt.Errorf("%q is no end of %s %s: write %s", bus, branch.Kind, name, strings.Join(ends, " or "))
		}
	}
	place, err := c.ParsePlace(where)
	if err != nil {
		return err
	}
	if place.Line < 0 {
		return fmt.Errorf("%s is a bus: a conductor is open in a branch or a device; write LINE/40%%, BRANCH/BUS for its end, or the device", where)
	}
	p.Place = place.Place
	return nil
}

// dense is a small square system.
type dense struct {
	n     int
	a     []complex128
	right []complex128
	least []float64 // per row: the size below which its entries are rounding, times 1/singular
}

func newDense(n int) *dense {
	return &dense{n, make([]complex128, n*n), make([]complex128, n), make([]float64, n)}
}

func (m *dense) set(r, c int, v complex128) { m.a[r*m.n+c] = v }

// singular: a pivot below this share of its row's largest entry, or of the
// admittance that a break interrupts, is rounding.
const singular = 1e-10

// solve eliminates with row pivoting after scaling rows, since they mix volts
// per ampere with amperes per volt.
//
// The system is kept for further right sides.
func (m *dense) solve() ([]complex128, bool) {
	n := m.n
	m = &dense{n, append([]complex128(nil), m.a...), append([]complex128(nil), m.right...), m.least}
	for r := 0; r < n; r++ {
		most := m.least[r]
		for c := 0; c < n; c++ {
			most = math.Max(most, cmplx.Abs(m.a[r*n+c]))
		}
		if most == 0 {
			return nil, false
		}
		for c := 0; c < n; c++ {
			m.a[r*n+c] /= complex(most, 0)
		}
		m.right[r] /= complex(most, 0)
	}
	for k := 0; k < n; k++ {
		p := k
		for r := k + 1; r < n; r++ {
			if cmplx.Abs(m.a[r*n+k]) > cmplx.Abs(m.a[p*n+k]) {
				p = r
			}
		}
		if cmplx.Abs(m.a[p*n+k]) < singular {
			return nil, false
		}
		for c := 0; c < n; c++ {
			m.a[p*n+c], m.a[k*n+c] = m.a[k*n+c], m.a[p*n+c]
		}
		m.right[p], m.right[k] = m.right[k], m.right[p]
		for r := 0; r < n; r++ {
			f := m.a[r*n+k] / m.a[k*n+k]
			if r == k || f == 0 {
				continue
			}
			for c := k; c < n; c++ {
				m.a[r*n+c] -= f * m.a[k*n+c]
			}
			m.right[r] -= f * m.right[k]
		}
	}
	x := make([]complex128, n)
	for k := range x {
		x[k] = m.right[k] / m.a[k*n+k]
	}
	return x, true
}
