package duty

import (
	"fmt"
	"math"
	"math/cmplx"

	"feederwright/fault"
	"feederwright/network"
	"feederwright/study"
)

// Currents are the duties of one fault: of all that flows into it, or of what
// flows through a device.
//
// The largest of the phases counts. What the practice does not have is zero:
// Kappa and Ratio with IEEE, Later with IEC.
type Currents struct {
	Bus      int
	Kind     fault.Kind
	Method   Method
	Nominal  float64 // line-to-line voltage of the place, V
	Factor   float64 // c, or E over nominal
	Loop     complex128
	Initial  float64 // I″k, or the symmetrical first-cycle current
	ByPlant  float64 // of Initial: from what has an impedance
	ByLimit  float64 // of Initial: from converters, which limit their current
	Residual float64 // sum of the phases of ByPlant: what returns through earth and screens
	XR       float64 // X/R that decides the offset: by 20 Hz, or separate networks
	Kappa    float64
	Peak     float64
	Steady   float64 // Ik, see Case.steady; by IEC
	How      string  // how Steady was found, in words
	Later    float64 // symmetrical current of the interrupting network; by IEEE
	LaterXR  float64
	Remote   float64 // part of Later that generators nearby don't give
	Sources  []Source
	Missing  []string // data that were taken on the safe side
	decaying []decay
	later    func(t float64) float64 // X/R of the d.c. part at a time, by its own frequency; nil: XR
	flow     complex128              // of ByPlant, positive sequence towards the fault
}

// A Source is what one source gives to a fault, at its own terminals.
type Source struct {
	Kind    network.Kind
	Name    string
	Current float64    // positive sequence, A
	Share   complex128 // of the fault's positive-sequence current, at the place of the fault, A
	Ratio   float64    // to rated current, for machines
	Weight  float64    // of its decay, see Breaking
}

type decay struct {
	Source
	perPair float64
	motor   bool
	gone    bool // no current at all when contacts part
}

// At gives the currents of a fault at a bus.
func (c *Case) At(bus int, kind fault.Kind) (*Currents, error) {
	return c.currents(bus, kind, view{device: -1, element: -1})
}

// Through gives those that flow through a closed device for a fault at the bus
// on either side of it.
func (c *Case) Through(device int, bus int, kind fault.Kind) (*Currents, error) {
	return c.currents(bus, kind, view{device: device, element: -1})
}

// Into gives those that flow into plant at a terminal for a fault just inside
// of it: all but what the plant itself brings there.
func (c *Case) Into(kind network.Kind, name string, terminal int, f fault.Kind) (*Currents, error) {
	e := c.Net.ElementByName(kind, name)
	if e < 0 || !c.Net.Live(e) {
		return nil, fault.ErrNoSource
	}
	return c.currents(c.Net.Elements[e].Terminals[terminal].Bus, f, view{device: -1, element: e, terminal: terminal})
}

// Neutral is the current in the neutral of a transformer's winding, or of an
// earthing transformer, for a fault at its terminals at nominal voltage.
func (c *Case) Neutral(kind network.Kind, name string, terminal int, f fault.Kind) (float64, error) {
	e := c.Net.ElementByName(kind, name)
	if e < 0 || !c.Net.Live(e) {
		return 0, fault.ErrNoSource
	}
	bus := c.Net.Elements[e].Terminals[terminal].Bus
	if why := c.Unproven[bus]; why != "" {
		return 0, &MissingError{why}
	}
	g, err := c.set(c.inUnit[bus]).initial()
	if err != nil {
		return 0, err
	}
	sol, err := g.solve(bus, f, c.Net.Buses[bus].Nominal*c.Method.Factor(c.Net.Buses[bus].Nominal, c.highest(bus)))
	if err != nil {
		return 0, err
	}
	i := into(g.Net, g.Net.ElementByName(kind, name), terminal, sol.delta)
	return cmplx.Abs(i[0]+i[1]+i[2]) / c.Method.Factor(c.Net.Buses[bus].Nominal, c.highest(bus)), nil
}

// A view says what of a fault's current counts: what flows through a device,
// or into plant at a terminal, or all where both are below zero.
type view struct{ device, element, terminal int }

