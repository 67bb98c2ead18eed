package main

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"

	"feederwright/answer"
	"feederwright/finding"
	"feederwright/phasor"
)

// The test of docs/json.md: what the page says, what the commands write and
// what the types could write must be the same keys of the same types.

// A keys maps a path to the type of what stands there.
type keys map[string]string

// documentedKeys reads the tables of docs/json.md, by command.
func documentedKeys(t *testing.T) map[string]keys {
	t.Helper()
	text, err := os.ReadFile(filepath.Join("..", "..", "docs", "json.md"))
	if err != nil {
		t.Fatal(err)
	}
	row := regexp.MustCompile("^\\| `([^`]+)` \\| (\\w+) \\|")
	all := map[string]keys{}
	section := ""
	for _, line := range strings.Split(string(text), "\n") {
		if name, ok := strings.CutPrefix(line, "## "); ok {
			section = name
			all[section] = keys{}
		}
		if m := row.FindStringSubmatch(line); m != nil && section != "" {
			if all[section][m[1]] != "" {
				t.Errorf("docs/json.md, %s: %s stands there twice", section, m[1])
			}
			all[section][m[1]] = m[2]
		}
	}
	return all
}

// names of maps with free keys, which the page writes as <phase> and so on.
var freeKeys = map[string][]string{
	"<phase>":    {"A", "B", "C", "N", "L1", "L2", "L3"},
	"<sequence>": {"zero", "positive", "negative"},
	"<verdict>":  {"fails", "thin", "unproven", "holds"},
}

func objectType(m map[string]any) string {
	var names []string
	for k := range m {
		names = append(names, k)
	}
	slices.Sort(names)
	switch strings.Join(names, " ") {
	case "angle_degree im magnitude re":
		return "phasor"
	case "im re":
		return "complex"
	case "unit value":
		return "quantity"
	}
	return ""
}

// collect adds the keys of a decoded JSON value.
func (ks keys) collect(path string, v any) {
	switch v := v.(type) {
	case map[string]any:
		if typ := objectType(v); typ != "" {
			ks[path] = typ
			return
		}
		for k, x := range v {
			for free, words := range freeKeys {
				if slices.Contains(words, k) && allIn(v, words) {
					k = free
				}
			}
			ks.collect(strings.TrimPrefix(path+"."+k, "."), x)
		}
	case []any:
		for _, x := range v {
			ks.collect(path+"[]", x)
		}
	case string:
		ks[path] = "text"
	case float64:
		ks[path] = "number"
	case bool:
		ks[path] = "flag"
	case nil:
		ks[path] = "null"
	}
}

func allIn(m map[string]any, words []string) bool {
	for k := range m {
		if !slices.Contains(words, k) {
			return false
		}
	}
	return true
}

// reflectKeys adds the keys that a type can write. Types with words of their
// own (diagnostics) are left to the outputs.
func (ks keys) reflectKeys(path string, t reflect.Type) {
	switch t {
	case reflect.TypeFor[phasor.JSON]():
		ks[path] = "phasor"
		return
	case reflect.TypeFor[answer.Complex]():
		ks[path] = "complex"
		return
	case reflect.TypeFor[finding.Quantity]():
		ks[path] = "quantity"
		return
	case reflect.TypeFor[finding.Verdict]():
		ks[path] = "text"
		return
	}
	if t.Kind() != reflect.Pointer && t.Implements(reflect.TypeFor[json.Marshaler]()) {
		return
	}
	switch t.Kind() {
	case reflect.Pointer:
		ks.reflectKeys(path, t.Elem())
	case reflect.Slice, reflect.Array:
		ks.reflectKeys(path+"[]", t.Elem())
	case reflect.Map:
		free := "<phase>"
		if strings.Contains(path, "sequence") {
			free = "<sequence>"
		}
		if strings.HasPrefix(path, "tally") {
			free = "<verdict>"
		}
		ks.reflectKeys(path+"."+free, t.Elem())
	case reflect.Struct:
		for i := 0; i < t.NumField(); i++ {
			name, _, _ := strings.Cut(t.Field(i).Tag.Get("json"), ",")
			if name == "-" || !t.Field(i).IsExported() {
				continue
			}
			if name == "" {
				name = t.Field(i).Name
			}
			ks.reflectKeys(strings.TrimPrefix(path+"."+name, "."), t.Field(i).Type)
		}
	case reflect.String:
		ks[path] = "text"
	case reflect.Bool:
		ks[path] = "flag"
	default:
		ks[path] = "number"
	}
}

