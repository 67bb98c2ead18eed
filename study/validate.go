package study

import (
	"fmt"
	"math"
	"math/cmplx"
	"strconv"

	"feederwright/quantity"
)

// Limits of what is plausible. What lies outside is a warning where it can be
// computed, an error where it is a slip of unit or of side beyond doubt.
const (
	// Rated voltages of windings beside the nominal voltage of their bus. Taps and
	// rated-against-nominal practice explain up to about 10 % (IEC 60038 highest
	// voltages [from memory]); beyond 15 % the winding is on the wrong bus.
	windingVoltage = 0.15
	// Nominal voltages of buses that lines and devices join: 12.47 and 12.5 kV
	// are the same network written twice.
	sameVoltage = 0.01
	// Short-circuit impedance of power transformers: IEC 60076-5:2006 Table 1 begins
	// at 4 % and goes to above 12.5 % [from memory]; small and special units are
	// outside (common practice, no source).
	minImpedance, maxImpedance = 0.015, 0.30
	// Zero-sequence impedance of a zigzag winding: about a tenth of the positive
	// one (quoted with IEC 60909 [from memory]).
	minZigzag = 0.001
	// X/R of transformers and systems (common practice, no source).
	minXR, maxXR = 0.5, 60
	// Three-phase fault currents of systems above 1 kV (common practice, no source).
	minLevel, maxLevel = 200.0, 100e3 // A
	// Series resistance and reactance of lines and cables, ohm/km: from 1000 mm²
	// copper (0.0176, IEC 60228 class 2 [from memory]) to small steel-cored wire;
	// reactance from touching cores to wide spacing (common practice, no source).
	minR, maxR = 0.01, 12.0
	minX, maxX = 0.03, 1.5
	// Zero- to positive-sequence impedance of sections (common practice, no source).
	minZ0, maxZ0 = 0.4, 12.0
	// Charging of sections, S/km: overhead about 3 µS, screened cable up to 300 µS.
	minB, maxB = 0.3e-6, 600e-6
	// Length of a section of a medium-voltage feeder, m (common practice, no source).
	maxLength = 200e3
)

const commonPractice = "common practice, no source"

// Validate finds what the document gets wrong in meaning, as far as it shows
// without solving the network: in order of place, all of one pass.
func (doc *Document) Validate() Diagnostics {
	v := &validator{doc: doc, buses: make(map[Ref]*Entry[Bus])}
	for i := range doc.Buses.Entries {
		e := &doc.Buses.Entries[i]
		v.buses[Ref(e.Name)] = e
	}
	v.header()
	v.checkBuses()
	v.supply()
	v.transformers()
	v.earthingTransformers()
	v.plant()
	v.conductors()
	v.lineTypes()
	v.lines()
	v.neutralEarthings()
	v.shunts()
	v.devices()
	v.duties()
	v.instruments()
	v.service()
	v.loops()
	v.accepted()
	doc.Illustrate(v.ds)
	v.ds.Sort(doc.Files)
	return v.ds
}

type validator struct {
	doc     *Document
	buses   map[Ref]*Entry[Bus]
	library ConductorLibrary // of conductors; read where it is needed
	ds      Diagnostics
}

func (v *validator) err(at Mark, object, problem, why, fix string) {
	v.ds = append(v.ds, Diagnostic{Severity: Error, At: at, Object: object, Problem: problem, Why: why, Fix: fix})
}

func (v *validator) warn(at Mark, object, problem, why, fix string) {
	v.ds = append(v.ds, Diagnostic{Severity: Warning, At: at, Object: object, Problem: problem, Why: why, Fix: fix})
}

func (v *validator) bus(ref Value[Ref]) *Bus {
	if e := v.buses[ref.V]; e != nil && ref.Given {
		return &e.Item
	}
	return nil
}

func (b *Bus) phases() quantity.Phases {
	if b.Phases.Given {
		return b.Phases.V
	}
	return threePhases
}

const threePhases = quantity.PhasesABC

// there tells whether a value stands in the file, read or not: one that could
// not be read is told already.
func there(marks ...Mark) bool {
	for _, m := range marks {
		if m.Line > 0 {
			return true
		}
	}
	return false
}

// place is the first of the marks that stands in the file.
func place(marks ...Mark) Mark {
	for _, m := range marks {
		if m.Line > 0 {
			return m
		}
	}
	return Mark{}
}

func kv(x float64) string { return quantity.Voltage(x).String() }

func number(x float64) string { return strconv.FormatFloat(roundTo(x, 4), 'g', -1, 64) }

