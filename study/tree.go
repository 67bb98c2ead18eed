package study

import (
	"errors"
	"fmt"
	"io"
	"sort"
	"strings"
	"unicode/utf8"

	"go.yaml.in/yaml/v4"
	"go.yaml.in/yaml/v4/plugin/loaderlimits"
)

// This file is the only one that knows the YAML library's reader. It gives a
// tree whose nodes know the exact bytes they stand on, which the library does
// not tell: the editor replaces those bytes and nothing else.

const (
	maxDepth  = 32      // nesting; the deepest place of a study needs 9
	maxLine   = 1 << 20 // bytes of one line; keeps the cost of a place bounded
	maxSigns  = 1 << 20 // commas, colons, brackets and lines of a file; bounds the memory of its tree
	maxRounds = 20      // syntax errors told of one file
	maxRetry  = 8 << 20 // bytes parsed again to find further syntax errors
)

type nodeKind uint8

const (
	scalarNode nodeKind = iota
	listNode
	mappingNode
	aliasNode // refused, kept so that it is told once
)

// A node is one value of the tree. A mapping has keys and values in turn.
type node struct {
	kind       nodeKind
	plain      bool // a scalar without quotes, on one or more lines
	quoted     bool
	flow       bool   // written with { } or [ ]
	null       bool   // nothing, ~ or null
	text       string // of a scalar, without quotes, escapes undone
	line, col  int
	start, end int
	items      []*node
}

// A source is one file as it is parsed.
type source struct {
	name  string
	text  string
	lines []int // where each line starts
	// broken says that a part of the file could not be parsed. What it may
	// have held is not complained of as missing.
	broken bool
}

func newSource(name string, text []byte) *source {
	s := &source{name: name, text: string(text)}
	start := 0
	if strings.HasPrefix(s.text, "\ufeff") {
		start = len("\ufeff")
	}
	s.lines = append(s.lines, start)
	for i := start; i < len(s.text); {
		if n := breakLength(s.text[i:]); n > 0 {
			i += n
			s.lines = append(s.lines, i)
			continue
		}
		i++
	}
	return s
}

// breakLength returns the length of the line break that s begins with, or 0.
func breakLength(s string) int {
	if s == "" {
		return 0
	}
	switch {
	case strings.HasPrefix(s, "\r\n"):
		return 2
	case s[0] == '\n' || s[0] == '\r':
		return 1
	}
	return 0
}

// line returns the text of a line, counted from 1, without its line break.
func (s *source) line(n int) string {
	if n < 1 || n > len(s.lines) {
		return ""
	}
	end := len(s.text)
	if n < len(s.lines) {
		end = s.lines[n]
	}
	return strings.TrimRight(s.text[s.lines[n-1]:end], "\r\n")
}

// mark returns the place of some bytes of the file.
func (s *source) mark(start, end int) Mark {
	n := max(sort.SearchInts(s.lines, start+1), 1)
	from := min(s.lines[n-1], start)
	return Mark{File: s.name, Line: n, Col: 1 + utf8.RuneCountInString(s.text[from:start]), Start: start, End: end}
}

func (s *source) markOf(n *node) Mark {
	return Mark{File: s.name, Line: n.line, Col: n.col, Start: n.start, End: n.end}
}

// offset returns the byte at a line and column.
func (s *source) offset(line, col int) int {
	if line < 1 {
		return s.lines[0]
	}
	if line > len(s.lines) {
		return len(s.text)
	}
	i := s.lines[line-1]
	for ; col > 1 && i < len(s.text); col-- {
		_, size := utf8.DecodeRuneInString(s.text[i:])
		i += size
	}
	return i
}

// parse returns the tree of the file, nil for a file without content, and
// what is wrong with its YAML. After a syntax error it leaves out the lines
// concerned and goes on, so that one slip hides nothing else.
func (s *source) parse() (*node, Diagnostics) {
	text, ds := s.scan()
	if ds.Errors() > 0 && text == nil {
		s.broken = true
		return nil, ds
	}
	s.broken = ds.Errors() > 0
	for round, spent := 0, 0; ; round++ {
		root, more, err := load(text)
		parsed := *s // as it was parsed: byte for byte as long, some of them blanked
		parsed.text = s.text[:s.lines[0]] + string(text)
		if err == nil {
			if more > 0 {
				s.broken = true
				ds = append(ds, Diagnostic{Severity: Error, At: s.mark(s.lineStart(more), s.lineEnd(more)), Object: "notation",
					Problem: "a second document begins here; a study is one document",
					Fix:     "take the line out, or put the rest into a file of its own and include it"})
			}
			var tree *node
			if root != nil {
				c := converter{source: &parsed, line: 1, col: 1, at: s.lines[0]}
				tree = c.convert(root)
				ds = append(ds, c.ds...)
			}
			return tree, ds
		}
		s.broken = true
		d, line := parsed.syntaxError(err)
		ds = append(ds, d)
		spent += len(text)
		if round+1 == maxRounds || spent > maxRetry || !parsed.blank(text, line) {
			return nil, ds
		}
	}
}

