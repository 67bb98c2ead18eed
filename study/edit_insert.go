package study

import (
	"fmt"
	"strings"
	"unicode/utf8"

	"go.yaml.in/yaml/v4"
)

// An Insertion adds an entry to a table, a group of keys to an entry, or an
// item to a list.
//
// It is written in the manner of its neighbours: as a block or on one line
// in braces, at their indentation, its value in their column where they are
// lined up. A table that is absent is made, at its place in the order of the
// format.
type Insertion struct {
	// At is the path of the new entry: table and name. For a list it is the
	// path of the list and the place, "#2" to come before the present #2; a
	// place equal to the length of the list is its end.
	At Path
	// Entry is the YAML text of the entry's value, without its name.
	Entry string
	// After is the name of the entry that it comes behind. If it is "", the
	// entry comes last in a table, and in the order of the format elsewhere.
	After string
}

func (c Insertion) propose(t *editTree) ([]proposal, error) {
	if len(c.At) == 0 {
		return nil, t.fail(t.root, "the file", "an entry needs a name", "", "")
	}
	entry, err := c.parse(t)
	if err != nil {
		return nil, err
	}
	holder, name := c.At[:len(c.At)-1], c.At[len(c.At)-1]
	n, rest, err := t.find(holder)
	if err != nil {
		return nil, err
	}
	if len(rest) == 0 && (n.isList() || n.isNull() && strings.HasPrefix(name, "#")) {
		return c.intoList(t, n, name, entry)
	}
	if name == "" {
		return nil, t.fail(n, c.At.String(), "an entry needs a name", "", "")
	}
	if len(rest) == 0 && n.isMapping() {
		if i := n.item(name); i >= 0 {
			return nil, t.fail(n.items[i].key, c.At.String(), fmt.Sprintf("there is a %q already", name),
				"a name means one thing", "choose another name, or change the entry that is there")
		}
	}
	after := len(n.items) - 1
	switch {
	case c.After != "" && (len(rest) > 0 || n.item(c.After) < 0):
		return nil, t.notThere(holder.with(c.After), n, append(rest[:len(rest):len(rest)], c.After))
	case c.After != "":
		after = n.item(c.After)
	case n.isMapping() && len(rest) == 0:
		after = t.placeFor(n, holder, name)
	}
	if len(rest) == 0 {
		if n.isNull() || n.isMapping() && len(n.items) == 0 {
			return t.insertFirst(n, holder, name, t.likeNeighbours(n, -1, entry)), nil
		}
		if !n.isMapping() || n.isLongForm() {
			return nil, t.fail(n, c.At.String(), "this is a single value", "an entry can be added to a table only", "")
		}
		return t.insertItem(n, after, name, t.likeNeighbours(n, after, entry)), nil
	}
	// The table itself is absent: it comes along, as a block.
	value := t.likeNeighbours(&editNode{node: &yaml.Node{}}, -1, entry)
	for i := len(rest) - 1; i >= 0; i-- {
		value = &yaml.Node{Kind: yaml.MappingNode, Content: []*yaml.Node{writtenNode(name), value}}
		name = rest[i]
	}
	if n.isNull() || n.isMapping() && len(n.items) == 0 {
		return t.insertFirst(n, holder[:len(holder)-len(rest)], name, value), nil
	}
	if !n.isMapping() || n.isLongForm() {
		return nil, t.notThere(holder, n, rest)
	}
	return t.insertItem(n, t.placeFor(n, holder[:len(holder)-len(rest)], name), name, value), nil
}

func (c Insertion) intoList(t *editTree, n *editNode, name string, entry *yaml.Node) ([]proposal, error) {
	i, ok := listIndex(name)
	if !ok || i > len(n.items) {
		return nil, t.fail(n, c.At.String(), fmt.Sprintf("%q is no place in a list of %d", name, len(n.items)),
			"a place is written #0 to come first", fmt.Sprintf("write #%d to come last", len(n.items)))
	}
	if len(n.items) == 0 {
		return t.insertFirst(n, c.At[:len(c.At)-1], "", entry), nil
	}
	return t.insertItem(n, i-1, "", t.likeNeighbours(n, i-1, entry)), nil
}

