package study

import (
	"fmt"
	"math"
	"math/cmplx"
	"strconv"
	"strings"

	"feederwright/quantity"
)

// linePhases are the conductors of a line as the network takes them.
func (v *validator) linePhases(l *Line) quantity.Phases {
	if l.Phases.Given {
		return l.Phases.V
	}
	from, to := v.bus(l.From), v.bus(l.To)
	if from == nil || to == nil {
		return threePhases
	}
	common := from.phases() & to.phases()
	if c := v.electrical(l); c != nil && c.Matrix.Given {
		return common
	}
	if t := v.builtType(l); t != nil && t.Item.KeepsNeutral() {
		return common
	}
	return common & threePhases
}

// electrical are the constants that hold for a line: its own, or its type's.
func (v *validator) electrical(l *Line) *Electrical {
	if l.Z1.Given || l.Z.Given || l.Matrix.Given {
		return &l.Electrical
	}
	if t := v.doc.LineTypes.Find(string(l.Type.V)); t != nil && l.Type.Given {
		return &t.Item.Electrical
	}
	return nil
}

func (v *validator) lineTypes() {
	for i := range v.doc.LineTypes.Entries {
		e := &v.doc.LineTypes.Entries[i]
		object := "line type " + strconv.Quote(e.Name)
		c := &e.Item.Electrical
		count := 3
		if e.Item.Phases.Given {
			if count = e.Item.Phases.V; count < 1 || count > 4 {
				v.err(e.Item.Phases.At, object, fmt.Sprintf("%d phases", count), "a section has 1, 2 or 3 phase conductors", "write phases: 1, 2 or 3")
				continue
			}
		} else if c.Matrix.Given {
			count = len(c.Matrix.V)
		} else if c.Z.Given {
			count = 1
		}
		if e.Item.IsBuilt() {
			v.built(e, object)
			v.heating(c, object)
			continue
		}
		if !c.Z1.Given && !c.Z.Given && !c.Matrix.Given && !there(c.Z1.At, c.Z.At, c.Matrix.At) {
			v.err(e.NameAt, object, "no impedance is given", "a type is there for its impedance", "write z1 and z0 (or z for a single phase, or matrix), per length; or how the line is built, with pole top or cable")
			continue
		}
		v.constants(c, object, count, true)
	}
}

