package study

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"reflect"
	"sort"
	"strconv"
)

// Hash is a fingerprint of what a study says for the calculation: 64
// hexadecimal digits, SHA-256 of a canonical text of its values.
//
// It changes whenever a value, a name, a condition or a connection does. It
// does not change with
//
//   - comments, spaces, quotes, line ends and the way numbers and units are
//     written, as long as the value read is the same;
//   - the order of keys in an entry and of tables in a file, and which of the
//     study's files an entry stands in;
//   - where values come from (source, known, date, assumed, note, between),
//     the title and other free texts, and the acceptances.
//
// The order of the entries of one table counts, since it decides what the
// angles are counted from, how conditions are listed and which device stands
// nearer the bus. A default written out counts as a change, too: it is one
// thing less that the program chose. A study that could be read with errors
// has a hash of what was read.
//
// The text begins with the version of this definition, so that hashes of two
// definitions are never equal.
func Hash(doc *Document) string {
	h := sha256.New()
	io.WriteString(h, "feederwright study 1\n")
	w := hashWriter{w: h, plans: make(plans)}
	w.structure("", reflect.ValueOf(doc).Elem())
	// Devices in one branch near one end stand in the order of the files, across
	// their tables: the first is nearest the bus.
	for _, d := range doc.Devices() {
		if d.In.Given {
			w.line("device", strconv.Quote(d.Name))
		}
	}
	return hex.EncodeToString(h.Sum(nil))
}

type hashWriter struct {
	w     io.Writer
	plans plans
}

func (w *hashWriter) line(path, value string) { fmt.Fprintf(w.w, "%s = %s\n", path, value) }

func (w *hashWriter) structure(path string, v reflect.Value) {
	p := w.plans.of(v.Type())
	order := make([]int, len(p.fields))
	for i := range order {
		order[i] = i
	}
	sort.Slice(order, func(a, b int) bool { return p.fields[order[a]].key < p.fields[order[b]].key })
	for _, i := range order {
		f := &p.fields[i]
		if f.provenance || f.aside {
			continue
		}
		at := path + "/" + strconv.Quote(f.key)
		fv := v.FieldByIndex(f.index)
		switch f.role {
		case valueRole:
			if sl := fv.Addr().Interface().(hasSlot).slot(); *sl.given {
				w.line(at, canonical(sl.v))
			}
		case groupRole:
			if !fv.IsNil() {
				w.line(at, "{")
				w.structure(at, fv.Elem())
			}
		case namedRole:
			if !fv.IsNil() {
				w.line(at, "{")
				w.named(at, fv.Interface().(anyNamed))
			}
		case tableRole:
			w.table(at, fv.Addr().Interface().(anyTable))
		}
	}
}

func (w *hashWriter) named(path string, n anyNamed) {
	names, slots := n.names(), n.slots()
	order := make([]int, len(names))
	for i := range order {
		order[i] = i
	}
	sort.Slice(order, func(a, b int) bool { return names[order[a]] < names[order[b]] })
	for _, i := range order {
		if *slots[i].given {
			w.line(path+"/"+strconv.Quote(names[i]), canonical(slots[i].v))
		}
	}
}

func (w *hashWriter) table(path string, t anyTable) {
	for i := range t.size() {
		e := t.entry(i)
		at := path + "/" + strconv.Quote(e.name)
		w.line(at, "{")
		if inner, ok := e.item.(anyTable); ok {
			w.table(at, inner)
			continue
		}
		w.structure(at, reflect.ValueOf(e.item).Elem())
	}
}

// canonical writes a value so that equal values, and no others, have equal
// texts. Fields of a struct that are zero are left out: a quantity may get
// further fields without changing the hash of studies that do not use them.
func canonical(v reflect.Value) string {
	switch v.Kind() {
	case reflect.Bool:
		return strconv.FormatBool(v.Bool())
	case reflect.Int, reflect.Int8, reflect.Int16, reflect.Int32, reflect.Int64:
		return strconv.FormatInt(v.Int(), 10)
	case reflect.Uint, reflect.Uint8, reflect.Uint16, reflect.Uint32, reflect.Uint64:
		return strconv.FormatUint(v.Uint(), 10)
	case reflect.Float64:
		return strconv.FormatFloat(v.Float()+0, 'g', -1, 64) // + 0: −0 is 0
	case reflect.Complex128:
		c := v.Complex()
		return "(" + strconv.FormatFloat(real(c)+0, 'g', -1, 64) + "," + strconv.FormatFloat(imag(c)+0, 'g', -1, 64) + ")"
	case reflect.String:
		return strconv.Quote(v.String())
	case reflect.Slice, reflect.Array:
		s := "["
		for i := range v.Len() {
			s += canonical(v.Index(i)) + ","
		}
		return s + "]"
	case reflect.Map: // from words to words
		keys := v.MapKeys()
		sort.Slice(keys, func(a, b int) bool { return keys[a].String() < keys[b].String() })
		s := "{"
		for _, k := range keys {
			s += canonical(k) + ":" + canonical(v.MapIndex(k)) + ","
		}
		return s + "}"
	case reflect.Struct:
		s := "{"
		for i := range v.NumField() {
			if f := v.Field(i); !f.IsZero() {
				s += v.Type().Field(i).Name + ":" + canonical(f) + ","
			}
		}
		return s + "}"
	case reflect.Pointer, reflect.Interface:
		if v.IsNil() {
			return "nil"
		}
		return canonical(v.Elem())
	}
	panic("study: no canonical text for a " + v.Type().String()) // a type of ours that the hash was not taught
}
