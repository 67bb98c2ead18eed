package curve

import (
	"fmt"
	"math"
)

// A ThroughFault is what IEEE C57.109 lets a liquid-filled transformer stand of faults beyond it.
// Currents are in per unit of the self-cooled rated current, balanced; shift them for windings in which a
// fault draws less line current on the side that one looks from (0.58 for earth faults beyond delta-wye).
//
// Source: IEEE C57.109-2018 and the point table of IEEE Std 242, both from memory.
type ThroughFault struct {
	Category string // I to IV
	// Frequent: with the mechanical part, for transformers whose secondary sees faults often: more than 10
	// in a life in category II, more than 5 in III; IV always has it and I has none.
	Frequent bool
	// Impedance is, per unit of the self-cooled rating, that of the transformer in category II, and with the
	// source's in series in III and IV.
	Impedance float64
	// Limit is the largest current that can flow, per unit, 1/Impedance: the end of the drawn curve.
	Limit float64
}

// Category is the category by the smallest nameplate rating in VA; three is false for one single-phase unit.
// Below the smallest rating of the standard it is I all the same.
func Category(rating float64, three bool) string {
	kva := rating / 1e3
	bounds := [3]float64{500, 1667, 10000}
	if three {
		bounds = [3]float64{500, 5000, 30000}
	}
	for i, b := range bounds {
		if kva <= b*(1+1e-9) {
			return [3]string{"I", "II", "III"}[i]
		}
	}
	return "IV"
}

// NewThroughFault makes the limit for a rating in VA. transformer and source are their impedances per unit of it.
func NewThroughFault(rating float64, three, frequent bool, transformer, source float64) (ThroughFault, error) {
	if !(rating > 0) || !(transformer > 0) || !(source >= 0) || math.IsInf(transformer+source+rating, 1) {
		return ThroughFault{}, fmt.Errorf("through-fault limit of %g VA with %g + %g per unit: want a rating and an impedance above zero",
			rating, transformer, source)
	}
	c := ThroughFault{Category: Category(rating, three), Frequent: frequent, Impedance: transformer}
	switch c.Category {
	case "I":
		c.Frequent = false
	case "IV":
		c.Frequent = true
	}
	if c.Category == "III" || c.Category == "IV" {
		c.Impedance += source
	}
	c.Limit = 1 / c.Impedance
	return c, nil
}

// longTime is the low-current end of the curve: ANSI C57.92-1962 as C57.109 keeps it, from memory.
// It is no overload curve.
var longTime = []Point{{2, 1800}, {3, 300}, {4.75, 60}}

// Time is how long it stands a current in per unit, in s; +Inf below twice the rated current, where the
// standard gives no limit. Above Limit, and in category I above 25 times, the heat stays: the safe side.
func (c ThroughFault) Time(x float64) float64 {
	if math.IsNaN(x) {
		return math.NaN()
	}
	first := longTime[0]
	last := longTime[len(longTime)-1]
	switch {
	case x < first.X:
		return never
	case x < last.X:
		low, _ := NewPoints(longTime, Unsaid)
		return low.Time(x)
	case x < 5: // from the last point of the table to the first of 1250/I²
		join, _ := NewPoints([]Point{last, {5, 50}}, Unsaid)
		return join.Time(x)
	}
	t := 1250 / (x * x)
	if from, k := c.mechanical(); c.Frequent && x >= from {
		t = math.Min(t, k/(x*x))
	}
	return t
}

// mechanical is the current in per unit from which the mechanical limit I²t = k holds.
func (c ThroughFault) mechanical() (from, k float64) {
	switch c.Category {
	case "II":
		return 0.7 / c.Impedance, 2 / (c.Impedance * c.Impedance)
	case "III", "IV":
		return 0.5 / c.Impedance, 2 / (c.Impedance * c.Impedance)
	}
	return never, never
}

