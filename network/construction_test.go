package network

import (
	"fmt"
	"math"
	"math/cmplx"
	"math/rand"
	"strings"
	"testing"

	"feederwright/internal/onefile"
	"feederwright/quantity"
	"feederwright/study"
)

func readStudy(t *testing.T, text string) (*study.Document, []study.State) {
	t.Helper()
	doc, ds := study.Read(onefile.FS{Name: "s.yaml", Text: []byte(text)}, "s.yaml")
	if doc != nil {
		ds = append(ds, doc.Validate()...)
	}
	for _, d := range ds {
		if d.Severity == study.Error { // networks here may be odd on purpose, as with a poor neutral earthing
			t.Fatalf("%s", d.Text())
		}
	}
	states, ds := doc.States()
	for _, d := range ds {
		t.Fatalf("%s", d.Text())
	}
	return doc, states
}

const mile = 1609.344

// fourWires is a study of the four-wire line of W. H. Kersting, Distribution
// System Modeling and Analysis, ch. 4, once reduced and once with its neutral.
const fourWires = `feederwright: 1
study: four wires
frequency: 60 Hz
supply:
  grid: { at: S, maximum: { three-phase: 8 kA, x/r: 10, z0: 0.1 + j1 ohm } }
buses:
  S: { voltage: 12.47 kV, phases: ABCN, neutral earthing: solid }
  E: { voltage: 12.47 kV, phases: ABCN, neutral earthing: solid }
  R: { voltage: 12.47 kV }
conductors:
  W: { library: ACSR 336.4 kcmil 26/7 }
  N: { library: ACSR 4/0 AWG 6/1 }
pole tops:
  arm: { positions: { left: 0 ft at 29 ft, middle: 2.5 ft at 29 ft, right: 7 ft at 29 ft, low: 4 ft at 25 ft } }
line types:
  OH: { pole top: arm, conductor: W, neutral conductor: N, positions: { A: left, B: middle, C: right, N: low }, hot temperature: 90 degC, earth return: carson-series }
  OHN: { pole top: arm, conductor: W, neutral conductor: N, positions: { A: left, B: middle, C: right, N: low }, neutral: explicit, hot temperature: 90 degC, earth return: carson-series }
lines:
  explicit: { from: S, to: E, type: OHN, length: 1.3 mi }
  reduced: { from: S, to: R, type: OH, length: 1.3 mi }
conditions:
  cold: {}
  hot: { conductors: hot }
`

// With the neutral earthed solidly at both ends a section with an explicit
// neutral is the reduced one: derived, from the definition of Kron reduction.
func TestSolidNeutralIsReducedNeutral(t *testing.T) {
	doc, states := readStudy(t, fourWires)
	for _, state := range states {
		m, err := FromStudy(doc, state)
		if err != nil {
			t.Fatal(err)
		}
		f, err := m.Matrix.Factor()
		if err != nil {
			t.Fatal(err)
		}
		inverse := f.Inverse()
		block := func(bus int) (z [9]complex128) {
			node := m.Node[bus]
			b, _ := inverse.Block(node, node)
			n := m.NodePhases(node).Count()
			for i := range 3 {
				for j := range 3 {
					z[3*i+j] = b[n*i+j]
				}
			}
			return z
		}
		// Charging at the ends differs by the wires' own: with N at zero volts its row has no influence.
		e, r := block(m.BusByName("E")), block(m.BusByName("R"))
		for i := range e {
			if d := cmplx.Abs(e[i] - r[i]); !(d <= 1e-12*cmplx.Abs(r[0])) {
				t.Errorf("%s, entry %d: %v with N earthed, %v reduced", state.Name, i, e[i], r[i])
			}
		}
		// Solid is exactly zero volts, whatever the rest of the network does.
		x := make([]complex128, m.Dim())
		f.SolveRefined(m.Matrix, m.Source, x)
		for _, bus := range []string{"S", "E"} {
			u := m.Unknown(m.BusByName(bus), 3)
			if !m.Solid(u) || x[u] != 0 {
				t.Errorf("N at %s: %v V, solid %v", bus, x[u], m.Solid(u))
			}
		}
	}
}

