package dossier

import (
	"bytes"
	"encoding/json"
	"flag"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/xuri/excelize/v2"
	"pgregory.net/rapid"

	"feederwright/review"
	"feederwright/study"
	"feederwright/working"
)

var update = flag.Bool("update", false, "write golden files anew")

// demo makes the book of a demonstration, with evidence made up for the test.
func demo(t testing.TB, name string) (*Book, *Input) {
	t.Helper()
	doc, diags := study.Read(os.DirFS("../examples/"+name), "study.yaml")
	if diags.Errors() > 0 {
		t.Fatalf("%s: %v", name, diags)
	}
	states, _ := doc.States()
	r, err := review.Open(doc, states)
	if err != nil {
		t.Fatal(err)
	}
	if err := r.Judge(); err != nil {
		t.Fatal(err)
	}
	in := &Input{Doc: doc, States: states, Report: r, Hash: strings.Repeat("0123456789abcdef", 4), Date: "2026-11-25", Program: "feederwright",
		Evidence: Evidence{Checks: []Check{{ID: "E-1", Title: "an example", Method: "faults", Source: "a book", Label: "published", Publication: "a book", Values: 3, Share: 0.25, Holds: true}}, Gaps: []Gap{{"another example", "not at hand"}}}}
	b, err := Build(in, Chapters())
	if err != nil {
		t.Fatal(err)
	}
	return b, in
}

var demos = []string{"velmora", "korrigate", "harnmoor", "first-study"}

// books are those of the demonstrations, made once.
var books = sync.OnceValue(func() map[string]*Book { return map[string]*Book{} })

func bookOf(t testing.TB, name string) *Book {
	if b, ok := books()[name]; ok {
		return b
	}
	b, _ := demo(t, name)
	books()[name] = b
	return b
}

// TestHTML: well-formed, nothing that runs, nothing that is fetched.
func TestHTML(t *testing.T) {
	fetched := regexp.MustCompile(`(?i)<script|javascript:|\son[a-z]+=|src=|<link|@import|url\([^#]|<iframe|<object|href="[^#]`)
	for _, name := range demos {
		b := bookOf(t, name)
		text := string(HTML(b, A4))
		wellFormed(t, strings.TrimPrefix(text, "<!DOCTYPE html>"))
		if m := fetched.FindString(text); m != "" {
			t.Errorf("%s: the page has %q", name, m)
		}
		if strings.Count(text, "://") != strings.Count(text, `xmlns="http://www.w3.org/`) {
			t.Errorf("%s: the page names another origin", name)
		}
		for i, s := range b.Chapters {
			if !strings.Contains(text, fmt.Sprintf("<section id=\"%s\">\n<h2>%s %s</h2>", anchor(i), b.Number(i), esc(s.Title))) {
				t.Errorf("%s: chapter %q is missing", name, s.Title)
			}
		}
		for _, want := range []string{b.Hash, b.Date, "DRAFT", "size: A4", "<math", "<mfrac>"} {
			if !strings.Contains(text, want) {
				t.Errorf("%s: the page lacks %q", name, want)
			}
		}
	}
	_, in := demo(t, "first-study")
	in.Issue = "A"
	b, err := Build(in, Chapters())
	if err != nil {
		t.Fatal(err)
	}
	if text := string(HTML(b, Letter)); strings.Contains(text, "DRAFT") || !strings.Contains(text, "Issue A") || !strings.Contains(text, "size: letter") {
		t.Error("an issued page says DRAFT, or lacks its issue or paper")
	}
}

// TestGoldenHTML holds the whole page of a small study. Kind: regression.
func TestGoldenHTML(t *testing.T) {
	file := filepath.Join("testdata", "first-study.html")
	// The limits are quoted from a page that changes for itself.
	_, in := demo(t, "first-study")
	b, err := Build(in, slices.DeleteFunc(Chapters(), func(c Chapter) bool { return c.Title == "Limits of the models" }))
	if err != nil {
		t.Fatal(err)
	}
	got := HTML(b, A4)
	if *update {
		if err := os.WriteFile(file, got, 0o666); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got, want) {
		g, w := strings.Split(string(got), "\n"), strings.Split(string(want), "\n")
		for i := range g {
			if i >= len(w) || g[i] != w[i] {
				t.Fatalf("%s:%d differs; after a look at it, go test -update writes it anew:\n%.300s", file, i+1, g[i])
			}
		}
		t.Fatalf("%s has more lines than the page", file)
	}
}

