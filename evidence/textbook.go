package evidence

import (
	"math"
	"math/cmplx"

	"feederwright/fault"
	"feederwright/network"
)

// seqA is the network of Glover, Sarma & Overbye, chapter 9: a generator, a
// delta-wye transformer, a line, a wye-delta transformer and a motor; the
// fault is at the motor's bus. Base 100 MVA, 13.8 kV; prefault 1.05 per unit.
func seqA(change Change) (s *fault.Solver, bus int, base float64, err error) {
	const kv, mva = 13.8e3, 100e6
	z := complex(kv*kv/mva, 0)
	zh := complex(138e3*138e3/mva, 0)
	var p plant
	b1 := p.AddBus("1", abc, kv)
	h1 := p.AddBus("H1", abc, 138e3)
	h2 := p.AddBus("H2", abc, 138e3)
	b2 := p.AddBus("2", abc, kv)
	p.infeed(b1, network.InfeedData{Z1: 0.15i * z, Z2: 0.17i * z, Z0: 0.05i * z, VLL: 1.05 * kv})
	p.infeed(b2, network.InfeedData{Z1: 0.20i * z, Z2: 0.21i * z, Z0: (0.1i + 3*0.05i) * z, VLL: 1.05 * kv})
	p.transformer("T1", "Dyn1", b1, h1, network.TransformerData{VFrom: kv, VTo: 138e3, Z1: 0.1i * zh, Z0: 0.1i * zh, To: solid})
	p.transformer("T2", "YNd11", h2, b2, network.TransformerData{VFrom: 138e3, VTo: kv, Z1: 0.1i * z, Z0: 0.1i * z, From: solid})
	p.keep(p.AddLine("line", h1, h2, abc, network.BalancedMatrix(3, 20i, 60i), nil))
	s, err = p.solver(change)
	return s, b2, mva / (math.Sqrt(3) * kv), err
}

// seqB is Stevenson's unloaded generator: 20 MVA, 13.8 kV.
func seqB(change Change) (s *fault.Solver, bus int, base float64, err error) {
	const kv, mva = 13.8e3, 20e6
	z := complex(kv*kv/mva, 0)
	var p plant
	bus = p.AddBus("1", abc, kv)
	p.infeed(bus, network.InfeedData{Z1: 0.25i * z, Z2: 0.35i * z, Z0: 0.1i * z, VLL: kv})
	s, err = p.solver(change)
	return s, bus, mva / (math.Sqrt(3) * kv), err
}

// faultsAt runs the four kinds at a bus and hands each to a function.
func faultsAt(s *fault.Solver, bus int, visit func(kind string, r *fault.Result)) error {
	for _, k := range []string{"3ph", "lg:A", "ll:BC", "ll-g:BC"} {
		r, err := at(s, fault.AtBus(bus), k, 0)
		if err != nil {
			return err
		}
		visit(k, r)
	}
	return nil
}

// Works that several cases draw on.
const (
	glover    = "Glover, Sarma & Overbye, Power System Analysis and Design"
	stevenson = "Stevenson, Elements of Power System Analysis"
	kersting  = "Kersting, Distribution System Modeling and Analysis"
)

