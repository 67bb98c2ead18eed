package dossier

import (
	"fmt"
	"strings"

	"feederwright/finding"
	"feederwright/study"
)

func zeroMethod() *study.Method { return &study.Method{} }

// acceptance is what is said of a finding that somebody has accepted, or nil.
func acceptance(f *finding.Finding) []Fact {
	a := f.Acceptance
	if a == nil {
		return nil
	}
	at := a.Verdict.String()
	if a.Value != nil {
		at += " at " + a.Value.String()
	}
	facts := []Fact{{"Accepted", T(fmt.Sprintf("by %s on %s, when it was %s: %s", a.By, a.Date, at, a.Reason))}}
	if a.Reopened != "" {
		facts = append(facts, Fact{"Open again", Rich{}.Strong(a.Reopened)})
	}
	return facts
}

func findings(in *Input) ([]Block, error) {
	fs := in.Report.Findings
	blocks := []Block{Para{Text: T(fmt.Sprintf("%s. The worst come first; one finding is one rule applied to one subject, with the worst condition named.", finding.Summary(fs)))}}
	sheet := &Table{Name: "findings", Caption: "All findings", SheetOnly: true, Columns: []Column{
		{Head: "Verdict", Key: true}, {Head: "Finding"}, {Head: "Value", Align: Right}, {Head: "Unit"}, {Head: "Limit", Align: Right}, {Head: "Target", Align: Right},
		{Head: "Condition"}, {Head: "Place"}, {Head: "Fault"}, {Head: "Basis"}, {Head: "Cure"}, {Head: "Identity"}, {Head: "Accepted"}}}
	held := &Table{Name: "findings that hold", Caption: "Findings that hold",
		Columns: []Column{{Head: "Finding", Key: true}, {Head: "Value and limit"}, {Head: "Where"}, {Head: "Basis"}}}
	for i := range fs {
		f := &fs[i]
		row := Row{Cells: []Cell{Words(verdictMark(f.Verdict)), Words(f.Title)}}
		quantity := func(q *finding.Quantity) Cell {
			if q == nil {
				return Cell{}
			}
			v := q.Value
			return Cell{Text: q.String(), Number: &v}
		}
		unit := ""
		if f.Value != nil {
			unit = f.Value.Unit
		}
		row.Cells = append(row.Cells, quantity(f.Value), Words(unit), quantity(f.Limit), quantity(f.Target),
			Words(f.Condition), Words(f.Place), Words(f.Fault), Words(f.Basis), Words(f.Cure), Words(f.ID()), Words(acceptedText(f)))
		sheet.Rows = append(sheet.Rows, row)
		if f.Verdict == finding.Holds {
			held.Rows = append(held.Rows, Row{Cells: []Cell{Words(f.Title), Words(orDash(amounts(f))), Words(orDash(where(in, f))), Words(orDash(f.Basis))}})
			continue
		}
		mark := verdictMark(f.Verdict)
		switch {
		case f.IsAccepted():
			mark += ", accepted"
		case f.IsReopened():
			mark += ", reopened"
		}
		card := Card{Mark: mark, Title: f.Title, ID: f.ID()}
		for g, v := range finding.Verdicts {
			if v == f.Verdict {
				card.Grade = g
			}
		}
		for _, p := range []struct{ term, text string }{
			{"Value", amounts(f)}, {"Where", where(in, f)}, {"Why", f.Explanation}, {"Missing", strings.Join(f.Missing, "; ")},
			{"Cure", f.Cure}, {"Basis", f.Basis}, {"In the file", f.Source}} {
			if p.text != "" {
				card.Facts = append(card.Facts, Fact{p.term, T(p.text)})
			}
		}
		card.Facts = append(card.Facts, acceptance(f)...)
		blocks = append(blocks, card)
		if len(f.Working) > 0 {
			blocks = append(blocks, Steps{Title: "Working of this finding", Steps: f.Working})
		}
	}
	if len(in.Report.Stale) > 0 {
		t := &Table{Name: "stale acceptances", Caption: "Acceptances that apply to nothing",
			Columns: []Column{{Head: "Finding", Key: true}, {Head: "Why"}, {Head: "Accepted by"}, {Head: "Date"}, {Head: "Reason given"}}}
		for _, s := range in.Report.Stale {
			t.Rows = append(t.Rows, Row{Cells: []Cell{Words(s.ID), Words(s.Why), Words(s.By), Words(s.Date), Words(s.Reason)}})
		}
		blocks = append(blocks, t)
	}
	if len(held.Rows) > 0 {
		blocks = append(blocks, Heading{"Findings that hold"}, held)
	}
	return append(blocks, sheet), nil
}

func acceptedText(f *finding.Finding) string {
	var parts []string
	for _, a := range acceptance(f) {
		parts = append(parts, a.Text.String())
	}
	return strings.Join(parts, "; open again: ")
}

func amounts(f *finding.Finding) string {
	var parts []string
	for _, p := range []struct {
		word string
		q    *finding.Quantity
	}{{"", f.Value}, {"limit ", f.Limit}, {"target ", f.Target}} {
		if p.q != nil {
			parts = append(parts, p.word+p.q.String())
		}
	}
	return strings.Join(parts, ", ")
}

func where(in *Input, f *finding.Finding) string {
	var parts []string
	if f.Fault != "" {
		parts = append(parts, f.Fault)
	}
	if f.Place != "" {
		parts = append(parts, "at "+f.Place)
	}
	text := strings.Join(parts, " ")
	if f.Condition != "" {
		if text != "" {
			text += ", "
		}
		text += in.tagOf(f.Condition)
	}
	return text
}
