package main

import (
	"fmt"
	"io"
	"math"
	"math/cmplx"
	"strings"

	"github.com/spf13/cobra"

	"feederwright/answer"
	"feederwright/flow"
	"feederwright/phasor"
	"feederwright/quantity"
	"feederwright/review"
	"feederwright/study"
	"feederwright/working"
)

type flowOptions struct{ condition, at, format string }

func newFlow() *cobra.Command {
	var o flowOptions
	c := &cobra.Command{
		Use:   "flow STUDY",
		Short: "Load flow: voltages, currents, losses and loading in service",
		Long: `Flow finds the state of service: an unbalanced load flow in three phases (and
the neutral, where it is a conductor), with taps where their controls leave them.

Without options it shows one line for every condition. With one condition it
shows voltages, branches, what every vantage sees, taps and the power balance.
With --at it shows the currents at one vantage or branch in every condition.

A condition whose load flow has no solution says where power is missing, the
likely cause, and up to which part of the loads there is a solution.
CONDITION is a condition's name, or parts of it: "maximum, normal".
Currents are r.m.s. amperes, primary unless marked.`,
		Example: `  feederwright flow examples/velmora
  feederwright flow examples/velmora --condition "maximum, normal, no plant"
  feederwright flow examples/velmora --at VM-11`,
		Args: exactly(1, "a study: a study file, or a folder with a study.yaml"),
		RunE: func(c *cobra.Command, args []string) error {
			return runFlow(args[0], o, c.OutOrStdout(), c.ErrOrStderr())
		},
	}
	addFormat(c, &o.format)
	f := c.Flags()
	f.StringVar(&o.condition, "condition", "", "condition or parts of its name (default: all)")
	f.StringVar(&o.at, "at", "", "relay, instrument transformer, line, transformer or other branch to look at")
	return c
}

// A service is what the options mean for a study.
type service struct {
	doc      *study.Document
	cases    []*flow.Case
	limits   flow.Limits
	defaults []string
}

func openService(path, condition string, stderr io.Writer) (*service, *review.Report, error) {
	doc, states, diags, err := load(path, stderr)
	if err != nil {
		return nil, nil, err
	}
	study.Render(stderr, diags)
	if condition != "" {
		if states, err = study.Select(states, condition); err != nil {
			return nil, nil, err
		}
	}
	report, err := review.Open(doc, states)
	if err != nil {
		return nil, nil, err
	}
	s := &service{doc: doc, limits: flow.LimitsOf(doc)}
	if s.cases, err = report.Flows(); err != nil {
		return nil, nil, err
	}
	seen := make(map[string]bool)
	for _, c := range s.cases {
		for _, d := range c.Model.Defaults {
			if !seen[d] {
				seen[d] = true
				s.defaults = append(s.defaults, d)
			}
		}
	}
	s.defaults = append(s.defaults, s.limits.Defaults...)
	return s, report, nil
}

func runFlow(path string, o flowOptions, stdout, stderr io.Writer) error {
	if err := checkFormat(o.format); err != nil {
		return err
	}
	s, _, err := openService(path, o.condition, stderr)
	if err != nil {
		return err
	}
	if o.at != "" {
		if err := s.known(o.at); err != nil {
			return err
		}
	}
	if o.format == "json" {
		return writeJSON(stdout, answer.FlowOf(s.doc, s.cases, s.defaults, o.at))
	}
	fmt.Fprintf(stdout, "%s\n", s.doc.Title.V)
	switch {
	case o.at != "":
		err = s.at(stdout, o.at)
	case len(s.cases) == 1:
		err = s.one(stdout, s.cases[0])
	default:
		err = s.summary(stdout)
	}
	if err != nil {
		return err
	}
	writeAssumptions(stdout, s.doc, s.defaults)
	return nil
}

