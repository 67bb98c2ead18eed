package study

import (
	"fmt"
	"sort"
	"strings"

	"feederwright/quantity"
)

// A PlantRef names a piece of plant: names are unique within a kind.
type PlantRef struct{ Kind, Name string }

// A State is one condition worked out in full.
type State struct {
	Name     string
	Infeed   map[string]string // level of each infeed: maximum, minimum, future, or out
	Open     map[string]bool   // openable devices that are open
	Out      map[PlantRef]bool // plant out of service
	Neutral  map[string]quantity.Neutral
	Tap      map[string]quantity.Fraction
	Prefault float64  // source voltage, part of nominal; 0: as the study says
	Defaults []string // what was taken because nothing is said, in words
	Notes    []string
}

// maxStates bounds the combinations of the axes.
const maxStates = 10_000

// States works out every condition: the named ones, then every combination of
// one state from each axis, except those excluded. A study with neither has
// one condition, "as written".
func (doc *Document) States() ([]State, Diagnostics) {
	c := &conditions{doc: doc}
	for i := range doc.Conditions.Entries {
		e := &doc.Conditions.Entries[i]
		c.add(e.Name, []part{{"condition " + quoted(e.Name), e.NameAt, &e.Item}})
	}
	c.combine()
	if len(c.states) == 0 && len(c.ds) == 0 {
		c.add("as written", nil)
	}
	names := make(map[string]bool)
	for _, s := range c.states {
		if names[s.Name] {
			c.fail(doc.Conditions.At, "conditions", fmt.Sprintf("two conditions are called %q", s.Name),
				"a condition is chosen by its name", "rename a condition or the state of an axis")
		}
		names[s.Name] = true
	}
	doc.Illustrate(c.ds)
	c.ds.Sort(doc.Files)
	return c.states, c.ds
}

func quoted(s string) string { return fmt.Sprintf("%q", s) }

// A part is one difference that a state is made of.
type part struct {
	object string
	at     Mark
	diff   *Difference
}

type conditions struct {
	doc    *Document
	states []State
	ds     Diagnostics
	told   map[string]bool
}

func (c *conditions) fail(at Mark, object, problem, why, fix string) {
	if c.told == nil {
		c.told = make(map[string]bool)
	}
	key := fmt.Sprint(at, problem)
	if c.told[key] { // axes repeat a state in many combinations
		return
	}
	c.told[key] = true
	c.ds = append(c.ds, Diagnostic{Severity: Error, At: at, Object: object, Problem: problem, Why: why, Fix: fix})
}

// add works out one condition from its parts.
func (c *conditions) add(name string, parts []part) {
	doc := c.doc
	s := State{Name: name, Infeed: map[string]string{}, Open: map[string]bool{}, Out: map[PlantRef]bool{},
		Neutral: map[string]quantity.Neutral{}, Tap: map[string]quantity.Fraction{}}
	for _, d := range doc.openable() {
		if d.item.Normally.V == "open" {
			s.Open[d.name] = true
		}
	}
	by := make(map[string]part) // who set what
	set := func(what string, p part, at Mark) bool {
		if before, ok := by[what]; ok && before.diff != p.diff {
			c.fail(at, p.object, fmt.Sprintf("%s is set here and by %s", what, before.object),
				"the states of different axes are combined, so each thing may belong to one axis only", "leave it to one of the two")
			return false
		}
		by[what] = p
		return true
	}
	for _, p := range parts {
		d := p.diff
		c.infeeds(&s, p, set)
		for _, list := range []struct {
			value *Value[[]Ref]
			open  bool
		}{{&d.Open, true}, {&d.Close, false}} {
			for _, ref := range list.value.V {
				device := string(ref)
				if _, twice := by["device "+device]; twice && by["device "+device].diff == d && s.Open[device] != list.open {
					c.fail(list.value.At, p.object, fmt.Sprintf("device %q is both opened and closed", device),
						"a device has one position in a condition", "take it out of one of the two lists")
					continue
				}
				if set("device "+device, p, list.value.At) {
					s.Open[device] = list.open
				}
			}
		}
		for _, list := range []struct {
			value *Value[[]Ref]
			out   bool
		}{{&d.Out, true}, {&d.In, false}} {
			for _, ref := range list.value.V {
				for _, plant := range doc.plant(string(ref)) {
					if set(plant.Kind+" "+plant.Name, p, list.value.At) {
						if list.out {
							s.Out[plant] = true
						} else {
							delete(s.Out, plant)
						}
					}
				}
			}
		}
		if d.Neutrals != nil {
			for i, n := range d.Neutrals.Names {
				if set("neutral of "+n, p, d.Neutrals.NameAt[i]) {
					s.Neutral[n] = d.Neutrals.Values[i].V
				}
			}
		}
		if d.Taps != nil {
			for i, n := range d.Taps.Names {
				if set("tap of "+n, p, d.Taps.NameAt[i]) {
					s.Tap[n] = d.Taps.Values[i].V
				}
			}
		}
		if d.Prefault.Given && set("prefault voltage", p, d.Prefault.At) {
			s.Prefault = float64(d.Prefault.V)
		}
		if d.Note.Given {
			s.Notes = append(s.Notes, d.Note.V)
		}
	}
	c.levels(&s, by)
	c.states = append(c.states, s)
}

