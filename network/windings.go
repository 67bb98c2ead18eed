package network

import (
	"fmt"

	"feederwright/phasor"
	"feederwright/quantity"
)

const (
	ThreeWindingTransformer Kind = "three-winding transformer"
	Bank                    Kind = "bank"
)

// A ThreeWindingData is a three-phase transformer with three windings as
// measured from its terminals.
//
//	Winding    connections; Lag is by how many times 30° each lags the first
//	V          turns voltages in use, line-to-line (rated voltage × tap)             V
//	Z1         short-circuit impedances 1-2, 1-3, 2-3, seen from the first winding   ohm
//	Z0         the same in zero sequence; zero where no path needs them              ohm
//	Point      neutral points
//
// A third winding with bus −1 is not brought out: nothing is connected to it,
// and as a delta it still closes the path of the zero sequence.
type ThreeWindingData struct {
	Winding [3]quantity.Winding
	Lag     [3]int
	V       [3]float64
	Z1, Z0  [3]complex128
	Point   [3]NeutralPoint
}

func pairs(z [3]complex128) [][]complex128 {
	return [][]complex128{{0, z[0], z[1]}, {z[0], 0, z[2]}, {z[1], z[2], 0}}
}

// AddThreeWinding adds a three-winding transformer of any vector group of
// deltas and wyes.
//
// Positive and negative sequence: between windings j and k,
//
//	I_j = Σ n_j·n_k·y_jk·T(lag_j − lag_k)·V_k        n = V_1/V
//
// with y of coreAdmittance and T as in AddTransformer. Zero sequence: the
// matrix of coreAdmittance from Z0, in which a delta is a short circuit, a wye
// without earth open, and an earthed one has three times its neutral's
// impedance in series.
//
// Source: derivation from the winding connections; tested against an
// independent circuit simulator.
func (b *Builder) AddThreeWinding(name string, buses [3]int, d ThreeWindingData) (int, error) {
	fail := func(format string, args ...any) (int, error) {
		return 0, fmt.Errorf("three-winding transformer %s: "+format, append([]any{name}, args...)...)
	}
	for _, w := range d.Winding {
		if w.Kind == 'Z' {
			return fail("a zigzag winding beside two others is not computed")
		}
	}
	y1, err := coreAdmittance(pairs(d.Z1))
	if err != nil {
		return fail("%w", err)
	}
	brought := 3
	if buses[2] < 0 {
		brought = 2
		openRow(y1, 3, 2)
	}
	e := Element{Name: name, Kind: ThreeWindingTransformer}
	for _, bus := range buses[:brought] {
		e.Terminals = append(e.Terminals, Terminal{bus, abc})
	}
	m := 3 * brought
	e.Y = make([]complex128, m*m)
	at := func(j, i, k, l int) *complex128 { return &e.Y[(3*j+i)*m+3*k+l] }
	n := func(k int) complex128 { return complex(d.V[0]/d.V[k], 0) }
	for j := 0; j < brought; j++ {
		for k := 0; k < brought; k++ {
			for i := 0; i < 3; i++ {
				for l := 0; l < 3; l++ {
					c, _ := phasor.Degrees30(d.Lag[j] - d.Lag[k] + 4*(i-l))
					*at(j, i, k, l) += n(j) * n(k) * y1[j*3+k] * complex(2*c/3, 0)
				}
			}
		}
	}

	earthed := func(k int) bool {
		return d.Winding[k].Kind == 'Y' && d.Winding[k].Neutral && d.Point[k].Earthed && k < brought
	}
	some, delta, count := false, false, 0
	for k := range d.Winding {
		delta = delta || d.Winding[k].Kind == 'D'
		if earthed(k) {
			count++
		}
	}
	some = count > 1 || count == 1 && delta
	if some {
		y0, err := coreAdmittance(pairs(d.Z0))
		if err != nil {
			return fail("its zero-sequence impedances are missing, or contradict each other")
		}
		for k := range d.Winding {
			switch {
			case earthed(k):
				inSeries(y0, 3, k, 3*d.Point[k].Z*n(k)*n(k))
			case d.Winding[k].Kind == 'D':
				shortRow(y0, 3, k)
			default:
				openRow(y0, 3, k)
			}
		}
		first := -1 // earthed wye
		for k := 2; k >= 0; k-- {
			if earthed(k) {
				first = k
			}
		}
		sign := func(k int) complex128 { // wyes reversed against the first of them; the lag to a delta tells nothing of it
			if (d.Lag[k]-d.Lag[first]+24)%4 == 2 {
				return -1
			}
			return 1
		}
		for j := 0; j < brought; j++ {
			for k := 0; k < brought; k++ {
				y := sign(j) * sign(k) * n(j) * n(k) * y0[j*3+k] / 3
				for i := 0; i < 3; i++ {
					for l := 0; l < 3; l++ {
						*at(j, i, k, l) += y
					}
				}
			}
		}
		for k := 0; k < brought; k++ {
			switch {
			case !earthed(k):
				e.ties = append(e.ties, tie{3 * k, 3*k + 1, 1}, tie{3*k + 1, 3*k + 2, 1})
				if !delta { // it holds the differences between the phases of the others, which may shift together alone
					e.ties = append(e.ties, tie{3 * first, 3*first + 1, 1}, tie{3*first + 1, 3*first + 2, 1})
				}
			case delta:
				for i := 0; i < 3; i++ {
					e.ties = append(e.ties, tie{3*k + i, -1, 0})
				}
			case k != first:
				// V_k = ±V_first·n_first/n_k of the phase on the same limb carries no current.
				turn := (d.Lag[k] - d.Lag[first] + 24) % 12
				reversed := complex128(1)
				if turn%4 == 2 {
					reversed, turn = -1, (turn+6)%12
				}
				for i := 0; i < 3; i++ {
					e.ties = append(e.ties, tie{3*k + (i+turn/4)%3, 3*first + i, real(reversed * n(first) / n(k))})
				}
			}
		}
		return b.add(e), nil
	}
	for k := 0; k < brought; k++ {
		e.ties = append(e.ties, tie{3 * k, 3*k + 1, 1}, tie{3*k + 1, 3*k + 2, 1})
	}
	return b.add(e), nil
}

