package dossier

import (
	"fmt"
	"strings"

	"feederwright/working"
)

// The layout measures before it draws: every block becomes items of known
// height, items are dealt to pages, and pages hold marks at places. Whoever
// draws the marks decides nothing any more; so a test can see what would
// overflow.

// Sizes of type and distances, mm.
const (
	bodySize  = 9.2 * point
	tableSize = 8 * point
	noteSize  = 7.6 * point
	lineSkip  = 1.38 // distance of baselines over size
	sideEdge  = 18.0
	topEdge   = 22.0
	lowEdge   = 20.0
	// figureRoom is kept on a figure's page for its caption and a chapter's head.
	figureRoom = 30.0
)

// Greys, 0 black to 1 white.
const (
	black  = 0.0
	soft   = 0.30
	faint  = 0.62 // rules between rows
	band   = 0.93 // behind heads of groups
	ghost  = 0.935
	bright = 1.0
)

// A stroke is something drawn on a page: a run of text, a rule, or a filled
// rectangle.
type stroke struct {
	x, y   float64 // of text: the start of the baseline; of others: a corner or an end
	text   string
	cut    cut
	size   float64
	kind   strokeKind
	dx, dy float64
	thick  float64
	grey   float64
	figure Drawing // with size as its scale
	link   int     // of text: chapter that it leads to, from 1
}

type strokeKind int

const (
	textStroke strokeKind = iota
	ruleStroke
	fillStroke
	frameStroke
	figureStroke
)

// A leaf is one page.
type leaf struct {
	strokes []stroke
	chapter string // for the head of the page
	marks   []bookmark
	isCover bool
}

type bookmark struct {
	title string
	level int
	y     float64
	link  int // chapter whose place it is, from 1
}

// An item is a piece that is not parted by a page.
type item struct {
	height float64
	gap    float64 // above it, unless it begins a page
	keep   bool    // on one page with the next, where that is possible
	fresh  bool    // begins a page
	roomy  float64 // begins a page unless so much of it is left, mm
	again  *item   // repeated above it where it begins a page
	draw   func(l *leaf, x, y float64)
	mark   *bookmark
	title  string // head of the page from here on
}

type layouter struct {
	*metric
	book          *Book
	paper         Paper
	width         float64 // of the text
	table, figure int
}

// paginate deals items to pages.
func (l *layouter) paginate(items []item) []*leaf {
	bottom := l.paper.height - lowEdge
	var leaves []*leaf
	var page *leaf
	title := ""
	y := topEdge
	begin := func() {
		page = &leaf{chapter: title}
		leaves = append(leaves, page)
		y = topEdge
	}
	for i := range items {
		it := &items[i]
		if it.title != "" {
			title = it.title
		}
		gap := it.gap
		switch {
		case page == nil || it.fresh && y > topEdge || it.roomy > 0 && y+it.roomy > bottom:
			begin()
		default:
			// The height of all that stays together with this one.
			h := gap + it.height
			for k := i; items[k].keep && k+1 < len(items) && !items[k+1].fresh; k++ {
				h += items[k+1].gap + items[k+1].height
			}
			whole := bottom - topEdge
			if it.again != nil {
				whole -= it.again.height
			}
			if y > topEdge && y+h > bottom && (h-gap <= whole || y+gap+it.height > bottom) {
				begin()
			}
		}
		if y == topEdge {
			gap = 0
			if it.title != "" {
				page.chapter = title
			}
			if it.again != nil {
				it.again.draw(page, sideEdge, y)
				y += it.again.height
			}
		}
		y += gap
		if it.mark != nil {
			m := *it.mark
			m.y = y
			page.marks = append(page.marks, m)
		}
		if it.draw != nil {
			it.draw(page, sideEdge, y)
		}
		y += it.height
	}
	return leaves
}

// A word is an unbreakable piece of text with its style.
type word struct {
	text  string
	cut   cut
	shift float64 // of the baseline, over the size; down
	scale float64
	glued bool // no blank before it
	width float64
}

func cutOf(s Style) cut {
	switch {
	case s&Coded != 0:
		return mono
	case s&Strong != 0:
		return bold
	case s&Slanted != 0:
		return oblique
	}
	return regular
}

