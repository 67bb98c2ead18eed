package fault

import (
	"fmt"
	"math"
	"math/cmplx"
	"strconv"
	"strings"

	"feederwright/flow"
	"feederwright/network"
	"feederwright/quantity"
	"feederwright/study"
)

// A Case is one condition of a study, ready for faults.
type Case struct {
	Doc   *study.Document
	Model *network.Model
	*Solver

	// Flow is the state of service that the faults start from, where the study's
	// method says so; nil where the sources alone drive the network before the
	// fault. Where it has not converged, they do so after all.
	Flow *flow.Case

	options network.Options
	current [][]int // index of the watched current of each vantage and input
	voltage [][]int
}

// Open builds and factorises one condition and watches its vantages.
func Open(doc *study.Document, state study.State) (*Case, error) {
	if doc.Method == nil || doc.Method.State.V != "load-flow" {
		return openWith(doc, state, network.Options{})
	}
	service, err := flow.Open(doc, state)
	if err != nil {
		return nil, fmt.Errorf("state before the fault: %w", err)
	}
	if !service.Converged {
		c, err := openWith(doc, state, network.Options{})
		if err != nil {
			return nil, err
		}
		c.Flow = service
		c.Model.Defaults = append(c.Model.Defaults, fmt.Sprintf("condition %q: the load flow has no solution (%s); its faults start from the sources alone",
			state.Name, service.Trouble.Cause(service.Net, service.PhaseName)))
		return c, nil
	}
	c, err := openWith(doc, service.State, network.Options{Flow: true, Held: service.Held()})
	if err != nil {
		return nil, err
	}
	c.Flow = service
	c.Model.Defaults = append(service.Model.Defaults, c.Model.Defaults...)
	return c, nil
}

func openWith(doc *study.Document, state study.State, options network.Options) (*Case, error) {
	m, err := network.FromStudyWith(doc, state, options)
	if err != nil {
		return nil, err
	}
	s, err := NewSolver(m.Network)
	if err != nil {
		return nil, err
	}
	c := &Case{Doc: doc, Model: m, Solver: s, options: options}
	for i := range m.Vantages {
		v := &m.Vantages[i]
		var is, us []int
		for k := range v.Currents {
			is = append(is, s.WatchCurrent(&v.Currents[k].Probe))
		}
		for k := range v.Voltages {
			us = append(us, s.WatchVoltage(v.Voltages[k].Bus))
		}
		c.current, c.voltage = append(c.current, is), append(c.voltage, us)
	}
	return c, nil
}

// PhaseName is the study's name of a conductor: A or L1, and N.
func PhaseName(doc *study.Document, conductor int) string {
	if doc.Phases.V == "L123" {
		return [4]string{"L1", "L2", "L3", "N"}[conductor]
	}
	return [4]string{"A", "B", "C", "N"}[conductor]
}

// KindName writes a kind with the study's names of the phases: lg:A, ll:L2 L3.
func KindName(doc *study.Document, k Kind) string {
	if k.Type == ThreePhase || k.Type == ThreePhaseEarth {
		return k.Type.String()
	}
	var names []string
	separator := ""
	for _, c := range k.Phases.Conductors() {
		names = append(names, PhaseName(doc, c))
		if len(names[0]) > 1 {
			separator = " "
		}
	}
	return k.Type.String() + ":" + strings.Join(names, separator)
}

// A NamedPlace is a place with its name as the user writes it.
type NamedPlace struct {
	Place
	Name string // N3, L2/40%
}

// Places are the buses of the study, in its order.
func (c *Case) Places() []NamedPlace {
	var list []NamedPlace
	for i, b := range c.Net.Buses {
		if b.LineEnd == "" {
			list = append(list, NamedPlace{AtBus(i), b.Name})
		}
	}
	return list
}

