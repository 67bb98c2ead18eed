package oneline

import (
	"fmt"
	"math"
	"slices"
	"sort"
	"strconv"
	"strings"
	"unicode/utf8"

	"feederwright/drawing"
	"feederwright/study"
)

// Draw lays out and draws a study in one of its states.
func Draw(doc *study.Document, state study.State, o Options) (*Diagram, error) {
	set := o.Symbols
	if set == "" {
		set = doc.Practice.V
		if set != IEC {
			set = IEEE
		}
	}
	if set != IEC && set != IEEE {
		return nil, fmt.Errorf("symbols %q: want %s or %s", o.Symbols, IEC, IEEE)
	}
	if len(doc.Buses.Entries) == 0 {
		return nil, fmt.Errorf("the study has no bus, so there is nothing to draw")
	}
	b := &builder{doc: doc, state: state, o: o, set: set}
	roots, ties := b.grow()
	c := &composer{b: b, forest: &tree{kids: roots}, ties: ties}
	c.attach()
	if o.Fold > 0 {
		for _, t := range roots {
			c.foldBelow(t)
		}
	}
	if o.Paper == (drawing.Paper{}) {
		return c.fitted()
	}
	return c.sheets()
}

// A composer puts trees on sheets.
type composer struct {
	b         *builder
	forest    *tree
	ties      []*tie
	marks     []*tree // that texts about sheets mean
	crossings int
	folds     []Folded
	stretch   float64 // how much longer lines may be drawn to spare width
}

// attach hangs the ends of ties on their buses, and orders everything.
func (c *composer) attach() {
	for _, t := range c.ties {
		t.straight = t.edge.kind == "device" && t.trees[0] != t.trees[1] && !within(t.trees[0], t.trees[1], c.forest)
		if !t.straight {
			c.hangTie(t)
		}
	}
	var walk func(t *tree)
	walk = func(t *tree) {
		t.order()
		c.b.findTrips(t)
		for _, k := range t.kids {
			walk(k)
		}
	}
	walk(c.forest)
}

// within tells whether one of two trees is part of the other.
func within(a, b, forest *tree) bool {
	var has func(t, u *tree) bool
	has = func(t, u *tree) bool {
		if t == u {
			return true
		}
		for _, k := range t.kids {
			if has(k, u) {
				return true
			}
		}
		return false
	}
	return has(a, b) || has(b, a)
}

// hangTie gives a tie its two ends in the drawing.
func (c *composer) hangTie(t *tie) {
	b := c.b
	for side := range 2 {
		k := &tree{name: t.edge.name, rank: 900, port: &port{t, side}, dead: t.dead}
		e := t.edge
		hub := t.ends[0] == t.ends[1]
		switch {
		case hub && side == 0:
			k.rank = e.outlet[t.ends[0]]
		case hub:
			k.parts = b.endParts(e, t.ends[1], true)
		case e.kind == "device" && side == 0:
			n := b.nodes[e.ends[0]]
			k.parts = b.deviceParts([]study.PlacedDevice{t.device}, n.dead, true, e.ends[0])
		case e.kind == "device":
		default:
			k.parts = b.endParts(e, t.ends[side], true)
			if side == 0 {
				k.parts = append(k.parts, b.middle(e, t.ends[0]))
			}
		}
		b.findTrips(k)
		p := b.pen("", "", false, t.dead)
		p.h = 3
		p.lead(at(0, 0), at(0, p.h))
		k.parts = append(k.parts, p.part)
		t.trees[side].kids = append(t.trees[side].kids, k)
	}
}

// flagTie ends both sides of a tie in flags that name the other side.
func (c *composer) flagTie(t *tie) {
	t.flagged = true
	for side := range 2 {
		for _, k := range t.trees[side].kids {
			if k.port == nil || k.port.tie != t || k.port.side != side {
				continue
			}
			other := t.trees[1-side]
			to := t.edge.ends[t.ends[1-side]]
			if other.hub {
				to = other.name
			}
			k.parts[len(k.parts)-1] = c.b.flag(t.edge.name, t.dead, t.edge.name, "to "+to+c.sheetMark(other))
		}
	}
}

// Texts that name a sheet are written before it is known which: a character for
// private use stands for it, and tells by its number which tree is meant.
const firstMark = '\ue000'

