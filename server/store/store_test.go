package store_test

import (
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"feederwright/server/store"

	"pgregory.net/rapid"
)

func write(t testing.TB, path, text string) {
	t.Helper()
	if err := os.MkdirAll(filepath.Dir(path), 0o777); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, []byte(text), 0o666); err != nil {
		t.Fatal(err)
	}
}

func open(t testing.TB, dir string) *store.Store {
	t.Helper()
	s, err := store.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func text(t testing.TB, s *store.Store, name string) string {
	t.Helper()
	f, err := s.Read(name)
	if err != nil {
		t.Fatal(err)
	}
	return string(f.Text)
}

func save(t testing.TB, s *store.Store, name, to string) {
	t.Helper()
	f, err := s.Read(name)
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Save("set "+name, []store.Write{{Name: name, Base: f.Version, Text: []byte(to)}}); err != nil {
		t.Fatal(err)
	}
}

func TestSaveUndoRedo(t *testing.T) {
	dir := t.TempDir()
	write(t, dir+"/a.yaml", "one\n")
	s := open(t, dir)
	defer s.Close()
	save(t, s, "a.yaml", "two\n")
	save(t, s, "a.yaml", "three\n")
	if u, r := s.Can(); u != "set a.yaml" || r != "" {
		t.Errorf("can undo %q, redo %q", u, r)
	}
	for _, want := range []string{"two\n", "one\n"} {
		if _, err := s.Undo(); err != nil || text(t, s, "a.yaml") != want {
			t.Fatalf("undo: %q, want %q (%v)", text(t, s, "a.yaml"), want, err)
		}
	}
	if _, err := s.Undo(); !errors.Is(err, store.ErrNothing) {
		t.Errorf("undo of nothing: %v", err)
	}
	for _, want := range []string{"two\n", "three\n"} {
		if _, err := s.Redo(); err != nil || text(t, s, "a.yaml") != want {
			t.Fatalf("redo: %q, want %q (%v)", text(t, s, "a.yaml"), want, err)
		}
	}
	list, err := s.Pasts("a.yaml")
	if err != nil || len(list) < 3 {
		t.Fatalf("%d versions, %v", len(list), err)
	}
	if old, err := s.Past("a.yaml", list[len(list)-1].Number); err != nil || string(old) != "one\n" {
		t.Errorf("first version %q, %v", old, err)
	}
	if ignore, _ := os.ReadFile(dir + "/.feederwright/.gitignore"); string(ignore) != "*\n" {
		t.Errorf(".gitignore %q", ignore)
	}
}

func TestConflict(t *testing.T) {
	dir := t.TempDir()
	write(t, dir+"/a.yaml", "one\ntwo\nthree\nfour\n")
	s := open(t, dir)
	defer s.Close()
	f, _ := s.Read("a.yaml")
	if err := s.Seen(f); err != nil {
		t.Fatal(err)
	}
	write(t, dir+"/a.yaml", "one\ntwo\nthree\nFOUR\n") // somebody else
	err := s.Save("mine", []store.Write{{Name: "a.yaml", Base: f.Version, Text: []byte("ONE\ntwo\nthree\nfour\n")}})
	var c *store.ConflictError
	if !errors.As(err, &c) || len(c.Conflicts) != 1 {
		t.Fatalf("%v", err)
	}
	k := c.Conflicts[0]
	if k.Base != "one\ntwo\nthree\nfour\n" || k.Theirs != "one\ntwo\nthree\nFOUR\n" || k.Mine != "ONE\ntwo\nthree\nfour\n" || !k.Clean || k.Merged != "ONE\ntwo\nthree\nFOUR\n" {
		t.Errorf("%+v", k)
	}
	if text(t, s, "a.yaml") != k.Theirs {
		t.Error("a refused write changed the file")
	}
	if err := s.Save("merged", []store.Write{{Name: "a.yaml", Base: k.Version, Text: []byte(k.Merged)}}); err != nil || text(t, s, "a.yaml") != k.Merged {
		t.Errorf("the choice was refused: %v", err)
	}
}

// Undo after somebody else's change keeps that change, or shows both.
func TestUndoKeepsOthers(t *testing.T) {
	dir := t.TempDir()
	write(t, dir+"/a.yaml", "one\ntwo\nthree\nfour\n")
	s := open(t, dir)
	defer s.Close()
	save(t, s, "a.yaml", "ONE\ntwo\nthree\nfour\n")
	write(t, dir+"/a.yaml", "ONE\ntwo\nthree\nFOUR\n")
	if _, err := s.Undo(); err != nil || text(t, s, "a.yaml") != "one\ntwo\nthree\nFOUR\n" {
		t.Fatalf("%q, %v", text(t, s, "a.yaml"), err)
	}
	if _, err := s.Redo(); err != nil || text(t, s, "a.yaml") != "ONE\ntwo\nthree\nFOUR\n" {
		t.Fatalf("redo: %q, %v", text(t, s, "a.yaml"), err)
	}
	write(t, dir+"/a.yaml", "Uno\ntwo\nthree\nFOUR\n")
	var c *store.ConflictError
	if _, err := s.Undo(); !errors.As(err, &c) {
		t.Fatalf("%v", err)
	}
	if text(t, s, "a.yaml") != "Uno\ntwo\nthree\nFOUR\n" {
		t.Error("a refused undo changed the file")
	}
}

func TestTogether(t *testing.T) {
	dir := t.TempDir()
	write(t, dir+"/a.yaml", "a1\n")
	write(t, dir+"/sub/b.yaml", "b1\n")
	s := open(t, dir)
	defer s.Close()
	a, _ := s.Read("a.yaml")
	b, _ := s.Read("sub/b.yaml")
	both := []store.Write{{Name: "a.yaml", Base: a.Version, Text: []byte("a2\n")}, {Name: "sub/b.yaml", Base: b.Version, Text: []byte("b2\n")}}
	if err := s.Save("both", both); err != nil {
		t.Fatal(err)
	}
	if _, err := s.Undo(); err != nil || text(t, s, "a.yaml")+text(t, s, "sub/b.yaml") != "a1\nb1\n" {
		t.Fatalf("%q %q %v", text(t, s, "a.yaml"), text(t, s, "sub/b.yaml"), err)
	}
	// One of them is out of date: none is written.
	write(t, dir+"/sub/b.yaml", "b9\n")
	if err := s.Save("both", both); err == nil || text(t, s, "a.yaml") != "a1\n" {
		t.Errorf("half of it was written: %v", err)
	}
}

func TestNames(t *testing.T) {
	dir := t.TempDir()
	write(t, dir+"/study/a.yaml", "one\n")
	write(t, dir+"/secret", "secret")
	if err := os.Symlink("../secret", dir+"/study/link.yaml"); err != nil {
		t.Fatal(err)
	}
	s := open(t, dir+"/study")
	defer s.Close()
	for _, name := range []string{"../secret", "/etc/passwd", "link.yaml", ".", "", ".feederwright/journal.json", "a/../../secret", `..\secret`} {
		if f, err := s.Read(name); err == nil {
			t.Errorf("read %q: %q", name, f.Text)
		}
		if err := s.Save("x", []store.Write{{Name: name, Base: store.VersionOf([]byte("secret")), Text: []byte("x")}}); err == nil {
			t.Errorf("wrote %q", name)
		}
	}
	if text, _ := os.ReadFile(dir + "/secret"); string(text) != "secret" {
		t.Error("the file outside was changed")
	}
}

func TestKeep(t *testing.T) {
	dir := t.TempDir()
	write(t, dir+"/a.yaml", "0\n")
	s := open(t, dir)
	defer s.Close()
	for i := range store.Keep + 20 {
		save(t, s, "a.yaml", fmt.Sprintf("%d\n", i+1))
	}
	list, err := s.Pasts("a.yaml")
	if err != nil || len(list) != store.Keep {
		t.Fatalf("%d versions, %v", len(list), err)
	}
	if old, err := s.Past("a.yaml", list[0].Number); err != nil || string(old) != fmt.Sprintf("%d\n", store.Keep+20) {
		t.Errorf("newest %q, %v", old, err)
	}
}

// Random edits, undone one by one, give every text again; redone, too.
func TestUndoIsTheWayBack(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		dir, err := os.MkdirTemp("", "store")
		if err != nil {
			r.Fatal(err)
		}
		defer os.RemoveAll(dir)
		names := []string{"a.yaml", "b.yaml"}
		for _, n := range names {
			write(t, filepath.Join(dir, n), "start\n")
		}
		s := open(t, dir)
		defer s.Close()
		state := func() string { return text(t, s, "a.yaml") + "|" + text(t, s, "b.yaml") }
		states := []string{state()}
		for range rapid.IntRange(1, 8).Draw(r, "edits") {
			var ws []store.Write
			for _, n := range names {
				if rapid.Bool().Draw(r, "touch") {
					f, _ := s.Read(n)
					ws = append(ws, store.Write{Name: n, Base: f.Version, Text: []byte(strings.Repeat(rapid.SampledFrom([]string{"x\n", "y\n", ""}).Draw(r, "text"), rapid.IntRange(0, 3).Draw(r, "n")))})
				}
			}
			if err := s.Save("edit", ws); err != nil {
				r.Fatal(err)
			}
			if now := state(); now != states[len(states)-1] {
				states = append(states, now)
			}
		}
		for i := len(states) - 2; i >= 0; i-- {
			if _, err := s.Undo(); err != nil || state() != states[i] {
				r.Fatalf("undo to %q gave %q (%v)", states[i], state(), err)
			}
		}
		for i := 1; i < len(states); i++ {
			if _, err := s.Redo(); err != nil || state() != states[i] {
				r.Fatalf("redo to %q gave %q (%v)", states[i], state(), err)
			}
		}
	})
}

