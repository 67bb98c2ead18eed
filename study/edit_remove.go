package study

import (
	"strings"

	"go.yaml.in/yaml/v4"
)

// A Removal takes out a key with its value, an entry of a table, or an item
// of a list.
//
// With it go the comment behind it on its line, comment lines below it that
// are indented deeper than it, and the comment lines directly above it, at
// its own column and with no blank line between, if they are about it alone:
// left behind they would seem to be about the next entry. They are taken to
// be about it alone if the next entry has a comment or a blank line above it,
// or if there is no next entry. A comment above several entries in a row
// heads them all, and stays; so does what heads the file.
//
// When the last entry of a table goes, the table stays, as {} or [].
type Removal struct {
	At Path
	// KeepComments leaves the comment lines above the entry in the file.
	KeepComments bool
}

func (c Removal) propose(t *editTree) ([]proposal, error) {
	if len(c.At) == 0 {
		return nil, t.fail(t.root, "file", "the whole document cannot be removed", "", "")
	}
	n, rest, err := t.find(c.At)
	if err != nil {
		return nil, err
	}
	if len(rest) > 0 {
		return nil, t.notThere(c.At, n, rest)
	}
	parent, i := n.parent, n.index()
	if parent == t.root && len(parent.items) == 1 {
		return nil, t.fail(n, c.At.String(), "this is all that the file holds", "a study file cannot be empty", "")
	}
	step := 1
	if parent.isMapping() {
		step = 2
	}
	want := substitute(t.root.node, map[*yaml.Node]*yaml.Node{parent.node: spliced(parent.node, i*step, step)})
	var ways [][]Edit
	if parent.flow {
		ways = t.removeFromFlow(parent, i)
	} else {
		ways = t.removeFromBlock(parent, i, c.KeepComments)
	}
	var ps []proposal
	for _, edits := range ways {
		ps = append(ps, proposal{edits, want})
	}
	return ps, nil
}

func (t *editTree) removeFromBlock(c *editNode, i int, keepComments bool) [][]Edit {
	it := c.items[i]
	if !t.blankBefore(it.start) {
		// The first key behind a dash ("- a: 1"), or the first of two dashes.
		if len(c.items) == 1 {
			return [][]Edit{{{it.start, it.end(), []byte(emptyOf(c))}}}
		}
		next, end := c.items[i+1].start, t.lineEndOf(it.end())
		if end > next || !strings.Contains(t.text[end:next], "#") {
			return [][]Edit{{{it.start, next, nil}}}
		}
		// The comment lines between are about the next key: they stay where
		// they are, and so does the dash.
		start := it.start
		for start > 0 && t.text[start-1] == ' ' {
			start--
		}
		return [][]Edit{{{start, end, nil}}}
	}
	start, end := t.lineStartOf(it.start), t.nextLine(t.itemEnd(c, i))
	if !keepComments && t.commentIsOwn(c, i) {
		start = t.commentsAbove(start, c.column)
	}
	var empty []Edit
	if len(c.items) == 1 {
		at := c.parent.items[c.index()]
		behind := at.colon
		if c.parent.isList() {
			behind = at.start + 1
		}
		empty = []Edit{{behind, behind, []byte(" " + emptyOf(c))}}
	}
	ways := [][]Edit{append([]Edit{{start, end, nil}}, empty...)}
	if end == len(t.text) && t.lineEndOf(t.itemEnd(c, i)) == end && start > t.lines[0] {
		// The text ends without a line end, and does so afterwards; unless a
		// block scalar comes last then, which would lose its own.
		before := t.lineEndOf(t.lines[t.lineOf(start)-1])
		ways = append([][]Edit{append([]Edit{{before, end, nil}}, empty...)}, ways...)
	}
	// Blank lines behind it would become part of a block scalar before it
	// that keeps its last line ends (|+).
	blank := end
	for blank < len(t.text) && strings.Trim(t.text[blank:t.lineEndOf(blank)], " \t") == "" {
		blank = t.nextLine(blank)
	}
	if blank > end {
		ways = append(ways, append([]Edit{{start, blank, nil}}, empty...))
	}
	return ways
}

