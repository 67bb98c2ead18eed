package quantity

// complexPattern is a resistance, a reactance, or both.
const complexPattern = `(?:` + signPattern + `?` + imaginaryPattern +
	`|` + signPattern + `?` + numberPattern + `(?: *` + signPattern + ` *` + imaginaryPattern + `)?)`

const imaginaryPattern = `(?:j` + numberPattern + `|` + numberPattern + `j)`

// A complexDecimal is a complex number as typed; a part not typed is "0".
type complexDecimal struct{ re, im decimal }

// complexNumber takes R, jX, R + jX or R - jX, with j before or after its number.
func (s *scanner) complexNumber() (complexDecimal, error) {
	start := s.pos
	zero := decimal{digits: "0", text: "0", at: start}
	first, imaginary, err := s.complexTerm()
	if err != nil {
		return complexDecimal{}, err
	}
	if imaginary {
		if mark := s.pos; s.nextIsSign() {
			return complexDecimal{}, s.fail(start, "write the resistance first, as 0.3061 + j0.6270", "something follows the reactance %s", string(s.typed[start:mark]))
		}
		return complexDecimal{zero, first}, nil
	}
	end := s.pos
	if !s.nextIsSign() {
		s.pos = end
		return complexDecimal{first, zero}, nil
	}
	s.spaces()
	negative := s.peek(0) == '-'
	s.pos++
	s.spaces()
	at := s.pos
	if s.peek(0) == '-' || s.peek(0) == '+' {
		return complexDecimal{}, s.fail(at, "write one sign", "two signs follow each other")
	}
	second, imaginary, err := s.complexTerm()
	if err != nil {
		return complexDecimal{}, err
	}
	if !imaginary {
		return complexDecimal{}, s.fail(at, "write the reactance as j"+second.text, "%s, the second part of a complex number, has no j", second.text)
	}
	if negative {
		second.digits = "-" + second.digits
	}
	return complexDecimal{first, second}, nil
}

// nextIsSign says whether a sign comes next, after any spaces.
func (s *scanner) nextIsSign() bool {
	n := 0
	for s.peek(n) == ' ' {
		n++
	}
	return s.peek(n) == '-' || s.peek(n) == '+'
}

// complexTerm takes a number with or without its j.
func (s *scanner) complexTerm() (d decimal, imaginary bool, err error) {
	start := s.pos
	sign := ""
	if r := s.peek(0); (r == '-' || r == '+') && s.peek(1) == 'j' {
		s.pos++
		if r == '-' {
			sign = "-"
		}
	}
	if s.peek(0) == 'j' {
		s.pos++
		if s.atEnd() || !isDigit(s.peek(0)) && s.peek(0) != '.' {
			return d, true, s.fail(start, "write the reactance as j0.6270, without a space or sign after the j", "no number follows the j")
		}
		if d, err = s.number(false); err != nil {
			return d, true, err
		}
		d.digits = sign + d.digits
		return d, true, nil
	}
	if s.peek(0) == 'i' && isDigit(s.peek(1)) {
		return d, false, s.fail(s.pos, "write j"+s.token(s.pos)[1:], "the imaginary unit is written j here")
	}
	if d, err = s.number(true); err != nil {
		return d, false, err
	}
	if s.peek(0) == 'i' && s.peek(1) != 'n' { // not the inch
		return d, false, s.fail(s.pos, "write j"+d.text, "the imaginary unit is written j here")
	}
	return d, s.eat('j'), nil
}

// complexSI returns the number in SI, for its unit.
func (s *scanner) complexSI(c complexDecimal, u unit) (complex128, error) {
	re, err := s.si(c.re, u)
	if err != nil {
		return 0, err
	}
	im, err := s.si(c.im, u)
	return complex(re, im), err
}

// complexAmount takes a complex number with its unit.
func (s *scanner) complexAmount(w *want) (complex128, unit, error) {
	start := s.pos
	c, err := s.complexNumber()
	if err != nil {
		return 0, unit{}, err
	}
	u, err := s.unitOf(start, w)
	if err != nil {
		return 0, unit{}, err
	}
	z, err := s.complexSI(c, u)
	return z, u, err
}

// complexText writes z·10^-exp.
func complexText(z complex128, exp int) string {
	re, im := real(z), imag(z)
	switch {
	case im == 0:
		return decimalText(re, exp)
	case re == 0 && im < 0:
		return "-j" + decimalText(-im, exp)
	case re == 0:
		return "j" + decimalText(im, exp)
	case im < 0:
		return decimalText(re, exp) + " - j" + decimalText(-im, exp)
	}
	return decimalText(re, exp) + " + j" + decimalText(im, exp)
}

