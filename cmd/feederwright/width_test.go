package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode/utf8"
)

// TestTextWidth measures every line that the commands print about the
// demonstration: the longest may have lineWidth characters.
func TestTextWidth(t *testing.T) {
	scripts, err := filepath.Abs(filepath.Join("testdata", "script"))
	if err != nil {
		t.Fatal(err)
	}
	dir := copyExamples(t)
	velmora, first, harnmoor := filepath.Join("velmora"), filepath.Join("first-study"), filepath.Join("harnmoor")
	t.Chdir(dir) // short paths, as a user types them
	write(t, "mistakes.yaml", strings.NewReplacer("69 kV }", "69 }", "at: HV", "at: a bus of some very long name that does not exist anywhere in this study",
		"type: OH336,", "typ: OH336,", "x/r: 15", "x/r: fifteen").Replace(read1(t, filepath.Join(first, "study.yaml"))))
	if err := os.Mkdir("wrong", 0o755); err != nil {
		t.Fatal(err)
	}
	write(t, filepath.Join("wrong", "buses.csv"), "name,voltage,# a column that somebody else has made for a purpose nobody knows of any more,kind\n"+
		strings.Repeat("a bus of some very long name,11,,\n", 40))
	write(t, filepath.Join("wrong", "cables.csv"), "name,from,to,type,length,cores,size\nC1,a bus of some very long name that is not there,x,y,1,2\n")
	script := read1(t, filepath.Join(scripts, "lines.txtar"))
	_, script, _ = strings.Cut(script, "-- study.yaml --\n")
	script, _, _ = strings.Cut(script, "-- all.txt --")
	write(t, "lines.yaml", script)
	const condition = "maximum, normal, TS solid"
	runs := [][]string{
		{"check", velmora}, {"check", velmora, "--all"}, {"check", velmora, "--strict"}, {"check", first, "--all"}, {"check", "mistakes.yaml"},
		{"faults", "mistakes.yaml"},
		{"faults", velmora}, {"doubt", velmora}, {"doubt", harnmoor},
		{"check", harnmoor, "--all"}, {"faults", harnmoor}, {"faults", harnmoor, "--condition", "maximum, both, as read"},
		{"faults", harnmoor, "--at", "H3", "--working"}, {"faults", harnmoor, "--at", "HOUSE", "--working"},
		{"faults", harnmoor, "--at", "DAIRY"}, {"faults", harnmoor, "--kind", "lg:A@H3+ln:B@FARM"},
		{"check", "korrigate", "--all"}, {"faults", "korrigate"}, {"faults", "korrigate", "--at", "SS2", "--kind", "lg:L1", "--working"},
		{"flow", velmora}, {"flow", velmora, "--condition", condition}, {"flow", velmora, "--at", "VM-11"}, {"flow", velmora, "--at", "N1-N2"},
		{"flow", harnmoor}, {"flow", harnmoor, "--condition", "maximum, both, as read"}, {"flow", "korrigate"},
		{"profile", velmora, "--to", "N7"}, {"profile", harnmoor, "--to", "HOUSE", "--between", "2", "--axis", "impedance"}, {"profile", "korrigate", "--to", "SS2"},
		{"duty", velmora}, {"duty", harnmoor}, {"duty", harnmoor, "--at", "H3", "--working"}, {"duty", "korrigate"},
		{"duty", "korrigate", "--at", "MSS-1", "--working"}, {"duty", "korrigate", "--smallest"}, {"duty", first},
		{"faults", velmora, "--resistance", "40ohm"},
		{"faults", velmora, "--condition", condition},
		{"faults", velmora, "--condition", "minimum, tie-fed to R1, TS 2.6 ohm"},
		{"faults", velmora, "--vantage", "T1 main", "--condition", condition},
		{"faults", velmora, "--residual", "160A", "--vantage", "R1 control"},
		{"faults", velmora, "--at", "PV"},
		{"faults", velmora, "--at", "N5"},
		{"faults", velmora, "--at", "N2", "--kind", "lg:A", "--working"},
		{"faults", velmora, "--kind", "lg:A@N3+lg:B@N5", "--condition", condition},
		{"faults", velmora, "--at", "N2-N3/50%", "--kind", "open-to-g:B", "--condition", condition},
		{"set", filepath.Join(first, "study.yaml"), "lines / P1-P2 / length", "3.1 mi"},
		{"verify"}, {"verify", "--values"},
		{"lines", velmora}, {"lines", "lines.yaml"}, {"lines", "lines.yaml", "--working", "--hot", "--per", "mi"},
		{"check", "lines.yaml", "--all"}, {"faults", "lines.yaml", "--at", "P", "--kind", "lg:A", "--working"},
		{"conductors"}, {"conductors", "ACSR 1/0 AWG 6/1"},
		{"new", "mine"},
		{"new", "--tables", "templates"}, {"new", "--tables", "tables", "--from", velmora}, {"new", "again", "--from", "tables"},
		{"new", "none", "--from", "wrong"},
	}
	for _, kind := range []string{"3ph", "3ph-g", "ll:BC", "ll-g:CA", "lg:C"} {
		for _, place := range []string{"HV", "N0", "N3", "N5-N6/33.3%", "PV", "Q1"} {
			runs = append(runs, []string{"faults", velmora, "--at", place, "--kind", kind, "--condition", condition, "--working"})
		}
	}
	for _, args := range runs {
		var out, errs bytes.Buffer
		run(args, &out, &errs)
		text := out.String() + errs.String()
		if text == "" {
			t.Errorf("%q prints nothing", args)
		}
		for _, line := range strings.Split(text, "\n") {
			if n := utf8.RuneCountInString(line); n > lineWidth {
				t.Errorf("%q: %d columns:\n%s", args, n, line)
			}
		}
	}
}
