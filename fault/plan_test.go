package fault_test

import (
	"fmt"
	"math"
	"math/cmplx"
	"math/rand"

	"pgregory.net/rapid"

	"feederwright/fault"
	"feederwright/network"
	"feederwright/phasor"
	"feederwright/quantity"
)

// A plan is plant as a person would list it. The tests build the network from
// it, and from the same list a circuit for another program, a relabelled or a
// reordered network, or sequence networks of their own.
type plan struct {
	rotation phasor.Rotation
	buses    []planBus
	lines    []planLine
	trafos   []planTrafo
	infeeds  []planInfeed
	earthers []planEarther
	shunts   []planShunt
	switches []planSwitch
}

type planBus struct {
	name   string
	phases quantity.Phases
	vll    float64 // V, nominal
}

type planLine struct {
	name     string
	from, to int
	phases   quantity.Phases
	z, y     []complex128 // ohm, S, totals
	z1, z0   complex128   // where it is balanced
	b1, b0   float64      // S, charging totals where it is balanced
}

type planTrafo struct {
	name     string
	from, to int
	network.TransformerData
}

type planInfeed struct {
	name string
	bus  int
	network.InfeedData
}

type planEarther struct {
	name   string
	bus    int
	z0, zn complex128
}

type planShunt struct {
	name       string
	kind       network.Kind
	bus        int
	phases     quantity.Phases
	y          []complex128
	connection network.Connection // where it is a bank of equal admittances
	each       complex128         // S
}

type planSwitch struct {
	name     string
	from, to int
	closed   bool
}

// A failer is a *testing.T or a *rapid.T.
type failer interface {
	Helper()
	Errorf(format string, args ...any)
	Fatalf(format string, args ...any)
}

func (p *plan) bus(name string, phases quantity.Phases, vll float64) int {
	p.buses = append(p.buses, planBus{name, phases, vll})
	return len(p.buses) - 1
}

func (p *plan) infeed(name string, bus int, d network.InfeedData) {
	p.infeeds = append(p.infeeds, planInfeed{name, bus, d})
}

// line adds a transposed section of three phases.
func (p *plan) line(name string, from, to int, z1, z0 complex128, b1, b0 float64) {
	l := planLine{name: name, from: from, to: to, phases: abc, z: network.BalancedMatrix(3, z1, z0), z1: z1, z0: z0, b1: b1, b0: b0}
	if b1 != 0 || b0 != 0 {
		l.y = network.BalancedMatrix(3, complex(0, b1), complex(0, b0))
	}
	p.lines = append(p.lines, l)
}

func (p *plan) matrixLine(name string, from, to int, phases quantity.Phases, z, y []complex128) {
	p.lines = append(p.lines, planLine{name: name, from: from, to: to, phases: phases, z: z, y: y})
}

func (p *plan) trafo(name string, from, to int, d network.TransformerData) {
	p.trafos = append(p.trafos, planTrafo{name, from, to, d})
}

func (p *plan) bank(name string, kind network.Kind, bus int, phases quantity.Phases, c network.Connection, each complex128) {
	p.shunts = append(p.shunts, planShunt{name, kind, bus, phases, network.ConnectedShunt(c, phases.Count(), each), c, each})
}

func (p *plan) closed(name string, from, to int) {
	p.switches = append(p.switches, planSwitch{name, from, to, true})
}

// An order says in which order buses, elements and switches are added; nil is
// the order of the list.
type order struct{ buses, elements, switches []int }

// network builds the network.
func (p *plan) network(t failer, o order) *network.Network {
	t.Helper()
	b := network.Builder{Rotation: p.rotation}
	at := make([]int, len(p.buses))
	for _, i := range sequence(o.buses, len(p.buses)) {
		at[i] = b.AddBus(p.buses[i].name, p.buses[i].phases, p.buses[i].vll)
	}
	var add []func() (int, error)
	for _, l := range p.lines {
		add = append(add, func() (int, error) { return b.AddLine(l.name, at[l.from], at[l.to], l.phases, l.z, l.y) })
	}
	for _, x := range p.trafos {
		add = append(add, func() (int, error) { return b.AddTransformer(x.name, at[x.from], at[x.to], x.TransformerData) })
	}
	for _, s := range p.infeeds {
		add = append(add, func() (int, error) { return b.AddInfeed(s.name, at[s.bus], s.InfeedData) })
	}
	for _, e := range p.earthers {
		add = append(add, func() (int, error) { return b.AddEarthingTransformer(e.name, at[e.bus], e.z0, e.zn) })
	}
	for _, s := range p.shunts {
		add = append(add, func() (int, error) { return b.AddShunt(s.kind, s.name, at[s.bus], s.phases, s.y) })
	}
	for _, i := range sequence(o.elements, len(add)) {
		if _, err := add[i](); err != nil {
			t.Fatalf("%v", err)
		}
	}
	for _, i := range sequence(o.switches, len(p.switches)) {
		s := p.switches[i]
		b.AddSwitch("switch", s.name, at[s.from], at[s.to], s.closed)
	}
	n, err := b.Build()
	if err != nil {
		t.Fatalf("%v", err)
	}
	return n
}

