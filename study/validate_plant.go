package study

import (
	"fmt"
	"math"
	"strconv"

	"feederwright/quantity"
)

// plant checks the kinds of plant that have no file of their own.
func (v *validator) plant() {
	v.threeWinding()
	v.banks()
	v.regulators()
	v.reactors()
	v.inductionMachines()
	v.synchronousMachines()
	v.inverters()
	v.neutralConductors()
}

func (v *validator) distinctEnds(b Branch, object string) bool {
	for i, e := range b.Ends {
		for _, o := range b.Ends[:i] {
			if e.Given && o.Given && e.V == o.V {
				v.err(e.At, object, fmt.Sprintf("two ends are at bus %q", e.V), "a branch joins different buses", "give the other bus")
				return false
			}
		}
	}
	return true
}

func (v *validator) threePhaseAt(ref Value[Ref], object, what string) {
	if b := v.bus(ref); b != nil && b.phases()&threePhases != threePhases {
		v.err(ref.At, object, fmt.Sprintf("bus %q has the phases %s only", ref.V, v.names(b.phases())), what+" needs all three", "connect it to a three-phase bus")
	}
}

func (v *validator) threeWinding() {
	for i := range v.doc.ThreeWinding.Entries {
		e := &v.doc.ThreeWinding.Entries[i]
		t := &e.Item
		object := "three-winding transformer " + strconv.Quote(e.Name)
		b, _ := v.doc.Branch(e.Name)
		if !v.distinctEnds(b, object) {
			continue
		}
		ends := []Value[Ref]{t.First, t.Second, t.Third}
		for k, ref := range ends {
			v.threePhaseAt(ref, object, "a three-phase transformer")
			if bus := v.bus(ref); bus != nil && bus.Voltage.Given && t.Voltages.Given {
				if r := t.Voltages.V[k] / float64(bus.Voltage.V); math.Abs(r-1) > windingVoltage {
					v.err(t.Voltages.At, object, fmt.Sprintf("its %s voltage, %s, is at bus %q of %s", []string{"first", "second", "third"}[k], quantity.Voltage(t.Voltages.V[k]), ref.V, bus.Voltage.Text),
						"the voltages are those of first, second and third, line-to-line, each near its bus's nominal voltage", "look at the nameplate, and at the three buses")
				}
			}
		}
		v.xr(t.XR, object)
		if t.Rating.Given {
			v.powerFits(t.Rating.At, object, t.Rating.Text, t.Rating.V[0], v.nominal(t.First), 3, 2, 5e3)
		}
		for _, p := range []struct {
			key string
			z   Value[quantity.PercentOn]
			xr  Value[quantity.Number]
		}{{"1-2", t.Z12, t.XR12}, {"1-3", t.Z13, t.XR13}, {"2-3", t.Z23, t.XR23}} {
			v.xr(p.xr, object+", x/r "+p.key)
			v.percentWithin(p.z, object+", impedance "+p.key, usualThreeWinding)
			v.powerFits(p.z.At, object+", impedance "+p.key, p.z.Text, p.z.V.BaseVA, v.nominal(t.First), 3, 1, 5e3)
			if !t.XR.Given && !p.xr.Given && !there(t.XR.At, p.xr.At) {
				v.err(e.NameAt, object, "x/r "+p.key+" is not given", "the impedance needs its resistance", "write x/r for all pairs, or one for each; if it is assumed, say so: x/r: { value: 20, known: assumed }")
			}
		}
		v.xr(t.ZeroSequenceXR, object+", zero-sequence")
		v.threeWindingNeutrals(t, e.NameAt, object)
		v.tap(t.Tap, t.Taps, object+", tap", "taps")
	}
}

