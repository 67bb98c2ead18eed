package tables

import (
	"bytes"
	"fmt"
	"path"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"unicode/utf8"

	"feederwright/study"
)

// A File is a file to be written.
type File struct {
	Name string
	Text []byte
}

// A Left is something of a study that tables don't hold.
type Left struct {
	Kind string `json:"kind"` // "breaker", "condition"; a key of the head of the study
	Name string `json:"name"` // "" for what has no name
	Part string `json:"part"` // a key of the entry where only that is left out; "" for all of it
}

// String says what is left out: breaker "52M", or line type "X": construction.
func (l Left) String() string {
	text := l.Kind
	if l.Name != "" {
		text += fmt.Sprintf(" %q", l.Name)
	}
	if l.Part != "" {
		text += ": " + l.Part
	}
	return text
}

// Write makes tables of a study that has no mistakes. Only tables that have
// rows are made. It also lists what the tables don't hold, in the order of
// the study; comments of the study are not kept and not listed.
func Write(doc *study.Document) ([]File, []Left) {
	w := &writer{doc: doc}
	for _, t := range all {
		w.table(t)
	}
	w.rest()
	return w.files, w.left
}

type writer struct {
	doc   *study.Document
	files []File
	left  []Left
}

// A row is the texts of one row, by heading.
type row map[string]string

// A source is one entry of a study's table without its type.
type source struct {
	name   string
	at     study.Mark
	origin study.Origin
	item   reflect.Value
}

func (w *writer) sources(key string) []source {
	var list []source
	keyed(reflect.TypeFor[study.Document](), func(f reflect.StructField, k string) {
		if k != key {
			return
		}
		entries := reflect.ValueOf(w.doc).Elem().FieldByIndex(f.Index).FieldByName("Entries")
		for i := range entries.Len() {
			list = append(list, sourceOf(entries.Index(i)))
		}
	})
	return list
}

func sourceOf(e reflect.Value) source {
	return source{
		name:   e.FieldByName("Name").String(),
		at:     e.FieldByName("At").Interface().(study.Mark),
		origin: e.FieldByName("Origin").Interface().(study.Origin),
		item:   e.FieldByName("Item"),
	}
}

func (w *writer) table(t *table) {
	if t.key == "" {
		r := row{}
		w.scalars(t, r, reflect.ValueOf(w.doc).Elem(), false, "", "", study.Origin{})
		w.csv(t, []row{r})
		return
	}
	var rows []row
	sources := w.sources(t.key)
	if t.key == "lines" {
		runs := w.parallel(sources)
		for i, s := range sources {
			n := runs[i]
			if (n > 0 || path.Base(s.at.File) == CableFile) != t.cables || n < 0 {
				continue
			}
			r := w.entry(t, s)
			if n > 0 {
				r["name"] = strings.TrimSuffix(s.name, runName("", 1))
				r["runs"] = fmt.Sprint(n)
			}
			rows = append(rows, r)
		}
	} else if t.levels != nil {
		for _, s := range sources {
			rows = append(rows, w.infeed(t, s)...)
		}
	} else {
		for _, s := range sources {
			rows = append(rows, w.entry(t, s))
		}
	}
	w.csv(t, rows)
}

// parallel finds lines that were one row of a cable schedule: the number of
// runs at the first of them, −1 at the others, 0 elsewhere.
func (w *writer) parallel(sources []source) []int {
	names := make(map[string]bool)
	for _, s := range sources {
		names[s.name] = true
	}
	runs := make([]int, len(sources))
	for i := range sources {
		base, first := strings.CutSuffix(sources[i].name, runName("", 1))
		if !first || base == "" || names[base] || strings.TrimSpace(base) != base {
			continue
		}
		n := 1
		for i+n < len(sources) && n < maxRuns && sources[i+n].name == runName(base, n+1) && w.same(sources[i], sources[i+n]) {
			n++
		}
		if n < 2 || names[runName(base, n+1)] {
			continue
		}
		runs[i] = n
		for j := 1; j < n; j++ {
			runs[i+j] = -1
		}
	}
	return runs
}

