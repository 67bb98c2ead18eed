package study

import "testing"

// builtStudy is a third study without mistakes, of lines given by how they are
// built. The four-wire line is the example of W. H. Kersting, Distribution
// System Modeling and Analysis, ch. 4 [from memory]; the rest is invented.
const builtStudy = `feederwright: 1
study: built
frequency: 60 Hz
method: { conductors: cold, earth resistivity: 200 ohm.m }
supply:
  grid: { at: S, maximum: { three-phase: 8 kA, x/r: 10, z0: j1 ohm } }
buses:
  S: { voltage: 12.47 kV, phases: ABCN, neutral earthing: solid }
  E: { voltage: 12.47 kV, phases: ABCN, neutral earthing: 10 ohm }
  P: { voltage: 12.47 kV }
  Q: { voltage: 12.47 kV, phases: B }
conductors:
  W336: { library: ACSR 336.4 kcmil 26/7 }
  W40: { diameter: 0.563 in, gmr: 0.00814 ft, resistance: 0.592 ohm/mi, resistance at: 50 degC, material: aluminium }
  core: { library: 95 mm2 copper class 2, diameter: 11.3 mm, strands: 19 }
  strand: { diameter: 1 mm, strands: 1, dc resistance: 21.95 ohm/km, resistance at: 20 degC, material: copper }
  steel: { diameter: 9 mm, gmr: 0.2 mm, resistance: 4 ohm/km, resistance at: 20 degC, material: steel }
pole tops:
  arm: { sag: 3 ft, positions: { left: 0 ft at 29 ft, middle: 2.5 ft at 29 ft, right: 7 ft at 29 ft, low: 4 ft at 25 ft, top: 3 ft at 35 ft } }
cables:
  C95: { core: core, diameter under insulation: 12.9 mm, diameter over insulation: 23.9 mm, permittivity: 2.4, screen: wires, screen wires: 32, screen wire: strand, diameter over screen: 27.5 mm, outer diameter: 33 mm }
  tube: { core: core, diameter over insulation: 23.9 mm, permittivity: 2.4, screen: tape, diameter over screen: 24.5 mm, screen thickness: 0.15 mm, screen material: copper, outer diameter: 30 mm }
line types:
  OH: { pole top: arm, conductor: W336, neutral conductor: W40, shield wire: steel, positions: { A: left, B: middle, C: right, N: low, shield: top }, temperature: 50 degC, hot temperature: 75 degC }
  OHN: { pole top: arm, conductor: W336, neutral conductor: W40, positions: { A: left, B: middle, C: right, N: low }, neutral: explicit, neutral earthing: 25 ohm every 300 m }
  UG: { cable: C95, laying: trefoil, screens: both-ends, temperature: 20 degC, hot temperature: 90 degC }
  UG1: { cable: tube, phases: 1, screens: one-end, neutral conductor: W40, neutral distance: 100 mm }
  Z: { z1: 0.3 + j0.6 ohm/mi, z0: 0.8 + j1.9 ohm/mi, z1 hot: 0.34 + j0.6 ohm/mi, z0 hot: 0.9 + j1.9 ohm/mi }
  M: { matrix: [[0.4 + j1.0 ohm/mi], [0.1 + j0.4 ohm/mi, 0.4 + j1.0 ohm/mi]], matrix hot: [[0.44 + j1.0 ohm/mi], [0.1 + j0.4 ohm/mi, 0.44 + j1.0 ohm/mi]], phases: 2 }
lines:
  A: { from: S, to: E, type: OHN, length: 0.5 mi, neutral earthing: 10 ohm every 200 m }
  B: { from: E, to: P, type: OH, length: 1 mi }
  C: { from: P, to: Q, type: OH, length: 1 mi, phases: B, positions: { B: left, N: low } }
conditions:
  usual: {}
  hot: { conductors: hot }
`

func TestBuiltStudyHasNoDiagnostics(t *testing.T) {
	for _, d := range diagnose(t, builtStudy) {
		t.Errorf("%s", d.Text())
	}
}

