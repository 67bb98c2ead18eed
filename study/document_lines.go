package study

import "feederwright/quantity"

// How overhead lines and cables are built: what a line type may refer to
// instead of stating impedances.

// A Conductor is a wire: of a line, of a cable's core, or one of its screen.
type Conductor struct {
	Library      Value[string]                      `key:"library" doc:"A conductor of the program's library, by name: feederwright conductors lists them with their sources. Keys given beside it take the place of the library's values."`
	Diameter     Value[quantity.Length]             `key:"diameter" doc:"Outside diameter of the metal."`
	GMR          Value[quantity.Length]             `key:"gmr" doc:"Geometric mean radius."`
	Strands      Value[int]                         `key:"strands" doc:"Number of equal strands of one non-magnetic metal: 1 for a solid wire, 7, 19, 37, 61 ... Gives the geometric mean radius where none is stated."`
	Resistance   Value[quantity.ImpedancePerLength] `key:"resistance" doc:"Resistance per length at system frequency, skin effect included."`
	DCResistance Value[quantity.ImpedancePerLength] `key:"dc resistance" doc:"Resistance per length for direct current, instead of 'resistance'; skin effect is added (IEC 60287-1-1)."`
	ResistanceAt Value[quantity.Temperature]        `key:"resistance at" doc:"Temperature of the metal that the resistance holds for. Needed where another temperature is asked for."`
	Material     Value[string]                      `key:"material" one-of:"aluminium copper hard-drawn-copper lead steel" doc:"Metal, by whose temperature coefficient the resistance is converted. A wire with a steel core counts as aluminium."`
	Ampacity     Value[quantity.Current]            `key:"ampacity" doc:"Continuous current rating."`
	ShortTime    Value[quantity.Current]            `key:"short-time" doc:"Short-circuit current that it withstands for 1 s."`
	Provenance
}

// A PoleTop is where wires are fixed on the poles of a line.
type PoleTop struct {
	Positions *NamedValues[quantity.Position] `key:"positions" need:"yes" doc:"Places for wires, with names of your own: { left: -0.9 m at 9.5 m, right: 0.9 m at 9.5 m }."`
	Sag       Value[quantity.Length]          `key:"sag" doc:"Sag at mid-span. The mean height over the span, which counts, is that at the pole less two thirds of it. Default: the heights given are mean heights."`
	Provenance
}

// A Cable is one single-core cable: a core, its insulation and its screen.
type Cable struct {
	Core             Value[Ref]                         `key:"core" need:"yes" refers:"conductor" doc:"Conductor of the core."`
	ConductorScreen  Value[quantity.Length]             `key:"diameter under insulation" doc:"Diameter over the conductor's screening layer, where the insulation begins. Default: that of the core."`
	Insulation       Value[quantity.Length]             `key:"diameter over insulation" need:"yes" doc:"Diameter over the insulation itself."`
	Permittivity     Value[quantity.Number]             `key:"permittivity" need:"yes" doc:"Relative permittivity of the insulation."`
	InsulationScreen Value[string]                      `key:"insulation screen" one-of:"present absent" doc:"Whether a conducting layer lies over the insulation, so that the field under separate screen wires is radial. Default present."`
	Screen           Value[string]                      `key:"screen" need:"yes" one-of:"wires tape none" doc:"Metal screen: concentric wires, a tape or sheath that makes a closed tube, or none."`
	ScreenWires      Value[int]                         `key:"screen wires" doc:"Number of concentric wires."`
	ScreenWire       Value[Ref]                         `key:"screen wire" refers:"conductor" doc:"Conductor that each of them is."`
	ScreenDiameter   Value[quantity.Length]             `key:"diameter over screen" doc:"Diameter over the wires, or over the tape."`
	Thickness        Value[quantity.Length]             `key:"screen thickness" doc:"Thickness of a tape or sheath."`
	ScreenResistance Value[quantity.ImpedancePerLength] `key:"screen resistance" doc:"Resistance per length of the whole tape or sheath; or its material."`
	ScreenAt         Value[quantity.Temperature]        `key:"screen resistance at" doc:"Temperature that the screen's resistance holds for."`
	ScreenMaterial   Value[string]                      `key:"screen material" one-of:"aluminium copper hard-drawn-copper lead steel" doc:"Metal of a tape or sheath: gives its resistance as a closed tube where none is stated, and converts it between temperatures."`
	Outer            Value[quantity.Length]             `key:"outer diameter" need:"yes" doc:"Diameter over everything."`
	Provenance
}

