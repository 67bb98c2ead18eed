package curve

import (
	"fmt"
	"math"
	"sort"
)

// A Point of a tabulated curve: a current in A, or a multiple of the setting, and a time in s.
type Point struct{ X, T float64 }

// An End says what a tabulated curve does above its last point.
type End int

const (
	Unsaid  End = iota // the curve doesn't say: NaN
	Held               // the time stays
	Thermic            // I²t stays: the melting of a fuse without time to lose heat
)

// Points is a curve by points, straight between them on logarithmic scales. Below the first
// point it never operates: that point is the least current that operates it.
type Points struct {
	points []Point
	end    End
}

// A PointError says which point of a table is wrong, counted from 0.
type PointError struct {
	Index   int
	Problem string
}

func (e PointError) Error() string { return fmt.Sprintf("point %d: %s", e.Index+1, e.Problem) }

// NewPoints makes a curve of two or more points in the order of rising current and falling
// time; two points of one current make a vertical step down. All that is wrong comes back together. The slice is copied.
func NewPoints(points []Point, end End) (Points, []PointError) {
	var wrong []PointError
	add := func(i int, format string, args ...any) {
		wrong = append(wrong, PointError{i, fmt.Sprintf(format, args...)})
	}
	if len(points) < 2 {
		add(max(len(points)-1, 0), "a curve has two points at least")
	}
	for i, p := range points {
		if !(p.X > 0) || math.IsInf(p.X, 1) {
			add(i, "the current %g is not above zero", p.X)
		}
		if !(p.T > 0) || math.IsInf(p.T, 1) {
			add(i, "the time %g s is not above zero", p.T)
		}
		if i == 0 {
			continue
		}
		if q := points[i-1]; p.X < q.X {
			add(i, "the current %g is below the one before it, %g", p.X, q.X)
		} else if p.T > q.T {
			add(i, "the time rises from %g s to %g s; more current can't be slower", q.T, p.T)
		} else if p == q {
			add(i, "it repeats the one before it")
		}
	}
	if wrong != nil {
		return Points{}, wrong
	}
	return Points{append([]Point(nil), points...), end}, nil
}

// Least is the smallest current, or multiple, that operates it.
func (c Points) Least() float64 { return c.points[0].X }

// Most is the largest current, or multiple, that the table gives.
func (c Points) Most() float64 { return c.points[len(c.points)-1].X }

// All returns a copy of the points.
func (c Points) All() []Point { return append([]Point(nil), c.points...) }

// Time implements Form. At a vertical step it is the time at its foot.
func (c Points) Time(x float64) float64 {
	n := len(c.points)
	switch {
	case n == 0 || math.IsNaN(x):
		return math.NaN()
	case x < c.points[0].X:
		return never
	}
	i := sort.Search(n, func(i int) bool { return c.points[i].X > x }) // first point above x
	p := c.points[i-1]
	if x == p.X {
		return p.T
	}
	if i == n {
		switch c.end {
		case Held:
			return p.T
		case Thermic:
			return p.T * (p.X / x) * (p.X / x)
		}
		return math.NaN()
	}
	q := c.points[i]
	part := math.Log(x/p.X) / math.Log(q.X/p.X)
	return p.T * math.Exp(part*math.Log(q.T/p.T))
}
