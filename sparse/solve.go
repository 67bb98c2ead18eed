package sparse

// A workspace is the scratch memory of one solution.
type workspace struct {
	v   []complex128
	tmp []complex128 // one block's conductors
}

func (f *Factor) workspace() *workspace {
	w, _ := f.work.Get().(*workspace)
	if w == nil {
		w = &workspace{make([]complex128, f.a.Dim()), make([]complex128, f.largest)}
	}
	return w
}

// gather copies x into elimination order, scatter back.
func (f *Factor) gather(dst, x []complex128) {
	for i, size := range f.a.size {
		copy(dst[f.at[i]:], x[f.a.offset[i]:][:size])
	}
}

func (f *Factor) scatter(x, src []complex128) {
	for i, size := range f.a.size {
		copy(x[f.a.offset[i]:], src[f.at[i]:][:size])
	}
}

// Solve replaces b, in x, by the solution of A·x = b.
func (f *Factor) Solve(x []complex128) {
	f.a.checkVector(x, 1)
	w := f.workspace()
	f.gather(w.v, x)
	f.solve(w.v, w.tmp)
	f.scatter(x, w.v)
	f.work.Put(w)
}

// SolveTransposed replaces b, in x, by the solution of Aᵀ·x = b; Aᵀ is the
// plain transpose, without conjugation.
func (f *Factor) SolveTransposed(x []complex128) {
	f.a.checkVector(x, 1)
	w := f.workspace()
	f.gather(w.v, x)
	f.solveTransposed(w.v, w.tmp)
	f.scatter(x, w.v)
	f.work.Put(w)
}

// solve is Solve in elimination order: L·y = b forwards, U·x = y backwards.
func (f *Factor) solve(x, tmp []complex128) {
	s := f.sym
	for k := range s.n {
		xk := x[s.off[k]:s.off[k+1]]
		for t := s.ptr[k]; t < s.ptr[k+1]; t++ {
			i := s.idx[t]
			subVector(x[s.off[i]:s.off[i+1]], f.lower[s.at[t]:s.at[t+1]], xk)
		}
	}
	for k := s.n - 1; k >= 0; k-- {
		xk := x[s.off[k]:s.off[k+1]]
		for t := s.ptr[k]; t < s.ptr[k+1]; t++ {
			j := s.idx[t]
			subVector(xk, f.upper[s.at[t]:s.at[t+1]], x[s.off[j]:s.off[j+1]])
		}
		solveBlock(xk, f.diag[s.diag[k]:s.diag[k+1]], f.perm[s.off[k]:s.off[k+1]], tmp)
	}
}

// solveTransposed is SolveTransposed in elimination order: Uᵀ·y = b forwards,
// Lᵀ·x = y backwards.
func (f *Factor) solveTransposed(x, tmp []complex128) {
	s := f.sym
	for k := range s.n {
		xk := x[s.off[k]:s.off[k+1]]
		solveBlockT(xk, f.diag[s.diag[k]:s.diag[k+1]], f.perm[s.off[k]:s.off[k+1]], tmp)
		for t := s.ptr[k]; t < s.ptr[k+1]; t++ {
			j := s.idx[t]
			subVectorT(x[s.off[j]:s.off[j+1]], f.upper[s.at[t]:s.at[t+1]], xk)
		}
	}
	for k := s.n - 1; k >= 0; k-- {
		xk := x[s.off[k]:s.off[k+1]]
		for t := s.ptr[k]; t < s.ptr[k+1]; t++ {
			i := s.idx[t]
			subVectorT(xk, f.lower[s.at[t]:s.at[t+1]], x[s.off[i]:s.off[i+1]])
		}
	}
}
