package conductor

import (
	"fmt"
	"math"
	"math/cmplx"
	"slices"
	"strings"

	"feederwright/working"
)

// balanced is the departure from the means, as a part of Z1, below which a
// matrix is that of a transposed line but for rounding.
const balanced = 1e-9

// Digits in workings, and the length that values are given for.
const (
	digits  = 5
	perUnit = 1e3 // m: workings are per kilometre
)

// Working derives the constants of Constants step by step, per kilometre.
func (l Overhead) Working(method Method, neutral NeutralTreatment) ([]working.Step, error) {
	c, err := l.Constants(method, neutral)
	if err != nil {
		return nil, err
	}
	z, err := l.Series(method)
	if err != nil {
		return nil, err
	}
	var es Errors
	lumps := l.lumps(&es)
	steps := primitiveSteps(lumps, z, l.Earth, l.Frequency, method)
	var gone []string
	for _, w := range l.Wires {
		if w.Role == ShieldWire || w.Role == Neutral && neutral == NeutralEarthed {
			gone = append(gone, w.Name)
		}
	}
	steps = append(steps, reducedSteps(c, z, gone, nil)...)
	formula := "ω·P⁻¹, p_ij = ln(S_ij/D_ij)/(2π·ε0), p_ii = ln(2·h/a)/(2π·ε0)"
	if len(gone) > 0 {
		formula += ", without the rows of " + strings.Join(gone, ", ")
	}
	return append(steps, chargingSteps(c, formula, "")...), nil
}

// Working derives the constants of Constants step by step, per kilometre.
func (c CableRun) Working(method Method, screens Bonding, neutral NeutralTreatment) ([]working.Step, error) {
	k, err := c.Constants(method, screens, neutral)
	if err != nil {
		return nil, err
	}
	z, err := c.Series(method)
	if err != nil {
		return nil, err
	}
	var es Errors
	lumps := c.lumps(&es)
	steps := primitiveSteps(lumps, z, c.Earth, c.Frequency, method)
	var gone, open []string
	for _, l := range lumps {
		switch {
		case l.role == Screen && screens == OneEnd:
			open = append(open, l.name)
		case l.role == ShieldWire, neutral == NeutralEarthed && (l.role == Screen || l.role == Neutral):
			gone = append(gone, l.name)
		}
	}
	steps = append(steps, reducedSteps(k, z, gone, open)...)
	in := c.Cables[0].Insulation
	values := fmt.Sprintf("%g, radii %s and %s mm", in.Permittivity, working.Number(in.Inner*1e3, 4), working.Number(in.Outer*1e3, 4))
	formula := "ω·2π·ε0·ε / ln(R_o/R_i)"
	if w, wires := c.Cables[0].Screen.(ConcentricWires); wires && !in.OuterLayer {
		formula = "ω·2π·ε0·ε / (ln(R/R_i) − ln(k·a/R)/k)"
		values = fmt.Sprintf("%g, R_i %s mm, %d wires of radius %s mm on R %s mm", in.Permittivity, working.Number(in.Inner*1e3, 4), w.Count, working.Number(w.Radius*1e3, 4), working.Number(w.CircleRadius*1e3, 4))
	}
	return append(steps, chargingSteps(k, formula, "ε "+values)...), nil
}

