package oneline

import (
	"fmt"
	"math"
	"regexp"
	"strings"

	"feederwright/drawing"
	"feederwright/quantity"
	"feederwright/study"
)

// A builder makes the parts of one study in one state.
type builder struct {
	doc   *study.Document
	state study.State
	o     Options
	set   string
	nodes map[string]*node

	devices map[string][]study.PlacedDevice // by branch and end bus, see endKey
	placed  map[string]string               // relay: the current transformer it is drawn beside
}

func endKey(branch, bus string) string { return branch + "\x00" + bus }

// pen begins a part.
func (b *builder) pen(kind, name string, out, dead bool) *pen {
	p := &pen{ink: drawing.Black, out: out}
	p.kind, p.name, p.dead = kind, name, dead
	if out {
		p.ink = drawing.Grey(0.45)
	}
	return p
}

// text is a value as typed, or "" where it isn't given.
func text[T any](v study.Value[T]) string {
	if !v.Given {
		return ""
	}
	return v.Text
}

// rating is a value as typed where ratings are asked for.
func rating[T any](b *builder, prefix string, v study.Value[T], suffix string) string {
	if !b.o.Ratings || !v.Given {
		return ""
	}
	return prefix + v.Text + suffix
}

func words(parts ...string) string {
	var kept []string
	for _, p := range parts {
		if p != "" {
			kept = append(kept, p)
		}
	}
	return strings.Join(kept, ", ")
}

func outWord(out bool) string {
	if out {
		return "out of service"
	}
	return ""
}

// phaseNames are the names of some conductors as the study wants them.
func (b *builder) phaseNames(p quantity.Phases) string {
	s := p.Letters()
	if b.doc.Phases.V == "L123" {
		s = strings.NewReplacer("A", "L1", "B", "L2", "C", "L3").Replace(s)
	}
	return s
}

// device draws a device, open or closed.
func (b *builder) device(d study.PlacedDevice, dead bool) part {
	open := b.state.Open[d.Name]
	p := b.pen(d.Kind, d.Name, false, dead)
	p.tip = -3
	var lines []string
	letter := ""
	breaker := func(v *study.Breaker) {
		lines = append(lines, words(rating(b, "", v.Rated, ""), rating(b, "", v.Continuous, "")), words(rating(b, "interrupts ", v.Interrupts, "")))
	}
	switch d.Kind {
	case "breaker":
		breaker(&b.doc.Breakers.Find(d.Name).Item)
	case "recloser":
		letter = "R"
		if b.set == IEC {
			p.tip = -6.4
		}
		breaker(&b.doc.Reclosers.Find(d.Name).Item)
	case "fuse":
		f := &b.doc.Fuses.Find(d.Name).Item
		lines = append(lines, text(f.Link), words(rating(b, "", f.Continuous, ""), rating(b, "interrupts ", f.Interrupts, "")))
	}
	normally := d.Normally.V == "open"
	switch {
	case open && normally:
		lines = append(lines, "normally open")
	case open:
		lines = append(lines, "open")
	case normally:
		lines = append(lines, "closed (normally open)")
	}
	lines = nonEmpty(append([]string{d.Name}, lines...))
	half := 3.4
	p.h = max(9.4, labelHeight(len(lines))+1.6)
	y := p.h / 2
	p.anchor = y
	switch d.Kind {
	case "breaker", "recloser":
		p.breakerSymbol(b.set, y, open, letter)
		half = 2.4
		if b.set == IEEE {
			half = 2.2
		}
	case "fuse":
		p.fuseSymbol(b.set, y, open)
		half = 2.8
	default:
		p.switchSymbol(b.set, y, open)
		half = 2.4
		if b.set == IEEE {
			half = 2.65
		}
	}
	p.lead(at(0, 0), at(0, y-half))
	p.lead(at(0, y+half), at(0, p.h))
	p.label(3.6, y, drawing.Start, lines...)
	return p.part
}

func nonEmpty(lines []string) []string {
	var kept []string
	for _, l := range lines {
		if l != "" {
			kept = append(kept, l)
		}
	}
	return kept
}

// deviceNumber finds device numbers of IEEE C37.2 in what a relay is said to be.
var deviceNumber = regexp.MustCompile(`\b(?:21|25|27|32|37|40|46|47|48|49|50|51|59|60|62|64|66|67|68|78|79|81|85|86|87|90)(?:[A-Z]{1,3})?(?:/(?:\d\d)(?:[A-Z]{1,3})?)*\b`)

// current draws a current transformer near a bus, with the relay that it
// belongs to on the left; away says whether the bus is above it.
func (b *builder) current(e *study.Entry[study.CurrentTransformer], dead, away bool, bus string) part {
	p := b.pen("current transformer", e.Name, false, dead)
	c := &e.Item
	lines := []string{e.Name, ratioText(c)}
	if b.o.Ratings {
		lines = append(lines, words(text(c.Class), text(c.Burden)))
	}
	relays := b.relaysAt(e.Name)
	for _, r := range b.doc.Relays.Entries {
		if b.placed[r.Name] != "" && b.placed[r.Name] != e.Name && sees(r.Item.Sees, e.Name) {
			lines = append(lines, "to "+r.Name)
		}
	}
	lines = nonEmpty(lines)
	p.h = max(7.4, labelHeight(len(lines))+1.6, b.relayRoom(relays))
	y := p.h / 2
	p.anchor = y
	p.lead(at(0, 0), at(0, p.h))
	balance := c.Connection.V == "core-balance"
	// Current enters at the dot and flows the way the transformer faces, by
	// default from the bus into the branch.
	intoBranch := string(c.Facing.V) != bus
	p.ctSymbol(b.set, y, balance, intoBranch != away)
	p.label(3.6, y, drawing.Start, lines...)
	b.relaysBeside(p, relays, y)
	return p.part
}

