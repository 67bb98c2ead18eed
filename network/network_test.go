package network

import (
	"math"
	"math/rand"
	"strings"
	"testing"

	"feederwright/quantity"
)

// Members keep their ratios whatever the order of the joints, and a loop of
// joints earths its set exactly where its ratios disagree.
func TestWeightedSets(t *testing.T) {
	r := rand.New(rand.NewSource(1))
	for range 200 {
		n := 2 + r.Intn(30)
		value := make([]float64, n) // the truth: value[i] = factor·value[root]
		for i := range value {
			value[i] = (0.1 + r.Float64()) * float64(1-2*r.Intn(2))
		}
		w := newWeighted(n)
		part := make([]int, n) // parts by brute force
		bad := make([]bool, n)
		for i := range part {
			part[i] = i
		}
		for range r.Intn(2 * n) {
			a, b := r.Intn(n), r.Intn(n)
			ratio := value[a] / value[b]
			wrong := part[a] == part[b] && r.Intn(4) == 0
			if wrong {
				ratio *= 1.01
			}
			w.join(a, b, ratio)
			from, to := part[a], part[b]
			bad[to] = bad[to] || bad[from] || wrong
			for i := range part {
				if part[i] == from {
					part[i] = to
				}
			}
			if r.Intn(10) == 0 {
				w.earth(a)
				bad[to] = true
			}
		}
		for i := range n {
			ri, fi := w.find(i)
			if w.earthed[ri] != bad[part[i]] {
				t.Fatalf("member %d: earthed %v, want %v", i, w.earthed[ri], bad[part[i]])
			}
			for j := range n {
				rj, fj := w.find(j)
				if (ri == rj) != (part[i] == part[j]) {
					t.Fatalf("members %d and %d: in one set %v, want %v", i, j, ri == rj, part[i] == part[j])
				}
				if want := value[i] / value[j]; ri == rj && !(math.Abs(fi/fj-want) <= 1e-9*math.Abs(want)) {
					t.Fatalf("ratio of %d to %d is %g, want %g", i, j, fi/fj, want)
				}
			}
		}
	}
}

// What the secondary circuits of a connection enclose, by conductor.
func TestConnections(t *testing.T) {
	const source = "common practice, no source: the definition of each connection"
	b, ac, abcn := quantity.PhaseB, quantity.PhaseA|quantity.PhaseC, abc|quantity.PhaseN
	for _, tt := range []struct {
		connection string
		present    quantity.Phases
		want       string
	}{
		{"wye", abc, "A; B; C"},
		{"wye", abcn, "A; B; C"},
		{"wye", b, "B"},
		{"delta-AB", abc, "A - B; B - C; -A + C"},
		{"delta-AC", abc, "A - C; -A + B; -B + C"},
		{"open-delta", abc, "A - B; B - C"},
		{"residual", abc, "A + B + C"},
		{"residual", abcn, "A + B + C"},
		{"residual", ac, "A + C"},
		{"broken-delta", abc, "A + B + C"},
		{"core-balance", abcn, "A + B + C + N"},
		{"core-balance", ac, "A + C"},
	} {
		var got []string
		for _, s := range sumsOf(tt.connection, tt.present) {
			got = append(got, s.String())
		}
		if g := strings.Join(got, "; "); g != tt.want {
			t.Errorf("%s over %s encloses %q, want %q (%s)", tt.connection, tt.present, g, tt.want, source)
		}
	}
}

// A node has each conductor once: closed switches over a bus without a phase
// don't join that phase on its two sides, and that is refused.
func TestSwitchesOverFewerPhases(t *testing.T) {
	var b Builder
	x := b.AddBus("X", abc, 12e3)
	y := b.AddBus("Y", quantity.PhaseA, 12e3)
	z := b.AddBus("Z", abc, 12e3)
	if _, err := b.AddInfeed("S", x, InfeedData{Z1: 1i, Z2: 1i, Z0: 1i, VLL: 12e3}); err != nil {
		t.Fatal(err)
	}
	b.AddSwitch("fuse", "F1", x, y, true)
	second := b.AddSwitch("fuse", "F2", y, z, true)
	_, err := b.Build()
	if err == nil || !strings.Contains(err.Error(), "X and Z both have phase B") {
		t.Errorf("error %v, want one that names both buses and the phase", err)
	}
	b.switches[second].Closed = false
	if _, err := b.Build(); err != nil {
		t.Errorf("with the switch open: %v", err)
	}
	b.switches[second].Closed = true
	b.AddSwitch("switch", "bypass", x, z, true)
	if _, err := b.Build(); err != nil {
		t.Errorf("with all phases joined beside: %v", err)
	}
}

// Which shunts lead to earth.
func TestShuntTies(t *testing.T) {
	for _, tt := range []struct {
		name  string
		y     []complex128
		n     int
		earth bool
		joins int
	}{
		{"earthed wye", ConnectedShunt(EarthedWye, 3, 1i), 3, true, 0},
		{"wye", ConnectedShunt(Wye, 3, 1i), 3, false, 3},
		{"wye of awkward numbers", ConnectedShunt(Wye, 3, 0.1+0.3i), 3, false, 3},
		{"delta", ConnectedShunt(Delta, 3, 0.7i), 3, false, 3},
		{"wye on one phase", ConnectedShunt(Wye, 1, 1i), 1, false, 0},
		{"charging without earth capacitance", BalancedMatrix(3, 3e-6i, 0), 3, false, 3},
		{"charging", BalancedMatrix(3, 3e-6i, 1e-6i), 3, true, 3},
	} {
		earth, joins := false, 0
		for _, x := range shuntTies(tt.y, tt.n) {
			if x.b < 0 {
				earth = true
			} else {
				joins++
			}
		}
		if earth != tt.earth || joins != tt.joins {
			t.Errorf("%s: earthed %v, %d joints between phases; want %v, %d (derived: the parts the matrix stands for)", tt.name, earth, joins, tt.earth, tt.joins)
		}
	}
}
