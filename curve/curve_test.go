package curve_test

import (
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"strconv"
	"testing"

	"feederwright/curve"

	"pgregory.net/rapid"
)

// table reads a CSV file of check values as maps from heading to cell.
func table(t *testing.T, name string) []map[string]string {
	t.Helper()
	f, err := os.Open("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil || len(rows) < 2 {
		t.Fatalf("%s: %d rows, %v", name, len(rows), err)
	}
	var list []map[string]string
	for _, r := range rows[1:] {
		m := map[string]string{}
		for i, h := range rows[0] {
			m[h] = r[i]
		}
		list = append(list, m)
	}
	return list
}

func number(t *testing.T, s string) float64 {
	t.Helper()
	x, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return x
}

// inverse finds a curve by the names in the check tables.
func inverse(t *testing.T, id string) curve.Inverse {
	t.Helper()
	name := map[string]string{"IEC_A": "IEC A", "IEC_B": "IEC B", "IEC_C": "IEC C", "IEC_D": "IEC D", "IEC_E": "IEC E",
		"IEC_F": "IEC F", "LTI": "long-time inverse", "STI": "short-time inverse"}[id]
	c, ok := curve.Find(name)
	if !ok {
		t.Fatalf("no curve %q", id)
	}
	return c.Inverse
}

// Operating and reset times from the formulas, computed apart from this program. Derived:
// IEC 60255-151:2009 4.3 and Annex A, IEEE C37.112 table 1 (constants from memory).
func TestTables(t *testing.T) {
	for _, r := range table(t, "curves_operate_times.csv") {
		s := curve.Setting{Form: inverse(t, r["curve_id"]), Dial: number(t, r["dial"])}
		got, want := s.Time(number(t, r["multiple"])), number(t, r["operate_time_s"])
		if !(math.Abs(got-want) <= 5.1e-7) { // half of the last digit
			t.Errorf("%s dial %s M %s: %.7f s, want %.6f", r["curve_id"], r["dial"], r["multiple"], got, want)
		}
	}
	for _, r := range table(t, "curves_reset_times.csv") {
		s := curve.Setting{Form: inverse(t, r["curve_id"]), Dial: number(t, r["dial"]), Reset: curve.Reset{Kind: curve.AlongCurve}}
		got, want := s.ResetTime(number(t, r["multiple"])), number(t, r["full_reset_time_s"])
		if !(math.Abs(got-want) <= 5.1e-7) {
			t.Errorf("%s dial %s M %s: reset %.7f s, want %.6f", r["curve_id"], r["dial"], r["multiple"], got, want)
		}
	}
}