// relayRoom is the height that relays need beside a transformer.
func (b *builder) relayRoom(relays []*study.Entry[study.Relay]) float64 {
	h := 0.0
	for _, r := range relays {
		h += max(labelHeight(len(b.relayLines(r)))+1.6, 2*relayR+2.4)
	}
	return h
}

// relaysBeside draws relays one below the other to the left of a transformer
// at a height, each with its line from it.
func (b *builder) relaysBeside(p *pen, relays []*study.Entry[study.Relay], y float64) {
	top := y - b.relayRoom(relays)/2
	first, last := y, y
	for i, r := range relays {
		h := b.relayRoom(relays[i : i+1])
		b.relay(p, r, top+h/2, y)
		first, last = min(first, top+h/2), max(last, top+h/2)
		top += h
	}
	if len(relays) > 0 {
		p.claim(relayX+relayR, first-0.3, -3.2, last+0.3)
	}
}

func ratioText(c *study.CurrentTransformer) string {
	s := text(c.Ratio)
	if c.Full.Given {
		s += " of " + text(c.Full)
	}
	return s
}

func sees(s *study.Sees, name string) bool {
	if s == nil {
		return false
	}
	for _, list := range [][]study.Ref{s.Current.V, s.Ground.V, s.Voltage.V} {
		for _, r := range list {
			if string(r) == name {
				return true
			}
		}
	}
	return false
}

// relaysAt are the relays drawn beside a transformer.
func (b *builder) relaysAt(name string) []*study.Entry[study.Relay] {
	var list []*study.Entry[study.Relay]
	for i := range b.doc.Relays.Entries {
		if r := &b.doc.Relays.Entries[i]; b.placed[r.Name] == name {
			list = append(list, r)
		}
	}
	return list
}

// relayLines is the label of a relay.
func (b *builder) relayLines(r *study.Entry[study.Relay]) []string {
	lines := []string{r.Name}
	own := ""
	if ct := b.doc.CurrentTransformers.Find(b.placed[r.Name]); ct != nil {
		own = string(ct.Item.At.V)
	}
	var trips []string
	for _, t := range r.Item.Trips.V {
		trips = append(trips, string(t))
	}
	if len(trips) > 0 && (len(trips) > 1 || trips[0] != own) {
		lines = append(lines, "trips "+strings.Join(trips, ", "))
	}
	if s := r.Item.Sees; s != nil {
		var others []string
		for _, list := range [][]study.Ref{s.Current.V, s.Ground.V, s.Voltage.V} {
			for _, ref := range list {
				if string(ref) != b.placed[r.Name] {
					others = append(others, string(ref))
				}
			}
		}
		lines = append(lines, drawing.Wrap(strings.Join(others, ", "), detailSize, false, 30)...)
	}
	return lines
}

// Place of a relay beside its current transformer.
const (
	relayX   = -10.0
	relayR   = 3.1
	relayBus = -5.2 // where lines to several relays part
)

// relay draws a relay at height y to the left of a transformer at height from.
func (b *builder) relay(p *pen, r *study.Entry[study.Relay], y, from float64) {
	q := b.pen("relay", r.Name, false, false)
	thin := drawing.Style{Class: "secondary", Stroke: drawing.Black, Width: 0.18, Dash: []float64{1, 0.7}}
	q.add(drawing.Line{Style: thin, Points: []point{at(-2.3, from), at(relayBus, from), at(relayBus, y), at(relayX+relayR, y)}})
	number := deviceNumber.FindString(r.Item.Kind.V)
	if number == "" {
		number = "R"
	}
	if b.set == IEC {
		q.add(drawing.Box{Style: q.solid(conductor), Rect: rect{X: relayX - relayR, Y: y - relayR, W: 2 * relayR, H: 2 * relayR}})
	} else {
		q.circle(at(relayX, y), relayR)
	}
	// Two functions stand one below the other; more are in the label's words.
	numbers := strings.Split(number, "/")
	if len(numbers) == 1 {
		q.glyph(at(relayX, y), 2.5, drawing.Fit(numbers[0], 2.5, false, 2*relayR-0.4))
	} else {
		q.glyph(at(relayX, y-1.25), 2.2, numbers[0])
		q.glyph(at(relayX, y+1.25), 2.2, numbers[1])
	}
	q.claim(relayX-relayR, y-relayR, relayX+relayR, y+relayR)
	q.label(relayX-relayR-1.2, y, drawing.End, b.relayLines(r)...)
	q.anchor = y
	p.extra = append(p.extra, q.part)
}

// tripLine draws how a relay at height y trips a device at height v.
func tripLine(y, v, tip float64) []drawing.Element {
	thin := drawing.Style{Class: "secondary", Stroke: drawing.Black, Width: 0.18, Dash: []float64{1, 0.7}}
	from := y - relayR
	if v > y {
		from = y + relayR
	}
	q := &pen{ink: drawing.Black}
	q.add(drawing.Line{Style: thin, Points: []point{at(relayX, from), at(relayX, v), at(tip-1.2, v)}})
	q.arrow(at(tip, v), 1, 0, 1.4)
	return q.elements
}

