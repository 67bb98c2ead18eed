package doubt

import (
	"encoding"
	"fmt"
	"math"
	"reflect"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"feederwright/quantity"
	"feederwright/study"
)

// A span is the range that a kind of datum plausibly lies in.
type span struct {
	tables    string // tables it holds for, joined with |; "" for any
	keys      string // last keys of the path, joined with |
	low, high float64
	absolute  bool // low and high are the ends themselves, in SI units and °C; else factors on the value
	basis     string
}

const practice = "common practice, no source"

// spans are tried from the top; the first that fits holds. docs/methods.md has
// the same table in words, and a test holds the two together.
var spans = []span{
	{"supply", "three-phase|line-to-ground", 0.8, 1.25, false, practice},
	{"supply", "x/r|line-to-ground x/r", 0.5, 2, false, practice},
	{"supply", "z2", 0.8, 1.25, false, practice},
	{"supply", "z1", 0.8, 1.25, false, practice},
	{"supply", "z0", 0.5, 2, false, practice},
	{"supply", "voltage factor", 1, 1.1, true, "IEC 60909-0:2016, table 1: c from 1.00 to 1.10 above 1 kV [from memory]"},
	{"supply|method|conditions|axes", "voltage|prefault", 0.95, 1.05, false, practice},
	{"transformers|three-winding transformers|single-phase transformers|regulators|reactors", "impedance|impedance 1-2|impedance 1-3|impedance 2-3|half impedance",
		0.9, 1.1, false, "IEC 60076-1:2011, table 1: tolerance of the short-circuit impedance, 7.5 to 10 % [from memory]"},
	{"transformers|three-winding transformers", "zero-sequence|zero-sequence 1-2|zero-sequence 1-3|zero-sequence 2-3", 0.8, 1.1, false, practice},
	{"transformers|three-winding transformers", "zero-sequence x/r", 0.5, 1.5, false, practice},
	{"earthing transformers", "x/r", 4, 20, true, practice},
	{"transformers|three-winding transformers|single-phase transformers|regulators|reactors|induction machines|synchronous machines", "x/r|x/r 1-2|x/r 1-3|x/r 2-3|half x/r|z2 x/r", 0.6, 1.6, false, practice},
	{"transformers", "zero-sequence magnetising", 0.3, 3, false, practice},
	{"lines|line types", "z1|z|matrix|z1 hot|z hot|matrix hot", 0.85, 1.15, false, practice},
	{"lines|line types", "z0|z0 hot", 0.7, 1.4, false, practice},
	{"lines|line types", "b1|c1|b|b matrix", 0.8, 1.25, false, practice},
	{"lines|line types", "b0|c0", 0.4, 1, false, practice},
	{"lines", "length", 0.9, 1.1, false, practice},
	{"lines|line types|method", "earth resistivity", 10, 1000, true, "common practice, no source: from clay to rock"},
	{"", "neutral earthing", 0.4, 2.5, false, practice},
	{"conductors", "resistance|dc resistance", 0.97, 1.03, false, practice},
	{"conductors", "diameter|gmr", 0.97, 1.03, false, practice},
	{"cables", "permittivity|diameter under insulation|diameter over insulation|diameter over screen|outer diameter|screen thickness", 0.95, 1.05, false, practice},
	{"cables", "screen resistance", 0.8, 1.25, false, practice},
	{"pole tops", "sag", 0.5, 1.5, false, practice},
	{"line types", "spacing|depth|neutral distance", 0.7, 1.5, false, practice},
	{"conductors|cables|line types", "resistance at|screen resistance at|temperature|hot temperature", 20, 90, true, practice},
	{"induction machines", "locked-rotor current", 4, 8, true, practice},
	{"induction machines", "z2", 0.8, 1.25, false, practice},
	{"induction machines", "efficiency", 0.85, 0.97, true, practice},
	{"synchronous machines", "subtransient|transient|zero", 0.7, 1.3, false, "IEC 60034-1: tolerance of the peak short-circuit current, ±30 % [from memory]"},
	{"synchronous machines", "negative", 0.9, 1.3, false, practice},
	{"inverters", "current limit", 1, 1.5, true, practice},
	{"inverters", "output", 0.1, 1, false, "common practice, no source: weak sun or wind to full output"},
	{"inverters", "dip below", 0.8, 0.95, true, practice},
	{"inverters", "gain", 0, 6, true, "IEEE 2800 and European connection rules ask for 2 to 6 [from memory]; 0 is none"},
	{"inverters", "negative-sequence gain", 0, 6, true, "as the gain in positive sequence"},
	{"inverters", "ceases below", 0, 0.5, true, practice},
	{"loads", "pf", 0.8, 1, true, practice},
	{"capacitors|loads", "power", 0.5, 1.5, false, practice},
	{"", "neutral|from neutral|to neutral|first neutral|second neutral|third neutral", 0.8, 1.25, false, practice},
	{"current transformers|voltage transformers", "ratio|full", 0.5, 2, false, "common practice, no source: the next taps of a ratio"},
	{"current transformers", "resistance", 0.5, 2, false, practice},
	{"current transformers|voltage transformers", "burden", 0.5, 2, false, practice},
	{"", "ampacity|continuous|short-time", 0.8, 1.2, false, practice},
	{"breakers|reclosers|fuses", "interrupts|makes", 0.8, 1.25, false, practice},
	{"breakers|reclosers", "opens in|closes in|short-time for", 0.7, 1.5, false, practice},
	{"transformers|three-winding transformers|single-phase transformers|induction machines|synchronous machines|inverters", "rating|power", 0.8, 1.25, false, practice},
	{"", "losses", 0.6, 1.6, false, practice},
}

