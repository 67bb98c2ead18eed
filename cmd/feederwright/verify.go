package main

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"feederwright/evidence"
	"feederwright/quantity"
)

func newVerify() *cobra.Command {
	var format string
	var values bool
	c := &cobra.Command{
		Use:   "verify [CASE...]",
		Short: "Run every outside check of the methods, and print the evidence book",
		Long: `Verify runs the program's methods against published examples, closed forms and
the demonstration's check values, and prints for each its source, what was
expected, what was computed, the deviation and the tolerance.

Each source is labelled: published, reconstructed, derived, common practice, or
our own. Many values of one formula count as one check.`,
		Example: "  feederwright verify\n  feederwright verify SEQ-A --values",
		RunE: func(c *cobra.Command, args []string) error {
			if err := checkFormat(format); err != nil {
				return err
			}
			cases, err := chooseCases(args)
			if err != nil {
				return err
			}
			outcomes := evidence.Verify(cases)
			if format == "json" {
				err = verifyJSON(c.OutOrStdout(), outcomes)
			} else {
				verifyText(c.OutOrStdout(), outcomes, values || len(args) > 0)
			}
			if err != nil {
				return err
			}
			for _, o := range outcomes {
				if !o.Holds() {
					return errFails
				}
			}
			return nil
		},
	}
	addFormat(c, &format)
	c.Flags().BoolVar(&values, "values", false, "show every value, not only the largest deviation of each check")
	return c
}

func chooseCases(ids []string) ([]evidence.Case, error) {
	all := evidence.Cases()
	if len(ids) == 0 {
		return all, nil
	}
	var names []string
	for _, c := range all {
		names = append(names, c.ID)
	}
	var chosen []evidence.Case
	for _, id := range ids {
		found := false
		for _, c := range all {
			if strings.EqualFold(c.ID, id) {
				chosen, found = append(chosen, c), true
			}
		}
		if !found {
			if near, ok := quantity.Nearest(id, names); ok {
				return nil, fmt.Errorf("no case is called %q; did you mean %q?", id, near)
			}
			return nil, fmt.Errorf("no case is called %q; cases are %s", id, strings.Join(names, ", "))
		}
	}
	return chosen, nil
}

// figures writes a number with as many digits as its tolerance leaves meaning.
func figures(x, tolerance float64) string {
	if tolerance <= 0 {
		return strconv.FormatFloat(x, 'g', 8, 64)
	}
	decimals := int(math.Ceil(-math.Log10(tolerance))) + 1
	return strconv.FormatFloat(x, 'f', min(max(decimals, 0), 12), 64)
}