// cable tells what a line is: overhead, cable, or unknown (""). Where the study
// says how a line is built, that decides. Otherwise its charging does: cables have
// some twenty times the charging of overhead lines, whose working capacitance
// lies near 10 nF/km; 50 nF/km parts them [common practice, no source].
// Without charging data the words of the study decide.
func (b *builder) cable(l *study.Line) string {
	const limit = 50e-12 // F/m
	if t := b.doc.LineTypes.Find(string(l.Type.V)); t != nil {
		switch {
		case t.Item.Cable.Given:
			return "cable"
		case t.Item.PoleTop.Given:
			return "overhead"
		}
	}
	el := []*study.Electrical{&l.Electrical}
	said := l.Note.V + " " + l.Source.V
	if t := b.doc.LineTypes.Find(string(l.Type.V)); t != nil {
		el = append(el, &t.Item.Electrical)
		said += " " + t.Item.Note.V + " " + t.Item.Source.V + " " + t.Name
	}
	omega := 2 * math.Pi * float64(b.doc.Frequency.V)
	for _, e := range el {
		c := -1.0
		switch {
		case e.C1.Given:
			c = float64(e.C1.V)
		case e.B1.Given && omega > 0:
			c = float64(e.B1.V) / omega
		case e.B.Given && omega > 0:
			c = float64(e.B.V) / omega
		case e.BMatrix.Given && len(e.BMatrix.V) > 0 && len(e.BMatrix.V[0]) > 0 && omega > 0:
			c = float64(e.BMatrix.V[0][0]) / omega
		}
		if c > limit {
			return "cable"
		} else if c >= 0 {
			return "overhead"
		}
	}
	said = strings.ToLower(said)
	for _, w := range []string{"cable", "xlpe", "epr ", "underground", "triplex"} {
		if strings.Contains(said, w) {
			return "cable"
		}
	}
	for _, w := range []string{"overhead", "acsr", "pole"} {
		if strings.Contains(said, w) {
			return "overhead"
		}
	}
	return ""
}

// line draws a section of line: short strokes for its phases, and filled
// triangles, its terminations, at the ends of a cable.
func (b *builder) line(e *study.Entry[study.Line], dead bool) part {
	l := &e.Item
	out := b.state.Out[study.PlantRef{Kind: "line", Name: e.Name}]
	p := b.pen("line", e.Name, out, dead)
	br, _ := b.doc.Branch(e.Name)
	phases := l.Phases.V
	if !l.Phases.Given {
		phases = b.doc.BranchConductors(br, 0)
	}
	count := (phases &^ quantity.PhaseN).Count()
	cable := b.cable(l)
	what := text(l.Type)
	if cable == "cable" {
		what = words(what, "cable")
	}
	which := ""
	if count < 3 {
		which = b.phaseNames(phases)
	}
	lines := nonEmpty([]string{e.Name, words(text(l.Length), what), which, outWord(out)})
	if b.o.Ratings {
		amp := l.Ampacity
		if t := b.doc.LineTypes.Find(string(l.Type.V)); t != nil && !amp.Given {
			amp = t.Item.Ampacity
		}
		if amp.Given {
			lines = append(lines, amp.Text)
		}
	}
	p.h = max(9, labelHeight(len(lines))+2)
	y := p.h / 2
	if cable == "cable" {
		p.h += 5.4
		y = p.h / 2
	}
	p.anchor = y
	p.lead(at(0, 0), at(0, p.h))
	for i := range count {
		v := y + 1.1*(float64(i)-float64(count-1)/2)
		p.line(conductor, at(-1.3, v+0.75), at(1.3, v-0.75))
	}
	half := 0.55*float64(count) + 0.6
	p.claim(-1.5, y-half, 1.5, y+half)
	if cable == "cable" {
		p.shape(p.ink, at(-1.1, 0.9), at(1.1, 0.9), at(0, 2.7))
		p.shape(p.ink, at(-1.1, p.h-0.9), at(1.1, p.h-0.9), at(0, p.h-2.7))
		p.claim(-1.3, 0.7, 1.3, 2.8)
		p.claim(-1.3, p.h-2.8, 1.3, p.h-0.7)
	}
	p.cross(at(0, y), 1.8)
	p.label(3.6, y, drawing.Start, lines...)
	return p.part
}

// grounding puts how a neutral is earthed into words and tells what to draw.
func (b *builder) grounding(kind, name string, v study.Value[quantity.Neutral]) (drawn bool, impedance string, reactance bool) {
	n, given, words := v.V, v.Given, v.Text
	if kind == "transformer" || kind == "earthing transformer" || kind == "synchronous machine" {
		if s, ok := b.state.Neutral[name]; ok {
			n, given, words = s, true, s.String()
		}
	}
	if !given || n.Open {
		return false, "", false
	}
	if n.Solid {
		return true, "", false
	}
	return true, words, math.Abs(imag(n.Z)) > math.Abs(real(n.Z))
}

// neutralCT finds the current transformer in a neutral.
func (b *builder) neutralCT(branch, which string) *study.Entry[study.CurrentTransformer] {
	for i := range b.doc.CurrentTransformers.Entries {
		e := &b.doc.CurrentTransformers.Entries[i]
		if string(e.Item.In.V) == branch && e.Item.Neutral.V == which {
			return e
		}
	}
	return nil
}

