package study

import (
	"fmt"
	"strconv"

	"feederwright/quantity"
)

// duties checks what only short-circuit duties use.
func (v *validator) duties() {
	if m := v.doc.Method; m != nil {
		if m.Edition.Given && m.Edition.V != 2001 && m.Edition.V != 2016 {
			v.err(m.Edition.At, "method", fmt.Sprintf("iec edition %d", m.Edition.V), "duties follow IEC 60909-0 of 2001 or of 2016", "write 2016, or 2001")
		}
		if t := float64(m.Tolerance.V); m.Tolerance.Given && t != 0.06 && t != 0.10 {
			v.err(m.Tolerance.At, "method", "a low-voltage tolerance of "+m.Tolerance.Text, "IEC 60909-0 has voltage factors for 6 % and 10 %", "write 6 % or 10 %")
		}
		if u := float64(m.DutyVoltage.V); m.DutyVoltage.Given && (u < 0.9 || u > 1.2) {
			v.warn(m.DutyVoltage.At, "method", "duties at "+m.DutyVoltage.Text+" of nominal voltage", "they are found at the highest operating voltage, 100 % to 110 % ("+commonPractice+")", "")
		}
		v.positive(m.FaultLasts, "method", "fault lasts")
	}
	for i := range v.doc.Buses.Entries {
		b := &v.doc.Buses.Entries[i]
		if u := b.Item.Highest; u.Given && b.Item.Voltage.Given && u.V < b.Item.Voltage.V {
			v.err(u.At, "bus "+strconv.Quote(b.Name), "a highest voltage of "+u.Text+", below the nominal "+b.Item.Voltage.Text, "the highest voltage for equipment is at least the nominal one", "look at the two")
		}
	}
	units := make(map[Ref]string)
	for i := range v.doc.Transformers.Entries {
		e := &v.doc.Transformers.Entries[i]
		object := "transformer " + strconv.Quote(e.Name)
		t := &e.Item
		v.positive(t.NeutralFor, object, "neutral current for")
		if !t.UnitOf.Given {
			continue
		}
		if g := v.doc.SynchronousMachines.Find(string(t.UnitOf.V)); g != nil && g.Item.At.Given && t.To.Given && t.From.Given && g.Item.At.V != t.To.V && g.Item.At.V != t.From.V {
			v.err(t.UnitOf.At, object, fmt.Sprintf("generator %q stands at bus %q", t.UnitOf.V, g.Item.At.V), "a unit transformer joins its generator's bus to the network", "let the transformer begin or end at that bus")
		}
		if other, taken := units[t.UnitOf.V]; taken {
			v.err(t.UnitOf.At, object, fmt.Sprintf("generator %q already has the unit transformer %q", t.UnitOf.V, other), "a power-station unit has one", "")
		}
		units[t.UnitOf.V] = e.Name
	}
	for i := range v.doc.InductionMachines.Entries {
		e := &v.doc.InductionMachines.Entries[i]
		if p := e.Item.PolePairs; p.Given && (p.V < 1 || p.V > 50) {
			v.err(p.At, "induction machine "+strconv.Quote(e.Name), fmt.Sprintf("%d pole pairs", p.V), "a machine of 3000 or 3600 r/min has one pair, of 1500 or 1800 r/min two", "write pairs, not poles")
		}
		v.doublyFed(e)
	}
	for i := range v.doc.SynchronousMachines.Entries {
		e := &v.doc.SynchronousMachines.Entries[i]
		object := "synchronous machine " + strconv.Quote(e.Name)
		if p := e.Item.VoltageRange; p.Given && (p.V < 0 || p.V > 0.2) {
			v.err(p.At, object, "a voltage range of "+p.Text, "it is by how much the voltage is held above rated, some percent", "write it as 5 %")
		}
		if x := e.Item.Synchronous; x.Given && (x.V < 0.5 || x.V > 4) {
			v.warn(x.At, object, "a synchronous reactance of "+x.Text+" is unusual", "it lies between 80 % and 250 % ("+commonPractice+")", "look at the decimal point: percent, or per unit?")
		}
		if x := e.Item.Synchronous; x.Given && e.Item.Subtransient.Given && x.V < e.Item.Subtransient.V {
			v.err(x.At, object, fmt.Sprintf("synchronous %s is below subtransient %s", x.Text, e.Item.Subtransient.Text), "the reactance grows as the rotor's currents decay", "exchange the two")
		}
		if c := e.Item.Ceiling; c.Given && (c.V < 1 || c.V > 5) {
			v.err(c.At, object, "an excitation ceiling of "+c.Text, "it is the highest field voltage over that at rated load, 1.3 to 2 or somewhat more", "write the ratio, as 1.6")
		}
		if e.Item.Build.V == "hydro-without-damper" && !there(e.Item.Transient.At) {
			v.warn(e.Item.Build.At, object, "the transient reactance is not given", "IEEE duties of a machine without damper winding are of that", "write transient")
		}
	}
	for _, d := range []struct {
		kind  string
		table *Table[Breaker]
	}{{"breaker", &v.doc.Breakers}, {"recloser", &v.doc.Reclosers}} {
		for i := range d.table.Entries {
			e := &d.table.Entries[i]
			object := d.kind + " " + strconv.Quote(e.Name)
			b := &e.Item
			v.positive(b.ShortTimeFor, object, "short-time for")
			v.positive(b.DCTime, object, "dc time constant")
			v.testXR(b.TestXR, object)
			if k := b.RangeFactor; k.Given && (k.V < 1 || k.V > 4) {
				v.err(k.At, object, "a voltage range factor of "+k.Text, "K is the ratio of rated voltage to the lowest at which the current still rises, 1 to about 3", "")
			}
			if p := b.Derating; p.Given && (p.V < 0 || p.V > 0.5) {
				v.err(p.At, object, "a reclosing factor of "+p.Text, "it is some percent for each opening beyond two", "")
			}
			f := float64(v.doc.Frequency.V)
			if p := b.PartsIn; p.Given && f > 0 && (p.V.At(f) <= 0 || p.V.At(f) > 1) {
				v.err(p.At, object, "contacts part in "+p.Text, "contacts part some cycles after the start of the fault", "look at the unit: cycles, or ms?")
			}
		}
	}
	for i := range v.doc.Fuses.Entries {
		e := &v.doc.Fuses.Entries[i]
		v.testXR(e.Item.TestXR, "fuse "+strconv.Quote(e.Name))
	}
	for i := range v.doc.Fuses.Entries {
		e := &v.doc.Fuses.Entries[i]
		l := e.Item.Least
		if l.Given && (l.V <= 0 || e.Item.Interrupts.Given && l.V >= e.Item.Interrupts.V) {
			v.err(l.At, "fuse "+strconv.Quote(e.Name), "a smallest breaking current of "+l.Text, "it is above zero and below what the fuse interrupts at most", "look at the two")
		} else if l.Given && e.Item.Continuous.Given && l.V < e.Item.Continuous.V {
			v.err(l.At, "fuse "+strconv.Quote(e.Name), "a smallest breaking current of "+l.Text+", below its continuous "+e.Item.Continuous.Text, "below its rated current a fuse does not melt; the smallest that it breaks is some times that", "look at the two")
		}
	}
	for i := range v.doc.LineTypes.Entries {
		v.screen(&v.doc.LineTypes.Entries[i].Item.Electrical, "line type "+strconv.Quote(v.doc.LineTypes.Entries[i].Name))
	}
	for i := range v.doc.Lines.Entries {
		v.screen(&v.doc.Lines.Entries[i].Item.Electrical, "line "+strconv.Quote(v.doc.Lines.Entries[i].Name))
	}
	for i := range v.doc.EarthingConductors.Entries {
		e := &v.doc.EarthingConductors.Entries[i]
		object := "earthing conductor " + strconv.Quote(e.Name)
		v.heats(e.Item.Section, e.Item.From, e.Item.To, object)
		v.positive(e.Item.Lasts, object, "fault lasts")
		if p := e.Item.Share; p.Given && (p.V <= 0 || p.V > 1) {
			v.err(p.At, object, "a share of "+p.Text, "it is a part of the earth-fault current", "write it as 60 %")
		}
	}
	for i := range v.doc.Switches.Entries {
		e := &v.doc.Switches.Entries[i]
		v.positive(e.Item.ShortTimeFor, "switch "+strconv.Quote(e.Name), "short-time for")
	}
}

