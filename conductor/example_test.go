package conductor_test

import (
	"fmt"

	"feederwright/conductor"
	"feederwright/phasor"
)

// A four-wire line with its neutral earthed at every pole.
func Example() {
	library, err := conductor.Library()
	if err != nil {
		fmt.Println(err)
		return
	}
	const foot, mile = 0.3048, 1609.344
	line := conductor.Overhead{Earth: conductor.Earth{Resistivity: 100}, Frequency: 60}
	for _, w := range []struct {
		name, kind string
		role       conductor.Role
		x, height  float64
	}{
		{"A", "ACSR 336.4 kcmil 26/7", conductor.PhaseA, 0, 29},
		{"B", "ACSR 336.4 kcmil 26/7", conductor.PhaseB, 2.5, 29},
		{"C", "ACSR 336.4 kcmil 26/7", conductor.PhaseC, 7, 29},
		{"N", "ACSR 4/0 AWG 6/1", conductor.Neutral, 4, 25},
	} {
		record, _ := conductor.Find(library, w.kind)
		wire, err := record.Wire(w.name, w.role, conductor.Place{X: w.x * foot, Height: w.height * foot}, 50, 60)
		if err != nil {
			fmt.Println(err)
			return
		}
		line.Wires = append(line.Wires, wire)
	}
	primitive, err := line.Series(conductor.ModifiedCarson)
	if err != nil {
		fmt.Println(err)
		return
	}
	z, err := primitive.Earthed("N")
	if err != nil {
		fmt.Println(err)
		return
	}
	s, err := conductor.SequenceOf(z.Matrix, phasor.ABC)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("Z1 = %.4f ohm/mile\n", s.Positive*mile)
	fmt.Printf("Z0 = %.4f ohm/mile\n", s.Zero*mile)
	// Output:
	// Z1 = (0.3061+0.6270i) ohm/mile
	// Z0 = (0.7735+1.9373i) ohm/mile
}
