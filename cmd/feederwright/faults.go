package main

import (
	"errors"
	"fmt"
	"io"
	"math"
	"math/cmplx"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"feederwright/answer"
	"feederwright/fault"
	"feederwright/phasor"
	"feederwright/quantity"
	"feederwright/review"
	"feederwright/study"
	"feederwright/working"
)

type faultOptions struct {
	at, kind, resistance, condition, vantage, residual, format string
	working                                                    bool
}

func newFaults() *cobra.Command {
	var o faultOptions
	c := &cobra.Command{
		Use:   "faults STUDY",
		Short: "Fault currents: at every place, or one fault as everybody sees it",
		Long: `Faults computes short circuits by superposition on the state before the fault.

Without options it shows, for every bus, the largest and smallest current of
each kind over all conditions. With one condition it shows that condition's
table. With --at and --kind it shows one fault: currents, voltages, what every
vantage sees (primary, secondary, sequence), and where the earth current
returns. With --residual it shows the largest fault resistance at which that
residual current (3I0, primary) still flows.

PLACE is a bus, or a point on a line from its 'from' end: L2/40%, L2/0.7mi.
KIND is 3ph, 3ph-g, ll, ll-g or lg, with phases where they matter: lg:A, ll:BC.
Conductors open: open:A, open:AB; open-from-g:A and open-to-g:A with the end
towards the branch's 'from' or 'to' bus on earth; PLACE is then a point on a
line, or BRANCH/BUS for the end of a line or transformer. Several at once:
"lg:A@N3+lg:B@N5", "open:A@L2/40%+lg:B@N6".
CONDITION is a condition's name, or parts of it: "maximum, normal".
All currents are symmetrical r.m.s. amperes, primary unless marked.`,
		Example: `  feederwright faults examples/velmora --condition "maximum, normal, no plant"
  feederwright faults examples/velmora --at N3 --kind lg:A --condition "maximum, normal, no plant" --working
  feederwright faults examples/velmora --kind lg:A@N3+lg:B@N5 --condition "maximum, normal, no plant"
  feederwright faults examples/velmora --residual "160 A" --vantage "R1 control"`,
		Args: exactly(1, "a study: a study file, or a folder with a study.yaml"),
		RunE: func(c *cobra.Command, args []string) error {
			return runFaults(args[0], o, c.OutOrStdout(), c.ErrOrStderr())
		},
	}
	addFormat(c, &o.format)
	f := c.Flags()
	f.StringVar(&o.at, "at", "", "place of the fault")
	f.StringVar(&o.kind, "kind", "", "kind of the fault")
	f.StringVar(&o.resistance, "resistance", "", "fault resistance, as 40ohm (default: bolted)")
	f.StringVar(&o.condition, "condition", "", "condition or parts of its name (default: all)")
	f.StringVar(&o.vantage, "vantage", "", "show only what this relay or instrument transformer sees")
	f.StringVar(&o.residual, "residual", "", "show the largest fault resistance that still gives this 3I0, as 160A")
	f.BoolVar(&o.working, "working", false, "show the working behind the current")
	return c
}

// A request is what the options mean for a study.
type request struct {
	doc        *study.Document
	report     *review.Report
	kinds      []fault.Kind // nil: all
	resistance float64
	residual   float64
	vantage    string
}

