package sparse

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
)

// The reference for every solution here is Gaussian elimination with partial
// pivoting on the full matrix, written for these tests alone: it shares no code
// and no order with the package. Values that it gives are "derived".

// denseSolve solves A·X = B for the columns of B; it changes neither. It reports
// false if a pivot is exactly zero.
func denseSolve(a, b [][]complex128) ([][]complex128, bool) {
	n := len(a)
	u, x := cloneRows(a), cloneRows(b)
	for k := range n {
		best := k
		for r := k + 1; r < n; r++ {
			if cmplx.Abs(u[r][k]) > cmplx.Abs(u[best][k]) {
				best = r
			}
		}
		u[k], u[best], x[k], x[best] = u[best], u[k], x[best], x[k]
		if u[k][k] == 0 {
			return nil, false
		}
		for r := k + 1; r < n; r++ {
			if l := u[r][k] / u[k][k]; l != 0 {
				for c := k; c < n; c++ {
					u[r][c] -= l * u[k][c]
				}
				for c := range x[r] {
					x[r][c] -= l * x[k][c]
				}
			}
		}
	}
	for k := n - 1; k >= 0; k-- {
		for c := range x[k] {
			for j := k + 1; j < n; j++ {
				x[k][c] -= u[k][j] * x[j][c]
			}
			x[k][c] /= u[k][k]
		}
	}
	return x, true
}

func denseInverse(a [][]complex128) ([][]complex128, bool) {
	unit := make([][]complex128, len(a))
	for i := range unit {
		unit[i] = make([]complex128, len(a))
		unit[i][i] = 1
	}
	return denseSolve(a, unit)
}

func cloneRows(a [][]complex128) [][]complex128 {
	c := make([][]complex128, len(a))
	for i := range a {
		c[i] = append([]complex128(nil), a[i]...)
	}
	return c
}

func transpose(a [][]complex128) [][]complex128 {
	t := make([][]complex128, len(a))
	for i := range t {
		t[i] = make([]complex128, len(a))
		for j := range t[i] {
			t[i][j] = a[j][i]
		}
	}
	return t
}

// normOne is the largest column sum of moduli.
func normOne(a [][]complex128) (norm float64) {
	for c := range a {
		sum := 0.0
		for r := range a {
			sum += cmplx.Abs(a[r][c])
		}
		norm = max(norm, sum)
	}
	return norm
}

// distance is the largest difference of two vectors, relative to the largest
// entry of the second; NaN if any entry is.
func distance(got, want []complex128) float64 {
	size, diff := 0.0, 0.0
	for i := range want {
		size = math.Max(size, cmplx.Abs(want[i]))
		diff = math.Max(diff, cmplx.Abs(got[i]-want[i]))
	}
	if size == 0 {
		return diff
	}
	return diff / size
}

// A system is a matrix in both forms.
type system struct {
	size  []int
	edges [][2]int32
	a     *Analysis
	m     *Matrix
	dense [][]complex128
}

func newSystem(size []int, edges [][2]int32) *system {
	a, err := Analyse(size, edges)
	if err != nil {
		panic(err)
	}
	s := &system{size: size, edges: edges, a: a, m: a.NewMatrix()}
	s.dense = make([][]complex128, a.Dim())
	for i := range s.dense {
		s.dense[i] = make([]complex128, a.Dim())
	}
	return s
}

func (s *system) add(i, j int, block []complex128) {
	s.m.Add(i, j, block)
	cols := s.size[j]
	for t, v := range block {
		s.dense[s.a.Offset(i)+t/cols][s.a.Offset(j)+t%cols] += v
	}
}

// values tell what a random system is filled with.
type values int

const (
	symmetric  values = iota // passive coupled branches and shunts: A is symmetric
	machines                 // the same, with shunts that are not symmetric
	scattered                // any numbers, not symmetric; diagonal blocks as small as the rest
	illScaled                // branches, with admittances over eight decades, also within a block
	valueKinds               // how many there are
)