// A merge holds the lines of both where it is clean: each change alone is found again by taking the other away.
func TestMergeLaws(t *testing.T) {
	line := rapid.SampledFrom([]string{"a\n", "b\n", "c\n", "d\n", "e\n"})
	rapid.Check(t, func(r *rapid.T) {
		draw := func(name string) string { return strings.Join(rapid.SliceOfN(line, 0, 12).Draw(r, name), "") }
		base, mine, theirs := draw("base"), draw("mine"), draw("theirs")
		one, ok1 := store.Merge(base, mine, theirs)
		two, ok2 := store.Merge(base, theirs, mine)
		if ok1 != ok2 || one != two {
			r.Fatalf("not the same the other way round: %q %v, %q %v", one, ok1, two, ok2)
		}
		if got, ok := store.Merge(base, mine, base); !ok || got != mine {
			r.Fatalf("one change alone: %q %v", got, ok)
		}
		if got, ok := store.Merge(base, mine, mine); !ok || got != mine {
			r.Fatalf("the same change twice: %q %v", got, ok)
		}
	})
}

// TestKilled: a process that writes without pause is killed; every file holds a whole text, and the two that change
// together agree after the next start.
func TestKilled(t *testing.T) {
	if dir := os.Getenv("FEEDERWRIGHT_STORE_WRITER"); dir != "" {
		s := open(t, dir)
		for i := 0; ; i++ {
			a, _ := s.Read("a.yaml")
			b, _ := s.Read("b.yaml")
			body := strings.Repeat(fmt.Sprintf("%d\n", i), 20_000) + "end\n"
			if err := s.Save("again", []store.Write{{Name: "a.yaml", Base: a.Version, Text: []byte(body)}, {Name: "b.yaml", Base: b.Version, Text: []byte(body)}}); err != nil {
				fmt.Println(err)
				os.Exit(3)
			}
		}
	}
	for round := range 5 {
		dir := t.TempDir()
		write(t, dir+"/a.yaml", "end\n")
		write(t, dir+"/b.yaml", "end\n")
		c := exec.Command(os.Args[0], "-test.run=^TestKilled$")
		c.Env = append(os.Environ(), "FEEDERWRIGHT_STORE_WRITER="+dir)
		if err := c.Start(); err != nil {
			t.Fatal(err)
		}
		deadline := time.Now().Add(20 * time.Second)
		for time.Now().Before(deadline) { // until it writes
			if b, _ := os.ReadFile(dir + "/b.yaml"); len(b) > 10 {
				break
			}
			time.Sleep(time.Millisecond)
		}
		time.Sleep(time.Duration(3+7*round) * time.Millisecond)
		c.Process.Kill()
		c.Wait()
		s := open(t, dir)
		a, b := text(t, s, "a.yaml"), text(t, s, "b.yaml")
		if !strings.HasSuffix(a, "end\n") || !strings.HasSuffix(b, "end\n") {
			t.Errorf("round %d: half a file: %d and %d bytes", round, len(a), len(b))
		}
		if a != b {
			t.Errorf("round %d: the files do not agree", round)
		}
		if len(a) <= 10 {
			t.Errorf("round %d: nothing was written before the kill: the test checks nothing", round)
		}
		s.Close()
	}
}

