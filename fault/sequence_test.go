package fault_test

import (
	"fmt"
	"math"
	"math/cmplx"
	"testing"

	"pgregory.net/rapid"

	"feederwright/fault"
	"feederwright/network"
	"feederwright/phasor"
)

// Sequence networks, as the textbooks have them: three nodal matrices of the
// positive, negative and zero sequence with complex turns ratios, joined at the
// fault. Derived from C. L. Fortescue's components and the usual equivalent
// circuits (P. M. Anderson, Analysis of Faulted Power Systems, chapters 3 and 7
// [from memory]); nothing is shared with package network but the plan.
type sequences struct {
	p    *plan
	node []int // of each bus; −1 without source
	n    int
	y    [3]*dense // zero, positive, negative
	src  []complex128
	null []int     // zero-sequence part without earth of each node, or −1
	w    []float64 // zero-sequence weight of each node in its part
	a    complex128
}

// A star between two zero-sequence terminals.
type zeroBranch struct {
	from, to int
	ratio    float64 // V_to/V_from that carries no current
}

func newSequences(p *plan) *sequences {
	s := &sequences{p: p, node: make([]int, len(p.buses)), a: phasor.Polar(1, 120)}
	if p.rotation == phasor.ACB {
		s.a = phasor.Polar(1, -120)
	}
	// Nodes: buses joined by closed switches, reached from an infeed.
	merge := make([]int, len(p.buses))
	for i := range merge {
		merge[i] = i
	}
	root := func(i int) int {
		for merge[i] != i {
			i = merge[i]
		}
		return i
	}
	for _, w := range p.switches {
		if w.closed {
			merge[root(w.from)] = root(w.to)
		}
	}
	live := make(map[int]bool)
	for _, x := range p.infeeds {
		live[root(x.bus)] = true
	}
	for changed := true; changed; {
		changed = false
		reach := func(a, b int) {
			if live[root(a)] != live[root(b)] {
				live[root(a)], live[root(b)], changed = true, true, true
			}
		}
		for _, l := range p.lines {
			reach(l.from, l.to)
		}
		for _, x := range p.trafos {
			reach(x.from, x.to)
		}
	}
	number := make(map[int]int)
	for b := range p.buses {
		s.node[b] = -1
		if r := root(b); live[r] {
			if _, ok := number[r]; !ok {
				number[r] = s.n
				s.n++
			}
			s.node[b] = number[r]
		}
	}
	middles := s.n // the zero-sequence network has a node in the middle of each YNyn unit
	for _, x := range p.trafos {
		if s.passes(x) {
			middles++
		}
	}
	s.y = [3]*dense{newDense(middles), newDense(s.n), newDense(s.n)}
	s.src = make([]complex128, s.n)
	series := func(q, i, j int, y complex128) {
		*s.y[q].at(i, i) += y
		*s.y[q].at(j, j) += y
		*s.y[q].at(i, j) -= y
		*s.y[q].at(j, i) -= y
	}
	shunt := func(q, i int, y complex128) { *s.y[q].at(i, i) += y }
	var branches []zeroBranch
	for _, l := range p.lines {
		i, j := s.node[l.from], s.node[l.to]
		if i < 0 || j < 0 {
			continue
		}
		for q, z := range []complex128{l.z0, l.z1, l.z1} {
			b := l.b1
			if q == 0 {
				b = l.b0
			}
			if i != j {
				series(q, i, j, 1/z)
			}
			shunt(q, i, complex(0, b/2))
			shunt(q, j, complex(0, b/2))
		}
		branches = append(branches, zeroBranch{i, j, 1})
	}
	middle := s.n
	for _, x := range p.trafos {
		i, j := s.node[x.from], s.node[x.to]
		if i < 0 || j < 0 {
			continue
		}
		n := x.VTo / x.VFrom
		for q := 1; q <= 2; q++ {
			angle := -30 * float64(x.Group.Clock) // the second winding lags
			if (q == 2) != (p.rotation == phasor.ACB) {
				angle = -angle
			}
			t := phasor.Polar(n, angle)
			y := 1 / x.Z1
			*s.y[q].at(j, j) += y
			*s.y[q].at(j, i) -= y * t
			*s.y[q].at(i, j) -= y * cmplx.Conj(t)
			*s.y[q].at(i, i) += y * complex(n*n, 0)
		}
		if s.passes(x) {
			r := complex(n, 0)
			if c := x.Group.Clock; c == 2 || c == 6 || c == 10 {
				r = -r
			}
			yf, yt := 1/(x.Z0/2+3*x.From.Z*complex(n*n, 0)), 1/(x.Z0/2+3*x.To.Z)
			*s.y[0].at(middle, middle) += yf
			*s.y[0].at(middle, i) -= yf * r
			*s.y[0].at(i, middle) -= yf * r
			*s.y[0].at(i, i) += yf * r * r
			series(0, middle, j, yt)
			if x.Zm0 != 0 {
				shunt(0, middle, 1/x.Zm0)
			}
			branches = append(branches, zeroBranch{i, middle, real(r)}, zeroBranch{middle, j, 1})
			middle++
			continue
		}
		if z, ok := zeroShunt(x, x.Group.From.Kind, x.Group.To.Kind, x.From); ok {
			shunt(0, i, 1/(z/complex(n*n, 0)+3*x.From.Z))
		}
		if z, ok := zeroShunt(x, x.Group.To.Kind, x.Group.From.Kind, x.To); ok {
			shunt(0, j, 1/(z+3*x.To.Z))
		}
	}
	for _, x := range p.infeeds {
		i := s.node[x.bus]
		if !x.Open {
			shunt(0, i, 1/x.Z0)
		}
		shunt(1, i, 1/x.Z1)
		shunt(2, i, 1/x.Z2)
		s.src[i] += cmplx.Rect(x.VLL/math.Sqrt(3), x.Angle) / x.Z1
	}
	for _, e := range p.earthers {
		if i := s.node[e.bus]; i >= 0 {
			shunt(0, i, 1/(e.z0+3*e.zn))
		}
	}
	for _, x := range p.shunts {
		i := s.node[x.bus]
		if i < 0 {
			continue
		}
		y := x.each
		if x.connection == network.Delta {
			y *= 3
		}
		if x.connection == network.EarthedWye {
			shunt(0, i, y)
		}
		shunt(1, i, y)
		shunt(2, i, y)
	}
	s.findNull(branches)
	return s
}

