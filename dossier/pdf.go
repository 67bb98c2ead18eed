package dossier

import (
	"bytes"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"codeberg.org/go-pdf/fpdf"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"

	"feederwright/drawing"
)

// PDF writes a book on a paper: real text, bookmarks, heads and feet on every
// page. The same book gives the same bytes.
func PDF(b *Book, paper Paper) ([]byte, error) {
	leaves := layOut(b, paper)
	doc := fpdf.NewCustom(&fpdf.InitType{UnitStr: "mm", Size: fpdf.SizeType{Wd: paper.width, Ht: paper.height}})
	doc.SetCatalogSort(true)
	doc.SetTitle(allowed(b.Title+": "+strings.ToLower(b.Name)), true)
	doc.SetSubject("study hash "+b.Hash+"; "+allowed(b.State()), true)
	doc.SetCreator(allowed(b.Program), true)
	doc.SetProducer("feederwright", true)
	doc.SetLang("en")
	// The document's time counts from year 1; a date that is none leaves the year 2000.
	y, m, d := 2000, 1, 1
	if parts := strings.Split(b.Date, "-"); len(parts) == 3 {
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
	for _, f := range fontData {
		doc.AddUTF8FontFromBytes(f.family, f.style, f.data)
	}
	if l := leaves; slices.ContainsFunc(l, func(p *leaf) bool {
		return slices.ContainsFunc(p.strokes, func(s stroke) bool { return s.kind == figureStroke })
	}) {
		drawing.UsePDFFont(doc)
	}
	links := make([]int, len(b.Chapters)+1)
	for i := range links {
		links[i] = doc.AddLink()
	}
	for n, leaf := range leaves {
		doc.AddPage()
		for _, m := range leaf.marks {
			doc.Bookmark(m.title, m.level, m.y)
			if m.link > 0 {
				doc.SetLink(links[m.link], m.y, n+1)
			}
		}
		w := &pdfPage{doc: doc, links: links}
		if b.Draft() {
			w.watermark("DRAFT", paper)
		}
		for i := range leaf.strokes {
			w.draw(&leaf.strokes[i])
		}
	}
	var out bytes.Buffer
	if err := doc.Output(&out); err != nil {
		return nil, fmt.Errorf("write PDF: %w", err)
	}
	return out.Bytes(), nil
}

type pdfPage struct {
	doc   *fpdf.Fpdf
	links []int
}

func shade(grey float64) int { return int(grey*255 + 0.5) }

func (w *pdfPage) draw(s *stroke) {
	d := w.doc
	switch s.kind {
	case textStroke:
		f := fontData[s.cut]
		d.SetFont(f.family, f.style, s.size/point)
		d.SetTextColor(shade(s.grey), shade(s.grey), shade(s.grey))
		d.Text(s.x, s.y, s.text)
		if s.link > 0 {
			d.Link(s.x, s.y-s.size, s.dx, s.size*1.3, w.links[s.link])
		}
	case ruleStroke:
		d.SetDrawColor(shade(s.grey), shade(s.grey), shade(s.grey))
		d.SetLineWidth(s.thick)
		d.Line(s.x, s.y, s.x+s.dx, s.y+s.dy)
	case fillStroke:
		d.SetFillColor(shade(s.grey), shade(s.grey), shade(s.grey))
		d.Rect(s.x, s.y, s.dx, s.dy, "F")
	case frameStroke:
		d.SetDrawColor(shade(s.grey), shade(s.grey), shade(s.grey))
		d.SetLineWidth(s.thick)
		d.Rect(s.x, s.y, s.dx, s.dy, "D")
	case figureStroke:
		s.figure.PDF(d, s.x, s.y, s.size)
	}
}

// watermark draws a word across the page, in a grey that copies lightly: as
// outlines, so that it does not get among the words of the page when they are
// copied.
func (w *pdfPage) watermark(text string, paper Paper) {
	d := w.doc
	const size = 110.0 * point
	m := newMetric()
	width := m.width(text, bold, size)
	d.SetFillColor(shade(ghost), shade(ghost), shade(ghost))
	d.TransformBegin()
	d.TransformRotate(52, paper.width/2, paper.height/2)
	x, y := (paper.width-width)/2, paper.height/2+0.36*size
	for _, r := range text {
		at := func(p fixed.Point26_6) (float64, float64) {
			em := float64(m.em[bold])
			return x + float64(p.X)/em*size, y + float64(p.Y)/em*size
		}
		glyph, err := m.fonts[bold].GlyphIndex(&m.buf, r)
		if err != nil {
			continue
		}
		outline, err := m.fonts[bold].LoadGlyph(&m.buf, glyph, m.em[bold], nil)
		if err != nil {
			continue
		}
		for _, s := range outline {
			x0, y0 := at(s.Args[0])
			switch s.Op {
			case sfnt.SegmentOpMoveTo:
				d.MoveTo(x0, y0)
			case sfnt.SegmentOpLineTo:
				d.LineTo(x0, y0)
			case sfnt.SegmentOpQuadTo:
				x1, y1 := at(s.Args[1])
				d.CurveTo(x0, y0, x1, y1)
			}
		}
		d.ClosePath()
		d.DrawPath("f")
		x += m.width(string(r), bold, size)
	}
	d.TransformEnd()
}

// layOut makes the pages of a book.
func layOut(b *Book, paper Paper) []*leaf {
	l := &layouter{metric: newMetric(), book: b, paper: paper, width: paper.width - 2*sideEdge}
	cover := l.cover()
	var items []item
	for i, s := range b.Chapters {
		title := b.Number(i) + "  " + s.Title
		head := together(l.paragraph(T(title), 15*point, 0, black, true))
		// The first chapter and annexes begin a page; others where less than half of one is left.
		head[0].fresh = i == 0 || s.Annex
		head[0].roomy = 0.5 * (paper.height - topEdge - lowEdge)
		head[0].gap = 11
		head[0].title = title
		head[0].mark = &bookmark{title: title, level: 0, link: i + 1}
		head[len(head)-1].keep = true
		items = append(items, head...)
		items = append(items, item{height: 1.6, keep: true, draw: func(p *leaf, x, y float64) {
			p.strokes = append(p.strokes, stroke{kind: ruleStroke, x: x, y: y + 0.4, dx: l.width, thick: 0.5})
		}})
		items = append(items, l.blocks(s.Blocks, b.Number(i))...)
	}
	front := l.paginate(cover)
	if len(front) > 0 {
		front[0].isCover = true
	}
	body := l.paginate(items)
	// The contents need the numbers of pages, which need the count of pages of
	// the contents; that does not depend on the numbers.
	first := map[int]int{}
	for n, leaf := range body {
		for _, m := range leaf.marks {
			if m.link > 0 {
				first[m.link] = n
			}
		}
	}
	contents := l.paginate(l.contents(first, 0))
	contents = l.paginate(l.contents(first, len(front)+len(contents)))
	leaves := append(append(front, contents...), body...)
	for n, leaf := range leaves {
		l.headAndFoot(leaf, n+1, len(leaves))
	}
	return leaves
}

func (l *layouter) cover() []item {
	b := l.book
	items := []item{{height: 4, title: b.Name}}
	items = append(items, l.paragraph(T(b.Name), 13*point, 0, soft, false)...)
	items[1].mark = &bookmark{title: "Cover", level: 0}
	items = append(items, spaced(together(l.paragraph(T(b.Title), 24*point, 0, black, true)), 2)...)
	items = append(items, spaced(l.paragraph(T(b.State()), 12*point, 0, black, true), 3)...)
	items = append(items, item{height: 1, gap: 3, draw: func(p *leaf, x, y float64) {
		p.strokes = append(p.strokes, stroke{kind: ruleStroke, x: x, y: y, dx: l.width, thick: 0.8})
	}})
	return append(items, l.blocks(b.Cover, "")...)
}

func (l *layouter) contents(first map[int]int, before int) []item {
	head := l.paragraph(T("Contents"), 15*point, 0, black, true)
	head[0].title = "Contents"
	head[0].mark = &bookmark{title: "Contents", level: 0}
	head[0].keep = true
	items := append(head, item{height: 3, keep: true})
	size := bodySize * 1.05
	for i, s := range l.book.Chapters {
		number := l.book.Number(i)
		page := fmt.Sprint(before + first[i+1] + 1)
		indent := 17.0
		lines := l.wrap(l.words(T(s.Title), size, false), size, l.width-indent-14)
		for k, ln := range lines {
			items = append(items, item{height: lineHeight(size) * 1.15, keep: k < len(lines)-1, draw: func(p *leaf, x, y float64) {
				base := y + (lineSkip-1)/2*size + ascent*size
				if k == 0 {
					p.strokes = append(p.strokes, stroke{x: x, y: base, text: number, size: size})
				}
				l.put(p, ln, x+indent, y, size, black)
				if k < len(lines)-1 {
					return
				}
				w := l.metric.width(page, regular, size)
				p.strokes = append(p.strokes, stroke{x: x + l.width - w, y: base, text: page, size: size, link: i + 1, dx: w})
				dot := l.metric.width(".", regular, size) * 2.2
				for at := x + l.width - w - 2 - dot; at > x+indent+ln.width+2; at -= dot {
					p.strokes = append(p.strokes, stroke{kind: fillStroke, x: at, y: base - 0.15, dx: 0.25, dy: 0.25, grey: soft})
				}
			}})
		}
	}
	return items
}

func (l *layouter) headAndFoot(p *leaf, n, of int) {
	b := l.book
	size := noteSize
	text := func(x, y float64, s string, right bool) {
		s = l.printable(s, regular)
		if right {
			x -= l.metric.width(s, regular, size)
		}
		p.strokes = append(p.strokes, stroke{x: x, y: y, text: s, size: size, grey: soft})
	}
	right := l.paper.width - sideEdge
	if !p.isCover {
		text(sideEdge, 13.5, l.fit(b.Title, size, l.width*0.48), false)
		text(right, 13.5, l.fit(p.chapter, size, l.width*0.48), true)
		p.strokes = append(p.strokes, stroke{kind: ruleStroke, x: sideEdge, y: 15.2, dx: l.width, thick: 0.15, grey: faint})
	}
	foot := l.paper.height - 11.5
	p.strokes = append(p.strokes, stroke{kind: ruleStroke, x: sideEdge, y: foot - 4, dx: l.width, thick: 0.15, grey: faint})
	text(sideEdge, foot, l.fit(fmt.Sprintf("%s  ·  study %s  ·  %s", b.Date, b.shortHash(), b.State()), size, l.width*0.8), false)
	text(right, foot, fmt.Sprintf("page %d of %d", n, of), true)
}

// fit shortens a text to a width.
func (l *layouter) fit(text string, size, width float64) string {
	text = l.printable(text, regular)
	if l.metric.width(text, regular, size) <= width {
		return text
	}
	runes := []rune(text)
	for len(runes) > 0 && l.metric.width(string(runes)+"…", regular, size) > width {
		runes = runes[:len(runes)-1]
	}
	return strings.TrimRight(string(runes), " ") + "…"
}
