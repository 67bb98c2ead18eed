package network

import (
	"fmt"

	"feederwright/quantity"
)

const (
	Regulator Kind = "regulator"
	Reactor   Kind = "reactor"
)

// A RegulatorConnection says what the exciting windings of the units of a
// step-voltage regulator stand between.
type RegulatorConnection string

const (
	RegulatorWye         RegulatorConnection = "wye"          // each phase and the neutral: conductor N where the buses have it, else earth
	RegulatorOpenDelta   RegulatorConnection = "open-delta"   // A-B and C-B; B passes straight through
	RegulatorClosedDelta RegulatorConnection = "closed-delta" // A-B, B-C and C-A
)

// A RegulatorData is a step-voltage regulator, or a booster transformer.
//
//	Connection  of the exciting windings
//	Ratio       of each unit, second side over first, in the order of the
//	            phases; for open-delta of A-B and C-B, for closed-delta of A-B, B-C and C-A
//	Z           series impedance of each phase, seen from the second side      ohm
//
// A conductor N passes straight through, with BridgeImpedance.
type RegulatorData struct {
	Connection RegulatorConnection
	Ratio      []float64
	Z          complex128
}

// AddRegulator adds single-phase regulating units as ideal ratios with a
// series impedance behind them.
//
//	V_to = M·V_from − Z·I_to      I_from = Mᵀ·I_to
//
//	wye           M = diag(r); to N where the buses have one: V − V_N is what is regulated
//	open delta    V_to,A − V_to,B = r_1·(V_A − V_B), V_to,C − V_to,B = r_2·(V_C − V_B), V_to,B = V_B
//	closed delta  V_A − V_to,B = (V_to,A − V_to,B)/r_1, and so on round: the exciting
//	              winding of a unit ends at the regulated side of the next phase
//
// Source: derivation from the connections; those of W. H. Kersting,
// Distribution System Modeling and Analysis, chapter 7 [from memory], are the same.
func (b *Builder) AddRegulator(name string, from, to int, phases quantity.Phases, d RegulatorData) (int, error) {
	fail := func(format string, args ...any) (int, error) {
		return 0, fmt.Errorf("regulator %s: "+format, append([]any{name}, args...)...)
	}
	if d.Z == 0 {
		return fail("zero impedance")
	}
	list := phases.Conductors()
	n := len(list)
	n4 := position(phases, 3)
	hasN := phases.HasConductor(3)
	live := n
	if hasN {
		live--
	}
	want := live
	switch d.Connection {
	case RegulatorOpenDelta:
		want = 2
	case RegulatorClosedDelta:
		want = 3
	}
	if d.Connection != RegulatorWye && phases&abc != abc {
		return fail("a delta connection needs the phases A, B and C")
	}
	if len(d.Ratio) != want {
		return fail("%d ratios for %d units", len(d.Ratio), want)
	}
	for _, r := range d.Ratio {
		if r <= 0 {
			return fail("a ratio of %g", r)
		}
	}
	// M, n×n.
	m := make([]complex128, n*n)
	ratio := func(i int) complex128 { return complex(d.Ratio[i], 0) }
	var ties []tie
	switch d.Connection {
	case RegulatorWye:
		for i := 0; i < live; i++ {
			m[i*n+i] = ratio(i)
			if hasN { // V_to − V_to,N = r·(V − V_N) with V_to,N = V_N
				m[i*n+n4] = 1 - ratio(i)
			} else {
				ties = append(ties, tie{n + i, i, d.Ratio[i]})
			}
		}
		if hasN {
			m[n4*n+n4] = 1
			for i := 0; i < n; i++ {
				ties = append(ties, tie{n + i, i, 1})
			}
		}
	case RegulatorOpenDelta:
		m[0], m[1] = ratio(0), 1-ratio(0)
		m[n+1] = 1
		m[2*n+2], m[2*n+1] = ratio(1), 1-ratio(1)
	default:
		back := []complex128{
			1 / ratio(0), 1 - 1/ratio(0), 0,
			0, 1 / ratio(1), 1 - 1/ratio(1),
			1 - 1/ratio(2), 0, 1 / ratio(2)}
		inverse, err := invert(back, 3)
		if err != nil {
			return fail("these positions leave no ratio")
		}
		for i := 0; i < 3; i++ {
			copy(m[i*n:i*n+3], inverse[i*3:i*3+3])
		}
	}
	if d.Connection != RegulatorWye {
		if hasN {
			m[n4*n+n4] = 1
		}
		for i := 0; i < 3; i++ {
			ties = append(ties, tie{n + i, i, 1})
		}
		if hasN {
			ties = append(ties, tie{n + n4, n4, 1})
		}
	}
	size := 2 * n
	e := Element{Name: name, Kind: Regulator, Terminals: []Terminal{{from, phases}, {to, phases}},
		Y: make([]complex128, size*size), ties: ties}
	for i := 0; i < n; i++ {
		y := 1 / seriesOf(list[i], d.Z)
		e.Y[(n+i)*size+n+i] += y
		e.feeds = append(e.feeds, [2]int{i, n + i})
		for j := 0; j < n; j++ {
			e.Y[(n+i)*size+j] -= y * m[i*n+j]
			e.Y[j*size+n+i] -= y * m[i*n+j]
			for k := 0; k < n; k++ {
				e.Y[j*size+k] += y * m[i*n+j] * m[i*n+k]
			}
		}
	}
	return b.add(e), nil
}

// seriesOf is the series impedance of a conductor in plant that stands in the
// phases alone.
func seriesOf(conductor int, z complex128) complex128 {
	if conductor == neutral {
		return BridgeImpedance
	}
	return z
}

// AddReactor adds equal impedances z (ohm) in series in each phase, without
// coupling between them. A conductor N passes straight through, with
// BridgeImpedance.
func (b *Builder) AddReactor(name string, from, to int, phases quantity.Phases, z complex128) (int, error) {
	if z == 0 {
		return 0, fmt.Errorf("reactor %s has zero impedance", name)
	}
	n := phases.Count()
	m := 2 * n
	e := Element{Name: name, Kind: Reactor, Terminals: []Terminal{{from, phases}, {to, phases}}, Y: make([]complex128, m*m)}
	for i, c := range phases.Conductors() {
		y := 1 / seriesOf(c, z)
		e.Y[i*m+i], e.Y[(n+i)*m+n+i] = y, y
		e.Y[i*m+n+i], e.Y[(n+i)*m+i] = -y, -y
		e.ties = append(e.ties, tie{i, n + i, 1})
		e.feeds = append(e.feeds, [2]int{i, n + i})
	}
	return b.add(e), nil
}
