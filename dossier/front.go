package dossier

import (
	"fmt"
	"slices"
	"strings"

	"feederwright/finding"
)

// plural writes a count with its noun.
func plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// tag is the short name of a condition in tables.
func tag(i int) string { return fmt.Sprintf("C%d", i+1) }

// tagOf is the tag of a condition by its name, or the name where it is none of
// the dossier's.
func (in *Input) tagOf(name string) string {
	for i, s := range in.States {
		if s.Name == name {
			return fmt.Sprintf("%s: %s", tag(i), name)
		}
	}
	return name
}

func cover(in *Input) []Block {
	doc := in.Doc
	tally := finding.Tally(in.Report.Findings)
	var plant []string
	for _, p := range []struct {
		n         int
		one, many string
	}{
		{len(doc.Supply.Entries), "infeed", "infeeds"},
		{len(doc.Buses.Entries), "bus", "buses"},
		{len(doc.Transformers.Entries) + len(doc.ThreeWinding.Entries), "transformer", "transformers"},
		{len(doc.Banks.Entries), "bank of single-phase units", "banks of single-phase units"},
		{len(doc.Regulators.Entries), "regulator", "regulators"},
		{len(doc.Reactors.Entries), "reactor", "reactors"},
		{len(doc.Lines.Entries), "line section", "line sections"},
		{len(doc.InductionMachines.Entries) + len(doc.SynchronousMachines.Entries), "machine", "machines"},
		{len(doc.Inverters.Entries), "inverter", "inverters"},
		{len(doc.Breakers.Entries), "breaker", "breakers"},
		{len(doc.Reclosers.Entries), "recloser", "reclosers"},
		{len(doc.Fuses.Entries), "fuse", "fuses"},
		{len(doc.Relays.Entries), "relay", "relays"},
	} {
		if p.n > 0 {
			plant = append(plant, plural(p.n, p.one, p.many))
		}
	}
	blocks := []Block{}
	if note := strings.TrimSpace(doc.Note.V); note != "" {
		blocks = append(blocks, Para{Text: T(note)})
	}
	blocks = append(blocks, Para{Text: T(fmt.Sprintf("This dossier shows what the study comes to: the currents of short circuits at every place, in %s, as the relays see them; the findings; what was assumed and what is not known; and how the numbers come about.",
		plural(len(in.States), "condition", "conditions")))})
	facts := []Fact{
		{"Study file", Rich{}.Code(doc.File)},
		{"Study hash", Rich{}.Code(in.Hash)},
		{"Date", T(in.Date)},
		{"Program", T(in.Program)},
		{"State", Rich{}.Strong(stateOf(in))},
		{"System", T(fmt.Sprintf("%s, phase rotation %s; %s", doc.Frequency.Text, rotation(in), strings.Join(plant, ", ")))},
		{"Conditions", T(conditionsCovered(in))},
	}
	var verdicts []Row
	for _, v := range finding.Verdicts {
		verdicts = append(verdicts, Row{Cells: []Cell{{Text: verdictMark(v), Strong: v != finding.Holds && tally[v] > 0}, Count(tally[v]), Words(verdictMeaning(v))}})
	}
	accepted, reopened := 0, 0
	for i := range in.Report.Findings {
		if in.Report.Findings[i].IsAccepted() {
			accepted++
		}
		if in.Report.Findings[i].IsReopened() {
			reopened++
		}
	}
	blocks = append(blocks, Facts{facts}, &Table{Name: "verdicts", Caption: "Findings by verdict",
		Columns: []Column{{Head: "Verdict", Key: true}, {Head: "Findings", Align: Right}, {Head: "Meaning"}}, Rows: verdicts})
	if accepted+reopened > 0 {
		blocks = append(blocks, Para{Text: T(fmt.Sprintf("Of those that do not hold, accepted by somebody: %d; accepted once, worse since and open again: %d.", accepted, reopened))})
	}
	blocks = append(blocks, Note{Caution: true, Title: "The program advises; a licensed engineer decides.",
		Text: []Rich{T("Have every number that protection is set by checked by somebody else, or by another method. Nothing here says that a line is dead or safe to touch. The chapters “Read this first”, “Cautions” and “Limits of the models” belong to every number in this dossier.")}})
	return blocks
}

func stateOf(in *Input) string { return (&Book{Issue: in.Issue}).State() }

func rotation(in *Input) string {
	if in.Doc.Rotation.Given {
		return in.Doc.Rotation.V
	}
	return "ABC"
}

func conditionsCovered(in *Input) string {
	all, _ := in.Doc.States()
	if len(all) == len(in.States) {
		return fmt.Sprintf("all %d of the study", len(all))
	}
	return fmt.Sprintf("%d of the study's %d: this dossier covers a part", len(in.States), len(all))
}

func verdictMark(v finding.Verdict) string {
	if v == finding.Holds {
		return "holds"
	}
	return strings.ToUpper(v.String())
}

func verdictMeaning(v finding.Verdict) string {
	switch v {
	case finding.Fails:
		return "a limit is broken"
	case finding.Thin:
		return "the limit is met, the target is not"
	case finding.Unproven:
		return "a datum is missing"
	}
	return "limit and target are met"
}