// known checks the name of a vantage or branch.
func (s *service) known(name string) error {
	var names []string
	for _, v := range s.cases[0].Model.Vantages {
		names = append(names, v.Name)
	}
	for _, b := range s.doc.Branches() {
		names = append(names, b.Name)
	}
	for _, n := range names {
		if n == name {
			return nil
		}
	}
	if near, ok := quantity.Nearest(name, names); ok {
		return fmt.Errorf("--at: no vantage or branch is called %q; did you mean %q?", name, near)
	}
	return fmt.Errorf("--at: no vantage or branch is called %q; they are %s", name, strings.Join(names, ", "))
}

// extremes are the lowest and highest voltage of a case, over nominal, and where.
func extremes(c *flow.Case) (low, high float64, lowAt, highAt string) {
	low, high = math.Inf(1), math.Inf(-1)
	for _, b := range c.Buses() {
		for _, p := range (b.Phases & quantity.PhasesABC).Conductors() {
			if u := b.Judged[p]; u < low {
				low, lowAt = u, b.Name+" "+c.PhaseName(p)
			}
			if u := b.Judged[p]; u > high {
				high, highAt = u, b.Name+" "+c.PhaseName(p)
			}
		}
	}
	return low, high, lowAt, highAt
}

// heaviest is the highest loading of a case, and of what.
func heaviest(c *flow.Case) (loading float64, what string) {
	for _, b := range c.Branches() {
		if b.Given && b.Loading > loading {
			loading, what = b.Loading, b.Name
		}
	}
	for _, d := range c.Devices() {
		if d.Given && d.Loading > loading {
			loading, what = d.Loading, d.Name
		}
	}
	return loading, what
}

func percentText(x float64) string { return fmt.Sprintf("%.1f", 100*x) }

// kilo writes a power in kW or kvar.
func kilo(x float64) string {
	if math.Abs(x) < 0.5 {
		return "0"
	}
	return working.Number(x/1e3, 4)
}

func (s *service) summary(w io.Writer) error {
	fmt.Fprintf(w, "voltages in %% of nominal, powers in kW and kvar\n")
	t := table{head: []string{"condition", ">lowest", "at", ">highest", "at", ">supply P", ">Q", ">losses", ">loading %", "of"}}
	var without []*flow.Case
	for _, c := range s.cases {
		if !c.Converged {
			t.add(c.State.Name, "no solution")
			without = append(without, c)
			continue
		}
		low, high, lowAt, highAt := extremes(c)
		b := c.Balance()
		row := []string{c.State.Name, percentText(low), lowAt, percentText(high), highAt, kilo(real(b.Sources)), kilo(imag(b.Sources)), kilo(real(b.Losses)), "", ""}
		if loading, what := heaviest(c); what != "" {
			row[8], row[9] = percentText(loading), what
		}
		t.add(row...)
	}
	for i := range t.rows {
		for len(t.rows[i]) < len(t.head) {
			t.rows[i] = append(t.rows[i], "")
		}
	}
	if t.width("") > lineWidth { // names on a line of their own
		names := make([]string, len(t.rows))
		for i := range t.rows {
			names[i], t.rows[i] = t.rows[i][0], t.rows[i][1:]
		}
		t.head = t.head[1:]
		if err := t.writeUnder(w, names); err != nil {
			return err
		}
	} else if err := t.write(w, ""); err != nil {
		return err
	}
	for _, c := range without {
		fmt.Fprintln(w)
		s.trouble(w, c)
	}
	return nil
}

// trouble tells where and why a condition has no solution.
func (s *service) trouble(w io.Writer, c *flow.Case) {
	t := c.Trouble
	fmt.Fprint(w, fold(fmt.Sprintf("%s: the load flow has no solution (%s). After %d rounds and %d of Newton's %s VA are missing at %s, phase %s, more than anywhere else.",
		c.State.Name, t.Cause(c.Net, c.PhaseName), c.Solution.Rounds, c.Newton, working.Number(t.Mismatch, 3), flow.BusName(c.Net, t.Bus), c.PhaseName(t.Conductor)), "", lineWidth))
}

