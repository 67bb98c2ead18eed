// Package finding holds judgements: a verdict with its number, limit, target,
// reason and cure.
package finding

import (
	"fmt"
	"math"
	"sort"
	"strconv"
	"strings"

	"feederwright/working"
)

// A Verdict is the outcome of a rule. Each rule has a limit and a target.
type Verdict int

const (
	Holds    Verdict = iota // the target is met
	Thin                    // the limit is met, the target is not
	Fails                   // the limit is broken
	Unproven                // a datum is missing
)

var verdictNames = []string{"holds", "thin", "fails", "unproven"}

func (v Verdict) String() string { return verdictNames[v] }

// MarshalText writes the word.
func (v Verdict) MarshalText() ([]byte, error) { return []byte(v.String()), nil }

// UnmarshalText reads it.
func (v *Verdict) UnmarshalText(text []byte) error {
	x, ok := ParseVerdict(string(text))
	if !ok {
		return fmt.Errorf("%q is no verdict; verdicts are %s", text, strings.Join(verdictNames, ", "))
	}
	*v = x
	return nil
}

// ParseVerdict reads the word of a verdict.
func ParseVerdict(word string) (Verdict, bool) {
	for i, name := range verdictNames {
		if word == name {
			return Verdict(i), true
		}
	}
	return Holds, false
}

// Verdicts are all verdicts, worst first.
var Verdicts = []Verdict{Fails, Thin, Unproven, Holds}

// A Quantity is a number with its unit, spelled as in tables.
type Quantity struct {
	Value float64 `json:"value"`
	Unit  string  `json:"unit"`
}

func (q Quantity) String() string {
	if q.Value == math.Trunc(q.Value) && math.Abs(q.Value) < 1e6 { // a count, or a round limit
		return strings.TrimSpace(fmt.Sprintf("%.0f %s", q.Value, q.Unit))
	}
	if math.Abs(q.Value) < 1e-4 {
		return strings.TrimSpace(fmt.Sprintf("%.1e %s", q.Value, q.Unit))
	}
	return strings.TrimSpace(working.Number(q.Value, 4) + " " + q.Unit)
}

// Exact is the quantity with six significant digits, in a form that
// ParseQuantity reads.
func (q Quantity) Exact() string {
	return strings.TrimSpace(strconv.FormatFloat(q.Value, 'g', 6, 64) + " " + q.Unit)
}

// ParseQuantity reads a number and the unit behind it, if any.
func ParseQuantity(text string) (Quantity, error) {
	number, unit, _ := strings.Cut(strings.TrimSpace(text), " ")
	v, err := strconv.ParseFloat(number, 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
		return Quantity{}, fmt.Errorf("%q does not begin with a number", text)
	}
	return Quantity{v, strings.TrimSpace(unit)}, nil
}

// A Finding is one judgement. Rule and Subjects identify it from run to run.
type Finding struct {
	Chapter     string         `json:"chapter"`  // supply, faults ...
	Rule        string         `json:"rule"`     // what is judged
	Subjects    []string       `json:"subjects"` // names from the study
	Verdict     Verdict        `json:"verdict"`
	Title       string         `json:"title"` // one sentence
	Value       *Quantity      `json:"value,omitempty"`
	Limit       *Quantity      `json:"limit,omitempty"`
	Target      *Quantity      `json:"target,omitempty"`
	Worse       Direction      `json:"worse,omitempty"`     // which way the value gets worse, where limit and target do not say
	Condition   string         `json:"condition,omitempty"` // where the worst value stands
	Fault       string         `json:"fault,omitempty"`
	Place       string         `json:"place,omitempty"`
	Basis       string         `json:"basis,omitempty"`
	Explanation string         `json:"explanation,omitempty"`
	Cure        string         `json:"cure,omitempty"`
	Missing     []string       `json:"missing,omitempty"` // data that would settle it
	Source      string         `json:"source,omitempty"`  // file:line:column of its cause
	Working     []working.Step `json:"working,omitempty"`
	Acceptance  *Acceptance    `json:"accepted,omitempty"` // that somebody accepted it, and whether that stands
}

// ID is the identity of a finding: chapter/rule/subjects.
func (f *Finding) ID() string {
	return strings.Join(append([]string{f.Chapter, f.Rule}, f.Subjects...), "/")
}

// Sort puts the worst first, what is accepted behind what is open, then by
// identity.
func Sort(fs []Finding) {
	verdict := map[Verdict]int{Fails: 0, Thin: 1, Unproven: 2, Holds: 6}
	rank := func(f *Finding) int {
		if f.IsAccepted() {
			return verdict[f.Verdict] + 3
		}
		return verdict[f.Verdict]
	}
	sort.SliceStable(fs, func(i, j int) bool {
		if a, b := rank(&fs[i]), rank(&fs[j]); a != b {
			return a < b
		}
		return fs[i].ID() < fs[j].ID()
	})
}

// Tally counts verdicts.
func Tally(fs []Finding) map[Verdict]int {
	t := make(map[Verdict]int)
	for _, f := range fs {
		t[f.Verdict]++
	}
	return t
}

// Summary is the tally in words: "0 fail, 1 thin, 2 unproven, 14 hold", and how
// many of those that do not hold are accepted, or were and are open again.
func Summary(fs []Finding) string {
	t := Tally(fs)
	text := fmt.Sprintf("%d fail, %d thin, %d unproven, %d hold", t[Fails], t[Thin], t[Unproven], t[Holds])
	accepted, reopened := 0, 0
	for i := range fs {
		switch {
		case fs[i].IsAccepted():
			accepted++
		case fs[i].IsReopened():
			reopened++
		}
	}
	if accepted > 0 {
		text += fmt.Sprintf("; %d accepted", accepted)
	}
	if reopened > 0 {
		text += fmt.Sprintf("; %d reopened", reopened)
	}
	return text
}
