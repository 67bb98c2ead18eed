package duty

import (
	"fmt"
	"maps"
	"math"
	"math/cmplx"
	"slices"

	"feederwright/fault"
	"feederwright/network"
	"feederwright/quantity"
	"feederwright/study"
)

type (
	pct = quantity.PercentOn
	num = quantity.Number
)

const abc = quantity.PhasesABC

// A TapState says where on-load taps stand.
type TapState string

const (
	TapsAsGiven TapState = "as in the condition"
	TapsLowest  TapState = "all where they lower the voltage most"
	TapsHighest TapState = "all where they raise the voltage most"
)

// TapStates are those that a method asks for.
func TapStates(doc *study.Document, m Method) []TapState {
	if !m.Extremes || m.Smallest || len(Movable(doc)) == 0 {
		return []TapState{TapsAsGiven}
	}
	return []TapState{TapsAsGiven, TapsLowest, TapsHighest}
}

// A Case is one condition with its networks for duties. It builds them when
// they are first asked for, so it is for one goroutine at a time.
type Case struct {
	Method   Method
	State    study.State
	Taps     TapState
	Net      *network.Network // of the initial currents outside of power-station units
	Unproven map[int]string   // by bus: the zero-sequence datum that is missing
	// Defaults are the choices made where the study says nothing, in words.
	Defaults []string

	change func(*network.Network)
	doc    *study.Document // with the method's own treatment of shunts and machines
	sets   map[string]*set // by generator of the unit that the fault is inside of; "" for none
	inUnit map[int]string  // by bus
	motors map[string]*motor
	gens   map[string]*generator
}

type motor struct {
	perPair float64 // MW per pole pair; 0: not known
	rated   float64 // rated current, all machines, A
	power   float64 // W, all machines
	fed     string  // converter
	most    float64 // of a doubly-fed one: largest instantaneous current, all machines, A; 0: not known
	kappa   float64
	steady  float64 // r.m.s., all machines, A; -1: not known
}

// stays tells whether its current does not decay like a motor's.
func (m *motor) stays() bool { return m.fed == doublyFed }

// undecayed tells whether it counts in steady currents as it does at first:
// doubly-fed, its sustained current not known.
func (m *motor) undecayed() bool { return m.stays() && m.steady < 0 }

const doublyFed = "doubly-fed"

type generator struct {
	rated    float64 // rated current, all machines, A
	xd, x    float64 // saturated synchronous, and subtransient reactance over rated; xd 0: not known
	emf      float64 // at the ceiling of the field over nominal voltage; 0: not known
	sustains bool    // its field does not fail with the terminals' voltage
}

// Open prepares the duties of a condition.
func Open(doc *study.Document, state study.State, m Method, taps TapState) (*Case, error) {
	return OpenChanged(doc, state, m, taps, nil)
}

// OpenChanged is Open with every network altered before it is factorised, by
// which tests show that a check can fail.
func OpenChanged(doc *study.Document, state study.State, m Method, taps TapState, change func(*network.Network)) (*Case, error) {
	c := &Case{change: change, Method: m, State: state, Taps: taps, sets: make(map[string]*set), motors: make(map[string]*motor), gens: make(map[string]*generator)}
	c.prepare(doc)
	g, err := c.set("").initial()
	if err != nil {
		return nil, err
	}
	c.Net, c.Unproven = g.Net, g.model.Unproven
	c.Defaults = append(c.Defaults, g.model.Defaults...)
	c.findInside()
	return c, nil
}

