package duty

import (
	"fmt"
	"math"
	"strings"

	"feederwright/network"
	"feederwright/study"
)

// A factors holds what multiplies the impedances of plant, by kind and name.
type factors struct {
	by      map[network.Part]float64 // Of is "" for all but the neutral
	missing map[string]string        // by machine: the datum that was taken on the safe side
	steps   map[string]string        // by name: the factor in words
}

func all(kind network.Kind, name string) network.Part { return network.Part{Kind: kind, Name: name} }

// of is the factor of a part.
func (f *factors) of(p network.Part) float64 {
	if p.Of == network.OfNeutral {
		return 1
	}
	if k, ok := f.by[p]; ok {
		return k
	}
	p.Of = ""
	if k, ok := f.by[p]; ok {
		return k
	}
	return 1
}

// xOf is the reactance over rated values that belongs to a percentage: of its
// own base to a rating (0: the same), by X/R or load loss.
func xOf(fraction, base, rating, xr, losses float64) float64 {
	if rating > 0 && base > 0 {
		fraction *= rating / base
	} else {
		rating = base
	}
	if xr > 0 {
		return fraction * xr / math.Hypot(1, xr)
	}
	r := losses / base * rating / base
	return math.Sqrt(max(0, fraction*fraction-r*r))
}

func transformerX(t *study.Transformer) float64 {
	rating := 0.0
	if len(t.Rating.V) > 0 {
		rating = t.Rating.V[0]
	}
	base := t.Impedance.V.BaseVA
	if base == 0 {
		base = rating
	}
	return xOf(t.Impedance.V.Fraction, base, rating, float64(t.XR.V), float64(t.Losses.V))
}

func (c *Case) nominal(bus study.Ref) float64 {
	if b := c.doc.Buses.Find(string(bus)); b != nil {
		return float64(b.Item.Voltage.V)
	}
	return 0
}

// largest is the voltage factor for the largest current, as the correction
// factors have it, of a bus.
func (c *Case) largest(bus study.Ref) float64 {
	m := c.Method
	m.Smallest = false
	highest := 0.0
	if b := c.doc.Buses.Find(string(bus)); b != nil {
		highest = float64(b.Item.Highest.V)
	}
	return m.Factor(c.nominal(bus), highest)
}

// byParts marks, behind the name of a unit's generator, the set of networks for
// what flows on one side of a fault inside of the unit.
const byParts = "\x00parts"

