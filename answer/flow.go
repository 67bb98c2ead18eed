package answer

import (
	"feederwright/flow"
	"feederwright/phasor"
	"feederwright/quantity"
	"feederwright/study"
)

// Flow is the output of flow --format json. Keys only grow; each is
// described in docs/json.md.
type Flow struct {
	Study       string          `json:"study"`
	Conditions  []FlowCondition `json:"conditions"`
	Assumptions []Assumption    `json:"assumptions"`
	Defaults    []string        `json:"defaults"`
}

type FlowCondition struct {
	Name        string        `json:"name"`
	Solved      bool          `json:"solved"`
	Rounds      int           `json:"rounds"`
	Newton      int           `json:"newton_rounds"`
	LeftOver    float64       `json:"largest_power_left_over_voltampere"`
	Trouble     *FlowTrouble  `json:"trouble,omitempty"`
	Buses       []FlowBus     `json:"buses,omitempty"`
	Branches    []FlowBranch  `json:"branches,omitempty"`
	Devices     []FlowDevice  `json:"devices,omitempty"`
	Vantages    []Vantage     `json:"vantages,omitempty"`
	TapControls []TapControl  `json:"tap_controls,omitempty"`
	Hunting     []string      `json:"hunting,omitempty"`
	Power       *PowerBalance `json:"power_voltampere,omitempty"`
}

type FlowTrouble struct {
	Bus      string  `json:"bus"`
	Phase    string  `json:"phase"`
	Missing  float64 `json:"missing_voltampere"`
	Multiple float64 `json:"largest_multiple_of_loads"`
	Cause    string  `json:"cause"`
}

type FlowBus struct {
	Bus           string                 `json:"bus"`
	NominalVolt   float64                `json:"nominal_volt"`
	NoSource      bool                   `json:"no_source,omitempty"`
	Unearthed     bool                   `json:"unearthed,omitempty"`
	EarthVolt     map[string]phasor.JSON `json:"voltage_to_earth_volt,omitempty"`
	NeutralVolt   map[string]phasor.JSON `json:"voltage_to_neutral_volt,omitempty"`
	LineVolt      []phasor.JSON          `json:"voltage_between_phases_volt,omitempty"`
	OverNominal   map[string]float64     `json:"voltage_over_nominal,omitempty"`
	NegativeRatio *float64               `json:"negative_over_positive_sequence,omitempty"`
}

type FlowBranch struct {
	Branch  string    `json:"branch"`
	Kind    string    `json:"kind"`
	Out     bool      `json:"out,omitempty"`
	Ends    []FlowEnd `json:"ends,omitempty"`
	Loss    *Complex  `json:"loss_voltampere,omitempty"`
	Loading *Loading  `json:"loading,omitempty"`
}

type FlowEnd struct {
	Bus     string                 `json:"bus"`
	Current map[string]phasor.JSON `json:"phase_current_ampere"`
	Earth   phasor.JSON            `json:"earth_current_ampere"`
	Power   Complex                `json:"power_voltampere"`
}

type Loading struct {
	Of      string  `json:"of"`
	Limit   float64 `json:"limit"`
	Largest float64 `json:"largest"`
	Loading float64 `json:"loading"`
	Phase   string  `json:"phase"`
}

type FlowDevice struct {
	Device  string                 `json:"device"`
	Kind    string                 `json:"kind"`
	Note    string                 `json:"note,omitempty"`
	Current map[string]phasor.JSON `json:"phase_current_ampere,omitempty"`
	Loading *Loading               `json:"loading,omitempty"`
}

type TapControl struct {
	Of       string  `json:"of"`
	Units    []int   `json:"units"`
	Fixed    bool    `json:"fixed"`
	AtLimit  bool    `json:"at_limit"`
	Position float64 `json:"position"`
	Steps    int     `json:"steps_moved"`
	Measured float64 `json:"measured_volt_secondary"`
	Set      float64 `json:"set_volt_secondary"`
	Band     float64 `json:"band_volt_secondary"`
}

type PowerBalance struct {
	Infeeds  Complex `json:"infeeds"`
	Machines Complex `json:"machines_and_inverters"`
	Loads    Complex `json:"loads"`
	Shunts   Complex `json:"shunts"`
	Losses   Complex `json:"losses"`
}

// FlowOf answers with states of service: all of them, or what concerns one vantage or branch. defaults are what was taken
// where the study says nothing.
func FlowOf(doc *study.Document, cases []*flow.Case, defaults []string, at string) Flow {
	out := Flow{Study: doc.Title.V, Conditions: []FlowCondition{}, Assumptions: AssumptionsOf(doc), Defaults: defaults}
	if out.Defaults == nil {
		out.Defaults = []string{}
	}
	for _, c := range cases {
		out.Conditions = append(out.Conditions, flowCondition(doc, c, at))
	}
	return out
}

