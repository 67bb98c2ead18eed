package quantity

// A VoltagePair is the pair of rated line-to-line voltages of a transformer, in V.
type VoltagePair struct{ From, To float64 }

var voltagePairForm = newPairForm("voltage pair",
	"The rated line-to-line voltages of two windings: 115/12.47 kV, or each with its unit, 115 kV/480 V.",
	dimVoltage, "115/12.47 kV", "115 kV/480 V")

// A CurrentRatio is the ratio of a current transformer: rated primary and
// secondary current, in A.
type CurrentRatio struct{ Primary, Secondary float64 }

var currentRatioForm = newPairForm("current ratio",
	"A current transformer's rated primary and secondary current: 600/5 A. No colon.",
	dimCurrent, "600/5 A", "1.2 kA/1 A")

// A VoltageRatio is the ratio of a voltage transformer: rated primary and
// secondary voltage, in V.
type VoltageRatio struct{ Primary, Secondary float64 }

var voltageRatioForm = newPairForm("voltage ratio",
	"A voltage transformer's rated primary and secondary voltage: 7200/120 V, or each with its unit, 12 kV/120 V. No colon.",
	dimVoltage, "7200/120 V", "12 kV/120 V")

// newPairForm builds the form of two values with a slash between, which share
// a unit or have one each.
func newPairForm(name, text string, dim dimension, examples ...string) *form {
	u := unitPattern(dim)
	return newForm("a", name, text, positive, []dimension{dim},
		numberPattern+"(?: *"+u+")? */ *"+numberPattern+" *"+u, examples...)
}

// readPair reads a whole text that is such a pair.
func readPair(text []byte, f *form) (first, second float64, err error) {
	s, err := newScanner(text, f)
	if err != nil {
		return 0, 0, err
	}
	start := s.pos
	d1, err := s.number(false)
	if err != nil {
		return 0, 0, err
	}
	s.spaces()
	if s.peek(0) == ':' {
		return 0, 0, s.colon(start, d1)
	}
	shared := s.peek(0) == '/'
	var u1 unit
	if !shared {
		s.pos = start + len([]rune(d1.text))
		if s.spaces(); s.atEnd() {
			return 0, 0, s.fail(start, f.fix(), "%s is one value; %s has two, with a slash between", d1.text, f.article)
		}
		if u1, err = s.unitOf(start, &f.want); err != nil {
			return 0, 0, err
		}
		s.spaces()
	}
	if !s.eat('/') {
		if s.atEnd() {
			return 0, 0, s.fail(start, f.fix(), "%s is one value; %s has two, with a slash between", s.since(start), f.article)
		}
		return 0, 0, s.end()
	}
	s.spaces()
	at := s.pos
	d2, err := s.number(false)
	if err != nil {
		return 0, 0, err
	}
	if shared {
		at = start
	}
	u2, err := s.unitOf(at, &f.want)
	if err != nil {
		return 0, 0, err
	}
	if shared {
		u1 = u2
	}
	if err := s.end(); err != nil {
		return 0, 0, err
	}
	if first, err = s.si(d1, u1); err != nil {
		return 0, 0, err
	}
	if second, err = s.si(d2, u2); err != nil {
		return 0, 0, err
	}
	if first == 0 || second == 0 {
		return 0, 0, s.fail(start, f.fix(), "both values of %s must be above zero", f.article)
	}
	return first, second, nil
}

// colon tells that a ratio is written with a colon.
func (s *scanner) colon(start int, first decimal) error {
	at := s.pos
	s.pos++
	s.spaces()
	second, err := s.number(false)
	if err != nil {
		return s.fail(at, s.form.fix(), "a colon stands where the slash is wanted")
	}
	whole := s.since(start)
	unit := s.rest()
	if _, known := unitByName[unit]; !known {
		unit = unitNames(s.form.dims)[0]
	}
	return s.fail(at, "write "+first.text+"/"+second.text+" "+unit,
		"%s has a colon, which some readers of such files take for base 60", whole)
}

// voltagePairText writes two voltages with one unit where they read well so.
func voltagePairText(first, second, kVFrom float64) string {
	switch {
	case first >= 1e3 && second >= 1e3:
		return decimalText(first, 3) + "/" + decimalText(second, 3) + " kV"
	case first < kVFrom && second < kVFrom:
		return decimalText(first, 0) + "/" + decimalText(second, 0) + " V"
	}
	return Voltage(first).String() + "/" + Voltage(second).String()
}

// UnmarshalText reads two voltages such as 115/12.47 kV.
func (p *VoltagePair) UnmarshalText(text []byte) error {
	from, to, err := readPair(text, voltagePairForm)
	if err == nil {
		*p = VoltagePair{from, to}
	}
	return err
}

// String returns the voltages with their units, as UnmarshalText reads it.
func (p VoltagePair) String() string { return voltagePairText(p.From, p.To, 1e3) }

// MarshalText returns what String does; a value that would not read back is an error.
func (p VoltagePair) MarshalText() ([]byte, error) { return marshal[VoltagePair](p) }

// Describe tells how the type is written.
func (p VoltagePair) Describe() Description { return voltagePairForm.describe() }

// Factor returns primary / secondary.
func (r CurrentRatio) Factor() float64 { return r.Primary / r.Secondary }

// UnmarshalText reads a ratio such as 600/5 A.
func (r *CurrentRatio) UnmarshalText(text []byte) error {
	primary, secondary, err := readPair(text, currentRatioForm)
	if err == nil {
		*r = CurrentRatio{primary, secondary}
	}
	return err
}

// String returns the ratio in A, as UnmarshalText reads it.
func (r CurrentRatio) String() string {
	return decimalText(r.Primary, 0) + "/" + decimalText(r.Secondary, 0) + " A"
}

// MarshalText returns what String does; a value that would not read back is an error.
func (r CurrentRatio) MarshalText() ([]byte, error) { return marshal[CurrentRatio](r) }

// Describe tells how the type is written.
func (r CurrentRatio) Describe() Description { return currentRatioForm.describe() }

// Factor returns primary / secondary.
func (r VoltageRatio) Factor() float64 { return r.Primary / r.Secondary }

// UnmarshalText reads a ratio such as 7200/120 V.
func (r *VoltageRatio) UnmarshalText(text []byte) error {
	primary, secondary, err := readPair(text, voltageRatioForm)
	if err == nil {
		*r = VoltageRatio{primary, secondary}
	}
	return err
}

// String returns the ratio with its units, as UnmarshalText reads it.
func (r VoltageRatio) String() string { return voltagePairText(r.Primary, r.Secondary, 1e4) }

// MarshalText returns what String does; a value that would not read back is an error.
func (r VoltageRatio) MarshalText() ([]byte, error) { return marshal[VoltageRatio](r) }

// Describe tells how the type is written.
func (r VoltageRatio) Describe() Description { return voltageRatioForm.describe() }
