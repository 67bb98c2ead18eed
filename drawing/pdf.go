package drawing

import (
	"bytes"
	"fmt"
	"math"
	"strconv"
	"strings"

	"codeberg.org/go-pdf/fpdf"
)

// pdfFont is the name of the embedded font in PDF files.
const pdfFont = "DejaVuCondensed"

// PDF writes pages as one document: vectors, and text that can be searched and
// copied, in the embedded font cut down to the characters used. The date, year-month-day,
// is the document's own; the same pages and date give the same bytes.
func PDF(pages []*Page, date string) ([]byte, error) {
	if len(pages) == 0 {
		return nil, fmt.Errorf("a PDF document needs a page")
	}
	doc := fpdf.NewCustom(&fpdf.InitType{UnitStr: "mm", Size: fpdf.SizeType{Wd: pages[0].Width, Ht: pages[0].Height}})
	doc.SetCatalogSort(true)
	doc.SetTitle(printable(pages[0].Title), true)
	doc.SetSubject(printable(pages[0].Desc), true)
	doc.SetCreator("feederwright", true)
	doc.SetProducer("feederwright", true)
	// The document's time counts from year 1; without a date it is the year 2000.
	y, m, d := 2000, 1, 1
	if parts := strings.Split(date, "-"); len(parts) == 3 {
		var n [3]int
		ok := true
		for i, p := range parts {
			v, err := strconv.Atoi(p)
			n[i], ok = v, ok && err == nil && v >= 1 && v <= 9999
		}
		if ok {
			y, m, d = n[0], n[1], n[2]
		}
	}
	day := doc.GetCreationDate().AddDate(y-1, m-1, d-1)
	doc.SetCreationDate(day)
	doc.SetModificationDate(day)
	doc.SetAutoPageBreak(false, 0)
	doc.SetMargins(0, 0, 0)
	UsePDFFont(doc)
	for _, p := range pages {
		doc.AddPageFormat("P", fpdf.SizeType{Wd: p.Width, Ht: p.Height})
		if len(pages) > 1 {
			doc.Bookmark(printable(p.Title), 0, 0)
		}
		PlaceInPDF(doc, p, 0, 0, 1)
	}
	var out bytes.Buffer
	if err := doc.Output(&out); err != nil {
		return nil, fmt.Errorf("write PDF: %w", err)
	}
	return out.Bytes(), nil
}

// UsePDFFont gives a document the embedded font, which PlaceInPDF needs.
func UsePDFFont(doc *fpdf.Fpdf) {
	regular, bold := FontFiles()
	doc.AddUTF8FontFromBytes(pdfFont, "", regular)
	doc.AddUTF8FontFromBytes(pdfFont, "B", bold)
}

// PlaceInPDF draws a figure on the current page of a document measured in mm, its upper
// left corner at a place and all its lengths times scale. UsePDFFont comes first.
func PlaceInPDF(doc *fpdf.Fpdf, p *Page, x, y, scale float64) {
	w := &pdfWriter{doc: doc, by: Point{x, y}, scale: scale}
	doc.SetLineJoinStyle("round")
	w.elements(p.Elements)
	doc.SetLineCapStyle("butt")
	doc.SetDashPattern(nil, 0)
	doc.SetAlpha(1, "Normal")
}

type pdfWriter struct {
	doc   *fpdf.Fpdf
	by    Point
	scale float64
	alpha uint8
}

func (w *pdfWriter) at(p Point) (x, y float64) {
	return w.by.X + p.X*w.scale, w.by.Y + p.Y*w.scale
}

func (w *pdfWriter) opacity(a uint8) {
	if a != w.alpha {
		w.doc.SetAlpha(float64(a)/255, "Normal")
		w.alpha = a
	}
}

// painted runs a path for the inside and for the outline.
func (w *pdfWriter) painted(s Style, path func()) {
	if s.Fill.A > 0 {
		w.opacity(s.Fill.A)
		w.doc.SetFillColor(int(s.Fill.R), int(s.Fill.G), int(s.Fill.B))
		path()
		w.doc.DrawPath("f")
	}
	if !s.strokes() {
		return
	}
	w.opacity(s.Stroke.A)
	w.doc.SetDrawColor(int(s.Stroke.R), int(s.Stroke.G), int(s.Stroke.B))
	w.doc.SetLineWidth(s.Width * w.scale)
	if len(s.Dash) > 0 {
		dash := make([]float64, len(s.Dash))
		for i, d := range s.Dash {
			dash[i] = d * w.scale
		}
		w.doc.SetLineCapStyle("butt")
		w.doc.SetDashPattern(dash, 0)
	} else {
		w.doc.SetLineCapStyle("round")
		w.doc.SetDashPattern(nil, 0)
	}
	path()
	w.doc.DrawPath("D")
}

