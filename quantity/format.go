package quantity

import (
	"math"
	"strconv"
	"strings"
)

// Format writes a value for a table, rounded to significant digits and
// without an exponent: Format(7453.2, 4) is "7453", Format(0.09634, 3) is
// "0.0963". Digits left of the dot beyond those asked for become zeros.
// Values from 1e12 up and below 1e-6 are written with an exponent.
//
// Special cases are: Format(0) is "0", whatever the sign and the digits;
// Format(±Inf) is "inf" or "-inf", Format(NaN) "nan".
func Format(value float64, digits int) string {
	switch {
	case math.IsNaN(value):
		return "nan"
	case math.IsInf(value, 1):
		return "inf"
	case math.IsInf(value, -1):
		return "-inf"
	case value == 0:
		return "0"
	}
	digits = max(digits, 1)
	scientific := strconv.FormatFloat(value, 'e', digits-1, 64)
	mantissa, exponent, _ := strings.Cut(scientific, "e")
	e, _ := strconv.Atoi(exponent) // FormatFloat wrote it
	if e < -6 || e >= 12 {
		return mantissa + "e" + strconv.Itoa(e)
	}
	// The exponent after rounding counts: 9996 to three digits is 1.00e4.
	rounded, _ := strconv.ParseFloat(scientific, 64)
	return strconv.FormatFloat(rounded, 'f', max(digits-1-e, 0), 64)
}

// Engineering writes a value for a reader with its unit and a prefix from p
// to G, rounded to significant digits: Engineering(7453, "A", 3) is
// "7.45 kA". Values that Format has a word for keep the bare unit.
func Engineering(value float64, unit string, digits int) string {
	if value == 0 || math.IsNaN(value) || math.IsInf(value, 0) {
		return Format(value, digits) + " " + unit
	}
	digits = max(digits, 1)
	_, exponent, _ := strings.Cut(strconv.FormatFloat(value, 'e', digits-1, 64), "e")
	e, _ := strconv.Atoi(exponent) // FormatFloat wrote it
	prefixes := []string{"p", "n", "µ", "m", "", "k", "M", "G"}
	// The step is found after rounding: 999.96 A to four digits is 1.000 kA.
	step := min(max(int(math.Floor(float64(e)/3)), -4), 3)
	return Format(value/math.Pow(1000, float64(step)), digits) + " " + prefixes[step+4] + unit
}
