package study

import (
	"fmt"
	"sort"
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
