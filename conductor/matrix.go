package conductor

import (
	"fmt"
	"math"
	"math/cmplx"
	"slices"
	"strconv"

	"feederwright/phasor"
)

// A Matrix has one row and one column for each conductor named, in that order.
type Matrix struct {
	Names  []string
	Values []complex128 // row-major
}

// Len is the number of conductors.
func (m Matrix) Len() int { return len(m.Names) }

// At returns an entry by row and column.
func (m Matrix) At(row, column int) complex128 { return m.Values[row*len(m.Names)+column] }

// Index returns the row of a conductor, or −1.
func (m Matrix) Index(name string) int { return slices.Index(m.Names, name) }

func newMatrix(names []string) Matrix {
	return Matrix{slices.Clone(names), make([]complex128, len(names)*len(names))}
}

func (m Matrix) set(row, column int, v complex128) {
	m.Values[row*len(m.Names)+column] = v
	m.Values[column*len(m.Names)+row] = v
}

func (m Matrix) clone() Matrix { return Matrix{slices.Clone(m.Names), slices.Clone(m.Values)} }

// rows finds conductors by name; each must exist, once.
func (m Matrix) rows(names []string) ([]int, error) {
	var list []int
	var es Errors
	for _, name := range names {
		i := m.Index(name)
		switch {
		case i < 0:
			es.add("conductor "+strconv.Quote(name), "", fmt.Sprintf("the conductors are %q", m.Names), "there is none of this name")
		case slices.Contains(list, i):
			es.add("conductor "+strconv.Quote(name), "", "name each conductor once", "it is named twice")
		default:
			list = append(list, i)
		}
	}
	return list, es.err()
}

// pick keeps rows in the order given.
func (m Matrix) pick(rows []int) Matrix {
	names := make([]string, len(rows))
	for i, r := range rows {
		names[i] = m.Names[r]
	}
	p := newMatrix(names)
	for i, r := range rows {
		for j, c := range rows {
			p.Values[i*len(rows)+j] = m.At(r, c)
		}
	}
	return p
}

// without drops conductors.
func (m Matrix) without(names []string) (Matrix, error) {
	drop, err := m.rows(names)
	if err != nil {
		return Matrix{}, err
	}
	var keep []int
	for i := range m.Names {
		if !slices.Contains(drop, i) {
			keep = append(keep, i)
		}
	}
	return m.pick(keep), nil
}

// eliminate takes conductors out of a symmetric matrix, one after another:
//
//	m_ij ← m_ij − m_ik·m_kj / m_kk
//
// The matrices of passive lines have diagonals that stay away from zero under
// this (their real or imaginary part is positive definite), so that no
// pivoting is needed; a zero or a number that is not finite is refused.
//
// Source: G. Kron, Tensor Analysis of Networks (1939) [from memory].
func (m Matrix) eliminate(names []string) (Matrix, error) {
	out, err := m.rows(names)
	if err != nil {
		return Matrix{}, err
	}
	w := m.clone()
	gone := make([]bool, m.Len())
	for _, k := range out {
		gone[k] = true
		pivot := w.At(k, k)
		if pivot == 0 || cmplx.IsNaN(pivot) || cmplx.IsInf(pivot) {
			return Matrix{}, Errors{{"conductor " + strconv.Quote(m.Names[k]),
				"it cannot be eliminated: its own entry is " + fmt.Sprint(pivot),
				"nothing couples it with the others or with earth", "check whether it is described twice or is not part of this line"}}
		}
		for i := range m.Names {
			for j := i; j < m.Len() && !gone[i]; j++ {
				if !gone[j] { // the upper triangle alone, mirrored: symmetry stays exact
					w.set(i, j, w.At(i, j)-w.At(i, k)*w.At(k, j)/pivot)
				}
			}
		}
	}
	return w.without(names)
}

// joined adds rows and columns of conductors into that of the first, which
// takes the new name.
func (m Matrix) joined(name string, names []string) (Matrix, error) {
	rows, err := m.rows(names)
	if err != nil {
		return Matrix{}, err
	}
	if len(rows) == 0 {
		return Matrix{}, Errors{{"conductor " + strconv.Quote(name), "it is to be joined of no conductors", "", "name the conductors that are bonded together"}}
	}
	if i := m.Index(name); i >= 0 && !slices.Contains(rows, i) {
		return Matrix{}, Errors{{"conductor " + strconv.Quote(name), "another conductor has this name", "", "give the joined conductor a name of its own"}}
	}
	w := m.clone()
	n := m.Len()
	first := rows[0]
	for _, r := range rows[1:] {
		for i := range n {
			w.Values[first*n+i] += w.Values[r*n+i]
		}
		for i := range n {
			w.Values[i*n+first] += w.Values[i*n+r]
		}
	}
	w.Names[first] = name
	dropped := make([]string, 0, len(rows))
	for _, r := range rows[1:] {
		dropped = append(dropped, w.Names[r])
	}
	return w.without(dropped)
}

