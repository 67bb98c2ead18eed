package quantity

import (
	"strings"
	"unicode"
)

// A Neutral is how a neutral is earthed: solidly, not at all (open), or
// through the impedance Z in ohm. One of the three holds; the zero value is none.
type Neutral struct {
	Solid, Open bool
	Z           complex128 // between neutral and earth, not three times it
}

var neutralForm = newForm("a", "neutral earthing",
	"The earthing of a neutral: solid, open, or the impedance between neutral and earth (6.35 ohm, j2.6 ohm).",
	anySign, []dimension{dimImpedance},
	`(?:solid|open|`+complexPattern+` *`+unitPattern(dimImpedance)+`)`,
	"solid", "6.35 ohm", "j2.6 ohm", "open")

// UnmarshalText reads solid, open or an impedance.
func (n *Neutral) UnmarshalText(text []byte) error {
	s, err := newScanner(text, neutralForm)
	if err != nil {
		return err
	}
	if s.atWord() {
		w, err := s.oneOf("solid", "open")
		if err == nil {
			*n = Neutral{Solid: w == "solid", Open: w == "open"}
		}
		return err
	}
	start := s.pos
	z, _, err := s.complexAmount(&neutralForm.want)
	if err != nil {
		return err
	}
	if err := s.end(); err != nil {
		return err
	}
	if z == 0 {
		s.pos = len(s.runes)
		return s.fail(start, "write solid", "%s is a neutral earthed solidly", s.since(start))
	}
	*n = Neutral{Z: z}
	return nil
}

// String returns the earthing, as UnmarshalText reads it.
func (n Neutral) String() string {
	switch {
	case n.Solid:
		return "solid"
	case n.Open:
		return "open"
	case n.Z == 0:
		return ""
	}
	return Impedance(n.Z).String()
}

// MarshalText returns what String does; a value that would not read back is an error.
func (n Neutral) MarshalText() ([]byte, error) { return marshal[Neutral](n) }

// Describe tells how the type is written.
func (n Neutral) Describe() Description { return neutralForm.describe() }

// oneOf takes a whole text that is one of the words given, where an impedance
// could stand too.
func (s *scanner) oneOf(words ...string) (string, error) {
	start := s.pos
	for s.pos < len(s.runes) && (unicode.IsLetter(s.peek(0)) || s.peek(0) == '-') {
		s.pos++
	}
	typed := s.since(start)
	for _, w := range words {
		if typed == w {
			return w, s.end()
		}
	}
	fix := "write " + strings.Join(words, ", ") + " or an impedance such as 6.35 ohm"
	if near, ok := Nearest(typed, words); ok {
		fix = "write " + near
	}
	return "", s.fail(start, fix, "%q is neither %s nor an impedance", s.from(start), strings.Join(words, " nor "))
}
