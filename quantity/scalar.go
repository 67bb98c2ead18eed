package quantity

import (
	"math"
	"strings"
)

// newScalarForm builds the form of a type that is one number with one unit.
func newScalarForm(article, name, text string, sign signRule, dim dimension, examples ...string) *form {
	body := numberPattern + " *" + unitPattern(dim)
	if sign == anySign {
		body = signPattern + "?" + body
	}
	return newForm(article, name, text, sign, []dimension{dim}, body, examples...)
}

// readScalar reads a whole text that is one number with one unit.
func readScalar(text []byte, f *form) (float64, error) {
	s, err := newScanner(text, f)
	if err != nil {
		return 0, err
	}
	v, _, err := s.amount(&f.want)
	if err != nil {
		return 0, err
	}
	return v, s.end()
}

// A Voltage is an r.m.s. voltage in V; line to line or line to neutral, as its
// place says.
type Voltage float64

var voltageForm = newScalarForm("a", "voltage", "A voltage: a number with V or kV.",
	anySign, dimVoltage, "12.47 kV", "480 V")

var voltageScales = []scale{{0, "V"}, {3, "kV"}}

// UnmarshalText reads a voltage such as 12.47 kV.
func (v *Voltage) UnmarshalText(text []byte) error {
	value, err := readScalar(text, voltageForm)
	if err == nil {
		*v = Voltage(value)
	}
	return err
}

// String returns the value with its unit, as UnmarshalText reads it.
func (v Voltage) String() string {
	return inScale(float64(v), voltageScales)
}

// MarshalText returns what String does; a value that would not read back is an error.
func (v Voltage) MarshalText() ([]byte, error) { return marshal[Voltage](v) }

// Describe tells how the type is written.
func (v Voltage) Describe() Description { return voltageForm.describe() }

// A Current is a current in A, r.m.s. unless its place says otherwise.
type Current float64

var currentForm = newScalarForm("a", "current", "A current: a number with A, kA or mA.",
	anySign, dimCurrent, "450 A", "9.2 kA", "5 mA")

var currentScales = []scale{{-3, "mA"}, {0, "A"}, {3, "kA"}}

// UnmarshalText reads a current such as 450 A.
func (c *Current) UnmarshalText(text []byte) error {
	value, err := readScalar(text, currentForm)
	if err == nil {
		*c = Current(value)
	}
	return err
}

// String returns the value with its unit, as UnmarshalText reads it.
func (c Current) String() string {
	return inScale(float64(c), currentScales)
}

// MarshalText returns what String does; a value that would not read back is an error.
func (c Current) MarshalText() ([]byte, error) { return marshal[Current](c) }

// Describe tells how the type is written.
func (c Current) Describe() Description { return currentForm.describe() }

// An ApparentPower is an apparent power in VA, all phases together, not negative.
type ApparentPower float64

var apparentPowerForm = newScalarForm("an", "apparent power", "An apparent power: a number with VA, kVA, MVA or GVA.",
	unsigned, dimApparentPower, "1.30 MVA", "500 kVA", "25 VA")

var apparentPowerScales = []scale{{0, "VA"}, {3, "kVA"}, {6, "MVA"}}

// UnmarshalText reads an apparent power such as 1.30 MVA.
func (a *ApparentPower) UnmarshalText(text []byte) error {
	value, err := readScalar(text, apparentPowerForm)
	if err == nil {
		*a = ApparentPower(value)
	}
	return err
}

// String returns the value with its unit, as UnmarshalText reads it.
func (a ApparentPower) String() string {
	return inScale(float64(a), apparentPowerScales)
}

// MarshalText returns what String does; a value that would not read back is an error.
func (a ApparentPower) MarshalText() ([]byte, error) { return marshal[ApparentPower](a) }

// Describe tells how the type is written.
func (a ApparentPower) Describe() Description { return apparentPowerForm.describe() }

// An ActivePower is an active power in W, all phases together.
type ActivePower float64

var activePowerForm = newScalarForm("an", "active power", "An active power: a number with W, kW, MW or GW.",
	anySign, dimActivePower, "1.2 MW", "75 kW")

var activePowerScales = []scale{{0, "W"}, {3, "kW"}, {6, "MW"}}

// UnmarshalText reads an active power such as 1.2 MW.
func (a *ActivePower) UnmarshalText(text []byte) error {
	value, err := readScalar(text, activePowerForm)
	if err == nil {
		*a = ActivePower(value)
	}
	return err
}

