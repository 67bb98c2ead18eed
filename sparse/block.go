package sparse

import "math"

// Small dense kernels. Blocks are row-major. Each has a path for three
// conductors on array pointers, which lets the compiler drop the bounds checks,
// and a general path; both sum in the same order.

// magnitude is |Re z| + |Im z|: within a factor √2 of the modulus and much
// cheaper.
func magnitude(z complex128) float64 { return math.Abs(real(z)) + math.Abs(imag(z)) }

// reciprocal returns 1/z without the range reduction and the checks for
// infinities that the division of the language makes; z is finite and not zero.
func reciprocal(z complex128) complex128 {
	re, im := real(z), imag(z)
	if m := re*re + im*im; m > 1e-280 && m < 1e280 {
		r := 1 / m
		return complex(re*r, -im*r)
	}
	// Near the ends of the range, scale by the larger part first.
	if math.Abs(re) >= math.Abs(im) {
		q := im / re
		d := re + im*q
		return complex(1/d, -q/d)
	}
	q := re / im
	d := re*q + im
	return complex(q/d, -1/d)
}

// addVector adds a·x to y.
func addVector(y, a, x []complex128) {
	if len(y) == 3 && len(x) == 3 {
		y, a, x := (*[3]complex128)(y), (*[9]complex128)(a), (*[3]complex128)(x)
		x0, x1, x2 := x[0], x[1], x[2]
		y[0] += a[0]*x0 + a[1]*x1 + a[2]*x2
		y[1] += a[3]*x0 + a[4]*x1 + a[5]*x2
		y[2] += a[6]*x0 + a[7]*x1 + a[8]*x2
		return
	}
	n := len(x)
	for r := range y {
		sum := complex128(0)
		for c, v := range a[r*n : r*n+n] {
			sum += v * x[c]
		}
		y[r] += sum
	}
}

// subVector subtracts a·x from y.
func subVector(y, a, x []complex128) {
	if len(y) == 3 && len(x) == 3 {
		y, a, x := (*[3]complex128)(y), (*[9]complex128)(a), (*[3]complex128)(x)
		x0, x1, x2 := x[0], x[1], x[2]
		y[0] -= a[0]*x0 + a[1]*x1 + a[2]*x2
		y[1] -= a[3]*x0 + a[4]*x1 + a[5]*x2
		y[2] -= a[6]*x0 + a[7]*x1 + a[8]*x2
		return
	}
	n := len(x)
	for r := range y {
		sum := complex128(0)
		for c, v := range a[r*n : r*n+n] {
			sum += v * x[c]
		}
		y[r] -= sum
	}
}

// subVectorT subtracts aᵀ·x from y; a is len(x) by len(y).
func subVectorT(y, a, x []complex128) {
	if len(y) == 3 && len(x) == 3 {
		y, a, x := (*[3]complex128)(y), (*[9]complex128)(a), (*[3]complex128)(x)
		x0, x1, x2 := x[0], x[1], x[2]
		y[0] -= a[0]*x0 + a[3]*x1 + a[6]*x2
		y[1] -= a[1]*x0 + a[4]*x1 + a[7]*x2
		y[2] -= a[2]*x0 + a[5]*x1 + a[8]*x2
		return
	}
	n := len(y)
	for c := range y {
		sum := complex128(0)
		for r, v := range x {
			sum += a[r*n+c] * v
		}
		y[c] -= sum
	}
}

// subProduct subtracts a·b from c, where a is m by k and b is k by n.
func subProduct(c, a, b []complex128, m, k, n int) {
	if m == 3 && k == 3 && n == 3 {
		subProduct3((*[9]complex128)(c), (*[9]complex128)(a), (*[9]complex128)(b))
		return
	}
	for r := range m {
		ar, cr := a[r*k:r*k+k], c[r*n:r*n+n]
		for i := range cr {
			sum := complex128(0)
			for l, v := range ar {
				sum += v * b[l*n+i]
			}
			cr[i] -= sum
		}
	}
}

func subProduct3(c, a, b *[9]complex128) {
	a0, a1, a2 := a[0], a[1], a[2]
	c[0] -= a0*b[0] + a1*b[3] + a2*b[6]
	c[1] -= a0*b[1] + a1*b[4] + a2*b[7]
	c[2] -= a0*b[2] + a1*b[5] + a2*b[8]
	a0, a1, a2 = a[3], a[4], a[5]
	c[3] -= a0*b[0] + a1*b[3] + a2*b[6]
	c[4] -= a0*b[1] + a1*b[4] + a2*b[7]
	c[5] -= a0*b[2] + a1*b[5] + a2*b[8]
	a0, a1, a2 = a[6], a[7], a[8]
	c[6] -= a0*b[0] + a1*b[3] + a2*b[6]
	c[7] -= a0*b[1] + a1*b[4] + a2*b[7]
	c[8] -= a0*b[2] + a1*b[5] + a2*b[8]
}

