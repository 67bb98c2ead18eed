package network_test

import (
	"math"
	"math/cmplx"
	"testing"

	"feederwright/network"
	"feederwright/phasor"
)

// A bank takes its power at nominal voltages. The matrix of n conductors is
// applied to balanced line-to-earth voltages of v/√3: derived, S = Σ V·I*.
func TestBranchAdmittance(t *testing.T) {
	const v = 12470.0
	s := complex(3e5, 1.2e5)
	u := phasor.ABC.Phases(0, complex(v/math.Sqrt(3), 0), 0)
	for _, tt := range []struct {
		c    network.Connection
		n    int
		want complex128 // VA
	}{
		{network.EarthedWye, 1, s}, {network.EarthedWye, 2, s}, {network.EarthedWye, 3, s},
		{network.Wye, 2, s}, {network.Wye, 3, s}, {network.Delta, 2, s}, {network.Delta, 3, s},
		{network.Wye, 1, 0}, {network.Delta, 1, 0}, // no way back
	} {
		y := network.ConnectedShunt(tt.c, tt.n, network.BranchAdmittance(tt.c, tt.n, cmplx.Conj(s), v))
		got := complex128(0)
		for i := 0; i < tt.n; i++ {
			current := complex128(0)
			for j := 0; j < tt.n; j++ {
				current += y[i*tt.n+j] * u[j]
			}
			got += u[i] * cmplx.Conj(current)
		}
		if d := cmplx.Abs(got - tt.want); !(d <= 1e-9*cmplx.Abs(s)) {
			t.Errorf("%s over %d: %v VA, want %v", tt.c, tt.n, got, tt.want)
		}
	}
}
