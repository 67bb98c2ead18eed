package network

import (
	"fmt"
	"math"
	"math/cmplx"
	"testing"

	"feederwright/phasor"
	"feederwright/quantity"
)

// allGroups are the vector groups that IEC 60076-1 knows for two windings.
func allGroups(t *testing.T) []quantity.VectorGroup {
	var list []quantity.VectorGroup
	for _, from := range []string{"D", "Y", "YN", "Z", "ZN"} {
		for _, to := range []string{"d", "y", "yn", "z", "zn"} {
			for clock := range 12 {
				var g quantity.VectorGroup
				if g.UnmarshalText([]byte(fmt.Sprint(from, to, clock))) == nil {
					list = append(list, g)
				}
			}
		}
	}
	if len(list) != 150 { // 5 × 5 connections with six clock numbers each
		t.Fatalf("%d vector groups", len(list))
	}
	return list
}

// eliminate solves a·x = b for several right-hand sides, all row-major.
func eliminate(t *testing.T, n int, a []complex128, m int, b []complex128) []complex128 {
	t.Helper()
	a, b = append([]complex128(nil), a...), append([]complex128(nil), b...)
	for k := range n {
		p := k
		for i := k + 1; i < n; i++ {
			if cmplx.Abs(a[i*n+k]) > cmplx.Abs(a[p*n+k]) {
				p = i
			}
		}
		if cmplx.Abs(a[p*n+k]) < 1e-10 {
			t.Fatal("the windings have no single solution")
		}
		for j := range n {
			a[p*n+j], a[k*n+j] = a[k*n+j], a[p*n+j]
		}
		for j := range m {
			b[p*m+j], b[k*m+j] = b[k*m+j], b[p*m+j]
		}
		for i := range n {
			if f := a[i*n+k] / a[k*n+k]; i != k && f != 0 {
				for j := range n {
					a[i*n+j] -= f * a[k*n+j]
				}
				for j := range m {
					b[i*m+j] -= f * b[k*m+j]
				}
			}
		}
	}
	for i := range n {
		for j := range m {
			b[i*m+j] /= a[i*n+i]
		}
	}
	return b
}

// The clock number is what it is said to be: without load, the second winding
// lags by 30° a step for positive sequence and leads as much for negative, with
// the turns ratio between them, and neither draws a current.
func TestClockNumbers(t *testing.T) {
	const n = 0.2
	for _, g := range allGroups(t) {
		e := transformerElement(t, TransformerData{Group: g, VFrom: 1000, VTo: 1000 * n, Z1: 0.1 + 1i, Z0: 1i, Zm0: 5i})
		for _, sequence := range []float64{1, -1} {
			v := make([]complex128, 6)
			for k := range 3 {
				v[k] = phasor.Polar(1, -120*sequence*float64(k))
				v[3+k] = v[k] * phasor.Polar(n, -30*sequence*float64(g.Clock))
			}
			for i := range 6 {
				current := complex128(0)
				for j := range 6 {
					current += e.Y[6*i+j] * v[j]
				}
				if !(cmplx.Abs(current) <= 1e-14) {
					t.Errorf("%s: sequence %+g, lag %d·30°: conductor %d draws %v (derived: definition in IEC 60076-1, clause 7 [from memory])", g, sequence, g.Clock, i, current)
				}
			}
		}
	}
}

func transformerElement(t *testing.T, d TransformerData) *Element {
	t.Helper()
	b := Builder{}
	from, to := b.AddBus("from", abc, 1000), b.AddBus("to", abc, 1000)
	i, err := b.AddTransformer("T", from, to, d)
	if err != nil {
		t.Fatalf("%s: %v", d.Group, err)
	}
	return &b.elements[i]
}

// Coils on three limbs. Terminals are A B C and the neutral of the first
// winding, then those of the second.
type limbs struct {
	limb  []int
	turns []float64
	plus  []int // terminal, or 8 and more for corners inside
	minus []int
	leak  []complex128 // of each coil alone, ohm
}

func (l *limbs) coil(limb int, turns float64, plus, minus int, leak complex128) {
	l.limb = append(l.limb, limb%3)
	l.turns = append(l.turns, turns)
	l.plus = append(l.plus, plus)
	l.minus = append(l.minus, minus)
	l.leak = append(l.leak, leak)
}

// A way of joining coils: terminal x takes the limb x+turn, with sign; a delta
// goes on to terminal x+side, a zigzag to limb x+turn+side.
type way struct {
	turn, side int
	sign       float64
}

