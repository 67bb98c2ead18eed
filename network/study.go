package network

import (
	"fmt"
	"math"

	"feederwright/phasor"
	"feederwright/quantity"
	"feederwright/study"
)

// A Model is one condition of a study as a network, with what its devices
// look at.
type Model struct {
	*Network
	State    study.State
	Vantages []Vantage
	// Defaults are the choices made where the study says nothing, in words.
	Defaults []string
	// Choices are those of them that are values, with their places in the study.
	Choices []Choice
	// Unproven tells, for buses where the zero-sequence impedance of an infeed
	// is not known but matters, which datum is missing. Faults to earth there
	// have no proven current.
	Unproven map[int]string
}

// A Vantage is how a device looks at the system.
type Vantage struct {
	Name     string
	Kind     string // "relay", "current transformer" or "voltage transformer"
	Currents []CurrentInput
	Voltages []VoltageInput
}

// A CurrentInput is one set of current transformers.
type CurrentInput struct {
	Name    string
	Probe   Probe
	Ratio   quantity.CurrentRatio
	Sums    []quantity.SignedSum // per secondary circuit: which conductors it encloses, with sign
	Neutral bool                 // it stands in a neutral: one conductor, the current from earth
	Where   string               // in words
}

// A VoltageInput is one set of voltage transformers.
type VoltageInput struct {
	Name  string
	Bus   int
	Ratio quantity.VoltageRatio
	Sums  []quantity.SignedSum
	Where string
}

// Options make places in a network that it would not have otherwise.
type Options struct {
	// Split are the fractions of lines, ascending and between 0 and 1, at which
	// a bus is put. The first piece keeps the line's name; see PieceName.
	Split map[string][]float64
	// Bridge are closed devices between two buses that become reactors of
	// BridgeImpedance of the same name, so that their conductors can be opened.
	Bridge map[string]bool
	// Flow: the network of a load flow, in which loads, capacitors, machines and
	// inverters all count, as they are in service.
	Flow bool
	// Held: with Flow, the same plant for faults, starting from that state.
	Held *Held

	unearthed map[string]bool // loads of no stated connection that stand between phases
	// Blind leaves the vantages out, for who doesn't ask what they see.
	Blind bool
	// Impedance, where there is one, changes each impedance before it becomes
	// part of an element: so correction factors come in, and networks of
	// reactances or resistances alone.
	Impedance func(Part, complex128) complex128
}

// BridgeImpedance stands for a closed device whose conductors are opened one by
// one, and for a conductor N that passes regulators and reactors: a millionth
// of an ohm, far below any contact.
const BridgeImpedance = 1e-6i

// PieceName is the name of the n-th piece of a split line, from 0, and of the
// bus at its end.
func PieceName(line string, n int) string {
	if n == 0 {
		return line
	}
	return fmt.Sprintf("%s (%d)", line, n+1)
}

// FromStudy builds the network of one condition. The document must have
// passed Validate without errors; what it still can't make sense of is an
// error that names the entry.
func FromStudy(doc *study.Document, state study.State) (*Model, error) {
	return FromStudyWith(doc, state, Options{})
}

// FromStudyWith is FromStudy with further places.
func FromStudyWith(doc *study.Document, state study.State, options Options) (*Model, error) {
	f := &fromStudy{doc: doc, state: state, options: options, ends: make(map[end]int), switches: make(map[string]int), constants: constants{doc: doc},
		m: &Model{State: state, Unproven: make(map[int]string)}}
	if doc.Rotation.V == "ACB" {
		f.b.Rotation = phasor.ACB
	}
	f.m.Defaults = append(f.m.Defaults, state.Defaults...)
	for _, add := range []func() error{f.addBuses, f.addDevices, f.addLines, f.addTransformers,
		f.addThreeWinding, f.addBanks, f.addRegulators, f.addReactors,
		f.addEarthingTransformers, f.addNeutralEarthings, f.addCapacitors, f.addLoads, f.addInfeeds, f.addMachines} {
		if err := add(); err != nil {
			return nil, err
		}
	}
	net, err := f.b.Build()
	if err != nil {
		return nil, err
	}
	if m, err, again := f.rebuilt(net); again {
		return m, err
	}
	f.m.Network = net
	f.markUnproven()
	if !options.Blind {
		f.addVantages()
	}
	return f.m, nil
}

type end struct{ branch, bus string }

type fromStudy struct {
	doc       *study.Document
	state     study.State
	options   Options
	b         Builder
	m         *Model
	buses     map[study.Ref]int
	ends      map[end]int    // inner terminal of a branch at an end with devices
	switches  map[string]int // by device name
	unknown   []int          // buses of infeeds whose zero sequence is not known
	shares    map[string]bool
	constants constants
}

func (f *fromStudy) out(kind, name string) bool {
	return f.state.Out[study.PlantRef{Kind: kind, Name: name}]
}

func (f *fromStudy) assume(format string, args ...any) {
	text := fmt.Sprintf(format, args...)
	if f.shares == nil {
		f.shares = make(map[string]bool)
	}
	if !f.shares[text] {
		f.shares[text] = true
		f.m.Defaults = append(f.m.Defaults, text)
	}
}

func (f *fromStudy) addBuses() error {
	f.buses = make(map[study.Ref]int, len(f.doc.Buses.Entries))
	for _, e := range f.doc.Buses.Entries {
		phases := abc
		if e.Item.Phases.Given {
			phases = e.Item.Phases.V
		}
		f.buses[study.Ref(e.Name)] = f.b.AddBus(e.Name, phases, float64(e.Item.Voltage.V))
	}
	return nil
}