func TestTimes(t *testing.T) {
	a, b, c := inverse(t, "IEC_A"), inverse(t, "IEC_B"), inverse(t, "IEC_C")
	const weedy = "Weedy & Cory, Electric Power Systems, example 11.1: 4000 A on 400/1 at 125 %, TM 0.6, answer 2.0 s read from a graph"
	tests := []struct {
		name   string
		s      curve.Setting
		m      float64
		want   float64
		tol    float64
		source string
	}{
		{"A at 10", curve.Setting{Form: a, Dial: 1}, 10, 2.970599, 5e-7, "derived: 0.14/(10^0.02 − 1)"},
		{"B at 10", curve.Setting{Form: b, Dial: 1}, 10, 1.5, 1e-12, "derived, by hand: 13.5/9"},
		{"C at 9", curve.Setting{Form: c, Dial: 1}, 9, 1, 1e-12, "derived, by hand: 80/80"},
		{"LTI at 7", curve.Setting{Form: inverse(t, "LTI"), Dial: 1}, 7, 20, 1e-12, "derived, by hand: 120/6"},
		{"textbook", curve.Setting{Form: a, Dial: 0.6}, 4000.0 / 400 / 1.25, 2.0, 0.05, "published, " + weedy},
		{"textbook by formula", curve.Setting{Form: a, Dial: 0.6}, 8, 1.97806, 5e-6, "derived: the formula at M = 8"},
		{"flat A", curve.Setting{Form: a, Dial: 1, Flat: 20}, 30, 2.2674, 5e-5, "derived: held at M = 20, IEC 60255-151 GD"},
		{"flat F", curve.Setting{Form: inverse(t, "IEC_F"), Dial: 1, Flat: 20}, 30, 0.1924, 5e-5, "derived: held at M = 20"},
		{"bare F", curve.Setting{Form: inverse(t, "IEC_F"), Dial: 1}, 30, 0.1531, 5e-5, "derived: the formula at 30"},
		{"at the pickup", curve.Setting{Form: b, Dial: 1}, 1, math.Inf(1), 0, "definition: no operation at the setting"},
		{"below the start", curve.Setting{Form: b, Dial: 1, Start: 1.2}, 1.1, math.Inf(1), 0, "definition: GT of IEC 60255-151"},
		{"minimum", curve.Setting{Form: c, Dial: 0.05, Minimum: 0.1}, 20, 0.1, 0, "definition"},
		{"adder", curve.Setting{Form: b, Dial: 0.1, Adder: 0.05}, 10, 0.2, 1e-15, "by hand: 0.15 + 0.05"},
		{"definite", curve.Setting{Form: curve.Definite{}, Dial: 0.4}, 1, 0.4, 0, "IEC 60255-151, independent time"},
		{"constant heat", curve.Setting{Form: curve.Thermal{K: 100}, Dial: 1}, 5, 4, 0, "by hand: 100/25"},
	}
	for _, tt := range tests {
		got := tt.s.Time(tt.m)
		if got != tt.want && !(math.Abs(got-tt.want) <= tt.tol) {
			t.Errorf("%s: %.7f s, want %.7f (%s)", tt.name, got, tt.want, tt.source)
		}
	}
}

// Relays graded in series by hand: the published exercise gives the data; the steps are derived with curve A.
func TestGradedByHand(t *testing.T) {
	a, b, e := inverse(t, "IEC_A"), inverse(t, "IEC_B"), inverse(t, "IEC_E")
	for _, tt := range []struct {
		what string
		form curve.Form
		dial float64
		m    float64
		want float64
	}{
		{"three substations, C", a, 0.08, 4198.9 / 250, 0.19296},
		{"three substations, B for a fault at C", a, 0.17, 4198.9 / 400, 0.49434},
		{"three substations, B at its own", a, 0.17, 7873.0 / 400, 0.38758},
		{"three substations, A for a fault at B", a, 0.26, 7873.0 / 600, 0.68896},
		{"three substations, A at its own", a, 0.26, 10497.3 / 600, 0.61791},
		{"two relays, R1", a, 0.3, 3000.0 / 150, 0.680207},
		{"three relays on B, R1", b, 0.10, 1500.0 / 120, 0.117391},
		{"three relays on B, R2", b, 0.17, 2800.0 / 240, 0.215156},
		{"three relays on B, R3", b, 0.23, 4500.0 / 400, 0.302927},
		{"two relays on E, lower", e, 1, 3000.0 / 200, 0.578545},
		{"two relays on E, upper", e, 1, 3000.0 / 400, 0.845932},
	} {
		if got := (curve.Setting{Form: tt.form, Dial: tt.dial}).Time(tt.m); !(math.Abs(got-tt.want) <= 1e-5) { // currents are given to 0.1 A
			t.Errorf("%s: %.6f s, want %.6f", tt.what, got, tt.want)
		}
	}
}

