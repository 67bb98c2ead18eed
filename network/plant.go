package network

import (
	"fmt"
	"math"

	"feederwright/phasor"
	"feederwright/quantity"
)

const abc = quantity.Phases(7) // A, B and C

// AddLine adds a section with series impedance matrix z (ohm, total, row-major
// over its conductors) and charging admittance matrix y (S, total; nil for
// none). It is a pi section: the series matrix between the ends, half of the
// charging at each end.
//
// A place inside the section divides the series matrix; the charging stays at
// the ends. So a place's result changes continuously along the section, and
// equals that of a bus there exactly where there is no charging.
func (b *Builder) AddLine(name string, from, to int, phases quantity.Phases, z, y []complex128) (int, error) {
	n := phases.Count()
	if len(z) != n*n || y != nil && len(y) != n*n {
		return 0, fmt.Errorf("line %s: matrices of %d and %d entries for %d conductors", name, len(z), len(y), n)
	}
	inverse, err := invert(z, n)
	if err != nil {
		return 0, fmt.Errorf("line %s: its series impedance matrix is singular", name)
	}
	m := 2 * n
	e := Element{Name: name, Kind: Line, Terminals: []Terminal{{from, phases}, {to, phases}},
		Y: make([]complex128, m*m), Series: append([]complex128(nil), z...)}
	for i := 0; i < n; i++ {
		for j := 0; j < n; j++ {
			s := inverse[i*n+j]
			var h complex128
			if y != nil {
				h = y[i*n+j] / 2
			}
			e.Y[i*m+j] = s + h
			e.Y[(n+i)*m+n+j] = s + h
			e.Y[i*m+n+j] = -s
			e.Y[(n+i)*m+j] = -s
		}
		e.ties = append(e.ties, tie{i, n + i, 1})
	}
	if y != nil {
		e.ties = append(e.ties, shuntTies(y, n)...)
	}
	return b.add(e), nil
}

// rowSumTolerance: a shunt matrix whose rows sum to less than this part of
// their largest entry has no path to earth (rounding of an exact zero).
const rowSumTolerance = 1e-12

// shuntTies tells how a shunt matrix joins its conductors with each other and
// with earth.
func shuntTies(y []complex128, n int) []tie {
	var ties []tie
	for i := 0; i < n; i++ {
		sum, largest := complex128(0), 0.0
		for j := 0; j < n; j++ {
			sum += y[i*n+j]
			largest = math.Max(largest, abs1(y[i*n+j]))
			if j < i && y[i*n+j] != 0 {
				ties = append(ties, tie{i, j, 1})
			}
		}
		if abs1(sum) > rowSumTolerance*largest {
			ties = append(ties, tie{i, -1, 0})
		}
	}
	return ties
}

func abs1(x complex128) float64 { return math.Abs(real(x)) + math.Abs(imag(x)) }

// AddShunt adds an admittance matrix y (S) from the conductors of a bus to
// earth and to each other.
func (b *Builder) AddShunt(kind Kind, name string, bus int, phases quantity.Phases, y []complex128) (int, error) {
	n := phases.Count()
	if len(y) != n*n {
		return 0, fmt.Errorf("%s %s: matrix of %d entries for %d conductors", kind, name, len(y), n)
	}
	return b.add(Element{Name: name, Kind: kind, Terminals: []Terminal{{bus, phases}},
		Y: append([]complex128(nil), y...), ties: shuntTies(y, n)}), nil
}

// A Connection of a capacitor bank or load.
type Connection string

const (
	EarthedWye Connection = "earthed-wye"
	Wye        Connection = "wye"
	Delta      Connection = "delta"
)

