package fault_test

import (
	"flag"
	"fmt"
	"math"
	"math/cmplx"
	"math/rand"
	"testing"

	"feederwright/fault"
	"feederwright/network"
	"feederwright/phasor"
	"feederwright/quantity"
)

// What the laws on mixtures share: a mixture solved with everything watched,
// the comparison of two of them piece by piece, and the changes to a mixture
// after which the results are known from those before.

var lawTimes = flag.Int("laws", 1, "times as many random networks for each law")

// laws runs a law on random mixtures, each with its own numbers. It fails where
// fewer states than half of one per mixture were compared.
func laws(t *testing.T, first int64, mixtures int, law func(t *testing.T, r *rand.Rand, p *mixture) (states int)) {
	t.Helper()
	mixtures *= *lawTimes
	counts := make(chan int, mixtures)
	t.Run("seeds", func(t *testing.T) {
		for seed := first; seed < first+int64(mixtures); seed++ {
			t.Run(fmt.Sprint(seed), func(t *testing.T) {
				t.Parallel()
				r := rand.New(rand.NewSource(seed))
				counts <- law(t, r, drawMixture(r, 3+r.Intn(7)))
			})
		}
	})
	close(counts)
	sum := 0
	for c := range counts {
		sum += c
	}
	t.Logf("%d states of %d networks", sum, mixtures)
	if sum < mixtures/2 {
		t.Errorf("only %d states were compared", sum)
	}
}

// A solved is a mixture with its solver, everything watched.
type solved struct {
	*mixture
	n        *network.Network
	s        *fault.Solver
	piece    map[int]int // by element
	probes   [][]network.Probe
	currents [][]int
	switches []int
	voltages []int
}

func (p *mixture) open() (*solved, error) {
	n, err := p.build()
	if err != nil {
		return nil, err
	}
	s, err := fault.NewSolver(n)
	if err != nil {
		return nil, err
	}
	w := &solved{mixture: p, n: n, s: s, piece: map[int]int{}, probes: make([][]network.Probe, len(p.pieces)), currents: make([][]int, len(p.pieces))}
	for i, x := range p.pieces {
		w.piece[x.element] = i
		w.probes[i] = make([]network.Probe, len(x.terminals))
		for k := range x.terminals {
			w.probes[i][k] = n.AtTerminal(x.element, k)
			w.currents[i] = append(w.currents[i], s.WatchCurrent(&w.probes[i][k]))
		}
	}
	for i, x := range p.switches {
		probe := n.ThroughSwitch(i, x.to)
		w.switches = append(w.switches, s.WatchCurrent(&probe))
	}
	for b := range p.buses {
		w.voltages = append(w.voltages, s.WatchVoltage(b))
	}
	return w, nil
}

// A shot is one state of a solved mixture.
type shot struct {
	voltage   [][4]complex128
	current   [][][4]complex128 // by piece and terminal; before a fault those of inverters are missing
	through   [][4]complex128   // switches; nil before a fault
	parts     []fault.PartResult
	result    *fault.Result // nil before a fault
	unsettled bool          // a control that jumps between two responses: no state to compare
}

func (w *solved) before() shot {
	x := shot{voltage: make([][4]complex128, len(w.buses)), current: make([][][4]complex128, len(w.pieces)), unsettled: w.s.UnsettledBefore() != 0}
	for b := range w.buses {
		for c := range 4 {
			x.voltage[b][c] = w.s.PrefaultVoltage(b, c)
		}
	}
	for i := range w.pieces {
		x.current[i] = make([][4]complex128, len(w.pieces[i].terminals))
		for k := range x.current[i] {
			if w.probes[i][k].Carries() {
				for _, c := range w.pieces[i].terminals[k].Phases.Conductors() {
					x.current[i][k][c] = w.n.Current(&w.probes[i][k], c, w.s.Prefault())
				}
			}
		}
	}
	return x
}

