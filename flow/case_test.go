package flow_test

import (
	"fmt"
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"feederwright/flow"
	"feederwright/internal/onefile"
	"feederwright/network"
	"feederwright/study"
)

// serve takes a study's text to the state of service of one condition.
func serve(t *testing.T, text, condition string) *flow.Case {
	t.Helper()
	doc, ds := study.Read(onefile.FS{Name: "study.yaml", Text: []byte(strings.TrimLeft(text, "\n"))}, "study.yaml")
	if doc != nil {
		ds = append(ds, doc.Validate()...)
	}
	if ds.Errors() > 0 {
		t.Fatal(ds)
	}
	states, ds := doc.States()
	if ds.Errors() > 0 {
		t.Fatal(ds)
	}
	if condition != "" {
		var err error
		if states, err = study.Select(states, condition); err != nil {
			t.Fatal(err)
		}
	}
	c, err := flow.Open(doc, states[0])
	if err != nil {
		t.Fatal(err)
	}
	return c
}

const head = `
feederwright: 1
study: test
frequency: 60 Hz
supply:
  G: { at: S, maximum: { three-phase: 200 MVA, x/r: 10, z0: j0.5 ohm } }
`

// A feeder with a regulator in its middle and a load at the end of a line of
// 0.6 + j1.2 ohm.
func regulated(control, position, conditions string) string {
	return head + fmt.Sprintf(`
buses:
  S:  { voltage: 12.47 kV }
  R0: { voltage: 12.47 kV }
  R1: { voltage: 12.47 kV }
  E:  { voltage: 12.47 kV }
lines:
  1: { from: S, to: R0, z1: 1.2 + j2.4 ohm, z0: 1.2 + j2.4 ohm }
  2: { from: R1, to: E, z1: 0.6 + j1.2 ohm, z0: 0.6 + j1.2 ohm }
regulators:
  VR:
    from: R0
    to: R1
    connection: wye
    impedance: 0.01 %% on 5 MVA
    x/r: 1
    taps: +-10 %% in 32 steps
    position: %s
    control: { %s }
loads:
  D: { at: E, power: 3 MVA, pf: 0.9 lag, connection: earthed-wye, model: power }
%s`, position, control, conditions)
}

func volt(c *flow.Case, bus string, phase int) float64 {
	return cmplx.Abs(c.Voltage(c.Model.BusByName(bus), phase))
}

// A control ends inside its band, having taken no step too many: where it
// came from outside, one step back is outside again (definition).
func TestControlHoldsItsBand(t *testing.T) {
	c := serve(t, regulated("voltage: 122 V, ratio: 7200/120 V, band: 2 V", "0 %", ""), "")
	if len(c.Controls) != 3 || len(c.Hunting) != 0 {
		t.Fatalf("%d controls, hunting %v", len(c.Controls), c.Hunting)
	}
	for p, k := range c.Controls {
		measured := volt(c, "R1", p) / 60
		if math.Abs(measured-122) > 1 || math.Abs(measured-k.Measured) > 1e-9 {
			t.Errorf("unit %d: %g V measured and %g V at the bus, want 122 ± 1 V", p, k.Measured, measured)
		}
		if before := measured - 0.00625*122; before > 121+0.05 { // the step's own effect on the load current is below 0.05 V
			t.Errorf("unit %d: one step less would have been inside, at %g V", p, before)
		}
		if k.Steps <= 0 || math.Abs(k.Position-0.00625*float64(k.Steps)) > 1e-12 {
			t.Errorf("unit %d: %d steps to %g", p, k.Steps, k.Position)
		}
	}
	// From above it comes down to the upper edge.
	c = serve(t, regulated("voltage: 118 V, ratio: 7200/120 V, band: 2 V", "10 %", ""), "")
	for p, k := range c.Controls {
		if k.Measured > 119 || k.Measured < 119-0.00625*122 || k.Steps >= 0 {
			t.Errorf("unit %d: %g V after %d steps, want just below 119 V", p, k.Measured, k.Steps)
		}
	}
}

