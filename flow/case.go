package flow

import (
	"fmt"
	"maps"
	"math"
	"math/cmplx"
	"slices"
	"strings"

	"feederwright/network"
	"feederwright/quantity"
	"feederwright/study"
)

// A Case is one condition of a study, in service.
type Case struct {
	Doc   *study.Document
	Model *network.Model // with the taps where their controls leave them
	State study.State
	*Solution

	Controls []Control
	Hunting  []string // controls that come back to positions they left, without end
	Stepped  int      // rounds in which controls stepped

	hold map[string]float64 // multiple of the voltage of machines that hold an island
}

// A Control is a tap control, or one unit of it, as it ends.
type Control struct {
	Name  string // of the regulator or transformer
	Units []int  // that it moves, counted in the order of the connection
	Fixed bool   // the condition states the positions

	Position float64 // fraction
	Steps    int     // moved from where it started
	Measured float64 // V secondary, with the compensation
	Middle   float64 // V secondary
	Band     float64 // V secondary, whole width
	AtLimit  bool    // out of its band, and no step is left that way
	Bus      int     // where it measures

	rng         quantity.TapRange
	tap         int // steps from the lower end
	started     int
	delay       float64 // s
	transformer bool
	lowers      bool // a step up lowers the voltage: taps on the first winding
	control     *study.TapControl
	sum         quantity.SignedSum
	line        int // conductor whose current compensates; −1: as the sum
}

// mostSteps bounds the rounds of stepping: more than any chain of controls needs.
const mostSteps = 500

// usualDelay is the time delay of a control that states none (common
// practice, no source).
const usualDelay = 30 // s

// Open builds one condition and finds its state of service.
//
// Controls step in rounds. In each, of the controls that are out of their band
// and have a step left that way, those with the shortest delay move towards
// the band: by as many steps as certainly don't cross it, at least one. The
// state is found when none is left. Where a set of positions comes back, they
// hunt: the state is the one then found, and Hunting names them.
func Open(doc *study.Document, state study.State) (*Case, error) {
	c := &Case{Doc: doc, State: state}
	c.State.Regulator, c.State.Tap = maps.Clone(state.Regulator), maps.Clone(state.Tap)
	if c.State.Regulator == nil {
		c.State.Regulator = make(map[string]quantity.Positions)
	}
	if c.State.Tap == nil {
		c.State.Tap = make(map[string]quantity.Fraction)
	}
	c.findControls(state)
	seen := make(map[string]int)
	var history [][]int
	for {
		if err := c.build(); err != nil {
			return nil, err
		}
		if !c.Converged {
			return c, nil
		}
		key, taps := c.key()
		if first, again := seen[key]; again || c.Stepped == mostSteps {
			c.hunting(history[first:])
			c.Measure()
			return c, nil
		}
		seen[key] = len(history)
		history = append(history, taps)
		if !c.step() {
			return c, nil
		}
		c.Stepped++
	}
}

// build makes the network with the positions as they are and solves it.
func (c *Case) build() error {
	c.apply()
	m, err := network.FromStudyWith(c.Doc, c.State, network.Options{Flow: true})
	if err != nil {
		return err
	}
	c.Model = m
	c.hold = make(map[string]float64)
	for round := 0; ; round++ {
		if c.Solution, err = Solve(m.Network, Options{}); err != nil {
			return err
		}
		if !c.Converged || round == 50 || !c.holdIslands() {
			return nil
		}
	}
}

// holdIslands brings the machines that hold an island to their rated voltage,
// which their excitation keeps; it tells whether one was off.
func (c *Case) holdIslands() (moved bool) {
	n := c.Model.Network
	for i := range n.Elements {
		e := &n.Elements[i]
		if !e.Holds() || !n.Live(i) {
			continue
		}
		if c.hold[e.Name] == 0 {
			c.hold[e.Name] = 1
		}
		bus := e.Terminals[0].Bus
		want := n.Buses[bus].Nominal
		if s := c.Doc.SynchronousMachines.Find(e.Name); s != nil && s.Item.Voltage.Given {
			want = float64(s.Item.Voltage.V)
		}
		_, v1, _ := n.Rotation.Sequence([3]complex128{c.Voltage(bus, 0), c.Voltage(bus, 1), c.Voltage(bus, 2)})
		k := want / math.Sqrt(3) / cmplx.Abs(v1)
		if math.Abs(k-1) > 1e-9 {
			n.Hold(i, complex(k, 0))
			c.hold[e.Name] *= k
			moved = true
		}
	}
	return moved
}

