package fault_test

import (
	"fmt"
	"math/rand"
	"testing"

	"feederwright/fault"
	"feederwright/network"
	"feederwright/quantity"
)

// everything makes a network of about n buses with all kinds of plant: a
// three-winding unit, a reactor and a tree of sections, of which a fifth have
// a neutral conductor earthed at each bus and a fifth one phase; regulators,
// transformers with motors, hydro plants, inverters, open-delta banks and services with
// their middle brought out. Ten probes stand in sections spread over it.
func everything(n int) (*network.Network, []network.Probe, error) {
	r := rand.New(rand.NewSource(int64(n)))
	var b network.Builder
	var failed error
	ok := func(i int, err error) int {
		if failed == nil && err != nil {
			failed = err
		}
		return i
	}
	hv, mv, tertiary, head := b.AddBus("HV", abc, 69e3), b.AddBus("MV", abc, 12.47e3), b.AddBus("T", abc, 4.16e3), b.AddBus("0", abc, 12.47e3)
	ok(b.AddInfeed("S", hv, network.InfeedData{Z1: 0.6 + 5i, Z2: 0.6 + 5i, Z0: 0.9 + 7i, VLL: 69e3}))
	y, d := quantity.Winding{Kind: 'Y', Neutral: true}, quantity.Winding{Kind: 'D'}
	solid := network.NeutralPoint{Exists: true, Earthed: true}
	ok(b.AddThreeWinding("T3", [3]int{hv, mv, tertiary}, network.ThreeWindingData{Winding: [3]quantity.Winding{y, y, d}, Lag: [3]int{0, 0, 1},
		V: [3]float64{69e3, 12.47e3, 4.16e3}, Z1: [3]complex128{1 + 22i, 2 + 40i, 1 + 15i}, Z0: [3]complex128{1 + 20i, 2 + 38i, 1 + 14i},
		Point: [3]network.NeutralPoint{solid, solid, {}}}))
	ok(b.AddReactor("X", mv, head, abc, 0.002+0.1i))
	z3 := []complex128{0.4576 + 1.0780i, 0.1560 + 0.5017i, 0.1535 + 0.3849i, 0.1560 + 0.5017i, 0.4666 + 1.0482i, 0.1580 + 0.4236i, 0.1535 + 0.3849i, 0.1580 + 0.4236i, 0.4615 + 1.0651i}
	z4 := make([]complex128, 16)
	for i := range z4 {
		z4[i] = 0.0953 + 0.74i
		if i/4 == i%4 {
			z4[i] = 0.40 + 1.42i
		}
	}
	const abcn = quantity.Phases(15)
	trunk := []int{head} // buses with the three phases
	kinds := map[int]quantity.Phases{head: abc}
	var lines []int
	count := 0
	bus := func(phases quantity.Phases, u float64) int {
		count++
		i := b.AddBus(fmt.Sprint(count), phases, u)
		kinds[i] = phases
		return i
	}
	for count < n {
		hang := trunk[max(0, len(trunk)-1-r.Intn(20))]
		k := complex(0.05+0.45*r.Float64(), 0)
		scaled := func(z []complex128) []complex128 {
			out := make([]complex128, len(z))
			for i := range z {
				out[i] = z[i] * k
			}
			return out
		}
		name := fmt.Sprint("L", count)
		switch x := r.Float64(); {
		case x < 0.18: // four wires, or three phases where the neutral does not go on
			to := bus(abcn, 12.47e3)
			phases, z := abc, scaled(z3)
			if kinds[hang] == abcn {
				phases, z = abcn, scaled(z4)
			}
			lines = append(lines, ok(b.AddLine(name, hang, to, phases, z, nil)))
			ok(b.AddShunt(network.Earthing, name, to, quantity.PhaseN, []complex128{1. / 25}))
			trunk = append(trunk, to)
		case x < 0.36: // a lateral of one phase
			to := bus(1<<r.Intn(3), 12.47e3)
			ok(b.AddLine(name, hang, to, kinds[to], []complex128{k * (1.4 + 1.4i)}, nil))
			if r.Float64() < 0.5 {
				service := bus(0b1011, 240)
				ok(b.AddBank("B"+name, to, service, network.BankData{From: solid, To: network.NeutralPoint{Exists: true, Earthed: true, Z: 15},
					Units: []network.Unit{{Name: "1", Primary: [2]int{kinds[to].Conductors()[0], network.Star}, Secondary: []int{0, 3, 1},
						VPrimary: 7200, VSecondary: 240, Z: 0.025 + 0.034i, ZHalf: 0.0094 + 0.0102i}}}))
			}
		case x < 0.40:
			to := bus(abc, 480)
			ok(b.AddTransformer("D"+name, hang, to, network.TransformerData{Group: quantity.VectorGroup{From: d, To: y, Clock: 1},
				VFrom: 12470, VTo: 480, Z1: 0.002 + 0.011i, Z0: 0.002 + 0.010i, To: solid}))
			if r.Float64() < 0.3 {
				ok(b.AddMachine(network.InductionMachine, "M"+name, to, network.MachineData{Z1: 0.01 + 0.07i, Z2: 0.012 + 0.065i}))
			}
		case x < 0.41:
			to := bus(abc, 480)
			ok(b.AddBank("O"+name, hang, to, network.BankData{From: solid, Units: []network.Unit{
				{Name: "A", Primary: [2]int{0, network.Star}, Secondary: []int{0, 1}, VPrimary: 7200, VSecondary: 480, Z: 0.04 + 0.07i},
				{Name: "B", Primary: [2]int{1, network.Star}, Secondary: []int{1, 2}, VPrimary: 7200, VSecondary: 480, Z: 0.04 + 0.07i}}}))
		case x < 0.415:
			to := bus(abc, 12.47e3)
			ok(b.AddRegulator("V"+name, hang, to, abc, network.RegulatorData{Connection: network.RegulatorWye, Ratio: []float64{1.02, 1.03, 1.01}, Z: 0.05 + 0.2i}))
			trunk = append(trunk, to)
		default:
			to := bus(abc, 12.47e3)
			lines = append(lines, ok(b.AddLine(name, hang, to, abc, scaled(z3), network.BalancedMatrix(3, 6.9e-6i*k, 3.2e-6i*k))))
			trunk = append(trunk, to)
		}
	}
	for i := range 3 {
		ok(b.AddMachine(network.SynchronousMachine, fmt.Sprint("G", i), trunk[(i+1)*len(trunk)/5], network.MachineData{Z1: 0.5 + 15i, Z2: 0.5 + 17i, Z0: 0.5 + 6i,
			Neutral: network.NeutralPoint{Exists: true, Earthed: true, Z: 30}}))
	}
	for i := range 3 {
		ok(b.AddInverter(fmt.Sprint("PV", i), trunk[(i+1)*len(trunk)/4], network.InverterData{Rated: 12470, Power: 0.5e6, Output: 0.4e6, Limit: 1.2,
			Response: network.SupportCurrent, Threshold: 0.9, Gain: 2, Ceases: 0.2}))
	}
	if failed != nil {
		return nil, nil, failed
	}
	net, err := b.Build()
	if err != nil {
		return nil, nil, err
	}
	var probes []network.Probe
	for i := range 10 {
		probes = append(probes, net.AtTerminal(lines[i*len(lines)/10], 0))
	}
	return net, probes, nil
}