// probe is that of a device, or nil where all of a fault's current counts: no
// device, or one on a loop without impedance, through which all may flow.
func (g *grid) probe(v view) *network.Probe {
	device := v.device
	if device < 0 {
		return nil
	}
	p := g.probes[device]
	if p == nil {
		made := g.Net.ThroughSwitch(device, g.Net.Switches[device].To)
		p = &made
		g.probes[device] = p
	}
	if p.Undetermined() != "" {
		return nil
	}
	return p
}

// flow is what a fault makes flow in a view, towards the fault.
func (g *grid) flow(v view, c *Case, bus int, s *solution) [4]complex128 {
	if v.element >= 0 {
		e := &c.Net.Elements[v.element]
		i := s.i
		// Elements have other numbers where motors are left out.
		for k, x := range into(g.Net, g.Net.ElementByName(e.Kind, e.Name), v.terminal, s.delta) {
			i[k] += x
		}
		return i
	}
	p := g.probe(v)
	if p == nil {
		return s.i
	}
	i := through(g.Net, p, bus, s)
	if p.Direct(bus) == 0 {
		for k := range i {
			i[k] = -i[k]
		}
	}
	return i
}

func (c *Case) highest(bus int) float64 {
	name := c.Net.Buses[bus].Name
	if b := c.doc.Buses.Find(name); b != nil {
		return float64(b.Item.Highest.V)
	}
	return 0
}

// currents of a fault in a view.
func (c *Case) currents(bus int, kind fault.Kind, v view) (*Currents, error) {
	if why := c.Unproven[bus]; why != "" && kind.Type.NeedsZero() {
		return nil, &MissingError{why}
	}
	unit := c.inUnit[bus]
	if unit != "" && (v.device >= 0 || v.element >= 0) {
		unit += byParts
	}
	s := c.set(unit)
	g, err := s.initial()
	if err != nil {
		return nil, err
	}
	un := c.Net.Buses[bus].Nominal
	f := c.Method.Factor(un, c.highest(bus))
	sol, err := g.solve(bus, kind, f*un)
	if err != nil {
		return nil, err
	}
	x := &Currents{Bus: bus, Kind: kind, Method: c.Method, Nominal: un, Factor: f, Loop: sol.res.Loop}
	flow := g.flow(v, c, bus, sol)
	x.Residual = cmplx.Abs(flow[0] + flow[1] + flow[2])
	x.ByPlant, x.flow = largestOf(flow), positive(g.Net, [3]complex128(flow[:3]))
	c.sources(x, g, sol, v)
	x.ByLimit = c.converters(g, sol, bus, kind, g.probe(v))
	x.Initial = x.ByPlant + x.ByLimit
	if c.Method.Practice == IEC {
		err = c.iec(x, s, v)
	} else {
		err = c.ieee(x, s, v)
	}
	return x, err
}

// A MissingError says which datum a fault needs that the study doesn't give.
type MissingError struct{ What string }

func (e *MissingError) Error() string { return e.What + " is not given" }

// opposite tells whether a source at some bus feeds a fault at another through
// a probe: -1 no, 1 wholly, 0 in part.
func opposite(p *network.Probe, source, place int) int {
	if p == nil {
		return 1
	}
	// A device's own two buses are told apart by which side they are on; on a
	// loop both are on both.
	a, b := p.SideOf(source), p.SideOf(place)
	switch {
	case a == network.Both || b == network.Both:
		return 0
	case a == b:
		return -1
	}
	return 1
}

