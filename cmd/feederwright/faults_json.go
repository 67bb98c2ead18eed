package main

import (
	"errors"
	"io"
	"math"

	"feederwright/fault"
	"feederwright/phasor"
	"feederwright/quantity"
	"feederwright/review"
	"feederwright/working"
)

// faultsJSON is the output of faults --format json. Keys only grow; each is
// described in docs/json.md.
type faultsJSON struct {
	Study       string           `json:"study"`
	Conditions  []string         `json:"conditions"`
	Faults      []faultJSON      `json:"faults"`
	Covered     []coveredJSON    `json:"covered,omitempty"`
	Compound    []compoundJSON   `json:"compound,omitempty"`
	Assumptions []assumptionJSON `json:"assumptions"`
	Defaults    []string         `json:"defaults"`
}

type complexJSON struct {
	Re float64 `json:"re"`
	Im float64 `json:"im"`
}

func toComplex(z complex128) *complexJSON { return &complexJSON{real(z), imag(z)} }

type faultJSON struct {
	Condition      string                 `json:"condition"`
	Place          string                 `json:"place"`
	Kind           string                 `json:"kind"`
	ResistanceOhm  float64                `json:"resistance_ohm"`
	Unproven       string                 `json:"unproven,omitempty"`
	NoSource       bool                   `json:"no_source,omitempty"`
	CurrentAmpere  *float64               `json:"current_ampere,omitempty"`
	EarthAmpere    *phasor.JSON           `json:"earth_current_ampere,omitempty"`
	XOverR         *float64               `json:"x_over_r,omitempty"`
	LoopOhm        *complexJSON           `json:"loop_impedance_ohm,omitempty"`
	Z1Ohm          *complexJSON           `json:"z1_ohm,omitempty"`
	Z2Ohm          *complexJSON           `json:"z2_ohm,omitempty"`
	Z0Ohm          *complexJSON           `json:"z0_ohm,omitempty"`
	PhaseAmpere    map[string]phasor.JSON `json:"phase_current_ampere,omitempty"`
	SequenceAmpere map[string]phasor.JSON `json:"sequence_current_ampere,omitempty"`
	VoltageVolt    map[string]phasor.JSON `json:"voltage_to_earth_volt,omitempty"`
	Inverters      []inverterJSON         `json:"inverters,omitempty"`
	Unsettled      *float64               `json:"unsettled_of_rated,omitempty"`
	Vantages       []vantageJSON          `json:"vantages,omitempty"`
	EarthReturns   []returnJSON           `json:"earth_returns,omitempty"`
	Working        []working.Step         `json:"working,omitempty"`
}

// An inverterJSON is what an inverter gives into the network.
type inverterJSON struct {
	Name           string                 `json:"name"`
	PhaseAmpere    map[string]phasor.JSON `json:"phase_current_ampere"`
	SequenceAmpere map[string]phasor.JSON `json:"sequence_current_ampere"`
	RatedAmpere    float64                `json:"rated_current_ampere"`
}

func (q *request) invertersJSON(c *fault.Case, res *fault.Result) (list []inverterJSON, unsettled *float64) {
	for _, s := range res.Sources {
		e := &c.Net.Elements[s.Element]
		j := inverterJSON{Name: e.Name, RatedAmpere: e.Control.RatedCurrent()}
		j.PhaseAmpere, j.SequenceAmpere = q.phasors(c, quantity.PhasesABC, [4]complex128{s.I[0], s.I[1], s.I[2]})
		list = append(list, j)
	}
	if res.Unsettled > 0 {
		unsettled = &res.Unsettled
	}
	return list, unsettled
}

type returnJSON struct {
	Plant         string      `json:"plant"`
	Kind          string      `json:"kind"`
	Bus           string      `json:"bus,omitempty"`
	CurrentAmpere phasor.JSON `json:"current_ampere"`
}

type vantageJSON struct {
	Name     string        `json:"name"`
	Currents []currentJSON `json:"currents"`
	Voltages []voltageJSON `json:"voltages"`
}

type currentJSON struct {
	Input     string                 `json:"input"`
	Note      string                 `json:"note,omitempty"`
	Direction string                 `json:"direction,omitempty"`
	Primary   map[string]phasor.JSON `json:"primary_ampere,omitempty"`
	Residual  *phasor.JSON           `json:"residual_ampere,omitempty"`
	Sequence  map[string]phasor.JSON `json:"sequence_ampere,omitempty"`
	Secondary []circuitJSON          `json:"secondary_ampere,omitempty"`
}

type voltageJSON struct {
	Input     string                 `json:"input"`
	Note      string                 `json:"note,omitempty"`
	Primary   map[string]phasor.JSON `json:"primary_volt,omitempty"`
	Sequence  map[string]phasor.JSON `json:"sequence_volt,omitempty"`
	Secondary []circuitJSON          `json:"secondary_volt,omitempty"`
}

type circuitJSON struct {
	Conductors string      `json:"conductors"`
	Value      phasor.JSON `json:"value"`
}

type coveredJSON struct {
	Condition      string   `json:"condition"`
	Place          string   `json:"place"`
	ResidualAmpere float64  `json:"residual_ampere"`
	Seen           bool     `json:"seen"`
	Unlimited      bool     `json:"unlimited,omitempty"`
	ResistanceOhm  *float64 `json:"resistance_ohm,omitempty"`
	Unproven       string   `json:"unproven,omitempty"`
}

