package study

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"feederwright/quantity"
)

// ends are the two buses of a line or transformer, or empty.
func (v *validator) ends(name Ref) (from, to Ref, ok bool) {
	if e := v.doc.Lines.Find(string(name)); e != nil {
		return e.Item.From.V, e.Item.To.V, true
	}
	if e := v.doc.Transformers.Find(string(name)); e != nil {
		return e.Item.From.V, e.Item.To.V, true
	}
	return "", "", false
}

func (v *validator) devices() {
	for _, d := range v.doc.devices() {
		object := d.kind + " " + strconv.Quote(d.name)
		inBranch := there(d.In.At, d.Near.At)
		between := there(d.From.At, d.To.At)
		switch {
		case inBranch && between:
			v.err(d.nameAt, object, "it stands in a branch and between two buses", "one of the two says where it is", "leave 'in' and 'near', or 'from' and 'to'")
			continue
		case !inBranch && !between:
			v.err(d.nameAt, object, "where it stands is not said", "", "write in and near (a branch, and the end of it), or from and to (two buses)")
			continue
		case inBranch && !there(d.In.At):
			v.err(d.nameAt, object, "'near' without 'in'", "the branch that it stands in is not said", "write in: the line or transformer")
		case inBranch && !there(d.Near.At):
			v.err(d.nameAt, object, "'in' without 'near'", "the end of the branch where it stands is not said", "write near: one of its two buses")
		case between && !(there(d.From.At) && there(d.To.At)):
			v.err(d.nameAt, object, "one of 'from' and 'to' is missing", "a device between two buses needs both", "")
		}
		if d.In.Given && d.Near.Given {
			if from, to, ok := v.ends(d.In.V); ok && d.Near.V != from && d.Near.V != to && v.bus(d.Near) != nil {
				v.err(d.Near.At, object, fmt.Sprintf("bus %q is no end of %q", d.Near.V, d.In.V), fmt.Sprintf("that branch joins %q and %q", from, to), fmt.Sprintf("write near: %s or near: %s", from, to))
			}
		}
		if d.From.Given && d.To.Given {
			a, b := v.bus(d.From), v.bus(d.To)
			switch {
			case d.From.V == d.To.V:
				v.err(d.To.At, object, fmt.Sprintf("both sides are at bus %q", d.To.V), "a device joins two buses", "give the other bus")
			case a != nil && b != nil && a.phases()&b.phases() == 0:
				v.err(d.To.At, object, fmt.Sprintf("buses %q (%s) and %q (%s) have no phase in common", d.From.V, a.phases().Letters(), d.To.V, b.phases().Letters()), "a device joins phases that both buses have", "")
			case a != nil && b != nil && a.Voltage.Given && b.Voltage.Given && math.Abs(float64(a.Voltage.V)/float64(b.Voltage.V)-1) > 0.01:
				v.err(d.To.At, object, fmt.Sprintf("between bus %q of %s and bus %q of %s", d.From.V, a.Voltage.Text, d.To.V, b.Voltage.Text), "a device joins buses of one nominal voltage", "put a transformer between")
			}
		}
	}
	f := float64(v.doc.Frequency.V)
	for _, table := range []*Table[Breaker]{&v.doc.Breakers, &v.doc.Reclosers} {
		for i := range table.Entries {
			e := &table.Entries[i]
			object := "breaker " + strconv.Quote(e.Name)
			if table == &v.doc.Reclosers {
				object = "recloser " + strconv.Quote(e.Name)
			}
			if o := e.Item.Opens; o.Given && f > 0 && o.V.At(f) > 1 {
				v.warn(o.At, object, "opens in "+o.Text, "breakers open in 2 to 8 cycles ("+commonPractice+")", "look at the unit: cycles, or ms?")
			}
			v.interrupts(e.Item.Interrupts, object)
		}
	}
	for i := range v.doc.Fuses.Entries {
		e := &v.doc.Fuses.Entries[i]
		v.interrupts(e.Item.Interrupts, "fuse "+strconv.Quote(e.Name))
	}
}

