package study_test

import (
	"slices"
	"strings"
	"testing"
	"testing/fstest"

	"feederwright/study"
)

const variable = `feederwright: 1
study: A feeder
frequency: 60 Hz
include: [types.yaml]
supply:
  G: { at: A, maximum: { three-phase: 10 kA, x/r: 10, z0: 1 + j9 ohm } } # by letter
buses:
  A: { voltage: 20 kV }
  B: { voltage: 20 kV }
lines:
  AB: { from: A, to: B, type: T, length: { value: 5 km, known: assumed, between: [4.5 km, 6 km] } }
conditions:
  one: {}
`

const types = `line types:
  T: { matrix: [[1 + j2 ohm/km], [0.1 + j0.2 ohm/km, 1 + j2 ohm/km], [0.1 + j0.2 ohm/km, 0.1 + j0.2 ohm/km, 1 + j2 ohm/km]], assumed: [matrix] }
`

func readVariable(t *testing.T) *study.Document {
	t.Helper()
	doc, ds := study.Read(fstest.MapFS{"s.yaml": {Data: []byte(variable)}, "types.yaml": {Data: []byte(types)}}, "s.yaml")
	if ds = append(ds, doc.Validate()...); ds.Errors() > 0 {
		t.Fatal(ds[0].Text())
	}
	return doc
}

// Putting a value in gives the study of a file that says so, whichever file it
// is in; the study it is put into stays.
func TestWith(t *testing.T) {
	doc := readVariable(t)
	before := study.Hash(doc)
	for _, tt := range []struct {
		at   study.Path
		text string
		same bool
		file string
		says string // what the file must have in it
	}{
		{study.Path{"lines", "AB", "length"}, "5 km", true, "s.yaml", "value: 5 km, known: assumed"},
		{study.Path{"lines", "AB", "length"}, "5000 m", true, "s.yaml", "value: 5000 m, known: assumed"},
		{study.Path{"lines", "AB", "length"}, "6 km", false, "s.yaml", "value: 6 km, known: assumed"},
		{study.Path{"line types", "T", "matrix"}, "[[1 + j2 ohm/km], [0.1 + j0.2 ohm/km, 1 + j2 ohm/km], [0.1 + j0.2 ohm/km, 0.1 + j0.2 ohm/km, 1 + j2 ohm/km]]", true, "types.yaml", "matrix"},
		{study.Path{"line types", "T", "matrix"}, "[[3 + j2 ohm/km], [0.1 + j0.2 ohm/km, 1 + j2 ohm/km], [0.1 + j0.2 ohm/km, 0.1 + j0.2 ohm/km, 1 + j2 ohm/km]]", false, "types.yaml", "[[3 + j2 ohm/km]"},
		{study.Path{"method", "prefault"}, "105 %", false, "s.yaml", "prefault: 105 %"},
		{study.Path{"supply", "G", "minimum"}, "{ three-phase: 5 kA, x/r: 8 }", false, "s.yaml", "three-phase: 5 kA"},
		{study.Path{"conditions", "weak"}, "{ infeed: { G: maximum } }", false, "s.yaml", "weak:"},
		{study.Path{"supply", "G", "maximum", "z2"}, "1 + j2 ohm", false, "s.yaml", "# by letter"},
	} {
		if got := doc.FileOf(tt.at); got != tt.file {
			t.Errorf("%s is in %s, want %s", tt.at, got, tt.file)
		}
		now, ds, err := doc.With(study.Put{At: tt.at, Text: tt.text})
		if err != nil || ds.Errors() > 0 {
			t.Errorf("%s: %v %v", tt.at, err, ds)
			continue
		}
		if (study.Hash(now) == before) != tt.same {
			t.Errorf("%s = %s: same study %v, want %v", tt.at, tt.text, !tt.same, tt.same)
		}
		found := false
		for _, f := range now.Files {
			found = found || f.Name == tt.file && strings.Contains(string(f.Text), tt.says)
		}
		if !found {
			t.Errorf("%s = %s: %s does not say %q", tt.at, tt.text, tt.file, tt.says)
		}
	}
	if study.Hash(doc) != before || string(doc.Files[0].Text) != variable {
		t.Error("the study that values were put into changed")
	}
	if _, ds, err := doc.With(study.Put{At: study.Path{"lines", "AB", "length"}, Text: "5"}); err != nil || ds.Errors() == 0 {
		t.Errorf("a length without unit is understood: %v", err)
	}
	if _, _, err := doc.With(study.Put{At: study.Path{"lines", "AB", "length"}, Text: "[1, 2"}); err == nil {
		t.Error("what is no YAML is put in")
	}
}

