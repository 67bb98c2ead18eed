package study

// A SourceUse is one source that a study names, with what it supports.
type SourceUse struct {
	Source   string
	Supports []string // `line type "CAB"`, each once, in the order of the types
	Values   int      // how many values rest on it
}

// Sources lists the distinct sources of the study's values, in the order in
// which the types of the format meet them, and last, under an empty name, how
// many values name none. Connections (from, to, at ...) are not counted.
func (doc *Document) Sources() []SourceUse {
	var list []SourceUse
	at := map[string]int{}
	var none SourceUse
	doc.values(func(v valueView) {
		if v.field.provenance || v.field.connects() {
			return
		}
		use := &none
		if text := v.slot.from.Source; text != "" {
			i, ok := at[text]
			if !ok {
				i = len(list)
				at[text] = i
				list = append(list, SourceUse{Source: text})
			}
			use = &list[i]
		}
		use.Values++
		object := v.subject.object
		if object == "" {
			object = "the study itself"
		}
		for _, o := range use.Supports {
			if o == object {
				return
			}
		}
		use.Supports = append(use.Supports, object)
	})
	if none.Values > 0 {
		list = append(list, none)
	}
	return list
}