// same says whether two lines differ by name only, as far as tables hold them.
func (w *writer) same(a, b source) bool {
	t := tableOf("cables.csv")
	probe := &writer{doc: w.doc}
	x, y := probe.entry(t, a), probe.entry(t, b)
	delete(x, "name")
	delete(y, "name")
	return reflect.DeepEqual(x, y) && a.at.File == b.at.File
}

func tableOf(file string) *table {
	for _, t := range all {
		if t.file == file {
			return t
		}
	}
	panic("tables: no table " + file)
}

func (w *writer) entry(t *table, s source) row {
	r := row{"name": s.name}
	w.scalars(t, r, s.item, false, t.kind, s.name, s.origin)
	return r
}

// infeed makes a row of each level. What is said of the source of the whole
// infeed goes to the levels that say nothing of their own.
func (w *writer) infeed(t *table, s source) []row {
	var rows []row
	whole := row{"name": s.name}
	w.scalars(t, whole, s.item, false, t.kind, s.name, s.origin)
	said := row{}
	prov := s.item.FieldByName("Provenance")
	keyed(prov.Type(), func(f reflect.StructField, key string) {
		v := prov.FieldByIndex(f.Index)
		if !v.FieldByName("Given").Bool() {
			return
		}
		if key == "note" || key == "assumed" {
			w.left = append(w.left, Left{t.kind, s.name, key})
			return
		}
		said[key] = v.FieldByName("Text").String()
	})
	for _, word := range levelWords(t) {
		var level reflect.Value
		keyed(t.item, func(f reflect.StructField, key string) {
			if key == word {
				level = s.item.FieldByIndex(f.Index)
			}
		})
		if level.IsNil() {
			continue
		}
		r := row{"level": word}
		for k, v := range whole {
			r[k] = v
		}
		own := originOf(level.Elem().FieldByName("Provenance").Interface().(study.Provenance), s.origin)
		w.scalars(t, r, level.Elem(), true, t.kind, s.name, own)
		if r["source"] == "" && r["known"] == "" && r["date"] == "" {
			for k, v := range said {
				r[k] = v
			}
		}
		rows = append(rows, r)
	}
	return rows
}

// originOf is where the values of a group come from that say nothing of their own.
func originOf(p study.Provenance, outer study.Origin) study.Origin {
	if !p.Source.Given && !p.Known.Given && !p.Date.Given {
		return outer
	}
	return study.Origin{Source: p.Source.V, Date: p.Date.V, Known: p.Known.V,
		Assumed: p.Known.V == "assumed" || strings.HasPrefix(strings.ToLower(strings.TrimSpace(p.Source.V)), "assumed")}
}

// A value that stands in its long form has this before it.
var longForm = regexp.MustCompile(`["']?value["']?\s*:\s*$`)