// buildSlips are mistakes in it, told in testdata/validate/rules.txt.
var buildSlips = []struct{ base, old, new string }{
	// conductors
	{builtStudy, "library: ACSR 336.4 kcmil 26/7", "library: ACSR 336 kcmil 26/7"},
	{builtStudy, "diameter: 0.563 in, gmr: 0.00814 ft", "diameter: 0.563 in"},
	{builtStudy, "diameter: 0.563 in, gmr: 0.00814 ft", "gmr: 0.00814 ft"},
	{builtStudy, "diameter: 0.563 in, gmr: 0.00814 ft", "diameter: 0.563 in, gmr: 0.814 ft"},
	{builtStudy, "diameter: 0.563 in, gmr: 0.00814 ft", "diameter: 0.563 ft, gmr: 0.00814 ft"},
	{builtStudy, "diameter: 11.3 mm, strands: 19", "diameter: 11.3 mm, strands: 18"},
	{builtStudy, "diameter: 11.3 mm, strands: 19", "strands: 19"},
	{builtStudy, "resistance: 0.592 ohm/mi,", "resistance: 0.592 + j0.7 ohm/mi,"},
	{builtStudy, "resistance: 0.592 ohm/mi,", "resistance: 0.592 ohm/mi, dc resistance: 0.59 ohm/mi,"},
	{builtStudy, "resistance: 0.592 ohm/mi,", "resistance: 0.0592 ohm/mi,"},
	{builtStudy, "resistance: 0.592 ohm/mi, resistance at: 50 degC,", ""},
	{builtStudy, "0.592 ohm/mi, resistance at: 50 degC, material", "0.592 ohm/mi, material"},
	{builtStudy, "resistance at: 50 degC, material: aluminium }", "resistance at: 50 degC }"},
	{builtStudy, "material: steel }", "material: steel, ampacity: -5 A }"},
	// pole tops and positions
	{builtStudy, "low: 4 ft at 25 ft", "low: 4 ft"},
	{builtStudy, "low: 4 ft at 25 ft", "low: 0 ft at 29 ft"},
	{builtStudy, "low: 4 ft at 25 ft", "low: 4 ft at 2 ft"},
	{builtStudy, "N: low, shield: top", "N: lower, shield: top"},
	{builtStudy, "N: low, shield: top", "N: low, guard: top"},
	{builtStudy, "N: low, shield: top", "N: low, L1: top"},
	{builtStudy, "shield wire: steel, ", ""},
	{builtStudy, "neutral conductor: W40, shield wire", "shield wire"},
	{builtStudy, "positions: { A: left, B: middle, C: right, N: low, shield: top }, ", ""},
	{builtStudy, "positions: { A: left, B: middle, C: right, N: low, shield: top }, ", "positions: { A: left, C: right, N: low, shield: top }, "},
	{builtStudy, "positions: { B: left, N: low }", "positions: { A: left, N: low }"},
	{builtStudy, "positions: { B: left, N: low }", "positions: { B: lft, N: low }"},
	// types
	{builtStudy, "temperature: 50 degC, hot temperature: 75 degC", "temperature: 75 degC, hot temperature: 50 degC"},
	{builtStudy, "temperature: 50 degC, hot temperature: 75 degC", "hot temperature: 750 degC"},
	{builtStudy, "neutral: explicit, neutral earthing", "neutral earthing"},
	{builtStudy, "C: right, N: low }, neutral: explicit", "C: right }, neutral: explicit"},
	{builtStudy, "UG: { cable: C95,", "UG: { cable: C95, pole top: arm,"},
	{builtStudy, "UG: { cable: C95,", "UG: { cable: C95, z1: 0.2 + j0.1 ohm/km,"},
	{builtStudy, "UG: { cable: C95,", "UG: { cable: C95, conductor: W336,"},
	{builtStudy, "laying: trefoil, ", ""},
	{builtStudy, "laying: trefoil, ", "laying: trefoil, spacing: 30 mm, "},
	{builtStudy, "laying: trefoil, ", "laying: trefoil, phases: 2, "},
	{builtStudy, "laying: trefoil, ", "laying: trefoil, earth return: wedepohl-wilcox, "},
	{builtStudy, "laying: trefoil, ", "laying: trefoil, earth return: complex-depth, depth: 1 m, "},
	{builtStudy, "laying: trefoil, ", "laying: trefoil, earth resistivity: 0.1 ohm.m, "},
	{builtStudy, "screens: both-ends, ", ""},
	{builtStudy, "neutral distance: 100 mm", "spacing: 100 mm"},
	{builtStudy, "screens: one-end, neutral", "depth: 1 m, earth return: carson-series, screens: one-end, neutral"},
	// cables
	{builtStudy, "screen wires: 32, ", ""},
	{builtStudy, "screen wires: 32, ", "screen wires: 320, "},
	{builtStudy, "diameter over insulation: 23.9 mm, permittivity: 2.4, screen: wires", "diameter over insulation: 2.39 mm, permittivity: 2.4, screen: wires"},
	{builtStudy, "permittivity: 2.4, screen: wires", "permittivity: 0.4, screen: wires"},
	{builtStudy, "diameter over screen: 27.5 mm", "diameter over screen: 37.5 mm"},
	{builtStudy, "screen material: copper, outer", "outer"},
	{builtStudy, "screen material: copper, outer", "screen resistance: j2 ohm/km, outer"},
	{builtStudy, "screen thickness: 0.15 mm", "screen thickness: 15 mm"},
	// lines and buses
	{builtStudy, "type: OHN, length: 0.5 mi,", "type: OHN,"},
	{builtStudy, "E: { voltage: 12.47 kV, phases: ABCN,", "E: { voltage: 12.47 kV,"},
	{builtStudy, "B: { from: E, to: P, type: OH, length: 1 mi }", "B: { from: E, to: P, type: OH, length: 1 mi, neutral earthing: 10 ohm every 200 m }"},
	{builtStudy, "B: { from: E, to: P, type: OH, length: 1 mi }", "B: { from: E, to: P, type: UG, length: 1 mi, positions: { A: left } }"},
	{builtStudy, "B: { from: E, to: P, type: OH, length: 1 mi }", "B: { from: E, to: P, type: Z, length: 1 mi, positions: { A: left } }"},
	{builtStudy, "B: { from: E, to: P, type: OH, length: 1 mi }", "B: { from: E, to: P, type: OH, length: 1 mi, z0: 1 + j2 ohm/mi }"},
	{builtStudy, "neutral earthing: 10 ohm }", "neutral earthing: -10 ohm }"},
	// hot
	{builtStudy, ", z0 hot: 0.9 + j1.9 ohm/mi", ""},
	{builtStudy, ", z1 hot: 0.34 + j0.6 ohm/mi", ""},
	{builtStudy, "z1 hot: 0.34 + j0.6 ohm/mi", "z1 hot: 0.24 + j0.6 ohm/mi"},
	{builtStudy, "z1 hot: 0.34 + j0.6 ohm/mi", "z1 hot: 0.34 + j0.6 ohm"},
	{builtStudy, "z1: 0.3 + j0.6 ohm/mi, z0: 0.8 + j1.9 ohm/mi, z1 hot", "z: 0.3 + j0.6 ohm/mi, phases: 1, z1 hot"},
	{builtStudy, "[[0.44 + j1.0 ohm/mi], [", "[[0.34 + j1.0 ohm/mi], ["},
	{builtStudy, "[[0.44 + j1.0 ohm/mi], [", "[[0.44 + j1.0 ohm/mi, 1 ohm/mi, 2 ohm/mi], ["},
	{builtStudy, "matrix: [[0.4 + j1.0 ohm/mi], [0.1 + j0.4 ohm/mi, 0.4 + j1.0 ohm/mi]], ", ""},
	{builtStudy, "hot: { conductors: hot }", "hot: { conductors: cold }"},
	{builtStudy, "hot: { conductors: hot }", "hot: { conductors: warm }"},
}
