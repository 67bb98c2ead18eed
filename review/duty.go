package review

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"

	"feederwright/duty"
	"feederwright/fault"
	"feederwright/finding"
	"feederwright/network"
	"feederwright/quantity"
	"feederwright/study"
	"feederwright/working"
)

// Limits of a duty, in percent of the rating.
const (
	dutyLimit  = 100 // what the rating says
	dutyTarget = 90  // common practice, no source
)

// A DeviceDuty is the worst of one duty of one device, or of a line type's
// conductors, over all conditions, places and kinds of fault.
type DeviceDuty struct {
	Kind, Name string
	Rule       string // interrupting, making, short-time ...
	Value      float64
	Rating     float64 // A; 0: not given
	Condition  string
	Taps       duty.TapState
	Fault      string
	Place      string
	Parallel   []string // infeeds that feed the fault together
	Missing    []string // data that were taken on the safe side, or not at all
	How        string   // what is compared, in words
	Steps      []working.Step
	Source     study.Mark
}

// Part is the value over the rating.
func (d *DeviceDuty) Part() float64 { return d.Value / d.Rating }

// DutyCases prepares the duties of every condition and tap state, in order: for
// the largest currents, or the smallest, which IEC 60909-0 alone has.
func (r *Report) DutyCases(smallest bool) ([]*duty.Case, []string, error) {
	m, defaults := duty.MethodOf(r.Doc)
	m.Smallest = smallest
	taps := duty.TapStates(r.Doc, m)
	list := make([]*duty.Case, len(r.Cases)*len(taps))
	errs := make([]error, len(list))
	if err := r.share(len(list), func(i int) {
		list[i], errs[i] = duty.Open(r.Doc, r.Cases[i/len(taps)].Model.State, m, taps[i%len(taps)])
	}); err != nil {
		return nil, nil, err
	}
	for i, err := range errs {
		if err != nil {
			return nil, nil, fmt.Errorf("duties of condition %q: %w", r.Cases[i/len(taps)].Model.State.Name, err)
		}
	}
	seen := make(map[string]bool)
	for _, d := range append(append([]string(nil), defaults...), r.Defaults...) {
		seen[d] = true
	}
	for _, c := range list {
		for _, d := range c.Defaults {
			if strings.HasPrefix(d, "duties:") && !seen[d] {
				seen[d] = true
				defaults = append(defaults, d)
			}
		}
	}
	return list, defaults, nil
}

// A worst collects the worst duty by identity.
type worst map[string]*DeviceDuty

func (w worst) take(d DeviceDuty) {
	key := d.Kind + "/" + d.Name + "/" + d.Rule
	before := w[key]
	// Rounding must not decide which of equal conditions is named.
	if before == nil || d.Value > before.Value*(1+1e-9) {
		w[key] = &d
	}
}

// Duties finds the worst duty of every rated device and conductor.
func (r *Report) Duties(cases []*duty.Case) ([]*DeviceDuty, error) {
	parts := make([]worst, len(cases))
	errs := make([]error, len(cases))
	if err := r.share(len(cases), func(i int) {
		s := surveyor{doc: r.Doc, c: cases[i], found: make(worst)}
		errs[i] = s.run()
		parts[i] = s.found
	}); err != nil {
		return nil, err
	}
	if err := errors.Join(errs...); err != nil {
		return nil, err
	}
	total := make(worst)
	for _, p := range parts {
		for _, key := range sortedKeys(p) {
			total.take(*p[key])
		}
	}
	var list []*DeviceDuty
	for _, key := range sortedKeys(total) {
		list = append(list, total[key])
	}
	return list, nil
}

// A surveyor goes over one case.
type surveyor struct {
	doc   *study.Document
	c     *duty.Case
	found worst
}

func (s *surveyor) run() error {
	for n := range s.c.Net.Switches {
		if err := s.device(n); err != nil {
			return err
		}
	}
	if err := s.lines(); err != nil {
		return err
	}
	if err := s.earthingConductors(); err != nil {
		return err
	}
	return s.neutrals()
}

// place names a bus as a reader would: a terminal between plant and its
// devices by the device.
func (s *surveyor) place(bus int) string {
	b := s.c.Net.Buses[bus]
	if b.LineEnd == "" {
		return b.Name
	}
	device, branch, _ := strings.Cut(b.Name, "/")
	return branch + " beyond " + device
}

