package sparse

import (
	"fmt"
	"math"
	"slices"
	"sync"
)

const (
	// epsilon is the distance from 1 to the next float64.
	epsilon = 0x1p-52
	// weakPivot: pivots below this share of their row's sum of magnitudes are
	// looked at after elimination. Above it, elimination can lose no more than
	// about six of sixteen digits, which a step of refinement brings back.
	weakPivot = 1e-6
	// largeGrowth: what the elimination of a weak pivot may add to a neighbour,
	// relative to its row's sum, before the pivot counts as misplaced. The
	// reciprocal of weakPivot: the same six digits.
	largeGrowth = 1e6
	// singularPivot: a pivot that rounding error alone has made stays below this
	// share of its row, so that only those below are tested. It allows for errors
	// that add up along 1e5 nodes with admittances a thousand times larger.
	singularPivot = 1e-8
	// rounding is the allowance, in units of epsilon, for the error of one row of
	// one elimination step in the test for singularity: a few operations a term,
	// times the condition of a line's series block (about 10 for z0/z1 = 4).
	rounding = 100
	// maxNullVectors bounds the cost of the test for singularity, one solution a
	// vector; beyond, remaining weak pivots are not tested.
	maxNullVectors = 32
	// maxMerges bounds the repetitions of a factorisation to cure misplaced
	// pivots, and maxMerged the conductors of a merged block. Each repetition at
	// least halves a chain of misplaced pivots.
	maxMerges = 40
	maxMerged = 256
)

// A SingularError says that a matrix is singular to working precision: some
// matrix within rounding error of it has a null vector. It is also the error of
// a matrix for which no block of up to 256 conductors can be made that has
// sound pivots, which no network of passive elements comes near.
type SingularError struct {
	// Node is the lowest node of the first part.
	Node int
	// Parts are, for each null vector that was found, the nodes where it is not
	// small, ascending: in an admittance matrix, connected nodes without a path
	// to earth in some mode. Parts that share their lowest node are told once.
	Parts [][]int
}

func (e *SingularError) Error() string {
	others := len(e.Parts[0]) - 1
	text := fmt.Sprintf("sparse: the matrix is singular at node %d", e.Node)
	if others > 0 {
		text += fmt.Sprintf(" and %d connected to it", others)
	}
	if n := len(e.Parts) - 1; n > 0 {
		text += fmt.Sprintf(", and in %d more places", n)
	}
	return text
}

// A NotFiniteError says that a matrix holds an infinity or a NaN, or values so
// large that the factorisation overflowed.
type NotFiniteError struct {
	Node int // the lowest node with such a row
}

func (e *NotFiniteError) Error() string {
	return fmt.Sprintf("sparse: the matrix has an entry at node %d that is not finite", e.Node)
}

// A Factor is the block LU of a matrix. It does not refer to the matrix.
type Factor struct {
	a   *Analysis
	sym *symbolic // that of a, unless nodes had to be merged

	pos   []int32 // position of the block that holds each node
	at    []int32 // place of each node's first conductor in permuted vectors
	group []int32 // merged block of each node, numbered by lowest node; nil if none is merged

	diag  []complex128 // factors of the pivot blocks
	upper []complex128 // blocks (k,j) of U
	lower []complex128 // blocks (j,k) of L
	perm  []int32
	sums  []float64 // sums of magnitudes of the rows of A, permuted

	largest int // size of the largest block
	work    sync.Pool
}

// Factor factorises m.
//
// The error is a *SingularError or a *NotFiniteError.
func (m *Matrix) Factor() (*Factor, error) {
	f := &Factor{a: m.a}
	f.adopt(m.a.sym)
	if err := f.Refactor(m); err != nil {
		return nil, err
	}
	return f, nil
}

// Refactor factorises m, which must be on the same analysis, in the storage of
// f; no memory is allocated unless pivots need care. After an error f holds
// nothing that can be used until a Refactor succeeds.
func (f *Factor) Refactor(m *Matrix) error {
	if m.a != f.a {
		panic("sparse: Refactor with a matrix of another analysis")
	}
	for round := 0; ; round++ {
		f.load(m)
		if err := f.checkRows(); err != nil {
			return err
		}
		weak := f.eliminate()
		if len(weak) == 0 {
			return nil
		}
		pairs, err := f.misplaced(weak)
		if err != nil {
			return err
		}
		if len(pairs) == 0 {
			return f.checkSingular(m, weak)
		}
		if round == maxMerges || !f.merge(pairs) {
			return f.noOrder(pairs)
		}
	}
}

