package flow

import (
	"bufio"
	"bytes"
	"fmt"
	"math"
	"math/cmplx"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"feederwright/network"
	"feederwright/phasor"
	"feederwright/quantity"
)

// The reference is ngspice, a general circuit simulator (Debian package
// ngspice), at system frequency. It knows no loads of constant power: each
// branch of a load stands in its circuit as the impedance |V|²/S* that it is at
// the voltage found here. If ngspice then finds the same voltages, the state
// satisfies the circuit's equations and the loads' laws at once.

// spiceTolerance is part of the nominal voltage: what the stop rule leaves, 1e-9
// of the load, through the impedances of the feeder, is well below.
const spiceTolerance = 1e-6

type circuit struct {
	strings.Builder
	omega float64
	n     int
}

func (c *circuit) card(format string, args ...any) { fmt.Fprintf(c, format+"\n", args...) }

// part joins two nodes by an impedance.
func (c *circuit) part(from, to string, z complex128) {
	c.n++
	c.card("R%d %s m%d %.17g", c.n, from, c.n, real(z))
	if x := imag(z); x >= 0 {
		c.card("L%d m%d %s %.17g", c.n, c.n, to, x/c.omega)
	} else {
		c.card("C%d m%d %s %.17g", c.n, c.n, to, -1/(c.omega*x))
	}
}

// coupled joins from[i] to to[i] by a matrix of impedances: resistance and
// inductance of each, sources controlled by the other currents for mutual
// resistance, coupled inductors.
func (c *circuit) coupled(from, to []string, z []complex128) {
	n := len(from)
	c.n++
	k := c.n
	for i := range n {
		c.card("V%d_%d %s a%d_%d_0 0", k, i, from[i], k, i)
		at := 0
		for j := range n {
			if j != i {
				c.card("H%d_%d_%d a%d_%d_%d a%d_%d_%d V%d_%d %.17g", k, i, j, k, i, at, k, i, at+1, k, j, real(z[i*n+j]))
				at++
			}
		}
		c.card("R%d_%d a%d_%d_%d b%d_%d %.17g", k, i, k, i, at, k, i, real(z[i*n+i]))
		c.card("L%d_%d b%d_%d %s %.17g", k, i, k, i, to[i], imag(z[i*n+i])/c.omega)
	}
	for i := range n {
		for j := range i {
			c.card("K%d_%d_%d L%d_%d L%d_%d %.17g", k, i, j, k, i, k, j, imag(z[i*n+j])/math.Sqrt(imag(z[i*n+i])*imag(z[j*n+j])))
		}
	}
}

func (c *circuit) run(t *testing.T) map[string]complex128 {
	t.Helper()
	program, err := exec.LookPath("ngspice")
	if err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatal("ngspice is not installed, and without it nothing is compared")
		}
		t.Skip("ngspice is not installed (Debian: apt-get install ngspice): no comparison with it")
	}
	dir := t.TempDir()
	f := c.omega / (2 * math.Pi)
	text := "plant\n" + c.String() + ".options noopac\n" + fmt.Sprintf(".ac lin 1 %.17g %.17g\n.end\n", f, f)
	if err := os.WriteFile(filepath.Join(dir, "in.cir"), []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(program, "-b", "-r", "out.raw", "in.cir")
	cmd.Dir = dir
	cmd.Env = append(os.Environ(), "SPICE_ASCIIRAWFILE=1")
	log, err := cmd.CombinedOutput()
	raw, readErr := os.ReadFile(filepath.Join(dir, "out.raw"))
	if readErr != nil {
		t.Fatalf("ngspice gave no result (%v):\n%s", err, log)
	}
	var names []string
	values := make(map[string]complex128)
	section, k := "", 0
	lines := bufio.NewScanner(bytes.NewReader(raw))
	for lines.Scan() {
		text := strings.TrimSpace(lines.Text())
		switch {
		case text == "Variables:" || text == "Values:":
			section = text
		case section == "Variables:":
			names = append(names, strings.Fields(text)[1])
		case section == "Values:" && text != "":
			fields := strings.Fields(text)
			re, im, _ := strings.Cut(fields[len(fields)-1], ",")
			x, err1 := strconv.ParseFloat(re, 64)
			y, err2 := strconv.ParseFloat(im, 64)
			if err1 != nil || err2 != nil || k >= len(names) {
				t.Fatalf("unreadable value %q in the result of ngspice", text)
			}
			values[names[k]] = complex(x, y)
			k++
		}
	}
	return values
}