// device goes over the faults on both sides of a closed device.
func (s *surveyor) device(number int) error {
	w := s.c.Net.Switches[number]
	if !w.Closed || s.c.Net.Node[w.From] < 0 {
		return nil
	}
	d := s.rated(w.Kind, w.Name)
	for _, bus := range []int{w.From, w.To} {
		for _, k := range s.c.Kinds(bus) {
			if k.Phases&^s.c.Net.Fed[w.From]&^s.c.Net.Fed[w.To] != 0 || k.Phases&s.c.Net.Buses[w.From].Phases&s.c.Net.Buses[w.To].Phases == 0 {
				continue
			}
			x, err := s.c.Through(number, bus, k)
			var missing *duty.MissingError
			if errors.As(err, &missing) {
				continue // told by the chapter on the supply
			}
			if err != nil {
				return fmt.Errorf("%s %s, %s: %w", w.Kind, w.Name, fault.KindName(s.doc, k), err)
			}
			s.judge(d, x, bus, k)
		}
	}
	return nil
}

// ratings of a device of any kind.
type ratings struct {
	kind, name                     string
	interrupts, makes, short       study.Value[quantity.Current]
	opens, parts, shortFor, dcTime study.Value[quantity.Duration]
	testXR                         study.Value[quantity.Number]
	basis                          string
	sequence, recloses             study.Value[[]quantity.Duration]
	derating                       study.Value[quantity.Fraction]
	rangeFactor                    float64
	rated                          float64 // V
	at                             study.Mark
}

func (s *surveyor) rated(kind, name string) *ratings {
	r := &ratings{kind: kind, name: name, basis: "symmetrical", rangeFactor: 1}
	breaker := func(e *study.Entry[study.Breaker]) {
		b := &e.Item
		r.interrupts, r.makes, r.short, r.opens, r.parts, r.shortFor, r.dcTime = b.Interrupts, b.Makes, b.ShortTime, b.Opens, b.PartsIn, b.ShortTimeFor, b.DCTime
		r.testXR, r.sequence, r.recloses, r.derating, r.rated, r.at = b.TestXR, b.Sequence, b.Recloses, b.Derating, float64(b.Rated.V), e.NameAt
		if b.Basis.Given {
			r.basis = b.Basis.V
		}
		if b.RangeFactor.Given {
			r.rangeFactor = float64(b.RangeFactor.V)
		}
	}
	switch kind {
	case "breaker":
		breaker(s.doc.Breakers.Find(name))
	case "recloser":
		breaker(s.doc.Reclosers.Find(name))
	case "fuse":
		e := s.doc.Fuses.Find(name)
		r.interrupts, r.testXR, r.at = e.Item.Interrupts, e.Item.TestXR, e.NameAt
		if e.Item.Basis.Given {
			r.basis = e.Item.Basis.V
		}
	default:
		e := s.doc.Switches.Find(name)
		r.makes, r.short, r.shortFor, r.at = e.Item.Makes, e.Item.ShortTime, e.Item.ShortTimeFor, e.NameAt
		if !r.makes.Given {
			r.makes = e.Item.Peak
		}
	}
	return r
}