func (v *validator) header() {
	d := v.doc
	if f := float64(d.Frequency.V); d.Frequency.Given && f != 50 && f != 60 {
		v.warn(d.Frequency.At, "frequency", d.Frequency.Text+" is not usual", "public supply runs at 50 Hz or 60 Hz; reactances and charging scale with it", "")
	}
	if d.Method != nil {
		for i, z := range d.Method.Resistance.V {
			if imag(z) != 0 || real(z) < 0 {
				v.err(part(d.Method.Resistance.At, d.Method.Resistance.Parts, i), "method, fault resistances", fmt.Sprintf("entry %d, %s, is not a resistance", i+1, z), "a fault resistance is real and not negative", "write it as 40 ohm")
			}
		}
		if d.Method.Prefault.Given {
			c := newChecker(d)
			c.prefaultFits("method, prefault", d.Method.Prefault)
			v.ds = append(v.ds, c.ds...)
		}
	}
	if len(d.Supply.Entries) == 0 && len(d.Buses.Entries) > 0 && d.Supply.At.Line == 0 {
		v.warn(d.Buses.At, "supply", "the study has no infeed", "without a source no bus has a voltage, and no fault a current",
			"add supply: { NAME: { at: BUS, maximum: { three-phase: 9.20 kA, x/r: 10.5 } } }")
	}
}

func (v *validator) checkBuses() {
	used := make(map[Ref]quantity.Phases)
	connect := func(ref Value[Ref], p quantity.Phases) { used[ref.V] |= p }
	d := v.doc
	for i := range d.Supply.Entries {
		connect(d.Supply.Entries[i].Item.At, threePhases)
	}
	for i := range d.Transformers.Entries {
		connect(d.Transformers.Entries[i].Item.From, threePhases)
		connect(d.Transformers.Entries[i].Item.To, threePhases)
	}
	for i := range d.Lines.Entries {
		l := &d.Lines.Entries[i].Item
		p := v.linePhases(l)
		connect(l.From, p)
		connect(l.To, p)
	}
	for _, b := range d.Branches() {
		if b.Kind != "line" && b.Kind != "transformer" {
			for i, ref := range b.Ends {
				connect(ref, d.BranchConductors(b, i))
			}
		}
	}
	for _, o := range d.Devices() {
		if o.From.Given {
			if a, b := v.bus(o.From), v.bus(o.To); a != nil && b != nil {
				connect(o.From, a.phases()&b.phases())
				connect(o.To, a.phases()&b.phases())
			}
		}
	}
	for i := range d.Buses.Entries {
		e := &d.Buses.Entries[i]
		object := "bus " + strconv.Quote(e.Name)
		if u := float64(e.Item.Voltage.V); e.Item.Voltage.Given {
			switch {
			case u < 50:
				v.err(e.Item.Voltage.At, object, e.Item.Voltage.Text+" is not a supply voltage", "nominal voltages begin at 100 V (IEC 60038 [from memory])", "if kV is meant, write kV")
			case u > 1200e3:
				v.err(e.Item.Voltage.At, object, e.Item.Voltage.Text+" is above every supply voltage", "the highest is 1200 kV (IEC 60038 [from memory])", "look at the unit")
			}
		}
		p, ok := used[Ref(e.Name)]
		missing := e.Item.phases() &^ p & threePhases
		switch {
		case !ok:
			v.warn(e.NameAt, object, "nothing is connected to it", "no infeed, transformer, line or switch names it", "connect it, or take it out")
		case missing != 0 && e.Item.Phases.Given:
			v.warn(e.Item.Phases.At, object, fmt.Sprintf("nothing brings phase %s here", v.names(missing)), "no infeed, transformer, line or switch at this bus has that phase", v.keepPhases(e.Item.phases()&^missing, "connect it"))
		case missing != 0:
			v.warn(e.NameAt, object, fmt.Sprintf("nothing brings phase %s here", v.names(missing)), "a bus without 'phases' has all three", v.keepPhases(e.Item.phases()&^missing, "connect it"))
		}
	}
}

func (v *validator) xr(x Value[quantity.Number], object string) {
	if !x.Given {
		return
	}
	switch f := float64(x.V); {
	case f <= 0:
		v.err(x.At, object, "x/r "+x.Text+" is not above zero", "resistance and reactance of plant are positive", "write the ratio X/R; if the sheet gives R/X, its reciprocal")
	case f < minXR || f > maxXR:
		v.warn(x.At, object, "x/r "+x.Text+" is unusual", fmt.Sprintf("X/R lies between %g and %g (%s)", minXR, float64(maxXR), commonPractice), "if the sheet gives R/X, write its reciprocal")
	}
}

