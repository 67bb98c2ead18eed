package review_test

import (
	"math"
	"strings"
	"testing"

	"feederwright/finding"
	"feederwright/review"
)

// rated: I″k at A is 11 kA with R/X 0.1 by its level, so ip = 1.746·√2·11 =
// 27.16 kA (derived: by hand); beyond the line less.
const rated = `
feederwright: 1
study: rated
frequency: 50 Hz
practice: iec
method: { fault lasts: 1 s, peak by: smallest-ratio }
supply: { Q: { at: A, maximum: { three-phase: 11 kA, x/r: 10, z0: open, voltage factor: 1.1 } } }
buses: { A: { voltage: 20 kV }, B: { voltage: 20 kV }, C: { voltage: 20 kV } }
line types: { T: { z1: 0.1 + j0.2 ohm/km, z0: 0.2 + j0.4 ohm/km, short-time: 12 kA } }
lines: { L: { from: A, to: B, type: T, length: 1 km }, M: { from: B, to: C, type: T, length: 1 km } }
breakers: { K: { in: L, near: A, opens in: 60 ms, interrupts: 25 kA, makes: 62.5 kA, short-time: 25 kA, short-time for: 3 s } }
fuses: { F: { in: M, near: B, interrupts: 31.5 kA } }
`

// A low-voltage breaker with its breaking capacity alone makes 2.1 times that (IEC 60947-2, from memory, above 20 to 50 kA):
// 30 kA and R/X 0.25 give κ = 1.02 + 0.98·e^(−0.75) = 1.4829, so ip = 62.92 kA against 2.1 × 36 = 75.6 kA (derived, by hand).
func TestLowVoltageMaking(t *testing.T) {
	r := judge(t, `
feederwright: 1
study: low voltage
frequency: 50 Hz
practice: iec
method: { fault lasts: 1 s, peak by: smallest-ratio }
supply: { Q: { at: A, maximum: { three-phase: 30 kA, x/r: 4, z0: open, voltage factor: 1.1 } } }
buses: { A: { voltage: 400 V }, B: { voltage: 400 V } }
line types: { T: { z1: 0.1 + j0.1 ohm/km, z0: 0.4 + j0.4 ohm/km } }
lines: { L: { from: A, to: B, type: T, length: 0.1 km } }
breakers: { K: { in: L, near: A, opens in: 20 ms, interrupts: 36 kA } }
`)
	f := r.Find("duty/making/K")
	if f == nil || f.Verdict != finding.Holds || f.Value == nil || math.Abs(f.Value.Value-100*62.92/75.6) > 0.05 {
		t.Errorf("%+v", f)
	}
}

