package conductor

import (
	"fmt"
	"math"
	"math/cmplx"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"feederwright/phasor"
)

// Carson's P and Q against the integral that they stand for.
func TestCarsonIntegral(t *testing.T) {
	const source = "derived: Carson's integral by quadrature"
	for _, k := range []float64{1e-4, 0.01, 0.0435, 0.3, 1, 3, 5, 9, 15.9, 16.1, 30, 100} {
		for _, theta := range []float64{0, 0.4, 0.9, 1.3} {
			// Substituting u = e^v makes both ends fade faster than exponentially, where the
			// trapezoidal rule converges at once.
			var sum complex128
			const step = 1.0 / 512
			for v := -40.0; v < math.Log(60/(k*math.Cos(theta))); v += step {
				u := math.Exp(v)
				// √(u² + j) − u without cancellation
				f := 1i / (cmplx.Sqrt(complex(u*u, 1)) + complex(u, 0))
				sum += f * complex(math.Exp(-u*k*math.Cos(theta))*math.Cos(u*k*math.Sin(theta))*u*step, 0)
			}
			P, Q := carson(k, theta)
			tol := 1e-9 // rounding of the power series at k = 16
			if k > seriesLimit {
				tol = 1e-6 // as documented
			}
			near(t, fmt.Sprintf("P(%g, %g)", k, theta), P, real(sum), tol, source)
			near(t, fmt.Sprintf("Q(%g, %g)", k, theta), Q, imag(sum), tol, source)
		}
	}
}

// The bounds that the doc comments of the methods give.
func TestMethodsAgainstEachOther(t *testing.T) {
	depth := func(k, theta float64) complex128 { // P + jQ of ComplexDepth
		// resistivity and frequency drop out: |m| = 1 for ω·µ0 = ρ
		b := earthReturn(ComplexDepth, 1/VacuumPermeability, 1, k, k*math.Cos(theta), 0, k*math.Sin(theta))
		return complex(-imag(b)/2, real(b)/2)
	}
	full := func(k, theta float64) complex128 {
		P, Q := carson(k, theta)
		return complex(P, Q)
	}
	worst, own, small := 0.0, 0.0, 0.0
	for k := 1e-4; k < 200; k *= 1.05 {
		for theta := 0.0; theta < math.Pi/2; theta += 0.05 {
			d, f := depth(k, theta), full(k, theta)
			e := cmplx.Abs(d-f) / cmplx.Abs(f)
			worst = math.Max(worst, e)
			if k < 0.1 {
				small = math.Max(small, e)
			}
			if theta == 0 {
				own = math.Max(own, math.Max(math.Abs(real(d)/real(f)-1), math.Abs(imag(d)/imag(f)-1)))
			}
		}
	}
	for _, b := range []struct {
		what        string
		got, stated float64
	}{{"anywhere", worst, 0.13}, {"for a wire and its image", own, 0.035}, {"for k below 0.1", small, 0.026}} {
		if !(b.got <= b.stated && b.got > 0.8*b.stated) {
			t.Errorf("complex depth differs by up to %.4f %s; the comment says %.3f", b.got, b.what, b.stated)
		}
	}

	// The first term that ModifiedCarson leaves out, with 10 m, 60 Hz.
	for _, tt := range []struct{ rho, stated float64 }{{100, 0.026}, {1, 0.26}} {
		k := math.Sqrt(2*math.Pi*60*VacuumPermeability/tt.rho) * 20
		near(t, fmt.Sprintf("part left out at %g ohm·m", tt.rho), math.Sqrt2/6*k/(math.Pi/8), tt.stated, 0.005, "derived: second term of Carson's series")
	}

	// Towards low frequency they meet: the bracket's difference is that term,
	// 2·(√2/6·k)·(1 + j), and falls with the square root of the frequency.
	l := fourWire()
	var before float64
	for _, f := range []float64{60, 0.6, 0.006} {
		l.Frequency = f
		a := must[Impedance](t)(l.Series(ModifiedCarson))
		b := must[Impedance](t)(l.Series(CarsonSeries))
		difference := cmplx.Abs(a.At(0, 1)-b.At(0, 1)) / f
		h := 2 * 29 * foot
		k := math.Sqrt(2*math.Pi*f*VacuumPermeability/100) * math.Hypot(h, 2.5*foot)
		// k·cosθ is |m|·2h; of second order in k, with its logarithm, is the rest.
		want := VacuumPermeability * 2 * math.Sqrt2 * math.Sqrt2 / 6 * k * h / math.Hypot(h, 2.5*foot)
		near(t, fmt.Sprintf("difference at %g Hz", f), difference/want, 1, 3*k, "derived: second term of Carson's series")
		if before != 0 && !(difference < before/5) {
			t.Errorf("at %g Hz the difference per hertz fell from %g to %g only", f, before, difference)
		}
		before = difference
	}
}

