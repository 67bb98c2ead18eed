package main

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"feederwright/drawing"
	"feederwright/fault"
	"feederwright/internal/atomicfile"
	"feederwright/oneline"
	"feederwright/review"
	"feederwright/study"
)

type onelineOptions struct {
	output, condition, paper, symbols, date string
	faults, ratings                         bool
	resolution                              float64
}

func newOneline() *cobra.Command {
	var o onelineOptions
	c := &cobra.Command{
		Use:   "oneline STUDY -o FILE",
		Short: "Draw the one-line diagram, laid out from the connections: SVG, PDF or PNG",
		Long: `Oneline draws the study as a one-line diagram. The layout follows from the
connections and the order of the study alone: infeeds above, the first line
that goes on straight down, everything else to its right. An edit moves what is
beside it and rearranges nothing else.

FILE ends in .svg, .pdf or .png. What doesn't fit on one sheet goes on several, by
feeder: further pages of a PDF, else FILE-2.svg, FILE-3.svg and so on.

CONDITION is a condition's name, or parts of it, and has to mean one condition;
without it devices stand as they normally do. Fault levels (--faults) are
the largest and smallest over all conditions, or those of CONDITION.

PAPER is A4, A3, Letter, Tabloid, or fit: one page as large as the diagram,
without title block. By default the smaller of the two sizes that the study's
practice goes with is taken, if the diagram fits on it.`,
		Example: `  feederwright oneline examples/velmora -o velmora.pdf
  feederwright oneline examples/velmora -o velmora.svg --faults --ratings --paper A3
  feederwright oneline examples/velmora -o tie-fed.png --condition "maximum, tie-fed, no plant"`,
		Args: exactly(1, "a study: a study file, or a folder with a study.yaml"),
		RunE: func(c *cobra.Command, args []string) error {
			return runOneline(args[0], o, c.OutOrStdout(), c.ErrOrStderr())
		},
	}
	f := c.Flags()
	f.StringVarP(&o.output, "output", "o", "", "file to write: .svg, .pdf or .png")
	f.StringVar(&o.condition, "condition", "", "condition or parts of its name (default: as written, devices as normal)")
	f.BoolVar(&o.faults, "faults", false, "write fault levels at the buses")
	f.BoolVar(&o.ratings, "ratings", false, "write ratings")
	f.StringVar(&o.paper, "paper", "", "A4, A3, Letter, Tabloid or fit (default: by practice and size)")
	f.StringVar(&o.symbols, "symbols", "", "iec or ieee (default: the study's practice)")
	f.StringVar(&o.date, "date", "", "date in the title block (default: today)")
	f.Float64Var(&o.resolution, "resolution", 150, "of a PNG, in pixels per inch")
	return c
}

func runOneline(path string, o onelineOptions, stdout, stderr io.Writer) error {
	kind := strings.ToLower(filepath.Ext(o.output))
	switch {
	case o.output == "":
		return fmt.Errorf("oneline needs a file to write: -o FILE.svg, .pdf or .png")
	case kind != ".svg" && kind != ".pdf" && kind != ".png":
		return fmt.Errorf("-o %s: want a name that ends in .svg, .pdf or .png", o.output)
	case o.symbols != "" && o.symbols != oneline.IEC && o.symbols != oneline.IEEE:
		return fmt.Errorf("--symbols %s: want %s or %s", o.symbols, oneline.IEC, oneline.IEEE)
	case !(o.resolution >= 20 && o.resolution <= 1200):
		return fmt.Errorf("--resolution %g: want 20 to 1200 pixels per inch", o.resolution)
	}
	if o.date == "" {
		o.date = time.Now().Format(time.DateOnly)
	}
	doc, states, _, err := load(path, stderr)
	if err != nil {
		return err
	}
	papers, err := papersFor(o.paper, doc)
	if err != nil {
		return err
	}
	state := oneline.AsWritten(doc)
	if o.condition != "" {
		chosen, err := study.Select(states, o.condition)
		if err != nil {
			return err
		}
		if len(chosen) != 1 {
			return fmt.Errorf("--condition %q means %d conditions, as %q and %q: a diagram shows one", o.condition, len(chosen), chosen[0].Name, chosen[1].Name)
		}
		state, states = chosen[0], chosen
	}
	options := oneline.Options{Symbols: o.symbols, Ratings: o.ratings, Date: o.date, Revision: revisionOf(doc)}
	if o.faults {
		if options.Levels, err = faultLevels(doc, states); err != nil {
			return err
		}
		note := "Fault levels, bolted, symmetrical r.m.s., by the method of the study: largest–smallest over its " + plural(len(states), "condition") + "."
		if len(states) == 1 {
			note = "Fault levels, bolted, symmetrical r.m.s., by the method of the study, in condition " + states[0].Name + "."
		}
		options.Notes = append(options.Notes, note)
	}
	var d *oneline.Diagram
	for _, options.Paper = range papers {
		if d, err = oneline.Draw(doc, state, options); err != nil {
			return err
		}
		if len(d.Pages) == 1 {
			break
		}
	}
	return writePages(d.Pages, o.output, kind, o.date, o.resolution, stdout)
}

