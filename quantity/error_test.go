package quantity

import (
	"errors"
	"strings"
	"testing"
)

// errorTests give the whole message for texts that are wrong.
var errorTests = []struct {
	kind, text   string
	problem, fix string
	offset       int
}{
	// The wrong quantity.
	{"Current", "9.2 MVA", "9.2 MVA is a power; a current is wanted here", "write a current such as 450 A or 9.2 kA", 4},
	{"Voltage", "5 miles", "5 miles is a length; a voltage is wanted here", "write a voltage such as 12.47 kV or 480 V", 2},
	{"ActivePower", "1.2 MVA", "1.2 MVA is an apparent power; an active power is wanted here", "write an active power such as 1.2 MW or 75 kW", 4},
	{"ActivePower", "5 kVAr", "5 kVAr is a reactive power; an active power is wanted here", "write an active power such as 1.2 MW or 75 kW", 2},
	{"ApparentPower", "5 MW", "5 MW is an active power; an apparent power is wanted here", "write an apparent power such as 1.30 MVA or 500 kVA", 2},
	{"Duration", "0.5 S", "0.5 S is a susceptance; a time is wanted here", "write 0.5 s", 4},
	{"Susceptance", "5 ms", "5 ms is a time; a susceptance is wanted here", "write 5 mS", 2},
	{"Impedance", "2.5 mH", "2.5 mH is an inductance; an impedance is wanted here", "write an impedance such as 6.35 ohm or 0.3061 + j0.6270 ohm", 4},
	{"Impedance", "0.3061 + j0.6270 ohm/mi", "0.3061 + j0.6270 ohm/mi is an impedance per length; an impedance is wanted here", "write an impedance such as 6.35 ohm or 0.3061 + j0.6270 ohm", 17},
	{"CapacitancePerLength", "5 uF", "5 uF is a capacitance; a capacitance per length is wanted here", "write a capacitance per length such as 0.25 uF/km or 250 nF/km", 2},
	{"FaultLevel", "115 kV", "115 kV is a voltage; a fault level is wanted here", "write a fault level such as 9.20 kA or 1832 MVA", 4},
	{"PercentOn", "8.5 % on 15 kV", "15 kV is a voltage; an apparent power is wanted here", "write an apparent power such as 100 MVA or 15 MVA", 12},
	{"CurrentRatio", "600/5 V", "600/5 V is a voltage; a current ratio is wanted here", "write a current ratio such as 600/5 A or 1.2 kA/1 A", 6},
	{"Number", "10.5 kV", "10.5 kV is a voltage; a plain number is wanted here", "write 10.5", 5},
	{"Number", "550 %", "550 % is a percentage; a plain number is wanted here", "write 5.5", 4},
	{"Fraction", "5 pu", "5 pu is a per-unit value; a percentage is wanted here", "write a percentage such as 5 % or -2.5 %", 2},
	{"ColdLoad", "2.6 for 20 cycles", "20 cycles is a time in cycles; a time in s, min or h is wanted here", "write a time in s, min or h such as 20 min or 600 s", 11},

	// No unit.
	{"Voltage", "12.47", "12.47 has no unit", "write a voltage such as 12.47 kV or 480 V", 0},
	{"Voltage", "  12.47 ", "12.47 has no unit", "write a voltage such as 12.47 kV or 480 V", 2},
	{"Impedance", "1 + j2", "1 + j2 has no unit", "write an impedance such as 6.35 ohm or 0.3061 + j0.6270 ohm", 0},
	{"Ratings", "15/20/25", "15/20/25 has no unit", "write a rating such as 25 MVA or 15/20/25 MVA", 0},
	{"VoltagePair", "115 kV/12.47", "12.47 has no unit", "write a voltage pair such as 115/12.47 kV or 115 kV/480 V", 7},
	{"Fraction", "0.05", "0.05 has no % sign: percent typed as per unit?", "write 5 % if 0.05 is per unit", 0},
	{"Fraction", "100", "100 has no % sign", "write 100 %", 0},
	{"PercentOn", "0.085", "0.085 has no % sign: percent typed as per unit?", "write 8.5 % if 0.085 is per unit", 0},
	{"PercentOn", "0.085 on 15 MVA", "0.085 has no % sign: percent typed as per unit?", "write 8.5 % if 0.085 is per unit", 0},
	{"TapRange", "+-0.1 in 32 steps", "0.1 has no % sign: percent typed as per unit?", "write 10 % if 0.1 is per unit", 2},
	{"SystemImpedance", "0.01 + j0.08 pu", "0.01 + j0.08 pu has no base", "add the base, as 0.01 + j0.08 pu on 100 MVA", 0},
	{"PowerFactor", "0.95", "0.95 does not say lag or lead", "write 0.95 lag or 0.95 lead", 0},

	// Units mistyped.
	{"Voltage", "12.47 KV", "KV is no unit: capitals matter", "write 12.47 kV", 6},
	{"ApparentPower", "500 Kva", "Kva is no unit: capitals matter", "write 500 kVA", 4},
	{"ActivePower", "1.2 mW", "mW is no unit: capitals matter", "write 1.2 MW", 4},
	{"ReactivePower", "600 kVAR", "kVAR is no unit: capitals matter", "write 600 kvar", 4},
	{"Current", "450 MA", "MA is no unit known here", "write a current such as 450 A or 9.2 kA", 4},
	{"Current", "450 amps", "amps is no unit known here", "write 450 A", 4},
	{"ImpedancePerLength", "0.3 ohms/mile", "ohms/mile is no unit known here", "write 0.3 ohm/mi", 4},
	{"ImpedancePerLength", "0.3 ohm per mile", "ohm per mile is no unit known here", "write 0.3 ohm/mi", 4},
	{"Length", "1.6 miles", "miles is no unit known here", "write 1.6 mi", 4},
	{"Area", "336.4 MCM", "MCM is no unit known here", "write 336.4 kcmil", 6},
	{"Voltage", "12.47 kV primary", `"primary" follows 12.47 kV`, "write a voltage such as 12.47 kV or 480 V", 9},
	{"Voltage", "3 + j4 V", `"+ j4 V" follows 3 where a unit is wanted`, "write a voltage such as 12.47 kV or 480 V", 2},

	// Numbers mistyped.
	{"Voltage", "", "nothing is written where a voltage is wanted", "write a voltage such as 12.47 kV or 480 V", 0},
	{"Voltage", "kV", `"kV" stands where a number is wanted`, "write a voltage such as 12.47 kV or 480 V", 0},
	{"Voltage", "12,47 kV", "12,47 has a separator inside the number", "write decimals with a dot, and thousands without a separator", 0},
	{"Voltage", "12_470 V", "12_470 has a separator inside the number", "write decimals with a dot, and thousands without a separator", 0},
	{"Voltage", "12 470 V", `"470 V" follows 12 where a unit is wanted`, "write the digits of a number together", 3},
	{"Voltage", "012 V", "012 begins with a zero, which some readers take for octal", "write 12", 0},
	{"Voltage", ".5 kV", ".5 has no digit before the dot", "write 0.5", 0},
	{"Voltage", "5. kV", "5. has no digit after the dot", "leave the dot out, or write a digit after it", 0},
	{"Voltage", "1.2.3 kV", "1.2.3 has more than one dot", "write a voltage such as 12.47 kV or 480 V", 0},
	{"Voltage", "0x1F V", "0x1F is hexadecimal", "write the number in decimal digits", 0},
	{"Voltage", "NaN V", "NaN is no value that can be reckoned with", "write a voltage such as 12.47 kV or 480 V", 0},
	{"Voltage", "-Inf V", "-Inf is no value that can be reckoned with", "write a voltage such as 12.47 kV or 480 V", 0},
	{"Voltage", "1e400 V", "1e400 V is too large for anything on a feeder", "write a voltage such as 12.47 kV or 480 V", 0},
	{"Voltage", "1e-400 V", "1e-400 V is too small to tell from zero", "write a voltage such as 12.47 kV or 480 V", 0},
	{"Voltage", "5\u00a0kV", "there is a character that does not print (U+00A0)", "use ordinary spaces", 1},
	{"Voltage", "5 k\xffV", "the text is not UTF-8", "write a voltage such as 12.47 kV or 480 V", 0},
	{"Length", "-5 km", "-5 has a sign, which has no meaning here", "leave the sign out", 0},
	{"Frequency", "0 Hz", "0 Hz is not above zero, as a frequency must be", "write a frequency such as 60 Hz or 50 Hz", 0},
	{"Temperature", "-300 degC", "-300 degC is below absolute zero, -273.15 °C", "write a temperature such as 75 degC or -20 degC", 0},
	{"Angle", "400 deg", "400 deg is more than a full turn", "write an angle such as 30 deg or -90 deg", 0},

	// Complex numbers mistyped.
	{"Impedance", "1 + 2 ohm", "2, the second part of a complex number, has no j", "write the reactance as j2", 4},
	{"Impedance", "j2 + 1 ohm", "something follows the reactance j2", "write the resistance first, as 0.3061 + j0.6270", 0},
	{"Impedance", "1 + i2 ohm", "the imaginary unit is written j here", "write j2", 4},
	{"Impedance", "1 + 2i ohm", "the imaginary unit is written j here", "write j2", 5},
	{"Impedance", "1 + j-2 ohm", "no number follows the j", "write the reactance as j0.6270, without a space or sign after the j", 4},
	{"Impedance", "1 + -j2 ohm", "two signs follow each other", "write one sign", 4},

	// Composed texts.
	{"SystemImpedance", "8 % on 100 MVA", "8 % is a percentage; a system impedance is in ohm or pu", "write 0.08 pu on its base, as 0.08 pu on 100 MVA", 0},
	{"SystemImpedance", "Open", `"Open" is neither open nor an impedance`, "write open", 0},
	{"Neutral", "grounded", `"grounded" is neither solid nor open nor an impedance`, "write solid, open or an impedance such as 6.35 ohm", 0},
	{"Neutral", "sold", `"sold" is neither solid nor open nor an impedance`, "write solid", 0},
	{"Neutral", "0 ohm", "0 ohm is a neutral earthed solidly", "write solid", 0},
	{"PercentOn", "0 %", "0 % is not above zero, as an impedance in percent must be", "write an impedance in percent such as 8.5 % on 15 MVA or 8.5 %", 0},
	{"Ratings", "25/20 MVA", "20 comes after 25, but ratings rise from one cooling stage to the next", "write the stages from the smallest to the largest, as 15/20/25 MVA", 3},
	{"CurrentRatio", "600:5", "600:5 has a colon, which some readers of such files take for base 60", "write 600/5 A", 3},
	{"CurrentRatio", "600", "600 is one value; a current ratio has two, with a slash between", "write a current ratio such as 600/5 A or 1.2 kA/1 A", 0},
	{"CurrentRatio", "600/0 A", "both values of a current ratio must be above zero", "write a current ratio such as 600/5 A or 1.2 kA/1 A", 0},
	{"TapRange", "+-10 %", "+-10 % does not say in how many steps", "add the number of steps, as in 32 steps", 0},
	{"TapRange", "+5 % to -15 % in 16 steps", "+5 % to -15 % does not rise from its first end to its second", "write the lower end first, as -15 % to +5 %", 0},
	{"TapRange", "+-100 % in 2 steps", "+-100 % leaves no turns at its lower end", "write a tap range such as +-10 % in 32 steps or -15 % to +5 % in 16 steps", 0},
	{"TapRange", "+-10 % in 0 steps", `"0" is no number of steps`, "write a number of steps such as 32 steps", 10},
	{"PowerFactor", "95 lag", "95 is above 1, which a power factor cannot be", "write 0.95 with lag or lead, as 0.95 lag", 0},
	{"PowerFactor", "95 % lag", "95 % is a percentage; a power factor is a plain number", "write 0.95 with lag or lead, as 0.95 lag", 0},
	{"PowerFactor", "0.95 leading", `"leading" is neither lag nor lead`, "write 0.95 lead", 5},
	{"PowerFactor", "0 lag", "0 is not above zero, as a power factor must be", "write a power factor such as 0.95 lag or 0.88 lead", 0},
	{"ColdLoad", "2.6 for 20", "20 has no unit", "write a time in s, min or h such as 20 min or 600 s", 8},
	{"Phases", "ABA", "A stands here twice", "name each conductor once", 2},
	{"Phases", "A L2", "L2 mixes two ways of naming the phases", "use either A B C or L1 L2 L3", 2},
	{"Phases", "abc", "abc is no conductor: capitals matter", "write ABC", 0},
	{"SignedSum", "A B", `"B" follows without a sign`, "write a sign between the conductors, as A + B", 2},
	{"SignedSum", "A - A", "A stands here twice", "name each conductor once", 4},
	{"SignedSum", "A -", "the text ends where a conductor is wanted", "write a signed sum of conductors such as A - B or A + B + C", 3},
	{"VectorGroup", "Dyn2", "Dyn cannot have clock number 2; possible are 1, 3, 5, 7, 9 or 11", "write Dyn with 1, 3, 5, 7, 9 or 11", 3},
	{"WindingGroup", "Dyn11", "Dyn11 has two windings; a three-winding transformer is wanted here", "write a three-winding group such as YNyn0d11 or Dyn1yn1", 0},
	{"WindingGroup", "YNyn1d1", "in YNyn1d1 the second winding cannot have clock number 1 against the first; possible are 0, 2, 4, 6, 8 or 10", "write a three-winding group such as YNyn0d11 or Dyn1yn1", 0},
	{"WindingGroup", "YNyn0,d11", "YNyn0,d11 is not written as IEC 60076-1 has it", "write YNyn0d11", 0},
	{"VoltageTriple", "110/33 kV", "110/33 has 2 values; 3 are wanted, with slashes between", "write a set of three voltages such as 110/33/11 kV or 69/12.47/4.16 kV", 0},
	{"WindingEnds", "A", "A is one end of a winding", "write both ends, as A-N or A-B", 0},
	{"WindingEnds", "A-A", "A-A: a winding stands between different conductors", "name each conductor once", 2},
	{"WindingEnds", "A-L2", "L2 mixes two ways of naming the phases", "use either A B C or L1 L2 L3", 2},
	{"Positions", "1/2/3/4 %", "1/2/3/4 has 4 positions; a regulator has three units at most", "write a set of tap positions such as 2.5 % or 5/3.125/-0.625 %", 0},
	{"VectorGroup", "Yy1", "Yy cannot have clock number 1; possible are 0, 2, 4, 6, 8 or 10", "write Yy with 0, 2, 4, 6, 8 or 10", 2},
	{"VectorGroup", "Dyn", "Dyn has no clock number", "write Dyn with 1, 3, 5, 7, 9 or 11", 3},
	{"VectorGroup", "Yy12", "clock number 12 is written 0", "write Yy0", 2},
	{"VectorGroup", "Dyn011", "clock number 011 begins with a zero", "write Dyn11", 3},
	{"VectorGroup", "DNyn11", "DNyn11 has a delta with a neutral, which a delta does not have", "leave out the n of the delta", 0},
	{"VectorGroup", "DYN11", "DYN11: the first winding is written in capitals, the second in small letters", "write Dyn11", 0},
	{"VectorGroup", "Dyn-11", "Dyn-11 is not written as IEC 60076-1 has it", "write Dyn11", 0},
	{"VectorGroup", "YNyn0d1", "YNyn0d1 has more than two windings; a two-winding transformer is wanted here", "write a vector group such as Dyn1 or YNd11", 0},

	// How lines are built.
	{"Resistivity", "100 ohm", "100 ohm is an impedance; a resistivity is wanted here", "write a resistivity such as 100 ohm.m or 1000 ohm.m", 4},
	{"Resistivity", "0 ohm.m", "0 ohm.m is not above zero, as a resistivity must be", "write a resistivity such as 100 ohm.m or 1000 ohm.m", 0},
	{"Position", "2.5 ft", "no height follows 2.5 ft", "write a position such as 2.5 ft at 28 ft or -0.9 m at 9.5 m", 6},
	{"Position", "2.5 ft at -28 ft", "-28 has a sign, which has no meaning here", "leave the sign out", 10},
	{"Position", "2.5 ft at 28", "28 has no unit", "write a height above ground such as 28 ft or 9.5 m", 10},
	{"EarthingAlong", "25 ohm", "no distance follows 25 ohm", "write an earthing along a line such as 25 ohm every 300 m or 100 ohm every 0.25 mi", 6},
	{"EarthingAlong", "25 ohm every 300 s", "300 s is a time; a distance of electrodes is wanted here", "write a distance of electrodes such as 300 m or 0.25 mi", 17},
	{"EarthingAlong", "0 ohm every 300 m", "0 ohm is not above zero, as a resistance of one electrode must be", "write a resistance of one electrode such as 25 ohm or 100 ohm", 0},
}

