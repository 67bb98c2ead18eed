package strip_test

import (
	"fmt"
	"math"
	"os"
	"strings"
	"testing"

	"feederwright/drawing"
	"feederwright/profile"
	"feederwright/review"
	"feederwright/strip"
	"feederwright/study"

	"pgregory.net/rapid"
)

// velmora is the profile of a path through the demonstration.
func velmora(t *testing.T, to, condition string) *profile.Profile {
	t.Helper()
	doc, ds := study.Read(os.DirFS("../examples/velmora"), "study.yaml")
	if len(ds) > 0 {
		t.Fatal(ds)
	}
	states, ds := doc.States()
	if len(ds) > 0 {
		t.Fatal(ds)
	}
	if condition != "" {
		var err error
		if states, err = study.Select(states, condition); err != nil {
			t.Fatal(err)
		}
	}
	r, err := review.Open(doc, states)
	if err != nil {
		t.Fatal(err)
	}
	flows, err := r.Flows()
	if err != nil {
		t.Fatal(err)
	}
	p, err := profile.Of(r, flows, profile.Options{To: to, Between: 4})
	if err != nil {
		t.Fatal(err)
	}
	return p
}

var miles = strip.Options{Title: "Velmora", Unit: "mi", Metre: 1609.344, Low: 0.9, High: 1.1}

// texts are all texts of a page.
func texts(p *drawing.Page) []drawing.Text {
	var list []drawing.Text
	drawing.Walk(p.Elements, func(e drawing.Element) {
		if t, ok := e.(drawing.Text); ok {
			list = append(list, t)
		}
	})
	return list
}

// faulty says which texts leave the page or lie over another.
func faulty(p *drawing.Page) []string {
	var list []string
	sheet := drawing.Rect{W: p.Width, H: p.Height}
	all := texts(p)
	for i, a := range all {
		if !sheet.Contains(a.Bounds()) {
			list = append(list, fmt.Sprintf("%q leaves the page", a.Text))
		}
		for _, b := range all[:i] {
			if a.Bounds().Inset(0.25).Overlaps(b.Bounds().Inset(0.25)) {
				list = append(list, fmt.Sprintf("%q lies over %q", a.Text, b.Text))
			}
		}
	}
	return list
}

func TestVelmora(t *testing.T) {
	for _, to := range []string{"N7", "L1-end", "L2-end", "L3-end", "Q1"} {
		for _, impedance := range []bool{false, true} {
			p := velmora(t, to, "")
			o := miles
			o.Impedance = impedance
			page, err := strip.Draw(p, o)
			if err != nil {
				t.Fatal(err)
			}
			for _, f := range faulty(page) {
				t.Errorf("to %s, impedance %v: %s", to, impedance, f)
			}
			words := map[string]bool{}
			for _, x := range texts(page) {
				words[x.Text] = true
			}
			for _, want := range []string{to, "Fault current", "X/R", "Voltage", "Load current", "three-phase", "line-to-earth", "limit 90", "limit 110"} {
				if !words[want] {
					t.Errorf("to %s: no text %q", to, want)
				}
			}
			if svg := string(drawing.SVG(page)); !strings.Contains(svg, "line-to-earth") || strings.Contains(svg, "NaN") {
				t.Errorf("to %s: the SVG is wrong", to)
			}
		}
	}
}

