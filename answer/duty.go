package answer

import (
	"math"
	"math/cmplx"

	"feederwright/duty"
	"feederwright/finding"
	"feederwright/review"
	"feederwright/study"
	"feederwright/working"
)

// Duty is the output of duty --format json. Keys only grow; each is
// described in docs/json.md.
type Duty struct {
	Study       string            `json:"study"`
	Practice    string            `json:"practice"`
	Smallest    bool              `json:"smallest,omitempty"`
	Conditions  []string          `json:"conditions"`
	Faults      []DutyFault       `json:"faults"`
	Devices     []DeviceDuty      `json:"devices"`
	Findings    []finding.Finding `json:"findings"`
	Assumptions []Assumption      `json:"assumptions"`
	Defaults    []string          `json:"defaults"`
}

type DutyFault struct {
	Place         string         `json:"place"`
	Kind          string         `json:"kind"`
	Condition     string         `json:"condition"`
	Taps          string         `json:"taps"`
	Unproven      string         `json:"unproven,omitempty"`
	VoltageFactor float64        `json:"voltage_factor,omitempty"`
	LoopOhm       *Complex       `json:"loop_impedance_ohm,omitempty"`
	InitialAmpere float64        `json:"initial_ampere,omitempty"`
	LimitedAmpere float64        `json:"from_converters_ampere,omitempty"`
	XOverR        *float64       `json:"x_over_r,omitempty"`
	Kappa         float64        `json:"kappa,omitempty"`
	PeakAmpere    float64        `json:"peak_ampere,omitempty"`
	AfterSecond   float64        `json:"after_second,omitempty"`
	AfterAmpere   float64        `json:"after_ampere,omitempty"`
	DirectAmpere  float64        `json:"direct_ampere,omitempty"`
	SteadyAmpere  float64        `json:"steady_ampere,omitempty"`
	ThermalAmpere float64        `json:"thermal_ampere,omitempty"`
	ThermalSecond float64        `json:"thermal_second,omitempty"`
	LaterAmpere   float64        `json:"interrupting_ampere,omitempty"`
	LaterXOverR   *float64       `json:"interrupting_x_over_r,omitempty"`
	Remote        *float64       `json:"remote_part,omitempty"`
	Sources       []DutySource   `json:"sources,omitempty"`
	Missing       []string       `json:"missing,omitempty"`
	Working       []working.Step `json:"working,omitempty"`
}

type DutySource struct {
	Kind          string  `json:"kind"`
	Name          string  `json:"name"`
	CurrentAmpere float64 `json:"current_ampere"`
	ShareAmpere   float64 `json:"share_ampere"`
	OverRated     float64 `json:"over_rated,omitempty"`
}

type DeviceDuty struct {
	Kind         string          `json:"kind"`
	Name         string          `json:"name"`
	Rule         string          `json:"rule"`
	DutyAmpere   float64         `json:"duty_ampere"`
	RatingAmpere float64         `json:"rating_ampere,omitempty"`
	Verdict      finding.Verdict `json:"verdict"`
	Condition    string          `json:"condition"`
	Taps         string          `json:"taps"`
	Fault        string          `json:"fault"`
	Place        string          `json:"place"`
	Compared     string          `json:"compared"`
	Parallel     []string        `json:"infeeds_in_parallel,omitempty"`
	Missing      []string        `json:"missing,omitempty"`
}

// DutyOptions are the choices of an answer on duties.
type DutyOptions struct {
	Smallest bool
	After    float64 // s, for the breaking current and the d.c. part
	Working  bool
}

// DutyOf answers with duties at places and of devices.
func DutyOf(doc *study.Document, states []study.State, m duty.Method, places []review.PlaceDuty, devices []*review.DeviceDuty, defaults []string, o DutyOptions) Duty {
	out := Duty{Study: doc.Title.V, Practice: string(m.Practice), Smallest: o.Smallest, Conditions: []string{}, Faults: []DutyFault{}, Devices: []DeviceDuty{},
		Findings: []finding.Finding{}, Assumptions: AssumptionsOf(doc), Defaults: append([]string{}, defaults...)}
	for _, s := range states {
		out.Conditions = append(out.Conditions, s.Name)
	}
	for i := range places {
		out.Faults = append(out.Faults, dutyFault(&places[i], m, o.After, o.Working))
	}
	for _, d := range devices {
		f := d.Finding(m)
		out.Devices = append(out.Devices, DeviceDuty{d.Kind, d.Name, d.Rule, d.Value, d.Rating, f.Verdict, d.Condition, string(d.Taps), d.Fault, d.Place, d.How, d.Parallel, d.Missing})
		out.Findings = append(out.Findings, f)
	}
	finding.Sort(out.Findings)
	return out
}

func finite(x float64) *float64 {
	if math.IsInf(x, 0) || math.IsNaN(x) {
		return nil
	}
	return &x
}

func dutyFault(p *review.PlaceDuty, m duty.Method, after float64, work bool) DutyFault {
	f := DutyFault{Place: p.Place, Kind: p.Fault, Condition: p.Condition, Taps: string(p.Taps), Unproven: p.Unproven}
	x := p.Currents
	if x == nil {
		return f
	}
	f.VoltageFactor, f.LoopOhm, f.InitialAmpere, f.LimitedAmpere, f.XOverR, f.PeakAmpere = x.Factor, ToComplex(x.Loop), x.Initial, x.ByLimit, finite(x.XR), x.Peak
	f.ThermalAmpere, f.ThermalSecond, f.Missing = x.Thermal(m.FaultLasts), m.FaultLasts, x.Missing
	f.AfterSecond, f.AfterAmpere, f.DirectAmpere = after, x.AC(after), x.DC(after)
	if m.Practice == duty.IEC {
		f.Kappa, f.SteadyAmpere = x.Kappa, x.Steady
	} else {
		f.LaterAmpere, f.LaterXOverR, f.Remote = x.Later, finite(x.LaterXR), finite(x.Remote)
	}
	for _, s := range x.Sources {
		f.Sources = append(f.Sources, DutySource{string(s.Kind), s.Name, s.Current, cmplx.Abs(s.Share), s.Ratio})
	}
	if work {
		f.Working = DutySteps(x, m, after)
	}
	return f
}

// DutySteps are the steps behind the currents of a fault, after s from its start.
func DutySteps(x *duty.Currents, m duty.Method, after float64) []working.Step {
	steps := append(x.InitialSteps(), x.PeakSteps()...)
	if m.Practice == duty.IEC {
		steps = append(append(steps, x.BreakingSteps(after)...), x.SteadySteps()...)
	}
	return append(steps, x.ThermalSteps(m.FaultLasts)...)
}
