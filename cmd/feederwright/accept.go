package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"feederwright/finding"
	"feederwright/internal/atomicfile"
	"feederwright/quantity"
	"feederwright/review"
	"feederwright/study"
)

func newAccept() *cobra.Command {
	var reason, by, date string
	var withdraw bool
	c := &cobra.Command{
		Use:   "accept STUDY FINDING",
		Short: "Accept a finding, with reason, initials and date, in the study; or withdraw that",
		Long: `Accept writes into the study that a finding may stand as it is: who says so,
when and why, and the verdict and value that it had. Every other byte of the
file stays. What is computed does not change, nor does the verdict: check shows
the finding as accepted and counts it as settled, until it gets worse. Then it
is open again. To accept it as it is now, accept it again.

FINDING is what check prints in parentheses under it: chapter/rule/subjects.
What holds needs no acceptance. With --withdraw the acceptance is taken out.`,
		Example: `  feederwright accept my-study "supply/zero sequence/utility" --reason "no relay stands there" --by AB
  feederwright accept my-study "supply/zero sequence/utility" --withdraw`,
		Args: exactly(2, "a study, and the finding as check prints it in parentheses"),
		RunE: func(c *cobra.Command, args []string) error {
			var text string
			var err error
			if withdraw {
				if c.Flags().Changed("reason") || c.Flags().Changed("by") || c.Flags().Changed("date") {
					return fmt.Errorf("--withdraw takes an acceptance out; it goes without --reason, --by and --date")
				}
				text, err = withdrawFinding(args[0], args[1], c)
			} else {
				if date == "" {
					date = time.Now().Format("2006-01-02") // the one place that asks what day it is
				}
				text, err = acceptFinding(args[0], args[1], strings.TrimSpace(reason), strings.TrimSpace(by), date, c)
			}
			if err != nil {
				return err
			}
			fmt.Fprint(c.OutOrStdout(), fold(text, "", lineWidth))
			return nil
		},
	}
	c.Flags().StringVar(&reason, "reason", "", "why it may stand")
	c.Flags().StringVar(&by, "by", "", "`initials` of whoever accepts it")
	c.Flags().StringVar(&date, "date", "", "`day` of the acceptance, year-month-day (default: today)")
	c.Flags().BoolVar(&withdraw, "withdraw", false, "take the acceptance out of the study")
	return c
}

func acceptFinding(path, id, reason, by, date string, c *cobra.Command) (string, error) {
	switch {
	case reason == "":
		return "", fmt.Errorf("--reason is missing: whoever reads the study later must know why the finding may stand")
	case by == "":
		return "", fmt.Errorf("--by is missing: give the initials of whoever accepts the finding")
	case !study.IsDate(date):
		return "", fmt.Errorf("--date %s: want a day, year-month-day, as 2026-03-02", date)
	}
	doc, states, _, err := load(path, c.ErrOrStderr())
	if err != nil {
		return "", err
	}
	r, err := review.Open(doc, states)
	if err != nil {
		return "", err
	}
	if err := r.Judge(); err != nil {
		return "", err
	}
	f := r.Find(id)
	switch {
	case f == nil:
		var open []string
		for i := range r.Findings {
			if r.Findings[i].Verdict != finding.Holds {
				open = append(open, r.Findings[i].ID())
			}
		}
		return "", noFinding(id, open)
	case f.Verdict == finding.Holds:
		return "", fmt.Errorf("%s holds: there is nothing to accept", id)
	case f.IsAccepted():
		return "", fmt.Errorf("%s is accepted already, by %s on %s (%s); to change that, withdraw it first", id, f.Acceptance.By, f.Acceptance.Date, f.Acceptance.Reason)
	}
	file := doc.File
	if e := doc.Accepted.Find(id); e != nil { // reopened: it is written where it stands
		file = e.NameAt.File
	}
	err = editFile(path, file, func(name string, text []byte) ([]byte, error) {
		return study.Accept(name, text, f, reason, by, date)
	}, c)
	if err != nil {
		return "", err
	}
	stood := f.Verdict.String()
	if f.Value != nil {
		stood += ", " + f.Value.String()
	}
	return fmt.Sprintf("%s: %s (%s) is accepted by %s, %s", file, id, stood, by, date), nil
}

func withdrawFinding(path, id string, c *cobra.Command) (string, error) {
	doc, _, _, err := load(path, c.ErrOrStderr())
	if err != nil {
		return "", err
	}
	e := doc.Accepted.Find(id)
	if e == nil {
		if len(doc.Accepted.Entries) == 0 {
			return "", fmt.Errorf("the study accepts no finding")
		}
		return "", fmt.Errorf("no acceptance of %w", noFinding(id, doc.Accepted.Names()))
	}
	file := e.NameAt.File
	err = editFile(path, file, func(name string, text []byte) ([]byte, error) { return study.Withdraw(name, text, id) }, c)
	if err != nil {
		return "", err
	}
	return fmt.Sprintf("%s: the acceptance of %s by %s, %s, is taken out", file, id, e.Item.By.V, e.Item.Date.V), nil
}

// noFinding says that a finding is not there, and which may be meant.
func noFinding(id string, known []string) error {
	if near, ok := quantity.Nearest(id, known); ok {
		return fmt.Errorf("no finding is called %q; did you mean %q?", id, near)
	}
	for _, k := range known { // a part of it, or its subject alone
		if id != "" && strings.Contains(strings.ToLower(k), strings.ToLower(id)) {
			return fmt.Errorf("no finding is called %q; did you mean %q?", id, k)
		}
	}
	const most = 12
	switch {
	case len(known) == 0:
		return fmt.Errorf("no finding is called %q; every finding of the study holds", id)
	case len(known) > most:
		return fmt.Errorf("no finding is called %q; check prints each one's name in parentheses", id)
	}
	return fmt.Errorf("no finding is called %q; there are %s", id, strings.Join(known, ", "))
}

// editFile changes one file of a study, and leaves it alone where the result
// would not be understood.
func editFile(path, name string, edit func(name string, text []byte) ([]byte, error), c *cobra.Command) error {
	main, err := locate(path)
	if err != nil {
		return err
	}
	file := filepath.Join(filepath.Dir(main), filepath.FromSlash(name))
	old, err := os.ReadFile(file)
	if err != nil {
		return err
	}
	text, err := edit(name, old)
	if err != nil {
		return err
	}
	if worse := newErrors(filepath.Base(name), old, text); len(worse) > 0 {
		if err := study.Render(c.ErrOrStderr(), worse); err != nil {
			return err
		}
		return fmt.Errorf("%s was not changed", file)
	}
	return atomicfile.Write(file, text)
}
