package fault_test

import (
	"bufio"
	"bytes"
	"fmt"
	"math"
	"math/cmplx"
	"math/rand"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"feederwright/fault"
	"feederwright/network"
	"feederwright/phasor"
	"feederwright/quantity"
)

// The reference here is ngspice, a general circuit simulator (Debian package
// ngspice), with a small-signal analysis at system frequency. Its circuits are
// written from the plant, part by part, and share nothing with the admittance
// matrices of package network:
//
//	line          resistances, coupled inductors, controlled sources for mutual
//	              resistance, capacitors between conductors and to earth
//	infeed        a voltage source per phase behind such coupled impedances
//	transformer   coils on three limbs: the coils of a limb have voltages in
//	              proportion to their turns and ampere-turns that sum to zero;
//	              leakage in series; coils joined as D, Y or Z; the order and
//	              sense of the joints is searched for the one with the clock number
//	magnetising   (zero sequence) a closed delta of coils with leakage
//	switch        a source of zero volts
//	fault         resistors, or sources of zero volts
//
// spiceTolerance is part of the fault current and of the nominal voltage. Both
// programs work with 16 digits; what is lost is the conditioning of networks
// held to earth by capacitance alone.
const spiceTolerance = 1e-6

// A circuit is the text of a netlist in the making.
type circuit struct {
	strings.Builder
	omega  float64
	n      int                        // for names
	opened map[string]quantity.Phases // conductors that into leaves open, by name
}

func (c *circuit) card(format string, args ...any) {
	fmt.Fprintf(c, format+"\n", args...)
}

func (c *circuit) next() int {
	c.n++
	return c.n
}

// part joins two nodes by an admittance-like part given as an impedance.
func (c *circuit) part(from, to string, z complex128) {
	k := c.next()
	mid := to
	if imag(z) != 0 && real(z) != 0 {
		mid = fmt.Sprintf("m%d", k)
	}
	if real(z) != 0 || z == 0 {
		c.resistance(from, mid, real(z))
	}
	if imag(z) == 0 {
		return
	}
	if real(z) == 0 {
		mid = from
	}
	if x := imag(z); x > 0 {
		c.card("L%d %s %s %.17g", k, mid, to, x/c.omega)
	} else {
		c.card("C%d %s %s %.17g", k, mid, to, -1/(c.omega*x))
	}
}

func (c *circuit) resistance(from, to string, r float64) {
	if r == 0 {
		c.card("V%d %s %s 0", c.next(), from, to)
		return
	}
	c.card("R%d %s %s %.17g", c.next(), from, to, r)
}

// coupled joins from[i] and to[i] by a matrix of impedances.
func (c *circuit) coupled(from, to []string, z []complex128) {
	n := len(from)
	k := c.next()
	symmetric := true
	for i := range n {
		for j := range i {
			symmetric = symmetric && z[i*n+j] == z[j*n+i]
		}
	}
	for i := range n {
		at := from[i]
		step := func() string {
			old := at
			at = fmt.Sprintf("s%d_%d_%d", k, i, c.next())
			return old
		}
		old := step()
		c.card("Vs%d_%d %s %s 0", k, i, old, at)
		if r := real(z[i*n+i]); r != 0 {
			old = step()
			c.card("R%d_%d %s %s %.17g", k, i, old, at, r)
		}
		for j := range n {
			if j == i {
				continue
			}
			if r := real(z[i*n+j]); r != 0 {
				old = step()
				c.card("H%d_%d_%d %s %s Vs%d_%d %.17g", k, i, j, old, at, k, j, r)
			}
			if x := imag(z[i*n+j]); x != 0 && !symmetric {
				// A copy of the other current through 1 ohm of reactance gives the voltage j·I.
				c.card("F%d_%d_%d 0 x%d_%d_%d Vs%d_%d 1", k, i, j, k, i, j, k, j)
				c.card("Lx%d_%d_%d x%d_%d_%d 0 %.17g", k, i, j, k, i, j, 1/c.omega)
				old = step()
				c.card("E%d_%d_%d %s %s x%d_%d_%d 0 %.17g", k, i, j, old, at, k, i, j, x)
			}
			if x := imag(z[i*n+j]); x != 0 && symmetric && j < i {
				m := x / math.Sqrt(imag(z[i*n+i])*imag(z[j*n+j]))
				c.card("K%d_%d_%d L%d_%d L%d_%d %.17g", k, i, j, k, i, k, j, m)
			}
		}
		c.card("L%d_%d %s %s %.17g", k, i, at, to[i], imag(z[i*n+i])/c.omega)
	}
}

// admittances joins conductors with each other and with earth by the parts
// that a symmetric nodal admittance matrix stands for.
func (c *circuit) admittances(nodes []string, y []complex128) {
	n := len(nodes)
	for i := range n {
		sum, largest := complex128(0), 0.0
		for j := range n {
			sum += y[i*n+j]
			largest = max(largest, cmplx.Abs(y[i*n+j]))
			if j < i {
				c.admittance(nodes[i], nodes[j], -y[i*n+j])
			}
		}
		if cmplx.Abs(sum) > 1e-12*largest { // not the rounding of a zero
			c.admittance(nodes[i], "0", sum)
		}
	}
}

func (c *circuit) admittance(from, to string, y complex128) {
	if real(y) != 0 {
		c.resistance(from, to, 1/real(y))
	}
	if b := imag(y); b > 0 {
		c.card("C%d %s %s %.17g", c.next(), from, to, b/c.omega)
	} else if b < 0 {
		c.card("L%d %s %s %.17g", c.next(), from, to, -1/(c.omega*b))
	}
}

// A coil sits on a limb, from a node to a node.
type coil struct {
	limb        int
	turns       float64
	plus, minus string
}

// coils makes limbs: coils of one limb share the flux.
func (c *circuit) coils(list []coil) {
	k := c.next()
	first := [3]int{-1, -1, -1}
	for i, x := range list {
		if first[x.limb] < 0 {
			first[x.limb] = i
			continue
		}
		// The first coil's voltage in proportion, and this coil's ampere-turns balanced by it.
		m := list[first[x.limb]]
		c.card("E%d_%d q%d_%d %s %s %s %.17g", k, i, k, i, x.minus, m.plus, m.minus, x.turns/m.turns)
		c.card("Vq%d_%d %s q%d_%d 0", k, i, x.plus, k, i)
		c.card("F%d_%d %s %s Vq%d_%d %.17g", k, i, m.minus, m.plus, k, i, x.turns/m.turns)
	}
}

