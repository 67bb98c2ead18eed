package evidence

import (
	"bytes"
	"fmt"
	"math"
	"os"
	"strings"
	"testing"
	"unicode/utf8"

	"feederwright/network"
)

func TestCases(t *testing.T) {
	seen := map[string]bool{}
	for _, o := range Verify(Cases()) {
		t.Run(o.Case.ID, func(t *testing.T) {
			if seen[o.Case.ID] {
				t.Error("two cases have this name")
			}
			seen[o.Case.ID] = true
			if o.Case.Source == "" || o.Case.Method == "" || o.Case.Title == "" {
				t.Error("source, method or title is blank")
			}
			known := false
			for _, l := range Labels {
				known = known || l == o.Case.Label
			}
			if !known {
				t.Errorf("label %q", o.Case.Label)
			}
			if o.Case.Label == Published && o.Case.Publication == "" {
				t.Error("published, and in no publication")
			}
			if o.Err != nil {
				t.Fatal(o.Err)
			}
			if len(o.Values) == 0 {
				t.Fatal("nothing was checked")
			}
			for _, v := range o.Values {
				if !v.Holds() {
					t.Errorf("%s = %.7g %s, want %.7g ± %.1g (%s: %s)", v.What, v.Computed, v.Unit, v.Expected, v.Tolerance.Size, o.Case.Label, o.Case.Source)
				}
				// With these the row of a failing value is at most 100 columns wide.
				if n := utf8.RuneCountInString(v.What + v.Unit); n > 38 {
					t.Errorf("%q and its unit are %d characters, more than 38", v.What, n)
				}
				if v.Tolerance.Why == "" {
					t.Errorf("%s: a tolerance without a reason", v.What)
				}
				if v.Tolerance.Size > 0.06*math.Abs(v.Expected) && v.Expected != 0 && v.Tolerance.Size > within(1).Size {
					t.Errorf("%s: a tolerance of %g on %g would hold for anything", v.What, v.Tolerance.Size, v.Expected)
				}
			}
		})
	}
}

// A check must be able to fail. With one percent more impedance in any one
// element of its network, in all conductors or in the first alone (some cases
// compare currents of one network, which scale together), some value of a case
// no longer holds. The demonstration's figures have three digits and its
// network is large: there one percent in all elements together must break each
// case, and one percent in any one element some case.
func TestChecksCanFail(t *testing.T) {
	// What cannot matter to a case, with the reason.
	exempt := map[string]string{
		"DYN infeed source":       "its impedance is 1e-6 of the transformer's",
		"EARTH-C infeed source 0": "its impedance is 4e-8 of the capacitance's",
		"IEEE13 infeed source":    "it stands for an infinite source",
		"LINE-OH infeed source":   "a line's constants don't depend on the source",
		"LINE-13 infeed source":   "a line's constants don't depend on the source",
		"LINE-34 infeed source":   "a line's constants don't depend on the source",
		"LINE-CN infeed source":   "a line's constants don't depend on the source",
		"LINE-TAPE infeed source": "a line's constants don't depend on the source",
		"LINE-607 infeed source":  "a line's constants don't depend on the source",
		"IEEE4 infeed source":     "it stands for an infinite source",
		"LF-0 infeed source 0":    "it stands for an infinite source",
		"LF-1 infeed source 0":    "it stands for an infinite source",
		"LF-4 infeed source":      "it stands for an infinite source",
		"LF-4-1 infeed source":    "it stands for an infinite source",
		"LDC infeed source":       "it stands for an infinite source",
		"LDC regulator VR":        "its impedance is made negligible",
	}
	noticedIn := map[string]bool{} // elements of the demonstrations: whether one of their cases notices
	for _, c := range Cases() {
		// breaks tells whether a change of the elements of a name, or of all for "", is noticed.
		breaks := func(element string, conductors int) bool {
			values, err := c.Run(func(n *network.Network) {
				for i := range n.Elements {
					if n.Live(i) && (element == "" || name(&n.Elements[i]) == element) {
						raise(n, i, 1.01, conductors)
					}
				}
			})
			if err != nil { // a failure to compute proves nothing
				t.Errorf("%s with one percent more in %s: %v", c.ID, element, err)
			}
			return err == nil && !(Outcome{c, values, nil}).Holds()
		}
		elements := map[string]bool{}
		if _, err := c.Run(func(n *network.Network) {
			for i := range n.Elements {
				if n.Live(i) {
					elements[name(&n.Elements[i])] = true
				}
			}
		}); err != nil {
			t.Fatalf("%s: %v", c.ID, err)
		}
		if len(elements) == 0 {
			t.Errorf("%s: its network is not changed, so this test shows nothing", c.ID)
		}
		demonstration := strings.HasPrefix(c.ID, "VM-") || strings.HasPrefix(c.ID, "KW-")
		if demonstration && !breaks("", 4) {
			t.Errorf("%s holds with one percent more in everything", c.ID)
		}
		for e := range elements {
			if why := exempt[c.ID+" "+e]; why != "" {
				if breaks(e, 4) {
					t.Errorf("%s notices %s, which is exempt: %s", c.ID, e, why)
				}
				continue
			}
			if demonstration {
				name := c.ID[:3] + e
				noticedIn[name] = noticedIn[name] || breaks(e, 4)
			} else if !breaks(e, 4) && !breaks(e, 1) {
				t.Errorf("%s holds with one percent more in %s", c.ID, e)
			}
		}
	}
	for e, noticed := range noticedIn {
		if !noticed {
			t.Errorf("no case of its demonstration notices one percent more in %s", e)
		}
	}
	if (Outcome{}).Holds() {
		t.Error("a case without values holds")
	}
	if (Value{Expected: 1, Computed: math.NaN(), Tolerance: Tolerance{Size: 1}}).Holds() {
		t.Error("a value that is not a number holds")
	}
}

