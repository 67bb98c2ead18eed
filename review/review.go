// Package review takes a study through every chapter that exists and collects
// the findings: one judgement per rule and subject, with the worst condition
// named.
package review

import (
	"errors"
	"fmt"
	"math"
	"math/cmplx"
	"runtime"
	"sort"
	"strings"
	"sync"
	"sync/atomic"

	"feederwright/fault"
	"feederwright/finding"
	"feederwright/network"
	"feederwright/quantity"
	"feederwright/study"
	"feederwright/working"
)

// A Report is what a study comes to.
type Report struct {
	Doc      *study.Document
	Cases    []*fault.Case // one per condition, in order
	Findings []finding.Finding
	Defaults []string         // choices made where the study says nothing, in words
	Choices  []network.Choice // those of them that are values
	Stale    []Stale          // acceptances that apply to nothing

	// Stop, if set, is asked between pieces of work, from several goroutines; when it says true, they end with ErrStopped.
	Stop func() bool
}

// ErrStopped means that the work was ended before its time.
var ErrStopped = errors.New("stopped before it was done")

// Open prepares the cases of the given conditions.
func Open(doc *study.Document, states []study.State) (*Report, error) {
	cases := make([]*fault.Case, len(states))
	errs := make([]error, len(states))
	share(len(states), func(i int) { cases[i], errs[i] = fault.Open(doc, states[i]) })
	for i, err := range errs {
		if err != nil {
			return nil, fmt.Errorf("condition %q: %w", states[i].Name, err)
		}
	}
	return Of(doc, cases), nil
}

// Of makes a report of cases that are open.
func Of(doc *study.Document, cases []*fault.Case) *Report {
	r := &Report{Doc: doc, Cases: cases}
	seen, placed := make(map[string]bool), make(map[string]bool)
	for _, c := range r.Cases {
		for _, d := range c.Model.Defaults {
			if !seen[d] {
				seen[d] = true
				r.Defaults = append(r.Defaults, d)
			}
		}
		for _, d := range c.Model.Choices {
			if at := d.At.String(); !placed[at] {
				placed[at] = true
				r.Choices = append(r.Choices, d)
			}
		}
	}
	return r
}

// share calls do for 0 to n−1, spread over the processors.
func share(n int, do func(i int)) {
	var next atomic.Int64
	var wait sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), n) {
		wait.Go(func() {
			for i := int(next.Add(1)) - 1; i < n; i = int(next.Add(1)) - 1 {
				do(i)
			}
		})
	}
	wait.Wait()
}

// share is the function share, until the report is to stop.
func (r *Report) share(n int, do func(i int)) error {
	if r.Stop == nil {
		share(n, do)
		return nil
	}
	var stopped atomic.Bool
	share(n, func(i int) {
		if !stopped.Load() && r.Stop() {
			stopped.Store(true)
		}
		if !stopped.Load() {
			do(i)
		}
	})
	if stopped.Load() {
		return ErrStopped
	}
	return nil
}

// Judge fills in the findings.
func (r *Report) Judge() error {
	r.supply()
	r.network()
	if err := r.faults(); err != nil {
		return err
	}
	if err := r.duties(); err != nil {
		return err
	}
	if err := r.service(); err != nil {
		return err
	}
	r.accept() // when every chapter has spoken
	finding.Sort(r.Findings)
	return nil
}

func (r *Report) add(f finding.Finding) {
	if f.Subjects == nil {
		f.Subjects = []string{} // a list in JSON, too
	}
	r.Findings = append(r.Findings, f)
}

func source(m study.Mark) string { return fmt.Sprintf("%s:%d:%d", m.File, m.Line, m.Col) }

