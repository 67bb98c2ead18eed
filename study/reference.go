package study

import (
	"bytes"
	"fmt"
	"reflect"
	"strings"

	"feederwright/quantity"
)

//go:generate go test . -run TestReferencePage -update

// Reference returns the page that describes every key of the study file, in
// Markdown, made from the same types that the reader walks.
func Reference() []byte {
	w := referenceWriter{plans: make(plans)}
	w.page()
	return w.Bytes()
}

type referenceWriter struct {
	bytes.Buffer
	plans      plans
	quantities []quantity.Description // in the order they are met
	groups     []group                // groups of keys still to be described
}

// A group is a struct that is described in a section of its own.
type group struct {
	title string
	typ   reflect.Type
}

func (w *referenceWriter) printf(format string, args ...any) { fmt.Fprintf(w, format, args...) }

const referenceHead = `# The study file: every key

This page is made from the program's own description of the format; ` + "`go generate ./study`" + ` writes it anew.

A study is one YAML file, with the files it includes. It begins with its version, its title and the
frequency; then come tables: the name of a thing, a colon, and its keys.

` + "```yaml" + `
feederwright: 1
study: Riverside feeder 4
frequency: 60 Hz

buses:
  S:  { voltage: 12.47 kV }
  P1: { voltage: 12.47 kV, note: "riser pole" }

line types:
  OH: { z1: 0.3061 + j0.6270 ohm/mi, z0: 0.7735 + j1.9373 ohm/mi, source: "line-constant calculation" }

lines:
  S-P1: { from: S, to: P1, type: OH, length: { value: 1.6 mi, source: "walked", known: measured } }
` + "```" + `

## Rules for the whole file

- Every quantity has its unit (see [Quantities](#quantities)); a ratio is written ` + "`600/5 A`" + `, a complex
  number ` + "`0.3061 + j0.6270 ohm/mi`" + `. Only what has no unit, such as X/R, is a bare number.
- A key that is not on this page is an error. So is a key or a name that stands twice.
- Names are texts: ` + "`12`" + ` is the name 12. They may not be empty, be longer than %d bytes, begin or end with a
  space, or contain ` + "`/`, `@` or `+`" + `. Lines, transformers, banks, regulators and reactors share one set of
  names; so do switches, breakers, reclosers and fuses; so do relays and instrument transformers.
- Words that other readers of YAML take for something else (yes, no, on, off, numbers with a leading zero,
  ` + "`600:5`" + `) need quotes where they are names or texts.
- YAML anchors, aliases, merge keys, tags, tabs in the indent and second documents are not read.
- A file is UTF-8 text; with or without byte order mark, with either kind of line end. All files of a study
  together have at most %d MiB, %d files and %d entries.

### Where a value came from

Any value may be written in its long form, which says where it came from:

` + "```yaml" + `
impedance: { value: 8.5 %% on 15 MVA, source: "test report 4711", date: 2019-05-20, known: measured }
` + "```" + `

`

func (w *referenceWriter) page() {
	w.printf(referenceHead, maxName, maxBytes>>20, maxFiles, maxEntries)
	w.table(reflect.TypeFor[longForm](), func(*field) bool { return true })

	w.printf("\nMost entries, and some groups of keys inside them, may have the following keys too; they hold for all\nvalues of the entry that do not say their own. What is assumed is listed in every output.\n\n")
	w.table(provenanceType, func(*field) bool { return true })

	doc := w.plans.of(reflect.TypeFor[Document]())
	w.printf("\n## The head of the file\n\nAn included file may have %s of these, and any table.\n\n", w.everywhere(doc))
	w.table(reflect.TypeFor[Document](), func(f *field) bool { return f.role != tableRole })
	w.flushGroups()

	done := make(map[reflect.Type]string)
	for i := range doc.fields {
		f := &doc.fields[i]
		if f.role != tableRole {
			continue
		}
		w.printf("\n## %s\n\n%s\n", f.key, f.doc)
		item := itemType(f.typ)
		if len(f.kinds) > 1 { // a table of tables
			w.printf("\nA table of tables: the name of %s, and below it the names of its %ss with their keys.\n", article(f.kinds[0]), f.kinds[1])
			item = itemType(item)
		}
		if first, known := done[item]; known {
			w.printf("\nThe keys are those of [%s](#%s).\n", first, anchor(first))
			continue
		}
		done[item] = f.key
		w.printf("\n")
		w.table(item, func(f *field) bool { return !f.provenance })
		if w.hasProvenance(item) {
			w.printf("\nAlso source, known, date, assumed and note: [where a value came from](#where-a-value-came-from).\n")
		}
		w.flushGroups()
	}

	w.printf("\n## Quantities\n\nUnits are case-sensitive: MW is a power, mW is refused. Ω and µ may be written ohm and u. Any number of\nspaces may stand between a number and its unit.\n\n")
	w.printf("| quantity | how it is written | examples |\n| --- | --- | --- |\n")
	for _, d := range w.quantities {
		w.printf("| <a id=\"%s\"></a>%s | %s | %s |\n", anchor(d.Name), d.Name, cell(d.Text), examples(d.Examples))
	}
}