// A small impedance to earth comes near to solid earthing, in proportion.
func TestNeutralEarthingTendsToSolid(t *testing.T) {
	at := func(text string) complex128 {
		doc, states := readStudy(t, strings.ReplaceAll(fourWires, "neutral earthing: solid", "neutral earthing: "+text))
		m, err := FromStudy(doc, states[0])
		if err != nil {
			t.Fatal(err)
		}
		f, err := m.Matrix.Factor()
		if err != nil {
			t.Fatal(err)
		}
		node := m.Node[m.BusByName("E")]
		b, _ := f.Inverse().Block(node, node)
		return b[0]
	}
	solid := at("solid")
	last := math.Inf(1)
	for _, text := range []string{"1 ohm", "0.1 ohm", "0.01 ohm", "0.001 ohm"} {
		d := cmplx.Abs(at(text) - solid)
		if !(d < 0.2*last && d > 0) {
			t.Errorf("%s is %g ohm from solid, the larger one before %g", text, d, last)
		}
		last = d
	}
	if d := cmplx.Abs(at("open") - solid); !(d > 1e-3) {
		t.Errorf("open differs from solid by %g ohm only", d)
	}
}

// The current through a solid earthing is what the node's other plant leaves.
func TestSolidEarthingCurrent(t *testing.T) {
	doc, states := readStudy(t, fourWires)
	m, err := FromStudy(doc, states[0])
	if err != nil {
		t.Fatal(err)
	}
	r := rand.New(rand.NewSource(3))
	v := make([]complex128, m.Dim())
	for i := range v {
		if !m.Solid(i) {
			v[i] = complex(r.NormFloat64(), r.NormFloat64())
		}
	}
	line := m.ElementByName(Line, "explicit")
	earth := m.ElementByName(Earthing, "E")
	want := -m.ElementCurrents(line, v)[7] // N at the second end
	if got := m.ElementCurrents(earth, v)[0]; got != want || want == 0 {
		t.Errorf("into earth at E %v, out of the line %v", got, want)
	}
	p := m.AtTerminal(earth, 0)
	if got := m.Current(&p, 3, v); cmplx.Abs(got-want) > 1e-12*cmplx.Abs(want) {
		t.Errorf("probe %v, want %v", got, want)
	}
}

// Earthings along a line: 25 ohm every 300 m are 1/(25·300) S/m (derived), half
// at each end; a long section is told of.
func TestEarthingAlong(t *testing.T) {
	text := strings.Replace(fourWires, "neutral: explicit, hot", "neutral: explicit, neutral earthing: 25 ohm every 300 m, hot", 1)
	doc, states := readStudy(t, text)
	plainDoc, _ := readStudy(t, fourWires)
	omega := 2 * math.Pi * 60
	e := doc.Lines.Find("explicit")
	d, err := LineOf(doc, e, 15, omega, false)
	if err != nil {
		t.Fatal(err)
	}
	if want := 1.3 * mile / (25 * 300); math.Abs(d.Earthing-want) > 1e-12 {
		t.Errorf("%g S, want %g", d.Earthing, want)
	}
	told := false
	for _, text := range d.Taken {
		told = told || strings.Contains(text, "which is coarse for this length")
	}
	if !told {
		t.Errorf("1.3 miles of earthings lumped at the ends, and nothing is told: %q", d.Taken)
	}
	m, err := FromStudy(doc, states[0])
	if err != nil {
		t.Fatal(err)
	}
	plain, err := FromStudy(plainDoc, states[0])
	if err != nil {
		t.Fatal(err)
	}
	k := m.ElementByName(Line, "explicit")
	for _, at := range []int{3*8 + 3, 7*8 + 7} {
		got := m.Elements[k].Y[at] - plain.Elements[k].Y[at]
		if cmplx.Abs(got-complex(d.Earthing/2, 0)) > 1e-12 {
			t.Errorf("entry %d has %v S of earthing, want %g", at, got, d.Earthing/2)
		}
	}
	// It stays where charging is neglected.
	doc, states = readStudy(t, strings.Replace(text, "supply:", "method: { charging: neglected }\nsupply:", 1))
	if m, err = FromStudy(doc, states[0]); err != nil {
		t.Fatal(err)
	}
	y := m.Elements[k].Y
	if got := y[3*8+3] + y[3*8+7]; cmplx.Abs(got-complex(d.Earthing/2, 0)) > 1e-12 {
		t.Errorf("without charging, %v S of earthing at an end, want %g", got, d.Earthing/2)
	}
	// The section's own overrides the type's; short ones are not told of.
	doc, _ = readStudy(t, strings.Replace(text, "length: 1.3 mi }\n  reduced", "length: 200 m, neutral earthing: 10 ohm every 100 m }\n  reduced", 1))
	if d, err = LineOf(doc, doc.Lines.Find("explicit"), 15, omega, false); err != nil || math.Abs(d.Earthing-0.2) > 1e-15 {
		t.Errorf("%g S, want 0.2; %v", d.Earthing, err)
	}
	for _, text := range d.Taken {
		if strings.Contains(text, "coarse") {
			t.Errorf("200 m: %s", text)
		}
	}
}

