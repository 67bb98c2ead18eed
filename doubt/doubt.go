// Package doubt asks which datum matters: it puts other plausible values in
// the place of each one that a study assumes, leaves to a default or lacks, one
// at a time, and says which judgements would be others.
//
// A datum is tried at both ends of its range, not between: findings follow
// their data monotonically or nearly so, since impedances add up; where that is
// not so (a resonance, an inverter's threshold), a flip between the ends is not
// found. Data are not varied together: two that each flip nothing may do so
// in company.
package doubt

import (
	"cmp"
	"fmt"
	"math"
	"runtime"
	"slices"
	"strings"
	"sync"
	"sync/atomic"

	"feederwright/fault"
	"feederwright/finding"
	"feederwright/review"
	"feederwright/study"
)

// A Kind says why a datum is in doubt.
type Kind string

const (
	Stated  Kind = "range stated" // the author gives it a range
	Assumed Kind = "assumed"      // the author calls it assumed
	Missing Kind = "missing"      // a finding is unproven for want of it
	Default Kind = "default"      // the study says nothing, and the program took a value
)

// kinds in the order in which they are tried while there is room.
var kinds = []Kind{Stated, Missing, Assumed, Default}

// A Datum is one value in doubt with what came of varying it.
type Datum struct {
	Name   string `json:"datum"` // `line type "CAB", z1`
	Kind   Kind   `json:"kind"`
	Value  string `json:"value,omitempty"`  // as stated, or taken
	Source string `json:"source,omitempty"` // what the study says about it, or the default in words
	Place  string `json:"place"`            // file:line:column, where it stands or would stand
	Range  string `json:"range,omitempty"`  // basis of the values tried
	// Untried says why no other value was put in its place; "" where some were.
	Untried string  `json:"untried,omitempty"`
	Trials  []Trial `json:"trials"`
	// Consequence is the gravest change at the values tried.
	Consequence Consequence `json:"consequence"`

	puts []trialOf
}

// A Consequence is the gravest thing that follows from a datum.
type Consequence string

const (
	ToFails    Consequence = "fails"     // something would fail
	ToThin     Consequence = "thin"      // something would be thin
	ToUnproven Consequence = "unproven"  // something would be unproven
	Better     Consequence = "better"    // something that fails or is thin would be better
	Settles    Consequence = "settles"   // what is unproven would hold, or be no question
	None       Consequence = "none"      // no verdict changes
	NotTried   Consequence = "not tried" // see Untried
)

// gravity lists the consequences, gravest first.
var gravity = []Consequence{ToFails, ToThin, ToUnproven, Better, Settles, None, NotTried}

// A trialOf is what is put into the study for one trial, and how that is told.
type trialOf struct {
	value string
	puts  []study.Put
}

// A Trial is the study judged with one other value of a datum.
type Trial struct {
	Value   string   `json:"value"`
	Refused string   `json:"refused,omitempty"` // why the study could not be judged with it
	Changes []Change `json:"changes"`           // findings whose verdict is another
	Finding *Move    `json:"finding_moves,omitempty"`
	Current *Move    `json:"current_moves,omitempty"`
	Known   []Known  `json:"becomes_known"` // fault currents that the study as it is does not give
}

// Known are the fault currents of one type at a place, over all conditions.
type Known struct {
	What     string  `json:"what"` // type and place
	Smallest float64 `json:"smallest_ampere"`
	Largest  float64 `json:"largest_ampere"`
}

// A Change is a finding whose verdict is another than in the study as it is.
// A verdict is "" where there is no such finding.
type Change struct {
	Finding   string            `json:"finding"`
	From      string            `json:"from,omitempty"`
	To        string            `json:"to,omitempty"`
	FromValue *finding.Quantity `json:"from_value,omitempty"`
	ToValue   *finding.Quantity `json:"to_value,omitempty"`
	Condition string            `json:"condition,omitempty"` // where the new value stands
	Accepted  bool              `json:"accepted,omitempty"`  // the study accepts the finding as it is
}

