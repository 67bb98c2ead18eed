package main

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"feederwright/study"
)

// load reads and validates a study. Its diagnostics go to standard error; an
// error among them ends the run.
func load(path string, stderr io.Writer) (*study.Document, []study.State, study.Diagnostics, error) {
	doc, states, diags, err := read(path)
	if err != nil {
		return nil, nil, nil, err
	}
	if diags.Errors() > 0 {
		study.Render(stderr, diags)
		fmt.Fprintf(stderr, "feederwright: %s: %s\n", path, countDiagnostics(diags))
		return nil, nil, nil, errSaid
	}
	return doc, states, diags, nil
}

// read reads and validates a study and returns all diagnostics, in order of
// place.
func read(path string) (*study.Document, []study.State, study.Diagnostics, error) {
	path, err := locate(path)
	if err != nil {
		return nil, nil, nil, err
	}
	root, err := os.OpenRoot(filepath.Dir(path))
	if err != nil {
		return nil, nil, nil, err
	}
	defer root.Close()
	doc, states, diags := study.Open(root.FS(), filepath.Base(path))
	return doc, states, diags, nil
}

// locate returns the path of the main file of a study: itself, or the
// study.yaml in a folder, links followed. The folder is where the file really
// lies; what it includes must lie there too.
func locate(path string) (string, error) {
	info, err := os.Stat(path)
	if err != nil {
		return "", err
	}
	if info.IsDir() {
		path = filepath.Join(path, "study.yaml")
		if _, err := os.Stat(path); err != nil {
			return "", fmt.Errorf("%w: give a study file, or a folder with a study.yaml", err)
		}
	}
	return filepath.EvalSymlinks(path)
}

func countDiagnostics(ds study.Diagnostics) string {
	e := ds.Errors()
	return fmt.Sprintf("%s, %s", plural(e, "error"), plural(len(ds)-e, "warning"))
}

func plural(n int, what string) string {
	switch {
	case n == 1:
		return "1 " + what
	case strings.HasSuffix(what, "s"):
		return fmt.Sprintf("%d %ses", n, what)
	}
	return fmt.Sprintf("%d %ss", n, what)
}