// String returns the value with its unit, as UnmarshalText reads it.
func (a ActivePower) String() string {
	return inScale(float64(a), activePowerScales)
}

// MarshalText returns what String does; a value that would not read back is an error.
func (a ActivePower) MarshalText() ([]byte, error) { return marshal[ActivePower](a) }

// Describe tells how the type is written.
func (a ActivePower) Describe() Description { return activePowerForm.describe() }

// A ReactivePower is a reactive power in var, all phases together.
type ReactivePower float64

var reactivePowerForm = newScalarForm("a", "reactive power", "A reactive power: a number with var, kvar, Mvar or Gvar.",
	anySign, dimReactivePower, "600 kvar", "1.2 Mvar")

var reactivePowerScales = []scale{{0, "var"}, {3, "kvar"}, {6, "Mvar"}}

// UnmarshalText reads a reactive power such as 600 kvar.
func (r *ReactivePower) UnmarshalText(text []byte) error {
	value, err := readScalar(text, reactivePowerForm)
	if err == nil {
		*r = ReactivePower(value)
	}
	return err
}

// String returns the value with its unit, as UnmarshalText reads it.
func (r ReactivePower) String() string {
	return inScale(float64(r), reactivePowerScales)
}

// MarshalText returns what String does; a value that would not read back is an error.
func (r ReactivePower) MarshalText() ([]byte, error) { return marshal[ReactivePower](r) }

// Describe tells how the type is written.
func (r ReactivePower) Describe() Description { return reactivePowerForm.describe() }

// A Frequency is a frequency in Hz, above zero.
type Frequency float64

var frequencyForm = newScalarForm("a", "frequency", "A frequency: a number with Hz.",
	positive, dimFrequency, "60 Hz", "50 Hz")

var frequencyScales = []scale{{0, "Hz"}}

// UnmarshalText reads a frequency such as 60 Hz.
func (f *Frequency) UnmarshalText(text []byte) error {
	value, err := readScalar(text, frequencyForm)
	if err == nil {
		*f = Frequency(value)
	}
	return err
}

// String returns the value with its unit, as UnmarshalText reads it.
func (f Frequency) String() string {
	return inScale(float64(f), frequencyScales)
}

// MarshalText returns what String does; a value that would not read back is an error.
func (f Frequency) MarshalText() ([]byte, error) { return marshal[Frequency](f) }

// Describe tells how the type is written.
func (f Frequency) Describe() Description { return frequencyForm.describe() }

// A Length is a length in m, not negative.
type Length float64

var lengthForm = newScalarForm("a", "length", "A length: a number with mi, ft, kft, in, km, m, cm or mm.",
	unsigned, dimLength, "1.6 mi", "850 ft", "2.4 km")

var lengthScales = []scale{{0, "m"}, {3, "km"}}

// UnmarshalText reads a length such as 1.6 mi.
func (l *Length) UnmarshalText(text []byte) error {
	value, err := readScalar(text, lengthForm)
	if err == nil {
		*l = Length(value)
	}
	return err
}

// String returns the value with its unit, as UnmarshalText reads it.
func (l Length) String() string {
	return inScale(float64(l), lengthScales)
}

// MarshalText returns what String does; a value that would not read back is an error.
func (l Length) MarshalText() ([]byte, error) { return marshal[Length](l) }

// Describe tells how the type is written.
func (l Length) Describe() Description { return lengthForm.describe() }

// A Area is a cross-section in m², not negative.
type Area float64

var areaForm = newScalarForm("a", "cross-section", "A conductor cross-section: a number with mm2, kcmil or cmil.",
	unsigned, dimArea, "95 mm2", "336.4 kcmil")

var areaScales = []scale{{-6, "mm2"}}

// UnmarshalText reads a cross-section such as 95 mm2.
func (a *Area) UnmarshalText(text []byte) error {
	value, err := readScalar(text, areaForm)
	if err == nil {
		*a = Area(value)
	}
	return err
}

// String returns the value with its unit, as UnmarshalText reads it.
func (a Area) String() string {
	return inScale(float64(a), areaScales)
}

// MarshalText returns what String does; a value that would not read back is an error.
func (a Area) MarshalText() ([]byte, error) { return marshal[Area](a) }

// Describe tells how the type is written.
func (a Area) Describe() Description { return areaForm.describe() }