func (s *sequences) passes(x planTrafo) bool {
	return s.node[x.from] >= 0 && s.node[x.to] >= 0 && x.Group.From.Kind == 'Y' && x.Group.To.Kind == 'Y' && x.From.Earthed && x.To.Earthed
}

// zeroShunt is the zero-sequence impedance from an earthed winding to earth, in
// ohms of the second winding, where one exists.
func zeroShunt(x planTrafo, own, other byte, p network.NeutralPoint) (complex128, bool) {
	switch {
	case !p.Earthed:
		return 0, false
	case own == 'Z', other == 'D':
		return x.Z0, true
	case x.Zm0 == 0:
		return 0, false
	case other == 'Y':
		return x.Zm0 + x.Z0/2, true
	}
	return x.Zm0, true
}

// findNull finds the parts of the zero-sequence network that nothing ties to
// earth and makes the matrix regular there by an admittance that carries nothing.
func (s *sequences) findNull(branches []zeroBranch) {
	n := s.y[0].n
	s.null = make([]int, n)
	s.w = make([]float64, n)
	for i := range s.null {
		s.null[i] = -1
	}
	for i := range n {
		if s.w[i] != 0 {
			continue
		}
		s.w[i] = 1
		part := []int{i}
		for k := 0; k < len(part); k++ {
			for _, b := range branches {
				if b.from == part[k] && s.w[b.to] == 0 {
					s.w[b.to] = s.w[b.from] * b.ratio
					part = append(part, b.to)
				}
				if b.to == part[k] && s.w[b.from] == 0 {
					s.w[b.from] = s.w[b.to] / b.ratio
					part = append(part, b.from)
				}
			}
		}
		leaves := false
		for _, u := range part {
			sum, most := complex128(0), 0.0
			for _, v := range part {
				sum += *s.y[0].at(u, v) * complex(s.w[v], 0)
				most = math.Max(most, cmplx.Abs(*s.y[0].at(u, v))*math.Abs(s.w[v]))
			}
			leaves = leaves || cmplx.Abs(sum) > 1e-12*most
		}
		if !leaves {
			for _, u := range part {
				s.null[u] = i
			}
			d := *s.y[0].at(i, i)
			if d == 0 {
				d = 1
			}
			*s.y[0].at(i, i) += d
		}
	}
}

