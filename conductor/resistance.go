package conductor

import (
	"math"
)

// A Material is a metal of conductors and screens.
type Material struct {
	Name        string
	Resistivity float64 // at 20 °C, ohm·m
	Alpha       float64 // temperature coefficient of resistance at 20 °C, 1/K
	Source      string
}

// The metals of lines. Values of resistivity are those that IEC 60287-1-1
// takes for cables; IEC 60028 is the source of annealed copper, IEC 60889 of
// hard-drawn aluminium. All from memory.
var (
	AnnealedCopper  = Material{"annealed copper", 1.7241e-8, 0.00393, "IEC 60028; IEC 60287-1-1 table 1 [from memory]"}
	HardDrawnCopper = Material{"hard-drawn copper", 1.7241e-8 / 0.973, 0.00383, "97.3 % of the conductivity of annealed copper [from memory]"}
	Aluminium       = Material{"aluminium", 2.8264e-8, 0.00403, "IEC 60889; IEC 60287-1-1 table 1 [from memory]"}
	Lead            = Material{"lead", 21.4e-8, 0.0040, "IEC 60287-1-1 table 1 [from memory]"}
	Steel           = Material{"steel", 13.8e-8, 0.0045, "IEC 60287-1-1 table 1 [from memory]"}
)

// AtTemperature converts a resistance, or resistivity, from one temperature of
// the metal to another, in °C:
//
//	R(T2) = R(T1)·(1 + α·(T2 − 20 °C))/(1 + α·(T1 − 20 °C))
//
//	α   temperature coefficient at 20 °C   1/K
//
// It serves d.c. resistances from some −50 to 200 °C. The part that skin effect
// adds does not grow with the temperature in this way.
//
// Special case: NaN where α puts either temperature below that of zero
// resistance.
//
// Source: IEC 60287-1-1, clause on d.c. resistance [from memory].
func (m Material) AtTemperature(resistance, from, to float64) float64 {
	a, b := 1+m.Alpha*(from-20), 1+m.Alpha*(to-20)
	if !(a > 0) || !(b > 0) {
		return math.NaN()
	}
	return resistance * b / a
}

// SkinEffect gives y_s, by which skin effect raises the d.c. resistance of a
// round conductor, R = R'·(1 + y_s + y_p):
//
//	x²  = 8π·f/R'·1e-7·k_s
//	y_s = x⁴/(192 + 0.8·x⁴)                     x ≤ 2.8
//	y_s = −0.136 − 0.0177·x + 0.0563·x²         2.8 < x ≤ 3.8
//	y_s = 0.354·x − 0.733                       x > 3.8
//
//	R'    d.c. resistance at the temperature in use             ohm/m
//	f     frequency                                             Hz
//	k_s   1 for round conductors, solid or stranded             –
//
// Source: IEC 60287-1-1, clause on skin effect factor [from memory].
func SkinEffect(rdc, frequency, ks float64) float64 {
	x := math.Sqrt(8e-7 * math.Pi * frequency / rdc * ks)
	switch x4 := x * x * x * x; {
	case x <= 2.8:
		return x4 / (192 + 0.8*x4)
	case x <= 3.8:
		return -0.136 - 0.0177*x + 0.0563*x*x
	}
	return 0.354*x - 0.733
}

// ProximityEffect gives y_p, by which three round conductors at equal
// distances raise each other's resistance:
//
//	x²  = 8π·f/R'·1e-7·k_p
//	F   = x⁴/(192 + 0.8·x⁴)
//	y_p = F·(d/s)²·(0.312·(d/s)² + 1.18/(F + 0.27))         x ≤ 2.8
//
//	d, s  diameter, and distance between axes                m
//	k_p   1 for round conductors, solid or stranded          –
//
// For cables in flat formation s is the geometric mean of the distances.
//
// Special case: NaN for x > 2.8, outside the range of the formula.
//
// Source: IEC 60287-1-1, clause on proximity effect factor [from memory].
func ProximityEffect(rdc, frequency, kp, diameter, spacing float64) float64 {
	x := math.Sqrt(8e-7 * math.Pi * frequency / rdc * kp)
	if !(x <= 2.8) {
		return math.NaN()
	}
	x4 := x * x * x * x
	f := x4 / (192 + 0.8*x4)
	q := diameter / spacing * diameter / spacing
	return f * q * (0.312*q + 1.18/(f+0.27))
}

// SolidGMR is the geometric mean radius of a solid round wire, e^(−1/4) = 0.7788
// of its radius: its internal inductance is µ0/8π.
func SolidGMR(radius float64) float64 { return radius * math.Exp(-0.25) }

// StrandedGMR is the geometric mean radius of a conductor of equal round
// strands of one non-magnetic metal around a centre strand, in layers of 6, 12,
// 18 and so on, all carrying the same current:
//
//	GMR = (product of d_ij)^(1/n²)        d_ii = e^(−1/4)·a
//
//	n     number of strands: 1, 7, 19, 37, 61, 91 ...
//	a     radius of a strand
//	d_ij  distance between the axes of two strands
//
// Strands of a layer lie evenly on their circle. Wires with a steel core are
// outside; theirs are measured.
//
// Special case: NaN for any other number of strands.
//
// Source: definition of the geometric mean distance; the layers are common
// practice.
func StrandedGMR(strands int, radius float64) float64 {
	layers := 0
	for n := 1; n < strands; n += 6 * layers {
		layers++
	}
	if strands < 1 || strands > 1000 || strands != 1+3*layers*(layers+1) {
		return math.NaN()
	}
	a := radius / float64(2*layers+1)
	type point struct{ x, y float64 }
	points := []point{{0, 0}}
	for layer := 1; layer <= layers; layer++ {
		for i := range 6 * layer {
			sin, cos := math.Sincos(2 * math.Pi * float64(i) / float64(6*layer))
			points = append(points, point{2 * a * float64(layer) * cos, 2 * a * float64(layer) * sin})
		}
	}
	sum := 0.0
	for i, p := range points {
		sum += math.Log(SolidGMR(a))
		for _, q := range points[:i] {
			sum += 2 * math.Log(math.Hypot(p.x-q.x, p.y-q.y))
		}
	}
	return math.Exp(sum / float64(strands*strands))
}
