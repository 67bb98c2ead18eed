package dossier

import (
	"fmt"
	"slices"
)

// cellPad is the space at either side of a cell, mm.
const cellPad = 1.1

// narrow and wide bound the least width of a column of words: no word makes it
// wider than wide (a longer one is broken).
const widestWord = 34.0

// A tableRow is a row in lines.
type tableRow struct {
	cells  [][]line
	strong []bool
	height float64
}

// A grid is a table, or a part of its columns, with widths.
type grid struct {
	l       *layouter
	columns []Column
	picks   []int // the columns' numbers in the table
	widths  []float64
	size    float64
	total   float64
}

// tableItems lays a table out. One too wide is set smaller, and if that does
// not do, in parts below each other, each with the key columns.
func (l *layouter) tableItems(t *Table) []item {
	l.table++
	caption := fmt.Sprintf("Table %d. ", l.table)
	if len(t.Columns) == 0 {
		return nil
	}
	all := make([]int, len(t.Columns))
	keys := 0
	for i := range t.Columns {
		all[i] = i
		if t.Columns[i].Key && keys == i {
			keys++
		}
	}
	for _, size := range []float64{tableSize, tableSize * 0.95} {
		if g, ok := l.grid(t, all, size); ok {
			return l.gridItems(t, g, caption, t.Caption, true)
		}
	}
	// Parts: as many columns as fit beside the keys.
	var items []item
	size := tableSize * 0.95
	for from := keys; from < len(all); {
		picks := slices.Clone(all[:keys])
		var g grid
		n := 0
		for from+n < len(all) {
			more := append(slices.Clone(picks), from+n)
			h, ok := l.grid(t, more, size)
			if !ok && n > 0 {
				break
			}
			picks, g = more, h
			n++
			if !ok {
				break
			}
		}
		from += n
		text := t.Caption
		if len(items) > 0 {
			text += ", further columns"
			caption = fmt.Sprintf("Table %d, continued. ", l.table)
		}
		items = append(items, spaced(l.gridItems(t, g, caption, text, from >= len(all)), 4)...)
	}
	return items
}

// grid finds the widths of some columns; ok is false where even the narrowest
// do not fit, and then they are narrower than their words.
func (l *layouter) grid(t *Table, picks []int, size float64) (grid, bool) {
	g := grid{l: l, picks: picks, size: size}
	least, most := make([]float64, len(picks)), make([]float64, len(picks))
	for k, i := range picks {
		c := t.Columns[i]
		g.columns = append(g.columns, c)
		measure := func(text string, cu cut, whole bool) {
			text = l.printable(text, cu)
			w := l.width2(text, cu, size)
			most[k] = max(most[k], w)
			if whole {
				least[k] = max(least[k], w)
				return
			}
			for _, word := range l.words(T(text), size, cu == bold) {
				least[k] = max(least[k], min(word.width, widestWord))
			}
		}
		measure(c.head(), bold, false)
		for r := range t.Rows {
			if t.Rows[r].Head || i >= len(t.Rows[r].Cells) {
				continue
			}
			cell := &t.Rows[r].Cells[i]
			cu := regular
			if cell.Strong {
				cu = bold
			}
			if c.Code {
				cu = mono
			}
			measure(cell.Text, cu, c.Align == Right && len([]rune(cell.Text)) < 24)
		}
		if c.Code {
			least[k] = min(least[k], 22)
		}
		least[k] += 2 * cellPad
		most[k] = max(most[k]+2*cellPad, least[k])
	}
	// A group's head stands over its columns.
	for a := 0; a < len(picks); {
		b := a + 1
		for b < len(picks) && g.columns[a].Group != "" && g.columns[b].Group == g.columns[a].Group {
			b++
		}
		if g.columns[a].Group != "" {
			need := min(l.width2(l.printable(g.columns[a].Group, bold), bold, size), 40) + 2*cellPad
			sum := 0.0
			for k := a; k < b; k++ {
				sum += least[k]
			}
			for k := a; k < b && sum < need; k++ {
				more := (need - sum) / float64(b-a)
				least[k] += more
				most[k] = max(most[k], least[k])
			}
		}
		a = b
	}
	sumLeast, sumMost := 0.0, 0.0
	for k := range picks {
		sumLeast += least[k]
		sumMost += most[k]
	}
	switch {
	case sumMost <= l.width:
		g.widths = most
	case sumLeast <= l.width:
		// Columns get all they want up to a common bound; short ones are served
		// first, and long ones share what is left.
		low, high := 0.0, sumMost
		for range 60 {
			bound := (low + high) / 2
			sum := 0.0
			for k := range picks {
				sum += min(most[k], max(least[k], bound))
			}
			if sum > l.width {
				high = bound
			} else {
				low = bound
			}
		}
		for k := range picks {
			g.widths = append(g.widths, min(most[k], max(least[k], low)))
		}
	default:
		for k := range picks {
			g.widths = append(g.widths, least[k]*l.width/sumLeast)
		}
	}
	for _, w := range g.widths {
		g.total += w
	}
	return g, sumLeast <= l.width
}