func runFaults(path string, o faultOptions, stdout, stderr io.Writer) error {
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
	q := request{doc: doc, vantage: o.vantage}
	if o.kind != "" && !compound(o.kind) {
		if q.kinds, err = fault.ParseKinds(o.kind); err != nil {
			return err
		}
	}
	if o.resistance != "" {
		var z quantity.Impedance
		if err := z.UnmarshalText([]byte(o.resistance)); err != nil {
			return fmt.Errorf("--resistance: %w", err)
		}
		if imag(z) != 0 || real(z) < 0 {
			return fmt.Errorf("--resistance %s: want a resistance that is not negative, as 40ohm", o.resistance)
		}
		q.resistance = real(z)
	}
	if o.residual != "" {
		var i quantity.Current
		if err := i.UnmarshalText([]byte(o.residual)); err != nil {
			return fmt.Errorf("--residual: %w", err)
		}
		if q.residual = float64(i); q.residual <= 0 {
			return fmt.Errorf("--residual %s: want a current above zero", o.residual)
		}
	}
	if q.report, err = review.Open(doc, states); err != nil {
		return err
	}
	if err := q.checkVantage(); err != nil {
		return err
	}
	if compound(o.kind) {
		if o.working || o.residual != "" {
			return fmt.Errorf("--working and --residual are for a single short circuit, not for %s", o.kind)
		}
		if o.format == "json" {
			return q.json(stdout, nil, o)
		}
		if _, _, err := answer.CompoundParts(q.report.Cases[0], o.kind, o.at, q.resistance); err != nil {
			return err // before anything is printed
		}
		fmt.Fprintf(stdout, "%s\n", doc.Title.V)
		return q.compoundText(stdout, o)
	}
	places, err := q.places(o.at)
	if err != nil {
		return err
	}
	if o.format == "json" {
		return q.json(stdout, places, o)
	}
	fmt.Fprintf(stdout, "%s\n", doc.Title.V)
	switch {
	case q.residual > 0:
		err = q.covered(stdout, places)
	case o.at != "" && (q.kinds != nil || o.working):
		err = q.details(stdout, o)
	case q.vantage != "":
		err = q.seen(stdout, places)
	case len(q.report.Cases) == 1:
		err = q.oneCondition(stdout, places)
	default:
		err = q.extremes(stdout, places)
	}
	if err != nil {
		return err
	}
	writeAssumptions(stdout, doc, q.report.Defaults)
	return nil
}

// json answers as JSON.
func (q *request) json(w io.Writer, places []string, o faultOptions) error {
	ask := answer.FaultQuery{Doc: q.doc, Report: q.report, Kinds: q.kinds, Resistance: q.resistance, Residual: q.residual, Vantage: q.vantage,
		At: o.at, Detail: o.at != "", Working: o.working}
	if compound(o.kind) {
		ask.Compound = o.kind
	}
	out, err := ask.Faults(places)
	if err != nil {
		return err
	}
	return writeJSON(w, out)
}

func (q *request) names(conductor int) string { return fault.PhaseName(q.doc, conductor) }

func (q *request) kindName(k fault.Kind) string { return fault.KindName(q.doc, k) }

func (q *request) checkVantage() error {
	if q.vantage == "" {
		return nil
	}
	var names []string
	for _, v := range q.report.Cases[0].Model.Vantages {
		if v.Name == q.vantage {
			return nil
		}
		names = append(names, v.Name)
	}
	if near, ok := quantity.Nearest(q.vantage, names); ok {
		return fmt.Errorf("no vantage is called %q; did you mean %q?", q.vantage, near)
	}
	if len(names) == 0 {
		return fmt.Errorf("the study has no relays or instrument transformers, so nothing to look from")
	}
	return fmt.Errorf("no vantage is called %q; vantages are %s", q.vantage, strings.Join(names, ", "))
}

// places are the names of the places asked for.
func (q *request) places(at string) ([]string, error) {
	if at == "" {
		return q.doc.Buses.Names(), nil
	}
	var last error
	for _, c := range q.report.Cases {
		if _, err := c.ParsePlace(at); err == nil {
			return []string{at}, nil
		} else {
			last = err
		}
	}
	return nil, last
}

// types are the types of fault shown for some places: those to a neutral
// conductor where one of them has it.
func (q *request) types(places []string) []fault.Type {
	types := []fault.Type{fault.ThreePhase, fault.LineLine, fault.LineLineEarth, fault.LineEarth}
	for _, c := range q.report.Cases {
		for _, name := range places {
			if p, err := c.ParsePlace(name); err == nil {
				if t, err := c.At(p.Place); err == nil && t.Phases.Has(quantity.PhaseN) {
					return append(types, fault.LineNeutral)
				}
			}
		}
	}
	return types
}

func ampere(x float64) string { return working.Number(x, 4) }

