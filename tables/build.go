package tables

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"feederwright/study"
)

// build writes the study files.
func (r *reader) build(head Head) {
	r.main.write("# yaml-language-server: $schema=study.schema.json\n# Made from tables: " + strings.Join(r.im.Tables, ", ") + ".\nfeederwright: 1\n")
	r.head(head)
	rows := make(map[string][]entry)
	var cables []entry
	for _, in := range r.sheets {
		switch {
		case in.table.key == "":
		case in.table.cables:
			cables = r.entries(in)
		case in.table.levels != nil:
			rows[in.table.key] = r.infeeds(in)
		default:
			rows[in.table.key] = r.entries(in)
		}
	}
	if len(cables) > 0 {
		r.main.write("include: [" + CableFile + "]\n")
		r.cables.write("# The cable schedule, made from cables.csv.\nlines:\n")
		for _, e := range cables {
			r.cables.entry(e)
		}
	}
	for _, t := range all {
		list := rows[t.key]
		if t.key == "" || t.cables {
			continue
		}
		if len(list) == 0 {
			if in := r.input(t); in != nil && t.key == "buses" && !in.refused && in.find("name") >= 0 {
				r.complain(study.Error, in, in.top, -1, "the table", "has no rows below its headings", "everything else is connected to buses", "write a row for each bus")
			}
			if t.key == "supply" { // its absence is told of the tables
				r.main.write("\nsupply: {}\n")
			}
			continue
		}
		r.main.write("\n" + t.key + ":\n")
		for _, e := range list {
			r.main.entry(e)
		}
	}
	r.conditions(rows["supply"])
}

func (r *reader) input(t *table) *input {
	for _, in := range r.sheets {
		if in.table == t {
			return in
		}
	}
	return nil
}

// conditions writes one condition for each level that all infeeds have, where
// there are several: without, the weaker ones would not be looked at.
func (r *reader) conditions(infeeds []entry) {
	count := make(map[string]int)
	var order []string
	for _, e := range infeeds {
		for _, p := range e.pairs {
			if p.group != nil {
				if count[p.key] == 0 {
					order = append(order, p.key)
				}
				count[p.key]++
			}
		}
	}
	order = slices.DeleteFunc(order, func(level string) bool { return count[level] < len(infeeds) })
	if len(order) < 2 {
		return
	}
	r.main.write("\nconditions:\n")
	for _, level := range order {
		r.main.write("  " + level + ": { infeed: " + level + " }\n")
	}
}

// head writes what holds for the whole study.
func (r *reader) head(head Head) {
	said := make(map[string]bool)
	for _, in := range r.sheets {
		if in.table.key != "" {
			continue
		}
		rows := in.data()
		if len(rows) == 0 {
			break
		}
		for _, row := range rows[1:] {
			r.complain(study.Error, in, row, 0, "the study", "has a second row", "what holds for the whole study is said once", "take it out")
		}
		for i, c := range in.columns {
			if c == nil {
				continue
			}
			if p, ok := r.pair(in, rows[0], i); ok {
				said[c.heading] = true
				text := in.at(rows[0], i).Text
				if outside := map[string]string{"study": head.Title, "frequency": head.Frequency}[c.heading]; outside != "" && outside != text {
					r.complain(study.Error, in, rows[0], i, "the study", fmt.Sprintf("%s is %s here, and given as %s with the command", c.heading, short(text), short(outside)), "two statements of one thing may differ", "leave one of them")
				}
				r.main.key(p)
				r.main.write("\n")
			}
		}
	}
	none := cellRef{sheet: &sheet{name: "study.csv"}, row: -1, column: -1}
	for _, h := range []struct{ key, text, sample string }{{"study", head.Title, "Works feeder 4"}, {"frequency", head.Frequency, "50 Hz"}} {
		switch {
		case said[h.key]:
		case h.text != "":
			r.main.write(h.key + ": ")
			r.main.put(scalar(h.text, false, none, false))
			r.main.write("\n")
		default:
			r.main.write(h.key + ": ")
			r.main.put(unread(none))
			r.main.write("\n")
			r.tell(Mistake{Severity: study.Error, Cell: Cell{File: "study.csv"}, Object: "the study", Problem: "has no " + strings.Replace(h.key, "study", "title", 1), Why: "it holds for the whole study",
				Fix: fmt.Sprintf("give study.csv a column %s, and %s in the row below, with your own data; or give it with the command", h.key, h.sample)})
		}
	}
}

// unread is a value that the study does not read. What is wrong is told
// already, of the cell; the study, which sees that something stands there, goes
// on as if it were right.
func unread(at cellRef) part { return part{text: "[]", at: at, from: -1, silent: true} }

// pair is a cell as a key with its value; false where nothing is given. A
// cell that must have something gets one that is not read.
func (r *reader) pair(in *input, row, i int) (pair, bool) {
	c := in.columns[i]
	f := in.field(row, i)
	at := cellRef{in.sheet, row, i}
	p := pair{key: c.heading}
	if f.text == "" {
		if !c.need || in.table.key == "" {
			return p, false
		}
		if !f.broken && !in.rows[row].shifted {
			r.complain(study.Error, in, row, i, r.object(in, row, nil), fmt.Sprintf("%s is empty", c.heading), lower(c.doc), "write it, as "+r.example(c))
		}
		p.value = []part{unread(at)}
		return p, true
	}
	text, verbatim := f.text, f.verbatim
	if c.number {
		if spaced := strings.Map(func(r rune) rune {
			if unicode.IsSpace(r) {
				return ' '
			}
			return r
		}, text); spaced != text {
			text, verbatim = spaced, verbatim && len(spaced) == len(text)
		}
		if !f.broken {
			text = r.unitFor(in, row, i, text, &f.broken)
		}
	}
	switch {
	case f.broken:
		p.value = []part{unread(at)}
	case c.kind == listColumn:
		p.value = list(text, at)
	case c.kind == matrixColumn:
		p.value = matrix(text, at)
	case c.refers != "":
		meant, silent := r.refer(in, row, i, text)
		if meant == "" {
			p.value = []part{unread(at)}
		} else {
			p.value = []part{scalar(meant, verbatim && meant == text, at, silent)}
		}
	default:
		p.value = []part{scalar(text, verbatim, at, false)}
	}
	return p, true
}