// sheetMark is a text that becomes ", sheet 3".
func (c *composer) sheetMark(t *tree) string {
	i := slices.Index(c.marks, t)
	if i < 0 {
		i = len(c.marks)
		c.marks = append(c.marks, t)
	}
	return sheetWord + string(firstMark+rune(i%6400))
}

const sheetWord = ", sheet "

// numbered puts the number of a sheet in; without numbers it takes the mark out.
func (c *composer) numbered(text string, sheetOf map[*tree]int) string {
	i := strings.IndexFunc(text, func(r rune) bool { return r >= firstMark && r < firstMark+6400 })
	if i < 0 {
		return text
	}
	mark, size := utf8.DecodeRuneInString(text[i:])
	k := int(mark - firstMark)
	if n := 0; k < len(c.marks) && sheetOf != nil {
		n = sheetOf[c.marks[k]]
		return strings.TrimPrefix(text[:i]+strconv.Itoa(n)+text[i+size:], ", ")
	}
	return strings.TrimSuffix(text[:i], sheetWord) + text[i+size:]
}

// block sets a tree down by itself, its bounds beginning at (0, 0).
func (c *composer) block(t *tree) *block {
	t.lift, t.extra = 0, 0
	t.arrange(c.stretch)
	bl := &block{tree: t, ends: map[*port]point{}, bars: map[*tree][2]point{}}
	bl.setDown(c.b, t, 0, 0)
	bl.measure()
	return bl
}

// measure finds the bounds of what is drawn.
func (bl *block) measure() {
	bl.bounds = rect{}
	first := true
	for _, e := range bl.elements {
		r := e.Bounds()
		if first {
			bl.bounds, first = r, false
			continue
		}
		x, y := min(bl.bounds.X, r.X), min(bl.bounds.Y, r.Y)
		bl.bounds = rect{X: x, Y: y, W: max(bl.bounds.Right(), r.Right()) - x, H: max(bl.bounds.Bottom(), r.Bottom()) - y}
	}
}

// move displaces a block.
func (bl *block) move(by point) {
	bl.elements = drawing.MoveAll(bl.elements, by)
	for i := range bl.items {
		bl.items[i] = bl.items[i].moved(by)
	}
	bl.bounds = bl.bounds.Moved(by)
}

func (it Item) moved(by point) Item {
	it.At = it.At.Add(by)
	shift := func(rs []rect) []rect {
		out := make([]rect, len(rs))
		for i, r := range rs {
			out[i] = r.Moved(by)
		}
		return out
	}
	it.Symbols, it.Labels = shift(it.Symbols), shift(it.Labels)
	return it
}

// whole draws the whole study as one block, its ties joined.
func (c *composer) whole() *block {
	for range 8 {
		bl := c.level(c.forest)
		n, failed := bl.joinTies(c.b, c.ties)
		if len(failed) == 0 {
			c.crossings = n
			bl.measure()
			return bl
		}
		for _, t := range failed {
			c.flagTie(t)
		}
	}
	return c.block(c.forest)
}

// level sets a tree down with couplers between its bars drawn level where
// the bars lie side by side; other couplers become ties.
func (c *composer) level(t *tree) *block {
	for again := true; again; {
		again = false
		for _, tie := range c.ties {
			for _, u := range tie.trees {
				u.padTop, u.padLeft = 0, 0
			}
		}
		bl := c.block(t)
		var straight []*tie
		for _, tie := range c.ties {
			if tie.straight {
				straight = append(straight, tie)
			}
		}
		if len(straight) == 0 {
			return bl
		}
		// Room on the left of the right bar, and both at one height.
		for _, tie := range straight {
			l, r := tie.trees[0], tie.trees[1]
			if l.x > r.x {
				l, r = r, l
			}
			d := c.couplerPart(tie)
			r.padLeft = d.h + 6
			for _, e := range d.labels {
				r.padLeft = max(r.padLeft, e.W+6)
			}
			if dy := (l.y + l.h) - (r.y + r.h); dy > 0 {
				r.padTop += dy
			} else {
				l.padTop -= dy
			}
		}
		bl = c.block(t)
		for _, tie := range straight {
			l, r := tie.trees[0], tie.trees[1]
			if l.x > r.x {
				l, r = r, l
			}
			lb, okL := bl.bars[l]
			rb, okR := bl.bars[r]
			corridor := rect{X: lb[1].X + 0.1, Y: lb[1].Y - 8, W: rb[0].X - lb[1].X - 0.2, H: 11}
			free := okL && okR && math.Abs(lb[1].Y-rb[0].Y) < 0.01 && corridor.W > 8
			for _, box := range bl.boxes {
				free = free && !box.Overlaps(corridor)
			}
			for _, w := range bl.wires {
				free = free && !around(w).Overlaps(corridor)
			}
			if free {
				c.drawCoupler(bl, tie, lb[1], rb[0])
				continue
			}
			tie.straight = false
			l.padTop, r.padTop, r.padLeft = 0, 0, 0
			c.hangTie(tie)
			l.order()
			r.order()
			again = true
		}
		if !again {
			bl.measure()
			return bl
		}
	}
	return nil
}

