package fault_test

import (
	"bufio"
	"encoding/binary"
	"errors"
	"flag"
	"fmt"
	"math/cmplx"
	"math/rand"
	"os"
	"testing"

	"feederwright/fault"
	"feederwright/network"
)

// feeder makes a network of n three-phase buses: an infeed, a Dyn1
// transformer and a random tree (70 % of buses hang on the previous one, the
// rest on one of the 20 before, 1 % anywhere), with n/100 loop-closing lines
// where loops is set, untransposed sections and charging. Ten probes stand in
// lines spread over it.
func feeder(n int, loops bool) (*network.Network, []network.Probe, error) {
	r := rand.New(rand.NewSource(int64(n)))
	var b network.Builder
	hv := b.AddBus("HV", abc, 115e3)
	lv := b.AddBus("0", abc, 12.47e3)
	if _, err := b.AddInfeed("S", hv, network.InfeedData{Z1: 0.7 + 7i, Z2: 0.7 + 7i, Z0: 1 + 9i, VLL: 115e3}); err != nil {
		return nil, nil, err
	}
	var g = network.TransformerData{VFrom: 115e3, VTo: 12.47e3, Z1: 0.04 + 0.88i, Z0: 0.04 + 0.84i, To: network.NeutralPoint{Exists: true, Earthed: true}}
	if err := g.Group.UnmarshalText([]byte("Dyn1")); err != nil {
		return nil, nil, err
	}
	if _, err := b.AddTransformer("T", hv, lv, g); err != nil {
		return nil, nil, err
	}
	section := func(from, to int) (int, error) {
		// Kersting's untransposed overhead line, ohm/mile, over a random length below half a mile; charging 6 µS/mi.
		k := complex(0.05+0.45*r.Float64(), 0)
		z := []complex128{0.4576 + 1.0780i, 0.1560 + 0.5017i, 0.1535 + 0.3849i, 0.1560 + 0.5017i, 0.4666 + 1.0482i, 0.1580 + 0.4236i, 0.1535 + 0.3849i, 0.1580 + 0.4236i, 0.4615 + 1.0651i}
		for i := range z {
			z[i] *= k
		}
		return b.AddLine(fmt.Sprintf("%d-%d", from, to), from, to, abc, z, network.BalancedMatrix(3, 6.9e-6i*k, 3.2e-6i*k))
	}
	var lines []int
	for i := 2; i < n+1; i++ {
		bus := b.AddBus(fmt.Sprint(i-1), abc, 12.47e3)
		hang := bus - 1
		switch x := r.Float64(); {
		case x < 0.01:
			hang = 1 + r.Intn(bus-1)
		case x < 0.30:
			hang = max(1, bus-1-r.Intn(20))
		}
		l, err := section(hang, bus)
		if err != nil {
			return nil, nil, err
		}
		lines = append(lines, l)
	}
	if loops {
		for i := 0; i < n/100; i++ {
			from := 1 + r.Intn(n-1)
			to := 1 + r.Intn(n-1)
			if from != to {
				if _, err := section(from, to); err != nil {
					return nil, nil, err
				}
			}
		}
	}
	net, err := b.Build()
	if err != nil {
		return nil, nil, err
	}
	var probes []network.Probe
	for i := 0; i < 10; i++ {
		probes = append(probes, net.AtTerminal(lines[i*len(lines)/10], 0))
	}
	return net, probes, nil
}

// sweepAll is the whole work after the network is built: factorise, watch ten
// vantages (currents and voltages), and every kind and phase combination at
// every bus.
func sweepAll(net *network.Network, probes []network.Probe) (faults int, largest float64, err error) {
	s, err := fault.NewSolver(net)
	if err != nil {
		return 0, 0, err
	}
	for i := range probes {
		s.WatchCurrent(&probes[i])
		s.WatchVoltage(probes[i].Bus(net))
	}
	places := make([]fault.Place, len(net.Buses))
	for i := range places {
		places[i] = fault.AtBus(i)
	}
	count := make([]int, 64)
	most := make([]float64, 64)
	err = s.Sweep(places, fault.All, 0, func(worker, place int, res *fault.Result) {
		count[worker]++
		for i := range res.Current {
			if a := cmplx.Abs(res.Current[i][0]); a > most[worker] {
				most[worker] = a
			}
		}
	})
	for i := range count {
		faults += count[i]
		largest = max(largest, most[i])
	}
	return faults, largest, err
}

