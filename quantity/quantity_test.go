package quantity

import (
	"encoding"
	"errors"
	"fmt"
	"math"
	"reflect"
	"regexp"
	"strings"
	"testing"
	"unicode/utf8"

	"pgregory.net/rapid"
)

// readBack is the promise of the package comment: what String writes reads
// back to within this part of the value.
const readBack = 1e-12

type value interface {
	fmt.Stringer
	encoding.TextMarshaler
	Describe() Description
}

// A kind is one type of the package, made uniform for tests that hold for all.
type kind struct {
	name     string
	describe Description
	read     func(text string) (value, error)
	draw     func(*rapid.T) value // a value that the type can hold
}

func kindOf[T value, P interface {
	*T
	encoding.TextUnmarshaler
}](draw func(*rapid.T) T) kind {
	var zero T
	return kind{
		name:     strings.TrimPrefix(fmt.Sprintf("%T", zero), "quantity."),
		describe: zero.Describe(),
		read: func(text string) (value, error) {
			var v T
			err := P(&v).UnmarshalText([]byte(text))
			return v, err
		},
		draw: func(t *rapid.T) value { return draw(t) },
	}
}

// above draws a value above zero: half of them as people type them, half
// from all the range that a text may have, but for a margin.
func above(t *rapid.T) float64 {
	if rapid.Bool().Draw(t, "plain") {
		return float64(rapid.IntRange(1, 1e7).Draw(t, "hundredths")) / 100
	}
	return rapid.Float64Range(1, 10).Draw(t, "mantissa") * math.Pow10(rapid.IntRange(-29, 28).Draw(t, "exponent"))
}

func notBelow(t *rapid.T) float64 {
	if rapid.IntRange(0, 9).Draw(t, "zero") == 0 {
		return 0
	}
	return above(t)
}

func signed(t *rapid.T) float64 {
	v := notBelow(t)
	if v != 0 && rapid.Bool().Draw(t, "negative") {
		return -v
	}
	return v
}

func complexSigned(t *rapid.T) complex128 { return complex(signed(t), signed(t)) }

func scalarKind[T interface {
	~float64
	value
}, P interface {
	*T
	encoding.TextUnmarshaler
}](draw func(*rapid.T) float64) kind {
	return kindOf[T, P](func(t *rapid.T) T { return T(draw(t)) })
}

func within(low, high float64) func(*rapid.T) float64 {
	return func(t *rapid.T) float64 {
		v := rapid.Float64Range(low, high).Draw(t, "value")
		if math.Abs(v) < smallestValue {
			return 0 // a text gives no such value
		}
		return v
	}
}

// times draws seconds that a text can give: any, or whole minutes.
func times(t *rapid.T) float64 {
	if rapid.Bool().Draw(t, "minutes") {
		return 60 * float64(rapid.IntRange(1, 600).Draw(t, "whole minutes"))
	}
	return above(t)
}

// windings are all that a vector group is made of.
var windings = []Winding{{'D', false}, {'Y', false}, {'Y', true}, {'Z', false}, {'Z', true}}

