package evidence

import (
	"fmt"
	"math"
	"math/cmplx"

	"feederwright/fault"
	"feederwright/network"
	"feederwright/phasor"
)

// Machines, inverters and several sources at once.

func sources() []Case {
	return []Case{
		{ID: "SEQ-A-M", Title: "generator, line and motor, both as machines of a study file", Method: "synchronous machines: one that holds the network, one that follows it; study file to result",
			Source: glover + ", ch. 9, examples 9.1 to 9.5 (edition not noted) [from memory]", Publication: glover, Label: Published,
			Note: "The text has 1.05 per unit before the fault, a machine that holds a network its rated voltage: currents are multiplied by 1.05. A machine's x/r is needed and the text has no resistance: x/r is 1e9.",
			Run:  machinesA},
		{ID: "SEQ-B-M", Title: "unloaded generator as a machine of a study file", Method: "a synchronous machine alone, faults of all kinds at its terminals",
			Source: "sequence networks on the data of " + stevenson + ", 4th ed., ch. 13 [from memory], recomputed outside this program", Publication: stevenson, Label: Derived, Run: machinesB},
		{ID: "INV-1", Title: "inverter beside a network: three-phase and earth faults", Method: "current-limited sources: at the limit, and supporting in proportion to the dip",
			Source: "closed forms: all reactances and the inverter's reactive current lie on one axis, so that voltages add as numbers; by hand", Label: Derived, Run: inverters},
		{ID: "MULTI-1", Title: "two sources at an angle and a motor: faults along the line between", Method: "several sources, load flow before the fault, currents from both sides and from a machine",
			Source: "superposition in sequence networks, by hand", Label: Derived, Run: severalSources},
	}
}

func machinesA(change Change) ([]Value, error) {
	c, err := openText(`
feederwright: 1
study: generator, line and motor
frequency: 60 Hz
supply: {}
buses:
  1:  { voltage: 13.8 kV }
  H1: { voltage: 138 kV }
  H2: { voltage: 138 kV }
  2:  { voltage: 13.8 kV }
transformers:
  T1: { from: 1, to: H1, group: Dyn1, rating: 100 MVA, voltages: 13.8/138 kV, impedance: 10 %, zero-sequence: 10 %, x/r: 1000000000, neutral: solid }
  T2: { from: H2, to: 2, group: YNd11, rating: 100 MVA, voltages: 138/13.8 kV, impedance: 10 %, zero-sequence: 10 %, x/r: 1000000000, neutral: solid }
lines:
  line: { from: H1, to: H2, z1: j20 ohm, z0: j60 ohm }
synchronous machines:
  G: { at: 1, rating: 100 MVA, subtransient: 15 %, negative: 17 %, zero: 5 %, x/r: 1000000000, neutral: solid }
  M: { at: 2, rating: 100 MVA, subtransient: 20 %, negative: 21 %, zero: 10 %, x/r: 1000000000, neutral: j0.09522 ohm }
`, change)
	if err != nil {
		return nil, err
	}
	const base, prefault = 100e6 / (1.7320508075688772 * 13.8e3), 1.05
	p, err := c.ParsePlace("2")
	if err != nil {
		return nil, err
	}
	var values []Value
	err = faultsAt(c.Solver, p.Place.Bus, func(k string, r *fault.Result) {
		// The bus's voltage before the fault stands at an angle by the transformers' groups.
		turn := c.PrefaultVoltage(p.Place.Bus, 0)
		turn /= complex(cmplx.Abs(turn), 0)
		i0, i1, _ := c.Net.Rotation.Sequence([3]complex128(r.I[:3]))
		pu := func(i complex128) complex128 { return i / turn * complex(prefault/base, 0) }
		switch k {
		case "3ph":
			values = append(values, print("three-phase, Ia", "-7.558", imag(pu(r.I[0])), "per unit"))
		case "lg:A":
			values = append(values, print("line-to-earth, Ia", "24.65", cmplx.Abs(r.I[0])*prefault/1e3, "kA"))
		case "ll:BC":
			values = append(values, print("line-to-line, Ib", "-6.391", real(pu(r.I[1])), "per unit"))
		case "ll-g:BC":
			values = append(values, print("two-line-to-earth, I1", "-4.5464", imag(pu(i1)), "per unit"), print("two-line-to-earth, I0", "1.673", imag(pu(i0)), "per unit"),
				print("two-line-to-earth, neutral current", "21.00", cmplx.Abs(r.Earth)*prefault/1e3, "kA"))
		}
	})
	return values, err
}

