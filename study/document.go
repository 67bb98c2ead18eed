// Package study is the document: one YAML file, with the files it includes,
// that describes a station and its feeders. It reads the document with
// positions, checks it, writes its JSON Schema and edits it in place.
//
// The types in this file are the one definition of the format: reader,
// schema, reference page and editor all walk them. Struct tags:
//
//	key:"x/r"          the key in the file
//	doc:"..."          meaning, unit and side; goes to schema and reference
//	need:"yes"         the key must be present
//	refers:"bus"       the text is the name of another entry; kinds are
//	                   joined with | ("line|transformer")
//	one-of:"a b c"     the words allowed
//	kind:"bus"         what one entry of a table is called; in a table of
//	                   tables, the outer and the inner kind ("axis/state")
//	space:"device"     tables with the same space share one set of names
//	computed:"no"      it is for the reader, and no part of what is computed
//	place:"any"        an included file may have this key too, as it may have
//	                   every table
//
// A pointer to a struct is an optional group of keys. Everything else that
// is absent has Given == false; a missing number never reads as zero.
package study

import "feederwright/quantity"

// A Mark is a place in a file. Line and Col count from 1; Col counts
// characters, as editors do. Start and End are byte offsets of the text.
type Mark struct {
	File       string
	Line, Col  int
	Start, End int
}

// An Origin says where a value came from.
type Origin struct {
	Source  string // letter, nameplate, drawing ... in the author's words
	Date    string // as typed
	Known   string // "measured", "nameplate", "letter", "calculated", "assumed" or ""
	Assumed bool   // Known is "assumed", or Source begins with that word
	// Low and High are the ends of the range that the author says the value lies
	// in, as typed; "" where none is said. They are of the value itself, and not
	// handed on from an entry to its values.
	Low, High string
}

// A Value is one scalar of the document: what was read, whether it was
// given at all, where it stands, as it was typed, and where it came from.
// In the file it is either the bare scalar or the long form
// { value: ..., source: ..., date: ..., known: ..., between: ... }; At is the scalar in
// either form, its quotes included, and Text is what the quotes hold. Of a
// list or a map, At and Text are the whole of it as it stands in the file.
// A value that stands there but could not be read has At, and is not Given.
type Value[T any] struct {
	V      T
	Given  bool
	At     Mark
	Text   string
	Origin Origin
	Parts  []Mark // where V is a list: the places of its elements
}

// An Entry is one named thing of a Table.
type Entry[T any] struct {
	Name   string
	NameAt Mark
	At     Mark // the whole entry, from its key to the end of its value
	Origin Origin
	Item   T
}

// A Table is a mapping from names to things, in the order of the file.
type Table[T any] struct {
	Entries []Entry[T]
	At      Mark
	// places of the entries by name, as far as they were added by the reader; the first of a name counts
	places map[string]int
}

// Find returns the entry of that name, or nil.
func (t *Table[T]) Find(name string) *Entry[T] {
	if i, ok := t.places[name]; ok && i < len(t.Entries) && t.Entries[i].Name == name {
		return &t.Entries[i]
	} else if !ok && len(t.places) == len(t.Entries) {
		return nil
	}
	for i := range t.Entries {
		if t.Entries[i].Name == name {
			return &t.Entries[i]
		}
	}
	return nil
}

// Names returns the names in order.
func (t *Table[T]) Names() []string {
	names := make([]string, len(t.Entries))
	for i, e := range t.Entries {
		names[i] = e.Name
	}
	return names
}

// A Provenance may stand in every entry; it holds for all values of the
// entry that do not say their own.
type Provenance struct {
	Source  Value[string] `key:"source" doc:"Where the values of this entry came from: letter, nameplate, drawing, and its date. A text that begins with 'assumed' marks them as assumed."`
	Known   Value[string] `key:"known" one-of:"measured nameplate letter calculated assumed" doc:"How the values are known."`
	Date    Value[string] `key:"date" doc:"Date of the source, year-month-day."`
	Assumed Value[[]Ref]  `key:"assumed" doc:"Keys of this entry whose values are assumed, as a list; they are listed in every output."`
	Note    Value[string] `key:"note" doc:"Free text for the reader."`
}

// A Ref is the name of another entry.
type Ref string