var kinds = []kind{
	scalarKind[Voltage](signed),
	scalarKind[Current](signed),
	scalarKind[ApparentPower](notBelow),
	scalarKind[ActivePower](signed),
	scalarKind[ReactivePower](signed),
	scalarKind[Frequency](above),
	scalarKind[Length](notBelow),
	scalarKind[Area](notBelow),
	scalarKind[Fraction](signed),
	scalarKind[Number](signed),
	scalarKind[Temperature](within(-273.15, 5000)),
	scalarKind[Angle](within(-2*math.Pi, 2*math.Pi)),
	scalarKind[Susceptance](signed),
	scalarKind[SusceptancePerLength](signed),
	scalarKind[CapacitancePerLength](notBelow),
	kindOf[Duration](func(t *rapid.T) Duration {
		if rapid.Bool().Draw(t, "in cycles") {
			return Duration{Cycles: above(t)}
		}
		return Duration{Seconds: times(t)}
	}),
	kindOf[Impedance](func(t *rapid.T) Impedance { return Impedance(complexSigned(t)) }),
	kindOf[ImpedancePerLength](func(t *rapid.T) ImpedancePerLength { return ImpedancePerLength(complexSigned(t)) }),
	kindOf[SeriesImpedance](func(t *rapid.T) SeriesImpedance {
		return SeriesImpedance{complexSigned(t), rapid.Bool().Draw(t, "per length")}
	}),
	kindOf[FaultLevel](func(t *rapid.T) FaultLevel {
		if rapid.Bool().Draw(t, "power") {
			return FaultLevel{VoltAmpere: above(t)}
		}
		return FaultLevel{Ampere: above(t)}
	}),
	kindOf[SystemImpedance](func(t *rapid.T) SystemImpedance {
		switch rapid.IntRange(0, 3).Draw(t, "kind") {
		case 0:
			return SystemImpedance{Open: true}
		case 1:
			return SystemImpedance{Z: complexSigned(t)}
		case 2:
			return SystemImpedance{Z: complexSigned(t), PerUnit: true, BaseVA: above(t)}
		}
		return SystemImpedance{Z: complexSigned(t), PerUnit: true, BaseVA: above(t), BaseVolt: above(t)}
	}),
	kindOf[PercentOn](func(t *rapid.T) PercentOn { return PercentOn{above(t), notBelow(t)} }),
	kindOf[Ratings](func(t *rapid.T) Ratings {
		r := Ratings{rapid.Float64Range(1, 1e9).Draw(t, "first")}
		for range rapid.IntRange(0, 4).Draw(t, "more") {
			r = append(r, r[len(r)-1]*rapid.Float64Range(1.001, 3).Draw(t, "rise"))
		}
		return r
	}),
	kindOf[VoltagePair](func(t *rapid.T) VoltagePair { return VoltagePair{above(t), above(t)} }),
	kindOf[CurrentRatio](func(t *rapid.T) CurrentRatio { return CurrentRatio{above(t), above(t)} }),
	kindOf[VoltageRatio](func(t *rapid.T) VoltageRatio { return VoltageRatio{above(t), above(t)} }),
	kindOf[Neutral](func(t *rapid.T) Neutral {
		switch rapid.IntRange(0, 2).Draw(t, "kind") {
		case 0:
			return Neutral{Solid: true}
		case 1:
			return Neutral{Open: true}
		}
		return Neutral{Z: complex(above(t), signed(t))}
	}),
	kindOf[TapRange](func(t *rapid.T) TapRange {
		steps := rapid.IntRange(1, mostSteps).Draw(t, "steps")
		width := rapid.Float64Range(0.001, 0.9).Draw(t, "width")
		if rapid.Bool().Draw(t, "symmetric") {
			return TapRange{-width, width, steps}
		}
		low := within(-0.9, 0.9)(t)
		return TapRange{low, low + width, steps}
	}),
	kindOf[PowerFactor](func(t *rapid.T) PowerFactor {
		if rapid.IntRange(0, 9).Draw(t, "unity") == 0 {
			return PowerFactor{Value: 1}
		}
		return PowerFactor{rapid.Float64Range(0.001, 0.999).Draw(t, "value"), rapid.Bool().Draw(t, "leading")}
	}),
	kindOf[ColdLoad](func(t *rapid.T) ColdLoad {
		c := ColdLoad{Factor: above(t)}
		if rapid.Bool().Draw(t, "held") {
			c.Hold = times(t)
			if rapid.Bool().Draw(t, "decaying") {
				c.Decay = times(t)
			}
		}
		return c
	}),
	kindOf[LoadLevel](func(t *rapid.T) LoadLevel {
		if word := rapid.SampledFrom([]string{"", "peak", "light", "cold", "none"}).Draw(t, "word"); word != "" {
			return LoadLevel{Word: word}
		}
		return LoadLevel{Fraction: above(t)}
	}),
	scalarKind[Resistivity](above),
	kindOf[Position](func(t *rapid.T) Position { return Position{signed(t), above(t)} }),
	kindOf[EarthingAlong](func(t *rapid.T) EarthingAlong { return EarthingAlong{above(t), above(t)} }),
	kindOf[Phases](func(t *rapid.T) Phases { return Phases(rapid.IntRange(1, 15).Draw(t, "set")) }),
	kindOf[SignedSum](func(t *rapid.T) SignedSum {
		var s SignedSum
		for i := range s.Coefficient {
			s.Coefficient[i] = int8(rapid.IntRange(-1, 1).Draw(t, "coefficient"))
		}
		if s == (SignedSum{}) {
			s.Coefficient[0] = 1
		}
		return s
	}),
	kindOf[VectorGroup](func(t *rapid.T) VectorGroup {
		g := VectorGroup{From: rapid.SampledFrom(windings).Draw(t, "from"), To: rapid.SampledFrom(windings).Draw(t, "to")}
		g.Clock = rapid.SampledFrom(g.possibleClocks()).Draw(t, "clock")
		return g
	}),
	kindOf[WindingGroup](func(t *rapid.T) WindingGroup {
		var g WindingGroup
		for i := range g.Winding {
			g.Winding[i] = rapid.SampledFrom(windings[:3]).Draw(t, "winding")
			if i > 0 {
				g.Lag[i] = rapid.SampledFrom(VectorGroup{From: g.Winding[0], To: g.Winding[i]}.possibleClocks()).Draw(t, "clock")
			}
		}
		return g
	}),
	kindOf[VoltageTriple](func(t *rapid.T) VoltageTriple { return VoltageTriple{above(t), above(t), above(t)} }),
	kindOf[WindingEnds](func(t *rapid.T) WindingEnds {
		c := rapid.Permutation([]int8{0, 1, 2, 3}).Draw(t, "ends")
		e := WindingEnds{c[0], c[1], -1}
		if rapid.Bool().Draw(t, "middle") {
			e[2] = c[2]
		}
		return e
	}),
	kindOf[Positions](func(t *rapid.T) Positions {
		var p Positions
		for range rapid.IntRange(1, 3).Draw(t, "units") {
			p = append(p, within(-0.2, 0.2)(t))
		}
		return p
	}),
}