// neutral draws the earthing of a winding at a height on the left.
func (b *builder) neutral(p *pen, branch, which, kind string, v study.Value[quantity.Neutral], x, y float64) {
	drawn, impedance, reactance := b.grounding(kind, branch, v)
	ct := b.neutralCT(branch, which)
	if !drawn && ct == nil {
		return
	}
	if ct == nil {
		p.neutralLead(b.set, x, y, impedance, reactance, "")
		return
	}
	n := b.pen("current transformer", ct.Name, p.out, p.dead)
	n.neutralLead(b.set, x, y, impedance, reactance, words(ct.Name, ratioText(&ct.Item)))
	n.anchor = y
	p.extra = append(p.extra, n.part)
}

// groupLetters parts a vector group into the connections of its windings.
var groupLetters = regexp.MustCompile(`^(ZN|YN|Z|Y|D)((?:zn|yn|z|y|d))\d+((?:zn|yn|z|y|d))?`)

func connections(group string) [3]string {
	m := groupLetters.FindStringSubmatch(group)
	if m == nil {
		return [3]string{}
	}
	return [3]string{m[1], strings.ToUpper(m[2]), strings.ToUpper(m[3])}
}

// transformer draws a two-winding transformer, entered from one of its ends.
func (b *builder) transformer(e *study.Entry[study.Transformer], entry int, dead bool) part {
	t := &e.Item
	out := b.state.Out[study.PlantRef{Kind: "transformer", Name: e.Name}]
	p := b.pen("transformer", e.Name, out, dead)
	p.h = transformerH
	c := connections(t.Group.V.String())
	first, second := c[0], c[1]
	fromY, toY := windingTop, windingBottom
	if entry == 1 {
		first, second = second, first
		fromY, toY = toY, fromY
	}
	p.transformerSymbol(b.set, first, second)
	x := -windingRadius
	if b.set == IEEE {
		x = -7.1
	}
	from, to := t.FromNeutral, t.ToNeutral
	if t.Neutral.Given {
		// One neutral: that of the winding that has one.
		if strings.HasSuffix(c[0], "N") {
			from = t.Neutral
		} else {
			to = t.Neutral
		}
	} else if _, ok := b.state.Neutral[e.Name]; ok && !from.Given && !to.Given {
		to.V, to.Given = b.state.Neutral[e.Name], true
	}
	b.neutral(p, e.Name, "from", "transformer", from, x, fromY-0.8)
	b.neutral(p, e.Name, "to", "transformer", to, x, toY+0.8)
	lines := []string{e.Name, text(t.Rating), text(t.Voltages), t.Group.V.String(), outWord(out)}
	if b.o.Ratings {
		lines = append(lines, text(t.Impedance))
	}
	if tap, ok := b.state.Tap[e.Name]; ok {
		lines = append(lines, "tap "+tap.String())
	}
	b.tall(p, lines)
	return p.part
}

// tall labels a symbol of a transformer's height and makes room where the
// label is taller.
func (b *builder) tall(p *pen, lines []string) {
	lines = nonEmpty(lines)
	if d := labelHeight(len(lines)) + 1 - p.h; d > 0 {
		h := p.h
		p.part = p.moved(at(0, d/2))
		p.lead(at(0, 0), at(0, d/2))
		p.lead(at(0, h+d/2), at(0, h+d))
		p.h = h + d
	}
	p.anchor = p.h / 2
	p.cross(at(0, p.h/2), 4.5)
	p.label(5, p.h/2, drawing.Start, lines...)
}

// moved returns a part displaced.
func (p part) moved(by point) part {
	p.elements = drawing.MoveAll(p.elements, by)
	shift := func(rs []rect) []rect {
		out := make([]rect, len(rs))
		for i, r := range rs {
			out[i] = r.Moved(by)
		}
		return out
	}
	p.symbols, p.labels = shift(p.symbols), shift(p.labels)
	wires := make([]wire, len(p.wires))
	for i, w := range p.wires {
		wires[i] = wire{w.a.Add(by), w.b.Add(by)}
	}
	p.wires = wires
	extra := make([]part, len(p.extra))
	for i, e := range p.extra {
		extra[i] = e.moved(by)
	}
	p.extra = extra
	p.anchor += by.Y
	return p
}

// bank draws a bank of single-phase transformers.
func (b *builder) bank(e *study.Entry[study.Bank], entry int, dead bool) part {
	out := b.state.Out[study.PlantRef{Kind: "bank", Name: e.Name}]
	p := b.pen("bank", e.Name, out, dead)
	p.h = transformerH
	units := b.doc.Units(e.Name)
	var ends [2][]quantity.WindingEnds
	var ratings []string
	for _, u := range units {
		ends[0] = append(ends[0], u.Item.Primary.V)
		ends[1] = append(ends[1], u.Item.Secondary.V)
		ratings = append(ratings, text(u.Item.Rating))
	}
	first, second := bankConnection(ends[0]), bankConnection(ends[1])
	a, c := bankMark(first), bankMark(second)
	fromY, toY := windingTop, windingBottom
	if entry == 1 {
		a, c = c, a
		fromY, toY = toY, fromY
	}
	p.transformerSymbol(b.set, a, c)
	x := -windingRadius
	if b.set == IEEE {
		x = -7.1
	}
	b.neutral(p, e.Name, "from", "bank", e.Item.FromNeutral, x, fromY-0.8)
	b.neutral(p, e.Name, "to", "bank", e.Item.ToNeutral, x, toY+0.8)
	volts := ""
	if len(units) > 0 {
		volts = text(units[0].Item.Voltages)
	}
	b.tall(p, []string{e.Name, unitsText(ratings), volts, first + " / " + second, outWord(out)})
	return p.part
}

