package review

import (
	"errors"
	"fmt"

	"feederwright/duty"
	"feederwright/fault"
	"feederwright/finding"
	"feederwright/network"
	"feederwright/working"
)

// A floor is the smallest current of a fuse, of faults that it is the nearest
// to clear.
type floor struct {
	amperes                float64
	condition, kind, place string
}

// backUpFuses judges fuses that break no less than some current: whether a
// fault beyond, as far as the next device that breaks, may draw less.
func (r *Report) backUpFuses() error {
	any := false
	for i := range r.Doc.Fuses.Entries {
		any = any || r.Doc.Fuses.Entries[i].Item.Least.Given
	}
	if !any {
		return nil
	}
	cases, _, err := r.DutyCases(true)
	if err != nil {
		return err
	}
	parts := make([]map[string]floor, len(cases))
	errs := make([]error, len(cases))
	share(len(cases), func(i int) { parts[i], errs[i] = r.floors(cases[i]) })
	if err := errors.Join(errs...); err != nil {
		return err
	}
	for i := range r.Doc.Fuses.Entries {
		e := &r.Doc.Fuses.Entries[i]
		if !e.Item.Least.Given {
			continue
		}
		var least floor
		for _, p := range parts {
			if f, ok := p[e.Name]; ok && (least.amperes == 0 || f.amperes < least.amperes*(1-1e-9)) {
				least = f
			}
		}
		if least.amperes == 0 {
			continue // nothing beyond that draws a current
		}
		rated := float64(e.Item.Least.V)
		f := finding.Finding{Chapter: "duty", Rule: "smallest-breaking", Subjects: []string{e.Name}, Source: source(e.NameAt), Condition: least.condition, Fault: least.kind, Place: least.place,
			Basis: "IEC 60282-1, minimum breaking current, from memory",
			Value: &finding.Quantity{Value: 100 * least.amperes / rated, Unit: "% of smallest breaking current"},
			Limit: &finding.Quantity{Value: 100, Unit: "%"}, Target: &finding.Quantity{Value: 100, Unit: "%"},
			Title:       fmt.Sprintf("%s has to break %s A or more, and breaks no less than %s A.", e.Name, working.Number(least.amperes, 3), working.Number(rated, 3)),
			Explanation: fmt.Sprintf("Smallest current through its largest phase, bolted, of faults beyond as far as the next device that breaks: %s at %s.", least.kind, least.place)}
		if least.amperes < rated*(1-1e-9) {
			f.Verdict = finding.Fails
			f.Title = fmt.Sprintf("%s may have to break %s A; below %s A it may melt and not clear.", e.Name, working.Number(least.amperes, 3), working.Number(rated, 3))
			f.Cure = "A full-range fuse, or one of a smaller breaking current; or a switch that its striker trips, or a relay, for what lies below."
		}
		r.add(f)
	}
	return nil
}

// floors finds them in one case.
func (r *Report) floors(c *duty.Case) (map[string]floor, error) {
	found := make(map[string]floor)
	n := c.Net
	for number := range n.Switches {
		w := &n.Switches[number]
		if w.Kind != "fuse" || !w.Closed || n.Node[w.From] < 0 {
			continue
		}
		m := &r.Doc.Fuses.Find(w.Name).Item
		if !m.Least.Given {
			continue
		}
		melts := max(noCurrent, float64(m.Continuous.V))
		for _, bus := range beyond(n, number) {
			for _, k := range c.Kinds(bus) {
				x, err := c.Through(number, bus, k)
				var missing *duty.MissingError
				if errors.As(err, &missing) {
					continue // told by the chapter on the supply
				}
				if err != nil {
					return nil, fmt.Errorf("fuse %s, %s at %s: %w", w.Name, fault.KindName(r.Doc, k), n.Buses[bus].Name, err)
				}
				// What doesn't melt it is no matter of its breaking.
				if f, ok := found[w.Name]; x.Initial > melts && (!ok || x.Initial < f.amperes*(1-1e-9)) {
					s := surveyor{doc: r.Doc, c: c}
					found[w.Name] = floor{x.Initial, c.State.Name, fault.KindName(r.Doc, k), s.place(bus)}
				}
			}
		}
	}
	return found, nil
}

// beyond lists the buses that a closed device is the nearest to break for: away
// from sources, or on both sides where both have some, as far as the next
// breaker, recloser or fuse.
func beyond(n *network.Network, device int) []int {
	edges := make([][]int, len(n.Buses))
	join := func(a, b int) { edges[a], edges[b] = append(edges[a], b), append(edges[b], a) }
	for i := range n.Elements {
		e := &n.Elements[i]
		if !n.Live(i) {
			continue
		}
		for _, t := range e.Terminals[1:] {
			join(e.Terminals[0].Bus, t.Bus)
		}
	}
	for i, w := range n.Switches {
		if w.Closed && i != device && w.Kind == "switch" {
			join(w.From, w.To)
		}
	}
	// With everything closed but the device itself: which side has sources.
	whole := make([][]int, len(edges))
	for b := range edges {
		whole[b] = append([]int(nil), edges[b]...)
	}
	for i, w := range n.Switches {
		if w.Closed && i != device && w.Kind != "switch" {
			whole[w.From], whole[w.To] = append(whole[w.From], w.To), append(whole[w.To], w.From)
		}
	}
	reach := func(edges [][]int, from int) []int {
		seen, list := map[int]bool{from: true}, []int{from}
		for i := 0; i < len(list); i++ {
			for _, b := range edges[list[i]] {
				if !seen[b] {
					seen[b] = true
					list = append(list, b)
				}
			}
		}
		return list
	}
	source := make(map[int]bool)
	for i := range n.Elements {
		if e := &n.Elements[i]; n.Live(i) && (e.Kind == network.Infeed || e.Kind == network.SynchronousMachine) {
			source[e.Terminals[0].Bus] = true
		}
	}
	feeds := func(side int) bool {
		for _, b := range reach(whole, side) {
			if source[b] {
				return true
			}
		}
		return false
	}
	w := n.Switches[device]
	from, to := feeds(w.From), feeds(w.To)
	var list []int
	if from {
		list = append(list, reach(edges, w.To)...)
	}
	if to {
		list = append(list, reach(edges, w.From)...)
	}
	return list
}