// A Document is the whole study.
type Document struct {
	Format    Value[int]                `key:"feederwright" place:"any" need:"yes" doc:"Version of the file format. This program reads 1."`
	Title     Value[string]             `key:"study" computed:"no" need:"yes" doc:"What the study is called on every output."`
	Frequency Value[quantity.Frequency] `key:"frequency" need:"yes" doc:"System frequency, 50 Hz or 60 Hz."`
	Rotation  Value[string]             `key:"rotation" one-of:"ABC ACB" doc:"Phase rotation. Default ABC. Vector groups describe the terminals as wired, so with rotation ACB a Dyn1 unit shifts positive sequence the other way."`
	Phases    Value[string]             `key:"phases" one-of:"ABC L123" doc:"How outputs name the phases: ABC gives A B C, L123 gives L1 L2 L3. Default ABC. Files may use either."`
	Practice  Value[string]             `key:"practice" one-of:"ieee iec" doc:"Practice by which duties are figured."`
	Include   Value[[]Ref]              `key:"include" computed:"no" place:"any" doc:"Files whose entries belong to this study (types, plant), relative to this file."`
	Note      Value[string]             `key:"note" computed:"no" place:"any" doc:"Free text for the reader."`
	Method    *Method                   `key:"method" doc:"Choices of the fault calculation. Every default used is listed in the outputs."`

	Limits *Limits `key:"service limits" doc:"Limits of voltage and loading in service. The defaults are common practice, without a source."`

	Supply               Table[Infeed]                  `key:"supply" kind:"infeed" doc:"Infeeds: the utility's system, and boundaries to a neighbour's feeder, each as an equivalent behind one bus."`
	Buses                Table[Bus]                     `key:"buses" kind:"bus" doc:"Buses and poles: every place where plant is connected."`
	Transformers         Table[Transformer]             `key:"transformers" kind:"transformer" space:"branch" doc:"Two-winding three-phase transformers."`
	EarthingTransformers Table[EarthingTransformer]     `key:"earthing transformers" kind:"earthing transformer" space:"branch" doc:"Earthing (zig-zag or wye-delta) transformers: a zero-sequence path to earth at one bus."`
	ThreeWinding         Table[ThreeWindingTransformer] `key:"three-winding transformers" kind:"three-winding transformer" space:"branch" doc:"Three-phase transformers with three windings."`
	Banks                Table[Bank]                    `key:"banks" kind:"bank" space:"branch" doc:"Banks of single-phase transformers: wye, delta, open wye, open delta, centre-tapped services. Their units follow in a table of their own."`
	SinglePhase          Table[SinglePhaseTransformer]  `key:"single-phase transformers" kind:"single-phase transformer" doc:"The units of the banks."`
	Regulators           Table[Regulator]               `key:"regulators" kind:"regulator" space:"branch" doc:"Step-voltage regulators."`
	Reactors             Table[Reactor]                 `key:"reactors" kind:"reactor" space:"branch" doc:"Series reactors."`
	Conductors           Table[Conductor]               `key:"conductors" kind:"conductor" doc:"Wires and cores: sizes and resistance, for line types that say how a line is built."`
	PoleTops             Table[PoleTop]                 `key:"pole tops" kind:"pole top" doc:"Where wires are fixed on the poles of overhead lines."`
	Cables               Table[Cable]                   `key:"cables" kind:"cable" doc:"Constructions of single-core cables."`
	LineTypes            Table[LineType]                `key:"line types" kind:"line type" doc:"Types of overhead lines and cables: impedances per length, or how the line is built."`
	EarthingConductors   Table[EarthingConductor]       `key:"earthing conductors" kind:"earthing conductor" doc:"Conductors that carry earth-fault current at a bus: to the earthing grid, the neutral, between grids. Duties hold them against their cross-section."`
	Lines                Table[Line]                    `key:"lines" kind:"line" space:"branch" doc:"Overhead line sections and cables."`
	Capacitors           Table[Capacitor]               `key:"capacitors" kind:"capacitor" doc:"Shunt capacitor banks."`
	Loads                Table[Load]                    `key:"loads" kind:"load" doc:"Loads."`
	InductionMachines    Table[InductionMachine]        `key:"induction machines" kind:"induction machine" doc:"Induction motors and generators as sources of fault current."`
	SynchronousMachines  Table[SynchronousMachine]      `key:"synchronous machines" kind:"synchronous machine" doc:"Synchronous generators and motors as sources of fault current."`
	Inverters            Table[Inverter]                `key:"inverters" kind:"inverter" doc:"Sources behind an inverter, whose control sets their fault current."`
	Switches             Table[Switch]                  `key:"switches" kind:"switch" space:"device" doc:"Switches and links."`
	Breakers             Table[Breaker]                 `key:"breakers" kind:"breaker" space:"device" doc:"Circuit breakers and circuit switchers."`
	Reclosers            Table[Breaker]                 `key:"reclosers" kind:"recloser" space:"device" doc:"Line reclosers."`
	Fuses                Table[Fuse]                    `key:"fuses" kind:"fuse" space:"device" doc:"Fuses and cutouts."`
	CurrentTransformers  Table[CurrentTransformer]      `key:"current transformers" kind:"current transformer" space:"vantage" doc:"Current transformers and sensors, with the conductors they enclose and the way they face."`
	VoltageTransformers  Table[VoltageTransformer]      `key:"voltage transformers" kind:"voltage transformer" space:"vantage" doc:"Voltage transformers and sensors, with their connection."`
	Relays               Table[Relay]                   `key:"relays" kind:"relay" space:"vantage" doc:"Relays and controls: which instrument transformers they see and what they trip."`
	Conditions           Table[Difference]              `key:"conditions" kind:"condition" doc:"Named ways the system can stand. Each states only what differs from the study as written."`
	Axes                 Table[Table[Difference]]       `key:"axes" kind:"axis/state" doc:"Axes of conditions: every combination of one state from each axis is a condition, except those excluded."`
	Exclude              Value[[]map[string]string]     `key:"exclude" place:"any" doc:"Combinations of axis states that cannot occur: a list of maps from axis to state."`
	Accepted             Table[Acceptance]              `key:"accepted" computed:"no" kind:"accepted finding" doc:"Findings that somebody has looked at and accepts, by their identity as check prints it. They are no part of what is computed. feederwright accept writes them."`

	// File is the name of the main file, as given to Read.
	File string
	// Files are all files read, main file first, with their bytes.
	Files []SourceFile
}

