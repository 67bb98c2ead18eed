package study

import "feederwright/quantity"

// A ThreeWindingTransformer is a three-phase transformer with three windings.
type ThreeWindingTransformer struct {
	First          Value[Ref]                    `key:"first" need:"yes" refers:"bus" doc:"Bus of the first winding of the vector group (the upper-case letter)."`
	Second         Value[Ref]                    `key:"second" need:"yes" refers:"bus" doc:"Bus of the second winding."`
	Third          Value[Ref]                    `key:"third" refers:"bus" doc:"Bus of the third winding. Leave it out where that winding is not brought out; as a delta it still carries zero sequence."`
	Group          Value[quantity.WindingGroup]  `key:"group" need:"yes" doc:"Vector group, IEC 60076-1: YNyn0d11 ... Each clock number is by how much that winding lags the first, in steps of 30 degrees."`
	Rating         Value[quantity.Ratings]       `key:"rating" need:"yes" doc:"Rated power of the largest winding; several cooling stages as 15/20/25 MVA. The first is the base of impedances that state none."`
	Voltages       Value[quantity.VoltageTriple] `key:"voltages" need:"yes" doc:"Rated line-to-line voltages of the three windings, at the principal tap."`
	Z12            Value[quantity.PercentOn]     `key:"impedance 1-2" need:"yes" doc:"Short-circuit impedance between the first and second winding, the third open."`
	Z13            Value[quantity.PercentOn]     `key:"impedance 1-3" need:"yes" doc:"The same between the first and third winding."`
	Z23            Value[quantity.PercentOn]     `key:"impedance 2-3" need:"yes" doc:"The same between the second and third winding."`
	XR             Value[quantity.Number]        `key:"x/r" doc:"X/R of the short-circuit impedances that have none of their own."`
	XR12           Value[quantity.Number]        `key:"x/r 1-2" doc:"X/R of impedance 1-2."`
	XR13           Value[quantity.Number]        `key:"x/r 1-3" doc:"X/R of impedance 1-3."`
	XR23           Value[quantity.Number]        `key:"x/r 2-3" doc:"X/R of impedance 2-3."`
	Zero12         Value[quantity.PercentOn]     `key:"zero-sequence 1-2" doc:"Zero-sequence short-circuit impedance between the first and second winding, the third open. The three zero-sequence impedances are needed where a neutral is earthed and there is a delta or a second earthed neutral."`
	Zero13         Value[quantity.PercentOn]     `key:"zero-sequence 1-3" doc:"The same between the first and third winding."`
	Zero23         Value[quantity.PercentOn]     `key:"zero-sequence 2-3" doc:"The same between the second and third winding."`
	ZeroSequenceXR Value[quantity.Number]        `key:"zero-sequence x/r" doc:"X/R of the zero-sequence impedances. Default: as that of the same pair."`
	FirstNeutral   Value[quantity.Neutral]       `key:"first neutral" doc:"Earthing of the first winding's neutral."`
	SecondNeutral  Value[quantity.Neutral]       `key:"second neutral" doc:"Earthing of the second winding's neutral."`
	ThirdNeutral   Value[quantity.Neutral]       `key:"third neutral" doc:"Earthing of the third winding's neutral."`
	Taps           Value[quantity.TapRange]      `key:"taps" doc:"Tap range on the first winding, as +-10 % in 32 steps."`
	Tap            Value[quantity.Fraction]      `key:"tap" doc:"Position of the taps, percent of rated turns of the first winding. Default 0 %. The impedances in ohm seen from the second winding stay as at the principal tap."`
	Provenance
}

// A Bank is where up to three single-phase transformers are connected.
type Bank struct {
	From        Value[Ref]              `key:"from" need:"yes" refers:"bus" doc:"Bus of the first windings."`
	To          Value[Ref]              `key:"to" need:"yes" refers:"bus" doc:"Bus of the second windings. Of a centre-tapped service it has the phases ABN: A and B are then the two legs, N the middle."`
	FromNeutral Value[quantity.Neutral] `key:"from neutral" doc:"Earthing of the point N on the first side, where units end there: solid, open, or an impedance. A bus without conductor N leaves N to be the bank's own star point, which needs this; on a bus with N it stands from that conductor to earth, and that conductor is the star point."`
	ToNeutral   Value[quantity.Neutral] `key:"to neutral" doc:"The same on the second side."`
	Provenance
}

