package tables

import (
	"strings"
	"unicode/utf8"

	"feederwright/study"
)

// A piece is a stretch of a study file that came from a cell.
type piece struct {
	start, end int
	at         cellRef
	from       int  // where the cell's text begins in the piece, for pieces that hold it as it is; else −1
	silent     bool // what is said about it is told already, of the cell
}

// A cellRef is a cell of a sheet: row and column from 0. Column −1 is the
// whole row, row −1 the whole file.
type cellRef struct {
	sheet       *sheet
	row, column int
}

// A studyFile is a study file in the making, with the cells it comes from.
type studyFile struct {
	name   string
	text   strings.Builder
	pieces []piece
}

func (f *studyFile) write(text string) { f.text.WriteString(text) }

// put writes a text that came from a cell.
func (f *studyFile) put(p part) {
	start := f.text.Len()
	f.text.WriteString(p.text)
	f.pieces = append(f.pieces, piece{start, f.text.Len(), p.at, p.from, p.silent})
}

// find is the piece that a place of the file belongs to: that at the place, else the last before.
func (f *studyFile) find(offset int) (piece, bool) {
	lo, hi := 0, len(f.pieces) // pieces stand in order and don't overlap
	for lo < hi {
		if mid := (lo + hi) / 2; f.pieces[mid].start <= offset {
			lo = mid + 1
		} else {
			hi = mid
		}
	}
	if lo == 0 {
		return piece{}, false
	}
	return f.pieces[lo-1], true
}

// A part is a text on its way into a study file; its fields are those of the
// piece that it becomes.
type part struct {
	text   string
	at     cellRef
	from   int
	silent bool
}

// scalar is a value of a cell in the notation of the study. The text may have
// more at its end than the cell, such as a unit from the heading.
func scalar(text string, verbatim bool, at cellRef, silent bool) part {
	written := study.Scalar(text)
	p := part{text: written, at: at, from: -1, silent: silent}
	switch {
	case !verbatim:
	case written == text:
		p.from = 0
	case len(written) == len(text)+2: // in quotes, nothing escaped
		p.from = 1
	}
	return p
}

// A pair is a key of an entry and its value: parts in order, or pairs of a
// group below it.
type pair struct {
	key   string
	value []part
	group []pair
}

// An entry is a named thing of a table.
type entry struct {
	name  part
	pairs []pair
}

// lineWidth is how wide an entry on one line may be.
const lineWidth = 110

// entry writes an entry on one line where it fits, else with a line for each key.
func (f *studyFile) entry(e entry) {
	f.write("  ")
	f.put(e.name)
	f.write(":")
	if width(e.pairs)+utf8.RuneCountInString(e.name.text)+4 <= lineWidth {
		f.write(" ")
		f.flow(e.pairs)
		f.write("\n")
		return
	}
	f.write("\n")
	for _, p := range e.pairs {
		f.write("    ")
		f.key(p)
		if p.group != nil {
			f.flow(p.group)
		}
		f.write("\n")
	}
}

// key writes a key with its value, but not a group below it.
func (f *studyFile) key(p pair) {
	f.write(p.key + ": ")
	for _, v := range p.value {
		f.put(v)
	}
}

func (f *studyFile) flow(pairs []pair) {
	if len(pairs) == 0 {
		f.write("{}")
		return
	}
	f.write("{ ")
	for i, p := range pairs {
		if i > 0 {
			f.write(", ")
		}
		f.key(p)
		if p.group != nil {
			f.flow(p.group)
		}
	}
	f.write(" }")
}

// width is how many characters the pairs take on one line.
func width(pairs []pair) int {
	n := 4
	for _, p := range pairs {
		n += len(p.key) + 4
		for _, v := range p.value {
			n += utf8.RuneCountInString(v.text)
		}
		if p.group != nil {
			n += width(p.group)
		}
	}
	return n
}