// blank overwrites a line of the text, and the lines below that are indented
// deeper, with spaces. It returns false if nothing was left there to blank.
func (s *source) blank(text []byte, line int) bool {
	if line < 1 || line > len(s.lines) {
		return false
	}
	any := false
	indent := leading(s.line(line))
	tabs := strings.Contains(s.line(line)[:indent], "\t") // its indent says nothing
	for n := line; n <= len(s.lines); n++ {
		l := s.line(n)
		if n > line && (tabs || strings.TrimSpace(l) != "" && leading(l) <= indent) {
			break
		}
		at := s.lines[n-1] - (len(s.text) - len(text))
		for i := range len(l) {
			if text[at+i] != ' ' {
				any = true
				text[at+i] = ' '
			}
		}
	}
	return any
}

func leading(line string) int {
	return len(line) - len(strings.TrimLeft(line, " \t"))
}

// scan looks for what makes the file no text at all, and returns the text to
// parse, without byte order mark; characters it complains of are blanked.
func (s *source) scan() ([]byte, Diagnostics) {
	var ds Diagnostics
	complain := func(at, size int, problem, fix string) {
		ds = append(ds, Diagnostic{Severity: Error, At: s.mark(at, at+size), Object: "the file", Problem: problem, Fix: fix})
	}
	if strings.HasPrefix(s.text, "\xff\xfe") || strings.HasPrefix(s.text, "\xfe\xff") {
		complain(0, 2, "is UTF-16 text", "save it as UTF-8")
		return nil, ds
	}
	for n, start := range s.lines {
		end := len(s.text)
		if n+1 < len(s.lines) {
			end = s.lines[n+1]
		}
		if end-start > maxLine {
			complain(start, 0, fmt.Sprintf("has a line of %d bytes; %d is the most that is read", end-start, maxLine), "put each entry on a line of its own")
			return nil, ds
		}
	}
	signs := len(s.lines)
	for _, sign := range []string{",", ":", "[", "{"} {
		signs += strings.Count(s.text, sign)
	}
	if signs > maxSigns {
		complain(s.lines[0], 0, fmt.Sprintf("has %d commas, colons, brackets and lines; %d is the most that is read", signs, maxSigns), "")
		return nil, ds
	}
	text := []byte(s.text[s.lines[0]:])
	base := s.lines[0]
	for i := base; i < len(s.text); {
		c := s.text[i]
		if c >= ' ' && c < 0x7f || c == '\n' || c == '\r' || c == '\t' {
			i++
			continue
		}
		r, size := utf8.DecodeRuneInString(s.text[i:])
		problem, fix := "", "delete it"
		switch {
		case r == utf8.RuneError && size == 1:
			problem, fix = fmt.Sprintf("has the byte 0x%02x, which is not UTF-8", c), "save the file as UTF-8"
		case r < ' ' || r >= 0x7f && r < 0xa0 && r != 0x85:
			problem = fmt.Sprintf("has the control character U+%04X", r)
		case r == 0x85 || r == 0x2028 || r == 0x2029:
			problem = fmt.Sprintf("has the invisible line break U+%04X, which editors and YAML readers count differently", r)
		case r == 0xfeff:
			problem = "has an invisible byte order mark (U+FEFF) inside"
		case r == 0xfffe || r == 0xffff:
			problem = fmt.Sprintf("has U+%04X, which is not a character", r)
		}
		if problem != "" {
			complain(i, size, problem, fix)
			if len(ds) == maxRounds {
				return nil, ds
			}
			for j := range size {
				text[i-base+j] = ' '
			}
		}
		i += size
	}
	return text, ds
}

