package drawing

import (
	"strings"
	"sync"
	"unicode/utf8"

	"codeberg.org/go-fonts/dejavu/dejavusanscondensed"
	"codeberg.org/go-fonts/dejavu/dejavusanscondensedbold"
	"golang.org/x/image/font"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
)

// Of the font, over its size: height of capitals, and what a line needs above
// and below its baseline. Capitals of DejaVu Sans are 1493 of 2048 units high;
// accents on capitals reach 0.93, descenders 0.24.
const (
	capHeight = 1493.0 / 2048
	ascent    = 0.93
	descent   = 0.24
)

// LineHeight is the distance of baselines of lines of text, over its size.
const LineHeight = 1.2

// A face is one cut of the font.
type face struct {
	data []byte
	font *sfnt.Font
	em   fixed.Int26_6 // one em in font units
}

var faces = sync.OnceValue(func() [2]*face {
	var out [2]*face
	for i, data := range [][]byte{dejavusanscondensed.TTF, dejavusanscondensedbold.TTF} {
		f, err := sfnt.Parse(data)
		if err != nil {
			panic("drawing: the embedded font is damaged: " + err.Error())
		}
		out[i] = &face{data, f, fixed.I(int(f.UnitsPerEm()))}
	}
	return out
})

func faceOf(bold bool) *face {
	if bold {
		return faces()[1]
	}
	return faces()[0]
}

// FontFiles returns the font as TrueType files, for writers of other formats.
func FontFiles() (regular, bold []byte) { return faceOf(false).data, faceOf(true).data }

// TextWidth is how long a text is at a size, both in mm.
func TextWidth(text string, size float64, bold bool) float64 {
	f := faceOf(bold)
	var buf sfnt.Buffer
	var sum fixed.Int26_6
	for _, r := range printable(text) {
		glyph, err := f.font.GlyphIndex(&buf, r)
		if err != nil {
			continue
		}
		if advance, err := f.font.GlyphAdvance(&buf, glyph, f.em, font.HintingNone); err == nil {
			sum += advance
		}
	}
	return size * float64(sum) / float64(f.em)
}

// TextHeight is the height of a line of text from above its capitals, accents
// and all, to below its descenders.
func TextHeight(size float64) float64 { return size * (ascent + descent) }

// printable is the text as every format can show it: characters that the font
// lacks, or that XML forbids, become U+FFFD; blanks of any kind become spaces.
func printable(text string) string {
	ok := true
	for _, r := range text {
		if r < ' ' || r > '~' {
			ok = false
			break
		}
	}
	if ok {
		return text
	}
	f := faceOf(false)
	var buf sfnt.Buffer
	return strings.Map(func(r rune) rune {
		switch {
		case r == '\t' || r == '\n' || r == '\r' || r == '\u00a0' || r == '\u2009' || r == '\u202f':
			return ' '
		case r < ' ' || r >= 0x7f && r < 0xa0 || r > 0xffff:
			return utf8.RuneError
		}
		if glyph, err := f.font.GlyphIndex(&buf, r); err != nil || glyph == 0 {
			return utf8.RuneError
		}
		return r
	}, text)
}

// Fit shortens a text to a width in mm; what is left out is shown by "…".
func Fit(text string, size float64, bold bool, width float64) string {
	if TextWidth(text, size, bold) <= width {
		return text
	}
	runes := []rune(text)
	for n := len(runes) - 1; n > 0; n-- {
		if short := strings.TrimRight(string(runes[:n]), " ") + "…"; TextWidth(short, size, bold) <= width {
			return short
		}
	}
	return "…"
}

// Wrap breaks a text at blanks into lines of a width in mm; a longer word has
// a line of its own.
func Wrap(text string, size float64, bold bool, width float64) []string {
	var lines []string
	line := ""
	for _, word := range strings.Fields(text) {
		if line != "" && TextWidth(line+" "+word, size, bold) > width {
			lines = append(lines, line)
			line = ""
		}
		if line != "" {
			line += " "
		}
		line += word
	}
	if line != "" {
		lines = append(lines, line)
	}
	return lines
}