// constants checks the impedances and charging of a type, or of a line.
func (v *validator) constants(c *Electrical, object string, count int, perLength bool) {
	forms := 0
	for _, given := range []bool{c.Z1.Given, c.Z.Given, c.Matrix.Given} {
		if given {
			forms++
		}
	}
	if forms > 1 {
		at := c.Z.At
		if !c.Z.Given {
			at = c.Matrix.At
		}
		v.err(at, object, "its impedance is given in two forms", "two statements of one thing may differ", "leave one of z1 with z0, z, and matrix")
		return
	}
	if c.Z1.Given && !c.Z0.Given && !there(c.Z0.At) {
		v.err(c.Z1.At, object, "z0 is not given", "earth faults need the zero-sequence impedance; it is not guessed", "write z0; for four-wire overhead lines it is about 3 times z1 ("+commonPractice+"), and then say that it is assumed")
	}
	if c.Z0.Given && !c.Z1.Given && !there(c.Z1.At) {
		v.err(c.Z0.At, object, "z1 is not given beside z0", "both are needed", "write z1")
	}
	if c.Z.Given && count > 1 {
		v.err(c.Z.At, object, fmt.Sprintf("z, a loop impedance, for %d phases", count), "z is for a single phase with its return; it says nothing of the coupling between phases", "give z1 and z0, or a matrix")
	}
	v.series(c.Z1, object+", z1", perLength)
	v.series(c.Z0, object+", z0", perLength)
	v.series(c.Z, object+", z", perLength)
	if c.Z1.Given && c.Z0.Given && c.Z1.V.PerLength == c.Z0.V.PerLength && c.Z1.V.Z != 0 {
		r := cmplx.Abs(c.Z0.V.Z) / cmplx.Abs(c.Z1.V.Z)
		if r < minZ0 || r > maxZ0 {
			v.warn(c.Z0.At, object, fmt.Sprintf("|z0| is %s times |z1|", number(r)), fmt.Sprintf("it lies between %g and %g (%s)", minZ0, float64(maxZ0), commonPractice), "look at the units of both")
		}
	}
	v.matrix(c, object, count)
	v.hotConstants(c, object, count)
	v.susceptance(float64(c.B1.V), c.B1.Given, c.B1.At, c.B1.Text, object+", b1")
	v.susceptance(float64(c.B0.V), c.B0.Given, c.B0.At, c.B0.Text, object+", b0")
	v.susceptance(float64(c.B.V), c.B.Given, c.B.At, c.B.Text, object+", b")
	omega := 2 * math.Pi * float64(v.doc.Frequency.V)
	v.susceptance(omega*float64(c.C1.V), c.C1.Given && omega > 0, c.C1.At, c.C1.Text, object+", c1")
	v.susceptance(omega*float64(c.C0.V), c.C0.Given && omega > 0, c.C0.At, c.C0.Text, object+", c0")
	if c.B1.Given && c.C1.Given {
		v.err(c.C1.At, object, "both b1 and c1 are given", "two statements of one thing may differ", "leave one of them")
	}
	if c.B0.Given && c.C0.Given {
		v.err(c.C0.At, object, "both b0 and c0 are given", "two statements of one thing may differ", "leave one of them")
	}
	v.zeroCharging(c, object, omega)
	v.chargingMatrix(c, object, count)
	v.heating(c, object)
	if (c.B0.Given || c.C0.Given) && !c.B1.Given && !c.C1.Given {
		at := c.B0.At
		if !c.B0.Given {
			at = c.C0.At
		}
		v.err(at, object, "zero-sequence charging without the positive-sequence one", "both make the capacitance matrix", "write b1 or c1 too")
	}
}

// series checks one series impedance: signs, and the size per length.
func (v *validator) series(z Value[quantity.SeriesImpedance], object string, perLength bool) {
	if !z.Given {
		return
	}
	r, x := real(z.V.Z), imag(z.V.Z)
	if r < 0 || x <= 0 {
		v.err(z.At, object, z.Text+" is not possible", "a conductor has resistance not below zero and reactance above zero", "look at the signs")
		return
	}
	if !z.V.PerLength {
		if perLength {
			v.err(z.At, object, z.Text+" is a total impedance", "a type holds for any length", "write it per length, as ohm/km or ohm/mi")
		}
		return
	}
	rk, xk := r*1e3, x*1e3 // ohm/km
	if rk <= maxR && rk >= minR/2 && xk >= minX/2 && xk <= 3*maxX || r == 0 && xk <= 3*maxX {
		return
	}
	// A slip of the length's unit shifts both by the same factor.
	long := map[string]string{"ohm/m": "ohm/km", "ohm/ft": "ohm/kft"}[quantity.TypedUnit(z.Text)]
	if long != "" && xk/1e3 >= minX/2 && xk/1e3 <= 3*maxX && rk/1e3 <= maxR {
		v.err(z.At, object, fmt.Sprintf("%s is %s + j%s ohm/km", z.Text, number(rk), number(xk)), "lines and cables have a reactance of about 0.05 to 0.5 ohm/km ("+commonPractice+"); this is 1000 times more", "if the data sheet says it for a thousand times the length, write "+long)
		return
	}
	if rk > maxR || xk > 3*maxX {
		v.warn(z.At, object, z.Text+" is large", fmt.Sprintf("conductors have less than %g ohm/km of resistance and %g of reactance (%s)", float64(maxR), maxX, commonPractice), "look at the unit of length")
		return
	}
	v.warn(z.At, object, z.Text+" is small", fmt.Sprintf("conductors have more than %g ohm/km of resistance and %g of reactance (%s)", minR, minX, commonPractice), "look at the unit of length")
}