// Usual impedances (common practice, no source), as fractions. Those between
// two windings of three are on one base, often that of the largest, so that
// they reach further than those of two windings.
var (
	usualThreeWinding = [2]float64{0.005, 0.6}
	usualSinglePhase  = [2]float64{0.005, 0.2} // small units have 1.5 % to 5 %
	usualRegulator    = [2]float64{0.0005, 0.05}
	usualReactor      = [2]float64{0.003, 1}
	usualNegative     = [2]float64{0.03, 1} // of an induction machine, on its own rating
)

// percentWithin checks an impedance in percent: possible, and usual.
func (v *validator) percentWithin(p Value[quantity.PercentOn], object string, usual [2]float64) {
	switch f := p.V.Fraction; {
	case !p.Given:
	case f <= 0:
		v.err(p.At, object, p.Text+" is not above zero", "an impedance is positive", "")
	case f > 3:
		v.err(p.At, object, p.Text+" is not possible", "it is several times the impedance of the rated load", "look at the decimal point and the base")
	case f < usual[0] || f > usual[1]:
		v.warn(p.At, object, p.Text+" is unusual", fmt.Sprintf("it lies between %s %% and %s %% (%s)", number(100*usual[0]), number(100*usual[1]), commonPractice), "look at the decimal point: percent, or per unit?")
	}
}

// powerFits tells of a power that is far too small or too large for the
// voltage it stands at: a slip of the prefix. least and most are currents in
// A; phases is 3 for a power of three phases at a line-to-line voltage, 1 for
// one of a single phase.
func (v *validator) powerFits(at Mark, object, text string, s, u, phases, least, most float64) {
	if s <= 0 || u <= 0 {
		return
	}
	i := s / (math.Sqrt(phases) * u)
	if i >= least && i <= most {
		return
	}
	v.warn(at, object, fmt.Sprintf("%s at %s is a current of %s", text, kv(u), quantity.Current(roundTo(i, 3))), fmt.Sprintf("it lies between %s and %s (%s)", quantity.Current(least), quantity.Current(most), commonPractice), "look at the prefix of the unit: k or M?")
}

// nominal is the nominal voltage of a bus, 0 where it is not known.
func (v *validator) nominal(ref Value[Ref]) float64 {
	if b := v.bus(ref); b != nil && b.Voltage.Given {
		return float64(b.Voltage.V)
	}
	return 0
}

// machineCurrents are the usual rated currents of one machine or inverter, A
// (common practice, no source): those above 1 kV are not small ones.
func machineCurrents(u float64) (least, most float64) {
	if u > 1e3 {
		return 2, 20e3
	}
	return 0.1, 50e3
}

func (v *validator) threeWindingNeutrals(t *ThreeWindingTransformer, at Mark, object string) {
	if !t.Group.Given {
		return
	}
	earthed, delta := 0, false
	for k, w := range t.Group.V.Winding {
		n := []Value[quantity.Neutral]{t.FirstNeutral, t.SecondNeutral, t.ThirdNeutral}[k]
		key := []string{"first neutral", "second neutral", "third neutral"}[k]
		delta = delta || w.Kind == 'D'
		switch {
		case n.Given && !w.Neutral:
			v.err(n.At, object, fmt.Sprintf("that winding of %s has no neutral brought out", t.Group.Text), "the letter N or n in the group says that the neutral is brought out", "mend the group, or take out '"+key+"'")
		case w.Neutral && !n.Given && !there(n.At):
			v.err(at, object, fmt.Sprintf("how the %s of %s is earthed is not said", key, t.Group.Text), "earth faults depend on it; it is not guessed", "write "+key+": solid, open, or an impedance such as 6.35 ohm")
		case n.Given && real(n.V.Z) < 0:
			v.err(n.At, object, n.Text+" has a negative resistance", "a neutral impedance is passive", "look at the sign")
		case n.Given && !n.V.Open:
			earthed++
		}
	}
	given := there(t.Zero12.At, t.Zero13.At, t.Zero23.At)
	path := earthed > 1 || earthed == 1 && delta
	for _, p := range []struct {
		key string
		z   Value[quantity.PercentOn]
	}{{"1-2", t.Zero12}, {"1-3", t.Zero13}, {"2-3", t.Zero23}} {
		v.percentWithin(p.z, object+", zero-sequence "+p.key, usualThreeWinding)
		if path && !p.z.Given && !there(p.z.At) {
			v.err(at, object, "zero-sequence "+p.key+" is not given", fmt.Sprintf("with these neutrals %s carries zero sequence between its windings, and three impedances set how much", t.Group.Text), "write it from the test sheet; where it is taken as impedance "+p.key+", say that it is assumed")
		}
	}
	if !path && given {
		v.warn(place(t.Zero12.At, t.Zero13.At, t.Zero23.At), object, "zero-sequence has no effect here", fmt.Sprintf("%s with these neutrals passes no zero sequence", t.Group.Text), "if a neutral is earthed, say so")
	}
}

