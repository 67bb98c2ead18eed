// Package element has the protection elements by their IEEE C37.2 device numbers: what each measures, when it
// picks up, which way it looks and when it operates. There is one definition of each, and grading, rehearsal,
// the bench's expected values and replay all ask it.
//
// A Sight is what a device sees: phasors in primary A and V, r.m.s., currents positive in the device's forward
// direction. A steady sight gives a steady time; a current that varies goes through curve.Progress with the same
// setting.
//
// Suffixes: P the phase currents; N the residual of the phase currents; G the current of a CT of its own, in a
// neutral or round all conductors; Q negative sequence.
package element

import (
	"fmt"
	"math"
	"math/cmplx"

	"feederwright/curve"
	"feederwright/phasor"
)

// A Sight is what a device sees in a steady state. What it isn't wired to is absent, and an element that needs it says so.
type Sight struct {
	Rotation phasor.Rotation

	Currents    [3]complex128 // A, phases A B C
	HasCurrents bool
	Ground      complex128 // A: of the CT of its own
	HasGround   bool
	// Neutral is the current of a transformer neutral, from earth into it, for polarising.
	Neutral    complex128
	HasNeutral bool

	Voltages Voltages // now
	Before   Voltages // before the fault: what a memory holds
}

// Voltages are what voltage transformers give, in V.
type Voltages struct {
	Phase    [3]complex128 // to earth
	HasPhase bool          // three phase-to-earth voltages: everything follows from them
	Line     [3]complex128 // A-B, B-C, C-A; two units in open delta give all three
	HasLine  bool
	Residual complex128 // the sum of the three phase-to-earth voltages, 3V0: of a broken delta
	HasSum   bool
}

// Wye makes voltages from three phase-to-earth voltages.
func Wye(a, b, c complex128) Voltages {
	return Voltages{Phase: [3]complex128{a, b, c}, HasPhase: true, Line: [3]complex128{a - b, b - c, c - a}, HasLine: true, Residual: a + b + c, HasSum: true}
}

// OpenDelta makes voltages from A-B and B-C. They hold no zero sequence.
func OpenDelta(ab, bc complex128) Voltages {
	return Voltages{Line: [3]complex128{ab, bc, -ab - bc}, HasLine: true}
}

// Negative is the negative-sequence phase voltage V2.
func (v Voltages) Negative(r phasor.Rotation) (complex128, bool) {
	switch {
	case v.HasPhase:
		_, _, v2 := r.Sequence(v.Phase)
		return v2, true
	case v.HasLine:
		// A-B, B-C, C-A as a set have the negative sequence V2·(1 − a) for either rotation's a.
		_, _, v2 := r.Sequence(v.Line)
		return v2 / (1 - r.Operator()), true
	}
	return 0, false
}

// A Quantity is what an element measures of currents.
type Quantity int

const (
	Phase    Quantity = iota // the largest of the phase currents
	Residual                 // 3I0, the sum of the phase currents
	Ground                   // of a CT of its own
	Negative                 // I2
	ThreeI2                  // 3I2: some devices measure this, three times the other
	Part2                    // I2/I1, a ratio: broken conductor
)

var quantities = [...]string{"the largest phase current", "the residual current 3I0", "the earth CT's current", "the negative-sequence current I2",
	"the negative-sequence current 3I2", "I2 over I1"}

func (q Quantity) String() string {
	if q < 0 || int(q) >= len(quantities) {
		return fmt.Sprintf("Quantity(%d)", int(q))
	}
	return quantities[q]
}

// A Missing input is one that the device isn't wired to.
type Missing struct{ What string }

func (m Missing) Error() string { return "the device has no " + m.What }

// Of measures a quantity, in A, or as a ratio for Part2 (0 without positive-sequence current).
func (q Quantity) Of(s Sight) (float64, error) {
	if q == Ground {
		if !s.HasGround {
			return 0, Missing{"CT of its own for earth current"}
		}
		return cmplx.Abs(s.Ground), nil
	}
	if !s.HasCurrents {
		return 0, Missing{"phase currents"}
	}
	i := s.Currents
	switch q {
	case Phase:
		return math.Max(cmplx.Abs(i[0]), math.Max(cmplx.Abs(i[1]), cmplx.Abs(i[2]))), nil
	case Residual:
		return cmplx.Abs(i[0] + i[1] + i[2]), nil
	}
	_, i1, i2 := s.Rotation.Sequence(i)
	switch q {
	case Negative:
		return cmplx.Abs(i2), nil
	case ThreeI2:
		return 3 * cmplx.Abs(i2), nil
	case Part2:
		if i1 == 0 {
			return 0, nil
		}
		return cmplx.Abs(i2) / cmplx.Abs(i1), nil
	}
	return 0, fmt.Errorf("no quantity %v", q)
}

