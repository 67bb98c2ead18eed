package study

import (
	"bytes"
	"encoding/json"
	"fmt"
	"reflect"
	"regexp"
	"strings"
	"unicode"

	"feederwright/quantity"
)

// Schema returns the JSON Schema (draft 2020-12) of the study file, for
// editors that complete and check YAML by it. #/$defs/included-file is that
// of a file a study includes.
//
// It says which keys there are, which must be given, and how each value is
// written. It cannot say that a name must be defined, nor what Validate
// checks; Read and Validate are the judges.
func Schema() ([]byte, error) {
	b := schemaBuilder{plans: make(plans), defs: make(map[string]reflect.Type), list: newJSON()}
	study := b.structure(reflect.TypeFor[Document](), func(*field) bool { return true })
	included := b.structure(reflect.TypeFor[Document](), func(f *field) bool { return f.everywhere })
	included.drop("required")
	b.list.set("included-file", included.first("title", "File included by a study"))
	if b.err != nil {
		return nil, b.err
	}
	root := study.
		first("description", "A station and its feeders, from the supply to the last fuse.").
		first("title", "Feederwright study").
		first("$schema", "https://json-schema.org/draft/2020-12/schema")
	root.set("$defs", b.list)
	var out bytes.Buffer
	e := json.NewEncoder(&out)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	if err := e.Encode(root); err != nil {
		return nil, fmt.Errorf("write the schema: %w", err)
	}
	return out.Bytes(), nil
}

// A jsonObject is a JSON object that keeps the order of its keys: an editor
// offers them in that order, and a change to the types is a small diff.
type jsonObject struct {
	keys   []string
	values map[string]any
}

func newJSON(pairs ...any) *jsonObject {
	o := &jsonObject{values: make(map[string]any)}
	for i := 0; i+1 < len(pairs); i += 2 {
		o.set(pairs[i].(string), pairs[i+1])
	}
	return o
}

func (o *jsonObject) set(key string, value any) {
	if _, known := o.values[key]; !known {
		o.keys = append(o.keys, key)
	}
	o.values[key] = value
}

// first puts a key before the others.
func (o *jsonObject) first(key string, value any) *jsonObject {
	o.drop(key)
	o.keys = append([]string{key}, o.keys...)
	o.values[key] = value
	return o
}

func (o *jsonObject) drop(key string) {
	if _, known := o.values[key]; !known {
		return
	}
	delete(o.values, key)
	for i, k := range o.keys {
		if k == key {
			o.keys = append(o.keys[:i], o.keys[i+1:]...)
			return
		}
	}
}

func (o *jsonObject) MarshalJSON() ([]byte, error) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	b.WriteByte('{')
	for i, k := range o.keys {
		if i > 0 {
			b.WriteByte(',')
		}
		if err := e.Encode(k); err != nil {
			return nil, err
		}
		b.WriteByte(':')
		if err := e.Encode(o.values[k]); err != nil {
			return nil, err
		}
	}
	b.WriteByte('}')
	return b.Bytes(), nil
}

type schemaBuilder struct {
	plans plans
	defs  map[string]reflect.Type // which type has which name under $defs
	list  *jsonObject
	err   error
}

// define returns a reference to the definition of a type, made once.
func (b *schemaBuilder) define(name string, t reflect.Type, build func() *jsonObject) *jsonObject {
	if known, ok := b.defs[name]; !ok {
		b.defs[name] = t
		b.list.set(name, nil) // holds its place, and ends recursion
		b.list.set(name, build())
	} else if known != t && b.err == nil {
		b.err = fmt.Errorf("two types for the schema are both called %q: %v and %v", name, known, t)
	}
	return newJSON("$ref", "#/$defs/"+name)
}

// structure is the schema of a mapping that a struct describes.
func (b *schemaBuilder) structure(t reflect.Type, has func(*field) bool) *jsonObject {
	p := b.plans.of(t)
	properties := newJSON()
	var required []string
	for i := range p.fields {
		f := &p.fields[i]
		if !has(f) {
			continue
		}
		s := b.field(f)
		s = s.first("description", f.doc)
		if len(f.refers) > 0 {
			s.set("$comment", "name of "+listWords(withArticles(f.refers), "or"))
		}
		properties.set(f.key, s)
		if f.need {
			required = append(required, f.key)
		}
	}
	o := newJSON("type", "object")
	if required == nil {
		o.set("type", []string{"object", "null"}) // nothing after the colon: nothing said
	}
	o.set("additionalProperties", false)
	if required != nil {
		o.set("required", required)
	}
	o.set("properties", properties)
	return o
}

func withArticles(words []string) []string {
	out := make([]string, len(words))
	for i, w := range words {
		out[i] = article(w)
	}
	return out
}

func (b *schemaBuilder) all(t reflect.Type) *jsonObject {
	return b.define(typeName(t), t, func() *jsonObject {
		return b.structure(t, func(*field) bool { return true })
	})
}