func (v *validator) banks() {
	known := make(map[string]int)
	for i := range v.doc.SinglePhase.Entries {
		known[string(v.doc.SinglePhase.Entries[i].Item.Bank.V)]++
	}
	for i := range v.doc.Banks.Entries {
		e := &v.doc.Banks.Entries[i]
		object := "bank " + strconv.Quote(e.Name)
		b, _ := v.doc.Branch(e.Name)
		if !v.distinctEnds(b, object) {
			continue
		}
		units := v.doc.Units(e.Name)
		if len(units) == 0 {
			v.err(e.NameAt, object, "it has no units", "a bank is made of single-phase transformers", "add single-phase transformers with bank: "+e.Name)
			continue
		}
		if len(units) > 3 {
			v.err(units[3].NameAt, object, fmt.Sprintf("it has %d units", len(units)), "a bank has three at most", "make two banks of it")
		}
		sides := []struct {
			key     string
			bus     Value[Ref]
			neutral Value[quantity.Neutral]
		}{{"from neutral", e.Item.From, e.Item.FromNeutral}, {"to neutral", e.Item.To, e.Item.ToNeutral}}
		for side, s := range sides {
			ends := false
			for _, u := range units {
				w := u.Item.Primary
				if side == 1 {
					w = u.Item.Secondary
				}
				ends = ends || w.Given && w.V.Conductors().Has(quantity.PhaseN)
			}
			bus := v.bus(s.bus)
			switch {
			case bus == nil:
			case ends && !bus.phases().Has(quantity.PhaseN) && !s.neutral.Given && !there(s.neutral.At):
				v.err(e.NameAt, object, fmt.Sprintf("how N is earthed at bus %q is not said", s.bus.V), "the bus has no conductor N, so the units that end at N make a star point of the bank's own", "write "+s.key+": solid, open, or an impedance; or give the bus the conductor N")
			case !ends && s.neutral.Given:
				v.warn(s.neutral.At, object, "'"+s.key+"' has no effect", "no unit ends at N on that side", "take it out, or look at the units")
			case ends && bus.phases().Has(quantity.PhaseN) && s.neutral.Given && s.neutral.V.Solid:
				v.err(s.neutral.At, object, fmt.Sprintf("conductor N of bus %q can't be earthed solidly here", s.bus.V), "with no impedance to earth it would be earth itself, and no conductor", "write its earthing resistance, or leave N out of the bus's phases")
			case ends && bus.phases().Has(quantity.PhaseN) && s.neutral.Given && s.neutral.V.Open:
				v.warn(s.neutral.At, object, fmt.Sprintf("its star point is conductor N of bus %q, and does not float", s.bus.V), "units that end at N end at that conductor, however it is earthed elsewhere", "take it out; for a star point that floats, connect the bank to a bus of its own without N, behind a switch or fuse")
			case s.neutral.Given && real(s.neutral.V.Z) < 0:
				v.err(s.neutral.At, object, s.neutral.Text+" has a negative resistance", "a neutral impedance is passive", "look at the sign")
			}
		}
	}
	for i := range v.doc.SinglePhase.Entries {
		v.unit(&v.doc.SinglePhase.Entries[i])
	}
}

