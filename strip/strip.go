// Package strip draws a feeder strip: one path through the network along an axis of distance or impedance, its
// devices where they stand, and under it, on the same axis, ribbons of what was found along the path.
//
// It shows a profile.Profile and computes nothing but places on the page. Curves differ by dash and width, so that
// a sheet can be printed in grey; labels stand at the ends of the curves, and never over one another.
package strip

import (
	"fmt"
	"maps"
	"math"
	"math/cmplx"
	"slices"
	"strconv"
	"strings"

	"feederwright/drawing"
	"feederwright/profile"
	"feederwright/working"
)

// Options say what is drawn.
type Options struct {
	Title     string
	Impedance bool    // the axis: impedance instead of distance
	Unit      string  // of distance, "km" or "mi"
	Metre     float64 // metres in one unit
	Width     float64 // mm of the figure; 0 means 250
	// Height in mm, where it is given, makes the ribbons lower or higher, from half to twice their usual height.
	Height float64
	// Limits of the voltage over nominal, drawn as lines; 0 draws none.
	Low, High float64
}

const (
	text     = 2.6  // mm, size of lettering
	leftRoom = 33.0 // for the names of ribbons and their scales
	tail     = 29.0 // for the labels at the ends of curves
	head     = 9.0  // title
	gap      = 6.5  // between ribbons
	foot     = 5.0
)

// shown are the kinds of fault in a strip, by their place in profile.Profile.Kinds: three-phase, line-to-line, line-to-earth.
var shown = []int{0, 1, 3}

// words for the kinds, beside their curves.
var words = map[string]string{"3ph": "three-phase", "ll": "line-to-line", "lg": "line-to-earth"}

// A ribbon is one plot of the strip.
type ribbon struct {
	name   string
	under  []string // lines below the name
	height float64
	axis   drawing.Axis
	series []series
	limits []float64
	digits int // decimals of the numbers at the ends; 0: three significant digits
}

func (r *ribbon) write(x float64) string {
	if r.digits > 0 {
		return strconv.FormatFloat(x, 'f', r.digits, 64)
	}
	return working.Number(x, 3)
}

// A series is one quantity along the path, as a band.
type series struct {
	label string
	style drawing.Style
	low   []drawing.Value
	high  []drawing.Value
}

// Draw makes the figure of a profile: as large as it needs to be.
func Draw(p *profile.Profile, o Options) (*drawing.Page, error) {
	if len(p.Points) < 2 {
		return nil, fmt.Errorf("a strip wants a path of two places at least; this one has %d", len(p.Points))
	}
	if o.Width == 0 {
		o.Width = 250
	}
	if !o.Impedance && !(o.Metre > 0) {
		return nil, fmt.Errorf("a strip along distance wants a unit of length")
	}
	d := &draft{p: p, o: o}
	d.axis()
	page := &drawing.Page{Width: o.Width, Title: o.Title, Desc: d.describe()}
	y := head
	if o.Title != "" {
		page.Add(drawing.Text{Class: "title", At: drawing.Point{X: 1, Y: 4.2}, Size: 3.6, Bold: true, Text: drawing.Fit(o.Title, 3.6, true, o.Width-2)})
	}
	page.Add(drawing.Text{Class: "subtitle", At: drawing.Point{X: 1, Y: 8.4}, Size: text, Ink: drawing.Grey(0.3), Text: drawing.Fit(d.subtitle(), text, false, o.Width-2)})
	track, height := d.track(y + 3)
	page.Add(track)
	y += 3 + height + 3
	ribbons := d.ribbons()
	if o.Height > 0 {
		sum := 0.0
		for _, r := range ribbons {
			sum += r.height
		}
		scale := (o.Height - y - gap*float64(len(ribbons)) - foot) / sum
		for i := range ribbons {
			ribbons[i].height *= min(max(scale, 0.5), 2)
		}
	}
	for i, r := range ribbons {
		last := i == len(ribbons)-1
		page.Add(d.ribbon(r, y, last)...)
		y += r.height + gap
	}
	page.Height = y + foot
	return page, nil
}

