package tables

import (
	"fmt"
	"strings"
	"unicode/utf8"
)

// Templates returns one CSV file for each table, with a few invented rows
// that make a small study together, and a README.txt that explains them.
func Templates() []File {
	var files []File
	for _, t := range all {
		rows := append([][]string{t.usual}, t.example...)
		files = append(files, File{t.file, csvText(rows)})
	}
	return append(files, File{"README.txt", readme()})
}

const readmeHead = `Tables of a network, for Feederwright

Each file is one table, as a spreadsheet writes it: comma-separated values. The rows in
them are invented and make a small study. Put your own in their place, delete tables that
you don't need (buses.csv must stay), and make a study of them:

    feederwright new my-study --from THIS-FOLDER
    feederwright check my-study

Mistakes are pointed at by row and column, all in one run; nothing is written until the
tables are right. A study is written as tables again by

    feederwright new --tables THAT-FOLDER --from my-study

Rules

- The first row names the columns, in any order. Capitals don't count in headings, and an
  underscore is a space. A column whose heading begins with # is left out.
- Every quantity has a unit. Write it in the cell (1.2 km), or once in the heading: length
  (km), and then the bare number in the cells.
- Cells may be empty where the column is not marked "needed".
- Save as CSV UTF-8. Semicolons or tabs may separate the cells instead of commas; decimals
  may have a comma where the separator is another.
- Names may not contain / @ or +. What stands under from, to, at and type is the name of a
  row of another table.
- Format columns of names as text: spreadsheets make dates of names such as 1-2.
`

// readme explains the tables. What many of them have is explained once.
func readme() []byte {
	var b strings.Builder
	b.WriteString(readmeHead)
	for _, t := range all {
		fmt.Fprintf(&b, "\n%s\n%s\n", t.file, strings.Repeat("-", len(t.file)))
		b.WriteString(folded(t.about, "", ""))
		b.WriteString("\n")
		own, like, more := t.explained()
		for _, c := range own {
			b.WriteString(folded(c.meaning(), "  "+c.heading+": ", "      "))
		}
		if len(like) > 0 {
			b.WriteString(folded("as in line_types.csv, where no type is given.", "  "+strings.Join(like, ", ")+": ", "      "))
		}
		if len(more) > 0 {
			b.WriteString(folded("see the end.", "  "+strings.Join(more, ", ")+": ", "      "))
		}
	}
	b.WriteString("\nColumns of most tables\n----------------------\n")
	for _, c := range tableOf("buses.csv").columns {
		if provenance[c.heading] {
			b.WriteString(folded(c.meaning(), "  "+c.heading+": ", "      "))
		}
	}
	return []byte(b.String())
}

// explained sorts the columns of a table: those of its own, those that
// line_types.csv has too, and those that nearly all tables have.
func (t *table) explained() (own []*column, like, more []string) {
	constants := make(map[string]bool)
	if t.key == "lines" {
		for _, c := range tableOf("line_types.csv").columns {
			constants[c.heading] = c.kind != nameColumn && c.heading != "phases"
		}
	}
	for _, c := range t.columns {
		switch {
		case provenance[c.heading]:
			if t.key != "" || c.heading != "note" {
				more = append(more, c.heading)
				continue
			}
			own = append(own, c)
		case constants[c.heading]:
			like = append(like, c.heading)
		default:
			own = append(own, c)
		}
	}
	return own, like, more
}

// meaning is what stands in a column, with an example where a quantity is meant.
func (c *column) meaning() string {
	text := c.doc
	if c.need {
		text = "(needed) " + text
	}
	if len(c.words) > 0 {
		text += " One of: " + strings.Join(c.words, ", ") + "."
	}
	if (len(c.units) > 0 || c.kind == runsColumn) && !strings.Contains(c.doc, c.sample) {
		text += " As " + c.sample + "."
	}
	return text
}

// folded breaks a text into lines.
func folded(text, lead, indent string) string {
	const most = 90
	var b strings.Builder
	line := strings.TrimRight(lead, " ")
	for _, w := range strings.Fields(text) {
		if line != "" && utf8.RuneCountInString(line)+1+utf8.RuneCountInString(w) > most {
			b.WriteString(line + "\n")
			line = indent + w
			continue
		}
		if line != "" {
			line += " "
		}
		line += w
	}
	return b.String() + line + "\n"
}

// Files are the names of the tables, in order.
func Files() []string {
	var names []string
	for _, t := range all {
		names = append(names, t.file)
	}
	return names
}