// width2 is the width of a text in which no-break spaces are blanks.
func (l *layouter) width2(text string, c cut, size float64) float64 {
	if c == mono {
		size *= 0.92
	}
	return l.metric.width(text, c, size)
}

// lay breaks a row's cells into lines.
func (g *grid) lay(cells func(k int) (Rich, bool)) tableRow {
	r := tableRow{cells: make([][]line, len(g.columns)), strong: make([]bool, len(g.columns))}
	for k := range g.columns {
		text, strong := cells(k)
		r.cells[k] = g.l.wrap(g.l.words(text, g.size, strong), g.size, max(g.widths[k]-2*cellPad, 1))
		r.height = max(r.height, float64(len(r.cells[k]))*lineHeight(g.size))
	}
	r.height = max(r.height, lineHeight(g.size))
	return r
}

const rowPad = 0.55

func (g *grid) draw(p *leaf, r *tableRow, x, y float64, low bool) {
	at := x
	for k, lines := range r.cells {
		top := y
		if low {
			top += r.height - float64(len(lines))*lineHeight(g.size)
		}
		for i, ln := range lines {
			lx := at + cellPad
			switch g.columns[k].Align {
			case Right:
				lx = at + g.widths[k] - cellPad - ln.width
			case Center:
				lx = at + (g.widths[k]-ln.width)/2
			}
			g.l.put(p, ln, lx, top+float64(i)*lineHeight(g.size), g.size, black)
		}
		at += g.widths[k]
	}
}

// head is the item of a table's heads.
func (g *grid) head() item {
	heads := g.lay(func(k int) (Rich, bool) { return T(g.columns[k].head()), true })
	grouped := false
	for _, c := range g.columns {
		grouped = grouped || c.Group != ""
	}
	over := 0.0
	if grouped {
		over = lineHeight(g.size) + 0.6
	}
	height := over + heads.height + 2*rowPad
	return item{height: height + 0.3, keep: true, draw: func(p *leaf, x, y float64) {
		if grouped {
			at := x
			for a := 0; a < len(g.columns); {
				b, w := a+1, g.widths[a]
				for b < len(g.columns) && g.columns[a].Group != "" && g.columns[b].Group == g.columns[a].Group {
					w += g.widths[b]
					b++
				}
				if name := g.columns[a].Group; name != "" {
					lines := g.l.wrap(g.l.words(T(name), g.size, true), g.size, max(w-2*cellPad, 1))
					if len(lines) > 0 {
						g.l.put(p, lines[0], at+(w-lines[0].width)/2, y, g.size, black)
					}
					p.strokes = append(p.strokes, stroke{kind: ruleStroke, x: at + cellPad*0.6, y: y + lineHeight(g.size) + 0.2, dx: w - 1.2*cellPad, thick: 0.15, grey: faint})
				}
				at += w
				a = b
			}
		}
		g.draw(p, &heads, x, y+over+rowPad, true)
		p.strokes = append(p.strokes, stroke{kind: ruleStroke, x: x, y: y + height, dx: g.total, thick: 0.35})
	}}
}

