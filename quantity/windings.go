package quantity

import (
	"regexp"
	"strconv"
	"strings"
)

// A WindingGroup is the connection of a three-winding three-phase transformer.
// Lag is the clock number of each winding against the first, whose own is 0.
//
// Source: IEC 60076-1:2011, clause 7 [from memory].
type WindingGroup struct {
	Winding [3]Winding
	Lag     [3]int
}

var windingGroupForm = newForm("a", "three-winding group",
	"The vector group of a three-winding transformer by IEC 60076-1: the first winding in capitals (D, Y, YN), the others in small letters (d, y, yn), each with its clock number against the first.",
	anySign, nil, `(?:D|YN?)(?:d|yn?)(?:[0-9]|1[01])(?:d|yn?)(?:[0-9]|1[01])`,
	"YNyn0d11", "Dyn1yn1", "YNd1d1")

var windingGroupText = regexp.MustCompile(`^(?i)([DYZ]N?)([DYZ]N?)(1[01]|[0-9])([DYZ]N?)(1[01]|[0-9])$`)

// UnmarshalText reads a group such as YNyn0d11.
func (g *WindingGroup) UnmarshalText(text []byte) error {
	s, err := newScanner(text, windingGroupForm)
	if err != nil {
		return err
	}
	start, typed := s.pos, s.rest()
	m := windingGroupText.FindStringSubmatch(strings.NewReplacer(",", "", " ", "", "-", "").Replace(typed))
	if m == nil {
		if groupText.MatchString(typed) {
			return s.fail(start, s.form.fix(), "%s has two windings; a three-winding transformer is wanted here", typed)
		}
		return s.fail(start, s.form.fix(), "%q is no group of three windings", typed)
	}
	var got WindingGroup
	for i, letters := range []string{m[1], m[2], m[4]} {
		switch letters = strings.ToUpper(letters); {
		case letters[0] == 'Z':
			return s.fail(start, s.form.fix(), "%s has a zigzag winding, which is not computed beside two others", typed)
		case letters == "DN":
			return s.fail(start, "leave out the n of the delta", "%s has a delta with a neutral, which a delta does not have", typed)
		}
		got.Winding[i] = winding(letters)
	}
	got.Lag[1], _ = strconv.Atoi(m[3])
	got.Lag[2], _ = strconv.Atoi(m[5])
	for i := 1; i < 3; i++ {
		pair := VectorGroup{From: got.Winding[0], To: got.Winding[i]}
		possible := pair.possibleClocks()
		fits := false
		for _, c := range possible {
			fits = fits || c == got.Lag[i]
		}
		if !fits {
			return s.fail(start, s.form.fix(), "in %s the %s winding cannot have clock number %d against the first; possible are %s",
				typed, []string{"", "second", "third"}[i], got.Lag[i], clockList(possible))
		}
	}
	if got.String() != typed {
		return s.fail(start, "write "+got.String(), "%s is not written as IEC 60076-1 has it", typed)
	}
	*g = got
	return nil
}

// String returns the group, as UnmarshalText reads it.
func (g WindingGroup) String() string {
	if g.Winding[0].Kind == 0 || g.Winding[1].Kind == 0 || g.Winding[2].Kind == 0 {
		return ""
	}
	return g.Winding[0].symbol() + strings.ToLower(g.Winding[1].symbol()) + strconv.Itoa(g.Lag[1]) +
		strings.ToLower(g.Winding[2].symbol()) + strconv.Itoa(g.Lag[2])
}

// MarshalText returns what String does; a value that would not read back is an error.
func (g WindingGroup) MarshalText() ([]byte, error) { return marshal[WindingGroup](g) }

// Describe tells how the type is written.
func (g WindingGroup) Describe() Description { return windingGroupForm.describe() }

// A VoltageTriple holds the rated line-to-line voltages of three windings, V.
type VoltageTriple [3]float64

var voltageTripleForm = newForm("a", "set of three voltages",
	"The rated line-to-line voltages of three windings with one unit: 110/33/11 kV.",
	positive, []dimension{dimVoltage},
	numberPattern+` */ *`+numberPattern+` */ *`+numberPattern+` *`+unitPattern(dimVoltage),
	"110/33/11 kV", "69/12.47/4.16 kV")

// UnmarshalText reads three voltages such as 110/33/11 kV.
func (v *VoltageTriple) UnmarshalText(text []byte) error {
	s, err := newScanner(text, voltageTripleForm)
	if err != nil {
		return err
	}
	start := s.pos
	list, err := s.slashed(3, false)
	if err != nil {
		return err
	}
	u, err := s.unitOf(start, &voltageTripleForm.want)
	if err != nil {
		return err
	}
	if err := s.end(); err != nil {
		return err
	}
	var got VoltageTriple
	for i, d := range list {
		if got[i], err = s.si(d, u); err != nil {
			return err
		}
		if got[i] == 0 {
			return s.fail(d.at, s.form.fix(), "%s %s is not above zero, as a rated voltage must be", d.text, u.name)
		}
	}
	*v = got
	return nil
}

// slashed takes so many numbers with slashes between; 0 means any number.
func (s *scanner) slashed(want int, signed bool) ([]decimal, error) {
	start := s.pos
	var list []decimal
	for {
		d, err := s.number(signed)
		if err != nil {
			return nil, err
		}
		list = append(list, d)
		end := s.pos
		if s.spaces(); !s.eat('/') {
			s.pos = end
			break
		}
		s.spaces()
	}
	if want > 0 && len(list) != want {
		return nil, s.fail(start, s.form.fix(), "%s has %d values; %d are wanted, with slashes between", s.since(start), len(list), want)
	}
	return list, nil
}