// A SourceFile is one file of the study as it was read.
type SourceFile struct {
	Name string
	Text []byte
}

// Method holds the choices of the fault calculation.
type Method struct {
	Prefault    Value[quantity.Fraction]    `key:"prefault" doc:"Source voltage before the fault, in percent of the nominal voltage of the infeed's bus. Default 100 %. An infeed may state its own voltage."`
	State       Value[string]               `key:"prefault state" one-of:"sources load-flow" doc:"State before the fault. sources: the infeeds alone drive the network, loads and machines as the keys below say. load-flow: the solved load flow of the condition; its loads then count as the impedances that they are at the voltages found, capacitors count, taps stand where their controls leave them, and machines and inverters give what they gave. Default sources."`
	Charging    Value[string]               `key:"charging" one-of:"counted neglected" doc:"Whether line and cable charging counts. Default counted."`
	Capacitors  Value[string]               `key:"capacitors" one-of:"counted neglected" doc:"Whether shunt capacitor banks count. Default neglected, as usual for fault currents."`
	Loads       Value[string]               `key:"loads" one-of:"counted neglected" doc:"Whether loads count, as constant impedances at nominal voltage. Default neglected, as usual for fault currents."`
	Machines    Value[string]               `key:"machines" one-of:"subtransient transient neglected" doc:"Which reactance of rotating machines counts: subtransient, for the first cycles; transient, when induction machines have decayed and count no more; or that they are neglected. Default subtransient."`
	Inverters   Value[string]               `key:"inverters" one-of:"counted neglected" doc:"Whether inverters count. Default counted."`
	Resistance  Value[[]quantity.Impedance] `key:"fault resistances" doc:"Fault resistances shown in the tables besides zero, in ohm."`
	Conductors  Value[string]               `key:"conductors" one-of:"cold hot" doc:"Whether line impedances count as given (cold), or those with conductors at their highest temperature (hot), as for smallest fault currents by IEC 60909-0. Default cold. A condition may state its own."`
	Resistivity Value[quantity.Resistivity] `key:"earth resistivity" doc:"Resistivity of the ground for lines given by how they are built, where their type states none."`
	DutyMethod
	Provenance
}

