package main

import (
	"encoding/csv"
	"fmt"
	"io"
	"math/cmplx"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"feederwright/answer"
	"feederwright/drawing"
	"feederwright/flow"
	"feederwright/profile"
	"feederwright/strip"
	"feederwright/working"
)

type profileOptions struct {
	from, to, axis, condition, format string
	output, paper, date               string
	between                           int
	resolution                        float64
}

func newProfile() *cobra.Command {
	var o profileOptions
	c := &cobra.Command{
		Use:   "profile STUDY --to PLACE",
		Short: "Fault currents, voltage and load along a path: table, CSV, or a drawing",
		Long: `Profile follows the path from the supply, or from --from, to a bus and shows for
every place on it the largest and smallest fault currents by kind, X/R, the
voltage band and the load current, over all conditions or those chosen.

The path is that of least impedance. Distance counts along lines; impedance is
the positive-sequence impedance of the branches passed, in ohm at the nominal
voltage of the end.

With -o it draws a feeder strip: the path with its devices, and ribbons of
fault current, X/R, voltage and load under it, as SVG, PDF or PNG by the ending
of FILE.`,
		Example: `  feederwright profile examples/velmora --to N7
  feederwright profile examples/velmora --to N7 --from N0 --between 3 --format csv
  feederwright profile examples/velmora --to N7 --from N0 --between 9 -o strip.svg
  feederwright profile examples/velmora --to L3-end --axis impedance --condition "normal, no plant"`,
		Args: exactly(1, "a study: a study file, or a folder with a study.yaml"),
		RunE: func(c *cobra.Command, args []string) error {
			return runProfile(args[0], o, c.OutOrStdout(), c.ErrOrStderr())
		},
	}
	f := c.Flags()
	f.StringVar(&o.format, "format", "text", "output: text, json or csv")
	f.StringVarP(&o.output, "output", "o", "", "draw a strip to this file: .svg, .pdf or .png")
	f.StringVar(&o.paper, "paper", "fit", "of the drawing: A4, A3, Letter, Tabloid (on its side, with title block), or fit: as large as the figure")
	f.StringVar(&o.date, "date", "", "date in the title block (default: today)")
	f.Float64Var(&o.resolution, "resolution", 150, "of a PNG, in pixels per inch")
	f.StringVar(&o.to, "to", "", "bus at the end of the path (needed)")
	f.StringVar(&o.from, "from", "", "bus at its start (default: the nearest infeed)")
	f.StringVar(&o.axis, "axis", "distance", "axis shown: distance or impedance")
	f.StringVar(&o.condition, "condition", "", "condition or parts of its name (default: all)")
	f.IntVar(&o.between, "between", 0, "further points inside every line")
	_ = c.RegisterFlagCompletionFunc("format", cobra.FixedCompletions([]cobra.Completion{"text", "json", "csv"}, cobra.ShellCompDirectiveNoFileComp))
	return c
}

func runProfile(path string, o profileOptions, stdout, stderr io.Writer) error {
	if !slices.Contains([]string{"text", "json", "csv"}, o.format) {
		return fmt.Errorf("--format %s: want text, json or csv", o.format)
	}
	if o.axis != "distance" && o.axis != "impedance" {
		return fmt.Errorf("--axis %s: want distance or impedance", o.axis)
	}
	if o.to == "" {
		return fmt.Errorf("profile wants --to and a bus; see feederwright profile --help")
	}
	kind := strings.ToLower(filepath.Ext(o.output))
	if o.output != "" && !slices.Contains([]string{".svg", ".pdf", ".png"}, kind) {
		return fmt.Errorf("-o %s: want a name that ends in .svg, .pdf or .png", o.output)
	}
	if !(o.resolution >= 20 && o.resolution <= 1200) {
		return fmt.Errorf("--resolution %g: want 20 to 1200 pixels per inch", o.resolution)
	}
	s, report, err := openService(path, o.condition, stderr)
	if err != nil {
		return err
	}
	p, err := profile.Of(report, s.cases, profile.Options{From: o.from, To: o.to, Between: o.between})
	if err != nil {
		return err
	}
	for _, d := range report.Defaults {
		if !slices.Contains(s.defaults, d) {
			s.defaults = append(s.defaults, d)
		}
	}
	if o.output != "" {
		page, err := s.strip(p, o)
		if err != nil {
			return err
		}
		return writePages([]*drawing.Page{page}, o.output, kind, o.date, o.resolution, stdout)
	}
	loaded := flow.Loaded(s.doc)
	switch o.format {
	case "json":
		return writeJSON(stdout, answer.ProfileOf(s.doc, p, s.defaults))
	case "csv":
		return profileCSV(stdout, p)
	}
	return s.profileText(stdout, p, o.axis, loaded)
}

// strip draws a profile on the paper asked for.
func (s *service) strip(p *profile.Profile, o profileOptions) (*drawing.Page, error) {
	if o.date == "" {
		o.date = time.Now().Format(time.DateOnly)
	}
	options := strip.Options{Title: s.doc.Title.V, Impedance: o.axis == "impedance"}
	options.Unit, options.Metre = s.doc.LengthUnit()
	if flow.Loaded(s.doc) {
		options.Low, options.High = s.limits.VoltageLow, s.limits.VoltageHigh
	}
	if o.paper == "fit" {
		page, err := strip.Draw(p, options)
		if err != nil {
			return nil, err
		}
		const edge = 5
		page.Elements = drawing.MoveAll(page.Elements, drawing.Point{X: edge, Y: edge})
		page.Width, page.Height = page.Width+2*edge, page.Height+2*edge
		return page, nil
	}
	paper, ok := drawing.PaperNamed(o.paper)
	if !ok {
		return nil, fmt.Errorf("--paper %s: want A4, A3, Letter, Tabloid or fit", o.paper)
	}
	paper = paper.Landscape()
	block := drawing.TitleBlock{Title: options.Title, Subject: "Feeder strip from " + p.From + " to " + p.To, Condition: s.conditionWords(p), Date: o.date, Revision: revisionOf(s.doc), Sheet: 1, Of: 1}
	area := block.Area(paper).Inset(3)
	options.Title, options.Width, options.Height = "", area.W, area.H
	figure, err := strip.Draw(p, options)
	if err != nil {
		return nil, err
	}
	page := block.Page(paper)
	page.Desc = figure.Desc
	page.Add(drawing.MoveAll(figure.Elements, drawing.Point{X: area.X, Y: area.Y})...)
	return page, nil
}