// prepare sets up the study as duties see it: no shunts, machines of the first
// cycles, converters left to their own rule.
func (c *Case) prepare(doc *study.Document) {
	own := *doc
	method := study.Method{}
	if doc.Method != nil {
		method = *doc.Method
	}
	word := func(text string) study.Value[string] { return study.Value[string]{V: text, Given: true} }
	method.Charging, method.Capacitors, method.Loads, method.Inverters = word("neglected"), word("neglected"), word("neglected"), word("neglected")
	method.Machines = word("subtransient")
	method.Prefault = study.Value[quantity.Fraction]{V: 1, Given: true}
	own.Method = &method
	c.doc = &own

	s := &c.State
	s.Prefault = 1
	s.Hot = c.Method.Smallest
	s.Out, s.Tap, s.Regulator = maps.Clone(s.Out), maps.Clone(s.Tap), maps.Clone(s.Regulator)
	if s.Out == nil {
		s.Out = make(map[study.PlantRef]bool)
	}
	if s.Tap == nil {
		s.Tap = make(map[string]quantity.Fraction)
	}
	if s.Regulator == nil {
		s.Regulator = make(map[string]quantity.Positions)
	}
	if c.Taps != TapsAsGiven {
		for _, t := range Movable(doc) {
			at := t.Low
			if c.Taps == TapsHighest {
				at = t.High
			}
			if t.Regulator {
				s.Regulator[t.Name] = quantity.Positions{at}
			} else {
				s.Tap[t.Name] = quantity.Fraction(at)
			}
		}
	}
	if c.Method.Practice == IEC {
		for _, e := range doc.Transformers.Entries {
			if e.Item.UnitOf.Given {
				s.Tap[e.Name] = 0 // its factor stands for the taps
			}
		}
	}
	if c.Method.Smallest {
		for _, e := range doc.InductionMachines.Entries {
			s.Out[study.PlantRef{Kind: "induction machine", Name: e.Name}] = true
		}
	}
	for i := range doc.InductionMachines.Entries {
		e := &doc.InductionMachines.Entries[i]
		m := &e.Item
		if m.Converter.V == "one-way" {
			s.Out[study.PlantRef{Kind: "induction machine", Name: e.Name}] = true
		}
		u, n := c.nominal(m.At.V), 1.0
		if m.Voltage.Given {
			u = float64(m.Voltage.V)
		}
		if m.Count.Given {
			n = float64(m.Count.V)
		}
		va, p := float64(m.Rating.V), float64(m.Power.V)
		if !m.Rating.Given {
			va = p / float64(m.Efficiency.V) / m.PF.V.Value
		}
		if !m.Power.Given {
			p = va
		}
		d := &motor{rated: n * va / (math.Sqrt(3) * u), power: n * p, fed: m.Converter.V}
		if m.PolePairs.Given {
			d.perPair = p / 1e6 / float64(m.PolePairs.V)
		}
		d.most, d.kappa, d.steady = n*float64(m.MostEver.V), 1.7, -1
		if m.PeakBy.Given {
			d.kappa = float64(m.PeakBy.V)
		}
		if m.Sustained.Given {
			d.steady = n * float64(m.Sustained.V)
		}
		c.motors[e.Name] = d
	}
	for i := range doc.SynchronousMachines.Entries {
		e := &doc.SynchronousMachines.Entries[i]
		u, n := c.nominal(e.Item.At.V), 1.0
		if e.Item.Voltage.Given {
			u = float64(e.Item.Voltage.V)
		}
		if e.Item.Count.Given {
			n = float64(e.Item.Count.V)
		}
		g := &generator{rated: n * float64(e.Item.Rating.V) / (math.Sqrt(3) * u), xd: float64(e.Item.Synchronous.V), x: float64(e.Item.Subtransient.V),
			sustains: e.Item.Excitation.V == "independent"}
		if e.Item.Ceiling.Given && e.Item.PF.Given && g.xd > 0 {
			g.emf = CeilingVoltage(float64(e.Item.Ceiling.V), g.xd, e.Item.PF.V.Value) * u / c.nominal(e.Item.At.V)
		}
		c.gens[e.Name] = g
	}
}

