package study

import "sort"

// A PlacedDevice is a device of any kind with its name and place.
type PlacedDevice struct {
	*Device
	Kind, Name string
	NameAt     Mark
	Entry      Mark
}

// Devices lists all that can be opened, in the order of the files.
func (doc *Document) Devices() []PlacedDevice {
	var list []PlacedDevice
	for i := range doc.Switches.Entries {
		e := &doc.Switches.Entries[i]
		list = append(list, PlacedDevice{&e.Item.Device, "switch", e.Name, e.NameAt, e.At})
	}
	for i := range doc.Breakers.Entries {
		e := &doc.Breakers.Entries[i]
		list = append(list, PlacedDevice{&e.Item.Device, "breaker", e.Name, e.NameAt, e.At})
	}
	for i := range doc.Reclosers.Entries {
		e := &doc.Reclosers.Entries[i]
		list = append(list, PlacedDevice{&e.Item.Device, "recloser", e.Name, e.NameAt, e.At})
	}
	for i := range doc.Fuses.Entries {
		e := &doc.Fuses.Entries[i]
		list = append(list, PlacedDevice{&e.Item.Device, "fuse", e.Name, e.NameAt, e.At})
	}
	rank := make(map[string]int)
	for i, f := range doc.Files {
		rank[f.Name] = i
	}
	sort.SliceStable(list, func(i, j int) bool {
		a, b := list[i].NameAt, list[j].NameAt
		if rank[a.File] != rank[b.File] {
			return rank[a.File] < rank[b.File]
		}
		return a.Start < b.Start
	})
	return list
}

// Device finds what can be opened by its name.
func (doc *Document) Device(name string) (PlacedDevice, bool) {
	if e := doc.Switches.Find(name); e != nil {
		return PlacedDevice{&e.Item.Device, "switch", e.Name, e.NameAt, e.At}, true
	}
	if e := doc.Breakers.Find(name); e != nil {
		return PlacedDevice{&e.Item.Device, "breaker", e.Name, e.NameAt, e.At}, true
	}
	if e := doc.Reclosers.Find(name); e != nil {
		return PlacedDevice{&e.Item.Device, "recloser", e.Name, e.NameAt, e.At}, true
	}
	if e := doc.Fuses.Find(name); e != nil {
		return PlacedDevice{&e.Item.Device, "fuse", e.Name, e.NameAt, e.At}, true
	}
	return PlacedDevice{}, false
}
