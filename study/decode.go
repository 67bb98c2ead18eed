package study

import (
	"encoding"
	"errors"
	"fmt"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"feederwright/quantity"
)

// The decoder walks the document's types by their tags, beside the tree of
// the file. A Value, a Table and a NamedValues are known by the methods
// below; all else is a struct of such fields.

// A slot is a Value without its type.
type slot struct {
	v     reflect.Value // settable
	given *bool
	at    *Mark
	text  *string
	from  *Origin
	parts *[]Mark
}

func (v *Value[T]) slot() slot {
	return slot{reflect.ValueOf(&v.V).Elem(), &v.Given, &v.At, &v.Text, &v.Origin, &v.Parts}
}

type hasSlot interface{ slot() slot }

// An entryView is an Entry without its type; item is a *T.
type entryView struct {
	name   string
	nameAt Mark
	at     Mark
	from   *Origin
	item   any
}

type anyTable interface {
	add(name string, nameAt, at Mark) entryView
	grow(n int)
	size() int
	entry(i int) entryView
	place() *Mark
	newItem() any
}

func (t *Table[T]) add(name string, nameAt, at Mark) entryView {
	t.Entries = append(t.Entries, Entry[T]{Name: name, NameAt: nameAt, At: at})
	if t.places == nil {
		t.places = make(map[string]int)
	}
	if _, again := t.places[name]; !again {
		t.places[name] = len(t.Entries) - 1
	}
	return t.entry(len(t.Entries) - 1)
}

func (t *Table[T]) grow(n int)   { t.Entries = slices.Grow(t.Entries, n) }
func (t *Table[T]) size() int    { return len(t.Entries) }
func (t *Table[T]) place() *Mark { return &t.At }
func (t *Table[T]) newItem() any { return new(T) }
func (t *Table[T]) entry(i int) entryView {
	e := &t.Entries[i]
	return entryView{e.Name, e.NameAt, e.At, &e.Origin, &e.Item}
}

type anyNamed interface {
	add(name string, at Mark) slot
	slots() []slot
	names() []string
	sample() hasSlot
}

func (n *NamedValues[T]) add(name string, at Mark) slot {
	n.Names = append(n.Names, name)
	n.NameAt = append(n.NameAt, at)
	n.Values = append(n.Values, Value[T]{})
	return n.Values[len(n.Values)-1].slot()
}

func (n *NamedValues[T]) names() []string { return n.Names }
func (n *NamedValues[T]) sample() hasSlot { return new(Value[T]) }
func (n *NamedValues[T]) slots() []slot {
	s := make([]slot, len(n.Values))
	for i := range n.Values {
		s[i] = n.Values[i].slot()
	}
	return s
}

// A role is what stands under a key.
type role uint8

const (
	valueRole role = iota // a Value
	groupRole             // a pointer to a struct
	tableRole             // a Table
	namedRole             // a pointer to NamedValues
)

// A field is one key of a struct, with its tags.
type field struct {
	key, doc   string
	kinds      []string // of a table: its kind, and the kind of an inner table
	space      string
	need       bool
	everywhere bool     // an included file may have it
	refers     []string // kinds
	oneOf      []string
	role       role
	provenance bool // one of the keys of Provenance
	aside      bool // it is no part of what is computed
	index      []int
	typ        reflect.Type // of the field itself
}

// A plan is the keys of a struct, embedded ones included.
type plan struct {
	fields []field
	byKey  map[string]int
}

type plans map[reflect.Type]*plan

func (p plans) of(t reflect.Type) *plan {
	if known := p[t]; known != nil {
		return known
	}
	made := &plan{byKey: make(map[string]int)}
	made.collect(t, nil)
	for i, f := range made.fields {
		made.byKey[f.key] = i
	}
	p[t] = made
	return made
}

var (
	slotType       = reflect.TypeFor[hasSlot]()
	tableType      = reflect.TypeFor[anyTable]()
	namedType      = reflect.TypeFor[anyNamed]()
	provenanceType = reflect.TypeFor[Provenance]()
	textType       = reflect.TypeFor[encoding.TextUnmarshaler]()
)

