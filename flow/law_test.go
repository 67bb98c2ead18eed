package flow

import (
	"fmt"
	"math"
	"math/cmplx"
	"testing"

	"pgregory.net/rapid"

	"feederwright/network"
	"feederwright/quantity"
)

// A grid is a random network: a tree with some loops, one- and three-phase
// loads of both models to earth and between phases, capacitors, an inverter.
type grid struct {
	parent []int // of bus k+1
	ties   [][2]int
	z      []complex128 // ohm, sequence impedance of each line
	loads  []gridLoad
}

type gridLoad struct {
	bus, a, b int // conductors; b < 0: earth
	s         complex128
	model     network.LoadModel
}

const gridVolt = 12.47e3

func drawGrid(t *rapid.T) grid {
	var g grid
	n := rapid.IntRange(1, 12).Draw(t, "buses")
	for k := range n {
		g.parent = append(g.parent, rapid.IntRange(0, k).Draw(t, "parent"))
	}
	if n > 2 && rapid.Bool().Draw(t, "loop") {
		g.ties = append(g.ties, [2]int{rapid.IntRange(0, n-2).Draw(t, "from"), n})
	}
	for range n + len(g.ties) {
		g.z = append(g.z, complex(rapid.Float64Range(0.05, 0.5).Draw(t, "r"), rapid.Float64Range(0.05, 0.6).Draw(t, "x")))
	}
	for range rapid.IntRange(1, 10).Draw(t, "loads") {
		l := gridLoad{bus: rapid.IntRange(1, n).Draw(t, "bus"), a: rapid.IntRange(0, 2).Draw(t, "phase"), b: -1, model: network.ConstantPower}
		if rapid.Bool().Draw(t, "delta") {
			l.b = (l.a + 1) % 3
		}
		if rapid.Bool().Draw(t, "current") {
			l.model = network.ConstantCurrent
		}
		l.s = complex(rapid.Float64Range(1e3, 150e3).Draw(t, "p"), rapid.Float64Range(-20e3, 60e3).Draw(t, "q"))
		g.loads = append(g.loads, l)
	}
	return g
}

// build makes the network with its phases turned on by so many, and its buses
// and lines added in another order where reversed.
func (g *grid) build(t testing.TB, turn int, reversed bool) (*network.Network, []int) {
	var b network.Builder
	n := len(g.parent) + 1
	number := make([]int, n)
	for k := range n {
		at := k
		if reversed {
			at = n - 1 - k
		}
		number[at] = b.AddBus(fmt.Sprint(at), abc, gridVolt)
	}
	_, err := b.AddInfeed("G", number[0], network.InfeedData{Z1: 0.1 + 0.6i, Z2: 0.1 + 0.6i, Z0: 0.2 + 0.5i, VLL: gridVolt, Angle: -2 * math.Pi / 3 * float64(turn)})
	keep(t, err)
	line := func(i, from, to int) {
		_, err := b.AddLine(fmt.Sprint("L", i), number[from], number[to], abc, network.BalancedMatrix(3, g.z[i], 2.5*g.z[i]), nil)
		keep(t, err)
	}
	if reversed {
		for i := len(g.parent) - 1; i >= 0; i-- {
			line(i, i+1, g.parent[i])
		}
	} else {
		for i, p := range g.parent {
			line(i, p, i+1)
		}
	}
	for i, tie := range g.ties {
		line(len(g.parent)+i, tie[0], tie[1])
	}
	for i, l := range g.loads {
		x := network.DemandBranch{A: (l.a + 3 - turn) % 3, B: l.b, Model: l.model, S: l.s, Rated: gridVolt / math.Sqrt(3)}
		if l.b >= 0 {
			x.B, x.Rated = (l.b+3-turn)%3, gridVolt
		}
		_, err := b.AddDemand(fmt.Sprint("D", i), number[l.bus], abc, []network.DemandBranch{x})
		keep(t, err)
	}
	net, err := b.Build()
	keep(t, err)
	return net, number
}