func oneOf(words, word string) bool {
	if words == "" {
		return true
	}
	for _, w := range strings.Split(words, "|") {
		if w == word {
			return true
		}
	}
	return false
}

// spanOf is the range of the datum at a path.
func spanOf(at study.Path) (span, bool) {
	if len(at) < 2 {
		return span{}, false
	}
	for _, s := range spans {
		if oneOf(s.tables, at[0]) && oneOf(s.keys, at[len(at)-1]) {
			return s, true
		}
	}
	return span{}, false
}

// candidates are the values to try for a datum, as YAML, with the basis of
// the choice; or why there are none.
func candidates(at study.Path, value any, low, high string) (values []string, basis, why string) {
	if low != "" {
		return []string{study.Scalar(low), study.Scalar(high)}, "range stated in the study", ""
	}
	if word, is := value.(string); is {
		for _, w := range study.Words(at) {
			if w != word {
				values = append(values, study.Scalar(w))
			}
		}
		if values == nil {
			return nil, "", "a text has no range; state what else it may be by hand"
		}
		return values, "every other word that the format allows", ""
	}
	if n, is := value.(int); is {
		if n > 1 {
			values = append(values, strconv.Itoa(n-1))
		}
		return append(values, strconv.Itoa(n+1)), "one fewer, one more", ""
	}
	s, known := spanOf(at)
	if !known {
		return nil, "", "no plausible range is known for it: state one with between: [LOW, HIGH]"
	}
	for _, x := range []float64{s.low, s.high} {
		text, ok := "", false
		if s.absolute {
			text, ok = set(value, x)
		} else {
			text, ok = scaled(value, x)
		}
		if !ok {
			return nil, "", "this value has no range of numbers: state what else it may be with between: [LOW, HIGH]"
		}
		values = append(values, text)
	}
	if s.absolute {
		return values, s.basis, ""
	}
	return values, fmt.Sprintf("%s to %s of the value; %s", percent(s.low), percent(s.high), s.basis), ""
}

func percent(x float64) string { return strconv.FormatFloat(math.Round(x*1000)/10, 'g', -1, 64) + " %" }

// digits rounds to six significant digits, more than any such datum has.
func digits(x float64) float64 {
	v, _ := strconv.ParseFloat(strconv.FormatFloat(x, 'g', 6, 64), 64) // what FormatFloat wrote
	return v
}

func rounded(z complex128) complex128 { return complex(digits(real(z)), digits(imag(z))) }