// findControls lists the controls in service.
func (c *Case) findControls(state study.State) {
	one := func(conductors ...int8) (s quantity.SignedSum) { // +1 is A, −2 is minus B
		for _, k := range conductors {
			if k > 0 {
				s.Coefficient[k-1] = 1
			} else {
				s.Coefficient[-k-1] = -1
			}
		}
		return s
	}
	add := func(k Control, t *study.TapControl, position float64) {
		k.control, k.Middle, k.Band, k.delay = t, float64(t.Voltage.V), float64(t.Band.V), usualDelay
		if t.Delay.Given {
			k.delay = t.Delay.V.At(float64(c.Doc.Frequency.V))
		}
		if t.Measures.Given {
			k.sum, k.line = t.Measures.V, -1
		}
		k.tap = int(math.Round((position - k.rng.Min) / k.rng.Step()))
		k.tap = max(0, min(k.rng.Steps, k.tap))
		k.started = k.tap
		k.Position = k.rng.Min + float64(k.tap)*k.rng.Step()
		c.Controls = append(c.Controls, k)
	}
	for i := range c.Doc.Regulators.Entries {
		e := &c.Doc.Regulators.Entries[i]
		r := &e.Item
		if r.Control == nil || !r.Taps.Given || state.Out[study.PlantRef{Kind: "regulator", Name: e.Name}] {
			continue
		}
		positions := r.Position.V
		fixed, isFixed := state.Regulator[e.Name]
		if isFixed {
			positions = fixed
		}
		at := func(unit int) float64 {
			switch {
			case len(positions) == 1:
				return positions[0]
			case unit < len(positions):
				return positions[unit]
			}
			return 0
		}
		b, _ := c.Doc.Branch(e.Name)
		phases := c.Doc.BranchConductors(b, 1)
		var units []Control
		switch r.Connection.V {
		case "open-delta":
			units = []Control{{sum: one(1, -2), line: 0}, {sum: one(3, -2), line: 2}}
		case "closed-delta":
			units = []Control{{sum: one(1, -2), line: 0}, {sum: one(2, -3), line: 1}, {sum: one(3, -1), line: 2}}
		default:
			for _, p := range (phases & quantity.PhasesABC).Conductors() {
				s := one(int8(p + 1))
				if phases.HasConductor(3) {
					s.Coefficient[3] = -1
				}
				units = append(units, Control{sum: s, line: p})
			}
		}
		for u := range units {
			units[u].Name, units[u].rng, units[u].Fixed, units[u].Units = e.Name, r.Taps.V, isFixed, []int{u}
			if r.Control.Measures.Given {
				for o := range units[1:] {
					units[u].Units = append(units[u].Units, o+1)
				}
			}
			add(units[u], r.Control, at(u))
			if r.Control.Measures.Given {
				break
			}
		}
	}
	for i := range c.Doc.Transformers.Entries {
		e := &c.Doc.Transformers.Entries[i]
		t := &e.Item
		if t.Control == nil || !t.FromTaps.Given && !t.ToTaps.Given || state.Out[study.PlantRef{Kind: "transformer", Name: e.Name}] {
			continue
		}
		k := Control{Name: e.Name, Units: []int{0}, transformer: true, sum: one(1, -2), line: -1}
		position := float64(t.ToTap.V)
		k.rng = t.ToTaps.V
		if !t.ToTaps.Given {
			k.rng, k.lowers, position = t.FromTaps.V, true, float64(t.FromTap.V)
		}
		if fixed, ok := state.Tap[e.Name]; ok {
			k.Fixed, position = true, float64(fixed)
		}
		add(k, t.Control, position)
	}
}

// apply writes the positions into the state.
func (c *Case) apply() {
	for i := range c.Controls {
		k := &c.Controls[i]
		k.Steps = k.tap - k.started
		if k.Fixed {
			continue
		}
		k.Position = k.rng.Min + float64(k.tap)*k.rng.Step()
		if k.transformer {
			c.State.Tap[k.Name] = quantity.Fraction(k.Position)
			continue
		}
		all := slices.Clone(c.State.Regulator[k.Name])
		for _, u := range k.Units {
			for len(all) <= u {
				all = append(all, 0)
			}
			all[u] = k.Position
		}
		c.State.Regulator[k.Name] = all
	}
}

func (c *Case) key() (string, []int) {
	taps := make([]int, len(c.Controls))
	var b strings.Builder
	for i := range c.Controls {
		taps[i] = c.Controls[i].tap
		fmt.Fprintf(&b, "%d ", taps[i])
	}
	return b.String(), taps
}

// hunting names the controls that moved in a stretch of history.
func (c *Case) hunting(stretch [][]int) {
	for i := range c.Controls {
		for _, taps := range stretch {
			if taps[i] != stretch[0][i] && !slices.Contains(c.Hunting, c.Controls[i].Name) {
				c.Hunting = append(c.Hunting, c.Controls[i].Name)
			}
		}
	}
}