// sources lists what each source gives. At the place of the fault its current
// counts by the ratio of its own voltage to that before the fault here, which by
// reciprocity is what it drives into the fault; so the sources' shares sum to
// the fault's current.
//
// The decay of a machine in a meshed network counts by the part of its voltage
// that drops in the machine itself (IEC 60909-0:2016, 9.1.4 [from memory]):
// wholly for one at the very place of the fault.
func (c *Case) sources(x *Currents, g *grid, sol *solution, v view) {
	n := g.Net
	if n.Fed[x.Bus]&abc != abc {
		return
	}
	before := positive(n, at(n, g.Prefault(), x.Bus))
	for i := range n.Elements {
		e := &n.Elements[i]
		switch e.Kind {
		case network.Infeed, network.SynchronousMachine, network.InductionMachine:
		default:
			continue
		}
		if !n.Live(i) || e.Terminals[0].Phases&abc != abc {
			continue
		}
		b := e.Terminals[0].Bus
		flow := into(n, i, 0, sol.delta)
		i1 := -positive(n, [3]complex128(flow[:3]))
		here := positive(n, at(n, g.Prefault(), b))
		src := Source{Kind: e.Kind, Name: e.Name, Current: cmplx.Abs(i1)}
		if src.Current <= 1e-9*largestOf(sol.i) {
			continue // of another network: rounding
		}
		y := elementY1(n, i)
		if before != 0 && y != 0 {
			drive := here
			if e.Inject != nil {
				drive = positive(n, [3]complex128(e.Inject[:3])) / y
			}
			// Vector groups turn the current towards the source one way, and back the
			// other: by twice the steps of 30° between the two places.
			turn := math.Round(cmplx.Phase(drive/before)/(math.Pi/6)) * math.Pi / 6
			src.Share = i1 * drive / before * cmplx.Rect(1, -2*turn)
		}
		d := decay{Source: src}
		switch e.Kind {
		case network.InductionMachine:
			m := c.motors[e.Name]
			d.Ratio, d.motor, d.perPair, d.gone = src.Current/m.rated, true, m.perPair, m.fed == "feeds-back"
		case network.SynchronousMachine:
			d.Ratio = src.Current / c.gens[e.Name].rated
			if why := g.factors.missing[e.Name]; why != "" {
				x.Missing = append(x.Missing, why)
			}
		}
		d.Weight = 1
		if n.Node[b] != n.Node[x.Bus] && here != 0 && e.Kind != network.Infeed {
			if y != 0 {
				d.Weight = min(1, math.Abs(imag(1/y))*src.Current/cmplx.Abs(here*sol.scale))
			}
		}
		x.Sources = append(x.Sources, d.Source)
		if m := c.motors[e.Name]; e.Kind == network.InductionMachine && m.stays() {
			if m.most == 0 {
				x.Missing = append(x.Missing, "largest current of doubly-fed machine "+e.Name)
			}
			continue // no rule for its decay: it counts in full
		}
		if e.Kind != network.Infeed && v.element < 0 && opposite(g.probe(v), b, x.Bus) == 1 && x.Kind.Type.Phases() == 3 {
			x.decaying = append(x.decaying, d)
		}
	}
}

// elementY1 is the positive-sequence admittance of a source.
func elementY1(n *network.Network, i int) complex128 {
	var y [9]complex128
	copy(y[:], n.Elements[i].Y)
	one := n.Rotation.Phases(0, 1, 0)
	var v [3]complex128
	for r := range v {
		for k := range one {
			v[r] += y[3*r+k] * one[k]
		}
	}
	return positive(n, v)
}

// converters is what sources behind converters add: each gives its largest
// current in positive sequence, whatever the voltage, and by reciprocity the
// fault draws of it the ratio in which its bus's voltage falls by the fault.
//
//	I″kPF = Σ |Z_ij|/|Z_ii|·I_j      at the place i
//
// Source: IEC 60909-0:2016, 6.9 and 8.1 [from memory].
func (c *Case) converters(g *grid, sol *solution, bus int, kind fault.Kind, p *network.Probe) float64 {
	if c.Method.Smallest || len(c.doc.Inverters.Entries) == 0 {
		return 0
	}
	sum := 0.0
	for i := range c.doc.Inverters.Entries {
		e := &c.doc.Inverters.Entries[i]
		if c.State.Out[study.PlantRef{Kind: "inverter", Name: e.Name}] {
			continue
		}
		b := g.Net.BusByName(string(e.Item.At.V))
		if b < 0 {
			continue
		}
		u := g.Net.Buses[b].Nominal
		if e.Item.Voltage.Given {
			u = float64(e.Item.Voltage.V)
		}
		sum += g.limited(sol, bus, kind, p, b, float64(e.Item.Limit.V)*float64(e.Item.Rating.V)/(math.Sqrt(3)*u))
	}
	return sum
}