// unit checks one single-phase transformer.
func (v *validator) unit(e *Entry[SinglePhaseTransformer]) {
	u := &e.Item
	object := "single-phase transformer " + strconv.Quote(e.Name)
	v.xr(u.XR, object)
	v.xr(u.HalfXR, object+", half")
	v.percentWithin(u.Impedance, object+", impedance", usualSinglePhase)
	v.percentWithin(u.Half, object+", half impedance", usualSinglePhase)
	if u.Rating.Given && u.Voltages.Given {
		v.powerFits(u.Rating.At, object, u.Rating.Text, u.Rating.V[0], math.Min(u.Voltages.V.From, u.Voltages.V.To), 1, 1, 6e3)
	}
	switch {
	case u.XR.Given && u.Losses.Given:
		v.err(u.Losses.At, object, "both x/r and losses are given", "two statements of one thing may differ", "leave one of them")
	case !u.XR.Given && !u.Losses.Given && !there(u.XR.At, u.Losses.At):
		v.err(e.NameAt, object, "neither x/r nor losses are given", "the impedance needs its resistance", "write x/r, or losses at the base of the impedance; if it is assumed, say so: x/r: { value: 1.5, known: assumed }")
	case u.Losses.Given && u.Impedance.Given && u.Rating.Given:
		on := u.Impedance.V.BaseVA
		if on == 0 {
			on = u.Rating.V[0]
		}
		if r := float64(u.Losses.V) / on; r <= 0 || r >= u.Impedance.V.Fraction {
			v.err(u.Losses.At, object, fmt.Sprintf("losses of %s on %s are %s %% of resistance, beside %s of impedance", u.Losses.Text, quantity.ApparentPower(on), number(100*r), u.Impedance.Text), "the resistance is smaller than the impedance", "give the load losses, at the power that the impedance is on")
		}
	}
	if u.Tap.Given && math.Abs(float64(u.Tap.V)) > 0.25 {
		v.err(u.Tap.At, object, u.Tap.Text+" is not a tap position", "taps change the turns by a few percent", "write the position in percent of rated turns")
	}
	if u.Primary.Given && u.Primary.V.Count() == 3 {
		v.err(u.Primary.At, object, u.Primary.Text+" has a middle", "the middle of a second winding may be brought out", "write the two ends of the first winding")
	}
	middle := u.Secondary.Given && u.Secondary.V.Count() == 3
	switch {
	case middle && !there(u.Half.At, u.Halves.At):
		v.err(e.NameAt, object, "the half impedance is not given", "faults of one leg flow through one half of the winding", "write half impedance and half x/r from the test sheet, or halves: interlaced for the usual ratio to the whole")
	case !middle && there(u.Half.At, u.Halves.At) && u.Secondary.Given:
		v.warn(place(u.Half.At, u.Halves.At), object, "the second winding has no middle brought out", "", "take it out, or write secondary: A-N-B")
	case u.Half.Given && u.Halves.Given:
		v.err(u.Halves.At, object, "both 'half impedance' and 'halves' are given", "two statements of one thing may differ", "leave one of them")
	case u.Half.Given && !u.HalfXR.Given && !there(u.HalfXR.At):
		v.err(u.Half.At, object, "half x/r is not given", "the impedance needs its resistance", "write half x/r")
	}
	bank := v.doc.Banks.Find(string(u.Bank.V))
	if bank == nil {
		return
	}
	for _, s := range []struct {
		ends  Value[quantity.WindingEnds]
		bus   Value[Ref]
		rated float64
		key   string
	}{{u.Primary, bank.Item.From, u.Voltages.V.From, "primary"}, {u.Secondary, bank.Item.To, u.Voltages.V.To, "secondary"}} {
		b := v.bus(s.bus)
		if b == nil || !s.ends.Given {
			continue
		}
		if lacking := s.ends.V.Conductors() & threePhases &^ b.phases(); lacking != 0 {
			v.err(s.ends.At, object, fmt.Sprintf("%s %s: bus %q has no phase %s", s.key, s.ends.Text, s.bus.V, v.names(lacking)), "a winding ends at conductors that are there", fmt.Sprintf("the bus has %s", v.names(b.phases())))
			continue
		}
		if !u.Voltages.Given || !b.Voltage.Given {
			continue
		}
		nominal := float64(b.Voltage.V)
		want := []float64{nominal}
		if s.ends.V.Conductors().Has(quantity.PhaseN) && s.ends.V.Count() == 2 {
			// To the neutral of three phases, or to the middle of a service, or a two-wire service at its own voltage.
			want = []float64{nominal / math.Sqrt(3), nominal / 2, nominal}
			if b.phases().Has(threePhases) {
				want = want[:1]
			}
		}
		fits := false
		for _, w := range want {
			fits = fits || math.Abs(s.rated/w-1) <= windingVoltage
		}
		if !fits {
			v.err(u.Voltages.At, object, fmt.Sprintf("its %s winding of %s stands between %s of bus %q, where there are %s", s.key, quantity.Voltage(s.rated), s.ends.Text, s.bus.V, quantity.Voltage(roundTo(want[0], 4))),
				"the rated voltages are those over the whole windings, each near the voltage between the conductors that it stands between", "look at the nameplate, and at the ends")
		}
	}
}