func (v *validator) susceptance(b float64, given bool, at Mark, text, object string) {
	if !given {
		return
	}
	perKm := b * 1e3
	switch {
	case b < 0:
		v.err(at, object, text+" is negative", "charging is capacitive", "take out the sign")
	case b == 0:
	case perKm/1e6 >= minB && perKm/1e6 <= maxB:
		v.err(at, object, text+" is not plausible", "charging is some microsiemens per kilometre (or a fraction of a microfarad); this is a million times more", "write uS/km, or uF/km")
	case perKm < minB || perKm > maxB:
		v.warn(at, object, text+" is unusual", "charging lies between 0.3 and 600 uS/km ("+commonPractice+")", "look at the unit")
	}
}

// matrix checks size, symmetry and passivity of a phase matrix.
func (v *validator) matrix(c *Electrical, object string, count int) {
	if !c.Matrix.Given {
		return
	}
	rows := c.Matrix.V
	n := len(rows)
	if n < 1 || n > 4 {
		v.err(c.Matrix.At, object, fmt.Sprintf("a matrix of %d rows", n), "a section has one to four conductors", "")
		return
	}
	if count > 0 && n != count {
		v.err(c.Matrix.At, object, fmt.Sprintf("a matrix of %d rows for %d conductors", n, count), "one row for each", "")
		return
	}
	z := make([]complex128, n*n)
	for i, row := range rows {
		if len(row) != i+1 && len(row) != n {
			v.err(c.Matrix.At, object, fmt.Sprintf("row %d has %d entries", i+1, len(row)), fmt.Sprintf("a full row has %d, one of the lower triangle %d", n, i+1), "")
			return
		}
		for j, x := range row {
			z[i*n+j] = x.Z
			if len(row) == i+1 {
				z[j*n+i] = x.Z
			}
		}
	}
	for i := 0; i < n; i++ {
		for j := 0; j < i; j++ {
			if d := cmplx.Abs(z[i*n+j] - z[j*n+i]); d > 1e-3*cmplx.Abs(z[i*n+i]) {
				v.err(c.Matrix.At, object, fmt.Sprintf("entries %d,%d and %d,%d differ", i+1, j+1, j+1, i+1), "coupling is mutual: the matrix is symmetric", "")
				return
			}
		}
	}
	if !positiveDefinite(z, n, func(x complex128) float64 { return real(x) }) || !positiveDefinite(z, n, func(x complex128) float64 { return imag(x) }) {
		v.err(c.Matrix.At, object, "the matrix is not that of passive conductors", "resistance and reactance matrices are positive definite, or a current in some combination of phases would gain power", "look at the order of the rows, and at signs")
	}
}

// positiveDefinite tries a Cholesky factorisation.
func positiveDefinite(z []complex128, n int, part func(complex128) float64) bool {
	a := make([]float64, n*n)
	for i := range a {
		a[i] = part(z[i])
	}
	for k := 0; k < n; k++ {
		for j := 0; j < k; j++ {
			a[k*n+k] -= a[k*n+j] * a[k*n+j]
		}
		if a[k*n+k] <= 0 {
			return false
		}
		a[k*n+k] = math.Sqrt(a[k*n+k])
		for i := k + 1; i < n; i++ {
			for j := 0; j < k; j++ {
				a[i*n+k] -= a[i*n+j] * a[k*n+j]
			}
			a[i*n+k] /= a[k*n+k]
		}
	}
	return true
}

