package sparse

import (
	"math"
	"math/cmplx"
)

// A Quality tells how well a solution satisfies its equations.
//
//	Residual  ‖b − A·x‖ / (‖A‖·‖x‖ + ‖b‖), largest-entry norms for vectors and
//	          largest row sum for A, with |Re|+|Im| for magnitudes   –
//	Initial   the same before refinement                             –
//	Steps     refinement steps that were kept                        –
//
// About 1e-16 is as good as the arithmetic allows. The residual says that x
// solves a matrix within that relative distance of A; how far x itself may be
// off is that times Condition.
type Quality struct {
	Residual, Initial float64
	Steps             int
}

// maxRefinements bounds the refinement steps of SolveRefined. One brings the
// residual of a sound factorisation to rounding error; a second serves weak
// pivots.
const maxRefinements = 2

// SolveRefined sets x to the solution of A·x = b, where A is m and f its
// factorisation, with up to two steps of refinement: x ← x + A⁻¹·(b − A·x). A
// step is kept if it made the residual smaller, and a second is made only if the
// first left more than rounding error. b and x must not overlap; b is not
// changed.
func (f *Factor) SolveRefined(m *Matrix, b, x []complex128) Quality {
	f.a.checkVector(b, 1)
	f.a.checkVector(x, 1)
	if m.a != f.a {
		panic("sparse: SolveRefined with a matrix of another analysis")
	}
	sums := make([]float64, len(x))
	m.rowSums(sums)
	norm, right := 0.0, 0.0
	for i, s := range sums {
		norm = max(norm, s)
		right = max(right, magnitude(b[i]))
	}
	r := make([]complex128, len(x))
	residual := func(x []complex128) float64 {
		m.MulVec(r, x)
		left, size := 0.0, 0.0
		for i := range r {
			r[i] = b[i] - r[i]
			left = max(left, magnitude(r[i]))
			size = max(size, magnitude(x[i]))
		}
		if left == 0 {
			return 0
		}
		return left / (norm*size + right)
	}
	copy(x, b)
	f.Solve(x)
	q := Quality{Initial: residual(x)}
	q.Residual = q.Initial
	better := make([]complex128, len(x))
	for q.Steps < maxRefinements && q.Residual > 0 {
		f.Solve(r)
		for i := range better {
			better[i] = x[i] + r[i]
		}
		now := residual(better)
		if !(now < q.Residual) {
			break
		}
		copy(x, better)
		q.Residual = now
		q.Steps++
		if now <= epsilon {
			break
		}
	}
	return q
}

// Condition estimates the condition number ‖A‖₁·‖A⁻¹‖₁ of m, whose
// factorisation is f, from a few solutions. It is a lower bound, rarely off by
// more than a factor of three (N. Higham, ACM TOMS 14, 1988 [from memory]). An
// empty matrix has condition 1.
//
// Admittances of different voltage levels or of a stiff source make it large
// without harm to the solution, since rows of different scale do not disturb
// each other; it is worth a warning only together with a poor residual.
func (f *Factor) Condition(m *Matrix) float64 {
	if m.a != f.a {
		panic("sparse: Condition with a matrix of another analysis")
	}
	n := f.a.Dim()
	if n == 0 {
		return 1
	}
	return m.columnNorm() * f.inverseNorm()
}

// inverseNorm estimates ‖A⁻¹‖₁: it climbs from column to column of A⁻¹ by the
// slope of the 1-norm, then tries one vector that defeats unlucky cancellation.
func (f *Factor) inverseNorm() float64 {
	n := f.a.Dim()
	x := make([]complex128, n)
	for i := range x {
		x[i] = complex(1/float64(n), 0)
	}
	f.Solve(x)
	estimate := sumAbs(x)
	last := -1
	for range 5 {
		// The slope at x is A⁻ᴴ·sign(x), by way of the plain transpose.
		for i, v := range x {
			if a := cmplx.Abs(v); a > 0 {
				x[i] = cmplx.Conj(v) / complex(a, 0)
			} else {
				x[i] = 1
			}
		}
		f.SolveTransposed(x)
		steepest, slope := 0, -1.0
		for i, v := range x {
			if a := cmplx.Abs(v); a > slope {
				steepest, slope = i, a
			}
		}
		if steepest == last {
			break
		}
		last = steepest
		clear(x)
		x[steepest] = 1
		f.Solve(x)
		now := sumAbs(x)
		if now <= estimate {
			break
		}
		estimate = now
	}
	sign := 1.0
	for i := range x {
		x[i] = complex(sign*(1+float64(i)/math.Max(1, float64(n-1))), 0)
		sign = -sign
	}
	f.Solve(x)
	return math.Max(estimate, 2*sumAbs(x)/(3*float64(n)))
}

func sumAbs(x []complex128) (sum float64) {
	for _, v := range x {
		sum += cmplx.Abs(v)
	}
	return sum
}

// columnNorm is ‖A‖₁, the largest column sum of moduli.
func (m *Matrix) columnNorm() float64 {
	a, s := m.a, m.a.sym
	sums := make([]float64, a.Dim())
	add := func(col, cols int32, block []complex128) {
		for t, v := range block {
			sums[col+int32(t)%cols] += cmplx.Abs(v)
		}
	}
	for k := range s.n {
		rk, nk := a.rowAt[k], s.size[k]
		add(rk, nk, m.diag[s.diag[k]:s.diag[k+1]])
		for t := a.ptr[k]; t < a.ptr[k+1]; t++ {
			rj, nj := a.rowAt[a.idx[t]], s.size[a.idx[t]]
			add(rj, nj, m.upper[a.off[t]:a.off[t+1]])
			add(rk, nk, m.lower[a.off[t]:a.off[t+1]])
		}
	}
	norm := 0.0
	for _, v := range sums {
		norm = max(norm, v)
	}
	return norm
}