// sustained is what doubly-fed machines add to a steady current, of which that
// is known.
func (c *Case) sustained(g *grid, sol *solution, bus int, kind fault.Kind, p *network.Probe) float64 {
	sum := 0.0
	for i := range c.doc.InductionMachines.Entries {
		e := &c.doc.InductionMachines.Entries[i]
		m := c.motors[e.Name]
		if b := g.Net.BusByName(string(e.Item.At.V)); b >= 0 && m.stays() && m.steady > 0 && !c.State.Out[study.PlantRef{Kind: "induction machine", Name: e.Name}] {
			sum += g.limited(sol, bus, kind, p, b, m.steady)
		}
	}
	return sum
}

// limited is what a source at the bus b adds that gives a current of its own, A, whatever the voltage.
func (g *grid) limited(sol *solution, bus int, kind fault.Kind, p *network.Probe, b int, limit float64) float64 {
	n := g.Net
	if n.Node[b] < 0 || n.Fed[b]&abc != abc || opposite(p, b, bus) < 0 {
		return 0
	}
	there := at(n, sol.delta, b)
	if kind.Type.Phases() == 3 {
		if here := positive(n, at(n, sol.delta, bus)); here != 0 {
			return limit * cmplx.Abs(positive(n, there)/here)
		}
		return 0
	}
	// The voltage that drives the fault's leg, and both rotations of the
	// source, of which the larger counts.
	drive := 0.0
	pre := at(n, g.Prefault(), bus)
	list := kind.Phases.Conductors()
	switch kind.Type {
	case fault.LineLine, fault.LineLineEarth:
		drive = cmplx.Abs((pre[list[0]] - pre[list[1]]) * sol.scale)
	default:
		drive = cmplx.Abs(pre[list[0]] * sol.scale)
	}
	if drive == 0 {
		return 0
	}
	_, v1, v2 := n.Rotation.Sequence(there)
	return 3 * limit * math.Max(cmplx.Abs(v1), cmplx.Abs(v2)) / drive
}

// loopOf is the impedance of a fault's loop in another network of the case.
func (s *set) loopOf(r role, later bool, bus int, kind fault.Kind) (complex128, error) {
	g, err := s.grid(r, later)
	if err != nil {
		return 0, err
	}
	g.at(bus)
	if z, ok := g.loops[kind]; ok {
		return z, nil
	}
	res, err := g.Fault(fault.AtBus(bus), kind, 0)
	if err != nil {
		return 0, err
	}
	g.loops[kind] = res.Loop
	return res.Loop, nil
}

func (c *Case) iec(x *Currents, s *set, v view) error {
	g, err := s.initial()
	if err != nil {
		return err
	}
	switch c.Method.PeakBy {
	case RatioAtPlace:
		x.XR = ratio(x.Loop)
		_, largest := g.ratios()
		x.Kappa = KappaAtPlace(1/x.XR, x.Nominal, largest < lowRatio)
	case SmallestRatio:
		smallest, _ := g.ratios()
		x.XR = 1 / smallest
		x.Kappa = Kappa(smallest)
	default:
		z, err := s.loopOf(lowered, false, x.Bus, x.Kind)
		if err != nil {
			return err
		}
		x.XR = ratio(z) / EquivalentFrequency
		x.Kappa = Kappa(1 / x.XR)
		x.later = func(t float64) float64 {
			f := EquivalentFrequencyAt(c.Method.Frequency, t)
			for r, share := range dcRoles {
				if share == f {
					if z, err := s.loopOf(r, false, x.Bus, x.Kind); err == nil {
						return ratio(z) / f
					}
				}
			}
			return x.XR
		}
	}
	x.Peak = math.Sqrt2 * (x.Kappa*x.ByPlant + x.ByLimit)
	return c.steady(x, s, g, v)
}

