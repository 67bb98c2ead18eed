package network

import (
	"fmt"
	"math"
	"math/cmplx"

	"feederwright/quantity"
	"feederwright/study"
)

// A Held is a state of service that a network for faults starts from: what
// stands in it gives before the fault what it gave there. By kind and name.
type Held struct {
	// Loads are admittance matrices over the conductors of a load, S.
	Loads map[string][]complex128
	// Machines are the positive-sequence voltage, V to earth, and current into
	// the network, A, of running machines.
	Machines map[study.PlantRef][2]complex128
	// Scale multiplies the voltages of machines that hold an island.
	Scale map[string]float64
}

// atLevel is the power of a load at the load level of the condition, as a
// multiple of its power.
func (f *fromStudy) atLevel(e *study.Entry[study.Load]) float64 {
	switch level := f.state.Loads; level.Word {
	case "":
		if level.Fraction > 0 {
			return level.Fraction
		}
		f.assume("load flow: loads at peak where the condition does not state their level")
	case "none":
		return 0
	case "light":
		if e.Item.Light.Given {
			return float64(e.Item.Light.V)
		}
		f.assume("load flow: load %s states no light load and counts in full", e.Name)
	case "cold":
		if e.Item.Cold.Given {
			return e.Item.Cold.V.Factor
		}
		f.assume("load flow: load %s states no cold-load factor and counts once", e.Name)
	}
	return 1
}

// power is the complex power of a load as the study states it, VA.
func loadPower(l *study.Load) complex128 {
	pf, s := l.PF.V, float64(l.Power.V)
	q := s * math.Sqrt(1-pf.Value*pf.Value)
	if pf.Leading {
		q = -q
	}
	return complex(s*pf.Value, q)
}

// LoadPhases are the conductors that a load's matrix is over: with N where its
// star point is on that conductor.
func (f *fromStudy) loadPhases(l *study.Load, bus int, c Connection) quantity.Phases {
	phases := f.b.buses[bus].Phases & abc
	if l.Phases.Given {
		phases = l.Phases.V & abc
	}
	if c == Wye {
		phases |= f.b.buses[bus].Phases & quantity.PhaseN
	}
	return phases
}

// loadConnection is a load's connection in the load flow.
func (f *fromStudy) loadConnection(e *study.Entry[study.Load], bus int) Connection {
	if e.Item.Connection.Given {
		return Connection(e.Item.Connection.V)
	}
	switch hasN := f.b.buses[bus].Phases.HasConductor(3); {
	case f.options.Held != nil && hasN:
		return Wye
	case f.options.Held != nil: // its matrix says what stands where
		return EarthedWye
	case f.options.unearthed[e.Name]:
		f.assume("load flow: loads that state no connection taken as delta where nothing earths their part of the network")
		return Delta
	case hasN:
		f.assume("load flow: loads that state no connection taken as wye to the conductor N where there is one")
		return Wye
	}
	f.assume("load flow: loads that state no connection taken as earthed-wye")
	return EarthedWye
}

