package sparse

import (
	"fmt"
	"math/rand/v2"
	"testing"
)

// The networks of the comparison with a general sparse solver (bench/README.md):
// three conductors a node, mostly radial. 70 % of the nodes hang on the node
// before, 1 % anywhere, the rest on one of the 20 before; n/100 branches close
// loops, each between a node and one of the reach before it; every node has a
// load.
func mostlyRadial(n, reach int) *Matrix {
	r := rand.New(rand.NewPCG(seed, uint64(n)))
	size := make([]int, n)
	var edges [][2]int32
	for i := range n {
		size[i] = 3
		if i == 0 {
			continue
		}
		to := i - 1
		switch p := r.Float64(); {
		case p < 0.01:
			to = r.IntN(i)
		case p < 0.3:
			to = max(0, i-1-r.IntN(20))
		}
		edges = append(edges, [2]int32{int32(to), int32(i)})
	}
	for range n / 100 {
		i := 1 + r.IntN(n-1)
		edges = append(edges, [2]int32{int32(i), int32(i - 1 - r.IntN(min(i, reach)))})
	}
	a, err := Analyse(size, edges)
	if err != nil {
		panic(err)
	}
	m := a.NewMatrix()
	for _, e := range edges {
		y := line(0.02 + 0.5*r.Float64())
		i, j := int(e[0]), int(e[1])
		m.Add(i, i, y)
		m.Add(j, j, y)
		m.Add(i, j, negative(y))
		m.Add(j, i, negative(y))
	}
	for i := range n {
		for c := range 3 {
			m.AddAt(i, c, i, c, complex(1e-3*r.Float64(), -5e-4*r.Float64()))
		}
	}
	for c := range 3 {
		m.AddAt(0, c, 0, c, 1-10i)
	}
	return m
}

func edgesOf(a *Analysis) (size []int, edges [][2]int32) {
	for k := range a.sym.n {
		size = append(size, a.Size(k))
		for t := a.ptr[k]; t < a.ptr[k+1]; t++ {
			edges = append(edges, [2]int32{a.sym.node[k], a.sym.node[a.idx[t]]})
		}
	}
	return size, edges
}

// Ties close to where they start, as between neighbouring feeders, and ties
// anywhere, which no network of lines has: they make a core that no order keeps
// sparse, and show what that costs.
var networks = []struct{ nodes, reach int }{
	{1000, 300}, {10000, 300}, {33333, 300}, {33333, 33333},
}

func nameOf(nodes, reach int) string {
	if reach < nodes {
		return fmt.Sprint(nodes)
	}
	return fmt.Sprint(nodes, "-tangled")
}

func forSizes(b *testing.B, run func(b *testing.B, m *Matrix)) {
	for _, n := range networks {
		b.Run(nameOf(n.nodes, n.reach), func(b *testing.B) {
			m := mostlyRadial(n.nodes, n.reach)
			b.ReportAllocs()
			b.ResetTimer()
			run(b, m)
		})
	}
}

func BenchmarkAnalyse(b *testing.B) {
	forSizes(b, func(b *testing.B, m *Matrix) {
		size, edges := edgesOf(m.a)
		b.ResetTimer()
		for range b.N {
			if _, err := Analyse(size, edges); err != nil {
				b.Fatal(err)
			}
		}
	})
}

func BenchmarkFactor(b *testing.B) {
	forSizes(b, func(b *testing.B, m *Matrix) {
		for range b.N {
			if _, err := m.Factor(); err != nil {
				b.Fatal(err)
			}
		}
	})
}

func withFactor(b *testing.B, run func(f *Factor, m *Matrix, x []complex128)) {
	forSizes(b, func(b *testing.B, m *Matrix) {
		f, err := m.Factor()
		if err != nil {
			b.Fatal(err)
		}
		x := make([]complex128, m.a.Dim())
		for i := range x {
			x[i] = 1
		}
		b.ResetTimer()
		for range b.N {
			run(f, m, x)
		}
	})
}

func BenchmarkRefactor(b *testing.B) {
	withFactor(b, func(f *Factor, m *Matrix, _ []complex128) {
		if err := f.Refactor(m); err != nil {
			b.Fatal(err)
		}
	})
}

func BenchmarkSolve(b *testing.B) {
	withFactor(b, func(f *Factor, _ *Matrix, x []complex128) { f.Solve(x) })
}

func BenchmarkSolveTransposed(b *testing.B) {
	withFactor(b, func(f *Factor, _ *Matrix, x []complex128) { f.SolveTransposed(x) })
}

func BenchmarkSolveRefined(b *testing.B) {
	withFactor(b, func(f *Factor, m *Matrix, x []complex128) {
		f.SolveRefined(m, x, make([]complex128, len(x)))
	})
}

func BenchmarkCondition(b *testing.B) {
	withFactor(b, func(f *Factor, m *Matrix, _ []complex128) { f.Condition(m) })
}

func BenchmarkInverse(b *testing.B) {
	withFactor(b, func(f *Factor, _ *Matrix, _ []complex128) { f.Inverse() })
}

func BenchmarkSolve60At20000(b *testing.B) {
	m := mostlyRadial(20000, 300)
	f, err := m.Factor()
	if err != nil {
		b.Fatal(err)
	}
	const k = 60
	x := make([]complex128, k*m.a.Dim())
	for i := range x {
		x[i] = complex(float64(i%7), 1)
	}
	b.Run("Many", func(b *testing.B) {
		for range b.N {
			f.SolveMany(x, k)
		}
	})
	b.Run("TransposedMany", func(b *testing.B) {
		for range b.N {
			f.SolveTransposedMany(x, k)
		}
	})
	b.Run("OneByOne", func(b *testing.B) {
		for range b.N {
			for c := range k {
				f.Solve(x[c*m.a.Dim():][:m.a.Dim()])
			}
		}
	})
}