// papersFor lists the sizes to try, the first on which everything fits being
// taken, and else the last.
func papersFor(name string, doc *study.Document) ([]drawing.Paper, error) {
	names := []string{"Letter", "Tabloid"}
	switch {
	case name == "fit":
		return []drawing.Paper{{}}, nil
	case name != "":
		names = []string{name}
	case doc.Practice.V == "iec" || !doc.Practice.Given && doc.Frequency.V < 55:
		names = []string{"A4", "A3"}
	}
	var papers []drawing.Paper
	for _, n := range names {
		p, ok := drawing.PaperNamed(n)
		if !ok {
			return nil, fmt.Errorf("--paper %s: want A4, A3, Letter, Tabloid or fit", n)
		}
		papers = append(papers, p)
	}
	return papers, nil
}

// revisionOf is the beginning of the SHA-256 hash of the study's files, by
// which a drawing can be told to be of this text and no other.
func revisionOf(doc *study.Document) string {
	h := sha256.New()
	for _, f := range doc.Files {
		fmt.Fprintf(h, "%s\n%d\n", f.Name, len(f.Text))
		h.Write(f.Text)
	}
	return "sha256 " + hex.EncodeToString(h.Sum(nil))[:10]
}

// faultLevels are the largest and smallest bolted fault currents at every bus.
func faultLevels(doc *study.Document, states []study.State) (map[string]oneline.Level, error) {
	r, err := review.Open(doc, states)
	if err != nil {
		return nil, err
	}
	levels := make(map[string]oneline.Level)
	for _, bus := range doc.Buses.Entries {
		var l oneline.Level
		for _, typ := range []fault.Type{fault.ThreePhase, fault.LineEarth} {
			x, err := r.ExtremesAt(bus.Name, typ, 0)
			if err != nil {
				return nil, err
			}
			var span *oneline.Range
			if x.Cases > 0 {
				span = &oneline.Range{Max: x.Largest, Min: x.Smallest}
			} else if x.Unproven != "" {
				l.Note = typ.String() + " not known"
			}
			if typ == fault.ThreePhase {
				l.ThreePhase = span
			} else {
				l.Ground = span
			}
		}
		levels[bus.Name] = l
	}
	return levels, nil
}

// writePages writes pages as files and says which.
func writePages(pages []*drawing.Page, name, kind, date string, resolution float64, stdout io.Writer) error {
	if kind == ".pdf" {
		text, err := drawing.PDF(pages, date)
		if err != nil {
			return err
		}
		if err := atomicfile.Write(name, text); err != nil {
			return err
		}
		fmt.Fprintf(stdout, "wrote %s: %s\n", name, plural(len(pages), "sheet"))
		return nil
	}
	// All are made before the first is written.
	var texts [][]byte
	for _, p := range pages {
		text := drawing.SVG(p)
		if kind == ".png" {
			var err error
			if text, err = drawing.PNG(p, resolution); err != nil {
				return err
			}
		}
		texts = append(texts, text)
	}
	for i, text := range texts {
		to := name
		if i > 0 {
			ext := filepath.Ext(name)
			to = fmt.Sprintf("%s-%d%s", strings.TrimSuffix(name, ext), i+1, ext)
		}
		if err := atomicfile.Write(to, text); err != nil {
			return err
		}
		fmt.Fprintf(stdout, "wrote %s: sheet %d of %d\n", to, i+1, len(texts))
	}
	return nil
}