// Compensation of the line's whole drop holds the voltage at the load: R and X
// in volts are the line's ohms times the CT's primary rating over the VT's
// ratio (derived: the compensator's definition).
func TestLineDropCompensation(t *testing.T) {
	control := fmt.Sprintf("voltage: 120 V, ratio: 7200/120 V, band: 2 V, line-drop r: %g V, line-drop x: %g V, line-drop at: 200 A", 0.6*200/60, 1.2*200/60)
	c := serve(t, regulated(control, "0 %", ""), "")
	for p, k := range c.Controls {
		at := volt(c, "E", p) / 60
		if math.Abs(at-k.Measured) > 1e-6 || math.Abs(at-120) > 1 {
			t.Errorf("unit %d measures %.6f V, the load has %.6f V, want 120 ± 1 V", p, k.Measured, at)
		}
		if here := volt(c, "R1", p) / 60; here < at+1 {
			t.Errorf("unit %d: %g V at the regulator and %g V at the load: nothing compensated", p, here, at)
		}
	}
	// The same by measuring there.
	c = serve(t, regulated("voltage: 120 V, ratio: 7200/120 V, band: 2 V, bus: E", "0 %", ""), "")
	for p, k := range c.Controls {
		if at := volt(c, "E", p) / 60; math.Abs(at-k.Measured) > 1e-9 || math.Abs(at-120) > 1 {
			t.Errorf("unit %d measures %.6f V at E, which has %.6f V", p, k.Measured, at)
		}
	}
	// One measurement for all units moves them together.
	c = serve(t, regulated("voltage: 122 V, ratio: 12470/120 V, band: 2 V, measures: A - B", "0 %", ""), "")
	if len(c.Controls) != 1 || len(c.Controls[0].Units) != 3 {
		t.Fatalf("%+v", c.Controls)
	}
	if p := c.State.Regulator["VR"]; len(p) != 3 || p[0] != p[1] || p[1] != p[2] || p[0] == 0 {
		t.Errorf("positions %v, want three alike", p)
	}
}

// The end of the range, positions that a condition fixes, and a band that is
// too narrow are told.
func TestControlThatCannot(t *testing.T) {
	c := serve(t, regulated("voltage: 138 V, ratio: 7200/120 V, band: 2 V", "0 %", ""), "")
	for _, k := range c.Controls {
		if !k.AtLimit || k.Steps != 16 || !k.OutOfBand() {
			t.Errorf("at 138 V wanted: %+v", k)
		}
	}
	c = serve(t, regulated("voltage: 122 V, ratio: 7200/120 V, band: 2 V", "0 %", "conditions:\n  fixed: { regulator positions: { VR: 1.25 % } }\n"), "fixed")
	for _, k := range c.Controls {
		if !k.Fixed || math.Abs(k.Position-0.0125) > 1e-12 || k.Steps != 0 || k.AtLimit {
			t.Errorf("fixed by the condition: %+v", k)
		}
	}
	c = serve(t, regulated("voltage: 122 V, ratio: 7200/120 V, band: 0.1 V", "0 %", ""), "")
	if len(c.Hunting) != 1 || c.Hunting[0] != "VR" {
		t.Errorf("hunting: %v, want VR", c.Hunting)
	}
	if !c.Converged {
		t.Error("hunting controls leave no state")
	}
}

