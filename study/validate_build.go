package study

import (
	"fmt"
	"math"
	"strconv"

	"feederwright/conductor"
	"feederwright/quantity"
)

// conductorLibrary reads the program's library where the study names one of it.
func (v *validator) conductorLibrary() ConductorLibrary {
	if v.library == nil {
		for _, e := range v.doc.Conductors.Entries {
			if e.Item.Library.Given {
				if records, err := conductor.Library(); err == nil {
					v.library = records
				} else {
					v.err(e.Item.Library.At, "conductor "+strconv.Quote(e.Name), err.Error(), "the library that came with the program is spoilt", "install the program anew")
				}
				break
			}
		}
	}
	return v.library
}

// builtPhases are the conductors that a built type is checked with: all that
// it has places for, or as many as it says.
func builtPhases(t *LineType) quantity.Phases {
	var p quantity.Phases
	if t.PoleTop.Given {
		if t.Positions != nil {
			for _, name := range t.Positions.Names {
				var one quantity.Phases
				if one.UnmarshalText([]byte(name)) == nil && one.Count() == 1 {
					p |= one
				}
			}
		}
	} else {
		p = threePhases
		if t.Phases.Given && t.Phases.V >= 1 && t.Phases.V <= 3 {
			p = quantity.Phases(1<<t.Phases.V - 1)
		}
	}
	p &= threePhases
	if t.KeepsNeutral() {
		p |= 1 << 3
	}
	return p
}

// BuiltPhases are the conductors of a type that says how its lines are built:
// those it has places for.
func (t *LineType) BuiltPhases() quantity.Phases { return builtPhases(t) }

// conductors checks each conductor by itself, in use or not.
func (v *validator) conductors() {
	var any conductor.Earth
	any.Resistivity = UsualResistivity
	for i := range v.doc.Conductors.Entries {
		e := &v.doc.Conductors.Entries[i]
		var lone Entry[LineType]
		b := &builder{doc: v.doc, library: v.conductorLibrary(), t: &lone, object: "conductor " + strconv.Quote(e.Name), c: &Construction{marks: map[string]metalMarks{}}}
		w := b.wire(Value[Ref]{V: Ref(e.Name), Given: true})
		if w.ok {
			b.c.marks[`wire "A"`] = w.marks
			lone.NameAt = e.NameAt
			_, err := conductor.Overhead{Wires: []conductor.Wire{{Name: "A", Role: conductor.PhaseA, Height: 10 + 2*w.radius, GMR: w.gmr, Radius: w.radius, R: w.r}},
				Earth: any, Frequency: math.Max(1, float64(v.doc.Frequency.V))}.Series(conductor.ModifiedCarson)
			b.errors(err)
		}
		for i := range b.ds {
			b.ds[i].Object = "conductor " + strconv.Quote(e.Name)
		}
		v.ds = append(v.ds, b.ds...)
		if a := e.Item.Ampacity; a.Given && a.V <= 0 {
			v.err(a.At, "conductor "+strconv.Quote(e.Name), "ampacity "+a.Text, "a conductor carries current", "write it in A")
		}
		if w.ok && w.radius > maxRadius {
			v.warn(w.marks.diameter, "conductor "+strconv.Quote(e.Name), fmt.Sprintf("a diameter of %s mm", number(2e3*w.radius)), fmt.Sprintf("conductors of feeders are thinner than %g mm (%s)", 2e3*maxRadius, commonPractice), "look at the unit")
		}
	}
}

// maxRadius is that of the largest conductors of feeders, m: 1500 mm² has a
// diameter of some 50 mm (common practice, no source).
const maxRadius = 0.03

