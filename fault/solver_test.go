package fault_test

import (
	"errors"
	"math"
	"math/cmplx"
	"testing"

	"feederwright/fault"
	"feederwright/network"
	"feederwright/phasor"
	"feederwright/quantity"
)

const abc = quantity.Phases(7)

func group(t *testing.T, text string) quantity.VectorGroup {
	t.Helper()
	var g quantity.VectorGroup
	if err := g.UnmarshalText([]byte(text)); err != nil {
		t.Fatal(err)
	}
	return g
}

func must[T any](t *testing.T) func(v T, err error) T {
	return func(v T, err error) T {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
}

var solid = network.NeutralPoint{Exists: true, Earthed: true}

// build makes a solver from plant.
func build(t *testing.T, b *network.Builder) *fault.Solver {
	t.Helper()
	net := must[*network.Network](t)(b.Build())
	return must[*fault.Solver](t)(fault.NewSolver(net))
}

func kind(t *testing.T, text string) fault.Kind {
	t.Helper()
	ks := must[[]fault.Kind](t)(fault.ParseKinds(text))
	if len(ks) != 1 {
		t.Fatalf("%s is %d kinds", text, len(ks))
	}
	return ks[0]
}

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s = %.6g, want %.6g ± %.1g", what, got, want, tol)
	}
}

// The delta-wye patterns: a fault on the earthed-wye side in per unit of the
// three-phase fault current, Z1 = Z2 = Z0, as seen in the delta-side lines.
func TestDeltaWyePatterns(t *testing.T) {
	const source = "derived: symmetrical-component algebra; the set 1, 0.577, 0.866 is in every protection handbook"
	for _, g := range []string{"Dyn1", "Dyn3", "Dyn5", "Dyn7", "Dyn9", "Dyn11"} {
		var b network.Builder
		hv := b.AddBus("HV", abc, 1000)
		lv := b.AddBus("LV", abc, 100)
		// An infinite source: its impedance is one millionth, so a tolerance of 1e-5 holds.
		_, err := b.AddInfeed("S", hv, network.InfeedData{Z1: 1e-6i, Z2: 1e-6i, Open: true, VLL: 1000})
		if err != nil {
			t.Fatal(err)
		}
		tr := must[int](t)(b.AddTransformer("T", hv, lv, network.TransformerData{Group: group(t, g), VFrom: 1000, VTo: 100, Z1: 1i, Z0: 1i, To: solid}))
		s := build(t, &b)
		p := s.Net.AtTerminal(tr, 0)
		q := s.Net.AtTerminal(tr, 1)
		s.WatchCurrent(&p)
		s.WatchCurrent(&q)
		base := 100 / math.Sqrt(3)
		for _, tt := range []struct {
			kind       string
			wye, delta []float64 // sorted
		}{
			{"3ph", []float64{1, 1, 1}, []float64{1, 1, 1}},
			{"lg:A", []float64{0, 0, 1}, []float64{0, 0.57735, 0.57735}},
			{"ll:BC", []float64{0, 0.86603, 0.86603}, []float64{0.5, 0.5, 1}},
			{"ll-g:BC", []float64{0, 1, 1}, []float64{0.57735, 0.57735, 1}},
		} {
			res := must[*fault.Result](t)(s.Fault(fault.AtBus(lv), kind(t, tt.kind), 0))
			for side, want := range [][]float64{tt.delta, tt.wye} {
				var got []float64
				for k := 0; k < 3; k++ {
					scale := base
					if side == 0 {
						scale /= 10
					}
					got = append(got, cmplx.Abs(res.Current[side][k])/scale)
				}
				sort3(got)
				for k := range want {
					if math.Abs(got[k]-want[k]) > 2e-5 {
						t.Errorf("%s %s side %d: %.5f, want %.5f (%s)", g, tt.kind, side, got, want, source)
						break
					}
				}
			}
		}
		// The clock: the second winding lags by 30° times its number, without load.
		u := s.PrefaultVoltage(lv, 0)
		lag := math.Mod(-phasor.Degrees(u)+360, 360)
		near(t, g+" lag", lag, 30*float64(group(t, g).Clock), 1e-4)
	}
}