// Wedepohl and Wilcox against Pollaczek's equations for buried conductors.
func TestPollaczek(t *testing.T) {
	const source = "derived: Pollaczek's integral by quadrature"
	const rho, f = 100.0, 60.0
	omega := 2 * math.Pi * f
	m := cmplx.Sqrt(complex(0, omega*VacuumPermeability/rho))
	for _, tt := range []struct{ h1, h2, x, D float64 }{{1, 1, 0.15, 0.15}, {1, 1, 0, 0.02}, {0.6, 1.2, 2, math.Hypot(0.6, 2)}, {5, 5, 1, 1}} {
		h := complex(tt.h1+tt.h2, 0)
		var integral complex128
		const step = 1.0 / 256
		// From −∞ to ∞, even in the real part that the cosine leaves.
		for v := -40.0; v < math.Log(60/(tt.h1+tt.h2)); v += step {
			a := math.Exp(v)
			root := cmplx.Sqrt(complex(a*a, 0) + m*m)
			integral += 2 * cmplx.Exp(-h*root) / (complex(a, 0) + root) * complex(math.Cos(a*tt.x)*a*step, 0)
		}
		exact := besselK0(m*complex(tt.D, 0)) - besselK0(m*cmplx.Sqrt(h*h+complex(tt.x*tt.x, 0))) + integral
		got := earthReturn(WedepohlWilcox, omega, rho, tt.D, -tt.h1, -tt.h2, tt.x)
		// What it leaves out is of second order in m times the distances, with its logarithm.
		second := math.Pow(cmplx.Abs(m)*(tt.h1+tt.h2+tt.x), 2) * 8
		near(t, fmt.Sprintf("%v, real", tt), real(got), real(exact), second, source)
		near(t, fmt.Sprintf("%v, imaginary", tt), imag(got), imag(exact), second, source)
		// The term for the depth is worth having: without it the error is larger.
		if e, without := cmplx.Abs(got-exact), cmplx.Abs(earthReturn(ModifiedCarson, omega, rho, tt.D, -tt.h1, -tt.h2, tt.x)-exact); !(e < without/5) {
			t.Errorf("%v: off by %g with the depths, %g without", tt, e, without)
		}
	}
}

func besselK0(z complex128) complex128 {
	term, harmonic := complex(1, 0), 0.0
	var sum complex128
	for k := 1.0; k < 30; k++ {
		term *= z * z / complex(4*k*k, 0)
		harmonic += 1 / k
		sum += term * complex(harmonic, 0)
	}
	return -(cmplx.Log(z/2)+complex(euler, 0))*besselI(0, z) + sum
}

