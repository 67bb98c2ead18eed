package element_test

import (
	"errors"
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"feederwright/curve"
	"feederwright/element"
	"feederwright/phasor"

	"pgregory.net/rapid"
)

func polar(size, degrees float64) complex128 { return phasor.Polar(size, degrees) }

const rad = math.Pi / 180

// Textbook set: a phase-to-phase fault of 1000 A has 3I2 = 1732.05 A and I2 = 577.35 A; a single-phase one 3I2 = Ia; a
// three-phase one none. Derived: symmetrical components by hand.
func TestQuantities(t *testing.T) {
	pair := element.Sight{HasCurrents: true, Currents: [3]complex128{0, 1000, -1000}}
	one := element.Sight{HasCurrents: true, Currents: [3]complex128{900, 0, 0}}
	three := element.Sight{HasCurrents: true, Currents: [3]complex128{polar(800, 0), polar(800, -120), polar(800, 120)}, Ground: polar(5, 90), HasGround: true}
	tests := []struct {
		s    element.Sight
		q    element.Quantity
		want float64
	}{
		{pair, element.Phase, 1000}, {pair, element.Residual, 0}, {pair, element.ThreeI2, 1732.05}, {pair, element.Negative, 577.35}, {pair, element.Part2, 1},
		{one, element.Residual, 900}, {one, element.ThreeI2, 900}, {one, element.Part2, 1},
		{three, element.Phase, 800}, {three, element.ThreeI2, 0}, {three, element.Residual, 0}, {three, element.Ground, 5},
	}
	for _, tt := range tests {
		if got, err := tt.q.Of(tt.s); err != nil || math.Abs(got-tt.want) > 0.005 {
			t.Errorf("%v: %.3f (%v), want %.2f", tt.q, got, err, tt.want)
		}
	}
	var missing element.Missing
	if _, err := element.Ground.Of(pair); !errors.As(err, &missing) {
		t.Errorf("earth CT: %v", err)
	}
}

// An open conductor on a feeder with balanced load of equal sequence impedances: I2/I1 is 1 for an isolated and
// 0.5 for a solidly earthed network with Z0 = Z1 = Z2. Derived by hand: I1 = E/(Z1 + Z2·Z0/(Z2 + Z0)), I2 = −I1·Z0/(Z0 + Z2).
func TestBrokenConductor(t *testing.T) {
	e := element.Overcurrent{Name: "46 broken conductor", Quantity: element.Part2, Pickup: 0.2, Timing: curve.Setting{Form: curve.Definite{}, Dial: 5}, LeastCurrent: 10}
	isolated := element.Sight{HasCurrents: true, Currents: [3]complex128{0, 100, -100}}
	if o, _ := e.Operate(isolated); o.Seconds != 5 || math.Abs(o.Value-1) > 1e-12 {
		t.Errorf("isolated: %+v", o)
	}
	a := phasor.A
	i1, i2, i0 := complex(100, 0), complex(-50, 0), complex(-50, 0)
	earthed := element.Sight{HasCurrents: true, Currents: [3]complex128{i0 + i1 + i2, i0 + a*a*i1 + a*i2, i0 + a*i1 + a*a*i2}}
	if o, _ := e.Operate(earthed); math.Abs(o.Value-0.5) > 1e-12 || o.Seconds != 5 {
		t.Errorf("earthed: %+v", o)
	}
	idle := element.Sight{HasCurrents: true, Currents: [3]complex128{0, 1, -1}}
	if o, _ := e.Operate(idle); !math.IsInf(o.Seconds, 1) || o.Why == "" {
		t.Errorf("no load: %+v", o)
	}
}

