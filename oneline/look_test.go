package oneline

import (
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"feederwright/drawing"
)

func TestLook(t *testing.T) {
	out := os.Getenv("LOOK")
	if out == "" {
		t.Skip("set LOOK to a folder, and LOOK_AT to studies")
	}
	dirs, _ := filepath.Glob("../examples/*/study.yaml")
	if at := os.Getenv("LOOK_AT"); at != "" {
		dirs = filepath.SplitList(at)
	}
	paper, _ := drawing.PaperNamed("A3")
	for _, f := range dirs {
		name := filepath.Base(filepath.Dir(f))
		doc := readStudy(t, filepath.Dir(f), filepath.Base(f))
		d, err := Draw(doc, AsWritten(doc), Options{Symbols: os.Getenv("LOOK_SYMBOLS"), Paper: paper, Date: "2026-03-02", Revision: "a1b2c3", Ratings: os.Getenv("LOOK_RATINGS") != ""})
		if err != nil {
			t.Fatal(err)
		}
		t.Logf("%s: %d sheets, %d items, %d crossings, %d flagged", name, len(d.Pages), len(d.Items), d.Crossings, d.Flagged)
		for i, p := range d.Pages {
			png, err := drawing.PNG(p, 110)
			if err != nil {
				t.Fatal(err)
			}
			os.WriteFile(fmt.Sprintf("%s/%s-%d.png", out, name, i+1), png, 0o644)
		}
	}
}

func TestWriteGenerated(t *testing.T) {
	out := os.Getenv("LOOK")
	if out == "" {
		t.Skip("set LOOK to a folder")
	}
	for _, n := range []int{100, 300} {
		dir := fmt.Sprintf("%s/radial%d", out, n)
		os.MkdirAll(dir, 0o755)
		os.WriteFile(dir+"/study.yaml", []byte(radial(n, 7)), 0o644)
	}
}
