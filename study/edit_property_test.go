package study

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"testing/fstest"
	"unicode/utf8"

	"go.yaml.in/yaml/v4"
	"pgregory.net/rapid"
)

// These tests draw documents together with what they say: a tree of made
// values, written out in random styles, with comments, line ends and blanks
// at random. The writer knows the bytes of every scalar and the owner of
// every comment, so that nothing of the editor is needed to know what an edit
// must give. The texts are `derived`: from the grammar of YAML 1.2.2.

type madeKind int

const (
	madeText madeKind = iota
	madeNull
	madeMap
	madeList
)

type made struct {
	kind  madeKind
	key   string
	text  string
	items []*made

	start, end int    // of a scalar, in the text
	written    string // the scalar as it stands there
	wasBlock   bool   // written as | or >
	flow       bool
}

// says writes what a tree says, for comparison.
func (m *made) says() string {
	var parts []string
	for _, it := range m.items {
		if m.kind == madeMap {
			parts = append(parts, fmt.Sprintf("%q: %s", it.key, it.says()))
		} else {
			parts = append(parts, it.says())
		}
	}
	switch m.kind {
	case madeNull:
		return "nothing"
	case madeMap:
		return "{" + strings.Join(parts, ", ") + "}"
	case madeList:
		return "[" + strings.Join(parts, ", ") + "]"
	}
	return fmt.Sprintf("%q", m.text)
}

// reads writes what the YAML library reads in a text, in the same form.
func reads(t interface{ Fatalf(string, ...any) }, text []byte) string {
	var doc yaml.Node
	if err := yaml.Load(text, &doc); err != nil {
		t.Fatalf("the library cannot read it: %v\n%q", err, text)
	}
	var says func(n *yaml.Node) string
	says = func(n *yaml.Node) string {
		m := made{kind: madeText, text: n.Value}
		switch n.Kind {
		case yaml.ScalarNode:
			if n.ShortTag() == "!!null" {
				m.kind = madeNull
			}
			return m.says()
		case yaml.MappingNode:
			var parts []string
			for i := 0; i+1 < len(n.Content); i += 2 {
				parts = append(parts, fmt.Sprintf("%q: %s", n.Content[i].Value, says(n.Content[i+1])))
			}
			return "{" + strings.Join(parts, ", ") + "}"
		}
		var parts []string
		for _, c := range n.Content {
			parts = append(parts, says(c))
		}
		return "[" + strings.Join(parts, ", ") + "]"
	}
	return says(doc.Content[0])
}

// A madeWriter writes a made tree as YAML.
type madeWriter struct {
	*rapid.T
	b        strings.Builder
	eol      string
	step     int
	comments []madeComment
	afterBlk bool // the last thing written was a block scalar
}

type madeComment struct {
	mark  string // unique in the text
	owner *made
	above bool
}

func (w *madeWriter) chance(percent int, what string) bool {
	return rapid.IntRange(0, 99).Draw(w.T, what) < percent
}

func (w *madeWriter) comment(owner *made, above bool) string {
	c := madeComment{fmt.Sprintf("#c%d;", len(w.comments)), owner, above}
	w.comments = append(w.comments, c)
	return c.mark + " Ω: it's \"so\", {really} [yes"
}

func (w *madeWriter) blanks() string {
	return strings.Repeat(" ", rapid.IntRange(1, 3).Draw(w.T, "blanks"))
}

// lineEnd ends a line, maybe with a comment.
func (w *madeWriter) lineEnd(owner *made) {
	if w.chance(25, "comment behind") {
		w.b.WriteString(w.blanks() + w.comment(owner, false))
	} else if w.chance(10, "trailing blanks") {
		w.b.WriteString(w.blanks())
	}
	w.b.WriteString(w.eol)
	w.afterBlk = false
}