// A joint is one way of joining the coils of a winding: terminal x takes the
// limb x+turn, backwards if reversed; a delta or zigzag goes on to the
// limb next to it on the one side or the other.
type joint struct {
	kind     byte
	turn     int
	reversed bool
	side     int // 1 or 2: next limb or the one after
}

// phasors gives the three terminal voltages to the star of a winding when
// limb l's coil has the voltage 1∠−120°·l.
func (j joint) phasor() complex128 {
	limb := func(l int) complex128 { return phasor.Polar(1, -120*float64(l)) }
	s := complex128(1)
	if j.reversed {
		s = -1
	}
	switch j.kind {
	case 'Y':
		return s * limb(j.turn)
	case 'Z':
		return s * (limb(j.turn) - limb(j.turn+j.side))
	}
	// D: the coil on limb 0+turn lies between terminals 0 and 0+side; a symmetric
	// set has V0 − V_side = V0·(1 − ∠−120°·side).
	return s * limb(j.turn) / (1 - phasor.Polar(1, -120*float64(j.side)))
}

// jointFor searches for the joint of the second winding that lags the first by
// the clock number in the rotation ABC.
func jointFor(g quantity.VectorGroup) (from, to joint) {
	from = joint{kind: g.From.Kind, side: 1}
	for _, side := range []int{1, 2} {
		for turn := range 3 {
			for _, reversed := range []bool{false, true} {
				to = joint{g.To.Kind, turn, reversed, side}
				lag := -phasor.Degrees(to.phasor() / from.phasor())
				if off := math.Remainder(lag-30*float64(g.Clock), 360); math.Abs(off) < 1e-6 {
					return from, to
				}
			}
		}
	}
	panic("no way of joining the coils gives " + g.String())
}

// winding joins coils between the terminals and the star point; each coil goes
// in series with its part of leakage z (a matrix over the three coils of a
// wye, a number elsewhere).
func (c *circuit) winding(j joint, vll float64, terminals [3]string, star string, self, mutual complex128) []coil {
	k := c.next()
	var inner, outer []string
	var list []coil
	add := func(limb int, turns float64, plus, minus string) {
		if j.reversed {
			turns = -turns
		}
		if self != 0 {
			in := fmt.Sprintf("w%d_%d", k, len(list))
			outer, inner = append(outer, plus), append(inner, in)
			plus = in
		}
		list = append(list, coil{limb % 3, turns, plus, minus})
	}
	for x := range 3 {
		switch j.kind {
		case 'Y':
			add(x+j.turn, vll/math.Sqrt(3), terminals[x], star)
		case 'D':
			add(x+j.turn, vll, terminals[x], terminals[(x+j.side)%3])
		default:
			mid := fmt.Sprintf("z%d_%d", k, x)
			add(x+j.turn, vll/3, terminals[x], mid)
			add(x+j.turn+j.side, -vll/3, mid, star)
		}
	}
	if self != 0 {
		n := len(inner)
		z := make([]complex128, n*n)
		for i := range z {
			if i/n == i%n {
				z[i] = self
			} else if j.kind == 'Y' {
				z[i] = mutual
			}
		}
		c.coupled(outer, inner, z)
	}
	return list
}

// transformer lays out the coils and puts leakage where it gives the terminal
// values Z1 and Z0 (both seen from the second winding):
//
//	Yy, Dy       in the second winding, with coupling between limbs for Z0 ≠ Z1;
//	             with a magnetising delta half on either side of it
//	Yd           in the first winding, likewise
//	Dd           in the second winding, 3·Z1 a coil
//	with Z       Z0/2 in each half coil; the rest of Z1 in the other winding,
//	             whose coil acts with the square of the turns and three times
func (c *circuit) transformer(x planTrafo, from, to [3]string, starFrom, starTo string) {
	jf, jt := jointFor(x.Group)
	n := complex(x.VTo/x.VFrom, 0)
	z1, z0 := x.Z1, x.Z0
	if z0 == 0 {
		z0 = z1
	}
	self, mutual := (2*z1+z0)/3, (z0-z1)/3
	var fs, fm, ts, tm complex128
	third := complex128(0) // leakage of the closed delta, in the second winding's star turns
	if x.Group.From.Kind != 'D' && x.Group.To.Kind != 'D' {
		third = x.Zm0
		// Without a path for zero sequence its flux has no bearing on the terminals,
		// but it must have a value.
		held := x.Group.From.Kind == 'Y' && x.From.Earthed || x.Group.To.Kind == 'Y' && x.To.Earthed
		if third == 0 && !held {
			third = z1
		}
	}
	switch {
	case x.Group.From.Kind == 'Z' && x.Group.To.Kind == 'Z':
		if z0 != z1/2 {
			z0 = z1 / 2
		}
		fs, ts = z0/2/(n*n), z0/2
	case x.Group.To.Kind == 'Z':
		ts = z0 / 2
		rest := (z1 - z0) / 3 // in half-coil turns
		ratio := complex(x.VFrom/x.VTo*3, 0)
		if x.Group.From.Kind == 'Y' {
			ratio /= complex(math.Sqrt(3), 0)
			if third != 0 && x.From.Earthed { // Zm0 is measured at the wye, its leakage included
				third -= rest * ratio * ratio * n * n
			}
		}
		fs = rest * ratio * ratio
	case x.Group.From.Kind == 'Z':
		fs = z0 / (n * n) / 2
		rest := (z1 - z0) / (n * n) / 3
		ratio := complex(x.VTo/x.VFrom*3, 0)
		if x.Group.To.Kind == 'Y' {
			ratio /= complex(math.Sqrt(3), 0)
			if third != 0 && x.To.Earthed {
				third -= rest * ratio * ratio
			}
		}
		ts = rest * ratio * ratio
	case x.Group.To.Kind == 'Y' && third != 0:
		fs, fm, ts, tm = self/2/(n*n), mutual/2/(n*n), self/2, mutual/2
	case x.Group.To.Kind == 'Y':
		ts, tm = self, mutual
	case x.Group.From.Kind == 'Y':
		fs, fm = self/(n*n), mutual/(n*n)
	default:
		ts = 3 * z1
	}
	list := c.winding(jf, x.VFrom, from, starFrom, fs, fm)
	list = append(list, c.winding(jt, x.VTo, to, starTo, ts, tm)...)
	if third != 0 {
		list = append(list, c.closedDelta(x.VTo/math.Sqrt(3), third)...)
	}
	c.coils(list)
}