// Closed forms of simple lines.
func TestClosedForms(t *testing.T) {
	const f, mu = 50.0, 2e-7 // µ0/(2π)
	omega := 2 * math.Pi * f
	a := Wire{"a", PhaseA, 0, 10, 0.004, 0.005, 3e-4}
	b := Wire{"b", PhaseB, 1.2, 10, 0.004, 0.005, 3e-4}
	l := Overhead{[]Wire{a, b}, Earth{250}, f}

	// Go and return: the earth drops out.
	for _, m := range []Method{ModifiedCarson, CarsonSeries, ComplexDepth} {
		z := must[Impedance](t)(l.Series(m))
		loop := z.At(0, 0) + z.At(1, 1) - 2*z.At(0, 1)
		want := complex(2*3e-4, 2*omega*mu*math.Log(1.2/0.004))
		// The images of the full methods leave a part of (x/S)², 0.36 %, of the earth's share.
		tol := 1e-12
		if m != ModifiedCarson {
			tol = 2 * omega * mu * math.Pow(1.2/20, 2)
		}
		near(t, m.String()+" loop resistance", real(loop), real(want), tol, "derived: 2·r")
		near(t, m.String()+" loop reactance", imag(loop), imag(want), tol, "derived: 2·ω·µ0/(2π)·ln(D/GMR)")
	}

	// Capacitance of the pair, charged against each other.
	y := must[Admittance](t)(l.Shunt())
	c := imag(y.At(0, 0)-y.At(0, 1)) / 2 / omega
	near(t, "capacitance of a pair", c*1e12, 1e12*math.Pi*VacuumPermittivity/math.Log(1.2/0.005*20/math.Hypot(20, 1.2)), 1e-9, "derived: π·ε0/ln(D·2h/(a·√(4h² + D²)))")

	// One wire, height 10 m.
	one := Overhead{[]Wire{a}, Earth{250}, f}
	y = must[Admittance](t)(one.Shunt())
	near(t, "capacitance of a wire", imag(y.At(0, 0))/omega*1e12, 1e12*2*math.Pi*VacuumPermittivity/math.Log(20/0.005), 1e-9, "derived: 2π·ε0/ln(2h/a)")
	z := must[Impedance](t)(one.Series(ModifiedCarson))
	near(t, "resistance of a wire with its earth", real(z.At(0, 0)), 3e-4+math.Pi*math.Pi*f*1e-7, 1e-15, "derived: r + π²·f·1e-7")
	// 658.5·√(ρ/f) m is the depth as handbooks have it; the constant itself is 658.87.
	near(t, "reactance of a wire with its earth", imag(z.At(0, 0)), omega*mu*math.Log(658.5*math.Sqrt(250/f)/0.004), omega*mu*6e-4, "published: equivalent depth 658.5·√(ρ/f) m, Stevenson [from memory]; ln(658.87/658.5) = 5.6e-4")

	// Positive sequence of any three alike without neutral: mean distances.
	c3 := Wire{"c", PhaseC, 0.3, 11, 0.004, 0.005, 3e-4}
	l.Wires = append(l.Wires, c3)
	s := must[Sequence](t)(SequenceOf(must[Impedance](t)(l.Series(ModifiedCarson)).Matrix, phasor.ABC))
	gmd := math.Cbrt(1.2 * math.Hypot(0.3, 1) * math.Hypot(0.9, 1))
	near(t, "R1", real(s.Positive), 3e-4, 1e-15, "derived: r")
	near(t, "X1", imag(s.Positive), omega*mu*math.Log(gmd/0.004), 1e-15, "derived: ω·µ0/(2π)·ln(GMD/GMR)")
	near(t, "R0", real(s.Zero), 3e-4+3*math.Pi*math.Pi*f*1e-7, 1e-15, "derived: r + 3·π²·f·1e-7")
	for i := range 3 {
		near(t, "diagonal of the full transform", cmplx.Abs(s.Full[i][i]-[]complex128{s.Zero, s.Positive, s.Positive}[i]), 0, 1e-15, "derived: trace of a symmetric matrix")
	}
	acb := must[Sequence](t)(SequenceOf(must[Impedance](t)(l.Series(ModifiedCarson)).Matrix, phasor.ACB))
	near(t, "ACB exchanges 1 and 2", cmplx.Abs(acb.Full[0][1]-s.Full[0][2]), 0, 1e-15, "derived: definition")
}

