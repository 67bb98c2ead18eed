package conductor

import (
	"fmt"
	"math"
	"strconv"

	"feederwright/quantity"
)

// A Role is what a conductor is for.
type Role int

const (
	PhaseA Role = iota + 1
	PhaseB
	PhaseC
	Neutral
	ShieldWire // above the phases, against lightning
	Screen     // of a cable
)

var roleNames = []string{"", "A", "B", "C", "neutral", "shield wire", "screen"}

func (r Role) valid() bool { return r >= PhaseA && r <= Screen }

func (r Role) String() string {
	if !r.valid() {
		return "no role"
	}
	return roleNames[r]
}

// A Wire is a bare conductor of a line, or an insulated one whose insulation
// does not matter.
type Wire struct {
	Name   string
	Role   Role
	X      float64 // across the line, from any reference, m
	Height float64 // above ground, the mean over the span (sag taken off), m; negative: buried
	GMR    float64 // geometric mean radius, which contains the internal inductance, m
	Radius float64 // outer, m
	R      float64 // at line frequency and the temperature in use, ohm/m
}

// A lump is any conductor of a line, as the equations see it.
type lump struct {
	object       string // for messages
	name         string
	role         Role
	x, h         float64
	gmr, radius  float64 // radius: the outermost
	r            float64
	cable        int     // number of the cable that it is part of, or −1
	shell        float64 // mean radius of a screen; 0 for other conductors
	area         float64 // upper bound of its metal, m²
	closeAllowed float64 // radius that others must stay out of; that of the cable
}

func (w Wire) lump() lump {
	return lump{object: "wire " + strconv.Quote(w.Name), name: w.Name, role: w.Role, x: w.X, h: w.Height, gmr: w.GMR, radius: w.Radius,
		r: w.R, cable: -1, area: math.Pi * w.Radius * w.Radius, closeAllowed: w.Radius}
}

// distance is that of two conductors' axes, or of a core from its own screen.
func distance(a, b lump) float64 {
	if a.cable >= 0 && a.cable == b.cable {
		return math.Max(a.shell, b.shell)
	}
	return math.Hypot(a.x-b.x, a.h-b.h)
}

// leastResistivity is that of silver at 0 °C, ohm·m, rounded down [from
// memory]. No conductor has a lower resistance than silver of its size.
const leastResistivity = 1.46e-8

// touching conductors are a rounding of their places apart.
const touching = 1e-9

func checkResistance(l lump, es *Errors) {
	if es.positive(l.object, "its resistance", "ohm/m", "give it at line frequency and the temperature in use", l.r) &&
		l.area > 0 && l.r*l.area < leastResistivity {
		es.add(l.object, fmt.Sprintf("silver of that size has %.3g ohm/m; no metal has less", leastResistivity/l.area),
			"check whether the resistance is per km, per mile or per 1000 ft, and the radius for a diameter or another unit",
			"its resistance of %.3g ohm/m is too low for its size", l.r)
	}
}

