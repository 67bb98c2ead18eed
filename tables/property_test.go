package tables

import (
	"fmt"
	"io/fs"
	"strings"
	"testing"
	"testing/fstest"

	"pgregory.net/rapid"

	"feederwright/study"
)

// A drawn study is valid, and has in it whatever tables can hold: levels in
// either form, matrices, impedances of a line's own, parallel runs, texts with
// any character, assumed values, and sources of entries.
func drawStudy(t *rapid.T) fs.FS {
	var main, cables strings.Builder
	n := rapid.IntRange(2, 6).Draw(t, "buses")
	bus := func(label string) string { return fmt.Sprintf("B%d", rapid.IntRange(1, n).Draw(t, label)) }
	maybe := func(label string) bool { return rapid.Bool().Draw(t, label) }
	number := func(label string, least, most int) string {
		return fmt.Sprintf("%d.%0*d", rapid.IntRange(least, most).Draw(t, label), rapid.IntRange(1, 4).Draw(t, label+" digits"), rapid.IntRange(1, 9).Draw(t, label+" decimals"))
	}
	text := func(label string) string {
		s := rapid.StringOfN(rapid.RuneFrom([]rune("abz AZ09,;\"'|=@#:-_äß中\n\t{}[]?!%&*\\")), 1, 20, -1).Draw(t, label)
		if s = strings.TrimSpace(s); s == "" {
			return "x"
		}
		return s
	}
	provenance := func() string {
		s := ""
		if maybe("source") {
			s += ", source: " + study.Scalar(text("source text"))
		}
		if maybe("known") {
			s += ", known: " + rapid.SampledFrom([]string{"measured", "nameplate", "assumed"}).Draw(t, "known")
		}
		if maybe("note") {
			s += ", note: " + study.Scalar(text("note text"))
		}
		return s
	}
	impedance := func(label, per string) string {
		return fmt.Sprintf("0.%d + j0.%d ohm%s", rapid.IntRange(11, 90).Draw(t, label+" r"), rapid.IntRange(11, 90).Draw(t, label+" x"), per)
	}
	fmt.Fprintf(&main, "feederwright: 1\nstudy: %s\nfrequency: %s\ninclude: [cables.yaml]\n", study.Scalar(text("title")), rapid.SampledFrom([]string{"50 Hz", "60 Hz"}).Draw(t, "frequency"))
	main.WriteString("supply:\n")
	for i := range rapid.IntRange(1, 2).Draw(t, "infeeds") {
		fmt.Fprintf(&main, "  G%d:\n    at: HV\n", i)
		if maybe("boundary") {
			main.WriteString("    boundary: " + study.Scalar(text("whose")) + "\n")
		}
		for j, level := range []string{"maximum", "minimum", "future"} {
			if j > 0 && !maybe(level) {
				continue
			}
			strength := "three-phase: " + []string{"9 kA, x/r: 10", "5.00 kA, x/r: 9", "900 MVA, x/r: 8.5"}[j]
			if maybe("as impedance") {
				strength = "z1: " + []string{"0.4 + j4 ohm", "0.8 + j7.9 ohm", "0.02 + j0.11 pu on 100 MVA"}[j] + ", z0: 1 + j9 ohm"
			}
			fmt.Fprintf(&main, "    %s: { %s%s }\n", level, strength, provenance())
		}
	}
	main.WriteString("buses:\n  HV: { voltage: 66 kV }\n")
	for i := range n {
		fmt.Fprintf(&main, "  B%d: { voltage: 11 kV%s }\n", i+1, provenance())
	}
	main.WriteString("transformers:\n")
	for i := range rapid.IntRange(1, 3).Draw(t, "transformers") {
		fmt.Fprintf(&main, "  %s: { from: HV, to: %s, group: Dyn11, rating: 20/25 MVA, voltages: 66/11 kV, impedance: %s %% on 20 MVA, zero-sequence: 9.0 %% on 20 MVA",
			study.Scalar(fmt.Sprintf("T %d", i)), bus("low side"), number("impedance", 9, 11))
		if maybe("ratio") {
			main.WriteString(", x/r: 20, neutral: solid")
		} else {
			main.WriteString(", losses: 90 kW, neutral: 6.35 ohm")
		}
		if maybe("taps") {
			main.WriteString(", from taps: +-10 % in 16 steps, from tap: -1.25 %")
		}
		if maybe("assumed") {
			main.WriteString(", assumed: [zero-sequence, rating]")
		}
		main.WriteString(provenance() + " }\n")
	}
	main.WriteString("line types:\n")
	types := rapid.IntRange(1, 3).Draw(t, "types")
	for i := range types {
		body := ""
		switch rapid.IntRange(0, 2).Draw(t, "form") {
		case 0:
			body = fmt.Sprintf("z1: %s, z0: %s", impedance("z1", "/km"), impedance("z0", "/km"))
			if maybe("charging") {
				body += ", c1: 0.31 uF/km, c0: 0.30 uF/km, ampacity: 400 A"
			}
		case 1:
			body = "matrix: [[0.46 + j1.08 ohm/mi], [0.16 + j0.50 ohm/mi, 0.47 + j1.05 ohm/mi], [0.15 + j0.38 ohm/mi, 0.16 + j0.42 ohm/mi, 0.46 + j1.07 ohm/mi]]"
		case 2:
			body = "matrix:\n      - [0.46 + j1.08 ohm/km, 0.16 + j0.50 ohm/km, 0.15 + j0.38 ohm/km]\n      - [0.16 + j0.50 ohm/km, 0.47 + j1.05 ohm/km, 0.16 + j0.42 ohm/km]\n      - [0.15 + j0.38 ohm/km, 0.16 + j0.42 ohm/km, 0.46 + j1.07 ohm/km]"
			fmt.Fprintf(&main, "  C%d:\n    %s\n", i, body)
			continue
		}
		fmt.Fprintf(&main, "  C%d: { %s%s }\n", i, body, provenance())
	}
	line := func(b *strings.Builder, name string) {
		from := rapid.IntRange(1, n).Draw(t, "from")
		to := from%n + 1
		fmt.Fprintf(b, "{ from: B%d, to: B%d", from, to)
		if maybe("typed") {
			fmt.Fprintf(b, ", type: C%d, length: %s km", rapid.IntRange(0, types-1).Draw(t, "type"), number("length", 1, 9))
		} else {
			fmt.Fprintf(b, ", z1: %s, z0: %s", impedance("own z1", ""), impedance("own z0", ""))
		}
		if maybe("phases") {
			b.WriteString(", phases: ABC")
		}
		b.WriteString(provenance() + " }\n")
	}
	lines := func(b *strings.Builder, lead string) {
		b.WriteString("lines:\n")
		for i := range rapid.IntRange(1, 4).Draw(t, "lines") {
			runs := 1
			if maybe("several") {
				runs = rapid.IntRange(2, 4).Draw(t, "runs")
			}
			var body strings.Builder
			line(&body, "")
			for r := range runs {
				name := fmt.Sprintf("%s%d", lead, i)
				if runs > 1 {
					name = runName(name, r+1)
				}
				if r > 0 && maybe("odd one out") {
					// Not the same in all: no row of several runs.
					body.Reset()
					line(&body, "")
				}
				b.WriteString("  " + name + ": " + body.String())
			}
		}
	}
	lines(&main, "S")
	lines(&cables, "C")
	main.WriteString("loads:\n")
	for i := range rapid.IntRange(1, 3).Draw(t, "loads") {
		fmt.Fprintf(&main, "  %s: { at: %s, power: %s MVA, pf: 0.9 lag, kind: %s%s }\n", study.Scalar(fmt.Sprintf("load %d, ä \"x\"", i)), bus("at"), number("power", 1, 4), study.Scalar(text("kind")), provenance())
	}
	if maybe("switches") {
		fmt.Fprintf(&main, "switches:\n  W: { from: B1, to: B2, normally: open }\n")
	}
	return fstest.MapFS{"study.yaml": {Data: []byte(main.String())}, "cables.yaml": {Data: []byte(cables.String())}}
}

// TestRoundTrip: a study as tables and back holds the same values, texts and
// all, and its tables come back byte for byte.
func TestRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		fsys := drawStudy(t)
		doc, ds := study.Read(fsys, "study.yaml")
		ds = append(ds, doc.Validate()...)
		if ds.Errors() > 0 {
			text, _ := fs.ReadFile(fsys, "study.yaml")
			t.Fatalf("the study that was drawn is wrong: %v\n%s", ds, text)
		}
		files, left := Write(doc)
		if len(left) > 0 {
			t.Fatalf("left out: %v", left)
		}
		again := mustRead(t, folder(files), Head{})
		sameHeld(t, held(doc), held(again))
		if a, b := doc.Assumptions(), again.Assumptions(); len(a) != len(b) {
			t.Errorf("%d assumed values, then %d", len(a), len(b))
		}
		files2, left := Write(again)
		if len(left) > 0 {
			t.Errorf("left out of what was made of tables: %v", left)
		}
		same(t, files, files2)
	})
}