func (v *validator) lines() {
	for i := range v.doc.Lines.Entries {
		e := &v.doc.Lines.Entries[i]
		l := &e.Item
		object := "line " + strconv.Quote(e.Name)
		from, to := v.bus(l.From), v.bus(l.To)
		if l.From.Given && l.From.V == l.To.V {
			v.err(l.To.At, object, fmt.Sprintf("both ends are at bus %q", l.To.V), "a section joins two buses", "give the other bus")
			continue
		}
		if from != nil && to != nil && from.Voltage.Given && to.Voltage.Given {
			a, b := float64(from.Voltage.V), float64(to.Voltage.V)
			if math.Abs(a/b-1) > sameVoltage {
				v.err(l.To.At, object, fmt.Sprintf("from bus %q of %s to bus %q of %s", l.From.V, from.Voltage.Text, l.To.V, to.Voltage.Text), "a section joins buses of one nominal voltage", "put a transformer between, or mend a voltage")
			}
		}
		own := l.Z1.Given || l.Z.Given || l.Matrix.Given
		switch {
		case own && l.Type.Given:
			v.err(l.Type.At, object, "a type, and impedances of its own", "two statements of one thing may differ", "leave one of them")
		case !own && l.Type.Given:
			v.beside(&l.Electrical, object)
		case !own && !l.Type.Given && !there(l.Type.At, l.Z1.At, l.Z.At, l.Matrix.At):
			v.err(e.NameAt, object, "neither a type nor impedances are given", "", "write type, or z1 and z0")
		}
		c := v.electrical(l)
		phases := v.linePhases(l)
		if l.Phases.Given {
			for _, s := range []struct {
				ref Value[Ref]
				b   *Bus
			}{{l.From, from}, {l.To, to}} {
				if s.b == nil {
					continue
				}
				if lacking := phases &^ s.b.phases(); lacking != 0 {
					v.err(l.Phases.At, object, fmt.Sprintf("phase %s is not at bus %q, which has %s", v.names(lacking), s.ref.V, v.names(s.b.phases())), "a section carries only phases that both its buses have", v.keepPhases(phases&s.b.phases(), "give the bus the phase"))
				}
			}
		} else if from != nil && to != nil && phases == 0 {
			v.err(l.To.At, object, fmt.Sprintf("buses %q (%s) and %q (%s) have no phase in common", l.From.V, v.names(from.phases()), l.To.V, v.names(to.phases())), "a section carries only phases that both its buses have", "")
			continue
		}
		perLength := false
		if t := v.builtType(l); t != nil {
			v.builtLine(e, t, phases, object)
		} else if l.Positions != nil {
			v.err(namedAt(l.Positions), object, "positions, and its type has no pole top", "", "take it out")
		}
		if c != nil {
			perLength = c.Z1.V.PerLength || c.Z.V.PerLength || c.Matrix.Given && len(c.Matrix.V) > 0 && len(c.Matrix.V[0]) > 0 && c.Matrix.V[0][0].PerLength
			v.count(l, c, phases, object)
			if own {
				v.constants(&l.Electrical, object, phases.Count(), false)
			}
		}
		if own && !perLength && !l.Length.Given && !there(l.Length.At) {
			if at, charged := chargingAt(&l.Electrical); charged {
				v.err(at, object, "charging per length, and no length", "the charging of the section is not known without", "write length, as 1.6 mi or 2.5 km")
			}
		}
		switch m := float64(l.Length.V); {
		case !l.Length.Given && perLength && !there(l.Length.At):
			v.err(e.NameAt, object, "length is not given", "its impedances are per length", "write length, as 1.6 mi or 2.5 km")
		case l.Length.Given && m <= 0:
			v.err(l.Length.At, object, "length "+l.Length.Text, "a section has a length", "for a tie without impedance use a switch")
		case l.Length.Given && m > maxLength:
			v.warn(l.Length.At, object, "length "+l.Length.Text+" is long for medium voltage", "sections are shorter than 200 km ("+commonPractice+")", "look at the unit")
		}
	}
}

// beside tells of constants on a line that its type overrules: those of the
// type hold whole.
func (v *validator) beside(c *Electrical, object string) {
	for _, x := range []struct {
		key string
		at  Mark
	}{{"z0", c.Z0.At}, {"b1", c.B1.At}, {"b0", c.B0.At}, {"b", c.B.At}, {"c1", c.C1.At}, {"c0", c.C0.At}, {"b matrix", c.BMatrix.At},
		{"z1 hot", c.Z1Hot.At}, {"z0 hot", c.Z0Hot.At}, {"z hot", c.ZHot.At}, {"matrix hot", c.MatrixHot.At}} {
		if there(x.at) {
			v.err(x.at, object, x.key+" beside a type", "the constants of a type hold together; one of the line's own would be lost", "put it into a type, or give all constants here and no type")
		}
	}
}