// A Fraction is a share of one, written as a percentage: 5 % is 0.05.
type Fraction float64

var fractionForm = newScalarForm("a", "percentage", "A fraction, written as a percentage: a number with %.",
	anySign, dimPercent, "5 %", "-2.5 %")

var fractionScales = []scale{{-2, "%"}}

// UnmarshalText reads a percentage such as 5 %.
func (f *Fraction) UnmarshalText(text []byte) error {
	value, err := readScalar(text, fractionForm)
	if err == nil {
		*f = Fraction(value)
	}
	return err
}

// String returns the value with its unit, as UnmarshalText reads it.
func (f Fraction) String() string {
	return inScale(float64(f), fractionScales)
}

// MarshalText returns what String does; a value that would not read back is an error.
func (f Fraction) MarshalText() ([]byte, error) { return marshal[Fraction](f) }

// Describe tells how the type is written.
func (f Fraction) Describe() Description { return fractionForm.describe() }

// A Temperature is a temperature in °C, above absolute zero.
type Temperature float64

var temperatureForm = newScalarForm("a", "temperature", "A temperature: a number with degC, °C or C.",
	anySign, dimTemperature, "75 degC", "-20 degC", "50 °C")

var temperatureScales = []scale{{0, "degC"}}

// UnmarshalText reads a temperature such as 75 degC.
func (t *Temperature) UnmarshalText(text []byte) error {
	value, err := readScalar(text, temperatureForm)
	if err == nil && value < absoluteZero {
		err = &Error{Text: string(text), Problem: strings.Trim(string(text), " ") + " is below absolute zero, -273.15 °C", Fix: temperatureForm.fix()}
	}
	if err == nil {
		*t = Temperature(value)
	}
	return err
}

// String returns the value with its unit, as UnmarshalText reads it.
func (t Temperature) String() string {
	return inScale(float64(t), temperatureScales)
}

// MarshalText returns what String does; a value that would not read back is an error.
func (t Temperature) MarshalText() ([]byte, error) { return marshal[Temperature](t) }

// Describe tells how the type is written.
func (t Temperature) Describe() Description { return temperatureForm.describe() }

// An Angle is an angle in rad, positive counter-clockwise.
type Angle float64

var angleForm = newScalarForm("an", "angle", "An angle: a number with deg, ° or rad.",
	anySign, dimAngle, "30 deg", "-90 deg", "0.5 rad")

// UnmarshalText reads an angle such as 30 deg.
func (a *Angle) UnmarshalText(text []byte) error {
	value, err := readScalar(text, angleForm)
	if err == nil && math.Abs(value) > fullTurn {
		err = &Error{Text: string(text), Problem: strings.Trim(string(text), " ") + " is more than a full turn", Fix: angleForm.fix()}
	}
	if err == nil {
		*a = Angle(value)
	}
	return err
}

// String returns the value with its unit, as UnmarshalText reads it.
func (a Angle) String() string {
	// Angles this small are written in radians, where the digits read back alike.
	if a != 0 && math.Abs(float64(a)) < 1e-6 {
		return decimalText(float64(a), 0) + " rad"
	}
	return decimalText(float64(a)/radianPerDegree, 0) + " deg"
}

// MarshalText returns what String does; a value that would not read back is an error.
func (a Angle) MarshalText() ([]byte, error) { return marshal[Angle](a) }

// Describe tells how the type is written.
func (a Angle) Describe() Description { return angleForm.describe() }

// A Susceptance is a susceptance in S, positive where capacitive.
type Susceptance float64

var susceptanceForm = newScalarForm("a", "susceptance", "A susceptance: a number with uS, mS or S.",
	anySign, dimSusceptance, "12 uS", "0.4 mS")

var susceptanceScales = []scale{{-6, "uS"}, {-3, "mS"}, {0, "S"}}

// UnmarshalText reads a susceptance such as 12 uS.
func (s *Susceptance) UnmarshalText(text []byte) error {
	value, err := readScalar(text, susceptanceForm)
	if err == nil {
		*s = Susceptance(value)
	}
	return err
}

// String returns the value with its unit, as UnmarshalText reads it.
func (s Susceptance) String() string {
	return inScale(float64(s), susceptanceScales)
}

// MarshalText returns what String does; a value that would not read back is an error.
func (s Susceptance) MarshalText() ([]byte, error) { return marshal[Susceptance](s) }

