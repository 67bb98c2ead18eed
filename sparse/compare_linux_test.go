package sparse

import (
	"bufio"
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"syscall"
	"testing"
	"time"
	"unsafe"
)

var compare = flag.String("compare", "", "directory for the networks of the comparison with KLU, see bench/README.md")

// TestCompare writes each benchmark network as the scalar matrix A that a
// general solver reads, with a right-hand side b and our solution x, for
// bench/klu.c to solve and to compare; and it prints our times beside.
//
// Times are the best of 20, in processor time of the thread, which other work on
// the machine disturbs less than the clock.
func TestCompare(t *testing.T) {
	if *compare == "" {
		t.Skip("no -compare directory given")
	}
	runtime.LockOSThread()
	defer runtime.UnlockOSThread()
	for _, n := range networks {
		m := mostlyRadial(n.nodes, n.reach)
		f, err := m.Factor()
		if err != nil {
			t.Fatal(err)
		}
		a := m.a
		r := rand.New(rand.NewPCG(seed, 99))
		b := make([]complex128, a.Dim())
		for i := range b {
			b[i] = gauss(r)
		}
		x := make([]complex128, len(b))
		q := f.SolveRefined(m, b, x)
		name := nameOf(n.nodes, n.reach)
		writeSystem(t, filepath.Join(*compare, name), m, b, x)

		const k = 60
		size, edges := edgesOf(a)
		y := make([]complex128, k*len(x))
		many := func() {
			for c := range k {
				copy(y[c*len(x):], b)
			}
			f.SolveMany(y, k)
		}
		runtime.GC()
		t.Logf("%s: analyse %.3f, factor %.3f, refactor %.3f, solve %.3f, inverse %.3f ms; residual %.2g, condition about %.2g",
			name,
			best(t, func() { _, err = Analyse(size, edges) }),
			best(t, func() { _, err = m.Factor() }),
			best(t, func() { err = f.Refactor(m) }),
			best(t, func() { f.Solve(y[:len(x)]) }),
			best(t, func() { f.Inverse() }),
			q.Residual, f.Condition(m))
		all := runtime.GOMAXPROCS(1)
		one := best(t, many)
		runtime.GOMAXPROCS(all)
		clock := math.Inf(1)
		for range 20 {
			start := time.Now()
			many()
			clock = min(clock, time.Since(start).Seconds()*1e3)
		}
		t.Logf("%s: %d right-hand sides on one processor %.3f ms, on %d %.3f ms by the clock", name, k, one, all, clock)
		if err != nil {
			t.Error(err)
		}
	}
}

// best returns the least processor time of 20 calls, in ms.
func best(t *testing.T, do func()) float64 {
	const threadTime = 3 // CLOCK_THREAD_CPUTIME_ID, clock_gettime(2)
	now := func() float64 {
		var ts syscall.Timespec
		if _, _, e := syscall.Syscall(syscall.SYS_CLOCK_GETTIME, threadTime, uintptr(unsafe.Pointer(&ts)), 0); e != 0 {
			t.Fatal(e)
		}
		return float64(ts.Nano()) / 1e6
	}
	least := math.Inf(1)
	for range 20 {
		start := now()
		do()
		least = min(least, now()-start)
	}
	return least
}

// writeSystem writes stem.A.mtx, stem.b.mtx and stem.x.mtx in the Matrix Market
// exchange format (R. Boisvert, R. Pozo, K. Remington, NISTIR 5935, 1996 [from
// memory]).
func writeSystem(t *testing.T, stem string, m *Matrix, b, x []complex128) {
	t.Helper()
	write := func(part string, fill func(w *bufio.Writer)) {
		file, err := os.Create(stem + "." + part + ".mtx")
		if err != nil {
			t.Fatal(err)
		}
		w := bufio.NewWriter(file)
		fill(w)
		if err := w.Flush(); err != nil {
			t.Fatal(err)
		}
		if err := file.Close(); err != nil {
			t.Fatal(err)
		}
	}
	vector := func(v []complex128) func(w *bufio.Writer) {
		return func(w *bufio.Writer) {
			fmt.Fprintf(w, "%%%%MatrixMarket matrix array complex general\n%d 1\n", len(v))
			for _, e := range v {
				fmt.Fprintf(w, "%.17g %.17g\n", real(e), imag(e))
			}
		}
	}
	write("A", func(w *bufio.Writer) {
		a := m.a
		blocks, _ := a.Blocks()
		fmt.Fprintf(w, "%%%%MatrixMarket matrix coordinate complex general\n%d %d %d\n", a.Dim(), a.Dim(), 9*(a.Nodes()+2*blocks))
		put := func(i, j int32) {
			for e, v := range m.block(int(i), int(j)) {
				fmt.Fprintf(w, "%d %d %.17g %.17g\n", a.Offset(int(i))+e/3+1, a.Offset(int(j))+e%3+1, real(v), imag(v))
			}
		}
		for i := range int32(a.Nodes()) {
			put(i, i)
		}
		_, edges := edgesOf(a)
		for _, e := range edges {
			put(e[0], e[1])
			put(e[1], e[0])
		}
	})
	write("b", vector(b))
	write("x", vector(x))
}