func around(w wire) rect {
	x, y := min(w.a.X, w.b.X), min(w.a.Y, w.b.Y)
	return rect{X: x - 0.1, Y: y - 0.1, W: math.Abs(w.a.X-w.b.X) + 0.2, H: math.Abs(w.a.Y-w.b.Y) + 0.2}
}

func (c *composer) couplerPart(t *tie) part {
	dead := c.b.nodes[t.edge.ends[0]].dead && c.b.nodes[t.edge.ends[1]].dead
	return c.b.device(t.device, dead)
}

// drawCoupler draws a device level between two bars.
func (c *composer) drawCoupler(bl *block, t *tie, from, to point) {
	d := c.couplerPart(t)
	p := c.b.pen(d.kind, d.name, false, t.dead)
	mid := at((from.X+to.X)/2, from.Y)
	x0 := mid.X - d.anchor
	var texts []drawing.Text
	for _, e := range d.elements {
		if text, ok := e.(drawing.Text); ok && text.Class == "label" {
			texts = append(texts, text)
			continue
		}
		p.add(levelled(e, at(x0, from.Y)))
	}
	p.lead(from, at(x0, from.Y))
	p.lead(at(x0+d.h, to.Y), to)
	for _, s := range d.symbols {
		p.symbols = append(p.symbols, rect{X: x0 + s.Y, Y: from.Y - s.Right(), W: s.H, H: s.W})
	}
	y := from.Y - 3.2 - labelHeight(len(texts))
	for _, text := range texts {
		text.At = at(mid.X, y+0.93*text.Size)
		text.Anchor = drawing.Middle
		p.add(text)
		p.labels = append(p.labels, text.Bounds())
		y += text.Size * drawing.LineHeight
	}
	p.anchor = from.Y
	bl.put(p.part)
	bl.items[len(bl.items)-1].At = mid
}

// levelled turns an element of a symbol drawn downwards so that it runs to
// the right; what was left of the line comes to lie below it.
func levelled(e drawing.Element, by point) drawing.Element {
	turn := func(p point) point { return at(p.Y, -p.X).Add(by) }
	switch e := e.(type) {
	case drawing.Line:
		points := make([]point, len(e.Points))
		for i, p := range e.Points {
			points[i] = turn(p)
		}
		e.Points = points
		return e
	case drawing.Circle:
		e.Center = turn(e.Center)
		return e
	case drawing.Arc:
		e.Center = turn(e.Center)
		e.From -= 90
		return e
	case drawing.Box:
		a := turn(at(e.X, e.Y))
		e.Rect = rect{X: a.X, Y: a.Y - e.W, W: e.H, H: e.W}
		return e
	case drawing.Text:
		e.At = turn(e.At)
		return e
	}
	return e
}

// fitted draws everything on one page as large as it needs.
func (c *composer) fitted() (*Diagram, error) {
	bl := c.whole()
	const margin = 6
	bl.move(at(margin-bl.bounds.X, margin-bl.bounds.Y))
	page := &drawing.Page{Width: bl.bounds.W + 2*margin, Height: bl.bounds.H + 2*margin, Title: c.title(), Desc: c.describe()}
	page.Add(c.named(bl, nil)...)
	return c.diagram([]*drawing.Page{page}, []*block{bl}), nil
}