// readComplex reads a whole text that is a complex number with one unit.
func readComplex(text []byte, f *form) (complex128, unit, error) {
	s, err := newScanner(text, f)
	if err != nil {
		return 0, unit{}, err
	}
	z, u, err := s.complexAmount(&f.want)
	if err != nil {
		return 0, unit{}, err
	}
	return z, u, s.end()
}

// An Impedance is a complex impedance in ohm, inductive reactance positive.
type Impedance complex128

var impedanceForm = newForm("an", "impedance",
	"An impedance: a resistance, a reactance with j, or R + jX, with ohm, mohm, uohm or kohm.",
	anySign, []dimension{dimImpedance}, complexPattern+" *"+unitPattern(dimImpedance),
	"6.35 ohm", "0.3061 + j0.6270 ohm", "j2.6 ohm")

// UnmarshalText reads an impedance such as 6.35 ohm or 1 - j2 ohm.
func (z *Impedance) UnmarshalText(text []byte) error {
	v, _, err := readComplex(text, impedanceForm)
	if err == nil {
		*z = Impedance(v)
	}
	return err
}

// String returns the impedance in ohm, as UnmarshalText reads it.
func (z Impedance) String() string { return complexText(complex128(z), 0) + " ohm" }

// MarshalText returns what String does; a value that would not read back is an error.
func (z Impedance) MarshalText() ([]byte, error) { return marshal[Impedance](z) }

// Describe tells how the type is written.
func (z Impedance) Describe() Description { return impedanceForm.describe() }

// An ImpedancePerLength is a complex series impedance per length, in ohm/m.
type ImpedancePerLength complex128

var impedancePerLengthForm = newForm("an", "impedance per length",
	"An impedance per length: R + jX with ohm/mi, ohm/km, ohm/kft, ohm/1000 ft, ohm/m or ohm/ft.",
	anySign, []dimension{dimImpedancePerLength}, complexPattern+" *"+unitPattern(dimImpedancePerLength),
	"0.3061 + j0.6270 ohm/mi", "0.19 + j0.39 ohm/km")

// UnmarshalText reads an impedance per length such as 0.3061 + j0.6270 ohm/mi.
func (z *ImpedancePerLength) UnmarshalText(text []byte) error {
	v, _, err := readComplex(text, impedancePerLengthForm)
	if err == nil {
		*z = ImpedancePerLength(v)
	}
	return err
}

// String returns the impedance in ohm/km, as UnmarshalText reads it.
func (z ImpedancePerLength) String() string { return complexText(complex128(z), -3) + " ohm/km" }

// MarshalText returns what String does; a value that would not read back is an error.
func (z ImpedancePerLength) MarshalText() ([]byte, error) { return marshal[ImpedancePerLength](z) }

// Describe tells how the type is written.
func (z ImpedancePerLength) Describe() Description { return impedancePerLengthForm.describe() }

// A SeriesImpedance is the series impedance of a line: per length (ohm/m), or
// in total (ohm).
type SeriesImpedance struct {
	Z         complex128
	PerLength bool
}

var seriesUnits = []dimension{dimImpedancePerLength, dimImpedance}

var seriesImpedanceForm = newForm("a", "series impedance",
	"A series impedance: R + jX with ohm/mi, ohm/km, ohm/kft, ohm/1000 ft, ohm/m or ohm/ft, or in total with ohm.",
	anySign, seriesUnits, complexPattern+" *"+unitPattern(seriesUnits...),
	"0.3061 + j0.6270 ohm/mi", "0.45 + j0.92 ohm")

// UnmarshalText reads an impedance, per length or in total.
func (z *SeriesImpedance) UnmarshalText(text []byte) error {
	v, u, err := readComplex(text, seriesImpedanceForm)
	if err == nil {
		*z = SeriesImpedance{v, u.dim == dimImpedancePerLength}
	}
	return err
}

// String returns the impedance in ohm or ohm/km, as UnmarshalText reads it.
func (z SeriesImpedance) String() string {
	if z.PerLength {
		return ImpedancePerLength(z.Z).String()
	}
	return Impedance(z.Z).String()
}

// MarshalText returns what String does; a value that would not read back is an error.
func (z SeriesImpedance) MarshalText() ([]byte, error) { return marshal[SeriesImpedance](z) }

// Describe tells how the type is written.
func (z SeriesImpedance) Describe() Description { return seriesImpedanceForm.describe() }

// TypedUnit returns the unit at the end of a text that is one real or complex
// number with its unit, in the spelling of this package ("ohm/1000 ft"), or ""
// for any other text. A check can ask with it whether, say, ohm/mi was typed
// where ohm/km was meant.
func TypedUnit(text string) string {
	s, err := newScanner([]byte(text), seriesImpedanceForm)
	if err != nil {
		return ""
	}
	if _, err := s.complexNumber(); err != nil {
		return ""
	}
	s.spaces()
	u, known := unitByName[s.takeUnit()]
	if !known || s.end() != nil {
		return ""
	}
	return u.name
}