// The identity is a change of nothing: the changed way must give the same bits,
// or the test above would prove something else.
func TestChangeOfNothing(t *testing.T) {
	for _, c := range Cases() {
		plain, err := c.Run(nil)
		if err != nil {
			t.Fatal(err)
		}
		same, err := c.Run(func(n *network.Network) {})
		if err != nil {
			t.Fatal(err)
		}
		for i := range plain {
			if plain[i] != same[i] {
				t.Errorf("%s: %s is %v plain and %v through an empty change", c.ID, plain[i].What, plain[i].Computed, same[i].Computed)
			}
		}
	}
}

func name(e *network.Element) string { return fmt.Sprint(e.Kind, " ", e.Name) }

// raise makes the impedance of an element's first conductors larger by a
// factor, at every terminal: Y becomes D·Y·D with 1/√factor on the diagonal of
// D for those and 1 elsewhere, and the series matrix D⁻¹·Z·D⁻¹. It keeps the
// matrix symmetric where it was. An infeed keeps its source voltage where all
// conductors are raised.
func raise(n *network.Network, element int, factor float64, conductors int) {
	e := &n.Elements[element]
	if e.Control != nil { // an inverter has no impedance: so much less rated current
		e.Control.Power /= factor
	}
	if e.Demand != nil { // a load's impedance is what it takes, the other way about
		e.Demand.Sequence /= complex(factor, 0)
		for k := range e.Demand.Branches {
			e.Demand.Branches[k].S /= complex(factor, 0)
		}
	}
	var d []complex128
	type place struct{ node, row, unknown int }
	var at []place
	for _, t := range e.Terminals {
		for k, c := range t.Phases.Conductors() {
			x := complex128(1)
			if k < conductors {
				x = complex(1/math.Sqrt(factor), 0)
			}
			d = append(d, x)
			node := n.Node[t.Bus]
			row := 0
			for b := 0; b < c; b++ {
				if n.NodePhases(node).HasConductor(b) {
					row++
				}
			}
			at = append(at, place{node, row, n.Unknown(t.Bus, c)})
		}
	}
	size := len(d)
	for i := range size {
		for j := range size {
			y := e.Y[i*size+j]
			changed := y * d[i] * d[j]
			e.Y[i*size+j] = changed
			if changed != y {
				n.Matrix.AddAt(at[i].node, at[i].row, at[j].node, at[j].row, changed-y)
			}
		}
		if e.Inject != nil {
			was := e.Inject[i]
			e.Inject[i] *= d[i]
			if conductors >= len(e.Terminals[0].Phases.Conductors()) {
				e.Inject[i] *= d[i] // I = Y·E with all of Y divided by the factor
			}
			n.Source[at[i].unknown] += e.Inject[i] - was
		}
	}
	if e.Series != nil {
		k := size / 2
		for i := range k {
			for j := range k {
				e.Series[i*k+j] /= d[i] * d[j]
			}
		}
	}
}

// The published values in two places are the same files.
func TestLineDataAlike(t *testing.T) {
	for _, name := range []string{"handbook.json", "ieee13_line_impedance.csv", "ieee34_line_impedance.csv"} {
		ours, err := lineFiles.ReadFile("testdata/lines/" + name)
		if err != nil {
			t.Fatal(err)
		}
		theirs, err := os.ReadFile("../conductor/testdata/" + name)
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(ours, theirs) {
			t.Errorf("%s differs between evidence and conductor", name)
		}
	}
}
