package study_test

import (
	"strings"
	"testing"
	"testing/fstest"

	"feederwright/study"
)

const hashed = `feederwright: 1
study: A feeder
frequency: 60 Hz
supply:
  G: { at: A, maximum: { three-phase: 10 kA, x/r: 10, z0: 1 + j9 ohm } }
  H: { at: C, maximum: { three-phase: 8 kA, x/r: 10 } }
buses:
  A: { voltage: 20 kV }
  B: { voltage: 20 kV }
  C: { voltage: 20 kV }
lines:
  AB: { from: A, to: B, z1: 0.2 + j0.3 ohm/km, z0: 0.5 + j1 ohm/km, length: 5 km, note: old }
  BC: { from: B, to: C, z1: 0.2 + j0.3 ohm/km, z0: 0.5 + j1 ohm/km, length: 5 km }
switches:
  S: { in: AB, near: A }
breakers:
  Q: { in: AB, near: A }
current transformers:
  CT: { at: S, facing: B, ratio: 300/1 A }
conditions:
  strong: { infeed: maximum, note: as ever }
  weak: { open: [S] }
`

func hash(t *testing.T, files map[string]string) string {
	t.Helper()
	fsys := fstest.MapFS{}
	for name, text := range files {
		fsys[name] = &fstest.MapFile{Data: []byte(text)}
	}
	doc, ds := study.Read(fsys, "s.yaml")
	if ds.Errors() > 0 {
		t.Fatal(ds[0].Text(), files)
	}
	return study.Hash(doc)
}

// What the hash depends on is what its comment says: derived from that.
func TestHash(t *testing.T) {
	base := hash(t, map[string]string{"s.yaml": hashed})
	if len(base) != 64 || base != hash(t, map[string]string{"s.yaml": hashed}) {
		t.Fatalf("hash %q", base)
	}
	edits := []struct {
		name, old, new string
		same           bool
	}{
		{"comment", "lines:\n", "# new\nlines: # of the feeder\n", true},
		{"quotes", "at: A,", `"at": 'A',`, true},
		{"spaces", "x/r: 10, z0", "x/r:   10,   z0", true},
		{"block form", "  A: { voltage: 20 kV }", "  A:\n    voltage: 20 kV", true},
		{"another unit", "length: 5 km, note", "length: 5000 m, note", true},
		{"digits", "three-phase: 10 kA", "three-phase: 10.00 kA", true},
		{"order of keys", "from: A, to: B,", "to: B, from: A,", true},
		{"order of tables", "breakers:\n  Q: { in: AB, near: A }\n", "", false},
		{"title", "study: A feeder", "study: Another", true},
		{"note", "note: old", "note: new", true},
		{"note of a condition", "note: as ever", "note: never", true},
		{"source", "ratio: 300/1 A", "ratio: { value: 300/1 A, source: nameplate, date: 2020-01-02 }", true},
		{"assumed", "ratio: 300/1 A", "ratio: 300/1 A, assumed: [ratio]", true},
		{"acceptance", "conditions:", "accepted:\n  supply/zero sequence/H: { verdict: unproven, reason: r, by: AB, date: 2026-03-02 }\nconditions:", true},
		{"value", "length: 5 km, note", "length: 5.001 km, note", false},
		{"complex value", "z0: 1 + j9 ohm", "z0: 1 + j9.1 ohm", false},
		{"name of a condition", "weak:", "feeble:", false},
		{"name of an entry", "CT: { at", "CU: { at", false},
		{"condition", "open: [S]", "open: [Q]", false},
		{"connection", "facing: B", "facing: A", false},
		{"a default written out", "S: { in: AB, near: A }", "S: { in: AB, near: A, normally: closed }", false},
		{"order of entries", "  G: { at: A, maximum: { three-phase: 10 kA, x/r: 10, z0: 1 + j9 ohm } }\n  H: { at: C, maximum: { three-phase: 8 kA, x/r: 10 } }",
			"  H: { at: C, maximum: { three-phase: 8 kA, x/r: 10 } }\n  G: { at: A, maximum: { three-phase: 10 kA, x/r: 10, z0: 1 + j9 ohm } }", false},
	}
	seen := map[string]string{}
	for _, e := range edits {
		if strings.Count(hashed, e.old) != 1 {
			t.Fatalf("%s: %q stands %d times", e.name, e.old, strings.Count(hashed, e.old))
		}
		got := hash(t, map[string]string{"s.yaml": strings.Replace(hashed, e.old, e.new, 1)})
		if (got == base) != e.same {
			t.Errorf("%s: same hash %v, want %v", e.name, got == base, e.same)
		}
		if !e.same {
			if other := seen[got]; other != "" {
				t.Errorf("%s and %s have one hash", e.name, other)
			}
			seen[got] = e.name
		}
	}

	head, loads, _ := strings.Cut(hashed, "current transformers:")
	cts, conditions, _ := strings.Cut(loads, "conditions:")
	moved := map[string]string{
		"s.yaml": head + "conditions:" + conditions + "include: [more.yaml]\n", "more.yaml": "current transformers:" + cts}
	if hash(t, moved) != base {
		t.Error("a table in a file of its own changes the hash")
	}
	moved = map[string]string{"s.yaml": head + "conditions:" + conditions + "current transformers:" + cts}
	if hash(t, moved) != base {
		t.Error("the order of tables changes the hash")
	}
	// Two devices at one end of a line: which is nearer the bus matters.
	const s, q = "switches:\n  S: { in: AB, near: A }\n", "breakers:\n  Q: { in: AB, near: A }\n"
	if hash(t, map[string]string{"s.yaml": strings.Replace(hashed, s+q, q+s, 1)}) == base {
		t.Error("another device nearest the bus has the same hash")
	}
}

// The definition of the hash is kept: our own earlier output. If this fails,
// the first line of the hashed text must change, too.
func TestHashStaysWhatItIs(t *testing.T) {
	const want = "0ec9f8a8fc2b0403ab0c76c62836580f397c746892de4404e6e67a04cfb0d51d"
	if got := hash(t, map[string]string{"s.yaml": hashed}); got != want {
		t.Errorf("hash %s, want %s (regression)", got, want)
	}
}
