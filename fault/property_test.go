package fault_test

import (
	"errors"
	"math"
	"math/cmplx"
	"testing"

	"pgregory.net/rapid"

	"feederwright/fault"
	"feederwright/network"
	"feederwright/quantity"
)

// tight is the tolerance of laws that hold exactly but for rounding: some
// 1e-16 times the conditioning, which random networks with charging as their
// only earth bring to 1e-10.
const tight = 1e-9

// A dense matrix, solved by elimination with row pivoting.
type dense struct {
	n int
	a []complex128
}

func newDense(n int) *dense { return &dense{n, make([]complex128, n*n)} }

func (d *dense) at(i, j int) *complex128 { return &d.a[i*d.n+j] }

// solve returns the solution for each right-hand side and whether there is one.
func (d *dense) solve(rhs ...[]complex128) ([][]complex128, bool) {
	n, m := d.n, len(rhs)
	w := n + m
	a := make([]complex128, n*w)
	for i := range n {
		copy(a[i*w:], d.a[i*n:(i+1)*n])
		for k := range m {
			a[i*w+n+k] = rhs[k][i]
		}
	}
	for k := range n {
		p := k
		for i := k + 1; i < n; i++ {
			if cmplx.Abs(a[i*w+k]) > cmplx.Abs(a[p*w+k]) {
				p = i
			}
		}
		if a[p*w+k] == 0 {
			return nil, false
		}
		for j := range w {
			a[p*w+j], a[k*w+j] = a[k*w+j], a[p*w+j]
		}
		for i := k + 1; i < n; i++ {
			f := a[i*w+k] / a[k*w+k]
			if f == 0 {
				continue
			}
			for j := k; j < w; j++ {
				a[i*w+j] -= f * a[k*w+j]
			}
		}
	}
	out := make([][]complex128, m)
	for r := range m {
		x := make([]complex128, n)
		for i := n - 1; i >= 0; i-- {
			v := a[i*w+n+r]
			for j := i + 1; j < n; j++ {
				v -= a[i*w+j] * x[j]
			}
			x[i] = v / a[i*w+i]
		}
		out[r] = x
	}
	return out, true
}

// rank counts the pivots of elimination with full pivoting that are not
// rounding: each is compared with the largest entry of the matrix.
func (d *dense) rank(threshold float64) int {
	n := d.n
	a := append([]complex128(nil), d.a...)
	first := 0.0
	for k := range n {
		pi, pj, best := k, k, 0.0
		for i := k; i < n; i++ {
			for j := k; j < n; j++ {
				if x := cmplx.Abs(a[i*n+j]); x > best {
					pi, pj, best = i, j, x
				}
			}
		}
		if k == 0 {
			first = best
		}
		if best <= threshold*first {
			return k
		}
		for j := range n {
			a[pi*n+j], a[k*n+j] = a[k*n+j], a[pi*n+j]
		}
		for i := range n {
			a[i*n+pj], a[i*n+k] = a[i*n+k], a[i*n+pj]
		}
		for i := k + 1; i < n; i++ {
			f := a[i*n+k] / a[k*n+k]
			for j := k; j < n; j++ {
				a[i*n+j] -= f * a[k*n+j]
			}
		}
	}
	return n
}

// assembled is the network's matrix from its elements alone, without the
// admittances that hold floating parts, and its source currents. Numbers of
// unknowns are the network's.
func assembled(n *network.Network) (*dense, []complex128) {
	d := newDense(n.Dim())
	b := make([]complex128, n.Dim())
	for i := range n.Elements {
		if !n.Live(i) {
			continue
		}
		e := &n.Elements[i]
		var at []int
		for _, t := range e.Terminals {
			for _, c := range t.Phases.Conductors() {
				at = append(at, n.Unknown(t.Bus, c))
			}
		}
		for r, u := range at {
			for c, v := range at {
				*d.at(u, v) += e.Y[r*len(at)+c]
			}
			if e.Inject != nil {
				b[u] += e.Inject[r]
			}
		}
	}
	return d, b
}

// volts is the nominal phase voltage of each unknown.
func volts(n *network.Network) []float64 {
	v := make([]float64, n.Dim())
	for b := range n.Buses {
		for c := range 4 {
			if u := n.Unknown(b, c); u >= 0 {
				v[u] = n.Buses[b].Nominal / math.Sqrt(3)
			}
		}
	}
	return v
}

