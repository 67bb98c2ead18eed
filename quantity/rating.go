package quantity

import "strings"

// Ratings are the rated powers of a transformer in VA, one for each cooling
// stage, ascending.
type Ratings []float64

var ratingsForm = newForm("a", "rating", "A rated power with MVA or kVA; several cooling stages, ascending, with slashes between: 15/20/25 MVA.",
	positive, []dimension{dimApparentPower},
	numberPattern+`(?: */ *`+numberPattern+`)* *`+unitPattern(dimApparentPower),
	"25 MVA", "15/20/25 MVA")

// UnmarshalText reads one or more rated powers such as 15/20/25 MVA.
func (r *Ratings) UnmarshalText(text []byte) error {
	s, err := newScanner(text, ratingsForm)
	if err != nil {
		return err
	}
	start := s.pos
	var stages []decimal
	for {
		d, err := s.number(false)
		if err != nil {
			return err
		}
		stages = append(stages, d)
		end := s.pos
		if s.spaces(); !s.eat('/') {
			s.pos = end
			break
		}
		s.spaces()
	}
	u, err := s.unitOf(start, &ratingsForm.want)
	if err != nil {
		return err
	}
	if err := s.end(); err != nil {
		return err
	}
	got := make(Ratings, len(stages))
	for i, d := range stages {
		if got[i], err = s.si(d, u); err != nil {
			return err
		}
		if got[i] == 0 {
			return s.fail(d.at, s.form.fix(), "%s %s is not above zero, as a rating must be", d.text, u.name)
		}
		if i > 0 && got[i] <= got[i-1]*(1+leastRise) {
			return s.fail(d.at, "write the stages from the smallest to the largest, as 15/20/25 MVA",
				"%s comes after %s, but ratings rise from one cooling stage to the next", d.text, stages[i-1].text)
		}
	}
	*r = got
	return nil
}

// leastRise is by how much, relative, one rating must exceed the one before.
const leastRise = 1e-9

// String returns the ratings with one unit, as UnmarshalText reads it.
func (r Ratings) String() string {
	if len(r) == 0 {
		return ""
	}
	unit := scale{0, "VA"}
	switch first := r[0]; {
	case first >= 1e6:
		unit = scale{6, "MVA"}
	case first >= 1e3:
		unit = scale{3, "kVA"}
	}
	stages := make([]string, len(r))
	for i, v := range r {
		stages[i] = decimalText(v, unit.exp)
	}
	return strings.Join(stages, "/") + " " + unit.unit
}

// MarshalText returns what String does; a value that would not read back is an error.
func (r Ratings) MarshalText() ([]byte, error) { return marshal[Ratings](r) }

// Describe tells how the type is written.
func (r Ratings) Describe() Description { return ratingsForm.describe() }