func (p *plan) elements() int {
	return len(p.lines) + len(p.trafos) + len(p.infeeds) + len(p.earthers) + len(p.shunts)
}

func sequence(order []int, n int) []int {
	if order != nil {
		return order
	}
	order = make([]int, n)
	for i := range order {
		order[i] = i
	}
	return order
}

func (p *plan) solver(t failer, o order) *fault.Solver {
	t.Helper()
	s, err := fault.NewSolver(p.network(t, o))
	if err != nil {
		t.Fatalf("%v", err)
	}
	return s
}

// relabelled is the same plant with its phases called A→B→C→A.
func (p *plan) relabelled() *plan {
	q := &plan{rotation: p.rotation, trafos: p.trafos, earthers: p.earthers, switches: p.switches}
	for _, b := range p.buses {
		b.phases = turn(b.phases)
		q.buses = append(q.buses, b)
	}
	for _, l := range p.lines {
		l.z, l.y = turnMatrix(l.phases, l.z), turnMatrix(l.phases, l.y)
		l.phases = turn(l.phases)
		q.lines = append(q.lines, l)
	}
	for _, s := range p.infeeds {
		// The new phase A is the old C, which leads A by 120° (lags, in the rotation ACB).
		if p.rotation == phasor.ABC {
			s.Angle += 2 * math.Pi / 3
		} else {
			s.Angle -= 2 * math.Pi / 3
		}
		q.infeeds = append(q.infeeds, s)
	}
	for _, s := range p.shunts {
		s.y = turnMatrix(s.phases, s.y)
		s.phases = turn(s.phases)
		q.shunts = append(q.shunts, s)
	}
	return q
}

// turn calls A→B→C→A.
func turn(p quantity.Phases) quantity.Phases {
	return p&8 | (p<<1|p>>2&1)&7
}

func turnMatrix(p quantity.Phases, m []complex128) []complex128 {
	if m == nil {
		return nil
	}
	old := p.Conductors()
	n := len(old)
	at := make(map[int]int) // new conductor → old position
	for i, c := range old {
		if c < 3 {
			c = (c + 1) % 3
		}
		at[c] = i
	}
	out := make([]complex128, n*n)
	next := turn(p).Conductors()
	for i, c := range next {
		for j, d := range next {
			out[i*n+j] = m[at[c]*n+at[d]]
		}
	}
	return out
}

// A wish says what a random plan may hold.
type wish struct {
	buses      int  // most
	balanced   bool // three phases everywhere, transposed
	reciprocal bool // Z2 = Z1
	noOpen     bool // no open switches, so no dead parts
	noCharging bool
	symmetric  bool // transformers whose Z0 a winding model can have exactly
}

// groups are all vector groups, with and without neutrals.
var groups = func() []quantity.VectorGroup {
	var list []quantity.VectorGroup
	windings := []string{"D", "Y", "YN", "Z", "ZN"}
	small := []string{"d", "y", "yn", "z", "zn"}
	for _, from := range windings {
		for _, to := range small {
			for clock := 0; clock < 12; clock++ {
				var g quantity.VectorGroup
				if g.UnmarshalText([]byte(fmt.Sprint(from, to, clock))) == nil {
					list = append(list, g)
				}
			}
		}
	}
	return list
}()

// A zone is a galvanic part: one voltage and one angle.
type zone struct {
	vll   float64
	clock int // 30° steps that it lags the first zone by, in the rotation ABC
}

// seeded draws a source of random numbers. The numbers that rapid draws itself
// lean to small ones, which would make small networks with small impedances.
func seeded(t *rapid.T) *rand.Rand {
	seed := rapid.Custom(func(t *rapid.T) int64 {
		x := int64(0)
		for range 40 {
			x *= 2
			if rapid.Bool().Draw(t, "bit") {
				x++
			}
		}
		return x
	}).Draw(t, "seed")
	return rand.New(rand.NewSource(seed))
}

// baseVA makes the impedance V²/baseVA that all parts are multiples of, so that
// all voltages of a network take part.
const baseVA = 10e6

