package review

import (
	"errors"
	"fmt"
	"math"

	"feederwright/curve"
	"feederwright/duty"
	"feederwright/fault"
	"feederwright/network"
	"feederwright/quantity"
	"feederwright/study"
	"feederwright/working"
)

// Conductors that a fault heats: of lines, screens of cables, earthing conductors.

// metals of the adiabatic formula, by the words of the study.
var metals = map[string]curve.Metal{"copper": curve.CopperIEC, "aluminium": curve.AluminiumIEC, "lead": curve.LeadIEC, "steel": curve.SteelIEC}

// heatOf is the I²t, A²s, that a conductor takes.
func heatOf(section study.Value[quantity.Area], metal study.Value[string], from, to study.Value[quantity.Temperature]) float64 {
	return metals[metal.V].Heat(float64(section.V), float64(from.V), float64(to.V))
}

// heatStep is the working of it over t seconds.
func heatStep(section study.Value[quantity.Area], metal study.Value[string], from, to study.Value[quantity.Temperature], t float64) working.Step {
	m := metals[metal.V]
	return working.Step{Symbol: "I", Meaning: fmt.Sprintf("current that %s of %s takes for %s s without loss of heat", metal.V, section.Text, working.Number(t, 3)),
		Formula: "K·S·√(ln((θf + β)/(θi + β))/t)", Values: fmt.Sprintf("with θi %s, θf %s, K %s A·√s/mm², β %g °C", from.Text, to.Text, working.Number(math.Sqrt(m.F/math.Ln10)/1e6, 4), m.Beta),
		Result: working.Number(math.Sqrt(heatOf(section, metal, from, to)/t)/1e3, 5), Unit: "kA", Basis: m.Source}
}

// screenRating is the current that a screen stands for 1 s, A, 0 where nothing
// is said, and the working where it follows from its section.
func screenRating(e *study.Electrical) (float64, []working.Step) {
	switch {
	case e.ScreenMay.Given:
		return float64(e.ScreenMay.V), nil
	case e.ScreenSection.Given:
		return math.Sqrt(heatOf(e.ScreenSection, e.ScreenMetal, e.ScreenFrom, e.ScreenTo)),
			[]working.Step{heatStep(e.ScreenSection, e.ScreenMetal, e.ScreenFrom, e.ScreenTo, 1)}
	}
	return 0, nil
}

// lines: conductors and screens that say what they stand for 1 s, those of the line before those of its type.
func (s *surveyor) lines() error {
	for i := range s.doc.Lines.Entries {
		e := &s.doc.Lines.Entries[i]
		type owner struct {
			kind, name string
			at         study.Mark
		}
		of := owner{"line", e.Name, e.NameAt}
		conductor, conductorOf := float64(e.Item.ShortTime.V), of
		screen, steps := screenRating(&e.Item.Electrical)
		screenOf := of
		if t := s.doc.LineTypes.Find(string(e.Item.Type.V)); t != nil {
			typ := owner{"line type", t.Name, t.NameAt}
			if conductor == 0 {
				conductor, conductorOf = float64(t.Item.ShortTime.V), typ
			}
			if screen == 0 {
				screen, steps = screenRating(&t.Item.Electrical)
				screenOf = typ
			}
		}
		if conductor == 0 && screen == 0 {
			continue
		}
		n := s.c.Net.ElementByName(network.Line, e.Name)
		if n < 0 || !s.c.Net.Live(n) {
			continue
		}
		t := s.c.Method.FaultLasts
		for terminal, end := range s.c.Net.Elements[n].Terminals {
			var earth, between *duty.Currents // largest to earth, and line-to-line
			for _, k := range s.c.Kinds(end.Bus) {
				if k.Phases&^end.Phases != 0 {
					continue
				}
				x, err := s.c.Into(network.Line, e.Name, terminal, k)
				var missing *duty.MissingError
				if errors.As(err, &missing) {
					continue
				}
				if err != nil {
					return fmt.Errorf("line %s: %w", e.Name, err)
				}
				duties := func(rule string, of owner, value, rating float64, name string, steps []working.Step) {
					d := DeviceDuty{Kind: of.kind, Name: of.name, Rule: rule, Value: value, Rating: rating, Condition: s.c.State.Name, Taps: s.c.Taps, Fault: name,
						Place: s.place(end.Bus), Parallel: x.Parallel(), Missing: x.Missing, Source: of.at,
						How: fmt.Sprintf("thermal equivalent of %s s on a rating for 1 s", working.Number(t, 3)), Steps: steps}
					if s.c.Net.Buses[end.Bus].LineEnd == "" {
						d.Place = e.Name + " at " + d.Place
					}
					if name == doubleFault {
						d.Missing = append(append([]string(nil), d.Missing...), atWorst)
					}
					if !s.c.Method.Stated {
						d.Missing = append(append([]string(nil), d.Missing...), "how long a fault lasts (method / fault lasts); 1 s is taken")
					}
					s.found.take(d)
				}
				if conductor > 0 {
					duties("short-time", conductorOf, x.Thermal(t)*math.Sqrt(t), conductor, fault.KindName(s.doc, k), x.ThermalSteps(t))
				}
				switch k.Type {
				case fault.LineEarth:
					if earth == nil || x.Residual > earth.Residual {
						earth = x
					}
				case fault.LineLine:
					if between == nil || x.Initial > between.Initial {
						between = x
					}
				}
				if screen > 0 && x.Residual > 0 && x.ByPlant > 0 {
					duties("screen", screenOf, x.Thermal(t)*math.Sqrt(t)*x.Residual/x.ByPlant, screen, fault.KindName(s.doc, k), append(x.ThermalSteps(t), steps...))
				}
				if screen > 0 && twice(earth, between) {
					duties("screen", screenOf, between.Thermal(t)*math.Sqrt(t), screen, doubleFault, append(between.ThermalSteps(t), steps...))
				}
			}
		}
	}
	return nil
}