func (p *plan) collect(t reflect.Type, index []int) {
	for i := range t.NumField() {
		sf := t.Field(i)
		at := append(append([]int(nil), index...), i)
		if sf.Anonymous {
			p.collect(sf.Type, at)
			continue
		}
		key, ok := sf.Tag.Lookup("key")
		if !ok {
			continue
		}
		f := field{
			key: key, doc: sf.Tag.Get("doc"), space: sf.Tag.Get("space"),
			need: sf.Tag.Get("need") == "yes", everywhere: sf.Tag.Get("place") == "any",
			provenance: t == provenanceType, aside: sf.Tag.Get("computed") == "no", index: at, typ: sf.Type,
		}
		if s := sf.Tag.Get("one-of"); s != "" {
			f.oneOf = strings.Fields(s)
		}
		if s := sf.Tag.Get("refers"); s != "" {
			f.refers = strings.Split(s, "|")
		}
		if s := sf.Tag.Get("kind"); s != "" {
			f.kinds = strings.Split(s, "/")
		}
		switch {
		case reflect.PointerTo(sf.Type).Implements(slotType):
			f.role = valueRole
		case reflect.PointerTo(sf.Type).Implements(tableType):
			f.role, f.everywhere = tableRole, true
		case sf.Type.Implements(namedType):
			f.role = namedRole
		default:
			f.role = groupRole
		}
		p.fields = append(p.fields, f)
	}
}

func (p *plan) keys() []string {
	keys := make([]string, len(p.fields))
	for i, f := range p.fields {
		keys[i] = f.key
	}
	return keys
}

// A subject is what is being read, in words for messages: `infeed "grid"`,
// and the keys from there on, "maximum, x/r".
type subject struct{ object, keys string }

func (s subject) key(k string) subject {
	if s.keys != "" {
		k = s.keys + ", " + k
	}
	return subject{s.object, k}
}

func (s subject) String() string {
	switch {
	case s.keys == "":
		return s.object
	case s.object == "":
		return s.keys
	}
	return s.object + ", " + s.keys
}

// A pending reference is looked up when all files are read.
type pending struct {
	src     *source
	subject subject
	name    string
	at      Mark
	kinds   []string
}

// A decoder reads one file into the document.
type decoder struct {
	*reader
	src  *source
	main bool
	head *Document // where the file's own version, includes and note are put
}

func (d *decoder) errorAt(at Mark, s subject, problem, why, fix string, related ...Related) {
	d.tell(Diagnostic{Severity: Error, At: at, Object: s.String(), Problem: problem, Why: why, Fix: fix, Related: related})
}

func (d *decoder) mark(n *node) Mark { return d.src.markOf(n) }

// document reads the top of a file.
func (d *decoder) document(n *node) {
	if d.main {
		d.structure(subject{}, n, reflect.ValueOf(d.doc).Elem(), Mark{})
		d.head = d.doc
		return
	}
	// What an included file says of itself stays apart; the rest is added to
	// the study. Tables and slices are shared, so nothing large is copied.
	whole := *d.doc
	d.head = &Document{}
	whole.Format, whole.Include, whole.Note = d.head.Format, d.head.Include, d.head.Note
	d.structure(subject{}, n, reflect.ValueOf(&whole).Elem(), Mark{})
	d.head.Format, d.head.Include, d.head.Note = whole.Format, whole.Include, whole.Note
	whole.Format, whole.Include, whole.Note = d.doc.Format, d.doc.Include, d.doc.Note
	*d.doc = whole
}