var (
	plainTexts = []string{"600 A", "12.47 kV", "0.50", "0.3061 + j0.6270 ohm/mi", "-5 %", "N1", "52-11", "é Ω 🔌", "it's so", `a "b" c`,
		"x#y", "115/12.47 kV", "2026-03-02", "7", "a", "Dyn1", "+-5 % in 4 steps"}
	oddTexts = []string{"", " x ", "a: b", "a #b", "- x", "yes", "N", "012", "1e3", "600:5", "null", "~", "[a", "a, b", "{", "it's: \"so\"",
		"tab\there", "\u2028", "\uFEFF", "\x01", "#", "!x", "&a", "*a", "%", "@", "`", "|", ">", "?", "...", "---", "é, Ω: 🔌"}
	lineTexts  = []string{"one\ntwo\n", "one\n\ntwo", "x\n", "  in\nout\n", "Ω\n  é\n🔌\n", "a\n\n\nb: c # d\n", "\nlead\n", "end\n\n"}
	keyTexts   = []string{"a", "bus", "x/r", "line kinds", "N1-N2", "52-11", "Ω", "né 🔌", "key: odd", "7", "it's", "#h", "rated voltage", "source", "yes"}
	plainKeyOK = map[string]bool{"a": true, "bus": true, "x/r": true, "line kinds": true, "N1-N2": true, "52-11": true, "Ω": true, "né 🔌": true, "7": true, "it's": true, "rated voltage": true, "source": true}
)

// drawTree makes a tree of at most the depth given.
func drawTree(t *rapid.T, depth int) *made {
	m := &made{}
	switch pick := rapid.IntRange(0, 99).Draw(t, "kind"); {
	case depth > 0 && pick < 35:
		m.kind = madeMap
		keys := rapid.Permutation(keyTexts).Draw(t, "keys")
		for i := range rapid.IntRange(0, 4).Draw(t, "entries") {
			it := drawTree(t, depth-1)
			it.key = keys[i]
			m.items = append(m.items, it)
		}
	case depth > 0 && pick < 50:
		m.kind = madeList
		for range rapid.IntRange(0, 4).Draw(t, "items") {
			m.items = append(m.items, drawTree(t, depth-1))
		}
	case pick < 57:
		m.kind = madeNull
	default:
		m.text = drawText(t)
	}
	return m
}

func drawText(t *rapid.T) string {
	switch pick := rapid.IntRange(0, 9).Draw(t, "text kind"); {
	case pick < 6:
		return rapid.SampledFrom(plainTexts).Draw(t, "plain text")
	case pick < 8:
		return rapid.SampledFrom(oddTexts).Draw(t, "odd text")
	case pick < 9:
		return rapid.SampledFrom(lineTexts).Draw(t, "lines")
	}
	return strings.Map(func(r rune) rune {
		if r == utf8.RuneError || r >= 0xD800 && r < 0xE000 {
			return 'x'
		}
		return r
	}, rapid.String().Draw(t, "any text"))
}

func isOneOf(s string, of []string) bool {
	for _, o := range of {
		if s == o {
			return true
		}
	}
	return false
}

// quotedText writes a text in quotes of either kind.
func (w *madeWriter) quotedText(s string) string {
	if allPrintableASCIIorLetters(s) && w.chance(50, "single quotes") {
		return "'" + strings.ReplaceAll(s, "'", "''") + "'"
	}
	return strconv.Quote(s) // its escapes are all YAML's too
}

func allPrintableASCIIorLetters(s string) bool {
	for _, r := range s {
		if r < ' ' || r > 0x7E && !strings.ContainsRune("éΩ🔌", r) {
			return false
		}
	}
	return true
}

func (w *madeWriter) keyText(key string) string {
	if plainKeyOK[key] && !w.chance(20, "quoted key") {
		return key
	}
	return w.quotedText(key)
}

// scalar writes a scalar; column is that of the block around it, -1 within a
// flow collection.
func (w *madeWriter) scalar(m *made, column int) {
	m.start = w.b.Len()
	inFlow := column < 0
	switch {
	case isOneOf(m.text, plainTexts) && w.chance(60, "plain"):
		text := m.text
		if at := strings.Index(text, " "); at > 0 && w.chance(15, "over lines") && text[at+1] != '#' {
			in := w.step + 1
			if !inFlow {
				in += column
			}
			text = text[:at] + " " + w.eol + strings.Repeat(" ", in) + text[at+1:]
		}
		w.b.WriteString(text)
	default:
		w.b.WriteString(w.quotedText(m.text))
	}
	m.end = w.b.Len()
	m.written = w.b.String()[m.start:m.end]
}

