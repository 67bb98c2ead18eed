package element

import (
	"fmt"
	"math"
	"math/cmplx"

	"feederwright/phasor"
)

// A Way is where a fault lies by a directional element.
type Way int

const (
	Forward   Way = iota
	Reverse       // behind the device
	Undecided     // nothing to decide by
)

func (w Way) String() string { return [...]string{"forward", "reverse", "undecided"}[w] }

// A Polarising quantity is what a current is compared with.
type Polarising int

const (
	// Quadrature compares each phase current with the voltage between the two other phases, which lags that phase's voltage by 90°
	// when all is well (leads it for rotation ACB, and then it is taken the other way round).
	Quadrature Polarising = iota
	// NegativeVoltage compares I2 with −V2.
	NegativeVoltage
	// ResidualVoltage compares 3I0, or the earth CT's current, with −3V0.
	ResidualVoltage
	// NeutralCurrent compares 3I0, or the earth CT's current, with the current of a transformer neutral, from earth into it.
	NeutralCurrent
)

var polarising = [...]string{"the quadrature voltage", "the negative-sequence voltage", "the residual voltage", "the neutral current"}

func (p Polarising) String() string {
	if p < 0 || int(p) >= len(polarising) {
		return fmt.Sprintf("Polarising(%d)", int(p))
	}
	return polarising[p]
}

// A Comparison is one way to find the direction.
type Comparison struct {
	By Polarising
	// Angle is the characteristic angle in rad: by which the operating current leads the polarising quantity where the element
	// is most sensitive. Negative for a current that lags, as against −3V0 on a network with solid earth.
	Angle float64
	// Least is the smallest polarising quantity, in V (line-to-line for Quadrature; V2, not 3V2; 3V0) or A, that decides.
	Least float64
	// LeastCurrent is the smallest operating current in A that decides.
	LeastCurrent float64
	// Memory, for Quadrature: below Least the voltage from before the fault decides.
	Memory bool
}

// A Direction is the directional control of an element: comparisons in order of preference. The first one that
// has enough of both quantities decides.
type Direction struct {
	Order []Comparison
	// HalfWidth in rad: forward is within this of the characteristic angle. 0 means 90°.
	HalfWidth float64
	// Backward makes the element look the other way.
	Backward bool
	// Otherwise is what counts where nothing decides: Forward lets the element work without direction, Undecided blocks it.
	Otherwise Way
}

// A Facing is what a directional control found.
type Facing struct {
	Way    Way
	Margin float64 // rad inside the boundary (positive), or outside; NaN where nothing decided
	By     string  // what decided
	Why    string  // why the element doesn't operate; "" if forward

	Current, Polarising complex128 // the two that were compared, for the polar picture
	Angle               float64    // rad, characteristic

	phase   int     // with each phase by itself: the one with most current that looks forward; else −1
	current float64 // its current
}

// Look finds the direction for an element of a quantity. With Quadrature it is that of the phase with most current among
// those that look forward, or of the phase with most current where none does.
func (d Direction) Look(q Quantity, s Sight) Facing { return d.look(q, s, 0) }

// look asks, phase by phase, only phases that carry the pickup, if any does.
func (d Direction) look(q Quantity, s Sight, pickup float64) Facing {
	var lacks string
	for _, c := range d.Order {
		if c.By == Quadrature {
			f, ok := d.quadrature(c, q, s, pickup)
			if ok {
				return f
			}
			lacks = f.Why
			continue
		}
		current, pole, why := c.pair(q, s)
		if why == "" {
			f := d.compare(c, current, pole)
			f.phase = -1
			return f
		}
		lacks = why
	}
	f := Facing{Way: d.Otherwise, Margin: math.NaN(), phase: -1, By: "nothing"}
	if f.Way == Reverse { // a fallback lets it work or blocks it
		f.Way = Undecided
	}
	if f.Way != Forward {
		f.Why = "no direction: " + lacks
	}
	return f
}