func BenchmarkSweep(b *testing.B) {
	for _, loops := range []bool{false, true} {
		for _, n := range []int{1000, 5000, 20000} {
			shape := "radial"
			if loops {
				shape = "loops"
			}
			b.Run(fmt.Sprintf("%s/%d", shape, n), func(b *testing.B) {
				net, probes, err := feeder(n, loops)
				if err != nil {
					b.Fatal(err)
				}
				b.ReportAllocs()
				for b.Loop() {
					faults, _, err := sweepAll(net, probes)
					if err != nil {
						b.Fatal(err)
					}
					if faults < 11*n {
						b.Fatalf("%d faults, want at least %d", faults, 11*n)
					}
				}
			})
		}
	}
}

// BenchmarkBuild is the network's assembly: merging, search for floating
// parts, ordering, stamping.
func BenchmarkBuild(b *testing.B) {
	for b.Loop() {
		if _, _, err := feeder(20000, true); err != nil {
			b.Fatal(err)
		}
	}
}

// The sweep gives what single faults give.
func TestSweepEqualsSingleFaults(t *testing.T) {
	net, probes, err := feeder(60, true)
	if err != nil {
		t.Fatal(err)
	}
	s := must[*fault.Solver](t)(fault.NewSolver(net))
	for i := range probes {
		s.WatchCurrent(&probes[i])
		s.WatchVoltage(probes[i].Bus(net))
	}
	places := make([]fault.Place, len(net.Buses))
	for i := range places {
		places[i] = fault.AtBus(i)
	}
	seen := make([][]*fault.Result, 64)
	err = s.Sweep(places, fault.All, 5, func(worker, place int, res *fault.Result) {
		c := *res
		c.Current = append([][4]complex128(nil), res.Current...)
		c.Voltage = append([][4]complex128(nil), res.Voltage...)
		seen[worker] = append(seen[worker], &c)
	})
	if err != nil {
		t.Fatal(err)
	}
	total := 0
	for _, list := range seen {
		for _, r := range list {
			total++
			one := must[*fault.Result](t)(s.Fault(r.Place, r.Kind, 5))
			if one.I != r.I || one.V != r.V || one.Current[3] != r.Current[3] || one.Voltage[9] != r.Voltage[9] {
				t.Fatalf("%s at %d: the sweep differs from the single fault", r.Kind, r.Place.Bus)
			}
		}
	}
	if total != 11*len(net.Buses) {
		t.Errorf("%d faults, want 11 at each of %d buses", total, len(net.Buses))
	}
}

var (
	matrixFile  = flag.String("matrix", "", "write the sweep's matrix and watched rows to this file, for bench/splu")
	matrixBuses = flag.Int("matrix-buses", 20000, "buses of that network")
	matrixLoops = flag.Bool("matrix-loops", false, "close loops in that network")
)

// TestWriteMatrix writes what a sweep starts from, for the comparison in
// bench/splu: little-endian int64 counts (unknowns, entries, watched rows,
// entries of rows), then entries (int64 row, int64 column, float64 re, im),
// then the entries of the rows.
func TestWriteMatrix(t *testing.T) {
	if *matrixFile == "" {
		t.Skip("only with -matrix FILE")
	}
	net, probes, err := feeder(*matrixBuses, *matrixLoops)
	if err != nil {
		t.Fatal(err)
	}
	type entry struct {
		Row, Column int64
		Re, Im      float64
	}
	var entries, rows []entry
	for i := range net.Elements {
		e := &net.Elements[i]
		var at []int
		for _, terminal := range e.Terminals {
			for _, c := range terminal.Phases.Conductors() {
				at = append(at, net.Unknown(terminal.Bus, c))
			}
		}
		for r, u := range at {
			for c, v := range at {
				y := e.Y[r*len(at)+c]
				entries = append(entries, entry{int64(u), int64(v), real(y), imag(y)})
			}
		}
	}
	watched := 0
	for i := range probes {
		for c := 0; c < 3; c++ {
			row := make([]complex128, net.Dim())
			net.Row(&probes[i], c, row)
			for u, y := range row {
				if y != 0 {
					rows = append(rows, entry{int64(watched), int64(u), real(y), imag(y)})
				}
			}
			rows = append(rows, entry{int64(watched + 1), int64(net.Unknown(probes[i].Bus(net), c)), 1, 0})
			watched += 2
		}
	}
	file, err := os.Create(*matrixFile)
	if err != nil {
		t.Fatal(err)
	}
	w := bufio.NewWriter(file)
	for _, v := range []any{int64(net.Dim()), int64(len(entries)), int64(watched), int64(len(rows)), entries, rows} {
		if err := binary.Write(w, binary.LittleEndian, v); err != nil {
			t.Fatal(err)
		}
	}
	if err := errors.Join(w.Flush(), file.Close()); err != nil {
		t.Fatal(err)
	}
}
