// Package evidence holds the program's methods against the outside: published
// examples, closed forms, and the check values of the demonstration. Each case
// is data with its source and a run of the program's own code.
package evidence

import (
	"fmt"
	"math"
)

// A Label says how an expected value is known.
type Label string

const (
	Published      Label = "published"       // printed in the source
	Reconstructed  Label = "reconstructed"   // a published result, its data pieced together
	Derived        Label = "derived"         // from another method: closed form, by hand, another program
	CommonPractice Label = "common practice" // a rule of the trade without a source
	OurOwn         Label = "our own"         // the demonstration's check values, from two calculations of ours
)

// Labels are all labels, the strongest first.
var Labels = []Label{Published, Reconstructed, Derived, CommonPractice, OurOwn}

// A Case is one check: one method against one source. Many values of one
// formula are one check.
type Case struct {
	ID     string
	Title  string
	Method string // what of the program it checks
	Source string // publication with edition and place; "[from memory]" where so
	Label  Label
	Note   string
	Run    func() ([]Value, error)
}

// A Value is one number of a check.
type Value struct {
	What      string
	Expected  float64
	Computed  float64
	Unit      string
	Tolerance float64 // absolute, in Unit
}

// Deviation is computed less expected.
func (v Value) Deviation() float64 { return v.Computed - v.Expected }

// Holds tells whether the deviation is within the tolerance.
func (v Value) Holds() bool { return math.Abs(v.Deviation()) <= v.Tolerance } // false for NaN

// An Outcome is a case that was run.
type Outcome struct {
	Case   Case
	Values []Value
	Err    error
}

// Holds tells whether every value holds, and there is one.
func (o Outcome) Holds() bool {
	if o.Err != nil || len(o.Values) == 0 {
		return false
	}
	for _, v := range o.Values {
		if !v.Holds() {
			return false
		}
	}
	return true
}

// Cases are all checks, in the order of the book.
func Cases() []Case {
	var list []Case
	for _, part := range [][]Case{textbook(), patterns(), radial(), earthing(), practice(), velmora()} {
		list = append(list, part...)
	}
	return list
}

// Verify runs the cases.
func Verify(cases []Case) []Outcome {
	out := make([]Outcome, len(cases))
	for i, c := range cases {
		values, err := c.Run()
		out[i] = Outcome{c, values, err}
	}
	return out
}

// A Gap is a known example that is not run, and why.
type Gap struct{ What, Why string }

// Gaps are the examples known to us that this version doesn't run.
var Gaps = []Gap{
	{"IEC TR 60909-4 networks (eight-bus, 400 V, 33/6 kV with motors): initial, peak, breaking and thermal currents", "the duties of IEC 60909-0 are not computed yet"},
	{"IEEE C37.010, C37.13 and 551 factors: asymmetry, multiplying factors, peak", "the duties of the IEEE practice are not computed yet"},
	{"line and cable constants from geometry (Kersting; IEEE test feeders 601 to 607; tape shield)", "line constants are typed in, not computed from geometry yet"},
	{"load flows (IEEE 4-node feeder, Saadat, closed form)", "load flow is not computed yet"},
	{"IEEE 13-node feeder, fault currents", "its line constants are given as matrices and could be typed, but its regulator cannot be modelled yet; published fault currents could not be read"},
}

// within is half of the last digit of a printed value: digits decimals.
func within(decimals int) float64 { return 0.5000001 * math.Pow(10, -float64(decimals)) }

func failed(id string, err error) error { return fmt.Errorf("%s: %w", id, err) }
