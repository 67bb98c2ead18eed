package study

import "strings"

// LengthUnit is the unit in which outputs show lengths: miles if the study gives its first length in miles or feet, else
// kilometres. metre is how many metres it has.
func (d *Document) LengthUnit() (name string, metre float64) {
	for _, l := range d.Lines.Entries {
		if t := l.Item.Length.Text; strings.HasSuffix(t, "mi") || strings.HasSuffix(t, "ft") {
			return "mi", 1609.344
		} else if l.Item.Length.Given {
			break
		}
	}
	return "km", 1e3
}