// Hot resistances are those that the study gives, or by the law of the metal;
// where it has neither, the cold ones stand and that is told.
func TestHotLines(t *testing.T) {
	text := strings.Replace(fourWires, "  R: { voltage: 12.47 kV }\n", "  R: { voltage: 12.47 kV }\n  P: { voltage: 12.47 kV, phases: B }\n", 1)
	text = strings.Replace(text, "lines:\n", `  Z: { z1: 0.3 + j0.6 ohm/km, z0: 0.8 + j1.9 ohm/km, z1 hot: 0.34 + j0.6 ohm/km, z0 hot: 0.9 + j1.9 ohm/km }
  M: { matrix: [[0.4 + j1.0 ohm/km]], matrix hot: [[0.44 + j1.0 ohm/km]] }
  S: { phases: 1, z: 0.4 + j1.0 ohm/km, z hot: 0.45 + j1.0 ohm/km }
  none: { z1: 0.3 + j0.6 ohm/km, z0: 0.8 + j1.9 ohm/km }
  OHC: { pole top: arm, conductor: W, positions: { A: left, B: middle, C: right } }
lines:
  own: { from: S, to: R, z1: 0.3 + j0.6 ohm, z0: 0.8 + j1.9 ohm }
  z: { from: S, to: R, type: Z, length: 1 km }
  m: { from: R, to: P, type: M, length: 1 km, phases: B }
  s: { from: R, to: P, type: S, length: 1 km, phases: B }
  n: { from: S, to: R, type: none, length: 1 km }
  c: { from: S, to: R, type: OHC, length: 1 km }
`, 1)
	doc, states := readStudy(t, text)
	omega := 2 * math.Pi * 60
	for _, tt := range []struct {
		line      string
		phases    quantity.Phases
		cold, hot float64 // ohm, real part of the first entry
		told      string
	}{
		// Derived: (2·R1 + R0)/3.
		{"z", 7, (2*0.3 + 0.8) / 3, (2*0.34 + 0.9) / 3, ""},
		{"m", 2, 0.4, 0.44, ""},
		{"s", 2, 0.4, 0.45, ""},
		{"n", 7, (2*0.3 + 0.8) / 3, (2*0.3 + 0.8) / 3, "line type none: no hot impedance given; its conductors count as cold"},
		{"own", 7, (2*0.3 + 0.8) / 3, (2*0.3 + 0.8) / 3, "line own: no hot impedance given; its conductors count as cold"},
	} {
		e := doc.Lines.Find(tt.line)
		for _, hot := range []bool{false, true} {
			d, err := LineOf(doc, e, tt.phases, omega, hot)
			if err != nil {
				t.Fatal(err)
			}
			want := tt.cold
			if hot {
				want = tt.hot
			}
			if got := real(d.Z[0]); math.Abs(got-want) > 1e-12 {
				t.Errorf("%s, hot %v: %g ohm, want %g", tt.line, hot, got, want)
			}
			if d.Hot != (hot && tt.told == "") {
				t.Errorf("%s, hot %v: Hot is %v", tt.line, hot, d.Hot)
			}
			if said := strings.Join(d.Taken, "\n"); hot && said != tt.told || !hot && said != "" {
				t.Errorf("%s, hot %v: told %q", tt.line, hot, said)
			}
		}
	}
	// A built type: aluminium from 50 to 90 °C is 1 + 40·0.00403/(1 + 30·0.00403)
	// times as much (derived: temperature coefficient of IEC 60287-1-1).
	cold, err := LineOf(doc, doc.Lines.Find("explicit"), 15, omega, false)
	if err != nil {
		t.Fatal(err)
	}
	hot, err := LineOf(doc, doc.Lines.Find("explicit"), 15, omega, true)
	if err != nil {
		t.Fatal(err)
	}
	factor := (1 + 70*0.00403) / (1 + 30*0.00403)
	r := 0.306 * 1.3 // ohm, of the phase conductor
	if got, want := real(hot.Z[0]-cold.Z[0]), r*(factor-1); math.Abs(got-want) > 1e-12 {
		t.Errorf("hot is %g ohm more, want %g", got, want)
	}
	if real(hot.Z[1]) != real(cold.Z[1]) || imag(hot.Z[0]) != imag(cold.Z[0]) || !hot.Hot {
		t.Error("temperature changes more than resistances")
	}
	c, err := LineOf(doc, doc.Lines.Find("c"), 7, omega, true)
	if err != nil {
		t.Fatal(err)
	}
	if c.Hot || !strings.Contains(strings.Join(c.Taken, "\n"), "line type OHC: no hot temperature given") {
		t.Errorf("hot without a hot temperature: %v, told %q", c.Hot, c.Taken)
	}
	// The condition says it, or the method.
	if states[0].Hot || !states[1].Hot {
		t.Errorf("hot: %v, %v", states[0].Hot, states[1].Hot)
	}
	_, states = readStudy(t, strings.Replace(strings.Replace(fourWires, "supply:", "method: { conductors: hot }\nsupply:", 1), "cold: {}\n  hot: { conductors: hot }", "usual: {}\n  cold: { conductors: cold }", 1))
	if !states[0].Hot || states[1].Hot || fmt.Sprint(states[1].Diff) != "[conductors cold]" {
		t.Errorf("by the method: %v %v, %q", states[0].Hot, states[1].Hot, states[1].Diff)
	}
}