func machinesB(change Change) ([]Value, error) {
	c, err := openText(`
feederwright: 1
study: unloaded generator
frequency: 60 Hz
supply: {}
buses:
  1: { voltage: 13.8 kV }
synchronous machines:
  G: { at: 1, rating: 20 MVA, subtransient: 25 %, negative: 35 %, zero: 10 %, x/r: 1000000000, neutral: solid }
`, change)
	if err != nil {
		return nil, err
	}
	p, err := c.ParsePlace("1")
	if err != nil {
		return nil, err
	}
	var values []Value
	err = faultsAt(c.Solver, p.Place.Bus, func(k string, r *fault.Result) {
		want := map[string]string{"3ph": "3346.9581", "lg:A": "3586.0265", "ll:BC": "2415.4589", "ll-g:BC": "4021.2983"}
		values = append(values, print(k+", largest phase", want[k], r.Largest(), "A"))
		if k == "ll-g:BC" {
			values = append(values, print(k+", neutral", "5956.4508", cmplx.Abs(r.Earth), "A"))
		}
	})
	return values, err
}

// inverters: a network of 10 kV behind jX, with an inverter of 2 MVA at its
// bus B and a line of jL to F. The inverter gives nothing before the fault, and
// reactive current Q after it. With E and the voltage u of B to earth on one
// axis,
//
//	u = E + X·Q − X·I,   I = (E + X·Q)/(X + L)       three-phase at F
//
// and for an earth fault at B with Z0 = X, I = 3·(E + X·Q)/(3·X), where the
// positive-sequence voltage is 2/3 of E + X·Q.
func inverters(change Change) ([]Value, error) {
	const un, rated = 10e3, 2e6
	const x, l = 4.0, 6.0
	e, ir := un/math.Sqrt(3), rated/(math.Sqrt(3)*un)
	build := func(control string) (*fault.Case, error) {
		return openText(fmt.Sprintf(`
feederwright: 1
study: inverter at its limit
frequency: 50 Hz
supply:
  grid: { at: B, maximum: { z1: j%g ohm, z0: j%g ohm } }
buses:
  B: { voltage: 10 kV }
  F: { voltage: 10 kV }
lines:
  BF: { from: B, to: F, z1: j%g ohm, z0: j%g ohm }
inverters:
  PV: { at: B, rating: 2 MVA, output: 0 MW, %s }
`, x, x, l, l, control), change)
	}
	var values []Value
	for _, w := range []struct {
		name, control, place, kind string
		want, share                float64
	}{
		// u is 0.6·(E + X·Q): deep enough for the whole limit.
		{"at its limit, 3ph at F", "current limit: 120 %, response: reactive", "F", "3ph", (e + x*1.2*ir) / (x + l), 1.2 * ir},
		{"at its limit, lg at B", "current limit: 120 %, response: reactive", "B", "lg:A", (e + x*1.2*ir) / x, 1.2 * ir},
		// Q = k·Ir·(0.9 − u/E), u = (E + X·Q)·L/(X + L)
		{"supporting, 3ph at F", "current limit: 120 %, response: support, gain: 2", "F", "3ph", (e + x*supported(2, e, x, l, ir)) / (x + l), supported(2, e, x, l, ir)},
		// Gain 6 would give more than the limit.
		{"support limited, 3ph at F", "current limit: 120 %, response: support, gain: 6", "F", "3ph", (e + x*1.2*ir) / (x + l), 1.2 * ir},
		{"ceased, 3ph at F", "current limit: 120 %, response: reactive, ceases below: 70 %", "F", "3ph", e / (x + l), 0},
	} {
		c, err := build(w.control)
		if err != nil {
			return nil, err
		}
		r, err := faultAt(c, w.place, w.kind)
		if err != nil {
			return nil, err
		}
		if r.Unsettled != 0 || len(r.Sources) != 1 {
			return nil, fmt.Errorf("%s: not settled, or %d inverters", w.name, len(r.Sources))
		}
		// The iteration stops when no inverter's current would change by 1e-9 of rated current.
		near := Tolerance{1e-8 * w.want, "the stop of the iteration, 1e-9 of the inverter's rated current, ten times over"}
		_, i1, _ := c.Net.Rotation.Sequence(r.Sources[0].I)
		values = append(values, Value{w.name, w.want, r.Largest(), "A", near}, Value{w.name + ", inverter", w.share, cmplx.Abs(i1), "A", near})
	}
	return values, nil
}

