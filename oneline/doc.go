// Package oneline draws the one-line diagram of a study in one condition.
//
// The diagram is laid out from the connections alone. Infeeds stand at the
// top; from each bus its main continuation goes straight down and everything
// else hangs to the right of it, in the order of the study. A subtree is laid
// out by itself and then moved as a whole, to the left as far as what stands
// there already permits. So an edit moves what is beside it, and rearranges
// nothing else. What closes a loop, and what is normally open between two
// feeders, ends in open line ends that are joined last, around everything.
//
// The layout goes by the study as written, so that it is the same in every
// condition; what a condition changes is shown by symbols: open or closed, out
// of service, dead. Shape tells them, not colour.
//
// What doesn't fit on one sheet is cut at feeders first, then where a sheet is
// full; a cut line ends in a flag that names where it goes on.
//
// Symbols follow IEC 60617 or IEEE Std 315 [both from memory]; for the
// position of a device, which neither shows in a closed drawing, a symbol has a
// form of its own. Fault levels are given by the caller: nothing is computed here.
package oneline

import (
	"feederwright/drawing"
	"feederwright/study"
)

// Sizes of the diagram, in mm.
const (
	nameSize   = 2.6 // names
	detailSize = 2.3 // what stands below a name
	gap        = 3.0 // between columns
	conductor  = 0.3 // width of lines
)

// Symbol sets.
const (
	IEC  = "iec"
	IEEE = "ieee"
)

// A Range is the largest and smallest value over some conditions, in A.
type Range struct{ Max, Min float64 }

// A Level is the fault level of a bus.
type Level struct {
	ThreePhase *Range // none where nil
	Ground     *Range // line to earth
	Note       string // why there is none
}

// Options say what is shown, and how.
type Options struct {
	Symbols string           // IEC or IEEE; if empty, by the practice of the study
	Ratings bool             // ratings of devices, machines and loads
	Levels  map[string]Level // fault levels by bus; none if nil
	// Paper is the size of sheets; its zero value is one page as large as the
	// diagram, without title block. The long side lies where it serves better.
	Paper    drawing.Paper
	Date     string // of the title block
	Revision string
	Notes    []string

	// Fold draws a lateral of at least so many buses as one mark behind the devices that it begins with; 0 draws
	// everything. What goes straight on from a bus is no lateral, nor is what begins with a breaker; one that holds a source
	// or the end of a joining line stays.
	Fold int
	// Open are first buses of laterals that are drawn all the same; laterals from them on are folded.
	Open []string
}

// A Folded is a lateral drawn as one mark, an item of kind fold with the name At.
type Folded struct {
	At     string // its first bus
	Buses  int
	Things []Item // what lies there, by kind and name alone
}

// An Item is a thing of the study as it was drawn.
type Item struct {
	Kind, Name string
	Sheet      int // from 0
	At         drawing.Point
	Symbols    []drawing.Rect
	Labels     []drawing.Rect
	Dead       bool // no source reaches it in the state drawn
}

// A Diagram is a study drawn.
type Diagram struct {
	Pages []*drawing.Page
	Items []Item // in the order of the drawing
	Folds []Folded
	// Crossings counts where joining lines had to cross others, Flagged the
	// connections within a sheet that found no way and are drawn as flags.
	Crossings, Flagged int
}

// AsWritten is the state of a study in which every device stands as it is
// normally, everything is in service and infeeds are at their maximum.
func AsWritten(doc *study.Document) study.State {
	s := study.State{Name: study.AsWritten, Infeed: map[string]string{}, Open: map[string]bool{}, Out: map[study.PlantRef]bool{}}
	for _, d := range doc.Devices() {
		s.Open[d.Name] = d.Normally.V == "open"
	}
	for _, e := range doc.Supply.Entries {
		s.Infeed[e.Name] = "maximum"
	}
	return s
}
