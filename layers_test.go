// Package feederwright_test holds what concerns the tree as a whole.
package feederwright_test

import (
	"encoding/json"
	"fmt"
	"os/exec"
	"slices"
	"strings"
	"testing"
)

// layers are the packages of the tree, lowest first. A package may import its
// own layer and those below.
var layers = []struct {
	name     string
	packages []string
}{
	{"foundation", []string{"quantity", "phasor", "sparse", "finding", "working"}},
	{"model", []string{"study", "conductor", "network", "tables"}},
	{"physics", []string{"fault", "duty", "flow", "curve", "element", "record"}},
	{"judgement", []string{"review", "profile", "sensing", "grade", "rehearse", "control", "serial", "bench", "replay", "doubt"}},
	{"output", []string{"answer", "docs", "drawing", "oneline", "strip", "dossier"}},
	{"edge", []string{"internal/...", "examples", "server", "server/store", "web", "evidence", "cmd/..."}},
}

// edge is the number of the layer that may touch the machine.
var edge = len(layers) - 1

// onlyBy lists packages that few others may import, although the layers would allow it.
var onlyBy = map[string][]string{
	"evidence": {"cmd/..."},
	"examples": {"evidence", "cmd/..."},
}

// impure are packages of the standard library by which a computation would
// come to depend on the machine, the moment or the process; with all below them.
var impure = []string{"os", "net", "time", "log", "flag", "syscall", "math/rand", "testing", "unsafe", "C"}

// A pkg is one package as the go command lists it.
type pkg struct {
	ImportPath string
	Imports    []string
}

// within tells whether a path is the pattern, or below a pattern that ends in "/...".
func within(path, pattern string) bool {
	if below, ok := strings.CutSuffix(pattern, "/..."); ok {
		return path == below || strings.HasPrefix(path, below+"/")
	}
	return path == pattern
}

func withinAny(path string, patterns []string) bool {
	return slices.ContainsFunc(patterns, func(p string) bool { return within(path, p) })
}

func layerOf(path string) int {
	for i, l := range layers {
		if withinAny(path, l.packages) {
			return i
		}
	}
	return -1
}

// complaints checks the imports of packages of one module against the layers.
func complaints(module string, pkgs []pkg) []string {
	var list []string
	complain := func(format string, args ...any) { list = append(list, fmt.Sprintf(format, args...)) }
	for _, p := range pkgs {
		path := strings.TrimPrefix(p.ImportPath, module+"/")
		if p.ImportPath == module {
			path = "."
		}
		own := layerOf(path)
		if own < 0 {
			complain("%s is in no layer: add it to layers", path)
			continue
		}
		for _, imported := range p.Imports {
			inside, ours := strings.CutPrefix(imported, module+"/")
			if !ours {
				if own < edge {
					for _, bad := range impure {
						if within(imported, bad+"/...") {
							complain("%s (%s) imports %s: core packages take values and return values", path, layers[own].name, imported)
						}
					}
				}
				continue
			}
			other := layerOf(inside)
			switch {
			case other > own:
				complain("%s (%s) imports %s (%s), which is above it", path, layers[own].name, inside, layers[other].name)
			case onlyBy[inside] != nil && !withinAny(path, onlyBy[inside]):
				complain("%s imports %s, which only %s may", path, inside, strings.Join(onlyBy[inside], " and "))
			}
		}
	}
	return list
}

func TestLayers(t *testing.T) {
	out, err := exec.Command("go", "list", "-json=ImportPath,Imports,GoFiles,Module", "./...").Output()
	if err != nil {
		t.Fatalf("go list: %v", err)
	}
	var pkgs []pkg
	module := ""
	for d := json.NewDecoder(strings.NewReader(string(out))); d.More(); {
		var p struct {
			pkg
			GoFiles []string
			Module  struct{ Path string }
		}
		if err := d.Decode(&p); err != nil {
			t.Fatal(err)
		}
		module = p.Module.Path
		if len(p.GoFiles) > 0 { // a folder with tests alone, as this one, is in no layer
			pkgs = append(pkgs, p.pkg)
		}
	}
	if len(pkgs) < 10 {
		t.Fatalf("go list names %d packages: this test would check nothing", len(pkgs))
	}
	for _, c := range complaints(module, pkgs) {
		t.Error(c)
	}
}

// TestLayersCanFail shows the checker what it must not let pass.
func TestLayersCanFail(t *testing.T) {
	tests := []struct {
		name string
		p    pkg
		want string // part of the one complaint; "" for none
	}{
		{name: "downwards", p: pkg{ImportPath: "m/fault", Imports: []string{"m/network", "m/sparse", "math", "runtime"}}},
		{name: "sideways", p: pkg{ImportPath: "m/network", Imports: []string{"m/study"}}},
		{name: "upwards", p: pkg{ImportPath: "m/network", Imports: []string{"m/fault"}}, want: "network (model) imports fault (physics)"},
		{name: "to the edge", p: pkg{ImportPath: "m/fault", Imports: []string{"m/internal/atomicfile"}}, want: "which is above it"},
		{name: "files", p: pkg{ImportPath: "m/study", Imports: []string{"os"}}, want: "study (model) imports os"},
		{name: "file systems given", p: pkg{ImportPath: "m/study", Imports: []string{"io/fs"}}},
		{name: "below os", p: pkg{ImportPath: "m/study", Imports: []string{"os/exec"}}, want: "imports os/exec"},
		{name: "clock", p: pkg{ImportPath: "m/quantity", Imports: []string{"time"}}, want: "imports time"},
		{name: "clock at the edge", p: pkg{ImportPath: "m/cmd/feederwright", Imports: []string{"time", "m/evidence", "m/examples"}}},
		{name: "like a forbidden name", p: pkg{ImportPath: "m/quantity", Imports: []string{"net2"}}},
		{name: "evidence from elsewhere", p: pkg{ImportPath: "m/server", Imports: []string{"m/evidence"}}, want: "server imports evidence, which only cmd"},
		{name: "examples from elsewhere", p: pkg{ImportPath: "m/server", Imports: []string{"m/examples"}}, want: "server imports examples, which only evidence and cmd"},
		{name: "no layer", p: pkg{ImportPath: "m/utils"}, want: "utils is in no layer"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got := complaints("m", []pkg{tt.p})
			switch {
			case tt.want == "" && len(got) > 0:
				t.Errorf("complains %q, want none", got)
			case tt.want != "" && (len(got) != 1 || !strings.Contains(got[0], tt.want)):
				t.Errorf("complains %q, want one with %q", got, tt.want)
			}
		})
	}
}
