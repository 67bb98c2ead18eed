package study

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"feederwright/conductor"
	"feederwright/quantity"
)

// A Construction is a line type as the equations of package conductor take
// it, for the conductors of one line, at one temperature.
type Construction struct {
	Overhead *conductor.Overhead // or
	Cables   *conductor.CableRun
	Method   conductor.Method
	Neutral  conductor.NeutralTreatment
	Screens  conductor.Bonding
	// Hot is true where the highest temperature was asked for and is known.
	Hot bool
	// Taken are the choices made where the study says nothing, in words.
	Taken []string
	// Metal tells what each conductor of the line is, in the order of the
	// equations.
	Metal []Metal

	marks map[string]metalMarks // by the names that messages of package conductor use
}

// A Metal is one conductor of a line with where its data are from.
type Metal struct {
	Role       string  // A, B, C, N, shield, A screen
	Conductor  string  // name in the study; "" for a tape
	Resistance float64 // ohm/m
	How        string  // how the resistance came about
	Source     string  // of the data
}

type metalMarks struct{ place, diameter, gmr, resistance, insulation, permittivity Mark }

// A ConductorLibrary is the program's library, read once.
type ConductorLibrary []conductor.Record

// builder makes one Construction and collects what is wrong.
type builder struct {
	doc     *Document
	library ConductorLibrary
	t       *Entry[LineType]
	object  string
	hot     bool
	// apart is the geometric mean of the distances of three cables' axes, for
	// proximity effect in their cores; 0 elsewhere.
	apart float64
	c     *Construction
	ds    Diagnostics
}

// Construct makes the construction of a line type for the conductors of a
// line: phases, and N where the neutral stays explicit. line may be nil, for
// the type alone. Hot asks for the highest temperature.
func (doc *Document) Construct(library ConductorLibrary, t *Entry[LineType], line *Entry[Line], phases quantity.Phases, hot bool) (*Construction, Diagnostics) {
	b := &builder{doc: doc, library: library, t: t, object: "line type " + strconv.Quote(t.Name),
		c: &Construction{marks: map[string]metalMarks{}}}
	item := &t.Item
	if hot {
		if item.HotTemperature.Given {
			b.hot, b.c.Hot = true, true
		} else {
			b.take("line type %s: no hot temperature given; its conductors count as cold", t.Name)
		}
	}
	earth := conductor.Earth{Resistivity: UsualResistivity}
	switch {
	case item.Resistivity.Given:
		earth.Resistivity = float64(item.Resistivity.V)
	case doc.Method != nil && doc.Method.Resistivity.Given:
		earth.Resistivity = float64(doc.Method.Resistivity.V)
	default:
		b.take("line type %s: earth resistivity taken as %s", t.Name, quantity.Resistivity(UsualResistivity))
	}
	b.c.Method = conductor.ModifiedCarson
	if item.Return.Given {
		b.c.Method = earthReturns[item.Return.V]
	} else {
		b.take("line type %s: earth return by the modified Carson equations", t.Name)
	}
	frequency := float64(doc.Frequency.V)
	b.c.Neutral = conductor.NeutralEarthed
	if item.KeepsNeutral() {
		b.c.Neutral = conductor.NeutralExplicit
	}
	if item.Cable.Given {
		b.cables(phases, earth, frequency)
	} else if item.PoleTop.Given {
		b.overhead(line, phases, earth, frequency)
	}
	return b.c, b.ds
}

// UsualResistivity is what line tables and test feeders are figured with,
// ohm·m (common practice, no source).
const UsualResistivity = 100

var earthReturns = map[string]conductor.Method{
	"modified-carson": conductor.ModifiedCarson, "carson-series": conductor.CarsonSeries,
	"complex-depth": conductor.ComplexDepth, "wedepohl-wilcox": conductor.WedepohlWilcox,
}

var materials = map[string]conductor.Material{
	"aluminium": conductor.Aluminium, "copper": conductor.AnnealedCopper, "hard-drawn-copper": conductor.HardDrawnCopper,
	"lead": conductor.Lead, "steel": conductor.Steel,
}

