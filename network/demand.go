package network

import (
	"fmt"
	"math"
	"math/cmplx"

	"feederwright/phasor"
	"feederwright/quantity"
)

// A LoadModel says how a load follows its voltage. Loads of constant
// impedance are admittances of the network and need none.
type LoadModel string

const (
	ConstantPower   LoadModel = "power"
	ConstantCurrent LoadModel = "current"
)

// A Demand is plant whose current is no linear function of its voltage: the
// load flow iterates on it. Everything else of the plant stands in the
// element's Y.
type Demand struct {
	Branches []DemandBranch // of a load
	// Sequence is the power that a machine takes in positive sequence, VA for all
	// three phases; its negative and zero sequence stand in Y.
	Sequence complex128
	// Scale multiplies both; 0 counts as 1.
	Scale float64

	phase float64 // V: a machine's rated voltage to earth
}

// A DemandBranch is one branch of a load, between two rows of its element's Y.
//
//	S      complex power taken at the voltage Rated      VA
//	Rated  voltage over the branch                       V
//
// Constant power: I = (S/V)*. Constant current: |I| = |S|/Rated, at the power
// factor of S to the voltage.
type DemandBranch struct {
	A, B  int // rows; B < 0: earth
	Model LoadModel
	S     complex128
	Rated float64
}

// LeastDemandVoltage: below this part of its rated voltage a branch takes its
// current in proportion to the voltage, so that a dead phase is no division by
// zero. No state of service comes near it.
const LeastDemandVoltage = 0.01

// current is a branch's current from A to B at a voltage v over it, with its
// derivatives by v and by v*.
func (b *DemandBranch) current(v complex128, scale float64) (i, byV, byConj complex128) {
	s := cmplx.Conj(b.S) * complex(scale, 0)
	u := magnitude(v)
	if low := LeastDemandVoltage * b.Rated; u < low {
		y := s / complex(low*low, 0)
		if b.Model == ConstantCurrent {
			y = s / complex(low*b.Rated, 0)
		}
		return y * v, y, 0
	}
	c := cmplx.Conj(v)
	if b.Model == ConstantCurrent { // I = S*/Rated · v/|v|
		k := s / complex(b.Rated*u, 0)
		return k * v, k / 2, -k * v * v / complex(2*u*u, 0)
	}
	return s / c, 0, -s / (c * c)
}

// Demanded adds the current of an element's demand into the element, one entry
// for each row of its Y, at given voltages of these rows; with its derivatives
// by them and by their conjugates (row-major, nil where not wanted).
func (e *Element) Demanded(rotation phasor.Rotation, v, i, byV, byConj []complex128) {
	if e.Control != nil {
		e.controlled(rotation, v, i, byV, byConj)
		return
	}
	d := e.Demand
	if d == nil {
		return
	}
	scale := d.Scale
	if scale == 0 {
		scale = 1
	}
	m := len(v)
	for k := range d.Branches {
		b := &d.Branches[k]
		u := v[b.A]
		if b.B >= 0 {
			u -= v[b.B]
		}
		x, dv, dc := b.current(u, scale)
		i[b.A] += x
		if b.B >= 0 {
			i[b.B] -= x
		}
		if byV == nil {
			continue
		}
		for _, p := range [2]int{b.A, b.B} {
			for _, q := range [2]int{b.A, b.B} {
				if p < 0 || q < 0 {
					continue
				}
				sign := complex128(1)
				if p != q {
					sign = -1
				}
				byV[p*m+q] += sign * dv
				byConj[p*m+q] += sign * dc
			}
		}
	}
	if d.Sequence != 0 {
		e.inSequence(rotation, v, i, byV, byConj, func(v1 complex128) complex128 {
			low := LeastDemandVoltage * d.phase
			if u := magnitude(v1); u < low {
				return cmplx.Conj(d.Sequence) * complex(scale/3/(low*low), 0) * v1
			}
			return cmplx.Conj(d.Sequence * complex(scale/3, 0) / v1)
		})
	}
}

// controlled is Demanded of an inverter: minus what its control gives.
func (e *Element) controlled(rotation phasor.Rotation, v, i, byV, byConj []complex128) {
	_, _, v2 := rotation.Sequence([3]complex128(v))
	e.inSequence(rotation, v, i, byV, byConj, func(v1 complex128) complex128 {
		i1, _ := e.Control.Current(v1, v2, v1)
		return -i1
	})
	if e.Control.Gain2 > 0 {
		_, v1, _ := rotation.Sequence([3]complex128(v))
		if _, i2 := e.Control.Current(v1, v2, v1); i2 != 0 {
			for k, x := range rotation.Phases(0, 0, i2) {
				i[k] -= x // its derivative is left out: only a dip has it
			}
		}
	}
}

