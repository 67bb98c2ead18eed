package study

import (
	"encoding/json"
	"fmt"
	"io"
	"sort"
	"strings"
	"unicode/utf8"
)

// A Severity says what a Diagnostic does to the run.
type Severity int

const (
	// Warning: the study can be computed, but this is implausible or unused.
	Warning Severity = iota
	// Error: the study cannot be computed as it stands.
	Error
)

func (s Severity) String() string {
	if s == Error {
		return "error"
	}
	return "warning"
}

// A Diagnostic is one doubt about the document, told in the words of its author.
type Diagnostic struct {
	Severity Severity
	At       Mark
	Object   string // what: `transformer "T1", impedance`
	Problem  string // what is wrong, with the value and unit as typed
	Why      string // the rule it breaks, with its source; "" where the problem says it all
	Fix      string // the change to make; "" if none is safe to advise
	Excerpt  string // the line of the file at At, without its line end
	Related  []Related
}

// A Related is a second place that a Diagnostic is about.
type Related struct {
	At      Mark
	Text    string // "first defined here"
	Excerpt string
}

func (d Diagnostic) Error() string {
	return fmt.Sprintf("%s:%d:%d: %s: %s: %s", d.At.File, d.At.Line, d.At.Col, d.Severity, d.Object, d.Problem)
}

// Diagnostics are all doubts of one pass.
type Diagnostics []Diagnostic

// Errors counts the diagnostics of severity Error.
func (ds Diagnostics) Errors() int {
	n := 0
	for _, d := range ds {
		if d.Severity == Error {
			n++
		}
	}
	return n
}

// Sort puts them in order of place: files in the order given, then line,
// column, severity and text.
func (ds Diagnostics) Sort(files []SourceFile) {
	rank := make(map[string]int, len(files))
	for i, f := range files {
		rank[f.Name] = i
	}
	sort.SliceStable(ds, func(i, j int) bool {
		a, b := ds[i], ds[j]
		if ra, rb := rank[a.At.File], rank[b.At.File]; ra != rb {
			return ra < rb
		}
		if a.At.Line != b.At.Line {
			return a.At.Line < b.At.Line
		}
		if a.At.Col != b.At.Col {
			return a.At.Col < b.At.Col
		}
		if a.Severity != b.Severity {
			return a.Severity > b.Severity
		}
		return a.Problem < b.Problem
	})
}

// Illustrate puts the excerpts into diagnostics that lack them.
func (doc *Document) Illustrate(ds Diagnostics) {
	sources := make(map[string]*source)
	for _, f := range doc.Files {
		sources[f.Name] = nil // made when wanted
	}
	excerpt := func(m Mark) string {
		s, known := sources[m.File]
		if !known {
			return ""
		}
		if s == nil {
			for _, f := range doc.Files {
				if f.Name == m.File {
					s = newSource(f.Name, f.Text)
				}
			}
			sources[m.File] = s
		}
		line := s.line(m.Line)
		if len(line) > maxExcerpt {
			return ""
		}
		return strings.ToValidUTF8(line, "\ufffd")
	}
	for i := range ds {
		d := &ds[i]
		if d.Excerpt == "" {
			d.Excerpt = excerpt(d.At)
		}
		for j := range d.Related {
			if d.Related[j].Excerpt == "" {
				d.Related[j].Excerpt = excerpt(d.Related[j].At)
			}
		}
	}
}

const (
	maxExcerpt = 2000 // bytes; a longer line shows nothing
	pageWidth  = 100  // characters of a line of text output
)

// Text returns the diagnostic as it is shown to a reader:
//
//	study.yaml:14:17: transformer "T1", impedance: "8.5" has no unit
//	    impedance: 8.5
//	               ^^^
//	  why: ...
//	  fix: ...
//
// Lines are at most 100 characters, but for long words. It ends with a line end.
func (d Diagnostic) Text() string {
	related := make([]string, len(d.Related))
	for i, r := range d.Related {
		related[i] = r.At.String()
	}
	return d.TextAt(d.At.String(), related)
}