func (v *validator) supply() {
	for i := range v.doc.Supply.Entries {
		e := &v.doc.Supply.Entries[i]
		object := "infeed " + strconv.Quote(e.Name)
		b := v.bus(e.Item.At)
		if b != nil && b.phases()&threePhases != threePhases {
			v.err(e.Item.At.At, object, fmt.Sprintf("bus %q has the phases %s only", e.Item.At.V, v.names(b.phases())), "an infeed is three-phase", "connect it to a three-phase bus")
		}
		if b != nil && e.Item.Voltage.Given && b.Voltage.Given {
			if r := float64(e.Item.Voltage.V) / float64(b.Voltage.V); math.Abs(r-1) > windingVoltage {
				v.err(e.Item.Voltage.At, object, fmt.Sprintf("%s at a bus of %s", e.Item.Voltage.Text, b.Voltage.Text), "the source voltage before the fault lies near nominal, line-to-line", voltageHint(r))
			}
		}
		levels := []struct {
			word string
			l    *InfeedLevel
		}{{"maximum", e.Item.Maximum}, {"minimum", e.Item.Minimum}, {"future", e.Item.Future}}
		current := map[string]float64{}
		some := false
		for _, w := range levels {
			if w.l == nil {
				continue
			}
			some = true
			if c := v.level(w.l, object+", "+w.word, b, e); c > 0 {
				current[w.word] = c
			}
		}
		if !some {
			v.err(e.NameAt, object, "no level is given", "fault currents follow from the strength of the infeed", "give maximum and minimum, as { three-phase: 9.20 kA, x/r: 10.5 }")
		}
		if a, b := current["maximum"], current["minimum"]; a > 0 && b > a*(1+1e-9) {
			v.err(e.Item.Minimum.at(), object+", minimum", fmt.Sprintf("%s is stronger than the maximum of %s", quantity.Current(roundTo(b, 4)), quantity.Current(roundTo(a, 4))), "the minimum is the weakest state", "exchange the two")
		}
		if a, b := current["maximum"], current["future"]; a > 0 && b > 0 && b < a {
			v.warn(e.Item.Future.at(), object+", future", fmt.Sprintf("%s is weaker than the present maximum of %s", quantity.Current(roundTo(b, 4)), quantity.Current(roundTo(a, 4))), "networks usually grow stronger ("+commonPractice+")", "")
		}
	}
}

func voltageHint(r float64) string {
	if math.Abs(r*math.Sqrt(3)-1) < 0.05 {
		return "this looks like the line-to-neutral voltage; write the line-to-line one"
	}
	return "look at the bus, and at the unit"
}

// at is where the level's first value stands.
func (l *InfeedLevel) at() Mark {
	switch {
	case l.ThreePhase.Given:
		return l.ThreePhase.At
	case l.Z1.Given:
		return l.Z1.At
	}
	return l.XR.At
}