func (r *Report) supply() {
	for i := range r.Doc.Supply.Entries {
		e := &r.Doc.Supply.Entries[i]
		f := finding.Finding{Chapter: "supply", Rule: "minimum level", Subjects: []string{e.Name}, Source: source(e.NameAt),
			Basis: "common practice, no source: sensitivity is judged at the weakest supply"}
		if e.Item.Minimum != nil {
			f.Title = fmt.Sprintf("The minimum level of infeed %s is known.", e.Name)
		} else {
			f.Verdict = finding.Unproven
			f.Title = fmt.Sprintf("The minimum level of infeed %s is not given.", e.Name)
			f.Explanation = "Whether protection sees the smallest fault depends on the weakest state of the supply."
			f.Missing = []string{fmt.Sprintf("minimum three-phase level and X/R of infeed %s", e.Name)}
			f.Cure = fmt.Sprintf("Ask the owner for the weakest state (one line out), and write it under supply / %s / minimum.", e.Name)
		}
		r.add(f)
	}
	for i := range r.Doc.Supply.Entries {
		e := &r.Doc.Supply.Entries[i]
		why := fmt.Sprintf("zero-sequence impedance of infeed %s", e.Name)
		worst, worstCase, all := []string(nil), "", map[string]bool{}
		for _, c := range r.Cases {
			var places []string
			for _, p := range c.Places() {
				if c.UnprovenEarth(p.Place) == why {
					places = append(places, p.Name)
					all[p.Name] = true
				}
			}
			if len(places) > len(worst) {
				worst, worstCase = places, c.Model.State.Name
			}
		}
		f := finding.Finding{Chapter: "supply", Rule: "zero sequence", Subjects: []string{e.Name}, Source: source(e.NameAt),
			Basis: "symmetrical components: an earth fault needs Z0 of every source that reaches it"}
		if len(worst) == 0 {
			f.Title = fmt.Sprintf("No earth fault depends on an unknown zero-sequence impedance of infeed %s.", e.Name)
		} else {
			names := sortedKeys(all)
			f.Verdict = finding.Unproven
			f.Title = fmt.Sprintf("Earth faults at %s cannot be figured: the line-to-earth level of infeed %s is not given.", strings.Join(names, ", "), e.Name)
			f.Value = &finding.Quantity{Value: float64(len(names)), Unit: "of the places"}
			f.Limit = &finding.Quantity{Value: 0}
			f.Condition = worstCase
			f.Explanation = "Faults beyond a delta winding do not need it; faults on this side do."
			f.Missing = []string{why}
			f.Cure = fmt.Sprintf("Ask the owner for the line-to-earth level with its X/R, and write line-to-ground and line-to-ground x/r under supply / %s.", e.Name)
		}
		r.add(f)
	}
}

func sortedKeys[T any](m map[string]T) []string {
	var names []string
	for k := range m {
		names = append(names, k)
	}
	sort.Strings(names)
	return names
}

func (r *Report) network() {
	r.supplied()
	r.earthed()
	r.before()
	r.quality()
	r.closedLoops()
}

// supplied: every load that is in service has a source in every condition.
func (r *Report) supplied() {
	worst, worstCase := []string(nil), ""
	for _, c := range r.Cases {
		var dark []string
		for _, l := range r.Doc.Loads.Entries {
			bus := c.Net.BusByName(string(l.Item.At.V))
			out := c.Model.State.Out[study.PlantRef{Kind: "load", Name: l.Name}]
			if bus >= 0 && !out && c.Net.Fed[bus] == 0 {
				dark = append(dark, l.Name)
			}
		}
		if len(dark) > len(worst) {
			worst, worstCase = dark, c.Model.State.Name
		}
	}
	if len(r.Doc.Loads.Entries) == 0 {
		return
	}
	f := finding.Finding{Chapter: "network", Rule: "loads supplied",
		Value: &finding.Quantity{Value: float64(len(worst)), Unit: "loads"}, Limit: &finding.Quantity{Value: 0, Unit: "loads"},
		Basis: "connections of the study"}
	if len(worst) == 0 {
		f.Title = fmt.Sprintf("Every load has a source in every one of the %d conditions.", len(r.Cases))
	} else {
		f.Verdict = finding.Fails
		f.Condition = worstCase
		f.Title = fmt.Sprintf("In condition %q no source feeds the loads %s.", worstCase, strings.Join(worst, ", "))
		f.Explanation = "Faults there draw no current and are not shown."
		f.Cure = "Close the switch that should feed them in this condition, or take the loads out in it."
	}
	r.add(f)
}

