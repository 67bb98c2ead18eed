package review_test

import (
	"fmt"
	"strings"
	"testing"

	"feederwright/finding"
	"feederwright/internal/onefile"
	"feederwright/review"
	"feederwright/study"
)

// A feeder whose drop is set by one load; verdicts by the limits (definition).
func TestServiceFindings(t *testing.T) {
	judge := func(power, ampacity, more string) map[string]finding.Finding {
		t.Helper()
		text := fmt.Sprintf(`feederwright: 1
study: service
frequency: 60 Hz
supply:
  G: { at: S, maximum: { z1: j0.01 ohm, z0: j0.01 ohm }, minimum: { z1: j0.01 ohm, z0: j0.01 ohm } }
%sbuses:
  S: { voltage: 10 kV }
  R: { voltage: 10 kV }
  E: { voltage: 10 kV }
lines:
  one: { from: R, to: E, z1: 2 + j0.1 ohm, z0: 2 + j0.1 ohm, ampacity: %s }
regulators:
  VR: { from: S, to: R, connection: wye, impedance: 0.001 %% on 5 MVA, x/r: 1, taps: +-10 %% in 32 steps, control: { voltage: 100 V, ratio: 5773.5/100 V, band: 2 V } }
loads:
  d: { at: E, power: %s, pf: 1, connection: earthed-wye, model: current }
`, more, ampacity, power)
		doc, ds := study.Read(onefile.FS{Name: "s.yaml", Text: []byte(text)}, "s.yaml")
		if doc != nil {
			ds = append(ds, doc.Validate()...)
		}
		if ds.Errors() > 0 {
			t.Fatal(ds)
		}
		states, ds := doc.States()
		if ds.Errors() > 0 {
			t.Fatal(ds)
		}
		r, err := review.Open(doc, states)
		if err != nil {
			t.Fatal(err)
		}
		if err := r.Judge(); err != nil {
			t.Fatal(err)
		}
		found := make(map[string]finding.Finding)
		for _, f := range r.Findings {
			if f.Chapter == "flow" {
				found[f.ID()] = f
			}
		}
		return found
	}
	for _, tt := range []struct {
		power, ampacity, more string
		want                  map[string]finding.Verdict
	}{
		// 2 ohm and 10 kV: 1 MVA is 57.7 A and a drop of 2 %.
		{"1 MVA", "100 A", "", map[string]finding.Verdict{"flow/state of service": finding.Holds, "flow/lowest voltage": finding.Holds, "flow/highest voltage": finding.Holds, "flow/loading/line one": finding.Holds, "flow/tap control/VR": finding.Holds}},
		{"3.5 MVA", "220 A", "", map[string]finding.Verdict{"flow/lowest voltage": finding.Thin, "flow/loading/line one": finding.Thin}}, // 7 %, 202 A
		{"6 MVA", "300 A", "", map[string]finding.Verdict{"flow/lowest voltage": finding.Fails, "flow/loading/line one": finding.Fails}}, // 12 %, 346 A
		{"6 MVA", "300 A", "service limits: { voltage low: 80 %, voltage low target: 85 %, loading: 130 %, loading target: 120 % }\n",
			map[string]finding.Verdict{"flow/lowest voltage": finding.Holds, "flow/loading/line one": finding.Holds}},
		{"90 MVA", "9 kA", "", map[string]finding.Verdict{"flow/state of service": finding.Fails}},
	} {
		got := judge(tt.power, tt.ampacity, tt.more)
		for id, want := range tt.want {
			f, ok := got[id]
			if !ok {
				t.Errorf("%s: no finding %s", tt.power, id)
			} else if f.Verdict != want {
				t.Errorf("%s: %s %s, want %s (%s)", tt.power, id, f.Verdict, want, f.Title)
			}
		}
	}
	if f := judge("90 MVA", "9 kA", "")["flow/state of service"]; !strings.Contains(f.Explanation, "beyond what the network can deliver") || f.Value == nil || f.Cure == "" {
		t.Errorf("%+v", f)
	}
}
