package drawing

import (
	"math"
	"slices"
	"strconv"
)

// An Axis is one direction of a plot.
type Axis struct {
	Min, Max float64
	Log      bool // both ends above zero
	Label    string
	// Write turns the value of a tick into text; short decimal numbers if nil.
	Write func(float64) string
}

// valid tells whether values can be placed.
func (a Axis) valid() bool {
	return a.Max > a.Min && !math.IsInf(a.Max-a.Min, 0) && (!a.Log || a.Min > 0)
}

// fraction is where a value lies between the ends, 0 to 1.
func (a Axis) fraction(v float64) float64 {
	if a.Log {
		return math.Log(v/a.Min) / math.Log(a.Max/a.Min)
	}
	return (v - a.Min) / (a.Max - a.Min)
}

// A Tick is a mark of an axis. Minor ticks have a grid line alone.
type Tick struct {
	Value float64
	Label string
	Minor bool
}

// Ticks returns the marks of an axis in order, about count of them labelled.
//
// A linear axis is parted by 1, 2 or 5 times a power of ten, with minor ticks
// at fifths or quarters; a logarithmic one has decades, minor ticks at 2 to 9
// times, of which 2 and 5 get labels where it spans less than three decades.
func (a Axis) Ticks(count int) []Tick {
	if !a.valid() {
		return nil
	}
	if a.Log {
		return a.logTicks()
	}
	raw := (a.Max - a.Min) / float64(max(count, 1))
	power := math.Pow(10, math.Floor(math.Log10(raw)))
	step, parts := 10*power, 5
	for _, s := range []struct {
		factor float64
		parts  int
	}{{1, 5}, {2, 4}, {5, 5}} {
		if raw <= s.factor*power*(1+1e-9) {
			step, parts = s.factor*power, s.parts
			break
		}
	}
	minor := step / float64(parts)
	var ticks []Tick
	first, last := math.Ceil(a.Min/minor-1e-9), math.Floor(a.Max/minor+1e-9)
	if last-first > 1e4 {
		return nil // the range is too narrow for its place on the number line
	}
	for i := first; i <= last; i++ {
		// From the labelled value where there is one: 0.3 and not 0.30000000000000004.
		if math.Mod(i, float64(parts)) == 0 {
			v := roundTo(i/float64(parts)*step, step)
			ticks = append(ticks, Tick{Value: v, Label: a.write(v)})
		} else {
			ticks = append(ticks, Tick{Value: i * minor, Minor: true})
		}
	}
	return ticks
}

// roundTo removes the noise of multiplying by a step like 0.1.
func roundTo(v, step float64) float64 {
	digits := max(0, int(1-math.Floor(math.Log10(step))))
	if digits > 300 {
		return v
	}
	r, err := strconv.ParseFloat(strconv.FormatFloat(v, 'f', digits, 64), 64)
	if err != nil {
		return v
	}
	return r + 0 // not -0
}

func (a Axis) logTicks() []Tick {
	decades := math.Log10(a.Max / a.Min)
	between := decades < 3
	var ticks []Tick
	for e := math.Floor(math.Log10(a.Min)); e <= math.Log10(a.Max)+1e-9; e++ {
		for m := 1.0; m < 10; m++ {
			v, _ := strconv.ParseFloat(strconv.FormatFloat(m, 'f', -1, 64)+"e"+strconv.Itoa(int(e)), 64)
			if v < a.Min*(1-1e-9) || v > a.Max*(1+1e-9) {
				continue
			}
			t := Tick{Value: v, Minor: m != 1}
			if m == 1 || between && (m == 2 || m == 5) {
				t.Label = a.write(v)
			}
			ticks = append(ticks, t)
		}
	}
	return ticks
}

func (a Axis) write(v float64) string {
	if a.Write != nil {
		return a.Write(v)
	}
	if v != 0 && (math.Abs(v) >= 1e6 || math.Abs(v) < 1e-4) {
		return strconv.FormatFloat(v, 'g', 4, 64)
	}
	return strconv.FormatFloat(v, 'f', -1, 64)
}

// A Plot is a pair of axes in a rectangle of a page.
type Plot struct {
	Area Rect // within the axes: where curves are drawn, mm
	X, Y Axis
	Size float64 // of text, mm; 2.5 if zero
}

func (p Plot) size() float64 {
	if p.Size > 0 {
		return p.Size
	}
	return 2.5
}

