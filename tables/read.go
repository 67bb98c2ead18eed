package tables

import (
	"fmt"
	"io/fs"
	"slices"
	"strconv"
	"strings"

	"feederwright/study"
)

// Names of the files of the study that tables become. The cable schedule has
// a file of its own: that a line stands there is what makes it a row of the
// schedule when the study is written as tables again.
const (
	MainFile  = "study.yaml"
	CableFile = "cables.yaml"
)

// A Head is what holds for the whole study, where the tables don't say it.
type Head struct {
	Title     string
	Frequency string // as 50 Hz
}

// An Import is what came of a set of tables.
type Import struct {
	Files   []study.SourceFile // the study, main file first; none where something is wrong
	Study   *study.Document    // the same as it was read
	Tables  []string           // files that were read
	Ignored []Cell             // headings of columns that were left out because they begin with #
}

// Read makes a study of the tables in the root of a folder. Any table may be
// absent but that of the buses. The mistakes are all that was found, in order
// of place; where one of them is an error there is no study.
func Read(fsys fs.FS, head Head) (*Import, Mistakes) {
	r := &reader{
		bad: make(map[string]map[string]string), good: make(map[string][]string), known: make(map[string]map[string]bool),
		main: &studyFile{name: MainFile}, cables: &studyFile{name: CableFile},
		im: &Import{}, seen: make(map[string]bool), compared: maxCompared,
	}
	r.load(fsys)
	for _, s := range r.sheets {
		r.headings(s)
	}
	for _, s := range r.sheets {
		r.define(s)
	}
	r.build(head)
	r.check()
	r.ms.sort()
	refused := r.ms.Errors() > 0
	r.gather()
	r.cut()
	if refused {
		return &Import{Tables: r.im.Tables, Ignored: r.im.Ignored}, r.ms
	}
	return r.im, r.ms
}

const (
	maxMistakes = 1000 // shown
	maxKept     = 5000 // gathered before they are sorted and cut
	// maxCompared bounds the spelling suggestions: names compared with a
	// mistyped one, over all mistakes.
	maxCompared = 200_000
)

const unitless = " has no unit"

// gather puts cells of a column that have no unit into one mistake: that the
// unit of a column is missing is one thing to mend, in its heading.
func (r *reader) gather() {
	type column struct{ file, letter string }
	rows := make(map[column][]string)
	for _, m := range r.ms {
		if strings.HasSuffix(m.Problem, unitless) {
			at := column{m.Cell.File, m.Cell.Column}
			rows[at] = append(rows[at], strconv.Itoa(m.Cell.Row))
		}
	}
	const few = 3
	first := make(map[column]bool)
	kept := r.ms[:0]
	for _, m := range r.ms {
		at := column{m.Cell.File, m.Cell.Column}
		if others := rows[at]; strings.HasSuffix(m.Problem, unitless) && len(others) > few {
			if first[at] {
				continue
			}
			first[at] = true
			others = others[1:]
			if shown := 10; len(others) > shown {
				m.Problem += fmt.Sprintf(", nor have those in rows %s and %d more below it", strings.Join(others[:shown], ", "), len(others)-shown)
			} else {
				m.Problem += ", nor have those in rows " + listed(others, "and")
			}
		}
		kept = append(kept, m)
	}
	r.ms = kept
}

// cut leaves no more mistakes than anybody reads.
func (r *reader) cut() {
	if len(r.ms) <= maxMistakes && r.untold == 0 {
		return
	}
	keep := min(len(r.ms), maxMistakes)
	rest := r.ms[keep:]
	last := Mistake{Severity: study.Warning, Cell: r.ms[keep-1].Cell, Object: "the tables", Problem: fmt.Sprintf("have %d more mistakes from here on", len(rest)+r.untold), Fix: "mend those above first"}
	if rest.Errors() > 0 || r.untold > 0 {
		last.Severity = study.Error
	}
	r.ms = append(r.ms[:keep:keep], last)
}

// A reader makes a study of tables.
type reader struct {
	sheets []*input                     // in the order of the tables
	bad    map[string]map[string]string // by kind: names that can't stand, and what stands for them
	good   map[string][]string          // by kind: the others, in order
	known  map[string]map[string]bool   // the same to look up
	main   *studyFile
	cables *studyFile
	im     *Import
	ms     Mistakes
	untold int // beyond those kept
	seen   map[string]bool
	// compared is how many names may still be compared for suggestions.
	compared int
}

// An input is a sheet with what its columns are.
type input struct {
	*sheet
	table   *table
	top     int       // row of the headings, from 0
	columns []*column // by position; nil for one that is not read
	units   []string  // by position, from the headings
	known   []*column // all that the table may have
	comma   bool      // decimals are written with a comma
	refused bool      // it is no table at all, which is told
}

func (in *input) find(heading string) int {
	return slices.IndexFunc(in.columns, func(c *column) bool { return c != nil && c.heading == heading })
}

// tell adds a mistake, once.
func (r *reader) tell(m Mistake) {
	id := fmt.Sprint(m.Cell.File, m.Cell.Row, m.Cell.Column, m.Cell.Place.Start, m.Problem)
	if r.seen[id] {
		return
	}
	r.seen[id] = true
	if len(r.ms) >= maxKept {
		r.untold++
		return
	}
	r.ms = append(r.ms, m)
}

// cell is a place of a sheet; start and end, within the cell's text, may be
// −1 for all of it.
func (s *sheet) cell(row, column, start, end int) Cell {
	c := Cell{File: s.name}
	if row < 0 || row >= len(s.rows) {
		return c
	}
	rec := &s.rows[row]
	c.Row = rec.number
	if column < 0 {
		c.Place = s.mark(rec.fields[0].start, rec.fields[0].start)
		return c
	}
	c.Column = letters(column)
	if column >= len(rec.fields) {
		c.Place = s.mark(rec.end, rec.end)
		return c
	}
	f := rec.fields[column]
	c.Text = f.text
	if f.verbatim {
		c.Text = s.text[f.start:f.end] // as typed, decimal commas and all
	}
	if start < 0 || !f.verbatim {
		start, end = 0, f.end-f.start
	}
	c.Place = s.mark(f.start+start, f.start+max(start, end))
	return c
}

// at is a place of an input, with the heading of its column.
func (in *input) at(row, column int) Cell {
	c := in.cell(row, column, -1, -1)
	if column >= 0 && in.top < len(in.rows) && column < len(in.rows[in.top].fields) {
		c.Heading = in.rows[in.top].fields[column].text
	}
	return c
}

// complain tells of a cell of an input.
func (r *reader) complain(severity study.Severity, in *input, row, column int, object, problem, why, fix string, related ...Related) {
	c := in.at(row, column)
	r.tell(Mistake{Severity: severity, Cell: c, Object: object, Problem: problem, Why: why, Fix: fix, Excerpt: in.line(c.Place.Line), Related: related})
}
