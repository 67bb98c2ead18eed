package study

import (
	"fmt"
	"regexp"
	"strings"

	"go.yaml.in/yaml/v4"
)

// How values are written. A value is written plain when every reader, of
// YAML 1.1 or 1.2, takes the same text from it; else in quotes.

// sameNumber matches numbers that YAML 1.1 and 1.2 both read as the same
// decimal number. A number outside it (012, 1_000, 1e3, 0x1F) is a different
// number, or text, to one of the two; readers of 1.1 differ on -.5. Source: tag resolution of the YAML 1.1
// type repository (int, float) and the core schema of YAML 1.2.2, 10.3.2
// [from memory].
var sameNumber = regexp.MustCompile(`^([-+]?(0|[1-9][0-9]*)(\.[0-9]*)?|\.[0-9]+|[-+]?[0-9]+\.[0-9]*[eE][-+][0-9]+)$`)

// likeNumber matches what either of them reads as some number. It is wide:
// what it matches without need is only quoted.
var likeNumber = regexp.MustCompile(`^[-+]?(0x[0-9a-fA-F_]*|0b[01_]*|0o?[0-7_]+|[0-9_.]*[0-9.][0-9_.]*([eE][-+]?[0-9]+)?|\.(inf|Inf|INF|nan|NaN|NAN))$`)

// notText are the words that YAML 1.1 or 1.2 reads as something else than
// text: truth values, null, the value and merge keys.
var notText = map[string]bool{
	"": true, "~": true, "null": true, "Null": true, "NULL": true, "=": true, "<<": true,
	"y": true, "Y": true, "yes": true, "Yes": true, "YES": true, "n": true, "N": true, "no": true, "No": true, "NO": true,
	"true": true, "True": true, "TRUE": true, "false": true, "False": true, "FALSE": true,
	"on": true, "On": true, "ON": true, "off": true, "Off": true, "OFF": true,
}

// plainIsSafe reports whether v can be written without quotes. Dates pass,
// although YAML 1.1 has a type for them: their text stays what it is.
func plainIsSafe(v string, inFlow bool) bool {
	if notText[v] || likeNumber.MatchString(v) && !sameNumber.MatchString(v) {
		return false
	}
	if strings.Trim(v, " ") != v || !allPrintable(v) {
		return false
	}
	switch v[0] {
	case '?', ':', ',', '[', ']', '{', '}', '#', '&', '*', '!', '|', '>', '\'', '"', '%', '@', '`':
		return false
	case '-':
		if v == "-" || v[1] == ' ' || strings.HasPrefix(v, "---") {
			return false
		}
	}
	// A colon is an indicator only before a blank, or in places YAML 1.1 and
	// 1.2 do not agree on; and digits with colons are base 60 to 1.1.
	if strings.Contains(v, ":") || strings.Contains(v, " #") || strings.HasPrefix(v, "...") {
		return false
	}
	return !inFlow || !strings.ContainsAny(v, ",[]{}")
}

// Scalar writes a text as a key or a value on one line, as every reader of
// YAML takes it back: plain where that is safe, else in double quotes.
func Scalar(v string) string {
	if plainIsSafe(v, true) {
		return v
	}
	return doubleQuoted(v)
}

// allPrintable reports whether v is made of printable characters of YAML 1.1
// without tabs and line breaks.
func allPrintable(v string) bool {
	for _, r := range v {
		if !printable(r) {
			return false
		}
	}
	return true
}

func printable(r rune) bool {
	switch {
	case r >= ' ' && r <= '~':
		return true
	case r == 0x2028 || r == 0x2029 || r == 0xFEFF: // line and paragraph separator, byte order mark
		return false
	case r >= 0xA0 && r <= 0xD7FF, r >= 0xE000 && r <= 0xFFFD, r >= 0x10000 && r <= 0x10FFFF:
		return true
	}
	return false
}

func doubleQuoted(v string) string {
	var b strings.Builder
	b.WriteByte('"')
	for _, r := range v {
		switch {
		case r == '"' || r == '\\':
			b.WriteByte('\\')
			b.WriteRune(r)
		case r == '\n':
			b.WriteString(`\n`)
		case r == '\t':
			b.WriteString(`\t`)
		case r == '\r':
			b.WriteString(`\r`)
		case printable(r):
			b.WriteRune(r)
		case r <= 0xFF:
			fmt.Fprintf(&b, `\x%02X`, r)
		default:
			fmt.Fprintf(&b, `\u%04X`, r)
		}
	}
	b.WriteByte('"')
	return b.String()
}

func singleQuoted(v string) string {
	return "'" + strings.ReplaceAll(v, "'", "''") + "'"
}

// inlineForms returns the ways to write v on one line, best first. The style
// is that of the text it replaces, or stands for.
func inlineForms(v string, style yaml.Style, inFlow bool) []string {
	double := doubleQuoted(v)
	switch {
	case style&yaml.SingleQuotedStyle != 0 && allPrintable(v):
		return []string{singleQuoted(v), double}
	case style&(yaml.SingleQuotedStyle|yaml.DoubleQuotedStyle) != 0:
		return []string{double}
	case plainIsSafe(v, inFlow):
		return []string{v, double}
	}
	return []string{double}
}

