package fault

import (
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"feederwright/network"
)

// solarFeeder is an infeed, a line of 2 ohm, and an inverter at its end.
func solarFeeder(t *testing.T, d network.InverterData) *Solver {
	t.Helper()
	var b network.Builder
	src, end := b.AddBus("S", 7, 12470), b.AddBus("E", 7, 12470)
	must := func(_ int, err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	must(b.AddInfeed("grid", src, network.InfeedData{Z1: 0.1 + 1i, Z2: 0.1 + 1i, Z0: 0.1 + 1.2i, VLL: 12470}))
	must(b.AddLine("L", src, end, 7, network.BalancedMatrix(3, 0.6+1.9i, 1.5+5i), nil))
	must(b.AddInverter("PV", end, d))
	n, err := b.Build()
	if err != nil {
		t.Fatal(err)
	}
	s, err := NewSolver(n)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// A bolted three-phase fault at the inverter's bus leaves it no voltage: its
// current is the limit, at the angle of before, and adds to the grid's own.
//
// Expected values: derived by hand.
func TestInverterIntoABoltedFault(t *testing.T) {
	d := network.InverterData{Rated: 12470, Power: 2e6, Limit: 1.2, Response: network.ReactiveCurrent, Threshold: 0.9}
	s := solarFeeder(t, d)
	res, err := s.Fault(AtBus(1), Kind{ThreePhase, 7}, 0)
	if err != nil {
		t.Fatal(err)
	}
	if res.Unsettled != 0 {
		t.Fatalf("not settled: %g after %d rounds", res.Unsettled, res.Rounds)
	}
	rated := 2e6 / (math.Sqrt(3) * 12470)
	grid := complex(12470/math.Sqrt(3), 0) / (0.7 + 2.9i)
	want := grid + complex(0, -1.2*rated) // lagging the voltage of before by 90°
	if cmplx.Abs(res.I[0]-want) > 1e-6*cmplx.Abs(want) {
		t.Errorf("fault current %v, want %v", res.I[0], want)
	}
	if got := cmplx.Abs(res.Sources[0].I[1]); math.Abs(got-1.2*rated) > 1e-6*rated {
		t.Errorf("the inverter gives %g A, want %g", got, 1.2*rated)
	}
}

// In the state that the iteration stops at, the control's current at the
// voltage found is the current it was found with: by the network's own
// equations, for every response and kind of fault.
//
// Expected: a law of the model.
func TestInverterStateAgrees(t *testing.T) {
	for _, response := range []network.FaultResponse{network.ActiveCurrent, network.ReactiveCurrent, network.SupportCurrent} {
		for _, gain2 := range []float64{0, 2} {
			d := network.InverterData{Rated: 12470, Power: 2e6, Output: 1.5e6 + 0.2e6i, Limit: 1.1, Response: response, Threshold: 0.9, Gain: 2, Gain2: gain2, Ceases: 0.1}
			s := solarFeeder(t, d)
			if s.UnsettledBefore() != 0 {
				t.Fatal("the state before the fault has not settled")
			}
			current := s.WatchCurrent(probe(s.Net.AtTerminal(0, 0)))
			voltage := s.WatchVoltage(1)
			for _, kind := range All(7) {
				for _, r := range []float64{0, 5, 40} {
					for _, place := range []Place{AtBus(0), AtBus(1), OnLine(1, 0.4)} {
						res, err := s.Fault(place, kind, r)
						if err != nil {
							t.Fatal(err)
						}
						if res.Unsettled != 0 {
							t.Errorf("%s %s %g ohm: %g after %d rounds", response, kind, r, res.Unsettled, res.Rounds)
							continue
						}
						state, _ := s.State(res)
						var v [3]complex128
						for c := range v {
							v[c] = state[s.Net.Unknown(1, c)]
							if cmplx.Abs(v[c]-res.Voltage[voltage][c]) > 1e-4 {
								t.Fatalf("watched voltage %v, in the state %v", res.Voltage[voltage][c], v[c])
							}
						}
						_, v1, v2 := s.Net.Rotation.Sequence(v)
						i1, i2 := d.Current(v1, v2, s.controls[0].memory)
						want := s.Net.Rotation.Phases(0, i1, i2)
						for c := range want {
							if cmplx.Abs(want[c]-res.Sources[0].I[c]) > 1e-6*d.RatedCurrent() {
								t.Fatalf("%s %s %g ohm at %v: gives %v, its control says %v", response, kind, r, place, res.Sources[0].I, want)
							}
							if cmplx.Abs(res.Sources[0].I[c]) > 1.1*d.RatedCurrent()*(1+1e-6) {
								t.Errorf("above its limit: %v", res.Sources[0].I)
							}
							// Kirchhoff at the whole: grid and inverter feed the fault.
							sum := -res.Current[current][c] + res.Sources[0].I[c]
							if cmplx.Abs(sum-res.I[c]) > 1e-4 {
								t.Fatalf("currents of %s: grid %v, inverter %v, fault %v", kind, -res.Current[current][c], res.Sources[0].I[c], res.I[c])
							}
						}
						// The same fault as one of several things at once.
						together, err := s.Compound([]Part{{Place: place, Kind: kind, Resistance: r, Element: -1, Terminal: -1}})
						if err != nil {
							t.Fatal(err)
						}
						for c := range want {
							if cmplx.Abs(together.I[c]-res.I[c]) > 1e-5*res.Scale() {
								t.Fatalf("compound %v, alone %v", together.I, res.I)
							}
						}
					}
				}
			}
		}
	}
}

func probe(p network.Probe) *network.Probe { return &p }

// A control that jumps to full reactive current below a threshold, and by this
// lifts its own voltage above it, has no consistent state: that is told.
func TestInverterWithoutAConsistentState(t *testing.T) {
	d := network.InverterData{Rated: 12470, Power: 60e6, Limit: 1.2, Response: network.ReactiveCurrent, Threshold: 0.9}
	s := solarFeeder(t, d)
	found := false
	for r := 1.0; r < 60; r += 1 {
		res, err := s.Fault(AtBus(1), Kind{ThreePhase, 7}, r)
		if err != nil {
			t.Fatal(err)
		}
		found = found || res.Unsettled > 0.01
	}
	if !found {
		t.Error("no fault resistance leaves the inverter without a consistent state")
	}
}

// An inverter whose current has no way back is refused, not answered wrongly.
func TestInverterWithoutAWayBack(t *testing.T) {
	for _, equal := range []bool{true, false} {
		var b network.Builder
		src, end := b.AddBus("S", 7, 12470), b.AddBus("E", 7, 12470)
		if _, err := b.AddInfeed("grid", src, network.InfeedData{Z1: 0.1 + 1i, Z2: 0.1 + 1i, Open: true, VLL: 12470}); err != nil {
			t.Fatal(err)
		}
		ratio := []float64{1.066, 0.949, 1.038}
		if equal {
			ratio = []float64{1.05, 1.05, 1.05}
		}
		if _, err := b.AddRegulator("R", src, end, 7, network.RegulatorData{Connection: network.RegulatorWye, Ratio: ratio, Z: 0.01 + 0.1i}); err != nil {
			t.Fatal(err)
		}
		if _, err := b.AddInverter("PV", end, network.InverterData{Rated: 12470, Power: 2e6, Output: 1e6, Limit: 1.2, Response: network.ActiveCurrent, Threshold: 0.9}); err != nil {
			t.Fatal(err)
		}
		n, err := b.Build()
		if err != nil {
			t.Fatal(err)
		}
		_, err = NewSolver(n)
		if equal && err != nil || !equal && (err == nil || !strings.Contains(err.Error(), "magnetising")) {
			t.Errorf("equal ratios %v: %v", equal, err)
		}
	}
}
