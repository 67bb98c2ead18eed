package study

import (
	"errors"
	"strings"
	"testing"
)

// The expected texts of these tests are `derived`: written by hand from the
// rules of editing in place (only the bytes of what changes) and of YAML
// 1.2.2. No program produced them.

// text puts lines together, each with its line end.
func text(lines ...string) string {
	return strings.Join(lines, "\n") + "\n"
}

type editCase struct {
	name   string
	before string
	change Change
	after  string
}

func runEditCases(t *testing.T, cases []editCase) {
	t.Helper()
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			edits, err := Plan("study.yaml", []byte(c.before), c.change)
			if err != nil {
				t.Fatalf("refused: %v", err)
			}
			got, err := Apply([]byte(c.before), edits)
			if err != nil {
				t.Fatal(err)
			}
			if string(got) != c.after {
				t.Errorf("got\n%q\nwant\n%q", got, c.after)
			}
			back, err := Apply(got, Inverse([]byte(c.before), edits))
			if err != nil || string(back) != c.before {
				t.Errorf("undone: got\n%q (%v)\nwant\n%q", back, err, c.before)
			}
		})
	}
}

func set(value string, at ...string) ScalarChange { return ScalarChange{At: at, Value: value} }

func TestSetScalar(t *testing.T) {
	runEditCases(t, []editCase{
		{"block value, comment and blanks kept", "a:\n  b:   600 A   # as letter\n  c: 1\n", set("800 A", "a", "b"), "a:\n  b:   800 A   # as letter\n  c: 1\n"},
		{"flow value", "lines:\n  N1-N2: { from: N1, to: N2,  length: 1.6 mi }\n", set("1.75 mi", "lines", "N1-N2", "length"), "lines:\n  N1-N2: { from: N1, to: N2,  length: 1.75 mi }\n"},
		{"flow value over lines with comments", "a: {\n  b: 1, # one\n  c: 2, # two\n}\n", set("3", "a", "c"), "a: {\n  b: 1, # one\n  c: 3, # two\n}\n"},
		{"characters of several bytes before the value", "Ω-é-🔌: { '∠ φ': 5, z: 0.1 + j0.2 ohm/mi, w: é }\n", set("0.3 + j0.4 ohm/mi", "Ω-é-🔌", "z"), "Ω-é-🔌: { '∠ φ': 5, z: 0.3 + j0.4 ohm/mi, w: é }\n"},
		{"byte order mark", "\uFEFFa: 1\nb: 2\n", set("3", "a"), "\uFEFFa: 3\nb: 2\n"},
		{"CRLF", "a: 1\r\nb:\r\n  c: 2 # x\r\n", set("3", "b", "c"), "a: 1\r\nb:\r\n  c: 3 # x\r\n"},
		{"no line end at the end", "a: 1\nb: 2", set("34", "b"), "a: 1\nb: 34"},
		{"document start", "---\na: 1\n", set("2", "a"), "---\na: 2\n"},

		{"single quotes kept", "a: 'it''s'\n", set("isn't", "a"), "a: 'isn''t'\n"},
		{"double quotes kept", `a: "x"` + "\n", set(`y "z" \`, "a"), `a: "y \"z\" \\"` + "\n"},
		{"single quotes cannot hold a line end", "a: 'x'\n", set("y\nz", "a"), `a: "y\nz"` + "\n"},
		{"plain needs quotes: colon", "a: x\n", set("x: y", "a"), `a: "x: y"` + "\n"},
		{"plain needs quotes: comment", "a: x\n", set("x #y", "a"), `a: "x #y"` + "\n"},
		{"plain stays plain: hash inside", "a: x\n", set("x#y", "a"), "a: x#y\n"},
		{"comma is plain in a block", "a: x\n", set("letter, page 2", "a"), "a: letter, page 2\n"},
		{"comma needs quotes in braces", "a: { b: x }\n", set("letter, page 2", "a", "b"), `a: { b: "letter, page 2" }` + "\n"},
		{"truth value of YAML 1.1", "a: x\n", set("yes", "a"), `a: "yes"` + "\n"},
		{"base 60 of YAML 1.1", "a: x\n", set("600:5", "a"), `a: "600:5"` + "\n"},
		{"octal of YAML 1.1", "a: x\n", set("012", "a"), `a: "012"` + "\n"},
		{"the same number to both", "a: x\n", set("0.50", "a"), "a: 0.50\n"},
		{"float of YAML 1.2 only", "a: x\n", set("1e3", "a"), `a: "1e3"` + "\n"},
		{"a date", "a: 2026-03-02\n", set("2026-04-11", "a"), "a: 2026-04-11\n"},
		{"invisible characters are escaped", "a: x\n", set("b\u2028c\uFEFF\u0085\x01\td", "a"), `a: "b\u2028c\uFEFF\x85\x01\td"` + "\n"},
		{"empty text", "a: x\n", set("", "a"), `a: ""` + "\n"},
		{"minus", "a: x\n", set("-5 %", "a"), "a: -5 %\n"},

		{"absent value", "a:\nb: 1\n", set("x", "a"), "a: x\nb: 1\n"},
		{"absent value with comment", "a:   # none\nb: 1\n", set("x", "a"), "a: x   # none\nb: 1\n"},
		{"absent value at the end", "a: 1\nb:", set("x", "b"), "a: 1\nb: x"},
		{"absent value in braces", "a: { b: , c: }\n", set("x", "a", "b"), "a: { b: x , c: }\n"},
		{"key without colon in braces", "a: { b, c }\n", set("x", "a", "b"), "a: { b: x, c }\n"},
		{"null", "a: ~\n", set("x", "a"), "a: x\n"},
		{"quoted key", `"a b: c": 1` + "\n", set("2", "a b: c"), `"a b: c": 2` + "\n"},
		{"value on the next line", "a:\n  x\nb: 1\n", set("w", "a"), "a:\n  w\nb: 1\n"},
		{"plain value over lines", "a: x\n  y\n\n  z # end\nb: 1\n", set("w", "a"), "a: w # end\nb: 1\n"},
		{"quoted value over lines", "a: \"x\n  y\"\nb: 1\n", set("w", "a"), "a: \"w\"\nb: 1\n"},
		{"item of a flow list", "a: [x, y, z]\n", set("w", "a", "#1"), "a: [x, w, z]\n"},
		{"item of a block list", "a:\n- x\n- y # why\n", set("w", "a", "#1"), "a:\n- x\n- w # why\n"},
		{"key in a block list", "a:\n  - b: 1\n    c: 2\n  - b: 3\n", set("4", "a", "#1", "b"), "a:\n  - b: 1\n    c: 2\n  - b: 4\n"},
		{"braces right behind the value", "a: {b: 1}\n", set("2", "a", "b"), "a: {b: 2}\n"},
		{"root in braces", "{ a: 1, b: { c: 2 } }\n", set("3", "b", "c"), "{ a: 1, b: { c: 3 } }\n"},

		{"long form", "a: { value: 9.2 kA, source: letter }\n", set("9.4 kA", "a"), "a: { value: 9.4 kA, source: letter }\n"},
		{"long form, block", "a:\n  value: 9.2 kA # peak\n  source: letter\n", set("9.4 kA", "a"), "a:\n  value: 9.4 kA # peak\n  source: letter\n"},
		{"source of a bare value", "a: 9.2 kA  # peak\n", set("letter, page 2", "a", "source"), "a: { value: 9.2 kA, source: \"letter, page 2\" }  # peak\n"},
		{"source of a bare value with a comma", "a: x, y\n", set("letter", "a", "source"), "a: { value: \"x, y\", source: letter }\n"},

		{"literal", text("note: | # about", "  old", "  text", "", "b: 1"), set("new\n", "note"), text("note: | # about", "  new", "", "b: 1")},
		{"literal, more lines", text("note: |", "    old", "b: 1"), set("new\n\n  text\n", "note"), text("note: |", "    new", "", "      text", "b: 1")},
		{"literal without line end", text("note: |", "  old", "b: 1"), set("new", "note"), text("note: |-", "  new", "b: 1")},
		{"literal at the end of a text without line end", "a: 1\nnote: |\n  old", set("new", "note"), "a: 1\nnote: |\n  new"},
		{"literal kept lines", text("note: |+", "  old", "", "b: 1"), set("new\n\n", "note"), text("note: |+", "  new", "", "b: 1")},
		{"literal becomes empty", text("note: | # c", "  old", "b: 1"), set("", "note"), text("note: | # c", "b: 1")},
		{"literal that cannot hold it", text("note: | # c", "  old", "b: 1"), set("a\x01", "note"), text(`note: "a\x01" # c`, "b: 1")},
		{"literal, first line indented", text("note: |", "  old", "b: 1"), set("   x\ny\n", "note"), text("note: |2", "     x", "  y", "b: 1")},
		{"folded", text("note: >", "  old", "  text", "b: 1"), set("one\ntwo\n\nthree\n", "note"), text("note: >", "  one", "", "  two", "", "", "  three", "b: 1")},
		{"folded with an indented line", text("note: >", "  old", "b: 1"), set("one\n  two\n", "note"), text("note: |", "  one", "    two", "b: 1")},
		{"literal in CRLF", "note: |\r\n  old\r\nb: 1\r\n", set("x\ny\n", "note"), "note: |\r\n  x\r\n  y\r\nb: 1\r\n"},
		{"lines in place of a plain text", text("note: old # c", "b: 1"), set("x\ny\n", "note"), text("note: | # c", "  x", "  y", "b: 1")},
		{"lines in place of a text in braces", text("a: { note: old } # c"), set("x\ny\n", "a", "note"), text(`a: { note: "x\ny\n" } # c`)},

		{"new key in braces, in the order of the format", text("loads:", "  N2: { at: N2, pf: 0.95 lag, source: letter }"), set("1.3 MVA", "loads", "N2", "power"), text("loads:", "  N2: { at: N2, power: 1.3 MVA, pf: 0.95 lag, source: letter }")},
		{"new key in a block, in the order of the format", text("transformers:", "  T1:", "    from: HV   # high side", "    group: Dyn1", "lines: {}"), set("N0", "transformers", "T1", "to"), text("transformers:", "  T1:", "    from: HV   # high side", "    to: N0", "    group: Dyn1", "lines: {}")},
		{"new first key", text("loads:", "  N2: { power: 1 MVA }"), set("N2", "loads", "N2", "at"), text("loads:", "  N2: { at: N2, power: 1 MVA }")},
		{"new key in an entry without keys", text("buses:", "  N0: { voltage: 12 kV }", "  N1:   # new"), set("12 kV", "buses", "N1", "voltage"), text("buses:", "  N0: { voltage: 12 kV }", "  N1: { voltage: 12 kV }   # new")},
		{"new key in an empty entry among blocks", text("buses:", "  N0:", "    voltage: 12 kV", "  N1: {} # new"), set("12 kV", "buses", "N1", "voltage"), text("buses:", "  N0:", "    voltage: 12 kV", "  N1: # new", "    voltage: 12 kV")},
		{"new key of the study", text("feederwright: 1", "study: x", "", "buses:", "  N0: { voltage: 12 kV }"), set("60 Hz", "frequency"), text("feederwright: 1", "study: x", "frequency: 60 Hz", "", "buses:", "  N0: { voltage: 12 kV }")},
		{"new key where values are lined up", text("supply:", "  grid:", "    at:      HV", "    voltage: 115 kV"), set("0", "supply", "grid", "angle"), text("supply:", "  grid:", "    at:      HV", "    voltage: 115 kV", "    angle:   0")},
		{"new key at the end of a text without line end", "loads:\n  N2:\n    at: N2", set("1 MVA", "loads", "N2", "power"), "loads:\n  N2:\n    at: N2\n    power: 1 MVA"},
		{"new key behind a literal", text("buses:", "  N0:", "    voltage: 12 kV", "    note: |", "      x", "", "loads: {}"), set("yes", "buses", "N0", "odd"), text("buses:", "  N0:", "    voltage: 12 kV", "    note: |", "      x", `    odd: "yes"`, "", "loads: {}")},
	})
}

func TestSetScalarToItself(t *testing.T) {
	const before = "\uFEFFa:   'x'   # c\r\nb: |+\r\n  y\r\n\r\nc: {d:, e: ~, f: 0x1F}\r\n"
	for at, value := range map[string]string{"a": "x", "b": "y\n\n", "c / d": "", "c / e": "~", "c / f": "0x1F"} {
		p, err := ParsePath(at)
		if err != nil {
			t.Fatal(err)
		}
		got, err := SetScalar("study.yaml", []byte(before), p, value)
		if err != nil || string(got) != before {
			t.Errorf("%s: got %q, %v", at, got, err)
		}
	}
}

func remove(at ...string) Removal { return Removal{At: at} }

func TestRemove(t *testing.T) {
	runEditCases(t, []editCase{
		{"line of a table, with its comment", text("a:", "  b: 1 # one", "  c: 2 # two", "d: 3"), remove("a", "b"), text("a:", "  c: 2 # two", "d: 3")},
		{"block entry, with the comments in it", text("a:", "  b:", "    x: 1", "    # more", "  c: 2"), remove("a", "b"), text("a:", "  c: 2")},
		{"own comment above", text("a:", "  b: 1", "  # about c", "  # at length", "  c: 2", "", "  d: 3"), remove("a", "c"), text("a:", "  b: 1", "", "  d: 3")},
		{"own comment above the last", text("a:", "  b: 1", "  # about c", "  c: 2"), remove("a", "c"), text("a:", "  b: 1")},
		{"comment that heads a group", text("a:", "  b: 1", "  # laterals", "  c: 2", "  d: 3"), remove("a", "c"), text("a:", "  b: 1", "  # laterals", "  d: 3")},
		{"comment apart", text("a:", "  b: 1", "  # about all", "", "  c: 2"), remove("a", "c"), text("a:", "  b: 1", "  # about all", "")},
		{"comment at another column", text("a:", "  b: 1", "    # about b", "  c: 2"), remove("a", "c"), text("a:", "  b: 1", "    # about b")},
		{"comments kept on request", text("a:", "  b: 1", "  # about c", "  c: 2"), Removal{At: Path{"a", "c"}, KeepComments: true}, text("a:", "  b: 1", "  # about c")},
		{"first key of the file keeps the head", text("# Head", "a: 1", "# about b", "b: 2"), remove("a"), text("# Head", "# about b", "b: 2")},
		{"whole table", text("a: 1", "", "# lines", "b:", "  x: 1", "", "c: 2"), remove("b"), text("a: 1", "", "", "c: 2")},
		{"last entry leaves an empty table", text("a: # all", "  b: 1 # one", "c: 2"), remove("a", "b"), text("a: {} # all", "c: 2")},
		{"last item leaves an empty list", text("a:", "  - b", "c: 2"), remove("a", "#0"), text("a: []", "c: 2")},
		{"end of a text without line end", "a: 1\nb: 2", remove("b"), "a: 1"},
		{"end of a text without line end, last entry", "a:\n  b: 2", remove("a", "b"), "a: {}"},
		{"CRLF", "a: 1\r\nb: 2\r\nc: 3\r\n", remove("b"), "a: 1\r\nc: 3\r\n"},
		{"byte order mark", "\uFEFFa: 1\nb: 2\n", remove("a"), "\uFEFFb: 2\n"},
		{"literal", text("a: 1", "b: |", "  x", "", "  y", "c: 2"), remove("b"), text("a: 1", "c: 2")},
		{"block list item", text("a:", "  - x", "  - y # y", "  - z"), remove("a", "#1"), text("a:", "  - x", "  - z")},
		{"first key behind a dash", text("a:", "  - x: 1", "    y: 2"), remove("a", "#0", "x"), text("a:", "  - y: 2")},
		{"only key behind a dash", text("a:", "  - x: 1 # one", "  - z"), remove("a", "#0", "x"), text("a:", "  - {} # one", "  - z")},
		{"first key behind a dash, with a comment", text("a:", "  - x: 1 # one", "    y: 2"), remove("a", "#0", "x"), text("a:", "  - y: 2")},
		{"first key behind a dash, comment on the next", text("a:", "  - x: 1 # one", "    # two", "    y: 2"), remove("a", "#0", "x"), text("a:", "  -", "    # two", "    y: 2")},

		{"first in braces", "a: { b: 1, c: 2, d: 3 } # x\n", remove("a", "b"), "a: { c: 2, d: 3 } # x\n"},
		{"middle in braces", "a: { b: 1, c: 2, d: 3 }\n", remove("a", "c"), "a: { b: 1, d: 3 }\n"},
		{"last in braces", "a: { b: 1, c: 2, d: 3 }\n", remove("a", "d"), "a: { b: 1, c: 2 }\n"},
		{"only one in braces", "a: { b: 1 }\n", remove("a", "b"), "a: {}\n"},
		{"trailing comma", "a: { b: 1, c: 2, }\n", remove("a", "c"), "a: { b: 1, }\n"},
		{"in brackets", "a: [52-11, S7]\n", remove("a", "#0"), "a: [S7]\n"},
		{"own line in braces", text("a: {", "  b: 1, # one", "  c: 2, # two", "  d: 3, # three", "}"), remove("a", "c"), text("a: {", "  b: 1, # one", "  d: 3, # three", "}")},
		{"own last line in braces", text("a: {", "  b: 1, # one", "  c: 2 # two", "}"), remove("a", "c"), text("a: {", "  b: 1 # one", "}")},
		{"last line in braces, with the closing one", text("a: { b: 1, # one", "     c: 2 }"), remove("a", "c"), text("a: { b: 1 # one", "     }")},
		{"first of two on the opening line", text("a: { b: 1, # one", "     c: 2 }"), remove("a", "b"), text("a: {  # one", "     c: 2 }")},
		{"last of two on a line", text("a: { b: 1, c: 2, # both", "     d: 3 }"), remove("a", "c"), text("a: { b: 1, # both", "     d: 3 }")},
		{"only one in braces, with a comment", text("a: {", "  b: 1 # one", "}"), remove("a", "b"), text("a: {", "   # one", "}")},
	})
}

func TestInsert(t *testing.T) {
	ins := func(entry, after string, at ...string) Insertion {
		return Insertion{At: at, Entry: entry, After: after}
	}
	lines := text("lines:", "  L1:    { from: A, to: B }  # one", "  L2-11: { from: B, to: C }", "", "loads: {}")
	runEditCases(t, []editCase{
		{"behind an entry, lined up", lines, ins("{from: B, to: D}", "L1", "lines", "L1a"), text("lines:", "  L1:    { from: A, to: B }  # one", "  L1a:   { from: B, to: D }", "  L2-11: { from: B, to: C }", "", "loads: {}")},
		{"at the end, from a block", lines, ins("from: C\nto: D\nnote: new, see drawing", "", "lines", "L3"), text("lines:", "  L1:    { from: A, to: B }  # one", "  L2-11: { from: B, to: C }", `  L3:    { from: C, to: D, note: "new, see drawing" }`, "", "loads: {}")},
		{"name too long to line up", lines, ins("{from: B, to: D}", "L1", "lines", "L1-lateral"), text("lines:", "  L1:    { from: A, to: B }  # one", "  L1-lateral: { from: B, to: D }", "  L2-11: { from: B, to: C }", "", "loads: {}")},
		{"name that needs quotes", lines, ins("{from: B, to: D}", "L1", "lines", "no"), text("lines:", "  L1:    { from: A, to: B }  # one", `  "no":  { from: B, to: D }`, "  L2-11: { from: B, to: C }", "", "loads: {}")},
		{"into an empty table", lines, ins("at: A\npower: 1 MVA", "", "loads", "A"), text("lines:", "  L1:    { from: A, to: B }  # one", "  L2-11: { from: B, to: C }", "", "loads:", "  A: { at: A, power: 1 MVA }")},
		{"into an absent table, in the order of the format", lines, ins("voltage: 12 kV", "", "buses", "A"), text("buses:", "  A: { voltage: 12 kV }", "lines:", "  L1:    { from: A, to: B }  # one", "  L2-11: { from: B, to: C }", "", "loads: {}")},
		{"into an absent table, blank lines between", text("feederwright: 1", "", "buses:", "  A: { voltage: 12 kV }", "", "loads:", "  A: { at: A }"), ins("{ from: A, to: B }", "", "lines", "A-B"), text("feederwright: 1", "", "buses:", "  A: { voltage: 12 kV }", "", "lines:", "  A-B: { from: A, to: B }", "", "loads:", "  A: { at: A }")},
		{"into an absent table, at the end", text("feederwright: 1", "", "buses:", "  A: { voltage: 12 kV }"), ins("{ from: A, to: B }", "", "lines", "A-B"), text("feederwright: 1", "", "buses:", "  A: { voltage: 12 kV }", "", "lines:", "  A-B: { from: A, to: B }")},
		{"into a table without entries", text("buses:   # none yet", "  # here", "loads:"), ins("{ voltage: 12 kV }", "", "buses", "A"), text("buses:   # none yet", "  A: { voltage: 12 kV }", "  # here", "loads:")},
		{"among blocks", text("relays:", "   R1:", "      sees: { current: CT }", "      trips: B", "      # R1 ends", "   R2: { trips: C }"), ins("{sees: {current: CT2}, trips: B2, note: \"a\\nb\\n\"}", "R1", "relays", "R1b"),
			text("relays:", "   R1:", "      sees: { current: CT }", "      trips: B", "      # R1 ends", "   R1b:", "      sees: { current: CT2 }", "      trips: B2", "      note: \"a\\nb\\n\"", "   R2: { trips: C }")},
		{"lines of text in a block", text("buses:", "  A:", "    voltage: 12 kV"), ins("voltage: 12 kV\nnote: |\n    one\n    two\n", "", "buses", "B"), text("buses:", "  A:", "    voltage: 12 kV", "  B:", "    voltage: 12 kV", "    note: |", "      one", "      two")},
		{"a group of keys of an entry", text("supply:", "  grid:", "    at: HV", "    minimum: { three-phase: 4.1 kA }"), ins("three-phase: 9.2 kA", "", "supply", "grid", "maximum"), text("supply:", "  grid:", "    at: HV", "    maximum: { three-phase: 9.2 kA }", "    minimum: { three-phase: 4.1 kA }")},
		{"into braces", "buses: { A: {voltage: 12 kV}, B: {voltage: 12 kV} }\n", ins("{ voltage: 4 kV }", "A", "buses", "C"), "buses: { A: {voltage: 12 kV}, C: { voltage: 4 kV }, B: {voltage: 12 kV} }\n"},
		{"into braces, one a line", text("buses: {", "  A: {}, # a", "  B: {}  # b", "}"), ins("{ voltage: 4 kV }", "", "buses", "C"), text("buses: {", "  A: {}, # a", "  B: {},  # b", "  C: { voltage: 4 kV }", "}")},
		{"into braces, one a line, not last", text("buses: {", "  A: {}, # a", "  B: {}  # b", "}"), ins("{ voltage: 4 kV }", "A", "buses", "C"), text("buses: {", "  A: {}, # a", "  C: { voltage: 4 kV },", "  B: {}  # b", "}")},
		{"into braces with a trailing comma", "buses: { A: {}, }\n", ins("{}", "", "buses", "C"), "buses: { A: {}, C: {}, }\n"},
		{"into brackets", "a: [x, z]\n", ins("w", "", "a", "#1"), "a: [x, w, z]\n"},
		{"first into brackets", "a: [x, z]\n", ins("w", "", "a", "#0"), "a: [w, x, z]\n"},
		{"into empty brackets", "a: []\n", ins("w", "", "a", "#0"), "a: [w]\n"},
		{"into a block list", text("a:", "  - x", "  - z"), ins("w", "", "a", "#1"), text("a:", "  - x", "  - w", "  - z")},
		{"entry into a block list", text("accepted:", "- finding: duty", "  why: x", "b: 1"), ins("{finding: reach, why: 'on file: yes'}", "", "accepted", "#1"), text("accepted:", "- finding: duty", "  why: x", "- finding: reach", "  why: 'on file: yes'", "b: 1")},
		{"CRLF", "buses:\r\n  A: { voltage: 12 kV }\r\n", ins("{ voltage: 4 kV }", "", "buses", "B"), "buses:\r\n  A: { voltage: 12 kV }\r\n  B: { voltage: 4 kV }\r\n"},
		{"no line end at the end", "buses:\n  A: { voltage: 12 kV }", ins("{ voltage: 4 kV }", "", "buses", "B"), "buses:\n  A: { voltage: 12 kV }\n  B: { voltage: 4 kV }"},
		{"state of an absent axis", text("axes:", "  infeed:", "    strong: { infeed: maximum }"), ins("{ out: [PV] }", "", "axes", "solar", "off"), text("axes:", "  infeed:", "    strong: { infeed: maximum }", "  solar:", `    "off": { out: [PV] }`)},
		{"nothing as entry", text("buses:", "  A: { voltage: 12 kV }"), ins("", "", "buses", "B"), text("buses:", "  A: { voltage: 12 kV }", "  B:")},
	})
}

func TestRename(t *testing.T) {
	ren := func(from, to string, table ...string) Renaming { return Renaming{Table: table, From: from, To: to} }
	before := text(
		"supply:", "  N1: { at: N1 } # an infeed of the same name",
		"buses:", "  N1: { voltage: 12 kV } # N1", "  N2: { voltage: 12 kV }",
		"lines:", "  N1-N2: { from: N1, to: 'N2' }",
		"loads:", "  N1:", `    at: "N1"`, "    note: N1", "  N2: { at: { value: N2, source: N1 } }",
		"switches:", "  S7: { in: N1-N2, near: N1 }",
		"conditions:", "  weak: { infeed: { N1: minimum }, open: [S7], out: [N1-N2] }",
		"axes:", "  tie: { in: { open: S7 }, off: { note: in } }", "  N1: { in: { note: tie } }",
		"exclude: [{ tie: in, N1: in }]")
	runEditCases(t, []editCase{
		{"bus", before, ren("N1", "pole 1", "buses"), text(
			"supply:", "  N1: { at: pole 1 } # an infeed of the same name",
			"buses:", "  pole 1: { voltage: 12 kV } # N1", "  N2: { voltage: 12 kV }",
			"lines:", "  N1-N2: { from: pole 1, to: 'N2' }",
			"loads:", "  N1:", `    at: "pole 1"`, "    note: N1", "  N2: { at: { value: N2, source: N1 } }",
			"switches:", "  S7: { in: N1-N2, near: pole 1 }",
			"conditions:", "  weak: { infeed: { N1: minimum }, open: [S7], out: [N1-N2] }",
			"axes:", "  tie: { in: { open: S7 }, off: { note: in } }", "  N1: { in: { note: tie } }",
			"exclude: [{ tie: in, N1: in }]")},
		{"bus in quotes and in a long form", before, ren("N2", "no", "buses"), strings.NewReplacer(
			"  N2: { voltage", `  "no": { voltage`, "to: 'N2'", "to: 'no'", "value: N2", `value: "no"`).Replace(before)},
		{"infeed, key of a map", before, ren("N1", "grid", "supply"), strings.NewReplacer(
			"  N1: { at: N1 } #", "  grid: { at: N1 } #", "infeed: { N1:", "infeed: { grid:").Replace(before)},
		{"line, in a list and a device", before, ren("N1-N2", "main", "lines"), strings.NewReplacer(
			"  N1-N2: {", "  main: {", "in: N1-N2", "in: main", "out: [N1-N2]", "out: [main]").Replace(before)},
		{"switch, in a list and alone", before, ren("S7", "S8", "switches"), strings.ReplaceAll(before, "S7", "S8")},
		{"axis", before, ren("tie", "feeding", "axes"), strings.NewReplacer(
			"  tie: {", "  feeding: {", "{ tie:", "{ feeding:").Replace(before)},
		{"state of one axis", before, ren("in", "closed", "axes", "tie"), strings.NewReplacer(
			"tie: { in:", "tie: { closed:", "{ tie: in", "{ tie: closed").Replace(before)},
		{"to itself", before, ren("N1", "N1", "buses"), before},
	})
}

func TestRenameAll(t *testing.T) {
	files := []SourceFile{
		{"study.yaml", []byte("include: [types.yaml]\nlines:\n  A: { type: CAB }\n")},
		{"types.yaml", []byte("line types:\r\n  CAB: { z1: 1 ohm/mi } # CAB\r\n")},
	}
	got, err := RenameAll(files, Renaming{Table: Path{"line types"}, From: "CAB", To: "cable"})
	if err != nil {
		t.Fatal(err)
	}
	want := []string{"include: [types.yaml]\nlines:\n  A: { type: cable }\n", "line types:\r\n  cable: { z1: 1 ohm/mi } # CAB\r\n"}
	for i, f := range got {
		if string(f.Text) != want[i] || f.Name != files[i].Name {
			t.Errorf("%s: got %q, want %q", f.Name, f.Text, want[i])
		}
	}
}

// Each refusal names the place and the reason, and the message is whole.
func TestRefusals(t *testing.T) {
	doc := text("# Ω", "buses:", "  N0: { voltage: 12 kV }", "  N1: { voltage: 12 kV }", "lines:", "  L: { from: N0, to: N1 }", "loads:", "  S: { at: N0 }", "conditions:", "  c: { out: [L] }")
	cases := []struct {
		name, doc string
		change    Change
		want      string
	}{
		{"no such entry", doc, set("x", "buses", "N5", "voltage"), `study.yaml:3:3: error: buses / N5 / voltage: buses has no "N5"`},
		{"slip in a key", doc, set("x", "bsues", "N0", "voltage"), `study.yaml:2:1: error: bsues / N0 / voltage: the file has no "bsues"`},
		{"a group", doc, set("x", "buses", "N0"), `study.yaml:3:7: error: buses / N0: this is a group of keys, not a single value`},
		{"a list", doc, set("x", "conditions", "c", "out"), `study.yaml:10:13: error: conditions / c / out: this is a list, not a single value`},
		{"list index", doc, set("x", "conditions", "c", "out", "#1"), `study.yaml:10:13: error: conditions / c / out / #1: conditions / c / out is a list of 1; there is no "#1" in it`},
		{"name taken", doc, Renaming{Table: Path{"buses"}, From: "N0", To: "N1"}, `study.yaml:4:3: error: buses / N0: there is a "N1" already`},
		{"reference would be ambiguous", doc, Renaming{Table: Path{"lines"}, From: "L", To: "S"}, `study.yaml:10:14: error: lines / L: this reference would then mean the load "S" as well`},
		{"reference is ambiguous", strings.Replace(doc, "  S:", "  L:", 1), Renaming{Table: Path{"lines"}, From: "L", To: "M"}, `study.yaml:10:14: error: lines / L: this reference may mean the load "L" as well`},
		{"shared names", text("switches:", "  S: {}", "fuses:", "  F: {}"), Renaming{Table: Path{"fuses"}, From: "F", To: "S"}, `study.yaml:2:3: error: fuses / F: there is a switch "S"`},
		{"no such table", doc, Renaming{Table: Path{"busses"}, From: "F", To: "S"}, `study.yaml:1:1: error: busses / F: the format has no table "busses"`},
		{"insert what is there", doc, Insertion{At: Path{"buses", "N0"}, Entry: "{}"}, `study.yaml:3:3: error: buses / N0: there is a "N0" already`},
		{"insert behind what is not there", doc, Insertion{At: Path{"buses", "N2"}, Entry: "{}", After: "N7"}, `study.yaml:3:3: error: buses / N7: buses has no "N7"`},
		{"insert what cannot be read", doc, Insertion{At: Path{"buses", "N2"}, Entry: "{ a: 1"}, `study.yaml:2:1: error: buses / N2: the new entry cannot be read: line 1, column 1: this { is not closed`},
		{"insert a tag", doc, Insertion{At: Path{"buses", "N2"}, Entry: "!x 1"}, `study.yaml:2:1: error: buses / N2: the new entry has an anchor, alias, merge key or tag; write its values out`},
		{"anchor", "a: &x 1\nb: 2\n", set("3", "b"), `study.yaml:1:4: error: notation: YAML anchors, aliases and merge keys (<<) cannot be edited in place`},
		{"merge", "a: {<<: {x: 1}}\nb: 2\n", set("3", "b"), `study.yaml:1:5: error: notation: YAML anchors, aliases and merge keys (<<) cannot be edited in place`},
		{"tag", "a: 1\nb: !!str 2\n", set("3", "a"), `study.yaml:2:4: error: notation: YAML tags (!name) cannot be edited in place`},
		{"two documents", "a: 1\n---\nb: 2\n", set("3", "a"), `study.yaml:2:1: error: notation: a second document begins here; a study is one document`},
		{"key twice", "a: 1\na: 2\n", set("3", "a"), `study.yaml:2:1: error: a: the key "a" stands twice`},
		{"nothing", "# only a comment\n", set("3", "a"), `study.yaml:1:1: error: the file: has no keys and values to edit`},
		{"a list of things", "- a\n", set("3", "a"), `study.yaml:1:1: error: the file: has no keys and values to edit`},
		{"last key of all", "a: 1\n", remove("a"), `study.yaml:1:4: error: a: this is all that the file holds`},
		{"not text", "a: \xff\n", set("3", "a"), `study.yaml:1:4: error: the file: has the byte 0xff, which is not UTF-8`},
		{"value is not text", "a: 1\n", set("\xff", "a"), `study.yaml:1:1: error: a: the new value is not valid UTF-8`},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			got, err := Edited("study.yaml", []byte(c.doc), c.change)
			var e *EditError
			if !errors.As(err, &e) {
				t.Fatalf("got %q and error %v, want an *EditError", got, err)
			}
			if got != nil {
				t.Errorf("refused, but returned %q", got)
			}
			if err.Error() != c.want {
				t.Errorf("got  %s\nwant %s", err, c.want)
			}
		})
	}
}

