// Package drawing is one scene for every figure and sheet: shapes and text in
// millimetres on a page, written alike as SVG, PDF and PNG.
//
// A figure is made once, as a Page of Elements, and then written:
//
//	page := &drawing.Page{Width: 60, Height: 20, Title: "Two words"}
//	page.Add(drawing.Text{At: drawing.Point{X: 5, Y: 12}, Size: 3, Text: "Two words"})
//	svg := drawing.SVG(page)
//
// Coordinates are in mm from the upper left corner, x to the right and y
// downwards. Text is measured with the embedded font, DejaVu Sans Condensed
// (its licence stands in LICENSE-DejaVu), so that a layout holds in all three
// formats. A character that the font doesn't have is shown as the replacement
// character, U+FFFD, everywhere.
//
// A Class names the role of an element for style sheets of a web page. The
// colours given are what holds without one. Nothing may be told by colour alone:
// use shape, dash, width or words, as sheets are printed in grey.
//
// The package draws and measures; what a figure means is up to its caller.
package drawing

import "math"

// A Point is a place on a page, or a step on it, in mm.
type Point struct{ X, Y float64 }

// Add returns p moved by q.
func (p Point) Add(q Point) Point { return Point{p.X + q.X, p.Y + q.Y} }

// An Ink is a colour with its opacity; the zero Ink draws nothing.
type Ink struct{ R, G, B, A uint8 }

// Grey returns the opaque grey of a lightness from 0, black, to 1, white.
func Grey(lightness float64) Ink {
	v := uint8(math.Round(255 * min(max(lightness, 0), 1)))
	return Ink{v, v, v, 255}
}

// Black and White are opaque.
var (
	Black = Ink{0, 0, 0, 255}
	White = Ink{255, 255, 255, 255}
)

// A Style says how a shape is drawn.
type Style struct {
	Class  string    // role, for style sheets; several parted by blanks
	Stroke Ink       // outline; none if zero
	Width  float64   // of the outline, mm
	Dash   []float64 // lengths of dashes and gaps by turns, mm; a full line if empty
	Fill   Ink       // inside; none if zero
}

// An Element is part of a scene: a Line, Arc, Circle, Box, Text or Group.
type Element interface {
	// Bounds is the smallest rectangle that holds the element, without the
	// width of its outline.
	Bounds() Rect
	// moved returns the element displaced.
	moved(by Point) Element
	// scaled returns the element with all lengths times k.
	scaled(k float64) Element
}

// A Line is a polyline, or a polygon where it is closed.
type Line struct {
	Style
	Points []Point
	Closed bool
}

// An Arc is part of a circle. Angles are in degrees, 0 to the right and
// positive clockwise as seen on the page.
type Arc struct {
	Style
	Center      Point
	R           float64
	From, Sweep float64
}

// A Circle is a whole circle.
type Circle struct {
	Style
	Center Point
	R      float64
}

// A Box is a rectangle.
type Box struct {
	Style
	Rect
}

// An Anchor says which part of a text stands at its place.
type Anchor int

// The parts of a text, along it.
const (
	Start Anchor = iota
	Middle
	End
)

// A Text is one line of text. Its baseline passes through At, or, if Centred,
// half the height of its capitals does.
type Text struct {
	Class   string
	At      Point
	Size    float64 // mm: the height of a line set solid; capitals are 0.73 of it
	Bold    bool
	Ink     Ink // black if zero
	Anchor  Anchor
	Centred bool
	Rotate  float64 // degrees counter-clockwise, about At
	Text    string
}

// A Group holds elements that belong together.
type Group struct {
	ID       string // unique on its page
	Class    string
	Title    string // short name, for those who don't see the picture
	Desc     string
	Link     string // where a click leads; https:, http:, or # with an ID of the page
	Clip     *Rect  // nothing outside is drawn
	Elements []Element
}

// A Rect is a rectangle; W and H are not negative.
type Rect struct{ X, Y, W, H float64 }

// Right is the x of the right edge.
func (r Rect) Right() float64 { return r.X + r.W }

// Bottom is the y of the lower edge.
func (r Rect) Bottom() float64 { return r.Y + r.H }

// Moved returns r displaced.
func (r Rect) Moved(by Point) Rect { return Rect{r.X + by.X, r.Y + by.Y, r.W, r.H} }

// Inset returns r made smaller by a margin on every side.
func (r Rect) Inset(margin float64) Rect {
	return Rect{r.X + margin, r.Y + margin, max(0, r.W-2*margin), max(0, r.H-2*margin)}
}

// Union is the smallest rectangle that holds both; one without any extent
// counts for nothing.
func (r Rect) Union(s Rect) Rect {
	switch {
	case r == Rect{}:
		return s
	case s == Rect{}:
		return r
	}
	x, y := min(r.X, s.X), min(r.Y, s.Y)
	return Rect{x, y, max(r.Right(), s.Right()) - x, max(r.Bottom(), s.Bottom()) - y}
}

// Overlaps tells whether r and s have more than an edge in common.
func (r Rect) Overlaps(s Rect) bool {
	return r.X < s.Right() && s.X < r.Right() && r.Y < s.Bottom() && s.Y < r.Bottom()
}

// Contains tells whether s lies within r.
func (r Rect) Contains(s Rect) bool {
	return s.X >= r.X && s.Y >= r.Y && s.Right() <= r.Right() && s.Bottom() <= r.Bottom()
}

func around(points []Point) Rect {
	if len(points) == 0 {
		return Rect{}
	}
	x0, y0, x1, y1 := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for _, p := range points {
		x0, x1 = min(x0, p.X), max(x1, p.X)
		y0, y1 = min(y0, p.Y), max(y1, p.Y)
	}
	return Rect{x0, y0, x1 - x0, y1 - y0}
}

