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
	b := schemaBuilder{plans: make(plans), defs: make(map[string]reflect.Type), list: newObject()}
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

// An object is a JSON object that keeps the order of its keys: an editor
// offers them in that order, and a change to the types is a small diff.
type object struct {
	keys   []string
	values map[string]any
}

func newObject(pairs ...any) *object {
	o := &object{values: make(map[string]any)}
	for i := 0; i+1 < len(pairs); i += 2 {
		o.set(pairs[i].(string), pairs[i+1])
	}
	return o
}

func (o *object) set(key string, value any) {
	if _, known := o.values[key]; !known {
		o.keys = append(o.keys, key)
	}
	o.values[key] = value
}

// first puts a key before the others.
func (o *object) first(key string, value any) *object {
	o.drop(key)
	o.keys = append([]string{key}, o.keys...)
	o.values[key] = value
	return o
}

func (o *object) drop(key string) {
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

func (o *object) MarshalJSON() ([]byte, error) {
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
	list  *object
	err   error
}

// define returns a reference to the definition of a type, made once.
func (b *schemaBuilder) define(name string, t reflect.Type, build func() *object) *object {
	if known, ok := b.defs[name]; !ok {
		b.defs[name] = t
		b.list.set(name, nil) // holds its place, and ends recursion
		b.list.set(name, build())
	} else if known != t && b.err == nil {
		b.err = fmt.Errorf("two types for the schema are both called %q: %v and %v", name, known, t)
	}
	return newObject("$ref", "#/$defs/"+name)
}

// structure is the schema of a mapping that a struct describes.
func (b *schemaBuilder) structure(t reflect.Type, has func(*field) bool) *object {
	p := b.plans.of(t)
	properties := newObject()
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
	o := newObject("type", "object")
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

func (b *schemaBuilder) all(t reflect.Type) *object {
	return b.define(typeName(t), t, func() *object {
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

func (b *schemaBuilder) field(f *field) *object {
	switch f.role {
	case groupRole:
		return b.all(f.typ.Elem())
	case tableRole:
		return b.table(reflect.New(f.typ).Interface().(anyTable))
	case namedRole:
		n := reflect.New(f.typ.Elem()).Interface().(anyNamed)
		scalar := *f
		scalar.refers = nil
		return newObject("type", "object", "additionalProperties", b.value(&scalar, n.sample().slot().v.Type()))
	}
	t := reflect.New(f.typ).Interface().(hasSlot).slot().v.Type()
	if f.provenance {
		return b.scalar(f, t)
	}
	return b.value(f, t)
}

// namePattern says what nameFits checks, as far as a pattern can.
const namePattern = `^[^\s/@+]([^/@+\r\n\t]*[^\s/@+])?$`

func (b *schemaBuilder) table(t anyTable) *object {
	item := reflect.TypeOf(t.newItem())
	entry := newObject()
	if inner, ok := t.newItem().(anyTable); ok {
		entry = b.table(inner)
	} else {
		entry = b.all(item.Elem())
	}
	return newObject("type", []string{"object", "null"},
		"propertyNames", newObject("pattern", namePattern, "maxLength", maxName), "additionalProperties", entry)
}

// value is a scalar, list or map, bare or in its long form.
func (b *schemaBuilder) value(f *field, t reflect.Type) *object {
	bare := b.scalar(f, t)
	if t.Kind() == reflect.Map {
		return bare
	}
	long := newObject("type", "object", "additionalProperties", false, "required", []string{"value"})
	properties := newObject("value", bare)
	p := b.plans.of(reflect.TypeFor[longForm]())
	for i := range p.fields {
		lf := &p.fields[i]
		text := b.scalar(lf, reflect.TypeFor[string]())
		properties.set(lf.key, text.first("description", lf.doc))
	}
	long.set("properties", properties)
	return newObject("anyOf", []any{bare, long})
}

func (b *schemaBuilder) scalar(f *field, t reflect.Type) *object {
	if reflect.PointerTo(t).Implements(textType) {
		d := reflect.New(t).Elem().Interface().(describer).Describe()
		return b.define(strings.ReplaceAll(d.Name, " ", "-"), t, func() *object { return b.quantity(d) })
	}
	switch t.Kind() {
	case reflect.Int:
		return newObject("type", "integer")
	case reflect.String:
		if f.oneOf != nil {
			return newObject("enum", f.oneOf)
		}
		// A bare 12 is a number to YAML and the text "12" to us.
		return newObject("type", []string{"string", "number"})
	case reflect.Slice:
		items := b.scalar(f, t.Elem())
		list := newObject("type", "array", "items", items)
		if isCollection(t.Elem()) {
			return list
		}
		return newObject("anyOf", []any{items, list})
	case reflect.Map:
		word := b.scalar(f, t.Elem())
		m := newObject("type", "object", "additionalProperties", word)
		if f.refers == nil {
			return m
		}
		return newObject("anyOf", []any{word, m})
	}
	if b.err == nil {
		b.err = fmt.Errorf("no schema for %v", t)
	}
	return newObject()
}

func (b *schemaBuilder) quantity(d quantity.Description) *object {
	o := newObject("title", d.Name, "description", d.Text, "type", "string")
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