// An Infeed is the system behind one bus.
type Infeed struct {
	At       Value[Ref]              `key:"at" need:"yes" refers:"bus" doc:"Bus where the equivalent stands."`
	Voltage  Value[quantity.Voltage] `key:"voltage" doc:"Line-to-line source voltage before the fault. Default: the study's prefault percentage of the bus's nominal voltage."`
	Service  Value[quantity.Voltage] `key:"service voltage" doc:"Line-to-line source voltage in the load flow, behind the infeed's impedance. Default: voltage, else the nominal voltage of its bus; a prefault percentage does not count there, since it may be a voltage factor."`
	Angle    Value[quantity.Angle]   `key:"angle" doc:"Angle of the source's phase A voltage. Default: 0 for the first infeed; further infeeds follow the vector groups on the way from the first, with no load flow between them."`
	Boundary Value[string]           `key:"boundary" computed:"no" doc:"For a neighbour's feeder: whose, and which."`
	Maximum  *InfeedLevel            `key:"maximum" doc:"Strongest present state."`
	Minimum  *InfeedLevel            `key:"minimum" doc:"Weakest state that protection must work in."`
	Future   *InfeedLevel            `key:"future" doc:"Strongest foreseen state."`
	Provenance
}

// An InfeedLevel is one strength of an infeed, in whichever form the letter has it.
type InfeedLevel struct {
	ThreePhase     Value[quantity.FaultLevel]      `key:"three-phase" doc:"Three-phase fault level, as current (kA) or apparent power (MVA)."`
	XR             Value[quantity.Number]          `key:"x/r" doc:"X/R of the positive-sequence impedance."`
	LineToGround   Value[quantity.FaultLevel]      `key:"line-to-ground" doc:"Line-to-earth fault level: current in the faulted phase (kA), or √3 × line-to-line voltage × that current (MVA)."`
	LineToGroundXR Value[quantity.Number]          `key:"line-to-ground x/r" doc:"X/R of the line-to-earth loop, that is of 2·Z1+Z0 together. The zero-sequence impedance needs it: magnitudes alone do not give Z0."`
	Z1             Value[quantity.SystemImpedance] `key:"z1" doc:"Positive-sequence impedance, ohm at this bus or per unit on a stated base."`
	Z2             Value[quantity.SystemImpedance] `key:"z2" doc:"Negative-sequence impedance. Default: equal to z1."`
	Z0             Value[quantity.SystemImpedance] `key:"z0" doc:"Zero-sequence impedance, or 'open' for a source without earth."`
	AtVoltage      Value[quantity.Voltage]         `key:"at voltage" doc:"Line-to-line voltage that the level is stated at. Default: the bus's nominal voltage."`
	Factor         Value[quantity.Number]          `key:"voltage factor" doc:"Factor c contained in the stated level (IEC 60909-0: Z = c·U²/S). Default 1."`
	Provenance
}

// A Bus is a place where plant is connected.
type Bus struct {
	Voltage         Value[quantity.Voltage] `key:"voltage" need:"yes" doc:"Nominal line-to-line voltage."`
	Phases          Value[quantity.Phases]  `key:"phases" doc:"Conductors present. Default ABC."`
	NeutralEarthing Value[quantity.Neutral] `key:"neutral earthing" doc:"For a bus with a conductor N: how N is earthed here: solid, open, or through an impedance. Default open."`
	DutyBus
	Provenance
}

// A Transformer is a two-winding three-phase transformer.
type Transformer struct {
	From           Value[Ref]                  `key:"from" need:"yes" refers:"bus" doc:"Bus of the first winding of the vector group (the upper-case letter)."`
	To             Value[Ref]                  `key:"to" need:"yes" refers:"bus" doc:"Bus of the second winding (the lower-case letter)."`
	Group          Value[quantity.VectorGroup] `key:"group" need:"yes" doc:"Vector group, IEC 60076-1: Dyn1, YNd11, Dzn0 ... The clock number is by how much the second winding lags the first, in steps of 30 degrees."`
	Rating         Value[quantity.Ratings]     `key:"rating" need:"yes" doc:"Rated power; several cooling stages as 15/20/25 MVA."`
	Voltages       Value[quantity.VoltagePair] `key:"voltages" need:"yes" doc:"Rated line-to-line voltages, first winding / second winding, at the principal tap."`
	Impedance      Value[quantity.PercentOn]   `key:"impedance" need:"yes" doc:"Short-circuit impedance, as 8.5 % on 15 MVA. Without 'on', the first rating is the base."`
	XR             Value[quantity.Number]      `key:"x/r" doc:"X/R of the short-circuit impedance."`
	Losses         Value[quantity.ActivePower] `key:"losses" doc:"Load loss at the base of the impedance, instead of x/r."`
	ZeroSequence   Value[quantity.PercentOn]   `key:"zero-sequence" doc:"Zero-sequence short-circuit impedance. Needed where a winding with its neutral earthed faces a delta, or both neutrals are brought out."`
	ZeroSequenceXR Value[quantity.Number]      `key:"zero-sequence x/r" doc:"X/R of the zero-sequence impedance. Default: as x/r."`
	Magnetising    Value[quantity.PercentOn]   `key:"zero-sequence magnetising" doc:"Zero-sequence magnetising impedance of a three-limb core, for units without a delta: of wye-wye units the branch between the two halves of the zero-sequence impedance; of a wye facing a zigzag, what the terminals show. Without it, a YNy or Yyn unit passes no zero sequence."`
	Neutral        Value[quantity.Neutral]     `key:"neutral" doc:"Earthing of the neutral: solid, open, or an impedance (6.35 ohm, j2.6 ohm). For groups with two neutrals use 'from neutral' and 'to neutral'."`
	FromNeutral    Value[quantity.Neutral]     `key:"from neutral" doc:"Earthing of the first winding's neutral."`
	ToNeutral      Value[quantity.Neutral]     `key:"to neutral" doc:"Earthing of the second winding's neutral."`
	FromTaps       Value[quantity.TapRange]    `key:"from taps" doc:"Tap range on the first winding, as +-5 % in 4 steps."`
	ToTaps         Value[quantity.TapRange]    `key:"to taps" doc:"Tap range on the second winding."`
	FromTap        Value[quantity.Fraction]    `key:"from tap" doc:"Position of the first winding's taps, percent of rated turns. Default 0 %. The impedance in ohm seen from the other winding stays as at the principal tap."`
	ToTap          Value[quantity.Fraction]    `key:"to tap" doc:"Position of the second winding's taps, percent of rated turns. Default 0 %."`
	Control        *TapControl                 `key:"control" doc:"Control of the taps under load, on the winding that has a tap range. Without it the position stays."`
	DutyTransformer
	Provenance
}