func (v *validator) sameNominal(from, to Value[Ref], object, what string) {
	a, b := v.bus(from), v.bus(to)
	if a != nil && b != nil && a.Voltage.Given && b.Voltage.Given && math.Abs(float64(a.Voltage.V)/float64(b.Voltage.V)-1) > sameVoltage {
		v.err(to.At, object, fmt.Sprintf("from bus %q of %s to bus %q of %s", from.V, a.Voltage.Text, to.V, b.Voltage.Text), what+" joins buses of one nominal voltage", "put a transformer between, or mend a voltage")
	}
}

// branchPhasesFit checks the phases given to a branch against its buses, and
// that there are some.
func (v *validator) branchPhasesFit(p Value[quantity.Phases], from, to Value[Ref], at Mark, object string) {
	a, b := v.bus(from), v.bus(to)
	if a == nil || b == nil {
		return
	}
	common := a.phases() & b.phases()
	switch {
	case p.Given && p.V&^common != 0:
		v.err(p.At, object, fmt.Sprintf("bus %q (%s) and bus %q (%s) don't both have phase %s", from.V, v.names(a.phases()), to.V, v.names(b.phases()), v.names(p.V&^common)), "a branch has the phases of both its buses", "mend the phases")
	case common == 0:
		v.err(at, object, fmt.Sprintf("buses %q (%s) and %q (%s) have no phase in common", from.V, v.names(a.phases()), to.V, v.names(b.phases())), "a branch joins phases that both buses have", "")
	}
}

func (v *validator) regulators() {
	for i := range v.doc.Regulators.Entries {
		e := &v.doc.Regulators.Entries[i]
		r := &e.Item
		object := "regulator " + strconv.Quote(e.Name)
		b, _ := v.doc.Branch(e.Name)
		if !v.distinctEnds(b, object) {
			continue
		}
		v.sameNominal(r.From, r.To, object, "a regulator")
		v.branchPhasesFit(r.Phases, r.From, r.To, e.NameAt, object)
		v.xr(r.XR, object)
		v.percentWithin(r.Impedance, object+", impedance", usualRegulator)
		if r.Impedance.Given && r.Impedance.V.BaseVA == 0 {
			v.err(r.Impedance.At, object, r.Impedance.Text+" has no base", "a regulator has no rating here that it could be on", "write it as 0.4 % on 5 MVA")
		}
		v.powerFits(r.Impedance.At, object+", impedance", r.Impedance.Text, r.Impedance.V.BaseVA, v.nominal(r.From), 3, 10, 5e3)
		phases := v.doc.BranchConductors(b, 0)
		if c := r.Connection.V; (c == "open-delta" || c == "closed-delta") && phases&threePhases != threePhases {
			v.err(r.Connection.At, object, fmt.Sprintf("%s on phases %s", c, v.names(phases)), "a delta connection needs all three phases", "connect it between buses with all three, or write connection: wye")
			continue
		}
		if r.Position.Given {
			c := newChecker(v.doc)
			c.positions(object+", position", r.Position, r, v.doc.regulatorUnits(e.Name))
			v.ds = append(v.ds, c.ds...)
		}
	}
}