var ways = func() []way {
	var list []way
	for _, side := range []int{1, 2} {
		for turn := range 3 {
			list = append(list, way{turn, side, 1}, way{turn, side, -1})
		}
	}
	return list
}()

func (l *limbs) winding(kind byte, w way, vll float64, at int, leak complex128) {
	for x := range 3 {
		switch kind {
		case 'Y':
			l.coil(x+w.turn, w.sign*vll/math.Sqrt(3), at+x, at+3, leak)
		case 'D':
			l.coil(x+w.turn, w.sign*vll, at+x, at+(x+w.side)%3, leak)
		case 'Z':
			mid := 8 + at + x // an inner node
			l.coil(x+w.turn, w.sign*vll/3, at+x, mid, leak)
			l.coil(x+w.turn+w.side, -w.sign*vll/3, mid, at+3, leak)
		}
	}
}

// phasorOf is the voltage to the star of a winding's first terminal, where the
// coils of limb l have 1∠−120°·l.
func phasorOf(kind byte, w way) complex128 {
	flux := func(limb int) complex128 { return phasor.Polar(w.sign, -120*float64(limb)) }
	switch kind {
	case 'Y':
		return flux(w.turn)
	case 'Z':
		return flux(w.turn) - flux(w.turn+w.side)
	}
	// V0 − V_side = flux, and V_side = V0∠−120°·side.
	return flux(w.turn) / (1 - phasor.Polar(1, -120*float64(w.side)))
}

// admittance is the 8×8 matrix of the terminals: each coil's voltage is turns ×
// flux of its limb + leakage × current; the ampere-turns of a limb sum to zero;
// inner nodes draw nothing.
func (l *limbs) admittance(t *testing.T, tie []complex128) []complex128 {
	nodes := 8
	for i := range l.plus {
		nodes = max(nodes, l.plus[i]+1, l.minus[i]+1)
	}
	used := make([]bool, nodes)
	for i := range l.plus {
		used[l.plus[i]], used[l.minus[i]] = true, true
	}
	// Unknowns: coil currents, fluxes, voltages of the inner nodes and of the
	// neutrals; given: voltages of the six phases. tie[side] is the admittance of
	// a neutral to earth, or infinite.
	m := len(l.limb)
	var free []int
	for k := range nodes {
		if used[k] && (k >= 8 || k == 3 || k == 7) {
			free = append(free, k)
		}
	}
	size := m + 3 + len(free)
	a := make([]complex128, size*size)
	b := make([]complex128, size*6)
	column := func(node int) int {
		for i, f := range free {
			if f == node {
				return m + 3 + i
			}
		}
		return -1
	}
	for i := range m {
		a[i*size+i] = l.leak[i]
		a[i*size+m+l.limb[i]] = complex(l.turns[i], 0)
		a[(m+l.limb[i])*size+i] = complex(l.turns[i], 0)
		for _, end := range []struct {
			node int
			sign complex128
		}{{l.plus[i], 1}, {l.minus[i], -1}} {
			if c := column(end.node); c >= 0 {
				a[i*size+c] -= end.sign
				a[c*size+i] += end.sign // current into the coil from the node
			} else {
				given := end.node
				if given > 3 {
					given--
				}
				b[i*6+given] += end.sign
			}
		}
	}
	for side, node := range []int{3, 7} {
		c := column(node)
		if c < 0 {
			continue
		}
		if cmplx.IsInf(tie[side]) { // held: its voltage is zero
			for j := range size {
				a[c*size+j] = 0
			}
			a[c*size+c] = 1
		} else {
			a[c*size+c] += tie[side]
		}
	}
	x := eliminate(t, size, a, 6, b)
	y := make([]complex128, 36)
	for i := range m {
		for _, end := range []struct {
			node int
			sign complex128
		}{{l.plus[i], 1}, {l.minus[i], -1}} {
			node := end.node
			if node > 3 {
				node--
			}
			if end.node < 8 && end.node != 3 && end.node != 7 {
				for j := range 6 {
					y[node*6+j] += end.sign * x[i*6+j]
				}
			}
		}
	}
	return y
}

