package store

import (
	"slices"
	"strings"

	"github.com/pmezard/go-difflib/difflib"
)

// Merge puts the changes of two texts to a common base together, line by line. clean is false where both changed the
// same lines, or lines next to each other, in different ways; then there is no merged text.
func Merge(base, mine, theirs string) (merged string, clean bool) {
	switch {
	case mine == theirs || theirs == base:
		return mine, true
	case mine == base:
		return theirs, true
	}
	b := strings.SplitAfter(base, "\n")
	m, t := edits(b, strings.SplitAfter(mine, "\n")), edits(b, strings.SplitAfter(theirs, "\n"))
	var out strings.Builder
	at := 0
	for len(m) > 0 || len(t) > 0 {
		var e edit
		switch {
		case len(t) == 0 || len(m) > 0 && m[0].from < t[0].from:
			if len(t) > 0 && m[0].to >= t[0].from { // touching counts: an insertion beside a change has no order
				return "", false
			}
			e, m = m[0], m[1:]
		case len(m) == 0 || t[0].from < m[0].from:
			if len(m) > 0 && t[0].to >= m[0].from {
				return "", false
			}
			e, t = t[0], t[1:]
		default: // both begin at one line
			if m[0].to != t[0].to || !slices.Equal(m[0].lines, t[0].lines) {
				return "", false
			}
			e, m, t = m[0], m[1:], t[1:]
		}
		for _, l := range b[at:e.from] {
			out.WriteString(l)
		}
		for _, l := range e.lines {
			out.WriteString(l)
		}
		at = e.to
	}
	for _, l := range b[at:] {
		out.WriteString(l)
	}
	return out.String(), true
}

// An edit puts lines in place of base[from:to].
type edit struct {
	from, to int
	lines    []string
}

func edits(base, other []string) []edit {
	var list []edit
	for _, op := range difflib.NewMatcher(base, other).GetOpCodes() {
		if op.Tag != 'e' {
			list = append(list, edit{op.I1, op.I2, other[op.J1:op.J2]})
		}
	}
	return list
}
