package quantity

import (
	"math"
	"regexp"
	"slices"
	"strings"
)

// A dimension is what a unit measures. The three powers are dimensions of
// their own, because a rating in MVA is no load in MW.
type dimension int

const (
	dimVoltage dimension = iota
	dimCurrent
	dimApparentPower
	dimActivePower
	dimReactivePower
	dimFrequency
	dimLength
	dimArea
	dimTime
	dimCycles
	dimPercent
	dimPerUnit
	dimTemperature
	dimAngle
	dimImpedance
	dimImpedancePerLength
	dimSusceptance
	dimSusceptancePerLength
	dimCapacitance
	dimCapacitancePerLength
	dimInductance
	dimInductancePerLength
	dimResistivity
)

// article says what a value of the dimension is, in the trade's words, to
// someone who wanted one of the dimensions in wanted.
func (d dimension) article(wanted []dimension) string {
	if d == dimApparentPower || d == dimActivePower || d == dimReactivePower {
		// Which power it is matters only to someone who wanted another power.
		if !slices.ContainsFunc(wanted, func(w dimension) bool {
			return w == dimApparentPower || w == dimActivePower || w == dimReactivePower
		}) {
			return "a power"
		}
	}
	return articles[d]
}

var articles = map[dimension]string{
	dimVoltage:              "a voltage",
	dimCurrent:              "a current",
	dimApparentPower:        "an apparent power",
	dimActivePower:          "an active power",
	dimReactivePower:        "a reactive power",
	dimFrequency:            "a frequency",
	dimLength:               "a length",
	dimArea:                 "a cross-section",
	dimTime:                 "a time",
	dimCycles:               "a time in cycles",
	dimPercent:              "a percentage",
	dimPerUnit:              "a per-unit value",
	dimTemperature:          "a temperature",
	dimAngle:                "an angle",
	dimImpedance:            "an impedance",
	dimImpedancePerLength:   "an impedance per length",
	dimSusceptance:          "a susceptance",
	dimSusceptancePerLength: "a susceptance per length",
	dimCapacitance:          "a capacitance",
	dimCapacitancePerLength: "a capacitance per length",
	dimInductance:           "an inductance",
	dimInductancePerLength:  "an inductance per length",
	dimResistivity:          "a resistivity",
}

// Factors of the units that are no power of ten of the SI unit. The foot and
// the inch are exact by the international yard and pound agreement of 1959.
const (
	metrePerInch = 0.0254
	metrePerFoot = 0.3048
	metrePerMile = 5280 * metrePerFoot
	// A circular mil is the area of a circle of 0.001 inch diameter.
	squareMetrePerCircularMil = math.Pi / 4 * (metrePerInch / 1000) * (metrePerInch / 1000)
	radianPerDegree           = math.Pi / 180
)

// A unit turns numbers into SI: number · 10^exp · mul / div. The power of ten
// is applied to the decimal text, so that 12.47 kV is exactly the float64
// nearest to 12470.
type unit struct {
	name     string
	dim      dimension
	exp      int
	mul, div float64
}

// units are all units known, in the order in which they are offered.
var units = allUnits()

var unitByName = func() map[string]unit {
	m := make(map[string]unit, len(units))
	for _, u := range units {
		m[u.name] = u
	}
	return m
}()

