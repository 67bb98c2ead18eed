package duty

import (
	"fmt"
	"math"
	"strings"

	"feederwright/fault"
	"feederwright/working"
)

// kA writes amperes in kA; below a milliampere they are none.
func kA(i float64) string {
	if i < 1e-3 {
		i = 0
	}
	return working.Number(i/1e3, 5)
}

// plant is the symbol of what comes from all that has an impedance: the whole
// current, but where converters add to it.
func (x *Currents) plant() string {
	switch iec := x.Method.Practice == IEC; {
	case iec && x.ByLimit > 0:
		return "I\"kPFO"
	case iec:
		return "I\"k"
	case x.ByLimit > 0:
		return "I_Z"
	}
	return "I"
}

// withLimit adds what converters give at the peak to a formula and its values.
func (x *Currents) withLimit(formula, values string) (string, string) {
	if x.ByLimit == 0 {
		return formula, values
	}
	return formula + " + √2·I_PF", values + " + √2 × " + kA(x.ByLimit) + " kA"
}

// InitialSteps is the working of the initial, or first-cycle symmetrical,
// current of all that flows into a fault.
func (x *Currents) InitialSteps() []working.Step {
	symbol, basis := "I\"k", "IEC 60909-0:2016, 7 and 8, from memory"
	drive := fmt.Sprintf("%.3g × %s kV", x.Factor, working.Number(x.Nominal/1e3, 5))
	if x.Method.Practice == IEEE {
		symbol, basis = "I", "IEEE 551, E/Z, from memory"
	}
	steps := []working.Step{{Symbol: "Z", Meaning: "impedance of the fault's loop, with the practice's factors", Result: working.Complex(x.Loop, 5), Unit: "ohm", Basis: basis}}
	whole := working.Step{Symbol: x.plant(), Meaning: x.Kind.Type.Words() + " fault, largest phase", Result: kA(x.ByPlant), Unit: "kA", Basis: basis}
	switch z := math.Hypot(real(x.Loop), imag(x.Loop)); {
	case x.Kind.Type == fault.ThreePhase && math.Abs(x.ByPlant-x.Factor*x.Nominal/math.Sqrt(3)/z) < 1e-6*x.ByPlant:
		whole.Formula, whole.Values = "c·Un / (√3·|Z|)", fmt.Sprintf("%s / (√3 × %s ohm)", drive, working.Number(z, 5))
	case x.Kind.Type == fault.LineLine && math.Abs(x.ByPlant-x.Factor*x.Nominal/z) < 1e-6*x.ByPlant:
		whole.Formula, whole.Values = "c·Un / |Z|", fmt.Sprintf("%s / %s ohm", drive, working.Number(z, 5))
	default:
		whole.Meaning += ", driven by the equivalent source at the place"
		whole.Values = drive
	}
	if x.Method.Practice == IEEE {
		whole.Formula = strings.ReplaceAll(whole.Formula, "c·Un", "E")
	}
	steps = append(steps, whole)
	if x.ByLimit > 0 {
		steps = append(steps, working.Step{Symbol: "I_PF", Meaning: "from converters, each with its largest current", Formula: "Σ |Zij|/|Zii|·Ij", Result: kA(x.ByLimit), Unit: "kA", Basis: "IEC 60909-0:2016, 6.9, from memory"},
			working.Step{Symbol: symbol, Meaning: "both", Formula: x.plant() + " + I_PF", Result: kA(x.Initial), Unit: "kA"})
	}
	return steps
}

// PeakSteps is the working of the peak.
func (x *Currents) PeakSteps() []working.Step {
	if x.Method.Practice == IEEE {
		formula, values := x.withLimit("√2·"+x.plant()+"·(1 + e^(-2π·tau/(X/R)))", fmt.Sprintf("%s kA × %s", kA(x.ByPlant), working.Number(PeakFactor(x.XR), 5)))
		return []working.Step{
			{Symbol: "X/R", Meaning: "from separate networks of reactances and resistances", Result: working.Number(x.XR, 4), Basis: "IEEE C37.010, from memory"},
			{Symbol: "tau", Formula: "0.49 - 0.1·e^(-(X/R)/3)", Result: working.Number(0.49-0.1*math.Exp(-x.XR/3), 4), Unit: "cycles"},
			{Symbol: "ip", Meaning: "peak of the first half cycle", Formula: formula, Values: values,
				Result: kA(x.Peak), Unit: "kA", Basis: "IEEE 551, from memory"}}
	}
	how := "equivalent frequency, method c"
	switch x.Method.PeakBy {
	case RatioAtPlace:
		how = "at the place, method b"
	case SmallestRatio:
		how = "smallest of all branches, method a"
	}
	formula := "1.02 + 0.98·e^(-3·R/X)"
	if math.Abs(x.Kappa-Kappa(1/x.XR)) > 1e-12 {
		formula = "1.15·(1.02 + 0.98·e^(-3·R/X)), at most 1.8 or 2"
	}
	peak, values := x.withLimit("kappa·√2·"+x.plant(), fmt.Sprintf("%s × √2 × %s kA", working.Number(x.Kappa, 5), kA(x.ByPlant)))
	return []working.Step{
		{Symbol: "R/X", Meaning: how, Result: working.Number(1/x.XR, 4), Basis: "IEC 60909-0:2016, 8.1, from memory"},
		{Symbol: "kappa", Formula: formula, Result: working.Number(x.Kappa, 5)},
		{Symbol: "ip", Meaning: "peak", Formula: peak, Values: values, Result: kA(x.Peak), Unit: "kA", Basis: "IEC 60909-0:2016, 8.1, from memory"}}
}