// addRowSums adds the sums of magnitudes of the rows of a to dst.
func addRowSums(dst []float64, a []complex128) {
	if len(dst) == 3 && len(a) == 9 {
		dst, a := (*[3]float64)(dst), (*[9]complex128)(a)
		dst[0] += magnitude(a[0]) + magnitude(a[1]) + magnitude(a[2])
		dst[1] += magnitude(a[3]) + magnitude(a[4]) + magnitude(a[5])
		dst[2] += magnitude(a[6]) + magnitude(a[7]) + magnitude(a[8])
		return
	}
	n := len(a) / len(dst)
	for r := range dst {
		for _, v := range a[r*n : r*n+n] {
			dst[r] += magnitude(v)
		}
	}
}

// A pivot block is kept as P·S = L·U in one array: L below the diagonal, its
// unit diagonal left out, U above, and the reciprocals of U's diagonal on the
// diagonal. perm[r] is the row of S that became row r.

// factorBlock factorises a, n by n, in place with row pivoting by magnitude.
// sums are the sums of magnitudes of the rows of A, in the block's original row
// order; they are positive. It returns the smallest ratio of a pivot to its row's sum, or anything
// above weakPivot if none is weak, and the step where that was. A pivot of zero
// is put at rounding error, so that the result is finite and the caller can find
// out what it means.
func factorBlock(a []complex128, perm []int32, sums []float64) (worst float64, step int) {
	n := len(perm)
	if n == 3 && factorBlock3((*[9]complex128)(a), (*[3]int32)(perm), (*[3]float64)(sums)) {
		return 1, 0
	}
	for r := range perm {
		perm[r] = int32(r)
	}
	worst = math.Inf(1)
	for k := range n {
		best, size := k, magnitude(a[k*n+k])
		for r := k + 1; r < n; r++ {
			if m := magnitude(a[r*n+k]); m > size {
				best, size = r, m
			}
		}
		if best != k {
			x, y := a[k*n:k*n+n], a[best*n:best*n+n]
			for c := range x {
				x[c], y[c] = y[c], x[c]
			}
			perm[k], perm[best] = perm[best], perm[k]
		}
		pivot := a[k*n+k]
		sum := sums[perm[k]]
		if ratio := size / sum; !(ratio >= worst) { // so that NaN counts
			worst, step = ratio, k
		}
		if size == 0 {
			pivot = complex(epsilon*sum, 0)
		}
		rec := reciprocal(pivot)
		a[k*n+k] = rec
		top := a[k*n+k+1 : k*n+n]
		for r := k + 1; r < n; r++ {
			l := a[r*n+k] * rec
			a[r*n+k] = l
			row := a[r*n+k+1 : r*n+n]
			for c, v := range top {
				row[c] -= l * v
			}
		}
	}
	return worst, step
}

// factorBlock3 is factorBlock for three conductors without a weak pivot. If one
// is weak it reports false and leaves everything as it was.
func factorBlock3(a *[9]complex128, perm *[3]int32, sums *[3]float64) bool {
	a0, a1, a2 := a[0], a[1], a[2]
	b0, b1, b2 := a[3], a[4], a[5]
	c0, c1, c2 := a[6], a[7], a[8]
	p0, p1, p2 := int32(0), int32(1), int32(2)
	s0, s1, s2 := sums[0], sums[1], sums[2]
	m := magnitude(a0)
	if t := magnitude(b0); t > m {
		m = t
		a0, a1, a2, b0, b1, b2 = b0, b1, b2, a0, a1, a2
		p0, p1, s0, s1 = p1, p0, s1, s0
	}
	if t := magnitude(c0); t > m {
		m = t
		a0, a1, a2, c0, c1, c2 = c0, c1, c2, a0, a1, a2
		p0, p2, s0, s2 = p2, p0, s2, s0
	}
	if !(m > weakPivot*s0) {
		return false
	}
	r0 := reciprocal(a0)
	lb := b0 * r0
	b1 -= lb * a1
	b2 -= lb * a2
	lc := c0 * r0
	c1 -= lc * a1
	c2 -= lc * a2
	m = magnitude(b1)
	if t := magnitude(c1); t > m {
		m = t
		b1, b2, c1, c2 = c1, c2, b1, b2
		lb, lc = lc, lb
		p1, p2, s1, s2 = p2, p1, s2, s1
	}
	if !(m > weakPivot*s1) {
		return false
	}
	r1 := reciprocal(b1)
	ld := c1 * r1
	c2 -= ld * b2
	if !(magnitude(c2) > weakPivot*s2) {
		return false
	}
	a[0], a[1], a[2] = r0, a1, a2
	a[3], a[4], a[5] = lb, r1, b2
	a[6], a[7], a[8] = lc, ld, reciprocal(c2)
	perm[0], perm[1], perm[2] = p0, p1, p2
	return true
}

