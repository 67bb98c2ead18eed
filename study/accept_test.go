package study_test

import (
	"strings"
	"testing"
	"testing/fstest"

	"feederwright/finding"
	"feederwright/study"
)

const plain = `# A study.
feederwright: 1
study: S   # the title
frequency: 50 Hz
buses:
  A: { voltage: 20 kV }   # the only one
`

func earthPath(value float64) *finding.Finding {
	return &finding.Finding{Chapter: "network", Rule: "earth path", Subjects: []string{"A"}, Verdict: finding.Thin, Value: &finding.Quantity{Value: value, Unit: "% from nominal"}}
}

// Accept writes one entry and Withdraw takes it out: every other byte stays,
// whatever the line ends, and what was accepted reads back.
func TestAcceptAndWithdraw(t *testing.T) {
	const reason = `it's "fine": asked #4, twice`
	for _, start := range []string{plain, strings.ReplaceAll(plain, "\n", "\r\n"), "\ufeff" + plain, strings.TrimSuffix(plain, "\n"), strings.Replace(plain, "buses:", "accepted: # by us\n  supply/x/G: { verdict: fails, reason: r, by: CD, date: 2024-02-29 }\nbuses:", 1)} {
		text, err := study.Accept("s.yaml", []byte(start), earthPath(7.5), reason, "AB", "2026-03-02")
		if err != nil {
			t.Fatal(err)
		}
		read := func(text []byte) *study.Entry[study.Acceptance] {
			doc, ds := study.Read(fstest.MapFS{"s.yaml": {Data: text}}, "s.yaml")
			ds = append(ds, doc.Validate()...)
			if ds.Errors() > 0 {
				t.Fatalf("%s\n%s", ds[0].Text(), text)
			}
			return doc.Accepted.Find("network/earth path/A")
		}
		e := read(text)
		if e == nil || e.Item.Verdict.V != "thin" || e.Item.StoodAt.V != "7.5 % from nominal" || e.Item.Reason.V != reason || e.Item.By.V != "AB" || e.Item.Date.V != "2026-03-02" {
			t.Errorf("%q reads back as %+v", text, e)
		}
		for _, line := range strings.SplitAfter(start, "\n") {
			if !strings.Contains(string(text), strings.TrimRight(line, "\r\n")) {
				t.Errorf("the line %q is gone", line)
			}
		}
		again, err := study.Accept("s.yaml", text, earthPath(8), "still", "AB", "2026-04-01")
		if err != nil {
			t.Fatal(err)
		}
		if e := read(again); e == nil || e.Item.StoodAt.V != "8 % from nominal" || e.Item.Reason.V != "still" || e.Item.Date.V != "2026-04-01" {
			t.Errorf("accepted again: %+v", e)
		}
		valueless := *earthPath(1)
		valueless.Value = nil
		if text, err := study.Accept("s.yaml", again, &valueless, "still", "AB", "2026-04-01"); err != nil || read(text).Item.StoodAt.Given {
			t.Errorf("an old value stays: %v\n%s", err, text)
		}
		back, err := study.Withdraw("s.yaml", again, "network/earth path/A")
		if err != nil {
			t.Fatal(err)
		}
		if want := start; strings.TrimRight(string(back), "\r\n") != strings.TrimRight(want, "\r\n") {
			t.Errorf("after taking it out:\n%q\nwant\n%q", back, want)
		}
	}
	if _, err := study.Withdraw("s.yaml", []byte(plain), "network/earth path/A"); err == nil {
		t.Error("what is not there was taken out")
	}
}

// A file that holds nothing else keeps the table, empty.
func TestWithdrawFromAFileOfItsOwn(t *testing.T) {
	const alone = "accepted:\n  network/earth path/A: { verdict: thin, reason: r, by: AB, date: 2026-03-02 }\n"
	back, err := study.Withdraw("more.yaml", []byte(alone), "network/earth path/A")
	if err != nil || strings.Contains(string(back), "earth path") || !strings.HasPrefix(string(back), "accepted:") {
		t.Errorf("%q, %v", back, err)
	}
}

func TestAcceptanceMistakes(t *testing.T) {
	for _, tt := range []struct{ entry, says string }{
		{"network/earth path/A: { verdict: thin, reason: \" \", by: AB, date: 2026-03-02 }", "is empty"},
		{"network/earth path/A: { verdict: thin, reason: r, by: \"\", date: 2026-03-02 }", "is empty"},
		{"network/earth path/A: { verdict: thin, reason: r, by: AB, date: 2026-02-29 }", "is not a day"},
		{"network/earth path/A: { verdict: holds, reason: r, by: AB, date: 2026-03-02 }", "is not one of"},
		{"network/earth path/A: { verdict: thin, stood at: about 5 %, reason: r, by: AB, date: 2026-03-02 }", "does not begin with a number"},
		{"network/earth path/A: { verdict: thin, by: AB, date: 2026-03-02 }", `has no "reason"`},
		{"earth path: { verdict: thin, reason: r, by: AB, date: 2026-03-02 }", "is not the identity of a finding"},
	} {
		doc, ds := study.Read(fstest.MapFS{"s.yaml": {Data: []byte(plain + "accepted:\n  " + tt.entry + "\n")}}, "s.yaml")
		found := false
		for _, d := range append(ds, doc.Validate()...) {
			found = found || d.Severity == study.Error && strings.Contains(d.Problem, tt.says) && d.At.Line == 8
		}
		if !found {
			t.Errorf("%s: no error says %q", tt.entry, tt.says)
		}
	}
}

func TestIsDate(t *testing.T) {
	for _, good := range []string{"2026-11-25", "2024-02-29", "2000-02-29", "2026-12-31"} {
		if !study.IsDate(good) {
			t.Errorf("%s is no day", good)
		}
	}
	for _, bad := range []string{"", "2026-11-31", "2026-02-29", "1900-02-29", "2026-13-01", "2026-00-10", "2026-1-10", "26-11-2025", "2026-11-00", "+026-11-01", "2026/11/25"} {
		if study.IsDate(bad) {
			t.Errorf("%s is a day", bad)
		}
	}
}