func (w *referenceWriter) everywhere(p *plan) string {
	var keys []string
	for _, f := range p.fields {
		if f.everywhere && f.role != tableRole {
			keys = append(keys, f.key)
		}
	}
	return listWords(keys, "and")
}

// itemType is the type of the entries of a Table.
func itemType(table reflect.Type) reflect.Type {
	return reflect.TypeOf(reflect.New(table).Interface().(anyTable).newItem()).Elem()
}

func (w *referenceWriter) hasProvenance(t reflect.Type) bool {
	_, has := t.FieldByName("Provenance")
	return has
}

// table writes the keys of a struct.
func (w *referenceWriter) table(t reflect.Type, has func(*field) bool) {
	w.printf("| key | what to write | meaning |\n| --- | --- | --- |\n")
	p := w.plans.of(t)
	for i := range p.fields {
		f := &p.fields[i]
		if !has(f) {
			continue
		}
		need := ""
		if f.need {
			need = " **Needed.**"
		}
		w.printf("| `%s` | %s | %s%s |\n", f.key, cell(w.what(f)), cell(f.doc), need)
	}
}

// what says what may stand under a key.
func (w *referenceWriter) what(f *field) string {
	switch f.role {
	case groupRole:
		title := w.group(f.typ.Elem())
		return fmt.Sprintf("keys, see [%s](#%s)", title, anchor(title))
	case namedRole:
		sample := reflect.New(f.typ.Elem()).Interface().(anyNamed).sample().slot().v
		if f.refers == nil {
			return "a map from names to " + w.scalar(f, sample.Type())
		}
		return fmt.Sprintf("a map from the name of %s to %s", w.names(f.refers), w.scalar(f, sample.Type()))
	}
	return w.scalar(f, reflect.New(f.typ).Interface().(hasSlot).slot().v.Type())
}

func (w *referenceWriter) names(kinds []string) string { return listWords(withArticles(kinds), "or") }

func (w *referenceWriter) scalar(f *field, t reflect.Type) string {
	if reflect.PointerTo(t).Implements(textType) {
		d := reflect.New(t).Elem().Interface().(describer).Describe()
		known := false
		for _, q := range w.quantities {
			known = known || q.Name == d.Name
		}
		if !known {
			w.quantities = append(w.quantities, d)
		}
		return fmt.Sprintf("[%s](#%s): %s", d.Name, anchor(d.Name), examples(d.Examples[:1]))
	}
	switch t.Kind() {
	case reflect.Int:
		return "a whole number"
	case reflect.String:
		switch {
		case f.oneOf != nil:
			return examples(f.oneOf)
		case f.refers != nil:
			return "the name of " + w.names(f.refers)
		}
		return "a text"
	case reflect.Slice:
		switch {
		case t.Elem() == reflect.TypeFor[Ref]() && f.refers != nil:
			return w.scalar(f, t.Elem()) + ", or a list of them"
		case t.Elem() == reflect.TypeFor[Ref]():
			return "a list of " + listOf(f)
		case isCollection(t.Elem()) && t.Elem().Kind() == reflect.Slice:
			return "a list of rows of " + w.scalar(f, t.Elem().Elem())
		case t.Elem().Kind() == reflect.Map:
			return "a list of maps"
		}
		return w.scalar(f, t.Elem()) + ", or a list of them"
	case reflect.Map:
		one := *f
		one.refers = nil
		return fmt.Sprintf("%s; or a map from the name of %s to one of these words", w.scalar(&one, t.Elem()), w.names(f.refers))
	}
	panic("study: no words for a " + t.String())
}

func listOf(f *field) string {
	if f.provenance {
		return "keys"
	}
	return "paths"
}

// group remembers that a group of keys is to be described below.
func (w *referenceWriter) group(t reflect.Type) string {
	title := "keys of " + strings.ReplaceAll(typeName(t), "-", " ")
	for _, g := range w.groups {
		if g.typ == t {
			return title
		}
	}
	w.groups = append(w.groups, group{title, t})
	return title
}

func (w *referenceWriter) flushGroups() {
	for len(w.groups) > 0 {
		g := w.groups[0]
		w.printf("\n### %s\n\n", g.title)
		w.table(g.typ, func(f *field) bool { return !f.provenance })
		if w.hasProvenance(g.typ) {
			w.printf("\nAlso source, known, date, assumed and note: [where a value came from](#where-a-value-came-from).\n")
		}
		w.groups = w.groups[1:]
	}
}

// examples writes texts as code.
func examples(texts []string) string {
	code := make([]string, len(texts))
	for i, t := range texts {
		code[i] = "`" + t + "`"
	}
	return strings.Join(code, ", ")
}

// cell makes a text fit into a cell of a table.
func cell(text string) string { return strings.ReplaceAll(text, "|", `\|`) }

// anchor is the link to a heading.
func anchor(heading string) string { return strings.ReplaceAll(strings.ToLower(heading), " ", "-") }