func sort3(x []float64) {
	for i := 0; i < 2; i++ {
		for j := 0; j < 2; j++ {
			if x[j] > x[j+1] {
				x[j], x[j+1] = x[j+1], x[j]
			}
		}
	}
}

// An unearthed part: an earth fault draws nothing and moves the neutral to
// the full line-to-earth voltage; two phases to earth are as line-to-line.
func TestUnearthed(t *testing.T) {
	var b network.Builder
	hv := b.AddBus("HV", abc, 110e3)
	lv := b.AddBus("LV", abc, 20e3)
	end := b.AddBus("end", abc, 20e3)
	must[int](t)(b.AddInfeed("S", hv, network.InfeedData{Z1: 1 + 10i, Z2: 1 + 10i, Z0: 2 + 20i, VLL: 110e3}))
	must[int](t)(b.AddTransformer("T", hv, lv, network.TransformerData{Group: group(t, "YNd5"), VFrom: 110e3, VTo: 20e3, Z1: 0.1 + 2i, Z0: 0.1 + 2i, From: solid}))
	must[int](t)(b.AddLine("L", lv, end, abc, network.BalancedMatrix(3, 1+2i, 3+6i), nil))
	s := build(t, &b)
	if len(s.Net.Floating) != 1 {
		t.Fatalf("%d floating parts, want 1", len(s.Net.Floating))
	}
	res := must[*fault.Result](t)(s.Fault(fault.AtBus(end), kind(t, "lg:A"), 0))
	near(t, "earth-fault current", res.Largest(), 0, 1e-9)
	near(t, "voltage of the faulted phase", cmplx.Abs(res.V[0]), 0, 1e-6)
	near(t, "voltage of a healthy phase", cmplx.Abs(res.V[1]), 20e3, 1e-6)
	state, _ := s.State(res)
	near(t, "the same at the other bus", cmplx.Abs(state[s.Net.Unknown(lv, 2)]), 20e3, 1e-6)
	ll := must[*fault.Result](t)(s.Fault(fault.AtBus(end), kind(t, "ll:BC"), 0))
	llg := must[*fault.Result](t)(s.Fault(fault.AtBus(end), kind(t, "ll-g:BC"), 0))
	near(t, "two phases to earth against line to line", llg.Largest(), ll.Largest(), 1e-9*ll.Largest())
	near(t, "its earth current", cmplx.Abs(llg.Earth), 0, 1e-9)
	near(t, "healthy phase at ll-g", cmplx.Abs(llg.V[0]), 1.5*20e3/math.Sqrt(3), 1e-3) // healthy phase at 1.5 times: Z1 = Z2
	three := must[*fault.Result](t)(s.Fault(fault.AtBus(end), kind(t, "3ph"), 0))
	threeG := must[*fault.Result](t)(s.Fault(fault.AtBus(end), kind(t, "3ph-g"), 0))
	near(t, "3ph-g against 3ph", threeG.Largest(), three.Largest(), 1e-9*three.Largest())
}

