// Package profile follows a path through a study's network, from the supply to
// a place: fault currents, voltages and load along distance or impedance.
//
// A Profile is a plain value: tables, pages and drawings show it, and compute
// nothing more.
package profile

import (
	"fmt"
	"math"
	"math/cmplx"
	"strings"

	"feederwright/fault"
	"feederwright/flow"
	"feederwright/network"
	"feederwright/quantity"
	"feederwright/review"
)

// A Profile is what is found along a path.
type Profile struct {
	From, To   string
	Conditions []string // over which bands run
	Without    []string // of these, conditions without a state of service: not in Voltage and Load
	Kinds      []string // kinds of fault, in the order of Point.Faults
	Points     []Point  // from the supply outwards
}

// A Point is a place on the path.
type Point struct {
	Place    string // a bus, or LINE/40%
	Bus      bool
	Fraction float64  // of a point inside a line: of its length, from its 'from' end
	Branch   string   // that leads here from the point before; "" for devices alone
	Kind     string   // of the branch: line, transformer ...
	Devices  []string // passed since the point before, in order
	Before   int      // of Devices: so many stand before the branch or at its beginning, the others at its end
	Distance float64  // m of lines from the start
	// Impedance is the sum of the positive-sequence impedances of the branches
	// from the start, in ohm at the nominal voltage of the path's end.
	Impedance complex128
	Nominal   float64 // V, line-to-line
	Phases    quantity.Phases

	Faults  []Band // A, by kind; over conditions and phases
	XR      Value  // of the largest three-phase fault, or line-to-earth fault where there are fewer phases
	Voltage Band   // over nominal; over conditions and phases
	Load    Band   // A: largest phase current into this place over the path; over conditions
}

// A Band is the smallest and largest of a quantity, with the conditions.
type Band struct {
	Known           bool
	Least, Most     float64
	LeastIn, MostIn string
	Unproven        string // datum that is missing in some condition
}

// A Value is a number that may be unknown.
type Value struct {
	Known bool
	V     float64
}

func (b *Band) add(x float64, condition string) {
	if !b.Known || x < b.Least {
		b.Least, b.LeastIn = x, condition
	}
	if !b.Known || x > b.Most {
		b.Most, b.MostIn = x, condition
	}
	b.Known = true
}

// types are the kinds of fault in a profile.
var types = []fault.Type{fault.ThreePhase, fault.LineLine, fault.LineLineEarth, fault.LineEarth}

// An Options chooses the path.
type Options struct {
	From    string // bus; "": the infeed of least impedance away
	To      string // bus
	Between int    // further points inside every line
}

// Of finds the profile of a path over all conditions of a report; flows are
// their states of service. The path is that of least impedance in the first
// condition in which there is one.
func Of(r *review.Report, flows []*flow.Case, o Options) (*Profile, error) {
	if o.Between < 0 || o.Between > 100 {
		return nil, fmt.Errorf("%d points inside every line: want 0 to 100", o.Between)
	}
	var path []step
	var at *fault.Case
	for _, c := range r.Cases {
		to, err := bus(c, o.To)
		if err != nil {
			return nil, err
		}
		from := -1
		if o.From != "" {
			if from, err = bus(c, o.From); err != nil {
				return nil, err
			}
		}
		if from == to {
			return nil, fmt.Errorf("the path from %s to %s has no length", o.From, o.To)
		}
		if path = way(c, from, to); path != nil {
			at = c
			break
		}
	}
	if at == nil {
		if o.From == "" {
			return nil, fmt.Errorf("no infeed reaches %s in any of the conditions", o.To)
		}
		return nil, fmt.Errorf("nothing joins %s and %s in any of the conditions", o.From, o.To)
	}
	p := &Profile{To: o.To}
	for _, c := range flows {
		p.Conditions = append(p.Conditions, c.State.Name)
		if !c.Converged {
			p.Without = append(p.Without, c.State.Name)
		}
	}
	for _, t := range types {
		p.Kinds = append(p.Kinds, t.String())
	}
	p.lay(at, path, o.Between)
	p.From = p.Points[0].Place
	for i := range p.Points {
		if err := p.faults(r, &p.Points[i]); err != nil {
			return nil, err
		}
	}
	for _, c := range flows {
		if c.Converged {
			p.service(c)
		}
	}
	return p, nil
}