// An EarthingTransformer is a zero-sequence path to earth at one bus.
type EarthingTransformer struct {
	At             Value[Ref]                `key:"at" need:"yes" refers:"bus" doc:"Bus."`
	Z0             Value[quantity.Impedance] `key:"z0" doc:"Zero-sequence impedance per phase, ohm at this bus."`
	NeutralCurrent Value[quantity.Current]   `key:"neutral current" doc:"Instead of z0: neutral current at full line-to-neutral voltage with no other impedance; Z0 = 3·U/(√3·I), taken as a reactance unless x/r is given."`
	XR             Value[quantity.Number]    `key:"x/r" doc:"X/R of the zero-sequence impedance where neutral current is given."`
	Neutral        Value[quantity.Neutral]   `key:"neutral" doc:"Earthing of its neutral. Default solid."`
	Provenance
}

// Electrical constants of a line, per length; in a type, or on the line itself.
type Electrical struct {
	Z1        Value[quantity.SeriesImpedance]          `key:"z1" doc:"Positive-sequence series impedance, per length; on a line also total in ohm."`
	Z0        Value[quantity.SeriesImpedance]          `key:"z0" doc:"Zero-sequence series impedance."`
	Z         Value[quantity.SeriesImpedance]          `key:"z" doc:"Loop impedance of a single-phase section, phase conductor with its return."`
	Matrix    Value[[][]quantity.SeriesImpedance]      `key:"matrix" doc:"Phase impedance matrix: list of rows, full or lower triangle, in the order of the phases."`
	Z1Hot     Value[quantity.SeriesImpedance]          `key:"z1 hot" doc:"z1 with conductors at their highest temperature, for conditions with conductors: hot."`
	Z0Hot     Value[quantity.SeriesImpedance]          `key:"z0 hot" doc:"z0 at that temperature."`
	ZHot      Value[quantity.SeriesImpedance]          `key:"z hot" doc:"z at that temperature."`
	MatrixHot Value[[][]quantity.SeriesImpedance]      `key:"matrix hot" doc:"matrix at that temperature."`
	B1        Value[quantity.SusceptancePerLength]     `key:"b1" doc:"Positive-sequence charging susceptance per length."`
	B0        Value[quantity.SusceptancePerLength]     `key:"b0" doc:"Zero-sequence charging susceptance per length."`
	B         Value[quantity.SusceptancePerLength]     `key:"b" doc:"Charging susceptance to earth per length of a single-phase section."`
	C1        Value[quantity.CapacitancePerLength]     `key:"c1" doc:"Positive-sequence (working) capacitance per length, instead of b1."`
	C0        Value[quantity.CapacitancePerLength]     `key:"c0" doc:"Zero-sequence capacitance per length, instead of b0."`
	BMatrix   Value[[][]quantity.SusceptancePerLength] `key:"b matrix" doc:"Charging susceptance matrix per length: list of rows, full or lower triangle; off-diagonals negative."`
	Ampacity  Value[quantity.Current]                  `key:"ampacity" doc:"Continuous current rating of a conductor."`
	ShortTime Value[quantity.Current]                  `key:"short-time" doc:"Short-circuit current that the conductor withstands for 1 s."`
	ScreenMay Value[quantity.Current]                  `key:"screen short-time" doc:"Earth-fault current that the cable's screen withstands for 1 s. Or its section, metal and temperatures."`
	DutyScreen
}

