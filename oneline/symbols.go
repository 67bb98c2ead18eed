package oneline

import (
	"math"

	"feederwright/drawing"
)

// Symbols are drawn about a line that runs downwards along x = 0.

// earth draws the earth symbol below a place.
func (p *pen) earth(x, y float64) {
	p.line(conductor, at(x, y), at(x, y+1.2))
	for i, half := range []float64{1.7, 1.1, 0.5} {
		p.line(conductor, at(x-half, y+1.2+0.75*float64(i)), at(x+half, y+1.2+0.75*float64(i)))
	}
}

// breakerSymbol: IEC, a contact with the cross of a circuit breaker; IEEE, a
// square, filled where closed, and empty with the contacts parted where open.
func (p *pen) breakerSymbol(set string, y float64, open bool, letter string) {
	if set == IEEE {
		fill := drawing.Grey(0)
		ink := drawing.White
		if open {
			fill, ink = drawing.White, p.ink
		} else if p.ink != drawing.Black {
			fill = p.ink
		}
		s := p.solid(0.4)
		s.Fill = fill
		p.add(drawing.Box{Style: s, Rect: rect{X: -2.2, Y: y - 2.2, W: 4.4, H: 4.4}})
		if letter != "" {
			p.add(drawing.Text{Class: "symbol", At: at(0, y), Size: 3, Bold: true, Anchor: drawing.Middle, Centred: true, Ink: ink, Text: letter})
		} else if open {
			p.line(conductor, at(-2.2, y-2.2), at(2.2, y+2.2))
		}
		p.claim(-2.5, y-2.5, 2.5, y+2.5)
		return
	}
	const k = 1.1
	p.line(0.4, at(-k, y-2.4-k), at(k, y-2.4+k))
	p.line(0.4, at(-k, y-2.4+k), at(k, y-2.4-k))
	if open {
		p.line(0.6, at(0, y+2.4), at(-2.2, y-1.6))
	} else {
		p.line(0.6, at(0, y+2.4), at(0, y-2.4))
	}
	p.dot(at(0, y+2.4), 0.5)
	left := -2.6
	if letter != "" {
		p.circle(at(-4.3, y), 1.6)
		p.glyph(at(-4.3, y), 2.2, letter)
		left = -6.1
	}
	p.claim(left, y-3.6, 1.3, y+2.9)
}

// switchSymbol: a blade between its contacts; IEC with the bar of a
// switch-disconnector at the fixed contact, IEEE with open circles at both ends.
func (p *pen) switchSymbol(set string, y float64, open bool) {
	if set == IEC {
		p.line(0.5, at(-1.5, y-2.4), at(1.5, y-2.4))
		p.add(drawing.Circle{Style: drawing.Style{Stroke: p.ink, Width: conductor, Fill: drawing.White}, Center: at(0, y-1.6), R: 0.7})
		if open {
			p.line(0.6, at(0, y+2.4), at(-2.4, y-0.9))
		} else {
			p.line(0.6, at(0, y+2.4), at(0, y-0.9))
		}
		p.dot(at(0, y+2.4), 0.5)
	} else {
		white := drawing.Style{Stroke: p.ink, Width: conductor, Fill: drawing.White}
		if open {
			p.line(0.4, at(0, y+2), at(-2.6, y-1.4))
		} else {
			p.line(0.4, at(-0.7, y+2), at(-0.7, y-2))
		}
		p.add(drawing.Circle{Style: white, Center: at(0, y-2), R: 0.65}, drawing.Circle{Style: white, Center: at(0, y+2), R: 0.65})
	}
	p.claim(-2.9, y-2.8, 1.2, y+2.8)
}