// A SinglePhaseTransformer is a unit of a bank.
type SinglePhaseTransformer struct {
	Bank      Value[Ref]                  `key:"bank" need:"yes" refers:"bank" doc:"Bank that the unit belongs to; a single one is a bank of one."`
	Primary   Value[quantity.WindingEnds] `key:"primary" need:"yes" doc:"Conductors that the first winding stands between, as A-N or A-B, the one with the polarity mark first."`
	Secondary Value[quantity.WindingEnds] `key:"secondary" need:"yes" doc:"The same of the second winding; with its middle brought out A-N-B."`
	Rating    Value[quantity.Ratings]     `key:"rating" need:"yes" doc:"Rated power of the unit."`
	Voltages  Value[quantity.VoltagePair] `key:"voltages" need:"yes" doc:"Rated voltages over the whole windings, as 7200/240 V."`
	Impedance Value[quantity.PercentOn]   `key:"impedance" need:"yes" doc:"Short-circuit impedance, over the whole second winding."`
	XR        Value[quantity.Number]      `key:"x/r" doc:"X/R of the short-circuit impedance."`
	Losses    Value[quantity.ActivePower] `key:"losses" doc:"Load loss at the base of the impedance, instead of x/r."`
	Half      Value[quantity.PercentOn]   `key:"half impedance" doc:"Of a unit with its middle brought out: impedance with one half of the second winding short-circuited and the other open, in percent on the unit's whole rating at the half's voltage."`
	HalfXR    Value[quantity.Number]      `key:"half x/r" doc:"X/R of the half impedance."`
	Halves    Value[string]               `key:"halves" one-of:"interlaced" doc:"Instead of the half impedance: the halves are wound interlaced, for which it is 1.5·R and 1.2·X of the whole (W. H. Kersting, Distribution System Modeling and Analysis, chapter 11 [from memory]). It is listed as an assumption."`
	Tap       Value[quantity.Fraction]    `key:"tap" doc:"Position of the first winding's taps, percent of rated turns. Default 0 %."`
	Provenance
}

// A Regulator is a step-voltage regulator.
type Regulator struct {
	From       Value[Ref]                `key:"from" need:"yes" refers:"bus" doc:"Bus on the source side."`
	To         Value[Ref]                `key:"to" need:"yes" refers:"bus" doc:"Bus on the regulated side."`
	Phases     Value[quantity.Phases]    `key:"phases" doc:"Phases regulated. Default: those both buses have."`
	Connection Value[string]             `key:"connection" need:"yes" one-of:"wye open-delta closed-delta" doc:"What the exciting windings stand between: each phase and N (earth where the buses have no N); A-B and C-B, with B passing straight through; or A-B, B-C and C-A, each ending at the regulated side of the next phase. A conductor N passes straight through."`
	Impedance  Value[quantity.PercentOn] `key:"impedance" need:"yes" doc:"Series impedance of each phase, as 0.4 % on 5 MVA: in percent of U²/S with the bus's nominal voltage. It is small, but has to be above zero."`
	XR         Value[quantity.Number]    `key:"x/r" need:"yes" doc:"X/R of the impedance."`
	Taps       Value[quantity.TapRange]  `key:"taps" doc:"Range, as +-10 % in 32 steps."`
	Position   Value[quantity.Positions] `key:"position" doc:"Position of the units in percent: one for all, or one for each in the order of the connection. Default 0 %. Positive raises the regulated side."`
	Control    *TapControl               `key:"control" doc:"Control of the positions. Without it they stay; a condition that states positions fixes them."`
	Design     Value[string]             `key:"design" one-of:"A B" doc:"Type by IEEE C57.15: of type A the regulated voltage is 1 + p times that of the source, of type B 1/(1 − p) times, p being the position. Default A."`
	Provenance
}

// A Reactor is a series reactor.
type Reactor struct {
	From      Value[Ref]                `key:"from" need:"yes" refers:"bus" doc:"Bus on one side."`
	To        Value[Ref]                `key:"to" need:"yes" refers:"bus" doc:"Bus on the other side."`
	Phases    Value[quantity.Phases]    `key:"phases" doc:"Phases that it stands in. Default: those both buses have; a conductor N among them passes straight through."`
	Z         Value[quantity.Impedance] `key:"z" doc:"Impedance of each phase, as 0.01 + j0.35 ohm."`
	Impedance Value[quantity.PercentOn] `key:"impedance" doc:"Instead of z: reactance in percent, as 6 % on 10 MVA at the bus's nominal voltage."`
	XR        Value[quantity.Number]    `key:"x/r" doc:"X/R, where the impedance is in percent."`
	Rated     Value[quantity.Current]   `key:"continuous" doc:"Rated continuous current."`
	Provenance
}

