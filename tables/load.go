package tables

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"path"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"feederwright/quantity"
	"feederwright/study"
)

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