// familyMaterial is the metal that carries the current in a family of the library.
var familyMaterial = map[string]string{
	"ACSR": "aluminium", "AAC": "aluminium", "aluminium, class 2": "aluminium",
	"copper, hard-drawn": "hard-drawn-copper", "copper, class 2": "copper",
}

func (b *builder) take(format string, args ...any) {
	text := fmt.Sprintf(format, args...)
	if !slices.Contains(b.c.Taken, text) {
		b.c.Taken = append(b.c.Taken, text)
	}
}

func (b *builder) fail(at Mark, object, problem, why, fix string) {
	for _, d := range b.ds {
		if d.At == at && d.Problem == problem {
			return
		}
	}
	b.ds = append(b.ds, Diagnostic{Severity: Error, At: at, Object: object, Problem: problem, Why: why, Fix: fix})
}

// temperature is the one asked for, or NaN for that of each conductor's data.
func (b *builder) temperature() float64 {
	switch {
	case b.hot:
		return float64(b.t.Item.HotTemperature.V)
	case b.t.Item.Temperature.Given:
		return float64(b.t.Item.Temperature.V)
	}
	return math.NaN()
}

// A wireData is a conductor's data, resolved.
type wireData struct {
	radius, gmr, r float64
	how, source    string
	marks          metalMarks
	ok             bool
}

// wire resolves a conductor by name: sizes, and resistance at the temperature
// asked for.
func (b *builder) wire(ref Value[Ref]) wireData {
	e := b.doc.Conductors.Find(string(ref.V))
	if e == nil {
		return wireData{} // told when names were looked up
	}
	object := "conductor " + strconv.Quote(e.Name)
	k := &e.Item
	d := wireData{source: e.Origin.Source, ok: true}
	first := func(at Mark) Mark { return place(at, k.Library.At, e.NameAt) }
	d.marks = metalMarks{place: e.NameAt, diameter: first(k.Diameter.At), gmr: place(k.GMR.At, k.Strands.At, k.Library.At, e.NameAt),
		resistance: place(k.Resistance.At, k.DCResistance.At, k.Library.At, e.NameAt)}
	lack := func(key, why, fix string) {
		d.ok = false
		b.fail(e.NameAt, object, key+" is not given", why, fix)
	}
	var rec conductor.Record
	if k.Library.Given {
		var found bool
		if rec, found = conductor.Find(b.library, k.Library.V); !found {
			names := make([]string, len(b.library))
			for i, r := range b.library {
				names[i] = r.Name
			}
			question, fix := suggest(k.Library.V, names)
			if fix == "" {
				fix = "feederwright conductors lists them"
			}
			b.fail(k.Library.At, object, fmt.Sprintf("the library has no conductor %q%s", k.Library.V, question), "", fix)
			return wireData{}
		}
		if d.source == "" {
			d.source = librarySources(rec)
		}
	}
	switch {
	case k.Diameter.Given:
		d.radius = float64(k.Diameter.V) / 2
	case rec.Diameter.Given():
		d.radius = rec.Diameter.Value / 2
	case there(k.Diameter.At):
		d.ok = false
	default:
		lack("diameter", "capacitance and spacing depend on it", "write diameter, as 0.721 in or 18.3 mm")
	}
	switch {
	case k.GMR.Given:
		d.gmr = float64(k.GMR.V)
	case k.Strands.Given && d.radius > 0:
		d.gmr = conductor.StrandedGMR(k.Strands.V, d.radius)
		if math.IsNaN(d.gmr) {
			d.ok = false
			b.fail(k.Strands.At, object, fmt.Sprintf("%d strands", k.Strands.V), "round conductors of equal strands have 1, 7, 19, 37, 61, 91 ... of them", "write gmr instead")
		}
	case k.Strands.Given: // the diameter was told
		d.ok = false
	case rec.GMR.Given():
		d.gmr = rec.GMR.Value
	case there(k.GMR.At, k.Strands.At):
		d.ok = false
	default:
		lack("gmr", "the inductance depends on it", "write gmr, as 0.0244 ft or 7.4 mm, or strands for a conductor of one metal")
	}
	if !b.resistance(e, object, rec, &d) {
		d.ok = false
	}
	return d
}

