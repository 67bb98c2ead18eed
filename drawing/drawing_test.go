package drawing

import (
	"bytes"
	"encoding/xml"
	"image/png"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// texts reads an SVG as XML and returns what its text elements say.
func texts(t testing.TB, svg []byte) []string {
	t.Helper()
	var list []string
	inside := false
	for d := xml.NewDecoder(bytes.NewReader(svg)); ; {
		token, err := d.Token()
		if err == io.EOF {
			return list
		}
		if err != nil {
			t.Fatalf("not well-formed XML: %v\n%.2000s", err, svg)
		}
		switch token := token.(type) {
		case xml.StartElement:
			switch token.Name.Local {
			case "script", "foreignObject", "image", "use":
				t.Fatalf("an element %s: a drawing must not load or run anything", token.Name.Local)
			case "text":
				inside = true
				list = append(list, "")
			}
			for _, a := range token.Attr {
				if strings.HasPrefix(strings.ToLower(a.Name.Local), "on") {
					t.Fatalf("an attribute %s: a drawing must not run anything", a.Name.Local)
				}
				if a.Name.Local == "href" && safeLink(a.Value) == "" {
					t.Fatalf("a link to %q", a.Value)
				}
			}
		case xml.EndElement:
			inside = inside && token.Name.Local != "text"
		case xml.CharData:
			if inside {
				list[len(list)-1] += string(token)
			}
		}
	}
}

var hostile = []string{"T1 & T2", `<script>alert("1")</script>`, "]]>", "Ω ∠30° Δ ≥", "\x00\x1f\ufffe", "日本 😀", "a\tb\nc", "\xff\xfe", "' onload='x", "javascript:alert(1)", "#x", "https://example.org/?a=1&b=\"2\"", "(\\)", ") Tj"}

func named(s string) *Page {
	p := &Page{Width: 50, Height: 20, Title: s, Desc: s}
	p.Add(Group{ID: s, Class: s, Title: s, Desc: s, Link: s, Elements: []Element{
		Text{Class: s, At: Point{5, 10}, Size: 3, Text: s},
		Line{Style: Style{Class: s, Stroke: Black, Width: 0.3}, Points: []Point{{0, 0}, {5, 5}}},
	}})
	return p
}

// FuzzText: whatever a name is, the SVG is well-formed and inert, and says
// the name with what can't be shown replaced.
func FuzzText(f *testing.F) {
	for _, s := range hostile {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		got := texts(t, SVG(named(s)))
		if s == "" {
			return
		}
		if want := printable(s); len(got) != 1 || got[0] != want {
			t.Fatalf("%q is written as %q, want %q", s, got, want)
		}
		if w := TextWidth(s, 3, false); !(w >= 0) || math.IsInf(w, 0) {
			t.Fatalf("%q has width %g", s, w)
		}
	})
}

// TestHostileText: the other formats take any name as well.
func TestHostileText(t *testing.T) {
	for _, s := range hostile {
		if _, err := PDF([]*Page{named(s)}, s); err != nil {
			t.Errorf("%q: %v", s, err)
		}
		if _, err := PNG(named(s), 40); err != nil {
			t.Errorf("%q: %v", s, err)
		}
	}
}

