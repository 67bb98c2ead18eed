package main

import (
	"context"
	"fmt"
	"io"
	"os"
	"os/signal"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"feederwright/answer"
	"feederwright/finding"
	"feederwright/review"
	"feederwright/study"
)

func newCheck() *cobra.Command {
	var format string
	var watch, strict, all bool
	c := &cobra.Command{
		Use:   "check STUDY",
		Short: "Check a study: mistakes in the file, and every finding",
		Long: `Check reads a study, points at its mistakes, builds every condition and prints
every finding, the worst first. Findings that the study accepts (see accept) come
behind those that are open; they do not fail a run, with --strict neither. One
that got worse since is open again.

STUDY is a study file, or a folder with a study.yaml.`,
		Example: "  feederwright check examples/velmora\n  feederwright check my-study/study.yaml --watch",
		Args:    exactly(1, "a study: a study file, or a folder with a study.yaml"),
		RunE: func(c *cobra.Command, args []string) error {
			if err := checkFormat(format); err != nil {
				return err
			}
			if watch {
				return watchStudy(c, args[0], format, strict, all)
			}
			return checkOnce(args[0], format, strict, all, c.OutOrStdout(), c.ErrOrStderr())
		},
	}
	addFormat(c, &format)
	c.Flags().BoolVar(&watch, "watch", false, "check again whenever a file of the study changes; Ctrl-C ends")
	c.Flags().BoolVar(&strict, "strict", false, "exit 1 also where something is thin or unproven, and not accepted")
	c.Flags().BoolVar(&all, "all", false, "show the findings that hold in full, too")
	return c
}

func checkOnce(path, format string, strict, all bool, stdout, stderr io.Writer) error {
	doc, states, diags, err := read(path)
	if err != nil {
		return err
	}
	if diags.Errors() > 0 {
		if format == "json" {
			if err := writeJSON(stdout, answer.CheckOf(doc, states, diags, nil)); err != nil {
				return err
			}
			return errSaid
		}
		study.Render(stdout, diags)
		fmt.Fprintf(stdout, "%s: %s. Nothing was computed.\n", path, countDiagnostics(diags))
		return errSaid
	}
	// What stops the computation is often what a warning tells of.
	stopped := func(err error) error {
		if format != "json" {
			study.Render(stdout, diags)
		}
		return err
	}
	r, err := review.Open(doc, states)
	if err != nil {
		return stopped(err)
	}
	if err := r.Judge(); err != nil {
		return stopped(err)
	}
	if format == "json" {
		if err := writeJSON(stdout, answer.CheckOf(doc, states, diags, r)); err != nil {
			return err
		}
	} else {
		study.Render(stdout, diags)
		fmt.Fprint(stdout, fold(fmt.Sprintf("%s: %s, %s, %s", doc.Title.V, plural(len(states), "condition"), plural(len(doc.Buses.Entries), "bus"), finding.Summary(r.Findings)), "", lineWidth), "\n")
		writeFindings(stdout, r.Findings, all)
		writeStale(stdout, r.Stale)
		writeAssumptions(stdout, doc, r.Defaults)
	}
	if finding.Open(r.Findings, finding.Fails) > 0 || strict && finding.Open(r.Findings, finding.Thin, finding.Unproven) > 0 {
		return errFails
	}
	return nil
}