// structure reads a mapping into a struct. Missing keys are told at the place
// owner, which names what they belong to.
func (d *decoder) structure(s subject, n *node, v reflect.Value, owner Mark) {
	p := d.plans.of(v.Type())
	top := v.Type() == reflect.TypeFor[Document]()
	inner := s // what the keys belong to: those at the top stand for themselves
	if top {
		s.object = "the study"
		if !d.main {
			s.object = "the included file"
		}
	}
	if !d.isMapping(s, n, "keys", p.example) {
		return
	}
	if owner.Line == 0 {
		owner = d.mark(n)
		owner.End = owner.Start
	}
	meant := make(map[string]bool) // keys that are there, mistyped
	seen := d.pairs(s, n, func(name string, key, value *node) {
		i, known := p.byKey[name]
		if !known {
			meant[d.unknownKey(s, d.mark(key), name, p.keys())] = true
			return
		}
		f := &p.fields[i]
		if top && !d.main && !f.everywhere {
			d.errorAt(d.mark(key), s, fmt.Sprintf("has %q, which belongs in the main file", name),
				"an included file adds entries; what holds for the whole study is said once", fmt.Sprintf("move it to %s", d.doc.File))
			return
		}
		d.field(inner, f, v.FieldByIndex(f.index), key, value)
	})
	if top {
		if !d.main {
			return
		}
		owner = d.src.mark(d.src.lines[0], d.src.lines[0])
	}
	var missing []*field
	for i := range p.fields {
		if f := &p.fields[i]; f.need && seen[f.key] == nil && !meant[f.key] && seen["<<"] == nil {
			missing = append(missing, f)
		}
	}
	d.missing(s, owner, missing)
}

func (d *decoder) missing(s subject, at Mark, fields []*field) {
	if len(fields) == 0 || d.src.broken {
		return
	}
	quoted := make([]string, len(fields))
	samples := make([]string, len(fields))
	for i, f := range fields {
		quoted[i] = strconv.Quote(f.key)
		samples[i] = f.key + ": " + f.sample()
	}
	why := ""
	if len(fields) == 1 {
		why = f0(fields[0].doc)
	}
	d.errorAt(at, s, "has no "+listWords(quoted, "and"), why, "add "+strings.Join(samples, ", ")+", with your own data")
}

// f0 begins a sentence in lower case, as it stands after "why:".
func f0(text string) string {
	r := []rune(text)
	if len(r) > 1 && unicode.IsUpper(r[0]) && unicode.IsLower(r[1]) {
		r[0] = unicode.ToLower(r[0])
	}
	return strings.TrimSuffix(string(r), ".")
}

func listWords(words []string, last string) string {
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:len(words)-1], ", ") + " " + last + " " + words[len(words)-1]
}

// unknownKey tells of a key that may not stand there, and returns the one
// that was likely meant, or "".
func (d *decoder) unknownKey(s subject, at Mark, name string, known []string) (meant string) {
	problem, fix := fmt.Sprintf("has no key %q", name), ""
	if near, ok := d.nearest(name, known); ok {
		meant = near
		problem += fmt.Sprintf("; did you mean %q?", near)
		fix = "write " + near
	} else if len(known) > 0 {
		fix = "the keys are " + listWords(known, "and")
	}
	d.errorAt(at, s, problem, "", fix)
	return meant
}

// isMapping says whether a node is a mapping or nothing, and tells otherwise.
func (d *decoder) isMapping(s subject, n *node, want string, example func() string) bool {
	switch {
	case n.kind == mappingNode || n.null:
		return true
	case n.kind == aliasNode:
	case n.kind == listNode:
		d.errorAt(d.mark(n), s, "a list stands here; "+want+" are wanted", "", "write "+example()+", without dashes or [ ]")
	default:
		d.errorAt(d.mark(n), s, fmt.Sprintf("%s stands here; %s are wanted", short(n.text), want), "", "write "+example())
	}
	return false
}

// short quotes a text for a message.
func short(text string) string {
	if r := []rune(text); len(r) > 60 {
		text = string(r[:57]) + "..."
	}
	return strconv.Quote(text)
}