func TestPNGSize(t *testing.T) {
	data, err := PNG(sample(), 100)
	if err != nil {
		t.Fatal(err)
	}
	img, err := png.Decode(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	// By hand: 297 mm and 210 mm at 100 pixels per 25.4 mm are 1169.3 and 826.8, rounded up.
	if b := img.Bounds(); b.Dx() != 1170 || b.Dy() != 827 {
		t.Errorf("A4 at 100 pixels per inch is %d by %d pixels, want 1170 by 827", b.Dx(), b.Dy())
	}
	if _, err := PNG(&Page{Width: 1e6, Height: 1e6}, 300); err == nil {
		t.Error("a picture larger than any memory is not refused")
	}
	if _, err := PNG(&Page{}, 100); err == nil {
		t.Error("a picture of no size is not refused")
	}
}

// TestInk: strokes, fills and dashes cover what geometry says (derived).
func TestInk(t *testing.T) {
	black := Style{Stroke: Black, Width: 1}
	for _, tt := range []struct {
		what string
		e    Element
		want float64 // mm² of black
	}{
		{"a line 20 mm long, 1 mm wide, with ends half a width longer", Line{Style: black, Points: []Point{{5, 10}, {25, 10}}}, 21},
		{"a line at 45 degrees", Line{Style: black, Points: []Point{{5, 5}, {25, 25}}}, 20*math.Sqrt2 + 1},
		{"a square outline of 10 mm", Box{black, Rect{10, 10, 10, 10}}, 11*11 - 9*9},
		{"a filled box", Box{Style{Fill: Black}, Rect{10, 10, 10, 10}}, 100},
		{"a disc of radius 8 mm", Circle{Style{Fill: Black}, Point{20, 20}, 8}, math.Pi * 64},
		{"a ring of radius 8 mm, 1 mm wide", Circle{black, Point{20, 20}, 8}, math.Pi * (8.5*8.5 - 7.5*7.5)},
		{"dashes of 2 mm with gaps of 1 mm over 30 mm", Line{Style: Style{Stroke: Black, Width: 1, Dash: []float64{2, 1}}, Points: []Point{{5, 10}, {35, 10}}}, 20},
		{"a box of which a quarter is clipped away", Group{Clip: &Rect{10, 10, 7.5, 10}, Elements: []Element{Box{Style{Fill: Black}, Rect{10, 10, 10, 10}}}}, 75},
	} {
		img, err := Image(&Page{Width: 40, Height: 40, Elements: []Element{tt.e}}, 254)
		if err != nil {
			t.Fatal(err)
		}
		sum := 0.0
		for i := 0; i < len(img.Pix); i += 4 {
			sum += 1 - float64(img.Pix[i])/255
		}
		// 254 pixels per inch are 100 in a mm². Curves are polygons of steps of 3
		// degrees, which lose 1 − sin(3°)/3° = 0.05 %; 0.5 % also holds rounding to 255 levels.
		if got := sum / 100; math.Abs(got-tt.want) > 0.005*tt.want {
			t.Errorf("%s covers %.2f mm², want %.2f (derived)", tt.what, got, tt.want)
		}
	}
}

func poppler(t *testing.T, program string) {
	t.Helper()
	if _, err := exec.LookPath(program); err != nil {
		t.Skipf("needs %s, of the Debian package poppler-utils", program)
	}
}

// TestPDFText reads a PDF back with another program: it finds the text, and
// every word is as long as it was measured.
func TestPDFText(t *testing.T) {
	poppler(t, "pdftotext")
	words := []string{"Velmora", "52-11", "MAIN-F1P10L1", "Ω∠30°", "x″d≥≤Δ", "Korrigate"}
	p := &Page{Width: 100, Height: 100, Title: "words"}
	for i, w := range words {
		p.Add(Text{At: Point{10, 10 + 10*float64(i)}, Size: 4, Bold: i%2 == 1, Text: w})
	}
	data, err := PDF([]*Page{p, sample()}, "2026-03-02")
	if err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(t.TempDir(), "x.pdf")
	if err := os.WriteFile(file, data, 0o644); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command("pdftotext", "-bbox", file, "-").Output()
	if err != nil {
		t.Fatal(err)
	}
	type word struct {
		XMin float64 `xml:"xMin,attr"`
		XMax float64 `xml:"xMax,attr"`
		Text string  `xml:",chardata"`
	}
	var doc struct {
		Pages []struct {
			Words []word `xml:"word"`
		} `xml:"body>doc>page"`
	}
	if err := xml.Unmarshal(out, &doc); err != nil {
		t.Fatal(err)
	}
	if len(doc.Pages) != 2 {
		t.Fatalf("%d pages, want 2", len(doc.Pages))
	}
	found := make(map[string]word)
	for _, w := range doc.Pages[0].Words {
		found[w.Text] = w
	}
	for i, w := range words {
		got, ok := found[w]
		if !ok {
			t.Errorf("%q is not found in the PDF", w)
			continue
		}
		// The PDF rounds each advance to a thousandth of the size: 0.004 mm a character.
		want := TextWidth(w, 4, i%2 == 1)
		if length := (got.XMax - got.XMin) / pointsPerMM; math.Abs(length-want) > 0.004*float64(len([]rune(w)))+0.01 {
			t.Errorf("%q is %.3f mm long in the PDF, want %.3f mm as measured", w, length, want)
		}
	}
	var all []string
	for _, w := range doc.Pages[1].Words {
		all = append(all, w.Text)
	}
	for _, w := range []string{"<study>", "Assumed:", "condition", "2026-03-02"} {
		if !strings.Contains(strings.Join(all, " "), w) {
			t.Errorf("%q is not found on the second page", w)
		}
	}
}

// TestPDFShapes: another program draws the PDF as we draw the PNG.
func TestPDFShapes(t *testing.T) {
	poppler(t, "pdftoppm")
	p := sample()
	data, err := PDF([]*Page{p}, "")
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "x.pdf"), data, 0o644); err != nil {
		t.Fatal(err)
	}
	if out, err := exec.Command("pdftoppm", "-r", "100", "-png", "-singlefile", filepath.Join(dir, "x.pdf"), filepath.Join(dir, "x")).CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	file, err := os.ReadFile(filepath.Join(dir, "x.png"))
	if err != nil {
		t.Fatal(err)
	}
	theirs, err := png.Decode(bytes.NewReader(file))
	if err != nil {
		t.Fatal(err)
	}
	ours, err := Image(p, 100)
	if err != nil {
		t.Fatal(err)
	}
	// Darkness summed over blocks of 10 by 10 pixels: hinting and smoothing
	// differ within a block, so the means over many blocks are compared.
	var diff, sum float64
	for y := 0; y+10 <= 820; y += 10 {
		for x := 0; x+10 <= 1160; x += 10 {
			var a, b float64
			for dy := range 10 {
				for dx := range 10 {
					r, g, bl, _ := theirs.At(x+dx, y+dy).RGBA()
					a += 3 - float64(r+g+bl)/0xffff
					r, g, bl, _ = ours.At(x+dx, y+dy).RGBA()
					b += 3 - float64(r+g+bl)/0xffff
				}
			}
			diff += math.Abs(a - b)
			sum += a
		}
	}
	// Thin lines are drawn a pixel wide by one program and fainter by the other;
	// a missing shape or misplaced text gives several times this.
	if sum == 0 || diff/sum > 0.25 {
		t.Errorf("the PDF as drawn by another program differs from the PNG by %.0f %% of its ink", 100*diff/sum)
	}
}

