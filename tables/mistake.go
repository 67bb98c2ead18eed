package tables

import (
	"encoding/json"
	"fmt"
	"sort"
	"strings"

	"feederwright/study"
)

// A Cell is a place in a table as a spreadsheet shows it. A Row of 0 means
// the whole file, an empty Column the whole row.
type Cell struct {
	File    string
	Row     int        // 1 is the row of the headings
	Column  string     // letter: A, B ... Z, AA
	Heading string     // what stands above, as typed
	Text    string     // what stands in the cell
	Place   study.Mark // the same in the file as text
}

// String returns the place in words: sections.csv, row 4, column E (length).
func (c Cell) String() string {
	switch {
	case c.Row == 0:
		return c.File
	case c.Column == "":
		return fmt.Sprintf("%s, row %d", c.File, c.Row)
	case c.Heading == "" || c.Row == 1:
		return fmt.Sprintf("%s, row %d, column %s", c.File, c.Row, c.Column)
	}
	return fmt.Sprintf("%s, row %d, column %s (%s)", c.File, c.Row, c.Column, c.Heading)
}

// A Mistake is one doubt about the tables.
type Mistake struct {
	Severity study.Severity
	Cell     Cell
	Object   string // what: `line "S2", length`
	Problem  string // what is wrong, with the text as typed
	Why      string // the rule it breaks; "" where the problem says it all
	Fix      string // the change to make; "" if none is safe to advise
	Excerpt  string // the line of the file
	Related  []Related
}

// A Related is a second place that a Mistake is about.
type Related struct {
	Cell    Cell
	Text    string // "first defined here"
	Excerpt string
}

// Mistakes are all doubts of one pass.
type Mistakes []Mistake

// Errors counts those for which no study is made.
func (ms Mistakes) Errors() int {
	n := 0
	for _, m := range ms {
		if m.Severity == study.Error {
			n++
		}
	}
	return n
}

// Text returns the mistake in the layout of a study's diagnostics, with the
// place by row and column.
func (m Mistake) Text() string {
	d := study.Diagnostic{Severity: m.Severity, At: m.Cell.Place, Object: m.Object, Problem: m.Problem, Why: m.Why, Fix: m.Fix, Excerpt: m.Excerpt}
	related := make([]string, len(m.Related))
	for i, r := range m.Related {
		d.Related = append(d.Related, study.Related{At: r.Cell.Place, Text: r.Text, Excerpt: r.Excerpt})
		related[i] = r.Cell.String()
	}
	return d.TextAt(m.Cell.String(), related)
}

// sort puts them in order of place, files in the order of the tables.
func (ms Mistakes) sort() {
	rank := make(map[string]int)
	for i, t := range all {
		rank[t.file] = i + 1
	}
	sort.SliceStable(ms, func(i, j int) bool {
		a, b := ms[i], ms[j]
		if ra, rb := rank[a.Cell.File], rank[b.Cell.File]; ra != rb {
			return ra < rb
		}
		if a.Cell.File != b.Cell.File {
			return a.Cell.File < b.Cell.File
		}
		if a.Cell.Row != b.Cell.Row {
			return a.Cell.Row < b.Cell.Row
		}
		if a.Cell.Place.Start != b.Cell.Place.Start {
			return a.Cell.Place.Start < b.Cell.Place.Start
		}
		if a.Severity != b.Severity {
			return a.Severity > b.Severity
		}
		return a.Problem < b.Problem
	})
}

// cellJSON is a place as JSON. Row 0 and an empty column mean that it is none
// in particular.
type cellJSON struct {
	File    string `json:"file"`
	Row     int    `json:"row"`
	Column  string `json:"column"`
	Heading string `json:"heading"`
	Cell    string `json:"cell"`
}

func (c Cell) json() cellJSON { return cellJSON{c.File, c.Row, c.Column, c.Heading, c.Text} }

// MarshalJSON returns the place as JSON. Keys: file, row, column (the letter),
// heading, and cell, its text.
func (c Cell) MarshalJSON() ([]byte, error) { return json.Marshal(c.json()) }

// MarshalJSON returns the mistake as JSON. Keys: those of its Cell, severity
// (error or warning), object, problem, why, fix, excerpt, and related, a list
// of places with text and excerpt.
func (m Mistake) MarshalJSON() ([]byte, error) {
	type relatedJSON struct {
		cellJSON
		Text    string `json:"text"`
		Excerpt string `json:"excerpt"`
	}
	related := []relatedJSON{}
	for _, r := range m.Related {
		related = append(related, relatedJSON{r.Cell.json(), r.Text, r.Excerpt})
	}
	return json.Marshal(struct {
		cellJSON
		Severity string        `json:"severity"`
		Object   string        `json:"object"`
		Problem  string        `json:"problem"`
		Why      string        `json:"why"`
		Fix      string        `json:"fix"`
		Excerpt  string        `json:"excerpt"`
		Related  []relatedJSON `json:"related"`
	}{m.Cell.json(), m.Severity.String(), m.Object, m.Problem, m.Why, m.Fix, m.Excerpt, related})
}

// letters names a column, from 0, as spreadsheets do: A ... Z, AA, AB ...
func letters(column int) string {
	var b []byte
	for n := column + 1; n > 0; n = (n - 1) / 26 {
		b = append(b, byte('A'+(n-1)%26))
	}
	for i, j := 0, len(b)-1; i < j; i, j = i+1, j-1 {
		b[i], b[j] = b[j], b[i]
	}
	return string(b)
}

// listed joins words: a, b and c.
func listed(words []string, last string) string {
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:len(words)-1], ", ") + " " + last + " " + words[len(words)-1]
}