// pairs calls read for each pair of a mapping whose key is fit to be looked
// at, and returns the first key node by name.
func (d *decoder) pairs(s subject, n *node, read func(name string, key, value *node)) map[string]*node {
	seen := make(map[string]*node, len(n.items)/2)
	for i := 0; i+1 < len(n.items); i += 2 {
		key, value := n.items[i], n.items[i+1]
		switch {
		case key.kind == aliasNode:
			continue
		case key.kind != scalarNode:
			d.errorAt(d.mark(key), s, "a key is wanted here, not a list or a mapping", "", "a text with { } or [ ] in it needs quotes")
			continue
		case key.plain && key.text == "<<":
			d.errorAt(d.mark(key), s, "YAML merge keys (<<) are not read",
				"whoever reads or changes one line must see all of its values there", "write the values out")
			seen[key.text] = key
			continue
		}
		if first := seen[key.text]; first != nil {
			d.errorAt(d.mark(key), s, fmt.Sprintf("has the key %q twice", key.text), "", "keep one of them",
				Related{At: d.mark(first), Text: "first here"})
			continue
		}
		seen[key.text] = key
		read(key.text, key, value)
	}
	return seen
}

// field reads what stands under one key.
func (d *decoder) field(s subject, f *field, v reflect.Value, key, n *node) {
	switch f.role {
	case valueRole:
		sl := v.Addr().Interface().(hasSlot).slot()
		if *sl.given { // only exclude, in two files: a key twice in one file was told
			d.errorAt(d.mark(key), s.key(f.key), "stands in another file of the study too", "", "put both lists into one file",
				Related{At: *sl.at, Text: "first here"})
			return
		}
		d.value(s.key(f.key), f, key, n, sl)
	case tableRole:
		d.table(s.key(f.key), f.kinds, v.Addr().Interface().(anyTable), n)
	case groupRole:
		if n.null && f.need {
			d.errorAt(d.mark(key), s.key(f.key), "has no value", f0(f.doc), "write "+f.key+": "+f.sample())
			return
		}
		group := reflect.New(f.typ.Elem())
		d.structure(s.key(f.key), n, group.Elem(), d.mark(key))
		v.Set(group)
	case namedRole:
		named := reflect.New(f.typ.Elem())
		d.named(s.key(f.key), f, named.Interface().(anyNamed), n)
		v.Set(named)
	}
}

// table reads a mapping from names to things.
func (d *decoder) table(s subject, kinds []string, t anyTable, n *node) {
	if !d.isMapping(s, n, "names with their data", func() string { return "NAME: { " + d.itemExample(t) + " }" }) {
		return
	}
	if t.place().Line == 0 {
		*t.place() = d.mark(n)
	}
	d.entries += len(n.items) / 2
	if d.entries > maxEntries {
		d.errorAt(d.mark(n), s, fmt.Sprintf("makes the study larger than %d entries, the most that is read", maxEntries), "", "")
		return
	}
	t.grow(len(n.items) / 2)
	known := make(map[string]Mark, t.size()+len(n.items)/2)
	for i := range t.size() { // from files read before
		e := t.entry(i)
		known[e.name] = e.nameAt
	}
	for i := 0; i+1 < len(n.items); i += 2 {
		key, value := n.items[i], n.items[i+1]
		one := subject{object: kinds[0] + " " + strconv.Quote(key.text)}
		if s.object != "" { // a table in a table: axis "solar", state "off"
			one.object = s.object + ", " + one.object
		}
		if !d.nameFits(s, one, key, namedByFinding(t)) {
			continue
		}
		at := d.mark(key)
		item, from := any(nil), new(Origin)
		if first, twice := known[key.text]; twice {
			d.errorAt(at, one, "is defined twice", "a name means one thing", "rename one of them, or delete it", Related{At: first, Text: "first defined here"})
			item = t.newItem() // read all the same, for its own mistakes
		} else {
			known[key.text] = at
			whole := at
			whole.End = max(value.end, key.end)
			e := t.add(key.text, at, whole)
			item, from = e.item, e.from
		}
		if inner, ok := item.(anyTable); ok {
			d.table(one, kinds[1:], inner, value)
			continue
		}
		v := reflect.ValueOf(item).Elem()
		d.structure(one, value, v, at)
		d.origins(one, v, from)
	}
}