func (c *composer) title() string {
	return c.b.doc.Title.V + ", one-line diagram"
}

// describe says in words what the diagram has, for those who don't see it.
func (c *composer) describe() string {
	var parts []string
	d := c.b.doc
	for _, n := range []struct {
		count int
		what  string
	}{
		{len(d.Supply.Entries), "infeed"}, {len(d.Buses.Entries), "bus"},
		{len(d.Transformers.Entries) + len(d.ThreeWinding.Entries) + len(d.Banks.Entries), "transformer"},
		{len(d.Lines.Entries), "line"}, {len(d.Breakers.Entries), "breaker"}, {len(d.Reclosers.Entries), "recloser"},
		{len(d.Switches.Entries), "switch"}, {len(d.Fuses.Entries), "fuse"}, {len(d.Relays.Entries), "relay"}, {len(d.Loads.Entries), "load"},
	} {
		if n.count == 0 {
			continue
		}
		s := n.what
		if n.count > 1 {
			if strings.HasSuffix(s, "s") || strings.HasSuffix(s, "h") {
				s += "e"
			}
			s += "s"
		}
		parts = append(parts, strconv.Itoa(n.count)+" "+s)
	}
	var open []string
	for _, dev := range d.Devices() {
		if c.b.state.Open[dev.Name] {
			open = append(open, dev.Name)
		}
	}
	s := "One-line diagram with " + strings.Join(parts, ", ") + "."
	if len(open) > 0 {
		s += " Open: " + strings.Join(open, ", ") + "."
	}
	return s
}

// named puts the numbers of sheets into the texts that speak of them.
func (c *composer) named(bl *block, sheetOf map[*tree]int) []drawing.Element {
	var fix func(list []drawing.Element) []drawing.Element
	fix = func(list []drawing.Element) []drawing.Element {
		out := make([]drawing.Element, len(list))
		for i, e := range list {
			switch e := e.(type) {
			case drawing.Group:
				e.Elements = fix(e.Elements)
				out[i] = e
			case drawing.Text:
				e.Text = c.numbered(e.Text, sheetOf)
				out[i] = e
			default:
				out[i] = e
			}
		}
		return out
	}
	return fix(bl.elements)
}

func (c *composer) diagram(pages []*drawing.Page, blocks []*block) *Diagram {
	d := &Diagram{Pages: pages, Crossings: c.crossings, Folds: c.folds}
	for _, bl := range blocks {
		for _, it := range bl.items {
			it.Sheet = bl.sheet
			d.Items = append(d.Items, it)
		}
	}
	for _, t := range c.ties {
		if t.flagged {
			d.Flagged++
		}
	}
	return d
}

// stretches are the amounts of stretching that are tried.
var stretches = []float64{0, 20, 45, 90}

// How far a diagram is enlarged that is smaller than its sheet, and reduced
// that is just too large: until its smallest text is 2.2 mm high.
const (
	largest  = 1.3
	smallest = 2.2 / detailSize
)

// keys explain what symbols tell by their shape.
var keys = map[string]string{
	IEEE: "Breakers, reclosers (R): filled closed, empty open. Strokes across a line: its phases. Triangles: ends of a cable. Dot at a current transformer: current enters there. Dashed conductor: dead. Crossed out: out of service.",
	IEC:  "Contacts stand as in this condition. Strokes across a line: its phases. Triangles: ends of a cable. Dot at a current transformer: current enters there. Dashed conductor: dead. Crossed out: out of service.",
}