// extremes: every place over all conditions.
func (q *request) extremes(w io.Writer, places []string) error {
	types := q.types(places)
	if q.kinds != nil {
		types = []fault.Type{q.kinds[0].Type}
	}
	fmt.Fprintf(w, "largest and smallest fault current over %s, A%s\n\n", plural(len(q.report.Cases), "condition"), through(q.resistance))
	t := table{head: []string{"place"}}
	for _, typ := range types {
		t.head = append(t.head, ">"+typ.String()+" max", ">min")
	}
	cases := table{head: []string{"place", "kind", "largest in condition", "smallest in condition"}}
	var notes []string
	for _, name := range places {
		row := []string{name}
		for _, typ := range types {
			x, err := q.report.ExtremesAt(name, typ, q.resistance)
			if err != nil {
				return err
			}
			switch {
			case x.Cases > 0:
				row = append(row, ampere(x.Largest), ampere(x.Smallest))
				cases.add(name, typ.String(), x.LargestCase, x.SmallestCase)
			case x.Unproven != "":
				row = append(row, "?", "")
				notes = append(notes, x.Unproven)
			default:
				row = append(row, "—", "")
			}
		}
		t.add(row...)
	}
	if err := t.write(w, ""); err != nil {
		return err
	}
	fmt.Fprintln(w)
	unproven(w, notes)
	fmt.Fprintln(w, "—  the place has no such phases, or no source in any condition")
	if len(places) > 1 {
		fmt.Fprintln(w, "In which conditions: --at PLACE; one condition's table: --condition NAME.")
		return nil
	}
	fmt.Fprintln(w)
	return cases.write(w, "")
}

// unproven explains the question marks of a table.
func unproven(w io.Writer, why []string) {
	seen := map[string]bool{}
	for _, s := range why {
		if !seen[s] {
			seen[s] = true
			fmt.Fprint(w, fold("?  unproven: the "+s+" is not given", "", lineWidth))
		}
	}
}

func through(r float64) string {
	if r == 0 {
		return ", bolted"
	}
	return fmt.Sprintf(", through %s ohm", working.Number(r, 4))
}

// oneCondition: the classic table of one condition.
func (q *request) oneCondition(w io.Writer, places []string) error {
	c := q.report.Cases[0]
	var through []float64
	if m := q.doc.Method; m != nil {
		for _, z := range m.Resistance.V {
			through = append(through, real(z))
		}
	}
	fmt.Fprintf(w, "condition %s\n", c.Model.State.Name)
	fmt.Fprint(w, "fault currents in A; phase with the largest current where phases differ; X/R of the 3ph and lg loops\n")
	types := []fault.Type{fault.ThreePhase, fault.LineLine, fault.LineLineEarth, fault.LineEarth}
	t := table{head: []string{"place", "Z1 ohm", "Z0 ohm", ">3ph", ">ll", ">ll-g", ">lg"}}
	toNeutral := table{head: []string{"place", ">ln", ">X/R"}}
	if len(through) > 0 {
		fmt.Fprintln(w, "R: line-to-earth fault through a resistance in ohm")
	}
	for _, r := range through {
		t.head = append(t.head, ">R "+plain(r))
	}
	fmt.Fprintln(w)
	t.head = append(t.head, ">X/R 3ph", ">lg")
	for _, name := range places {
		p, err := c.ParsePlace(name)
		if err != nil {
			return err
		}
		row := []string{name}
		th, err := c.At(p.Place)
		if errors.Is(err, fault.ErrNoSource) {
			t.add(name, "no source")
			continue
		}
		if err != nil {
			return err
		}
		z0, z1, _, _, three := c.Sequence(&th)
		floats := false
		for i := 0; i < th.Phases.Count(); i++ {
			floats = floats || th.Part[i] >= 0
		}
		unproven := c.UnprovenEarth(p.Place)
		row = append(row, "—", "—")
		if three {
			row[1] = compact(z1)
			switch {
			case unproven != "":
				row[2] = "not given"
			case floats:
				row[2] = "no path"
			default:
				row[2] = compact(z0)
			}
		}
		xr := [2]string{"—", "—"}
		for _, typ := range types {
			if typ.NeedsZero() && unproven != "" {
				row = append(row, "?")
				continue
			}
			res, err := largest(c, p.Place, typ, 0)
			if err != nil {
				return err
			}
			if res == nil {
				row = append(row, "—")
				continue
			}
			row = append(row, ampere(res.Largest())+unsettledMark(res))
			if typ == fault.ThreePhase {
				xr[0] = working.Number(res.XR(), 3)
			}
			if typ == fault.LineEarth && !floats {
				xr[1] = working.Number(res.XR(), 3)
			}
		}
		for _, r := range through {
			if unproven != "" {
				row = append(row, "?")
				continue
			}
			res, err := largest(c, p.Place, fault.LineEarth, r)
			if err != nil {
				return err
			}
			if res == nil {
				row = append(row, "—")
				continue
			}
			row = append(row, ampere(res.Largest()))
		}
		t.add(append(row, xr[0], xr[1])...)
		if res, err := largest(c, p.Place, fault.LineNeutral, 0); err != nil {
			return err
		} else if res != nil && unproven != "" {
			toNeutral.add(name, "?", "—")
		} else if res != nil {
			toNeutral.add(name, ampere(res.Largest())+unsettledMark(res), working.Number(res.XR(), 3))
		}
	}
	if err := t.write(w, ""); err != nil {
		return err
	}
	if len(toNeutral.rows) > 0 {
		fmt.Fprint(w, "\nbetween a phase, or a leg, and the neutral conductor\n\n")
		if err := toNeutral.write(w, ""); err != nil {
			return err
		}
	}
	fmt.Fprintln(w)
	q.remarks(w, c)
	return nil
}

