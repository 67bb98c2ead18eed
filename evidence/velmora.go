package evidence

import (
	"fmt"
	"io/fs"
	"math"
	"math/cmplx"
	"strings"

	"feederwright/examples"
	"feederwright/fault"
	"feederwright/internal/onefile"
	"feederwright/network"
	"feederwright/review"
)

const ours = "demonstration of this project: a sequence-network calculation and a separate phase-frame one from the same tables"

// demo opens the demonstration in one condition.
func demo(condition string, change Change) (*fault.Case, error) {
	files, err := fs.Sub(examples.Files, "velmora")
	if err != nil {
		return nil, err
	}
	return open(files, "study.yaml", condition, change)
}

// A row of expected currents at a place, A; zero: not stated.
type row struct {
	place         string
	three, ll, lg float64
	lg20, lg40    float64
}

func (r row) values(c *fault.Case) ([]Value, error) {
	var values []Value
	for _, w := range []struct {
		kind string
		r    float64
		want float64
	}{{"3ph", 0, r.three}, {"ll:BC", 0, r.ll}, {"lg", 0, r.lg}, {"lg", 20, r.lg20}, {"lg", 40, r.lg40}} {
		if w.want == 0 {
			continue
		}
		p, err := c.ParsePlace(r.place)
		if err != nil {
			return nil, err
		}
		t, err := c.At(p.Place)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", r.place, err)
		}
		kinds, err := fault.ParseKinds(w.kind)
		if err != nil {
			return nil, err
		}
		for _, k := range kinds {
			if k.Phases&^t.Phases != 0 {
				continue
			}
			res, err := c.Fault(p.Place, k, w.r)
			if err != nil {
				return nil, err
			}
			values = append(values, Value{fmt.Sprintf("%s, %s, %g ohm", r.place, k, w.r), w.want, res.Largest(), "A", within(0)})
		}
	}
	return values, nil
}

func table(condition string, rows []row) func(Change) ([]Value, error) {
	return func(change Change) ([]Value, error) {
		c, err := demo(condition, change)
		if err != nil {
			return nil, err
		}
		var values []Value
		for _, r := range rows {
			v, err := r.values(c)
			if err != nil {
				return nil, err
			}
			values = append(values, v...)
		}
		return values, nil
	}
}

