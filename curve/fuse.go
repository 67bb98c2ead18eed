package curve

import "math"

// A Fuse is the melting and clearing of a fuse or link, in A through it.
type Fuse struct {
	Melt Points // minimum melting, without preload, at 25 °C
	// Clear is the total clearing, where it is given by points. Otherwise it follows from the
	// melting: the current Spread times higher (upper bound of the melting current), and Arcing s more.
	Clear  Points
	Spread float64
	Arcing float64
}

// Melting is the shortest time in s in which it may melt at a steady current in A, after a preload and
// an ambient temperature that leave part of the time of a cold fuse (0.75 by the usual rule; 1 for none).
func (f Fuse) Melting(amperes, part float64) float64 { return part * f.Melt.Time(amperes) }

// Clearing is the longest time in s until it has cleared a steady current in A; NaN where nothing says.
func (f Fuse) Clearing(amperes float64) float64 {
	if f.Clear.points != nil {
		return f.Clear.Time(amperes)
	}
	if !(f.Spread >= 1) {
		return math.NaN()
	}
	return f.Melt.Time(amperes/f.Spread) + f.Arcing
}

// MeltingHeat is the I²t in A²s of the shortest melting that is given.
func (f Fuse) MeltingHeat() float64 {
	if f.Melt.points == nil {
		return math.NaN()
	}
	p := f.Melt.points[len(f.Melt.points)-1]
	return p.X * p.X * p.T
}

// A Gate is what a standard wants of a link: the least and the largest current that melts it in a given
// time. Gates are requirement points. They are not its curve: a real one is strongly bent between them.
type Gate struct {
	Time        float64 // s
	Least, Most float64 // A
}

// Outside returns the gates that a melting curve misses, with the current at which it melts in the time
// of the gate. tolerance is a part of the gate's currents, for the reading of a curve.
func Outside(melt Points, gates []Gate, tolerance float64) (missed []Gate, currents []float64) {
	for _, g := range gates {
		i := melt.Current(g.Time)
		if !(i >= g.Least*(1-tolerance)) || !(i <= g.Most*(1+tolerance)) {
			missed, currents = append(missed, g), append(currents, i)
		}
	}
	return missed, currents
}

// Current is the smallest current, or multiple, that operates it within a time in s. A time longer than
// the table's gives the least current; one shorter follows the curve's End, and is NaN if that is unsaid, +Inf if held.
func (c Points) Current(t float64) float64 {
	if len(c.points) == 0 || !(t > 0) {
		return math.NaN()
	}
	if t >= c.points[0].T {
		return c.points[0].X
	}
	for i, q := range c.points {
		if q.T > t {
			continue
		}
		p := c.points[i-1] // q is the first in time; p.T > t ≥ q.T
		return p.X * math.Exp(math.Log(t/p.T)/math.Log(q.T/p.T)*math.Log(q.X/p.X))
	}
	last := c.points[len(c.points)-1]
	switch c.end {
	case Thermic:
		return last.X * math.Sqrt(last.T/t)
	case Held:
		return never
	}
	return math.NaN()
}
