package sparse

import (
	"runtime"
	"sync"
	"sync/atomic"
)

// panel is how many right-hand sides go through the factors together: each
// block is then read once for all of them. Their entries are interleaved,
// which keeps those of a block of three conductors in three cache lines.
const panel = 4

// SolveMany replaces k right-hand sides by the solutions of A·x = b. They follow
// each other in x, each of length Dim. Up to GOMAXPROCS goroutines share the
// work; the result does not depend on their number.
func (f *Factor) SolveMany(x []complex128, k int) { f.many(x, k, false) }

// SolveTransposedMany is SolveMany for Aᵀ·x = b.
func (f *Factor) SolveTransposedMany(x []complex128, k int) { f.many(x, k, true) }

func (f *Factor) many(x []complex128, k int, transposed bool) {
	f.a.checkVector(x, k)
	dim := f.a.Dim()
	panels := (k + panel - 1) / panel
	var next atomic.Int64
	work := func() {
		var w *workspace
		for {
			p := int(next.Add(1)) - 1
			if p >= panels {
				break
			}
			if w == nil {
				w = f.workspace(panel)
			}
			width := min(panel, k-p*panel)
			f.solvePanel(x[p*panel*dim:][:width*dim], width, w, transposed)
		}
		if w != nil {
			f.work.Put(w)
		}
	}
	others := min(runtime.GOMAXPROCS(0), panels) - 1
	if f.a.Dim()*panels < 2000 {
		others = 0 // not worth starting a goroutine
	}
	var wait sync.WaitGroup
	for range others {
		wait.Go(work)
	}
	work()
	wait.Wait()
}

// solvePanel solves for the first width columns of a panel; the rest are zero.
func (f *Factor) solvePanel(x []complex128, width int, w *workspace, transposed bool) {
	dim := f.a.Dim()
	v := w.v[:dim*panel]
	if width < panel {
		clear(v)
	}
	for c := range width {
		column := x[c*dim : (c+1)*dim]
		for i, size := range f.a.size {
			at, off := int(f.at[i])*panel+c, f.a.offset[i]
			for r, b := range column[off : off+size] {
				v[at+r*panel] = b
			}
		}
	}
	if transposed {
		f.panelTransposed(v, w.tmp)
	} else {
		f.panelForward(v, w.tmp)
	}
	for c := range width {
		column := x[c*dim : (c+1)*dim]
		for i, size := range f.a.size {
			at, off := int(f.at[i])*panel+c, f.a.offset[i]
			for r := range column[off : off+size] {
				column[int(off)+r] = v[at+r*panel]
			}
		}
	}
}

func (f *Factor) panelForward(x, tmp []complex128) {
	s := f.sym
	at := func(k int32) []complex128 { return x[s.off[k]*panel : s.off[k+1]*panel] }
	for k := range int32(s.n) {
		xk := at(k)
		for t := s.ptr[k]; t < s.ptr[k+1]; t++ {
			subPanel(at(s.idx[t]), f.lower[s.at[t]:s.at[t+1]], xk)
		}
	}
	for k := int32(s.n) - 1; k >= 0; k-- {
		xk := at(k)
		for t := s.ptr[k]; t < s.ptr[k+1]; t++ {
			subPanel(xk, f.upper[s.at[t]:s.at[t+1]], at(s.idx[t]))
		}
		panelBlock(xk, f.diag[s.diag[k]:s.diag[k+1]], f.perm[s.off[k]:s.off[k+1]], tmp)
	}
}

func (f *Factor) panelTransposed(x, tmp []complex128) {
	s := f.sym
	at := func(k int32) []complex128 { return x[s.off[k]*panel : s.off[k+1]*panel] }
	for k := range int32(s.n) {
		xk := at(k)
		panelBlockT(xk, f.diag[s.diag[k]:s.diag[k+1]], f.perm[s.off[k]:s.off[k+1]], tmp)
		for t := s.ptr[k]; t < s.ptr[k+1]; t++ {
			subPanelT(at(s.idx[t]), f.upper[s.at[t]:s.at[t+1]], xk)
		}
	}
	for k := int32(s.n) - 1; k >= 0; k-- {
		xk := at(k)
		for t := s.ptr[k]; t < s.ptr[k+1]; t++ {
			subPanelT(xk, f.lower[s.at[t]:s.at[t+1]], at(s.idx[t]))
		}
	}
}

// subPanel subtracts a·x from y, where x and y are panels: entry r of column c
// is at r·panel+c.
func subPanel(y, a, x []complex128) {
	if len(y) == 3*panel && len(x) == 3*panel {
		y, a, x := (*[3 * panel]complex128)(y), (*[9]complex128)(a), (*[3 * panel]complex128)(x)
		for c := range panel {
			x0, x1, x2 := x[c], x[panel+c], x[2*panel+c]
			y[c] -= a[0]*x0 + a[1]*x1 + a[2]*x2
			y[panel+c] -= a[3]*x0 + a[4]*x1 + a[5]*x2
			y[2*panel+c] -= a[6]*x0 + a[7]*x1 + a[8]*x2
		}
		return
	}
	n := len(x) / panel
	for r := range len(y) / panel {
		yr, ar := (*[panel]complex128)(y[r*panel:]), a[r*n:r*n+n]
		for c := range yr {
			sum := complex128(0)
			for l, v := range ar {
				sum += v * x[l*panel+c]
			}
			yr[c] -= sum
		}
	}
}

// subPanelT subtracts aᵀ·x from y.
func subPanelT(y, a, x []complex128) {
	if len(y) == 3*panel && len(x) == 3*panel {
		y, a, x := (*[3 * panel]complex128)(y), (*[9]complex128)(a), (*[3 * panel]complex128)(x)
		for c := range panel {
			x0, x1, x2 := x[c], x[panel+c], x[2*panel+c]
			y[c] -= a[0]*x0 + a[3]*x1 + a[6]*x2
			y[panel+c] -= a[1]*x0 + a[4]*x1 + a[7]*x2
			y[2*panel+c] -= a[2]*x0 + a[5]*x1 + a[8]*x2
		}
		return
	}
	n := len(y) / panel
	for r := range n {
		yr := (*[panel]complex128)(y[r*panel:])
		for c := range yr {
			sum := complex128(0)
			for l := range len(x) / panel {
				sum += a[l*n+r] * x[l*panel+c]
			}
			yr[c] -= sum
		}
	}
}

// panelBlock is solveBlock for each column of a panel, panelBlockT solveBlockT.
func panelBlock(x, f []complex128, perm []int32, tmp []complex128) {
	eachColumn(x, len(perm), tmp, func(col, tmp []complex128) { solveBlock(col, f, perm, tmp) })
}

func panelBlockT(x, f []complex128, perm []int32, tmp []complex128) {
	eachColumn(x, len(perm), tmp, func(col, tmp []complex128) { solveBlockT(col, f, perm, tmp) })
}

func eachColumn(x []complex128, n int, tmp []complex128, do func(col, tmp []complex128)) {
	col, tmp := tmp[:n], tmp[n:2*n]
	for c := range panel {
		for r := range col {
			col[r] = x[r*panel+c]
		}
		do(col, tmp)
		for r, v := range col {
			x[r*panel+c] = v
		}
	}
}
