package sparse

import "math"

// minimumDegree returns an elimination order (the node at each position) that
// keeps fill low. The graph is given by neighbour lists adj[ptr[i]:ptr[i+1]],
// without self-loops and duplicates, each edge in both lists.
//
// Nodes with at most one remaining neighbour are taken first: that is what a
// minimum degree rule does, it causes no fill, and in a mostly radial network it
// leaves little for the general method.
func minimumDegree(n int, ptr, adj []int32) []int32 {
	order := make([]int32, 0, n)
	degree := make([]int32, n)
	for i := range degree {
		degree[i] = ptr[i+1] - ptr[i]
		if degree[i] <= 1 {
			order = append(order, int32(i))
		}
	}
	gone := make([]bool, n)
	for head := 0; head < len(order); head++ {
		v := order[head]
		gone[v] = true
		for _, u := range adj[ptr[v]:ptr[v+1]] {
			if !gone[u] {
				if degree[u]--; degree[u] == 1 {
					order = append(order, u)
				}
			}
		}
	}
	if len(order) == n {
		return order
	}

	// A node with very many neighbours left would be looked at on each of their
	// eliminations. It ends up last anyway, so it is put there at once. The
	// bound, 10·√n, is the customary one for this method.
	core := n - len(order)
	dense := int32(max(16, 10*math.Sqrt(float64(core))))
	var nodes, last []int32
	local := make([]int32, n)
	for i := range n {
		local[i] = -1
		switch {
		case gone[i]:
		case degree[i] > dense:
			last = append(last, int32(i))
		default:
			local[i] = int32(len(nodes))
			nodes = append(nodes, int32(i))
		}
	}
	q := newQuotient(len(nodes))
	for v, i := range nodes {
		q.start[v] = int32(len(q.list))
		for _, u := range adj[ptr[i]:ptr[i+1]] {
			if local[u] >= 0 {
				q.list = append(q.list, local[u])
			}
		}
		q.count[v] = int32(len(q.list)) - q.start[v]
	}
	for _, v := range q.run() {
		order = append(order, nodes[v])
	}
	return append(order, last...)
}

// A quotient is the graph of the approximate minimum degree method. An
// eliminated node becomes an element: the set of its then neighbours, which
// elimination joins pairwise. Storing the set instead of the edges keeps the
// memory within that of the original graph plus the sets themselves. Nodes that
// have become indistinguishable are one variable with a weight.
type quotient struct {
	n     int
	list  []int32 // all lists: of a variable, its elements and then its variables; of an element, its variables
	start []int32
	count []int32
	elems []int32 // of a variable: how many elements stand at the front of its list
	state []uint8

	// weight is the number of nodes that a variable stands for, 0 once it is
	// eliminated or merged, and negative while it is in the element being formed.
	weight []int32
	// degree is an upper bound of a variable's number of neighbours, in nodes; of
	// an element it is the size, in nodes.
	degree []int32

	first      []int32 // variables by degree: doubly linked lists
	next, prev []int32
	lowest     int32 // no list below this degree is occupied

	mergedNext []int32 // nodes that a variable stands for, besides itself
	mergedLast []int32

	mark   []int64 // |element \ current element| + stamp, or a mark in comparisons
	stamp  int64
	bucket []int32 // variables of the current element by hash
	chain  []int32
	hash   []uint32

	left  int32 // nodes not yet eliminated
	order []int32
}

const (
	isVariable = iota
	isElement
	isDead
)

func newQuotient(n int) *quotient {
	block := make([]int32, 12*n)
	take := func() []int32 {
		s := block[:n:n]
		block = block[n:]
		return s
	}
	return &quotient{
		n: n, left: int32(n),
		start: take(), count: take(), elems: take(), weight: take(), degree: take(), first: take(),
		next: take(), prev: take(), mergedNext: take(), mergedLast: take(), bucket: take(), chain: take(),
		state: make([]uint8, n),
		mark:  make([]int64, n),
		hash:  make([]uint32, n),
		order: make([]int32, 0, n),
	}
}

func (q *quotient) run() []int32 {
	for i := range q.n {
		q.first[i], q.bucket[i] = -1, -1
		q.mergedNext[i], q.mergedLast[i] = -1, int32(i)
		q.weight[i] = 1
		q.degree[i] = q.count[i]
	}
	// Downwards, so that of equal degrees the lowest node is taken first.
	for i := int32(q.n) - 1; i >= 0; i-- {
		q.link(i)
	}
	q.stamp = 1
	for q.left > 0 {
		for q.first[q.lowest] < 0 {
			q.lowest++
		}
		q.eliminate(q.first[q.lowest])
	}
	return q.order
}

func (q *quotient) link(v int32) {
	d := q.degree[v]
	q.next[v], q.prev[v] = q.first[d], -1
	if f := q.first[d]; f >= 0 {
		q.prev[f] = v
	}
	q.first[d] = v
	q.lowest = min(q.lowest, d)
}

func (q *quotient) unlink(v int32) {
	if q.prev[v] >= 0 {
		q.next[q.prev[v]] = q.next[v]
	} else {
		q.first[q.degree[v]] = q.next[v]
	}
	if q.next[v] >= 0 {
		q.prev[q.next[v]] = q.prev[v]
	}
}

// emit appends the nodes of variable v to the order.
func (q *quotient) emit(v int32) {
	for ; v >= 0; v = q.mergedNext[v] {
		q.order = append(q.order, v)
	}
}

