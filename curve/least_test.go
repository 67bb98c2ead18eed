package curve_test

import (
	"math"
	"testing"

	"feederwright/curve"

	"pgregory.net/rapid"
)

// Two relays on IEEE very inverse: 200 A at dial 1 below 400 A at 1.038552. Derived, by hand: margins 0.3000 s at 3000 A,
// 1.2231 s at 1500 A, 5.5003 s at 800 A; so the least is at the largest current.
func TestLeast(t *testing.T) {
	e, _ := curve.Find("IEEE very inverse")
	low := func(x float64) float64 { return curve.Setting{Form: e.Inverse, Dial: 1}.Time(x / 200) }
	up := func(x float64) float64 { return curve.Setting{Form: e.Inverse, Dial: 1.038552}.Time(x / 400) }
	m := curve.Least(up, low, 400, 3000, 1e-4)
	if math.Abs(m.Seconds-0.3) > 5e-5 || m.Current != 3000 || m.Bound > m.Seconds || m.Bound < m.Seconds-1e-4 {
		t.Errorf("%+v, want 0.3 s at 3000 A", m)
	}
	for _, tt := range []struct{ x, want float64 }{{1500, 1.2231}, {800, 5.5003}} {
		if got := up(tt.x) - low(tt.x); math.Abs(got-tt.want) > 5.1e-5 {
			t.Errorf("margin at %g A: %.5f, want %.4f", tt.x, got, tt.want)
		}
	}
	// An instantaneous element of the upper relay above 2500 A: the least is at its pickup, not at an end.
	both := func(x float64) float64 {
		if x >= 2500 {
			return 0
		}
		return up(x)
	}
	m = curve.Least(both, low, 400, 3000, 1e-4)
	if math.Abs(m.Current-2500) > 1 || math.Abs(m.Seconds+low(2500)) > 1e-4 {
		t.Errorf("%+v, want %.4f s at 2500 A", m, -low(2500))
	}
	// An instantaneous element of the lower relay: just below its pickup the curve still counts.
	fast := func(x float64) float64 {
		if x >= 2500 {
			return 0.02
		}
		return low(x)
	}
	m = curve.Least(up, fast, 400, 3000, 1e-4)
	if math.Abs(m.Current-2500) > 1 || math.Abs(m.Seconds-(up(2500)-low(2500))) > 1e-4 {
		t.Errorf("%+v, want %.4f s just below 2500 A", m, up(2500)-low(2500))
	}
	if m := curve.Least(up, low, 100, 150, 1e-4); !math.IsInf(m.Seconds, 1) || !math.IsNaN(m.Current) {
		t.Errorf("below both pickups: %+v", m)
	}
	if m := curve.Least(up, low, 250, 390, 1e-4); !math.IsInf(m.Seconds, 1) {
		t.Errorf("where the lower alone operates: %+v", m)
	}
}

// No scan over a fine grid finds less than the bound, for random pairs with instantaneous elements.
func TestLeastMissesNothing(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		device := func(name string) func(float64) float64 {
			s := curve.Setting{Form: rapid.SampledFrom(curve.Known).Draw(r, name).Inverse, Dial: rapid.Float64Range(0.05, 2).Draw(r, name+" dial"), Flat: 20}
			pickup := rapid.Float64Range(100, 800).Draw(r, name+" pickup")
			fast := rapid.Float64Range(500, 20_000).Draw(r, name+" fast")
			return func(x float64) float64 {
				if x >= fast {
					return math.Min(0.02, s.Time(x/pickup))
				}
				return s.Time(x / pickup)
			}
		}
		up, low := device("upper"), device("lower")
		m := curve.Least(up, low, 150, 10_000, 1e-3)
		if m.Bound < m.Seconds-1e-3 {
			r.Fatalf("bound %g is further than 1 ms below %g", m.Bound, m.Seconds)
		}
		for i := range 4000 {
			x := 150 * math.Pow(10_000/150.0, float64(i)/3999)
			if l := low(x); !math.IsInf(l, 1) && up(x)-l < m.Bound-1e-6 {
				r.Fatalf("%g s at %g A; the search said %+v", up(x)-l, x, m)
			}
		}
	})
}

func BenchmarkLeast(b *testing.B) {
	e, _ := curve.Find("IEEE very inverse")
	low := func(x float64) float64 { return curve.Setting{Form: e.Inverse, Dial: 1}.Time(x / 200) }
	up := func(x float64) float64 { return curve.Setting{Form: e.Inverse, Dial: 1.2}.Time(x / 220) }
	for b.Loop() {
		curve.Least(up, low, 400, 3000, 1e-3)
	}
}