// same says whether two values agree: every float within readBack of itself,
// all else exactly.
func same(a, b reflect.Value) bool {
	near := func(x, y float64) bool { return x == y || math.Abs(x-y) <= readBack*math.Abs(x) }
	if a.Type() != b.Type() {
		return false
	}
	switch a.Kind() {
	case reflect.Float64:
		return near(a.Float(), b.Float())
	case reflect.Complex128:
		return near(real(a.Complex()), real(b.Complex())) && near(imag(a.Complex()), imag(b.Complex()))
	case reflect.Struct:
		for i := range a.NumField() {
			if !same(a.Field(i), b.Field(i)) {
				return false
			}
		}
		return true
	case reflect.Slice, reflect.Array:
		if a.Len() != b.Len() {
			return false
		}
		for i := range a.Len() {
			if !same(a.Index(i), b.Index(i)) {
				return false
			}
		}
		return true
	}
	return a.Interface() == b.Interface()
}

func TestReadsBackWhatItWrites(t *testing.T) {
	for _, k := range kinds {
		pattern := regexp.MustCompile(k.describe.Pattern)
		t.Run(k.name, rapid.MakeCheck(func(t *rapid.T) {
			v := k.draw(t)
			text := v.String()
			back, err := k.read(text)
			if err != nil {
				t.Fatalf("%#v wrote %q, which is refused: %v", v, text, err)
			}
			if !same(reflect.ValueOf(v), reflect.ValueOf(back)) {
				t.Fatalf("%#v wrote %q, which reads as %#v", v, text, back)
			}
			if again := back.String(); again != text {
				t.Fatalf("%q read and written again is %q", text, again)
			}
			if marshalled, err := v.MarshalText(); err != nil || string(marshalled) != text {
				t.Fatalf("MarshalText gave %q, %v; want %q", marshalled, err, text)
			}
			if !pattern.MatchString(text) {
				t.Fatalf("the pattern does not match %q", text)
			}
		}))
	}
}

