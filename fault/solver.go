package fault

import (
	"errors"
	"fmt"
	"math"
	"math/cmplx"
	"runtime"
	"sync"

	"feederwright/network"
	"feederwright/quantity"
	"feederwright/sparse"
)

// A Place is where a fault is: at a bus, or on a line.
type Place struct {
	Bus      int     // number of the bus, where Line < 0
	Line     int     // number of the line's element, or −1
	Fraction float64 // of the line's length from its first end, 0 to 1
}

// AtBus is a place at a bus.
func AtBus(bus int) Place { return Place{Bus: bus, Line: -1} }

// OnLine is a place on a line.
func OnLine(element int, fraction float64) Place { return Place{Line: element, Fraction: fraction} }

// A Solver holds one condition's network, factorised once, and what is
// watched. Each fault then costs a few products of small matrices.
//
// A Solver is read-only after the last Watch and may be used from several
// goroutines.
type Solver struct {
	Net *network.Network

	factor  *sparse.Factor
	inverse *sparse.Selected
	pre     []complex128 // node voltages before the fault
	quality sparse.Quality

	currents []watched
	voltages []watched

	controls        []control    // inverters in service
	between         []complex128 // voltages at each by currents of each, without a fault; see settle
	unsettledBefore float64
}

// A watched quantity: one value per conductor.
type watched struct {
	probe *network.Probe // of a current; nil for a voltage
	bus   int            // of a voltage
	rows  [4][]complex128
	pre   [4]complex128
	has   quantity.Phases

	controls []controlTerm   // inverters among what a current's probe counts
	from     [4][]complex128 // by conductor: what a unit current of each inverter adds, see watchControls
}

// ErrNoSource says that nothing feeds the place.
var ErrNoSource = errors.New("no source feeds this place")

// ErrNoPhase says that the place lacks a phase of the fault.
var ErrNoPhase = errors.New("the place has no such phase")

// NewSolver factorises a network and solves the state before the fault: the
// sources alone, on the network as it is.
func NewSolver(net *network.Network) (*Solver, error) {
	s := &Solver{Net: net}
	if net.Dim() == 0 {
		return s, nil
	}
	f, err := net.Matrix.Factor()
	if err != nil {
		var singular *sparse.SingularError
		if errors.As(err, &singular) {
			var buses []int
			for _, node := range singular.Parts[0] {
				buses = append(buses, net.NodeBuses(node)...)
			}
			return nil, fmt.Errorf("the network equations have no single solution at %s: check the impedances, and the earthing, of what is connected there (such cases: a coil tuned to the capacitance exactly, without any resistance; an unloaded transformer fed by fewer than three phases, whose voltages only its magnetising current decides)", net.Names(buses, 6))
		}
		return nil, err
	}
	s.factor = f
	s.pre = make([]complex128, net.Dim())
	s.quality = f.SolveRefined(net.Matrix, net.Source, s.pre)
	s.inverse = f.Inverse()
	if err := s.setUpControls(); err != nil {
		return nil, err
	}
	return s, nil
}

// Quality tells how well the state before the fault satisfies the equations:
// the relative residual ‖Y·V − I‖/(‖Y‖·‖V‖+‖I‖).
func (s *Solver) Quality() sparse.Quality { return s.quality }

// Condition estimates the condition number of the network's matrix.
func (s *Solver) Condition() float64 {
	if s.factor == nil {
		return 1
	}
	return s.factor.Condition(s.Net.Matrix)
}

// Prefault returns the node voltages before the fault, by unknown; the caller
// must not change them.
func (s *Solver) Prefault() []complex128 { return s.pre }

// PrefaultVoltage is the voltage to earth of a conductor before the fault, V;
// zero where there is no source.
func (s *Solver) PrefaultVoltage(bus, conductor int) complex128 {
	if u := s.Net.Unknown(bus, conductor); u >= 0 {
		return s.pre[u]
	}
	return 0
}