func velmora() []Case {
	const whole = "study file, conditions, network and faults as a whole"
	return []Case{
		{ID: "VM-MAX", Title: "Velmora, maximum supply, solar out", Method: whole, Source: ours, Label: OurOwn, Run: table("maximum, normal, no plant", []row{
			{"N0", 7453, 6455, 7793, 359, 180}, {"N1", 7213, 6247, 7478, 358, 180}, {"N2", 3468, 3003, 2584, 343, 176},
			{"N3", 2422, 2097, 1679, 330, 173}, {"N4", 1552, 1344, 1019, 307, 167}, {"N5", 1139, 986, 739, 282, 160},
			{"N6", 856, 742, 553, 255, 152}, {"N7", 739, 640, 476, 240, 148}, {"L2-end", 1024, 887, 680, 269, 156},
			{"L1-end", 0, 0, 1235, 300, 165}, {"L3-end", 0, 0, 362, 203, 133}, {"Q0", 5029, 4355, 5423, 0, 0}})},
		{ID: "VM-MIN", Title: "Velmora, minimum supply", Method: whole, Source: ours, Label: OurOwn, Run: table("minimum, normal, no plant", []row{
			{"N0", 6721, 5821, 7243, 0, 0}, {"N3", 2340, 2026, 1652, 0, 0}, {"N7", 732, 634, 474, 0, 0}, {"Q0", 4419, 3827, 4934, 0, 0}})},
		{ID: "VM-FUT", Title: "Velmora, future supply", Method: whole, Source: ours, Label: OurOwn, Run: table("future, normal, no plant", []row{
			{"N0", 7582, 6566, 7886, 0, 0}, {"N2", 3495, 3027, 2594, 0, 0}, {"N3", 2435, 2109, 1683, 0, 0}})},
		{ID: "VM-TIE-MAX", Title: "Velmora fed back through the tie, maximum", Method: "switching, an unlike source, " + whole, Source: ours, Label: OurOwn, Run: table("maximum, tie-fed, no plant", []row{
			{"N7", 1431, 1239, 979, 0, 0}, {"N5", 857, 742, 567, 0, 0}, {"N4", 712, 617, 468, 0, 0}, {"N2", 567, 491, 366, 0, 0}})},
		{ID: "VM-TIE-MIN", Title: "Velmora fed back through the tie, minimum", Method: "switching, an unlike source, " + whole, Source: ours, Label: OurOwn,
			Note: "The list prints 515 A three-phase at N1. 514.495 A is computed, which is 514 in whole amperes; the printed figure must be 514.5 rounded once more. It stands here as printed.",
			Run:  tieMinimum},
		{ID: "VM-Z", Title: "Velmora, impedances from N0 to N7 and X/R", Method: "driving-point impedances; X/R of the fault loop", Source: ours, Label: OurOwn, Run: impedances},
		{ID: "VM-105", Title: "Velmora at 105 % voltage before the fault", Method: "prefault voltage of the study", Source: ours, Label: OurOwn, Run: highVoltage},
		{ID: "VM-REACH", Title: "line-to-line faults (B and C) at minimum supply, as multiples of what a relay picks up at", Method: "vantages under minimum supply and back-feed", Source: ours, Label: OurOwn,
			Note: "The pickups are the demonstration's, given to this check as data; settings are not read from a study yet.", Run: reach},
		{ID: "VM-69", Title: "earth fault on the Ashquill bus as the 69 kV fuses of TQ carry it", Method: "currents on the far side of a delta-wye transformer", Source: ours, Label: OurOwn, Run: ashquill},
		{ID: "VM-HV", Title: "faults at N0 as the 115 kV side of T1 carries them", Method: "vantages on the far side of a delta-wye transformer", Source: ours, Label: OurOwn, Run: highSide},
		{ID: "VM-SOLAR", Title: "residual at VM-11 with the solar transformer as a source of earth current", Method: "several sources of earth current; neutral reactor; vantage residuals", Source: ours, Label: OurOwn, Run: solarForward},
		{ID: "VM-REVERSE", Title: "reverse residual through R1", Method: "direction; residual from behind", Source: ours, Label: OurOwn, Run: solarReverse},
		{ID: "VM-RF", Title: "largest fault resistance at which the residual reaches 160 A at R1, 240 A at VM-11; maximum supply", Method: "closed form of the largest fault resistance", Source: ours, Label: OurOwn, Run: covered},
	}
}

func highSide(change Change) ([]Value, error) {
	c, err := demo("maximum, normal, no plant", change)
	if err != nil {
		return nil, err
	}
	p, err := c.ParsePlace("N0")
	if err != nil {
		return nil, err
	}
	var values []Value
	for _, w := range []struct {
		kind   string
		want   float64
		phases int // that carry the largest current
	}{{"lg:A", 488, 2}, {"3ph", 808, 3}, {"ll:BC", 808, 1}} {
		r, err := at(c.Solver, p.Place, w.kind, 0)
		if err != nil {
			return nil, err
		}
		for _, rd := range c.Read(r) {
			for _, cur := range rd.Currents {
				if cur.Input.Name != "CT-T1-HV" {
					continue
				}
				most, n := 0.0, 0
				for _, i := range cur.Primary[:3] {
					most = math.Max(most, cmplx.Abs(i))
				}
				for _, i := range cur.Primary[:3] {
					if cmplx.Abs(i) > 0.999*most {
						n++
					}
				}
				values = append(values, Value{w.kind + ", largest phase", w.want, most, "A", within(0)},
					Value{w.kind + ", phases that carry it", float64(w.phases), float64(n), "", exact})
			}
		}
	}
	return values, nil
}

