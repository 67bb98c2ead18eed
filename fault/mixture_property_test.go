package fault_test

import (
	"fmt"
	"math"
	"math/cmplx"
	"math/rand"
	"testing"

	"feederwright/fault"
	"feederwright/network"
)

// Laws of any network, on random networks of all kinds of plant. They need no
// second calculation: what is known is how results before and after a change
// are related. All expected values are derived: from the law named.

// Kirchhoff's current law at every conductor of every bus, of what is watched:
// currents into all plant with the inverters', through switches, and into the fault.
// And in a line without charging: what enters its ends is what is drawn inside.
func TestLawsKirchhoff(t *testing.T) {
	laws(t, 10_000, 60, func(t *testing.T, r *rand.Rand, p *mixture) (states int) {
		w, err := p.open()
		if err != nil || w.unreturned() {
			return 0
		}
		for range 4 {
			parts := w.drawParts(r, w.n)
			if len(parts) == 0 {
				continue
			}
			x, err := w.shoot(parts)
			if err != nil || w.tuned(x) {
				continue
			}
			states++
			// Held whether inverters have settled or not: their currents are those given.
			sum := make([][4]complex128, len(w.buses))
			for i, piece := range w.pieces {
				for k, terminal := range piece.terminals {
					for _, c := range terminal.Phases.Conductors() {
						sum[terminal.Bus][c] += x.current[i][k][c]
					}
				}
			}
			for i, s := range p.switches {
				for c := range 4 {
					sum[s.from][c] += x.through[i][c]
					sum[s.to][c] -= x.through[i][c]
				}
			}
			for _, part := range x.parts {
				if part.Break == fault.NoBreak && part.Place.Line < 0 {
					for c := range 4 {
						sum[part.Place.Bus][c] += part.I[c]
					}
				}
			}
			power := w.power(x)
			for b, bus := range w.buses {
				for _, c := range w.n.Fed[b].Conductors() {
					if limit := everythingTolerance * power / bus.vll; !(cmplx.Abs(sum[b][c]) <= limit) {
						t.Errorf("%s currents at %s.%c sum to %.3g A, more than %.3g", w.describe(parts), bus.name, "ABCN"[c], cmplx.Abs(sum[b][c]), limit)
					}
				}
			}
			for i, piece := range w.pieces {
				if piece.kind != network.Line || piece.y != nil || !w.n.Live(piece.element) {
					continue
				}
				inside := [4]complex128{}
				for _, part := range x.parts {
					if part.Place.Line == piece.element || part.Break != fault.NoBreak && part.Element == piece.element && part.Terminal >= 0 {
						for c := range inside {
							inside[c] += part.I[c]
						}
					}
				}
				for _, c := range piece.terminals[0].Phases.Conductors() {
					in := x.current[i][0][c] + x.current[i][1][c]
					if limit := everythingTolerance * power / w.buses[piece.terminals[0].Bus].vll; !(cmplx.Abs(in-inside[c]) <= limit) {
						t.Errorf("%s %v enters %s.%c and %v is drawn inside", w.describe(parts), in, piece.name, "ABCN"[c], inside[c])
					}
				}
			}
		}
		return states
	})
}

// Names of phases carry no physics: A→B→C→A everywhere turns every result, and
// two names exchanged, with the rotation, exchange them.
func TestLawsRelabelling(t *testing.T) {
	laws(t, 20_000, 100, func(t *testing.T, r *rand.Rand, p *mixture) int {
		names := [][3]int{{1, 2, 0}, {2, 0, 1}, {0, 2, 1}, {2, 1, 0}, {1, 0, 2}}[r.Intn(5)]
		if !p.relabels(names) {
			return 0
		}
		q, m := p.relabel(names)
		return m.agree(t, r, p, q, 4, nil)
	})
}

// The order in which a study lists things carries none either.
func TestLawsOrder(t *testing.T) {
	laws(t, 30_000, 60, func(t *testing.T, r *rand.Rand, p *mixture) int {
		q, m := p.reordered(r)
		return m.agree(t, r, p, q, 4, nil)
	})
}

// Nor does it matter which end of a branch is written first, or which winding.
func TestLawsDirection(t *testing.T) {
	laws(t, 40_000, 80, func(t *testing.T, r *rand.Rand, p *mixture) int {
		q, m := p.turned(r)
		return m.agree(t, r, p, q, 4, nil)
	})
}