func readFirst(in *Input) ([]Block, error) {
	blocks := []Block{Para{Text: T("Every number in this dossier rests on the study file as it was read, and on the choices below. Look at them before using a number.")}}

	blocks = append(blocks, Heading{"Missing data"})
	missing := &Table{Name: "missing data", Caption: "Data that is missing, and what each leaves unproven",
		Columns: []Column{{Head: "Missing", Key: true}, {Head: "Leaves unproven"}, {Head: "What to do"}}}
	for _, f := range in.Report.Findings {
		for _, m := range f.Missing {
			missing.Rows = append(missing.Rows, Row{Cells: []Cell{Words(m), Words(f.Title), Words(f.Cure)}})
		}
	}
	if len(missing.Rows) > 0 {
		blocks = append(blocks, missing)
	} else {
		blocks = append(blocks, Para{Text: T("No finding lacks a datum.")})
	}

	blocks = append(blocks, Heading{"Assumed values"})
	assumed := &Table{Name: "assumptions", Caption: "Values that the study says are assumed",
		Columns: []Column{{Head: "Of", Key: true}, {Head: "Key"}, {Head: "Value"}, {Head: "Why it may be assumed"}, {Head: "Place in the file", Code: true}}}
	var last, lastSource string
	for _, a := range in.Doc.Assumptions() {
		object, source := a.Object, a.Source
		if object == last && source == lastSource {
			source = "the same"
		}
		assumed.Rows = append(assumed.Rows, Row{Cells: []Cell{Words(object), Words(a.Key), Words(a.Text), Words(orDash(source)), Words(fmt.Sprintf("%s:%d", a.At.File, a.At.Line))}})
		last, lastSource = a.Object, a.Source
	}
	if len(assumed.Rows) > 0 {
		blocks = append(blocks, assumed)
	} else {
		blocks = append(blocks, Para{Text: T("The study marks no value as assumed.")})
	}

	blocks = append(blocks, Heading{"Taken where the study says nothing"})
	if len(in.Report.Defaults) > 0 {
		blocks = append(blocks, List{riches(in.Report.Defaults)})
	} else {
		blocks = append(blocks, Para{Text: T("Nothing was taken that the study does not say.")})
	}

	blocks = append(blocks, Heading{"Method"}, Facts{method(in)})

	if len(in.Warnings) > 0 {
		blocks = append(blocks, Heading{"Warnings about the study file"})
		t := &Table{Name: "warnings", Caption: "Warnings on reading the study",
			Columns: []Column{{Head: "Place", Key: true, Code: true}, {Head: "Of"}, {Head: "Warning"}, {Head: "What would be right"}}}
		for _, d := range in.Warnings {
			t.Rows = append(t.Rows, Row{Cells: []Cell{Words(fmt.Sprintf("%s:%d", d.At.File, d.At.Line)), Words(d.Object), Words(d.Problem), Words(orDash(d.Fix))}})
		}
		blocks = append(blocks, t)
	}
	return blocks, nil
}

func riches(list []string) []Rich {
	var out []Rich
	for _, s := range list {
		out = append(out, T(s))
	}
	return out
}

func orDash(s string) string {
	if strings.TrimSpace(s) == "" {
		return "—"
	}
	return s
}

// method lists the choices of the fault calculation as the study makes them.
func method(in *Input) []Fact {
	m := in.Doc.Method
	word := func(given bool, text, otherwise string) Rich {
		if m != nil && given {
			return T(text)
		}
		return T(otherwise + " (not stated)")
	}
	if m == nil {
		m = zeroMethod()
	}
	facts := []Fact{
		{"Fault currents", T("symmetrical, r.m.s., primary side unless said otherwise; superposition on the state before the fault")},
		{"Voltage before the fault", word(m.Prefault.Given, m.Prefault.Text+" of nominal", "100 % of nominal")},
		{"Charging of lines", word(m.Charging.Given, m.Charging.V, "counted")},
		{"Capacitor banks", word(m.Capacitors.Given, m.Capacitors.V, "neglected")},
		{"Loads", word(m.Loads.Given, m.Loads.V, "neglected")},
		{"Rotating machines", word(m.Machines.Given, m.Machines.V, "subtransient")},
		{"Inverters", word(m.Inverters.Given, m.Inverters.V, "counted")},
		{"Conductors", word(m.Conductors.Given, m.Conductors.V, "cold")},
	}
	if m.Source.V != "" {
		facts = append(facts, Fact{"Source of these choices", T(m.Source.V)})
	}
	return facts
}

func conditions(in *Input) ([]Block, error) {
	t := &Table{Name: "conditions", Caption: "The ways in which the system can stand",
		Columns: []Column{{Head: "No.", Key: true}, {Head: "Condition"}, {Head: "What it states"}}}
	var common []string
	for i, s := range in.States {
		if i == 0 {
			common = slices.Clone(s.Defaults)
		} else {
			common = slices.DeleteFunc(common, func(d string) bool { return !slices.Contains(s.Defaults, d) })
		}
	}
	for i, s := range in.States {
		said := strings.Join(s.Diff, "; ")
		for _, d := range s.Defaults {
			if !slices.Contains(common, d) {
				said += "; taken: " + d
			}
		}
		if s.Note != "" {
			said += ". " + s.Note
		}
		t.Rows = append(t.Rows, Row{Cells: []Cell{Words(tag(i)), Words(s.Name), Words(orDash(strings.TrimPrefix(said, "; ")))}})
	}
	if len(common) > 0 {
		t.Notes = append(t.Notes, "In every condition: "+strings.Join(common, "; ")+".")
	}
	return []Block{Para{Text: T("Tables name a condition by its number here.")}, t}, nil
}