func (v *validator) interrupts(i Value[quantity.Current], object string) {
	if i.Given && i.V < 1000 {
		v.warn(i.At, object, "interrupts "+i.Text, "interrupting ratings are some thousand amperes ("+commonPractice+")", "look at the unit: kA?")
	}
}

// deviceBuses are the buses that a device can face, and its conductors.
func (v *validator) deviceBuses(name Ref) (faces []Ref, p quantity.Phases, ok bool) {
	for _, d := range v.doc.devices() {
		if d.name != string(name) {
			continue
		}
		if d.In.Given {
			from, to, known := v.ends(d.In.V)
			return []Ref{from, to}, v.branchPhases(d.In.V), known
		}
		a, b := v.bus(d.From), v.bus(d.To)
		if a == nil || b == nil {
			return nil, 0, false
		}
		return []Ref{d.From.V, d.To.V}, a.phases() & b.phases(), true
	}
	return nil, 0, false
}

func (v *validator) branchPhases(name Ref) quantity.Phases {
	if e := v.doc.Lines.Find(string(name)); e != nil {
		return v.linePhases(&e.Item)
	}
	return threePhases
}

func (v *validator) instruments() {
	for i := range v.doc.CurrentTransformers.Entries {
		e := &v.doc.CurrentTransformers.Entries[i]
		v.currentTransformer(&e.Item, "current transformer "+strconv.Quote(e.Name), e.NameAt)
	}
	for i := range v.doc.VoltageTransformers.Entries {
		e := &v.doc.VoltageTransformers.Entries[i]
		v.voltageTransformer(&e.Item, "voltage transformer "+strconv.Quote(e.Name), e.NameAt)
	}
	for i := range v.doc.Relays.Entries {
		e := &v.doc.Relays.Entries[i]
		if s := e.Item.Sees; s != nil && !there(s.Current.At, s.Ground.At, s.Voltage.At) {
			v.err(e.NameAt, "relay "+strconv.Quote(e.Name), "it sees nothing", "a relay acts on what its instrument transformers give it", "write sees: { current: ... }")
		}
	}
}

func (v *validator) currentTransformer(t *CurrentTransformer, object string, at Mark) {
	ways := 0
	if there(t.At.At) {
		ways++
	}
	if there(t.In.At) {
		ways++
	}
	switch {
	case ways == 0:
		v.err(at, object, "where it stands is not said", "", "write at: a device, or in: a branch with near or neutral")
		return
	case ways == 2:
		v.err(t.In.At, object, "both 'at' and 'in' are given", "one of the two says where it is", "leave one of them")
		return
	}
	if t.Connection.Given && t.Encloses.Given {
		v.err(t.Encloses.At, object, "both a connection and 'encloses' are given", "two statements of one thing may differ", "leave one of them")
	}
	if t.Full.Given && t.Ratio.Given && t.Ratio.V.Primary > t.Full.V.Primary*(1+1e-9) {
		v.err(t.Ratio.At, object, fmt.Sprintf("ratio %s is above the full ratio %s", t.Ratio.Text, t.Full.Text), "a tap uses part of the winding", "exchange the two")
	}
	if t.Ratio.Given && t.Ratio.V.Primary < t.Ratio.V.Secondary {
		v.warn(t.Ratio.At, object, "ratio "+t.Ratio.Text+" steps the current up", "the first figure is the primary current", "")
	}
	var faces []Ref
	phases := threePhases
	switch {
	case t.Neutral.Given:
		v.neutralCT(t, object)
		return
	case t.At.Given:
		var ok bool
		if faces, phases, ok = v.deviceBuses(t.At.V); !ok {
			return
		}
	case t.In.Given:
		from, to, ok := v.ends(t.In.V)
		if !ok {
			if v.doc.EarthingTransformers.Find(string(t.In.V)) != nil {
				v.err(t.In.At, object, fmt.Sprintf("%q is an earthing transformer, and 'neutral' is missing", t.In.V), "", "write neutral: own")
			}
			return
		}
		faces, phases = []Ref{from, to}, v.branchPhases(t.In.V)
		switch {
		case !there(t.Near.At):
			v.err(at, object, "'in' without 'near'", "the end of the branch where it stands is not said", "write near: one of its two buses, or neutral: from or to")
		case t.Near.Given && t.Near.V != from && t.Near.V != to && v.bus(t.Near) != nil:
			v.err(t.Near.At, object, fmt.Sprintf("bus %q is no end of %q", t.Near.V, t.In.V), fmt.Sprintf("that branch joins %q and %q", from, to), fmt.Sprintf("write near: %s or near: %s", from, to))
		}
	}
	if v.bus(t.Facing) != nil && len(faces) == 2 && t.Facing.V != faces[0] && t.Facing.V != faces[1] {
		v.err(t.Facing.At, object, fmt.Sprintf("it cannot face bus %q", t.Facing.V), "it faces one of the buses that its device or branch joins", fmt.Sprintf("write facing: %s or facing: %s", faces[0], faces[1]))
	}
	v.sums(t.Encloses, phases, object, "encloses")
	if (t.Connection.V == "delta-AB" || t.Connection.V == "delta-AC") && phases&threePhases != threePhases {
		v.err(t.Connection.At, object, "a delta connection on phases "+phases.Letters(), "it needs all three", "")
	}
}