func librarySources(r conductor.Record) string {
	var list []string
	add := func(d conductor.Datum) {
		if !d.Given() {
			return
		}
		for _, s := range list {
			if s == d.Source {
				return
			}
		}
		list = append(list, d.Source)
	}
	add(r.Diameter)
	add(r.GMR)
	for _, d := range r.Resistance {
		add(d)
	}
	return strings.Join(list, "; ")
}

// libraryTemperature is at what temperature a library conductor counts where
// nothing is said, °C: that of the line tables of the trade.
const libraryTemperature = 50

// resistance resolves a conductor's resistance at the temperature asked for.
//
//	as stated                                no temperature asked for, or that of the datum
//	R·(1 + α·(T − 20))/(1 + α·(T0 − 20))     another temperature
//	... · (1 + y_s + y_p)                    from a d.c. resistance, by IEC 60287-1-1
//
// Proximity effect y_p is for the cores of three cables; overhead wires are
// too far apart for it, and it is left out for one and two cables. A measured or
// stated a.c. resistance contains it.
func (b *builder) resistance(e *Entry[Conductor], object string, rec conductor.Record, d *wireData) bool {
	k := &e.Item
	wanted := b.temperature()
	frequency := float64(b.doc.Frequency.V)
	word := k.Material.V
	if word == "" {
		word = familyMaterial[rec.Family]
	}
	metal, known := materials[word]
	// convert from a stated temperature; NaN: not stated.
	convert := func(r, from float64, fromAt Mark, text string) bool {
		d.r, d.how = r, text
		switch {
		case math.IsNaN(wanted) || wanted == from:
			return true
		case math.IsNaN(from):
			b.fail(fromAt, object, "resistance at is not given", fmt.Sprintf("%s wants the resistance at %s", b.object, quantity.Temperature(wanted)), "write the temperature that the resistance holds for, as resistance at: 20 degC")
			return false
		case !known:
			b.fail(e.NameAt, object, "material is not given", fmt.Sprintf("%s wants the resistance at %s; the metal says how it changes with temperature", b.object, quantity.Temperature(wanted)), "write material")
			return false
		}
		d.r = metal.AtTemperature(r, from, wanted)
		d.how = fmt.Sprintf("%s, converted to %s with α = %g/K at 20 degC (%s)", text, quantity.Temperature(wanted), metal.Alpha, metal.Name)
		return true
	}
	skin := func() {
		ys, yp := conductor.SkinEffect(d.r, frequency, 1), 0.0
		if b.apart > 0 && d.radius > 0 {
			if yp = conductor.ProximityEffect(d.r, frequency, 1, 2*d.radius, b.apart); math.IsNaN(yp) {
				b.take("conductor %s: proximity effect left out, its formula ends below this size", e.Name)
				yp = 0
			}
		}
		d.r *= 1 + ys + yp
		for _, x := range []struct {
			name string
			y    float64
		}{{"skin", ys}, {"proximity", yp}} {
			switch {
			case x.y >= 1e-4:
				d.how += fmt.Sprintf(", %s effect + %.2g %%", x.name, 100*x.y)
			case x.name == "skin":
				d.how += ", skin effect below 0.01 %"
			}
		}
	}
	own := func(v Value[quantity.ImpedancePerLength], key string) (float64, bool) {
		z := complex128(v.V)
		if imag(z) != 0 || real(z) <= 0 {
			b.fail(v.At, object+", "+key, v.Text+" is no resistance", "it is real and above zero; the reactance follows from the geometry", "write the resistance alone, as 0.306 ohm/mi")
			return 0, false
		}
		return real(z), true
	}
	at := math.NaN()
	if k.ResistanceAt.Given {
		at = float64(k.ResistanceAt.V)
	}
	stated := func(text string) string {
		if !math.IsNaN(at) {
			text += " at " + quantity.Temperature(at).String()
		}
		return text
	}
	switch {
	case k.Resistance.Given && k.DCResistance.Given:
		b.fail(k.DCResistance.At, object, "both resistance and dc resistance are given", "two statements of one thing may differ", "leave one of them")
		return false
	case k.Resistance.Given:
		r, ok := own(k.Resistance, "resistance")
		return ok && convert(r, at, k.Resistance.At, stated(k.Resistance.Text))
	case k.DCResistance.Given:
		r, ok := own(k.DCResistance, "dc resistance")
		if !ok || !convert(r, at, k.DCResistance.At, stated(k.DCResistance.Text+" d.c.")) {
			return false
		}
		skin()
		return true
	case there(k.Resistance.At, k.DCResistance.At):
		return false
	case !k.Library.Given:
		b.fail(e.NameAt, object, "resistance is not given", "", "write resistance with the temperature it holds for, as resistance: 0.306 ohm/mi, resistance at: 50 degC")
		return false
	}
	// The library: exactly, between two of its temperatures, or from the nearest.
	if math.IsNaN(wanted) {
		near := math.NaN()
		for _, x := range rec.Resistance {
			t := math.Max(x.From, math.Min(libraryTemperature, x.To))
			if math.IsNaN(near) || math.Abs(t-libraryTemperature) < math.Abs(near-libraryTemperature) {
				near = t
			}
		}
		wanted = near
		b.take("conductor %s: temperature taken as %s", e.Name, quantity.Temperature(wanted))
	}
	if r, err := rec.ResistanceAt(wanted, frequency); err == nil {
		d.r = r.Value
		d.how = "library: " + r.Data[0].Printed
		if len(r.Data) == 2 {
			d.how = fmt.Sprintf("library: between %s at %s and %s at %s", r.Data[0].Printed, quantity.Temperature(r.Data[0].To), r.Data[1].Printed, quantity.Temperature(r.Data[1].From))
		}
		d.how += fmt.Sprintf(" at %s", quantity.Temperature(wanted))
		return true
	}
	var best *conductor.Datum
	bestRank, bestFar := 0, 0.0
	for i := range rec.Resistance {
		x := &rec.Resistance[i]
		rank := 0 // another frequency than the study's
		switch x.Frequency {
		case frequency:
			rank = 2
		case 0:
			rank = 1
		}
		far := math.Max(0, math.Max(x.From-wanted, wanted-x.To))
		if best == nil || rank > bestRank || rank == bestRank && far < bestFar {
			best, bestRank, bestFar = x, rank, far
		}
	}
	if best == nil {
		b.fail(k.Library.At, object, fmt.Sprintf("the library has no resistance of %q", k.Library.V), "", "write resistance")
		return false
	}
	from := math.Max(best.From, math.Min(wanted, best.To))
	kind := "d.c."
	if best.Frequency > 0 {
		kind = quantity.Frequency(best.Frequency).String()
	}
	if !convert(best.Value, from, k.Library.At, fmt.Sprintf("library: %s at %s, %s", best.Printed, quantity.Temperature(from), kind)) {
		return false
	}
	if best.Frequency == 0 {
		skin()
	} else if best.Frequency != frequency {
		b.take("conductor %s: resistance at %g Hz taken for %g Hz", e.Name, best.Frequency, frequency)
	}
	return true
}

