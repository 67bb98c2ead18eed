package oneline

import (
	"container/heap"
	"math"
	"slices"

	"feederwright/drawing"
)

// A router finds ways for joining lines on a grid: level and upright, round
// symbols, labels and bars, and across other conductors only at right angles.
type router struct {
	origin  point
	nx, ny  int
	blocked []bool
	near    []bool // close to something: passed only where there is no other way
	level   []bool // a level conductor runs here
	upright []bool
	reached []float64
	from    []int32
	stamp   []int32
	now     int32
}

// Costs of a way: gridStep for each step, and for each turn and crossing as
// much as a detour of that many mm.
const (
	gridStep  = 1.25
	turnCost  = 8.0
	crossCost = 500.0
	nearCost  = 1.5 // for each mm that is close to something
	clearance = 0.9 // least distance from symbols and labels
	wanted    = 4.0 // distance that is not close
)

func newRouter(bounds rect, boxes []rect, wires []wire) *router {
	r := &router{origin: at(bounds.X, bounds.Y), nx: int(bounds.W/gridStep) + 2, ny: int(bounds.H/gridStep) + 2}
	n := r.nx * r.ny
	r.blocked, r.near, r.level, r.upright = make([]bool, n), make([]bool, n), make([]bool, n), make([]bool, n)
	for _, b := range boxes {
		r.mark(r.blocked, rect{X: b.X - clearance, Y: b.Y - clearance, W: b.W + 2*clearance, H: b.H + 2*clearance})
		r.mark(r.near, rect{X: b.X - wanted, Y: b.Y - wanted, W: b.W + 2*wanted, H: b.H + 2*wanted})
	}
	for _, w := range wires {
		r.wire(w)
	}
	r.reached, r.from, r.stamp = make([]float64, 2*n), make([]int32, 2*n), make([]int32, 2*n)
	return r
}

// mark sets the cells whose middle lies within a rectangle.
func (r *router) mark(cells []bool, b rect) {
	x0, x1 := int(math.Ceil((b.X-r.origin.X)/gridStep)), int(math.Floor((b.Right()-r.origin.X)/gridStep))
	y0, y1 := int(math.Ceil((b.Y-r.origin.Y)/gridStep)), int(math.Floor((b.Bottom()-r.origin.Y)/gridStep))
	for y := max(0, y0); y <= min(r.ny-1, y1); y++ {
		for x := max(0, x0); x <= min(r.nx-1, x1); x++ {
			cells[y*r.nx+x] = true
		}
	}
}

func (r *router) wire(w wire) {
	const near = 1.4
	x0, x1 := min(w.a.X, w.b.X), max(w.a.X, w.b.X)
	y0, y1 := min(w.a.Y, w.b.Y), max(w.a.Y, w.b.Y)
	switch {
	case x1-x0 < 1e-6:
		r.mark(r.upright, rect{X: x0 - near, Y: y0, W: 2 * near, H: y1 - y0})
		// Its ends are no place to pass: something else begins there.
	case y1-y0 < 1e-6:
		r.mark(r.level, rect{X: x0, Y: y0 - near, W: x1 - x0, H: 2 * near})
	default:
		r.mark(r.blocked, rect{X: x0, Y: y0, W: x1 - x0, H: y1 - y0})
	}
}

func (r *router) cell(p point) (x, y int) {
	return int(math.Round((p.X - r.origin.X) / gridStep)), int(math.Round((p.Y - r.origin.Y) / gridStep))
}

type step struct {
	state int32 // 2·cell + (0 level, 1 upright)
	cost  float64
	rank  float64 // cost and what is at least to come
	seq   int32   // order, so that equal ways are chosen alike
}

type steps []step

func (s steps) Len() int { return len(s) }
func (s steps) Less(i, j int) bool {
	if s[i].rank != s[j].rank {
		return s[i].rank < s[j].rank
	}
	return s[i].seq < s[j].seq
}
func (s steps) Swap(i, j int) { s[i], s[j] = s[j], s[i] }
func (s *steps) Push(x any)   { *s = append(*s, x.(step)) }
func (s *steps) Pop() any {
	old := *s
	x := old[len(old)-1]
	*s = old[:len(old)-1]
	return x
}

