package study

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"feederwright/quantity"
)

// A State is one condition of the study with everything said: what the study
// has as written, and what the condition changes.
type State struct {
	Name string
	// Infeed is the level of each infeed: maximum, minimum, future or out.
	Infeed map[string]string
	// Open tells of every device that can be opened whether it is open.
	Open map[string]bool
	// Out is the plant out of service.
	Out map[PlantRef]bool
	// Neutral and Tap hold what differs from the study as written, by the name
	// of the transformer or earthing transformer.
	Neutral map[string]quantity.Neutral
	Tap     map[string]quantity.Fraction
	// Regulator holds positions of regulators that differ from the study as written.
	Regulator map[string]quantity.Positions
	// Prefault is the source voltage before the fault, a fraction of nominal;
	// 0 where the condition does not state one, and that of the method, or 1
	// by default, holds.
	Prefault float64
	// Hot is true where line impedances with conductors at their highest
	// temperature hold.
	Hot bool
	// Loads is the load level; its zero value where the condition states none.
	Loads    quantity.LoadLevel
	Diff     []string // what the condition states, in words
	Defaults []string // what it leaves open and how that is filled, in words
	Note     string
}

// A PlantRef names plant by kind, as the kinds have name spaces of their own.
type PlantRef struct{ Kind, Name string }

func (p PlantRef) String() string { return p.Kind + " " + p.Name }

// AsWritten is the name of the only condition of a study that states none.
const AsWritten = "as written"

// MaxCombinations bounds the conditions that axes may span. A study of a
// station has a few hundred; beyond this a slip in an axis is likelier.
const MaxCombinations = 10_000

// A settingKey is one thing that a condition can set.
type settingKey struct {
	what string // "level", "service", "position", "neutral", "tap", "regulator", "prefault", "temperature of conductors", "loads"
	PlantRef
}

func (k settingKey) String() string {
	switch k.what {
	case "level":
		return "the level of infeed " + k.Name
	case "service":
		return k.PlantRef.String()
	case "position":
		return k.Kind + " " + k.Name
	case "neutral", "tap":
		return "the " + k.what + " of " + k.Name
	case "regulator":
		return "the position of " + k.Name
	case conductorsSetting:
		return "the " + k.what
	}
	return k.what
}

// A setting is what a condition says of one thing.
type setting struct {
	settingKey
	value string // as words; equal words are the same setting
	at    Mark
}

// conductorsSetting is what a condition sets with conductors: cold or hot.
const conductorsSetting = "temperature of conductors"

// The two values of a setting of service.
const (
	inService    = "in service"
	outOfService = "out of service"
)

// A change is what one Difference sets, with its name for messages.
type change struct {
	object   string // `condition "peak"`, or `axis "solar", state "off"`
	name     string
	at       Mark
	diff     *Difference
	settings []setting
	words    []string
	failed   bool
}

// States gives the conditions of the study: those that have names, in order,
// then every combination of the axes but those excluded, the last axis
// running fastest. A study with neither stands as it is written.
func (doc *Document) States() ([]State, Diagnostics) {
	b := newStateBuilder(doc)
	states := b.states()
	return states, b.done()
}

type stateBuilder struct {
	*checker
	base     State
	devices  map[string]string // name to kind
	branches map[string]string // name to kind: what neutrals and taps are of
	sets     map[settingKey][]*change
	axes     [][]*change
	named    []*change
}

func newStateBuilder(doc *Document) *stateBuilder {
	b := &stateBuilder{checker: newChecker(doc), devices: make(map[string]string), branches: make(map[string]string), sets: make(map[settingKey][]*change)}
	b.base = State{Open: make(map[string]bool)}
	for _, d := range doc.Devices() {
		if _, taken := b.devices[d.Name]; !taken {
			b.devices[d.Name] = d.Kind
			b.base.Open[d.Name] = d.Normally.V == "open"
		}
	}
	for _, e := range doc.Transformers.Entries {
		b.branches[e.Name] = "transformer"
	}
	for _, e := range doc.EarthingTransformers.Entries {
		b.branches[e.Name] = "earthing transformer"
	}
	for _, e := range doc.ThreeWinding.Entries {
		b.branches[e.Name] = "three-winding transformer"
	}
	for _, e := range doc.SynchronousMachines.Entries {
		if b.branches[e.Name] == "" {
			b.branches[e.Name] = "synchronous machine"
		}
	}
	return b
}

