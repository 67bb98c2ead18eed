package dossier

// A Paper is a size of page.
type Paper struct {
	Name          string
	width, height float64 // mm
	css           string
}

// The papers, upright. Source: ISO 216:2007 for A4; ANSI/ASME Y14.1 size A,
// 8.5 by 11 inch, for Letter [from memory].
var (
	A4     = Paper{"a4", 210, 297, "A4"}
	Letter = Paper{"letter", 215.9, 279.4, "letter"}
)

// Papers are all of them.
var Papers = []Paper{A4, Letter}
