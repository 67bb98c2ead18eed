package review

import (
	"fmt"
	"math"
	"strings"

	"feederwright/finding"
	"feederwright/flow"
	"feederwright/study"
)

// Flows are the states of service of all conditions, in their order.
func (r *Report) Flows() ([]*flow.Case, error) {
	list := make([]*flow.Case, len(r.Cases))
	errs := make([]error, len(r.Cases))
	if err := r.share(len(r.Cases), func(i int) {
		if list[i] = r.Cases[i].Flow; list[i] == nil {
			list[i], errs[i] = flow.Open(r.Doc, r.Cases[i].Model.State)
		}
	}); err != nil {
		return nil, err
	}
	for i, err := range errs {
		if err != nil {
			return nil, fmt.Errorf("condition %q, load flow: %w", r.Cases[i].Model.State.Name, err)
		}
	}
	return list, nil
}

const serviceBasis = "load flow of every condition, three phases unbalanced"

// service judges states of service.
func (r *Report) service() error {
	if !flow.Loaded(r.Doc) {
		return nil
	}
	cases, err := r.Flows()
	if err != nil {
		return err
	}
	limits := flow.LimitsOf(r.Doc)
	r.note(limits.Defaults)
	for _, c := range cases {
		r.note(c.Model.Defaults)
	}
	r.found(cases)
	r.voltages(cases, limits)
	r.loading(cases, limits)
	r.tapControls(cases)
	return nil
}

// note adds defaults that are not listed yet.
func (r *Report) note(list []string) {
	seen := make(map[string]bool, len(r.Defaults))
	for _, d := range r.Defaults {
		seen[d] = true
	}
	for _, d := range list {
		if !seen[d] {
			seen[d] = true
			r.Defaults = append(r.Defaults, d)
		}
	}
}

func percent(x float64) *finding.Quantity { return &finding.Quantity{Value: 100 * x, Unit: "%"} }

// found tells whether every condition has a state of service.
func (r *Report) found(cases []*flow.Case) {
	f := finding.Finding{Chapter: "flow", Rule: "state of service", Basis: serviceBasis, Title: "The load flow of every condition has a solution."}
	var without []string
	worst := math.Inf(1)
	for _, c := range cases {
		if c.Converged {
			continue
		}
		without = append(without, c.State.Name)
		if c.Trouble.Multiple < worst {
			worst = c.Trouble.Multiple
			f.Condition = c.State.Name
			f.Value, f.Limit = percent(worst), percent(1)
			f.Place = flow.BusName(c.Net, c.Trouble.Bus)
			f.Explanation = fmt.Sprintf("Power is missing most at %s, phase %s. %s.", f.Place, c.PhaseName(c.Trouble.Conductor), sentence(c.Trouble.Cause(c.Net, c.PhaseName)))
		}
	}
	if len(without) > 0 {
		f.Verdict = finding.Fails
		f.Title = fmt.Sprintf("The load flow of %s has no solution.", countOf(len(without), "condition"))
		if len(without) > 1 {
			f.Explanation += fmt.Sprintf(" Without a solution: %s.", strings.Join(without, "; "))
		}
		f.Cure = "Serve less load in this condition, or from nearer; state loads that fall with voltage as model: current or impedance; support the voltage by taps or capacitors."
	}
	r.add(f)
}

func sentence(text string) string { return strings.ToUpper(text[:1]) + text[1:] }

func countOf(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}

// voltages judges the band over all buses and conditions that have a state.
func (r *Report) voltages(cases []*flow.Case, l flow.Limits) {
	type extreme struct {
		value            float64
		condition, place string
	}
	low, high := extreme{value: math.Inf(1)}, extreme{value: math.Inf(-1)}
	var below, above = map[string]bool{}, map[string]bool{}
	missing := 0
	for _, c := range cases {
		if !c.Converged {
			missing++
			continue
		}
		for _, b := range c.Buses() {
			for _, p := range b.Phases.Conductors() {
				if p == 3 {
					continue
				}
				u := b.Judged[p]
				if u < low.value {
					low = extreme{u, c.State.Name, b.Name + ", phase " + c.PhaseName(p)}
				}
				if u > high.value {
					high = extreme{u, c.State.Name, b.Name + ", phase " + c.PhaseName(p)}
				}
				if u < l.VoltageLow {
					below[b.Name] = true
				}
				if u > l.VoltageHigh {
					above[b.Name] = true
				}
			}
		}
	}
	if math.IsInf(low.value, 0) {
		return // no condition has a state, which another finding tells
	}
	more := ""
	if missing > 0 {
		more = fmt.Sprintf("%s without a load flow solution not counted. ", sentence(countOf(missing, "condition")))
	}
	const usual = "; limits of the study, or common practice without a source"
	f := finding.Finding{Chapter: "flow", Rule: "lowest voltage", Condition: low.condition, Place: low.place, Value: percent(low.value),
		Limit: percent(l.VoltageLow), Target: percent(l.VoltageLowTarget), Basis: serviceBasis + usual, Explanation: strings.TrimSpace(more),
		Title: fmt.Sprintf("The lowest voltage in service is %.1f %% of nominal, at %s.", 100*low.value, low.place)}
	switch {
	case low.value < l.VoltageLow:
		f.Verdict = finding.Fails
		f.Explanation = more + "Below the limit at some time: " + strings.Join(sortedKeys(below), ", ") + "."
		f.Cure = "Raise the taps or the set voltage of the controls, compensate more line drop, add capacitors, shift load, or choose a thicker conductor."
	case low.value < l.VoltageLowTarget:
		f.Verdict = finding.Thin
	}
	r.add(f)
	f = finding.Finding{Chapter: "flow", Rule: "highest voltage", Condition: high.condition, Place: high.place, Value: percent(high.value),
		Limit: percent(l.VoltageHigh), Target: percent(l.VoltageHighTarget), Basis: serviceBasis + usual, Explanation: strings.TrimSpace(more),
		Title: fmt.Sprintf("The highest voltage in service is %.1f %% of nominal, at %s.", 100*high.value, high.place)}
	switch {
	case high.value > l.VoltageHigh:
		f.Verdict = finding.Fails
		f.Explanation = more + "Above the limit at some time: " + strings.Join(sortedKeys(above), ", ") + "."
		f.Cure = "Lower the taps or the set voltage of the controls, switch capacitors off at light load, or let inverters take reactive power."
	case high.value > l.VoltageHighTarget:
		f.Verdict = finding.Thin
	}
	r.add(f)
}