// scalars puts the values of an item, or of the level of an infeed, into a
// row, and lists what no column holds.
func (w *writer) scalars(t *table, r row, item reflect.Value, level bool, kind, name string, origin study.Origin) {
	columns := make(map[string]*column)
	for _, c := range t.columns {
		if c.kind != nameColumn && c.kind != levelColumn && c.kind != runsColumn && c.kind != partColumn && c.level == level {
			columns[c.heading] = c
		}
	}
	var listed, marked []string // assumed: in the list of the entry, and each by itself
	leave := func(key string) {
		if level {
			key = r["level"] + ", " + key
		}
		w.left = append(w.left, Left{kind, name, key})
	}
	keyed(item.Type(), func(f reflect.StructField, key string) {
		v := item.FieldByIndex(f.Index)
		c := columns[key]
		if c == nil {
			if t.levels != nil && !level && (provenance[key] || f.Type == reflect.PointerTo(t.levels)) {
				return // looked at with the levels
			}
			if t.key != "" && given(v) {
				leave(key)
			}
			return
		}
		if !v.FieldByName("Given").Bool() {
			return
		}
		switch c.kind {
		case listColumn:
			for _, ref := range v.FieldByName("V").Interface().([]study.Ref) {
				listed = append(listed, string(ref))
			}
		case matrixColumn:
			r[key] = matrixText(v)
		default:
			r[key] = v.FieldByName("Text").String()
		}
		own := v.FieldByName("Origin").Interface().(study.Origin)
		if own.Assumed && !origin.Assumed && !provenance[key] && t.key != "" {
			marked = append(marked, key)
		}
		if w.long(v.FieldByName("At").Interface().(study.Mark)) {
			if t.key == "" {
				kind = key
				w.left = append(w.left, Left{Kind: key, Part: "where the value came from"})
			} else {
				leave(key + ", where the value came from")
			}
		}
	})
	for _, key := range marked {
		if !slices.Contains(listed, key) {
			listed = append(listed, key)
		}
	}
	if len(listed) > 0 {
		r["assumed"] = strings.Join(listed, ", ")
	}
}

// given says whether something stands under a key.
func given(v reflect.Value) bool {
	switch {
	case v.Kind() == reflect.Pointer:
		return !v.IsNil()
	case isValue(v.Type()):
		return v.FieldByName("Given").Bool()
	case isTable(v.Type()):
		return v.FieldByName("Entries").Len() > 0
	}
	return false
}

// long says whether a value stands with a source of its own, { value: ... }.
func (w *writer) long(at study.Mark) bool {
	for _, f := range w.doc.Files {
		if f.Name == at.File && at.Start <= len(f.Text) {
			const near = 200 // bytes before it; more than the key and any spaces
			return longForm.Match(f.Text[max(0, at.Start-near):at.Start])
		}
	}
	return false
}

// matrixText writes a matrix for a cell: as typed where it stands in brackets
// in the file, else from its values.
func matrixText(v reflect.Value) string {
	values := v.FieldByName("V")
	typed := strings.TrimSpace(v.FieldByName("Text").String())
	if strings.HasPrefix(typed, "[") && !strings.ContainsAny(typed, "#\"'|;") {
		var rows []string
		inner := strings.TrimSuffix(strings.TrimPrefix(strings.Join(strings.Fields(typed), " "), "["), "]")
		for _, part := range strings.Split(inner, "]") {
			if part = strings.Trim(part, "[, "); part == "" {
				continue
			}
			cells := strings.Split(part, ",")
			for i := range cells {
				cells[i] = strings.TrimSpace(cells[i])
			}
			rows = append(rows, strings.Join(cells, "; "))
		}
		fits := len(rows) == values.Len()
		for i := 0; fits && i < len(rows); i++ {
			fits = strings.Count(rows[i], ";")+1 == values.Index(i).Len()
		}
		if fits {
			return strings.Join(rows, " | ")
		}
	}
	var rows []string
	for i := range values.Len() {
		var cells []string
		for j := range values.Index(i).Len() {
			cells = append(cells, fmt.Sprint(values.Index(i).Index(j).Interface()))
		}
		rows = append(rows, strings.Join(cells, "; "))
	}
	return strings.Join(rows, " | ")
}

// rest lists what no table holds.
func (w *writer) rest() {
	held := make(map[string]bool)
	for _, t := range all {
		held[t.key] = true
		if t.key == "" {
			for _, c := range t.columns {
				held[c.heading] = true
			}
		}
	}
	held["feederwright"], held["include"] = true, true
	held["conditions"] = w.conditionsAgain()
	doc := reflect.ValueOf(w.doc).Elem()
	keyed(doc.Type(), func(f reflect.StructField, key string) {
		v := doc.FieldByIndex(f.Index)
		if held[key] || !given(v) {
			return
		}
		if !isTable(v.Type()) {
			w.left = append(w.left, Left{Kind: key})
			return
		}
		kind, _, _ := strings.Cut(f.Tag.Get("kind"), "/")
		entries := v.FieldByName("Entries")
		for i := range entries.Len() {
			w.left = append(w.left, Left{Kind: kind, Name: entries.Index(i).FieldByName("Name").String()})
		}
	})
}

