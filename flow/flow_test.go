package flow

import (
	"math"
	"math/cmplx"
	"testing"

	"feederwright/network"
	"feederwright/quantity"
)

const abc = quantity.PhasesABC

// stiff is a source of which nothing drops: a nano-ohm.
func stiff(vll float64) network.InfeedData {
	return network.InfeedData{Z1: 1e-9i, Z2: 1e-9i, Z0: 1e-9i, VLL: vll}
}

func keep(t testing.TB, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

// twoBus is a source, a line of z ohm in each phase and a load s at 1 kV.
func twoBus(t testing.TB, z, s complex128) *network.Network {
	var b network.Builder
	one, two := b.AddBus("1", abc, 1e3), b.AddBus("2", abc, 1e3)
	_, err := b.AddInfeed("G", one, stiff(1e3))
	keep(t, err)
	_, err = b.AddLine("L", one, two, abc, network.BalancedMatrix(3, z, z), nil)
	keep(t, err)
	_, err = b.AddDemand("D", two, abc, network.LoadBranches(network.EarthedWye, abc, s, 1e3, 1e3/math.Sqrt(3), network.ConstantPower))
	keep(t, err)
	net, err := b.Build()
	keep(t, err)
	return net
}

// On a base of 1 kV and 1 MVA an impedance in ohm is in per unit.
func TestTwoBusClosedForm(t *testing.T) {
	const source = "closed form V2² = −A + √(A² − Z²S²), A = RP + XQ − V1²/2, derived; LF-0"
	for _, newton := range []bool{false, true} {
		s, err := Solve(twoBus(t, 0.02+0.08i, 1e6*(0.8+0.4i)), Options{NewtonOnly: newton})
		keep(t, err)
		if !s.Converged {
			t.Fatalf("not converged (%+v)", s)
		}
		a := 0.02*0.8 + 0.08*0.4 - 0.5
		want := math.Sqrt(-a + math.Sqrt(a*a-(0.02*0.02+0.08*0.08)*(0.8*0.8+0.4*0.4)))
		got := cmplx.Abs(s.Voltage(1, 0)) / (1e3 / math.Sqrt(3))
		if !(math.Abs(got-want) <= 1e-8) { // the source's nano-ohm, and the stop rule's 1e-9
			t.Errorf("V2 = %.10f, want %.10f (derived: %s)", got, want, source)
		}
		t.Logf("newton %v: %d rounds, %d of Newton's", newton, s.Rounds, s.Newton)
	}
}
