package oneline

import (
	"fmt"
	"slices"

	"feederwright/drawing"
)

// sources are the kinds of thing that keep a lateral from being folded: what feeds must be seen.
var sources = []string{"infeed", "synchronous machine", "inverter"}

// gear are the kinds of thing that stay in front of a mark.
var gear = []string{"breaker", "recloser", "switch", "fuse", "current transformer", "voltage transformer"}

// foldBelow folds the laterals that hang from a tree.
func (c *composer) foldBelow(t *tree) {
	for i, k := range t.kids {
		straight := i == 0 && t.main
		if !straight && !k.feeder && k.bus != nil && !slices.Contains(c.b.o.Open, k.bus.Name) {
			if f, keep, ok := folded(k); ok && f.Buses >= c.b.o.Fold {
				c.folds = append(c.folds, f)
				mark := &tree{name: k.name, rank: k.rank, dead: k.dead, parts: append(slices.Clone(k.parts[:keep]), c.b.fold(f, k.dead))}
				c.b.findTrips(mark)
				t.kids[i] = mark
				continue
			}
		}
		c.foldBelow(k)
	}
}

// folded gathers what a lateral holds behind the parts to keep, its devices at the bus; ok is false where something there
// must be seen.
func folded(t *tree) (f Folded, keep int, ok bool) {
	f.At, ok = t.bus.Name, true
	keep = slices.IndexFunc(t.parts, func(p part) bool { return p.kind != "" && !slices.Contains(gear, p.kind) }) // its bus at the latest
	var gather func(parts []part)
	gather = func(parts []part) {
		for _, p := range parts {
			if p.kind != "" && p.kind != "flag" {
				f.Things = append(f.Things, Item{Kind: p.kind, Name: p.name})
				ok = ok && !slices.Contains(sources, p.kind)
			}
			if p.kind == "bus" {
				f.Buses++
			}
			gather(p.extra)
		}
	}
	var walk func(t *tree)
	walk = func(t *tree) {
		for _, k := range t.kids {
			ok = ok && k.port == nil
			gather(k.parts)
			walk(k)
		}
	}
	gather(t.parts[keep:])
	walk(t)
	return f, keep, ok
}

// fold is the mark of a folded lateral: three dots in a box, its first bus, and how much lies there.
func (b *builder) fold(f Folded, dead bool) part {
	p := b.pen("fold", f.At, false, dead)
	p.lead(at(0, 0), at(0, 2.4))
	frame, dot := p.solid(conductor), p.solid(0)
	frame.Fill, dot.Fill = drawing.White, p.ink
	p.add(drawing.Box{Style: frame, Rect: rect{X: -3, Y: 2.4, W: 6, H: 3}})
	for i := range 3 {
		p.add(drawing.Circle{Style: dot, Center: at(1.7*float64(i-1), 3.9), R: 0.35})
	}
	p.claim(-3.2, 2.2, 3.2, 5.6)
	p.h, p.anchor = 6, 3.9
	word := "buses"
	if f.Buses == 1 {
		word = "bus"
	}
	lines := []string{f.At + " …", fmt.Sprintf("%d %s", f.Buses, word)}
	loads, devices := 0, 0
	for _, x := range f.Things {
		switch x.Kind {
		case "load":
			loads++
		case "fuse", "recloser", "breaker", "switch":
			devices++
		}
	}
	if loads > 0 {
		lines[1] += fmt.Sprintf(", loads: %d", loads)
	}
	if devices > 0 {
		lines[1] += fmt.Sprintf(", devices: %d", devices)
	}
	p.label(4.2, 3.9, drawing.Start, lines...)
	return p.part
}