// Capacitance to earth of an isolated network: the residual at the faulted
// feeder is the capacitive current of the rest.
func TestIsolatedCapacitive(t *testing.T) {
	// published by nobody: invented feeders; expected from I = √3·ω·C0·U per feeder, source impedance negligible
	const u, w = 20e3, 2 * math.Pi * 50
	km := []float64{40, 10, 60}
	c := []float64{0.25e-6, 0.25e-6, 0.006e-6}
	var b network.Builder
	bus := b.AddBus("B", abc, u)
	must[int](t)(b.AddInfeed("S", bus, network.InfeedData{Z1: 1e-4i, Z2: 1e-4i, Open: true, VLL: u}))
	var ends, lines []int
	for i := range km {
		end := b.AddBus(string(rune('a'+i)), abc, u)
		y := complex(0, w*c[i]*km[i])
		ends = append(ends, end)
		lines = append(lines, must[int](t)(b.AddLine(string(rune('a'+i)), bus, end, abc,
			network.BalancedMatrix(3, 1e-3i, 1e-3i), network.BalancedMatrix(3, y, y))))
	}
	s := build(t, &b)
	if len(s.Net.Floating) != 0 {
		t.Fatalf("capacitance is a path to earth: %d floating parts", len(s.Net.Floating))
	}
	var probes []network.Probe
	for i := range lines {
		probes = append(probes, s.Net.AtTerminal(lines[i], 0))
		s.WatchCurrent(&probes[i])
	}
	want := []float64{108.828, 27.207, 3.918} // A; derived: √3·ω·C·l·U
	total := 0.0
	for _, x := range want {
		total += x
	}
	res := must[*fault.Result](t)(s.Fault(fault.AtBus(ends[0]), kind(t, "lg:B"), 0))
	near(t, "earth-fault current", cmplx.Abs(res.Earth), total, 0.002)
	for i := range lines {
		residual := res.Current[i][0] + res.Current[i][1] + res.Current[i][2]
		expect := want[i]
		if i == 0 {
			expect = total - want[0] // the faulted feeder: what the others deliver
		}
		near(t, "residual of feeder "+string(rune('a'+i)), cmplx.Abs(residual), expect, 0.002)
	}
}

// A switch has no impedance; its current is what lies beyond it.
func TestSwitchCurrents(t *testing.T) {
	var b network.Builder
	a := b.AddBus("A", abc, 12e3)
	m := b.AddBus("M", abc, 12e3)
	n := b.AddBus("N", abc, 12e3)
	e := b.AddBus("E", abc, 12e3)
	must[int](t)(b.AddInfeed("S", a, network.InfeedData{Z1: 1i, Z2: 1i, Z0: 2i, VLL: 12e3}))
	must[int](t)(b.AddLine("AM", a, m, abc, network.BalancedMatrix(3, 1i, 3i), nil))
	sw := b.AddSwitch("breaker", "52", m, n, true)
	must[int](t)(b.AddLine("NE", n, e, abc, network.BalancedMatrix(3, 1i, 3i), nil))
	s := build(t, &b)
	p := s.Net.ThroughSwitch(sw, n)
	s.WatchCurrent(&p)
	for _, tt := range []struct {
		bus  int
		want float64 // share of the fault current through the switch
	}{{e, 1}, {n, 1}, {m, 0}, {a, 0}} {
		res := must[*fault.Result](t)(s.Fault(fault.AtBus(tt.bus), kind(t, "lg:A"), 0))
		near(t, "share through the switch, fault at "+s.Net.Buses[tt.bus].Name, real(res.Current[0][0]/res.I[0]), tt.want, 1e-9)
	}
	// A second switch beside it leaves the single currents undetermined.
	b.AddSwitch("breaker", "53", m, n, true)
	s = build(t, &b)
	p = s.Net.ThroughSwitch(sw, n)
	if p.Undetermined() == "" {
		t.Error("two closed switches side by side: the current of one is not determined, and is not said to be")
	}
}