// Torque of a quadrature element, |I||V|cos(angle − characteristic): at a current lag of 0 45 60 90° the terms are
// 0.707 1.000 0.966 0.707 with 45° and 0.500 0.966 1.000 0.866 with 30°. Derived: the connection's geometry.
func TestQuadratureTorque(t *testing.T) {
	v := element.Wye(polar(7200, 0), polar(7200, -120), polar(7200, 120))
	for _, tt := range []struct{ lag, at45, at30 float64 }{{0, 0.707, 0.500}, {45, 1, 0.966}, {60, 0.966, 1}, {90, 0.707, 0.866}} {
		for angle, want := range map[float64]float64{45: tt.at45, 30: tt.at30} {
			d := element.Direction{Order: []element.Comparison{{By: element.Quadrature, Angle: angle * rad, Least: 100}}}
			s := element.Sight{HasCurrents: true, Currents: [3]complex128{polar(1000, -tt.lag), 0, 0}, Voltages: v}
			f := d.Look(element.Phase, s)
			// Margin is 90° less the distance from the characteristic angle.
			if got := math.Sin(f.Margin); f.Way != element.Forward || math.Abs(got-want) > 5.1e-4 {
				t.Errorf("lag %g°, characteristic %g°: %v, torque term %.4f, want %.3f", tt.lag, angle, f.Way, got, want)
			}
		}
	}
}

// feeder is a bus behind a source Zs with a line Zl each way; the device looks into the line. A single line-to-earth
// fault in front or behind, from the symmetrical components of the textbook, with fault resistance.
func feeder(kind string, front bool, rf float64) element.Sight {
	const e = 7200
	zs1, zs0 := complex(0.05, 0.95), complex(0.04, 0.84)
	zl1, zl0 := complex(0.9, 1.9), complex(2.3, 5.7)
	a := phasor.A
	var i0, i1, i2, v0, v1, v2 complex128
	z1, z0 := zs1, zs0
	if front {
		z1, z0 = zs1+zl1, zs0+zl0
	}
	switch kind {
	case "lg":
		i := e / (2*z1 + z0 + 3*complex(rf, 0))
		i0, i1, i2 = i, i, i
	case "ll": // B-C
		i1 = e / (2*z1 + complex(rf, 0))
		i2 = -i1
	case "3ph":
		i1 = e / (z1 + complex(rf, 0))
	}
	v0, v1, v2 = -zs0*i0, e-zs1*i1, -zs1*i2
	phases := func(z, p, n complex128) [3]complex128 {
		return [3]complex128{z + p + n, z + a*a*p + a*n, z + a*p + a*a*n}
	}
	s := element.Sight{HasCurrents: true}
	v := phases(v0, v1, v2)
	s.Voltages = element.Wye(v[0], v[1], v[2])
	s.Before = element.Wye(e, a*a*e, a*e)
	i := phases(i0, i1, i2)
	if !front { // a small part of it comes through the line towards the bus, from a like source at the far end
		for k := range i {
			i[k] *= -0.2
		}
		s.Neutral = i0 * 3
	} else {
		s.Neutral = i0 * 3
	}
	s.Currents, s.HasNeutral = i, true
	return s
}

func TestDirections(t *testing.T) {
	quad := element.Comparison{By: element.Quadrature, Angle: 45 * rad, Least: 200, Memory: true}
	negative := element.Comparison{By: element.NegativeVoltage, Angle: -60 * rad, Least: 50}
	zero := element.Comparison{By: element.ResidualVoltage, Angle: -60 * rad, Least: 100}
	neutral := element.Comparison{By: element.NeutralCurrent, Least: 5}
	tests := []struct {
		name  string
		by    element.Comparison
		q     element.Quantity
		kinds []string
	}{
		{"quadrature", quad, element.Phase, []string{"3ph", "ll", "lg"}},
		{"V2", negative, element.Phase, []string{"ll", "lg"}},
		{"V2 for 46", negative, element.ThreeI2, []string{"ll", "lg"}},
		{"3V0", zero, element.Residual, []string{"lg"}},
		{"neutral current", neutral, element.Residual, []string{"lg"}},
	}
	for _, tt := range tests {
		for _, kind := range tt.kinds {
			for _, rf := range []float64{0, 1} {
				for _, front := range []bool{true, false} {
					f := element.Direction{Order: []element.Comparison{tt.by}, Otherwise: element.Undecided}.Look(tt.q, feeder(kind, front, rf))
					want := element.Reverse
					if front {
						want = element.Forward
					}
					if f.Way != want {
						t.Errorf("%s, %s through %g ohm, in front %v: %v (margin %.0f°): %s", tt.name, kind, rf, front, f.Way, f.Margin/rad, f.Why)
					}
				}
			}
		}
	}
}

