package duty

import (
	"fmt"
	"math"

	"feederwright/study"
)

// A Practice by which duties are figured.
type Practice string

const (
	IEC  Practice = "iec"
	IEEE Practice = "ieee"
)

// The ways to the factor κ of the peak, methods a, b and c of IEC 60909-0.
const (
	SmallestRatio = "smallest-ratio"
	RatioAtPlace  = "ratio-at-place"
	ByFrequency   = "equivalent-frequency"
)

// A Method is the practice with its choices.
type Method struct {
	Practice  Practice
	Frequency float64 // Hz

	// IEC.
	Edition   Edition
	Tolerance float64 // of low voltage
	PeakBy    string
	LeaveOut  bool // motors that the standard lets one leave out
	Smallest  bool // the smallest current, not the largest

	// IEEE.
	Voltage     float64 // over nominal
	ByReactance bool

	Extremes   bool    // tap extremes counted
	FaultLasts float64 // s
	Stated     bool    // FaultLasts is the study's
}

// MethodOf reads a study's method for duties, and what is taken where it says
// nothing, in words.
func MethodOf(doc *study.Document) (m Method, defaults []string) {
	assume := func(format string, args ...any) { defaults = append(defaults, fmt.Sprintf(format, args...)) }
	var s study.Method
	if doc.Method != nil {
		s = *doc.Method
	}
	m = Method{Practice: Practice(doc.Practice.V), Frequency: float64(doc.Frequency.V), Edition: Edition2016, Tolerance: 0.10,
		PeakBy: ByFrequency, Voltage: 1, Extremes: true, FaultLasts: 1}
	if !doc.Practice.Given {
		m.Practice = IEEE
		if m.Frequency == 50 {
			m.Practice = IEC
		}
		assume("duties: practice %s, from the frequency of %g Hz", m.Practice, m.Frequency)
	}
	if m.Practice == IEC {
		low := false
		for _, b := range doc.Buses.Entries {
			low = low || float64(b.Item.Voltage.V) <= 1000
		}
		switch {
		case s.Edition.Given:
			m.Edition = Edition(s.Edition.V)
		default:
			assume("duties: IEC 60909-0 of 2016")
		}
		switch {
		case s.Tolerance.Given:
			m.Tolerance = float64(s.Tolerance.V)
		case low:
			assume("duties: voltage tolerance of low voltage taken as 10 %%")
		}
		if s.PeakBy.Given {
			m.PeakBy = s.PeakBy.V
		} else {
			assume("duties: peak by the equivalent frequency, method c of IEC 60909-0")
		}
		m.LeaveOut = s.SmallMotors.V == "neglected"
	} else {
		switch {
		case s.DutyVoltage.Given:
			m.Voltage = float64(s.DutyVoltage.V)
		case s.Prefault.Given:
			m.Voltage = float64(s.Prefault.V)
		default:
			assume("duties: driven by 100 %% of nominal voltage")
		}
		m.ByReactance = s.CurrentBy.V == "reactance"
		if !s.CurrentBy.Given {
			assume("duties: currents are E/Z, with X/R from separate networks of reactances and resistances")
		}
	}
	if s.TapExtremes.Given {
		m.Extremes = s.TapExtremes.V != "neglected"
	} else if len(Movable(doc)) > 0 {
		assume("duties: on-load taps and regulators counted at both ends of their ranges, too")
	}
	if s.FaultLasts.Given {
		m.FaultLasts, m.Stated = s.FaultLasts.V.At(m.Frequency), true
	} else {
		assume("duties: thermal duty for 1 s, or a device's own time where that is shorter")
	}
	return m, defaults
}

// Factor is the voltage that drives a fault over nominal: c, or E.
func (m *Method) Factor(nominal, highest float64) float64 {
	if m.Practice != IEC {
		return m.Voltage
	}
	c := VoltageFactor(nominal, m.Tolerance, m.Edition, !m.Smallest)
	if highest > 0 && !m.Smallest {
		c = math.Min(c, highest/nominal)
	}
	return c
}

// A Changer is plant whose taps change on load.
//
// Low and High are positions as a condition has them: where the voltage beyond
// is lowest, and highest. Beyond is the winding of lower voltage, or the second
// of two alike. So taps in a row, of whichever winding, stand all on the same
// side: for a fault beyond them all, that at Low gives the largest current,
// since they take the impedance of the supply down most.
type Changer struct {
	Name      string
	Regulator bool
	Low, High float64 // part of rated turns, or of voltage
}

// Movable is the plant whose taps change on load.
func Movable(doc *study.Document) []Changer {
	var list []Changer
	for i := range doc.Transformers.Entries {
		e := &doc.Transformers.Entries[i]
		side := OnLoadTaps(&e.Item)
		if e.Item.UnitOf.Given {
			continue // its own factor stands for its taps
		}
		r := e.Item.ToTaps
		if side == "from" {
			r = e.Item.FromTaps
		}
		// A condition's tap is of the second winding where that has a range.
		if side == "" || !r.Given || side == "from" && e.Item.ToTaps.Given {
			continue
		}
		c := Changer{Name: e.Name, Low: r.V.Min, High: r.V.Max}
		beyond := "to"
		if e.Item.Voltages.V.To > e.Item.Voltages.V.From {
			beyond = "from"
		}
		if side != beyond { // more turns on the other side lower the voltage beyond
			c.Low, c.High = c.High, c.Low
		}
		list = append(list, c)
	}
	for i := range doc.ThreeWinding.Entries {
		if e := &doc.ThreeWinding.Entries[i]; e.Item.Taps.Given {
			// On the first winding: fewer turns raise the others' voltage.
			list = append(list, Changer{Name: e.Name, Low: e.Item.Taps.V.Max, High: e.Item.Taps.V.Min})
		}
	}
	for i := range doc.Regulators.Entries {
		if e := &doc.Regulators.Entries[i]; e.Item.Taps.Given {
			list = append(list, Changer{Name: e.Name, Regulator: true, Low: e.Item.Taps.V.Min, High: e.Item.Taps.V.Max})
		}
	}
	return list
}

// OnLoadTaps is the winding of a transformer whose taps change on load: from,
// to, or "".
func OnLoadTaps(t *study.Transformer) string {
	switch {
	case t.OnLoad.V == "none":
		return ""
	case t.OnLoad.Given:
		return t.OnLoad.V
	case t.ToTaps.Given:
		return "to"
	case t.FromTaps.Given:
		return "from"
	}
	return ""
}