// WatchCurrent asks for the currents through a probe in every result; it
// returns the index in Result.Current.
func (s *Solver) WatchCurrent(p *network.Probe) int {
	w := watched{probe: p, has: p.Phases}
	if p.Carries() && s.factor != nil {
		s.solveRows(&w, func(c int, row []complex128) complex128 { return s.Net.Row(p, c, row) })
		w.controls = s.controlTerms(p)
		for _, t := range w.controls {
			for c := range 3 {
				w.pre[c] -= complex(t.sign, 0) * phasesOf(s.Net, s.controls[t.control].before)[c]
			}
		}
		s.watchControls(&w)
	}
	s.currents = append(s.currents, w)
	return len(s.currents) - 1
}

// WatchVoltage asks for the voltages to earth of a bus in every result; it
// returns the index in Result.Voltage.
func (s *Solver) WatchVoltage(bus int) int {
	w := watched{bus: bus, has: s.Net.Fed[bus]}
	if w.has != 0 {
		s.solveRows(&w, func(c int, row []complex128) complex128 {
			row[s.Net.Unknown(bus, c)] = 1
			return 0
		})
		s.watchControls(&w)
	}
	s.voltages = append(s.voltages, w)
	return len(s.voltages) - 1
}

// solveRows turns rows over node voltages into rows over injected currents:
// r·V = r·A⁻¹·I = (A⁻ᵀ·r)·I.
func (s *Solver) solveRows(w *watched, fill func(c int, row []complex128) complex128) {
	list := w.has.Conductors()
	k := len(list)
	dim := s.Net.Dim()
	rows := make([]complex128, k*dim)
	for i, c := range list {
		row := rows[i*dim : (i+1)*dim]
		w.pre[c] = fill(c, row)
		for u, r := range row {
			if r != 0 {
				w.pre[c] += r * s.pre[u]
			}
		}
		w.rows[c] = row
	}
	s.factor.SolveTransposedMany(rows, k)
	// What is injected into a solid earth goes nowhere else.
	for u := range dim {
		if s.Net.Solid(u) {
			for i := range k {
				rows[i*dim+u] = 0
			}
		}
	}
}

// A Thevenin is the network seen from a place.
//
//	Phases  the fed conductors there
//	V       their voltages to earth before the fault       V
//	Z       driving-point matrix over them, row-major      ohm
//
// In a part without earth, Z holds for currents that sum to zero in that part
// (weighted by Weight); any other current cannot flow.
type Thevenin struct {
	Phases quantity.Phases
	V      [4]complex128
	Z      [16]complex128
	Part   [4]int // floating part of each conductor, or −1
	Weight [4]float64
}

