package study

import (
	"fmt"
	"strings"
	"unicode/utf8"

	"feederwright/quantity"

	"go.yaml.in/yaml/v4"
)

// A ScalarChange writes one value.
//
// Where the path leads to a scalar, its text is replaced; the quotes or the
// block form it had are kept if they can hold the new value. Where it leads
// to a value in its long form ({ value: 9.2 kA, source: letter }), the inner
// value is replaced. Where only the last key is absent, it is added to the
// entry, in the order in which the format lists its keys; and if that key
// says where a bare value came from (source, date, known, note), the value
// is put in its long form.
//
// Value is the text as a reader of the file gets it, without quotes.
type ScalarChange struct {
	At    Path
	Value string
}

func (c ScalarChange) propose(t *editTree) ([]proposal, error) {
	if !utf8.ValidString(c.Value) {
		return nil, t.fail(t.root, c.At.String(), "the new value is not valid UTF-8", "study files are UTF-8", "")
	}
	n, rest, err := t.find(c.At)
	if err != nil {
		return nil, err
	}
	if len(rest) == 0 && n.isLongForm() {
		n = n.items[n.item(longFormValue)].value
	}
	switch {
	case len(rest) == 0:
		return c.replace(t, n)
	case len(rest) > 1:
		return nil, t.notThere(c.At, n, rest)
	}
	key := rest[0]
	if t.isTable(c.At[:len(c.At)-1]) {
		return nil, t.fail(n, c.At.String(), fmt.Sprintf("%s has no %q, and one value does not make one", c.At[:len(c.At)-1], key),
			"an entry of a table is a group of keys", "insert the entry with its keys")
	}
	switch {
	case n.isMapping() && len(n.items) > 0:
		return t.insertItem(n, t.placeFor(n, c.At[:len(c.At)-1], key), key, writtenNode(c.Value)), nil
	case n.isMapping(), n.isNull() && n.parent.isMapping():
		return t.insertFirst(n, c.At[:len(c.At)-1], key, writtenNode(c.Value)), nil
	case n.isScalar() && isLongFormKey(key) && key != longFormValue:
		return c.lengthen(t, n, key)
	}
	return nil, t.notThere(c.At, n, rest)
}

func (c ScalarChange) replace(t *editTree, n *editNode) ([]proposal, error) {
	if !n.isScalar() {
		what := "a group of keys"
		if n.isList() {
			what = "a list"
		}
		return nil, t.fail(n, c.At.String(), "this is "+what+", not a single value", "only a single value can be set",
			"give the path of a value inside it")
	}
	if n.node.Value == c.Value {
		return []proposal{{nil, t.root.node}}, nil
	}
	want := substitute(t.root.node, map[*yaml.Node]*yaml.Node{n.node: writtenNode(c.Value)})
	var ps []proposal
	for _, edits := range t.scalarEdits(n, c.Value) {
		ps = append(ps, proposal{edits, want})
	}
	return ps, nil
}

// lengthen writes the value n in its long form, with one more key.
func (c ScalarChange) lengthen(t *editTree, n *editNode, key string) ([]proposal, error) {
	if n.empty || n.isNull() {
		return nil, t.fail(n, c.At.String(), fmt.Sprintf("there is no value that this %s could belong to", key), "", "set the value first")
	}
	open, sep, end := "{ "+longFormValue+": ", ", "+key+": ", " }"
	text := inline(c.Value, 0, true)
	long := &yaml.Node{Kind: yaml.MappingNode, Tag: "!!map", Content: []*yaml.Node{
		writtenNode(longFormValue), writtenNode(n.node.Value), writtenNode(key), writtenNode(c.Value),
	}}
	want := substitute(t.root.node, map[*yaml.Node]*yaml.Node{n.node: long})
	var ps []proposal
	if !n.isBlockScalar() && !strings.ContainsAny(t.text[n.start:n.end], "\r\n") {
		ps = append(ps, proposal{[]Edit{
			{n.start, n.start, []byte(open)},
			{n.end, n.end, []byte(sep + text + end)},
		}, want})
	}
	old := inline(n.node.Value, n.node.Style, true)
	edits := []Edit{{n.start, n.end, []byte(open + old + sep + text + end)}}
	if n.isBlockScalar() {
		edits = []Edit{{n.start, n.headEnd, edits[0].New}, {n.headLine, n.end, nil}}
	}
	return append(ps, proposal{edits, want}), nil
}

// notThere says which key of the path is missing, and what is there.
func (t *editTree) notThere(at Path, n *editNode, rest Path) error {
	found := at[:len(at)-len(rest)]
	where := "the file"
	if len(found) > 0 {
		where = found.String()
	}
	problem := fmt.Sprintf("%s has no %q", where, rest[0])
	fix := ""
	switch {
	case n.isList():
		problem = fmt.Sprintf("%s is a list of %d; there is no %q in it", where, len(n.items), rest[0])
		fix = "count its items from #0"
	case n.isScalar():
		problem = fmt.Sprintf("%s is a single value; there is no %q in it", where, rest[0])
	default:
		var names []string
		for _, it := range n.items {
			if it.key.isScalar() {
				names = append(names, it.key.node.Value)
			}
		}
		if near, ok := quantity.Nearest(rest[0], names); ok {
			fix = fmt.Sprintf("did you mean %q?", near)
		}
	}
	return t.fail(n, at.String(), problem, "", fix)
}