// ParsePlace reads a place: the name of a bus, or LINE/40% or LINE/1.2mi,
// counted from the line's 'from' end.
func (c *Case) ParsePlace(text string) (NamedPlace, error) {
	text = strings.TrimSpace(text)
	name, along, onLine := strings.Cut(text, "/")
	if !onLine {
		for i, b := range c.Net.Buses {
			if b.Name == text && b.LineEnd == "" {
				return NamedPlace{AtBus(i), text}, nil
			}
		}
		if c.Doc.Lines.Find(text) != nil {
			return NamedPlace{}, fmt.Errorf("%q is a line: say where on it, as %s/40%% or %s/1.2mi", text, text, text)
		}
		if near, ok := quantity.Nearest(text, c.Doc.Buses.Names()); ok {
			return NamedPlace{}, fmt.Errorf("no bus is called %q; did you mean %q?", text, near)
		}
		return NamedPlace{}, fmt.Errorf("no bus is called %q; buses are %s", text, strings.Join(c.Doc.Buses.Names(), ", "))
	}
	e := c.Doc.Lines.Find(name)
	if e == nil {
		if near, ok := quantity.Nearest(name, c.Doc.Lines.Names()); ok {
			return NamedPlace{}, fmt.Errorf("place %q: no line is called %q; did you mean %q?", text, name, near)
		}
		return NamedPlace{}, fmt.Errorf("place %q: no line is called %q", text, name)
	}
	fraction, err := alongLine(along, float64(e.Item.Length.V))
	if err != nil {
		return NamedPlace{}, fmt.Errorf("place %q: %w", text, err)
	}
	element := c.Net.ElementByName(network.Line, name)
	if element < 0 {
		return NamedPlace{}, fmt.Errorf("place %q: line %s is out of service in condition %q", text, name, c.Model.State.Name)
	}
	return NamedPlace{OnLine(element, fraction), text}, nil
}

// alongLine reads 40%, 0.4 or a distance as a fraction of a length in m.
func alongLine(text string, length float64) (float64, error) {
	text = strings.TrimSpace(text)
	var f float64
	if p, ok := strings.CutSuffix(text, "%"); ok {
		v, err := strconv.ParseFloat(strings.TrimSpace(p), 64)
		if err != nil {
			return 0, fmt.Errorf("%q is not a percentage", text)
		}
		f = v / 100
	} else if v, err := strconv.ParseFloat(text, 64); err == nil {
		if v > 1 {
			return 0, fmt.Errorf("%q has no unit: write a percentage (40%%) or a distance (1.2mi)", text)
		}
		f = v
	} else {
		var d quantity.Length
		if err := d.UnmarshalText([]byte(text)); err != nil {
			return 0, err
		}
		if length <= 0 {
			return 0, fmt.Errorf("the line has no length; write a percentage")
		}
		f = float64(d) / length
		if f > 1 && f < 1+1e-9 {
			f = 1
		}
	}
	if !(f >= 0 && f <= 1) { // written so that NaN fails
		return 0, fmt.Errorf("%q is not on the line, which is %s long", text, quantity.Length(length))
	}
	return f, nil
}

// UnprovenEarth says which datum an earth fault at a place lacks, or "".
func (c *Case) UnprovenEarth(p Place) string {
	if p.Line < 0 {
		return c.Model.Unproven[p.Bus]
	}
	return c.Model.Unproven[c.Net.Elements[p.Line].Terminals[0].Bus]
}

// A Reading is what one vantage sees of a fault.
type Reading struct {
	Vantage  *network.Vantage
	Currents []CurrentReading
	Voltages []VoltageReading
}

// A CurrentReading is one set of current transformers. Primary amperes are
// those of the conductors at the place, positive in the direction faced;
// secondary amperes are those of the circuits, from the conductors enclosed.
type CurrentReading struct {
	Input     *network.CurrentInput
	Phases    quantity.Phases
	Primary   [4]complex128
	Sequence  [3]complex128 // zero, positive, negative, A primary; three-phase places only
	Residual  complex128    // sum of the phase currents, A primary
	Secondary []complex128  // per circuit, A
	Direction string        // forward, reverse, or "" where it has no meaning
	Note      string        // why there is no value: open, without source, not determined
}

// A VoltageReading is one set of voltage transformers.
type VoltageReading struct {
	Input     *network.VoltageInput
	Phases    quantity.Phases
	Primary   [4]complex128 // V to earth
	Sequence  [3]complex128
	Secondary []complex128 // per circuit, V
	Note      string
}

// Conductors are the primary currents of a vantage's current input, by number,
// without the readings that Read makes of them.
func (c *Case) Conductors(res *Result, vantage, input int) [4]complex128 {
	return res.Current[c.current[vantage][input]]
}

