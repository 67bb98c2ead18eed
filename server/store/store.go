// Package store keeps the files of one study: the files on disk are the truth. Every write is atomic, names the versions
// it was made from, and is refused where a file has changed since; nothing that anybody wrote is lost. Several files
// change together through a journal. The last versions of every file can be had back, and edits undone and redone.
//
// What it needs to remember lies in the folder .feederwright beside the study, which keeps itself out of version control.
package store

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"

	"feederwright/internal/atomicfile"
)

// Keep is how many versions of each file can be had back.
const Keep = 50

const (
	folder  = ".feederwright"
	journal = "journal.json"
	latch   = "lock"
)

// Absent is the version of a file that isn't there. A write from it makes the file.
const Absent = "absent"

// A File is the text of one file as it is.
type File struct {
	Name    string
	Text    []byte
	Version string // of its text
}

// VersionOf is the version of a text: the beginning of its SHA-256 hash.
func VersionOf(text []byte) string {
	h := sha256.Sum256(text)
	return hex.EncodeToString(h[:8])
}

// Versions of files together have one version.
func Together(files []File) string {
	h := sha256.New()
	for _, f := range files {
		fmt.Fprintf(h, "%s\x00%s\x00", f.Name, f.Version)
	}
	return hex.EncodeToString(h.Sum(nil)[:8])
}

// A Write is a file's new text, made from a version of it.
type Write struct {
	Name string
	Base string
	Text []byte
}

// A Conflict is one file that has changed since the version that a write was made from.
type Conflict struct {
	File   string `json:"file"`
	Base   string `json:"base"`   // text that the write was made from; "" if it is no longer known
	Mine   string `json:"mine"`   // text that was to be written
	Theirs string `json:"theirs"` // text on disk
	// Version is that on disk: a write from it is accepted.
	Version string `json:"version"`
	// Merged holds both changes, where they are in different lines; else "" and Clean is false.
	Merged string `json:"merged,omitempty"`
	Clean  bool   `json:"clean"`
}

// A ConflictError says that nothing was written, and shows both sides.
type ConflictError struct{ Conflicts []Conflict }

func (e *ConflictError) Error() string {
	var names []string
	for _, c := range e.Conflicts {
		names = append(names, c.File)
	}
	return "changed since by somebody else: " + strings.Join(names, ", ")
}

// A step is an edit that can be undone.
type step struct {
	what  string
	files []change
}

// A change of one file. Its texts stay in memory, as the versions on disk make room for newer ones.
type change struct {
	name          string
	before, after []byte
}

// bytes is about what a step takes up: a text is shared with the step before it.
func (s step) bytes() (n int) {
	for _, c := range s.files {
		n += max(len(c.before), len(c.after))
	}
	return n
}

// Bounds of what undo keeps.
const (
	mostSteps     = 1000
	mostStepBytes = 64 << 20
)

// bounded leaves out the oldest steps where there are too many.
func bounded(list []step) []step {
	size := 0
	for i := len(list) - 1; i >= 0; i-- {
		if size += list[i].bytes(); i < len(list)-1 && (size > mostStepBytes || len(list)-i > mostSteps) {
			return slices.Clone(list[i+1:])
		}
	}
	return list
}

// A Past is one version of a file that can be had back.
type Past struct {
	Number  int       `json:"number"`
	Version string    `json:"version"`
	At      time.Time `json:"at"`
	What    string    `json:"what"`
	Bytes   int       `json:"bytes"`
}

// A Store keeps the files of one study. Its methods may be called from several goroutines.
type Store struct {
	dir  string
	root *os.Root
	now  func() time.Time

	mu         sync.Mutex
	undo, redo []step
}

// Open opens the folder of a study, and brings to its end what a process that was killed had begun to write.
func Open(dir string) (*Store, error) {
	root, err := os.OpenRoot(dir)
	if err != nil {
		return nil, err
	}
	s := &Store{dir: dir, root: root, now: time.Now}
	if err := s.recover(); err != nil {
		root.Close()
		return nil, err
	}
	return s, nil
}

// Close gives the folder back.
func (s *Store) Close() error { return s.root.Close() }

// FS is the folder, for reading. Links out of it lead nowhere.
func (s *Store) FS() fs.FS { return s.root.FS() }

// Read reads a file.
func (s *Store) Read(name string) (File, error) {
	if err := proper(name); err != nil {
		return File{}, err
	}
	// A pipe or device would not end.
	switch info, err := s.root.Stat(name); {
	case err != nil:
		return File{}, err
	case !info.Mode().IsRegular():
		return File{}, fmt.Errorf("%s is not a regular file", name)
	}
	text, err := s.root.ReadFile(name)
	if err != nil {
		return File{}, err
	}
	return File{name, text, VersionOf(text)}, nil
}