// String returns the voltages with one unit, as UnmarshalText reads it.
func (v VoltageTriple) String() string {
	exp, unit := 0, "V"
	if v[0] >= 1e3 {
		exp, unit = 3, "kV"
	}
	return decimalText(v[0], exp) + "/" + decimalText(v[1], exp) + "/" + decimalText(v[2], exp) + " " + unit
}

// MarshalText returns what String does; a value that would not read back is an error.
func (v VoltageTriple) MarshalText() ([]byte, error) { return marshal[VoltageTriple](v) }

// Describe tells how the type is written.
func (v VoltageTriple) Describe() Description { return voltageTripleForm.describe() }

// WindingEnds are the conductors that a single-phase winding ends at, by
// number (3 for N), in the order of its polarity; three where its middle is
// brought out: first leg, middle, second leg. Of two ends the third is −1.
type WindingEnds [3]int8

var windingEndsForm = newForm("a", "pair of winding ends",
	"The conductors that a single-phase winding stands between, the one with the polarity mark first: A-N, A-B; with the middle of the winding brought out, first leg, middle and second leg: A-N-B. Or with L1 L2 L3.",
	anySign, nil, conductorPattern+` *- *`+conductorPattern+`(?: *- *`+conductorPattern+`)?`,
	"A-N", "A-B", "A-N-B", "L1-L2")

// UnmarshalText reads winding ends such as A-N.
func (e *WindingEnds) UnmarshalText(text []byte) error {
	s, err := newScanner(text, windingEndsForm)
	if err != nil {
		return err
	}
	start := s.pos
	got := WindingEnds{-1, -1, -1}
	var names naming
	for i := range got {
		at := s.pos
		c, err := s.conductor(&names)
		if err != nil {
			return err
		}
		for _, before := range got[:i] {
			if int(before) == c {
				return s.fail(at, "name each conductor once", "%s: a winding stands between different conductors", s.since(start))
			}
		}
		got[i] = int8(c)
		if s.spaces(); s.atEnd() {
			if i == 0 {
				return s.fail(start, "write both ends, as A-N or A-B", "%s is one end of a winding", s.since(start))
			}
			*e = got
			return nil
		}
		if !s.eat('-') {
			return s.fail(s.pos, "write the ends with - between, as A-N", "%q follows where the next end is wanted", s.rest())
		}
		s.spaces()
	}
	return s.fail(start, s.form.fix(), "%s: a winding has two ends, and at most its middle", s.from(start))
}

// String returns the ends with letters, as UnmarshalText reads them.
func (e WindingEnds) String() string {
	if e[0] == e[1] {
		return ""
	}
	text := ""
	for i, c := range e {
		if c < 0 {
			break
		}
		if i > 0 {
			text += "-"
		}
		text += string("ABCN"[c])
	}
	return text
}

// Count is the number of ends: 2, or 3 with the middle.
func (e WindingEnds) Count() int {
	if e[2] < 0 {
		return 2
	}
	return 3
}

// Conductors is the set of conductors that the winding ends at.
func (e WindingEnds) Conductors() Phases {
	var p Phases
	for _, c := range e[:e.Count()] {
		p |= 1 << c
	}
	return p
}

// MarshalText returns what String does; a value that would not read back is an error.
func (e WindingEnds) MarshalText() ([]byte, error) { return marshal[WindingEnds](e) }

// Describe tells how the type is written.
func (e WindingEnds) Describe() Description { return windingEndsForm.describe() }

// Positions are tap positions as fractions of the rated turns: one for all
// units, or one for each.
type Positions []float64

var positionsForm = newForm("a", "set of tap positions",
	"Tap positions in percent of rated turns: one for all units, 2.5 %, or one for each with slashes between, 5/3.125/-0.625 %.",
	anySign, []dimension{dimPercent},
	signPattern+`?`+numberPattern+`(?: */ *`+signPattern+`?`+numberPattern+`)* *`+unitPattern(dimPercent),
	"2.5 %", "5/3.125/-0.625 %")

// UnmarshalText reads positions such as 5/3.125/-0.625 %.
func (p *Positions) UnmarshalText(text []byte) error {
	s, err := newScanner(text, positionsForm)
	if err != nil {
		return err
	}
	start := s.pos
	list, err := s.slashed(0, true)
	if err != nil {
		return err
	}
	if len(list) > 3 {
		return s.fail(start, s.form.fix(), "%s has %d positions; a regulator has three units at most", s.since(start), len(list))
	}
	u, err := s.unitOf(start, &positionsForm.want)
	if err != nil {
		return err
	}
	if err := s.end(); err != nil {
		return err
	}
	got := make(Positions, len(list))
	for i, d := range list {
		if got[i], err = s.si(d, u); err != nil {
			return err
		}
	}
	*p = got
	return nil
}

// String returns the positions, as UnmarshalText reads them.
func (p Positions) String() string {
	if len(p) == 0 {
		return ""
	}
	list := make([]string, len(p))
	for i, v := range p {
		list[i] = decimalText(v, -2)
	}
	return strings.Join(list, "/") + " %"
}

// MarshalText returns what String does; a value that would not read back is an error.
func (p Positions) MarshalText() ([]byte, error) { return marshal[Positions](p) }

// Describe tells how the type is written.
func (p Positions) Describe() Description { return positionsForm.describe() }
