package flow

import (
	"math"
	"math/cmplx"

	"feederwright/network"
	"feederwright/quantity"
	"feederwright/study"
)

// A BusReading is the state of a bus.
type BusReading struct {
	Bus     int
	Name    string
	Phases  quantity.Phases // fed; 0: no source
	Nominal float64         // V, line-to-line
	Earth   [4]complex128   // V to earth
	Phase   [3]complex128   // V to the neutral conductor, or to earth where there is none
	Between [3]complex128   // V, AB BC CA
	PerUnit [3]float64      // of Phase, over its nominal voltage; see Judged
	// Judged is PerUnit as it is judged: between the phases where the bus has all
	// three and no earth holds its neutral, whose voltages to earth loads don't see.
	Judged    [3]float64
	Floating  bool
	Unbalance float64 // negative over positive sequence; three-phase buses only
}

// Buses reads every bus of the study, in its order.
func (c *Case) Buses() []BusReading {
	var list []BusReading
	n := c.Model.Network
	for i := range n.Buses {
		b := &n.Buses[i]
		if b.LineEnd != "" {
			continue
		}
		r := BusReading{Bus: i, Name: b.Name, Phases: n.Fed[i], Nominal: b.Nominal, Between: c.LineToLine(i)}
		for _, cond := range r.Phases.Conductors() {
			r.Earth[cond] = c.Voltage(i, cond)
			if k, _ := n.FloatingOf(n.Unknown(i, cond)); k >= 0 {
				r.Floating = true
			}
		}
		for _, p := range (r.Phases & quantity.PhasesABC).Conductors() {
			r.Phase[p] = c.PhaseToNeutral(i, p)
			r.PerUnit[p] = cmplx.Abs(r.Phase[p]) / b.PhaseVoltage()
		}
		r.Judged = r.PerUnit
		if r.Floating && !r.Phases.HasConductor(3) {
			for p := range r.Judged {
				r.Judged[p] = cmplx.Abs(r.Between[p]) / b.Nominal
			}
		}
		if r.Phases&quantity.PhasesABC == quantity.PhasesABC {
			_, v1, v2 := n.Rotation.Sequence([3]complex128(r.Earth[:3]))
			if v1 != 0 {
				r.Unbalance = cmplx.Abs(v2) / cmplx.Abs(v1)
			}
		}
		list = append(list, r)
	}
	return list
}

// A BranchReading is the state of a branch. Current counts positive into the
// branch at each of its ends.
type BranchReading struct {
	Element int
	Kind    string
	Name    string
	Dead    bool
	Ends    []EndReading
	Loss    complex128 // VA, with the branch's charging
	Rating
}

// An EndReading is one end of a branch.
type EndReading struct {
	Bus     string
	Phases  quantity.Phases
	Current [4]complex128 // A
	Earth   complex128    // A: what the conductors together carry, and earth carries back
	Power   complex128    // VA into the branch
}

// A Rating compares a current with what may flow.
type Rating struct {
	Given     bool
	Of        string  // what the rating is: ampacity, rating, continuous
	Limit     float64 // A
	Largest   float64 // A
	Loading   float64 // Largest/Limit
	Conductor int
}

// noLoad: below this part of its rating a thing carries nothing but rounding.
const noLoad = 1e-9

func (r *Rating) judge(of string, limit float64, i [4]complex128) {
	for c, x := range i[:3] {
		a := cmplx.Abs(x)
		if a < noLoad*limit {
			a = 0
		}
		if !r.Given || a/limit > r.Loading {
			*r = Rating{true, of, limit, a, a / limit, c}
		}
	}
}

func tidy(x complex128, least float64) complex128 {
	if cmplx.Abs(x) < least {
		return 0
	}
	return x
}

// Branches reads every branch of the study, in its order.
func (c *Case) Branches() []BranchReading {
	var list []BranchReading
	n := c.Model.Network
	// Names are looked up once: a study may have tens of thousands.
	element := make(map[[2]string]int)
	for i := range n.Elements {
		e := &n.Elements[i]
		element[[2]string{string(e.Kind), e.Name}] = i
	}
	ampacity := c.ampacities()
	for _, b := range c.Doc.Branches() {
		r := BranchReading{Element: -1, Kind: b.Kind, Name: b.Name}
		if i, ok := element[[2]string{b.Kind, b.Name}]; ok {
			r.Element = i
		}
		if r.Element < 0 || !n.Live(r.Element) {
			r.Dead = true
			list = append(list, r)
			continue
		}
		e := &n.Elements[r.Element]
		currents := c.Currents(r.Element)
		for t := range e.Terminals {
			end := EndReading{Phases: e.Terminals[t].Phases, Current: Terminal(e, currents, t)}
			if t < len(b.Ends) {
				end.Bus = string(b.Ends[t].V)
			}
			for _, cond := range end.Phases.Conductors() {
				end.Earth += end.Current[cond]
				end.Power += c.Voltage(e.Terminals[t].Bus, cond) * cmplx.Conj(end.Current[cond])
			}
			r.Loss += end.Power
			r.Ends = append(r.Ends, end)
		}
		c.rate(&r, b, ampacity[b.Name])
		list = append(list, r)
	}
	return list
}

// ampacities are those of the lines that have one, A.
func (c *Case) ampacities() map[string]float64 {
	types := make(map[string]float64)
	for i := range c.Doc.LineTypes.Entries {
		e := &c.Doc.LineTypes.Entries[i]
		types[e.Name] = float64(e.Item.Ampacity.V)
	}
	list := make(map[string]float64)
	for i := range c.Doc.Lines.Entries {
		e := &c.Doc.Lines.Entries[i]
		a := types[string(e.Item.Type.V)]
		if e.Item.Ampacity.Given {
			a = float64(e.Item.Ampacity.V)
		}
		list[e.Name] = a
	}
	return list
}

