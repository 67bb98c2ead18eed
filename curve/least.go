package curve

import (
	"container/heap"
	"math"
)

// A Margin is the least distance in time between two characteristics, and where.
type Margin struct {
	Seconds float64 // of the upper over the lower; +Inf: they never meet in the range
	Current float64 // A or multiple at which; NaN with +Inf
	// Bound: no current of the range has a smaller margin than this. It differs from Seconds by the
	// tolerance asked for, or by more where the search was cut off.
	Bound float64
}

// Least finds the smallest margin upper(x) − lower(x) over lo ≤ x ≤ hi, of two functions that never
// rise. Where lower is +Inf there is nothing to wait for, and where upper alone is +Inf the margin is too.
//
// Since neither rises, the margin on a piece [a, b] is upper(b) − lower(a) at least. Pieces whose bound
// is above the best margin found so far are left out, and the others halved: so no crossing is missed, however narrow. It
// stops when the bound is within tolerance s, or when pieces are narrower than a part in 1e9: at the vertical
// step of an instantaneous element the bound can't close, and the margin is that of the step's two sides.
//
// Range: 0 < lo ≤ hi.
func Least(upper, lower func(x float64) float64, lo, hi, tolerance float64) Margin {
	best := Margin{Seconds: never, Current: math.NaN(), Bound: never}
	if !(lo > 0) || !(hi >= lo) {
		return best
	}
	at := func(x float64) end {
		e := end{upper(x), lower(x)}
		if m := e.up - e.low; !math.IsInf(e.low, 1) && m < best.Seconds {
			best.Seconds, best.Current = m, x
		}
		return e
	}
	split := func(x, y float64, l, r end) piece {
		p := piece{x, y, l, r, r.up - l.low}
		switch {
		case math.IsInf(r.low, 1): // the lower one operates nowhere on the piece
			p.bound = never
		case math.IsInf(l.low, 1): // it begins to, somewhere
			p.bound = math.Inf(-1)
		}
		return p
	}
	queue := pieces{split(lo, hi, at(lo), at(hi))}
	cut := never // least bound of what was left unfinished
	for steps := 0; len(queue) > 0; steps++ {
		p := heap.Pop(&queue).(piece)
		if !(p.bound < best.Seconds-tolerance) {
			best.Bound = math.Min(math.Min(p.bound, cut), best.Seconds)
			return best
		}
		if p.b <= p.a*(1+1e-9) {
			continue
		}
		if steps >= 200_000 {
			cut = math.Min(cut, p.bound)
			break
		}
		mid := math.Sqrt(p.a * p.b)
		m := at(mid)
		heap.Push(&queue, split(p.a, mid, p.l, m))
		heap.Push(&queue, split(mid, p.b, m, p.r))
	}
	best.Bound = math.Min(cut, best.Seconds)
	return best
}

// The times of both at one current.
type end struct{ up, low float64 }

// A piece of the range, with the times at its ends and a lower bound of the margin within.
type piece struct {
	a, b  float64
	l, r  end
	bound float64
}

type pieces []piece

func (p pieces) Len() int           { return len(p) }
func (p pieces) Less(i, j int) bool { return p[i].bound < p[j].bound }
func (p pieces) Swap(i, j int)      { p[i], p[j] = p[j], p[i] }
func (p *pieces) Push(x any)        { *p = append(*p, x.(piece)) }
func (p *pieces) Pop() any {
	old := *p
	x := old[len(old)-1]
	*p = old[:len(old)-1]
	return x
}
