package main

import (
	"encoding/json"
	"io"
	"strings"
	"unicode/utf8"
)

// A table is text in columns. A column is aligned right where its heading
// begins with '>'.
type table struct {
	head []string
	rows [][]string
}

func (t *table) add(cells ...string) { t.rows = append(t.rows, cells) }

func (t *table) write(w io.Writer, indent string) error {
	width := make([]int, len(t.head))
	measure := func(cells []string) {
		for i, c := range cells {
			width[i] = max(width[i], utf8.RuneCountInString(c))
		}
	}
	head := make([]string, len(t.head))
	for i, h := range t.head {
		head[i] = strings.TrimPrefix(h, ">")
	}
	measure(head)
	for _, r := range t.rows {
		measure(r)
	}
	var b strings.Builder
	line := func(cells []string) {
		text := indent
		for i, c := range cells {
			pad := strings.Repeat(" ", width[i]-utf8.RuneCountInString(c))
			if i > 0 {
				text += "  "
			}
			if strings.HasPrefix(t.head[i], ">") {
				text += pad + c
			} else {
				text += c + pad
			}
		}
		b.WriteString(strings.TrimRight(text, " ") + "\n")
	}
	line(head)
	for _, r := range t.rows {
		line(r)
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// width is how wide the table will be.
func (t *table) width(indent string) int {
	var b strings.Builder
	_ = t.write(&b, indent) // a builder takes everything
	most := 0
	for _, line := range strings.Split(b.String(), "\n") {
		most = max(most, utf8.RuneCountInString(line))
	}
	return most
}

// writeUnder writes the table with a line before each row that has a name,
// and the rows indented under it.
func (t *table) writeUnder(w io.Writer, names []string) error {
	var b strings.Builder
	if err := t.write(&b, "  "); err != nil {
		return err
	}
	lines := strings.Split(strings.TrimSuffix(b.String(), "\n"), "\n")
	var out strings.Builder
	out.WriteString(lines[0] + "\n")
	for i, line := range lines[1:] {
		if names[i] != "" {
			out.WriteString(names[i] + "\n")
		}
		out.WriteString(line + "\n")
	}
	_, err := io.WriteString(w, out.String())
	return err
}

// writeJSON writes a value indented, without escaping < and >.
func writeJSON(w io.Writer, v any) error {
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	return e.Encode(v)
}

// fold breaks text at spaces to lines of at most width characters.
func fold(text, indent string, width int) string {
	var b strings.Builder
	line := ""
	for _, w := range strings.Fields(text) {
		if line != "" && utf8.RuneCountInString(indent+line+" "+w) > width {
			b.WriteString(indent + line + "\n")
			line = ""
		}
		if line != "" {
			line += " "
		}
		line += w
	}
	b.WriteString(indent + line + "\n")
	return b.String()
}

// lineWidth is how wide text output may be.
const lineWidth = 100