// Kirchhoff's current law at every node and every bus, in parts with and
// without earth: currents into all elements, through switches and into the fault.
func TestKirchhoff(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := seeded(t)
		p := drawPlan(r, wish{buses: 40})
		s := p.solver(t, order{})
		n := s.Net
		probes := make([]network.Probe, len(n.Switches))
		for i, w := range n.Switches {
			probes[i] = n.ThroughSwitch(i, w.To)
			s.WatchCurrent(&probes[i])
		}
		bus, k, ohm := drawFault(r, n)
		res, err := s.Fault(fault.AtBus(bus), k, ohm)
		if err != nil {
			t.Fatalf("%v", err)
		}
		state, quality := s.State(res)
		if !(quality.Residual < 1e-12) {
			t.Errorf("relative residual %g", quality.Residual)
		}
		node := make([]complex128, n.Dim())
		atBus := make([][4]complex128, len(n.Buses))
		for i := range n.Elements {
			if !n.Live(i) {
				continue
			}
			currents := n.ElementCurrents(i, state)
			row := 0
			for _, term := range n.Elements[i].Terminals {
				for _, c := range term.Phases.Conductors() {
					node[n.Unknown(term.Bus, c)] += currents[row]
					atBus[term.Bus][c] += currents[row]
					row++
				}
			}
		}
		for c, x := range res.I {
			if x != 0 {
				node[n.Unknown(bus, c)] += x
				atBus[bus][c] += x
			}
		}
		for i, w := range n.Switches {
			if probes[i].Carries() {
				for c := range 4 {
					atBus[w.From][c] += res.Current[i][c]
					atBus[w.To][c] -= res.Current[i][c]
				}
			} else if w.Closed && n.Node[w.From] >= 0 {
				t.Errorf("switch %s is closed, in no loop and fed, and carries nothing: %s", w.Name, probes[i].Undetermined())
			}
		}
		v := volts(n)
		for u, x := range node {
			if limit := tight * scale(n, state, v[u]*math.Sqrt(3)); !(cmplx.Abs(x) <= limit) {
				t.Errorf("%s at %s: currents at unknown %d sum to %.3g A, more than %.3g", k, n.Buses[bus].Name, u, cmplx.Abs(x), limit)
			}
		}
		for b := range n.Buses {
			for c, x := range atBus[b] {
				if n.Node[b] < 0 && x == 0 {
					continue
				}
				if limit := tight * scale(n, state, n.Buses[b].Nominal); !(cmplx.Abs(x) <= limit) {
					t.Errorf("%s at %s: currents at %s.%c sum to %.3g A, more than %.3g", k, n.Buses[bus].Name, n.Buses[b].Name, "ABCN"[c], cmplx.Abs(x), limit)
				}
			}
		}
		// What the fault is: the voltages at it, from the state.
		var legs, at [4]complex128
		for c := range 4 {
			legs[c] = res.I[c]
			if u := n.Unknown(bus, c); u >= 0 {
				at[c] = state[u]
			}
		}
		checkFault(t, n.Buses[bus].Nominal, k, ohm, legs, at, res.Earth)
	})
}

// checkFault holds currents and voltages against the definition of the kind.
func checkFault(t failer, vll float64, k fault.Kind, r float64, i, v [4]complex128, earth complex128) {
	t.Helper()
	list := k.Phases.Conductors()
	largest := vll / math.Sqrt(3) * 1e-9
	zero := func(what string, x complex128, limit float64) {
		t.Helper()
		if !(cmplx.Abs(x) <= limit) {
			t.Errorf("%s, %g ohm: %s is %.3g, more than %.3g", k, r, what, cmplx.Abs(x), limit)
		}
	}
	sum, most := complex128(0), 0.0
	for c, x := range i {
		if !k.Phases.HasConductor(c) && x != 0 {
			t.Errorf("%s: current %v in phase %d", k, x, c)
		}
		sum += x
		most = math.Max(most, cmplx.Abs(x))
	}
	if !k.Type.Earth() && earth != 0 {
		t.Errorf("%s: %v into earth", k, earth)
	}
	zero("the sum of the phase currents less that into earth", sum-earth, tight*most)
	rr := complex(r, 0)
	switch k.Type {
	case fault.LineEarth:
		zero("V − R·I", v[list[0]]-rr*i[list[0]], largest)
	case fault.LineLine:
		zero("V − V − R·I", v[list[0]]-v[list[1]]-rr*i[list[0]], largest)
	case fault.LineLineEarth:
		zero("V − V", v[list[0]]-v[list[1]], largest)
		zero("V − R·ΣI", v[list[0]]-rr*earth, largest)
	case fault.ThreePhase:
		star := v[0] - rr*i[0]
		for c := 1; c < 3; c++ {
			zero("difference of star voltages", v[c]-rr*i[c]-star, largest)
		}
	case fault.ThreePhaseEarth:
		for c := range 3 {
			zero("V − R·I", v[c]-rr*i[c], largest)
		}
	}
}

// injection draws a unit current from a place: kind lg, or ll in parts that
// can't take one from earth. The columns are ΔV per ampere.
type injection struct {
	bus  int
	kind fault.Kind
}

