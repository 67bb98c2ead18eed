package curve

import "math"

// A Progress is how far an element has travelled towards operating, for a current that varies:
//
//	dS/dt = 1/t(M)     M above the pickup; it operates at S = 1
//	dS/dt = −1/tr(M)   below it, with an inverse reset; S ≥ 0
//
// Instantaneous reset puts S to 0 below the pickup, a definite one after its delay. Between the
// pickup and a curve's Start the travel stands still.
//
// Minimum and Adder belong to no travel: a curve's own time counts by the formula, and the rest
// runs as a time of its own beside it (Minimum) or after it (Adder), while the current stays above the pickup.
//
// The zero Progress is at rest.
//
// Source: integral equation of IEEE C37.112; IEC 60255-151 uses the same idea; from memory.
type Progress struct {
	S     float64 // travel of the curve, 0 to 1
	above float64 // s above the pickup without a break
	after float64 // s since the travel was complete
	below float64 // s below the pickup without a break
}

// Advance goes on for dt s at a steady multiple m. If the element operates within that time, operated
// is true and at is how long after the start of the step.
func (p *Progress) Advance(s Setting, m, dt float64) (at float64, operated bool) {
	if !(m > 1) && !(m == 1 && s.Form.Time(1) < never) {
		p.back(s, m, dt)
		return 0, false
	}
	p.below = 0
	bare := Setting{Form: s.Form, Dial: s.Dial, Flat: s.Flat, Start: s.Start}
	t := bare.Time(m)
	needs := never // from now until the travel is complete
	if p.S >= 1 {
		needs = 0
	} else if t == 0 {
		needs = 0
	} else if t < never {
		needs = (1 - p.S) * t
	}
	wait := math.Max(needs+math.Max(0, s.Adder-p.after), s.Minimum-p.above)
	if wait <= dt {
		return math.Max(wait, 0), true
	}
	switch {
	case needs <= dt:
		p.S = 1
		p.after += dt - needs
	case t < never:
		p.S += dt / t
	}
	p.above += dt
	return 0, false
}

// back goes on for dt s below the pickup.
func (p *Progress) back(s Setting, m, dt float64) {
	p.above, p.after = 0, 0
	p.below += dt
	switch s.Reset.Kind {
	case AtOnce:
		p.S = 0
	case AfterDelay:
		if p.below >= s.Reset.Delay {
			p.S = 0
		}
	case AlongCurve:
		if t := s.ResetTime(m); t > 0 {
			p.S = math.Max(0, p.S-dt/t)
		} else {
			p.S = 0
		}
	}
}

// Operates finds when an element operates under a multiple that varies, from rest; +Inf if it doesn't
// before horizon. m is sampled step apart and taken at the middle of each step: the error falls with the square of step.
func Operates(s Setting, m func(t float64) float64, horizon, step float64) float64 {
	var p Progress
	n := int(math.Ceil(horizon / step))
	for i := range n {
		if at, done := p.Advance(s, m((float64(i)+0.5)*step), step); done {
			return float64(i)*step + at
		}
	}
	return never
}