// A place on a line equals a bus put there.
func TestPlaceOnLine(t *testing.T) {
	make := func(split float64) (*fault.Solver, int, int) {
		var b network.Builder
		a := b.AddBus("A", abc, 12e3)
		e := b.AddBus("E", abc, 12e3)
		must[int](t)(b.AddInfeed("S", a, network.InfeedData{Z1: 0.1 + 1i, Z2: 0.1 + 1i, Z0: 2i, VLL: 12e3}))
		must[int](t)(b.AddInfeed("T", e, network.InfeedData{Z1: 0.3 + 2i, Z2: 0.3 + 2i, Z0: 0.3 + 1i, VLL: 12e3, Angle: 0.02}))
		z := []complex128{0.5 + 1i, 0.1 + 0.4i, 0.1 + 0.3i, 0.1 + 0.4i, 0.6 + 1.1i, 0.1 + 0.35i, 0.1 + 0.3i, 0.1 + 0.35i, 0.55 + 1.05i}
		part := func(x float64) []complex128 {
			out := append([]complex128(nil), z...)
			for i := range out {
				out[i] *= complex(x, 0)
			}
			return out
		}
		if split == 0 {
			l := must[int](t)(b.AddLine("L", a, e, abc, z, nil))
			return build(t, &b), l, -1
		}
		m := b.AddBus("M", abc, 12e3)
		l := must[int](t)(b.AddLine("L1", a, m, abc, part(split), nil))
		must[int](t)(b.AddLine("L2", m, e, abc, part(1-split), nil))
		return build(t, &b), l, m
	}
	for _, x := range []float64{0.001, 0.3, 0.75} {
		whole, line, _ := make(0)
		split, first, mid := make(x)
		p, q := whole.Net.AtTerminal(line, 0), split.Net.AtTerminal(first, 0)
		whole.WatchCurrent(&p)
		split.WatchCurrent(&q)
		for _, k := range fault.All(abc) {
			r1 := must[*fault.Result](t)(whole.Fault(fault.OnLine(line, x), k, 3))
			r2 := must[*fault.Result](t)(split.Fault(fault.AtBus(mid), k, 3))
			for c := 0; c < 3; c++ {
				if d := cmplx.Abs(r1.I[c] - r2.I[c]); d > 1e-9*r2.Largest() {
					t.Errorf("x %g %s phase %d: %v on the line, %v at a bus there", x, k, c, r1.I[c], r2.I[c])
				}
				if d := cmplx.Abs(r1.Current[0][c] - r2.Current[0][c]); d > 1e-9*r2.Largest() {
					t.Errorf("x %g %s phase %d: the first end delivers %v on the line, %v with a bus", x, k, c, r1.Current[0][c], r2.Current[0][c])
				}
			}
		}
	}
}

func TestLargestResistance(t *testing.T) {
	v, z := complex(7200, 0), 2+6i
	for _, wanted := range []float64{10, 160, 1000} {
		r, ok := fault.LargestResistance(v, z, 0, 1, wanted)
		if !ok {
			t.Fatalf("%g A is not reached", wanted)
		}
		near(t, "current at the resistance found", cmplx.Abs(v/(z+complex(r, 0))), wanted, 1e-9*wanted)
	}
	if _, ok := fault.LargestResistance(v, z, 0, 1, 2000); ok {
		t.Error("2000 A is more than a bolted fault gives, and is said to be reached")
	}
	// With a current before the fault that opposes it.
	p, q := complex(-20, 5), complex(0.8, 0.1)
	r, ok := fault.LargestResistance(v, z, p, q, 100)
	if !ok {
		t.Fatal("not reached")
	}
	near(t, "with load", cmplx.Abs(p+q*v/(z+complex(r, 0))), 100, 1e-7)
}

func TestNoSource(t *testing.T) {
	var b network.Builder
	a := b.AddBus("A", abc, 12e3)
	d := b.AddBus("dead", abc, 12e3)
	e := b.AddBus("deader", abc, 12e3)
	must[int](t)(b.AddInfeed("S", a, network.InfeedData{Z1: 1i, Z2: 1i, Z0: 2i, VLL: 12e3}))
	b.AddSwitch("switch", "S1", a, d, false)
	must[int](t)(b.AddLine("DE", d, e, abc, network.BalancedMatrix(3, 1i, 3i), nil))
	s := build(t, &b)
	if _, err := s.Fault(fault.AtBus(e), kind(t, "3ph"), 0); !errors.Is(err, fault.ErrNoSource) {
		t.Errorf("error %v, want ErrNoSource", err)
	}
	if len(s.Net.Dead) != 1 || len(s.Net.Dead[0]) != 2 {
		t.Errorf("dead parts %v, want one with both buses", s.Net.Dead)
	}
}
