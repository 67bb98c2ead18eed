package tables

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"unicode"

	"feederwright/study"
)

// data are the rows, from 0, of what the table says: those below the headings that are not blank.
func (in *input) data() []int {
	var list []int
	for i := in.top + 1; i < len(in.rows); i++ {
		if !in.rows[i].blank() {
			list = append(list, i)
		}
	}
	return list
}

// field is a cell of a row; one beyond its end is empty.
func (in *input) field(row, column int) field {
	rec := &in.rows[row]
	if column < 0 || column >= len(rec.fields) {
		return field{start: rec.end, end: rec.end, verbatim: true}
	}
	return rec.fields[column]
}

// What spreadsheets put into a cell whose formula failed, or which is too narrow.
var sheetError = regexp.MustCompile(`^(#(REF|N/A|NAME|VALUE|DIV/0|NUM|NULL|SPILL|CALC|FIELD|BEZUG|NV|WERT|ZAHL|¡REF|¡VALOR)[!?]?|#{2,}|Err:\d+)$`)

func isSheetError(text string) bool { return sheetError.MatchString(text) }

// What spreadsheets make of texts such as 1-2 or 3/4 that they take for dates.
var sheetDate = regexp.MustCompile(`(?i)^(\d{1,2}[-. ]{1,2}(jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec|mrz|mai|okt|dez)[a-z]{0,6}([-. ]\d{2,4})?|(jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec|mrz|mai|okt|dez)[a-z]{0,6}[-. ]{1,2}\d{1,4}|\d{1,2}[./]\d{1,2}[./](\d\d|\d{4})|\d{4}-\d{2}-\d{2}( 00:00:00)?)$`)

// What they make of numbers with many digits, or of texts such as 12E4.
var sheetExponent = regexp.MustCompile(`^\d([.,]\d+)?E\+\d+$`)

const noName = "names stand in commands and in the places of faults, as lg:A@N3"

// define gives the rows of a sheet the names that the study gets. A name that
// can't be one gets another, so that what refers to it is not blamed.
func (r *reader) define(in *input) {
	r.decimals(in)
	r.slips(in)
	at := in.find("name")
	if in.table.key == "" {
		return
	}
	kind := in.table.kind
	if r.bad[kind] == nil {
		r.bad[kind], r.known[kind] = make(map[string]string), make(map[string]bool)
	}
	cables := make(map[string]int)
	for _, row := range in.data() {
		f := in.field(row, at)
		if at < 0 {
			continue
		}
		if f.broken { // it may well be the name that others refer to
			r.known[kind][f.text] = true
			continue
		}
		object := in.table.kind
		bad := func(problem, fix string) {
			r.complain(study.Error, in, row, at, object, problem, noName, fix)
			r.bad[kind][f.text] = fmt.Sprintf("unreadable %d of %s", in.rows[row].number, in.name)
		}
		switch {
		case f.text == "":
			r.complain(study.Error, in, row, at, object, "has no name", noName, "give it a name")
		case sheetExponent.MatchString(f.text):
			bad(f.text+" is a number that the spreadsheet has shortened", "format the column as text, and type the name again")
		case strings.ContainsAny(f.text, "/@+"):
			bad(fmt.Sprintf("the name %s has one of the characters / @ + in it", short(f.text)), "write "+strings.NewReplacer("/", "-", "@", "-", "+", "-").Replace(f.text)+", here and where it is referred to")
		case strings.ContainsFunc(f.text, unicode.IsControl):
			bad(fmt.Sprintf("the name %s has a line break or a control character in it", short(f.text)), "write it on one line")
		case len(f.text) > maxName:
			bad(fmt.Sprintf("the name %s has %d bytes; %d is the most", short(f.text), len(f.text), maxName), "shorten it, and put the rest into the note")
		case sheetDate.MatchString(f.text):
			r.complain(study.Warning, in, row, at, fmt.Sprintf("%s %q", object, f.text), "the name looks like a date",
				"spreadsheets take names such as 1-2 for dates and change them", "if another name was meant, format the column as text and type it again")
		}
		if _, bad := r.bad[kind][f.text]; !bad && f.text != "" && !r.known[kind][f.text] {
			r.known[kind][f.text] = true
			r.good[kind] = append(r.good[kind], f.text)
		}
		if in.table.cables && f.text != "" {
			if before, twice := cables[f.text]; twice {
				r.complain(study.Error, in, row, at, fmt.Sprintf("%s %q", object, f.text), "is defined twice", "a name means one thing", "rename one of them, or delete it; for cables in parallel write their number under runs",
					Related{Cell: in.at(before, at), Text: "first defined here", Excerpt: in.line(in.at(before, at).Place.Line)})
			} else {
				cables[f.text] = row
			}
		}
	}
}