// At returns the Thevenin equivalent at a place.
func (s *Solver) At(p Place) (Thevenin, error) {
	var t Thevenin
	n := s.Net
	if p.Line < 0 {
		t.Phases = n.Fed[p.Bus]
		if t.Phases == 0 {
			return t, ErrNoSource
		}
		node := n.Node[p.Bus]
		all := n.NodePhases(node)
		block, _ := s.inverse.Block(node, node)
		size := all.Count()
		i := 0
		for c := 0; c < 4; c++ {
			if !t.Phases.HasConductor(c) {
				continue
			}
			u := n.Unknown(p.Bus, c)
			t.V[i] = s.pre[u]
			t.Part[i], t.Weight[i] = n.FloatingOf(u)
			j := 0
			for d := 0; d < 4; d++ {
				if t.Phases.HasConductor(d) {
					if !n.Solid(u) && !n.Solid(n.Unknown(p.Bus, d)) { // a solid earth has no impedance
						t.Z[i*t.Phases.Count()+j] = block[place(all, c)*size+place(all, d)]
					}
					j++
				}
			}
			i++
		}
		return t, nil
	}
	e := &n.Elements[p.Line]
	if !n.Live(p.Line) {
		return t, ErrNoSource
	}
	// With a share x of the series matrix Zs on the first side, a current I drawn
	// at the place is (1−x)·I at the first end and x·I at the second, plus the
	// drop x·(1−x)·Zs·I inside the section.
	x := complex(p.Fraction, 0)
	from, to := e.Terminals[0], e.Terminals[1]
	line := from.Phases
	t.Phases = line & n.Fed[from.Bus] & n.Fed[to.Bus]
	if t.Phases == 0 {
		return t, ErrNoSource
	}
	nf, nt := n.Node[from.Bus], n.Node[to.Bus]
	pf, pt := n.NodePhases(nf), n.NodePhases(nt)
	ff, _ := s.inverse.Block(nf, nf)
	tt, _ := s.inverse.Block(nt, nt)
	ft, _ := s.inverse.Block(nf, nt)
	tf, _ := s.inverse.Block(nt, nf)
	sf, st, k := pf.Count(), pt.Count(), t.Phases.Count()
	i := 0
	for c := 0; c < 4; c++ {
		if !t.Phases.HasConductor(c) {
			continue
		}
		uf, ut := n.Unknown(from.Bus, c), n.Unknown(to.Bus, c)
		t.V[i] = (1-x)*s.pre[uf] + x*s.pre[ut]
		t.Part[i], t.Weight[i] = n.FloatingOf(uf)
		j := 0
		for d := 0; d < 4; d++ {
			if !t.Phases.HasConductor(d) {
				continue
			}
			cf, df, ct, dt := place(pf, c), place(pf, d), place(pt, c), place(pt, d)
			t.Z[i*k+j] = x * (1 - x) * (ft[cf*st+dt] + tf[ct*sf+df] + e.Series[place(line, c)*line.Count()+place(line, d)])
			if !n.Solid(uf) && !n.Solid(n.Unknown(from.Bus, d)) {
				t.Z[i*k+j] += (1 - x) * (1 - x) * ff[cf*sf+df]
			}
			if !n.Solid(ut) && !n.Solid(n.Unknown(to.Bus, d)) {
				t.Z[i*k+j] += x * x * tt[ct*st+dt]
			}
			j++
		}
		i++
	}
	return t, nil
}

// place is the position of a conductor among those present.
func place(p quantity.Phases, conductor int) int {
	return quantity.Phases(p & (1<<conductor - 1)).Count()
}

// Sequence gives the zero, positive and negative sequence driving-point
// impedances of a three-phase place, and whether the place is balanced: no
// coupling between the sequences larger than 1e-6 of the largest impedance
// (far below what data is known to, far above rounding).
func (s *Solver) Sequence(t *Thevenin) (z0, z1, z2 complex128, balanced, ok bool) {
	if t.Phases&abc != abc {
		return 0, 0, 0, false, false
	}
	k := t.Phases.Count()
	var seq [3][3]complex128
	for j := 0; j < 3; j++ {
		unit := [3]complex128{}
		unit[j] = 1
		col := s.Net.Rotation.Phases(unit[0], unit[1], unit[2])
		var v [3]complex128
		for r := 0; r < 3; r++ {
			for c := 0; c < 3; c++ {
				v[r] += t.Z[r*k+c] * col[c]
			}
		}
		seq[0][j], seq[1][j], seq[2][j] = s.Net.Rotation.Sequence(v)
	}
	largest, coupling := 0.0, 0.0
	for i := range seq {
		for j := range seq[i] {
			a := cmplx.Abs(seq[i][j])
			if i == j {
				largest = math.Max(largest, a)
			} else {
				coupling = math.Max(coupling, a)
			}
		}
	}
	return seq[0][0], seq[1][1], seq[2][2], coupling <= 1e-6*largest, true
}

// A Result is one fault.
type Result struct {
	Place      Place
	Kind       Kind
	Resistance float64 // ohm

	Phases  quantity.Phases // conductors at the place
	I       [4]complex128   // fault current drawn from each conductor A B C N, A
	Earth   complex128      // fault current into earth, A
	V       [4]complex128   // voltages to earth at the place during the fault, V
	Loop    complex128      // impedance of the fault loop without Resistance, ohm: see Kind
	Current [][4]complex128 // watched currents, A
	Voltage [][4]complex128 // watched voltages to earth, V

	// Of a network with inverters: what each gives, in the order of
	// Solver.Controls; the rounds that it took; and where it has not settled, how
	// far the last round was from agreement, over rated current.
	Sources   []SourceCurrent
	Rounds    int
	Unsettled float64

	room      *room         // see solveControlled
	driving   [4]complex128 // V: with inverters, the voltages that drive the fault's legs
	available float64       // A: what the voltage at the place would drive through Loop
	others    []Place       // further places of a compound fault

	part  [4]int // floating parts that shift, and by how many volts
	shift [4]complex128
	parts int
}