// A relay's own table takes the place of a formula. Published exercise: 400/5 at 125 %, TMS 0.6, 4000 A,
// table 2 5 8 10 -> 10 8 3.2 2.5 s, answer 1.92 s.
func TestOwnTable(t *testing.T) {
	p, wrong := curve.NewPoints([]curve.Point{{2, 10}, {5, 8}, {8, 3.2}, {10, 2.5}}, curve.Unsaid)
	if wrong != nil {
		t.Fatal(wrong)
	}
	s := curve.Setting{Form: p, Dial: 0.6}
	if got := s.Time(8); !(math.Abs(got-1.92) <= 1e-12) {
		t.Errorf("%g s, want 1.92", got)
	}
	if got := s.Time(11); !math.IsNaN(got) {
		t.Errorf("beyond the table: %g, want NaN: it doesn't say", got)
	}
	if got := s.Time(1.9); !math.IsInf(got, 1) {
		t.Errorf("below the table: %g, want +Inf", got)
	}
	if got := s.Time(4); !(math.Abs(got-0.6*10*math.Pow(0.8, math.Log(2)/math.Log(2.5))) <= 1e-12) {
		t.Errorf("between points: %g, not straight on logarithmic scales", got)
	}
}

func TestPointsThatRise(t *testing.T) {
	_, wrong := curve.NewPoints([]curve.Point{{10, 5}, {20, 6}, {15, 1}, {30, 0}, {30, 0}}, curve.Held)
	want := []curve.PointError{
		{1, "the time rises from 5 s to 6 s; more current can't be slower"},
		{2, "the current 15 is below the one before it, 20"},
		{3, "the time 0 s is not above zero"},
		{4, "the time 0 s is not above zero"},
		{4, "it repeats the one before it"},
	}
	if fmt.Sprint(wrong) != fmt.Sprint(want) {
		t.Errorf("got  %v\nwant %v", wrong, want)
	}
	if _, wrong := curve.NewPoints(nil, curve.Held); len(wrong) != 1 {
		t.Errorf("no points: %v", wrong)
	}
}

// Varying current and inverse reset. Derived: closed forms and numerical integration apart from this program.
func TestProgress(t *testing.T) {
	a, b, e := inverse(t, "IEC_A"), inverse(t, "IEC_B"), inverse(t, "IEC_E")
	s := curve.Setting{Form: b, Dial: 0.2}
	var p curve.Progress
	if _, done := p.Advance(s, 4, 0.4); done || math.Abs(p.S-0.444444) > 5.1e-7 {
		t.Errorf("B, 4 times for 0.4 s: travel %.6f, want 0.444444", p.S)
	}
	if at, done := p.Advance(s, 8, 1); !done || math.Abs(0.4+at-0.614286) > 5.1e-7 {
		t.Errorf("then 8 times: %.6f s, want 0.614286", 0.4+at)
	}
	ramp := func(t float64) float64 { return 2 + 4*t }
	if got := curve.Operates(s, ramp, 5, 1e-4); math.Abs(got-0.938486) > 1e-6 { // ∫(1 + 4t)dt = 2.7
		t.Errorf("B under 2 + 4t: %.6f s, want 0.938486 (closed form)", got)
	}
	if got := curve.Operates(curve.Setting{Form: a, Dial: 0.1}, ramp, 5, 1e-4); math.Abs(got-0.60575) > 1e-5 {
		t.Errorf("A under 2 + 4t: %.6f s, want 0.60575 (numerical)", got)
	}
	s = curve.Setting{Form: e, Dial: 1, Reset: curve.Reset{Kind: curve.AlongCurve}}
	p = curve.Progress{}
	p.Advance(s, 5, 0.5)
	p.Advance(s, 0.5, 2)
	if math.Abs(p.S-0.312794) > 1e-6 {
		t.Errorf("E after 0.5 s at 5 and 2 s at 0.5: travel %.6f, want 0.312794", p.S)
	}
	if at, done := p.Advance(s, 5, 10); !done || math.Abs(at-0.898922) > 1e-6 {
		t.Errorf("then at 5: %.6f s, want 0.898922", at)
	}
	s.Reset = curve.Reset{}
	p = curve.Progress{}
	p.Advance(s, 5, 0.5)
	p.Advance(s, 0.5, 2)
	if at, done := p.Advance(s, 5, 10); !done || math.Abs(at-1.308083) > 1e-6 {
		t.Errorf("with an instantaneous reset: %.6f s, want 1.308083", at)
	}
	// Cold load: 5, 3, 2 and 1.5 times the load, pickup at 1.5 times. Derived: travel 0.271605/D.
	for _, tt := range []struct {
		form  curve.Form
		dial  float64
		trips bool
	}{{b, 0.2, true}, {b, 0.271, true}, {b, 0.272, false}, {b, 0.3, false}, {a, 0.2, true}} {
		load := func(t float64) float64 {
			for i, m := range []float64{5, 3, 2} {
				if t < float64(i+1) {
					return m / 1.5
				}
			}
			return 1
		}
		got := curve.Operates(curve.Setting{Form: tt.form, Dial: tt.dial}, load, 100, 0.01)
		if (got < math.Inf(1)) != tt.trips {
			t.Errorf("cold load at dial %g: %g s, want trips: %v", tt.dial, got, tt.trips)
		}
	}
}

