package quantity

import (
	"math/bits"
	"strings"
)

// Phases is a set of conductors, one bit each.
type Phases uint8

// The conductors. PhaseN is the neutral.
const (
	PhaseA Phases = 1 << iota
	PhaseB
	PhaseC
	PhaseN

	// PhasesABC are the three phases without the neutral.
	PhasesABC = PhaseA | PhaseB | PhaseC
)

const conductorPattern = `(?:[ABCN]|L[123])`

var phasesForm = newForm("a", "phase set",
	"The conductors present: A B C, or L1 L2 L3, and N for the neutral, with or without spaces, in any order.",
	anySign, nil, conductorPattern+`(?: *`+conductorPattern+`){0,3}`,
	"ABC", "L1 L2 L3", "B", "AN")

// Has says whether all conductors of q are in p.
func (p Phases) Has(q Phases) bool { return p&q == q }

// Count returns how many conductors p has, the neutral among them.
func (p Phases) Count() int { return bits.OnesCount8(uint8(p)) }

// List returns the conductors of p one by one, in the order A B C N.
func (p Phases) List() []Phases {
	var list []Phases
	for c := PhaseA; c <= PhaseN; c <<= 1 {
		if p.Has(c) {
			list = append(list, c)
		}
	}
	return list
}

// Letters returns the conductors as letters in the order ABCN.
func (p Phases) Letters() string {
	var b strings.Builder
	for i, letter := range "ABCN" {
		if p.Has(1 << i) {
			b.WriteRune(letter)
		}
	}
	return b.String()
}

// String is Letters; UnmarshalText reads it.
func (p Phases) String() string { return p.Letters() }

// UnmarshalText reads a set of conductors such as ABC, AN or L1 L2.
func (p *Phases) UnmarshalText(text []byte) error {
	s, err := newScanner(text, phasesForm)
	if err != nil {
		return err
	}
	var got Phases
	var names naming
	for !s.atEnd() {
		start := s.pos
		c, err := s.conductor(&names)
		if err != nil {
			return err
		}
		if got.Has(1 << c) {
			return s.fail(start, "name each conductor once", "%s stands here twice", s.since(start))
		}
		got |= 1 << c
		s.spaces()
	}
	*p = got
	return nil
}

// MarshalText returns what String does; the empty set is an error.
func (p Phases) MarshalText() ([]byte, error) { return marshal[Phases](p) }

// Describe tells how the type is written.
func (p Phases) Describe() Description { return phasesForm.describe() }

// A naming remembers whether phases were called by letters or by L and number.
type naming struct{ letters, numbers bool }

// conductor takes one conductor and returns its place in A B C N, from 0.
func (s *scanner) conductor(names *naming) (int, error) {
	start := s.pos
	var c int
	switch r := s.peek(0); {
	case r == 'N':
		s.pos++
		return 3, nil
	case 'A' <= r && r <= 'C':
		s.pos++
		names.letters = true
		c = int(r - 'A')
	case r == 'L' && '1' <= s.peek(1) && s.peek(1) <= '3':
		s.pos += 2
		names.numbers = true
		c = int(s.runes[s.pos-1] - '1')
	case 'a' <= r && r <= 'c' || r == 'l' && '1' <= s.peek(1) && s.peek(1) <= '3' || r == 'n':
		return 0, s.fail(start, "write "+strings.ToUpper(s.rest()), "%s is no conductor: capitals matter", s.token(start))
	case s.atEnd():
		return 0, s.fail(start, s.form.fix(), "the text ends where a conductor is wanted")
	default:
		return 0, s.fail(start, s.form.fix(), "%q is no conductor; they are A B C or L1 L2 L3, and N", s.rest())
	}
	if names.letters && names.numbers {
		return 0, s.fail(start, "use either A B C or L1 L2 L3", "%s mixes two ways of naming the phases", s.from(start))
	}
	return c, nil
}

// A SignedSum says which conductor currents or voltages add up in a circuit,
// and with which sign: Coefficient is -1, 0 or 1 for each of A B C N.
type SignedSum struct{ Coefficient [4]int8 }

var signedSumForm = newForm("a", "signed sum of conductors",
	"A sum of conductors with signs: A - B, A + B + C, -A, or with L1 L2 L3; each conductor once.",
	anySign, nil, signPattern+`? *`+conductorPattern+`(?: *`+signPattern+` *`+conductorPattern+`){0,3}`,
	"A - B", "A + B + C", "-A", "L1 + L2 + L3 + N")

// UnmarshalText reads a signed sum such as A - B.
func (t *SignedSum) UnmarshalText(text []byte) error {
	s, err := newScanner(text, signedSumForm)
	if err != nil {
		return err
	}
	var got SignedSum
	var names naming
	for first := true; first || !s.atEnd(); first = false {
		var sign int8 = 1
		switch {
		case s.eat('-'):
			sign = -1
		case s.eat('+'), first:
		default:
			return s.fail(s.pos, "write a sign between the conductors, as A + B", "%q follows without a sign", s.rest())
		}
		s.spaces()
		start := s.pos
		c, err := s.conductor(&names)
		if err != nil {
			return err
		}
		if got.Coefficient[c] != 0 {
			return s.fail(start, "name each conductor once", "%s stands here twice", s.since(start))
		}
		got.Coefficient[c] = sign
		s.spaces()
	}
	*t = got
	return nil
}

// String returns the sum with letters in the order A B C N, as UnmarshalText reads it.
func (t SignedSum) String() string {
	var b strings.Builder
	for i, letter := range "ABCN" {
		switch c := t.Coefficient[i]; {
		case c < 0 && b.Len() == 0:
			b.WriteString("-")
		case c < 0:
			b.WriteString(" - ")
		case c > 0 && b.Len() > 0:
			b.WriteString(" + ")
		}
		if t.Coefficient[i] != 0 {
			b.WriteRune(letter)
		}
	}
	return b.String()
}

// MarshalText returns what String does; the empty sum is an error.
func (t SignedSum) MarshalText() ([]byte, error) { return marshal[SignedSum](t) }

// Describe tells how the type is written.
func (t SignedSum) Describe() Description { return signedSumForm.describe() }
