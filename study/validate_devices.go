package study

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"feederwright/quantity"
)

// ends are the buses that a branch joins.
func (v *validator) ends(name Ref) (ends []Ref, ok bool) {
	b, ok := v.doc.Branch(string(name))
	for _, e := range b.Ends {
		ends = append(ends, e.V)
	}
	return ends, ok
}

// notAnEnd tells that a bus is no end of a branch.
func (v *validator) notAnEnd(near Value[Ref], in Ref, object string) bool {
	ends, ok := v.ends(in)
	if !ok || !near.Given || v.bus(near) == nil || slices.Contains(ends, near.V) {
		return false
	}
	if slices.Contains(ends, "") { // an end that is missing is told of the branch, and may be this one
		return false
	}
	quoted, write := make([]string, len(ends)), make([]string, len(ends))
	for i, e := range ends {
		quoted[i], write[i] = strconv.Quote(string(e)), "near: "+string(e)
	}
	v.err(near.At, object, fmt.Sprintf("bus %q is no end of %q", near.V, in), "that branch joins "+listWords(quoted, "and"), "write "+listWords(write, "or"))
	return true
}

func (v *validator) devices() {
	for _, d := range v.doc.Devices() {
		object := d.Kind + " " + strconv.Quote(d.Name)
		inBranch := there(d.In.At, d.Near.At)
		between := there(d.From.At, d.To.At)
		switch {
		case inBranch && between:
			v.err(d.NameAt, object, "it stands in a branch and between two buses", "one of the two says where it is", "leave 'in' and 'near', or 'from' and 'to'")
			continue
		case !inBranch && !between:
			v.err(d.NameAt, object, "where it stands is not said", "", "write in and near (a branch, and the end of it), or from and to (two buses)")
			continue
		case inBranch && !there(d.In.At):
			v.err(d.NameAt, object, "'near' without 'in'", "the branch that it stands in is not said", "write in: the line or transformer")
		case inBranch && !there(d.Near.At):
			v.err(d.NameAt, object, "'in' without 'near'", "the end of the branch where it stands is not said", "write near: one of its two buses")
		case between && !(there(d.From.At) && there(d.To.At)):
			v.err(d.NameAt, object, "one of 'from' and 'to' is missing", "a device between two buses needs both", "")
		}
		if d.In.Given && d.Near.Given {
			v.notAnEnd(d.Near, d.In.V, object)
		}
		if d.From.Given && d.To.Given {
			a, b := v.bus(d.From), v.bus(d.To)
			switch {
			case d.From.V == d.To.V:
				v.err(d.To.At, object, fmt.Sprintf("both sides are at bus %q", d.To.V), "a device joins two buses", "give the other bus")
			case a != nil && b != nil && a.phases()&b.phases() == 0:
				v.err(d.To.At, object, fmt.Sprintf("buses %q (%s) and %q (%s) have no phase in common", d.From.V, v.names(a.phases()), d.To.V, v.names(b.phases())), "a device joins phases that both buses have", "")
			case a != nil && b != nil && a.Voltage.Given && b.Voltage.Given && math.Abs(float64(a.Voltage.V)/float64(b.Voltage.V)-1) > sameVoltage:
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
	d, ok := v.doc.Device(string(name))
	if !ok {
		return nil, 0, false
	}
	if d.In.Given {
		ends, known := v.ends(d.In.V)
		return ends, v.branchPhases(d.In.V, d.Near.V), known
	}
	a, b := v.bus(d.From), v.bus(d.To)
	if a == nil || b == nil {
		return nil, 0, false
	}
	return []Ref{d.From.V, d.To.V}, a.phases() & b.phases(), true
}

// branchPhases are the conductors of a branch at the end near a bus.
func (v *validator) branchPhases(name, near Ref) quantity.Phases {
	if e := v.doc.Lines.Find(string(name)); e != nil {
		return v.linePhases(&e.Item)
	}
	if b, ok := v.doc.Branch(string(name)); ok {
		return v.doc.BranchConductors(b, max(b.End(near), 0))
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
	if t.Full.Given && t.Ratio.Given && math.Abs(t.Ratio.V.Secondary/t.Full.V.Secondary-1) > 1e-9 {
		v.err(t.Ratio.At, object, fmt.Sprintf("ratio %s and full ratio %s have different secondary currents", t.Ratio.Text, t.Full.Text), "the taps of one winding have one rated secondary current", "look at the nameplate")
	}
	if t.At.Given && there(t.Near.At) {
		v.warn(t.Near.At, object, "'near' has no effect beside 'at'", "the device says where it is", "take it out; 'facing' says which way it looks")
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
		ends, ok := v.ends(t.In.V)
		if !ok {
			if v.doc.EarthingTransformers.Find(string(t.In.V)) != nil {
				v.err(t.In.At, object, fmt.Sprintf("%q is an earthing transformer, and 'neutral' is missing", t.In.V), "", "write neutral: own")
			}
			return
		}
		faces, phases = ends, v.branchPhases(t.In.V, t.Near.V)
		if !there(t.Near.At, t.Neutral.At) {
			v.err(at, object, "'in' without 'near'", "the end of the branch where it stands is not said", "write near: one of its two buses, or neutral: from or to")
		}
		v.notAnEnd(t.Near, t.In.V, object)
	}
	if v.bus(t.Facing) != nil && len(faces) > 1 && !slices.Contains(faces, t.Facing.V) {
		write := make([]string, len(faces))
		for i, f := range faces {
			write[i] = "facing: " + string(f)
		}
		v.err(t.Facing.At, object, fmt.Sprintf("it cannot face bus %q", t.Facing.V), "it faces one of the buses that its device or branch joins", "write "+listWords(write, "or"))
	}
	v.sums(t.Encloses, phases, object, "encloses")
	if (t.Connection.V == "delta-AB" || t.Connection.V == "delta-AC") && phases&threePhases != threePhases {
		v.err(t.Connection.At, object, "a delta connection on phases "+v.names(phases), "it needs all three", "")
	}
}

func (v *validator) neutralCT(t *CurrentTransformer, object string) {
	tr := v.doc.Transformers.Find(string(t.In.V))
	switch {
	case !t.In.Given:
		v.err(t.Neutral.At, object, "'neutral' needs 'in'", "the transformer is not said", "write in: the transformer")
	case t.Neutral.V == "own" && v.doc.EarthingTransformers.Find(string(t.In.V)) == nil:
		if _, known := v.doc.Branch(string(t.In.V)); known {
			v.err(t.Neutral.At, object, "which neutral is not said", "a transformer has several windings", "write neutral: from or to; of three windings first, second or third")
		}
	case (t.Neutral.V == "first" || t.Neutral.V == "second" || t.Neutral.V == "third") && v.doc.ThreeWinding.Find(string(t.In.V)) == nil:
		if v.doc.EarthingTransformers.Find(string(t.In.V)) == nil {
			v.err(t.Neutral.At, object, fmt.Sprintf("%q has no %s winding", t.In.V, t.Neutral.V), "its windings are called by its ends", "write neutral: from, or neutral: to")
		}
	case v.doc.ThreeWinding.Find(string(t.In.V)) != nil:
		g := v.doc.ThreeWinding.Find(string(t.In.V)).Item.Group
		if w := g.V.Winding[map[string]int{"from": 0, "first": 0, "to": 1, "second": 1, "third": 2}[t.Neutral.V]]; g.Given && t.Neutral.Given && !w.Neutral {
			v.err(t.Neutral.At, object, fmt.Sprintf("that winding of %s, %s, has no neutral", t.In.V, g.Text), "the letter N or n in the group says that the neutral is brought out", "")
		}
	case tr != nil && tr.Item.Group.Given:
		w := tr.Item.Group.V.From
		if t.Neutral.V == "to" {
			w = tr.Item.Group.V.To
		}
		if !w.Neutral {
			v.err(t.Neutral.At, object, fmt.Sprintf("that winding of %s, %s, has no neutral", t.In.V, tr.Item.Group.Text), "the letter N or n in the group says that the neutral is brought out", "")
		}
	}
	if t.Neutral.V != "own" && t.Neutral.Given && v.doc.EarthingTransformers.Find(string(t.In.V)) != nil {
		v.err(t.Neutral.At, object, fmt.Sprintf("%q is an earthing transformer: it has one neutral, no 'from' and 'to'", t.In.V), "", "write neutral: own")
	}
	if there(t.Connection.At, t.Encloses.At) {
		v.warn(place(t.Connection.At, t.Encloses.At), object, "a connection has no effect in a neutral", "the CT encloses one conductor, the neutral", "take the connection out")
	}
	if there(t.Near.At) || there(t.Facing.At) {
		v.warn(place(t.Near.At, t.Facing.At), object, "'near' and 'facing' have no effect in a neutral", "current counts positive from earth into the neutral", "take it out")
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
			v.err(part(s.At, s.Parts, i), object, fmt.Sprintf("%s, entry %d: conductor %s is not there, only %s", key, i+1, strings.Join(lacking, ", "), v.names(phases)), "a conductor that is not there has no current and no voltage", "leave it out of the sum, or look at the phases of the branch and its buses")
		}
	}
}

// vtRatio is how far a VT's rated primary voltage may lie from the bus's:
// 12 kV units on 12.47 kV and 11 kV on 11.5 kV are usual.
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
		if _, ok := v.ends(t.In.V); ok && !there(t.Near.At) {
			v.err(at, object, "'in' without 'near'", "the end of the branch is not said", "write near: one of its two buses")
			return
		}
		if v.notAnEnd(t.Near, t.In.V, object) {
			return
		}
	}
	b := v.bus(ref)
	if b == nil {
		return
	}
	phases := b.phases()
	if t.In.Given {
		phases &= v.branchPhases(t.In.V, t.Near.V)
	}
	v.sums(t.Measures, phases, object, "measures")
	if t.Connection.V == "open-delta" && phases&threePhases != threePhases {
		v.err(t.Connection.At, object, "an open delta on phases "+v.names(phases), "it needs all three", "")
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