// residual is what a relay's first current input sees of an earth fault.
func residual(condition, place, relay string, ohm float64, change Change) (amp float64, direction string, err error) {
	c, err := demo(condition, change)
	if err != nil {
		return 0, "", err
	}
	p, err := c.ParsePlace(place)
	if err != nil {
		return 0, "", err
	}
	r, err := at(c.Solver, p.Place, "lg:B", ohm)
	if err != nil {
		return 0, "", err
	}
	for _, rd := range c.Read(r) {
		if rd.Vantage.Name == relay {
			return cmplx.Abs(rd.Currents[0].Residual), rd.Currents[0].Direction, nil
		}
	}
	return 0, "", fmt.Errorf("no vantage %q", relay)
}

var solar = []string{"no plant", "TS solid", "TS 2.6 ohm", "TS 7.0 ohm"}

func solarForward(change Change) ([]Value, error) {
	var values []Value
	for _, w := range []struct {
		place    string
		ohm      float64
		want     [4]float64
		decimals [4]int
	}{
		{"N4", 0, [4]float64{1019, 561, 744, 858}, [4]int{}},
		{"N4", 40, [4]float64{167, 60, 93, 119}, [4]int{}},
		{"N5", 0, [4]float64{739, 149, 431, 571}, [4]int{}},
		{"N7", 0, [4]float64{476, 69.5, 232, 332}, [4]int{0, 1, 0, 0}},
		{"N7", 20, [4]float64{240, 27, 99, 152}, [4]int{}},
		{"N7", 40, [4]float64{148, 15, 58, 90}, [4]int{}},
	} {
		for k, state := range solar {
			got, _, err := residual("maximum, normal, "+state, w.place, "VM-11", w.ohm, change)
			if err != nil {
				return nil, err
			}
			values = append(values, Value{fmt.Sprintf("%s, %g ohm, %s", w.place, w.ohm, state), w.want[k], got, "A", within(w.decimals[k])})
		}
	}
	return values, nil
}

func solarReverse(change Change) ([]Value, error) {
	var values []Value
	for _, w := range []struct {
		place string
		want  [3]float64
	}{{"N0", [3]float64{362, 257, 170}}, {"N1", [3]float64{370, 262, 174}}, {"N2", [3]float64{672, 460, 298}}, {"N3", [3]float64{796, 527, 332}}} {
		for k, state := range solar[1:] {
			got, direction, err := residual("maximum, normal, "+state, w.place, "R1 control", 0, change)
			if err != nil {
				return nil, err
			}
			reverse := 0.0
			if direction == "reverse" {
				reverse = 1
			}
			values = append(values, Value{w.place + ", " + state, w.want[k], got, "A", within(0)},
				Value{w.place + ", " + state + ", is reverse (1: yes)", 1, reverse, "", exact})
		}
	}
	return values, nil
}

func covered(change Change) ([]Value, error) {
	var values []Value
	for _, w := range []struct {
		relay     string
		amp       float64
		condition string
		places    []string
		want      []float64
	}{
		{"R1 control", 160, "maximum, normal, no plant", []string{"N4", "N5", "N6", "N7", "L2-end", "L3-end"}, []float64{42.0, 40.1, 37.7, 36.1, 38.9, 30.3}},
		{"R1 control", 160, "maximum, normal, TS 2.6 ohm", []string{"N4", "N5", "N6", "N7", "L2-end", "L3-end"}, []float64{22.1, 13.5, 10.4, 8.1, 18.8, 0.6}},
		{"VM-11", 240, "maximum, normal, no plant", []string{"N1", "N2", "N3", "L1-end"}, []float64{29.9, 29.1, 28.3, 26.1}},
		{"VM-11", 240, "maximum, normal, TS 7.0 ohm", []string{"L3-end"}, []float64{0.3}},
	} {
		c, err := demo(w.condition, change)
		if err != nil {
			return nil, err
		}
		for i, place := range w.places {
			p, err := c.ParsePlace(place)
			if err != nil {
				return nil, err
			}
			ohm, _, err := review.Covered(c, p.Place, w.relay, w.amp)
			if err != nil {
				return nil, err
			}
			values = append(values, Value{fmt.Sprintf("%s, %s, %s", w.relay, place, strings.TrimPrefix(w.condition, "maximum, normal, ")), w.want[i], ohm, "ohm", within(1)})
		}
	}
	return values, nil
}

