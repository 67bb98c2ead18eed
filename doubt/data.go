package doubt

import (
	"fmt"
	"math"
	"strings"

	"feederwright/finding"
	"feederwright/network"
	"feederwright/quantity"
	"feederwright/review"
	"feederwright/study"
)

// data gathers what is in doubt.
func data(doc *study.Document, r *review.Report) []Datum {
	var all []Datum
	stated := map[string]bool{}
	for _, a := range doc.Doubtful() {
		all = append(all, ofStudy(a))
		stated[a.Path.String()] = true
	}
	for i := range r.Findings {
		if f := &r.Findings[i]; f.Verdict == finding.Unproven {
			all = append(all, missing(doc, r, f))
		}
	}
	for _, c := range r.Choices {
		if !stated[c.At.String()] {
			all = append(all, ofChoice(doc, c))
		}
	}
	return all
}

func place(m study.Mark) string { return fmt.Sprintf("%s:%d:%d", m.File, m.Line, m.Col) }

// ofStudy is a value of the study that is assumed, or has a range.
func ofStudy(a study.Assumption) Datum {
	d := Datum{Name: named(a.Object, a.Key), Kind: Assumed, Value: a.Text, Source: a.Source, Place: place(a.At)}
	if a.Low != "" {
		d.Kind = Stated
	}
	if a.Connects {
		d.Untried = "it says where a thing is connected: another connection is another study"
		return d
	}
	values, basis, why := candidates(a.Path, a.Value, a.Low, a.High)
	if s, known := spanOf(a.Path); known && !s.absolute && a.Low == "" && why == "" {
		values = inUnitsOf(a, values, s)
	}
	d.try(a.Path, values, basis, why)
	return d
}

// plainly is a value without the quotes that it may need in a file.
func plainly(yaml string) string { return strings.Trim(yaml, `"`) }

func named(object, key string) string {
	if object == "" {
		return key
	}
	return object + ", " + key
}

// ofChoice is a default.
func ofChoice(doc *study.Document, c network.Choice) Datum {
	d := Datum{Name: study.Describe(c.At), Kind: Default, Source: c.Text, Place: place(doc.PlaceOf(c.At))}
	if word, is := c.Taken.(string); is {
		d.Value = word
	} else if v, is := c.Taken.(quantity.Number); is && math.IsInf(float64(v), 1) {
		d.Value = "no resistance"
	} else if text, ok := scaled(c.Taken, 1); ok {
		d.Value = plainly(text)
	}
	values, basis, why := candidates(c.At, c.Taken, "", "")
	d.try(c.At, values, basis, why)
	return d
}

// try notes what is to be put in the place of the datum.
func (d *Datum) try(at study.Path, values []string, basis, why string) {
	d.Range, d.Untried = basis, why
	for _, v := range values {
		d.puts = append(d.puts, trialOf{plainly(v), []study.Put{{At: at, Text: v}}})
	}
}

// missing is the datum for want of which a finding is unproven.
func missing(doc *study.Document, r *review.Report, f *finding.Finding) Datum {
	d := Datum{Name: strings.Join(f.Missing, "; "), Kind: Missing, Source: "wanted by " + f.ID(), Place: f.Source}
	if d.Name == "" {
		d.Name = f.ID()
	}
	if d.Place == "" && len(f.Subjects) > 0 {
		d.Place = place(doc.PlaceOf(study.Path{"buses", f.Subjects[0]}))
	}
	switch f.Chapter + "/" + f.Rule {
	case "supply/zero sequence":
		d.zeroSequence(doc, f.Subjects[0])
	case "supply/minimum level":
		d.minimumLevel(doc, f.Subjects[0])
	case "network/earth path":
		d.earthPath(doc, r, f.Subjects[0])
	default:
		d.Untried = "no plausible values are known for what is missing here"
	}
	return d
}

// Zero-sequence over positive-sequence impedance of a system whose earth
// faults are not known: from a station with many transformers earthed there to
// the end of what counts as effectively earthed.
const lowZ0, highZ0 = 0.5, 3.0

const basisZ0 = "Z0 from 0.5 to 3 times Z1: effectively earthed is X0/X1 up to 3 (IEEE C62.92.1 [from memory]); the low end is common practice, no source"

func (d *Datum) zeroSequence(doc *study.Document, name string) {
	e := doc.Supply.Find(name)
	bus := busOf(doc, e)
	if bus == nil {
		d.Untried = "the infeed's bus is not known"
		return
	}
	d.Range = basisZ0
	for _, k := range []float64{lowZ0, highZ0} {
		t := trialOf{value: fmt.Sprintf("Z0 = %s · Z1", quantity.Number(k))}
		for _, l := range levels(e) {
			z, err := network.LevelOf(l.level, float64(bus.Voltage.V))
			if err != nil || !z.Unknown {
				continue
			}
			z0 := quantity.SystemImpedance{Z: rounded(complex(k, 0) * z.Z1)}
			t.puts = append(t.puts, study.Put{At: study.Path{"supply", name, l.word, "z0"}, Text: study.Scalar(z0.String())})
		}
		if len(t.puts) > 0 {
			d.puts = append(d.puts, t)
		}
	}
}