// parse reads the text of the entry. What it says is kept, its comments are
// not.
func (c Insertion) parse(t *editTree) (*yaml.Node, error) {
	refuse := func(problem string) error {
		return t.fail(t.root, c.At.String(), "the new entry "+problem, "", "")
	}
	s := newSource("the new entry", []byte(c.Entry))
	root, d := readOne(s)
	if d != nil {
		return nil, refuse(fmt.Sprintf("cannot be read: line %d, column %d: %s", d.At.Line, d.At.Col, d.Problem))
	}
	if root == nil {
		return &yaml.Node{Kind: yaml.ScalarNode, Tag: "!!null"}, nil
	}
	var written func(n *yaml.Node) (*yaml.Node, error)
	written = func(n *yaml.Node) (*yaml.Node, error) {
		if n.Kind == yaml.AliasNode || n.Anchor != "" || n.Style&yaml.TaggedStyle != 0 || n.Tag == "!" || n.ShortTag() == "!!merge" {
			return nil, refuse("has an anchor, alias, merge key or tag; write its values out")
		}
		w := &yaml.Node{Kind: n.Kind, Style: n.Style}
		if n.Kind == yaml.ScalarNode {
			w.Tag, w.Value = textTag, n.Value
			if n.ShortTag() == "!!null" {
				w.Tag, w.Value = "!!null", ""
			}
			return w, nil
		}
		seen := make(map[string]bool)
		for i, child := range n.Content {
			if n.Kind == yaml.MappingNode && i%2 == 0 {
				if child.Kind != yaml.ScalarNode {
					return nil, refuse("has a key that is no single text")
				}
				if seen[child.Value] {
					return nil, refuse(fmt.Sprintf("has the key %q twice", child.Value))
				}
				seen[child.Value] = true
			}
			wc, err := written(child)
			if err != nil {
				return nil, err
			}
			w.Content = append(w.Content, wc)
		}
		return w, nil
	}
	return written(root)
}

// likeNeighbours returns the value in the style, block or braces, that the
// items near index i of n have. Where there are none, an entry goes on one
// line if it fits.
func (t *editTree) likeNeighbours(n *editNode, i int, value *yaml.Node) *yaml.Node {
	if value.Kind == yaml.ScalarNode {
		return value
	}
	styled := *value
	near := func(k int) bool {
		v := n.items[k].value
		if v.node.Kind != value.Kind || len(v.items) == 0 {
			return false
		}
		styled.Style &^= yaml.FlowStyle
		if v.flow {
			styled.Style |= yaml.FlowStyle
		}
		return true
	}
	for k := i; k >= 0; k-- {
		if near(k) {
			return &styled
		}
	}
	for k := i + 1; k < len(n.items); k++ {
		if near(k) {
			return &styled
		}
	}
	const width, nameAndIndent = 100, 20 // columns
	if fitsOneLine(value) && utf8.RuneCountInString(t.flowText(value)) <= width-nameAndIndent {
		styled.Style |= yaml.FlowStyle
	}
	return &styled
}

// fitsOneLine reports whether nothing in the value asks for lines of its own.
func fitsOneLine(n *yaml.Node) bool {
	for _, c := range n.Content {
		switch {
		case c.Kind == yaml.ScalarNode && strings.Contains(c.Value, "\n"):
			return false
		case c.Kind != yaml.ScalarNode && c.Style&yaml.FlowStyle == 0 && len(c.Content) > 0:
			return false
		}
	}
	return true
}

// insertItem proposes to add an item behind item i of the collection c, at
// the front if i is -1. key is "" in a list.
func (t *editTree) insertItem(c *editNode, i int, key string, value *yaml.Node) []proposal {
	at, in := i+1, []*yaml.Node{value}
	if c.isMapping() {
		at, in = 2*(i+1), []*yaml.Node{writtenNode(key), value}
	}
	want := substitute(t.root.node, map[*yaml.Node]*yaml.Node{c.node: spliced(c.node, at, 0, in...)})
	var ps []proposal
	if c.flow {
		if !c.bare {
			ps = append(ps, proposal{t.insertIntoFlow(c, i, t.flowItem(c, key, value)), want})
		}
		return ps
	}
	// Lines of text at the end of a file without line end are better quoted.
	return append(ps, proposal{t.insertIntoBlock(c, i, key, value), want},
		proposal{t.insertIntoBlock(c, i, key, quotedLines(value)), want})
}

// quotedLines returns the value with all texts of several lines in quotes.
func quotedLines(n *yaml.Node) *yaml.Node {
	q := *n
	if n.Kind == yaml.ScalarNode && strings.Contains(n.Value, "\n") {
		q.Style = yaml.DoubleQuotedStyle
	}
	q.Content = nil
	for _, c := range n.Content {
		q.Content = append(q.Content, quotedLines(c))
	}
	return &q
}

func (t *editTree) insertIntoBlock(c *editNode, i int, key string, value *yaml.Node) []Edit {
	body := t.blockItem(c, key, value, c.column)
	lead := strings.Repeat(" ", c.column)
	if i < 0 {
		at := c.items[0].start
		return []Edit{{at, at, []byte(body + t.eol + lead)}}
	}
	at := t.itemEnd(c, i)
	before := t.eol
	if c == t.root && value.Kind != yaml.ScalarNode && t.standsApart(i) {
		before += t.eol
	}
	return []Edit{{at, at, []byte(before + lead + body)}}
}

