package evidence

import (
	"fmt"
	"math"
	"math/cmplx"

	"feederwright/fault"
	"feederwright/network"
	"feederwright/phasor"
)

// patterns: delta-wye current patterns through a study file.
func patterns() []Case {
	return []Case{{ID: "DYN", Title: "faults on the earthed-wye side as the delta-side lines carry them", Method: "vector groups, vantages on both sides of a transformer, study file to result",
		Source: "symmetrical components with equal Z1, Z2 and Z0: positive sequence turned by 30°, negative by −30°, zero blocked; by hand",
		Label:  Derived, Run: deltaWye}}
}

func deltaWye(change Change) ([]Value, error) {
	const (
		third = 0.5773502691896258 // 1/√3
		half  = 0.8660254037844386 // √3/2
	)
	near := Tolerance{1e-6, "the source's reactance, 1e-6 of the transformer's, makes Z1 and Z0 unequal by as much"}
	kinds := []struct {
		kind string
		wye  [3]float64 // phases A B C of the three-phase fault's current
		// On the delta side the largest current stands in a phase that the group decides.
		delta map[string][3]float64
	}{
		{"3ph", [3]float64{1, 1, 1}, map[string][3]float64{"Dyn1": {1, 1, 1}, "Dyn11": {1, 1, 1}}},
		{"lg:A", [3]float64{1, 0, 0}, map[string][3]float64{"Dyn1": {third, 0, third}, "Dyn11": {third, third, 0}}},
		{"ll:BC", [3]float64{0, half, half}, map[string][3]float64{"Dyn1": {0.5, 1, 0.5}, "Dyn11": {0.5, 0.5, 1}}},
		{"ll-g:BC", [3]float64{0, 1, 1}, map[string][3]float64{"Dyn1": {third, 1, third}, "Dyn11": {third, third, 1}}},
	}
	var values []Value
	for _, group := range []string{"Dyn1", "Dyn11"} {
		c, err := openText(fmt.Sprintf(`
feederwright: 1
study: delta-wye patterns
frequency: 60 Hz
supply:
  source: { at: H, maximum: { z1: 0.000001 + j0.0001 ohm, z0: open } }
buses:
  H: { voltage: 115 kV }
  L: { voltage: 12.47 kV }
transformers:
  T: { from: H, to: L, group: %s, rating: 10 MVA, voltages: 115/12.47 kV, impedance: 8 %%, zero-sequence: 8 %%, x/r: 20, neutral: solid }
current transformers:
  CH: { in: T, near: H, ratio: 100/5 A }
  CL: { in: T, near: L, facing: L, ratio: 1000/5 A }
`, group), change)
		if err != nil {
			return nil, err
		}
		p, err := c.ParsePlace("L")
		if err != nil {
			return nil, err
		}
		base, err := at(c.Solver, p.Place, "3ph", 0)
		if err != nil {
			return nil, err
		}
		for _, w := range kinds {
			r, err := at(c.Solver, p.Place, w.kind, 0)
			if err != nil {
				return nil, err
			}
			for _, rd := range c.Read(r) {
				for _, cur := range rd.Currents {
					scale, want, side := base.Largest(), w.wye, "wye side"
					if cur.Input.Name == "CH" {
						scale, want, side = scale*12.47/115, w.delta[group], "delta side"
					}
					for k, i := range cur.Primary[:3] {
						values = append(values, Value{fmt.Sprintf("%s, %s, %s, %c", group, w.kind, side, "ABC"[k]), want[k], cmplx.Abs(i) / scale, "of 3ph", near})
					}
				}
			}
		}
	}
	return values, nil
}

