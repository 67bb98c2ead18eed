package conductor

import (
	"fmt"
	"math"
	"strconv"
)

// A Cable is one core with its insulation and, around it, its own screen.
// The core and the screen are conductors of the line; the screen's name is the
// cable's with " screen" after it.
type Cable struct {
	Name   string
	Role   Role    // of the core
	X      float64 // across the route, m
	Height float64 // of the axis; negative: the depth when buried, m
	GMR    float64 // of the core, m
	Radius float64 // of the core's metal, m
	R      float64 // of the core, at line frequency and the temperature in use, ohm/m

	Insulation  Insulation
	Screen      CableScreen // nil for none
	OuterRadius float64     // over everything, m
}

// An Insulation lies between a core and its screen.
type Insulation struct {
	Inner, Outer float64 // radii of the insulation itself: over the conductor's screen, and over all, m
	Permittivity float64 // relative
	// OuterLayer is true where a conducting layer lies over the insulation, as in
	// every core with a radial field. Without it, the field of screen wires is
	// that of single wires.
	OuterLayer bool
}

// A CableScreen is the metal around an insulated core.
type CableScreen interface {
	meanRadius() float64 // distance of its metal from the core's axis
	gmr() float64        // geometric mean radius of all of it
	resistance() float64 // all of it, ohm/m
	radii() (in, out float64)
	area() float64 // upper bound of its metal, m²
	check(object string, es *Errors)
	// fieldLog is ln(R_o/R_i) of the field between the core and the screen.
	fieldLog(i Insulation) float64
}

// ConcentricWires are wires stranded around the core, in parallel. As one
// conductor they have
//
//	GMR = (GMR_w·k·R^(k−1))^(1/k)        r = r_w/k
//
//	k       number of wires                                –
//	GMR_w   geometric mean radius of one wire              m
//	r_w     resistance of one, over the length of cable    ohm/m
//	R       radius of the circle through their centres     m
//
// The lay of the wires makes r_w larger than that of a straight wire; its axial
// field is left out.
//
// Source: W. H. Kersting, Distribution System Modeling and Analysis, chapter 4
// [from memory]; the GMR is that of k equal conductors on a circle.
type ConcentricWires struct {
	Count        int
	GMR          float64 // of one wire, m
	Radius       float64 // of one wire, m
	R            float64 // of one wire, ohm/m
	CircleRadius float64 // through their centres: half of (diameter over the wires − diameter of a wire), m
}

func (c ConcentricWires) meanRadius() float64 { return c.CircleRadius }
func (c ConcentricWires) resistance() float64 { return c.R / float64(c.Count) }
func (c ConcentricWires) gmr() float64 {
	k := float64(c.Count)
	// By logarithms: R^(k−1) leaves the range of float64 for many wires.
	return math.Exp((math.Log(c.GMR*k) + (k-1)*math.Log(c.CircleRadius)) / k)
}
func (c ConcentricWires) radii() (in, out float64) {
	return c.CircleRadius - c.Radius, c.CircleRadius + c.Radius
}
func (c ConcentricWires) area() float64 { return float64(c.Count) * math.Pi * c.Radius * c.Radius }

func (c ConcentricWires) fieldLog(i Insulation) float64 {
	if i.OuterLayer {
		return math.Log(i.Outer / i.Inner)
	}
	k := float64(c.Count)
	return math.Log(c.CircleRadius/i.Inner) - math.Log(k*c.Radius/c.CircleRadius)/k
}

