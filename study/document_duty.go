package study

import "feederwright/quantity"

// What short-circuit duties need beside the rest: choices of the practice,
// data of machines, and ratings. The types here are parts of those in
// document.go and document_plant.go.

// A DutyMethod holds the choices of the duties.
type DutyMethod struct {
	Edition     Value[int]               `key:"iec edition" doc:"Edition of IEC 60909-0 that duties follow: 2001 or 2016. They differ in the smallest voltage factor of low voltage. Default 2016."`
	Tolerance   Value[quantity.Fraction] `key:"low-voltage tolerance" doc:"Voltage tolerance of low-voltage systems, which decides their voltage factor c in IEC 60909-0: 6 % (c 1.05) or 10 % (c 1.10). Default 10 %."`
	PeakBy      Value[string]            `key:"peak by" one-of:"smallest-ratio ratio-at-place equivalent-frequency" doc:"How IEC 60909-0 duties find the factor κ of the peak in a network: from the smallest R/X of all branches (method a of the standard); from R/X at the fault place, times 1.15 (method b); or from the network at 20 Hz, 24 Hz at 60 Hz (method c). Default equivalent-frequency."`
	CurrentBy   Value[string]            `key:"current by" one-of:"impedance reactance" doc:"Whether IEEE duties are the voltage over the impedance (E/Z), or over the reactance alone (E/X), which is never less. Default impedance."`
	DutyVoltage Value[quantity.Fraction] `key:"duty voltage" doc:"Voltage E that drives IEEE duties, percent of nominal. Default: as prefault."`
	TapExtremes Value[string]            `key:"tap extremes" one-of:"counted neglected" doc:"Whether duties are also found with all on-load taps and regulators at either end of their ranges, beside the positions of the condition. Default counted."`
	FaultLasts  Value[quantity.Duration] `key:"fault lasts" doc:"Longest time until a fault is cleared, by which thermal duties of lines, screens and devices are judged. Default: 1 s, or a device's own time where that is shorter."`
	SmallMotors Value[string]            `key:"small motors" one-of:"counted neglected" doc:"Whether IEC 60909-0 duties count motors that the standard lets one leave out (rated currents together at most 1 % of the current without motors). Default counted."`
}

// A DutyTransformer says how a transformer stands in duties.
type DutyTransformer struct {
	OnLoad     Value[string]            `key:"on-load taps" one-of:"from to none" doc:"Which winding's taps change on load. Default: of a transformer with one tap range, that winding; with two ranges, the second."`
	UnitOf     Value[Ref]               `key:"unit of" refers:"synchronous machine" doc:"Generator that this is the unit transformer of, both being one power-station unit (IEC 60909-0). The generator stands on the second winding's bus."`
	NeutralFor Value[quantity.Duration] `key:"neutral current for" doc:"How long the neutral's earthing equipment carries its rated current."`
	NeutralMay Value[quantity.Current]  `key:"neutral current" doc:"Rated short-time current of the neutral's earthing resistor, reactor or conductor, at rated line-to-neutral voltage."`
}

// A DutyBus says how high a bus's voltage may be.
type DutyBus struct {
	Highest Value[quantity.Voltage] `key:"highest voltage" doc:"Highest voltage for equipment Um, line-to-line. The voltage factor c of IEC 60909-0 is not taken above Um/Un."`
}

// A DutyInduction is what duties need of an induction machine.
type DutyInduction struct {
	PolePairs Value[int]              `key:"pole pairs" doc:"Pole pairs: 1 for 3000 or 3600 r/min. IEC 60909-0 breaking currents and IEEE multipliers depend on it."`
	Converter Value[string]           `key:"converter" one-of:"feeds-back one-way doubly-fed" doc:"For a motor behind a static converter: whether the converter lets it feed back into a fault at first, or not at all. For a generator whose rotor is fed by a converter, as in wind turbines: doubly-fed. Default: no converter."`
	MostEver  Value[quantity.Current] `key:"largest current" doc:"Of a doubly-fed machine: largest instantaneous current of one machine at a three-phase fault at its bus, from its maker (i_WDmax of IEC 60909-0:2016). IEC duties need it."`
	PeakBy    Value[quantity.Number]  `key:"peak factor" doc:"Of a doubly-fed machine: κ of that largest current, from its maker. Default 1.7."`
	Sustained Value[quantity.Current] `key:"sustained current" doc:"Of a doubly-fed machine: largest steady current of one machine after a three-phase fault at its bus, r.m.s., from its maker. Default: its initial current counts as steady, on the safe side."`
}

// A DutySynchronous is what duties need of a synchronous machine.
type DutySynchronous struct {
	PF           Value[quantity.PowerFactor] `key:"pf" doc:"Rated power factor, as 0.8 lag. IEC 60909-0 corrects the impedance by it."`
	VoltageRange Value[quantity.Fraction]    `key:"voltage range" doc:"By how much the terminal voltage is held above rated for long, pG of IEC 60909-0. Default 0 %."`
	Synchronous  Value[quantity.Fraction]    `key:"synchronous" doc:"Saturated synchronous reactance xd, percent of rated: the inverse of the short-circuit ratio. Steady currents of IEC 60909-0 duties are found with it."`
	Excitation   Value[string]               `key:"excitation" one-of:"independent terminals" doc:"Where the field's power comes from: independent of the terminals' voltage (pilot exciter, auxiliary winding, series boost), or from the terminals, so that it fails with them. The smallest steady current counts a generator where it is independent, and leaves it out else."`
	Ceiling      Value[quantity.Number]      `key:"excitation ceiling" doc:"Highest field voltage over that at rated load, as 1.6. With the synchronous reactance it bounds the largest steady current; without, the generator's current counts as if it did not decay."`
	Build        Value[string]               `key:"build" one-of:"turbine hydro hydro-without-damper condenser motor" doc:"What it is. IEEE multipliers depend on it. Default turbine, for a generator with damper winding."`
}