// block writes an item's value behind its colon or dash, and ends the line.
func (w *madeWriter) block(m *made, column int, inList bool) {
	switch {
	case m.kind == madeNull:
		m.start, m.end = w.b.Len(), w.b.Len()
		w.lineEnd(m)
	case m.kind == madeText && isOneOf(m.text, lineTexts) && w.chance(80, "block scalar"):
		w.b.WriteString(w.blanks())
		m.start = w.b.Len()
		m.wasBlock = true
		body := strings.TrimRight(m.text, "\n")
		head := "|"
		if strings.HasPrefix(strings.TrimLeft(body, "\n"), " ") || w.chance(20, "indicator") {
			head += fmt.Sprint(w.step)
		}
		switch len(m.text) - len(body) {
		case 0:
			head += "-"
		case 1:
		default:
			head += "+"
		}
		w.b.WriteString(head)
		if w.chance(25, "comment behind") {
			w.b.WriteString(w.blanks() + w.comment(m, false))
		}
		lines := body + strings.Repeat("\n", max(0, len(m.text)-len(body)-1))
		for _, line := range strings.Split(lines, "\n") {
			w.b.WriteString(w.eol)
			if line != "" {
				w.b.WriteString(strings.Repeat(" ", column+w.step) + line)
			}
		}
		m.end = w.b.Len()
		w.b.WriteString(w.eol)
		w.afterBlk = true
	case m.kind == madeText:
		if w.chance(8, "value on the next line") {
			w.lineEnd(m)
			w.b.WriteString(strings.Repeat(" ", column+w.step))
		} else {
			w.b.WriteString(w.blanks())
		}
		w.scalar(m, column)
		w.lineEnd(m)
	case len(m.items) == 0 || w.chance(50, "flow"):
		w.b.WriteString(w.blanks())
		w.flowText(m, column)
		w.lineEnd(m)
	case inList && m.kind == madeMap && w.chance(70, "compact"):
		w.b.WriteString(" ")
		w.blockItems(m, column+2, true)
	default:
		w.lineEnd(m)
		in := column + w.step
		if m.kind == madeList && !inList && w.chance(50, "dashes under the key") {
			in = column
		}
		w.blockItems(m, in, false)
	}
}

// blockItems writes the items of a block collection, one or more lines each.
func (w *madeWriter) blockItems(m *made, column int, firstOnLine bool) {
	for i, it := range m.items {
		if i > 0 || !firstOnLine {
			if !w.afterBlk && w.chance(10, "blank line") {
				w.b.WriteString(w.eol)
			}
			for w.chance(15, "comment above") {
				in := column
				if w.chance(20, "elsewhere") {
					in = rapid.IntRange(0, column).Draw(w.T, "column")
				}
				w.b.WriteString(strings.Repeat(" ", in) + w.comment(it, true) + w.eol)
				w.afterBlk = false
			}
			w.b.WriteString(strings.Repeat(" ", column))
		}
		if m.kind == madeMap {
			w.b.WriteString(w.keyText(it.key) + ":")
		} else {
			w.b.WriteString("-")
		}
		w.block(it, column, m.kind == madeList)
	}
}

// flowText writes a flow collection within a block at the column.
func (w *madeWriter) flowText(m *made, column int) {
	m.flow = true
	open, close := "[", "]"
	if m.kind == madeMap {
		open, close = "{", "}"
	}
	lines := w.chance(25, "over lines")
	in := column + w.step + rapid.IntRange(0, 3).Draw(w.T, "indent")
	sep := func(owner *made) {
		if !lines {
			w.b.WriteString(strings.Repeat(" ", rapid.IntRange(0, 2).Draw(w.T, "pad")))
			return
		}
		if w.chance(25, "comment") {
			w.b.WriteString(" " + w.comment(owner, false))
		}
		w.b.WriteString(w.eol + strings.Repeat(" ", in))
	}
	w.b.WriteString(open)
	sep(m)
	for i, it := range m.items {
		if m.kind == madeMap {
			w.b.WriteString(w.keyText(it.key) + ":")
			it.start = w.b.Len()
			if it.kind != madeNull || w.chance(50, "blank") {
				w.b.WriteString(w.blanks())
			}
		}
		switch {
		case it.kind == madeNull && m.kind == madeMap:
			it.end = w.b.Len()
		case it.kind == madeNull:
			it.start = w.b.Len()
			it.written = "~"
			w.b.WriteString("~")
			it.end = w.b.Len()
		case it.kind == madeText:
			w.scalar(it, -1)
		default:
			w.flowText(it, in)
		}
		if i < len(m.items)-1 {
			w.b.WriteString(",")
			w.b.WriteString(" ")
			sep(it)
		} else if w.chance(15, "trailing comma") {
			w.b.WriteString(",")
		}
	}
	if len(m.items) > 0 {
		sep(m.items[len(m.items)-1])
	}
	w.b.WriteString(close)
}

