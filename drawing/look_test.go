package drawing

import (
	"math"
	"os"
	"testing"
)

// sample is a sheet with everything that a page can hold.
func sample() *Page {
	paper, _ := PaperNamed("A4")
	block := TitleBlock{Title: "Sample & <study>", Subject: "all shapes", Condition: "maximum, normal, no plant", Date: "2026-03-02", Revision: "ab12cd34", Sheet: 1, Of: 1, Notes: []string{"Assumed: x/r of T1."}}
	page := block.Page(paper.Landscape())
	area := block.Area(paper.Landscape())
	p := NewPlot(Rect{area.X, area.Y, area.W / 2, area.H / 2}, Axis{Min: 10, Max: 1e4, Log: true, Label: "current, A"}, Axis{Min: 0.01, Max: 100, Log: true, Label: "time, s"})
	page.Add(p.Frame())
	var marks []Mark
	for n := range 4 {
		var vs []Value
		for i := range 60 {
			m := math.Pow(10, 0.02+float64(i)/25)
			vs = append(vs, Value{100 * m, float64(n+1) * 0.14 / (math.Pow(m, 0.02) - 1)})
		}
		page.Add(p.Curve("curve", vs, LineStyle(n)))
		marks = append(marks, Mark{Point{p.Area.Right() - 20, p.Area.Bottom() - 20}, "curve Ω"})
	}
	page.Add(Labels(marks, 2.5, p.Area))
	q := NewPlot(Rect{area.X + area.W/2, area.Y, area.W / 2, area.H / 2}, Axis{Min: 0, Max: 12.3, Label: "distance, km"}, Axis{Min: 0, Max: 7.7, Label: "current, kA"})
	page.Add(q.Frame(), q.Band("band", []Value{{0, 4}, {6, 2}, {12.3, 1}}, []Value{{0, 7}, {6, 3}, {12.3, 1.5}}, Style{Fill: Ink{0, 90, 160, 70}}))
	page.Add(Legend(Point{q.Area.X + 50, q.Area.Y + 5}, 2.5, []string{"one", "two", "three", "four", "five", "six", "seven", "eight"}, []Style{LineStyle(0), LineStyle(1), LineStyle(2), LineStyle(3), LineStyle(4), LineStyle(5), LineStyle(6), LineStyle(7)}))
	y := area.Y + area.H*0.6
	ink := Style{Stroke: Black, Width: 0.5}
	page.Add(Group{ID: "shapes", Title: "shapes", Link: "https://example.org/", Elements: []Element{
		Circle{Style{Stroke: Black, Width: 0.3, Fill: Grey(0.8)}, Point{40, y + 10}, 8},
		Arc{ink, Point{60, y + 10}, 8, 0, 90},
		Arc{ink, Point{80, y + 10}, 8, 0, -270},
		Box{Style{Stroke: Black, Width: 1}, Rect{95, y, 12, 12}},
		Line{Style: Style{Stroke: Black, Width: 0.4, Dash: []float64{2, 1}}, Points: []Point{{115, y}, {130, y}, {130, y + 15}}},
	}})
	for i, angle := range []float64{0, 45, 90, 180} {
		page.Add(Text{At: Point{150 + 25*float64(i), y + 10}, Size: 3, Rotate: angle, Anchor: Anchor(i % 3), Text: "Ω ∠30° Δ ≥ 1.5"})
		page.Add(Circle{ink, Point{150 + 25*float64(i), y + 10}, 0.5})
	}
	return page
}

func TestLook(t *testing.T) {
	dir := os.Getenv("LOOK")
	if dir == "" {
		t.Skip("set LOOK to a folder")
	}
	p := sample()
	png, err := PNG(p, 110)
	if err != nil {
		t.Fatal(err)
	}
	pdf, err := PDF([]*Page{p}, "2026-03-02")
	if err != nil {
		t.Fatal(err)
	}
	os.WriteFile(dir+"/sample.png", png, 0o644)
	os.WriteFile(dir+"/sample.pdf", pdf, 0o644)
	os.WriteFile(dir+"/sample.svg", SVG(p), 0o644)
}
