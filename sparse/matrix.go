package sparse

import "fmt"

// A Matrix holds values on an analysed pattern. A block couples nodes i and j
// in both directions, with values of their own; entries never set are zero.
type Matrix struct {
	a     *Analysis
	diag  []complex128 // blocks (k,k) by position
	upper []complex128 // blocks (k,j), j later than k
	lower []complex128 // blocks (j,k)
}

// NewMatrix returns a matrix of zeros.
func (a *Analysis) NewMatrix() *Matrix {
	end := a.off[len(a.idx)]
	return &Matrix{
		a:     a,
		diag:  make([]complex128, a.sym.diag[a.sym.n]),
		upper: make([]complex128, end),
		lower: make([]complex128, end),
	}
}

// Analysis returns the analysis that m was made from.
func (m *Matrix) Analysis() *Analysis { return m.a }

// Clear sets every entry to zero.
func (m *Matrix) Clear() {
	clear(m.diag)
	clear(m.upper)
	clear(m.lower)
}

// Clone returns a copy on the same analysis.
func (m *Matrix) Clone() *Matrix {
	return &Matrix{
		a:     m.a,
		diag:  append([]complex128(nil), m.diag...),
		upper: append([]complex128(nil), m.upper...),
		lower: append([]complex128(nil), m.lower...),
	}
}

// block returns the stored block (i, j), row-major, or nil if the pattern has
// no such block.
func (m *Matrix) block(i, j int) []complex128 {
	a := m.a
	p, q := a.sym.pos[i], a.sym.pos[j]
	if p == q {
		return m.diag[a.sym.diag[p]:a.sym.diag[p+1]]
	}
	k, other, half := p, q, m.upper
	if q < p {
		k, other, half = q, p, m.lower
	}
	if t := find(a.idx, a.ptr[k], a.ptr[k+1], other); t >= 0 {
		return half[a.off[t]:a.off[t+1]]
	}
	return nil
}

// find returns the place of p in the ascending idx[from:to], or −1.
func find(idx []int32, from, to, p int32) int32 {
	for to-from > 8 {
		if mid := (from + to) / 2; idx[mid] <= p {
			from = mid
		} else {
			to = mid
		}
	}
	for ; from < to; from++ {
		if idx[from] == p {
			return from
		}
	}
	return -1
}

// Add adds a block to the rows of node i and the columns of node j; it is
// row-major, Size(i) by Size(j), and is not kept. A pair that is neither i = j
// nor an edge of the analysis, or a block of another size, is a bug of the
// caller and panics.
func (m *Matrix) Add(i, j int, block []complex128) {
	b := m.block(i, j)
	if b == nil {
		panic(fmt.Sprintf("sparse: nodes %d and %d are not coupled in the analysed pattern", i, j))
	}
	if len(b) != len(block) {
		panic(fmt.Sprintf("sparse: block of %d entries for nodes %d and %d, want %d", len(block), i, j, len(b)))
	}
	for t, v := range block {
		b[t] += v
	}
}

// AddAt adds v to the entry of row r of node i and column c of node j. It
// panics where Add does, and for r or c outside the block.
func (m *Matrix) AddAt(i, r, j, c int, v complex128) {
	b := m.block(i, j)
	if b == nil {
		panic(fmt.Sprintf("sparse: nodes %d and %d are not coupled in the analysed pattern", i, j))
	}
	b[m.entry(i, r, j, c)] += v
}

// At returns the entry of row r of node i and column c of node j; it is zero
// outside the pattern.
func (m *Matrix) At(i, r, j, c int) complex128 {
	b := m.block(i, j)
	if b == nil {
		return 0
	}
	return b[m.entry(i, r, j, c)]
}

func (m *Matrix) entry(i, r, j, c int) int {
	rows, cols := m.a.Size(i), m.a.Size(j)
	if r < 0 || r >= rows || c < 0 || c >= cols {
		panic(fmt.Sprintf("sparse: entry (%d, %d) of nodes %d and %d, whose block is %d×%d", r, c, i, j, rows, cols))
	}
	return r*cols + c
}

// Blocks calls visit for every block of the pattern, row-major; the blocks must
// not be changed.
func (m *Matrix) Blocks(visit func(i, j int, block []complex128)) {
	a := m.a
	s := a.sym
	for k := range s.n {
		i := int(s.node[k])
		visit(i, i, m.diag[s.diag[k]:s.diag[k+1]])
		for t := a.ptr[k]; t < a.ptr[k+1]; t++ {
			j := int(s.node[a.idx[t]])
			from, to := a.off[t], a.off[t+1]
			visit(i, j, m.upper[from:to])
			visit(j, i, m.lower[from:to])
		}
	}
}

// MulVec sets dst = A·x. The two must not overlap.
func (m *Matrix) MulVec(dst, x []complex128) {
	m.a.checkVector(dst, 1)
	m.a.checkVector(x, 1)
	clear(dst)
	m.accumulate(dst, x)
}

// accumulate adds A·x to dst.
func (m *Matrix) accumulate(dst, x []complex128) {
	a := m.a
	s := a.sym
	for k := range s.n {
		size := int(s.size[k])
		xk, dk := x[a.rowAt[k]:][:size], dst[a.rowAt[k]:][:size]
		addVector(dk, m.diag[s.diag[k]:s.diag[k+1]], xk)
		for t := a.ptr[k]; t < a.ptr[k+1]; t++ {
			j := a.idx[t]
			from, to := a.off[t], a.off[t+1]
			xj, dj := x[a.rowAt[j]:][:s.size[j]], dst[a.rowAt[j]:][:s.size[j]]
			addVector(dk, m.upper[from:to], xj)
			addVector(dj, m.lower[from:to], xk)
		}
	}
}

// rowSums sets dst to the sums of magnitudes, |Re|+|Im|, of the rows of A, in
// the caller's order.
func (m *Matrix) rowSums(dst []float64) {
	a := m.a
	s := a.sym
	clear(dst)
	for k := range s.n {
		dk := dst[a.rowAt[k]:][:s.size[k]]
		addRowSums(dk, m.diag[s.diag[k]:s.diag[k+1]])
		for t := a.ptr[k]; t < a.ptr[k+1]; t++ {
			j := a.idx[t]
			addRowSums(dk, m.upper[a.off[t]:a.off[t+1]])
			addRowSums(dst[a.rowAt[j]:][:s.size[j]], m.lower[a.off[t]:a.off[t+1]])
		}
	}
}

func (a *Analysis) checkVector(x []complex128, k int) {
	if len(x) != k*a.Dim() {
		panic(fmt.Sprintf("sparse: %d vectors of length %d in %d entries", k, a.Dim(), len(x)))
	}
}
