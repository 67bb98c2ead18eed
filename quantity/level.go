package quantity

// A FaultLevel is the strength of a system, as its owner states it: a fault
// current in A, or an apparent power in VA. One of the two is zero, the other
// above zero.
type FaultLevel struct{ Ampere, VoltAmpere float64 }

var levelUnits = []dimension{dimCurrent, dimApparentPower}

var faultLevelForm = newForm("a", "fault level", "A fault level: a current with kA or A, or an apparent power with MVA, kVA or GVA.",
	positive, levelUnits, numberPattern+" *"+unitPattern(levelUnits...), "9.20 kA", "1832 MVA")

// UnmarshalText reads a fault level such as 9.20 kA or 1832 MVA.
func (l *FaultLevel) UnmarshalText(text []byte) error {
	s, err := newScanner(text, faultLevelForm)
	if err != nil {
		return err
	}
	v, u, err := s.amount(&faultLevelForm.want)
	if err != nil {
		return err
	}
	if err := s.end(); err != nil {
		return err
	}
	if u.dim == dimCurrent {
		*l = FaultLevel{Ampere: v}
	} else {
		*l = FaultLevel{VoltAmpere: v}
	}
	return nil
}

// String returns the level with its unit, as UnmarshalText reads it.
func (l FaultLevel) String() string {
	if l.VoltAmpere != 0 {
		return ApparentPower(l.VoltAmpere).String()
	}
	return Current(l.Ampere).String()
}

// MarshalText returns what String does; a value that would not read back is an error.
func (l FaultLevel) MarshalText() ([]byte, error) { return marshal[FaultLevel](l) }

// Describe tells how the type is written.
func (l FaultLevel) Describe() Description { return faultLevelForm.describe() }

// A SystemImpedance is the impedance behind a bus: in ohm, per unit on a
// stated base, or none at all because the sequence has no path (open).
type SystemImpedance struct {
	Z        complex128 // ohm, or per unit of BaseVolt²/BaseVA where PerUnit
	BaseVA   float64    // three-phase base, VA; 0 where Z is in ohm
	BaseVolt float64    // line-to-line base, V; 0 where not stated, for the bus's nominal voltage
	PerUnit  bool
	Open     bool // no path: Z is infinite
}

var (
	wantBasePower   = newWant("an", "apparent power", positive, []dimension{dimApparentPower}, "100 MVA", "15 MVA")
	wantBaseVoltage = newWant("a", "voltage", positive, []dimension{dimVoltage}, "115 kV", "12.47 kV")
)

const positivePowerOn = ` *on +` + numberPattern + " *"

var systemImpedanceForm = newForm("a", "system impedance",
	"A system impedance: R + jX with ohm, or with pu on a stated base (0.01 + j0.08 pu on 100 MVA, or on 100 MVA at 115 kV), or the word open.",
	anySign, []dimension{dimImpedance, dimPerUnit},
	`(?:open|`+complexPattern+` *(?:`+unitPattern(dimImpedance)+`|pu`+positivePowerOn+unitPattern(dimApparentPower)+
		`(?: *at +`+numberPattern+` *`+unitPattern(dimVoltage)+`)?))`,
	"1.2 + j8.0 ohm", "0.01 + j0.08 pu on 100 MVA", "j0.08 pu on 100 MVA at 115 kV", "open")

// UnmarshalText reads a system impedance.
func (z *SystemImpedance) UnmarshalText(text []byte) error {
	s, err := newScanner(text, systemImpedanceForm)
	if err != nil {
		return err
	}
	if s.atWord() {
		if _, err := s.oneOf("open"); err != nil {
			return err
		}
		*z = SystemImpedance{Open: true}
		return nil
	}
	start := s.pos
	c, err := s.complexNumber()
	if err != nil {
		return err
	}
	number := s.since(start)
	if s.percentFollows() {
		fix := s.form.fix()
		if v, err := s.complexSI(c, unitByName["%"]); err == nil {
			fix = "write " + complexText(v, 0) + " pu on its base, as " + complexText(v, 0) + " pu on 100 MVA"
		}
		return s.fail(start, fix, "%s %% is a percentage; a system impedance is in ohm or pu", number)
	}
	u, err := s.unitOf(start, &systemImpedanceForm.want)
	if err != nil {
		return err
	}
	var got SystemImpedance
	if got.Z, err = s.complexSI(c, u); err != nil {
		return err
	}
	if u.dim == dimPerUnit {
		got.PerUnit = true
		if !s.word("on") {
			if s.spaces(); !s.atEnd() {
				return s.end()
			}
			return s.fail(start, "add the base, as "+number+" pu on 100 MVA", "%s pu has no base", number)
		}
		if got.BaseVA, _, err = s.amount(wantBasePower); err != nil {
			return err
		}
		if s.word("at") {
			if got.BaseVolt, _, err = s.amount(wantBaseVoltage); err != nil {
				return err
			}
		}
	}
	if err := s.end(); err != nil {
		return err
	}
	*z = got
	return nil
}

// String returns the impedance with its base, as UnmarshalText reads it.
func (z SystemImpedance) String() string {
	switch {
	case z.Open:
		return "open"
	case !z.PerUnit:
		return Impedance(z.Z).String()
	}
	text := complexText(z.Z, 0) + " pu on " + ApparentPower(z.BaseVA).String()
	if z.BaseVolt != 0 {
		text += " at " + Voltage(z.BaseVolt).String()
	}
	return text
}

// MarshalText returns what String does; a value that would not read back is an error.
func (z SystemImpedance) MarshalText() ([]byte, error) { return marshal[SystemImpedance](z) }

// Describe tells how the type is written.
func (z SystemImpedance) Describe() Description { return systemImpedanceForm.describe() }