func (s *service) one(w io.Writer, c *flow.Case) error {
	fmt.Fprintf(w, "condition %s\n", c.State.Name)
	if !c.Converged {
		s.trouble(w, c)
		return nil
	}
	how := fmt.Sprintf("solved in %d rounds", c.Solution.Rounds)
	if c.Newton > 0 {
		how += fmt.Sprintf(" and %d of Newton's", c.Newton)
	}
	fmt.Fprintf(w, "%s; largest power left over %s VA\n", how, working.Number(c.Mismatch, 2))
	fmt.Fprintf(w, "\nvoltages to the neutral conductor, or to earth where there is none, %% of nominal and degrees\n")
	t := table{head: []string{"bus", ">nominal", ">" + c.PhaseName(0), "", ">" + c.PhaseName(1), "", ">" + c.PhaseName(2), "", ">V of N", ">V2/V1 %", ""}}
	for _, b := range c.Buses() {
		row := []string{b.Name, quantity.Voltage(b.Nominal).String()}
		if b.Phases == 0 {
			t.add(b.Name, row[1], "no source", "", "", "", "", "", "", "", "")
			continue
		}
		mark := ""
		for p := range 3 {
			if !b.Phases.HasConductor(p) {
				row = append(row, "", "")
				continue
			}
			row = append(row, fmt.Sprintf("%.2f", 100*b.PerUnit[p]), fmt.Sprintf("∠%.1f", phasor.Degrees(b.Phase[p])))
			switch u := b.Judged[p]; {
			case u < s.limits.VoltageLow:
				mark = "low"
			case u > s.limits.VoltageHigh:
				mark = "high"
			}
		}
		neutral, unbalance := "", ""
		if b.Phases.HasConductor(3) {
			neutral = fmt.Sprintf("%.2f", cmplx.Abs(b.Earth[3]))
		}
		if b.Phases&quantity.PhasesABC == quantity.PhasesABC {
			unbalance = fmt.Sprintf("%.2f", 100*b.Unbalance)
		}
		if b.Floating && !b.Phases.HasConductor(3) {
			mark = strings.TrimSpace("no earth " + mark)
		}
		t.add(append(row, neutral, unbalance, mark)...)
	}
	if err := t.write(w, "  "); err != nil {
		return err
	}
	if err := s.branches(w, c); err != nil {
		return err
	}
	if err := s.vantages(w, c); err != nil {
		return err
	}
	if err := s.controls(w, c); err != nil {
		return err
	}
	b := c.Balance()
	fmt.Fprintf(w, "\npower, kW and kvar\n")
	p := table{head: []string{"", ">P", ">Q"}}
	for _, x := range []struct {
		what string
		s    complex128
	}{{"given by infeeds", b.Sources}, {"given by machines and inverters", b.Machines}, {"taken by loads", b.Loads}, {"taken by capacitors and earthing", b.Shunts}, {"losses of branches, with charging", b.Losses}} {
		p.add(x.what, kilo(real(x.s)), kilo(imag(x.s)))
	}
	return p.write(w, "  ")
}