type draft struct {
	p    *profile.Profile
	o    Options
	x    drawing.Axis
	at   []float64 // of each point along the axis
	area drawing.Rect
	// lead is the first point on the axis. The station before it, transformers with no line between, has no length
	// and stands to the left of the axis.
	lead int
}

func (d *draft) axis() {
	for i := range d.p.Points {
		d.at = append(d.at, d.position(&d.p.Points[i]))
	}
	if !d.o.Impedance {
		for i := 1; i < len(d.at)-1 && d.at[i] == 0; i++ {
			if k := d.p.Points[i].Kind; k != "" && k != "line" {
				d.lead = i
			}
		}
	}
	end := slices.Max(d.at)
	if !(end > 0) {
		end = 1
	}
	label := "distance from " + d.p.Points[d.lead].Place + ", " + d.o.Unit
	if d.o.Impedance {
		label = "positive-sequence impedance from " + d.p.From + ", ohm at the voltage of " + d.p.To
	}
	d.x = drawing.Axis{Min: 0, Max: end, Label: label}
	d.area = drawing.Rect{X: leftRoom, W: d.o.Width - leftRoom - tail}
}

func (d *draft) position(pt *profile.Point) float64 {
	if d.o.Impedance {
		return cmplx.Abs(pt.Impedance)
	}
	return pt.Distance / d.o.Metre
}

// across is the place on the page of a value along the axis.
func (d *draft) across(v float64) float64 { return d.area.X + d.area.W*v/d.x.Max }

// point is the place on the page of a point of the path.
func (d *draft) point(i int) float64 {
	if i < d.lead {
		return d.area.X - float64(d.lead-i)*min(14, (leftRoom-4)/float64(d.lead))
	}
	return d.across(d.at[i])
}

func (d *draft) subtitle() string {
	s := fmt.Sprintf("From %s to %s. Bands run from the least to the most over %s.", d.p.From, d.p.To, conditions(len(d.p.Conditions)))
	if len(d.p.Conditions) == 1 {
		s = fmt.Sprintf("From %s to %s in condition %s.", d.p.From, d.p.To, d.p.Conditions[0])
	}
	if n := len(d.p.Without); n > 0 {
		s += fmt.Sprintf(" Voltage and load are without %d of them, which have no solution.", n)
	}
	if v := d.voltages(); len(v) > 1 {
		s += " Currents are those at each place's own voltage: " + strings.Join(v, ", ") + "."
	}
	return s
}

func conditions(n int) string {
	if n == 1 {
		return "one condition"
	}
	return fmt.Sprintf("%d conditions", n)
}

// voltages lists the nominal voltages along the path, in order.
func (d *draft) voltages() []string {
	var list []string
	for i := d.lead; i < len(d.p.Points); i++ {
		v := working.Number(d.p.Points[i].Nominal/1e3, 4) + " kV"
		if !slices.Contains(list, v) {
			list = append(list, v)
		}
	}
	return list
}

// describe is the strip in words, for those who don't see it.
func (d *draft) describe() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s The places in order:", d.subtitle())
	for i := range d.p.Points {
		pt := &d.p.Points[i]
		if !pt.Bus {
			continue
		}
		fmt.Fprintf(&b, " %s", pt.Place)
		for j, k := range shown {
			if f := pt.Faults[k]; f.Known {
				lead := ";"
				if j == 0 {
					lead = ":"
				}
				fmt.Fprintf(&b, "%s %s %s to %s A", lead, words[d.p.Kinds[k]], working.Number(f.Least, 4), working.Number(f.Most, 4))
			}
		}
		b.WriteString(".")
	}
	return b.String()
}

// A label of the track.
type label struct {
	x    float64
	text string
}