// Largest is the largest phase current of the fault.
func (r *Result) Largest() float64 {
	m := 0.0
	for _, i := range r.I {
		m = math.Max(m, cmplx.Abs(i))
	}
	return m
}

// Scale is the current by which rounding is judged, A: the fault's own, or what
// the voltage at the place would drive through the loop where the fault draws
// little or nothing.
func (r *Result) Scale() float64 { return math.Max(r.Largest(), r.available) }

// XR is X/R of the fault loop; +Inf where it has no resistance.
func (r *Result) XR() float64 {
	if real(r.Loop) <= 0 {
		return math.Inf(1)
	}
	return imag(r.Loop) / real(r.Loop)
}

// Fault computes one fault with resistance r in ohm.
func (s *Solver) Fault(p Place, kind Kind, r float64) (*Result, error) {
	t, err := s.At(p)
	if err != nil {
		return nil, err
	}
	res := &Result{Current: make([][4]complex128, len(s.currents)), Voltage: make([][4]complex128, len(s.voltages))}
	if err := s.solve(p, &t, kind, r, res); err != nil {
		return nil, err
	}
	return res, nil
}

// solve computes one fault into res, whose slices it keeps.
func (s *Solver) solve(p Place, t *Thevenin, kind Kind, r float64, res *Result) error {
	if len(s.controls) > 0 {
		return s.solveControlled(p, t, kind, r, res)
	}
	if err := s.legsOf(p, t, kind, r, res); err != nil {
		return err
	}
	s.observe(p, res, nil)
	return nil
}

// legs of a fault: each is a signed pair of conductors (b < 0: earth), with
// the matrix of resistances between the leg currents.
type legs struct {
	a, b [3]int
	n    int
	r    [3][3]float64
}

func (k Kind) legs(r float64) legs {
	var p [4]int
	for c, n := 0, 0; c < 4; c++ {
		if k.Phases.HasConductor(c) {
			p[n] = c
			n++
		}
	}
	switch k.Type {
	case LineEarth:
		return legs{a: [3]int{p[0]}, b: [3]int{-1}, n: 1, r: [3][3]float64{{r}}}
	case LineNeutral:
		return legs{a: [3]int{p[0]}, b: [3]int{3}, n: 1, r: [3][3]float64{{r}}}
	case LineLine:
		return legs{a: [3]int{p[0]}, b: [3]int{p[1]}, n: 1, r: [3][3]float64{{r}}}
	case LineLineEarth:
		return legs{a: [3]int{p[0], p[1]}, b: [3]int{p[1], -1}, n: 2, r: [3][3]float64{{}, {0, r}}}
	case ThreePhase: // two meshes of a star with r in each branch
		return legs{a: [3]int{p[0], p[1]}, b: [3]int{p[1], p[2]}, n: 2, r: [3][3]float64{{2 * r, -r}, {-r, 2 * r}}}
	default:
		return legs{a: [3]int{p[0], p[1], p[2]}, b: [3]int{-1, -1, -1}, n: 3, r: [3][3]float64{{r}, {0, r}, {0, 0, r}}}
	}
}

// A mesh is the small system of one fault's legs, as eliminated in place. Its
// right sides are the columns from 7 on: the legs' own voltages, and after
// them, where wanted, a unit voltage in each leg.
type mesh struct {
	l     legs
	at    [4]int // conductor → index at the place
	k     int    // conductors there
	size  int    // legs and the shifts of floating parts
	width int    // columns in use
	m     [7][11]complex128
}

// legsOf finds the leg currents i and the shifts of the floating parts from
//
//	(Cᵀ·Z·C + R)·i − Cᵀ·U·shift = Cᵀ·V        no other voltage drives the legs
//	Uᵀ·C·i                      = 0           no current leaves a floating part
func (s *Solver) legsOf(p Place, t *Thevenin, kind Kind, r float64, res *Result) error {
	var m mesh
	if err := s.solveMesh(&m, p, t, kind, r, res, false); err != nil {
		return err
	}
	var x [7]complex128
	for i := range m.size {
		x[i] = m.m[i][7]
	}
	m.finish(t, &x, res)
	return nil
}