func flowCondition(doc *study.Document, c *flow.Case, at string) FlowCondition {
	j := FlowCondition{Name: c.State.Name, Solved: c.Converged, Rounds: c.Solution.Rounds, Newton: c.Newton, LeftOver: c.Mismatch, Hunting: c.Hunting}
	if !c.Converged {
		t := c.Trouble
		j.LeftOver = t.Mismatch
		j.Trouble = &FlowTrouble{flow.BusName(c.Net, t.Bus), c.PhaseName(t.Conductor), t.Mismatch, t.Multiple, t.Cause(c.Net, c.PhaseName)}
		return j
	}
	phasors := func(p quantity.Phases, x [4]complex128) map[string]phasor.JSON {
		m := make(map[string]phasor.JSON)
		for _, k := range p.Conductors() {
			m[c.PhaseName(k)] = phasor.ToJSON(x[k])
		}
		return m
	}
	loading := func(r flow.Rating) *Loading {
		if !r.Given {
			return nil
		}
		return &Loading{r.Of, r.Limit, r.Largest, r.Loading, c.PhaseName(r.Conductor)}
	}
	toJSON := func(z complex128) Complex { return *ToComplex(z) }
	for _, b := range c.Branches() {
		if at != "" && b.Name != at {
			continue
		}
		r := FlowBranch{Branch: b.Name, Kind: b.Kind, Out: b.Dead, Loading: loading(b.Rating)}
		for _, end := range b.Ends {
			r.Ends = append(r.Ends, FlowEnd{end.Bus, phasors(end.Phases, end.Current), phasor.ToJSON(end.Earth), toJSON(end.Power)})
		}
		if !b.Dead {
			r.Loss = ToComplex(b.Loss)
		}
		j.Branches = append(j.Branches, r)
	}
	q := FaultQuery{Doc: doc}
	for _, r := range c.Read() {
		if at != "" && r.Vantage.Name != at {
			continue
		}
		v := Vantage{Name: r.Vantage.Name, Currents: []Current{}, Voltages: []Voltage{}}
		for _, in := range r.Currents {
			x := Current{Input: in.Input.Name, Note: in.Note}
			if in.Note == "" {
				x.Primary = phasors(in.Phases, in.Primary)
				residual := phasor.ToJSON(in.Residual)
				x.Residual = &residual
				x.Secondary = q.circuits(in.Input.Sums, in.Secondary)
			}
			v.Currents = append(v.Currents, x)
		}
		for _, in := range r.Voltages {
			x := Voltage{Input: in.Input.Name, Note: in.Note}
			if in.Note == "" {
				x.Primary = phasors(in.Phases, in.Primary)
				x.Secondary = q.circuits(in.Input.Sums, in.Secondary)
			}
			v.Voltages = append(v.Voltages, x)
		}
		j.Vantages = append(j.Vantages, v)
	}
	if at != "" {
		return j
	}
	for _, b := range c.Buses() {
		r := FlowBus{Bus: b.Name, NominalVolt: b.Nominal, NoSource: b.Phases == 0, Unearthed: b.Floating}
		if b.Phases != 0 {
			r.EarthVolt = phasors(b.Phases, b.Earth)
			r.NeutralVolt = phasors(b.Phases&quantity.PhasesABC, [4]complex128{b.Phase[0], b.Phase[1], b.Phase[2]})
			r.OverNominal = make(map[string]float64)
			for _, p := range (b.Phases & quantity.PhasesABC).Conductors() {
				r.OverNominal[c.PhaseName(p)] = b.Judged[p]
			}
			if b.Phases&quantity.PhasesABC == quantity.PhasesABC {
				for _, x := range b.Between {
					r.LineVolt = append(r.LineVolt, phasor.ToJSON(x))
				}
				ratio := b.Unbalance
				r.NegativeRatio = &ratio
			}
		}
		j.Buses = append(j.Buses, r)
	}
	for _, d := range c.Devices() {
		r := FlowDevice{Device: d.Name, Kind: d.Kind, Note: d.Note, Loading: loading(d.Rating)}
		if d.Note == "" {
			r.Current = phasors(quantity.PhasesABC, d.Current)
		}
		j.Devices = append(j.Devices, r)
	}
	for _, k := range c.Controls {
		units := make([]int, len(k.Units))
		for i, u := range k.Units {
			units[i] = u + 1
		}
		j.TapControls = append(j.TapControls, TapControl{k.Name, units, k.Fixed, k.AtLimit, k.Position, k.Steps, k.Measured, k.Middle, k.Band})
	}
	b := c.Balance()
	j.Power = &PowerBalance{toJSON(b.Sources), toJSON(b.Machines), toJSON(b.Loads), toJSON(b.Shunts), toJSON(b.Losses)}
	return j
}