// Bounds implements Element.
func (l Line) Bounds() Rect { return around(l.Points) }

// Bounds implements Element.
func (a Arc) Bounds() Rect { return around(a.points()) }

// Bounds implements Element.
func (c Circle) Bounds() Rect { return Rect{c.Center.X - c.R, c.Center.Y - c.R, 2 * c.R, 2 * c.R} }

// Bounds implements Element.
func (b Box) Bounds() Rect { return b.Rect }

// Bounds implements Element. Heights are those of the font: from below the
// descenders to above the capitals.
func (t Text) Bounds() Rect {
	w := TextWidth(t.Text, t.Size, t.Bold)
	x := -w * [...]float64{0, 0.5, 1}[t.Anchor]
	y := 0.0
	if t.Centred {
		y = capHeight * t.Size / 2
	}
	top, bottom := y-ascent*t.Size, y+descent*t.Size
	sin, cos := math.Sincos(t.Rotate * math.Pi / 180)
	corners := []Point{{x, top}, {x + w, top}, {x, bottom}, {x + w, bottom}}
	for i, p := range corners {
		corners[i] = t.At.Add(Point{p.X*cos + p.Y*sin, -p.X*sin + p.Y*cos})
	}
	return around(corners)
}

// Bounds implements Element.
func (g Group) Bounds() Rect {
	var r Rect
	for _, e := range g.Elements {
		r = r.Union(e.Bounds())
	}
	if g.Clip != nil && r != (Rect{}) {
		x, y := max(r.X, g.Clip.X), max(r.Y, g.Clip.Y)
		r = Rect{x, y, max(0, min(r.Right(), g.Clip.Right())-x), max(0, min(r.Bottom(), g.Clip.Bottom())-y)}
	}
	return r
}

func (l Line) moved(by Point) Element {
	points := make([]Point, len(l.Points))
	for i, p := range l.Points {
		points[i] = p.Add(by)
	}
	l.Points = points
	return l
}

func (a Arc) moved(by Point) Element    { a.Center = a.Center.Add(by); return a }
func (c Circle) moved(by Point) Element { c.Center = c.Center.Add(by); return c }
func (b Box) moved(by Point) Element    { b.Rect = b.Moved(by); return b }
func (t Text) moved(by Point) Element   { t.At = t.At.Add(by); return t }

func (g Group) moved(by Point) Element {
	g.Elements = MoveAll(g.Elements, by)
	if g.Clip != nil {
		clip := g.Clip.Moved(by)
		g.Clip = &clip
	}
	return g
}

// Move returns an element displaced; the given one stays as it is.
func Move(e Element, by Point) Element { return e.moved(by) }

// MoveAll returns elements displaced.
func MoveAll(elements []Element, by Point) []Element {
	out := make([]Element, len(elements))
	for i, e := range elements {
		out[i] = e.moved(by)
	}
	return out
}

// points are those of the arc as a polyline; at most a hundredth of the radius
// is lost between them.
func (a Arc) points() []Point {
	n := max(2, int(math.Ceil(math.Abs(a.Sweep)/10)))
	points := make([]Point, n+1)
	for i := range points {
		sin, cos := math.Sincos((a.From + a.Sweep*float64(i)/float64(n)) * math.Pi / 180)
		points[i] = a.Center.Add(Point{a.R * cos, a.R * sin})
	}
	return points
}

// A Page is one sheet or figure.
type Page struct {
	Width, Height float64 // mm
	Title         string  // what it shows, in a few words
	Desc          string  // the same in sentences, for those who don't see it
	Elements      []Element
}

// Add puts elements on the page, over those already there.
func (p *Page) Add(elements ...Element) { p.Elements = append(p.Elements, elements...) }

// Walk calls f for every element in the order of drawing, groups before what
// they hold.
func Walk(elements []Element, f func(Element)) {
	for _, e := range elements {
		f(e)
		if g, ok := e.(Group); ok {
			Walk(g.Elements, f)
		}
	}
}

// ScaleAll returns elements with all lengths times k, the origin of the page
// staying where it is.
func ScaleAll(elements []Element, k float64) []Element {
	out := make([]Element, len(elements))
	for i, e := range elements {
		out[i] = e.scaled(k)
	}
	return out
}

// Scaled returns p with both coordinates times k.
func (p Point) Scaled(k float64) Point { return Point{p.X * k, p.Y * k} }

// Scaled returns r with all lengths times k.
func (r Rect) Scaled(k float64) Rect { return Rect{r.X * k, r.Y * k, r.W * k, r.H * k} }

func (s Style) scaled(k float64) Style {
	s.Width *= k
	dash := make([]float64, len(s.Dash))
	for i, d := range s.Dash {
		dash[i] = d * k
	}
	s.Dash = dash
	return s
}

func (l Line) scaled(k float64) Element {
	points := make([]Point, len(l.Points))
	for i, p := range l.Points {
		points[i] = p.Scaled(k)
	}
	return Line{l.Style.scaled(k), points, l.Closed}
}

func (a Arc) scaled(k float64) Element {
	return Arc{a.Style.scaled(k), a.Center.Scaled(k), a.R * k, a.From, a.Sweep}
}

func (c Circle) scaled(k float64) Element {
	return Circle{c.Style.scaled(k), c.Center.Scaled(k), c.R * k}
}

func (b Box) scaled(k float64) Element { return Box{b.Style.scaled(k), b.Rect.Scaled(k)} }

func (t Text) scaled(k float64) Element {
	t.At, t.Size = t.At.Scaled(k), t.Size*k
	return t
}

func (g Group) scaled(k float64) Element {
	g.Elements = ScaleAll(g.Elements, k)
	if g.Clip != nil {
		clip := g.Clip.Scaled(k)
		g.Clip = &clip
	}
	return g
}