// loading judges currents against ratings: the worst condition of each rated thing.
func (r *Report) loading(cases []*flow.Case, l flow.Limits) {
	type worst struct {
		kind string
		flow.Rating
		condition, phase string
	}
	var names []string
	all := make(map[string]*worst)
	for _, c := range cases {
		if !c.Converged {
			continue
		}
		see := func(kind, name string, rating flow.Rating) {
			if !rating.Given {
				return
			}
			w := all[kind+" "+name]
			if w == nil {
				w = &worst{kind: kind, Rating: flow.Rating{Loading: -1}}
				all[kind+" "+name] = w
				names = append(names, name)
			}
			if rating.Loading > w.Loading {
				*w = worst{kind, rating, c.State.Name, c.PhaseName(rating.Conductor)}
			}
		}
		for _, b := range c.Branches() {
			see(b.Kind, b.Name, b.Rating)
		}
		for _, d := range c.Devices() {
			see(d.Kind, d.Name, d.Rating)
		}
	}
	for _, key := range sortedKeys(all) {
		w := all[key]
		name := strings.TrimPrefix(key, w.kind+" ")
		carries := fmt.Sprintf("%.0f A of %.0f A, phase %s", w.Largest, w.Limit, w.phase)
		if w.kind == "bank" {
			carries = fmt.Sprintf("%.0f kVA of %.0f kVA", w.Largest/1e3, w.Limit/1e3)
		}
		f := finding.Finding{Chapter: "flow", Rule: "loading", Subjects: []string{w.kind + " " + name}, Condition: w.condition, Value: percent(w.Loading),
			Limit: percent(l.Loading), Target: percent(l.LoadingTarget), Basis: serviceBasis + "; the study's " + w.Of,
			Title: fmt.Sprintf("%s %s carries %s.", sentence(w.kind), name, carries)}
		switch {
		case w.Loading >= l.Loading:
			f.Verdict = finding.Fails
			f.Cure = "Serve less through it in this condition, or replace it by one of a higher rating; where it is cold load, restore in sections."
		case w.Loading >= l.LoadingTarget:
			f.Verdict = finding.Thin
		}
		r.add(f)
	}
}

// tapControls judges whether controls hold their bands, and settle.
func (r *Report) tapControls(cases []*flow.Case) {
	type state struct {
		hunts, limit, fixed string // conditions
		off                 float64
		band                float64
	}
	var names []string
	all := make(map[string]*state)
	for _, c := range cases {
		if !c.Converged {
			continue
		}
		for i := range c.Controls {
			k := &c.Controls[i]
			s := all[k.Name]
			if s == nil {
				s = &state{}
				all[k.Name] = s
				names = append(names, k.Name)
			}
			if off := math.Abs(k.Measured - k.Middle); k.OutOfBand() && off > s.off {
				s.off, s.band = off, k.Band
				s.limit, s.fixed = c.State.Name, ""
				if k.Fixed {
					s.fixed = c.State.Name
				}
			}
		}
		for _, name := range c.Hunting {
			all[name].hunts = c.State.Name
		}
	}
	for _, name := range names {
		s := all[name]
		f := finding.Finding{Chapter: "flow", Rule: "tap control", Subjects: []string{name}, Basis: serviceBasis + ", taps stepped by their controls",
			Title: fmt.Sprintf("The control of %s finds a position inside its band in every condition.", name), Source: r.controlAt(name)}
		switch {
		case s.hunts != "":
			f.Verdict, f.Condition = finding.Fails, s.hunts
			f.Title = fmt.Sprintf("The control of %s hunts: it comes back to positions that it left.", name)
			f.Cure = "Widen the band to two steps or more, compensate less line drop, or separate the delays of controls in series."
		case s.off > 0:
			f.Verdict, f.Condition = finding.Thin, s.limit
			f.Value, f.Limit = &finding.Quantity{Value: s.off, Unit: "V secondary"}, &finding.Quantity{Value: s.band / 2, Unit: "V secondary"}
			f.Title = fmt.Sprintf("The control of %s is out of its band at the end of its range.", name)
			if s.fixed != "" {
				f.Title = fmt.Sprintf("The positions that a condition states for %s leave its voltage out of the band of its control.", name)
			}
		}
		r.add(f)
	}
}

// controlAt is the place of a regulator or transformer in the study.
func (r *Report) controlAt(name string) string {
	if b, ok := r.Doc.Branch(name); ok {
		return source(b.NameAt)
	}
	return source(study.Mark{})
}
