package tables

import (
	"flag"
	"fmt"
	"os"
	"strings"
	"testing"
)

var update = flag.Bool("update", false, "rewrite the columns in docs/tables.md")

const page = "../docs/tables.md"

// columnsPage is the part of docs/tables.md that follows the types.
func columnsPage() string {
	var b strings.Builder
	row := func(c *column) {
		need := ""
		if c.need {
			need = "yes"
		}
		text := strings.TrimPrefix(c.meaning(), "(needed) ")
		fmt.Fprintf(&b, "| `%s` | %s | %s |\n", c.heading, need, strings.ReplaceAll(text, "|", `\|`))
	}
	const head = "| column | needed | what stands there |\n| --- | --- | --- |\n"
	for _, t := range all {
		fmt.Fprintf(&b, "\n## %s\n\n%s\n\n%s", t.file, t.about, head)
		own, like, more := t.explained()
		for _, c := range own {
			row(c)
		}
		if len(like) > 0 {
			fmt.Fprintf(&b, "| `%s` | | as in [line_types.csv](#line_typescsv), where no type is given |\n", strings.Join(like, "` `"))
		}
		if len(more) > 0 {
			fmt.Fprintf(&b, "| `%s` | | as in [every table](#columns-of-most-tables) |\n", strings.Join(more, "` `"))
		}
	}
	b.WriteString("\n## Columns of most tables\n\n" + head)
	for _, c := range tableOf("buses.csv").columns {
		if provenance[c.heading] {
			row(c)
		}
	}
	return b.String()
}

// TestPage: the page has every column of every table.
func TestPage(t *testing.T) {
	text, err := os.ReadFile(page)
	if err != nil {
		t.Fatal(err)
	}
	const mark = "-update -->\n"
	hand, made, ok := strings.Cut(string(text), mark)
	if !ok {
		t.Fatalf("%s has no line that ends in %q", page, strings.TrimSpace(mark))
	}
	want := columnsPage()
	if made == want {
		return
	}
	if !*update {
		t.Fatalf("%s does not show the columns as they are: go test ./tables -run TestPage -update", page)
	}
	if err := os.WriteFile(page, []byte(hand+mark+want), 0o644); err != nil {
		t.Fatal(err)
	}
}