func (s *service) conditionWords(p *profile.Profile) string {
	if len(p.Conditions) == 1 {
		return p.Conditions[0]
	}
	return plural(len(p.Conditions), "condition")
}

func band(b profile.Band) string {
	switch {
	case !b.Known && b.Unproven != "":
		return "?"
	case !b.Known:
		return ""
	}
	least, most := ampere(b.Least), ampere(b.Most)
	if least == most {
		return most
	}
	return least + "–" + most
}

func (s *service) profileText(w io.Writer, p *profile.Profile, axis string, loaded bool) error {
	fmt.Fprintf(w, "%s\n", s.doc.Title.V)
	fmt.Fprint(w, fold(fmt.Sprintf("profile from %s to %s over %s; smallest–largest fault current, A, and load, A; voltage in %% of nominal", p.From, p.To, plural(len(p.Conditions), "condition")), "", lineWidth))
	unit, metre := s.doc.LengthUnit()
	head := []string{"place", "over", ">" + unit}
	if axis == "impedance" {
		head[2] = ">ohm"
	}
	shown := []int{0, 1, 3} // three-phase, line-to-line, line-to-earth
	for _, k := range shown {
		head = append(head, ">"+p.Kinds[k])
	}
	head = append(head, ">X/R")
	if loaded {
		head = append(head, ">voltage", ">load")
	}
	t := table{head: head}
	var missing []string
	for i := range p.Points {
		pt := &p.Points[i]
		over := strings.Join(append(slices.Clone(pt.Devices), pt.Branch), " ")
		row := []string{pt.Place, strings.TrimSpace(over), fmt.Sprintf("%.2f", pt.Distance/metre)}
		if axis == "impedance" {
			row[2] = working.Number(cmplx.Abs(pt.Impedance), 4)
		}
		for _, k := range shown {
			row = append(row, band(pt.Faults[k]))
			if m := pt.Faults[k].Unproven; m != "" && !slices.Contains(missing, m) {
				missing = append(missing, m)
			}
		}
		xr := ""
		if pt.XR.Known {
			xr = working.Number(pt.XR.V, 3)
		}
		row = append(row, xr)
		if loaded {
			v, load := "", ""
			if pt.Voltage.Known {
				v = fmt.Sprintf("%.1f–%.1f", 100*pt.Voltage.Least, 100*pt.Voltage.Most)
			}
			if pt.Load.Known {
				load = fmt.Sprintf("%.0f–%.0f", pt.Load.Least, pt.Load.Most)
			}
			row = append(row, v, load)
		}
		t.add(row...)
	}
	var names []string
	if t.width("") > lineWidth { // what leads there, on a line of its own
		for i := range t.rows {
			names = append(names, t.rows[i][1])
			t.rows[i] = append(t.rows[i][:1], t.rows[i][2:]...)
		}
		t.head = append(t.head[:1], t.head[2:]...)
		if err := t.writeUnder(w, names); err != nil {
			return err
		}
	} else if err := t.write(w, ""); err != nil {
		return err
	}
	unproven(w, missing)
	if loaded && len(p.Without) > 0 {
		fmt.Fprint(w, fold("without a load flow solution, and so not in voltage and load: "+strings.Join(p.Without, "; "), "", lineWidth))
	}
	writeAssumptions(w, s.doc, s.defaults)
	return nil
}

// profileCSV writes one row for each point. Units stand in the headings.
func profileCSV(w io.Writer, p *profile.Profile) error {
	out := csv.NewWriter(w)
	head := []string{"place", "over", "devices", "distance_m", "impedance_ohm_re", "impedance_ohm_im", "nominal_V", "phases"}
	for _, k := range p.Kinds {
		head = append(head, k+"_least_A", k+"_most_A")
	}
	head = append(head, "x_over_r", "voltage_least_of_nominal", "voltage_most_of_nominal", "load_least_A", "load_most_A")
	if err := out.Write(head); err != nil {
		return err
	}
	number := func(known bool, x float64) string {
		if !known {
			return ""
		}
		return strconv.FormatFloat(x, 'g', 8, 64)
	}
	for i := range p.Points {
		pt := &p.Points[i]
		row := []string{pt.Place, pt.Branch, strings.Join(pt.Devices, " "), number(true, pt.Distance), number(true, real(pt.Impedance)), number(true, imag(pt.Impedance)), number(true, pt.Nominal), pt.Phases.Letters()}
		for _, b := range pt.Faults {
			row = append(row, number(b.Known, b.Least), number(b.Known, b.Most))
		}
		row = append(row, number(pt.XR.Known, pt.XR.V), number(pt.Voltage.Known, pt.Voltage.Least), number(pt.Voltage.Known, pt.Voltage.Most), number(pt.Load.Known, pt.Load.Least), number(pt.Load.Known, pt.Load.Most))
		if err := out.Write(row); err != nil {
			return err
		}
	}
	out.Flush()
	return out.Error()
}