// gridItems are a table's caption, heads, rows and notes.
func (l *layouter) gridItems(t *Table, g grid, number, caption string, last bool) []item {
	title := func(text string) []item {
		return together(l.paragraph(Rich{}.Strong(number).Plain(text), tableSize*1.06, 0, black, false))
	}
	items := title(caption)
	if len(items) > 0 {
		items[len(items)-1].keep = true
	}
	items = append(items, item{height: 0.8, keep: true})
	head := g.head()
	items = append(items, head)
	// What stands at the top of a page on which the table goes on.
	goesOn := l.paragraph(Rich{}.Strong(number).Plain(caption+", continued"), tableSize*1.06, 0, black, false)
	again := &item{draw: func(p *leaf, x, y float64) {
		for _, it := range goesOn {
			it.draw(p, x, y)
			y += it.height
		}
		head.draw(p, x, y+0.8)
	}, height: 0.8 + head.height}
	for _, it := range goesOn {
		again.height += it.height
	}
	var rows []item
	total := 0.0
	for i := range t.Rows {
		row := &t.Rows[i]
		if row.Head {
			lines := l.wrap(l.words(T(row.Cells[0].Text), g.size, true), g.size, max(g.total-2*cellPad, 30))
			h := float64(len(lines))*lineHeight(g.size) + 2*rowPad
			rows = append(rows, item{height: h, keep: true, again: again, draw: func(p *leaf, x, y float64) {
				p.strokes = append(p.strokes, stroke{kind: fillStroke, x: x, y: y, dx: g.total, dy: h, grey: band})
				for k, ln := range lines {
					l.put(p, ln, x+cellPad, y+rowPad+float64(k)*lineHeight(g.size), g.size, black)
				}
			}})
			total += h
			continue
		}
		r := g.lay(func(k int) (Rich, bool) {
			i := g.picks[k]
			if i >= len(row.Cells) {
				return nil, false
			}
			c := &row.Cells[i]
			if g.columns[k].Code && c.Text != "" {
				return Rich{}.Code(c.Text), false
			}
			return T(c.Text), c.Strong
		})
		// A row whose first cell is empty belongs to the one above it.
		if len(rows) > 0 && len(row.Cells) > 0 && row.Cells[0].Text == "" && g.picks[0] == 0 {
			rows[len(rows)-1].keep = true
		}
		// A row taller than a third of a page is parted.
		for _, piece := range r.parts(g.size, (l.paper.height-topEdge-lowEdge)/3) {
			h := piece.height + 2*rowPad
			rows = append(rows, item{height: h, again: again, draw: func(p *leaf, x, y float64) {
				g.draw(p, &piece, x, y+rowPad, false)
				p.strokes = append(p.strokes, stroke{kind: ruleStroke, x: x, y: y + h, dx: g.total, thick: 0.12, grey: faint})
			}})
			total += h
		}
	}
	// Small tables stay whole; of larger ones, two rows at either end.
	usable := l.paper.height - topEdge - lowEdge
	for i := range rows {
		if total < usable*0.42 && i < len(rows)-1 || i == 0 || i == len(rows)-2 {
			rows[i].keep = i < len(rows)-1
		}
	}
	items = append(items, rows...)
	if last {
		for i, n := range t.Notes {
			lines := l.paragraph(T(n), noteSize, 0, soft, false)
			if i == 0 && len(items) > 0 {
				items[len(items)-1].keep = true
				spaced(lines, 1.2)
			}
			items = append(items, lines...)
		}
	}
	return items
}

// parts cuts a tall row into rows of lines.
func (r tableRow) parts(size, most float64) []tableRow {
	if r.height <= most {
		return []tableRow{r}
	}
	n := int(most / lineHeight(size))
	count := int(r.height/lineHeight(size) + 0.5)
	var out []tableRow
	for from := 0; from < count; from += n {
		piece := tableRow{cells: make([][]line, len(r.cells)), strong: r.strong}
		for k, lines := range r.cells {
			if from < len(lines) {
				piece.cells[k] = lines[from:min(from+n, len(lines))]
			}
			piece.height = max(piece.height, float64(len(piece.cells[k]))*lineHeight(size))
		}
		out = append(out, piece)
	}
	return out
}