func TestPath(t *testing.T) {
	for text, want := range map[string]Path{
		"":                                 {},
		"frequency":                        {"frequency"},
		"lines / N1-N2 / length":           {"lines", "N1-N2", "length"},
		"supply / grid / maximum / x/r":    {"supply", "grid", "maximum", "x/r"},
		`buses / "a / b" / voltage`:        {"buses", "a / b", "voltage"},
		`"" / "\"x" / " y" / "a /"`:        {"", `"x`, " y", "a /"},
		"conditions / tie-fed / open / #0": {"conditions", "tie-fed", "open", "#0"},
	} {
		got, err := ParsePath(text)
		if err != nil || got.String() != want.String() || len(got) != len(want) {
			t.Errorf("ParsePath(%q) = %q, %v; want %q", text, got, err, want)
		}
		if want.String() != text {
			t.Errorf("%q.String() = %q, want %q", []string(want), want.String(), text)
		}
	}
	for _, text := range []string{"a /  / b", "a / ", `"a`, `"a"b`} {
		if got, err := ParsePath(text); err == nil {
			t.Errorf("ParsePath(%q) = %q, want an error", text, got)
		}
	}
}

func TestApply(t *testing.T) {
	got, err := Apply([]byte("abcdef"), []Edit{{4, 5, []byte("E")}, {0, 1, nil}, {2, 2, []byte("x")}, {2, 2, []byte("y")}, {6, 6, []byte("!")}})
	if err != nil || string(got) != "bxycdEf!" {
		t.Errorf("got %q, %v", got, err)
	}
	for _, edits := range [][]Edit{{{0, 2, nil}, {1, 3, nil}}, {{-1, 0, nil}}, {{2, 1, nil}}, {{5, 7, nil}}} {
		if got, err := Apply([]byte("abcdef"), edits); err == nil {
			t.Errorf("Apply(%v) = %q, want an error", edits, got)
		}
	}
}
