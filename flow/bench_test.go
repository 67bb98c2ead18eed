package flow

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"feederwright/network"
	"feederwright/quantity"
)

// feeders is a station with several three-phase feeders of n buses together,
// untransposed lines, a load at every third bus, some between phases and some
// on one phase; with loops, one tie in a hundred buses is closed.
func feeders(t testing.TB, n int, loops bool) *network.Network {
	random := rand.New(rand.NewPCG(7, 11))
	const vll = 12.47e3
	var b network.Builder
	station := b.AddBus("S", abc, vll)
	_, err := b.AddInfeed("G", station, network.InfeedData{Z1: 0.02 + 0.15i, Z2: 0.02 + 0.15i, Z0: 0.02 + 0.12i, VLL: vll})
	keep(t, err)
	z := []complex128{0.2843 + 0.6699i, 0.0969 + 0.3117i, 0.0954 + 0.2392i, 0.0969 + 0.3117i, 0.2899 + 0.6513i, 0.0982 + 0.2632i, 0.0954 + 0.2392i, 0.0982 + 0.2632i, 0.2868 + 0.6618i} // ohm/km
	scaled := func(km float64) []complex128 {
		out := make([]complex128, 9)
		for i := range z {
			out[i] = z[i] * complex(km, 0)
		}
		return out
	}
	const perFeeder = 500
	line := 0
	join := func(a, c int) {
		_, err := b.AddLine(fmt.Sprint("L", line), a, c, abc, scaled(0.06), nil)
		keep(t, err)
		line++
	}
	power := 6e6 / (perFeeder / 3) // of each load, VA
	for made := 1; made < n; {
		from := station
		var mine []int
		for range min(perFeeder, n-made) {
			bus := b.AddBus(fmt.Sprint("B", made), abc, vll)
			join(from, bus)
			mine = append(mine, bus)
			if made%3 == 0 {
				phases, c := abc, network.EarthedWye
				s := complex(power*0.95, power*0.31)
				switch made % 9 {
				case 0:
					phases, s = quantity.Phases(1<<(made/9%3)), s/3
				case 3:
					c = network.Delta
				}
				_, err := b.AddDemand(fmt.Sprint("D", made), bus, phases, network.LoadBranches(c, phases, s, vll, vll/math.Sqrt(3), network.ConstantPower))
				keep(t, err)
			}
			made++
			// A trunk with laterals: mostly go on, sometimes branch off from a bus near the station.
			from = bus
			if random.IntN(25) == 0 {
				from = mine[random.IntN(len(mine))]
			}
		}
	}
	if loops {
		for k := 100; k < n; k += 100 {
			join(1+random.IntN(n-2), k)
		}
	}
	net, err := b.Build()
	keep(t, err)
	return net
}

func BenchmarkSolve(b *testing.B) {
	for _, n := range []int{1000, 5000, 20000} {
		for _, loops := range []bool{false, true} {
			name := "radial"
			if loops {
				name = "loops"
			}
			net := feeders(b, n, loops)
			for _, newton := range []bool{false, true} {
				way := ""
				if newton {
					way = "/newton"
				}
				b.Run(fmt.Sprintf("%d/%s%s", n, name, way), func(b *testing.B) {
					var s *Solution
					for range b.N {
						var err error
						s, err = Solve(net, Options{NewtonOnly: newton, NoSearch: true})
						keep(b, err)
						if !s.Converged {
							b.Fatal("no state")
						}
					}
					b.ReportMetric(float64(s.Rounds), "rounds")
					b.ReportMetric(float64(s.Newton), "newton-rounds")
				})
			}
		}
	}
}

// The benchmark's networks have a state that is one of service.
func TestBenchmarkNetworks(t *testing.T) {
	for _, loops := range []bool{false, true} {
		net := feeders(t, 1000, loops)
		s, err := Solve(net, Options{})
		keep(t, err)
		if !s.Converged {
			t.Fatalf("no state: %s", s.Trouble.Cause(net, func(c int) string { return "ABC"[c : c+1] }))
		}
		low := math.Inf(1)
		for bus := range net.Buses {
			for k := range 3 {
				low = math.Min(low, magnitude(s.Voltage(bus, k))/(12.47e3/math.Sqrt(3)))
			}
		}
		if low < 0.8 || low > 0.99 {
			t.Errorf("lowest voltage %.3f of nominal: these loads show nothing", low)
		}
	}
}