// Star is the end of a winding at the bank's own star point on that side,
// instead of a conductor.
const Star = -1

// A Unit is a single-phase transformer of a bank.
//
//	Primary     the two ends of its first winding: conductors 0 to 3 of the
//	            bank's first bus, or Star
//	Secondary   the ends of its second winding; three for a winding with its
//	            middle brought out: first leg, middle, second leg
//	VPrimary, VSecondary  turns voltages in use over the whole windings     V
//	Z           short-circuit impedance seen from the whole second winding  ohm
//	ZHalf       that with one half short-circuited and the other open, seen
//	            from the half; for three ends                               ohm
type Unit struct {
	Name                 string
	Primary              [2]int
	Secondary            []int
	VPrimary, VSecondary float64
	Z, ZHalf             complex128
}

// A BankData is up to three single-phase transformers with the star points
// that they make.
type BankData struct {
	Units    []Unit
	From, To NeutralPoint // of the star points; unused where no unit ends there
}

// AddBank adds single-phase transformers connected as a bank: any of wye,
// delta, open wye, open delta and centre-tapped services, each winding stamped
// between the conductors that it is connected to.
//
// A star point that is not a conductor of the bus is solved out; solidly
// earthed it is earth. Where the bus has conductor N, a unit may end there
// instead, and the point's earthing stands from N to earth.
//
// Source: derivation from the winding connections; tested against an
// independent circuit simulator.
func (b *Builder) AddBank(name string, from, to int, d BankData) (int, error) {
	fail := func(format string, args ...any) (int, error) {
		return 0, fmt.Errorf("bank %s: "+format, append([]any{name}, args...)...)
	}
	if len(d.Units) == 0 {
		return fail("no units")
	}
	// Rows: conductors of both sides, then the two star points.
	var use [2]quantity.Phases
	for _, u := range d.Units {
		for side, ends := range [2][]int{u.Primary[:], u.Secondary} {
			for _, c := range ends {
				if c >= 0 {
					use[side] |= 1 << c
				}
			}
		}
	}
	e := Element{Name: name, Kind: Bank, Terminals: []Terminal{{from, use[0]}, {to, use[1]}}}
	first := use[0].Count()
	m := first + use[1].Count()
	rows := m + 2
	row := func(side, c int) int {
		switch {
		case c < 0:
			return m + side
		case side == 0:
			return position(use[0], c)
		}
		return first + position(use[1], c)
	}
	y := make([]complex128, rows*rows)
	points := [2]NeutralPoint{d.From, d.To}
	for _, u := range d.Units {
		if u.Z == 0 || u.VPrimary <= 0 || u.VSecondary <= 0 {
			return fail("unit %s has zero impedance or voltage", u.Name)
		}
		// Windings as pairs of rows, each with its turns voltage.
		type winding struct {
			a, b int
			v    float64
		}
		list := []winding{{row(0, u.Primary[0]), row(0, u.Primary[1]), u.VPrimary}}
		var z [][]complex128
		n := complex(u.VPrimary/u.VSecondary, 0)
		if len(u.Secondary) == 3 {
			if u.ZHalf == 0 {
				return fail("unit %s: the impedance to one half of its second winding is not given", u.Name)
			}
			half := u.VSecondary / 2
			list = append(list, winding{row(1, u.Secondary[0]), row(1, u.Secondary[1]), half},
				winding{row(1, u.Secondary[1]), row(1, u.Secondary[2]), half})
			// Referred to the first winding. With both halves carrying one current,
			// the whole gives z = (z1h + z1h − zhh/2)/2, from which follows zhh between the halves.
			full, one := u.Z*n*n, u.ZHalf*n*n*4
			between := 4 * (one - full)
			z = [][]complex128{{0, one, one}, {one, 0, between}, {one, between, 0}}
		} else {
			list = append(list, winding{row(1, u.Secondary[0]), row(1, u.Secondary[1]), u.VSecondary})
			full := u.Z * n * n
			z = [][]complex128{{0, full}, {full, 0}}
		}
		core, err := coreAdmittance(z)
		if err != nil {
			return fail("unit %s: %w", u.Name, err)
		}
		k := len(list)
		for i, w := range list {
			for j, x := range list {
				a := core[i*k+j] * complex(u.VPrimary/w.v*u.VPrimary/x.v, 0)
				y[w.a*rows+x.a] += a
				y[w.a*rows+x.b] -= a
				y[w.b*rows+x.a] -= a
				y[w.b*rows+x.b] += a
			}
		}
		for i := range list {
			for _, p := range [2]int{list[i].a, list[i].b} {
				if p < m {
					e.feeds = append(e.feeds, [2]int{firstRow(list[0].a, list[0].b), p})
				}
			}
		}
		e.ties = append(e.ties, b.unitTies(u, row, m, points)...)
	}
	for side := range points {
		if !points[side].Earthed {
			e.ties = append(e.ties, starTies(d.Units, side, points[1-side].Earthed, row)...)
		}
	}
	for side := range points {
		star := m + side
		if use[side].HasConductor(3) { // the point is conductor N
			n := row(side, 3)
			if points[side].Earthed {
				if points[side].Z == 0 {
					return fail("conductor N of its bus can't be earthed solidly here: earth it at the bus, or leave the conductor out")
				}
				y[n*rows+n] += 1 / points[side].Z
				e.ties = append(e.ties, tie{n, -1, 0})
			}
			shortRow(y, rows, star)
			continue
		}
		switch {
		case points[side].Earthed && points[side].Z == 0:
			shortRow(y, rows, star)
		case points[side].Earthed:
			y[star*rows+star] += 1 / points[side].Z
			openRow(y, rows, star)
		default:
			openRow(y, rows, star)
		}
	}
	e.Y = make([]complex128, m*m)
	for i := 0; i < m; i++ {
		copy(e.Y[i*m:(i+1)*m], y[i*rows:i*rows+m])
	}
	return b.add(e), nil
}