func (v *validator) neutralCT(t *CurrentTransformer, object string) {
	tr := v.doc.Transformers.Find(string(t.In.V))
	switch {
	case !t.In.Given:
		v.err(t.Neutral.At, object, "'neutral' needs 'in'", "the transformer is not said", "write in: the transformer")
	case tr != nil && t.Neutral.V == "own":
		v.err(t.Neutral.At, object, "which neutral is not said", "a transformer has two windings", "write neutral: from, or neutral: to")
	case tr != nil && tr.Item.Group.Given:
		w := tr.Item.Group.V.From
		if t.Neutral.V == "to" {
			w = tr.Item.Group.V.To
		}
		if !w.Neutral {
			v.err(t.Neutral.At, object, fmt.Sprintf("that winding of %s, %s, has no neutral", t.In.V, tr.Item.Group.Text), "the letter N or n in the group says that the neutral is brought out", "")
		}
	}
	if there(t.Near.At) || there(t.Facing.At) {
		v.warn(t.Neutral.At, object, "'near' and 'facing' have no effect in a neutral", "current counts positive from earth into the neutral", "")
	}
}

func (v *validator) sums(s Value[[]quantity.SignedSum], phases quantity.Phases, object, key string) {
	for i, sum := range s.V {
		var lacking []string
		for c, k := range sum.Coefficient {
			if k != 0 && !phases.HasConductor(c) {
				lacking = append(lacking, string("ABCN"[c]))
			}
		}
		if len(lacking) > 0 {
			v.err(s.At, object, fmt.Sprintf("%s, entry %d: conductor %s is not there, only %s", key, i+1, strings.Join(lacking, ", "), phases.Letters()), "", "")
		}
	}
}

// ratioTolerance is how far a VT's rated primary voltage may lie from the
// bus's: 12 kV units on 12.47 kV and 11 kV on 11.5 kV are usual.
const vtRatio = 0.2

