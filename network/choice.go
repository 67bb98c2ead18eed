package network

import (
	"slices"

	"feederwright/quantity"
	"feederwright/study"
)

// A Choice is a default as a datum: where its value would stand in the study,
// and what was taken for it. Text is what Defaults says of it. A default that
// is no single value, such as a transposition, has words in Defaults alone.
type Choice struct {
	Text  string
	At    study.Path
	Taken any // a quantity, or a word of the format
}

// choice records that the default named last has its place at a path.
func (f *fromStudy) choice(taken any, at ...string) {
	for i := range f.m.Choices {
		if slices.Equal(f.m.Choices[i].At, at) {
			return
		}
	}
	text := ""
	if n := len(f.m.Defaults); n > 0 {
		text = f.m.Defaults[n-1]
	}
	f.m.Choices = append(f.m.Choices, Choice{Text: text, At: study.Path(at), Taken: taken})
}

// zeroChargingChoice is where the zero-sequence charging of a line would stand.
func (f *fromStudy) zeroChargingChoice(e *study.Entry[study.Line]) {
	at, c := []string{"lines", e.Name}, &e.Item.Electrical
	if !c.B1.Given && !c.C1.Given {
		t := f.doc.LineTypes.Find(string(e.Item.Type.V))
		if t == nil {
			return
		}
		at, c = []string{"line types", t.Name}, &t.Item.Electrical
	}
	switch {
	case c.C1.Given:
		f.choice(c.C1.V, append(at, "c0")...)
	case c.B1.Given:
		f.choice(c.B1.V, append(at, "b0")...)
	}
}

// resistivityChoice is where the resistivity of the ground under a line given
// by how it is built would stand.
func (f *fromStudy) resistivityChoice(d *LineData) {
	t := f.doc.LineTypes.Find(d.TypeName)
	if d.Built == nil || t == nil || t.Item.Resistivity.Given || f.method().Resistivity.Given {
		return
	}
	f.choice(quantity.Resistivity(study.UsualResistivity), "line types", t.Name, "earth resistivity")
}

// z2OfInduction is the negative-sequence impedance of an induction machine
// that states none: that of the locked rotor, in percent on one machine's rating.
func z2OfInduction(m *study.InductionMachine) quantity.PercentOn {
	s := float64(m.Rating.V)
	if !m.Rating.Given {
		s = float64(m.Power.V) / float64(m.Efficiency.V) / m.PF.V.Value
	}
	return quantity.PercentOn{Fraction: 1 / float64(m.LockedRotor.V), BaseVA: s}
}