// findInside tells for each bus whether it lies inside a power-station unit:
// with the generator, apart from the network but for the unit's transformer.
func (c *Case) findInside() {
	c.inUnit = make(map[int]string)
	for i := range c.doc.Transformers.Entries {
		e := &c.doc.Transformers.Entries[i]
		if !e.Item.UnitOf.Given || c.Method.Practice != IEC {
			continue
		}
		g := c.doc.SynchronousMachines.Find(string(e.Item.UnitOf.V))
		n := c.Net.ElementByName(network.Transformer, e.Name)
		if g == nil || n < 0 || !c.Net.Live(n) {
			continue
		}
		for t := range c.Net.Elements[n].Terminals {
			bus := c.Net.Elements[n].Terminals[t].Bus
			p := c.Net.AtTerminal(n, t)
			if c.Net.Node[bus] != c.Net.Node[c.Net.BusByName(string(g.Item.At.V))] {
				continue
			}
			for b := range c.Net.Buses {
				if p.SideOf(b) == network.Near {
					c.inUnit[b] = g.Name
				}
			}
		}
	}
}

// A role is what a network is for.
type role int

const (
	asIs       role = iota
	lowered         // reactances at the equivalent frequency of the peak, fictitious resistances
	reactance       // alone
	resistance      // alone
	at27            // reactances at the equivalent frequencies of the d.c. part: 0.27, 0.15, 0.092 and 0.055 of the system's
	at15
	at9
	at5
	steady // later, with the synchronous reactances of generators
)

// dcRoles are the networks of the d.c. part.
var dcRoles = map[role]float64{at27: 0.27, at15: 0.15, at9: 0.092, at5: 0.055}

// A set holds the networks for faults outside of all power-station units, or
// inside of one.
type set struct {
	c     *Case
	unit  string
	grids map[[2]int]*grid // by role, and whether later
}

func (c *Case) set(unit string) *set {
	s := c.sets[unit]
	if s == nil {
		s = &set{c: c, unit: unit, grids: make(map[[2]int]*grid)}
		c.sets[unit] = s
	}
	return s
}

// A grid is one network, factorised.
type grid struct {
	*fault.Solver
	model   *network.Model
	factors *factors
	rx      map[network.Part]float64 // R/X of plant but lines, the largest of each

	node  int // what solved holds
	cache map[fault.Kind]*solution
	loops map[fault.Kind]complex128

	probes map[int]*network.Probe // by device
}

func (s *set) initial() (*grid, error) {
	r := asIs
	if s.c.Method.Practice == IEEE && s.c.Method.ByReactance {
		r = reactance
	}
	return s.grid(r, false)
}

// leastPart is what stands for no resistance, or no reactance, in the networks
// of one of them alone, over the impedance: far below what it is known to.
const leastPart = 1e-6

func (s *set) grid(r role, later bool) (*grid, error) {
	key := [2]int{int(r), 0}
	if later {
		key[1] = 1
	}
	if g := s.grids[key]; g != nil {
		return g, nil
	}
	c := s.c
	state := c.State
	var k *factors
	if c.Method.Practice == IEC {
		k = c.correction(s.unit)
	} else {
		k = c.multipliers(later)
	}
	out := maps.Clone(state.Out)
	for name := range c.motors {
		// Later: with IEC the steady state, without motors; with IEEE those that
		// have no factor.
		if c.Method.Practice == IEC && later && !c.motors[name].undecayed() || c.Method.Practice == IEEE && k.of(all(network.InductionMachine, name)) == 0 {
			out[study.PlantRef{Kind: "induction machine", Name: name}] = true
		}
	}
	if r == steady && c.Method.Smallest {
		for name, m := range c.gens {
			if m.xd == 0 || !m.sustains {
				out[study.PlantRef{Kind: "synchronous machine", Name: name}] = true
			}
		}
	}
	state.Out = out
	g := &grid{factors: k, rx: make(map[network.Part]float64), node: -1, probes: make(map[int]*network.Probe)}
	model, err := network.FromStudyWith(c.doc, state, network.Options{Blind: true, Impedance: func(p network.Part, z complex128) complex128 {
		if r == steady && p.Kind == network.SynchronousMachine && p.Of == network.OfPositive {
			if m := c.gens[p.Name]; m != nil && m.xd > 0 && (c.Method.Smallest || m.emf > 0) {
				return complex(real(z), imag(z)*m.xd/m.x)
			}
		}
		z = c.corrected(k, p, z)
		switch p.Of {
		case network.OfPositive, network.OfSeries, network.OfPair12, network.OfPair13, network.OfPair23:
			if p.Kind != network.Line && imag(z) != 0 {
				g.rx[all(p.Kind, p.Name)] = max(g.rx[all(p.Kind, p.Name)], real(z)/imag(z))
			}
		}
		least := leastPart * cmplx.Abs(z)
		switch r {
		case lowered:
			if p.Kind == network.SynchronousMachine && p.Of != network.OfNeutral {
				z = complex(c.fictitious(p.Name)*imag(z), imag(z))
			}
			return complex(real(z), EquivalentFrequency*imag(z))
		case reactance:
			if math.Abs(imag(z)) < least {
				return complex(0, least)
			}
			return complex(0, imag(z))
		case resistance:
			if math.Abs(real(z)) < least {
				return complex(least, 0)
			}
			return complex(real(z), 0)
		}
		if f, ok := dcRoles[r]; ok {
			return complex(real(z), f*imag(z))
		}
		return z
	}})
	if err != nil {
		return nil, err
	}
	if c.change != nil {
		c.change(model.Network)
	}
	solver, err := fault.NewSolver(model.Network)
	if err != nil {
		return nil, err
	}
	g.Solver, g.model = solver, model
	s.grids[key] = g
	return g, nil
}

