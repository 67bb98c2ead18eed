package duty

import (
	"fmt"
	"math"
	"math/rand"
	"testing"
)

// A point of a formula.
type point struct {
	got, want, tol float64
	what           string
}

func check(t *testing.T, source string, points []point) {
	t.Helper()
	for _, p := range points {
		if p.got != p.want && !(math.Abs(p.got-p.want) <= p.tol) { // written so that NaN fails
			t.Errorf("%s = %.7g, want %.7g ± %.1g (%s)", p.what, p.got, p.want, p.tol, source)
		}
	}
}

// Points from a calculation outside of this program (derived); half of the
// last digit.
func TestFormulaPoints(t *testing.T) {
	const tol = 5.1e-6
	var list []point
	mu := map[float64][]float64{0.02: {0.99458, 0.95919, 0.9319, 0.89464, 0.87248}, 0.05: {0.98989, 0.91735, 0.86361, 0.7943, 0.75627},
		0.10: {0.99965, 0.89568, 0.82019, 0.72556, 0.67566}, 0.25: {0.99961, 0.86063, 0.76559, 0.65615, 0.60496}}
	q := map[float64][]float64{0.02: {0.75369, 0.94682, 1, 1, 1}, 0.05: {0.51369, 0.70682, 0.79, 0.89995, 0.98313}, 0.10: {0.29369, 0.48682, 0.57, 0.67995, 0.76313}, 0.25: {0.02974, 0.19069, 0.26, 0.35163, 0.42094}}
	for _, time := range decayTimes {
		for i, r := range []float64{2, 3, 4, 6, 8} {
			list = append(list, point{MuCurve(time, r), mu[time][i], tol, fmt.Sprintf("mu curve(%g s, %g)", time, r)})
			if r > 2 {
				list = append(list, point{Mu(time, r), mu[time][i], tol, fmt.Sprintf("mu(%g s, %g)", time, r)})
			}
		}
		for i, m := range []float64{0.1, 0.5, 1, 2.5, 5} {
			list = append(list, point{Q(time, m), q[time][i], tol, fmt.Sprintf("q(%g s, %g MW)", time, m)})
		}
	}
	for i, rx := range []float64{0.02, 0.05, 0.1, 0.2, 0.3, 0.5, 1} {
		list = append(list, point{Kappa(rx), []float64{1.94293, 1.86349, 1.746, 1.55784, 1.41844, 1.23867, 1.06879}[i], tol, fmt.Sprintf("kappa(%g)", rx)})
	}
	for k, want := range map[float64][]float64{1.2: {0.06213, 0.01243, 0.00621}, 1.5: {0.14427, 0.02885, 0.01443}, 1.8: {0.44298, 0.08963, 0.04481}} {
		for i, time := range []float64{0.1, 0.5, 1} {
			list = append(list, point{M(50, time, k), want[i], tol, fmt.Sprintf("m(%g s, kappa %g)", time, k)})
		}
	}
	for r, want := range map[float64][]float64{1.25: {0.96839, 0.89169, 0.8452, 0.77109}, 2: {0.90587, 0.71721, 0.6181, 0.46012}, 3: {0.8275, 0.55459, 0.43776, 0.27449}, 5: {0.70476, 0.37062, 0.26187, 0.13581}} {
		for i, time := range []float64{0.1, 0.5, 1, 3} {
			list = append(list, point{N(time, r), want[i], tol, fmt.Sprintf("n(%g s, %g)", time, r)})
		}
	}
	check(t, "derived: formulas of IEC 60909-0 evaluated outside of this program", list)
}