type namedLevel struct {
	word  string
	level *study.InfeedLevel
}

func levels(e *study.Entry[study.Infeed]) []namedLevel {
	var all []namedLevel
	for _, l := range []namedLevel{{"maximum", e.Item.Maximum}, {"minimum", e.Item.Minimum}, {"future", e.Item.Future}} {
		if l.level != nil {
			all = append(all, l)
		}
	}
	return all
}

func busOf(doc *study.Document, e *study.Entry[study.Infeed]) *study.Bus {
	if e == nil {
		return nil
	}
	if b := doc.Buses.Find(string(e.Item.At.V)); b != nil {
		return &b.Item
	}
	return nil
}

// The weakest state of an infeed, as a part of its strongest.
const lowLevel, highLevel = 0.3, 0.9

// minimumLevel puts in a minimum, and a condition in which it holds.
func (d *Datum) minimumLevel(doc *study.Document, name string) {
	e := doc.Supply.Find(name)
	bus := busOf(doc, e)
	if bus == nil || len(levels(e)) == 0 {
		d.Untried = "the infeed has no level to take a part of"
		return
	}
	z, err := network.LevelOf(levels(e)[0].level, float64(bus.Voltage.V))
	if err != nil {
		d.Untried = err.Error()
		return
	}
	condition := "weakest " + name
	for doc.Conditions.Find(condition) != nil {
		condition += " again"
	}
	d.Range = fmt.Sprintf("from %s to %s of the %s level, in a condition of its own; %s", percent(lowLevel), percent(highLevel), levels(e)[0].word, practice)
	for _, k := range []float64{lowLevel, highLevel} {
		ohm := func(z complex128) string {
			return study.Scalar(quantity.SystemImpedance{Z: rounded(z / complex(k, 0))}.String())
		}
		entry := "{ z1: " + ohm(z.Z1) + ", z2: " + ohm(z.Z2)
		switch {
		case z.Open:
			entry += ", z0: open"
		case !z.Unknown:
			entry += ", z0: " + ohm(z.Z0)
		}
		d.puts = append(d.puts, trialOf{percent(k) + " of " + levels(e)[0].word, []study.Put{
			{At: study.Path{"supply", name, "minimum"}, Text: entry + " }"},
			{At: study.Path{"conditions", condition}, Text: "{ infeed: { " + study.Scalar(name) + ": minimum } }"},
		}})
	}
}

// Charging of lines, S/m: overhead about 1 µS/km in zero sequence, screened
// cables up to 300 µS/km.
const lowCharging, highCharging = 1e-9, 300e-9

// earthPath puts in the charging of the lines of a part without earth.
func (d *Datum) earthPath(doc *study.Document, r *review.Report, bus string) {
	part := map[string]bool{}
	for _, c := range r.Cases {
		for _, fl := range c.Net.Floating {
			here := false
			for _, b := range fl.Buses {
				here = here || c.Net.Buses[b].Name == bus
			}
			if !here {
				continue
			}
			for _, b := range fl.Buses {
				part[c.Net.Buses[b].Name] = true
			}
		}
	}
	if doc.Method != nil && doc.Method.Charging.V == "neglected" {
		for _, l := range doc.Lines.Entries {
			if part[string(l.Item.From.V)] && part[string(l.Item.To.V)] {
				d.Range = "charging counted where it is given, against the choice of the method"
				d.puts = []trialOf{{"charging counted", []study.Put{{At: study.Path{"method", "charging"}, Text: "counted"}}}}
				return
			}
		}
	}
	var at []study.Path
	seen := map[string]bool{}
	for _, l := range doc.Lines.Entries {
		if !part[string(l.Item.From.V)] || !part[string(l.Item.To.V)] {
			continue
		}
		p := study.Path{"lines", l.Name}
		if t := doc.LineTypes.Find(string(l.Item.Type.V)); t != nil && l.Item.Type.Given {
			if t.Item.IsBuilt() {
				continue
			}
			p = study.Path{"line types", t.Name}
		}
		if !seen[p.String()] {
			seen[p.String()] = true
			at = append(at, p)
		}
	}
	if len(at) == 0 {
		d.Untried = fmt.Sprintf("no line or cable stands in the part at %s that a capacitance could be given to", bus)
		return
	}
	d.Range = "charging from 1 uS/km, an overhead line, to 300 uS/km, a screened cable; " + practice
	for _, b := range []float64{lowCharging, highCharging} {
		text := quantity.SusceptancePerLength(b).String()
		t := trialOf{value: "b1 and b0 " + text}
		for _, p := range at {
			for _, key := range []string{"b1", "b0"} {
				t.puts = append(t.puts, study.Put{At: append(p[:len(p):len(p)], key), Text: study.Scalar(text)})
			}
		}
		d.puts = append(d.puts, t)
	}
}
