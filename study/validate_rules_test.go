package study

import (
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"
)

// plenty is a second study without mistakes, of the plant that sound lacks.
// Its numbers are invented, but for the matrices: configuration 602 of the
// 13-node test feeder (IEEE Distribution Test Feeders, 1991), as published.
const plenty = `feederwright: 1
study: plenty
frequency: 60 Hz
method: { prefault: 100 %, fault resistances: [20 ohm, 40 ohm] }
supply:
  grid:
    at: HV
    maximum: { z1: 0.8 + j7.2 ohm, z0: 1.1 + j6.4 ohm }
    minimum: { three-phase: 4.1 kA, x/r: 8.5, line-to-ground: 3.9 kA, line-to-ground x/r: 7 }
    future: { z1: 0.004 + j0.044 pu on 100 MVA at 115 kV, z2: 0.004 + j0.044 pu on 100 MVA, z0: open }
  hydro: { at: N3, voltage: 12.6 kV, maximum: { three-phase: 2.1 kA, x/r: 12 } }
buses:
  HV: { voltage: 115 kV }
  N0: { voltage: 12.47 kV, phases: ABCN, neutral earthing: solid }
  N1: { voltage: 12.47 kV }
  N2: { voltage: 12.47 kV }
  N3: { voltage: 12.47 kV }
  LB: { voltage: 12.47 kV, phases: B }
  LV: { voltage: 480 V }
transformers:
  T1:
    from: HV
    to: N0
    group: YNyn0
    rating: 15/20/25 MVA
    voltages: 115/12.47 kV
    impedance: 8.5 % on 15 MVA
    zero-sequence: 8.1 % on 15 MVA
    x/r: 22
    from neutral: solid
    to neutral: 0.5 ohm
  TZ: { from: N1, to: LV, group: Dzn0, rating: 500 kVA, voltages: 12.47/0.48 kV, impedance: 4.5 %, x/r: 4, zero-sequence: 0.5 %, neutral: solid }
earthing transformers:
  ZZ: { at: N3, neutral current: 400 A, x/r: 20 }
  ZE: { at: N2, z0: 1 + j60 ohm }
line types:
  M602:
    matrix:
      - [0.7526 + j1.1814 ohm/mi]
      - [0.1580 + j0.4236 ohm/mi, 0.7475 + j1.1983 ohm/mi]
      - [0.1560 + j0.5017 ohm/mi, 0.1535 + j0.3849 ohm/mi, 0.7436 + j1.2112 ohm/mi]
    b matrix:
      - [5.6990 uS/mi]
      - [-1.0817 uS/mi, 5.1795 uS/mi]
      - [-1.6905 uS/mi, -0.6588 uS/mi, 5.4246 uS/mi]
    ampacity: 340 A
    short-time: 12 kA
  L336: { z1: 0.3061 + j0.6270 ohm/mi, z0: 0.7735 + j1.9373 ohm/mi, b1: 6.92 uS/mi, b0: 3.21 uS/mi, ampacity: 530 A, short-time: 19.6 kA }
  S: { phases: 1, z: 1.9219 + j1.4209 ohm/mi, b: 4.37 uS/mi }
lines:
  A: { from: N0, to: N1, type: M602, length: 2000 ft }
  B: { from: N1, to: N2, z1: 0.40 + j0.60 ohm, z0: 0.9 + j2.0 ohm }
  C: { from: N2, to: N3, type: L336, length: 1.1 mi }
  D: { from: N2, to: LB, type: S, length: 0.4 mi, phases: B }
capacitors:
  C1: { at: N1, power: 600 kvar, connection: earthed-wye, voltage: 12.47 kV }
loads:
  W1: { at: N1, power: 1.2 MVA, pf: 0.95 lag, connection: delta, cold: 2.6 for 20 min }
  WB: { at: LB, power: 50 kVA, pf: 0.95 lag }
breakers:
  CB: { in: A, near: N0, opens in: 3 cycles, interrupts: 20 kA }
switches:
  S1: { in: C, near: N3, normally: open }
  S2: { from: N1, to: N3 }
current transformers:
  CT: { at: CB, facing: N1, ratio: 600/5 A, full: 1200/5 A, connection: delta-AB }
  CL: { in: B, near: N1, ratio: 300/5 A, encloses: [A, B, A + B + C] }
  CZ: { in: ZZ, neutral: own, ratio: 200/5 A }
voltage transformers:
  VD: { at: N1, ratio: 12000/120 V, connection: open-delta }
  VL: { in: B, near: N1, ratio: 12000/120 V, measures: [A - B] }
relays:
  R: { sees: { current: [CT, CL], ground: CZ, voltage: VD }, trips: CB }
axes:
  supply: { strong: { infeed: { grid: maximum } }, weak: { infeed: { grid: minimum } } }
  ring: { shut: {}, apart: { open: [S2], close: [S1] } }
`