// level checks one level and returns its three-phase current, A at the bus.
func (v *validator) level(l *InfeedLevel, object string, b *Bus, e *Entry[Infeed]) float64 {
	v.xr(l.XR, object)
	v.xr(l.LineToGroundXR, object+", line-to-ground")
	at := l.at()
	if at.Line == 0 {
		at = e.NameAt
	}
	switch {
	case l.ThreePhase.Given && l.Z1.Given:
		v.err(l.Z1.At, object, "both a three-phase level and z1 are given", "two statements of one thing may differ", "leave one of them")
		return 0
	case !l.ThreePhase.Given && !l.Z1.Given:
		if there(l.ThreePhase.At, l.Z1.At) {
			return 0
		}
		v.err(at, object, "neither a three-phase level nor z1 is given", "the impedance of the infeed is not known without", "write three-phase: 9.20 kA and x/r: 10.5, or z1: 0.7 + j7.2 ohm")
		return 0
	case l.ThreePhase.Given && !l.XR.Given:
		if there(l.XR.At) {
			return 0
		}
		v.err(l.ThreePhase.At, object, "x/r is not given", "a level is a magnitude; resistance and reactance need their ratio", "write x/r; ask the owner of the system if the letter lacks it")
		return 0
	case l.Z1.Given && l.Z1.V.Open:
		v.err(l.Z1.At, object, "z1 cannot be open", "an infeed without positive sequence feeds nothing", "take it out in a condition instead: out: ["+e.Name+"]")
		return 0
	case l.Z1.Given && l.XR.Given:
		v.err(l.XR.At, object, "x/r beside z1", "z1 has its own resistance and reactance", "take out x/r")
	}
	if l.LineToGroundXR.Given && !l.LineToGround.Given && !there(l.LineToGround.At) {
		v.err(l.LineToGroundXR.At, object, "line-to-ground x/r without a line-to-ground level", "the ratio alone gives no impedance", "write line-to-ground as the letter has it, or take the ratio out")
	}
	if l.LineToGround.Given && l.Z0.Given {
		v.err(l.Z0.At, object, "both a line-to-ground level and z0 are given", "two statements of one thing may differ", "leave one of them")
	}
	if l.LineToGround.Given && !l.LineToGroundXR.Given && !there(l.LineToGroundXR.At) {
		v.err(l.LineToGround.At, object, "line-to-ground x/r is not given", "Z0 = 3·U/(√3·I) − Z1 − Z2 is a difference of complex numbers: a magnitude alone does not give it", "ask the owner for the X/R of the line-to-earth fault")
	}
	if b == nil || !b.Voltage.Given {
		return 0
	}
	nominal := float64(b.Voltage.V)
	for _, z := range []Value[quantity.SystemImpedance]{l.Z1, l.Z2, l.Z0} {
		if r := z.V.BaseVolt / nominal; z.Given && z.V.BaseVolt > 0 && math.Abs(r-1) > windingVoltage {
			v.err(z.At, object, fmt.Sprintf("%s has a base voltage of %s for a bus of %s", z.Text, quantity.Voltage(z.V.BaseVolt), b.Voltage.Text),
				"the impedance is that behind this bus, so its base voltage lies near the bus's, line-to-line", voltageHint(r))
			return 0
		}
	}
	u := nominal
	if l.AtVoltage.Given {
		u = float64(l.AtVoltage.V)
		if r := u / nominal; math.Abs(r-1) > windingVoltage {
			v.err(l.AtVoltage.At, object, fmt.Sprintf("a level at %s for a bus of %s", l.AtVoltage.Text, b.Voltage.Text), "the level is stated at this bus", voltageHint(r))
			return 0
		}
	}
	c := 1.0
	if l.Factor.Given {
		c = float64(l.Factor.V)
		if c < 0.9 || c > 1.2 {
			v.err(l.Factor.At, object, "voltage factor "+l.Factor.Text+" is not possible", "c lies between 0.90 and 1.10 (IEC 60909-0:2016 Table 1 [from memory])", "write the c that the letter says its level contains, or take it out")
			return 0
		}
	}
	z1 := v.systemOhm(l.Z1, nominal)
	if l.ThreePhase.Given {
		i := v.levelCurrent(l.ThreePhase, u, object)
		if i == 0 {
			return 0
		}
		z1 = splitXR(c*u/(math.Sqrt(3)*i), float64(l.XR.V))
	} else if real(z1) < 0 || imag(z1) <= 0 {
		v.err(l.Z1.At, object, "z1 "+l.Z1.Text+" is not possible", "a system has resistance not below zero and reactance above zero", "look at the signs")
		return 0
	}
	z2 := z1
	if l.Z2.Given {
		if z2 = v.systemOhm(l.Z2, nominal); l.Z2.V.Open || real(z2) < 0 || imag(z2) <= 0 {
			v.err(l.Z2.At, object, "z2 "+l.Z2.Text+" is not possible", "a system has resistance not below zero and reactance above zero", "look at the signs")
			return 0
		}
	}
	if l.LineToGround.Given && l.LineToGroundXR.Given {
		if i := v.levelCurrent(l.LineToGround, u, object+", line-to-ground"); i > 0 {
			z0 := splitXR(3*c*u/(math.Sqrt(3)*i), float64(l.LineToGroundXR.V)) - z1 - z2
			if real(z0) < 0 || imag(z0) <= 0 {
				v.err(l.LineToGround.At, object, fmt.Sprintf("the two levels give Z0 = %s", quantity.Impedance(rounded(z0))), "Z0 = 3·U/(√3·I) − Z1 − Z2 must have a resistance not below zero and a reactance above zero", "look at both levels and both X/R: line-to-ground x/r is that of the whole loop 2·Z1+Z0")
			}
		}
	}
	if z0 := v.systemOhm(l.Z0, nominal); l.Z0.Given && !l.Z0.V.Open && (real(z0) < 0 || imag(z0) <= 0) {
		v.err(l.Z0.At, object, "z0 "+l.Z0.Text+" is not possible", "a system has resistance not below zero and reactance above zero", "look at the signs; a source without earth is 'open'")
	}
	i := c * nominal / (math.Sqrt(3) * cmplx.Abs(z1))
	if l.Z1.Given && nominal >= 1000 && (i < minLevel || i > maxLevel) {
		v.warn(l.Z1.At, object, fmt.Sprintf("z1 gives a three-phase fault current of %s", quantity.Current(roundTo(i, 4))), "systems above 1 kV lie between 200 A and 100 kA ("+commonPractice+")", "look at the base: per unit on which MVA, at which kV?")
	}
	return i
}