func (v *validator) reactors() {
	for i := range v.doc.Reactors.Entries {
		e := &v.doc.Reactors.Entries[i]
		r := &e.Item
		object := "reactor " + strconv.Quote(e.Name)
		b, _ := v.doc.Branch(e.Name)
		if !v.distinctEnds(b, object) {
			continue
		}
		v.sameNominal(r.From, r.To, object, "a reactor")
		v.branchPhasesFit(r.Phases, r.From, r.To, e.NameAt, object)
		v.xr(r.XR, object)
		v.percentWithin(r.Impedance, object+", impedance", usualReactor)
		switch {
		case r.Z.Given && r.Impedance.Given:
			v.err(r.Impedance.At, object, "both z and impedance are given", "two statements of one thing may differ", "leave one of them")
		case !r.Z.Given && !r.Impedance.Given && !there(r.Z.At, r.Impedance.At):
			v.err(e.NameAt, object, "neither z nor impedance is given", "", "write z: 0.01 + j0.35 ohm, or impedance: 6 % on 10 MVA")
		case r.Z.Given && (real(r.Z.V) < 0 || imag(r.Z.V) <= 0):
			v.err(r.Z.At, object, "z "+r.Z.Text+" is not possible", "a reactor has resistance not below zero and reactance above zero", "")
		case r.Impedance.Given && r.Impedance.V.BaseVA == 0:
			v.err(r.Impedance.At, object, r.Impedance.Text+" has no base", "percent of what is not said", "write it as 6 % on 10 MVA")
		case r.Impedance.Given && !r.XR.Given && !there(r.XR.At):
			v.err(e.NameAt, object, "x/r is not given", "the impedance needs its resistance", "write x/r; if it is assumed, say so")
		}
		v.powerFits(r.Impedance.At, object+", impedance", r.Impedance.Text, r.Impedance.V.BaseVA, v.nominal(r.From), 3, 10, 20e3)
	}
}

// machineVoltage checks a machine's rated voltage against its bus.
func (v *validator) machineVoltage(u Value[quantity.Voltage], at Value[Ref], object string) {
	v.threePhaseAt(at, object, "a three-phase machine")
	b := v.bus(at)
	if b == nil || !u.Given || !b.Voltage.Given {
		return
	}
	if r := float64(u.V) / float64(b.Voltage.V); math.Abs(r-1) > windingVoltage {
		v.err(u.At, object, fmt.Sprintf("%s at a bus of %s", u.Text, b.Voltage.Text), "the rated voltage is line-to-line, near the bus's nominal voltage", voltageHint(r))
	}
}

func (v *validator) machineCount(n Value[int], object string) {
	if n.Given && (n.V < 1 || n.V > 1000) {
		v.err(n.At, object, fmt.Sprintf("a count of %d", n.V), "it is how many machines run", "write 1 or more; a machine that is off is out in a condition")
	}
}