const maxName = 100 // bytes, as in the study

// slips tells of cells that hold what only a spreadsheet means, and of cells
// beyond the headings.
func (r *reader) slips(in *input) {
	for _, row := range in.data() {
		fields := in.rows[row].fields
		for i := range fields {
			f := &fields[i]
			if f.text == "" || f.broken || i < len(in.columns) && in.columns[i] == nil {
				continue
			}
			if i >= len(in.columns) {
				r.complain(study.Error, in, row, i, "the table", fmt.Sprintf("%s stands beyond the last heading", short(f.text)),
					"a separator inside a text, or a decimal comma, moves what follows by a column", `put quotes (") round the cell that has the separator in it, and write decimals with a dot`)
				in.rows[row].shift()
				break
			}
			c := in.columns[i]
			tell := func(problem, why, fix string) {
				r.complain(study.Error, in, row, i, r.object(in, row, c), problem, why, fix)
				f.broken = true
			}
			switch {
			case isSheetError(f.text) && f.verbatim:
				tell(f.text+" stands here, not a value", "the spreadsheet could not work the cell out, or had no room to show it", "mend the formula, or widen the column, and save the table again")
			case strings.HasPrefix(f.text, "=") && f.verbatim:
				tell(short(f.text)+" is a formula, not its value", "a table is read as it stands; nothing is worked out", "save the table with values instead of formulas; a text that begins with = is written ="+`"=..."`)
			case c.number && c.refers == "" && sheetDate.MatchString(f.text):
				tell(f.text+" is a date", "spreadsheets take texts such as 10/4 for dates and change them", "format the column as text, and write it again, as "+c.sample)
			}
		}
	}
}

// object is what a row is called in messages, with a column of it.
func (r *reader) object(in *input, row int, c *column) string {
	text := in.table.kind
	if at := in.find("name"); at >= 0 && in.field(row, at).text != "" {
		text += " " + strconv.Quote(in.field(row, at).text)
	}
	if in.table.key == "" {
		text = "the study"
	}
	if c != nil && c.kind != nameColumn {
		text += ", " + c.heading
	}
	return text
}

var (
	decimalComma = regexp.MustCompile(`\d,\d`)
	thousandDot  = regexp.MustCompile(`(?:^|[^\d.,])[1-9]\d{0,2}\.\d{3}(?:[^\d.,]|$)`)
	bothMarks    = regexp.MustCompile(`\d\.\d{3},\d`)
)

// decimals finds out whether a sheet writes decimals with a comma, which only
// one can whose separator is another, and makes dots of the commas. In such a
// sheet a dot with three digits after it may mark thousands: 1.200 m is then
// one kilometre and more, and nobody but the author knows.
func (r *reader) decimals(in *input) {
	if in.sep == ',' {
		return
	}
	each := func(visit func(row, i int, f *field)) {
		for _, row := range in.data() {
			for i := range in.rows[row].fields {
				if i < len(in.columns) && in.columns[i] != nil && in.columns[i].number {
					visit(row, i, &in.rows[row].fields[i])
				}
			}
		}
	}
	each(func(_, _ int, f *field) { in.comma = in.comma || decimalComma.MatchString(f.text) })
	if !in.comma {
		return
	}
	each(func(row, i int, f *field) {
		object := r.object(in, row, in.columns[i])
		switch {
		case bothMarks.MatchString(f.text):
			r.complain(study.Error, in, row, i, object, short(f.text)+" has a dot for thousands and a decimal comma", "digits are not grouped in a table", "take the dot out")
			f.broken = true
		case thousandDot.MatchString(f.text):
			r.complain(study.Error, in, row, i, object, short(f.text)+" can be read in two ways", "other cells of this table have decimal commas, so the dot may mark thousands", "write the decimal with a comma, or take the dot out")
			f.broken = true
		default:
			f.text = withDots(f.text)
		}
	})
}

// withDots makes dots of decimal commas.
func withDots(text string) string {
	return decimalComma.ReplaceAllStringFunc(text, func(s string) string { return strings.Replace(s, ",", ".", 1) })
}