// Of two controls in series the one with the shorter delay settles first, so
// the other has less to do (definition of the delay).
func TestDelayOrdersControls(t *testing.T) {
	text := func(first, second string) string {
		return head + fmt.Sprintf(`
buses:
  S: { voltage: 12.47 kV }
  A: { voltage: 12.47 kV }
  B: { voltage: 12.47 kV }
  C: { voltage: 12.47 kV }
  D: { voltage: 12.47 kV }
lines:
  1: { from: S, to: A, z1: 1.2 + j2.4 ohm, z0: 1.2 + j2.4 ohm }
  2: { from: B, to: C, z1: 0.6 + j1.2 ohm, z0: 0.6 + j1.2 ohm }
regulators:
  V1: { from: A, to: B, connection: wye, impedance: 0.01 %% on 5 MVA, x/r: 1, taps: +-10 %% in 32 steps, control: { voltage: 122 V, ratio: 7200/120 V, band: 2 V, delay: %s } }
  V2: { from: C, to: D, connection: wye, impedance: 0.01 %% on 5 MVA, x/r: 1, taps: +-10 %% in 32 steps, control: { voltage: 122 V, ratio: 7200/120 V, band: 2 V, delay: %s } }
loads:
  D: { at: D, power: 3 MVA, pf: 0.9 lag, connection: earthed-wye, model: power }
`, first, second)
	}
	steps := func(c *flow.Case) (v1, v2 int) { return c.Controls[0].Steps, c.Controls[3].Steps }
	a1, a2 := steps(serve(t, text("15 s", "30 s"), ""))
	b1, b2 := steps(serve(t, text("45 s", "30 s"), ""))
	if !(a2 < b2) || a1 == 0 || b1 == 0 {
		t.Errorf("the outer one made %d steps after the inner one and %d before it (inner %d and %d)", a2, b2, a1, b1)
	}
}

// A transformer's taps under load, on either winding, bring its second side to
// the voltage set (definition).
func TestTransformerControl(t *testing.T) {
	for _, taps := range []string{"from taps", "to taps"} {
		c := serve(t, `
feederwright: 1
study: test
frequency: 50 Hz
supply:
  G: { at: S, maximum: { three-phase: 1000 MVA, x/r: 10, z0: open } }
buses:
  S: { voltage: 110 kV }
  L: { voltage: 20 kV }
transformers:
  T: { from: S, to: L, group: YNd5, rating: 20 MVA, voltages: 110/20 kV, impedance: 12 %, x/r: 30, neutral: open, `+taps+`: +-12 % in 16 steps, control: { voltage: 102 V, ratio: 20000/100 V, band: 3 V } }
loads:
  D: { at: L, power: 18 MVA, pf: 0.9 lag }
`, "")
		k := c.Controls[0]
		if math.Abs(k.Measured-102) > 1.5 || k.Steps == 0 || (k.Steps > 0) != (taps == "to taps") {
			t.Errorf("%s: %+v", taps, k)
		}
		// Nothing earths the 20 kV side: a load without a stated connection stands between phases.
		if e := c.Model.Elements[c.Model.ElementByName(network.Load, "D")]; e.Demand.Branches[0].B < 0 {
			t.Error("the load stands to earth, where nothing is earthed")
		}
		if !strings.Contains(strings.Join(c.Model.Defaults, "\n"), "taken as delta where nothing earths") {
			t.Errorf("that is not told: %q", c.Model.Defaults)
		}
	}
}

// Load levels (by hand): peak is the power as written, light and cold are what
// each load says, a percentage is for all alike.
func TestLoadLevels(t *testing.T) {
	text := head + `
buses:
  S: { voltage: 12.47 kV }
loads:
  a: { at: S, power: 1 MVA, pf: 1, connection: earthed-wye, model: power, light: 30 %, cold: 2.5 for 20 min }
  b: { at: S, power: 0.5 MVA, pf: 1, connection: earthed-wye, model: power }
  c: { at: S, power: 0.2 MVA, pf: 1, connection: delta, model: power, light: 50 %, cold: 2 }
conditions:
  peak:  { loads: peak }
  light: { loads: light }
  cold:  { loads: cold }
  none:  { loads: none }
  some:  { loads: 60 % }
  plain: { infeed: maximum }
`
	for condition, want := range map[string]float64{"peak": 1.7e6, "light": 0.3e6 + 0.5e6 + 0.1e6, "cold": 2.5e6 + 0.5e6 + 0.4e6, "none": 0, "some": 0.6 * 1.7e6, "plain": 1.7e6} {
		c := serve(t, text, condition)
		if got := real(c.Balance().Loads); !(math.Abs(got-want) <= 1) {
			t.Errorf("%s: loads take %g W, want %g W (by hand)", condition, got, want)
		}
		told := strings.Join(c.Model.Defaults, "\n")
		for what, in := range map[string]string{"load b states no light load": "light", "load b states no cold-load factor": "cold", "loads at peak where": "plain"} {
			if strings.Contains(told, what) != (condition == in) {
				t.Errorf("%s: %q told: %v", condition, what, strings.Contains(told, what))
			}
		}
	}
}