// inline is the one way that needs no second look: a fresh value has nothing
// around it that would make the plain form read otherwise.
func inline(v string, style yaml.Style, inFlow bool) string {
	return inlineForms(v, style, inFlow)[0]
}

// A blockText is a scalar in block form: its indicator, and its lines.
type blockText struct {
	head  string
	lines []string // without indentation; blank lines are ""
}

// write returns the lines, each with a line end before it.
func (b blockText) write(column int, eol string) string {
	var s strings.Builder
	for _, line := range b.lines {
		s.WriteString(eol)
		if line != "" {
			s.WriteString(strings.Repeat(" ", column))
			s.WriteString(line)
		}
	}
	return s.String()
}

// blockForm writes v as a literal (|) or folded (>) scalar whose lines stand
// step columns in from their parent. It reports false where that form cannot
// hold v.
func blockForm(v string, indicator byte, step int) (blockText, bool) {
	var b blockText
	body := strings.TrimRight(v, "\n")
	ends := len(v) - len(body)
	for _, line := range strings.Split(body, "\n") {
		if !allPrintable(strings.ReplaceAll(line, "\t", " ")) {
			return b, false
		}
		b.lines = append(b.lines, line)
	}
	if body == "" {
		return b, false
	}
	if indicator == '>' {
		// Folding joins lines, except round lines that begin with a blank.
		// Such text is better kept literal.
		var folded []string
		text := false
		for _, line := range b.lines {
			if strings.TrimLeft(line, " \t") != line {
				return b, false
			}
			if line != "" && text {
				folded = append(folded, "") // one break more than the value has
			}
			text = text || line != ""
			folded = append(folded, line)
		}
		b.lines = folded
	}
	b.head = string(indicator)
	if first := strings.TrimLeft(body, "\n"); first[0] == ' ' || first[0] == '\t' {
		if step < 1 || step > 9 {
			return b, false
		}
		b.head += string(rune('0' + step))
	}
	switch {
	case ends == 0:
		b.head += "-"
	case ends > 1:
		b.head += "+"
		b.lines = append(b.lines, make([]string, ends-1)...)
	}
	return b, true
}

// scalarEdits returns the ways to write value in place of the scalar n, best
// first.
func (t *editTree) scalarEdits(n *editNode, value string) [][]Edit {
	var forms [][]Edit
	if n.isBlockScalar() {
		return t.blockScalarEdits(n, value)
	}
	lead := ""
	if n.empty {
		lead = " "
		if n.parent.isMapping() && n.parent.items[n.index()].colon < 0 {
			lead = ": "
		}
	}
	style := n.node.Style
	inFlow := n.inFlow
	if !inFlow && strings.Contains(value, "\n") && style&(yaml.SingleQuotedStyle|yaml.DoubleQuotedStyle) == 0 {
		step := t.step()
		if b, ok := blockForm(value, '|', step); ok && t.restIsComment(n.end) {
			end := t.lineEndOf(n.end)
			forms = append(forms, []Edit{
				{n.start, n.end, []byte(lead + b.head)},
				{end, end, []byte(b.write(n.indent+step, t.eol))},
			})
		}
	}
	for _, f := range inlineForms(value, style, inFlow) {
		forms = append(forms, []Edit{{n.start, n.end, []byte(lead + f)}})
	}
	return forms
}

// blockScalarEdits keeps the block form of n if it can: first with its
// indicator as it is, then with another, last as a quoted text. A comment
// behind the indicator stays.
func (t *editTree) blockScalarEdits(n *editNode, value string) [][]Edit {
	column := n.textColumn
	if n.content < 0 {
		column = n.indent + t.step()
	}
	indicator := byte('|')
	if n.node.Style&yaml.FoldedStyle != 0 {
		indicator = '>'
	}
	var forms [][]Edit
	body := func(s string) Edit { return Edit{n.headLine, n.end, []byte(s)} }
	head := func(s string) Edit { return Edit{n.start, n.headEnd, []byte(s)} }
	if value == "" {
		forms = append(forms, []Edit{body("")})
	}
	for _, ind := range []byte{indicator, '|'} {
		b, ok := blockForm(value, ind, column-n.indent)
		if !ok {
			continue
		}
		lines := body(b.write(column, t.eol))
		if ind == indicator {
			forms = append(forms, []Edit{lines})
		}
		forms = append(forms, []Edit{head(b.head), lines})
	}
	return append(forms, []Edit{head(doubleQuoted(value)), body("")})
}

// step is by how many columns this file indents a block within a block.
func (t *editTree) step() int {
	const usual = 2
	var look func(n *editNode) int
	look = func(n *editNode) int {
		for _, it := range n.items {
			if it.value.isMapping() && !it.value.flow {
				if s := it.value.column - n.column; n.isMapping() && s > 0 {
					return s
				}
			}
			if s := look(it.value); s > 0 {
				return s
			}
		}
		return 0
	}
	if s := look(t.root); s > 0 {
		return s
	}
	return usual
}