func (b *stateBuilder) states() []State {
	for i := range b.doc.Conditions.Entries {
		e := &b.doc.Conditions.Entries[i]
		ch := b.read(object("condition", e.Name), e.Name, e.NameAt, &e.Item)
		b.nameFits(ch, "condition")
		b.named = append(b.named, ch)
	}
	for i := range b.doc.Axes.Entries {
		axis := &b.doc.Axes.Entries[i]
		if len(axis.Item.Entries) == 0 {
			b.fail(axis.NameAt, object("axis", axis.Name), "has no states", "every condition takes one state from each axis", "give it states, or delete it")
			continue
		}
		var states []*change
		for j := range axis.Item.Entries {
			e := &axis.Item.Entries[j]
			ch := b.read(object("axis", axis.Name)+", "+object("state", e.Name), e.Name, e.NameAt, &e.Item)
			b.nameFits(ch, "state")
			states = append(states, ch)
		}
		b.axes = append(b.axes, states)
	}
	b.sameNames()
	b.idle()

	var states []State
	for _, ch := range b.named {
		if s, ok := b.apply(ch.name, []*change{ch}); ok {
			states = append(states, s)
		}
	}
	states = append(states, b.combine()...)
	if len(b.named) == 0 && len(b.doc.Axes.Entries) == 0 {
		if s, ok := b.apply(AsWritten, nil); ok {
			states = append(states, s)
		}
	}
	return states
}

// nameFits refuses the names that choosing conditions gives a meaning to.
func (b *stateBuilder) nameFits(ch *change, what string) {
	if strings.Contains(ch.name, ",") {
		b.fail(ch.at, ch.object, fmt.Sprintf("the name of the %s has a comma in it", what),
			"commas join the states of the axes in the names of their combinations", "leave the comma out")
	}
	if strings.TrimSpace(ch.name) == "all" {
		b.fail(ch.at, ch.object, fmt.Sprintf("the %s is called all", what), "where a condition is chosen, all stands for every one", "choose another name")
	}
}

// sameNames tells of a state's name in two axes, by which a combination
// cannot be told, and of a condition called like a combination.
func (b *stateBuilder) sameNames() {
	first := make(map[string]*change)
	for _, axis := range b.axes {
		for _, ch := range axis {
			if f := first[ch.name]; f != nil {
				b.warn(ch.at, ch.object, fmt.Sprintf("another axis has a state %q too", ch.name),
					"where a condition is chosen by one of its states, it would not be plain which is meant", "call one of them otherwise").
					see(f.at, "the other one")
				continue
			}
			first[ch.name] = ch
		}
	}
	if len(b.axes) != 1 {
		return // names of combinations have commas, which names of conditions don't
	}
	for _, ch := range b.named {
		if f := first[ch.name]; f != nil {
			b.fail(ch.at, ch.object, "has the name of a combination of the axes", "a name means one condition", "rename one of them").
				see(f.at, "this state makes a condition of the same name")
		}
	}
}

// read works out what a Difference sets.
func (b *stateBuilder) read(obj, name string, at Mark, d *Difference) *change {
	ch := &change{object: obj, name: name, at: at, diff: d}
	set := func(key settingKey, value string, at Mark) {
		for _, s := range ch.settings {
			if s.settingKey == key && s.value != value {
				b.fail(at, obj, fmt.Sprintf("%s is both %s and %s", key, s.value, value), "a condition has one of them", "take one of them out").
					see(s.at, "%s here", s.value)
				ch.failed = true
				return
			} else if s.settingKey == key {
				b.warn(at, obj, fmt.Sprintf("%s is %s twice", key, value), "", "take one of them out").see(s.at, "first here")
				return
			}
		}
		ch.settings = append(ch.settings, setting{key, value, at})
		b.sets[key] = append(b.sets[key], ch)
	}
	b.readLevels(ch, set)
	for i, ref := range d.Open.V {
		b.readPosition(string(ref), "open", part(d.Open.At, d.Open.Parts, i), set)
	}
	for i, ref := range d.Close.V {
		b.readPosition(string(ref), "closed", part(d.Close.At, d.Close.Parts, i), set)
	}
	for i, ref := range d.Out.V {
		b.readService(string(ref), outOfService, part(d.Out.At, d.Out.Parts, i), set)
	}
	for i, ref := range d.In.V {
		b.readService(string(ref), inService, part(d.In.At, d.In.Parts, i), set)
	}
	if d.Neutrals != nil {
		for i, name := range d.Neutrals.Names {
			if v := d.Neutrals.Values[i]; v.Given && b.neutralFits(ch, name, d.Neutrals.NameAt[i]) {
				set(settingKey{"neutral", PlantRef{b.branches[name], name}}, v.V.String(), v.At)
			}
		}
	}
	if d.Taps != nil {
		for i, name := range d.Taps.Names {
			if v := d.Taps.Values[i]; v.Given && b.tapFits(ch, name, d.Taps.NameAt[i], v) {
				set(settingKey{"tap", PlantRef{b.branches[name], name}}, v.V.String(), v.At)
			}
		}
	}
	if d.Regulators != nil {
		for i, name := range d.Regulators.Names {
			if v := d.Regulators.Values[i]; v.Given && b.positionsFit(ch, name, v) {
				set(settingKey{"regulator", PlantRef{"regulator", name}}, v.V.String(), v.At)
			}
		}
	}
	if d.Prefault.Given && b.prefaultFits(obj+", prefault", d.Prefault) {
		set(settingKey{what: "prefault"}, d.Prefault.V.String(), d.Prefault.At)
	}
	if d.Conductors.Given {
		set(settingKey{what: conductorsSetting}, d.Conductors.V, d.Conductors.At)
	}
	if d.Loads.Given {
		set(settingKey{what: "loads"}, d.Loads.V.String(), d.Loads.At)
	}
	ch.words = b.words(ch)
	return ch
}