func (f *fromStudy) bus(ref study.Ref) (int, error) {
	if i, ok := f.buses[ref]; ok {
		return i, nil
	}
	return 0, fmt.Errorf("bus %q does not exist", ref)
}

// addDevices places each device. One that stands in a branch gets a terminal
// behind it; further devices at the same end follow, away from the bus.
func (f *fromStudy) addDevices() error {
	for _, d := range f.doc.Devices() {
		closed := !f.state.Open[d.Name]
		if !d.In.Given {
			from, err := f.bus(d.From.V)
			if err != nil {
				return err
			}
			to, err := f.bus(d.To.V)
			if err != nil {
				return err
			}
			if closed && f.options.Bridge[d.Name] {
				phases := f.b.buses[from].Phases & f.b.buses[to].Phases
				if _, err := f.b.AddReactor(d.Name, from, to, phases, BridgeImpedance); err != nil {
					return err
				}
				continue
			}
			f.switches[d.Name] = f.b.AddSwitch(d.Kind, d.Name, from, to, closed)
			continue
		}
		branch, near := string(d.In.V), string(d.Near.V)
		bus, err := f.bus(d.Near.V)
		if err != nil {
			return err
		}
		phases, err := f.branchPhases(branch, d.Near.V)
		if err != nil {
			return err
		}
		before, ok := f.ends[end{branch, near}]
		if !ok {
			before = bus
		}
		behind := f.b.AddLineEnd(branch, phases, f.b.buses[bus].Nominal, d.Name+"/"+branch)
		f.ends[end{branch, near}] = behind
		f.switches[d.Name] = f.b.AddSwitch(d.Kind, d.Name, before, behind, closed)
	}
	return nil
}

// branchPhases are the conductors of a branch at its end near a bus.
func (f *fromStudy) branchPhases(name string, near study.Ref) (quantity.Phases, error) {
	if e := f.doc.Lines.Find(name); e != nil {
		return f.linePhases(&e.Item)
	}
	if b, ok := f.doc.Branch(name); ok {
		return f.doc.BranchConductors(b, max(b.End(near), 0)), nil
	}
	return 0, fmt.Errorf("no branch is called %q", name)
}

func (f *fromStudy) linePhases(l *study.Line) (quantity.Phases, error) {
	if l.Phases.Given {
		return l.Phases.V, nil
	}
	from, err := f.bus(l.From.V)
	if err != nil {
		return 0, err
	}
	to, err := f.bus(l.To.V)
	if err != nil {
		return 0, err
	}
	common := f.b.buses[from].Phases & f.b.buses[to].Phases
	c := &l.Electrical
	keeps := false
	if t := f.doc.LineTypes.Find(string(l.Type.V)); t != nil && !c.Z1.Given && !c.Z.Given && !c.Matrix.Given {
		c = &t.Item.Electrical
		keeps = t.Item.IsBuilt() && t.Item.KeepsNeutral()
	}
	if !c.Matrix.Given && !keeps {
		common &= abc // sequence data is for the phases; a neutral beside them needs a matrix
	}
	return common, nil
}

// terminal is the bus that a branch ends at: behind the devices at that end.
func (f *fromStudy) terminal(branch string, bus study.Ref) (int, error) {
	if t, ok := f.ends[end{branch, string(bus)}]; ok {
		return t, nil
	}
	return f.bus(bus)
}

// A LineData is a section's constants as the study gives them, for the whole
// length.
type LineData struct {
	Phases    quantity.Phases
	Length    float64      // m; 0 where the study gives total impedances alone
	Z         []complex128 // series impedance matrix, ohm
	Y         []complex128 // charging admittance matrix, S; nil for none
	Z1, Z0    complex128   // sequence impedances, ohm, where the data has them
	Sequence  bool         // Z1 and Z0 are given
	Single    bool         // Z1 holds the loop impedance of a single-phase section
	TypeName  string
	ZeroAsOne bool // zero-sequence charging taken equal to positive
	// Built is how the line is built, where its type says that; nil otherwise.
	Built *LineConstants
	// Averaged tells that Z1 and Z0 are those of the line as if transposed; Z is not.
	Averaged bool
	Earthing float64  // conductance of the neutral's earthings along the line, S; not in Y
	Hot      bool     // conductors at their highest temperature
	Taken    []string // choices made where the study says nothing, in words
}

// LineOf works out a line's constants; omega is 2π times the frequency. Hot
// asks for those with conductors at their highest temperature; where the
// study doesn't give them, the cold ones stand, and Taken says so.
func LineOf(doc *study.Document, e *study.Entry[study.Line], phases quantity.Phases, omega float64, hot bool) (LineData, error) {
	return lineOf(doc, e, phases, omega, hot, &constants{doc: doc})
}

func lineOf(doc *study.Document, e *study.Entry[study.Line], phases quantity.Phases, omega float64, hot bool, built *constants) (LineData, error) {
	d, err := seriesAndCharging(doc, e, phases, omega, hot, built)
	if err != nil {
		return d, err
	}
	along := e.Item.NeutralEarthing
	if t := doc.LineTypes.Find(d.TypeName); t != nil && !along.Given {
		along = t.Item.NeutralEarthing
	}
	if along.Given {
		d.earth(e.Name, along.V)
	}
	return d, nil
}