// check collects the faults of conductors and their surroundings.
func check(lumps []lump, earth Earth, frequency float64, es *Errors) {
	es.positive("line", "the frequency", "Hz", "give the frequency in Hz, such as 60", frequency)
	es.positive("earth", "the resistivity", "ohm·m", "give it in ohm·m; 100 is common for moist soil, 1000 for rock", earth.Resistivity)
	if len(lumps) == 0 {
		es.add("line", "", "give one conductor at least", "it has no conductors")
	}
	places := make([]bool, len(lumps))
	seen := map[string]bool{}
	for i, l := range lumps {
		if l.name == "" {
			es.add(l.object, "results name conductors", "give a name", "conductor %d has no name", i+1)
		} else if seen[l.name] {
			es.add(l.object, "results name conductors", "give each a name of its own", "the name is used twice")
		}
		seen[l.name] = true
		if l.shell > 0 { // a screen: place and sizes are those of its cable, checked there
			checkResistance(l, es)
			continue
		}
		if !l.role.valid() {
			es.add(l.object, "matrices are ordered by phase", "say which phase, neutral, shield wire or screen it is", "it has no role")
		}
		x := es.finite(l.object, "its place across the line", "m", l.x)
		h := es.finite(l.object, "its height", "m", l.h)
		places[i] = x && h
		gmr := es.positive(l.object, "its geometric mean radius", "m", "take it from a conductor table, or from the strands", l.gmr)
		radius := es.positive(l.object, "its radius", "m", "give half of the diameter", l.radius)
		checkResistance(l, es)
		if gmr && radius && l.gmr > l.radius {
			es.add(l.object, "the geometric mean of distances inside a conductor is below its outer radius",
				"check the units, and whether one is a diameter", "its geometric mean radius of %.4g m is larger than its radius of %.4g m", l.gmr, l.radius)
		}
		if !h {
			places[i] = false
		} else if l.h == 0 {
			es.add(l.object, "conductors at ground level have neither air nor earth around them", "give the height above ground, or a negative one for the depth", "its height is 0 m")
			places[i] = false
		} else if l.h > 0 && radius && l.h <= l.radius {
			es.add(l.object, "it would touch the ground", "give the height of its axis above ground", "its height of %.4g m is within its radius of %.4g m", l.h, l.radius)
		}
	}
	for i := range lumps {
		for j := range i {
			a, b := lumps[j], lumps[i]
			if !places[i] || !places[j] {
				continue
			}
			if d, least := distance(a, b), a.closeAllowed+b.closeAllowed; d < least*(1-touching) {
				es.add(b.object, "two conductors cannot be in one place", "check their places; touching ones are the sum of their radii apart",
					"it is %.4g m from %s, and their radii add up to %.4g m", d, a.object, least)
			}
		}
	}
}

// series gives the primitive impedance matrix.
func series(lumps []lump, earth Earth, frequency float64, method Method, es Errors) (Impedance, error) {
	check(lumps, earth, frequency, &es)
	if !method.valid() {
		es.add("line", "the methods differ", "choose ModifiedCarson, CarsonSeries, ComplexDepth or WedepohlWilcox", "no method for the earth return is chosen")
	}
	for _, l := range lumps {
		switch buried := l.h < 0; {
		case buried && (method == CarsonSeries || method == ComplexDepth):
			es.add(l.object, "its images are those of wires in air", "use ModifiedCarson or WedepohlWilcox", "it is buried, for which the method %s does not hold", method)
		case !buried && method == WedepohlWilcox:
			es.add(l.object, "it has both conductors in the earth", "use ModifiedCarson, CarsonSeries or ComplexDepth", "it is in air, for which the method %s does not hold", method)
		}
	}
	if err := es.err(); err != nil {
		return Impedance{}, err
	}
	omega := 2 * math.Pi * frequency
	m := newMatrix(namesOf(lumps))
	for i, a := range lumps {
		for j := i; j < len(lumps); j++ {
			b := lumps[j]
			D := a.gmr
			if i != j {
				D = distance(a, b)
			}
			z := complex(0, omega*VacuumPermeability/(2*math.Pi)) * earthReturn(method, omega, earth.Resistivity, D, a.h, b.h, a.x-b.x)
			if i == j {
				z += complex(a.r, 0)
			}
			m.set(i, j, z)
		}
	}
	return Impedance{m}, nil
}

func namesOf(lumps []lump) []string {
	names := make([]string, len(lumps))
	for i, l := range lumps {
		names[i] = l.name
	}
	return names
}

// Overhead is a line of wires in air.
type Overhead struct {
	Wires     []Wire
	Earth     Earth
	Frequency float64 // Hz
}