// words parts a text at its blanks.
func (l *layouter) words(r Rich, size float64, strong bool) []word {
	var out []word
	pending := false // a blank before the next word
	for _, s := range r {
		c := cutOf(s.Style)
		if strong && c == regular {
			c = bold
		}
		w := word{cut: c, scale: 1}
		switch {
		case s.Style&Below != 0:
			w.scale, w.shift = 0.72, 0.18
		case s.Style&Above != 0:
			w.scale, w.shift = 0.72, -0.33
		case c == mono:
			w.scale = 0.92
		}
		text := l.printable(s.Text, c)
		fields := strings.Fields(text)
		if strings.HasPrefix(text, " ") {
			pending = true
		}
		for i, f := range fields {
			w.text = strings.ReplaceAll(f, "\u00a0", " ")
			w.glued = i == 0 && !pending && len(out) > 0
			w.width = l.metric.width(w.text, c, size*w.scale)
			out = append(out, w)
			pending = false
		}
		if strings.HasSuffix(text, " ") {
			pending = true
		}
	}
	return out
}

// split breaks a word that is wider than a line: behind punctuation where it
// has some, else anywhere.
func (l *layouter) split(w word, size, width float64) []word {
	var out []word
	rest := []rune(w.text)
	for len(rest) > 0 {
		n, last, sum := 0, 0, 0.0
		for n < len(rest) {
			sum += max(l.glyph(w.cut, rest[n]), 0) * size * w.scale
			if sum > width+1e-6 && n > 0 {
				break
			}
			n++
			if strings.ContainsRune("-/_.,:;)", rest[n-1]) {
				last = n
			}
		}
		if n < len(rest) && last > n/2 {
			n = last
		}
		piece := w
		piece.text = string(rest[:n])
		piece.width = l.metric.width(piece.text, w.cut, size*w.scale)
		if len(out) > 0 {
			piece.glued = false // the line may break before it, and does
		}
		out = append(out, piece)
		rest = rest[n:]
	}
	return out
}

// A line of words.
type line struct {
	words []word
	width float64
}

// wrap breaks words into lines.
func (l *layouter) wrap(words []word, size, width float64) []line {
	blank := l.metric.width(" ", regular, size)
	var lines []line
	var cur line
	flush := func() {
		if len(cur.words) > 0 {
			lines = append(lines, cur)
			cur = line{}
		}
	}
	for i := 0; i < len(words); {
		// Words glued together go together.
		n := i + 1
		for n < len(words) && words[n].glued {
			n++
		}
		group := words[i:n]
		i = n
		w := 0.0
		for _, g := range group {
			w += g.width
		}
		if w > width+1e-6 {
			var pieces []word
			for _, g := range group {
				if g.width > width+1e-6 {
					pieces = append(pieces, l.split(g, size, width)...)
				} else {
					g.glued = false
					pieces = append(pieces, g)
				}
			}
			flush()
			for k, p := range pieces {
				if k > 0 && cur.width+p.width > width {
					flush()
				}
				p.glued = len(cur.words) > 0
				cur.words = append(cur.words, p)
				cur.width += p.width
			}
			continue
		}
		gap := 0.0
		if len(cur.words) > 0 {
			gap = blank
		}
		if cur.width+gap+w > width+1e-9 {
			flush()
			gap = 0
		}
		for k, g := range group {
			g.glued = k > 0 || len(cur.words) == 0
			cur.words = append(cur.words, g)
		}
		cur.width += gap + w
	}
	flush()
	return lines
}

// put draws a line; y is that of its top.
func (l *layouter) put(p *leaf, ln line, x, y, size, grey float64) {
	blank := l.metric.width(" ", regular, size)
	base := y + (lineSkip-1)/2*size + ascent*size
	// Neighbours of one style become one run, so that the text reads as words.
	run, at := "", x
	var open *word
	flush := func() {
		if open != nil && run != "" {
			p.strokes = append(p.strokes, stroke{x: at, y: base + open.shift*size, text: run, cut: open.cut, size: size * open.scale, grey: grey})
		}
		run, open = "", nil
	}
	for i := range ln.words {
		w := &ln.words[i]
		gap := blank
		if i == 0 || w.glued {
			gap = 0
		}
		if open != nil && open.cut == w.cut && open.scale == w.scale && open.shift == w.shift && (gap == 0 || w.cut == regular) {
			if gap > 0 {
				run += " "
			}
			run += w.text
		} else {
			flush()
			open, run, at = w, w.text, x+gap
		}
		x += gap + w.width
	}
	flush()
}

