package study

import (
	"reflect"
	"sort"
	"strconv"
	"strings"
)

// originOf makes an Origin of the three keys that tell one.
func originOf(source, date, known Value[string]) Origin {
	return Origin{
		Source: source.V, Date: date.V, Known: known.V,
		Assumed: known.V == "assumed" || strings.HasPrefix(strings.ToLower(strings.TrimSpace(source.V)), "assumed"),
	}
}

// within completes the origin of a value or group by that of what it stands
// in. A source of its own, or being assumed, is the whole story.
func (o Origin) within(outer Origin) Origin {
	switch {
	case o.Source != "" || o.Assumed:
		return o
	case o.Known != "":
		if !outer.Assumed {
			o.Source = outer.Source
			if o.Date == "" {
				o.Date = outer.Date
			}
		}
		return o
	}
	if o.Date == "" {
		o.Date = outer.Date
	}
	o.Source, o.Known, o.Assumed = outer.Source, outer.Known, outer.Assumed
	return o
}

// origins gives the origin of an entry to the entry and to its values, and
// marks those it lists as assumed.
func (d *decoder) origins(s subject, v reflect.Value, entry *Origin) {
	*entry = d.inherit(s, v, Origin{})
}

// inherit returns the origin that holds in a struct, given that of what it
// stands in, after handing it to the values.
func (d *decoder) inherit(s subject, v reflect.Value, outer Origin) Origin {
	p := d.plans.of(v.Type())
	own := outer
	assumed := map[string]bool{}
	if pv := v.FieldByName("Provenance"); pv.IsValid() {
		prov := pv.Addr().Interface().(*Provenance)
		own = originOf(prov.Source, prov.Date, prov.Known).within(outer)
		for i, ref := range prov.Assumed.V {
			key := string(ref)
			if i >= len(prov.Assumed.Parts) {
				break
			}
			at := prov.Assumed.Parts[i]
			k, known := p.byKey[key]
			switch {
			case !known || p.fields[k].provenance:
				var keys []string
				for _, f := range p.fields {
					if !f.provenance {
						keys = append(keys, f.key)
					}
				}
				d.unknownKey(s.key("assumed"), at, key, keys)
			case !present(v.FieldByIndex(p.fields[k].index)):
				d.tell(Diagnostic{Severity: Warning, At: at, Object: s.key("assumed").String(),
					Problem: "lists " + short(key) + ", which has no value here", Fix: "take it out, or write the value"})
			}
			assumed[key] = true
		}
	}
	for i := range p.fields {
		f := &p.fields[i]
		if f.provenance {
			continue
		}
		from := own
		if assumed[f.key] {
			from = Origin{Known: "assumed", Assumed: true}
			if own.Assumed {
				from.Source = own.Source
			}
		}
		fv := v.FieldByIndex(f.index)
		switch f.role {
		case valueRole:
			giveOrigin(fv.Addr().Interface().(hasSlot).slot(), from, assumed[f.key])
		case groupRole:
			if !fv.IsNil() {
				d.inherit(s.key(f.key), fv.Elem(), from)
			}
		case namedRole:
			if !fv.IsNil() {
				for _, sl := range fv.Interface().(anyNamed).slots() {
					giveOrigin(sl, from, assumed[f.key])
				}
			}
		}
	}
	return own
}

func giveOrigin(sl slot, from Origin, assumed bool) {
	if !*sl.given {
		return
	}
	*sl.from = sl.from.within(from)
	if assumed { // the list holds also against a source of the value's own
		sl.from.Known, sl.from.Assumed = "assumed", true
	}
}

func present(v reflect.Value) bool {
	if v.Kind() == reflect.Pointer {
		return !v.IsNil()
	}
	return *v.Addr().Interface().(hasSlot).slot().given
}

// An Assumption is one value that the study says is assumed.
type Assumption struct {
	At     Mark
	Object string // `line type "CAB"`
	Key    string // "z1"; with its group, "maximum, x/r"
	Text   string // as typed
	Source string // why it may be assumed, in the author's words

	Path      Path   // to the value, or to its entry where it stands in its long form
	Value     any    // as read
	Known     string // "measured", "letter" ... or ""
	Low, High string // range that the author says it lies in, as typed; or ""
	Connects  bool   // it says where a thing is connected, as against what it is
}