func (w *solved) shoot(parts []fault.Part) (x shot, err error) {
	var res *fault.Result
	if len(parts) == 1 && parts[0].Break == fault.NoBreak {
		if res, err = w.s.Fault(parts[0].Place, parts[0].Kind, parts[0].Resistance); err != nil {
			return x, err
		}
		x.parts = []fault.PartResult{{Part: parts[0], I: res.I, Earth: res.Earth, V: res.V}}
	} else {
		out, err := w.s.Compound(parts)
		if err != nil {
			return x, err
		}
		res, x.parts = &out.Result, out.Parts
	}
	x.result, x.unsettled = res, res.Unsettled != 0
	for b := range w.buses {
		x.voltage = append(x.voltage, res.Voltage[w.voltages[b]])
	}
	for i := range w.pieces {
		var list [][4]complex128
		for _, q := range w.currents[i] {
			list = append(list, res.Current[q])
		}
		x.current = append(x.current, list)
	}
	for _, q := range w.switches {
		x.through = append(x.through, res.Current[q])
	}
	return x, nil
}

// tuned tells of voltages that resonance by chance has made so large that the
// digits lost to it say nothing.
func (w *solved) tuned(x shot) bool {
	for b, bus := range w.buses {
		for _, v := range x.voltage[b] {
			if cmplx.Abs(v) > 20*bus.vll {
				return true
			}
		}
	}
	return false
}

// power is the largest current, as V·A at its nominal voltage: what currents
// are compared with.
func (w *solved) power(x shot) float64 {
	most := 1e-3 * baseVA
	for i := range w.pieces {
		for k, t := range w.pieces[i].terminals {
			for _, c := range x.current[i][k] {
				most = max(most, cmplx.Abs(c)*w.buses[t.Bus].vll)
			}
		}
	}
	return most
}

func (w *solved) has(kind network.Kind) bool {
	for _, x := range w.pieces {
		if x.kind == kind {
			return true
		}
	}
	return false
}

// unreturned tells of an inverter in a part without earth, with regulators of
// unequal ratios between phases and earth. Its currents sum to zero, but not
// beyond these: what is left has no way back without magnetising currents,
// which no plant has here.
func (w *solved) unreturned() bool {
	if len(w.n.Floating) == 0 || !w.has(network.Inverter) {
		return false
	}
	for _, x := range w.pieces {
		if x.kind == network.Regulator && x.reg.Connection == network.RegulatorWye {
			return true
		}
	}
	return false
}

// singular tells of equations that only rounding gave a solution: an unloaded
// transformer between one phase and earth that is all a network has to earth.
// Others, with the worst of charging and voltage levels, stay below 1e12.
func (w *solved) singular() bool { return w.s.Condition() > 1e14 }

// busOf is the bus that a part is at, or whose voltage level it is at.
func (w *solved) busOf(part fault.Part) int {
	switch {
	case part.Break != fault.NoBreak && part.Terminal >= 0:
		return w.n.Elements[part.Element].Terminals[part.Terminal].Bus
	case part.Place.Line >= 0:
		return w.n.Elements[part.Place.Line].Terminals[0].Bus
	}
	return part.Place.Bus
}

// describe names parts for messages.
func (w *solved) describe(parts []fault.Part) string {
	text := ""
	for _, part := range parts {
		where := w.buses[w.busOf(part)].name
		switch {
		case part.Break != fault.NoBreak && part.Terminal >= 0:
			where = w.n.Elements[part.Element].Name + " at " + where
		case part.Place.Line >= 0:
			where = fmt.Sprintf("%s, %.2f", w.n.Elements[part.Place.Line].Name, part.Place.Fraction)
		}
		text += fmt.Sprintf("%s in %s, %.3g ohm; ", part, where, part.Resistance)
	}
	return text
}

// A match says where the quantities of one mixture are in another. Nil fields
// say that they are at the same place, unchanged.
type match struct {
	bus       []int
	pieces    [][]int       // those that share a piece's current; none: not in the other
	terminals map[int][]int // by piece, where they are not in the same order
	conductor []int
	volts     func(bus int) complex128 // factor of the other's voltages
	amperes   func(bus int) complex128
}