// adopt takes a filled pattern and makes room for its values.
func (f *Factor) adopt(s *symbolic) {
	f.sym = s
	n := len(f.a.size)
	dim := f.a.Dim()
	end := s.at[len(s.idx)]
	f.diag = make([]complex128, s.diag[s.n])
	f.upper = make([]complex128, end)
	f.lower = make([]complex128, end)
	f.perm = make([]int32, dim)
	f.sums = make([]float64, dim)
	f.pos, f.at = make([]int32, n), make([]int32, n)
	f.largest = 1
	for _, size := range s.size {
		f.largest = max(f.largest, int(size))
	}
	used := make([]int32, s.n) // conductors already placed in a merged block
	for i := range n {
		g := int32(i)
		if f.group != nil {
			g = f.group[i]
		}
		f.pos[i] = s.pos[g]
		f.at[i] = s.off[s.pos[g]] + used[g]
		used[g] += f.a.size[i]
	}
	f.work = sync.Pool{}
}

// load copies the values of m and sums the magnitudes of its rows.
func (f *Factor) load(m *Matrix) {
	a, s := f.a, f.sym
	clear(f.sums)
	clear(f.upper)
	clear(f.lower)
	if f.group != nil {
		f.loadMerged(m)
		return
	}
	copy(f.diag, m.diag)
	for k := range s.n {
		sums := f.sums[s.off[k]:s.off[k+1]]
		addRowSums(sums, m.diag[s.diag[k]:s.diag[k+1]])
		for t := a.ptr[k]; t < a.ptr[k+1]; t++ {
			j := a.idx[t]
			u, l := m.upper[a.off[t]:a.off[t+1]], m.lower[a.off[t]:a.off[t+1]]
			to := s.at[a.slot[t]]
			copy(f.upper[to:], u)
			copy(f.lower[to:], l)
			addRowSums(sums, u)
			addRowSums(f.sums[s.off[j]:s.off[j+1]], l)
		}
	}
}

func (f *Factor) loadMerged(m *Matrix) {
	a := f.a
	clear(f.diag)
	put := func(i, j int32, block []complex128) {
		dst, stride := f.view(f.diag, f.upper, f.lower, i, j)
		cols := int(a.size[j])
		for r := range int(a.size[i]) {
			row := block[r*cols : (r+1)*cols]
			copy(dst[r*stride:], row)
			for _, v := range row {
				f.sums[int(f.at[i])+r] += magnitude(v)
			}
		}
	}
	for k := range a.sym.n {
		i := a.sym.node[k]
		put(i, i, m.diag[a.sym.diag[k]:a.sym.diag[k+1]])
		for t := a.ptr[k]; t < a.ptr[k+1]; t++ {
			j := a.sym.node[a.idx[t]]
			put(i, j, m.upper[a.off[t]:a.off[t+1]])
			put(j, i, m.lower[a.off[t]:a.off[t+1]])
		}
	}
}

// view returns what diag, upper and lower, on the filled pattern of f, hold for
// the rows of node i and the columns of node j: the entry of row r and column c
// is at r·stride+c. It returns nil outside the pattern.
func (f *Factor) view(diag, upper, lower []complex128, i, j int32) (entries []complex128, stride int) {
	s := f.sym
	p, q := f.pos[i], f.pos[j]
	stride = int(s.size[q])
	inside := int(f.at[i]-s.off[p])*stride + int(f.at[j]-s.off[q])
	if p == q {
		return diag[s.diag[p]:s.diag[p+1]][inside:], stride
	}
	k, other, half := p, q, upper
	if q < p {
		k, other, half = q, p, lower
	}
	t := find(s.idx, s.ptr[k], s.ptr[k+1], other)
	if t < 0 {
		return nil, 0
	}
	return half[s.at[t]:s.at[t+1]][inside:], stride
}

// checkRows finds rows of A that are not finite or all zero.
func (f *Factor) checkRows() error {
	suspect := false
	for _, sum := range f.sums {
		if !(sum > 0 && sum <= math.MaxFloat64) {
			suspect = true
			break
		}
	}
	if !suspect {
		return nil
	}
	var zero [][]int
	for i, at := range f.at {
		empty := false
		for _, sum := range f.sums[at : at+f.a.size[i]] {
			if !(sum <= math.MaxFloat64) {
				return &NotFiniteError{Node: i}
			}
			empty = empty || sum == 0
		}
		if empty {
			zero = append(zero, []int{i})
		}
	}
	return &SingularError{Node: zero[0][0], Parts: zero}
}