func bus(c *fault.Case, name string) (int, error) {
	for i, b := range c.Net.Buses {
		if b.Name == name && b.LineEnd == "" {
			return i, nil
		}
	}
	var names []string
	for _, b := range c.Net.Buses {
		if b.LineEnd == "" {
			names = append(names, b.Name)
		}
	}
	if near, ok := quantity.Nearest(name, names); ok {
		return 0, fmt.Errorf("no bus is called %q; did you mean %q?", name, near)
	}
	return 0, fmt.Errorf("no bus is called %q; buses are %s", name, strings.Join(names, ", "))
}

// A step is one hop of a path: over an element, or over a device.
type step struct {
	from, to int
	element  int // −1 for a device
	device   string
	terminal int // of the element, at from
	back     bool
	z        complex128 // ohm at the bus 'to'
}

// way is the path of least impedance, per unit of each place's own voltage on
// one common base; from < 0: from the infeed that is nearest in that.
func way(c *fault.Case, from, to int) []step {
	n := c.Net
	edges := make([][]step, len(n.Buses))
	var starts []int
	for i := range n.Elements {
		if !n.Live(i) {
			continue
		}
		e := &n.Elements[i]
		if e.Kind == network.Infeed || e.Holds() {
			starts = append(starts, e.Terminals[0].Bus)
		}
		for a := range e.Terminals {
			for b := range e.Terminals {
				if a != b {
					edges[e.Terminals[a].Bus] = append(edges[e.Terminals[a].Bus], step{from: e.Terminals[a].Bus, to: e.Terminals[b].Bus, element: i, terminal: a, back: a > b, z: impedance(n, e, b)})
				}
			}
		}
	}
	for _, s := range n.Switches {
		if s.Closed {
			edges[s.From] = append(edges[s.From], step{from: s.From, to: s.To, element: -1, device: s.Name})
			edges[s.To] = append(edges[s.To], step{from: s.To, to: s.From, element: -1, device: s.Name})
		}
	}
	if from >= 0 {
		starts = []int{from}
	}
	dist := make([]float64, len(n.Buses))
	came := make([]*step, len(n.Buses))
	done := make([]bool, len(n.Buses))
	for i := range dist {
		dist[i] = math.Inf(1)
	}
	for _, s := range starts {
		dist[s] = 0
	}
	queue := &heap{}
	for _, s := range starts {
		queue.push(s, 0)
	}
	for {
		next, ok := queue.pop()
		if !ok {
			break
		}
		if done[next] {
			continue
		}
		done[next] = true
		if next == to {
			break
		}
		for k := range edges[next] {
			s := &edges[next][k]
			u := n.Buses[s.to].Nominal
			if d := dist[next] + cmplx.Abs(s.z)/(u*u); d < dist[s.to] {
				dist[s.to], came[s.to] = d, s
				queue.push(s.to, d)
			}
		}
	}
	if math.IsInf(dist[to], 1) {
		return nil
	}
	var back []step
	for at := to; came[at] != nil; at = came[at].from {
		back = append(back, *came[at])
	}
	for i, j := 0, len(back)-1; i < j; i, j = i+1, j-1 {
		back[i], back[j] = back[j], back[i]
	}
	if len(back) == 0 {
		return nil
	}
	return back
}

// impedance of a branch seen from one of its terminals: positive sequence
// where it has three phases, of the first phase where it has fewer.
func impedance(n *network.Network, e *network.Element, terminal int) complex128 {
	first, count := 0, 0
	for t := range e.Terminals {
		if t == terminal {
			count = (e.Terminals[t].Phases & quantity.PhasesABC).Count()
			break
		}
		first += e.Terminals[t].Phases.Count()
	}
	if e.Series != nil {
		k := e.Terminals[0].Phases.Count()
		if count < 3 {
			return e.Series[0]
		}
		self := (e.Series[0] + e.Series[k+1] + e.Series[2*k+2]) / 3
		mutual := (e.Series[1] + e.Series[2] + e.Series[k+2]) / 3
		return self - mutual
	}
	m := 0
	for _, t := range e.Terminals {
		m += t.Phases.Count()
	}
	y := func(i, j int) complex128 { return e.Y[(first+i)*m+first+j] }
	sum := complex128(0)
	if count == 3 {
		v := n.Rotation.Phases(0, 1, 0)
		var i [3]complex128
		for r := range i {
			for k := range v {
				i[r] += y(r, k) * v[k]
			}
		}
		_, sum, _ = n.Rotation.Sequence(i)
	} else if count > 0 {
		sum = y(0, 0)
	}
	if sum == 0 {
		return 0
	}
	return 1 / sum
}