// scaled writes k times a value.
func scaled(value any, k float64) (string, bool) {
	c := complex(k, 0)
	text := ""
	switch v := value.(type) {
	case quantity.Voltage:
		text = quantity.Voltage(digits(k * float64(v))).String()
	case quantity.Current:
		text = quantity.Current(digits(k * float64(v))).String()
	case quantity.ApparentPower:
		text = quantity.ApparentPower(digits(k * float64(v))).String()
	case quantity.ActivePower:
		text = quantity.ActivePower(digits(k * float64(v))).String()
	case quantity.ReactivePower:
		text = quantity.ReactivePower(digits(k * float64(v))).String()
	case quantity.Length:
		text = quantity.Length(digits(k * float64(v))).String()
	case quantity.Fraction:
		text = quantity.Fraction(digits(k * float64(v))).String()
	case quantity.Number:
		text = quantity.Number(digits(k * float64(v))).String()
	case quantity.Resistivity:
		text = quantity.Resistivity(digits(k * float64(v))).String()
	case quantity.Susceptance:
		text = quantity.Susceptance(digits(k * float64(v))).String()
	case quantity.SusceptancePerLength:
		text = quantity.SusceptancePerLength(digits(k * float64(v))).String()
	case quantity.CapacitancePerLength:
		text = quantity.CapacitancePerLength(digits(k * float64(v))).String()
	case quantity.Impedance:
		text = quantity.Impedance(rounded(c * complex128(v))).String()
	case quantity.ImpedancePerLength:
		text = quantity.ImpedancePerLength(rounded(c * complex128(v))).String()
	case quantity.SeriesImpedance:
		v.Z = rounded(c * v.Z)
		text = v.String()
	case quantity.SystemImpedance:
		if v.Open {
			return "", false
		}
		v.Z = rounded(c * v.Z)
		text = v.String()
	case quantity.PercentOn:
		v.Fraction = digits(k * v.Fraction)
		text = v.String()
	case quantity.FaultLevel:
		text = quantity.FaultLevel{Ampere: digits(k * v.Ampere), VoltAmpere: digits(k * v.VoltAmpere)}.String()
	case quantity.Neutral:
		if v.Z == 0 {
			return "", false
		}
		v.Z = rounded(c * v.Z)
		text = v.String()
	case quantity.EarthingAlong:
		v.Resistance = digits(k * v.Resistance)
		text = v.String()
	case quantity.Duration:
		text = quantity.Duration{Seconds: digits(k * v.Seconds), Cycles: digits(k * v.Cycles)}.String()
	case quantity.CurrentRatio:
		v.Primary = digits(k * v.Primary)
		text = v.String()
	case quantity.VoltageRatio:
		v.Primary = digits(k * v.Primary)
		text = v.String()
	case quantity.Ratings:
		all := make(quantity.Ratings, len(v))
		for i := range v {
			all[i] = digits(k * v[i])
		}
		text = all.String()
	case [][]quantity.SeriesImpedance:
		return matrix(v, func(z quantity.SeriesImpedance) string {
			z.Z = rounded(c * z.Z)
			return z.String()
		}), true
	case [][]quantity.SusceptancePerLength:
		return matrix(v, func(b quantity.SusceptancePerLength) string {
			return quantity.SusceptancePerLength(digits(k * float64(b))).String()
		}), true
	default:
		return "", false
	}
	return study.Scalar(text), true
}

// number is a number of a typed value that is scaled with it: not one behind a
// slash (600/5 A, ohm/1000 ft).
var number = regexp.MustCompile(`(^|[^0-9.eE/])([0-9]*\.?[0-9]+)`)

// inUnitsOf writes scaled values in the units and form that the author used,
// where they can be read back as the same value; else they stay as they are.
func inUnitsOf(a study.Assumption, values []string, s span) []string {
	out := slices.Clone(values)
	for i, k := range []float64{s.low, s.high} {
		text := number.ReplaceAllStringFunc(a.Text, func(m string) string {
			at := strings.IndexAny(m, ".0123456789")
			x, err := strconv.ParseFloat(m[at:], 64)
			if err != nil {
				return m
			}
			return m[:at] + strconv.FormatFloat(digits(k*x), 'f', -1, 64)
		})
		v := reflect.New(reflect.TypeOf(a.Value))
		t, ok := v.Interface().(encoding.TextUnmarshaler)
		if !ok || t.UnmarshalText([]byte(text)) != nil {
			continue
		}
		if back, ok := scaled(v.Elem().Interface(), 1); ok && back == values[i] {
			out[i] = study.Scalar(text)
		}
	}
	return out
}

func matrix[T any](rows [][]T, text func(T) string) string {
	var all []string
	for _, row := range rows {
		var cells []string
		for _, v := range row {
			cells = append(cells, study.Scalar(text(v)))
		}
		all = append(all, "["+strings.Join(cells, ", ")+"]")
	}
	return "[" + strings.Join(all, ", ") + "]"
}

// set writes x, in SI units, as a value of the kind given.
func set(kind any, x float64) (string, bool) {
	text := ""
	switch kind.(type) {
	case quantity.Number:
		text = quantity.Number(x).String()
	case quantity.Fraction:
		text = quantity.Fraction(x).String()
	case quantity.Resistivity:
		text = quantity.Resistivity(x).String()
	case quantity.Temperature:
		text = quantity.Temperature(x).String()
	case quantity.PowerFactor:
		text = quantity.PowerFactor{Value: x}.String()
	default:
		return "", false
	}
	return study.Scalar(text), true
}
