package network

import "math"

// sets are disjoint sets of numbers, joined and found with path halving.
type sets []int

func newSets(n int) sets {
	s := make(sets, n)
	for i := range s {
		s[i] = i
	}
	return s
}

func (s sets) root(i int) int {
	for s[i] != i {
		s[i] = s[s[i]]
		i = s[i]
	}
	return i
}

// join keeps the smaller root, so that roots don't depend on history.
func (s sets) join(i, j int) {
	i, j = s.root(i), s.root(j)
	if i < j {
		s[j] = i
	} else {
		s[i] = j
	}
}

// weighted are disjoint sets in which each member has a factor to its root:
// value[i] = factor·value[root].
type weighted struct {
	parent  []int
	factor  []float64
	earthed []bool // of roots
}

func newWeighted(n int) *weighted {
	w := &weighted{make([]int, n), make([]float64, n), make([]bool, n)}
	for i := range w.parent {
		w.parent[i], w.factor[i] = i, 1
	}
	return w
}

func (w *weighted) find(i int) (root int, factor float64) {
	factor = 1
	for i != w.parent[i] {
		factor *= w.factor[i]
		if p := w.parent[i]; p != w.parent[p] { // halve the path
			w.factor[i] *= w.factor[p]
			w.parent[i] = w.parent[p]
			factor *= w.factor[p]
			i = w.parent[i]
			continue
		}
		i = w.parent[i]
	}
	return i, factor
}

// ratioTolerance is how far the turns ratios of two ways round a loop may
// differ and still count as one ratio (a ratio is typed with few digits, and
// the same digits give the same number; this covers rounding alone).
const ratioTolerance = 1e-9

// join says value[a] = weight·value[b]. Where this contradicts what is known,
// only zero satisfies both, so the set can't float: it counts as earthed.
func (w *weighted) join(a, b int, weight float64) {
	ra, fa := w.find(a)
	rb, fb := w.find(b)
	if ra == rb {
		if math.Abs(fa-weight*fb) > ratioTolerance*math.Abs(fa) {
			w.earthed[ra] = true
		}
		return
	}
	// value[ra] = weight·fb/fa · value[rb]
	if ra < rb {
		w.parent[rb], w.factor[rb] = ra, fa/(weight*fb)
		w.earthed[ra] = w.earthed[ra] || w.earthed[rb]
		return
	}
	w.parent[ra], w.factor[ra] = rb, weight*fb/fa
	w.earthed[rb] = w.earthed[ra] || w.earthed[rb]
}

func (w *weighted) earth(a int) {
	r, _ := w.find(a)
	w.earthed[r] = true
}