func tieMinimum(change Change) ([]Value, error) {
	values, err := table("minimum, tie-fed, no plant", []row{
		{"N4", 699, 605, 464, 0, 0}, {"N2", 559, 484, 363, 0, 0}, {"N1", 515, 446, 332, 0, 0}, {"L2-end", 564, 489, 377, 0, 0}})(change)
	for i := range values {
		if values[i].Expected == 515 {
			values[i].Tolerance = Tolerance{within(0).Size + within(1).Size, "half of the last digit, and half of the digit after it that was rounded first"}
		}
	}
	return values, err
}

func impedances(change Change) ([]Value, error) {
	c, err := demo("maximum, normal, no plant", change)
	if err != nil {
		return nil, err
	}
	var values []Value
	for _, w := range []struct {
		place                  string
		r1, x1, r0, x0, xr, lg string // lg: X/R of the line-to-earth loop
	}{
		{"N0", "0.0481", "0.9647", "0.0381", "0.8388", "20", "20.6"},
		{"N1", "0.0724", "0.9955", "0.1161", "0.8853", "14", "11.0"},
		{"N2", "0.5621", "1.9987", "1.3537", "3.9850", "3.6", "3.2"},
		{"N3", "0.9600", "2.8138", "2.3593", "6.5035", "2.9", "2.8"},
		{"N4", "1.6947", "4.3186", "4.2157", "11.153", "2.5", ""},
		{"N5", "2.7605", "5.6869", "6.4149", "15.291", "2.1", ""},
		{"N6", "4.0631", "7.3594", "9.1029", "20.348", "1.8", ""},
		{"N7", "4.8920", "8.4237", "10.813", "23.566", "1.7", ""},
		{"L2-end", "3.8229", "5.9019", "7.6687", "16.037", "1.5", ""},
	} {
		p, err := c.ParsePlace(w.place)
		if err != nil {
			return nil, err
		}
		t, err := c.At(p.Place)
		if err != nil {
			return nil, err
		}
		z0, z1, _, _, _ := c.Sequence(&t)
		three, err := at(c.Solver, p.Place, "3ph", 0)
		if err != nil {
			return nil, err
		}
		earth, err := at(c.Solver, p.Place, "lg:A", 0)
		if err != nil {
			return nil, err
		}
		values = append(values,
			print(w.place+", R1", w.r1, real(z1), "ohm"), print(w.place+", X1", w.x1, imag(z1), "ohm"),
			print(w.place+", R0", w.r0, real(z0), "ohm"), print(w.place+", X0", w.x0, imag(z0), "ohm"),
			print(w.place+", X/R", w.xr, three.XR(), ""))
		if w.lg != "" {
			values = append(values, print(w.place+", X/R of the earth loop", w.lg, earth.XR(), ""))
		}
	}
	return values, nil
}

func highVoltage(change Change) ([]Value, error) {
	text, err := fs.ReadFile(examples.Files, "velmora/study.yaml")
	if err != nil {
		return nil, err
	}
	const was, is = "prefault: 100 %", "prefault: 105 %"
	if strings.Count(string(text), was) != 1 {
		return nil, fmt.Errorf("the demonstration does not say %q once", was)
	}
	files, err := fs.Sub(examples.Files, "velmora")
	if err != nil {
		return nil, err
	}
	raised := overlaid{files, onefile.FS{Name: "study.yaml", Text: []byte(strings.Replace(string(text), was, is, 1))}}
	var values []Value
	for _, w := range []struct{ condition, three, earth string }{
		{"maximum, normal, no plant", "3641", "2713"},
		{"future, normal, no plant", "3670", "2724"},
	} {
		c, err := open(raised, "study.yaml", w.condition, change)
		if err != nil {
			return nil, err
		}
		p, err := c.ParsePlace("N2")
		if err != nil {
			return nil, err
		}
		for _, k := range []struct{ kind, want string }{{"3ph", w.three}, {"lg:A", w.earth}} {
			r, err := at(c.Solver, p.Place, k.kind, 0)
			if err != nil {
				return nil, err
			}
			values = append(values, print("N2, "+k.kind+", "+w.condition[:7], k.want, r.Largest(), "A"))
		}
	}
	return values, nil
}

