package oneline

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"feederwright/drawing"
	"feederwright/study"
)

// A layout is where a tree lies.
type layout struct {
	dx     float64 // of the line, from the parent's line
	h      float64 // from the top to the bus or hub
	shape  profile // what it takes up, from its own top
	x, y   float64 // of its top on the block
	cut    *tree   // the tree that stands for it where it goes on elsewhere
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
	if n := rows - len(p.left); n > 0 {
		p.left, p.right = slices.Grow(p.left, n), slices.Grow(p.right, n)
	}
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

// arrange lays a tree out from its own top at (0, 0). Where that spares width,
// the line to the next bus is drawn longer, by up to stretch mm, so that it
// lies below what hangs beside it.
func (t *tree) arrange(stretch float64) {
	for i, kid := range t.kids {
		k := kid.stand()
		k.lift, k.extra = 0, 0
		if t.hub && i == 0 {
			k.lift = threeY2 + threeR - threeY3
		}
		k.arrange(stretch)
	}
	if stretch > 0 && t.main && t.bus != nil {
		if k := t.kids[0].stand(); k.bus != nil && len(k.kids) > 0 {
			t.stretch(k, stretch)
		}
	}
	t.arrangeHead()
	for i, kid := range t.kids {
		k := kid.stand()
		switch {
		case i == 0 && (t.main || t.bus == nil && !t.hub):
			k.dx = 0
		case t.hub:
			k.dx = max(t.shape.beside(k.shape, t.h), t.barEnd+6, threeX+threeR+4)
		default:
			k.dx = max(t.shape.beside(k.shape, t.h), t.barEnd+6)
		}
		t.hang(k)
	}
	t.keepLeft()
}

// hang adds to a tree's outline what hangs from it at k.dx.
func (t *tree) hang(k *tree) {
	t.shape.merge(k.shape, k.dx, t.h)
	if t.bus != nil || t.hub {
		t.barEnd = k.dx
		t.shape.add(rect{X: -2, Y: t.h - 0.6, W: t.barEnd + 4, H: 1.2})
	}
}

// keepLeft adds the room that is wanted on the left of the bar.
func (t *tree) keepLeft() {
	if t.padLeft > 0 {
		t.shape.add(rect{X: -t.padLeft, Y: t.h - 11, W: t.padLeft, H: 16})
	}
}

// again makes the outline anew after the conductor on top has got longer;
// what hangs from the tree stays where it is below its bus.
func (t *tree) again() {
	t.arrangeHead()
	for _, kid := range t.kids {
		t.hang(kid.stand())
	}
	t.keepLeft()
}

// top is how far below its own top a tree's parts begin.
func (t *tree) top() float64 { return t.lift + t.padTop + t.extra + t.fill }

// arrangeHead lays out the parts of a tree.
func (t *tree) arrangeHead() {
	t.shape = profile{}
	t.fill = 0
	if t.hub {
		// The leads of a hub leave at its lower end exactly.
		y := t.top()
		for i := range t.parts {
			y += t.parts[i].h
		}
		t.fill = math.Ceil(y/rowHeight-1e-9)*rowHeight - y
	}
	y := t.top()
	for i := range t.parts {
		p := &t.parts[i]
		for _, r := range p.boxes() {
			t.shape.add(r.Moved(at(0, y)))
		}
		y += p.h
	}
	for _, l := range t.trips {
		t.shape.add(l.box().Moved(at(0, t.top())))
	}
	// Whole rows, so that outlines stay the same at every height.
	t.h = math.Ceil(y/rowHeight-1e-9) * rowHeight
	t.shape.add(rect{X: -0.6, Y: 0, W: 1.2, H: max(t.h, 0.5)})
	t.barEnd = 0
}

// spares is how much width a stretch has to save for each mm of height.
const spares = 0.8

// stretch lengthens the line to the main child where that lets the others
// hang beside it instead of to the right of all below.
func (t *tree) stretch(k *tree, most float64) {
	beside, below := k.headOnly(), k.shape
	tall, near, far := 0.0, 0.0, 0.0
	for _, other := range t.kids[1:] {
		o := other.stand()
		tall = max(tall, o.shape.bounds().Bottom())
		near += beside.beside(o.shape, 0)
		far += below.beside(o.shape, 0)
	}
	need := math.Ceil(tall + gap - k.h)
	if need > 0 && need <= most && far-near > spares*need {
		k.extra = need
		k.again()
	}
}

// headOnly is the outline of a tree without what hangs from its bus.
func (t *tree) headOnly() profile {
	shape, h, end := t.shape, t.h, t.barEnd
	t.arrangeHead()
	head := t.shape
	t.shape, t.h, t.barEnd = shape, h, end
	return head
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
	feeder   string // the feeder or root that the block belongs to
	sheet    int
}

// setDown draws an arranged tree with its top at a place.
func (bl *block) setDown(b *builder, t *tree, x, y float64) {
	t.x, t.y = x, y
	v := y
	for _, l := range t.trips {
		by := at(x, y+t.top())
		bl.elements = append(bl.elements, drawing.MoveAll(tripLine(l.relay, l.device, l.tip), by)...)
		bl.boxes = append(bl.boxes, l.box().Moved(by))
	}
	if t.top() > 0 {
		p := b.pen("", "", false, len(t.parts) > 0 && t.dead)
		if t.top() > t.lift {
			p.lead(at(0, t.lift), at(0, t.top()))
		}
		bl.putPart(p.part, at(x, y))
		v += t.top()
	}
	for i := range t.parts {
		p := t.parts[i]
		bl.putPart(p, at(x, v))
		v += p.h
	}
	bottom := y + t.h
	if bottom > v+1e-9 && (t.bus != nil || t.hub || t.port != nil && !t.port.tie.flagged) {
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
		bl.elements = append(bl.elements, drawing.Group{ID: ID(p.kind, p.name), Class: classOf(p.kind), Title: p.kind + " " + p.name, Elements: p.elements})
		x := 0.0
		if len(p.wires) > 0 {
			x = p.wires[0].a.X
		} else if len(p.symbols) > 0 {
			x = p.symbols[0].X + p.symbols[0].W/2
		}
		bl.items = append(bl.items, Item{Kind: p.kind, Name: p.name, At: at(x, p.anchor), Symbols: p.symbols, Labels: p.labels, Dead: p.dead})
	}
	bl.boxes = append(bl.boxes, p.symbols...)
	bl.boxes = append(bl.boxes, p.labels...)
	bl.wires = append(bl.wires, p.wires...)
}

// ID is the identity of a thing's group in the drawing: its kind and name, in
// which all but letters, digits and hyphens are written as their code. Flags, of
// which there are two of a name, have none.
func ID(kind, name string) string {
	if kind == "flag" {
		return ""
	}
	var b strings.Builder
	b.WriteString(classOf(kind) + ".")
	for _, c := range []byte(name) {
		switch {
		case c >= 'a' && c <= 'z', c >= 'A' && c <= 'Z', c >= '0' && c <= '9', c == '-':
			b.WriteByte(c)
		default:
			fmt.Fprintf(&b, "_%02x", c)
		}
	}
	return b.String()
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

// A trip is a line from a relay to the device that it trips, at heights below the
// top of the parts.
type trip struct {
	relay, device float64
	tip           float64 // x at which it ends
}

// box is what the line takes up.
func (l trip) box() rect {
	return rect{X: relayX - 0.6, Y: min(l.relay, l.device) - 0.6, W: -relayX - 2.5, H: math.Abs(l.relay-l.device) + 1.2}
}

// findTrips finds the relays of a tree whose device is so near to their
// current transformer that a line can show what they trip.
func (b *builder) findTrips(t *tree) {
	t.trips = nil
	tops := make([]float64, len(t.parts))
	for i := 1; i < len(t.parts); i++ {
		tops[i] = tops[i-1] + t.parts[i-1].h
	}
	for i, p := range t.parts {
		for _, e := range p.extra {
			r := b.doc.Relays.Find(e.name)
			if e.kind != "relay" || r == nil {
				continue
			}
		search:
			for _, d := range []int{-1, 1} {
				// Beside a transformer with several relays, the one nearest to the device.
				if last := p.extra[len(p.extra)-1]; d < 0 && p.extra[0].name != e.name || d > 0 && last.name != e.name {
					continue
				}
				for j := i + d; j >= 0 && j < len(t.parts); j += d {
					q := t.parts[j]
					if isDevice(q.kind) && slices.Contains(r.Item.Trips.V, study.Ref(q.name)) {
						t.trips = append(t.trips, trip{tops[i] + e.anchor, tops[j] + q.anchor, q.tip})
						break search
					}
					if len(q.extra) > 0 {
						break // another relay is in the way
					}
				}
			}
		}
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
			p.claim(-0.7, -0.7, 0.7, 0.7)
			for _, k := range t.kids[1:] {
				if d := k.stand().dx; d < t.barEnd {
					p.dot(at(d, 0), 0.7)
				}
			}
		}
		bl.bars[t] = [2]point{at(x+left, y), at(x+right, y)}
	case len(t.kids) == 0:
		p.line(poleBar, at(-1.8, 0), at(1.8, 0))
		p.claim(-1.8, -0.3, 1.8, 0.3)
		bl.bars[t] = [2]point{at(x-1.8, y), at(x+1.8, y)}
	default:
		p.dot(at(0, 0), 0.7)
		p.claim(-0.7, -0.7, 0.7, 0.7)
		bl.bars[t] = [2]point{at(x, y), at(x, y)}
	}
	m := p.part.moved(at(x, y))
	bl.elements = append(bl.elements, m.elements...)
	bl.boxes = append(bl.boxes, m.symbols...)
	bl.wires = append(bl.wires, m.wires...)
}
