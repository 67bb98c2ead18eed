package dossier

import (
	"fmt"
	"slices"
	"strings"

	"feederwright/docs"
)

func evidence(in *Input) ([]Block, error) {
	ev := &in.Evidence
	if len(ev.Checks) == 0 {
		return nil, nil
	}
	values, failing := 0, 0
	var works, labels []string
	checks, count := map[string]int{}, map[string]int{}
	t := &Table{Name: "evidence", Caption: "Outside checks of the program's methods",
		Columns: []Column{{Head: "Check", Key: true}, {Head: "What it checks"}, {Head: "Label"}, {Head: "Values", Align: Right}, {Head: "Of tolerance", Unit: "%", Align: Right}, {Head: "Outcome"}}}
	full := &Table{Name: "evidence sources", Caption: "Outside checks with their sources", SheetOnly: true,
		Columns: []Column{{Head: "Check", Key: true}, {Head: "What it checks"}, {Head: "Method"}, {Head: "Source"}, {Head: "Label"}, {Head: "Values", Align: Right}, {Head: "Of tolerance", Unit: "%", Align: Right}, {Head: "Outcome"}}}
	for _, c := range ev.Checks {
		values += c.Values
		outcome := Words("holds")
		if !c.Holds {
			failing++
			outcome = Cell{Text: "FAILS", Strong: true}
		}
		if c.Publication != "" && !slices.Contains(works, c.Publication) {
			works = append(works, c.Publication)
		}
		if checks[c.Label] == 0 {
			labels = append(labels, c.Label)
		}
		checks[c.Label]++
		count[c.Label] += c.Values
		share := 100 * c.Share
		used := Cell{Text: fmt.Sprintf("%.0f", share), Number: &share}
		t.Rows = append(t.Rows, Row{Cells: []Cell{Words(c.ID), Words(c.Title), Words(c.Label), Count(c.Values), used, outcome}})
		full.Rows = append(full.Rows, Row{Cells: []Cell{Words(c.ID), Words(c.Title), Words(c.Method), Words(c.Source), Words(c.Label), Count(c.Values), used, outcome}})
	}
	t.Notes = []string{"Of tolerance: the largest deviation of the check's values over what is tolerated. Many values of one formula are one check."}
	outcome := "all hold"
	if failing > 0 {
		outcome = fmt.Sprintf("%d FAIL", failing)
	}
	by := &Table{Name: "evidence by label", Caption: "Checks by how their expected values are known", Columns: []Column{{Head: "Label", Key: true}, {Head: "Checks", Align: Right}, {Head: "Values", Align: Right}, {Head: "Meaning"}}}
	for _, label := range labels {
		by.Rows = append(by.Rows, Row{Cells: []Cell{Words(label), Count(checks[label]), Count(count[label]), Words(labelMeaning[label])}})
	}
	blocks := []Block{Para{Text: T(fmt.Sprintf("The program's methods were run beside published examples, closed forms and independent calculations when this dossier was made: %s with %s; %s. ",
		plural(len(ev.Checks), "check", "checks"), plural(values, "value", "values"), outcome)).Code("feederwright verify").Plain(" prints the whole book with every value, its source and its tolerance.")}, by}
	if len(works) > 0 {
		blocks = append(blocks, Para{Text: T(fmt.Sprintf("They draw on %s: %s.", plural(len(works), "distinct publication", "distinct publications"), strings.Join(works, "; ")))})
	}
	blocks = append(blocks, t, full)
	if len(ev.Gaps) > 0 {
		g := &Table{Name: "evidence gaps", Caption: "Known examples that are not run, and why", Columns: []Column{{Head: "Example", Key: true}, {Head: "Why not"}}}
		for _, x := range ev.Gaps {
			g.Rows = append(g.Rows, Row{Cells: []Cell{Words(x.What), Words(x.Why)}})
		}
		blocks = append(blocks, g)
	}
	return blocks, nil
}

// labelMeaning says how a value is known.
var labelMeaning = map[string]string{
	"published":       "printed in the source",
	"reconstructed":   "a published result, its data pieced together",
	"derived":         "from another method: closed form, by hand, another program",
	"common practice": "a rule of the trade without a source",
	"our own":         "two calculations of our own",
}