// Passive plant is reciprocal: the voltage at k for a current at m equals the
// voltage at m for the same current at k.
func TestReciprocity(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := seeded(t)
		p := drawPlan(r, wish{buses: 20, reciprocal: true})
		s := p.solver(t, order{})
		n := s.Net
		buses := fedBuses(n)
		for _, b := range buses {
			th, err := s.At(fault.AtBus(b))
			if err != nil {
				t.Fatalf("%v", err)
			}
			k := th.Phases.Count()
			for i := range k {
				for j := range i {
					x, y := th.Z[i*k+j], th.Z[j*k+i]
					if !(cmplx.Abs(x-y) <= tight*cmplx.Abs(th.Z[i*k+i])) {
						t.Errorf("Z at %s is not symmetric: %v and %v", n.Buses[b].Name, x, y)
					}
				}
			}
		}
		draw := func() injection {
			b := buses[r.Intn(len(buses))]
			var kinds []fault.Kind
			for _, k := range fault.All(n.Fed[b] & abc) {
				if part, _ := n.FloatingOf(n.Unknown(b, k.Phases.Conductors()[0])); k.Type == fault.LineLine || k.Type == fault.LineEarth && part < 0 {
					kinds = append(kinds, k)
				}
			}
			if len(kinds) == 0 {
				t.Skip("no current can be drawn here")
			}
			return injection{b, kinds[r.Intn(len(kinds))]}
		}
		// measure gives the voltage change of b's terminals per ampere drawn at a.
		measure := func(a, b injection) complex128 {
			base := n.Buses[a.bus].Nominal * n.Buses[a.bus].Nominal / baseVA
			res, err := s.Fault(fault.AtBus(a.bus), a.kind, base)
			if err != nil {
				t.Fatalf("%v", err)
			}
			if res.Largest() < 1e-3*baseVA/n.Buses[a.bus].Nominal { // a phase that stands at earth before the fault
				t.Skip("too little current to divide by")
			}
			state, _ := s.State(res)
			list := b.kind.Phases.Conductors()
			change := func(c int) complex128 { u := n.Unknown(b.bus, c); return state[u] - s.Prefault()[u] }
			v := change(list[0])
			if b.kind.Type == fault.LineLine {
				v -= change(list[1])
			}
			return v / res.I[a.kind.Phases.Conductors()[0]]
		}
		a, b := draw(), draw()
		ab, ba := measure(a, b), measure(b, a)
		limit := math.Sqrt(cmplx.Abs(measure(a, a)) * cmplx.Abs(measure(b, b))) // |Zab| ≤ this for passive plant, nearly
		if !(cmplx.Abs(ab-ba) <= 1e-8*limit) {
			t.Errorf("%s at %s and %s at %s: %v one way, %v the other", a.kind, n.Buses[a.bus].Name, b.kind, n.Buses[b.bus].Name, ab, ba)
		}
	})
}

// sameFault compares all results of one fault in two solvers of the same plant.
// Conductor c of the first is conductor to(c) of the second.
func sameFault(t failer, s1, s2 *fault.Solver, bus1, bus2 int, k1, k2 fault.Kind, r float64, to func(int) int) {
	t.Helper()
	r1, err1 := s1.Fault(fault.AtBus(bus1), k1, r)
	r2, err2 := s2.Fault(fault.AtBus(bus2), k2, r)
	if err1 != nil || err2 != nil {
		t.Fatalf("%v, %v", err1, err2)
	}
	n1, n2 := s1.Net, s2.Net
	full := n1.Buses[bus1].Nominal / math.Sqrt(3)
	x1, _ := s1.State(r1)
	x2, _ := s2.State(r2)
	most := scale(n1, x1, n1.Buses[bus1].Nominal)
	for c := range 4 {
		if d := cmplx.Abs(r1.I[c] - r2.I[to(c)]); !(d <= tight*most) {
			t.Errorf("%s: fault current of phase %d differs by %.3g A of %.3g", k1, c, d, most)
		}
		if d := cmplx.Abs(r1.V[c] - r2.V[to(c)]); !(d <= tight*full) {
			t.Errorf("%s: voltage of phase %d at the fault differs by %.3g V", k1, c, d)
		}
	}
	if d := cmplx.Abs(r1.Loop - r2.Loop); k1.Phases.Count() == 1 && !(d <= tight*cmplx.Abs(r1.Loop)) {
		t.Errorf("%s: loop impedance %v and %v", k1, r1.Loop, r2.Loop)
	}
	if d := cmplx.Abs(r1.Earth - r2.Earth); !(d <= tight*most) {
		t.Errorf("%s: earth current differs by %.3g A", k1, d)
	}
	for b1 := range n1.Buses {
		b2 := n2.BusByName(n1.Buses[b1].Name)
		if n1.Fed[b1].Count() != n2.Fed[b2].Count() {
			t.Fatalf("bus %s is fed in %s and in %s", n1.Buses[b1].Name, n1.Fed[b1], n2.Fed[b2])
		}
		for _, c := range n1.Fed[b1].Conductors() {
			u1, u2 := n1.Unknown(b1, c), n2.Unknown(b2, to(c))
			if d := cmplx.Abs(x1[u1] - x2[u2]); !(d <= tight*n1.Buses[b1].Nominal) {
				t.Errorf("%s at %s: voltage %s.%d differs by %.3g V", k1, n1.Buses[bus1].Name, n1.Buses[b1].Name, c, d)
			}
		}
	}
}

