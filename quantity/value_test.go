package quantity

import (
	"math"
	"reflect"
	"slices"
	"testing"
)

// Sources of expected values.
const (
	yardAndPound = "derived: 1 yd = 0.9144 m exactly, international yard and pound agreement of 1959"
	siPrefix     = "derived: SI prefixes, SI brochure (BIPM, 9th edition), table 7"
	circularMil  = "derived: 1 cmil = π/4·(0.001 in)², 1 in = 25.4 mm exactly"
	conductors   = "published: nominal aluminium area in handbook tables of ACSR (ASTM B232/B232M) [from memory]"
	definition   = "derived: by definition"
)

func TestValues(t *testing.T) {
	const mi, ft = 1609.344, 0.3048
	// Twice the rounding of a float64: one for the decimal text, one for the
	// factor of the unit.
	const rounding = 2 * 0x1p-52
	for _, tt := range []struct {
		kind, text string
		want       any
		tol        float64 // relative
		source     string
	}{
		{"Voltage", "12.47 kV", Voltage(12470), 0, siPrefix},
		{"Voltage", "480 V", Voltage(480), 0, definition},
		{"Voltage", "-125 V", Voltage(-125), 0, definition},
		{"Voltage", "−125V", Voltage(-125), 0, "derived: a true minus sign, no space"},
		{"Voltage", "1.247e1 kV", Voltage(12470), 0, "derived: exponent"},
		{"Current", "9.2 kA", Current(9200), 0, siPrefix},
		{"Current", "22.5 mA", Current(0.0225), 0, siPrefix},
		{"ApparentPower", "1.30 MVA", ApparentPower(1.3e6), 0, siPrefix},
		{"ApparentPower", "2 GVA", ApparentPower(2e9), 0, siPrefix},
		{"ActivePower", "75 kW", ActivePower(75e3), 0, siPrefix},
		{"ReactivePower", "1.2 Mvar", ReactivePower(1.2e6), 0, siPrefix},
		{"Frequency", "60 Hz", Frequency(60), 0, definition},
		{"Length", "1 mi", Length(mi), rounding, yardAndPound + ", 1 mi = 1760 yd"},
		{"Length", "1 ft", Length(ft), rounding, yardAndPound + ", 3 ft = 1 yd"},
		{"Length", "1 kft", Length(304.8), rounding, yardAndPound},
		{"Length", "1 in", Length(0.0254), rounding, yardAndPound + ", 36 in = 1 yd"},
		{"Length", "5280 ft", Length(mi), rounding, yardAndPound},
		{"Length", "2.4 km", Length(2400), 0, siPrefix},
		{"Length", "15 cm", Length(0.15), 0, siPrefix},
		{"Length", "12 mm", Length(0.012), 0, siPrefix},
		{"Area", "95 mm2", Area(95e-6), rounding, siPrefix},
		{"Area", "95 mm²", Area(95e-6), rounding, siPrefix},
		{"Area", "1 kcmil", Area(0.50670747909749e-6), 1e-13, circularMil + ", fifteen digits"},
		{"Area", "1000 cmil", Area(0.50670747909749e-6), 1e-13, circularMil},
		{"Area", "795 kcmil", Area(402.8e-6), 0.05 / 402.8, conductors + ", Drake"},
		{"Area", "336.4 kcmil", Area(170.5e-6), 0.05 / 170.5, conductors + ", Linnet"},
		{"Fraction", "5 %", Fraction(0.05), 0, definition},
		{"Fraction", "-2.5%", Fraction(-0.025), 0, definition},
		{"Number", "10.5", Number(10.5), 0, definition},
		{"Resistivity", "100 ohm.m", Resistivity(100), 0, definition},
		{"Resistivity", "100 Ω·m", Resistivity(100), 0, definition},
		{"Position", "2.5 ft at 28 ft", Position{0.762, 8.5344}, rounding, yardAndPound},
		{"Position", "-90 cm at 9.5 m", Position{-0.9, 9.5}, 0, siPrefix},
		{"EarthingAlong", "25 ohm every 300 m", EarthingAlong{25, 300}, 0, definition},
		{"EarthingAlong", "0.1 kohm every 0.25 mi", EarthingAlong{100, 402.336}, rounding, yardAndPound + ", 1 mi = 1760 yd"},
		{"Temperature", "50 °C", Temperature(50), 0, definition},
		{"Temperature", "-20 degC", Temperature(-20), 0, definition},
		{"Angle", "30 deg", Angle(math.Pi / 6), rounding, "derived: 180° is π rad"},
		{"Angle", "-90°", Angle(-math.Pi / 2), rounding, "derived: 180° is π rad"},
		{"Angle", "0.5 rad", Angle(0.5), 0, definition},
		{"Susceptance", "12 uS", Susceptance(12e-6), 0, siPrefix},
		{"Susceptance", "0.4 mS", Susceptance(0.4e-3), 0, siPrefix},
		{"SusceptancePerLength", "6.92 uS/mi", SusceptancePerLength(6.92e-6 / mi), rounding, yardAndPound},
		{"SusceptancePerLength", "6.92 μS/km", SusceptancePerLength(6.92e-9), 0, siPrefix},
		{"CapacitancePerLength", "0.25 uF/km", CapacitancePerLength(0.25e-9), 0, siPrefix},
		{"CapacitancePerLength", "250 nF/km", CapacitancePerLength(0.25e-9), 0, siPrefix},
		{"Duration", "3 cycles", Duration{Cycles: 3}, 0, definition},
		{"Duration", "1 cycle", Duration{Cycles: 1}, 0, definition},
		{"Duration", "20 min", Duration{Seconds: 1200}, 0, definition},
		{"Duration", "2 h", Duration{Seconds: 7200}, 0, definition},
		{"Duration", "50 ms", Duration{Seconds: 0.05}, 0, siPrefix},
		{"Impedance", "0.3061 + j0.6270 ohm", Impedance(0.3061 + 0.627i), 0, definition},
		{"Impedance", "0.3061+j0.627ohm", Impedance(0.3061 + 0.627i), 0, "derived: without spaces"},
		{"Impedance", "0.3061 + 0.627j Ω", Impedance(0.3061 + 0.627i), 0, "derived: j after the number"},
		{"Impedance", "-j5 ohm", Impedance(-5i), 0, definition},
		{"Impedance", "j2.6 ohms", Impedance(2.6i), 0, definition},
		{"Impedance", "1 − j2 ohm", Impedance(1 - 2i), 0, "derived: a true minus sign"},
		{"Impedance", "-1 + j2 mohm", Impedance(-0.001 + 0.002i), 0, siPrefix},
		{"Impedance", "200 \u00b5\u03a9", Impedance(200e-6), 0, siPrefix + "; micro sign, Greek omega"},
		{"Impedance", "200 \u03bc\u2126", Impedance(200e-6), 0, siPrefix + "; Greek mu, ohm sign"},
		{"ImpedancePerLength", "0.3061 + j0.6270 ohm/mi", ImpedancePerLength(complex(0.3061/mi, 0.627/mi)), rounding, yardAndPound},
		{"ImpedancePerLength", "0.19 + j0.39 ohm/km", ImpedancePerLength(0.19e-3 + 0.39e-3i), 0, siPrefix},
		{"ImpedancePerLength", "0.06 ohm/kft", ImpedancePerLength(complex(0.06/304.8, 0)), rounding, yardAndPound},
		{"ImpedancePerLength", "0.06 ohm/1000 ft", ImpedancePerLength(complex(0.06/304.8, 0)), rounding, yardAndPound},
		{"ImpedancePerLength", "0.06 ohm/1000ft", ImpedancePerLength(complex(0.06/304.8, 0)), rounding, yardAndPound},
		{"ImpedancePerLength", "0.06 mohm/ft", ImpedancePerLength(complex(0.06e-3/ft, 0)), rounding, yardAndPound},
		{"ImpedancePerLength", "0.19 mohm/m", ImpedancePerLength(0.19e-3), 0, siPrefix},
		{"SeriesImpedance", "0.45 + j0.92 ohm", SeriesImpedance{0.45 + 0.92i, false}, 0, definition},
		{"SeriesImpedance", "0.19 + j0.39 ohm/km", SeriesImpedance{0.19e-3 + 0.39e-3i, true}, 0, siPrefix},
		{"FaultLevel", "9.20 kA", FaultLevel{Ampere: 9200}, 0, siPrefix},
		{"FaultLevel", "1832 MVA", FaultLevel{VoltAmpere: 1.832e9}, 0, siPrefix},
		{"SystemImpedance", "1.2 + j8.0 ohm", SystemImpedance{Z: 1.2 + 8i}, 0, definition},
		{"SystemImpedance", "0.01 + j0.08 pu on 100 MVA", SystemImpedance{Z: 0.01 + 0.08i, BaseVA: 100e6, PerUnit: true}, 0, definition},
		{"SystemImpedance", "j0.08 pu on 100 MVA at 115 kV", SystemImpedance{Z: 0.08i, BaseVA: 100e6, BaseVolt: 115e3, PerUnit: true}, 0, definition},
		{"SystemImpedance", "open", SystemImpedance{Open: true}, 0, definition},
		{"PercentOn", "8.5 % on 15 MVA", PercentOn{0.085, 15e6}, 0, definition},
		{"PercentOn", "0.085 pu on 15 MVA", PercentOn{0.085, 15e6}, 0, definition},
		{"PercentOn", "8.5 %", PercentOn{0.085, 0}, 0, definition},
		{"Ratings", "15/20/25 MVA", Ratings{15e6, 20e6, 25e6}, 0, siPrefix},
		{"Ratings", "500 / 667 kVA", Ratings{500e3, 667e3}, 0, siPrefix},
		{"VoltagePair", "115/12.47 kV", VoltagePair{115e3, 12470}, 0, siPrefix},
		{"VoltagePair", "115 kV/480 V", VoltagePair{115e3, 480}, 0, siPrefix},
		{"VoltagePair", "115 kV / 1000 V", VoltagePair{115e3, 1000}, 0, "derived: no thousand feet here"},
		{"CurrentRatio", "600/5 A", CurrentRatio{600, 5}, 0, definition},
		{"CurrentRatio", "1.2 kA/1 A", CurrentRatio{1200, 1}, 0, siPrefix},
		{"VoltageRatio", "7200/120 V", VoltageRatio{7200, 120}, 0, definition},
		{"VoltageRatio", "12 kV/120 V", VoltageRatio{12000, 120}, 0, siPrefix},
		{"Neutral", "solid", Neutral{Solid: true}, 0, definition},
		{"Neutral", "open", Neutral{Open: true}, 0, definition},
		{"Neutral", "6.35 ohm", Neutral{Z: 6.35}, 0, definition},
		{"Neutral", "j2.6 ohm", Neutral{Z: 2.6i}, 0, definition},
		{"TapRange", "+-10 % in 32 steps", TapRange{-0.1, 0.1, 32}, 0, definition},
		{"TapRange", "±10 % in 32 steps", TapRange{-0.1, 0.1, 32}, 0, definition},
		{"TapRange", "+/-10% in 32 steps", TapRange{-0.1, 0.1, 32}, 0, definition},
		{"TapRange", "-15 % to +5 % in 16 steps", TapRange{-0.15, 0.05, 16}, 0, definition},
		{"TapRange", "0 % to 10 % in 1 step", TapRange{0, 0.1, 1}, 0, definition},
		{"PowerFactor", "0.95 lag", PowerFactor{Value: 0.95}, 0, definition},
		{"PowerFactor", "0.88 lead", PowerFactor{0.88, true}, 0, definition},
		{"PowerFactor", "1", PowerFactor{Value: 1}, 0, definition},
		{"PowerFactor", "1.00 lead", PowerFactor{Value: 1}, 0, "derived: at 1 there is nothing to lead"},
		{"ColdLoad", "2.6 for 20 min", ColdLoad{2.6, 1200, 0}, 0, definition},
		{"ColdLoad", "2.6 for 20 min then decaying over 1 h", ColdLoad{2.6, 1200, 3600}, 0, definition},
		{"ColdLoad", "2.2", ColdLoad{Factor: 2.2}, 0, definition},
		{"LoadLevel", "light", LoadLevel{Word: "light"}, 0, definition},
		{"LoadLevel", "60 %", LoadLevel{Fraction: 0.6}, 0, definition},
		{"Phases", "ABC", PhasesABC, 0, definition},
		{"Phases", "C A", PhaseA | PhaseC, 0, "derived: order free"},
		{"Phases", "L1 L2 L3", PhasesABC, 0, definition},
		{"Phases", "L1L2 N", PhaseA | PhaseB | PhaseN, 0, definition},
		{"Phases", "AN", PhaseA | PhaseN, 0, definition},
		{"SignedSum", "A - B", SignedSum{[4]int8{1, -1, 0, 0}}, 0, definition},
		{"SignedSum", "L1−L3", SignedSum{[4]int8{1, 0, -1, 0}}, 0, definition},
		{"SignedSum", "-A", SignedSum{[4]int8{-1, 0, 0, 0}}, 0, definition},
		{"SignedSum", "A+B+C+N", SignedSum{[4]int8{1, 1, 1, 1}}, 0, definition},
		{"VectorGroup", "Dyn11", VectorGroup{Winding{'D', false}, Winding{'Y', true}, 11}, 0, "published: IEC 60076-1 [from memory]"},
		{"WindingGroup", "YNyn0d11", WindingGroup{[3]Winding{{'Y', true}, {'Y', true}, {'D', false}}, [3]int{0, 0, 11}}, 0, "published: IEC 60076-1 [from memory]"},
		{"VoltageTriple", "110/33/11 kV", VoltageTriple{110e3, 33e3, 11e3}, 0, "common practice, no source"},
		{"WindingEnds", "A-N-B", WindingEnds{0, 3, 1}, 0, "common practice, no source"},
		{"WindingEnds", "L3 - L1", WindingEnds{2, 0, -1}, 0, "common practice, no source"},
		{"Positions", "5/3.125/-0.625 %", Positions{0.05, 0.03125, -0.00625}, 0, "common practice, no source"},
		{"VectorGroup", "YNd1", VectorGroup{Winding{'Y', true}, Winding{'D', false}, 1}, 0, "published: IEC 60076-1 [from memory]"},
		{"VectorGroup", "YNyn0", VectorGroup{Winding{'Y', true}, Winding{'Y', true}, 0}, 0, "published: IEC 60076-1 [from memory]"},
		{"VectorGroup", "Dd0", VectorGroup{Winding{'D', false}, Winding{'D', false}, 0}, 0, "published: IEC 60076-1 [from memory]"},
		{"VectorGroup", "Yzn11", VectorGroup{Winding{'Y', false}, Winding{'Z', true}, 11}, 0, "published: IEC 60076-1 [from memory]"},
		{"VectorGroup", "Dzn0", VectorGroup{Winding{'D', false}, Winding{'Z', true}, 0}, 0, "published: IEC 60076-1 [from memory]"},
	} {
		i := slices.IndexFunc(kinds, func(k kind) bool { return k.name == tt.kind })
		if i < 0 {
			t.Fatalf("there is no type %s", tt.kind)
		}
		got, err := kinds[i].read(tt.text)
		if err != nil {
			t.Errorf("%s %q: %v (%s)", tt.kind, tt.text, err, tt.source)
			continue
		}
		if !agrees(reflect.ValueOf(got), reflect.ValueOf(tt.want), tt.tol) {
			t.Errorf("%s %q = %#v, want %#v within %g of it (%s)", tt.kind, tt.text, got, tt.want, tt.tol, tt.source)
		}
	}
}

