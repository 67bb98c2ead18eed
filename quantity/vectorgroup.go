package quantity

import (
	"regexp"
	"strconv"
	"strings"
)

// A Winding is one winding of a three-phase transformer.
type Winding struct {
	Kind    byte // 'D', 'Y' or 'Z' (zigzag)
	Neutral bool // the neutral is brought out
}

// A VectorGroup is the connection of a two-winding three-phase transformer.
// Clock is the hour at which the second winding's phasor stands when that of
// the first is at twelve: Clock · 30° is by how much the second lags.
//
// Each pair of connections can have six clock numbers. Two deltas, two wyes,
// two zigzags, or a delta with a zigzag have even ones: the phasors of the
// two sides lie on the same axes. A wye with a delta or a zigzag has odd ones.
//
// Source: IEC 60076-1:2011, clause 7 [from memory].
type VectorGroup struct {
	From, To Winding
	Clock    int
}

var vectorGroupForm = newForm("a", "vector group",
	"The vector group of a two-winding transformer by IEC 60076-1: the first winding in capitals (D, Y, YN, Z, ZN), the second in small letters (d, y, yn, z, zn), and the clock number.",
	anySign, nil, `(?:D|YN?|ZN?)(?:d|yn?|zn?)(?:[0-9]|1[01])`,
	"Dyn1", "YNd11", "Yy0", "Dzn0")

var (
	groupText = regexp.MustCompile(`^((?i)[DYZ]N?)((?i)[dyz]n?)([0-9]*)$`)
	// moreWindings begins like a group and goes on with a third winding.
	moreWindings = regexp.MustCompile(`^(?i)[DYZ]N?[dyz]n?[0-9]*[,+/ -]*[dyz]n?[0-9]*$`)
)

// UnmarshalText reads a vector group such as Dyn11.
func (g *VectorGroup) UnmarshalText(text []byte) error {
	s, err := newScanner(text, vectorGroupForm)
	if err != nil {
		return err
	}
	start := s.pos
	typed := s.rest()
	m := groupText.FindStringSubmatch(typed)
	if m == nil {
		return s.notAGroup(start, typed)
	}
	from, to, clock := strings.ToUpper(m[1]), strings.ToLower(m[2]), m[3]
	if from == "DN" || to == "dn" {
		return s.fail(start, "leave out the n of the delta", "%s has a delta with a neutral, which a delta does not have", typed)
	}
	if from != m[1] || to != m[2] {
		return s.fail(start, "write "+from+to+clock, "%s: the first winding is written in capitals, the second in small letters", typed)
	}
	got := VectorGroup{From: winding(from), To: winding(to)}
	possible := got.possibleClocks()
	for _, c := range possible {
		if clock == strconv.Itoa(c) {
			got.Clock = c
			*g = got
			return nil
		}
	}
	at := start + len(from+to)
	list := clockList(possible)
	switch {
	case clock == "":
		return s.fail(at, "write "+from+to+" with "+list, "%s has no clock number", typed)
	case clock == "12" && possible[0] == 0:
		return s.fail(at, "write "+from+to+"0", "clock number 12 is written 0")
	case clock[0] == '0' && len(clock) > 1:
		return s.fail(at, "write "+from+to+strings.TrimLeft(clock[:len(clock)-1], "0")+clock[len(clock)-1:], "clock number %s begins with a zero", clock)
	}
	return s.fail(at, "write "+from+to+" with "+list, "%s%s cannot have clock number %s; possible are %s", from, to, clock, list)
}

func winding(text string) Winding {
	return Winding{Kind: strings.ToUpper(text)[0], Neutral: len(text) > 1}
}

func (g VectorGroup) possibleClocks() []int {
	// The phasors of a wye stand 30° off those of a delta or a zigzag.
	if (g.From.Kind == 'Y') != (g.To.Kind == 'Y') {
		return []int{1, 3, 5, 7, 9, 11}
	}
	return []int{0, 2, 4, 6, 8, 10}
}

func clockList(clocks []int) string {
	words := make([]string, len(clocks))
	for i, c := range clocks {
		words[i] = strconv.Itoa(c)
	}
	return strings.Join(words[:len(words)-1], ", ") + " or " + words[len(words)-1]
}

// notAGroup tells what is wrong with a text that is no two-winding group.
func (s *scanner) notAGroup(start int, typed string) error {
	if m := groupText.FindStringSubmatch(strings.NewReplacer("-", "", " ", "", ",", "", "/", "", "_", "").Replace(typed)); m != nil {
		return s.fail(start, "write "+strings.ToUpper(m[1])+strings.ToLower(m[2])+m[3], "%s is not written as IEC 60076-1 has it", typed)
	}
	if moreWindings.MatchString(typed) {
		return s.fail(start, s.form.fix(), "%s has more than two windings; a two-winding transformer is wanted here", typed)
	}
	return s.fail(start, s.form.fix(), "%q is no vector group", typed)
}

// String returns the group, as UnmarshalText reads it.
func (g VectorGroup) String() string {
	if g.From.Kind == 0 || g.To.Kind == 0 {
		return ""
	}
	return g.From.symbol() + strings.ToLower(g.To.symbol()) + strconv.Itoa(g.Clock)
}

func (w Winding) symbol() string {
	if w.Neutral {
		return string(w.Kind) + "N"
	}
	return string(w.Kind)
}

// MarshalText returns what String does; a value that would not read back is an error.
func (g VectorGroup) MarshalText() ([]byte, error) { return marshal[VectorGroup](g) }

// Describe tells how the type is written.
func (g VectorGroup) Describe() Description { return vectorGroupForm.describe() }