// radial: a radial overhead feeder at nine distances.
func radial() []Case {
	return []Case{{ID: "RAD-1", Title: "12.47 kV radial feeder, 0 to 8 miles", Method: "study file to fault table; places along a line; X/R; fault resistance",
		Source: "constructed; its line is the four-wire overhead line of " + kersting + ", ch. 4 [from memory]; recomputed by sequence networks outside this program", Publication: kersting, Label: Derived,
		Run: func(change Change) ([]Value, error) {
			c, err := openText(`
feederwright: 1
study: radial feeder
frequency: 60 Hz
supply:
  source: { at: H, maximum: { three-phase: 1000 MVA, x/r: 8 } }
buses:
  H: { voltage: 115 kV }
  L: { voltage: 12.47 kV }
  E: { voltage: 12.47 kV }
transformers:
  T: { from: H, to: L, group: Dyn1, rating: 10 MVA, voltages: 115/12.47 kV, impedance: 8 %, zero-sequence: 8 %, x/r: 15, neutral: solid }
lines:
  F: { from: L, to: E, z1: 0.3061 + j0.6270 ohm/mi, z0: 0.7735 + j1.9373 ohm/mi, length: 8 mi }
`, change)
			if err != nil {
				return nil, err
			}
			var values []Value
			for _, row := range []struct {
				miles                          float64
				z1, z0                         complex128
				three, ll, lg, llg, llgE, lg40 float64
				xr                             float64
			}{
				{0, 0.102038 + 1.395552i, 0.08275 + 1.241252i, 5145.197, 4455.871, 5342.842, 5260.654, 5556.253, 179.459, 13.677},
				{1, 0.408138 + 2.022552i, 0.85625 + 3.178552i, 3489.306, 3021.828, 2912.933, 3325.702, 2498.74, 177.203, 4.956},
				{2, 0.714238 + 2.649552i, 1.62975 + 5.115852i, 2623.619, 2272.121, 1989.803, 2436.198, 1602.245, 174.891, 3.71},
				{4, 1.326438 + 3.903552i, 3.17675 + 8.990452i, 1746.295, 1512.336, 1214.747, 1586.813, 931.262, 170.141, 2.943},
				{6, 1.938638 + 5.157552i, 4.72375 + 12.865052i, 1306.666, 1131.606, 873.576, 1180.203, 656.106, 165.287, 2.66},
				{8, 2.550838 + 6.411552i, 6.27075 + 16.739652i, 1043.362, 903.578, 681.89, 942.51, 506.412, 160.397, 2.514},
			} {
				p, err := c.ParsePlace(fmt.Sprintf("F/%gmi", row.miles))
				if err != nil {
					return nil, err
				}
				t, err := c.At(p.Place)
				if err != nil {
					return nil, err
				}
				z0, z1, _, _, _ := c.Sequence(&t)
				values = append(values,
					Value{fmt.Sprintf("%g mi, R1", row.miles), real(row.z1), real(z1), "ohm", within(6)},
					Value{fmt.Sprintf("%g mi, X1", row.miles), imag(row.z1), imag(z1), "ohm", within(6)},
					Value{fmt.Sprintf("%g mi, R0", row.miles), real(row.z0), real(z0), "ohm", within(6)},
					Value{fmt.Sprintf("%g mi, X0", row.miles), imag(row.z0), imag(z0), "ohm", within(6)})
				for _, k := range []struct {
					kind string
					r    float64
					want float64
				}{{"3ph", 0, row.three}, {"ll:BC", 0, row.ll}, {"lg:A", 0, row.lg}, {"lg:A", 40, row.lg40}} {
					r, err := at(c.Solver, p.Place, k.kind, k.r)
					if err != nil {
						return nil, err
					}
					values = append(values, Value{fmt.Sprintf("%g mi, %s, %g ohm", row.miles, k.kind, k.r), k.want, r.Largest(), "A", within(3)})
					if k.kind == "3ph" {
						values = append(values, Value{fmt.Sprintf("%g mi, X/R", row.miles), row.xr, r.XR(), "", within(3)})
					}
				}
				r, err := at(c.Solver, p.Place, "ll-g:BC", 0)
				if err != nil {
					return nil, err
				}
				values = append(values, Value{fmt.Sprintf("%g mi, ll-g, larger phase", row.miles), row.llg, r.Largest(), "A", within(3)},
					Value{fmt.Sprintf("%g mi, ll-g, 3I0", row.miles), row.llgE, cmplx.Abs(r.Earth), "A", within(3)})
			}
			return values, nil
		}}}
}