// Read gives what every vantage sees.
func (c *Case) Read(res *Result) []Reading {
	list := make([]Reading, len(c.Model.Vantages))
	for i := range c.Model.Vantages {
		v := &c.Model.Vantages[i]
		r := Reading{Vantage: v}
		for k := range v.Currents {
			r.Currents = append(r.Currents, c.readCurrent(&v.Currents[k], res, res.Current[c.current[i][k]]))
		}
		for k := range v.Voltages {
			in := &v.Voltages[k]
			u := VoltageReading{Input: in, Phases: c.Net.Fed[in.Bus], Primary: res.Voltage[c.voltage[i][k]]}
			if u.Phases == 0 {
				u.Note = "without source"
			}
			if u.Phases&abc == abc {
				u.Sequence[0], u.Sequence[1], u.Sequence[2] = c.Net.Rotation.Sequence([3]complex128(u.Primary[:3]))
			}
			u.Secondary = Secondary(in.Sums, u.Primary, in.Ratio.Factor())
			r.Voltages = append(r.Voltages, u)
		}
		list[i] = r
	}
	return list
}

func (c *Case) readCurrent(in *network.CurrentInput, res *Result, primary [4]complex128) CurrentReading {
	r := CurrentReading{Input: in, Phases: in.Probe.Phases, Primary: primary}
	switch {
	case in.Probe.Undetermined() != "":
		r.Note = in.Probe.Undetermined()
		return r
	case !in.Probe.Carries():
		r.Note = "open or without source"
	}
	for k := 0; k < 3; k++ {
		r.Residual += primary[k]
	}
	if r.Phases&abc == abc && !in.Neutral {
		r.Sequence[0], r.Sequence[1], r.Sequence[2] = c.Net.Rotation.Sequence([3]complex128(primary[:3]))
	}
	r.Secondary = Secondary(in.Sums, primary, in.Ratio.Factor())
	if r.Note == "" {
		r.Direction = c.direction(&in.Probe, res, primary)
	}
	return r
}

// sideOf tells on which side of a probe a place lies.
func (c *Case) sideOf(p *network.Probe, place Place) network.Side {
	switch {
	case place.Line >= 0:
		return p.SideOnLine(c.Net, place.Line)
	case place.Bus >= 0:
		return p.SideOf(place.Bus)
	}
	return network.Neither // an end of a branch
}

// Secondary gives the quantity of each secondary circuit: the signed sum of
// the conductors it measures, divided by the ratio.
func Secondary(sums []quantity.SignedSum, primary [4]complex128, ratio float64) []complex128 {
	return network.Secondary(sums, primary, ratio)
}

// negligible is the part of the fault current below which a current counts as
// none: rounding of the solution is some orders below.
const negligible = 1e-9

// direction tells whether the fault lies in front of a probe or behind it: by
// the connections where they decide, and on a loop by the active and reactive
// power of the largest phase current with the voltage drop it causes: the
// fault is where the current flows to.
func (c *Case) direction(p *network.Probe, res *Result, primary [4]complex128) string {
	largest := 0.0
	for _, i := range primary {
		largest = math.Max(largest, cmplx.Abs(i))
	}
	if largest <= negligible*res.Scale() {
		return ""
	}
	side := c.sideOf(p, res.Place)
	for _, o := range res.others {
		if c.sideOf(p, o) != side {
			return "" // places on different sides: no one direction
		}
	}
	switch side {
	case network.Far:
		return "forward"
	case network.Near:
		return "reverse"
	case network.Both:
		return c.directionInLoop(p, res, primary)
	}
	return ""
}

// directionInLoop uses the change that the fault makes: the changes of voltage
// and current at the probe obey the impedance of what lies behind it where the
// fault is in front, ΔV = −Z·ΔI, and of what lies in front where it is behind,
// ΔV = +Z·ΔI. With Z between resistance and reactance the sign of
// Re(ΔV·conj(ΔI)·∠−45°), summed over the phases, tells which.
func (c *Case) directionInLoop(p *network.Probe, res *Result, primary [4]complex128) string {
	bus := p.Bus(c.Net)
	if bus < 0 {
		return ""
	}
	state, _ := c.State(res)
	sum := complex128(0)
	for k := 0; k < 4; k++ {
		u := c.Net.Unknown(bus, k)
		if u < 0 || !p.Phases.HasConductor(k) {
			continue
		}
		before := c.Net.Current(p, k, c.pre)
		sum += (state[u] - c.pre[u]) * cmplx.Conj(primary[k]-before)
	}
	s := real(sum * cmplx.Rect(1, -math.Pi/4))
	switch {
	case s < 0:
		return "forward"
	case s > 0:
		return "reverse"
	}
	return ""
}