// drawDoc makes a document, its text and its comments.
func drawDoc(t *rapid.T) (*made, []byte, []madeComment) {
	root := &made{kind: madeMap}
	keys := rapid.Permutation(keyTexts).Draw(t, "keys")
	for i := range rapid.IntRange(1, 5).Draw(t, "entries") {
		it := drawTree(t, 3)
		it.key = keys[i]
		root.items = append(root.items, it)
	}
	w := &madeWriter{T: t, eol: rapid.SampledFrom([]string{"\n", "\n", "\r\n"}).Draw(t, "line end"), step: rapid.IntRange(1, 4).Draw(t, "step")}
	if w.chance(20, "byte order mark") {
		w.b.WriteString("\uFEFF")
	}
	if w.chance(30, "head") {
		w.b.WriteString(w.comment(nil, true) + w.eol + w.eol)
	}
	w.blockItems(root, 0, false)
	text := w.b.String()
	if !w.afterBlk && w.chance(25, "no line end at the end") {
		text = strings.TrimSuffix(text, w.eol)
	}
	if got, want := reads(t, []byte(text)), root.says(); got != want {
		t.Fatalf("the text does not say what was meant: a fault of this test\ngot  %s\nwant %s\n%q", got, want, text)
	}
	return root, []byte(text), w.comments
}

// places lists the paths of all nodes but the root.
type madePlace struct {
	at     Path
	node   *made
	parent *made
	index  int
}

func places(m *made, at Path) []madePlace {
	var all []madePlace
	for i, it := range m.items {
		key := it.key
		if m.kind == madeList {
			key = fmt.Sprintf("#%d", i)
		}
		p := at.with(key)
		all = append(all, madePlace{p, it, m, i})
		all = append(all, places(it, p)...)
	}
	return all
}

func drawPlace(t *rapid.T, root *made, fits func(madePlace) bool) (madePlace, bool) {
	var all []madePlace
	for _, p := range places(root, nil) {
		if fits(p) {
			all = append(all, p)
		}
	}
	if len(all) == 0 {
		return madePlace{}, false
	}
	return rapid.SampledFrom(all).Draw(t, "place"), true
}

func (p madePlace) isScalar() bool { return p.node.kind == madeText || p.node.kind == madeNull }

func planned(t *rapid.T, text []byte, c Change) ([]Edit, []byte) {
	edits, err := Plan("made.yaml", text, c)
	if err != nil {
		t.Fatalf("%+v refused: %v\n%q", c, err, text)
	}
	result, err := Apply(text, edits)
	if err != nil {
		t.Fatal(err)
	}
	back, err := Apply(result, Inverse(text, edits))
	if err != nil || string(back) != string(text) {
		t.Fatalf("undone: %q (%v), was %q", back, err, text)
	}
	return edits, result
}

func checkSays(t *rapid.T, root *made, before, after []byte) {
	if got, want := reads(t, after), root.says(); got != want {
		t.Fatalf("result says %s\nwant %s\nfrom %q\nto   %q", got, want, before, after)
	}
}

func checkComments(t *rapid.T, before, after []byte, comments []madeComment, mayGo func(madeComment) bool) {
	for _, c := range comments {
		if n := strings.Count(string(after), c.mark); n != 1 && !(n == 0 && mayGo(c)) {
			t.Fatalf("comment %s stands %d times\nfrom %q\nto   %q", c.mark, n, before, after)
		}
	}
}

func never(madeComment) bool { return false }

