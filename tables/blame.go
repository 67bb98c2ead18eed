package tables

import (
	"bytes"
	"fmt"
	"io/fs"
	"strings"

	"feederwright/study"
)

// check reads the study that was made, and tells what is wrong with it of the cells.
func (r *reader) check() {
	files := []study.SourceFile{{Name: MainFile, Text: []byte(r.main.text.String())}}
	if r.cables.text.Len() > 0 {
		files = append(files, study.SourceFile{Name: CableFile, Text: []byte(r.cables.text.String())})
	}
	doc, ds := study.Read(memory(files), MainFile)
	ds = append(ds, doc.Validate()...)
	if ds.Errors() == 0 {
		_, more := doc.States()
		ds = append(ds, more...)
	}
	for _, d := range ds {
		r.translate(d)
	}
	if len(doc.Supply.Entries) == 0 {
		r.tell(Mistake{Severity: study.Warning, Cell: Cell{File: "supply.csv"}, Object: "supply", Problem: "the study has no infeed", Why: "without a source no bus has a voltage, and no fault a current",
			Fix: "make supply.csv, with the columns name, at, level, three-phase and x/r"})
	}
	if ds.Errors() > 0 && r.ms.Errors() == 0 {
		// Each silent piece has a mistake of its own, so this is a slip of ours; better said than a study that isn't right.
		for _, d := range ds {
			if d.Severity == study.Error {
				r.tell(Mistake{Severity: study.Error, Cell: Cell{File: d.At.File}, Object: d.Object, Problem: d.Problem, Why: d.Why, Fix: d.Fix})
			}
		}
	}
	r.im.Files, r.im.Study = files, doc
}

// translate tells a diagnostic of the study as a mistake of the cell it comes from.
func (r *reader) translate(d study.Diagnostic) {
	c, excerpt, silent := r.place(d.At)
	if silent {
		return
	}
	if key, ok := strings.CutSuffix(d.Problem, " is not given"); ok {
		c = r.instead(d.At, key, c) // the study points at the name; the empty cell is meant
	}
	if strings.HasSuffix(d.Problem, unitless) {
		name, _ := withUnit(c.Heading)
		d.Fix += r.orHeading(c, name)
	}
	for _, in := range r.sheets { // as typed, with its decimal commas
		if in.comma && in.name == c.File && c.Text != "" {
			d.Problem = strings.ReplaceAll(d.Problem, withDots(c.Text), c.Text)
		}
	}
	m := Mistake{Severity: d.Severity, Cell: c, Object: d.Object, Problem: d.Problem, Why: d.Why, Fix: inTables(d.Fix), Excerpt: excerpt}
	for _, rel := range d.Related {
		c, excerpt, _ := r.place(rel.At)
		m.Related = append(m.Related, Related{Cell: c, Text: rel.Text, Excerpt: excerpt})
	}
	r.tell(m)
}

// instead is the cell under a heading in the row of a place, if there is such a column.
func (r *reader) instead(m study.Mark, heading string, c Cell) Cell {
	file := r.main
	if m.File == CableFile {
		file = r.cables
	}
	p, ok := file.find(m.Start)
	for _, in := range r.sheets {
		if ok && in.sheet == p.at.sheet {
			if i := in.find(heading); i >= 0 && p.at.row > in.top {
				return in.at(p.at.row, i)
			}
		}
	}
	return c
}

// orHeading says how a unit is given for a whole column.
func (r *reader) orHeading(c Cell, name string) string {
	for _, in := range r.sheets {
		if col := in.byName(plain(name)); in.name == c.File && col != nil && col.unit() != "" {
			return fmt.Sprintf("; or give the unit in the heading, as %s (%s)", col.heading, col.unit())
		}
	}
	return ""
}

// inTables says in the words of tables how to mend what the study's own
// messages would mend in the study file.
func inTables(fix string) string {
	if key, ok := strings.CutPrefix(fix, "add it under "); ok {
		for _, t := range all {
			if t.key == key {
				return "add it to " + t.file
			}
		}
	}
	return strings.Replace(fix, "say so: x/r: { value: 15, known: assumed }", "say so: write x/r into the column assumed", 1)
}

// place is the cell that a stretch of a study file comes from.
func (r *reader) place(m study.Mark) (c Cell, excerpt string, silent bool) {
	file := r.main
	if m.File == CableFile {
		file = r.cables
	}
	p, ok := file.find(m.Start)
	if m.Line == 0 || !ok || p.at.sheet == nil {
		return Cell{File: "buses.csv"}, "", false
	}
	s := p.at.sheet
	start, end := -1, -1
	if f, cell := s.fieldAt(p.at); cell && p.from >= 0 && m.Start >= p.start {
		length := f.end - f.start
		start = min(m.Start-p.start-p.from, length)
		end = min(m.End-p.start-p.from, length)
		if start < 0 || start >= length && length > 0 || m.End > p.end+1 {
			start, end = -1, -1
		}
	}
	c = s.cell(p.at.row, p.at.column, start, end)
	for _, in := range r.sheets {
		if in.sheet == s {
			c.Heading = in.at(p.at.row, p.at.column).Heading
		}
	}
	return c, s.line(c.Place.Line), p.silent
}

// fieldAt is the field of a cell, if the sheet has it.
func (s *sheet) fieldAt(c cellRef) (field, bool) {
	if c.row < 0 || c.row >= len(s.rows) || c.column < 0 || c.column >= len(s.rows[c.row].fields) {
		return field{}, false
	}
	return s.rows[c.row].fields[c.column], true
}

// memory is a file system of the files of a study.
type memory []study.SourceFile

// Open opens a file.
func (m memory) Open(name string) (fs.File, error) {
	for _, f := range m {
		if f.Name == name {
			return &open{bytes.NewReader(f.Text)}, nil
		}
	}
	return nil, &fs.PathError{Op: "open", Path: name, Err: fs.ErrNotExist}
}

type open struct{ *bytes.Reader }

// Stat has nothing to say: the reader of a study does without.
func (open) Stat() (fs.FileInfo, error) { return nil, fs.ErrInvalid }
func (open) Close() error               { return nil }