func (s *surveyor) judge(r *ratings, x *duty.Currents, bus int, k fault.Kind) {
	base := DeviceDuty{Kind: r.kind, Name: r.name, Condition: s.c.State.Name, Taps: s.c.Taps, Fault: fault.KindName(s.doc, k),
		Place: s.place(bus), Parallel: x.Parallel(), Missing: x.Missing, Source: r.at}
	take := func(rule string, value float64, rating study.Value[quantity.Current], key, how string, steps []working.Step, missing ...string) {
		d := base
		d.Rule, d.Value, d.How, d.Steps = rule, value, how, steps
		d.Missing = append(append([]string(nil), base.Missing...), missing...)
		if rating.Given {
			d.Rating = float64(rating.V)
		} else {
			d.Missing = append(d.Missing, fmt.Sprintf("%s of %s %s", key, r.kind, r.name))
		}
		s.found.take(d)
	}
	if r.kind != "fuse" && !r.interrupts.Given && !r.makes.Given && !r.short.Given {
		d := base
		d.Rule, d.Value, d.How = "ratings", x.Initial, "symmetrical current"
		for _, key := range []string{"interrupting", "making (closing and latching)", "short-time"} {
			if r.kind != "switch" || key != "interrupting" {
				d.Missing = append(d.Missing, fmt.Sprintf("%s rating of %s %s", key, r.kind, r.name))
			}
		}
		s.found.take(d)
		return
	}
	if r.kind != "switch" {
		rating := r.interrupts
		a := s.interrupting(r, x)
		if rating.Given {
			factor, missing := r.reclosing(s.c.Method.Frequency)
			rating.V *= quantity.Current(factor * r.atVoltage(x.Nominal))
			if missing != "" {
				d := base
				d.Rule, d.Value, d.How, d.Missing = "reclosing", a.value, a.how, []string{missing}
				s.found.take(d)
			}
		}
		take("interrupting", a.value, rating, "interrupting rating", a.how, a.steps, a.missing...)
	}
	if r.kind == "fuse" {
		return
	}
	makes, how := r.makes, "peak current"
	if n := duty.LowVoltageMaking(float64(r.interrupts.V)); n > 0 && !makes.Given && r.interrupts.Given && r.kind == "breaker" && x.Method.Practice == duty.IEC && x.Nominal <= 1000 {
		makes = r.interrupts
		makes.V *= quantity.Current(n)
		how = fmt.Sprintf("peak current, against the least making capacity that IEC 60947-2 (from memory) wants of its breaking capacity, × %g", n)
	}
	// The interrupting rating of a low-voltage breaker by IEEE C37.13 is proved in the first half cycle, closing included.
	if makes.Given || r.kind != "breaker" || x.Method.Practice != duty.IEEE || x.Nominal > 1000 {
		take("making", x.Peak, makes, "making (closing and latching) rating", how, x.PeakSteps())
	}
	t, limit := s.thermalTime(r)
	take("short-time", x.Thermal(t)*math.Max(1, math.Sqrt(t/limit)), r.short, "short-time rating",
		fmt.Sprintf("thermal equivalent of %s s on a rating for %s s", working.Number(t, 3), working.Number(limit, 3)), x.ThermalSteps(t))
}

// thermalTime is how long the fault lasts, and how long the device is rated for.
func (s *surveyor) thermalTime(r *ratings) (lasts, rated float64) {
	rated = 1
	if r.shortFor.Given {
		rated = math.Max(r.shortFor.V.At(s.c.Method.Frequency), 1e-3)
	}
	lasts = s.c.Method.FaultLasts
	if !s.c.Method.Stated {
		lasts = math.Min(lasts, rated)
	}
	return lasts, rated
}

// atVoltage is by how much an older rating rises below rated voltage.
func (r *ratings) atVoltage(u float64) float64 {
	if r.rangeFactor <= 1 || r.rated == 0 || u >= r.rated {
		return 1
	}
	return math.Min(r.rangeFactor, r.rated/u)
}

// reclosing is what is left of the interrupting rating with the dead times in
// service, and the datum that is missing to know it.
func (r *ratings) reclosing(f float64) (factor float64, missing string) {
	if !r.recloses.Given || len(r.recloses.V) == 0 {
		return 1, ""
	}
	var dead []float64
	within := r.sequence.Given && len(r.recloses.V) <= len(r.sequence.V)
	for i, t := range r.recloses.V {
		dead = append(dead, t.At(f))
		if within && t.At(f) < r.sequence.V[i].At(f)*(1-1e-9) {
			within = false
		}
	}
	switch {
	case within:
		return 1, ""
	case r.derating.Given:
		return math.Max(0.01, duty.ReclosingFactor(float64(r.derating.V), dead)), ""
	case r.sequence.Given:
		return 1, fmt.Sprintf("reclosing factor d1 of %s %s, whose reclosing is outside of its rated sequence", r.kind, r.name)
	}
	return 1, fmt.Sprintf("rated sequence of %s %s, which recloses", r.kind, r.name)
}

type assessed struct {
	value   float64
	how     string
	missing []string
	steps   []working.Step
}