func seriesAndCharging(doc *study.Document, e *study.Entry[study.Line], phases quantity.Phases, omega float64, hot bool, built *constants) (LineData, error) {
	name, l := e.Name, &e.Item
	d := LineData{Phases: phases, Length: float64(l.Length.V), TypeName: string(l.Type.V)}
	c := &l.Electrical
	if l.Type.Given && !c.Z1.Given && !c.Z.Given && !c.Matrix.Given {
		t := doc.LineTypes.Find(string(l.Type.V))
		if t == nil {
			return d, fmt.Errorf("line %s: no line type is called %q", name, l.Type.V)
		}
		c = &t.Item.Electrical
		if t.Item.IsBuilt() {
			k, err := built.of(t, e, phases, hot)
			if err != nil {
				return d, fmt.Errorf("line %s: %w", name, err)
			}
			d.Hot = k.Hot
			d.built(k)
			return d, nil
		}
	}
	if hot {
		h := *c // the hot constants in the place of those as given
		switch {
		case c.Matrix.Given && c.MatrixHot.Given:
			h.Matrix, d.Hot = c.MatrixHot, true
		case c.Z1.Given && c.Z1Hot.Given && c.Z0Hot.Given:
			h.Z1, h.Z0, d.Hot = c.Z1Hot, c.Z0Hot, true
		case c.Z.Given && c.ZHot.Given:
			h.Z, d.Hot = c.ZHot, true
		default:
			what := "line " + name
			if c != &l.Electrical {
				what = "line type " + d.TypeName
			}
			d.Taken = append(d.Taken, what+": no hot impedance given; its conductors count as cold")
		}
		c = &h
	}
	n := phases.Count()
	total := func(s quantity.SeriesImpedance) complex128 {
		if s.PerLength {
			return s.Z * complex(d.Length, 0)
		}
		return s.Z
	}
	switch {
	case c.Matrix.Given:
		rows := c.Matrix.V
		if len(rows) != n {
			return d, fmt.Errorf("line %s: a matrix of %d rows for %d phases", name, len(rows), n)
		}
		d.Z = make([]complex128, n*n)
		for i := range rows {
			for j := range rows[i] {
				if j < n {
					d.Z[i*n+j] = total(rows[i][j])
					if len(rows[i]) == i+1 {
						d.Z[j*n+i] = d.Z[i*n+j]
					}
				}
			}
		}
	case c.Z1.Given && c.Z0.Given:
		if phases&^abc != 0 {
			return d, fmt.Errorf("line %s: z1 and z0 are for the phases alone; give a matrix for a section with a neutral conductor of its own", name)
		}
		d.Z1, d.Z0, d.Sequence = total(c.Z1.V), total(c.Z0.V), true
		d.Z = BalancedMatrix(n, d.Z1, d.Z0)
	case c.Z.Given && n == 1:
		d.Z1, d.Single = total(c.Z.V), true
		d.Z = []complex128{d.Z1}
	default:
		return d, fmt.Errorf("line %s: its impedance is not given (z1 and z0, z for a single phase, or matrix)", name)
	}
	length := complex(0, d.Length)
	var b1, b0 float64
	has := true
	switch {
	case c.BMatrix.Given:
		rows := c.BMatrix.V
		if len(rows) != n {
			return d, fmt.Errorf("line %s: a charging matrix of %d rows for %d phases", name, len(rows), n)
		}
		d.Y = make([]complex128, n*n)
		for i := range rows {
			for j := range rows[i] {
				if j < n {
					d.Y[i*n+j] = complex(float64(rows[i][j]), 0) * length
					if len(rows[i]) == i+1 {
						d.Y[j*n+i] = d.Y[i*n+j]
					}
				}
			}
		}
		return d, nil
	case c.B.Given:
		b1, b0 = float64(c.B.V), float64(c.B.V)
	case c.B1.Given || c.C1.Given:
		b1 = float64(c.B1.V)
		if c.C1.Given {
			b1 = omega * float64(c.C1.V)
		}
		switch {
		case c.B0.Given:
			b0 = float64(c.B0.V)
		case c.C0.Given:
			b0 = omega * float64(c.C0.V)
		default:
			b0, d.ZeroAsOne = b1, true
		}
	default:
		has = false
	}
	if has && (b1 != 0 || b0 != 0) {
		d.Y = BalancedMatrix(n, complex(b1, 0), complex(b0, 0))
		for i := range d.Y {
			d.Y[i] *= length
		}
	}
	return d, nil
}

func (f *fromStudy) method() study.Method {
	if f.doc.Method != nil {
		return *f.doc.Method
	}
	return study.Method{}
}

func (f *fromStudy) omega() float64 { return 2 * math.Pi * float64(f.doc.Frequency.V) }

func (f *fromStudy) addLines() error {
	charging := f.method().Charging
	if !charging.Given && len(f.doc.Lines.Entries) > 0 {
		f.assume("line and cable charging counted where it is given")
		f.choice("counted", "method", "charging")
	}
	for i := range f.doc.Lines.Entries {
		e := &f.doc.Lines.Entries[i]
		if f.out("line", e.Name) {
			continue
		}
		phases, err := f.linePhases(&e.Item)
		if err != nil {
			return err
		}
		d, err := lineOf(f.doc, e, phases, f.omega(), f.state.Hot, &f.constants)
		if err != nil {
			return err
		}
		for _, text := range d.Taken {
			f.assume("%s", text)
		}
		f.resistivityChoice(&d)
		if charging.V == "neglected" {
			d.Y = nil
		} else if d.ZeroAsOne {
			f.assume("line %s: zero-sequence charging taken equal to the positive-sequence one", e.Name)
			f.zeroChargingChoice(e)
		}
		f.alterLine(e.Name, &d)
		from, err := f.terminal(e.Name, e.Item.From.V)
		if err != nil {
			return err
		}
		to, err := f.terminal(e.Name, e.Item.To.V)
		if err != nil {
			return err
		}
		if err := f.addPieces(e.Name, from, to, phases, d); err != nil {
			return err
		}
	}
	return nil
}