// Laws that constants hold to for any geometry: symmetry, passivity, more
// resistance when hot, the explicit neutral reduced by hand is the reduced one.
func TestConstructionLaws(t *testing.T) {
	r := rand.New(rand.NewSource(1926))
	library := []string{"ACSR 2 AWG 6/1", "ACSR 4/0 AWG 6/1", "ACSR 795 kcmil 26/7", "AAC 1/0 AWG Poppy", "copper 2 AWG 7 strands"}
	returns := []string{"modified-carson", "carson-series", "complex-depth"}
	for range 60 {
		wire := func() string { return library[r.Intn(len(library))] }
		x := func(i int) float64 { return 0.6*float64(i) + 0.3*r.Float64() }
		text := fmt.Sprintf(`feederwright: 1
study: laws
frequency: %d Hz
supply:
  grid: { at: S, maximum: { three-phase: 8 kA, x/r: 10, z0: j1 ohm } }
buses:
  S: { voltage: 12.47 kV, phases: ABCN }
  E: { voltage: 12.47 kV, phases: ABCN }
  R: { voltage: 12.47 kV }
conductors:
  W: { library: %s }
  N: { library: %s }
pole tops:
  arm: { sag: %g m, positions: { one: %g m at %g m, two: %g m at %g m, three: %g m at %g m, low: %g m at %g m } }
line types:
  OH: { pole top: arm, conductor: W, neutral conductor: N, positions: { A: one, B: two, C: three, N: low }, earth return: %s, earth resistivity: %g ohm.m, temperature: 25 degC, hot temperature: %g degC }
  OHN: { pole top: arm, conductor: W, neutral conductor: N, positions: { A: one, B: two, C: three, N: low }, earth return: %[13]s, earth resistivity: %[14]g ohm.m, temperature: 25 degC, hot temperature: %[15]g degC, neutral: explicit }
lines:
  n: { from: S, to: E, type: OHN, length: 1 km }
  r: { from: S, to: R, type: OH, length: 1 km }
`, 50+10*r.Intn(2), wire(), wire(), r.Float64(), x(0), 8+4*r.Float64(), x(1), 8+4*r.Float64(), x(2), 8+4*r.Float64(), x(1), 6+r.Float64(),
			returns[r.Intn(3)], math.Round(math.Pow(10, 1+2*r.Float64())), 40+math.Round(60*r.Float64()))
		doc, _ := readStudy(t, text)
		omega := 2 * math.Pi * float64(doc.Frequency.V)
		var cold LineData
		for _, hot := range []bool{false, true} {
			full, err := LineOf(doc, doc.Lines.Find("n"), 15, omega, hot)
			if err != nil {
				t.Fatal(err)
			}
			reduced, err := LineOf(doc, doc.Lines.Find("r"), 7, omega, hot)
			if err != nil {
				t.Fatal(err)
			}
			for _, m := range []struct {
				what string
				z    []complex128
				n    int
				part func(complex128) float64
			}{
				{"resistance, full", full.Z, 4, func(z complex128) float64 { return real(z) }}, {"reactance, full", full.Z, 4, func(z complex128) float64 { return imag(z) }},
				{"resistance, reduced", reduced.Z, 3, func(z complex128) float64 { return real(z) }}, {"reactance, reduced", reduced.Z, 3, func(z complex128) float64 { return imag(z) }},
				{"susceptance, full", full.Y, 4, func(y complex128) float64 { return imag(y) }}, {"susceptance, reduced", reduced.Y, 3, func(y complex128) float64 { return imag(y) }},
			} {
				if !positiveDefinite(m.z, m.n, m.part) {
					t.Errorf("the %s matrix is not that of passive conductors:\n%s", m.what, text)
				}
				for i := range m.n {
					for j := range i {
						if m.z[i*m.n+j] != m.z[j*m.n+i] {
							t.Errorf("the %s matrix is not symmetric", m.what)
						}
					}
				}
			}
			for i := range 3 {
				for j := range 3 {
					kron := full.Z[4*i+j] - full.Z[4*i+3]*full.Z[12+j]/full.Z[15]
					if d := cmplx.Abs(kron - reduced.Z[3*i+j]); d > 1e-12*cmplx.Abs(kron) {
						t.Errorf("entry %d,%d: %v reduced, %v by hand", i, j, reduced.Z[3*i+j], kron)
					}
				}
			}
			if !hot {
				cold = full
				continue
			}
			for i := range 4 {
				if real(full.Z[5*i]) < real(cold.Z[5*i]) {
					t.Errorf("conductor %d: hot %v, cold %v", i, full.Z[5*i], cold.Z[5*i])
				}
			}
		}
	}
}