// interrupting is what compares with the interrupting rating.
func (s *surveyor) interrupting(r *ratings, x *duty.Currents) assessed {
	f := s.c.Method.Frequency
	low := x.Nominal <= 1000
	if r.kind == "fuse" || r.kind == "recloser" || low && x.Method.Practice == duty.IEEE {
		return s.byTest(r, x, low)
	}
	var a assessed
	parting := 0.5 / f // the least relay time
	switch {
	case r.parts.Given:
		parting = r.parts.V.At(f)
	case r.opens.Given:
		parting = duty.PartsAfter(r.opens.V.At(f)*f) / f
	default:
		a.missing = append(a.missing, fmt.Sprintf("opening time of breaker %s", r.name))
	}
	tau := duty.StandardDCTime
	if r.dcTime.Given {
		tau = r.dcTime.V.At(f)
	}
	rated := duty.RatedDC(parting, tau)
	if x.Method.Practice == duty.IEC {
		ib, dc := x.Breaking(parting), x.DC(parting)
		a.missing = append(a.missing, x.UnknownSpeeds()...)
		total := math.Hypot(ib, dc)
		a.value, a.how = ib, fmt.Sprintf("symmetrical breaking current after %s ms", working.Number(parting*1e3, 3))
		switch {
		case r.basis == "total":
			a.value, a.how = total, fmt.Sprintf("total breaking current after %s ms", working.Number(parting*1e3, 3))
		case dc > rated*math.Sqrt2*ib:
			a.value = total / duty.AsymmetryCapability(rated)
			a.how += fmt.Sprintf(", raised for a d.c. part of %.0f %% against %.0f %% rated", 100*dc/math.Sqrt2/ib, 100*rated)
		}
		a.steps = x.BreakingSteps(parting)
		return a
	}
	cycles := parting * f
	if r.basis == "total" {
		k := duty.InterruptingTotal(cycles, x.LaterXR)
		a.value, a.how = x.Later*k, fmt.Sprintf("total current after %s cycles", working.Number(cycles, 3))
		a.steps = x.InterruptingSteps(cycles, 1, k)
		return a
	}
	capability := duty.AsymmetryCapability(rated)
	k := duty.Interrupting(cycles, x.LaterXR, capability)
	a.value = x.Later * k
	a.how = fmt.Sprintf("symmetrical current × %s, for X/R %s and contacts that part after %s cycles", working.Number(k, 4), working.Number(x.LaterXR, 3), working.Number(cycles, 3))
	a.steps = x.InterruptingSteps(cycles, capability, k)
	return a
}

// byTest is for plant whose symmetrical rating was proved in a circuit of some
// X/R: fuses, reclosers, low-voltage breakers. Where that is not known, the
// whole offset counts as if the test had none.
func (s *surveyor) byTest(r *ratings, x *duty.Currents, low bool) assessed {
	var a assessed
	kappa := func(test float64) float64 { return duty.TotalBasis(x.XR, test) }
	test, known := float64(r.testXR.V), r.testXR.Given
	switch {
	case r.kind == "breaker": // low voltage, IEEE
		kappa = func(test float64) float64 { return duty.PeakBasis(x.XR, test) }
		if !known {
			// Its kind is not known: that of the least test counts.
			test, known = duty.TestXROfUnknown(float64(r.interrupts.V)), true
			a.missing = append(a.missing, fmt.Sprintf("test X/R of breaker %s (6.59 of a low-voltage power breaker, less of moulded-case ones)", r.name))
		}
	}
	switch {
	case r.basis == "total":
		a.value, a.how = x.Initial*duty.Asymmetry(0.5, x.XR), "total current of the first half cycle"
	case known:
		a.value, a.how = x.Initial*kappa(test), fmt.Sprintf("symmetrical current × %s, for X/R %s against %s in the test", working.Number(kappa(test), 4), working.Number(x.XR, 3), working.Number(test, 3))
	default:
		a.value, a.how = x.Initial*duty.Asymmetry(0.5, x.XR), "total current of the first half cycle, since the X/R of the test is not given"
		a.missing = append(a.missing, fmt.Sprintf("test X/R of %s %s", r.kind, r.name))
	}
	a.steps = x.FirstSteps(a.value)
	return a
}

