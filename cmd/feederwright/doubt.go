package main

import (
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"feederwright/doubt"
	"feederwright/finding"
	"feederwright/study"
	"feederwright/working"
)

func newDoubt() *cobra.Command {
	var format string
	var most int
	c := &cobra.Command{
		Use:   "doubt STUDY",
		Short: "Which datum matters: what other plausible values would change",
		Long: `Doubt takes every value that a study assumes, gives a range, leaves to a default
or lacks, puts both ends of its plausible range in its place, one datum at a
time and in memory only, and judges the study anew. It says which findings would
have another verdict; for data that change no verdict, how far any finding's
value and any fault current moves at most. Those worth asking for come first.

The ranges are practice, see docs/methods.md. A study states its own with
between: { value: 5.5, known: assumed, between: [4, 7] }.

It exits 0 whatever it finds: what it changes is not in the study.`,
		Example: "  feederwright doubt examples/velmora\n  feederwright doubt my-study --format json",
		Args:    exactly(1, "a study: a study file, or a folder with a study.yaml"),
		RunE: func(c *cobra.Command, args []string) error {
			if err := checkFormat(format); err != nil {
				return err
			}
			if most < 1 {
				return fmt.Errorf("--most-faults %d: want a number above zero", most)
			}
			doc, states, _, err := load(args[0], c.ErrOrStderr())
			if err != nil {
				return err
			}
			r, err := doubt.Examine(doc, states, doubt.Options{MostFaults: most})
			if err != nil {
				return err
			}
			if format == "json" {
				return writeJSON(c.OutOrStdout(), doubtJSON{doc.Title.V, study.Hash(doc), r.Data, r.Runs, r.Faults, r.LeftOut})
			}
			writeDoubt(c.OutOrStdout(), doc, r, most)
			return nil
		},
	}
	addFormat(c, &format)
	c.Flags().IntVar(&most, "most-faults", doubt.DefaultFaults, "bound on the work: faults computed in all")
	return c
}

// doubtJSON is the output of doubt --format json. Keys only grow.
type doubtJSON struct {
	Study         string        `json:"study"`
	Hash          string        `json:"hash"`
	Data          []doubt.Datum `json:"data"`
	Runs          int           `json:"runs"`
	FaultsEachRun int           `json:"faults_each_run"`
	LeftOut       int           `json:"left_out"`
}

const doubtIndent = "          "

func writeDoubt(w io.Writer, doc *study.Document, r *doubt.Report, most int) {
	matter, settle := 0, 0
	for i := range r.Data {
		switch r.Data[i].Consequence {
		case doubt.None, doubt.NotTried:
		case doubt.Settles:
			settle++
		default:
			matter++
		}
	}
	fmt.Fprint(w, fold(fmt.Sprintf("%s: %s in doubt; %d would change a verdict, %d more would settle what is unproven. The study was judged %s, with %s each.",
		doc.Title.V, countData(len(r.Data)), matter, settle, plural(r.Runs, "time"), plural(r.Faults, "fault")), "", lineWidth))
	fmt.Fprint(w, fold("As it is: "+finding.Summary(r.Base.Findings), "", lineWidth))
	if r.LeftOut > 0 {
		fmt.Fprint(w, fold(fmt.Sprintf("%s not tried, since that would take more than %d faults in all; --most-faults sets another bound.", countData(r.LeftOut), most), "", lineWidth))
	}
	section := ""
	for i := range r.Data {
		d := &r.Data[i]
		mark, head := "FLIPS", "A verdict would change with these:"
		switch d.Consequence {
		case doubt.Settles:
			mark, head = "settles", "These would settle what is unproven, and change no other verdict:"
		case doubt.None:
			mark, head = "no flip", "No verdict changes with these; what moves most, first:"
		case doubt.NotTried:
			mark, head = "not tried", "Not tried:"
		}
		if head != section {
			section = head
			fmt.Fprintf(w, "\n%s\n", head)
		}
		writeDatum(w, mark, d)
	}
}

func countData(n int) string {
	if n == 1 {
		return "1 datum"
	}
	return fmt.Sprintf("%d data", n)
}

func writeDatum(w io.Writer, mark string, d *doubt.Datum) {
	line := func(text string) { fmt.Fprint(w, fold(text, doubtIndent, lineWidth)) }
	title := d.Name
	if d.Value != "" {
		title += " = " + d.Value
	}
	title += fmt.Sprintf(" (%s, %s)", d.Kind, d.Place)
	fmt.Fprintf(w, "%-10s%s", mark, strings.TrimPrefix(fold(title, doubtIndent, lineWidth), doubtIndent))
	if d.Source != "" && (d.Flips() > 0 || d.Kind == doubt.Missing) {
		line("about it: " + d.Source)
	}
	if d.Untried != "" {
		line(d.Untried)
		return
	}
	var values []string
	for i := range d.Trials {
		values = append(values, d.Trials[i].Value)
	}
	line("tried: " + strings.Join(values, "; ") + " (" + d.Range + ")")
	for i := range d.Trials {
		t := &d.Trials[i]
		if t.Refused != "" {
			line(fmt.Sprintf("at %s the study is refused: %s", t.Value, t.Refused))
		}
		for k := range t.Changes {
			line(fmt.Sprintf("at %s: %s", t.Value, changeText(&t.Changes[k])))
		}
		if len(t.Known) > 0 {
			line(fmt.Sprintf("at %s: %s", t.Value, knownText(t.Known)))
		}
	}
	value, current := d.Largest()
	if value == nil && current == nil {
		line("moves no finding's value and no fault current")
		return
	}
	line("moves most: " + moveText(value, "no finding's value") + "; " + moveText(current, "no fault current"))
}

func changeText(c *doubt.Change) string {
	verdict := func(v string) string {
		if v == "" {
			return "no such finding"
		}
		return v
	}
	text := fmt.Sprintf("%s from %s to %s", c.Finding, verdict(c.From), verdict(c.To))
	switch {
	case c.FromValue != nil && c.ToValue != nil:
		text += fmt.Sprintf(" (%s to %s", c.FromValue, c.ToValue)
	case c.ToValue != nil:
		text += fmt.Sprintf(" (%s", c.ToValue)
	case c.Condition != "" || c.Accepted:
		text += " ("
	default:
		return text
	}
	if c.Condition != "" {
		text += ", in " + c.Condition
	}
	if c.Accepted {
		text += ", accepted as it is"
	}
	return strings.Replace(text+")", "(, ", "(", 1)
}

// knownText tells of at most three kinds of fault at places without a current so far.
func knownText(known []doubt.Known) string {
	const most = 3
	var parts []string
	for _, k := range known[:min(len(known), most)] {
		text := k.What + " draws " + finding.Quantity{Value: k.Smallest, Unit: "A"}.String()
		if k.Largest > k.Smallest*(1+1e-6) { // else one number on paper
			text += " to " + finding.Quantity{Value: k.Largest, Unit: "A"}.String()
		}
		parts = append(parts, text)
	}
	text := strings.Join(parts, ", ")
	if n := len(known) - most; n > 0 {
		text += fmt.Sprintf(", and %d more kinds and places", n)
	}
	return text
}

func moveText(m *doubt.Move, none string) string {
	if m == nil {
		return none
	}
	return fmt.Sprintf("%s by %s %% (%s to %s)", m.What, working.Number(m.Relative*100, 2), m.From, m.To)
}