func (s *service) branches(w io.Writer, c *flow.Case) error {
	fmt.Fprintf(w, "\ncurrents into branches at their ends, A; power into them, kW and kvar; losses, kW and kvar\n")
	t := table{head: []string{"branch", "end", ">" + c.PhaseName(0), ">" + c.PhaseName(1), ">" + c.PhaseName(2), ">N", ">earth", ">P", ">Q", ">loss", ">", ">load %", ""}}
	for _, b := range c.Branches() {
		if b.Dead {
			t.add(b.Name, "out, or without source", "", "", "", "", "", "", "", "", "", "", "")
			continue
		}
		for k, end := range b.Ends {
			row := []string{"", end.Bus}
			if k == 0 {
				row[0] = b.Name
			}
			for cond := range 4 {
				if !end.Phases.HasConductor(cond) {
					row = append(row, "")
					continue
				}
				row = append(row, ampere(cmplx.Abs(tidyTo(end.Current[cond], 1e-3))))
			}
			row = append(row, ampere(cmplx.Abs(tidyTo(end.Earth, 1e-3))), kilo(real(end.Power)), kilo(imag(end.Power)), "", "", "", "")
			if k == 0 {
				row[9], row[10] = kilo(real(b.Loss)), kilo(imag(b.Loss))
				if b.Given {
					row[11] = percentText(b.Loading)
					switch {
					case b.Loading >= s.limits.Loading:
						row[12] = "over"
					case b.Loading >= s.limits.LoadingTarget:
						row[12] = "thin"
					}
				}
			}
			t.add(row...)
		}
	}
	if err := t.write(w, "  "); err != nil {
		return err
	}
	d := table{head: []string{"device", ">" + c.PhaseName(0), ">" + c.PhaseName(1), ">" + c.PhaseName(2), ">load %"}}
	for _, r := range c.Devices() {
		row := []string{r.Name}
		for p := range 3 {
			row = append(row, ampere(cmplx.Abs(tidyTo(r.Current[p], 1e-3))))
		}
		if r.Note != "" {
			row = []string{r.Name, r.Note, "", ""}
		}
		d.add(append(row, percentText(r.Loading))...)
	}
	if len(d.rows) == 0 {
		return nil
	}
	fmt.Fprintf(w, "\ncurrents through devices that have a continuous rating, A\n")
	return d.write(w, "  ")
}

// tidyTo makes nothing of what is below a threshold.
func tidyTo(x complex128, least float64) complex128 {
	if cmplx.Abs(x) < least {
		return 0
	}
	return x
}

func (s *service) vantages(w io.Writer, c *flow.Case) error {
	list := c.Read()
	if len(list) == 0 {
		return nil
	}
	fmt.Fprintf(w, "\nwhat vantages see, amperes and volts, degrees\n")
	t := table{head: []string{"vantage", "input", "", ">primary", "", ">secondary", "", ""}}
	for _, r := range list {
		s.readingRows(&t, c, r, r.Vantage.Name)
	}
	return t.write(w, "  ")
}

// readingRows adds what one vantage sees.
func (s *service) readingRows(t *table, c *flow.Case, r flow.Reading, name string) {
	add := func(input, what string, primary *complex128, secondary complex128, unit string) {
		row := []string{name, input, what, "", "", ampere(cmplx.Abs(tidyTo(secondary, 1e-6))), "", unit}
		if primary != nil {
			row[3], row[4] = ampere(cmplx.Abs(tidyTo(*primary, 1e-4))), angleOf(*primary, 1e-4)
		}
		row[6] = angleOf(secondary, 1e-6)
		t.add(row...)
		name = ""
	}
	q := request{doc: s.doc}
	for _, in := range r.Currents {
		if in.Note != "" {
			t.add(name, in.Input.Name, in.Note, "", "", "", "", "")
			name = ""
			continue
		}
		for k, sum := range in.Input.Sums {
			primary := in.Secondary[k] * complex(in.Input.Ratio.Factor(), 0)
			add(in.Input.Name, q.sumName(sum), &primary, in.Secondary[k], "A")
		}
	}
	for _, in := range r.Voltages {
		if in.Note != "" {
			t.add(name, in.Input.Name, in.Note, "", "", "", "", "")
			name = ""
			continue
		}
		for k, sum := range in.Input.Sums {
			primary := in.Secondary[k] * complex(in.Input.Ratio.Factor(), 0)
			add(in.Input.Name, q.sumName(sum), &primary, in.Secondary[k], "V")
		}
	}
}