// primitiveSteps are the self and mutual impedances, those of equal values together.
func primitiveSteps(lumps []lump, z Impedance, earth Earth, frequency float64, method Method) []working.Step {
	omega := 2 * math.Pi * frequency
	x := omega * VacuumPermeability / (2 * math.Pi) * perUnit // ohm/km
	steps := []working.Step{{Symbol: "x", Meaning: "reactance per unit of the logarithm", Formula: "ω·µ0/(2π)",
		Values: fmt.Sprintf("2π × %g Hz × 2·10⁻⁴ H/km", frequency), Result: working.Number(x, digits), Unit: "ohm/km"}}
	self, mutual := "r + x·(P + j·ln(S/GMR) + j·Q)", "x·(P + j·ln(S/D) + j·Q)"
	switch method {
	case ModifiedCarson, WedepohlWilcox:
		m := math.Sqrt(omega * VacuumPermeability / earth.Resistivity)
		steps = append(steps,
			working.Step{Symbol: "Re", Meaning: "resistance of the earth's return", Formula: "ω·µ0/8", Values: fmt.Sprintf("x · π/4 = %s × 0.785398", working.Number(x, digits)),
				Result: working.Number(x*math.Pi/4, digits), Unit: "ohm/km", Basis: method.String()},
			working.Step{Symbol: "De", Meaning: "depth of the equivalent return", Formula: "2·e^(½ − γ)·√(ρ/(ω·µ0))", Values: fmt.Sprintf("1.85138 × √(%g ohm·m / (2π × %g Hz × 4π·10⁻⁷ H/m))", earth.Resistivity, frequency),
				Result: working.Number(2*math.Exp(0.5-euler)/m, digits), Unit: "m", Basis: method.String()})
		self, mutual = "r + Re + j·x·ln(De/GMR)", "Re + j·x·ln(De/D)"
		if method == WedepohlWilcox {
			self += " − j·x·⅔·m·(2·d)"
			mutual += " − j·x·⅔·m·(d + d')"
		}
	case CarsonSeries:
		self, mutual = "r + x·2P + j·x·(ln(2h/GMR) + 2Q)", "x·2P + j·x·(ln(S/D) + 2Q)"
	case ComplexDepth:
		self, mutual = "r + j·x·ln((2h + 2p)/GMR)", "j·x·ln(√((h + h' + 2p)² + d²)/D)"
	}
	type group struct {
		symbols []string
		step    working.Step
	}
	var groups []group
	add := func(symbol string, s working.Step) {
		for i := range groups {
			if groups[i].step == s {
				groups[i].symbols = append(groups[i].symbols, symbol)
				return
			}
		}
		groups = append(groups, group{[]string{symbol}, s})
	}
	for i, l := range lumps {
		values := fmt.Sprintf("r %s ohm/km, GMR %s mm", working.Number(l.r*perUnit, digits), working.Number(l.gmr*1e3, digits))
		if method == CarsonSeries || method == ComplexDepth {
			values += fmt.Sprintf(", h %s m", working.Number(l.h, digits))
		}
		add("z "+pair(l.name, l.name), working.Step{Meaning: "conductor with the earth as its return", Formula: self, Values: values,
			Result: working.Complex(z.At(i, i)*perUnit, digits), Unit: "ohm/km", Basis: method.String()})
	}
	for i, a := range lumps {
		for j := i + 1; j < len(lumps); j++ {
			b := lumps[j]
			add("z "+pair(a.name, b.name), working.Step{Meaning: "coupling of two conductors", Formula: mutual,
				Values: fmt.Sprintf("D %s m", working.Number(distance(a, b), digits)),
				Result: working.Complex(z.At(i, j)*perUnit, digits), Unit: "ohm/km", Basis: method.String()})
		}
	}
	for _, g := range groups {
		s := g.step
		s.Symbol = g.symbols[0]
		if len(g.symbols) > 1 {
			s.Meaning += "; the same for " + strings.TrimPrefix(strings.Join(g.symbols[1:], ", "), "z ")
			s.Meaning = strings.ReplaceAll(s.Meaning, ", z ", ", ")
		}
		steps = append(steps, s)
	}
	return steps
}

func pair(a, b string) string {
	if len(a)+len(b) == 2 {
		return a + b
	}
	return a + "–" + b
}