// The angle of 3I0 against −3V0, by hand: with solid earth it lags by the angle of the source's Z0; with a resistor it
// is close to 0; on an isolated network the faulted feeder's residual current is the others' capacitive current.
func TestResidualAngles(t *testing.T) {
	d := func(angle float64) element.Direction {
		return element.Direction{Order: []element.Comparison{{By: element.ResidualVoltage, Angle: angle * rad, Least: 1}}}
	}
	s := feeder("lg", true, 0)
	f := d(-60).Look(element.Residual, s)
	got := cmplx.Phase(f.Current/f.Polarising) / rad
	if want := -math.Atan2(0.84, 0.04) / rad; math.Abs(got-want) > 1e-6 {
		t.Errorf("solid earth: 3I0 leads −3V0 by %.2f°, want %.2f°", got, want)
	}
	// Isolated: 3V0 = −3E in the limit, each sound feeder draws jωC·V0·3 from the bus; through the faulted one it comes back.
	v0 := complex(-6351, 0)
	charging := complex(0, 3*2*math.Pi*50*1e-6) * v0 // of the sound feeders, bus to line
	faulted := element.Sight{HasCurrents: true, Currents: [3]complex128{-charging, 0, 0}, Voltages: element.Wye(0, 0, 3*v0)}
	sound := element.Sight{HasCurrents: true, Currents: [3]complex128{charging, 0, 0}, Voltages: faulted.Voltages}
	if f := d(90).Look(element.Residual, faulted); f.Way != element.Forward || math.Abs(f.Margin-math.Pi/2) > 1e-9 {
		t.Errorf("isolated, faulted feeder: %v, margin %.1f°", f.Way, f.Margin/rad)
	}
	if f := d(90).Look(element.Residual, sound); f.Way != element.Reverse {
		t.Errorf("isolated, sound feeder: %v", f.Way)
	}
}

// What is lost: open delta has no zero sequence; a blown fuse turns into a false 3V0 of one phase voltage.
func TestVoltageTransformersLose(t *testing.T) {
	s := feeder("lg", true, 0)
	v := s.Voltages
	s.Voltages = element.OpenDelta(v.Line[0], v.Line[1])
	zero := element.Comparison{By: element.ResidualVoltage, Angle: -60 * rad, Least: 100}
	f := element.Direction{Order: []element.Comparison{zero}, Otherwise: element.Undecided}.Look(element.Residual, s)
	if f.Way != element.Undecided || !strings.Contains(f.Why, "no zero sequence") {
		t.Errorf("open delta: %+v", f)
	}
	// Negative sequence is still there, and the same as of three units.
	want, _ := v.Negative(phasor.ABC)
	got, ok := s.Voltages.Negative(phasor.ABC)
	if !ok || cmplx.Abs(got-want) > 1e-9*cmplx.Abs(want) {
		t.Errorf("V2 of open delta %v, of three units %v", got, want)
	}
	// Blown fuse of phase A, 63.51 V: V1 42.34, V2 and V0 21.17 V. Derived by hand: a third of a phase voltage.
	blown := element.Wye(0, polar(63.51, -120), polar(63.51, 120))
	v2, _ := blown.Negative(phasor.ABC)
	if math.Abs(cmplx.Abs(v2)-21.17) > 0.005 || math.Abs(cmplx.Abs(blown.Residual)-63.51) > 0.005 {
		t.Errorf("blown fuse: V2 %.2f, 3V0 %.2f", cmplx.Abs(v2), cmplx.Abs(blown.Residual))
	}
}

// Close-in three-phase fault: no voltage is left, the memory decides; without it, what the setting says.
func TestMemory(t *testing.T) {
	s := feeder("3ph", true, 0)
	s.Voltages = element.Wye(0, 0, 0)
	d := element.Direction{Order: []element.Comparison{{By: element.Quadrature, Angle: 45 * rad, Least: 200, Memory: true}}, Otherwise: element.Undecided}
	if f := d.Look(element.Phase, s); f.Way != element.Forward || !strings.Contains(f.By, "before the fault") {
		t.Errorf("with memory: %+v", f)
	}
	d.Order[0].Memory = false
	if f := d.Look(element.Phase, s); f.Way != element.Undecided || f.Why == "" {
		t.Errorf("without: %+v", f)
	}
	d.Otherwise = element.Forward
	if f := d.Look(element.Phase, s); f.Way != element.Forward {
		t.Errorf("released: %+v", f)
	}
}

