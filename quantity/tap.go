package quantity

import "strings"

// A TapRange is the range of a tap changer: the lowest and highest position
// as fractions of the rated turns (-0.1, 0.1), and the number of steps between.
type TapRange struct {
	Min, Max float64
	Steps    int
}

var (
	tapRangeForm = newForm("a", "tap range",
		"A tap range: +-10 % in 32 steps, or -15 % to +5 % in 16 steps.",
		unsigned, []dimension{dimPercent},
		`(?:(?:±|\+[\-−]|\+/[\-−]) *`+numberPattern+` *%|`+signPattern+`?`+numberPattern+` *% *to +`+signPattern+`?`+numberPattern+` *%)`+
			` *in +[1-9][0-9]* *steps?`,
		"+-10 % in 32 steps", "-15 % to +5 % in 16 steps")
	wantTap = newWant("a", "percentage", anySign, []dimension{dimPercent}, "5 %", "-15 %")
)

// Step returns the fraction between neighbouring positions.
func (t TapRange) Step() float64 { return (t.Max - t.Min) / float64(t.Steps) }

// UnmarshalText reads a tap range such as +-10 % in 32 steps.
func (t *TapRange) UnmarshalText(text []byte) error {
	s, err := newScanner(text, tapRangeForm)
	if err != nil {
		return err
	}
	start := s.pos
	var got TapRange
	if s.plusMinus() {
		s.spaces()
		at := s.pos
		if d, err := s.number(false); err == nil && s.word("in") && isDigit(s.peek(0)) {
			// This "in" is no inch: the percent sign is missing.
			return s.noUnit(at, d.text, &tapRangeForm.want)
		}
		s.pos = at
		if got.Max, _, err = s.amount(&tapRangeForm.want); err != nil {
			return err
		}
		if got.Max != 0 { // never −0
			got.Min = -got.Max
		}
	} else {
		if got.Min, _, err = s.amount(wantTap); err != nil {
			return err
		}
		if !s.word("to") {
			return s.fail(start, tapRangeForm.fix(), "%s is one end of a range: the other is missing", s.since(start))
		}
		if got.Max, _, err = s.amount(wantTap); err != nil {
			return err
		}
	}
	if got.Max-got.Min < leastRange {
		return s.fail(start, "write the lower end first, as -15 % to +5 %", "%s does not rise from its first end to its second", s.since(start))
	}
	if got.Min < leastRange-1 {
		return s.fail(start, tapRangeForm.fix(), "%s leaves no turns at its lower end", s.since(start))
	}
	if !s.word("in") {
		if s.spaces(); s.atEnd() {
			return s.fail(start, "add the number of steps, as in 32 steps", "%s does not say in how many steps", s.since(start))
		}
		return s.end()
	}
	if got.Steps, err = s.steps(); err != nil {
		return err
	}
	if err := s.end(); err != nil {
		return err
	}
	*t = got
	return nil
}

// leastRange is the smallest range, as a fraction, that is told from none.
const leastRange = 1e-9

// plusMinus takes ±, +- or +/-.
func (s *scanner) plusMinus() bool {
	for _, sign := range []string{"±", "+-", "+/-"} {
		r := []rune(sign)
		if s.pos+len(r) <= len(s.runes) && string(s.runes[s.pos:s.pos+len(r)]) == sign {
			s.pos += len(r)
			return true
		}
	}
	return false
}

// mostSteps bounds the steps of a tap changer; real ones have up to about 35.
const mostSteps = 1000

// steps takes a count of steps with its word.
func (s *scanner) steps() (int, error) {
	start := s.pos
	n := 0
	for ; isDigit(s.peek(0)) && n <= mostSteps; s.pos++ {
		n = n*10 + int(s.runes[s.pos]-'0')
	}
	if s.pos == start || s.runes[start] == '0' || n > mostSteps {
		return 0, s.fail(start, "write a number of steps such as 32 steps", "%q is no number of steps", s.token(start))
	}
	if s.word("steps") || s.word("step") {
		return n, nil
	}
	return 0, s.fail(s.pos, s.form.fix(), "the word steps is missing after %d", n)
}

// String returns the range, as UnmarshalText reads it.
func (t TapRange) String() string {
	var b strings.Builder
	if t.Min == -t.Max {
		b.WriteString("+-" + decimalText(t.Max, -2) + " %")
	} else {
		b.WriteString(signedPercent(t.Min) + " to " + signedPercent(t.Max))
	}
	steps := " steps"
	if t.Steps == 1 {
		steps = " step"
	}
	return b.String() + " in " + decimalText(float64(t.Steps), 0) + steps
}

func signedPercent(v float64) string {
	sign := ""
	if v > 0 {
		sign = "+"
	}
	return sign + decimalText(v, -2) + " %"
}

// MarshalText returns what String does; a value that would not read back is an error.
func (t TapRange) MarshalText() ([]byte, error) { return marshal[TapRange](t) }

// Describe tells how the type is written.
func (t TapRange) Describe() Description { return tapRangeForm.describe() }