// Undo goes back over more edits than versions are kept.
func TestLongUndo(t *testing.T) {
	dir := t.TempDir()
	write(t, dir+"/a.yaml", "0\n")
	s := open(t, dir)
	defer s.Close()
	const n = 40 // and as many back and forth again: more than twice what is kept
	for i := 1; i <= n; i++ {
		save(t, s, "a.yaml", fmt.Sprintf("%d\n", i))
	}
	for range 2 {
		for i := n - 1; i >= 0; i-- {
			if _, err := s.Undo(); err != nil || text(t, s, "a.yaml") != fmt.Sprintf("%d\n", i) {
				t.Fatalf("undo to %d: %q, %v", i, text(t, s, "a.yaml"), err)
			}
		}
		for i := 1; i <= n; i++ {
			if _, err := s.Redo(); err != nil || text(t, s, "a.yaml") != fmt.Sprintf("%d\n", i) {
				t.Fatalf("redo to %d: %q, %v", i, text(t, s, "a.yaml"), err)
			}
		}
	}
	if list, _ := s.Pasts("a.yaml"); len(list) != store.Keep {
		t.Errorf("%d versions kept", len(list))
	}
}

// Whatever is saved, undone and redone, and whatever somebody else writes between: each line of theirs stays, until they
// take it away.
func TestOutsideIsNeverLost(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		dir, err := os.MkdirTemp("", "store")
		if err != nil {
			r.Fatal(err)
		}
		defer os.RemoveAll(dir)
		file := filepath.Join(dir, "a.yaml")
		write(t, file, "top\n\n1\n\n2\n\n3\n\nbottom\n")
		s := open(t, dir)
		defer s.Close()
		theirs := 0
		for step := range rapid.IntRange(2, 10).Draw(r, "steps") {
			switch rapid.SampledFrom([]string{"save", "late", "undo", "redo", "outside"}).Draw(r, "do") {
			case "save", "late":
				f, _ := s.Read("a.yaml")
				from := rapid.SampledFrom([]string{"1\n", "2\n", "3\n"}).Draw(r, "line")
				mine := strings.Replace(string(f.Text), from, fmt.Sprintf("mine %d\n", step)+from, 1)
				if rapid.Bool().Draw(r, "late") { // somebody writes after the page has read
					theirs++
					write(t, file, string(f.Text)+fmt.Sprintf("theirs %d\n", theirs))
				}
				err := s.Save("edit", []store.Write{{Name: "a.yaml", Base: f.Version, Text: []byte(mine)}})
				var c *store.ConflictError
				if now, _ := os.ReadFile(file); err == nil && string(now) != mine || err != nil && !errors.As(err, &c) {
					r.Fatalf("%v, %q", err, now)
				}
			case "undo", "redo":
				move := s.Undo
				if rapid.Bool().Draw(r, "redo") {
					move = s.Redo
				}
				var c *store.ConflictError
				if _, err := move(); err != nil && !errors.As(err, &c) && !errors.Is(err, store.ErrNothing) {
					r.Fatal(err)
				}
			case "outside":
				b, _ := os.ReadFile(file)
				theirs++
				write(t, file, string(b)+fmt.Sprintf("theirs %d\n", theirs))
			}
			now, _ := os.ReadFile(file)
			for i := 1; i <= theirs; i++ {
				if !strings.Contains(string(now), fmt.Sprintf("theirs %d\n", i)) {
					r.Fatalf("line %d of theirs is lost: %q", i, now)
				}
			}
		}
	})
}

