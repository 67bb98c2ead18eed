package tables

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"path"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"feederwright/quantity"
	"feederwright/study"
)

// Names of the files of the study that tables become. The cable schedule has
// a file of its own: that a line stands there is what makes it a row of the
// schedule when the study is written as tables again.
const (
	MainFile  = "study.yaml"
	CableFile = "cables.yaml"
)

// A Head is what holds for the whole study, where the tables don't say it.
type Head struct {
	Title     string
	Frequency string // as 50 Hz
}

// An Import is what came of a set of tables.
type Import struct {
	Files   []study.SourceFile // the study, main file first; none where something is wrong
	Study   *study.Document    // the same as it was read
	Tables  []string           // files that were read
	Ignored []Cell             // headings of columns that were left out because they begin with #
}

// Read makes a study of the tables in the root of a folder. Any table may be
// absent but that of the buses. The mistakes are all that was found, in order
// of place; where one of them is an error there is no study.
func Read(fsys fs.FS, head Head) (*Import, Mistakes) {
	r := &reader{
		bad: make(map[string]map[string]string), good: make(map[string][]string), known: make(map[string]map[string]bool),
		main: &studyFile{name: MainFile}, cables: &studyFile{name: CableFile},
		im: &Import{}, seen: make(map[string]bool), compared: maxCompared,
	}
	r.load(fsys)
	for _, s := range r.sheets {
		r.headings(s)
	}
	for _, s := range r.sheets {
		r.define(s)
	}
	r.build(head)
	r.check()
	r.ms.sort()
	refused := r.ms.Errors() > 0
	r.gather()
	r.cut()
	if refused {
		return &Import{Tables: r.im.Tables, Ignored: r.im.Ignored}, r.ms
	}
	return r.im, r.ms
}

const (
	maxMistakes = 1000 // shown
	maxKept     = 5000 // gathered before they are sorted and cut
	// maxCompared bounds the spelling suggestions: names compared with a
	// mistyped one, over all mistakes.
	maxCompared = 200_000
)

const unitless = " has no unit"

// gather puts cells of a column that have no unit into one mistake: that the
// unit of a column is missing is one thing to mend, in its heading.
func (r *reader) gather() {
	type column struct{ file, letter string }
	rows := make(map[column][]string)
	for _, m := range r.ms {
		if strings.HasSuffix(m.Problem, unitless) {
			at := column{m.Cell.File, m.Cell.Column}
			rows[at] = append(rows[at], strconv.Itoa(m.Cell.Row))
		}
	}
	const few = 3
	first := make(map[column]bool)
	kept := r.ms[:0]
	for _, m := range r.ms {
		at := column{m.Cell.File, m.Cell.Column}
		if others := rows[at]; strings.HasSuffix(m.Problem, unitless) && len(others) > few {
			if first[at] {
				continue
			}
			first[at] = true
			others = others[1:]
			if shown := 10; len(others) > shown {
				m.Problem += fmt.Sprintf(", nor have those in rows %s and %d more below it", strings.Join(others[:shown], ", "), len(others)-shown)
			} else {
				m.Problem += ", nor have those in rows " + listed(others, "and")
			}
		}
		kept = append(kept, m)
	}
	r.ms = kept
}

// cut leaves no more mistakes than anybody reads.
func (r *reader) cut() {
	if len(r.ms) <= maxMistakes && r.untold == 0 {
		return
	}
	keep := min(len(r.ms), maxMistakes)
	rest := r.ms[keep:]
	last := Mistake{Severity: study.Warning, Cell: r.ms[keep-1].Cell, Object: "the tables", Problem: fmt.Sprintf("have %d more mistakes from here on", len(rest)+r.untold), Fix: "mend those above first"}
	if rest.Errors() > 0 || r.untold > 0 {
		last.Severity = study.Error
	}
	r.ms = append(r.ms[:keep:keep], last)
}

// A reader makes a study of tables.
type reader struct {
	sheets []*input                     // in the order of the tables
	bad    map[string]map[string]string // by kind: names that can't stand, and what stands for them
	good   map[string][]string          // by kind: the others, in order
	known  map[string]map[string]bool   // the same to look up
	main   *studyFile
	cables *studyFile
	im     *Import
	ms     Mistakes
	untold int // beyond those kept
	seen   map[string]bool
	// compared is how many names may still be compared for suggestions.
	compared int
}

// An input is a sheet with what its columns are.
type input struct {
	*sheet
	table   *table
	top     int       // row of the headings, from 0
	columns []*column // by position; nil for one that is not read
	units   []string  // by position, from the headings
	known   []*column // all that the table may have
	comma   bool      // decimals are written with a comma
	refused bool      // it is no table at all, which is told
}

func (in *input) find(heading string) int {
	return slices.IndexFunc(in.columns, func(c *column) bool { return c != nil && c.heading == heading })
}

// tell adds a mistake, once.
func (r *reader) tell(m Mistake) {
	id := fmt.Sprint(m.Cell.File, m.Cell.Row, m.Cell.Column, m.Cell.Place.Start, m.Problem)
	if r.seen[id] {
		return
	}
	r.seen[id] = true
	if len(r.ms) >= maxKept {
		r.untold++
		return
	}
	r.ms = append(r.ms, m)
}

// cell is a place of a sheet; start and end, within the cell's text, may be
// −1 for all of it.
func (s *sheet) cell(row, column, start, end int) Cell {
	c := Cell{File: s.name}
	if row < 0 || row >= len(s.rows) {
		return c
	}
	rec := &s.rows[row]
	c.Row = rec.number
	if column < 0 {
		c.Place = s.mark(rec.fields[0].start, rec.fields[0].start)
		return c
	}
	c.Column = letters(column)
	if column >= len(rec.fields) {
		c.Place = s.mark(rec.end, rec.end)
		return c
	}
	f := rec.fields[column]
	c.Text = f.text
	if f.verbatim {
		c.Text = s.text[f.start:f.end] // as typed, decimal commas and all
	}
	if start < 0 || !f.verbatim {
		start, end = 0, f.end-f.start
	}
	c.Place = s.mark(f.start+start, f.start+max(start, end))
	return c
}

// at is a place of an input, with the heading of its column.
func (in *input) at(row, column int) Cell {
	c := in.cell(row, column, -1, -1)
	if column >= 0 && in.top < len(in.rows) && column < len(in.rows[in.top].fields) {
		c.Heading = in.rows[in.top].fields[column].text
	}
	return c
}

// complain tells of a cell of an input.
func (r *reader) complain(severity study.Severity, in *input, row, column int, object, problem, why, fix string, related ...Related) {
	c := in.at(row, column)
	r.tell(Mistake{Severity: severity, Cell: c, Object: object, Problem: problem, Why: why, Fix: fix, Excerpt: in.line(c.Place.Line), Related: related})
}

