// Package fault gives the currents and voltages of short circuits: at any
// place, of any kind, seen from anywhere, by superposition on the state
// before the fault.
//
// Assumptions: linear plant at system frequency, sources constant behind
// their impedances, steady r.m.s. values (offset and decay belong to the
// duties). Fault currents count positive from the network into the fault.
package fault

import (
	"fmt"
	"strings"

	"feederwright/quantity"
)

// A Type is a kind of short circuit without its phases.
type Type int

const (
	ThreePhase      Type = iota // 3ph: three phases, no earth
	ThreePhaseEarth             // 3ph-g: three phases and earth
	LineLine                    // ll
	LineLineEarth               // ll-g
	LineEarth                   // lg
	LineNeutral                 // ln: a phase and the neutral conductor of its bus
)

var typeNames = []string{"3ph", "3ph-g", "ll", "ll-g", "lg", "ln"}

// Types are all types, in the order of tables.
var Types = []Type{ThreePhase, ThreePhaseEarth, LineLine, LineLineEarth, LineEarth, LineNeutral}

func (t Type) String() string { return typeNames[t] }

// Words is the type in words.
func (t Type) Words() string {
	return []string{"three-phase", "three-phase to earth", "line-to-line", "two-line-to-earth", "line-to-earth", "line-to-neutral"}[t]
}

// Earth tells whether the type involves earth.
func (t Type) Earth() bool { return t == ThreePhaseEarth || t == LineLineEarth || t == LineEarth }

// NeedsZero tells whether the type's current depends on the zero-sequence
// impedances before the place: a fault to earth, or to a neutral that is earthed.
func (t Type) NeedsZero() bool { return t.Earth() || t == LineNeutral }

// Phases is how many phases the type involves.
func (t Type) Phases() int {
	switch t {
	case LineEarth, LineNeutral:
		return 1
	case LineLine, LineLineEarth:
		return 2
	}
	return 3
}

// Conductors are all that the kind touches: its phases, and the neutral.
func (k Kind) Conductors() quantity.Phases {
	if k.Type == LineNeutral {
		return k.Phases | neutral
	}
	return k.Phases
}

const neutral = quantity.Phases(8)

// A Kind is a type of short circuit between stated phases.
//
// Where a resistance R goes:
//
//	lg     between the phase and earth
//	ln     between the phase and the neutral conductor
//	ll     between the two phases
//	ll-g   the phases joined, R from there to earth
//	3ph    R in each phase to the common point
//	3ph-g  R in each phase to the common point, which is earthed
type Kind struct {
	Type   Type
	Phases quantity.Phases
}

func (k Kind) String() string {
	if k.Type == ThreePhase || k.Type == ThreePhaseEarth {
		return k.Type.String()
	}
	return k.Type.String() + ":" + k.Phases.Letters()
}

// ParseKinds reads "3ph", "lg:A", "ll:BC" or a type without phases ("lg"),
// which stands for every phase combination. Phases may be written A B C or L1 L2 L3.
func ParseKinds(text string) ([]Kind, error) {
	name, phases, stated := strings.Cut(strings.TrimSpace(text), ":")
	for i, n := range typeNames {
		if name != n {
			continue
		}
		t := Type(i)
		if !stated {
			return Combinations(t, abc|neutral), nil
		}
		var p quantity.Phases
		if err := p.UnmarshalText([]byte(phases)); err != nil {
			return nil, fmt.Errorf("fault kind %q: %w", text, err)
		}
		if p&^abc != 0 || p.Count() != t.Phases() {
			return nil, fmt.Errorf("fault kind %q: %s needs %d of the phases A B C", text, n, t.Phases())
		}
		return []Kind{{t, p}}, nil
	}
	near, ok := quantity.Nearest(name, typeNames)
	if ok {
		return nil, fmt.Errorf("fault kind %q is not known; did you mean %q? Kinds are %s, with phases as in lg:A or ll:BC", text, near, strings.Join(typeNames, ", "))
	}
	return nil, fmt.Errorf("fault kind %q is not known; kinds are %s, with phases as in lg:A or ll:BC", text, strings.Join(typeNames, ", "))
}

const abc = quantity.Phases(7)

// Combinations are the kinds of a type that are possible among some
// conductors.
func Combinations(t Type, among quantity.Phases) []Kind {
	var kinds []Kind
	if t == LineNeutral && among&neutral == 0 {
		return nil
	}
	for _, p := range [...]quantity.Phases{1, 2, 4, 3, 6, 5, 7} { // A B C AB BC CA ABC
		if p.Count() == t.Phases() && p&among == p {
			kinds = append(kinds, Kind{t, p})
		}
	}
	return kinds
}

// All are all kinds that are possible among some phases.
func All(among quantity.Phases) []Kind {
	var kinds []Kind
	for _, t := range Types {
		kinds = append(kinds, Combinations(t, among)...)
	}
	return kinds
}
