package drawing

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"math"
	"slices"

	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/vector"
)

// maxPixels bounds a picture: more than any sheet needs, less than memory has.
const maxPixels = 200e6

// PNG draws a page as a picture with a resolution in pixels per inch.
func PNG(p *Page, perInch float64) ([]byte, error) {
	img, err := Image(p, perInch)
	if err != nil {
		return nil, err
	}
	var out bytes.Buffer
	if err := png.Encode(&out, img); err != nil {
		return nil, fmt.Errorf("write PNG: %w", err)
	}
	return out.Bytes(), nil
}

// Image draws a page with a resolution in pixels per inch.
func Image(p *Page, perInch float64) (*image.RGBA, error) {
	k := perInch / 25.4
	w, h := math.Ceil(p.Width*k), math.Ceil(p.Height*k)
	if !(w >= 1 && h >= 1 && w*h <= maxPixels) {
		return nil, fmt.Errorf("a picture of %.0f by %.0f mm at %g pixels per inch has %.0f by %.0f pixels: want at least one and at most %.0f million in all",
			p.Width, p.Height, perInch, w, h, maxPixels/1e6)
	}
	img := image.NewRGBA(image.Rect(0, 0, int(w), int(h)))
	draw.Draw(img, img.Bounds(), image.White, image.Point{}, draw.Src)
	r := &raster{img: img, k: k, clip: img.Bounds()}
	r.elements(p.Elements)
	return img, nil
}

// A raster fills outlines: sets of loops, of which those that turn one way
// cover and those that turn the other way cut out.
type raster struct {
	img  *image.RGBA
	k    float64 // pixels per mm
	clip image.Rectangle
	vec  vector.Rasterizer
}

// An outline is a list of closed loops, in pixels.
type outline [][]Point

func (r *raster) fill(o outline, ink Ink) {
	var all Rect
	first := true
	for _, loop := range o {
		if len(loop) > 0 {
			b := around(loop)
			if first {
				all, first = b, false
			} else {
				x, y := min(all.X, b.X), min(all.Y, b.Y)
				all = Rect{x, y, max(all.Right(), b.Right()) - x, max(all.Bottom(), b.Bottom()) - y}
			}
		}
	}
	if first || ink.A == 0 || math.IsNaN(all.X+all.Y+all.W+all.H) {
		return
	}
	bound := func(v float64) int { return int(min(max(v, -1e6), 1e6)) }
	// What is left or above of the picture still has to be walked past, so
	// only the far sides are cut off.
	box := image.Rect(bound(math.Floor(all.X)), bound(math.Floor(all.Y)), bound(math.Ceil(all.Right()))+1, bound(math.Ceil(all.Bottom()))+1)
	target := box.Intersect(r.clip)
	if target.Empty() {
		return
	}
	r.vec.Reset(target.Max.X-target.Min.X, target.Max.Y-target.Min.Y)
	ox, oy := float64(target.Min.X), float64(target.Min.Y)
	for _, loop := range o {
		if len(loop) < 3 {
			continue
		}
		r.vec.MoveTo(float32(loop[0].X-ox), float32(loop[0].Y-oy))
		for _, p := range loop[1:] {
			r.vec.LineTo(float32(p.X-ox), float32(p.Y-oy))
		}
		r.vec.ClosePath()
	}
	r.vec.Draw(r.img, target, image.NewUniform(color.NRGBA(ink)), image.Point{})
}

func (r *raster) pixels(points []Point) []Point {
	out := make([]Point, len(points))
	for i, p := range points {
		out[i] = Point{p.X * r.k, p.Y * r.k}
	}
	return out
}

// paint draws a polyline or polygon, in mm.
func (r *raster) paint(s Style, points []Point, closed bool) {
	px := r.pixels(points)
	if s.Fill.A > 0 {
		r.fill(outline{px}, s.Fill)
	}
	if !s.strokes() || len(px) == 0 {
		return
	}
	if closed {
		px = append(px, px[0])
	}
	half := max(s.Width*r.k, 1) / 2 // a line is never thinner than a pixel
	var o outline
	if len(s.Dash) == 0 {
		o = stroke(o, px, half, true)
	} else {
		for _, part := range dashes(px, s.Dash, r.k) {
			o = stroke(o, part, half, false)
		}
	}
	r.fill(o, s.Stroke)
}

