package main

import (
	"fmt"
	"io"
	"math"
	"math/cmplx"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"feederwright/answer"
	"feederwright/duty"
	"feederwright/finding"
	"feederwright/quantity"
	"feederwright/review"
	"feederwright/study"
	"feederwright/working"
)

type dutyOptions struct {
	at, condition, after, format string
	working, smallest            bool
}

func newDuty() *cobra.Command {
	var o dutyOptions
	c := &cobra.Command{
		Use:   "duty STUDY",
		Short: "Short-circuit duties by IEC 60909-0 or IEEE, and the ratings that meet them",
		Long: `Duty computes the currents by which plant is rated, by the practice that the
study states, and compares them with the ratings of its devices.

iec: IEC 60909-0 with its correction factors: initial current I"k, peak ip,
symmetrical breaking current Ib, steady current Ik, thermal equivalent Ith.
ieee: first-cycle current with X/R from separate networks, peak, and the
current of the interrupting network (C37.010, C37.13, 551).

For every bus and type of fault it shows the largest over all conditions and
ends of the on-load taps, then the worst duty of every device. --at shows one
bus with what each source gives. These currents are not what relays see: for
that see feederwright faults.`,
		Example: `  feederwright duty examples/korrigate
  feederwright duty examples/korrigate --at MSS-1 --condition "maximum, two transformers" --working
  feederwright duty examples/korrigate --smallest`,
		Args: exactly(1, "a study: a study file, or a folder with a study.yaml"),
		RunE: func(c *cobra.Command, args []string) error {
			return runDuty(args[0], o, c.OutOrStdout(), c.ErrOrStderr())
		},
	}
	addFormat(c, &o.format)
	f := c.Flags()
	f.StringVar(&o.at, "at", "", "bus of the fault (default: every bus, and the devices)")
	f.StringVar(&o.condition, "condition", "", "condition or parts of its name (default: all)")
	f.StringVar(&o.after, "after", "50ms", "time from the start of the fault for Ib and for the direct part, as 50ms or 3cycles")
	f.BoolVar(&o.smallest, "smallest", false, "iec: the smallest currents: c min, conductors hot, motors left out")
	f.BoolVar(&o.working, "working", false, "show the working")
	return c
}

func runDuty(path string, o dutyOptions, stdout, stderr io.Writer) error {
	if err := checkFormat(o.format); err != nil {
		return err
	}
	doc, states, diags, err := load(path, stderr)
	if err != nil {
		return err
	}
	study.Render(stderr, diags)
	if o.condition != "" {
		if states, err = study.Select(states, o.condition); err != nil {
			return err
		}
	}
	var d quantity.Duration
	if err := d.UnmarshalText([]byte(o.after)); err != nil {
		return fmt.Errorf("--after: %w", err)
	}
	after := d.At(float64(doc.Frequency.V))
	m, _ := duty.MethodOf(doc)
	if o.smallest && m.Practice != duty.IEC {
		return fmt.Errorf("--smallest: the practice of this study, ieee, has no smallest duties; see feederwright faults")
	}
	buses := doc.Buses.Names()
	if o.at != "" {
		if !slices.Contains(buses, o.at) {
			if near, ok := quantity.Nearest(o.at, buses); ok {
				return fmt.Errorf("no bus is called %q; did you mean %q?", o.at, near)
			}
			return fmt.Errorf("no bus is called %q; duties are found at buses", o.at)
		}
		buses = []string{o.at}
	}
	r, err := review.Open(doc, states)
	if err != nil {
		return err
	}
	cases, defaults, err := r.DutyCases(o.smallest)
	if err != nil {
		return err
	}
	places, err := r.PlaceDuties(cases, buses)
	if err != nil {
		return err
	}
	var devices []*review.DeviceDuty
	if o.at == "" && !o.smallest {
		if devices, err = r.Duties(cases); err != nil {
			return err
		}
	}
	var findings []finding.Finding
	for _, d := range devices {
		findings = append(findings, d.Finding(m))
	}
	if o.format == "json" {
		out := answer.DutyOf(doc, states, m, places, devices, defaults, answer.DutyOptions{Smallest: o.smallest, After: after, Working: o.working})
		return writeJSON(stdout, out)
	}
	fmt.Fprintf(stdout, "%s\n", doc.Title.V)
	if err := dutyText(stdout, places, devices, findings, m, after, len(states), o); err != nil {
		return err
	}
	writeAssumptions(stdout, doc, defaults)
	return nil
}

// kiloampere writes amperes in kA; below a milliampere they are none.
func kiloampere(x float64) string {
	if x < 1e-3 {
		x = 0
	}
	return working.Number(x/1e3, 4)
}