func same(c int) int { return c }

// Names of phases carry no physics: A→B→C→A everywhere turns every result.
func TestRelabelling(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := seeded(t)
		p := drawPlan(r, wish{buses: 25})
		s1, s2 := p.solver(t, order{}), p.relabelled().solver(t, order{})
		bus, k, ohm := drawFault(r, s1.Net)
		turned := fault.Kind{Type: k.Type, Phases: turn(k.Phases)}
		sameFault(t, s1, s2, bus, bus, k, turned, ohm, func(c int) int {
			if c == 3 {
				return 3
			}
			return (c + 1) % 3
		})
	})
}

// Nor does the order in which the study lists things. Where a part floats its
// reference bus may be another; voltages to earth then differ by its
// convention before the fault, and are compared once a fault fixes them.
func TestOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := seeded(t)
		p := drawPlan(r, wish{buses: 25})
		o := order{
			r.Perm(len(p.buses)),
			r.Perm(p.elements()),
			r.Perm(len(p.switches)),
		}
		s1, s2 := p.solver(t, order{}), p.solver(t, o)
		if len(s1.Net.Floating) != len(s2.Net.Floating) || len(s1.Net.Dead) != len(s2.Net.Dead) {
			t.Fatalf("floating parts %v and %v, dead %v and %v", s1.Net.Floating, s2.Net.Floating, s1.Net.Dead, s2.Net.Dead)
		}
		for i, f := range s1.Net.Floating {
			// Compare with the same reference: elsewhere only differences are defined.
			found := false
			for _, g := range s2.Net.Floating {
				found = found || s1.Net.Buses[f.Reference].Name == s2.Net.Buses[g.Reference].Name
			}
			if !found {
				t.Skip("another reference bus for part ", i)
			}
		}
		bus, k, ohm := drawFault(r, s1.Net)
		sameFault(t, s1, s2, bus, s2.Net.BusByName(s1.Net.Buses[bus].Name), k, k, ohm, same)
	})
}

// The block solution against elimination of the full matrix that the test
// itself assembles. Floating parts are bordered: their mean at the reference is
// zero, and a current may leave there that must come out zero.
func TestAgainstDense(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := seeded(t)
		p := drawPlan(r, wish{buses: 25})
		s := p.solver(t, order{})
		n := s.Net
		a, b := assembled(n)
		dim, parts := n.Dim(), len(n.Floating)
		big := newDense(dim + parts)
		for i := range dim {
			copy(big.a[i*big.n:], a.a[i*dim:(i+1)*dim])
		}
		for k, f := range n.Floating {
			for _, c := range n.Buses[f.Reference].Phases.Conductors() {
				if u := n.Unknown(f.Reference, c); u >= 0 {
					if part, w := n.FloatingOf(u); part == k {
						*big.at(u, dim+k) = complex(w, 0)
						*big.at(dim+k, u) = complex(w, 0)
					}
				}
			}
		}
		buses := fedBuses(n)
		bus := buses[r.Intn(len(buses))]
		list := n.Fed[bus].Conductors()
		rhs := [][]complex128{append(append([]complex128(nil), b...), make([]complex128, parts)...)}
		for _, c := range list {
			unit := make([]complex128, dim+parts)
			unit[n.Unknown(bus, c)] = 1
			rhs = append(rhs, unit)
		}
		x, ok := big.solve(rhs...)
		if !ok {
			t.Fatalf("the bordered matrix is singular")
		}
		v := volts(n)
		for u, want := range x[0][:dim] {
			if d := cmplx.Abs(s.Prefault()[u] - want); !(d <= tight*v[u]) {
				t.Errorf("voltage before the fault: %v, dense %v", s.Prefault()[u], want)
			}
		}
		th, err := s.At(fault.AtBus(bus))
		if err != nil {
			t.Fatalf("%v", err)
		}
		k := len(list)
		largest := 0.0
		for i := range k {
			largest = math.Max(largest, cmplx.Abs(th.Z[i*k+i]))
			if d := cmplx.Abs(th.V[i] - x[0][n.Unknown(bus, list[i])]); !(d <= tight*v[n.Unknown(bus, list[i])]) {
				t.Errorf("Thevenin voltage off by %g", d)
			}
		}
		// In a floating part only currents that sum to zero there, and differences
		// of voltages, have a meaning: take both against the part's first conductor.
		col := func(m func(i, j int) complex128, i, j int) complex128 {
			first := func(q int) int {
				for f := range k {
					if th.Part[f] == th.Part[q] {
						return f
					}
				}
				return q
			}
			fi, fj := i, j
			wi, wj := complex128(0), complex128(0)
			if th.Part[i] >= 0 {
				fi = first(i)
				wi = complex(th.Weight[i]/th.Weight[fi], 0)
			}
			if th.Part[j] >= 0 {
				fj = first(j)
				wj = complex(th.Weight[j]/th.Weight[fj], 0)
			}
			return m(i, j) - wi*m(fi, j) - wj*m(i, fj) + wi*wj*m(fi, fj)
		}
		for i := range k {
			for j := range k {
				got := col(func(i, j int) complex128 { return th.Z[i*k+j] }, i, j)
				want := col(func(i, j int) complex128 { return x[1+j][n.Unknown(bus, list[i])] }, i, j)
				if d := cmplx.Abs(got - want); !(d <= tight*largest) {
					t.Errorf("Z[%d][%d] at %s: %v, dense %v", i, j, n.Buses[bus].Name, got, want)
				}
			}
		}
	})
}

