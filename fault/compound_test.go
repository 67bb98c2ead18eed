package fault_test

import (
	"errors"
	"math"
	"math/cmplx"
	"testing"

	"feederwright/fault"
	"feederwright/network"
)

// openNetwork is a source of 1 V per phase behind j0.1 (zero sequence j0.3),
// a short section and a star-connected earthed load of 0.9 + j0.4359 ohm.
func openNetwork(t *testing.T, loadAtEnd bool) (*fault.Solver, int, int, int) {
	var b network.Builder
	a := b.AddBus("A", abc, math.Sqrt(3))
	e := b.AddBus("E", abc, math.Sqrt(3))
	must[int](t)(b.AddInfeed("S", a, network.InfeedData{Z1: 0.05i, Z2: 0.05i, Z0: 0.15i, VLL: math.Sqrt(3)}))
	l := must[int](t)(b.AddLine("L", a, e, abc, network.BalancedMatrix(3, 0.05i, 0.15i), nil))
	if loadAtEnd {
		must[int](t)(b.AddShunt(network.Load, "Z", e, abc, network.ConnectedShunt(network.EarthedWye, 3, 1/(0.9+0.4359i))))
	}
	return build(t, &b), l, a, e
}

func TestOpenConductors(t *testing.T) {
	const source = "derived: Z1 in series with Z2 parallel Z0 (one open), all three in series (two open)"
	for _, x := range []float64{-1, 0, 0.4, 1} { // −1: at the end of the branch
		s, l, _, _ := openNetwork(t, true)
		p := s.Net.AtTerminal(l, 0)
		s.WatchCurrent(&p)
		part := func(phases string) fault.Part {
			q := fault.Part{Break: fault.OpenConductor, Element: l, Terminal: 0, Place: fault.Place{Line: -1}}
			if x >= 0 {
				q = fault.Part{Break: fault.OpenConductor, Place: fault.OnLine(l, x), Terminal: -1, Element: -1}
			}
			if err := q.Kind.Phases.UnmarshalText([]byte(phases)); err != nil {
				t.Fatal(err)
			}
			return q
		}
		one := must[*fault.Compound](t)(s.Compound([]fault.Part{part("A")}))
		for c, want := range []float64{0, 0.89834, 0.97858} {
			near(t, "one open, "+source, cmplx.Abs(one.Current[0][c]), want, 6e-6)
		}
		i0, i1, i2 := s.Net.Rotation.Sequence([3]complex128(one.Current[0][:3]))
		near(t, "I2/I1", cmplx.Abs(i2/i1), 0.52749, 6e-6)
		near(t, "I0", cmplx.Abs(i0-(-0.2385+0.17735i)), 0, 1e-5)
		two := must[*fault.Compound](t)(s.Compound([]fault.Part{part("BC")}))
		for c, want := range []float64{0.92328, 0, 0} {
			near(t, "two open, "+source, cmplx.Abs(two.Current[0][c]), want, 6e-6)
		}
	}
}

// A broken conductor with one end on earth equals an earth fault beside a
// break made of a bus with an open switch.
func TestBrokenConductorOnEarth(t *testing.T) {
	for _, x := range []float64{-1, 0.3} {
		for _, side := range []fault.Break{fault.OpenFromEarthed, fault.OpenToEarthed} {
			s, l, _, _ := openNetwork(t, true)
			p, q := s.Net.AtTerminal(l, 0), s.Net.AtTerminal(l, 1)
			s.WatchCurrent(&p)
			s.WatchCurrent(&q)
			part := fault.Part{Break: side, Element: l, Terminal: 0, Place: fault.Place{Line: -1}, Resistance: 0.2}
			at := x
			if x >= 0 {
				part.Place, part.Element, part.Terminal = fault.OnLine(l, x), -1, -1
			} else {
				at = 0
			}
			part.Kind.Phases = 1
			got := must[*fault.Compound](t)(s.Compound([]fault.Part{part}))

			// The same with explicit conductors: phase A apart, its halves at buses of their own.
			var b network.Builder
			a := b.AddBus("A", abc, math.Sqrt(3))
			m1 := b.AddBus("M1", abc, math.Sqrt(3))
			m2 := b.AddBus("M2", abc, math.Sqrt(3))
			e := b.AddBus("E", abc, math.Sqrt(3))
			must[int](t)(b.AddInfeed("S", a, network.InfeedData{Z1: 0.05i, Z2: 0.05i, Z0: 0.15i, VLL: math.Sqrt(3)}))
			tiny := complex(1e-8, 0)
			k := complex(at, 0)
			must[int](t)(b.AddLine("L1", a, m1, abc, network.BalancedMatrix(3, 0.05i*k+tiny, 0.15i*k+tiny), nil))
			must[int](t)(b.AddLine("open", m1, m2, abc, []complex128{1e4, 0, 0, 0, tiny, 0, 0, 0, tiny}, nil))
			must[int](t)(b.AddLine("L2", m2, e, abc, network.BalancedMatrix(3, 0.05i*(1-k), 0.15i*(1-k)), nil))
			must[int](t)(b.AddShunt(network.Load, "Z", e, abc, network.ConnectedShunt(network.EarthedWye, 3, 1/(0.9+0.4359i))))
			r := build(t, &b)
			bus := m1
			if side == fault.OpenToEarthed {
				bus = m2
			}
			want := must[*fault.Result](t)(r.Fault(fault.AtBus(bus), kind(t, "lg:A"), 0.2))
			// The open link's 10 kohm lets through 1 V / 10 kohm.
			near(t, "earth current", cmplx.Abs(got.Parts[0].Earth-want.Earth), 0, 2e-4)
			near(t, "voltage of the earthed end", cmplx.Abs(got.Parts[0].Earth*0.2-want.V[0]), 0, 2e-4)
		}
	}
}