// fictitious is R_Gf over X″d of a synchronous machine.
func (c *Case) fictitious(name string) float64 {
	e := c.doc.SynchronousMachines.Find(name)
	if e == nil {
		return 0
	}
	u := float64(e.Item.Voltage.V)
	if !e.Item.Voltage.Given {
		u = c.nominal(e.Item.At.V)
	}
	return FictitiousResistance(u, float64(e.Item.Rating.V))
}

// corrected is an impedance with the practice's factor.
func (c *Case) corrected(k *factors, p network.Part, z complex128) complex128 {
	z *= complex(k.of(p), 0)
	switch p.Kind {
	case network.Infeed:
		return z * complex(c.infeedFactor(p), 0)
	case network.InductionMachine:
		m := c.motors[p.Name]
		if m != nil && m.stays() && m.most > 0 {
			// IEC 60909-0:2016, doubly-fed asynchronous generators [from memory].
			e := c.doc.InductionMachines.Find(p.Name)
			u := c.nominal(e.Item.At.V)
			if e.Item.Voltage.Given {
				u = float64(e.Item.Voltage.V)
			}
			return DoublyFed(u, m.kappa, m.most)
		}
		if m == nil || m.fed != "feeds-back" {
			return z
		}
		// A drive that feeds back counts with three times rated current and R/X 0.1
		// (IEC 60909-0:2016, 6.9 [from memory]).
		e := c.doc.InductionMachines.Find(p.Name)
		u := c.nominal(e.Item.At.V)
		if e.Item.Voltage.Given {
			u = float64(e.Item.Voltage.V)
		}
		magnitude := u / math.Sqrt(3) / (3 * m.rated)
		x := magnitude / math.Hypot(1, 0.1)
		return complex(0.1*x, x)
	}
	return z
}

// infeedFactor brings the voltage factor into the impedance of an infeed whose
// level states none: Z_Q = c·Un/(√3·I″kQ) (IEC 60909-0:2016, 6.2).
func (c *Case) infeedFactor(p network.Part) float64 {
	e := c.doc.Supply.Find(p.Name)
	if c.Method.Practice != IEC || e == nil {
		return 1
	}
	l := e.Item.Level(c.State.Infeed[p.Name])
	if l == nil || l.Factor.Given {
		return 1
	}
	byLevel := !l.Z1.Given
	switch p.Of {
	case network.OfNegative:
		byLevel = byLevel && !l.Z2.Given
	case network.OfZero:
		byLevel = byLevel && !l.Z0.Given
	}
	if !byLevel {
		return 1
	}
	f := c.Method.Factor(c.nominal(e.Item.At.V), 0)
	text := fmt.Sprintf("duties: the level of infeed %s taken as that of IEC 60909-0, with c = %.2f in it", p.Name, f)
	if !slices.Contains(c.Defaults, text) {
		c.Defaults = append(c.Defaults, text)
	}
	return f
}

