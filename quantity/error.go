package quantity

import "strconv"

// An Error is one fault in the text of a quantity, told in the author's words.
type Error struct {
	Text    string // the whole text, as typed
	Problem string // what is wrong, with the value and unit as typed
	Fix     string // the change to make
	Offset  int    // characters of Text before the trouble
}

func (e *Error) Error() string {
	return strconv.Quote(e.Text) + ": " + e.Problem
}