// typeName is the name of one of our types in the style of the file:
// EarthingTransformer is earthing-transformer.
func typeName(t reflect.Type) string {
	var b strings.Builder
	for i, r := range t.Name() {
		if unicode.IsUpper(r) && i > 0 {
			b.WriteByte('-')
		}
		b.WriteRune(unicode.ToLower(r))
	}
	return b.String()
}

func (b *schemaBuilder) field(f *field) *jsonObject {
	switch f.role {
	case groupRole:
		return b.all(f.typ.Elem())
	case tableRole:
		return b.table(reflect.New(f.typ).Interface().(anyTable))
	case namedRole:
		n := reflect.New(f.typ.Elem()).Interface().(anyNamed)
		scalar := *f
		scalar.refers = nil
		return newJSON("type", "object", "additionalProperties", b.value(&scalar, n.sample().slot().v.Type()))
	}
	t := reflect.New(f.typ).Interface().(hasSlot).slot().v.Type()
	if f.provenance {
		return b.scalar(f, t)
	}
	return b.value(f, t)
}

// namePattern says what nameFits checks, as far as a pattern can.
const namePattern = `^[^\s/@+]([^/@+\r\n\t]*[^\s/@+])?$`

func (b *schemaBuilder) table(t anyTable) *jsonObject {
	item := reflect.TypeOf(t.newItem())
	var entry *jsonObject
	if inner, ok := t.newItem().(anyTable); ok {
		entry = b.table(inner)
	} else {
		entry = b.all(item.Elem())
	}
	names := newJSON("pattern", namePattern, "maxLength", maxName)
	if namedByFinding(t) {
		names = newJSON("maxLength", maxFinding)
	}
	return newJSON("type", []string{"object", "null"}, "propertyNames", names, "additionalProperties", entry)
}

// value is a scalar, list or map, bare or in its long form.
func (b *schemaBuilder) value(f *field, t reflect.Type) *jsonObject {
	bare := b.scalar(f, t)
	if t.Kind() == reflect.Map {
		return bare
	}
	both := func() *jsonObject {
		properties := newJSON("value", bare)
		p := b.plans.of(reflect.TypeFor[longForm]())
		for i := range p.fields {
			lf := &p.fields[i]
			properties.set(lf.key, b.define("value-"+lf.key, reflect.PointerTo(lf.typ), func() *jsonObject {
				return b.scalar(lf, reflect.New(lf.typ).Interface().(hasSlot).slot().v.Type()).first("description", lf.doc)
			}))
		}
		long := newJSON("type", "object", "additionalProperties", false, "required", []string{"value"}, "properties", properties)
		return newJSON("anyOf", []any{bare, long})
	}
	switch {
	case reflect.PointerTo(t).Implements(textType):
		name := reflect.New(t).Elem().Interface().(describer).Describe().Name
		return b.define("value-"+strings.ReplaceAll(name, " ", "-"), reflect.PointerTo(t), both)
	case t.Kind() == reflect.String && f.oneOf == nil:
		return b.define("value-text", reflect.TypeFor[*string](), both)
	}
	return both()
}

func (b *schemaBuilder) scalar(f *field, t reflect.Type) *jsonObject {
	if reflect.PointerTo(t).Implements(textType) {
		d := reflect.New(t).Elem().Interface().(describer).Describe()
		return b.define(strings.ReplaceAll(d.Name, " ", "-"), t, func() *jsonObject { return b.quantity(d) })
	}
	switch t.Kind() {
	case reflect.Int:
		return newJSON("type", "integer")
	case reflect.String:
		if f.oneOf != nil {
			return newJSON("enum", f.oneOf)
		}
		// A bare 12 is a number to YAML and the text "12" to us.
		return newJSON("type", []string{"string", "number"})
	case reflect.Slice:
		items := b.scalar(f, t.Elem())
		list := newJSON("type", "array", "items", items)
		if isCollection(t.Elem()) {
			return list
		}
		return newJSON("anyOf", []any{items, list})
	case reflect.Map:
		word := b.scalar(f, t.Elem())
		m := newJSON("type", "object", "additionalProperties", word)
		if f.refers == nil {
			return m
		}
		return newJSON("anyOf", []any{word, m})
	}
	if b.err == nil {
		b.err = fmt.Errorf("no schema for %v", t)
	}
	return newJSON()
}

func (b *schemaBuilder) quantity(d quantity.Description) *jsonObject {
	o := newJSON("title", d.Name, "description", d.Text, "type", "string")
	re, err := regexp.Compile(d.Pattern)
	if err != nil {
		b.err = fmt.Errorf("pattern of %s: %w", d.Name, err)
		return o
	}
	for _, n := range []string{"1", "0.5", "10.5"} {
		if re.MatchString(n) { // without a unit, a number to YAML
			o.set("type", []string{"string", "number"})
			break
		}
	}
	o.set("pattern", d.Pattern)
	o.set("examples", d.Examples)
	return o
}
