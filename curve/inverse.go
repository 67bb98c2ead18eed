package curve

import (
	"math"
	"slices"
	"strings"
)

// An Inverse is a dependent-time characteristic by formula:
//
//	t  = K/(M^Alpha − 1) + C                  M > 1
//	tr = Reset/(1 − M^ResetAlpha)             M < 1: full travel back, from the point of tripping
//
//	M           current over setting                            –
//	K, C        constants of the curve                          s
//	Alpha       exponent, > 0                                   –
//	Reset       reset constant; 0: no inverse reset is defined  s
//	ResetAlpha  its exponent, > 0                               –
//
// Both times are for dial one. It leaves out what a setting adds: see Setting.
//
// Source: IEC 60255-151:2009, 4.3 and Annex A; IEEE C37.112, both from memory.
type Inverse struct{ K, C, Alpha, Reset, ResetAlpha float64 }

// Time implements Form.
//
//	Time(m)   = +Inf  for m ≤ 1
//	Time(NaN) = NaN
func (c Inverse) Time(m float64) float64 {
	switch {
	case math.IsNaN(m):
		return math.NaN()
	case m <= 1:
		return never
	case math.IsInf(m, 1):
		return c.C
	}
	// Expm1 keeps the digits that M^Alpha − 1 cancels near M = 1.
	return c.K/math.Expm1(c.Alpha*math.Log(m)) + c.C
}

// ResetTime is the time of the full way back at a steady m < 1, in s; +Inf for
// m ≥ 1, and NaN for a curve without an inverse reset or a negative m.
func (c Inverse) ResetTime(m float64) float64 {
	switch {
	case !(c.Reset > 0) || !(m >= 0):
		return math.NaN()
	case m >= 1:
		return never
	case m == 0:
		return c.Reset
	}
	return c.Reset / -math.Expm1(c.ResetAlpha*math.Log(m))
}

// A Thermal is t = K/M², constant heat. It is finite at the setting, so it
// operates from M = 1 upwards and not below.
type Thermal struct{ K float64 }

// Time implements Form.
func (c Thermal) Time(m float64) float64 {
	switch {
	case math.IsNaN(m):
		return math.NaN()
	case m < 1:
		return never
	}
	return c.K / (m * m)
}

// A Definite is an independent time: the same at every current from the setting upwards.
// Its Dial is the time in s where it stands in a Setting.
type Definite struct{}

// Time implements Form.
func (Definite) Time(m float64) float64 {
	switch {
	case math.IsNaN(m):
		return math.NaN()
	case m < 1:
		return never
	}
	return 1
}

// A Named is a curve under the name that its standard gives it.
type Named struct {
	Name string // as a study writes it
	Long string
	Inverse
	Standard bool   // in a current standard; else a curve of the trade
	Source   string // and how it is known
}

const (
	iec151 = "IEC 60255-151:2009, Annex A, table A.1, from memory"
	c37112 = "IEEE C37.112-2018, table 1; IEC 60255-151:2009, table A.1; from memory"
	trade  = "common practice, no source; not in IEC 60255-151"
)

// Known are the curves that a study may name. The standard leaves the reset of
// IEC A, B and C to the maker, so they have none here.
var Known = []Named{
	{"IEC A", "inverse", Inverse{K: 0.14, Alpha: 0.02}, true, iec151},
	{"IEC B", "very inverse", Inverse{K: 13.5, Alpha: 1}, true, iec151},
	{"IEC C", "extremely inverse", Inverse{K: 80, Alpha: 2}, true, iec151},
	{"IEC D", "moderately inverse, as IEEE", Inverse{0.0515, 0.1140, 0.02, 4.85, 2}, true, c37112},
	{"IEC E", "very inverse, as IEEE", Inverse{19.61, 0.491, 2, 21.6, 2}, true, c37112},
	{"IEC F", "extremely inverse, as IEEE", Inverse{28.2, 0.1217, 2, 29.1, 2}, true, c37112},
	{"IEEE moderately inverse", "", Inverse{0.0515, 0.1140, 0.02, 4.85, 2}, true, c37112},
	{"IEEE very inverse", "", Inverse{19.61, 0.491, 2, 21.6, 2}, true, c37112},
	{"IEEE extremely inverse", "", Inverse{28.2, 0.1217, 2, 29.1, 2}, true, c37112},
	{"long-time inverse", "", Inverse{K: 120, Alpha: 1}, false, trade},
	{"short-time inverse", "", Inverse{K: 0.05, Alpha: 0.04}, false, trade},
}

// Find returns the known curve of a name. Letter case and repeated spaces don't matter.
// A bare "very inverse" is none: the two standards mean different curves by it.
func Find(name string) (Named, bool) {
	plain := func(s string) string { return strings.ToLower(strings.Join(strings.Fields(s), " ")) }
	i := slices.IndexFunc(Known, func(n Named) bool { return plain(n.Name) == plain(name) })
	if i < 0 {
		return Named{}, false
	}
	return Known[i], true
}