// solveMesh sets a fault's system up and solves it; units also for a unit
// voltage in each leg.
func (s *Solver) solveMesh(e *mesh, p Place, t *Thevenin, kind Kind, r float64, res *Result, units bool) error {
	if kind.Conductors()&^t.Phases != 0 {
		return ErrNoPhase
	}
	e.k = t.Phases.Count()
	e.l = kind.legs(r)
	l, k := &e.l, e.k
	for c, i := 0, 0; c < 4; c++ {
		if t.Phases.HasConductor(c) {
			e.at[c] = i
			i++
		}
	}
	at := &e.at
	z := func(c, d int) complex128 { return t.Z[at[c]*k+at[d]] }

	*res = Result{Place: p, Kind: kind, Resistance: r, Phases: t.Phases, Current: res.Current, Voltage: res.Voltage, Sources: res.Sources, room: res.room}
	for i := 0; i < l.n; i++ {
		for j := 0; j < l.n; j++ {
			v := z(l.a[i], l.a[j]) + complex(l.r[i][j], 0)
			if l.b[j] >= 0 {
				v -= z(l.a[i], l.b[j])
			}
			if l.b[i] >= 0 {
				v -= z(l.b[i], l.a[j])
				if l.b[j] >= 0 {
					v += z(l.b[i], l.b[j])
				}
			}
			e.m[i][j] = v
		}
	}
	res.Loop = e.m[0][0] - complex(l.r[0][0], 0)
	if kind.Type == ThreePhase || kind.Type == ThreePhaseEarth {
		_, z1, _, _, _ := s.Sequence(t)
		res.Loop = z1
	}
	if z := cmplx.Abs(res.Loop); z > 0 {
		for _, v := range t.V[:k] {
			res.available = math.Max(res.available, cmplx.Abs(v)/z)
		}
	}
	e.size = l.n
	var rows independent
	for i := 0; i < l.n; i++ {
		for _, part := range [...]int{t.Part[at[l.a[i]]], partOf(t, at, l.b[i])} {
			if part < 0 || res.has(part) {
				continue
			}
			var row [3]float64
			for j := 0; j < l.n; j++ {
				row[j] = legWeight(t, at, l, j, part)
			}
			if !rows.add(row) {
				continue // no leg leaves the part, or the condition follows from those of others
			}
			for j := 0; j < l.n; j++ {
				w := complex(row[j], 0)
				e.m[e.size][j] = w
				e.m[j][e.size] = -w
			}
			res.part[res.parts] = part
			res.parts++
			e.size++
		}
	}
	e.width = 8
	for i := 0; i < l.n; i++ {
		e.m[i][7] = e.across(i, &t.V)
		if units {
			e.m[i][8+i] = 1
			e.width++
		}
	}
	if !e.eliminate() {
		return fmt.Errorf("the fault %s has no single solution here: the network has no impedance before the place", kind)
	}
	return nil
}

// across is the voltage across a leg, of voltages by index at the place.
func (e *mesh) across(leg int, v *[4]complex128) complex128 {
	u := v[e.at[e.l.a[leg]]]
	if e.l.b[leg] >= 0 {
		u -= v[e.at[e.l.b[leg]]]
	}
	return u
}