// steady finds the steady current Ik.
//
// The largest: of a three-phase fault I″k without motors, which is what IEC
// 60909-0 has for meshed networks; of unbalanced faults I″k, for it lets
// neither generators nor motors decay there. Where a generator's synchronous
// reactance and the ceiling of its excitation are known, it counts in
// three-phase faults with these, if that is less: what the factor λmax of the
// standard stands for, in a network of any shape. The sources' shares sum, each
// in proportion to its voltage.
//
// The smallest, for all kinds of fault: generators with their synchronous
// reactances at no-load excitation, whose voltage is the nominal one; what λmin
// stands for. A generator whose excitation is not known to be independent of
// its terminals' voltage is left out, as the standard has it for a fault at
// terminals that feed the excitation.
//
// Source: IEC 60909-0:2016, 10 [from memory]; the network in place of the
// curves of λ is ours.
func (c *Case) steady(x *Currents, s *set, g *grid, v view) error {
	x.Steady, x.How = x.Initial, "as it begins"
	u := x.Factor * x.Nominal
	if c.Method.Smallest {
		if !c.generatorsLive(g) {
			return nil
		}
		for i := range g.Net.Elements {
			e := &g.Net.Elements[i]
			if !g.Net.Live(i) {
				continue
			}
			if m := c.generator(e.Kind, e.Name); m != nil && (m.xd == 0 || !m.sustains) && c.feeds(x, e.Name) {
				x.Missing = append(x.Missing, "synchronous reactance and independent excitation of synchronous machine "+e.Name)
			}
		}
		later, err := s.grid(steady, true)
		if err != nil {
			return err
		}
		x.Steady, x.How = 0, "generators with synchronous reactances at no-load excitation; those without independent excitation left out"
		if later.Net.Node[x.Bus] < 0 {
			return nil
		}
		sol, err := later.solve(x.Bus, x.Kind, u)
		if err != nil {
			return err
		}
		x.Steady = min(x.Initial, largestOf(later.flow(v, c, x.Bus, sol)))
		return nil
	}
	if c.motorsLive(g) {
		without, err := s.grid(asIs, true)
		if err != nil {
			return err
		}
		sol, err := without.solve(x.Bus, x.Kind, u)
		if err != nil {
			return err
		}
		left := largestOf(without.flow(v, c, x.Bus, sol)) + x.ByLimit
		if x.Kind.Type.Phases() == 3 {
			x.Steady, x.How = left+c.sustained(without, sol, x.Bus, x.Kind, g.probe(v)), "without motors"
		}
		if c.Method.LeaveOut && v.device < 0 && v.element < 0 {
			c.leaveOut(x, g, without, sol, left)
		}
	}
	return c.ceiling(x, s, g, v)
}

// feeds tells whether a machine is among the sources of a fault.
func (c *Case) feeds(x *Currents, name string) bool {
	for _, s := range x.Sources {
		if s.Name == name {
			return true
		}
	}
	return false
}

// ceiling lowers the steady current of a three-phase fault to what generators
// give with their synchronous reactances and the highest excitation.
func (c *Case) ceiling(x *Currents, s *set, g *grid, v view) error {
	if x.Kind.Type.Phases() != 3 || v.element >= 0 {
		return nil
	}
	known := false
	for _, src := range x.Sources {
		if m := c.generator(src.Kind, src.Name); m != nil && m.emf > 0 {
			if bus := c.machineBus(g, src.Name); opposite(g.probe(v), bus, x.Bus) == 0 {
				return nil // on a loop with the device: no part of it to be told
			}
			known = true
		}
	}
	if !known {
		return nil
	}
	later, err := s.grid(steady, true)
	if err != nil {
		return err
	}
	sol, err := later.solve(x.Bus, x.Kind, x.Factor*x.Nominal)
	if err != nil {
		return err
	}
	y := &Currents{Bus: x.Bus, Kind: x.Kind}
	c.sources(y, later, sol, view{device: -1, element: -1})
	flow := later.flow(v, c, x.Bus, sol)
	i := positive(later.Net, [3]complex128(flow[:3]))
	for _, src := range y.Sources {
		m := c.generator(src.Kind, src.Name)
		if m == nil || m.emf == 0 || opposite(later.probe(v), c.machineBus(later, src.Name), x.Bus) != 1 {
			continue
		}
		i += complex(m.emf/x.Factor-1, 0) * src.Share
	}
	if k := cmplx.Abs(i) + x.ByLimit + c.sustained(later, sol, x.Bus, x.Kind, later.probe(v)); k < x.Steady {
		x.Steady, x.How = k, "generators with synchronous reactances and the ceiling of their excitation, motors out"
	}
	return nil
}

