package drawing

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// fontStack is what an SVG asks for. Where the first is missing, textLength
// keeps every text as long as it was measured.
const fontStack = "'DejaVu Sans Condensed','DejaVu Sans',Verdana,sans-serif"

// SVG writes a page. The result is self-contained and without scripts. Text is
// text; styles are attributes, which a style sheet of a web page overrides by
// class.
func SVG(p *Page) []byte {
	w := &svgWriter{}
	w.printf("<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"%smm\" height=\"%smm\" viewBox=\"0 0 %[1]s %[2]s\" role=\"img\" font-family=\"%[3]s\" stroke-linejoin=\"round\">\n",
		mm(p.Width), mm(p.Height), fontStack)
	w.named(p.Title, p.Desc)
	w.printf("<rect class=\"paper\" width=\"%s\" height=\"%s\" fill=\"#ffffff\"/>\n", mm(p.Width), mm(p.Height))
	w.elements(p.Elements)
	w.printf("</svg>\n")
	return []byte(w.String())
}

type svgWriter struct {
	strings.Builder
	clips int
}

func (w *svgWriter) printf(format string, args ...any) { fmt.Fprintf(w, format, args...) }

// mm writes a length or coordinate to the micrometre. What isn't a number is
// a bug of the caller, but must not spoil the document.
func mm(v float64) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return "0"
	}
	v = math.Round(v*1000) / 1000
	if v == 0 {
		return "0" // not -0
	}
	return strconv.FormatFloat(v, 'f', -1, 64)
}

var xmlEscaper = strings.NewReplacer("&", "&amp;", "<", "&lt;", ">", "&gt;", `"`, "&quot;", "'", "&#39;")

func xmlText(s string) string { return xmlEscaper.Replace(printable(s)) }

func (w *svgWriter) named(title, desc string) {
	if title != "" {
		w.printf("<title>%s</title>\n", xmlText(title))
	}
	if desc != "" {
		w.printf("<desc>%s</desc>\n", xmlText(desc))
	}
}

func (i Ink) hex() string { return fmt.Sprintf("#%02x%02x%02x", i.R, i.G, i.B) }

func (s Style) attributes() string {
	var b strings.Builder
	if s.Class != "" {
		fmt.Fprintf(&b, ` class="%s"`, xmlText(s.Class))
	}
	paint := func(name string, ink Ink) {
		if ink.A == 0 {
			if name == "fill" {
				b.WriteString(` fill="none"`)
			}
			return
		}
		fmt.Fprintf(&b, ` %s="%s"`, name, ink.hex())
		if ink.A < 255 {
			fmt.Fprintf(&b, ` %s-opacity="%s"`, name, mm(float64(ink.A)/255))
		}
	}
	paint("fill", s.Fill)
	if s.strokes() {
		paint("stroke", s.Stroke)
		fmt.Fprintf(&b, ` stroke-width="%s"`, mm(s.Width))
		if len(s.Dash) > 0 {
			parts := make([]string, len(s.Dash))
			for i, d := range s.Dash {
				parts[i] = mm(d)
			}
			fmt.Fprintf(&b, ` stroke-dasharray="%s"`, strings.Join(parts, " "))
		} else {
			b.WriteString(` stroke-linecap="round"`)
		}
	}
	return b.String()
}

func (s Style) strokes() bool { return s.Stroke.A > 0 && s.Width > 0 }

func (w *svgWriter) elements(elements []Element) {
	for _, e := range elements {
		w.element(e)
	}
}

