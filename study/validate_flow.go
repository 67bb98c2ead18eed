package study

import (
	"fmt"
	"math"
	"strconv"

	"feederwright/quantity"
)

// service checks what only states of service use.
func (v *validator) service() {
	for i := range v.doc.Regulators.Entries {
		e := &v.doc.Regulators.Entries[i]
		if r := &e.Item; r.Control != nil {
			v.tapControl(r.Control, "regulator "+strconv.Quote(e.Name)+", control", e.NameAt, r.Taps, r.To, r.Connection.V == "wye")
		}
	}
	for i := range v.doc.Transformers.Entries {
		e := &v.doc.Transformers.Entries[i]
		if t := &e.Item; t.Control != nil {
			taps := t.ToTaps
			if !taps.Given {
				taps = t.FromTaps
			}
			v.tapControl(t.Control, "transformer "+strconv.Quote(e.Name)+", control", e.NameAt, taps, t.To, false)
		}
	}
	for i := range v.doc.Loads.Entries {
		e := &v.doc.Loads.Entries[i]
		if l := e.Item.Light; l.Given && (l.V < 0 || l.V > 1.5) {
			v.err(l.At, "load "+strconv.Quote(e.Name)+", light", l.Text+" of the load is no light load", "it is the power at light load in percent of power", "write it as 35 %")
		}
	}
	for i := range v.doc.InductionMachines.Entries {
		e := &v.doc.InductionMachines.Entries[i]
		if l := e.Item.Load; l.Given && (l.V < 0 || l.V > 2) {
			v.err(l.At, "induction machine "+strconv.Quote(e.Name)+", load", l.Text+" is no loading of a machine", "it is in percent of rated input", "write it as 75 %")
		}
	}
	for i := range v.doc.SynchronousMachines.Entries {
		e := &v.doc.SynchronousMachines.Entries[i]
		if o := e.Item.Output; o.Given && e.Item.Rating.Given && float64(o.V) > 1.2*float64(e.Item.Rating.V) {
			v.err(o.At, "synchronous machine "+strconv.Quote(e.Name)+", output", o.Text+" is more than its rating "+e.Item.Rating.Text, "output and rating are those of one machine", "mend one of them")
		}
	}
	v.limits()
}

// tapControl checks one control.
func (v *validator) tapControl(c *TapControl, object string, at Mark, taps Value[quantity.TapRange], own Value[Ref], toNeutral bool) {
	if !taps.Given {
		if !there(taps.At) {
			v.err(at, object, "the tap range is not given", "a control steps within a range", "write taps: +-10 % in 32 steps; of a transformer from taps or to taps")
		}
		return
	}
	ref := own
	if c.Bus.Given {
		ref = c.Bus
	}
	b := v.bus(ref)
	if c.Measures.Given && b != nil {
		phases := 0
		for k, x := range c.Measures.V.Coefficient {
			if x == 0 {
				continue
			}
			if k < 3 {
				phases++
			}
			if !b.phases().HasConductor(k) {
				v.err(c.Measures.At, object, fmt.Sprintf("bus %q (%s) does not have %s, which the control measures", ref.V, v.names(b.phases()), v.names(1<<k)), "", "measure what the bus has")
			}
		}
		toNeutral = phases == 1
	}
	if c.Voltage.Given && c.Ratio.Given && b != nil && b.Voltage.Given {
		want := float64(b.Voltage.V)
		if toNeutral {
			want /= math.Sqrt(3)
		}
		// A control holds service voltage: 10 % round nominal (EN 50160; ANSI C84.1 [from
		// memory]); and a line-drop compensation adds to it at the regulator.
		const far = 0.15
		primary := float64(c.Voltage.V) * c.Ratio.V.Primary / c.Ratio.V.Secondary
		if math.Abs(primary/want-1) > far {
			v.warn(c.Voltage.At, object, fmt.Sprintf("%s over %s holds %s, and the nominal voltage measured is %s", c.Voltage.Text, c.Ratio.Text, kv(roundTo(primary, 4)), kv(roundTo(want, 4))),
				"a control holds a voltage near nominal", "look at the ratio, and at what it measures")
		}
	}
	if c.Band.Given && c.Voltage.Given {
		if step := taps.V.Step() * float64(c.Voltage.V); float64(c.Band.V) < step {
			v.warn(c.Band.At, object, fmt.Sprintf("a band of %s is narrower than one step, %s V", c.Band.Text, number(step)), "it hunts: no position may lie inside", "a band of two steps is usual (common practice, no source)")
		}
	}
	drop := c.DropR.Given || c.DropX.Given
	switch {
	case drop && !c.DropCurrent.Given && !there(c.DropCurrent.At):
		v.err(place(c.DropR.At, c.DropX.At), object, "the line-drop compensation has no current", "its volts are those at the primary rating of its current transformer", "write line-drop at: 200 A")
	case drop && c.DropCurrent.Given && c.DropCurrent.V <= 0:
		v.err(c.DropCurrent.At, object, c.DropCurrent.Text+" is no rated current", "", "write it as 200 A")
	case drop && c.Bus.Given && own.Given && c.Bus.V != own.V:
		v.warn(c.Bus.At, object, "it measures at another bus, and compensates line drop besides", "compensation stands for a measurement further out", "leave out one of them")
	}
}

// limits checks that the limits of service are in order.
func (v *validator) limits() {
	l := v.doc.Limits
	if l == nil {
		return
	}
	or := func(x Value[quantity.Fraction], usual float64) float64 {
		if x.Given {
			return float64(x.V)
		}
		return usual
	}
	order := func(x, y Value[quantity.Fraction], usualX, usualY float64, keyX, keyY string) {
		if (x.Given || y.Given) && or(x, usualX) > or(y, usualY) {
			v.err(place(x.At, y.At), "service limits", fmt.Sprintf("%s (%s) is above %s (%s)", keyX, percentText(or(x, usualX)), keyY, percentText(or(y, usualY))), "limits and targets are in order; those not written have their defaults", "mend one of them, or state both")
		}
	}
	order(l.VoltageLow, l.VoltageLowTarget, 0.9, 0.95, "voltage low", "voltage low target")
	order(l.VoltageLowTarget, l.VoltageHighTarget, 0.95, 1.05, "voltage low target", "voltage high target")
	order(l.VoltageHighTarget, l.VoltageHigh, 1.05, 1.1, "voltage high target", "voltage high")
	order(l.LoadingTarget, l.Loading, 0.9, 1, "loading target", "loading")
}