// closedDelta makes coils that let zero-sequence flux drive a current against z.
func (c *circuit) closedDelta(turns float64, z complex128) []coil {
	k := c.next()
	var corner [3]string
	for i := range corner {
		corner[i] = fmt.Sprintf("d%d_%d", k, i)
	}
	c.resistance(corner[0], "0", 1) // one earthed corner carries nothing
	return c.winding(joint{kind: 'D', side: 1}, turns, corner, "", z, 0)
}

// A spiceFault is a fault to put into the circuit.
type spiceFault struct {
	bus  int // of the plan
	kind fault.Kind
	r    float64 // ohm
}

// A spiceBreak is an open conductor: at an end of a line, or within it.
type spiceBreak struct {
	line     int // of the plan
	terminal int // or −1
	fraction float64
	what     fault.Break
	phases   quantity.Phases
	r        float64 // ohm, of the end on earth
}

func node(prefix string, bus, conductor int) string {
	return fmt.Sprintf("%sb%d%c", prefix, bus, "abcn"[conductor])
}

func nodes(prefix string, bus int, phases quantity.Phases) []string {
	var list []string
	for _, c := range phases.Conductors() {
		list = append(list, node(prefix, bus, c))
	}
	return list
}

// into puts a meter at each conductor from a bus into a part and returns the
// nodes behind them.
func (c *circuit) into(prefix, name string, bus int, phases quantity.Phases) []string {
	var list []string
	for _, k := range phases.Conductors() {
		in := fmt.Sprintf("%s%s_%c", prefix, name, "abcn"[k])
		if !c.opened[name].HasConductor(k) {
			c.card("Vi%s %s %s 0", in, node(prefix, bus, k), in)
		}
		list = append(list, in)
	}
	return list
}

// neutral joins a star point to earth over a meter, which counts from earth.
func (c *circuit) neutral(prefix, name string, p network.NeutralPoint) string {
	star := prefix + name + "_s"
	if p.Earthed {
		in := prefix + name + "_e"
		c.card("Vn%s%s 0 %s 0", prefix, name, in)
		c.part(in, star, p.Z)
	}
	return star
}

// write adds the plant with faults and at most one break; names begin with prefix.
func (c *circuit) write(p *plan, prefix string, br *spiceBreak, faults ...spiceFault) {
	three := func(s []string) [3]string { return [3]string(s) }
	c.opened = nil
	if br != nil && br.terminal >= 0 {
		c.opened = map[string]quantity.Phases{fmt.Sprintf("l%d_%d", br.line, br.terminal): br.phases}
	}
	for i, l := range p.lines {
		a := c.into(prefix, fmt.Sprintf("l%d_0", i), l.from, l.phases)
		b := c.into(prefix, fmt.Sprintf("l%d_1", i), l.to, l.phases)
		if br != nil && br.line == i {
			c.broken(prefix, *br, p, a, b)
		} else {
			c.coupled(a, b, l.z)
		}
		if l.y != nil {
			half := make([]complex128, len(l.y))
			for k := range half {
				half[k] = l.y[k] / 2
			}
			c.admittances(a, half)
			c.admittances(b, half)
		}
	}
	for i, x := range p.trafos {
		name := fmt.Sprintf("t%d", i)
		a := c.into(prefix, name+"_0", x.from, abc)
		b := c.into(prefix, name+"_1", x.to, abc)
		c.transformer(x, three(a), three(b), c.neutral(prefix, name+"_0", x.From), c.neutral(prefix, name+"_1", x.To))
	}
	for i, s := range p.infeeds {
		name := fmt.Sprintf("s%d", i)
		a := c.into(prefix, name+"_0", s.bus, abc)
		star := "0"
		z0 := s.Z0
		if s.Open {
			star, z0 = prefix+name+"_s", s.Z1
		}
		var behind []string
		for k := range 3 {
			step := -120 * float64(k)
			if p.rotation == phasor.ACB {
				step = -step
			}
			e := fmt.Sprintf("%s%s_e%d", prefix, name, k)
			c.card("V%s %s %s dc 0 ac %.17g %.17g", e, e, star, s.VLL/math.Sqrt(3), s.Angle*180/math.Pi+step)
			behind = append(behind, e)
		}
		c.coupled(behind, a, sourceMatrix(p.rotation, z0, s.Z1, s.Z2))
	}
	for i, e := range p.earthers {
		name := fmt.Sprintf("e%d", i)
		a := c.into(prefix, name+"_0", e.bus, abc)
		star := c.neutral(prefix, name+"_0", network.NeutralPoint{Earthed: true, Z: e.zn})
		// A zigzag takes no part in zero-sequence flux; the closed delta gives it a value.
		zigzag := c.winding(joint{kind: 'Z', side: 1}, p.buses[e.bus].vll, three(a), star, e.z0/2, 0)
		c.coils(append(zigzag, c.closedDelta(p.buses[e.bus].vll, e.z0)...))
	}
	for i, s := range p.shunts {
		c.bank(c.into(prefix, fmt.Sprintf("c%d_0", i), s.bus, s.phases), fmt.Sprintf("%sc%d", prefix, i), s)
	}
	for i, s := range p.switches {
		if !s.closed {
			continue
		}
		for _, k := range (p.buses[s.from].phases & p.buses[s.to].phases).Conductors() {
			c.card("Vw%s%d_%c %s %s 0", prefix, i, "abcn"[k], node(prefix, s.from, k), node(prefix, s.to, k))
		}
	}
	for i, f := range faults {
		c.fault(prefix, fmt.Sprintf("f%d", i), f)
	}
}