// solve gives the phase currents drawn and the voltages of all nodes.
func (s *sequences) solve(t failer, bus int, k fault.Kind, ohm float64) (current [3]complex128, v [][3]complex128) {
	at := s.node[bus]
	var col [3][]complex128
	var pre []complex128
	for q := range 3 {
		unit := make([]complex128, s.y[q].n)
		unit[at] = 1
		rhs := [][]complex128{unit}
		if q == 1 {
			rhs = append(rhs, s.src)
		}
		x, ok := s.y[q].solve(rhs...)
		if !ok {
			t.Fatalf("sequence matrix %d is singular", q)
		}
		col[q] = x[0]
		if q == 1 {
			pre = x[1]
		}
	}
	// The reference phase is the one that differs from the others; a, b, c then
	// stand for it and the next two in order.
	ref := 0
	switch k.Type {
	case fault.LineEarth:
		ref = k.Phases.Conductors()[0]
	case fault.LineLine, fault.LineLineEarth:
		ref = (abc &^ k.Phases).Conductors()[0]
	}
	turn := [3]complex128{1, 1, 1} // of the reference phase: a² a turn for positive sequence
	for range ref {
		turn[1] *= s.a * s.a
		turn[2] *= s.a
	}
	e := pre[at] * turn[1]
	z0, z1, z2, r := col[0][at], col[1][at], col[2][at], complex(ohm, 0)
	floating := s.null[at] >= 0
	var i [3]complex128
	shift := complex128(0)
	switch k.Type {
	case fault.ThreePhase, fault.ThreePhaseEarth:
		i[1] = e / (z1 + r)
	case fault.LineEarth:
		if floating {
			shift = -e
			break
		}
		x := e / (z0 + z1 + z2 + 3*r)
		i = [3]complex128{x, x, x}
	case fault.LineLine:
		i[1] = e / (z1 + z2 + r)
		i[2] = -i[1]
	case fault.LineLineEarth:
		if floating {
			i[1] = e / (z1 + z2)
			i[2] = -i[1]
			// b and c stand at earth: zero sequence takes up what they have.
			shift = -(s.a*s.a*(e-z1*i[1]) - s.a*z2*i[2])
			break
		}
		z := z0 + 3*r
		i[1] = e / (z1 + z2*z/(z2+z))
		i[2] = -i[1] * z / (z2 + z)
		i[0] = -i[1] * z2 / (z2 + z)
	}
	abcOf := func(q [3]complex128) [3]complex128 { // of the frame of the reference phase, put in its place
		a, a2 := s.a, s.a*s.a
		f := [3]complex128{q[0] + q[1] + q[2], q[0] + a2*q[1] + a*q[2], q[0] + a*q[1] + a2*q[2]}
		var out [3]complex128
		for j := range 3 {
			out[(ref+j)%3] = f[j]
		}
		return out
	}
	v = make([][3]complex128, s.n)
	for j := range v {
		q := [3]complex128{-col[0][j] * i[0], pre[j]*turn[1] - col[1][j]*i[1], -col[2][j] * i[2]}
		if floating && s.null[j] == s.null[at] {
			q[0] += shift * complex(s.w[j]/s.w[at], 0)
		}
		v[j] = abcOf(q)
	}
	return abcOf(i), v
}