func (l Overhead) lumps(es *Errors) []lump {
	lumps := make([]lump, len(l.Wires))
	for i, w := range l.Wires {
		lumps[i] = w.lump()
		if w.Name == "" {
			lumps[i].object = fmt.Sprintf("wire %d", i+1)
		}
		if w.Role == Screen {
			es.add(lumps[i].object, "screens are parts of cables", "describe the cable with its screen, or call the wire a neutral or a shield wire", "a bare wire is no screen")
		}
	}
	return lumps
}

// Series gives the primitive series impedance matrix, one row for each wire:
//
//	z_ii = r_i + jω·µ0/(2π)·B(GMR_i)
//	z_ij =       jω·µ0/(2π)·B(D_ij)
//
//	r_i    resistance of the wire                               ohm/m
//	D_ij   distance between the axes of two wires               m
//	B      earth return by the chosen method, see Method        –
//
// It leaves out proximity effect between wires, and what the steel core of a
// wire adds beyond its GMR and resistance.
func (l Overhead) Series(method Method) (Impedance, error) {
	var es Errors
	return series(l.lumps(&es), l.Earth, l.Frequency, method, es)
}

// Shunt gives the primitive shunt admittance matrix, one row for each wire:
//
//	Y    = jω·P⁻¹
//	p_ij = 1/(2π·ε0)·ln(S_ij/D_ij)         p_ii = 1/(2π·ε0)·ln(2·h_i/a_i)
//
//	S_ij   distance of wire i from the image of wire j          m
//	D_ij   distance between the axes of two wires               m
//	h, a   height and radius of a wire                          m
//	ε0     VacuumPermittivity                                   F/m
//
// The earth is a perfect conductor here, and leakage is left out: both are far
// below the capacitive current at power frequency.
//
// Source: W. H. Kersting, Distribution System Modeling and Analysis, chapter 5
// [from memory]; its ε0, 1/(2π·11.17689) µF/mile, is 0.07 % less than here.
func (l Overhead) Shunt() (Admittance, error) {
	var es Errors
	lumps := l.lumps(&es)
	check(lumps, l.Earth, l.Frequency, &es)
	for _, w := range lumps {
		if w.h < 0 {
			es.add(w.object, "capacitance through air needs wires in air", "describe buried cables as a CableRun", "it is buried")
		}
	}
	if err := es.err(); err != nil {
		return Admittance{}, err
	}
	n := len(lumps)
	p := make([][]float64, n)
	for i, a := range lumps {
		p[i] = make([]float64, n)
		for j, b := range lumps {
			D := a.radius
			if i != j {
				D = distance(a, b)
			}
			p[i][j] = math.Log(math.Hypot(a.x-b.x, a.h+b.h)/D) / (2 * math.Pi * VacuumPermittivity)
		}
	}
	c, ok := invertPositive(p)
	if !ok {
		return Admittance{}, Errors{{"line", "its potential coefficients cannot be inverted",
			"wires this close to each other or to the ground are outside the thin-wire equations", "check heights, distances and radii"}}
	}
	m := newMatrix(namesOf(lumps))
	for i := range n {
		for j := i; j < n; j++ {
			m.set(i, j, complex(0, 2*math.Pi*l.Frequency*c[i][j]))
		}
	}
	return Admittance{m}, nil
}

// invertPositive inverts a symmetric positive definite matrix through its
// Cholesky factor, and tells whether it is one.
func invertPositive(a [][]float64) ([][]float64, bool) {
	n := len(a)
	l := make([][]float64, n) // a = l·lᵀ
	for i := range n {
		l[i] = make([]float64, n)
		for j := range i + 1 {
			s := a[i][j]
			for k := range j {
				s -= l[i][k] * l[j][k]
			}
			if i > j {
				l[i][j] = s / l[j][j]
			} else if s > 0 {
				l[i][i] = math.Sqrt(s)
			} else {
				return nil, false
			}
		}
	}
	w := make([][]float64, n) // l⁻¹
	for i := range n {
		w[i] = make([]float64, n)
		w[i][i] = 1 / l[i][i]
		for j := range i {
			s := 0.0
			for k := j; k < i; k++ {
				s -= l[i][k] * w[k][j]
			}
			w[i][j] = s / l[i][i]
		}
	}
	inverse := make([][]float64, n)
	for i := range n {
		inverse[i] = make([]float64, n)
		for j := range n {
			for k := max(i, j); k < n; k++ {
				inverse[i][j] += w[k][i] * w[k][j]
			}
		}
	}
	return inverse, true
}

