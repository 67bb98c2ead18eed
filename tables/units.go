package tables

import (
	"errors"
	"fmt"
	"regexp"
	"strings"

	"feederwright/quantity"
	"feederwright/study"
)

// bare matches a number, a complex number or several numbers without a unit.
var bare = regexp.MustCompile(`^[-+−]?\s*j?\s*\d[-+−\d.,/eEj ]*$`)

// unitFor adds the unit of the heading to a cell that has none.
func (r *reader) unitFor(in *input, row, i int, text string, broken *bool) string {
	unit := in.units[i]
	c := in.columns[i]
	if unit == "" {
		return text
	}
	add := func(text string) string {
		text = strings.TrimSpace(text)
		switch {
		case bare.MatchString(text):
			return text + " " + unit
		case !strings.ContainsAny(text[:min(1, len(text))], "0123456789.+-") || hasUnit(text, unit):
			return text
		}
		if !*broken {
			r.complain(study.Error, in, row, i, r.object(in, row, c), fmt.Sprintf("%s under a heading that says %s", short(text), unit), "the cell may have its own unit only where it is that of the heading", "write the number in "+unit+", or take the unit out of the heading and write it in every cell")
			*broken = true
		}
		return text
	}
	if c.kind != matrixColumn {
		return add(text)
	}
	rows := strings.Split(text, "|")
	for i, row := range rows {
		cells := strings.Split(row, ";")
		for j, cell := range cells {
			cells[j] = add(cell)
		}
		rows[i] = strings.Join(cells, "; ")
	}
	return strings.Join(rows, " | ")
}

// hasUnit says whether a unit stands in a text as a word of its own.
func hasUnit(text, unit string) bool {
	for from := 0; ; {
		i := strings.Index(text[from:], unit)
		if i < 0 {
			return false
		}
		before, after := text[:from+i], text[from+i+len(unit):]
		if (before == "" || strings.ContainsAny(before[len(before)-1:], " 0123456789")) && (after == "" || after[0] == ' ') {
			return true
		}
		from += i + len(unit)
	}
}

// halves makes an impedance of a resistance and a reactance that stand in
// columns of their own, when it comes to the first of them.
func (r *reader) halves(in *input, row, i int) (pair, bool) {
	c := in.columns[i]
	p := pair{key: c.part}
	suffix := strings.TrimPrefix(c.part, "z")
	at := [2]int{in.find("r" + suffix), in.find("x" + suffix)}
	var f [2]field
	var text, unit [2]string
	broken := false
	for k, column := range at {
		f[k] = in.field(row, column)
		broken = broken || f[k].broken
	}
	if f[0].text == "" && f[1].text == "" || i != at[0] && at[0] >= 0 {
		return p, false // nothing given, or done with the first
	}
	object := r.object(in, row, nil) + ", " + c.part
	refused := func() (pair, bool) {
		p.value = []part{unread(cellRef{in.sheet, row, i})}
		return p, true
	}
	if broken {
		return refused()
	}
	if whole := in.find(c.part); whole >= 0 && in.field(row, whole).text != "" {
		r.complain(study.Error, in, row, i, object, fmt.Sprintf("%s is given beside %s", c.heading, c.part), "two statements of one thing may differ", "leave one of them",
			Related{Cell: in.at(row, whole), Text: c.part + " stands here", Excerpt: in.line(in.at(row, whole).Place.Line)})
		return p, false
	}
	for k, word := range []string{"resistance", "reactance"} {
		heading := []string{"r", "x"}[k] + suffix
		if f[k].text == "" {
			r.complain(study.Error, in, row, max(at[k], -1), object, fmt.Sprintf("%s is not given beside %s", heading, []string{"x", "r"}[k]+suffix), "an impedance needs both its resistance and its reactance", "write "+heading+", as "+c.sample)
			return refused()
		}
		text[k] = strings.TrimSpace(strings.TrimPrefix(r.unitFor(in, row, at[k], f[k].text, &broken), "j"))
		if broken {
			return refused()
		}
		var z quantity.SeriesImpedance
		if err := z.UnmarshalText([]byte(text[k])); err != nil {
			problem, fix := err.Error(), ""
			var qe *quantity.Error
			if errors.As(err, &qe) {
				problem, fix = qe.Problem, qe.Fix
				if strings.HasSuffix(problem, unitless) {
					fix = "write a " + word + " such as " + c.sample + r.orHeading(in.at(row, at[k]), heading)
				}
			}
			r.complain(study.Error, in, row, at[k], r.object(in, row, in.columns[at[k]]), problem, "", fix)
			return refused()
		}
		unit[k] = quantity.TypedUnit(text[k])
		if imag(z.Z) != 0 || unit[k] == "" {
			r.complain(study.Error, in, row, at[k], r.object(in, row, in.columns[at[k]]), short(f[k].text)+" is no "+word, "resistance and reactance stand in columns of their own here", "write one number with its unit, as "+c.sample)
			return refused()
		}
	}
	if unit[0] != unit[1] {
		r.complain(study.Error, in, row, at[1], r.object(in, row, in.columns[at[1]]), fmt.Sprintf("is in %s, and r%s in %s", unit[1], suffix, unit[0]), "the two make one impedance", "give both in the same unit")
		return refused()
	}
	number := func(k int) string { return strings.TrimSpace(strings.TrimSuffix(text[k], unit[k])) }
	// Where the unit is spelt otherwise (Ω, 1000 ft), the text keeps it and is still read.
	verbatim := func(k int, text string) int {
		if f[k].verbatim && strings.HasPrefix(f[k].text, text) {
			return 0
		}
		return -1
	}
	sign, x := " + j", number(1)
	if minus, negative := strings.CutPrefix(x, "-"); negative {
		sign, x = " - j", minus
	}
	z := number(0) + sign + x + " " + unit[0]
	var check quantity.SeriesImpedance
	if study.Scalar(z) != z || check.UnmarshalText([]byte(z)) != nil {
		r.complain(study.Error, in, row, i, object, fmt.Sprintf("%s and %s make no impedance", short(f[0].text), short(f[1].text)), "", "write both as "+c.sample)
		return refused()
	}
	p.value = []part{
		{text: number(0), at: cellRef{in.sheet, row, at[0]}, from: verbatim(0, number(0))},
		{text: sign, at: cellRef{in.sheet, row, at[1]}, from: -1},
		{text: x + " " + unit[0], at: cellRef{in.sheet, row, at[1]}, from: verbatim(1, x)},
	}
	return p, true
}