func (c ConcentricWires) check(object string, es *Errors) {
	if c.Count < 1 {
		es.add(object, "", "give the number of wires", "it has %d wires", c.Count)
	}
	g := es.positive(object, "the geometric mean radius of one wire", "m", "for a solid round wire it is 0.7788 of its radius", c.GMR)
	a := es.positive(object, "the radius of one wire", "m", "give half of the wire's diameter", c.Radius)
	es.positive(object, "the resistance of one wire", "ohm/m", "give that of one wire, not of all", c.R)
	r := es.positive(object, "the radius of the wires' circle", "m", "it is half of the diameter over the wires less that of one wire", c.CircleRadius)
	if g && a && c.GMR > c.Radius {
		es.add(object, "the geometric mean of distances inside a conductor is below its outer radius", "check the units, and whether one is a diameter",
			"the geometric mean radius of one wire, %.4g m, is larger than its radius, %.4g m", c.GMR, c.Radius)
	}
	if a && r && c.Count > 1 && float64(c.Count)*math.Asin(math.Min(1, c.Radius/c.CircleRadius)) > math.Pi*(1+1e-9) {
		es.add(object, "wires lie side by side on their circle", "check the number of wires and the two radii",
			"%d wires of %.4g m radius don't fit on a circle of %.4g m radius", c.Count, c.Radius, c.CircleRadius)
	}
}

// A TapeScreen is a thin tube of metal: a lapped or longitudinal tape, or a
// sheath. As one conductor its GMR is its mean radius.
type TapeScreen struct {
	OuterRadius float64 // m
	Thickness   float64 // m
	R           float64 // ohm/m; measured, or TapeResistance
}

func (t TapeScreen) meanRadius() float64      { return t.OuterRadius - t.Thickness/2 }
func (t TapeScreen) gmr() float64             { return t.meanRadius() }
func (t TapeScreen) resistance() float64      { return t.R }
func (t TapeScreen) radii() (in, out float64) { return t.OuterRadius - t.Thickness, t.OuterRadius }
func (t TapeScreen) area() float64            { return 2 * math.Pi * t.meanRadius() * t.Thickness }

func (t TapeScreen) fieldLog(i Insulation) float64 { return math.Log(i.Outer / i.Inner) }

func (t TapeScreen) check(object string, es *Errors) {
	o := es.positive(object, "its outer radius", "m", "give half of the diameter over the tape", t.OuterRadius)
	d := es.positive(object, "its thickness", "m", "give the thickness of the tape", t.Thickness)
	es.positive(object, "its resistance", "ohm/m", "give the maker's or a measured value, or TapeResistance", t.R)
	if o && d && t.Thickness >= t.OuterRadius/2 {
		es.add(object, "it is figured as a thin tube", "check the units: tapes are 0.1 to 0.2 mm, sheaths up to 4 mm thick",
			"its thickness of %.4g m is not thin against its outer radius of %.4g m", t.Thickness, t.OuterRadius)
	}
}

// TapeResistance is that of a closed tube in ohm/m:
//
//	r = ρ/(2π·(R − t/2)·t)
//
//	ρ   resistivity at the temperature in use    ohm·m
//	R   outer radius                             m
//	t   thickness                                m
//
// Overlap of a lapped tape lowers it; contact between laps that has corroded
// raises it to that of a helix. A handbook form with the outside diameter for
// the mean one is lower by t/(2R).
func TapeResistance(resistivity, outerRadius, thickness float64) float64 {
	return resistivity / (2 * math.Pi * (outerRadius - thickness/2) * thickness)
}

// Trefoil gives the places of three cables at equal distances between their
// axes, the upper one last; depth, in m, is that of the two lower axes.
// Touching cables are a cable's outside diameter apart.
func Trefoil(spacing, depth float64) [3]Place {
	return [3]Place{{-spacing / 2, -depth}, {spacing / 2, -depth}, {0, -depth + spacing*math.Sqrt(3)/2}}
}

// Flat gives the places of three cables side by side, left to right.
func Flat(spacing, depth float64) [3]Place {
	return [3]Place{{-spacing, -depth}, {0, -depth}, {spacing, -depth}}
}

// A Place is where a conductor lies in the cross-section of a line.
type Place struct{ X, Height float64 } // m

// At returns the cable at a place.
func (c Cable) At(name string, role Role, p Place) Cable {
	c.Name, c.Role, c.X, c.Height = name, role, p.X, p.Height
	return c
}

// A CableRun is a line of cables side by side, buried or in air, with any bare
// conductors laid along.
type CableRun struct {
	Cables    []Cable
	Wires     []Wire
	Earth     Earth
	Frequency float64 // Hz
}