func verifyText(w io.Writer, outcomes []evidence.Outcome, every bool) {
	checks := map[evidence.Label]int{}
	works := map[evidence.Label]map[string]bool{}
	var all []string // distinct publications, in the order of the book
	values, failing := 0, 0
	for _, o := range outcomes {
		verdict := "holds"
		if !o.Holds() {
			verdict = "FAILS"
			failing++
		}
		fmt.Fprint(w, fold(fmt.Sprintf("%s  %s  %s", verdict, o.Case.ID, o.Case.Title), "", lineWidth))
		fmt.Fprint(w, fold("method: "+o.Case.Method, "       ", lineWidth))
		fmt.Fprint(w, fold(fmt.Sprintf("source: %s (%s)", o.Case.Source, o.Case.Label), "       ", lineWidth))
		if o.Case.Note != "" {
			fmt.Fprint(w, fold("note: "+o.Case.Note, "       ", lineWidth))
		}
		if o.Err != nil {
			fmt.Fprint(w, fold("error: "+o.Err.Error(), "       ", lineWidth))
		}
		t := table{head: []string{"value", ">expected", ">computed", ">deviation", ">tolerance", "unit", ""}}
		worst := -1
		var reasons []string
		for i, v := range o.Values {
			values++
			if !slices.Contains(reasons, v.Tolerance.Why) {
				reasons = append(reasons, v.Tolerance.Why)
			}
			if worst < 0 || share(v) > share(o.Values[worst]) {
				worst = i
			}
		}
		for i, v := range o.Values {
			if !every && i != worst && v.Holds() {
				continue
			}
			mark := ""
			if !v.Holds() {
				mark = "FAILS"
			}
			t.add(v.What, figures(v.Expected, v.Tolerance.Size), figures(v.Computed, v.Tolerance.Size), strconv.FormatFloat(v.Deviation(), 'e', 1, 64),
				strconv.FormatFloat(v.Tolerance.Size, 'e', 1, 64), v.Unit, mark)
		}
		if !every && len(o.Values) > 1 {
			fmt.Fprintf(w, "       %d values; the one nearest its tolerance:\n", len(o.Values))
		}
		if len(t.rows) > 0 {
			_ = t.write(w, "       ")
		}
		if len(reasons) > 0 {
			fmt.Fprint(w, fold("tolerance: "+strings.Join(reasons, "; "), "       ", lineWidth))
		}
		fmt.Fprintln(w)
		checks[o.Case.Label]++
		if p := o.Case.Publication; p != "" {
			if works[o.Case.Label] == nil {
				works[o.Case.Label] = map[string]bool{}
			}
			works[o.Case.Label][p] = true
			if !slices.Contains(all, p) {
				all = append(all, p)
			}
		}
	}
	fmt.Fprintf(w, "%s, %s: %d fail\n", plural(len(outcomes), "check"), plural(values, "value"), failing)
	for _, l := range evidence.Labels {
		if checks[l] > 0 {
			fmt.Fprintf(w, "  %-16s %s", l, plural(checks[l], "check"))
			if len(works[l]) > 0 {
				fmt.Fprintf(w, ", drawing on %s", plural(len(works[l]), "publication"))
			}
			fmt.Fprintln(w)
		}
	}
	if len(all) > 0 {
		fmt.Fprint(w, fold(fmt.Sprintf("%s in all, each counted once: %s", plural(len(all), "distinct publication"), strings.Join(all, "; ")), "  ", lineWidth))
	}
	fmt.Fprintln(w, "\nKnown examples that are not run, and why:")
	for _, g := range evidence.Gaps {
		fmt.Fprint(w, fold(g.What+": "+g.Why, "  ", lineWidth))
	}
}

// share is how much of its tolerance a deviation takes.
func share(v evidence.Value) float64 {
	if v.Tolerance.Size <= 0 {
		return math.Abs(v.Deviation())
	}
	return math.Abs(v.Deviation()) / v.Tolerance.Size
}

// bookJSON is the output of verify --format json. Keys only grow.
type bookJSON struct {
	Holds bool       `json:"holds"`
	Cases []caseJSON `json:"cases"`
	Gaps  []gapJSON  `json:"gaps"`
}

type caseJSON struct {
	ID     string      `json:"id"`
	Title  string      `json:"title"`
	Method string      `json:"method"`
	Source string      `json:"source"`
	Label  string      `json:"label"`
	Note   string      `json:"note,omitempty"`
	Error  string      `json:"error,omitempty"`
	Holds  bool        `json:"holds"`
	Values []valueJSON `json:"values"`
}

type valueJSON struct {
	What      string  `json:"what"`
	Expected  float64 `json:"expected"`
	Computed  float64 `json:"computed"`
	Deviation float64 `json:"deviation"`
	Tolerance float64 `json:"tolerance"`
	Unit      string  `json:"unit,omitempty"`
	Holds     bool    `json:"holds"`
}

type gapJSON struct {
	What string `json:"what"`
	Why  string `json:"why"`
}

func verifyJSON(w io.Writer, outcomes []evidence.Outcome) error {
	book := bookJSON{Holds: true, Cases: []caseJSON{}, Gaps: []gapJSON{}}
	for _, o := range outcomes {
		c := caseJSON{ID: o.Case.ID, Title: o.Case.Title, Method: o.Case.Method, Source: o.Case.Source, Label: string(o.Case.Label),
			Note: o.Case.Note, Holds: o.Holds(), Values: []valueJSON{}}
		if o.Err != nil {
			c.Error = o.Err.Error()
		}
		for _, v := range o.Values {
			c.Values = append(c.Values, valueJSON{v.What, v.Expected, v.Computed, v.Deviation(), v.Tolerance.Size, v.Unit, v.Holds()})
		}
		book.Holds = book.Holds && o.Holds()
		book.Cases = append(book.Cases, c)
	}
	for _, g := range evidence.Gaps {
		book.Gaps = append(book.Gaps, gapJSON(g))
	}
	return writeJSON(w, book)
}
