package duty

import "math"

// An Edition of IEC 60909-0.
type Edition int

const (
	Edition2001 Edition = 2001
	Edition2016 Edition = 2016
)

// VoltageFactor is c of IEC 60909-0, Table 1: for the largest current, or the
// smallest.
//
//	u          nominal voltage, line-to-line            V
//	tolerance  voltage tolerance of low voltage         0.06 or 0.10
//
//	100 V to 1 kV, 6 %    1.05   0.95
//	100 V to 1 kV, 10 %   1.10   0.95 (2001), 0.90 (2016)
//	above 1 kV            1.10   1.00
//
// The bound c·Un ≤ Um is the caller's. Below 100 V the standard has no factor;
// that of low voltage is taken.
//
// Source: IEC 60909-0:2001 and :2016, Table 1 [from memory].
func VoltageFactor(u, tolerance float64, e Edition, largest bool) float64 {
	switch {
	case u > 1000 && largest:
		return 1.10
	case u > 1000:
		return 1.00
	case largest && tolerance <= 0.06:
		return 1.05
	case largest:
		return 1.10
	case tolerance > 0.06 && e == Edition2016:
		return 0.90
	}
	return 0.95
}

// KT is the correction factor of a network transformer, and of each pair of
// windings of one with three:
//
//	K_T = 0.95·c/(1 + 0.6·x)
//
//	c  voltage factor for the largest current on the low-voltage side
//	x  reactance over U²/S of the transformer (of the pair)
//
// Source: IEC 60909-0:2016, 6.3.3 [from memory].
func KT(c, x float64) float64 { return 0.95 * c / (1 + 0.6*x) }

// KG is the correction factor of a generator joined to the network directly:
//
//	K_G = Un/(UrG·(1 + pG)) · c/(1 + x″d·sin φ)
//
// Source: IEC 60909-0:2016, 6.6.1 [from memory].
func KG(un, urg, pg, c, xd, pf float64) float64 {
	return un / (urg * (1 + pg)) * c / (1 + xd*sine(pf))
}

// KS is the correction factor of a power-station unit with on-load tap
// changer, on Z = tr²·Z_G + Z_THV:
//
//	K_S = (UnQ/UrG)²·(UrTLV/UrTHV)²·c/(1 + |x″d − xT|·sin φ)
//
// Source: IEC 60909-0:2016, 6.7.1 [from memory].
func KS(unq, urg, lv, hv, c, xd, xt, pf float64) float64 {
	return math.Pow(unq/urg*lv/hv, 2) * c / (1 + math.Abs(xd-xt)*sine(pf))
}

// KSO is that of a unit without on-load tap changer:
//
//	K_SO = UnQ/(UrG·(1 + pG))·(UrTLV/UrTHV)·(1 + pT)·c/(1 + x″d·sin φ)
//
//	pT  position of the unit transformer's taps, where they stay off the
//	    principal one
//
// The standard writes 1 ± pT, the sign by which side the taps are on and which
// current is sought; here pT is that of the high-voltage winding's turns,
// which gives the larger current for taps below the principal one.
//
// Source: IEC 60909-0:2016, 6.7.2 [from memory; the sign of pT is our reading].
func KSO(unq, urg, pg, lv, hv, pt, c, xd, pf float64) float64 {
	return unq / (urg * (1 + pg)) * lv / hv * (1 + pt) * c / (1 + xd*sine(pf))
}

// Inside gives the factors of generator and transformer of a power-station
// unit for a fault between the two.
//
//	with on-load taps     K_G,S  = c/(1 + x″d·sin φ)              K_T,S  = c/(1 − xT·sin φ)
//	without               K_G,SO = c/(1 + x″d·sin φ)/(1 + pG)     K_T,SO = c/(1 − xT·sin φ)/(1 + pG)
//
// K_T counts for the sum of both sides. For what the network gives through the
// transformer alone, as a breaker beside it sees, the standard has none.
//
// Source: IEC 60909-0:2016, 7.2.1 [from memory].
func Inside(onLoad bool, pg, c, xd, xt, pf float64) (kg, kt float64) {
	kg, kt = c/(1+xd*sine(pf)), c/(1-xt*sine(pf))
	if !onLoad {
		kg, kt = kg/(1+pg), kt/(1+pg)
	}
	return kg, kt
}

func sine(pf float64) float64 { return math.Sqrt(max(0, 1-pf*pf)) }

// FictitiousResistance is R_Gf over X″d of a generator, for peak currents only:
// it stands for the decay of the alternating current during the first half
// cycle.
//
//	0.05  above 1 kV, 100 MVA or more
//	0.07  above 1 kV, less
//	0.15  up to 1 kV
//
// Source: IEC 60909-0:2016, 6.6.1 [from memory].
func FictitiousResistance(u, s float64) float64 {
	switch {
	case u <= 1000:
		return 0.15
	case s >= 100e6:
		return 0.05
	}
	return 0.07
}