// A file that was taken away can be written again, and is then a file like any other; so can one that a study asks for and
// that was never there. A folder that isn't there is no place for one, nor is a link out.
func TestAbsent(t *testing.T) {
	dir, other := t.TempDir(), t.TempDir()
	write(t, dir+"/a.yaml", "1\n")
	s := open(t, dir)
	defer s.Close()
	save(t, s, "a.yaml", "2\n")
	if err := os.Remove(dir + "/a.yaml"); err != nil {
		t.Fatal(err)
	}
	var c *store.ConflictError
	if _, err := s.Undo(); !errors.As(err, &c) || c.Conflicts[0].Version != store.Absent || c.Conflicts[0].Mine != "1\n" {
		t.Errorf("undo of a file that is gone: %v", err)
	}
	if err := s.Save("again", []store.Write{{Name: "a.yaml", Base: store.Absent, Text: []byte("3\n")}}); err != nil || text(t, s, "a.yaml") != "3\n" {
		t.Errorf("written again: %v", err)
	}
	if err := s.Save("again", []store.Write{{Name: "a.yaml", Base: store.Absent, Text: []byte("4\n")}}); !errors.As(err, &c) {
		t.Errorf("made while it is there: %v", err)
	}
	if err := os.Symlink(filepath.Join(other, "x.yaml"), dir+"/x.yaml"); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"no/folder.yaml", "x.yaml"} {
		if err := s.Save("made", []store.Write{{Name: name, Base: store.Absent, Text: []byte("1\n")}}); err == nil {
			t.Errorf("%s was made", name)
		}
	}
	if list, _ := os.ReadDir(other); len(list) > 0 {
		t.Error("a link led out")
	}
}