// broken writes a line with a break: from and to are the nodes behind its meters.
func (c *circuit) broken(prefix string, br spiceBreak, p *plan, from, to []string) {
	l := p.lines[br.line]
	near, far := from, to // the two sides of the break
	switch br.terminal {
	case -1:
		near, far = nil, nil
		for _, k := range l.phases.Conductors() {
			a, b := fmt.Sprintf("%sbr_%c", prefix, "abcn"[k]), fmt.Sprintf("%sbr_%c_", prefix, "abcn"[k])
			near, far = append(near, a), append(far, b)
			if !br.phases.HasConductor(k) {
				c.resistance(a, b, 0)
			}
		}
		x := complex(br.fraction, 0)
		c.coupled(from, near, scaled(l.z, x))
		c.coupled(far, to, scaled(l.z, 1-x))
	case 0:
		near, far = nodes(prefix, l.from, l.phases), from
		c.coupled(from, to, l.z)
	case 1:
		near, far = to, nodes(prefix, l.to, l.phases)
		c.coupled(from, to, l.z)
	}
	for i, k := range l.phases.Conductors() {
		if !br.phases.HasConductor(k) {
			continue
		}
		switch br.what {
		case fault.OpenFromEarthed:
			c.resistance(near[i], "0", br.r)
		case fault.OpenToEarthed:
			c.resistance(far[i], "0", br.r)
		}
	}
}

// fault joins the phases of a bus by a fault of that name.
func (c *circuit) fault(prefix, name string, f spiceFault) {
	common := prefix + name
	legs := c.into(prefix, name, f.bus, f.kind.Phases)
	switch f.kind.Type {
	case fault.LineEarth:
		c.resistance(legs[0], "0", f.r)
	case fault.LineLine:
		c.resistance(legs[0], legs[1], f.r)
	case fault.LineLineEarth:
		c.resistance(legs[0], common, 0)
		c.resistance(legs[1], common, 0)
		c.resistance(common, "0", f.r)
	case fault.ThreePhase:
		for _, l := range legs {
			c.resistance(l, common, f.r)
		}
	default:
		for _, l := range legs {
			c.resistance(l, "0", f.r)
		}
	}
}

// bank joins equal admittances as wye or delta, or a matrix as it stands.
func (c *circuit) bank(at []string, star string, s planShunt) {
	switch {
	case s.connection == network.Wye:
		for _, a := range at {
			c.admittance(a, star, s.each)
		}
		if len(at) == 1 {
			c.resistance(star, at[0], 1) // an open end must have a potential
		}
	case s.connection == network.Delta:
		for i := range at {
			for j := range i {
				c.admittance(at[i], at[j], s.each)
			}
		}
	case s.connection == network.EarthedWye:
		for _, a := range at {
			c.admittance(a, "0", s.each)
		}
	default:
		c.admittances(at, s.y)
	}
}

// sourceMatrix is the phase matrix of a machine: rows and columns that differ by
// as many steps have the same entry; its row times (1, a², a) is Z1, times
// (1, a, a²) is Z2.
func sourceMatrix(rotation phasor.Rotation, z0, z1, z2 complex128) []complex128 {
	if z1 == z2 {
		return network.BalancedMatrix(3, z1, z0)
	}
	a := phasor.Polar(1, 120)
	if rotation == phasor.ACB {
		a = phasor.Polar(1, -120)
	}
	row := [3]complex128{(z0 + z1 + z2) / 3, (z0 + a*z1 + a*a*z2) / 3, (z0 + a*a*z1 + a*z2) / 3}
	m := make([]complex128, 9)
	for i := range 3 {
		for j := range 3 {
			m[3*i+j] = row[(j-i+3)%3]
		}
	}
	return m
}

// runSpice solves a circuit and returns all node voltages and source currents.
func runSpice(t *testing.T, c *circuit) map[string]complex128 {
	t.Helper()
	program, err := exec.LookPath("ngspice")
	if err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatal("ngspice is not installed, and without it nothing is compared")
		}
		t.Skip("ngspice is not installed (Debian: apt-get install ngspice): no comparison with it")
	}
	dir := t.TempDir()
	text := "plant\n" + c.String() + ".options noopac\n" +
		fmt.Sprintf(".ac lin 1 %.17g %.17g\n.end\n", c.omega/(2*math.Pi), c.omega/(2*math.Pi))
	if err := os.WriteFile(filepath.Join(dir, "in.cir"), []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	// Written straight to a file: as a table in memory, each of thousands of vectors takes pages of it.
	cmd := exec.Command(program, "-b", "-r", "out.raw", "in.cir")
	cmd.Dir = dir
	cmd.Env = append(os.Environ(), "SPICE_ASCIIRAWFILE=1")
	log, err := cmd.CombinedOutput()
	raw, readErr := os.ReadFile(filepath.Join(dir, "out.raw"))
	if readErr != nil {
		t.Fatalf("ngspice gave no result (%v):\n%s", err, log)
	}
	if bytes.Contains(log, []byte("singular")) {
		t.Fatalf("ngspice found the circuit singular:\n%s", log)
	}
	return readRaw(t, raw)
}

// readRaw reads the one point of an ASCII result file.
func readRaw(t *testing.T, raw []byte) map[string]complex128 {
	t.Helper()
	var names []string
	values := make(map[string]complex128)
	section := ""
	k := 0
	lines := bufio.NewScanner(bytes.NewReader(raw))
	lines.Buffer(nil, 1<<20)
	for lines.Scan() {
		text := strings.TrimSpace(lines.Text())
		switch {
		case text == "Variables:" || text == "Values:":
			section = text
		case section == "Variables:":
			names = append(names, strings.Fields(text)[1])
		case section == "Values:" && text != "":
			f := strings.Fields(text)
			re, im, ok := strings.Cut(f[len(f)-1], ",")
			x, err1 := strconv.ParseFloat(re, 64)
			y, err2 := strconv.ParseFloat(im, 64)
			if !ok || err1 != nil || err2 != nil || k >= len(names) {
				t.Fatalf("unreadable value %q in the result of ngspice", text)
			}
			values[names[k]] = complex(x, y)
			k++
		}
	}
	if k == 0 || k != len(names) {
		t.Fatalf("the result of ngspice has %d values for %d names", k, len(names))
	}
	return values
}