// earthed: a part without a path to earth has an earth-fault current only
// through capacitance, which must then be given.
func (r *Report) earthed() {
	type part struct {
		name, condition string
		buses           []string
	}
	var parts []part
	seen := map[string]bool{}
	for _, c := range r.Cases {
		for _, fl := range c.Net.Floating {
			unknown := false
			var buses []string
			for _, b := range fl.Buses {
				unknown = unknown || c.Model.Unproven[b] != "" // told as the infeed's missing datum
				if c.Net.Buses[b].LineEnd == "" && c.Net.Fed[b] != 0 {
					buses = append(buses, c.Net.Buses[b].Name)
				}
			}
			if unknown || len(buses) == 0 || seen[buses[0]] {
				continue
			}
			seen[buses[0]] = true
			parts = append(parts, part{c.Net.Buses[fl.Reference].Name, c.Model.State.Name, buses})
		}
	}
	for _, p := range parts {
		r.add(finding.Finding{Chapter: "network", Rule: "earth path", Subjects: []string{p.buses[0]}, Verdict: finding.Unproven,
			Title:       fmt.Sprintf("The part at %s has no path to earth: an earth fault there draws no current in this model.", strings.Join(p.buses, ", ")),
			Condition:   p.condition,
			Explanation: fmt.Sprintf("What flows in reality is the capacitive current, and the capacitance is not given. Phase-to-earth voltages are stated with their mean zero at %s.", p.name),
			Missing:     []string{"zero-sequence capacitance (b0 or c0) of the lines and cables there"},
			Cure:        "Give the charging of that part's lines, or its earthing.",
			Basis:       "nodal equations: the part's voltages to earth are defined only up to a common shift"})
	}
}

// Limits of the voltage before the fault, as parts of nominal.
const (
	voltageLimit  = 0.10 // common practice, no source: ±10 % is the usual service range of medium voltage
	voltageTarget = 0.05 // common practice, no source
)

// before: the state before the fault lies near nominal voltage, or near the
// percentage of it that the study asks for; where it does not, taps, ratios or
// source angles don't fit together.
func (r *Report) before() {
	of := "nominal"
	worst, place, condition := 0.0, "", ""
	var value float64
	for _, c := range r.Cases {
		if c.Flow != nil && c.Flow.Converged {
			continue // the chapter on the load flow judges those
		}
		asked := 1.0
		if m := c.Doc.Method; m != nil && m.Prefault.Given {
			asked = float64(m.Prefault.V)
		}
		if p := c.Model.State.Prefault; p != 0 {
			asked = p
		}
		if asked != 1 {
			of = "the stated prefault voltage"
		}
		for _, p := range c.Places() {
			b := c.Net.Buses[p.Bus]
			consider := func(u float64) {
				u /= asked
				if d := math.Abs(u - 1); d > worst || place == "" {
					worst, value, place, condition = d, u, p.Name, c.Model.State.Name
				}
			}
			// Between the phases, since to earth a service with its middle brought out
			// and a part without earth have other voltages; a single phase is to earth.
			phases := (c.Net.Fed[p.Bus] & quantity.PhasesABC).Conductors()
			for i, k := range phases {
				for _, other := range phases[:i] {
					consider(cmplx.Abs(c.PrefaultVoltage(p.Bus, k)-c.PrefaultVoltage(p.Bus, other)) / b.Nominal)
				}
			}
			if part, _ := floatingAt(c, p.Bus, phases); len(phases) == 1 && part < 0 && !c.Net.Fed[p.Bus].Has(quantity.PhaseN) {
				consider(cmplx.Abs(c.PrefaultVoltage(p.Bus, phases[0])) * math.Sqrt(3) / b.Nominal)
			}
		}
	}
	if place == "" {
		return
	}
	f := finding.Finding{Chapter: "network", Rule: "voltage before the fault", Place: place, Condition: condition,
		Value: &finding.Quantity{Value: (value - 1) * 100, Unit: "% from " + of}, Worse: finding.Away,
		Limit: &finding.Quantity{Value: voltageLimit * 100, Unit: "%"}, Target: &finding.Quantity{Value: voltageTarget * 100, Unit: "%"},
		Basis: "common practice, no source"}
	switch {
	case worst > voltageLimit:
		f.Verdict = finding.Fails
	case worst > voltageTarget:
		f.Verdict = finding.Thin
	}
	f.Title = fmt.Sprintf("Before the fault, voltages lie within %s %% of %s (most at %s).", working.Number(worst*100, 3), of, place)
	if worst < 1e-9 { // rounding
		f.Title = "Before the fault, every voltage is " + of + "."
		f.Value.Value, f.Place, f.Condition = 0, "", ""
	}
	if f.Verdict != finding.Holds {
		f.Explanation = "Fault currents follow the voltage before the fault in proportion."
		f.Cure = "Look at tap positions, rated voltages, and the voltage and angle of each infeed."
	}
	r.add(f)
}

// floatingAt is the part without earth that the first of some phases of a bus
// belongs to, or −1.
func floatingAt(c *fault.Case, bus int, phases []int) (int, float64) {
	if len(phases) == 0 {
		return -1, 0
	}
	return c.Net.FloatingOf(c.Net.Unknown(bus, phases[0]))
}