// TestSameBytes: the same book gives the same files.
func TestSameBytes(t *testing.T) {
	a, _ := demo(t, "first-study")
	b, _ := demo(t, "first-study")
	for _, format := range []struct {
		name  string
		write func(*Book) ([]byte, error)
	}{
		{"html", func(b *Book) ([]byte, error) { return HTML(b, A4), nil }},
		{"pdf", func(b *Book) ([]byte, error) { return PDF(b, A4) }},
		{"xlsx", XLSX},
	} {
		one, err := format.write(a)
		if err != nil {
			t.Fatal(err)
		}
		for range 3 {
			two, err := format.write(b)
			if err != nil {
				t.Fatal(err)
			}
			if !bytes.Equal(one, two) {
				t.Errorf("%s: two runs differ", format.name)
			}
		}
	}
}

// pdfText has a PDF read by another program, page by page.
func pdfText(t *testing.T, data []byte) []string {
	t.Helper()
	if _, err := exec.LookPath("pdftotext"); err != nil {
		if os.Getenv("CI") != "" {
			t.Fatal("pdftotext is missing")
		}
		t.Skip("pdftotext (poppler-utils) is not on this machine")
	}
	file := filepath.Join(t.TempDir(), "a.pdf")
	if err := os.WriteFile(file, data, 0o666); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command("pdftotext", "-layout", file, "-").Output()
	if err != nil {
		t.Fatal(err)
	}
	return strings.Split(strings.TrimSuffix(string(out), "\f"), "\f")
}

// TestPDFPages: every page says which of how many it is, and the study's hash,
// date and state; both papers have their size.
func TestPDFPages(t *testing.T) {
	for _, paper := range Papers {
		b := bookOf(t, "first-study")
		data, err := PDF(b, paper)
		if err != nil {
			t.Fatal(err)
		}
		box := fmt.Sprintf("/MediaBox [0 0 %.2f %.2f]", paper.width/point, paper.height/point)
		if !bytes.Contains(data, []byte(box)) {
			t.Errorf("%s: no %s", paper.Name, box)
		}
		pages := pdfText(t, data)
		if len(pages) < 8 {
			t.Fatalf("%s: %d pages", paper.Name, len(pages))
		}
		for i, text := range pages {
			for _, want := range []string{fmt.Sprintf("page %d of %d", i+1, len(pages)), b.Hash[:16], b.Date, "DRAFT, not issued"} {
				if !strings.Contains(text, want) {
					t.Errorf("%s: page %d lacks %q", paper.Name, i+1, want)
				}
			}
		}
		// The contents name the page on which each chapter begins.
		for i, s := range b.Chapters {
			line := regexp.MustCompile(regexp.QuoteMeta(b.Number(i)) + ` +` + regexp.QuoteMeta(s.Title) + `[ .]+(\d+)`).FindStringSubmatch(pages[1])
			if line == nil {
				t.Errorf("%s: the contents lack %q", paper.Name, s.Title)
				continue
			}
			n := 0
			fmt.Sscan(line[1], &n)
			if n < 1 || n > len(pages) || !regexp.MustCompile(`(?m)^ *`+regexp.QuoteMeta(b.Number(i)+" "+s.Title)).MatchString(pages[n-1]) {
				t.Errorf("%s: %q does not begin on page %d", paper.Name, s.Title, n)
			}
		}
	}
}

func TestBookmarks(t *testing.T) {
	b := bookOf(t, "velmora")
	var titles []string
	for _, l := range layOut(b, A4) {
		for _, m := range l.marks {
			titles = append(titles, m.title)
		}
	}
	for i, s := range b.Chapters {
		if !slices.Contains(titles, b.Number(i)+"  "+s.Title) {
			t.Errorf("no bookmark for %q", s.Title)
		}
	}
	data, err := PDF(b, A4)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Contains(data, []byte("/Outlines ")) || bytes.Count(data, []byte("/Parent ")) < len(titles) {
		t.Error("the PDF has no outline")
	}
}

