package answer

import (
	"feederwright/profile"
	"feederwright/study"
)

// Profile is the output of profile --format json. Keys only grow; each is
// described in docs/json.md.
type Profile struct {
	Study       string         `json:"study"`
	From        string         `json:"from"`
	To          string         `json:"to"`
	Conditions  []string       `json:"conditions"`
	Without     []string       `json:"without_state_of_service,omitempty"`
	Points      []ProfilePoint `json:"points"`
	Assumptions []Assumption   `json:"assumptions"`
	Defaults    []string       `json:"defaults"`
}

type ProfilePoint struct {
	Place       string         `json:"place"`
	Over        string         `json:"over,omitempty"`
	OverKind    string         `json:"over_kind,omitempty"`
	Devices     []string       `json:"devices,omitempty"`
	Before      int            `json:"devices_before,omitempty"`
	Metre       float64        `json:"distance_metre"`
	Ohm         Complex        `json:"impedance_ohm"`
	NominalVolt float64        `json:"nominal_volt"`
	Faults      []ProfileFault `json:"faults"`
	XOverR      *float64       `json:"x_over_r,omitempty"`
	Voltage     *Band          `json:"voltage_over_nominal,omitempty"`
	Load        *Band          `json:"load_ampere,omitempty"`
}

type ProfileFault struct {
	Kind     string `json:"kind"`
	Unproven string `json:"unproven,omitempty"`
	Current  *Band  `json:"current_ampere,omitempty"`
}

type Band struct {
	Least   float64 `json:"least"`
	LeastIn string  `json:"least_in"`
	Most    float64 `json:"most"`
	MostIn  string  `json:"most_in"`
}

func toBand(b profile.Band) *Band {
	if !b.Known {
		return nil
	}
	return &Band{b.Least, b.LeastIn, b.Most, b.MostIn}
}

// ProfileOf answers with a profile.
func ProfileOf(doc *study.Document, p *profile.Profile, defaults []string) Profile {
	out := Profile{Study: doc.Title.V, From: p.From, To: p.To, Conditions: p.Conditions, Without: p.Without,
		Points: []ProfilePoint{}, Assumptions: AssumptionsOf(doc), Defaults: defaults}
	if out.Defaults == nil {
		out.Defaults = []string{}
	}
	for i := range p.Points {
		pt := &p.Points[i]
		j := ProfilePoint{Place: pt.Place, Over: pt.Branch, OverKind: pt.Kind, Devices: pt.Devices, Before: pt.Before, Metre: pt.Distance, Ohm: *ToComplex(pt.Impedance),
			NominalVolt: pt.Nominal, Faults: []ProfileFault{}, Voltage: toBand(pt.Voltage), Load: toBand(pt.Load)}
		for k, b := range pt.Faults {
			if b.Known || b.Unproven != "" {
				j.Faults = append(j.Faults, ProfileFault{p.Kinds[k], b.Unproven, toBand(b)})
			}
		}
		if pt.XR.Known {
			xr := pt.XR.V
			j.XOverR = &xr
		}
		out.Points = append(out.Points, j)
	}
	return out
}