// fuseSymbol: IEC, a rectangle that the line runs through; IEEE, a rectangle
// with bars across its ends. Open, it is swung out.
func (p *pen) fuseSymbol(set string, y float64, open bool) {
	if open {
		// Swung about its lower end by 35 degrees.
		sin, cos := math.Sincos(35 * math.Pi / 180)
		turn := func(x, v float64) point { return at(x*cos+v*sin, y+2.8+v*cos-x*sin) }
		p.shape(drawing.White, turn(-0.9, -1), turn(0.9, -1), turn(0.9, -5), turn(-0.9, -5))
		p.line(conductor, turn(0, 0), turn(0, -5.6))
		p.claim(-4.4, y-2.8, 1.2, y+2.8)
		return
	}
	s := p.solid(conductor)
	s.Fill = drawing.White
	p.add(drawing.Box{Style: s, Rect: rect{X: -1.1, Y: y - 2.6, W: 2.2, H: 5.2}})
	if set == IEC {
		p.line(conductor, at(0, y-2.8), at(0, y+2.8))
	} else {
		p.line(conductor, at(-1.1, y-1.7), at(1.1, y-1.7))
		p.line(conductor, at(-1.1, y+1.7), at(1.1, y+1.7))
	}
	p.claim(-1.4, y-2.8, 1.4, y+2.8)
}

// ctSymbol: IEC, a circle round the line; IEEE, two half turns beside it. A
// core-balance transformer is a wide ellipse in both, as it encloses all
// conductors. The dot marks the side that current enters from.
func (p *pen) ctSymbol(set string, y float64, balance, dotBelow bool) {
	switch {
	case balance:
		// An ellipse as a polygon.
		points := make([]point, 36)
		for i := range points {
			sin, cos := math.Sincos(float64(i) * math.Pi / 18)
			points[i] = at(2.9*cos, y+1.3*sin)
		}
		p.add(drawing.Line{Style: p.solid(conductor), Points: points, Closed: true})
		p.claim(-3.1, y-1.6, 3.1, y+1.6)
	case set == IEC:
		p.circle(at(0, y), 1.9)
		p.claim(-2.1, y-2.1, 2.1, y+2.1)
	default:
		p.arc(at(-0.9, y-1.1), 1.1, 90, 180)
		p.arc(at(-0.9, y+1.1), 1.1, 90, 180)
		p.line(conductor, at(-0.9, y-2.2), at(-0.9, y-2.2))
		p.claim(-2.2, y-2.4, 0.8, y+2.4)
	}
	d := y - 1.3
	if dotBelow {
		d = y + 1.3
	}
	p.dot(at(0.75, d), 0.38)
}

// winding draws one winding of a transformer with its connection: a circle
// (IEC), or a row of half turns (IEEE).
func (p *pen) windingMark(c point, letter string) {
	const r = 1.25
	switch letter {
	case "D":
		p.line(conductor, at(c.X-r, c.Y+r*0.7), at(c.X+r, c.Y+r*0.7), at(c.X, c.Y-r), at(c.X-r, c.Y+r*0.7))
	case "Y", "YN":
		p.line(conductor, c, at(c.X, c.Y+r))
		p.line(conductor, c, at(c.X-r*0.87, c.Y-r*0.6))
		p.line(conductor, c, at(c.X+r*0.87, c.Y-r*0.6))
	case "Z", "ZN":
		p.line(conductor, at(c.X-r*0.7, c.Y-r*0.8), at(c.X+r*0.7, c.Y-r*0.8), at(c.X-r*0.7, c.Y+r*0.8), at(c.X+r*0.7, c.Y+r*0.8))
	case "V": // open delta
		p.line(conductor, at(c.X-r, c.Y+r*0.7), at(c.X, c.Y-r), at(c.X+r, c.Y+r*0.7))
	case "1": // a single phase
		p.line(conductor, at(c.X, c.Y-r), at(c.X, c.Y+r))
	}
}

// coil draws half turns along a level line from x0 on, bulging upwards for
// dir < 0 and downwards for dir > 0.
func (p *pen) coil(x0, y, r float64, turns int, dir float64) {
	for i := range turns {
		from, sweep := 180.0, 180.0
		if dir > 0 {
			sweep = -180
		}
		p.arc(at(x0+r*(1+2*float64(i)), y), r, from, sweep)
	}
}

// Windings of a transformer: middle of the first and second.
const (
	windingTop    = 5.2
	windingBottom = 10.6
	windingRadius = 3.7
	transformerH  = 15.8
)