// overlaid is a file system whose study.yaml is another text.
type overlaid struct {
	fs.FS
	study onefile.FS
}

func (o overlaid) Open(name string) (fs.File, error) {
	if name == "study.yaml" {
		return o.study.Open(name)
	}
	return o.FS.Open(name)
}

// feeding is the second word of a condition's name.
func feeding(condition string) string { return strings.Split(condition, ", ")[1] }

// reach compares the largest phase current of a relay's first input with a
// pickup, both primary.
func reach(change Change) ([]Value, error) {
	var values []Value
	for _, w := range []struct {
		relay     string
		pickup    float64 // A primary
		condition string
		kind      string
		place     string
		want      string
	}{
		{"AQ-21", 480, "minimum, tie-fed, no plant", "ll:BC", "N4", "1.26"},
		{"AQ-21", 480, "minimum, tie-fed, no plant", "ll:BC", "L2-end", "1.02"},
		{"AQ-21", 480, "minimum, tie-fed, no plant", "ll:BC", "N2", "1.01"},
		{"AQ-21", 480, "minimum, tie-fed, no plant", "ll:BC", "N1", "0.93"},
		{"R1 control", 320, "minimum, tie-fed, no plant", "ll:BC", "N1", "1.39"},
		{"R1 control", 320, "minimum, normal, no plant", "ll:BC", "N7", "1.98"},
		{"VM-11", 600, "minimum, normal, no plant", "ll:BC", "N5", "1.62"},
		{"VM-11", 600, "minimum, normal, no plant", "ll:BC", "L2-end", "1.46"},
		{"VM-11", 600, "minimum, normal, no plant", "ll:BC", "N6", "1.22"},
		{"VM-11", 600, "minimum, normal, no plant", "ll:BC", "N7", "1.06"},
		{"T1 main", 1600, "minimum, normal, no plant", "ll:BC", "N3", "1.27"},
		{"T1 main", 1600, "minimum, normal, no plant", "ll:BC", "N4", "0.82"},
	} {
		c, err := demo(w.condition, change)
		if err != nil {
			return nil, err
		}
		p, err := c.ParsePlace(w.place)
		if err != nil {
			return nil, err
		}
		r, err := at(c.Solver, p.Place, w.kind, 0)
		if err != nil {
			return nil, err
		}
		seen := math.NaN() // holds for nothing if the relay isn't there
		for _, rd := range c.Read(r) {
			if rd.Vantage.Name != w.relay {
				continue
			}
			seen = 0
			for _, i := range rd.Currents[0].Primary[:3] {
				seen = math.Max(seen, cmplx.Abs(i))
			}
		}
		values = append(values, print(fmt.Sprintf("%s %g A, %s, %s", w.relay, w.pickup, w.place, feeding(w.condition)), w.want, seen/w.pickup, "times"))
	}
	return values, nil
}

func ashquill(change Change) ([]Value, error) {
	var values []Value
	for _, w := range []struct{ condition, want string }{{"maximum, normal, no plant", "566"}, {"minimum, normal, no plant", "515"}} {
		c, err := demo(w.condition, change)
		if err != nil {
			return nil, err
		}
		p, err := c.ParsePlace("Q0")
		if err != nil {
			return nil, err
		}
		probe := c.Net.AtTerminal(c.Net.ElementByName(network.Transformer, "TQ"), 0)
		watched := c.WatchCurrent(&probe)
		r, err := at(c.Solver, p.Place, "lg:A", 0)
		if err != nil {
			return nil, err
		}
		most := 0.0
		for _, i := range r.Current[watched][:3] {
			most = math.Max(most, cmplx.Abs(i))
		}
		values = append(values, print("largest phase at 69 kV, "+w.condition[:7], w.want, most, "A"))
	}
	return values, nil
}