// A weak is a pivot that is small against its row.
type weak struct {
	pos   int32   // of the block
	row   int32   // permuted scalar row that was the pivot row
	col   int32   // permuted scalar column of the pivot
	ratio float64 // pivot to sum of magnitudes of the row
}

// eliminate turns the loaded values into factors.
func (f *Factor) eliminate() (found []weak) {
	s := f.sym
	tmp := make([]complex128, f.largest)
	for k := range s.n {
		off := s.off[k]
		nk := int(s.size[k])
		pivot := f.diag[s.diag[k]:s.diag[k+1]]
		perm := f.perm[off : off+s.size[k]]
		if ratio, step := factorBlock(pivot, perm, f.sums[off:off+s.size[k]]); !(ratio > weakPivot) {
			found = append(found, weak{int32(k), off + perm[step], off + int32(step), ratio})
		}
		from, to := s.ptr[k], s.ptr[k+1]
		if from == to {
			continue
		}
		// The blocks of a column follow each other and have rows of one length.
		divideRows(f.lower[s.at[from]:s.at[to]], pivot, perm, tmp)
		for t := from; t < to; t++ {
			i := s.idx[t]
			ni := int(s.size[i])
			l, u := f.lower[s.at[t]:s.at[t+1]], f.upper[s.at[t]:s.at[t+1]]
			subProduct(f.diag[s.diag[i]:s.diag[i+1]], l, u, ni, nk, ni)
			e := s.ptr[i]
			for t2 := t + 1; t2 < to; t2++ {
				j := s.idx[t2]
				for s.idx[e] != j { // present: later neighbours of k are neighbours
					e++
				}
				nj := int(s.size[j])
				subProduct(f.upper[s.at[e]:s.at[e+1]], l, f.upper[s.at[t2]:s.at[t2+1]], ni, nk, nj)
				subProduct(f.lower[s.at[e]:s.at[e+1]], f.lower[s.at[t2]:s.at[t2+1]], u, nj, nk, ni)
			}
		}
	}
	return found
}

// misplaced returns the weak pivots whose elimination made a neighbour grow too
// much, each with the position of the neighbour that grew most.
func (f *Factor) misplaced(found []weak) (pairs [][2]int32, err error) {
	s := f.sym
	for _, w := range found {
		if math.IsNaN(w.ratio) {
			return nil, &NotFiniteError{Node: f.lowest(w.pos)}
		}
		most, partner := float64(largeGrowth), int32(-1)
		for t := s.ptr[w.pos]; t < s.ptr[w.pos+1]; t++ {
			j := s.idx[t]
			row := slices.Max(f.sums[s.off[j]:s.off[j+1]])
			growth := largest(f.lower[s.at[t]:s.at[t+1]]) * largest(f.upper[s.at[t]:s.at[t+1]]) / row
			if growth > most {
				most, partner = growth, j
			}
		}
		if partner >= 0 {
			pairs = append(pairs, [2]int32{w.pos, partner})
		}
	}
	return pairs, nil
}

func largest(block []complex128) (most float64) {
	for _, v := range block {
		most = max(most, magnitude(v))
	}
	return most
}

// lowest returns the lowest node of the block at position p.
func (f *Factor) lowest(p int32) int { return slices.Index(f.pos, p) }

// merge makes one block of each pair of positions (and of pairs that share a
// block), and orders the smaller graph. It reports false if a block would become
// too large.
func (f *Factor) merge(pairs [][2]int32) bool {
	a := f.a
	n := len(a.size)
	root := make([]int32, f.sym.n)
	for p := range root {
		root[p] = int32(p)
	}
	top := func(p int32) int32 {
		for root[p] != p {
			p = root[p]
		}
		return p
	}
	for _, pair := range pairs {
		if p, q := top(pair[0]), top(pair[1]); p != q {
			root[p] = q
		}
	}
	group := make([]int32, n)
	number := make([]int32, f.sym.n)
	for p := range number {
		number[p] = -1
	}
	var size []int32
	for i := range n {
		p := top(f.pos[i])
		if number[p] < 0 {
			number[p] = int32(len(size))
			size = append(size, 0)
		}
		group[i] = number[p]
		if size[number[p]] += a.size[i]; size[number[p]] > maxMerged {
			return false
		}
	}
	edges := make([][2]int32, 0, len(a.idx))
	for k := range a.sym.n {
		for t := a.ptr[k]; t < a.ptr[k+1]; t++ {
			edges = append(edges, [2]int32{group[a.sym.node[k]], group[a.sym.node[a.idx[t]]]})
		}
	}
	ptr, adj := adjacency(len(size), edges)
	s, err := newSymbolic(size, ptr, adj)
	if err != nil {
		return false
	}
	f.group = group
	f.adopt(s)
	return true
}