// ConnectedShunt gives the admittance matrix of equal admittances y, in S,
// over n conductors: each to earth, each to a common star point, or between
// each pair.
func ConnectedShunt(c Connection, n int, y complex128) []complex128 {
	m := make([]complex128, n*n)
	for i := 0; i < n; i++ {
		for j := 0; j < n; j++ {
			same := complex128(0)
			if i == j {
				same = 1
			}
			switch c {
			case Wye: // star point eliminated
				m[i*n+j] = y * (same - complex(1/float64(n), 0))
			case Delta:
				m[i*n+j] = y * (same*complex(float64(n), 0) - 1)
			default:
				m[i*n+j] = y * same
			}
		}
	}
	return m
}

// An InfeedData is an equivalent of the system behind a bus.
//
//	Z1, Z2, Z0  sequence impedances                    ohm at the bus
//	Open        true: no zero-sequence path (Z0 unused)
//	VLL         line-to-line source voltage            V r.m.s.
//	Angle       angle of the source's phase A          rad
type InfeedData struct {
	Z1, Z2, Z0 complex128
	Open       bool
	VLL, Angle float64
}

// AddInfeed adds a source as its current equivalent: Y = A·diag(1/Z)·A⁻¹.
func (b *Builder) AddInfeed(name string, bus int, d InfeedData) (int, error) {
	if d.Z1 == 0 || d.Z2 == 0 || (!d.Open && d.Z0 == 0) {
		return 0, fmt.Errorf("infeed %s has a zero impedance", name)
	}
	y0 := complex128(0)
	if !d.Open {
		y0 = 1 / d.Z0
	}
	y := b.Rotation.Circulant(y0, 1/d.Z1, 1/d.Z2)
	s, c := math.Sincos(d.Angle)
	e := b.Rotation.Phases(0, complex(d.VLL/math.Sqrt(3)*c, d.VLL/math.Sqrt(3)*s), 0)
	inject := make([]complex128, 3)
	for i := range inject {
		for j := range e {
			inject[i] += y[3*i+j] * e[j]
		}
	}
	ties := []tie{{0, 1, 1}, {1, 2, 1}}
	if !d.Open {
		ties = append(ties, tie{0, -1, 0})
	}
	return b.add(Element{Name: name, Kind: Infeed, Terminals: []Terminal{{bus, abc}},
		Y: y[:], Inject: inject, ties: ties}), nil
}

// A NeutralPoint is how a winding's neutral stands to earth.
type NeutralPoint struct {
	Exists  bool       // the neutral is brought out
	Earthed bool       // it is joined to earth, through Z
	Z       complex128 // ohm, zero for solid
}

// A TransformerData is a two-winding three-phase transformer as measured from
// its terminals.
//
//	Group       vector group; Clock is by how many times 30° the second winding lags
//	VFrom, VTo  turns voltages in use, line-to-line (rated voltage × tap)    V
//	Z1          short-circuit impedance seen from the second winding         ohm
//	Z0          zero-sequence impedance seen from the second winding         ohm
//	            (see AddTransformer); 0 where there is no path
//	Zm0         zero-sequence magnetising impedance seen from the second
//	            winding, ohm; 0: infinite
//	From, To    neutral points
type TransformerData struct {
	Group      quantity.VectorGroup
	VFrom, VTo float64
	Z1, Z0     complex128
	Zm0        complex128
	From, To   NeutralPoint
}