// drawPlan makes a random network.
func drawPlan(r *rand.Rand, w wish) *plan {
	p := &plan{rotation: phasor.Rotation(r.Intn(2))}
	part := func(low, high float64) float64 { return low + (high-low)*r.Float64() }
	chance := func(percent int) bool { return r.Intn(100) < percent }
	pick := r.Intn
	levels := []float64{66e3, 20e3, 12.47e3, 4.16e3, 400}
	base := func(vll float64) float64 { return vll * vll / baseVA }
	impedance := func(low, high float64) complex128 {
		return cmplx.Rect(part(low, high), part(0.4, 1.5))
	}
	zones := []zone{{vll: levels[pick(len(levels))]}}
	var zoneOf []int
	var behindOpen []bool
	newBus := func(zone int, phases quantity.Phases, open bool) int {
		zoneOf = append(zoneOf, zone)
		behindOpen = append(behindOpen, open)
		return p.bus(fmt.Sprintf("b%d", len(p.buses)), phases, zones[zone].vll)
	}
	addLine := func(from, to int, phases quantity.Phases) {
		z := complex(base(p.buses[from].vll), 0)
		z1 := z * impedance(0.002, 0.3)
		z0 := z1 * complex(part(1.2, 4), part(-0.2, 0.2))
		name := fmt.Sprintf("L%d", len(p.lines))
		b1, b0 := 0.0, 0.0
		if !w.noCharging && chance(40) {
			b1 = part(1e-3, 2e-2) / real(z)
			b0 = b1 * part(0.4, 1)
		}
		if w.balanced {
			p.line(name, from, to, z1, z0, b1, b0)
			return
		}
		n := phases.Count()
		m := network.BalancedMatrix(n, z1, z0)
		for i := 0; i < n; i++ {
			m[i*n+i] *= complex(part(1, 1.2), 0)
			for j := 0; j < i; j++ {
				m[i*n+j] *= complex(part(0.8, 1), 0)
				m[j*n+i] = m[i*n+j]
			}
		}
		var y []complex128
		if b1 != 0 {
			y = network.BalancedMatrix(n, complex(0, b1), complex(0, b0))
			for i := 0; i < n; i++ {
				y[i*n+i] *= complex(part(1, 1.2), 0)
			}
		}
		p.matrixLine(name, from, to, phases, m, y)
	}
	neutral := func(w quantity.Winding, vll float64) network.NeutralPoint {
		n := network.NeutralPoint{Exists: w.Neutral}
		if w.Neutral && chance(80) {
			n.Earthed = true
			if chance(40) {
				n.Z = complex(base(vll), 0) * complex(part(0, 2), part(0, 1))
			}
		}
		return n
	}
	addTrafo := func(from, to int, g quantity.VectorGroup) {
		vf, vt := p.buses[from].vll, p.buses[to].vll
		if chance(20) {
			vf *= []float64{0.95, 0.975, 1.025, 1.05}[pick(4)]
		}
		z := complex(base(vt), 0)
		d := network.TransformerData{Group: g, VFrom: vf, VTo: vt, From: neutral(g.From, vf), To: neutral(g.To, vt)}
		d.Z1 = z * impedance(0.05, 0.5)
		d.Z0 = d.Z1 * complex(part(0.7, 1), 0)
		if w.symmetric && g.From.Kind == 'Z' && g.To.Kind == 'Z' {
			d.Z0 = d.Z1 / 2
		}
		if chance(30) {
			d.Zm0 = z * complex(0, part(1, 5))
		}
		p.trafo(fmt.Sprintf("T%d", len(p.trafos)), from, to, d)
	}
	addInfeed := func(bus int) {
		z := zones[zoneOf[bus]]
		b := complex(base(z.vll), 0)
		step := -math.Pi / 6
		if p.rotation == phasor.ACB {
			step = -step
		}
		d := network.InfeedData{VLL: z.vll * part(0.95, 1.1), Angle: step*float64(z.clock) + part(-0.2, 0.2),
			Z1: b * impedance(0.02, 0.4), Open: chance(30)}
		d.Z2 = d.Z1
		if !w.reciprocal && chance(50) {
			d.Z2 *= complex(part(0.6, 1.3), part(-0.1, 0.1))
		}
		if !d.Open {
			d.Z0 = d.Z1 * complex(part(0.3, 3), 0)
		}
		p.infeed(fmt.Sprintf("S%d", len(p.infeeds)), bus, d)
	}

	newBus(0, abc, false)
	addInfeed(0)
	for n := 3 + r.Intn(w.buses-2); len(p.buses) < n; {
		parent := len(p.buses) - 1
		if chance(60) {
			parent = pick(len(p.buses))
		}
		phases, zn, open := p.buses[parent].phases, zoneOf[parent], behindOpen[parent]
		some := quantity.Phases(0)
		if !w.balanced && phases.Count() > 0 {
			some = phases & quantity.Phases(1+pick(7))
		}
		x := pick(100)
		switch {
		case x < 15:
			if some != 0 && chance(40) {
				phases = some
			}
			p.closed(fmt.Sprintf("W%d", len(p.switches)), parent, newBus(zn, phases, open))
		case x < 20 && !w.noOpen:
			p.switches = append(p.switches, planSwitch{fmt.Sprintf("W%d", len(p.switches)), parent, newBus(zn, phases, true), false})
		case x < 40 && phases == abc:
			g := groups[pick(len(groups))]
			next := zone{vll: levels[pick(len(levels))], clock: zones[zn].clock + g.Clock}
			reversed := chance(20)
			if reversed {
				next.clock = zones[zn].clock - g.Clock
			}
			zones = append(zones, next)
			from, to := parent, newBus(len(zones)-1, abc, open)
			if reversed {
				from, to = to, from
			}
			addTrafo(from, to, g)
		case x < 55 && some != 0:
			addLine(parent, newBus(zn, some, open), some)
		default:
			addLine(parent, newBus(zn, phases, open), phases)
		}
	}
	// Loops: a line between buses with the same conductors, or a transformer
	// beside another. Buses with part of the phases behind an open switch are
	// left alone: a transformer behind them would be fed by fewer than three phases.
	for k := pick(1 + len(p.buses)/4); k > 0; k-- {
		i, j := pick(len(p.buses)), pick(len(p.buses))
		if i != j && zoneOf[i] == zoneOf[j] && p.buses[i].phases == p.buses[j].phases &&
			(p.buses[i].phases == abc || !behindOpen[i] && !behindOpen[j]) {
			addLine(i, j, p.buses[i].phases)
		}
	}
	if len(p.trafos) > 0 && chance(40) {
		x := p.trafos[pick(len(p.trafos))]
		addTrafo(x.from, x.to, x.Group)
	}
	for k := pick(3); k > 0; k-- {
		if i := pick(len(p.buses)); p.buses[i].phases == abc {
			addInfeed(i)
		}
	}
	for k := pick(3); k > 0; k-- {
		i := pick(len(p.buses))
		b := complex(1/base(p.buses[i].vll), 0)
		c := []network.Connection{network.EarthedWye, network.Wye, network.Delta}[pick(3)]
		name := fmt.Sprintf("C%d", len(p.shunts))
		switch {
		case chance(50):
			p.bank(name, network.Capacitor, i, p.buses[i].phases, c, b*complex(0, part(0.001, 0.02)))
		case chance(50):
			p.bank(name, network.Load, i, p.buses[i].phases, c, b*complex(part(0.001, 0.1), -part(0.001, 0.05)))
		case p.buses[i].phases == abc:
			e := planEarther{name: fmt.Sprintf("E%d", len(p.earthers)), bus: i, z0: impedance(0.1, 1) / b}
			if chance(50) {
				e.zn = complex(part(0, 3), 0) / b
			}
			p.earthers = append(p.earthers, e)
		}
	}
	return p
}