// DoublyFed is the impedance, ohm, of an asynchronous generator whose rotor a
// converter feeds, from the largest current that its maker states for a
// three-phase fault at its bus:
//
//	|Z| = √2·κ·U/(√3·i)        R/X = 0.1
//
//	U  line-to-line voltage of that bus           V
//	κ  of that current; 1.7 where not known
//	i  largest instantaneous current              A
//
// Source: IEC 60909-0:2016, wind power station units with doubly-fed
// asynchronous generators [from memory].
func DoublyFed(u, kappa, i float64) complex128 {
	z := math.Sqrt2 * kappa * u / math.Sqrt(3) / i
	x := z / math.Hypot(1, 0.1)
	return complex(0.1*x, x)
}

// CeilingVoltage is the voltage behind the synchronous reactance over rated
// voltage, with the field at its ceiling:
//
//	e = p·√(cos²φ + (x + sin φ)²)
//
//	p  highest field voltage over that at rated load
//	x  saturated synchronous reactance, over rated
//
// Derived from the phasors of a machine with round rotor at rated load and
// voltage, lagging. IEC 60909-0 has the factor λmax of its curves for it, with
// p of 1.3 or 1.6 (turbine) and 1.6 or 2.0 (salient poles); IEC TR 60909-1
// derives those [from memory]. Saturation counts in x alone.
func CeilingVoltage(ceiling, x, pf float64) float64 {
	return ceiling * math.Hypot(pf, x+sine(pf))
}

// Kappa is the factor of the peak: ip = κ·√2·I″k.
//
//	κ = 1.02 + 0.98·e^(−3R/X)
//
// Limits: κ → 2 for R → 0, κ → 1.02 for X → 0.
//
// Source: IEC 60909-0:2016, 8.1.1 [from memory].
func Kappa(rx float64) float64 { return 1.02 + 0.98*math.Exp(-3*rx) }

// KappaAtPlace is that of method b, from R/X at the place of the fault in a
// meshed network: 1.15·κ, at most 1.8 in low voltage and 2.0 above. Where R/X
// is below 0.3 in every branch (low), κ stands as it is.
//
// Source: IEC 60909-0:2016, 8.1.2 [from memory].
func KappaAtPlace(rx, u float64, low bool) float64 {
	k := Kappa(rx)
	if low {
		return k
	}
	if u <= 1000 {
		return min(1.15*k, 1.8)
	}
	return min(1.15*k, 2.0)
}

// EquivalentFrequency is that of method c, over the system frequency: 20 Hz at
// 50 Hz, 24 Hz at 60 Hz.
const EquivalentFrequency = 0.4

// EquivalentFrequencyAt is that by which the d.c. component at the time t is
// found, over the system frequency f: 0.27 up to f·t = 1, 0.15 to 2.5, 0.092
// to 5, 0.055 to 12.5.
//
// Source: IEC 60909-0:2016, 8.1.3 and 9.1 [from memory].
func EquivalentFrequencyAt(f, t float64) float64 {
	switch ft := f * t; {
	case ft < 1:
		return 0.27
	case ft < 2.5:
		return 0.15
	case ft < 5:
		return 0.092
	}
	return 0.055
}

// DC is the d.c. component at the time t after the start of the fault, at
// its largest:
//
//	i = √2·I″k·e^(−2π·f·t·R/X)
func DC(initial, f, t, rx float64) float64 {
	return math.Sqrt2 * initial * math.Exp(-2*math.Pi*f*t*rx)
}

// curves of μ and q by the time of parting.
var (
	decayTimes = []float64{0.02, 0.05, 0.10, 0.25}
	muCurve    = [][3]float64{{0.84, 0.26, 0.26}, {0.71, 0.51, 0.30}, {0.62, 0.72, 0.32}, {0.56, 0.94, 0.38}}
	qCurve     = [][2]float64{{1.03, 0.12}, {0.79, 0.12}, {0.57, 0.12}, {0.26, 0.10}}
)

// between interpolates a family of curves over time: towards 1, no decay, at
// the start of the fault, and beyond the last curve that one.
func between(t float64, at func(i int) float64) float64 {
	last := len(decayTimes) - 1
	switch {
	case t <= decayTimes[0]:
		x := max(0, t) / decayTimes[0]
		return 1 - x + x*at(0)
	case t >= decayTimes[last]:
		return at(last)
	}
	i := 1
	for decayTimes[i] < t {
		i++
	}
	x := (t - decayTimes[i-1]) / (decayTimes[i] - decayTimes[i-1])
	return (1-x)*at(i-1) + x*at(i)
}

// MuCurve is the formula of Mu by itself, without its bounds.
func MuCurve(t, ratio float64) float64 {
	return between(t, func(i int) float64 { c := muCurve[i]; return c[0] + c[1]*math.Exp(-c[2]*ratio) })
}

