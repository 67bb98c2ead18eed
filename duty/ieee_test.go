package duty

import (
	"fmt"
	"math"
	"testing"
)

// Points from a calculation outside of this program (derived).
func TestIEEEPoints(t *testing.T) {
	const tol = 5.1e-6
	var list []point
	for _, w := range [][7]float64{
		{5, 1.25268, 2.16868, 2.19657, 0.94612, 1.00462}, {10, 1.4377, 2.44716, 2.456, 1.06761, 1.153}, {15, 1.5217, 2.5612, 2.56634, 1.11736, 1.22037},
		{17, 1.54338, 2.58981, 2.59431, 1.12985, 1.23776}, {20, 1.5687, 2.62285, 2.6267, 1.14426, 1.25806}, {25, 1.5986, 2.66142, 2.66457, 1.16109, 1.28204},
		{30, 1.61928, 2.68782, 2.69049, 1.17261, 1.29863}, {40, 1.64599, 2.7216, 2.72366, 1.18734, 1.32004}, {50, 1.66247, 2.7423, 2.74397, 1.19637, 1.33327}} {
		xr := w[0]
		list = append(list, point{Asymmetry(0.5, xr), w[1], tol, fmt.Sprintf("asymmetry, X/R %g", xr)}, point{PeakHalfCycle(xr), w[2], tol, fmt.Sprintf("peak at half a cycle, X/R %g", xr)},
			point{PeakFactor(xr), w[3], tol, fmt.Sprintf("peak, X/R %g", xr)}, point{PeakBasis(xr, TestXRUnfused), math.Max(1, w[4]), tol, fmt.Sprintf("unfused, X/R %g", xr)},
			point{TotalBasis(xr, TestXRFused), math.Max(1, w[5]), tol, fmt.Sprintf("fused, X/R %g", xr)})
	}
	for _, w := range [][3]float64{{0.5, 0.83095, 1.54304}, {1, 0.69048, 1.39768}, {1.5, 0.57375, 1.28778}, {2, 0.47676, 1.20607}, {3, 0.32919, 1.10306}, {4, 0.2273, 1.0504}} {
		dc := RatedDC(w[0]/60, StandardDCTime)
		list = append(list, point{dc, w[1], tol, fmt.Sprintf("d.c. after %g cycles", w[0])}, point{AsymmetryCapability(dc), w[2], tol, fmt.Sprintf("S after %g cycles", w[0])})
	}
	for _, w := range [][2]float64{{2, 1.5}, {3, 2}, {4, 2.5}, {5, 3}, {8, 4}, {6.5, 3.5}} {
		list = append(list, point{PartsAfter(w[0]), w[1], 1e-12, fmt.Sprintf("parting of %g cycles", w[0])})
	}
	check(t, "derived: formulas of IEEE C37.010, C37.13, 551 evaluated outside of this program", list)
}

// A breaker rated by a d.c. part of 45 ms needs no factor where the network's
// own time constant is that: X/R = ω·45 ms, 16.96 at 60 Hz, whatever the time.
func TestFactorIsOneAtRatedXR(t *testing.T) {
	xr := 2 * math.Pi * 60 * StandardDCTime
	for _, cycles := range []float64{1.5, 2, 3, 4} {
		s := AsymmetryCapability(RatedDC(cycles/60, StandardDCTime))
		if a := Asymmetry(cycles, xr) / s; math.Abs(a-1) > 1e-12 {
			t.Errorf("factor at X/R %.2f after %g cycles is %.12f, want 1 (derived: same exponential)", xr, cycles, a)
		}
		if Interrupting(cycles, 0.9*xr, s) != 1 || Interrupting(cycles, 1.1*xr, s) <= 1 {
			t.Errorf("the factor does not begin at X/R %.2f after %g cycles", xr, cycles)
		}
	}
}

// The peak by its own formula lies above the half-cycle value and below that of
// the offset wave itself, found by a search.
func TestPeakAgainstTheWave(t *testing.T) {
	for _, xr := range []float64{2, 5, 10, 25, 60} {
		phi := math.Atan(xr)
		most := 0.0
		// The largest over closing angle and time of √2[sin(τ+α−φ) − sin(α−φ)·e^(−τ/(X/R))].
		for a := -math.Pi; a < math.Pi; a += math.Pi / 180 {
			for tau := 0.0; tau < 2*math.Pi; tau += 2 * math.Pi / 720 {
				most = math.Max(most, math.Sqrt2*math.Abs(math.Sin(tau+a-phi)-math.Sin(a-phi)*math.Exp(-tau/xr)))
			}
		}
		// 1 %: the formula's own fit, whose curve of tau is an approximation.
		if got := PeakFactor(xr); math.Abs(got/most-1) > 0.01 {
			t.Errorf("X/R %g: peak factor %.4f, the wave reaches %.4f (derived)", xr, got, most)
		}
		// Kappa is a fit of the same; its own error is below 2 %.
		if got := Kappa(1/xr) * math.Sqrt2; math.Abs(got/most-1) > 0.02 {
			t.Errorf("X/R %g: κ·√2 = %.4f, the wave reaches %.4f (derived)", xr, got, most)
		}
	}
}

func TestMachineClasses(t *testing.T) {
	for _, tt := range []struct {
		hp                  float64
		pairs               int
		first, interrupting float64
	}{{1500, 2, 1, 1.5}, {1500, 1, 1, 1.5}, {1000, 2, 1.2, 3}, {300, 1, 1, 1.5}, {300, 2, 1.2, 3}, {250, 1, 1.2, 3}, {300, 0, 1, 1.5}, {50, 2, 1.2, 3}, {49, 2, 1.67, 0}} {
		f, i := ClassOfMotor(tt.hp*Horsepower, tt.pairs, 60).Multipliers()
		if f != tt.first || i != tt.interrupting {
			t.Errorf("%g hp, %d pole pairs: %g and %g, want %g and %g (published: IEEE 141 Table 4-1, from memory)", tt.hp, tt.pairs, f, i, tt.first, tt.interrupting)
		}
	}
}

func TestReclosingFactor(t *testing.T) {
	for _, tt := range []struct {
		d1   float64
		dead []float64
		want float64
	}{{0.03, nil, 1}, {0.03, []float64{15}, 1}, {0.03, []float64{0}, 0.97}, {0.03, []float64{0.5, 5, 15}, 1 - 0.03*(2+14.5/15+10./15)}} {
		if got := ReclosingFactor(tt.d1, tt.dead); math.Abs(got-tt.want) > 1e-12 {
			t.Errorf("ReclosingFactor(%g, %v) = %g, want %g (derived: by hand)", tt.d1, tt.dead, got, tt.want)
		}
	}
}