// The order of the method: halving the step cuts the error by four.
func TestProgressOrder(t *testing.T) {
	s := curve.Setting{Form: inverse(t, "IEC_C"), Dial: 0.5}
	m := func(t float64) float64 { return 3 + math.Sin(3*t) }
	exact := curve.Operates(s, m, 50, 1e-5)
	// Steps that don't divide the time, and the error at the last step is linear in the current: use long runs.
	coarse := math.Abs(curve.Operates(s, m, 50, 0.04) - exact)
	fine := math.Abs(curve.Operates(s, m, 50, 0.01) - exact)
	if !(fine < coarse/6) {
		t.Errorf("error %.3g at 0.04 s and %.3g at 0.01 s: not of second order", coarse, fine)
	}
}

// Minimum and adder give the same in the integral form as at a steady current, and a dip takes them back.
func TestProgressIsTimeAtSteadyCurrent(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		forms := []curve.Form{curve.Definite{}, curve.Thermal{K: 10}}
		for _, n := range curve.Known {
			forms = append(forms, n.Inverse)
		}
		s := curve.Setting{
			Form: rapid.SampledFrom(forms).Draw(r, "form"), Dial: rapid.Float64Range(0.05, 3).Draw(r, "dial"),
			Minimum: rapid.SampledFrom([]float64{0, 0.1, 2}).Draw(r, "minimum"), Adder: rapid.SampledFrom([]float64{0, 0.05, 1}).Draw(r, "adder"),
			Flat: rapid.SampledFrom([]float64{0, 20}).Draw(r, "flat"), Start: rapid.SampledFrom([]float64{0, 1.1}).Draw(r, "start"),
		}
		m := rapid.Float64Range(0.5, 40).Draw(r, "m")
		want := s.Time(m)
		step := rapid.Float64Range(0.001, 5).Draw(r, "step")
		if want > 2000*step {
			step = want / 2000
		}
		horizon := 10.0
		if want < math.Inf(1) {
			horizon = want*1.5 + 1
		}
		got := curve.Operates(s, func(float64) float64 { return m }, horizon, math.Min(step, horizon))
		if got != want && !(math.Abs(got-want) <= 1e-9*want) {
			r.Fatalf("%+v at %g: %g s by steps, %g by the curve", s, m, got, want)
		}
	})
}

// A definite reset keeps the travel through a gap shorter than its delay, and loses it in a longer one.
func TestDefiniteReset(t *testing.T) {
	s := curve.Setting{Form: inverse(t, "IEC_B"), Dial: 1, Reset: curve.Reset{Kind: curve.AfterDelay, Delay: 0.5}}
	for _, tt := range []struct{ gap, want float64 }{{0.4, 1}, {0.6, 1.5}} {
		var p curve.Progress
		p.Advance(s, 10, 0.5)
		p.Advance(s, 0, tt.gap)
		if at, done := p.Advance(s, 10, 10); !done || math.Abs(at-tt.want) > 1e-12 {
			t.Errorf("gap %g s: operates after %g s, want %g", tt.gap, at, tt.want)
		}
	}
}

