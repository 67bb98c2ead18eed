package main

import (
	"errors"
	"fmt"
	"io"
	"math"
	"math/cmplx"
	"strings"

	"feederwright/fault"
	"feederwright/phasor"
)

// compound tells whether a kind means open conductors, or several things at once.
func compound(kind string) bool {
	return strings.Contains(kind, "@") || strings.HasPrefix(kind, "open")
}

// compoundParts reads --kind, and --at where the kind has no place of its own.
// It returns the case that the places are in.
func compoundParts(c *fault.Case, o faultOptions, ohm float64) (*fault.Case, []fault.Part, error) {
	text := o.kind
	switch {
	case !strings.Contains(text, "@") && o.at == "":
		return nil, nil, fmt.Errorf("--kind %s needs a place: --at LINE/40%%, --at BRANCH/BUS for the end of a branch, or --at DEVICE", o.kind)
	case !strings.Contains(text, "@"):
		text += "@" + o.at
	case o.at != "":
		return nil, nil, fmt.Errorf("--kind %s has its places; leave --at out", o.kind)
	}
	c, parts, err := c.ParseParts(text)
	if err != nil {
		return nil, nil, err
	}
	for i := range parts {
		parts[i].Resistance = ohm
	}
	return c, parts, nil
}

// unprovenPart is the datum that an earth fault among the parts lacks, or "".
func unprovenPart(c *fault.Case, parts []fault.Part) string {
	for _, p := range parts {
		place := p.Place
		if p.Break != fault.NoBreak && p.Terminal >= 0 {
			place = fault.AtBus(c.Net.Elements[p.Element].Terminals[p.Terminal].Bus)
		}
		earth := p.Break == fault.OpenFromEarthed || p.Break == fault.OpenToEarthed || p.Break == fault.NoBreak && p.Kind.Type.NeedsZero()
		if why := c.UnprovenEarth(place); earth && why != "" {
			return why
		}
	}
	return ""
}

// compoundText shows open conductors, or several things at once, in the first
// condition or in those chosen.
func (q *request) compoundText(w io.Writer, o faultOptions) error {
	cases := q.report.Cases
	if o.condition == "" && len(cases) > 1 {
		fmt.Fprint(w, fold(fmt.Sprintf("The first of %d conditions; choose with --condition.", len(cases)), "", lineWidth))
		cases = cases[:1]
	}
	for _, c := range cases {
		c, parts, err := compoundParts(c, o, q.resistance)
		if err != nil {
			return err
		}
		fmt.Fprintf(w, "\n%s%s\ncondition %s\n", o.kind, through(q.resistance), c.Model.State.Name)
		if why := unprovenPart(c, parts); why != "" {
			fmt.Fprintf(w, "unproven: the %s is not given\n", why)
			continue
		}
		res, err := c.Compound(parts)
		if errors.Is(err, fault.ErrOpenEnd) {
			fmt.Fprint(w, fold("unproven: "+err.Error()+"; write loads: counted (and charging: counted) under method", "", lineWidth))
			continue
		}
		if err != nil {
			return err
		}
		scale := largestSeen(res)
		for i, p := range res.Parts {
			fmt.Fprintln(w)
			t := table{head: []string{fmt.Sprintf("part %d: %s", i+1, p.Part), ">current A", ">angle", ">voltage to earth V", ">angle"}}
			if p.Break != fault.NoBreak {
				t.head = append(t.head, ">beyond V", ">angle", ">across V")
			}
			for k := 0; k < 4; k++ {
				if p.V[k] == 0 && p.Beyond[k] == 0 && p.I[k] == 0 {
					continue
				}
				volt := func(v complex128) complex128 { return tidy(v, 1e3) } // microvolts are rounding
				row := []string{"  " + q.names(k), ampere(cmplx.Abs(tidy(p.I[k], scale))), angle(p.I[k], scale), ampere(cmplx.Abs(volt(p.V[k]))), angle(volt(p.V[k]), 0)}
				if p.Break != fault.NoBreak {
					row = append(row, ampere(cmplx.Abs(volt(p.Beyond[k]))), angle(volt(p.Beyond[k]), 0), ampere(cmplx.Abs(volt(p.Across[k]))))
				}
				t.add(row...)
			}
			if p.Earth != 0 {
				t.add("  earth", ampere(cmplx.Abs(tidy(p.Earth, scale))), angle(p.Earth, scale))
			}
			if err := t.write(w, ""); err != nil {
				return err
			}
		}
		q.inverters(w, c, &res.Result)
		q.readings(w, c, &res.Result, scale)
		q.remarks(w, c)
	}
	writeAssumptions(w, q.doc, q.report.Defaults)
	return nil
}