// A Build says how a line of a type is built, in place of impedances.
type Build struct {
	PoleTop          Value[Ref]                    `key:"pole top" refers:"pole top" doc:"Overhead line: where its wires are."`
	Conductor        Value[Ref]                    `key:"conductor" refers:"conductor" doc:"Phase conductor of an overhead line."`
	NeutralConductor Value[Ref]                    `key:"neutral conductor" refers:"conductor" doc:"Neutral of an overhead line; or a bare neutral laid beside cables."`
	ShieldWire       Value[Ref]                    `key:"shield wire" refers:"conductor" doc:"Wire above the phases against lightning, earthed at every pole."`
	Positions        *NamedValues[string]          `key:"positions" doc:"Which conductor is at which place of the pole top: { A: left, B: middle, C: right, N: low }. A shield wire is called shield, or shield 1, shield 2."`
	Neutral          Value[string]                 `key:"neutral" one-of:"reduced explicit" doc:"Whether the neutral counts as earthed all along and is eliminated (reduced), or stays a conductor N of its own with its earthings (explicit); its buses then have N. With screens earthed at both ends, these are part of the neutral. Default reduced."`
	NeutralEarthing  Value[quantity.EarthingAlong] `key:"neutral earthing" doc:"Earthings of an explicit neutral along the line, as 25 ohm every 300 m: their conductance, spread evenly, stands half at each end of a section."`
	Cable            Value[Ref]                    `key:"cable" refers:"cable" doc:"Cable line: the single-core cable that each phase is."`
	Laying           Value[string]                 `key:"laying" one-of:"flat trefoil" doc:"Cables side by side, phases from left to right, or in a triangle. Needed for more than one phase."`
	Spacing          Value[quantity.Length]        `key:"spacing" doc:"Distance between the axes of neighbouring cables. Default: they touch."`
	Depth            Value[quantity.Length]        `key:"depth" doc:"Depth of the cables' axes. It has no influence with the modified Carson equations."`
	NeutralDistance  Value[quantity.Length]        `key:"neutral distance" doc:"Distance of the bare neutral's axis from that of the first cable, on the side away from the others."`
	Screens          Value[string]                 `key:"screens" one-of:"both-ends one-end" doc:"Where the screens of cables are earthed: at both ends, so that they carry current, or at one. Needed for cables with screens."`
	Resistivity      Value[quantity.Resistivity]   `key:"earth resistivity" doc:"Resistivity of the ground. Default: that of the method, or 100 ohm.m."`
	Return           Value[string]                 `key:"earth return" one-of:"modified-carson carson-series complex-depth wedepohl-wilcox" doc:"How the return through the earth is figured: modified Carson (the default), or for overhead lines Carson's series or the complex depth, or for cables Wedepohl and Wilcox."`
	Temperature      Value[quantity.Temperature]   `key:"temperature" doc:"Temperature of all metal of the line. Default: that for which each conductor's resistance is stated; of the library, 50 degC or the nearest it has."`
	HotTemperature   Value[quantity.Temperature]   `key:"hot temperature" doc:"Highest temperature of the metal, for conditions with conductors: hot."`
}

// IsBuilt tells whether anything of how a type is built is given.
func (b *Build) IsBuilt() bool { return there(b.PoleTop.At, b.Cable.At) }

// KeepsNeutral tells whether lines of the type have a conductor N of their own.
func (b *Build) KeepsNeutral() bool { return b.Neutral.V == "explicit" }