// Measure works out what each control measures, V secondary:
//
//	U = |ΣV/n − (R + jX)·I/I_r|
//
// ΣV is the voltage measured, n the ratio, R and X the compensation in V at
// the current I_r, I the current out of the regulated side: of the unit's
// conductor; of a voltage between two phases measured by a common control the
// difference of their currents over √3, which is in phase with that voltage at
// unity power factor.
func (c *Case) Measure() {
	n := c.Model.Network
	for i := range c.Controls {
		k := &c.Controls[i]
		k.Measured, k.AtLimit = math.NaN(), false
		element := n.BranchByName(k.Name)
		if element < 0 || !n.Live(element) {
			continue
		}
		e := &n.Elements[element]
		k.Bus = e.Terminals[1].Bus
		if k.control.Bus.Given {
			k.Bus = n.BusByName(string(k.control.Bus.V))
		}
		if k.Bus < 0 || n.Fed[k.Bus] == 0 {
			continue
		}
		u := complex128(0)
		for cond, s := range k.sum.Coefficient {
			u += complex(float64(s), 0) * c.Voltage(k.Bus, cond)
		}
		u /= complex(k.control.Ratio.V.Primary/k.control.Ratio.V.Secondary, 0)
		if t := k.control; t.DropCurrent.Given && t.DropCurrent.V > 0 {
			out := Terminal(e, c.Currents(element), 1)
			current := complex128(0)
			if k.line >= 0 {
				current = -out[k.line]
			} else {
				count := 0
				for cond, s := range k.sum.Coefficient[:3] {
					current -= complex(float64(s), 0) * out[cond]
					if s != 0 {
						count++
					}
				}
				if count == 2 {
					current /= complex(math.Sqrt(3), 0)
				}
			}
			u -= complex(float64(t.DropR.V), float64(t.DropX.V)) * current / complex(float64(t.DropCurrent.V), 0)
		}
		k.Measured = cmplx.Abs(u)
	}
}

// bandRounding is how far outside its band, in V secondary, still counts as
// inside: rounding of the solution.
const bandRounding = 1e-6

// step moves the controls that are next to move; it tells whether one did.
func (c *Case) step() bool {
	c.Measure()
	shortest := math.Inf(1)
	move := make([]int, len(c.Controls))
	for i := range c.Controls {
		k := &c.Controls[i]
		off := k.Measured - k.Middle
		excess := math.Abs(off) - k.Band/2
		if !(excess > bandRounding) { // NaN: nothing to measure
			continue
		}
		// One step changes the voltage by about its part of it.
		steps := max(1, int(excess/(k.Middle*k.rng.Step())))
		if (off > 0) != k.lowers {
			steps = -steps
		}
		to := max(0, min(k.rng.Steps, k.tap+steps))
		if k.Fixed || to == k.tap {
			k.AtLimit = !k.Fixed
			continue
		}
		move[i] = to - k.tap
		shortest = min(shortest, k.delay)
	}
	moved := false
	for i := range c.Controls {
		if k := &c.Controls[i]; move[i] != 0 && k.delay == shortest {
			k.tap += move[i]
			moved = true
		}
	}
	return moved
}

// OutOfBand tells whether a control measures a voltage outside its band.
func (k *Control) OutOfBand() bool { return math.Abs(k.Measured-k.Middle) > k.Band/2+bandRounding }

// Held is the state as a network for faults starts from it; see
// network.Options. Only a state that is found can be held.
func (c *Case) Held() *network.Held {
	n := c.Model.Network
	h := &network.Held{Loads: make(map[string][]complex128), Machines: make(map[study.PlantRef][2]complex128), Scale: c.hold}
	for i := range n.Elements {
		e := &n.Elements[i]
		if !n.Live(i) {
			continue
		}
		t := e.Terminals[0]
		switch {
		case e.Kind == network.Load && e.Demand == nil:
			h.Loads[e.Name] = e.Y
		case e.Kind == network.Load:
			var v []complex128
			for _, cond := range t.Phases.Conductors() {
				v = append(v, c.V[n.Unknown(t.Bus, cond)])
			}
			h.Loads[e.Name] = e.ImpedanceAt(v, 1)
		case e.Demand != nil && n.Fed[t.Bus]&quantity.PhasesABC == quantity.PhasesABC:
			_, v1, _ := n.Rotation.Sequence([3]complex128{c.Voltage(t.Bus, 0), c.Voltage(t.Bus, 1), c.Voltage(t.Bus, 2)})
			own := make([]complex128, 3)
			e.Demanded(n.Rotation, []complex128{c.Voltage(t.Bus, 0), c.Voltage(t.Bus, 1), c.Voltage(t.Bus, 2)}, own, nil, nil)
			_, i1, _ := n.Rotation.Sequence([3]complex128(own))
			h.Machines[study.PlantRef{Kind: string(e.Kind), Name: e.Name}] = [2]complex128{v1, -i1}
		}
	}
	return h
}

// PhaseName is the study's name of a conductor: A or L1, and N.
func (c *Case) PhaseName(conductor int) string {
	if c.Doc.Phases.V == "L123" {
		return [4]string{"L1", "L2", "L3", "N"}[conductor]
	}
	return [4]string{"A", "B", "C", "N"}[conductor]
}
