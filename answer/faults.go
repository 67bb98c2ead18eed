package answer

import (
	"errors"
	"math"

	"feederwright/fault"
	"feederwright/phasor"
	"feederwright/quantity"
	"feederwright/review"
	"feederwright/study"
	"feederwright/working"
)

// A FaultQuery asks for faults in the conditions of a report.
type FaultQuery struct {
	Doc        *study.Document
	Report     *review.Report
	Kinds      []fault.Kind // nil: all that a place has
	Resistance float64      // ohm
	Residual   float64      // A: where above zero, the fault resistance up to which this 3I0 flows is asked for
	Vantage    string       // of all vantages this one alone; "": all
	Compound   string       // several faults at once, as lg:A@N3+lg:B@N5; "": single ones
	At         string       // place of a compound's parts without one of their own
	Detail     bool         // phase values, voltages, vantages and earth returns
	Working    bool
}

// Faults is the output of faults --format json. Keys only grow; each is
// described in docs/json.md.
type Faults struct {
	Study       string       `json:"study"`
	Conditions  []string     `json:"conditions"`
	Faults      []Fault      `json:"faults"`
	Covered     []Covered    `json:"covered,omitempty"`
	Compound    []Compound   `json:"compound,omitempty"`
	Assumptions []Assumption `json:"assumptions"`
	Defaults    []string     `json:"defaults"`
}

type Complex struct {
	Re float64 `json:"re"`
	Im float64 `json:"im"`
}

// ToComplex is a complex number as JSON has it.
func ToComplex(z complex128) *Complex { return &Complex{real(z), imag(z)} }

type Fault struct {
	Condition      string                 `json:"condition"`
	Place          string                 `json:"place"`
	Kind           string                 `json:"kind"`
	ResistanceOhm  float64                `json:"resistance_ohm"`
	Unproven       string                 `json:"unproven,omitempty"`
	NoSource       bool                   `json:"no_source,omitempty"`
	CurrentAmpere  *float64               `json:"current_ampere,omitempty"`
	EarthAmpere    *phasor.JSON           `json:"earth_current_ampere,omitempty"`
	XOverR         *float64               `json:"x_over_r,omitempty"`
	LoopOhm        *Complex               `json:"loop_impedance_ohm,omitempty"`
	Z1Ohm          *Complex               `json:"z1_ohm,omitempty"`
	Z2Ohm          *Complex               `json:"z2_ohm,omitempty"`
	Z0Ohm          *Complex               `json:"z0_ohm,omitempty"`
	PhaseAmpere    map[string]phasor.JSON `json:"phase_current_ampere,omitempty"`
	SequenceAmpere map[string]phasor.JSON `json:"sequence_current_ampere,omitempty"`
	VoltageVolt    map[string]phasor.JSON `json:"voltage_to_earth_volt,omitempty"`
	Inverters      []Inverter             `json:"inverters,omitempty"`
	Unsettled      *float64               `json:"unsettled_of_rated,omitempty"`
	Vantages       []Vantage              `json:"vantages,omitempty"`
	EarthReturns   []EarthReturn          `json:"earth_returns,omitempty"`
	Working        []working.Step         `json:"working,omitempty"`
}

// An Inverter is what an inverter gives into the network.
type Inverter struct {
	Name           string                 `json:"name"`
	PhaseAmpere    map[string]phasor.JSON `json:"phase_current_ampere"`
	SequenceAmpere map[string]phasor.JSON `json:"sequence_current_ampere"`
	RatedAmpere    float64                `json:"rated_current_ampere"`
}

func (q *FaultQuery) inverters(c *fault.Case, res *fault.Result) (list []Inverter, unsettled *float64) {
	for _, s := range res.Sources {
		e := &c.Net.Elements[s.Element]
		j := Inverter{Name: e.Name, RatedAmpere: e.Control.RatedCurrent()}
		j.PhaseAmpere, j.SequenceAmpere = q.phasors(c, quantity.PhasesABC, [4]complex128{s.I[0], s.I[1], s.I[2]})
		list = append(list, j)
	}
	if res.Unsettled > 0 {
		unsettled = &res.Unsettled
	}
	return list, unsettled
}