// chargingAt is where the first charging of a section stands.
func chargingAt(c *Electrical) (Mark, bool) {
	for _, at := range []Mark{c.B1.At, c.C1.At, c.B.At, c.BMatrix.At} {
		if there(at) {
			return at, true
		}
	}
	return Mark{}, false
}

// zeroCharging compares zero- and positive-sequence charging: C1 = C0 + 3·Cm
// with Cm, the capacitance between two phases, not below zero.
func (v *validator) zeroCharging(c *Electrical, object string, omega float64) {
	pick := func(b Value[quantity.SusceptancePerLength], c Value[quantity.CapacitancePerLength]) (float64, Mark, string) {
		switch {
		case b.Given:
			return float64(b.V), b.At, b.Text
		case c.Given:
			return omega * float64(c.V), c.At, c.Text
		}
		return 0, Mark{}, ""
	}
	b1, _, one := pick(c.B1, c.C1)
	b0, at, zero := pick(c.B0, c.C0)
	const rounding = 0.01 // data sheets give two or three digits
	if b1 > 0 && b0 > b1*(1+rounding) {
		v.warn(at, object, fmt.Sprintf("zero-sequence charging %s is above the positive-sequence %s", zero, one), "C1 is C0 and three times the capacitance between two phases", "exchange the two")
	}
}

// chargingMatrix checks size, signs and symmetry of a charging matrix.
func (v *validator) chargingMatrix(c *Electrical, object string, count int) {
	if !c.BMatrix.Given {
		return
	}
	at := c.BMatrix.At
	object += ", b matrix"
	if there(c.B1.At, c.B0.At, c.B.At, c.C1.At, c.C0.At) {
		v.err(at, object, "charging is given in two forms", "two statements of one thing may differ", "leave one of them")
		return
	}
	rows := c.BMatrix.V
	n := len(rows)
	if n != count {
		v.err(at, object, fmt.Sprintf("a matrix of %d rows for %d conductors", n, count), "one row for each", "")
		return
	}
	b := make([]float64, n*n)
	for i, row := range rows {
		if len(row) != i+1 && len(row) != n {
			v.err(at, object, fmt.Sprintf("row %d has %d entries", i+1, len(row)), fmt.Sprintf("a full row has %d, one of the lower triangle %d", n, i+1), "")
			return
		}
		for j, x := range row {
			b[i*n+j] = float64(x)
			if len(row) == i+1 {
				b[j*n+i] = float64(x)
			}
		}
	}
	for i := 0; i < n; i++ {
		v.susceptance(b[i*n+i], true, at, fmt.Sprintf("entry %d,%d, %s,", i+1, i+1, quantity.SusceptancePerLength(roundTo(b[i*n+i], 4))), object)
		sum := 0.0
		for j := 0; j < n; j++ {
			sum += b[i*n+j]
			switch {
			case i != j && b[i*n+j] > 0:
				v.err(at, object, fmt.Sprintf("entry %d,%d is above zero", i+1, j+1), "off the diagonal stands minus the susceptance between two conductors", "give it a minus sign")
				return
			case j < i && math.Abs(b[i*n+j]-b[j*n+i]) > 1e-3*b[i*n+i]:
				v.err(at, object, fmt.Sprintf("entries %d,%d and %d,%d differ", i+1, j+1, j+1, i+1), "coupling is mutual: the matrix is symmetric", "")
				return
			}
		}
		if sum < 0 {
			v.err(at, object, fmt.Sprintf("row %d adds up to less than zero", i+1), "the sum of a row is the susceptance of that conductor to earth", "look at the signs and the unit")
			return
		}
	}
}

// Heat that a metre of conductor gives off at its continuous rating, W/m.
// Bare and insulated conductors of feeders lie between about 10 and 100
// (derived: I²·R of ordinary conductor tables); an ohm/km taken for ohm/m or
// a rating in the wrong unit is orders of magnitude away.
const minHeat, maxHeat = 1.0, 500.0