// generator is the synchronous machine that an element of the network is: one
// that holds an island stands there as an infeed.
func (c *Case) generator(kind network.Kind, name string) *generator {
	if kind == network.SynchronousMachine || kind == network.Infeed && c.doc.Supply.Find(name) == nil {
		return c.gens[name]
	}
	return nil
}

func (c *Case) machineBus(g *grid, name string) int {
	return g.Net.BusByName(string(c.doc.SynchronousMachines.Find(name).Item.At.V))
}

func (c *Case) generatorsLive(g *grid) bool {
	for i := range g.Net.Elements {
		e := &g.Net.Elements[i]
		if g.Net.Live(i) && c.generator(e.Kind, e.Name) != nil {
			return true
		}
	}
	return false
}

// leaveOut takes motors out of a fault's currents where the standard lets one:
// those at the level of the fault, whose rated currents together are at most
// 1 % of the current without them; and those behind transformers, by
// NeglectThrough. They go together or not at all.
//
// Source: IEC 60909-0:2016, 6.10 [from memory].
func (c *Case) leaveOut(x *Currents, g, without *grid, sol *solution, left float64) {
	level := g.levels()
	rated, power, transformers := 0.0, 0.0, 0.0
	behind := make(map[int]bool) // levels with motors
	for i := range g.Net.Elements {
		e := &g.Net.Elements[i]
		if e.Kind != network.InductionMachine || !g.Net.Live(i) {
			continue
		}
		m, at := c.motors[e.Name], level[e.Terminals[0].Bus]
		if m.stays() {
			return
		}
		if at == level[x.Bus] {
			rated += m.rated
			continue
		}
		power += m.power
		behind[at] = true
	}
	for i := range g.Net.Elements {
		e := &g.Net.Elements[i]
		if e.Kind != network.Transformer || !g.Net.Live(i) {
			continue
		}
		low := e.Terminals[1].Bus
		if g.Net.Buses[e.Terminals[0].Bus].Nominal < g.Net.Buses[low].Nominal {
			low = e.Terminals[0].Bus
		}
		if t := c.doc.Transformers.Find(e.Name); behind[level[low]] && t != nil && len(t.Item.Rating.V) > 0 {
			transformers += t.Item.Rating.V[0]
		}
	}
	if rated > 0.01*left || power > 0 && (transformers == 0 || !NeglectThrough(power, transformers, x.Factor, x.Nominal, left)) {
		return
	}
	x.ByPlant = largestOf(sol.i)
	x.Initial, x.Steady = left, left
	x.Peak = math.Sqrt2 * (x.Kappa*x.ByPlant + x.ByLimit)
	kept := x.decaying[:0]
	for _, d := range x.decaying {
		if !d.motor {
			kept = append(kept, d)
		}
	}
	x.decaying = kept
	x.flow = positive(without.Net, [3]complex128(sol.i[:3]))
}

// levels numbers, for each bus, the part that is joined without transformers.
func (g *grid) levels() []int {
	n := g.Net
	level := make([]int, len(n.Buses))
	for i := range level {
		level[i] = i
	}
	root := func(b int) int {
		for level[b] != b {
			b = level[b]
		}
		return b
	}
	for i := range n.Elements {
		e := &n.Elements[i]
		if (e.Kind == network.Line || e.Kind == network.Reactor || e.Kind == network.Regulator) && n.Live(i) {
			level[root(e.Terminals[0].Bus)] = root(e.Terminals[1].Bus)
		}
	}
	for _, w := range n.Switches {
		if w.Closed {
			level[root(w.From)] = root(w.To)
		}
	}
	for b := range level {
		level[b] = root(b)
	}
	return level
}

func (c *Case) motorsLive(g *grid) bool {
	for i := range g.Net.Elements {
		if g.Net.Elements[i].Kind == network.InductionMachine && g.Net.Live(i) {
			return true
		}
	}
	return false
}

// lowRatio: with R/X below it in every branch method b needs no 1.15.
const lowRatio = 0.3

func ratio(z complex128) float64 {
	if real(z) <= 0 {
		return math.Inf(1)
	}
	return imag(z) / real(z)
}