func (q *quotient) eliminate(p int32) {
	q.unlink(p)
	q.emit(p)
	q.left -= q.weight[p]
	q.weight[p] = -q.weight[p]

	begin := int32(len(q.list))
	size := q.gather(p)
	q.state[p], q.start[p], q.degree[p] = isElement, begin, size
	end := int32(len(q.list))

	// How much of each neighbouring element lies outside the new one.
	for t := begin; t < end; t++ {
		v := q.list[t]
		s := q.start[v]
		for _, e := range q.list[s : s+q.elems[v]] {
			switch {
			case q.state[e] != isElement:
			case q.mark[e] >= q.stamp:
				q.mark[e] += int64(q.weight[v]) // negative
			default:
				q.mark[e] = q.stamp + int64(q.degree[e]) + int64(q.weight[v])
			}
		}
	}
	for t := begin; t < end; t++ {
		q.update(q.list[t], p)
	}
	q.stamp += int64(q.n) + 1 // beyond every value set above
	q.merge(begin, end)

	keep := begin
	size = q.degree[p]
	for t := begin; t < end; t++ {
		v := q.list[t]
		if q.weight[v] == 0 {
			continue
		}
		w := -q.weight[v]
		q.weight[v] = w
		q.degree[v] = min(q.degree[v]+size-w, q.left-w)
		q.link(v)
		q.list[keep] = v
		keep++
	}
	q.list = q.list[:keep]
	q.count[p] = keep - begin
	q.weight[p] = 0
	if keep == begin {
		q.state[p] = isDead
	}
}

// gather appends the neighbours of p to the list, takes them out of the degree
// lists, marks them by a negative weight, and returns their number of nodes.
func (q *quotient) gather(p int32) (size int32) {
	add := func(from, to int32) {
		for t := from; t < to; t++ {
			v := q.list[t]
			if w := q.weight[v]; w > 0 {
				size += w
				q.weight[v] = -w
				q.unlink(v)
				q.list = append(q.list, v)
			}
		}
	}
	s := q.start[p]
	for t := s; t < s+q.elems[p]; t++ {
		if e := q.list[t]; q.state[e] == isElement {
			add(q.start[e], q.start[e]+q.count[e])
			q.state[e] = isDead // every variable of e is now in p
		}
	}
	add(s+q.elems[p], s+q.count[p])
	return size
}

// update rewrites the list of v, a variable of the new element p: p comes in
// front, and what p covers goes. Since v came into p through an edge or an
// element that p covers, the list has room.
func (q *quotient) update(v, p int32) {
	s := q.start[v]
	to := s
	outside := int64(0) // nodes next to v that are not in p
	hash := uint32(p)
	for t := s; t < s+q.elems[v]; t++ {
		e := q.list[t]
		if q.state[e] != isElement {
			continue
		}
		if d := q.mark[e] - q.stamp; d > 0 {
			outside += d
			hash += uint32(e)
			q.list[to] = e
			to++
		} else {
			q.state[e] = isDead // wholly inside p
		}
	}
	elems := to
	for t := s + q.elems[v]; t < s+q.count[v]; t++ {
		u := q.list[t]
		if w := q.weight[u]; w > 0 {
			outside += int64(w)
			hash += uint32(u)
			q.list[to] = u
			to++
		}
	}
	if outside == 0 {
		// v has the same neighbours as p: it can follow at once without fill.
		w := -q.weight[v]
		q.left -= w
		q.degree[p] -= w
		q.weight[v] = 0
		q.state[v] = isDead
		q.emit(v)
		return
	}
	q.list[to] = q.list[elems]
	q.list[elems] = q.list[s]
	q.list[s] = p
	q.elems[v] = elems - s + 1
	q.count[v] = to - s + 1
	q.degree[v] = int32(min(int64(q.degree[v]), outside))

	h := hash % uint32(q.n)
	q.hash[v] = h
	q.chain[v] = q.bucket[h]
	q.bucket[h] = v
}

// merge makes one variable of those in list[begin:end] whose lists are equal.
func (q *quotient) merge(begin, end int32) {
	for t := begin; t < end; t++ {
		if q.weight[q.list[t]] == 0 {
			continue
		}
		h := q.hash[q.list[t]]
		v := q.bucket[h]
		q.bucket[h] = -1
		for ; v >= 0 && q.chain[v] >= 0; v = q.chain[v] {
			s := q.start[v]
			for _, u := range q.list[s+1 : s+q.count[v]] { // all begin with the new element
				q.mark[u] = q.stamp
			}
			before := v
			for u := q.chain[v]; u >= 0; u = q.chain[u] {
				if !q.sameList(v, u) {
					before = u
					continue
				}
				q.weight[v] += q.weight[u]
				q.weight[u] = 0
				q.state[u] = isDead
				q.mergedNext[q.mergedLast[v]] = u
				q.mergedLast[v] = q.mergedLast[u]
				q.chain[before] = q.chain[u]
			}
			q.stamp++
		}
	}
}

// sameList tells whether u has the elements and variables that merge has
// marked for v. Marks of elements and of variables cannot be confused, as an
// index is one or the other.
func (q *quotient) sameList(v, u int32) bool {
	if q.count[u] != q.count[v] || q.elems[u] != q.elems[v] {
		return false
	}
	s := q.start[u]
	for _, w := range q.list[s+1 : s+q.count[u]] {
		if q.mark[w] != q.stamp {
			return false
		}
	}
	return true
}