// positionsOf reads a map from conductors to places of a pole top.
func (b *builder) positionsOf(object string, p *NamedValues[string]) (of map[string]Value[string], order []string) {
	of = map[string]Value[string]{}
	for i, name := range p.Names {
		key := name
		if !strings.HasPrefix(name, "shield") {
			var phase quantity.Phases
			if err := phase.UnmarshalText([]byte(name)); err != nil || phase.Count() != 1 {
				b.fail(p.NameAt[i], object+", positions", strconv.Quote(name)+" is no conductor of a line", "", "write A, B, C (or L1, L2, L3), N, or shield")
				continue
			}
			key = phase.Letters()
		}
		if !p.Values[i].Given {
			continue
		}
		if _, twice := of[key]; twice {
			b.fail(p.NameAt[i], object+", positions", "conductor "+key+" stands there twice", "", "keep one of them")
			continue
		}
		of[key] = p.Values[i]
		order = append(order, key)
	}
	return of, order
}

var roles = map[string]conductor.Role{"A": conductor.PhaseA, "B": conductor.PhaseB, "C": conductor.PhaseC, "N": conductor.Neutral}

func (b *builder) overhead(line *Entry[Line], phases quantity.Phases, earth conductor.Earth, frequency float64) {
	item := &b.t.Item
	top := b.doc.PoleTops.Find(string(item.PoleTop.V))
	positions, object, at := item.Positions, b.object, b.t.NameAt
	if line != nil && line.Item.Positions != nil {
		positions, object, at = line.Item.Positions, "line "+strconv.Quote(line.Name), line.NameAt
	}
	if top == nil {
		return
	}
	if top.Item.Positions == nil {
		return // told when the file was read
	}
	if positions == nil {
		b.fail(at, object, "positions is not given", "which phase hangs where decides the coupling between phases", "write positions: { A: ..., B: ..., C: ..., N: ... } with places of the pole top")
		return
	}
	of, order := b.positionsOf(object, positions)
	for _, p := range phases.List() {
		if _, has := of[p.Letters()]; !has && len(b.ds) == 0 && p != quantity.PhaseN {
			b.fail(place(at, b.t.NameAt), object, fmt.Sprintf("conductor %s has no place on pole top %q", p.Letters(), top.Name), "a line of this type has that conductor", "add it to positions of the type, or give the line positions of its own")
		}
	}
	if item.KeepsNeutral() {
		if _, has := of["N"]; !has {
			b.fail(place(namedAt(positions), item.Neutral.At), object, fmt.Sprintf("the explicit neutral has no place on pole top %q", top.Name), "", "add N to positions")
		}
	} else if _, has := of["N"]; has && !item.Neutral.Given {
		b.take("line type %s: neutral taken as earthed all along and eliminated", b.t.Name)
	}
	sag := 0.0
	if top.Item.Sag.Given {
		sag = float64(top.Item.Sag.V)
	}
	l := &conductor.Overhead{Earth: earth, Frequency: frequency}
	for _, key := range order {
		role, isPhase := roles[key]
		ref, what := item.Conductor, "conductor"
		switch {
		case key == "N":
			ref, what = item.NeutralConductor, "neutral conductor"
		case !isPhase:
			role, ref, what = conductor.ShieldWire, item.ShieldWire, "shield wire"
		case phases&(1<<(role-conductor.PhaseA)) == 0:
			continue // a phase that this line hasn't got
		}
		if !ref.Given {
			if !there(ref.At) {
				b.fail(b.t.NameAt, b.object, what+" is not given", fmt.Sprintf("positions has %s", key), "write "+what+" with the name of a conductor, or take "+key+" out of positions")
			}
			continue
		}
		word := of[key]
		i := slices.Index(top.Item.Positions.Names, word.V)
		if i >= 0 && !top.Item.Positions.Values[i].Given {
			continue // it could not be read, which was told
		}
		if i < 0 {
			question, fix := suggest(word.V, top.Item.Positions.Names)
			b.fail(word.At, object+", positions, "+key, fmt.Sprintf("pole top %q has no place %q%s", top.Name, word.V, question), "", fix)
			continue
		}
		w := b.wire(ref)
		if !w.ok {
			continue
		}
		pos := top.Item.Positions.Values[i].V
		w.marks.place = word.At
		b.c.marks[fmt.Sprintf("wire %q", key)] = w.marks
		l.Wires = append(l.Wires, conductor.Wire{Name: key, Role: role, X: pos.X, Height: pos.Height - 2*sag/3, GMR: w.gmr, Radius: w.radius, R: w.r})
		b.c.Metal = append(b.c.Metal, Metal{key, string(ref.V), w.r, w.how, w.source})
	}
	b.c.Overhead = l
	if len(b.ds) == 0 {
		_, err := l.Constants(b.c.Method, b.c.Neutral)
		b.errors(err)
	}
}