// NewPlot fits axes with their labels into a rectangle.
func NewPlot(outer Rect, x, y Axis) Plot {
	p := Plot{X: x, Y: y, Area: outer}
	size := p.size()
	wide := 0.0
	for _, t := range y.Ticks(tickCount(outer.H, size)) {
		wide = max(wide, TextWidth(t.Label, size, false))
	}
	left, bottom := wide+2, size*(below+ascent+descent)
	if y.Label != "" {
		left += size * 1.5
	}
	if x.Label != "" {
		bottom += size * 1.5
	}
	// Half a label may stand out at the right and at the top.
	right, top := size*1.5, size*0.6
	p.Area = Rect{outer.X + left, outer.Y + top, max(1, outer.W-left-right), max(1, outer.H-top-bottom)}
	return p
}

// below is the distance of labels below their axis, over the size of text:
// past the lower half of the label at the foot of the other axis.
const below = 0.65

func tickCount(length, size float64) int { return max(2, int(length/(size*6))) }

// At is the place of a pair of values on the page. Values outside of the axes
// have places outside of the area.
func (p Plot) At(x, y float64) Point {
	return Point{p.Area.X + p.Area.W*p.X.fraction(x), p.Area.Bottom() - p.Area.H*p.Y.fraction(y)}
}

// Frame draws the grid, the axes and their labels. Labels that would touch
// one before them are left out.
func (p Plot) Frame() Group {
	g := Group{Class: "axes"}
	size := p.size()
	major := Style{Class: "grid", Stroke: Grey(0.72), Width: 0.13}
	minor := Style{Class: "grid minor", Stroke: Grey(0.87), Width: 0.1}
	var texts []Element
	for _, isX := range []bool{true, false} {
		axis, length := p.Y, p.Area.H
		if isX {
			axis, length = p.X, p.Area.W
		}
		ticks := axis.Ticks(tickCount(length, size))
		// Minor lines lie below major ones.
		for _, wantMinor := range []bool{true, false} {
			for _, t := range ticks {
				if t.Minor != wantMinor {
					continue
				}
				style := major
				if t.Minor {
					style = minor
				}
				f := axis.fraction(t.Value)
				if isX {
					x := p.Area.X + f*p.Area.W
					g.Elements = append(g.Elements, Line{Style: style, Points: []Point{{x, p.Area.Y}, {x, p.Area.Bottom()}}})
				} else {
					y := p.Area.Bottom() - f*p.Area.H
					g.Elements = append(g.Elements, Line{Style: style, Points: []Point{{p.Area.X, y}, {p.Area.Right(), y}}})
				}
			}
		}
		var taken []Rect
		place := func(t Tick) {
			if t.Label == "" {
				return
			}
			f := axis.fraction(t.Value)
			text := Text{Class: "tick", Size: size, Text: t.Label}
			if isX {
				text.At, text.Anchor = Point{p.Area.X + f*p.Area.W, p.Area.Bottom() + size*(below+ascent)}, Middle
			} else {
				text.At, text.Anchor, text.Centred = Point{p.Area.X - 1.2, p.Area.Bottom() - f*p.Area.H}, End, true
			}
			b := text.Bounds()
			if isX {
				b.X, b.W = b.X-size*0.4, b.W+size*0.8
			}
			if !slices.ContainsFunc(taken, b.Overlaps) {
				taken = append(taken, b)
				texts = append(texts, text)
			}
		}
		for _, t := range ticks {
			if !t.Minor {
				place(t)
			}
		}
		for _, t := range ticks {
			if t.Minor {
				place(t)
			}
		}
		if axis.Label != "" {
			if isX {
				texts = append(texts, Text{Class: "axis", At: Point{p.Area.X + p.Area.W/2, p.Area.Bottom() + size*(below+ascent+1.45)}, Size: size, Anchor: Middle, Text: axis.Label})
			} else {
				wide := 0.0
				for _, t := range taken {
					wide = max(wide, t.W)
				}
				texts = append(texts, Text{Class: "axis", At: Point{p.Area.X - wide - 2 - size*0.35, p.Area.Y + p.Area.H/2}, Size: size, Anchor: Middle, Rotate: 90, Text: axis.Label})
			}
		}
	}
	g.Elements = append(g.Elements, Box{Style{Class: "axis", Stroke: Black, Width: 0.3}, p.Area})
	g.Elements = append(g.Elements, texts...)
	return g
}