// agrees compares numbers within a part tol of them, all else exactly.
func agrees(got, want reflect.Value, tol float64) bool {
	near := func(x, y float64) bool { return x == y || math.Abs(x-y) <= tol*math.Abs(y) }
	if got.Type() != want.Type() {
		return false
	}
	switch got.Kind() {
	case reflect.Float64:
		return near(got.Float(), want.Float())
	case reflect.Complex128:
		return near(real(got.Complex()), real(want.Complex())) && near(imag(got.Complex()), imag(want.Complex()))
	}
	return reflect.DeepEqual(got.Interface(), want.Interface())
}

func TestWrittenText(t *testing.T) {
	for _, tt := range []struct {
		value value
		want  string
	}{
		{Voltage(12470), "12.47 kV"},
		{Voltage(480), "480 V"},
		{Voltage(0), "0 V"},
		{Current(0), "0 A"},
		{Current(0.1 + 0.2), "300 mA"}, // 0.30000000000000004
		{ApparentPower(1.832e9), "1832 MVA"},
		{Length(2414.016), "2.414016 km"},
		{Area(402.8e-6), "402.8 mm2"},
		{Fraction(0.085), "8.5 %"},
		{Number(1e-9), "1e-9"},
		{Number(1234567), "1234567"},
		{Angle(math.Pi / 6), "30 deg"},
		{SusceptancePerLength(4.3e-9), "4.3 uS/km"},
		{CapacitancePerLength(0.25e-9), "250 nF/km"},
		{Duration{Seconds: 0.05}, "50 ms"},
		{Duration{Seconds: 0.5}, "0.5 s"},
		{Duration{Seconds: 90}, "90 s"},
		{Duration{Seconds: 1200}, "20 min"},
		{Impedance(1 - 2i), "1 - j2 ohm"},
		{Impedance(-5i), "-j5 ohm"},
		{Impedance(0), "0 ohm"},
		{SeriesImpedance{complex(0.19e-3, 0.39e-3), true}, "0.19 + j0.39 ohm/km"},
		{VoltagePair{115e3, 12470}, "115/12.47 kV"},
		{VoltagePair{115e3, 480}, "115 kV/480 V"},
		{VoltagePair{480, 208}, "480/208 V"},
		{VoltageRatio{7200, 120}, "7200/120 V"},
		{VoltageRatio{12000, 120}, "12 kV/120 V"},
		{CurrentRatio{1200, 5}, "1200/5 A"},
		{TapRange{-0.1, 0.1, 32}, "+-10 % in 32 steps"},
		{TapRange{-0.15, 0.05, 16}, "-15 % to +5 % in 16 steps"},
		{ColdLoad{2.6, 1200, 3600}, "2.6 for 20 min then decaying over 60 min"},
		{PhasesABC | PhaseN, "ABCN"},
		{SignedSum{[4]int8{-1, 1, 0, 0}}, "-A + B"},
	} {
		if got := tt.value.String(); got != tt.want {
			t.Errorf("%#v is written %q, want %q", tt.value, got, tt.want)
		}
	}
}

