package review_test

import (
	"strings"
	"testing"

	"feederwright/examples"
	"feederwright/finding"
	"feederwright/review"
	"feederwright/study"
)

// An acceptance stands until the finding gets worse; one without a finding is told.
func TestAcceptedFindings(t *testing.T) {
	const before = "at: A, voltage: 21.5 kV," // thin: 7.50 % of nominal
	// The load flow judges the same voltage; here it is no matter.
	small := strings.Replace(small, "supply:", "service limits: { voltage high target: 110 % }\nsupply:", 1)
	accepted := func(stood string) string {
		return strings.Replace(small, "at: A,", before, 1) + `accepted:
  network/voltage before the fault: { verdict: thin, stood at: ` + stood + ` % from nominal, reason: taps follow, by: AB, date: 2026-03-02 }
  network/earth path/A: { verdict: unproven, reason: short line, by: CD, date: 2026-03-03 }
  supply/minimum level/G: { verdict: unproven, reason: asked, by: CD, date: 2026-03-03 }
`
	}
	plainRun := judge(t, strings.Replace(small, "at: A,", before, 1))
	for _, tt := range []struct {
		stood    string
		reopened bool
	}{{"7.5", false}, {"7.6", false}, {"-7.5", false}, {"7.4", true}} {
		r := judge(t, accepted(tt.stood))
		f := r.Find("network/voltage before the fault")
		if f == nil || f.IsReopened() != tt.reopened || f.IsAccepted() == tt.reopened || f.Verdict != finding.Thin {
			t.Errorf("accepted at %s: %+v", tt.stood, f)
		}
		if want := map[bool]int{false: 0, true: 1}[tt.reopened]; finding.Open(r.Findings, finding.Thin) != want {
			t.Errorf("accepted at %s: %d open", tt.stood, finding.Open(r.Findings, finding.Thin))
		}
		if len(r.Stale) != 2 || r.Stale[0].ID != "network/earth path/A" || r.Stale[0].Why != "the study has no such finding now" || r.Stale[1].Why != "the finding holds now" || r.Stale[1].By != "CD" {
			t.Errorf("stale: %+v", r.Stale)
		}
		// What is computed does not change.
		if study.Hash(r.Doc) != study.Hash(plainRun.Doc) {
			t.Error("acceptances change the hash")
		}
		if len(r.Findings) != len(plainRun.Findings) {
			t.Errorf("%d findings, %d without acceptances", len(r.Findings), len(plainRun.Findings))
		}
		for i := range r.Findings {
			if p := plainRun.Find(r.Findings[i].ID()); p == nil || p.Verdict != r.Findings[i].Verdict || p.Title != r.Findings[i].Title {
				t.Errorf("%s differs", r.Findings[i].ID())
			}
		}
	}
}

// Findings of every chapter can be accepted, the load flow's too: every finding of the demonstration that doesn't hold.
func TestEveryChapterCanBeAccepted(t *testing.T) {
	text, err := examples.Files.ReadFile("velmora/study.yaml")
	if err != nil {
		t.Fatal(err)
	}
	types, err := examples.Files.ReadFile("velmora/conductors.yaml")
	if err != nil {
		t.Fatal(err)
	}
	run := func() *review.Report {
		doc, states, ds := study.Open(study.Memory{"study.yaml": text, "conductors.yaml": types}, "study.yaml")
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
		return r
	}
	r := run()
	chapters := map[string]bool{}
	for i := range r.Findings {
		if f := &r.Findings[i]; f.Verdict != finding.Holds {
			chapters[f.Chapter] = true
			if text, err = study.Accept("study.yaml", text, f, "looked at", "QX", "2026-12-01"); err != nil {
				t.Fatal(err)
			}
		}
	}
	if !chapters["flow"] || !chapters["duty"] {
		t.Fatalf("findings that don't hold only in %v", chapters)
	}
	r = run()
	if n := finding.Open(r.Findings, finding.Fails, finding.Thin, finding.Unproven); n != 0 || len(r.Stale) != 0 {
		t.Errorf("%d still open, %v stale", n, r.Stale)
	}
}

// The identity of a finding names one finding, and the same one in every run.
func TestIdentitiesOfTheExamples(t *testing.T) {
	studies, err := examples.Files.ReadDir(".")
	if err != nil {
		t.Fatal(err)
	}
	checked := 0
	for _, dir := range studies {
		name := dir.Name() + "/study.yaml"
		if _, err := examples.Files.ReadFile(name); err != nil {
			continue
		}
		var first []string
		for run := range 2 {
			doc, ds := study.Read(examples.Files, name)
			ds = append(ds, doc.Validate()...)
			states, more := doc.States()
			if append(ds, more...).Errors() > 0 {
				t.Fatal(ds)
			}
			r, err := review.Open(doc, states)
			if err != nil {
				t.Fatal(err)
			}
			if err := r.Judge(); err != nil {
				t.Fatal(err)
			}
			seen := map[string]bool{}
			var ids []string
			for i := range r.Findings {
				id := r.Findings[i].ID()
				if seen[id] {
					t.Errorf("%s: two findings are called %s", name, id)
				}
				seen[id] = true
				ids = append(ids, id)
			}
			if len(ids) == 0 {
				t.Errorf("%s: no findings", name)
			}
			if run == 0 {
				first = ids
			} else if strings.Join(ids, "\n") != strings.Join(first, "\n") {
				t.Errorf("%s: another run gives other findings", name)
			}
			checked++
		}
	}
	if checked < 6 {
		t.Errorf("%d runs, want two for each of three examples", checked)
	}
}
