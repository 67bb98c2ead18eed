package sparse

import (
	"errors"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"reflect"
	"runtime"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

const seed = 20

// allowed is the error that a solution may have: the condition of the matrix
// times rounding errors. Both eliminations have backward errors of a few ε per
// row; 1e3·ε leaves room for the growth that random, unphysical blocks cause
// without pivoting between blocks.
func allowed(dense, inverse [][]complex128) float64 {
	return 1e3 * epsilon * normOne(dense) * normOne(inverse)
}

// check compares everything that the package computes for a system with full
// elimination.
func check(t interface {
	Helper()
	Fatalf(string, ...any)
}, s *system, r *rand.Rand) {
	t.Helper()
	inverse, ok := denseInverse(s.dense)
	if !ok {
		t.Fatalf("the test made an exactly singular matrix")
	}
	tol := allowed(s.dense, inverse)
	if tol > 1e-3 {
		return // nothing to learn from a matrix that is singular to working precision
	}
	dim := s.a.Dim()
	f, err := s.m.Factor()
	if err != nil {
		t.Fatalf("Factor: %v; condition %.3g", err, normOne(s.dense)*normOne(inverse))
	}
	const k = 6
	b := make([]complex128, k*dim)
	for i := range b {
		b[i] = gauss(r)
	}
	columns := make([][]complex128, dim)
	for i := range columns {
		for c := range k {
			columns[i] = append(columns[i], b[c*dim+i])
		}
	}
	for _, transposed := range []bool{false, true} {
		a := s.dense
		one, many := f.Solve, f.SolveMany
		if transposed {
			a = transpose(a)
			one, many = f.SolveTransposed, f.SolveTransposedMany
		}
		solution, _ := denseSolve(a, columns)
		x := slices.Clone(b)
		many(x, k)
		for c := range k {
			want := make([]complex128, dim)
			for i := range want {
				want[i] = solution[i][c]
			}
			if d := distance(x[c*dim:][:dim], want); !(d <= tol) {
				t.Fatalf("right-hand side %d of many, transposed %v: off by %.3g, allowed %.3g (derived: full elimination)", c, transposed, d, tol)
			}
			single := slices.Clone(b[c*dim:][:dim])
			one(single)
			if d := distance(single, want); !(d <= tol) {
				t.Fatalf("right-hand side %d alone, transposed %v: off by %.3g, allowed %.3g (derived: full elimination)", c, transposed, d, tol)
			}
		}
	}

	want := make([]complex128, dim)
	for i := range want {
		for j, v := range s.dense[i] {
			want[i] += v * b[j]
		}
	}
	got := make([]complex128, dim)
	s.m.MulVec(got, b[:dim])
	if d := distance(got, want); !(d <= 1e-14*float64(1+dim)) {
		t.Fatalf("MulVec off by %.3g (derived: full product)", d)
	}

	x := make([]complex128, dim)
	q := f.SolveRefined(s.m, b[:dim], x)
	if !(q.Residual <= q.Initial) || !(q.Residual <= 1e-15*float64(8)) {
		t.Fatalf("refined residual %.3g from %.3g in %d steps, want at most 8e-15 and no more than before", q.Residual, q.Initial, q.Steps)
	}

	z := f.Inverse()
	most := 0.0
	for i := range inverse {
		for j := range inverse {
			most = max(most, cmplx.Abs(inverse[i][j]))
		}
	}
	verify := func(i, j int) {
		block, ok := z.Block(i, j)
		if !ok || len(block) != s.size[i]*s.size[j] {
			t.Fatalf("no block (%d, %d) of the inverse, or of %d entries", i, j, len(block))
		}
		for e, v := range block {
			w := inverse[s.a.Offset(i)+e/s.size[j]][s.a.Offset(j)+e%s.size[j]]
			if !(cmplx.Abs(v-w) <= tol*most) {
				t.Fatalf("inverse block (%d, %d) entry %d = %v, want %v ± %.3g (derived: full elimination)", i, j, e, v, w, tol*most)
			}
		}
	}
	for i := range s.size {
		verify(i, i)
	}
	for _, e := range s.edges {
		verify(int(e[0]), int(e[1]))
		verify(int(e[1]), int(e[0]))
	}
}

func TestAgainstFullElimination(t *testing.T) {
	for v := range valueKinds {
		for kind := range 5 {
			t.Run(v.String(), func(t *testing.T) {
				r := rand.New(rand.NewPCG(seed, uint64(kind)))
				for n := 1; n < 40; n += 1 + n/6 {
					check(t, randomSystem(r, n, kind, v), r)
				}
			})
		}
	}
}

func TestProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 24).Draw(t, "nodes")
		kind := rapid.IntRange(0, 4).Draw(t, "graph")
		v := values(rapid.IntRange(0, int(valueKinds)-1).Draw(t, "values"))
		r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 0))
		check(t, randomSystem(r, n, kind, v), r)
	})
}