type EarthReturn struct {
	Plant         string      `json:"plant"`
	Kind          string      `json:"kind"`
	Bus           string      `json:"bus,omitempty"`
	CurrentAmpere phasor.JSON `json:"current_ampere"`
}

type Vantage struct {
	Name     string    `json:"name"`
	Currents []Current `json:"currents"`
	Voltages []Voltage `json:"voltages"`
}

type Current struct {
	Input     string                 `json:"input"`
	Note      string                 `json:"note,omitempty"`
	Direction string                 `json:"direction,omitempty"`
	Primary   map[string]phasor.JSON `json:"primary_ampere,omitempty"`
	Residual  *phasor.JSON           `json:"residual_ampere,omitempty"`
	Sequence  map[string]phasor.JSON `json:"sequence_ampere,omitempty"`
	Secondary []Circuit              `json:"secondary_ampere,omitempty"`
}

type Voltage struct {
	Input     string                 `json:"input"`
	Note      string                 `json:"note,omitempty"`
	Primary   map[string]phasor.JSON `json:"primary_volt,omitempty"`
	Sequence  map[string]phasor.JSON `json:"sequence_volt,omitempty"`
	Secondary []Circuit              `json:"secondary_volt,omitempty"`
}

type Circuit struct {
	Conductors string      `json:"conductors"`
	Value      phasor.JSON `json:"value"`
}

type Covered struct {
	Condition      string   `json:"condition"`
	Place          string   `json:"place"`
	ResidualAmpere float64  `json:"residual_ampere"`
	Seen           bool     `json:"seen"`
	Unlimited      bool     `json:"unlimited,omitempty"`
	ResistanceOhm  *float64 `json:"resistance_ohm,omitempty"`
	Unproven       string   `json:"unproven,omitempty"`
}

// Faults answers for places, by the names that fault.Case.ParsePlace takes; for a compound of faults places don't count.
func (q *FaultQuery) Faults(places []string) (Faults, error) {
	out := Faults{Study: q.Doc.Title.V, Conditions: []string{}, Faults: []Fault{}, Assumptions: AssumptionsOf(q.Doc), Defaults: q.Report.Defaults}
	if out.Defaults == nil {
		out.Defaults = []string{}
	}
	detail := q.Detail
	for _, c := range q.Report.Cases {
		out.Conditions = append(out.Conditions, c.Model.State.Name)
		if q.Compound != "" {
			j, err := q.compound(c)
			if err != nil {
				return out, err
			}
			out.Compound = append(out.Compound, j)
			continue
		}
		for _, name := range places {
			p, err := c.ParsePlace(name)
			if err != nil {
				return out, err
			}
			if q.Residual > 0 {
				row, err := q.covered(c, p)
				if err != nil {
					return out, err
				}
				out.Covered = append(out.Covered, row)
				continue
			}
			t, err := c.At(p.Place)
			if errors.Is(err, fault.ErrNoSource) {
				out.Faults = append(out.Faults, Fault{Condition: c.Model.State.Name, Place: name, NoSource: true})
				continue
			}
			if err != nil {
				return out, err
			}
			kinds := q.Kinds
			if kinds == nil {
				kinds = fault.All(t.Phases)
			}
			for _, k := range kinds {
				if k.Conductors()&^t.Phases != 0 {
					continue
				}
				f, err := q.fault(c, p, k, &t, detail, q.Working)
				if err != nil {
					return out, err
				}
				out.Faults = append(out.Faults, f)
			}
		}
	}
	return out, nil
}

func (q *FaultQuery) covered(c *fault.Case, p fault.NamedPlace) (Covered, error) {
	row := Covered{Condition: c.Model.State.Name, Place: p.Name, ResidualAmpere: q.Residual, Unproven: c.UnprovenEarth(p.Place)}
	if row.Unproven != "" {
		return row, nil
	}
	ohm, seen, err := review.Covered(c, p.Place, q.Vantage, q.Residual)
	if err != nil && !errors.Is(err, fault.ErrNoSource) {
		return row, err
	}
	row.Seen = seen
	if seen && math.IsInf(ohm, 1) {
		row.Unlimited = true
	} else if seen {
		row.ResistanceOhm = &ohm
	}
	return row, nil
}