// plain writes a number as short as it is.
func plain(x float64) string { return strconv.FormatFloat(x, 'g', 4, 64) }

// compact is R+jX without spaces, for narrow columns.
func compact(z complex128) string { return strings.ReplaceAll(working.Complex(z, 4), " ", "") }

// remarks says what a reader of a condition's numbers must know.
func (q *request) remarks(w io.Writer, c *fault.Case) {
	var why []string
	for i := range c.Net.Buses {
		if u := c.Model.Unproven[i]; u != "" {
			why = append(why, u)
		}
	}
	unproven(w, why)
	if u := c.UnsettledBefore(); u > 0 {
		fmt.Fprint(w, fold(fmt.Sprintf("~  before the fault the inverters have no consistent state: %s %% of rated current remains", working.Number(100*u, 2)), "", lineWidth))
	}
	for _, f := range c.Net.Floating {
		var named []int
		unproven := false
		for _, b := range f.Buses {
			unproven = unproven || c.Model.Unproven[b] != ""
			if c.Net.Buses[b].LineEnd == "" {
				named = append(named, b)
			}
		}
		if !unproven && len(named) > 0 {
			fmt.Fprint(w, fold(fmt.Sprintf("no path to earth at %s: voltages to earth are stated with their mean zero at %s; an earth fault draws no current there in this model",
				c.Net.Names(named, 6), c.Net.Buses[f.Reference].Name), "", lineWidth))
		}
	}
	for _, d := range c.Net.Dead {
		if names := c.Net.Names(d, 8); names != "" {
			fmt.Fprint(w, fold("no source feeds "+names, "", lineWidth))
		}
	}
}

// largest is the fault with the largest current among the phase combinations
// of a type, or nil where the place has none.
func largest(c *fault.Case, p fault.Place, typ fault.Type, r float64) (*fault.Result, error) {
	t, err := c.At(p)
	if err != nil {
		return nil, err
	}
	var worst *fault.Result
	for _, k := range fault.Combinations(typ, t.Phases) {
		res, err := c.Fault(p, k, r)
		if err != nil {
			return nil, err
		}
		// A later combination must be larger by more than rounding, so that tables don't flicker between equal phases.
		if worst == nil || res.Largest() > worst.Largest()*(1+1e-9) {
			worst = res
		}
	}
	return worst, nil
}

