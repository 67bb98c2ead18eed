package quantity

import "strings"

// A PowerFactor is the displacement power factor of a load, above 0 and at
// most 1. Leading means that the load gives reactive power; at 1 it is false.
type PowerFactor struct {
	Value   float64
	Leading bool
}

var powerFactorForm = newForm("a", "power factor", "A power factor: 0.95 lag, 0.88 lead, or 1.",
	positive, nil, `(?:`+numberPattern+` *(?:lag|lead)|1(?:\.0+)?)`, "0.95 lag", "0.88 lead", "1")

// UnmarshalText reads a power factor such as 0.95 lag.
func (p *PowerFactor) UnmarshalText(text []byte) error {
	s, err := newScanner(text, powerFactorForm)
	if err != nil {
		return err
	}
	start := s.pos
	d, err := s.number(false)
	if err != nil {
		return err
	}
	v, err := s.si(d, unit{mul: 1, div: 1})
	if err != nil {
		return err
	}
	if decimalText(v, 0) == "1" {
		v = 1 // what is written as 1 counts as 1, and does not lead
	}
	percent := s.percentFollows()
	if v > 1 || percent {
		fix := s.form.fix()
		if v > 1.5 && v <= 100 || percent && v > 0 && v <= 100 {
			fix = "write " + decimalText(v, 2) + " with lag or lead, as 0.95 lag"
		}
		if percent {
			return s.fail(start, fix, "%s %% is a percentage; a power factor is a plain number", d.text)
		}
		return s.fail(start, fix, "%s is above 1, which a power factor cannot be", d.text)
	}
	if v == 0 {
		return s.fail(start, s.form.fix(), "%s is not above zero, as a power factor must be", d.text)
	}
	switch {
	case s.word("lag"):
		*p = PowerFactor{Value: v}
	case s.word("lead"):
		*p = PowerFactor{Value: v, Leading: v < 1}
	default:
		s.spaces()
		if rest := s.rest(); rest != "" {
			fix := s.form.fix()
			if near, ok := Nearest(strings.TrimSuffix(rest, "ging"), []string{"lag", "lead"}); ok {
				fix = "write " + d.text + " " + near
			} else if strings.EqualFold(rest, "leading") {
				fix = "write " + d.text + " lead"
			}
			return s.fail(s.pos, fix, "%q is neither lag nor lead", rest)
		}
		if v != 1 || strings.TrimRight(d.text, "0.") != "1" {
			return s.fail(start, "write "+d.text+" lag or "+d.text+" lead", "%s does not say lag or lead", d.text)
		}
		*p = PowerFactor{Value: 1}
		return nil
	}
	return s.end()
}

// String returns the power factor, as UnmarshalText reads it.
func (p PowerFactor) String() string {
	switch {
	case p.Value == 1:
		return "1"
	case p.Leading:
		return decimalText(p.Value, 0) + " lead"
	}
	return decimalText(p.Value, 0) + " lag"
}

// MarshalText returns what String does; a value that would not read back is an error.
func (p PowerFactor) MarshalText() ([]byte, error) { return marshal[PowerFactor](p) }

// Describe tells how the type is written.
func (p PowerFactor) Describe() Description { return powerFactorForm.describe() }

// A ColdLoad is the load after an outage, as a multiple of the load before it:
// Factor at first, held for Hold seconds, then falling to 1 over Decay
// seconds. Hold and Decay are 0 where not stated.
type ColdLoad struct{ Factor, Hold, Decay float64 }

var (
	timeForm = numberPattern + ` *` + unitPattern(dimTime)

	coldLoadForm = newForm("a", "cold-load factor",
		"A cold-load factor: 2.6, 2.6 for 20 min, or 2.6 for 20 min then decaying over 60 min.",
		positive, nil, numberPattern+`(?: *for +`+timeForm+`(?: *then +decaying +over +`+timeForm+`)?)?`,
		"2.6 for 20 min", "2.6 for 20 min then decaying over 60 min", "2.2")
	wantColdTime = newWant("a", "time in s, min or h", positive, []dimension{dimTime}, "20 min", "600 s")
)

// UnmarshalText reads a cold-load factor such as 2.6 for 20 min.
func (c *ColdLoad) UnmarshalText(text []byte) error {
	s, err := newScanner(text, coldLoadForm)
	if err != nil {
		return err
	}
	start := s.pos
	d, err := s.number(false)
	if err != nil {
		return err
	}
	var got ColdLoad
	if got.Factor, err = s.si(d, unit{mul: 1, div: 1}); err != nil {
		return err
	}
	if got.Factor == 0 {
		return s.fail(start, s.form.fix(), "%s is not above zero, as a cold-load factor must be", d.text)
	}
	if s.word("for") {
		if got.Hold, _, err = s.amount(wantColdTime); err != nil {
			return err
		}
		if s.word("then") {
			if !s.word("decaying") || !s.word("over") {
				return s.fail(s.pos, "write then decaying over 60 min", "%q follows then", s.rest())
			}
			if got.Decay, _, err = s.amount(wantColdTime); err != nil {
				return err
			}
		}
	}
	if err := s.end(); err != nil {
		return err
	}
	*c = got
	return nil
}

// String returns the factor and its times, as UnmarshalText reads it.
func (c ColdLoad) String() string {
	text := decimalText(c.Factor, 0)
	if c.Hold != 0 {
		text += " for " + secondsText(c.Hold)
		if c.Decay != 0 {
			text += " then decaying over " + secondsText(c.Decay)
		}
	}
	return text
}

// MarshalText returns what String does; a value that would not read back is an error.
func (c ColdLoad) MarshalText() ([]byte, error) { return marshal[ColdLoad](c) }

// Describe tells how the type is written.
func (c ColdLoad) Describe() Description { return coldLoadForm.describe() }