func TestMethods(t *testing.T) {
	if got := (Duration{Cycles: 3}).At(60); got != 0.05 {
		t.Errorf("3 cycles at 60 Hz = %v s, want 0.05 (derived: 3/60)", got)
	}
	if got := (Duration{Seconds: 0.2}).At(50); got != 0.2 {
		t.Errorf("0.2 s at 50 Hz = %v s, want 0.2", got)
	}
	if got := (CurrentRatio{600, 5}).Factor(); got != 120 {
		t.Errorf("600/5 = %v, want 120", got)
	}
	if got := (VoltageRatio{7200, 120}).Factor(); got != 60 {
		t.Errorf("7200/120 = %v, want 60", got)
	}
	if got := (TapRange{-0.1, 0.1, 32}).Step(); got != 0.00625 {
		t.Errorf("step of ±10 %% in 32 = %v, want 0.00625 (published: the usual 5/8 %% step)", got)
	}
	p := PhaseA | PhaseC | PhaseN
	if !p.Has(PhaseC) || p.Has(PhaseB) || p.Has(PhasesABC) || p.Count() != 3 || p.Letters() != "ACN" ||
		!slices.Equal(p.List(), []Phases{PhaseA, PhaseC, PhaseN}) {
		t.Errorf("ACN: Has, Count %d, Letters %s, List %v are not all right", p.Count(), p.Letters(), p.List())
	}
}

