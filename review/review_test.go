package review_test

import (
	"strings"
	"testing"
	"testing/fstest"

	"feederwright/fault"
	"feederwright/finding"
	"feederwright/review"
	"feederwright/study"
)

func judge(t *testing.T, text string) *review.Report {
	t.Helper()
	doc, ds := study.Read(fstest.MapFS{"s.yaml": {Data: []byte(strings.TrimLeft(text, "\n"))}}, "s.yaml")
	ds = append(ds, doc.Validate()...)
	states, more := doc.States()
	for _, d := range append(ds, more...) {
		if d.Severity == study.Error {
			t.Fatal(d.Text())
		}
	}
	r, err := review.Open(doc, states)
	if err != nil {
		t.Fatal(err)
	}
	if err := r.Judge(); err != nil {
		t.Fatal(err)
	}
	return r
}

const small = `
feederwright: 1
study: small
frequency: 50 Hz
supply:
  G: { at: A, maximum: { three-phase: 10 kA, x/r: 10, line-to-ground: 9 kA, line-to-ground x/r: 9 }, minimum: { three-phase: 5 kA, x/r: 8, z0: 1 + j9 ohm } }
buses:
  A: { voltage: 20 kV }
  B: { voltage: 20 kV }
lines:
  AB: { from: A, to: B, z1: 0.2 + j0.3 ohm/km, z0: 0.5 + j1 ohm/km, length: 5 km }
switches:
  S: { in: AB, near: A }
loads:
  W: { at: B, power: 1 MVA, pf: 0.9 lag }
current transformers:
  CT: { at: S, facing: B, ratio: 300/1 A }
conditions:
  strong: { infeed: maximum }
  weak: { infeed: minimum }
`

func TestFindings(t *testing.T) {
	tests := []struct {
		name, old, new string
		id             string
		verdict        finding.Verdict
		says           string
	}{
		{"as it is", "", "", "network/loads supplied", finding.Holds, "Every load has a source in every one of the 2 conditions."},
		{"as it is", "", "", "supply/zero sequence/G", finding.Holds, "No earth fault depends on an unknown zero-sequence impedance"},
		{"as it is", "", "", "network/equations solved", finding.Holds, "relative residual"},
		{"as it is", "", "", "faults/vantage sees faults/CT/CT", finding.Holds, "sees at most"},
		{"a load without source", "weak: { infeed: minimum }", "weak: { infeed: minimum, open: [S] }", "network/loads supplied", finding.Fails, `In condition "weak" no source feeds the loads W.`},
		{"no minimum", ", minimum: { three-phase: 5 kA, x/r: 8, z0: 1 + j9 ohm } }", " }", "supply/minimum level/G", finding.Unproven, "The minimum level of infeed G is not given."},
		{"no zero sequence", ", line-to-ground: 9 kA, line-to-ground x/r: 9", "", "supply/zero sequence/G", finding.Unproven, "Earth faults at A, B cannot be figured"},
		{"no earth", ", line-to-ground: 9 kA, line-to-ground x/r: 9", ", z0: open", "network/earth path/A", finding.Unproven, "has no path to earth"},
		{"high source voltage", "at: A,", "at: A, voltage: 21.5 kV,", "network/voltage before the fault", finding.Thin, "7.50 % of nominal"},
		{"too high source voltage", "at: A,", "at: A, voltage: 22.8 kV,", "network/voltage before the fault", finding.Fails, "14.0 % of nominal"},
		{"a high voltage asked for", "strong: { infeed: maximum }", "strong: { infeed: maximum, prefault: 110 % }", "network/voltage before the fault", finding.Holds, "every voltage is the stated prefault voltage"},
		{"a core-balance transformer sees the sum", "ratio: 300/1 A }", "ratio: 300/1 A, connection: core-balance }", "faults/vantage sees faults/CT/CT", finding.Holds, ": lg:A at"},
		{"a blind vantage", "S: { in: AB, near: A }", "S: { in: AB, near: A, normally: open }", "faults/vantage sees faults/CT/CT", finding.Fails, "sees no fault"},
	}
	for _, tt := range tests {
		text := small
		if tt.old != "" {
			if strings.Count(small, tt.old) != 1 {
				t.Fatalf("%q stands %d times", tt.old, strings.Count(small, tt.old))
			}
			text = strings.Replace(small, tt.old, tt.new, 1)
			if tt.name == "no minimum" {
				text = strings.Replace(text, "  weak: { infeed: minimum }\n", "", 1)
			}
		}
		found := false
		r := judge(t, text)
		for _, f := range r.Findings {
			if f.ID() != tt.id {
				continue
			}
			found = true
			if f.Verdict != tt.verdict || !strings.Contains(f.Title, tt.says) {
				t.Errorf("%s: %s %q, want %s and %q", tt.name, f.Verdict, f.Title, tt.verdict, tt.says)
			}
			if f.Verdict != finding.Holds && (f.Cure == "" || f.Basis == "" && f.Rule != "current determined" && f.Chapter != "faults") {
				t.Errorf("%s: no cure or basis", f.ID())
			}
		}
		if !found {
			t.Errorf("%s: no finding %s", tt.name, tt.id)
		}
	}
}

func TestExtremes(t *testing.T) {
	r := judge(t, small)
	x, err := r.ExtremesAt("B", fault.ThreePhase, 0)
	if err != nil {
		t.Fatal(err)
	}
	if x.LargestCase != "strong" || x.SmallestCase != "weak" || !(x.Largest > x.Smallest) || x.Cases != 2 {
		t.Errorf("%+v", x)
	}
}

// What is covered is the resistance at which the residual is just the wanted one.
func TestCovered(t *testing.T) {
	r := judge(t, small)
	c := r.Cases[0]
	p, err := c.ParsePlace("AB/80%")
	if err != nil {
		t.Fatal(err)
	}
	ohm, seen, err := review.Covered(c, p.Place, "CT", 200)
	if err != nil || !seen {
		t.Fatal(ohm, seen, err)
	}
	for _, k := range []float64{0.999, 1.001} {
		kinds, _ := fault.ParseKinds("lg:A")
		res, err := c.Fault(p.Place, kinds[0], ohm*k)
		if err != nil {
			t.Fatal(err)
		}
		if sees := res.Largest() >= 200; sees != (k < 1) {
			t.Errorf("through %g ohm the fault draws %g A", ohm*k, res.Largest())
		}
	}
	if _, seen, _ := review.Covered(c, p.Place, "CT", 1e5); seen {
		t.Error("100 kA is said to be reached")
	}
}