// What machines and inverters take and give is what the study says (by hand).
func TestMachinesInService(t *testing.T) {
	c := serve(t, head+`
buses:
  S: { voltage: 12.47 kV }
  M: { voltage: 4.16 kV }
transformers:
  T: { from: S, to: M, group: Dyn1, rating: 10 MVA, voltages: 12.47/4.16 kV, impedance: 6 %, x/r: 12, zero-sequence: 6 %, neutral: solid }
induction machines:
  pump: { at: M, power: 400 kW, efficiency: 95 %, pf: 0.85 lag, locked-rotor current: 6, x/r: 12, load: 80 %, count: 2 }
synchronous machines:
  hydro: { at: M, rating: 1.5 MVA, subtransient: 18 %, x/r: 20, neutral: open, output: 1 MW, output pf: 0.8 lag }
  mill:  { at: M, rating: 1 MVA, subtransient: 18 %, x/r: 20, neutral: open, runs as: motor, output: 0.6 MW, output pf: 0.9 lead }
inverters:
  sun: { at: M, rating: 1.2 MVA, output: 0.9 MW, pf: 0.95 lead, current limit: 120 %, response: active }
`, "")
	if !c.Converged {
		t.Fatal("no state")
	}
	tan := func(pf float64) float64 { return math.Sqrt(1-pf*pf) / pf }
	pump := 2 * 0.8 * 400e3 / 0.95
	for name, want := range map[string]complex128{
		"pump":  complex(pump, pump*tan(0.85)),
		"hydro": complex(-1e6, -1e6*tan(0.8)),
		"mill":  complex(0.6e6, -0.6e6*tan(0.9)),
		"sun":   complex(-0.9e6, 0.9e6*tan(0.95)),
	} {
		found := false
		for i := range c.Model.Elements {
			if e := &c.Model.Elements[i]; e.Name == name && len(e.Terminals) == 1 {
				found = true
				if got := c.Power(i, 0); !(cmplx.Abs(got-want) <= 1) {
					t.Errorf("%s takes %v VA, want %v (by hand)", name, got, want)
				}
			}
		}
		if !found {
			t.Errorf("%s is not in the network", name)
		}
	}
}

// A synchronous machine alone in an island keeps its voltage (definition: its
// excitation).
func TestIslandKeepsItsVoltage(t *testing.T) {
	c := serve(t, `
feederwright: 1
study: test
frequency: 60 Hz
supply:
  G: { at: S, maximum: { three-phase: 200 MVA, x/r: 10, z0: j0.5 ohm } }
buses:
  S: { voltage: 4.16 kV }
  I: { voltage: 4.16 kV }
switches:
  tie: { from: S, to: I }
synchronous machines:
  diesel: { at: I, rating: 2 MVA, subtransient: 18 %, zero: 5 %, x/r: 20, neutral: solid, voltage: 4.1 kV }
loads:
  a: { at: I, power: 0.6 MVA, pf: 0.9 lag, phases: A, connection: earthed-wye, model: power }
  b: { at: I, power: 0.6 MVA, pf: 0.9 lag, connection: earthed-wye, model: power }
conditions:
  island: { open: [tie] }
`, "island")
	bus := c.Model.BusByName("I")
	_, v1, _ := c.Net.Rotation.Sequence([3]complex128{c.Voltage(bus, 0), c.Voltage(bus, 1), c.Voltage(bus, 2)})
	if got := cmplx.Abs(v1) * math.Sqrt(3); !(math.Abs(got-4100) <= 1e-4) {
		t.Errorf("positive sequence %g V, want 4100 V", got)
	}
	if got := real(c.Balance().Machines); !(math.Abs(got-1.2e6*0.9) <= 0.05*got) {
		t.Errorf("the machine gives %g W for %g W", got, 1.2e6*0.9)
	}
}