func TestSameBytes(t *testing.T) {
	a, err := PDF([]*Page{sample()}, "2026-03-02")
	if err != nil {
		t.Fatal(err)
	}
	b, _ := PDF([]*Page{sample()}, "2026-03-02")
	if !bytes.Equal(a, b) {
		t.Error("the same page gives another PDF")
	}
	if !bytes.Contains(a, []byte("D:20260302")) {
		t.Error("the PDF does not carry the date given")
	}
	if _, err := PDF(nil, ""); err == nil {
		t.Error("a PDF without pages is not refused")
	}
}

// TestTextWidth: widths scale with the size, and add up. That they are right
// shows TestPDFText.
func TestTextWidth(t *testing.T) {
	if w := TextWidth("", 3, false); w != 0 {
		t.Errorf("no text is %g mm long", w)
	}
	rapid.Check(t, func(t *rapid.T) {
		a := rapid.StringMatching(`[ -~]{0,20}`).Draw(t, "a")
		b := rapid.StringMatching(`[ -~]{0,20}`).Draw(t, "b")
		size := rapid.Float64Range(1, 20).Draw(t, "size")
		sum := TextWidth(a, size, false) + TextWidth(b, size, false)
		if got := TextWidth(a+b, size, false); math.Abs(got-sum) > 1e-9*(1+sum) {
			t.Errorf("%q and %q are %g mm long together, %g apart", a, b, got, sum)
		}
		if twice := TextWidth(a, 2*size, false); math.Abs(twice-2*TextWidth(a, size, false)) > 1e-9*(1+twice) {
			t.Errorf("%q is %g mm long at twice the size", a, twice)
		}
		if f := Fit(a, size, false, 30); f != "…" && TextWidth(f, size, false) > 30 {
			t.Errorf("%q fitted to 30 mm is %g mm long", a, TextWidth(f, size, false))
		}
		if joined := strings.Join(Wrap(a, size, false, 30), " "); joined != strings.Join(strings.Fields(a), " ") {
			t.Errorf("%q wrapped says %q", a, joined)
		}
	})
}