// The phase model against sequence networks on random balanced networks, for
// every kind of fault.
func TestAgainstSequenceNetworks(t *testing.T) {
	const source = "derived: sequence networks of the test"
	rapid.Check(t, func(t *rapid.T) {
		r := seeded(t)
		p := drawPlan(r, wish{buses: 30, balanced: true})
		s := p.solver(t, order{})
		n := s.Net
		q := newSequences(p)
		for b := range p.buses {
			if (n.Fed[b] != 0) != (q.node[b] >= 0) {
				t.Fatalf("bus %s is fed in one model alone", p.buses[b].name)
			}
		}
		for range 5 {
			bus, k, ohm := drawFault(r, n)
			res, err := s.Fault(fault.AtBus(bus), k, ohm)
			if err != nil {
				t.Fatalf("%v", err)
			}
			current, v := q.solve(t, bus, k, ohm)
			state, _ := s.State(res)
			what := fmt.Sprintf("%s at %s, %.3g ohm", k, p.buses[bus].name, ohm)
			most := math.Max(res.Largest(), 0.01*baseVA/math.Sqrt(3)/p.buses[bus].vll)
			for c := range 3 {
				if d := cmplx.Abs(res.I[c] - current[c]); !(d <= tight*most) {
					t.Errorf("%s: current of phase %d %v, sequence networks %v (%s)", what, c, res.I[c], current[c], source)
				}
			}
			for b := range p.buses {
				for _, c := range n.Fed[b].Conductors() {
					if d := cmplx.Abs(state[n.Unknown(b, c)] - v[q.node[b]][c]); !(d <= tight*p.buses[b].vll) {
						t.Errorf("%s: voltage %s.%d %v, sequence networks %v (%s)", what, p.buses[b].name, c, state[n.Unknown(b, c)], v[q.node[b]][c], source)
					}
				}
			}
			th, err := s.At(fault.AtBus(bus))
			if err != nil {
				t.Fatalf("%v", err)
			}
			z0, z1, z2, balanced, ok := s.Sequence(&th)
			if !ok || !balanced {
				t.Errorf("%s: a balanced network is said not to be", what)
			}
			if q.null[q.node[bus]] < 0 || !k.Type.Earth() {
				loop := z1 // of the three-phase kinds
				switch k.Type {
				case fault.LineEarth:
					loop = (z0 + z1 + z2) / 3
				case fault.LineLine, fault.LineLineEarth:
					loop = z1 + z2
				}
				if d := cmplx.Abs(res.Loop - loop); !(d <= tight*cmplx.Abs(loop)) {
					t.Errorf("%s: loop impedance %v, from sequence impedances %v", what, res.Loop, loop)
				}
			}
			at := q.node[bus]
			one := make([]complex128, q.n)
			one[at] = 1
			for m, got := range map[int]complex128{1: z1, 2: z2} {
				want, _ := q.y[m].solve(one)
				if d := cmplx.Abs(got - want[0][at]); !(d <= tight*cmplx.Abs(got)) {
					t.Errorf("%s: sequence impedance %d %v, sequence networks %v", p.buses[bus].name, m, got, want[0][at])
				}
			}
			if q.null[at] < 0 {
				unit := make([]complex128, q.y[0].n)
				unit[at] = 1
				want, _ := q.y[0].solve(unit)
				if d := cmplx.Abs(z0 - want[0][at]); !(d <= tight*cmplx.Abs(z0)) {
					t.Errorf("%s: zero-sequence impedance %v, sequence networks %v", p.buses[bus].name, z0, want[0][at])
				}
			}
		}
	})
}