// Turning all phasors by one angle, or exchanging the phases in a circle, changes no outcome; the other rotation with
// phases B and C exchanged is the same network.
func TestRotations(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		z := func(name string, size float64) complex128 {
			return polar(size*rapid.Float64Range(0.01, 1).Draw(r, name), rapid.Float64Range(-180, 180).Draw(r, name+" angle"))
		}
		s := element.Sight{HasCurrents: true, Currents: [3]complex128{z("ia", 2000), z("ib", 2000), z("ic", 2000)}}
		v := [3]complex128{z("va", 7200), z("vb", 7200), z("vc", 7200)}
		s.Voltages = element.Wye(v[0], v[1], v[2])
		order := []element.Comparison{{By: element.Quadrature, Angle: 45 * rad, Least: 500}, {By: element.NegativeVoltage, Angle: -60 * rad, Least: 500},
			{By: element.ResidualVoltage, Angle: -60 * rad, Least: 500}}
		e := element.Overcurrent{Name: "67", Quantity: rapid.SampledFrom([]element.Quantity{element.Phase, element.Residual, element.ThreeI2}).Draw(r, "quantity"),
			Pickup: 200, Timing: curve.Setting{Form: curve.Known[4].Inverse, Dial: 1}, Direction: &element.Direction{Order: order, Otherwise: element.Undecided}}
		base, err := e.Operate(s)
		if err != nil {
			r.Fatal(err)
		}
		same := func(what string, s element.Sight) {
			o, err := e.Operate(s)
			if err != nil || o.Way != base.Way || (o.Seconds != base.Seconds && math.Abs(o.Seconds-base.Seconds) > 1e-6*base.Seconds) {
				r.Fatalf("%s: %v %g s, before %v %g s (%v)", what, o.Way, o.Seconds, base.Way, base.Seconds, err)
			}
		}
		turn := polar(1, rapid.Float64Range(0, 360).Draw(r, "turn"))
		s2 := s
		for k := range 3 {
			s2.Currents[k] *= turn
		}
		s2.Voltages = element.Wye(v[0]*turn, v[1]*turn, v[2]*turn)
		same("turned", s2)
		s2.Currents = [3]complex128{s.Currents[1], s.Currents[2], s.Currents[0]}
		s2.Voltages = element.Wye(v[1], v[2], v[0])
		same("phases moved round", s2)
		s2.Rotation = phasor.ACB
		s2.Currents = [3]complex128{s.Currents[0], s.Currents[2], s.Currents[1]}
		s2.Voltages = element.Wye(v[0], v[2], v[1])
		same("other rotation", s2)
	})
}

func TestOvercurrent(t *testing.T) {
	very, _ := curve.Find("IEEE very inverse")
	// Derived: 0.60·(19.61/((1679/160)² − 1) + 0.491) = 0.402 s; the planted 0.90 gives 0.604 s.
	e := element.Overcurrent{Name: "51N", Quantity: element.Residual, Pickup: 160, Timing: curve.Setting{Form: very.Inverse, Dial: 0.6, Flat: 30}}
	s := element.Sight{HasCurrents: true, Currents: [3]complex128{1679, 0, 0}}
	if o, err := e.Operate(s); err != nil || math.Abs(o.Seconds-0.402) > 5e-4 {
		t.Errorf("%+v %v", o, err)
	}
	e.Ceiling = 800
	if o, _ := e.Operate(s); o.Value != 800 || math.Abs(o.Multiple-5) > 1e-12 {
		t.Errorf("above what it can measure: %+v", o)
	}
	small := element.Sight{HasCurrents: true, Currents: [3]complex128{148, 0, 0}}
	if o, _ := e.Operate(small); !math.IsInf(o.Seconds, 1) || !strings.Contains(o.Why, "0.925") {
		t.Errorf("148 A on 160 A: %+v", o)
	}
	// 67 of which only phase B looks forward.
	d := element.Overcurrent{Name: "67P", Quantity: element.Phase, Pickup: 100, Timing: curve.Setting{Form: curve.Definite{}, Dial: 0.1},
		Direction: &element.Direction{Order: []element.Comparison{{By: element.Quadrature, Angle: 45 * rad, Least: 100}}}}
	v := element.Wye(polar(7200, 0), polar(7200, -120), polar(7200, 120))
	mixed := element.Sight{HasCurrents: true, Currents: [3]complex128{polar(900, 135), polar(500, -165), 0}, Voltages: v}
	if o, err := d.Operate(mixed); err != nil || math.Abs(o.Value-500) > 1e-9 || o.Way != element.Forward {
		t.Errorf("phase A behind, B in front: %+v %v", o, err)
	}
}

