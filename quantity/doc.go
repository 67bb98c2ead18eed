// Package quantity holds the units at the edge of the program: types that
// read a text such as "12.47 kV" or "0.3061 + j0.6270 ohm/mi" into SI values
// and write them back.
//
// Inside, everything is in V, A, VA, W, var, Hz, m, m², s, rad, ohm, S and F,
// as float64 or complex128; kA, miles, cycles, percent and degrees exist only
// in the texts. Temperature alone stays in °C, the unit of every rating.
//
// The grammar is one for all types. A number has an optional sign, digits, at
// most one dot with digits on both sides, and an optional exponent. A unit
// follows after any number of spaces. Units are case-sensitive: MW is a
// power, mW is refused. The Greek and micro signs (Ω, µ) may be typed or
// spelled (ohm, u). A true minus sign (−) counts as a hyphen.
//
// A number without its unit is an error, never a guess. So is a value with
// the unit of something else:
//
//	var i quantity.Current
//	err := i.UnmarshalText([]byte("9.2 MVA"))
//	// "9.2 MVA": 9.2 MVA is a power; a current is wanted here
//
// A text that String writes reads back to the same value within 1e-12 of it:
// thirteen significant digits are written, which is more than any datum of a
// feeder has and few enough to hide the rounding of unit conversions.
//
// The types check what the text alone can show (a frequency is above zero, a
// clock number fits its vector group). Whether a value is plausible in its
// place is for the study's checks.
package quantity