func TestEmpty(t *testing.T) {
	a, err := Analyse(nil, nil)
	if err != nil {
		t.Fatal(err)
	}
	m := a.NewMatrix()
	f, err := m.Factor()
	if err != nil {
		t.Fatal(err)
	}
	f.Solve(nil)
	f.SolveTransposedMany(nil, 3)
	if q := f.SolveRefined(m, nil, nil); q.Residual != 0 {
		t.Errorf("residual of nothing = %g, want 0", q.Residual)
	}
	if c := f.Condition(m); c != 1 {
		t.Errorf("condition of nothing = %g, want 1 (definition)", c)
	}
	f.Inverse()
}

func TestOneNode(t *testing.T) {
	a, err := Analyse([]int{2}, [][2]int32{{0, 0}})
	if err != nil {
		t.Fatal(err)
	}
	m := a.NewMatrix()
	m.AddAt(0, 0, 0, 1, 2i)
	m.AddAt(0, 1, 0, 0, 4)
	m.AddAt(0, 1, 0, 1, 6)
	f, err := m.Factor()
	if err != nil {
		t.Fatal(err)
	}
	// Derived by hand: [0 2j; 4 6]·x = (2j, 10) has x = (1, 1), and the inverse is
	// [6 −2j; −4 0]/(−8j).
	x := []complex128{2i, 10}
	f.Solve(x)
	if d := distance(x, []complex128{1, 1}); !(d < 1e-15) {
		t.Errorf("x = %v, want (1, 1) (derived by hand)", x)
	}
	z, _ := f.Inverse().Block(0, 0)
	if d := distance(z, []complex128{0.75i, 0.25, -0.5i, 0}); !(d < 1e-15) {
		t.Errorf("inverse = %v, want (0.75j, 0.25, −0.5j, 0) (derived by hand)", z)
	}
	if got := m.At(0, 1, 0, 0); got != 4 {
		t.Errorf("At = %v, want 4", got)
	}
}

func TestAnalyseRefuses(t *testing.T) {
	for _, tt := range []struct {
		size  []int
		edges [][2]int32
		want  string
	}{
		{[]int{3, 5}, nil, "sparse: node 1 has 5 conductors, want 1 to 4"},
		{[]int{0}, nil, "sparse: node 0 has 0 conductors, want 1 to 4"},
		{[]int{3, 3}, [][2]int32{{0, 1}, {1, 2}}, "sparse: edge 1 couples nodes 1 and 2, want 0 to 1"},
		{[]int{3, 3}, [][2]int32{{-1, 1}}, "sparse: edge 0 couples nodes -1 and 1, want 0 to 1"},
	} {
		if _, err := Analyse(tt.size, tt.edges); err == nil || err.Error() != tt.want {
			t.Errorf("Analyse(%v, %v) = %v, want %q", tt.size, tt.edges, err, tt.want)
		}
	}
}