// AddTransformer adds a two-winding transformer of any vector group.
//
// Positive and negative sequence, with n = VTo/VFrom, y = 1/Z1 and
// P = I − J/3 (J all ones):
//
//	I_to   =   y·P·V_to     − n·y·T·V_from
//	I_from = n²·y·P·V_from  − n·y·Tᵀ·V_to
//
// T is real and circulant, T[i][j] = 2/3·cos(30°·clock + 120°·(i−j)): it
// shifts positive sequence by −30°·clock and negative by +30°·clock and blocks
// zero sequence, whatever windings make the group. The matrix is symmetric,
// so the bank is reciprocal.
//
// Zero sequence, by the windings whose neutral is earthed (admittance times
// J/3; a neutral impedance Zn counts as 3·Zn):
//
//	YN facing D:  1/(Z0+3Zn) at the YN side; nothing at the D side
//	ZN:           1/(Z0+3Zn) at the ZN side, Z0 being between the half windings
//	YN and yn:    Z0 in series from side to side through the turns ratio
//	              (reversed for clocks 2, 6 and 10), Zm0 across the middle
//	YN facing y:  1/(Z0/2+Zm0+3Zn), the same star with its other leg open; so
//	              nothing without Zm0
//
// Source: derivation from the winding connections; tested against winding
// incidence matrices and an independent circuit simulator.
func (b *Builder) AddTransformer(name string, from, to int, d TransformerData) (int, error) {
	if d.Z1 == 0 {
		return 0, fmt.Errorf("transformer %s has zero impedance", name)
	}
	n := complex(d.VTo/d.VFrom, 0)
	y := 1 / d.Z1
	e := Element{Name: name, Kind: Transformer, Terminals: []Terminal{{from, abc}, {to, abc}}, Y: make([]complex128, 36)}
	at := func(i, j int) *complex128 { return &e.Y[i*6+j] }
	for i := 0; i < 3; i++ {
		for j := 0; j < 3; j++ {
			p := complex(-1./3, 0)
			if i == j {
				p = complex(2./3, 0)
			}
			c, _ := phasor.Degrees30(d.Group.Clock + 4*(i-j))
			t := complex(2*c/3, 0)
			*at(i, j) += n * n * y * p
			*at(3+i, 3+j) += y * p
			*at(3+i, j) -= n * y * t
			*at(j, 3+i) -= n * y * t
		}
	}
	shunt := func(side int, y0 complex128) {
		for i := 0; i < 3; i++ {
			for j := 0; j < 3; j++ {
				*at(3*side+i, 3*side+j) += y0 / 3
			}
		}
	}
	float := func(side int) {
		e.ties = append(e.ties, tie{3 * side, 3*side + 1, 1}, tie{3*side + 1, 3*side + 2, 1})
	}
	earth := func(side int) {
		for i := 0; i < 3; i++ {
			e.ties = append(e.ties, tie{3*side + i, -1, 0})
		}
	}
	sides := [2]quantity.Winding{d.Group.From, d.Group.To}
	points := [2]NeutralPoint{d.From, d.To}
	scale := [2]complex128{1 / (n * n), 1} // from the second winding's ohms to each side's
	earthed := func(side int) bool { return sides[side].Neutral && points[side].Earthed }

	if sides[0].Kind == 'Y' && sides[1].Kind == 'Y' && earthed(0) && earthed(1) {
		if d.Z0 == 0 {
			return 0, fmt.Errorf("transformer %s: both neutrals are earthed and no zero-sequence impedance is given", name)
		}
		// Clocks 4 and 8 are clock 0 with the phases exchanged in turn; 6, 10 and 2 are those with the winding reversed.
		sign, turn := complex128(1), d.Group.Clock/4
		if d.Group.Clock%4 == 2 {
			sign, turn = -1, (d.Group.Clock+6)%12/4
		}
		zf := d.Z0/2 + 3*points[0].Z*n*n
		zt := d.Z0/2 + 3*points[1].Z
		// Two-port of the star zf, zt with Zm0 from its middle to earth, all seen from the second winding.
		yff, ytt, ytf := 1/(zf+zt), 1/(zf+zt), -1/(zf+zt)
		if d.Zm0 != 0 {
			det := zf*zt + d.Zm0*(zf+zt)
			yff, ytt, ytf = (zt+d.Zm0)/det, (zf+d.Zm0)/det, -d.Zm0/det
			earth(0)
			earth(1)
		}
		shunt(0, n*n*yff)
		shunt(1, ytt)
		for i := 0; i < 3; i++ {
			for j := 0; j < 3; j++ {
				*at(3+i, j) += sign * n * ytf / 3
				*at(j, 3+i) += sign * n * ytf / 3
			}
			// V_to = ±n·V_from of the phase on the same limb carries no current.
			e.ties = append(e.ties, tie{3 + (i-turn+3)%3, i, real(sign * n)})
		}
		return b.add(e), nil
	}
	for side := range sides {
		other := 1 - side
		zn := 3 * points[side].Z
		var z0 complex128
		switch {
		case !earthed(side):
		case sides[side].Kind == 'Z' || sides[other].Kind == 'D':
			if d.Z0 == 0 {
				return 0, fmt.Errorf("transformer %s: the zero-sequence impedance of its earthed winding is not given", name)
			}
			z0 = d.Z0*scale[side] + zn
		case d.Zm0 != 0:
			z0 = d.Zm0*scale[side] + zn
			if sides[other].Kind == 'Y' {
				z0 += d.Z0 / 2 * scale[side]
			}
		}
		if z0 == 0 {
			float(side)
			continue
		}
		shunt(side, 1/z0)
		earth(side)
	}
	return b.add(e), nil
}