func angleOf(x complex128, least float64) string {
	if cmplx.Abs(x) < least {
		return ""
	}
	return fmt.Sprintf("∠%.1f", phasor.Degrees(x))
}

func (s *service) controls(w io.Writer, c *flow.Case) error {
	if len(c.Controls) == 0 {
		return nil
	}
	fmt.Fprintf(w, "\ntap controls, V secondary; %s in which some stepped\n", plural(c.Stepped, "round"))
	t := table{head: []string{"control", "unit", ">position %", ">steps moved", ">measured", ">set", ">band", ""}}
	for _, k := range c.Controls {
		unit := "all"
		if len(k.Units) == 1 {
			unit = fmt.Sprint(k.Units[0] + 1)
		}
		note := ""
		switch {
		case k.Fixed:
			note = "fixed by the condition"
		case k.AtLimit:
			note = "at the end of its range"
		}
		for _, name := range c.Hunting {
			if name == k.Name {
				note = "hunts"
			}
		}
		t.add(k.Name, unit, fmt.Sprintf("%+.3f", 100*k.Position), fmt.Sprint(k.Steps), fmt.Sprintf("%.2f", k.Measured), fmt.Sprintf("%.2f", k.Middle), fmt.Sprintf("%.2f", k.Band), note)
	}
	return t.write(w, "  ")
}

// at shows one vantage or branch in every condition.
func (s *service) at(w io.Writer, name string) error {
	for _, v := range s.cases[0].Model.Vantages {
		if v.Name == name {
			return s.atVantage(w, name)
		}
	}
	return s.atBranch(w, name)
}

func (s *service) atVantage(w io.Writer, name string) error {
	for _, c := range s.cases {
		fmt.Fprintf(w, "\nwhat %s sees in service; condition %s\n", name, c.State.Name)
		if !c.Converged {
			s.trouble(w, c)
			continue
		}
		t := table{head: []string{"", "input", "", ">primary", "", ">secondary", "", ""}}
		for _, r := range c.Read() {
			if r.Vantage.Name == name {
				s.readingRows(&t, c, r, "")
			}
		}
		t.head = t.head[1:]
		for i := range t.rows {
			t.rows[i] = t.rows[i][1:]
		}
		if err := t.write(w, "  "); err != nil {
			return err
		}
	}
	return nil
}

func (s *service) atBranch(w io.Writer, name string) error {
	fmt.Fprintf(w, "currents into %s at its ends, A; power into it, kW and kvar\n", name)
	first := s.cases[0]
	t := table{head: []string{"end", ">" + first.PhaseName(0), ">" + first.PhaseName(1), ">" + first.PhaseName(2), ">N", ">earth", ">P", ">Q", ">loss P", ">load %"}}
	var names []string
	for _, c := range s.cases {
		if !c.Converged {
			names = append(names, c.State.Name)
			t.add("no solution", "", "", "", "", "", "", "", "", "")
			continue
		}
		for _, b := range c.Branches() {
			if b.Name != name {
				continue
			}
			if b.Dead {
				names = append(names, c.State.Name)
				t.add("out, or without source", "", "", "", "", "", "", "", "", "")
			}
			for k, end := range b.Ends {
				label := ""
				row := []string{end.Bus}
				for cond := range 4 {
					if end.Phases.HasConductor(cond) {
						row = append(row, ampere(cmplx.Abs(tidyTo(end.Current[cond], 1e-3))))
					} else {
						row = append(row, "")
					}
				}
				row = append(row, ampere(cmplx.Abs(tidyTo(end.Earth, 1e-3))), kilo(real(end.Power)), kilo(imag(end.Power)), "", "")
				if k == 0 {
					label = c.State.Name
					row[8] = kilo(real(b.Loss))
					if b.Given {
						row[9] = percentText(b.Loading)
					}
				}
				names = append(names, label)
				t.add(row...)
			}
		}
	}
	return t.writeUnder(w, names)
}