func textbook() []Case {
	const inGlover = glover + ", ch. 9, examples 9.1 to 9.5 (edition not noted) [from memory]"
	const inStevenson = stevenson + ", 4th ed., ch. 13, examples; the same in Grainger & Stevenson, Power System Analysis [from memory]"
	return []Case{
		{ID: "SEQ-A", Title: "generator, line and motor: faults at the motor bus, printed results", Method: "faults of all kinds, Z2 ≠ Z1, delta-wye transformers, several sources",
			Source: inGlover, Publication: glover, Label: Published, Run: func(change Change) ([]Value, error) {
				s, bus, base, err := seqA(change)
				if err != nil {
					return nil, err
				}
				t, err := s.At(fault.AtBus(bus))
				if err != nil {
					return nil, err
				}
				const pu = "per unit"
				ohm := 13.8e3 * 13.8e3 / 100e6
				z0, z1, z2, _, _ := s.Sequence(&t)
				values := []Value{
					print("X1 from the fault", "0.13893", imag(z1)/ohm, pu),
					print("X2 from the fault", "0.14562", imag(z2)/ohm, pu),
					print("X0 from the fault", "0.25", imag(z0)/ohm, pu),
				}
				err = faultsAt(s, bus, func(k string, r *fault.Result) {
					i0, i1, _ := s.Net.Rotation.Sequence([3]complex128(r.I[:3]))
					switch k {
					case "3ph":
						values = append(values, print("three-phase, Ia", "-7.558", imag(r.I[0])/base, pu))
					case "lg:A":
						values = append(values,
							Value{"line-to-earth, Ia", -5.8928, imag(r.I[0]) / base, pu, Tolerance{3 * within(4).Size, "the text triples a current rounded to its fourth decimal"}},
							print("line-to-earth, Ia", "24.65", cmplx.Abs(r.I[0])/1e3, "kA"))
					case "ll:BC":
						values = append(values, print("line-to-line, Ib", "-6.391", real(r.I[1])/base, pu),
							print("line-to-line, Ib", "26.74", cmplx.Abs(r.I[1])/1e3, "kA"))
					case "ll-g:BC":
						values = append(values, print("two-line-to-earth, I1", "-4.5464", imag(i1)/base, pu),
							print("two-line-to-earth, I0", "1.673", imag(i0)/base, pu),
							print("two-line-to-earth, neutral current", "21.00", cmplx.Abs(r.Earth)/1e3, "kA"))
					}
				})
				return values, err
			}},
		{ID: "SEQ-A-5", Title: "the same to five decimals: phase and sequence currents and voltages", Method: "faults of all kinds, phase and sequence values, voltages at the fault",
			Source: "sequence networks on the data of " + inGlover + ", recomputed outside this program", Publication: glover, Label: Derived, Run: func(change Change) ([]Value, error) {
				s, bus, base, err := seqA(change)
				if err != nil {
					return nil, err
				}
				return fiveDecimals(s, bus, base, 13.8e3/math.Sqrt(3), map[string]solution{
					"3ph": {i: [3]complex128{0, -7.55759i, 0},
						phases: [3]complex128{-7.55759i, -6.54507 + 3.7788i, 6.54507 + 3.7788i}},
					"lg:A": {i: [3]complex128{-1.96425i, -1.96425i, -1.96425i}, v: [3]complex128{-0.49106, 0.7771, -0.28604},
						phases: [3]complex128{-5.89275i, 0, 0}, volts: [3]float64{0, 1.1791, 1.1791}},
					"ll:BC": {i: [3]complex128{0, -3.68997i, 3.68997i}, v: [3]complex128{0, 0.53734, 0.53734},
						phases: [3]complex128{0, -6.39121, 6.39121}, volts: [3]float64{1.07468, 0.53734, 0.53734}},
					"ll-g:BC": {i: [3]complex128{1.67344i, -4.54636i, 2.87291i}, v: [3]complex128{0.41836, 0.41836, 0.41836},
						phases: [3]complex128{0, -6.42528 + 2.51016i, 6.42528 + 2.51016i}, volts: [3]float64{1.25508, 0, 0}},
				})
			}},
		{ID: "SEQ-B", Title: "unloaded generator: faults at its terminals, printed results", Method: "faults of all kinds, Z2 ≠ Z1", Source: inStevenson, Publication: stevenson, Label: Published,
			Note: "The text's amperes are recalled as 3585 and 2416; without rounding they are 3586.03 and 2415.46. Which of its steps was rounded is not known.",
			Run: func(change Change) ([]Value, error) {
				s, bus, base, err := seqB(change)
				if err != nil {
					return nil, err
				}
				// The text has its amperes from per-unit values by a base current that it prints as 837 A.
				byBase := func(pu float64) Tolerance {
					return Tolerance{0.5*pu + 0.5, "half an ampere of the base current printed as 837 A, and half of the last digit"}
				}
				values := []Value{print("base current", "837", base, "A")}
				err = faultsAt(s, bus, func(k string, r *fault.Result) {
					_, i1, _ := s.Net.Rotation.Sequence([3]complex128(r.I[:3]))
					switch k {
					case "lg:A":
						values = append(values, print("line-to-earth, Ia", "-4.29", imag(r.I[0])/base, "per unit"),
							Value{"line-to-earth, Ia", 3585, cmplx.Abs(r.I[0]), "A", byBase(4.29)})
					case "ll:BC":
						values = append(values, print("line-to-line, Ib", "2.887", cmplx.Abs(r.I[1])/base, "per unit"),
							Value{"line-to-line, Ib", 2416, cmplx.Abs(r.I[1]), "A", byBase(2.887)})
					case "ll-g:BC":
						values = append(values, print("two-line-to-earth, I1", "-3.05", imag(i1)/base, "per unit"))
					}
				})
				return values, err
			}},
		{ID: "SEQ-B-5", Title: "the same to five decimals", Method: "faults of all kinds, voltages of the healthy phases",
			Source: "sequence networks on the data of " + inStevenson + ", recomputed outside this program", Publication: stevenson, Label: Derived, Run: func(change Change) ([]Value, error) {
				s, bus, base, err := seqB(change)
				if err != nil {
					return nil, err
				}
				return fiveDecimals(s, bus, base, 13.8e3/math.Sqrt(3), map[string]solution{
					"3ph": {i: [3]complex128{0, -4i, 0},
						phases: [3]complex128{-4i, -3.4641 + 2i, 3.4641 + 2i}},
					"lg:A": {i: [3]complex128{-1.42857i, -1.42857i, -1.42857i}, v: [3]complex128{-0.14286, 0.64286, -0.5},
						phases: [3]complex128{-4.28571i, 0, 0}, volts: [3]float64{0, 1.01267, 1.01267}},
					"ll:BC": {i: [3]complex128{0, -1.66667i, 1.66667i}, v: [3]complex128{0, 0.58333, 0.58333},
						phases: [3]complex128{0, -2.88675, 2.88675}, volts: [3]float64{1.16667, 0.58333, 0.58333}},
					"ll-g:BC": {i: [3]complex128{2.37288i, -3.05085i, 0.67797i}, v: [3]complex128{0.23729, 0.23729, 0.23729},
						phases: [3]complex128{0, -3.22925 + 3.55932i, 3.22925 + 3.55932i}, volts: [3]float64{0.71186, 0, 0}},
				})
			}},
	}
}

