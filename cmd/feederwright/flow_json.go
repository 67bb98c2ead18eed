package main

import (
	"feederwright/flow"
	"feederwright/phasor"
	"feederwright/quantity"
)

// flowJSON is the output of flow --format json. Keys only grow; each is
// described in docs/json.md.
type flowJSON struct {
	Study       string              `json:"study"`
	Conditions  []flowConditionJSON `json:"conditions"`
	Assumptions []assumptionJSON    `json:"assumptions"`
	Defaults    []string            `json:"defaults"`
}

type flowConditionJSON struct {
	Name        string            `json:"name"`
	Solved      bool              `json:"solved"`
	Rounds      int               `json:"rounds"`
	Newton      int               `json:"newton_rounds"`
	LeftOver    float64           `json:"largest_power_left_over_voltampere"`
	Trouble     *troubleJSON      `json:"trouble,omitempty"`
	Buses       []flowBusJSON     `json:"buses,omitempty"`
	Branches    []flowBranchJSON  `json:"branches,omitempty"`
	Devices     []flowDeviceJSON  `json:"devices,omitempty"`
	Vantages    []vantageJSON     `json:"vantages,omitempty"`
	TapControls []tapControlJSON  `json:"tap_controls,omitempty"`
	Hunting     []string          `json:"hunting,omitempty"`
	Power       *powerBalanceJSON `json:"power_voltampere,omitempty"`
}

type troubleJSON struct {
	Bus      string  `json:"bus"`
	Phase    string  `json:"phase"`
	Missing  float64 `json:"missing_voltampere"`
	Multiple float64 `json:"largest_multiple_of_loads"`
	Cause    string  `json:"cause"`
}

type flowBusJSON struct {
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

type flowBranchJSON struct {
	Branch  string        `json:"branch"`
	Kind    string        `json:"kind"`
	Out     bool          `json:"out,omitempty"`
	Ends    []flowEndJSON `json:"ends,omitempty"`
	Loss    *complexJSON  `json:"loss_voltampere,omitempty"`
	Loading *loadingJSON  `json:"loading,omitempty"`
}

type flowEndJSON struct {
	Bus     string                 `json:"bus"`
	Current map[string]phasor.JSON `json:"phase_current_ampere"`
	Earth   phasor.JSON            `json:"earth_current_ampere"`
	Power   complexJSON            `json:"power_voltampere"`
}

type loadingJSON struct {
	Of      string  `json:"of"`
	Limit   float64 `json:"limit"`
	Largest float64 `json:"largest"`
	Loading float64 `json:"loading"`
	Phase   string  `json:"phase"`
}

type flowDeviceJSON struct {
	Device  string                 `json:"device"`
	Kind    string                 `json:"kind"`
	Note    string                 `json:"note,omitempty"`
	Current map[string]phasor.JSON `json:"phase_current_ampere,omitempty"`
	Loading *loadingJSON           `json:"loading,omitempty"`
}

type tapControlJSON struct {
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

type powerBalanceJSON struct {
	Infeeds  complexJSON `json:"infeeds"`
	Machines complexJSON `json:"machines_and_inverters"`
	Loads    complexJSON `json:"loads"`
	Shunts   complexJSON `json:"shunts"`
	Losses   complexJSON `json:"losses"`
}

// json gives everything, or what concerns one vantage or branch.
func (s *service) json(at string) flowJSON {
	out := flowJSON{Study: s.doc.Title.V, Conditions: []flowConditionJSON{}, Assumptions: assumptionsJSON(s.doc), Defaults: s.defaults}
	if out.Defaults == nil {
		out.Defaults = []string{}
	}
	for _, c := range s.cases {
		out.Conditions = append(out.Conditions, s.conditionJSON(c, at))
	}
	return out
}

func (s *service) conditionJSON(c *flow.Case, at string) flowConditionJSON {
	j := flowConditionJSON{Name: c.State.Name, Solved: c.Converged, Rounds: c.Solution.Rounds, Newton: c.Newton, LeftOver: c.Mismatch, Hunting: c.Hunting}
	if !c.Converged {
		t := c.Trouble
		j.LeftOver = t.Mismatch
		j.Trouble = &troubleJSON{flow.BusName(c.Net, t.Bus), c.PhaseName(t.Conductor), t.Mismatch, t.Multiple, t.Cause(c.Net, c.PhaseName)}
		return j
	}
	phasors := func(p quantity.Phases, x [4]complex128) map[string]phasor.JSON {
		m := make(map[string]phasor.JSON)
		for _, k := range p.Conductors() {
			m[c.PhaseName(k)] = phasor.ToJSON(x[k])
		}
		return m
	}
	loading := func(r flow.Rating) *loadingJSON {
		if !r.Given {
			return nil
		}
		return &loadingJSON{r.Of, r.Limit, r.Largest, r.Loading, c.PhaseName(r.Conductor)}
	}
	toJSON := func(z complex128) complexJSON { return *toComplex(z) }
	for _, b := range c.Branches() {
		if at != "" && b.Name != at {
			continue
		}
		r := flowBranchJSON{Branch: b.Name, Kind: b.Kind, Out: b.Dead, Loading: loading(b.Rating)}
		for _, end := range b.Ends {
			r.Ends = append(r.Ends, flowEndJSON{end.Bus, phasors(end.Phases, end.Current), phasor.ToJSON(end.Earth), toJSON(end.Power)})
		}
		if !b.Dead {
			r.Loss = toComplex(b.Loss)
		}
		j.Branches = append(j.Branches, r)
	}
	q := request{doc: s.doc}
	for _, r := range c.Read() {
		if at != "" && r.Vantage.Name != at {
			continue
		}
		v := vantageJSON{Name: r.Vantage.Name, Currents: []currentJSON{}, Voltages: []voltageJSON{}}
		for _, in := range r.Currents {
			x := currentJSON{Input: in.Input.Name, Note: in.Note}
			if in.Note == "" {
				x.Primary = phasors(in.Phases, in.Primary)
				residual := phasor.ToJSON(in.Residual)
				x.Residual = &residual
				x.Secondary = q.circuits(in.Input.Sums, in.Secondary)
			}
			v.Currents = append(v.Currents, x)
		}
		for _, in := range r.Voltages {
			x := voltageJSON{Input: in.Input.Name, Note: in.Note}
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
		r := flowBusJSON{Bus: b.Name, NominalVolt: b.Nominal, NoSource: b.Phases == 0, Unearthed: b.Floating}
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
		r := flowDeviceJSON{Device: d.Name, Kind: d.Kind, Note: d.Note, Loading: loading(d.Rating)}
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
		j.TapControls = append(j.TapControls, tapControlJSON{k.Name, units, k.Fixed, k.AtLimit, k.Position, k.Steps, k.Measured, k.Middle, k.Band})
	}
	b := c.Balance()
	j.Power = &powerBalanceJSON{toJSON(b.Sources), toJSON(b.Machines), toJSON(b.Loads), toJSON(b.Shunts), toJSON(b.Losses)}
	return j
}