// An Impedance is a series impedance matrix in ohm/m: V' = Z·I, the voltage
// to earth that each conductor loses per metre.
type Impedance struct{ Matrix }

// Earthed eliminates conductors whose voltage to earth is zero all along: a
// neutral earthed at many poles, screens earthed at both ends.
func (z Impedance) Earthed(names ...string) (Impedance, error) {
	m, err := z.eliminate(names)
	return Impedance{m}, err
}

// Open leaves out conductors that carry no current: screens earthed at one
// end, a shield wire cut at every span.
func (z Impedance) Open(names ...string) (Impedance, error) {
	m, err := z.without(names)
	return Impedance{m}, err
}

// Joined makes one conductor of several that are bonded with each other at
// both ends of the line. Its current is their sum.
func (z Impedance) Joined(name string, names ...string) (Impedance, error) {
	// With I_first = I_sum − ΣI_q, the voltage differences V_q − V_first are
	// zero: the others are eliminated as loops with the first.
	rows, err := z.rows(names)
	if err != nil {
		return Impedance{}, err
	}
	if _, err := z.joined(name, names); err != nil { // the checks of names alone
		return Impedance{}, err
	}
	w := z.clone()
	n := z.Len()
	first := rows[0]
	for _, q := range rows[1:] {
		for i := range n {
			w.Values[q*n+i] -= w.Values[first*n+i]
		}
		for i := range n {
			w.Values[i*n+q] -= w.Values[i*n+first]
		}
	}
	w, err = w.eliminate(names[1:])
	if err != nil {
		return Impedance{}, err
	}
	w.Names[w.Index(names[0])] = name
	return Impedance{w}, nil
}

// Ordered puts all conductors in the order of the names.
func (z Impedance) Ordered(names ...string) (Impedance, error) {
	m, err := z.ordered(names)
	return Impedance{m}, err
}

func (m Matrix) ordered(names []string) (Matrix, error) {
	rows, err := m.rows(names)
	if err != nil {
		return Matrix{}, err
	}
	if len(rows) != m.Len() {
		return Matrix{}, Errors{{"order of conductors", fmt.Sprintf("%q leaves out some of %q", names, m.Names),
			"leaving one out would say something of its current or voltage", "use Earthed or Open first"}}
	}
	return m.pick(rows), nil
}

// Induced gives the voltage per metre, in V/m, that currents in the
// conductors induce along one of them: the row of Z times the currents, in A,
// in the order of Names. For a screen earthed at one end, with its own current
// zero, it is what stands at the open end per metre of length.
func (z Impedance) Induced(name string, currents []complex128) (complex128, error) {
	rows, err := z.rows([]string{name})
	if err != nil {
		return 0, err
	}
	if len(currents) != z.Len() {
		return 0, Errors{{"induced voltage", fmt.Sprintf("%d currents for %d conductors", len(currents), z.Len()), "", "give one current for each conductor"}}
	}
	v := complex128(0)
	for j, i := range currents {
		v += z.At(rows[0], j) * i
	}
	return v, nil
}

// An Admittance is a shunt admittance matrix in S/m: I' = Y·V, the current
// that each conductor loses per metre.
type Admittance struct{ Matrix }

// Earthed leaves out conductors whose voltage to earth is zero all along.
func (y Admittance) Earthed(names ...string) (Admittance, error) {
	m, err := y.without(names)
	return Admittance{m}, err
}

// Open eliminates conductors that no charge can reach: wires insulated all
// along. It is the dual of Impedance.Earthed.
func (y Admittance) Open(names ...string) (Admittance, error) {
	m, err := y.eliminate(names)
	return Admittance{m}, err
}

// Joined makes one conductor of several at one voltage.
func (y Admittance) Joined(name string, names ...string) (Admittance, error) {
	m, err := y.joined(name, names)
	return Admittance{m}, err
}

// Ordered puts all conductors in the order of the names.
func (y Admittance) Ordered(names ...string) (Admittance, error) {
	m, err := y.ordered(names)
	return Admittance{m}, err
}

