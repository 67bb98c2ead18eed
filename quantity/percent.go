package quantity

// A PercentOn is a short-circuit impedance as a nameplate has it: a fraction
// of the base impedance (8.5 % is 0.085), and the power it is on. BaseVA is 0
// where none is stated; then it is the rating of the thing.
type PercentOn struct{ Fraction, BaseVA float64 }

var percentUnits = []dimension{dimPercent, dimPerUnit}

var percentOnForm = newForm("an", "impedance in percent",
	"An impedance in percent of a base: 8.5 % on 15 MVA, 0.085 pu on 15 MVA, or 8.5 % alone for the first rating.",
	positive, percentUnits,
	numberPattern+` *(?:%|pu)(?:`+positivePowerOn+unitPattern(dimApparentPower)+`)?`,
	"8.5 % on 15 MVA", "8.5 %", "0.085 pu on 15 MVA")

// UnmarshalText reads an impedance such as 8.5 % on 15 MVA.
func (p *PercentOn) UnmarshalText(text []byte) error {
	s, err := newScanner(text, percentOnForm)
	if err != nil {
		return err
	}
	var got PercentOn
	start := s.pos
	d, err := s.number(false)
	if err != nil {
		return err
	}
	if s.word("on") { // the unit is missing, not misspelt
		return s.noUnit(start, d.text, &percentOnForm.want)
	}
	s.pos = start
	if got.Fraction, _, err = s.amount(&percentOnForm.want); err != nil {
		return err
	}
	if s.word("on") {
		if got.BaseVA, _, err = s.amount(wantBasePower); err != nil {
			return err
		}
	}
	if err := s.end(); err != nil {
		return err
	}
	*p = got
	return nil
}

// String returns the percentage with its base, as UnmarshalText reads it.
func (p PercentOn) String() string {
	text := decimalText(p.Fraction, -2) + " %"
	if p.BaseVA != 0 {
		text += " on " + ApparentPower(p.BaseVA).String()
	}
	return text
}

// MarshalText returns what String does; a value that would not read back is an error.
func (p PercentOn) MarshalText() ([]byte, error) { return marshal[PercentOn](p) }

// Describe tells how the type is written.
func (p PercentOn) Describe() Description { return percentOnForm.describe() }

// percentFollows says whether a percent sign comes next, after any spaces.
func (s *scanner) percentFollows() bool {
	n := 0
	for s.peek(n) == ' ' {
		n++
	}
	return s.peek(n) == '%'
}