func (q *request) json(w io.Writer, places []string, o faultOptions) error {
	out := faultsJSON{Study: q.doc.Title.V, Conditions: []string{}, Faults: []faultJSON{}, Assumptions: assumptionsJSON(q.doc), Defaults: q.report.Defaults}
	if out.Defaults == nil {
		out.Defaults = []string{}
	}
	detail := o.at != ""
	for _, c := range q.report.Cases {
		out.Conditions = append(out.Conditions, c.Model.State.Name)
		if compound(o.kind) {
			j, err := q.compoundJSON(c, o)
			if err != nil {
				return err
			}
			out.Compound = append(out.Compound, j)
			continue
		}
		for _, name := range places {
			p, err := c.ParsePlace(name)
			if err != nil {
				return err
			}
			if q.residual > 0 {
				row, err := q.coveredJSON(c, p)
				if err != nil {
					return err
				}
				out.Covered = append(out.Covered, row)
				continue
			}
			t, err := c.At(p.Place)
			if errors.Is(err, fault.ErrNoSource) {
				out.Faults = append(out.Faults, faultJSON{Condition: c.Model.State.Name, Place: name, NoSource: true})
				continue
			}
			if err != nil {
				return err
			}
			kinds := q.kinds
			if kinds == nil {
				kinds = fault.All(t.Phases)
			}
			for _, k := range kinds {
				if k.Conductors()&^t.Phases != 0 {
					continue
				}
				f, err := q.faultJSON(c, p, k, &t, detail, o.working)
				if err != nil {
					return err
				}
				out.Faults = append(out.Faults, f)
			}
		}
	}
	return writeJSON(w, out)
}

func (q *request) coveredJSON(c *fault.Case, p fault.NamedPlace) (coveredJSON, error) {
	row := coveredJSON{Condition: c.Model.State.Name, Place: p.Name, ResidualAmpere: q.residual, Unproven: c.UnprovenEarth(p.Place)}
	if row.Unproven != "" {
		return row, nil
	}
	ohm, seen, err := review.Covered(c, p.Place, q.vantage, q.residual)
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

func (q *request) faultJSON(c *fault.Case, p fault.NamedPlace, k fault.Kind, t *fault.Thevenin, detail, work bool) (faultJSON, error) {
	f := faultJSON{Condition: c.Model.State.Name, Place: p.Name, Kind: k.String(), ResistanceOhm: q.resistance}
	if k.Type.NeedsZero() {
		if f.Unproven = c.UnprovenEarth(p.Place); f.Unproven != "" {
			return f, nil
		}
	}
	res, err := c.Fault(p.Place, k, q.resistance)
	if err != nil {
		return f, err
	}
	i := res.Largest()
	f.CurrentAmpere = &i
	if x := res.XR(); !math.IsInf(x, 0) {
		f.XOverR = &x
	}
	f.LoopOhm = toComplex(res.Loop)
	if z0, z1, z2, _, three := c.Sequence(t); three {
		f.Z1Ohm, f.Z2Ohm = toComplex(z1), toComplex(z2)
		if t.Part[0] < 0 && c.UnprovenEarth(p.Place) == "" {
			f.Z0Ohm = toComplex(z0)
		}
	}
	if k.Type.Earth() {
		e := phasor.ToJSON(res.Earth)
		f.EarthAmpere = &e
	}
	f.Inverters, f.Unsettled = q.invertersJSON(c, res)
	if !detail {
		f.Inverters = nil
		return f, nil
	}
	f.PhaseAmpere, f.SequenceAmpere = q.phasors(c, res.Phases, res.I)
	f.VoltageVolt, _ = q.phasors(c, res.Phases, res.V)
	for _, r := range c.Read(res) {
		if q.vantage == "" || r.Vantage.Name == q.vantage {
			f.Vantages = append(f.Vantages, q.vantageJSON(c, r))
		}
	}
	if k.Type.Earth() && res.Earth != 0 {
		v, _ := c.State(res)
		before := c.EarthReturns(c.Prefault())
		for i, r := range c.EarthReturns(v) {
			e := &c.Net.Elements[r.Element]
			row := returnJSON{Plant: e.Name, Kind: string(e.Kind), CurrentAmpere: phasor.ToJSON(r.Current - before[i].Current)}
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
func (q *request) phasors(c *fault.Case, p quantity.Phases, x [4]complex128) (phases, sequence map[string]phasor.JSON) {
	phases = map[string]phasor.JSON{}
	for _, k := range p.Conductors() {
		phases[q.names(k)] = phasor.ToJSON(x[k])
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

func (q *request) vantageJSON(c *fault.Case, r fault.Reading) vantageJSON {
	v := vantageJSON{Name: r.Vantage.Name, Currents: []currentJSON{}, Voltages: []voltageJSON{}}
	for _, cur := range r.Currents {
		j := currentJSON{Input: cur.Input.Name, Note: cur.Note, Direction: cur.Direction}
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
		j := voltageJSON{Input: u.Input.Name, Note: u.Note}
		if u.Note == "" {
			j.Primary, j.Sequence = q.phasors(c, u.Phases, u.Primary)
			j.Secondary = q.circuits(u.Input.Sums, u.Secondary)
		}
		v.Voltages = append(v.Voltages, j)
	}
	return v
}

func (q *request) circuits(sums []quantity.SignedSum, values []complex128) []circuitJSON {
	var list []circuitJSON
	for i, s := range sums {
		list = append(list, circuitJSON{q.sumName(s), phasor.ToJSON(values[i])})
	}
	return list
}