func (v *validator) voltageTransformer(t *VoltageTransformer, object string, at Mark) {
	switch {
	case there(t.At.At) && there(t.In.At):
		v.err(t.In.At, object, "both 'at' and 'in' are given", "one of the two says where it is", "leave one of them")
		return
	case !there(t.At.At) && !there(t.In.At):
		v.err(at, object, "where it is connected is not said", "", "write at: a bus, or in and near: the end of a branch")
		return
	}
	if t.Connection.Given && t.Measures.Given {
		v.err(t.Measures.At, object, "both a connection and 'measures' are given", "two statements of one thing may differ", "leave one of them")
	}
	ref := t.At
	if t.In.Given {
		ref = t.Near
		from, to, ok := v.ends(t.In.V)
		switch {
		case ok && !there(t.Near.At):
			v.err(at, object, "'in' without 'near'", "the end of the branch is not said", "write near: one of its two buses")
			return
		case ok && t.Near.Given && t.Near.V != from && t.Near.V != to && v.bus(t.Near) != nil:
			v.err(t.Near.At, object, fmt.Sprintf("bus %q is no end of %q", t.Near.V, t.In.V), fmt.Sprintf("that branch joins %q and %q", from, to), fmt.Sprintf("write near: %s or near: %s", from, to))
			return
		}
	}
	b := v.bus(ref)
	if b == nil {
		return
	}
	phases := b.phases()
	if t.In.Given {
		phases &= v.branchPhases(t.In.V)
	}
	v.sums(t.Measures, phases, object, "measures")
	if t.Connection.V == "open-delta" && phases&threePhases != threePhases {
		v.err(t.Connection.At, object, "an open delta on phases "+phases.Letters(), "it needs all three", "")
	}
	if !t.Ratio.Given || !b.Voltage.Given {
		return
	}
	lineToLine := t.Connection.V == "open-delta"
	for _, s := range t.Measures.V {
		n := 0
		for _, k := range s.Coefficient {
			n += int(k * k)
		}
		lineToLine = lineToLine || n == 2
	}
	ll := float64(b.Voltage.V)
	want, other, is, not := ll/math.Sqrt(3), ll, "line-to-earth", "line-to-line"
	if lineToLine {
		want, other, is, not = other, want, not, is
	}
	r := t.Ratio.V.Primary
	if math.Abs(r/want-1) <= vtRatio {
		return
	}
	fix := "look at the nameplate"
	if math.Abs(r/other-1) <= vtRatio {
		fix = fmt.Sprintf("a primary of %s is the %s voltage here; look at the connection", quantity.Voltage(r), not)
	}
	v.warn(t.Ratio.At, object, fmt.Sprintf("ratio %s measures %s at a bus of %s", t.Ratio.Text, is, b.Voltage.Text), fmt.Sprintf("that voltage is %s", quantity.Voltage(roundTo(want, 4))), fix)
}

