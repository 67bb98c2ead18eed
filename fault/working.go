package fault

import (
	"fmt"
	"math"
	"math/cmplx"

	"feederwright/network"
	"feederwright/quantity"
	"feederwright/study"
	"feederwright/working"
)

// Digits in workings: enough to follow on a calculator, fewer than the data's
// doubt would allow to matter.
const digits = 5

// agreement is how near the impedances added up along the way to the source
// must come to the network's own for the way to be the whole story.
const agreement = 1e-3

// Working derives a result step by step: the impedances on the way from the
// source, their sum beside the network's solution, and the fault's formula.
func (c *Case) Working(res *Result) ([]working.Step, error) {
	t, err := c.At(res.Place)
	if err != nil {
		return nil, err
	}
	var steps []working.Step
	z0, z1, z2, balanced, three := c.Sequence(&t)
	floats := false
	for i := range res.Phases.Conductors() {
		floats = floats || t.Part[i] >= 0
	}
	v := complex128(0)
	for i, k := range t.Phases.Conductors() {
		if res.Kind.Phases.HasConductor(k) {
			v = t.V[i]
			break
		}
	}
	vln := cmplx.Abs(v)
	before := working.Step{Symbol: "V", Meaning: "line-to-earth voltage at the place before the fault, at the sources' stated voltages",
		Formula: "network solution without the fault", Result: working.Number(vln, digits), Unit: "V"}
	balancedDrive := true
	if len(res.Sources) > 0 {
		// The inverters' currents in the fault, taken as given, move the voltage that drives it.
		t.V = res.driving
		for i, k := range t.Phases.Conductors() {
			if res.Kind.Phases.HasConductor(k) {
				v = t.V[i]
				break
			}
		}
		vln = cmplx.Abs(v)
		before.Meaning = "line-to-earth voltage that drives the fault: at the place, without the fault, with the inverters giving what they give in it"
		before.Formula = fmt.Sprintf("network solution, inverters iterated %d times", res.Rounds)
		before.Result = working.Number(vln, digits)
		if three {
			d0, d1, d2 := c.Net.Rotation.Sequence([3]complex128(t.V[:3]))
			balancedDrive = cmplx.Abs(d0)+cmplx.Abs(d2) <= 1e-6*cmplx.Abs(d1)
		}
	}
	steps = append(steps, before)
	way, sum1, sum0, whole := c.way(res.Place)
	steps = append(steps, way...)
	if three && balanced {
		steps = append(steps, compare("Z1", "positive-sequence impedance from the place", sum1, z1, whole && sum1 != 0))
		if res.Kind.Type != ThreePhase && res.Kind.Type != ThreePhaseEarth {
			steps = append(steps, working.Step{Symbol: "Z2", Meaning: "negative-sequence impedance from the place",
				Formula: "network solution", Result: working.Complex(z2, digits), Unit: "ohm"})
		}
		if res.Kind.Type.Earth() && res.Kind.Type != ThreePhaseEarth && !floats {
			steps = append(steps, compare("Z0", "zero-sequence impedance from the place", sum0, z0, whole && sum0 != 0))
		}
	}
	steps = append(steps, c.formula(res, &t, vln, z0, z1, z2, three && balanced && balancedDrive, floats)...)
	return steps, nil
}

func compare(symbol, meaning string, sum, solved complex128, whole bool) working.Step {
	s := working.Step{Symbol: symbol, Meaning: meaning, Formula: "network solution", Result: working.Complex(solved, digits), Unit: "ohm"}
	switch {
	case whole && cmplx.Abs(sum-solved) <= agreement*cmplx.Abs(solved):
		s.Formula = "sum of the above"
		s.Values = working.Complex(sum, digits)
		s.Basis = "agrees with the network solution"
		if working.Complex(sum, digits) == working.Complex(solved, digits) {
			s.Values = ""
		}
	default:
		s.Basis = "other paths in parallel, or coupling between phases: the way above is not the whole network"
	}
	return s
}