// addFlowLoads adds the loads as the load flow has them, or as they are held.
func (f *fromStudy) addFlowLoads() error {
	for i := range f.doc.Loads.Entries {
		e := &f.doc.Loads.Entries[i]
		if f.out("load", e.Name) {
			continue
		}
		bus, err := f.bus(e.Item.At.V)
		if err != nil {
			return err
		}
		c := f.loadConnection(e, bus)
		phases := f.loadPhases(&e.Item, bus, c)
		if held := f.options.Held; held != nil {
			if y := held.Loads[e.Name]; y != nil {
				if _, err := f.b.AddShunt(Load, e.Name, bus, phases, y); err != nil {
					return err
				}
			}
			continue
		}
		s := loadPower(&e.Item) * complex(f.atLevel(e), 0)
		model := LoadModel(e.Item.Model.V)
		if model == "" {
			model = ConstantPower
			f.assume("load flow: loads that state no model taken as constant power")
		}
		b := &f.b.buses[bus]
		branches := LoadBranches(c, phases, s, b.Nominal, b.PhaseVoltage(), model)
		if c == Wye && !phases.HasConductor(3) && phases.Count() == 3 && e.Item.Model.V != "impedance" {
			f.assume("load flow: load %s, a wye with a free star point, counted as the delta of the same power", e.Name)
		}
		switch {
		case s == 0 || len(branches) == 0:
			continue
		case model == "impedance":
			_, err = f.b.AddShunt(Load, e.Name, bus, phases, BranchMatrix(branches, phases.Count()))
		default:
			_, err = f.b.AddDemand(e.Name, bus, phases, branches)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// markHalves marks the buses of centre-tapped services: the second sides of
// such banks, and what lines, reactors and devices join to them.
func (f *fromStudy) markHalves() {
	s := newSets(len(f.b.buses))
	for i := range f.b.elements {
		if e := &f.b.elements[i]; (e.Kind == Line || e.Kind == Reactor || e.Kind == Regulator) && len(e.Terminals) == 2 {
			s.join(e.Terminals[0].Bus, e.Terminals[1].Bus)
		}
	}
	for _, w := range f.b.switches {
		s.join(w.From, w.To)
	}
	half := make(map[int]bool)
	for i := range f.doc.Banks.Entries {
		e := &f.doc.Banks.Entries[i]
		for _, unit := range f.doc.Units(e.Name) {
			if unit.Item.Secondary.V.Count() == 3 {
				if bus, err := f.bus(e.Item.To.V); err == nil {
					half[s.root(bus)] = true
				}
			}
		}
	}
	for i := range f.b.buses {
		f.b.buses[i].Half = half[s.root(i)]
	}
}

// unearthedLoads are the loads without a stated connection that stand to
// earth in a part of the network that nothing earths.
func (f *fromStudy) unearthedLoads(net *Network) map[string]bool {
	var found map[string]bool
	stated := make(map[string]bool)
	for i := range f.doc.Loads.Entries {
		e := &f.doc.Loads.Entries[i]
		stated[e.Name] = e.Item.Connection.Given
	}
	for i := range net.Elements {
		e := &net.Elements[i]
		if e.Kind != Load || e.Demand == nil || !net.Live(i) {
			continue
		}
		if stated[e.Name] {
			continue
		}
		t := e.Terminals[0]
		rows := t.Phases.Conductors()
		for _, b := range e.Demand.Branches {
			if b.B >= 0 {
				continue
			}
			if k, _ := net.FloatingOf(net.Unknown(t.Bus, rows[b.A])); k >= 0 {
				if found == nil {
					found = make(map[string]bool)
				}
				found[e.Name] = true
			}
		}
	}
	return found
}

// inductionLoad is the power that running induction machines take, VA; pf is
// assumed where the study has only their apparent power.
func inductionLoad(m *study.InductionMachine) (s complex128, assumed bool) {
	n, load := 1.0, 1.0
	if m.Count.Given {
		n = float64(m.Count.V)
	}
	if m.Load.Given {
		load = float64(m.Load.V)
	}
	pf := m.PF.V.Value
	if !m.PF.Given {
		pf, assumed = 0.85, true
	}
	va := float64(m.Rating.V)
	if !m.Rating.Given {
		va = float64(m.Power.V) / float64(m.Efficiency.V) / pf
	}
	return complex(n*load*va*pf, n*load*va*math.Sqrt(1-pf*pf)), assumed
}

// synchronousLoad is the power that running synchronous machines take, VA.
func (f *fromStudy) synchronousLoad(e *study.Entry[study.SynchronousMachine]) complex128 {
	m, n := &e.Item, 1.0
	if m.Count.Given {
		n = float64(m.Count.V)
	}
	p, pf := float64(m.Rating.V), 1.0
	if m.PF.Given { // rated
		p *= m.PF.V.Value
	}
	if m.OutputPF.Given {
		pf = m.OutputPF.V.Value
	}
	if m.Output.Given {
		p = float64(m.Output.V)
	}
	if !m.Output.Given || !m.OutputPF.Given {
		f.assume("load flow: synchronous machine %s: output taken as its rating, power factor as 1, where not stated", e.Name)
	}
	q := p * math.Sqrt(1-pf*pf) / pf
	if m.OutputPF.V.Leading {
		q = -q
	}
	s := complex(n*p, n*q)
	if m.Runs.V != "motor" {
		s = -s
	}
	return s
}

// addRunning adds rotating machines as the load flow has them, or as held.
func (f *fromStudy) addRunning() error {
	transient := f.method().Machines.V == "transient"
	add := func(kind Kind, name string, bus int, d MachineData, s complex128) error {
		var err error
		if held := f.options.Held; held != nil {
			x, ok := held.Machines[study.PlantRef{Kind: string(kind), Name: name}]
			switch {
			case !ok:
			case kind == InductionMachine && transient && x[0] != 0:
				f.assume("induction machine %s: its fault current has decayed, it counts as the impedance that it was", name)
				y := f.b.Rotation.Circulant(0, -x[1]/x[0], 1/d.Z2)
				_, err = f.b.AddShunt(kind, name, bus, abc, y[:])
			default:
				_, err = f.b.AddHeld(kind, name, bus, d, x[0], x[1])
			}
			return err
		}
		_, err = f.b.AddRunning(kind, name, bus, d, s)
		return err
	}
	for i := range f.doc.InductionMachines.Entries {
		e := &f.doc.InductionMachines.Entries[i]
		if f.out("induction machine", e.Name) {
			continue
		}
		bus, err := f.bus(e.Item.At.V)
		if err != nil {
			return err
		}
		s, assumed := inductionLoad(&e.Item)
		if assumed {
			f.assume("load flow: induction machine %s: power factor taken as 0.85 lag (common practice, no source)", e.Name)
		}
		if err := add(InductionMachine, e.Name, bus, InductionOf(&e.Item, f.b.buses[bus].Nominal), s); err != nil {
			return err
		}
	}
	for i := range f.doc.SynchronousMachines.Entries {
		e := &f.doc.SynchronousMachines.Entries[i]
		if f.out("synchronous machine", e.Name) {
			continue
		}
		bus, err := f.bus(e.Item.At.V)
		if err != nil {
			return err
		}
		neutral := e.Item.Neutral.V
		if n, ok := f.state.Neutral[e.Name]; ok {
			neutral = n
		}
		d := SynchronousOf(&e.Item, f.b.buses[bus].Nominal, neutral, transient && e.Item.Transient.Given)
		if f.fed(bus) {
			if err := add(SynchronousMachine, e.Name, bus, d, f.synchronousLoad(e)); err != nil {
				return err
			}
			continue
		}
		u := f.b.buses[bus].Nominal
		if e.Item.Voltage.Given {
			u = float64(e.Item.Voltage.V)
		}
		if f.options.Held == nil {
			f.assume("synchronous machine %s: no infeed reaches it, so it holds its island at its rated voltage", e.Name)
		} else if k, ok := f.options.Held.Scale[e.Name]; ok {
			u *= k
		}
		if err := f.addHolder(e.Name, bus, d, u); err != nil {
			return err
		}
	}
	return nil
}

func (f *fromStudy) addHolder(name string, bus int, d MachineData, u float64) error {
	number, err := f.b.AddInfeed(name, bus, InfeedData{Z1: d.Z1, Z2: d.Z2, Z0: d.Z0 + 3*d.Neutral.Z, Open: !d.Neutral.Earthed, VLL: u})
	if err != nil {
		return err
	}
	e := &f.b.elements[number]
	e.Kind, e.holds = SynchronousMachine, true
	return nil
}

// Holds tells whether an element is a synchronous machine that holds an
// island alone.
func (e *Element) Holds() bool { return e.holds }

// Hold sets the voltage behind the impedance of a machine that holds an
// island to a multiple of what it is.
func (n *Network) Hold(element int, multiple complex128) {
	e := &n.Elements[element]
	bus := e.Terminals[0].Bus
	for c := range e.Inject {
		more := e.Inject[c] * (multiple - 1)
		e.Inject[c] += more
		n.Source[n.Unknown(bus, c)] += more
	}
}

// ImpedanceAt is the matrix of a demand's branches as the impedances that they
// are at given voltages of its rows.
func (e *Element) ImpedanceAt(v []complex128, scale float64) []complex128 {
	var list []DemandBranch
	for _, b := range e.Demand.Branches {
		u := v[b.A]
		if b.B >= 0 {
			u -= v[b.B]
		}
		m := cmplx.Abs(u)
		if m == 0 {
			continue
		}
		i, _, _ := b.current(u, scale)
		list = append(list, DemandBranch{A: b.A, B: b.B, S: u * cmplx.Conj(i), Rated: m})
	}
	return BranchMatrix(list, len(v))
}

// Secondary gives the quantity of each secondary circuit: the signed sum of
// the conductors it measures, divided by the ratio.
func Secondary(sums []quantity.SignedSum, primary [4]complex128, ratio float64) []complex128 {
	out := make([]complex128, len(sums))
	for i, s := range sums {
		for c, k := range s.Coefficient {
			out[i] += complex(float64(k), 0) * primary[c]
		}
		out[i] /= complex(ratio, 0)
	}
	return out
}

// rebuilt tells that loads without a stated connection need another one: the
// network is then built again.
func (f *fromStudy) rebuilt(net *Network) (*Model, error, bool) {
	if !f.options.Flow || f.options.unearthed != nil {
		return nil, nil, false
	}
	found := f.unearthedLoads(net)
	if found == nil {
		return nil, nil, false
	}
	o := f.options
	o.unearthed = found
	m, err := FromStudyWith(f.doc, f.state, o)
	if err != nil {
		return nil, fmt.Errorf("with loads between phases: %w", err), true
	}
	return m, nil, true
}