func TestErrors(t *testing.T) {
	byName := make(map[string]kind)
	for _, k := range kinds {
		byName[k.name] = k
	}
	for _, tt := range errorTests {
		k, ok := byName[tt.kind]
		if !ok {
			t.Fatalf("there is no type %s", tt.kind)
		}
		v, err := k.read(tt.text)
		var e *Error
		if !errors.As(err, &e) {
			t.Errorf("%s %q: read as %v, error %v; want it refused", tt.kind, tt.text, v, err)
			continue
		}
		if e.Problem != tt.problem || e.Fix != tt.fix || e.Offset != tt.offset {
			t.Errorf("%s %q:\n got %s\n     %s (at %d)\nwant %s\n     %s (at %d)",
				tt.kind, tt.text, e.Problem, e.Fix, e.Offset, tt.problem, tt.fix, tt.offset)
		}
	}
}

func TestErrorText(t *testing.T) {
	var i Current
	err := i.UnmarshalText([]byte("9.2 MVA"))
	if want := `"9.2 MVA": 9.2 MVA is a power; a current is wanted here`; err == nil || err.Error() != want {
		t.Errorf("got %v, want %s", err, want)
	}
	if i != 0 {
		t.Errorf("a refused text left the value %v", i)
	}
}

func TestNearest(t *testing.T) {
	keys := []string{"from", "to", "voltage", "voltages", "impedance", "zero-sequence", "zero-sequence x/r", "line types", "N1", "N2", "CT-11", "kV", "kVA"}
	for _, tt := range []struct {
		word, want string
		found      bool
	}{
		{"volatge", "voltage", true}, // two letters swapped
		{"voltags", "voltage", true}, // one letter exchanged; voltages, with one left out, comes later
		{"voltage", "voltage", true},
		{"Voltages", "voltages", true},
		{"line_types", "line types", true},
		{"zero sequence", "zero-sequence", true},
		{"impedence", "impedance", true},
		{"form", "from", true},
		{"CT11", "CT-11", true},
		{"KV", "kV", true},
		{"Kva", "kVA", true},
		{"N3", "", false}, // another name, not a slip
		{"length", "", false},
		{"", "", false},
	} {
		got, found := Nearest(tt.word, keys)
		if got != tt.want || found != tt.found {
			t.Errorf("Nearest(%q) = %q, %v; want %q, %v", tt.word, got, found, tt.want, tt.found)
		}
	}
	long := strings.Repeat("a", 1e6) // must not take the square of its length
	if got, found := Nearest(long, []string{long}); found {
		t.Errorf("Nearest found %d characters for a text that is no word", len(got))
	}
	if got, found := Nearest("x", nil); found {
		t.Errorf("Nearest found %q among no candidates", got)
	}
}

func TestDistance(t *testing.T) {
	for _, tt := range []struct {
		a, b   string
		want   int
		source string
	}{
		{"kitten", "sitting", 3, "published: the usual example of the Levenshtein distance [from memory]"},
		{"CA", "ABC", 3, "published: the usual example where optimal string alignment (3) differs from the unrestricted distance (2) [from memory]"},
		{"ab", "ba", 1, "derived: one swap"},
		{"", "abc", 3, "derived: three insertions"},
	} {
		if got := distance([]rune(tt.a), []rune(tt.b), 10); got != tt.want {
			t.Errorf("distance(%q, %q) = %d, want %d (%s)", tt.a, tt.b, got, tt.want, tt.source)
		}
	}
}