// Floating parts are found exactly where the matrix has a null space, with
// its vectors, and the convention holds at the reference bus.
func TestFloatingParts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := seeded(t)
		p := drawPlan(r, wish{buses: 16})
		s := p.solver(t, order{buses: r.Perm(len(p.buses))})
		n := s.Net
		a, _ := assembled(n)
		v := volts(n)
		// In per unit, so that one threshold serves all voltages: the smallest path
		// to earth drawn is 4e-6, rounding is below 1e-13.
		for i := range a.n {
			for j := range a.n {
				*a.at(i, j) *= complex(v[i]*v[j], 0)
			}
		}
		if null := a.n - a.rank(1e-12); null != len(n.Floating) {
			t.Fatalf("the matrix has a null space of %d and %d floating parts are found: %+v", null, len(n.Floating), n.Floating)
		}
		largest := 0.0
		for _, x := range a.a {
			largest = math.Max(largest, cmplx.Abs(x))
		}
		for k, f := range n.Floating {
			in := make(map[int]bool)
			for _, b := range f.Buses {
				in[b] = true
			}
			w := make([]float64, a.n)
			most := 0.0
			for b := range n.Buses {
				member := false
				for _, c := range n.Buses[b].Phases.Conductors() {
					if u := n.Unknown(b, c); u >= 0 {
						if part, weight := n.FloatingOf(u); part == k {
							w[u] = weight / v[u]
							most = math.Max(most, math.Abs(w[u]))
							member = true
						}
					}
				}
				if member != in[b] {
					t.Errorf("bus %s: in the list of part %d %v, has conductors of it %v", n.Buses[b].Name, k, in[b], member)
				}
			}
			for i := range a.n {
				sum := complex128(0)
				for j := range a.n {
					sum += *a.at(i, j) * complex(w[j], 0)
				}
				if !(cmplx.Abs(sum) <= 1e-12*largest*most) {
					t.Errorf("part %d: its vector draws %.3g per unit at unknown %d", k, cmplx.Abs(sum)/most, i)
				}
			}
			mean := complex128(0)
			for _, c := range n.Buses[f.Reference].Phases.Conductors() {
				if u := n.Unknown(f.Reference, c); u >= 0 {
					if part, weight := n.FloatingOf(u); part == k {
						if math.Abs(weight-1) > tight {
							t.Errorf("part %d: weight %g at its reference", k, weight)
						}
						mean += s.Prefault()[u]
					}
				}
			}
			if !(cmplx.Abs(mean) <= tight*n.Buses[f.Reference].Nominal) {
				t.Errorf("part %d: mean %v V at its reference before the fault", k, mean/3)
			}
		}
	})
}

// A wye-wye bank with both neutrals earthed passes zero sequence both ways
// but earths nothing: two unearthed systems joined by it float as one, in
// the turns ratio, with the sign of the clock.
func TestJointFloating(t *testing.T) {
	for _, tt := range []struct {
		group string
		ratio float64
	}{{"YNyn0", 0.2}, {"YNyn6", -0.2}, {"YNyn4", 0.2}, {"YNyn10", -0.2}} {
		p := &plan{}
		lateral := p.bus("lateral", quantity.PhaseB, 20e3) // first, and not the reference
		a := p.bus("A", abc, 100e3)
		b := p.bus("B", abc, 20e3)
		e := p.bus("E", abc, 20e3)
		p.matrixLine("spur", e, lateral, quantity.PhaseB, []complex128{1i}, nil)
		p.infeed("S", a, network.InfeedData{Z1: 1 + 10i, Z2: 1 + 10i, Open: true, VLL: 100e3})
		point := network.NeutralPoint{Exists: true, Earthed: true}
		p.trafo("T", a, b, network.TransformerData{Group: group(t, tt.group), VFrom: 100e3, VTo: 20e3, Z1: 2i, Z0: 1.8i, From: point, To: point})
		p.line("L", b, e, 1+1i, 3+3i, 0, 0)
		s := p.solver(t, order{})
		if len(s.Net.Floating) != 1 || len(s.Net.Floating[0].Buses) != 4 || s.Net.Floating[0].Reference != a {
			t.Fatalf("%s: floating parts %+v, want one with all buses and A as reference", tt.group, s.Net.Floating)
		}
		_, wa := s.Net.FloatingOf(s.Net.Unknown(a, 1))
		_, we := s.Net.FloatingOf(s.Net.Unknown(e, 2))
		near(t, tt.group+": weight at the reference", wa, 1, 1e-12)
		near(t, tt.group+": ratio of the weights (derived: turns ratio)", we/wa, tt.ratio, 1e-12)
		// An earth fault at E lifts the healthy phases there and, through the bank, at A.
		res := must[*fault.Result](t)(s.Fault(fault.AtBus(e), kind(t, "lg:A"), 0))
		state, _ := s.State(res)
		near(t, tt.group+": fault current", res.Largest(), 0, 1e-6)
		near(t, tt.group+": healthy phase", cmplx.Abs(res.V[1]), 20e3, 1e-3)
		zero := (state[s.Net.Unknown(a, 0)] + state[s.Net.Unknown(a, 1)] + state[s.Net.Unknown(a, 2)]) / 3
		near(t, tt.group+": zero-sequence voltage at A", cmplx.Abs(zero), 100e3/math.Sqrt(3), 1e-2)
	}
}