func earthing() []Case {
	resistor := func(z complex128, change Change) (*fault.Solver, int, error) {
		var p plant
		h := p.AddBus("H", abc, 33e3)
		l := p.AddBus("L", abc, 11e3)
		p.infeed(h, network.InfeedData{Z1: 0.484i * 9, Z2: 0.484i * 9, Open: true, VLL: 33e3})
		p.transformer("T", "Dyn11", h, l, network.TransformerData{VFrom: 33e3, VTo: 11e3, Z1: 0.605i, Z0: 0.605i,
			To: network.NeutralPoint{Exists: true, Earthed: true, Z: z}})
		s, err := p.solver(change)
		return s, l, err
	}
	return []Case{
		{ID: "EARTH-R", Title: "11 kV transformer: solid neutral, and a resistor of 6.35 ohm", Method: "neutral impedance counts three times; voltages of the healthy phases",
			Source: "symmetrical components, constructed", Label: Derived, Run: func(change Change) ([]Value, error) {
				s, l, err := resistor(0, change)
				if err != nil {
					return nil, err
				}
				r, err := at(s, fault.AtBus(l), "lg:A", 0)
				if err != nil {
					return nil, err
				}
				values := []Value{{"solid", 6846.05, r.Largest(), "A", within(2)}}
				if s, l, err = resistor(6.35, change); err != nil {
					return nil, err
				}
				if r, err = at(s, fault.AtBus(l), "lg:A", 0); err != nil {
					return nil, err
				}
				angle := phasor.Degrees(r.I[0] / s.PrefaultVoltage(l, 0))
				return append(values, Value{"through 6.35 ohm", 989.63, r.Largest(), "A", within(2)},
					Value{"its angle to the phase voltage", -8.31, angle, "°", within(2)},
					Value{"voltage of phase A", 0, cmplx.Abs(r.V[0]), "V", Tolerance{1e-6, "rounding, 1e-10 of the phase voltage"}},
					Value{"voltage of phase B", 10366.4, cmplx.Abs(r.V[1]), "V", within(1)},
					Value{"voltage of phase C", 11442.2, cmplx.Abs(r.V[2]), "V", within(1)}), nil
			}},
		{ID: "EARTH-C", Title: "unearthed 20 kV network: capacitive earth-fault current, and its tuning", Method: "earthing through capacitance alone; residuals of faulted and sound feeders; coil",
			Source: "I = √3·ω·C0·U per feeder; IEC 60909-0 on isolated neutrals [from memory]; constructed", Publication: "IEC 60909-0", Label: Derived, Run: capacitive},
		{ID: "OPEN-1", Title: "one and two conductors open between a source and an earthed-wye load", Method: "open conductors at an end of a line and inside it",
			Source: "one open: Z1 in series with Z2 parallel Z0; two open: the three in series; constructed", Label: Derived, Run: openConductors},
		{ID: "ZZ-1", Title: "zig-zag earthing transformer for 400 A on 13.8 kV", Method: "earthing transformers; three times the neutral current",
			Source: "X0 = 3·U/(√3·I), constructed", Label: Derived, Run: func(change Change) ([]Value, error) {
				var values []Value
				for _, w := range []struct {
					level string
					want  float64
					tol   Tolerance
				}{{"z1: j0.000001 ohm", 400, Tolerance{1e-4, "the source's reactance, 1e-7 of the earthing transformer's, twice over"}}, {"z1: j0.38088 ohm", 394.965, within(3)}} {
					c, err := openText(`
feederwright: 1
study: earthing transformer
frequency: 60 Hz
supply:
  source: { at: B, maximum: { `+w.level+`, z0: open } }
buses:
  B: { voltage: 13.8 kV }
earthing transformers:
  Z: { at: B, neutral current: 400 A }
`, change)
					if err != nil {
						return nil, err
					}
					p, err := c.ParsePlace("B")
					if err != nil {
						return nil, err
					}
					r, err := at(c.Solver, p.Place, "lg:C", 0)
					if err != nil {
						return nil, err
					}
					values = append(values, Value{"earth fault, source " + w.level, w.want, r.Largest(), "A", w.tol})
				}
				return values, nil
			}},
	}
}

