// Package dossier is the report set of a study: chapters of a small document
// model, and writers of that model as HTML, PDF and XLSX.
//
// A Chapter turns results into blocks (paragraphs, tables, cards, steps of
// workings, figures); the writers lay blocks out and know nothing of feeders.
// Nothing is computed here that another package computes: a chapter asks the
// report and its cases, and formats what they return.
//
//	book, err := dossier.Build(&input, dossier.Chapters())
//	html := dossier.HTML(book)
//	pdf, err := dossier.PDF(book, dossier.A4)
//	xlsx, err := dossier.XLSX(book)
//
// The same input gives the same bytes. Date, version and issue come from the
// caller.
package dossier

import (
	"fmt"

	"feederwright/working"

	"codeberg.org/go-pdf/fpdf"
)

// A Book is a dossier ready to be written.
type Book struct {
	Title   string // of the study
	Name    string // what it is: "Dossier"
	File    string // main file of the study
	Hash    string // of the study
	Date    string // year-month-day
	Program string // name and version of the program
	Issue   string // of the issue; "" while it is a draft

	Cover    []Block
	Chapters []Section
}

// Draft tells whether the book is not issued.
func (b *Book) Draft() bool { return b.Issue == "" }

// State is the issue in words.
func (b *Book) State() string {
	if b.Draft() {
		return "DRAFT, not issued"
	}
	return "Issue " + b.Issue
}

// shortHash is as much of the hash as a footer has room for.
func (b *Book) shortHash() string {
	if len(b.Hash) > 16 {
		return b.Hash[:16]
	}
	return b.Hash
}

// A Section is one chapter of a book.
type Section struct {
	Title  string
	Annex  bool // lettered, behind the chapters
	Blocks []Block
}

// A Block is one thing that stands below another: a Heading, Para, Table,
// Facts, Card, Steps, Figure, Note, PageBreak or SignOff.
type Block interface{ block() }

// A Heading begins a part of a chapter; it is numbered.
type Heading struct{ Text string }

// A Para is a paragraph.
type Para struct {
	Text  Rich
	Small bool
}

// A List is a list with bullets.
type List struct{ Items []Rich }

// Facts are terms with what is to be said of each.
type Facts struct{ Items []Fact }

// A Fact is one of them.
type Fact struct {
	Term string
	Text Rich
}

// A Note stands out. A caution is one by which somebody may be spared harm.
type Note struct {
	Caution bool
	Title   string
	Text    []Rich
}

// A Card is a finding.
type Card struct {
	Mark  string // FAILS, THIN, UNPROVEN, holds
	Grade int    // 0 the worst
	Title string
	ID    string
	Facts []Fact
}

// Steps is a working.
type Steps struct {
	Title string
	Steps []working.Step
}

// A Drawing is a figure of whatever package draws it.
type Drawing interface {
	Size() (width, height float64) // mm
	SVG() []byte
	// PDF draws it with its upper left corner at x and y, all lengths times scale.
	PDF(doc *fpdf.Fpdf, x, y, scale float64)
}

// A Figure is a drawing with its caption.
type Figure struct {
	Drawing Drawing
	Caption string
}

// A PageBreak begins a new page.
type PageBreak struct{}

// A SignOff is a row of places to sign for each of some roles.
type SignOff struct{ Roles []string }

// An Align says at which side of its column a cell stands.
type Align int

// The sides.
const (
	Left   Align = iota
	Right        // numbers
	Center       // marks
)

// A Column of a table.
type Column struct {
	Group string // above the heads of neighbouring columns of one group
	Head  string
	Unit  string // of all its numbers; "" where there is none
	Align Align
	// Key columns are repeated where a table is too wide for the page and is
	// continued below. They come first.
	Key bool
	// Code texts (names, hashes) may be broken anywhere.
	Code bool
}

// A Table has a name, which is that of its sheet in a workbook, and a caption.
type Table struct {
	Name    string
	Caption string
	Columns []Column
	Rows    []Row
	Notes   []string
	// Sheet only: left out of the pages, for the workbook alone.
	SheetOnly bool
}

// A Row of a table; a Head row has one cell and parts the rows below it off.
type Row struct {
	Cells []Cell
	Head  bool
	Rule  bool // a line above it
}

// A Cell holds a text, and the number that it is of, if any.
type Cell struct {
	Text   string
	Number *float64 // in the column's unit
	Strong bool
}

// Words is a cell with a text.
func Words(s string) Cell { return Cell{Text: s} }

// Number is a cell with a number written with so many significant digits.
func Number(x float64, digits int) Cell {
	return Cell{Text: working.Number(x, digits), Number: &x}
}

// Count is a cell with a whole number.
func Count(n int) Cell {
	x := float64(n)
	return Cell{Text: fmt.Sprint(n), Number: &x}
}

// Absent is a cell for what does not exist.
var Absent = Cell{Text: "—"}

func (Heading) block()   {}
func (Para) block()      {}
func (List) block()      {}
func (Facts) block()     {}
func (Note) block()      {}
func (Card) block()      {}
func (Steps) block()     {}
func (Figure) block()    {}
func (PageBreak) block() {}
func (SignOff) block()   {}
func (*Table) block()    {}