// loops checks that vector groups and turns ratios close round every loop of
// transformers, lines and devices: each bus is given the shift and the voltage
// of the way by which it is first reached, and every other way must agree.
func (v *validator) loops() {
	type hop struct {
		to    Ref
		clock int
		ratio float64 // turns voltage beyond over that before
		name  string
		entry *Entry[Transformer]
		back  bool
	}
	next := map[Ref][]hop{}
	join := func(a, b Ref, name string) {
		next[a] = append(next[a], hop{to: b, ratio: 1, name: name})
		next[b] = append(next[b], hop{to: a, ratio: 1, name: name, back: true})
	}
	for _, e := range v.doc.Lines.Entries {
		join(e.Item.From.V, e.Item.To.V, e.Name)
	}
	for _, d := range v.doc.devices() {
		if d.From.Given && d.To.Given {
			join(d.From.V, d.To.V, d.name)
		}
	}
	for i := range v.doc.Transformers.Entries {
		e := &v.doc.Transformers.Entries[i]
		if !e.Item.Group.Given || !e.Item.Voltages.Given {
			continue
		}
		a, b := e.Item.From.V, e.Item.To.V
		k := e.Item.Voltages.V.To / e.Item.Voltages.V.From
		next[a] = append(next[a], hop{b, e.Item.Group.V.Clock, k, e.Name, e, false})
		next[b] = append(next[b], hop{a, -e.Item.Group.V.Clock, 1 / k, e.Name, e, true})
	}
	type reached struct {
		clock  int
		level  float64
		before Ref
		by     string
		root   bool
	}
	at := map[Ref]reached{}
	used := map[string]bool{}
	for i := range v.doc.Buses.Entries {
		start := Ref(v.doc.Buses.Entries[i].Name)
		if _, ok := at[start]; ok {
			continue
		}
		at[start] = reached{level: 1, root: true}
		for queue := []Ref{start}; len(queue) > 0; queue = queue[1:] {
			b := queue[0]
			for _, h := range next[b] {
				if used[h.name+"/"+string(b)] || h.name == at[b].by {
					continue
				}
				used[h.name+"/"+string(h.to)] = true
				clock, level := at[b].clock+h.clock, at[b].level*h.ratio
				r, ok := at[h.to]
				if !ok {
					at[h.to] = reached{clock: clock, level: level, before: b, by: h.name}
					queue = append(queue, h.to)
					continue
				}
				// The loop: back from both ends to where they meet.
				loop := v.loopOf(func(x Ref) (Ref, string, bool) { y := at[x]; return y.before, y.by, y.root }, b, h.to, h.name)
				tr := v.transformerOf(loop)
				if tr == nil {
					continue
				}
				if diff := ((clock-r.clock)%12 + 12) % 12; diff != 0 {
					v.err(tr.Item.Group.At, "transformer "+strconv.Quote(tr.Name), fmt.Sprintf("the vector groups round the loop %s do not close: they leave %d°", strings.Join(loop, ", "), 30*min(diff, 12-diff)),
						"two ways between the same buses must shift the phases alike, or closing the loop is a short circuit", closing(tr, loop, diff, h.back, h.name))
					continue
				}
				if d := level / r.level; math.Abs(d-1) > 0.05 {
					v.warn(tr.Item.Voltages.At, "transformer "+strconv.Quote(tr.Name), fmt.Sprintf("the turns ratios round the loop %s differ by %s %%", strings.Join(loop, ", "), number(100*math.Abs(d-1))),
						"closing the loop drives a circulating current", "look at the rated voltages")
				}
			}
		}
	}
}

// loopOf lists the branches and devices of the loop that joining a and b closes.
func (v *validator) loopOf(before func(Ref) (Ref, string, bool), a, b Ref, name string) []string {
	trail := func(x Ref) (buses []Ref, by []string) {
		for {
			y, n, root := before(x)
			buses = append(buses, x)
			if root {
				return buses, by
			}
			by = append(by, n)
			x = y
		}
	}
	ab, an := trail(a)
	bb, bn := trail(b)
	for len(ab) > 1 && len(bb) > 1 && ab[len(ab)-2] == bb[len(bb)-2] && an[len(an)-1] == bn[len(bn)-1] {
		ab, bb, an, bn = ab[:len(ab)-1], bb[:len(bb)-1], an[:len(an)-1], bn[:len(bn)-1]
	}
	loop := append([]string(nil), an...)
	for i, j := 0, len(loop)-1; i < j; i, j = i+1, j-1 {
		loop[i], loop[j] = loop[j], loop[i]
	}
	loop = append(loop, name)
	return append(loop, bn...)
}

// transformerOf is the last transformer, in the order of the file, of a loop.
func (v *validator) transformerOf(loop []string) *Entry[Transformer] {
	var found *Entry[Transformer]
	for _, n := range loop {
		if e := v.doc.Transformers.Find(n); e != nil && (found == nil || e.NameAt.Line > found.NameAt.Line) {
			found = e
		}
	}
	return found
}

// closing says which clock number of the transformer would close the loop,
// where the group allows one.
func closing(tr *Entry[Transformer], loop []string, diff int, back bool, last string) string {
	g := tr.Item.Group.V
	for _, k := range []int{g.Clock + diff, g.Clock - diff} {
		k = (k%12 + 12) % 12
		text := strings.TrimRight(tr.Item.Group.Text, "0123456789") + strconv.Itoa(k)
		var try quantity.VectorGroup
		if try.UnmarshalText([]byte(text)) == nil && k != g.Clock {
			return fmt.Sprintf("look at the nameplates; with %s as %s the loop may close", tr.Name, text)
		}
	}
	return "look at the nameplates, and at which bus each side is on"
}