// BenchmarkEverything is the work of BenchmarkSweep on a network with all
// kinds of plant.
func BenchmarkEverything(b *testing.B) {
	for _, n := range []int{1000, 5000} {
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			net, probes, err := everything(n)
			if err != nil {
				b.Fatal(err)
			}
			b.ReportAllocs()
			total := 0
			for b.Loop() {
				faults, _, err := sweepAll(net, probes)
				if err != nil {
					b.Fatal(err)
				}
				total = faults
			}
			b.ReportMetric(float64(total), "faults")
			b.ReportMetric(float64(total)*float64(b.N)/b.Elapsed().Seconds(), "faults/s")
		})
	}
}

// In the network of the benchmark every fault settles, and the sweep gives
// what the state solved by itself gives.
func TestEverythingSettles(t *testing.T) {
	net, probes, err := everything(300)
	if err != nil {
		t.Fatal(err)
	}
	s := must[*fault.Solver](t)(fault.NewSolver(net))
	for i := range probes {
		s.WatchCurrent(&probes[i])
		s.WatchVoltage(probes[i].Bus(net))
	}
	for bus := range net.Buses {
		th, err := s.At(fault.AtBus(bus))
		if err != nil {
			t.Fatalf("bus %s: %v", net.Buses[bus].Name, err)
		}
		for _, k := range fault.All(th.Phases) {
			res := must[*fault.Result](t)(s.Fault(fault.AtBus(bus), k, 1))
			if res.Unsettled > 0 {
				t.Errorf("%s at bus %s: not settled, %g", k, net.Buses[bus].Name, res.Unsettled)
			}
			v, _ := s.State(res)
			for i := range probes {
				for c := range 3 {
					want := net.Current(&probes[i], c, v)
					if d := want - res.Current[i][c]; real(d)*real(d)+imag(d)*imag(d) > 1e-12*(1+res.Scale()*res.Scale()) {
						t.Fatalf("%s at bus %s: probe %d carries %v, by the state %v", k, net.Buses[bus].Name, i, res.Current[i][c], want)
					}
				}
			}
		}
	}
}