func (b *stateBuilder) readLevels(ch *change, set func(settingKey, string, Mark)) {
	d := ch.diff
	if word, all := d.Infeed.V[""]; all && d.Infeed.Given {
		if word == "out" {
			b.fail(d.Infeed.At, ch.object+", infeed", "takes every infeed out", "without a source there is nothing to compute", "name the infeeds that are out, as infeed: { NAME: out }")
			ch.failed = true
			return
		}
		for i := range b.doc.Supply.Entries {
			b.readLevel(ch, &b.doc.Supply.Entries[i], word, d.Infeed.At, set)
		}
		return
	}
	for _, name := range sortedNames(d.Infeed.V) {
		if e := b.doc.Supply.Find(name); e != nil {
			_, at := b.pair(d.Infeed.At, name)
			b.readLevel(ch, e, d.Infeed.V[name], at, set)
		}
	}
}

func (b *stateBuilder) readLevel(ch *change, e *Entry[Infeed], word string, at Mark, set func(settingKey, string, Mark)) {
	if word == "out" {
		set(settingKey{"service", PlantRef{"infeed", e.Name}}, outOfService, at)
		return
	}
	if e.Item.Level(word) == nil {
		if !slices.Contains([]string{"maximum", "minimum", "future"}, word) || b.unread(e.At, word) {
			return // told when the file was read
		}
		has := levelsOf(&e.Item)
		fix := "add " + word + " to the infeed"
		if len(has) > 0 {
			fix += ", or write " + listWords(has, "or")
		}
		b.fail(at, ch.object+", infeed", fmt.Sprintf("infeed %q has no level %s", e.Name, word), "", fix).see(e.NameAt, "the infeed")
		ch.failed = true
		return
	}
	set(settingKey{"level", PlantRef{"infeed", e.Name}}, word, at)
}