// Laws of every state: what sources give is what loads take and branches lose;
// lines with resistance lose power; names of phases and the order in which
// plant is added don't matter; both iterations find the same state.
func TestLaws(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		g := drawGrid(r)
		net, number := g.build(t, 0, false)
		s, err := Solve(net, Options{})
		keep(t, err)
		if !s.Converged {
			r.Skip("too much load for so random a network")
		}
		b := s.Balance()
		load := cmplx.Abs(b.Loads) + cmplx.Abs(b.Sources)
		// The stop rule leaves 1e-9 of the largest load at every conductor.
		if !(cmplx.Abs(b.Rest) <= 1e-9*float64(3*len(net.Buses))*load) {
			r.Errorf("power is not in balance: %v of %v left", b.Rest, b.Sources)
		}
		if real(b.Losses) < -1e-9*load {
			r.Errorf("branches give %g W", -real(b.Losses))
		}
		for i := range net.Elements {
			if e := &net.Elements[i]; e.Kind == network.Line {
				if p := real(s.Power(i, 0) + s.Power(i, 1)); p < -1e-9*load {
					r.Errorf("line %s gives %g W", e.Name, -p)
				}
			}
		}
		same := func(what string, other *Solution, to []int, turn int) {
			if !other.Converged {
				r.Errorf("%s: no state", what)
				return
			}
			for bus := range number {
				for k := range 3 {
					x, y := s.Voltage(number[bus], k), other.Voltage(to[bus], (k+3-turn)%3)
					if !(math.Abs(cmplx.Abs(x)-cmplx.Abs(y)) <= 1e-7*gridVolt) {
						r.Errorf("%s: bus %d phase %d has %g V, not %g V", what, bus, k, cmplx.Abs(y), cmplx.Abs(x))
					}
				}
			}
		}
		turned, to := g.build(t, 1, false)
		o, err := Solve(turned, Options{})
		keep(t, err)
		same("phases named in turn", o, to, 1)
		reversed, to := g.build(t, 0, true)
		o, err = Solve(reversed, Options{})
		keep(t, err)
		same("plant in reverse order", o, to, 0)
		o, err = Solve(net, Options{NewtonOnly: true})
		keep(t, err)
		same("Newton's", o, number, 0)
	})
}

// The slopes that Newton's iteration uses are the slopes of the currents
// (derived: difference quotients, error of second order in the step).
func TestSlopes(t *testing.T) {
	var b network.Builder
	bus := b.AddBus("1", abc, 400)
	phase := 400 / math.Sqrt(3)
	demands := []func(){
		func() {
			_, err := b.AddDemand("D", bus, abc, network.LoadBranches(network.EarthedWye, abc, 5e3+2e3i, 400, phase, network.ConstantPower))
			keep(t, err)
		},
		func() {
			_, err := b.AddDemand("D", bus, abc, network.LoadBranches(network.Delta, abc, 5e3+2e3i, 400, phase, network.ConstantCurrent))
			keep(t, err)
		},
		func() {
			_, err := b.AddRunning(network.InductionMachine, "M", bus, network.MachineData{Z1: 1i, Z2: 1i}, 4e3+3e3i)
			keep(t, err)
		},
		func() {
			_, err := b.AddInverter("I", bus, network.InverterData{Rated: 400, Power: 10e3, Output: 6e3 + 1e3i, Limit: 1.2, Response: network.ActiveCurrent, Threshold: 0.9})
			keep(t, err)
		},
	}
	_, err := b.AddInfeed("G", bus, stiff(400))
	keep(t, err)
	for _, add := range demands {
		add()
	}
	net, err := b.Build()
	keep(t, err)
	tried := 0
	for i := range net.Elements {
		e := &net.Elements[i]
		if e.Demand == nil && e.Control == nil {
			continue
		}
		tried++
		v := []complex128{225 + 10i, -120 - 190i, -105 + 205i}
		current := func(v []complex128) []complex128 {
			out := make([]complex128, 3)
			e.Demanded(net.Rotation, v, out, nil, nil)
			return out
		}
		byV, byConj, at := make([]complex128, 9), make([]complex128, 9), make([]complex128, 3)
		e.Demanded(net.Rotation, v, at, byV, byConj)
		for k := range 3 {
			for _, h := range []complex128{1e-3, 1e-3i} {
				up, down := append([]complex128(nil), v...), append([]complex128(nil), v...)
				up[k] += h
				down[k] -= h
				x, y := current(up), current(down)
				for r := range 3 {
					got := byV[3*r+k]*h + byConj[3*r+k]*cmplx.Conj(h)
					want := (x[r] - y[r]) / 2
					if !(cmplx.Abs(got-want) <= 1e-6*cmplx.Abs(h)) {
						t.Errorf("%s %s: current %d moves by %v with voltage %d by %v, want %v (derived: difference quotient)", e.Kind, e.Name, r, got, k, h, want)
					}
				}
			}
		}
	}
	if tried != 4 {
		t.Errorf("%d demands tried, want 4", tried)
	}
}

