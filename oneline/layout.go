package oneline

import (
	"math"
	"slices"

	"feederwright/drawing"
)

// A layout is where a tree lies.
type layout struct {
	dx     float64 // of the line, from the parent's line
	h      float64 // from the top to the bus or hub
	shape  profile // what it takes up, from its own top
	x, y   float64 // of its top on the block
	parent *tree
	cut    *tree // the tree that stands for it where it goes on elsewhere
	barEnd float64
}

// rowHeight is the resolution of profiles, mm.
const rowHeight = 1.0

// above is how many rows a profile has over its origin.
const above = 12

// A profile is the outline of a tree on both sides: for each row, the
// smallest and largest x that anything has there.
type profile struct{ left, right []float64 }

func (p *profile) grow(rows int) {
	for len(p.left) < rows {
		p.left = append(p.left, math.Inf(1))
		p.right = append(p.right, math.Inf(-1))
	}
}

func (p *profile) add(r rect) {
	lo := max(0, int(math.Floor(r.Y/rowHeight))+above)
	hi := max(lo, int(math.Ceil(r.Bottom()/rowHeight))+above-1)
	p.grow(hi + 1)
	for i := lo; i <= hi; i++ {
		p.left[i] = min(p.left[i], r.X)
		p.right[i] = max(p.right[i], r.Right())
	}
}

// shift is how many rows a tree that hangs at height y is lower. Heights are
// made whole rows, so that a tree has the same outline wherever it hangs.
func shift(y float64) int { return int(math.Round(y / rowHeight)) }

func (p *profile) merge(q profile, dx, y float64) {
	d := shift(y)
	p.grow(len(q.left) + d)
	for i := range q.left {
		if j := i + d; j >= 0 {
			p.left[j] = min(p.left[j], q.left[i]+dx)
			p.right[j] = max(p.right[j], q.right[i]+dx)
		}
	}
}

// beside is the smallest dx at which q, hanging at height y, lies to the right of p.
func (p *profile) beside(q profile, y float64) float64 {
	d := shift(y)
	dx := 0.0
	for i := range q.left {
		if j := i + d; j >= 0 && j < len(p.right) && !math.IsInf(q.left[i], 0) && !math.IsInf(p.right[j], 0) {
			dx = max(dx, p.right[j]-q.left[i]+gap)
		}
	}
	return dx
}

func (p *profile) bounds() rect {
	r := rect{X: math.Inf(1)}
	right := math.Inf(-1)
	first, last := -1, 0
	for i := range p.left {
		if p.left[i] <= p.right[i] {
			if first < 0 {
				first = i
			}
			last = i
			r.X, right = min(r.X, p.left[i]), max(right, p.right[i])
		}
	}
	if first < 0 {
		return rect{}
	}
	r.W = right - r.X
	r.Y = float64(first-above) * rowHeight
	r.H = float64(last-first+1) * rowHeight
	return r
}

// boxes are all rectangles of a part that nothing else may touch.
func (p *part) boxes() []rect {
	list := slices.Concat(p.symbols, p.labels)
	for i := range p.extra {
		list = append(list, p.extra[i].boxes()...)
	}
	return list
}

// order sorts what hangs from a bus: first what goes straight down, then what
// is connected here alone, then branches in the order of the study, then
// the ends of joining lines.
func (t *tree) order() {
	if len(t.kids) == 0 || t.bus == nil && !t.hub {
		return
	}
	if t.hub {
		t.main = true
		slices.SortStableFunc(t.kids, func(a, b *tree) int { return a.rank - b.rank })
		return
	}
	best := 0
	for i, k := range t.kids {
		if k.rank < t.kids[best].rank {
			best = i
		}
	}
	class := func(k *tree) int {
		switch {
		case k.rank >= 5000:
			return 1
		case k.port != nil:
			return 3
		}
		return 2
	}
	main := t.kids[best]
	rest := slices.Delete(slices.Clone(t.kids), best, best+1)
	slices.SortStableFunc(rest, func(a, b *tree) int { return class(a) - class(b) })
	t.kids = append([]*tree{main}, rest...)
	t.main = true
}

