package study

import (
	"reflect"

	"go.yaml.in/yaml/v4"
)

// What the document's types say about a place in a file: which keys belong
// there and in what order, and which texts are names of other entries.

// formatType returns the type of the struct or table that the path leads to,
// or nil where the types say nothing of that place.
func (p plans) formatType(at Path) reflect.Type {
	here := reflect.TypeFor[Document]()
	for _, key := range at {
		if isTableType(here) {
			here = tableItem(here)
			continue
		}
		pl := p.of(here)
		i, ok := pl.byKey[key]
		if !ok {
			return nil
		}
		switch f := pl.fields[i]; f.role {
		case groupRole:
			here = f.typ.Elem()
		case tableRole:
			here = f.typ
		default:
			return nil
		}
	}
	return here
}

func isTableType(t reflect.Type) bool { return reflect.PointerTo(t).Implements(tableType) }

func tableItem(t reflect.Type) reflect.Type {
	return reflect.TypeOf(reflect.New(t).Interface().(anyTable).newItem()).Elem()
}

// isTable reports whether the format has a table at the path.
func (t *editTree) isTable(at Path) bool {
	typ := t.plans.formatType(at)
	return typ != nil && isTableType(typ)
}

// placeFor returns the index of the item of n, at the path given, that a new
// key comes behind: the last of those that the format lists before it, or
// the last of all where the format has no order. -1 is the front.
func (t *editTree) placeFor(n *editNode, at Path, key string) int {
	var order []string
	if n.isLongForm() {
		order = longFormKeys
	} else if typ := t.plans.formatType(at); typ != nil && !isTableType(typ) {
		order = t.plans.of(typ).keys()
	}
	rank := make(map[string]int, len(order))
	for i, k := range order {
		rank[k] = i + 1
	}
	if rank[key] == 0 {
		return len(n.items) - 1
	}
	place := -1
	for i, it := range n.items {
		if r := rank[it.key.node.Value]; r > 0 && r < rank[key] {
			place = i
		}
	}
	return place
}

// A mention is a text of the file that is the name of an entry.
type mention struct {
	at    *editNode
	kinds []string // of the entry: any of these
}

// mentions returns every reference in the file, by the document's types.
func (t *editTree) mentions() []mention {
	m := mentionWalk{plans: t.plans}
	m.structure(t.plans.of(reflect.TypeFor[Document]()), t.root)
	return m.found
}

type mentionWalk struct {
	plans plans
	found []mention
}

func (m *mentionWalk) add(n *editNode, kinds ...string) {
	if n.isScalar() && !n.isNull() {
		m.found = append(m.found, mention{n, kinds})
	}
}

func (m *mentionWalk) structure(p *plan, n *editNode) {
	if !n.isMapping() {
		return
	}
	for _, it := range n.items {
		i, ok := p.byKey[it.key.node.Value]
		if !ok || !it.key.isScalar() {
			continue
		}
		switch f := &p.fields[i]; f.role {
		case groupRole:
			m.structure(m.plans.of(f.typ.Elem()), it.value)
		case tableRole:
			m.table(f.typ, it.value)
		case namedRole:
			for _, named := range it.value.items {
				if named.key != nil && f.refers != nil {
					m.add(named.key, f.refers...)
				}
			}
		case valueRole:
			if isExclude(f) {
				m.exclusions(it.value)
			} else if f.refers != nil {
				m.value(f, it.value)
			}
		}
	}
}

func (m *mentionWalk) table(typ reflect.Type, n *editNode) {
	item := tableItem(typ)
	for _, it := range n.items {
		switch {
		case it.key == nil:
		case isTableType(item):
			m.table(item, it.value)
		default:
			m.structure(m.plans.of(item), it.value)
		}
	}
}

// value finds the names in a reference, a list of references, or the keys
// of a map that is kept by name.
func (m *mentionWalk) value(f *field, n *editNode) {
	v := reflect.New(f.typ).Interface().(hasSlot).slot().v
	isMap := v.Kind() == reflect.Map
	if !isMap && n.isLongForm() {
		n = n.items[n.item(longFormValue)].value
	}
	switch {
	case n.isMapping() && isMap:
		for _, it := range n.items {
			m.add(it.key, f.refers...)
		}
	case n.isList():
		for _, it := range n.items {
			m.value(f, it.value)
		}
	case !isMap:
		m.add(n, f.refers...)
	}
}

// The exclusions of axes are a list of maps from axis to state. They are the
// one reference that a single tag cannot tell, since the kind of the state
// depends on the axis.
func isExclude(f *field) bool {
	return f.typ == reflect.TypeFor[Value[[]map[string]string]]()
}

const axisKind = "axis"

// stateKind is the kind of the states of one axis.
func stateKind(axis string) string { return "state of " + axis }

func (m *mentionWalk) exclusions(n *editNode) {
	if n.isLongForm() {
		n = n.items[n.item(longFormValue)].value
	}
	maps := n.items
	if n.isMapping() {
		maps = []editItem{{value: n}}
	}
	for _, it := range maps {
		for _, pair := range it.value.items {
			if pair.key == nil {
				continue
			}
			m.add(pair.key, axisKind)
			if pair.value.node.Kind == yaml.ScalarNode {
				m.add(pair.value, stateKind(pair.key.node.Value))
			}
		}
	}
}