// solveBlock sets x = S⁻¹·x, where f and perm are the factors of S. tmp has
// room for len(x) entries.
func solveBlock(x, f []complex128, perm []int32, tmp []complex128) {
	n := len(perm)
	if n == 3 {
		x, f, perm := (*[3]complex128)(x), (*[9]complex128)(f), (*[3]int32)(perm)
		y0, y1, y2 := x[0], x[1], x[2]
		if perm[0] != 0 || perm[1] != 1 {
			y0, y1, y2 = x[perm[0]], x[perm[1]], x[perm[2]]
		}
		y1 -= f[3] * y0
		y2 -= f[6]*y0 + f[7]*y1
		y2 *= f[8]
		y1 = (y1 - f[5]*y2) * f[4]
		x[0] = (y0 - (f[1]*y1 + f[2]*y2)) * f[0]
		x[1], x[2] = y1, y2
		return
	}
	if n == 1 {
		x[0] *= f[0]
		return
	}
	tmp = tmp[:n]
	copy(tmp, x)
	for r := range n {
		sum := complex128(0)
		for c, v := range f[r*n : r*n+r] {
			sum += v * x[c]
		}
		x[r] = tmp[perm[r]] - sum
	}
	for r := n - 1; r >= 0; r-- {
		sum := complex128(0)
		for c := r + 1; c < n; c++ {
			sum += f[r*n+c] * x[c]
		}
		x[r] = (x[r] - sum) * f[r*n+r]
	}
}

// solveBlockT sets x = S⁻ᵀ·x, which is also the row vector x·S⁻¹.
func solveBlockT(x, f []complex128, perm []int32, tmp []complex128) {
	n := len(perm)
	if n == 3 {
		solveBlockT3((*[3]complex128)(x), (*[9]complex128)(f), (*[3]int32)(perm))
		return
	}
	if n == 1 {
		x[0] *= f[0]
		return
	}
	tmp = tmp[:n]
	for c := range n {
		sum := complex128(0)
		for r := range c {
			sum += tmp[r] * f[r*n+c]
		}
		tmp[c] = (x[c] - sum) * f[c*n+c]
	}
	for c := n - 1; c >= 0; c-- {
		sum := complex128(0)
		for r := c + 1; r < n; r++ {
			sum += tmp[r] * f[r*n+c]
		}
		tmp[c] -= sum
	}
	for c, p := range perm {
		x[p] = tmp[c]
	}
}

func solveBlockT3(x *[3]complex128, f *[9]complex128, perm *[3]int32) {
	y0 := x[0] * f[0]
	y1 := (x[1] - y0*f[1]) * f[4]
	y2 := (x[2] - (y0*f[2] + y1*f[5])) * f[8]
	y1 -= y2 * f[7]
	y0 -= y1*f[3] + y2*f[6]
	if perm[0] == 0 && perm[1] == 1 {
		x[0], x[1], x[2] = y0, y1, y2
		return
	}
	x[perm[0]], x[perm[1]], x[perm[2]] = y0, y1, y2
}

// divideRows sets each row of b, m by n, to that row times S⁻¹.
func divideRows(b, f []complex128, perm []int32, tmp []complex128) {
	n := len(perm)
	if n == 3 {
		f, perm := (*[9]complex128)(f), (*[3]int32)(perm)
		for ; len(b) >= 3; b = b[3:] {
			solveBlockT3((*[3]complex128)(b), f, perm)
		}
		return
	}
	for ; len(b) >= n; b = b[n:] {
		solveBlockT(b[:n], f, perm, tmp)
	}
}

// solveColumns sets b, n by m, to S⁻¹·b. col and tmp have room for n entries.
func solveColumns(b, f []complex128, perm []int32, col, tmp []complex128) {
	n := len(perm)
	m := len(b) / n
	col = col[:n]
	for c := range m {
		for r := range col {
			col[r] = b[r*m+c]
		}
		solveBlock(col, f, perm, tmp)
		for r, v := range col {
			b[r*m+c] = v
		}
	}
}