// unitsText joins ratings: "2 × 75 kVA", "50 + 25 kVA" stays as typed.
func unitsText(ratings []string) string {
	var parts []string
	for i := 0; i < len(ratings); {
		n := 1
		for i+n < len(ratings) && ratings[i+n] == ratings[i] {
			n++
		}
		if n > 1 {
			parts = append(parts, fmt.Sprintf("%d × %s", n, ratings[i]))
		} else {
			parts = append(parts, ratings[i])
		}
		i += n
	}
	return strings.Join(parts, " + ")
}

// bankConnection names how windings of single-phase units are connected.
func bankConnection(ends []quantity.WindingEnds) string {
	toN, between, middle := 0, 0, false
	for _, e := range ends {
		c := e.Conductors()
		switch {
		case e.Count() == 3:
			middle = true
			between++
		case c.Has(quantity.PhaseN):
			toN++
		default:
			between++
		}
	}
	s := "mixed"
	switch {
	case toN == 3 && between == 0:
		s = "wye"
	case toN == 2 && between == 0:
		s = "open wye"
	case toN == 1 && between == 0:
		s = "phase to neutral"
	case between == 3 && toN == 0:
		s = "delta"
	case between == 2 && toN == 0:
		s = "open delta"
	case between == 1 && toN == 0 && !middle:
		s = "phase to phase"
	case between == 1 && toN == 0:
		return "three-wire"
	}
	if middle {
		s += " with middle"
	}
	return s
}

func bankMark(connection string) string {
	switch strings.TrimSuffix(connection, " with middle") {
	case "wye", "open wye":
		return "Y"
	case "delta":
		return "D"
	case "open delta":
		return "V"
	}
	return "1"
}

// regulator draws a step-voltage regulator: a winding with an arrow across.
func (b *builder) regulator(e *study.Entry[study.Regulator], dead bool) part {
	r := &e.Item
	out := b.state.Out[study.PlantRef{Kind: "regulator", Name: e.Name}]
	p := b.pen("regulator", e.Name, out, dead)
	var lines []string
	lines = append(lines, e.Name, r.Connection.V, text(r.Taps))
	at2 := r.Position.V
	word := text(r.Position)
	if s, ok := b.state.Regulator[e.Name]; ok {
		at2, word = s, s.String()
	}
	if len(at2) > 0 {
		lines = append(lines, "at "+word)
	}
	if b.o.Ratings {
		lines = append(lines, text(r.Impedance))
	}
	lines = nonEmpty(append(lines, outWord(out)))
	p.h = max(13, labelHeight(len(lines))+2)
	y := p.h / 2
	p.anchor = y
	if b.set == IEEE {
		p.lead(at(0, 0), at(0, y-3.6))
		for i := range 3 {
			p.arc(at(0, y-2.4+2.4*float64(i)), 1.2, -90, 180)
		}
		p.lead(at(0, y+3.6), at(0, p.h))
	} else {
		p.lead(at(0, 0), at(0, y-3.4))
		p.circle(at(0, y), 3.4)
		p.arc(at(0, y), 2.1, 90, 180)
		p.lead(at(0, y+3.4), at(0, p.h))
	}
	p.line(conductor, at(-4.2, y+4.2), at(3.6, y-3.6))
	p.arrow(at(4.2, y-4.2), 0.7071, -0.7071, 2)
	p.claim(-4.4, y-4.4, 4.4, y+4.4)
	p.cross(at(0, y), 3.5)
	p.label(5.4, y, drawing.Start, lines...)
	return p.part
}

// reactor draws a series reactor.
func (b *builder) reactor(e *study.Entry[study.Reactor], dead bool) part {
	out := b.state.Out[study.PlantRef{Kind: "reactor", Name: e.Name}]
	p := b.pen("reactor", e.Name, out, dead)
	z := text(e.Item.Z)
	if z == "" {
		z = text(e.Item.Impedance)
	}
	lines := nonEmpty([]string{e.Name, z, rating(b, "", e.Item.Rated, ""), outWord(out)})
	p.h = max(11, labelHeight(len(lines))+2)
	y := p.h / 2
	p.anchor = y
	if b.set == IEEE {
		p.lead(at(0, 0), at(0, y-3.6))
		for i := range 3 {
			p.arc(at(0, y-2.4+2.4*float64(i)), 1.2, -90, 180)
		}
		p.lead(at(0, y+3.6), at(0, p.h))
		p.claim(-0.4, y-3.6, 1.5, y+3.6)
	} else {
		// Three quarters of a circle, open to the upper left.
		const r = 3
		p.lead(at(0, 0), at(0, y))
		p.line(conductor, at(0, y), at(-r, y))
		p.arc(at(0, y), r, 180, -270)
		p.arc(at(0, y), r, 180, 0)
		p.lead(at(0, y+r), at(0, p.h))
		p.claim(-r-0.2, y-r-0.2, r+0.2, y+r+0.2)
	}
	p.cross(at(0, y), 3)
	p.label(4.4, y, drawing.Start, lines...)
	return p.part
}

// Three windings: the first above, the second below on the line, the third to
// the right of both. Its lead goes off to the right at thirdY.
const (
	threeR  = 3.5
	threeX  = 5.0
	threeY1 = 5.0
	threeY3 = 8.1
	threeY2 = 10.4
)