func writeFindings(w io.Writer, fs []finding.Finding, all bool) {
	for _, f := range fs {
		mark := strings.ToUpper(f.Verdict.String())
		if f.Verdict == finding.Holds {
			mark = f.Verdict.String()
		}
		if f.IsAccepted() {
			mark = "accepted"
		}
		const indent = "          "
		title := fold(f.Title, indent, lineWidth)
		fmt.Fprintf(w, "%-10s%s", mark, strings.TrimPrefix(title, indent))
		if f.Verdict == finding.Holds && !all {
			continue
		}
		if a := f.Acceptance; f.IsAccepted() {
			fmt.Fprint(w, fold(fmt.Sprintf("%s, accepted by %s, %s: %s", f.Verdict, a.By, a.Date, a.Reason), indent, lineWidth))
			if !all {
				fmt.Fprint(w, fold("("+f.ID()+")", indent, lineWidth))
				continue
			}
		} else if f.IsReopened() {
			fmt.Fprint(w, fold(fmt.Sprintf("open again: %s (accepted by %s, %s: %s)", a.Reopened, a.By, a.Date, a.Reason), indent, lineWidth))
		}
		if f.Value != nil {
			line := "value " + f.Value.String()
			if f.Limit != nil {
				line += ", limit " + f.Limit.String()
			}
			if f.Target != nil {
				line += ", target " + f.Target.String()
			}
			fmt.Fprint(w, fold(line, indent, lineWidth))
		}
		for _, p := range []struct{ label, text string }{{"condition", f.Condition}, {"why", f.Explanation}, {"missing", strings.Join(f.Missing, "; ")}, {"cure", f.Cure}, {"basis", f.Basis}} {
			if p.text != "" {
				fmt.Fprint(w, fold(p.label+": "+p.text, indent, lineWidth))
			}
		}
		fmt.Fprintf(w, "%s(%s)\n", indent, f.ID())
	}
}

// writeStale lists the acceptances that apply to nothing.
func writeStale(w io.Writer, stale []review.Stale) {
	if len(stale) == 0 {
		return
	}
	fmt.Fprintln(w, "\nAcceptances without use; feederwright accept --withdraw takes them out:")
	for _, s := range stale {
		fmt.Fprint(w, fold(fmt.Sprintf("%s: %s (accepted by %s, %s: %s)", s.ID, s.Why, s.By, s.Date, s.Reason), "  ", lineWidth))
	}
}

// writeAssumptions lists what is assumed: it ends every text output.
func writeAssumptions(w io.Writer, doc *study.Document, defaults []string) {
	if list := doc.Assumptions(); len(list) > 0 {
		fmt.Fprintln(w, "\nAssumed values of the study:")
		for i := 0; i < len(list); {
			// One line for the values of one entry from one source.
			a := list[i]
			text := a.Object + ":"
			for j := i; i < len(list) && list[i].Object == a.Object && list[i].Source == a.Source; i++ {
				if i > j {
					text += ","
				}
				text += " " + list[i].Key + " " + list[i].Text
			}
			if a.Source != "" {
				text += " (" + a.Source + ")"
			}
			fmt.Fprint(w, fold(text, "  ", lineWidth))
		}
	}
	if len(defaults) > 0 {
		fmt.Fprintln(w, "\nTaken where the study says nothing:")
		for _, d := range defaults {
			fmt.Fprint(w, fold(d, "  ", lineWidth))
		}
	}
}

// pollEvery is how often a watched study is looked at.
const pollEvery = 200 * time.Millisecond

// watchStudy checks again whenever a file of the study changes. What fails is
// shown and does not end the watch.
func watchStudy(c *cobra.Command, path, format string, strict, all bool) error {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	last := ""
	for {
		if now := stamp(path); now != last {
			last = now
			if err := checkOnce(path, format, strict, all, c.OutOrStdout(), c.ErrOrStderr()); err != nil && err != errFails && err != errSaid {
				fmt.Fprintf(c.ErrOrStderr(), "feederwright: %v\n", err)
			}
			fmt.Fprintf(c.ErrOrStderr(), "\nwatching %s; Ctrl-C ends\n", path)
		}
		select {
		case <-ctx.Done():
			return nil
		case <-time.After(pollEvery):
		}
	}
}

// stamp changes whenever a file of the study's folder that could belong to it
// changes: names, sizes and times of the YAML files.
func stamp(path string) string {
	dir := path
	if info, err := os.Stat(path); err != nil || !info.IsDir() {
		dir = filepath.Dir(path)
	}
	var b strings.Builder
	_ = filepath.WalkDir(dir, func(p string, d os.DirEntry, err error) error {
		if err != nil {
			return nil
		}
		if ext := filepath.Ext(p); !d.IsDir() && (ext == ".yaml" || ext == ".yml") {
			if info, err := d.Info(); err == nil {
				fmt.Fprintln(&b, p, info.Size(), info.ModTime().UnixNano())
			}
		}
		return nil
	})
	return b.String()
}