// addPieces adds a line, in pieces where places on it are wanted.
func (f *fromStudy) addPieces(name string, from, to int, phases quantity.Phases, d LineData) error {
	share := func(m []complex128, part float64) []complex128 {
		if m == nil {
			return nil
		}
		out := make([]complex128, len(m))
		for i := range m {
			out[i] = m[i] * complex(part, 0)
		}
		return out
	}
	at, begin := from, 0.0
	fractions := f.options.Split[name]
	for n, x := range append(append([]float64(nil), fractions...), 1) {
		next := to
		if n < len(fractions) {
			next = f.b.AddLineEnd(name, phases, f.b.buses[from].Nominal, PieceName(name, n)+"/end")
		}
		if _, err := f.b.AddLine(PieceName(name, n), at, next, phases, share(d.Z, x-begin), share(d.withEarthing(d.Y), x-begin)); err != nil {
			return err
		}
		at, begin = next, x
	}
	return nil
}

// withXR splits an impedance magnitude by its X/R: R = Z/√(1+(X/R)²).
func withXR(z, xr float64) complex128 {
	r := z / math.Sqrt(1+xr*xr)
	return complex(r, xr*r)
}

// TransformerOf works out a transformer's constants in one condition.
func TransformerOf(e *study.Entry[study.Transformer], state study.State) (TransformerData, error) {
	name, t := e.Name, &e.Item
	fromTap, toTap := float64(t.FromTap.V), float64(t.ToTap.V)
	if tap, ok := state.Tap[name]; ok {
		if t.ToTaps.Given {
			toTap = float64(tap)
		} else {
			fromTap = float64(tap)
		}
	}
	d := TransformerData{Group: t.Group.V,
		VFrom: t.Voltages.V.From * (1 + fromTap), VTo: t.Voltages.V.To * (1 + toTap)}
	ohm := func(p quantity.PercentOn) float64 {
		base := p.BaseVA
		if base == 0 && len(t.Rating.V) > 0 {
			base = t.Rating.V[0]
		}
		return p.Fraction * d.VTo * d.VTo / base
	}
	z := ohm(t.Impedance.V)
	xr := float64(t.XR.V)
	if !t.XR.Given {
		base := t.Impedance.V.BaseVA
		if base == 0 && len(t.Rating.V) > 0 {
			base = t.Rating.V[0]
		}
		r := float64(t.Losses.V) / base * d.VTo * d.VTo / base
		if !t.Losses.Given || r > z || r <= 0 {
			return d, fmt.Errorf("transformer %s: x/r, or losses below the impedance, are needed", name)
		}
		d.Z1 = complex(r, math.Sqrt(z*z-r*r))
		xr = imag(d.Z1) / r
	} else {
		d.Z1 = withXR(z, xr)
	}
	if t.ZeroSequence.Given {
		if t.ZeroSequenceXR.Given {
			xr = float64(t.ZeroSequenceXR.V)
		}
		d.Z0 = withXR(ohm(t.ZeroSequence.V), xr)
	}
	if t.Magnetising.Given {
		d.Zm0 = complex(0, ohm(t.Magnetising.V))
	}
	both := t.Group.V.From.Neutral && t.Group.V.To.Neutral
	point := func(w quantity.Winding, own study.Value[quantity.Neutral], override bool) NeutralPoint {
		if !w.Neutral {
			return NeutralPoint{}
		}
		v := own.V
		if !own.Given && !both {
			v = t.Neutral.V
		}
		if n, ok := state.Neutral[name]; ok && override {
			v = n
		}
		return NeutralPoint{Exists: true, Earthed: !v.Open, Z: v.Z}
	}
	d.From = point(t.Group.V.From, t.FromNeutral, !both)
	d.To = point(t.Group.V.To, t.ToNeutral, true)
	return d, nil
}

func (f *fromStudy) addTransformers() error {
	for i := range f.doc.Transformers.Entries {
		e := &f.doc.Transformers.Entries[i]
		if f.out("transformer", e.Name) {
			continue
		}
		d, err := TransformerOf(e, f.state)
		if err != nil {
			return err
		}
		if e.Item.ZeroSequence.Given && !e.Item.ZeroSequenceXR.Given {
			f.assume("transformer %s: X/R of the zero-sequence impedance taken as that of the positive-sequence one", e.Name)
			if e.Item.XR.Given {
				f.choice(e.Item.XR.V, "transformers", e.Name, "zero-sequence x/r")
			}
		}
		from, err := f.terminal(e.Name, e.Item.From.V)
		if err != nil {
			return err
		}
		to, err := f.terminal(e.Name, e.Item.To.V)
		if err != nil {
			return err
		}
		f.alterTransformer(e.Name, &d)
		if _, err := f.b.AddTransformer(e.Name, from, to, d); err != nil {
			return err
		}
	}
	return nil
}

