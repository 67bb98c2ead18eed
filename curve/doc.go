// Package curve has time-current characteristics: inverse-time curves of relays
// and how they are set, melting and clearing of fuses, and the limits that
// equipment stands (transformers, conductors).
//
// A curve is given at a steady current. What a varying current does follows from
// the same curve by the integral form (Progress). A characteristic never
// rises: more current is never slower. That is checked where points are the
// user's, and used where margins are searched (Least).
//
// Currents are r.m.s. values in A on one side, that of the setting or of the fuse;
// multiples are of the setting. Times are in seconds. +Inf means that it never
// operates; NaN that the curve doesn't say.
//
//	very := curve.Inverse{K: 19.61, C: 0.491, Alpha: 2}
//	set := curve.Setting{Form: very, Dial: 0.5, Flat: 30}
//	t := set.Time(2422.0 / 600)
package curve

import "math"

// A Form is a curve at dial one.
type Form interface {
	// Time is the operating time in s at a steady multiple m of the setting;
	// +Inf where it never operates, NaN where the curve doesn't say.
	Time(m float64) float64
}

// never is the time of what doesn't operate.
var never = math.Inf(1)