// firstRow is the lower of two rows, which is never a star point's unless
// both are.
func firstRow(a, b int) int { return min(a, b) }

// unitTies tells how a unit's windings join conductors galvanically.
func (b *Builder) unitTies(u Unit, row func(side, c int) int, stars int, points [2]NeutralPoint) []tie {
	var ties []tie
	// held: the winding ends at earth through its star point.
	held := func(side int, ends []int) bool {
		for _, c := range ends {
			if c == Star && points[side].Earthed {
				return true
			}
		}
		return false
	}
	first, second := held(0, u.Primary[:]), held(1, u.Secondary)
	join := func(side int, ends []int) { // conductors of a winding stand on one potential
		last := -1
		for _, c := range ends {
			if c == Star {
				continue
			}
			if r := row(side, c); last >= 0 && last != r {
				ties = append(ties, tie{last, r, 1})
				last = r
			} else {
				last = r
			}
		}
	}
	free := func(side int, ends []int) bool { // it ends at a star point without earth
		for _, c := range ends {
			if c == Star && !points[side].Earthed {
				return true
			}
		}
		return false
	}
	switch {
	case first && second:
		p := u.toStar(0, row)
		for _, s := range u.toStar(1, row) {
			ties = append(ties, tie{s.r, p[0].r, s.v / p[0].v})
		}
	case first || second:
		side, other, rest := 0, 1, u.Secondary
		if second {
			side, other, rest = 1, 0, u.Primary[:]
		}
		join(other, rest)
		if !free(other, rest) { // else starTies says what it is tied to
			for _, h := range u.toStar(side, row) {
				ties = append(ties, tie{h.r, -1, 0})
			}
		}
	default:
		join(0, u.Primary[:])
		join(1, u.Secondary)
	}
	return ties
}