// threeWinding draws a unit of three windings, entered from one end; others
// are the ends that leave below and to the right.
func (b *builder) threeWinding(e *study.Entry[study.ThreeWindingTransformer], order [3]int, third, dead bool) part {
	t := &e.Item
	out := b.state.Out[study.PlantRef{Kind: "three-winding transformer", Name: e.Name}]
	p := b.pen("three-winding transformer", e.Name, out, dead)
	c := connections(t.Group.V.String())
	mark := func(i int) string { return c[order[i]] }
	neutrals := [3]study.Value[quantity.Neutral]{t.FirstNeutral, t.SecondNeutral, t.ThirdNeutral}
	which := [3]string{"from", "to", "third"}
	lines := []string{e.Name, text(t.Rating), text(t.Voltages), t.Group.V.String(), outWord(out)}
	if b.o.Ratings {
		lines = append(lines, words(text(t.Z12)))
	}
	lines = nonEmpty(lines)
	// The label stands above the third winding's lead.
	up := max(0, labelHeight(len(lines))+1-threeY3)
	p.h = threeY2 + threeR + up
	y1, y2, y3 := threeY1+up, threeY2+up, threeY3+up
	left := -threeR
	if b.set == IEEE {
		const r = 1.15
		p.lead(at(0, 0), at(0, y1))
		p.coil(-3*r, y1, r, 3, 1)
		p.coil(-3*r, y2, r, 3, -1)
		p.lead(at(0, y2), at(0, y2+threeR))
		for i := range 3 {
			p.arc(at(threeX+1, y3+2*r*float64(i-1)), r, 90, 180)
		}
		p.lead(at(threeX+1, y3), at(threeX+threeR, y3))
		left = -7.1
		p.windingMark(at(-5.6, y1-1.2), mark(0))
		p.windingMark(at(-5.6, y2+1.2), mark(1))
		p.windingMark(at(threeX+2.8, y3+2.2), mark(2))
		p.claim(left, y1-2.9, 3.8, y2+2.9)
		p.claim(threeX-0.4, y3-3.6, threeX+threeR+0.2, y3+3.7)
	} else {
		p.lead(at(0, 0), at(0, y1-threeR))
		p.circle(at(0, y1), threeR)
		p.circle(at(0, y2), threeR)
		p.circle(at(threeX, y3), threeR)
		p.windingMark(at(-0.6, y1-0.9), mark(0))
		p.windingMark(at(-0.6, y2+0.9), mark(1))
		p.windingMark(at(threeX+1, y3), mark(2))
		p.claim(-threeR-0.2, y1-threeR-0.2, threeR+0.2, y2+threeR+0.2)
		p.claim(threeR+0.2, y3-threeR-0.2, threeX+threeR+0.2, y3+threeR+0.2)
	}
	b.neutral(p, e.Name, which[order[0]], "three-winding transformer", neutrals[order[0]], left, y1-0.8)
	b.neutral(p, e.Name, which[order[1]], "three-winding transformer", neutrals[order[1]], left, y2+0.8)
	if third {
		p.lead(at(threeX+threeR, y3), at(threeX+threeR+2, y3))
	}
	p.cross(at(1, y1+2.5), 5)
	p.anchor = y3
	p.label(threeX+threeR+1.4, (y3-1-labelHeight(len(lines)))+labelHeight(len(lines))/2, drawing.Start, lines...)
	return p.part
}

// infeed draws the system behind a bus, above it.
func (b *builder) infeed(e *study.Entry[study.Infeed], above bool) part {
	level := b.state.Infeed[e.Name]
	out := level == "out"
	p := b.pen("infeed", e.Name, out, out)
	lines := []string{e.Name}
	if e.Item.Boundary.Given {
		lines = append(lines, e.Item.Boundary.V)
	}
	if out {
		lines = append(lines, outWord(true))
	} else if level != "" {
		s := level
		if l := e.Item.Level(level); l != nil && l.ThreePhase.Given {
			s += " " + text(l.ThreePhase)
		}
		lines = append(lines, s)
	}
	lines = nonEmpty(lines)
	box := 6.4
	top := 0.0
	if !above {
		top = 4
		p.lead(at(0, 0), at(0, top))
	}
	if h := labelHeight(len(lines)); h > box && above {
		top += (h - box) / 2
	}
	p.add(drawing.Box{Style: p.solid(0.4), Rect: rect{X: -box / 2, Y: top, W: box, H: box}})
	for i := range 5 {
		v := box * float64(i-2) / 3
		lo, hi := max(-box/2, v-box/2), min(box/2, v+box/2)
		p.line(0.15, at(lo, top+box/2+(v-lo)), at(hi, top+box/2+(v-hi)))
		p.line(0.15, at(lo, top+box/2-(v-lo)), at(hi, top+box/2-(v-hi)))
	}
	p.claim(-box/2-0.2, top-0.2, box/2+0.2, top+box+0.2)
	p.cross(at(0, top+box/2), 4)
	p.anchor = top + box/2
	p.label(box/2+1.6, top+box/2, drawing.Start, lines...)
	p.h = top + box
	if above {
		p.lead(at(0, p.h), at(0, p.h+4))
		p.h += 4
	}
	return p.part
}

// shunt begins a part that hangs from a bus: a lead of some length.
func (b *builder) shunt(kind, name string, dead bool, lead float64) *pen {
	out := b.state.Out[study.PlantRef{Kind: kind, Name: name}]
	p := b.pen(kind, name, out, dead)
	p.lead(at(0, 0), at(0, lead))
	return p
}