// load returns the content of the first document in the text, nil if there is
// none, and the line where a second one begins, 0 if none does.
func load(text []byte) (root *yaml.Node, second int, err error) {
	// The library reports its own slips by panic; a study must not bring the program down.
	defer func() {
		if p := recover(); p != nil {
			root, second, err = nil, 0, fmt.Errorf("%v", p)
		}
	}()
	l, err := yaml.NewLoader(strings.NewReader(string(text)),
		yaml.WithPlugin(loaderlimits.New(loaderlimits.DepthValue(maxDepth), loaderlimits.AliasNone())))
	if err != nil {
		return nil, 0, err
	}
	var doc, more yaml.Node
	switch err := l.Load(&doc); {
	case err == io.EOF:
		return nil, 0, nil
	case err != nil:
		return nil, 0, err
	}
	switch err := l.Load(&more); {
	case err == io.EOF:
	case err != nil:
		return nil, 0, err
	default:
		second = more.Line
	}
	if doc.Kind != yaml.DocumentNode || len(doc.Content) == 0 {
		return nil, second, nil
	}
	return doc.Content[0], second, nil
}

// syntaxError puts an error of the YAML library into our words. It also
// returns the line to leave out when going on.
func (s *source) syntaxError(err error) (Diagnostic, int) {
	d := Diagnostic{Severity: Error, Object: "notation"}
	var le *yaml.LoadError
	if !errors.As(err, &le) || le.Mark.Line < 1 {
		d.At = s.mark(s.lines[0], s.lines[0])
		d.Problem = "cannot be read as YAML: " + err.Error()
		return d, 0
	}
	at := s.offset(le.Mark.Line, le.Mark.Column)
	line := le.Mark.Line
	began := le.ContextMark.Line
	startsAt := 0
	if began > 0 {
		startsAt = s.offset(began, le.ContextMark.Column)
	}
	here := func() Mark { return s.mark(at, max(at, min(at+1, len(s.text)))) }
	there := func() Mark { return s.mark(startsAt, min(startsAt+1, len(s.text))) }
	rest := s.text[min(at, len(s.text)):]
	d.At = here()

	switch m := le.Message; {
	case strings.Contains(m, "tab"), strings.HasPrefix(rest, "\t"), strings.Contains(s.text[s.lineStart(line):at], "\t"):
		tab := at
		if i := strings.IndexByte(s.line(line), '\t'); i >= 0 && s.lineStart(line)+i < at {
			tab = s.lineStart(line) + i
		}
		d.At = s.mark(tab, min(tab+1, len(s.text)))
		d.Problem = "a tab stands where spaces are wanted"
		d.Why = "a tab has no fixed width, so it cannot show what belongs to what"
		d.Fix = "indent with spaces"

	case strings.HasPrefix(m, "did not find expected ',' or"):
		closing := m[len(m)-2 : len(m)-1]
		opening := map[string]string{"}": "{", "]": "["}[closing]
		if line == began {
			d.Problem = fmt.Sprintf("a comma or the closing %s is wanted here", closing)
			d.Fix = fmt.Sprintf("separate with commas and close with %s; a text with , { } [ ] in it needs quotes", closing)
			break
		}
		d.At, line = there(), began
		d.Problem = fmt.Sprintf("this %s is not closed", opening)
		d.Fix = fmt.Sprintf("close it with %s", closing)
		d.Related = []Related{{At: here(), Text: "up to here no " + closing + " was found"}}

	case m == "found unexpected end of stream" || m == "found unexpected document indicator":
		if began > 0 {
			d.At, line = there(), began
		}
		d.Problem = "this quote is not closed"
		d.Fix = "close it with " + s.text[d.At.Start:d.At.End]

	case m == "mapping values are not allowed in this context":
		before := s.text[s.lineStart(line):at]
		above := line - 1
		for above > 0 && strings.TrimSpace(s.line(above)) == "" {
			above--
		}
		up := strings.TrimSpace(s.line(above))
		switch {
		case strings.Contains(before, ": "):
			d.Problem = "a second colon in one value"
			d.Fix = "put a text that has a colon in it in quotes"
		case up != "" && !strings.Contains(up, ":") && !strings.HasPrefix(up, "#"):
			line = above
			from := s.lineStart(above) + leading(s.line(above))
			d.At = s.mark(from, from+len(up))
			d.Problem = fmt.Sprintf("the key %q has no colon", up)
			d.Fix = fmt.Sprintf("write %s:", up)
		default:
			from := s.lineStart(line) + leading(s.line(line))
			d.At = s.mark(from, at)
			d.Problem = "this key is indented deeper than the keys it belongs to"
			d.Fix = "give the keys of one entry the same indent; a key with keys below it has no value of its own"
		}

	case m == "could not find expected ':'":
		if began > 0 {
			line = began
			d.At = s.mark(startsAt, s.lineEnd(began))
		}
		d.Problem = "a key without its colon"
		d.Fix = "write key: value, with a space after the colon"

	case m == "did not find expected key":
		if rest != "" && strings.ContainsRune("}],", rune(rest[0])) {
			d.Problem = fmt.Sprintf("this %c has no partner", rest[0])
			d.Fix = "delete it"
			break
		}
		d.At = s.mark(at, s.lineEnd(line))
		d.Problem = "this line does not line up with the keys above it"
		d.Fix = "give the keys of one entry the same indent"
		if began > 0 && began != line {
			d.Related = []Related{{At: there(), Text: "the keys above begin here"}}
		}

	case m == "did not find expected '-' indicator":
		d.At = s.mark(at, s.lineEnd(line))
		d.Problem = "a key stands in a list"
		d.Fix = "begin each element of the list with a dash, or take the dashes out"
		if began > 0 {
			d.Related = []Related{{At: there(), Text: "the list begins here"}}
		}

	case strings.HasPrefix(m, "block sequence entries are not allowed"):
		d.Problem = "a dash begins a list, which needs a line of its own"
		d.Fix = "write the list in brackets, [a, b]; a text that begins with a dash and a space needs quotes"

	case m == "found character that cannot start any token":
		d.Problem = fmt.Sprintf("a value cannot begin with %s", s.text[d.At.Start:d.At.End])
		d.Fix = "put the text in quotes"

	case m == "did not find expected node content":
		d.Problem = "a value is missing here"
		if strings.TrimSpace(rest) == "" {
			d.Problem = "the text ends where a value is missing"
		}
		d.Fix = "close what is open with } or ], or write the value"

	case m == "found unknown escape character":
		d.At = s.mark(at, min(at+2, len(s.text)))
		d.Problem = fmt.Sprintf("%s means nothing inside double quotes", s.text[d.At.Start:d.At.End])
		d.Fix = `write \\ for one backslash, or use single quotes`

	case strings.HasPrefix(m, "unknown anchor"):
		d.At = s.mark(at, s.wordEnd(at))
		forbidAlias(&d)

	case strings.HasPrefix(m, "exceeded max depth"):
		d.Problem = fmt.Sprintf("is nested deeper than %d levels", maxDepth)

	default:
		d.Problem = "cannot be read as YAML: " + m
	}
	return d, line
}

