package main

import (
	"errors"
	"fmt"
	"io"
	"math"
	"math/cmplx"
	"strings"

	"feederwright/answer"
	"feederwright/fault"
)

// compound tells whether a kind means open conductors, or several things at once.
func compound(kind string) bool {
	return strings.Contains(kind, "@") || strings.HasPrefix(kind, "open")
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
		c, parts, err := answer.CompoundParts(c, o.kind, o.at, q.resistance)
		if err != nil {
			return err
		}
		fmt.Fprintf(w, "\n%s%s\ncondition %s\n", o.kind, through(q.resistance), c.Model.State.Name)
		if why := answer.UnprovenPart(c, parts); why != "" {
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
