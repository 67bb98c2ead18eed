package study

import (
	"bytes"
	"fmt"
	"sort"

	"go.yaml.in/yaml/v4"
)

// Editing in place. A change to one value or one entry rewrites the bytes of
// that value or entry and no others: comments, the order of entries, the way
// numbers are written, line ends and a byte order mark stay as they are.
//
// Each change is worked out in three steps. The text is read into a tree
// whose nodes know their bytes (edit_tree.go). The change proposes splices of
// those bytes, and says what tree must come out. The spliced text is read
// again and must give exactly that tree; if it does not, the edit is refused
// and nothing changes. So a mistake in the splicing can cost an edit, but
// never alters a value that the author did not ask to alter.
//
// Nothing here knows about files on disk: bytes in, bytes out.

// An Edit replaces the bytes from Start up to End by New.
type Edit struct {
	Start, End int
	New        []byte
}

// Apply returns text with the edits made; text itself is not changed. The
// edits all refer to the bytes of text, may come in any order, and must not
// overlap. Two insertions at one place are made in the order given.
func Apply(text []byte, edits []Edit) ([]byte, error) {
	sorted := sortEdits(edits)
	var out []byte
	at := 0
	for _, e := range sorted {
		if e.Start < 0 || e.End < e.Start || e.End > len(text) {
			return nil, fmt.Errorf("edit of bytes %d to %d does not fit a text of %d bytes", e.Start, e.End, len(text))
		}
		if e.Start < at {
			return nil, fmt.Errorf("edit of bytes %d to %d overlaps the one before it", e.Start, e.End)
		}
		out = append(out, text[at:e.Start]...)
		out = append(out, e.New...)
		at = e.End
	}
	return append(out, text[at:]...), nil
}

// Inverse returns the edits that, applied to the result of Apply(text,
// edits), give text back byte for byte. It is what undo needs: setting the
// old value again need not bring back the old quotes. The edits must be ones
// that Apply accepts for text.
func Inverse(text []byte, edits []Edit) []Edit {
	var back []Edit
	moved := 0
	for _, e := range sortEdits(edits) {
		start := e.Start + moved
		back = append(back, Edit{
			Start: start,
			End:   start + len(e.New),
			New:   bytes.Clone(text[e.Start:e.End]),
		})
		moved += len(e.New) - (e.End - e.Start)
	}
	return back
}

func sortEdits(edits []Edit) []Edit {
	sorted := append([]Edit(nil), edits...)
	sort.SliceStable(sorted, func(i, j int) bool {
		a, b := sorted[i], sorted[j]
		if a.Start != b.Start {
			return a.Start < b.Start
		}
		// An insertion comes before a replacement that begins at its place.
		return a.End < b.End
	})
	return sorted
}

// A Change is one intended change of a study file: a ScalarChange, a
// Removal, an Insertion or a Renaming.
type Change interface {
	// propose gives ways to make the change, best first.
	propose(t *editTree) ([]proposal, error)
}

// A proposal is one way to make a change: the splices, and the tree that the
// spliced text must read as.
type proposal struct {
	edits []Edit
	want  *yaml.Node
}

// Plan returns the edits that make the change in the text of one file. The
// result of applying them has been read again and differs from the original
// by the intended change and nothing else. No edits and no error means that
// the file already says so. The error is an *EditError.
func Plan(file string, text []byte, c Change) ([]Edit, error) {
	t, err := readEditTree(file, text)
	if err != nil {
		return nil, err
	}
	proposals, err := c.propose(t)
	if err != nil {
		return nil, err
	}
	var last error
	for _, p := range proposals {
		edits := withoutIdle(text, sortEdits(p.edits))
		if len(edits) == 0 && sameTree(p.want, t.root.node) {
			return nil, nil
		}
		result, err := Apply(text, edits)
		if err != nil {
			last = err
			continue
		}
		read, err := readEditTree(file, result)
		if err != nil {
			last = err
			continue
		}
		if !sameTree(p.want, read.root.node) {
			last = fmt.Errorf("the result reads as more, or less, than the intended change")
			continue
		}
		return edits, nil
	}
	return nil, t.fail(t.root, "edit", fmt.Sprintf("the change cannot be made in place: %v", last),
		"an edit is made only if the new text reads as the old one with just that change",
		"make the change by hand in the file")
}