// Loads of a centre-tapped service (by hand): 120 V from leg to middle.
func TestHalves(t *testing.T) {
	c := serve(t, head+`
buses:
  S: { voltage: 12.47 kV }
  H: { voltage: 240 V, phases: ABN }
banks:
  B: { from: S, to: H, from neutral: solid, to neutral: 1 ohm }
single-phase transformers:
  U: { bank: B, primary: A-N, secondary: A-N-B, rating: 50 kVA, voltages: 7200/240 V, impedance: 2 %, x/r: 1.2, halves: interlaced }
loads:
  light:  { at: H, power: 12 kVA, pf: 1, phases: A, connection: wye, model: impedance }
  range:  { at: H, power: 9 kVA, pf: 1, phases: AB, connection: delta, model: power }
`, "")
	bus := c.Model.BusByName("H")
	if u := c.Model.Buses[bus].PhaseVoltage(); u != 120 {
		t.Errorf("a leg has %g V nominal to the middle, want 120 V", u)
	}
	e := c.Model.ElementByName(network.Load, "light")
	v := cmplx.Abs(c.PhaseToNeutral(bus, 0))
	if got, want := real(c.Power(e, 0)), 12e3*(v/120)*(v/120); !(math.Abs(got-want) <= 1e-3) || math.Abs(v-120) > 5 {
		t.Errorf("the load takes %g W at %g V, want %g W (by hand)", got, v, want)
	}
	for _, b := range c.Buses() {
		if b.Name == "H" && math.Abs(b.PerUnit[0]-v/120) > 1e-12 {
			t.Errorf("%g of nominal, want %g", b.PerUnit[0], v/120)
		}
	}
}

// Ratings and limits (by hand): a line of 100 A, a transformer of 2 MVA.
func TestLoading(t *testing.T) {
	c := serve(t, head+`
service limits: { voltage low: 92 %, loading: 110 % }
buses:
  S: { voltage: 12.47 kV }
  E: { voltage: 12.47 kV }
  L: { voltage: 0.48 kV }
lines:
  1: { from: S, to: E, z1: 0.1 + j0.2 ohm, z0: 0.1 + j0.2 ohm, ampacity: 100 A }
transformers:
  T: { from: E, to: L, group: Dyn1, rating: 1.5/2 MVA, voltages: 12.47/0.48 kV, impedance: 6 %, x/r: 8, zero-sequence: 6 %, neutral: solid }
breakers:
  CB: { in: "1", near: S, continuous: 120 A }
loads:
  D: { at: L, power: 1.8 MVA, pf: 0.9 lag, connection: earthed-wye, model: current }
`, "")
	if l := flow.LimitsOf(c.Doc); l.VoltageLow != 0.92 || l.Loading != 1.1 || l.VoltageHigh != 1.1 || l.LoadingTarget != 0.9 || len(l.Defaults) != 1 || strings.Contains(l.Defaults[0], "voltage low 9") {
		t.Errorf("%+v", l)
	}
	// Constant current: 1.8 MVA at 480 V whatever the voltage.
	low := 1.8e6 / math.Sqrt(3) / 480
	high := low * 0.48 / 12.47
	seen := 0
	for _, b := range c.Branches() {
		want := map[string]float64{"1": high / 100, "T": low / (2e6 / math.Sqrt(3) / 480)}[b.Name]
		if !b.Given || !(math.Abs(b.Loading-want) <= 1e-6) {
			t.Errorf("%s is loaded to %g, want %g (by hand)", b.Name, b.Loading, want)
		}
		seen++
	}
	for _, d := range c.Devices() {
		if !(math.Abs(d.Loading-high/120) <= 1e-6) {
			t.Errorf("%s is loaded to %g, want %g (by hand)", d.Name, d.Loading, high/120)
		}
		seen++
	}
	if seen != 3 {
		t.Errorf("%d ratings, want 3", seen)
	}
}