func TestJSONKeysAreDocumented(t *testing.T) {
	documented := documentedKeys(t)
	dir := copyExamples(t)
	velmora, first, harnmoor := filepath.Join(dir, "velmora"), filepath.Join(dir, "first-study"), filepath.Join(dir, "harnmoor")
	mistakes := filepath.Join(dir, "mistakes.yaml")
	// A mistake with a second place, and one without.
	write(t, mistakes, strings.Replace(read1(t, filepath.Join(first, "study.yaml")), "  P2:   { voltage: 12.47 kV }", "  P2:   { voltage: 12.47 }\n  MAIN: { voltage: 12.47 kV }", 1))
	l123 := filepath.Join(dir, "l123.yaml")
	write(t, l123, strings.Replace(read1(t, filepath.Join(first, "study.yaml")), "frequency: 60 Hz", "frequency: 60 Hz\nphases: L123", 1))
	flowing := filepath.Join(dir, "flow.yaml")
	_, service, _ := strings.Cut(read1(t, filepath.Join("testdata", "script", "flow.txtar")), "-- study.yaml --\n")
	service, _, _ = strings.Cut(service, "-- one.txt --")
	write(t, flowing, service)
	wrong := filepath.Join(dir, "wrong")
	if err := os.Mkdir(wrong, 0o755); err != nil {
		t.Fatal(err)
	}
	// A mistake with a second place, and a column that is left out.
	write(t, filepath.Join(wrong, "buses.csv"), "name,voltage,# id\nB1,11 kV,7\nB1,11 kV,8\n")
	stale := filepath.Join(dir, "stale.yaml")
	write(t, stale, read1(t, filepath.Join(first, "study.yaml"))+`
accepted:
  supply/zero sequence/utility: { verdict: thin, stood at: 1 of the places, reason: r, by: AB, date: 2026-03-02 }
  network/earth path/P9: { verdict: unproven, reason: r, by: AB, date: 2026-03-02 }
`)
	doubtful := filepath.Join(dir, "doubtful.yaml")
	flips := read1(t, filepath.Join("testdata", "script", "doubt.txtar"))
	_, flips, _ = strings.Cut(flips, "-- flips.yaml --\n")
	flips, _, _ = strings.Cut(flips, "-- first.txt --")
	write(t, doubtful, strings.Replace(flips, "4 km, known: assumed", "4 km, known: assumed, between: [4 km, 900 km]", 1))
	lines := filepath.Join(dir, "lines.yaml")
	script := read1(t, filepath.Join("testdata", "script", "lines.txtar"))
	_, script, _ = strings.Cut(script, "-- study.yaml --\n")
	script, _, _ = strings.Cut(script, "-- all.txt --")
	write(t, lines, script)
	const one = "maximum, normal, no plant"
	tests := []struct {
		command string
		typ     reflect.Type
		runs    [][]string
	}{
		{"check", reflect.TypeFor[answer.Check](), [][]string{{velmora}, {first}, {mistakes}, {stale}}},
		{"faults", reflect.TypeFor[answer.Faults](), [][]string{
			{velmora, "--condition", one},
			{harnmoor, "--condition", "maximum, both, as read", "--at", "H3"},
			{harnmoor, "--condition", "maximum, both, as read", "--kind", "lg:A@H3+ln:B@FARM"},
			{velmora, "--condition", one, "--at", "N3", "--working"},
			{velmora, "--condition", "maximum, tie-fed, no plant", "--at", "N3"},
			{velmora, "--condition", one, "--residual", "160 A", "--vantage", "R1 control"},
			{first, "--at", "HV"},
			{l123, "--at", "P1"},
			{velmora, "--condition", one, "--kind", "lg:A@N3+lg:B@N5"},
			{velmora, "--condition", one, "--kind", "open:A", "--at", "L2/40%"},
		}},
		{"doubt", reflect.TypeFor[doubtJSON](), [][]string{{first}, {stale}, {doubtful}, {first, "--most-faults", "1"}}},
		{"duty", reflect.TypeFor[answer.Duty](), [][]string{
			{velmora, "--condition", one},
			{harnmoor, "--at", "H3", "--working"},
			{filepath.Join(dir, "korrigate"), "--condition", "maximum, two transformers, ring closed", "--working"},
			{filepath.Join(dir, "korrigate"), "--smallest"},
		}},
		{"dossier", reflect.TypeFor[dossierJSON](), [][]string{{first, "-o", filepath.Join(dir, "dossier")}}},
		{"lines", reflect.TypeFor[linesOutput](), [][]string{{lines}, {lines, "--type", "CAB", "--working", "--hot"}, {velmora}}},
		{"conductors", reflect.TypeFor[conductorsOutput](), [][]string{{}, {"ACSR 1/0 AWG 6/1"}}},
		{"flow", reflect.TypeFor[answer.Flow](), [][]string{{velmora}, {harnmoor}, {velmora, "--at", "VM-11"}, {l123}, {flowing}}},
		{"profile", reflect.TypeFor[answer.Profile](), [][]string{{velmora, "--to", "N7"}, {harnmoor, "--to", "FARM", "--between", "1"}}},
		{"verify", reflect.TypeFor[bookJSON](), [][]string{{}}},
		{"new", reflect.TypeFor[newJSON](), [][]string{
			{filepath.Join(dir, "made")},
			{filepath.Join(dir, "templates"), "--tables"},
			{filepath.Join(dir, "from-templates"), "--from", filepath.Join(dir, "templates")},
			{filepath.Join(dir, "from-study"), "--tables", "--from", velmora},
			{filepath.Join(dir, "refused"), "--from", wrong},
		}},
	}
	for _, tt := range tests {
		t.Run(tt.command, func(t *testing.T) {
			said := documented[tt.command]
			if len(said) == 0 {
				t.Fatalf("docs/json.md has no table for %s", tt.command)
			}
			written := keys{}
			for _, args := range tt.runs {
				var out, errs bytes.Buffer
				code := run(append([]string{tt.command, "--format", "json"}, args...), &out, &errs)
				var v any
				if err := json.Unmarshal(out.Bytes(), &v); err != nil {
					t.Fatalf("%v: exit code %d, %v\n%s%s", args, code, err, errs.String(), out.String())
				}
				written.collect("", v)
			}
			possible := keys{}
			if tt.typ != nil {
				possible.reflectKeys("", tt.typ)
			}
			for path, typ := range written {
				if said[path] != typ {
					t.Errorf("%s is written as %s; docs/json.md says %q", path, typ, said[path])
				}
			}
			for path, typ := range possible {
				if said[path] != typ {
					t.Errorf("%s can be written as %s; docs/json.md says %q", path, typ, said[path])
				}
			}
			for path := range said {
				if written[path] == "" && possible[path] == "" {
					t.Errorf("docs/json.md has %s, which is never written", path)
				}
			}
		})
	}
}

func read1(t *testing.T, name string) string {
	t.Helper()
	b, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

func write(t *testing.T, name, text string) {
	t.Helper()
	if err := os.WriteFile(name, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
}