// lineStyles are told apart without colour: by dash and width. The colours,
// of about the same lightness, are for screens.
var lineStyles = []Style{
	{Stroke: Ink{0, 0, 0, 255}, Width: 0.5},
	{Stroke: Ink{0, 90, 160, 255}, Width: 0.5, Dash: []float64{3, 1}},
	{Stroke: Ink{170, 70, 0, 255}, Width: 0.5, Dash: []float64{1, 0.9}},
	{Stroke: Ink{0, 110, 80, 255}, Width: 0.5, Dash: []float64{4, 1, 0.8, 1}},
	{Stroke: Ink{130, 40, 110, 255}, Width: 0.9},
	{Stroke: Ink{90, 90, 90, 255}, Width: 0.5, Dash: []float64{6, 1.5}},
	{Stroke: Ink{0, 90, 160, 255}, Width: 0.9, Dash: []float64{1.5, 1.5}},
	{Stroke: Ink{170, 70, 0, 255}, Width: 0.3},
}

// LineStyle returns the style of the nth series, n from 0. Up to eight differ.
func LineStyle(n int) Style {
	n = ((n % len(lineStyles)) + len(lineStyles)) % len(lineStyles)
	s := lineStyles[n]
	s.Class = "series series-" + strconv.Itoa(n+1)
	return s
}

// A Value is a point of a curve in the units of the axes.
type Value struct{ X, Y float64 }

// Curve draws a series, clipped to the area. Where a value is no number, or
// can't be placed on a logarithmic axis, the curve is interrupted.
func (p Plot) Curve(title string, values []Value, style Style) Group {
	area := p.Area
	g := Group{Class: "curve", Title: title, Clip: &area}
	var run []Point
	finish := func() {
		if len(run) > 1 {
			g.Elements = append(g.Elements, Line{Style: style, Points: run})
		}
		run = nil
	}
	for _, v := range values {
		if !p.placeable(v) {
			finish()
			continue
		}
		run = append(run, p.At(v.X, v.Y))
	}
	finish()
	return g
}

func (p Plot) placeable(v Value) bool {
	fx, fy := p.X.fraction(v.X), p.Y.fraction(v.Y)
	return !math.IsNaN(fx+fy) && !math.IsInf(fx, 0) && !math.IsInf(fy, 0)
}

// Band fills what lies between two curves, clipped to the area.
func (p Plot) Band(title string, lower, upper []Value, style Style) Group {
	area := p.Area
	g := Group{Class: "band", Title: title, Clip: &area}
	var points []Point
	for _, v := range lower {
		if p.placeable(v) {
			points = append(points, p.At(v.X, v.Y))
		}
	}
	for _, v := range slices.Backward(upper) {
		if p.placeable(v) {
			points = append(points, p.At(v.X, v.Y))
		}
	}
	if len(points) > 2 {
		g.Elements = []Element{Line{Style: style, Points: points, Closed: true}}
	}
	return g
}

// A Mark is a labelled place in a plot.
type Mark struct {
	At   Point
	Text string
}

// Labels writes texts beside places, none over another: they are kept in
// their vertical order and pushed apart within the limits of an area, and a
// thin line leads from a text that had to move to its place.
func Labels(marks []Mark, size float64, area Rect) Group {
	g := Group{Class: "labels"}
	order := make([]int, len(marks))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		switch d := marks[a].At.Y - marks[b].At.Y; {
		case d < 0:
			return -1
		case d > 0:
			return 1
		}
		return 0
	})
	gap := TextHeight(size)
	y := make([]float64, len(marks))
	at := area.Y + gap/2
	for _, i := range order {
		y[i] = max(marks[i].At.Y, at)
		at = y[i] + gap
	}
	limit := area.Bottom() - gap/2
	for _, i := range slices.Backward(order) {
		y[i] = min(y[i], limit)
		limit = y[i] - gap
	}
	for i, m := range marks {
		x := m.At.X + 1
		if math.Abs(y[i]-m.At.Y) > gap/4 {
			g.Elements = append(g.Elements, Line{Style: Style{Class: "leader", Stroke: Grey(0.4), Width: 0.13}, Points: []Point{m.At, {x + 2, y[i]}}})
			x += 2.5
		}
		g.Elements = append(g.Elements, Text{Class: "label", At: Point{x, y[i]}, Size: size, Centred: true, Text: m.Text})
	}
	return g
}

// Legend lists styles with their names, one below the other, from a corner.
func Legend(at Point, size float64, names []string, styles []Style) Group {
	g := Group{Class: "legend"}
	for i, name := range names {
		y := at.Y + size*(0.6+1.5*float64(i))
		g.Elements = append(g.Elements,
			Line{Style: styles[i], Points: []Point{{at.X, y}, {at.X + 10, y}}},
			Text{At: Point{at.X + 11.5, y}, Size: size, Centred: true, Text: name})
	}
	return g
}