func (q *FaultQuery) fault(c *fault.Case, p fault.NamedPlace, k fault.Kind, t *fault.Thevenin, detail, work bool) (Fault, error) {
	f := Fault{Condition: c.Model.State.Name, Place: p.Name, Kind: k.String(), ResistanceOhm: q.Resistance}
	if k.Type.NeedsZero() {
		if f.Unproven = c.UnprovenEarth(p.Place); f.Unproven != "" {
			return f, nil
		}
	}
	res, err := c.Fault(p.Place, k, q.Resistance)
	if err != nil {
		return f, err
	}
	i := res.Largest()
	f.CurrentAmpere = &i
	if x := res.XR(); !math.IsInf(x, 0) {
		f.XOverR = &x
	}
	f.LoopOhm = ToComplex(res.Loop)
	if z0, z1, z2, _, three := c.Sequence(t); three {
		f.Z1Ohm, f.Z2Ohm = ToComplex(z1), ToComplex(z2)
		if t.Part[0] < 0 && c.UnprovenEarth(p.Place) == "" {
			f.Z0Ohm = ToComplex(z0)
		}
	}
	if k.Type.Earth() {
		e := phasor.ToJSON(res.Earth)
		f.EarthAmpere = &e
	}
	f.Inverters, f.Unsettled = q.inverters(c, res)
	if !detail {
		f.Inverters = nil
		return f, nil
	}
	f.PhaseAmpere, f.SequenceAmpere = q.phasors(c, res.Phases, res.I)
	f.VoltageVolt, _ = q.phasors(c, res.Phases, res.V)
	for _, r := range c.Read(res) {
		if q.Vantage == "" || r.Vantage.Name == q.Vantage {
			f.Vantages = append(f.Vantages, q.view(c, r))
		}
	}
	if k.Type.Earth() && res.Earth != 0 {
		v, _ := c.State(res)
		before := c.EarthReturns(c.Prefault())
		for i, r := range c.EarthReturns(v) {
			e := &c.Net.Elements[r.Element]
			row := EarthReturn{Plant: e.Name, Kind: string(e.Kind), CurrentAmpere: phasor.ToJSON(r.Current - before[i].Current)}
			if row.CurrentAmpere.Magnitude <= 1e-9*res.Largest() {
				continue
			}
			if branch, ok := c.Doc.Branch(e.Name); r.Terminal >= 0 && ok && branch.Kind == string(e.Kind) {
				row.Bus = string(branch.Ends[r.Terminal].V)
			} else if r.Terminal >= 0 {
				row.Bus = c.Net.Buses[e.Terminals[r.Terminal].Bus].Name
			}
			f.EarthReturns = append(f.EarthReturns, row)
		}
	}
	if work {
		if f.Working, err = c.Working(res); err != nil {
			return f, err
		}
	}
	return f, nil
}

// phasors gives phase and sequence values under the study's phase names.
func (q *FaultQuery) phasors(c *fault.Case, p quantity.Phases, x [4]complex128) (phases, sequence map[string]phasor.JSON) {
	phases = map[string]phasor.JSON{}
	for _, k := range p.Conductors() {
		phases[fault.PhaseName(q.Doc, k)] = phasor.ToJSON(x[k])
	}
	if p&7 == 7 {
		zero, positive, negative := c.Net.Rotation.Sequence([3]complex128(x[:3]))
		sequence = sequenceJSON(zero, positive, negative)
	}
	return phases, sequence
}

func sequenceJSON(zero, positive, negative complex128) map[string]phasor.JSON {
	return map[string]phasor.JSON{"zero": phasor.ToJSON(zero), "positive": phasor.ToJSON(positive), "negative": phasor.ToJSON(negative)}
}

func (q *FaultQuery) view(c *fault.Case, r fault.Reading) Vantage {
	v := Vantage{Name: r.Vantage.Name, Currents: []Current{}, Voltages: []Voltage{}}
	for _, cur := range r.Currents {
		j := Current{Input: cur.Input.Name, Note: cur.Note, Direction: cur.Direction}
		if cur.Note == "" {
			residual := phasor.ToJSON(cur.Residual)
			j.Residual = &residual
			j.Secondary = q.circuits(cur.Input.Sums, cur.Secondary)
			if !cur.Input.Neutral {
				j.Primary, j.Sequence = q.phasors(c, cur.Phases, cur.Primary)
			}
		}
		v.Currents = append(v.Currents, j)
	}
	for _, u := range r.Voltages {
		j := Voltage{Input: u.Input.Name, Note: u.Note}
		if u.Note == "" {
			j.Primary, j.Sequence = q.phasors(c, u.Phases, u.Primary)
			j.Secondary = q.circuits(u.Input.Sums, u.Secondary)
		}
		v.Voltages = append(v.Voltages, j)
	}
	return v
}