// conditionsAgain says whether the conditions of the study are just those
// that reading the tables makes.
func (w *writer) conditionsAgain() bool {
	levels := make(map[string]int)
	t := tableOf("supply.csv")
	infeeds := w.sources("supply")
	for _, s := range infeeds {
		keyed(t.item, func(f reflect.StructField, key string) {
			if f.Type == reflect.PointerTo(t.levels) && !s.item.FieldByIndex(f.Index).IsNil() {
				levels[key]++
			}
		})
	}
	want := 0
	for _, n := range levels {
		if n == len(infeeds) {
			want++
		}
	}
	if want < 2 || len(w.doc.Conditions.Entries) != want {
		return false
	}
	for _, e := range w.doc.Conditions.Entries {
		if e.Item.Infeed.V[""] != e.Name || levels[e.Name] != len(infeeds) {
			return false
		}
		others := 0
		keyed(reflect.TypeOf(e.Item), func(f reflect.StructField, key string) {
			if key != "infeed" && given(reflect.ValueOf(e.Item).FieldByIndex(f.Index)) {
				others++
			}
		})
		if others > 0 {
			return false
		}
	}
	return true
}

// csv writes the rows of a table: the usual columns, and of the others those
// that have something in them.
func (w *writer) csv(t *table, rows []row) {
	if len(rows) == 0 {
		return
	}
	var headings []string
	for _, c := range t.columns {
		if slices.Contains(t.usual, c.heading) || slices.ContainsFunc(rows, func(r row) bool { return r[c.heading] != "" }) {
			headings = append(headings, c.heading)
		}
	}
	lines := [][]string{headings}
	for _, r := range rows {
		line := make([]string, len(headings))
		for i, h := range headings {
			line[i] = r[h]
		}
		lines = append(lines, line)
	}
	w.files = append(w.files, File{t.file, csvText(lines)})
}

// csvText writes rows as comma-separated values (RFC 4180, lines ended by a
// line feed). A byte order mark stands before text beyond ASCII, by which
// spreadsheets tell that it is UTF-8.
func csvText(rows [][]string) []byte {
	var b bytes.Buffer
	for _, cells := range rows {
		for i, c := range cells {
			if i > 0 {
				b.WriteByte(',')
			}
			b.WriteString(quotedCell(c))
		}
		b.WriteByte('\n')
	}
	if slices.ContainsFunc(b.Bytes(), func(c byte) bool { return c >= utf8.RuneSelf }) {
		return append([]byte("\ufeff"), b.Bytes()...)
	}
	return b.Bytes()
}

// What a spreadsheet would work out when it opens the table. No study should
// do anything on the desk of who opens it.
var formula = regexp.MustCompile(`^[=@]|^[-+]+[^-+\d.\s]|^[-+].*[|!(=@']|^"+=`)

// What a spreadsheet would make another text of: names such as 1-2, 52-11,
// 007 and 12E4, and dates.
var changed = regexp.MustCompile(`^(\d{1,4}[-/]\d{1,4}([-/]\d{1,4})?|0\d+|\d+[eE]\d+)$`)

// quotedCell writes one cell. A text that would not come back from a
// spreadsheet as it is gets the form by which it stays a text.
func quotedCell(text string) string {
	if formula.MatchString(text) || changed.MatchString(text) || sheetDate.MatchString(text) || isSheetError(text) {
		text = `="` + strings.ReplaceAll(text, `"`, `""`) + `"`
	}
	if strings.ContainsAny(text, ",;\t|\"\r\n") {
		return `"` + strings.ReplaceAll(text, `"`, `""`) + `"`
	}
	return text
}
