package network

// A Part is one impedance of a piece of plant, as it goes into its element.
// Impedances are in ohm, seen from where the element has them.
type Part struct {
	Kind Kind
	// Name is the plant's name; of a bank, that of the single-phase unit.
	Name string
	Of   PartOf
}

// A PartOf says which impedance of the plant is meant.
type PartOf string

const (
	OfSeries      PartOf = "series"    // an entry of a line's matrix; the one of a reactor or regulator
	OfPositive    PartOf = "positive"  // positive sequence, and a short-circuit impedance of a two-winding unit
	OfNegative    PartOf = "negative"  // negative sequence of a source
	OfZero        PartOf = "zero"      // zero sequence
	OfMagnetising PartOf = "magnetise" // zero-sequence magnetising impedance
	OfNeutral     PartOf = "neutral"   // between a neutral and earth, and along a line's neutral
	OfPair12      PartOf = "1-2"       // short-circuit impedances of three windings, positive sequence
	OfPair13      PartOf = "1-3"
	OfPair23      PartOf = "2-3"
	OfZero12      PartOf = "zero 1-2" // the same in zero sequence
	OfZero13      PartOf = "zero 1-3"
	OfZero23      PartOf = "zero 2-3"
	OfHalf        PartOf = "half" // of a unit with its middle brought out, to one half
)

// alter gives an impedance as the options want it.
func (f *fromStudy) alter(kind Kind, name string, of PartOf, z complex128) complex128 {
	if f.options.Impedance == nil || z == 0 {
		return z
	}
	return f.options.Impedance(Part{kind, name, of}, z)
}

func (f *fromStudy) alterLine(name string, d *LineData) {
	if f.options.Impedance == nil {
		return
	}
	if d.Sequence && d.Built == nil && !d.Averaged {
		d.Z1, d.Z0 = f.alter(Line, name, OfPositive, d.Z1), f.alter(Line, name, OfZero, d.Z0)
		d.Z = BalancedMatrix(d.Phases.Count(), d.Z1, d.Z0)
	} else {
		altered := make([]complex128, len(d.Z))
		for i, z := range d.Z {
			altered[i] = f.alter(Line, name, OfSeries, z)
		}
		d.Z = altered
	}
	if d.Earthing != 0 {
		// A conductance; of what the alteration makes of it only the magnitude counts.
		d.Earthing = 1 / magnitude(f.alter(Line, name, OfNeutral, complex(1/d.Earthing, 0)))
	}
}

func (f *fromStudy) alterTransformer(name string, d *TransformerData) {
	d.Z1 = f.alter(Transformer, name, OfPositive, d.Z1)
	d.Z0 = f.alter(Transformer, name, OfZero, d.Z0)
	d.Zm0 = f.alter(Transformer, name, OfMagnetising, d.Zm0)
	f.alterPoints(Transformer, name, &d.From, &d.To)
}

func (f *fromStudy) alterPoints(kind Kind, name string, points ...*NeutralPoint) {
	for _, p := range points {
		p.Z = f.alter(kind, name, OfNeutral, p.Z)
	}
}

func (f *fromStudy) alterThreeWinding(name string, d *ThreeWindingData) {
	for i, of := range []PartOf{OfPair12, OfPair13, OfPair23} {
		d.Z1[i] = f.alter(ThreeWindingTransformer, name, of, d.Z1[i])
		d.Z0[i] = f.alter(ThreeWindingTransformer, name, []PartOf{OfZero12, OfZero13, OfZero23}[i], d.Z0[i])
		f.alterPoints(ThreeWindingTransformer, name, &d.Point[i])
	}
}

func (f *fromStudy) alterUnit(u *Unit) {
	u.Z = f.alter(Bank, u.Name, OfPositive, u.Z)
	u.ZHalf = f.alter(Bank, u.Name, OfHalf, u.ZHalf)
}

func (f *fromStudy) alterInfeed(name string, d *InfeedData) {
	d.Z1 = f.alter(Infeed, name, OfPositive, d.Z1)
	d.Z2 = f.alter(Infeed, name, OfNegative, d.Z2)
	if !d.Open {
		d.Z0 = f.alter(Infeed, name, OfZero, d.Z0)
	}
}

func (f *fromStudy) alterMachine(kind Kind, name string, d *MachineData) {
	d.Z1 = f.alter(kind, name, OfPositive, d.Z1)
	d.Z2 = f.alter(kind, name, OfNegative, d.Z2)
	d.Z0 = f.alter(kind, name, OfZero, d.Z0)
	f.alterPoints(kind, name, &d.Neutral)
}