func TestConductorNumbers(t *testing.T) {
	for p := Phases(0); p < 16; p++ {
		var numbers []int
		for _, c := range p.List() {
			numbers = append(numbers, map[Phases]int{PhaseA: 0, PhaseB: 1, PhaseC: 2, PhaseN: 3}[c])
		}
		if got := p.Conductors(); !slices.Equal(got, numbers) {
			t.Errorf("%s: conductors %v, want %v", p, got, numbers)
		}
	}
}

func TestTypedUnit(t *testing.T) {
	for text, want := range map[string]string{
		"0.3061 + j0.6270 ohm/mi": "ohm/mi",
		"0.06 ohm/1000ft":         "ohm/1000 ft",
		" 6.92 μS/mi ":            "µS/mi",
		"12.47 kV":                "kV",
		"12.47":                   "",
		"5 furlongs":              "",
		"8.5 % on 15 MVA":         "",
		"":                        "",
	} {
		if got := TypedUnit(text); got != want {
			t.Errorf("TypedUnit(%q) = %q, want %q", text, got, want)
		}
	}
}

// TestPossibleClocks derives the clock numbers of each pair of connections
// from the windings on the legs: the terminals may be assigned to the legs in
// any cyclic order, each winding may be wound or connected either way round,
// and a delta may be closed in either sense.
func TestPossibleClocks(t *testing.T) {
	// degrees lists the angles that the voltage of terminal A to the neutral
	// point of its system can have, in degrees, against that of leg 0.
	degrees := func(kind byte) []int {
		var list []int
		leg := func(k int) int { return -120 * k }
		for k := range 3 {
			for _, turn := range []int{0, 180} {
				switch kind {
				case 'Y': // A is the end of leg k
					list = append(list, leg(k)+turn)
				case 'D': // leg k lies between A and B, or between A and C: U_A lags U_AB by 30°, and leads U_AC by 30°
					list = append(list, leg(k)+turn-30, leg(k)+turn+30)
				case 'Z': // half of leg k less half of the next or the last: U_k − U_(k+1) leads U_k by 30°, U_k − U_(k−1) lags it
					list = append(list, leg(k)+turn+30, leg(k)+turn-30)
				}
			}
		}
		return list
	}
	for _, from := range windings {
		for _, to := range windings {
			var want []int
			for _, a := range degrees(from.Kind) {
				for _, b := range degrees(to.Kind) {
					want = append(want, ((a-b)/30%12+12)%12) // hours by which the second lags
				}
			}
			slices.Sort(want)
			want = slices.Compact(want)
			var got []int
			for clock := range 13 {
				g := VectorGroup{from, to, clock}
				var back VectorGroup
				if err := back.UnmarshalText([]byte(g.String())); err == nil {
					if back != g {
						t.Errorf("%s reads as %v", g, back)
					}
					got = append(got, clock)
				}
			}
			if !slices.Equal(got, want) {
				t.Errorf("%s with %s: clock numbers %v accepted, want %v (derived from the legs)", from.symbol(), to.symbol(), got, want)
			}
		}
	}
}

