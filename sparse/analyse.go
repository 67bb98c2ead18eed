package sparse

import (
	"fmt"
	"math"
	"slices"
)

// MaxSize is the largest number of conductors of a node.
const MaxSize = 4

// An Analysis is what the pattern of a matrix alone decides: the elimination
// order, where fill appears, and where each block is stored. It serves any
// number of matrices of that pattern.
type Analysis struct {
	size   []int32 // conductors of each node
	offset []int32 // first entry of each node in a vector; one more for the end
	sym    *symbolic

	// Blocks of A off the diagonal, by the position k of the earlier node: blocks
	// ptr[k] to ptr[k+1]−1 couple it to the later positions idx, ascending.
	// Block t is entries off[t] to off[t+1]−1 of Matrix.upper and Matrix.lower,
	// and block slot[t] of the filled pattern.
	ptr, idx, off, slot []int32
	rowAt               []int32 // offset of the node at each position
}

// A symbolic is a filled pattern: blocks in elimination order. Position k holds
// node[k], with size[k] conductors at off[k] in permuted vectors. Its pivot
// block starts at diag[k]. Blocks ptr[k] to ptr[k+1]−1 couple it to the later
// positions idx, ascending; block t is entries at[t] to at[t+1]−1 of the upper
// (row k) and of the lower (column k) half.
type symbolic struct {
	n         int
	node, pos []int32
	size, off []int32
	diag      []int32
	ptr, idx  []int32
	at        []int32
}

// Analyse orders the nodes of a matrix and finds where fill appears.
//
//	size   conductors of each node, 1 to 4
//	edges  pairs of nodes that are coupled, in either order; duplicates and
//	       pairs of a node with itself are harmless
//
// The slices are not kept. The error is about a size or a node number out of
// range.
func Analyse(size []int, edges [][2]int32) (*Analysis, error) {
	n := len(size)
	if n >= math.MaxInt32/MaxSize || len(edges) >= math.MaxInt32/2 {
		return nil, fmt.Errorf("sparse: %d nodes and %d edges are more than 32-bit indices allow", n, len(edges))
	}
	a := &Analysis{size: make([]int32, n), offset: make([]int32, n+1)}
	for i, s := range size {
		if s < 1 || s > MaxSize {
			return nil, fmt.Errorf("sparse: node %d has %d conductors, want 1 to %d", i, s, MaxSize)
		}
		a.size[i] = int32(s)
		a.offset[i+1] = a.offset[i] + int32(s)
	}
	for k, e := range edges {
		if e[0] < 0 || e[1] < 0 || int(e[0]) >= n || int(e[1]) >= n {
			return nil, fmt.Errorf("sparse: edge %d couples nodes %d and %d, want 0 to %d", k, e[0], e[1], n-1)
		}
	}
	ptr, adj := adjacency(n, edges)
	sym, err := newSymbolic(a.size, ptr, adj)
	if err != nil {
		return nil, err
	}
	a.sym = sym
	a.locate(ptr, adj)
	return a, nil
}

// locate lays out the blocks of A by elimination position.
func (a *Analysis) locate(ptr, adj []int32) {
	s := a.sym
	n := s.n
	a.ptr = make([]int32, n+1)
	a.rowAt = make([]int32, n)
	a.idx = make([]int32, 0, len(adj)/2)
	a.off = append(make([]int32, 0, len(adj)/2+1), 0)
	a.slot = make([]int32, 0, len(adj)/2)
	end := int32(0)
	for k := range n {
		i := s.node[k]
		a.rowAt[k] = a.offset[i]
		from := len(a.idx)
		for _, j := range adj[ptr[i]:ptr[i+1]] {
			if p := s.pos[j]; int(p) > k {
				a.idx = append(a.idx, p)
			}
		}
		row := a.idx[from:]
		slices.Sort(row)
		t := s.ptr[k]
		for _, p := range row {
			for s.idx[t] != p { // present: the filled pattern contains A's
				t++
			}
			a.slot = append(a.slot, t)
			end += s.at[t+1] - s.at[t]
			a.off = append(a.off, end)
		}
		a.ptr[k+1] = int32(len(a.idx))
	}
}

// Nodes returns the number of nodes.
func (a *Analysis) Nodes() int { return len(a.size) }

// Size returns the number of conductors of node i.
func (a *Analysis) Size(i int) int { return int(a.size[i]) }

// Offset returns the place of node i's first conductor in a vector.
func (a *Analysis) Offset(i int) int { return int(a.offset[i]) }

// Dim returns the number of unknowns.
func (a *Analysis) Dim() int { return int(a.offset[len(a.size)]) }

// Blocks returns how many coupled pairs of nodes the matrix has, and how many
// the factors have; the difference is fill.
func (a *Analysis) Blocks() (matrix, filled int) { return len(a.idx), len(a.sym.idx) }

