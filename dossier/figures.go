package dossier

import (
	"fmt"
	"slices"
	"strings"

	"codeberg.org/go-pdf/fpdf"

	"feederwright/drawing"
	"feederwright/fault"
	"feederwright/oneline"
)

// A sheet is a page of package drawing as a figure.
type sheet struct{ page *drawing.Page }

func (s sheet) Size() (width, height float64)           { return s.page.Width, s.page.Height }
func (s sheet) SVG() []byte                             { return drawing.SVG(s.page) }
func (s sheet) PDF(doc *fpdf.Fpdf, x, y, scale float64) { drawing.PlaceInPDF(doc, s.page, x, y, scale) }

// leastScale is the smallest scale at which a diagram's lettering, 2 to 2.5 mm
// high, still reads.
const leastScale = 0.62

// oneLine draws the station as written, with fault levels at the buses: as one
// figure where it reads at that size, else as sheets.
func oneLine(in *Input) ([]Block, error) {
	if len(in.Doc.Buses.Entries) == 0 {
		return nil, nil
	}
	s := in.sweep
	levels := map[string]oneline.Level{}
	for p, name := range s.places {
		var l oneline.Level
		for _, typ := range []fault.Type{fault.ThreePhase, fault.LineEarth} {
			x, y, why := s.extremes(p, slices.Index(s.types, typ))
			var span *oneline.Range
			if x.exists {
				span = &oneline.Range{Max: x.current, Min: y.current}
			} else if why != "" {
				l.Note = typ.String() + " not known"
			}
			if typ == fault.ThreePhase {
				l.ThreePhase = span
			} else {
				l.Ground = span
			}
		}
		levels[name] = l
	}
	o := oneline.Options{Levels: levels, Date: in.Date}
	d, err := oneline.Draw(in.Doc, oneline.AsWritten(in.Doc), o)
	if err != nil {
		return nil, err
	}
	// What A4 and Letter both have room for.
	width, height := min(A4.width, Letter.width)-2*sideEdge, min(A4.height, Letter.height)-topEdge-lowEdge-figureRoom
	if len(d.Pages) != 1 || min(width/d.Pages[0].Width, height/d.Pages[0].Height) < leastScale {
		o.Paper = drawing.Paper{Name: "page", Width: width / leastScale, Height: height / leastScale}
		if d, err = oneline.Draw(in.Doc, oneline.AsWritten(in.Doc), o); err != nil {
			return nil, err
		}
	}
	var blocks []Block
	for i, p := range d.Pages {
		caption := "One-line diagram with devices as normal. At the buses: largest–smallest bolted currents over the conditions of this dossier, symmetrical r.m.s."
		if len(d.Pages) > 1 {
			caption = fmt.Sprintf("%s Sheet %d of %d.", caption, i+1, len(d.Pages))
		}
		blocks = append(blocks, Figure{Drawing: sheet{p}, Caption: caption})
	}
	return blocks, nil
}

// plainID makes the identities in a picture differ from those of other
// pictures on the page.
func plainID(svg string, n int) string {
	if n == 1 {
		return svg
	}
	tail := fmt.Sprintf("-%d", n)
	var b strings.Builder
	for {
		i := len(svg)
		mark := ""
		for _, m := range []string{` id="`, `href="#`, `url(#`} {
			if k := strings.Index(svg, m); k >= 0 && k < i {
				i, mark = k, m
			}
		}
		if mark == "" {
			b.WriteString(svg)
			return b.String()
		}
		shut := `"`
		if mark == `url(#` {
			shut = ")"
		}
		rest := svg[i+len(mark):]
		name, after, ok := strings.Cut(rest, shut)
		if !ok {
			b.WriteString(svg)
			return b.String()
		}
		b.WriteString(svg[:i] + mark + name + tail + shut)
		svg = after
	}
}