// heating compares the continuous rating with the resistance.
func (v *validator) heating(c *Electrical, object string) {
	if !c.Ampacity.Given {
		return
	}
	i := float64(c.Ampacity.V)
	if i <= 0 {
		v.err(c.Ampacity.At, object, "ampacity "+c.Ampacity.Text, "a conductor carries current", "write it in A")
		return
	}
	if s := c.ShortTime; s.Given && float64(s.V) <= i {
		v.err(s.At, object, fmt.Sprintf("short-time current %s is not above the ampacity of %s", s.Text, c.Ampacity.Text), "what is withstood for 1 s is above what is carried for good", "look at the unit: kA?")
	}
	var z quantity.SeriesImpedance
	switch {
	case c.Z1.Given:
		z = c.Z1.V
	case c.Z.Given:
		z = c.Z.V
	}
	heat := i * i * real(z.Z)
	if !z.PerLength || heat <= 0 || heat >= minHeat && heat <= maxHeat {
		return
	}
	v.warn(c.Ampacity.At, object, fmt.Sprintf("%s through this resistance heats a conductor by %s W/m", c.Ampacity.Text, number(heat)),
		"conductors of feeders give off about 10 to 100 W/m at their rating (derived from ordinary conductor tables)", "look at the ampacity and at the unit of the resistance")
}

// keepPhases advises to keep the phases that are there, or else something else.
func (v *validator) keepPhases(p quantity.Phases, otherwise string) string {
	if p == 0 {
		return otherwise
	}
	return "write phases: " + v.names(p) + ", or " + otherwise
}

// names are conductors as the study's outputs name them: ABC, or L1 L2 L3.
func (v *validator) names(p quantity.Phases) string {
	if v.doc.Phases.V != "L123" {
		return p.Letters()
	}
	var list []string
	for _, k := range p.Conductors() {
		list = append(list, [4]string{"L1", "L2", "L3", "N"}[k])
	}
	return strings.Join(list, " ")
}

// count compares the conductors of a line with those its data is for.
func (v *validator) count(l *Line, c *Electrical, phases quantity.Phases, object string) {
	at := l.Type.At
	if !l.Type.Given {
		at = l.From.At
	}
	if l.Phases.Given {
		at = l.Phases.At
	}
	n := phases.Count()
	switch {
	case c.Z.Given && n != 1:
		v.err(at, object, fmt.Sprintf("%d phases with a loop impedance of a single phase", n), "z says nothing of the coupling between phases", "write phases with one letter, or give z1 and z0")
	case c.Matrix.Given && len(c.Matrix.V) != n:
		v.err(at, object, fmt.Sprintf("%d phases with a matrix of %d rows", n, len(c.Matrix.V)), "one row for each conductor", "")
	case c.Z1.Given && phases&^threePhases != 0:
		v.err(at, object, "a neutral conductor with z1 and z0", "sequence impedances are for the phases alone", "leave N out of phases, or give a matrix with its row")
	case l.Type.Given && l.Phases.Given:
		if t := v.doc.LineTypes.Find(string(l.Type.V)); t != nil && t.Item.Phases.Given && t.Item.Phases.V > 1 && t.Item.Phases.V != n {
			v.warn(at, object, fmt.Sprintf("%d of the %d phases of type %q", n, t.Item.Phases.V, l.Type.V), "the coupling of the type is then that of the conductors left", "")
		}
	}
}

