package conductor

import (
	"errors"
	"math"
	"math/cmplx"
	"slices"
	"testing"
)

// A shield wire is earthed all along even where the neutral is kept; two
// neutrals that are kept become one.
func TestShieldWireAndTwoNeutrals(t *testing.T) {
	l := fourWire()
	l.Wires = append(l.Wires,
		Wire{"top", ShieldWire, 3, 12, 0.002, 0.004, 1e-3},
		Wire{"n2", Neutral, 2, 7, 0.0025, 0.007, 4e-4})
	c := must[Constants](t)(l.Constants(CarsonSeries, NeutralExplicit))
	if c.Conductors.String() != "ABCN" || len(c.Z) != 16 || len(c.Y) != 16 {
		t.Fatalf("conductors %s, %d and %d entries", c.Conductors, len(c.Z), len(c.Y))
	}
	z := must[Impedance](t)(l.Series(CarsonSeries))
	y := must[Admittance](t)(l.Shunt())

	// The laws that define it: with the top wire's voltage zero, and both
	// neutrals at one voltage with their currents' sum, Z·I must agree.
	want := must[Impedance](t)(z.Earthed("top"))
	want = must[Impedance](t)(want.Ordered("a", "b", "c", "n", "n2"))
	for q := range 4 {
		i := make([]complex128, 5)
		i[q] = 1
		if q == 3 { // split so that n and n2 lose the same voltage
			a, b, m := want.At(3, 3), want.At(4, 4), want.At(3, 4)
			i[3] = (b - m) / (a + b - 2*m)
			i[4] = 1 - i[3]
		} else { // circulating current for zero difference
			a, b, m := want.At(3, 3), want.At(4, 4), want.At(3, 4)
			i[3] = -(want.At(3, q) - want.At(4, q)) / (a + b - 2*m)
			i[4] = -i[3]
		}
		for r := range 4 {
			var v complex128
			for k := range 5 {
				v += want.At(r, k) * i[k]
			}
			near(t, "joined neutrals", cmplx.Abs(v-c.Z[4*r+q]), 0, 1e-15, "derived: equal voltages, currents summed")
		}
	}
	for r := range 4 {
		for q := range 4 {
			sum := complex128(0)
			for _, a := range [][]string{{"a"}, {"b"}, {"c"}, {"n", "n2"}}[r] {
				for _, b := range [][]string{{"a"}, {"b"}, {"c"}, {"n", "n2"}}[q] {
					sum += y.At(y.Index(a), y.Index(b))
				}
			}
			near(t, "joined neutrals, charge", cmplx.Abs(sum-c.Y[4*r+q]), 0, 1e-24, "derived: charges summed")
		}
	}
	// Phases in the order A B C, whatever the order of the wires.
	slices.Reverse(l.Wires)
	again := must[Constants](t)(l.Constants(CarsonSeries, NeutralExplicit))
	for k := range c.Z {
		near(t, "wires in reverse", cmplx.Abs(again.Z[k]-c.Z[k]), 0, 1e-15, "derived: order doesn't matter")
	}
}

// Screens earthed at one end beside a neutral that is kept.
func TestOneEndWithNeutral(t *testing.T) {
	run := flatRun(1)
	run.Wires = []Wire{{Name: "N", Role: Neutral, X: 0.3, Height: -1, GMR: 0.003, Radius: 0.004, R: 4e-4}}
	c := must[Constants](t)(run.Constants(WedepohlWilcox, OneEnd, NeutralExplicit))
	z := must[Impedance](t)(run.Series(WedepohlWilcox))
	if c.Conductors.String() != "ABCN" {
		t.Fatalf("conductors %s", c.Conductors)
	}
	if got, want := c.Z[3*4+1], z.At(z.Index("N"), z.Index("B")); got != want {
		t.Errorf("neutral to B %v, want %v: screens without current change nothing", got, want)
	}
	if c.Y[0] == 0 || c.Y[3] != 0 {
		t.Errorf("charge of A %v, to the neutral %v; it goes to earth by the screen", c.Y[0], c.Y[3])
	}
	if _, err := run.Constants(ModifiedCarson, 0, NeutralEarthed); err == nil {
		t.Error("no bonding is accepted")
	}
}

// With a conducting layer over the insulation the screen's wires don't matter.
func TestOuterLayer(t *testing.T) {
	c := concentric()
	c.Insulation.OuterLayer = true
	want := 2 * math.Pi * VacuumPermittivity * 2.3 / math.Log(c.Insulation.Outer/c.Insulation.Inner)
	near(t, "capacitance", c.Insulation.Capacitance(c.Screen)*1e12, want*1e12, 1e-9, "derived: coaxial cylinders")
	near(t, "without a screen", c.Insulation.Capacitance(nil)*1e12, want*1e12, 1e-9, "derived: coaxial cylinders, the earth outside")
	// IEC 60287's form: ε/(18·ln(D/d)) nF/m; 18 stands for 17.975.
	near(t, "as IEC 60287 has it, nF/m", want*1e9, 2.3/(18*math.Log(c.Insulation.Outer/c.Insulation.Inner)), want*1e9*1.5e-3, "published: IEC 60287-1-1 [from memory]")
	// Many wires close to each other are a closed screen.
	closed := ConcentricWires{Count: 300, GMR: 0.0001, Radius: 0.00015, R: 1, CircleRadius: c.Insulation.Outer}
	c.Insulation.OuterLayer = false
	near(t, "many wires", c.Insulation.Capacitance(closed)/want, 1, 0.02, "derived: limit of k wires; ln(k·a/R)/k is left")
}

// Names that can't be right are refused by every operation.
func TestOperationsRefuse(t *testing.T) {
	z := must[Impedance](t)(fourWire().Series(ModifiedCarson))
	y := must[Admittance](t)(fourWire().Shunt())
	refused := map[string]error{
		"open an unknown":          second(z.Open("x")),
		"earth an unknown":         second(y.Earthed("x")),
		"open unknown charge":      second(y.Open("x")),
		"order with an unknown":    second(z.Ordered("a", "b", "c", "x")),
		"order without n":          second(y.Ordered("a", "b", "c")),
		"join nothing":             second(z.Joined("x")),
		"join an unknown":          second(z.Joined("x", "a", "y")),
		"join under a taken name":  second(z.Joined("c", "a", "b")),
		"join charge, taken":       second(y.Joined("c", "a", "b")),
		"induce in an unknown":     second(z.Induced("x", make([]complex128, 4))),
		"induce by three currents": second(z.Induced("a", make([]complex128, 3))),
		"unknown circuit":          second(SequenceBetween(z.Matrix, 0, [3]string{"a", "b", "x"}, [3]string{"a", "b", "c"})),
		"unknown second circuit":   second(SequenceBetween(z.Matrix, 0, [3]string{"a", "b", "c"}, [3]string{"a", "b", "x"})),
		"eliminate nothing's own":  second(Admittance{newMatrix([]string{"p", "q"})}.Open("p")),
	}
	for what, err := range refused {
		var one *Error
		if !errors.As(err, &one) || one.Problem == "" {
			t.Errorf("%s: %v", what, err)
		}
	}
	// A conductor may keep its own name when joined.
	if j := must[Impedance](t)(z.Joined("a", "b", "a")); !slices.Equal(j.Names, []string{"a", "c", "n"}) {
		t.Errorf("joined names %q", j.Names)
	}
	// Nothing above has changed what it was given.
	if again := must[Impedance](t)(fourWire().Series(ModifiedCarson)); !slices.Equal(z.Values, again.Values) || !slices.Equal(z.Names, again.Names) {
		t.Error("an operation changed its matrix")
	}
}
