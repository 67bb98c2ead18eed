package evidence

import (
	"strings"
	"testing"
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
			if o.Err != nil {
				t.Fatal(o.Err)
			}
			if len(o.Values) == 0 {
				t.Fatal("nothing was checked")
			}
			for _, v := range o.Values {
				if !v.Holds() {
					t.Errorf("%s = %.7g %s, want %.7g ± %.1g (%s: %s)", v.What, v.Computed, v.Unit, v.Expected, v.Tolerance, o.Case.Label, o.Case.Source)
				}
				if v.Tolerance > 0.06*max(v.Expected, -v.Expected) && v.Expected != 0 && v.Tolerance > within(1) {
					t.Errorf("%s: a tolerance of %g on %g would hold for anything", v.What, v.Tolerance, v.Expected)
				}
			}
		})
	}
}

// A check must be able to fail: one percent more of one impedance breaks the
// demonstration's table and the radial feeder.
func TestChecksCanFail(t *testing.T) {
	c, err := demo("maximum, normal, no plant")
	if err != nil {
		t.Fatal(err)
	}
	for i := range c.Net.Elements {
		if e := &c.Net.Elements[i]; e.Name == "N2-N3" {
			if !strings.Contains(string(e.Kind), "line") {
				t.Fatal("N2-N3 is not a line")
			}
		}
	}
	r := row{"N3", 2422 * 1.01, 2097, 1679, 0, 0}
	values, err := r.values(c)
	if err != nil {
		t.Fatal(err)
	}
	if values[0].Holds() {
		t.Error("a current one percent off is accepted")
	}
	if !values[1].Holds() {
		t.Error("the true current beside it is not")
	}
	if (Outcome{}).Holds() {
		t.Error("a case without values holds")
	}
}