func (q *FaultQuery) circuits(sums []quantity.SignedSum, values []complex128) []Circuit {
	var list []Circuit
	for i, s := range sums {
		list = append(list, Circuit{SumName(q.Doc, s), phasor.ToJSON(values[i])})
	}
	return list
}

// A Compound is open conductors, or several things at once, in one
// condition.
type Compound struct {
	Condition string     `json:"condition"`
	Kind      string     `json:"kind"`
	Unproven  string     `json:"unproven,omitempty"`
	Parts     []Part     `json:"parts"`
	Inverters []Inverter `json:"inverters,omitempty"`
	Unsettled *float64   `json:"unsettled_of_rated,omitempty"`
	Vantages  []Vantage  `json:"vantages"`
}

type Part struct {
	Kind          string                 `json:"kind"`
	ResistanceOhm float64                `json:"resistance_ohm"`
	PhaseAmpere   map[string]phasor.JSON `json:"phase_current_ampere"`
	EarthAmpere   phasor.JSON            `json:"earth_current_ampere"`
	VoltageVolt   map[string]phasor.JSON `json:"voltage_to_earth_volt"`
	BeyondVolt    map[string]phasor.JSON `json:"voltage_beyond_volt,omitempty"`
}

func (q *FaultQuery) compound(c *fault.Case) (Compound, error) {
	out := Compound{Condition: c.Model.State.Name, Kind: q.Compound, Parts: []Part{}, Vantages: []Vantage{}}
	c, parts, err := CompoundParts(c, q.Compound, q.At, q.Resistance)
	if err != nil {
		return out, err
	}
	if out.Unproven = UnprovenPart(c, parts); out.Unproven != "" {
		return out, nil
	}
	res, err := c.Compound(parts)
	if errors.Is(err, fault.ErrOpenEnd) {
		out.Unproven = err.Error()
		return out, nil
	}
	if err != nil {
		return out, err
	}
	for _, p := range res.Parts {
		j := Part{Kind: p.Part.String(), ResistanceOhm: p.Resistance, PhaseAmpere: map[string]phasor.JSON{}, VoltageVolt: map[string]phasor.JSON{}, EarthAmpere: phasor.ToJSON(p.Earth)}
		if p.Break != fault.NoBreak {
			j.BeyondVolt = map[string]phasor.JSON{}
		}
		for k := 0; k < 4; k++ {
			if p.V[k] == 0 && p.Beyond[k] == 0 && p.I[k] == 0 {
				continue
			}
			j.PhaseAmpere[fault.PhaseName(q.Doc, k)] = phasor.ToJSON(p.I[k])
			j.VoltageVolt[fault.PhaseName(q.Doc, k)] = phasor.ToJSON(p.V[k])
			if j.BeyondVolt != nil {
				j.BeyondVolt[fault.PhaseName(q.Doc, k)] = phasor.ToJSON(p.Beyond[k])
			}
		}
		out.Parts = append(out.Parts, j)
	}
	out.Inverters, out.Unsettled = q.inverters(c, &res.Result)
	for _, r := range c.Read(&res.Result) {
		if q.Vantage == "" || r.Vantage.Name == q.Vantage {
			out.Vantages = append(out.Vantages, q.view(c, r))
		}
	}
	return out, nil
}

// SumName writes the conductors of a secondary circuit with the study's names, those that add first: C−A.
func SumName(doc *study.Document, s quantity.SignedSum) string {
	plus, minus := "", ""
	for c, k := range s.Coefficient {
		switch {
		case k < 0:
			minus += "−" + fault.PhaseName(doc, c)
		case k > 0 && plus != "":
			plus += "+" + fault.PhaseName(doc, c)
		case k > 0:
			plus += fault.PhaseName(doc, c)
		}
	}
	return plus + minus
}
