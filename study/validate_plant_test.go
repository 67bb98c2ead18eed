package study

import "testing"

// plantStudy is a fourth study without mistakes, of plant with three windings,
// single-phase units, regulators, reactors, machines and inverters, part of it
// with a neutral of its own. Invented.
const plantStudy = `feederwright: 1
study: plant
frequency: 60 Hz
supply:
  grid: { at: HV, maximum: { three-phase: 6 kA, x/r: 9, line-to-ground: 5 kA, line-to-ground x/r: 7 } }
buses:
  HV: { voltage: 69 kV }
  S: { voltage: 12.47 kV, phases: ABCN, neutral earthing: solid }
  TER: { voltage: 4.16 kV }
  P1: { voltage: 12.47 kV, phases: ABCN }
  P2: { voltage: 12.47 kV, phases: ABCN }
  P3: { voltage: 12.47 kV, phases: ABCN, neutral earthing: 5 ohm }
  D: { voltage: 12.47 kV }
  PUMP: { voltage: 480 V }
  FARM: { voltage: 240 V, phases: ABN }
  MILL: { voltage: 480 V }
three-winding transformers:
  T1:
    first: HV
    second: S
    third: TER
    group: YNyn0d1
    rating: 12/16 MVA
    voltages: 69/12.47/4.16 kV
    impedance 1-2: 8.2 % on 12 MVA
    impedance 1-3: 13.5 % on 12 MVA
    impedance 2-3: 4.1 % on 12 MVA
    x/r: 18
    zero-sequence 1-2: 7.9 %
    zero-sequence 1-3: 13 %
    zero-sequence 2-3: 4 %
    first neutral: solid
    second neutral: solid
    taps: +-10 % in 32 steps
    tap: 5 %
transformers:
  TM: { from: D, to: MILL, group: Dyn1, rating: 2 MVA, voltages: 12.47/0.48 kV, impedance: 5.75 %, x/r: 7, zero-sequence: 5.5 %, neutral: solid }
line types:
  W4: { matrix: [[0.4 + j1.4 ohm/mi], [0.1 + j0.8 ohm/mi, 0.4 + j1.4 ohm/mi], [0.1 + j0.7 ohm/mi, 0.1 + j0.8 ohm/mi, 0.4 + j1.4 ohm/mi], [0.1 + j0.7 ohm/mi, 0.1 + j0.7 ohm/mi, 0.1 + j0.7 ohm/mi, 0.7 + j1.5 ohm/mi]] }
  W3: { z1: 0.3 + j0.6 ohm/mi, z0: 0.8 + j1.9 ohm/mi }
lines:
  L1: { from: S, to: P1, type: W4, length: 2 mi }
  L2: { from: P3, to: D, type: W3, length: 1 mi }
regulators:
  VR: { from: P1, to: P2, connection: wye, impedance: 0.4 % on 5 MVA, x/r: 5, taps: +-10 % in 32 steps, position: 5/2.5/2.5 %, design: B }
reactors:
  XR: { from: P2, to: P3, impedance: 6 % on 10 MVA, x/r: 50 }
banks:
  B1: { from: P3, to: PUMP }
  B2: { from: P3, to: FARM, to neutral: 12 ohm }
single-phase transformers:
  U1: { bank: B1, primary: A-N, secondary: A-B, rating: 75 kVA, voltages: 7200/480 V, impedance: 2.4 %, x/r: 1.9 }
  U2: { bank: B1, primary: B-N, secondary: B-C, rating: 75 kVA, voltages: 7200/480 V, impedance: 2.4 %, losses: 1.1 kW }
  U3: { bank: B2, primary: C-N, secondary: A-N-B, rating: 25 kVA, voltages: 7200/240 V, impedance: 1.9 %, x/r: 1.4, half impedance: 1.4 %, half x/r: 1.2 }
induction machines:
  M1: { at: MILL, power: 250 kW, efficiency: 94.5 %, pf: 0.87 lag, voltage: 460 V, locked-rotor current: 6.2, x/r: 7, z2: 17 % on 300 kVA, count: 2 }
synchronous machines:
  G1: { at: D, rating: 2 MVA, subtransient: 19 %, transient: 28 %, negative: 21 %, zero: 8 %, x/r: 28, neutral: 60 ohm }
inverters:
  PV: { at: MILL, rating: 1 MVA, output: 800 kW, current limit: 115 %, response: support, gain: 2, dip below: 90 %, ceases below: 30 % }
current transformers:
  ct n: { in: T1, neutral: to, ratio: 300/5 A }
  ct n2: { in: T1, neutral: second, ratio: 300/5 A }
`