// A Part is a share of a line's length with its matrix.
type Part struct {
	Share float64 // of the length, above 0
	Z     Impedance
}

// InSeries gives the mean matrix of sections one after another, weighted by
// their shares of the length; names say which conductor runs on to which.
// It serves transposed lines and cross-bonded screens: each part has the same
// names, at other places. What lies between the sections (an earthed joint) is
// left out.
func InSeries(parts ...Part) (Impedance, error) {
	var es Errors
	if len(parts) == 0 {
		es.add("sections in series", "", "give one section at least", "there are none")
		return Impedance{}, es
	}
	m := newMatrix(parts[0].Z.Names)
	total := 0.0
	for i, p := range parts {
		object := fmt.Sprintf("section %d", i+1)
		if !es.positive(object, "its share of the length", "", "give the share, such as 1/3", p.Share) {
			continue
		}
		q, err := p.Z.Ordered(m.Names...)
		if err != nil {
			es.add(object, "sections in series have the same conductors", "", "its conductors are %q, those of the first %q", p.Z.Names, m.Names)
			continue
		}
		total += p.Share
		for k, v := range q.Values {
			m.Values[k] += complex(p.Share, 0) * v
		}
	}
	if len(es) > 0 {
		return Impedance{}, es
	}
	for k := range m.Values {
		m.Values[k] /= complex(total, 0)
	}
	return Impedance{m}, nil
}

// A Sequence is the view of a three-phase matrix in symmetrical components,
// in the unit of the matrix.
type Sequence struct {
	// Zero and Positive are those of the line as if it were transposed:
	// S + 2·M and S − M with the means of its diagonal and off-diagonal
	// entries, S and M.
	Zero, Positive complex128
	// Full is A⁻¹·Z·A, rows and columns in the order 0, 1, 2.
	Full [3][3]complex128
	// Coupling is the largest magnitude off the diagonal of Full, divided by
	// that of the positive sequence: 0 for a balanced line.
	Coupling float64
}

// SequenceOf transforms a matrix of three conductors, in the order of the
// phases A, B, C.
//
//	Z012 = A⁻¹·Z·A        A = [1 1 1; 1 a² a; 1 a a²]
//
// Source: C. L. Fortescue, Trans. AIEE 37 (1918) [from memory].
func SequenceOf(m Matrix, r phasor.Rotation) (Sequence, error) {
	if m.Len() != 3 {
		return Sequence{}, Errors{{"sequence values", fmt.Sprintf("the matrix has %d conductors %q", m.Len(), m.Names),
			"symmetrical components are those of three phases", "eliminate neutrals and screens first (Earthed or Open); one and two phases have no sequence values"}}
	}
	var s Sequence
	rows := [3]int{0, 1, 2}
	s.Full = m.between(r, rows, rows)
	var self, mutual complex128
	for i := range 3 {
		for j := range 3 {
			if i == j {
				self += m.At(i, j) / 3
			} else {
				mutual += m.At(i, j) / 6
			}
		}
	}
	s.Zero, s.Positive = self+2*mutual, self-mutual
	largest := 0.0
	for i := range 3 {
		for j := range 3 {
			if i != j {
				largest = math.Max(largest, cmplx.Abs(s.Full[i][j]))
			}
		}
	}
	s.Coupling = largest / cmplx.Abs(s.Positive)
	return s, nil
}

// SequenceBetween transforms the block of a matrix that couples two circuits,
// each named A, B, C: entry 0,0 is their zero-sequence mutual.
func SequenceBetween(m Matrix, r phasor.Rotation, first, second [3]string) ([3][3]complex128, error) {
	rows, err := m.rows(first[:])
	if err != nil {
		return [3][3]complex128{}, err
	}
	columns, err := m.rows(second[:])
	if err != nil {
		return [3][3]complex128{}, err
	}
	return m.between(r, [3]int(rows), [3]int(columns)), nil
}

func (m Matrix) between(r phasor.Rotation, rows, columns [3]int) (full [3][3]complex128) {
	for q := range 3 {
		// Drops of a unit current of sequence q, seen in sequences.
		var unit, drop [3]complex128
		unit[q] = 1
		i := r.Phases(unit[0], unit[1], unit[2])
		for k := range 3 {
			for l := range 3 {
				drop[k] += m.At(rows[k], columns[l]) * i[l]
			}
		}
		full[0][q], full[1][q], full[2][q] = r.Sequence(drop)
	}
	return full
}
