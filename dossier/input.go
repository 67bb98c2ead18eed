package dossier

import (
	"fmt"

	"feederwright/doubt"
	"feederwright/review"
	"feederwright/study"
)

// An Input is all that chapters may draw on.
type Input struct {
	Doc      *study.Document
	States   []study.State
	Report   *review.Report    // judged
	Warnings study.Diagnostics // of reading the study
	Evidence Evidence
	Doubt    *doubt.Report // which datum matters; nil where that was not examined

	Hash    string // of the study
	Date    string // year-month-day
	Program string // name and version
	Issue   string // "" while it is a draft

	sweep *sweep
	zones []zone
}

// Evidence is what the program's outside checks came to, as they were run for
// this dossier.
type Evidence struct {
	Checks []Check
	Gaps   []Gap
}

// A Check is one of them.
type Check struct {
	ID, Title, Method, Source, Label string
	Publication                      string
	Values                           int
	Share                            float64 // the largest deviation over its tolerance
	Holds                            bool
}

// A Gap is an example known to us that is not run.
type Gap struct{ What, Why string }

// A Chapter is one part of a dossier.
type Chapter struct {
	Title string
	Annex bool
	// Build makes its blocks. A chapter without blocks is left out.
	Build func(in *Input) ([]Block, error)
}

// Chapters are all chapters, in order. Further ones go where a reader looks
// for them.
func Chapters() []Chapter {
	return []Chapter{
		{Title: "Read this first", Build: readFirst},
		{Title: "Findings", Build: findings},
		{Title: "Which datum matters", Build: doubts},
		{Title: "Conditions", Build: conditions},
		{Title: "One-line diagram", Build: oneLine},
		{Title: "Supply", Build: supply},
		{Title: "Fault currents", Build: faultCurrents},
		{Title: "Along the feeders", Build: profiles},
		{Title: "Duties and ratings", Build: duties},
		{Title: "What relays see", Build: relaysSee},
		{Title: "Load flow", Build: loadFlow},
		{Title: "Workings", Build: workings},
		{Title: "Devices and instrument transformers", Build: devices},
		{Title: "Lines and conductors", Build: lines},
		{Title: "Evidence for the methods", Build: evidence},
		{Title: "Sources of the data", Build: sources},
		{Title: "Cautions", Build: cautions},
		{Title: "Limits of the models", Build: limits},
		{Title: "Sign-off", Build: signOff},
		{Title: "Fault currents by condition", Annex: true, Build: byCondition},
	}
}

// Build makes a book of chapters.
func Build(in *Input, chapters []Chapter) (*Book, error) {
	b := &Book{Title: in.Doc.Title.V, Name: "Dossier", File: in.Doc.File, Hash: in.Hash, Date: in.Date, Program: in.Program, Issue: in.Issue}
	var err error
	if in.sweep, err = sweepAll(in.Report); err != nil {
		return nil, err
	}
	in.zones = zonesOf(in)
	b.Cover = cover(in)
	for _, c := range chapters {
		blocks, err := c.Build(in)
		if err != nil {
			return nil, fmt.Errorf("chapter %q: %w", c.Title, err)
		}
		if len(blocks) > 0 {
			b.Chapters = append(b.Chapters, Section{Title: c.Title, Annex: c.Annex, Blocks: blocks})
		}
	}
	return b, nil
}