func (b *builder) cables(phases quantity.Phases, earth conductor.Earth, frequency float64) {
	item := &b.t.Item
	e := b.doc.Cables.Find(string(item.Cable.V))
	if e == nil {
		return
	}
	object := "cable " + strconv.Quote(e.Name)
	k := &e.Item
	n := (phases & threePhases).Count()
	if n == 0 {
		b.fail(b.t.NameAt, b.object, "a cable line without a phase", "", "give the line a phase")
		return
	}
	spacing := float64(k.Outer.V)
	switch {
	case item.Spacing.Given:
		spacing = float64(item.Spacing.V)
	case n > 1:
		b.take("line type %s: cables taken as touching", b.t.Name)
	}
	if n == 3 && spacing > 0 {
		b.apart = spacing
		if item.Laying.V == "flat" {
			b.apart *= math.Cbrt(2)
		}
	}
	core := b.wire(k.Core)
	b.apart = 0
	half := func(v Value[quantity.Length]) float64 { return float64(v.V) / 2 }
	ok := core.ok && k.Insulation.Given && k.Permittivity.Given && k.Outer.Given && k.Screen.Given
	cable := conductor.Cable{GMR: core.gmr, Radius: core.radius, R: core.r, OuterRadius: half(k.Outer),
		Insulation: conductor.Insulation{Inner: core.radius, Outer: half(k.Insulation), Permittivity: float64(k.Permittivity.V), OuterLayer: k.InsulationScreen.V != "absent"}}
	if k.ConductorScreen.Given {
		cable.Insulation.Inner = half(k.ConductorScreen)
	} else if ok {
		b.take("cable %s: insulation taken to begin at the core, without a screening layer between", e.Name)
	}
	lack := func(key, why, fix string) {
		ok = false
		b.fail(e.NameAt, object, key+" is not given", why, fix)
	}
	var screen Metal
	screenMarks := metalMarks{place: place(k.Screen.At, e.NameAt), diameter: place(k.ScreenDiameter.At, k.Screen.At), gmr: place(k.ScreenWire.At, k.Screen.At), resistance: place(k.ScreenResistance.At, k.ScreenMaterial.At, k.ScreenWire.At, k.Screen.At)}
	switch k.Screen.V {
	case "wires":
		if !k.InsulationScreen.Given {
			b.take("cable %s: a conducting layer over the insulation taken as present", e.Name)
		}
		if !k.ScreenWires.Given && !there(k.ScreenWires.At) {
			lack("screen wires", "", "write how many there are")
		}
		if !k.ScreenWire.Given && !there(k.ScreenWire.At) {
			lack("screen wire", "", "write the name of a conductor that one of them is")
		}
		if !k.ScreenDiameter.Given && !there(k.ScreenDiameter.At) {
			lack("diameter over screen", "", "write the diameter over the wires")
		}
		w := b.wire(k.ScreenWire)
		ok = ok && w.ok && k.ScreenWires.Given && k.ScreenDiameter.Given
		cable.Screen = conductor.ConcentricWires{Count: k.ScreenWires.V, GMR: w.gmr, Radius: w.radius, R: w.r, CircleRadius: half(k.ScreenDiameter) - w.radius}
		screen = Metal{"", string(k.ScreenWire.V), w.r / float64(max(k.ScreenWires.V, 1)), fmt.Sprintf("%d wires in parallel, each %s", k.ScreenWires.V, w.how), w.source}
	case "tape":
		if !k.ScreenDiameter.Given && !there(k.ScreenDiameter.At) {
			lack("diameter over screen", "", "write the diameter over the tape or sheath")
		}
		if !k.Thickness.Given && !there(k.Thickness.At) {
			lack("screen thickness", "", "write the thickness of the tape or sheath")
		}
		ok = ok && k.ScreenDiameter.Given && k.Thickness.Given
		r, how, known := b.tape(e, object)
		ok = ok && known
		cable.Screen = conductor.TapeScreen{OuterRadius: half(k.ScreenDiameter), Thickness: float64(k.Thickness.V), R: r}
		screen = Metal{"", "", r, how, e.Origin.Source}
	}
	if cable.Screen != nil {
		if !item.Screens.Given && !there(item.Screens.At) {
			b.fail(b.t.NameAt, b.object, "screens is not given", "the zero-sequence impedance depends on where the screens are earthed", "write screens: both-ends, or screens: one-end")
		}
		b.c.Screens = conductor.BothEnds
		if item.Screens.V == "one-end" {
			b.c.Screens = conductor.OneEnd
		}
	} else {
		b.c.Screens = conductor.BothEnds // there are none
	}
	if n > 1 && !item.Laying.Given && !there(item.Laying.At) {
		b.fail(b.t.NameAt, b.object, "laying is not given", "the coupling between the phases depends on it", "write laying: flat, or laying: trefoil")
	}
	depth := 1.0 // no influence, as the equations of the default have no depth in them
	if item.Depth.Given {
		depth = float64(item.Depth.V)
	} else if b.c.Method == conductor.WedepohlWilcox {
		b.fail(b.t.NameAt, b.object, "depth is not given", "the earth return by Wedepohl and Wilcox depends on it", "write depth, as 1 m")
	}
	places := make([]conductor.Place, n)
	for i := range places {
		places[i] = conductor.Place{X: float64(i) * spacing, Height: -depth}
	}
	if item.Laying.V == "trefoil" && n > 1 {
		if n != 3 {
			b.fail(item.Laying.At, b.object, fmt.Sprintf("%d cables in trefoil", n), "three make a triangle", "write laying: flat")
		} else {
			t := conductor.Trefoil(spacing, depth)
			copy(places, t[:])
		}
	}
	if !ok || len(b.ds) > 0 {
		return
	}
	run := &conductor.CableRun{Earth: earth, Frequency: frequency}
	for i, p := range (phases & threePhases).List() {
		name := p.Letters()
		run.Cables = append(run.Cables, cable.At(name, roles[name], places[i]))
		marks := core.marks
		marks.place = place(item.Spacing.At, item.Cable.At)
		marks.insulation, marks.permittivity = k.Insulation.At, k.Permittivity.At
		b.c.marks[fmt.Sprintf("cable %q", name)] = marks
		b.c.marks[fmt.Sprintf("cable %q, screen", name)] = screenMarks
		b.c.Metal = append(b.c.Metal, Metal{name, string(k.Core.V), core.r, core.how, core.source})
	}
	if cable.Screen != nil {
		for _, p := range (phases & threePhases).List() {
			m := screen
			m.Role = conductor.ScreenName(p.Letters())
			b.c.Metal = append(b.c.Metal, m)
		}
	}
	if item.NeutralConductor.Given {
		w := b.wire(item.NeutralConductor)
		if !item.NeutralDistance.Given && !there(item.NeutralDistance.At) {
			b.fail(b.t.NameAt, b.object, "neutral distance is not given", "the loop between phase and neutral depends on it", "write neutral distance, from axis to axis")
			return
		}
		if !w.ok {
			return
		}
		w.marks.place = place(item.NeutralDistance.At, item.NeutralConductor.At)
		b.c.marks[`wire "N"`] = w.marks
		run.Wires = []conductor.Wire{{Name: "N", Role: conductor.Neutral, X: places[0].X - float64(item.NeutralDistance.V), Height: places[0].Height, GMR: w.gmr, Radius: w.radius, R: w.r}}
		b.c.Metal = append(b.c.Metal, Metal{"N", string(item.NeutralConductor.V), w.r, w.how, w.source})
	}
	if item.NeutralConductor.Given && !item.Neutral.Given {
		b.take("line type %s: neutral taken as earthed all along and eliminated", b.t.Name)
	}
	b.c.Cables = run
	_, err := run.Constants(b.c.Method, b.c.Screens, b.c.Neutral)
	b.errors(err)
}

