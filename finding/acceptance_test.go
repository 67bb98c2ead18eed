package finding_test

import (
	"math"
	"strings"
	"testing"

	"feederwright/finding"
)

func q(v float64, unit string) *finding.Quantity { return &finding.Quantity{Value: v, Unit: unit} }

// When an acceptance stands and when the finding is open again: by definition
// of "worse", case by case.
func TestAccept(t *testing.T) {
	over := finding.Finding{Verdict: finding.Fails, Value: q(12, "%"), Limit: q(10, "%"), Target: q(5, "%")}       // less is better
	under := finding.Finding{Verdict: finding.Fails, Value: q(0.2, "s"), Limit: q(0.3, "s"), Target: q(0.35, "s")} // more is better
	limitOnly := finding.Finding{Verdict: finding.Unproven, Value: q(2, "places"), Limit: q(0, "places")}
	shortOnly := finding.Finding{Verdict: finding.Fails, Value: q(2, "kA"), Limit: q(5, "kA")}
	away := finding.Finding{Verdict: finding.Fails, Value: q(-12, "%"), Limit: q(10, "%"), Target: q(5, "%"), Worse: finding.Away}
	silent := finding.Finding{Verdict: finding.Unproven}
	unlimited := finding.Finding{Verdict: finding.Unproven, Value: q(7, "A")}
	tests := []struct {
		name   string
		now    finding.Finding
		was    finding.Verdict
		at     *finding.Quantity
		reopen string // "" stands
	}{
		{"as it was", over, finding.Fails, q(12, "%"), ""},
		{"better", over, finding.Fails, q(13, "%"), ""},
		{"worse", over, finding.Fails, q(11.9, "%"), "it stood at 11.90 % when accepted, and stands at 12 % now"},
		{"six digits as written", over, finding.Fails, q(12-12*4e-6, "%"), ""},
		{"worse in the fifth digit", over, finding.Fails, q(11.999, "%"), "it stood at 11.999 % when accepted, and stands at 12 % now"},
		{"it was only thin", over, finding.Thin, q(12, "%"), "the verdict was thin when accepted, and is fails now"},
		{"it was unproven", over, finding.Unproven, nil, "the verdict was unproven when accepted, and is fails now"},
		{"less is worse: as it was", under, finding.Fails, q(0.2, "s"), ""},
		{"less is worse: better", under, finding.Fails, q(0.1, "s"), ""},
		{"less is worse: worse", under, finding.Fails, q(0.25, "s"), "stood at 0.2500 s"},
		{"more places", limitOnly, finding.Unproven, q(1, "places"), "it stood at 1 places when accepted, and stands at 2 places now"},
		{"fewer places", limitOnly, finding.Unproven, q(3, "places"), ""},
		{"below a limit alone", shortOnly, finding.Fails, q(1, "kA"), ""},
		{"further below a limit alone", shortOnly, finding.Fails, q(3, "kA"), "stood at 3 kA"},
		{"as far on the other side", away, finding.Fails, q(12, "%"), ""},
		{"further from zero", away, finding.Fails, q(11, "%"), "stood at 11 %"},
		{"nothing to measure", silent, finding.Unproven, nil, ""},
		{"the value is gone", silent, finding.Unproven, q(1, "A"), "has no value now"},
		{"the acceptance has no value", over, finding.Fails, nil, "the acceptance states no value"},
		{"another unit", over, finding.Fails, q(12, "A"), "cannot be compared"},
		{"no direction: any change", unlimited, finding.Unproven, q(7.1, "A"), "stood at 7.100 A"},
		{"no direction: none", unlimited, finding.Unproven, q(7, "A"), ""},
		{"not a number any more", finding.Finding{Verdict: finding.Fails, Value: q(math.NaN(), "%"), Limit: q(10, "%"), Target: q(5, "%")}, finding.Fails, q(12, "%"), "stands at not defined"},
	}
	for _, tt := range tests {
		f := tt.now
		f.Accept(finding.Acceptance{Verdict: tt.was, Value: tt.at, Reason: "r", By: "AB", Date: "2026-03-02"})
		if f.Acceptance == nil {
			t.Errorf("%s: no acceptance", tt.name)
			continue
		}
		if tt.reopen == "" != f.IsAccepted() || tt.reopen == "" == f.IsReopened() || !strings.Contains(f.Acceptance.Reopened, tt.reopen) {
			t.Errorf("%s: reopened %q, want %q", tt.name, f.Acceptance.Reopened, tt.reopen)
		}
		if f.Verdict != tt.now.Verdict {
			t.Errorf("%s: the verdict became %s", tt.name, f.Verdict)
		}
	}

	thin := finding.Finding{Verdict: finding.Thin, Value: q(7, "%"), Limit: q(10, "%"), Target: q(5, "%")}
	thin.Accept(finding.Acceptance{Verdict: finding.Fails, Value: q(12, "%")})
	if !thin.IsAccepted() {
		t.Error("what failed and is thin now got better, and is open again")
	}
	holds := finding.Finding{Verdict: finding.Holds}
	holds.Accept(finding.Acceptance{Verdict: finding.Fails})
	if holds.Acceptance != nil {
		t.Error("what holds was accepted")
	}
}

func TestAcceptedCountsAsSettled(t *testing.T) {
	f := finding.Finding{Rule: "a", Verdict: finding.Fails}
	accepted := finding.Finding{Rule: "b", Verdict: finding.Fails}
	accepted.Accept(finding.Acceptance{Verdict: finding.Fails})
	reopened := finding.Finding{Rule: "c", Verdict: finding.Fails}
	reopened.Accept(finding.Acceptance{Verdict: finding.Thin})
	fs := []finding.Finding{accepted, {Rule: "d"}, {Rule: "e", Verdict: finding.Unproven}, reopened, f}
	if n := finding.Open(fs, finding.Fails); n != 2 {
		t.Errorf("%d open that fail, want 2", n)
	}
	if s, want := finding.Summary(fs), "3 fail, 0 thin, 1 unproven, 1 hold; 1 accepted; 1 reopened"; s != want {
		t.Errorf("%q, want %q", s, want)
	}
	finding.Sort(fs)
	order := ""
	for i := range fs {
		order += fs[i].Rule
	}
	if order != "acebd" {
		t.Errorf("order %s, want open ones by verdict, then accepted, then what holds", order)
	}
}

func TestQuantityReadsBack(t *testing.T) {
	for _, v := range []finding.Quantity{{Value: 7.5, Unit: "% from nominal"}, {Value: 0, Unit: ""}, {Value: -3.25e-17, Unit: "relative residual"}, {Value: 1, Unit: "of the places"}, {Value: 1234567, Unit: "A"}} {
		back, err := finding.ParseQuantity(v.Exact())
		if err != nil || back.Unit != v.Unit || !(math.Abs(back.Value-v.Value) <= 5e-6*math.Abs(v.Value)) { // six digits
			t.Errorf("%v is written %q and read as %v, %v", v, v.Exact(), back, err)
		}
	}
	for _, bad := range []string{"", "A", "NaN A", "inf %", "7,5 %"} {
		if v, err := finding.ParseQuantity(bad); err == nil {
			t.Errorf("%q is read as %v", bad, v)
		}
	}
}