// AddEarthingTransformer adds a zero-sequence path to earth: z0 per phase, in
// ohm, and 3·zn for the impedance zn in its neutral. Positive and negative
// sequence see it as open (its magnetising current is left out).
func (b *Builder) AddEarthingTransformer(name string, bus int, z0, zn complex128) (int, error) {
	z := z0 + 3*zn
	if z == 0 {
		return 0, fmt.Errorf("earthing transformer %s has zero impedance", name)
	}
	y := make([]complex128, 9)
	for i := range y {
		y[i] = 1 / z / 3
	}
	return b.add(Element{Name: name, Kind: EarthingTransformer, Terminals: []Terminal{{bus, abc}}, Y: y,
		ties: []tie{{0, 1, 1}, {1, 2, 1}, {0, -1, 0}}}), nil
}

// BalancedMatrix gives the phase matrix of a transposed section over n of its
// conductors: Zs = (2·Z1+Z0)/3 on the diagonal, Zm = (Z0−Z1)/3 beside it.
// Absent phases carry no current, so the part of the 3×3 matrix is exact.
func BalancedMatrix(n int, z1, z0 complex128) []complex128 {
	self, mutual := (2*z1+z0)/3, (z0-z1)/3
	m := make([]complex128, n*n)
	for i := range m {
		m[i] = mutual
		if i/n == i%n {
			m[i] = self
		}
	}
	return m
}

// invert inverts an n×n matrix, n ≤ 4, by Gauss-Jordan elimination with
// pivoting.
func invert(z []complex128, n int) ([]complex128, error) {
	a := append([]complex128(nil), z...)
	r := make([]complex128, n*n)
	for i := 0; i < n; i++ {
		r[i*n+i] = 1
	}
	norm := 0.0
	for _, x := range z {
		norm = math.Max(norm, abs1(x))
	}
	for k := 0; k < n; k++ {
		p := k
		for i := k + 1; i < n; i++ {
			if abs1(a[i*n+k]) > abs1(a[p*n+k]) {
				p = i
			}
		}
		// Entries are typed with a few digits: a pivot this small is a zero spoilt by rounding.
		if !(abs1(a[p*n+k]) > 1e-13*norm) {
			return nil, fmt.Errorf("singular")
		}
		for j := 0; j < n; j++ {
			a[p*n+j], a[k*n+j] = a[k*n+j], a[p*n+j]
			r[p*n+j], r[k*n+j] = r[k*n+j], r[p*n+j]
		}
		d := 1 / a[k*n+k]
		for j := 0; j < n; j++ {
			a[k*n+j] *= d
			r[k*n+j] *= d
		}
		for i := 0; i < n; i++ {
			if f := a[i*n+k]; i != k && f != 0 {
				for j := 0; j < n; j++ {
					a[i*n+j] -= f * a[k*n+j]
					r[i*n+j] -= f * r[k*n+j]
				}
			}
		}
	}
	return r, nil
}