// A solution is what one fault changes in a network, driven as the practice
// has it.
type solution struct {
	res   *fault.Result
	delta []complex128 // changes of the node voltages, V
	i     [4]complex128
	scale complex128
}

// at makes room for what is found at a bus; what was found at another node goes.
func (g *grid) at(bus int) {
	if g.node != g.Net.Node[bus] || g.cache == nil {
		g.node, g.cache, g.loops = g.Net.Node[bus], make(map[fault.Kind]*solution), make(map[fault.Kind]complex128)
	}
}

// solve finds one fault at a bus, driven by the line-to-line voltage u, V.
func (g *grid) solve(bus int, kind fault.Kind, u float64) (*solution, error) {
	g.at(bus)
	if s := g.cache[kind]; s != nil {
		return s, nil
	}
	res, err := g.Fault(fault.AtBus(bus), kind, 0)
	if err != nil {
		return nil, err
	}
	state, _ := g.State(res)
	before := g.Prefault()
	s := &solution{res: res, delta: make([]complex128, len(state)), scale: complex(u/g.voltage(bus), 0)}
	for i := range state {
		s.delta[i] = (state[i] - before[i]) * s.scale
	}
	for k := range s.i {
		s.i[k] = res.I[k] * s.scale
	}
	g.cache[kind] = s
	return s, nil
}

// voltage is that before the fault at a bus, line-to-line, V: the largest
// between its phases; of a single phase √3 times that to earth.
func (g *grid) voltage(bus int) float64 {
	largest := 0.0
	phases := (g.Net.Fed[bus] & abc).Conductors()
	for i, k := range phases {
		for _, o := range phases[:i] {
			largest = math.Max(largest, cmplx.Abs(g.PrefaultVoltage(bus, k)-g.PrefaultVoltage(bus, o)))
		}
	}
	if len(phases) == 1 {
		largest = math.Sqrt(3) * cmplx.Abs(g.PrefaultVoltage(bus, phases[0]))
	}
	return largest
}

// positive is the positive-sequence value of something with three phases.
func positive(n *network.Network, at [3]complex128) complex128 {
	_, p, _ := n.Rotation.Sequence(at)
	return p
}

// at reads node values at a bus's phases.
func at(n *network.Network, v []complex128, bus int) (x [3]complex128) {
	for k := range x {
		if u := n.Unknown(bus, k); u >= 0 {
			x[k] = v[u]
		}
	}
	return x
}

// into is the current that a fault makes flow into an element at a terminal.
func into(n *network.Network, element, terminal int, delta []complex128) (i [4]complex128) {
	e := &n.Elements[element]
	if e.Solid {
		return i
	}
	type row struct{ bus, conductor int }
	var rows []row
	first := 0
	for t, u := range e.Terminals {
		if t == terminal {
			first = len(rows)
		}
		for _, c := range u.Phases.Conductors() {
			rows = append(rows, row{u.Bus, c})
		}
	}
	for k, c := range e.Terminals[terminal].Phases.Conductors() {
		for j, r := range rows {
			if u := n.Unknown(r.bus, r.conductor); u >= 0 {
				i[c] += e.Y[(first+k)*len(rows)+j] * delta[u]
			}
		}
	}
	return i
}

// through is what a fault makes flow through a probe, with the fault's own
// current where it is drawn beyond.
func through(n *network.Network, p *network.Probe, bus int, s *solution) (i [4]complex128) {
	p.Terms(func(element, terminal int, sign float64) {
		for c, x := range into(n, element, terminal, s.delta) {
			i[c] += complex(sign, 0) * x
		}
	})
	for c := range i {
		i[c] += complex(p.Direct(bus), 0) * s.i[c]
	}
	return i
}

func largestOf(i [4]complex128) (largest float64) {
	for _, x := range i[:3] {
		largest = math.Max(largest, cmplx.Abs(x))
	}
	return largest
}