// reducedSteps are the entries of the matrix that the network takes.
func reducedSteps(c Constants, z Impedance, gone, open []string) []working.Step {
	var steps []working.Step
	names := c.Conductors.Conductors()
	n := len(names)
	name := func(i int) string { return "ABCN"[names[i] : names[i]+1] }
	formula, values, basis := "as above", "", ""
	if len(open) > 0 {
		basis = "no current in " + strings.Join(open, ", ")
	}
	if len(gone) > 0 {
		formula = "z_ij − z_ik·z_kk⁻¹·z_kj"
		if basis != "" {
			basis += "; "
		}
		basis += "Kron reduction: no voltage to earth on " + strings.Join(gone, ", ")
	}
	for i := range n {
		for j := i; j < n; j++ {
			a, b := z.Index(name(i)), z.Index(name(j))
			if len(gone) == 0 && len(open) == 0 && a >= 0 && b >= 0 {
				continue // the entries above are the result
			}
			values = ""
			if len(gone) == 1 && a >= 0 && b >= 0 {
				k := z.Index(gone[0])
				f := func(r, s int) string { return "(" + working.Complex(z.At(r, s)*perUnit, digits) + ")" }
				values = f(a, b) + " − " + f(a, k) + "·" + f(k, b) + "/" + f(k, k)
			}
			result := working.Complex(c.Z[i*n+j]*perUnit, digits)
			if k := slices.IndexFunc(steps, func(s working.Step) bool { return values == "" && s.Values == "" && s.Result == result }); k >= 0 {
				steps[k].Symbol += ", Z " + name(i) + name(j)
				continue
			}
			steps = append(steps, working.Step{Symbol: "Z " + name(i) + name(j), Meaning: "entry of the matrix in use", Formula: formula, Values: values,
				Result: result, Unit: "ohm/km", Basis: basis})
		}
	}
	if c.Conductors.String() == "ABC" {
		zero, positive, most := Means(c.Z, 3)
		meaning := "positive sequence"
		if share := most / cmplx.Abs(positive); share > balanced {
			meaning += fmt.Sprintf(" as if transposed; entries differ from their means by up to %s %% of it", working.Number(100*share, 2))
		}
		steps = append(steps,
			working.Step{Symbol: "Z1", Meaning: meaning,
				Formula: "mean of the diagonal − mean of the others", Result: working.Complex(positive*perUnit, digits), Unit: "ohm/km", Basis: "for comparison; the network takes the matrix"},
			working.Step{Symbol: "Z0", Meaning: "zero sequence as if transposed", Formula: "mean of the diagonal + 2 × mean of the others",
				Result: working.Complex(zero*perUnit, digits), Unit: "ohm/km", Basis: "for comparison; the network takes the matrix"})
	}
	return steps
}

// Means gives the sequence values of an n×n phase matrix as if transposed,
//
//	S + (n−1)·M (all conductors alike) and S − M
//
// with the means S and M of its diagonal and off-diagonal entries, and the
// largest departure of an entry from its mean.
func Means(z []complex128, n int) (zero, positive complex128, departure float64) {
	var self, mutual complex128
	for i := range n {
		for j := range n {
			if i == j {
				self += z[i*n+j] / complex(float64(n), 0)
			} else {
				mutual += z[i*n+j] / complex(float64(n*(n-1)), 0)
			}
		}
	}
	for i := range n {
		for j := range n {
			mean := mutual
			if i == j {
				mean = self
			}
			departure = math.Max(departure, cmplx.Abs(z[i*n+j]-mean))
		}
	}
	return self + complex(float64(n-1), 0)*mutual, self - mutual, departure
}

func chargingSteps(c Constants, formula, values string) []working.Step {
	var steps []working.Step
	names := c.Conductors.Conductors()
	n := len(names)
	var seen []string
	for i := range n {
		for j := i; j < n; j++ {
			if c.Y[i*n+j] == 0 {
				continue
			}
			result := working.Number(imag(c.Y[i*n+j])*perUnit*1e6, digits)
			if values != "" && i == j && slices.Contains(seen, result) {
				continue // equal cables
			}
			seen = append(seen, result)
			steps = append(steps, working.Step{Symbol: "B " + "ABCN"[names[i]:names[i]+1] + "ABCN"[names[j]:names[j]+1], Meaning: "charging susceptance", Formula: formula, Values: values,
				Result: result, Unit: "uS/km", Basis: "perfectly conducting earth"})
		}
	}
	if values != "" {
		for i := range steps {
			steps[i].Basis = "field between core and screen"
		}
	}
	return steps
}