// Transposition: three sections with the wires at each place in turn are balanced.
func TestTransposed(t *testing.T) {
	places := []Place{{0, 9}, {0.8, 9}, {2.1, 9.4}}
	var parts []Part
	for turn := range 3 {
		l := Overhead{Earth: Earth{100}, Frequency: 60}
		for i := range 3 {
			p := places[(i+turn)%3]
			l.Wires = append(l.Wires, Wire{"ABC"[i : i+1], PhaseA + Role(i), p.X, p.Height, 0.005, 0.006, 2e-4})
		}
		z := must[Impedance](t)(l.Series(CarsonSeries))
		if turn == 1 {
			z = must[Impedance](t)(z.Ordered("C", "A", "B"))
		}
		parts = append(parts, Part{100, z})
	}
	z := must[Impedance](t)(InSeries(parts...))
	s := must[Sequence](t)(SequenceOf(z.Matrix, phasor.ABC))
	near(t, "coupling", s.Coupling, 0, 1e-14, "derived: a transposed line is balanced")
	if _, err := InSeries(); err == nil {
		t.Error("no sections are accepted")
	}
	if _, err := InSeries(Part{1, z}, Part{math.NaN(), z}, Part{1, must[Impedance](t)(z.Open("A"))}); err == nil || len(err.(Errors)) != 2 {
		t.Errorf("two bad sections: %v", err)
	}
}

// Two circuits far apart couple in zero sequence as two single wires would:
// three times the mutual impedance.
func TestSequenceBetween(t *testing.T) {
	l := Overhead{Earth: Earth{100}, Frequency: 60}
	for c := range 2 {
		for i := range 3 {
			l.Wires = append(l.Wires, Wire{fmt.Sprint("ABC"[i:i+1], c+1), PhaseA + Role(i), 40*float64(c) + float64(i), 10, 0.005, 0.006, 2e-4})
		}
	}
	z := must[Impedance](t)(l.Series(ModifiedCarson))
	m := must[[3][3]complex128](t)(SequenceBetween(z.Matrix, phasor.ABC, [3]string{"A1", "B1", "C1"}, [3]string{"A2", "B2", "C2"}))
	want := 3 * z.At(1, 4) // B1 to B2, 40 m
	near(t, "zero-sequence mutual", cmplx.Abs(m[0][0]-want)/cmplx.Abs(want), 0, 1e-3, "derived: ln of distances of 38 to 42 m, mean of squares")
	near(t, "its resistance", real(m[0][0]), 3*math.Pi*math.Pi*60e-7, 1e-15, "derived: 3·π²·f·1e-7")
	if r := cmplx.Abs(m[1][1]) / cmplx.Abs(m[0][0]); !(r < 1e-3) {
		t.Errorf("positive-sequence mutual is %g of the zero-sequence one at 40 m", r)
	}
}

// A neutral earthed at poles: with earthing resistances of zero it is the Kron
// reduction; with very large ones it carries nothing; in between,
// far from the ends of a long line, it is the Kron reduction again.
func TestExplicitNeutral(t *testing.T) {
	l := fourWire()
	z := must[Impedance](t)(l.Series(ModifiedCarson))
	zaa, zan, znn := z.At(0, 0), z.At(0, 3), z.At(3, 3)
	reduced := must[Impedance](t)(z.Earthed("n")).At(0, 0)
	const span = 80.0
	// neutral gives the current in each span's neutral, for 1 A in wire a.
	neutral := func(spans int, resistance float64) []complex128 {
		// Loop currents: pole resistances couple neighbouring spans,
		// (span·znn + 2R)·I_k − R·I_(k−1) − R·I_(k+1) = −span·zan; Thomas' elimination.
		diagonal, off := complex(span, 0)*znn+complex(2*resistance, 0), complex(-resistance, 0)
		c, d := make([]complex128, spans), make([]complex128, spans)
		for k := range spans {
			p, right := diagonal, -complex(span, 0)*zan
			if k > 0 {
				p -= off * c[k-1]
				right -= off * d[k-1]
			}
			c[k], d[k] = off/p, right/p
		}
		for k := spans - 2; k >= 0; k-- {
			d[k] -= c[k] * d[k+1]
		}
		return d
	}
	seen := func(i complex128) complex128 { return zaa + zan*i }
	const source = "derived: ladder of spans with the explicit matrix"
	for _, i := range neutral(20, 0) {
		near(t, "earthing of 0 ohm", cmplx.Abs(seen(i)-reduced), 0, 1e-15, source)
	}
	for _, i := range neutral(20, 1e9) {
		near(t, "earthing of 1e9 ohm", cmplx.Abs(seen(i)-must[Impedance](t)(z.Open("n")).At(0, 0)), 0, 1e-9, source)
	}
	long := neutral(2001, 25)
	near(t, "25 ohm, inside a long line", cmplx.Abs(seen(long[1000])-reduced), 0, 1e-12, source)
	if d := cmplx.Abs(seen(long[0]) - reduced); !(d > 1e-5) {
		t.Errorf("25 ohm at the end of the line: %g off the Kron reduction, and should be", d)
	}
}

