package study

import (
	"fmt"
	"strings"
	"unicode/utf8"

	"feederwright/quantity"
)

// A checker gathers what is told about a document as a whole.
type checker struct {
	doc     *Document
	ds      Diagnostics
	sources map[string]*source
}

func newChecker(doc *Document) *checker {
	return &checker{doc: doc, sources: make(map[string]*source)}
}

// A told is a diagnostic just told, to which second places may be added.
type told struct {
	c *checker
	i int
}

// see adds a second place.
func (t told) see(at Mark, format string, args ...any) told {
	d := &t.c.ds[t.i]
	d.Related = append(d.Related, Related{At: at, Text: fmt.Sprintf(format, args...)})
	return t
}

func (c *checker) tell(s Severity, at Mark, object, problem, why, fix string) told {
	c.ds = append(c.ds, Diagnostic{Severity: s, At: at, Object: object, Problem: problem, Why: why, Fix: fix})
	return told{c, len(c.ds) - 1}
}

func (c *checker) fail(at Mark, object, problem, why, fix string) told {
	return c.tell(Error, at, object, problem, why, fix)
}

func (c *checker) warn(at Mark, object, problem, why, fix string) told {
	return c.tell(Warning, at, object, problem, why, fix)
}

// done returns what was told, in order of place.
func (c *checker) done() Diagnostics {
	c.ds.Sort(c.doc.Files)
	c.doc.Illustrate(c.ds)
	return c.ds
}

// source returns the file that a mark points into, or nil for a document that
// was not read from files.
func (c *checker) source(m Mark) *source {
	if s, known := c.sources[m.File]; known {
		return s
	}
	var s *source
	for _, f := range c.doc.Files {
		if f.Name == m.File {
			s = newSource(f.Name, f.Text)
		}
	}
	c.sources[m.File] = s
	return s
}

// text returns the bytes of the file that a mark covers.
func (c *checker) text(m Mark) string {
	s := c.source(m)
	if s == nil || m.Start < 0 || m.End > len(s.text) || m.Start >= m.End {
		return ""
	}
	return s.text[m.Start:m.End]
}

// pair finds a key and its scalar in the text of a mapping that has no places
// of its own. Where the text is not plain enough to be sure, both are the
// whole mapping.
func (c *checker) pair(m Mark, key string) (keyAt, valueAt Mark) {
	text := c.text(m)
	for from := 0; key != ""; {
		i := strings.Index(text[from:], key)
		if i < 0 {
			break
		}
		start := from + i
		end := start + len(key)
		from = end
		before, _ := utf8.DecodeLastRuneInString(text[:start])
		after := strings.TrimLeft(text[end:], `"'`)
		after = strings.TrimLeft(after, " ")
		if start > 0 && !strings.ContainsRune("{,\n\r \"'", before) || !strings.HasPrefix(after, ":") {
			continue
		}
		s := c.source(m)
		keyAt = s.mark(m.Start+start, m.Start+end)
		value := strings.TrimLeft(after[1:], " \"'")
		at := len(text) - len(value)
		n := strings.IndexAny(value, ",}\"'#\n\r")
		if n < 0 {
			n = len(value)
		}
		n = len(strings.TrimRight(value[:n], " "))
		if n == 0 {
			return keyAt, keyAt
		}
		return keyAt, s.mark(m.Start+at, m.Start+at+n)
	}
	return m, m
}

// part returns the place of the n-th element of a list.
func part(at Mark, parts []Mark, n int) Mark {
	if n < len(parts) {
		return parts[n]
	}
	return at
}

// unread says whether a key stands in an entry more often than it was read:
// then its value was refused when the file was read, and telling that it is
// missing would hide why.
func (c *checker) unread(entry Mark, key string, given ...bool) bool {
	read := 0
	for _, g := range given {
		if g {
			read++
		}
	}
	typed := 0
	text := c.text(entry)
	for i, line := range strings.Split(text, "\n") {
		if cut := strings.Index(line, " #"); cut >= 0 {
			line = line[:cut]
		}
		if i > 0 && strings.HasPrefix(strings.TrimLeft(line, " "), "#") {
			continue
		}
		for {
			at := strings.Index(line, key)
			if at < 0 {
				break
			}
			before, after := line[:at], strings.TrimLeft(line[at+len(key):], `"' `)
			line = line[at+len(key):]
			last, _ := utf8.DecodeLastRuneInString(before)
			// The key of the entry itself has nothing before it.
			if strings.HasPrefix(after, ":") && (before == "" && i > 0 || strings.ContainsRune("{, \"'", last)) && !c.longerKey(before) {
				typed++
			}
		}
	}
	return typed > read
}

// longerKey says whether what stands before a key makes it the end of a
// longer one, as in "line-to-ground x/r".
func (c *checker) longerKey(before string) bool {
	before = strings.TrimRight(before, " ")
	last, _ := utf8.DecodeLastRuneInString(before)
	return before != "" && !strings.ContainsRune("{,\"'", last)
}

// suggest returns "; did you mean ...?" and what to write for a mistyped word.
func suggest(word string, candidates []string) (question, fix string) {
	if near, ok := quantity.Nearest(word, candidates); ok {
		return fmt.Sprintf("; did you mean %q?", near), "write " + near
	}
	if len(candidates) > 0 && len(candidates) <= mostListed {
		return "", "write " + listWords(candidates, "or")
	}
	return "", ""
}

// mostListed is how many names a message lists.
const mostListed = 12

// object names an entry in messages: `transformer "T1", impedance`.
func object(kind, name string, keys ...string) string {
	s := fmt.Sprintf("%s %q", kind, name)
	for _, k := range keys {
		s += ", " + k
	}
	return s
}