// standsApart reports whether blank lines part the table that is item i of
// the root from its neighbours.
func (t *editTree) standsApart(i int) bool {
	blank := func(line int) bool {
		return line >= 0 && line < len(t.lines) && strings.Trim(t.line(line+1), " \t") == ""
	}
	if i+1 < len(t.root.items) {
		return blank(t.lineOf(t.itemEnd(t.root, i)) + 1)
	}
	start := t.commentsAbove(t.lineStartOf(t.root.items[i].start), t.root.column)
	return blank(t.lineOf(start) - 1)
}

func (t *editTree) insertIntoFlow(c *editNode, i int, body string) []Edit {
	first := c.items[0]
	oneEach := true // one item a line
	for k, it := range c.items {
		oneEach = oneEach && t.blankBefore(it.start) && (k > 0 || t.lineOf(it.start) > t.lineOf(c.start))
	}
	newLine := t.eol + t.text[t.lineStartOf(first.start):first.start]
	if i < 0 {
		sep := ", "
		if oneEach {
			sep = "," + newLine
		}
		return []Edit{{first.start, first.start, []byte(body + sep)}}
	}
	it := c.items[i]
	switch {
	case !oneEach:
		return []Edit{{it.end(), it.end(), []byte(", " + body)}}
	case it.comma >= 0 && t.restIsComment(it.comma+1):
		at := t.lineEndOf(it.comma)
		return []Edit{{at, at, []byte(newLine + body + ",")}}
	case it.comma < 0 && t.restIsComment(it.end()):
		at := t.lineEndOf(it.end())
		return []Edit{{it.end(), it.end(), []byte(",")}, {at, at, []byte(newLine + body)}}
	}
	return []Edit{{it.end(), it.end(), []byte("," + newLine + body)}}
}

// insertFirst proposes to make the absent value or empty collection n, at
// the path given, a collection of one item.
func (t *editTree) insertFirst(n *editNode, at Path, key string, value *yaml.Node) []proposal {
	made := &yaml.Node{Kind: yaml.SequenceNode, Content: []*yaml.Node{value}}
	if key != "" {
		made = &yaml.Node{Kind: yaml.MappingNode, Content: []*yaml.Node{writtenNode(key), value}}
	}
	want := substitute(t.root.node, map[*yaml.Node]*yaml.Node{n.node: made})
	var ps []proposal
	if n.parent == nil { // {} is all the file holds
		made.Style = yaml.FlowStyle
		return []proposal{{[]Edit{{n.start, n.end, []byte(t.flowText(made))}}, want}}
	}
	hasComment := strings.Contains(t.text[n.start:n.end], "#")
	if !n.inFlow && key != "" && !hasComment && n.parent.isMapping() && t.restIsComment(n.end) && t.wantsBlock(n, at, value) {
		behind := n.parent.items[n.index()].colon
		column := n.parent.column + t.step()
		end := t.lineEndOf(n.end)
		body := t.eol + strings.Repeat(" ", column) + t.blockItem(nil, key, value, column)
		ps = append(ps, proposal{[]Edit{{behind, n.end, nil}, {end, end, []byte(body)}}, want})
	} // where that fails, in braces
	made.Style = yaml.FlowStyle
	switch {
	case n.empty:
		lead := " "
		if n.parent.isMapping() && n.parent.items[n.index()].colon < 0 {
			lead = ": "
		}
		ps = append(ps, proposal{[]Edit{{n.start, n.end, []byte(lead + t.flowText(made))}}, want})
	case hasComment:
		ps = append(ps, proposal{[]Edit{{n.start + 1, n.start + 1, []byte(" " + t.flowItem(nil, key, value))}}, want})
	default:
		ps = append(ps, proposal{[]Edit{{n.start, n.end, []byte(t.flowText(made))}}, want})
	}
	return ps
}

// wantsBlock reports whether the value that is to take the place of n is
// written as a block: a table is, other things are as their neighbours are.
func (t *editTree) wantsBlock(n *editNode, at Path, value *yaml.Node) bool {
	if t.isTable(at) || value.Kind != yaml.ScalarNode && value.Style&yaml.FlowStyle == 0 {
		return true
	}
	if t.plans.formatType(at) == nil && n.parent == t.root {
		return true
	}
	for _, it := range n.parent.items {
		if it.value.isMapping() && len(it.value.items) > 0 {
			return !it.value.flow
		}
	}
	return false
}

// ---- writing ----

// flowItem writes an item of a flow collection.
func (t *editTree) flowItem(c *editNode, key string, value *yaml.Node) string {
	if key == "" && (c == nil || c.isList()) {
		return t.flowText(value)
	}
	return inline(key, 0, true) + ": " + t.flowText(value)
}