// Mu is the decay of a machine's symmetrical current until the contacts part:
//
//	0.02 s   0.84 + 0.26·e^(−0.26·r)
//	0.05 s   0.71 + 0.51·e^(−0.30·r)        r = I″kG/IrG
//	0.10 s   0.62 + 0.72·e^(−0.32·r)
//	0.25 s   0.56 + 0.94·e^(−0.38·r)
//
// Linear between these times, and from 1 at the start of the fault; 1 for
// r ≤ 2, at most 1.
//
// Source: IEC 60909-0:2016, 9.1.1 [from memory].
func Mu(t, ratio float64) float64 {
	if ratio <= 2 {
		return 1
	}
	return min(1, MuCurve(t, ratio))
}

// Q is the further decay of an induction machine's:
//
//	0.02 s   1.03 + 0.12·ln m
//	0.05 s   0.79 + 0.12·ln m        m  rated active power per pole pair, MW
//	0.10 s   0.57 + 0.12·ln m
//	0.25 s   0.26 + 0.10·ln m
//
// At most 1, at least 0.
//
// Source: IEC 60909-0:2016, 9.1.3 [from memory].
func Q(t, megawatt float64) float64 {
	return max(0, min(1, between(t, func(i int) float64 { return qCurve[i][0] + qCurve[i][1]*math.Log(megawatt) })))
}

// M is the heat of the d.c. component over a fault's time, Ith² = I″k²·(m + n)·:
//
//	m = (e^(4·f·Tk·ln(κ−1)) − 1)/(2·f·Tk·ln(κ−1))
//
// Limits: 2 for κ → 2 (no decay), 0 for κ ≤ 1.
//
// Source: IEC 60909-0:2016, 12 [from memory].
func M(f, t, kappa float64) float64 {
	switch {
	case kappa <= 1:
		return 0
	case kappa >= 2:
		return 2
	}
	x := 2 * f * t * math.Log(kappa-1)
	if x == 0 {
		return 2
	}
	return math.Expm1(2*x) / x
}

// N is the heat of the a.c. component, from the ratio r = I″k/Ik; 1 where it
// does not decay.
//
//	n = 1/r²·{1 + Td/(20·Tk)·(1−e^(−20Tk/Td))·A² + Td/(2Tk)·(1−e^(−2Tk/Td))·B²
//	    + Td/(5Tk)·(1−e^(−10Tk/Td))·A + 2Td/Tk·(1−e^(−Tk/Td))·B
//	    + Td/(5.5Tk)·(1−e^(−11Tk/Td))·A·B}
//	r′ = r/(0.88 + 0.17·r),  Td = 3.1 s/r′,  A = r − r′,  B = r′ − 1
//
// The formula holds from r = 1.25, its first curve in the standard.
//
// Source: IEC 60909-0:2016, annex A [from memory].
func N(t, r float64) float64 {
	switch {
	case r <= 1:
		return 1
	case r < leastRatio:
		// The formula does not go to 1 there: between 1 and its first curve, linear.
		return 1 + (r-1)/(leastRatio-1)*(N(t, leastRatio)-1)
	}
	rd := r / (0.88 + 0.17*r)
	td := 3.1 / rd
	a, b := r-rd, rd-1
	x := t / td
	return (1 + (1-math.Exp(-20*x))/(20*x)*a*a + (1-math.Exp(-2*x))/(2*x)*b*b +
		(1-math.Exp(-10*x))/(5*x)*a + 2/x*(1-math.Exp(-x))*b + (1-math.Exp(-11*x))/(5.5*x)*a*b) / (r * r)
}

// leastRatio is the first of the standard's curves of n beside 1.
const leastRatio = 1.25

// NeglectThrough tells whether motors behind transformers may be left out of a
// fault in the network that feeds those: their current adds 5 % at most.
//
//	ΣPr/ΣSrT ≤ 0.8/|100·c·ΣSrT/(√3·UnQ·I″kQ) − 0.3|
//
// Source: IEC 60909-0:2016, 6.10 [from memory].
func NeglectThrough(power, transformers, c, unq, ikq float64) bool {
	return power/transformers <= 0.8/math.Abs(100*c*transformers/(math.Sqrt(3)*unq*ikq)-0.3)
}

// LowVoltageMaking is the least ratio n of a low-voltage breaker's making capacity, peak, to its breaking capacity in A,
// symmetrical r.m.s.; 0 below 4.5 kA, where the standard has none.
//
//	above 4.5 kA to 6 kA    1.5
//	to 10 kA                1.7
//	to 20 kA                2.0
//	to 50 kA                2.1
//	above                   2.2
//
// Source: IEC 60947-2, Table 2 [from memory].
func LowVoltageMaking(breaking float64) float64 {
	for _, step := range []struct{ upTo, n float64 }{{4.5e3, 0}, {6e3, 1.5}, {10e3, 1.7}, {20e3, 2.0}, {50e3, 2.1}} {
		if breaking <= step.upTo {
			return step.n
		}
	}
	return 2.2
}
