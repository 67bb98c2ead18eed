package network

import (
	"fmt"
	"math"

	"feederwright/sparse"
)

const (
	InductionMachine   Kind = "induction machine"
	SynchronousMachine Kind = "synchronous machine"
	Inverter           Kind = "inverter"
)

// A MachineData is a rotating machine as a positive-sequence voltage behind
// its impedance, for the instant after a fault.
//
//	Z1, Z2   positive- and negative-sequence impedance       ohm at the bus
//	Z0       zero-sequence impedance, without the neutral's  ohm; unused where the neutral is open
//	Neutral  of its wye; not earthed for a delta, and for most motors
type MachineData struct {
	Z1, Z2, Z0 complex128
	Neutral    NeutralPoint
}

// AddMachine adds a rotating machine that follows the network: its voltage is
// such that no positive-sequence current flows before the fault. In negative
// and zero sequence it has no voltage and carries what the unbalance drives.
//
// A machine does not feed by itself: where nothing else does, its bus is dead.
// One that holds an island is an infeed with the same impedances.
func (b *Builder) AddMachine(kind Kind, name string, bus int, d MachineData) (int, error) {
	if d.Z1 == 0 || d.Z2 == 0 {
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
	y := b.Rotation.Circulant(y0, 1/d.Z1, 1/d.Z2)
	passive := b.Rotation.Circulant(y0, 0, 1/d.Z2)
	return b.add(Element{Name: name, Kind: kind, Terminals: []Terminal{{bus, abc}}, Y: y[:], ties: ties,
		y1: 1 / d.Z1, passive: passive[:]}), nil
}

// Following tells whether machines that follow the network are in service.
func (n *Network) Following() bool {
	for i := range n.Elements {
		if n.Elements[i].passive != nil && n.Live(i) {
			return true
		}
	}
	return false
}

// WithoutMachines is the matrix with the machines that follow open in positive
// sequence, and the right-hand side of the sources proper: what they follow.
func (n *Network) WithoutMachines() (*sparse.Matrix, []complex128) {
	without := n.Matrix.Clone()
	source := append([]complex128(nil), n.Source...)
	for i := range n.Elements {
		e := &n.Elements[i]
		if e.passive == nil || !n.Live(i) {
			continue
		}
		bus := e.Terminals[0].Bus
		for c := 0; c < 3; c++ {
			for d := 0; d < 3; d++ {
				n.addTo(without, bus, c, bus, d, e.passive[3*c+d]-e.Y[3*c+d])
			}
			if e.Inject != nil {
				source[n.Unknown(bus, c)] -= e.Inject[c]
			}
		}
	}
	return without, source
}

// Follow sets the voltage of each machine that follows to the
// positive-sequence voltage found at its bus among node voltages v, which are
// those of WithoutMachines with all that flows before the fault.
func (n *Network) Follow(v []complex128) {
	for i := range n.Elements {
		e := &n.Elements[i]
		if e.passive == nil || !n.Live(i) {
			continue
		}
		bus := e.Terminals[0].Bus
		var at [3]complex128
		for c := range at {
			at[c] = v[n.Unknown(bus, c)]
		}
		_, v1, _ := n.Rotation.Sequence(at)
		i1 := n.Rotation.Phases(0, e.y1*v1, 0)
		for c := range i1 {
			u := n.Unknown(bus, c)
			if e.Inject != nil {
				n.Source[u] -= e.Inject[c]
			}
			n.Source[u] += i1[c]
		}
		e.Inject = i1[:]
	}
}

// follow sets the machines' voltages to those of the network without them,
// inverters giving nothing.
func (n *Network) follow() error {
	if !n.Following() {
		return nil
	}
	without, source := n.WithoutMachines()
	factor, err := without.Factor()
	if err != nil {
		return fmt.Errorf("before the machines' voltages can be found: %w", err)
	}
	v := make([]complex128, n.dim)
	factor.SolveRefined(without, source, v)
	n.Follow(v)
	return nil
}

// A FaultResponse is what an inverter's control does in a voltage dip.
type FaultResponse string

const (
	// ActiveCurrent: power as before, its current at the limit where the
	// voltage is too low for it; in phase with the voltage.
	ActiveCurrent FaultResponse = "active"
	// ReactiveCurrent: below Threshold the whole limit as reactive current.
	ReactiveCurrent FaultResponse = "reactive"
	// SupportCurrent: below Threshold reactive current in proportion to the dip,
	// active current with what the limit leaves.
	SupportCurrent FaultResponse = "support"
)

// An InverterData is a source whose current its control decides.
//
//	Rated       rated voltage, line-to-line                             V
//	Power       rated apparent power                                    VA
//	Output      complex power given before the fault, P + jQ            VA
//	Limit       largest current, over rated current                     –
//	Response    see there
//	Threshold   positive-sequence voltage, over rated, below which it
//	            counts as a dip                                         –
//	Gain        reactive current per voltage drop, over rated values
//	            (SupportCurrent)                                        –
//	Gain2       negative-sequence reactive current per negative-sequence
//	            voltage, over rated values; 0: none                     –
//	Ceases      positive-sequence voltage, over rated, below which it
//	            gives no current; 0: rides through every dip            –
type InverterData struct {
	Rated, Power    float64
	Output          complex128
	Limit           float64
	Response        FaultResponse
	Threshold, Gain float64
	Gain2           float64
	Ceases          float64
}

// AddInverter adds a current-limited source. It has no admittance: its current
// is a function of the voltage at its bus, see Current, and the fault solution
// iterates on it.
func (b *Builder) AddInverter(name string, bus int, d InverterData) (int, error) {
	if d.Power <= 0 || d.Rated <= 0 || d.Limit <= 0 {
		return 0, fmt.Errorf("inverter %s: its rated power, voltage and current limit must be above zero", name)
	}
	return b.add(Element{Name: name, Kind: Inverter, Terminals: []Terminal{{bus, abc}}, Y: make([]complex128, 9),
		Control: &d}), nil
}

// RatedCurrent is the rated current of an inverter, A.
func (d *InverterData) RatedCurrent() float64 { return d.Power / (math.Sqrt(3) * d.Rated) }

// leastVoltage: below this part of rated voltage an inverter can't tell the
// angle, and keeps that of before the fault.
const leastVoltage = 0.01

// Current is what an inverter gives, in A of positive and negative sequence
// into the network, at the sequence voltages v1 and v2 (V to earth); memory is
// the positive-sequence voltage before the fault.
//
// The limit holds for the sum of both magnitudes, which bounds every phase;
// where it is exceeded, reactive current of the positive sequence goes first,
// then of the negative sequence, then active current. Power of before the
// fault keeps its power factor.
func (d *InverterData) Current(v1, v2, memory complex128) (i1, i2 complex128) {
	base := d.Rated / math.Sqrt(3)
	rated := d.RatedCurrent()
	u := magnitude(v1) / base
	if u < d.Ceases {
		return 0, 0
	}
	direction := v1
	if u < leastVoltage && memory != 0 {
		direction = memory
	}
	if direction == 0 {
		return 0, 0
	}
	direction /= complex(magnitude(direction), 0)
	limit := d.Limit
	// Per unit of rated: p active, q reactive delivered (lagging current).
	p, q := real(d.Output)/d.Power, imag(d.Output)/d.Power
	// The power of before, at most the limit, with the power factor of before.
	whole := math.Sqrt(p*p + q*q)
	active, reactive := 0.0, 0.0
	if whole > 0 {
		current := limit
		if u > 0 {
			current = min(whole/u, limit)
		}
		active, reactive = current*p/whole, current*q/whole
	}
	if u < d.Threshold {
		switch d.Response {
		case ReactiveCurrent:
			active, reactive = 0, limit
		case SupportCurrent:
			reactive += d.Gain * (d.Threshold - u)
		}
	}
	reactive = max(-limit, min(limit, reactive))
	negative := 0.0
	if d.Gain2 > 0 && u < d.Threshold {
		negative = min(d.Gain2*magnitude(v2)/base, limit-math.Abs(reactive))
	}
	if left := limit - negative; active*active+reactive*reactive > left*left {
		active = math.Copysign(math.Sqrt(max(0, left*left-reactive*reactive)), active)
	}
	i1 = complex(rated, 0) * complex(active, -reactive) * direction
	if negative > 0 {
		// Drawn like a reactor by the negative-sequence voltage, so that it lowers it.
		i2 = complex(0, rated*negative) * v2 / complex(magnitude(v2), 0)
	}
	return i1, i2
}

// magnitude is cmplx.Abs for volts and amperes, which are far from the ends of
// the range of floating-point numbers that it guards.
func magnitude(x complex128) float64 { return math.Sqrt(real(x)*real(x) + imag(x)*imag(x)) }

// addTo adds to an entry of another matrix of the same pattern.
func (n *Network) addTo(m *sparse.Matrix, busI, c, busJ, d int, y complex128) {
	i, j := n.Node[busI], n.Node[busJ]
	m.AddAt(i, position(n.nodePhases[i], c), j, position(n.nodePhases[j], d), y)
}