// inSequence adds a positive-sequence current that is a function of the
// positive-sequence voltage; derivatives by differences, which an iteration
// that measures its own mismatch can bear.
func (e *Element) inSequence(rotation phasor.Rotation, v, i, byV, byConj []complex128, law func(v1 complex128) complex128) {
	_, v1, _ := rotation.Sequence([3]complex128(v))
	i1 := law(v1)
	for k, x := range rotation.Phases(0, i1, 0) {
		i[k] += x
	}
	if byV == nil {
		return
	}
	h := 1e-6 * magnitude(v1)
	if h == 0 {
		return
	}
	dx := (law(v1+complex(h, 0)) - law(v1-complex(h, 0))) / complex(2*h, 0)
	dy := (law(v1+complex(0, h)) - law(v1-complex(0, h))) / complex(2*h, 0)
	dv, dc := (dx-1i*dy)/2, (dx+1i*dy)/2
	column := rotation.Phases(0, 1, 0) // phases of a unit of positive sequence
	for p := range 3 {
		for q := range 3 {
			var unit [3]complex128
			unit[q] = 1
			_, r, _ := rotation.Sequence(unit) // v1 by phase q
			byV[3*p+q] += column[p] * dv * r
			byConj[3*p+q] += column[p] * dc * cmplx.Conj(r)
		}
	}
}

// AddDemand adds a load that takes power or current: branches between the
// conductors of a bus, and to earth.
func (b *Builder) AddDemand(name string, bus int, phases quantity.Phases, branches []DemandBranch) (int, error) {
	n := phases.Count()
	for _, x := range branches {
		if x.A < 0 || x.A >= n || x.B >= n || x.A == x.B {
			return 0, fmt.Errorf("load %s: a branch between rows %d and %d of %d", name, x.A, x.B, n)
		}
		if !(x.Rated > 0) {
			return 0, fmt.Errorf("load %s: a branch without rated voltage", name)
		}
	}
	return b.add(Element{Name: name, Kind: Load, Terminals: []Terminal{{bus, phases}}, Y: make([]complex128, n*n),
		Demand: &Demand{Branches: branches}}), nil
}

// AddRunning adds a rotating machine as the load flow sees it: it takes the
// power s (VA, negative where it generates) in positive sequence at any
// voltage, and has its impedances in negative and zero sequence.
func (b *Builder) AddRunning(kind Kind, name string, bus int, d MachineData, s complex128) (int, error) {
	if d.Z2 == 0 {
		return 0, fmt.Errorf("%s %s has zero impedance", kind, name)
	}
	y0 := complex128(0)
	ties := []tie{{0, 1, 1}, {1, 2, 1}}
	if d.Neutral.Earthed {
		z := d.Z0 + 3*d.Neutral.Z
		if z == 0 {
			return 0, fmt.Errorf("%s %s has zero impedance in zero sequence", kind, name)
		}
		y0 = 1 / z
		ties = append(ties, tie{0, -1, 0})
	}
	y := b.Rotation.Circulant(y0, 0, 1/d.Z2)
	return b.add(Element{Name: name, Kind: kind, Terminals: []Terminal{{bus, abc}}, Y: y[:], ties: ties,
		Demand: &Demand{Sequence: s, phase: b.buses[bus].Nominal / math.Sqrt(3)}}), nil
}

// AddHeld adds a rotating machine that follows the network with the
// positive-sequence current i1 (A, into the network) at the voltage v1 (V to
// earth) before the fault: its voltage behind Z1 is v1 + Z1·i1.
func (b *Builder) AddHeld(kind Kind, name string, bus int, d MachineData, v1, i1 complex128) (int, error) {
	number, err := b.AddMachine(kind, name, bus, d)
	if err != nil {
		return 0, err
	}
	e := &b.elements[number]
	inject := b.Rotation.Phases(0, v1/d.Z1+i1, 0)
	e.Inject, e.passive = inject[:], nil
	return number, nil
}

// BranchMatrix is the admittance matrix over n rows of the branches of a load,
// each of its S at its rated voltage as an impedance.
func BranchMatrix(branches []DemandBranch, n int) []complex128 {
	y := make([]complex128, n*n)
	for _, b := range branches {
		a := cmplx.Conj(b.S) / complex(b.Rated*b.Rated, 0)
		y[b.A*n+b.A] += a
		if b.B >= 0 {
			y[b.B*n+b.B] += a
			y[b.A*n+b.B] -= a
			y[b.B*n+b.A] -= a
		}
	}
	return y
}

// LoadBranches shares a load's power equally among its branches.
//
//	s         complex power of all phases together, VA
//	v         line-to-line voltage, V
//	leg       voltage from a phase to the neutral, V: v/√3, or v/2 where two legs have a middle
//	phases    of the load; with N where its star point is that conductor
//
// Earthed wye: each phase to earth. Wye: each phase to N; without N its star
// point hangs free, and the load counts as the delta of the same power, which
// its terminals can't tell from it where its branches are equal impedances. A
// star of constant powers with a free star point has no definite state.
func LoadBranches(c Connection, phases quantity.Phases, s complex128, v, leg float64, model LoadModel) []DemandBranch {
	n := (phases & abc).Count()
	neutral := -1
	if phases.HasConductor(3) {
		neutral = n
	}
	var list []DemandBranch
	share := func(k int) complex128 { return s / complex(float64(k), 0) }
	switch {
	case c == EarthedWye:
		for k := range n {
			list = append(list, DemandBranch{k, -1, model, share(n), leg})
		}
	case c == Wye && neutral >= 0:
		for k := range n {
			list = append(list, DemandBranch{k, neutral, model, share(n), leg})
		}
	case n == 3:
		for k := range n {
			list = append(list, DemandBranch{k, (k + 1) % 3, model, share(3), v})
		}
	case n == 2:
		list = append(list, DemandBranch{0, 1, model, s, v})
	}
	return list
}