// All source voltages times a complex number: all results times that number.
func TestLawsScaling(t *testing.T) {
	laws(t, 50_000, 50, func(t *testing.T, r *rand.Rand, p *mixture) int {
		q, m := p.driven(cmplx.Rect(math.Exp2(4*r.Float64()-2), 2*math.Pi*r.Float64()))
		return m.agree(t, r, p, q, 4, nil)
	})
}

// Voltages of each galvanic part times a factor of its own, with impedances
// times its square: powers are as before.
func TestLawsBase(t *testing.T) {
	laws(t, 60_000, 60, func(t *testing.T, r *rand.Rand, p *mixture) int {
		q, m := p.rebased(r)
		return m.agree(t, r, p, q, 4, nil)
	})
}

// Two halves in parallel are the whole, and carry half each.
func TestLawsHalves(t *testing.T) {
	laws(t, 70_000, 100, func(t *testing.T, r *rand.Rand, p *mixture) int {
		q, m := p.halved(r)
		return m.agree(t, r, p, q, 4, func(part fault.Part) bool {
			// A fault inside one half is another than inside both.
			element := part.Place.Line
			if part.Break != fault.NoBreak && part.Terminal >= 0 {
				element = part.Element
			}
			for i, x := range p.pieces {
				if x.element == element && len(m.pieces[i]) > 1 && (part.Break != fault.NoBreak || part.Place.Line >= 0) {
					return false
				}
			}
			return true
		})
	})
}

// A piece behind open switches is no piece. And a line without charging, or a
// reactor, that is connected at one end alone is none either.
func TestLawsTakenOut(t *testing.T) {
	laws(t, 80_000, 80, func(t *testing.T, r *rand.Rand, p *mixture) int {
		out := r.Intn(len(p.pieces))
		x := p.pieces[out]
		p = p.clone() // names of elements are those of its pieces
		without, whole := p.clone(), p.clone()
		without.pieces = append(append([]*piece(nil), without.pieces[:out]...), without.pieces[out+1:]...)
		m := &match{}
		for i := range p.pieces {
			switch {
			case i < out:
				m.pieces = append(m.pieces, []int{i})
			case i == out:
				m.pieces = append(m.pieces, nil)
			default:
				m.pieces = append(m.pieces, []int{i - 1})
			}
		}
		hanging := -1
		if (x.kind == network.Line && x.y == nil || x.kind == network.Reactor) && r.Intn(2) == 0 {
			hanging = r.Intn(2)
		}
		for k := range x.terminals {
			if k == hanging {
				continue
			}
			terminal := &whole.pieces[out].terminals[k]
			b := len(whole.buses)
			whole.buses = append(whole.buses, planBus{fmt.Sprintf("behind %d", k), terminal.Phases, whole.buses[terminal.Bus].vll})
			whole.switches = append(whole.switches, planSwitch{fmt.Sprintf("open %d", k), terminal.Bus, b, false})
			terminal.Bus = b
		}
		for b := range whole.buses {
			m.bus = append(m.bus, b)
			if b >= len(p.buses) {
				m.bus[b] = -1
			}
		}
		return m.agree(t, r, whole, without, 4, func(part fault.Part) bool {
			removed := whole.pieces[out].element
			return part.Place.Line != removed && !(part.Break != fault.NoBreak && part.Terminal >= 0 && part.Element == removed) &&
				part.Place.Bus < len(p.buses)
		})
	})
}

// A port is two conductors of a bus, or one and earth, that a current may be
// drawn from: not where part of it would have to leave a part without earth.
type port struct {
	bus  int
	kind fault.Kind
}

func (w *solved) ports() (list []port) {
	for b := range w.buses {
		for _, k := range fault.All(w.n.Fed[b]) {
			c := k.Conductors().Conductors()
			first, weight := w.n.FloatingOf(w.n.Unknown(b, c[0]))
			switch k.Type {
			case fault.LineEarth:
				if first < 0 {
					list = append(list, port{b, k})
				}
			case fault.LineLine, fault.LineNeutral:
				second, other := w.n.FloatingOf(w.n.Unknown(b, c[1]))
				if first == second && (first < 0 || math.Abs(weight-other) < 1e-9) {
					list = append(list, port{b, k})
				}
			}
		}
	}
	return list
}

// across is the voltage of a port.
func (p port) across(v [][4]complex128) complex128 {
	c := p.kind.Conductors().Conductors()
	if len(c) == 1 {
		return v[p.bus][c[0]]
	}
	return v[p.bus][c[0]] - v[p.bus][c[1]]
}

