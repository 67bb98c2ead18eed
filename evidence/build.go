package evidence

import (
	"fmt"
	"io/fs"
	"strings"

	"feederwright/fault"
	"feederwright/internal/onefile"
	"feederwright/network"
	"feederwright/quantity"
	"feederwright/study"
)

const abc = quantity.PhasesABC

var solid = network.NeutralPoint{Exists: true, Earthed: true}

// plant collects the first error of a network's construction.
type plant struct {
	network.Builder
	err error
}

func (p *plant) keep(_ int, err error) {
	if p.err == nil {
		p.err = err
	}
}

func (p *plant) infeed(bus int, d network.InfeedData) {
	p.keep(p.AddInfeed(fmt.Sprint("source ", bus), bus, d))
}

func (p *plant) transformer(name, group string, from, to int, d network.TransformerData) {
	if err := d.Group.UnmarshalText([]byte(group)); err != nil {
		p.keep(0, err)
		return
	}
	p.keep(p.AddTransformer(name, from, to, d))
}

func (p *plant) solver(change Change) (*fault.Solver, error) {
	if p.err != nil {
		return nil, p.err
	}
	net, err := p.Build()
	if err != nil {
		return nil, err
	}
	if change != nil {
		change(net)
	}
	return fault.NewSolver(net)
}

// at computes one fault.
func at(s *fault.Solver, place fault.Place, kind string, r float64) (*fault.Result, error) {
	kinds, err := fault.ParseKinds(kind)
	if err != nil {
		return nil, err
	}
	return s.Fault(place, kinds[0], r)
}

// open takes a study's text through the whole way: read, validate, conditions,
// network, factorisation.
func open(files fs.FS, name, condition string, change Change) (*fault.Case, error) {
	doc, ds := study.Read(files, name)
	if doc != nil {
		ds = append(ds, doc.Validate()...)
	}
	if ds.Errors() > 0 {
		return nil, ds[0]
	}
	states, ds := doc.States()
	if ds.Errors() > 0 {
		return nil, ds[0]
	}
	chosen, err := study.Select(states, condition)
	if err != nil {
		return nil, err
	}
	if len(chosen) != 1 {
		return nil, fmt.Errorf("%q means %d conditions", condition, len(chosen))
	}
	c, err := fault.Open(doc, chosen[0])
	if err != nil || change == nil {
		return c, err
	}
	// Factorise again, altered. A case knows its vantages by the order in which
	// they were watched, so watch them in that order.
	change(c.Net)
	s, err := fault.NewSolver(c.Net)
	if err != nil {
		return nil, err
	}
	for i := range c.Model.Vantages {
		v := &c.Model.Vantages[i]
		for k := range v.Currents {
			s.WatchCurrent(&v.Currents[k].Probe)
		}
		for k := range v.Voltages {
			s.WatchVoltage(v.Voltages[k].Bus)
		}
	}
	c.Solver = s
	return c, nil
}

func openText(text string, change Change) (*fault.Case, error) {
	return open(onefile.FS{Name: "study.yaml", Text: []byte(strings.TrimLeft(text, "\n"))}, "study.yaml", "all", change)
}
