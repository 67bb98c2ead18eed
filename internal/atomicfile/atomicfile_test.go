package atomicfile

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"sync"
	"testing"
)

func content(t *testing.T, path string) string {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// alone fails if the directory holds anything but the names given.
func alone(t *testing.T, dir string, names ...string) {
	t.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, e := range entries {
		got = append(got, e.Name())
	}
	if fmt.Sprint(got) != fmt.Sprint(names) {
		t.Errorf("directory holds %q, want %q", got, names)
	}
}

func TestWriteNewFile(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "study.yaml")
	if err := Write(path, []byte("a: 1\r\n")); err != nil {
		t.Fatal(err)
	}
	if got := content(t, path); got != "a: 1\r\n" {
		t.Errorf("got %q", got)
	}
	alone(t, dir, "study.yaml")

	// The same permissions as any new file of this process.
	plain := filepath.Join(t.TempDir(), "plain")
	if err := os.WriteFile(plain, nil, 0o666); err != nil {
		t.Fatal(err)
	}
	want, _ := os.Stat(plain)
	got, _ := os.Stat(path)
	if got.Mode() != want.Mode() {
		t.Errorf("mode %v, want %v", got.Mode(), want.Mode())
	}
}

func TestWriteKeepsMode(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("no such permissions there")
	}
	dir := t.TempDir()
	path := filepath.Join(dir, "study.yaml")
	for _, mode := range []os.FileMode{0o600, 0o640, 0o664} {
		if err := os.WriteFile(path, []byte("old"), 0o666); err != nil {
			t.Fatal(err)
		}
		if err := os.Chmod(path, mode); err != nil {
			t.Fatal(err)
		}
		if err := Write(path, []byte("new")); err != nil {
			t.Fatal(err)
		}
		info, _ := os.Stat(path)
		if info.Mode().Perm() != mode || content(t, path) != "new" {
			t.Errorf("mode %v, want %v; content %q", info.Mode(), mode, content(t, path))
		}
	}
	alone(t, dir, "study.yaml")
}

func TestWriteThroughLink(t *testing.T) {
	dir, other := t.TempDir(), t.TempDir()
	target := filepath.Join(other, "real.yaml")
	link := filepath.Join(dir, "study.yaml")
	if err := os.Symlink(target, link); err != nil {
		t.Skip("cannot make symbolic links here:", err)
	}
	for _, want := range []string{"first", "second"} { // the target does not exist at first
		if err := Write(link, []byte(want)); err != nil {
			t.Fatal(err)
		}
		if got := content(t, target); got != want {
			t.Errorf("got %q, want %q", got, want)
		}
	}
	if to, err := os.Readlink(link); err != nil || to != target {
		t.Errorf("the link leads to %q (%v), want %q", to, err, target)
	}
	ring := filepath.Join(dir, "ring")
	if err := os.Symlink(ring, ring); err != nil {
		t.Fatal(err)
	}
	if err := Write(ring, nil); err == nil {
		t.Error("a link to itself was written")
	}
}

func TestWriteFails(t *testing.T) {
	dir := t.TempDir()
	if err := Write(filepath.Join(dir, "none", "study.yaml"), nil); err == nil {
		t.Error("wrote into a directory that does not exist")
	}
	if err := Write(dir, nil); err == nil {
		t.Error("wrote over a directory")
	}
	alone(t, dir)
}

// A reader sees whole files only, also while several writers are at it.
func TestWriteIsWhole(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "study.yaml")
	whole := func(i int) []byte { return bytes.Repeat([]byte{byte('a' + i)}, 100_000) }
	if err := Write(path, whole(0)); err != nil {
		t.Fatal(err)
	}
	var writers sync.WaitGroup
	for i := range 4 {
		writers.Add(1)
		go func() {
			defer writers.Done()
			for range 10 {
				if err := Write(path, whole(i)); err != nil {
					t.Error(err)
				}
			}
		}()
	}
	done := make(chan struct{})
	go func() { writers.Wait(); close(done) }()
	for reading := true; reading; {
		select {
		case <-done:
			reading = false
		default:
		}
		b, err := os.ReadFile(path)
		if err != nil || len(b) != 100_000 || bytes.Count(b, b[:1]) != len(b) {
			t.Fatalf("read %d bytes, %v", len(b), err)
		}
	}
	alone(t, dir, "study.yaml")
}
