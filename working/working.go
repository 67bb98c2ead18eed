// Package working holds the steps behind a number, so that a reviewer can
// follow it with a calculator: symbol, formula, values put in, result, unit,
// basis.
package working

import (
	"fmt"
	"math"
	"math/cmplx"
	"strings"

	"feederwright/phasor"
)

// A Step is one line of a calculation.
type Step struct {
	Symbol  string `json:"symbol"`           // Z1
	Meaning string `json:"meaning"`          // positive-sequence impedance of T1 at 12.47 kV
	Formula string `json:"formula"`          // uk · U² / S
	Values  string `json:"values,omitempty"` // 8.5 % × (12.47 kV)² / 15 MVA
	Result  string `json:"result"`           // 0.0400 + j0.8803
	Unit    string `json:"unit,omitempty"`   // ohm
	Basis   string `json:"basis,omitempty"`  // symmetrical components; nameplate
}

// Text writes steps for a terminal, each as
//
//	Z1 = formula = values = result unit        meaning (basis)
func Text(steps []Step, width int) string {
	var b strings.Builder
	for _, s := range steps {
		parts := []string{}
		for _, p := range []string{s.Formula, s.Values, strings.TrimSpace(s.Result + " " + s.Unit)} {
			if p != "" {
				parts = append(parts, p)
			}
		}
		line := "  " + s.Symbol + " = " + strings.Join(parts, " = ")
		if len([]rune(line)) > width && len(parts) > 1 {
			line = "  " + s.Symbol + " = " + strings.Join(parts, "\n"+strings.Repeat(" ", 3+len([]rune(s.Symbol)))+"= ")
		}
		b.WriteString(line + "\n")
		note := s.Meaning
		if s.Basis != "" {
			note += " [" + s.Basis + "]"
		}
		if note != "" {
			b.WriteString(wrap(note, "      ", width))
		}
	}
	return b.String()
}

func wrap(text, indent string, width int) string {
	var b strings.Builder
	line := indent
	for _, w := range strings.Fields(text) {
		if len([]rune(line))+1+len([]rune(w)) > width && strings.TrimSpace(line) != "" {
			b.WriteString(line + "\n")
			line = indent
		}
		if strings.TrimSpace(line) != "" {
			line += " "
		}
		line += w
	}
	b.WriteString(line + "\n")
	return b.String()
}

// Number writes a value with so many significant digits, without an exponent.
func Number(x float64, digits int) string {
	switch {
	case math.IsInf(x, 1):
		return "infinite"
	case math.IsNaN(x):
		return "not defined"
	case x == 0:
		return "0"
	}
	decimals := digits - 1 - int(math.Floor(math.Log10(math.Abs(x))))
	if decimals < 0 {
		decimals = 0
	}
	return fmt.Sprintf("%.*f", decimals, x)
}

// Complex writes R + jX with so many significant digits of the magnitude.
func Complex(z complex128, digits int) string {
	m := cmplx.Abs(z)
	if m == 0 {
		return "0"
	}
	decimals := max(digits-1-int(math.Floor(math.Log10(m))), 0)
	sign := "+"
	x := imag(z)
	if x < 0 {
		sign, x = "-", -x
	}
	return fmt.Sprintf("%.*f %s j%.*f", decimals, real(z), sign, decimals, x)
}

// Polar writes magnitude∠angle.
func Polar(z complex128, digits int) string {
	return fmt.Sprintf("%s∠%.1f°", Number(cmplx.Abs(z), digits), phasor.Degrees(z))
}
