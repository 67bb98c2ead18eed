package network

import (
	"fmt"
	"math/cmplx"
	"testing"

	"feederwright/quantity"
)

// sameMatrix fails unless two admittance matrices agree to the rounding of a
// small inversion.
func sameMatrix(t *testing.T, what string, got, want []complex128) {
	t.Helper()
	if len(got) != len(want) {
		t.Fatalf("%s: %d entries, want %d", what, len(got), len(want))
	}
	largest := 0.0
	for _, w := range want {
		largest = max(largest, cmplx.Abs(w))
	}
	for i := range want {
		if cmplx.Abs(got[i]-want[i]) > 1e-12*largest {
			t.Fatalf("%s: entry %d is %v, want %v", what, i, got[i], want[i])
		}
	}
}

// last builds one element and returns it.
func last(t *testing.T, add func(b *Builder, from, to int) (int, error), from, to quantity.Phases) Element {
	t.Helper()
	var b Builder
	i := b.AddBus("from", from, 1000)
	j := b.AddBus("to", to, 1000)
	k, err := add(&b, i, j)
	if err != nil {
		t.Fatal(err)
	}
	return b.elements[k]
}

// Three equal single-phase units connected as a bank are the three-phase
// transformer of that connection, with zero-sequence impedance equal to the
// positive-sequence one since their cores are apart.
//
// Expected values: derived, from the two-winding transformer of every vector
// group, which has checks of its own.
func TestBankOfThreeIsTheTransformer(t *testing.T) {
	const (
		vf, vt = 12470.0, 480.0
		z      = 0.01 + 0.03i // seen from the second side, per phase of the equivalent wye
	)
	a, b, c := 0, 1, 2
	tests := []struct {
		group      string
		prim, sec  [3][2]int
		vp, vs, zs float64 // turns voltages, and impedance of a unit over that per phase
		from, to   NeutralPoint
	}{
		{"YNyn0", [3][2]int{{a, Star}, {b, Star}, {c, Star}}, [3][2]int{{a, Star}, {b, Star}, {c, Star}}, vf / root3, vt / root3, 1,
			NeutralPoint{true, true, 2}, NeutralPoint{true, true, 0.1i}},
		{"YNd1", [3][2]int{{a, Star}, {b, Star}, {c, Star}}, [3][2]int{{a, b}, {b, c}, {c, a}}, vf / root3, vt, 3,
			NeutralPoint{true, true, 0}, NeutralPoint{}},
		{"Yd1", [3][2]int{{a, Star}, {b, Star}, {c, Star}}, [3][2]int{{a, b}, {b, c}, {c, a}}, vf / root3, vt, 3,
			NeutralPoint{}, NeutralPoint{}},
		{"YNd11", [3][2]int{{a, Star}, {b, Star}, {c, Star}}, [3][2]int{{a, c}, {b, a}, {c, b}}, vf / root3, vt, 3,
			NeutralPoint{true, true, 1i}, NeutralPoint{}},
		{"Dyn1", [3][2]int{{a, c}, {b, a}, {c, b}}, [3][2]int{{a, Star}, {b, Star}, {c, Star}}, vf, vt / root3, 1,
			NeutralPoint{}, NeutralPoint{true, true, 0}},
		{"Dyn11", [3][2]int{{a, b}, {b, c}, {c, a}}, [3][2]int{{a, Star}, {b, Star}, {c, Star}}, vf, vt / root3, 1,
			NeutralPoint{}, NeutralPoint{true, true, 5}},
		{"Dd0", [3][2]int{{a, b}, {b, c}, {c, a}}, [3][2]int{{a, b}, {b, c}, {c, a}}, vf, vt, 3, NeutralPoint{}, NeutralPoint{}},
		{"Dd6", [3][2]int{{a, b}, {b, c}, {c, a}}, [3][2]int{{b, a}, {c, b}, {a, c}}, vf, vt, 3, NeutralPoint{}, NeutralPoint{}},
	}
	for _, tt := range tests {
		t.Run(tt.group, func(t *testing.T) {
			var g quantity.VectorGroup
			if err := g.UnmarshalText([]byte(tt.group)); err != nil {
				t.Fatal(err)
			}
			want := transformerElement(t, TransformerData{Group: g, VFrom: vf, VTo: vt, Z1: z, Z0: z, From: tt.from, To: tt.to})
			var units []Unit
			for k := range 3 {
				units = append(units, Unit{Name: fmt.Sprint(k), Primary: tt.prim[k], Secondary: tt.sec[k][:],
					VPrimary: tt.vp, VSecondary: tt.vs, Z: z * complex(tt.zs, 0)})
			}
			got := last(t, func(b *Builder, from, to int) (int, error) {
				return b.AddBank("T", from, to, BankData{Units: units, From: tt.from, To: tt.to})
			}, abc, abc)
			sameMatrix(t, tt.group, got.Y, want.Y)
		})
	}
}

