package evidence

import (
	"fmt"
	"math"
	"math/cmplx"

	"feederwright/phasor"
)

// Two faults at once, and broken conductors.

func compounds() []Case {
	return []Case{
		{ID: "CROSS-1", Title: "earth faults of two phases on two feeders", Method: "faults at two places at once; unearthed and earthed neutral",
			Source: "mesh equations of the two faulted phases, by hand: self (2·Z1 + Z0)/3 of all that a phase passes, mutual (Z0 − Z1)/3 of what both pass; for the unearthed neutral the loop of IEC 60909-3 [from memory]",
			Label:  Derived, Run: crossCountry},
		{ID: "FALLEN-1", Title: "broken conductor, its end towards the load on earth", Method: "open conductors with one end on earth",
			Source: "three single conductors with equal sequence impedances and a wye without earth: nodal equation of its star point, by hand", Label: Derived, Run: fallen},
	}
}

// crossCountry: source and earthing at S; feeder 1 with an earth fault of A at
// its end, feeder 2 with one of B.
func crossCountry(change Change) ([]Value, error) {
	const un = 20e3
	e := complex(un/math.Sqrt(3), 0)
	ea, eb := e, e*phasor.A*phasor.A
	source, one, two := [2]complex128{0.4 + 3i}, [2]complex128{2.5 + 3.1i, 6 + 11i}, [2]complex128{4 + 4.2i, 8.5 + 15i} // Z1, Z0
	self := func(z [2]complex128) complex128 { return (2*z[0] + z[1]) / 3 }
	var values []Value
	for _, neutral := range []struct {
		name, z0 string
		z        complex128
	}{{"solid", "0.3 + j2 ohm", 0.3 + 2i}, {"40 ohm", "120.3 + j2 ohm", 120.3 + 2i}, {"unearthed", "open", 0}} {
		c, err := openText(fmt.Sprintf(`
feederwright: 1
study: two earth faults
frequency: 50 Hz
supply:
  source: { at: S, maximum: { z1: 0.4 + j3 ohm, z0: %s } }
buses:
  S: { voltage: 20 kV }
  P: { voltage: 20 kV }
  Q: { voltage: 20 kV }
lines:
  F1: { from: S, to: P, z1: 2.5 + j3.1 ohm, z0: 6 + j11 ohm }
  F2: { from: S, to: Q, z1: 4 + j4.2 ohm, z0: 8.5 + j15 ohm }
`, neutral.z0), change)
		if err != nil {
			return nil, err
		}
		c, parts, err := c.ParseParts("lg:A@P+lg:B@Q")
		if err != nil {
			return nil, err
		}
		r, err := c.Compound(parts)
		if err != nil {
			return nil, err
		}
		var ia, ib complex128
		if neutral.name == "unearthed" {
			// One loop: the source's phases A and B without its zero sequence, both feeders' phases.
			ia = (ea - eb) / (2*source[0] + self(one) + self(two))
			ib = -ia
		} else {
			source[1] = neutral.z
			a, b, m := self(source)+self(one), self(source)+self(two), (source[1]-source[0])/3
			det := a*b - m*m
			ia, ib = (ea*b-eb*m)/det, (eb*a-ea*m)/det
		}
		for k, want := range []complex128{ia, ib} {
			what := fmt.Sprintf("%s, phase %c", neutral.name, "AB"[k])
			got := r.Parts[k].I[k]
			values = append(values, Value{what, cmplx.Abs(want), cmplx.Abs(got), "A", Tolerance{1e-9 * cmplx.Abs(want), "rounding of the network's solution, 1e-9 of the value"}},
				Value{what + ", angle", phasor.Degrees(want), phasor.Degrees(got), "°", Tolerance{1e-7, "rounding, 1e-9 of a radian in degrees"}})
		}
	}
	return values, nil
}

// fallen: phase A of a line breaks at a share x of its length; the end towards
// the load lies on earth. With equal sequence impedances the conductors don't
// couple, and the load's star point, of voltage Vn, feeds the fault through the
// load's leg Zw:
//
//	(Eb − Vn)/(Zs + Zl + Zw) + (Ec − Vn)/(Zs + Zl + Zw) = Vn/(Zw + (1−x)·Zl)
func fallen(change Change) ([]Value, error) {
	const un, s, pf = 20e3, 3e6, 0.9
	zs, zl := 0.5+4i, 3+4.5i
	load := complex(un*un/s, 0) * complex(pf, math.Sqrt(1-pf*pf))
	c, err := openText(`
feederwright: 1
study: broken conductor
frequency: 50 Hz
method: { loads: counted }
supply:
  source: { at: S, maximum: { z1: 0.5 + j4 ohm, z0: 0.5 + j4 ohm } }
buses:
  S: { voltage: 20 kV }
  W: { voltage: 20 kV }
lines:
  L: { from: S, to: W, z1: 3 + j4.5 ohm, z0: 3 + j4.5 ohm }
loads:
  W: { at: W, power: 3 MVA, pf: 0.9 lag, connection: wye }
`, change)
	if err != nil {
		return nil, err
	}
	e := complex(un/math.Sqrt(3), 0)
	eb, ec := e*phasor.A*phasor.A, e*phasor.A
	var values []Value
	for _, w := range []struct {
		place string
		x     complex128 // of the line's length, from S
	}{{"L/S", 0}, {"L/30%", 0.3}} {
		left := load + (1-w.x)*zl // from the star point to earth
		through := zs + zl + load
		vn := (eb + ec) / through / (2/through + 1/left)
		want := vn / left
		c, parts, err := c.ParseParts("open-to-g:A@" + w.place)
		if err != nil {
			return nil, err
		}
		r, err := c.Compound(parts)
		if err != nil {
			return nil, err
		}
		got := r.Parts[0].I[0]
		values = append(values, Value{w.place + ", current to earth", cmplx.Abs(want), cmplx.Abs(got), "A", Tolerance{1e-9 * cmplx.Abs(want), "rounding of the network's solution, 1e-9 of the value"}},
			Value{w.place + ", its angle", phasor.Degrees(want), phasor.Degrees(got), "°", Tolerance{1e-7, "rounding, 1e-9 of a radian in degrees"}},
			Value{w.place + ", voltage across the break", cmplx.Abs(e), cmplx.Abs(r.Parts[0].Across[0]), "V", Tolerance{1e-9 * cmplx.Abs(e), "rounding of the network's solution, 1e-9 of the value"}})
	}
	return values, nil
}
