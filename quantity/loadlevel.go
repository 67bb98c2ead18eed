package quantity

// A LoadLevel is how much of their stated power the loads take: peak (all),
// light or cold (what each load says), none, or a fraction for all alike. The
// zero value is none of these.
type LoadLevel struct {
	Word     string // "peak", "light", "cold", "none" or "" for Fraction
	Fraction float64
}

var loadLevelForm = newForm("a", "load level",
	"How much load there is: peak, light, cold, none, or a percentage of the stated power of all loads.",
	positive, []dimension{dimPercent}, `(?:peak|light|cold|none|`+numberPattern+` *%)`,
	"peak", "light", "cold", "60 %")

var loadWords = []string{"peak", "light", "cold", "none"}

// UnmarshalText reads a word or a percentage.
func (l *LoadLevel) UnmarshalText(text []byte) error {
	s, err := newScanner(text, loadLevelForm)
	if err != nil {
		return err
	}
	if s.atWord() {
		start := s.pos
		for _, w := range loadWords {
			if s.word(w) {
				*l = LoadLevel{Word: w}
				return s.end()
			}
		}
		fix := s.form.fix()
		if near, ok := Nearest(s.rest(), loadWords); ok {
			fix = "write " + near
		}
		return s.fail(start, fix, "%q is no load level", s.rest())
	}
	v, _, err := s.amount(&loadLevelForm.want)
	if err != nil {
		return err
	}
	if err := s.end(); err != nil {
		return err
	}
	*l = LoadLevel{Fraction: v}
	return nil
}

// String returns the level as UnmarshalText reads it.
func (l LoadLevel) String() string {
	if l.Word != "" || l.Fraction == 0 {
		return l.Word
	}
	return decimalText(l.Fraction, -2) + " %"
}

// MarshalText returns what String does; a value that would not read back is an error.
func (l LoadLevel) MarshalText() ([]byte, error) { return marshal[LoadLevel](l) }

// Describe tells how the type is written.
func (l LoadLevel) Describe() Description { return loadLevelForm.describe() }
