package study

import (
	"fmt"
	"sort"
	"strings"

	"go.yaml.in/yaml/v4"
)

// An editTree is the text of one file together with the YAML nodes in it,
// each with all the bytes that are its own. It knows more of the text than
// the reader's tree: dashes, colons, commas and the lines of block scalars,
// which must go or come with a value.
type editTree struct {
	*source
	eol   string    // the line end of this file
	root  *editNode // its root mapping
	plans plans
}

// An editNode is a YAML node and its bytes.
//
// A plain or quoted scalar, or a flow collection, is text[start:end]. A block
// scalar runs from its indicator to the end of its last line of content,
// without that line's end. A block collection runs from its first key or
// dash to the end of its last value. An absent value ("key:") is empty and
// lies right behind the colon or dash.
type editNode struct {
	node   *yaml.Node
	parent *editNode
	start  int
	end    int
	empty  bool // no text at all: an absent value

	inFlow bool // inside a flow collection
	indent int  // column, from 0, of the block collection it stands in; -1 for the root

	// For collections:
	flow  bool
	bare  bool // a pair in a flow list without its braces: [a: b]
	items []editItem
	// column of the keys or dashes of a block collection, from 0
	column int

	// For block scalars:
	headEnd    int // end of the indicator, as |2-
	headLine   int // end of the indicator's line, without its line end
	content    int // start of the first line of content; -1 if there is none
	textColumn int // column of the content, from 0
}

// An editItem is an entry of a mapping or an item of a list.
type editItem struct {
	key   *editNode // nil in a list
	value *editNode
	start int // first byte: of the key, of the item of a flow list, or the dash
	colon int // offset behind the colon; -1 in a list, or where a flow key has none
	comma int // offset of the comma behind the item in a flow collection, or -1
}

func (it editItem) end() int { return it.value.end }

func (n *editNode) isMapping() bool { return n.node.Kind == yaml.MappingNode }
func (n *editNode) isList() bool    { return n.node.Kind == yaml.SequenceNode }
func (n *editNode) isScalar() bool  { return n.node.Kind == yaml.ScalarNode }

// isNull reports an absent value, "null" or "~".
func (n *editNode) isNull() bool { return n.isScalar() && n.node.ShortTag() == "!!null" }

func (n *editNode) isBlockScalar() bool {
	return n.isScalar() && n.node.Style&(yaml.LiteralStyle|yaml.FoldedStyle) != 0
}

// item returns the index of the entry of that name, or -1.
func (n *editNode) item(name string) int {
	for i, it := range n.items {
		if it.key != nil && it.key.isScalar() && it.key.node.Value == name {
			return i
		}
	}
	return -1
}

// isLongForm reports a value with its origin: { value: 9.2 kA, source: … }.
func (n *editNode) isLongForm() bool {
	if !n.isMapping() || n.item(longFormValue) < 0 {
		return false
	}
	for _, it := range n.items {
		if !it.key.isScalar() || !isLongFormKey(it.key.node.Value) {
			return false
		}
	}
	return true
}

const longFormValue = "value"

var longFormKeys = []string{longFormValue, "source", "date", "known", "between", "note"}

func isLongFormKey(key string) bool {
	for _, k := range longFormKeys {
		if k == key {
			return true
		}
	}
	return false
}

func readEditTree(file string, text []byte) (*editTree, error) {
	t := &editTree{source: newSource(file, text), eol: "\n", plans: make(plans)}
	if n := breakLength(t.text[t.lineEndOf(t.lines[0]):]); n > 0 {
		t.eol = t.text[t.lineEndOf(t.lines[0]):][:n]
	}
	root, d := readOne(t.source)
	if d != nil {
		return nil, t.refusal(*d)
	}
	if root == nil || root.Kind != yaml.MappingNode {
		return nil, t.failAt(t.lines[0], "the file", "has no keys and values to edit",
			"a study file begins with keys such as feederwright and study", "")
	}
	if err := t.checkMerges(root); err != nil {
		return nil, err
	}
	var err error
	t.root, err = t.build(root, nil, t.offset(root.Line, root.Column), -1, false)
	if err != nil {
		return nil, err
	}
	return t, nil
}