func (f *fromStudy) addEarthingTransformers() error {
	for i := range f.doc.EarthingTransformers.Entries {
		e := &f.doc.EarthingTransformers.Entries[i]
		if f.out("earthing transformer", e.Name) {
			continue
		}
		bus, err := f.bus(e.Item.At.V)
		if err != nil {
			return err
		}
		z0 := complex128(e.Item.Z0.V)
		if e.Item.NeutralCurrent.Given {
			x := math.Sqrt(3) * f.b.buses[bus].Nominal / float64(e.Item.NeutralCurrent.V)
			z0 = complex(0, x)
			if e.Item.XR.Given {
				z0 = withXR(x, float64(e.Item.XR.V))
			} else {
				f.assume("earthing transformer %s: its zero-sequence impedance taken as a pure reactance", e.Name)
				f.choice(quantity.Number(math.Inf(1)), "earthing transformers", e.Name, "x/r")
			}
		}
		neutral := e.Item.Neutral.V
		if n, ok := f.state.Neutral[e.Name]; ok {
			neutral = n
		}
		if neutral.Open {
			continue
		}
		z0 = f.alter(EarthingTransformer, e.Name, OfZero, z0)
		if _, err := f.b.AddEarthingTransformer(e.Name, bus, z0, f.alter(EarthingTransformer, e.Name, OfNeutral, neutral.Z)); err != nil {
			return err
		}
	}
	return nil
}

func (f *fromStudy) addCapacitors() error {
	counted := f.method().Capacitors
	if !counted.Given && len(f.doc.Capacitors.Entries) > 0 && !f.options.Flow {
		f.assume("shunt capacitor banks neglected in fault currents")
		f.choice("neglected", "method", "capacitors")
	}
	if counted.V != "counted" && !f.options.Flow {
		return nil
	}
	for i := range f.doc.Capacitors.Entries {
		e := &f.doc.Capacitors.Entries[i]
		err := f.shunt(Capacitor, e.Name, e.Item.At.V, e.Item.Phases, Connection(e.Item.Connection.V),
			complex(0, float64(e.Item.Power.V)), float64(e.Item.Voltage.V))
		if err != nil {
			return err
		}
	}
	return nil
}

// shunt adds a bank or load that takes the conjugate power conjS (VA, all
// phases together) at the line-to-line voltage v; 0 for the bus's nominal one.
func (f *fromStudy) shunt(kind Kind, name string, at study.Ref, own study.Value[quantity.Phases], c Connection, conjS complex128, v float64) error {
	if f.out(string(kind), name) {
		return nil
	}
	bus, err := f.bus(at)
	if err != nil {
		return err
	}
	phases := f.b.buses[bus].Phases & abc
	if own.Given {
		phases = own.V
	}
	if v == 0 {
		v = f.b.buses[bus].Nominal
	}
	n := phases.Count()
	_, err = f.b.AddShunt(kind, name, bus, phases, ConnectedShunt(c, n, BranchAdmittance(c, n, conjS, v)))
	return err
}

// BranchAdmittance is the admittance, in S, of each of the equal branches of a
// bank over n phases that takes the conjugate power conjS, in VA for all
// together, at the line-to-line voltage v in V:
//
//	earthed wye       n branches at v/√3
//	wye, delta, n=3   three branches at v/√3, three at v
//	wye, n=2          two branches in series at v: each at v/2
//	delta, n=2        one branch at v
//
// An unearthed bank on one phase carries no current, so it has no admittance.
func BranchAdmittance(c Connection, n int, conjS complex128, v float64) complex128 {
	switch {
	case c == EarthedWye || c == Wye && n == 3:
		return conjS / complex(float64(n)*v*v/3, 0)
	case c == Wye && n == 2:
		return 2 * conjS / complex(v*v, 0)
	case c == Delta && n == 3:
		return conjS / complex(3*v*v, 0)
	case c == Delta && n == 2:
		return conjS / complex(v*v, 0)
	}
	return 0
}

func (f *fromStudy) addLoads() error {
	if f.options.Flow {
		f.markHalves()
		return f.addFlowLoads()
	}
	counted := f.method().Loads
	if !counted.Given && len(f.doc.Loads.Entries) > 0 {
		f.assume("loads neglected in fault currents")
		f.choice("neglected", "method", "loads")
	}
	if counted.V != "counted" {
		return nil
	}
	f.markHalves()
	for i := range f.doc.Loads.Entries {
		e := &f.doc.Loads.Entries[i]
		c := Connection(e.Item.Connection.V)
		if c == "" {
			c = EarthedWye
			if !f.out("load", e.Name) {
				f.assume("load %s: connection taken as earthed-wye", e.Name)
				f.choice("earthed-wye", "loads", e.Name, "connection")
			}
		}
		pf := e.Item.PF.V
		s := float64(e.Item.Power.V)
		q := s * math.Sqrt(1-pf.Value*pf.Value)
		if pf.Leading {
			q = -q
		}
		if bus, err := f.bus(e.Item.At.V); err == nil && c == Wye && f.b.buses[bus].Phases.HasConductor(neutral) && !f.out("load", e.Name) {
			phases := f.loadPhases(&e.Item, bus, c)
			b := &f.b.buses[bus]
			list := LoadBranches(c, phases, complex(s*pf.Value, q), b.Nominal, b.PhaseVoltage(), ConstantPower)
			if _, err := f.b.AddShunt(Load, e.Name, bus, phases, BranchMatrix(list, phases.Count())); err != nil {
				return err
			}
			continue
		}
		if err := f.shunt(Load, e.Name, e.Item.At.V, e.Item.Phases, c, complex(s*pf.Value, -q), 0); err != nil {
			return err
		}
	}
	return nil
}

// An InfeedZ is an infeed's sequence impedances at its bus, in ohm.
type InfeedZ struct {
	Z1, Z2, Z0 complex128
	Open       bool // no zero-sequence path
	Unknown    bool // no zero-sequence data
	U          float64
	Factor     float64
}