// Screens earthed at one end: the standing voltage of balanced currents.
func TestScreenVoltage(t *testing.T) {
	const f = 50.0
	omega, s := 2*math.Pi*f, 0.08
	c := Cable{GMR: 0.007, Radius: 0.009, R: 1e-4, OuterRadius: 0.02, Insulation: Insulation{0.0095, 0.0150, 2.4, true}, Screen: TapeScreen{0.0160, 0.0002, 1e-3}}
	R := c.Screen.meanRadius()
	a := phasor.A
	currents := []complex128{1, a * a, a, 0, 0, 0}
	for _, tt := range []struct {
		name   string
		places [3]Place
		want   [3]complex128 // brackets
	}{
		{"trefoil", Trefoil(s, 1), [3]complex128{complex(math.Log(s/R), 0), a * a * complex(math.Log(s/R), 0), a * complex(math.Log(s/R), 0)}},
		{"flat", Flat(s, 1), [3]complex128{
			complex(-math.Log(R), 0) - a*a*complex(math.Log(s), 0) - a*complex(math.Log(2*s), 0),
			a * a * complex(math.Log(s/R), 0),
			a*complex(-math.Log(R), 0) - a*a*complex(math.Log(s), 0) - complex(math.Log(2*s), 0)}},
	} {
		run := CableRun{Earth: Earth{100}, Frequency: f}
		for i := range 3 {
			run.Cables = append(run.Cables, c.At("ABC"[i:i+1], PhaseA+Role(i), tt.places[i]))
		}
		for _, m := range []Method{ModifiedCarson, WedepohlWilcox} {
			z := must[Impedance](t)(run.Series(m))
			for i := range 3 {
				v := must[complex128](t)(z.Induced(ScreenName("ABC"[i:i+1]), currents))
				tol := 1e-15
				if m == WedepohlWilcox {
					tol = omega * 2e-7 * 1e-3 // trefoil's depths differ by 0.07 m
				}
				near(t, fmt.Sprintf("%s, %s, screen %d, V/m per A", tt.name, m, i), cmplx.Abs(v-complex(0, omega*2e-7)*tt.want[i]), 0, tol,
					"derived: j·ω·µ0/(2π)·ln(s/R) for trefoil and the middle of flat; distances for the outer two")
			}
		}
		// Open screens leave the cores as they are without any.
		z := must[Impedance](t)(run.Series(ModifiedCarson))
		open := must[Constants](t)(run.Constants(ModifiedCarson, OneEnd, NeutralEarthed))
		for i := range 3 {
			for j := range 3 {
				if open.Z[3*i+j] != z.At(i, j) {
					t.Errorf("%s: open screens change entry %d,%d", tt.name, i, j)
				}
			}
		}
		// Screens that carry current raise R1 and lower X1; both classic.
		both := must[Constants](t)(run.Constants(ModifiedCarson, BothEnds, NeutralEarthed))
		so := must[Sequence](t)(SequenceOf(Matrix{[]string{"A", "B", "C"}, open.Z}, phasor.ABC))
		sb := must[Sequence](t)(SequenceOf(Matrix{[]string{"A", "B", "C"}, both.Z}, phasor.ABC))
		if !(real(sb.Positive) > real(so.Positive) && imag(sb.Positive) < imag(so.Positive)) {
			t.Errorf("%s: Z1 %v with screens at both ends, %v at one", tt.name, sb.Positive, so.Positive)
		}
		if tt.name == "trefoil" {
			x := omega * 2e-7 * math.Log(s/R)
			near(t, "R1 with both ends", real(sb.Positive), 1e-4+x*x*1e-3/(1e-6+x*x), 1e-12, "derived: R + X²·Rs/(Rs² + X²), the same as the circulating-current loss factor of IEC 60287")
			near(t, "X1 with both ends", imag(sb.Positive), omega*2e-7*math.Log(s/0.007)-x*x*x/(1e-6+x*x), 1e-12, "derived: X1 − X³/(Rs² + X²)")
			// Balanced cross-bonding: no screen current in positive sequence, all of it in zero sequence.
			var parts []Part
			for turn := range 3 {
				names := append([]string{}, z.Names...)
				for i := range 3 {
					names[3+i] = ScreenName("ABC"[(i+turn)%3 : (i+turn)%3+1])
				}
				parts = append(parts, Part{1.0 / 3, Impedance{Matrix{names, z.Values}}})
			}
			cross := must[Impedance](t)(must[Impedance](t)(InSeries(parts...)).Earthed(z.Names[3:]...))
			sc := must[Sequence](t)(SequenceOf(cross.Matrix, phasor.ABC))
			near(t, "Z1 cross-bonded", cmplx.Abs(sc.Positive-so.Positive), 0, 1e-15, "derived: as with screens open")
			near(t, "Z0 cross-bonded", cmplx.Abs(sc.Zero-sb.Zero), 0, 1e-15, "derived: as with screens at both ends")
		}
	}
}