// details: one fault, or all kinds at one place, as everybody sees it.
func (q *request) details(w io.Writer, o faultOptions) error {
	cases := q.report.Cases
	if o.condition == "" && len(cases) > 1 {
		fmt.Fprint(w, fold(fmt.Sprintf("The first of %d conditions; choose with --condition.", len(cases)), "", lineWidth))
		cases = cases[:1]
	}
	kinds := q.kinds
	for _, c := range cases {
		p, err := c.ParsePlace(o.at)
		if err != nil {
			return err
		}
		t, err := c.At(p.Place)
		if errors.Is(err, fault.ErrNoSource) {
			fmt.Fprintf(w, "\ncondition %s: no source feeds %s\n", c.Model.State.Name, p.Name)
			continue
		}
		if err != nil {
			return err
		}
		if kinds == nil {
			kinds = fault.All(t.Phases)
		}
		shown := false
		for _, k := range kinds {
			if k.Conductors()&^t.Phases != 0 {
				continue
			}
			shown = true
			if why := c.UnprovenEarth(p.Place); why != "" && k.Type.NeedsZero() {
				fmt.Fprint(w, "\n"+fold(fmt.Sprintf("%s at %s, condition %s: unproven, the %s is not given", q.kindName(k), p.Name, c.Model.State.Name, why), "", lineWidth))
				continue
			}
			res, err := c.Fault(p.Place, k, q.resistance)
			if err != nil {
				return err
			}
			if err := q.detail(w, c, p, res, o.working); err != nil {
				return err
			}
		}
		if !shown {
			return fmt.Errorf("%s has the phases %s only; no fault %s there", p.Name, phaseList(t.Phases, q.names), o.kind)
		}
		q.remarks(w, c)
	}
	return nil
}

func phaseList(p quantity.Phases, names func(int) string) string {
	var list []string
	for _, c := range p.Conductors() {
		list = append(list, names(c))
	}
	return strings.Join(list, " ")
}

func (q *request) detail(w io.Writer, c *fault.Case, p fault.NamedPlace, res *fault.Result, work bool) error {
	fmt.Fprintf(w, "\n%s fault (%s) at %s%s\ncondition %s\n\n", res.Kind.Type.Words(), q.kindName(res.Kind), p.Name, through(res.Resistance), c.Model.State.Name)
	t := table{head: []string{"at the fault", ">current A", ">angle", ">voltage to earth V", ">angle"}}
	for _, k := range res.Phases.Conductors() {
		t.add("  "+q.names(k), ampere(cmplx.Abs(tidy(res.I[k], res.Scale()))), angle(res.I[k], res.Scale()), ampere(cmplx.Abs(clean(res.V[k], c, p))), angle(clean(res.V[k], c, p), 0))
	}
	if res.Phases&7 == 7 {
		i0, i1, i2 := c.Net.Rotation.Sequence([3]complex128(res.I[:3]))
		v0, v1, v2 := c.Net.Rotation.Sequence([3]complex128(res.V[:3]))
		for _, s := range []struct {
			name string
			i, v complex128
		}{{"  positive", i1, v1}, {"  negative", i2, v2}, {"  zero", i0, v0}} {
			t.add(s.name, ampere(cmplx.Abs(tidy(s.i, res.Scale()))), angle(s.i, res.Scale()), ampere(cmplx.Abs(clean(s.v, c, p))), angle(clean(s.v, c, p), 0))
		}
	}
	if res.Kind.Type.Earth() {
		t.add("  earth", ampere(cmplx.Abs(tidy(res.Earth, res.Scale()))), angle(res.Earth, res.Scale()))
	}
	if err := t.write(w, ""); err != nil {
		return err
	}
	if x := res.XR(); res.Largest() > 0 {
		fmt.Fprintf(w, "  X/R of the fault loop %s\n", working.Number(x, 3))
	}
	q.inverters(w, c, res)
	q.readings(w, c, res, res.Scale())
	if res.Kind.Type.Earth() && cmplx.Abs(res.Earth) > 0 {
		q.returns(w, c, res)
	}
	if work {
		steps, err := c.Working(res)
		if err != nil {
			return err
		}
		fmt.Fprintf(w, "\nworking\n%s", working.Text(steps, lineWidth))
	}
	return nil
}

// unsettledMark marks a current that inverters keep from being certain.
func unsettledMark(res *fault.Result) string {
	if res.Unsettled > 0 {
		return "~"
	}
	return ""
}