// named reads a map from names to scalars.
func (d *decoder) named(s subject, f *field, named anyNamed, n *node) {
	if !d.isMapping(s, n, "names with a value each", func() string { return "{ NAME: " + sampleOf(named.sample().slot().v) + " }" }) {
		return
	}
	d.pairs(s, n, func(name string, key, value *node) {
		if f.refers != nil {
			d.refs = append(d.refs, pending{d.src, s, name, d.mark(key), f.refers})
		}
		plain := *f
		plain.refers = nil
		d.value(s.key(name), &plain, key, value, named.add(name, d.mark(key)))
	})
}

// value reads the scalar, list or map of a Value, or its long form.
func (d *decoder) value(s subject, f *field, key, n *node, sl slot) {
	if n.kind == mappingNode && sl.v.Kind() != reflect.Map && !f.provenance {
		n = d.longForm(s, f, n, sl)
		if n == nil {
			return
		}
	}
	if n.kind == aliasNode {
		return
	}
	if n.null {
		d.errorAt(d.mark(key), s, "has no value", f0(f.doc), "write "+f.key+": "+f.sample()+", or take the key out")
		return
	}
	*sl.at = d.mark(n)
	if !d.into(s, f, n, sl.v) {
		sl.v.SetZero()
		return
	}
	*sl.given, *sl.text = true, n.text
	if n.kind != scalarNode {
		*sl.text = d.src.text[n.start:n.end]
	}
	if sl.v.Kind() == reflect.Slice && !sl.v.Addr().Type().Implements(textType) {
		*sl.parts = []Mark{d.mark(n)}
		if n.kind == listNode {
			*sl.parts = make([]Mark, len(n.items))
			for i, e := range n.items {
				(*sl.parts)[i] = d.mark(e)
			}
		}
	}
}

// A longForm is a value with where it came from.
type longForm struct {
	Source  Value[string]   `key:"source" doc:"Where the value came from, in words."`
	Date    Value[string]   `key:"date" doc:"Date of the source, year-month-day."`
	Known   Value[string]   `key:"known" one-of:"measured nameplate letter calculated assumed" doc:"How the value is known."`
	Between Value[[]string] `key:"between" doc:"Lowest and highest value that it may plausibly have, written as the value is: [8, 20]. feederwright doubt says what would follow from each."`
	Note    Value[string]   `key:"note" doc:"Free text for the reader."`
}

func (d *decoder) longForm(s subject, f *field, n *node, sl slot) *node {
	var form longForm
	v := reflect.ValueOf(&form).Elem()
	p := d.plans.of(v.Type())
	var inner *node
	for i := 0; i+1 < len(n.items); i += 2 {
		if n.items[i].text == "value" {
			inner = n.items[i+1]
		}
	}
	if inner == nil {
		d.errorAt(d.mark(n), s, "keys stand here; one value is wanted", f0(f.doc),
			fmt.Sprintf("write %s: %s, or { value: %s, source: ... }", f.key, f.sample(), f.sample()))
		return nil
	}
	d.pairs(s, n, func(name string, k, value *node) {
		if name == "value" {
			return
		}
		i, known := p.byKey[name]
		if !known {
			d.unknownKey(s, d.mark(k), name, append([]string{"value"}, p.keys()...))
			return
		}
		d.field(s, &p.fields[i], v.FieldByIndex(p.fields[i].index), k, value)
	})
	if inner.kind == mappingNode {
		d.errorAt(d.mark(inner), s, "keys stand here; one value is wanted", "", "write the value without braces")
		return nil
	}
	*sl.from = originOf(form.Source, form.Date, form.Known)
	if form.Between.Given {
		sl.from.Low, sl.from.High = d.between(s.key("between"), f, form.Between, sl)
	}
	return inner
}