// Limits of the relative residual of the network equations: the limit is far
// below what data is known to; the target is a thousand roundings.
const (
	residualLimit  = 1e-8
	residualTarget = 1e-12
)

func (r *Report) quality() {
	worst, condition, number := -1.0, "", 0.0
	for _, c := range r.Cases {
		if q := c.Quality().Residual; q > worst {
			worst, condition = q, c.Model.State.Name
		}
		number = math.Max(number, c.Condition())
	}
	if worst < 0 {
		return
	}
	f := finding.Finding{Chapter: "network", Rule: "equations solved", Condition: condition,
		Value: &finding.Quantity{Value: worst, Unit: "relative residual"},
		Limit: &finding.Quantity{Value: residualLimit}, Target: &finding.Quantity{Value: residualTarget},
		Title:       fmt.Sprintf("The network equations are solved to a relative residual of %.1e (condition number about %.0e).", worst, number),
		Basis:       "‖Y·V − I‖ / (‖Y‖·‖V‖ + ‖I‖) in the maximum norm, after one step of refinement",
		Explanation: "Digits lost to the condition number: its logarithm, of about 16."}
	switch {
	case !(worst <= residualLimit):
		f.Verdict = finding.Fails
		f.Cure = "Look for impedances far out of proportion."
	case worst > residualTarget:
		f.Verdict = finding.Thin
	}
	r.add(f)
}

// closedLoops: devices without impedance closed in a loop.
func (r *Report) closedLoops() {
	seen := map[string]bool{}
	for _, c := range r.Cases {
		for i := range c.Model.Vantages {
			v := &c.Model.Vantages[i]
			for k := range v.Currents {
				if why := v.Currents[k].Probe.Undetermined(); why != "" && !seen[v.Currents[k].Name] {
					seen[v.Currents[k].Name] = true
					r.add(finding.Finding{Chapter: "network", Rule: "current determined", Subjects: []string{v.Currents[k].Name}, Verdict: finding.Unproven,
						Condition: c.Model.State.Name, Title: fmt.Sprintf("What %s sees is not determined: %s.", v.Name, why),
						Missing: []string{"the impedance of one of the connections in the loop"},
						Cure:    "Give the bus tie its impedance as a line, or open one of the devices."})
				}
			}
		}
	}
}

// A sight is the most that a vantage's current input sees.
type sight struct {
	value            float64
	condition, place string
	kind             string
}

// faults: every current transformer sees some fault in some condition.
func (r *Report) faults() error {
	sights := make([]map[string]sight, len(r.Cases))
	unsettled := make([]sight, len(r.Cases))
	errs := make([]error, len(r.Cases))
	if err := r.share(len(r.Cases), func(i int) { sights[i], unsettled[i], errs[i] = sightsOf(r.Cases[i]) }); err != nil {
		return err
	}
	r.settled(unsettled)
	most := map[string]sight{}
	for i := range sights {
		if errs[i] != nil {
			return errs[i]
		}
		for name, s := range sights[i] {
			if before, ok := most[name]; !ok || s.value > before.value*(1+1e-9) {
				most[name] = s
			}
		}
	}
	for _, name := range sortedKeys(most) {
		e := most[name]
		vantage, ct, _ := strings.Cut(name, "/")
		f := finding.Finding{Chapter: "faults", Rule: "vantage sees faults", Subjects: []string{vantage, ct},
			Value: &finding.Quantity{Value: e.value, Unit: "A"}, Worse: finding.Smaller, Basis: "superposition; every bus, kind and condition of the study"}
		if e.value > 0 {
			f.Condition, f.Place, f.Fault = e.condition, e.place, e.kind
			f.Title = fmt.Sprintf("%s sees at most %s A primary through %s: %s at %s.", vantage, working.Number(e.value, 4), ct, e.kind, e.place)
		} else {
			f.Verdict = finding.Fails
			f.Title = fmt.Sprintf("%s sees no fault through %s in any condition.", vantage, ct)
			f.Cure = "Look at where the current transformer stands, and whether anything beyond it or behind it has a source."
		}
		r.add(f)
	}
	return nil
}