func TestMatrixAccess(t *testing.T) {
	a, err := Analyse([]int{2, 1, 3}, [][2]int32{{2, 0}, {0, 2}})
	if err != nil {
		t.Fatal(err)
	}
	m := a.NewMatrix()
	m.Add(0, 2, []complex128{1, 2, 3, 4, 5, 6})
	m.AddAt(2, 2, 0, 1, 7)
	m.AddAt(2, 2, 0, 1, 1i)
	for _, tt := range []struct {
		i, r, j, c int
		want       complex128
	}{{0, 1, 2, 0, 4}, {0, 0, 2, 2, 3}, {2, 2, 0, 1, 7 + 1i}, {2, 0, 0, 1, 0}, {0, 0, 1, 0, 0}} {
		if got := m.At(tt.i, tt.r, tt.j, tt.c); got != tt.want {
			t.Errorf("At(%d, %d, %d, %d) = %v, want %v (as added)", tt.i, tt.r, tt.j, tt.c, got, tt.want)
		}
	}
	copied := m.Clone()
	m.Clear()
	if m.At(0, 1, 2, 0) != 0 || copied.At(0, 1, 2, 0) != 4 {
		t.Error("Clear and Clone: want the matrix cleared and its copy kept")
	}
	for name, bug := range map[string]func(){
		"no edge":     func() { m.Add(0, 1, make([]complex128, 2)) },
		"block size":  func() { m.Add(0, 2, make([]complex128, 5)) },
		"row":         func() { m.AddAt(0, 2, 0, 0, 1) },
		"vector":      func() { m.MulVec(make([]complex128, 6), make([]complex128, 5)) },
		"AddAt alone": func() { m.AddAt(0, 0, 1, 0, 1) },
	} {
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("%s: want a panic", name)
				}
			}()
			bug()
		}()
	}
}

// Expressing each conductor's voltage in a unit of its own, u = D·u', turns A
// into D·A·D and leaves the network alone. Powers of two do that without
// rounding, so what differs is only what the factorisation makes of the scale:
// nothing if a node's conductors have one unit (a voltage level), little if they
// differ.
func TestScaling(t *testing.T) {
	r := rand.New(rand.NewPCG(seed, 6))
	for trial := range 60 {
		s := randomSystem(r, 40, trial%5, values(trial%2))
		alike := trial%3 > 0
		d := make([]complex128, s.a.Dim())
		for i, n := range s.size {
			e := r.IntN(61) - 30
			for c := range n {
				if !alike {
					e = r.IntN(41) - 20
				}
				d[s.a.Offset(i)+c] = complex(math.Ldexp(1, e), 0)
			}
		}
		scaled := s.a.NewMatrix()
		for i := range s.size {
			for j := range s.size {
				if from := s.m.block(i, j); from != nil {
					for e, v := range from {
						scaled.AddAt(i, e/s.size[j], j, e%s.size[j],
							v*d[s.a.Offset(i)+e/s.size[j]]*d[s.a.Offset(j)+e%s.size[j]])
					}
				}
			}
		}
		f, err := s.m.Factor()
		if err != nil {
			t.Fatal(err)
		}
		g, err := scaled.Factor()
		if err != nil {
			t.Fatalf("scaled: %v", err)
		}
		x, y := make([]complex128, len(d)), make([]complex128, len(d))
		for u := range x {
			x[u] = gauss(r)
			y[u] = x[u] * d[u]
		}
		f.Solve(x)
		g.Solve(y)
		for u := range y {
			y[u] *= d[u]
		}
		tol := 0.0
		if !alike {
			inverse, _ := denseInverse(s.dense)
			tol = 10 * allowed(s.dense, inverse) // one digit for the other choice of pivots
		}
		if dist := distance(y, x); !(dist <= tol) {
			t.Errorf("trial %d, one unit a node %v: solutions differ by %.3g, allowed %.3g", trial, alike, dist, tol)
		}
	}
}