// readOne returns the root of the one document that the text must be, or the
// first thing wrong with it. The root is nil if the text holds nothing.
func readOne(s *source) (*yaml.Node, *Diagnostic) {
	text, ds := s.scan()
	if len(ds) > 0 {
		return nil, &ds[0]
	}
	root, second, err := load(text)
	if err != nil {
		d, _ := s.syntaxError(err)
		return nil, &d
	}
	if second > 0 {
		return nil, &Diagnostic{At: s.mark(s.lineStart(second), s.lineEnd(second)), Object: "notation",
			Problem: "a second document begins here; a study is one document", Fix: "take the line out"}
	}
	return root, nil
}

// checkMerges refuses what would make one place of the text stand for
// several places of the document. Aliases never come this far.
func (t *editTree) checkMerges(n *yaml.Node) error {
	if n.Kind == yaml.AliasNode || n.Anchor != "" || n.Kind == yaml.ScalarNode && n.ShortTag() == "!!merge" {
		return t.failAt(t.offset(n.Line, n.Column), "notation", "YAML anchors, aliases and merge keys (<<) cannot be edited in place",
			"one text then stands for several values, so that an edit would change more than one", "write the values out")
	}
	for _, c := range n.Content {
		if err := t.checkMerges(c); err != nil {
			return err
		}
	}
	return nil
}

// ---- places ----

// lineOf returns the index, from 0, of the line that offset i is on.
func (t *editTree) lineOf(i int) int {
	return max(0, sort.SearchInts(t.lines, i+1)-1)
}

func (t *editTree) lineStartOf(i int) int { return t.lines[t.lineOf(i)] }

// lineEndOf returns where the line of offset i ends, before its line break.
func (t *editTree) lineEndOf(i int) int {
	for i < len(t.text) && breakLength(t.text[i:]) == 0 {
		i++
	}
	return i
}

// nextLine returns where the line after the one of offset i begins, or the
// end of the text.
func (t *editTree) nextLine(i int) int {
	i = t.lineEndOf(i)
	return i + breakLength(t.text[i:])
}

// blankBefore reports whether only blanks stand between the start of the
// line and offset i.
func (t *editTree) blankBefore(i int) bool {
	return strings.Trim(t.text[t.lineStartOf(i):i], " \t") == ""
}

// restIsComment reports whether only blanks, or blanks and a comment, stand
// between offset i and the end of its line.
func (t *editTree) restIsComment(i int) bool {
	rest := strings.TrimLeft(t.text[i:t.lineEndOf(i)], " \t")
	return rest == "" || rest[0] == '#'
}

// skip returns the offset of the next token at or after i: past blanks, line
// breaks and comments.
func (t *editTree) skip(i int) int {
	for i < len(t.text) {
		switch n := breakLength(t.text[i:]); {
		case n > 0:
			i += n
		case t.text[i] == ' ' || t.text[i] == '\t':
			i++
		case t.text[i] == '#':
			i = t.lineEndOf(i)
		default:
			return i
		}
	}
	return i
}

func (t *editTree) byteIs(i int, c byte) bool { return i >= 0 && i < len(t.text) && t.text[i] == c }

// ---- ends of nodes ----

// lost reports a place where the text is not what the node says. It means
// that the file uses a corner of YAML which is not understood here.
func (t *editTree) lost(i int, want string) error {
	return t.failAt(i, "the file", "cannot tell which bytes belong to which value here: expected "+want,
		"an edit in place must know exactly what it replaces", "write this part in a simpler form, then edit again")
}

// build works out the bytes of n. Its text is not before offset at; indent
// is the column of the block collection around it.
func (t *editTree) build(n *yaml.Node, parent *editNode, at, indent int, inFlow bool) (*editNode, error) {
	e := &editNode{node: n, parent: parent, indent: indent, inFlow: inFlow, content: -1}
	const quotedOrBlock = yaml.SingleQuotedStyle | yaml.DoubleQuotedStyle | yaml.LiteralStyle | yaml.FoldedStyle
	if n.Kind == yaml.ScalarNode && n.Value == "" && n.Style&(quotedOrBlock|yaml.TaggedStyle) == 0 && n.Tag != "!" {
		e.start, e.end, e.empty = at, at, true
		return e, nil
	}
	e.start = t.offset(n.Line, n.Column)
	if e.start < at {
		return nil, t.lost(e.start, "the value to stand behind its key")
	}
	if t.byteIs(e.start, '!') {
		return nil, t.failAt(e.start, "notation", "YAML tags (!name) cannot be edited in place", "the key alone says what kind of value stands there", "take the tag out")
	}
	var err error
	switch {
	case n.Kind == yaml.ScalarNode:
		err = t.endScalar(e)
	case n.Style&yaml.FlowStyle != 0:
		e.flow = true
		err = t.endFlow(e)
	default:
		err = t.endBlock(e)
	}
	if err != nil {
		return nil, err
	}
	return e, nil
}