// route finds a way that leaves a downwards and comes to b from below, and
// tells how many conductors it crosses.
func (r *router) route(a, b point) (way []point, crossings int, ok bool) {
	ax, ay := r.cell(a)
	bx, by := r.cell(b)
	// One step below both ends.
	ay++
	by++
	inside := func(x, y int) bool { return x >= 0 && y >= 0 && x < r.nx && y < r.ny }
	if !inside(ax, ay) || !inside(bx, by) {
		return nil, 0, false
	}
	start, goal := ay*r.nx+ax, by*r.nx+bx
	r.now++
	var queue steps
	seq := int32(0)
	push := func(state int32, cost float64, from int32) {
		if r.stamp[state] == r.now && r.reached[state] <= cost {
			return
		}
		r.stamp[state], r.reached[state], r.from[state] = r.now, cost, from
		cell := int(state / 2)
		rest := gridStep * float64(abs(cell%r.nx-bx)+abs(cell/r.nx-by))
		seq++
		heap.Push(&queue, step{state, cost, cost + rest, seq})
	}
	push(int32(2*start+1), 0, -1)
	found := int32(-1)
	for queue.Len() > 0 {
		s := heap.Pop(&queue).(step)
		if s.cost > r.reached[s.state] {
			continue
		}
		cell, upright := int(s.state/2), s.state%2 == 1
		if cell == goal && upright {
			found = s.state
			break
		}
		x, y := cell%r.nx, cell/r.nx
		onWire := cell != start && cell != goal && (r.level[cell] || r.upright[cell])
		if !onWire {
			push(s.state^1, s.cost+turnCost, s.state)
		}
		for _, d := range []int{-1, 1} {
			nx, ny := x, y
			if upright {
				ny += d
			} else {
				nx += d
			}
			if !inside(nx, ny) {
				continue
			}
			next := ny*r.nx + nx
			end := next == goal || next == start
			if r.blocked[next] && !end {
				continue
			}
			cost := s.cost + gridStep
			if r.near[next] {
				cost += nearCost * gridStep
			}
			if !end {
				if upright && r.upright[next] || !upright && r.level[next] {
					continue
				}
				across := r.level[next]
				if !upright {
					across = r.upright[next]
				}
				if across {
					before := r.level[cell]
					if !upright {
						before = r.upright[cell]
					}
					if !before {
						cost += crossCost
					}
				}
			}
			state := int32(2 * next)
			if upright {
				state++
			}
			push(state, cost, s.state)
		}
	}
	if found < 0 {
		return nil, 0, false
	}
	var cells []int
	for s := found; s >= 0; s = r.from[s] {
		if c := int(s / 2); len(cells) == 0 || cells[len(cells)-1] != c {
			cells = append(cells, c)
		}
	}
	slices.Reverse(cells)
	way = []point{a}
	at2 := func(c int) point {
		return at(r.origin.X+float64(c%r.nx)*gridStep, r.origin.Y+float64(c/r.nx)*gridStep)
	}
	for i, c := range cells {
		if i > 0 && i < len(cells)-1 {
			p, q := cells[i-1], cells[i+1]
			if (c-p) == (q-c) && abs(c-p) < r.nx || c/r.nx == p/r.nx && c/r.nx == q/r.nx || c%r.nx == p%r.nx && c%r.nx == q%r.nx {
				continue
			}
		}
		way = append(way, at2(c))
	}
	way = append(way, b)
	way = tidy(way, a.X, b.X)
	for _, c := range cells[1 : len(cells)-1] {
		if r.level[c] || r.upright[c] {
			crossings++
		}
	}
	return way, crossings, true
}

// tidy puts the first and last upright legs exactly below the ends of the way.
func tidy(way []point, ax, bx float64) []point {
	x0 := way[1].X
	for i := 1; i < len(way) && way[i].X == x0; i++ {
		way[i].X = ax
	}
	x1 := way[len(way)-2].X
	for i := len(way) - 2; i >= 0 && way[i].X == x1; i-- {
		way[i].X = bx
	}
	// A way that is straight down from one and up to the other, apart from less
	// than a step, gets its level leg where it turns.
	var out []point
	for _, p := range way {
		if n := len(out); n > 0 && out[n-1] == p {
			continue
		}
		if n := len(out); n > 1 && (out[n-1].X == p.X && out[n-2].X == p.X || out[n-1].Y == p.Y && out[n-2].Y == p.Y) {
			out[n-1] = p
			continue
		}
		out = append(out, p)
	}
	return out
}

func abs(i int) int {
	if i < 0 {
		return -i
	}
	return i
}

// joinTies draws the joining lines of a block and tells which found no way.
func (bl *block) joinTies(b *builder, ties []*tie) (crossings int, failed []*tie) {
	type job struct {
		tie  *tie
		a, b point
	}
	var jobs []job
	for _, t := range ties {
		if t.flagged || t.straight {
			continue
		}
		var ends [2]point
		n := 0
		for p, at := range bl.ends {
			if p.tie == t {
				ends[p.side] = at
				n++
			}
		}
		if n == 2 {
			jobs = append(jobs, job{t, ends[0], ends[1]})
		}
	}
	if len(jobs) == 0 {
		return 0, nil
	}
	// Short ones first, as they have the least choice.
	far := func(j job) float64 { return math.Abs(j.a.X-j.b.X) + math.Abs(j.a.Y-j.b.Y) }
	slices.SortStableFunc(jobs, func(x, y job) int {
		switch d := far(x) - far(y); {
		case d < 0:
			return -1
		case d > 0:
			return 1
		}
		return 0
	})
	margin := 4 + 3*float64(len(jobs))
	bounds := bl.bounds
	bounds = rect{X: bounds.X - margin, Y: bounds.Y - margin, W: bounds.W + 2*margin, H: bounds.H + 2*margin}
	r := newRouter(bounds, bl.boxes, bl.wires)
	for _, j := range jobs {
		way, n, ok := r.route(j.a, j.b)
		if !ok {
			failed = append(failed, j.tie)
			continue
		}
		crossings += n
		p := b.pen("joining line", j.tie.edge.name, false, j.tie.dead)
		p.lead(way...)
		for _, w := range p.wires {
			r.wire(w)
		}
		bl.elements = append(bl.elements, drawing.Group{Class: "joining-line", Title: "joining line of " + j.tie.edge.name, Elements: p.elements})
		bl.wires = append(bl.wires, p.wires...)
	}
	return crossings, failed
}