func TestDescriptions(t *testing.T) {
	// What Go and ECMA-262 both read alike: no escapes but these three, no
	// groups but plain ones.
	foreign := regexp.MustCompile(`\\[^.+\-]|\(\?[^:]`)
	for _, k := range kinds {
		d := k.describe
		if d.Name == "" || d.Text == "" || !strings.HasSuffix(d.Article, " "+d.Name) || len(d.Examples) < 2 {
			t.Errorf("%s: the description is not complete: %+v", k.name, d)
		}
		if !strings.HasPrefix(d.Pattern, "^") || !strings.HasSuffix(d.Pattern, "$") {
			t.Errorf("%s: the pattern is not anchored", k.name)
		}
		if m := foreign.FindString(d.Pattern); m != "" {
			t.Errorf("%s: the pattern has %q, which not every reader of expressions knows", k.name, m)
		}
		pattern := regexp.MustCompile(d.Pattern)
		for _, e := range d.Examples {
			if !pattern.MatchString(e) {
				t.Errorf("%s: the pattern does not match the example %q", k.name, e)
			}
			if _, err := k.read(e); err != nil {
				t.Errorf("%s: the example is refused: %v", k.name, err)
			}
		}
		for _, wrong := range []string{"", "abc", "12,47 kV", "012 V", "1e5e5 A", "5 furlongs", "5 A 5 A"} {
			if pattern.MatchString(wrong) {
				t.Errorf("%s: the pattern matches %q", k.name, wrong)
			}
		}
		// A caller that writes into a description must not change the next one.
		if len(d.Units) > 0 {
			v, _ := k.read(d.Examples[0])
			first := v.Describe()
			first.Units[0], first.Examples[0] = "changed", "changed"
			if again := v.Describe(); again.Units[0] == "changed" || again.Examples[0] == "changed" {
				t.Errorf("%s: descriptions share their slices", k.name)
			}
		}
	}
}

// Every type accepts each unit that it says it accepts.
func TestDescribedUnitsAreAccepted(t *testing.T) {
	for _, k := range kinds {
		for _, u := range k.describe.Units {
			texts := []string{"3 " + u, "3" + u, " 3   " + u + " ", "3/2 " + u, "3/2/1 " + u, "+-3 " + u + " in 4 steps", "3 " + u + " on 5 MVA"}
			accepted := false
			for _, text := range texts {
				if _, err := k.read(text); err == nil {
					accepted = true
					if !regexp.MustCompile(k.describe.Pattern).MatchString(text) {
						t.Errorf("%s: %q is accepted, but the pattern does not match it", k.name, text)
					}
				}
			}
			if !accepted {
				t.Errorf("%s lists %s, but accepts none of %q", k.name, u, texts)
			}
		}
	}
}