// overflow says what of a laid-out book lies outside of its page's text area.
func overflow(leaves []*leaf, paper Paper) string {
	m := newMetric()
	for n, l := range leaves {
		for _, s := range l.strokes {
			left, right, top, low := s.x, s.x+s.dx, s.y, s.y+s.dy
			if s.kind == textStroke {
				left, right, top, low = s.x, s.x+m.width(s.text, s.cut, s.size), s.y-ascent*s.size, s.y+descent*s.size
			}
			const slack = 0.3 // mm: a rule's own thickness
			if min(left, right) < sideEdge-slack || max(left, right) > paper.width-sideEdge+slack || min(top, low) < 8 || max(top, low) > paper.height-8 {
				return fmt.Sprintf("page %d: %q at %.1f..%.1f, %.1f..%.1f", n+1, s.text, left, right, top, low)
			}
			// Nothing of the text runs into the foot.
			foot := paper.height - lowEdge
			if s.kind == textStroke && top < foot-slack && low > foot+1.5 {
				return fmt.Sprintf("page %d: %q runs into the foot", n+1, s.text)
			}
		}
	}
	return ""
}

// TestNothingOverflows on the demonstrations.
func TestNothingOverflows(t *testing.T) {
	for _, name := range demos {
		for _, paper := range Papers {
			if what := overflow(layOut(bookOf(t, name), paper), paper); what != "" {
				t.Errorf("%s on %s: %s", name, paper.Name, what)
			}
		}
	}
}

// rowMark is one letter, since a narrow column breaks words.
func rowMark(r int) string { return string(rune('А' + r)) }

// TestOverflowProperty: no names, tables or texts, however long or wide, leave
// the page, and all that stands in a table is on some page.
func TestOverflowProperty(t *testing.T) {
	name := rapid.StringMatching(`[A-Za-z0-9Ωé_./ -]{1,12}( [a-z0-9-]{1,40}){0,6}`)
	long := rapid.OneOf(name, rapid.StringMatching(`[A-Za-z0-9]{60,160}`), rapid.String())
	rapid.Check(t, func(t *rapid.T) {
		columns := rapid.IntRange(1, 24).Draw(t, "columns")
		table := &Table{Name: "t", Caption: long.Draw(t, "caption"), Notes: rapid.SliceOfN(long, 0, 2).Draw(t, "notes")}
		keys := rapid.IntRange(0, 2).Draw(t, "keys")
		for i := range columns {
			table.Columns = append(table.Columns, Column{Head: long.Draw(t, "head"), Group: rapid.SampledFrom([]string{"", "", "g", "a long name of a group"}).Draw(t, "group"),
				Align: Align(rapid.IntRange(0, 2).Draw(t, "align")), Key: i < keys, Code: rapid.Bool().Draw(t, "code")})
		}
		rows := rapid.IntRange(0, 40).Draw(t, "rows")
		texts := rapid.SliceOfN(long, 1, 6).Draw(t, "texts")
		for r := range rows {
			var row Row
			for c := range columns {
				row.Cells = append(row.Cells, Words(texts[(r*columns+c)%len(texts)]))
			}
			row.Cells[columns-1] = Words(rowMark(r))
			table.Rows = append(table.Rows, row)
		}
		b := &Book{Title: long.Draw(t, "title"), Name: "Dossier", Hash: "0123", Date: "2026-11-25", Issue: rapid.SampledFrom([]string{"", "A"}).Draw(t, "issue"),
			Cover: []Block{Para{Text: T(long.Draw(t, "note"))}},
			Chapters: []Section{{Title: long.Draw(t, "chapter"), Blocks: []Block{
				Heading{long.Draw(t, "heading")}, table,
				Facts{[]Fact{{long.Draw(t, "term"), T(long.Draw(t, "fact"))}}},
				Card{Mark: "THIN", Title: long.Draw(t, "card"), ID: long.Draw(t, "id")},
				Note{Caution: true, Title: long.Draw(t, "note title"), Text: []Rich{T(long.Draw(t, "note text"))}},
				Steps{Title: long.Draw(t, "steps"), Steps: []working.Step{{Symbol: long.Draw(t, "symbol"), Formula: long.Draw(t, "formula"), Result: "1", Unit: "ohm", Meaning: long.Draw(t, "meaning")}}},
				SignOff{[]string{"Prepared"}},
			}}}}
		paper := rapid.SampledFrom(Papers).Draw(t, "paper")
		leaves := layOut(b, paper)
		if what := overflow(leaves, paper); what != "" {
			t.Fatal(what)
		}
		all := map[string]bool{}
		for _, l := range leaves {
			for _, s := range l.strokes {
				all[s.text] = true
			}
		}
		for r := range rows {
			if !all[rowMark(r)] && columns > keys {
				t.Fatalf("row %d is on no page", r)
			}
		}
		wellFormed(t, strings.TrimPrefix(string(HTML(b, paper)), "<!DOCTYPE html>"))
	})
}

