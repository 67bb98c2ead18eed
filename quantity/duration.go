package quantity

// A Duration is a time, as typed: in seconds, or in cycles of the system
// frequency. One of the two is zero.
type Duration struct{ Seconds, Cycles float64 }

var timeUnits = []dimension{dimTime, dimCycles}

var durationForm = newForm("a", "time", "A time: a number with s, ms, min, h or cycles (of the system frequency).",
	unsigned, timeUnits, numberPattern+" *"+unitPattern(timeUnits...), "0.5 s", "3 cycles", "50 ms", "20 min")

// At returns the time in seconds at a frequency of f Hz.
func (d Duration) At(f float64) float64 { return d.Seconds + d.Cycles/f }

// UnmarshalText reads a time such as 3 cycles or 50 ms.
func (d *Duration) UnmarshalText(text []byte) error {
	s, err := newScanner(text, durationForm)
	if err != nil {
		return err
	}
	v, u, err := s.amount(&durationForm.want)
	if err != nil {
		return err
	}
	if err := s.end(); err != nil {
		return err
	}
	if u.dim == dimCycles {
		*d = Duration{Cycles: v}
	} else {
		*d = Duration{Seconds: v}
	}
	return nil
}

// String returns the time with its unit, as UnmarshalText reads it.
func (d Duration) String() string {
	switch {
	case d.Cycles == 1:
		return "1 cycle"
	case d.Cycles != 0:
		return decimalText(d.Cycles, 0) + " cycles"
	}
	return secondsText(d.Seconds)
}

// secondsText writes seconds in ms below 0.1 s, in whole minutes, else in s.
func secondsText(t float64) string {
	if minutes := t / 60; minutes >= 1 && minutes < 1e6 && minutes == float64(int(minutes)) {
		return decimalText(minutes, 0) + " min"
	}
	if t == 0 {
		return "0 s"
	}
	if t < 0.1 {
		return decimalText(t, -3) + " ms"
	}
	return decimalText(t, 0) + " s"
}

// MarshalText returns what String does; a value that would not read back is an error.
func (d Duration) MarshalText() ([]byte, error) { return marshal[Duration](d) }

// Describe tells how the type is written.
func (d Duration) Describe() Description { return durationForm.describe() }