// inverters shows what each inverter gives.
func (q *request) inverters(w io.Writer, c *fault.Case, res *fault.Result) {
	if len(res.Sources) == 0 {
		return
	}
	fmt.Fprintln(w)
	t := table{head: []string{"inverter gives", ">largest phase A", ">of rated", ">I1 A", ">angle", ">I2 A"}}
	for _, s := range res.Sources {
		e := &c.Net.Elements[s.Element]
		_, i1, i2 := c.Net.Rotation.Sequence(s.I)
		most := 0.0
		for _, i := range s.I {
			most = math.Max(most, cmplx.Abs(i))
		}
		rated := e.Control.RatedCurrent()
		t.add(e.Name, ampere(most), fmt.Sprintf("%.1f %%", 100*most/rated), ampere(cmplx.Abs(tidy(i1, rated))), angle(i1, rated), ampere(cmplx.Abs(tidy(i2, rated))))
	}
	_ = t.write(w, "")
	if res.Unsettled > 0 {
		fmt.Fprint(w, fold(fmt.Sprintf("~  not settled: after %d rounds an inverter's current would still change by %s %% of rated; its control has no consistent answer here, so every number of this fault is uncertain by what it gives", res.Rounds, working.Number(100*res.Unsettled, 2)), "", lineWidth))
		return
	}
	fmt.Fprint(w, fold(fmt.Sprintf("settled in %s: no inverter's current would change by more than a millionth of rated", plural(res.Rounds, "round")), "", lineWidth))
}

// clean shows a voltage as zero where it is rounding of the place's nominal voltage.
func clean(v complex128, c *fault.Case, p fault.NamedPlace) complex128 {
	bus := p.Bus
	if p.Line >= 0 {
		bus = c.Net.Elements[p.Line].Terminals[0].Bus
	}
	return tidy(v, c.Net.Buses[bus].Nominal)
}

// tidy shows a phasor as zero where it is rounding of a scale.
func tidy(x complex128, scale float64) complex128 {
	if cmplx.Abs(x) < 1e-9*scale {
		return 0
	}
	return x
}

func angle(x complex128, scale float64) string {
	if tidy(x, scale) == 0 {
		return ""
	}
	d := phasor.Degrees(x)
	if math.Abs(d) < 0.05 {
		d = 0
	}
	return fmt.Sprintf("%.1f°", d)
}

func (q *request) readings(w io.Writer, c *fault.Case, res *fault.Result, scale float64) {
	for _, r := range c.Read(res) {
		if q.vantage != "" && r.Vantage.Name != q.vantage {
			continue
		}
		fmt.Fprintf(w, "\n%s sees\n", r.Vantage.Name)
		t := table{head: []string{"", "", ">primary", ">angle", "circuit", ">secondary", ">angle", "sequence"}}
		for _, cur := range r.Currents {
			label := cur.Input.Name + " " + quantity.CurrentRatio(cur.Input.Ratio).String()
			if cur.Note != "" {
				fmt.Fprint(w, fold(fmt.Sprintf("%s: %s", label, cur.Note), "  ", lineWidth))
				continue
			}
			if silent(cur, scale) {
				fmt.Fprintf(w, "  %s: no current\n", label)
				continue
			}
			q.currentRows(&t, label, cur, scale)
		}
		for _, u := range r.Voltages {
			label := u.Input.Name + " " + quantity.VoltageRatio(u.Input.Ratio).String()
			if u.Note != "" {
				fmt.Fprint(w, fold(fmt.Sprintf("%s: %s", label, u.Note), "  ", lineWidth))
				continue
			}
			q.voltageRows(&t, label, u, c.Net.Buses[u.Input.Bus].Nominal)
		}
		if len(t.rows) > 0 {
			_ = t.write(w, "  ")
		}
	}
}

// silent tells that no conductor carries more than rounding.
func silent(r fault.CurrentReading, scale float64) bool {
	for _, i := range r.Primary {
		if tidy(i, scale) != 0 {
			return false
		}
	}
	return true
}