// An Outcome is what an element does with a steady sight.
type Outcome struct {
	Value    float64 // what it measures, A or a ratio
	Pickup   float64 // against what, after a voltage restraint
	Multiple float64 // value over pickup
	Seconds  float64 // +Inf: it doesn't operate
	Earliest float64 // within its tolerances
	Latest   float64
	Way      Way     // what its directional control says; Forward without one
	Angle    float64 // rad, from its boundary: how far inside (positive) or outside; NaN without direction
	Polarity string  // the polarising quantity that decided
	Why      string  // why it doesn't operate, in words; "" where it does
}

// An Overcurrent element: 50 or 51 of any quantity, 46, broken conductor; 67 with a direction; 51V with a voltage.
type Overcurrent struct {
	Name      string // 51P
	Quantity  Quantity
	Pickup    float64 // primary A, or the ratio for Part2
	Timing    curve.Setting
	Tolerance curve.Tolerance
	// Ceiling is the largest current in primary A that the device can measure; above it, it reads this. 0: none is known.
	Ceiling   float64
	Direction *Direction
	Restraint *Restraint
	// LeastCurrent, of I2/I1 alone: the positive-sequence current in A below which the ratio isn't formed.
	LeastCurrent float64
}

// Operate tells what the element does with a steady sight.
func (e Overcurrent) Operate(s Sight) (Outcome, error) {
	o := Outcome{Pickup: e.Pickup, Seconds: math.Inf(1), Earliest: math.Inf(1), Latest: math.Inf(1), Angle: math.NaN()}
	value, err := e.Quantity.Of(s)
	if err == nil && e.Restraint != nil {
		o.Pickup, err = e.Restraint.pickup(e.Pickup, s)
	}
	if err != nil {
		return o, fmt.Errorf("%s: %w", e.Name, err)
	}
	if e.Quantity == Part2 {
		if _, i1, _ := s.Rotation.Sequence(s.Currents); cmplx.Abs(i1) < e.LeastCurrent {
			o.Value, o.Why = value, "the positive-sequence current is too small to form the ratio"
			return o, nil
		}
	}
	if e.Direction != nil {
		f := e.Direction.look(e.Quantity, s, o.Pickup)
		o.Way, o.Angle, o.Polarity = f.Way, f.Margin, f.By
		if f.Way != Forward {
			o.Value, o.Multiple, o.Why = e.measured(value), e.measured(value)/o.Pickup, f.Why
			return o, nil
		}
		if f.phase >= 0 { // each phase has its own direction: only those that look forward count
			value = f.current
		}
	}
	o.Value = e.measured(value)
	o.Multiple = o.Value / o.Pickup
	o.Seconds = e.Timing.Time(o.Multiple)
	o.Earliest = e.Timing.Earliest(o.Multiple, e.Tolerance)
	o.Latest = e.Timing.Latest(o.Multiple, e.Tolerance)
	if math.IsInf(o.Seconds, 1) {
		o.Why = fmt.Sprintf("%v is %.3g of the pickup", e.Quantity, o.Multiple)
	}
	return o, nil
}

// measured is a current as far as the device can measure it.
func (e Overcurrent) measured(value float64) float64 {
	if e.Ceiling > 0 && e.Quantity != Part2 {
		return math.Min(value, e.Ceiling)
	}
	return value
}

// A Restraint makes a 51V: its pickup follows the voltage, or waits for a low one.
type Restraint struct {
	Nominal float64 // V, line-to-line, at which the pickup is the one set
	// Controlled: the element works at its pickup while the least line-to-line voltage is below Low, and not otherwise. Else the
	// pickup falls in proportion with the voltage of the faulted phases, from High of nominal down to Low of it, to the same parts of the pickup.
	Controlled bool
	Low, High  float64 // parts of nominal, as 0.25 and 1
}

func (r Restraint) pickup(set float64, s Sight) (float64, error) {
	if !s.Voltages.HasLine {
		return set, Missing{"line-to-line voltages"}
	}
	least := math.Inf(1)
	for _, v := range s.Voltages.Line {
		least = math.Min(least, cmplx.Abs(v)/r.Nominal)
	}
	if r.Controlled {
		if least < r.Low {
			return set, nil
		}
		return math.Inf(1), nil
	}
	return set * math.Min(math.Max(least, r.Low), r.High) / r.High, nil
}