// supported solves Q = k·Ir·(0.9 − u/E) with u = (E + X·Q)·L/(X + L).
func supported(k, e, x, l, ir float64) float64 {
	a := l / (x + l)
	return k * ir * (0.9 - a) / (1 + k*ir*x*a/e)
}

// severalSources: sources of 20 kV at both ends of a line, the second lagging
// by 10°, and a motor at the second, which follows. Before the fault a current
// flows from end to end; at a place the voltage is what both leave there.
func severalSources(change Change) ([]Value, error) {
	const un = 20e3
	z1a, z0a := 0.3+4i, 0.5+6i
	z1b, z0b := 0.6+7i, 0.9+9i
	lineZ1, lineZ0 := 2+5i, 5+16i
	zm := split(un*un/(5e6*6), 10)
	ea := complex(un/math.Sqrt(3), 0)
	eb := cmplx.Rect(un/math.Sqrt(3), -10*math.Pi/180)
	c, err := openText(fmt.Sprintf(`
feederwright: 1
study: two sources and a motor
frequency: 50 Hz
supply:
  a: { at: A, maximum: { z1: 0.3 + j4 ohm, z0: 0.5 + j6 ohm } }
  b: { at: B, angle: -10 deg, maximum: { z1: 0.6 + j7 ohm, z0: 0.9 + j9 ohm } }
buses:
  A: { voltage: 20 kV }
  B: { voltage: 20 kV }
lines:
  AB: { from: A, to: B, z1: 2 + j5 ohm, z0: 5 + j16 ohm }
induction machines:
  M: { at: B, rating: %g MVA, locked-rotor current: 6, x/r: 10 }
current transformers:
  CA: { in: AB, near: A, ratio: 400/1 A }
  CB: { in: AB, near: B, ratio: 400/1 A }
`, 5.0), change)
	if err != nil {
		return nil, err
	}
	load := (ea - eb) / (z1a + lineZ1 + z1b) // the motor carries nothing before the fault
	parallel := func(a, b complex128) complex128 { return a * b / (a + b) }
	zb := parallel(z1b, zm) // positive and negative sequence behind B; zero passes the infeed alone
	var values []Value
	for _, x := range []complex128{0.25, 0.8} {
		left1, right1 := z1a+x*lineZ1, zb+(1-x)*lineZ1
		left0, right0 := z0a+x*lineZ0, z0b+(1-x)*lineZ0
		z1, z0 := parallel(left1, right1), parallel(left0, right0)
		v := ea - load*(z1a+x*lineZ1)
		for _, k := range []struct {
			kind string
			i1   complex128 // of the fault, each sequence
			zero complex128
		}{{"3ph", v / z1, 0}, {"lg:A", v / (2*z1 + z0), v / (2*z1 + z0)}} {
			fromA1, fromB1 := k.i1*right1/(left1+right1), k.i1*left1/(left1+right1)
			wantA, wantB := load+fromA1, fromB1-load // phase A, positive sequence
			wantM := fromB1 * zb / zm
			if k.kind == "lg:A" { // the negative sequence divides as the positive does
				wantA += fromA1 + k.zero*right0/(left0+right0)
				wantB += fromB1 + k.zero*left0/(left0+right0)
				wantM *= 2
			}
			p, err := c.ParsePlace(fmt.Sprintf("AB/%g%%", real(x)*100))
			if err != nil {
				return nil, err
			}
			probe := c.Net.AtTerminal(c.Net.ElementByName(network.InductionMachine, "M"), 0)
			n := c.WatchCurrent(&probe)
			r, err := at(c.Solver, p.Place, k.kind, 0)
			if err != nil {
				return nil, err
			}
			a, err := primary(c, r, "CA")
			if err != nil {
				return nil, err
			}
			b, err := primary(c, r, "CB")
			if err != nil {
				return nil, err
			}
			for _, w := range []struct {
				what      string
				want, got complex128
			}{{"from A", wantA, a[0]}, {"from B", wantB, b[0]}, {"from the motor", wantM, -r.Current[n][0]}} {
				near := Tolerance{1e-9 * cmplx.Abs(w.want), "rounding of the network's solution, 1e-9 of the value"}
				what := fmt.Sprintf("%s at %g %%, %s", k.kind, real(x)*100, w.what)
				values = append(values, Value{what, cmplx.Abs(w.want), cmplx.Abs(w.got), "A", near},
					Value{what + ", angle", phasor.Degrees(w.want), phasor.Degrees(w.got), "°", Tolerance{1e-7, "rounding, 1e-9 of a radian in degrees"}})
			}
		}
	}
	return values, nil
}