// look is Read, where a file that isn't there has the version Absent.
func (s *Store) look(name string) (File, error) {
	f, err := s.Read(name)
	if errors.Is(err, fs.ErrNotExist) {
		return File{Name: name, Version: Absent}, nil
	}
	return f, err
}

// proper tells whether a name is that of a file in the folder which may be read and written.
func proper(name string) error {
	if !fs.ValidPath(name) || name == "." || strings.HasPrefix(name, folder) || strings.Contains(name, "\\") {
		return fmt.Errorf("%q is not the name of a file of a study", name)
	}
	return nil
}

// Save writes files, all or none. what says in words what was done, for undo and the list of versions.
//
// A *ConflictError comes back where a file is no longer at the version that its write was made from.
func (s *Store) Save(what string, writes []Write) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	done, err := s.save(what, writes)
	if err != nil || len(done.files) == 0 {
		return err
	}
	s.undo, s.redo = bounded(append(s.undo, done)), nil
	return nil
}

// save gives what can be undone: a file that it makes isn't taken away again.
func (s *Store) save(what string, writes []Write) (step, error) {
	done := step{what: what}
	unlock, err := s.lock()
	if err != nil {
		return done, err
	}
	defer unlock()
	if err := s.finish(); err != nil {
		return done, err
	}
	old := make([]File, len(writes))
	compare := func() error {
		var conflicts []Conflict
		for i, w := range writes {
			f, err := s.look(w.Name)
			if err != nil {
				return err
			}
			if f.Version != w.Base {
				conflicts = append(conflicts, s.conflict(w, f))
			}
			old[i] = f
		}
		if len(conflicts) > 0 {
			return &ConflictError{conflicts}
		}
		return nil
	}
	for i, w := range writes {
		if slices.ContainsFunc(writes[:i], func(x Write) bool { return x.Name == w.Name }) {
			return done, fmt.Errorf("%s is written twice", w.Name)
		}
	}
	if err := compare(); err != nil {
		return done, err
	}
	var changed []Write
	for i, w := range writes {
		if VersionOf(w.Text) == old[i].Version {
			continue
		}
		if old[i].Version != Absent {
			// The version before is kept too: it may be somebody else's, whom this store never saw write.
			if err := s.remember(old[i].Name, old[i].Text, "as found"); err != nil {
				return done, err
			}
			done.files = append(done.files, change{w.Name, old[i].Text, w.Text})
		}
		if err := s.remember(w.Name, w.Text, what); err != nil {
			return done, err
		}
		changed = append(changed, w)
	}
	// Keeping the versions took a while, in which an editor may have saved.
	if err := compare(); err != nil {
		return done, err
	}
	return done, s.write(changed)
}

// write puts texts in place: one file by itself, several through the journal.
func (s *Store) write(writes []Write) error {
	if len(writes) > 1 {
		text, err := json.Marshal(writes)
		if err != nil {
			return err
		}
		if err := s.keep(journal, text); err != nil {
			return err
		}
	}
	for _, w := range writes {
		if err := s.put(w.Name, w.Text); err != nil {
			return err
		}
	}
	if len(writes) > 1 {
		return s.root.Remove(folder + "/" + journal)
	}
	return nil
}

// put replaces a file of the study whole. The path is opened below the root first, so that no link leads out of it.
func (s *Store) put(name string, text []byte) error {
	if _, err := s.root.Stat(name); errors.Is(err, fs.ErrNotExist) {
		if info, err := s.root.Stat(path.Dir(name)); err != nil || !info.IsDir() {
			return fmt.Errorf("%s: its folder is not there", name)
		}
		if _, err := s.root.Lstat(name); err == nil {
			return fmt.Errorf("%s is a link to a file that is not there", name)
		}
	} else if err != nil {
		return err
	}
	return atomicfile.Write(filepath.Join(s.dir, filepath.FromSlash(name)), text)
}

// own makes a folder of the store's own, and keeps it out of version control.
func (s *Store) own(dir string) error {
	// No link that stands for the folder may lead elsewhere.
	if info, err := s.root.Lstat(folder); err == nil && !info.IsDir() {
		return fmt.Errorf("%s is not a folder: what is kept for undo and earlier versions has no place", folder)
	}
	if err := s.root.MkdirAll(path.Join(folder, dir), 0o777); err != nil {
		return err
	}
	if _, err := s.root.Lstat(folder + "/.gitignore"); errors.Is(err, fs.ErrNotExist) {
		return atomicfile.Write(filepath.Join(s.dir, folder, ".gitignore"), []byte("*\n"))
	}
	return nil
}

