package dossier

// A Style of a piece of text.
type Style int

// Styles that a piece may have together.
const (
	Plain  Style = 0
	Strong Style = 1 << iota
	Slanted
	Below // subscript
	Above // superscript
	Coded // a name of the study, a key, a command
)

// A Span is a piece of text in one style.
type Span struct {
	Text  string
	Style Style
}

// Rich is a text in pieces.
type Rich []Span

// T is a plain text.
func T(s string) Rich { return Rich{{Text: s}} }

// Plain adds plain text.
func (r Rich) Plain(s string) Rich { return r.with(s, Plain) }

// Strong adds strong text.
func (r Rich) Strong(s string) Rich { return r.with(s, Strong) }

// Slanted adds a symbol or a word with stress.
func (r Rich) Slanted(s string) Rich { return r.with(s, Slanted) }

// Below adds a subscript.
func (r Rich) Below(s string) Rich { return r.with(s, Below) }

// Above adds a superscript.
func (r Rich) Above(s string) Rich { return r.with(s, Above) }

// Code adds a name, a key or a command.
func (r Rich) Code(s string) Rich { return r.with(s, Coded) }

func (r Rich) with(s string, style Style) Rich {
	return append(r[:len(r):len(r)], Span{s, style})
}

// String is the text without its styles.
func (r Rich) String() string {
	s := ""
	for _, span := range r {
		s += span.Text
	}
	return s
}