// ScreenName is the name of a cable's screen in matrices.
func ScreenName(cable string) string { return cable + " screen" }

// lumps lists cores, screens and wires, in this order.
func (c CableRun) lumps(es *Errors) []lump {
	var list []lump
	for i, k := range c.Cables {
		object := "cable " + strconv.Quote(k.Name)
		if k.Name == "" {
			object = fmt.Sprintf("cable %d", i+1)
		}
		if k.Role == Screen || k.Role == ShieldWire {
			es.add(object, "the role is that of the core", "say which phase it is, or neutral", "a core is no %s", k.Role)
		}
		if outer := es.positive(object, "its outer radius", "m", "give half of the outside diameter", k.OuterRadius); outer && k.Radius > k.OuterRadius {
			es.add(object, "the core lies inside", "check the units, and whether one is a diameter", "the radius of its core, %.4g m, is larger than its outer radius, %.4g m", k.Radius, k.OuterRadius)
		}
		list = append(list, lump{object: object, name: k.Name, role: k.Role, x: k.X, h: k.Height, gmr: k.GMR, radius: k.Radius, r: k.R,
			cable: i, area: math.Pi * k.Radius * k.Radius, closeAllowed: k.OuterRadius})
	}
	for i, k := range c.Cables {
		if k.Screen == nil {
			continue
		}
		core := list[i]
		object := core.object + ", screen"
		before := len(*es)
		k.Screen.check(object, es)
		if len(*es) > before {
			continue // its derived sizes would only repeat the faults
		}
		in, out := k.Screen.radii()
		if in < k.Radius || out > k.OuterRadius*(1+1e-9) {
			es.add(object, "a screen lies around the core and inside the cable", "check the units, and diameters against radii",
				"it lies between radii of %.4g m and %.4g m, the core's radius is %.4g m and the cable's %.4g m", in, out, k.Radius, k.OuterRadius)
		}
		list = append(list, lump{object: object, name: ScreenName(k.Name), role: Screen, x: k.X, h: k.Height, gmr: k.Screen.gmr(), radius: out,
			r: k.Screen.resistance(), cable: i, shell: k.Screen.meanRadius(), area: k.Screen.area(), closeAllowed: k.OuterRadius})
	}
	for i, w := range c.Wires {
		l := w.lump()
		if w.Name == "" {
			l.object = fmt.Sprintf("wire %d", i+1)
		}
		if w.Role != Neutral && w.Role != ShieldWire {
			es.add(l.object, "bare wires beside cables are earthed", "call it a neutral, or describe it as a cable", "a wire beside cables is no %s", w.Role)
		}
		list = append(list, l)
	}
	return list
}

// Series gives the primitive series impedance matrix: cores first, then the
// screens, then the bare wires. The equations are those of Overhead.Series;
// the distance of a core from its own screen is the screen's mean radius, and
// the distance of a screen from anything else is that of the axes.
//
// It leaves out eddy currents in screens and metal pipes around the cables.
func (c CableRun) Series(method Method) (Impedance, error) {
	var es Errors
	return series(c.lumps(&es), c.Earth, c.Frequency, method, es)
}

// Capacitance is that between a core and its screen, in F/m. For a closed
// screen, or with a conducting layer over the insulation,
//
//	C = 2π·ε0·ε/ln(R_o/R_i)
//
// For k screen wires directly on the insulation,
//
//	C = 2π·ε0·ε/(ln(R/R_i) − 1/k·ln(k·a/R))
//
//	ε          relative permittivity                      –
//	R_o, R_i   outer and inner radius of the insulation   m
//	R, a       radius of the wires' circle and of a wire  m
//
// Source: IEC 60287-1-1, clause on dielectric losses, for the first;
// W. H. Kersting, Distribution System Modeling and Analysis, chapter 5, for
// the second [both from memory].
func (i Insulation) Capacitance(screen CableScreen) float64 {
	log := math.Log(i.Outer / i.Inner)
	if screen != nil {
		log = screen.fieldLog(i)
	}
	return 2 * math.Pi * VacuumPermittivity * i.Permittivity / log
}

