package phasor

import (
	"math"
	"math/cmplx"
	"testing"

	"pgregory.net/rapid"
)

func TestSequence(t *testing.T) {
	tests := []struct {
		name       string
		abc        [3]complex128
		want       [3]complex128
		tol        float64 // half of the last printed digit of the source
		kind, from string
	}{
		{"line c open", [3]complex128{Polar(10, 0), Polar(10, 180), 0},
			[3]complex128{0, Polar(5.774, -30), Polar(5.774, 30)}, 5e-4,
			"published", "Stevenson, Elements of Power System Analysis, sequence chapter [from memory]; 10/√3"},
		{"unequal voltages", [3]complex128{Polar(277, 0), Polar(260, -120), Polar(295, 115)},
			[3]complex128{Polar(15.912, 62.1), Polar(277.09, -1.77), Polar(9.218, -143.4)}, 0.05,
			"derived", "independent calculation to the digits shown"},
		{"one phase alone", [3]complex128{5, 0, 0}, [3]complex128{5. / 3, 5. / 3, 5. / 3}, 1e-12, "derived", "by hand"},
	}
	for _, tt := range tests {
		z, p, n := ABC.Sequence(tt.abc)
		for i, got := range []complex128{z, p, n} {
			if !(cmplx.Abs(got-tt.want[i]) <= tt.tol) {
				t.Errorf("%s: sequence %d = %.4f∠%.2f°, want %v (%s: %s)", tt.name, i,
					cmplx.Abs(got), Degrees(got), tt.want[i], tt.kind, tt.from)
			}
		}
	}
}

func TestSequenceLaws(t *testing.T) {
	number := rapid.Float64Range(-1e3, 1e3)
	rapid.Check(t, func(t *rapid.T) {
		rot := Rotation(rapid.IntRange(0, 1).Draw(t, "rotation"))
		var x [3]complex128
		for i := range x {
			x[i] = complex(number.Draw(t, "re"), number.Draw(t, "im"))
		}
		back := rot.Phases(rot.Sequence(x))
		for i := range x {
			if cmplx.Abs(back[i]-x[i]) > 1e-9 {
				t.Fatalf("phase %d: %v became %v", i, x[i], back[i])
			}
		}
		// The circulant scales each sequence by its eigenvalue.
		l := [3]complex128{complex(number.Draw(t, "l0"), 1), complex(2, number.Draw(t, "l1")), complex(number.Draw(t, "l2"), -3)}
		m := rot.Circulant(l[0], l[1], l[2])
		var y [3]complex128
		for i := 0; i < 3; i++ {
			for j := 0; j < 3; j++ {
				y[i] += m[3*i+j] * x[j]
			}
		}
		x0, x1, x2 := rot.Sequence(x)
		y0, y1, y2 := rot.Sequence(y)
		for i, d := range []complex128{y0 - l[0]*x0, y1 - l[1]*x1, y2 - l[2]*x2} {
			if cmplx.Abs(d) > 1e-6 {
				t.Fatalf("sequence %d is not scaled by its eigenvalue: off by %v", i, d)
			}
		}
	})
}

func TestDegrees30(t *testing.T) {
	for n := -13; n < 25; n++ {
		c, s := Degrees30(n)
		if math.Abs(c-math.Cos(float64(n)*math.Pi/6)) > 1e-14 || math.Abs(s-math.Sin(float64(n)*math.Pi/6)) > 1e-14 {
			t.Errorf("Degrees30(%d) = %v, %v", n, c, s)
		}
	}
}
