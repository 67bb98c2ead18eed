package duty

import "math"

// RatedDC is the d.c. component that a breaker rated by symmetrical current
// must interrupt, over the peak of the symmetrical: e^(−t/τ), τ of 45 ms by
// the standards.
//
// Source: IEEE C37.04-1999; IEC 62271-100 [from memory].
func RatedDC(t, tau float64) float64 { return math.Exp(-t / tau) }

// StandardDCTime is the time constant of RatedDC, s.
const StandardDCTime = 0.045

// AsymmetryCapability is S, the total over the symmetrical current that a
// breaker interrupts: √(1 + 2·dc²).
func AsymmetryCapability(dc float64) float64 { return math.Sqrt(1 + 2*dc*dc) }

// Asymmetry is the total r.m.s. current over the symmetrical after n cycles,
// without decay of the alternating part:
//
//	√(1 + 2·e^(−4π·n/(X/R)))
//
// Source: IEEE C37.010, 551 [from memory].
func Asymmetry(cycles, xr float64) float64 { return math.Sqrt(1 + 2*math.Exp(-4*math.Pi*cycles/xr)) }

// PeakHalfCycle is the peak over the symmetrical r.m.s. current, taken half a
// cycle after a fully offset start: √2·(1 + e^(−π/(X/R))).
//
// Source: IEEE C37.010, C37.13 [from memory].
func PeakHalfCycle(xr float64) float64 { return math.Sqrt2 * (1 + math.Exp(-math.Pi/xr)) }

// PeakFactor is the peak at its own time:
//
//	√2·(1 + e^(−2π·τ/(X/R))),  τ = 0.49 − 0.1·e^(−(X/R)/3)
//
// Source: IEEE 551-2006 [from memory].
func PeakFactor(xr float64) float64 {
	tau := 0.49 - 0.1*math.Exp(-xr/3)
	return math.Sqrt2 * (1 + math.Exp(-2*math.Pi*tau/xr))
}

// Interrupting is the multiplying factor of a breaker rated by symmetrical
// current, for a source without decay of its alternating current (remote): the
// total current over S, over the symmetrical, and at least 1.
//
// For generators nearby (local) the standard's curves take the decay into
// account and lie lower; they have no closed form that we know, so the remote
// factor stands for them, on the safe side.
//
// Source: IEEE C37.010 [from memory].
func Interrupting(cycles, xr, s float64) float64 { return max(1, Asymmetry(cycles, xr)/s) }

// InterruptingTotal is that of a breaker rated by total current: the factor on
// the symmetrical current that gives what to compare with the rating.
//
// Source: IEEE C37.5, C37.010 for older ratings [from memory].
func InterruptingTotal(cycles, xr float64) float64 { return Asymmetry(cycles, xr) }

// PeakBasis is the multiplying factor of a low-voltage breaker without fuses,
// and of plant proved by its peak in a circuit of some X/R: at least 1.
//
//	(1 + e^(−π/(X/R)))/(1 + e^(−π/test))
//
// Source: IEEE C37.13, test X/R 6.59 [from memory].
func PeakBasis(xr, test float64) float64 { return max(1, PeakHalfCycle(xr)/PeakHalfCycle(test)) }

// TotalBasis is that of fuses and fused breakers, which see the total r.m.s.
// current of the first half cycle: at least 1.
//
// Source: IEEE C37.13, test X/R 4.9; C37.41 for fuses [from memory].
func TotalBasis(xr, test float64) float64 {
	return max(1, Asymmetry(0.5, xr)/Asymmetry(0.5, test))
}

// Test circuits of low-voltage breakers.
//
// Source: IEEE C37.13: power factor 15 % without and 20 % with fuses [from memory].
const (
	TestXRUnfused = 6.59
	TestXRFused   = 4.9
)