// sheets draws the study on paper.
func (c *composer) sheets() (*Diagram, error) {
	title := drawing.TitleBlock{
		Title: c.b.doc.Title.V, Subject: "one-line diagram", Condition: c.b.state.Name,
		Date: c.b.o.Date, Revision: c.b.o.Revision, Notes: slices.Concat([]string{keys[c.b.set]}, c.b.undrawn(), c.b.o.Notes), Sheet: 1, Of: 1,
	}
	papers := []drawing.Paper{c.b.o.Paper.Landscape(), c.b.o.Paper}
	best, bestFit, bestStretch := papers[0], 0.0, 0.0
	for _, stretch := range stretches {
		c.stretch = stretch
		size := c.level(c.forest).bounds
		for _, paper := range papers {
			area := title.Area(paper)
			if k := min(area.W/(size.W+4), area.H/(size.H+4)); k > bestFit*1.001 {
				best, bestFit, bestStretch = paper, k, stretch
			}
		}
	}
	c.stretch = bestStretch
	if bestFit < smallest {
		return c.split(title)
	}
	bl := c.whole() // with the joining lines, which may need more room
	area := title.Area(best)
	bestFit = min(area.W/bl.bounds.W, area.H/bl.bounds.H)
	if bestFit >= smallest {
		k := min(bestFit, largest)
		bl.scale(k)
		bl.move(at(area.X+(area.W-bl.bounds.W)/2-bl.bounds.X, area.Y+(area.H-bl.bounds.H)/2-bl.bounds.Y))
		page := title.Page(best)
		page.Desc = c.describe()
		page.Add(c.named(bl, nil)...)
		return c.diagram([]*drawing.Page{page}, []*block{bl}), nil
	}
	return c.split(title)
}

// scale enlarges a block.
func (bl *block) scale(k float64) {
	bl.elements = drawing.ScaleAll(bl.elements, k)
	for i := range bl.items {
		it := &bl.items[i]
		it.At = it.At.Scaled(k)
		for j := range it.Symbols {
			it.Symbols[j] = it.Symbols[j].Scaled(k)
		}
		for j := range it.Labels {
			it.Labels[j] = it.Labels[j].Scaled(k)
		}
	}
	bl.bounds = bl.bounds.Scaled(k)
}

// split draws the study on several sheets.
func (c *composer) split(title drawing.TitleBlock) (*Diagram, error) {
	type attempt struct {
		paper  drawing.Paper
		blocks []*block
		sheets int
	}
	var best *attempt
	for _, paper := range []drawing.Paper{c.b.o.Paper.Landscape(), c.b.o.Paper} {
		area := title.Area(paper)
		c.uncut(c.forest)
		blocks := c.pieces(area)
		n := pack(blocks, area)
		if best == nil || n < best.sheets || n == best.sheets && len(blocks) < len(best.blocks) {
			best = &attempt{paper, blocks, n}
		}
	}
	// Flags name trees of the attempt that was kept; the last one made may be another.
	area := title.Area(best.paper)
	c.uncut(c.forest)
	blocks := c.pieces(area)
	n := pack(blocks, area)
	sheetOf := make(map[*tree]int)
	for _, bl := range blocks {
		var walk func(t *tree)
		walk = func(t *tree) {
			sheetOf[t] = bl.sheet + 1
			for _, k := range t.kids {
				if k.cut == nil {
					walk(k)
				}
			}
		}
		walk(bl.tree)
	}
	var pages []*drawing.Page
	for s := range n {
		title.Sheet, title.Of = s+1, n
		var feeders []string
		for _, bl := range blocks {
			if bl.sheet == s && !slices.Contains(feeders, bl.feeder) {
				feeders = append(feeders, bl.feeder)
			}
		}
		title.Subject = "one-line diagram: " + strings.Join(feeders, ", ")
		paper := best.paper
		var all rect
		for _, bl := range blocks {
			if bl.sheet == s {
				all = all.Union(bl.bounds)
			}
		}
		if k := min(area.W/all.W, area.H/all.H, largest); k > 1 {
			all = all.Scaled(k)
			for _, bl := range blocks {
				if bl.sheet == s {
					bl.scale(k)
				}
			}
		}
		// What can't be parted any further gets a larger sheet.
		paper.Width = max(paper.Width, paper.Width+all.W-area.W)
		paper.Height = max(paper.Height, paper.Height+all.H-area.H)
		here := title.Area(paper)
		page := title.Page(paper)
		page.Desc = c.describe()
		by := at(here.X+(here.W-all.W)/2-all.X, here.Y+(here.H-all.H)/2-all.Y)
		for _, bl := range blocks {
			if bl.sheet == s {
				bl.move(by)
				page.Add(c.named(bl, sheetOf)...)
			}
		}
		pages = append(pages, page)
	}
	return c.diagram(pages, blocks), nil
}

func (c *composer) uncut(t *tree) {
	t.cut = nil
	t.padLeft, t.padTop = 0, 0
	for _, k := range t.kids {
		c.uncut(k)
	}
}