func (w *svgWriter) element(e Element) {
	switch e := e.(type) {
	case Line:
		if len(e.Points) == 0 {
			return
		}
		var d strings.Builder
		for i, p := range e.Points {
			if i > 0 {
				d.WriteByte(' ')
			}
			d.WriteString(mm(p.X) + "," + mm(p.Y))
		}
		name := "polyline"
		if e.Closed {
			name = "polygon"
		}
		w.printf("<%s%s points=\"%s\"/>\n", name, e.attributes(), d.String())
	case Arc:
		if math.Abs(e.Sweep) >= 360 {
			w.element(Circle{e.Style, e.Center, e.R})
			return
		}
		ends := e.points()
		a, b := ends[0], ends[len(ends)-1]
		large, clockwise := 0, 0
		if math.Abs(e.Sweep) > 180 {
			large = 1
		}
		if e.Sweep > 0 {
			clockwise = 1
		}
		w.printf("<path%s d=\"M%s,%s A%s,%[4]s 0 %d %d %s,%s\"/>\n", e.attributes(), mm(a.X), mm(a.Y), mm(e.R), large, clockwise, mm(b.X), mm(b.Y))
	case Circle:
		w.printf("<circle%s cx=\"%s\" cy=\"%s\" r=\"%s\"/>\n", e.attributes(), mm(e.Center.X), mm(e.Center.Y), mm(e.R))
	case Box:
		w.printf("<rect%s x=\"%s\" y=\"%s\" width=\"%s\" height=\"%s\"/>\n", e.attributes(), mm(e.X), mm(e.Y), mm(e.W), mm(e.H))
	case Text:
		w.text(e)
	case Group:
		w.group(e)
	}
}

func (w *svgWriter) text(t Text) {
	if t.Text == "" {
		return
	}
	var b strings.Builder
	if t.Class != "" {
		fmt.Fprintf(&b, ` class="%s"`, xmlText(t.Class))
	}
	at := t.At
	if t.Rotate != 0 {
		fmt.Fprintf(&b, ` transform="rotate(%s %s %s)"`, mm(-t.Rotate), mm(at.X), mm(at.Y))
	}
	if t.Centred {
		at.Y += capHeight * t.Size / 2
	}
	fmt.Fprintf(&b, ` x="%s" y="%s" font-size="%s" fill="%s"`, mm(at.X), mm(at.Y), mm(t.Size), t.ink().hex())
	if t.Bold {
		b.WriteString(` font-weight="bold"`)
	}
	if t.Anchor != Start {
		fmt.Fprintf(&b, ` text-anchor="%s"`, [...]string{"start", "middle", "end"}[t.Anchor])
	}
	fmt.Fprintf(&b, ` textLength="%s" lengthAdjust="spacingAndGlyphs"`, mm(TextWidth(t.Text, t.Size, t.Bold)))
	w.printf("<text%s>%s</text>\n", b.String(), xmlText(t.Text))
}

func (t Text) ink() Ink {
	if t.Ink == (Ink{}) {
		return Black
	}
	return t.Ink
}

func (w *svgWriter) group(g Group) {
	link := safeLink(g.Link)
	if link != "" {
		w.printf("<a href=\"%s\">\n", xmlText(link))
	}
	var b strings.Builder
	if g.ID != "" {
		fmt.Fprintf(&b, ` id="%s"`, xmlText(g.ID))
	}
	if g.Class != "" {
		fmt.Fprintf(&b, ` class="%s"`, xmlText(g.Class))
	}
	if g.Clip != nil {
		w.clips++
		w.printf("<clipPath id=\"clip-%d\"><rect x=\"%s\" y=\"%s\" width=\"%s\" height=\"%s\"/></clipPath>\n", w.clips, mm(g.Clip.X), mm(g.Clip.Y), mm(g.Clip.W), mm(g.Clip.H))
		fmt.Fprintf(&b, ` clip-path="url(#clip-%d)"`, w.clips)
	}
	w.printf("<g%s>\n", b.String())
	w.named(g.Title, g.Desc)
	w.elements(g.Elements)
	w.printf("</g>\n")
	if link != "" {
		w.printf("</a>\n")
	}
}

// safeLink lets through only links that can't run anything.
func safeLink(link string) string {
	for _, prefix := range []string{"#", "https://", "http://"} {
		if strings.HasPrefix(link, prefix) {
			return link
		}
	}
	return ""
}