func (w *pdfWriter) elements(elements []Element) {
	for _, e := range elements {
		w.element(e)
	}
}

func (w *pdfWriter) element(e Element) {
	switch e := e.(type) {
	case Line:
		if len(e.Points) == 0 {
			return
		}
		w.painted(e.Style, func() {
			w.doc.MoveTo(w.at(e.Points[0]))
			for _, p := range e.Points[1:] {
				w.doc.LineTo(w.at(p))
			}
			if e.Closed {
				w.doc.ClosePath()
			}
		})
	case Box:
		corners := []Point{{e.X, e.Y}, {e.Right(), e.Y}, {e.Right(), e.Bottom()}, {e.X, e.Bottom()}}
		w.element(Line{e.Style, corners, true})
	case Circle:
		w.element(Arc{e.Style, e.Center, e.R, 0, 360})
	case Arc:
		w.painted(e.Style, func() { w.arc(e) })
	case Text:
		w.text(e)
	case Group:
		if g := e.Clip; g != nil {
			x, y := w.at(Point{g.X, g.Y})
			w.doc.ClipRect(x, y, g.W*w.scale, g.H*w.scale, false)
			w.alpha = 0 // what a clipped part sets ends with it
		}
		w.elements(e.Elements)
		if e.Clip != nil {
			w.doc.ClipEnd()
			w.alpha = 0
			// The document goes back to the fill from before the clipped part and the writer doesn't know: text in the
			// colour last filled with would come out in the one before. Saying it again puts them in step.
			w.doc.SetFillColor(0, 0, 0)
		}
		if link := safeLink(e.Link); link != "" && !strings.HasPrefix(link, "#") {
			b := e.Bounds()
			x, y := w.at(Point{b.X, b.Y})
			w.doc.LinkString(x, y, b.W*w.scale, b.H*w.scale, link)
		}
	}
}

// arc goes along an arc in cubic curves of at most a quarter circle, whose
// control points lie 4/3·tan(sweep/4) radii from their ends, along the tangent.
func (w *pdfWriter) arc(a Arc) {
	n := max(1, int(math.Ceil(math.Abs(a.Sweep)/90)))
	step := a.Sweep / float64(n) * math.Pi / 180
	k := 4.0 / 3 * math.Tan(step/4) * a.R
	angle := a.From * math.Pi / 180
	on := func(t float64) (p, tangent Point) {
		sin, cos := math.Sincos(t)
		return a.Center.Add(Point{a.R * cos, a.R * sin}), Point{-sin * k, cos * k}
	}
	p, d := on(angle)
	w.doc.MoveTo(w.at(p))
	for range n {
		angle += step
		q, e := on(angle)
		x0, y0 := w.at(p.Add(d))
		x1, y1 := w.at(Point{q.X - e.X, q.Y - e.Y})
		x2, y2 := w.at(q)
		w.doc.CurveBezierCubicTo(x0, y0, x1, y1, x2, y2)
		p, d = q, e
	}
}

// pointsPerMM is how many points of 1/72 inch a millimetre has.
const pointsPerMM = 72 / 25.4

func (w *pdfWriter) text(t Text) {
	if t.Text == "" || t.Size <= 0 {
		return
	}
	style := ""
	if t.Bold {
		style = "B"
	}
	ink := t.ink()
	w.opacity(ink.A)
	w.doc.SetTextColor(int(ink.R), int(ink.G), int(ink.B))
	w.doc.SetFont(pdfFont, style, t.Size*w.scale*pointsPerMM)
	x, y := w.at(t.At)
	if t.Rotate != 0 {
		w.doc.TransformBegin()
		w.doc.TransformRotate(t.Rotate, x, y)
		defer w.doc.TransformEnd()
	}
	x -= TextWidth(t.Text, t.Size, t.Bold) * w.scale * [...]float64{0, 0.5, 1}[t.Anchor]
	if t.Centred {
		y += capHeight * t.Size * w.scale / 2
	}
	w.doc.Text(x, y, printable(t.Text))
}
