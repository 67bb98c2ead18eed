package finding

import (
	"fmt"
	"math"
	"slices"
)

// An Acceptance says that somebody has looked at a finding, found that it may
// stand, and why. It is kept beside the content of a study and changes no
// verdict: an accepted finding counts as settled until it gets worse.
type Acceptance struct {
	Verdict Verdict   `json:"verdict"`         // when it was accepted
	Value   *Quantity `json:"value,omitempty"` // when it was accepted
	Reason  string    `json:"reason"`
	By      string    `json:"by"`
	Date    string    `json:"date"` // as given, year-month-day
	// Reopened says what got worse since; "" where the acceptance stands.
	Reopened string `json:"reopened,omitempty"`
	Source   string `json:"source,omitempty"` // file:line:column of the acceptance
}

// A Direction says which way a value of a finding gets worse.
type Direction string

const (
	Greater Direction = "greater"
	Smaller Direction = "smaller"
	Away    Direction = "away" // further from zero, either way
)

// direction is the way that a value gets worse: as stated, or by what limit
// and target say. Where neither says, it is "", and any change counts as worse.
func (f *Finding) direction() Direction {
	switch {
	case f.Worse != "":
		return f.Worse
	case f.Limit != nil && f.Target != nil && f.Limit.Value > f.Target.Value:
		return Greater
	case f.Limit != nil && f.Target != nil && f.Limit.Value < f.Target.Value:
		return Smaller
	case f.Limit != nil && f.Value != nil && f.Value.Value > f.Limit.Value:
		return Greater
	case f.Limit != nil && f.Value != nil && f.Value.Value < f.Limit.Value:
		return Smaller
	}
	return ""
}

// written is the part of a value by which writing it with the digits of
// Quantity.Exact may change it, doubled: six digits are within 5e-6.
const written = 1e-5

// Accept attaches an acceptance to the finding, and says in it whether the
// finding has got worse since: another verdict, but for one that fails and is
// thin now; or a value further on the wrong way. Better values stay accepted.
// A finding that holds needs none, and is left alone.
func (f *Finding) Accept(a Acceptance) {
	if f.Verdict == Holds {
		return
	}
	a.Reopened = f.worsened(a)
	f.Acceptance = &a
}

func (f *Finding) worsened(a Acceptance) string {
	better := a.Verdict == Fails && f.Verdict == Thin
	switch {
	case f.Verdict != a.Verdict && !better:
		return fmt.Sprintf("the verdict was %s when accepted, and is %s now", a.Verdict, f.Verdict)
	case f.Value == nil && a.Value == nil:
		return ""
	case f.Value == nil:
		return fmt.Sprintf("it stood at %s when accepted, and has no value now", a.Value)
	case a.Value == nil:
		return fmt.Sprintf("the acceptance states no value, and it stands at %s", f.Value)
	case f.Value.Unit != a.Value.Unit:
		return fmt.Sprintf("it stood at %s when accepted, which cannot be compared with %s", a.Value, f.Value)
	}
	was, is := a.Value.Value, f.Value.Value
	slack := written * math.Abs(was)
	worse := false
	switch f.direction() {
	case Greater:
		worse = !(is <= was+slack) // written so that NaN is worse
	case Smaller:
		worse = !(is >= was-slack)
	case Away:
		worse = !(math.Abs(is) <= math.Abs(was)+slack)
	default:
		worse = !(math.Abs(is-was) <= slack)
	}
	if !worse {
		return ""
	}
	from, to := a.Value.String(), f.Value.String()
	shownWas, err1 := ParseQuantity(from)
	shownIs, err2 := ParseQuantity(to)
	if err1 == nil && err2 == nil && shownWas == shownIs { // they differ beyond the digits usually shown
		from, to = a.Value.Exact(), f.Value.Exact()
	}
	return fmt.Sprintf("it stood at %s when accepted, and stands at %s now", from, to)
}

// IsAccepted tells whether an acceptance stands.
func (f *Finding) IsAccepted() bool {
	return f.Verdict != Holds && f.Acceptance != nil && f.Acceptance.Reopened == ""
}

// IsReopened tells whether it was accepted and has got worse.
func (f *Finding) IsReopened() bool {
	return f.Verdict != Holds && f.Acceptance != nil && f.Acceptance.Reopened != ""
}

// Open are the findings of some verdicts that no acceptance settles.
func Open(fs []Finding, verdicts ...Verdict) int {
	n := 0
	for i := range fs {
		if !fs[i].IsAccepted() && slices.Contains(verdicts, fs[i].Verdict) {
			n++
		}
	}
	return n
}