// BreakingSteps is the working of the breaking current after t seconds.
func (x *Currents) BreakingSteps(t float64) []working.Step {
	var steps []working.Step
	for _, d := range x.decaying {
		mu := Mu(t, d.Ratio)
		s := working.Step{Symbol: "mu " + d.Name, Meaning: fmt.Sprintf("of I/Ir = %s, after %s s", working.Number(d.Ratio, 4), working.Number(t, 3)), Result: working.Number(mu, 4), Basis: "IEC 60909-0:2016, 9.1, from memory"}
		if d.motor && d.perPair > 0 {
			s.Meaning += fmt.Sprintf("; q = %s of %s MW per pole pair", working.Number(Q(t, d.perPair), 4), working.Number(d.perPair, 3))
		}
		steps = append(steps, s)
	}
	return append(steps, working.Step{Symbol: "Ib", Meaning: "symmetrical breaking current", Formula: "I\"k - Σ w·(1 - mu·q)·I", Result: kA(x.Breaking(t)), Unit: "kA", Basis: "IEC 60909-0:2016, 9.1, from memory"},
		working.Step{Symbol: "i_dc", Meaning: "direct part then", Formula: "√2·" + x.plant() + "·e^(-2π·f·t·R/X)", Values: fmt.Sprintf("with X/R %s at the equivalent frequency of that time", working.Number(x.xrAt(t), 4)), Result: kA(x.DC(t)), Unit: "kA", Basis: "IEC 60909-0:2016, 8.1.3, from memory"})
}

// SteadySteps is the working of the steady current.
func (x *Currents) SteadySteps() []working.Step {
	basis := "IEC 60909-0:2016, 10, from memory"
	if strings.HasPrefix(x.How, "generators") {
		basis = "network with synchronous reactances, in place of the factor λ of IEC 60909-0:2016, 10"
	}
	return []working.Step{{Symbol: "Ik", Meaning: "steady current: " + x.How, Result: kA(x.Steady), Unit: "kA", Basis: basis}}
}

// InterruptingSteps is the working of an interrupting duty; s is 1 for a
// rating by total current.
func (x *Currents) InterruptingSteps(cycles, s, k float64) []working.Step {
	steps := []working.Step{
		{Symbol: "I", Meaning: "symmetrical current of the interrupting network", Result: kA(x.Later), Unit: "kA"},
		{Symbol: "X/R", Meaning: "of it, from separate networks", Result: working.Number(x.LaterXR, 4)}}
	if s > 1 {
		steps = append(steps, working.Step{Symbol: "S", Meaning: "rated total over symmetrical current", Formula: "√(1 + 2·e^(-2t/τ))", Values: fmt.Sprintf("with t %s cycles", working.Number(cycles, 3)), Result: working.Number(s, 5), Basis: "IEEE C37.04-1999, from memory"})
	}
	return append(steps, working.Step{Symbol: "MF", Meaning: "multiplying factor, remote generation", Formula: "√(1 + 2·e^(-4π·C/(X/R))) / S, at least 1", Values: fmt.Sprintf("with C %s cycles", working.Number(cycles, 3)), Result: working.Number(k, 5), Basis: "IEEE C37.010, from memory"},
		working.Step{Symbol: "duty", Formula: "MF·I", Result: kA(k * x.Later), Unit: "kA"})
}

// FirstSteps is the working of a duty in the first half cycle.
func (x *Currents) FirstSteps(value float64) []working.Step {
	return []working.Step{
		{Symbol: "X/R", Result: working.Number(x.XR, 4)},
		{Symbol: "duty", Meaning: "symmetrical current with the factor of its offset", Formula: "I·factor", Values: fmt.Sprintf("%s kA × %s", kA(x.Initial), working.Number(value/x.Initial, 5)), Result: kA(value), Unit: "kA", Basis: "IEEE C37.13, C37.41, from memory"}}
}

// ThermalSteps is the working of the thermal equivalent current over t seconds.
func (x *Currents) ThermalSteps(t float64) []working.Step {
	if x.Method.Practice == IEEE {
		tau := x.XR / (2 * math.Pi * x.Method.Frequency)
		return []working.Step{{Symbol: "Ith", Meaning: "current with the same heat, its direct part decaying by X/R", Formula: "I·√(1 + τ/t·(1 - e^(-2t/τ)))", Values: fmt.Sprintf("with I %s kA, τ %s s and t %s s", kA(x.Initial), working.Number(tau, 3), working.Number(t, 3)),
			Result: kA(x.Thermal(t)), Unit: "kA", Basis: "heat of an offset sinusoid"}}
	}
	n := 1.0
	if x.Steady > 0 {
		n = N(t, x.Initial/x.Steady)
	}
	return []working.Step{
		{Symbol: "m", Formula: "(e^(4·f·t·ln(kappa - 1)) - 1)/(2·f·t·ln(kappa - 1))", Values: fmt.Sprintf("with kappa %s and t %s s", working.Number(x.Kappa, 4), working.Number(t, 3)), Result: working.Number(M(x.Method.Frequency, t, x.Kappa), 4), Basis: "IEC 60909-0:2016, 12, from memory"},
		{Symbol: "n", Meaning: fmt.Sprintf("of I\"k/Ik = %s", working.Number(x.Initial/math.Max(x.Steady, 1e-9), 4)), Result: working.Number(n, 4), Basis: "IEC 60909-0:2016, annex A, from memory"},
		{Symbol: "Ith", Formula: "I\"k·√(m + n)", Result: kA(x.Thermal(t)), Unit: "kA", Basis: "IEC 60909-0:2016, 12, from memory"}}
}