// pair gives the operating and the polarising phasor, or why there is none.
func (c Comparison) pair(q Quantity, s Sight) (current, pole complex128, why string) {
	switch c.By {
	case NegativeVoltage:
		if !s.HasCurrents {
			return 0, 0, "no phase currents"
		}
		_, _, current = s.Rotation.Sequence(s.Currents)
		v2, ok := s.Voltages.Negative(s.Rotation)
		if !ok {
			return 0, 0, "no voltages to form V2 from"
		}
		pole = -v2
	case ResidualVoltage, NeutralCurrent:
		switch {
		case q == Ground && s.HasGround:
			current = s.Ground
		case s.HasCurrents:
			current = s.Currents[0] + s.Currents[1] + s.Currents[2]
		default:
			return 0, 0, "no residual current"
		}
		if c.By == NeutralCurrent {
			if !s.HasNeutral {
				return 0, 0, "no neutral current is wired to it"
			}
			pole = s.Neutral
		} else {
			if !s.Voltages.HasSum {
				return 0, 0, "its voltage transformers hold no zero sequence"
			}
			pole = -s.Voltages.Residual
		}
	default:
		return 0, 0, fmt.Sprintf("no comparison by %v", c.By)
	}
	switch {
	case cmplx.Abs(pole) < c.Least || pole == 0:
		return 0, 0, fmt.Sprintf("%v is %.3g, below %.3g", c.By, cmplx.Abs(pole), c.Least)
	case cmplx.Abs(current) < c.LeastCurrent || current == 0:
		return 0, 0, fmt.Sprintf("the current to compare with %v is %.3g A, below %.3g A", c.By, cmplx.Abs(current), c.LeastCurrent)
	}
	return current, pole, ""
}

// compare is forward where the current is within the half-width of the characteristic angle.
func (d Direction) compare(c Comparison, current, pole complex128) Facing {
	half := d.HalfWidth
	if half == 0 {
		half = math.Pi / 2
	}
	if d.Backward {
		current = -current
	}
	off := math.Abs(cmplx.Phase(current / pole * cmplx.Rect(1, -c.Angle)))
	f := Facing{Margin: half - off, By: c.By.String(), Current: current, Polarising: pole, Angle: c.Angle}
	if off >= half {
		f.Way = Reverse
		f.Why = fmt.Sprintf("by %v the fault lies the other way, %.0f° outside", c.By, (off-half)*180/math.Pi)
	}
	return f
}

// quadrature compares phase by phase.
func (d Direction) quadrature(c Comparison, q Quantity, s Sight, pickup float64) (Facing, bool) {
	if q != Phase {
		return Facing{Why: "the quadrature voltage is for phase elements"}, false
	}
	now := s.Voltages
	if !now.HasLine {
		return Facing{Why: "no line-to-line voltages"}, false
	}
	if !s.HasCurrents {
		return Facing{Why: "no phase currents"}, false
	}
	largest, _ := Phase.Of(s)
	least := math.Max(c.LeastCurrent, 1e-3*largest) // less is rounding beside the faulted phases
	if largest >= pickup {
		least = math.Max(least, pickup)
	}
	best, found := Facing{phase: -1}, false
	why := ""
	for p := range 3 {
		pole, by := now.Line[(p+1)%3], Quadrature.String() // B-C for A
		if cmplx.Abs(pole) < c.Least || pole == 0 {
			if !c.Memory || !s.Before.HasLine {
				why = fmt.Sprintf("%v is %.3g V, below %.3g V, and there is no memory of it", c.By, cmplx.Abs(pole), c.Least)
				continue
			}
			pole, by = s.Before.Line[(p+1)%3], "the quadrature voltage before the fault"
		}
		if s.Rotation == phasor.ACB {
			pole = -pole // rotation ACB: C-B lags A
		}
		current := s.Currents[p]
		if size := cmplx.Abs(current); size < least || size == 0 {
			continue
		}
		f := d.compare(c, current, pole)
		f.By, f.phase, f.current = by, p, cmplx.Abs(current)
		better := !found || (f.Way == Forward) != (best.Way == Forward) && f.Way == Forward ||
			(f.Way == Forward) == (best.Way == Forward) && f.current > best.current
		if better {
			best, found = f, true
		}
	}
	if !found {
		if why == "" {
			why = "the currents are too small"
		}
		return Facing{Why: why}, false
	}
	return best, true
}