// A LineType is a conductor or cable type.
type LineType struct {
	Phases Value[int] `key:"phases" doc:"How many phase conductors the data is for: 1, 2 or 3. Default 3, or the size of the matrix."`
	Electrical
	Build
	Provenance
}

// A Line is a section of overhead line or cable.
type Line struct {
	From            Value[Ref]                    `key:"from" need:"yes" refers:"bus" doc:"Bus at the start of the section."`
	To              Value[Ref]                    `key:"to" need:"yes" refers:"bus" doc:"Bus at its end."`
	Type            Value[Ref]                    `key:"type" refers:"line type" doc:"Line type; or give the impedances here."`
	Length          Value[quantity.Length]        `key:"length" doc:"Length. Needed unless the impedances are given in total ohm."`
	Phases          Value[quantity.Phases]        `key:"phases" doc:"Phase conductors of the section. Default: those both buses have."`
	Positions       *NamedValues[string]          `key:"positions" doc:"Which conductor is at which place of the type's pole top, where it differs from the type: { B: top, N: low }."`
	NeutralEarthing Value[quantity.EarthingAlong] `key:"neutral earthing" doc:"Earthings of the neutral along this section, in place of the type's: 25 ohm every 300 m."`
	Electrical
	Provenance
}

// A Capacitor is a shunt capacitor bank.
type Capacitor struct {
	At         Value[Ref]                    `key:"at" need:"yes" refers:"bus" doc:"Bus."`
	Power      Value[quantity.ReactivePower] `key:"power" need:"yes" doc:"Rated reactive power of the bank, all phases together."`
	Voltage    Value[quantity.Voltage]       `key:"voltage" doc:"Rated line-to-line voltage. Default: the bus's nominal voltage."`
	Connection Value[string]                 `key:"connection" need:"yes" one-of:"earthed-wye wye delta" doc:"Connection of the bank."`
	Phases     Value[quantity.Phases]        `key:"phases" doc:"Phases of the bank. Default: those of the bus."`
	Provenance
}

// A Load is a load.
type Load struct {
	At           Value[Ref]                    `key:"at" need:"yes" refers:"bus" doc:"Bus."`
	Power        Value[quantity.ApparentPower] `key:"power" need:"yes" doc:"Apparent power, all phases together."`
	PF           Value[quantity.PowerFactor]   `key:"pf" need:"yes" doc:"Power factor, as 0.95 lag."`
	Phases       Value[quantity.Phases]        `key:"phases" doc:"Phases of the load. Default: those of the bus."`
	Connection   Value[string]                 `key:"connection" one-of:"earthed-wye wye delta" doc:"Connection: phases to earth; phases to the bus's conductor N, or to a free star point where it has none; between the phases. Default earthed-wye; in load flow, wye on a bus with N, and delta where nothing earths the part of the network. A wye with a free star point counts as the delta of the same power."`
	Model        Value[string]                 `key:"model" one-of:"power current impedance" doc:"How the load follows the voltage. Default power; fault calculations that count loads take them as impedances."`
	Light        Value[quantity.Fraction]      `key:"light" doc:"Power at light load, percent of power, as 35 %. Conditions with loads: light use it."`
	Cold         Value[quantity.ColdLoad]      `key:"cold" doc:"Cold-load factor and how long it lasts, as 2.6 for 20 min."`
	Kind         Value[string]                 `key:"kind" computed:"no" doc:"What the load is, in words."`
	Transformers Value[quantity.ApparentPower] `key:"connected transformers" doc:"Rated power of the distribution transformers connected here, for inrush."`
	Provenance
}

// A Device is anything that can be opened. It stands in a branch near one of
// its ends, or between two buses.
type Device struct {
	In       Value[Ref]    `key:"in" refers:"line|transformer|three-winding transformer|bank|regulator|reactor" doc:"Line, transformer or other branch that the device stands in."`
	Near     Value[Ref]    `key:"near" refers:"bus" doc:"End of that branch where it stands."`
	From     Value[Ref]    `key:"from" refers:"bus" doc:"For a device between two buses: the first."`
	To       Value[Ref]    `key:"to" refers:"bus" doc:"For a device between two buses: the second."`
	Normally Value[string] `key:"normally" one-of:"open closed" doc:"Position in the study as written. Default closed."`
	Provenance
}

