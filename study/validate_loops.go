package study

import (
	"fmt"
	"math"
	"slices"
	"sort"
	"strconv"
	"strings"

	"feederwright/quantity"
)

// ratioClose is by how much the turns ratios round a loop may differ: an
// off-circuit tap of one unit is as much (common practice, no source).
const ratioClose = 0.05

// A link joins two buses: a line, a transformer, or a device between buses.
type link struct {
	a, b    Ref
	name    string
	plant   PlantRef // of a line or transformer
	devices []string // those whose opening breaks it
	tr      *Entry[Transformer]
}

// A step goes along a link.
type step struct {
	link    *link
	forward bool // from a to b
}

// clock is by how many hours the voltage lags after the step.
func (s step) clock() int {
	switch {
	case s.link.tr == nil:
		return 0
	case s.forward:
		return s.link.tr.Item.Group.V.Clock
	}
	return -s.link.tr.Item.Group.V.Clock
}

// ratio is the voltage after the step over that before.
func (s step) ratio() float64 {
	if s.link.tr == nil {
		return 1
	}
	p := s.link.tr.Item.Voltages.V
	if s.forward {
		return p.To / p.From
	}
	return p.From / p.To
}

// A loop is a closed way, and what remains on coming round it.
type loop struct {
	steps []step
	clock int     // hours, 0 to 11
	ratio float64 // 1 where the turns ratios agree
}

func (l loop) closes() bool { return l.clock == 0 && math.Abs(l.ratio-1) <= ratioClose }

// transformers lists those of the loop in the order of the file.
func (l loop) transformers() []*Entry[Transformer] {
	var list []*Entry[Transformer]
	for _, s := range l.steps {
		if s.link.tr != nil {
			list = append(list, s.link.tr)
		}
	}
	sort.SliceStable(list, func(i, j int) bool {
		a, b := list[i].NameAt, list[j].NameAt
		return a.File == b.File && a.Start < b.Start
	})
	return list
}

// id is the same for all loops through the same transformers.
func (l loop) id() string {
	var names []string
	for _, e := range l.transformers() {
		names = append(names, e.Name)
	}
	slices.Sort(names)
	return strings.Join(names, "\n")
}

func (v *validator) links() []*link {
	var list []*link
	inBranch := make(map[string][]string)
	for _, d := range v.doc.Devices() {
		if d.In.Given {
			inBranch[string(d.In.V)] = append(inBranch[string(d.In.V)], d.Name)
		}
	}
	add := func(l *link, from, to Value[Ref]) {
		a, b := v.bus(from), v.bus(to)
		if a == nil || b == nil || from.V == to.V {
			return
		}
		if l.tr == nil && math.Abs(float64(a.Voltage.V)/float64(b.Voltage.V)-1) > sameVoltage {
			return // told by itself
		}
		l.a, l.b = from.V, to.V
		list = append(list, l)
	}
	for i := range v.doc.Lines.Entries {
		e := &v.doc.Lines.Entries[i]
		add(&link{name: e.Name, plant: PlantRef{"line", e.Name}, devices: inBranch[e.Name]}, e.Item.From, e.Item.To)
	}
	for _, b := range v.doc.Branches() {
		if b.Kind == "reactor" || b.Kind == "regulator" {
			add(&link{name: b.Name, plant: PlantRef{b.Kind, b.Name}, devices: inBranch[b.Name]}, b.Ends[0], b.Ends[1])
		}
	}
	for _, d := range v.doc.Devices() {
		add(&link{name: d.Name, devices: []string{d.Name}}, d.From, d.To)
	}
	for i := range v.doc.Transformers.Entries {
		e := &v.doc.Transformers.Entries[i]
		if p := e.Item.Voltages.V; e.Item.Group.Given && e.Item.Voltages.Given && p.From > 0 && p.To > 0 {
			add(&link{name: e.Name, plant: PlantRef{"transformer", e.Name}, devices: inBranch[e.Name], tr: e}, e.Item.From, e.Item.To)
		}
	}
	return list
}

// closed says whether a link is whole in a state.
func (l *link) closed(s State) bool {
	for _, d := range l.devices {
		if s.Open[d] {
			return false
		}
	}
	return !s.Out[l.plant]
}