// flowText writes a value on one line.
func (t *editTree) flowText(n *yaml.Node) string {
	var parts []string
	open, close := "[", "]"
	switch n.Kind {
	case yaml.ScalarNode:
		if n.Tag == "!!null" {
			return "~" // nothing at all is no item of a list in brackets
		}
		return inline(n.Value, n.Style, true)
	case yaml.MappingNode:
		open, close = "{", "}"
		for i := 0; i+1 < len(n.Content); i += 2 {
			k := n.Content[i]
			parts = append(parts, inline(k.Value, k.Style, true)+": "+t.flowText(n.Content[i+1]))
		}
	default:
		for _, c := range n.Content {
			parts = append(parts, t.flowText(c))
		}
	}
	if len(parts) == 0 {
		return open + close
	}
	pad := ""
	if t.padded(n.Kind) {
		pad = " "
	}
	return open + pad + strings.Join(parts, ", ") + pad + close
}

// padded reports whether this file writes a blank inside its braces, or
// brackets.
func (t *editTree) padded(kind yaml.Kind) bool {
	var look func(n *editNode) (padded, known bool)
	look = func(n *editNode) (bool, bool) {
		if n.flow && !n.bare && n.node.Kind == kind && len(n.items) > 0 && t.lineOf(n.start) == t.lineOf(n.items[0].start) {
			return t.byteIs(n.start+1, ' '), true
		}
		for _, it := range n.items {
			if p, ok := look(it.value); ok {
				return p, ok
			}
		}
		return false, false
	}
	if p, ok := look(t.root); ok {
		return p
	}
	return kind == yaml.MappingNode
}

// blockItem writes an item of a block collection whose keys or dashes stand
// at the column. c is the collection, if there is one yet.
func (t *editTree) blockItem(c *editNode, key string, value *yaml.Node, column int) string {
	if key == "" && c != nil && c.isList() {
		return t.dashItem(value, column)
	}
	k := inline(key, 0, false) + ":"
	v := t.blockValue(value, column)
	if c != nil && strings.HasPrefix(v, " ") {
		if to := t.valueColumn(c); to > column+utf8.RuneCountInString(k)+1 {
			v = strings.Repeat(" ", to-column-utf8.RuneCountInString(k)) + v[1:]
		}
	}
	return k + v
}

func (t *editTree) dashItem(value *yaml.Node, column int) string {
	const dash = "- "
	if value.Kind == yaml.MappingNode && value.Style&yaml.FlowStyle == 0 && len(value.Content) > 0 {
		// The first key stands behind the dash, the others below it.
		lines := t.blockValue(value, column+len(dash)-t.step())
		return dash + strings.TrimLeft(lines, " \r\n")
	}
	if value.Kind == yaml.SequenceNode {
		return dash + t.flowText(value)
	}
	v := t.blockValue(value, column)
	if v == "" {
		return "-"
	}
	return dash + strings.TrimPrefix(v, " ")
}

// blockValue writes what stands behind the colon of a key at the column.
func (t *editTree) blockValue(n *yaml.Node, column int) string {
	step := t.step()
	switch {
	case n.Kind == yaml.ScalarNode && n.Tag == "!!null":
		return ""
	case n.Kind == yaml.ScalarNode:
		if strings.Contains(n.Value, "\n") && n.Style&(yaml.SingleQuotedStyle|yaml.DoubleQuotedStyle) == 0 {
			if b, ok := blockForm(n.Value, '|', step); ok {
				return " " + b.head + b.write(column+step, t.eol)
			}
		}
		return " " + inline(n.Value, n.Style, false)
	case n.Style&yaml.FlowStyle != 0 || len(n.Content) == 0:
		return " " + t.flowText(n)
	}
	var b strings.Builder
	column += step
	lead := t.eol + strings.Repeat(" ", max(column, 0))
	if n.Kind == yaml.MappingNode {
		for i := 0; i+1 < len(n.Content); i += 2 {
			k := n.Content[i]
			b.WriteString(lead + inline(k.Value, k.Style, false) + ":" + t.blockValue(n.Content[i+1], column))
		}
	} else {
		for _, c := range n.Content {
			b.WriteString(lead + t.dashItem(c, column))
		}
	}
	return b.String()
}

// valueColumn returns the column in which all values of c are lined up, or 0
// where they are not.
func (t *editTree) valueColumn(c *editNode) int {
	column, apart := 0, false
	for _, it := range c.items {
		v := it.value
		if v.empty || it.colon < 0 || t.lineOf(v.start) != t.lineOf(it.colon) {
			continue
		}
		at := t.mark(v.start, v.start).Col - 1
		if column != 0 && at != column {
			return 0
		}
		column = at
		apart = apart || v.start-it.colon > 1
	}
	if !apart {
		return 0
	}
	return column
}