// settled: the currents of inverters agree with the voltages that they make, in
// every bolted fault. worst holds for each case the fault furthest from that.
func (r *Report) settled(worst []sight) {
	var most sight
	some := false
	for i, c := range r.Cases {
		if len(c.Controls()) == 0 {
			continue
		}
		some = true
		if u := c.UnsettledBefore(); u > most.value {
			most = sight{value: u, condition: c.Model.State.Name}
		}
		if worst[i].value > most.value {
			most = worst[i]
		}
	}
	if !some {
		return
	}
	f := finding.Finding{Chapter: "faults", Rule: "inverters settle",
		Title: "In every bolted fault the inverters' currents agree with the voltages that they make.",
		Value: &finding.Quantity{Value: 100 * most.value, Unit: "% of rated"}, Limit: &finding.Quantity{Value: 0, Unit: "% of rated"},
		Basis: "iteration of control and network until no inverter's current would change by more than a millionth of rated, 400 rounds at most"}
	if most.value > 0 {
		f.Verdict = finding.Unproven
		f.Condition, f.Place, f.Fault = most.condition, most.place, most.kind
		f.Title = fmt.Sprintf("The inverters have no consistent state for %s at %s.", most.kind, most.place)
		if most.place == "" {
			f.Title = "The inverters have no consistent state before the fault."
		}
		f.Explanation = "Their control jumps at a voltage that their own current moves to either side of it. What they really do there is decided by timing that this model does not have."
		f.Missing = []string{"how the inverter behaves near its dip threshold, from its maker"}
		f.Cure = "Look at the threshold and response of the inverters near that place; compute the fault with them at their limit and out of service, and take the worse."
	}
	r.add(f)
}

// sightsOf finds the largest bolted fault that each current input sees in one
// condition, and the fault that leaves inverters furthest from agreement.
func sightsOf(c *fault.Case) (map[string]sight, sight, error) {
	most := map[string]sight{}
	var unsettled sight
	names := make([][]string, len(c.Model.Vantages))
	for v := range c.Model.Vantages {
		for _, in := range c.Model.Vantages[v].Currents {
			names[v] = append(names[v], c.Model.Vantages[v].Name+"/"+in.Name)
		}
	}
	for _, p := range c.Places() {
		t, err := c.At(p.Place)
		if err != nil {
			continue // no source
		}
		for _, k := range fault.All(t.Phases) {
			if k.Type.NeedsZero() && c.UnprovenEarth(p.Place) != "" {
				continue
			}
			res, err := c.Fault(p.Place, k, 0)
			if err != nil {
				return nil, unsettled, fmt.Errorf("condition %q, %s at %s: %w", c.Model.State.Name, k, p.Name, err)
			}
			if res.Unsettled > unsettled.value {
				unsettled = sight{res.Unsettled, c.Model.State.Name, p.Name, fault.KindName(c.Doc, k)}
			}
			for v := range c.Model.Vantages {
				vantage := &c.Model.Vantages[v]
				for n := range vantage.Currents {
					largest := seen(&vantage.Currents[n], c.Conductors(res, v, n))
					// Larger by more than rounding, so that equal currents keep the first kind.
					name := names[v][n]
					if s, ok := most[name]; !ok || largest > s.value*(1+1e-9) {
						most[name] = sight{largest, c.Model.State.Name, p.Name, fault.KindName(c.Doc, k)}
					}
				}
			}
		}
	}
	return most, unsettled, nil
}

// seen is the current, A primary, that an input sees of the conductors'
// currents: the largest of them; their sum where one secondary circuit has
// several conductors, as a core-balance transformer does, and in a neutral.
func seen(in *network.CurrentInput, current [4]complex128) float64 {
	largest := 0.0
	for _, i := range current {
		largest = math.Max(largest, cmplx.Abs(i))
	}
	if in.Neutral {
		return cmplx.Abs(current[0] + current[1] + current[2])
	}
	if len(in.Sums) != 1 {
		return largest
	}
	several, sum := -1, complex128(0)
	for k, c := range in.Sums[0].Coefficient {
		if c != 0 {
			several++
			sum += complex(float64(c), 0) * current[k]
		}
	}
	switch {
	case several <= 0:
		return largest
	case cmplx.Abs(sum) < 1e-9*largest: // rounding of a sum that is nothing
		return 0
	}
	return cmplx.Abs(sum)
}

// Extremes are the largest and smallest current of one type of fault at a
// place over some conditions, with the condition of each.
type Extremes struct {
	Largest, Smallest         float64
	LargestCase, SmallestCase string
	LargestKind, SmallestKind fault.Kind
	Cases                     int
	Unproven                  string
	LargestXR                 float64
}

