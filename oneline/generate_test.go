package oneline

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"
	"testing/fstest"

	"feederwright/study"
)

// radial writes a feeder of about n devices: a trunk with reclosers, fused
// laterals with branches of their own, loads, service transformers and capacitors.
func radial(n int, seed uint64) string {
	r := rand.New(rand.NewPCG(seed, 1))
	var buses, lines, breakers, reclosers, fuses, switches, loads, caps, trs, cts, relays strings.Builder
	count := 0
	bus := func(name, phases string) {
		if phases == "ABC" {
			fmt.Fprintf(&buses, "  %s: { voltage: 12.47 kV }\n", name)
		} else {
			fmt.Fprintf(&buses, "  %s: { voltage: 12.47 kV, phases: %s }\n", name, phases)
		}
	}
	line := func(from, to, phases string) string {
		name := from + "-" + to
		typ, extra := "T3", ""
		if len(phases) == 1 {
			typ, extra = "T1P", ", phases: "+phases
		}
		fmt.Fprintf(&lines, "  %s: { from: %s, to: %s, type: %s, length: %.1f km%s }\n", name, from, to, typ, 0.2+2*r.Float64(), extra)
		count++
		return name
	}
	load := func(at string) {
		fmt.Fprintf(&loads, "  LD-%s: { at: %s, power: %d kVA, pf: 0.95 lag }\n", at, at, 50+r.IntN(400))
		count++
	}
	bus("MAIN", "ABC")
	feeders := 1 + n/80
	perFeeder := n / feeders
	for f := range feeders {
		target := count + perFeeder
		last := "MAIN"
		for i := 1; count < target; i++ {
			name := fmt.Sprintf("F%dP%d", f+1, i)
			bus(name, "ABC")
			l := line(last, name, "ABC")
			switch {
			case i == 1:
				fmt.Fprintf(&breakers, "  CB%d: { in: %s, near: MAIN, opens in: 3 cycles }\n", f+1, l)
				fmt.Fprintf(&cts, "  CT%d: { at: CB%d, facing: %s, ratio: 600/5 A }\n", f+1, f+1, name)
				fmt.Fprintf(&relays, "  REL%d: { sees: { current: CT%d }, trips: CB%d, kind: 50/51 overcurrent }\n", f+1, f+1, f+1)
				count += 3
			case i%6 == 0:
				fmt.Fprintf(&reclosers, "  RC%d-%d: { in: %s, near: %s, opens in: 3 cycles }\n", f+1, i, l, last)
				count++
			}
			if r.IntN(3) > 0 {
				load(name)
			}
			if r.IntN(9) == 0 {
				fmt.Fprintf(&caps, "  C-%s: { at: %s, power: 600 kvar, connection: wye }\n", name, name)
				count++
			}
			if r.IntN(2) == 0 {
				phases := []string{"ABC", "A", "B", "C"}[r.IntN(4)]
				from := name
				for j := range 1 + r.IntN(3) {
					to := fmt.Sprintf("%sL%d", name, j+1)
					bus(to, phases)
					ll := line(from, to, phases)
					if j == 0 {
						fmt.Fprintf(&fuses, "  FU-%s: { in: %s, near: %s, link: 40K }\n", name, ll, from)
						count++
					}
					load(to)
					from = to
				}
			}
			if r.IntN(8) == 0 {
				lv := name + "LV"
				fmt.Fprintf(&buses, "  %s: { voltage: 0.48 kV }\n", lv)
				fmt.Fprintf(&trs, "  TR-%s: { from: %s, to: %s, group: Dyn1, rating: 500 kVA, voltages: 12.47/0.48 kV, impedance: 5 %%, zero-sequence: 5 %%, x/r: 5, neutral: solid }\n", name, name, lv)
				fmt.Fprintf(&fuses, "  FT-%s: { in: TR-%s, near: %s, link: 40K }\n", name, name, name)
				load(lv)
				count += 2
			}
			last = name
		}
		if f == 1 {
			fmt.Fprintf(&lines, "  TIE%d: { from: %s, to: F1P3, type: T3, length: 1.0 km }\n", f, last)
			fmt.Fprintf(&switches, "  SW%d: { in: TIE%d, near: %s, normally: open }\n", f, f, last)
		}
	}
	section := func(key string, b *strings.Builder) string {
		if b.Len() == 0 {
			return ""
		}
		return key + ":\n" + b.String()
	}
	return `feederwright: 1
study: Generated feeder
frequency: 60 Hz
practice: ieee
supply:
  grid: { at: HV, maximum: { three-phase: 8 kA, x/r: 10 } }
line types:
  T3: { z1: 0.3 + j0.6 ohm/km, z0: 0.7 + j1.9 ohm/km }
  T1P: { phases: 1, z: 1.2 + j1.4 ohm/km }
` + section("buses", func() *strings.Builder {
		var b strings.Builder
		b.WriteString("  HV: { voltage: 69 kV }\n" + buses.String())
		return &b
	}()) + "transformers:\n  T1: { from: HV, to: MAIN, group: Dyn1, rating: 20 MVA, voltages: 69/12.47 kV, impedance: 8 %, zero-sequence: 8 %, x/r: 20, neutral: solid }\n" + trs.String() +
		section("lines", &lines) + section("breakers", &breakers) + section("reclosers", &reclosers) + section("fuses", &fuses) + section("switches", &switches) +
		section("loads", &loads) + section("capacitors", &caps) + section("current transformers", &cts) + section("relays", &relays)
}

func oneFile(text string) fstest.MapFS {
	return fstest.MapFS{"study.yaml": {Data: []byte(text)}}
}

func parse(t testing.TB, text string) *study.Document {
	t.Helper()
	doc, ds := study.Read(oneFile(text), "study.yaml")
	if doc == nil || ds.Errors() > 0 {
		t.Fatalf("the study is refused: %v\n%s", ds, text)
	}
	return doc
}