// formula is the last step: the current from the impedances.
func (c *Case) formula(res *Result, t *Thevenin, vln float64, z0, z1, z2 complex128, balanced, floats bool) []working.Step {
	r := res.Resistance
	volt := working.Number(vln, digits) + " V"
	ohm := func(z complex128) string { return "|" + working.Complex(z, digits) + "| ohm" }
	ampere := func(x float64) string { return working.Number(x, digits) }
	rr := complex(r, 0)
	plus := func(formula string, times int) string {
		switch {
		case r == 0:
			return formula
		case times == 1:
			return formula + " + R"
		}
		return fmt.Sprintf("%s + %d·R", formula, times)
	}
	const basis = "symmetrical components"
	if floats && res.Kind.Type == LineEarth {
		return []working.Step{{Symbol: "I", Meaning: "fault current", Formula: "0", Result: "0", Unit: "A",
			Basis: "no path to earth in this part, and no charging given: the current has no way back"}}
	}
	if !balanced || floats && res.Kind.Type.Earth() || res.Kind.Type == LineNeutral {
		switch res.Kind.Type {
		case LineEarth, LineLine, LineNeutral:
			symbol, drive := "Zp", vln
			meaning := "driving-point impedance of the phase at the place"
			if res.Kind.Type != LineEarth {
				symbol, meaning = "Zpq", "driving-point impedance between the two phases"
				if res.Kind.Type == LineNeutral {
					symbol, meaning = "Zpn", "driving-point impedance between phase and neutral"
				}
				list := res.Kind.Conductors().Conductors()
				var at [4]int
				for i, k := range t.Phases.Conductors() {
					at[k] = i
				}
				drive = cmplx.Abs(t.V[at[list[0]]] - t.V[at[list[1]]])
			}
			return []working.Step{
				{Symbol: symbol, Meaning: meaning, Formula: "network solution", Result: working.Complex(res.Loop, digits), Unit: "ohm"},
				{Symbol: "I", Meaning: "fault current", Formula: "V / |" + plus(symbol, 1) + "|",
					Values: working.Number(drive, digits) + " V / " + ohm(res.Loop+rr), Result: ampere(res.Largest()), Unit: "A", Basis: "phase coordinates"},
			}
		}
		return []working.Step{{Symbol: "I", Meaning: "largest phase current of the fault", Formula: "solution of the fault's legs with the driving-point matrix of the place",
			Result: ampere(res.Largest()), Unit: "A", Basis: "phase coordinates"}}
	}
	switch res.Kind.Type {
	case ThreePhase, ThreePhaseEarth:
		return []working.Step{{Symbol: "I", Meaning: "three-phase fault current", Formula: "V / |" + plus("Z1", 1) + "|",
			Values: volt + " / " + ohm(z1+rr), Result: ampere(res.Largest()), Unit: "A", Basis: basis}}
	case LineLine:
		return []working.Step{{Symbol: "I", Meaning: "line-to-line fault current", Formula: "√3·V / |" + plus("Z1 + Z2", 1) + "|",
			Values: "√3 × " + volt + " / " + ohm(z1+z2+rr), Result: ampere(res.Largest()), Unit: "A", Basis: basis}}
	case LineEarth:
		return []working.Step{{Symbol: "I", Meaning: "line-to-earth fault current; 3·I0 at the place is the same", Formula: "3·V / |" + plus("Z1 + Z2 + Z0", 3) + "|",
			Values: "3 × " + volt + " / " + ohm(z1+z2+z0+3*rr), Result: ampere(res.Largest()), Unit: "A", Basis: basis}}
	}
	ze := z0 + 3*rr
	den := z1*z2 + (z1+z2)*ze
	return []working.Step{
		{Symbol: "D", Meaning: "common denominator", Formula: "Z1·Z2 + (Z1 + Z2)·(" + plus("Z0", 3) + ")", Result: working.Complex(den, digits), Unit: "ohm²", Basis: basis},
		{Symbol: "3I0", Meaning: "earth current of the fault", Formula: "3·V·|Z2| / |D|", Values: "3 × " + volt + " × " + ohm(z2) + " / |D|",
			Result: ampere(cmplx.Abs(res.Earth)), Unit: "A", Basis: basis},
		{Symbol: "I", Meaning: "larger of the two phase currents", Formula: "√3·V·|Z0 + 3·R − a·Z2| / |D|, or with a²",
			Result: ampere(res.Largest()), Unit: "A", Basis: basis},
	}
}