const root3 = 1.7320508075688772

// A three-winding unit whose third winding is idle is the two-winding one; its
// idle delta carries the zero sequence of a wye.
//
// Expected values: derived, from the two-winding transformer.
func TestThreeWindingWithAnIdleWinding(t *testing.T) {
	y, yn, d := quantity.Winding{Kind: 'Y'}, quantity.Winding{Kind: 'Y', Neutral: true}, quantity.Winding{Kind: 'D'}
	z12, z13, z23 := 5+40i, 6+70i, 1+25i
	n := complex(33./110., 0)
	third := func(w quantity.Winding, from, to NeutralPoint, first, second quantity.Winding, lag int) Element {
		return last(t, func(b *Builder, f, to2 int) (int, error) {
			return b.AddThreeWinding("T", [3]int{f, to2, -1}, ThreeWindingData{Winding: [3]quantity.Winding{first, second, w},
				Lag: [3]int{0, lag, 1}, V: [3]float64{110e3, 33e3, 11e3}, Z1: [3]complex128{z12, z13, z23}, Z0: [3]complex128{z12, z13, z23},
				Point: [3]NeutralPoint{from, to, {}}})
		}, abc, abc)
	}
	solid := NeutralPoint{true, true, 0}
	t.Run("YNyn0+y", func(t *testing.T) {
		want := transformerElement(t, TransformerData{Group: quantity.VectorGroup{From: yn, To: yn}, VFrom: 110e3, VTo: 33e3,
			Z1: z12 * n * n, Z0: z12 * n * n, From: solid, To: NeutralPoint{true, true, 3}})
		sameMatrix(t, "Y", third(y, solid, NeutralPoint{true, true, 3}, yn, yn, 0).Y, want.Y)
	})
	t.Run("YNyn6+y", func(t *testing.T) {
		want := transformerElement(t, TransformerData{Group: quantity.VectorGroup{From: yn, To: yn, Clock: 6}, VFrom: 110e3, VTo: 33e3,
			Z1: z12 * n * n, Z0: z12 * n * n, From: solid, To: solid})
		sameMatrix(t, "Y", third(y, solid, solid, yn, yn, 6).Y, want.Y)
	})
	t.Run("YNd1+y", func(t *testing.T) {
		want := transformerElement(t, TransformerData{Group: quantity.VectorGroup{From: yn, To: d, Clock: 1}, VFrom: 110e3, VTo: 33e3,
			Z1: z12 * n * n, Z0: z12 * n * n, From: NeutralPoint{true, true, 7i}})
		sameMatrix(t, "Y", third(y, NeutralPoint{true, true, 7i}, NeutralPoint{}, yn, d, 1).Y, want.Y)
	})
	// Zero sequence into winding 1 with winding 2 open and the delta idle is z13;
	// with winding 2 earthed too, the two-port has the delta in its middle.
	t.Run("YNyn0+d, zero sequence", func(t *testing.T) {
		e := third(d, solid, solid, yn, yn, 0)
		var y [2][2]complex128
		for i := range 6 {
			for j := range 6 {
				y[i/3][j/3] += e.Y[i*6+j] / 3
			}
		}
		// Inverting the zero-sequence two-port gives the open-circuit impedances.
		det := y[0][0]*y[1][1] - y[0][1]*y[1][0]
		z11, z22, z21 := y[1][1]/det, y[0][0]/det, -y[1][0]/det
		middle := (z13 + z23 - z12) / 2 // the delta's leg of the star
		for _, c := range []struct {
			name      string
			got, want complex128
		}{{"z11", z11, z13}, {"z22", z22 / (n * n), z23}, {"z21", z21 / n, middle}} {
			if cmplx.Abs(c.got-c.want) > 1e-11*cmplx.Abs(c.want) {
				t.Errorf("%s = %v, want %v", c.name, c.got, c.want)
			}
		}
	})
}