// LevelOf works out the impedances of an infeed's level.
//
//	Z1 = c·U²/S = c·U/(√3·I)            split by X/R
//	Z0 = √3·c·U/I_lg − Z1 − Z2          complex, with the loop's own X/R
//
// U is the line-to-line voltage that the level is stated at, c the voltage
// factor contained in it. Source: symmetrical components; IEC 60909-0 for c.
func LevelOf(l *study.InfeedLevel, nominal float64) (InfeedZ, error) {
	z := InfeedZ{U: nominal, Factor: 1}
	if l.AtVoltage.Given {
		z.U = float64(l.AtVoltage.V)
	}
	if l.Factor.Given {
		z.Factor = float64(l.Factor.V)
	}
	system := func(s quantity.SystemImpedance) complex128 {
		if !s.PerUnit {
			return s.Z
		}
		base := s.BaseVolt
		if base == 0 {
			base = nominal
		}
		return s.Z * complex(base*base/s.BaseVA, 0)
	}
	magnitude := func(level quantity.FaultLevel) float64 {
		i := level.Ampere
		if i == 0 {
			i = level.VoltAmpere / (math.Sqrt(3) * z.U)
		}
		return z.Factor * z.U / (math.Sqrt(3) * i)
	}
	switch {
	case l.Z1.Given:
		z.Z1 = system(l.Z1.V)
	case l.ThreePhase.Given && l.XR.Given:
		z.Z1 = withXR(magnitude(l.ThreePhase.V), float64(l.XR.V))
	default:
		return z, fmt.Errorf("neither a three-phase level with x/r nor z1 is given")
	}
	z.Z2 = z.Z1
	if l.Z2.Given {
		z.Z2 = system(l.Z2.V)
	}
	switch {
	case l.Z0.Given && l.Z0.V.Open:
		z.Open = true
	case l.Z0.Given:
		z.Z0 = system(l.Z0.V)
	case l.LineToGround.Given && l.LineToGroundXR.Given:
		z.Z0 = withXR(3*magnitude(l.LineToGround.V), float64(l.LineToGroundXR.V)) - z.Z1 - z.Z2
	default:
		z.Unknown = true
	}
	return z, nil
}

func (f *fromStudy) addInfeeds() error {
	angles := f.angles()
	prefault := 1.0
	m := f.method()
	if m.Prefault.Given {
		prefault = float64(m.Prefault.V)
	}
	if f.state.Prefault != 0 {
		prefault = f.state.Prefault
	}
	for i := range f.doc.Supply.Entries {
		e := &f.doc.Supply.Entries[i]
		word := f.state.Infeed[e.Name]
		if word == "out" || f.out("infeed", e.Name) {
			continue
		}
		bus, err := f.bus(e.Item.At.V)
		if err != nil {
			return err
		}
		level := e.Item.Level(word)
		if level == nil {
			return fmt.Errorf("infeed %s has no level %q", e.Name, word)
		}
		z, err := LevelOf(level, f.b.buses[bus].Nominal)
		if err != nil {
			return fmt.Errorf("infeed %s, %s: %w", e.Name, word, err)
		}
		d := InfeedData{Z1: z.Z1, Z2: z.Z2, Z0: z.Z0, Open: z.Open || z.Unknown, Angle: angles[e.Name]}
		if z.Unknown {
			f.unknown = append(f.unknown, bus)
		}
		if !level.Z2.Given {
			f.assume("infeed %s: negative-sequence impedance taken equal to the positive-sequence one", e.Name)
			f.choice(quantity.SystemImpedance{Z: z.Z1}, "supply", e.Name, word, "z2")
		}
		switch {
		case f.options.Flow && e.Item.Service.Given:
			d.VLL = float64(e.Item.Service.V)
		case e.Item.Voltage.Given:
			d.VLL = float64(e.Item.Voltage.V)
		case f.options.Flow:
			d.VLL = f.b.buses[bus].Nominal
			f.assume("load flow: source voltage of infeed %s taken as 100 %% of nominal", e.Name)
		default:
			d.VLL = prefault * f.b.buses[bus].Nominal
			if !m.Prefault.Given && f.state.Prefault == 0 {
				f.assume("source voltage before the fault taken as 100 %% of nominal")
				f.choice(quantity.Fraction(1), "method", "prefault")
			}
		}
		f.alterInfeed(e.Name, &d)
		if _, err := f.b.AddInfeed(e.Name, bus, d); err != nil {
			return err
		}
	}
	return nil
}

