// Package phasor has the phasor arithmetic that the trade uses: polar form,
// symmetrical components for either rotation, and the written forms.
// Magnitudes are r.m.s.; angles are in radians inside and degrees where
// text is written.
package phasor

import (
	"encoding/json"
	"fmt"
	"math"
	"math/cmplx"
)

// A Rotation is the order in which the phases reach their peaks.
type Rotation int

const (
	ABC Rotation = iota // B lags A by 120°
	ACB                 // C lags A by 120°
)

func (r Rotation) String() string {
	if r == ACB {
		return "ACB"
	}
	return "ABC"
}

// A is the operator of 120°: 1∠120°.
var A = complex(-0.5, math.Sqrt(3)/2)

// Operator returns the operator a for a rotation: 1∠120° for ABC and
// 1∠−120° for ACB, so that positive sequence is (1, a², a) in both.
func (r Rotation) Operator() complex128 {
	if r == ACB {
		return cmplx.Conj(A)
	}
	return A
}

// Sequence returns zero, positive and negative sequence of three phasors:
//
//	X0 = (Xa + Xb + Xc)/3
//	X1 = (Xa + a·Xb + a²·Xc)/3
//	X2 = (Xa + a²·Xb + a·Xc)/3
//
// Source: C. L. Fortescue, Trans. AIEE 37 (1918) [from memory].
func (r Rotation) Sequence(abc [3]complex128) (zero, positive, negative complex128) {
	a := r.Operator()
	a2 := a * a
	zero = (abc[0] + abc[1] + abc[2]) / 3
	positive = (abc[0] + a*abc[1] + a2*abc[2]) / 3
	negative = (abc[0] + a2*abc[1] + a*abc[2]) / 3
	return zero, positive, negative
}

// Phases is the inverse of Sequence.
func (r Rotation) Phases(zero, positive, negative complex128) [3]complex128 {
	a := r.Operator()
	a2 := a * a
	return [3]complex128{
		zero + positive + negative,
		zero + a2*positive + a*negative,
		zero + a*positive + a2*negative,
	}
}

// Circulant returns the 3×3 matrix, row-major, whose eigenvalues for zero,
// positive and negative sequence are the three given: the phase form of a
// balanced three-phase impedance or admittance.
func (r Rotation) Circulant(zero, positive, negative complex128) [9]complex128 {
	a := r.Operator()
	a2 := a * a
	// Entry (i, j) depends on (i−j) mod 3 only.
	var t [3]complex128
	t[0] = (zero + positive + negative) / 3
	t[1] = (zero + positive*a2 + negative*a) / 3
	t[2] = (zero + positive*a + negative*a2) / 3
	var m [9]complex128
	for i := 0; i < 3; i++ {
		for j := 0; j < 3; j++ {
			m[3*i+j] = t[(i-j+3)%3]
		}
	}
	return m
}

// Polar returns the phasor of a magnitude and an angle in degrees.
func Polar(magnitude, degrees float64) complex128 {
	s, c := math.Sincos(degrees * math.Pi / 180)
	return complex(magnitude*c, magnitude*s)
}

// Degrees returns the angle of x in (−180, 180], and 0 for x = 0.
func Degrees(x complex128) float64 {
	if x == 0 {
		return 0
	}
	d := cmplx.Phase(x) * 180 / math.Pi
	if d <= -180 {
		d += 360
	}
	return d
}

// Degrees30 returns the sine and cosine pair of n·30° without rounding in the
// angle, so that vector groups give exact zeros and halves.
func Degrees30(n int) (cos, sin float64) {
	h := math.Sqrt(3) / 2
	c := [12]float64{1, h, 0.5, 0, -0.5, -h, -1, -h, -0.5, 0, 0.5, h}
	n = ((n % 12) + 12) % 12
	return c[n], c[(n+9)%12]
}

// JSON is the written form of a phasor. Its keys only grow.
type JSON struct {
	Magnitude    float64 `json:"magnitude"`
	AngleDegrees float64 `json:"angle_degree"`
	Re           float64 `json:"re"`
	Im           float64 `json:"im"`
}

// ToJSON gives the written form of x.
func ToJSON(x complex128) JSON {
	return JSON{cmplx.Abs(x), Degrees(x), real(x), imag(x)}
}

// MarshalJSON refuses values that JSON has no word for, so that a bug of
// ours can't write a broken file.
func (p JSON) MarshalJSON() ([]byte, error) {
	for _, v := range []float64{p.Magnitude, p.AngleDegrees, p.Re, p.Im} {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return nil, fmt.Errorf("phasor %v is not finite", p.Magnitude)
		}
	}
	type plain JSON
	return json.Marshal(plain(p))
}