func TestDutyVerdicts(t *testing.T) {
	tests := []struct {
		name, old, new string
		id             string
		verdict        finding.Verdict
		value          float64 // % of the rating, 0: not stated
	}{
		{"interrupting", "", "", "duty/interrupting/K", finding.Holds, 44},
		{"interrupting thin", "interrupts: 25 kA, makes", "interrupts: 12 kA, makes", "duty/interrupting/K", finding.Thin, 1100. / 12},
		{"interrupting fails", "interrupts: 25 kA, makes", "interrupts: 11 kA, makes", "duty/interrupting/K", finding.Fails, 100},
		{"making", "", "", "duty/making/K", finding.Holds, 100 * 1.7460 * math.Sqrt2 * 11 / 62.5},
		{"making fails", "makes: 62.5 kA", "makes: 27 kA", "duty/making/K", finding.Fails, 100 * 1.7460 * math.Sqrt2 * 11 / 27},
		{"making unknown", "makes: 62.5 kA, ", "", "duty/making/K", finding.Unproven, 0},
		{"no ratings", "interrupts: 25 kA, makes: 62.5 kA, short-time: 25 kA, short-time for: 3 s", "continuous: 630 A", "duty/ratings/K", finding.Unproven, 0},
		{"short-time, longer than rated", "fault lasts: 1 s", "fault lasts: 12 s", "duty/short-time/K", finding.Holds, 0},
		{"short-time fails", "fault lasts: 1 s", "fault lasts: 20 s", "duty/short-time/K", finding.Fails, 0},
		{"conductor", "", "", "duty/short-time/T", finding.Thin, 0},
		{"conductor, time not stated", "fault lasts: 1 s, ", "", "duty/short-time/T", finding.Thin, 0},
		{"conductor fails", "short-time: 12 kA", "short-time: 9 kA", "duty/short-time/T", finding.Fails, 0},
		{"weak conductor, time not stated", "fault lasts: 1 s, peak by: smallest-ratio }", "peak by: smallest-ratio }\nnote: short-time", "duty/short-time/T", finding.Thin, 0},
		{"fuse without its test", "", "", "duty/interrupting/F", finding.Holds, 0},
		{"fuse that only its test could save", "interrupts: 31.5 kA", "interrupts: 12 kA", "duty/interrupting/F", finding.Unproven, 0},
		{"fuse with its test", "interrupts: 31.5 kA", "interrupts: 12 kA, test x/r: 15", "duty/interrupting/F", finding.Holds, 0},
		{"reclosing unknown", "interrupts: 25 kA, makes", "recloses after: [0.3 s], interrupts: 25 kA, makes", "duty/reclosing/K", finding.Unproven, 0},
		// d1 2 %, two openings, 0.3 s: D = 2 %·14.7/15.
		{"reclosing with its factor", "interrupts: 25 kA, makes", "recloses after: [0.3 s], reclosing factor: 2 %, interrupts: 25 kA, makes", "duty/interrupting/K", finding.Holds, 44 / (1 - 0.02*14.7/15)},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if tt.old != "" && !strings.Contains(rated, tt.old) {
				t.Fatalf("the study does not say %q", tt.old)
			}
			r := judge(t, strings.Replace(rated, tt.old, tt.new, 1))
			f := findingOf(r, tt.id)
			if f == nil {
				t.Fatalf("no finding %s", tt.id)
			}
			if f.Verdict != tt.verdict {
				t.Errorf("%s: %s, want %s: %s %s", tt.id, f.Verdict, tt.verdict, f.Title, f.Explanation)
			}
			if (f.Verdict == finding.Unproven) != (len(f.Missing) > 0) {
				t.Errorf("%s is %s and misses %q", tt.id, f.Verdict, f.Missing)
			}
			// 1e-4: the expected value's own digits of κ.
			if tt.value != 0 && (f.Value == nil || math.Abs(f.Value.Value-tt.value) > 1e-4*tt.value) {
				t.Errorf("%s: value %v, want %.5g %%", tt.id, f.Value, tt.value)
			}
		})
	}
}

func findingOf(r *review.Report, id string) *finding.Finding {
	for i := range r.Findings {
		if r.Findings[i].ID() == id {
			return &r.Findings[i]
		}
	}
	return nil
}

// Two sources in parallel during a closed transition are the worst condition,
// and it is named with both.
func TestClosedTransitionIsWorst(t *testing.T) {
	r := judge(t, `
feederwright: 1
study: main, tie, main
frequency: 60 Hz
practice: ieee
supply:
  SA: { at: A, maximum: { three-phase: 10 kA, x/r: 12, z0: open } }
  SB: { at: B, maximum: { three-phase: 8 kA, x/r: 12, z0: open } }
buses: { A: { voltage: 4.16 kV }, B: { voltage: 4.16 kV }, L: { voltage: 4.16 kV } }
lines: { F: { from: A, to: L, z1: 0.01 + j0.02 ohm, z0: 0.1 + j0.2 ohm } }
switches: { TIE: { from: A, to: B, normally: open, makes: 65 kA, short-time: 25 kA, short-time for: 2 s } }
breakers: { K: { in: F, near: A, opens in: 3 cycles, interrupts: 17 kA, makes: 65 kA, short-time: 25 kA, short-time for: 2 s } }
conditions:
  apart: {}
  transition: { close: [TIE], note: closed transition }
`)
	f := findingOf(r, "duty/interrupting/K")
	if f == nil || f.Verdict != finding.Fails || f.Condition != "transition" || !strings.Contains(f.Explanation, "in parallel: SA, SB") {
		t.Fatalf("%+v", f)
	}
	// Both levels together, 18 kA, no factor at X/R 12 with contacts that part after 2 cycles (derived).
	if want := 100 * 18. / 17; math.Abs(f.Value.Value-want) > 1e-4*want {
		t.Errorf("%.4f %%, want %.4f", f.Value.Value, want)
	}
	if s := findingOf(r, "duty/making/TIE"); s == nil || s.Verdict != finding.Holds {
		t.Errorf("the tie carries what one side gives: %+v", s)
	}
}

