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
func seqA() (s *fault.Solver, bus int, base float64, err error) {
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
	s, err = p.solver()
	return s, b2, mva / (math.Sqrt(3) * kv), err
}

// seqB is Stevenson's unloaded generator: 20 MVA, 13.8 kV.
func seqB() (s *fault.Solver, bus int, base float64, err error) {
	const kv, mva = 13.8e3, 20e6
	z := complex(kv*kv/mva, 0)
	var p plant
	bus = p.AddBus("1", abc, kv)
	p.infeed(bus, network.InfeedData{Z1: 0.25i * z, Z2: 0.35i * z, Z0: 0.1i * z, VLL: kv})
	s, err = p.solver()
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

func textbook() []Case {
	const glover = "Glover, Sarma & Overbye, Power System Analysis and Design, ch. 9, examples 9.1 to 9.5 [from memory]"
	const stevenson = "Stevenson, Elements of Power System Analysis, 4th ed., ch. 13 examples [from memory]"
	return []Case{
		{ID: "SEQ-A", Title: "generator, line and motor: faults at the motor bus, printed results", Method: "faults of all kinds, Z2 ≠ Z1, delta-wye transformers, several sources",
			Source: glover, Label: Published, Run: func() ([]Value, error) {
				s, bus, base, err := seqA()
				if err != nil {
					return nil, failed("SEQ-A", err)
				}
				t, err := s.At(fault.AtBus(bus))
				if err != nil {
					return nil, err
				}
				ohm := 13.8e3 * 13.8e3 / 100e6
				z0, z1, z2, _, _ := s.Sequence(&t)
				values := []Value{
					{"X1 from the fault", 0.13893, imag(z1) / ohm, "per unit", within(5)},
					{"X2 from the fault", 0.14562, imag(z2) / ohm, "per unit", within(5)},
					{"X0 from the fault", 0.25, imag(z0) / ohm, "per unit", within(2)},
				}
				err = faultsAt(s, bus, func(k string, r *fault.Result) {
					i0, i1, _ := s.Net.Rotation.Sequence([3]complex128(r.I[:3]))
					switch k {
					case "3ph":
						values = append(values, Value{"three-phase, Ia", -7.558, imag(r.I[0]) / base, "per unit", within(3)})
					case "lg:A":
						values = append(values, Value{"line-to-earth, Ia", -5.8928, imag(r.I[0]) / base, "per unit", 3 * within(4)}, // the text triples a rounded I0
							Value{"line-to-earth, Ia", 24.65, cmplx.Abs(r.I[0]) / 1e3, "kA", within(2)})
					case "ll:BC":
						values = append(values, Value{"line-to-line, Ib", -6.391, real(r.I[1]) / base, "per unit", within(3)})
					case "ll-g:BC":
						values = append(values, Value{"two-line-to-earth, I1", -4.5464, imag(i1) / base, "per unit", within(4)},
							Value{"two-line-to-earth, I0", 1.673, imag(i0) / base, "per unit", within(3)},
							Value{"two-line-to-earth, neutral current", 21.00, cmplx.Abs(r.Earth) / 1e3, "kA", within(2)})
					}
				})
				return values, err
			}},
		{ID: "SEQ-A-5", Title: "the same to five decimals: phase and sequence currents and voltages", Method: "faults of all kinds, phase and sequence values, voltages at the fault",
			Source: "sequence networks of " + glover + ", recomputed outside this program", Label: Derived, Run: func() ([]Value, error) {
				s, bus, base, err := seqA()
				if err != nil {
					return nil, err
				}
				return fiveDecimals(s, bus, base, 13.8e3/math.Sqrt(3), map[string]sequenceResult{
					"3ph":     {[3]complex128{0, -7.55759i, 0}, [3]complex128{}},
					"lg:A":    {[3]complex128{-1.96425i, -1.96425i, -1.96425i}, [3]complex128{-0.49106, 0.7771, -0.28604}},
					"ll:BC":   {[3]complex128{0, -3.68997i, 3.68997i}, [3]complex128{0, 0.53734, 0.53734}},
					"ll-g:BC": {[3]complex128{1.67344i, -4.54636i, 2.87291i}, [3]complex128{0.41836, 0.41836, 0.41836}},
				})
			}},
		{ID: "SEQ-B", Title: "unloaded generator: faults at its terminals, printed results", Method: "faults of all kinds, Z2 ≠ Z1", Source: stevenson, Label: Published,
			Note: "The text rounds the base current to 837 A, so its 3585 A stands for 3586.0 A, and 2416 A for 2415.5 A.",
			Run: func() ([]Value, error) {
				s, bus, base, err := seqB()
				if err != nil {
					return nil, err
				}
				values := []Value{{"base current", 837, base, "A", within(0)}}
				err = faultsAt(s, bus, func(k string, r *fault.Result) {
					_, i1, _ := s.Net.Rotation.Sequence([3]complex128(r.I[:3]))
					switch k {
					case "lg:A":
						values = append(values, Value{"line-to-earth, Ia", -4.29, imag(r.I[0]) / base, "per unit", within(2)},
							Value{"line-to-earth, Ia", 3585, cmplx.Abs(r.I[0]) / base * 836.6, "A on the text's base", 1})
					case "ll:BC":
						values = append(values, Value{"line-to-line, Ib", 2.887, cmplx.Abs(r.I[1]) / base, "per unit", within(3)})
					case "ll-g:BC":
						values = append(values, Value{"two-line-to-earth, I1", -3.05, imag(i1) / base, "per unit", within(2)})
					}
				})
				return values, err
			}},
		{ID: "SEQ-B-5", Title: "the same to five decimals", Method: "faults of all kinds, voltages of the healthy phases",
			Source: "sequence networks of " + stevenson + ", recomputed outside this program", Label: Derived, Run: func() ([]Value, error) {
				s, bus, base, err := seqB()
				if err != nil {
					return nil, err
				}
				return fiveDecimals(s, bus, base, 13.8e3/math.Sqrt(3), map[string]sequenceResult{
					"3ph":     {[3]complex128{0, -4i, 0}, [3]complex128{}},
					"lg:A":    {[3]complex128{-1.42857i, -1.42857i, -1.42857i}, [3]complex128{-0.14286, 0.64286, -0.5}},
					"ll:BC":   {[3]complex128{0, -1.66667i, 1.66667i}, [3]complex128{0, 0.58333, 0.58333}},
					"ll-g:BC": {[3]complex128{2.37288i, -3.05085i, 0.67797i}, [3]complex128{0.23729, 0.23729, 0.23729}},
				})
			}},
	}
}

// A sequenceResult is zero, positive and negative sequence of current and
// voltage at the fault, per unit.
type sequenceResult struct{ i, v [3]complex128 }

func fiveDecimals(s *fault.Solver, bus int, base, volt float64, want map[string]sequenceResult) ([]Value, error) {
	var values []Value
	names := [3]string{"0", "1", "2"}
	err := faultsAt(s, bus, func(k string, r *fault.Result) {
		var i, v [3]complex128
		i[0], i[1], i[2] = s.Net.Rotation.Sequence([3]complex128(r.I[:3]))
		v[0], v[1], v[2] = s.Net.Rotation.Sequence([3]complex128(r.V[:3]))
		for n := range names {
			values = append(values,
				Value{k + ", I" + names[n] + " real", real(want[k].i[n]), real(i[n]) / base, "per unit", within(5)},
				Value{k + ", I" + names[n] + " imaginary", imag(want[k].i[n]), imag(i[n]) / base, "per unit", within(5)},
				Value{k + ", V" + names[n] + " real", real(want[k].v[n]), real(v[n]) / volt, "per unit", within(5)},
				Value{k + ", V" + names[n] + " imaginary", imag(want[k].v[n]), imag(v[n]) / volt, "per unit", within(5)})
		}
	})
	return values, err
}