// A centre-tapped unit shows the impedances that it was given: over the whole
// second winding, and over one half.
func TestCentreTappedUnitShowsItsImpedances(t *testing.T) {
	const vp, vs = 7200.0, 240.0
	z, half := 0.02+0.03i, 0.0075+0.009i // ohm at 240 V and at 120 V: 1.5·R and 1.2·X of the quarter
	e := last(t, func(b *Builder, from, to int) (int, error) {
		return b.AddBank("T", from, to, BankData{Units: []Unit{{Name: "1", Primary: [2]int{0, Star}, Secondary: []int{0, 3, 1},
			VPrimary: vp, VSecondary: vs, Z: z, ZHalf: half}}, From: NeutralPoint{true, true, 0}})
	}, 1, 0b1011)
	// Rows: primary A; secondary A, B, N. Primary shorted: admittances between legs.
	m := 4
	if len(e.Y) != m*m {
		t.Fatalf("%d entries", len(e.Y))
	}
	a := []complex128{e.Y[1*m+1], e.Y[1*m+2], e.Y[2*m+1], e.Y[2*m+2]} // A, B with N at zero
	det := a[0]*a[3] - a[1]*a[2]
	zaa, zab, zbb := a[3]/det, -a[1]/det, a[0]/det
	if got := zaa; cmplx.Abs(got-half) > 1e-12*cmplx.Abs(half) {
		t.Errorf("impedance of one half %v, want %v", got, half)
	}
	if got := zaa + zbb - 2*zab; cmplx.Abs(got-z) > 1e-12*cmplx.Abs(z) {
		t.Errorf("impedance of the whole %v, want %v", got, z)
	}
	// Open-circuit voltages: +120 V and −120 V for 7200 V.
	ia, ib := e.Y[1*m], e.Y[2*m]
	va, vb := -(a[3]*ia-a[1]*ib)/det*vp, -(a[0]*ib-a[2]*ia)/det*vp
	if cmplx.Abs(va-120) > 1e-9 || cmplx.Abs(vb+120) > 1e-9 {
		t.Errorf("open-circuit voltages %v and %v", va, vb)
	}
}

// The ratios of regulators hold between the phases that each unit stands
// between, and a neutral ratio of one is a plain series impedance.
func TestRegulatorRatios(t *testing.T) {
	v := [3]complex128{7200, cmplx.Rect(7100, -2.1), cmplx.Rect(7300, 2.05)}
	open := func(connection RegulatorConnection, ratio []float64) [3]complex128 {
		e := last(t, func(b *Builder, from, to int) (int, error) {
			return b.AddRegulator("R", from, to, abc, RegulatorData{Connection: connection, Ratio: ratio, Z: 0.01 + 0.05i})
		}, abc, abc)
		// No current at the second side: V_to = −Ytt⁻¹·Ytf·V.
		var out [3]complex128
		for i := range 3 {
			for j := range 3 {
				out[i] -= e.Y[(3+i)*6+j] / e.Y[(3+i)*6+3+i] * v[j]
			}
		}
		return out
	}
	near := func(what string, got, want complex128) {
		t.Helper()
		if cmplx.Abs(got-want) > 1e-9*cmplx.Abs(want) {
			t.Errorf("%s is %v, want %v", what, got, want)
		}
	}
	w := open(RegulatorWye, []float64{1.05, 0.9, 1})
	near("wye A", w[0], 1.05*v[0])
	near("wye B", w[1], 0.9*v[1])
	w = open(RegulatorOpenDelta, []float64{1.05, 0.9})
	near("open delta A-B", w[0]-w[1], 1.05*(v[0]-v[1]))
	near("open delta C-B", w[2]-w[1], 0.9*(v[2]-v[1]))
	near("open delta B", w[1], v[1])
	w = open(RegulatorClosedDelta, []float64{1.05, 0.95, 1.1})
	near("closed delta A-B", v[0]-w[1], (w[0]-w[1])/1.05)
	near("closed delta B-C", v[1]-w[2], (w[1]-w[2])/0.95)
	near("closed delta C-A", v[2]-w[0], (w[2]-w[0])/1.1)
}
