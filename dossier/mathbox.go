package dossier

import "strings"

// A box is a piece of a formula set in type: glyph runs and rules round a
// baseline, mm.
type box struct {
	width, up, down float64
	marks           []mark
}

// A mark is a run of text at a place, or a rule from there; y downwards from
// the baseline.
type mark struct {
	x, y   float64
	text   string
	cut    cut
	size   float64
	rule   bool
	dx, dy float64 // of a rule
	thick  float64
}

// put adds a box at a place.
func (b *box) put(c box, x, y float64) {
	for _, m := range c.marks {
		m.x, m.y = m.x+x, m.y+y
		b.marks = append(b.marks, m)
	}
	b.width = max(b.width, x+c.width)
	b.up = max(b.up, c.up-y)
	b.down = max(b.down, c.down+y)
}

// beside puts a box to the right.
func (b *box) beside(c box) { b.put(c, b.width, 0) }

func (m *metric) run(text string, c cut, size float64) box {
	text = m.printable(text, c)
	return box{width: m.width(text, c, size), up: ascent * size, down: descent * size, marks: []mark{{text: text, cut: c, size: size}}}
}

func space(w float64) box { return box{width: w} }

// setMath sets a formula at a size.
func (m *metric) setMath(n node, size float64) box {
	small := size * 0.72
	switch n.kind {
	case rowNode:
		var b box
		for i, p := range n.parts {
			if p.kind == signNode && i > 0 { // a sign in front binds
				gap := size * 0.22
				if p.text == "·" {
					gap = size * 0.08
				}
				b.beside(space(gap))
				b.beside(m.setMath(p, size))
				b.beside(space(gap))
				continue
			}
			b.beside(m.setMath(p, size))
		}
		return b
	case numberNode:
		if text, ok := strings.CutPrefix(n.text, "j"); ok {
			b := m.run("j", oblique, size)
			b.beside(m.run(text, regular, size))
			return b
		}
		return m.run(strings.ReplaceAll(n.text, "-", "−"), regular, size)
	case symbolNode:
		letter, sub := symbol(n.text)
		sub = strings.TrimPrefix(sub, ", ")
		b := m.run(letter, oblique, size)
		if sub != "" {
			b.beside(space(size * 0.03))
			b.put(m.run(sub, regular, small), b.width, size*0.2)
		}
		return b
	case unitNode:
		text := unitText(n.text)
		if text != "°" {
			text = " " + text
		}
		return m.run(text, regular, size)
	case signNode:
		return m.run(strings.ReplaceAll(n.text, "-", "−"), regular, size)
	case fracNode:
		over, under := m.setMath(inner(n.parts[0]), size*0.92), m.setMath(inner(n.parts[1]), size*0.92)
		pad, axis, gap := size*0.12, size*0.30, size*0.20
		w := max(over.width, under.width) + 2*pad
		var b box
		b.put(over, (w-over.width)/2, -(axis + gap + over.down))
		b.put(under, (w-under.width)/2, under.up-axis+gap)
		b.marks = append(b.marks, mark{x: 0, y: -axis, rule: true, dx: w, thick: size * 0.05})
		b.width = w
		side := space(size * 0.08)
		out := side
		out.beside(b)
		out.beside(side)
		return out
	case rootNode:
		arg := m.setMath(inner(n.parts[0]), size)
		lead, over := size*0.55, size*0.12
		top := -(arg.up + over)
		var b box
		b.put(arg, lead, 0)
		b.width += size * 0.05
		b.up = arg.up + over + size*0.05
		thick := size * 0.05
		b.marks = append(b.marks,
			mark{x: size * 0.05, y: -size * 0.30, rule: true, dx: size * 0.12, dy: -size * 0.06, thick: thick},
			mark{x: size * 0.17, y: -size * 0.36, rule: true, dx: size * 0.15, dy: size*0.36 + arg.down*0.7, thick: thick * 1.6},
			mark{x: size * 0.32, y: arg.down * 0.7, rule: true, dx: size * 0.18, dy: top - arg.down*0.7, thick: thick},
			mark{x: size * 0.50, y: top, rule: true, dx: b.width - size*0.50, thick: thick})
		return b
	case powerNode:
		b := m.setMath(n.parts[0], size)
		b.put(m.setMath(inner(n.parts[1]), small), b.width, -(b.up - size*0.42))
		return b
	case raisedNode:
		b := m.setMath(n.parts[0], size)
		b.put(m.run(plainSuperscript.Replace(n.text), regular, small), b.width+size*0.02, -(b.up - size*0.42))
		return b
	case fenceNode:
		arg := m.setMath(n.parts[0], size)
		gap := size * 0.10
		if n.text == "|" {
			var b box
			rule := mark{x: gap, y: arg.down - 0.04*size, rule: true, dy: -(arg.up + arg.down - 0.04*size), thick: size * 0.055}
			b.marks = append(b.marks, rule)
			b.put(arg, 2.2*gap, 0)
			rule.x = b.width + 1.2*gap
			b.marks = append(b.marks, rule)
			b.width += 2.2 * gap
			return b
		}
		tall := max(1, (arg.up+arg.down)/((ascent+descent)*size))
		open, shut := m.run("(", regular, size*tall), m.run(")", regular, size*tall)
		// The fence's middle stands at that of what it holds.
		shift := (arg.down-arg.up)/2 - (open.down-open.up)/2
		var b box
		b.put(open, 0, shift)
		b.beside(arg)
		b.put(shut, b.width, shift)
		return b
	case wordsNode, proseNode:
		return m.run(n.text, regular, size)
	}
	return box{}
}