// load draws a load as an arrow.
func (b *builder) load(e *study.Entry[study.Load], dead bool) part {
	p := b.shunt("load", e.Name, dead, 5.2)
	p.arrow(at(0, 8.4), 0, 1, 3.4)
	p.claim(-1.6, 4.8, 1.6, 8.6)
	p.cross(at(0, 6.5), 2)
	p.h = 8.8
	which := ""
	if e.Item.Phases.Given && (e.Item.Phases.V&^quantity.PhaseN).Count() < 3 {
		which = b.phaseNames(e.Item.Phases.V)
	}
	p.anchor = 6
	p.label(2.6, 6, drawing.Start, e.Name, rating(b, "", e.Item.Power, ""), which, outWord(p.out))
	return p.part
}

// capacitor draws a capacitor bank: two plates, of which the lower is bent in
// the IEEE set; earthed, or with its connection in a word.
func (b *builder) capacitor(e *study.Entry[study.Capacitor], dead bool) part {
	p := b.shunt("capacitor", e.Name, dead, 4.6)
	p.line(0.45, at(-2.4, 4.6), at(2.4, 4.6))
	if b.set == IEEE {
		p.arc(at(0, 9.7), 4, 217, 106)
	} else {
		p.line(0.45, at(-2.4, 5.8), at(2.4, 5.8))
	}
	p.h = 6.6
	how := e.Item.Connection.V
	if how == "earthed-wye" {
		how = ""
		p.earth(0, 5.8)
		p.h = 9
	}
	p.claim(-2.6, 4.4, 2.6, p.h)
	p.cross(at(0, 5.2), 2.6)
	p.anchor = 5.4
	p.label(3.8, 5.6, drawing.Start, e.Name, text(e.Item.Power), how, outWord(p.out))
	return p.part
}

// machine draws a rotating machine: M or G in a circle.
func (b *builder) machine(kind, name, letter string, count int, lines []string, dead bool, v *study.Value[quantity.Neutral]) part {
	p := b.shunt(kind, name, dead, 4)
	const r = 3.6
	p.circle(at(0, 4+r), r)
	p.glyph(at(0, 4+r-0.8), 3.2, letter)
	p.line(conductor, wave(at(0, 4+r+1.7), 2.6, 0.5)...)
	p.claim(-r-0.2, 3.8, r+0.2, 4+2*r+0.2)
	p.h = 4 + 2*r + 0.6
	if v != nil {
		if drawn, impedance, reactance := b.grounding(kind, name, *v); drawn {
			p.neutralLead(b.set, -r, 4+r, impedance, reactance, "")
			p.h += 0.4
		}
	}
	p.cross(at(0, 4+r), r)
	if count > 1 {
		lines = append([]string{fmt.Sprintf("%d × %s", count, name)}, lines...)
	} else {
		lines = append([]string{name}, lines...)
	}
	p.anchor = 4 + r
	p.label(r+1.4, 4+r, drawing.Start, append(lines, outWord(p.out))...)
	return p.part
}

// wave is one period of a sine about a place.
func wave(c point, width, height float64) []point {
	points := make([]point, 25)
	for i := range points {
		t := float64(i) / 24
		points[i] = at(c.X+width*(t-0.5), c.Y-height*math.Sin(2*math.Pi*t))
	}
	return points
}

// inverter draws a source behind an inverter: a square parted into direct and
// alternating current.
func (b *builder) inverter(e *study.Entry[study.Inverter], dead bool) part {
	p := b.shunt("inverter", e.Name, dead, 4)
	const s = 7.0
	p.add(drawing.Box{Style: p.solid(conductor), Rect: rect{X: -s / 2, Y: 4, W: s, H: s}})
	p.line(conductor, at(-s/2, 4), at(s/2, 4+s))
	p.line(conductor, wave(at(1.3, 6), 2.6, 0.6)...)
	p.line(conductor, at(-2.7, 8.6), at(-0.5, 8.6))
	p.line(conductor, at(-2.7, 9.5), at(-0.5, 9.5))
	p.claim(-s/2-0.2, 3.8, s/2+0.2, 4+s+0.2)
	p.cross(at(0, 4+s/2), s/2)
	p.h = 4 + s + 0.4
	p.anchor = 4 + s/2
	p.label(s/2+1.4, 4+s/2, drawing.Start, e.Name, text(e.Item.Rating), rating(b, "limit ", e.Item.Limit, ""), outWord(p.out))
	return p.part
}

// earthing draws an earthing transformer.
func (b *builder) earthing(e *study.Entry[study.EarthingTransformer], dead bool) part {
	p := b.shunt("earthing transformer", e.Name, dead, 4)
	const r = 3.4
	p.circle(at(0, 4+r), r)
	p.windingMark(at(0, 4+r), "Z")
	p.claim(-r-0.2, 3.8, r+0.2, 4+2*r+0.2)
	p.h = 4 + 2*r + 0.6
	v := e.Item.Neutral
	if !v.Given {
		v.V, v.Given = quantity.Neutral{Solid: true}, true
	}
	b.neutral(p, e.Name, "own", "earthing transformer", v, -r, 4+r)
	z := text(e.Item.Z0)
	if z == "" {
		z = text(e.Item.NeutralCurrent)
	}
	p.cross(at(0, 4+r), r)
	p.anchor = 4 + r
	p.label(r+1.4, 4+r, drawing.Start, e.Name, z, outWord(p.out))
	return p.part
}

