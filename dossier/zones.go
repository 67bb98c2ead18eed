package dossier

import (
	"slices"

	"feederwright/fault"
	"feederwright/study"
)

// A zone is what a protective device is the nearest to interrupt: the buses
// beyond it as far as the next protective devices, with the study as written.
type zone struct {
	device study.PlacedDevice
	buses  []int // numbers of places in the sweep
	// end is the one with the smallest line-to-line current, or line-to-earth
	// where no bus has two phases, over the conditions in which every device
	// stands as written; −1 where there is none.
	end int
}

// zonesOf finds the zones of breakers, reclosers and fuses. Beyond means away
// from the infeeds; of a device that has infeeds on both of its sides, into
// the branch that it stands in. Where that branch ends at another device, the
// bus there counts as the zone's, unless an infeed stands at it.
func zonesOf(in *Input) []zone {
	doc := in.Doc
	number := map[string]int{}
	for i, name := range in.sweep.places {
		number[name] = i
	}
	// Nodes: the buses, and for each branch a node inside. Devices stand on
	// the edges between them.
	type edge struct {
		to      int
		devices []int
	}
	devs := doc.Devices()
	nodes := len(in.sweep.places)
	edges := make([][]edge, nodes)
	join := func(a, b int, devices []int) {
		edges[a] = append(edges[a], edge{b, devices})
		edges[b] = append(edges[b], edge{a, devices})
	}
	type side struct{ outer, inner int }
	sides := make([]side, len(devs))
	for i := range sides {
		sides[i] = side{-1, -1}
	}
	for _, b := range doc.Branches() {
		inner := nodes
		nodes++
		edges = append(edges, nil)
		for _, e := range b.Ends {
			bus, ok := number[string(e.V)]
			if !ok {
				continue
			}
			var list []int
			for i, d := range devs {
				if d.In.Given && string(d.In.V) == b.Name && d.Near.V == e.V {
					list = append(list, i)
					sides[i] = side{bus, inner}
				}
			}
			join(bus, inner, list)
		}
	}
	for i, d := range devs {
		if d.From.Given && d.To.Given {
			a, aok := number[string(d.From.V)]
			b, bok := number[string(d.To.V)]
			if aok && bok {
				sides[i] = side{a, b}
				join(a, b, []int{i})
			}
		}
	}
	source := make([]bool, nodes)
	for _, e := range doc.Supply.Entries {
		if n, ok := number[string(e.Item.At.V)]; ok {
			source[n] = true
		}
	}
	protective := func(i int) bool { return devs[i].Kind != "switch" }
	open := func(i int) bool { return devs[i].Normally.V == "open" }
	// reach lists the nodes reached from one, not over what block says.
	reach := func(from int, block func(device int) bool) []int {
		seen := make([]bool, nodes)
		seen[from] = true
		list := []int{from}
		for k := 0; k < len(list); k++ {
			for _, e := range edges[list[k]] {
				if !seen[e.to] && !slices.ContainsFunc(e.devices, block) {
					seen[e.to] = true
					list = append(list, e.to)
				}
			}
		}
		return list
	}
	fed := func(list []int) bool { return slices.ContainsFunc(list, func(n int) bool { return source[n] }) }
	written := asWritten(in, devs)
	var zones []zone
	for i, d := range devs {
		if !protective(i) || sides[i].outer < 0 {
			continue
		}
		block := func(k int) bool { return k == i || open(k) }
		start := sides[i].inner
		if fed(reach(sides[i].inner, block)) && !fed(reach(sides[i].outer, block)) {
			start = sides[i].outer
		}
		z := zone{device: d, end: -1}
		for _, n := range reach(start, func(k int) bool { return open(k) || protective(k) }) {
			if n < len(in.sweep.places) {
				z.buses = append(z.buses, n)
			}
		}
		if len(z.buses) == 0 { // a branch with a device at either end: as far as the next one
			if b, ok := doc.Branch(string(d.In.V)); ok && d.In.Given {
				for _, e := range b.Ends {
					if n, ok := number[string(e.V)]; ok && e.V != d.Near.V && !source[n] {
						z.buses = append(z.buses, n)
					}
				}
			}
		}
		slices.Sort(z.buses)
		z.end = in.sweep.weakest(z.buses, written)
		zones = append(zones, z)
	}
	return zones
}

// asWritten tells of conditions whether every device stands as the study has
// it; of a study in which no condition is so, any counts.
func asWritten(in *Input, devs []study.PlacedDevice) func(condition int) bool {
	same := make([]bool, len(in.States))
	some := false
	for i, s := range in.States {
		same[i] = !slices.ContainsFunc(devs, func(d study.PlacedDevice) bool { return s.Open[d.Name] != (d.Normally.V == "open") })
		some = some || same[i]
	}
	return func(i int) bool { return same[i] || !some }
}

// weakest is the place among some with the smallest line-to-line current over
// some conditions, or line-to-earth where none has two phases; −1 where none
// has a current.
func (s *sweep) weakest(places []int, among func(int) bool) int {
	for _, typ := range []fault.Type{fault.LineLine, fault.LineEarth} {
		best, least := -1, 0.0
		for _, p := range places {
			_, x, _ := s.extremesIn(p, slices.Index(s.types, typ), among)
			if x.exists && (best < 0 || x.current < least) {
				best, least = p, x.current
			}
		}
		if best >= 0 {
			return best
		}
	}
	return -1
}