// draw gives what a port's current changes, per ampere: the voltages to earth,
// and the currents. It is not ok where the fault draws too little to divide by.
func (w *solved) draw(t *testing.T, p port, before shot) (x shot, ok bool) {
	t.Helper()
	base := w.buses[p.bus].vll * w.buses[p.bus].vll / baseVA
	x, err := w.shoot([]fault.Part{shortPart(fault.AtBus(p.bus), p.kind, base/10)})
	if err != nil {
		t.Errorf("%s at %s: %v", p.kind, w.buses[p.bus].name, err)
		return x, false
	}
	i := x.result.I[p.kind.Conductors().Conductors()[0]]
	if cmplx.Abs(i) < 1e-3*baseVA/w.buses[p.bus].vll || w.tuned(x) {
		return x, false
	}
	change := func(x, before [4]complex128) [4]complex128 {
		for c := range x {
			x[c] = (x[c] - before[c]) / i
		}
		return x
	}
	for b := range x.voltage {
		x.voltage[b] = change(x.voltage[b], before.voltage[b])
	}
	for k := range x.current {
		for j := range x.current[k] {
			x.current[k][j] = change(x.current[k][j], before.current[k][j])
		}
	}
	return x, true
}

// reciprocal leaves out what is not reciprocal: inverters; and makes the
// negative-sequence impedances of infeeds and machines the positive-sequence ones.
func (p *mixture) reciprocal() *mixture {
	q := p.only(func(x *piece) bool { return x.kind != network.Inverter })
	for _, x := range q.pieces {
		x.infeed.Z2, x.machine.Z2 = x.infeed.Z1, x.machine.Z1
	}
	return q
}

// The voltage at one port for a current at another is the voltage at the
// other for that current at the one.
func TestLawsReciprocity(t *testing.T) {
	laws(t, 90_000, 60, func(t *testing.T, r *rand.Rand, p *mixture) (states int) {
		w, err := p.reciprocal().open()
		if err != nil || w.tuned(w.before()) {
			return 0
		}
		ports, before := w.ports(), w.before()
		if len(ports) == 0 {
			return 0
		}
		for range 4 {
			a, b := ports[r.Intn(len(ports))], ports[r.Intn(len(ports))]
			x, ok1 := w.draw(t, a, before)
			y, ok2 := w.draw(t, b, before)
			if !ok1 || !ok2 {
				continue
			}
			states++
			ab, ba := b.across(x.voltage), a.across(y.voltage)
			limit := everythingTolerance * math.Sqrt(cmplx.Abs(a.across(x.voltage))*cmplx.Abs(b.across(y.voltage)))
			if !(cmplx.Abs(ab-ba) <= limit) {
				t.Errorf("%s at %s and %s at %s: %v ohm one way, %v the other", a.kind, w.buses[a.bus].name, b.kind, w.buses[b.bus].name, ab, ba)
			}
		}
		return states
	})
}

// heated adds to the resistance of the lines without charging, on the diagonal
// as heat does; it returns what was added, by piece and conductor.
func (p *mixture) heated(r *rand.Rand) (*mixture, map[int][4]float64) {
	q := p.clone()
	added := map[int][4]float64{}
	for i, x := range q.pieces {
		if x.kind != network.Line || x.y != nil {
			continue
		}
		x.z = append([]complex128(nil), x.z...)
		var list [4]float64
		n := x.terminals[0].Phases.Count()
		for k, c := range x.terminals[0].Phases.Conductors() {
			list[c] = (0.2 + r.Float64()) * cmplx.Abs(x.z[k*n+k])
			x.z[k*n+k] += complex(list[c], 0)
		}
		added[i] = list
	}
	return q, added
}