// The weights of a part without earth are products of turns ratios, which
// rounding leaves unequal by a digit where they should be equal. A fault between
// phases must not take that for a way out of the part: its star point, or the
// middle of two phases, would then stand at 1e19 V. Expected values are derived:
// no zero-sequence voltage, and E/(Z1 of the infeed and both transformers).
func TestFloatingWeightsRounded(t *testing.T) {
	for i := range 100 {
		vf := 20e3 + 100*float64(i)
		p := &plan{}
		b := p.bus("B", abc, 10e3)
		a := p.bus("A", abc, 20e3)
		x := p.bus("X", abc, 20e3)
		p.infeed("S", x, network.InfeedData{Z1: 1 + 10i, Z2: 1 + 10i, Open: true, VLL: 20e3})
		point := network.NeutralPoint{Exists: true, Earthed: true}
		p.trafo("D", x, a, network.TransformerData{Group: group(t, "Dd0"), VFrom: 20e3, VTo: 20e3, Z1: 2i})
		p.trafo("T", a, b, network.TransformerData{Group: group(t, "YNyn0"), VFrom: vf, VTo: 10e3, Z1: 2i, Z0: 1.8i, From: point, To: point})
		s := p.solver(t, order{})
		n := 10e3 / vf
		star := 20e3 * n / math.Sqrt(3) / cmplx.Abs((1+12i)*complex(n*n, 0)+2i)
		for text, want := range map[string]float64{"3ph": star, "ll:BC": star * math.Sqrt(3) / 2} {
			res := must[*fault.Result](t)(s.Fault(fault.AtBus(b), kind(t, text), 0))
			near(t, text+": fault current", res.Largest(), want, 1e-9*want)
			near(t, text+": zero-sequence voltage", cmplx.Abs(res.V[0]+res.V[1]+res.V[2])/3, 0, 1e-9*10e3)
		}
	}
}