func (t *editTree) endScalar(e *editNode) error {
	n := e.node
	switch {
	case n.Style&yaml.DoubleQuotedStyle != 0:
		if !t.byteIs(e.start, '"') {
			return t.lost(e.start, `a "`)
		}
		for i := e.start + 1; i < len(t.text); i++ {
			switch t.text[i] {
			case '\\':
				i++
			case '"':
				e.end = i + 1
				return nil
			}
		}
		return t.lost(e.start, `a closing "`)
	case n.Style&yaml.SingleQuotedStyle != 0:
		if !t.byteIs(e.start, '\'') {
			return t.lost(e.start, "a '")
		}
		for i := e.start + 1; i < len(t.text); i++ {
			if t.text[i] != '\'' {
				continue
			}
			if !t.byteIs(i+1, '\'') {
				e.end = i + 1
				return nil
			}
			i++
		}
		return t.lost(e.start, "a closing '")
	case n.Style&(yaml.LiteralStyle|yaml.FoldedStyle) != 0:
		return t.endBlockScalar(e)
	}
	return t.endPlain(e)
}

// endPlain follows a plain scalar through the text along with its value:
// within it, characters stand for themselves, one line break among blanks
// stands for a space, and further line breaks for themselves.
func (t *editTree) endPlain(e *editNode) error {
	v, i := e.node.Value, e.start
	for v != "" {
		if i >= len(t.text) {
			return t.lost(e.start, "more of "+short(e.node.Value))
		}
		run := i
		var breaks []string
		for run < len(t.text) {
			if n := breakLength(t.text[run:]); n > 0 {
				breaks = append(breaks, "\n")
				run += n
			} else if t.text[run] == ' ' || t.text[run] == '\t' {
				run++
			} else {
				break
			}
		}
		want := t.text[i : i+1]
		switch {
		case len(breaks) == 1:
			want = " "
		case len(breaks) > 1:
			want = strings.Join(breaks[1:], "")
		case run > i:
			want = t.text[i:run]
		}
		if !strings.HasPrefix(v, want) {
			return t.lost(i, short(v))
		}
		v = v[len(want):]
		i = max(run, i+1)
	}
	e.end = i
	return nil
}

// endBlockScalar finds the lines of a literal (|) or folded (>) scalar: the
// lines that are indented at least as its first line that is not blank.
func (t *editTree) endBlockScalar(e *editNode) error {
	i := e.start + 1
	keep := false
	column := 0
	for ; i < len(t.text) && strings.IndexByte("+-123456789", t.text[i]) >= 0; i++ {
		switch c := t.text[i]; c {
		case '+':
			keep = true
		case '-':
		default:
			column = max(e.indent, 0) + int(c-'0')
		}
	}
	e.headEnd = i
	e.headLine = t.lineEndOf(i)
	e.end = e.headLine
	blankColumn := 0
	for i = t.nextLine(i); i < len(t.text); i = t.nextLine(i) {
		spaces := 0
		for t.byteIs(i+spaces, ' ') {
			spaces++
		}
		end := t.lineEndOf(i)
		if i+spaces == end { // a line of nothing but spaces
			if column == 0 {
				blankColumn = max(blankColumn, spaces)
			} else if spaces > column {
				e.take(i, end) // the spaces beyond the indentation are content
				continue
			}
			if keep {
				e.take(i, end)
			}
			continue
		}
		if column == 0 {
			column = max(spaces, blankColumn, e.indent+1)
		}
		if spaces < column {
			break
		}
		e.take(i, end)
	}
	e.textColumn = column
	return nil
}

// take adds a line to the content of a block scalar. Blank lines before it
// are then content too.
func (e *editNode) take(lineStart, lineEnd int) {
	if e.content < 0 {
		e.content = lineStart
	}
	e.end = lineEnd
}