func TestSetScalarProperty(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		root, text, comments := drawDoc(t)
		p, ok := drawPlace(t, root, madePlace.isScalar)
		if !ok {
			return
		}
		n := p.node
		old := *n
		value := drawText(t)
		edits, result := planned(t, text, ScalarChange{At: p.at, Value: value})
		lineEnd := n.end + strings.IndexAny(string(text[n.end:])+"\n", "\r\n")
		for _, e := range edits {
			// A block scalar's lines come behind the comment on its line.
			body := e.Start == lineEnd && e.End == lineEnd && strings.Contains(value, "\n")
			if !body && (e.Start < n.start || e.End > n.end) {
				t.Fatalf("edit of %d to %d is outside the value at %d to %d\nfrom %q\nto   %q", e.Start, e.End, n.start, n.end, text, result)
			}
		}
		if !(n.kind == madeNull && value == "" && n.written == "") && !(n.kind == madeNull && value == "~" && strings.TrimSpace(n.written) == "~") {
			n.kind, n.text = madeText, value
		}
		checkSays(t, root, text, result)
		checkComments(t, text, result, comments, never)

		// Setting the old value again gives the old bytes, where both values
		// are written in the way the editor writes, and alike.
		if old.kind == madeNull || old.wasBlock || len(edits) != 1 {
			return
		}
		alike := false
		switch new := string(edits[0].New); {
		case old.written == old.text:
			alike = new == value && plainIsSafe(old.text, true)
		case old.written[0] == '\'':
			alike = new[0] == '\'' && !strings.ContainsAny(old.written, "\r\n")
		default:
			alike = old.written == doubleQuoted(old.text)
		}
		if !alike {
			return
		}
		if _, again := planned(t, result, ScalarChange{At: p.at, Value: old.text}); string(again) != string(text) {
			t.Fatalf("set back: %q\nwant %q", again, text)
		}
	})
}

func TestAddKeyProperty(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		root, text, comments := drawDoc(t)
		p, ok := drawPlace(t, root, func(p madePlace) bool { return p.node.kind == madeMap })
		if !ok {
			return
		}
		value := drawText(t)
		edits, result := planned(t, text, ScalarChange{At: p.at.with("new key"), Value: value})
		if len(p.node.items) > 0 {
			checkOnlyAdds(t, edits, text, result)
		}
		p.node.items = append(p.node.items, &made{key: "new key", text: value})
		checkSays(t, root, text, result)
		checkComments(t, text, result, comments, never)
	})
}

func checkOnlyAdds(t *rapid.T, edits []Edit, before, after []byte) {
	for _, e := range edits {
		if e.Start != e.End {
			t.Fatalf("adding rewrote bytes %d to %d\nfrom %q\nto   %q", e.Start, e.End, before, after)
		}
	}
}

func TestRemoveProperty(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		root, text, comments := drawDoc(t)
		p, ok := drawPlace(t, root, func(p madePlace) bool { return p.parent != root || len(root.items) > 1 })
		if !ok {
			return
		}
		keep := rapid.Bool().Draw(t, "keep comments")
		edits, result := planned(t, text, Removal{At: p.at, KeepComments: keep})
		own := map[*made]bool{p.node: true}
		for _, q := range places(p.node, nil) {
			own[q.node] = true
		}
		for _, e := range edits {
			if s := strings.TrimSpace(string(e.New)); s != "" && s != "{}" && s != "[]" {
				t.Fatalf("removing wrote %q", e.New)
			}
		}
		p.parent.items = append(p.parent.items[:p.index:p.index], p.parent.items[p.index+1:]...)
		checkSays(t, root, text, result)
		checkComments(t, text, result, comments, func(c madeComment) bool {
			// The comment above the first item below a key is between that
			// key and the item, so it is within what is removed with the key.
			return own[c.owner] && !(keep && c.above && c.owner == p.node)
		})
	})
}