func (v *validator) systemOhm(z Value[quantity.SystemImpedance], nominal float64) complex128 {
	if !z.V.PerUnit {
		return z.V.Z
	}
	base := z.V.BaseVolt
	if base == 0 {
		base = nominal
	}
	return z.V.Z * complex(base*base/z.V.BaseVA, 0)
}

func splitXR(z, xr float64) complex128 {
	r := z / math.Sqrt(1+xr*xr)
	return complex(r, xr*r)
}

func rounded(z complex128) complex128 {
	return complex(roundTo(real(z), 4), roundTo(imag(z), 4))
}

// roundTo keeps so many significant digits, for messages.
func roundTo(x float64, digits int) float64 {
	if x == 0 || math.IsInf(x, 0) || math.IsNaN(x) {
		return x
	}
	p := math.Pow(10, float64(digits)-1-math.Floor(math.Log10(math.Abs(x))))
	return math.Round(x*p) / p
}

// levelCurrent is a level as a current; a plain mix-up of kA and MVA is an error.
func (v *validator) levelCurrent(l Value[quantity.FaultLevel], u float64, object string) float64 {
	i := l.V.Ampere
	asPower := false
	if i == 0 {
		i, asPower = l.V.VoltAmpere/(math.Sqrt(3)*u), true
	}
	if u < 1000 || i >= minLevel && i <= maxLevel {
		return i
	}
	if asPower {
		// The same figure as kA.
		if k := l.V.VoltAmpere / 1e6 * 1e3; i < minLevel && k >= minLevel && k <= maxLevel {
			v.err(l.At, object, fmt.Sprintf("%s at %s is only %s", l.Text, kv(u), quantity.Current(roundTo(i, 3))), "systems above 1 kV give 200 A and more ("+commonPractice+")", fmt.Sprintf("if the letter says kA, write %s kA", number(l.V.VoltAmpere/1e6)))
			return 0
		}
	} else if s := i / 1e3 * 1e6 / (math.Sqrt(3) * u); i > maxLevel && s >= minLevel && s <= maxLevel {
		v.err(l.At, object, l.Text+" is more than any system delivers", "systems above 1 kV stay below 100 kA ("+commonPractice+")", fmt.Sprintf("if the letter says MVA, write %s MVA", number(i/1e3)))
		return 0
	}
	const why = "fault currents of systems above 1 kV lie between 200 A and 100 kA (" + commonPractice + ")"
	switch {
	case asPower:
		v.warn(l.At, object, fmt.Sprintf("%s at %s is a fault current of %s", l.Text, kv(u), quantity.Current(roundTo(i, 3))), why, "look at the unit, and at the bus")
	case i*1e3 >= minLevel && i*1e3 <= maxLevel:
		v.warn(l.At, object, fmt.Sprintf("a fault level of %s at %s", l.Text, kv(u)), why, "if kA is meant, write "+number(i)+" kA")
	default:
		v.warn(l.At, object, fmt.Sprintf("a fault level of %s at %s", l.Text, kv(u)), why, "look at the unit, and at the bus")
	}
	return i
}