// A Breaker is a circuit breaker or recloser.
type Breaker struct {
	Device
	Opens        Value[quantity.Duration] `key:"opens in" doc:"Opening time, from trip to arc extinction, in cycles or seconds."`
	Closes       Value[quantity.Duration] `key:"closes in" doc:"Closing time."`
	Rated        Value[quantity.Voltage]  `key:"rated voltage" doc:"Rated maximum voltage."`
	Continuous   Value[quantity.Current]  `key:"continuous" doc:"Rated continuous current."`
	Interrupts   Value[quantity.Current]  `key:"interrupts" doc:"Rated symmetrical interrupting current, r.m.s."`
	Makes        Value[quantity.Current]  `key:"makes" doc:"Rated closing and latching (making) current, peak."`
	ShortTime    Value[quantity.Current]  `key:"short-time" doc:"Rated short-time withstand current, r.m.s."`
	ShortTimeFor Value[quantity.Duration] `key:"short-time for" doc:"Duration of the short-time current."`
	DutyDevice
	DutyBreaker
}

// A Fuse is a fuse or cutout.
type Fuse struct {
	Device
	Link       Value[string]           `key:"link" doc:"Fuse link, as 65T."`
	Rated      Value[quantity.Voltage] `key:"rated voltage" doc:"Rated maximum voltage."`
	Continuous Value[quantity.Current] `key:"continuous" doc:"Continuous current."`
	Interrupts Value[quantity.Current] `key:"interrupts" doc:"Rated symmetrical interrupting current, r.m.s."`
	DutyDevice
	DutyFuse
}

// A CurrentTransformer is a set of current transformers or sensors.
//
// It stands at a device, in a branch near one end, or in a neutral. The
// connection, or the list of enclosed conductors, gives each secondary
// circuit as a signed sum of conductor currents; current counts positive in
// the direction it faces.
type CurrentTransformer struct {
	At         Value[Ref]                    `key:"at" refers:"breaker|recloser|switch|fuse" doc:"Device whose current it measures."`
	In         Value[Ref]                    `key:"in" refers:"line|transformer|three-winding transformer|bank|regulator|reactor|earthing transformer" doc:"Branch whose current it measures, instead of 'at'."`
	Near       Value[Ref]                    `key:"near" refers:"bus" doc:"End of that branch."`
	Facing     Value[Ref]                    `key:"facing" refers:"bus" doc:"Bus towards which current counts as forward. Default: from the near bus into the branch."`
	Neutral    Value[string]                 `key:"neutral" one-of:"from to first second third own" doc:"The CT stands in the neutral of that transformer or bank: of its winding at from or to; of a three-winding transformer its first, second or third winding; or of an earthing transformer (own). Current counts positive from earth into the neutral."`
	Ratio      Value[quantity.CurrentRatio]  `key:"ratio" need:"yes" doc:"Ratio in use, as 600/5 A."`
	Full       Value[quantity.CurrentRatio]  `key:"full" doc:"Full ratio of a multi-ratio CT."`
	Connection Value[string]                 `key:"connection" one-of:"wye delta-AB delta-AC residual core-balance" doc:"Connection of the secondaries. delta-AB gives A-B, B-C, C-A; delta-AC gives A-C, B-A, C-B; core-balance is one window round all phases and, where there is one, the neutral. Default wye."`
	Encloses   Value[[]quantity.SignedSum]   `key:"encloses" doc:"Instead of a connection: one signed sum of conductors per secondary circuit, as [A - B, B - C, C - A]."`
	Class      Value[string]                 `key:"class" doc:"Accuracy class, as C400, 5P20, PX."`
	Burden     Value[quantity.ApparentPower] `key:"burden" doc:"Rated burden."`
	Resistance Value[quantity.Impedance]     `key:"resistance" doc:"Secondary winding resistance at 75 °C, at the ratio in use."`
	Winding    Value[string]                 `key:"winding" doc:"Winding resistance per turn, as 0.0025 ohm/turn."`
	Provenance
}