// Screens and neutral as one explicit conductor, then earthed, is the same as
// all of them earthed; charging reaches it.
func TestExplicitScreens(t *testing.T) {
	run := flatRun(1)
	run.Wires = []Wire{{Name: "N", Role: Neutral, X: 0.3, Height: -1, GMR: 0.003, Radius: 0.004, R: 4e-4}}
	explicit := must[Constants](t)(run.Constants(ModifiedCarson, BothEnds, NeutralExplicit))
	if explicit.Conductors.String() != "ABCN" {
		t.Fatalf("conductors %s", explicit.Conductors)
	}
	names := []string{"A", "B", "C", "N"}
	z := must[Impedance](t)(Impedance{Matrix{names, explicit.Z}}.Earthed("N"))
	earthed := must[Constants](t)(run.Constants(ModifiedCarson, BothEnds, NeutralEarthed))
	for i, v := range earthed.Z {
		near(t, "joined, then earthed", cmplx.Abs(v-z.Values[i]), 0, 1e-15, "derived: voltages of zero are equal voltages")
	}
	for i := range 4 {
		row := complex128(0)
		for j := range 4 {
			row += explicit.Y[4*i+j]
		}
		near(t, "no charge to earth", cmplx.Abs(row), 0, 1e-20, "derived: screened cores have capacitance to their screens alone")
	}
}

// A line of any geometry.
func lines() *rapid.Generator[Overhead] {
	return rapid.Custom(func(t *rapid.T) Overhead {
		l := Overhead{Earth: Earth{rapid.Float64Range(1, 1e4).Draw(t, "rho")}, Frequency: rapid.Float64Range(16, 400).Draw(t, "f")}
		n := rapid.IntRange(2, 8).Draw(t, "wires")
		for i := range n {
			radius := rapid.Float64Range(0.002, 0.02).Draw(t, "radius")
			role := Neutral
			if i < 3 {
				role = PhaseA + Role(i)
			}
			l.Wires = append(l.Wires, Wire{
				Name: fmt.Sprint("w", i), Role: role,
				X:      float64(i%3) + rapid.Float64Range(0, 0.9).Draw(t, "x"),
				Height: 6 + 2*float64(i/3) + rapid.Float64Range(0, 1.9).Draw(t, "h"),
				Radius: radius, GMR: radius * rapid.Float64Range(0.2, 0.99).Draw(t, "gmr"),
				R: rapid.Float64Range(1, 30).Draw(t, "r") * leastResistivity / (math.Pi * radius * radius) * 1.001,
			})
		}
		return l
	})
}