func TestInsertProperty(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		root, text, comments := drawDoc(t)
		p, ok := drawPlace(t, root, func(p madePlace) bool { return p.node.kind == madeMap || p.node.kind == madeList })
		if !ok {
			return
		}
		entry := drawTree(t, 2)
		into := p.node
		c := Insertion{At: p.at.with("new"), Entry: entryText(t, entry)}
		i := len(into.items)
		if into.kind == madeList {
			i = rapid.IntRange(0, len(into.items)).Draw(t, "index")
			c.At = p.at.with(fmt.Sprintf("#%d", i))
		} else {
			entry.key = "new"
			if i > 0 && rapid.Bool().Draw(t, "after") {
				i = rapid.IntRange(1, len(into.items)).Draw(t, "index")
				c.After = into.items[i-1].key
			}
		}
		edits, result := planned(t, text, c)
		if len(into.items) > 0 {
			checkOnlyAdds(t, edits, text, result)
		}
		into.items = append(into.items[:i:i], append([]*made{entry}, into.items[i:]...)...)
		checkSays(t, root, text, result)
		checkComments(t, text, result, comments, never)

		// Taking it out again gives the old text, but for an empty
		// collection, which may have been written in another way.
		if len(into.items) == 1 || into.kind == madeMap && entry.kind == madeNull {
			return
		}
		_, again := planned(t, result, Removal{At: c.At, KeepComments: true})
		into.items = append(into.items[:i:i], into.items[i+1:]...)
		checkSays(t, root, result, again)
		if !into.flow && string(again) != string(text) {
			t.Fatalf("inserted and removed: %q\nwant %q", again, text)
		}
	})
}

func entryText(t *rapid.T, m *made) string {
	w := &madeWriter{T: t, eol: "\n", step: 2}
	switch {
	case m.kind == madeNull:
		return ""
	case m.kind == madeText:
		return w.quotedText(m.text)
	case len(m.items) == 0 || w.chance(50, "flow"):
		w.flowText(m, 0)
	default:
		w.blockItems(m, 0, false)
	}
	return w.b.String()
}

// Over every example study: each scalar set to itself changes no byte, and
// each set to another value changes its own bytes only.
func TestEditExamples(t *testing.T) {
	var files []string
	for _, pattern := range []string{"../examples/*.yaml", "../examples/*/*.yaml"} {
		found, err := filepath.Glob(pattern)
		if err != nil {
			t.Fatal(err)
		}
		files = append(files, found...)
	}
	if len(files) == 0 {
		t.Fatal("no example studies: this test would check nothing")
	}
	for _, name := range files {
		text, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		tree, err := readEditTree(name, text)
		if err != nil {
			t.Fatal(err)
		}
		scalars := 0
		var walk func(n *editNode, at Path)
		walk = func(n *editNode, at Path) {
			for i, it := range n.items {
				key := fmt.Sprintf("#%d", i)
				if it.key != nil {
					key = it.key.node.Value
				}
				walk(it.value, at.with(key))
			}
			if !n.isScalar() {
				return
			}
			scalars++
			edits, err := Plan(name, text, ScalarChange{At: at, Value: n.node.Value})
			if err != nil || len(edits) != 0 {
				t.Errorf("%s: %s set to itself: %d edits, %v", name, at, len(edits), err)
			}
			// The place is the library's, found again by counting characters.
			line := strings.Split(string(text), "\n")[n.node.Line-1]
			rest := string([]rune(line)[n.node.Column-1:])
			was := n.node.Value
			if strings.HasPrefix(rest, `"`) {
				was = `"` + was + `"`
			}
			const other = "987.65 zz"
			got, err := SetScalar(name, text, at, other)
			if err != nil {
				t.Errorf("%s: %s: %v", name, at, err)
				return
			}
			now := other
			if was != n.node.Value {
				now = `"` + other + `"`
			}
			lines := strings.Split(string(text), "\n")
			lines[n.node.Line-1] = strings.TrimSuffix(line, rest) + now + strings.TrimPrefix(rest, was)
			if want := strings.Join(lines, "\n"); string(got) != want && !n.isBlockScalar() {
				t.Errorf("%s: %s: more than the value changed:\n%s", name, at, got)
			}
		}
		walk(tree.root, nil)
		if scalars < 10 {
			t.Errorf("%s: only %d scalars tried", name, scalars)
		}
	}
}