// TextAt is Text with the places in the caller's words: its own, and one for
// each of Related. A table is read by row and column, not by line.
func (d Diagnostic) TextAt(place string, related []string) string {
	var b strings.Builder
	head := place + ": "
	if d.Severity == Warning {
		head += "warning: "
	}
	if d.Object != "" {
		head += d.Object + ": "
	}
	wrap(&b, "", head+d.Problem)
	illustrate(&b, d.At, d.Excerpt)
	if d.Why != "" {
		wrap(&b, "  why: ", d.Why)
	}
	if d.Fix != "" {
		wrap(&b, "  fix: ", d.Fix)
	}
	for i, r := range d.Related {
		wrap(&b, "  see: ", related[i]+": "+r.Text)
		illustrate(&b, r.At, r.Excerpt)
	}
	return b.String()
}

// String returns file:line:column.
func (m Mark) String() string { return fmt.Sprintf("%s:%d:%d", m.File, m.Line, m.Col) }

// Render writes the diagnostics as text, with an empty line after each.
func Render(w io.Writer, ds Diagnostics) error {
	for _, d := range ds {
		if _, err := io.WriteString(w, d.Text()+"\n"); err != nil {
			return err
		}
	}
	return nil
}

// wrap writes text in lines of the page's width, those after the first
// indented to where the text began.
func wrap(b *strings.Builder, lead, text string) {
	indent := utf8.RuneCountInString(lead)
	if indent == 0 {
		indent = 2
	}
	b.WriteString(lead)
	at := utf8.RuneCountInString(lead)
	for i, word := range strings.Split(visible(text), " ") {
		n := utf8.RuneCountInString(word)
		switch {
		case i == 0:
		case at+1+n > pageWidth && at > indent:
			b.WriteString("\n" + strings.Repeat(" ", indent))
			at = indent
		default:
			b.WriteByte(' ')
			at++
		}
		b.WriteString(word)
		at += n
	}
	b.WriteByte('\n')
}

// illustrate writes the line of a place without its indent, with carets below
// the place. Of a long line it shows the part around the place.
func illustrate(b *strings.Builder, at Mark, line string) {
	if line == "" {
		return
	}
	r := []rune(line)
	from := min(max(at.Col-1, 0), len(r)) // the carets, in characters
	to := from
	for bytes := at.End - at.Start; bytes > 0 && to < len(r); to++ {
		bytes -= utf8.RuneLen(r[to])
	}
	to = max(to, from+1)
	start := 0
	for start < from && (r[start] == ' ' || r[start] == '\t') {
		start++
	}
	const width = pageWidth - 4
	before, after := "", ""
	if from-start > width*2/3 {
		start = from - width/3
		before = "..."
	}
	end := len(r)
	if end-start > width-len(before) {
		end = start + width - len(before) - 3
		after = "..."
	}
	b.WriteString("    " + before + visible(string(r[start:max(start, end)])) + after + "\n")
	carets := max(1, min(to, max(end, from+1))-from)
	b.WriteString(strings.Repeat(" ", 4+len(before)+from-start) + strings.Repeat("^", carets) + "\n")
}

// visible makes each character of a line take one place on a terminal and do
// nothing else there.
func visible(s string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r == '\t':
			return ' '
		case r < ' ' || r >= 0x7f && r < 0xa0 || r == 0x2028 || r == 0x2029 || r == 0xfeff:
			return utf8.RuneError
		}
		return r
	}, s)
}

// MarshalJSON returns the diagnostic as JSON. Keys: file, line, column,
// severity (error or warning), object, problem, why, fix, excerpt, and
// related, a list of file, line, column, text and excerpt.
func (d Diagnostic) MarshalJSON() ([]byte, error) {
	related := d.Related
	if related == nil {
		related = []Related{}
	}
	return json.Marshal(struct {
		File     string    `json:"file"`
		Line     int       `json:"line"`
		Column   int       `json:"column"`
		Severity string    `json:"severity"`
		Object   string    `json:"object"`
		Problem  string    `json:"problem"`
		Why      string    `json:"why"`
		Fix      string    `json:"fix"`
		Excerpt  string    `json:"excerpt"`
		Related  []Related `json:"related"`
	}{d.At.File, d.At.Line, d.At.Col, d.Severity.String(), d.Object, d.Problem, d.Why, d.Fix, d.Excerpt, related})
}

// MarshalJSON returns the second place as JSON.
func (r Related) MarshalJSON() ([]byte, error) {
	return json.Marshal(struct {
		File    string `json:"file"`
		Line    int    `json:"line"`
		Column  int    `json:"column"`
		Text    string `json:"text"`
		Excerpt string `json:"excerpt"`
	}{r.At.File, r.At.Line, r.At.Col, r.Text, r.Excerpt})
}