// ratios are the smallest and the largest R/X of the branches in service.
func (g *grid) ratios() (smallest, largest float64) {
	smallest = math.Inf(1)
	for i := range g.Net.Elements {
		e := &g.Net.Elements[i]
		if !g.Net.Live(i) {
			continue
		}
		rx, ok := g.rx[all(e.Kind, e.Name)]
		if e.Kind == network.Line {
			k := e.Terminals[0].Phases.Count()
			var self, mutual complex128
			for a := range k {
				for b := range k {
					if a == b {
						self += e.Series[a*k+b] / complex(float64(k), 0)
					} else {
						mutual += e.Series[a*k+b] / complex(float64(k*(k-1)), 0)
					}
				}
			}
			z := self - mutual
			rx, ok = real(z)/imag(z), imag(z) != 0
		}
		if ok {
			smallest, largest = min(smallest, rx), max(largest, rx)
		}
	}
	return smallest, largest
}

// Breaking is the symmetrical breaking current Ib at the time t of parting, s,
// by IEC 60909-0:
//
//	Ib = I″k − Σ w·(1 − μ·q)·I       over machines, q = 1 for synchronous ones
//
//	I  a machine's share of I″k      w  its weight, see Case.sources
//
// Only of three-phase faults; unbalanced ones count without decay, and so do
// machines on a loop with the device. Motors of unknown speed count with q = 1.
//
// Source: IEC 60909-0:2016, 9.1 [from memory].
func (x *Currents) Breaking(t float64) float64 {
	if x.Method.Practice != IEC || x.ByPlant == 0 {
		return x.Initial
	}
	i := x.flow
	for _, d := range x.decaying {
		k := Mu(t, d.Ratio)
		if d.motor && d.perPair > 0 {
			k *= Q(t, d.perPair)
		}
		if d.gone {
			k = 0
		}
		i -= complex(d.Weight*(1-k), 0) * d.Share
	}
	if len(x.decaying) == 0 {
		return x.Initial
	}
	return cmplx.Abs(i) + x.ByLimit
}

// UnknownSpeeds names the motors whose speed Breaking would need.
func (x *Currents) UnknownSpeeds() []string {
	var list []string
	for _, d := range x.decaying {
		if d.motor && d.perPair == 0 && !d.gone {
			list = append(list, fmt.Sprintf("pole pairs (and rated power) of induction machine %s", d.Name))
		}
	}
	return list
}

// DC is the d.c. component at the time t after the start of the fault.
func (x *Currents) DC(t float64) float64 {
	return DC(x.ByPlant, x.Method.Frequency, t, 1/x.xrAt(t))
}

// AC is the symmetrical current at the time t after the start of the fault: by
// IEC 60909-0 the breaking current of that time; by IEEE that of the first
// cycle, and from one and a half cycles on that of the interrupting network.
func (x *Currents) AC(t float64) float64 {
	switch {
	case x.Method.Practice == IEC:
		return x.Breaking(t)
	case t < 1.5/x.Method.Frequency:
		return x.Initial
	}
	return x.Later
}

func (x *Currents) xrAt(t float64) float64 {
	if x.later == nil || math.IsInf(x.XR, 1) {
		return x.XR
	}
	return x.later(t)
}

// Thermal is the thermal equivalent current over the time t, s:
// Ith = I″k·√(m + n).
//
// Source: IEC 60909-0:2016, 12 [from memory].
func (x *Currents) Thermal(t float64) float64 {
	if x.Method.Practice != IEC {
		// Without its decay, the a.c. part, and the d.c. part of a time constant
		// (X/R)/ω: ∫i²dt/t.
		tau := x.XR / (2 * math.Pi * x.Method.Frequency)
		if math.IsInf(tau, 1) {
			return x.Initial * math.Sqrt(3)
		}
		return x.Initial * math.Sqrt(1+tau/t*-math.Expm1(-2*t/tau))
	}
	n := 1.0
	if x.Steady > 0 {
		n = N(t, x.Initial/x.Steady)
	}
	return x.Initial * math.Sqrt(M(x.Method.Frequency, t, x.Kappa)+n)
}

