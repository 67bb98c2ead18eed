package curve_test

import (
	"math"
	"testing"

	"feederwright/curve"

	"pgregory.net/rapid"
)

// melting is an invented 100K link: it lies inside the gates of its type.
func melting(t testing.TB) curve.Points {
	p, wrong := curve.NewPoints([]curve.Point{{204, 300}, {216, 100}, {238, 30}, {270, 10}, {350, 3}, {510, 1}, {850, 0.3}, {1560, 0.1},
		{2780, 0.03}, {4700, 0.01}}, curve.Thermic)
	if wrong != nil {
		t.Fatal(wrong)
	}
	return p
}

func TestFuse(t *testing.T) {
	f := curve.Fuse{Melt: melting(t), Spread: 1.15, Arcing: 0.013}
	for _, tt := range []struct {
		what      string
		got, want float64
		tol       float64
		source    string
	}{
		{"melting at a point", f.Melting(850, 1), 0.3, 1e-12, "the table"},
		{"melting at 1024 A", f.Melting(1024, 1), 0.3 * math.Pow(1024/850.0, math.Log(0.1/0.3)/math.Log(1560/850.0)), 1e-12, "derived: straight on log scales"},
		{"after preload", f.Melting(850, 0.75), 0.225, 1e-12, "the 75 % rule: textbooks and IEEE C37.48, from memory"},
		{"clearing at 850 × 1.15", f.Clearing(850 * 1.15), 0.313, 1e-12, "by hand"},
		{"beyond the table", f.Melting(9400, 1), 0.0025, 1e-12, "by hand: I²t constant, twice the current a quarter of the time"},
		{"least", f.Melting(203.9, 1), math.Inf(1), 0, "the table"},
		{"heat", f.MeltingHeat(), 4700 * 4700 * 0.01, 1e-6, "by hand"},
		{"680 A", f.Clearing(680), 0.719, 5e-4, "derived: two further programs of ours, log-log interpolation by hand"},
	} {
		if tt.got != tt.want && !(math.Abs(tt.got-tt.want) <= tt.tol) {
			t.Errorf("%s: %g, want %g (%s)", tt.what, tt.got, tt.want, tt.source)
		}
	}
	if x := (curve.Fuse{Melt: melting(t)}).Clearing(500); !math.IsNaN(x) {
		t.Errorf("clearing without a datum: %g, want NaN", x)
	}
	own := curve.Fuse{Melt: melting(t), Clear: melting(t), Spread: 1.15}
	if own.Clearing(850) != 0.3 {
		t.Errorf("clearing by points: %g", own.Clearing(850))
	}
}

// The table of requirements agrees with itself: the speed ratio that it prints is that of its currents, and the spread
// is about 1.2 (long and 0.1 s) and 1.5 (10 s). Source: the ratios of ANSI C37.43-1969 as reprinted in textbooks, from memory.
func TestLinks(t *testing.T) {
	n := 0
	for _, r := range table(t, "curves_fuse_links.csv") {
		l, ok := curve.FindLink(r["rating_A"] + " " + r["link_type"])
		if !ok {
			t.Fatalf("no link %s%s", r["rating_A"], r["link_type"])
		}
		if l.Unsure {
			continue
		}
		n++
		if got, want := l.Tenth.Least/l.Long.Least, number(t, r["speed_ratio_published"]); math.Abs(got-want) > 0.065 {
			t.Errorf("%s: speed ratio %.3f, published %.1f", l.Name, got, want)
		}
		for _, g := range []struct {
			gate      curve.Gate
			low, high float64
		}{{l.Long, 1.17, 1.23}, {l.Ten, 1.45, 1.55}, {l.Tenth, 1.17, 1.23}} {
			if s := g.gate.Most / g.gate.Least; s < g.low || s > g.high {
				t.Errorf("%s at %g s: largest over least %.3f", l.Name, g.gate.Time, s)
			}
		}
	}
	if n < 29 {
		t.Errorf("only %d links checked", n)
	}
}

func TestGates(t *testing.T) {
	l, _ := curve.FindLink("100k")
	if missed, at := curve.Outside(melting(t), l.Gates(), 0); missed != nil {
		t.Errorf("a 100K link misses %v (%v A)", missed, at)
	}
	wrong, _ := curve.FindLink("100T")
	missed, at := curve.Outside(melting(t), wrong.Gates(), 0)
	if len(missed) != 2 || missed[0].Time != 10 || math.Abs(at[0]-270) > 1e-9 || missed[1].Time != 0.1 || math.Abs(at[1]-1560) > 1e-9 {
		t.Errorf("a 100K curve against the gates of 100T: %v at %v", missed, at)
	}
}

// Time and Current are inverse to each other along the curve.
func TestCurrentInvertsTime(t *testing.T) {
	p := melting(t)
	rapid.Check(t, func(r *rapid.T) {
		x := rapid.Float64Range(204, 50_000).Draw(r, "x")
		if got := p.Current(p.Time(x)); math.Abs(got-x) > 1e-9*x {
			r.Fatalf("%g A -> %g s -> %g A", x, p.Time(x), got)
		}
	})
}

func FuzzPoints(f *testing.F) {
	f.Add(1.0, 2.0, 3.0, 1.0, 5.0)
	f.Add(0.0, math.Inf(1), -3.0, math.NaN(), 5.0)
	f.Fuzz(func(t *testing.T, x1, t1, x2, t2, at float64) {
		p, wrong := curve.NewPoints([]curve.Point{{x1, t1}, {x2, t2}}, curve.Thermic)
		if wrong != nil {
			for _, w := range wrong {
				if w.Index < 0 || w.Index > 1 || w.Problem == "" {
					t.Errorf("an error without a place: %+v", w)
				}
			}
			return
		}
		if got := p.Time(at); got < 0 || (math.IsNaN(got) && !math.IsNaN(at)) {
			t.Errorf("Time(%g) = %g", at, got)
		}
	})
}
