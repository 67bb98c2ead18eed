package study

import "reflect"

// Paths is where the entry of every kind and name stands in the study: that of a line as {"lines", "N1-N2"}.
func (doc *Document) Paths() map[PlantRef]Path {
	paths := make(map[PlantRef]Path)
	v := reflect.ValueOf(doc).Elem()
	for i := range v.NumField() {
		tag := v.Type().Field(i).Tag
		names := v.Field(i).Addr().MethodByName("Names")
		if kind := tag.Get("kind"); kind != "" && names.IsValid() {
			for _, n := range names.Call(nil)[0].Interface().([]string) {
				paths[PlantRef{Kind: kind, Name: n}] = Path{tag.Get("key"), n}
			}
		}
	}
	return paths
}
