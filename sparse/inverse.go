package sparse

// A Selected holds the blocks of A⁻¹ on the filled pattern of A: for an
// admittance matrix, the impedances seen at each node and between each two
// coupled nodes.
type Selected struct {
	f                  *Factor
	diag, upper, lower []complex128
}

// Inverse computes the blocks of Z = A⁻¹ on the filled pattern, without the
// rest of Z. From A = L·(D+U) follows, for the later neighbours i, j of node k,
//
//	Z_ik = − Σ_j Z_ij·L_jk
//	Z_ki = − Σ_j W_kj·Z_ji          W_kj = S_k⁻¹·U_kj
//	Z_kk = S_k⁻¹ − Σ_j W_kj·Z_jk
//
// so that going backwards every block on the right is already known. The cost is
// that of about two factorisations.
//
// Entries are good to rounding error of the largest entries near them. Where a
// part hardly has a path to earth, all its entries hold the same large impedance
// to earth, and differences of them have lost as many digits as that impedance is
// larger than the difference.
//
// Source: Takahashi, Fagan and Chen, PICA 1973 [from memory].
func (f *Factor) Inverse() *Selected {
	s := f.sym
	z := &Selected{
		f:     f,
		diag:  make([]complex128, len(f.diag)),
		upper: make([]complex128, len(f.upper)),
		lower: make([]complex128, len(f.lower)),
	}
	tmp := make([]complex128, f.largest)
	col := make([]complex128, f.largest)
	var w []complex128
	for k := s.n - 1; k >= 0; k-- {
		nk := int(s.size[k])
		from, to := s.ptr[k], s.ptr[k+1]
		pivot, perm := f.diag[s.diag[k]:s.diag[k+1]], f.perm[s.off[k]:s.off[k+1]]

		base := s.at[from]
		if need := int(s.at[to] - base); len(w) < need {
			w = make([]complex128, 2*need)
		}
		copy(w, f.upper[base:s.at[to]])
		for t := from; t < to; t++ {
			solveColumns(w[s.at[t]-base:s.at[t+1]-base], pivot, perm, col, tmp)
		}

		for t := from; t < to; t++ {
			i := s.idx[t]
			ni := int(s.size[i])
			zii := z.diag[s.diag[i]:s.diag[i+1]]
			lik, zik := f.lower[s.at[t]:s.at[t+1]], z.lower[s.at[t]:s.at[t+1]]
			wki, zki := w[s.at[t]-base:s.at[t+1]-base], z.upper[s.at[t]:s.at[t+1]]
			subProduct(zik, zii, lik, ni, ni, nk)
			subProduct(zki, wki, zii, nk, ni, ni)
			e := s.ptr[i]
			for t2 := t + 1; t2 < to; t2++ {
				j := s.idx[t2]
				for s.idx[e] != j { // present: later neighbours of k are neighbours
					e++
				}
				nj := int(s.size[j])
				zij, zji := z.upper[s.at[e]:s.at[e+1]], z.lower[s.at[e]:s.at[e+1]]
				ljk, zjk := f.lower[s.at[t2]:s.at[t2+1]], z.lower[s.at[t2]:s.at[t2+1]]
				wkj, zkj := w[s.at[t2]-base:s.at[t2+1]-base], z.upper[s.at[t2]:s.at[t2+1]]
				subProduct(zik, zij, ljk, ni, nj, nk)
				subProduct(zjk, zji, lik, nj, ni, nk)
				subProduct(zkj, wki, zij, nk, ni, nj)
				subProduct(zki, wkj, zji, nk, nj, ni)
			}
		}

		zkk := z.diag[s.diag[k]:s.diag[k+1]]
		for r := range nk {
			zkk[r*nk+r] = 1
		}
		solveColumns(zkk, pivot, perm, col, tmp)
		for t := from; t < to; t++ {
			ni := int(s.size[s.idx[t]])
			subProduct(zkk, w[s.at[t]-base:s.at[t+1]-base], z.lower[s.at[t]:s.at[t+1]], nk, ni, nk)
		}
	}
	return z
}

// Block returns the block of A⁻¹ in the rows of node i and the columns of node
// j, row-major, Size(i) by Size(j). It is there for i = j, for every edge of the
// analysis in both directions, and where fill appeared; otherwise it reports
// false. The slice belongs to z and must not be changed.
func (z *Selected) Block(i, j int) ([]complex128, bool) {
	f := z.f
	b, stride := f.view(z.diag, z.upper, z.lower, int32(i), int32(j))
	if b == nil {
		return nil, false
	}
	rows, cols := f.a.Size(i), f.a.Size(j)
	if f.group == nil {
		return b[: rows*cols : rows*cols], true
	}
	out := make([]complex128, 0, rows*cols) // cut out of a merged block
	for r := range rows {
		out = append(out, b[r*stride:r*stride+cols]...)
	}
	return out, true
}
