package doubt

import (
	"encoding/json"
	"fmt"
	"io/fs"
	"math"
	"math/cmplx"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"testing/fstest"

	"feederwright/examples"
	"feederwright/study"
)

func open(t *testing.T, fsys fs.FS, name string) (*study.Document, []study.State) {
	t.Helper()
	doc, ds := study.Read(fsys, name)
	ds = append(ds, doc.Validate()...)
	var states []study.State
	if ds.Errors() == 0 {
		var more study.Diagnostics
		states, more = doc.States()
		ds = append(ds, more...)
	}
	for _, d := range ds {
		if d.Severity == study.Error {
			t.Fatal(d.Text())
		}
	}
	return doc, states
}

func examined(t *testing.T, text string, options Options) *Report {
	t.Helper()
	doc, states := open(t, fstest.MapFS{"s.yaml": {Data: []byte(strings.TrimLeft(text, "\n"))}}, "s.yaml")
	r, err := Examine(doc, states, options)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func (r *Report) datum(t *testing.T, name string) *Datum {
	t.Helper()
	for i := range r.Data {
		if r.Data[i].Name == name {
			return &r.Data[i]
		}
	}
	var names []string
	for i := range r.Data {
		names = append(names, r.Data[i].Name)
	}
	t.Fatalf("no datum %q among %q", name, names)
	return nil
}

// One source and one line; everything stated but what a test replaces.
const plain = `
feederwright: 1
study: plain
frequency: 50 Hz
method: { prefault: 100 %, charging: counted }
supply:
  G:
    at: A
    maximum: { z1: 0.5 + j5 ohm, z2: 0.5 + j5 ohm, z0: 0.5 + j5 ohm }
    minimum: { z1: 1 + j10 ohm, z2: 1 + j10 ohm, z0: 1 + j10 ohm }
buses:
  A: { voltage: 20 kV }
  B: { voltage: 20 kV }
lines:
  AB: { from: A, to: B, z1: 0.2 + j0.3 ohm/km, z0: 0.5 + j1 ohm/km, length: 5 km }
switches:
  S: { in: AB, near: A, normally: closed, makes: 63 kA, short-time: 25 kA, short-time for: 3 s }
current transformers:
  CT: { at: S, facing: B, ratio: 300/1 A }
conditions:
  strong: { infeed: maximum }
  weak: { infeed: minimum }
`

func with(t *testing.T, pairs ...string) string {
	t.Helper()
	text := plain
	for i := 0; i+1 < len(pairs); i += 2 {
		if strings.Count(text, pairs[i]) != 1 {
			t.Fatalf("%q stands %d times", pairs[i], strings.Count(text, pairs[i]))
		}
		text = strings.Replace(text, pairs[i], pairs[i+1], 1)
	}
	return text
}

func TestNothingInDoubt(t *testing.T) {
	r := examined(t, plain, Options{})
	if len(r.Data) != 0 || r.Runs != 1 {
		t.Errorf("%d data in doubt, judged %d times: %+v", len(r.Data), r.Runs, r.Data)
	}
}

// Putting the same value in its place changes nothing, and costs no run.
func TestVaryingNothingChangesNothing(t *testing.T) {
	r := examined(t, with(t, "length: 5 km", "length: { value: 5 km, between: [5 km, 5000 m] }"), Options{})
	d := r.datum(t, `line "AB", length`)
	if len(d.Trials) != 2 || d.Kind != Stated || d.Consequence != None || r.Runs != 1 {
		t.Errorf("%+v, %d runs", d, r.Runs)
	}
	for _, tr := range d.Trials {
		if len(tr.Changes) != 0 || tr.Finding != nil || tr.Current != nil || tr.Refused != "" {
			t.Errorf("the value that is there changes something: %+v", tr)
		}
	}
	for _, name := range []string{"first-study", "velmora", "harnmoor"} {
		doc, states := open(t, examples.Files, name+"/study.yaml")
		first, err := judge(doc, states)
		if err != nil {
			t.Fatal(err)
		}
		again, states, why := vary(doc, nil)
		if why != "" {
			t.Fatal(why)
		}
		second, err := judge(again, states)
		if err != nil {
			t.Fatal(err)
		}
		var tr Trial
		tr.compare(first, second)
		if tr.Changes != nil || tr.Finding != nil || tr.Current != nil || tr.Known != nil {
			t.Errorf("%s read again from memory is another study: %+v", name, tr)
		}
	}
}

// What a datum moves, by closed forms: the three-phase current at A is
// U/(√3·|Z1|), at B with the line in series; a range is that of the table.
func TestMoves(t *testing.T) {
	const derived = "derived: U/(√3·|Z|)"
	at := func(z complex128) float64 { return 20e3 / math.Sqrt(3) / math.Hypot(real(z), imag(z)) }
	line := func(k float64) complex128 { return complex(k*1, k*1.5) } // 5 km
	r := examined(t, with(t, "length: 5 km", "length: 5 km, assumed: [length]"), Options{})
	d := r.datum(t, `line "AB", length`)
	if d.Kind != Assumed || d.Value != "5 km" || len(d.Trials) != 2 || d.Trials[0].Value != "4.5 km" || d.Trials[1].Value != "5.5 km" {
		t.Fatalf("%+v", d)
	}
	// The earth fault's loop has most line in it, and in the strong condition
	// the line is the larger part: that current moves most. The vantage sees the
	// three-phase fault at B most.
	strong := complex(0.5, 5)
	for i, k := range []float64{0.9, 1.1} {
		earth := at(2*(strong+line(k))+strong+complex(k*2.5, k*5))/at(2*(strong+line(1))+strong+complex(2.5, 5)) - 1
		if m := d.Trials[i].Current; m == nil || m.What != "largest lg at B" || math.Abs(m.Relative-math.Abs(earth)) > 1e-9 { // rounding of the solution
			t.Errorf("at %s: %+v, want %.9g (%s)", d.Trials[i].Value, m, earth, derived)
		}
		most := at(strong+line(k))/at(strong+line(1)) - 1
		if m := d.Trials[i].Finding; m == nil || m.What != "faults/vantage sees faults/CT/CT" || math.Abs(m.Relative-math.Abs(most)) > 1e-9 {
			t.Errorf("at %s: %+v, want %.9g (%s)", d.Trials[i].Value, m, most, derived)
		}
		if len(d.Trials[i].Changes) != 0 {
			t.Errorf("at %s a verdict changes: %+v", d.Trials[i].Value, d.Trials[i].Changes)
		}
	}
}

// A source voltage that may be 14 % high flips the finding on voltages: its
// limit is 10 % (regression of that rule; the rule is tested with it).
func TestFlip(t *testing.T) {
	r := examined(t, with(t, "    at: A\n", "    at: A\n    voltage: { value: 20 kV, between: [20.2 kV, 22.8 kV] }\n",
		"length: 5 km", "length: 5 km, assumed: [length]"), Options{})
	d := &r.Data[0]
	if d.Name != `infeed "G", voltage` || d.Consequence != ToFails || d.Flips() != 1 {
		t.Fatalf("first in consequence: %+v", d)
	}
	if len(d.Trials[0].Changes) != 0 || len(d.Trials[1].Changes) != 1 {
		t.Fatalf("%+v", d.Trials)
	}
	c := d.Trials[1].Changes[0]
	if c.Finding != "network/voltage before the fault" || c.From != "holds" || c.To != "fails" || math.Abs(c.ToValue.Value-14) > 1e-9 {
		t.Errorf("%+v", c)
	}
	if r.datum(t, `line "AB", length`).Consequence != None {
		t.Error("the length of the line flips something")
	}
}

// A zero-sequence impedance that is not known: with Z0 = k·Z1 the earth fault
// at the infeed draws 3/(2 + k) times the three-phase current (derived).
func TestMissingZeroSequence(t *testing.T) {
	r := examined(t, with(t, ", z0: 0.5 + j5 ohm", "", ", z0: 1 + j10 ohm", ""), Options{})
	d := r.datum(t, "zero-sequence impedance of infeed G")
	if d.Kind != Missing || d.Consequence != Settles || len(d.Trials) != 2 {
		t.Fatalf("%+v", d)
	}
	i3 := func(z complex128) float64 { return 20e3 / math.Sqrt(3) / math.Hypot(real(z), imag(z)) }
	for n, k := range []float64{0.5, 3} {
		found := false
		for _, known := range d.Trials[n].Known {
			if known.What != "lg at A" {
				continue
			}
			found = true
			large, small := i3(complex(0.5, 5))*3/(2+k), i3(complex(1, 10))*3/(2+k)
			// Z0 is put in with six digits.
			if math.Abs(known.Largest/large-1) > 1e-5 || math.Abs(known.Smallest/small-1) > 1e-5 {
				t.Errorf("%s: %+v, want %g to %g (derived)", d.Trials[n].Value, known, small, large)
			}
		}
		if !found {
			t.Errorf("%s: the earth fault at A stays unknown: %+v", d.Trials[n].Value, d.Trials[n])
		}
	}
}

// A minimum that is not known is put in with a condition of its own, in which
// currents fall to that part (derived: currents follow the level at its bus).
func TestMissingMinimum(t *testing.T) {
	r := examined(t, with(t, "    minimum: { z1: 1 + j10 ohm, z2: 1 + j10 ohm, z0: 1 + j10 ohm }\n", "", "  weak: { infeed: minimum }\n", ""), Options{})
	d := r.datum(t, "minimum three-phase level and X/R of infeed G")
	if d.Consequence != Settles || len(d.Trials) != 2 {
		t.Fatalf("%+v", d)
	}
	m := d.Trials[0].Current
	if m == nil || math.Abs(m.Relative-0.7) > 1e-5 || !strings.HasSuffix(m.What, "at A") { // six digits are put in
		t.Errorf("at 30 %%: %+v, want 70 %% less at A", m)
	}
}

// A part without earth has its charging put in: the lines there get it.
func TestMissingCharging(t *testing.T) {
	r := examined(t, with(t, ", z0: 0.5 + j5 ohm", ", z0: open", ", z0: 1 + j10 ohm", ", z0: open"), Options{})
	var d *Datum
	for i := range r.Data {
		if r.Data[i].Kind == Missing {
			d = &r.Data[i]
		}
	}
	if d == nil || d.Consequence != Settles || len(d.Trials) != 2 {
		t.Fatalf("%+v", r.Data)
	}
	for i, b := range []float64{1e-9, 300e-9} {
		// derived: the line as a π of half its charging at each end, in each sequence
		half := complex(0, b*5000/2)
		// behind the weak source, whose reactance raises the voltage on it more
		zs, z1, z0 := complex(1, 10), complex(1, 1.5), complex(2.5, 5)
		y1 := 1/zs + half + 1/(z1+1/half)
		y0 := half + 1/(z0+1/half)
		want := 3 * 20e3 / math.Sqrt(3) * cmplx.Abs(1/(zs*y1)/(2/y1+1/y0))
		found := false
		for _, known := range d.Trials[i].Known {
			if known.What == "lg at A" {
				found = true
				if math.Abs(known.Largest/want-1) > 1e-9 { // rounding of the solution
					t.Errorf("with %g S/m the earth fault at A draws %.9g A, want %.9g (derived)", b, known.Largest, want)
				}
			}
		}
		if !found {
			t.Errorf("with %g S/m: %+v", b, d.Trials[i])
		}
	}
}

// The report does not depend on the order in which the data are gathered.
func TestOrderOfDataDoesNotMatter(t *testing.T) {
	doc, states := open(t, examples.Files, "first-study/study.yaml")
	base, err := judge(doc, states)
	if err != nil {
		t.Fatal(err)
	}
	text := func(all []Datum) string {
		r, err := examine(doc, base, all, Options{})
		if err != nil {
			t.Fatal(err)
		}
		out, err := json.Marshal(r.Data)
		if err != nil {
			t.Fatal(err)
		}
		return string(out)
	}
	forward := text(data(doc, base.report))
	all := data(doc, base.report)
	slices.Reverse(all)
	if len(all) < 3 {
		t.Fatalf("%d data: too few to say anything", len(all))
	}
	if backward := text(all); backward != forward {
		t.Errorf("in another order:\n%s\nwas\n%s", backward, forward)
	}
}

func TestBoundOnWork(t *testing.T) {
	text := with(t, "length: 5 km", "length: 5 km, assumed: [length, z1, z0]")
	all := examined(t, text, Options{})
	if all.LeftOut != 0 || all.Runs != 7 {
		t.Fatalf("%d left out, %d runs; want none, 7: the study and both ends of three data", all.LeftOut, all.Runs)
	}
	some := examined(t, text, Options{MostFaults: 5 * all.Faults})
	if some.Runs != 5 || some.LeftOut != 1 {
		t.Errorf("with room for five: %d runs, %d left out", some.Runs, some.LeftOut)
	}
	for i := range some.Data {
		if d := &some.Data[i]; d.Consequence == NotTried && !strings.Contains(d.Untried, "bound") {
			t.Errorf("%+v", d)
		}
	}
}

// A value that the study would be refused with is told, and the others are tried.
func TestRefusedValue(t *testing.T) {
	r := examined(t, with(t, "length: 5 km", "length: { value: 5 km, between: [3 km, 900 km] }"), Options{})
	d := r.datum(t, `line "AB", length`)
	if d.Trials[0].Refused != "" || d.Trials[0].Current == nil {
		t.Errorf("%+v", d.Trials[0])
	}
	r = examined(t, strings.Replace(with(t), "length: 5 km", "length: 5 km, phases: { value: ABC, known: assumed }", 1), Options{})
	d = r.datum(t, `line "AB", phases`)
	if d.Consequence != NotTried || d.Untried == "" {
		t.Errorf("%+v", d)
	}
}

func TestSpans(t *testing.T) {
	schema, err := study.Schema()
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range spans {
		if !(s.low < s.high) || s.basis == "" || !s.absolute && !(s.low <= 1 && s.high >= 1) {
			t.Errorf("%s of %s: from %g to %g, %q", s.keys, s.tables, s.low, s.high, s.basis)
		}
		for _, k := range strings.Split(s.keys+"|"+s.tables, "|") {
			if k != "" && !strings.Contains(string(schema), fmt.Sprintf("%q: {", k)) {
				t.Errorf("the study file has no key %q", k)
			}
		}
		first := study.Path{strings.Split(s.tables+"|buses", "|")[0], "X", strings.Split(s.keys, "|")[0]}
		if s.tables == "" {
			first[0] = "buses"
		}
		if got, known := spanOf(first); !known || got != s {
			t.Errorf("%v never comes to its range: %v stands above it", first, got.keys)
		}
	}
}

// docs/methods.md has every range, in the words of this test.
func TestRangesAreDocumented(t *testing.T) {
	page, err := os.ReadFile(filepath.Join("..", "docs", "methods.md"))
	if err != nil {
		t.Fatal(err)
	}
	var table strings.Builder
	missing := false
	for _, s := range spans {
		of := strings.ReplaceAll(s.tables, "|", ", ")
		if of == "" {
			of = "any"
		}
		tried := percent(s.low) + " to " + percent(s.high) + " of the value"
		if s.absolute {
			tried = fmt.Sprintf("%g to %g", s.low, s.high)
			if strings.Contains(s.keys, "temperature") {
				tried += " degC"
			}
			if strings.Contains(s.keys, "resistivity") {
				tried += " ohm.m"
			}
		}
		row := fmt.Sprintf("| %s | %s | %s | %s |\n", of, strings.ReplaceAll(s.keys, "|", ", "), tried, s.basis)
		table.WriteString(row)
		missing = missing || !strings.Contains(string(page), row)
	}
	if missing {
		t.Errorf("docs/methods.md, Data in doubt, lacks rows of this table:\n%s", table.String())
	}
}

// Values are tried in the units and form that the author used.
func TestAuthorsUnits(t *testing.T) {
	for _, tt := range []struct{ put, name, low, high string }{
		{"z1: 0.2 + j0.3 ohm/km, z0: 0.5 + j1 ohm/km, length: 3.1 mi, assumed: [length]", `line "AB", length`, "2.79 mi", "3.41 mi"},
		{"z1: 0.320 + j0.480 ohm/mi, z0: 0.5 + j1 ohm/km, length: 5 km, assumed: [z1]", `line "AB", z1`, "0.272 + j0.408 ohm/mi", "0.368 + j0.552 ohm/mi"},
		{"z1: 0.2 + j0.3 ohm/km, z0: 0.10 + j0.20 ohm/1000 ft, length: 5 km, assumed: [z0]", `line "AB", z0`, "0.07 + j0.14 ohm/1000 ft", "0.14 + j0.28 ohm/1000 ft"},
	} {
		r := examined(t, with(t, "z1: 0.2 + j0.3 ohm/km, z0: 0.5 + j1 ohm/km, length: 5 km", tt.put), Options{})
		d := r.datum(t, tt.name)
		if len(d.Trials) != 2 || d.Trials[0].Value != tt.low || d.Trials[1].Value != tt.high {
			t.Errorf("%s: %+v, want %s and %s", tt.name, d.Trials, tt.low, tt.high)
		}
	}
}