// Values that no text can give are refused when written, not when read.
func TestMarshalRefusesWhatWouldNotReadBack(t *testing.T) {
	for _, v := range []value{
		Voltage(math.NaN()), Current(math.Inf(1)), Number(1e40), Length(-1), Frequency(0),
		Fraction(1e-40), Temperature(-300), Angle(7), Impedance(complex(0, math.NaN())),
		Duration{Seconds: -1}, FaultLevel{}, SystemImpedance{PerUnit: true}, PercentOn{},
		Ratings{}, Ratings{2, 1}, VoltagePair{}, CurrentRatio{1, 0}, VoltageRatio{-1, 1}, Neutral{},
		TapRange{}, TapRange{Min: -0.1, Max: 0.1}, PowerFactor{}, PowerFactor{Value: 2}, ColdLoad{},
		Resistivity(0), Position{}, EarthingAlong{}, EarthingAlong{Resistance: 25},
		Phases(0), SignedSum{}, VectorGroup{}, VectorGroup{From: Winding{Kind: 'D'}, To: Winding{Kind: 'Y'}},
	} {
		if text, err := v.MarshalText(); err == nil {
			t.Errorf("MarshalText of %#v gave %q, want an error", v, text)
		}
	}
}

// checkText holds the promises for any text: no panic; a refusal says what,
// where and how to mend it; what is accepted matches the pattern and reads
// back from what String writes.
func checkText(t *testing.T, k kind, pattern *regexp.Regexp, text string) {
	v, err := k.read(text)
	if err != nil {
		var e *Error
		if !errors.As(err, &e) {
			t.Fatalf("%s %q: the error is a %T", k.name, text, err)
		}
		if e.Problem == "" || e.Fix == "" || !utf8.ValidString(e.Text+e.Problem+e.Fix) {
			t.Fatalf("%s %q: the error does not tell all: %+v", k.name, text, e)
		}
		if e.Offset < 0 || e.Offset > utf8.RuneCountInString(e.Text) {
			t.Fatalf("%s %q: offset %d is outside the text", k.name, text, e.Offset)
		}
		return
	}
	if !pattern.MatchString(text) {
		t.Fatalf("%s: %q is accepted, but the pattern does not match it", k.name, text)
	}
	written := v.String()
	back, err := k.read(written)
	if err != nil {
		t.Fatalf("%s: %q is written %q, which is refused: %v", k.name, text, written, err)
	}
	if !same(reflect.ValueOf(v), reflect.ValueOf(back)) {
		t.Fatalf("%s: %q is written %q: %#v became %#v", k.name, text, written, v, back)
	}
}

// TestAnyText feeds texts put together from the pieces of the grammar, so
// that far more of them are nearly right than random bytes would be.
func TestAnyText(t *testing.T) {
	pieces := []string{" ", " ", "  ", "-", "+", "−", "+-", "±", "/", ":", ",", ".", "j", "i", "e", "0", "1", "5", "12.47", "0.085", "100", "1e3", "1e-31", "1e31", "007",
		"lag", "lead", "on", "at", "to", "in", "for", "then", "decaying", "over", "steps", "open", "solid", "per", "\u00a0", "\t", "\xff", "Ω", "\u2126", "\u03bc", "°",
		"A", "B", "C", "N", "L1", "L2", "D", "Y", "Z", "yn", "d", "z", "11"}
	pieces = append(pieces, unitNames(allDimensions)...)
	patterns := make([]*regexp.Regexp, len(kinds))
	for i, k := range kinds {
		patterns[i] = regexp.MustCompile(k.describe.Pattern)
	}
	gen := rapid.SliceOfN(rapid.SampledFrom(pieces), 0, 9)
	rapid.Check(t, func(rt *rapid.T) {
		text := strings.Join(gen.Draw(rt, "pieces"), "")
		for i, k := range kinds {
			checkText(t, k, patterns[i], text)
		}
	})
}

func FuzzParse(f *testing.F) {
	patterns := make([]*regexp.Regexp, len(kinds))
	for i, k := range kinds {
		patterns[i] = regexp.MustCompile(k.describe.Pattern)
		for _, e := range k.describe.Examples {
			f.Add(e)
		}
	}
	for _, tt := range errorTests {
		f.Add(tt.text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		for i, k := range kinds {
			checkText(t, k, patterns[i], text)
		}
		Nearest(text, []string{"voltage", "line types", text})
		TypedUnit(text)
	})
}