// stand is the tree that is drawn: itself, or a flag where it is cut off.
func (t *tree) stand() *tree {
	if t.cut != nil {
		return t.cut
	}
	return t
}

// arrange lays a tree out from its own top at (0, 0).
func (t *tree) arrange() {
	t.shape = profile{}
	y := t.lift + t.padTop
	for i := range t.parts {
		p := &t.parts[i]
		for _, r := range p.boxes() {
			t.shape.add(r.Moved(at(0, y)))
		}
		y += p.h
	}
	// Whole rows, so that outlines stay the same at every height.
	t.h = math.Ceil(y/rowHeight-1e-9) * rowHeight
	t.shape.add(rect{X: -0.6, Y: 0, W: 1.2, H: max(t.h, 0.5)})
	t.barEnd = 0
	for i, kid := range t.kids {
		k := kid.stand()
		k.parent = t
		k.lift = 0
		if t.hub && i == 0 {
			k.lift = threeY2 + threeR - threeY3
		}
		k.arrange()
		if i == 0 && t.main {
			k.dx = 0
		} else {
			k.dx = max(t.shape.beside(k.shape, t.h), t.barEnd+6)
			if t.hub {
				k.dx = max(k.dx, threeX+threeR+4)
			}
			if t.bus == nil && !t.hub && i == 0 {
				k.dx = 0
			}
		}
		t.shape.merge(k.shape, k.dx, t.h)
		if t.bus != nil || t.hub {
			t.barEnd = k.dx
			t.shape.add(rect{X: -2, Y: t.h - 0.6, W: t.barEnd + 4, H: 1.2})
		}
	}
	if t.padLeft > 0 {
		t.shape.add(rect{X: -t.padLeft, Y: t.h - 11, W: t.padLeft, H: 16})
	}
}

// A block is one tree as it stands on a sheet.
type block struct {
	tree     *tree
	elements []drawing.Element
	items    []Item
	boxes    []rect // symbols, labels and bars
	wires    []wire
	ends     map[*port]point
	bars     map[*tree][2]point // ends of the bus bar
	bounds   rect
	sheet    int
}

// setDown draws an arranged tree with its top at a place.
func (bl *block) setDown(b *builder, t *tree, x, y float64) {
	t.x, t.y = x, y
	v := y
	if t.lift+t.padTop > 0 {
		p := b.pen("", "", false, len(t.parts) > 0 && t.dead)
		if t.padTop > 0 {
			p.lead(at(0, t.lift), at(0, t.lift+t.padTop))
		}
		bl.putPart(p.part, at(x, y))
		v += t.lift + t.padTop
	}
	for i := range t.parts {
		p := t.parts[i]
		bl.putPart(p, at(x, v))
		for _, e := range p.extra {
			if e.kind == "relay" {
				bl.trips(b, t, i, e, at(x, v))
			}
		}
		v += p.h
	}
	bottom := y + t.h
	if bottom > v+1e-9 {
		p := b.pen("", "", false, t.dead)
		p.lead(at(0, 0), at(0, bottom-v))
		bl.putPart(p.part, at(x, v))
	}
	if t.port != nil {
		bl.ends[t.port] = at(x, bottom)
	}
	bl.bar(b, t, x, bottom)
	for _, kid := range t.kids {
		k := kid.stand()
		bl.setDown(b, k, x+k.dx, bottom)
	}
}

func (bl *block) putPart(p part, by point) {
	m := p.moved(by)
	bl.put(m)
	for _, e := range m.extra {
		bl.put(e)
	}
}

