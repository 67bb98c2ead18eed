package study

import (
	"bytes"
	"fmt"
	"io/fs"
	"reflect"
	"strings"

	"go.yaml.in/yaml/v4"
)

// A Put is one value to be put into a study: in place of the one that is
// there, or where none is, with the groups of keys above it. Text is YAML: one
// value, a list in brackets, or an entry in braces.
type Put struct {
	At   Path
	Text string
}

// With returns the study that results when some values are put into its files,
// in memory: the files are edited and read anew, so that the result is what
// the program would make of a file that says so. The diagnostics are those of
// reading and validating it; the error is an *EditError.
func (doc *Document) With(puts ...Put) (*Document, Diagnostics, error) {
	files := make(Memory, len(doc.Files))
	for _, f := range doc.Files {
		files[f.Name] = f.Text
	}
	for _, p := range puts {
		file := doc.FileOf(p.At)
		edits, err := Plan(file, files[file], putting(p))
		if err != nil {
			return nil, nil, err
		}
		text, err := Apply(files[file], edits)
		if err != nil {
			return nil, nil, fmt.Errorf("put %s at %s: %w", p.Text, p.At, err)
		}
		files[file] = text
	}
	out, ds := Read(files, doc.File)
	return out, append(ds, out.Validate()...), nil
}

// FileOf is the file of the study that a path leads into: the one that the
// entry it names stands in, or the main file.
func (doc *Document) FileOf(at Path) string {
	if len(at) >= 2 {
		p := make(plans).of(reflect.TypeFor[Document]())
		if i, ok := p.byKey[at[0]]; ok && p.fields[i].role == tableRole {
			t := reflect.ValueOf(doc).Elem().FieldByIndex(p.fields[i].index).Addr().Interface().(anyTable)
			for k := range t.size() {
				if e := t.entry(k); e.name == at[1] {
					return e.nameAt.File
				}
			}
		}
	}
	return doc.File
}

// PlaceOf is where a path leads to, or where the deepest part of it stands that is there.
func (doc *Document) PlaceOf(at Path) Mark {
	file := doc.FileOf(at)
	for _, f := range doc.Files {
		if f.Name != file {
			continue
		}
		t, err := readEditTree(f.Name, f.Text)
		if err != nil {
			break
		}
		n, _, err := t.find(at)
		if err != nil || n == t.root {
			break
		}
		if i := n.index(); n.parent.isMapping() && !n.isScalar() { // of a group, its name
			n = n.parent.items[i].key
		}
		return t.mark(n.start, n.end)
	}
	return Mark{File: file, Line: 1, Col: 1}
}

// Words are the words that the format allows for the value at a path, or nil
// where it is no word.
func Words(at Path) []string {
	if len(at) == 0 {
		return nil
	}
	p := make(plans)
	t := p.formatType(at[:len(at)-1])
	if t == nil || isTableType(t) {
		return nil
	}
	pl := p.of(t)
	i, ok := pl.byKey[at[len(at)-1]]
	if !ok {
		return nil
	}
	return pl.fields[i].oneOf
}

// Describe says what a path leads to, in the words of messages: infeed "grid",
// minimum, z2.
func Describe(at Path) string {
	p := make(plans).of(reflect.TypeFor[Document]())
	if len(at) >= 2 {
		if i, ok := p.byKey[at[0]]; ok && p.fields[i].role == tableRole {
			return object(p.fields[i].kinds[0], at[1], at[2:]...)
		}
	}
	return strings.Join(at, ", ")
}

// A putting is a Put as a change of a file.
type putting Put

func (c putting) propose(t *editTree) ([]proposal, error) {
	value, err := Insertion{At: c.At, Entry: c.Text}.parse(t)
	if err != nil {
		return nil, err
	}
	n, rest, err := t.find(c.At)
	if err != nil {
		return nil, err
	}
	if len(rest) > 0 {
		return Insertion{At: c.At, Entry: c.Text}.propose(t)
	}
	if n.isLongForm() {
		n = n.items[n.item(longFormValue)].value
	}
	if value.Kind == yaml.ScalarNode {
		return ScalarChange{At: c.At, Value: value.Value}.replace(t, n)
	}
	styled := *value
	styled.Style |= yaml.FlowStyle
	want := substitute(t.root.node, map[*yaml.Node]*yaml.Node{n.node: &styled})
	return []proposal{{[]Edit{{n.start, n.end, []byte(t.flowText(&styled))}}, want}}, nil
}

// A Memory is a file system of files held in memory, by path.
type Memory map[string][]byte

func (m Memory) Open(name string) (fs.File, error) {
	text, ok := m[name]
	if !ok {
		return nil, &fs.PathError{Op: "open", Path: name, Err: fs.ErrNotExist}
	}
	return &memoryFile{bytes.NewReader(text), fileInfo{name: name, size: len(text)}}, nil
}

type memoryFile struct {
	*bytes.Reader
	info fileInfo
}

func (f *memoryFile) Stat() (fs.FileInfo, error) { return f.info, nil }
func (f *memoryFile) Close() error               { return nil }

// A fileInfo has what a reader asks for; a file in memory has no time.
type fileInfo struct {
	fs.FileInfo
	name string
	size int
}

func (f fileInfo) Name() string      { return f.name }
func (f fileInfo) Size() int64       { return int64(f.size) }
func (f fileInfo) Mode() fs.FileMode { return 0o444 }
func (f fileInfo) IsDir() bool       { return false }
