package oneline_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"feederwright/oneline"
	"feederwright/study"
)

// A folded diagram and what its marks hold are together the whole diagram: nothing is lost, and nothing stands twice.
func TestFold(t *testing.T) {
	const text = `feederwright: 1
study: Laterals
frequency: 60 Hz
supply:
  utility: { at: M, maximum: { three-phase: 8 kA, x/r: 12, source: invented } }
buses:
  M:  { voltage: 12.47 kV }
  P1: { voltage: 12.47 kV }
  P2: { voltage: 12.47 kV }
  P3: { voltage: 12.47 kV }
  F1: { voltage: 12.47 kV }
  L1: { voltage: 12.47 kV, phases: B }
  L2: { voltage: 12.47 kV, phases: B }
  L3: { voltage: 12.47 kV, phases: B }
  K1: { voltage: 12.47 kV, phases: B }
  K2: { voltage: 12.47 kV, phases: B }
  G1: { voltage: 12.47 kV, phases: C }
line types:
  W3: { z1: 0.3 + j0.6 ohm/mi, z0: 0.7 + j1.9 ohm/mi, source: invented }
  W1: { phases: 1, z: 1.9 + j1.4 ohm/mi, source: invented }
lines:
  M-P1:  { from: M,  to: P1, type: W3, length: 1 mi }
  P1-P2: { from: P1, to: P2, type: W3, length: 1 mi }
  P2-P3: { from: P2, to: P3, type: W3, length: 1 mi }
  M-F1:  { from: M,  to: F1, type: W3, length: 1 mi }
  P1-L1: { from: P1, to: L1, type: W1, length: 1 mi }
  L1-L2: { from: L1, to: L2, type: W1, length: 1 mi }
  L2-L3: { from: L2, to: L3, type: W1, length: 1 mi }
  L1-K1: { from: L1, to: K1, type: W1, length: 1 mi }
  K1-K2: { from: K1, to: K2, type: W1, length: 1 mi }
  P2-G1: { from: P2, to: G1, type: W1, length: 1 mi }
breakers:
  CB1: { in: M-F1, near: M, opens in: 3 cycles }
fuses:
  FU1: { in: P1-L1, near: P1, link: 40K }
  FU2: { in: L1-K1, near: L1, link: 20K }
conditions:
  maximum: { infeed: maximum }
`
	doc, states, ds := study.Open(study.Memory{"study.yaml": []byte(text)}, "study.yaml")
	if ds.Errors() > 0 {
		t.Fatal(ds)
	}
	draw := func(o oneline.Options) (*oneline.Diagram, []string) {
		d, err := oneline.Draw(doc, states[0], o)
		if err != nil {
			t.Fatal(err)
		}
		var names []string
		for _, it := range d.Items {
			if it.Kind != "fold" {
				names = append(names, it.Kind+" "+it.Name)
			}
		}
		for _, f := range d.Folds {
			for _, it := range f.Things {
				names = append(names, it.Kind+" "+it.Name)
			}
		}
		slices.Sort(names)
		return d, names
	}
	_, whole := draw(oneline.Options{})
	for _, c := range []struct {
		fold int
		open []string
		want string
	}{
		{0, nil, ""},
		{1, nil, "G1 1, L1 5"}, // not F1: it is a feeder of its own
		{2, nil, "L1 5"},
		{6, nil, ""},
		{2, []string{"L1"}, "K1 2"},
		{2, []string{"L1", "K1"}, ""},
	} {
		d, all := draw(oneline.Options{Fold: c.fold, Open: c.open})
		var got []string
		for _, f := range d.Folds {
			got = append(got, fmt.Sprintf("%s %d", f.At, f.Buses))
			if n := slices.IndexFunc(d.Items, func(it oneline.Item) bool { return it.Kind == "fold" && it.Name == f.At }); n < 0 {
				t.Errorf("fold %d, %s has no mark", c.fold, f.At)
			}
		}
		if s := strings.Join(got, ", "); s != c.want {
			t.Errorf("fold %d, open %v: folded %q, want %q", c.fold, c.open, s, c.want)
		}
		if !slices.Equal(all, whole) {
			t.Errorf("fold %d, open %v: %v, and the whole has %v", c.fold, c.open, all, whole)
		}
	}
	d, _ := draw(oneline.Options{Fold: 2})
	if !slices.ContainsFunc(d.Items, func(it oneline.Item) bool { return it.Name == "FU1" }) || slices.ContainsFunc(d.Items, func(it oneline.Item) bool { return it.Name == "FU2" }) {
		t.Error("the fuse that a lateral begins with stays before its mark, those behind do not")
	}
}