// largestSeen is the largest current of the parts and of what is watched, at
// least 1 A: what is a billionth of it is rounding.
func largestSeen(res *fault.Compound) float64 {
	most := 1.0
	for _, p := range res.Parts {
		for _, i := range p.I {
			most = math.Max(most, cmplx.Abs(i))
		}
	}
	for _, w := range res.Current {
		for _, i := range w {
			most = math.Max(most, cmplx.Abs(i))
		}
	}
	return most
}

// A compoundJSON is open conductors, or several things at once, in one
// condition.
type compoundJSON struct {
	Condition string         `json:"condition"`
	Kind      string         `json:"kind"`
	Unproven  string         `json:"unproven,omitempty"`
	Parts     []partJSON     `json:"parts"`
	Inverters []inverterJSON `json:"inverters,omitempty"`
	Unsettled *float64       `json:"unsettled_of_rated,omitempty"`
	Vantages  []vantageJSON  `json:"vantages"`
}

type partJSON struct {
	Kind          string                 `json:"kind"`
	ResistanceOhm float64                `json:"resistance_ohm"`
	PhaseAmpere   map[string]phasor.JSON `json:"phase_current_ampere"`
	EarthAmpere   phasor.JSON            `json:"earth_current_ampere"`
	VoltageVolt   map[string]phasor.JSON `json:"voltage_to_earth_volt"`
	BeyondVolt    map[string]phasor.JSON `json:"voltage_beyond_volt,omitempty"`
}

func (q *request) compoundJSON(c *fault.Case, o faultOptions) (compoundJSON, error) {
	out := compoundJSON{Condition: c.Model.State.Name, Kind: o.kind, Parts: []partJSON{}, Vantages: []vantageJSON{}}
	c, parts, err := compoundParts(c, o, q.resistance)
	if err != nil {
		return out, err
	}
	if out.Unproven = unprovenPart(c, parts); out.Unproven != "" {
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
		j := partJSON{Kind: p.Part.String(), ResistanceOhm: p.Resistance, PhaseAmpere: map[string]phasor.JSON{}, VoltageVolt: map[string]phasor.JSON{}, EarthAmpere: phasor.ToJSON(p.Earth)}
		if p.Break != fault.NoBreak {
			j.BeyondVolt = map[string]phasor.JSON{}
		}
		for k := 0; k < 4; k++ {
			if p.V[k] == 0 && p.Beyond[k] == 0 && p.I[k] == 0 {
				continue
			}
			j.PhaseAmpere[q.names(k)] = phasor.ToJSON(p.I[k])
			j.VoltageVolt[q.names(k)] = phasor.ToJSON(p.V[k])
			if j.BeyondVolt != nil {
				j.BeyondVolt[q.names(k)] = phasor.ToJSON(p.Beyond[k])
			}
		}
		out.Parts = append(out.Parts, j)
	}
	out.Inverters, out.Unsettled = q.invertersJSON(c, &res.Result)
	for _, r := range c.Read(&res.Result) {
		if q.vantage == "" || r.Vantage.Name == q.vantage {
			out.Vantages = append(out.Vantages, q.vantageJSON(c, r))
		}
	}
	return out, nil
}
