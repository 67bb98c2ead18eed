package curve

import "math"

// A Setting is a curve as a device is set to it:
//
//	t(M) = max(Minimum, Dial · Form(min(M, Flat)) + Adder)      M > Start
//
// Multiples are of the pickup. Where a maker's device combines minimum and adder otherwise, its
// time is given by points.
type Setting struct {
	Form    Form
	Dial    float64 // time multiplier or time dial, > 0; of a Definite its time in s
	Minimum float64 // s: no operation is faster
	Adder   float64 // s: added to every time
	// Flat is the multiple above which the time stays: the end of the effective range (GD of
	// IEC 60255-151, customarily 20), or of what the device can measure. 0: it never stays.
	Flat float64
	// Start is the least multiple that operates (GT of IEC 60255-151); 0: any above the pickup.
	Start float64
	Reset Reset
}

// A Reset is how the travel goes back when the current falls below the pickup.
type Reset struct {
	Kind  ResetKind
	Delay float64 // s, of a definite reset
}

// A ResetKind is how.
type ResetKind int

const (
	AtOnce     ResetKind = iota // instantaneous
	AfterDelay                  // definite: the travel stays for the delay, then is lost
	AlongCurve                  // inverse: by the reset formula of the curve
)

// Time is the operating time at a steady multiple of the pickup, in s; +Inf where it never operates.
func (s Setting) Time(m float64) float64 {
	if m < s.Start {
		return never
	}
	if s.Flat > 0 && m > s.Flat {
		m = s.Flat
	}
	t := s.Form.Time(m)
	if math.IsInf(t, 1) || math.IsNaN(t) {
		return t
	}
	return math.Max(s.Minimum, s.Dial*t+s.Adder)
}

// ResetTime is the time of the full way back at a steady m below the pickup, in s: 0 for an
// instantaneous reset. NaN where the curve has no inverse reset.
func (s Setting) ResetTime(m float64) float64 {
	switch s.Reset.Kind {
	case AtOnce:
		return 0
	case AfterDelay:
		return s.Reset.Delay
	}
	f, ok := s.Form.(interface{ ResetTime(float64) float64 })
	if !ok {
		return math.NaN()
	}
	return s.Dial * f.ResetTime(m)
}

// A Tolerance is by how much a device may miss its curve.
type Tolerance struct {
	Pickup float64 // of the pickup, as 0.03
	Time   float64 // of the theoretical time, as 0.05
	Floor  float64 // s: the error of time is this or the part above, whichever is greater
	// Limiting: the error grows towards low multiples as IEC 60255-151, table 1, has it: 2.5 times
	// from 2 to 5 times the setting, 1.5 from 5 to 10, once above. Below 2 the standard gives none; 2.5 is taken.
	Limiting bool
}

// part is the relative error of time at a multiple.
func (e Tolerance) part(m float64) float64 {
	switch {
	case !e.Limiting || m >= 10:
		return e.Time
	case m >= 5:
		return 1.5 * e.Time
	}
	return 2.5 * e.Time
}

// Earliest is the shortest time that a device within its tolerance may take at a multiple of its
// pickup as set; never below 0.
func (s Setting) Earliest(m float64, e Tolerance) float64 {
	t := s.Time(m / (1 - e.Pickup))
	if math.IsInf(t, 1) {
		return t
	}
	return math.Max(0, t-math.Max(e.part(m)*t, e.Floor))
}

// Latest is the longest time; +Inf where it may fail to pick up.
func (s Setting) Latest(m float64, e Tolerance) float64 {
	t := s.Time(m / (1 + e.Pickup))
	if math.IsInf(t, 1) {
		return t
	}
	return t + math.Max(e.part(m)*t, e.Floor)
}