// What heat adds to the impedance of a fault's loop is, exactly,
//
//	Z_hot − Z_cold = Σ ΔR·i_hot·i_cold
//
//	i   current in each heated conductor for one ampere drawn at the port
//
// in any reciprocal network, radial or not.
//
// Source: Tellegen's theorem for the two networks; its differential form is in
// R. M. Cohn, Proc. IRE 38 (1950) [from memory].
func TestLawsHeat(t *testing.T) {
	laws(t, 100_000, 60, func(t *testing.T, r *rand.Rand, p *mixture) (states int) {
		p = p.reciprocal()
		q, added := p.heated(r)
		cold, err1 := p.open()
		hot, err2 := q.open()
		if err1 != nil || err2 != nil || len(added) == 0 {
			return 0
		}
		coldBefore, hotBefore := cold.before(), hot.before()
		if cold.tuned(coldBefore) || hot.tuned(hotBefore) {
			return 0
		}
		ports := cold.ports()
		if len(ports) == 0 {
			return 0
		}
		for range 4 {
			a := ports[r.Intn(len(ports))]
			x, ok1 := cold.draw(t, a, coldBefore)
			y, ok2 := hot.draw(t, a, hotBefore)
			if !ok1 || !ok2 {
				continue
			}
			zc, zh := -a.across(x.voltage), -a.across(y.voltage)
			want := complex128(0)
			for i, list := range added {
				for c, dr := range list {
					want += complex(dr, 0) * x.current[i][0][c] * y.current[i][0][c]
				}
			}
			full := max(cmplx.Abs(zc), cmplx.Abs(zh))
			if cmplx.Abs(want) > 1e-3*full {
				states++
			}
			if !(cmplx.Abs(zh-zc-want) <= everythingTolerance*full) {
				t.Errorf("%s at %s: heat adds %v ohm to the loop, want %v", a.kind, cold.buses[a.bus].name, zh-zc, want)
			}
			for _, w := range []struct{ loop, want complex128 }{{x.result.Loop, zc}, {y.result.Loop, zh}} {
				if !(cmplx.Abs(w.loop-w.want) <= everythingTolerance*full) {
					t.Errorf("%s at %s: loop impedance %v ohm, the voltage over the current %v", a.kind, cold.buses[a.bus].name, w.loop, w.want)
				}
			}
		}
		return states
	})
}

// On a radial feeder with one infeed, no load and no way through earth the
// currents of a line-to-line fault divide nowhere: i is real in every conductor.
// So heat adds resistance alone to the loop, and hot conductors carry less.
func TestLawsHotCarriesLess(t *testing.T) {
	laws(t, 110_000, 60, func(t *testing.T, r *rand.Rand, p *mixture) (states int) {
		infeeds := 0
		parallel := map[[2]int]bool{}
		p = p.only(func(x *piece) bool {
			switch x.kind {
			case network.Infeed:
				infeeds++
				return infeeds == 1
			case network.Line:
				ends := [2]int{x.terminals[0].Bus, x.terminals[1].Bus}
				first := !parallel[ends]
				parallel[ends] = true
				return first
			case network.Regulator:
				return !x.terminals[0].Phases.HasConductor(3)
			case network.Transformer, network.ThreeWindingTransformer, network.Reactor:
				return true
			}
			return false // banks of unequal units in closed delta divide currents
		})
		for _, x := range p.pieces {
			x.y = nil
			x.infeed.Open = true
			x.trafo.From, x.trafo.To, x.three.Point = network.NeutralPoint{}, network.NeutralPoint{}, [3]network.NeutralPoint{}
			if x.kind == network.Regulator && x.reg.Connection == network.RegulatorWye {
				for i := range x.reg.Ratio { // unequal ones give a residual current, which returns by all earthed neutrals
					x.reg.Ratio[i] = x.reg.Ratio[0]
				}
			}
		}
		q, _ := p.heated(r)
		cold, err1 := p.open()
		hot, err2 := q.open()
		if err1 != nil || err2 != nil {
			t.Fatalf("%v; %v", err1, err2)
		}
		for b := range p.buses {
			for _, k := range fault.Combinations(fault.LineLine, cold.n.Fed[b]) {
				x, err1 := cold.s.Fault(fault.AtBus(b), k, 0)
				y, err2 := hot.s.Fault(fault.AtBus(b), k, 0)
				if err1 != nil || err2 != nil {
					t.Fatalf("%s at %s: %v; %v", k, p.buses[b].name, err1, err2)
				}
				added := y.Loop - x.Loop
				if limit := everythingTolerance * cmplx.Abs(x.Loop); !(real(added) >= -limit) || !(math.Abs(imag(added)) <= limit) {
					t.Errorf("%s at %s: heat adds %v ohm, want resistance alone", k, p.buses[b].name, added)
				}
				if real(x.Loop) < 0 {
					continue // random matrices may have more mutual resistance than self
				}
				if !(y.Largest() <= x.Largest()*(1+everythingTolerance)) {
					t.Errorf("%s at %s: %.6g A hot, %.6g A cold", k, p.buses[b].name, y.Largest(), x.Largest())
				}
				if y.Largest() < x.Largest()*0.999 {
					states++
				}
			}
		}
		return states
	})
}