func (bl *block) put(p part) {
	if p.kind == "" {
		bl.elements = append(bl.elements, p.elements...)
	} else {
		bl.elements = append(bl.elements, drawing.Group{Class: classOf(p.kind), Title: p.kind + " " + p.name, Elements: p.elements})
		x := 0.0
		if len(p.wires) > 0 {
			x = p.wires[0].a.X
		} else if len(p.symbols) > 0 {
			x = p.symbols[0].X + p.symbols[0].W/2
		}
		bl.items = append(bl.items, Item{Kind: p.kind, Name: p.name, At: at(x, p.anchor), Symbols: p.symbols, Labels: p.labels})
	}
	bl.boxes = append(bl.boxes, p.symbols...)
	bl.boxes = append(bl.boxes, p.labels...)
	bl.wires = append(bl.wires, p.wires...)
}

func classOf(kind string) string {
	out := []byte(kind)
	for i, c := range out {
		if c == ' ' {
			out[i] = '-'
		}
	}
	return string(out)
}

// trips draws the line from a relay to the device that it trips, where the
// device is next to its current transformer, and those to further transformers.
func (bl *block) trips(b *builder, t *tree, i int, relay part, by point) {
	r := b.doc.Relays.Find(relay.name)
	if r == nil {
		return
	}
	isTripped := func(name string) bool {
		for _, ref := range r.Item.Trips.V {
			if string(ref) == name {
				return true
			}
		}
		return false
	}
	y := 0.0
	for j := i - 1; j >= 0; j-- {
		y -= t.parts[j].h
		if p := t.parts[j]; isTripped(p.name) && isDevice(p.kind) {
			bl.elements = append(bl.elements, drawing.MoveAll(tripLine(relay.anchor, y+p.anchor), by)...)
			return
		} else if len(p.extra) > 0 {
			break // another relay is in the way
		}
	}
	y = t.parts[i].h
	for j := i + 1; j < len(t.parts); j++ {
		p := t.parts[j]
		if isTripped(p.name) && isDevice(p.kind) {
			bl.elements = append(bl.elements, drawing.MoveAll(tripLine(relay.anchor, y+p.anchor), by)...)
			return
		} else if len(p.extra) > 0 {
			return
		}
		y += p.h
	}
}

func isDevice(kind string) bool {
	return kind == "breaker" || kind == "recloser" || kind == "switch" || kind == "fuse"
}

// Widths of bars, mm.
const (
	stationBar = 1.0
	poleBar    = 0.5
)

// bar draws the bus or the lead of a hub at the lower end of a tree.
func (bl *block) bar(b *builder, t *tree, x, y float64) {
	p := b.pen("", "", false, t.dead)
	switch {
	case t.hub:
		if len(t.kids) > 1 {
			p.lead(at(threeX+threeR+2, 0), at(t.barEnd, 0))
		}
	case t.bus == nil:
		return
	case t.station || len(t.kids) > 1:
		width := poleBar
		if t.station {
			width = stationBar
		}
		s := p.style(width)
		s.Dash = nil
		s.Class = join("bus", s.Class)
		left, right := -2.5, t.barEnd+2.5
		if !t.station {
			left, right = 0, t.barEnd
		}
		p.add(drawing.Line{Style: s, Points: []point{at(left, 0), at(right, 0)}})
		p.claim(left, -width/2, right, width/2)
		if !t.station {
			p.dot(at(0, 0), 0.7)
			for _, k := range t.kids[1:] {
				if d := k.stand().dx; d < t.barEnd {
					p.dot(at(d, 0), 0.7)
				}
			}
		}
		bl.bars[t] = [2]point{at(x+left, y), at(x+right, y)}
	case len(t.kids) == 0:
		p.line(poleBar, at(-1.8, 0), at(1.8, 0))
		bl.bars[t] = [2]point{at(x-1.8, y), at(x+1.8, y)}
	default:
		p.dot(at(0, 0), 0.7)
		bl.bars[t] = [2]point{at(x, y), at(x, y)}
	}
	m := p.part.moved(at(x, y))
	bl.elements = append(bl.elements, m.elements...)
	bl.boxes = append(bl.boxes, m.symbols...)
	bl.wires = append(bl.wires, m.wires...)
}