// TestNoOrphans: below every heading something follows on its page, and no
// table ends a page with its head.
func TestNoOrphans(t *testing.T) {
	for _, name := range demos {
		for _, paper := range Papers {
			for n, l := range layOut(bookOf(t, name), paper) {
				lowest := 0.0
				for _, s := range l.strokes {
					if s.y < paper.height-lowEdge+1 {
						lowest = max(lowest, s.y)
					}
				}
				for _, m := range l.marks {
					if lowest < m.y+8 {
						t.Errorf("%s on %s: heading %q stands alone at the foot of page %d", name, paper.Name, m.title, n+1)
					}
				}
			}
		}
	}
}

// TestFigureBelowItsHeading: a chapter's heading stands on the page of the
// figure that it leads to.
func TestFigureBelowItsHeading(t *testing.T) {
	checked := 0
	for _, name := range demos {
		b := bookOf(t, name)
		for _, paper := range Papers {
			for n, l := range layOut(b, paper) {
				for _, m := range l.marks {
					if !strings.HasSuffix(m.title, "Along the feeders") {
						continue
					}
					checked++
					if !slices.ContainsFunc(l.strokes, func(s stroke) bool { return s.kind == figureStroke && s.y > m.y }) {
						t.Errorf("%s on %s: no figure below %q on page %d", name, paper.Name, m.title, n+1)
					}
				}
			}
		}
	}
	if checked == 0 {
		t.Error("no chapter with profiles: this test checked nothing")
	}
}