// between checks the range that an author gives a value: two values written
// as it is.
func (d *decoder) between(s subject, f *field, ends Value[[]string], sl slot) (low, high string) {
	want := "write the lowest and the highest value: [" + f.sample() + ", " + f.sample() + "]"
	if len(ends.V) != 2 {
		d.errorAt(ends.At, s, fmt.Sprintf("has %d values; two are wanted", len(ends.V)), "", want)
		return "", ""
	}
	t, isQuantity := reflect.New(sl.v.Type()).Interface().(encoding.TextUnmarshaler)
	whole := sl.v.Kind() == reflect.Int
	if !isQuantity && !whole || f.refers != nil {
		d.errorAt(ends.At, s, "stands at a value that is no single quantity", "only a quantity has a range", "take it out")
		return "", ""
	}
	for i, text := range ends.V {
		var err error
		if isQuantity {
			err = t.UnmarshalText([]byte(text))
		} else {
			_, err = strconv.Atoi(text)
		}
		if err != nil {
			d.errorAt(part(ends.At, ends.Parts, i), s, err.Error(), "", want)
			return "", ""
		}
	}
	return ends.V[0], ends.V[1]
}

// into reads a node into a Go value.
func (d *decoder) into(s subject, f *field, n *node, v reflect.Value) bool {
	if t, ok := v.Addr().Interface().(encoding.TextUnmarshaler); ok {
		return d.isScalar(s, n, v) && d.quantity(s, n, t)
	}
	switch v.Kind() {
	case reflect.String:
		if !d.isScalar(s, n, v) || !d.word(s, f, n) {
			return false
		}
		v.SetString(n.text)
		return true
	case reflect.Int:
		if !d.isScalar(s, n, v) {
			return false
		}
		i, err := strconv.Atoi(n.text)
		if err != nil || strconv.Itoa(i) != n.text {
			d.errorAt(d.mark(n), s, short(n.text)+" is not a whole number", f0(f.doc), "write a number without unit, such as 1")
			return false
		}
		v.SetInt(int64(i))
		return true
	case reflect.Slice:
		items := n.items
		switch {
		case n.kind == listNode:
		case n.kind == scalarNode && !isCollection(v.Type().Elem()):
			items = []*node{n}
		case n.kind == aliasNode:
			return false
		default:
			d.errorAt(d.mark(n), s, "a list is wanted here", f0(f.doc), "write it in brackets: ["+sampleOf(reflect.New(v.Type().Elem()).Elem())+", ...]")
			return false
		}
		ok := true
		list := reflect.MakeSlice(v.Type(), len(items), len(items))
		for i, item := range items {
			ok = d.into(s, f, item, list.Index(i)) && ok
		}
		v.Set(list)
		return ok
	case reflect.Map:
		m := reflect.MakeMap(v.Type())
		v.Set(m)
		if n.kind == scalarNode && f.refers != nil { // one word for all
			word := reflect.New(v.Type().Elem()).Elem()
			only := *f
			only.refers = nil
			ok := d.into(s, &only, n, word)
			m.SetMapIndex(reflect.ValueOf(""), word)
			return ok
		}
		if !d.isMapping(s, n, "names with a word each", f.sampleMap) || n.null {
			return false
		}
		ok := true
		d.pairs(s, n, func(name string, key, value *node) {
			d.trap(s, key)
			if f.refers != nil {
				d.refs = append(d.refs, pending{d.src, s, name, d.mark(key), f.refers})
			}
			only := *f
			only.refers = nil
			word := reflect.New(v.Type().Elem()).Elem()
			ok = d.into(s.key(name), &only, value, word) && ok
			m.SetMapIndex(reflect.ValueOf(name), word)
		})
		return ok
	}
	panic("study: no way to read a " + v.Type().String()) // a type of ours that the decoder was not taught
}

func isCollection(t reflect.Type) bool {
	return (t.Kind() == reflect.Slice || t.Kind() == reflect.Map) && !reflect.PointerTo(t).Implements(textType)
}

// isScalar says whether a node is one value, and tells otherwise.
func (d *decoder) isScalar(s subject, n *node, v reflect.Value) bool {
	what := ""
	switch {
	case n.kind == aliasNode:
		return false
	case n.kind == listNode:
		what = "a list stands here; one value is wanted"
	case n.kind == mappingNode:
		what = "keys stand here; one value is wanted"
	case n.null:
		what = "has no value"
	default:
		return true
	}
	d.errorAt(d.mark(n), s, what, "", "write one value, such as "+sampleOf(v))
	return false
}