// On-load taps at their ends count, and are named.
func TestTapExtremes(t *testing.T) {
	text := `
feederwright: 1
study: taps
frequency: 60 Hz
practice: ieee
METHOD
supply: { S: { at: H, maximum: { three-phase: 10 kA, x/r: 12, z0: open } } }
buses: { H: { voltage: 69 kV }, M: { voltage: 12.47 kV }, N: { voltage: 12.47 kV } }
transformers: { T: { from: H, to: M, group: Dyn1, rating: 10 MVA, voltages: 69/12.47 kV, impedance: 8 %, x/r: 20, neutral: open, to taps: +-10 % in 32 steps } }
lines: { F: { from: M, to: N, z1: 0.1 + j0.2 ohm, z0: 0.1 + j0.2 ohm } }
breakers: { K: { in: F, near: M, opens in: 3 cycles, interrupts: 12.5 kA, makes: 32 kA, short-time: 12.5 kA, short-time for: 2 s } }
`
	with := findingOf(judge(t, strings.Replace(text, "METHOD", "", 1)), "duty/making/K")
	without := findingOf(judge(t, strings.Replace(text, "METHOD", "method: { tap extremes: neglected }", 1)), "duty/making/K")
	if with == nil || without == nil || !strings.Contains(with.Explanation, "taps all where they lower the voltage most") || strings.Contains(without.Explanation, "taps") {
		t.Fatalf("with: %+v\nwithout: %+v", with, without)
	}
	// All behind the transformer is seen through 0.9 of its turns: the current is 1/0.81 times as large (derived).
	if r := with.Value.Value / without.Value.Value; math.Abs(r-1/0.81) > 1e-6 {
		t.Errorf("taps raise the duty %.6f times, want %.6f", r, 1/0.81)
	}
	// A regulator after taps on the high-voltage side: fewer volts beyond the one are more turns, of the other lower
	// positions, and both together make the largest current (derived: the two ratios squared).
	text = strings.NewReplacer("to taps:", "from taps:", "lines: {", "regulators: { R: { from: N, to: E, connection: wye, impedance: 0.4 % on 5 MVA, x/r: 5, range: +-10 % in 32 steps } }\nlines: {", "N: { voltage: 12.47 kV } }", "N: { voltage: 12.47 kV }, E: { voltage: 12.47 kV }, P: { voltage: 12.47 kV } }",
		"breakers: {", "breakers: { KE: { from: E, to: P, opens in: 3 cycles, interrupts: 12.5 kA, makes: 32 kA, short-time: 12.5 kA, short-time for: 2 s },").Replace(text)
	text = strings.NewReplacer("range: +-10", "taps: +-10", "three-phase: 10 kA", "three-phase: 300 A").Replace(text)
	with = findingOf(judge(t, strings.Replace(text, "METHOD", "", 1)), "duty/making/KE")
	without = findingOf(judge(t, strings.Replace(text, "METHOD", "method: { tap extremes: neglected }", 1)), "duty/making/KE")
	if with == nil || without == nil || !strings.Contains(with.Explanation, "taps all where they lower the voltage most") {
		t.Fatalf("with: %+v\nwithout: %+v", with, without)
	}
	if r := with.Value.Value / without.Value.Value; !(r > 1.35 && r < 1/0.81/0.81) {
		t.Errorf("taps in a row raise the duty %.6f times, want nearly %.6f", r, 1/0.81/0.81)
	}
}