// doublyFed checks what only doubly-fed machines have.
func (v *validator) doublyFed(e *Entry[InductionMachine]) {
	m, object := &e.Item, "induction machine "+strconv.Quote(e.Name)
	if m.Converter.V != "doubly-fed" {
		for _, at := range []Mark{m.MostEver.At, m.PeakBy.At, m.Sustained.At} {
			if there(at) {
				v.err(at, object, "it is not doubly-fed", "largest current, peak factor and sustained current are those of doubly-fed machines", "write converter: doubly-fed, or leave this")
			}
		}
		return
	}
	if k := m.PeakBy; k.Given && (k.V < 1 || k.V > 2) {
		v.err(k.At, object, "a peak factor of "+k.Text, "κ lies between 1 and 2", "write it as 1.7")
	}
	if i := m.MostEver; i.Given && i.V <= 0 {
		v.err(i.At, object, "a largest current of "+i.Text, "it is a peak, some times the rated current", "")
	}
	if i := m.Sustained; i.Given && i.V < 0 {
		v.err(i.At, object, "a sustained current of "+i.Text, "it is an r.m.s. value", "")
	}
}

// screen checks what gives a screen's short-time current.
func (v *validator) screen(e *Electrical, object string) {
	given, missing, at := 0, "", Mark{}
	for _, k := range []struct {
		key string
		at  Mark
	}{{"screen section", e.ScreenSection.At}, {"screen metal", e.ScreenMetal.At}, {"screen begins at", e.ScreenFrom.At}, {"screen may reach", e.ScreenTo.At}} {
		if there(k.at) {
			given, at = given+1, k.at
		} else if missing == "" {
			missing = k.key
		}
	}
	switch {
	case given == 0:
		return
	case e.ScreenMay.Given:
		v.err(at, object, "both the screen's short-time current and its section or heat are given", "two statements of one thing may differ", "leave one of them")
	case missing != "":
		v.err(at, object, missing+" is not given", "the heat that a screen takes needs its section, metal and both temperatures", "write "+missing)
	default:
		v.heats(e.ScreenSection, e.ScreenFrom, e.ScreenTo, object+", screen")
	}
}