// Every vector group against coils joined so that they have it. Leakage is in
// every coil; the transformer gets what a test at the terminals would measure,
// Z1 and Z0, from the same coils.
func TestWindingIncidence(t *testing.T) {
	const source = "derived: incidence of coils on limbs"
	zn := complex(0.7, 0.2)
	compared := 0
	for _, g := range allGroups(t) {
		vf, vt := 1.1, 0.37 // of the order of one, so that rounding is even
		base := way{0, 1, 1}
		var to *way
		for i := range ways {
			lag := -phasor.Degrees(phasorOf(g.To.Kind, ways[i]) / phasorOf(g.From.Kind, base))
			if math.Abs(math.Remainder(lag-30*float64(g.Clock), 360)) < 1e-6 {
				to = &ways[i]
				break
			}
		}
		if to == nil {
			t.Errorf("%s: no way of joining the coils gives it", g)
			continue
		}
		n := complex(vt/vf, 0)
		coils := func(with complex128) *limbs {
			l := &limbs{}
			leak := 0.03 + 0.2i
			if g.From.Kind == 'Z' && g.To.Kind == 'Z' {
				leak = (0.01 + 0.05i) / (n * n) // one Z0 serves both sides
			}
			l.winding(g.From.Kind, base, vf, 0, leak)
			l.winding(g.To.Kind, *to, vt, 4, 0.01+0.05i)
			if with != 0 { // a closed delta on the limbs, in star turns of the second winding
				for k := range 3 {
					l.coil(k, vt/math.Sqrt(3), 20+k, 20+(k+1)%3, with)
				}
			}
			return l
		}
		delta := g.From.Kind == 'D' || g.To.Kind == 'D'
		for _, magnetising := range []complex128{0, 3i} {
			if delta && magnetising != 0 {
				continue // a delta takes all zero-sequence flux
			}
			if g.From.Kind == 'Y' && g.To.Kind == 'Y' && magnetising != 0 {
				continue // needs leakage halved between the sides: see the next test
			}
			tie := []complex128{0, 0}
			d := TransformerData{Group: g, VFrom: vf, VTo: vt}
			if g.From.Neutral {
				d.From = NeutralPoint{Exists: true, Earthed: true}
				tie[0] = cmplx.Inf()
			}
			if g.To.Neutral {
				d.To = NeutralPoint{Exists: true, Earthed: true, Z: zn}
				tie[1] = 1 / zn
			}
			with := magnetising
			held := g.From.Kind == 'Y' && g.From.Neutral || g.To.Kind == 'Y' && g.To.Neutral
			if !delta && !held && with == 0 {
				with = 1i // zero-sequence flux must have a value, and has no bearing
			}
			if delta {
				with = 0
			}
			l := coils(with)
			l.holdCorner(with)
			want := l.admittance(t, tie)
			// What a test at the terminals measures. Positive sequence: the first winding
			// short-circuited.
			d.Z1 = 1 / sequenceOf(want, 3, 3, 1)
			// Zero sequence: from the winding that has it, neutral solid, seen from the second.
			solid := []complex128{0, 0}
			if g.From.Neutral {
				solid[0] = cmplx.Inf()
			}
			if g.To.Neutral {
				solid[1] = cmplx.Inf()
			}
			y := l.admittance(t, solid)
			y0to, y0from := sequenceOf(y, 3, 3, 0), sequenceOf(y, 0, 0, 0)
			has := func(y complex128) bool { return cmplx.Abs(y) > 1e-9 }
			switch {
			case g.From.Kind == 'Y' && g.To.Kind == 'Y' && g.From.Neutral && g.To.Neutral:
				d.Z0 = 1 / y0to
			case magnetising != 0:
				// Here a wye faces a zigzag: Zm0 is the wye's, Z0 the zigzag's.
				if g.From.Kind == 'Z' && has(y0from) {
					d.Z0 = n * n / y0from
				}
				if g.To.Kind == 'Z' && has(y0to) {
					d.Z0 = 1 / y0to
				}
				if g.From.Kind == 'Y' && has(y0from) {
					d.Zm0 = n * n / y0from
				}
				if g.To.Kind == 'Y' && has(y0to) {
					d.Zm0 = 1 / y0to
				}
			case has(y0to):
				d.Z0 = 1 / y0to
			case has(y0from):
				d.Z0 = n * n / y0from
			}
			compared++
			got := transformerElement(t, d).Y
			largest := 0.0
			for _, x := range want {
				largest = max(largest, cmplx.Abs(x))
			}
			for i := range got {
				if !(cmplx.Abs(got[i]-want[i]) <= 1e-12*largest) {
					t.Errorf("%s, magnetising %v: Y[%d][%d] = %v, coils have %v (%s)", g, magnetising, i/6, i%6, got[i], want[i], source)
					break
				}
			}
		}
	}
	// All groups, and those of wye and zigzag and of two zigzags again with magnetising impedance.
	if compared != 150+72 {
		t.Errorf("%d transformers compared, want 222", compared)
	}
}