// count is how many parts a tree has that stand in it.
func (t *tree) count() int {
	n := len(t.parts)
	for _, k := range t.kids {
		n += k.stand().count()
	}
	return n
}

// cutOff ends a tree's line in a flag.
func (c *composer) cutOff(k *tree) {
	mark := c.sheetMark(k)
	dead := k.dead
	// The switchgear of a feeder stays at its bus.
	k.cut = &tree{name: k.name, dead: dead}
	if k.feeder {
		k.kept = k.gear
	}
	k.cut.parts = append(slices.Clone(k.parts[:k.kept]), c.b.flag(k.name, dead, k.name, mark))
	c.b.findTrips(k.cut)
}

// pieces cuts the study into blocks that fit an area.
func (c *composer) pieces(area rect) []*block {
	for _, t := range c.ties {
		if t.straight {
			t.straight = false
			c.hangTie(t)
			t.trees[0].order()
			t.trees[1].order()
		}
	}
	for _, r := range c.forest.kids {
		c.cutFeeders(r, area)
	}
	for _, r := range c.forest.kids {
		c.cutToFit(r, area)
	}
	for range 3 {
		// A tie whose ends came apart ends in flags, which need more room than
		// its bare ends.
		changed := false
		where := c.where()
		for _, t := range c.ties {
			if !t.flagged && where[t.trees[0]] != where[t.trees[1]] {
				c.flagTie(t)
				changed = true
			}
		}
		if !changed {
			break
		}
		for _, r := range c.forest.kids {
			c.cutToFit(r, area)
		}
	}
	var blocks []*block
	feeder := ""
	var collect func(t *tree, from *tree)
	collect = func(t *tree, from *tree) {
		defer func(outer string) { feeder = outer }(feeder)
		if from == nil || t.feeder {
			feeder = t.name
		}
		if from != nil {
			label := "from " + from.name
			if from.bus != nil {
				label = "from " + from.bus.Name
			}
			saved := t.parts
			t.parts = append([]part{c.b.origin(t.name, t.dead, label, c.sheetMark(from))}, t.parts[t.kept:]...)
			c.b.findTrips(t)
			defer func() {
				t.parts = saved
				c.b.findTrips(t)
			}()
		}
		cut := t.cut
		t.cut = nil
		for try := 0; ; try++ {
			bl := c.block(t)
			_, failed := bl.joinTies(c.b, c.ties)
			if len(failed) == 0 || try == 5 {
				bl.measure()
				bl.feeder = feeder
				bl.move(at(-bl.bounds.X, -bl.bounds.Y))
				blocks = append(blocks, bl)
				break
			}
			for _, f := range failed {
				c.flagTie(f)
			}
		}
		t.cut = cut
		var walk func(t *tree)
		walk = func(t *tree) {
			for _, k := range t.kids {
				if k.cut != nil {
					collect(k, t)
				} else {
					walk(k)
				}
			}
		}
		walk(t)
	}
	for _, r := range c.forest.kids {
		collect(r, nil)
	}
	return blocks
}

// where gives each tree the root of its block.
func (c *composer) where() map[*tree]*tree {
	m := make(map[*tree]*tree)
	var walk func(t, top *tree)
	walk = func(t, top *tree) {
		m[t] = top
		for _, k := range t.kids {
			if k.cut != nil {
				walk(k, k)
			} else {
				walk(k, top)
			}
		}
	}
	for _, r := range c.forest.kids {
		walk(r, r)
	}
	return m
}

// smallFeeder is how many parts a feeder has at least to get cut off.
const smallFeeder = 8

// cutFeeders cuts a tree that doesn't fit an area at the first bus that has
// several feeders, and then the feeders themselves.
func (c *composer) cutFeeders(t *tree, area rect) {
	if c.fits(t, area) {
		return
	}
	bus := feederBus(t)
	if bus == nil {
		return
	}
	for _, k := range bus.kids {
		if k.feeder && k.count() >= smallFeeder {
			c.cutOff(k)
		}
	}
	for _, k := range bus.kids {
		if k.cut != nil {
			c.cutFeeders(k, area)
		}
	}
}