// Shunt gives the primitive shunt admittance matrix, in the order of Series:
// the capacitance of each core to its own screen, or to earth where it has
// none and is buried. A screen's own capacitance to earth through its
// covering, dielectric losses, and bare wires are left out.
func (c CableRun) Shunt() (Admittance, error) {
	var es Errors
	lumps := c.lumps(&es)
	check(lumps, c.Earth, c.Frequency, &es)
	for i, k := range c.Cables {
		object := lumps[i].object
		in := k.Insulation
		a := es.positive(object, "the inner radius of its insulation", "m", "it is the core's radius, or that over the conductor's screen", in.Inner)
		b := es.positive(object, "the outer radius of its insulation", "m", "give half of the diameter over the insulation", in.Outer)
		if a && b && in.Outer <= in.Inner {
			es.add(object, "", "check the two radii", "the outer radius of its insulation, %.4g m, is not above the inner, %.4g m", in.Outer, in.Inner)
		}
		if a && in.Inner < k.Radius {
			es.add(object, "insulation lies around the core", "check the units, and diameters against radii", "the inner radius of its insulation, %.4g m, is inside the core's radius, %.4g m", in.Inner, k.Radius)
		}
		if k.Screen != nil && b && in.Outer > k.Screen.meanRadius() {
			es.add(object, "the screen lies around the insulation", "check the units, and diameters against radii", "the outer radius of its insulation, %.4g m, is outside its screen's mean radius, %.4g m", in.Outer, k.Screen.meanRadius())
		}
		if !(in.Permittivity >= 1) || math.IsInf(in.Permittivity, 1) {
			es.add(object, "vacuum has 1, every insulation more", "give it; cross-linked polyethylene has 2.3 to 2.5, paper 3.5 to 4, EPR 3", "the relative permittivity of its insulation is %g", in.Permittivity)
		}
		if k.Screen == nil && k.Height > 0 {
			es.add(object, "its capacitance depends on what is around it", "give its screen, or describe the line as Overhead", "it has no screen and is in air")
		}
	}
	if err := es.err(); err != nil {
		return Admittance{}, err
	}
	m := newMatrix(namesOf(lumps))
	for i, k := range c.Cables {
		y := complex(0, 2*math.Pi*c.Frequency*k.Insulation.Capacitance(k.Screen))
		m.set(i, i, y)
		if s := m.Index(ScreenName(k.Name)); s >= 0 {
			m.set(i, s, -y)
			m.set(s, s, y)
		}
	}
	return Admittance{m}, nil
}

// A Bonding says how the screens of cables are earthed.
type Bonding int

const (
	// BothEnds: screens are bonded and earthed at both ends, and carry current.
	BothEnds Bonding = iota + 1
	// OneEnd: screens are earthed at one end, carry no current, and have a
	// standing voltage at the other: see Impedance.Induced.
	OneEnd
)

// Constants gives the matrices of one circuit of cables. With BothEnds and an
// explicit neutral, the screens and the neutral wires become conductor N
// together.
func (c CableRun) Constants(method Method, screens Bonding, neutral NeutralTreatment) (Constants, error) {
	z, err := c.Series(method)
	if err != nil {
		return Constants{}, err
	}
	y, err := c.Shunt()
	if err != nil {
		return Constants{}, err
	}
	var es Errors
	lumps := c.lumps(&es)
	switch screens {
	case BothEnds:
	case OneEnd:
		var names []string
		kept := lumps[:0:0]
		for _, l := range lumps {
			if l.role == Screen {
				names = append(names, l.name)
			} else {
				kept = append(kept, l)
			}
		}
		lumps = kept
		if z, err = z.Open(names...); err != nil {
			return Constants{}, err
		}
		// Earthed at one end, a screen stays near earth potential for charge.
		if y, err = y.Earthed(names...); err != nil {
			return Constants{}, err
		}
	default:
		return Constants{}, Errors{{"cable run", "it is not said how the screens are earthed", "the zero-sequence impedance depends on it", "choose BothEnds or OneEnd"}}
	}
	return constants(z, y, lumps, neutral)
}
