package network

import (
	"fmt"
	"math"

	"feederwright/quantity"
	"feederwright/study"
)

// ThreeWindingOf works out a three-winding transformer's constants in one
// condition.
func ThreeWindingOf(e *study.Entry[study.ThreeWindingTransformer], state study.State) (ThreeWindingData, error) {
	t := &e.Item
	tap := float64(t.Tap.V)
	if v, ok := state.Tap[e.Name]; ok {
		tap = float64(v)
	}
	d := ThreeWindingData{Winding: t.Group.V.Winding, Lag: t.Group.V.Lag, V: t.Voltages.V}
	d.V[0] *= 1 + tap
	// Impedances stay, seen from the second winding, as at the principal tap; the
	// matrix has them seen from the first.
	ohm := func(p quantity.PercentOn) float64 {
		base := p.BaseVA
		if base == 0 && len(t.Rating.V) > 0 {
			base = t.Rating.V[0]
		}
		return p.Fraction * d.V[0] * d.V[0] / base
	}
	for i, p := range []struct {
		z, zero study.Value[quantity.PercentOn]
		xr      study.Value[quantity.Number]
	}{{t.Z12, t.Zero12, t.XR12}, {t.Z13, t.Zero13, t.XR13}, {t.Z23, t.Zero23, t.XR23}} {
		xr := p.xr
		if !xr.Given {
			xr = t.XR
		}
		if !xr.Given {
			return d, fmt.Errorf("three-winding transformer %s: its x/r is needed", e.Name)
		}
		d.Z1[i] = withXR(ohm(p.z.V), float64(xr.V))
		if p.zero.Given {
			if t.ZeroSequenceXR.Given {
				xr = t.ZeroSequenceXR
			}
			d.Z0[i] = withXR(ohm(p.zero.V), float64(xr.V))
		}
	}
	for i, n := range []study.Value[quantity.Neutral]{t.FirstNeutral, t.SecondNeutral, t.ThirdNeutral} {
		if d.Winding[i].Neutral {
			d.Point[i] = pointOf(n.V)
		}
	}
	return d, nil
}

func pointOf(n quantity.Neutral) NeutralPoint {
	return NeutralPoint{Exists: true, Earthed: n.Solid || n.Z != 0, Z: n.Z}
}

func (f *fromStudy) addThreeWinding() error {
	for i := range f.doc.ThreeWinding.Entries {
		e := &f.doc.ThreeWinding.Entries[i]
		if f.out("three-winding transformer", e.Name) {
			continue
		}
		d, err := ThreeWindingOf(e, f.state)
		if err != nil {
			return err
		}
		if e.Item.Zero12.Given && !e.Item.ZeroSequenceXR.Given {
			f.assume("three-winding transformer %s: X/R of the zero-sequence impedances taken as those of the positive-sequence ones", e.Name)
			if e.Item.XR.Given && !e.Item.XR12.Given && !e.Item.XR13.Given && !e.Item.XR23.Given {
				f.choice(e.Item.XR.V, "three-winding transformers", e.Name, "zero-sequence x/r")
			}
		}
		buses := [3]int{-1, -1, -1}
		for k, ref := range []study.Value[study.Ref]{e.Item.First, e.Item.Second, e.Item.Third} {
			if !ref.Given {
				continue
			}
			if buses[k], err = f.terminal(e.Name, ref.V); err != nil {
				return err
			}
		}
		f.alterThreeWinding(e.Name, &d)
		if _, err := f.b.AddThreeWinding(e.Name, buses, d); err != nil {
			return err
		}
	}
	return nil
}