// 51V by hand: restrained from 100 % down to 25 % of nominal; controlled below 80 %.
func TestVoltageRestraint(t *testing.T) {
	e := element.Overcurrent{Name: "51V", Quantity: element.Phase, Pickup: 400, Timing: curve.Setting{Form: curve.Definite{}, Dial: 1},
		Restraint: &element.Restraint{Nominal: 12470, Low: 0.25, High: 1}}
	at := func(part float64) element.Sight {
		v := 12470 / math.Sqrt(3) * part
		return element.Sight{HasCurrents: true, Currents: [3]complex128{250, 0, 0}, Voltages: element.Wye(polar(v, 0), polar(v, -120), polar(v, 120))}
	}
	for _, tt := range []struct{ part, pickup float64 }{{1.1, 400}, {1, 400}, {0.5, 200}, {0.25, 100}, {0.1, 100}} {
		if o, err := e.Operate(at(tt.part)); err != nil || math.Abs(o.Pickup-tt.pickup) > 1e-9 {
			t.Errorf("at %g of nominal: pickup %.3f A, want %g (%v)", tt.part, o.Pickup, tt.pickup, err)
		}
	}
	e.Pickup, e.Restraint = 200, &element.Restraint{Nominal: 12470, Controlled: true, Low: 0.8}
	if o, _ := e.Operate(at(0.9)); !math.IsInf(o.Seconds, 1) {
		t.Errorf("controlled, voltage there: %+v", o)
	}
	if o, _ := e.Operate(at(0.7)); o.Seconds != 1 {
		t.Errorf("controlled, voltage low: %+v", o)
	}
	blind := element.Sight{HasCurrents: true, Currents: [3]complex128{250, 0, 0}}
	if _, err := e.Operate(blind); err == nil {
		t.Error("51V without voltages was taken")
	}
}

func TestVoltageElements(t *testing.T) {
	s := element.Sight{Voltages: element.Wye(polar(7200, 0), polar(3600, -120), polar(7300, 120))}
	definite := func(d float64) curve.Setting { return curve.Setting{Form: curve.Definite{}, Dial: d} }
	for _, tt := range []struct {
		e     element.Voltage
		value float64
		t     float64
	}{
		{element.Voltage{Name: "27 any", Measures: element.PhaseVoltages, Under: true, Pickup: 5000, Timing: definite(2)}, 3600, 2},
		{element.Voltage{Name: "27 all", Measures: element.PhaseVoltages, Under: true, All: true, Pickup: 5000, Timing: definite(2)}, 7300, math.Inf(1)},
		{element.Voltage{Name: "59 any", Measures: element.PhaseVoltages, Pickup: 7250, Timing: definite(1)}, 7300, 1},
		{element.Voltage{Name: "59 all", Measures: element.PhaseVoltages, All: true, Pickup: 7250, Timing: definite(1)}, 3600, math.Inf(1)},
		{element.Voltage{Name: "27 blocked", Measures: element.PhaseVoltages, Under: true, Pickup: 5000, Block: 4000, Timing: definite(2)}, 3600, math.Inf(1)},
	} {
		o, err := tt.e.Operate(s)
		if err != nil || math.Abs(o.Value-tt.value) > 1e-9 || o.Seconds != tt.t {
			t.Errorf("%s: %+v %v, want %g V and %g s", tt.e.Name, o, err, tt.value, tt.t)
		}
	}
	if _, err := (element.Voltage{Name: "59N", Measures: element.ResidualVolts}).Operate(element.Sight{Voltages: element.OpenDelta(1, 1)}); err == nil {
		t.Error("59N on an open delta was taken")
	}
	// Broken delta, one winding reversed, by hand: twice a phase voltage.
	if v := element.Wye(-polar(69.28, 0), polar(69.28, -120), polar(69.28, 120)); math.Abs(cmplx.Abs(v.Residual)-138.56) > 0.005 {
		t.Errorf("%.2f V, want 138.56", cmplx.Abs(v.Residual))
	}
}