// An InductionMachine is an induction motor or generator, or several alike.
type InductionMachine struct {
	At          Value[Ref]                    `key:"at" need:"yes" refers:"bus" doc:"Bus."`
	Power       Value[quantity.ActivePower]   `key:"power" doc:"Rated output of one machine, with efficiency and pf; or give its rating."`
	Efficiency  Value[quantity.Fraction]      `key:"efficiency" doc:"Efficiency at rated output, as 95.7 %."`
	PF          Value[quantity.PowerFactor]   `key:"pf" doc:"Power factor at rated output, as 0.88 lag."`
	Rating      Value[quantity.ApparentPower] `key:"rating" doc:"Rated apparent power of one machine, instead of power, efficiency and pf."`
	Voltage     Value[quantity.Voltage]       `key:"voltage" doc:"Rated line-to-line voltage. Default: the bus's nominal voltage."`
	LockedRotor Value[quantity.Number]        `key:"locked-rotor current" need:"yes" doc:"Locked-rotor over rated current at rated voltage, as 5.5. It gives the impedance that the machine's voltage stands behind just after a fault: Z = U²/(S·that ratio)."`
	XR          Value[quantity.Number]        `key:"x/r" need:"yes" doc:"X/R of the locked-rotor impedance."`
	Z2          Value[quantity.PercentOn]     `key:"z2" doc:"Negative-sequence impedance in percent, as 17 % on 2.14 MVA. Default: the locked-rotor impedance."`
	Z2XR        Value[quantity.Number]        `key:"z2 x/r" doc:"X/R of z2. Default: as x/r."`
	Count       Value[int]                    `key:"count" doc:"How many such machines run. Default 1."`
	Load        Value[quantity.Fraction]      `key:"load" doc:"Loading in the load flow, percent of rated input, as 75 %. Default 100 %."`
	DutyInduction
	Provenance
}

// A SynchronousMachine is a synchronous generator or motor, or several alike.
type SynchronousMachine struct {
	At           Value[Ref]                    `key:"at" need:"yes" refers:"bus" doc:"Bus."`
	Rating       Value[quantity.ApparentPower] `key:"rating" need:"yes" doc:"Rated apparent power of one machine."`
	Voltage      Value[quantity.Voltage]       `key:"voltage" doc:"Rated line-to-line voltage. Default: the bus's nominal voltage."`
	Subtransient Value[quantity.Fraction]      `key:"subtransient" need:"yes" doc:"Direct-axis subtransient reactance x″d, percent of rated."`
	Transient    Value[quantity.Fraction]      `key:"transient" doc:"Direct-axis transient reactance x′d. Needed where the method takes machines as transient."`
	Negative     Value[quantity.Fraction]      `key:"negative" doc:"Negative-sequence reactance x2. Default: as x″d."`
	Zero         Value[quantity.Fraction]      `key:"zero" doc:"Zero-sequence reactance x0. Needed where the neutral is earthed."`
	XR           Value[quantity.Number]        `key:"x/r" need:"yes" doc:"X/R of the subtransient impedance; its resistance counts in all sequences."`
	Neutral      Value[quantity.Neutral]       `key:"neutral" need:"yes" doc:"Earthing of the neutral of one machine: solid, open or an impedance."`
	Count        Value[int]                    `key:"count" doc:"How many such machines run, each with its own neutral earthing. Default 1."`
	Runs         Value[string]                 `key:"runs as" one-of:"generator motor" doc:"In the load flow. Default generator."`
	Output       Value[quantity.ActivePower]   `key:"output" doc:"Active power of one machine in the load flow: given by a generator, taken by a motor. Default: the rating."`
	OutputPF     Value[quantity.PowerFactor]   `key:"output pf" doc:"Power factor of that output: lag where a generator gives reactive power, or a motor takes it. Default 1."`
	DutySynchronous
	Provenance
}

// An Inverter is a source whose current its control decides: photovoltaic
// plant, battery, full-converter wind turbine.
type Inverter struct {
	At       Value[Ref]                    `key:"at" need:"yes" refers:"bus" doc:"Bus of its terminals; its own transformer is a transformer of the study."`
	Rating   Value[quantity.ApparentPower] `key:"rating" need:"yes" doc:"Rated apparent power of all units together."`
	Voltage  Value[quantity.Voltage]       `key:"voltage" doc:"Rated line-to-line voltage. Default: the bus's nominal voltage."`
	Output   Value[quantity.ActivePower]   `key:"output" doc:"Active power given before the fault. Default: the rating."`
	PF       Value[quantity.PowerFactor]   `key:"pf" doc:"Power factor of that output: lag where it gives reactive power, lead where it takes it. Default 1."`
	Limit    Value[quantity.Fraction]      `key:"current limit" need:"yes" doc:"Largest current that it sustains, percent of rated current, as 120 %."`
	Response Value[string]                 `key:"response" need:"yes" one-of:"active reactive support" doc:"What it does in a voltage dip. active: power as before, up to the current limit. reactive: the whole limit as reactive current. support: reactive current in proportion to the dip, active current with what the limit leaves."`
	DipBelow Value[quantity.Fraction]      `key:"dip below" doc:"Positive-sequence voltage, percent of rated, below which it counts as a dip. Default 90 %."`
	Gain     Value[quantity.Number]        `key:"gain" doc:"Of response support: reactive current per voltage below the dip's threshold, over rated values, as 2."`
	Negative Value[quantity.Number]        `key:"negative-sequence gain" doc:"Negative-sequence reactive current per negative-sequence voltage in a dip, over rated values. Default: none, positive-sequence current only."`
	Ceases   Value[quantity.Fraction]      `key:"ceases below" doc:"Positive-sequence voltage, percent of rated, below which it gives no current. Default: it rides through every dip."`
	Provenance
}