func TestTolerance(t *testing.T) {
	s := curve.Setting{Form: inverse(t, "IEC_B"), Dial: 1}
	// Derived, by hand: IEC 60255-151 table 1 (from memory) with an assigned error of 5 %: 12.5, 7.5, 5 %.
	e := curve.Tolerance{Time: 0.05, Limiting: true}
	for _, tt := range []struct{ m, part float64 }{{3, 0.125}, {6, 0.075}, {12, 0.05}} {
		if got := s.Latest(tt.m, e)/s.Time(tt.m) - 1; math.Abs(got-tt.part) > 1e-12 {
			t.Errorf("at %g times: %+.4f, want %.4f", tt.m, got, tt.part)
		}
		if got := 1 - s.Earliest(tt.m, e)/s.Time(tt.m); math.Abs(got-tt.part) > 1e-12 {
			t.Errorf("at %g times: %+.4f early, want %.4f", tt.m, got, tt.part)
		}
	}
	if got := (curve.Setting{Form: curve.Definite{}, Dial: 0.1}).Latest(5, curve.Tolerance{Time: 0.05, Floor: 0.02}); math.Abs(got-0.12) > 1e-12 {
		t.Errorf("floor: %g, want 0.12", got)
	}
	if got := s.Latest(1.02, curve.Tolerance{Pickup: 0.03}); !math.IsInf(got, 1) {
		t.Errorf("within the error of the pickup it may not operate; got %g", got)
	}
	if got := s.Earliest(0.98, curve.Tolerance{Pickup: 0.03}); math.IsInf(got, 1) {
		t.Error("within the error of the pickup it may operate")
	}
}

// More current is never slower, and the bounds enclose the curve: for every form and setting.
func TestLaws(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		forms := []curve.Form{curve.Definite{}, curve.Thermal{K: 10}}
		for _, n := range curve.Known {
			forms = append(forms, n.Inverse)
		}
		s := curve.Setting{
			Form: rapid.SampledFrom(forms).Draw(r, "form"), Dial: rapid.Float64Range(0.05, 3).Draw(r, "dial"),
			Minimum: rapid.SampledFrom([]float64{0, 0.1}).Draw(r, "minimum"), Adder: rapid.SampledFrom([]float64{0, 0.05}).Draw(r, "adder"),
			Flat: rapid.SampledFrom([]float64{0, 20}).Draw(r, "flat"),
		}
		e := curve.Tolerance{Pickup: rapid.Float64Range(0, 0.1).Draw(r, "pickup"), Time: rapid.Float64Range(0, 0.2).Draw(r, "time"), Floor: rapid.Float64Range(0, 0.05).Draw(r, "floor")}
		x := rapid.Float64Range(0.1, 100).Draw(r, "x")
		y := x * rapid.Float64Range(1, 3).Draw(r, "step")
		if s.Time(y) > s.Time(x) {
			r.Fatalf("%+v: %g s at %g and %g s at %g", s, s.Time(x), x, s.Time(y), y)
		}
		if s.Earliest(x, e) > s.Time(x) || s.Latest(x, e) < s.Time(x) {
			r.Fatalf("%+v at %g: %g to %g s does not enclose %g", s, x, s.Earliest(x, e), s.Latest(x, e), s.Time(x))
		}
	})
}

func ExampleSetting() {
	very, _ := curve.Find("IEEE very inverse")
	set := curve.Setting{Form: very.Inverse, Dial: 0.5, Flat: 30}
	fmt.Printf("%.3f s\n", set.Time(2422.0/600))
	// Output: 0.887 s
}