// ExtremesAt searches the conditions for a place's largest and smallest
// current of a type through a resistance in ohm. Conditions in which the
// place has no source are left out.
func (r *Report) ExtremesAt(name string, typ fault.Type, resistance float64) (Extremes, error) {
	var x Extremes
	for _, c := range r.Cases {
		p, err := c.ParsePlace(name)
		if err != nil {
			return x, err
		}
		t, err := c.At(p.Place)
		if err != nil {
			continue
		}
		if typ.NeedsZero() {
			if why := c.UnprovenEarth(p.Place); why != "" {
				x.Unproven = why
				continue
			}
		}
		counted := false
		for _, k := range fault.Combinations(typ, t.Phases) {
			res, err := c.Fault(p.Place, k, resistance)
			if err != nil {
				return x, err
			}
			i := res.Largest()
			if x.Cases == 0 || i > x.Largest {
				x.Largest, x.LargestCase, x.LargestKind, x.LargestXR = i, c.Model.State.Name, k, res.XR()
			}
			if x.Cases == 0 || i < x.Smallest {
				x.Smallest, x.SmallestCase, x.SmallestKind = i, c.Model.State.Name, k
			}
			if !counted {
				x.Cases++
				counted = true
			}
		}
	}
	return x, nil
}

// Covered is the largest line-to-earth fault resistance at a place at which
// the residual current of a vantage's current transformers, or of the fault
// itself where input is nil, still reaches a value in A primary; the smallest
// over the phases of the place.
func Covered(c *fault.Case, p fault.Place, vantage string, residual float64) (ohm float64, seen bool, err error) {
	t, err := c.At(p)
	if err != nil {
		return 0, false, err
	}
	ohm, seen = math.Inf(1), true
	for _, k := range fault.Combinations(fault.LineEarth, t.Phases) {
		res, err := c.Fault(p, k, 0)
		if err != nil {
			return 0, false, err
		}
		i := res.Earth
		if i == 0 {
			return 0, false, nil
		}
		v := i * res.Loop
		before, share := complex128(0), complex128(1)
		if vantage != "" {
			cur, prefault, ok := residualOf(c, res, vantage)
			if !ok {
				return 0, false, fmt.Errorf("vantage %q has no current transformers, or they see nothing here", vantage)
			}
			before, share = prefault, (cur-prefault)/i
		}
		r, ok := fault.LargestResistance(v, res.Loop, before, share, residual)
		if len(c.Controls()) > 0 {
			if r, ok, err = coveredWithInverters(c, p, k, vantage, residual); err != nil {
				return 0, false, err
			}
		}
		if !ok {
			return 0, false, nil
		}
		ohm = math.Min(ohm, r)
	}
	return ohm, seen, nil
}

// coveredWithInverters searches the largest resistance, since with inverters
// the current is no simple function of it: down from mostResistance in steps
// of a fifth, then by halving to a millionth.
func coveredWithInverters(c *fault.Case, p fault.Place, k fault.Kind, vantage string, residual float64) (ohm float64, ok bool, err error) {
	reaches := func(r float64) bool {
		res, e := c.Fault(p, k, r)
		if e != nil {
			err = e
			return false
		}
		during := res.Earth
		if vantage != "" {
			during, _, _ = residualOf(c, res, vantage)
		}
		return cmplx.Abs(during) >= residual
	}
	const mostResistance, least = 1e5, 1e-3
	if reaches(mostResistance) {
		return math.Inf(1), true, err
	}
	high := mostResistance
	low := high / 1.25
	for ; low > least && !reaches(low); low /= 1.25 {
		high = low
	}
	if low <= least {
		return 0, reaches(0), err
	}
	for high-low > 1e-6*low {
		if mid := (low + high) / 2; reaches(mid) {
			low = mid
		} else {
			high = mid
		}
	}
	return low, true, err
}

// residualOf is the residual that a vantage's first current input sees of a
// fault, and before it.
func residualOf(c *fault.Case, res *fault.Result, vantage string) (during, before complex128, ok bool) {
	for _, rd := range c.Read(res) {
		if rd.Vantage.Name != vantage || len(rd.Currents) == 0 {
			continue
		}
		cur := rd.Currents[0]
		if cur.Note != "" {
			return 0, 0, true
		}
		for k := 0; k < 3; k++ {
			if cur.Input.Probe.Phases.HasConductor(k) {
				before += c.Net.Current(&cur.Input.Probe, k, c.Prefault())
			}
		}
		return cur.Residual, before, true
	}
	return 0, 0, false
}
