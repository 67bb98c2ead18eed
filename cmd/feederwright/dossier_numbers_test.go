package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"html"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"feederwright/answer"
	"feederwright/working"
)

// A paperTable finds rows of a dossier's table, as another program reads the page.
type paperTable struct{ rows []string }

// has tells whether the cells stand in this order in one row that begins with the first of them.
func (p paperTable) has(cells ...string) bool {
	pattern := `^\s*` + regexp.QuoteMeta(cells[0])
	for _, c := range cells[1:] {
		pattern += `\s.*?` + `\b` + regexp.QuoteMeta(c)
	}
	re := regexp.MustCompile(pattern + `(\s|$)`)
	for _, r := range p.rows {
		if re.MatchString(r) {
			return true
		}
	}
	return false
}

// tableIn takes the lines of a table by its caption, over all pages that it runs on.
func tableIn(lines []string, caption string) paperTable {
	var t paperTable
	title := regexp.MustCompile(`^\s*(Table|Figure) \d+\.|^\s*\d+ [A-Z]`)
	inside := false
	for _, l := range lines {
		if title.MatchString(l) {
			inside = strings.Contains(l, caption)
			continue
		}
		if inside {
			t.rows = append(t.rows, l)
		}
	}
	return t
}

// htmlLines are the rows and captions of a page as lines of text.
func htmlLines(page string) []string {
	page = regexp.MustCompile(`</t[hd]>`).ReplaceAllString(page, " ")
	page = regexp.MustCompile(`<(tr|caption|h[1-6]|p|figcaption)[ >]`).ReplaceAllString(page, "\n$0")
	page = regexp.MustCompile(`<[^>]*>`).ReplaceAllString(page, "")
	return strings.Split(html.UnescapeString(page), "\n")
}

// The PDF and the HTML hold what duty, flow and profile give as JSON: every current of the duties, every device's duty,
// the extremes of every state of service, and every bus of a profile.
func TestDossierHoldsDutyFlowProfile(t *testing.T) {
	const name = "../../examples/velmora"
	dir := filepath.Join(t.TempDir(), "d")
	command := func(args ...string) []byte {
		var out, errs bytes.Buffer
		if code := run(args, &out, &errs); code > 1 {
			t.Fatalf("%v: %d\n%s", args, code, &errs)
		}
		return out.Bytes()
	}
	command("dossier", name, "-o", dir, "--date", "2026-11-25", "--formats", "html,pdf")
	var duties struct {
		Faults  []answer.DutyFault
		Devices []struct {
			Kind, Name, Rule string
			DutyAmpere       float64 `json:"duty_ampere"`
			RatingAmpere     float64 `json:"rating_ampere"`
		}
	}
	var flows answer.Flow
	var along struct {
		Points []struct {
			Place  string
			Faults []struct {
				Kind    string
				Current *struct{ Least, Most float64 } `json:"current_ampere"`
			}
			Voltage *struct{ Least, Most float64 } `json:"voltage_over_nominal"`
		}
	}
	for _, j := range []struct {
		args []string
		into any
	}{{[]string{"duty", name}, &duties}, {[]string{"flow", name}, &flows}, {[]string{"profile", name, "--to", "N7"}, &along}} {
		if err := json.Unmarshal(command(append(j.args, "--format", "json")...), j.into); err != nil {
			t.Fatal(err)
		}
	}
	kilo := func(x float64) string { return working.Number(x/1e3, 4) }
	check := func(what string, lines []string) {
		checked := 0
		want := func(table paperTable, cells ...string) {
			checked++
			if !table.has(cells...) {
				t.Errorf("%s: no row with %q", what, cells)
			}
		}
		table := tableIn(lines, "Largest duties at every place")
		last := ""
		for _, f := range duties.Faults {
			first := f.Place != last // it has the place's name
			last = f.Place
			if f.Unproven != "" {
				continue
			}
			cells := []string{f.Kind, kilo(f.InitialAmpere), kilo(f.PeakAmpere), kilo(f.ThermalAmpere), kilo(f.LaterAmpere)}
			if first {
				cells = append([]string{f.Place}, cells...)
			}
			want(table, cells...)
		}
		table = tableIn(lines, "The worst duty of each device")
		for _, d := range duties.Devices {
			rating := "not given"
			if d.RatingAmpere > 0 {
				rating = kilo(d.RatingAmpere)
			}
			want(table, d.Kind+" "+d.Name, d.Rule, kilo(d.DutyAmpere), rating)
		}
		table = tableIn(lines, "Load flow: extremes of every condition")
		for i, c := range flows.Conditions {
			no := fmt.Sprintf("C%d", i+1)
			if !c.Solved {
				want(table, no, "no solution")
				continue
			}
			low, high := math.Inf(1), 0.0
			for _, b := range c.Buses {
				for _, u := range b.OverNominal {
					low, high = min(low, u), max(high, u)
				}
			}
			want(table, no, fmt.Sprintf("%.1f", 100*low), fmt.Sprintf("%.1f", 100*high), working.Number((c.Power.Losses.Re)/1e3, 4))
		}
		table = tableIn(lines, "From HV to N7: fault currents")
		for _, p := range along.Points {
			cells := []string{p.Place}
			for _, f := range p.Faults {
				if f.Kind != "ll-g" && f.Current != nil {
					cells = append(cells, working.Number(f.Current.Least, 4), working.Number(f.Current.Most, 4))
				}
			}
			if p.Voltage != nil {
				cells = append(cells, fmt.Sprintf("%.1f", 100*p.Voltage.Least), fmt.Sprintf("%.1f", 100*p.Voltage.Most))
			}
			want(table, cells...)
		}
		if checked < 110 {
			t.Errorf("%s: only %d rows checked", what, checked)
		}
	}
	page, err := os.ReadFile(filepath.Join(dir, "dossier.html"))
	if err != nil {
		t.Fatal(err)
	}
	check("HTML", htmlLines(string(page)))
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
	check("PDF", strings.Split(string(text), "\n"))
}