func (v *validator) transformers() {
	for i := range v.doc.Transformers.Entries {
		e := &v.doc.Transformers.Entries[i]
		t := &e.Item
		object := "transformer " + strconv.Quote(e.Name)
		if t.From.Given && t.From.V == t.To.V {
			v.err(t.To.At, object, fmt.Sprintf("both ends are at bus %q", t.To.V), "a transformer joins two buses", "give the other bus")
			continue
		}
		from, to := v.bus(t.From), v.bus(t.To)
		for _, s := range []struct {
			ref Value[Ref]
			b   *Bus
		}{{t.From, from}, {t.To, to}} {
			if s.b != nil && s.b.phases()&threePhases != threePhases {
				v.err(s.ref.At, object, fmt.Sprintf("bus %q has the phases %s only", s.ref.V, v.names(s.b.phases())), "a three-phase transformer needs all three", "")
			}
		}
		v.windingVoltages(t, object, from, to)
		v.xr(t.XR, object)
		v.xr(t.ZeroSequenceXR, object+", zero-sequence")
		v.percent(t.Impedance, object+", impedance", t, minImpedance)
		least := minImpedance
		if g := t.Group.V; g.From.Kind == 'Z' || g.To.Kind == 'Z' {
			least = minZigzag
		}
		v.percent(t.ZeroSequence, object+", zero-sequence", t, least)
		switch {
		case t.XR.Given && t.Losses.Given:
			v.err(t.Losses.At, object, "both x/r and losses are given", "two statements of one thing may differ", "leave one of them")
		case !t.XR.Given && !t.Losses.Given && !there(t.XR.At, t.Losses.At):
			v.err(e.NameAt, object, "neither x/r nor losses are given", "the impedance needs its resistance", "write x/r, or losses at the base of the impedance; if it is assumed, say so: x/r: { value: 15, known: assumed }")
		case t.Losses.Given && t.Impedance.Given && t.Rating.Given:
			on := baseOf(t.Impedance.V, t)
			if r := float64(t.Losses.V) / on; r <= 0 || r >= t.Impedance.V.Fraction {
				v.err(t.Losses.At, object, fmt.Sprintf("losses of %s on %s are %s %% of resistance, beside %s of impedance", t.Losses.Text, quantity.ApparentPower(on), number(100*r), t.Impedance.Text), "the resistance is smaller than the impedance", "give the load losses, at the power that the impedance is on")
			}
		}
		v.neutrals(t, e.Name, e.NameAt)
		for _, tap := range []struct {
			pos Value[quantity.Fraction]
			rng Value[quantity.TapRange]
			key string
		}{{t.FromTap, t.FromTaps, "from"}, {t.ToTap, t.ToTaps, "to"}} {
			v.tap(tap.pos, tap.rng, object+", "+tap.key+" tap", tap.key+" taps")
		}
	}
}

func (v *validator) tap(pos Value[quantity.Fraction], rng Value[quantity.TapRange], object, key string) {
	if !pos.Given {
		return
	}
	p := float64(pos.V)
	if !rng.Given {
		if math.Abs(p) > 0.25 {
			v.err(pos.At, object, pos.Text+" is not a tap position", "taps change the turns by a few percent", "write the position in percent of rated turns")
		}
		return
	}
	switch {
	case p < rng.V.Min-1e-9 || p > rng.V.Max+1e-9:
		v.err(pos.At, object, fmt.Sprintf("%s is outside the range %s", pos.Text, rng.Text), "the tap changer ends there", "choose a position inside, or mend "+key)
	case rng.V.Steps > 0:
		steps := (p - rng.V.Min) / rng.V.Step()
		if math.Abs(steps-math.Round(steps)) > 0.02 {
			near := rng.V.Min + math.Round(steps)*rng.V.Step()
			v.warn(pos.At, object, pos.Text+" lies between two steps", fmt.Sprintf("the steps of %s are %s %% apart", rng.Text, number(100*rng.V.Step())), fmt.Sprintf("the nearest is %s %%", number(100*near)))
		}
	}
}

func baseOf(p quantity.PercentOn, t *Transformer) float64 {
	if p.BaseVA == 0 && len(t.Rating.V) > 0 {
		return t.Rating.V[0]
	}
	return p.BaseVA
}

func (v *validator) windingVoltages(t *Transformer, object string, from, to *Bus) {
	if from == nil || to == nil || !t.Voltages.Given || !from.Voltage.Given || !to.Voltage.Given {
		return
	}
	near := func(rated float64, b *Bus) bool { return math.Abs(rated/float64(b.Voltage.V)-1) <= windingVoltage }
	p := t.Voltages.V
	if near(p.From, from) && near(p.To, to) {
		return
	}
	problem := fmt.Sprintf("rated %s between bus %q of %s and bus %q of %s", t.Voltages.Text, t.From.V, from.Voltage.Text, t.To.V, to.Voltage.Text)
	const why = "the first voltage is that of 'from', the second that of 'to', line-to-line, each near its bus's nominal voltage"
	switch {
	case near(p.From, to) && near(p.To, from):
		v.err(t.Voltages.At, object, problem, why, fmt.Sprintf("exchange 'from' and 'to', or write %s (mind the vector group)", quantity.VoltagePair{From: p.To, To: p.From}))
	case neutralVoltage(p.From, from) || neutralVoltage(p.To, to):
		v.err(t.Voltages.At, object, problem, why, "one of them looks like a line-to-neutral voltage; write line-to-line ones")
	default:
		v.err(t.Voltages.At, object, problem, why, "look at the nameplate, and at the two buses")
	}
}