func TestTicks(t *testing.T) {
	labels := func(a Axis, count int) string {
		var list []string
		for _, tick := range a.Ticks(count) {
			if tick.Label != "" {
				list = append(list, tick.Label)
			}
		}
		return strings.Join(list, " ")
	}
	for _, tt := range []struct {
		axis  Axis
		count int
		want  string // by hand, from the rule in the comment of Ticks
	}{
		{Axis{Min: 0, Max: 10}, 5, "0 2 4 6 8 10"},
		{Axis{Min: 0, Max: 1}, 5, "0 0.2 0.4 0.6 0.8 1"},
		{Axis{Min: -0.3, Max: 0.3}, 6, "-0.3 -0.2 -0.1 0 0.1 0.2 0.3"},
		{Axis{Min: 3.2, Max: 11.7}, 3, "5 10"},
		{Axis{Min: 0, Max: 250000}, 5, "0 50000 100000 150000 200000 250000"},
		{Axis{Min: 10, Max: 10000, Log: true}, 5, "10 100 1000 10000"},
		{Axis{Min: 0.5, Max: 50, Log: true}, 5, "0.5 1 2 5 10 20 50"},
		{Axis{Min: 0, Max: 50, Log: true}, 5, ""},
		{Axis{Min: 5, Max: 5}, 5, ""},
		{Axis{Min: math.NaN(), Max: 5}, 5, ""},
		{Axis{Min: 0, Max: math.Inf(1)}, 5, ""},
	} {
		if got := labels(tt.axis, tt.count); got != tt.want {
			t.Errorf("%+v with %d: %q, want %q", tt.axis, tt.count, got, tt.want)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		a := Axis{Min: rapid.Float64Range(-1e6, 1e6).Draw(t, "min")}
		a.Max = a.Min + math.Pow(10, rapid.Float64Range(-3, 7).Draw(t, "decades"))
		last := math.Inf(-1)
		for _, tick := range a.Ticks(rapid.IntRange(1, 20).Draw(t, "count")) {
			span := a.Max - a.Min
			if tick.Value < a.Min-1e-6*span || tick.Value > a.Max+1e-6*span || tick.Value <= last {
				t.Fatalf("a tick at %g, after %g, on an axis from %g to %g", tick.Value, last, a.Min, a.Max)
			}
			last = tick.Value
		}
	})
}

// TestPlotLabels: no text of a plot's axes, and none of the labels at curves,
// lies over another.
func TestPlotLabels(t *testing.T) {
	overlap := func(t *rapid.T, g Group) {
		var boxes []Rect
		var what []string
		Walk(g.Elements, func(e Element) {
			if x, ok := e.(Text); ok {
				for i, b := range boxes {
					if b.Inset(0.01).Overlaps(x.Bounds().Inset(0.01)) {
						t.Errorf("%q lies over %q", x.Text, what[i])
					}
				}
				boxes, what = append(boxes, x.Bounds()), append(what, x.Text)
			}
		})
	}
	rapid.Check(t, func(t *rapid.T) {
		axis := func(name string) Axis {
			log := rapid.Bool().Draw(t, name+" logarithmic")
			a := Axis{Log: log, Label: name, Min: math.Pow(10, rapid.Float64Range(-3, 3).Draw(t, name))}
			a.Max = a.Min * math.Pow(10, rapid.Float64Range(0.1, 6).Draw(t, name+" decades"))
			return a
		}
		p := NewPlot(Rect{10, 10, rapid.Float64Range(40, 300).Draw(t, "width"), rapid.Float64Range(30, 200).Draw(t, "height")}, axis("current, A"), axis("time, s"))
		overlap(t, p.Frame())
		var marks []Mark
		for range rapid.IntRange(0, 8).Draw(t, "marks") {
			marks = append(marks, Mark{Point{50, rapid.Float64Range(p.Area.Y, p.Area.Bottom()).Draw(t, "y")}, "curve"})
		}
		if TextHeight(2.5)*float64(len(marks)) < p.Area.H {
			overlap(t, Labels(marks, 2.5, p.Area))
		}
	})
}