var overheadMethods = []Method{ModifiedCarson, CarsonSeries, ComplexDepth}

func realPart(m Matrix) [][]float64 {
	rows := make([][]float64, m.Len())
	for i := range rows {
		for j := range m.Names {
			rows[i] = append(rows[i], real(m.At(i, j)))
		}
	}
	return rows
}

func TestLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := lines().Draw(t, "line")
		method := rapid.SampledFrom(overheadMethods).Draw(t, "method")
		z, err := l.Series(method)
		if err != nil { // two wires drawn into one place
			if _, ok := err.(Errors); !ok {
				t.Fatal(err)
			}
			t.Skip()
		}
		y, err := l.Shunt()
		if err != nil {
			t.Fatal(err)
		}
		n := z.Len()
		scale := cmplx.Abs(z.At(0, 0))

		last := z.Names[n-1]
		reduced, err := z.Earthed(last)
		if err != nil {
			t.Fatal(err)
		}
		for what, m := range map[string]Matrix{"Z": z.Matrix, "reduced Z": reduced.Matrix, "Y": y.Matrix} {
			for i := range m.Names {
				for j := range i {
					if m.At(i, j) != m.At(j, i) {
						t.Fatalf("%s is not symmetric at %d,%d: reciprocity", what, i, j)
					}
				}
			}
		}
		// Passive: no currents take out energy.
		for what, m := range map[string]Matrix{"Z": z.Matrix, "reduced Z": reduced.Matrix} {
			if _, ok := invertPositive(realPart(m)); !ok {
				t.Fatalf("resistance of %s is not positive definite", what)
			}
		}
		// Capacitance coefficients (Maxwell): the diagonal positive, others negative, row sums positive.
		for i := range n {
			sum := 0.0
			for j := range n {
				b := imag(y.At(i, j))
				sum += b
				if (i == j) != (b > 0) {
					t.Fatalf("susceptance %d,%d is %g", i, j, b)
				}
			}
			if !(sum > 0) {
				t.Fatalf("susceptance of wire %d to earth is %g", i, sum)
			}
		}

		// Naming wires in another order changes the order alone.
		order := rapid.Permutation(z.Names).Draw(t, "order")
		p := l
		p.Wires = nil
		for _, name := range order {
			p.Wires = append(p.Wires, l.Wires[z.Index(name)])
		}
		zp, _ := p.Series(method)
		want, _ := z.Ordered(order...)
		if !slices.Equal(zp.Values, want.Values) {
			t.Fatal("permuted wires don't permute the impedances bit for bit")
		}
		// Nothing depends on where x is counted from, nor on left and right.
		p = l
		p.Wires = slices.Clone(l.Wires)
		for i := range p.Wires {
			p.Wires[i].X = 5 - p.Wires[i].X
		}
		zm, err := p.Series(method)
		if err != nil {
			t.Fatal(err)
		}
		for i := range z.Values {
			if d := cmplx.Abs(zm.Values[i] - z.Values[i]); !(d <= 1e-12*scale) {
				t.Fatalf("mirrored line differs by %g", d)
			}
		}

		// The order of elimination does not matter, and joining before earthing is earthing.
		out := order[:n-1]
		a, err := z.Earthed(out...)
		if err != nil {
			t.Fatal(err)
		}
		slices.Reverse(out)
		b, _ := z.Earthed(out...)
		joined, err := z.Joined("bundle", out...)
		if err != nil {
			t.Fatal(err)
		}
		c, err := joined.Earthed("bundle")
		if err != nil {
			t.Fatal(err)
		}
		for _, other := range []Impedance{b, c} {
			if d := cmplx.Abs(other.Values[0] - a.Values[0]); !(d <= 1e-12*scale) {
				t.Fatalf("another order of elimination differs by %g", d)
			}
		}
		// A bundle has a lower resistance and reactance than its best part alone... for one
		// current it takes no more energy than any split of it.
		for _, name := range out {
			alone := z.At(z.Index(name), z.Index(name))
			if whole := joined.At(joined.Index("bundle"), joined.Index("bundle")); real(whole) > real(alone)+1e-15 && imag(whole) > imag(alone)+1e-15 {
				t.Fatalf("bundle %v is worse than %s alone, %v", whole, name, alone)
			}
		}
		// Earthing is dual: eliminating from Z is dropping from Y, for what is inverse.
		open, err := y.Open(last)
		if err != nil {
			t.Fatal(err)
		}
		alone := l
		alone.Wires = l.Wires[:n-1]
		without, err := alone.Shunt()
		if err != nil {
			t.Fatal(err)
		}
		for i := range open.Values {
			if d := cmplx.Abs(open.Values[i] - without.Values[i]); !(d <= 1e-10*cmplx.Abs(y.At(0, 0))) {
				t.Fatalf("an insulated wire changes the others' susceptance by %g", d)
			}
		}
	})
}