// neutralVoltage says whether a rated voltage is the line-to-neutral one of a bus.
func neutralVoltage(rated float64, b *Bus) bool {
	const same = 0.03 // rated and nominal voltage; √3 is 73 % away
	return math.Abs(rated*math.Sqrt(3)/float64(b.Voltage.V)-1) <= same
}

// percent checks an impedance in percent; least is the smallest usual fraction.
func (v *validator) percent(p Value[quantity.PercentOn], object string, t *Transformer, least float64) {
	if !p.Given {
		return
	}
	f := p.V.Fraction
	switch {
	case f <= 0:
		v.err(p.At, object, p.Text+" is not above zero", "an impedance is positive", "")
	case f < least/2 && f*100 >= least && f*100 <= maxImpedance*1.2:
		v.err(p.At, object, p.Text+" is not plausible", "power transformers have 4 % and more (IEC 60076-5:2006 Table 1 [from memory]); a per-unit figure typed as percent is 100 times too small", fmt.Sprintf("if the nameplate says per unit, write %s %%", number(f*100*100)))
	case f > 1:
		v.err(p.At, object, p.Text+" is not possible", "it is more than the impedance of the rated load", fmt.Sprintf("if the decimal point slipped, write %s %%", number(f)))
	case f < least || f > maxImpedance:
		v.warn(p.At, object, p.Text+" is unusual", "power transformers have about 4 % to 13 % (IEC 60076-5:2006 Table 1 [from memory])", "")
	}
	if p.V.BaseVA != 0 && t.Rating.Given {
		on := false
		for _, r := range t.Rating.V {
			on = on || math.Abs(p.V.BaseVA/r-1) < 1e-6
		}
		if !on {
			v.warn(p.At, object, fmt.Sprintf("%s is none of the ratings %s", quantity.ApparentPower(p.V.BaseVA), t.Rating.Text), "nameplates state the impedance on one of the ratings, usually the lowest ("+commonPractice+")", "look at the nameplate")
		}
	}
}

// neutrals checks that every neutral point says how it is earthed, and that
// the zero-sequence impedance is given where it counts.
func (v *validator) neutrals(t *Transformer, name string, at Mark) {
	if !t.Group.Given {
		return
	}
	object := "transformer " + strconv.Quote(name)
	g := t.Group.V
	both := g.From.Neutral && g.To.Neutral
	stated := [2]Value[quantity.Neutral]{t.FromNeutral, t.ToNeutral}
	wound := [2]quantity.Winding{g.From, g.To}
	keys := [2]string{"from neutral", "to neutral"}
	switch {
	case t.Neutral.Given && both:
		v.err(t.Neutral.At, object, fmt.Sprintf("%s has two neutrals", t.Group.Text), "'neutral' does not say which", "write 'from neutral' and 'to neutral'")
		return
	case t.Neutral.Given && !g.From.Neutral && !g.To.Neutral:
		v.err(t.Neutral.At, object, fmt.Sprintf("%s has no neutral brought out", t.Group.Text), "the letter N or n in the group says that the neutral is brought out", "mend the group, or take out 'neutral'")
		return
	}
	open := [2]bool{true, true}
	for side := range wound {
		n := stated[side]
		if n.Given && t.Neutral.Given && wound[side].Neutral {
			v.err(n.At, object, fmt.Sprintf("both 'neutral' and '%s' are given", keys[side]), "two statements of one thing may differ", "leave one of them")
			return
		}
		if n.Given && !wound[side].Neutral {
			v.err(n.At, object, fmt.Sprintf("that winding of %s has no neutral brought out", t.Group.Text), "the letter N or n in the group says that the neutral is brought out", "mend the group, or take out '"+keys[side]+"'")
			continue
		}
		if !wound[side].Neutral {
			continue
		}
		if !n.Given && !both {
			n = t.Neutral
		}
		if !n.Given && there(n.At, t.Neutral.At) {
			return
		}
		if !n.Given {
			key := keys[side]
			if !both {
				key = "neutral"
			}
			v.err(at, object, fmt.Sprintf("how the neutral of %s is earthed is not said", t.Group.Text), "earth faults depend on it; it is not guessed", "write "+key+": solid, open, or an impedance such as 6.35 ohm")
			return
		}
		if real(n.V.Z) < 0 {
			v.err(n.At, object, n.Text+" has a negative resistance", "a neutral impedance is passive", "look at the sign")
		}
		open[side] = n.V.Open && (both || !v.earthedInCondition(name))
	}
	zig := func(side int) bool { return wound[side].Kind == 'Z' && !open[side] }
	delta := func(side int) bool { return wound[side].Kind == 'Y' && !open[side] && wound[1-side].Kind == 'D' }
	through := wound[0].Kind == 'Y' && wound[1].Kind == 'Y' && !open[0] && !open[1]
	path := zig(0) || zig(1) || delta(0) || delta(1) || through
	switch {
	case path && !t.ZeroSequence.Given && !there(t.ZeroSequence.At):
		v.err(at, object, "zero-sequence is not given", fmt.Sprintf("with its neutral earthed, %s carries zero sequence, and its impedance sets the earth-fault current", t.Group.Text), "write zero-sequence: from the test sheet; for Dyn it is often 0.85 to 1.0 of the impedance ("+commonPractice+"), and then say that it is assumed")
	case !path && t.ZeroSequence.Given:
		v.warn(t.ZeroSequence.At, object, "zero-sequence has no effect here", fmt.Sprintf("%s with these neutrals passes no zero sequence", t.Group.Text), "if a neutral is earthed, say so; a YNy unit with a three-limb core has 'zero-sequence magnetising'")
	}
	if path && t.ZeroSequence.Given && t.Impedance.Given && !zig(0) && !zig(1) && t.Rating.Given {
		r := t.ZeroSequence.V.Fraction / baseOf(t.ZeroSequence.V, t) / (t.Impedance.V.Fraction / baseOf(t.Impedance.V, t))
		if r < 0.5 || r > 1.5 {
			v.warn(t.ZeroSequence.At, object, fmt.Sprintf("zero-sequence is %s times the positive-sequence impedance", number(r)), "with a delta it is about 0.8 to 1.0 times ("+commonPractice+")", "look at the base")
		}
	}
}