// doubleFault is the kind of fault of a part whose earth faults stay.
const doubleFault = "two earth faults, as line-to-line"

// atWorst stands for what is not known of it.
const atWorst = "where the two earth faults stand; both at once here are taken, which is the most"

// twice tells whether a second earth fault in another phase has to be counted:
// where a first one draws so little that it stays. What then flows in earth and
// screens is at most the line-to-line current.
//
//	I″kEE ≤ I″k2
//
// Small is below 2 % of that (common practice, no source): isolated and
// compensated systems are, those earthed by a resistor that relays trip at are
// mostly not.
//
// Source: IEC 60909-3, two separate simultaneous line-to-earth faults [from memory].
func twice(earth, between *duty.Currents) bool {
	return earth != nil && between != nil && earth.Residual < 0.02*between.Initial
}

// earthingConductors: the largest earth-fault current of their buses, against the heat that their section takes.
func (s *surveyor) earthingConductors() error {
	for i := range s.doc.EarthingConductors.Entries {
		e := &s.doc.EarthingConductors.Entries[i]
		m := &e.Item
		bus := s.c.Net.BusByName(string(m.At.V))
		if bus < 0 || s.c.Net.Node[bus] < 0 {
			continue
		}
		t, missing := s.c.Method.FaultLasts, []string(nil)
		switch {
		case m.Lasts.Given:
			t = m.Lasts.V.At(s.c.Method.Frequency)
		case !s.c.Method.Stated:
			missing = append(missing, "how long a fault lasts (method / fault lasts); 1 s is taken")
		}
		share := 1.0
		if m.Share.Given {
			share = float64(m.Share.V)
		}
		rating := math.Sqrt(heatOf(m.Section, m.Metal, m.From, m.To) / t)
		step := heatStep(m.Section, m.Metal, m.From, m.To, t)
		take := func(x *duty.Currents, kind string, value float64) {
			how := fmt.Sprintf("thermal equivalent of the earth-fault current over %s s, on what its section takes without loss of heat", working.Number(t, 3))
			if share < 1 {
				how = m.Share.Text + " of the " + how
			}
			unknown := append(append([]string(nil), x.Missing...), missing...)
			if kind == doubleFault {
				unknown = append(unknown, atWorst)
			}
			s.found.take(DeviceDuty{Kind: "earthing conductor", Name: e.Name, Rule: "heat", Value: share * value, Rating: rating, Condition: s.c.State.Name, Taps: s.c.Taps,
				Fault: kind, Place: s.place(bus), Parallel: x.Parallel(), Missing: unknown, How: how,
				Steps: append(x.ThermalSteps(t), step), Source: e.NameAt})
		}
		var earth, between *duty.Currents
		for _, k := range s.c.Kinds(bus) {
			x, err := s.c.At(bus, k)
			var unknown *duty.MissingError
			if errors.As(err, &unknown) {
				continue // told by the chapter on the supply
			}
			if err != nil {
				return fmt.Errorf("earthing conductor %s: %w", e.Name, err)
			}
			switch {
			case k.Type == fault.LineEarth && (earth == nil || x.Residual > earth.Residual):
				earth = x
			case k.Type == fault.LineLine && (between == nil || x.Initial > between.Initial):
				between = x
			}
			if x.ByPlant > 0 && x.Residual > noCurrent {
				take(x, fault.KindName(s.doc, k), x.Thermal(t)*x.Residual/x.ByPlant)
			}
		}
		if twice(earth, between) {
			take(between, doubleFault, between.Thermal(t))
		}
	}
	return nil
}