// A DutyDevice holds the ratings that breakers, reclosers and fuses have in
// common beyond their currents.
type DutyDevice struct {
	TestXR Value[quantity.Number] `key:"test x/r" doc:"X/R of the circuit that the symmetrical interrupting rating was proved in, as 6.59 of a low-voltage power breaker (IEEE C37.13). Default, for low voltage by IEEE: that of moulded-case breakers by their rating, 1.73 to 10 kA, 3.18 to 20 kA, 4.9 above; else none, on the safe side."`
	Basis  Value[string]          `key:"rating basis" one-of:"symmetrical total" doc:"Whether the interrupting rating is the symmetrical current, or the total with its d.c. part (older ratings). Default symmetrical."`
}

// A DutyBreaker holds what duties need of a breaker or recloser.
type DutyBreaker struct {
	PartsIn     Value[quantity.Duration]   `key:"contacts part in" doc:"From the start of the fault to the parting of the contacts, the least relay time included. Default: from 'opens in', by the table of IEEE C37.010: 2, 3, 5, 8 cycles part after 1.5, 2, 3, 4."`
	DCTime      Value[quantity.Duration]   `key:"dc time constant" doc:"Time constant of the d.c. part in the rating (IEC 62271-100, IEEE C37.04). Default 45 ms."`
	RangeFactor Value[quantity.Number]     `key:"voltage range factor" doc:"K of older ratings: down to rated voltage over K the current may be as much larger as the voltage is lower. Default 1."`
	Sequence    Value[[]quantity.Duration] `key:"rated sequence" doc:"Dead times of the rated operating sequence, as [0.3 s, 3 min] for O - 0.3 s - CO - 3 min - CO."`
	Recloses    Value[[]quantity.Duration] `key:"recloses after" doc:"Dead times of the reclosing in service, as [0.5 s, 5 s, 15 s]."`
	Derating    Value[quantity.Fraction]   `key:"reclosing factor" doc:"d1 of the breaker's standard: by how much its interrupting rating falls for each opening beyond two, and for each dead time below 15 s in proportion."`
}

// A Switch is a switch or link.
type Switch struct {
	Device
	Rated        Value[quantity.Voltage]  `key:"rated voltage" doc:"Rated maximum voltage."`
	Continuous   Value[quantity.Current]  `key:"continuous" doc:"Rated continuous current."`
	Makes        Value[quantity.Current]  `key:"makes" doc:"Rated fault-making current, peak."`
	Peak         Value[quantity.Current]  `key:"peak withstand" doc:"Rated peak withstand current. Default: as makes."`
	ShortTime    Value[quantity.Current]  `key:"short-time" doc:"Rated short-time withstand current, r.m.s."`
	ShortTimeFor Value[quantity.Duration] `key:"short-time for" doc:"Duration of the short-time current."`
}

// A DutyFuse is what duties need of a fuse alone.
type DutyFuse struct {
	Least Value[quantity.Current] `key:"smallest breaking" doc:"Rated minimum breaking current of a back-up fuse (I3 of IEC 60282-1): what it melts at below that, it may not clear. Leave it out for a full-range or general-purpose fuse."`
}

// A DutyScreen gives a cable screen's short-time current by its heat.
type DutyScreen struct {
	ScreenSection Value[quantity.Area]        `key:"screen section" doc:"Cross-section of the metal screen of one core, instead of 'screen short-time'; with 'screen metal', 'screen begins at' and 'screen may reach'."`
	ScreenMetal   Value[string]               `key:"screen metal" one-of:"copper aluminium lead steel" doc:"Metal of the screen, which gives the constants of IEC 60949."`
	ScreenFrom    Value[quantity.Temperature] `key:"screen begins at" doc:"Temperature of the screen before the fault, as 80 degC in service at full load."`
	ScreenTo      Value[quantity.Temperature] `key:"screen may reach" doc:"Highest temperature of the screen at the end of the fault, which the layers on it decide, as 250 degC."`
}

// An EarthingConductor carries earth-fault current at a bus.
type EarthingConductor struct {
	At      Value[Ref]                  `key:"at" need:"yes" refers:"bus" doc:"Bus whose largest earth-fault current it carries."`
	Section Value[quantity.Area]        `key:"section" need:"yes" doc:"Cross-section, as 95 mm2."`
	Metal   Value[string]               `key:"metal" need:"yes" one-of:"copper aluminium lead steel" doc:"Metal, which gives the constants of IEC 60949."`
	From    Value[quantity.Temperature] `key:"begins at" need:"yes" doc:"Temperature before the fault, as 30 degC."`
	To      Value[quantity.Temperature] `key:"may reach" need:"yes" doc:"Highest temperature at the end of the fault: of a bare conductor by its joints and surroundings, of an insulated one by the insulation."`
	Share   Value[quantity.Fraction]    `key:"share" doc:"Part of the earth-fault current that it carries, where several share it. Default 100 %."`
	Lasts   Value[quantity.Duration]    `key:"fault lasts" doc:"Longest time until an earth fault here is cleared. Default: that of the method."`
	Provenance
}