func allUnits() []unit {
	var list []unit
	add := func(d dimension, exp int, mul float64, names ...string) {
		for _, n := range names {
			list = append(list, unit{n, d, exp, mul, 1})
		}
	}
	add(dimVoltage, 0, 1, "V")
	add(dimVoltage, 3, 1, "kV")
	add(dimCurrent, 0, 1, "A")
	add(dimCurrent, 3, 1, "kA")
	add(dimCurrent, -3, 1, "mA")
	for _, p := range []struct {
		d    dimension
		name string
	}{{dimApparentPower, "VA"}, {dimActivePower, "W"}, {dimReactivePower, "var"}} {
		// No milliwatts: on a feeder mW is MW with a slip of the shift key.
		add(p.d, 0, 1, p.name)
		add(p.d, 3, 1, "k"+p.name)
		add(p.d, 6, 1, "M"+p.name)
		add(p.d, 9, 1, "G"+p.name)
	}
	add(dimFrequency, 0, 1, "Hz")
	add(dimLength, 0, 1, "m")
	add(dimLength, 3, 1, "km")
	add(dimLength, 0, metrePerMile, "mi")
	add(dimLength, 0, metrePerFoot, "ft")
	add(dimLength, 3, metrePerFoot, "kft")
	add(dimLength, 0, metrePerInch, "in")
	add(dimLength, -2, 1, "cm")
	add(dimLength, -3, 1, "mm")
	add(dimArea, -6, 1, "mm2", "mm²")
	add(dimArea, 3, squareMetrePerCircularMil, "kcmil")
	add(dimArea, 0, squareMetrePerCircularMil, "cmil")
	add(dimTime, 0, 1, "s")
	add(dimTime, -3, 1, "ms")
	add(dimTime, 0, 60, "min")
	add(dimTime, 0, 3600, "h")
	add(dimCycles, 0, 1, "cycles", "cycle")
	add(dimPercent, -2, 1, "%")
	add(dimPerUnit, 0, 1, "pu")
	add(dimTemperature, 0, 1, "C", "°C", "degC")
	add(dimAngle, 0, radianPerDegree, "deg", "°")
	add(dimAngle, 0, 1, "rad")
	add(dimImpedance, 0, 1, "ohm", "ohms", "Ω")
	add(dimImpedance, -3, 1, "mohm", "mΩ")
	add(dimImpedance, -6, 1, "uohm", "uΩ", "µohm", "µΩ")
	add(dimImpedance, 3, 1, "kohm", "kΩ")
	add(dimResistivity, 0, 1, "ohm.m", "ohm·m", "Ω·m")
	add(dimSusceptance, 0, 1, "S")
	add(dimSusceptance, -3, 1, "mS")
	add(dimSusceptance, -6, 1, "uS", "µS")
	add(dimSusceptance, -9, 1, "nS")
	add(dimCapacitance, 0, 1, "F")
	add(dimCapacitance, -3, 1, "mF")
	add(dimCapacitance, -6, 1, "uF", "µF")
	add(dimCapacitance, -9, 1, "nF")
	add(dimCapacitance, -12, 1, "pF")
	add(dimInductance, 0, 1, "H")
	add(dimInductance, -3, 1, "mH")
	add(dimInductance, -6, 1, "uH", "µH")

	perLength := map[dimension]dimension{
		dimImpedance:   dimImpedancePerLength,
		dimSusceptance: dimSusceptancePerLength,
		dimCapacitance: dimCapacitancePerLength,
		dimInductance:  dimInductancePerLength,
	}
	lengths := []unit{
		{name: "km", exp: 3, mul: 1},
		{name: "mi", mul: metrePerMile},
		{name: "kft", exp: 3, mul: metrePerFoot},
		{name: "1000 ft", exp: 3, mul: metrePerFoot},
		{name: "m", mul: 1},
		{name: "ft", mul: metrePerFoot},
	}
	for _, u := range slices.Clone(list) {
		d, ok := perLength[u.dim]
		if !ok {
			continue
		}
		for _, l := range lengths {
			list = append(list, unit{u.name + "/" + l.name, d, u.exp - l.exp, u.mul, l.mul})
		}
	}
	return list
}

// allDimensions are the dimensions of all units.
var allDimensions = func() []dimension {
	var dims []dimension
	for d := range articles {
		dims = append(dims, d)
	}
	slices.Sort(dims)
	return dims
}()

// unitNames lists the names of the units of the dimensions given.
func unitNames(dims []dimension) []string {
	var names []string
	for _, u := range units {
		if slices.Contains(dims, u.dim) {
			names = append(names, u.name)
		}
	}
	return names
}