// A VoltageTransformer is a set of voltage transformers or sensors.
type VoltageTransformer struct {
	At         Value[Ref]                    `key:"at" refers:"bus" doc:"Bus where it is connected."`
	In         Value[Ref]                    `key:"in" refers:"line|transformer|three-winding transformer|bank|regulator|reactor" doc:"Branch whose end it is connected to, beyond the devices there."`
	Near       Value[Ref]                    `key:"near" refers:"bus" doc:"End of that branch."`
	Ratio      Value[quantity.VoltageRatio]  `key:"ratio" need:"yes" doc:"Ratio of each unit, as 7200/120 V."`
	Connection Value[string]                 `key:"connection" one-of:"wye open-delta broken-delta" doc:"wye: each phase to earth; open-delta: A-B and B-C; broken-delta: the sum of the three phase-to-earth voltages. Default wye."`
	Measures   Value[[]quantity.SignedSum]   `key:"measures" doc:"Instead of a connection: one signed sum of phase-to-earth voltages per unit, as [A], or [A - B]."`
	Burden     Value[quantity.ApparentPower] `key:"burden" doc:"Rated burden."`
	Provenance
}

// A Relay is a relay or control as a vantage: what it sees, what it trips.
type Relay struct {
	Sees  *Sees         `key:"sees" need:"yes" doc:"Instrument transformers wired to it."`
	Trips Value[[]Ref]  `key:"trips" refers:"breaker|recloser|switch" doc:"Devices it trips: a name, or a list."`
	Kind  Value[string] `key:"kind" computed:"no" doc:"What it is, in words."`
	Provenance
}

// Sees lists the instrument transformers of a relay.
type Sees struct {
	Current Value[[]Ref] `key:"current" refers:"current transformer" doc:"Phase current transformers: a name, or a list; each set is shown on its own."`
	Ground  Value[[]Ref] `key:"ground" refers:"current transformer" doc:"Current transformers of the earth elements: neutral, residual or core-balance."`
	Voltage Value[[]Ref] `key:"voltage" refers:"voltage transformer" doc:"Voltage transformers."`
}

// A Difference is what one condition, or one state of an axis, changes.
// Infeed holds one word for all infeeds under the empty name.
type Difference struct {
	Infeed     Value[map[string]string]         `key:"infeed" refers:"infeed" one-of:"maximum minimum future out" doc:"Level of the infeeds: one word for all (maximum, minimum, future), or a map from infeed to level, 'out' for disconnected."`
	Open       Value[[]Ref]                     `key:"open" refers:"breaker|recloser|switch|fuse" doc:"Devices open in this condition."`
	Close      Value[[]Ref]                     `key:"close" refers:"breaker|recloser|switch|fuse" doc:"Devices closed in this condition."`
	Out        Value[[]Ref]                     `key:"out" refers:"infeed|transformer|three-winding transformer|bank|earthing transformer|regulator|reactor|line|capacitor|load|induction machine|synchronous machine|inverter" doc:"Plant out of service."`
	In         Value[[]Ref]                     `key:"in" refers:"infeed|transformer|three-winding transformer|bank|earthing transformer|regulator|reactor|line|capacitor|load|induction machine|synchronous machine|inverter" doc:"Plant in service, where the study as written or another axis has it out."`
	Neutrals   *NamedValues[quantity.Neutral]   `key:"neutrals" refers:"transformer|earthing transformer|synchronous machine" doc:"Neutral earthing that differs: a map from transformer or machine to solid, open or an impedance."`
	Taps       *NamedValues[quantity.Fraction]  `key:"taps" refers:"transformer|three-winding transformer" doc:"Tap positions that differ: a map from transformer to percent, on the winding that has taps."`
	Regulators *NamedValues[quantity.Positions] `key:"regulator positions" refers:"regulator" doc:"Regulator positions that differ: a map from regulator to percent, one for all units or one for each."`
	Prefault   Value[quantity.Fraction]         `key:"prefault" doc:"Source voltage before the fault in this condition, percent of nominal."`
	Loads      Value[quantity.LoadLevel]        `key:"loads" doc:"Load level of the load flow: peak (the loads as written), light or cold (by the figures of each load), none, or a percentage of all, as 60 %. Default peak."`
	Note       Value[string]                    `key:"note" computed:"no" doc:"When this condition occurs."`
	Conductors Value[string]                    `key:"conductors" one-of:"cold hot" doc:"Whether line impedances count as given (cold) or with conductors at their highest temperature (hot) in this condition."`
}

// NamedValues is a map from names to scalars, in order.
type NamedValues[T any] struct {
	Names  []string
	NameAt []Mark
	Values []Value[T]
}