// A Move is the largest relative change of a number.
type Move struct {
	What     string           `json:"what"` // the finding, or kind and place of the fault
	From     finding.Quantity `json:"from"`
	To       finding.Quantity `json:"to"`
	Relative float64          `json:"relative"` // |to − from| over |from|
}

// A Report is what comes of all data in doubt, in the order of consequence.
type Report struct {
	Data    []Datum
	Runs    int // how often the study was judged
	Faults  int // faults computed in each
	LeftOut int // data not tried for want of room
	Base    *review.Report
}

// Options bound the work.
type Options struct {
	// MostFaults is how many faults may be computed in all; 0 for DefaultFaults.
	MostFaults int
	// Step, if set, is told how many studies of how many have been judged, from several goroutines; where it says false,
	// the work ends with review.ErrStopped.
	Step func(done, of int) bool
}

// DefaultFaults keeps a run to some twenty seconds on two ordinary processors.
const DefaultFaults = 2_000_000

// Examine varies the data in doubt of a study that has been read and validated
// without errors.
func Examine(doc *study.Document, states []study.State, options Options) (*Report, error) {
	base, err := judge(doc, states)
	if err != nil {
		return nil, err
	}
	return examine(doc, base, data(doc, base.report), options)
}

func examine(doc *study.Document, base *outcome, all []Datum, options Options) (*Report, error) {
	most := options.MostFaults
	if most == 0 {
		most = DefaultFaults
	}
	r := &Report{Data: all, Runs: 1, Faults: base.faults, Base: base.report}

	// Which data there is room for: by kind, then by place, whatever order they came in.
	slices.SortStableFunc(r.Data, func(a, b Datum) int {
		return cmp.Or(cmp.Compare(slices.Index(kinds, a.Kind), slices.Index(kinds, b.Kind)), cmp.Compare(a.Place, b.Place), strings.Compare(a.Name, b.Name))
	})
	type job struct {
		doc    *study.Document
		states []study.State
		outcome
		err error
	}
	jobs := map[string]*job{study.Hash(doc): {outcome: *base}}
	var todo []*job
	type use struct {
		datum, trial int
		of           *job
	}
	var uses []use
	for i := range r.Data {
		d := &r.Data[i]
		if d.Trials == nil {
			d.Trials = []Trial{}
		}
		if len(d.puts) > 0 && (len(todo)+len(d.puts)+1)*base.faults > most {
			d.Untried = "left out: the work for it goes beyond the bound"
			r.LeftOut++
			continue
		}
		for k, p := range d.puts {
			d.Trials = append(d.Trials, Trial{Value: p.value, Changes: []Change{}, Known: []Known{}})
			varied, states, why := vary(doc, p.puts)
			if why != "" {
				d.Trials[k].Refused = why
				continue
			}
			hash := study.Hash(varied)
			j := jobs[hash]
			if j == nil {
				j = &job{doc: varied, states: states}
				jobs[hash] = j
				todo = append(todo, j)
			}
			uses = append(uses, use{i, k, j})
		}
	}
	var done atomic.Int64
	var stopped atomic.Bool
	share(len(todo), func(i int) {
		j := todo[i]
		if o := options.Step; o != nil && !o(int(done.Load()), len(todo)) {
			stopped.Store(true)
		}
		if stopped.Load() {
			return
		}
		defer done.Add(1)
		o, err := judge(j.doc, j.states)
		if err != nil {
			j.err = err
		} else {
			j.outcome = *o
		}
		j.doc, j.states = nil, nil
		if j.report != nil {
			j.report.Cases = nil // the numbers are taken out; the matrices are large
		}
	})
	if stopped.Load() {
		return nil, review.ErrStopped
	}
	r.Runs += len(todo)
	for i := range r.Data {
		if len(r.Data[i].Trials) == 0 {
			r.Data[i].Consequence = NotTried
		}
	}
	for _, u := range uses {
		t := &r.Data[u.datum].Trials[u.trial]
		if u.of.err != nil {
			t.Refused = u.of.err.Error()
			continue
		}
		t.compare(base, &u.of.outcome)
	}
	for i := range r.Data {
		d := &r.Data[i]
		if d.Consequence == "" {
			d.Consequence = d.gravest()
		}
	}
	slices.SortStableFunc(r.Data, func(a, b Datum) int { return compareConsequence(&a, &b) })
	return r, nil
}