// Corners are the points of the curve that the standard names, from the largest current down.
func (c ThroughFault) Corners() []Point {
	list := []Point{{c.Limit, c.Time(c.Limit)}}
	if from, k := c.mechanical(); c.Frequent {
		list = append(list, Point{from, k / (from * from)}, Point{from, 1250 / (from * from)})
	}
	list = append(list, Point{5, 50})
	for i := len(longTime) - 1; i >= 0; i-- {
		list = append(list, longTime[i])
	}
	return list
}

// A Metal is a conductor material in the adiabatic formula (I/S)²t = F·log10((T2 + Beta)/(T1 + Beta)).
type Metal struct {
	Name   string
	F      float64 // A²s/m⁴
	Beta   float64 // °C
	Source string
}

// cmil is a circular mil in m².
const cmil = math.Pi / 4 * 25.4e-6 * 25.4e-6

// iec makes a metal from K in A·√s/mm² of k = K·√ln((θf + β)/(θi + β)).
func iec(name string, k, beta float64) Metal {
	k *= 1e6 // A√s/m²
	return Metal{name, k * k * math.Ln10, beta, "IEC 60949 and IEC 60364-5-54, from memory"}
}

// The two families of constants differ by up to 1 %. They are not to be mixed in one check.
var (
	CopperICEA    = Metal{"copper", 0.0297 / (cmil * cmil), 234, "ICEA P-32-382"}
	AluminiumICEA = Metal{"aluminium", 0.0125 / (cmil * cmil), 228, "ICEA P-32-382"}
	CopperIEC     = iec("copper", 226, 234.5)
	AluminiumIEC  = iec("aluminium", 148, 228)
	LeadIEC       = iec("lead", 41, 230)
	SteelIEC      = iec("steel", 78, 202)
)

// Heat is the I²t in A²s that takes a conductor of area m² from one temperature to another, in °C, with no heat
// lost; meant for times up to 5 s (IEC 60364-4-43, 434.5, from memory). NaN unless from < to and area > 0.
func (m Metal) Heat(area, from, to float64) float64 {
	if !(area > 0) || !(from < to) || !(from > -m.Beta) {
		return math.NaN()
	}
	return m.F * area * area * math.Log10((to+m.Beta)/(from+m.Beta))
}

// Warmed is the temperature in °C of a conductor of area m² after an I²t in A²s, from one at the start. It is the
// inverse of Heat: what shots of reclosing leave one after another, with no heat lost between.
func (m Metal) Warmed(area, from, heat float64) float64 {
	if !(area > 0) || !(heat >= 0) || !(from > -m.Beta) {
		return math.NaN()
	}
	return (from+m.Beta)*math.Pow(10, heat/(m.F*area*area)) - m.Beta
}

// A Withstand is constant heat: t = Heat/I², in A²s.
type Withstand float64

// Time is how long it stands a current in A, in s.
func (w Withstand) Time(amperes float64) float64 {
	if amperes == 0 {
		return never
	}
	return float64(w) / (amperes * amperes)
}

// A BurnDown is the time in which an arc parts an overhead conductor, t = K/I^Q: a fit to tests, an order of magnitude.
type BurnDown struct {
	Conductor string
	K, Q      float64
	Source    string
}

// Time is that time at a current in A, in s.
func (b BurnDown) Time(amperes float64) float64 { return b.K / math.Pow(amperes, b.Q) }

const epri = "fit to tests of EPRI 1017839 (2009), as read in a handbook's companion pages; conservative version"

// BurnDowns are the conservative fits. Covered wire parts sooner, since the arc can't move along it.
var BurnDowns = []BurnDown{
	{"#4 ACSR bare", 2682, 1.211, epri},
	{"#2 ACSR bare", 117.64, 0.7358, epri},
	{"336.4 kcmil aluminium covered", 22253, 1.3335, epri},
	{"556.4 kcmil aluminium covered", 26878, 1.2839, epri},
}