// compare solves the state before the fault and all faults in both programs
// and compares every voltage, the currents at every terminal, in every neutral and
// switch and in the fault.
func compare(t *testing.T, p *plan, frequency float64, faults []spiceFault) {
	t.Helper()
	c := &circuit{omega: 2 * math.Pi * frequency}
	c.write(p, "p", nil)
	for i := range faults {
		c.write(p, fmt.Sprintf("k%d", i), nil, faults[i])
	}
	want := runSpice(t, c)
	s := p.solver(t, order{})
	n := s.Net

	compared := 0
	check := func(what, name string, got complex128, scale float64) {
		t.Helper()
		w, ok := want[name]
		if !ok {
			t.Fatalf("the circuit has no %s", name)
		}
		compared++
		if !(cmplx.Abs(got-w) <= spiceTolerance*scale) {
			t.Errorf("%s = %.9g ∠ %.6f°, ngspice has %.9g ∠ %.6f°: %.2g of %.6g (derived: ngspice, circuit from the plant)",
				what, cmplx.Abs(got), phasor.Degrees(got), cmplx.Abs(w), phasor.Degrees(w), cmplx.Abs(got-w)/scale, scale)
		}
	}
	// Elements are numbered in the order of the plan: lines, transformers, infeeds, earthing transformers, shunts.
	var spiceName []string
	for i := range p.lines {
		spiceName = append(spiceName, fmt.Sprintf("l%d", i))
	}
	for i := range p.trafos {
		spiceName = append(spiceName, fmt.Sprintf("t%d", i))
	}
	for i := range p.infeeds {
		spiceName = append(spiceName, fmt.Sprintf("s%d", i))
	}
	for i := range p.earthers {
		spiceName = append(spiceName, fmt.Sprintf("e%d", i))
	}
	for i := range p.shunts {
		spiceName = append(spiceName, fmt.Sprintf("c%d", i))
	}
	var neutrals []string
	var indices []int
	watch := func(name string, element, terminal int) {
		probe := n.InNeutral(element, terminal)
		neutrals, indices = append(neutrals, name), append(indices, s.WatchCurrent(&probe))
	}
	for i, x := range p.trafos {
		if x.From.Earthed {
			watch(fmt.Sprintf("t%d_0", i), len(p.lines)+i, 0)
		}
		if x.To.Earthed {
			watch(fmt.Sprintf("t%d_1", i), len(p.lines)+i, 1)
		}
	}
	for i := range p.earthers {
		watch(fmt.Sprintf("e%d_0", i), len(p.lines)+len(p.trafos)+len(p.infeeds)+i, 0)
	}
	switchAt := make([]int, len(p.switches))
	for i, w := range p.switches {
		probe := n.ThroughSwitch(i, w.to)
		switchAt[i] = s.WatchCurrent(&probe)
	}
	state := func(prefix, title string, v []complex128, amperes func(bus int) float64) {
		for b := range p.buses {
			for _, k := range n.Fed[b].Conductors() {
				check(fmt.Sprintf("%s: voltage %s.%c", title, p.buses[b].name, "ABCN"[k]), "v("+node(prefix, b, k)+")",
					v[n.Unknown(b, k)], p.buses[b].vll/math.Sqrt(3))
			}
		}
		for i := range n.Elements {
			currents := n.ElementCurrents(i, v)
			r := 0
			for term, at := range n.Elements[i].Terminals {
				for _, k := range at.Phases.Conductors() {
					check(fmt.Sprintf("%s: current into %s at %s.%c", title, n.Elements[i].Name, p.buses[at.Bus].name, "ABCN"[k]),
						fmt.Sprintf("i(vi%s%s_%d_%c)", prefix, spiceName[i], term, "abcn"[k]), currents[r], amperes(at.Bus))
					r++
				}
			}
		}
	}
	state("p", "before the fault", s.Prefault(), func(bus int) float64 { return scale(n, s.Prefault(), n.Buses[bus].Nominal) + 1e-3 })
	for i, f := range faults {
		prefix := fmt.Sprintf("k%d", i)
		title := fmt.Sprintf("%s at %s, %.3g ohm", f.kind, p.buses[f.bus].name, f.r)
		res, err := s.Fault(fault.AtBus(f.bus), f.kind, f.r)
		if err != nil {
			t.Fatalf("%s: %v", title, err)
		}
		largest := res.Largest()
		if largest < 1e-9*fullCurrent(s, f.bus) { // nothing flows: compare with what could
			largest = fullCurrent(s, f.bus)
		}
		amperes := func(bus int) float64 { return largest * p.buses[f.bus].vll / p.buses[bus].vll }
		v, _ := s.State(res)
		state(prefix, title, v, amperes)
		for _, k := range f.kind.Phases.Conductors() {
			check(fmt.Sprintf("%s: fault current %c", title, "ABCN"[k]), fmt.Sprintf("i(vi%sf0_%c)", prefix, "abcn"[k]), res.I[k], largest)
			check(fmt.Sprintf("%s: voltage at the fault %c", title, "ABCN"[k]), "v("+node(prefix, f.bus, k)+")", res.V[k], p.buses[f.bus].vll/math.Sqrt(3))
		}
		for k, name := range neutrals {
			sum := complex128(0)
			for _, x := range res.Current[indices[k]] {
				sum += x
			}
			e := &n.Elements[0]
			for j := range n.Elements {
				if strings.HasPrefix(name, spiceName[j]+"_") {
					e = &n.Elements[j]
				}
			}
			terminal := int(name[len(name)-1] - '0')
			check(title+": current in neutral "+name, "i(vn"+prefix+name+")", sum, amperes(e.Terminals[terminal].Bus))
		}
		for j, w := range p.switches {
			for _, k := range (p.buses[w.from].phases & p.buses[w.to].phases).Conductors() {
				check(fmt.Sprintf("%s: current in switch %s.%c", title, w.name, "ABCN"[k]), fmt.Sprintf("i(vw%s%d_%c)", prefix, j, "abcn"[k]),
					res.Current[switchAt[j]][k], amperes(w.from))
			}
		}
	}
	if compared == 0 {
		t.Fatal("nothing was compared")
	}
	t.Logf("%d phasors compared", compared)
}

// fullCurrent is the current of a bolted fault between phases at a bus.
func fullCurrent(s *fault.Solver, bus int) float64 {
	largest := 0.0
	for _, k := range fault.All(s.Net.Fed[bus] & abc) {
		if res, err := s.Fault(fault.AtBus(bus), k, 0); err == nil {
			largest = max(largest, res.Largest())
		}
	}
	return largest
}