// built checks a type that says how its lines are built.
func (v *validator) built(e *Entry[LineType], object string) {
	t := &e.Item
	if there(t.PoleTop.At) && there(t.Cable.At) {
		v.err(t.Cable.At, object, "both a pole top and a cable", "a line is overhead or a cable", "leave one of them")
		return
	}
	for _, x := range []struct {
		key string
		at  Mark
	}{{"z1", t.Z1.At}, {"z0", t.Z0.At}, {"z", t.Z.At}, {"matrix", t.Matrix.At}, {"z1 hot", t.Z1Hot.At}, {"z0 hot", t.Z0Hot.At}, {"z hot", t.ZHot.At}, {"matrix hot", t.MatrixHot.At},
		{"b1", t.B1.At}, {"b0", t.B0.At}, {"b", t.B.At}, {"c1", t.C1.At}, {"c0", t.C0.At}, {"b matrix", t.BMatrix.At}} {
		if there(x.at) {
			v.err(x.at, object, x.key+" beside how the line is built", "its constants follow from how it is built", "leave one of the two")
			return
		}
	}
	over, under := "an overhead line", "a cable line"
	kind, foreign := over, []struct {
		key string
		at  Mark
	}{{"laying", t.Laying.At}, {"spacing", t.Spacing.At}, {"depth", t.Depth.At}, {"screens", t.Screens.At}, {"neutral distance", t.NeutralDistance.At}}
	if there(t.Cable.At) {
		kind = under
		foreign = append(foreign[:0:0], []struct {
			key string
			at  Mark
		}{{"conductor", t.Conductor.At}, {"shield wire", t.ShieldWire.At}, {"positions", namedAt(t.Positions)}}...)
	}
	for _, x := range foreign {
		if there(x.at) {
			v.err(x.at, object, fmt.Sprintf("%s has no meaning for %s", x.key, kind), "what is not used would mislead whoever reads it", "take it out")
		}
	}
	if there(t.NeutralEarthing.At) && !t.KeepsNeutral() {
		v.err(t.NeutralEarthing.At, object, "neutral earthing, and no neutral: explicit", "a neutral that is eliminated counts as earthed all along", "write neutral: explicit, or take it out")
	}
	if t.HotTemperature.Given && t.Temperature.Given && t.HotTemperature.V < t.Temperature.V {
		v.err(t.HotTemperature.At, object, fmt.Sprintf("the hot temperature %s is below the temperature %s", t.HotTemperature.Text, t.Temperature.Text), "hot is the highest temperature", "exchange the two")
	}
	for _, x := range []Value[quantity.Temperature]{t.Temperature, t.HotTemperature} {
		if x.Given && (x.V < -60 || x.V > 300) {
			v.err(x.At, object, x.Text+" is no temperature of a line", "conductors work between about -50 and 250 °C, in a short circuit at most", "write it in degC")
		}
	}
	if r := t.Resistivity; r.Given && (r.V < 1 || r.V > 1e5) {
		v.warn(r.At, object, "earth resistivity "+r.Text+" is unusual", "soils have 10 to 10000 ohm.m ("+commonPractice+")", "look at the unit")
	}
	if v.doc.Frequency.V <= 0 {
		return // told
	}
	_, ds := v.doc.Construct(v.conductorLibrary(), e, nil, builtPhases(t), false)
	v.once(ds)
	if t.HotTemperature.Given && ds.Errors() == 0 {
		_, ds = v.doc.Construct(v.conductorLibrary(), e, nil, builtPhases(t), true)
		v.once(ds)
	}
}

// once adds diagnostics that are not told yet.
func (v *validator) once(ds Diagnostics) {
	for _, d := range ds {
		known := false
		for _, o := range v.ds {
			known = known || o.At == d.At && o.Problem == d.Problem
		}
		if !known {
			v.ds = append(v.ds, d)
		}
	}
}

func namedAt[T any](n *NamedValues[T]) Mark {
	if n == nil || len(n.NameAt) == 0 {
		return Mark{}
	}
	return n.NameAt[0]
}

// builtType is the type of a line that says how it is built, or nil.
func (v *validator) builtType(l *Line) *Entry[LineType] {
	if !l.Type.Given || l.Z1.Given || l.Z.Given || l.Matrix.Given {
		return nil
	}
	if t := v.doc.LineTypes.Find(string(l.Type.V)); t != nil && t.Item.IsBuilt() {
		return t
	}
	return nil
}

// builtLine checks a line against how its type is built.
func (v *validator) builtLine(e *Entry[Line], t *Entry[LineType], phases quantity.Phases, object string) {
	l := &e.Item
	if !l.Length.Given && !there(l.Length.At) {
		v.err(e.NameAt, object, "length is not given", "its impedances are per length", "write length, as 1.6 mi or 2.5 km")
	}
	const n = quantity.Phases(1 << 3)
	at := place(l.Phases.At, l.Type.At, e.NameAt)
	switch {
	case t.Item.KeepsNeutral() && phases&n == 0:
		v.err(at, object, fmt.Sprintf("type %q keeps its neutral, and the line has no conductor N", t.Name), "an explicit neutral is a conductor of the line and of both its buses", "give both buses and the line the phase N, or write neutral: reduced in the type")
		return
	case !t.Item.KeepsNeutral() && phases&n != 0:
		v.err(at, object, fmt.Sprintf("conductor N, and type %q eliminates its neutral", t.Name), "", "write neutral: explicit in the type, or leave N out of phases")
		return
	}
	own := l.Positions != nil
	if own && !t.Item.PoleTop.Given {
		v.err(namedAt(l.Positions), object, "positions, and its type has no pole top", "", "take it out")
		return
	}
	if v.doc.Frequency.V <= 0 {
		return
	}
	if have := builtPhases(&t.Item); own || t.Item.PoleTop.Given && phases&^have != 0 {
		_, ds := v.doc.Construct(v.conductorLibrary(), t, e, phases, false)
		v.once(ds)
	} else if t.Item.Cable.Given && phases&threePhases != have&threePhases {
		_, ds := v.doc.Construct(v.conductorLibrary(), t, e, phases, false)
		v.once(ds)
	}
}