// correction gives the factors of IEC 60909-0 for faults outside of all
// power-station units, or inside of one.
//
// The smallest currents go without: the impedances then are as on the
// nameplates, which for usual data gives the smaller current.
func (c *Case) correction(inside string) *factors {
	f := &factors{by: make(map[network.Part]float64), missing: make(map[string]string), steps: make(map[string]string)}
	inside, parts := strings.CutSuffix(inside, byParts)
	if c.Method.Smallest {
		return f
	}
	lower := func(a, b study.Ref) study.Ref {
		if c.nominal(b) <= c.nominal(a) {
			return b
		}
		return a
	}
	kt := func(part network.Part, at study.Ref, x float64) {
		k := KT(c.largest(at), x)
		f.by[part] = k
		f.steps[part.Name+string(part.Of)] = fmt.Sprintf("0.95 × %.2f / (1 + 0.6 × %.5f) = %.6f", c.largest(at), x, k)
	}
	units := make(map[string]*study.Entry[study.Transformer]) // by generator
	for i := range c.doc.Transformers.Entries {
		e := &c.doc.Transformers.Entries[i]
		if e.Item.UnitOf.Given {
			units[string(e.Item.UnitOf.V)] = e
			continue
		}
		kt(all(network.Transformer, e.Name), lower(e.Item.From.V, e.Item.To.V), transformerX(&e.Item))
	}
	for i := range c.doc.ThreeWinding.Entries {
		e := &c.doc.ThreeWinding.Entries[i]
		t := &e.Item
		ends := [3]study.Ref{t.First.V, t.Second.V, t.Third.V}
		for k, of := range []network.PartOf{network.OfPair12, network.OfPair13, network.OfPair23} {
			p := []study.Value[pct]{t.Z12, t.Z13, t.Z23}[k]
			xr := []study.Value[num]{t.XR12, t.XR13, t.XR23}[k]
			if !xr.Given {
				xr = t.XR
			}
			a, b := []int{0, 0, 1}[k], []int{1, 2, 2}[k]
			at := ends[a]
			if ends[b] != "" {
				at = lower(ends[a], ends[b])
			}
			x := p.V.Fraction * float64(xr.V) / math.Hypot(1, float64(xr.V))
			kt(network.Part{Kind: network.ThreeWindingTransformer, Name: e.Name, Of: of}, at, x)
			zero := []network.PartOf{network.OfZero12, network.OfZero13, network.OfZero23}[k]
			f.by[network.Part{Kind: network.ThreeWindingTransformer, Name: e.Name, Of: zero}] = KT(c.largest(at), x)
		}
	}
	for i := range c.doc.SinglePhase.Entries {
		e := &c.doc.SinglePhase.Entries[i]
		rating := 0.0
		if len(e.Item.Rating.V) > 0 {
			rating = e.Item.Rating.V[0]
		}
		base := e.Item.Impedance.V.BaseVA
		if base == 0 {
			base = rating
		}
		if b := c.doc.Banks.Find(string(e.Item.Bank.V)); b != nil {
			kt(all(network.Bank, e.Name), lower(b.Item.From.V, b.Item.To.V),
				xOf(e.Item.Impedance.V.Fraction, base, rating, float64(e.Item.XR.V), float64(e.Item.Losses.V)))
		}
	}
	for i := range c.doc.SynchronousMachines.Entries {
		e := &c.doc.SynchronousMachines.Entries[i]
		m := &e.Item
		pf := m.PF.V.Value
		if !m.PF.Given {
			pf = 0 // the smallest impedance that the formula gives
			f.missing[e.Name] = "rated power factor of synchronous machine " + e.Name
		}
		un, urg := c.nominal(m.At.V), float64(m.Voltage.V)
		if !m.Voltage.Given {
			urg = un
		}
		pg, xd := float64(m.VoltageRange.V), float64(m.Subtransient.V)
		part := all(network.SynchronousMachine, e.Name)
		t := units[e.Name]
		if t == nil {
			cm := c.largest(m.At.V)
			f.by[part] = KG(un, urg, pg, cm, xd, pf)
			f.steps[e.Name] = fmt.Sprintf("%.4g / (%.4g × (1 + %.4g)) × %.2f / (1 + %.4g × %.4f) = %.6f", un, urg, pg, cm, xd, sine(pf), f.by[part])
			continue
		}
		lv, hv, q := t.Item.Voltages.V.To, t.Item.Voltages.V.From, t.Item.From.V
		if t.Item.From.V == m.At.V {
			lv, hv, q = hv, lv, t.Item.To.V
		}
		xt, cm := transformerX(&t.Item), c.largest(q)
		onLoad := OnLoadTaps(&t.Item) != ""
		tp := all(network.Transformer, t.Name)
		switch {
		case inside == e.Name:
			f.by[part], f.by[tp] = Inside(onLoad, pg, c.largest(m.At.V), xd, xt, pf)
			if parts {
				f.by[tp] = 1
			}
			f.steps[e.Name] = fmt.Sprintf("inside the unit: K_G = %.6f, K_T = %.6f", f.by[part], f.by[tp])
		case onLoad:
			f.by[part] = KS(c.nominal(q), urg, lv, hv, cm, xd, xt, pf)
			f.by[tp] = f.by[part]
			f.steps[e.Name] = fmt.Sprintf("(%.4g/%.4g)² × (%.4g/%.4g)² × %.2f / (1 + |%.4g - %.5f| × %.4f) = %.6f", c.nominal(q), urg, lv, hv, cm, xd, xt, sine(pf), f.by[part])
		default:
			pt := float64(t.Item.FromTap.V)
			f.by[part] = KSO(c.nominal(q), urg, pg, lv, hv, pt, cm, xd, pf)
			f.by[tp] = f.by[part]
			f.steps[e.Name] = fmt.Sprintf("%.4g/(%.4g × (1 + %.4g)) × %.4g/%.4g × (1 + %.4g) × %.2f / (1 + %.4g × %.4f) = %.6f", c.nominal(q), urg, pg, lv, hv, pt, cm, xd, sine(pf), f.by[part])
		}
	}
	return f
}

// multipliers gives those of IEEE for the first-cycle or the interrupting
// network; a machine whose factor is 0 is left out.
func (c *Case) multipliers(later bool) *factors {
	f := &factors{by: make(map[network.Part]float64), missing: make(map[string]string), steps: make(map[string]string)}
	set := func(kind network.Kind, name string, class MachineClass, scale float64) {
		first, interrupting := class.Multipliers()
		k := first
		if later {
			k = interrupting
		}
		f.by[all(kind, name)] = k * scale
		f.steps[name] = fmt.Sprintf("%g × X", k)
	}
	for i := range c.doc.SynchronousMachines.Entries {
		e := &c.doc.SynchronousMachines.Entries[i]
		switch e.Item.Build.V {
		case "motor":
			set(network.SynchronousMachine, e.Name, SynchronousMo, 1)
		case "hydro-without-damper":
			if !e.Item.Transient.Given {
				f.missing[e.Name] = "transient reactance of synchronous machine " + e.Name
				set(network.SynchronousMachine, e.Name, HydroBare, 1)
				break
			}
			set(network.SynchronousMachine, e.Name, HydroBare, float64(e.Item.Transient.V)/float64(e.Item.Subtransient.V))
		default:
			set(network.SynchronousMachine, e.Name, Generator, 1)
		}
	}
	for i := range c.doc.InductionMachines.Entries {
		e := &c.doc.InductionMachines.Entries[i]
		power := float64(e.Item.Power.V)
		if !e.Item.Power.Given {
			power = float64(e.Item.Rating.V) // somewhat more than its output: the safe side
		}
		class := ClassOfMotor(power, e.Item.PolePairs.V, c.Method.Frequency)
		if hp := power / Horsepower; !e.Item.PolePairs.Given && hp > 250 && hp <= 1000 {
			f.missing[e.Name] = "pole pairs of induction machine " + e.Name
		}
		set(network.InductionMachine, e.Name, class, 1)
	}
	return f
}