// What is watched equals what the full state gives.
func TestWatched(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := seeded(t)
		p := drawPlan(r, wish{buses: 25})
		s := p.solver(t, order{})
		n := s.Net
		type place struct{ element, terminal int }
		var places []place
		for i := range n.Elements {
			for k := range n.Elements[i].Terminals {
				places = append(places, place{i, k})
				forward, neutral := n.AtTerminal(i, k), n.InNeutral(i, k)
				back := forward.Reversed()
				s.WatchCurrent(&forward)
				s.WatchCurrent(&neutral)
				s.WatchCurrent(&back)
			}
		}
		first := len(places) * 3
		for i, w := range n.Switches {
			to, from := n.ThroughSwitch(i, w.To), n.ThroughSwitch(i, w.From)
			reversed := to.Reversed()
			s.WatchCurrent(&to)
			s.WatchCurrent(&from)
			s.WatchCurrent(&reversed)
		}
		for b := range n.Buses {
			s.WatchVoltage(b)
		}
		bus, k, ohm := drawFault(r, n)
		at := fault.AtBus(bus)
		if r.Intn(2) == 0 {
			for i := range n.Elements {
				e := &n.Elements[i]
				if e.Kind == network.Line && n.Live(i) && e.Terminals[0].Phases&n.Fed[e.Terminals[0].Bus] == e.Terminals[0].Phases && k.Phases&^e.Terminals[0].Phases == 0 {
					at = fault.OnLine(i, r.Float64())
				}
			}
		}
		res, err := s.Fault(at, k, ohm)
		if err != nil {
			t.Fatalf("%v", err)
		}
		state, _ := s.State(res)
		for q, pl := range places {
			e := &n.Elements[pl.element]
			phases := e.Terminals[pl.terminal].Phases
			limit := tight * scale(n, state, n.Buses[e.Terminals[pl.terminal].Bus].Nominal)
			var want [4]complex128
			if n.Live(pl.element) {
				row := 0
				for _, t := range e.Terminals[:pl.terminal] {
					row += t.Phases.Count()
				}
				currents := n.ElementCurrents(pl.element, state)
				for _, c := range phases.Conductors() {
					want[c] = currents[row]
					row++
					if at.Line == pl.element {
						// The state knows the fault on a line as shares at its ends.
						share := 1 - at.Fraction
						if pl.terminal == 1 {
							share = at.Fraction
						}
						want[c] += complex(share, 0) * res.I[c]
					}
				}
			}
			for c := range 4 {
				for j, sign := range []complex128{1, -1, -1} {
					if got := res.Current[3*q+j][c]; !(cmplx.Abs(got-sign*want[c]) <= limit) {
						t.Errorf("%s: current of phase %d into %s: watched %v (way %d), from the state %v", k, c, e.Name, got, j, want[c])
					}
				}
			}
		}
		for i, w := range n.Switches {
			limit := tight * scale(n, state, n.Buses[w.From].Nominal)
			for c := range 4 {
				to, from, reversed := res.Current[first+3*i][c], res.Current[first+3*i+1][c], res.Current[first+3*i+2][c]
				if !(cmplx.Abs(to+from) <= limit) {
					t.Errorf("%s: switch %s phase %d carries %v one way and %v the other", k, w.Name, c, to, from)
				}
				if !(cmplx.Abs(to+reversed) <= limit) {
					t.Errorf("%s: switch %s phase %d: probe %v, the same reversed %v", k, w.Name, c, to, reversed)
				}
			}
		}
		for b := range n.Buses {
			for c := range 4 {
				want := complex128(0)
				if n.Fed[b].HasConductor(c) {
					want = state[n.Unknown(b, c)]
				}
				if d := cmplx.Abs(res.Voltage[b][c] - want); !(d <= tight*n.Buses[b].Nominal) {
					t.Errorf("%s: voltage %s.%d: watched %v, in the state %v", k, n.Buses[b].Name, c, res.Voltage[b][c], want)
				}
			}
		}
		// Earth currents come back somewhere.
		sum := complex128(0)
		for _, x := range s.EarthReturns(state) {
			sum += x.Current
		}
		before := complex128(0)
		for _, x := range s.EarthReturns(s.Prefault()) {
			before += x.Current
		}
		limit := 0.0 // a sum over all voltages: the largest scale
		for b := range n.Buses {
			limit = math.Max(limit, tight*scale(n, state, n.Buses[b].Nominal))
		}
		if d := cmplx.Abs(sum - before - res.Earth); !(d <= limit) {
			t.Errorf("%s: %v comes back from earth, %v before the fault, and the fault draws %v", k, sum, before, res.Earth)
		}
	})
}

// A place on a line equals a bus put there.
func TestPlaceIsBus(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := seeded(t)
		p := drawPlan(r, wish{buses: 20, noCharging: true})
		if len(p.lines) == 0 {
			t.Skip("no line")
		}
		i := r.Intn(len(p.lines))
		x := 0.001 + 0.998*r.Float64()
		q := *p
		l := p.lines[i]
		mid := q.bus("middle", l.phases, p.buses[l.from].vll)
		near, far := l, l
		near.to, near.z = mid, scaled(l.z, complex(x, 0))
		far.name, far.from, far.z = "far", mid, scaled(l.z, complex(1-x, 0))
		q.lines = append(append([]planLine(nil), p.lines...), far)
		q.lines[i] = near
		s1, s2 := p.solver(t, order{}), q.solver(t, order{})
		n1, n2 := s1.Net, s2.Net
		element := n1.ElementByName(network.Line, l.name)
		there := n2.ElementByName(network.Line, l.name)
		for k := range n1.Floating {
			if n1.Buses[n1.Floating[k].Reference].Name != n2.Buses[n2.Floating[k].Reference].Name {
				t.Skip("another reference")
			}
		}
		p1, p2 := n1.AtTerminal(element, 0), n2.AtTerminal(there, 0)
		f1, f2 := n1.AtTerminal(element, 1), n2.AtTerminal(n2.ElementByName(network.Line, "far"), 1)
		for _, w := range []*network.Probe{&p1, &f1} {
			s1.WatchCurrent(w)
		}
		for _, w := range []*network.Probe{&p2, &f2} {
			s2.WatchCurrent(w)
		}
		for _, b := range []int{l.from, l.to} {
			s1.WatchVoltage(b)
			s2.WatchVoltage(b)
		}
		for _, k := range fault.All(l.phases & n2.Fed[mid]) {
			r1, err1 := s1.Fault(fault.OnLine(element, x), k, 0.3)
			r2, err2 := s2.Fault(fault.AtBus(mid), k, 0.3)
			if err1 != nil || err2 != nil {
				t.Fatalf("%v, %v", err1, err2)
			}
			state, _ := s2.State(r2)
			vll := n2.Buses[mid].Nominal
			amperes := tight * scale(n2, state, vll)
			for c := range 4 {
				if d := cmplx.Abs(r1.I[c] - r2.I[c]); !(d <= amperes) {
					t.Errorf("%s phase %d: fault current %v on the line, %v at the bus", k, c, r1.I[c], r2.I[c])
				}
				if d := cmplx.Abs(r1.V[c] - r2.V[c]); !(d <= tight*vll) {
					t.Errorf("%s phase %d: voltage %v on the line, %v at the bus", k, c, r1.V[c], r2.V[c])
				}
				for e := range 2 {
					if d := cmplx.Abs(r1.Current[e][c] - r2.Current[e][c]); !(d <= amperes) {
						t.Errorf("%s phase %d: end %d delivers %v to a place on the line, %v to a bus", k, c, e, r1.Current[e][c], r2.Current[e][c])
					}
					if d := cmplx.Abs(r1.Voltage[e][c] - r2.Voltage[e][c]); !(d <= tight*vll) {
						t.Errorf("%s phase %d: voltage at end %d: %v and %v", k, c, e, r1.Voltage[e][c], r2.Voltage[e][c])
					}
				}
			}
		}
	})
}