// holdCorner gives the closed delta's first corner the potential of the first
// winding's phase A: one tie carries nothing.
func (l *limbs) holdCorner(with complex128) {
	if with == 0 {
		return
	}
	for i := range l.plus {
		if l.plus[i] == 20 {
			l.plus[i] = 0
		}
		if l.minus[i] == 20 {
			l.minus[i] = 0
		}
	}
}

// sequenceOf is the admittance of a sequence (0 or 1) in the 3×3 block at (i, j).
func sequenceOf(y []complex128, i, j, sequence int) complex128 {
	sum := complex128(0)
	for k := range 3 {
		sum += y[i*6+j+k] * phasor.Polar(1, -120*float64(sequence*k))
	}
	return sum
}

// A wye-wye unit with a closed delta on its limbs is the star of its data:
// Z0/2 on either side of Zm0. Opening one neutral leaves the star's other legs.
func TestWyeWyeStar(t *testing.T) {
	for _, clock := range []int{0, 2, 4, 6, 8, 10} {
		g := quantity.VectorGroup{From: quantity.Winding{Kind: 'Y', Neutral: true}, To: quantity.Winding{Kind: 'Y', Neutral: true}, Clock: clock}
		vf, vt := 1.1, 0.37
		n := complex(vt/vf, 0)
		half, third := 0.02+0.1i, complex128(0.8i)
		var w way
		for _, w = range ways {
			if math.Abs(math.Remainder(-phasor.Degrees(phasorOf('Y', w))-30*float64(clock), 360)) < 1e-6 {
				break
			}
		}
		for _, earthed := range [][2]bool{{true, true}, {true, false}, {false, true}} {
			l := &limbs{}
			l.winding('Y', way{0, 1, 1}, vf, 0, half/(n*n))
			l.winding('Y', w, vt, 4, half)
			for k := range 3 {
				l.coil(k, vt/math.Sqrt(3), 20+k, 20+(k+1)%3, third)
			}
			l.holdCorner(third)
			zn := [2]complex128{0.3 + 0.1i, 0.04}
			tie := []complex128{0, 0}
			d := TransformerData{Group: g, VFrom: vf, VTo: vt, Z1: 2 * half, Z0: 2 * half, Zm0: third,
				From: NeutralPoint{Exists: true, Earthed: earthed[0], Z: zn[0]}, To: NeutralPoint{Exists: true, Earthed: earthed[1], Z: zn[1]}}
			for k := range tie {
				if earthed[k] {
					tie[k] = 1 / zn[k]
				}
			}
			want, got := l.admittance(t, tie), transformerElement(t, d).Y
			for i := range got {
				if !(cmplx.Abs(got[i]-want[i]) <= 1e-12*cmplx.Abs(1/half)) {
					t.Errorf("YNyn%d, earthed %v: Y[%d][%d] = %v, coils have %v (derived: incidence of coils on limbs)", clock, earthed, i/6, i%6, got[i], want[i])
					break
				}
			}
		}
	}
}

// What a transformer lacks is refused, with its name.
func TestTransformerRefused(t *testing.T) {
	earthed := NeutralPoint{Exists: true, Earthed: true}
	for _, tt := range []struct {
		group string
		d     TransformerData
	}{
		{"Dyn1", TransformerData{VFrom: 1, VTo: 1, To: earthed, Z0: 1i}},
		{"Dyn1", TransformerData{VFrom: 1, VTo: 1, To: earthed, Z1: 1i}},
		{"YNyn0", TransformerData{VFrom: 1, VTo: 1, From: earthed, To: earthed, Z1: 1i}},
		{"Yzn1", TransformerData{VFrom: 1, VTo: 1, To: earthed, Z1: 1i}},
	} {
		if err := tt.d.Group.UnmarshalText([]byte(tt.group)); err != nil {
			t.Fatal(err)
		}
		var b Builder
		from, to := b.AddBus("from", abc, 1), b.AddBus("to", abc, 1)
		if _, err := b.AddTransformer("T9", from, to, tt.d); err == nil {
			t.Errorf("%s with Z1 %v, Z0 %v is taken", tt.group, tt.d.Z1, tt.d.Z0)
		}
	}
}