// TestPlotAt: a value stands where its axis says (derived).
func TestPlotAt(t *testing.T) {
	p := Plot{Area: Rect{10, 20, 90, 60}, X: Axis{Min: 10, Max: 10000, Log: true}, Y: Axis{Min: 0, Max: 6}}
	for _, tt := range []struct {
		x, y float64
		want Point
	}{{10, 0, Point{10, 80}}, {100, 6, Point{40, 20}}, {10000, 3, Point{100, 50}}, {math.Sqrt(1e5), 1.5, Point{55, 65}}} {
		if got := p.At(tt.x, tt.y); math.Hypot(got.X-tt.want.X, got.Y-tt.want.Y) > 1e-9 {
			t.Errorf("(%g, %g) stands at %v, want %v (by hand)", tt.x, tt.y, got, tt.want)
		}
	}
	// Where a value can't be placed, the curve has a gap.
	g := p.Curve("c", []Value{{10, 1}, {20, 1}, {0, 1}, {30, 1}, {40, math.NaN()}, {50, 1}, {60, 1}, {70, math.Inf(1)}}, LineStyle(0))
	if len(g.Elements) != 2 {
		t.Errorf("a curve with values that can't be placed has %d parts, want 2", len(g.Elements))
	}
}

// TestGrey: line styles differ without their colour.
func TestGrey(t *testing.T) {
	seen := make(map[string]int)
	for n := range 8 {
		s := LineStyle(n)
		s.Stroke, s.Class = Black, ""
		look := s.attributes()
		if other, ok := seen[look]; ok {
			t.Errorf("series %d and %d look alike in grey", other, n)
		}
		seen[look] = n
	}
	if LineStyle(-1).Class == "" || LineStyle(100).Class == "" {
		t.Error("numbers beyond the styles have none")
	}
}

// TestMoveAndScale: bounds follow.
func TestMoveAndScale(t *testing.T) {
	p := sample()
	for _, e := range p.Elements {
		b := e.Bounds()
		if got, want := Move(e, Point{3, -2}).Bounds(), b.Moved(Point{3, -2}); !near(got, want) {
			t.Errorf("%T moved has bounds %v, want %v", e, got, want)
		}
		if got, want := ScaleAll([]Element{e}, 2)[0].Bounds(), b.Scaled(2); !near(got, want) {
			t.Errorf("%T scaled has bounds %v, want %v", e, got, want)
		}
	}
	for _, name := range []string{"A4", "a3", "letter", "TABLOID"} {
		if _, ok := PaperNamed(name); !ok {
			t.Errorf("no paper %s", name)
		}
	}
	for _, paper := range Papers {
		block := TitleBlock{Title: strings.Repeat("A very long title ", 20), Subject: strings.Repeat("subject ", 40), Condition: strings.Repeat("condition ", 40), Notes: []string{strings.Repeat("note ", 100)}}
		for _, q := range []Paper{paper, paper.Landscape()} {
			page := block.Page(q)
			sheet := Rect{0, 0, q.Width, q.Height}
			for _, e := range page.Elements {
				if !sheet.Contains(e.Bounds()) {
					t.Errorf("on %s a long title runs off the sheet: %v", q.Name, e.Bounds())
				}
			}
			if area := block.Area(q); area.W < 100 || area.H < 100 {
				t.Errorf("%s leaves %v", q.Name, area)
			}
		}
	}
}

func near(a, b Rect) bool {
	return math.Abs(a.X-b.X)+math.Abs(a.Y-b.Y)+math.Abs(a.W-b.W)+math.Abs(a.H-b.H) < 1e-9
}
