package review

import (
	"feederwright/finding"
	"feederwright/study"
)

// A Stale acceptance of the study has nothing to accept.
type Stale struct {
	ID     string `json:"finding"`
	Why    string `json:"why"`
	Reason string `json:"reason"`
	By     string `json:"by"`
	Date   string `json:"date"`
	Source string `json:"source"` // file:line:column
}

// accept attaches the acceptances of the study to its findings.
func (r *Report) accept() {
	at := make(map[string]*finding.Finding, len(r.Findings))
	for i := range r.Findings {
		at[r.Findings[i].ID()] = &r.Findings[i]
	}
	for i := range r.Doc.Accepted.Entries {
		e := &r.Doc.Accepted.Entries[i]
		stale := Stale{ID: e.Name, Reason: e.Item.Reason.V, By: e.Item.By.V, Date: e.Item.Date.V, Source: source(e.NameAt)}
		switch f := at[e.Name]; {
		case f == nil:
			stale.Why = "the study has no such finding now"
		case f.Verdict == finding.Holds:
			stale.Why = "the finding holds now"
		default:
			f.Accept(acceptance(e))
			continue
		}
		r.Stale = append(r.Stale, stale)
	}
}

func acceptance(e *study.Entry[study.Acceptance]) finding.Acceptance {
	a := finding.Acceptance{Reason: e.Item.Reason.V, By: e.Item.By.V, Date: e.Item.Date.V, Source: source(e.NameAt)}
	a.Verdict, _ = finding.ParseVerdict(e.Item.Verdict.V) // one of its words, by the format
	if e.Item.StoodAt.Given {
		if q, err := finding.ParseQuantity(e.Item.StoodAt.V); err == nil { // else told by Validate
			a.Value = &q
		}
	}
	return a
}

// Find returns the finding of an identity, or nil.
func (r *Report) Find(id string) *finding.Finding {
	for i := range r.Findings {
		if r.Findings[i].ID() == id {
			return &r.Findings[i]
		}
	}
	return nil
}