func (d *decoder) quantity(s subject, n *node, into encoding.TextUnmarshaler) bool {
	err := into.UnmarshalText([]byte(n.text))
	if err == nil {
		return true
	}
	at := d.mark(n)
	var qe *quantity.Error
	if !errors.As(err, &qe) {
		d.errorAt(at, s, err.Error(), "", "")
		return false
	}
	// Point at the trouble inside the text where it stands there as it is.
	from := n.start
	if n.quoted {
		from++
	}
	if from+len(n.text) <= len(d.src.text) && d.src.text[from:from+len(n.text)] == n.text && qe.Offset > 0 {
		before := n.text
		if r := []rune(n.text); qe.Offset < len(r) {
			before = string(r[:qe.Offset])
		}
		end := from + len(n.text)
		from += len(before)
		if from == end { // something is missing at the end
			from, end = n.start, n.end
		}
		at = d.src.mark(from, end)
	}
	d.errorAt(at, s, qe.Problem, "", qe.Fix)
	return false
}

// word checks a text: whether it is one of the words allowed, whether it
// names something, and whether other readers of YAML would take it for
// something else.
func (d *decoder) word(s subject, f *field, n *node) bool {
	d.trap(s, n)
	if f.refers != nil {
		d.refs = append(d.refs, pending{d.src, s, n.text, d.mark(n), f.refers})
	}
	if f.oneOf == nil {
		return true
	}
	for _, w := range f.oneOf {
		if n.text == w {
			return true
		}
	}
	problem := fmt.Sprintf("%s is not one of %s", short(n.text), listWords(f.oneOf, "and"))
	fix := "write " + listWords(f.oneOf, "or")
	if near, ok := d.nearest(n.text, f.oneOf); ok {
		fix = "write " + near
	}
	d.errorAt(d.mark(n), s, problem, f0(f.doc), fix)
	return false
}

// trap warns of texts that stand bare and are something else to other
// readers of YAML, above all those of version 1.1.
func (d *decoder) trap(s subject, n *node) {
	if !n.plain || n.kind != scalarNode {
		return
	}
	taken := misread(n.text)
	if taken == "" {
		return
	}
	d.tell(Diagnostic{Severity: Warning, At: d.mark(n), Object: s.String(),
		Problem: fmt.Sprintf("a bare %s is %s to other readers of YAML", n.text, taken),
		Why:     "YAML 1.1 and 1.2 differ in what a word without quotes means",
		Fix:     fmt.Sprintf("write %q, in quotes, or choose another word", n.text)})
}

// misread says what a plain scalar is to readers that give types to bare
// words, where its text would be lost by that; "" if it stays what it is.
func misread(text string) string {
	switch strings.ToLower(text) {
	case "yes", "no", "on", "off", "true", "false":
		return "a truth value"
	case "null", "~":
		return "nothing"
	}
	if text == "" || !strings.ContainsAny(text[:1], "0123456789+-.") {
		return ""
	}
	if parts := strings.Split(text, ":"); len(parts) > 1 {
		for i, p := range parts {
			if len(p) == 0 || strings.Trim(p, "0123456789") != "" && (i == 0 || strings.Trim(p, "0123456789.") != "") {
				return ""
			}
			if v, err := strconv.ParseFloat(p, 64); i > 0 && (err != nil || v >= 60) {
				return ""
			}
		}
		return "a number in base 60"
	}
	digits := strings.ReplaceAll(text, "_", "")
	if i, err := strconv.ParseInt(digits, 0, 64); err == nil {
		if strconv.FormatInt(i, 10) != text {
			return fmt.Sprintf("the number %d", i)
		}
		return "" // a plain whole number keeps its text
	}
	if x, err := strconv.ParseFloat(digits, 64); err == nil && strings.Trim(digits, "0123456789+-.eE") == "" {
		if got := strconv.FormatFloat(x, 'f', -1, 64); got != text {
			return "the number " + strconv.FormatFloat(x, 'g', -1, 64)
		}
	}
	return ""
}