// angles gives each infeed's source angle, rad: as stated, or such that no
// current flows between the infeeds: the first infeed's angle carried through
// the vector groups of the study, whatever is open in this condition.
func (f *fromStudy) angles() map[string]float64 {
	shift := make([]int, len(f.doc.Buses.Entries)) // steps of −30°
	seen := make([]bool, len(shift))
	type hop struct{ from, to, clock int }
	var hops []hop
	add := func(a, b study.Ref, clock int) {
		i, err := f.bus(a)
		j, err2 := f.bus(b)
		if err == nil && err2 == nil {
			hops = append(hops, hop{i, j, clock}, hop{j, i, -clock})
		}
	}
	for _, e := range f.doc.Lines.Entries {
		add(e.Item.From.V, e.Item.To.V, 0)
	}
	for _, e := range f.doc.Transformers.Entries {
		add(e.Item.From.V, e.Item.To.V, e.Item.Group.V.Clock)
	}
	for _, e := range f.doc.ThreeWinding.Entries {
		add(e.Item.First.V, e.Item.Second.V, e.Item.Group.V.Lag[1])
		if e.Item.Third.Given {
			add(e.Item.First.V, e.Item.Third.V, e.Item.Group.V.Lag[2])
		}
	}
	for _, b := range f.doc.Branches() {
		if b.Kind == "regulator" || b.Kind == "reactor" {
			add(b.Ends[0].V, b.Ends[1].V, 0)
		}
	}
	for _, d := range f.doc.Devices() {
		if !d.In.Given {
			add(d.From.V, d.To.V, 0)
		}
	}
	next := make([][]hop, len(shift))
	for _, h := range hops {
		next[h.from] = append(next[h.from], h)
	}
	steps := -30.0
	if f.b.Rotation == phasor.ACB {
		steps = 30 // the same terminals shift the other way
	}
	angles := make(map[string]float64)
	base := make([]float64, len(shift)) // angle of the infeed that a bus was reached from, rad
	for _, e := range f.doc.Supply.Entries {
		bus, err := f.bus(e.Item.At.V)
		if err != nil {
			continue
		}
		if !seen[bus] {
			seen[bus] = true
			base[bus] = float64(e.Item.Angle.V)
			for queue := []int{bus}; len(queue) > 0; queue = queue[1:] {
				for _, h := range next[queue[0]] {
					if !seen[h.to] {
						seen[h.to], shift[h.to], base[h.to] = true, shift[h.from]+h.clock, base[h.from]
						queue = append(queue, h.to)
					}
				}
			}
		}
		angles[e.Name] = base[bus] + steps*float64(shift[bus]%12)*math.Pi/180
		if e.Item.Angle.Given {
			angles[e.Name] = float64(e.Item.Angle.V)
		}
	}
	return angles
}

// markUnproven finds the buses whose earth faults depend on a zero-sequence
// impedance that the study doesn't give: those that zero-sequence current
// reaches from the infeed.
func (f *fromStudy) markUnproven() {
	net := f.m.Network
	for i := range net.Elements {
		e := &net.Elements[i]
		if e.Kind != Infeed || !net.Live(i) {
			continue
		}
		known := true
		for _, b := range f.unknown {
			known = known && b != e.Terminals[0].Bus
		}
		if known {
			continue
		}
		why := fmt.Sprintf("zero-sequence impedance of infeed %s", e.Name)
		stack := []int{e.Terminals[0].Bus}
		for len(stack) > 0 {
			b := stack[len(stack)-1]
			stack = stack[:len(stack)-1]
			if _, done := f.m.Unproven[b]; done {
				continue
			}
			f.m.Unproven[b] = why
			for _, k := range net.elementsAt[b] {
				o := &net.Elements[k]
				for a := range o.Terminals {
					for c := range o.Terminals[:a] {
						if passesZeroSequence(o, c, a) {
							stack = append(stack, o.Terminals[a].Bus, o.Terminals[c].Bus)
						}
					}
				}
			}
			for _, k := range net.switchesAt[b] {
				stack = append(stack, net.Switches[k].From, net.Switches[k].To)
			}
		}
	}
}

// passesZeroSequence tells whether plant couples the zero sequence of two of
// its terminals: the sum over the block between their phases is not zero.
func passesZeroSequence(e *Element, from, to int) bool {
	if e.Kind == Line || e.Kind == Reactor || e.Kind == Regulator {
		return true
	}
	m := len(rowConductors(e))
	a, b := e.offset(from), e.offset(to)
	sum, largest := complex128(0), 0.0
	for i := range (e.Terminals[from].Phases & abc).Count() {
		for j := range (e.Terminals[to].Phases & abc).Count() {
			y := e.Y[(a+i)*m+b+j]
			sum += y
			largest = math.Max(largest, abs1(y))
		}
	}
	return abs1(sum) > rowSumTolerance*largest
}

func (f *fromStudy) addVantages() {
	used := make(map[string]bool)
	for i := range f.doc.Relays.Entries {
		e := &f.doc.Relays.Entries[i]
		v := Vantage{Name: e.Name, Kind: "relay"}
		if s := e.Item.Sees; s != nil {
			for _, ref := range append(append([]study.Ref(nil), s.Current.V...), s.Ground.V...) {
				used["ct "+string(ref)] = true
				if c, ok := f.currentInput(string(ref)); ok {
					v.Currents = append(v.Currents, c)
				}
			}
			for _, ref := range s.Voltage.V {
				used["vt "+string(ref)] = true
				if u, ok := f.voltageInput(string(ref)); ok {
					v.Voltages = append(v.Voltages, u)
				}
			}
		}
		f.m.Vantages = append(f.m.Vantages, v)
	}
	for _, e := range f.doc.CurrentTransformers.Entries {
		if c, ok := f.currentInput(e.Name); ok && !used["ct "+e.Name] {
			f.m.Vantages = append(f.m.Vantages, Vantage{Name: e.Name, Kind: "current transformer", Currents: []CurrentInput{c}})
		}
	}
	for _, e := range f.doc.VoltageTransformers.Entries {
		if u, ok := f.voltageInput(e.Name); ok && !used["vt "+e.Name] {
			f.m.Vantages = append(f.m.Vantages, Vantage{Name: e.Name, Kind: "voltage transformer", Voltages: []VoltageInput{u}})
		}
	}
}