// Assumptions lists the assumed values of the study in order of place. They
// belong into every output. Where a whole entry is assumed, its data are
// listed but not its connections (from, to, at ...), unless named in its list
// of assumed keys or marked themselves.
func (doc *Document) Assumptions() []Assumption {
	return doc.assumptions(func(v valueView) bool {
		return v.slot.from.Assumed && !(v.inherited && v.field.connects())
	})
}

// Doubtful lists the values that are assumed, and those that the author gives
// a range, in order of place.
func (doc *Document) Doubtful() []Assumption {
	return doc.assumptions(func(v valueView) bool {
		return v.slot.from.Low != "" || v.slot.from.Assumed && !(v.inherited && v.field.connects())
	})
}

func (doc *Document) assumptions(is func(valueView) bool) []Assumption {
	var all []Assumption
	doc.values(func(v valueView) {
		if !is(v) {
			return
		}
		o := *v.slot.from
		all = append(all, Assumption{At: *v.slot.at, Object: v.subject.object, Key: v.subject.keys, Text: *v.slot.text, Source: o.Source,
			Path: v.path, Value: v.slot.v.Interface(), Known: o.Known, Low: o.Low, High: o.High, Connects: v.field.connects()})
	})
	rank := make(map[string]int)
	for i, f := range doc.Files {
		rank[f.Name] = i
	}
	sort.SliceStable(all, func(i, j int) bool {
		a, b := all[i].At, all[j].At
		if rank[a.File] != rank[b.File] {
			return rank[a.File] < rank[b.File]
		}
		return a.Start < b.Start
	})
	return all
}

// connects says whether a key says where a thing is connected, as against what it is.
func (f *field) connects() bool {
	return f.refers != nil && f.refers[0] != "line type"
}

// A valueView is one given value of a document with what it belongs to.
type valueView struct {
	subject   subject
	field     *field
	slot      slot
	inherited bool // assumed only because all of its entry is
	path      Path
}

// values calls visit for every value given in the document, in the order of the types.
func (doc *Document) values(visit func(valueView)) {
	w := walker{plans: make(plans), visit: visit}
	w.structure(subject{}, nil, reflect.ValueOf(doc).Elem(), false)
}

type walker struct {
	plans plans
	visit func(valueView)
}

func (w *walker) structure(s subject, path Path, v reflect.Value, assumed bool) {
	p := w.plans.of(v.Type())
	listed := map[string]bool{}
	if pv := v.FieldByName("Provenance"); pv.IsValid() {
		prov := pv.Addr().Interface().(*Provenance)
		assumed = assumed || originOf(prov.Source, prov.Date, prov.Known).Assumed
		for _, ref := range prov.Assumed.V {
			listed[string(ref)] = true
		}
	}
	for i := range p.fields {
		f := &p.fields[i]
		fv := v.FieldByIndex(f.index)
		switch f.role {
		case valueRole:
			if sl := fv.Addr().Interface().(hasSlot).slot(); *sl.given {
				w.visit(valueView{s.key(f.key), f, sl, assumed && !listed[f.key], path.with(f.key)})
			}
		case groupRole:
			if !fv.IsNil() {
				w.structure(s.key(f.key), path.with(f.key), fv.Elem(), assumed)
			}
		case namedRole:
			if !fv.IsNil() {
				named := fv.Interface().(anyNamed)
				for i, sl := range named.slots() {
					if *sl.given {
						w.visit(valueView{s.key(f.key).key(named.names()[i]), f, sl, assumed && !listed[f.key], path.with(f.key).with(named.names()[i])})
					}
				}
			}
		case tableRole:
			w.table("", path.with(f.key), f.kinds, fv.Addr().Interface().(anyTable))
		}
	}
}

func (w *walker) table(outer string, path Path, kinds []string, t anyTable) {
	for i := range t.size() {
		e := t.entry(i)
		object := outer + kinds[0] + " " + strconv.Quote(e.name)
		if inner, ok := e.item.(anyTable); ok {
			w.table(object+", ", path.with(e.name), kinds[1:], inner)
			continue
		}
		w.structure(subject{object: object}, path.with(e.name), reflect.ValueOf(e.item).Elem(), false)
	}
}
