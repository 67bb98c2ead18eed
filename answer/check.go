package answer

import (
	"fmt"

	"feederwright/finding"
	"feederwright/review"
	"feederwright/study"
)

// Check is the output of check --format json. Keys only grow.
type Check struct {
	Study       string            `json:"study"`
	Conditions  []string          `json:"conditions"`
	Diagnostics study.Diagnostics `json:"diagnostics"`
	Findings    []finding.Finding `json:"findings"`
	Tally       map[string]int    `json:"tally"`
	Assumptions []Assumption      `json:"assumptions"`
	Defaults    []string          `json:"defaults"`
	Hash        string            `json:"hash,omitempty"`
	Accepted    int               `json:"accepted"`
	Reopened    int               `json:"reopened"`
	Stale       []review.Stale    `json:"stale_acceptances"`
}

type Assumption struct {
	Object string `json:"object"`
	Key    string `json:"key"`
	Value  string `json:"value"`
	Source string `json:"source,omitempty"`
	Place  string `json:"place"`
}

// AssumptionsOf lists the values that a study calls assumed.
func AssumptionsOf(doc *study.Document) []Assumption {
	list := []Assumption{}
	for _, a := range doc.Assumptions() {
		list = append(list, Assumption{a.Object, a.Key, a.Text, a.Source, fmt.Sprintf("%s:%d:%d", a.At.File, a.At.Line, a.At.Col)})
	}
	return list
}

// CheckOf answers with a check. doc is nil where the file could not be read, and r where nothing was computed; r is judged.
func CheckOf(doc *study.Document, states []study.State, diags study.Diagnostics, r *review.Report) Check {
	out := Check{Diagnostics: diags, Conditions: []string{}, Findings: []finding.Finding{}, Tally: map[string]int{}, Assumptions: []Assumption{}, Defaults: []string{}, Stale: []review.Stale{}}
	if out.Diagnostics == nil {
		out.Diagnostics = study.Diagnostics{}
	}
	if doc != nil {
		out.Study = doc.Title.V
		out.Assumptions = AssumptionsOf(doc)
	}
	if r == nil {
		return out
	}
	for _, s := range states {
		out.Conditions = append(out.Conditions, s.Name)
	}
	out.Findings = append(out.Findings, r.Findings...)
	tally := finding.Tally(r.Findings)
	for _, v := range finding.Verdicts {
		out.Tally[v.String()] = tally[v]
	}
	out.Defaults = append(out.Defaults, r.Defaults...)
	out.Hash = study.Hash(doc)
	out.Stale = append(out.Stale, r.Stale...)
	for i := range r.Findings {
		if r.Findings[i].IsAccepted() {
			out.Accepted++
		}
		if r.Findings[i].IsReopened() {
			out.Reopened++
		}
	}
	return out
}