// A starEnd is a conductor at the other end of a winding, or half winding,
// that ends at a star point, with its voltage to that point.
type starEnd struct {
	r int // row
	v float64
}

// toStar lists the conductors of a unit's winding that ends at the star point
// of its side; none where it does not.
func (u *Unit) toStar(side int, row func(side, c int) int) []starEnd {
	ends, v := u.Primary[:], u.VPrimary
	if side == 1 {
		ends, v = u.Secondary, u.VSecondary
	}
	if len(ends) == 3 {
		v /= 2
	}
	var list []starEnd
	for j, d := range ends {
		if d != Star {
			continue
		}
		for i, c := range ends {
			if c != Star {
				list = append(list, starEnd{row(side, c), v * float64(j-i)})
			}
		}
	}
	return list
}

// starTies tells how a star point without earth joins the conductors of the
// units that end there: they stand on one potential with it. Where the units'
// other windings end at a star point on earth, no current returns through these
// either: their conductors may all shift, in the ratio of the units, as the star point shifts.
func starTies(units []Unit, side int, otherEarthed bool, row func(side, c int) int) []tie {
	var ties []tie
	first, firstOther := starEnd{r: -1}, starEnd{r: -1}
	for i := range units {
		own := units[i].toStar(side, row)
		for _, e := range own {
			if first.r >= 0 {
				ties = append(ties, tie{e.r, first.r, 1})
			} else {
				first = e
			}
		}
		if !otherEarthed || len(own) == 0 {
			continue
		}
		for _, e := range units[i].toStar(1-side, row) {
			e.v /= own[0].v
			if firstOther.r >= 0 {
				ties = append(ties, tie{e.r, firstOther.r, e.v / firstOther.v})
			} else {
				firstOther = e
			}
		}
	}
	return ties
}