func capacitive(change Change) ([]Value, error) {
	const u, omega = 20e3, 2 * math.Pi * 50
	farad := []float64{40 * 0.25e-6, 10 * 0.25e-6, 60 * 0.006e-6}
	// The series reactances are there to have a matrix: 1e-5 ohm beside 248 ohm
	// of capacitance moves the seventh digit.
	const series = 1e-5i
	build := func(coil float64) (*fault.Solver, []int, error) {
		var p plant
		bus := p.AddBus("B", abc, u)
		p.infeed(bus, network.InfeedData{Z1: series, Z2: series, Open: true, VLL: u})
		if coil != 0 {
			p.keep(p.AddEarthingTransformer("coil", bus, 0, complex(0, coil)))
		}
		var ends []int
		for i, f := range farad {
			end := p.AddBus(fmt.Sprint("E", i), abc, u)
			y := complex(0, omega*f)
			p.keep(p.AddLine(fmt.Sprint("F", i), bus, end, abc, network.BalancedMatrix(3, series, series), network.BalancedMatrix(3, y, y)))
			ends = append(ends, end)
		}
		s, err := p.solver(change)
		return s, ends, err
	}
	s, ends, err := build(0)
	if err != nil {
		return nil, err
	}
	var probes [3]network.Probe
	for i := range probes {
		probes[i] = s.Net.AtTerminal(s.Net.ElementByName(network.Line, fmt.Sprint("F", i)), 0)
		s.WatchCurrent(&probes[i])
	}
	r, err := at(s, fault.AtBus(ends[0]), "lg:A", 0)
	if err != nil {
		return nil, err
	}
	values := []Value{print("earth-fault current", "139.953", cmplx.Abs(r.Earth), "A")}
	rest := within(3)
	rest.Size *= 2
	rest.Why = "difference of two values, half of the last digit each"
	residual := func(i int) float64 { return cmplx.Abs(r.Current[i][0] + r.Current[i][1] + r.Current[i][2]) }
	values = append(values,
		Value{"residual of the faulted feeder", 139.953 - 108.828, residual(0), "A", rest},
		print("residual of a sound feeder", "27.207", residual(1), "A"),
		print("residual of a second sound feeder", "3.918", residual(2), "A"))
	left := func(coil float64) (complex128, error) { // per volt before the fault
		s, ends, err := build(coil)
		if err != nil {
			return 0, err
		}
		r, err := at(s, fault.AtBus(ends[0]), "lg:A", 0)
		if err != nil {
			return 0, err
		}
		return r.Earth / complex(u/math.Sqrt(3), 0), nil
	}
	tuned, err := left(82.506)
	if err != nil {
		return nil, err
	}
	values = append(values, Value{"left with a coil of 82.506 ohm", 0, cmplx.Abs(tuned) * u / math.Sqrt(3), "A",
		Tolerance{139.953 * 0.0005 / 82.506, "half of the last digit of the coil's reactance"}})
	// The current left is linear in the coil's susceptance, capacitive on one side
	// and inductive on the other: two coils well off tuning give where it is none.
	// (At full tuning itself the sound network has no single solution: it resonates.)
	const under, over = 70., 100.
	a, err := left(under)
	if err != nil {
		return nil, err
	}
	b, err := left(over)
	if err != nil {
		return nil, err
	}
	full := (imag(b) - imag(a)) / (imag(b)/under - imag(a)/over)
	return append(values, print("coil that leaves no current", "82.506", full, "ohm"),
		print("coil that leaves no current", "0.26263", full/omega, "H")), nil
}

// openConductors: 1 V behind j0.1 (zero sequence j0.3), of which half is the
// source's and half a line's, and a load of 0.9 + j0.4359 ohm.
func openConductors(change Change) ([]Value, error) {
	var p plant
	a := p.AddBus("A", abc, math.Sqrt(3))
	e := p.AddBus("E", abc, math.Sqrt(3))
	p.infeed(a, network.InfeedData{Z1: 0.05i, Z2: 0.05i, Z0: 0.15i, VLL: math.Sqrt(3)})
	line, err := p.AddLine("L", a, e, abc, network.BalancedMatrix(3, 0.05i, 0.15i), nil)
	p.keep(line, err)
	p.keep(p.AddShunt(network.Load, "Z", e, abc, network.ConnectedShunt(network.EarthedWye, 3, 1/(0.9+0.4359i))))
	s, err := p.solver(change)
	if err != nil {
		return nil, err
	}
	probe := s.Net.AtTerminal(line, 0)
	s.WatchCurrent(&probe)
	var values []Value
	for _, where := range []struct {
		name string
		part fault.Part
	}{
		{"at its end", fault.Part{Break: fault.OpenConductor, Element: line, Terminal: 0, Place: fault.Place{Line: -1}}},
		{"inside", fault.Part{Break: fault.OpenConductor, Element: -1, Terminal: -1, Place: fault.OnLine(line, 0.4)}},
	} {
		for _, w := range []struct {
			open string
			want [3]float64
			i2   float64 // of I1
		}{{"A", [3]float64{0, 0.89834, 0.97858}, 0.52749}, {"BC", [3]float64{0.92328, 0, 0}, 1}} {
			part := where.part
			if err := part.Kind.Phases.UnmarshalText([]byte(w.open)); err != nil {
				return nil, err
			}
			r, err := s.Compound([]fault.Part{part})
			if err != nil {
				return nil, err
			}
			for c, want := range w.want {
				values = append(values, Value{fmt.Sprintf("%s open %s, phase %c", w.open, where.name, "ABC"[c]), want, cmplx.Abs(r.Current[0][c]), "per unit", within(5)})
			}
			_, i1, i2 := s.Net.Rotation.Sequence([3]complex128(r.Current[0][:3]))
			values = append(values, Value{fmt.Sprintf("%s open %s, I2/I1", w.open, where.name), w.i2, cmplx.Abs(i2) / cmplx.Abs(i1), "", within(5)})
		}
	}
	return values, nil
}