// keep writes a file of the store's own.
func (s *Store) keep(name string, text []byte) error {
	if err := s.own(path.Dir(name)); err != nil {
		return err
	}
	return atomicfile.Write(filepath.Join(s.dir, folder, filepath.FromSlash(name)), text)
}

// lock holds other processes off that save in this folder, until unlock. Editors know nothing of it: for them files are
// compared before they are written.
func (s *Store) lock() (unlock func(), err error) {
	if err := s.own("."); err != nil {
		return nil, err
	}
	f, err := s.root.OpenFile(folder+"/"+latch, os.O_CREATE|os.O_RDWR, 0o666)
	if err != nil {
		return nil, err
	}
	if err := exclude(f); err != nil {
		f.Close()
		return nil, fmt.Errorf("hold %s/%s: %w", folder, latch, err)
	}
	return func() { f.Close() }, nil // which gives it back
}

// recover finishes what another process had begun.
func (s *Store) recover() error {
	if _, err := s.root.Lstat(folder + "/" + journal); errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	unlock, err := s.lock() // if that process lives, it takes the journal away first
	if err != nil {
		return err
	}
	defer unlock()
	return s.finish()
}

// finish brings a write of several files to its end: the journal is whole or not there. The caller holds the lock.
func (s *Store) finish() error {
	text, err := s.root.ReadFile(folder + "/" + journal)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return err
	}
	var writes []Write
	if err := json.Unmarshal(text, &writes); err != nil {
		return fmt.Errorf("the journal %s/%s is damaged (%w): take it away to go on with the files as they are", folder, journal, err)
	}
	for _, w := range writes {
		f, err := s.look(w.Name)
		if err != nil {
			return err
		}
		switch f.Version {
		case VersionOf(w.Text): // written before the end
		case w.Base:
			if err := s.put(w.Name, w.Text); err != nil {
				return err
			}
		default: // somebody wrote it since: theirs stays, and ours is among the versions
			if err := s.remember(w.Name, w.Text, "not written: the file had changed"); err != nil {
				return err
			}
		}
	}
	return s.root.Remove(folder + "/" + journal)
}

// pastDir is the folder of a file's versions.
func pastDir(name string) string {
	return "versions/" + strings.NewReplacer("%", "%25", "/", "%2F").Replace(name)
}

// pastName is that of one version.
type pastFile struct {
	Past
	name string
}

// pasts lists the versions of a file, oldest first.
func (s *Store) pasts(name string) ([]pastFile, error) {
	entries, err := fs.ReadDir(s.root.FS(), folder+"/"+pastDir(name))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	var list []pastFile
	for _, e := range entries {
		var p pastFile
		var milli int64
		head, what, ok := strings.Cut(strings.TrimSuffix(e.Name(), ".yaml"), " ")
		if n, err := fmt.Sscanf(strings.ReplaceAll(head, "-", " "), "%d %d %s", &p.Number, &milli, &p.Version); !ok || n != 3 || err != nil {
			continue
		}
		info, err := e.Info()
		if err != nil {
			continue
		}
		p.name, p.What, p.At, p.Bytes = e.Name(), what, time.UnixMilli(milli), int(info.Size())
		list = append(list, p)
	}
	slices.SortFunc(list, func(a, b pastFile) int { return a.Number - b.Number })
	return list, nil
}

// remember keeps a version of a file, unless it is the last one kept.
func (s *Store) remember(name string, text []byte, what string) error {
	list, err := s.pasts(name)
	if err != nil {
		return err
	}
	v := VersionOf(text)
	number := 1
	if n := len(list); n > 0 {
		if list[n-1].Version == v {
			return nil
		}
		number = list[n-1].Number + 1
	}
	what = strings.Map(func(r rune) rune {
		if r < ' ' || strings.ContainsRune(`/\:*?"<>|%`, r) {
			return '_'
		}
		return r
	}, what)
	if r := []rune(what); len(r) > 60 {
		what = string(r[:60])
	}
	file := fmt.Sprintf("%08d-%d-%s %s.yaml", number, s.now().UnixMilli(), v, what)
	if err := s.keep(pastDir(name)+"/"+file, text); err != nil {
		return err
	}
	for len(list)+1 > Keep {
		if err := s.root.Remove(folder + "/" + pastDir(name) + "/" + list[0].name); err != nil {
			return err
		}
		list = list[1:]
	}
	return nil
}

