package sparse

import (
	"runtime"
	"sync"
	"sync/atomic"
)

// SolveMany replaces k right-hand sides by the solutions of A·x = b. They follow
// each other in x, each of length Dim. Up to GOMAXPROCS goroutines take one
// after the other; each solution has the same bits as one by Solve.
//
// Taking several right-hand sides through the factors together, entries
// interleaved, was measured and is no faster: the arithmetic of the blocks, not
// the reading of them, takes the time.
func (f *Factor) SolveMany(x []complex128, k int) { f.many(x, k, f.Solve) }

// SolveTransposedMany is SolveMany for Aᵀ·x = b.
func (f *Factor) SolveTransposedMany(x []complex128, k int) { f.many(x, k, f.SolveTransposed) }

func (f *Factor) many(x []complex128, k int, solve func(x []complex128)) {
	f.a.checkVector(x, k)
	dim := f.a.Dim()
	var next atomic.Int64
	work := func() {
		for {
			c := int(next.Add(1)) - 1
			if c >= k {
				return
			}
			solve(x[c*dim : (c+1)*dim])
		}
	}
	var wait sync.WaitGroup
	if len(x) > 2000 { // a smaller job is done before a goroutine has started
		for range min(runtime.GOMAXPROCS(0), k) - 1 {
			wait.Go(work)
		}
	}
	work()
	wait.Wait()
}