// UnitOf works out a single-phase transformer's constants. star tells for
// each side whether end N is the bank's star point, instead of a conductor.
func UnitOf(e *study.Entry[study.SinglePhaseTransformer], star [2]bool) (Unit, error) {
	t := &e.Item
	u := Unit{Name: e.Name, VPrimary: t.Voltages.V.From * (1 + float64(t.Tap.V)), VSecondary: t.Voltages.V.To}
	end := func(side int, c int8) int {
		if c == 3 && star[side] {
			return Star
		}
		return int(c)
	}
	u.Primary = [2]int{end(0, t.Primary.V[0]), end(0, t.Primary.V[1])}
	for _, c := range t.Secondary.V[:t.Secondary.V.Count()] {
		u.Secondary = append(u.Secondary, end(1, c))
	}
	base := func(p quantity.PercentOn) float64 {
		if p.BaseVA == 0 && len(t.Rating.V) > 0 {
			return t.Rating.V[0]
		}
		return p.BaseVA
	}
	on := base(t.Impedance.V)
	z := t.Impedance.V.Fraction * u.VSecondary * u.VSecondary / on
	switch {
	case t.XR.Given:
		u.Z = withXR(z, float64(t.XR.V))
	default:
		r := float64(t.Losses.V) / on * u.VSecondary * u.VSecondary / on
		if !t.Losses.Given || r > z || r <= 0 {
			return u, fmt.Errorf("single-phase transformer %s: x/r, or losses below the impedance, are needed", e.Name)
		}
		u.Z = complex(r, math.Sqrt(z*z-r*r))
	}
	if len(u.Secondary) == 3 {
		half := u.VSecondary / 2
		switch {
		case t.Half.Given:
			u.ZHalf = withXR(t.Half.V.Fraction*half*half/base(t.Half.V), float64(t.HalfXR.V))
		case t.Halves.V == "interlaced":
			u.ZHalf = complex(1.5*real(u.Z)/4, 1.2*imag(u.Z)/4)
		default:
			return u, fmt.Errorf("single-phase transformer %s: its half impedance is needed", e.Name)
		}
	}
	return u, nil
}

func (f *fromStudy) addBanks() error {
	for i := range f.doc.Banks.Entries {
		e := &f.doc.Banks.Entries[i]
		if f.out("bank", e.Name) {
			continue
		}
		from, err := f.terminal(e.Name, e.Item.From.V)
		if err != nil {
			return err
		}
		to, err := f.terminal(e.Name, e.Item.To.V)
		if err != nil {
			return err
		}
		d := BankData{From: pointOf(e.Item.FromNeutral.V), To: pointOf(e.Item.ToNeutral.V)}
		var star [2]bool
		for side, ref := range []study.Ref{e.Item.From.V, e.Item.To.V} {
			bus, err := f.bus(ref)
			if err != nil {
				return err
			}
			star[side] = !f.b.buses[bus].Phases.HasConductor(3)
		}
		for _, unit := range f.doc.Units(e.Name) {
			u, err := UnitOf(unit, star)
			if err != nil {
				return err
			}
			if unit.Item.Halves.Given && len(u.Secondary) == 3 {
				f.assume("single-phase transformer %s: halves wound interlaced, so that one half has 1.5·R and 1.2·X of the whole", unit.Name)
			}
			f.alterUnit(&u)
			d.Units = append(d.Units, u)
		}
		f.alterPoints(Bank, e.Name, &d.From, &d.To)
		if _, err := f.b.AddBank(e.Name, from, to, d); err != nil {
			return err
		}
	}
	return nil
}

// RegulatorOf works out a regulator's constants in one condition; nominal is
// the line-to-line voltage of its buses, units how many units it has.
func RegulatorOf(e *study.Entry[study.Regulator], state study.State, nominal float64, units int) RegulatorData {
	r := &e.Item
	positions := r.Position.V
	if p, ok := state.Regulator[e.Name]; ok {
		positions = p
	}
	d := RegulatorData{Connection: RegulatorConnection(r.Connection.V),
		Z: withXR(r.Impedance.V.Fraction*nominal*nominal/r.Impedance.V.BaseVA, float64(r.XR.V))}
	for i := range units {
		p := 0.0
		switch {
		case len(positions) == 1:
			p = positions[0]
		case i < len(positions):
			p = positions[i]
		}
		if r.Design.V == "B" {
			d.Ratio = append(d.Ratio, 1/(1-p))
		} else {
			d.Ratio = append(d.Ratio, 1+p)
		}
	}
	return d
}

func (f *fromStudy) addRegulators() error {
	for i := range f.doc.Regulators.Entries {
		e := &f.doc.Regulators.Entries[i]
		if f.out("regulator", e.Name) {
			continue
		}
		from, err := f.terminal(e.Name, e.Item.From.V)
		if err != nil {
			return err
		}
		to, err := f.terminal(e.Name, e.Item.To.V)
		if err != nil {
			return err
		}
		phases, err := f.branchPhases(e.Name, e.Item.From.V)
		if err != nil {
			return err
		}
		units := (phases & abc).Count()
		if e.Item.Connection.V == "open-delta" {
			units = 2
		}
		d := RegulatorOf(e, f.state, f.b.buses[from].Nominal, units)
		d.Z = f.alter(Regulator, e.Name, OfSeries, d.Z)
		if _, err := f.b.AddRegulator(e.Name, from, to, phases, d); err != nil {
			return err
		}
	}
	return nil
}