// fedBuses are the buses with a source.
func fedBuses(n *network.Network) []int {
	var list []int
	for i := range n.Buses {
		if n.Fed[i] != 0 {
			list = append(list, i)
		}
	}
	return list
}

// drawFault picks a bus with a source and a fault that exists there, with a
// resistance from none to that bus's base impedance.
func drawFault(r *rand.Rand, n *network.Network) (bus int, k fault.Kind, ohm float64) {
	buses := fedBuses(n)
	bus = buses[r.Intn(len(buses))]
	kinds := fault.All(n.Fed[bus] & abc)
	k = kinds[r.Intn(len(kinds))]
	if r.Intn(2) == 0 {
		return bus, k, 0
	}
	return bus, k, r.Float64() * n.Buses[bus].Nominal * n.Buses[bus].Nominal / baseVA
}

// scale is the largest current of a state at a bus of nominal voltage vll:
// currents behind transformers count in proportion. It is never less than a
// hundredth of the base, since without load and fault all is rounding.
func scale(n *network.Network, state []complex128, vll float64) float64 {
	largest := 0.01 * baseVA / math.Sqrt(3)
	for i := range n.Elements {
		if !n.Live(i) {
			continue
		}
		k := 0
		currents := n.ElementCurrents(i, state)
		for _, term := range n.Elements[i].Terminals {
			for range term.Phases.Conductors() {
				largest = math.Max(largest, cmplx.Abs(currents[k])*n.Buses[term.Bus].Nominal)
				k++
			}
		}
	}
	return largest / vll
}
