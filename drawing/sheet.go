package drawing

import (
	"fmt"
	"strings"
)

// A Paper is a size of paper, upright.
type Paper struct {
	Name          string
	Width, Height float64 // mm
}

// Papers are the sizes known by name.
//
// Source: ISO 216:2007 (A series); ANSI/ASME Y14.1 sizes A and B, 8.5 by 11
// and 11 by 17 inch [from memory].
var Papers = []Paper{
	{"A4", 210, 297},
	{"A3", 297, 420},
	{"Letter", 215.9, 279.4},
	{"Tabloid", 279.4, 431.8},
}

// PaperNamed finds a size by its name, in any case of letters.
func PaperNamed(name string) (Paper, bool) {
	for _, p := range Papers {
		if strings.EqualFold(p.Name, name) {
			return p, true
		}
	}
	return Paper{}, false
}

// Landscape returns the paper on its side.
func (p Paper) Landscape() Paper { return Paper{p.Name, p.Height, p.Width} }

// A TitleBlock is what stands at the foot of a sheet.
type TitleBlock struct {
	Title     string // the study
	Subject   string // what the sheet shows
	Condition string
	Date      string
	Revision  string // revision, or the seal of the contents
	Notes     []string
	Sheet, Of int
}

// Margins of a sheet: the frame stands this far from the edge, and further on
// the side where it is bound.
const (
	edgeMargin  = 8
	boundMargin = 16
	blockHeight = 15
	noteSize    = 2.2
)

// Area is what a sheet leaves for its contents: within the frame, above the
// title block and notes.
func (b TitleBlock) Area(paper Paper) Rect {
	r := Rect{boundMargin, edgeMargin, paper.Width - boundMargin - edgeMargin, paper.Height - 2*edgeMargin - blockHeight}
	if n := len(b.noteLines(paper)); n > 0 {
		r.H -= float64(n)*noteSize*LineHeight + 3
	}
	return r.Inset(3)
}

func (b TitleBlock) noteLines(paper Paper) []string {
	var lines []string
	for _, n := range b.Notes {
		lines = append(lines, Wrap(n, noteSize, false, paper.Width-boundMargin-edgeMargin-8)...)
	}
	return lines
}

// Page makes a sheet with its frame and title block.
func (b TitleBlock) Page(paper Paper) *Page {
	title := b.Title
	if b.Subject != "" {
		title += ": " + b.Subject
	}
	if b.Of > 1 {
		title += fmt.Sprintf(", sheet %d of %d", b.Sheet, b.Of)
	}
	p := &Page{Width: paper.Width, Height: paper.Height, Title: title}
	frame := Rect{boundMargin, edgeMargin, paper.Width - boundMargin - edgeMargin, paper.Height - 2*edgeMargin}
	rule := Style{Class: "frame", Stroke: Black, Width: 0.35}
	thin := Style{Class: "frame", Stroke: Black, Width: 0.18}
	g := Group{ID: "title-block", Class: "title-block"}
	top := frame.Bottom() - blockHeight
	g.Elements = append(g.Elements, Box{rule, frame}, Line{Style: rule, Points: []Point{{frame.X, top}, {frame.Right(), top}}})

	// Cells by weight; the first two take what the fixed ones leave.
	cells := []struct {
		head, text string
		width      float64
		big        bool
	}{
		{"study", b.Title, 0, true},
		{"condition", b.Condition, 0, false},
		{"date", b.Date, 24, false},
		{"revision", b.Revision, 26, false},
		{"sheet", fmt.Sprintf("%d of %d", max(1, b.Sheet), max(1, b.Of)), 18, false},
	}
	left := frame.W
	for _, c := range cells {
		left -= c.width
	}
	cells[0].width, cells[1].width = left*0.55, left*0.45
	x := frame.X
	for i, c := range cells {
		if i > 0 {
			g.Elements = append(g.Elements, Line{Style: thin, Points: []Point{{x, top}, {x, frame.Bottom()}}})
		}
		g.Elements = append(g.Elements, Text{Class: "head", At: Point{x + 2, top + 3.4}, Size: 2.2, Ink: Grey(0.3), Text: c.head})
		switch {
		case c.big:
			g.Elements = append(g.Elements,
				Text{At: Point{x + 2, top + 8.6}, Size: 4, Bold: true, Text: Fit(c.text, 4, true, c.width-4)},
				Text{At: Point{x + 2, top + 12.8}, Size: 3, Text: Fit(b.Subject, 3, false, c.width-4)})
		default:
			for j, line := range Wrap(c.text, 2.8, false, c.width-4) {
				if j == 3 {
					break
				}
				g.Elements = append(g.Elements, Text{At: Point{x + 2, top + 7.2 + 3.2*float64(j)}, Size: 2.8, Text: Fit(line, 2.8, false, c.width-4)})
			}
		}
		x += c.width
	}
	lines := b.noteLines(paper)
	for i, n := range lines {
		y := top - 2 - float64(len(lines)-1-i)*noteSize*LineHeight
		g.Elements = append(g.Elements, Text{Class: "note", At: Point{frame.X + 3, y}, Size: noteSize, Text: n})
	}
	p.Add(g)
	return p
}