// finish turns leg currents and shifts into what the fault draws, and the
// voltages at the place that drives it into those during the fault.
func (e *mesh) finish(t *Thevenin, x *[7]complex128, res *Result) {
	l := &e.l
	res.driving = t.V
	for i := 0; i < l.n; i++ {
		res.I[l.a[i]] += x[i]
		if l.b[i] >= 0 {
			res.I[l.b[i]] -= x[i]
		} else {
			res.Earth += x[i]
		}
	}
	for i := 0; i < res.parts; i++ {
		res.shift[i] = x[l.n+i]
	}
	if res.parts > 0 {
		// What can't leave a floating part is zero; elimination leaves its rounding.
		for c := range res.I {
			res.I[c] = withoutRounding(res.I[c], res.Scale())
		}
		res.Earth = withoutRounding(res.Earth, res.Scale())
	}
	for c := 0; c < 4; c++ {
		if !t.Phases.HasConductor(c) {
			continue
		}
		v := t.V[e.at[c]] + res.shiftOf(t.Part[e.at[c]], t.Weight[e.at[c]])
		for d := 0; d < 4; d++ {
			if res.I[d] != 0 {
				v -= t.Z[e.at[c]*e.k+e.at[d]] * res.I[d]
			}
		}
		res.V[c] = v
	}
}

func withoutRounding(x complex128, scale float64) complex128 {
	if cmplx.Abs(x) <= negligible*scale {
		return 0
	}
	return x
}

func (r *Result) has(part int) bool {
	for _, p := range r.part[:r.parts] {
		if p == part {
			return true
		}
	}
	return false
}

func (r *Result) shiftOf(part int, weight float64) complex128 {
	for i, p := range r.part[:r.parts] {
		if p == part {
			return r.shift[i] * complex(weight, 0)
		}
	}
	return 0
}

func partOf(t *Thevenin, at *[4]int, conductor int) int {
	if conductor < 0 {
		return -1
	}
	return t.Part[at[conductor]]
}

// sameWeight is the part of two weights below which their difference is
// rounding: they are products of turns ratios, found along different ways.
const sameWeight = 1e-9

// An independent set of rows, orthogonal to each other: the conditions of
// parts without earth. Two parts that only a fault joins have one condition
// between them: what leaves the one enters the other.
type independent struct {
	n    int
	rows [3][3]float64
}

// add takes a row, and tells whether it says more than those before it.
func (s *independent) add(row [3]float64) bool {
	dot := func(a, b *[3]float64) float64 { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] }
	size := dot(&row, &row)
	for i := range s.n {
		r := &s.rows[i]
		f := dot(&row, r) / dot(r, r)
		for j := range row {
			row[j] -= f * r[j]
		}
	}
	if left := dot(&row, &row); left <= sameWeight*sameWeight*size || s.n == len(s.rows) {
		return false
	}
	s.rows[s.n] = row
	s.n++
	return true
}

// legWeight is the entry of Cᵀ·U for a leg and a floating part. A leg between
// conductors of one weight leaves the part's sum alone: what rounding leaves of
// their difference must not count as a way for current out of it.
func legWeight(t *Thevenin, at *[4]int, l *legs, leg, part int) float64 {
	w, size := 0.0, 0.0
	if i := at[l.a[leg]]; t.Part[i] == part {
		w, size = t.Weight[i], math.Abs(t.Weight[i])
	}
	if l.b[leg] >= 0 {
		if i := at[l.b[leg]]; t.Part[i] == part {
			w -= t.Weight[i]
			size = math.Max(size, math.Abs(t.Weight[i]))
		}
	}
	if math.Abs(w) <= sameWeight*size {
		return 0
	}
	return w
}

// eliminate solves in place with row pivoting. It tells whether the matrix is
// regular.
func (e *mesh) eliminate() bool {
	m, n := &e.m, e.size
	for k := 0; k < n; k++ {
		p := k
		for i := k + 1; i < n; i++ {
			if cmplx.Abs(m[i][k]) > cmplx.Abs(m[p][k]) {
				p = i
			}
		}
		if m[p][k] == 0 || cmplx.IsNaN(m[p][k]) {
			return false
		}
		if p != k {
			m[p], m[k] = m[k], m[p]
		}
		d := 1 / m[k][k]
		for i := 0; i < n; i++ {
			if f := m[i][k] * d; i != k && f != 0 {
				for j := k; j < n; j++ {
					m[i][j] -= f * m[k][j]
				}
				for j := 7; j < e.width; j++ {
					m[i][j] -= f * m[k][j]
				}
			}
		}
	}
	for k := 0; k < n; k++ {
		d := 1 / m[k][k]
		for j := 7; j < e.width; j++ {
			m[k][j] *= d
		}
	}
	return true
}