// Level returns the level that a word names, or nil.
func (i *Infeed) Level(word string) *InfeedLevel {
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

// levelsOf lists the levels that an infeed has.
func levelsOf(i *Infeed) []string {
	var words []string
	for _, w := range []string{"maximum", "minimum", "future"} {
		if i.Level(w) != nil {
			words = append(words, w)
		}
	}
	return words
}

func (b *stateBuilder) readPosition(name, position string, at Mark, set func(settingKey, string, Mark)) {
	if kind, ok := b.devices[name]; ok {
		set(settingKey{"position", PlantRef{kind, name}}, position, at)
	}
}

func (b *stateBuilder) readService(name, service string, at Mark, set func(settingKey, string, Mark)) {
	if kinds := b.doc.plantCalled(name); len(kinds) == 1 {
		set(settingKey{"service", PlantRef{kinds[0], name}}, service, at)
	}
}

// plantCalled lists the kinds of plant of that name that can be out of service.
func (doc *Document) plantCalled(name string) []string {
	var kinds []string
	add := func(kind string, found bool) {
		if found {
			kinds = append(kinds, kind)
		}
	}
	add("infeed", doc.Supply.Find(name) != nil)
	add("transformer", doc.Transformers.Find(name) != nil)
	add("earthing transformer", doc.EarthingTransformers.Find(name) != nil)
	add("three-winding transformer", doc.ThreeWinding.Find(name) != nil)
	add("bank", doc.Banks.Find(name) != nil)
	add("regulator", doc.Regulators.Find(name) != nil)
	add("reactor", doc.Reactors.Find(name) != nil)
	add("induction machine", doc.InductionMachines.Find(name) != nil)
	add("synchronous machine", doc.SynchronousMachines.Find(name) != nil)
	add("inverter", doc.Inverters.Find(name) != nil)
	add("line", doc.Lines.Find(name) != nil)
	add("capacitor", doc.Capacitors.Find(name) != nil)
	add("load", doc.Loads.Find(name) != nil)
	return kinds
}

// neutralFits says whether one neutral is meant.
func (b *stateBuilder) neutralFits(ch *change, name string, at Mark) bool {
	obj := ch.object + ", neutrals"
	switch e := b.doc.Transformers.Find(name); {
	case e == nil:
		return b.doc.EarthingTransformers.Find(name) != nil || b.doc.SynchronousMachines.Find(name) != nil
	case !e.Item.Group.Given:
		return false
	case !e.Item.Group.V.From.Neutral && !e.Item.Group.V.To.Neutral:
		b.fail(at, obj, fmt.Sprintf("transformer %q is %s: it has no neutral", name, e.Item.Group.Text), "", "take it out here, or mend the group").
			see(e.Item.Group.At, "the group")
	case e.Item.Group.V.From.Neutral && e.Item.Group.V.To.Neutral:
		b.fail(at, obj, fmt.Sprintf("transformer %q is %s: it has two neutrals, and one value is given", name, e.Item.Group.Text),
			"it must be plain which neutral is meant", "leave the neutrals as written, or describe the two earthings as two transformers, one of them out").
			see(e.Item.Group.At, "the group")
	default:
		return true
	}
	ch.failed = true
	return false
}

// tapFits says whether a tap position exists.
func (b *stateBuilder) tapFits(ch *change, name string, at Mark, v Value[quantity.Fraction]) bool {
	obj := ch.object + ", taps"
	if t := b.doc.ThreeWinding.Find(name); t != nil {
		switch {
		case t.Item.Taps.Given:
			if b.tapInRange(obj, v, t.Item.Taps, "taps") {
				return true
			}
		case !b.unread(t.At, "taps"):
			b.fail(at, obj, fmt.Sprintf("three-winding transformer %q has no tap range", name), "it must be plain how far the taps go",
				"add taps to the transformer, as +-10 % in 32 steps").see(t.NameAt, "the transformer")
		}
		ch.failed = true
		return false
	}
	e := b.doc.Transformers.Find(name)
	if e == nil {
		return false
	}
	from, to := e.Item.FromTaps, e.Item.ToTaps
	taps, side := to, "to"
	switch {
	case !from.Given && !to.Given:
		if !b.unread(e.At, "from taps") && !b.unread(e.At, "to taps") {
			b.fail(at, obj, fmt.Sprintf("transformer %q has no tap range", name), "it must be plain which winding has the taps, and how far they go",
				"add from taps or to taps to the transformer, as +-10 % in 32 steps").see(e.NameAt, "the transformer")
		}
		ch.failed = true
		return false
	case from.Given && to.Given:
		b.warn(at, obj, fmt.Sprintf("transformer %q has taps on both windings; the position is taken on the second", name),
			"a condition moves the taps that move under load, which are most often on the second winding",
			"if the first winding's taps are meant, state them in the study as from tap").see(from.At, "the taps of the first winding")
	case from.Given:
		taps, side = from, "from"
	}
	if !b.tapInRange(obj, v, taps, side+" taps") {
		ch.failed = true
		return false
	}
	return true
}

// positionsFit says whether a regulator has such positions.
func (b *stateBuilder) positionsFit(ch *change, name string, v Value[quantity.Positions]) bool {
	e := b.doc.Regulators.Find(name)
	if e == nil {
		return false
	}
	if !b.positions(ch.object+", regulator positions", v, &e.Item, b.doc.regulatorUnits(name)) {
		ch.failed = true
		return false
	}
	return true
}

// positions checks the positions of a regulator's units.
func (c *checker) positions(obj string, v Value[quantity.Positions], r *Regulator, units int) bool {
	if n := len(v.V); n != 1 && n != units {
		c.fail(v.At, obj, fmt.Sprintf("%s has %d positions for %d units", v.Text, n, units), "each unit stands at one position",
			"write one for all, or one for each in the order of the connection")
		return false
	}
	for _, p := range v.V {
		one := Value[quantity.Fraction]{V: quantity.Fraction(p), Given: true, At: v.At, Text: percentText(p)}
		if r.Taps.Given && !c.tapInRange(obj, one, r.Taps, "taps") {
			return false
		}
		if !r.Taps.Given && math.Abs(p) > 0.25 {
			c.fail(v.At, obj, percentText(p)+" is no position of a regulator", "regulators reach 10 % or so ("+commonPractice+")", "write it in percent, or state the range as taps")
			return false
		}
	}
	return true
}

// regulatorUnits is how many units a regulator's connection has.
func (doc *Document) regulatorUnits(name string) int {
	b, ok := doc.Branch(name)
	if !ok || b.Kind != "regulator" {
		return 0
	}
	switch doc.Regulators.Find(name).Item.Connection.V {
	case "open-delta":
		return 2
	case "closed-delta":
		return 3
	}
	return (doc.BranchConductors(b, 0) & threePhases).Count()
}

// tapInRange checks a position against its range.
func (c *checker) tapInRange(obj string, v Value[quantity.Fraction], taps Value[quantity.TapRange], key string) bool {
	const rounding = 1e-9 // of rated turns: percent typed in decimals are not exact in binary
	r, tap := taps.V, float64(v.V)
	if tap < r.Min-rounding || tap > r.Max+rounding {
		c.fail(v.At, obj, fmt.Sprintf("tap %s is outside %s", v.Text, taps.Text), "", "write a position inside the range, or mend the range").
			see(taps.At, "%s", key)
		return false
	}
	if step := r.Step(); step > 0 {
		k := (tap - r.Min) / step
		if off := math.Abs(k - math.Round(k)); off > tapRounding {
			nearest := r.Min + math.Round(k)*step
			c.warn(v.At, obj, fmt.Sprintf("tap %s lies between two steps of %s", v.Text, taps.Text), "",
				fmt.Sprintf("the nearest step is %s", percentText(nearest))).see(taps.At, "%s", key)
		}
	}
	return true
}

// tapRounding is how far from a step a position may be, in steps: a tap of
// 0.625 % is often typed as 0.6 % or 0.63 %.
const tapRounding = 0.1

// percentText writes a fraction as a percentage of four digits at most.
func percentText(f float64) string { return number(100*f) + " %" }

// Limits of a plausible source voltage before the fault.
const (
	// Half the voltage is no operating state: 1.05 % or 10 % is a slip.
	leastPrefault = 0.5
	mostPrefault  = 1.5
	// Supply voltages stay within 10 % of nominal (EN 50160, clause 5.2.2; ANSI
	// C84.1 range B is inside it) [from memory].
	usualPrefaultLow  = 0.9
	usualPrefaultHigh = 1.1
)

func (c *checker) prefaultFits(obj string, v Value[quantity.Fraction]) bool {
	p := float64(v.V)
	switch {
	case p <= 0:
		c.fail(v.At, obj, fmt.Sprintf("the source voltage before the fault is %s", v.Text), "a source has a voltage above zero", "write it in percent of nominal, as 100 %")
		return false
	case p < leastPrefault || p > mostPrefault:
		fix := "write it in percent of nominal, as 100 %"
		if hundred := 100 * p; hundred >= leastPrefault && hundred <= mostPrefault {
			fix = "if " + number(hundred) + " per unit is meant, write " + percentText(hundred)
		}
		c.fail(v.At, obj, fmt.Sprintf("the source voltage before the fault, %s of nominal, is no operating state", v.Text),
			"it is a percentage of the nominal voltage (common practice, no source: 90 % to 110 %)", fix)
		return false
	case p < usualPrefaultLow || p > usualPrefaultHigh:
		c.warn(v.At, obj, fmt.Sprintf("the source voltage before the fault is %s of nominal", v.Text),
			"supply voltages stay within 10 % of nominal (EN 50160, 5.2.2 [from memory])", "")
	}
	return true
}

// words tells what a change states.
func (b *stateBuilder) words(ch *change) []string {
	var words []string
	if word, all := ch.diff.Infeed.V[""]; all && len(b.doc.Supply.Entries) > 1 && word != "out" {
		words = append(words, "all infeeds at "+word)
	}
	for _, s := range ch.settings {
		if s.value == b.asWritten(s.settingKey) && (s.what == "position" || s.what == "service") {
			continue
		}
		switch s.what {
		case "level":
			if _, all := ch.diff.Infeed.V[""]; !all || len(b.doc.Supply.Entries) == 1 {
				words = append(words, "infeed "+s.Name+" at "+s.value)
			}
		case "service":
			words = append(words, s.PlantRef.String()+" "+s.value)
		case "position":
			words = append(words, s.Kind+" "+s.Name+" "+s.value)
		case "neutral":
			how := s.value
			if how != "solid" && how != "open" {
				how = "through " + how
			}
			words = append(words, "neutral of "+s.Name+" "+how)
		case "tap", "regulator":
			words = append(words, strings.TrimPrefix(s.what+" of ", "regulator of ")+s.Name+" at "+s.value)
		case "prefault":
			words = append(words, "source voltage "+s.value)
		case conductorsSetting:
			words = append(words, "conductors "+s.value)
		case "loads":
			words = append(words, "loads at "+s.value)
		}
	}
	return words
}

// asWritten is what the study says of a thing where no condition sets it; ""
// where it says nothing.
func (b *stateBuilder) asWritten(k settingKey) string {
	switch k.what {
	case "position":
		if b.base.Open[k.Name] {
			return "open"
		}
		return "closed"
	case "service":
		return inService
	case "neutral":
		if e := b.doc.Transformers.Find(k.Name); e != nil {
			v := e.Item.Neutral
			if g := e.Item.Group.V; !v.Given && g.From.Neutral {
				v = e.Item.FromNeutral
			} else if !v.Given {
				v = e.Item.ToNeutral
			}
			return v.V.String()
		}
		if e := b.doc.EarthingTransformers.Find(k.Name); e != nil && e.Item.Neutral.Given {
			return e.Item.Neutral.V.String()
		}
		if e := b.doc.SynchronousMachines.Find(k.Name); e != nil && k.Kind == "synchronous machine" {
			return e.Item.Neutral.V.String()
		}
		return "solid"
	case "regulator":
		if e := b.doc.Regulators.Find(k.Name); e != nil && e.Item.Position.Given {
			return e.Item.Position.V.String()
		}
		return quantity.Positions{0}.String()
	case "tap":
		if e := b.doc.ThreeWinding.Find(k.Name); e != nil {
			return e.Item.Tap.V.String()
		}
		e := b.doc.Transformers.Find(k.Name)
		if e == nil {
			return ""
		}
		if e.Item.ToTaps.Given {
			return e.Item.ToTap.V.String()
		}
		return e.Item.FromTap.V.String()
	case "prefault":
		if m := b.doc.Method; m != nil && m.Prefault.Given {
			return m.Prefault.V.String()
		}
		return quantity.Fraction(1).String()
	case conductorsSetting:
		if m := b.doc.Method; m != nil && m.Conductors.Given {
			return m.Conductors.V
		}
		return "cold"
	case "loads":
		return quantity.LoadLevel{Word: "peak"}.String()
	}
	return ""
}

// idle warns of settings that change nothing. A state of an axis may say
// what holds as written where another state says otherwise.
func (b *stateBuilder) idle() {
	axis := make(map[*change]bool)
	for _, states := range b.axes {
		for _, ch := range states {
			axis[ch] = true
		}
	}
	all := append([]*change(nil), b.named...)
	for _, states := range b.axes {
		all = append(all, states...)
	}
	for _, ch := range all {
		for _, s := range ch.settings {
			if s.what == "level" || s.what == "loads" || s.value != b.asWritten(s.settingKey) {
				continue
			}
			contrast := false
			for _, other := range b.sets[s.settingKey] {
				for _, o := range other.settings {
					contrast = contrast || axis[ch] && axis[other] && o.settingKey == s.settingKey && o.value != s.value
				}
			}
			if contrast {
				continue
			}
			b.warn(s.at, ch.object, fmt.Sprintf("%s is %s in the study as written; this changes nothing", s.settingKey, s.value), "a condition states only what differs", "take it out")
		}
	}
}

// combine gives all combinations of the axes that are not excluded.
func (b *stateBuilder) combine() []State {
	total := 1
	for _, axis := range b.axes {
		total *= len(axis)
		if total > MaxCombinations {
			sizes := make([]string, len(b.axes))
			for i, a := range b.axes {
				sizes[i] = fmt.Sprint(len(a))
			}
			b.fail(b.doc.Axes.At, "axes", fmt.Sprintf("the axes span more than %d combinations (%s)", MaxCombinations, strings.Join(sizes, " times ")),
				"every combination is computed as a condition of its own", "take states out, or name the conditions wanted under conditions")
			return nil
		}
	}
	excluded := b.exclusions()
	if len(b.axes) == 0 || len(b.axes) < len(b.doc.Axes.Entries) {
		return nil
	}
	var states []State
	clashes := make(map[string]bool)
	pick := make([]int, len(b.axes))
	left := 0
	for n := range total {
		for i, rest := len(b.axes)-1, n; i >= 0; i-- {
			pick[i] = rest % len(b.axes[i])
			rest /= len(b.axes[i])
		}
		if excluded(pick) {
			continue
		}
		left++
		changes := make([]*change, len(pick))
		names := make([]string, len(pick))
		for i, k := range pick {
			changes[i] = b.axes[i][k]
			names[i] = changes[i].name
		}
		if b.clash(changes, clashes) {
			continue
		}
		if s, ok := b.apply(strings.Join(names, ", "), changes); ok {
			states = append(states, s)
		}
	}
	if left == 0 {
		b.fail(b.doc.Exclude.At, "exclude", "excludes every combination of the axes", "then the axes give no condition", "take out what is excluded too much")
	}
	return states
}

// exclusions reads the combinations that cannot occur.
func (b *stateBuilder) exclusions() func(pick []int) bool {
	type exclusion struct {
		at    Mark
		state map[int]int // of which axis
	}
	var list []exclusion
	for i, m := range b.doc.Exclude.V {
		at := part(b.doc.Exclude.At, b.doc.Exclude.Parts, i)
		x := exclusion{at, make(map[int]int)}
		ok := true
		for _, axis := range sortedNames(m) {
			keyAt, stateAt := b.pair(at, axis)
			a := slices.IndexFunc(b.axes, func(states []*change) bool { return b.axisOf(states) == axis })
			if a < 0 {
				ok = false
				if b.doc.Axes.Find(axis) != nil {
					continue // without states, which was told
				}
				question, fix := suggest(axis, b.doc.Axes.Names())
				if len(b.doc.Axes.Entries) == 0 {
					fix = "take it out, or add axes"
				}
				b.fail(keyAt, "exclude", fmt.Sprintf("there is no axis %q%s", axis, question), "", fix)
				continue
			}
			s := slices.IndexFunc(b.axes[a], func(ch *change) bool { return ch.name == m[axis] })
			if s < 0 {
				ok = false
				question, fix := suggest(m[axis], b.doc.Axes.Find(axis).Item.Names())
				b.fail(stateAt, "exclude", fmt.Sprintf("axis %q has no state %q%s", axis, m[axis], question), "", fix)
				continue
			}
			x.state[a] = s
		}
		if len(m) == 0 {
			b.fail(at, "exclude", "an exclusion names no axis", "it would exclude every combination", "write it as { AXIS: STATE, AXIS: STATE }")
			ok = false
		}
		if !ok {
			continue
		}
		for _, earlier := range list {
			covered := true
			for a, s := range earlier.state {
				mine, has := x.state[a]
				covered = covered && has && mine == s
			}
			if covered {
				b.warn(at, "exclude", "is excluded already", "", "take one of them out").see(earlier.at, "excluded here")
				break
			}
		}
		list = append(list, x)
	}
	return func(pick []int) bool {
		for _, x := range list {
			all := true
			for a, s := range x.state {
				all = all && pick[a] == s
			}
			if all {
				return true
			}
		}
		return false
	}
}

// axisOf returns the name of the axis that states belong to.
func (b *stateBuilder) axisOf(states []*change) string {
	for i := range b.doc.Axes.Entries {
		axis := &b.doc.Axes.Entries[i]
		if len(axis.Item.Entries) > 0 && len(states) > 0 && &axis.Item.Entries[0].Item == states[0].diff {
			return axis.Name
		}
	}
	return ""
}

// clash tells of two states that set one thing differently, once for each
// pair of states and thing.
func (b *stateBuilder) clash(changes []*change, toldBefore map[string]bool) bool {
	first := make(map[settingKey]setting)
	by := make(map[settingKey]*change)
	found := false
	for _, ch := range changes {
		for _, s := range ch.settings {
			f, set := first[s.settingKey]
			if !set {
				first[s.settingKey], by[s.settingKey] = s, ch
				continue
			}
			if f.value == s.value {
				continue
			}
			found = true
			other := by[s.settingKey]
			id := fmt.Sprintf("%p %p %v", other, ch, s.settingKey)
			if toldBefore[id] {
				continue
			}
			toldBefore[id] = true
			b.fail(s.at, ch.object, fmt.Sprintf("%s is %s here and %s in %s", s.settingKey, s.value, f.value, other.object),
				"the two states meet in a combination of the axes, which can have one of them",
				"set it in one axis only, or exclude the combination").see(f.at, "%s here", f.value)
		}
	}
	return found
}

// apply makes the state of some changes. It is not ok where what a change
// says was refused.
func (b *stateBuilder) apply(name string, changes []*change) (State, bool) {
	s := State{
		Name:    name,
		Infeed:  make(map[string]string, len(b.doc.Supply.Entries)),
		Open:    make(map[string]bool, len(b.base.Open)),
		Out:     make(map[PlantRef]bool),
		Neutral: make(map[string]quantity.Neutral),
		Tap:     make(map[string]quantity.Fraction),

		Regulator: make(map[string]quantity.Positions),
	}
	for device, open := range b.base.Open {
		s.Open[device] = open
	}
	s.Hot = b.asWritten(settingKey{what: conductorsSetting}) == "hot"
	ok := true
	var notes []string
	for _, ch := range changes {
		ok = ok && !ch.failed
		s.Diff = append(s.Diff, ch.words...)
		if ch.diff.Note.Given {
			notes = append(notes, ch.diff.Note.V)
		}
		for _, set := range ch.settings {
			switch set.what {
			case "level":
				s.Infeed[set.Name] = set.value
			case "service":
				if set.value == outOfService {
					s.Out[set.PlantRef] = true
				}
			case "position":
				s.Open[set.Name] = set.value == "open"
			}
		}
		if ch.diff.Neutrals != nil {
			for i, name := range ch.diff.Neutrals.Names {
				if v := ch.diff.Neutrals.Values[i]; v.Given && b.branches[name] != "" {
					s.Neutral[name] = v.V
				}
			}
		}
		if ch.diff.Taps != nil {
			for i, name := range ch.diff.Taps.Names {
				if v := ch.diff.Taps.Values[i]; v.Given && b.branches[name] != "" {
					s.Tap[name] = v.V
				}
			}
		}
		if ch.diff.Regulators != nil {
			for i, name := range ch.diff.Regulators.Names {
				if v := ch.diff.Regulators.Values[i]; v.Given {
					s.Regulator[name] = v.V
				}
			}
		}
		if ch.diff.Prefault.Given {
			s.Prefault = float64(ch.diff.Prefault.V)
		}
		if ch.diff.Conductors.Given {
			s.Hot = ch.diff.Conductors.V == "hot"
		}
		if ch.diff.Loads.Given {
			s.Loads = ch.diff.Loads.V
		}
	}
	s.Note = strings.Join(notes, "; ")
	return s, b.levels(&s, changes) && ok
}

// levels fills in the level of infeeds that the changes leave open.
func (b *stateBuilder) levels(s *State, changes []*change) bool {
	ok, fed := true, len(b.doc.Supply.Entries) == 0
	for i := range b.doc.Supply.Entries {
		e := &b.doc.Supply.Entries[i]
		if s.Out[PlantRef{"infeed", e.Name}] {
			s.Infeed[e.Name] = "out"
			continue
		}
		fed = true
		if s.Infeed[e.Name] != "" {
			continue
		}
		has := levelsOf(&e.Item)
		switch {
		case e.Item.Maximum != nil:
			s.Infeed[e.Name] = "maximum"
		case len(has) == 1:
			s.Infeed[e.Name] = has[0]
		default:
			ok = false
			if len(has) > 1 && !b.unread(e.At, "maximum") {
				at, obj := e.NameAt, object("infeed", e.Name)
				if len(changes) > 0 {
					at, obj = changes[0].at, changes[0].object
				}
				b.once(at, obj, fmt.Sprintf("does not say the level of infeed %q, which has no maximum to stand for it", e.Name),
					"the infeed has "+listWords(has, "and"), "write infeed: { "+e.Name+": "+has[0]+" }")
			}
			continue
		}
		s.Defaults = append(s.Defaults, fmt.Sprintf("infeed %s at %s (not stated)", e.Name, s.Infeed[e.Name]))
	}
	if !fed {
		at, obj := b.doc.Supply.At, "supply"
		if len(changes) > 0 {
			last := changes[len(changes)-1]
			at, obj = last.at, last.object
		}
		fix := "leave one infeed in"
		if len(changes) > 1 {
			fix += ", or exclude the combinations that have none"
		}
		b.once(at, obj, "leaves no infeed in service", "without a source there is nothing to compute", fix)
		ok = false
	}
	return ok
}

// once tells an error unless it was told before.
func (b *stateBuilder) once(at Mark, obj, problem, why, fix string) {
	for _, d := range b.ds {
		if d.At == at && d.Problem == problem {
			return
		}
	}
	b.fail(at, obj, problem, why, fix)
}

// sortedNames returns the keys of a map in order.
func sortedNames[T any](m map[string]T) []string {
	names := make([]string, 0, len(m))
	for name := range m {
		names = append(names, name)
	}
	slices.Sort(names)
	return names
}

// Select returns the conditions that a pattern means: "all"; the one of that
// name; or those that have every comma-separated part of the pattern among
// the parts of their names, as "minimum, tie-fed" for an axis each.
func Select(states []State, pattern string) ([]State, error) {
	pattern = strings.TrimSpace(pattern)
	if pattern == "all" {
		return states, nil
	}
	for i := range states {
		if states[i].Name == pattern {
			return states[i : i+1 : i+1], nil
		}
	}
	wanted := nameParts(pattern)
	var found []State
	for _, s := range states {
		has := nameParts(s.Name)
		all := len(wanted) > 0
		for _, w := range wanted {
			all = all && slices.Contains(has, w)
		}
		if all {
			found = append(found, s)
		}
	}
	if len(found) > 0 {
		return found, nil
	}
	return nil, noCondition(states, pattern, wanted)
}

func nameParts(name string) []string {
	var parts []string
	for _, p := range strings.Split(name, ",") {
		if p = strings.TrimSpace(p); p != "" {
			parts = append(parts, p)
		}
	}
	return parts
}

// noCondition tells that no condition fits, what was likely meant, and which
// there are.
func noCondition(states []State, pattern string, wanted []string) error {
	var names, parts []string
	for _, s := range states {
		names = append(names, s.Name)
		for _, p := range nameParts(s.Name) {
			if !slices.Contains(parts, p) {
				parts = append(parts, p)
			}
		}
	}
	text := fmt.Sprintf("no condition is called %q", pattern)
	var unknown []string
	for _, w := range wanted {
		if !slices.Contains(parts, w) {
			unknown = append(unknown, w)
		}
	}
	meant := ""
	if near, ok := quantity.Nearest(pattern, names); ok {
		meant = near
	} else if len(unknown) == 1 {
		meant, _ = quantity.Nearest(unknown[0], parts)
	}
	switch {
	case len(states) == 0:
		return fmt.Errorf("%s: the study has no condition that can be computed", text)
	case meant != "":
		text += fmt.Sprintf("; did you mean %q?", meant)
	case len(wanted) > 1 && len(unknown) == 0:
		text += ", nor does any have all of these parts"
	}
	const most = 20 // names that a terminal shows without scrolling
	list := names
	if len(names) > most {
		list = parts // the states of the axes, of which the names are made
		text += "\nparts of their names:"
	} else {
		text += "\nconditions:"
	}
	for i, n := range list {
		if i == 2*most {
			text += fmt.Sprintf("\n  and %d more", len(list)-i)
			break
		}
		text += "\n  " + n
	}
	return fmt.Errorf("%s", text)
}
