package network

import (
	"fmt"
)

// coreAdmittance gives the admittance matrix of windings on one core from
// their short-circuit impedances, all seen from one winding:
//
//	i = Y·v      v, i voltages and currents of the windings, referred to one number of turns
//	Y = Bᵀ·Zs⁻¹·B
//	Zs[j][k] = (z[0][j+1] + z[0][k+1] − z[j+1][k+1])/2,   B = (−1 | I)
//
//	z[j][k]   impedance between windings j and k, the others open    ohm
//
// No magnetising current flows, so every row of Y sums to zero. The star legs
// of three windings, one of which is often zero or negative, are not formed.
//
// Source: derivation; for three windings Zs holds, by the sum rule, the leg of
// winding 0 beside the diagonal.
func coreAdmittance(z [][]complex128) ([]complex128, error) {
	n := len(z)
	m := n - 1
	zs := make([]complex128, m*m)
	for j := 0; j < m; j++ {
		for k := 0; k < m; k++ {
			zs[j*m+k] = (z[0][j+1] + z[0][k+1] - z[j+1][k+1]) / 2
			if j == k {
				zs[j*m+k] = z[0][j+1]
			}
		}
	}
	inverse, err := invert(zs, m)
	if err != nil {
		return nil, fmt.Errorf("its short-circuit impedances contradict each other: two windings would be one")
	}
	y := make([]complex128, n*n)
	for j := 0; j < m; j++ {
		for k := 0; k < m; k++ {
			a := inverse[j*m+k]
			y[(j+1)*n+k+1] += a
			y[(j+1)*n] -= a
			y[k+1] -= a
			y[0] += a
		}
	}
	return y, nil
}

// openRow eliminates row k of an n×n admittance matrix: no current enters
// there. The row and column become zero.
func openRow(y []complex128, n, k int) {
	pivot := y[k*n+k]
	if pivot != 0 {
		for i := 0; i < n; i++ {
			if i == k || y[i*n+k] == 0 {
				continue
			}
			f := y[i*n+k] / pivot
			for j := 0; j < n; j++ {
				if j != k {
					y[i*n+j] -= f * y[k*n+j]
				}
			}
		}
	}
	shortRow(y, n, k)
}

// shortRow removes row k of an n×n admittance matrix: its voltage is zero.
func shortRow(y []complex128, n, k int) {
	for i := 0; i < n; i++ {
		y[i*n+k], y[k*n+i] = 0, 0
	}
}

// inSeries puts an impedance z in series with terminal k of an n×n admittance
// matrix.
func inSeries(y []complex128, n, k int, z complex128) {
	if z == 0 {
		return
	}
	// The inner node k carries what enters: v_outer = v_k + z·i_k, a rank-one change.
	d := 1 + z*y[k*n+k]
	row, col := make([]complex128, n), make([]complex128, n)
	for i := 0; i < n; i++ {
		row[i], col[i] = y[k*n+i], y[i*n+k]
	}
	for i := 0; i < n; i++ {
		for j := 0; j < n; j++ {
			y[i*n+j] -= col[i] * z * row[j] / d
		}
	}
}