// withoutIdle leaves out the edits that would write what stands there.
func withoutIdle(text []byte, edits []Edit) []Edit {
	var kept []Edit
	for _, e := range edits {
		if e.Start < 0 || e.End < e.Start || e.End > len(text) || !bytes.Equal(text[e.Start:e.End], e.New) {
			kept = append(kept, e)
		}
	}
	return kept
}

// Edited makes the changes one after the other and returns the new text.
// If one of them is refused, none is made: the error is the *EditError of
// the first that was.
func Edited(file string, text []byte, changes ...Change) ([]byte, error) {
	out := bytes.Clone(text)
	for _, c := range changes {
		edits, err := Plan(file, out, c)
		if err != nil {
			return nil, err
		}
		if out, err = Apply(out, edits); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// SetScalar makes a ScalarChange: it writes value at the path, or adds the
// key to the entry where it is absent.
func SetScalar(file string, text []byte, at Path, value string) ([]byte, error) {
	return Edited(file, text, ScalarChange{At: at, Value: value})
}

// Remove makes a Removal: it takes out a key, an entry or a list item.
func Remove(file string, text []byte, at Path) ([]byte, error) {
	return Edited(file, text, Removal{At: at})
}

// Insert makes an Insertion: it adds an entry, given as YAML text, to a
// table or list, after the entry named, or at the end if after is "".
func Insert(file string, text []byte, at Path, entry, after string) ([]byte, error) {
	return Edited(file, text, Insertion{At: at, Entry: entry, After: after})
}

// Rename makes a Renaming in one file: the entry, and every reference to it.
func Rename(file string, text []byte, table Path, from, to string) ([]byte, error) {
	return Edited(file, text, Renaming{Table: table, From: from, To: to})
}

// An EditError says why an edit was refused. Nothing was changed.
type EditError struct {
	Diagnostic
}

// sameTree reports whether the tree got is the tree want. Comments, styles
// and places do not count; values, order and kinds do. A scalar of want
// whose tag is textTag was written by the edit: it must come back with the
// same text, and not as null, a truth value or the like.
func sameTree(want, got *yaml.Node) bool {
	if want.Tag == "!!null" && got.Tag == "!!null" {
		return true // however that is written
	}
	if want.Kind != got.Kind || want.Value != got.Value || len(want.Content) != len(got.Content) {
		return false
	}
	if got.Anchor != "" {
		return false
	}
	if want.Tag == textTag {
		switch got.ShortTag() {
		case "!!str", "!!int", "!!float", "!!timestamp":
		default:
			return false
		}
	} else if want.ShortTag() != got.ShortTag() {
		return false
	}
	for i := range want.Content {
		if !sameTree(want.Content[i], got.Content[i]) {
			return false
		}
	}
	return true
}

// textTag marks a scalar of a wanted tree that may read as text, a number
// or a date, since the document takes the text of all three.
const textTag = "!written"

// substitute returns the tree with some of its nodes replaced. It shares the
// nodes that stay.
func substitute(n *yaml.Node, by map[*yaml.Node]*yaml.Node) *yaml.Node {
	if r, ok := by[n]; ok {
		return r
	}
	if len(n.Content) == 0 {
		return n
	}
	c := *n
	c.Content = make([]*yaml.Node, len(n.Content))
	for i, child := range n.Content {
		c.Content[i] = substitute(child, by)
	}
	return &c
}

// spliced returns a copy of n with count children from i on replaced by in.
func spliced(n *yaml.Node, i, count int, in ...*yaml.Node) *yaml.Node {
	c := *n
	c.Content = nil
	c.Content = append(c.Content, n.Content[:i]...)
	c.Content = append(c.Content, in...)
	c.Content = append(c.Content, n.Content[i+count:]...)
	return &c
}

func writtenNode(value string) *yaml.Node {
	return &yaml.Node{Kind: yaml.ScalarNode, Tag: textTag, Value: value}
}
