package study

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"path"
	"reflect"
	"slices"
	"sort"
	"strings"

	"feederwright/quantity"
)

const (
	maxBytes       = 16 << 20 // of all files of a study together
	maxFiles       = 64
	maxEntries     = 100_000 // some kinds take 4 kB each in memory
	maxDiagnostics = 1000    // shown
	maxKept        = 5000    // gathered before they are sorted and cut
	// maxCompared bounds the spelling suggestions of one study: names
	// compared with a mistyped one, over all mistakes.
	maxCompared = 200_000
)

// Read reads a study and the files it includes from fsys.
//
// It checks the structure: the notation, keys, kinds of values, quantities,
// words and names. What the values mean together is the matter of Validate.
// The document holds whatever could be read; a value that could not is as if
// absent. The diagnostics are all that was found, in order of place.
func Read(fsys fs.FS, name string) (*Document, Diagnostics) {
	r := &reader{fsys: fsys, doc: &Document{File: name}, plans: make(plans), seen: make(map[string]bool), compared: maxCompared}
	r.read(name, nil)
	if !r.broken {
		r.checkReferences()
	}
	r.checkSpaces()
	r.ds.Sort(r.doc.Files)
	if len(r.ds) > maxDiagnostics {
		left := len(r.ds) - maxDiagnostics + r.untold
		last := r.ds[maxDiagnostics]
		r.ds = append(r.ds[:maxDiagnostics:maxDiagnostics], Diagnostic{Severity: Error, At: last.At, Object: "the study",
			Problem: fmt.Sprintf("has %d more mistakes from here on", left), Fix: "mend those above first"})
	}
	r.doc.Illustrate(r.ds)
	return r.doc, r.ds
}

// A reader gathers a study from its files.
type reader struct {
	fsys     fs.FS
	doc      *Document
	ds       Diagnostics
	plans    plans
	seen     map[string]bool // files, by name
	bytes    int
	broken   bool // some file could not be parsed in full
	refs     []pending
	entries  int
	untold   int // diagnostics beyond those gathered
	compared int // names that may still be compared for suggestions
}

func (r *reader) tell(d Diagnostic) {
	if len(r.ds) >= maxKept {
		r.untold++
		return
	}
	r.ds = append(r.ds, d)
}

// An inclusion is one step of the way from the main file: which file, and
// where the file before asks for it.
type inclusion struct {
	file string
	at   Mark
}

// read reads one file and then those it includes.
func (r *reader) read(name string, way []inclusion) {
	r.seen[name] = true
	way = append(way[:len(way):len(way)], inclusion{file: name})
	main := len(way) == 1
	text, problem := r.load(name)
	if problem != "" { // only of the main file: others are opened before they are asked for
		r.broken = true
		r.tell(Diagnostic{Severity: Error, At: Mark{File: name, Line: 1, Col: 1}, Object: "the study", Problem: problem})
		return
	}
	r.doc.Files = append(r.doc.Files, SourceFile{Name: name, Text: text})
	src := newSource(name, text)
	root, ds := src.parse()
	for _, d := range ds {
		r.tell(d)
	}
	r.broken = r.broken || src.broken
	if root == nil {
		if !src.broken {
			if main {
				r.tell(Diagnostic{Severity: Error, At: src.mark(src.lines[0], src.lines[0]), Object: "the study", Problem: "is empty",
					Fix: "begin with feederwright: 1, study: TITLE and frequency: 60 Hz"})
			} else {
				r.tell(Diagnostic{Severity: Warning, At: src.mark(src.lines[0], src.lines[0]), Object: "the included file", Problem: "is empty"})
			}
		}
		return
	}
	d := &decoder{reader: r, src: src, main: main}
	d.document(root)
	if v := d.head.Format; v.Given && v.V != 1 {
		r.tell(Diagnostic{Severity: Error, At: v.At, Object: "feederwright",
			Problem: fmt.Sprintf("the file has format version %d; this program reads 1", v.V)})
	}
	for i, ref := range d.head.Include.V {
		if d.head.Include.Given {
			r.include(string(ref), d.head.Include.Parts[i], way)
		}
	}
}