// voltage draws a voltage transformer that hangs from a bus.
func (b *builder) voltage(e *study.Entry[study.VoltageTransformer], dead bool) part {
	p := b.pen("voltage transformer", e.Name, false, dead)
	p.lead(at(0, 0), at(0, 3.4))
	if b.set == IEEE {
		p.coil(-2.1, 3.4, 0.7, 3, 1)
		p.coil(-2.1, 6.4, 0.7, 3, -1)
		p.claim(-2.3, 3, 2.3, 6.8)
		p.h = 7.2
	} else {
		p.circle(at(0, 5), 1.6)
		p.circle(at(0, 7.2), 1.6)
		p.claim(-1.8, 3.2, 1.8, 9)
		p.h = 9.2
	}
	y := p.h/2 + 1
	relays := b.relaysAt(e.Name)
	if d := b.relayRoom(relays)/2 - y; d > 0 {
		h := p.h
		p.part = p.moved(at(0, d))
		p.lead(at(0, 0), at(0, d))
		p.h, y = h+2*d, y+d
	}
	p.anchor = y
	b.relaysBeside(p, relays, y)
	p.label(3.2, y, drawing.Start, e.Name, text(e.Item.Ratio), connectionWord(e))
	return p.part
}

func connectionWord(e *study.Entry[study.VoltageTransformer]) string {
	if e.Item.Measures.Given {
		return text(e.Item.Measures)
	}
	if e.Item.Connection.V == "wye" {
		return ""
	}
	return e.Item.Connection.V
}

// tapped draws a voltage transformer beside a line, at the end of a branch.
func (b *builder) tapped(e *study.Entry[study.VoltageTransformer], dead bool) part {
	p := b.pen("voltage transformer", e.Name, false, dead)
	lines := nonEmpty([]string{e.Name, text(e.Item.Ratio), connectionWord(e)})
	p.h = max(8, labelHeight(len(lines))+1.6)
	y := p.h / 2
	p.anchor = y
	p.lead(at(0, 0), at(0, p.h))
	p.dot(at(0, y), 0.55)
	p.lead(at(0, y), at(3, y))
	if b.set == IEEE {
		for i := range 3 {
			p.arc(at(3, y+1.4*float64(i-1)), 0.7, -90, 180)
			p.arc(at(6, y+1.4*float64(i-1)), 0.7, 90, 180)
		}
		p.claim(2.6, y-2.3, 6.4, y+2.3)
		p.label(7.4, y, drawing.Start, lines...)
		return p.part
	}
	p.circle(at(4.6, y), 1.6)
	p.circle(at(6.8, y), 1.6)
	p.claim(2.8, y-1.8, 8.6, y+1.8)
	p.label(9.6, y, drawing.Start, lines...)
	return p.part
}

// flag draws the end of a line that goes on elsewhere; lines say where.
func (b *builder) flag(name string, dead bool, lines ...string) part {
	p := b.pen("flag", name, false, dead)
	p.lead(at(0, 0), at(0, 3))
	s := p.solid(conductor)
	s.Fill = drawing.White
	p.add(drawing.Line{Style: s, Closed: true, Points: []point{at(-2, 3), at(2, 3), at(2, 6), at(0, 8), at(-2, 6)}})
	p.claim(-2.2, 2.8, 2.2, 8.2)
	p.h = 8.4
	p.anchor = 5
	p.label(3.2, 5.2, drawing.Start, lines...)
	return p.part
}

// origin draws where a line comes from that begins on another sheet.
func (b *builder) origin(name string, dead bool, lines ...string) part {
	p := b.pen("flag", name, false, dead)
	s := p.solid(conductor)
	s.Fill = drawing.White
	p.add(drawing.Line{Style: s, Closed: true, Points: []point{at(-2, 0), at(2, 0), at(2, 3), at(0, 5), at(-2, 3)}})
	p.claim(-2.2, -0.2, 2.2, 5.2)
	p.lead(at(0, 5), at(0, 8.4))
	p.h = 8.4
	p.anchor = 2.4
	p.label(3.2, 2.6, drawing.Start, lines...)
	return p.part
}

// header is the room above a bus for its name and fault levels.
func (b *builder) header(bus *study.Entry[study.Bus], dead bool) part {
	p := b.pen("bus", bus.Name, false, dead)
	lines := []string{words(bus.Name, text(bus.Item.Voltage))}
	if ph := bus.Item.Phases; ph.Given && (ph.V&^quantity.PhaseN).Count() < 3 {
		lines[0] += " " + b.phaseNames(ph.V)
	}
	if dead {
		lines = append(lines, "dead")
	}
	if l, ok := b.o.Levels[bus.Name]; ok {
		if l.ThreePhase != nil {
			lines = append(lines, "3ph "+rangeText(*l.ThreePhase))
		}
		if l.Ground != nil {
			lines = append(lines, "lg "+rangeText(*l.Ground))
		}
		if l.Note != "" {
			lines = append(lines, l.Note)
		}
	}
	h := labelHeight(len(lines))
	p.h = h + 1.6
	p.lead(at(0, 0), at(0, p.h))
	p.label(1.6, h/2+0.2, drawing.Start, lines...)
	p.anchor = p.h
	return p.part
}

// rangeText writes a range in kA, or A below one.
func rangeText(r Range) string {
	unit, k := "kA", 1e-3
	if r.Max < 1000 {
		unit, k = "A", 1
	}
	hi, lo := quantity.Format(r.Max*k, 3), quantity.Format(r.Min*k, 3)
	if hi == lo {
		return hi + " " + unit
	}
	return hi + "–" + lo + " " + unit
}