func (s *source) lineStart(n int) int {
	if n < 1 || n > len(s.lines) {
		return len(s.text)
	}
	return s.lines[n-1]
}

func (s *source) lineEnd(n int) int { return s.lineStart(n) + len(s.line(n)) }

// wordEnd returns where the characters up to the next space or bracket end.
func (s *source) wordEnd(at int) int {
	if i := strings.IndexAny(s.text[at:], " \t\r\n,[]{}"); i >= 0 {
		return at + i
	}
	return len(s.text)
}

// A converter makes nodes of the library's, in the order of the text.
type converter struct {
	*source
	line, col, at int // the last place asked for
	ds            Diagnostics
}

// find is offset, cheap for places asked for in order.
func (c *converter) find(line, col int) int {
	if line != c.line || col < c.col {
		if line < 1 || line > len(c.lines) {
			return len(c.text)
		}
		c.line, c.col, c.at = line, 1, c.lines[line-1]
	}
	for ; c.col < col && c.at < len(c.text); c.col++ {
		_, size := utf8.DecodeRuneInString(c.text[c.at:])
		c.at += size
	}
	return c.at
}

func (c *converter) convert(y *yaml.Node) *node {
	n := &node{line: y.Line, col: y.Column, start: c.find(y.Line, y.Column)}
	if y.Kind != yaml.AliasNode && (y.Anchor != "" || y.Style&yaml.TaggedStyle != 0) {
		c.skipProperties(n)
	}
	n.end = n.start
	switch y.Kind {
	case yaml.ScalarNode:
		n.text = y.Value
		n.quoted = y.Style&(yaml.DoubleQuotedStyle|yaml.SingleQuotedStyle) != 0
		n.plain = !n.quoted && y.Style&(yaml.LiteralStyle|yaml.FoldedStyle) == 0
		n.null = n.plain && (n.text == "" || n.text == "~" || strings.EqualFold(n.text, "null"))
		n.end = c.scalarEnd(n)
	case yaml.AliasNode:
		n.kind, n.text = aliasNode, y.Value
		n.end = c.wordEnd(n.start)
		d := Diagnostic{Severity: Error, At: c.markOf(n), Object: "notation"}
		forbidAlias(&d)
		c.ds = append(c.ds, d)
	case yaml.SequenceNode, yaml.MappingNode:
		n.kind = listNode
		if y.Kind == yaml.MappingNode {
			n.kind = mappingNode
		}
		n.flow = n.start < len(c.text) && (c.text[n.start] == '{' || c.text[n.start] == '[') && y.Style&yaml.FlowStyle != 0
		last := n.start
		if n.flow {
			last++
		}
		n.items = make([]*node, 0, len(y.Content))
		for i, child := range y.Content {
			var m *node
			if isNothing(child) {
				// The library puts an absent value where the next thing stands.
				m = &node{plain: true, null: true, line: n.line, col: n.col, start: last, end: last}
				if n.kind == mappingNode && i%2 == 1 {
					key := n.items[i-1]
					m.line, m.col = key.line, key.col
					m.end = c.afterColon(key.end)
					m.start = m.end
				}
			} else {
				m = c.convert(child)
			}
			last = max(last, m.end)
			n.items = append(n.items, m)
		}
		n.end = last
		if n.flow {
			n.end = c.closing(last)
		}
	}
	return n
}