// adjacency returns the neighbour lists of the graph, without duplicates.
func adjacency(n int, edges [][2]int32) (ptr, adj []int32) {
	count := make([]int32, n+1)
	for _, e := range edges {
		if e[0] != e[1] {
			count[e[0]+1]++
			count[e[1]+1]++
		}
	}
	for i := range n {
		count[i+1] += count[i]
	}
	adj = make([]int32, count[n])
	next := slices.Clone(count[:n])
	for _, e := range edges {
		if e[0] != e[1] {
			adj[next[e[0]]] = e[1]
			next[e[0]]++
			adj[next[e[1]]] = e[0]
			next[e[1]]++
		}
	}
	ptr = count
	seen := next // last node in whose list a neighbour was seen
	for i := range seen {
		seen[i] = -1
	}
	to := int32(0)
	for i := range n {
		from := ptr[i]
		ptr[i] = to
		for _, j := range adj[from:count[i+1]] {
			if seen[j] != int32(i) {
				seen[j] = int32(i)
				adj[to] = j
				to++
			}
		}
	}
	ptr[n] = to
	return ptr, adj[:to]
}

// newSymbolic orders a graph and lays out its filled pattern. Sizes may be
// larger than MaxSize here, when nodes have been merged.
func newSymbolic(size, ptr, adj []int32) (*symbolic, error) {
	n := len(size)
	s := &symbolic{
		n:    n,
		pos:  make([]int32, n),
		size: make([]int32, n),
		off:  make([]int32, n+1),
		diag: make([]int32, n+1),
		ptr:  make([]int32, n+1),
	}
	s.node = postorder(minimumDegree(n, ptr, adj), s.pos, ptr, adj)
	scalars, entries := int64(0), int64(0)
	for k, i := range s.node {
		s.size[k] = size[i]
		s.off[k], s.diag[k] = int32(scalars), int32(entries)
		scalars += int64(size[i])
		entries += int64(size[i]) * int64(size[i])
	}
	if entries > math.MaxInt32 {
		return nil, tooLarge(entries)
	}
	s.off[n], s.diag[n] = int32(scalars), int32(entries)

	// The later neighbours of k are those of the graph and those of its children
	// in the elimination tree: children's lists are complete when k is reached,
	// and the parent is the first of the list.
	child := make([]int32, 2*n)
	child, sibling := child[:n], child[n:]
	seen := make([]int32, n)
	for k := range n {
		child[k], seen[k] = -1, -1
	}
	s.idx = make([]int32, 0, len(adj)/2+len(adj)/8)
	for k := int32(0); int(k) < n; k++ {
		from := len(s.idx)
		i := s.node[k]
		for _, j := range adj[ptr[i]:ptr[i+1]] {
			if p := s.pos[j]; p > k {
				seen[p] = k
				s.idx = append(s.idx, p)
			}
		}
		for c := child[k]; c >= 0; c = sibling[c] {
			for _, p := range s.idx[s.ptr[c]+1 : s.ptr[c+1]] { // the first is k
				if seen[p] != k {
					seen[p] = k
					s.idx = append(s.idx, p)
				}
			}
		}
		if len(s.idx) > math.MaxInt32 {
			return nil, tooLarge(int64(len(s.idx)))
		}
		row := s.idx[from:]
		if len(row) > 0 {
			slices.Sort(row)
			sibling[k], child[row[0]] = child[row[0]], k
		}
		s.ptr[k+1] = int32(len(s.idx))
	}
	s.at = make([]int32, len(s.idx)+1)
	entries = 0
	for k := range n {
		for t := s.ptr[k]; t < s.ptr[k+1]; t++ {
			s.at[t] = int32(entries)
			entries += int64(s.size[k]) * int64(s.size[s.idx[t]])
			if entries > math.MaxInt32 {
				return nil, tooLarge(entries)
			}
		}
	}
	s.at[len(s.idx)] = int32(entries)
	return s, nil
}

func tooLarge(entries int64) error {
	return fmt.Errorf("sparse: the factors need more than %d entries, beyond 32-bit indices", entries)
}

// postorder rearranges an elimination order so that the nodes of each subtree of
// the elimination tree are consecutive. Fill does not change; neighbours come
// to lie close in memory. It returns the order and sets pos to its inverse.
func postorder(order, pos, ptr, adj []int32) []int32 {
	n := len(order)
	for k, i := range order {
		pos[i] = int32(k)
	}
	work := make([]int32, 4*n)
	parent, ancestor, child, sibling := work[:n], work[n:2*n], work[2*n:3*n], work[3*n:]
	for k := range n {
		parent[k], ancestor[k], child[k] = -1, -1, -1
		i := order[k]
		for _, j := range adj[ptr[i]:ptr[i+1]] {
			// Climb from each earlier neighbour to the root of its subtree, which
			// becomes a child of k; shorten the way for later climbs.
			for p := pos[j]; p < int32(k); {
				up := ancestor[p]
				if up == int32(k) {
					break
				}
				ancestor[p] = int32(k)
				if up < 0 {
					parent[p] = int32(k)
					break
				}
				p = up
			}
		}
	}
	for k := n - 1; k >= 0; k-- {
		if p := parent[k]; p >= 0 {
			sibling[k], child[p] = child[p], int32(k)
		}
	}
	result := make([]int32, 0, n)
	stack := ancestor[:0]
	for root := range n {
		if parent[root] >= 0 {
			continue
		}
		stack = append(stack, int32(root))
		for len(stack) > 0 {
			k := stack[len(stack)-1]
			if c := child[k]; c >= 0 {
				child[k] = sibling[c]
				stack = append(stack, c)
				continue
			}
			stack = stack[:len(stack)-1]
			result = append(result, order[k])
		}
	}
	for k, i := range result {
		pos[i] = int32(k)
	}
	return result
}