func TestPlantStudyHasNoDiagnostics(t *testing.T) {
	for _, d := range diagnose(t, plantStudy) {
		t.Errorf("%s", d.Text())
	}
}

// plantSlips are mistakes in it, told in testdata/validate/rules.txt.
var plantSlips = []struct{ base, old, new string }{
	// three-winding transformers
	{plantStudy, "third: TER", "third: S"},
	{plantStudy, "third: TER", "third: FARM"},
	{plantStudy, "69/12.47/4.16 kV", "69/4.16/12.47 kV"},
	{plantStudy, "YNyn0d1", "YNd1"},
	{plantStudy, "YNyn0d1", "Dyn1d0"},
	{plantStudy, "rating: 12/16 MVA", "rating: 12/16 kVA"},
	{plantStudy, "4.1 % on 12 MVA", "4.1 % on 12 kVA"},
	{plantStudy, "impedance 1-2: 8.2 %", "impedance 1-2: 0.082 %"},
	{plantStudy, "impedance 1-2: 8.2 %", "impedance 1-2: 820 %"},
	{plantStudy, "impedance 1-2: 8.2 %", "impedance 1-2: 8.2"},
	{plantStudy, "    x/r: 18\n", "    x/r 1-2: 18\n"},
	{plantStudy, "    zero-sequence 2-3: 4 %\n", ""},
	{plantStudy, "    second neutral: solid\n", ""},
	{plantStudy, "tap: 5 %", "tap: 15 %"},
	{plantStudy, "neutral: to, ratio", "neutral: third, ratio"},
	{plantStudy, "neutral: to, ratio", "neutral: own, ratio"},
	{plantStudy, "neutral: to, ratio", "neutral: winding 2, ratio"},
	{plantStudy, "in: T1, neutral: to, ratio", "in: TM, neutral: second, ratio"},
	// banks and their units
	{plantStudy, "{ from: P3, to: PUMP }", "{ from: P3, to: P3 }"},
	{plantStudy, "{ from: P3, to: PUMP }", "{ from: D, to: PUMP }"},
	{plantStudy, "{ from: P3, to: PUMP }", "{ from: P3, to: PUMP, from neutral: open }"},
	{plantStudy, "{ from: P3, to: PUMP }", "{ from: P3, to: PUMP, from neutral: solid }"},
	{plantStudy, "{ from: P3, to: PUMP }", "{ from: P3, to: PUMP, to neutral: solid }"},
	{plantStudy, "to neutral: 12 ohm", "to neutral: -12 ohm"},
	{plantStudy, "U3: { bank: B2", "U3: { bank: B1"},
	{plantStudy, "U3: { bank: B2", "U3: { bank: B3"},
	{plantStudy, "primary: C-N, secondary: A-N-B", "primary: C-N, secondary: A-C"},
	{plantStudy, "primary: C-N, secondary: A-N-B", "primary: C-N, secondary: A-B"},
	{plantStudy, "primary: C-N, secondary: A-N-B", "primary: A-N-C, secondary: A-N-B"},
	{plantStudy, "25 kVA, voltages: 7200/240 V", "25 kVA, voltages: 12470/240 V"},
	{plantStudy, "25 kVA, voltages: 7200/240 V", "25 kVA, voltages: 7200/120 V"},
	{plantStudy, "25 kVA, voltages: 7200/240 V", "25 MVA, voltages: 7200/240 V"},
	{plantStudy, "impedance: 1.9 %,", "impedance: 0.019 %,"},
	{plantStudy, "impedance: 1.9 %,", "impedance: 1.9 pu,"},
	{plantStudy, "half impedance: 1.4 %, half x/r: 1.2", "halves: interlaced, half impedance: 1.4 %, half x/r: 1.2"},
	{plantStudy, "half impedance: 1.4 %, half x/r: 1.2", "half impedance: 1.4 %"},
	{plantStudy, ", half impedance: 1.4 %, half x/r: 1.2", ""},
	{plantStudy, "losses: 1.1 kW", "losses: 11 kW"},
	{plantStudy, ", losses: 1.1 kW", ""},
	// regulators and reactors
	{plantStudy, "connection: wye, impedance", "connection: open-delta, impedance"},
	{plantStudy, "connection: wye, impedance", "connection: wye, phases: ABC, impedance"},
	{plantStudy, "from: P1, to: P2, connection", "from: P1, to: D, connection"},
	{plantStudy, "from: P1, to: P2, connection", "from: P1, to: MILL, connection"},
	{plantStudy, "0.4 % on 5 MVA", "0.4 % on 5 kVA"},
	{plantStudy, "0.4 % on 5 MVA", "0.4 %"},
	{plantStudy, "0.4 % on 5 MVA", "40 % on 5 MVA"},
	{plantStudy, "5/2.5/2.5 %", "5/2.5 %"},
	{plantStudy, "5/2.5/2.5 %", "5/2.5/12 %"},
	{plantStudy, "6 % on 10 MVA", "6 % on 10 kVA"},
	{plantStudy, "6 % on 10 MVA", "0.06 % on 10 MVA"},
	{plantStudy, "6 % on 10 MVA, x/r: 50", "6 % on 10 MVA"},
	{plantStudy, "impedance: 6 % on 10 MVA, x/r: 50", "phases: ABC, z: j0.4 ohm, impedance: 6 % on 10 MVA, x/r: 50"},
	{plantStudy, "impedance: 6 % on 10 MVA, x/r: 50", "z: 0.01 - j0.4 ohm"},
	// conductor N
	{plantStudy, "S: { voltage: 12.47 kV, phases: ABCN, neutral earthing: solid }", "S: { voltage: 12.47 kV, phases: ABCN }"},
	{plantStudy, "type: W4, length: 2 mi", "type: W3, length: 2 mi"},
	{plantStudy, "TM: { from: D", "TZ: { from: P2, to: MILL, group: YNd1, rating: 2 MVA, voltages: 12.47/0.48 kV, impedance: 5.75 %, x/r: 7, zero-sequence: 5.5 %, neutral: solid }\n  TM: { from: D"},
	// machines
	{plantStudy, "power: 250 kW,", "power: 250 MW,"},
	{plantStudy, "power: 250 kW, efficiency: 94.5 %, pf: 0.87 lag", "rating: 300 kVA, power: 250 kW"},
	{plantStudy, "efficiency: 94.5 %", "efficiency: 9.45 %"},
	{plantStudy, "locked-rotor current: 6.2", "locked-rotor current: 0.16"},
	{plantStudy, "locked-rotor current: 6.2", "locked-rotor current: 62"},
	{plantStudy, "locked-rotor current: 6.2", "locked-rotor current: 620 %"},
	{plantStudy, "17 % on 300 kVA", "17 %"},
	{plantStudy, "count: 2", "count: 0"},
	{plantStudy, "voltage: 460 V", "voltage: 265 V"},
	{plantStudy, "G1: { at: D, rating: 2 MVA", "G1: { at: D, rating: 2 kVA"},
	{plantStudy, "G1: { at: D", "G1: { at: P1"},
	{plantStudy, "G1: { at: D", "G1: { at: FARM"},
	{plantStudy, "subtransient: 19 %", "subtransient: 0.19"},
	{plantStudy, "subtransient: 19 %", "subtransient: 0.19 %"},
	{plantStudy, "subtransient: 19 %", "subtransient: 190 %"},
	{plantStudy, "zero: 8 %, ", ""},
	{plantStudy, "neutral: 60 ohm }", "neutral: -60 ohm }"},
	// inverters
	{plantStudy, "current limit: 115 %", "current limit: 1.15"},
	{plantStudy, "current limit: 115 %", "current limit: 1.15 %"},
	{plantStudy, "current limit: 115 %", "current limit: 1150 %"},
	{plantStudy, "rating: 1 MVA, output: 800 kW", "rating: 1 GVA"},
	{plantStudy, "output: 800 kW", "output: 800 MW"},
	{plantStudy, "gain: 2, ", ""},
	{plantStudy, "gain: 2, ", "gain: 200, "},
	{plantStudy, "response: support", "response: active"},
	{plantStudy, "ceases below: 30 %", "ceases below: 130 %"},
}