// feederBus is the tree of the first bus, from the source outwards, with at least two
// feeders worth cutting off.
func feederBus(t *tree) *tree {
	queue := []*tree{t}
	for len(queue) > 0 {
		t, queue = queue[0], queue[1:]
		n := 0
		for _, k := range t.kids {
			if k.feeder && k.cut == nil && k.count() >= smallFeeder {
				n++
			}
			if k.cut == nil {
				queue = append(queue, k)
			}
		}
		if n >= 2 {
			return t
		}
	}
	return nil
}

// cutToFit cuts a tree into pieces that fit an area, each as long as it can
// be along the line that goes straight down.
func (c *composer) cutToFit(t *tree, area rect) {
	for top := t; top != nil; {
		// The line straight down, as far as it isn't cut, and what hangs from it.
		var chain []*tree
		for k := top; k != nil; {
			chain = append(chain, k)
			for i, side := range k.kids {
				if i > 0 || !k.main {
					c.cutToFit(side, area)
				}
			}
			if !k.main {
				break
			}
			if k.kids[0].cut != nil {
				c.cutToFit(k.kids[0], area)
				break
			}
			k = k.kids[0]
		}
		fits := func(n int) bool {
			// With the first n buses of the chain, the rest cut off.
			if n < len(chain) {
				c.cutOff(chain[n])
				defer func() { chain[n].cut = nil }()
			}
			return c.fits(top, area)
		}
		n := len(chain)
		if !fits(n) {
			n = sort.Search(n-1, func(i int) bool { return !fits(i + 1) })
		}
		if n == 0 {
			// Too much hangs from the first bus itself.
			n = 1
			if len(chain) > 1 {
				c.cutOff(chain[1])
			}
			c.cutSides(top, area)
		}
		if n == len(chain) {
			return
		}
		c.cutOff(chain[n])
		top = chain[n]
	}
}

// fits tells whether a tree fits an area by itself, with room for a flag above it.
func (c *composer) fits(t *tree, area rect) bool {
	saved := t.cut
	t.cut = nil
	t.lift, t.extra = 0, 0
	t.arrange(c.stretch)
	t.cut = saved
	size := t.shape.bounds()
	return size.H+12 <= area.H && size.W+4 <= area.W
}

// cutSides cuts off what hangs beside the line at a bus, the largest first.
func (c *composer) cutSides(t *tree, area rect) {
	for !c.fits(t, area) {
		var worst *tree
		most := 0.0
		for _, k := range t.kids {
			if k.cut != nil || k.bus == nil && !k.hub {
				continue
			}
			if s := k.shape.bounds(); s.W*s.H > most {
				worst, most = k, s.W*s.H
			}
		}
		if worst == nil {
			return
		}
		c.cutOff(worst)
	}
}

// between is the room between blocks on a sheet.
const between = 10

// pack puts blocks on sheets, in rows from left to right, and returns how many
// sheets there are. A feeder that doesn't fit what is left of a sheet begins
// the next one.
func pack(blocks []*block, area rect) int {
	type cursor struct {
		sheet     int
		x, y, row float64
	}
	next := func(c cursor, size rect) cursor {
		if c.x > 0 && c.x+size.W > area.W {
			c.x, c.y, c.row = 0, c.y+c.row+between, 0
		}
		if (c.x > 0 || c.y > 0) && c.y+size.H > area.H {
			c = cursor{sheet: c.sheet + 1}
		}
		return c
	}
	after := func(c cursor, size rect) cursor {
		c.x += size.W + between
		c.row = max(c.row, size.H)
		return c
	}
	at0 := cursor{}
	for i, bl := range blocks {
		if i > 0 && bl.feeder != blocks[i-1].feeder && (at0.x > 0 || at0.y > 0) {
			trial := at0
			for _, other := range blocks[i:] {
				if other.feeder != bl.feeder {
					break
				}
				trial = after(next(trial, other.bounds), other.bounds)
			}
			if trial.sheet > at0.sheet {
				at0 = cursor{sheet: at0.sheet + 1}
			}
		}
		at0 = next(at0, bl.bounds)
		bl.sheet = at0.sheet
		bl.move(at(at0.x-bl.bounds.X, at0.y-bl.bounds.Y))
		at0 = after(at0, bl.bounds)
	}
	return at0.sheet + 1
}