// stroke adds the outline of a polyline of a half width. It goes along one
// side and back along the other, so that nothing is covered twice: coverage at
// edges adds up, and would show every joint as a knob. Ends that are capped
// reach half a width further.
func stroke(o outline, px []Point, half float64, capped bool) outline {
	var path []Point
	for _, p := range px {
		if len(path) == 0 || p != path[len(path)-1] {
			path = append(path, p)
		}
	}
	if len(path) < 2 {
		if len(path) == 1 && capped {
			c := path[0]
			o = append(o, []Point{{c.X - half, c.Y - half}, {c.X + half, c.Y - half}, {c.X + half, c.Y + half}, {c.X - half, c.Y + half}})
		}
		return o
	}
	closed := len(path) > 3 && math.Hypot(path[0].X-path[len(path)-1].X, path[0].Y-path[len(path)-1].Y) < 1e-6
	if closed {
		path = path[:len(path)-1]
	}
	direction := func(a, b Point) Point {
		d := math.Hypot(b.X-a.X, b.Y-a.Y)
		return Point{(b.X - a.X) / d, (b.Y - a.Y) / d}
	}
	n := len(path)
	if capped && !closed {
		d := direction(path[0], path[1])
		path[0] = Point{path[0].X - d.X*half, path[0].Y - d.Y*half}
		d = direction(path[n-2], path[n-1])
		path[n-1] = Point{path[n-1].X + d.X*half, path[n-1].Y + d.Y*half}
	}
	side := func(sign float64) []Point {
		var out []Point
		for i, p := range path {
			var in, next Point
			switch {
			case closed || i > 0 && i < n-1:
				in, next = direction(path[(i+n-1)%n], p), direction(p, path[(i+1)%n])
			case i == 0:
				next = direction(p, path[1])
				in = next
			default:
				in = direction(path[n-2], p)
				next = in
			}
			a, b := Point{in.Y * sign * half, -in.X * sign * half}, Point{next.Y * sign * half, -next.X * sign * half}
			if cos := in.X*next.X + in.Y*next.Y; cos > -0.5 {
				k := 1 / (1 + cos) // the corner of two offset lines
				out = append(out, p.Add(Point{(a.X + b.X) * k, (a.Y + b.Y) * k}))
			} else {
				out = append(out, p.Add(a), p.Add(b))
			}
		}
		return out
	}
	left, right := side(1), side(-1)
	slices.Reverse(right)
	if closed {
		return append(o, left, right)
	}
	return append(o, append(left, right...))
}

// dashes cuts a polyline into its dashes.
func dashes(px []Point, pattern []float64, k float64) [][]Point {
	total := 0.0
	for _, d := range pattern {
		total += d * k
	}
	if !(total > 0.5) || len(px) == 0 {
		return [][]Point{px}
	}
	var out [][]Point
	i, left, on := 0, pattern[0]*k, true
	part := []Point{px[0]}
	for j := 1; j < len(px); j++ {
		a, b := px[j-1], px[j]
		d := math.Hypot(b.X-a.X, b.Y-a.Y)
		for pos := 0.0; pos < d; {
			step := min(left, d-pos)
			pos += step
			left -= step
			p := Point{a.X + (b.X-a.X)*pos/d, a.Y + (b.Y-a.Y)*pos/d}
			if on {
				part = append(part, p)
			}
			if left <= 0 {
				if on {
					out = append(out, part)
				}
				on = !on
				i = (i + 1) % len(pattern)
				left = pattern[i] * k
				part = []Point{p}
			}
		}
	}
	if on && len(part) > 1 {
		out = append(out, part)
	}
	return out
}

func (r *raster) elements(elements []Element) {
	for _, e := range elements {
		r.element(e)
	}
}

