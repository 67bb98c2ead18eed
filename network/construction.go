package network

import (
	"fmt"
	"math"
	"math/cmplx"

	"feederwright/conductor"
	"feederwright/quantity"
	"feederwright/study"
	"feederwright/working"
)

// A LineConstants is a line type's matrices from how it is built, with what
// they are from.
type LineConstants struct {
	conductor.Constants // per metre, over the conductors of the line
	*study.Construction
}

// ConstantsOf works out the constants of a line type that says how its lines
// are built, for the conductors of one line (nil: of the type alone).
func ConstantsOf(doc *study.Document, library study.ConductorLibrary, t *study.Entry[study.LineType], line *study.Entry[study.Line], phases quantity.Phases, hot bool) (LineConstants, error) {
	c, ds := doc.Construct(library, t, line, phases, hot)
	if ds.Errors() > 0 {
		return LineConstants{}, fmt.Errorf("line type %s: %s", t.Name, ds[0].Problem)
	}
	k := LineConstants{Construction: c}
	var err error
	switch {
	case c.Overhead != nil:
		k.Constants, err = c.Overhead.Constants(c.Method, c.Neutral)
	case c.Cables != nil:
		k.Constants, err = c.Cables.Constants(c.Method, c.Screens, c.Neutral)
	default:
		err = fmt.Errorf("it is not said how it is built")
	}
	if err == nil && k.Conductors != phases {
		err = fmt.Errorf("it gives conductors %s, and %s are wanted", k.Conductors.Letters(), phases.Letters())
	}
	if err != nil {
		return LineConstants{}, fmt.Errorf("line type %s: %w", t.Name, err)
	}
	return k, nil
}

// Working derives the constants step by step, per kilometre.
func (k LineConstants) Working() ([]working.Step, error) {
	var steps []working.Step
	for _, m := range k.Metal {
		what := "resistance of the screen"
		if m.Conductor != "" {
			what = "resistance of conductor " + m.Conductor
		}
		steps = append(steps, working.Step{Symbol: "r " + m.Role, Meaning: what + ": " + m.How, Formula: "R at system frequency and the temperature in use",
			Result: working.Number(m.Resistance*1e3, 5), Unit: "ohm/km", Basis: m.Source})
	}
	steps = together(steps)
	var more []working.Step
	var err error
	if k.Overhead != nil {
		more, err = k.Overhead.Working(k.Method, k.Neutral)
	} else {
		more, err = k.Cables.Working(k.Method, k.Screens, k.Neutral)
	}
	return append(steps, more...), err
}

// together leaves out steps that repeat the one of another conductor.
func together(steps []working.Step) []working.Step {
	var list []working.Step
	for _, s := range steps {
		known := false
		for i := range list {
			if o := &list[i]; o.Meaning == s.Meaning && o.Result == s.Result && o.Basis == s.Basis {
				o.Symbol += ", " + s.Symbol[len("r "):]
				known = true
				break
			}
		}
		if !known {
			list = append(list, s)
		}
	}
	return list
}

// Lengths beyond which earthings of a neutral, put half at each end of a
// section, stand too far apart: √(z·g)·length. At 0.5 the first term left out,
// (√(z·g)·length)²/6, is 4 % of the section's impedance.
const earthingReach = 0.5

// constants gives the constants of built line types, each worked out once.
type constants struct {
	doc     *study.Document
	library study.ConductorLibrary
	read    bool
	known   map[constantsKey]LineConstants
}

type constantsKey struct {
	name   string // of the type
	line   string // of the line, where it has positions of its own
	phases quantity.Phases
	hot    bool
}

// Library reads the program's conductors where a study names one of them.
func Library(doc *study.Document) (study.ConductorLibrary, error) {
	for _, e := range doc.Conductors.Entries {
		if e.Item.Library.Given {
			return conductor.Library()
		}
	}
	return nil, nil
}

func (c *constants) of(t *study.Entry[study.LineType], line *study.Entry[study.Line], phases quantity.Phases, hot bool) (LineConstants, error) {
	if !c.read {
		var err error
		if c.library, err = Library(c.doc); err != nil {
			return LineConstants{}, err
		}
		c.read, c.known = true, map[constantsKey]LineConstants{}
	}
	key := constantsKey{t.Name, "", phases, hot}
	if line.Item.Positions != nil {
		key.line = line.Name
	}
	if k, known := c.known[key]; known {
		return k, nil
	}
	k, err := ConstantsOf(c.doc, c.library, t, line, phases, hot)
	if err == nil {
		c.known[key] = k
	}
	return k, err
}

