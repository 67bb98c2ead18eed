package sparse

import (
	"math/rand/v2"
	"slices"
	"testing"
)

func scalars(n int) []int {
	size := make([]int, n)
	for i := range size {
		size[i] = 1
	}
	return size
}

func fillOf(t *testing.T, size []int, edges [][2]int32) int {
	t.Helper()
	a, err := Analyse(size, edges)
	if err != nil {
		t.Fatal(err)
	}
	checkPattern(t, a)
	_, filled := a.Blocks()
	return filled
}

// checkPattern checks what the rest of the package relies on: the order is a
// permutation, lists ascend, contain A, and are closed under elimination.
func checkPattern(t interface {
	Helper()
	Fatalf(string, ...any)
}, a *Analysis) {
	t.Helper()
	s := a.sym
	for k, i := range s.node {
		if s.pos[i] != int32(k) {
			t.Fatalf("node %d at position %d has position %d", i, k, s.pos[i])
		}
	}
	has := func(k, j int32) bool { return find(s.idx, s.ptr[k], s.ptr[k+1], j) >= 0 }
	for k := range int32(s.n) {
		list := s.idx[s.ptr[k]:s.ptr[k+1]]
		for t1, i := range list {
			if i <= k || t1 > 0 && i <= list[t1-1] {
				t.Fatalf("position %d: list %v does not ascend from it", k, list)
			}
			for _, j := range list[t1+1:] {
				if !has(i, j) {
					t.Fatalf("eliminating %d couples %d and %d, which the pattern lacks", k, i, j)
				}
			}
		}
		for e := a.ptr[k]; e < a.ptr[k+1]; e++ {
			if s.idx[a.slot[e]] != a.idx[e] {
				t.Fatalf("block %d of the matrix is in the wrong slot", e)
			}
		}
	}
}

func TestPatternOfRandomGraphs(t *testing.T) {
	r := rand.New(rand.NewPCG(seed, 30))
	for trial := range 300 {
		size, edges := randomGraph(r, 1+r.IntN(150), trial%5)
		fillOf(t, size, edges)
	}
}

func TestOrdering(t *testing.T) {
	var cycle, star, hubs, grid [][2]int32
	const n, side = 30000, 40
	for i := range int32(n) {
		cycle = append(cycle, [2]int32{i, (i + 1) % n})
		if i > 0 {
			star = append(star, [2]int32{0, i})
		}
		if i > 1 {
			hubs = append(hubs, [2]int32{0, i}, [2]int32{i, 1})
		}
	}
	for i := range int32(side * side) {
		if i%side > 0 {
			grid = append(grid, [2]int32{i, i - 1})
		}
		if i >= side {
			grid = append(grid, [2]int32{i - side, i})
		}
	}
	r := rand.New(rand.NewPCG(seed, 31))
	_, tree := randomGraph(r, 5000, 0)
	const amd = "AMD of SuiteSparse 5.12, default settings, run on this graph"
	for _, tt := range []struct {
		name     string
		nodes    int
		edges    [][2]int32
		at, over float64 // coupled pairs in the factors, and the share by which they may be more
		source   string
	}{
		{"tree", 5000, tree, 4999, 0, "derived: leaves first, no fill"},
		{"star", n, star, n - 1, 0, "derived: leaves first, no fill"},
		{"cycle", n, cycle, 2*n - 3, 0, "derived: any triangulation of an n-gon has n − 3 chords"},
		{"two hubs", n, hubs, 2*(n-2) + 1, 0, "derived: only the hubs become coupled"},
		// Ties of equal degree are broken otherwise, which is worth some per cent.
		{"grid", side * side, grid, 19171, 0.1, "derived: " + amd},
	} {
		if got := float64(fillOf(t, scalars(tt.nodes), tt.edges)); got > tt.at*(1+tt.over) {
			t.Errorf("%s: %g coupled pairs, want at most %g and %g %% (%s)", tt.name, got, tt.at, 100*tt.over, tt.source)
		}
	}
	for _, tt := range []struct {
		nodes, reach int
		at           float64
	}{{1000, 300, 1220}, {10000, 300, 13655}, {33333, 300, 46323}, {33333, 33333, 55902}} {
		_, filled := mostlyRadial(tt.nodes, tt.reach).a.Blocks()
		if float64(filled) > tt.at*1.05 {
			t.Errorf("network %s: %d coupled pairs, want at most %g and 5 %% (derived: %s)", nameOf(tt.nodes, tt.reach), filled, tt.at, amd)
		}
	}
}

// Nodes that cannot be told apart are ordered as one; the lists must stay right.
func TestPatternWithTwins(t *testing.T) {
	r := rand.New(rand.NewPCG(seed, 32))
	for range 200 {
		n := 4 + r.IntN(12)
		var edges [][2]int32
		add := func(i, j int) { edges = append(edges, [2]int32{int32(i), int32(j)}) }
		// A random graph of cliques of three twins each.
		for i := range n {
			for j := range i {
				if r.IntN(3) == 0 {
					for a := range 3 {
						for b := range 3 {
							add(3*i+a, 3*j+b)
						}
					}
				}
			}
			add(3*i, 3*i+1)
			add(3*i, 3*i+2)
			add(3*i+1, 3*i+2)
		}
		fillOf(t, scalars(3*n), edges)
	}
}

func TestPostorder(t *testing.T) {
	// Subtrees are consecutive: the nodes below k are the ones just before it.
	m := mostlyRadial(2000, 300)
	s := m.a.sym
	below := make([]int32, s.n) // nodes in the subtree of each
	first := make([]int32, s.n) // lowest position in it
	for k := range int32(s.n) {
		if below[k] == 0 {
			first[k] = k
		}
		below[k]++
		if k-first[k]+1 != below[k] {
			t.Fatalf("subtree of position %d holds %d nodes from %d on", k, below[k], first[k])
		}
		if s.ptr[k] < s.ptr[k+1] {
			p := s.idx[s.ptr[k]]
			if below[p] == 0 || first[k] < first[p] {
				first[p] = first[k]
			}
			below[p] += below[k]
		}
	}
	if !slices.IsSorted(s.off) {
		t.Error("offsets do not ascend")
	}
}