// nameFits checks the name of an entry of a table. That of a finding is longer,
// and has the names of its parts with slashes between.
func (d *decoder) nameFits(table, entry subject, key *node, finding bool) bool {
	longest := maxName
	if finding {
		longest = maxFinding
	}
	bad := func(problem, fix string) bool {
		d.errorAt(d.mark(key), table, problem, "names stand in commands and in the places of faults, as lg:A@N3", fix)
		return false
	}
	switch name := key.text; {
	case key.kind == aliasNode:
		return false
	case key.kind != scalarNode:
		return bad("a name is wanted here, not a list or a mapping", "a name with { } or [ ] in it needs quotes")
	case key.plain && name == "<<":
		return bad("YAML merge keys (<<) are not read", "write the entries out")
	case key.null, strings.TrimSpace(name) == "":
		return bad("a name is missing", "give it a name")
	case strings.TrimSpace(name) != name:
		return bad(fmt.Sprintf("the name %s begins or ends with a space", short(name)), "take the space out")
	case strings.ContainsAny(name, "/@+") && !finding:
		return bad(fmt.Sprintf("the name %s has one of the characters / @ + in it", short(name)), "use a hyphen or a space instead")
	case strings.ContainsFunc(name, unicode.IsControl):
		return bad(fmt.Sprintf("the name %s has a line break or a control character in it", short(name)), "write it on one line")
	case len(name) > longest:
		return bad(fmt.Sprintf("the name %s has %d bytes; %d is the most", short(name), len(name), longest), "shorten it, and put the rest into a note")
	}
	d.trap(entry, key)
	return true
}

const maxName = 100 // bytes; a name has to fit into a column of a table

// article puts a or an before a word.
func article(word string) string {
	if word != "" && strings.ContainsRune("aeiou", rune(word[0])) {
		return "an " + word
	}
	return "a " + word
}

// sample is a text that may stand under a key, for messages.
func (f *field) sample() string {
	switch {
	case f.role == groupRole:
		return plans{}.of(f.typ.Elem()).example()
	case f.role == namedRole:
		return "{ NAME: ... }"
	case f.role == tableRole:
		return "{ NAME: { ... } }"
	case f.oneOf != nil:
		return f.oneOf[0]
	case f.refers != nil:
		return "NAME"
	}
	return sampleOf(reflect.New(f.typ).Interface().(hasSlot).slot().v)
}

func (f *field) sampleMap() string {
	if f.oneOf == nil {
		return "{ NAME: WORD }"
	}
	return fmt.Sprintf("%s, or { NAME: %s }", f.oneOf[0], f.oneOf[0])
}

// A describer is a quantity that says how it is written.
type describer interface{ Describe() quantity.Description }

func sampleOf(v reflect.Value) string {
	if d, ok := v.Interface().(describer); ok {
		if e := d.Describe().Examples; len(e) > 0 {
			return e[0]
		}
	}
	switch v.Kind() {
	case reflect.Int:
		return "1"
	case reflect.Slice:
		return "[" + sampleOf(reflect.New(v.Type().Elem()).Elem()) + "]"
	case reflect.Map:
		return "{ NAME: WORD }"
	}
	if v.Type() == reflect.TypeFor[Ref]() {
		return "NAME"
	}
	return "TEXT"
}

// example is the keys of a struct as one might begin to write them.
func (p *plan) example() string {
	var some []string
	for i := range p.fields {
		if f := &p.fields[i]; f.need && f.role == valueRole {
			some = append(some, f.key+": "+f.sample())
		}
	}
	if some == nil {
		for i := range p.fields {
			if f := &p.fields[i]; f.role == valueRole {
				some = append(some, f.key+": "+f.sample())
				break
			}
		}
	}
	if len(some) > 3 {
		some = append(some[:3], "...")
	}
	return "{ " + strings.Join(some, ", ") + " }"
}

func (d *decoder) itemExample(t anyTable) string {
	item := reflect.TypeOf(t.newItem()).Elem()
	if reflect.PointerTo(item).Implements(tableType) {
		return "NAME: { ... }"
	}
	return strings.Trim(d.plans.of(item).example(), "{} ")
}