func TestDoubtful(t *testing.T) {
	doc := readVariable(t)
	all := doc.Doubtful()
	if len(all) != 2 || all[0].Path.String() != "lines / AB / length" || all[0].Low != "4.5 km" || all[0].High != "6 km" || all[0].Text != "5 km" ||
		all[1].Path.String() != "line types / T / matrix" || all[1].Low != "" {
		t.Errorf("%+v", all)
	}
	doc, _ = study.Read(fstest.MapFS{"s.yaml": {Data: []byte(strings.ReplaceAll(variable, "known: assumed, ", ""))}, "types.yaml": {Data: []byte(strings.ReplaceAll(types, ", assumed: [matrix]", ""))}}, "s.yaml")
	if all := doc.Doubtful(); len(all) != 1 || all[0].Key != "length" {
		t.Errorf("a value with a range, not assumed: %+v", all)
	}
	if n := len(doc.Assumptions()); n != 0 {
		t.Errorf("%d assumptions, want none", n)
	}
}

func TestBetweenMistakes(t *testing.T) {
	for _, tt := range []struct{ old, new, says string }{
		{"between: [4.5 km, 6 km]", "between: [4.5 km]", "has 1 values; two are wanted"},
		{"between: [4.5 km, 6 km]", "between: [4.5 km, 6]", "6 has no unit"},
		{"between: [4.5 km, 6 km]", "between: [4.5 kA, 6 km]", "kA"},
		{"type: T", "type: { value: T, between: [T, U] }", "no single quantity"},
	} {
		_, ds := study.Read(fstest.MapFS{"s.yaml": {Data: []byte(strings.Replace(variable, tt.old, tt.new, 1))}, "types.yaml": {Data: []byte(types)}}, "s.yaml")
		if !slices.ContainsFunc(ds, func(d study.Diagnostic) bool {
			return d.Severity == study.Error && strings.Contains(d.Problem, tt.says) && d.At.Line == 11
		}) {
			t.Errorf("%s: no error says %q: %v", tt.new, tt.says, ds)
		}
	}
}

func TestDescribeAndPlaceOf(t *testing.T) {
	doc := readVariable(t)
	for _, tt := range []struct {
		at        study.Path
		described string
		line, col int
	}{
		{study.Path{"lines", "AB", "length"}, `line "AB", length`, 11, 34},
		{study.Path{"supply", "G", "maximum", "z2"}, `infeed "G", maximum, z2`, 6, 15},
		{study.Path{"supply", "G", "minimum"}, `infeed "G", minimum`, 6, 3},
		{study.Path{"method", "prefault"}, "method, prefault", 1, 1},
	} {
		m := doc.PlaceOf(tt.at)
		if got := study.Describe(tt.at); got != tt.described || m.Line != tt.line || m.Col != tt.col || m.File != "s.yaml" {
			t.Errorf("%s is %s at %s:%d:%d, want %s at %d:%d", tt.at, got, m.File, m.Line, m.Col, tt.described, tt.line, tt.col)
		}
	}
	if w := study.Words(study.Path{"method", "charging"}); strings.Join(w, " ") != "counted neglected" {
		t.Errorf("words of charging: %q", w)
	}
	for _, at := range []study.Path{nil, {"method"}, {"method", "prefault"}, {"lines", "AB"}, {"nothing", "x"}} {
		if w := study.Words(at); w != nil {
			t.Errorf("words of %s: %q", at, w)
		}
	}
}