// Ends of ranges, by the definitions.
func TestFormulaLimits(t *testing.T) {
	check(t, "derived: definition", []point{
		{Kappa(0), 2, 1e-15, "kappa without resistance"}, {Kappa(1e3), 1.02, 1e-15, "kappa without reactance"},
		{Mu(0.1, 2), 1, 0, "mu at twice rated"}, {Mu(0.25, 0), 1, 0, "mu of no current"}, {Mu(0, 8), 1, 0, "mu at the start"},
		{Mu(10, 4), Mu(0.25, 4), 0, "mu beyond the curves"}, {Q(0, 0.1), 1, 0, "q at the start"}, {Q(0.25, 1e-6), 0, 0, "q of a small motor"},
		{M(50, 1, 2), 2, 0, "m without decay"}, {M(50, 1, 1), 0, 0, "m without offset"}, {M(50, 1e-9, 1.8), 2, 1e-6, "m of no time"},
		{N(1, 1), 1, 0, "n without decay"}, {N(1, 1.25*(1-1e-12)), N(1, 1.25), 1e-9, "n is continuous"},
		{KappaAtPlace(0.01, 110e3, false), 2, 0, "method b above 1 kV, cap"}, {KappaAtPlace(0.1, 400, false), 1.8, 0, "method b in low voltage, cap"},
		{KappaAtPlace(0.5, 10e3, false), 1.15 * Kappa(0.5), 0, "method b"}, {KappaAtPlace(0.1, 10e3, true), Kappa(0.1), 0, "method b, R/X low everywhere"},
		{VoltageFactor(400, 0.06, Edition2016, true), 1.05, 0, "c 400 V 6 %"}, {VoltageFactor(400, 0.1, Edition2016, true), 1.1, 0, "c 400 V 10 %"},
		{VoltageFactor(400, 0.1, Edition2016, false), 0.9, 0, "c min 2016"}, {VoltageFactor(400, 0.1, Edition2001, false), 0.95, 0, "c min 2001"}, {VoltageFactor(400, 0.06, Edition2016, false), 0.95, 0, "c min 6 %"},
		{VoltageFactor(1000, 0.1, Edition2016, false), 0.9, 0, "1 kV is low voltage"}, {VoltageFactor(1001, 0.1, Edition2016, false), 1, 0, "above 1 kV"}, {VoltageFactor(110e3, 0.1, Edition2016, true), 1.1, 0, "c 110 kV"},
		{FictitiousResistance(10.5e3, 100e6), 0.05, 0, "100 MVA"}, {FictitiousResistance(10.5e3, 99e6), 0.07, 0, "below 100 MVA"}, {FictitiousResistance(690, 1e6), 0.15, 0, "690 V"},
	})
}

// m and n are the heat of the d.c. part and of the a.c. envelope: against the
// integrals by a sum of their own.
func TestHeatIsTheIntegral(t *testing.T) {
	integral := func(f func(float64) float64, end float64) float64 { // Simpson
		const n = 4000
		sum := f(0) + f(end)
		for i := 1; i < n; i++ {
			w := 4.0
			if i%2 == 0 {
				w = 2
			}
			sum += w * f(end*float64(i)/n)
		}
		return sum * end / n / 3
	}
	for _, kappa := range []float64{1.1, 1.5, 1.9} {
		for _, end := range []float64{0.05, 0.3, 1} {
			// κ − 1 is what is left of the d.c. part after half a cycle, by the standard.
			want := integral(func(s float64) float64 { return 2 * math.Exp(4*50*s*math.Log(kappa-1)) }, end) / end
			if got := M(50, end, kappa); math.Abs(got-want) > 1e-6*want {
				t.Errorf("m(%g s, kappa %g) = %.8f, its integral is %.8f", end, kappa, got, want)
			}
		}
	}
	for _, r := range []float64{1.25, 2, 5, 10} {
		for _, end := range []float64{0.05, 0.5, 3} {
			rd := r / (0.88 + 0.17*r)
			td := 3.1 / rd
			want := integral(func(s float64) float64 {
				i := (1 + (rd-1)*math.Exp(-s/td) + (r-rd)*math.Exp(-10*s/td)) / r
				return i * i
			}, end) / end
			// 1e-5: the error of the sum with so many steps, over the fastest decay.
			if got := N(end, r); math.Abs(got-want) > 1e-5 {
				t.Errorf("n(%g s, %g) = %.6f, its integral is %.6f", end, r, got, want)
			}
		}
	}
}