// Describe tells how the type is written.
func (s Susceptance) Describe() Description { return susceptanceForm.describe() }

// A SusceptancePerLength is a susceptance per length in S/m, positive where capacitive.
type SusceptancePerLength float64

var susceptancePerLengthForm = newScalarForm("a", "susceptance per length", "A susceptance per length: a number with uS/mi, uS/km and the like.",
	anySign, dimSusceptancePerLength, "6.92 uS/mi", "4.3 uS/km")

var susceptancePerLengthScales = []scale{{-9, "uS/km"}, {-6, "mS/km"}, {-3, "S/km"}}

// UnmarshalText reads a susceptance per length such as 6.92 uS/mi.
func (s *SusceptancePerLength) UnmarshalText(text []byte) error {
	value, err := readScalar(text, susceptancePerLengthForm)
	if err == nil {
		*s = SusceptancePerLength(value)
	}
	return err
}

// String returns the value with its unit, as UnmarshalText reads it.
func (s SusceptancePerLength) String() string {
	return inScale(float64(s), susceptancePerLengthScales)
}

// MarshalText returns what String does; a value that would not read back is an error.
func (s SusceptancePerLength) MarshalText() ([]byte, error) { return marshal[SusceptancePerLength](s) }

// Describe tells how the type is written.
func (s SusceptancePerLength) Describe() Description { return susceptancePerLengthForm.describe() }

// A CapacitancePerLength is a capacitance per length in F/m, not negative.
type CapacitancePerLength float64

var capacitancePerLengthForm = newScalarForm("a", "capacitance per length", "A capacitance per length: a number with uF/km, nF/km, uF/mi and the like.",
	unsigned, dimCapacitancePerLength, "0.25 uF/km", "250 nF/km")

var capacitancePerLengthScales = []scale{{-12, "nF/km"}, {-9, "uF/km"}, {-6, "mF/km"}}

// UnmarshalText reads a capacitance per length such as 0.25 uF/km.
func (c *CapacitancePerLength) UnmarshalText(text []byte) error {
	value, err := readScalar(text, capacitancePerLengthForm)
	if err == nil {
		*c = CapacitancePerLength(value)
	}
	return err
}

// String returns the value with its unit, as UnmarshalText reads it.
func (c CapacitancePerLength) String() string {
	return inScale(float64(c), capacitancePerLengthScales)
}

// MarshalText returns what String does; a value that would not read back is an error.
func (c CapacitancePerLength) MarshalText() ([]byte, error) { return marshal[CapacitancePerLength](c) }

// Describe tells how the type is written.
func (c CapacitancePerLength) Describe() Description { return capacitancePerLengthForm.describe() }

const absoluteZero = -273.15 // °C

// fullTurn is 360° in rad, with room for the rounding of a value read back.
const fullTurn = 2 * math.Pi * (1 + 1e-12)

// A Number is a number without a unit, such as a ratio X/R.
type Number float64

var numberForm = newForm("a", "plain number", "A plain number, without a unit.",
	anySign, nil, signPattern+"?"+numberPattern, "10.5", "22")

// UnmarshalText reads a plain number such as 10.5.
func (n *Number) UnmarshalText(text []byte) error {
	s, err := newScanner(text, numberForm)
	if err != nil {
		return err
	}
	d, err := s.number(true)
	if err != nil {
		return err
	}
	s.spaces()
	at := s.pos
	if name := s.takeUnit(); name != "" {
		if u, known := unitByName[name]; known {
			fix := "write " + d.text
			if v, err := s.si(d, unit{mul: 1, div: 1}); err == nil && name == "%" {
				fix = "write " + decimalText(v, 2)
			}
			return s.fail(at, fix, "%s %s is %s; a plain number is wanted here", d.text, s.since(at), u.dim.article(nil))
		}
		s.pos = at
	}
	if err := s.end(); err != nil {
		return err
	}
	v, err := s.si(d, unit{mul: 1, div: 1})
	if err == nil {
		*n = Number(v)
	}
	return err
}

// String returns the number, as UnmarshalText reads it.
func (n Number) String() string { return decimalText(float64(n), 0) }

// MarshalText returns what String does; a value that would not read back is an error.
func (n Number) MarshalText() ([]byte, error) { return marshal[Number](n) }

// Describe tells how the type is written.
func (n Number) Describe() Description { return numberForm.describe() }
