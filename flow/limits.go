package flow

import (
	"fmt"
	"strings"

	"feederwright/quantity"
	"feederwright/study"
)

// Limits are what states of service are judged by: voltages over nominal,
// currents over ratings.
type Limits struct {
	VoltageLow, VoltageLowTarget   float64
	VoltageHigh, VoltageHighTarget float64
	Loading, LoadingTarget         float64
	// Defaults are those that the study doesn't state, in words.
	Defaults []string
}

// LimitsOf reads the limits of a study. The defaults are common practice, no
// source: ±10 % and a target of ±5 % of nominal voltage, 100 % and a target of
// 90 % of ratings.
func LimitsOf(doc *study.Document) Limits {
	var given study.Limits
	if doc.Limits != nil {
		given = *doc.Limits
	}
	var l Limits
	var taken []string
	read := func(to *float64, v study.Value[quantity.Fraction], usual float64, what string) {
		*to = usual
		if v.Given {
			*to = float64(v.V)
			return
		}
		taken = append(taken, fmt.Sprintf("%s %.0f %%", what, 100*usual))
	}
	read(&l.VoltageLow, given.VoltageLow, 0.90, "voltage low")
	read(&l.VoltageLowTarget, given.VoltageLowTarget, 0.95, "voltage low target")
	read(&l.VoltageHigh, given.VoltageHigh, 1.10, "voltage high")
	read(&l.VoltageHighTarget, given.VoltageHighTarget, 1.05, "voltage high target")
	read(&l.Loading, given.Loading, 1, "loading")
	read(&l.LoadingTarget, given.LoadingTarget, 0.9, "loading target")
	if len(taken) > 0 {
		l.Defaults = []string{"service limits taken as " + strings.Join(taken, ", ") + " (common practice, no source)"}
	}
	return l
}

// Loaded tells whether a study has anything that makes a flow.
func Loaded(doc *study.Document) bool {
	return len(doc.Loads.Entries)+len(doc.InductionMachines.Entries)+len(doc.SynchronousMachines.Entries)+len(doc.Inverters.Entries) > 0
}