// positiveDefinite tries a Cholesky factorisation of one part of a matrix.
func positiveDefinite(z []complex128, n int, part func(complex128) float64) bool {
	a := make([]float64, n*n)
	for i := range a {
		a[i] = part(z[i])
	}
	for k := range n {
		for j := range k {
			a[k*n+k] -= a[k*n+j] * a[k*n+j]
		}
		if !(a[k*n+k] > 0) {
			return false
		}
		a[k*n+k] = math.Sqrt(a[k*n+k])
		for i := k + 1; i < n; i++ {
			for j := range k {
				a[i*n+k] -= a[i*n+j] * a[k*n+j]
			}
			a[i*n+k] /= a[k*n+k]
		}
	}
	return true
}

// Workings end in the numbers that the network takes.
func TestConstructionWorking(t *testing.T) {
	doc, _ := readStudy(t, fourWires)
	for _, name := range []string{"OH", "OHN"} {
		d, err := TypeOf(doc, doc.LineTypes.Find(name), false)
		if err != nil {
			t.Fatal(err)
		}
		steps, err := d.Built.Working()
		if err != nil {
			t.Fatal(err)
		}
		all := fmt.Sprint(steps)
		n := d.Phases.Count()
		for i := range n {
			for j := i; j < n; j++ {
				if want := workingComplex(d.Z[i*n+j]); !strings.Contains(all, want) {
					t.Errorf("%s: no step gives %s for entry %d,%d", name, want, i, j)
				}
			}
		}
	}
}

func workingComplex(z complex128) string {
	m := cmplx.Abs(z)
	decimals := max(4-int(math.Floor(math.Log10(m))), 0)
	return fmt.Sprintf("%.*f + j%.*f", decimals, real(z), decimals, imag(z))
}