// A switch is the limit of a small impedance. Results change in proportion to
// a small impedance ε, so twice the result at ε/2 less that at ε is the limit
// but for ε².
func TestSwitchIsLimit(t *testing.T) {
	const epsilon = 1e-6 // of V²/10 MVA; sections are from 0.002
	rapid.Check(t, func(t *rapid.T) {
		r := seeded(t)
		p := drawPlan(r, wish{buses: 16})
		var closed []int
		for i, w := range p.switches {
			if w.closed {
				closed = append(closed, i)
			}
		}
		if len(closed) == 0 {
			t.Skip("no closed switch")
		}
		i := closed[r.Intn(len(closed))]
		w := p.switches[i]
		s := p.solver(t, order{})
		n := s.Net
		probe := n.ThroughSwitch(i, w.to)
		s.WatchCurrent(&probe)
		bus, k, ohm := drawFault(r, n)
		res, err := s.Fault(fault.AtBus(bus), k, ohm)
		if err != nil {
			t.Fatalf("%v", err)
		}
		state, _ := s.State(res)
		phases := p.buses[w.from].phases & p.buses[w.to].phases
		with := func(eps float64) [4]complex128 {
			q := *p
			q.switches = append(append([]planSwitch(nil), p.switches[:i]...), p.switches[i+1:]...)
			vll := p.buses[w.from].vll
			z := scaled(network.BalancedMatrix(phases.Count(), 1i, 1i), complex(eps*vll*vll/baseVA, 0))
			q.lines = append(append([]planLine(nil), p.lines...), planLine{name: "limit", from: w.from, to: w.to, phases: phases, z: z})
			s := q.solver(t, order{})
			e := s.Net.ElementByName(network.Line, "limit")
			if !s.Net.Live(e) {
				return [4]complex128{}
			}
			at := s.Net.AtTerminal(e, 0)
			s.WatchCurrent(&at)
			res, err := s.Fault(fault.AtBus(bus), k, ohm)
			if err != nil {
				t.Fatalf("%v", err)
			}
			return res.Current[0]
		}
		one, half := with(epsilon), with(epsilon/2)
		// (ε/0.002)² = 2.5e-7, and rounding of 1e-16/ε.
		limit := 1e-6 * scale(n, state, p.buses[w.from].vll)
		for c := range 4 {
			if want := 2*half[c] - one[c]; !(cmplx.Abs(res.Current[0][c]-want) <= limit) {
				t.Errorf("%s at %s: switch %s phase %d carries %v, as a small impedance %v", k, n.Buses[bus].Name, w.name, c, res.Current[0][c], want)
			}
		}
	})
}

// A fault where nothing feeds it, or on phases that are not there, is refused.
func TestRefused(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := seeded(t)
		p := drawPlan(r, wish{buses: 16})
		s := p.solver(t, order{})
		for b := range p.buses {
			for _, k := range fault.All(abc) {
				_, err := s.Fault(fault.AtBus(b), k, 0)
				switch {
				case s.Net.Fed[b] == 0 && !errors.Is(err, fault.ErrNoSource):
					t.Errorf("%s has no source: error %v", p.buses[b].name, err)
				case s.Net.Fed[b] != 0 && k.Phases&^s.Net.Fed[b] != 0 && !errors.Is(err, fault.ErrNoPhase):
					t.Errorf("%s has %s: %s gives error %v", p.buses[b].name, s.Net.Fed[b], k, err)
				case s.Net.Fed[b]&k.Phases == k.Phases && err != nil:
					t.Errorf("%s at %s: %v", k, p.buses[b].name, err)
				}
			}
		}
	})
}