func (q *request) currentRows(t *table, label string, r fault.CurrentReading, scale float64) {
	var left [][3]string // name, magnitude, angle
	if r.Input.Neutral {
		left = append(left, [3]string{"In A", ampere(cmplx.Abs(tidy(r.Residual, scale))), angle(r.Residual, scale)})
	} else {
		for _, k := range r.Phases.Conductors() {
			left = append(left, [3]string{"I" + q.names(k) + " A", ampere(cmplx.Abs(tidy(r.Primary[k], scale))), angle(r.Primary[k], scale)})
		}
		if r.Phases.Count() > 1 {
			left = append(left, [3]string{"3I0 A", ampere(cmplx.Abs(tidy(r.Residual, scale))), angle(r.Residual, scale)})
		}
	}
	var seq []string
	if r.Phases&7 == 7 && !r.Input.Neutral {
		for i, n := range []string{"I1", "I2", "I0"} {
			x := r.Sequence[[]int{1, 2, 0}[i]]
			seq = append(seq, strings.TrimSpace(fmt.Sprintf("%s %s A %s", n, ampere(cmplx.Abs(tidy(x, scale))), angle(x, scale))))
		}
	}
	q.joinRows(t, label, left, r.Input.Sums, r.Secondary, "A", scale/r.Input.Ratio.Factor(), seq, r.Direction)
}

func (q *request) voltageRows(t *table, label string, r fault.VoltageReading, nominal float64) {
	var left [][3]string
	for _, k := range r.Phases.Conductors() {
		left = append(left, [3]string{"V" + q.names(k) + " V", ampere(cmplx.Abs(tidy(r.Primary[k], nominal))), angle(tidy(r.Primary[k], nominal), 0)})
	}
	var seq []string
	if r.Phases&7 == 7 {
		for i, n := range []string{"V1", "V2", "V0"} {
			x := tidy(r.Sequence[[]int{1, 2, 0}[i]], nominal)
			seq = append(seq, strings.TrimSpace(fmt.Sprintf("%s %s V %s", n, ampere(cmplx.Abs(x)), angle(x, 0))))
		}
	}
	q.joinRows(t, label, left, r.Input.Sums, r.Secondary, "V", nominal/r.Input.Ratio.Factor(), seq, "")
}

func (q *request) joinRows(t *table, label string, left [][3]string, sums []quantity.SignedSum, secondary []complex128, unit string, scale float64, seq []string, direction string) {
	n := max(len(left), len(sums), len(seq))
	if direction != "" {
		n = max(n, 2)
	}
	for i := 0; i < n; i++ {
		row := make([]string, 8)
		if i == 0 {
			row[0] = label
		}
		if i == 1 {
			row[0] = direction
		}
		if i < len(left) {
			row[1], row[2], row[3] = left[i][0], left[i][1], left[i][2]
		}
		if i < len(sums) {
			row[4] = q.sumName(sums[i])
			row[5] = ampere(cmplx.Abs(tidy(secondary[i], scale))) + " " + unit
			row[6] = angle(secondary[i], scale)
		}
		if i < len(seq) {
			row[7] = seq[i]
		}
		t.add(row...)
	}
}

// sumName writes the conductors of a secondary circuit with the study's names,
// those that add first: C−A.
func (q *request) sumName(s quantity.SignedSum) string { return answer.SumName(q.doc, s) }

// returns: where the earth current comes back, largest first.
func (q *request) returns(w io.Writer, c *fault.Case, res *fault.Result) {
	v, _ := c.State(res)
	list := c.EarthReturns(v)
	before := c.EarthReturns(c.Prefault())
	t := table{head: []string{"earth current returns through", ">3I0 A", ">angle", ">share"}}
	charging, along := complex128(0), "charging of lines and cables"
	for i, r := range list {
		x := r.Current - before[i].Current
		if r.Terminal < 0 {
			charging += x
			if c.Net.Elements[r.Element].Terminals[0].Phases.Has(quantity.PhaseN) {
				along = "charging, neutrals along lines"
			}
			continue
		}
		if cmplx.Abs(x) <= 1e-6*cmplx.Abs(res.Earth) {
			continue
		}
		e := &c.Net.Elements[r.Element]
		name := fmt.Sprintf("%s %s", e.Kind, e.Name)
		if branch, ok := c.Doc.Branch(e.Name); ok && string(e.Kind) == branch.Kind {
			name += fmt.Sprintf(", neutral at %s", branch.Ends[r.Terminal].V)
		}
		t.add(name, ampere(cmplx.Abs(x)), angle(x, 0), shareOf(x, res.Earth))
	}
	if cmplx.Abs(charging) > 1e-6*cmplx.Abs(res.Earth) {
		t.add(along, ampere(cmplx.Abs(charging)), angle(charging, 0), shareOf(charging, res.Earth))
	}
	fmt.Fprintln(w)
	_ = t.write(w, "")
}