// ReactorOf is the impedance of each phase of a reactor, ohm.
func ReactorOf(r *study.Reactor, nominal float64) complex128 {
	if r.Z.Given {
		return complex128(r.Z.V)
	}
	return withXR(r.Impedance.V.Fraction*nominal*nominal/r.Impedance.V.BaseVA, float64(r.XR.V))
}

func (f *fromStudy) addReactors() error {
	for i := range f.doc.Reactors.Entries {
		e := &f.doc.Reactors.Entries[i]
		if f.out("reactor", e.Name) {
			continue
		}
		from, err := f.terminal(e.Name, e.Item.From.V)
		if err != nil {
			return err
		}
		to, err := f.terminal(e.Name, e.Item.To.V)
		if err != nil {
			return err
		}
		phases, err := f.branchPhases(e.Name, e.Item.From.V)
		if err != nil {
			return err
		}
		z := f.alter(Reactor, e.Name, OfSeries, ReactorOf(&e.Item, f.b.buses[from].Nominal))
		if _, err := f.b.AddReactor(e.Name, from, to, phases, z); err != nil {
			return err
		}
	}
	return nil
}

// InductionOf works out an induction machine's constants, all that run
// together; nominal is its bus's line-to-line voltage.
func InductionOf(m *study.InductionMachine, nominal float64) MachineData {
	u, s, n := nominal, float64(m.Rating.V), 1.0
	if m.Voltage.Given {
		u = float64(m.Voltage.V)
	}
	if !m.Rating.Given {
		s = float64(m.Power.V) / float64(m.Efficiency.V) / m.PF.V.Value
	}
	if m.Count.Given {
		n = float64(m.Count.V)
	}
	d := MachineData{Z1: withXR(u*u/(s*float64(m.LockedRotor.V))/n, float64(m.XR.V))}
	d.Z2 = d.Z1
	if m.Z2.Given {
		xr := m.XR
		if m.Z2XR.Given {
			xr = m.Z2XR
		}
		d.Z2 = withXR(m.Z2.V.Fraction*u*u/m.Z2.V.BaseVA/n, float64(xr.V))
	}
	return d
}

// SynchronousOf works out a synchronous machine's constants, all that run
// together: subtransient, or with transient the transient reactance.
func SynchronousOf(m *study.SynchronousMachine, nominal float64, neutral quantity.Neutral, transient bool) MachineData {
	u, n := nominal, 1.0
	if m.Voltage.Given {
		u = float64(m.Voltage.V)
	}
	if m.Count.Given {
		n = float64(m.Count.V)
	}
	base := u * u / float64(m.Rating.V) / n
	x1 := float64(m.Subtransient.V)
	r := x1 / float64(m.XR.V)
	if transient {
		x1 = float64(m.Transient.V)
	}
	x2 := float64(m.Subtransient.V)
	if m.Negative.Given {
		x2 = float64(m.Negative.V)
	}
	z := func(x float64) complex128 { return complex(r*base, x*base) }
	d := MachineData{Z1: z(x1), Z2: z(x2), Z0: z(float64(m.Zero.V)), Neutral: pointOf(neutral)}
	d.Neutral.Z /= complex(n, 0)
	return d
}

// addMachines adds rotating machines, and inverters. A synchronous machine
// whose part of the network no infeed reaches holds it: it becomes an infeed
// at its rated voltage.
func (f *fromStudy) addMachines() error {
	m := f.method()
	if f.options.Flow {
		if err := f.addRunning(); err != nil {
			return err
		}
		return f.addInverters(m)
	}
	rotating := len(f.doc.InductionMachines.Entries) + len(f.doc.SynchronousMachines.Entries)
	which := m.Machines.V
	if rotating > 0 && !m.Machines.Given {
		which = "subtransient"
		f.assume("rotating machines counted with their subtransient impedances, carrying no current before the fault")
		f.choice("subtransient", "method", "machines")
	}
	if which != "neglected" {
		for i := range f.doc.InductionMachines.Entries {
			e := &f.doc.InductionMachines.Entries[i]
			if f.out("induction machine", e.Name) {
				continue
			}
			if which == "transient" {
				f.assume("induction machine %s: its current has decayed", e.Name)
				continue
			}
			bus, err := f.bus(e.Item.At.V)
			if err != nil {
				return err
			}
			if !e.Item.Z2.Given {
				f.assume("induction machine %s: negative-sequence impedance taken as the locked-rotor one", e.Name)
				f.choice(z2OfInduction(&e.Item), "induction machines", e.Name, "z2")
			}
			d := InductionOf(&e.Item, f.b.buses[bus].Nominal)
			f.alterMachine(InductionMachine, e.Name, &d)
			if _, err := f.b.AddMachine(InductionMachine, e.Name, bus, d); err != nil {
				return err
			}
		}
		if err := f.addSynchronous(which == "transient"); err != nil {
			return err
		}
	}
	return f.addInverters(m)
}