// sumsOf gives the conductor sums of a named connection over the conductors
// that are present.
func sumsOf(connection string, present quantity.Phases) []quantity.SignedSum {
	one := func(c ...int) quantity.SignedSum { // +1, −2 … : conductors from 1, signed
		var s quantity.SignedSum
		for _, k := range c {
			if k > 0 {
				s.Coefficient[k-1] = 1
			} else {
				s.Coefficient[-k-1] = -1
			}
		}
		return s
	}
	all := func(with quantity.Phases) quantity.SignedSum {
		var s quantity.SignedSum
		for _, c := range with.Conductors() {
			s.Coefficient[c] = 1
		}
		return s
	}
	switch connection {
	case "delta-AB":
		return []quantity.SignedSum{one(1, -2), one(2, -3), one(3, -1)}
	case "delta-AC":
		return []quantity.SignedSum{one(1, -3), one(2, -1), one(3, -2)}
	case "open-delta":
		return []quantity.SignedSum{one(1, -2), one(2, -3)}
	case "residual", "broken-delta":
		return []quantity.SignedSum{all(present & abc)}
	case "core-balance":
		return []quantity.SignedSum{all(present)}
	}
	var sums []quantity.SignedSum
	for _, c := range (present & abc).Conductors() {
		sums = append(sums, one(c+1))
	}
	return sums
}

func (f *fromStudy) currentInput(name string) (CurrentInput, bool) {
	e := f.doc.CurrentTransformers.Find(name)
	if e == nil {
		return CurrentInput{}, false
	}
	ct := &e.Item
	in := CurrentInput{Name: name, Ratio: ct.Ratio.V}
	net := f.m.Network
	reverse := false
	switch {
	case ct.Neutral.Given:
		in.Neutral = true
		in.Where = "neutral of " + string(ct.In.V)
		terminal := map[string]int{"from": 0, "first": 0, "to": 1, "second": 1, "third": 2, "own": 0}[ct.Neutral.V]
		element := net.BranchByName(string(ct.In.V))
		if element < 0 {
			element = net.ElementByName(EarthingTransformer, string(ct.In.V))
		}
		if element < 0 || terminal >= len(net.Elements[element].Terminals) {
			in.Probe = Probe{Phases: abc, dead: true}
		} else {
			in.Probe = net.InNeutral(element, terminal)
		}
		in.Sums = sumsOf("residual", abc)
		return in, true
	case ct.At.Given:
		number, ok := f.switches[string(ct.At.V)]
		if e := net.ElementByName(Reactor, string(ct.At.V)); !ok && e >= 0 {
			terminal := 0
			if facing, err := f.bus(ct.Facing.V); ct.Facing.Given && err == nil && facing == net.Elements[e].Terminals[0].Bus {
				terminal = 1
			}
			in.Where = string(ct.At.V)
			in.Probe = net.AtTerminal(e, terminal)
			in.Sums = ct.Encloses.V
			if !ct.Encloses.Given {
				in.Sums = sumsOf(ct.Connection.V, in.Probe.Phases)
			}
			return in, true
		}
		if !ok {
			return in, false
		}
		s := net.Switches[number]
		far := s.To
		in.Where = string(ct.At.V)
		if ct.Facing.Given {
			facing, err := f.bus(ct.Facing.V)
			if err != nil {
				return in, false
			}
			in.Where += " facing " + string(ct.Facing.V)
			// A device in a branch faces the bus it is near to, or else into the branch.
			near := s.From
			if d, ok := f.doc.Device(s.Name); ok && d.In.Given {
				if b, err := f.bus(d.Near.V); err == nil && b == facing {
					far = near
				}
			}
			if net.Buses[s.From].LineEnd == "" && net.Buses[s.To].LineEnd == "" && facing == s.From {
				far = s.From
			}
		}
		in.Probe = net.ThroughSwitch(number, far)
	case ct.In.Given:
		branch := string(ct.In.V)
		in.Where = branch + " near " + string(ct.Near.V)
		element := net.BranchByName(branch)
		b, _ := f.doc.Branch(branch)
		terminal := max(b.End(ct.Near.V), 0)
		if n := len(f.options.Split[branch]); n > 0 && terminal == 1 {
			element = net.ElementByName(Line, PieceName(branch, n))
		}
		reverse = ct.Facing.Given && ct.Facing.V == ct.Near.V
		if element < 0 {
			phases, _ := f.branchPhases(branch, ct.Near.V)
			in.Probe = Probe{Phases: phases, dead: true}
		} else {
			in.Probe = net.AtTerminal(element, terminal)
		}
	default:
		return in, false
	}
	if reverse {
		in.Probe = in.Probe.Reversed()
	}
	if ct.Encloses.Given {
		in.Sums = ct.Encloses.V
	} else {
		in.Sums = sumsOf(ct.Connection.V, in.Probe.Phases)
	}
	return in, true
}

func (f *fromStudy) voltageInput(name string) (VoltageInput, bool) {
	e := f.doc.VoltageTransformers.Find(name)
	if e == nil {
		return VoltageInput{}, false
	}
	vt := &e.Item
	in := VoltageInput{Name: name, Ratio: vt.Ratio.V}
	var err error
	if vt.In.Given {
		in.Bus, err = f.terminal(string(vt.In.V), vt.Near.V)
		in.Where = string(vt.In.V) + " near " + string(vt.Near.V)
	} else {
		in.Bus, err = f.bus(vt.At.V)
		in.Where = string(vt.At.V)
	}
	if err != nil {
		return in, false
	}
	if vt.Measures.Given {
		in.Sums = vt.Measures.V
	} else {
		in.Sums = sumsOf(vt.Connection.V, f.m.Network.Buses[in.Bus].Phases)
	}
	return in, true
}