// infeeds sets the levels that a difference names.
func (c *conditions) infeeds(s *State, p part, set func(string, part, Mark) bool) {
	d := p.diff
	if !d.Infeed.Given {
		return
	}
	if word, all := d.Infeed.V[""]; all {
		for _, e := range c.doc.Supply.Entries {
			if set("infeed "+e.Name, p, d.Infeed.At) {
				s.Infeed[e.Name] = word
			}
		}
		return
	}
	names := make([]string, 0, len(d.Infeed.V))
	for n := range d.Infeed.V {
		names = append(names, n)
	}
	sort.Strings(names)
	for _, n := range names {
		if set("infeed "+n, p, d.Infeed.At) {
			s.Infeed[n] = d.Infeed.V[n]
		}
	}
}

// levels gives every infeed a level, and checks that it exists.
func (c *conditions) levels(s *State, by map[string]part) {
	for i := range c.doc.Supply.Entries {
		e := &c.doc.Supply.Entries[i]
		word, stated := s.Infeed[e.Name]
		if !stated {
			for _, w := range levelWords {
				if level(&e.Item, w) != nil {
					word = w
					break
				}
			}
			if word == "" {
				continue // told by Validate: no level at all
			}
			s.Infeed[e.Name] = word
			s.Defaults = append(s.Defaults, fmt.Sprintf("infeed %s at its %s where a condition names no level", e.Name, word))
			continue
		}
		if word == "out" || level(&e.Item, word) != nil {
			continue
		}
		var has []string
		for _, w := range levelWords {
			if level(&e.Item, w) != nil {
				has = append(has, w)
			}
		}
		p := by["infeed "+e.Name]
		c.fail(p.diff.Infeed.At, p.object, fmt.Sprintf("infeed %q has no level %q", e.Name, word),
			"a condition can only use a level that the supply gives", "give the level under supply / "+e.Name+", or use "+strings.Join(has, " or "))
	}
}

var levelWords = []string{"maximum", "minimum", "future"}

func level(i *Infeed, word string) *InfeedLevel {
	switch word {
	case "maximum":
		return i.Maximum
	case "minimum":
		return i.Minimum
	case "future":
		return i.Future
	}
	return nil
}

// combine adds every combination of one state from each axis.
func (c *conditions) combine() {
	axes := c.doc.Axes.Entries
	if len(axes) == 0 {
		if c.doc.Exclude.Given && len(c.doc.Exclude.V) > 0 {
			c.fail(c.doc.Exclude.At, "exclude", "there are no axes to exclude combinations of", "", "remove it, or give axes")
		}
		return
	}
	total := 1
	for _, a := range axes {
		if len(a.Item.Entries) == 0 {
			c.fail(a.NameAt, "axis "+quoted(a.Name), "the axis has no states", "a combination takes one state from each axis", "give it states, or remove it")
			return
		}
		if total *= len(a.Item.Entries); total > maxStates {
			c.fail(c.doc.Axes.At, "axes", fmt.Sprintf("the axes give more than %d combinations", maxStates),
				"every combination is computed", "name the conditions that matter under conditions instead")
			return
		}
	}
	c.checkExclude()
	at := make([]int, len(axes))
	for {
		if !c.excluded(at) {
			var parts []part
			var names []string
			for k, a := range axes {
				e := &a.Item.Entries[at[k]]
				names = append(names, e.Name)
				parts = append(parts, part{fmt.Sprintf("axis %q, state %q", a.Name, e.Name), e.NameAt, &e.Item})
			}
			c.add(strings.Join(names, ", "), parts)
		}
		// The last axis changes first, as one reads a table.
		k := len(axes) - 1
		for ; k >= 0; k-- {
			if at[k]++; at[k] < len(axes[k].Item.Entries) {
				break
			}
			at[k] = 0
		}
		if k < 0 {
			return
		}
	}
}

