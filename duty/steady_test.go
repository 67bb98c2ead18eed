package duty

import (
	"math"
	"math/cmplx"
	"strings"
	"testing"
)

const oneGenerator = `
feederwright: 1
study: generator
frequency: 50 Hz
practice: iec
supply: { Q: { at: Q, maximum: { three-phase: 5 kA, x/r: 10, z0: open } } }
buses: { Q: { voltage: 11 kV }, G: { voltage: 11 kV }, W: { voltage: 11 kV } }
lines: { L: { from: G, to: W, z1: 0.2 + j0.4 ohm, z0: 0.6 + j1.2 ohm } }
synchronous machines: { G: { at: G, rating: 10 MVA, subtransient: 15 %, synchronous: 180 %, EXCITATION pf: 0.8 lag, x/r: 30, neutral: open } }
switches: { TIE: { from: Q, to: G, OPEN } }
`

func generatorCase(t *testing.T, excitation, open string, change func(*Method)) *Case {
	t.Helper()
	return openCase(t, strings.NewReplacer("EXCITATION", excitation, ", OPEN", open).Replace(oneGenerator), change)
}

// The steady current of a generator by its ceiling: rated-load phasors by hand (derived), and never more than without.
func TestSteadyByCeiling(t *testing.T) {
	rated := 10e6 / (math.Sqrt(3) * 11e3)
	c := generatorCase(t, "excitation ceiling: 1.6,", ", normally: open", nil)
	zr := complex(0, 121.0/10)
	// Behind xd at rated load, from V + jxd·I with I of 0.8 lagging.
	e := cmplx.Abs(1 + 1.8i*complex(0.8, -0.6))
	if got := CeilingVoltage(1.6, 1.8, 0.8); math.Abs(got-1.6*e) > 1e-12 {
		t.Errorf("voltage at the ceiling %.6f, want %.6f", got, 1.6*e)
	}
	for _, w := range []struct {
		bus string
		z   complex128
	}{{"G", 0}, {"W", 0.2 + 0.4i}} {
		x := threePhase(t, c, w.bus)
		r := complex(real(zr)+0.15*12.1/30, 0)
		want := 1.6 * e * 11e3 / math.Sqrt(3) / cmplx.Abs(r+1.8*zr+w.z)
		if math.Abs(x.Steady-want) > 1e-6*want || x.Steady >= x.Initial {
			t.Errorf("at %s Ik is %.2f A (%s), want %.2f, below %.2f", w.bus, x.Steady, x.How, want, x.Initial)
		}
	}
	// Without the ceiling the current counts as it begins: the standard's rule for networks.
	if x := threePhase(t, generatorCase(t, "", ", normally: open", nil), "G"); x.Steady != x.Initial {
		t.Errorf("Ik is %.2f of %.2f A", x.Steady, x.Initial)
	}
	// Beside an infeed both sum: by currents in parallel (derived).
	x := threePhase(t, generatorCase(t, "excitation ceiling: 1.6,", "", nil), "Q")
	if sum := 5e3 + 1.6*e*rated/1.8; math.Abs(x.Steady-sum) > 1e-3*sum {
		t.Errorf("both give %.1f A, want %.1f", x.Steady, sum)
	}
	// Unbalanced faults don't decay.
	if x := currentsAt(t, c, "G", "ll"); x.Steady != x.Initial {
		t.Errorf("line-to-line Ik %.2f of %.2f A", x.Steady, x.Initial)
	}
}

// The smallest: no-load excitation behind the synchronous reactance, or nothing where the excitation may fail.
func TestSmallestSteady(t *testing.T) {
	small := func(m *Method) { m.Smallest = true }
	x := threePhase(t, generatorCase(t, "excitation: independent,", ", normally: open", small), "W")
	want := 11e3 / math.Sqrt(3) / cmplx.Abs(complex(0.15*12.1/30+0.2, 1.8*12.1+0.4))
	if math.Abs(x.Steady-want) > 1e-6*want || len(x.Missing) > 0 {
		t.Errorf("Ik is %.2f A, want %.2f; missing %q", x.Steady, want, x.Missing)
	}
	// Line-to-line: X2 as the subtransient one.
	y := currentsAt(t, generatorCase(t, "excitation: independent,", ", normally: open", small), "G", "ll")
	want = 11e3 / cmplx.Abs(complex(2*0.15*12.1/30, (1.8+0.15)*12.1))
	if math.Abs(y.Steady-want) > 1e-6*want {
		t.Errorf("line-to-line Ik is %.2f A, want %.2f", y.Steady, want)
	}
	for _, excitation := range []string{"", "excitation: terminals,"} {
		x = threePhase(t, generatorCase(t, excitation, ", normally: open", small), "W")
		if x.Steady != 0 || len(x.Missing) != 1 || !strings.Contains(x.Missing[0], "excitation") {
			t.Errorf("with %q Ik is %.2f A; missing %q", excitation, x.Steady, x.Missing)
		}
	}
	// What another source gives stays.
	x = threePhase(t, generatorCase(t, "", "", small), "Q")
	if want = 5e3; math.Abs(x.Steady-want) > 1e-6*want {
		t.Errorf("beside an infeed Ik is %.2f A, want %.2f", x.Steady, want)
	}
}

// A doubly-fed machine by its maker's currents (derived: |Z| by hand).
func TestDoublyFed(t *testing.T) {
	text := `
feederwright: 1
study: wind
frequency: 50 Hz
practice: iec
supply: { Q: { at: Q, maximum: { three-phase: 10 kA, x/r: 10, z0: open } } }
buses: { Q: { voltage: 20 kV } }
induction machines: { W: { at: Q, rating: 2.5 MVA, locked-rotor current: 5, x/r: 10, converter: doubly-fed, KEYS count: 4 } }
`
	c := openCase(t, strings.Replace(text, "KEYS", "largest current: 560 A, peak factor: 1.8, sustained current: 80 A,", 1), nil)
	x := threePhase(t, c, "Q")
	var w Source
	for _, s := range x.Sources {
		if s.Name == "W" {
			w = s
		}
	}
	// c times what the maker states over √2·κ, of four.
	if want := 1.1 * 4 * 560 / math.Sqrt2 / 1.8; math.Abs(w.Current-want) > 1e-6*want {
		t.Errorf("the machines give %.2f A, want %.2f", w.Current, want)
	}
	if b := x.Breaking(0.1); math.Abs(b-x.Initial) > 1e-6*x.Initial {
		t.Errorf("Ib is %.1f of %.1f A: nothing is known of its decay", b, x.Initial)
	}
	if want := 10e3 + 4*80.0; math.Abs(x.Steady-want) > 1e-6*want {
		t.Errorf("Ik is %.1f A, want %.1f", x.Steady, want)
	}
	x = threePhase(t, openCase(t, strings.Replace(text, "KEYS", "", 1), nil), "Q")
	if len(x.Missing) != 1 || !strings.Contains(x.Missing[0], "largest current") || x.Steady != x.Initial {
		t.Errorf("missing %q, Ik %.1f of %.1f A", x.Missing, x.Steady, x.Initial)
	}
}