// A journal that another process left is finished before the next write, and what somebody wrote since stays.
func TestJournalOfAnother(t *testing.T) {
	dir := t.TempDir()
	write(t, dir+"/a.yaml", "1\n")
	write(t, dir+"/b.yaml", "1\n")
	s := open(t, dir)
	defer s.Close()
	save(t, s, "a.yaml", "2\n")
	a, _ := s.Read("a.yaml")
	left, err := json.Marshal([]store.Write{{Name: "a.yaml", Base: a.Version, Text: []byte("3\n")}, {Name: "b.yaml", Base: "of an earlier text", Text: []byte("3\n")}})
	if err != nil {
		t.Fatal(err)
	}
	write(t, dir+"/.feederwright/journal.json", string(left))
	var c *store.ConflictError
	if err := s.Save("edit", []store.Write{{Name: "a.yaml", Base: a.Version, Text: []byte("4\n")}}); !errors.As(err, &c) {
		t.Errorf("written over what another process had begun: %v", err)
	}
	if text(t, s, "a.yaml") != "3\n" || text(t, s, "b.yaml") != "1\n" {
		t.Errorf("a %q, b %q", text(t, s, "a.yaml"), text(t, s, "b.yaml"))
	}
	if list, _ := s.Pasts("b.yaml"); len(list) == 0 || !strings.HasPrefix(list[0].What, "not written") {
		t.Errorf("versions of b: %+v", list)
	}
}

// Two servers on one folder: each adds lines, and again where the other was quicker. No line is lost.
func TestTwoServers(t *testing.T) {
	dir := t.TempDir()
	write(t, dir+"/a.yaml", "start\n")
	var wait sync.WaitGroup
	const n = 15
	for _, who := range []string{"x", "y"} {
		s := open(t, dir)
		defer s.Close()
		wait.Go(func() {
			for i := 0; i < n; {
				f, err := s.Read("a.yaml")
				if err != nil {
					t.Error(err)
					return
				}
				err = s.Save("line", []store.Write{{Name: "a.yaml", Base: f.Version, Text: fmt.Appendf(f.Text, "%s%d\n", who, i)}})
				var c *store.ConflictError
				switch {
				case err == nil:
					i++
				case !errors.As(err, &c):
					t.Error(err)
					return
				}
			}
		})
	}
	wait.Wait()
	b, _ := os.ReadFile(dir + "/a.yaml")
	if got := strings.Count(string(b), "\n"); got != 1+2*n {
		t.Errorf("%d lines, want %d", got, 1+2*n)
	}
}