// rate fills in the rating of a branch, where the study gives one.
func (c *Case) rate(r *BranchReading, b study.Branch, ampacity float64) {
	root3 := math.Sqrt(3)
	winding := func(t int, of string, va, volt float64) {
		if va > 0 && volt > 0 && t < len(r.Ends) {
			r.judge(of, va/root3/volt, r.Ends[t].Current)
		}
	}
	last := func(v study.Value[quantity.Ratings]) float64 {
		if len(v.V) == 0 {
			return 0
		}
		return v.V[len(v.V)-1]
	}
	switch b.Kind {
	case "line":
		if ampacity > 0 {
			for _, end := range r.Ends {
				r.judge("ampacity", ampacity, end.Current)
			}
		}
	case "transformer":
		t := &c.Doc.Transformers.Find(b.Name).Item
		winding(0, "rating", last(t.Rating), t.Voltages.V.From)
		winding(1, "rating", last(t.Rating), t.Voltages.V.To)
	case "three-winding transformer":
		t := &c.Doc.ThreeWinding.Find(b.Name).Item
		for k := range r.Ends {
			winding(k, "rating", last(t.Rating), t.Voltages.V[k])
		}
	case "reactor":
		if t := &c.Doc.Reactors.Find(b.Name).Item; t.Rated.Given {
			r.judge("continuous", float64(t.Rated.V), r.Ends[0].Current)
		}
	case "bank":
		// The shares of the units are not known from the terminals of a closed
		// bank: the power through it over the ratings of all units together.
		sum := 0.0
		for _, u := range c.Doc.Units(b.Name) {
			sum += last(u.Item.Rating)
		}
		if s := cmplx.Abs(tidy(r.Ends[0].Power, noLoad*sum)); sum > 0 {
			r.Rating = Rating{Given: true, Of: "rating of all units", Limit: sum, Largest: s, Loading: s / sum}
		}
	}
}

// A DeviceReading is the current through a device with a continuous rating.
type DeviceReading struct {
	Kind, Name string
	Current    [4]complex128
	Note       string // why there is no value
	Rating
}

// Devices reads the devices that have a continuous rating.
func (c *Case) Devices() []DeviceReading {
	var list []DeviceReading
	n := c.Model.Network
	rated := make(map[string]float64)
	for i := range c.Doc.Breakers.Entries {
		rated[c.Doc.Breakers.Entries[i].Name] = float64(c.Doc.Breakers.Entries[i].Item.Continuous.V)
	}
	for i := range c.Doc.Reclosers.Entries {
		rated[c.Doc.Reclosers.Entries[i].Name] = float64(c.Doc.Reclosers.Entries[i].Item.Continuous.V)
	}
	for i := range c.Doc.Fuses.Entries {
		rated[c.Doc.Fuses.Entries[i].Name] = float64(c.Doc.Fuses.Entries[i].Item.Continuous.V)
	}
	for i := range c.Doc.Switches.Entries {
		rated[c.Doc.Switches.Entries[i].Name] = float64(c.Doc.Switches.Entries[i].Item.Continuous.V)
	}
	for i, s := range n.Switches {
		if rated[s.Name] <= 0 {
			continue
		}
		p := n.ThroughSwitch(i, s.To)
		r := DeviceReading{Kind: s.Kind, Name: s.Name, Note: p.Undetermined()}
		if r.Note == "" {
			r.Current = c.Through(&p)
			r.judge("continuous", rated[s.Name], r.Current)
		}
		list = append(list, r)
	}
	return list
}

// A Reading is what one vantage sees in service.
type Reading struct {
	Vantage  *network.Vantage
	Currents []CurrentReading
	Voltages []VoltageReading
}

// A CurrentReading is one set of current transformers; primary amperes are
// those of the conductors, positive in the direction faced.
type CurrentReading struct {
	Input     *network.CurrentInput
	Phases    quantity.Phases
	Primary   [4]complex128
	Residual  complex128   // sum of the phase currents, A primary
	Secondary []complex128 // per circuit, A
	Note      string       // why there is no value
}

// A VoltageReading is one set of voltage transformers.
type VoltageReading struct {
	Input     *network.VoltageInput
	Phases    quantity.Phases
	Primary   [4]complex128 // V to earth
	Secondary []complex128  // per circuit, V
	Note      string
}

// Read gives what every vantage sees.
func (c *Case) Read() []Reading {
	list := make([]Reading, len(c.Model.Vantages))
	for i := range c.Model.Vantages {
		v := &c.Model.Vantages[i]
		r := Reading{Vantage: v}
		for k := range v.Currents {
			in := &v.Currents[k]
			cr := CurrentReading{Input: in, Phases: in.Probe.Phases, Note: in.Probe.Undetermined()}
			if cr.Note == "" {
				if !in.Probe.Carries() {
					cr.Note = "open or without source"
				}
				cr.Primary = c.Through(&in.Probe)
				for p := range 3 {
					cr.Residual += cr.Primary[p]
				}
				cr.Secondary = network.Secondary(in.Sums, cr.Primary, in.Ratio.Factor())
			}
			r.Currents = append(r.Currents, cr)
		}
		for k := range v.Voltages {
			in := &v.Voltages[k]
			vr := VoltageReading{Input: in, Phases: c.Net.Fed[in.Bus]}
			if vr.Phases == 0 {
				vr.Note = "without source"
			}
			for _, cond := range vr.Phases.Conductors() {
				vr.Primary[cond] = c.Voltage(in.Bus, cond)
			}
			vr.Secondary = network.Secondary(in.Sums, vr.Primary, in.Ratio.Factor())
			r.Voltages = append(r.Voltages, vr)
		}
		list[i] = r
	}
	return list
}
