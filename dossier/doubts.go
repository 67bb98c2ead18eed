package dossier

import (
	"fmt"
	"strings"

	"feederwright/doubt"
)

// doubts shows which datum matters, where the caller has examined that.
func doubts(in *Input) ([]Block, error) {
	r := in.Doubt
	if r == nil {
		return nil, nil
	}
	t := &Table{Name: "doubt", Caption: "Data in doubt, tried at other plausible values one at a time; the gravest consequence first",
		Columns: []Column{{Head: "Datum", Key: true}, {Head: "Why in doubt"}, {Head: "Tried"}, {Head: "Consequence"}, {Head: "What changes"}}}
	for i := range r.Data {
		d := &r.Data[i]
		name := d.Name
		if d.Value != "" {
			name += " = " + d.Value
		}
		var tried, changes []string
		for _, trial := range d.Trials {
			tried = append(tried, trial.Value)
			for _, c := range trial.Changes {
				changes = append(changes, fmt.Sprintf("at %s: %s from %s to %s", trial.Value, c.Finding, orNone(c.From), orNone(c.To)))
			}
		}
		if d.Untried != "" {
			tried = []string{d.Untried}
		}
		if len(changes) == 0 {
			value, current := d.Largest()
			for _, m := range []*doubt.Move{value, current} {
				if m != nil {
					changes = append(changes, fmt.Sprintf("no verdict; %s from %s to %s", m.What, m.From, m.To))
				}
			}
		}
		t.Rows = append(t.Rows, Row{Cells: []Cell{Words(name), Words(string(d.Kind)), Words(orDash(strings.Join(tried, "; "))), Words(string(d.Consequence)), Words(orDash(strings.Join(changes, "; ")))}})
	}
	if len(t.Rows) == 0 {
		return nil, nil
	}
	text := fmt.Sprintf("Every value that the study assumes, gives a range, leaves to a default or lacks was tried at other plausible values, one at a time: the study was judged %s. Data were not varied together.", plural(r.Runs, "time", "times"))
	if r.LeftOut > 0 {
		text += fmt.Sprintf(" For want of time %s not tried.", plural(r.LeftOut, "datum was", "data were"))
	}
	return []Block{Para{Text: T(text)}, t}, nil
}

func orNone(verdict string) string {
	if verdict == "" {
		return "no such finding"
	}
	return verdict
}
