package quantity

// Conductors are numbered 0 to 3 for A, B, C and N where matrices and arrays
// hold one entry each.

// HasConductor tells whether the conductor of that number is among p.
func (p Phases) HasConductor(number int) bool { return p>>number&1 == 1 }

// Conductors lists the numbers of the conductors in p, ascending.
func (p Phases) Conductors() []int {
	var list []int
	for c := 0; c < 4; c++ {
		if p.HasConductor(c) {
			list = append(list, c)
		}
	}
	return list
}