func (m *match) busAt(b int) int {
	if m.bus == nil {
		return b
	}
	return m.bus[b]
}

func (m *match) piecesAt(i int) []int {
	if m.pieces == nil {
		return []int{i}
	}
	return m.pieces[i]
}

func (m *match) terminal(piece, k int) int {
	if list, ok := m.terminals[piece]; ok {
		return list[k]
	}
	return k
}

func (m *match) conductorAt(c int) int {
	if m.conductor == nil || c < 0 {
		return c
	}
	return m.conductor[c]
}

func (m *match) phases(p quantity.Phases) quantity.Phases {
	out := quantity.Phases(0)
	for _, c := range p.Conductors() {
		out |= 1 << m.conductorAt(c)
	}
	return out
}

func factor(f func(int) complex128, bus int) complex128 {
	if f == nil {
		return 1
	}
	return f(bus)
}

// ohms is the factor of impedances at a bus.
func (m *match) ohms(bus int) float64 {
	return cmplx.Abs(factor(m.volts, bus) / factor(m.amperes, bus))
}

// parts are the same parts in the other.
func (m *match) parts(a, b *solved, parts []fault.Part) []fault.Part {
	var list []fault.Part
	element := func(e int) (piece, other int) {
		piece = a.piece[e]
		return piece, b.pieces[m.piecesAt(piece)[0]].element
	}
	for _, part := range parts {
		part.Resistance *= m.ohms(a.busOf(part))
		turned := false
		switch {
		case part.Break != fault.NoBreak && part.Terminal >= 0:
			piece, other := element(part.Element)
			part.Element = other
			k := m.terminal(piece, part.Terminal)
			// Which of the ends is towards the first bus changes where a terminal becomes the first or stops being it.
			turned = (k == 0) != (part.Terminal == 0)
			part.Terminal = k
		case part.Place.Line >= 0:
			piece, other := element(part.Place.Line)
			part.Place.Line = other
			if turned = m.terminal(piece, 0) != 0; turned {
				part.Place.Fraction = 1 - part.Place.Fraction
			}
		default:
			part.Place.Bus = m.busAt(part.Place.Bus)
		}
		if turned {
			switch part.Break {
			case fault.OpenFromEarthed:
				part.Break = fault.OpenToEarthed
			case fault.OpenToEarthed:
				part.Break = fault.OpenFromEarthed
			}
		}
		part.Kind.Phases = m.phases(part.Kind.Phases)
		list = append(list, part)
	}
	return list
}