func (f *fromStudy) addInverters(m study.Method) error {
	if len(f.doc.Inverters.Entries) > 0 && !m.Inverters.Given {
		f.assume("inverters counted by their control, see their response and current limit")
		f.choice("counted", "method", "inverters")
	}
	if m.Inverters.V == "neglected" && !f.options.Flow {
		return nil
	}
	for i := range f.doc.Inverters.Entries {
		e := &f.doc.Inverters.Entries[i]
		if f.out("inverter", e.Name) {
			continue
		}
		bus, err := f.bus(e.Item.At.V)
		if err != nil {
			return err
		}
		t := &e.Item
		d := InverterData{Rated: f.b.buses[bus].Nominal, Power: float64(t.Rating.V), Output: complex(float64(t.Rating.V), 0),
			Limit: float64(t.Limit.V), Response: FaultResponse(t.Response.V), Threshold: 0.9, Gain: float64(t.Gain.V),
			Gain2: float64(t.Negative.V), Ceases: float64(t.Ceases.V)}
		if t.Voltage.Given {
			d.Rated = float64(t.Voltage.V)
		}
		if t.Output.Given {
			d.Output = complex(float64(t.Output.V), 0)
		} else if t.PF.Given {
			d.Output *= complex(t.PF.V.Value, 0)
			f.assume("inverter %s: apparent output before the fault taken as its rating", e.Name)
		} else {
			f.assume("inverter %s: output before the fault taken as its rating, at unity power factor", e.Name)
			f.choice(quantity.ActivePower(t.Rating.V), "inverters", e.Name, "output")
		}
		if pf := t.PF.V; t.PF.Given {
			q := real(d.Output) * math.Sqrt(1-pf.Value*pf.Value) / pf.Value
			if pf.Leading {
				q = -q
			}
			d.Output += complex(0, q)
		}
		if t.DipBelow.Given {
			d.Threshold = float64(t.DipBelow.V)
		} else {
			f.assume("inverter %s: voltage below 90 %% counts as a dip", e.Name)
			f.choice(quantity.Fraction(d.Threshold), "inverters", e.Name, "dip below")
		}
		if !t.Negative.Given {
			f.assume("inverter %s: positive-sequence current only", e.Name)
			f.choice(quantity.Number(0), "inverters", e.Name, "negative-sequence gain")
		}
		if !t.Ceases.Given {
			f.assume("inverter %s: rides through every dip", e.Name)
			f.choice(quantity.Fraction(0), "inverters", e.Name, "ceases below")
		}
		if _, err := f.b.AddInverter(e.Name, bus, d); err != nil {
			return err
		}
	}
	return nil
}

func (f *fromStudy) addSynchronous(transient bool) error {
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
		d := SynchronousOf(&e.Item, f.b.buses[bus].Nominal, neutral, transient)
		if !e.Item.Negative.Given {
			f.assume("synchronous machine %s: negative-sequence reactance taken as the subtransient one", e.Name)
			f.choice(e.Item.Subtransient.V, "synchronous machines", e.Name, "negative")
		}
		f.alterMachine(SynchronousMachine, e.Name, &d)
		if f.fed(bus) {
			if _, err := f.b.AddMachine(SynchronousMachine, e.Name, bus, d); err != nil {
				return err
			}
			continue
		}
		u := f.b.buses[bus].Nominal
		if e.Item.Voltage.Given {
			u = float64(e.Item.Voltage.V)
		}
		f.assume("synchronous machine %s: no infeed reaches it, so it holds its island at its rated voltage", e.Name)
		if err := f.addHolder(e.Name, bus, d, u); err != nil {
			return err
		}
	}
	return nil
}

// fed tells whether a source reaches a bus by what has been added so far.
func (f *fromStudy) fed(bus int) bool {
	s := newSets(len(f.b.buses))
	for i := range f.b.elements {
		e := &f.b.elements[i]
		for _, t := range e.Terminals[1:] {
			s.join(e.Terminals[0].Bus, t.Bus)
		}
	}
	for _, w := range f.b.switches {
		if w.Closed {
			s.join(w.From, w.To)
		}
	}
	for i := range f.b.elements {
		if e := &f.b.elements[i]; e.source() && s.root(e.Terminals[0].Bus) == s.root(bus) {
			return true
		}
	}
	return false
}