// Constants are what a network needs of one circuit, per metre: row-major
// matrices over the conductors present, in the order A, B, C, N.
type Constants struct {
	Conductors quantity.Phases
	Z          []complex128 // ohm/m
	Y          []complex128 // S/m
}

// A NeutralTreatment says what becomes of the neutral.
type NeutralTreatment int

const (
	// NeutralEarthed: its voltage to earth is zero all along; it is eliminated.
	NeutralEarthed NeutralTreatment = iota + 1
	// NeutralExplicit: it stays as conductor N, to be earthed in the network.
	NeutralExplicit
)

// Constants gives the matrices of an overhead line of one circuit. Shield
// wires count as earthed all along. Lines of several circuits are put
// together from Series and Shunt.
func (l Overhead) Constants(method Method, neutral NeutralTreatment) (Constants, error) {
	z, err := l.Series(method)
	if err != nil {
		return Constants{}, err
	}
	y, err := l.Shunt()
	if err != nil {
		return Constants{}, err
	}
	var es Errors
	return constants(z, y, l.lumps(&es), neutral)
}

func constants(z Impedance, y Admittance, lumps []lump, neutral NeutralTreatment) (Constants, error) {
	var es Errors
	if neutral != NeutralEarthed && neutral != NeutralExplicit {
		es.add("line", "", "choose NeutralEarthed or NeutralExplicit", "it is not said what becomes of the neutral")
	}
	var earthed, neutrals, order []string
	var set quantity.Phases
	for role := PhaseA; role <= Screen; role++ {
		for _, l := range lumps {
			switch {
			case l.role != role:
			case role <= PhaseC:
				if bit := quantity.PhaseA << (role - PhaseA); set.Has(bit) {
					es.add(l.object, "the constants of one circuit have each phase once", "use Series and Shunt for several circuits; join sub-conductors first", "it is a second phase %s", role)
				} else {
					set |= bit
				}
				order = append(order, l.name)
			case role == ShieldWire || neutral == NeutralEarthed:
				earthed = append(earthed, l.name)
			default: // neutral wires, and screens, which are earthed with them
				neutrals = append(neutrals, l.name)
			}
		}
	}
	if len(order) == 0 {
		es.add("line", "", "give one phase conductor at least", "it has no phase conductor")
	}
	if neutral == NeutralExplicit && len(neutrals) == 0 {
		es.add("line", "it would have nothing to stand for", "give the neutral conductor, or eliminate none", "an explicit neutral is wanted, and the line has none")
	}
	if err := es.err(); err != nil {
		return Constants{}, err
	}
	z, err := z.Earthed(earthed...)
	if err != nil {
		return Constants{}, err
	}
	y, err = y.Earthed(earthed...)
	if err != nil {
		return Constants{}, err
	}
	if neutral == NeutralExplicit {
		name := neutrals[0]
		if z, err = z.Joined(name, neutrals...); err != nil {
			return Constants{}, err
		}
		if y, err = y.Joined(name, neutrals...); err != nil {
			return Constants{}, err
		}
		order = append(order, name)
		set |= quantity.PhaseN
	}
	if z, err = z.Ordered(order...); err != nil {
		return Constants{}, err
	}
	if y, err = y.Ordered(order...); err != nil {
		return Constants{}, err
	}
	return Constants{set, z.Values, y.Values}, nil
}