// track draws the path itself: buses as dots, devices as squares, transformers as two circles. Names of buses stand above,
// those of devices and branches below, on as many lines as they need, up to three; what still doesn't fit is left out, for it stands in the table.
func (d *draft) track(y float64) (drawing.Group, float64) {
	const rows = 3
	line := text * drawing.LineHeight
	above, aboveRows := d.place(d.buses(), rows)
	below, belowRows := d.place(d.devices(), rows)
	center := y + float64(aboveRows)*line + 2.5
	g := drawing.Group{Class: "path", Title: "path"}
	ink := drawing.Style{Class: "line", Stroke: drawing.Black, Width: 0.5}
	g.Elements = append(g.Elements, drawing.Line{Style: ink, Points: []drawing.Point{{X: d.point(0), Y: center}, {X: d.across(slices.Max(d.at)), Y: center}}})
	for i := range d.p.Points {
		if pt := &d.p.Points[i]; pt.Bus {
			g.Elements = append(g.Elements, drawing.Circle{Style: drawing.Style{Class: "bus", Fill: drawing.Black}, Center: drawing.Point{X: d.point(i), Y: center}, R: 0.9})
		}
		if i == 0 {
			continue
		}
		from := d.point(i - 1)
		open := drawing.Style{Class: "device", Stroke: drawing.Black, Width: 0.35, Fill: drawing.White}
		x := from + min(2.4, (d.point(i)-from)/2)
		before := len(d.p.Points[i].Devices)
		if d.p.Points[i].Kind != "" && d.p.Points[i].Kind != "line" {
			before = d.p.Points[i].Before
			mid := (from+d.point(i))/2 - 1.2
			for k := range 2 {
				g.Elements = append(g.Elements, drawing.Circle{Style: drawing.Style{Class: "transformer", Stroke: drawing.Black, Width: 0.35}, Center: drawing.Point{X: mid + 1.6*float64(k), Y: center}, R: 1.5})
			}
			x = mid - 3 - 2.6*float64(before-1)
		}
		for k := range d.p.Points[i].Devices {
			if k == before {
				x = (from+d.point(i))/2 + 3.4
			}
			g.Elements = append(g.Elements, drawing.Box{Style: open, Rect: drawing.Rect{X: x - 1, Y: center - 1, W: 2, H: 2}})
			x += 2.6
		}
	}
	for _, l := range above {
		y := center - 2 - float64(l.row)*line
		g.Elements = append(g.Elements, drawing.Text{Class: "bus", At: drawing.Point{X: l.x, Y: y}, Size: text, Anchor: drawing.Middle, Bold: true, Text: l.text})
		if l.row > 0 {
			g.Elements = append(g.Elements, leader(l.mark, center-1.2, y+0.7))
		}
	}
	for _, l := range below {
		y := center + 2 + text*0.8 + float64(l.row)*line
		g.Elements = append(g.Elements, drawing.Text{Class: "device", At: drawing.Point{X: l.x, Y: y}, Size: text, Anchor: drawing.Middle, Ink: drawing.Grey(0.25), Text: l.text})
		if l.row > 0 {
			g.Elements = append(g.Elements, leader(l.mark, center+1.4, y-text*0.8))
		}
	}
	return g, float64(aboveRows+belowRows)*line + 5
}

func leader(x, from, to float64) drawing.Line {
	return drawing.Line{Style: drawing.Style{Class: "leader", Stroke: drawing.Grey(0.75), Width: 0.12}, Points: []drawing.Point{{X: x, Y: from}, {X: x, Y: to}}}
}

func (d *draft) buses() []label {
	var list []label
	for i := range d.p.Points {
		if pt := &d.p.Points[i]; pt.Bus {
			list = append(list, label{x: d.point(i), text: pt.Place})
		}
	}
	return list
}

func (d *draft) devices() []label {
	var list []label
	for i := 1; i < len(d.p.Points); i++ {
		pt := &d.p.Points[i]
		if pt.Kind != "" && pt.Kind != "line" && pt.Branch != "" {
			list = append(list, label{x: (d.point(i-1) + d.point(i)) / 2, text: pt.Branch})
		}
		if len(pt.Devices) > 0 {
			list = append(list, label{x: d.point(i-1) + min(2.4, (d.point(i)-d.point(i-1))/2), text: strings.Join(pt.Devices, " ")})
		}
	}
	return list
}

// A placed label has its row, 0 next to the path.
type placed struct {
	label
	row  int
	mark float64 // x of what it names
}