// heats checks a conductor that heats up in a fault.
func (v *validator) heats(section Value[quantity.Area], from, to Value[quantity.Temperature], object string) {
	if section.Given && section.V <= 0 {
		v.err(section.At, object, "a section of "+section.Text, "it is above zero", "")
	}
	if !from.Given || !to.Given {
		return
	}
	switch {
	case to.V <= from.V:
		v.err(to.At, object, fmt.Sprintf("it begins at %s and may reach %s", from.Text, to.Text), "a fault heats a conductor", "exchange the two")
	case to.V > 1100:
		v.err(to.At, object, "a temperature of "+to.Text, "copper melts at 1083 degC, other metals of conductors before", "")
	case from.V < -50 || from.V > 150:
		v.warn(from.At, object, "it begins at "+from.Text, "in service it has between -20 degC and 100 degC ("+commonPractice+")", "")
	}
}

func (v *validator) positive(d Value[quantity.Duration], object, key string) {
	if d.Given && d.V.Seconds <= 0 && d.V.Cycles <= 0 {
		v.err(d.At, object+", "+key, d.Text+" is no time", "it is above zero", "")
	}
}

func (v *validator) testXR(x Value[quantity.Number], object string) {
	if x.Given && (x.V <= 0 || x.V > 200) {
		v.err(x.At, object, "a test x/r of "+x.Text, "test circuits have X/R from below 1 to about 50 ("+commonPractice+")", "")
	}
}
