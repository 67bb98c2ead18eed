package dossier

import (
	"fmt"
	"math"
	"math/cmplx"
	"runtime"
	"sync"

	"feederwright/fault"
	"feederwright/network"
	"feederwright/quantity"
	"feederwright/review"
)

// An amount is the largest phase current of one type of fault at a place in
// one condition.
type amount struct {
	exists   bool   // the place has the phases, and a source
	unproven string // the datum it lacks
	current  float64
	kind     fault.Kind
	xr       float64
	smallest float64 // over the phases of the type
	least    fault.Kind
}

// A look is what a current input sees of a fault.
type look struct {
	primary, secondary float64 // A: the largest of its conductors or circuits
	place              string
	kind               fault.Kind
	condition          int
}

// A spot is one place in one condition.
type spot struct {
	source bool
	z1, z0 complex128 // ohm
	three  bool       // z1 has a meaning
	zero   bool       // z0 has
	of     []amount   // by type, in the order of sweep.types
}

// A sweep holds every bolted fault at every bus, in every condition.
type sweep struct {
	types  []fault.Type
	places []string
	at     [][]spot // by condition and place
	// most is what the input of a vantage sees at most, by type; at index 0 of
	// the types where it stands in types.
	most map[string][]look
}

var sweepTypes = []fault.Type{fault.ThreePhase, fault.LineLine, fault.LineLineEarth, fault.LineEarth, fault.LineNeutral}

func sweepAll(r *review.Report) (*sweep, error) {
	s := &sweep{places: r.Doc.Buses.Names(), at: make([][]spot, len(r.Cases)), most: map[string][]look{}}
	s.types = sweepTypes[:4]
	for _, b := range r.Doc.Buses.Entries {
		if b.Item.Phases.Given && b.Item.Phases.V.Has(quantity.PhaseN) {
			s.types = sweepTypes
		}
	}
	sees := make([]map[string][]look, len(r.Cases))
	errs := make([]error, len(r.Cases))
	var wait sync.WaitGroup
	next := make(chan int)
	for range min(runtime.GOMAXPROCS(0), len(r.Cases)) {
		wait.Go(func() {
			for i := range next {
				s.at[i], sees[i], errs[i] = s.one(r.Cases[i], i)
			}
		})
	}
	for i := range r.Cases {
		next <- i
	}
	close(next)
	wait.Wait()
	for i := range sees {
		if errs[i] != nil {
			return nil, errs[i]
		}
		for name, looks := range sees[i] {
			if s.most[name] == nil {
				s.most[name] = make([]look, len(s.types))
			}
			for t, l := range looks {
				// Larger by more than rounding, so that equal currents keep the first condition.
				if l.primary > s.most[name][t].primary*(1+1e-9) {
					s.most[name][t] = l
				}
			}
		}
	}
	return s, nil
}

func (s *sweep) one(c *fault.Case, condition int) ([]spot, map[string][]look, error) {
	spots := make([]spot, len(s.places))
	sees := map[string][]look{}
	for v := range c.Model.Vantages {
		for _, in := range c.Model.Vantages[v].Currents {
			sees[c.Model.Vantages[v].Name+"\x00"+in.Name] = make([]look, len(s.types))
		}
	}
	for i, name := range s.places {
		p, err := c.ParsePlace(name)
		if err != nil {
			return nil, nil, err
		}
		t, err := c.At(p.Place)
		if err != nil { // no source
			continue
		}
		sp := &spots[i]
		sp.source = true
		sp.of = make([]amount, len(s.types))
		unproven := c.UnprovenEarth(p.Place)
		floats := false
		for k := range t.Phases.Count() {
			floats = floats || t.Part[k] >= 0
		}
		sp.z0, sp.z1, _, _, sp.three = c.Sequence(&t)
		sp.zero = sp.three && !floats && unproven == ""
		for n, typ := range s.types {
			a := &sp.of[n]
			if typ.NeedsZero() && unproven != "" {
				a.unproven = unproven
				continue
			}
			for _, k := range fault.Combinations(typ, t.Phases) {
				res, err := c.Fault(p.Place, k, 0)
				if err != nil {
					return nil, nil, fmt.Errorf("condition %q, %s at %s: %w", c.Model.State.Name, k, name, err)
				}
				x := res.Largest()
				if !a.exists || x > a.current*(1+1e-9) {
					a.current, a.kind, a.xr = x, k, res.XR()
				}
				if !a.exists || x < a.smallest*(1-1e-9) {
					a.smallest, a.least = x, k
				}
				a.exists = true
				for v := range c.Model.Vantages {
					vantage := &c.Model.Vantages[v]
					for m := range vantage.Currents {
						l := lookAt(&vantage.Currents[m], c.Conductors(res, v, m), res.Scale())
						l.place, l.kind, l.condition = name, k, condition
						if best := &sees[vantage.Name+"\x00"+vantage.Currents[m].Name][n]; l.primary > best.primary*(1+1e-9) {
							*best = l
						}
					}
				}
			}
		}
	}
	return spots, sees, nil
}

// lookAt is what an input makes of the currents of its conductors: the largest
// of them, and the largest of its secondary circuits. Of a neutral, and of one
// circuit round several conductors, the primary current is their sum. What is
// below the rounding of the fault's current, scale, is nothing.
func lookAt(in *network.CurrentInput, current [4]complex128, scale float64) look {
	var l look
	for _, i := range current {
		l.primary = math.Max(l.primary, cmplx.Abs(i))
	}
	for _, i := range fault.Secondary(in.Sums, current, in.Ratio.Factor()) {
		l.secondary = math.Max(l.secondary, cmplx.Abs(i))
	}
	if in.Neutral || len(in.Sums) == 1 {
		l.primary = l.secondary * in.Ratio.Factor()
	}
	if l.primary <= 1e-9*scale {
		return look{}
	}
	return l
}

// An extreme is a current with where it stands.
type extreme struct {
	exists    bool
	current   float64
	xr        float64
	kind      fault.Kind
	condition int
}

// extremes are the largest and smallest current of a type at a place over the
// conditions, and the datum lacking where there is none.
func (s *sweep) extremes(place, typ int) (most, least extreme, unproven string) {
	return s.extremesIn(place, typ, func(int) bool { return true })
}

// extremesIn are those over some of the conditions.
func (s *sweep) extremesIn(place, typ int, among func(condition int) bool) (most, least extreme, unproven string) {
	for i := range s.at {
		if !s.at[i][place].source || !among(i) {
			continue
		}
		a := s.at[i][place].of[typ]
		if a.unproven != "" {
			unproven = a.unproven
		}
		if !a.exists {
			continue
		}
		if !most.exists || a.current > most.current*(1+1e-9) {
			most = extreme{true, a.current, a.xr, a.kind, i}
		}
		if !least.exists || a.smallest < least.current*(1-1e-9) {
			least = extreme{true, a.smallest, 0, a.least, i}
		}
	}
	return most, least, unproven
}
