package conductor

import (
	"fmt"
	"math"
	"strings"
)

// An Error is one fault in the description of a line.
type Error struct {
	Object  string // what: `wire "A"`
	Problem string // what is wrong, with value and unit
	Why     string // why it matters; "" where the problem says it all
	Fix     string // the change to make
}

func (e *Error) Error() string {
	s := e.Object + ": " + e.Problem
	if e.Why != "" {
		s += "; why: " + e.Why
	}
	if e.Fix != "" {
		s += "; fix: " + e.Fix
	}
	return s
}

// Errors are all faults found in one pass, in the order of the description.
type Errors []*Error

func (es Errors) Error() string {
	lines := make([]string, len(es))
	for i, e := range es {
		lines[i] = e.Error()
	}
	return strings.Join(lines, "\n")
}

// Unwrap gives the faults one by one.
func (es Errors) Unwrap() []error {
	list := make([]error, len(es))
	for i, e := range es {
		list[i] = e
	}
	return list
}

// err is nil where there is no fault.
func (es Errors) err() error {
	if len(es) == 0 {
		return nil
	}
	return es
}

func (es *Errors) add(object, why, fix, format string, args ...any) {
	*es = append(*es, &Error{object, fmt.Sprintf(format, args...), why, fix})
}

// positive refuses what is not a finite number above zero, and tells whether it was one.
func (es *Errors) positive(object, what, unit, fix string, value float64) bool {
	if value > 0 && !math.IsInf(value, 1) {
		return true
	}
	es.add(object, what+" is a physical size or property, above zero", fix, "%s is %g %s", what, value, unit)
	return false
}

// finite refuses NaN and infinities.
func (es *Errors) finite(object, what, unit string, value float64) bool {
	if !math.IsNaN(value) && !math.IsInf(value, 0) {
		return true
	}
	es.add(object, "a position is a finite number", "give "+what+" in m", "%s is %g %s", what, value, unit)
	return false
}