// compare holds all quantities of two states against each other; it returns
// how many states it compared: none, or one.
func (m *match) compare(t *testing.T, title string, a, b *solved, x, y shot) int {
	t.Helper()
	if x.unsettled || y.unsettled || a.tuned(x) {
		return 0
	}
	tolerance := everythingTolerance
	if a.has(network.Inverter) {
		tolerance = controlTolerance
	}
	power := a.power(x)
	check := func(what string, got, want complex128, full float64) {
		t.Helper()
		if off := cmplx.Abs(got-want) / full; !(off <= tolerance) {
			t.Errorf("%s: %s is %.8g ∠ %.5f° here and %.8g ∠ %.5f° there: %.2g of %.4g", title, what,
				cmplx.Abs(want), phasor.Degrees(want), cmplx.Abs(got), phasor.Degrees(got), off, full)
		}
	}
	for i, bus := range a.buses {
		if m.busAt(i) < 0 || a.n.Fed[i] == 0 && b.n.Fed[m.busAt(i)] == 0 {
			continue
		}
		if want := m.phases(a.n.Fed[i]); b.n.Fed[m.busAt(i)] != want {
			t.Errorf("%s: %s is fed in %s, want %s", title, bus.name, b.n.Fed[m.busAt(i)], want)
			continue
		}
		for _, c := range bus.phases.Conductors() {
			check(fmt.Sprintf("voltage %s.%c", bus.name, "ABCN"[c]), y.voltage[m.busAt(i)][m.conductorAt(c)]/factor(m.volts, i), x.voltage[i][c], bus.vll)
		}
	}
	for i, piece := range a.pieces {
		others := m.piecesAt(i)
		if len(others) == 0 || x.result == nil && piece.kind == network.Inverter {
			continue
		}
		for k, terminal := range piece.terminals {
			for _, c := range terminal.Phases.Conductors() {
				for _, j := range others { // they share alike
					got := y.current[j][m.terminal(i, k)][m.conductorAt(c)] / factor(m.amperes, terminal.Bus)
					check(fmt.Sprintf("current into %s at %s.%c", piece.name, a.buses[terminal.Bus].name, "ABCN"[c]),
						got*complex(float64(len(others)), 0), x.current[i][k][c], power/a.buses[terminal.Bus].vll)
				}
			}
		}
	}
	for i, part := range x.parts {
		bus := a.busOf(part.Part)
		vll := a.buses[bus].vll
		other := y.parts[i]
		near, far := other.V, other.Beyond
		across := complex128(1)
		if part.Break != fault.NoBreak {
			piece := -1
			if part.Terminal >= 0 {
				piece = a.piece[part.Element]
			} else {
				piece = a.piece[part.Place.Line]
			}
			// V is on the side of the first bus.
			first, second := part.Terminal == 0, other.Terminal == 0
			if part.Terminal < 0 {
				first, second = true, m.terminal(piece, 0) == 0
			}
			if first != second {
				near, far, across = far, near, -1
			}
		}
		for c := range 4 {
			d := m.conductorAt(c)
			check(fmt.Sprintf("current of part %d in %c", i, "ABCN"[c]), other.I[d]/factor(m.amperes, bus), part.I[c], power/vll)
			if part.Break != fault.NoBreak && !part.Kind.Phases.HasConductor(c) {
				continue
			}
			check(fmt.Sprintf("voltage at part %d, %c", i, "ABCN"[c]), near[d]/factor(m.volts, bus), part.V[c], vll)
			check(fmt.Sprintf("voltage beyond part %d, %c", i, "ABCN"[c]), far[d]/factor(m.volts, bus), part.Beyond[c], vll)
			check(fmt.Sprintf("voltage across part %d, %c", i, "ABCN"[c]), across*other.Across[d]/factor(m.volts, bus), part.Across[c], vll)
		}
		check(fmt.Sprintf("current of part %d into earth", i), other.Earth/factor(m.amperes, bus), part.Earth, power/vll)
	}
	return 1
}

// sameReferences tells whether the parts without earth have the same reference
// buses: with others their voltages to earth differ, by convention.
func (m *match) sameReferences(a, b *solved) bool {
	if len(a.n.Floating) != len(b.n.Floating) {
		return false
	}
	there := map[int]bool{}
	for _, f := range b.n.Floating {
		there[f.Reference] = true
	}
	for _, f := range a.n.Floating {
		if !there[m.busAt(f.Reference)] {
			return false
		}
	}
	return true
}

// agree compares the states before a fault and during some. allowed says which
// parts may be drawn; nil: all.
func (m *match) agree(t *testing.T, r *rand.Rand, p, q *mixture, faults int, allowed func(fault.Part) bool) (states int) {
	t.Helper()
	a, err1 := p.open()
	b, err2 := q.open()
	if err1 != nil || err2 != nil {
		if (err1 == nil) != (err2 == nil) && !(err1 == nil && a.singular()) && !(err2 == nil && b.singular()) {
			t.Errorf("one has a solution, the other not: %v; %v", err1, err2)
		}
		return 0
	}
	if a.n.Dim() == 0 || a.singular() || b.singular() || a.unreturned() || !m.sameReferences(a, b) || a.s.UnsettledBefore() != 0 || b.s.UnsettledBefore() != 0 || a.tuned(a.before()) {
		return 0
	}
	states += m.compare(t, "before the fault", a, b, a.before(), b.before())
	for range faults {
		var parts []fault.Part
		for _, part := range a.drawParts(r, a.n) {
			if allowed == nil || allowed(part) {
				parts = append(parts, part)
			}
		}
		if len(parts) == 0 {
			continue
		}
		title := a.describe(parts)
		x, err1 := a.shoot(parts)
		y, err2 := b.shoot(m.parts(a, b, parts))
		if err1 != nil || err2 != nil {
			if (err1 == nil) != (err2 == nil) {
				t.Errorf("%s one gives %v, the other %v", title, err1, err2)
			}
			continue
		}
		states += m.compare(t, title, a, b, x, y)
	}
	return states
}

