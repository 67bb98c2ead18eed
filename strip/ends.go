package strip

import "feederwright/study"

// Ends are the ends of the network: buses of one line and nothing else, as devices normally stand, in the
// order of the study.
func Ends(doc *study.Document) []string {
	type side struct{ branch, bus string }
	open := map[side]bool{}
	for _, d := range doc.Devices() {
		if d.In.Given && d.Normally.V == "open" {
			open[side{string(d.In.V), string(d.Near.V)}] = true
		}
	}
	joined := map[string]int{}
	line := map[string]bool{}
	for _, b := range doc.Branches() {
		for _, e := range b.Ends {
			if open[side{b.Name, string(e.V)}] {
				continue
			}
			joined[string(e.V)]++
			line[string(e.V)] = b.Kind == "line"
		}
	}
	for _, e := range doc.Supply.Entries {
		joined[string(e.Item.At.V)] += 2
	}
	var list []string
	for _, name := range doc.Buses.Names() {
		if joined[name] == 1 && line[name] {
			list = append(list, name)
		}
	}
	return list
}