func lineHeight(size float64) float64 { return lineSkip * size }

// paragraph makes items of lines, at an indent; two lines at least stay
// together at either end.
func (l *layouter) paragraph(r Rich, size, indent, grey float64, strong bool) []item {
	lines := l.wrap(l.words(r, size, strong), size, l.width-indent)
	var items []item
	for i, ln := range lines {
		items = append(items, item{height: lineHeight(size), keep: i == 0 && len(lines) > 1 || i == len(lines)-2,
			draw: func(p *leaf, x, y float64) { l.put(p, ln, x+indent, y, size, grey) }})
	}
	return items
}

// together keeps items on one page.
func together(items []item) []item {
	for i := range items[:max(len(items)-1, 0)] {
		items[i].keep = true
	}
	return items
}

func spaced(items []item, gap float64) []item {
	if len(items) > 0 {
		items[0].gap = max(items[0].gap, gap)
	}
	return items
}

// chapter makes the items of a chapter's blocks.
func (l *layouter) blocks(blocks []Block, chapter string) []item {
	var items []item
	part := 0
	for n, b := range blocks {
		switch b := b.(type) {
		case Heading:
			part++
			text := subNumber(chapter, part) + "  " + b.Text
			head := together(l.paragraph(T(text), 11*point, 0, black, true))
			head[len(head)-1].keep = n+1 < len(blocks)
			head[0].mark = &bookmark{title: text, level: 1}
			items = append(items, spaced(head, 5.5)...)
			items = append(items, item{height: 1.2, keep: true})
		case Para:
			size := bodySize
			if b.Small {
				size = noteSize
			}
			lines := l.paragraph(b.Text, size, 0, black, false)
			if t, ok := nextBlock(blocks, n).(*Table); ok && !t.SheetOnly && len(lines) > 0 {
				together(lines)[len(lines)-1].keep = true
			}
			if leadsToFigure(blocks, n) && len(lines) > 0 {
				together(lines)[len(lines)-1].keep = true
			}
			items = append(items, spaced(lines, 2.2)...)
		case List:
			for _, r := range b.Items {
				lines := l.paragraph(r, bodySize, 4, black, false)
				if len(lines) == 0 {
					continue
				}
				draw := lines[0].draw
				lines[0].draw = func(p *leaf, x, y float64) {
					p.strokes = append(p.strokes, stroke{x: x + 0.8, y: y + (lineSkip-1)/2*bodySize + ascent*bodySize, text: "•", size: bodySize})
					draw(p, x, y)
				}
				items = append(items, spaced(lines, 1.2)...)
			}
		case Facts:
			items = append(items, spaced(l.facts(b.Items, 0, bodySize), 2.5)...)
		case Note:
			items = append(items, spaced(l.note(b), 3.5)...)
		case Card:
			items = append(items, spaced(l.card(b), 4)...)
		case Steps:
			items = append(items, spaced(l.steps(b), 4.5)...)
		case Figure:
			items = append(items, spaced(l.figureItems(b), 4)...)
		case PageBreak:
			items = append(items, item{fresh: true})
		case SignOff:
			items = append(items, spaced(l.signOff(b), 6)...)
		case *Table:
			if !b.SheetOnly {
				items = append(items, spaced(l.tableItems(b), 5)...)
			}
		}
	}
	return items
}

func nextBlock(blocks []Block, n int) Block {
	if n+1 < len(blocks) {
		return blocks[n+1]
	}
	return nil
}

// leadsToFigure says whether nothing but paragraphs stands between block n and
// a figure. They and their heading go to the figure's page, and are not left
// behind on a page of their own.
func leadsToFigure(blocks []Block, n int) bool {
	for _, b := range blocks[n+1:] {
		switch b.(type) {
		case Figure:
			return true
		case Para:
		default:
			return false
		}
	}
	return false
}