func TestFormat(t *testing.T) {
	for _, tt := range []struct {
		value  float64
		digits int
		want   string
	}{
		{7453.2, 4, "7453"},
		{12.466, 4, "12.47"},
		{12.5, 4, "12.50"},
		{0.09634, 3, "0.0963"},
		{-0.09634, 3, "-0.0963"},
		{745312, 4, "745300"},
		{9996, 3, "10000"},
		{0.99996, 4, "1.000"},
		{0, 4, "0"},
		{math.Copysign(0, -1), 4, "0"},
		{1.5e-9, 2, "1.5e-9"},
		{2e15, 3, "2.00e15"},
		{7, 0, "7"},
		{math.Inf(1), 3, "inf"},
		{math.Inf(-1), 3, "-inf"},
		{math.NaN(), 3, "nan"},
	} {
		if got := Format(tt.value, tt.digits); got != tt.want {
			t.Errorf("Format(%v, %d) = %q, want %q", tt.value, tt.digits, got, tt.want)
		}
	}
}

func TestEngineering(t *testing.T) {
	for _, tt := range []struct {
		value  float64
		unit   string
		digits int
		want   string
	}{
		{7453, "A", 3, "7.45 kA"},
		{999.96, "A", 4, "1.000 kA"},
		{-999.4, "A", 3, "-999 A"},
		{0.0123, "S", 3, "12.3 mS"},
		{4.3e-9, "S/m", 2, "4.3 nS/m"},
		{6.92e-6, "S", 3, "6.92 µS"},
		{2e-14, "F", 2, "0.020 pF"},
		{1.832e9, "VA", 4, "1.832 GVA"},
		{2e13, "VA", 2, "20000 GVA"},
		{0, "A", 3, "0 A"},
		{math.Inf(1), "A", 3, "inf A"},
	} {
		if got := Engineering(tt.value, tt.unit, tt.digits); got != tt.want {
			t.Errorf("Engineering(%v, %q, %d) = %q, want %q", tt.value, tt.unit, tt.digits, got, tt.want)
		}
	}
}
