package main

import (
	"bytes"
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"feederwright/answer"
	"feederwright/working"
)

// TestDossierHoldsFaults: the PDF, as another program reads it, and the HTML
// hold for every condition and place the currents that faults --format json
// gives.
func TestDossierHoldsFaults(t *testing.T) {
	const name = "../../examples/velmora"
	dir := filepath.Join(t.TempDir(), "d")
	var out, errs bytes.Buffer
	if code := run([]string{"dossier", name, "-o", dir, "--date", "2026-11-25", "--formats", "html,pdf"}, &out, &errs); code != 0 {
		t.Fatalf("dossier: %d\n%s", code, &errs)
	}
	out.Reset()
	if code := run([]string{"faults", name, "--format", "json"}, &out, &errs); code != 0 {
		t.Fatalf("faults: %d\n%s", code, &errs)
	}
	var book answer.Faults
	if err := json.Unmarshal(out.Bytes(), &book); err != nil {
		t.Fatal(err)
	}
	// The largest current of a type over its phases.
	type key struct{ condition, place, typ string }
	most := map[key]float64{}
	for _, f := range book.Faults {
		if f.CurrentAmpere != nil {
			typ, _, _ := strings.Cut(f.Kind, ":")
			k := key{f.Condition, f.Place, typ}
			most[k] = max(most[k], *f.CurrentAmpere)
		}
	}
	if len(most) < 1000 {
		t.Fatalf("faults gives %d currents: this test would check little", len(most))
	}
	// check looks for each of them in the row of its place, in the table of its condition.
	check := func(what, text string, row func(place string) *regexp.Regexp) {
		title := regexp.MustCompile(`Table \d+\. C\d+: ([^\n<]+)`)
		at := title.FindAllStringSubmatchIndex(text, -1)
		tables := map[string]string{}
		for i, m := range at {
			end := len(text)
			if i+1 < len(at) {
				end = at[i+1][0]
			}
			condition := strings.TrimSuffix(strings.TrimSpace(text[m[2]:m[3]]), ", continued")
			tables[condition] += text[m[0]:end]
		}
		checked := 0
		for k, x := range most {
			if k.typ == "3ph-g" { // not in the tables
				continue
			}
			found := row(k.place).FindString(tables[k.condition])
			if !regexp.MustCompile(`[\s>]` + regexp.QuoteMeta(working.Number(x, 4)) + `(\s|<|$)`).MatchString(found) {
				t.Fatalf("%s: %v is %s; its row is %q", what, k, working.Number(x, 4), found)
			}
			checked++
		}
		if checked < 1000 {
			t.Errorf("%s: %d currents checked", what, checked)
		}
	}
	page, err := os.ReadFile(filepath.Join(dir, "dossier.html"))
	if err != nil {
		t.Fatal(err)
	}
	check("HTML", string(page), func(place string) *regexp.Regexp {
		return regexp.MustCompile(`<th scope="row">` + regexp.QuoteMeta(place) + `</th>.*`)
	})
	if _, err := exec.LookPath("pdftotext"); err != nil {
		if os.Getenv("CI") != "" {
			t.Fatal("pdftotext is missing")
		}
		t.Skip("pdftotext (poppler-utils) is not on this machine")
	}
	text, err := exec.Command("pdftotext", "-layout", filepath.Join(dir, "dossier.pdf"), "-").Output()
	if err != nil {
		t.Fatal(err)
	}
	check("PDF", string(text), func(place string) *regexp.Regexp {
		return regexp.MustCompile(`(?m)^ *` + regexp.QuoteMeta(place) + ` .*`)
	})
}