// clone is a copy whose pieces may be changed.
func (p *mixture) clone() *mixture {
	q := &mixture{rotation: p.rotation, buses: append([]planBus(nil), p.buses...), switches: append([]planSwitch(nil), p.switches...)}
	for _, x := range p.pieces {
		q.pieces = append(q.pieces, x.clone())
	}
	return q
}

func (x *piece) clone() *piece {
	y := *x
	y.terminals = append([]network.Terminal(nil), x.terminals...)
	y.bank.Units = append([]network.Unit(nil), x.bank.Units...)
	for i := range y.bank.Units {
		y.bank.Units[i].Secondary = append([]int(nil), y.bank.Units[i].Secondary...)
	}
	y.reg.Ratio = append([]float64(nil), x.reg.Ratio...)
	return &y
}

// only keeps some pieces.
func (p *mixture) only(keep func(*piece) bool) *mixture {
	q := p.clone()
	q.pieces = nil
	for _, x := range p.pieces {
		if keep(x) {
			q.pieces = append(q.pieces, x.clone())
		}
	}
	return q
}

// permuted is a matrix over conductors that are called otherwise.
func (m *match) permuted(p quantity.Phases, y []complex128) []complex128 {
	if y == nil {
		return nil
	}
	old := p.Conductors()
	at := map[int]int{}
	for i, c := range old {
		at[m.conductorAt(c)] = i
	}
	next := m.phases(p).Conductors()
	n := len(old)
	out := make([]complex128, n*n)
	for i, c := range next {
		for j, d := range next {
			out[i*n+j] = y[at[c]*n+at[d]]
		}
	}
	return out
}

// multiple is k times a matrix, where there is one.
func multiple(m []complex128, k complex128) []complex128 {
	if m == nil {
		return nil
	}
	return scaled(m, k)
}

// relabel calls phase c of everything names[c], and turns the other way round
// where two names are exchanged.
//
//   - A vector group's clock counts against the letters: in the order A, C, B
//     a lag is a lead, so clock k becomes 12 − k.
//   - An infeed's angle is that of its phase A, which was another.
//   - Units of a bank and of a wye regulator keep their places by name.
//
// The units of a regulator in delta stand at A-B and C-B, or at A-B, B-C and
// C-A, by definition: see relabels.
func (p *mixture) relabel(names [3]int) (*mixture, *match) {
	m := &match{conductor: []int{names[0], names[1], names[2], 3}}
	q := p.clone()
	exchanged := (names[1]-names[0]+3)%3 != 1
	if exchanged {
		q.rotation = 1 - p.rotation
	}
	clock := func(k int) int {
		if exchanged {
			return (12 - k) % 12
		}
		return k
	}
	for i := range q.buses {
		q.buses[i].phases = m.phases(q.buses[i].phases)
	}
	for _, x := range q.pieces {
		old := x.terminals[0].Phases
		for k := range x.terminals {
			x.terminals[k].Phases = m.phases(x.terminals[k].Phases)
		}
		switch x.kind {
		case network.Line:
			x.z, x.y = m.permuted(old, x.z), m.permuted(old, x.y)
		case network.Load, network.Capacitor:
			x.y = m.permuted(old, x.y)
		case network.Infeed:
			first := 0 // the phase that is now A
			for c, name := range names {
				if name == 0 {
					first = c
				}
			}
			x.infeed.Angle += cmplx.Phase(p.rotation.Phases(0, 1, 0)[first])
		case network.Transformer:
			x.trafo.Group.Clock = clock(x.trafo.Group.Clock)
		case network.ThreeWindingTransformer:
			for k := range x.three.Lag {
				x.three.Lag[k] = clock(x.three.Lag[k])
			}
		case network.Bank:
			for i := range x.bank.Units {
				u := &x.bank.Units[i]
				for k := range u.Primary {
					u.Primary[k] = m.conductorAt(u.Primary[k])
				}
				for k := range u.Secondary {
					u.Secondary[k] = m.conductorAt(u.Secondary[k])
				}
			}
		case network.Regulator:
			var ratio [3]float64 // by the phase at which a unit starts
			switch x.reg.Connection {
			case network.RegulatorOpenDelta:
				ratio[names[0]], ratio[names[2]] = x.reg.Ratio[0], x.reg.Ratio[1]
				x.reg.Ratio = []float64{ratio[0], ratio[2]}
			default:
				for i, c := range (old & abc).Conductors() {
					ratio[names[c]] = x.reg.Ratio[i]
				}
				x.reg.Ratio = nil
				for _, c := range (x.terminals[0].Phases & abc).Conductors() {
					x.reg.Ratio = append(x.reg.Ratio, ratio[c])
				}
			}
		}
	}
	return q, m
}