// A solution is one fault, per unit: zero, positive and negative sequence of
// current and voltage at the fault, phase currents, magnitudes of the phase
// voltages.
type solution struct {
	i, v   [3]complex128
	phases [3]complex128
	volts  [3]float64
}

func fiveDecimals(s *fault.Solver, bus int, base, volt float64, want map[string]solution) ([]Value, error) {
	var values []Value
	complexes := func(what string, want, got complex128) {
		values = append(values, Value{what + " real", real(want), real(got), "per unit", within(5)},
			Value{what + " imaginary", imag(want), imag(got), "per unit", within(5)})
	}
	err := faultsAt(s, bus, func(k string, r *fault.Result) {
		var i, v [3]complex128
		i[0], i[1], i[2] = s.Net.Rotation.Sequence([3]complex128(r.I[:3]))
		v[0], v[1], v[2] = s.Net.Rotation.Sequence([3]complex128(r.V[:3]))
		w := want[k]
		for n := range 3 {
			complexes(k+", I"+"012"[n:n+1], w.i[n], i[n]/complex(base, 0))
			complexes(k+", V"+"012"[n:n+1], w.v[n], v[n]/complex(volt, 0))
			complexes(k+", I"+"ABC"[n:n+1], w.phases[n], r.I[n]/complex(base, 0))
			values = append(values, Value{k + ", V" + "ABC"[n:n+1], w.volts[n], cmplx.Abs(r.V[n]) / volt, "per unit", within(5)})
		}
	})
	return values, err
}