// The curve of the largest three-phase current goes through the place of the value at the end of the path.
func TestCurveEnds(t *testing.T) {
	p := velmora(t, "N7", "maximum, normal, no plant")
	page, err := strip.Draw(p, miles)
	if err != nil {
		t.Fatal(err)
	}
	var found *drawing.Line
	drawing.Walk(page.Elements, func(e drawing.Element) {
		if g, ok := e.(drawing.Group); ok && g.Title == "most three-phase" {
			l := g.Elements[0].(drawing.Line)
			found = &l
		}
	})
	if found == nil {
		t.Fatal("no curve of the three-phase current")
	}
	// The axis runs from 200 to 10000 A over 44 mm; 7453 A at N0 and 739 A at N7 are the demonstration's check values.
	first, last := found.Points[0], found.Points[len(found.Points)-1]
	if got, want := last.Y-first.Y, 44*math.Log(7453.0/739)/math.Log(10000.0/200); math.Abs(got-want) > 0.02 {
		t.Errorf("the curve falls by %.3f mm, want %.3f", got, want)
	}
	// Along the axis N3 lies at 3.05 of 10.85 miles.
	n3 := found.Points[0]
	for i, pt := range p.Points[1:] {
		if pt.Place == "N3" {
			n3 = found.Points[i]
		}
	}
	if got, want := (n3.X-first.X)/(last.X-first.X), 3.05/10.85; math.Abs(got-want) > 1e-3 {
		t.Errorf("N3 stands at %.4f of the axis, want %.4f", got, want)
	}
}

func TestRefusals(t *testing.T) {
	if _, err := strip.Draw(&profile.Profile{}, miles); err == nil {
		t.Error("an empty profile was drawn")
	}
	p := velmora(t, "N7", "maximum, normal, no plant")
	if _, err := strip.Draw(p, strip.Options{}); err == nil {
		t.Error("a strip without a unit was drawn")
	}
}

// Any path: no text leaves the page or lies over another, nothing panics, however close or far the places are, and
// whatever is unknown.
func TestAnyProfile(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		n := rapid.IntRange(2, 40).Draw(r, "places")
		p := &profile.Profile{To: "END", Kinds: []string{"3ph", "ll", "ll-g", "lg"}, Conditions: []string{"a", "b"}}
		at, nominal := 0.0, 115e3
		value := func(name string, least, most float64) profile.Band {
			if rapid.IntRange(0, 9).Draw(r, name+" known") == 0 {
				return profile.Band{}
			}
			a := rapid.Float64Range(least, most).Draw(r, name)
			return profile.Band{Known: true, Least: a * rapid.Float64Range(0.1, 1).Draw(r, name+" least"), Most: a}
		}
		for i := range n {
			pt := profile.Point{Place: fmt.Sprintf("BUS-%d", i), Bus: rapid.IntRange(0, 3).Draw(r, "bus") > 0, Nominal: nominal}
			if i > 0 {
				pt.Branch, pt.Kind = fmt.Sprintf("L%d", i), "line"
				if rapid.IntRange(0, 6).Draw(r, "transformer") == 0 {
					pt.Kind, nominal = "transformer", nominal/9
					pt.Nominal = nominal
				} else {
					at += rapid.SampledFrom([]float64{0, 1, 40, 300, 2000, 9000}).Draw(r, "length")
				}
				if rapid.IntRange(0, 3).Draw(r, "device") == 0 {
					pt.Devices = []string{fmt.Sprintf("CB-%d", i)}
				}
			}
			pt.Distance, pt.Impedance = at, complex(at/1000, at/500)
			for range p.Kinds {
				pt.Faults = append(pt.Faults, value("fault", 1, 20e3))
			}
			pt.XR = profile.Value{Known: true, V: rapid.Float64Range(0.1, 30).Draw(r, "x/r")}
			pt.Voltage, pt.Load = value("voltage", 0.5, 1.2), value("load", 0.1, 600)
			p.Points = append(p.Points, pt)
		}
		p.From = p.Points[0].Place
		o := strip.Options{Unit: "km", Metre: 1000, Impedance: rapid.Bool().Draw(r, "impedance"), Low: 0.9, High: 1.1,
			Width: rapid.SampledFrom([]float64{0, 176, 400}).Draw(r, "width"), Height: rapid.SampledFrom([]float64{0, 120, 180}).Draw(r, "height")}
		page, err := strip.Draw(p, o)
		if err != nil {
			r.Fatal(err)
		}
		if f := faulty(page); len(f) > 0 {
			r.Fatalf("%s", strings.Join(f, "\n"))
		}
	})
}