// tape resolves the resistance of a tape or sheath.
func (b *builder) tape(e *Entry[Cable], object string) (r float64, how string, ok bool) {
	k := &e.Item
	metal, known := materials[k.ScreenMaterial.V]
	wanted := b.temperature()
	switch {
	case k.ScreenResistance.Given:
		z := complex128(k.ScreenResistance.V)
		if imag(z) != 0 || real(z) <= 0 {
			b.fail(k.ScreenResistance.At, object+", screen resistance", k.ScreenResistance.Text+" is no resistance", "it is real and above zero", "write the resistance alone")
			return 0, "", false
		}
		r, how = real(z), k.ScreenResistance.Text
		if k.ScreenAt.Given {
			how += " at " + k.ScreenAt.Text
		}
		if math.IsNaN(wanted) || k.ScreenAt.Given && wanted == float64(k.ScreenAt.V) {
			return r, how, true
		}
		if !k.ScreenAt.Given {
			b.fail(k.ScreenResistance.At, object, "screen resistance at is not given", fmt.Sprintf("%s wants the resistance at %s", b.object, quantity.Temperature(wanted)), "write the temperature that the resistance holds for")
			return 0, "", false
		}
		if !known {
			b.fail(e.NameAt, object, "screen material is not given", fmt.Sprintf("%s wants the resistance at %s; the metal says how it changes with temperature", b.object, quantity.Temperature(wanted)), "write screen material")
			return 0, "", false
		}
		return metal.AtTemperature(r, float64(k.ScreenAt.V), wanted), fmt.Sprintf("%s, converted to %s", how, quantity.Temperature(wanted)), true
	case there(k.ScreenResistance.At):
		return 0, "", false
	case !known:
		if !there(k.ScreenMaterial.At) {
			b.fail(e.NameAt, object, "neither screen resistance nor screen material is given", "the zero-sequence impedance depends on it", "write screen resistance, or screen material for a closed tube")
		}
		return 0, "", false
	}
	if math.IsNaN(wanted) {
		wanted = 20
		b.take("cable %s: temperature of the screen taken as 20 degC", e.Name)
	}
	if !k.ScreenDiameter.Given || !k.Thickness.Given {
		return 0, "", false
	}
	rho := metal.AtTemperature(metal.Resistivity, 20, wanted)
	return conductor.TapeResistance(rho, float64(k.ScreenDiameter.V)/2, float64(k.Thickness.V)),
		fmt.Sprintf("closed tube of %s, %.4g ohm·m at %s", metal.Name, rho, quantity.Temperature(wanted)), true
}

