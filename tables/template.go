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

// readme explains the tables.
func readme() []byte {
	var b strings.Builder
	b.WriteString(readmeHead)
	for _, t := range all {
		fmt.Fprintf(&b, "\n%s\n%s\n", t.file, strings.Repeat("-", len(t.file)))
		b.WriteString(folded(t.about, "", ""))
		b.WriteString("\n")
		for _, c := range t.columns {
			text := c.doc
			if c.need {
				text = "(needed) " + text
			}
			if len(c.units) > 0 || c.kind == runsColumn {
				text += " As " + c.sample + "."
			}
			b.WriteString(folded(text, "  "+c.heading+": ", "      "))
		}
	}
	return []byte(b.String())
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
