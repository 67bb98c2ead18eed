package main

import (
	"bytes"
	"fmt"
	"io/fs"
	"path/filepath"
	"strings"
	"testing"

	"feederwright/examples"
	"feederwright/internal/onefile"
	"feederwright/study"
)

// Every entry of the library files can be used, says where it is from, and
// leads to no doubt.
func TestLibraryFiles(t *testing.T) {
	files, err := fs.Glob(examples.Files, "library/*.yaml")
	if err != nil || len(files) < 2 {
		t.Fatalf("library files %q, %v", files, err)
	}
	for _, name := range files {
		text, err := examples.Files.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		head := "study: use\nfrequency: 60 Hz\nsupply:\n  grid: { at: S, maximum: { three-phase: 8 kA, x/r: 10, z0: j1 ohm }, minimum: { three-phase: 4 kA, x/r: 8, z0: j1 ohm } }\nbuses:\n  S: { voltage: 12.47 kV }\n"
		doc, ds := study.Read(onefile.FS{Name: "s.yaml", Text: append([]byte(head), text...)}, "s.yaml")
		if len(ds) > 0 {
			t.Fatalf("%s: %v", name, ds)
		}
		var types, lines, buses strings.Builder
		n := 0
		line := func(phases, typ string) {
			n++
			fmt.Fprintf(&types, "  T%d: { %s, hot temperature: 75 degC }\n", n, typ)
			fmt.Fprintf(&buses, "  E%d: { voltage: 12.47 kV, phases: %s }\n", n, phases)
			fmt.Fprintf(&lines, "  L%d: { from: S, to: E%d, type: T%d, length: 1 km }\n", n, n, n)
		}
		used := map[string]bool{}
		for _, e := range doc.Cables.Entries {
			line("ABC", fmt.Sprintf("cable: %q, laying: trefoil, screens: both-ends, temperature: 50 degC", e.Name))
			used[string(e.Item.Core.V)], used[string(e.Item.ScreenWire.V)] = true, true
			if e.Origin.Source == "" {
				t.Errorf("%s: cable %q has no source", name, e.Name)
			}
		}
		conductor := "none"
		for _, e := range doc.Conductors.Entries {
			if e.Origin.Source == "" && !e.Item.Library.Given {
				t.Errorf("%s: conductor %q has no source", name, e.Name)
			}
			if used[e.Name] {
				continue
			}
			conductor = e.Name
			for _, top := range doc.PoleTops.Entries {
				if top.Origin.Source == "" {
					t.Errorf("%s: pole top %q has no source", name, top.Name)
				}
				var positions []string
				phases := ""
				for i, p := range top.Item.Positions.Names {
					letter := "ABCN"[i : i+1]
					if p == "low" {
						letter = "N"
					} else {
						phases += letter
					}
					positions = append(positions, letter+": "+p)
				}
				line(phases, fmt.Sprintf("pole top: %q, conductor: %q, neutral conductor: %q, positions: { %s }", top.Name, conductor, conductor, strings.Join(positions, ", ")))
			}
		}
		if n == 0 {
			t.Fatalf("%s: nothing was used, so this test shows nothing", name)
		}
		dir := t.TempDir()
		write(t, filepath.Join(dir, "lib.yaml"), string(text))
		write(t, filepath.Join(dir, "study.yaml"), "feederwright: 1\ninclude: lib.yaml\n"+head+buses.String()+"line types:\n"+types.String()+"lines:\n"+lines.String())
		var out, errs bytes.Buffer
		if _, _, ds, err := read(dir); err != nil || len(ds) > 0 {
			t.Errorf("%s: %v %v", name, ds, err)
		}
		if code := run([]string{"check", dir}, &out, &errs); code != 0 {
			t.Errorf("%s: exit code %d\n%s%s", name, code, errs.String(), out.String())
		}
		if code := run([]string{"lines", dir, "--hot", "--working"}, &out, &errs); code != 0 {
			t.Errorf("%s: exit code %d\n%s", name, code, errs.String())
		}
	}
}
