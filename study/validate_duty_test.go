package study

import "strings"

// machined is sound with a generator, its unit transformer and a motor.
var machined = strings.Replace(strings.Replace(sound, "switches:\n", `synchronous machines:
  G: { at: G, rating: 5 MVA, subtransient: 15 %, pf: 0.8 lag, voltage range: 5 %, x/r: 30, neutral: open, build: hydro-without-damper, transient: 25 % }
induction machines:
  M: { at: E1, rating: 2 MVA, locked-rotor current: 6, x/r: 10, pole pairs: 2 }
switches:
`, 1), "transformers:\n", "  G: { voltage: 6.3 kV, highest voltage: 7.2 kV }\ntransformers:\n  TG: { from: M2, to: G, group: Yd5, rating: 5 MVA, voltages: 11/6.3 kV, impedance: 7 %, x/r: 15, unit of: G, on-load taps: none }\n", 1)

// dutySlips are slips in what duties need.
var dutySlips = []struct{ base, old, new string }{
	{machined, "frequency: 50 Hz", "frequency: 50 Hz\nmethod: { iec edition: 2016, low-voltage tolerance: 6 %, duty voltage: 105 %, fault lasts: 1 s }"}, // no slip
	{machined, "frequency: 50 Hz", "frequency: 50 Hz\nmethod: { iec edition: 2011, low-voltage tolerance: 8 %, duty voltage: 12 %, fault lasts: 0 s }"},
	{machined, "highest voltage: 7.2 kV", "highest voltage: 3.6 kV"},
	{machined, "unit of: G", "unit of: G1"},
	{machined, "TG: { from: M2, to: G,", "TG: { from: M2, to: E1,"},
	{machined, "  T2: {", "  TX: { from: M2, to: G, group: Yd5, rating: 5 MVA, voltages: 11/6.3 kV, impedance: 7 %, x/r: 15, unit of: G }\n  T2: {"},
	{machined, "pole pairs: 2", "pole pairs: 0"},
	{machined, "voltage range: 5 %", "voltage range: 105 %"},
	{machined, ", transient: 25 %", ""},
	{machined, "interrupts: 25 kA }", "interrupts: 25 kA, contacts part in: 40 ms, dc time constant: 60 ms, recloses after: [0.5 s, 5 s], rated sequence: [0.3 s, 3 min] }"}, // no slip
	{machined, "interrupts: 25 kA }", "interrupts: 25 kA, contacts part in: 40 s, dc time constant: 0 ms, reclosing factor: 90 %, voltage range factor: 0.5, test x/r: 0 }"},
	{machined, "link: 80 A }", "link: 80 A, test x/r: 500, rating basis: totl }"},
	{machined, "BS: { from: MV, to: M2 }", "BS: { from: MV, to: M2, makes: 62.5 kA, short-time: 25 kA, short-time for: 0 s }"},
	{machined, "pole pairs: 2", "converter: doubly-fed, largest current: 900 A, peak factor: 1.7, sustained current: 130 A"}, // no slip
	{machined, "pole pairs: 2", "largest current: 900 A"},
	{machined, "pole pairs: 2", "converter: doubly-fed, largest current: 0 A, peak factor: 2.4, sustained current: -3 A"},
	{machined, "voltage range: 5 %", "synchronous: 180 %, excitation: independent, excitation ceiling: 1.6"}, // no slip
	{machined, "voltage range: 5 %", "synchronous: 12 %, excitation: brushes, excitation ceiling: 160"},
	{machined, "link: 80 A }", "link: 80 A, continuous: 80 A, smallest breaking: 240 A }"}, // no slip
	{machined, "link: 80 A }", "link: 80 A, continuous: 80 A, smallest breaking: 60 A }"},
	{machined, "switches:\n", "earthing conductors: { E: { at: MV, section: 95 mm2, metal: copper, begins at: 30 degC, may reach: 200 degC, share: 60 % } }\nswitches:\n"}, // no slip
	{machined, "switches:\n", "earthing conductors: { E: { at: MV, section: 0 mm2, metal: copper, begins at: 200 degC, may reach: 30 degC, share: 160 %, fault lasts: 0 s } }\nswitches:\n"},
	{machined, "rating: 2 MVA, locked", "power: 1.6 MW, efficiency: 95 %, pf: 0.88 lead, locked"},
	{machined, "frequency: 50 Hz", "frequency: 50 Hz\nphases: L123\ncapacitors: { ODD: { at: E2, phases: L1 L3, connection: earthed-wye, rating: 100 kVAr } }"},
	{machined, "line types:\n", "line types:\n  S1: { z1: 0.1 + j0.1 ohm/km, z0: 0.3 + j0.3 ohm/km, screen section: 16 mm2, screen metal: copper }\n  S2: { z1: 0.1 + j0.1 ohm/km, z0: 0.3 + j0.3 ohm/km, screen short-time: 2 kA, screen section: 16 mm2 }\n"},
}