// allFaults are all kinds that exist at some buses, in turn bolted and with
// resistance, the other way round at every other bus.
func allFaults(p *plan, r float64, buses ...int) []spiceFault {
	var list []spiceFault
	for i, b := range buses {
		for k, kind := range fault.All(p.buses[b].phases & abc) {
			list = append(list, spiceFault{b, kind, r * float64((i+k)%2)})
		}
	}
	return list
}

// overhead is an untransposed line: the series matrix that J. R. Carson's
// equations give for a pole line with conductors at unequal distances, ohm per
// mile, invented in the last digits.
func overhead(miles float64) []complex128 {
	z := []complex128{
		0.4576 + 1.0780i, 0.1560 + 0.5017i, 0.1535 + 0.3849i,
		0.1560 + 0.5017i, 0.4666 + 1.0482i, 0.1580 + 0.4236i,
		0.1535 + 0.3849i, 0.1580 + 0.4236i, 0.4615 + 1.0651i}
	for i := range z {
		z[i] *= complex(miles, 0)
	}
	return z
}

func scaled(m []complex128, k complex128) []complex128 {
	out := make([]complex128, len(m))
	for i := range m {
		out[i] = k * m[i]
	}
	return out
}

// sub is the part of a three-phase matrix for the phases present.
func sub(m []complex128, phases quantity.Phases) []complex128 {
	var out []complex128
	for _, i := range phases.Conductors() {
		for _, j := range phases.Conductors() {
			out = append(out, m[3*i+j])
		}
	}
	return out
}