// neutrals: earthing equipment in the neutrals of transformers.
func (s *surveyor) neutrals() error {
	for i := range s.doc.Transformers.Entries {
		e := &s.doc.Transformers.Entries[i]
		if !e.Item.NeutralMay.Given {
			continue
		}
		n := s.c.Net.ElementByName(network.Transformer, e.Name)
		if n < 0 || !s.c.Net.Live(n) {
			continue
		}
		for terminal, w := range []quantity.Winding{e.Item.Group.V.From, e.Item.Group.V.To} {
			if !w.Neutral {
				continue
			}
			bus := s.c.Net.Elements[n].Terminals[terminal].Bus
			for _, k := range fault.Combinations(fault.LineEarth, s.c.Net.Fed[bus]) {
				i, err := s.c.Neutral(network.Transformer, e.Name, terminal, k)
				var missing *duty.MissingError
				if errors.As(err, &missing) {
					continue
				}
				if err != nil {
					return fmt.Errorf("neutral of transformer %s: %w", e.Name, err)
				}
				// Of equipment rated for a time, the current with the same heat in that time.
				if t := e.Item.NeutralFor; t.Given && s.c.Method.Stated {
					i *= math.Max(1, math.Sqrt(s.c.Method.FaultLasts/math.Max(t.V.At(s.c.Method.Frequency), 1e-3)))
				}
				s.found.take(DeviceDuty{Kind: "transformer", Name: e.Name, Rule: "neutral", Value: i, Rating: float64(e.Item.NeutralMay.V),
					Condition: s.c.State.Name, Taps: s.c.Taps, Fault: fault.KindName(s.doc, k), Place: s.place(bus), Source: e.NameAt,
					How: "current in the neutral at nominal voltage, which its rating is stated at"})
			}
		}
	}
	return nil
}

// duties: every device and conductor stands what the supply can drive.
func (r *Report) duties() error {
	cases, defaults, err := r.DutyCases(false)
	if err != nil {
		return err
	}
	list, err := r.Duties(cases)
	if err != nil {
		return err
	}
	for _, d := range list {
		r.add(d.Finding(cases[0].Method))
	}
	if len(list) > 0 {
		r.Defaults = append(r.Defaults, defaults...)
	}
	return r.backUpFuses()
}

// short writes a rating without needless zeros.
func short(x float64) string { return strconv.FormatFloat(x, 'g', 4, 64) }

// Finding is the judgement of a duty.
func (d *DeviceDuty) Finding(m duty.Method) finding.Finding {
	basis := "IEC 60909-0 with IEC 62271-100, from memory"
	if m.Practice == duty.IEEE {
		basis = "IEEE C37.010, C37.13, 551, from memory"
	}
	f := finding.Finding{Chapter: "duty", Rule: d.Rule, Subjects: []string{d.Name}, Source: source(d.Source), Condition: d.Condition, Fault: d.Fault, Place: d.Place,
		Basis: basis, Working: d.Steps}
	verb := map[string]string{"interrupting": "interrupts", "making": "makes", "short-time": "carries", "screen": "carries in its screens", "heat": "carries", "neutral": "carries in its neutral", "ratings": "carries", "reclosing": "recloses on"}[d.Rule]
	unit := "kA"
	if d.Rule == "making" {
		unit = "kA peak"
	}
	value := working.Number(d.Value/1e3, 4)
	subject := d.Name
	if d.Kind == "line type" {
		subject = "Line type " + d.Name
	}
	f.Explanation = strings.ToUpper(d.How[:1]) + d.How[1:] + "; " + d.Fault + " at " + d.Place
	if d.Taps != duty.TapsAsGiven {
		f.Explanation += "; on-load taps " + string(d.Taps)
	}
	if len(d.Parallel) > 1 {
		f.Explanation += "; infeeds in parallel: " + strings.Join(d.Parallel, ", ")
	}
	f.Explanation += "."
	if d.Rating == 0 {
		f.Verdict, f.Missing = finding.Unproven, d.Missing
		f.Title = fmt.Sprintf("%s %s up to %s %s, and its rating for that is not given.", subject, verb, value, unit)
		f.Cure = "Write its ratings from the nameplate."
		switch d.Rule {
		case "reclosing":
			f.Title = fmt.Sprintf("%s recloses on up to %s %s, and what that takes from its interrupting rating is not given.", subject, value, unit)
			f.Cure = "Write its rated sequence, or the reclosing factor of its standard."
		case "ratings":
			f.Title = fmt.Sprintf("%s sees up to %s %s, and none of its ratings is given.", subject, value, unit)
		}
		return f
	}
	f.Title = fmt.Sprintf("%s %s at most %s %s of its %s kA.", subject, verb, value, unit, short(d.Rating/1e3))
	f.Value = &finding.Quantity{Value: 100 * d.Part(), Unit: "% of rating"}
	f.Limit = &finding.Quantity{Value: dutyLimit, Unit: "%"}
	target := float64(dutyTarget)
	if d.Rule == "neutral" {
		target = dutyLimit // a resistor carries its rated current by design
	}
	f.Target = &finding.Quantity{Value: target, Unit: "%"}
	// Rounding must not decide at the limit itself.
	switch p := 100 * d.Part() * (1 + 1e-9); {
	case p >= dutyLimit && len(d.Missing) > 0:
		f.Verdict, f.Missing = finding.Unproven, d.Missing
		f.Title = fmt.Sprintf("%s %s at most %s %s, taken on the safe side, against its %s kA.", subject, verb, value, unit, short(d.Rating/1e3))
		f.Cure = "Write what is missing: the duty may then be less."
	case p >= dutyLimit:
		f.Verdict = finding.Fails
		f.Cure = "A stronger device, a reactor or a higher transformer impedance; or do not let the state of this condition come about."
	case p >= target:
		f.Verdict = finding.Thin
		f.Cure = "Watch it whenever the supply or the switching changes."
	}
	return f
}