func dutyText(w io.Writer, places []review.PlaceDuty, devices []*review.DeviceDuty, findings []finding.Finding, m duty.Method, after float64, conditions int, o dutyOptions) error {
	which, by := "largest", "IEEE C37.010, C37.13 and 551"
	if m.Practice == duty.IEC {
		by = fmt.Sprintf("IEC 60909-0:%d", m.Edition)
	}
	if m.Smallest {
		which = "smallest"
	}
	fmt.Fprintf(w, "%s currents by %s over %s, kA\n\n", which, by, plural(conditions, "condition"))
	t := table{head: []string{"place", "fault", ">first cycle", ">X/R", ">peak", fmt.Sprintf(">Ith %s s", working.Number(m.FaultLasts, 2)), ">interrupting", ">X/R"}}
	if m.Practice == duty.IEC {
		t.head = []string{"place", "fault", ">c", ">I\"k", ">X/R", ">kappa", ">ip", fmt.Sprintf(">Ib %s ms", working.Number(after*1e3, 2)), ">Ik", fmt.Sprintf(">Ith %s s", working.Number(m.FaultLasts, 2))}
	}
	var where []string
	in := map[string][]string{}
	var notes []string
	for _, p := range places {
		x := p.Currents
		if x == nil {
			t.add(p.Place, p.Fault, "?")
			if !slices.Contains(notes, p.Unproven) {
				notes = append(notes, p.Unproven)
			}
			for len(t.rows[len(t.rows)-1]) < len(t.head) {
				t.rows[len(t.rows)-1] = append(t.rows[len(t.rows)-1], "")
			}
			continue
		}
		if m.Practice == duty.IEC {
			t.add(p.Place, p.Fault, fmt.Sprintf("%.2f", x.Factor), kiloampere(x.Initial), working.Number(x.XR, 3), working.Number(x.Kappa, 4), kiloampere(x.Peak), kiloampere(x.Breaking(after)), kiloampere(x.Steady), kiloampere(x.Thermal(m.FaultLasts)))
		} else {
			t.add(p.Place, p.Fault, kiloampere(x.Initial), working.Number(x.XR, 3), kiloampere(x.Peak), kiloampere(x.Thermal(m.FaultLasts)), kiloampere(x.Later), working.Number(x.LaterXR, 3))
		}
		text := p.Condition
		if p.Taps != duty.TapsAsGiven {
			text += "; on-load taps " + string(p.Taps)
		}
		if in[text] == nil {
			where = append(where, text)
		}
		typ, _, _ := strings.Cut(p.Fault, ":")
		if list := in[text]; len(list) > 0 && strings.HasPrefix(list[len(list)-1], p.Place+" (") {
			list[len(list)-1] = strings.TrimSuffix(list[len(list)-1], ")") + ", " + typ + ")"
		} else {
			in[text] = append(in[text], p.Place+" ("+typ+")")
		}
	}
	if err := t.write(w, ""); err != nil {
		return err
	}
	if len(notes) > 0 {
		fmt.Fprintln(w)
		unproven(w, notes)
	}
	if o.at != "" {
		return dutyDetails(w, places, m, after, o)
	}
	fmt.Fprintf(w, "\nthe %s stand in condition\n", which)
	for _, text := range where {
		fmt.Fprint(w, fold(text+":", "  ", lineWidth), fold(strings.Join(in[text], ", "), "      ", lineWidth))
	}
	if len(devices) == 0 {
		return nil
	}
	fmt.Fprintf(w, "\nworst duty of each device, kA (making: peak)\n\n")
	d := table{head: []string{"device", "duty", ">kA", ">rating", ">%", "verdict", "fault", "place"}}
	for i, x := range devices {
		rating, part := "?", ""
		if x.Rating > 0 {
			rating, part = kiloampere(x.Rating), fmt.Sprintf("%.0f", 100*x.Part())
		}
		d.add(x.Name, x.Rule, kiloampere(x.Value), rating, part, findings[i].Verdict.String(), x.Fault, x.Place)
	}
	if err := d.write(w, ""); err != nil {
		return err
	}
	fmt.Fprintln(w, "\nfeederwright check has these as findings, with condition, reason and cure.")
	return nil
}

// dutyDetails shows the sources behind each type of fault at one bus.
func dutyDetails(w io.Writer, places []review.PlaceDuty, m duty.Method, after float64, o dutyOptions) error {
	for _, p := range places {
		x := p.Currents
		if x == nil {
			continue
		}
		text := fmt.Sprintf("%s at %s: condition %s", p.Fault, p.Place, p.Condition)
		if p.Taps != duty.TapsAsGiven {
			text += "; on-load taps " + string(p.Taps)
		}
		fmt.Fprint(w, "\n"+fold(text, "", lineWidth))
		if len(x.Sources) > 0 {
			t := table{head: []string{"source, positive sequence", "", ">A there", ">A at the fault", ">over rated"}}
			for _, s := range x.Sources {
				over := ""
				if s.Ratio > 0 {
					over = working.Number(s.Ratio, 3)
				}
				t.add(s.Name, string(s.Kind), working.Number(s.Current, 4), working.Number(cmplx.Abs(s.Share), 4), over)
			}
			if err := t.write(w, "  "); err != nil {
				return err
			}
		}
		ac, dc := x.AC(after), x.DC(after)
		fmt.Fprintf(w, "  after %s ms: %s kA symmetrical, direct part up to %s kA, total %s kA r.m.s.\n", working.Number(after*1e3, 3), kiloampere(ac), kiloampere(dc), kiloampere(math.Hypot(ac, dc)))
		if x.ByLimit > 0 {
			fmt.Fprintf(w, "  from converters %s A\n", working.Number(x.ByLimit, 4))
		}
		if m.Practice == duty.IEEE && x.Remote < 1 {
			fmt.Fprint(w, fold(fmt.Sprintf("%.0f %% of the interrupting current comes from generators nearby; it counts without their decay", 100*(1-x.Remote)), "  ", lineWidth))
		}
		if len(x.Missing) > 0 {
			fmt.Fprint(w, fold("taken on the safe side, since not given: "+strings.Join(x.Missing, "; "), "  ", lineWidth))
		}
		if o.working {
			fmt.Fprint(w, working.Text(answer.DutySteps(x, m, after), lineWidth))
		}
	}
	return nil
}