// vary puts values into a study and works out its conditions.
func vary(doc *study.Document, puts []study.Put) (*study.Document, []study.State, string) {
	varied, ds, err := doc.With(puts...)
	if err != nil {
		return nil, nil, err.Error()
	}
	var states []study.State
	if ds.Errors() == 0 {
		var more study.Diagnostics
		states, more = varied.States()
		ds = append(ds, more...)
	}
	for _, d := range ds {
		if d.Severity == study.Error {
			return nil, nil, d.Object + ": " + d.Problem
		}
	}
	return varied, states, ""
}

// An outcome is a study judged.
type outcome struct {
	report   *review.Report
	currents map[string]extremes // by type of fault and place
	faults   int
}

type extremes struct{ largest, smallest float64 }

func judge(doc *study.Document, states []study.State) (*outcome, error) {
	r, err := review.Open(doc, states)
	if err != nil {
		return nil, err
	}
	if err := r.Judge(); err != nil {
		return nil, err
	}
	o := &outcome{report: r, currents: make(map[string]extremes)}
	unsettled := make(map[string]bool)
	for _, c := range r.Cases {
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
					return nil, fmt.Errorf("condition %q, %s at %s: %w", c.Model.State.Name, k, p.Name, err)
				}
				o.faults++
				i, name := res.Largest(), k.Type.String()+" at "+p.Name
				if res.Unsettled > 0 { // its number is a matter of chance, and a finding says so
					unsettled[name] = true
				}
				x, known := o.currents[name]
				if !known {
					x = extremes{i, i}
				}
				o.currents[name] = extremes{math.Max(x.largest, i), math.Min(x.smallest, i)}
			}
		}
	}
	for name := range unsettled {
		delete(o.currents, name)
	}
	return o, nil
}

// noise names the findings whose numbers are rounding, not data.
var noise = map[string]bool{"network/equations solved": true}

// compare fills in what a trial changes.
func (t *Trial) compare(base, now *outcome) {
	names := map[string]bool{}
	for _, fs := range [][]finding.Finding{base.report.Findings, now.report.Findings} {
		for i := range fs {
			names[fs[i].ID()] = true
		}
	}
	for _, id := range sorted(names) {
		from, to := base.report.Find(id), now.report.Find(id)
		c := Change{Finding: id}
		if from != nil {
			c.From, c.FromValue, c.Accepted = from.Verdict.String(), from.Value, from.IsAccepted()
		}
		if to != nil {
			c.To, c.ToValue, c.Condition = to.Verdict.String(), to.Value, to.Condition
		}
		holds := finding.Holds.String()
		if c.From != c.To && !(c.From == "" && c.To == holds) && !(c.From == holds && c.To == "") {
			t.Changes = append(t.Changes, c)
		}
		if from != nil && to != nil && from.Value != nil && to.Value != nil && from.Value.Unit == to.Value.Unit && !noise[id] {
			t.Finding = larger(t.Finding, id, from, *from.Value, *to.Value)
		}
	}
	for _, name := range sorted(base.currents) {
		a := base.currents[name]
		b, known := now.currents[name]
		if !known || a.largest < noCurrent {
			continue
		}
		t.Current = larger(t.Current, "largest "+name, nil, ampere(a.largest), ampere(b.largest))
		t.Current = larger(t.Current, "smallest "+name, nil, ampere(a.smallest), ampere(b.smallest))
	}
	for _, name := range sorted(now.currents) {
		if a, known := base.currents[name]; now.currents[name].largest >= noCurrent && (!known || a.largest < noCurrent) {
			t.Known = append(t.Known, Known{name, now.currents[name].smallest, now.currents[name].largest})
		}
	}
}