// A four-wire feeder with unbalanced loads of every model between phases, to
// the neutral conductor and to earth, its neutral earthed at both ends.
func TestFourWireAgainstSpice(t *testing.T) {
	const abcn = abc | quantity.PhaseN
	// ohm: 1 km of an invented overhead line over lossy ground.
	z := []complex128{
		0.35 + 0.75i, 0.06 + 0.36i, 0.055 + 0.33i, 0.06 + 0.35i,
		0.06 + 0.36i, 0.36 + 0.74i, 0.06 + 0.35i, 0.058 + 0.34i,
		0.055 + 0.33i, 0.06 + 0.35i, 0.34 + 0.76i, 0.062 + 0.36i,
		0.06 + 0.35i, 0.058 + 0.34i, 0.062 + 0.36i, 0.55 + 0.85i}
	for i := range z {
		z[i] /= 4 // 250 m
	}
	const vll = 400.0
	phase := vll / math.Sqrt(3)
	var b network.Builder
	s, m, e := b.AddBus("S", abcn, vll), b.AddBus("M", abcn, vll), b.AddBus("E", abcn, vll)
	zs := complex(0.01, 0.03)
	_, err := b.AddInfeed("G", s, network.InfeedData{Z1: zs, Z2: zs, Z0: zs, VLL: vll})
	keep(t, err)
	_, err = b.AddLine("1", s, m, abcn, z, nil)
	keep(t, err)
	_, err = b.AddLine("2", m, e, abcn, z, nil)
	keep(t, err)
	_, err = b.AddNeutralEarthing("NS", s, 0)
	keep(t, err)
	_, err = b.AddNeutralEarthing("NE", e, 10)
	keep(t, err)
	type load struct {
		bus      int
		at       string
		branches []network.DemandBranch
	}
	loads := []load{
		{m, "m", []network.DemandBranch{{A: 0, B: 3, Model: network.ConstantPower, S: 9e3 + 3e3i, Rated: phase}}},
		{m, "m", []network.DemandBranch{{A: 1, B: 2, Model: network.ConstantPower, S: 5e3 + 2e3i, Rated: vll}}},
		{e, "e", []network.DemandBranch{{A: 1, B: 3, Model: network.ConstantCurrent, S: 6e3 + 2e3i, Rated: phase}}},
		{e, "e", []network.DemandBranch{{A: 2, B: 3, Model: network.ConstantPower, S: 2e3 - 1e3i, Rated: phase}, {A: 0, B: -1, Model: network.ConstantPower, S: 1e3 + 0.1e3i, Rated: phase}}},
	}
	for i, l := range loads {
		_, err = b.AddDemand(fmt.Sprint("D", i), l.bus, abcn, l.branches)
		keep(t, err)
	}
	net, err := b.Build()
	keep(t, err)
	for _, newton := range []bool{false, true} {
		sol, err := Solve(net, Options{NewtonOnly: newton})
		keep(t, err)
		if !sol.Converged {
			t.Fatalf("not converged: %+v", sol.Trouble)
		}
		c := &circuit{omega: 2 * math.Pi * 50}
		names := func(bus string) []string { return []string{bus + "a", bus + "b", bus + "c", bus + "n"} }
		for k := range 3 {
			c.card("VG%d g%d 0 ac %.17g %d", k, k, phase, -120*k)
			c.part(fmt.Sprintf("g%d", k), names("s")[k], zs)
		}
		c.card("VN sn 0 0")
		c.coupled(names("s"), names("m"), z)
		c.coupled(names("m"), names("e"), z)
		c.card("RNE en 0 10")
		for i, l := range loads {
			element := net.ElementByName(network.Load, fmt.Sprint("D", i))
			var v []complex128
			for k := range 4 {
				v = append(v, sol.Voltage(l.bus, k))
			}
			y := net.Elements[element].ImpedanceAt(v, 1)
			for _, br := range l.branches {
				to, admittance := "0", complex128(0)
				if br.B >= 0 {
					to, admittance = names(l.at)[br.B], -y[br.A*4+br.B]
				} else {
					admittance = y[br.A*4+br.A]
				}
				c.part(names(l.at)[br.A], to, 1/admittance)
			}
		}
		want := c.run(t)
		for bus, name := range []string{"s", "m", "e"} {
			for k, node := range names(name) {
				w, ok := want["v("+node+")"]
				if !ok {
					t.Fatalf("ngspice has no voltage at %s", node)
				}
				got := sol.Voltage(bus, k)
				if !(cmplx.Abs(got-w) <= spiceTolerance*phase) {
					t.Errorf("Newton %v: %s = %.9g ∠ %.6f°, ngspice has %.9g ∠ %.6f° (derived)", newton, node, cmplx.Abs(got), phasor.Degrees(got), cmplx.Abs(w), phasor.Degrees(w))
				}
			}
		}
		// The current into the solid earthing comes back as Kirchhoff has it.
		earthing := net.ElementByName(network.Earthing, "NS")
		if got, w := sol.Currents(earthing)[0], want["i(vn)"]; !(cmplx.Abs(got-w) <= 1e-6*50) {
			t.Errorf("current into the neutral's solid earthing %v, ngspice has %v (derived)", got, w)
		}
		// And each load takes its own power.
		for i, l := range loads {
			element := net.ElementByName(network.Load, fmt.Sprint("D", i))
			want := complex128(0)
			for _, br := range l.branches {
				v := sol.Voltage(l.bus, br.A)
				if br.B >= 0 {
					v -= sol.Voltage(l.bus, br.B)
				}
				s := br.S
				if br.Model == network.ConstantCurrent {
					s *= complex(cmplx.Abs(v)/br.Rated, 0)
				}
				want += s
			}
			if got := sol.Power(element, 0); !(cmplx.Abs(got-want) <= 1e-9*cmplx.Abs(want)) {
				t.Errorf("D%d takes %v, want %v (definition of its model)", i, got, want)
			}
		}
	}
}