// Each circuit with what it is about.
func TestAgainstCircuitSimulator(t *testing.T) {
	point := func(z complex128) network.NeutralPoint {
		return network.NeutralPoint{Exists: true, Earthed: true, Z: z}
	}
	open := network.NeutralPoint{Exists: true}
	station := func(g string, d network.TransformerData) (*plan, int, int) {
		p := &plan{}
		hv := p.bus("HV", abc, 66e3)
		mv := p.bus("MV", abc, 12.47e3)
		p.infeed("S", hv, network.InfeedData{Z1: 0.6 + 6i, Z2: 0.6 + 6i, Z0: 1.5 + 11i, VLL: 67e3, Angle: 0.2})
		d.Group = group(t, g)
		d.VFrom, d.VTo = 66e3*0.975, 12.47e3
		p.trafo("T", hv, mv, d)
		return p, hv, mv
	}

	run := func(name string, f func(t *testing.T)) {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			f(t)
		})
	}
	run("solidly earthed, untransposed line", func(t *testing.T) {
		p := &plan{}
		a := p.bus("A", abc, 12.47e3)
		e := p.bus("E", abc, 12.47e3)
		p.infeed("S", a, network.InfeedData{Z1: 0.05 + 0.8i, Z2: 0.05 + 0.8i, Z0: 0.1 + 0.6i, VLL: 12.6e3})
		p.matrixLine("L", a, e, abc, overhead(3), scaled(network.BalancedMatrix(3, 6.9e-6i, 3.2e-6i), 3))
		p.bank("load", network.Load, e, abc, network.EarthedWye, 0.01-0.004i)
		compare(t, p, 60, allFaults(p, 5, a, e))
	})
	run("resistance in the neutral", func(t *testing.T) {
		p, hv, mv := station("Dyn11", network.TransformerData{Z1: 0.05 + 1.2i, Z0: 0.05 + 1.1i, To: point(18 + 0.3i)})
		e := p.bus("E", abc, 12.47e3)
		p.matrixLine("L", mv, e, abc, overhead(2), nil)
		compare(t, p, 60, allFaults(p, 10, hv, mv, e))
	})
	run("unearthed with capacitance", func(t *testing.T) {
		p, _, mv := station("Dd0", network.TransformerData{Z1: 0.05 + 1.2i})
		var ends []int
		for i, b := range []float64{2e-4, 9e-4, 4e-4} {
			e := p.bus(fmt.Sprint("E", i), abc, 12.47e3)
			p.line(fmt.Sprint("F", i), mv, e, 0.6+0.5i, 1.4+1.8i, b, b*0.8)
			ends = append(ends, e)
		}
		compare(t, p, 50, allFaults(p, 100, mv, ends[0], ends[2]))
	})
	for _, g := range []string{"Dyn1", "Dyn11", "Dyn5", "Dyn7", "YNd1", "YNd11", "YNd5", "Dd2", "Dd6", "Yyn0", "YNy6", "Yd9", "Dy3"} {
		run(g, func(t *testing.T) {
			p, hv, mv := station(g, network.TransformerData{Z1: 0.05 + 1.2i, Z0: 0.08 + 1.0i})
			x := &p.trafos[0]
			x.From.Exists, x.To.Exists = x.Group.From.Neutral, x.Group.To.Neutral
			x.From.Earthed, x.To.Earthed = x.Group.From.Neutral, x.Group.To.Neutral
			// Loads hold an unearthed side to earth.
			p.bank("load", network.Load, mv, abc, network.EarthedWye, 0.002-0.001i)
			compare(t, p, 60, allFaults(p, 2, hv, mv))
		})
	}
	run("earth source facing an unearthed system", func(t *testing.T) {
		p := &plan{}
		a := p.bus("A", abc, 20e3)
		m := p.bus("M", abc, 20e3)
		lv := p.bus("LV", abc, 400)
		p.infeed("S", a, network.InfeedData{Z1: 0.1 + 1i, Z2: 0.1 + 1i, Open: true, VLL: 20e3})
		p.matrixLine("L", a, m, abc, overhead(1.5), nil)
		p.trafo("T", m, lv, network.TransformerData{Group: group(t, "YNd5"), VFrom: 20e3, VTo: 400, Z1: 0.002 + 0.012i, Z0: 0.002 + 0.010i, From: point(1.5)})
		p.bank("load", network.Load, lv, abc, network.EarthedWye, 1-0.3i)
		compare(t, p, 50, allFaults(p, 4, a, m, lv))
	})
	for _, g := range []string{"Yzn5", "Yzn11", "Yzn1", "Dzn0", "Dzn6", "Dzn2", "ZNy1", "ZNd0", "Zyn7", "ZNzn2"} {
		run(g, func(t *testing.T) {
			d := network.TransformerData{Z1: 0.1 + 1.2i, Z0: 0.04 + 0.3i}
			if g == "ZNzn2" {
				d.Z0 = d.Z1 / 2
			}
			p, hv, mv := station(g, d)
			x := &p.trafos[0]
			x.From = network.NeutralPoint{Exists: x.Group.From.Neutral, Earthed: x.Group.From.Neutral, Z: 2}
			x.To = network.NeutralPoint{Exists: x.Group.To.Neutral, Earthed: x.Group.To.Neutral, Z: 0.5 + 0.1i}
			if !x.From.Earthed {
				x.From.Z = 0
			}
			if !x.To.Earthed {
				x.To.Z = 0
			}
			p.bank("load", network.Load, mv, abc, network.EarthedWye, 0.002-0.001i)
			compare(t, p, 60, allFaults(p, 2, hv, mv))
		})
	}
	for _, zm0 := range []complex128{0, 6i} {
		for _, g := range []string{"YNyn0", "YNyn6", "YNyn4", "YNyn10"} {
			run(fmt.Sprintf("%s, impedance in both neutrals, magnetising %v", g, zm0), func(t *testing.T) {
				p, hv, mv := station(g, network.TransformerData{Z1: 0.05 + 1.2i, Z0: 0.05 + 1.0i, Zm0: zm0, From: point(3 + 1i), To: point(2)})
				compare(t, p, 60, allFaults(p, 2, hv, mv))
			})
		}
	}
	run("single-phase lateral", func(t *testing.T) {
		p, _, mv := station("Dyn1", network.TransformerData{Z1: 0.05 + 1.2i, Z0: 0.05 + 1.1i, To: point(0)})
		a := p.bus("A", abc, 12.47e3)
		m := p.bus("M", quantity.PhaseB, 12.47e3)
		e := p.bus("E", quantity.PhaseB, 12.47e3)
		two := p.bus("V", quantity.PhaseA|quantity.PhaseC, 12.47e3)
		p.matrixLine("L", mv, a, abc, overhead(2), nil)
		// The lateral in two halves: M is its mid-point.
		p.matrixLine("B1", a, m, quantity.PhaseB, []complex128{0.9 + 0.7i}, nil)
		p.matrixLine("B2", m, e, quantity.PhaseB, []complex128{0.9 + 0.7i}, nil)
		p.matrixLine("V", a, two, quantity.PhaseA|quantity.PhaseC, sub(overhead(1), quantity.PhaseA|quantity.PhaseC), nil)
		p.bank("load", network.Load, two, quantity.PhaseA|quantity.PhaseC, network.Delta, 0.003-0.001i)
		compare(t, p, 60, allFaults(p, 20, a, m, e, two))
	})
	run("two infeeds, loop, switches", func(t *testing.T) {
		p := &plan{}
		a := p.bus("A", abc, 33e3)
		m := p.bus("M", abc, 33e3)
		n := p.bus("N", abc, 33e3)
		e := p.bus("E", abc, 33e3)
		p.infeed("S", a, network.InfeedData{Z1: 0.3 + 4i, Z2: 0.3 + 4i, Z0: 0.5 + 3i, VLL: 33.5e3, Angle: 0.05})
		p.infeed("G", e, network.InfeedData{Z1: 0.2 + 9i, Z2: 0.3 + 7i, Z0: 0.4 + 4i, VLL: 33e3, Angle: -0.15})
		p.matrixLine("AM", a, m, abc, overhead(4), scaled(network.BalancedMatrix(3, 6.9e-6i, 3.2e-6i), 4))
		p.closed("W", m, n)
		p.matrixLine("NE", n, e, abc, overhead(6), nil)
		p.matrixLine("AE", a, e, abc, overhead(7), nil)
		compare(t, p, 60, allFaults(p, 7, a, m, n, e))
	})
	run("machine with other negative sequence, rotation ACB", func(t *testing.T) {
		p, hv, mv := station("Dyn1", network.TransformerData{Z1: 0.05 + 1.2i, Z0: 0.05 + 1.1i, To: point(0.5)})
		p.rotation = phasor.ACB
		p.infeed("G", mv, network.InfeedData{Z1: 0.1 + 3i, Z2: 0.4 + 2.2i, Open: true, VLL: 12.5e3, Angle: 0.2 + math.Pi/6})
		compare(t, p, 50, allFaults(p, 1, hv, mv))
	})
	run("earthing transformer with resistor on a delta", func(t *testing.T) {
		p, _, mv := station("YNd1", network.TransformerData{Z1: 0.05 + 1.2i, Z0: 0.05 + 1.1i, From: point(0)})
		e := p.bus("E", abc, 12.47e3)
		p.line("L", mv, e, 0.4+0.6i, 0.9+1.8i, 3e-4, 2e-4)
		p.earthers = append(p.earthers, planEarther{"E", mv, 0.5 + 9i, 12})
		p.bank("C", network.Capacitor, e, abc, network.Wye, 0.004i)
		compare(t, p, 50, allFaults(p, 10, mv, e))
	})
	run("neutral conductor earthed at both ends", func(t *testing.T) {
		p, _, mv := station("Dyn1", network.TransformerData{Z1: 0.05 + 1.2i, Z0: 0.05 + 1.1i, To: point(0)})
		all := abc | quantity.PhaseN
		a := p.bus("A", all, 12.47e3)
		e := p.bus("E", all, 12.47e3)
		p.matrixLine("first", mv, a, abc, overhead(0.5), nil)
		z := network.BalancedMatrix(4, 0.3+0.6i, 0.9+2.1i)
		z[15] += 0.5 + 0.1i
		p.matrixLine("L", a, e, all, z, nil)
		for _, b := range []int{a, e} {
			p.shunts = append(p.shunts, planShunt{name: fmt.Sprint("rod", b), kind: network.Load, bus: b, phases: quantity.PhaseN, y: []complex128{1. / 15}})
		}
		compare(t, p, 60, allFaults(p, 3, a, e))
	})
	run("magnetising impedance with one neutral open", func(t *testing.T) {
		p, hv, mv := station("YNyn0", network.TransformerData{Z1: 0.05 + 1.2i, Z0: 0.05 + 1.0i, Zm0: 5i, From: open, To: point(0)})
		compare(t, p, 60, allFaults(p, 2, hv, mv))
	})
}