// lateralC has one more bus, of phase C alone, at which nothing is yet.
var lateralC = strings.Replace(plenty, "  LV: {", "  LC: { voltage: 12.47 kV, phases: C }\n  LV: {", 1)

func TestPlentyHasNoDiagnostics(t *testing.T) {
	for _, d := range diagnose(t, plenty) {
		t.Errorf("%s", d.Text())
	}
}

// slips are mistakes as people make them: in one of the two studies, old is
// replaced by new. What is told of each stands as whole text in
// testdata/validate/rules.txt (regression: our own messages, read one by one).
var slips = []struct{ base, old, new string }{
	// the study
	{sound, "frequency: 50 Hz", "frequency: 16.7 Hz"},
	{plenty, "prefault: 100 %", "prefault: 1 %"},
	{plenty, "prefault: 100 %", "prefault: 112 %"},
	{plenty, "prefault: 100 %", "prefault: -5 %"},
	{plenty, "[20 ohm, 40 ohm]", "[20 ohm, j40 ohm]"},
	{plenty, "maximum: { z1: 0.8 + j7.2 ohm, z0: 1.1 + j6.4 ohm }\n    minimum: { three-phase: 4.1 kA, x/r: 8.5, line-to-ground: 3.9 kA, line-to-ground x/r: 7 }\n    future: { z1: 0.004 + j0.044 pu on 100 MVA at 115 kV, z2: 0.004 + j0.044 pu on 100 MVA, z0: open }", "boundary: unknown"},

	// infeeds
	{plenty, "  grid:\n    at: HV", "  grid:\n    at: LB"},
	{plenty, "voltage: 12.6 kV", "voltage: 7.2 kV"},
	{plenty, "{ three-phase: 2.1 kA, x/r: 12 }", "{ three-phase: 2.1 kA }"},
	{plenty, "{ three-phase: 2.1 kA, x/r: 12 }", "{ x/r: 12 }"},
	{plenty, "{ three-phase: 2.1 kA, x/r: 12 }", "{ three-phase: 2.1 A, x/r: 12 }"},
	{plenty, "{ three-phase: 2.1 kA, x/r: 12 }", "{ three-phase: 120 kA, x/r: 12 }"},
	{plenty, "{ three-phase: 2.1 kA, x/r: 12 }", "{ three-phase: 2.1 kA, x/r: -12 }"},
	{plenty, "{ three-phase: 2.1 kA, x/r: 12 }", "{ three-phase: 2.1 kA, x/r: 0.08 }"},
	{plenty, "{ three-phase: 2.1 kA, x/r: 12 }", "{ three-phase: 2.1 kA, x/r: 12, z1: j3 ohm }"},
	{plenty, "{ three-phase: 2.1 kA, x/r: 12 }", "{ three-phase: 2.1 kA, x/r: 12, line-to-ground x/r: 7 }"},
	{plenty, "{ three-phase: 2.1 kA, x/r: 12 }", "{ three-phase: 2.1 kA, x/r: 12, voltage factor: 110 }"},
	{plenty, "{ three-phase: 2.1 kA, x/r: 12 }", "{ three-phase: 2.1 kA, x/r: 12, z2: j0 ohm }"},
	{plenty, "z1: 0.8 + j7.2 ohm, z0", "z1: open, z0"},
	{plenty, "z1: 0.8 + j7.2 ohm, z0", "z1: 0.8 + j7.2 ohm, x/r: 9, z0"},
	{plenty, "z0: 1.1 + j6.4 ohm", "z0: 1.1 - j6.4 ohm"},
	{plenty, "z0: 1.1 + j6.4 ohm", "z0: 1.1 + j6.4 ohm, line-to-ground: 8 kA, line-to-ground x/r: 9"},
	{plenty, "pu on 100 MVA at 115 kV", "pu on 100 MVA at 66.4 kV"},
	{plenty, "0.004 + j0.044 pu on 100 MVA at 115 kV, z2", "0.03 + j0.12 pu on 100 MVA at 115 kV, z2"},

	// buses
	{plenty, "N2: { voltage: 12.47 kV }", "N2: { voltage: 12.47 V }"},
	{plenty, "LV: { voltage: 480 V }", "LV: { voltage: 480 V }\n  XX: { voltage: 12.47 kV }"},
	{plenty, "HV: { voltage: 115 kV }", "HV: { voltage: 115000 kV }"},
	{plenty, "N3: { voltage: 12.47 kV }", "N3: { voltage: 12.47 kV, phases: ABC }\n  LC: { voltage: 12.47 kV, phases: BC }"},
	{plenty, "LB: { voltage: 12.47 kV, phases: B }", "LB: { voltage: 12.47 kV, phases: BC }"},

	// transformers
	{plenty, "    to: N0\n", "    to: HV\n"},
	{plenty, "TZ: { from: N1", "TZ: { from: LB"},
	{plenty, "voltages: 115/12.47 kV", "voltages: 115/7.2 kV"},
	{plenty, "voltages: 115/12.47 kV", "voltages: 69/12.47 kV"},
	{plenty, "    x/r: 22\n", "    x/r: 22\n    losses: 60 kW\n"},
	{plenty, "    x/r: 22\n", "    x/r: 0.045\n"},
	{plenty, "impedance: 8.5 % on 15 MVA", "impedance: 45 % on 15 MVA"},
	{plenty, "    from neutral: solid\n    to neutral: 0.5 ohm\n", "    neutral: solid\n"},
	{plenty, "    to neutral: 0.5 ohm\n", ""},
	{plenty, "    from neutral: solid\n", "    from neutral: open\n"},
	{plenty, "to neutral: 0.5 ohm", "to neutral: -0.5 ohm"},
	{plenty, "zero-sequence: 0.5 %, neutral: solid", "zero-sequence: 0.5 %, neutral: solid, to neutral: solid"},
	{plenty, "zero-sequence: 0.5 %, neutral: solid", "zero-sequence: 0.5 %, neutral: solid, from neutral: solid"},
	{plenty, "zero-sequence: 0.5 %, neutral: solid", "neutral: solid"},
	{plenty, "zero-sequence: 8.1 % on 15 MVA", "zero-sequence: 8.1 % on 15 kVA"},
	{plenty, "zero-sequence: 8.1 % on 15 MVA", "zero-sequence: 81 %"},
	{plenty, "    x/r: 22\n", "    x/r: 22\n    to tap: 40 %\n"},

	// earthing transformers
	{plenty, "neutral current: 400 A, x/r: 20", "neutral current: 400 A, z0: j54 ohm"},
	{plenty, "neutral current: 400 A, x/r: 20", "x/r: 20"},
	{plenty, "neutral current: 400 A, x/r: 20", "neutral current: -400 A"},
	{plenty, "z0: 1 + j60 ohm", "z0: 1 - j60 ohm"},
	{plenty, "z0: 1 + j60 ohm", "z0: 1 + j60 ohm, x/r: 60"},
	{plenty, "ZE: { at: N2", "ZE: { at: LB"},

	// line types and lines
	{plenty, "S: { phases: 1, z: 1.9219", "S: { phases: 5, z: 1.9219"},
	{plenty, "S: { phases: 1, z: 1.9219", "S: { phases: 2, z: 1.9219"},
	{plenty, "S: { phases: 1, z: 1.9219 + j1.4209 ohm/mi, b", "S: { phases: 1, b"},
	{plenty, "z: 1.9219 + j1.4209 ohm/mi", "z: 1.9219 + j1.4209 ohm"},
	{plenty, "z: 1.9219 + j1.4209 ohm/mi", "z: -1.9219 + j1.4209 ohm/mi"},
	{plenty, "z: 1.9219 + j1.4209 ohm/mi", "z: 192.19 + j142.09 ohm/mi"},
	{plenty, "z: 1.9219 + j1.4209 ohm/mi", "z: 0.364 + j0.269 ohm/ft"},
	{plenty, "z: 1.9219 + j1.4209 ohm/mi", "z: 1.194 + j0.883 ohm/m"},
	{plenty, "z: 1.9219 + j1.4209 ohm/mi", "z: 1.9219 + j1.4209 mohm/mi"},
	{plenty, "z: 1.9219 + j1.4209 ohm/mi", "z: 1.9219 + j1.4209 ohm/mi, z1: 1 + j1 ohm/mi, z0: 2 + j2 ohm/mi"},
	{plenty, "z1: 0.3061 + j0.6270 ohm/mi, z0", "z0"},
	{plenty, "z0: 0.7735 + j1.9373 ohm/mi", "z0: 0.07735 + j0.19373 ohm/mi"},
	{plenty, "b1: 6.92 uS/mi, b0: 3.21 uS/mi", "b1: 3.21 uS/mi, b0: 6.92 uS/mi"},
	{plenty, "b1: 6.92 uS/mi, b0: 3.21 uS/mi", "b1: 6.92 uS/mi, c1: 12 nF/mi, b0: 3.21 uS/mi, c0: 5 nF/mi"},
	{plenty, "b1: 6.92 uS/mi, b0: 3.21 uS/mi", "b0: 3.21 uS/mi"},
	{plenty, "b1: 6.92 uS/mi, b0: 3.21 uS/mi", "b1: -6.92 uS/mi"},
	{plenty, "b1: 6.92 uS/mi, b0: 3.21 uS/mi", "b1: 6.92 mS/mi"},
	{plenty, "b1: 6.92 uS/mi, b0: 3.21 uS/mi", "c1: 0.3 F/km"},
	{plenty, "ampacity: 530 A, short-time: 19.6 kA", "ampacity: 53 kA, short-time: 19.6 kA"},
	{plenty, "ampacity: 530 A, short-time: 19.6 kA", "ampacity: 0 A, short-time: 19.6 kA"},
	{plenty, "ampacity: 530 A, short-time: 19.6 kA", "ampacity: 530 A, short-time: 19.6 A"},
	{plenty, "[0.7526 + j1.1814 ohm/mi]", "[-0.7526 + j1.1814 ohm/mi]"},
	{plenty, "      - [0.7526 + j1.1814 ohm/mi]\n", "      - [0.7526 + j1.1814 ohm/mi, 0.1 + j0.4 ohm/mi]\n"},
	{plenty, "    matrix:\n      - [0.7526 + j1.1814 ohm/mi]\n", "    phases: 2\n    matrix:\n      - [0.7526 + j1.1814 ohm/mi]\n"},
	{plenty, "      - [5.6990 uS/mi]\n", ""},
	{plenty, "-1.0817 uS/mi", "1.0817 uS/mi"},
	{plenty, "-1.0817 uS/mi", "-10.817 uS/mi"},
	{plenty, "5.6990 uS/mi", "5.6990 S/mi"},
	{plenty, "    b matrix:", "    b1: 6 uS/mi\n    b matrix:"},
	{plenty, "type: L336, length: 1.1 mi", "type: L336, length: 0 mi"},
	{plenty, "type: L336, length: 1.1 mi", "type: L336"},
	{plenty, "type: L336, length: 1.1 mi", "type: L336, length: 1.1 mi, b1: 6 uS/mi, z0: 1 + j2 ohm"},
	{plenty, "type: L336, length: 1.1 mi", "length: 1.1 mi"},
	{plenty, "type: L336, length: 1.1 mi", "type: L336, length: 1.1 mi, z1: 1 + j1 ohm, z0: 2 + j3 ohm"},
	{plenty, "type: L336, length: 1.1 mi", "type: S, length: 1.1 mi"},
	{plenty, "z0: 0.9 + j2.0 ohm }", "z0: 0.9 + j2.0 ohm, b1: 6 uS/mi }"},
	{plenty, "B: { from: N1, to: N2", "B: { from: N1, to: N1"},
	{plenty, "D: { from: N2, to: LB, type: S, length: 0.4 mi, phases: B }", "D: { from: N2, to: LB, type: S, length: 0.4 mi, phases: A }"},
	{plenty, "A: { from: N0, to: N1, type: M602, length: 2000 ft }", "A: { from: N0, to: N1, type: M602, length: 2000 ft, phases: ABCN }"},
	{plenty, "B: { from: N1, to: N2, z1", "B: { from: N1, to: N2, phases: AB, z1"},

	// capacitors and loads
	{plenty, "power: 600 kvar, connection: earthed-wye", "power: -600 kvar, connection: earthed-wye"},
	{plenty, "power: 600 kvar, connection: earthed-wye", "power: 600 Mvar, connection: earthed-wye"},
	{plenty, "voltage: 12.47 kV }\nloads", "voltage: 7.2 kV }\nloads"},
	{plenty, "WB: { at: LB, power: 50 kVA, pf: 0.95 lag }", "WB: { at: LB, power: 50 kVA, pf: 0.95 lag, connection: delta }"},
	{plenty, "WB: { at: LB, power: 50 kVA, pf: 0.95 lag }", "WB: { at: LB, power: 50 kVA, pf: 0.35 lag, phases: BC }"},
	{plenty, "cold: 2.6 for 20 min", "cold: 26 for 20 min"},

	// devices
	{plenty, "CB: { in: A, near: N0,", "CB: { in: A,"},
	{plenty, "CB: { in: A, near: N0,", "CB: { near: N0,"},
	{plenty, "CB: { in: A, near: N0,", "CB: {"},
	{plenty, "CB: { in: A, near: N0,", "CB: { in: A, near: N0, from: N1, to: N2,"},
	{plenty, "CB: { in: A, near: N0,", "CB: { in: A, near: N2,"},
	{plenty, "S2: { from: N1, to: N3 }", "S2: { from: N1 }"},
	{plenty, "S2: { from: N1, to: N3 }", "S2: { from: N1, to: LV }"},
	{lateralC, "S2: { from: N1, to: N3 }", "S2: { from: N1, to: N3 }\n  S3: { from: LB, to: LC }"},
	{lateralC, "D: { from: N2, to: LB, type: S, length: 0.4 mi, phases: B }", "D: { from: LC, to: LB, type: S, length: 0.4 mi }"},
	{lateralC, "D: { from: N2, to: LB, type: S, length: 0.4 mi, phases: B }", "D: { from: N2, to: LB, type: L336, length: 0.4 mi, phases: BC }"},

	// instrument transformers and relays
	{plenty, "CT: { at: CB, facing: N1,", "CT: { facing: N1,"},
	{plenty, "CT: { at: CB, facing: N1,", "CT: { at: CB, in: A, facing: N1,"},
	{plenty, "CT: { at: CB, facing: N1,", "CT: { at: CB, near: N0, facing: N1,"},
	{plenty, "ratio: 600/5 A, full: 1200/5 A, connection: delta-AB", "ratio: 1200/5 A, full: 600/5 A, connection: delta-AB"},
	{plenty, "ratio: 600/5 A, full: 1200/5 A, connection: delta-AB", "ratio: 600/5 A, full: 1200/1 A, connection: delta-AB"},
	{plenty, "ratio: 600/5 A, full: 1200/5 A, connection: delta-AB", "ratio: 1/600 A"},
	{plenty, "connection: delta-AB", "connection: delta-AB, encloses: [A - B]"},
	{plenty, "CL: { in: B, near: N1, ratio", "CL: { in: B, ratio"},
	{plenty, "CL: { in: B, near: N1, ratio", "CL: { in: B, near: N3, ratio"},
	{plenty, "CL: { in: B, near: N1, ratio: 300/5 A, encloses: [A, B, A + B + C]", "CL: { in: D, near: N2, ratio: 300/5 A, encloses: [B, A + B + N]"},
	{plenty, "CL: { in: B, near: N1, ratio: 300/5 A, encloses: [A, B, A + B + C]", "CL: { in: D, near: N2, ratio: 300/5 A, connection: delta-AC"},
	{plenty, "CZ: { in: ZZ, neutral: own,", "CZ: { in: ZZ,"},
	{plenty, "CZ: { in: ZZ, neutral: own,", "CZ: { in: ZZ, neutral: to,"},
	{plenty, "CZ: { in: ZZ, neutral: own,", "CZ: { in: T1, neutral: own,"},
	{plenty, "CZ: { in: ZZ, neutral: own,", "CZ: { at: CB, neutral: to,"},
	{plenty, "CZ: { in: ZZ, neutral: own,", "CZ: { in: ZZ, neutral: own, near: N3, connection: wye,"},
	{plenty, "VD: { at: N1, ratio", "VD: { ratio"},
	{plenty, "VD: { at: N1, ratio", "VD: { at: N1, in: A, ratio"},
	{plenty, "VD: { at: N1, ratio", "VD: { at: LB, ratio"},
	{plenty, "connection: open-delta", "connection: open-delta, measures: [A - B]"},
	{plenty, "12000/120 V, connection: open-delta", "7200/120 V, connection: open-delta"},
	{plenty, "12000/120 V, connection: open-delta", "120/12000 V, connection: open-delta"},
	{plenty, "VL: { in: B, near: N1,", "VL: { in: B,"},
	{plenty, "VL: { in: B, near: N1,", "VL: { in: B, near: N3,"},
	{plenty, "12000/120 V, measures: [A - B]", "12000/120 V, measures: [A]"},

	// loops
	{sound, "BS: { from: MV, to: M2 }", "BS: { from: MV, to: M2 }\n  B2: { from: MV, to: M2 }"},
	{sound, "T2: { from: HV, to: M2, group: Dyn11, rating: 16 MVA, voltages: 33/11 kV", "T2: { from: HV, to: M2, group: Dyn11, rating: 16 MVA, voltages: 33/12 kV"},
	{sound, "BS: { from: MV, to: M2 }\n", "BS: { from: MV, to: M2, normally: open }\n"},
	{sound, "T2: { from: HV, to: M2, group: Dyn11", "T2: { from: HV, to: M2, group: YNyn0"},

	// conditions
	{sound, "open: [BS]", "open: [BS], close: [BS]"},
	{sound, "open: [BS]", "open: [BS, BS]"},
	{sound, "open: [BS]", "close: [BS]"},
	{sound, "open: [BS]", "in: [T1]"},
	{sound, "open: [BS]", "out: [T1], in: [T1]"},
	{sound, "open: [BS]", "out: [grid]"},
	{sound, "open: [BS]", "neutrals: { T1: 15.88 ohm }"},
	{sound, "open: [BS]", "taps: { T1: 0 % }"},
	{sound, "open: [BS]", "taps: { T1: 7.5 % }"},
	{sound, "open: [BS]", "taps: { T1: -3.0 % }"},
	{sound, "open: [BS]", "taps: { T2: 5 % }"},
	{sound, "open: [BS]", "prefault: 1.05 %"},
	{sound, "open: [BS]", "prefault: 100 %"},
	{sound, "weak: { infeed: minimum", "weak: { infeed: future"},
	{sound, "weak: { infeed: minimum", "weak: { infeed: { grid: future }"},
	{sound, "weak: { infeed: minimum", "weak: { infeed: out"},
	{sound, "weak: {", "all: {"},
	{sound, "weak: {", "weak, tie: {"},
	{plenty, "  ring: {", "  empty: {}\n  ring: {"},
	{plenty, "ring: { shut: {}", "ring: { strong: {}"},
	{plenty, "ring: { shut: {}", "ring: { shut: { infeed: { grid: minimum } }"},
	{plenty, "ring: { shut: {}", "ring: { shut: { open: [S1] }"},
	{plenty, "ring: { shut: {}", "ring: { shut: { taps: { T1: 5 % }, neutrals: { T1: solid } }"},
	{plenty, "ring: { shut: {}", "ring: { shut: { out: [grid, hydro] }"},
	{plenty, "close: [S1] } }\n", "close: [S1] } }\nexclude: [{ suply: strong, ring: apart }]\n"},
	{plenty, "close: [S1] } }\n", "close: [S1] } }\nexclude: [{ supply: string, ring: apart }]\n"},
	{plenty, "close: [S1] } }\n", "close: [S1] } }\nexclude: [{ supply: strong }, { ring: apart, supply: strong }]\n"},
	{plenty, "close: [S1] } }\n", "close: [S1] } }\nexclude: [{ supply: strong }, { supply: weak }]\n"},
	{plenty, "close: [S1] } }\n", "close: [S1] } }\nexclude: [{}]\n"},
	{sound, "conditions:\n", "exclude: [{ supply: strong }]\nconditions:\n"},
	{sound, "  strong: { infeed: maximum }", "  strong: { infeed: maximum }\n  apart: {}\naxes: { ring: { apart: { open: [BS] }, shut: {} } }\nnone:"},
}