// injections are a fault's currents as m injections at unknowns.
func (s *Solver) injections(p Place, res *Result) (at [8]int, inject [8]complex128, m int) {
	n := s.Net
	for c := 0; c < 4; c++ {
		if res.I[c] == 0 {
			continue
		}
		if p.Line < 0 {
			at[m], inject[m] = n.Unknown(p.Bus, c), -res.I[c]
			m++
			continue
		}
		t := n.Elements[p.Line].Terminals
		x := complex(p.Fraction, 0)
		at[m], inject[m] = n.Unknown(t[0].Bus, c), -(1-x)*res.I[c]
		at[m+1], inject[m+1] = n.Unknown(t[1].Bus, c), -x*res.I[c]
		m += 2
	}
	return at, inject, m
}

// observe evaluates what is watched: value = before − row·I + what flows
// straight through + the shift of a floating part + what the inverters give
// beyond their currents of before.
func (s *Solver) observe(p Place, res *Result, given []seq2) {
	n := s.Net
	at, inject, m := s.injections(p, res)
	both := s.sequences() > 1
	added := func(w *watched, c int) complex128 {
		sum, from := complex128(0), w.from[c]
		if both {
			for j := range given {
				sum += from[2*j]*given[j][0] + from[2*j+1]*given[j][1]
			}
			return sum
		}
		for j, f := range from {
			sum += f * given[j][0]
		}
		return sum
	}
	for i := range s.currents {
		w := &s.currents[i]
		out := &res.Current[i]
		*out = [4]complex128{}
		if !w.probe.Carries() {
			continue
		}
		direct := w.probe.Direct(p.Bus)
		if p.Line >= 0 {
			direct = w.probe.DirectOnLine(p.Line, p.Fraction)
		}
		solid := 0.0 // of conductor N, through solid earthings that the probe counts
		if res.I[3] != 0 {
			if p.Line < 0 {
				solid = n.SolidDirect(w.probe, p.Bus)
			} else {
				solid = n.SolidDirectOnLine(w.probe, p.Line, p.Fraction)
			}
		}
		for c := 0; c < 4; c++ {
			row := w.rows[c]
			if row == nil {
				continue
			}
			v := w.pre[c] + complex(direct, 0)*res.I[c]
			if c == 3 {
				v += complex(solid, 0) * res.I[c]
			}
			for j := 0; j < m; j++ {
				v += row[at[j]] * inject[j]
			}
			if given != nil {
				v += added(w, c)
			}
			out[c] = v
		}
	}
	for i := range s.voltages {
		w := &s.voltages[i]
		out := &res.Voltage[i]
		*out = [4]complex128{}
		for c := 0; c < 4; c++ {
			row := w.rows[c]
			if row == nil {
				continue
			}
			v := w.pre[c]
			for j := 0; j < m; j++ {
				v += row[at[j]] * inject[j]
			}
			if given != nil {
				v += added(w, c)
			}
			if res.parts > 0 {
				v += res.shiftOf(n.FloatingOf(n.Unknown(w.bus, c)))
			}
			out[c] = v
		}
	}
}

// State returns all node voltages during a fault, by unknown, from a solution
// of its own with one step of refinement.
func (s *Solver) State(res *Result) ([]complex128, sparse.Quality) {
	n := s.Net
	b := append([]complex128(nil), n.Source...)
	if res.Place.Line < 0 {
		for c := 0; c < 4; c++ {
			if res.I[c] != 0 {
				b[n.Unknown(res.Place.Bus, c)] -= res.I[c]
			}
		}
	} else {
		t := n.Elements[res.Place.Line].Terminals
		x := complex(res.Place.Fraction, 0)
		for c := 0; c < 4; c++ {
			if res.I[c] != 0 {
				b[n.Unknown(t[0].Bus, c)] -= (1 - x) * res.I[c]
				b[n.Unknown(t[1].Bus, c)] -= x * res.I[c]
			}
		}
	}
	for _, src := range res.Sources {
		for c, x := range src.I {
			b[n.Unknown(n.Elements[src.Element].Terminals[0].Bus, c)] += x
		}
	}
	n.ClearSolid(b)
	v := make([]complex128, n.Dim())
	q := s.factor.SolveRefined(n.Matrix, b, v)
	if res.parts > 0 {
		for u := range v {
			v[u] += res.shiftOf(n.FloatingOf(u))
		}
	}
	return v, q
}