// Whatever is put in, there is an answer or an error that says why.
func TestAnyInput(t *testing.T) {
	number := rapid.SampledFrom([]float64{0, 1, -1, 0.01, 1e-5, 10, -0.3, 1e300, -1e300, 5e-324, math.Inf(1), math.Inf(-1), math.NaN()})
	rapid.Check(t, func(t *rapid.T) {
		draw := func() float64 { return number.Draw(t, "number") }
		var wires []Wire
		for i := range rapid.IntRange(0, 3).Draw(t, "wires") {
			wires = append(wires, Wire{rapid.SampledFrom([]string{"", "a", fmt.Sprint(i)}).Draw(t, "name"), Role(rapid.IntRange(-1, 8).Draw(t, "role")), draw(), draw(), draw(), draw(), draw()})
		}
		screen := rapid.SampledFrom([]CableScreen{nil, TapeScreen{draw(), draw(), draw()}, ConcentricWires{rapid.IntRange(-1, 9).Draw(t, "k"), draw(), draw(), draw(), draw()}}).Draw(t, "screen")
		cable := Cable{"c", Role(rapid.IntRange(-1, 8).Draw(t, "role")), draw(), draw(), draw(), draw(), draw(), Insulation{draw(), draw(), draw(), true}, screen, draw()}
		method := Method(rapid.IntRange(-1, 6).Draw(t, "method"))
		l := Overhead{wires, Earth{draw()}, draw()}
		run := CableRun{[]Cable{cable}, wires, l.Earth, l.Frequency}
		check := func(m Matrix, err error) {
			if err != nil {
				es, ok := err.(Errors)
				if !ok || len(es) == 0 {
					t.Fatalf("error %v of type %T", err, err)
				}
				for _, e := range es {
					if e.Object == "" || e.Problem == "" || e.Why == "" && e.Fix == "" {
						t.Fatalf("error says too little: %+v", e)
					}
				}
				return
			}
			for _, v := range m.Values {
				if cmplx.IsNaN(v) || cmplx.IsInf(v) {
					t.Fatalf("%v for accepted input %+v %+v", v, l, cable)
				}
			}
		}
		z, err := l.Series(method)
		check(z.Matrix, err)
		y, err := l.Shunt()
		check(y.Matrix, err)
		z, err = run.Series(method)
		check(z.Matrix, err)
		y, err = run.Shunt()
		check(y.Matrix, err)
		c, err := l.Constants(method, NeutralTreatment(rapid.IntRange(0, 3).Draw(t, "neutral")))
		check(Matrix{Values: c.Z}, err)
		c, err = run.Constants(method, Bonding(rapid.IntRange(0, 3).Draw(t, "bonding")), NeutralTreatment(rapid.IntRange(0, 3).Draw(t, "neutral")))
		check(Matrix{Values: c.Z}, err)
	})
}