// A PlaceDuty is the largest current of one type of fault at a bus, or the
// smallest where the method asks for that.
type PlaceDuty struct {
	Place, Condition string
	Taps             duty.TapState
	Fault            string
	Unproven         string // the datum that is missing; then there are no currents
	*duty.Currents
}

// noCurrent is what rounding leaves of an earth fault in a part without earth, A.
const noCurrent = 1e-3

// PlaceDuties finds them at buses, over some cases.
func (r *Report) PlaceDuties(cases []*duty.Case, buses []string) ([]PlaceDuty, error) {
	types := []fault.Type{fault.ThreePhase, fault.LineLine, fault.LineLineEarth, fault.LineEarth}
	best := make([]map[[2]int]PlaceDuty, len(cases))
	errs := make([]error, len(cases))
	if err := r.share(len(cases), func(i int) {
		c := cases[i]
		best[i] = make(map[[2]int]PlaceDuty)
		for b, name := range buses {
			bus := c.Net.BusByName(name)
			if bus < 0 || c.Net.Node[bus] < 0 {
				continue
			}
			for _, k := range c.Kinds(bus) {
				p := PlaceDuty{Place: name, Condition: c.State.Name, Taps: c.Taps, Fault: fault.KindName(r.Doc, k)}
				x, err := c.At(bus, k)
				var missing *duty.MissingError
				switch {
				case errors.As(err, &missing):
					p.Unproven = missing.What
				case err != nil:
					errs[i] = fmt.Errorf("%s at %s, condition %q: %w", p.Fault, name, c.State.Name, err)
					return
				case x.Initial < noCurrent:
					continue
				default:
					p.Currents = x
				}
				key := [2]int{b, int(k.Type)}
				if worseCurrent(p, best[i][key], c.Method.Smallest) {
					best[i][key] = p
				}
			}
		}
	}); err != nil {
		return nil, err
	}
	if err := errors.Join(errs...); err != nil {
		return nil, err
	}
	var list []PlaceDuty
	for b := range buses {
		for _, t := range types {
			var w PlaceDuty
			for i := range cases {
				if p, ok := best[i][[2]int{b, int(t)}]; ok && worseCurrent(p, w, cases[i].Method.Smallest) {
					w = p
				}
			}
			if w.Place != "" {
				list = append(list, w)
			}
		}
	}
	return list, nil
}

// worseCurrent tells whether a replaces b: one that is known before one that
// is not, and the larger, or the smaller.
func worseCurrent(a, b PlaceDuty, smallest bool) bool {
	switch {
	case b.Place == "":
		return true
	case a.Currents == nil || b.Currents == nil:
		return a.Currents != nil
	case smallest:
		return a.Initial < b.Initial*(1-1e-9)
	}
	return a.Initial > b.Initial*(1+1e-9)
}