// relabels tells whether all plant can be written with other names: an open
// delta has B in its middle, and units in closed delta end at the next phase.
func (p *mixture) relabels(names [3]int) bool {
	for _, x := range p.pieces {
		if x.kind != network.Regulator {
			continue
		}
		if x.reg.Connection == network.RegulatorOpenDelta && names[1] != 1 ||
			x.reg.Connection == network.RegulatorClosedDelta && (names[1]-names[0]+3)%3 != 1 {
			return false
		}
	}
	return true
}

// reordered lists buses, pieces and switches in another order.
func (p *mixture) reordered(r *rand.Rand) (*mixture, *match) {
	q := &mixture{rotation: p.rotation, buses: make([]planBus, len(p.buses)), pieces: make([]*piece, len(p.pieces))}
	m := &match{bus: r.Perm(len(p.buses))}
	for i, b := range p.buses {
		q.buses[m.bus[i]] = b
	}
	for i, j := range r.Perm(len(p.pieces)) {
		m.pieces = append(m.pieces, []int{j})
		q.pieces[j] = p.pieces[i].clone()
		for k := range q.pieces[j].terminals {
			q.pieces[j].terminals[k].Bus = m.bus[q.pieces[j].terminals[k].Bus]
		}
	}
	for _, i := range r.Perm(len(p.switches)) {
		s := p.switches[i]
		s.from, s.to = m.bus[s.from], m.bus[s.to]
		q.switches = append(q.switches, s)
	}
	return q, m
}