func (c *conditions) excluded(at []int) bool {
	for _, x := range c.doc.Exclude.V {
		all := len(x) > 0
		for axis, state := range x {
			found := false
			for k, a := range c.doc.Axes.Entries {
				found = found || a.Name == axis && a.Item.Entries[at[k]].Name == state
			}
			all = all && found
		}
		if all {
			return true
		}
	}
	return false
}

// checkExclude finds axes and states that don't exist.
func (c *conditions) checkExclude() {
	for _, x := range c.doc.Exclude.V {
		names := make([]string, 0, len(x))
		for axis := range x {
			names = append(names, axis)
		}
		sort.Strings(names)
		for _, axis := range names {
			a := c.doc.Axes.Find(axis)
			if a == nil {
				c.fail(c.doc.Exclude.At, "exclude", fmt.Sprintf("there is no axis %q", axis), "an exclusion names axes and their states", suggest(axis, c.doc.Axes.Names()))
				continue
			}
			if a.Item.Find(x[axis]) == nil {
				c.fail(c.doc.Exclude.At, "exclude", fmt.Sprintf("axis %q has no state %q", axis, x[axis]), "an exclusion names axes and their states", suggest(x[axis], a.Item.Names()))
			}
		}
	}
}

func suggest(word string, known []string) string {
	if near, ok := quantity.Nearest(word, known); ok {
		return fmt.Sprintf("did you mean %q?", near)
	}
	return "use one of " + strings.Join(known, ", ")
}

// An openable is a device of any of the four tables.
type openable struct {
	kind, name string
	nameAt     Mark
	item       *Device
}

// openable lists all devices that can be opened, table by table.
func (doc *Document) openable() []openable {
	var list []openable
	for i := range doc.Switches.Entries {
		e := &doc.Switches.Entries[i]
		list = append(list, openable{"switch", e.Name, e.NameAt, &e.Item})
	}
	for i := range doc.Breakers.Entries {
		e := &doc.Breakers.Entries[i]
		list = append(list, openable{"breaker", e.Name, e.NameAt, &e.Item.Device})
	}
	for i := range doc.Reclosers.Entries {
		e := &doc.Reclosers.Entries[i]
		list = append(list, openable{"recloser", e.Name, e.NameAt, &e.Item.Device})
	}
	for i := range doc.Fuses.Entries {
		e := &doc.Fuses.Entries[i]
		list = append(list, openable{"fuse", e.Name, e.NameAt, &e.Item.Device})
	}
	return list
}

// plant finds what a name of the lists out and in means. Lines and
// transformers come before loads and capacitors of the same name.
func (doc *Document) plant(name string) []PlantRef {
	for _, t := range []struct {
		kind  string
		there bool
	}{
		{"infeed", doc.Supply.Find(name) != nil},
		{"transformer", doc.Transformers.Find(name) != nil},
		{"earthing transformer", doc.EarthingTransformers.Find(name) != nil},
		{"line", doc.Lines.Find(name) != nil},
		{"capacitor", doc.Capacitors.Find(name) != nil},
		{"load", doc.Loads.Find(name) != nil},
	} {
		if t.there {
			return []PlantRef{{t.kind, name}}
		}
	}
	return nil
}

// Select picks conditions: the one of that name, or all whose comma-separated
// parts include every part of the pattern; "all" picks all.
func Select(states []State, pattern string) ([]State, error) {
	pattern = strings.TrimSpace(pattern)
	if pattern == "all" {
		return states, nil
	}
	parts := func(s string) []string {
		var list []string
		for _, p := range strings.Split(s, ",") {
			list = append(list, strings.TrimSpace(p))
		}
		return list
	}
	var names, words []string
	seen := make(map[string]bool)
	for _, s := range states {
		if s.Name == pattern {
			return []State{s}, nil
		}
		names = append(names, s.Name)
		for _, w := range parts(s.Name) {
			if !seen[w] {
				seen[w] = true
				words = append(words, w)
			}
		}
	}
	var chosen []State
	for _, s := range states {
		has := make(map[string]bool)
		for _, w := range parts(s.Name) {
			has[w] = true
		}
		all := true
		for _, w := range parts(pattern) {
			all = all && has[w]
		}
		if all {
			chosen = append(chosen, s)
		}
	}
	if len(chosen) > 0 {
		return chosen, nil
	}
	for _, w := range parts(pattern) {
		if !seen[w] {
			if near, ok := quantity.Nearest(w, words); ok {
				return nil, fmt.Errorf("no condition has %q in its name; did you mean %q?", w, near)
			}
		}
	}
	const most = 12
	if len(names) > most {
		names = append(names[:most:most], fmt.Sprintf("and %d more", len(states)-most))
	}
	return nil, fmt.Errorf("no condition matches %q; conditions are: %s", pattern, strings.Join(names, "; "))
}