func (t *editTree) endFlow(e *editNode) error {
	isMap := e.node.Kind == yaml.MappingNode
	open, close := byte('['), byte(']')
	if isMap {
		open, close = '{', '}'
	}
	i := e.start + 1
	if !t.byteIs(e.start, open) {
		if !isMap || e.parent == nil || !e.parent.isList() || !e.parent.flow || len(e.node.Content) != 2 {
			return t.lost(e.start, string(open))
		}
		e.bare = true
		i = e.start
	}
	step := 1
	if isMap {
		step = 2
	}
	for k := 0; k+step <= len(e.node.Content); k += step {
		it := editItem{colon: -1, comma: -1}
		at := t.skip(i)
		var err error
		if isMap {
			if it.key, err = t.build(e.node.Content[k], e, at, e.indent, true); err != nil {
				return err
			}
			it.start = it.key.start
			at = it.key.end
			if c := t.skip(at); t.byteIs(c, ':') {
				it.colon = c + 1
				at = c + 1
			}
			if it.value, err = t.build(e.node.Content[k+1], e, at, e.indent, true); err != nil {
				return err
			}
		} else {
			if it.value, err = t.build(e.node.Content[k], e, at, e.indent, true); err != nil {
				return err
			}
			it.start = it.value.start
		}
		i = it.end()
		e.end = i
		if !e.bare {
			i = t.skip(i)
			if t.byteIs(i, ',') {
				it.comma = i
				i++
			}
		}
		e.items = append(e.items, it)
	}
	if e.bare {
		return nil
	}
	if i = t.skip(i); !t.byteIs(i, close) {
		return t.lost(i, string(close))
	}
	e.end = i + 1
	return nil
}

func (t *editTree) endBlock(e *editNode) error {
	isMap := e.node.Kind == yaml.MappingNode
	e.end = e.start
	if isMap {
		e.column = e.node.Content[0].Column - 1
		for k := 0; k+1 < len(e.node.Content); k += 2 {
			it := editItem{colon: -1, comma: -1}
			var err error
			if it.key, err = t.build(e.node.Content[k], e, e.end, e.column, false); err != nil {
				return err
			}
			it.start = it.key.start
			c := t.skip(it.key.end)
			if !t.byteIs(c, ':') {
				return t.lost(c, "a colon behind the key")
			}
			it.colon = c + 1
			if it.value, err = t.build(e.node.Content[k+1], e, it.colon, e.column, false); err != nil {
				return err
			}
			e.end = it.end()
			e.items = append(e.items, it)
		}
		return nil
	}
	e.column = e.node.Column - 1
	for k := range e.node.Content {
		d := t.skip(e.end)
		if !t.byteIs(d, '-') {
			return t.lost(d, "a dash before the list item")
		}
		it := editItem{start: d, colon: -1, comma: -1}
		var err error
		if it.value, err = t.build(e.node.Content[k], e, d+1, e.column, false); err != nil {
			return err
		}
		e.end = it.end()
		e.items = append(e.items, it)
	}
	return nil
}

// ---- finding ----

// find follows the path as far as it goes: it returns the node reached and
// the keys that are not there.
func (t *editTree) find(at Path) (*editNode, Path, error) {
	n := t.root
	for depth, key := range at {
		next := -1
		switch {
		case n.isList():
			if i, ok := listIndex(key); ok && i < len(n.items) {
				next = i
			}
		case n.isMapping():
			for i, it := range n.items {
				if !it.key.isScalar() || it.key.node.Value != key {
					continue
				}
				if next >= 0 {
					return nil, nil, t.fail(it.key, at[:depth+1].String(), fmt.Sprintf("the key %q stands twice", key),
						"it cannot be told which of the two is meant", "remove or rename one of them")
				}
				next = i
			}
		}
		if next < 0 {
			return n, at[depth:], nil
		}
		n = n.items[next].value
	}
	return n, nil, nil
}

// index returns the place of n among the items of its parent.
func (n *editNode) index() int {
	for i, it := range n.parent.items {
		if it.value == n {
			return i
		}
	}
	return -1
}

// ---- errors ----

func (t *editTree) refusal(d Diagnostic) error {
	d.Severity = Error
	if d.Excerpt == "" {
		d.Excerpt = strings.ToValidUTF8(t.line(d.At.Line), "\uFFFD")
	}
	return &EditError{d}
}

func (t *editTree) failAt(i int, object, problem, why, fix string) error {
	i = min(max(i, 0), len(t.text))
	return t.refusal(Diagnostic{At: t.mark(i, i), Object: object, Problem: problem, Why: why, Fix: fix})
}

func (t *editTree) fail(n *editNode, object, problem, why, fix string) error {
	return t.refusal(Diagnostic{At: t.mark(n.start, n.end), Object: object, Problem: problem, Why: why, Fix: fix})
}
