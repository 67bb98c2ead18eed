package quantity

// A Resistivity is a resistivity in ohm·m, above zero.
type Resistivity float64

var resistivityForm = newScalarForm("a", "resistivity", "A resistivity: a number with ohm.m, ohm·m or Ω·m.",
	positive, dimResistivity, "100 ohm.m", "1000 ohm.m")

var resistivityScales = []scale{{0, "ohm.m"}}

// UnmarshalText reads a resistivity such as 100 ohm.m.
func (r *Resistivity) UnmarshalText(text []byte) error {
	value, err := readScalar(text, resistivityForm)
	if err == nil {
		*r = Resistivity(value)
	}
	return err
}

// String returns the value with its unit, as UnmarshalText reads it.
func (r Resistivity) String() string { return inScale(float64(r), resistivityScales) }

// MarshalText returns what String does; a value that would not read back is an error.
func (r Resistivity) MarshalText() ([]byte, error) { return marshal[Resistivity](r) }

// Describe tells how the type is written.
func (r Resistivity) Describe() Description { return resistivityForm.describe() }

// A Position is a place on a pole, in m: X across the line from any line of
// reference, the same for all of a pole, and Height above ground.
type Position struct{ X, Height float64 }

var (
	lengthPattern = numberPattern + " *" + unitPattern(dimLength)

	positionForm = newForm("a", "position",
		"A place on a pole: how far it is across the line, then its height above ground, as 2.5 ft at 28 ft.",
		anySign, nil, signPattern+"?"+lengthPattern+" *at +"+lengthPattern,
		"2.5 ft at 28 ft", "-0.9 m at 9.5 m")
	wantAcross = newWant("a", "distance across the line", anySign, []dimension{dimLength}, "2.5 ft", "-0.9 m")
	wantHeight = newWant("a", "height above ground", positive, []dimension{dimLength}, "28 ft", "9.5 m")
)

// UnmarshalText reads a position such as 2.5 ft at 28 ft.
func (p *Position) UnmarshalText(text []byte) error {
	s, err := newScanner(text, positionForm)
	if err != nil {
		return err
	}
	var got Position
	if got.X, _, err = s.amount(wantAcross); err != nil {
		return err
	}
	if !s.word("at") {
		return s.fail(s.pos, s.form.fix(), "no height follows %s", s.since(0))
	}
	if got.Height, _, err = s.amount(wantHeight); err != nil {
		return err
	}
	if err := s.end(); err != nil {
		return err
	}
	*p = got
	return nil
}

// String returns both distances, as UnmarshalText reads them.
func (p Position) String() string {
	return decimalText(p.X, 0) + " m at " + decimalText(p.Height, 0) + " m"
}

// MarshalText returns what String does; a value that would not read back is an error.
func (p Position) MarshalText() ([]byte, error) { return marshal[Position](p) }

// Describe tells how the type is written.
func (p Position) Describe() Description { return positionForm.describe() }

// An EarthingAlong is a row of equal earth electrodes along a line: one of
// Resistance, in ohm, every Spacing metres.
type EarthingAlong struct{ Resistance, Spacing float64 }

// Conductance is that of all electrodes to earth, in S/m, as if spread evenly.
func (e EarthingAlong) Conductance() float64 { return 1 / (e.Resistance * e.Spacing) }

var (
	earthingAlongForm = newForm("an", "earthing along a line",
		"Earth electrodes along a line: the resistance of one, and their distance, as 25 ohm every 300 m.",
		positive, nil, numberPattern+" *"+unitPattern(dimImpedance)+" *every +"+lengthPattern,
		"25 ohm every 300 m", "100 ohm every 0.25 mi")
	wantElectrode = newWant("a", "resistance of one electrode", positive, []dimension{dimImpedance}, "25 ohm", "100 ohm")
	wantSpacing   = newWant("a", "distance of electrodes", positive, []dimension{dimLength}, "300 m", "0.25 mi")
)

// UnmarshalText reads electrodes such as 25 ohm every 300 m.
func (e *EarthingAlong) UnmarshalText(text []byte) error {
	s, err := newScanner(text, earthingAlongForm)
	if err != nil {
		return err
	}
	var got EarthingAlong
	if got.Resistance, _, err = s.amount(wantElectrode); err != nil {
		return err
	}
	if !s.word("every") {
		return s.fail(s.pos, s.form.fix(), "no distance follows %s", s.since(0))
	}
	if got.Spacing, _, err = s.amount(wantSpacing); err != nil {
		return err
	}
	if err := s.end(); err != nil {
		return err
	}
	*e = got
	return nil
}

// String returns resistance and distance, as UnmarshalText reads them.
func (e EarthingAlong) String() string {
	return decimalText(e.Resistance, 0) + " ohm every " + decimalText(e.Spacing, 0) + " m"
}

// MarshalText returns what String does; a value that would not read back is an error.
func (e EarthingAlong) MarshalText() ([]byte, error) { return marshal[EarthingAlong](e) }

// Describe tells how the type is written.
func (e EarthingAlong) Describe() Description { return earthingAlongForm.describe() }