// A Return is one way by which earth current comes back into the network.
type Return struct {
	Element, Terminal int        // the plant whose earthing it is; Terminal −1: charging of a line
	Current           complex128 // from earth into the network, A
}

// EarthReturns tells how the earth current of a fault comes back, from the
// state that State gives: for each winding, infeed, shunt and line the current
// from earth. The currents of all, less those before the fault, sum to the
// fault's earth current.
func (s *Solver) EarthReturns(v []complex128) []Return {
	var returns []Return
	for i := range s.Net.Elements {
		if !s.Net.Live(i) {
			continue
		}
		e := &s.Net.Elements[i]
		currents := s.Net.ElementCurrents(i, v)
		if e.Kind == network.Line {
			sum := complex128(0)
			for _, c := range currents {
				sum -= c
			}
			returns = append(returns, Return{i, -1, sum})
			continue
		}
		k := 0
		for t := range e.Terminals {
			sum := complex128(0)
			for range e.Terminals[t].Phases.Conductors() {
				sum -= currents[k]
				k++
			}
			returns = append(returns, Return{i, t, sum})
		}
	}
	return returns
}

// Sweep computes every kind of fault that exists at every place and calls
// visit for each. Places are shared among as many workers as there are
// processors; visit is called at the same time from different workers, in
// order of place and kind within one worker, and must not keep res.
func (s *Solver) Sweep(places []Place, kinds func(quantity.Phases) []Kind, r float64, visit func(worker, place int, res *Result)) error {
	workers := min(runtime.GOMAXPROCS(0), max(len(places), 1))
	errs := make([]error, workers)
	var wait sync.WaitGroup
	for w := 0; w < workers; w++ {
		wait.Add(1)
		go func() {
			defer wait.Done()
			res := &Result{Current: make([][4]complex128, len(s.currents)), Voltage: make([][4]complex128, len(s.voltages))}
			var phases quantity.Phases
			var list []Kind
			for i := w * len(places) / workers; i < (w+1)*len(places)/workers; i++ {
				t, err := s.At(places[i])
				if errors.Is(err, ErrNoSource) {
					continue
				}
				if t.Phases != phases {
					phases, list = t.Phases, kinds(t.Phases)
				}
				for _, k := range list {
					if err = s.solve(places[i], &t, k, r, res); err != nil {
						errs[w] = err
						return
					}
					visit(w, i, res)
				}
			}
		}()
	}
	wait.Wait()
	return errors.Join(errs...)
}

// LargestResistance is the largest fault resistance, in ohm, at which a
// current still reaches a wanted magnitude: for a line-to-earth fault on one
// phase, where
//
//	i(R) = V/(Z+R)          fault current, Z the driving-point impedance
//	x(R) = p + q·i(R)       the watched current, p before the fault
//
// |x(R)| = wanted is a quadratic in R. It returns the largest root; ok is
// false where even R = 0 gives less.
func LargestResistance(v, z, p, q complex128, wanted float64) (r float64, ok bool) {
	if wanted <= 0 {
		return math.Inf(1), true
	}
	// |p(Z+R) + qV|² = w²·|Z+R|²
	w2 := wanted * wanted
	n := p*z + q*v
	a := real(p)*real(p) + imag(p)*imag(p) - w2
	b := 2*(real(p)*real(n)+imag(p)*imag(n)) - 2*w2*real(z)
	c := real(n)*real(n) + imag(n)*imag(n) - w2*(real(z)*real(z)+imag(z)*imag(z))
	if a >= 0 {
		return math.Inf(1), true // the current before the fault is enough by itself
	}
	d := b*b - 4*a*c
	if d < 0 {
		return 0, false
	}
	r = (-b - math.Sqrt(d)) / (2 * a)
	return r, r >= 0
}