// TestXROfUnknown is the X/R in which a low-voltage breaker was proved at least,
// whatever its kind: that of moulded-case breakers by their interrupting
// rating, A. Power breakers are proved at TestXRUnfused.
//
//	to 10 kA      power factor 0.5    1.73
//	to 20 kA                   0.3    3.18
//	above                      0.2    4.9
//
// Source: UL 489 and NEMA AB 1 test power factors, as IEEE 1015 quotes them [from memory].
func TestXROfUnknown(rating float64) float64 {
	switch {
	case rating <= 10e3:
		return 1.73
	case rating <= 20e3:
		return 3.18
	}
	return TestXRFused
}

// PartsAfter is the time from the start of a fault to the parting of a
// breaker's contacts, in cycles, from its rated interrupting time in cycles:
// 2, 3, 5 and 8 give 1.5, 2, 3 and 4, linear between. Half a cycle of relay
// time is in it.
//
// Source: IEEE C37.010, table of contact parting times [from memory].
func PartsAfter(interrupts float64) float64 {
	table := [][2]float64{{2, 1.5}, {3, 2}, {5, 3}, {8, 4}}
	if interrupts <= 2 {
		return max(0.5, interrupts-0.5)
	}
	for i := 1; i < len(table); i++ {
		if a, b := table[i-1], table[i]; interrupts <= b[0] {
			return a[1] + (interrupts-a[0])/(b[0]-a[0])*(b[1]-a[1])
		}
	}
	return interrupts / 2
}

// A MachineClass tells how IEEE duties change a machine's subtransient
// reactance.
type MachineClass int

const (
	Generator     MachineClass = iota // turbine, hydro with damper winding, condenser
	HydroBare                         // hydro without damper winding: of the transient reactance
	SynchronousMo                     // synchronous motor
	LargeMotor                        // induction, above 1000 hp up to 1800 r/min, above 250 hp at 3600 r/min
	MediumMotor                       // other induction of 50 hp and more
	SmallMotor                        // below 50 hp
)

// Multipliers of a machine's reactance in the first-cycle and the interrupting
// network; 0: left out.
//
//	turbine, hydro with damper, condenser    1.0·X″d    1.0·X″d
//	hydro without damper                     0.75·X′d   0.75·X′d
//	synchronous motor                        1.0·X″d    1.5·X″d
//	large induction motor                    1.0·X″d    1.5·X″d
//	other induction motor, 50 hp and more    1.2·X″d    3.0·X″d
//	below 50 hp                              1.67·X″d   left out
//
// Source: IEEE 141, Table 4-1, after C37.010; for motors below 50 hp the
// combined network of IEEE 141 and 242 [from memory].
func (c MachineClass) Multipliers() (first, interrupting float64) {
	switch c {
	case HydroBare:
		return 0.75, 0.75
	case SynchronousMo, LargeMotor:
		return 1, 1.5
	case MediumMotor:
		return 1.2, 3
	case SmallMotor:
		return 1.67, 0
	}
	return 1, 1
}

// Horsepower is one in W.
const Horsepower = 745.7

// ClassOfMotor is the class of an induction machine by rated output, W, and
// speed: pole pairs, 0 where not known, which is on the safe side.
func ClassOfMotor(power float64, polePairs int, f float64) MachineClass {
	hp := power / Horsepower
	rpm := 0.0
	if polePairs > 0 {
		rpm = 60 * f / float64(polePairs)
	}
	switch {
	case hp < 50:
		return SmallMotor
	case hp > 1000 && rpm <= 1800, hp > 250 && (rpm > 1800 || polePairs == 0):
		return LargeMotor
	}
	return MediumMotor
}

// ReclosingFactor is what is left of an interrupting rating with so many
// openings and the dead times between them:
//
//	R = 1 − D,  D = d1·(n − 2) + d1·Σ(15 s − t)/15 s   over dead times below 15 s
//
//	n   openings     d1  of the breaker's standard, by its rating
//
// Source: IEEE C37.010-1979, reclosing capability [from memory].
func ReclosingFactor(d1 float64, dead []float64) float64 {
	d := d1 * float64(max(0, len(dead)+1-2))
	for _, t := range dead {
		if t < 15 {
			d += d1 * (15 - t) / 15
		}
	}
	return 1 - d
}