// turned writes branches the other way round, and the windings of
// three-winding transformers in another order. A regulator has its impedance
// on one side and unequal ratios: turned it is another. So is a unit with a
// middle, which has that in its second winding.
func (p *mixture) turned(r *rand.Rand) (*mixture, *match) {
	q := p.clone()
	m := &match{terminals: map[int][]int{}}
	for i := range q.switches {
		q.switches[i].from, q.switches[i].to = q.switches[i].to, q.switches[i].from
	}
	for i, x := range q.pieces {
		if len(x.terminals) < 2 || x.kind == network.Regulator {
			continue
		}
		old := p.pieces[i]
		at := []int{1, 0}
		switch x.kind {
		case network.Transformer:
			d := old.trafo
			n2 := complex(d.VFrom*d.VFrom/(d.VTo*d.VTo), 0)
			x.trafo = network.TransformerData{Group: quantity.VectorGroup{From: d.Group.To, To: d.Group.From, Clock: (12 - d.Group.Clock) % 12},
				VFrom: d.VTo, VTo: d.VFrom, Z1: d.Z1 * n2, Z0: d.Z0 * n2, Zm0: d.Zm0 * n2, From: d.To, To: d.From}
		case network.ThreeWindingTransformer:
			at = r.Perm(3) // old winding → new
			if len(x.terminals) == 2 {
				at = []int{1, 0, 2}
			}
			d, old := &x.three, old.three
			var was [3]int // new → old
			for k, to := range at {
				was[to] = k
			}
			between := [3][3]int{{-1, 0, 1}, {0, -1, 2}, {1, 2, -1}}
			n2 := complex(old.V[was[0]]*old.V[was[0]]/(old.V[0]*old.V[0]), 0)
			for k, from := range was {
				d.Winding[k], d.V[k], d.Point[k] = old.Winding[from], old.V[from], old.Point[from]
				d.Lag[k] = (old.Lag[from] - old.Lag[was[0]] + 12) % 12
				for l := range k {
					d.Z1[between[k][l]] = n2 * old.Z1[between[from][was[l]]]
					d.Z0[between[k][l]] = n2 * old.Z0[between[from][was[l]]]
				}
			}
			at = at[:len(x.terminals)]
		case network.Bank:
			middle := false
			for k := range x.bank.Units {
				u := &x.bank.Units[k]
				if middle = len(u.Secondary) != 2; middle {
					break
				}
				before := old.bank.Units[k]
				u.Primary, u.Secondary = [2]int(before.Secondary), before.Primary[:]
				u.VPrimary, u.VSecondary = before.VSecondary, before.VPrimary
				u.Z = before.Z * complex(before.VPrimary*before.VPrimary/(before.VSecondary*before.VSecondary), 0)
			}
			if middle {
				q.pieces[i] = old.clone()
				continue
			}
			x.bank.From, x.bank.To = old.bank.To, old.bank.From
		}
		for k, to := range at {
			x.terminals[to] = old.terminals[k]
		}
		m.terminals[i] = at
	}
	return q, m
}

// zones numbers the galvanic parts: buses with one voltage level.
func (p *mixture) zones() []int {
	zone := make([]int, len(p.buses))
	for b := range zone {
		zone[b] = b
	}
	join := func(a, b int) {
		from, to := zone[a], zone[b]
		for i := range zone {
			if zone[i] == from {
				zone[i] = to
			}
		}
	}
	for _, x := range p.pieces {
		switch x.kind {
		case network.Line, network.Reactor, network.Regulator:
			join(x.terminals[0].Bus, x.terminals[1].Bus)
		}
	}
	for _, s := range p.switches {
		join(s.from, s.to)
	}
	return zone
}

// rebased multiplies all voltages of each galvanic part by its own factor, and
// its impedances by the square: powers stay.
func (p *mixture) rebased(r *rand.Rand) (*mixture, *match) {
	q := p.clone()
	zone := p.zones()
	factors := make([]float64, len(p.buses))
	for i := range factors {
		factors[i] = math.Exp2(4*r.Float64() - 2)
	}
	k := func(bus int) float64 { return factors[zone[bus]] }
	for b := range q.buses {
		q.buses[b].vll *= k(b)
	}
	for _, x := range q.pieces {
		first := k(x.terminals[0].Bus)
		second := first
		if len(x.terminals) > 1 {
			second = k(x.terminals[1].Bus)
		}
		f2, s2 := complex(first*first, 0), complex(second*second, 0)
		x.z, x.y = multiple(x.z, f2), multiple(x.y, 1/f2)
		switch x.kind {
		case network.Infeed:
			x.infeed.VLL *= first
			x.infeed.Z1, x.infeed.Z2, x.infeed.Z0 = x.infeed.Z1*f2, x.infeed.Z2*f2, x.infeed.Z0*f2
		case network.InductionMachine, network.SynchronousMachine:
			d := &x.machine
			d.Z1, d.Z2, d.Z0, d.Neutral.Z = d.Z1*f2, d.Z2*f2, d.Z0*f2, d.Neutral.Z*f2
		case network.EarthingTransformer, network.Earthing:
			x.z0, x.zn = x.z0*f2, x.zn*f2
		case network.Inverter:
			x.inverter.Rated *= first
		case network.Transformer:
			d := &x.trafo
			d.VFrom, d.VTo = d.VFrom*first, d.VTo*second
			d.Z1, d.Z0, d.Zm0 = d.Z1*s2, d.Z0*s2, d.Zm0*s2
			d.From.Z, d.To.Z = d.From.Z*f2, d.To.Z*s2
		case network.ThreeWindingTransformer:
			d := &x.three
			for w := range 3 {
				f := 0.7 // of a winding that is not brought out
				if w < len(x.terminals) {
					f = k(x.terminals[w].Bus)
				}
				d.V[w] *= f
				d.Point[w].Z *= complex(f*f, 0)
				d.Z1[w], d.Z0[w] = d.Z1[w]*f2, d.Z0[w]*f2
			}
		case network.Bank:
			for i := range x.bank.Units {
				u := &x.bank.Units[i]
				u.VPrimary, u.VSecondary, u.Z, u.ZHalf = u.VPrimary*first, u.VSecondary*second, u.Z*s2, u.ZHalf*s2
			}
			x.bank.From.Z, x.bank.To.Z = x.bank.From.Z*f2, x.bank.To.Z*s2
		case network.Regulator:
			x.reg.Z *= f2
		}
	}
	return q, &match{volts: func(b int) complex128 { return complex(k(b), 0) }, amperes: func(b int) complex128 { return complex(1/k(b), 0) }}
}