func (v values) String() string {
	return [...]string{"symmetric", "machines", "scattered", "illScaled"}[v]
}

func gauss(r *rand.Rand) complex128 { return complex(r.NormFloat64(), r.NormFloat64()) }

// randomGraph gives nodes of sizes 1 to 4 and edges: kind 0 a tree, 1 a tree
// with loops, 2 parts without connection, 3 a star with a chord here and there,
// 4 any edges (dense for small n).
func randomGraph(r *rand.Rand, n, kind int) (size []int, edges [][2]int32) {
	for range n {
		size = append(size, 1+r.IntN(4))
	}
	if r.IntN(3) == 0 {
		for i := range size {
			size[i] = 3
		}
	}
	edge := func(i, j int) { edges = append(edges, [2]int32{int32(i), int32(j)}) }
	label := r.Perm(n)
	for i := 1; i < n; i++ {
		switch kind {
		case 3:
			edge(label[0], label[i])
		case 2:
			if r.IntN(4) > 0 {
				edge(label[i], label[r.IntN(i)])
			}
		case 4:
			for range 3 {
				edge(label[i], label[r.IntN(n)])
			}
		default:
			edge(label[i], label[max(0, i-1-r.IntN(3))])
		}
	}
	if kind == 1 || kind == 3 {
		for range 1 + n/8 {
			edge(r.IntN(n), r.IntN(n))
		}
	}
	return size, edges
}

// randomSystem fills a random graph.
func randomSystem(r *rand.Rand, n, kind int, v values) *system {
	size, edges := randomGraph(r, n, kind)
	s := newSystem(size, edges)
	s.fill(r, v)
	return s
}

func (s *system) fill(r *rand.Rand, v values) {
	scale := func() float64 {
		if v == illScaled {
			return math.Pow(10, 8*r.Float64()-4)
		}
		return 1 + r.Float64()
	}
	if v == scattered {
		random := func(i, j int) []complex128 {
			b := make([]complex128, s.size[i]*s.size[j])
			for t := range b {
				b[t] = gauss(r)
			}
			return b
		}
		for i := range s.size {
			s.add(i, i, random(i, i))
		}
		for _, e := range s.edges {
			if e[0] != e[1] {
				s.add(int(e[0]), int(e[1]), random(int(e[0]), int(e[1])))
				s.add(int(e[1]), int(e[0]), random(int(e[1]), int(e[0])))
			}
		}
		return
	}
	// A branch is a set of admittances, each across a random combination of the
	// conductors of its two ends: y·n·nᵀ, with y in the quarter plane of an
	// impedance with resistance and inductance.
	admittance := func() complex128 {
		return cmplx.Rect(scale(), -math.Pi/2*r.Float64()*0.95)
	}
	for _, e := range s.edges {
		i, j := int(e[0]), int(e[1])
		if i == j {
			continue
		}
		for range max(s.size[i], s.size[j]) {
			y := admittance()
			ni, nj := make([]float64, s.size[i]), make([]float64, s.size[j])
			for c := range ni {
				ni[c] = r.NormFloat64()
			}
			for c := range nj {
				nj[c] = r.NormFloat64()
			}
			s.add(i, i, outer(y, ni, ni))
			s.add(j, j, outer(y, nj, nj))
			s.add(i, j, outer(-y, ni, nj))
			s.add(j, i, outer(-y, nj, ni))
		}
	}
	for i, n := range s.size {
		for c := range n {
			unit := make([]float64, n)
			unit[c] = 1
			s.add(i, i, outer(admittance(), unit, unit))
		}
		if v == machines {
			b := make([]complex128, n*n)
			for t := range b {
				b[t] = gauss(r) * 0.2
			}
			s.add(i, i, b)
		}
	}
}

func outer(y complex128, a, b []float64) []complex128 {
	out := make([]complex128, 0, len(a)*len(b))
	for _, v := range a {
		for _, w := range b {
			out = append(out, y*complex(v*w, 0))
		}
	}
	return out
}
