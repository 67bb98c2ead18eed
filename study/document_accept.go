package study

import (
	"fmt"
	"strconv"
	"strings"

	"feederwright/finding"
)

// An Acceptance says who accepts a finding, when and why, and how the finding
// stood then. Its name is the identity of the finding.
type Acceptance struct {
	Verdict Value[string] `key:"verdict" need:"yes" one-of:"fails thin unproven" doc:"Verdict when it was accepted. Where it is worse now, the finding is open again."`
	StoodAt Value[string] `key:"stood at" doc:"Value with its unit when it was accepted, where the finding has one: 7.5 % from nominal. Where it is worse now, the finding is open again."`
	Reason  Value[string] `key:"reason" need:"yes" doc:"Why it may stand."`
	By      Value[string] `key:"by" need:"yes" doc:"Initials of whoever accepts it."`
	Date    Value[string] `key:"date" need:"yes" doc:"Day, year-month-day."`
}

// maxFinding is the most bytes that the identity of a finding may have.
const maxFinding = 1000

// byFinding is implemented by what is named by a finding's identity, which is
// longer than a name and has slashes in it.
type byFinding interface{ namedByFinding() }

func (*Acceptance) namedByFinding() {}

func namedByFinding(t anyTable) bool {
	_, is := t.newItem().(byFinding)
	return is
}

func (v *validator) accepted() {
	for i := range v.doc.Accepted.Entries {
		e := &v.doc.Accepted.Entries[i]
		of := object("accepted finding", e.Name)
		if !strings.Contains(e.Name, "/") {
			v.err(e.NameAt, of, "is not the identity of a finding", "it is chapter/rule/subjects", "write it as check prints it in parentheses, as supply/zero sequence/grid")
		}
		for _, text := range []struct {
			key string
			of  Value[string]
		}{{"reason", e.Item.Reason}, {"by", e.Item.By}} {
			if text.of.Given && strings.TrimSpace(text.of.V) == "" {
				v.err(text.of.At, of+", "+text.key, "is empty", "whoever reads the study later must know who accepted what, and why", "write it, or take the acceptance out")
			}
		}
		if d := e.Item.Date; d.Given && !IsDate(d.V) {
			v.err(d.At, of+", date", fmt.Sprintf("%q is not a day", d.V), "", "write year-month-day, as 2026-03-02")
		}
		if s := e.Item.StoodAt; s.Given {
			if _, err := finding.ParseQuantity(s.V); err != nil {
				v.err(s.At, of+", stood at", err.Error(), "it is compared with the value of the finding now", "write it as check prints the value, as 7.5 % from nominal")
			}
		}
	}
}

// IsDate tells whether a text is a day of the calendar, year-month-day.
func IsDate(text string) bool {
	if len(text) != 10 || text[4] != '-' || text[7] != '-' {
		return false
	}
	y, err1 := strconv.ParseUint(text[:4], 10, 0)
	m, err2 := strconv.ParseUint(text[5:7], 10, 0)
	d, err3 := strconv.ParseUint(text[8:], 10, 0)
	if err1 != nil || err2 != nil || err3 != nil || m < 1 || m > 12 || d < 1 {
		return false
	}
	days := [...]uint64{31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31}[m-1]
	if m == 2 && y%4 == 0 && (y%100 != 0 || y%400 == 0) { // Gregorian calendar
		days = 29
	}
	return d <= days
}

// Accept writes into the text of a file that a finding is accepted: a new
// entry of the table of accepted findings, or the keys of the one that is
// there. All other bytes stay.
func Accept(file string, text []byte, f *finding.Finding, reason, by, date string) ([]byte, error) {
	at := Path{"accepted", f.ID()}
	keys := []struct{ key, value string }{{"verdict", f.Verdict.String()}, {"stood at", ""}, {"reason", reason}, {"by", by}, {"date", date}}
	if f.Value != nil {
		keys[1].value = f.Value.Exact()
	}
	t, err := readEditTree(file, text)
	if err != nil {
		return nil, err
	}
	n, rest, err := t.find(at)
	if err != nil || len(rest) > 0 || !n.isMapping() {
		var entry []string
		for _, k := range keys {
			if k.value != "" {
				entry = append(entry, Scalar(k.key)+": "+Scalar(k.value))
			}
		}
		return Insert(file, text, at, strings.Join(entry, "\n"), "")
	}
	var changes []Change
	for _, k := range keys {
		switch {
		case k.value != "":
			changes = append(changes, ScalarChange{At: at.with(k.key), Value: k.value})
		case n.item(k.key) >= 0:
			changes = append(changes, Removal{At: at.with(k.key)})
		}
	}
	return Edited(file, text, changes...)
}

// Withdraw takes an acceptance out of the text of a file; with the last one
// goes the table, and at the end of a file the blank line above it.
func Withdraw(file string, text []byte, id string) ([]byte, error) {
	at, last := Path{"accepted", id}, false
	if t, err := readEditTree(file, text); err == nil {
		if n, rest, err := t.find(at); err == nil && len(rest) == 0 && len(n.parent.items) == 1 && len(t.root.items) > 1 {
			at = at[:1]
			last = n.parent.index() == len(t.root.items)-1
		}
	}
	out, err := Remove(file, text, at)
	if err != nil || !last {
		return out, err
	}
	for _, eol := range []string{"\r\n", "\n"} {
		if short, blank := strings.CutSuffix(string(out), eol); blank && strings.HasSuffix(short, eol) && strings.HasPrefix(string(text), string(out)) {
			return []byte(short), nil
		}
	}
	return out, nil
}