// aside are the steps in mm by which a label may stand beside its place.
var aside = []float64{0, 1.5, -1.5, 3, -3}

// place gives labels rows so that none touches another, nor the leader of one further out; ends are placed first, since they matter most.
func (d *draft) place(list []label, rows int) ([]placed, int) {
	order := make([]int, 0, len(list))
	if n := len(list); n > 0 {
		order = append(order, 0)
		if n > 1 {
			order = append(order, n-1)
		}
		for i := 1; i < n-1; i++ {
			order = append(order, i)
		}
	}
	type span struct{ from, to float64 }
	taken := make([][]span, rows)
	free := func(row int, s span) bool {
		return !slices.ContainsFunc(taken[row], func(t span) bool { return s.from < t.to && t.from < s.to })
	}
	var result []placed
	used := 0
	for _, i := range order {
		l := list[i]
		w := drawing.TextWidth(l.text, text, true)
		if w > d.o.Width/3 {
			l.text = drawing.Fit(l.text, text, true, d.o.Width/3)
			w = drawing.TextWidth(l.text, text, true)
		}
		for try := range rows * len(aside) {
			row, x := try/len(aside), min(max(l.x+aside[try%len(aside)], 1+w/2), d.o.Width-1-w/2)
			clear := free(row, span{x - w/2 - 0.8, x + w/2 + 0.8})
			for r := range row { // its leader passes the rows between
				clear = clear && free(r, span{l.x - 0.3, l.x + 0.3})
			}
			if !clear {
				continue
			}
			taken[row] = append(taken[row], span{x - w/2 - 0.8, x + w/2 + 0.8})
			for r := range row {
				taken[r] = append(taken[r], span{l.x - 0.3, l.x + 0.3})
			}
			result = append(result, placed{label{x, l.text}, row, l.x})
			used = max(used, row+1)
			break
		}
	}
	return result, used
}

// ribbons lists what there is to show.
func (d *draft) ribbons() []ribbon {
	var list []ribbon
	current := ribbon{name: "Fault current", under: []string{"A, r.m.s.", "logarithmic"}, height: 44}
	for n, k := range shown {
		s := series{label: words[d.p.Kinds[k]], style: drawing.LineStyle(n)}
		s.low, s.high = d.band(func(pt *profile.Point) profile.Band { return pt.Faults[k] })
		if known(s.high) {
			current.series = append(current.series, s)
		}
	}
	if low, high, ok := extent(current.series, true); ok {
		current.axis = logAxis(low, high)
		list = append(list, current)
	}
	xr := ribbon{name: "X/R", under: []string{"at the largest", "fault current"}, height: 24}
	s := series{style: drawing.LineStyle(0)}
	s.low, s.high = d.band(func(pt *profile.Point) profile.Band {
		return profile.Band{Known: pt.XR.Known, Least: pt.XR.V, Most: pt.XR.V}
	})
	if known(s.high) {
		xr.series = []series{s}
		if _, high, ok := extent(xr.series, false); ok {
			xr.axis = drawing.Axis{Min: 0, Max: nice(high)}
			list = append(list, xr)
		}
	}
	volt := ribbon{name: "Voltage", under: []string{"% of nominal", "in service"}, height: 30, digits: 1}
	s = series{style: drawing.LineStyle(0)}
	s.low, s.high = d.band(func(pt *profile.Point) profile.Band {
		b := pt.Voltage
		b.Least, b.Most = 100*b.Least, 100*b.Most
		return b
	})
	if known(s.high) {
		volt.series = []series{s}
		low, high, _ := extent(volt.series, false)
		for _, l := range []float64{d.o.Low, d.o.High} {
			if l > 0 {
				volt.limits = append(volt.limits, 100*l)
				low, high = min(low, 100*l), max(high, 100*l)
			}
		}
		pad := max(1, 0.08*(high-low))
		volt.axis = drawing.Axis{Min: math.Floor(low - pad), Max: math.Ceil(high + pad)}
		list = append(list, volt)
	}
	load := ribbon{name: "Load current", under: []string{"A, largest phase", "in service"}, height: 30}
	s = series{style: drawing.LineStyle(0)}
	s.low, s.high = d.band(func(pt *profile.Point) profile.Band { return pt.Load })
	s.low[0].Y, s.high[0].Y = math.NaN(), math.NaN() // that leads to the start: no branch of the axis
	s.low, s.high = steps(s.low), steps(s.high)
	if known(s.high) {
		load.series = []series{s}
		if _, high, _ := extent(load.series, false); high > 0 {
			load.axis = drawing.Axis{Min: 0, Max: nice(high)}
			list = append(list, load)
		}
	}
	return list
}

