package study

import (
	"fmt"
	"reflect"
	"slices"
	"strings"

	"go.yaml.in/yaml/v4"
)

// A Renaming gives an entry of a table another name, and changes every
// reference to it. Each of these texts rewrites its own bytes only; columns
// that were lined up may shift by the difference in length.
//
// It is refused where it would make a reference ambiguous: where the new
// name is taken in the table or in one that shares its names, or where a
// reference could then mean an entry of another kind.
type Renaming struct {
	Table Path // {"buses"}, or for a state {"axes", "the axis"}
	From  string
	To    string
}

func (c Renaming) propose(t *editTree) ([]proposal, error) {
	if err := c.check([]*editTree{t}); err != nil {
		return nil, err
	}
	return renamingUnchecked{c}.propose(t)
}

// RenameAll makes a Renaming in all files of a study, since an entry and the
// references to it may stand in different ones. It returns the new files, or
// the first *EditError and nothing.
func RenameAll(files []SourceFile, c Renaming) ([]SourceFile, error) {
	var trees []*editTree
	for _, f := range files {
		t, err := readEditTree(f.Name, f.Text)
		if err != nil {
			return nil, err
		}
		trees = append(trees, t)
	}
	if err := c.check(trees); err != nil {
		return nil, err
	}
	out := make([]SourceFile, len(files))
	for i, f := range files {
		text, err := Edited(f.Name, f.Text, renamingUnchecked{c})
		if err != nil {
			return nil, err
		}
		out[i] = SourceFile{Name: f.Name, Text: text}
	}
	return out, nil
}

// renamingUnchecked is a Renaming whose effect on the whole study is known
// to be unambiguous.
type renamingUnchecked struct{ Renaming }

func (c renamingUnchecked) propose(t *editTree) ([]proposal, error) {
	var nodes []*editNode
	if it, ok := t.entry(c.Table, c.From); ok {
		nodes = append(nodes, it.key)
	}
	kind := c.kind(t)
	for _, m := range t.mentions() {
		if m.at.node.Value == c.From && slices.Contains(m.kinds, kind) {
			nodes = append(nodes, m.at)
		}
	}
	by := make(map[*yaml.Node]*yaml.Node, len(nodes))
	var first, quoted []Edit
	for _, n := range nodes {
		by[n.node] = writtenNode(c.To)
		forms := inlineForms(c.To, n.node.Style, n.inFlow)
		double := forms[len(forms)-1]
		if n.isBlockScalar() {
			ways := t.blockScalarEdits(n, c.To)
			first, quoted = append(first, ways[0]...), append(quoted, ways[len(ways)-1]...)
			continue
		}
		first = append(first, Edit{n.start, n.end, []byte(forms[0])})
		quoted = append(quoted, Edit{n.start, n.end, []byte(double)})
	}
	want := substitute(t.root.node, by)
	return []proposal{{first, want}, {quoted, want}}, nil
}

func (c Renaming) object() string { return c.Table.with(c.From).String() }

// kind returns the kind of the entries of the table, "" where the format
// does not have that table.
func (c Renaming) kind(t *editTree) string {
	f := t.tableField(c.Table)
	switch {
	case f == nil:
		return ""
	case len(c.Table) == 2:
		return stateKind(c.Table[1])
	}
	return f.kinds[0]
}

// tableField returns the field of the document that holds the table.
func (t *editTree) tableField(table Path) *field {
	if len(table) == 0 || !t.isTable(table) {
		return nil
	}
	p := t.plans.of(reflect.TypeFor[Document]())
	return &p.fields[p.byKey[table[0]]]
}

// entry finds the entry of a table.
func (t *editTree) entry(table Path, name string) (editItem, bool) {
	n, rest, err := t.find(table)
	if err != nil || len(rest) > 0 || !n.isMapping() {
		return editItem{}, false
	}
	if i := n.item(name); i >= 0 {
		return n.items[i], true
	}
	return editItem{}, false
}

func (c Renaming) check(trees []*editTree) error {
	if len(trees) == 0 {
		return fmt.Errorf("rename %s: there are no files", c.object())
	}
	t := trees[0]
	f := t.tableField(c.Table)
	if f == nil {
		return t.failAt(t.lines[0], c.object(), fmt.Sprintf("the format has no table %q", c.Table), "entries of tables can be renamed", "")
	}
	if c.To == "" || c.To != strings.TrimSpace(c.To) || !allPrintable(c.To) {
		return t.failAt(t.lines[0], c.object(), fmt.Sprintf("%q cannot be a name", c.To),
			"a name is printable text without blanks at its ends", "")
	}
	var found *editTree
	for _, t := range trees {
		n, rest, err := t.find(c.Table.with(c.From))
		if err != nil {
			return err // it stands twice
		}
		if len(rest) == 0 {
			if found != nil {
				return t.fail(n, c.object(), fmt.Sprintf("%s has it too", found.name), "a name means one thing", "remove one of the two first")
			}
			found = t
		}
	}
	if found == nil {
		n, rest, err := t.find(c.Table.with(c.From))
		if err != nil {
			return err
		}
		return t.notThere(c.Table.with(c.From), n, rest)
	}
	if c.From == c.To {
		return nil
	}
	return c.checkClashes(trees, f)
}

// checkClashes refuses a new name that is taken, or that a reference could
// mean something else by.
func (c Renaming) checkClashes(trees []*editTree, own *field) error {
	kind := c.kind(trees[0])
	doc := trees[0].plans.of(reflect.TypeFor[Document]())
	// where returns an entry of that name and kind.
	where := func(kind, name string) (*editTree, *editNode) {
		for i := range doc.fields {
			if f := &doc.fields[i]; f.role == tableRole && f.kinds[0] == kind {
				for _, t := range trees {
					if it, ok := t.entry(Path{f.key}, name); ok {
						return t, it.key
					}
				}
			}
		}
		return nil, nil
	}
	for _, t := range trees {
		if it, ok := t.entry(c.Table, c.To); ok {
			return t.fail(it.key, c.object(), fmt.Sprintf("there is a %q already", c.To), "a name means one thing", "choose another name")
		}
	}
	if len(c.Table) > 1 {
		return nil
	}
	for i := range doc.fields {
		f := &doc.fields[i]
		if f.role != tableRole || own.space == "" || f.space != own.space {
			continue
		}
		if t, n := where(f.kinds[0], c.To); n != nil {
			return t.fail(n, c.object(), fmt.Sprintf("there is a %s %q", f.kinds[0], c.To), whyShared[own.space], "choose another name")
		}
	}
	for _, t := range trees {
		for _, m := range t.mentions() {
			name := m.at.node.Value
			if !slices.Contains(m.kinds, kind) || name != c.From && name != c.To {
				continue
			}
			for _, other := range m.kinds {
				if _, n := where(other, name); other != kind && n != nil && name == c.From {
					return t.fail(m.at, c.object(), fmt.Sprintf("this reference may mean the %s %q as well", other, name),
						"it cannot be told whether the reference must change", "rename the other first")
				}
				if _, n := where(other, c.To); other != kind && n != nil {
					return t.fail(m.at, c.object(), fmt.Sprintf("this reference would then mean the %s %q as well", other, c.To),
						"it must be plain which of them is meant", "choose another name")
				}
			}
		}
	}
	return nil
}