// Nodes in another order are the same network: the solution only moves.
func TestRelabelling(t *testing.T) {
	r := rand.New(rand.NewPCG(seed, 1))
	for range 20 {
		s := randomSystem(r, 60, 1, machines)
		to := r.Perm(60)
		size := make([]int, 60)
		for i, p := range to {
			size[p] = s.size[i]
		}
		edges := make([][2]int32, 0, len(s.edges))
		for _, e := range s.edges {
			edges = append(edges, [2]int32{int32(to[e[1]]), int32(to[e[0]])})
		}
		r.Shuffle(len(edges), func(i, j int) { edges[i], edges[j] = edges[j], edges[i] })
		other := newSystem(size, edges)
		seen := map[[2]int]bool{}
		move := func(i, j int) {
			if seen[[2]int{i, j}] {
				return
			}
			seen[[2]int{i, j}] = true
			for r := range s.size[i] {
				for c := range s.size[j] {
					other.m.AddAt(to[i], r, to[j], c, s.m.At(i, r, j, c))
				}
			}
		}
		for i := range size {
			move(i, i)
		}
		for _, e := range s.edges {
			move(int(e[0]), int(e[1]))
			move(int(e[1]), int(e[0]))
		}
		b := make([]complex128, s.a.Dim())
		c := make([]complex128, s.a.Dim())
		for i, p := range to {
			for r0 := range s.size[i] {
				v := gauss(r)
				b[s.a.Offset(i)+r0], c[other.a.Offset(p)+r0] = v, v
			}
		}
		f, err := s.m.Factor()
		if err != nil {
			t.Fatal(err)
		}
		g, err := other.m.Factor()
		if err != nil {
			t.Fatal(err)
		}
		f.Solve(b)
		g.Solve(c)
		back := make([]complex128, len(c))
		for i, p := range to {
			copy(back[s.a.Offset(i):], c[other.a.Offset(p):][:s.size[i]])
		}
		if d := distance(back, b); !(d < 1e-10) {
			t.Fatalf("solution moved by %.3g after relabelling, want less than 1e-10 (conditions here stay below 1e5)", d)
		}
	}
}

// The same calls give the same bits, alone or shared, first or again.
func TestReproducible(t *testing.T) {
	r := rand.New(rand.NewPCG(seed, 2))
	s := randomSystem(r, 700, 1, machines)
	const k = 23
	b := make([]complex128, k*s.a.Dim())
	for i := range b {
		b[i] = gauss(r)
	}
	run := func(procs int) ([]complex128, *Factor) {
		defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(procs))
		a, err := Analyse(s.size, s.edges)
		if err != nil {
			t.Fatal(err)
		}
		if !reflect.DeepEqual(a, s.a) {
			t.Fatal("a second analysis differs from the first")
		}
		f, err := s.m.Factor()
		if err != nil {
			t.Fatal(err)
		}
		x := slices.Clone(b)
		f.SolveMany(x, k)
		f.SolveTransposedMany(x, k)
		return x, f
	}
	want, f := run(1)
	for range 3 {
		if got, _ := run(4); !slices.Equal(got, want) {
			t.Fatal("four goroutines give other bits than one")
		}
	}
	if err := f.Refactor(s.m); err != nil {
		t.Fatal(err)
	}
	got := slices.Clone(b)
	f.SolveMany(got, k)
	f.SolveTransposedMany(got, k)
	if !slices.Equal(got, want) {
		t.Fatal("Refactor gives other bits than Factor")
	}
}

func TestRefactor(t *testing.T) {
	r := rand.New(rand.NewPCG(seed, 3))
	s := randomSystem(r, 50, 1, symmetric)
	f, err := s.m.Factor()
	if err != nil {
		t.Fatal(err)
	}
	s.m.Clear()
	for i := range s.dense {
		clear(s.dense[i])
	}
	s.fill(r, machines)
	if err := f.Refactor(s.m); err != nil {
		t.Fatal(err)
	}
	b := make([][]complex128, s.a.Dim())
	x := make([]complex128, s.a.Dim())
	for i := range b {
		x[i] = gauss(r)
		b[i] = []complex128{x[i]}
	}
	solution, _ := denseSolve(s.dense, b)
	f.Solve(x)
	want := make([]complex128, len(x))
	for i := range want {
		want[i] = solution[i][0]
	}
	inverse, _ := denseInverse(s.dense)
	if d, tol := distance(x, want), allowed(s.dense, inverse); !(d <= tol) {
		t.Errorf("after Refactor the solution is off by %.3g, allowed %.3g (derived: full elimination)", d, tol)
	}
	if n := testing.AllocsPerRun(10, func() { _ = f.Refactor(s.m) }); n > 1 {
		t.Errorf("Refactor allocates %g times, want at most once (one block of scratch)", n)
	}
}