// TestXLSX reads the workbook back: numbers are numbers, heads have units, and
// stay in sight.
func TestXLSX(t *testing.T) {
	b := bookOf(t, "velmora")
	data, err := XLSX(b)
	if err != nil {
		t.Fatal(err)
	}
	f, err := excelize.OpenReader(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	hash, err := f.GetCellValue("Cover", "B3")
	if err != nil || hash != b.Hash {
		t.Errorf("the cover's hash is %q (%v)", hash, err)
	}
	cells := 0
	for _, table := range b.tables() {
		sheet := table.Name
		rows, err := f.GetRows(sheet)
		if err != nil {
			t.Errorf("%v", err)
			continue
		}
		panes, err := f.GetPanes(sheet)
		if err != nil || !panes.Freeze || panes.YSplit != 1 {
			t.Errorf("sheet %q: its head is not frozen (%v)", sheet, err)
		}
		for i, c := range table.Columns {
			if c.Unit != "" && !strings.HasSuffix(rows[0][i], ", "+c.Unit) {
				t.Errorf("sheet %q: head %q lacks its unit", sheet, rows[0][i])
			}
		}
		for r, row := range table.Rows {
			for i, c := range row.Cells {
				if c.Number == nil {
					continue
				}
				at, _ := excelize.CoordinatesToCellName(i+1, r+2)
				kind, err := f.GetCellType(sheet, at)
				if err != nil || kind != excelize.CellTypeUnset && kind != excelize.CellTypeNumber {
					t.Fatalf("sheet %q, %s: %v is not a number (%v)", sheet, at, *c.Number, err)
				}
				var got float64
				text, _ := f.GetCellValue(sheet, at, excelize.Options{RawCellValue: true})
				if err := json.Unmarshal([]byte(text), &got); err != nil || math.Abs(got-*c.Number) > 1e-14*math.Abs(*c.Number) { // 15 digits are read back
					t.Fatalf("sheet %q, %s: %s, want %v", sheet, at, text, *c.Number)
				}
				cells++
			}
		}
	}
	if cells < 1000 {
		t.Errorf("%d numbers: this test would check little", cells)
	}
}

// TestXLSXTextStaysText: a name that begins as a formula does is no formula,
// and names of sheets are made acceptable and unlike.
func TestXLSXTextStaysText(t *testing.T) {
	cell := Words(`=HYPERLINK("x")`)
	table := func(name string) *Table {
		return &Table{Name: name, Columns: []Column{{Head: "a", Key: true}}, Rows: []Row{{Cells: []Cell{cell}}}}
	}
	b := &Book{Title: "=1+1", Name: "Dossier", Chapters: []Section{{Blocks: []Block{table("a/b: a name that is much too long for a sheet"), table("A/B: a name that is much too long for a sheet"), table("cover")}}}}
	data, err := XLSX(b)
	if err != nil {
		t.Fatal(err)
	}
	f, err := excelize.OpenReader(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	sheets := f.GetSheetList()
	if len(sheets) != 4 {
		t.Fatalf("sheets are %q", sheets)
	}
	for _, s := range sheets[1:] {
		formula, _ := f.GetCellFormula(s, "A2")
		text, _ := f.GetCellValue(s, "A2")
		if formula != "" || text != cell.Text {
			t.Errorf("sheet %q: formula %q, text %q", s, formula, text)
		}
	}
}

// TestZones: what lies beyond each device of Velmora's main line and laterals,
// by hand from the list of its sections. Kind: derived.
func TestZones(t *testing.T) {
	_, in := demo(t, "velmora")
	want := map[string]struct{ buses, end string }{
		"CS-T1": {"N0", "N0"}, // as far as 52M, which stands at N0
		"52M":   {"N0", "N0"}, "52-11": {"N1 N2 N3", "N3"}, "R1": {"N4 N5 N6 N7", "N7"}, "R2": {"PV", "PV"},
		"52-21": {"Q1", "Q1"}, "F-L1": {"L1-end", "L1-end"}, "F-L2": {"L2-end", "L2-end"}, "F-L3": {"L3-end", "L3-end"}, "F-TQ": {"Q0", "Q0"}, // the tie S7 is open
	}
	if len(in.zones) != len(want) {
		t.Errorf("%d zones, want %d", len(in.zones), len(want))
	}
	for _, z := range in.zones {
		var names []string
		for _, n := range z.buses {
			names = append(names, in.sweep.places[n])
		}
		w := want[z.device.Name]
		if got := strings.Join(names, " "); got != w.buses || in.sweep.places[z.end] != w.end {
			t.Errorf("%s: %s, end %s; want %s, end %s", z.device.Name, got, in.sweep.places[z.end], w.buses, w.end)
		}
	}
}

// TestLimits: the list of what is left out comes from the page about methods.
func TestLimits(t *testing.T) {
	blocks, err := limits(&Input{})
	if err != nil {
		t.Fatal(err)
	}
	list := blocks[1].(List)
	if len(list.Items) < 5 {
		t.Errorf("%d limits", len(list.Items))
	}
	if got := markdown("the `practice` key, **not** *yet* used").String(); got != "the practice key, not yet used" {
		t.Errorf("markdown reads as %q", got)
	}
}

func BenchmarkDossier(b *testing.B) {
	for b.Loop() {
		book, _ := demo(b, "velmora")
		HTML(book, A4)
		if _, err := PDF(book, A4); err != nil {
			b.Fatal(err)
		}
		if _, err := XLSX(book); err != nil {
			b.Fatal(err)
		}
	}
}