// openLoops finds the loops of some links that do not close: each bus is
// reached first by one way, and every further link must agree with it.
func openLoops(links []*link) []loop {
	next := make(map[Ref][]step)
	var order []Ref
	at := func(bus Ref, s step) {
		if next[bus] == nil {
			order = append(order, bus)
		}
		next[bus] = append(next[bus], s)
	}
	for _, l := range links {
		at(l.a, step{l, true})
		at(l.b, step{l, false})
	}
	type reach struct {
		by    step
		from  Ref
		depth int // steps from the start
		clock int
		ratio float64
	}
	reached := make(map[Ref]reach)
	seen := make(map[*link]bool)
	var found []loop
	for _, start := range order {
		if _, done := reached[start]; done {
			continue
		}
		reached[start] = reach{ratio: 1}
		for queue := []Ref{start}; len(queue) > 0; queue = queue[1:] {
			bus := queue[0]
			here := reached[bus]
			for _, s := range next[bus] {
				if seen[s.link] {
					continue
				}
				seen[s.link] = true
				far := s.link.b
				if !s.forward {
					far = s.link.a
				}
				there, again := reached[far]
				if !again {
					reached[far] = reach{s, bus, here.depth + 1, here.clock + s.clock(), here.ratio * s.ratio()}
					queue = append(queue, far)
					continue
				}
				l := loop{
					clock: ((here.clock+s.clock()-there.clock)%12 + 12) % 12,
					ratio: here.ratio * s.ratio() / there.ratio,
				}
				if l.closes() {
					continue
				}
				// Down to this bus, along the link, and back from the far bus to
				// where the two ways part.
				var down, up []step
				for a, b := bus, far; a != b; {
					if ra, rb := reached[a], reached[b]; ra.depth >= rb.depth {
						down, a = append(down, ra.by), ra.from
					} else {
						up, b = append(up, step{rb.by.link, !rb.by.forward}), rb.from
					}
				}
				slices.Reverse(down)
				l.steps = append(append(down, s), up...)
				found = append(found, l)
			}
		}
	}
	return found
}

// loops checks that vector groups and turns ratios close round every loop. A
// loop that some condition closes is an error; one that none does, a warning.
func (v *validator) loops() {
	links := v.links()
	ever := openLoops(links)
	if len(ever) == 0 {
		return // with every device closed all loops agree, so in every condition
	}
	told := make(map[string]bool)
	states, _ := v.doc.States()
	if len(states) == 0 {
		b := newStateBuilder(v.doc)
		states = []State{b.base}
	}
	topologies := make(map[string]bool)
	for _, s := range states {
		var closed []*link
		bits := make([]byte, len(links))
		for i, l := range links {
			if l.closed(s) {
				closed = append(closed, l)
				bits[i] = 1
			}
		}
		if topologies[string(bits)] {
			continue
		}
		topologies[string(bits)] = true
		for _, l := range openLoops(closed) {
			if !told[l.id()] {
				told[l.id()] = true
				v.openLoop(l, Error, s.Name)
			}
		}
	}
	for _, l := range ever {
		if !told[l.id()] {
			told[l.id()] = true
			v.openLoop(l, Warning, "")
		}
	}
}

// openLoop tells of a loop that does not close, at the transformer of it that
// was written last.
func (v *validator) openLoop(l loop, s Severity, condition string) {
	transformers := l.transformers() // at least one: all else shifts and changes nothing
	tr := transformers[len(transformers)-1]
	object := "transformer " + strconv.Quote(tr.Name)
	// Begin the round at the transformer that was written first.
	var names []string
	first := 0
	for i, st := range l.steps {
		names = append(names, st.link.name)
		if st.link.tr == transformers[0] {
			first = i
		}
	}
	round := strings.Join(append(names[first:], names[:first]...), ", ")
	when := ""
	if s == Warning {
		when = "; no condition closes it"
	} else if condition != "" && condition != AsWritten {
		when = fmt.Sprintf(", in condition %q", condition)
	}
	var d Diagnostic
	if l.clock != 0 {
		d = Diagnostic{Severity: s, At: tr.Item.Group.At, Object: object,
			Problem: fmt.Sprintf("the vector groups round the loop %s do not close: they leave %d°%s", round, 30*min(l.clock, 12-l.clock), when),
			Why:     "two ways between the same buses must shift the phases alike, or closing the loop is a short circuit",
			Fix:     closing(l, tr)}
	} else {
		off := math.Max(l.ratio, 1/l.ratio) - 1
		d = Diagnostic{Severity: Warning, At: tr.Item.Voltages.At, Object: object,
			Problem: fmt.Sprintf("the turns ratios round the loop %s differ by %s %%%s", round, quantity.Format(100*off, 3), when),
			Why:     "closing the loop drives a circulating current", Fix: "look at the rated voltages"}
	}
	for _, other := range transformers[:len(transformers)-1] {
		at, text := other.Item.Group.At, fmt.Sprintf("transformer %q is %s", other.Name, other.Item.Group.Text)
		if l.clock == 0 {
			at, text = other.Item.Voltages.At, fmt.Sprintf("transformer %q has %s", other.Name, other.Item.Voltages.Text)
		}
		d.Related = append(d.Related, Related{At: at, Text: text})
	}
	v.ds = append(v.ds, d)
}

// closing says which clock number of a transformer would close the loop.
func closing(l loop, tr *Entry[Transformer]) string {
	g := tr.Item.Group.V
	for _, s := range l.steps {
		if s.link.tr != tr {
			continue
		}
		// Round the loop the clocks add up to l.clock, this one with its sign.
		if s.forward {
			g.Clock -= l.clock
		} else {
			g.Clock += l.clock
		}
	}
	g.Clock = (g.Clock%12 + 12) % 12
	var possible quantity.VectorGroup
	if possible.UnmarshalText([]byte(g.String())) != nil {
		return fmt.Sprintf("look at the nameplates, and at which bus each side is on: no clock number of %s closes the loop", strings.TrimRight(tr.Item.Group.Text, "0123456789"))
	}
	return fmt.Sprintf("look at the nameplates; with %s as %s the loop closes", tr.Name, g)
}