// load returns the bytes of a file, or what keeps it from being read.
func (r *reader) load(name string) ([]byte, string) {
	if !fs.ValidPath(name) {
		return nil, fmt.Sprintf("%q is not a path within the folder of the study", name)
	}
	f, err := r.fsys.Open(name)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Sprintf("there is no file %q", name)
	}
	if err != nil {
		return nil, fmt.Sprintf("cannot open %q: %v", name, reason(err))
	}
	defer f.Close()
	if info, err := f.Stat(); err == nil && info.IsDir() {
		return nil, fmt.Sprintf("%q is a folder", name)
	}
	text, err := io.ReadAll(io.LimitReader(f, int64(maxBytes-r.bytes+1)))
	if err != nil {
		return nil, fmt.Sprintf("cannot read %q: %v", name, reason(err))
	}
	r.bytes += len(text)
	if r.bytes > maxBytes {
		return nil, fmt.Sprintf("%q makes the study larger than %d MiB, the most that is read", name, maxBytes>>20)
	}
	return text, ""
}

// reason is what the system says, without the operation and path around it.
func reason(err error) error {
	var pe *fs.PathError
	if errors.As(err, &pe) {
		return pe.Err
	}
	return err
}

// include reads a file that another one asks for.
func (r *reader) include(asked string, at Mark, way []inclusion) {
	from := way[len(way)-1].file
	way = append([]inclusion(nil), way...)
	way[len(way)-1].at = at
	fail := func(problem, why, fix string, related ...Related) {
		r.tell(Diagnostic{Severity: Error, At: at, Object: "include", Problem: problem, Why: why, Fix: fix, Related: related})
	}
	const inside = "a study reads no file outside its folder, so that it is whole when it is copied"
	if strings.Contains(asked, `\`) {
		fail(fmt.Sprintf("%q has a backslash in it", asked), "a path is written the same on every system", "write "+strings.ReplaceAll(asked, `\`, "/"))
		return
	}
	if path.IsAbs(asked) || len(asked) > 1 && asked[1] == ':' {
		fail(fmt.Sprintf("%q is an absolute path", asked), inside, "write the path relative to "+from)
		return
	}
	name := path.Join(path.Dir(from), asked)
	if asked == "" || !fs.ValidPath(name) || name == "." {
		fail(fmt.Sprintf("%q does not lead to a file in the folder of the study", asked), inside, "put the file beside "+from)
		return
	}
	for i, step := range way {
		if step.file != name {
			continue
		}
		var chain []string
		var related []Related
		for j, s := range way[i:] {
			chain = append(chain, fmt.Sprintf("%s:%d", s.file, s.at.Line))
			if i+j < len(way)-1 {
				related = append(related, Related{At: s.at, Text: "included here"})
			}
		}
		fail("the file includes itself: "+strings.Join(append(chain, name), " -> "), "", "take one of these includes out", related...)
		return
	}
	if r.seen[name] {
		r.tell(Diagnostic{Severity: Warning, At: at, Object: "include", Problem: fmt.Sprintf("%q is included already; it is read once", asked), Fix: "take it out here"})
		return
	}
	if len(r.seen) >= maxFiles {
		fail(fmt.Sprintf("more than %d files", maxFiles), "", "put their entries together")
		return
	}
	if _, err := fs.Stat(r.fsys, name); errors.Is(err, fs.ErrNotExist) {
		fix := ""
		var names []string
		if list, err := fs.ReadDir(r.fsys, path.Dir(name)); err == nil && len(list) <= 1000 {
			for _, e := range list {
				names = append(names, e.Name())
			}
		}
		if near, ok := r.nearest(path.Base(name), names); ok {
			fix = "write " + path.Join(path.Dir(asked), near)
		}
		fail(fmt.Sprintf("there is no file %q", name), "", fix)
		r.broken = true // what it would hold is not complained of as missing
		r.seen[name] = true
		return
	}
	before := len(r.ds)
	r.read(name, way)
	// A file that could not be opened has no place in itself.
	for i := before; i < len(r.ds); i++ {
		if d := &r.ds[i]; d.At.File == name && !r.loaded(name) {
			d.At, d.Object = at, "include"
		}
	}
}

func (r *reader) loaded(name string) bool {
	for _, f := range r.doc.Files {
		if f.Name == name {
			return true
		}
	}
	return false
}

// nearest is quantity.Nearest within the budget of the study.
func (r *reader) nearest(word string, candidates []string) (string, bool) {
	if len(candidates) > r.compared {
		return "", false
	}
	r.compared -= len(candidates)
	return quantity.Nearest(word, candidates)
}

// A named thing is where an entry of a kind was defined.
type namedThing struct {
	kind string
	at   Mark
}

// tables calls visit for every table of the document, in the order of the types.
func (r *reader) tables(visit func(f *field, t anyTable)) {
	doc := reflect.ValueOf(r.doc).Elem()
	p := r.plans.of(doc.Type())
	for i := range p.fields {
		if f := &p.fields[i]; f.role == tableRole {
			visit(f, doc.FieldByIndex(f.index).Addr().Interface().(anyTable))
		}
	}
}

// checkSpaces tells of names that tables which share theirs both have.
func (r *reader) checkSpaces() {
	spaces := make(map[string]map[string]namedThing)
	r.tables(func(f *field, t anyTable) {
		if f.space == "" {
			return
		}
		if spaces[f.space] == nil {
			spaces[f.space] = make(map[string]namedThing)
		}
		names := spaces[f.space]
		for i := range t.size() {
			e := t.entry(i)
			first, taken := names[e.name]
			if !taken {
				names[e.name] = namedThing{f.kinds[0], e.nameAt}
				continue
			}
			r.tell(Diagnostic{Severity: Error, At: e.nameAt, Object: fmt.Sprintf("%s %q", f.kinds[0], e.name),
				Problem: fmt.Sprintf("has the name of %s", article(first.kind)),
				Why:     whyShared[f.space], Fix: "rename one of them",
				Related: []Related{{At: first.at, Text: fmt.Sprintf("the %s is defined here", first.kind)}}})
		}
	})
}

var whyShared = map[string]string{
	"branch":  "lines, transformers and all other branches are named alike where a device stands, so they share one set of names",
	"device":  "all devices that open are named alike in conditions and trips, so they share one set of names",
	"vantage": "relays and instrument transformers are named alike where currents are shown, so they share one set of names",
}

// checkReferences tells of names that nothing has.
func (r *reader) checkReferences() {
	kinds := make(map[string]map[string]Mark)
	table := make(map[string]string)
	var order []string
	r.tables(func(f *field, t anyTable) {
		names := make(map[string]Mark, t.size())
		for i := range t.size() {
			e := t.entry(i)
			names[e.name] = e.nameAt
		}
		kinds[f.kinds[0]] = names
		table[f.kinds[0]] = f.key
		order = append(order, f.kinds[0])
	})
	candidates := make(map[string][]string) // by the joined kinds
	for _, p := range r.refs {
		var found []string
		for _, k := range p.kinds {
			if _, ok := kinds[k][p.name]; ok {
				found = append(found, k)
			}
		}
		d := Diagnostic{Severity: Error, At: p.at, Object: p.subject.String()}
		if len(found) == 1 {
			continue
		}
		if len(found) > 1 {
			d.Problem = fmt.Sprintf("%q is both %s and %s", p.name, article(found[0]), article(found[1]))
			d.Why = "it must be plain which of them is meant"
			d.Fix = "rename one of them"
			for _, k := range found {
				d.Related = append(d.Related, Related{At: kinds[k][p.name], Text: "the " + k})
			}
			r.tell(d)
			continue
		}
		wanted := make([]string, len(p.kinds))
		for i, k := range p.kinds {
			wanted[i] = article(k)
		}
		joined := strings.Join(p.kinds, "|")
		for _, k := range order {
			if at, ok := kinds[k][p.name]; ok && k != "condition" && k != "axis" {
				d.Problem = fmt.Sprintf("%q is %s; %s is wanted here", p.name, article(k), listWords(wanted, "or"))
				d.Related = []Related{{At: at, Text: fmt.Sprintf("the %s is defined here", k)}}
				break
			}
		}
		if d.Problem == "" {
			d.Problem = fmt.Sprintf("there is no %s %q", listWords(p.kinds, "or"), p.name)
		}
		names, ok := candidates[joined]
		if !ok {
			for _, k := range p.kinds {
				for name := range kinds[k] {
					names = append(names, name)
				}
			}
			sort.Strings(names)
			names = slices.Compact(names)
			candidates[joined] = names
		}
		if near, ok := r.nearest(p.name, names); ok {
			if d.Related == nil {
				d.Problem += fmt.Sprintf("; did you mean %q?", near)
			}
			d.Fix = "write " + near
		} else if len(names) == 0 && d.Related == nil {
			d.Fix = "add it under " + table[p.kinds[0]]
		} else if 0 < len(names) && len(names) <= 12 {
			d.Fix = "write " + listWords(names, "or")
		}
		r.tell(d)
	}
}