// Random networks with everything in them.
func TestRandomAgainstCircuitSimulator(t *testing.T) {
	for seed := range 12 {
		t.Run(fmt.Sprint(seed), func(t *testing.T) {
			t.Parallel()
			p := drawPlan(rand.New(rand.NewSource(int64(seed))), wish{buses: 14, noOpen: true, symmetric: true})
			n := p.network(t, order{})
			if len(n.Floating) > 0 { // held by large impedances to a star, as the convention has it
				for _, f := range n.Floating {
					b := f.Reference
					p.bank(fmt.Sprint("hold", b), network.Load, b, n.Fed[b]&abc, network.EarthedWye, complex(1e-6/(n.Buses[b].Nominal*n.Buses[b].Nominal/baseVA), 0))
				}
			}
			var faults []spiceFault
			for b := range p.buses {
				kinds := fault.All(p.buses[b].phases)
				k := kinds[(b*7+seed)%len(kinds)]
				faults = append(faults, spiceFault{b, k, float64(b%3) * p.buses[b].vll * p.buses[b].vll / baseVA})
			}
			compare(t, p, 50, faults)
		})
	}
}

// Faults at two places and open conductors, with ends in the air or on earth.
func TestCompoundAgainstCircuitSimulator(t *testing.T) {
	for seed := range 6 {
		t.Run(fmt.Sprint(seed), func(t *testing.T) {
			t.Parallel()
			r := rand.New(rand.NewSource(int64(100 + seed)))
			p := drawPlan(r, wish{buses: 10, noOpen: true, symmetric: true})
			for len(p.lines) < 2 {
				p = drawPlan(r, wish{buses: 10, noOpen: true, symmetric: true})
			}
			// A load everywhere, so that no conductor beyond a break is left without a voltage.
			for b := range p.buses {
				base := p.buses[b].vll * p.buses[b].vll / baseVA
				p.bank(fmt.Sprint("load", b), network.Load, b, p.buses[b].phases, network.EarthedWye, complex(0.05/base, -0.02/base))
			}
			s := p.solver(t, order{})
			n := s.Net
			probes := make([][2]network.Probe, len(p.lines))
			for i := range p.lines {
				for k := range 2 {
					probes[i][k] = n.AtTerminal(i, k)
					s.WatchCurrent(&probes[i][k])
				}
			}
			c := &circuit{omega: 2 * math.Pi * 50}
			type computed struct {
				title string
				br    *spiceBreak
				out   *fault.Compound
			}
			var list []computed
			for len(list) < 12 {
				var parts []fault.Part
				var faults []spiceFault
				var br *spiceBreak
				title := ""
				if r.Intn(3) > 0 {
					line := r.Intn(len(p.lines))
					kinds := fault.All(p.lines[line].phases)
					br = &spiceBreak{line: line, terminal: r.Intn(3) - 1, fraction: 0.1 + 0.8*r.Float64(), phases: kinds[r.Intn(len(kinds))].Phases,
						what: []fault.Break{fault.OpenConductor, fault.OpenFromEarthed, fault.OpenToEarthed}[r.Intn(3)]}
					if br.what != fault.OpenConductor {
						br.r = float64(r.Intn(2)) * p.buses[p.lines[line].from].vll * p.buses[p.lines[line].from].vll / baseVA
					}
					part := fault.Part{Break: br.what, Kind: fault.Kind{Phases: br.phases}, Resistance: br.r, Element: line, Terminal: br.terminal, Place: fault.Place{Line: -1}}
					if br.terminal < 0 {
						part.Element, part.Place = -1, fault.OnLine(line, br.fraction)
					}
					parts = append(parts, part)
					title = fmt.Sprintf("%s in %s (end %d, %.2f), %.3g ohm", part, p.lines[line].name, br.terminal, br.fraction, br.r)
				}
				for k := 1 + r.Intn(2); k > 0; k-- {
					bus, kind, ohm := drawFault(r, n)
					if len(faults) > 0 && n.Node[faults[0].bus] == n.Node[bus] {
						continue
					}
					faults = append(faults, spiceFault{bus, kind, ohm})
					parts = append(parts, fault.Part{Place: fault.AtBus(bus), Kind: kind, Resistance: ohm, Element: -1, Terminal: -1})
					title += fmt.Sprintf(" %s at %s, %.3g ohm", kind, p.buses[bus].name, ohm)
				}
				out, err := s.Compound(parts)
				if err != nil {
					t.Fatalf("%s: %v", title, err)
				}
				c.write(p, fmt.Sprintf("k%d", len(list)), br, faults...)
				list = append(list, computed{title, br, out})
			}
			want := runSpice(t, c)
			for i, x := range list {
				check := func(what, name string, got complex128, full float64) {
					t.Helper()
					w, ok := want[name]
					if !ok {
						t.Fatalf("the circuit has no %s", name)
					}
					if !(cmplx.Abs(got-w) <= spiceTolerance*full) {
						t.Errorf("%s: %s = %.9g ∠ %.6f°, ngspice has %.9g ∠ %.6f° (derived: ngspice, circuit from the plant)", x.title, what,
							cmplx.Abs(got), phasor.Degrees(got), cmplx.Abs(w), phasor.Degrees(w))
					}
				}
				for b := range p.buses {
					for _, k := range n.Fed[b].Conductors() {
						check(fmt.Sprintf("voltage %s.%c", p.buses[b].name, "ABCN"[k]), "v("+node(fmt.Sprintf("k%d", i), b, k)+")",
							x.out.State[n.Unknown(b, k)], p.buses[b].vll)
					}
				}
				for l := range p.lines {
					for end := range 2 {
						bus := p.lines[l].from
						if end == 1 {
							bus = p.lines[l].to
						}
						for _, k := range p.lines[l].phases.Conductors() {
							got, full := x.out.Current[2*l+end][k], scale(n, s.Prefault(), p.buses[bus].vll)
							if x.br != nil && x.br.line == l && x.br.terminal == end && x.br.phases.HasConductor(k) {
								continue // the meter stands on one side of the break, the earthed end may be on the other
							}
							check(fmt.Sprintf("current into %s at %s.%c", p.lines[l].name, p.buses[bus].name, "ABCN"[k]),
								fmt.Sprintf("i(vik%dl%d_%d_%c)", i, l, end, "abcn"[k]), got, full)
						}
					}
				}
			}
		})
	}
}
