package conductor

import (
	"math"
	"strings"
	"testing"
)

// Messages are part of the product: whole text.
func TestMessages(t *testing.T) {
	good := func() Overhead { return fourWire() }
	cable := func(change func(*Cable)) CableRun {
		c := concentric().At("A", PhaseA, Place{0, -1})
		change(&c)
		return CableRun{[]Cable{c}, nil, Earth{100}, 60}
	}
	tests := []struct {
		name string
		err  error
		want []string
	}{
		{"slip of units", func() error {
			l := good()
			l.Wires[0].R = 0.19e-6
			return second(l.Series(ModifiedCarson))
		}(), []string{
			`wire "a": its resistance of 1.9e-07 ohm/m is too low for its size; why: silver of that size has 5.54e-05 ohm/m; no metal has less; fix: check whether the resistance is per km, per mile or per 1000 ft, and the radius for a diameter or another unit`,
		}},
		{"several at once", func() error {
			l := good()
			l.Wires[0].GMR, l.Wires[1].Height, l.Wires[2].R, l.Earth.Resistivity = 0.01, 0, math.NaN(), 0
			l.Wires[3].Name = "c"
			return second(l.Series(ModifiedCarson))
		}(), []string{
			`earth: the resistivity is 0 ohm·m; why: the resistivity is a physical size or property, above zero; fix: give it in ohm·m; 100 is common for moist soil, 1000 for rock`,
			`wire "a": its geometric mean radius of 0.01 m is larger than its radius of 0.009157 m; why: the geometric mean of distances inside a conductor is below its outer radius; fix: check the units, and whether one is a diameter`,
			`wire "b": its height is 0 m; why: conductors at ground level have neither air nor earth around them; fix: give the height above ground, or a negative one for the depth`,
			`wire "c": its resistance is NaN ohm/m; why: its resistance is a physical size or property, above zero; fix: give it at line frequency and the temperature in use`,
			`wire "c": the name is used twice; why: results name conductors; fix: give each a name of its own`,
		}},
		{"one place", func() error {
			l := good()
			l.Wires[1].X = l.Wires[0].X + 0.01
			return second(l.Series(CarsonSeries))
		}(), []string{
			`wire "b": it is 0.01 m from wire "a", and their radii add up to 0.01831 m; why: two conductors cannot be in one place; fix: check their places; touching ones are the sum of their radii apart`,
		}},
		{"method", second(Overhead{good().Wires, Earth{100}, 60}.Series(0)), []string{
			`line: no method for the earth return is chosen; why: the methods differ; fix: choose ModifiedCarson, CarsonSeries, ComplexDepth or WedepohlWilcox`,
		}},
		{"buried by the method for air", second(cable(func(*Cable) {}).Series(CarsonSeries)), []string{
			`cable "A": it is buried, for which the method Carson series does not hold; why: its images are those of wires in air; fix: use ModifiedCarson or WedepohlWilcox`,
			`cable "A", screen: it is buried, for which the method Carson series does not hold; why: its images are those of wires in air; fix: use ModifiedCarson or WedepohlWilcox`,
		}},
		{"air by the method for earth", second(Overhead{good().Wires[:1], Earth{100}, 60}.Series(WedepohlWilcox)), []string{
			`wire "a": it is in air, for which the method Wedepohl-Wilcox does not hold; why: it has both conductors in the earth; fix: use ModifiedCarson, CarsonSeries or ComplexDepth`,
		}},
		{"screen wires don't fit", second(cable(func(c *Cable) {
			s := c.Screen.(ConcentricWires)
			s.Count = 130
			c.Screen = s
		}).Series(ModifiedCarson)), []string{
			`cable "A", screen: 130 wires of 0.0008141 m radius don't fit on a circle of 0.01557 m radius; why: wires lie side by side on their circle; fix: check the number of wires and the two radii`,
		}},
		{"insulation", second(cable(func(c *Cable) { c.Insulation = Insulation{0.02, 0.01, 0.5, true} }).Shunt()), []string{
			`cable "A": the outer radius of its insulation, 0.01 m, is not above the inner, 0.02 m; fix: check the two radii`,
			`cable "A": the relative permittivity of its insulation is 0.5; why: vacuum has 1, every insulation more; fix: give it; cross-linked polyethylene has 2.3 to 2.5, paper 3.5 to 4, EPR 3`,
		}},
		{"sequence of two", func() error { _, err := SequenceOf(newMatrix([]string{"a", "b"}), 0); return err }(), []string{
			`sequence values: the matrix has 2 conductors ["a" "b"]; why: symmetrical components are those of three phases; fix: eliminate neutrals and screens first (Earthed or Open); one and two phases have no sequence values`,
		}},
		{"unknown conductor", second(Impedance{newMatrix([]string{"a", "b"})}.Earthed("n", "a", "a")), []string{
			`conductor "n": there is none of this name; fix: the conductors are ["a" "b"]`,
			`conductor "a": it is named twice; fix: name each conductor once`,
		}},
		{"two circuits", func() error {
			l := good()
			l.Wires[2].Role = PhaseB
			_, err := l.Constants(ModifiedCarson, NeutralEarthed)
			return err
		}(), []string{
			`wire "c": it is a second phase B; why: the constants of one circuit have each phase once; fix: use Series and Shunt for several circuits; join sub-conductors first`,
		}},
		{"no neutral to keep", func() error {
			_, err := Overhead{good().Wires[:3], Earth{100}, 60}.Constants(ModifiedCarson, NeutralExplicit)
			return err
		}(), []string{
			`line: an explicit neutral is wanted, and the line has none; why: it would have nothing to stand for; fix: give the neutral conductor, or eliminate none`,
		}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if tt.err == nil {
				t.Fatal("no error")
			}
			if got := strings.Split(tt.err.Error(), "\n"); strings.Join(got, "\n") != strings.Join(tt.want, "\n") {
				t.Errorf("got\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(tt.want, "\n"))
			}
		})
	}
}

func second[T any](_ T, err error) error { return err }
