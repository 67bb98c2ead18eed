package study

import "feederwright/quantity"

// A TapControl is the control of a regulator, or of a transformer's taps
// under load. It measures through a voltage transformer, and where it
// compensates line drop through a current transformer, and steps until what
// it measures lies in its band.
type TapControl struct {
	Voltage     Value[quantity.Voltage]      `key:"voltage" need:"yes" doc:"Voltage that it holds, secondary, as 122 V: the middle of the band."`
	Ratio       Value[quantity.VoltageRatio] `key:"ratio" need:"yes" doc:"Ratio of the voltage transformer that it measures with, as 7200/120 V."`
	Band        Value[quantity.Voltage]      `key:"band" need:"yes" doc:"Whole width of the band, secondary, as 2 V: it steps when the voltage is further than half of it from the middle. A band narrower than one step makes it hunt."`
	Measures    Value[quantity.SignedSum]    `key:"measures" doc:"Voltage measured, as A, A - N or A - B; all units then move together. Default: each unit of a regulator measures what its own exciting winding stands between, and a transformer's control measures A - B."`
	Bus         Value[Ref]                   `key:"bus" refers:"bus" doc:"Bus whose voltage it measures. Default: the regulated side of the regulator, the second winding of the transformer."`
	DropR       Value[quantity.Voltage]      `key:"line-drop r" doc:"Line-drop compensation: resistive drop at the current 'line-drop at', V secondary."`
	DropX       Value[quantity.Voltage]      `key:"line-drop x" doc:"Line-drop compensation: reactive drop at that current, V secondary."`
	DropCurrent Value[quantity.Current]      `key:"line-drop at" doc:"Primary current at which the compensation is the drop stated: the primary rating of its current transformer."`
	Delay       Value[quantity.Duration]     `key:"delay" doc:"Time delay of the first step. Where several controls act in series, those with the shortest delay settle first. Default 30 s."`
	Provenance
}

// Limits are what states of service are judged by.
type Limits struct {
	VoltageLow        Value[quantity.Fraction] `key:"voltage low" doc:"Lowest voltage, percent of nominal. Default 90 %."`
	VoltageLowTarget  Value[quantity.Fraction] `key:"voltage low target" doc:"Voltage below which the finding is thin. Default 95 %."`
	VoltageHigh       Value[quantity.Fraction] `key:"voltage high" doc:"Highest voltage, percent of nominal. Default 110 %."`
	VoltageHighTarget Value[quantity.Fraction] `key:"voltage high target" doc:"Voltage above which the finding is thin. Default 105 %."`
	Loading           Value[quantity.Fraction] `key:"loading" doc:"Largest current or power over the rating. Default 100 %."`
	LoadingTarget     Value[quantity.Fraction] `key:"loading target" doc:"Loading above which the finding is thin. Default 90 %."`
	Provenance
}
