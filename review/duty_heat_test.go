package review_test

import (
	"math"
	"strings"
	"testing"

	"feederwright/finding"
)

// Screens and earthing conductors by their section: 16 mm² of copper from 80 to 250 °C takes 226·16·√ln(484.5/314.5) = 2377 A
// for 1 s, 95 mm² of steel from 30 to 300 °C takes 78·95·√ln(502/232) = 6510 A (derived, by hand; constants of IEC 60949).
func TestHeatOfSections(t *testing.T) {
	text := strings.NewReplacer("short-time: 12 kA }", "screen section: 16 mm2, screen metal: copper, screen begins at: 80 degC, screen may reach: 250 degC }",
		"breakers:", "earthing conductors: { E: { at: A, section: 95 mm2, metal: steel, begins at: 30 degC, may reach: 300 degC, SHARE } }\nbreakers:").Replace(rated)
	with := func(z0, share string) string {
		return strings.NewReplacer("z0: open", z0, ", SHARE", share).Replace(text)
	}

	// Without earth: two earth faults draw at most the line-to-line current, √3/2·11 kA, and its direct part.
	r := judge(t, with("z0: open", ""))
	m := math.Expm1(200*math.Log(0.746)) / (100 * math.Log(0.746)) // κ 1.746 of R/X 0.1, by hand as in rated
	ll := 11e3 * math.Sqrt(3) / 2 * math.Sqrt(m+1)
	for id, rating := range map[string]float64{"duty/screen/T": 226 * 16 * math.Sqrt(math.Log(484.5/314.5)), "duty/heat/E": 78 * 95 * math.Sqrt(math.Log(502.0/232))} {
		f := findingOf(r, id)
		if f == nil || f.Fault != "two earth faults, as line-to-line" || f.Verdict != finding.Unproven || math.Abs(f.Value.Value-100*ll/rating) > 0.05 {
			t.Errorf("%s: %+v, want %.1f %%", id, f, 100*ll/rating)
		}
	}
	// With an earth path like the positive sequence, one earth fault counts: 11 kA.
	r = judge(t, with("z0: 0.1149 + j1.149 ohm", ", share: 50 %, fault lasts: 200 ms"))
	e := findingOf(r, "duty/heat/E")
	m = math.Expm1(40*math.Log(0.746)) / (20 * math.Log(0.746))
	want := 100 * 0.5 * 11e3 * math.Sqrt(m+1) / (78 * 95 * math.Sqrt(math.Log(502.0/232)/0.2))
	if e == nil || strings.Contains(e.Fault, "two") || math.Abs(e.Value.Value-want) > 0.02*want {
		t.Errorf("%+v, want %.1f %%", e, want)
	}
}

// A back-up fuse and the smallest fault beyond it: line-to-line at C, 20 kV/(2·|0.3149 + j1.5490| ohm) = 6327 A (derived, by hand).
func TestBackUpFuse(t *testing.T) {
	for i3, verdict := range map[string]finding.Verdict{"6.3 kA": finding.Holds, "6.4 kA": finding.Fails} {
		f := findingOf(judge(t, strings.Replace(rated, "interrupts: 31.5 kA", "interrupts: 31.5 kA, smallest breaking: "+i3, 1)), "duty/smallest-breaking/F")
		if f == nil || f.Verdict != verdict || f.Place != "C" {
			t.Fatalf("%s: %+v", i3, f)
		}
	}
	if f := findingOf(judge(t, rated), "duty/smallest-breaking/F"); f != nil {
		t.Errorf("a fuse without such a limit: %+v", f)
	}
}