func isNothing(y *yaml.Node) bool {
	return y.Kind == yaml.ScalarNode && y.Value == "" && y.Anchor == "" &&
		y.Style&(yaml.TaggedStyle|yaml.DoubleQuotedStyle|yaml.SingleQuotedStyle|yaml.LiteralStyle|yaml.FoldedStyle) == 0
}

// skipProperties refuses anchors and tags and moves the node past them.
func (c *converter) skipProperties(n *node) {
	for at := n.start; at < len(c.text); {
		switch c.text[at] {
		case '&', '!':
			d := Diagnostic{Severity: Error, At: c.mark(at, c.wordEnd(at)), Object: "notation"}
			if c.text[at] == '&' {
				forbidAlias(&d)
			} else {
				d.Problem = fmt.Sprintf("%s is a YAML tag, which a study does not have", c.text[d.At.Start:d.At.End])
				d.Why = "the key alone says what kind of value stands there"
				d.Fix = "take the tag out"
			}
			c.ds = append(c.ds, d)
			at = d.At.End
		case ' ', '\t', '\r', '\n':
			at++
		default:
			m := c.mark(at, at)
			n.start, n.line, n.col = at, m.Line, m.Col
			return
		}
	}
}

func forbidAlias(d *Diagnostic) {
	d.Problem = "YAML anchors (&name) and aliases (*name) are not read"
	d.Why = "whoever reads or changes one line must see all of its values there"
	d.Fix = "write the value out; a text that begins with & or * needs quotes"
}

// scalarEnd returns where the scalar at n.start ends.
func (c *converter) scalarEnd(n *node) int {
	i := n.start
	if n.quoted {
		quote := byte('"')
		if i < len(c.text) && c.text[i] == '\'' {
			quote = '\''
		}
		for i++; i < len(c.text); i++ {
			switch {
			case quote == '"' && c.text[i] == '\\':
				i++
			case c.text[i] == quote:
				if quote == '\'' && i+1 < len(c.text) && c.text[i+1] == quote {
					i++
					continue
				}
				return i + 1
			}
		}
		return len(c.text)
	}
	if !n.plain { // | or > with its indicators, perhaps a comment
		for i < len(c.text) && breakLength(c.text[i:]) == 0 {
			i++
		}
		if strings.Trim(n.text, whitespace) == "" {
			return i
		}
	}
	// The text stands there character by character; only its spaces and line
	// ends may differ.
	end := i
	for _, r := range n.text {
		if strings.ContainsRune(whitespace, r) {
			continue
		}
		for i < len(c.text) {
			got, size := utf8.DecodeRuneInString(c.text[i:])
			if strings.ContainsRune(whitespace, got) {
				i += size
				continue
			}
			if got != r {
				return end
			}
			i += size
			break
		}
		end = i
	}
	return end
}

const whitespace = " \t\r\n"

// afterColon returns the place after the colon that follows a key, or at if
// the key has none.
func (c *converter) afterColon(at int) int {
	for i := at; i < len(c.text); i++ {
		switch c.text[i] {
		case ' ', '\t':
		case ':':
			return i + 1
		default:
			return at
		}
	}
	return at
}

// closing returns the place after the bracket that follows, past commas,
// colons of absent values, space and comments.
func (c *converter) closing(at int) int {
	for i := at; i < len(c.text); i++ {
		switch c.text[i] {
		case '}', ']':
			return i + 1
		case '#':
			for i+1 < len(c.text) && breakLength(c.text[i+1:]) == 0 {
				i++
			}
		}
	}
	return len(c.text)
}