// lay makes the points of a path.
func (p *Profile) lay(c *fault.Case, path []step, between int) {
	n := c.Net
	end := n.Buses[path[len(path)-1].to].Nominal
	var branch, kind string
	var devices []string
	var before int
	var distance float64
	var z complex128
	add := func(bus int) {
		b := &n.Buses[bus]
		p.Points = append(p.Points, Point{Place: b.Name, Bus: true, Branch: branch, Kind: kind, Devices: devices, Before: before, Distance: distance, Impedance: z, Nominal: b.Nominal, Phases: n.Fed[bus]})
		branch, kind, devices, before = "", "", nil, 0
	}
	add(path[0].from)
	for _, s := range path {
		if s.element < 0 {
			devices = append(devices, s.device)
		} else {
			e := &n.Elements[s.element]
			branch, kind, before = e.Name, string(e.Kind), len(devices)
			length := 0.0
			if e.Kind == network.Line {
				if l := c.Doc.Lines.Find(e.Name); l != nil {
					length = float64(l.Item.Length.V)
				}
			}
			u := n.Buses[s.to].Nominal
			more := s.z * complex(end*end/(u*u), 0)
			if e.Kind == network.Line {
				for k := 1; k <= between; k++ {
					x := float64(k) / float64(between+1)
					along := x
					if s.back {
						along = 1 - x
					}
					p.Points = append(p.Points, Point{Place: fmt.Sprintf("%s/%.4g%%", e.Name, 100*along), Fraction: along, Branch: branch, Kind: kind, Devices: devices, Before: before,
						Distance: distance + x*length, Impedance: z + complex(x, 0)*more, Nominal: u, Phases: e.Terminals[0].Phases & n.Fed[e.Terminals[0].Bus]})
					devices, before = nil, 0
				}
			}
			distance += length
			z += more
		}
		if n.Buses[s.to].LineEnd == "" {
			add(s.to)
		}
	}
}

// faults fills in the fault currents of a point.
func (p *Profile) faults(r *review.Report, pt *Point) error {
	pt.Faults = make([]Band, len(types))
	for k, t := range types {
		x, err := r.ExtremesAt(pt.Place, t, 0)
		if err != nil {
			if !pt.Bus { // the line is out in one of the conditions
				return nil
			}
			return err
		}
		b := &pt.Faults[k]
		b.Unproven = x.Unproven
		if x.Cases == 0 {
			continue
		}
		b.add(x.Largest, x.LargestCase)
		b.add(x.Smallest, x.SmallestCase)
		if !pt.XR.Known && !math.IsInf(x.LargestXR, 0) {
			pt.XR = Value{true, x.LargestXR}
		}
	}
	return nil
}

// service fills in voltage and load of one condition.
func (p *Profile) service(c *flow.Case) {
	byName := make(map[string]flow.BusReading)
	for _, b := range c.Buses() {
		byName[b.Name] = b
	}
	branches := make(map[string]flow.BranchReading)
	for _, b := range c.Branches() {
		branches[b.Name] = b
	}
	for i := range p.Points {
		pt := &p.Points[i]
		if pt.Bus {
			b := byName[pt.Place]
			for _, k := range (b.Phases & quantity.PhasesABC).Conductors() {
				pt.Voltage.add(b.Judged[k], c.State.Name)
			}
		} else {
			n := c.Model.Network
			e := n.BranchByName(pt.Branch)
			if e < 0 || !n.Live(e) {
				continue
			}
			x := pt.Fraction
			t := n.Elements[e].Terminals
			for _, k := range (t[0].Phases & quantity.PhasesABC & n.Fed[t[0].Bus]).Conductors() {
				u := complex(1-x, 0)*c.PhaseToNeutral(t[0].Bus, k) + complex(x, 0)*c.PhaseToNeutral(t[1].Bus, k)
				pt.Voltage.add(cmplx.Abs(u)/n.Buses[t[0].Bus].PhaseVoltage(), c.State.Name)
			}
		}
		b, ok := branches[pt.Branch]
		if !ok || b.Dead {
			continue
		}
		for _, e := range b.Ends {
			// At the near end of this point: a line's currents differ by its charging alone.
			if e.Bus == pt.Place || !pt.Bus && e.Bus == b.Ends[len(b.Ends)-1].Bus {
				most := 0.0
				for _, x := range e.Current[:3] {
					most = math.Max(most, cmplx.Abs(x))
				}
				if most < 1e-3 { // rounding: a branch without load
					most = 0
				}
				pt.Load.add(most, c.State.Name)
			}
		}
	}
}