// earthedInCondition says whether some condition earths the neutral of a
// transformer that has one.
func (v *validator) earthedInCondition(name string) bool {
	earths := func(d *Difference) bool {
		if d.Neutrals == nil {
			return false
		}
		for i, n := range d.Neutrals.Names {
			if x := d.Neutrals.Values[i]; n == name && x.Given && !x.V.Open {
				return true
			}
		}
		return false
	}
	for i := range v.doc.Conditions.Entries {
		if earths(&v.doc.Conditions.Entries[i].Item) {
			return true
		}
	}
	for i := range v.doc.Axes.Entries {
		states := v.doc.Axes.Entries[i].Item.Entries
		for j := range states {
			if earths(&states[j].Item) {
				return true
			}
		}
	}
	return false
}

func (v *validator) earthingTransformers() {
	for i := range v.doc.EarthingTransformers.Entries {
		e := &v.doc.EarthingTransformers.Entries[i]
		t := &e.Item
		object := "earthing transformer " + strconv.Quote(e.Name)
		switch {
		case t.Z0.Given && t.NeutralCurrent.Given:
			v.err(t.NeutralCurrent.At, object, "both z0 and neutral current are given", "two statements of one thing may differ", "leave one of them")
		case !t.Z0.Given && !t.NeutralCurrent.Given && !there(t.Z0.At, t.NeutralCurrent.At):
			v.err(e.NameAt, object, "neither z0 nor neutral current is given", "its zero-sequence impedance is not known without", "write z0: j59.8 ohm, or neutral current: 400 A")
		case t.NeutralCurrent.Given && t.NeutralCurrent.V <= 0:
			v.err(t.NeutralCurrent.At, object, "a neutral current of "+t.NeutralCurrent.Text, "it must be above zero", "")
		case t.Z0.Given && (real(t.Z0.V) < 0 || imag(t.Z0.V) <= 0):
			v.err(t.Z0.At, object, "z0 "+t.Z0.Text+" is not possible", "a winding has resistance not below zero and reactance above zero", "")
		}
		v.xr(t.XR, object)
		if t.XR.Given && t.Z0.Given {
			v.warn(t.XR.At, object, "x/r has no effect beside z0", "z0 has its own resistance and reactance", "take out x/r")
		}
		if b := v.bus(t.At); b != nil && b.phases()&threePhases != threePhases {
			v.err(t.At.At, object, fmt.Sprintf("bus %q has the phases %s only", t.At.V, v.names(b.phases())), "an earthing transformer is three-phase", "")
		}
	}
}
