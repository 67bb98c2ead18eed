// Package duty gives the short-circuit currents by which plant is rated: by
// IEC 60909-0 with its correction factors and its equivalent voltage source at
// the fault place, or by the practice of IEEE C37.010, C37.13 and 551 with
// separate networks of reactances and resistances. What a protection device
// sees is not computed here but by superposition, in package fault.
//
// Assumptions: linear plant at system frequency; loads, capacitors and line
// charging left out; rotating machines with their impedances of the first
// cycles, which the practice then changes; converters as current sources.
// Currents are symmetrical r.m.s. amperes unless named peak or total, and the
// largest of the phases.
package duty