func TestCondition(t *testing.T) {
	r := rand.New(rand.NewPCG(seed, 4))
	for v := range valueKinds {
		for range 20 {
			s := randomSystem(r, 25, r.IntN(5), v)
			inverse, ok := denseInverse(s.dense)
			if !ok {
				t.Fatal("the test made an exactly singular matrix")
			}
			want := normOne(s.dense) * normOne(inverse)
			if want > 1e12 {
				continue // the reference itself has lost its digits
			}
			f, err := s.m.Factor()
			if err != nil {
				t.Fatal(err)
			}
			// A lower bound but for rounding, and within three of the true value.
			if got := f.Condition(s.m); !(got <= want*1.001 && got >= want/3) {
				t.Errorf("%v: condition %.4g, want between a third of and all of %.4g (derived: full inverse)", v, got, want)
			}
		}
	}
}

// Refinement makes up for a factorisation that is a little off.
func TestRefinement(t *testing.T) {
	r := rand.New(rand.NewPCG(seed, 5))
	s := randomSystem(r, 80, 1, symmetric)
	f, err := s.m.Factor()
	if err != nil {
		t.Fatal(err)
	}
	for i := range f.upper {
		f.upper[i] *= 1 + complex(1e-5*r.NormFloat64(), 0)
	}
	b := make([]complex128, s.a.Dim())
	for i := range b {
		b[i] = gauss(r)
	}
	x := make([]complex128, len(b))
	q := f.SolveRefined(s.m, b, x)
	if q.Initial < 1e-10 {
		t.Fatalf("residual %.3g before refinement: the test has disturbed nothing", q.Initial)
	}
	if q.Steps != 2 || !(q.Residual < 1e-15) {
		t.Errorf("residual %.3g → %.3g in %d steps, want below 1e-15 in 2", q.Initial, q.Residual, q.Steps)
	}
	// The figure is what it says it is.
	left, size, right, norm := 0.0, 0.0, 0.0, 0.0
	for i, row := range s.dense {
		res, sum := b[i], 0.0
		for j, v := range row {
			res -= v * x[j]
			sum += math.Abs(real(v)) + math.Abs(imag(v))
		}
		left = max(left, math.Abs(real(res))+math.Abs(imag(res)))
		size = max(size, math.Abs(real(x[i]))+math.Abs(imag(x[i])))
		right = max(right, math.Abs(real(b[i]))+math.Abs(imag(b[i])))
		norm = max(norm, sum)
	}
	// Rounding decides the figure once it is near 1e-16, hence the wide bound.
	if want := left / (norm*size + right); q.Residual > want+1e-15 || want > q.Residual+1e-15 {
		t.Errorf("residual %.3g, want %.3g (derived: definition on the full matrix)", q.Residual, want)
	}
}

func TestNotFinite(t *testing.T) {
	a, err := Analyse([]int{3, 3, 3}, [][2]int32{{0, 1}, {1, 2}})
	if err != nil {
		t.Fatal(err)
	}
	for _, v := range []complex128{complex(math.NaN(), 0), complex(0, math.Inf(1))} {
		m := a.NewMatrix()
		for i := range 3 {
			for c := range 3 {
				m.AddAt(i, c, i, c, 1)
			}
		}
		m.AddAt(1, 2, 2, 0, v)
		_, err := m.Factor()
		var e *NotFiniteError
		if !errors.As(err, &e) || e.Node != 1 {
			t.Errorf("Factor with %v at node 1 = %v, want a NotFiniteError that names it", v, err)
		}
	}
}