// way follows the shortest connection from a place to an infeed and writes
// each impedance on it, as seen at the place: what lies behind a transformer
// is referred by the square of its turns ratio. It returns the sums of
// positive and zero sequence; whole is false where a piece has no sequence
// form.
func (c *Case) way(p Place) (steps []working.Step, sum1, sum0 complex128, whole bool) {
	n := c.Net
	start := p.Bus
	if p.Line >= 0 {
		start = -1
	}
	type hop struct {
		bus, element int // how the bus was reached; −1: over a switch
		before       int // bus before it, −1 at the start
	}
	reached := map[int]hop{}
	var queue []int
	visit := func(bus int, h hop) {
		if _, ok := reached[bus]; !ok {
			reached[bus] = h
			queue = append(queue, bus)
		}
	}
	if start >= 0 {
		visit(start, hop{start, -1, -1})
	} else {
		t := n.Elements[p.Line].Terminals
		visit(t[0].Bus, hop{t[0].Bus, p.Line, -1})
		visit(t[1].Bus, hop{t[1].Bus, p.Line, -1})
	}
	source, infeed := -1, -1
	for len(queue) > 0 && source < 0 {
		bus := queue[0]
		queue = queue[1:]
		n.Connections(bus, func(element, other int) {
			if element >= 0 && n.Elements[element].Kind == network.Infeed {
				if source < 0 {
					source, infeed = bus, element
				}
				return
			}
			if other != bus {
				visit(other, hop{other, element, bus})
			}
		})
	}
	if source < 0 {
		return nil, 0, 0, false
	}
	// The way from the place to the source.
	var path []hop
	for b := source; b >= 0; b = reached[b].before {
		path = append([]hop{reached[b]}, path...)
	}
	whole = true
	zeroWhole := true
	ratio := complex(1, 0) // from where we are to the place, squared
	zeroDone := false
	omega := 2 * math.Pi * float64(c.Doc.Frequency.V)
	var how []working.Step // of line types that say how their lines are built
	derived := map[string]bool{}
	add := func(symbol, meaning, formula, values, basis string, z complex128, zero bool) {
		if zero {
			sum0 += z
		} else {
			sum1 += z
		}
		steps = append(steps, working.Step{Symbol: symbol, Meaning: meaning, Formula: formula, Values: values,
			Result: working.Complex(z, digits), Unit: "ohm", Basis: basis})
	}
	for i, h := range path {
		if h.element < 0 {
			continue
		}
		e := &n.Elements[h.element]
		switch e.Kind {
		case network.Line:
			entry := c.Doc.Lines.Find(e.Name)
			d, err := network.LineOf(c.Doc, entry, e.Terminals[0].Phases, omega, c.Model.State.Hot)
			if err != nil || !d.Sequence && !d.Single && !d.Averaged {
				whole = false
				continue
			}
			share, part := complex(1, 0), ""
			if i == 0 && p.Line == h.element {
				share = complex(p.Fraction, 0)
				if e.Terminals[1].Bus == h.bus {
					share = 1 - share
				}
				part = fmt.Sprintf("%s × ", working.Number(real(share), 4))
			}
			constants := &entry.Item.Electrical
			if lt := c.Doc.LineTypes.Find(d.TypeName); lt != nil && !constants.Z1.Given && !constants.Z.Given {
				constants = &lt.Item.Electrical
			}
			length := ""
			if entry.Item.Length.Given {
				length = " × " + entry.Item.Length.Text
			}
			basis := entry.Origin.Source
			if lt := c.Doc.LineTypes.Find(d.TypeName); lt != nil {
				basis = "type " + d.TypeName
				if lt.Origin.Source != "" {
					basis += ": " + lt.Origin.Source
				}
			}
			if d.Built != nil {
				if !d.Averaged {
					whole = false
					continue
				}
				const formula = "(mean of diagonal − mean of others) × length"
				values := working.Complex(d.Z1/complex(d.Length, 0)*1e3, digits) + " ohm/km" + length
				add("Z1 "+e.Name, "section "+e.Name+", as if transposed", part+formula, values, basis+", from how it is built", d.Z1*share*ratio, false)
				if !zeroDone {
					values = working.Complex(d.Z0/complex(d.Length, 0)*1e3, digits) + " ohm/km" + length
					add("Z0 "+e.Name, "the same, zero sequence", part+"(mean of diagonal + 2 × mean of others) × length", values, basis+", from how it is built", d.Z0*share*ratio, true)
				}
				if !derived[d.TypeName] {
					derived[d.TypeName] = true
					if more, err := d.Built.Working(); err == nil {
						how = append(how, working.Step{Symbol: "type " + d.TypeName, Meaning: "how its matrix comes about", Formula: "the steps that follow", Result: d.Phases.Letters(), Basis: d.Built.Method.String()})
						how = append(how, more...)
					}
				}
				continue
			}
			z1, z0, z := constants.Z1, constants.Z0, constants.Z
			hot := ""
			if d.Hot {
				z1, z0, z, hot = constants.Z1Hot, constants.Z0Hot, constants.ZHot, " hot"
			}
			if d.Single {
				whole = false // a loop impedance is not a sequence impedance
				add("z "+e.Name, "loop impedance of the single-phase section", part+"z"+hot+" × length", z.Text+length, basis, d.Z1*share*ratio, false)
				continue
			}
			add("Z1 "+e.Name, "section "+e.Name, part+"z1"+hot+" × length", z1.Text+length, basis, d.Z1*share*ratio, false)
			if !zeroDone {
				add("Z0 "+e.Name, "the same, zero sequence", part+"z0"+hot+" × length", z0.Text+length, basis, d.Z0*share*ratio, true)
			}
		case network.Transformer:
			entry := c.Doc.Transformers.Find(e.Name)
			d, err := network.TransformerOf(entry, c.Model.State)
			if err != nil {
				whole = false
				continue
			}
			uk := entry.Item.Impedance.V
			on := uk.BaseVA
			if on == 0 && len(entry.Item.Rating.V) > 0 {
				on = entry.Item.Rating.V[0]
			}
			side, turns, u := 1, d.VFrom/d.VTo, d.VTo // entered from its second winding
			if e.Terminals[0].Bus == h.before || i > 0 && c.Net.Elements[h.element].Terminals[1].Bus == h.bus {
				side, turns, u = 0, d.VTo/d.VFrom, d.VFrom
			}
			scale := complex(u*u/(d.VTo*d.VTo), 0)
			add("Z1 "+e.Name, fmt.Sprintf("transformer %s, seen at %s", e.Name, quantity.Voltage(u)), "uk · U² / S, split by X/R",
				fmt.Sprintf("%s × (%s)² / %s", quantity.Fraction(uk.Fraction), quantity.Voltage(u), quantity.ApparentPower(on)),
				entry.Origin.Source, d.Z1*scale*ratio, false)
			if !zeroDone {
				zero, values, passes := zeroOf(d, side)
				if zero != 0 {
					formula := "u0 · U² / S, split by X/R"
					if u0 := entry.Item.ZeroSequence.V; values == "" {
						zeroOn := u0.BaseVA
						if zeroOn == 0 {
							zeroOn = on
						}
						values = fmt.Sprintf("%s × (%s)² / %s", quantity.Fraction(u0.Fraction), quantity.Voltage(u), quantity.ApparentPower(zeroOn))
					} else {
						formula += ", + 3·Zn"
					}
					add("Z0 "+e.Name, "its zero sequence at this side", formula, values, entry.Origin.Source, zero*scale*ratio, true)
				}
				zeroDone = !passes
			}
			// Beyond the transformer, ohms count by the square of the ratio of the side nearer the place to the farther.
			ratio /= complex(turns*turns, 0)
		case network.Reactor:
			entry := c.Doc.Reactors.Find(e.Name)
			z := network.ReactorOf(&entry.Item, n.Buses[h.bus].Nominal)
			text := entry.Item.Z.Text
			if !entry.Item.Z.Given {
				text = entry.Item.Impedance.Text
			}
			add("Z1 "+e.Name, "reactor "+e.Name, "as given", text, entry.Origin.Source, z*ratio, false)
			if !zeroDone {
				add("Z0 "+e.Name, "the same, zero sequence", "as Z1, phases not coupled", "", entry.Origin.Source, z*ratio, true)
			}
		case network.ThreeWindingTransformer:
			entry := c.Doc.ThreeWinding.Find(e.Name)
			d, err := network.ThreeWindingOf(entry, c.Model.State)
			near, far := -1, -1 // windings towards the place and away from it
			for k, t := range e.Terminals {
				switch t.Bus {
				case h.bus:
					far = k
				case h.before:
					near = k
				}
			}
			if err != nil || near < 0 || far < 0 {
				return steps, sum1, sum0, false
			}
			pair := near + far - 1 // 1-2, 1-3, 2-3
			given := []study.Value[quantity.PercentOn]{entry.Item.Z12, entry.Item.Z13, entry.Item.Z23}[pair]
			seen := complex(d.V[near]*d.V[near]/(d.V[0]*d.V[0]), 0)
			add("Z1 "+e.Name, fmt.Sprintf("three-winding transformer %s between its windings %d and %d, seen at %s", e.Name, min(near, far)+1, max(near, far)+1, quantity.Voltage(d.V[near])),
				"uk · U² / S, split by X/R", given.Text, entry.Origin.Source, d.Z1[pair]*seen*ratio, false)
			if !zeroDone {
				// Its zero sequence is no chain: the third winding stands across the two.
				zeroDone, zeroWhole = true, false
			}
			turns := d.V[far] / d.V[near]
			ratio /= complex(turns*turns, 0)
		default: // banks and regulators have no sequence impedance of their own
			return steps, sum1, sum0, false
		}
	}
	e := c.Doc.Supply.Find(n.Elements[infeed].Name)
	word := c.Model.State.Infeed[e.Name]
	level := e.Item.Level(word)
	z, err := network.LevelOf(level, n.Buses[source].Nominal)
	if err != nil {
		return append(steps, how...), sum1, sum0, false
	}
	formula, values := "as given", ""
	if level.ThreePhase.Given {
		formula, values = "U / (√3·I)", fmt.Sprintf("%s / (√3 × %s)", quantity.Voltage(z.U), level.ThreePhase.Text)
		if level.ThreePhase.V.Ampere == 0 {
			formula, values = "U² / S", fmt.Sprintf("(%s)² / %s", quantity.Voltage(z.U), level.ThreePhase.Text)
		}
		if z.Factor != 1 {
			formula, values = "c · "+formula, working.Number(z.Factor, 3)+" × "+values
		}
		if ratio != 1 {
			formula, values = formula+" · n²", values+" × "+working.Number(real(ratio), digits)
		}
		formula += ", split by X/R = " + level.XR.Text
	}
	refer := ""
	if ratio != 1 {
		refer = "; n² is the square of the turns ratios on the way"
	}
	add("Z1 "+e.Name, fmt.Sprintf("infeed %s at its %s%s", e.Name, word, refer), formula, values, level.Source.V, z.Z1*ratio, false)
	if !zeroDone && !z.Open && !z.Unknown {
		add("Z0 "+e.Name, "infeed, zero sequence", "3·U / (√3·I_lg) − Z1 − Z2, or as given", "", level.Source.V, z.Z0*ratio, true)
	}
	if !zeroWhole {
		sum0 = 0
	}
	return append(steps, how...), sum1, sum0, whole
}

// zeroOf is the zero-sequence impedance that a transformer shows at one side,
// in ohm seen from its second winding, the values put in where its neutral has
// an impedance (in ohm of that side), and whether it passes zero sequence on.
func zeroOf(d network.TransformerData, side int) (z complex128, values string, passes bool) {
	w := [2]quantity.Winding{d.Group.From, d.Group.To}
	pt := [2]network.NeutralPoint{d.From, d.To}
	n2 := complex(d.VTo*d.VTo/(d.VFrom*d.VFrom), 0)
	refer := [2]complex128{n2, 1}
	other := 1 - side
	if !w[side].Neutral || !pt[side].Earthed {
		return 0, "", false
	}
	z = d.Z0 + 3*pt[side].Z*refer[side]
	if pt[side].Z != 0 {
		values = fmt.Sprintf("%s + 3 × (%s) ohm", working.Complex(d.Z0/refer[side], digits), working.Complex(pt[side].Z, digits))
	}
	if w[0].Kind == 'Y' && w[1].Kind == 'Y' {
		if !pt[other].Earthed {
			return 0, "", false
		}
		return z + 3*pt[other].Z*refer[other], values, true
	}
	return z, values, false
}
