package dossier

import (
	"encoding/xml"
	"io"
	"strings"
	"testing"

	"feederwright/working"
)

// wellFormed reads a document of XML to its end.
func wellFormed(t interface {
	Helper()
	Fatalf(format string, args ...any)
}, text string) {
	t.Helper()
	d := xml.NewDecoder(strings.NewReader(text))
	d.Strict = true
	d.Entity = map[string]string{}
	for {
		if _, err := d.Token(); err == io.EOF {
			return
		} else if err != nil {
			t.Fatalf("not well-formed: %v\n%.400s", err, text)
		}
	}
}

// shape writes what was understood: fractions as (a ÷ b), subscripts with _,
// superscripts with ^, roots as root(…), units in {}.
func shape(n node) string {
	switch n.kind {
	case fracNode:
		return "(" + shape(inner(n.parts[0])) + " ÷ " + shape(inner(n.parts[1])) + ")"
	case rootNode:
		return "root(" + shape(inner(n.parts[0])) + ")"
	case powerNode:
		return shape(n.parts[0]) + "^" + shape(inner(n.parts[1]))
	case raisedNode:
		return shape(n.parts[0]) + "^" + plainSuperscript.Replace(n.text)
	case symbolNode:
		letter, sub := symbol(n.text)
		if sub == "" {
			return letter
		}
		return letter + "_" + sub
	case unitNode:
		return "{" + unitText(n.text) + "}"
	case fenceNode:
		shut := n.text
		if shut == "(" {
			shut = ")"
		}
		return n.text + shape(n.parts[0]) + shut
	case rowNode:
		s := ""
		for _, p := range n.parts {
			s += shape(p)
		}
		return s
	}
	return n.text
}

// TestFormulaShape: what a reader of the line means. Derivation: the usual
// precedence of products before sums, division from left to right.
func TestFormulaShape(t *testing.T) {
	tests := []struct{ text, want string }{
		{"z1 × length", "z_1×length"},
		{"uk · U² / S, split by X/R", "(u_k·U^2 ÷ S), split by X/R"},
		{"c · U² / S · n², split by X/R = 9", "(c·U^2 ÷ S)·n^2, split by X/R = 9"},
		{"U / (√3·I) · n²", "(U ÷ root(3)·I)·n^2"},
		{"√3·V / |Z1 + Z2|", "(root(3)·V ÷ |Z_1+Z_2|)"},
		{"3·V·|Z2| / |D|", "(3·V·|Z_2| ÷ |D|)"},
		{"3·U / (√3·I_lg) − Z1 − Z2, or as given", "(3·U ÷ root(3)·I_lg)−Z_1−Z_2, or as given"},
		{"ω·µ0/(2π)", "(ω·µ_0 ÷ 2π)"},
		{"2·e^(½ − γ)·√(ρ/(ω·µ0))", "2·e^½−γ·root((ρ ÷ ω·µ_0))"},
		{"0.3061 + j0.6270 ohm/mi × 1.3 mi", "0.3061+j0.6270{Ω/mi}×1.3{mi}"},
		{"√3 × 7199.6 V / |9.901 + j18.061| ohm", "(root(3)×7199.6{V} ÷ |9.901+j18.061|{Ω})"},
		{"8.5 % × (12.47 kV)² / 15 MVA", "(8.5{%}×(12.47{kV})^2 ÷ 15{MVA})"},
		{"0.04195 + j0.75509 + 3 × (15.880 + j0.000) ohm", "0.04195+j0.75509+3×(15.880+j0.000){Ω}"},
		{"network solution without the fault", "network solution without the fault"},
		{"0.35 × z1 hot × length", "0.35×z_1 hot×length"},
		{"mean of the diagonal + 2 × mean of the others", "mean of the diagonal+2×mean of the others"},
		{"2 ohm / 3 + 4", "(2{Ω} ÷ 3)+4"},
		{"a / b / c", "((a ÷ b) ÷ c)"},
		{"3I0", "3I_0"},
	}
	for _, tt := range tests {
		n, ok := parseFormula(tt.text)
		if !ok {
			t.Errorf("%q does not parse", tt.text)
			continue
		}
		if got := shape(n); got != tt.want {
			t.Errorf("%q is read as %q, want %q", tt.text, got, tt.want)
		}
	}
}

// TestFormulaRefused: what is not of the grammar stays as it is.
func TestFormulaRefused(t *testing.T) {
	for _, text := range []string{"", "(", "a +", "|a", "a ) b", "x ^", "{a}", "a = b", "√", "/ 3"} {
		if n, ok := parseFormula(text); ok {
			t.Errorf("%q parses as %q", text, shape(n))
		}
	}
	got := mathML(working.Step{Symbol: "Q", Formula: "{odd} <one>", Result: "3"})
	if !strings.Contains(got, "{odd}\u00a0&lt;one&gt;") {
		t.Errorf("a formula that does not parse is shown as %s", got)
	}
}

func FuzzFormula(f *testing.F) {
	for _, s := range []string{"uk · U² / S, split by X/R", "√3 × 7199.6 V / |9.901 + j18.061| ohm", "3·U / (√3·I_lg) − Z1 − Z2", "2·e^(½ − γ)·√(ρ/(ω·µ0))", "12∠-30.5°", "|(|a|)|", "((((", "a^b^c²"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		n, ok := parseFormula(text)
		if !ok {
			return
		}
		// Nothing of the line is lost, added or moved.
		if got, want := n.linear(), squeeze(text); got != want {
			t.Fatalf("%q is read as %q", want, got)
		}
		wellFormed(t, mathML(working.Step{Symbol: "I", Formula: text, Result: "1", Unit: "A"}))
	})
}