// Every entry of every example renamed, and everything that refers to it:
// the study reads as before, with no reference lost.
func TestRenameExamples(t *testing.T) {
	mains, err := filepath.Glob("../examples/*/study.yaml")
	if err != nil || len(mains) == 0 {
		t.Fatalf("no example studies (%v): this test would check nothing", err)
	}
	for _, main := range mains {
		fsys := os.DirFS(filepath.Dir(main))
		doc, ds := Read(fsys, "study.yaml")
		if doc == nil || ds.Errors() > 0 {
			t.Fatalf("%s: %v", main, ds)
		}
		renamed := 0
		for _, f := range doc.Files {
			tree, err := readEditTree(f.Name, f.Text)
			if err != nil {
				t.Fatal(err)
			}
			var tables []Path
			for _, it := range tree.root.items {
				at := Path{it.key.node.Value}
				if !tree.isTable(at) {
					continue
				}
				tables = append(tables, at)
				for _, inner := range it.value.items {
					if in := at.with(inner.key.node.Value); tree.isTable(in) {
						tables = append(tables, in)
					}
				}
			}
			for _, table := range tables {
				n, _, _ := tree.find(table)
				for _, it := range n.items {
					from := it.key.node.Value
					files, err := RenameAll(doc.Files, Renaming{Table: table, From: from, To: "zz 9"})
					if err != nil {
						t.Errorf("%s: %v", main, err)
						continue
					}
					_, after := Read(memoryFS(files), "study.yaml")
					if len(after) != len(ds) {
						t.Errorf("%s: %s renamed: %v", main, table.with(from), after)
					}
					back, err := RenameAll(files, Renaming{Table: table, From: "zz 9", To: from})
					if err != nil {
						t.Errorf("%s: %v", main, err)
						continue
					}
					for i, f := range back {
						if string(f.Text) != string(doc.Files[i].Text) {
							t.Errorf("%s: %s renamed and back: %s differs", main, table.with(from), f.Name)
						}
					}
					renamed++
				}
			}
		}
		if renamed < 3 {
			t.Errorf("%s: only %d entries renamed", main, renamed)
		}
	}
}

func memoryFS(files []SourceFile) fstest.MapFS {
	fsys := fstest.MapFS{}
	for _, f := range files {
		fsys[f.Name] = &fstest.MapFile{Data: f.Text}
	}
	return fsys
}

// Bytes that are no study, paths that lead nowhere, values that are no text:
// an edit is made whole or refused with a place, and nothing panics.
func FuzzSetScalar(f *testing.F) {
	seeds, _ := filepath.Glob("../examples/*/*.yaml")
	if len(seeds) == 0 {
		f.Fatal("no seeds in examples: this test would check nothing")
	}
	for _, name := range seeds {
		b, err := os.ReadFile(name)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(b, "frequency", "50 Hz")
		f.Add(b, "lines / N0-N1 / length", "0.2 mi")
	}
	for _, s := range []string{"a: {b, c: [d: e], ? f : g}\n", "? a\n: b\n", "a: |2-\n    x\n\n", "- - a\n  - b\n", "a: 'x\n\n  y' # z\n", "\uFEFF{a: 1}", "a: !!str x\n", "a: &b c\nd: *b\n"} {
		f.Add([]byte(s), "a", "x: y")
		f.Add([]byte(s), "a / c / #0", "x\ny\n")
	}
	f.Fuzz(func(t *testing.T, text []byte, at, value string) {
		p, err := ParsePath(at)
		if err != nil {
			return
		}
		was := string(text)
		edits, err := Plan("fuzz.yaml", text, ScalarChange{At: p, Value: value})
		if string(text) != was {
			t.Fatal("the text given was changed")
		}
		var e *EditError
		if err != nil {
			if !errors.As(err, &e) || e.At.Line < 1 || e.At.Col < 1 || e.Problem == "" {
				t.Fatalf("refused without place or reason: %#v", err)
			}
		} else {
			result, err := Apply(text, edits)
			if err != nil {
				t.Fatal(err)
			}
			if again, err := Plan("fuzz.yaml", result, ScalarChange{At: p, Value: value}); err != nil || len(again) != 0 {
				t.Fatalf("set twice, it changes again: %v, %v\n%q", again, err, result)
			}
		}
		// The other changes must not panic either; their results are checked
		// by Plan itself.
		for _, c := range []Change{Removal{At: p}, Insertion{At: p, Entry: value}, Renaming{Table: Path{"buses"}, From: at, To: value}} {
			if _, err := Plan("fuzz.yaml", text, c); err != nil && !errors.As(err, &e) {
				t.Fatalf("%T: %v", c, err)
			}
		}
	})
}
