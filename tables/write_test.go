package tables

import (
	"strings"
	"testing"
	"testing/fstest"

	"feederwright/study"
)

// TestLeft: what tables don't hold is listed by name, and nothing else is.
func TestLeft(t *testing.T) {
	const text = `feederwright: 1
study: { value: Left, source: "a letter" }
frequency: 50 Hz
method: { prefault: 105 % }
supply:
  grid:
    at: HV
    source: letter of the owner
    note: a note of the whole infeed
    maximum: { three-phase: 9 kA, x/r: { value: 10, known: assumed } }
    minimum: { three-phase: 8 kA, x/r: 10, source: another letter }
buses:
  HV: { voltage: { value: 66 kV, note: "why so" } }
  MAIN: { voltage: 11 kV }
transformers:
  T1: { from: HV, to: MAIN, group: Dyn11, rating: 20 MVA, voltages: 66/11 kV, impedance: 10 %,
    x/r: { value: 20, known: assumed, source: "like T2" }, zero-sequence: 9 %, neutral: solid, source: nameplate }
capacitors:
  K1: { at: MAIN, power: 900 kvar, connection: wye }
breakers:
  52-1: { in: T1, near: MAIN }
conditions:
  maximum: { infeed: maximum }
  minimum: { infeed: minimum, note: at night }
`
	doc, ds := study.Read(fstest.MapFS{"study.yaml": {Data: []byte(text)}}, "study.yaml")
	if ds = append(ds, doc.Validate()...); ds.Errors() > 0 {
		t.Fatal(ds)
	}
	files, left := Write(doc)
	var got []string
	for _, l := range left {
		got = append(got, l.String())
	}
	want := []string{
		`study: where the value came from`,
		`infeed "grid": note`,
		`infeed "grid": maximum, x/r, where the value came from`,
		`bus "HV": voltage, where the value came from`,
		`transformer "T1": x/r, where the value came from`,
		`method`,
		`capacitor "K1"`,
		`breaker "52-1"`,
		`condition "maximum"`,
		`condition "minimum"`,
	}
	if strings.Join(got, "\n") != strings.Join(want, "\n") {
		t.Errorf("left out:\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
	// What is assumed stays so, though without its own source; the source of the infeed goes to the level without one.
	again := mustRead(t, folder(files), Head{})
	var assumed []string
	for _, a := range again.Assumptions() {
		assumed = append(assumed, a.Object+" "+a.Key)
	}
	if strings.Join(assumed, ", ") != `infeed "grid" maximum, x/r, transformer "T1" x/r` {
		t.Errorf("assumed: %q", assumed)
	}
	levels := again.Supply.Entries[0].Item
	if s := levels.Maximum.Source.V; s != "letter of the owner" {
		t.Errorf("source of the maximum: %q", s)
	}
	if s := levels.Minimum.Source.V; s != "another letter" {
		t.Errorf("source of the minimum: %q", s)
	}
	if again.Transformers.Entries[0].Item.Source.V != "nameplate" {
		t.Errorf("source of T1: %q", again.Transformers.Entries[0].Item.Source.V)
	}
}

// keptAsText are the texts that get a form by which spreadsheets leave them alone.
var keptAsText = map[string]bool{
	"=1+1": true, `="x"`: true, `=cmd|'/c calc'!A0`: true, "@SUM(A1)": true, `"=1"`: true, `""=1`: true,
	"#REF!": true, "###": true, "+1+cmd|'/c calc'!A0": true, "-a": true, "1-2": true, "52-11": true, "007": true, "12E4": true, "2026-03-02": true, "02-Jan": true,
}

// TestCells: texts come back whole, and none begins as a formula.
func TestCells(t *testing.T) {
	for _, text := range []string{
		"plain", "with, comma", `with "quotes"`, `"all quoted"`, "two\nlines", "a;b|c", "=1+1", `="x"`, `=cmd|'/c calc'!A0`, "@SUM(A1)", `"=1"`, `""=1`, "sep=;", "ä 中", "#REF!x", "'",
		"#REF!", "###", "+1+cmd|'/c calc'!A0", "-a", "+-5 % in 4 steps", "-1.25 %", "1-2", "52-11", "007", "12E4", "2026-03-02", "02-Jan",
	} {
		rows := [][]string{{"name", "voltage", "note"}, {"HV", "66 kV", text}}
		b := csvText(rows)
		for _, line := range strings.Split(string(b), "\n") {
			for _, cell := range strings.Split(line, ",") {
				cell = strings.TrimLeft(cell, "\"\ufeff")
				if strings.HasPrefix(cell, "=") && !strings.HasPrefix(cell, `=""`) || strings.HasPrefix(cell, "@") {
					t.Errorf("%q is written as %q, which a spreadsheet works out", text, b)
				}
			}
		}
		if kept := strings.Contains(string(b), `="`) || strings.Contains(string(b), `=""`); kept != keptAsText[text] {
			t.Errorf("%q is written as %q", text, b)
		}
		s, slips := newSheet("x.csv", strings.TrimPrefix(string(b), "\ufeff"), func(s string) bool { return s == "name" || s == "note" })
		if len(slips) > 0 || len(s.rows) != 2 || s.rows[1].fields[2].text != text {
			t.Errorf("%q, written as %q, is read as %v (%v)", text, b, s.rows, slips)
		}
	}
}
