package quantity

import (
	"encoding"
	"fmt"
	"math"
	"strconv"
	"strings"
)

// writtenDigits is how many significant digits a text carries: the error is
// below 5e-13 of the value, and 13 digits written, read and written again
// are the same digits.
const writtenDigits = 13

// decimalText writes v·10^-exp with the digits that writtenDigits allows and
// no trailing zeros, shifting the decimal text so that nothing is rounded twice.
func decimalText(v float64, exp int) string {
	if v == 0 {
		return "0"
	}
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return strconv.FormatFloat(v, 'g', -1, 64)
	}
	mantissa, exponent, _ := strings.Cut(strconv.FormatFloat(math.Abs(v), 'e', writtenDigits-1, 64), "e")
	e, _ := strconv.Atoi(exponent) // FormatFloat wrote it
	e -= exp
	digits := strings.TrimRight(strings.Replace(mantissa, ".", "", 1), "0")
	sign := ""
	if v < 0 {
		sign = "-"
	}
	switch {
	case e < -6 || e > 15: // a row of zeros is read wrong
		if len(digits) > 1 {
			digits = digits[:1] + "." + digits[1:]
		}
		return sign + digits + "e" + strconv.Itoa(e)
	case e < 0:
		return sign + "0." + strings.Repeat("0", -e-1) + digits
	case e >= len(digits)-1:
		return sign + digits + strings.Repeat("0", e-len(digits)+1)
	}
	return sign + digits[:e+1] + "." + digits[e+1:]
}

// A scale is a unit to write in, 10^exp of the SI unit.
type scale struct {
	exp  int
	unit string
}

// inScale writes v in the largest unit in which it is at least one, or in
// the first; the scales ascend.
func inScale(v float64, scales []scale) string {
	best := scales[0]
	for _, s := range scales[1:] {
		if math.Abs(v) >= math.Pow10(s.exp) || v == 0 && s.exp == 0 {
			best = s
		}
	}
	return decimalText(v, best.exp) + " " + best.unit
}

// marshal returns the text of v after reading it back: a value that has no
// text (NaN, an empty list, a struct that was never filled) is an error here
// and not where somebody opens the file.
func marshal[T fmt.Stringer, P interface {
	*T
	encoding.TextUnmarshaler
}](v T) ([]byte, error) {
	text := v.String()
	if err := P(new(T)).UnmarshalText([]byte(text)); err != nil {
		return nil, fmt.Errorf("write %T: %w", v, err)
	}
	return []byte(text), nil
}