// built fills in a line from how its type is built.
func (d *LineData) built(k LineConstants) {
	length := complex(d.Length, 0)
	d.Built = &k
	d.Taken = append(d.Taken, k.Taken...)
	d.Z = make([]complex128, len(k.Z))
	d.Y = make([]complex128, len(k.Y))
	for i := range k.Z {
		d.Z[i], d.Y[i] = k.Z[i]*length, k.Y[i]*length
	}
	if d.Phases == abc {
		d.Z0, d.Z1, _ = conductor.Means(d.Z, 3)
		d.Averaged = true
	}
}

// earth adds the earthings of a line's neutral N along it, half at each end,
// and tells where that is coarse.
func (d *LineData) earth(line string, e quantity.EarthingAlong) {
	n := d.Phases.Count()
	if !d.Phases.HasConductor(3) || n == 0 {
		return
	}
	last := n*n - 1
	d.Earthing = e.Conductance() * d.Length
	if reach := math.Sqrt(cmplx.Abs(d.Z[last]) * d.Earthing); reach > earthingReach {
		d.Taken = append(d.Taken, fmt.Sprintf("line %s: earthings of the neutral along it stand half at each end, which is coarse for this length: sections of %s or less would be fine",
			line, quantity.Length(roundLength(d.Length*earthingReach/reach))))
	}
}

// roundLength rounds down to two digits.
func roundLength(m float64) float64 {
	p := math.Pow(10, math.Floor(math.Log10(m))-1)
	return math.Floor(m/p) * p
}

// withEarthing adds the neutral's earthings to a charging matrix, which may be nil.
func (d *LineData) withEarthing(y []complex128) []complex128 {
	if d.Earthing == 0 {
		return y
	}
	n := d.Phases.Count()
	sum := make([]complex128, n*n)
	copy(sum, y)
	sum[n*n-1] += complex(d.Earthing, 0)
	return sum
}

func (f *fromStudy) addNeutralEarthings() error {
	for _, e := range f.doc.Buses.Entries {
		x := e.Item.NeutralEarthing
		if !x.Given || x.V.Open {
			continue
		}
		if _, err := f.b.AddNeutralEarthing(e.Name, f.buses[study.Ref(e.Name)], f.alter(Earthing, e.Name, OfNeutral, x.V.Z)); err != nil {
			return err
		}
	}
	return nil
}

// A TypeData is a line type's constants for one kilometre.
type TypeData struct {
	LineData
	// Transposed is true where Z1, Z0, B1 and B0 are those of three phases as if
	// transposed; Departure is then the largest difference of an entry of Z from
	// the mean that stands for it, in ohm.
	Transposed bool
	Departure  float64
	B1, B0     float64 // S
}

// TypeOf works out the constants of a line type for one kilometre, over the
// conductors that it has.
func TypeOf(doc *study.Document, t *study.Entry[study.LineType], hot bool) (TypeData, error) {
	item := &t.Item
	count := 3
	switch {
	case item.Matrix.Given:
		count = len(item.Matrix.V)
	case item.Phases.Given:
		count = item.Phases.V
	case item.Z.Given:
		count = 1
	}
	phases := quantity.Phases(1<<count - 1)
	if item.IsBuilt() {
		phases = item.BuiltPhases()
	}
	line := study.Entry[study.Line]{Name: "of type " + t.Name}
	line.Item.Type = study.Value[study.Ref]{V: study.Ref(t.Name), Given: true}
	line.Item.Length = study.Value[quantity.Length]{V: 1, Given: true}
	d, err := LineOf(doc, &line, phases, 2*math.Pi*float64(doc.Frequency.V), hot)
	if err != nil {
		return TypeData{}, err
	}
	for i := range d.Z {
		d.Z[i] *= 1e3
	}
	for i := range d.Y {
		d.Y[i] *= 1e3
	}
	d.Length, d.Z1, d.Z0, d.Earthing = 1e3, d.Z1*1e3, d.Z0*1e3, d.Earthing*1e3
	data := TypeData{LineData: d}
	if phases == abc {
		data.Transposed = true
		data.Z0, data.Z1, data.Departure = conductor.Means(d.Z, 3)
		if d.Y != nil {
			zero, positive, _ := conductor.Means(d.Y, 3)
			data.B1, data.B0 = imag(positive), imag(zero)
		}
	}
	return data, nil
}
