package study

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
	"go.yaml.in/yaml/v4"
)

// schemas returns the validators of a study and of an included file.
func schemas(t *testing.T) (main, included *jsonschema.Schema) {
	t.Helper()
	text, err := Schema()
	if err != nil {
		t.Fatal(err)
	}
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	if err := c.AddResource("study.json", doc); err != nil {
		t.Fatal(err)
	}
	// Compiling checks the schema against that of draft 2020-12 itself.
	return c.MustCompile("study.json"), c.MustCompile("study.json#/$defs/included-file")
}

// asJSON is a YAML tree as an editor hands it to a schema: bare numbers are
// numbers, all other bare words texts.
func asJSON(t *testing.T, n *yaml.Node) any {
	t.Helper()
	switch n.Kind {
	case yaml.DocumentNode:
		return asJSON(t, n.Content[0])
	case yaml.MappingNode:
		m := make(map[string]any)
		for i := 0; i+1 < len(n.Content); i += 2 {
			m[n.Content[i].Value] = asJSON(t, n.Content[i+1])
		}
		return m
	case yaml.SequenceNode:
		list := make([]any, len(n.Content))
		for i, c := range n.Content {
			list[i] = asJSON(t, c)
		}
		return list
	}
	switch n.ShortTag() {
	case "!!null":
		return nil
	case "!!bool":
		return n.Value == "true"
	case "!!int", "!!float":
		return json.Number(strings.TrimLeft(n.Value, "+"))
	}
	return n.Value
}

func parsed(t *testing.T, text string) any {
	t.Helper()
	var n yaml.Node
	if err := yaml.Load([]byte(text), &n); err != nil {
		t.Fatalf("%v in\n%s", err, text)
	}
	return asJSON(t, &n)
}

func TestExamplesConformToSchema(t *testing.T) {
	main, included := schemas(t)
	for _, file := range studies(t) {
		doc, ds := Read(os.DirFS(filepath.Dir(file)), filepath.Base(file))
		if ds.Errors() > 0 {
			t.Errorf("%s:\n%s", file, rendered(ds))
		}
		for i, f := range doc.Files {
			s := included
			if i == 0 {
				s = main
			}
			if err := s.Validate(parsed(t, string(f.Text))); err != nil {
				t.Errorf("%s: %v", f.Name, err)
			}
		}
	}
}

// What Read accepts the schema accepts, and what it refuses for its form the
// schema refuses too.
func TestSchemaAndReadAgree(t *testing.T) {
	main, _ := schemas(t)
	const plant = head + "buses:\n  HV: { voltage: 115 kV }\n"
	for _, tt := range []struct {
		text string
		good bool
	}{
		{plant, true},
		{plant + "rotation: ACB\nphases: L123\npractice: iec\nnote: 12\n", true},
		{plant + "lines:\n", true},
		{plant + "conditions: { as written: , all: { infeed: minimum } }\n", true},
		{plant + "supply: { g: { at: HV, maximum: { three-phase: 9.2 kA, x/r: 10 }, minimum: { z1: 1 + j8 ohm, z0: open } } }\nconditions: { c: { infeed: { g: out } } }\n", true},
		{plant + "supply: { g: { at: HV, maximum: { three-phase: { value: 9.2 kA, source: letter, known: letter, date: 2026-03-02 } } } }\n", true},
		{plant + "line types: { M: { matrix: [[0.3 + j1 ohm/km], [0.1 + j0.4 ohm/km, 0.3 + j1 ohm/km]] } }\n", true},
		{plant + "switches: { S: { from: HV, to: HV, normally: open } }\nrelays: { R: { sees: {}, trips: S }, Q: { sees: {}, trips: [S] } }\n", true},
		{plant + "axes: { a: { b: { neutrals: {}, out: [] }, c: } }\nexclude: [{ a: b }]\n", true},
		{plant + "loads: { L: { at: HV, power: 1 MVA, pf: 1 } }\n", true},
		{strings.ReplaceAll(head, "study: test\n", ""), false},
		{plant + "busses: {}\n", false},
		{plant + "lines: { L: { form: HV, to: HV } }\n", false},
		{plant + "lines: { L: { from: HV, to: HV, lenght: 1 mi } }\n", false},
		{plant + "lines: { L: { from: HV, to: HV, length: 1 } }\n", false},
		{plant + "lines: { L: { from: HV, to: HV, length: 1 kV } }\n", false},
		{plant + "lines: { L: { from: HV, to: HV, length: { value: 1 mi, when: 2020 } } }\n", false},
		{plant + "lines: { L: { from: HV, to: HV, length: { source: x } } }\n", false},
		{plant + "lines: { L: { from: HV } }\n", false},
		{plant + "lines: { L/1: { from: HV, to: HV } }\n", false},
		{plant + "lines: [{ from: HV, to: HV }]\n", false},
		{plant + "lines: { L: HV }\n", false},
		{plant + "practice: both\n", false},
		{plant + "supply: { g: { at: HV, maximum: { three-phase: 9.2 } } }\n", false},
		{plant + "supply: { g: { at: HV, maximum: 9.2 kA } }\n", false},
		{plant + "conditions: { c: { infeed: strong } }\n", false},
		{plant + "conditions: { c: { neutrals: { T: firm } } }\n", false},
		{plant + "axes: { a: [b, c] }\n", false},
		{plant + "exclude: { a: b }\n", false},
		{plant + "line types: { M: { matrix: 0.3 + j1 ohm/km } }\n", false},
	} {
		_, ds := readText(tt.text)
		if (ds.Errors() == 0) != tt.good {
			t.Errorf("Read:\n%s\n%s", tt.text, rendered(ds))
		}
		if err := main.Validate(parsed(t, tt.text)); (err == nil) != tt.good {
			t.Errorf("schema, want good %v: %v\n%s", tt.good, err, tt.text)
		}
	}
}

// Every key has a meaning, and every quantity an example that it reads.
func TestSchemaSaysEverything(t *testing.T) {
	text, err := Schema()
	if err != nil {
		t.Fatal(err)
	}
	var root map[string]any
	if err := json.Unmarshal(text, &root); err != nil {
		t.Fatal(err)
	}
	keys := 0
	var walk func(path string, v any)
	walk = func(path string, v any) {
		switch v := v.(type) {
		case map[string]any:
			if p, ok := v["properties"].(map[string]any); ok {
				for k, s := range p {
					keys++
					m := s.(map[string]any)
					if r, ok := m["$ref"].(string); ok && m["description"] == nil {
						m, _ = root["$defs"].(map[string]any)[strings.TrimPrefix(r, "#/$defs/")].(map[string]any)
					}
					if m["description"] == nil && k != "value" {
						t.Errorf("%s/%s has no description", path, k)
					}
				}
			}
			if r, ok := v["$ref"].(string); ok {
				if root["$defs"].(map[string]any)[strings.TrimPrefix(r, "#/$defs/")] == nil {
					t.Errorf("%s: nothing is at %s", path, r)
				}
			}
			for k, inner := range v {
				walk(path+"/"+k, inner)
			}
		case []any:
			for _, inner := range v {
				walk(path, inner)
			}
		}
	}
	walk("", root)
	if keys < 150 {
		t.Errorf("only %d keys", keys)
	}
}