// Cross-country: two earth faults on different phases of an unearthed part
// carry the same current through earth; computed by hand from the loop.
func TestCrossCountry(t *testing.T) {
	var b network.Builder
	a := b.AddBus("A", abc, 10e3)
	e := b.AddBus("E", abc, 10e3)
	f := b.AddBus("F", abc, 10e3)
	must[int](t)(b.AddInfeed("S", a, network.InfeedData{Z1: 1i, Z2: 1i, Open: true, VLL: 10e3}))
	l1 := must[int](t)(b.AddLine("L1", a, e, abc, network.BalancedMatrix(3, 1+2i, 2+5i), nil))
	must[int](t)(b.AddLine("L2", a, f, abc, network.BalancedMatrix(3, 0.5+1i, 1+3i), nil))
	s := build(t, &b)
	p := s.Net.AtTerminal(l1, 0)
	s.WatchCurrent(&p)
	got := must[*fault.Compound](t)(s.Compound([]fault.Part{
		{Place: fault.AtBus(e), Kind: kind(t, "lg:A"), Terminal: -1, Element: -1},
		{Place: fault.AtBus(f), Kind: kind(t, "lg:B"), Terminal: -1, Element: -1}}))
	// derived: the loop is twice the source's phase impedance (no zero sequence: line-to-line current) and the
	// self impedance of each line, Zs = (2·Z1+Z0)/3
	zs1 := (2*(1+2i) + (2 + 5i)) / 3
	zs2 := (2*(0.5+1i) + (1 + 3i)) / 3
	want := 10e3 / cmplx.Abs(2i+zs1+zs2)
	near(t, "cross-country current", cmplx.Abs(got.Parts[0].I[0]), want, 1e-6*want)
	near(t, "sum of the earth currents", cmplx.Abs(got.Parts[0].Earth+got.Parts[1].Earth), 0, 1e-6)
	near(t, "seen in the first line", cmplx.Abs(got.Current[0][0]), want, 1e-6*want)
}

// A compound of one short circuit is that short circuit.
func TestCompoundOfOne(t *testing.T) {
	net, probes, err := feeder(30, true)
	if err != nil {
		t.Fatal(err)
	}
	s := must[*fault.Solver](t)(fault.NewSolver(net))
	for i := range probes {
		s.WatchCurrent(&probes[i])
		s.WatchVoltage(probes[i].Bus(net))
	}
	for _, k := range fault.All(abc) {
		for _, p := range []fault.Place{fault.AtBus(17), fault.OnLine(12, 0.37)} {
			one := must[*fault.Result](t)(s.Fault(p, k, 2))
			two := must[*fault.Compound](t)(s.Compound([]fault.Part{{Place: p, Kind: k, Resistance: 2, Terminal: -1, Element: -1}}))
			for c := 0; c < 3; c++ {
				near(t, k.String()+" current", cmplx.Abs(one.I[c]-two.I[c]), 0, 1e-7*one.Largest())
				near(t, k.String()+" voltage", cmplx.Abs(one.V[c]-two.V[c]), 0, 1e-6*7200)
				for w := range one.Current {
					near(t, k.String()+" watched current", cmplx.Abs(one.Current[w][c]-two.Current[w][c]), 0, 1e-6*one.Largest())
					near(t, k.String()+" watched voltage", cmplx.Abs(one.Voltage[w][c]-two.Voltage[w][c]), 0, 1e-6*7200)
				}
			}
		}
	}
}

// Two bolted faults at one place that join the same conductor: the current of
// both together has a value, that of each has none. With a resistance in one, it
// carries nothing beside the other.
func TestFaultsThatShare(t *testing.T) {
	var b network.Builder
	x, y := b.AddBus("X", abc, 12470), b.AddBus("Y", abc, 12470)
	must[int](t)(b.AddInfeed("S", x, network.InfeedData{Z1: 1i, Z2: 1i, Z0: 1i, VLL: 12470}))
	b.AddSwitch("switch", "W", x, y, true)
	s := build(t, &b)
	part := func(bus int, text string, r float64) fault.Part {
		return fault.Part{Place: fault.AtBus(bus), Kind: kind(t, text), Resistance: r, Element: -1, Terminal: -1}
	}
	if _, err := s.Compound([]fault.Part{part(x, "lg:A", 0), part(y, "3ph-g", 0)}); !errors.Is(err, fault.ErrNoShare) {
		t.Errorf("two bolted faults on phase A of one node: %v, want ErrNoShare", err)
	}
	out, err := s.Compound([]fault.Part{part(x, "lg:A", 2), part(y, "3ph-g", 0)})
	if err != nil {
		t.Fatal(err)
	}
	full := 12470 / math.Sqrt(3)
	if got := cmplx.Abs(out.Parts[0].I[0]); got > 1e-9*full {
		t.Errorf("the fault with resistance carries %g A, want 0 (derived)", got)
	}
	near(t, "the bolted one", cmplx.Abs(out.Parts[1].I[0]), full, 1e-9*full)
}
