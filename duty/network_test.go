package duty

import (
	"fmt"
	"math"
	"math/cmplx"
	"math/rand"
	"strings"
	"testing"

	"feederwright/fault"
	"feederwright/internal/onefile"
	"feederwright/network"
	"feederwright/study"
)

// read takes a study's text to its conditions.
func read(t *testing.T, text string) (*study.Document, []study.State) {
	t.Helper()
	doc, ds := study.Read(onefile.FS{Name: "study.yaml", Text: []byte(strings.TrimLeft(text, "\n"))}, "study.yaml")
	if doc != nil {
		ds = append(ds, doc.Validate()...)
	}
	if ds.Errors() > 0 {
		t.Fatal(ds)
	}
	states, ds := doc.States()
	if ds.Errors() > 0 {
		t.Fatal(ds)
	}
	return doc, states
}

func openCase(t *testing.T, text string, change func(*Method)) *Case {
	t.Helper()
	doc, states := read(t, text)
	m, _ := MethodOf(doc)
	if change != nil {
		change(&m)
	}
	c, err := Open(doc, states[0], m, TapsAsGiven)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func threePhase(t *testing.T, c *Case, bus string) *Currents {
	t.Helper()
	return currentsAt(t, c, bus, "3ph")
}

func currentsAt(t *testing.T, c *Case, bus, kind string) *Currents {
	t.Helper()
	kinds, err := fault.ParseKinds(kind)
	if err != nil {
		t.Fatal(err)
	}
	x, err := c.At(c.Net.BusByName(bus), kinds[0])
	if err != nil {
		t.Fatalf("%s at %s: %v", kind, bus, err)
	}
	return x
}

// eightBuses is the test network of IEC TR 60909-4:2000, its data pieced
// together: see the evidence book.
func eightBuses() string {
	// X/R of windings from percent resistance; of machines from ohms.
	xr := func(uk, ur float64) float64 { return math.Sqrt(uk*uk-ur*ur) / ur }
	return fmt.Sprintf(`
feederwright: 1
study: eight buses
frequency: 50 Hz
practice: iec
supply:
  Q1: { at: 1, maximum: { three-phase: 38 kA, x/r: 10, z0: open } }
  Q2: { at: 5, maximum: { three-phase: 16 kA, x/r: 10, z0: open } }
buses:
  1: { voltage: 380 kV }
  2: { voltage: 110 kV }
  3: { voltage: 110 kV }
  4: { voltage: 110 kV }
  5: { voltage: 110 kV }
  6: { voltage: 10 kV }
  7: { voltage: 10 kV }
  8: { voltage: 30 kV }
  G1: { voltage: 21 kV }
  G2: { voltage: 10.5 kV }
three-winding transformers:
  T3: { first: 1, second: 2, group: Yyn0d5, rating: 350 MVA, voltages: 400/120/30 kV, second neutral: open,
        impedance 1-2: 21 %% on 350 MVA, impedance 1-3: 10 %% on 50 MVA, impedance 2-3: 7 %% on 50 MVA, x/r 1-2: %.12f, x/r 1-3: %.12f, x/r 2-3: %.12f }
  T4: { first: 1, second: 2, third: 8, group: Yyn0d5, rating: 350 MVA, voltages: 400/120/30 kV, second neutral: open,
        impedance 1-2: 21 %% on 350 MVA, impedance 1-3: 10 %% on 50 MVA, impedance 2-3: 7 %% on 50 MVA, x/r 1-2: %.12f, x/r 1-3: %.12f, x/r 2-3: %.12f }
transformers:
  T1: { from: 4, to: G1, group: Yd5, rating: 150 MVA, voltages: 115/21 kV, impedance: 16 %%, x/r: %.12f, unit of: G1, on-load taps: from }
  T2: { from: 3, to: G2, group: Yd5, rating: 100 MVA, voltages: 120/10.5 kV, impedance: 12 %%, x/r: %.12f, unit of: G2, on-load taps: none }
  T5: { from: 5, to: 6, group: Yd5, rating: 31.5 MVA, voltages: 115/10.5 kV, impedance: 12 %%, x/r: %.12f }
  T6: { from: 5, to: 6, group: Yd5, rating: 31.5 MVA, voltages: 115/10.5 kV, impedance: 12 %%, x/r: %.12f }
synchronous machines:
  G1: { at: G1, rating: 150 MVA, voltage: 21 kV, subtransient: 14 %%, pf: 0.85 lag, x/r: %.12f, neutral: open }
  G2: { at: G2, rating: 100 MVA, voltage: 10.5 kV, subtransient: 16 %%, pf: 0.9 lag, voltage range: 7.5 %%, x/r: %.12f, neutral: open }
  G3: { at: 6, rating: 10 MVA, voltage: 10.5 kV, subtransient: 10 %%, pf: 0.8 lag, x/r: %.12f, neutral: open }
induction machines:
  M1: { at: 7, power: 5 MW, efficiency: 97.5 %%, pf: 0.88 lag, locked-rotor current: 5, x/r: 10, pole pairs: 1 }
  M2: { at: 7, power: 2 MW, efficiency: 96.8 %%, pf: 0.89 lag, locked-rotor current: 5.2, x/r: 10, pole pairs: 2, count: 2 }
lines:
  L1: { from: 2, to: 3, length: 20 km, z1: 0.12 + j0.39 ohm/km, z0: 0.12 + j0.39 ohm/km }
  L2: { from: 3, to: 4, length: 10 km, z1: 0.12 + j0.39 ohm/km, z0: 0.12 + j0.39 ohm/km }
  L3a: { from: 2, to: 5, length: 5 km, z1: 0.12 + j0.39 ohm/km, z0: 0.12 + j0.39 ohm/km }
  L3b: { from: 2, to: 5, length: 5 km, z1: 0.12 + j0.39 ohm/km, z0: 0.12 + j0.39 ohm/km }
  L4: { from: 3, to: 5, length: 10 km, z1: 0.096 + j0.388 ohm/km, z0: 0.096 + j0.388 ohm/km }
  L5: { from: 4, to: 5, length: 15 km, z1: 0.12 + j0.386 ohm/km, z0: 0.12 + j0.386 ohm/km }
  L6: { from: 6, to: 7, length: 1 km, z1: 0.082 + j0.086 ohm/km, z0: 0.082 + j0.086 ohm/km }
`, xr(21, .26), xr(10, .16), xr(7, .16), xr(21, .26), xr(10, .16), xr(7, .16), xr(16, .5), xr(12, .5), xr(12, .5), xr(12, .5),
		0.14*21*21/150/0.002, 0.16*10.5*10.5/100/0.005, 0.1*10.5*10.5/10/0.018)
}

func TestEightBuses(t *testing.T) {
	c := openCase(t, eightBuses(), nil)
	b := openCase(t, eightBuses(), func(m *Method) { m.PeakBy = RatioAtPlace })
	// reconstructed: IEC TR 60909-4:2000 as recalled; data fitted to the initial currents, six digits.
	for i, want := range [][3]float64{{40.6447, 100.5677, 100.5766}, {31.7831, 80.6079, 80.5120}, {19.6730, 45.8111, 45.8249}, {16.2277, 36.8427, 36.8041},
		{33.1894, 83.4033, 83.6265}, {37.5629, 98.1434, 99.1910}, {25.5895, 51.6899, 51.3864}, {13.5778, 36.9227, 36.9201}} {
		bus := fmt.Sprint(i + 1)
		x := threePhase(t, c, bus)
		if math.Abs(x.Initial/1e3-want[0]) > 1e-4 {
			t.Errorf("bus %s: I\"k = %.5f kA, want %.4f (reconstructed)", bus, x.Initial/1e3, want[0])
		}
		if math.Abs(x.Peak/1e3-want[1]) > 1.5e-4 {
			t.Errorf("bus %s: ip = %.5f kA, want %.4f (reconstructed)", bus, x.Peak/1e3, want[1])
		}
		y := threePhase(t, b, bus)
		if without := Kappa(1/y.XR) * math.Sqrt2 * y.Initial / 1e3; math.Abs(without-want[2]) > 1.5e-4 {
			t.Errorf("bus %s: ip by method b without 1.15 = %.5f kA, want %.4f (reconstructed)", bus, without, want[2])
		}
	}
}

// A fault at 400 V of the low-voltage example of IEC TR 60909-4:2000: values
// recomputed outside of this program from the recalled data (derived).
const lowVoltage = `
feederwright: 1
study: 400 V
frequency: 50 Hz
practice: iec
method: { low-voltage tolerance: 6 %, peak by: ratio-at-place }
supply:
  Q: { at: Q, maximum: { three-phase: 10 kA, x/r: 10, z0: open } }
buses:
  Q:  { voltage: 20 kV }
  F1: { voltage: 400 V }
  F2: { voltage: 400 V }
  B2: { voltage: 400 V }
  P:  { voltage: 400 V }
  F3: { voltage: 400 V }
transformers:
  T1: { from: Q, to: F1, group: Dyn5, rating: 630 kVA, voltages: 20/0.41 kV, impedance: 4 %, losses: 6.5 kW, neutral: solid,
        zero-sequence: 3.8136319615 %, zero-sequence x/r: 3.5584484851 }
  T2: { from: Q, to: B2, group: Dyn5, rating: 400 kVA, voltages: 20/0.41 kV, impedance: 4 %, losses: 4.6 kW, neutral: solid,
        zero-sequence: 3.8169285754 %, zero-sequence x/r: 3.1648403681 }
lines:
  L1a: { from: F1, to: F2, length: 10 m, z1: 0.077 + j0.079 ohm/km, z0: 0.2849 + j0.14299 ohm/km }
  L1b: { from: F1, to: F2, length: 10 m, z1: 0.077 + j0.079 ohm/km, z0: 0.2849 + j0.14299 ohm/km }
  L2a: { from: F2, to: B2, length: 4 m, z1: 0.208 + j0.068 ohm/km, z0: 0.87984 + j0.08228 ohm/km }
  L2b: { from: F2, to: B2, length: 4 m, z1: 0.208 + j0.068 ohm/km, z0: 0.87984 + j0.08228 ohm/km }
  L3:  { from: F2, to: P, length: 20 m, z1: 0.271 + j0.087 ohm/km, z0: 0.813 + j0.38802 ohm/km }
  L4:  { from: P, to: F3, length: 50 m, z1: 0.3704 + j0.297 ohm/km, z0: 0.7408 + j0.891 ohm/km }
`

func TestLowVoltage(t *testing.T) {
	c := openCase(t, lowVoltage, nil)
	const tol = 1.5e-4
	var list []point
	for bus, w := range map[string][6]float64{"F1": {34.6244, 29.9856, 35.7052, 70.7357, 81.3461}, "F2": {34.1164, 29.5457, 34.9828, 69.0465, 79.4035}, "F3": {6.9422, 6.0121, 4.8319, 10.3619, 11.9162}} {
		x := threePhase(t, c, bus)
		list = append(list, point{x.Initial / 1e3, w[0], tol, bus + " I\"k3"}, point{currentsAt(t, c, bus, "ll:BC").Initial / 1e3, w[1], tol, bus + " I\"k2"},
			point{currentsAt(t, c, bus, "lg:A").Initial / 1e3, w[2], tol, bus + " I\"k1"},
			point{Kappa(1/x.XR) * math.Sqrt2 * x.Initial / 1e3, w[3], tol, bus + " ip without 1.15"}, point{x.Peak / 1e3, w[4], tol, bus + " ip by method b"})
	}
	check(t, "derived: sequence networks on the data of IEC TR 60909-4:2000", list)
}

// motors is the 33/6 kV station of IEC TR 60909-4:2000, as recalled.
const motors = `
feederwright: 1
study: motors
frequency: 50 Hz
practice: iec
supply:
  Q: { at: Q, maximum: { three-phase: 750 MVA, x/r: 10, z0: open } }
buses:
  Q:  { voltage: 33 kV }
  H1: { voltage: 33 kV }
  H2: { voltage: 33 kV }
  B:  { voltage: 6 kV }
  M:  { voltage: 6 kV }
lines:
  C1: { from: Q, to: H1, z1: 0.1 + j0.1 ohm/km, z0: 0.1 + j0.1 ohm/km, length: 4.85 km }
  C2: { from: Q, to: H2, z1: 0.1 + j0.1 ohm/km, z0: 0.1 + j0.1 ohm/km, length: 4.85 km }
transformers:
  T1: { from: H1, to: B, group: Yd5, rating: 15 MVA, voltages: 33/6.3 kV, impedance: 15 %, x/r: 24.97999199 }
  T2: { from: H2, to: B, group: Yd5, rating: 15 MVA, voltages: 33/6.3 kV, impedance: 15 %, x/r: 24.97999199 }
induction machines:
  M1: { at: M, power: 5 MW, efficiency: 97 %, pf: 0.86 lag, locked-rotor current: 4, x/r: 10, pole pairs: 2 }
  M2: { at: B, power: 1 MW, efficiency: 94 %, pf: 0.83 lag, locked-rotor current: 5.5, x/r: 10, count: 3, pole pairs: 1 }
breakers:
  K1: { from: B, to: M, interrupts: 25 kA }
`

func TestMotors(t *testing.T) {
	c := openCase(t, motors, nil)
	x := threePhase(t, c, "B")
	const tol = 1.5e-4
	list := []point{{x.Initial / 1e3, 19.5545, tol, "I\"k"}, {x.Steady / 1e3, 14.7786, tol, "Ik"},
		// The derived 17.076 kA adds magnitudes; as phasors it is 0.004 % less.
		{x.Breaking(0.1) / 1e3, 17.076, 1e-3, "Ib(0.1 s)"}}
	for _, s := range x.Sources {
		switch s.Name {
		case "M1":
			list = append(list, point{s.Current / 1e3, 2.5377, tol, "M1"}, point{s.Ratio, 4.4, 1e-3, "M1 over rated"})
		case "M2":
			list = append(list, point{s.Current / 1e3, 2.2385, tol, "M2"}, point{s.Ratio, 6.05, 1e-3, "M2 over rated"})
		}
	}
	// Through the breaker of M1: for a fault at the motor all but its own, for one
	// at the board the motor alone.
	at := func(bus string) *Currents {
		x, err := c.Through(0, c.Net.BusByName(bus), fault.Kind{Type: fault.ThreePhase, Phases: abc})
		if err != nil {
			t.Fatal(err)
		}
		return x
	}
	list = append(list, point{at("B").Initial / 1e3, 2.5377, tol, "through K1 from the motor"}, point{at("B").Breaking(0.1) / 1e3, 2.5377 * 0.7961 * 0.6800, tol, "Ib through K1 from the motor"},
		point{at("M").Initial / 1e3, 14.7786 + 2.2385, 5e-3, "through K1 to the motor"})
	check(t, "derived: data after the motor example of IEC TR 60909-4:2000", list)
}

// Far from generators nothing decays.
func TestFarFromGenerators(t *testing.T) {
	c := openCase(t, lowVoltage, nil)
	x := threePhase(t, c, "F2")
	if x.Breaking(0.1) != x.Initial || x.Steady != x.Initial {
		t.Errorf("Ib %g and Ik %g of I\"k %g: the same is wanted", x.Breaking(0.1), x.Steady, x.Initial)
	}
}

// What the sources give sums to the fault's current, at every bus of a meshed
// network with transformers between; and through a device flows what the other
// side gives.
func TestSharesSum(t *testing.T) {
	c := openCase(t, eightBuses(), nil)
	for _, bus := range []string{"1", "2", "3", "4", "5", "6", "7", "8", "G1", "G2"} {
		x := threePhase(t, c, bus)
		sum := complex128(0)
		for _, s := range x.Sources {
			sum += s.Share
		}
		if d := math.Hypot(real(sum-x.flow), imag(sum-x.flow)); d > 1e-9*x.Initial {
			t.Errorf("bus %s: the sources' shares sum to %v, the fault draws %v", bus, sum, x.flow)
		}
		if ib := x.Breaking(0.1); ib >= x.Initial || ib < 0.5*x.Initial {
			t.Errorf("bus %s: Ib(0.1 s) = %g of I\"k %g", bus, ib, x.Initial)
		}
		last := x.Initial
		for time := 0.01; time < 0.3; time += 0.01 {
			ib := x.Breaking(time)
			if ib > last*(1+1e-12) {
				t.Errorf("bus %s: Ib rises at %g s", bus, time)
			}
			last = ib
		}
	}
}

// Inside a power-station unit: by hand, generator and network in parallel at
// the generator's terminals with the factors of both (derived).
func TestInsideUnit(t *testing.T) {
	text := `
feederwright: 1
study: unit
frequency: 50 Hz
practice: iec
supply: { Q: { at: H, maximum: { three-phase: 20 kA, x/r: 10, z0: open } } }
buses: { H: { voltage: 110 kV }, G: { voltage: 10.5 kV } }
transformers: { T: { from: H, to: G, group: Yd5, rating: 100 MVA, voltages: 120/10.5 kV, impedance: 12 %, x/r: 24, unit of: G, on-load taps: TAPS } }
synchronous machines: { G: { at: G, rating: 100 MVA, voltage: 10.5 kV, subtransient: 16 %, pf: 0.8 lag, voltage range: 5 %, x/r: 30, neutral: open } }
`
	for _, onLoad := range []bool{true, false} {
		taps := "none"
		if onLoad {
			taps = "from"
		}
		c := openCase(t, strings.Replace(text, "TAPS", taps, 1), nil)
		xt := 0.12 * 24 / math.Hypot(1, 24)
		kg, kt := Inside(onLoad, 0.05, 1.1, 0.16, xt, 0.8)
		base := 10.5 * 10.5 / 100
		zg := complex(kg*0.16/30*base, kg*0.16*base)
		zt := complex(kt*xt/24*base, kt*xt*base)
		r := 10.5 / 120
		zq := 1.1 * 110e3 / (math.Sqrt(3) * 20e3) * r * r
		q := complex(zq/math.Hypot(1, 10), zq*10/math.Hypot(1, 10))
		z := zg * (zt + q) / (zg + zt + q)
		want := 1.1 * 10.5e3 / math.Sqrt(3) / math.Hypot(real(z), imag(z))
		if got := threePhase(t, c, "G").Initial; math.Abs(got-want) > 1e-9*want {
			t.Errorf("on-load taps %s: I\"k at the generator %.3f A, want %.3f (derived: by hand)", taps, got, want)
		}
		// What comes through the transformer alone: without K_T.
		want = 1.1 * 10.5e3 / math.Sqrt(3) / cmplx.Abs(zt/complex(kt, 0)+q)
		x, err := c.Into(network.SynchronousMachine, "G", 0, fault.Kind{Type: fault.ThreePhase, Phases: abc})
		if err != nil || math.Abs(x.Initial-want) > 1e-9*want {
			t.Errorf("on-load taps %s: through the transformer %v (%v), want %.3f A (derived: by hand)", taps, x, err, want)
		}
	}
}

func TestConverters(t *testing.T) {
	c := openCase(t, `
feederwright: 1
study: converter
frequency: 50 Hz
practice: iec
supply: { Q: { at: H, maximum: { three-phase: 10 kA, x/r: 10, z0: open } } }
buses: { H: { voltage: 20 kV }, M: { voltage: 20 kV }, W: { voltage: 0.69 kV } }
lines: { L: { from: H, to: M, z1: 0 + j1 ohm, z0: 0 + j1 ohm } }
transformers: { T: { from: M, to: W, group: Dyn5, rating: 5 MVA, voltages: 20/0.69 kV, impedance: 6 %, x/r: 10, neutral: open, zero-sequence: 6 % } }
inverters: { W: { at: W, rating: 4 MVA, current limit: 120 %, response: reactive } }
`, nil)
	const limit = 1.2 * 4e6 / (1.7320508075688772 * 690)
	// derived: at its own terminals the whole limit; beyond its transformer the
	// limit by the ratio; at H, the network's own share of a current injected at M:
	// a current divider between the line on one side and no other path, so all.
	check(t, "derived: current dividers, IEC 60909-0:2016", []point{
		{threePhase(t, c, "W").ByLimit, limit, 1e-6 * limit, "at W"},
		{threePhase(t, c, "M").ByLimit, limit * 0.69 / 20, 1e-6 * limit, "at M"},
		{threePhase(t, c, "H").ByLimit, limit * 0.69 / 20, 1e-6 * limit, "at H"},
	})
	x := threePhase(t, c, "M")
	if want := math.Sqrt2 * (x.Kappa*x.ByPlant + x.ByLimit); x.Peak != want {
		t.Errorf("the converter's part of the peak has a factor: %g, want %g", x.Peak, want)
	}
	if y := openCase(t, lowVoltage, func(m *Method) { m.Smallest = true }); threePhase(t, y, "F1").Factor != 0.95 {
		t.Error("c min of 6 % is not 0.95")
	}
}

// X/R by separate reductions, on random meshed networks: against dense
// elimination of the two matrices, written here.
func TestSeparateNetworks(t *testing.T) {
	r := rand.New(rand.NewSource(37010))
	for n := range 30 {
		buses := 4 + r.Intn(8)
		text := "feederwright: 1\nstudy: random\nfrequency: 60 Hz\npractice: ieee\nbuses:\n"
		for b := range buses {
			text += fmt.Sprintf("  B%d: { voltage: 12.47 kV }\n", b)
		}
		rm, xm := make([][]float64, buses), make([][]float64, buses)
		for b := range buses {
			rm[b], xm[b] = make([]float64, buses), make([]float64, buses)
		}
		stamp := func(m [][]float64, a, b int, g float64) {
			m[a][a] += g
			if b >= 0 {
				m[b][b] += g
				m[a][b] -= g
				m[b][a] -= g
			}
		}
		text += "lines:\n"
		line := 0
		join := func(a, b int) {
			z := [2]float64{0.05 + r.Float64(), 0.05 + 2*r.Float64()}
			text += fmt.Sprintf("  L%d: { from: B%d, to: B%d, z1: %.15f + j%.15f ohm, z0: 1 + j3 ohm }\n", line, a, b, z[0], z[1])
			line++
			stamp(rm, a, b, 1/z[0])
			stamp(xm, a, b, 1/z[1])
		}
		for b := 1; b < buses; b++ {
			join(r.Intn(b), b)
		}
		for range buses / 2 {
			if a, b := r.Intn(buses), r.Intn(buses); a != b {
				join(a, b)
			}
		}
		text += "supply:\n"
		for s := range 1 + r.Intn(2) {
			z := [2]float64{0.01 + 0.1*r.Float64(), 0.3 + r.Float64()}
			text += fmt.Sprintf("  S%d: { at: B%d, maximum: { z1: %.15f + j%.15f ohm, z0: open } }\n", s, s, z[0], z[1])
			stamp(rm, s, -1, 1/z[0])
			stamp(xm, s, -1, 1/z[1])
		}
		c := openCase(t, text, nil)
		for b := range buses {
			want := driving(xm, b) / driving(rm, b)
			if got := threePhase(t, c, fmt.Sprint("B", b)).XR; math.Abs(got-want) > 1e-7*want {
				t.Errorf("network %d, B%d: X/R %.9f, want %.9f (derived: dense elimination)", n, b, got, want)
			}
		}
	}
}

// driving is the driving-point value at a node of a conductance matrix.
func driving(m [][]float64, node int) float64 {
	n := len(m)
	a := make([][]float64, n)
	for i := range m {
		a[i] = append(append([]float64(nil), m[i]...), 0)
	}
	a[node][n] = 1
	for k := range n {
		p := k
		for i := k + 1; i < n; i++ {
			if math.Abs(a[i][k]) > math.Abs(a[p][k]) {
				p = i
			}
		}
		a[k], a[p] = a[p], a[k]
		for i := range n {
			if i != k {
				f := a[i][k] / a[k][k]
				for j := k; j <= n; j++ {
					a[i][j] -= f * a[k][j]
				}
			}
		}
	}
	return a[node][n] / a[node][node]
}

// More impedance anywhere never raises a duty; the extremes of taps never lie
// below the position as given.
func TestMonotone(t *testing.T) {
	base := threePhase(t, openCase(t, motors, nil), "B")
	for _, edit := range [][2]string{{"length: 4.85 km", "length: 5.85 km"}, {"impedance: 15 %", "impedance: 16 %"}, {"three-phase: 750 MVA", "three-phase: 700 MVA"}, {"locked-rotor current: 4,", "locked-rotor current: 3.5,"}} {
		x := threePhase(t, openCase(t, strings.ReplaceAll(motors, edit[0], edit[1]), nil), "B")
		if x.Initial >= base.Initial || x.Peak >= base.Peak {
			t.Errorf("with %s for %s I\"k goes from %g to %g, ip from %g to %g", edit[1], edit[0], base.Initial, x.Initial, base.Peak, x.Peak)
		}
	}
}

// The IEEE multipliers reach the network: by hand, two motors behind nothing.
func TestInterruptingNetwork(t *testing.T) {
	c := openCase(t, `
feederwright: 1
study: motors
frequency: 60 Hz
practice: ieee
supply: { Q: { at: B, maximum: { z1: 0 + j0.1 ohm, z0: open } } }
buses: { B: { voltage: 4.16 kV } }
induction machines:
  BIG: { at: B, power: 1200 kW, efficiency: 95 %, pf: 0.9 lag, locked-rotor current: 6, x/r: 30, pole pairs: 2 }
  MID: { at: B, power: 200 kW, efficiency: 95 %, pf: 0.9 lag, locked-rotor current: 6, x/r: 20, pole pairs: 2 }
  LOW: { at: B, power: 20 kW, efficiency: 90 %, pf: 0.88 lag, locked-rotor current: 6, x/r: 5, pole pairs: 2 }
`, nil)
	x := threePhase(t, c, "B")
	z := func(kva, xr, k float64) complex128 {
		m := 4.16 * 4.16 / kva * 1e3 / 6 * k
		return complex(m/math.Hypot(1, xr), m*xr/math.Hypot(1, xr))
	}
	big, mid, low := 1200/0.95/0.9, 200/0.95/0.9, 20/0.9/0.88
	sum := func(zs ...complex128) float64 {
		y := 1 / complex(0, 0.1)
		for _, z := range zs {
			y += 1 / z
		}
		return 4160 / math.Sqrt(3) * math.Hypot(real(y), imag(y))
	}
	check(t, "derived: by hand, multipliers of IEEE 141 Table 4-1", []point{
		{x.Initial, sum(z(big, 30, 1), z(mid, 20, 1.2), z(low, 5, 1.67)), 1e-6 * x.Initial, "first cycle"},
		{x.Later, sum(z(big, 30, 1.5), z(mid, 20, 3)), 1e-6 * x.Later, "interrupting"},
	})
}

// The standard lets one leave out small motors: at the fault's level by 1 % of
// the current, behind transformers by its formula.
func TestMotorsLeftOut(t *testing.T) {
	text := `
feederwright: 1
study: small motors
frequency: 50 Hz
practice: iec
method: { small motors: neglected }
supply: { Q: { at: B, maximum: { three-phase: 10 kA, x/r: 10, z0: open } } }
buses: { B: { voltage: 20 kV }, L: { voltage: 0.69 kV } }
transformers: { T: { from: B, to: L, group: Yd5, rating: 2.5 MVA, voltages: 20/0.69 kV, impedance: 6 %, x/r: 10 } }
induction machines: { M: { at: BUS, power: POWER, efficiency: 100 %, pf: 1 lag, voltage: VOLTAGE, locked-rotor current: 5, x/r: 10 } }
`
	for _, tt := range []struct {
		bus, power, voltage string
		out                 bool // derived, by hand
	}{
		// 1 % of 10 kA is 100 A: 3.464 MVA at 20 kV.
		{"B", "3.46 MW", "20 kV", true}, {"B", "3.47 MW", "20 kV", false},
		// 100·1.1·2.5/(√3·20·10) = 0.7939; 0.8/(0.7939 − 0.3) = 1.620; times 2.5 MVA.
		{"L", "4.04 MW", "0.69 kV", true}, {"L", "4.06 MW", "0.69 kV", false},
	} {
		c := openCase(t, strings.NewReplacer("BUS", tt.bus, "POWER", tt.power, "VOLTAGE", tt.voltage).Replace(text), nil)
		x := threePhase(t, c, "B")
		if out := math.Abs(x.Initial-10e3) < 1e-3; out != tt.out {
			t.Errorf("%s at %s: I\"k %.2f A; left out %v, want %v", tt.power, tt.bus, x.Initial, out, tt.out)
		}
	}
}