// band lays a quantity along the axis. Where the nominal voltage changes the curves are broken, since currents on both
// sides are not of one scale.
func (d *draft) band(of func(*profile.Point) profile.Band) (low, high []drawing.Value) {
	nan := math.NaN()
	for i := d.lead; i < len(d.p.Points); i++ {
		pt := &d.p.Points[i]
		if i > d.lead && pt.Nominal != d.p.Points[i-1].Nominal {
			low, high = append(low, drawing.Value{X: nan, Y: nan}), append(high, drawing.Value{X: nan, Y: nan})
		}
		b := of(pt)
		if !b.Known {
			b.Least, b.Most = nan, nan
		}
		low, high = append(low, drawing.Value{X: d.at[i], Y: b.Least}), append(high, drawing.Value{X: d.at[i], Y: b.Most})
	}
	return low, high
}

// steps makes a series constant up to each point: the load current of a branch is that into the point at its end.
func steps(list []drawing.Value) []drawing.Value {
	var result []drawing.Value
	last := math.NaN()
	for _, v := range list {
		if !math.IsNaN(last) && !math.IsNaN(v.X) && v.X > last {
			result = append(result, drawing.Value{X: last, Y: v.Y})
		}
		result = append(result, v)
		if !math.IsNaN(v.X) {
			last = v.X
		}
	}
	return result
}

func known(list []drawing.Value) bool {
	return slices.ContainsFunc(list, func(v drawing.Value) bool { return !math.IsNaN(v.Y) })
}

// extent is the range of some series; of positive values alone, for a logarithmic axis.
func extent(list []series, positive bool) (low, high float64, ok bool) {
	low, high = math.Inf(1), math.Inf(-1)
	for _, s := range list {
		for _, values := range [][]drawing.Value{s.low, s.high} {
			for _, v := range values {
				if !math.IsNaN(v.Y) && !math.IsInf(v.Y, 0) && (!positive || v.Y > 0) {
					low, high, ok = min(low, v.Y), max(high, v.Y), true
				}
			}
		}
	}
	return low, high, ok
}

// logAxis goes from and to 1, 2 or 5 times a power of ten.
func logAxis(low, high float64) drawing.Axis {
	down, up := math.Pow(10, math.Floor(math.Log10(low))), math.Pow(10, math.Ceil(math.Log10(high)))
	for _, m := range []float64{2, 5} {
		if down0 := math.Pow(10, math.Floor(math.Log10(low))); m*down0 <= low {
			down = m * down0
		}
	}
	for _, m := range []float64{5, 2} {
		if up0 := math.Pow(10, math.Ceil(math.Log10(high))); up0/10*m >= high {
			up = up0 / 10 * m
		}
	}
	if !(up > down) {
		up = 10 * down
	}
	return drawing.Axis{Min: down, Max: up, Log: true}
}

// nice is a round value above x.
func nice(x float64) float64 {
	if !(x > 0) {
		return 1
	}
	p := math.Pow(10, math.Floor(math.Log10(x)))
	for _, m := range []float64{1, 1.5, 2, 3, 4, 5, 6, 8, 10} {
		if m*p >= x*1.02 {
			return m * p
		}
	}
	return 10 * p
}