// commentIsOwn reports whether a comment above item i of a block collection
// is about that item and not about those behind it too.
func (t *editTree) commentIsOwn(c *editNode, i int) bool {
	if c == t.root && i == 0 {
		return false
	}
	if i == len(c.items)-1 {
		return true
	}
	above := t.lineOf(c.items[i+1].start) // counted from 1: the line above it
	line := strings.TrimLeft(t.line(above), " \t")
	return line == "" || line[0] == '#'
}

func emptyOf(c *editNode) string {
	if c.isList() {
		return "[]"
	}
	return "{}"
}

// itemEnd returns the end of item i of a block collection: the end of its
// last line that is not a comment, or of the comment lines under it that are
// indented deeper than the collection.
func (t *editTree) itemEnd(c *editNode, i int) int {
	end := t.lineEndOf(c.items[i].end())
	for {
		next := t.nextLine(end)
		if next <= end || next >= len(t.text) || t.lineEndOf(end) == len(t.text) {
			return end
		}
		stop := t.lineEndOf(next)
		line := strings.TrimLeft(t.text[next:stop], " ")
		if !strings.HasPrefix(line, "#") || stop-next-len(line) <= c.column {
			return end
		}
		end = stop
	}
}

// commentsAbove returns the start of the block of comment lines at the
// column given that ends right above the line starting at offset i.
func (t *editTree) commentsAbove(i, column int) int {
	for k := t.lineOf(i) - 1; k >= 0; k-- {
		start := t.lines[k]
		line := t.text[start:t.lineEndOf(start)]
		text := strings.TrimLeft(line, " ")
		if !strings.HasPrefix(text, "#") || len(line)-len(text) != column {
			break
		}
		i = start
	}
	return i
}

func (t *editTree) removeFromFlow(c *editNode, i int) [][]Edit {
	it := c.items[i]
	last := i == len(c.items)-1
	if c.bare {
		return nil
	}
	if len(c.items) == 1 {
		inside := Edit{c.start + 1, c.end - 1, nil}
		own := []Edit{{it.start, it.end(), nil}}
		if it.comma >= 0 {
			own = append(own, Edit{it.comma, it.comma + 1, nil})
		}
		if strings.Contains(t.text[c.start:c.end], "#") {
			return [][]Edit{own} // there may be comments to keep
		}
		return [][]Edit{{inside}, own}
	}
	after := it.end() // behind the item and its comma
	if it.comma >= 0 {
		after = it.comma + 1
	}
	// The comma before it goes, if the list had none behind its last item.
	var comma []Edit
	if last && it.comma < 0 && i > 0 {
		comma = []Edit{{c.items[i-1].comma, c.items[i-1].comma + 1, nil}}
	}
	plain := []Edit{{it.start, it.end(), nil}}
	if it.comma >= 0 {
		plain = append(plain, Edit{it.comma, it.comma + 1, nil})
	}
	plain = append(plain, comma...)

	if t.blankBefore(it.start) && t.restIsComment(after) {
		// It has its lines to itself.
		edits := append([]Edit{{t.lineStartOf(it.start), t.nextLine(after), nil}}, comma...)
		return [][]Edit{edits, plain}
	}
	if !last {
		next := c.items[i+1].start
		if t.lineOf(next) == t.lineOf(after) {
			return [][]Edit{{{it.start, next, nil}}, plain}
		}
	}
	if i > 0 {
		before := c.items[i-1]
		if t.lineOf(before.comma) == t.lineOf(it.start) {
			// Others stand before it on its line, none behind it.
			if it.comma >= 0 {
				return [][]Edit{{{before.comma + 1, after, nil}}, plain}
			}
			return [][]Edit{{{before.end(), after, nil}}, plain}
		}
		if last {
			// It stands alone on its line, with the closing bracket.
			return [][]Edit{append([]Edit{{it.start, t.skipBlanks(after), nil}}, comma...), plain}
		}
	}
	return [][]Edit{plain}
}

func (t *editTree) skipBlanks(i int) int {
	for t.byteIs(i, ' ') || t.byteIs(i, '\t') {
		i++
	}
	return i
}
