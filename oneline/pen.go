package oneline

import (
	"feederwright/drawing"
)

type (
	point = drawing.Point
	rect  = drawing.Rect
)

// A part is one thing on a line that runs downwards from (0, 0) to (0, h):
// what is drawn, and the rectangles that nothing else may touch.
type part struct {
	kind, name string
	h          float64
	elements   []drawing.Element
	symbols    []rect
	labels     []rect
	wires      []wire  // conductors that a joining line may cross at right angles
	extra      []part  // things drawn with it, like the relay beside a current transformer
	tip        float64 // of a device: x at which the line from its relay ends
	anchor     float64 // y of the middle of its symbol
	dead       bool    // no source reaches it
}

// A wire is a straight piece of conductor, level or upright.
type wire struct{ a, b point }

// A pen draws one part.
type pen struct {
	part
	ink drawing.Ink
	out bool // out of service
}

func (p *pen) style(width float64) drawing.Style {
	s := drawing.Style{Stroke: p.ink, Width: width}
	if p.dead {
		s.Class = "dead"
		s.Dash = []float64{1.2, 0.8}
		s.Width = width * 0.8
	}
	return s
}

// solid is for symbols, which are drawn in full even where no source reaches them.
func (p *pen) solid(width float64) drawing.Style {
	return drawing.Style{Stroke: p.ink, Width: width}
}

func (p *pen) add(e ...drawing.Element) { p.elements = append(p.elements, e...) }

// lead draws conductor.
func (p *pen) lead(points ...point) {
	s := p.style(conductor)
	s.Class = join("wire", s.Class)
	p.add(drawing.Line{Style: s, Points: points})
	for i := 1; i < len(points); i++ {
		p.wires = append(p.wires, wire{points[i-1], points[i]})
	}
}

func join(a, b string) string {
	if b == "" {
		return a
	}
	return a + " " + b
}

func (p *pen) line(width float64, points ...point) {
	p.add(drawing.Line{Style: p.solid(width), Points: points})
}

func (p *pen) shape(fill drawing.Ink, points ...point) {
	s := p.solid(conductor)
	s.Fill = fill
	p.add(drawing.Line{Style: s, Points: points, Closed: true})
}

func (p *pen) circle(c point, r float64) {
	p.add(drawing.Circle{Style: p.solid(conductor), Center: c, R: r})
}

func (p *pen) dot(c point, r float64) {
	p.add(drawing.Circle{Style: drawing.Style{Fill: p.ink}, Center: c, R: r})
}

func (p *pen) arc(c point, r, from, sweep float64) {
	p.add(drawing.Arc{Style: p.solid(conductor), Center: c, R: r, From: from, Sweep: sweep})
}

// glyph writes a text that is part of a symbol.
func (p *pen) glyph(c point, size float64, text string) {
	p.add(drawing.Text{Class: "symbol", At: c, Size: size, Anchor: drawing.Middle, Centred: true, Ink: p.ink, Text: text})
}

// claim reserves a rectangle for a symbol.
func (p *pen) claim(x0, y0, x1, y1 float64) {
	p.symbols = append(p.symbols, rect{X: x0, Y: y0, W: x1 - x0, H: y1 - y0})
}

// maxLabel is the longest that a line of a label may be, mm.
const maxLabel = 52

// label writes lines beside a symbol: the first is the name. They are centred
// about y, and begin, or end where they stand on the left, at x.
func (p *pen) label(x, y float64, anchor drawing.Anchor, lines ...string) {
	var kept []string
	for _, l := range lines {
		if l != "" {
			kept = append(kept, l)
		}
	}
	if len(kept) == 0 {
		return
	}
	at := y - labelHeight(len(kept))/2
	for i, l := range kept {
		size, bold := detailSize, false
		if i == 0 {
			size, bold = nameSize, !light[p.kind]
		}
		l = drawing.Fit(l, size, bold, maxLabel)
		base := at + 0.93*size
		t := drawing.Text{Class: "label", At: point{X: x, Y: base}, Size: size, Bold: bold, Anchor: anchor, Ink: p.ink, Text: l}
		p.add(t)
		p.labels = append(p.labels, t.Bounds())
		at += size * drawing.LineHeight
	}
}

// light are the kinds whose names are not in bold: they are many, and are
// looked for less.
var light = map[string]bool{"line": true, "current transformer": true, "voltage transformer": true, "load": true, "capacitor": true, "flag": true}

// labelHeight is the height of a label of n lines.
func labelHeight(n int) float64 {
	if n == 0 {
		return 0
	}
	return nameSize*drawing.LineHeight + float64(n-1)*detailSize*drawing.LineHeight
}

// cross strikes a symbol through: out of service.
func (p *pen) cross(c point, r float64) {
	if !p.out {
		return
	}
	s := drawing.Style{Class: "out", Stroke: drawing.Black, Width: 0.4}
	p.add(drawing.Line{Style: s, Points: []point{{X: c.X - r, Y: c.Y - r}, {X: c.X + r, Y: c.Y + r}}},
		drawing.Line{Style: s, Points: []point{{X: c.X - r, Y: c.Y + r}, {X: c.X + r, Y: c.Y - r}}})
}

func at(x, y float64) point { return point{X: x, Y: y} }