func sources(in *Input) ([]Block, error) {
	t := &Table{Name: "sources", Caption: "Sources that the study names", Columns: []Column{{Head: "Source", Key: true}, {Head: "Supports"}, {Head: "Values", Align: Right}}}
	for _, s := range in.Doc.Sources() {
		name := Words(s.Source)
		if s.Source == "" {
			name = Cell{Text: "none named", Strong: true}
		}
		t.Rows = append(t.Rows, Row{Cells: []Cell{name, Words(strings.ReplaceAll(strings.Join(s.Supports, ", "), `"`, "")), Count(s.Values)}})
	}
	if len(t.Rows) == 0 {
		return nil, nil
	}
	return []Block{Para{Text: T("Letters, nameplates and drawings as the study's author names them. The program cannot tell whether a value was copied rightly from its source.")}, t}, nil
}

func cautions(in *Input) ([]Block, error) {
	return []Block{
		Para{Text: T("Local codes, the maker's instructions and the owner's switching rules come before anything in this dossier, and licensed practice decides what may be issued.")},
		Note{Caution: true, Title: "Ratings", Text: []Rich{T("The fault currents here are symmetrical and steady, but for those of the chapter on duties. A device that must close onto, carry or interrupt a fault meets its peak and its decay as well. Compare ratings with duties alone, and those only as far as the practice and the data reach.")}},
		Note{Caution: true, Title: "Earth faults with a fault resistance", Text: []Rich{T("A conductor on dry ground may draw a current far below every value in these tables, and no overcurrent setting sees it. A bolted fault is the best case for detection, not the worst.")}},
		Note{Caution: true, Title: "Current transformers", Text: []Rich{T("The secondary circuit of a current transformer that carries current must never be opened: its voltage kills. Short it at the test block first, and prove the short.")}},
		Note{Caution: true, Title: "Backfeed", Text: []Rich{T("Generation, ties and transformers fed from their second winding keep a part of the network live after its usual source has opened. A condition without a source in these tables says nothing about a line at work. Test, earth and follow the switching rules before touching anything.")}},
		Note{Caution: true, Title: "Settings", Text: []Rich{T("Primary and secondary amperes differ by the ratio in use. Before a setting is loaded, prove the ratio and the tap at the instrument transformer, and read the setting back from the relay.")}},
	}, nil
}

// limits quotes what the page about methods says is left out.
func limits(in *Input) ([]Block, error) {
	items := bullets(docs.Methods, "What is left out")
	if len(items) == 0 {
		return nil, fmt.Errorf("the page about methods has no list of what is left out")
	}
	return []Block{Para{Text: T("What the models leave out. A number may be right within its model and wrong for the purpose; look here first when one surprises.")}, List{items}}, nil
}

// bullets are the items of the first list under a heading of a page in Markdown.
func bullets(page, heading string) []Rich {
	_, rest, ok := strings.Cut(page, "\n## "+heading+"\n")
	if !ok {
		return nil
	}
	rest, _, _ = strings.Cut(rest, "\n## ")
	var items []string
	for line := range strings.Lines(rest) {
		line = strings.TrimRight(line, "\n")
		switch {
		case strings.HasPrefix(line, "- "):
			items = append(items, line[2:])
		case strings.HasPrefix(line, "  ") && len(items) > 0:
			items[len(items)-1] += " " + strings.TrimSpace(line)
		}
	}
	var out []Rich
	for _, item := range items {
		out = append(out, markdown(item))
	}
	return out
}

// markdown reads code, strong and slanted text of one paragraph.
func markdown(text string) Rich {
	var out Rich
	for text != "" {
		best, at := "", len(text)
		for _, mark := range []string{"`", "**", "*"} {
			if i := strings.Index(text, mark); i >= 0 && i < at {
				best, at = mark, i
			}
		}
		if at > 0 {
			out = out.Plain(text[:at])
		}
		if best == "" {
			break
		}
		inner, rest, ok := strings.Cut(text[at+len(best):], best)
		if !ok {
			return out.Plain(text[at:])
		}
		out = out.with(inner, map[string]Style{"`": Coded, "**": Strong, "*": Slanted}[best])
		text = rest
	}
	return out
}

func signOff(in *Input) ([]Block, error) {
	return []Block{
		Para{Text: T("Signing says that the signer has read the findings, what is assumed and missing, the cautions and the limits, and answers for the step named.")},
		Facts{[]Fact{{"Study", T(in.Doc.Title.V + ", " + in.Doc.File)}, {"Study hash", Rich{}.Code(in.Hash)}, {"State", T(stateOf(in) + ", " + in.Date)}}},
		SignOff{[]string{"Prepared", "Checked", "Approved"}},
	}, nil
}