// shareOf is the part of the earth current that is in phase with it.
func shareOf(x, total complex128) string {
	return fmt.Sprintf("%.1f %%", 100*real(x/total))
}

// seen: what one vantage sees of faults at every place.
func (q *request) seen(w io.Writer, places []string) error {
	kinds := []fault.Type{fault.ThreePhase, fault.LineLine, fault.LineEarth}
	if q.kinds != nil {
		kinds = []fault.Type{q.kinds[0].Type}
	}
	for _, c := range q.report.Cases {
		fmt.Fprintf(w, "\nwhat %s sees, A primary%s; condition %s\n", q.vantage, through(q.resistance), c.Model.State.Name)
		var notes []string
		t := table{head: []string{"place", "kind", "input", ">largest phase", ">3I0", ">I2", ">sec. phase", ">sec. 3I0", "direction"}}
		for _, name := range places {
			p, err := c.ParsePlace(name)
			if err != nil {
				return err
			}
			for _, typ := range kinds {
				if _, err := c.At(p.Place); err != nil {
					continue
				}
				if typ.NeedsZero() && c.UnprovenEarth(p.Place) != "" {
					t.add(name, typ.String(), "?")
					notes = append(notes, c.UnprovenEarth(p.Place))
					continue
				}
				res, err := largest(c, p.Place, typ, q.resistance)
				if err != nil {
					return err
				}
				if res == nil {
					continue
				}
				for _, r := range c.Read(res) {
					if r.Vantage.Name != q.vantage {
						continue
					}
					for _, cur := range r.Currents {
						q.seenRow(&t, name, q.kindName(res.Kind), cur, res.Scale())
					}
				}
			}
		}
		if err := t.write(w, ""); err != nil {
			return err
		}
		unproven(w, notes)
	}
	return nil
}

func (q *request) seenRow(t *table, place, kind string, r fault.CurrentReading, scale float64) {
	if r.Note != "" {
		t.add(place, kind, r.Input.Name, r.Note)
		return
	}
	phase := 0.0
	for _, i := range r.Primary {
		phase = math.Max(phase, cmplx.Abs(tidy(i, scale)))
	}
	residual := cmplx.Abs(tidy(r.Residual, scale))
	k := r.Input.Ratio.Factor()
	row := []string{place, kind, r.Input.Name, ampere(phase), ampere(residual), "—", ampere(phase / k), ampere(residual / k), r.Direction}
	if r.Input.Neutral {
		row[3], row[6] = "—", "—"
	} else if r.Phases&7 == 7 {
		row[5] = ampere(cmplx.Abs(tidy(r.Sequence[2], scale)))
	}
	t.add(row...)
}

// covered: the largest fault resistance at which a residual current still flows.
func (q *request) covered(w io.Writer, places []string) error {
	who := "the fault"
	if q.vantage != "" {
		who = q.vantage
	}
	fmt.Fprintf(w, "largest line-to-earth fault resistance, ohm, at which %s still sees 3I0 = %s A primary\n", who, ampere(q.residual))
	fmt.Fprint(w, fold("The smallest over the phases of a place. A higher-resistance fault is not seen: this says what is covered, not that every fallen conductor is detected.", "", lineWidth))
	for _, c := range q.report.Cases {
		fmt.Fprintf(w, "\ncondition %s\n", c.Model.State.Name)
		t := table{head: []string{"place", ">ohm"}}
		for _, name := range places {
			p, err := c.ParsePlace(name)
			if err != nil {
				return err
			}
			if c.UnprovenEarth(p.Place) != "" {
				t.add(name, "unproven")
				continue
			}
			ohm, seen, err := review.Covered(c, p.Place, q.vantage, q.residual)
			switch {
			case errors.Is(err, fault.ErrNoSource):
				t.add(name, "no source")
			case err != nil:
				return err
			case !seen:
				t.add(name, "never seen")
			default:
				t.add(name, working.Number(ohm, 3))
			}
		}
		if err := t.write(w, "  "); err != nil {
			return err
		}
	}
	return nil
}