func (r *reader) example(c *column) string {
	if c.sample == "NAME" && c.refers != "" {
		return "the name of a " + c.refers
	}
	return c.sample
}

// list writes names with commas between as a list.
func list(text string, at cellRef) []part {
	parts := []part{{text: "[", at: at, from: -1}}
	for i, item := range strings.FieldsFunc(text, func(r rune) bool { return r == ',' || r == ';' }) {
		if item = strings.TrimSpace(item); item == "" {
			continue
		}
		if i > 0 {
			parts = append(parts, part{text: ", ", at: at, from: -1})
		}
		parts = append(parts, scalar(item, false, at, false))
	}
	return append(parts, part{text: "]", at: at, from: -1})
}

// matrix writes rows with bars between and entries with semicolons between as
// a list of lists.
func matrix(text string, at cellRef) []part {
	var b strings.Builder
	b.WriteString("[")
	for i, row := range strings.Split(text, "|") {
		if i > 0 {
			b.WriteString(", ")
		}
		b.WriteString("[")
		for j, cell := range strings.Split(row, ";") {
			if j > 0 {
				b.WriteString(", ")
			}
			b.WriteString(study.Scalar(strings.TrimSpace(cell)))
		}
		b.WriteString("]")
	}
	b.WriteString("]")
	return []part{{text: b.String(), at: at, from: -1}}
}

// name is the name of a row in the study.
func (r *reader) name(in *input, row int) (text string, p part) {
	at := in.find("name")
	f := in.field(row, at)
	ref := cellRef{in.sheet, row, at}
	if at >= 0 && f.text != "" && !f.broken {
		if other, bad := r.bad[in.table.kind][f.text]; bad {
			return other, scalar(other, false, ref, true)
		}
		return f.text, scalar(f.text, f.verbatim, ref, false)
	}
	if f.text != "" && len(f.text) <= maxName && !strings.ContainsAny(f.text, "/@+") && !strings.ContainsFunc(f.text, unicode.IsControl) {
		// A row that is out of step may well have its name in the right place.
		return f.text, scalar(f.text, f.verbatim, ref, true)
	}
	text = fmt.Sprintf("row %d of %s", in.rows[row].number, in.name)
	return text, scalar(strings.ReplaceAll(text, "/", "-"), false, ref, true)
}

// entries are the rows of a sheet as entries of the study.
func (r *reader) entries(in *input) []entry {
	var list []entry
	for _, row := range in.data() {
		text, name := r.name(in, row)
		e := entry{name: name}
		runs := 1
		for i, c := range in.columns {
			switch {
			case c == nil || c.kind == nameColumn:
			case c.kind == runsColumn:
				runs = r.runs(in, row, i)
			case c.kind == partColumn:
				if p, ok := r.halves(in, row, i); ok {
					e.pairs = append(e.pairs, p)
				}
			default:
				if p, ok := r.pair(in, row, i); ok {
					e.pairs = append(e.pairs, p)
				}
			}
		}
		r.absent(in, row, &e)
		if runs == 1 {
			list = append(list, e)
			continue
		}
		for n := 1; n <= runs; n++ {
			run := e
			run.name = scalar(runName(text, n), false, name.at, name.silent)
			list = append(list, run)
		}
		if len(list) > maxRows {
			r.complain(study.Error, in, row, -1, "the table", fmt.Sprintf("makes more than %d entries with its parallel runs, the most that is read", maxRows), "", "split the study")
			break
		}
	}
	return list
}

// absent gives a row the keys of columns that are told to be missing, so
// that the study does not miss them row by row.
func (r *reader) absent(in *input, row int, e *entry) {
	for _, c := range in.known {
		if c.need && c.kind == scalarColumn && !c.level && in.find(c.heading) < 0 {
			e.pairs = append(e.pairs, pair{key: c.heading, value: []part{unread(cellRef{in.sheet, row, -1})}})
		}
	}
}

// runName is the name of one of several parallel cables.
func runName(name string, n int) string { return fmt.Sprintf("%s run %d", name, n) }

// maxRuns is more than anybody lays beside each other (common practice, no source).
const maxRuns = 24

var runsText = regexp.MustCompile(`^([0-9]+)\s*[x×]?$`)

// runs reads how many cables run in parallel.
func (r *reader) runs(in *input, row, i int) int {
	f := in.field(row, i)
	if f.text == "" || f.broken {
		return 1
	}
	if n, ok := readRuns(f.text); ok {
		return n
	}
	r.complain(study.Error, in, row, i, r.object(in, row, in.columns[i]), short(f.text)+" is no number of cables in parallel", fmt.Sprintf("it is a whole number from 1 to %d", maxRuns), "write how many cables lie side by side, each with the type's data")
	return 1
}

func readRuns(text string) (int, bool) {
	m := runsText.FindStringSubmatch(text)
	if m == nil {
		return 0, false
	}
	n, err := strconv.Atoi(m[1])
	return n, err == nil && 1 <= n && n <= maxRuns
}