// noOrder is the error when merging did not help: the nodes of the blocks that
// still have misplaced pivots.
func (f *Factor) noOrder(pairs [][2]int32) error {
	e := &SingularError{}
	for _, pair := range pairs {
		var part []int
		for i, p := range f.pos {
			if p == pair[0] {
				part = append(part, i)
			}
		}
		e.Parts = append(e.Parts, part)
	}
	e.Node = e.Parts[0][0]
	return e
}

// checkSingular decides whether weak pivots are rounding error.
//
// With x = A⁻¹·e for the unit vector e of the pivot's row k, scaled as it comes,
// A·x differs from zero only by the 1 in row k. Rounding errors in A of relative
// size c·ε, independent of each other, can move the sum xᵀ·A·x by
//
//	c · ε · √ Σᵢ ( |xᵢ| · (|A|·|x|)ᵢ )²
//
// and when that is more than x_k, the value of the sum, nothing tells A from a
// matrix with null vector x. Weighting rows with x makes the test independent
// of the voltage level in which each node is expressed.
//
// A column of the block that has nothing but rounding errors left may have its
// pivot in any row, also in one that the null vector does not touch: A⁻¹·e of
// that is nothing special. The null vector does touch the pivot's column, and
// with it that row, as A is symmetric or nearly so. Both are tried; either is proof.
func (f *Factor) checkSingular(m *Matrix, found []weak) error {
	found = slices.DeleteFunc(found, func(w weak) bool { return w.ratio > singularPivot })
	slices.SortFunc(found, func(v, w weak) int {
		switch {
		case v.ratio < w.ratio:
			return -1
		case v.ratio > w.ratio:
			return 1
		}
		return int(v.pos - w.pos)
	})
	if len(found) > maxNullVectors {
		found = found[:maxNullVectors]
	}
	if len(found) == 0 {
		return nil
	}
	dim := f.a.Dim()
	x := make([]complex128, dim)
	user := make([]complex128, dim)
	abs := make([]float64, dim)
	sum := make([]float64, dim)
	tmp := make([]complex128, f.largest)
	e := &SingularError{}
	starts := make([]weak, 0, 2*len(found))
	for _, w := range found {
		starts = append(starts, w)
		if w.col != w.row {
			w.row = w.col
			starts = append(starts, w)
		}
	}
	for _, w := range starts {
		clear(x)
		x[w.row] = 1
		f.solve(x, tmp)
		f.scatter(user, x)
		peak := 0.0
		for u, v := range user {
			abs[u] = magnitude(v)
			peak = max(peak, abs[u])
		}
		if !(peak > 0 && peak <= math.MaxFloat64) {
			return &NotFiniteError{Node: f.lowest(w.pos)}
		}
		m.mulMagnitudes(sum, abs)
		noise := 0.0
		for u, v := range abs {
			t := v / peak * sum[u] // scaled by peak, against overflow
			noise += t * t
		}
		if magnitude(x[w.row])/peak > rounding*epsilon*math.Sqrt(noise) {
			continue
		}
		var part []int
		for i := range f.a.size {
			if slices.Max(abs[f.a.offset[i]:f.a.offset[i+1]]) > 1e-3*peak {
				part = append(part, i)
			}
		}
		if !slices.ContainsFunc(e.Parts, func(p []int) bool { return p[0] == part[0] }) {
			e.Parts = append(e.Parts, part)
		}
	}
	if len(e.Parts) == 0 {
		return nil
	}
	e.Node = e.Parts[0][0]
	return e
}

// mulMagnitudes sets dst = |A|·x, with |Re|+|Im| for magnitudes.
func (m *Matrix) mulMagnitudes(dst, x []float64) {
	a, s := m.a, m.a.sym
	clear(dst)
	add := func(row, col int32, rows, cols int32, block []complex128) {
		for r := range rows {
			for c := range cols {
				dst[row+r] += magnitude(block[r*cols+c]) * x[col+c]
			}
		}
	}
	for k := range s.n {
		rk, nk := a.rowAt[k], s.size[k]
		add(rk, rk, nk, nk, m.diag[s.diag[k]:s.diag[k+1]])
		for t := a.ptr[k]; t < a.ptr[k+1]; t++ {
			rj, nj := a.rowAt[a.idx[t]], s.size[a.idx[t]]
			add(rk, rj, nk, nj, m.upper[a.off[t]:a.off[t+1]])
			add(rj, rk, nj, nk, m.lower[a.off[t]:a.off[t+1]])
		}
	}
}
