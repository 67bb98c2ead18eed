package study

import "reflect"

// PathOf is where the entry of a kind and name stands in the study, as {"lines", "N1-N2"}; ok is false where there is none.
func (doc *Document) PathOf(kind, name string) (at Path, ok bool) {
	v := reflect.ValueOf(doc).Elem()
	for i := range v.NumField() {
		tag := v.Type().Field(i).Tag
		if tag.Get("kind") != kind {
			continue
		}
		names := v.Field(i).Addr().MethodByName("Names")
		if !names.IsValid() {
			continue
		}
		for _, n := range names.Call(nil)[0].Interface().([]string) {
			if n == name {
				return Path{tag.Get("key"), name}, true
			}
		}
	}
	return nil, false
}