// noCurrent is the current, in A, below which there is none: rounding of the
// equations of a part without earth.
const noCurrent = 1e-6

func ampere(i float64) finding.Quantity { return finding.Quantity{Value: i, Unit: "A"} }

// settled is the relative change below which two numbers are the same: far
// above rounding, and below what any output shows.
const settled = 1e-6

// larger is m, or the change from one number to another where it is larger. Of
// a finding that gets worse away from zero on either side, magnitudes count;
// what is zero is measured by its limit.
func larger(m *Move, what string, f *finding.Finding, from, to finding.Quantity) *Move {
	d, scale := math.Abs(to.Value-from.Value), math.Abs(from.Value)
	if f != nil && f.Worse == finding.Away {
		d = math.Abs(math.Abs(to.Value) - math.Abs(from.Value))
	}
	if scale == 0 && f != nil && f.Limit != nil {
		scale = math.Abs(f.Limit.Value)
	}
	d /= scale
	if !(d > settled) || math.IsInf(d, 0) || m != nil && !(d > m.Relative*(1+settled)) {
		return m
	}
	return &Move{what, from, to, d}
}

func sorted[T any](m map[string]T) []string {
	names := make([]string, 0, len(m))
	for name := range m {
		names = append(names, name)
	}
	slices.Sort(names)
	return names
}

// consequence ranks a change by the new verdict.
func (c *Change) consequence() Consequence {
	fails, thin, unproven := finding.Fails.String(), finding.Thin.String(), finding.Unproven.String()
	switch {
	case c.To == fails:
		return ToFails
	case c.To == thin && c.From != fails:
		return ToThin
	case c.To == unproven:
		return ToUnproven
	case c.From == unproven:
		return Settles
	}
	return Better
}

// Flips is how many verdicts are others at some value tried.
func (d *Datum) Flips() int {
	names := map[string]bool{}
	for i := range d.Trials {
		for k := range d.Trials[i].Changes {
			names[d.Trials[i].Changes[k].Finding] = true
		}
	}
	return len(names)
}

// Largest are the largest changes of a finding's value and of a fault current
// at the values tried, or nil where none changes.
func (d *Datum) Largest() (value, current *Move) {
	for i := range d.Trials {
		if m := d.Trials[i].Finding; m != nil && (value == nil || m.Relative > value.Relative*(1+settled)) {
			value = m
		}
		if m := d.Trials[i].Current; m != nil && (current == nil || m.Relative > current.Relative*(1+settled)) {
			current = m
		}
	}
	return value, current
}

func (d *Datum) gravest() Consequence {
	worst := slices.Index(gravity, None)
	for i := range d.Trials {
		for k := range d.Trials[i].Changes {
			worst = min(worst, slices.Index(gravity, d.Trials[i].Changes[k].consequence()))
		}
	}
	return gravity[worst]
}

// compareConsequence puts first what would make something fail, then the
// other flips, then by how much the numbers move. Data that were not tried
// come last.
func compareConsequence(a, b *Datum) int {
	relative := func(m *Move) float64 {
		if m == nil {
			return 0
		}
		return digits(m.Relative) // so that rounding decides no order
	}
	av, ac := a.Largest()
	bv, bc := b.Largest()
	return cmp.Or(cmp.Compare(slices.Index(gravity, a.Consequence), slices.Index(gravity, b.Consequence)), cmp.Compare(b.Flips(), a.Flips()),
		cmp.Compare(relative(bv), relative(av)), cmp.Compare(relative(bc), relative(ac)),
		strings.Compare(a.Name, b.Name), strings.Compare(a.Place, b.Place))
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