// errors puts what package conductor finds to its place in the file.
func (b *builder) errors(err error) {
	if err == nil {
		return
	}
	es, ok := err.(conductor.Errors)
	if !ok {
		b.fail(b.t.NameAt, b.object, err.Error(), "", "")
		return
	}
	for _, e := range es {
		object := b.object
		at := b.t.NameAt
		if m, known := b.c.marks[e.Object]; known {
			object += ", " + e.Object
			at = m.place
			switch {
			case strings.Contains(e.Problem, "permittivity"):
				at = m.permittivity
			case strings.Contains(e.Problem, "insulation"):
				at = m.insulation
			case strings.Contains(e.Problem, "mean radius"):
				at = m.gmr
			case strings.Contains(e.Problem, "resistance"):
				at = m.resistance
			case strings.HasPrefix(e.Problem, "its radius"), strings.HasPrefix(e.Problem, "the radius"):
				at = m.diameter
			}
		} else if e.Object == "earth" {
			at = place(b.t.Item.Resistivity.At, at)
		}
		b.fail(at, object, e.Problem, e.Why, inOurWords.Replace(e.Fix))
	}
}

// inOurWords puts the words of the study file for the names of package conductor.
var inOurWords = strings.NewReplacer("use ModifiedCarson", "write earth return: modified-carson", "CarsonSeries", "carson-series",
	"ComplexDepth", "complex-depth", "WedepohlWilcox", "wedepohl-wilcox")