// load opens the tables of the folder.
func (r *reader) load(fsys fs.FS) {
	list, err := fs.ReadDir(fsys, ".")
	if err != nil {
		r.tell(Mistake{Severity: study.Error, Cell: Cell{File: "."}, Object: "the folder", Problem: fmt.Sprintf("cannot be read: %v", reason(err))})
		return
	}
	byFile := make(map[string][]string) // table to files, which may differ by capitals
	var files []string
	for _, t := range all {
		files = append(files, t.file)
	}
	for _, e := range list {
		name := e.Name()
		lower := strings.ToLower(name)
		if e.IsDir() {
			continue
		}
		if slices.Contains(files, lower) {
			byFile[lower] = append(byFile[lower], name)
			continue
		}
		near, like := quantity.Nearest(strings.TrimSuffix(lower, path.Ext(lower)), bases(files))
		switch ext := path.Ext(lower); {
		case ext != ".csv" && ext != ".xlsx" && ext != ".xls" && ext != ".ods" && ext != ".tsv":
		case ext == ".csv" && like && !r.has(list, near+".csv"):
			r.tell(Mistake{Severity: study.Error, Cell: Cell{File: name}, Object: "the table", Problem: "has a name that is not known", Why: "what stands in a table is told by its name", Fix: "call it " + near + ".csv"})
		case ext == ".csv":
			r.tell(Mistake{Severity: study.Warning, Cell: Cell{File: name}, Object: "the table", Problem: "is not read", Why: "tables are called " + listed(files, "and"), Fix: "give it one of these names, or take it out of the folder"})
		default:
			r.tell(Mistake{Severity: study.Warning, Cell: Cell{File: name}, Object: "the file", Problem: "is not read", Why: "tables are files of comma-separated values", Fix: workbook})
		}
	}
	for _, t := range all {
		names := byFile[t.file]
		if len(names) > 1 {
			r.tell(Mistake{Severity: study.Error, Cell: Cell{File: names[1]}, Object: "the table", Problem: "stands beside " + names[0], Why: "capitals don't count in the names of tables", Fix: "put the two together"})
		}
		if len(names) == 0 {
			if t.key == "buses" {
				r.tell(Mistake{Severity: study.Error, Cell: Cell{File: t.file}, Object: "the table", Problem: "is not there", Why: "everything else is connected to buses", Fix: "make it, with the columns name and voltage; the templates show how"})
			}
			continue
		}
		r.im.Tables = append(r.im.Tables, names[0])
		b, err := readFile(fsys, names[0])
		if err != nil {
			r.tell(Mistake{Severity: study.Error, Cell: Cell{File: names[0]}, Object: "the table", Problem: fmt.Sprintf("cannot be read: %v", reason(err))})
			continue
		}
		text, slips := decode(b)
		in := &input{table: t, known: t.columns}
		var more []slip
		in.sheet, more = newSheet(names[0], text, in.isHeading)
		in.refused = text == "" && len(slips) > 0
		for _, s := range append(slips, more...) {
			c := in.cell(s.row, s.column, -1, -1)
			if s.severity == study.Warning && s.row < 0 {
				c = in.firstBeyondASCII()
			}
			r.tell(Mistake{Severity: s.severity, Cell: c, Object: "the table", Problem: s.problem, Why: s.why, Fix: s.fix, Excerpt: in.line(c.Place.Line)})
		}
		r.sheets = append(r.sheets, in)
	}
}

// firstBeyondASCII is the first cell with a letter that is not ASCII.
func (s *sheet) firstBeyondASCII() Cell {
	for i := range s.rows {
		for j, f := range s.rows[i].fields {
			if strings.ContainsFunc(f.text, func(r rune) bool { return r >= utf8.RuneSelf }) {
				return s.cell(i, j, -1, -1)
			}
		}
	}
	return s.cell(-1, -1, -1, -1)
}

func bases(files []string) []string {
	var list []string
	for _, f := range files {
		list = append(list, strings.TrimSuffix(f, ".csv"))
	}
	return list
}

func (r *reader) has(list []fs.DirEntry, file string) bool {
	return slices.ContainsFunc(list, func(e fs.DirEntry) bool { return strings.ToLower(e.Name()) == file })
}