// driven multiplies all source voltages by k; inverters are made as much
// larger, at a rated voltage as much higher.
func (p *mixture) driven(k complex128) (*mixture, *match) {
	q := p.clone()
	for _, x := range q.pieces {
		x.infeed.VLL *= cmplx.Abs(k)
		x.infeed.Angle += cmplx.Phase(k)
		d := &x.inverter
		d.Rated *= cmplx.Abs(k)
		d.Power *= cmplx.Abs(k) * cmplx.Abs(k)
		d.Output *= complex(cmplx.Abs(k)*cmplx.Abs(k), 0)
	}
	all := func(int) complex128 { return k }
	return q, &match{volts: all, amperes: all}
}

// halved puts two pieces of twice the impedance in place of some.
func (p *mixture) halved(r *rand.Rand) (*mixture, *match) {
	q := p.clone()
	m := &match{}
	for i, x := range q.pieces {
		m.pieces = append(m.pieces, []int{i})
		if r.Intn(2) == 0 {
			continue
		}
		switch x.kind { // x.z and x.y are totals of any kind
		case network.Infeed:
			d := &x.infeed
			d.Z1, d.Z2, d.Z0 = 2*d.Z1, 2*d.Z2, 2*d.Z0
		case network.InductionMachine, network.SynchronousMachine:
			d := &x.machine
			d.Z1, d.Z2, d.Z0, d.Neutral.Z = 2*d.Z1, 2*d.Z2, 2*d.Z0, 2*d.Neutral.Z
		case network.EarthingTransformer, network.Earthing:
			x.z0, x.zn = 2*x.z0, 2*x.zn
		case network.Inverter:
			x.inverter.Power /= 2
			x.inverter.Output /= 2
		case network.Transformer:
			d := &x.trafo
			d.Z1, d.Z0, d.Zm0, d.From.Z, d.To.Z = 2*d.Z1, 2*d.Z0, 2*d.Zm0, 2*d.From.Z, 2*d.To.Z
		case network.ThreeWindingTransformer:
			d := &x.three
			for w := range 3 {
				d.Z1[w], d.Z0[w], d.Point[w].Z = 2*d.Z1[w], 2*d.Z0[w], 2*d.Point[w].Z
			}
		case network.Bank:
			for k := range x.bank.Units {
				u := &x.bank.Units[k]
				u.Z, u.ZHalf = 2*u.Z, 2*u.ZHalf
			}
			x.bank.From.Z, x.bank.To.Z = 2*x.bank.From.Z, 2*x.bank.To.Z
		case network.Regulator:
			x.reg.Z *= 2
		}
		x.z, x.y = multiple(x.z, 2), multiple(x.y, 0.5)
		twin := x.clone()
		twin.name += " second half"
		m.pieces[i] = append(m.pieces[i], len(q.pieces))
		q.pieces = append(q.pieces, twin)
	}
	return q, m
}
