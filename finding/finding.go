// Package finding holds judgements: a verdict with its number, limit, target,
// reason and cure.
package finding

import (
	"encoding/json"
	"fmt"
	"math"
	"sort"
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

// MarshalJSON writes the word.
func (v Verdict) MarshalJSON() ([]byte, error) { return json.Marshal(v.String()) }

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
	Condition   string         `json:"condition,omitempty"` // where the worst value stands
	Fault       string         `json:"fault,omitempty"`
	Place       string         `json:"place,omitempty"`
	Basis       string         `json:"basis,omitempty"`
	Explanation string         `json:"explanation,omitempty"`
	Cure        string         `json:"cure,omitempty"`
	Missing     []string       `json:"missing,omitempty"` // data that would settle it
	Source      string         `json:"source,omitempty"`  // file:line:column of its cause
	Working     []working.Step `json:"working,omitempty"`
}

// ID is the identity of a finding: chapter/rule/subjects.
func (f *Finding) ID() string {
	return strings.Join(append([]string{f.Chapter, f.Rule}, f.Subjects...), "/")
}

// Sort puts the worst first, then by identity.
func Sort(fs []Finding) {
	rank := map[Verdict]int{Fails: 0, Thin: 1, Unproven: 2, Holds: 3}
	sort.SliceStable(fs, func(i, j int) bool {
		if a, b := rank[fs[i].Verdict], rank[fs[j].Verdict]; a != b {
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

// Summary is the tally in words: "0 fail, 1 thin, 2 unproven, 14 hold".
func Summary(fs []Finding) string {
	t := Tally(fs)
	return fmt.Sprintf("%d fail, %d thin, %d unproven, %d hold", t[Fails], t[Thin], t[Unproven], t[Holds])
}