// hot checks the constants at the highest temperature against those as given.
func (v *validator) hotConstants(c *Electrical, object string, count int) {
	for _, x := range []struct {
		key       string
		hot, cold Value[quantity.SeriesImpedance]
	}{{"z1", c.Z1Hot, c.Z1}, {"z0", c.Z0Hot, c.Z0}, {"z", c.ZHot, c.Z}} {
		switch {
		case !x.hot.Given:
		case !x.cold.Given:
			if !there(x.cold.At) {
				v.err(x.hot.At, object, x.key+" hot without "+x.key, "both are needed", "write "+x.key+", with conductors at their usual temperature")
			}
		case x.hot.V.PerLength != x.cold.V.PerLength:
			v.err(x.hot.At, object, fmt.Sprintf("%s hot is %s, %s is %s", x.key, x.hot.Text, x.key, x.cold.Text), "one is per length, the other in total", "give both alike")
		case real(x.hot.V.Z) < real(x.cold.V.Z):
			v.warn(x.hot.At, object, fmt.Sprintf("%s hot has less resistance than %s", x.key, x.key), "metal resists more when it is hot", "exchange the two")
		default:
			v.series(x.hot, object+", "+x.key+" hot", false)
		}
	}
	if c.Z1Hot.Given && !c.Z0Hot.Given && !there(c.Z0Hot.At) {
		v.err(c.Z1Hot.At, object, "z0 hot is not given", "with conductors hot both count; it is not guessed", "write z0 hot")
	}
	if c.Z0Hot.Given && !c.Z1Hot.Given && !there(c.Z1Hot.At) {
		v.err(c.Z0Hot.At, object, "z1 hot is not given beside z0 hot", "both are needed", "write z1 hot")
	}
	if !c.MatrixHot.Given {
		return
	}
	if !c.Matrix.Given {
		if !there(c.Matrix.At) {
			v.err(c.MatrixHot.At, object, "matrix hot without matrix", "both are needed", "write matrix")
		}
		return
	}
	hot := *c
	hot.Matrix = c.MatrixHot
	before := len(v.ds)
	v.matrix(&hot, object+", matrix hot", count)
	if len(v.ds) > before || len(c.Matrix.V) != len(c.MatrixHot.V) {
		return
	}
	for i := range c.Matrix.V {
		if len(c.Matrix.V[i]) <= i || len(c.MatrixHot.V[i]) <= i {
			continue
		}
		if real(c.MatrixHot.V[i][i].Z) < real(c.Matrix.V[i][i].Z) {
			v.warn(c.MatrixHot.At, object, fmt.Sprintf("entry %d,%d of matrix hot has less resistance than that of matrix", i+1, i+1), "metal resists more when it is hot", "exchange the two")
			return
		}
	}
}

// neutralEarthings checks where an explicit neutral is earthed.
func (v *validator) neutralEarthings() {
	const n = quantity.Phases(1 << 3)
	for i := range v.doc.Buses.Entries {
		e := &v.doc.Buses.Entries[i]
		if x := e.Item.NeutralEarthing; x.Given && e.Item.phases()&n == 0 {
			v.err(x.At, "bus "+strconv.Quote(e.Name), "neutral earthing, and no conductor N", "only a neutral that is a conductor of its own can be earthed here", "give the bus the phase N, or take it out")
		}
		if x := e.Item.NeutralEarthing; x.Given && real(x.V.Z) < 0 {
			v.err(x.At, "bus "+strconv.Quote(e.Name), "neutral earthing "+x.Text+" is not possible", "a resistance is not below zero", "look at the sign")
		}
	}
	for i := range v.doc.Lines.Entries {
		e := &v.doc.Lines.Entries[i]
		if x := e.Item.NeutralEarthing; there(x.At) && v.linePhases(&e.Item)&n == 0 {
			v.err(x.At, "line "+strconv.Quote(e.Name), "neutral earthing, and no conductor N", "a neutral that is eliminated counts as earthed all along", "keep the neutral as conductor N, or take it out")
		}
	}
}