// facts sets terms at the left and what is said of them beside.
func (l *layouter) facts(list []Fact, indent, size float64) []item {
	column := 0.0
	for _, f := range list {
		column = max(column, l.metric.width(l.printable(f.Term, regular), regular, size))
	}
	column = min(column, 38) + 4
	var items []item
	for _, f := range list {
		terms := l.wrap(l.words(T(f.Term), size, false), size, column-3)
		texts := l.wrap(l.words(f.Text, size, false), size, l.width-indent-column)
		n := max(len(terms), len(texts))
		for i := range n {
			it := item{height: lineHeight(size), keep: i == 0 && n > 1 || i == n-2, draw: func(p *leaf, x, y float64) {
				if i < len(terms) {
					l.put(p, terms[i], x+indent, y, size, soft)
				}
				if i < len(texts) {
					l.put(p, texts[i], x+indent+column, y, size, black)
				}
			}}
			if i == 0 && len(items) > 0 {
				it.gap = 0.6
			}
			items = append(items, it)
		}
	}
	if len(items) <= 16 {
		together(items)
	}
	return items
}

// framed puts a rule at the left of items, and pads them.
func framed(items []item, thick, grey float64, double bool) []item {
	side := func(draw func(p *leaf, x, y float64), h float64) func(p *leaf, x, y float64) {
		return func(p *leaf, x, y float64) {
			p.strokes = append(p.strokes, stroke{kind: fillStroke, x: x, y: y, dx: thick, dy: h, grey: grey})
			if double {
				p.strokes = append(p.strokes, stroke{kind: fillStroke, x: x + 1.6*thick, y: y, dx: thick * 0.5, dy: h, grey: grey})
			}
			if draw != nil {
				draw(p, x, y)
			}
		}
	}
	out := []item{{height: 0.8, keep: true}}
	out = append(out, items...)
	out[len(out)-1].keep = true
	out = append(out, item{height: 0.8})
	for i := range out {
		// Gaps inside become height, so that the rule is not broken.
		if i > 0 {
			gap, draw := out[i].gap, out[i].draw
			out[i].height, out[i].gap = out[i].height+gap, 0
			if draw != nil && gap > 0 {
				out[i].draw = func(p *leaf, x, y float64) { draw(p, x, y+gap) }
			}
		}
		out[i].draw = side(out[i].draw, out[i].height)
	}
	return out
}

// tagged sets a mark in a frame and a title beside it.
func (l *layouter) tagged(mark, title string, size float64, filled bool) []item {
	w := l.metric.width(mark, bold, size*0.85) + 2.4
	lines := l.wrap(l.words(T(title), size, true), size, l.width-4-w-2.5)
	var items []item
	for i, ln := range lines {
		items = append(items, item{height: lineHeight(size), keep: true, draw: func(p *leaf, x, y float64) {
			if i == 0 {
				grey := black
				kind := frameStroke
				if filled {
					kind, grey = fillStroke, bright
				}
				p.strokes = append(p.strokes, stroke{kind: kind, x: x + 4, y: y + 0.15*size, dx: w, dy: 1.1 * size, thick: 0.25},
					stroke{x: x + 5.2, y: y + (lineSkip-1)/2*size + (ascent-0.03)*size, text: mark, cut: bold, size: size * 0.85, grey: grey})
			}
			l.put(p, ln, x+4+w+2.5, y, size, black)
		}})
	}
	return items
}

func (l *layouter) note(n Note) []item {
	var items []item
	if n.Caution {
		items = l.tagged("CAUTION", n.Title, bodySize, true)
	} else if n.Title != "" {
		items = l.paragraph(T(n.Title), bodySize, 4, black, true)
	}
	for _, r := range n.Text {
		items = append(items, spaced(l.paragraph(r, bodySize, 4, black, false), 0.8)...)
	}
	if n.Caution {
		return together(framed(items, 0.9, black, true))
	}
	return together(framed(items, 0.6, faint, false))
}

func (l *layouter) card(c Card) []item {
	items := l.tagged(c.Mark, c.Title, bodySize, c.Grade == 0)
	items = append(items, spaced(l.facts(c.Facts, 4, tableSize*1.04), 1.2)...)
	items = append(items, spaced(l.paragraph(Rich{}.Code(c.ID), noteSize*0.95, 4, soft, false), 0.8)...)
	if c.Grade == 0 {
		return together(framed(items, 0.9, black, true))
	}
	return together(framed(items, 0.9, faint, false))
}

func (l *layouter) steps(s Steps) []item {
	items := together(l.paragraph(T(s.Title), bodySize, 0, black, true))
	if len(items) > 0 {
		items[len(items)-1].keep = true
	}
	for _, st := range s.Steps {
		items = append(items, l.step(st)...)
	}
	return items
}