// Factors of plant: the eight-bus network's, as recomputed outside of this
// program from its fitted data (derived), six digits.
func TestCorrectionFactors(t *testing.T) {
	x := func(uk, ur float64) float64 { return math.Sqrt(uk*uk-ur*ur) / 100 }
	check(t, "derived: data of IEC TR 60909-4:2000", []point{
		{KT(1.1, x(21, 0.26)), 0.928072, 5.1e-7, "K_T AB"}, {KT(1.1, x(10, 0.16)), 0.985856, 5.1e-7, "K_T AC"}, {KT(1.1, x(7, 0.16)), 1.002890, 5.1e-7, "K_T BC"},
		{KT(1.1, x(12, 0.5)), 0.974870, 5.1e-7, "K_T T5"}, {KS(110e3, 21e3, 21, 115, 1.1, 0.14, x(16, 0.5), 0.85), 0.995975, 5.1e-7, "K_S"},
		{KSO(110e3, 10.5e3, 0.075, 10.5, 120, 0, 1.1, 0.16, 0.9), 0.876832, 5.1e-7, "K_SO"}, {KG(10e3, 10.5e3, 0, 1.1, 0.1, 0.8), 0.988320, 5.1e-7, "K_G"},
	})
	kg, kt := Inside(true, 0.075, 1.1, 0.16, 0.12, 0.8)
	kgo, kto := Inside(false, 0.075, 1.1, 0.16, 0.12, 0.8)
	check(t, "derived: by hand, sin φ 0.6", []point{{kg, 1.1 / 1.096, 1e-12, "K_G,S"}, {kt, 1.1 / (1 - 0.072), 1e-12, "K_T,S"}, {kgo, kg / 1.075, 1e-12, "K_G,SO"}, {kto, kt / 1.075, 1e-12, "K_T,SO"}})
}

func TestLawsOfDecay(t *testing.T) {
	r := rand.New(rand.NewSource(60909))
	for range 2000 {
		time, ratio, m := 0.4*r.Float64(), 10*r.Float64(), 0.02+8*r.Float64()
		if a, b := Mu(time, ratio), Mu(time, ratio+0.5*r.Float64()); b > a || a > 1 || b <= 0.5 {
			t.Fatalf("mu(%g) falls with the ratio and lies above its asymptote: %g then %g", time, a, b)
		}
		if a, b := Q(time, m), Q(time, m*(1+r.Float64())); b < a || b > 1 || a < 0 {
			t.Fatalf("q(%g s) rises with power: %g then %g", time, a, b)
		}
		later := time + 0.2*r.Float64()
		if a, b := Q(time, m), Q(later, m); b > a+1e-12 {
			t.Fatalf("q of %g MW falls with time: %g at %g, %g at %g", m, a, time, b, later)
		}
		if a, b := N(0.1+time, 1+ratio), N(0.1+later, 1+ratio); b > a+1e-12 {
			t.Fatalf("n of ratio %g falls with time", 1+ratio)
		}
	}
}

func TestNeglectThrough(t *testing.T) {
	// derived, by hand: ΣSrT 10 MVA at 20 kV with I″kQ 10 kA, c 1.1:
	// 100·1.1·10/(√3·20·10) = 3.1754; less 0.3 = 2.8754; 0.8/2.8754 = 0.27822.
	if !NeglectThrough(2.782e6, 10e6, 1.1, 20e3, 10e3) || NeglectThrough(2.783e6, 10e6, 1.1, 20e3, 10e3) {
		t.Error("the limit of motors behind transformers is not at 2.7822 MW")
	}
}