func (r *raster) element(e Element) {
	switch e := e.(type) {
	case Line:
		r.paint(e.Style, e.Points, e.Closed)
	case Arc:
		// Finer than Arc.points: steps of 3 degrees show no corners in print.
		n := max(2, int(math.Ceil(math.Abs(e.Sweep)/3)))
		points := make([]Point, n+1)
		for i := range points {
			sin, cos := math.Sincos((e.From + e.Sweep*float64(i)/float64(n)) * math.Pi / 180)
			points[i] = e.Center.Add(Point{e.R * cos, e.R * sin})
		}
		r.paint(e.Style, points, false)
	case Circle:
		r.element(Arc{e.Style, e.Center, e.R, 0, 360})
	case Box:
		r.paint(e.Style, []Point{{e.X, e.Y}, {e.Right(), e.Y}, {e.Right(), e.Bottom()}, {e.X, e.Bottom()}}, true)
	case Text:
		r.text(e)
	case Group:
		old := r.clip
		if c := e.Clip; c != nil {
			r.clip = r.clip.Intersect(image.Rect(int(math.Floor(c.X*r.k)), int(math.Floor(c.Y*r.k)), int(math.Ceil(c.Right()*r.k)), int(math.Ceil(c.Bottom()*r.k))))
		}
		r.elements(e.Elements)
		r.clip = old
	}
}

// text fills the outlines of the glyphs.
func (r *raster) text(t Text) {
	if t.Text == "" || t.Size <= 0 {
		return
	}
	f := faceOf(t.Bold)
	var buf sfnt.Buffer
	scale := t.Size / float64(f.em) // from font units, in 64ths, to mm
	x := -TextWidth(t.Text, t.Size, t.Bold) * [...]float64{0, 0.5, 1}[t.Anchor]
	y := 0.0
	if t.Centred {
		y = capHeight * t.Size / 2
	}
	sin, cos := math.Sincos(t.Rotate * math.Pi / 180)
	var o outline
	for _, c := range printable(t.Text) {
		glyph, err := f.font.GlyphIndex(&buf, c)
		if err != nil {
			continue
		}
		segments, err := f.font.LoadGlyph(&buf, glyph, f.em, nil)
		if err == nil {
			place := func(px, py float64) Point {
				px, py = x+px*scale, y+py*scale
				return Point{(t.At.X + px*cos + py*sin) * r.k, (t.At.Y - px*sin + py*cos) * r.k}
			}
			o = append(o, glyphOutline(segments, place)...)
		}
		x += TextWidth(string(c), t.Size, t.Bold)
	}
	r.fill(o, t.ink())
}

// glyphOutline turns the curves of a glyph into polygons of eight legs each.
func glyphOutline(segments sfnt.Segments, place func(x, y float64) Point) outline {
	var o outline
	var loop []Point
	var last [2]float64
	for _, s := range segments {
		arg := func(i int) [2]float64 { return [2]float64{float64(s.Args[i].X), float64(s.Args[i].Y)} }
		const legs = 8
		switch s.Op {
		case sfnt.SegmentOpMoveTo:
			if loop != nil {
				o = append(o, loop)
			}
			last = arg(0)
			loop = []Point{place(last[0], last[1])}
		case sfnt.SegmentOpLineTo:
			last = arg(0)
			loop = append(loop, place(last[0], last[1]))
		case sfnt.SegmentOpQuadTo:
			c, e := arg(0), arg(1)
			for i := 1; i <= legs; i++ {
				u := float64(i) / legs
				v := 1 - u
				loop = append(loop, place(v*v*last[0]+2*u*v*c[0]+u*u*e[0], v*v*last[1]+2*u*v*c[1]+u*u*e[1]))
			}
			last = e
		case sfnt.SegmentOpCubeTo:
			c, d, e := arg(0), arg(1), arg(2)
			for i := 1; i <= legs; i++ {
				u := float64(i) / legs
				v := 1 - u
				bezier := func(k int) float64 {
					return v*v*v*last[k] + 3*u*v*v*c[k] + 3*u*u*v*d[k] + u*u*u*e[k]
				}
				loop = append(loop, place(bezier(0), bezier(1)))
			}
			last = e
		}
	}
	if loop != nil {
		o = append(o, loop)
	}
	return o
}