// misspelt maps what people type for a unit, in lower case, to the unit.
// What differs by capitals only needs no line.
var misspelt = map[string]string{
	"volt": "V", "volts": "V", "kilovolt": "kV", "kilovolts": "kV",
	"amp": "A", "amps": "A", "ampere": "A", "amperes": "A",
	"watt": "W", "watts": "W", "vars": "var", "kvars": "kvar", "mvars": "Mvar",
	"hertz": "Hz", "cps": "Hz",
	"metre": "m", "metres": "m", "meter": "m", "meters": "m",
	"kilometre": "km", "kilometres": "km", "kilometer": "km", "kilometers": "km",
	"mile": "mi", "miles": "mi", "foot": "ft", "feet": "ft", "inch": "in", "inches": "in",
	"mcm": "kcmil", "sqmm": "mm2", "qmm": "mm2",
	"sec": "s", "secs": "s", "second": "s", "seconds": "s",
	"msec": "ms", "msecs": "ms", "millisecond": "ms", "milliseconds": "ms",
	"mins": "min", "minute": "min", "minutes": "min",
	"hr": "h", "hrs": "h", "hour": "h", "hours": "h",
	"cyc": "cycles", "percent": "%", "pct": "%", "p.u.": "pu", "p.u": "pu",
	"celsius": "degC", "degree": "deg", "degrees": "deg", "radian": "rad", "radians": "rad",
	"siemens": "S", "mho": "S", "mhos": "S", "umho": "uS", "umhos": "uS", "µmho": "uS", "µmhos": "uS",
	"farad": "F", "farads": "F", "henry": "H", "henries": "H",
}

// mendUnit returns the unit of one of the dimensions that is another spelling
// of what was typed, or differs by capitals only.
func mendUnit(typed string, dims []dimension) (string, bool) {
	mended := respell(typed)
	names := unitNames(dims)
	if slices.Contains(names, mended) {
		return mended, true
	}
	for _, n := range names {
		if !strings.EqualFold(n, mended) {
			continue
		}
		u := unitByName[n]
		milli := u.exp < 0 && (u.dim == dimCurrent || u.dim == dimImpedance || u.dim == dimImpedancePerLength)
		if milli && strings.HasPrefix(mended, "M") {
			// A capital M may stand for mega, or for a slipped kilo; milli
			// would be a bad guess.
			continue
		}
		return n, true
	}
	return "", false
}

// suggestUnit returns the unit of one of the dimensions that a mistyped one
// most likely means.
func suggestUnit(typed string, dims []dimension) (string, bool) {
	if mended, ok := mendUnit(typed, dims); ok {
		return mended, true
	}
	near, ok := Nearest(respell(typed), unitNames(dims))
	if strings.HasPrefix(typed, "M") && !strings.HasPrefix(near, "M") {
		return "", false // no guess below mega, as in mendUnit
	}
	return near, ok
}

// respell exchanges the parts of a unit that are known misspellings.
func respell(typed string) string {
	parts := strings.Split(typed, "/")
	for i, p := range parts {
		if right, ok := misspelt[strings.ToLower(p)]; ok {
			parts[i] = right
		} else if i == 0 && strings.EqualFold(p, "ohms") {
			parts[i] = "ohm"
		}
	}
	return strings.Join(parts, "/")
}

// unitPattern is a regular expression for the units of the dimensions given.
func unitPattern(dims ...dimension) string {
	names := unitNames(dims)
	for i, n := range names {
		n = regexp.QuoteMeta(n)
		n = strings.ReplaceAll(n, "\u00b5", "[\u00b5\u03bc]") // micro sign, Greek mu
		n = strings.ReplaceAll(n, "\u03a9", "[\u03a9\u2126]") // Greek omega, ohm sign
		names[i] = strings.ReplaceAll(n, "1000 ft", "1000 *ft")
	}
	return "(?:" + strings.Join(names, "|") + ")"
}