// step sets one step: its formula, cut at equals signs where it is too wide,
// and below what it means.
func (l *layouter) step(st working.Step) []item {
	const indent = 4.0
	size := bodySize
	ln := readStep(st)
	width := l.width - indent
	head := l.setMath(ln.symbol, size)
	if head.width > width*0.45 { // a name out of the ordinary: in words, on lines of its own
		head = box{}
	}
	var rows []box
	row := head
	equals := func(b *box) {
		b.beside(space(size * 0.28))
		b.beside(l.run("=", regular, size))
		b.beside(space(size * 0.28))
	}
	var items []item
	if row.width == 0 {
		items = append(items, l.paragraph(T(st.Symbol), size, indent, black, false)...)
	}
	fits := true
	first := true
	for _, part := range ln.parts {
		b := l.setMath(part, size)
		if head.width+b.width+size*3 > width {
			fits = false
		}
		if !first && row.width+b.width+size*1.6 > width {
			rows = append(rows, row)
			row = space(head.width)
		}
		equals(&row)
		row.beside(b)
		first = false
	}
	rows = append(rows, row)
	if !fits { // no place for a part on a line: as text
		text := st.Symbol + " = " + strings.Join(nonEmpty(st.Formula, st.Values, strings.TrimSpace(st.Result+" "+unitText(st.Unit))), " = ")
		items = l.paragraph(T(text), size, indent, black, false)
	} else {
		for _, r := range rows {
			up, down := max(r.up, ascent*size), max(r.down, descent*size)
			pad := 0.16 * size
			items = append(items, item{height: up + down + 2*pad, keep: true, draw: func(p *leaf, x, y float64) { l.putBox(p, r, x+indent, y+pad+up) }})
		}
	}
	for i := range items {
		items[i].keep = true
	}
	if note := stepNote(st); note != "" {
		notes := l.paragraph(T(note), noteSize, indent+4, soft, false)
		items = append(items, together(notes)...)
	}
	items[len(items)-1].keep = false
	return spaced(items, 1.3)
}

func nonEmpty(list ...string) []string {
	var out []string
	for _, s := range list {
		if s != "" {
			out = append(out, s)
		}
	}
	return out
}

func (l *layouter) putBox(p *leaf, b box, x, base float64) {
	for _, m := range b.marks {
		if m.rule {
			p.strokes = append(p.strokes, stroke{kind: ruleStroke, x: x + m.x, y: base + m.y, dx: m.dx, dy: m.dy, thick: m.thick})
		} else if strings.TrimSpace(m.text) != "" {
			p.strokes = append(p.strokes, stroke{x: x + m.x, y: base + m.y, text: m.text, cut: m.cut, size: m.size})
		}
	}
}

func (l *layouter) figureItems(f Figure) []item {
	l.figure++
	w, h := f.Drawing.Size()
	scale := 1.0
	if w > 0 && h > 0 {
		scale = min(1, l.width/w, (l.paper.height-topEdge-lowEdge-figureRoom)/h)
	}
	items := []item{{height: h * scale, keep: true, draw: func(p *leaf, x, y float64) {
		p.strokes = append(p.strokes, stroke{kind: figureStroke, x: x, y: y, dx: w * scale, dy: h * scale, size: scale, figure: f.Drawing})
	}}}
	caption := Rich{}.Strong(fmt.Sprintf("Figure %d. ", l.figure)).Plain(f.Caption)
	return append(items, spaced(together(l.paragraph(caption, tableSize, 0, black, false)), 1.5)...)
}

func (l *layouter) signOff(s SignOff) []item {
	heads := []string{"Step", "Name", "Licence or role", "Signature", "Date"}
	shares := []float64{0.13, 0.24, 0.22, 0.26, 0.15}
	rowOf := func(cells []string, height float64, c cut) item {
		return item{height: height, keep: true, draw: func(p *leaf, x, y float64) {
			at := x
			for i, share := range shares {
				w := share * l.width
				p.strokes = append(p.strokes, stroke{kind: frameStroke, x: at, y: y, dx: w, dy: height, thick: 0.15, grey: soft})
				if i < len(cells) {
					p.strokes = append(p.strokes, stroke{x: at + 1.5, y: y + 4.6, text: l.printable(cells[i], c), cut: c, size: tableSize})
				}
				at += w
			}
		}}
	}
	items := []item{rowOf(heads, 7, bold)}
	for _, r := range s.Roles {
		items = append(items, rowOf([]string{r}, 17, regular))
	}
	return together(items)
}
