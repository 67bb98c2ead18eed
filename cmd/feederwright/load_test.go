package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// What a study includes lies in its folder: a link out of it is refused. The
// study itself may be reached by a link.
func TestLinks(t *testing.T) {
	dir := copyExamples(t)
	outside := filepath.Join(dir, "conductors.yaml")
	inside := filepath.Join(dir, "velmora", "conductors.yaml")
	if err := os.Rename(inside, outside); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink(outside, inside); err != nil {
		t.Skip(err)
	}
	var out, errs bytes.Buffer
	if code := run([]string{"check", filepath.Join(dir, "velmora")}, &out, &errs); code != exitInput || !strings.Contains(out.String(), "conductors.yaml") {
		t.Errorf("an included link out of the folder: exit code %d\n%s%s", code, out.String(), errs.String())
	}
	link := filepath.Join(t.TempDir(), "linked.yaml")
	if err := os.Symlink(filepath.Join(dir, "first-study", "study.yaml"), link); err != nil {
		t.Skip(err)
	}
	out.Reset()
	if code := run([]string{"check", link}, &out, &errs); code != 0 {
		t.Errorf("a link to a study: exit code %d\n%s%s", code, out.String(), errs.String())
	}
}

// set refuses a value that the study would not understand, and changes nothing.
func TestSetRefusesWhatIsNotUnderstood(t *testing.T) {
	file := filepath.Join(copyExamples(t), "first-study", "study.yaml")
	before := read1(t, file)
	for _, value := range []string{"3.4", "3.4 kA"} {
		var out, errs bytes.Buffer
		if code := run([]string{"set", file, "lines / P1-P2 / length", value}, &out, &errs); code != exitInput || !strings.Contains(errs.String(), "was not changed") {
			t.Errorf("%q: exit code %d, %s%s", value, code, out.String(), errs.String())
		}
		if read1(t, file) != before {
			t.Fatalf("%q changed the file", value)
		}
	}
	var out, errs bytes.Buffer
	if code := run([]string{"set", file, "lines / P1-P2 / length", "3.4 mi"}, &out, &errs); code != 0 {
		t.Errorf("exit code %d, %s", code, errs.String())
	}
}