// Pasts lists the versions of a file that can be had back, newest first.
func (s *Store) Pasts(name string) ([]Past, error) {
	if err := proper(name); err != nil {
		return nil, err
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	list, err := s.pasts(name)
	if err != nil {
		return nil, err
	}
	result := []Past{}
	for _, p := range slices.Backward(list) {
		result = append(result, p.Past)
	}
	return result, nil
}

// Past is the text of one version, by its number.
func (s *Store) Past(name string, number int) ([]byte, error) {
	if err := proper(name); err != nil {
		return nil, err
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	list, err := s.pasts(name)
	if err != nil {
		return nil, err
	}
	for _, p := range list {
		if p.Number == number {
			return s.root.ReadFile(folder + "/" + pastDir(name) + "/" + p.name)
		}
	}
	return nil, fmt.Errorf("%s has no version %d: %w", name, number, fs.ErrNotExist)
}

// text is that of a version of a file, if it is known.
func (s *Store) text(name, version string) ([]byte, bool) {
	list, _ := s.pasts(name)
	for _, p := range slices.Backward(list) {
		if p.Version == version {
			if text, err := s.root.ReadFile(folder + "/" + pastDir(name) + "/" + p.name); err == nil {
				return text, true
			}
		}
	}
	return nil, false
}

// Seen keeps a version of a file that the store didn't write itself, so that a write made from it can be compared.
func (s *Store) Seen(f File) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	unlock, err := s.lock()
	if err != nil {
		return err
	}
	defer unlock()
	return s.remember(f.Name, f.Text, "as found")
}

func (s *Store) conflict(w Write, disk File) Conflict {
	if base, ok := s.text(w.Name, w.Base); ok {
		return compared(w, base, disk)
	}
	return Conflict{File: w.Name, Mine: string(w.Text), Theirs: string(disk.Text), Version: disk.Version}
}

// compared puts a write and what stands on disk beside the text that they come from. A file that was taken away has no
// lines that could be kept.
func compared(w Write, base []byte, disk File) Conflict {
	c := Conflict{File: w.Name, Base: string(base), Mine: string(w.Text), Theirs: string(disk.Text), Version: disk.Version}
	if disk.Version != Absent {
		if merged, clean := Merge(c.Base, c.Mine, c.Theirs); clean {
			c.Merged, c.Clean = merged, true
		}
	}
	return c
}

// Can tells what undo and redo would do, in words; "" is nothing.
func (s *Store) Can() (undo, redo string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if n := len(s.undo); n > 0 {
		undo = s.undo[n-1].what
	}
	if n := len(s.redo); n > 0 {
		redo = s.redo[n-1].what
	}
	return undo, redo
}

// ErrNothing means that there is nothing to undo or redo.
var ErrNothing = errors.New("there is nothing to undo or redo")

// Undo takes the last edit back. Where a file was changed by somebody else since, their change stays: both are merged if they
// are in different lines, and a *ConflictError shows both if not.
func (s *Store) Undo() (what string, err error) { return s.move(&s.undo, &s.redo, "undo: ", true) }

// Redo makes the last edit again that was undone.
func (s *Store) Redo() (what string, err error) { return s.move(&s.redo, &s.undo, "redo: ", false) }

func (s *Store) move(from, to *[]step, word string, back bool) (string, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	n := len(*from)
	if n == 0 {
		return "", ErrNothing
	}
	last := (*from)[n-1]
	var writes []Write
	var conflicts []Conflict
	for _, c := range last.files {
		at, goal := c.before, c.after
		if back {
			at, goal = goal, at
		}
		f, err := s.look(c.name)
		if err != nil {
			return "", err
		}
		w := Write{c.name, f.Version, goal}
		if f.Version != VersionOf(at) {
			k := compared(Write{c.name, VersionOf(at), goal}, at, f)
			if !k.Clean {
				conflicts = append(conflicts, k)
				continue
			}
			w.Text = []byte(k.Merged)
		}
		writes = append(writes, w)
	}
	if len(conflicts) > 0 {
		return last.what, &ConflictError{conflicts}
	}
	done, err := s.save(word+last.what, writes)
	if err != nil {
		return last.what, err
	}
	// What was done to the files as they are now is what the way back undoes.
	kept := step{what: last.what}
	for _, c := range done.files {
		if back {
			c.before, c.after = c.after, c.before
		}
		kept.files = append(kept.files, c)
	}
	*from = (*from)[:n-1]
	*to = append(*to, kept)
	return last.what, nil
}