func TestWholeMessages(t *testing.T) {
	var b strings.Builder
	for _, s := range slices.Concat(slips, buildSlips, plantSlips, dutySlips) {
		if n := strings.Count(s.base, s.old); n != 1 {
			t.Fatalf("%q stands %d times in its study", s.old, n)
		}
		text := strings.Replace(s.base, s.old, s.new, 1)
		ds := diagnose(t, text)
		checkDiagnostics(t, ds)
		for _, d := range ds {
			if d.Excerpt == "" {
				t.Errorf("no excerpt: %v", d)
			}
			if d.Severity == Error && d.Why == "" && d.Fix == "" {
				t.Errorf("neither why nor fix: %v", d)
			}
		}
		fmt.Fprintf(&b, "#### %s\n  => %s\n\n", strings.ReplaceAll(s.old, "\n", "\\n"), strings.ReplaceAll(s.new, "\n", "\\n"))
		if len(ds) == 0 {
			b.WriteString("(nothing is told)\n\n")
		}
		for _, d := range ds {
			b.WriteString(d.Text() + "\n")
		}
	}
	const golden = "testdata/validate/rules.txt"
	if *update {
		if err := os.WriteFile(golden, []byte(b.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(golden)
	if err != nil {
		t.Fatal(err)
	}
	if b.String() != string(want) {
		got, was := strings.Split(b.String(), "\n####"), strings.Split(string(want), "\n####")
		for i := range got {
			if i >= len(was) || got[i] != was[i] {
				t.Errorf("messages differ from %s (go test -update rewrites it). Got:\n####%s", golden, got[i])
			}
		}
	}
}