func readFile(fsys fs.FS, name string) ([]byte, error) {
	f, err := fsys.Open(name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return io.ReadAll(io.LimitReader(f, maxBytes+1))
}

// reason is what the system says, without the operation and path around it.
func reason(err error) error {
	var pe *fs.PathError
	if errors.As(err, &pe) {
		return pe.Err
	}
	return err
}

func (in *input) byName(name string) *column {
	for _, c := range in.known {
		if c.heading == name {
			return c
		}
	}
	return nil
}

func (in *input) isHeading(text string) bool {
	name, _ := withUnit(plain(text))
	return in.byName(name) != nil
}

// title says that rows stand above the headings, if they do.
func (r *reader) title(in *input) {
	if headingsIn(in.rows[in.top], in.isHeading) > 0 {
		return
	}
	for i, tried := in.top+1, 0; i < len(in.rows) && tried < aboveHeadings; i++ {
		if in.rows[i].blank() {
			continue
		}
		tried++
		if headingsIn(in.rows[i], in.isHeading) >= 2 {
			r.complain(study.Error, in, in.top, 0, "the table", short(in.rows[in.top].fields[0].text)+fmt.Sprintf(" stands above the headings, which are in row %d", in.rows[i].number), "the first row names the columns", "take out the rows above them")
			in.top = i
			return
		}
	}
}

// headings finds out what the columns of a sheet are.
func (r *reader) headings(in *input) {
	for in.top < len(in.rows) && in.rows[in.top].blank() {
		in.top++
	}
	if in.top == len(in.rows) {
		if !in.refused {
			r.complain(study.Error, in, -1, -1, "the table", "is empty", "its first row names the columns", "write the headings "+listed(in.needed(), "and")+", or take the file away")
		}
		return
	}
	r.title(in)
	top := in.rows[in.top].fields
	in.columns = make([]*column, len(top))
	in.units = make([]string, len(top))
	first := make(map[*column]int)
	var unknown []int
	for i, f := range top {
		if f.text == "" {
			used := slices.IndexFunc(in.rows[in.top+1:], func(rec record) bool { return i < len(rec.fields) && rec.fields[i].text != "" })
			if used >= 0 {
				r.complain(study.Error, in, in.top, i, "the table", fmt.Sprintf("column %s has no heading, but row %d has %s in it", letters(i), in.rows[in.top+1+used].number, short(in.rows[in.top+1+used].fields[i].text)),
					"the first row names the columns", "name it; a heading that begins with # leaves the column out")
			}
			continue
		}
		if strings.HasPrefix(f.text, "#") && !isSheetError(f.text) {
			r.im.Ignored = append(r.im.Ignored, in.at(in.top, i))
			continue
		}
		name := plain(f.text)
		c, unit := in.byName(name), ""
		if c == nil {
			_, unit = withUnit(f.text) // in the capitals as typed
			name, _ = withUnit(name)
			c = in.byName(name)
		}
		if c == nil {
			unknown = append(unknown, i)
			continue
		}
		if j, twice := first[c]; twice {
			r.complain(study.Error, in, in.top, i, "the table", fmt.Sprintf("the column %s stands there twice", c.heading), "two statements of one thing may differ", "take one of them out",
				Related{Cell: in.at(in.top, j), Text: "first here", Excerpt: in.line(in.at(in.top, j).Place.Line)})
			continue
		}
		first[c] = i
		in.columns[i] = c
		if unit != "" {
			in.units[i] = r.unit(in, i, c, unit)
		}
	}
	var missing []*column
	for _, c := range in.known {
		if _, there := first[c]; !there && c.need {
			missing = append(missing, c)
		}
	}
	for _, i := range unknown {
		r.unknown(in, i, first, &missing)
	}
	for _, c := range missing {
		if in.table.key == "" {
			continue // the command may say it
		}
		r.complain(study.Error, in, in.top, -1, "the table", fmt.Sprintf("has no column %q", c.heading), lower(c.doc), fmt.Sprintf("add it, with cells such as %s", c.sample))
	}
}

func (in *input) needed() []string {
	var list []string
	for _, c := range in.known {
		if c.need {
			list = append(list, c.heading)
		}
	}
	return list
}

// unknown tells of a heading that is not known. A column that it probably
// means is not told to be missing.
func (r *reader) unknown(in *input, i int, first map[*column]int, missing *[]*column) {
	typed := in.rows[in.top].fields[i].text
	name, _ := withUnit(plain(typed))
	var free, names []string
	for _, c := range in.known {
		names = append(names, c.heading)
		if _, taken := first[c]; !taken {
			free = append(free, c.heading)
		}
	}
	near, ok := synonyms[name]
	if !ok || !slices.Contains(free, near) {
		near, ok = quantity.Nearest(name, free)
	}
	const leave = "; or begin the heading with # to leave the column out"
	why := "columns are called as the keys of the study"
	if ok {
		*missing = slices.DeleteFunc(*missing, func(c *column) bool { return c.heading == near })
		r.complain(study.Error, in, in.top, i, "the table", fmt.Sprintf("has no column %s; did you mean %q?", short(typed), near), why, "write "+near+leave)
		return
	}
	r.complain(study.Error, in, in.top, i, "the table", fmt.Sprintf("has no column %s", short(typed)), why, "the columns are "+listed(names, "and")+leave)
}

// unit checks the unit of a heading, and returns it as the study writes it.
func (r *reader) unit(in *input, i int, c *column, typed string) string {
	if slices.Contains(c.units, typed) {
		return typed
	}
	heading := in.rows[in.top].fields[i].text
	if len(c.units) == 0 {
		r.complain(study.Error, in, in.top, i, "column "+strconv.Quote(c.heading), fmt.Sprintf("%s is given as its unit, but it has none", typed), lower(c.doc), "write "+c.heading)
		return ""
	}
	fix := "write " + c.heading + " (" + c.unit() + ")"
	for _, u := range c.units {
		if strings.EqualFold(u, typed) {
			fix = "write " + c.heading + " (" + u + "): capitals matter"
			break
		}
	}
	r.complain(study.Error, in, in.top, i, "column "+strconv.Quote(c.heading), fmt.Sprintf("%s is not a unit that stands here, in %s", typed, short(heading)), "its units are "+listed(c.units, "and"), fix)
	return ""
}

// lower begins a sentence in lower case, as it stands after "why:".
func lower(text string) string {
	r := []rune(text)
	if len(r) > 1 && unicode.IsUpper(r[0]) && unicode.IsLower(r[1]) {
		r[0] = unicode.ToLower(r[0])
	}
	return strings.TrimSuffix(string(r), ".")
}

// rows are the rows of data: those below the headings that are not blank.
func (in *input) data() []int {
	var list []int
	for i := in.top + 1; i < len(in.rows); i++ {
		if !in.rows[i].blank() {
			list = append(list, i)
		}
	}
	return list
}

// field is a cell of a row; one beyond its end is empty.
func (in *input) field(row, column int) field {
	rec := &in.rows[row]
	if column < 0 || column >= len(rec.fields) {
		return field{start: rec.end, end: rec.end, verbatim: true}
	}
	return rec.fields[column]
}

// What spreadsheets put into a cell whose formula failed, or which is too narrow.
var sheetError = regexp.MustCompile(`^(#(REF|N/A|NAME|VALUE|DIV/0|NUM|NULL|SPILL|CALC|FIELD|BEZUG|NV|WERT|ZAHL|¡REF|¡VALOR)[!?]?|#{2,}|Err:\d+)$`)

func isSheetError(text string) bool { return sheetError.MatchString(text) }

// What spreadsheets make of texts such as 1-2 or 3/4 that they take for dates.
var sheetDate = regexp.MustCompile(`(?i)^(\d{1,2}[-. ]{1,2}(jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec|mrz|mai|okt|dez)[a-z]{0,6}([-. ]\d{2,4})?|(jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec|mrz|mai|okt|dez)[a-z]{0,6}[-. ]{1,2}\d{1,4}|\d{1,2}[./]\d{1,2}[./](\d\d|\d{4})|\d{4}-\d{2}-\d{2}( 00:00:00)?)$`)

// What they make of numbers with many digits, or of texts such as 12E4.
var sheetExponent = regexp.MustCompile(`^\d([.,]\d+)?E\+\d+$`)

const noName = "names stand in commands and in the places of faults, as lg:A@N3"

// define gives the rows of a sheet the names that the study gets. A name that
// can't be one gets another, so that what refers to it is not blamed.
func (r *reader) define(in *input) {
	r.decimals(in)
	r.slips(in)
	at := in.find("name")
	if in.table.key == "" {
		return
	}
	kind := in.table.kind
	if r.bad[kind] == nil {
		r.bad[kind], r.known[kind] = make(map[string]string), make(map[string]bool)
	}
	cables := make(map[string]int)
	for _, row := range in.data() {
		f := in.field(row, at)
		if at < 0 {
			continue
		}
		if f.broken { // it may well be the name that others refer to
			r.known[kind][f.text] = true
			continue
		}
		object := in.table.kind
		bad := func(problem, fix string) {
			r.complain(study.Error, in, row, at, object, problem, noName, fix)
			r.bad[kind][f.text] = fmt.Sprintf("unreadable %d of %s", in.rows[row].number, in.name)
		}
		switch {
		case f.text == "":
			r.complain(study.Error, in, row, at, object, "has no name", noName, "give it a name")
		case sheetExponent.MatchString(f.text):
			bad(f.text+" is a number that the spreadsheet has shortened", "format the column as text, and type the name again")
		case strings.ContainsAny(f.text, "/@+"):
			bad(fmt.Sprintf("the name %s has one of the characters / @ + in it", short(f.text)), "write "+strings.NewReplacer("/", "-", "@", "-", "+", "-").Replace(f.text)+", here and where it is referred to")
		case strings.ContainsFunc(f.text, unicode.IsControl):
			bad(fmt.Sprintf("the name %s has a line break or a control character in it", short(f.text)), "write it on one line")
		case len(f.text) > maxName:
			bad(fmt.Sprintf("the name %s has %d bytes; %d is the most", short(f.text), len(f.text), maxName), "shorten it, and put the rest into the note")
		case sheetDate.MatchString(f.text):
			r.complain(study.Warning, in, row, at, fmt.Sprintf("%s %q", object, f.text), "the name looks like a date",
				"spreadsheets take names such as 1-2 for dates and change them", "if another name was meant, format the column as text and type it again")
		}
		if _, bad := r.bad[kind][f.text]; !bad && f.text != "" && !r.known[kind][f.text] {
			r.known[kind][f.text] = true
			r.good[kind] = append(r.good[kind], f.text)
		}
		if in.table.cables && f.text != "" {
			if before, twice := cables[f.text]; twice {
				r.complain(study.Error, in, row, at, fmt.Sprintf("%s %q", object, f.text), "is defined twice", "a name means one thing", "rename one of them, or delete it; for cables in parallel write their number under runs",
					Related{Cell: in.at(before, at), Text: "first defined here", Excerpt: in.line(in.at(before, at).Place.Line)})
			} else {
				cables[f.text] = row
			}
		}
	}
}

const maxName = 100 // bytes, as in the study

// slips tells of cells that hold what only a spreadsheet means, and of cells
// beyond the headings.
func (r *reader) slips(in *input) {
	for _, row := range in.data() {
		fields := in.rows[row].fields
		for i := range fields {
			f := &fields[i]
			if f.text == "" || f.broken || i < len(in.columns) && in.columns[i] == nil {
				continue
			}
			if i >= len(in.columns) {
				r.complain(study.Error, in, row, i, "the table", fmt.Sprintf("%s stands beyond the last heading", short(f.text)),
					"a separator inside a text, or a decimal comma, moves what follows by a column", `put quotes (") round the cell that has the separator in it, and write decimals with a dot`)
				for j := range fields {
					fields[j].broken = true // which cell belongs under which heading is not known
				}
				break
			}
			c := in.columns[i]
			tell := func(problem, why, fix string) {
				r.complain(study.Error, in, row, i, r.object(in, row, c), problem, why, fix)
				f.broken = true
			}
			switch {
			case isSheetError(f.text) && f.verbatim:
				tell(f.text+" stands here, not a value", "the spreadsheet could not work the cell out, or had no room to show it", "mend the formula, or widen the column, and save the table again")
			case strings.HasPrefix(f.text, "=") && f.verbatim:
				tell(short(f.text)+" is a formula, not its value", "a table is read as it stands; nothing is worked out", "save the table with values instead of formulas; a text that begins with = is written ="+`"=..."`)
			case c.number && c.refers == "" && sheetDate.MatchString(f.text):
				tell(f.text+" is a date", "spreadsheets take texts such as 10/4 for dates and change them", "format the column as text, and write it again, as "+c.sample)
			}
		}
	}
}

// object is what a row is called in messages, with a column of it.
func (r *reader) object(in *input, row int, c *column) string {
	text := in.table.kind
	if at := in.find("name"); at >= 0 && in.field(row, at).text != "" {
		text += " " + strconv.Quote(in.field(row, at).text)
	}
	if in.table.key == "" {
		text = "the study"
	}
	if c != nil && c.kind != nameColumn {
		text += ", " + c.heading
	}
	return text
}

var (
	decimalComma = regexp.MustCompile(`\d,\d`)
	thousandDot  = regexp.MustCompile(`(?:^|[^\d.,])[1-9]\d{0,2}\.\d{3}(?:[^\d.,]|$)`)
	bothMarks    = regexp.MustCompile(`\d\.\d{3},\d`)
)

// decimals finds out whether a sheet writes decimals with a comma, which only
// one can whose separator is another, and makes dots of the commas. In such a
// sheet a dot with three digits after it may mark thousands: 1.200 m is then
// one kilometre and more, and nobody but the author knows.
func (r *reader) decimals(in *input) {
	if in.sep == ',' {
		return
	}
	each := func(visit func(row, i int, f *field)) {
		for _, row := range in.data() {
			for i := range in.rows[row].fields {
				if i < len(in.columns) && in.columns[i] != nil && in.columns[i].number {
					visit(row, i, &in.rows[row].fields[i])
				}
			}
		}
	}
	each(func(_, _ int, f *field) { in.comma = in.comma || decimalComma.MatchString(f.text) })
	if !in.comma {
		return
	}
	each(func(row, i int, f *field) {
		object := r.object(in, row, in.columns[i])
		switch {
		case bothMarks.MatchString(f.text):
			r.complain(study.Error, in, row, i, object, short(f.text)+" has a dot for thousands and a decimal comma", "digits are not grouped in a table", "take the dot out")
			f.broken = true
		case thousandDot.MatchString(f.text):
			r.complain(study.Error, in, row, i, object, short(f.text)+" can be read in two ways", "other cells of this table have decimal commas, so the dot may mark thousands", "write the decimal with a comma, or take the dot out")
			f.broken = true
		default:
			f.text = withDots(f.text)
		}
	})
}

// withDots makes dots of decimal commas.
func withDots(text string) string {
	return decimalComma.ReplaceAllStringFunc(text, func(s string) string { return strings.Replace(s, ",", ".", 1) })
}

// build writes the study files.
func (r *reader) build(head Head) {
	r.main.write("# Made from tables: " + strings.Join(r.im.Tables, ", ") + ".\nfeederwright: 1\n")
	r.head(head)
	rows := make(map[string][]entry)
	var cables []entry
	for _, in := range r.sheets {
		switch {
		case in.table.key == "":
		case in.table.cables:
			cables = r.entries(in)
		case in.table.levels != nil:
			rows[in.table.key] = r.infeeds(in)
		default:
			rows[in.table.key] = r.entries(in)
		}
	}
	if len(cables) > 0 {
		r.main.write("include: [" + CableFile + "]\n")
		r.cables.write("# The cable schedule, made from cables.csv.\nlines:\n")
		for _, e := range cables {
			r.cables.entry(e)
		}
	}
	for _, t := range all {
		list := rows[t.key]
		if t.key == "" || t.cables {
			continue
		}
		if len(list) == 0 {
			if in := r.input(t); in != nil && t.key == "buses" && !in.refused && in.find("name") >= 0 {
				r.complain(study.Error, in, in.top, -1, "the table", "has no rows below its headings", "everything else is connected to buses", "write a row for each bus")
			}
			if t.key == "supply" { // its absence is told of the tables
				r.main.write("\nsupply: {}\n")
			}
			continue
		}
		r.main.write("\n" + t.key + ":\n")
		for _, e := range list {
			r.main.entry(e)
		}
	}
	r.conditions(rows["supply"])
}

func (r *reader) input(t *table) *input {
	for _, in := range r.sheets {
		if in.table == t {
			return in
		}
	}
	return nil
}

// conditions writes one condition for each level that all infeeds have, where
// there are several: without, the weaker ones would not be looked at.
func (r *reader) conditions(infeeds []entry) {
	count := make(map[string]int)
	var order []string
	for _, e := range infeeds {
		for _, p := range e.pairs {
			if p.group != nil {
				if count[p.key] == 0 {
					order = append(order, p.key)
				}
				count[p.key]++
			}
		}
	}
	order = slices.DeleteFunc(order, func(level string) bool { return count[level] < len(infeeds) })
	if len(order) < 2 {
		return
	}
	r.main.write("\nconditions:\n")
	for _, level := range order {
		r.main.write("  " + level + ": { infeed: " + level + " }\n")
	}
}

// head writes what holds for the whole study.
func (r *reader) head(head Head) {
	said := make(map[string]bool)
	for _, in := range r.sheets {
		if in.table.key != "" {
			continue
		}
		rows := in.data()
		if len(rows) == 0 {
			break
		}
		for _, row := range rows[1:] {
			r.complain(study.Error, in, row, 0, "the study", "has a second row", "what holds for the whole study is said once", "take it out")
		}
		for i, c := range in.columns {
			if c == nil {
				continue
			}
			if p, ok := r.pair(in, rows[0], i); ok {
				said[c.heading] = true
				r.main.key(p)
				r.main.write("\n")
			}
		}
	}
	none := cellRef{sheet: &sheet{name: "study.csv"}, row: -1, column: -1}
	for _, h := range []struct{ key, text, sample string }{{"study", head.Title, "Works feeder 4"}, {"frequency", head.Frequency, "50 Hz"}} {
		switch {
		case said[h.key]:
		case h.text != "":
			r.main.write(h.key + ": ")
			r.main.put(scalar(h.text, false, none, false))
			r.main.write("\n")
		default:
			r.main.write(h.key + ": ")
			r.main.put(part{text: `"?"`, at: none, from: -1, silent: true})
			r.main.write("\n")
			r.tell(Mistake{Severity: study.Error, Cell: Cell{File: "study.csv"}, Object: "the study", Problem: "has no " + strings.Replace(h.key, "study", "title", 1), Why: "it holds for the whole study",
				Fix: fmt.Sprintf("give study.csv a column %s, and %s in the row below, with your own data; or give it with the command", h.key, h.sample)})
		}
	}
}

// pair is a cell as a key with its value; false where nothing is given. A
// cell that must have something gets what the study refuses in silence.
func (r *reader) pair(in *input, row, i int) (pair, bool) {
	c := in.columns[i]
	f := in.field(row, i)
	at := cellRef{in.sheet, row, i}
	p := pair{key: c.heading}
	if f.text == "" {
		if !c.need || in.table.key == "" {
			return p, false
		}
		if !f.broken && !r.rowBroken(in, row) {
			r.complain(study.Error, in, row, i, r.object(in, row, nil), fmt.Sprintf("%s is empty", c.heading), lower(c.doc), "write it, as "+r.example(c))
		}
		p.value = []part{{text: `"?"`, at: at, from: -1, silent: true}}
		return p, true
	}
	text, verbatim := f.text, f.verbatim
	if c.number {
		if spaced := strings.Map(func(r rune) rune {
			if unicode.IsSpace(r) {
				return ' '
			}
			return r
		}, text); spaced != text {
			text, verbatim = spaced, verbatim && len(spaced) == len(text)
		}
		if !f.broken {
			text = r.unitFor(in, row, i, text, &f.broken)
		}
	}
	switch c.kind {
	case listColumn:
		p.value = list(text, verbatim, at, f.broken)
	case matrixColumn:
		p.value = matrix(text, verbatim, at, f.broken)
	default:
		if c.refers != "" {
			text, f.broken = r.refer(in, row, i, text, f.broken)
			verbatim = verbatim && text == f.text
		}
		p.value = []part{scalar(text, verbatim, at, f.broken)}
	}
	return p, true
}

// refer looks up what a cell refers to and returns what stands for it in the
// study, and whether it is told to be wrong.
func (r *reader) refer(in *input, row, i int, text string, broken bool) (string, bool) {
	c := in.columns[i]
	kinds := strings.Split(c.refers, "|")
	for _, kind := range kinds {
		if other, bad := r.bad[kind][text]; bad {
			return other, true
		}
		if kind == "line" && r.known[kind][text] && !broken && r.inRuns(text) {
			r.complain(study.Error, in, row, i, r.object(in, row, c), fmt.Sprintf("%q is a cable of several runs", text), "each run is a line of its own in the study, named "+runName(text, 1)+" and so on",
				"name one run; what stands before all of them needs a bus between")
			return text, true
		}
	}
	var files, names []string
	kinds = slices.DeleteFunc(kinds, func(kind string) bool { return len(filesOf(kind)) == 0 })
	for _, kind := range kinds {
		if broken || r.known[kind][text] {
			return text, broken
		}
		if !r.hasNames(kind) {
			return text, true
		}
		files = append(files, filesOf(kind)...)
		names = append(names, r.good[kind]...)
	}
	problem := fmt.Sprintf("there is no %s %q in %s", listed(kinds, "or"), text, listed(files, "or"))
	fix := "add it to " + listed(files, "or")
	near, ok := "", false
	if len(names) <= r.compared {
		r.compared -= len(names)
		near, ok = quantity.Nearest(text, names)
	}
	switch {
	case ok:
		problem += fmt.Sprintf("; did you mean %q?", near)
		fix = "write " + near
	case 0 < len(names) && len(names) <= 12:
		fix = "write " + listed(names, "or") + ", or " + fix
	}
	r.complain(study.Error, in, row, i, r.object(in, row, c), problem, "", fix)
	return text, true
}

// hasNames says whether the names of a kind could be read: where a table that
// has them is refused, what refers to it is not blamed.
func (r *reader) hasNames(kind string) bool {
	read := 0
	for _, in := range r.sheets {
		if in.table.kind == kind {
			read++
			if in.find("name") < 0 {
				return false
			}
		}
	}
	there := 0
	for _, name := range r.im.Tables {
		if slices.Contains(filesOf(kind), strings.ToLower(name)) {
			there++
		}
	}
	return read == there && (read > 0 || kind != "bus")
}

// filesOf are the tables that have rows of a kind.
func filesOf(kind string) []string {
	var files []string
	for _, t := range all {
		if t.kind == kind {
			files = append(files, t.file)
		}
	}
	return files
}

// inRuns says whether a name is that of a cable with several runs.
func (r *reader) inRuns(name string) bool {
	for _, in := range r.sheets {
		if !in.table.cables || in.find("runs") < 0 {
			continue
		}
		for _, row := range in.data() {
			if in.field(row, in.find("name")).text == name {
				n, ok := readRuns(in.field(row, in.find("runs")).text)
				return ok && n > 1
			}
		}
	}
	return false
}

func (r *reader) example(c *column) string {
	if c.sample == "NAME" && c.refers != "" {
		return "the name of a " + c.refers
	}
	return c.sample
}

func (r *reader) rowBroken(in *input, row int) bool {
	return slices.ContainsFunc(in.rows[row].fields, func(f field) bool { return f.broken })
}

// bare matches a number, a complex number or several numbers without a unit.
var bare = regexp.MustCompile(`^[-+−]?\s*j?\s*\d[-+−\d.,/eEj ]*$`)

// unitFor adds the unit of the heading to a cell that has none.
func (r *reader) unitFor(in *input, row, i int, text string, broken *bool) string {
	unit := in.units[i]
	c := in.columns[i]
	if unit == "" {
		return text
	}
	add := func(text string) string {
		text = strings.TrimSpace(text)
		switch {
		case bare.MatchString(text):
			return text + " " + unit
		case !strings.ContainsAny(text[:min(1, len(text))], "0123456789.+-") || hasUnit(text, unit):
			return text
		}
		if !*broken {
			r.complain(study.Error, in, row, i, r.object(in, row, c), fmt.Sprintf("%s under a heading that says %s", short(text), unit), "the cell may have its own unit only where it is that of the heading", "write the number in "+unit+", or take the unit out of the heading and write it in every cell")
			*broken = true
		}
		return text
	}
	if c.kind != matrixColumn {
		return add(text)
	}
	rows := strings.Split(text, "|")
	for i, row := range rows {
		cells := strings.Split(row, ";")
		for j, cell := range cells {
			cells[j] = add(cell)
		}
		rows[i] = strings.Join(cells, "; ")
	}
	return strings.Join(rows, " | ")
}

// hasUnit says whether a unit stands in a text as a word of its own.
func hasUnit(text, unit string) bool {
	for from := 0; ; {
		i := strings.Index(text[from:], unit)
		if i < 0 {
			return false
		}
		before, after := text[:from+i], text[from+i+len(unit):]
		if (before == "" || strings.ContainsAny(before[len(before)-1:], " 0123456789")) && (after == "" || after[0] == ' ') {
			return true
		}
		from += i + len(unit)
	}
}

// list writes names with commas between as a list.
func list(text string, verbatim bool, at cellRef, silent bool) []part {
	parts := []part{{text: "[", at: at, from: -1, silent: silent}}
	for i, item := range strings.FieldsFunc(text, func(r rune) bool { return r == ',' || r == ';' }) {
		if item = strings.TrimSpace(item); item == "" {
			continue
		}
		if i > 0 {
			parts = append(parts, part{text: ", ", at: at, from: -1, silent: silent})
		}
		parts = append(parts, scalar(item, false, at, silent))
	}
	return append(parts, part{text: "]", at: at, from: -1, silent: silent})
}

// matrix writes rows with bars between and entries with semicolons between as
// a list of lists.
func matrix(text string, verbatim bool, at cellRef, silent bool) []part {
	var b strings.Builder
	b.WriteString("[")
	for i, row := range strings.Split(text, "|") {
		if i > 0 {
			b.WriteString(", ")
		}
		b.WriteString("[")
		for j, cell := range strings.Split(row, ";") {
			if j > 0 {
				b.WriteString(", ")
			}
			b.WriteString(study.Scalar(strings.TrimSpace(cell)))
		}
		b.WriteString("]")
	}
	b.WriteString("]")
	return []part{{text: b.String(), at: at, from: -1, silent: silent}}
}

// name is the name of a row in the study.
func (r *reader) name(in *input, row int) (text string, p part) {
	at := in.find("name")
	f := in.field(row, at)
	ref := cellRef{in.sheet, row, at}
	if at >= 0 && f.text != "" && !f.broken {
		if other, bad := r.bad[in.table.kind][f.text]; bad {
			return other, scalar(other, false, ref, true)
		}
		return f.text, scalar(f.text, f.verbatim, ref, false)
	}
	if f.text != "" && len(f.text) <= maxName && !strings.ContainsAny(f.text, "/@+") && !strings.ContainsFunc(f.text, unicode.IsControl) {
		// A row that is out of step may well have its name in the right place.
		return f.text, scalar(f.text, f.verbatim, ref, true)
	}
	text = fmt.Sprintf("row %d of %s", in.rows[row].number, in.name)
	return text, scalar(strings.ReplaceAll(text, "/", "-"), false, ref, true)
}

// entries are the rows of a sheet as entries of the study.
func (r *reader) entries(in *input) []entry {
	var list []entry
	for _, row := range in.data() {
		text, name := r.name(in, row)
		e := entry{name: name}
		runs := 1
		for i, c := range in.columns {
			switch {
			case c == nil || c.kind == nameColumn:
			case c.kind == runsColumn:
				runs = r.runs(in, row, i)
			case c.kind == partColumn:
				if p, ok := r.halves(in, row, i); ok {
					e.pairs = append(e.pairs, p)
				}
			default:
				if p, ok := r.pair(in, row, i); ok {
					e.pairs = append(e.pairs, p)
				}
			}
		}
		r.absent(in, row, &e)
		if runs == 1 {
			list = append(list, e)
			continue
		}
		for n := 1; n <= runs; n++ {
			run := e
			run.name = scalar(runName(text, n), false, name.at, name.silent)
			list = append(list, run)
		}
		if len(list) > maxRows {
			r.complain(study.Error, in, row, -1, "the table", fmt.Sprintf("makes more than %d entries with its parallel runs, the most that is read", maxRows), "", "split the study")
			break
		}
	}
	return list
}

// halves makes an impedance of a resistance and a reactance that stand in
// columns of their own, when it comes to the first of them.
func (r *reader) halves(in *input, row, i int) (pair, bool) {
	c := in.columns[i]
	p := pair{key: c.part}
	suffix := strings.TrimPrefix(c.part, "z")
	at := [2]int{in.find("r" + suffix), in.find("x" + suffix)}
	var f [2]field
	var text, unit [2]string
	broken := false
	for k, column := range at {
		f[k] = in.field(row, column)
		broken = broken || f[k].broken
	}
	if f[0].text == "" && f[1].text == "" || i != at[0] && at[0] >= 0 {
		return p, false // nothing given, or done with the first
	}
	object := r.object(in, row, nil) + ", " + c.part
	refused := func() (pair, bool) {
		p.value = []part{{text: `"?"`, at: cellRef{in.sheet, row, i}, from: -1, silent: true}}
		return p, true
	}
	if broken {
		return refused()
	}
	if whole := in.find(c.part); whole >= 0 && in.field(row, whole).text != "" {
		r.complain(study.Error, in, row, i, object, fmt.Sprintf("%s is given beside %s", c.heading, c.part), "two statements of one thing may differ", "leave one of them",
			Related{Cell: in.at(row, whole), Text: c.part + " stands here", Excerpt: in.line(in.at(row, whole).Place.Line)})
		return p, false
	}
	for k, word := range []string{"resistance", "reactance"} {
		heading := []string{"r", "x"}[k] + suffix
		if f[k].text == "" {
			r.complain(study.Error, in, row, max(at[k], -1), object, fmt.Sprintf("%s is not given beside %s", heading, []string{"x", "r"}[k]+suffix), "an impedance needs both its resistance and its reactance", "write "+heading+", as "+c.sample)
			return refused()
		}
		text[k] = strings.TrimSpace(strings.TrimPrefix(r.unitFor(in, row, at[k], f[k].text, &broken), "j"))
		if broken {
			return refused()
		}
		var z quantity.SeriesImpedance
		if err := z.UnmarshalText([]byte(text[k])); err != nil {
			problem, fix := err.Error(), ""
			var qe *quantity.Error
			if errors.As(err, &qe) {
				problem, fix = qe.Problem, qe.Fix
				if strings.HasSuffix(problem, unitless) {
					fix = "write a " + word + " such as " + c.sample + r.orHeading(in.at(row, at[k]), heading)
				}
			}
			r.complain(study.Error, in, row, at[k], r.object(in, row, in.columns[at[k]]), problem, "", fix)
			return refused()
		}
		unit[k] = quantity.TypedUnit(text[k])
		if imag(z.Z) != 0 || unit[k] == "" {
			r.complain(study.Error, in, row, at[k], r.object(in, row, in.columns[at[k]]), short(f[k].text)+" is no "+word, "resistance and reactance stand in columns of their own here", "write one number with its unit, as "+c.sample)
			return refused()
		}
	}
	if unit[0] != unit[1] {
		r.complain(study.Error, in, row, at[1], r.object(in, row, in.columns[at[1]]), fmt.Sprintf("is in %s, and r%s in %s", unit[1], suffix, unit[0]), "the two make one impedance", "give both in the same unit")
		return refused()
	}
	number := func(k int) string { return strings.TrimSpace(strings.TrimSuffix(text[k], unit[k])) }
	// Where the unit is spelt otherwise (Ω, 1000 ft), the text keeps it and is still read.
	verbatim := func(k int, text string) int {
		if f[k].verbatim && strings.HasPrefix(f[k].text, text) {
			return 0
		}
		return -1
	}
	sign, x := " + j", number(1)
	if minus, negative := strings.CutPrefix(x, "-"); negative {
		sign, x = " - j", minus
	}
	z := number(0) + sign + x + " " + unit[0]
	var check quantity.SeriesImpedance
	if study.Scalar(z) != z || check.UnmarshalText([]byte(z)) != nil {
		r.complain(study.Error, in, row, i, object, fmt.Sprintf("%s and %s make no impedance", short(f[0].text), short(f[1].text)), "", "write both as "+c.sample)
		return refused()
	}
	p.value = []part{
		{text: number(0), at: cellRef{in.sheet, row, at[0]}, from: verbatim(0, number(0))},
		{text: sign, at: cellRef{in.sheet, row, at[1]}, from: -1},
		{text: x + " " + unit[0], at: cellRef{in.sheet, row, at[1]}, from: verbatim(1, x)},
	}
	return p, true
}

// absent gives a row the keys of columns that are told to be missing, so
// that the study does not miss them row by row.
func (r *reader) absent(in *input, row int, e *entry) {
	for _, c := range in.known {
		if c.need && c.kind == scalarColumn && !c.level && in.find(c.heading) < 0 {
			e.pairs = append(e.pairs, pair{key: c.heading, value: []part{{text: `"?"`, at: cellRef{in.sheet, row, -1}, from: -1, silent: true}}})
		}
	}
}

// runName is the name of one of several parallel cables.
func runName(name string, n int) string { return fmt.Sprintf("%s run %d", name, n) }

// maxRuns is more than anybody lays beside each other (common practice, no source).
const maxRuns = 24

var runsText = regexp.MustCompile(`^([0-9]+)\s*[x×]?$`)

// runs reads how many cables run in parallel.
func (r *reader) runs(in *input, row, i int) int {
	f := in.field(row, i)
	if f.text == "" || f.broken {
		return 1
	}
	if n, ok := readRuns(f.text); ok {
		return n
	}
	r.complain(study.Error, in, row, i, r.object(in, row, in.columns[i]), short(f.text)+" is no number of cables in parallel", fmt.Sprintf("it is a whole number from 1 to %d", maxRuns), "write how many cables lie side by side, each with the type's data")
	return 1
}

func readRuns(text string) (int, bool) {
	m := runsText.FindStringSubmatch(text)
	if m == nil {
		return 0, false
	}
	n, err := strconv.Atoi(m[1])
	return n, err == nil && 1 <= n && n <= maxRuns
}

// infeeds are the rows of the supply as entries: those of one name together.
func (r *reader) infeeds(in *input) []entry {
	var list []entry
	index := make(map[string]int)
	value := make(map[string]cellRef) // of infeed and key: where it is said first
	words := levelWords(in.table)
	for _, row := range in.data() {
		text, name := r.name(in, row)
		at, known := index[text]
		if !known {
			at = len(list)
			index[text] = at
			list = append(list, entry{name: name})
		}
		e := &list[at]
		level := pair{}
		for i, c := range in.columns {
			switch {
			case c == nil || c.kind == nameColumn:
			case c.kind == levelColumn:
				level.key = r.level(in, row, i, words)
			case c.level:
				if p, ok := r.pair(in, row, i); ok {
					level.group = append(level.group, p)
				}
			default:
				ref, said := value[text+"\x00"+c.heading]
				f := in.field(row, i)
				if said && f.text == "" {
					continue
				}
				if said {
					if was := in.field(ref.row, i); was.text != f.text && !f.broken {
						r.complain(study.Error, in, row, i, r.object(in, row, c), fmt.Sprintf("%s here, and %s in row %d", short(f.text), short(was.text), in.rows[ref.row].number), "the rows of one infeed differ by level only", "write the same, or leave it empty here",
							Related{Cell: in.at(ref.row, i), Text: "first said here", Excerpt: in.line(in.at(ref.row, i).Place.Line)})
					}
					continue
				}
				if f.text == "" && known {
					continue
				}
				if p, ok := r.pair(in, row, i); ok {
					e.pairs = append(e.pairs, p)
					if f.text != "" {
						value[text+"\x00"+c.heading] = cellRef{in.sheet, row, i}
					}
				}
			}
		}
		if level.key == "" {
			continue
		}
		if ref, twice := value[text+"\x00\x00"+level.key]; twice {
			r.complain(study.Error, in, row, in.find("level"), r.object(in, row, nil), "has the level "+level.key+" twice", "two statements of one thing may differ", "take one of them out",
				Related{Cell: in.at(ref.row, in.find("level")), Text: "first here", Excerpt: in.line(in.at(ref.row, 0).Place.Line)})
			continue
		}
		value[text+"\x00\x00"+level.key] = cellRef{in.sheet, row, 0}
		if level.group == nil {
			r.complain(study.Error, in, row, -1, r.object(in, row, nil)+", "+level.key, "neither a three-phase level nor z1 is given", "the impedance of the infeed is not known without", "write three-phase, as 9.20 kA, and x/r, as 10.5")
			level.group = []pair{{key: "three-phase", value: []part{{text: `"?"`, at: cellRef{in.sheet, row, -1}, from: -1, silent: true}}}}
		}
		e.pairs = append(e.pairs, level)
	}
	for i := range list {
		row := list[i].name.at.row
		r.absent(in, row, &list[i])
		if !slices.ContainsFunc(list[i].pairs, func(p pair) bool { return p.group != nil }) {
			// Its level is told to be wrong or missing.
			list[i].pairs = append(list[i].pairs, pair{key: words[0], group: []pair{{key: "three-phase", value: []part{{text: `"?"`, at: cellRef{in.sheet, row, -1}, from: -1, silent: true}}}}})
		}
	}
	return list
}

// level reads which level of an infeed a row is for.
func (r *reader) level(in *input, row, i int, words []string) string {
	f := in.field(row, i)
	if f.broken {
		return ""
	}
	text := strings.ToLower(f.text)
	if slices.Contains(words, text) {
		return text
	}
	if text == "" {
		r.complain(study.Error, in, row, i, r.object(in, row, nil), "level is empty", "each row gives one strength of an infeed", "write "+listed(words, "or"))
		return ""
	}
	fix := "write " + listed(words, "or")
	if near, ok := quantity.Nearest(text, words); ok {
		fix = "write " + near
	}
	r.complain(study.Error, in, row, i, r.object(in, row, in.columns[i]), short(f.text)+" is no level of an infeed", "levels are "+listed(words, "and"), fix)
	return ""
}

// check reads the study that was made, and tells what is wrong with it of the cells.
func (r *reader) check() {
	files := []study.SourceFile{{Name: MainFile, Text: []byte(r.main.text.String())}}
	if r.cables.text.Len() > 0 {
		files = append(files, study.SourceFile{Name: CableFile, Text: []byte(r.cables.text.String())})
	}
	doc, ds := study.Read(memory(files), MainFile)
	ds = append(ds, doc.Validate()...)
	if ds.Errors() == 0 {
		_, more := doc.States()
		ds = append(ds, more...)
	}
	for _, d := range ds {
		r.translate(d)
	}
	if len(doc.Supply.Entries) == 0 {
		r.tell(Mistake{Severity: study.Warning, Cell: Cell{File: "supply.csv"}, Object: "supply", Problem: "the study has no infeed", Why: "without a source no bus has a voltage, and no fault a current",
			Fix: "make supply.csv, with the columns name, at, level, three-phase and x/r"})
	}
	if ds.Errors() > 0 && r.ms.Errors() == 0 {
		// Each silent piece has a mistake of its own, so this is a slip of ours; better said than a study that isn't right.
		for _, d := range ds {
			if d.Severity == study.Error {
				r.tell(Mistake{Severity: study.Error, Cell: Cell{File: d.At.File}, Object: d.Object, Problem: d.Problem, Why: d.Why, Fix: d.Fix})
			}
		}
	}
	r.im.Files, r.im.Study = files, doc
}

// translate tells a diagnostic of the study as a mistake of the cell it comes from.
func (r *reader) translate(d study.Diagnostic) {
	c, excerpt, silent := r.place(d.At)
	if silent {
		return
	}
	if key, ok := strings.CutSuffix(d.Problem, " is not given"); ok {
		c = r.instead(d.At, key, c) // the study points at the name; the empty cell is meant
	}
	if strings.HasSuffix(d.Problem, unitless) {
		name, _ := withUnit(c.Heading)
		d.Fix += r.orHeading(c, name)
	}
	for _, in := range r.sheets { // as typed, with its decimal commas
		if in.comma && in.name == c.File && c.Text != "" {
			d.Problem = strings.ReplaceAll(d.Problem, withDots(c.Text), c.Text)
		}
	}
	m := Mistake{Severity: d.Severity, Cell: c, Object: d.Object, Problem: d.Problem, Why: d.Why, Fix: inTables(d.Fix), Excerpt: excerpt}
	for _, rel := range d.Related {
		c, excerpt, _ := r.place(rel.At)
		m.Related = append(m.Related, Related{Cell: c, Text: rel.Text, Excerpt: excerpt})
	}
	r.tell(m)
}

// instead is the cell under a heading in the row of a place, if there is such a column.
func (r *reader) instead(m study.Mark, heading string, c Cell) Cell {
	file := r.main
	if m.File == CableFile {
		file = r.cables
	}
	p, ok := file.find(m.Start)
	for _, in := range r.sheets {
		if ok && in.sheet == p.at.sheet {
			if i := in.find(heading); i >= 0 && p.at.row > in.top {
				return in.at(p.at.row, i)
			}
		}
	}
	return c
}

// orHeading says how a unit is given for a whole column.
func (r *reader) orHeading(c Cell, name string) string {
	for _, in := range r.sheets {
		if col := in.byName(plain(name)); in.name == c.File && col != nil && col.unit() != "" {
			return fmt.Sprintf("; or give the unit in the heading, as %s (%s)", col.heading, col.unit())
		}
	}
	return ""
}

// inTables says in the words of tables how to mend what the study's own
// messages would mend in the study file.
func inTables(fix string) string {
	if key, ok := strings.CutPrefix(fix, "add it under "); ok {
		for _, t := range all {
			if t.key == key {
				return "add it to " + t.file
			}
		}
	}
	return strings.Replace(fix, "say so: x/r: { value: 15, known: assumed }", "say so: write x/r into the column assumed", 1)
}

// place is the cell that a stretch of a study file comes from.
func (r *reader) place(m study.Mark) (c Cell, excerpt string, silent bool) {
	file := r.main
	if m.File == CableFile {
		file = r.cables
	}
	p, ok := file.find(m.Start)
	if m.Line == 0 || !ok || p.at.sheet == nil {
		return Cell{File: "buses.csv"}, "", false
	}
	s := p.at.sheet
	start, end := -1, -1
	if f, cell := s.fieldAt(p.at); cell && p.from >= 0 && m.Start >= p.start {
		length := f.end - f.start
		start = min(m.Start-p.start-p.from, length)
		end = min(m.End-p.start-p.from, length)
		if start < 0 || start >= length && length > 0 || m.End > p.end+1 {
			start, end = -1, -1
		}
	}
	c = s.cell(p.at.row, p.at.column, start, end)
	for _, in := range r.sheets {
		if in.sheet == s {
			c.Heading = in.at(p.at.row, p.at.column).Heading
		}
	}
	return c, s.line(c.Place.Line), p.silent
}

// fieldAt is the field of a cell, if the sheet has it.
func (s *sheet) fieldAt(c cellRef) (field, bool) {
	if c.row < 0 || c.row >= len(s.rows) || c.column < 0 || c.column >= len(s.rows[c.row].fields) {
		return field{}, false
	}
	return s.rows[c.row].fields[c.column], true
}

// memory is a file system of the files of a study.
type memory []study.SourceFile

// Open opens a file.
func (m memory) Open(name string) (fs.File, error) {
	for _, f := range m {
		if f.Name == name {
			return &open{bytes.NewReader(f.Text)}, nil
		}
	}
	return nil, &fs.PathError{Op: "open", Path: name, Err: fs.ErrNotExist}
}

type open struct{ *bytes.Reader }

// Stat has nothing to say: the reader of a study does without.
func (open) Stat() (fs.FileInfo, error) { return nil, fs.ErrInvalid }
func (open) Close() error               { return nil }