// Beyond the largest power there is no state, and the multiple of the load up
// to which there is one has a closed form: with A = λ(RP+XQ) − V1²/2, V2² = −A ±
// √(A² − λ²Z²S²) is real up to λ = V1²/2 / (RP + XQ + Z·S), where V2² = −A.
func TestBeyondTheLargestPower(t *testing.T) {
	const z, s = 0.02 + 0.08i, 0.8 + 0.4i
	product := real(z)*real(s) + imag(z)*imag(s)
	top := 0.5 / (product + cmplx.Abs(z)*cmplx.Abs(s))
	sol, err := Solve(twoBus(t, z, complex(1.3*top, 0)*s*1e6), Options{})
	keep(t, err)
	if sol.Converged {
		t.Fatal("a state is found at 1.3 times the largest power")
	}
	tr := sol.Trouble
	if want := 1 / 1.3; !(math.Abs(tr.Multiple-want) <= 2e-3) { // bisection to 1e-3, and the edge itself is not reached
		t.Errorf("there is a state up to %.4f of the load, want %.4f (derived: closed form)", tr.Multiple, want)
	}
	if tr.Bus != 1 || tr.LowBus != 1 {
		t.Errorf("power is missing at bus %d, and the voltage is lowest at bus %d; both are bus 1", tr.Bus, tr.LowBus)
	}
	// At the edge V2² = −A; near it V2 falls as the square root of the distance, here of 1e-3.
	if want := math.Sqrt(0.5 - top*product); !(math.Abs(tr.LowVoltage-want) <= 0.05) {
		t.Errorf("voltage at the edge %.3f, want %.3f (derived: closed form)", tr.LowVoltage, want)
	}
	// Just inside, the first iteration is slow and Newton's takes over.
	sol, err = Solve(twoBus(t, z, complex(0.99*top, 0)*s*1e6), Options{})
	keep(t, err)
	if !sol.Converged || sol.Newton == 0 {
		t.Errorf("at 0.99 of the largest power: converged %v, %d rounds of Newton's", sol.Converged, sol.Newton)
	}
	a := 0.99*top*product - 0.5
	want := math.Sqrt(-a + math.Sqrt(a*a-math.Pow(0.99*top*cmplx.Abs(z)*cmplx.Abs(s), 2)))
	if got := cmplx.Abs(sol.Voltage(1, 0)) / (1e3 / math.Sqrt(3)); !(math.Abs(got-want) <= 1e-6) {
		t.Errorf("V2 = %.8f, want the upper of the two states, %.8f (derived: closed form)", got, want)
	}
}

// A load to earth needs an earth.
func TestLoadToEarthWithoutEarth(t *testing.T) {
	var b network.Builder
	bus := b.AddBus("U", abc, 1e3)
	d := stiff(1e3)
	d.Open = true
	_, err := b.AddInfeed("G", bus, d)
	keep(t, err)
	_, err = b.AddDemand("D", bus, abc, network.LoadBranches(network.EarthedWye, abc, 1e3, 1e3, 577, network.ConstantPower))
	keep(t, err)
	net, err := b.Build()
	keep(t, err)
	want := "load D stands between phase and earth, and its part of the network (U) has no path to earth: give it the connection delta, or earth a neutral there"
	if _, err := Solve(net, Options{}); err == nil || err.Error() != want {
		t.Errorf("error %q, want %q", err, want)
	}
}

// Shares of a load, by hand: 9 kVA on 400 V.
func TestLoadBranches(t *testing.T) {
	const s = 9e3 + 0i
	for _, tt := range []struct {
		c      network.Connection
		phases quantity.Phases
		want   string
	}{
		{network.EarthedWye, abc, "[{0 -1 power (3000+0i) 231} {1 -1 power (3000+0i) 231} {2 -1 power (3000+0i) 231}]"},
		{network.Wye, abc | quantity.PhaseN, "[{0 3 power (3000+0i) 231} {1 3 power (3000+0i) 231} {2 3 power (3000+0i) 231}]"},
		{network.Wye, abc, "[{0 1 power (3000+0i) 400} {1 2 power (3000+0i) 400} {2 0 power (3000+0i) 400}]"},
		{network.Delta, abc, "[{0 1 power (3000+0i) 400} {1 2 power (3000+0i) 400} {2 0 power (3000+0i) 400}]"},
		{network.Delta, quantity.PhaseA | quantity.PhaseC, "[{0 1 power (9000+0i) 400}]"},
		{network.Wye, quantity.PhaseB | quantity.PhaseN, "[{0 1 power (9000+0i) 231}]"},
		{network.Delta, quantity.PhaseB, "[]"},
	} {
		if got := fmt.Sprint(network.LoadBranches(tt.c, tt.phases, s, 400, 231, network.ConstantPower)); got != tt.want {
			t.Errorf("%s on %s: %s, want %s (by hand)", tt.c, tt.phases, got, tt.want)
		}
	}
}