// ribbon draws one plot with its upper edge at y.
func (d *draft) ribbon(r ribbon, y float64, last bool) []drawing.Element {
	x := d.x
	if !last {
		x.Label, x.Write = "", func(float64) string { return "" }
	}
	p := drawing.Plot{Area: drawing.Rect{X: d.area.X, Y: y, W: d.area.W, H: r.height}, X: x, Y: r.axis, Size: text}
	list := []drawing.Element{drawing.Text{Class: "ribbon", At: drawing.Point{X: 1, Y: y + text*0.8}, Size: text, Bold: true, Text: r.name}}
	for i, u := range r.under {
		list = append(list, drawing.Text{Class: "ribbon", At: drawing.Point{X: 1, Y: y + text*(0.8+1.25*float64(i+1))}, Size: text * 0.9, Ink: drawing.Grey(0.3), Text: u})
	}
	list = append(list, p.Frame())
	for _, l := range r.limits {
		list = append(list, p.Curve("limit", []drawing.Value{{X: x.Min, Y: l}, {X: x.Max, Y: l}}, drawing.Style{Class: "limit", Stroke: drawing.Black, Width: 0.25, Dash: []float64{0.6, 0.8}}))
	}
	// Labels stand where their curves end: most at the edge, some within.
	marks := map[float64][]drawing.Mark{}
	mark := func(v drawing.Value, words string) {
		at := p.At(v.X, v.Y)
		if at.X > d.area.Right()-15 {
			at.X = d.area.Right()
		}
		marks[at.X] = append(marks[at.X], drawing.Mark{At: at, Text: words})
	}
	for _, s := range r.series {
		fill := s.style.Stroke
		fill.A = 24
		for _, part := range parts(s.low, s.high) {
			list = append(list, p.Band(s.label+" from least to most", part.low, part.high, drawing.Style{Class: s.style.Class + " band", Fill: fill}))
			thin := s.style
			thin.Width, thin.Dash = 0.2, nil
			list = append(list, p.Curve("least "+s.label, part.low, thin), p.Curve("most "+s.label, part.high, s.style))
			if len(part.high) == 1 {
				for _, v := range []drawing.Value{part.low[0], part.high[0]} {
					list = append(list, drawing.Circle{Style: drawing.Style{Class: s.style.Class, Fill: s.style.Stroke}, Center: p.At(v.X, v.Y), R: 0.7})
				}
			}
		}
		low, _ := lastOf(s.low)
		high, ok := lastOf(s.high)
		switch {
		case !ok:
		case s.label != "":
			mark(high, s.label)
		default:
			most, least := r.write(high.Y), r.write(low.Y)
			mark(high, most)
			if least != most {
				mark(low, least)
			}
		}
	}
	for _, l := range r.limits {
		mark(drawing.Value{X: x.Max, Y: l}, "limit "+strconv.FormatFloat(math.Round(l*10)/10, 'f', -1, 64))
	}
	for _, at := range slices.Sorted(maps.Keys(marks)) {
		labels := drawing.Labels(marks[at], text, drawing.Rect{X: at, Y: y - 1, W: tail, H: r.height + 2})
		if at < d.area.Right() { // over the curves, so on paper of their own
			for _, e := range labels.Elements {
				if t, ok := e.(drawing.Text); ok {
					list = append(list, drawing.Box{Style: drawing.Style{Class: "paper", Fill: drawing.Ink{R: 255, G: 255, B: 255, A: 225}}, Rect: t.Bounds()})
				}
			}
		}
		list = append(list, labels)
	}
	return list
}

func lastOf(list []drawing.Value) (drawing.Value, bool) {
	for _, v := range slices.Backward(list) {
		if !math.IsNaN(v.Y) {
			return v, true
		}
	}
	return drawing.Value{}, false
}

// parts cuts a band where it isn't known, so that nothing is filled across a gap.
func parts(low, high []drawing.Value) []series {
	var list []series
	var now series
	flush := func() {
		if len(now.high) > 0 {
			list = append(list, now)
		}
		now = series{}
	}
	for i := range low {
		if math.IsNaN(low[i].Y) || math.IsNaN(high[i].Y) {
			flush()
			continue
		}
		now.low, now.high = append(now.low, low[i]), append(now.high, high[i])
	}
	flush()
	return list
}
