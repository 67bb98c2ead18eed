package dossier

import (
	"strings"
	"sync"
	"unicode/utf8"

	"codeberg.org/go-fonts/dejavu/dejavusanscondensed"
	"codeberg.org/go-fonts/dejavu/dejavusanscondensedbold"
	"codeberg.org/go-fonts/dejavu/dejavusanscondensedoblique"
	"codeberg.org/go-fonts/dejavu/dejavusansmono"
	"golang.org/x/image/font"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
)

// A cut is one of the fonts of the PDF.
type cut int

const (
	regular cut = iota
	bold
	oblique
	mono
	cuts
)

// fontData are the fonts, with the names by which the PDF writer knows them.
var fontData = [cuts]struct {
	family, style string
	data          []byte
}{
	{"text", "", dejavusanscondensed.TTF},
	{"text", "B", dejavusanscondensedbold.TTF},
	{"text", "I", dejavusanscondensedoblique.TTF},
	{"mono", "", dejavusansmono.TTF},
}

// point is a typographic point in mm.
const point = 25.4 / 72

// Of the fonts, over their size: what a line needs above its baseline for
// capitals and below it for descenders.
const (
	ascent  = 0.76
	descent = 0.24
)

// A metric measures text in the fonts.
type metric struct {
	fonts  [cuts]*sfnt.Font
	em     [cuts]fixed.Int26_6
	buf    sfnt.Buffer
	widths [cuts]map[rune]float64 // over the size; −1 where the font lacks it
}

var parsedFonts = sync.OnceValue(func() [cuts]*sfnt.Font {
	var out [cuts]*sfnt.Font
	for i := range fontData {
		f, err := sfnt.Parse(fontData[i].data)
		if err != nil {
			panic("dossier: an embedded font is damaged: " + err.Error())
		}
		out[i] = f
	}
	return out
})

func newMetric() *metric {
	m := &metric{fonts: parsedFonts()}
	for i := range m.fonts {
		m.em[i] = fixed.I(int(m.fonts[i].UnitsPerEm()))
		m.widths[i] = map[rune]float64{}
	}
	return m
}

func (m *metric) glyph(c cut, r rune) float64 {
	if w, ok := m.widths[c][r]; ok {
		return w
	}
	w := -1.0
	if r <= 0xffff {
		if g, err := m.fonts[c].GlyphIndex(&m.buf, r); err == nil && g != 0 {
			if a, err := m.fonts[c].GlyphAdvance(&m.buf, g, m.em[c], font.HintingNone); err == nil {
				w = float64(a) / float64(m.em[c])
			}
		}
	}
	m.widths[c][r] = w
	return w
}

// width is how long a text is at a size, both in mm. The text is printable.
func (m *metric) width(text string, c cut, size float64) float64 {
	sum := 0.0
	for _, r := range text {
		sum += max(m.glyph(c, r), 0)
	}
	return sum * size
}

// printable is a text with what a font lacks replaced.
func (m *metric) printable(text string, c cut) string {
	return strings.Map(func(r rune) rune {
		if r == '\u00a0' || m.glyph(c, r) >= 0 {
			return r
		}
		return utf8.RuneError
	}, allowed(text))
}