func (v *validator) inductionMachines() {
	for i := range v.doc.InductionMachines.Entries {
		e := &v.doc.InductionMachines.Entries[i]
		m := &e.Item
		object := "induction machine " + strconv.Quote(e.Name)
		v.machineVoltage(m.Voltage, m.At, object)
		v.machineCount(m.Count, object)
		v.xr(m.XR, object)
		v.xr(m.Z2XR, object+", z2")
		v.percentWithin(m.Z2, object+", z2", usualNegative)
		for _, p := range []struct {
			at   Mark
			text string
			w    float64
		}{{m.Power.At, m.Power.Text, float64(m.Power.V)}, {m.Rating.At, m.Rating.Text, float64(m.Rating.V)}} {
			least, most := machineCurrents(v.nominal(m.At))
			v.powerFits(p.at, object, p.text, p.w, v.nominal(m.At), 3, least, most)
		}
		power := there(m.Power.At, m.Efficiency.At, m.PF.At)
		switch {
		case m.Rating.Given && power:
			v.err(m.Rating.At, object, "both the rating and power, efficiency or pf are given", "two statements of one thing may differ", "leave rating, or the three others")
		case !there(m.Rating.At) && !(m.Power.Given && m.Efficiency.Given && m.PF.Given):
			if !power || !there(m.Power.At) || !there(m.Efficiency.At) || !there(m.PF.At) {
				v.err(e.NameAt, object, "its apparent power is not known", "the locked-rotor current is stated over the rated one", "write rating, or power with efficiency and pf")
			}
		}
		if m.PF.Given && m.PF.V.Leading {
			v.err(m.PF.At, object, "a power factor of "+m.PF.Text, "an induction machine takes reactive power, as motor and as generator", "write lag; capacitors beside it are plant of their own")
		}
		if m.Efficiency.Given && (m.Efficiency.V <= 0.3 || m.Efficiency.V > 1) {
			v.err(m.Efficiency.At, object, "an efficiency of "+m.Efficiency.Text, "it lies between 70 % and 98 % ("+commonPractice+")", "write it in percent, as 95.7 %")
		}
		if k := float64(m.LockedRotor.V); m.LockedRotor.Given {
			switch {
			case k <= 1:
				v.err(m.LockedRotor.At, object, "locked-rotor current "+m.LockedRotor.Text, "it is several times the rated current", "write the ratio, as 5.5")
			case k < 2.5 || k > 12:
				v.warn(m.LockedRotor.At, object, "locked-rotor current "+m.LockedRotor.Text+" is unusual", "it lies between 4 and 8 times rated ("+commonPractice+")", "")
			}
		}
		if m.Z2.Given && m.Z2.V.BaseVA == 0 {
			v.err(m.Z2.At, object, m.Z2.Text+" has no base", "percent of what is not said", "write it as 17 % on 2.14 MVA")
		}
	}
}

func (v *validator) synchronousMachines() {
	transient := v.doc.Method != nil && v.doc.Method.Machines.V == "transient"
	for i := range v.doc.SynchronousMachines.Entries {
		e := &v.doc.SynchronousMachines.Entries[i]
		m := &e.Item
		object := "synchronous machine " + strconv.Quote(e.Name)
		v.machineVoltage(m.Voltage, m.At, object)
		v.machineCount(m.Count, object)
		v.xr(m.XR, object)
		least, most := machineCurrents(v.nominal(m.At))
		v.powerFits(m.Rating.At, object, m.Rating.Text, float64(m.Rating.V), v.nominal(m.At), 3, least, most)
		for _, x := range []struct {
			key string
			x   Value[quantity.Fraction]
		}{{"subtransient", m.Subtransient}, {"transient", m.Transient}, {"negative", m.Negative}, {"zero", m.Zero}} {
			lowest := quantity.Fraction(0.05)
			if x.key == "zero" {
				lowest = 0.005
			}
			if x.x.Given && x.x.V > 0 && x.x.V < lowest {
				v.warn(x.x.At, object+", "+x.key, x.x.Text+" is unusual", fmt.Sprintf("it is seldom below %s %% (%s)", number(100*float64(lowest)), commonPractice), "look at the decimal point: percent, or per unit?")
			}
			if x.x.Given && (x.x.V <= 0 || x.x.V > 2) {
				v.err(x.x.At, object+", "+x.key, x.x.Text+" is not a machine's reactance", "it lies between a few percent and about 60 % ("+commonPractice+")", "write it in percent, as 18 %")
			}
		}
		if m.Transient.Given && m.Subtransient.Given && m.Transient.V < m.Subtransient.V {
			v.err(m.Transient.At, object, fmt.Sprintf("transient %s is below subtransient %s", m.Transient.Text, m.Subtransient.Text), "the reactance grows as the rotor's currents decay", "exchange the two")
		}
		if transient && !there(m.Transient.At) {
			v.err(e.NameAt, object, "the transient reactance is not given", "the method takes machines as transient", "write transient, or machines: subtransient in the method")
		}
		if m.Neutral.Given && !m.Neutral.V.Open && !there(m.Zero.At) {
			v.err(e.NameAt, object, "the zero-sequence reactance is not given", "with its neutral earthed the machine carries earth-fault current", "write zero")
		}
		if m.Neutral.Given && real(m.Neutral.V.Z) < 0 {
			v.err(m.Neutral.At, object, m.Neutral.Text+" has a negative resistance", "a neutral impedance is passive", "look at the sign")
		}
	}
}