// A cable's core from its largest d.c. resistance: by hand, 240 mm² copper,
// 0.0754 ohm/km at 20 °C, 18.3 mm, at 90 °C and 50 Hz, touching in trefoil at 40 mm:
//
//	R'  = 0.0754e-3·(1 + 70·0.00393)            = 9.6142540e-5
//	x²  = 8π·50e-7/R'                            = 1.3070562      x⁴ = 1.7083960
//	y_s = x⁴/(192 + 0.8·x⁴)                      = 0.0088350
//	F   = y_s,  q = (18.3/40)² = 0.20930625
//	y_p = F·q·(0.312·q + 1.18/(F + 0.27))        = 0.0079465
//
// Derived: IEC 60287-1-1 [from memory], with a calculator.
func TestCableCore(t *testing.T) {
	text := `feederwright: 1
study: core
frequency: 50 Hz
supply:
  grid: { at: S, maximum: { three-phase: 8 kA, x/r: 10, z0: j1 ohm } }
buses:
  S: { voltage: 11 kV }
  E: { voltage: 11 kV }
conductors:
  core: { library: 240 mm2 copper class 2, diameter: 18.3 mm, strands: 37 }
  strand: { diameter: 1 mm, strands: 1, dc resistance: 21.95 ohm/km, resistance at: 20 degC, material: copper }
cables:
  C: { core: core, diameter under insulation: 19.5 mm, diameter over insulation: 27 mm, permittivity: 2.4, screen: wires, screen wires: 40, screen wire: strand, diameter over screen: 31 mm, outer diameter: 40 mm }
line types:
  T: { cable: C, laying: trefoil, screens: one-end, temperature: 90 degC }
  F: { cable: C, laying: flat, spacing: 100 m, screens: one-end, temperature: 90 degC }
lines:
  L: { from: S, to: E, type: T, length: 1 km }
  F: { from: S, to: E, type: F, length: 1 km }
`
	doc, _ := readStudy(t, text)
	const r90, ys, yp = 0.0754e-3 * (1 + 70*0.00393), 0.0088350, 0.0079465
	for _, tt := range []struct {
		name string
		want float64
	}{{"T", r90 * (1 + ys + yp)}, {"F", r90 * (1 + ys)}} { // 100 m apart there is no proximity effect
		d, err := TypeOf(doc, doc.LineTypes.Find(tt.name), false)
		if err != nil {
			t.Fatal(err)
		}
		if got := d.Built.Metal[0].Resistance; !(math.Abs(got/tt.want-1) <= 1e-7) { // half of the last digits of y_s and y_p
			t.Errorf("%s: %.8g ohm/m, want %.8g (%s)", tt.name, got, tt.want, d.Built.Metal[0].How)
		}
		if d.Built.Metal[0].Conductor != "core" || !strings.Contains(d.Built.Metal[0].How, "skin effect + 0.88 %") {
			t.Errorf("%s: %q", tt.name, d.Built.Metal[0].How)
		}
	}
	// With screens at one end Z1 is that of three cores alone: r + jω·µ0/2π·ln(s/GMR) (derived).
	d, err := TypeOf(doc, doc.LineTypes.Find("T"), false)
	if err != nil {
		t.Fatal(err)
	}
	x := 2 * math.Pi * 50 * 2e-7 * math.Log(0.040/d.Built.Cables.Cables[0].GMR) * 1e3
	if math.Abs(imag(d.Z1)-x) > 1e-12 || math.Abs(real(d.Z1)-1e3*r90*(1+ys+yp)) > 1e-7 {
		t.Errorf("Z1 %v, want %g + j%g", d.Z1, 1e3*r90*(1+ys+yp), x)
	}
	// C = 2π·ε0·2.4/ln(27/19.5), between core and screen (derived).
	if want := 2 * math.Pi * 50 * 2 * math.Pi * 8.8541878128e-12 * 2.4 / math.Log(27/19.5) * 1e3; math.Abs(d.B1/want-1) > 1e-12 || math.Abs(d.B0/d.B1-1) > 1e-12 {
		t.Errorf("B1 %g, B0 %g, want %g", d.B1, d.B0, want)
	}
}
