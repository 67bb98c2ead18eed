package evidence

import (
	"fmt"
	"math"
	"math/cmplx"
	"math/rand"

	"feederwright/fault"
	"feederwright/network"
	"feederwright/phasor"
)

// practice: the closed forms of the standard's initial currents.
func practice() []Case {
	return []Case{{ID: "IEC-I", Title: "initial symmetrical currents from Z1, Z2 and Z0", Method: "faults of all kinds against closed forms, 20 random sets of impedances",
		Source: "IEC 60909-0:2016, clause on initial short-circuit currents, equations for k3, k2, k1, k2E [from memory]", Publication: "IEC 60909-0", Label: Derived,
		Note: "The formulas only; the standard's correction factors and duties are a later part.",
		Run: func(change Change) ([]Value, error) {
			r := rand.New(rand.NewSource(60909))
			z := func(r *rand.Rand) complex128 { return complex(0.1+r.Float64(), 0.2+3*r.Float64()) }
			var values []Value
			for n := 0; n < 20; n++ {
				z1, z2, z0 := z(r), z(r), z(r)
				const un, c = 10e3, 1.1
				var p plant
				bus := p.AddBus("B", abc, un)
				p.infeed(bus, network.InfeedData{Z1: z1, Z2: z2, Z0: z0, VLL: c * un})
				s, err := p.solver(change)
				if err != nil {
					return nil, err
				}
				den := z1*z2 + z1*z0 + z2*z0
				a := phasor.A
				for _, w := range []struct {
					kind string
					what string
					want float64
					get  func(*fault.Result) float64
				}{
					{"3ph", "I\"k3", c * un / (math.Sqrt(3) * cmplx.Abs(z1)), (*fault.Result).Largest},
					{"ll:BC", "I\"k2", c * un / cmplx.Abs(z1+z2), (*fault.Result).Largest},
					{"lg:A", "I\"k1", math.Sqrt(3) * c * un / cmplx.Abs(z1+z2+z0), (*fault.Result).Largest},
					{"ll-g:BC", "I\"kE2E", math.Sqrt(3) * c * un * cmplx.Abs(z2/den), func(r *fault.Result) float64 { return cmplx.Abs(r.Earth) }},
					{"ll-g:BC", "I\"k2EL2", c * un * cmplx.Abs((z0-a*z2)/den), func(r *fault.Result) float64 { return cmplx.Abs(r.I[1]) }},
					{"ll-g:BC", "I\"k2EL3", c * un * cmplx.Abs((z0-a*a*z2)/den), func(r *fault.Result) float64 { return cmplx.Abs(r.I[2]) }},
				} {
					res, err := at(s, fault.AtBus(bus), w.kind, 0)
					if err != nil {
						return nil, err
					}
					values = append(values, Value{fmt.Sprintf("set %d, %s", n+1, w.what), w.want, w.get(res), "A", Tolerance{1e-9 * w.want, "rounding of the network's solution, 1e-9 of the value"}})
				}
			}
			return values, nil
		}}}
}