func (v *validator) shunts() {
	for i := range v.doc.Capacitors.Entries {
		e := &v.doc.Capacitors.Entries[i]
		object := "capacitor " + strconv.Quote(e.Name)
		v.shuntPhases(e.Item.At, e.Item.Phases, object)
		v.shuntConnection(e.Item.At, e.Item.Phases, e.Item.Connection, object, false)
		if q := float64(e.Item.Power.V); e.Item.Power.Given && q <= 0 {
			v.err(e.Item.Power.At, object, "power "+e.Item.Power.Text, "a bank gives reactive power; its rating is above zero", "")
		} else {
			v.shuntCurrent(e.Item.At, q, e.Item.Power.Given, e.Item.Power.At, e.Item.Power.Text, object)
		}
		if b := v.bus(e.Item.At); b != nil && e.Item.Voltage.Given && b.Voltage.Given {
			if r := float64(e.Item.Voltage.V) / float64(b.Voltage.V); r < 0.9 || r > 1.5 {
				v.warn(e.Item.Voltage.At, object, fmt.Sprintf("rated %s at a bus of %s", e.Item.Voltage.Text, b.Voltage.Text), "a bank is rated line-to-line at its bus's voltage or somewhat above ("+commonPractice+")", voltageHint(r))
			}
		}
	}
	for i := range v.doc.Loads.Entries {
		e := &v.doc.Loads.Entries[i]
		object := "load " + strconv.Quote(e.Name)
		v.shuntPhases(e.Item.At, e.Item.Phases, object)
		v.shuntConnection(e.Item.At, e.Item.Phases, e.Item.Connection, object, true)
		v.shuntCurrent(e.Item.At, float64(e.Item.Power.V), e.Item.Power.Given, e.Item.Power.At, e.Item.Power.Text, object)
		if c := e.Item.Cold; c.Given && (c.V.Factor < 1 || c.V.Factor > maxCold) {
			v.warn(c.At, object, "a cold-load factor of "+number(c.V.Factor), fmt.Sprintf("after an outage a load is 1 to %g times as before (%s)", float64(maxCold), commonPractice), "write the factor on the load before the outage")
		}
		if p := e.Item.PF; p.Given && p.V.Value < 0.5 {
			v.warn(p.At, object, "power factor "+p.Text+" is low", "loads have 0.8 and more ("+commonPractice+")", "")
		}
	}
}

// maxCold is the largest usual cold-load factor (common practice, no source).
const maxCold = 6

// maxShunt is the largest current of one load or bank on a feeder, A: more
// than the largest switchgear carries (common practice, no source).
const maxShunt = 4000.0

// shuntCurrent tells of a power that no feeder carries: a slip of the prefix.
func (v *validator) shuntCurrent(at Value[Ref], s float64, given bool, place Mark, text, object string) {
	b := v.bus(at)
	if !given || b == nil || !b.Voltage.Given || b.Voltage.V <= 0 {
		return
	}
	if i := s / (math.Sqrt(3) * float64(b.Voltage.V)); i > maxShunt {
		v.warn(place, object, fmt.Sprintf("%s at a bus of %s is a current of %s", text, b.Voltage.Text, quantity.Current(roundTo(i, 3))), fmt.Sprintf("one load or bank on a feeder stays below %g kA (%s)", maxShunt/1e3, commonPractice), "look at the unit: kVA or MVA?")
	}
}

// shuntConnection tells of connections that one conductor cannot make.
func (v *validator) shuntConnection(at Value[Ref], p Value[quantity.Phases], connection Value[string], object string, toNeutral bool) {
	b := v.bus(at)
	if b == nil || !connection.Given || connection.V == "earthed-wye" {
		return
	}
	phases := b.phases()
	if p.Given {
		phases = p.V
	}
	if connection.V == "wye" && toNeutral && b.phases().Has(quantity.PhaseN) {
		return
	}
	if n := (phases & threePhases).Count(); n == 1 {
		v.err(connection.At, object, fmt.Sprintf("connection %s on phase %s alone", connection.V, v.names(phases)), "one conductor has no other to connect to but earth", "write connection: earthed-wye, or the phases between which it is connected")
	}
}

func (v *validator) shuntPhases(at Value[Ref], p Value[quantity.Phases], object string) {
	if b := v.bus(at); b != nil && p.Given {
		if lacking := p.V &^ b.phases(); lacking != 0 {
			v.err(p.At, object, fmt.Sprintf("phase %s is not at bus %q, which has %s", v.names(lacking), at.V, v.names(b.phases())), "a phase that is not there feeds nothing", v.keepPhases(p.V&b.phases(), "look at the bus"))
		}
	}
}