// transformerSymbol draws two windings; a and b are their connections.
func (p *pen) transformerSymbol(set, a, b string) {
	if set == IEEE {
		// Half turns that face each other, with the connections beside them.
		const r = 1.15
		p.lead(at(0, 0), at(0, windingTop))
		p.coil(-3*r, windingTop, r, 3, 1)
		p.coil(-3*r, windingBottom, r, 3, -1)
		p.lead(at(0, windingBottom), at(0, transformerH))
		p.windingMark(at(-5.6, windingTop-1.2), a)
		p.windingMark(at(-5.6, windingBottom+1.2), b)
		p.claim(-7.1, windingTop-2.9, 3.8, windingBottom+2.9)
		return
	}
	p.lead(at(0, 0), at(0, windingTop-windingRadius))
	p.circle(at(0, windingTop), windingRadius)
	p.circle(at(0, windingBottom), windingRadius)
	p.windingMark(at(0, windingTop-0.9), a)
	p.windingMark(at(0, windingBottom+0.9), b)
	p.lead(at(0, windingBottom+windingRadius), at(0, transformerH))
	p.claim(-windingRadius-0.2, windingTop-windingRadius-0.2, windingRadius+0.2, windingBottom+windingRadius+0.2)
}

// neutralLead draws the way from a winding's left side to earth: a current
// transformer and an impedance, where there are, and their labels.
func (p *pen) neutralLead(set string, x, y float64, impedance string, reactance bool, ct string) {
	end := x
	step := func(d float64) {
		p.line(conductor, at(end, y), at(end-d, y))
		end -= d
	}
	step(1.2)
	if ct != "" {
		if set == IEC {
			p.circle(at(end-1.6, y), 1.4)
		} else {
			p.arc(at(end-0.9, y-0.5), 0.8, 180, 180)
			p.arc(at(end-2.5, y-0.5), 0.8, 180, 180)
		}
		step(3.4)
	}
	if impedance != "" {
		switch {
		case reactance:
			p.coil(end-4.2, y, 0.7, 3, -1)
		case set == IEC:
			p.add(drawing.Box{Style: p.solid(conductor), Rect: rect{X: end - 4.2, Y: y - 0.8, W: 4.2, H: 1.6}})
		default:
			p.line(conductor, at(end, y), at(end-0.4, y-0.8), at(end-1.1, y+0.8), at(end-1.8, y-0.8), at(end-2.5, y+0.8), at(end-3.2, y-0.8), at(end-3.8, y+0.8), at(end-4.2, y))
		}
		end -= 4.2
		step(0.6)
	}
	step(0.8)
	p.earth(end, y)
	p.claim(end-1.9, y-1.8, x-0.4, y+3.2)
	var lines []string
	if ct != "" {
		lines = append(lines, ct)
	}
	if impedance != "" {
		lines = append(lines, impedance)
	}
	if len(lines) > 0 {
		yy := y
		if ct == "" {
			lines = append([]string{""}, lines...)
		}
		p.detail(end-2.4, yy, drawing.End, lines...)
	}
}

// detail is a label without a name.
func (p *pen) detail(x, y float64, anchor drawing.Anchor, lines ...string) {
	var kept []string
	for _, l := range lines {
		if l != "" {
			kept = append(kept, l)
		}
	}
	top := y - float64(len(kept))*detailSize*drawing.LineHeight/2
	for i, l := range kept {
		t := drawing.Text{Class: "label", At: at(x, top+0.93*detailSize+float64(i)*detailSize*drawing.LineHeight), Size: detailSize, Anchor: anchor, Ink: p.ink, Text: drawing.Fit(l, detailSize, false, maxLabel)}
		p.add(t)
		p.labels = append(p.labels, t.Bounds())
	}
}

// arrow draws a filled arrow head with its point at a place, pointing along (dx, dy).
func (p *pen) arrow(tip point, dx, dy, size float64) {
	s := drawing.Style{Stroke: p.ink, Width: 0.15, Fill: p.ink}
	back := at(tip.X-dx*size, tip.Y-dy*size)
	p.add(drawing.Line{Style: s, Closed: true, Points: []point{tip, at(back.X-dy*size*0.38, back.Y+dx*size*0.38), at(back.X+dy*size*0.38, back.Y-dx*size*0.38)}})
}
