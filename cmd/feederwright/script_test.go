package main

import (
	"bytes"
	"flag"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"

	"feederwright/examples"
)

var update = flag.Bool("update", false, "rewrite the expected outputs of the scripts and of docs/tutorial.md")

// TestMain makes this binary stand in for the command: scripts, and shells
// that tests start, find it as feederwright.
func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){
		"feederwright": func() { os.Exit(run(os.Args[1:], os.Stdout, os.Stderr)) },
	})
}

// TestScripts runs testdata/script. Each script begins in a folder with the
// demonstration studies in examples/.
func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir:                 filepath.Join("testdata", "script"),
		UpdateScripts:       *update,
		RequireExplicitExec: true,
		RequireUniqueNames:  true,
		Setup:               func(env *testscript.Env) error { return layOut(filepath.Join(env.WorkDir, "examples")) },
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			// exits CODE COMMAND...: the command's exit code is exactly that.
			"exits": exits,
		},
	})
}

func exits(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: exits CODE COMMAND...")
	}
	err := ts.Exec(args[1], args[2:]...)
	code := "0"
	if exit, ok := err.(*exec.ExitError); ok {
		code = exit.ProcessState.String()
		code = strings.TrimPrefix(code, "exit status ")
	} else if err != nil {
		ts.Fatalf("%v", err)
	}
	if code != args[0] {
		ts.Fatalf("exit code %s, want %s", code, args[0])
	}
}

// layOut writes the demonstration studies below a folder.
func layOut(dir string) error {
	return fs.WalkDir(examples.Files, ".", func(p string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		to := filepath.Join(dir, filepath.FromSlash(p))
		if d.IsDir() {
			return os.MkdirAll(to, 0o755)
		}
		text, err := examples.Files.ReadFile(p)
		if err != nil {
			return err
		}
		return os.WriteFile(to, text, 0o644)
	})
}

func copyExamples(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	if err := layOut(dir); err != nil {
		t.Fatal(err)
	}
	return dir
}

// TestTutorial does what docs/tutorial.md says, in order and in one folder.
// Blocks marked yaml are added to first-study/study.yaml, and come to the file
// in examples. Commands stand in blocks marked console, after "$ "; what they
// print is what the page shows.
func TestTutorial(t *testing.T) {
	page := filepath.Join("..", "..", "docs", "tutorial.md")
	text, err := os.ReadFile(page)
	if err != nil {
		t.Fatal(err)
	}
	page, err = filepath.Abs(page)
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	var made, shown bytes.Buffer // the page as it should be; output shown since the last command
	var got []byte
	command, block, commands := "", "", 0
	study := ""
	finish := func() {
		if command != "" && string(got) != shown.String() {
			t.Errorf("$ %s\nprints\n%s\nthe page shows\n%s", command, got, shown.String())
		}
		command = ""
		shown.Reset()
	}
	for line := range strings.Lines(string(text)) {
		switch {
		case strings.HasPrefix(line, "```"):
			finish()
			if block == "yaml" {
				write(t, filepath.Join(dir, "first-study", "study.yaml"), study)
			}
			block = strings.TrimSpace(line[3:])
		case block == "yaml":
			study += line
		case block == "console" && strings.HasPrefix(line, "$ "):
			finish()
			command = strings.TrimSpace(line[2:])
			commands++
			c := exec.Command("sh", "-c", command)
			c.Dir = dir
			got, err = c.CombinedOutput()
			if _, failed := err.(*exec.ExitError); err != nil && !failed {
				t.Fatal(err)
			}
			made.WriteString(line)
			made.Write(got)
			continue
		case block == "console" && command == "":
			t.Errorf("a console block begins with %q, not with a command", strings.TrimSpace(line))
		case block == "console":
			shown.WriteString(line)
			continue
		}
		made.WriteString(line)
	}
	if want, err := examples.Files.ReadFile("first-study/study.yaml"); err != nil || study != string(want) {
		t.Errorf("the parts of the page don't come to examples/first-study/study.yaml (%v)", err)
	}
	if commands < 5 {
		t.Errorf("the page has %d commands: this test would check little", commands)
	}
	if *update && !bytes.Equal(made.Bytes(), text) {
		if err := os.WriteFile(page, made.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
	}
}