func (v *validator) inverters() {
	for i := range v.doc.Inverters.Entries {
		e := &v.doc.Inverters.Entries[i]
		m := &e.Item
		object := "inverter " + strconv.Quote(e.Name)
		v.machineVoltage(m.Voltage, m.At, object)
		least, most := machineCurrents(v.nominal(m.At))
		v.powerFits(m.Rating.At, object, m.Rating.Text, float64(m.Rating.V), v.nominal(m.At), 3, least, most)
		if k := float64(m.Limit.V); m.Limit.Given {
			switch {
			case k <= 0:
				v.err(m.Limit.At, object, "a current limit of "+m.Limit.Text, "it is above zero", "write it in percent of rated current, as 120 %")
			case k < 0.5:
				fix := "write it in percent of rated current, as 120 %"
				if k*100 >= 0.9 && k*100 <= 3 {
					fix = "if " + number(k*100) + " per unit is meant, write " + percentText(k*100)
				}
				v.err(m.Limit.At, object, "a current limit of "+m.Limit.Text, "an inverter sustains its rated current", fix)
			case k < 0.9 || k > 3:
				v.warn(m.Limit.At, object, "a current limit of "+m.Limit.Text+" is unusual", "inverters sustain 100 % to 150 % of rated current ("+commonPractice+")", "write it in percent of rated current, as 120 %")
			}
		}
		if m.Output.Given && m.Rating.Given && math.Abs(float64(m.Output.V)) > float64(m.Rating.V)*(1+1e-9) {
			v.err(m.Output.At, object, fmt.Sprintf("an output of %s from %s", m.Output.Text, m.Rating.Text), "the output is at most the rating", "look at the units")
		}
		for _, p := range []struct {
			key string
			u   Value[quantity.Fraction]
		}{{"dip below", m.DipBelow}, {"ceases below", m.Ceases}} {
			if p.u.Given && (p.u.V <= 0 || p.u.V >= 1) {
				v.err(p.u.At, object+", "+p.key, p.u.Text+" is no dip", "it is a voltage below rated, in percent of it", "write it as 50 %")
			}
		}
		switch {
		case m.Response.V == "support" && !there(m.Gain.At):
			v.err(e.NameAt, object, "the gain is not given", "response support gives reactive current in proportion to the dip", "write gain: 2, or as the grid code and the maker's sheet have it")
		case m.Gain.Given && m.Response.Given && m.Response.V != "support":
			v.warn(m.Gain.At, object, "gain has no effect with response "+m.Response.V, "", "write response: support, or take the gain out")
		}
		for _, g := range []Value[quantity.Number]{m.Gain, m.Negative} {
			if g.Given && (g.V < 0 || g.V > 20) {
				v.err(g.At, object, "a gain of "+g.Text, "it lies between 0 and 10 ("+commonPractice+")", "")
			}
		}
	}
}