func (c *Case) ieee(x *Currents, s *set, v view) error {
	xr := func(later bool) (float64, error) {
		z, err := s.loopOf(reactance, later, x.Bus, x.Kind)
		if err != nil {
			return 0, err
		}
		r, err := s.loopOf(resistance, later, x.Bus, x.Kind)
		if err != nil {
			return 0, err
		}
		if real(r) <= leastPart*imag(z) {
			return math.Inf(1), nil
		}
		return imag(z) / real(r), nil
	}
	var err error
	if x.XR, err = xr(false); err != nil {
		return err
	}
	x.Peak = PeakFactor(x.XR)*x.ByPlant + math.Sqrt2*x.ByLimit
	g, err := s.initial()
	if err != nil {
		return err
	}
	x.Later, x.LaterXR, x.Remote = x.Initial, x.XR, 1
	if c.machinesLive(g) {
		r := asIs
		if c.Method.ByReactance {
			r = reactance
		}
		later, err := s.grid(r, true)
		if err != nil {
			return err
		}
		sol, err := later.solve(x.Bus, x.Kind, x.Factor*x.Nominal)
		if err != nil {
			return err
		}
		x.Later = largestOf(later.flow(v, c, x.Bus, sol)) + x.ByLimit
		if x.LaterXR, err = xr(true); err != nil {
			return err
		}
		x.Remote = 1 - c.local(later, sol, x)
	}
	return nil
}

func (c *Case) machinesLive(g *grid) bool {
	for i := range g.Net.Elements {
		e := &g.Net.Elements[i]
		if (e.Kind == network.InductionMachine || e.Kind == network.SynchronousMachine) && g.Net.Live(i) {
			return true
		}
	}
	return false
}

// local is the part of a fault's current that comes from generators nearby:
// whose voltage drops to more than 1/2.5 in the generator itself, that is, with
// less than 1.5·X″d between.
//
// Source: IEEE C37.010, local and remote generation [from memory].
func (c *Case) local(g *grid, sol *solution, x *Currents) float64 {
	n := g.Net
	before, total := positive(n, at(n, g.Prefault(), x.Bus)), positive(n, [3]complex128(sol.i[:3]))
	if before == 0 || total == 0 {
		return 0
	}
	sum := 0.0
	for i := range n.Elements {
		e := &n.Elements[i]
		if e.Kind != network.SynchronousMachine || !n.Live(i) {
			continue
		}
		b := e.Terminals[0].Bus
		flow := into(n, i, 0, sol.delta)
		i1, here, y := -positive(n, [3]complex128(flow[:3])), positive(n, at(n, g.Prefault(), b)), elementY1(n, i)
		if y == 0 || here == 0 {
			continue
		}
		if cmplx.Abs(i1/y) > cmplx.Abs(here*sol.scale)/2.5 {
			sum += cmplx.Abs(i1 * here / before / total)
		}
	}
	return min(1, sum)
}

// Kinds are the kinds of fault that duties at a bus are found for: of each
// type every combination of its phases, or one where the place is balanced.
func (c *Case) Kinds(bus int) []fault.Kind {
	g, err := c.set(c.inUnit[bus]).initial()
	if err != nil {
		return nil
	}
	t, err := g.Solver.At(fault.AtBus(bus))
	if err != nil {
		return nil
	}
	_, _, _, balanced, ok := g.Sequence(&t)
	var kinds []fault.Kind
	for _, typ := range []fault.Type{fault.ThreePhase, fault.LineLine, fault.LineLineEarth, fault.LineEarth} {
		list := fault.Combinations(typ, t.Phases)
		if ok && balanced && len(list) > 1 {
			list = list[:1]
		}
		kinds = append(kinds, list...)
	}
	return kinds
}

// Parallel are the infeeds and machines that hold networks of their own which
// feed a fault together, each with at least a hundredth of its current.
func (x *Currents) Parallel() []string {
	sum := 0.0
	for _, s := range x.Sources {
		sum += cmplx.Abs(s.Share)
	}
	var list []string
	for _, s := range x.Sources {
		if s.Kind == network.Infeed && cmplx.Abs(s.Share) >= 0.01*sum {
			list = append(list, s.Name)
		}
	}
	return list
}
