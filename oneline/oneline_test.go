package oneline

import (
	"bytes"
	"flag"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"feederwright/drawing"
	"feederwright/study"
)

var update = flag.Bool("update", false, "rewrite the golden drawings")

func readStudy(t testing.TB, dir, name string) *study.Document {
	t.Helper()
	doc, ds := study.Read(os.DirFS(dir), name)
	if doc == nil || ds.Errors() > 0 {
		t.Fatalf("the study is refused: %v", ds)
	}
	return doc
}

func example(t testing.TB, name string) *study.Document {
	return readStudy(t, filepath.Join("..", "examples", name), "study.yaml")
}

func draw(t testing.TB, doc *study.Document, o Options) *Diagram {
	t.Helper()
	d, err := Draw(doc, AsWritten(doc), o)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// svgs are the pages of a diagram as text.
func svgs(d *Diagram) []byte {
	var all []byte
	for _, p := range d.Pages {
		all = append(all, drawing.SVG(p)...)
	}
	return all
}

// The golden drawings show change (regression): whether they are right was
// judged by looking at them.
func TestGolden(t *testing.T) {
	for _, tt := range []struct {
		study, symbols string
		o              Options
	}{
		{"first-study", IEC, Options{}},
		{"first-study", IEEE, Options{Ratings: true, Levels: map[string]Level{"P1": {ThreePhase: &Range{2500, 2100}, Ground: &Range{1900, 950}}, "P3": {Note: "lg not known"}}}},
	} {
		tt.o.Symbols = tt.symbols
		got := svgs(draw(t, example(t, tt.study), tt.o))
		file := filepath.Join("testdata", tt.study+"-"+tt.symbols+".svg")
		if *update {
			if err := os.WriteFile(file, got, 0o644); err != nil {
				t.Fatal(err)
			}
		}
		want, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(got, want) {
			t.Errorf("%s differs; look at it, and run go test -update if it is right", file)
		}
	}
}

// things lists what a diagram has to show: everything in the study that has a
// place, by kind and name.
func things(doc *study.Document) []string {
	var list []string
	add := func(kind string, names []string) {
		for _, n := range names {
			list = append(list, kind+" "+n)
		}
	}
	add("infeed", doc.Supply.Names())
	add("bus", doc.Buses.Names())
	add("line", doc.Lines.Names())
	add("transformer", doc.Transformers.Names())
	add("three-winding transformer", doc.ThreeWinding.Names())
	add("bank", doc.Banks.Names())
	add("regulator", doc.Regulators.Names())
	add("reactor", doc.Reactors.Names())
	add("earthing transformer", doc.EarthingTransformers.Names())
	add("capacitor", doc.Capacitors.Names())
	add("load", doc.Loads.Names())
	add("induction machine", doc.InductionMachines.Names())
	add("synchronous machine", doc.SynchronousMachines.Names())
	add("inverter", doc.Inverters.Names())
	add("switch", doc.Switches.Names())
	add("breaker", doc.Breakers.Names())
	add("recloser", doc.Reclosers.Names())
	add("fuse", doc.Fuses.Names())
	add("current transformer", doc.CurrentTransformers.Names())
	add("voltage transformer", doc.VoltageTransformers.Names())
	add("relay", doc.Relays.Names())
	slices.Sort(list)
	return list
}

// complaints checks a diagram: everything is there once, within its page, and no label
// touches a symbol, another label, or a conductor.
func complaints(doc *study.Document, d *Diagram) []string {
	var list []string
	complain := func(format string, args ...any) { list = append(list, fmt.Sprintf(format, args...)) }
	var have []string
	for _, it := range d.Items {
		if it.Kind != "flag" {
			have = append(have, it.Kind+" "+it.Name)
		}
	}
	slices.Sort(have)
	if want := things(doc); !slices.Equal(have, want) {
		for _, n := range want {
			if !slices.Contains(have, n) {
				complain("%s is not drawn", n)
			}
		}
		for i, n := range have {
			if !slices.Contains(want, n) || i > 0 && have[i-1] == n {
				complain("%s is drawn, or drawn twice", n)
			}
		}
	}
	type box struct {
		rect
		of    int
		label bool
		what  string
	}
	for s, page := range d.Pages {
		var boxes []box
		for i, it := range d.Items {
			if it.Sheet != s {
				continue
			}
			for _, r := range it.Labels {
				boxes = append(boxes, box{r, i, true, "label of " + it.Kind + " " + it.Name})
			}
			for _, r := range it.Symbols {
				boxes = append(boxes, box{r, i, false, it.Kind + " " + it.Name})
			}
		}
		sheet := rect{W: page.Width, H: page.Height}
		for _, b := range boxes {
			if !sheet.Contains(b.rect) {
				complain("sheet %d: %s lies off the page: %v", s+1, b.what, b.rect)
			}
		}
		slices.SortFunc(boxes, func(a, b box) int { return cmpFloat(a.X, b.X) })
		for i, a := range boxes {
			for _, b := range boxes[i+1:] {
				if b.X > a.Right() {
					break
				}
				// Lines of one label may share an edge; parts of one symbol may overlap.
				if (a.label || b.label) && a.Inset(0.15).Overlaps(b.Inset(0.15)) {
					complain("sheet %d: %s touches %s: %v %v", s+1, a.what, b.what, a.rect, b.rect)
				}
				if !a.label && !b.label && a.of != b.of && a.Inset(0.15).Overlaps(b.Inset(0.15)) {
					complain("sheet %d: %s overlaps %s", s+1, a.what, b.what)
				}
			}
		}
		ids := make(map[string]bool)
		drawing.Walk(page.Elements, func(e drawing.Element) {
			if g, ok := e.(drawing.Group); ok && g.ID != "" {
				if ids[g.ID] {
					complain("sheet %d: two elements are called %s", s+1, g.ID)
				}
				ids[g.ID] = true
			}
			l, ok := e.(drawing.Line)
			if !ok || !strings.HasPrefix(l.Class, "wire") && !strings.HasPrefix(l.Class, "bus") && l.Class != "secondary" {
				return
			}
			for i := 1; i < len(l.Points); i++ {
				w := around(wire{l.Points[i-1], l.Points[i]})
				for _, b := range boxes {
					if b.label && b.Inset(0.2).Overlaps(w) {
						complain("sheet %d: a conductor runs through the %s: %v %v", s+1, b.what, b.rect, w)
					}
				}
			}
		})
	}
	return list
}

func cmpFloat(a, b float64) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	}
	return 0
}

func paperNamed(name string) drawing.Paper {
	p, _ := drawing.PaperNamed(name)
	return p
}

func TestExamplesAreComplete(t *testing.T) {
	level := Level{ThreePhase: &Range{12345, 678}, Ground: &Range{2345, 67}}
	for _, name := range []string{"first-study", "velmora", "korrigate", "harnmoor"} {
		doc := example(t, name)
		levels := make(map[string]Level)
		for _, b := range doc.Buses.Entries {
			levels[b.Name] = level
		}
		states, _ := doc.States()
		for _, set := range []string{IEC, IEEE} {
			for _, paper := range []string{"", "A4", "Tabloid"} {
				for _, full := range []bool{false, true} {
					o := Options{Symbols: set, Paper: paperNamed(paper)}
					if full {
						o.Ratings, o.Levels = true, levels
					}
					for _, s := range []study.State{AsWritten(doc), states[len(states)-1]} {
						d, err := Draw(doc, s, o)
						if err != nil {
							t.Fatal(err)
						}
						for _, c := range complaints(doc, d) {
							t.Errorf("%s, %s symbols, paper %q, all data %v, %s: %s", name, set, paper, full, s.Name, c)
						}
						if d.Crossings > 0 {
							t.Errorf("%s, paper %q: %d crossings", name, paper, d.Crossings)
						}
					}
				}
			}
		}
	}
}

// TestWhole: an example on paper of the size that it is meant for fits one sheet.
func TestWhole(t *testing.T) {
	for name, paper := range map[string]string{"first-study": "Letter", "velmora": "Tabloid", "korrigate": "A3", "harnmoor": "Tabloid"} {
		if d := draw(t, example(t, name), Options{Paper: paperNamed(paper)}); len(d.Pages) != 1 || d.Flagged > 0 {
			t.Errorf("%s on %s: %d sheets, %d connections flagged; want one sheet, and every connection drawn", name, paper, len(d.Pages), d.Flagged)
		}
	}
}

// TestText: no text is smaller than 2.2 mm.
func TestText(t *testing.T) {
	for _, text := range []string{radial(40, 1), radial(120, 2), radial(300, 3)} {
		for _, p := range draw(t, parse(t, text), Options{Paper: paperNamed("A3")}).Pages {
			drawing.Walk(p.Elements, func(e drawing.Element) {
				if x, ok := e.(drawing.Text); ok && x.Size < 2.2-1e-9 {
					t.Errorf("%q is %.2f mm high", x.Text, x.Size)
				}
			})
		}
	}
}

// TestLargeFeeders: what has hundreds of devices is complete and legible on
// several sheets, and every flag finds its counterpart.
func TestLargeFeeders(t *testing.T) {
	for _, n := range []int{5, 30, 100, 300} {
		for seed := range uint64(2) {
			if n == 300 && seed > 0 {
				break // one is enough, and takes a second
			}
			doc := parse(t, radial(n, seed))
			for _, paper := range []string{"", "A4", "A3"} {
				d := draw(t, doc, Options{Paper: paperNamed(paper)})
				for _, c := range complaints(doc, d) {
					t.Errorf("%d devices, seed %d, paper %q: %s", n, seed, paper, c)
				}
				flags := make(map[string]int)
				for _, it := range d.Items {
					if it.Kind == "flag" {
						flags[it.Name]++
					}
				}
				for name, count := range flags {
					if count != 2 {
						t.Errorf("%d devices, seed %d, paper %q: %d flags of %s, want one at each end", n, seed, paper, count, name)
					}
				}
				if paper == "A4" && n == 300 && len(flags) == 0 {
					t.Error("300 devices on A4 have no flag: this test would check nothing")
				}
			}
		}
	}
}

func TestSameInputSameOutput(t *testing.T) {
	for _, name := range []string{"velmora", "korrigate", "harnmoor"} {
		first := svgs(draw(t, example(t, name), Options{Paper: paperNamed("A4")}))
		for range 3 {
			if !bytes.Equal(first, svgs(draw(t, example(t, name), Options{Paper: paperNamed("A4")}))) {
				t.Fatalf("%s is drawn differently a second time", name)
			}
		}
	}
}

// TestStability: a lateral more moves what is beside it, as a whole, and
// rearranges nothing.
func TestStability(t *testing.T) {
	for seed := range uint64(8) {
		text := radial(60, seed)
		if !strings.Contains(text, "F1P7:") {
			t.Fatal("the feeder has no bus F1P7")
		}
		more := strings.Replace(text, "transformers:\n", "  NEW: { voltage: 12.47 kV }\n  NEW2: { voltage: 12.47 kV }\ntransformers:\n", 1)
		more = strings.Replace(more, "breakers:\n", "  NEWLINE: { from: F1P7, to: NEW, type: T3, length: 1 km }\n  NEWLINE2: { from: NEW, to: NEW2, type: T3, length: 1 km }\nbreakers:\n", 1)
		more = strings.Replace(more, "fuses:\n", "fuses:\n  NEWFUSE: { in: NEWLINE, near: F1P7, link: 65K }\n", 1)
		before, after := draw(t, parse(t, text), Options{}), draw(t, parse(t, more), Options{})
		was := make(map[string]point)
		for _, it := range before.Items {
			was[it.Kind+" "+it.Name] = it.At
		}
		origin := func(d *Diagram) point {
			for _, it := range d.Items {
				if it.Kind == "infeed" {
					return it.At
				}
			}
			t.Fatal("no infeed")
			return point{}
		}
		o1, o2 := origin(before), origin(after)
		moves := make(map[string]point) // by subtree
		moved := 0
		for _, it := range after.Items {
			old, ok := was[it.Kind+" "+it.Name]
			if !ok {
				if !strings.HasPrefix(it.Name, "NEW") {
					t.Errorf("seed %d: %s %s is new", seed, it.Kind, it.Name)
				}
				continue
			}
			by := at(it.At.X-o2.X-old.X+o1.X, it.At.Y-o2.Y-old.Y+o1.Y)
			if math.Abs(by.X)+math.Abs(by.Y) > 1e-6 {
				moved++
			}
			if by.X < -1e-6 || math.Abs(by.Y) > 1e-6 {
				t.Errorf("seed %d: %s %s moved by %.1f, %.1f mm; want to the right or not at all", seed, it.Kind, it.Name, by.X, by.Y)
			}
			// Everything of a lateral moves alike: its names begin with the bus it
			// hangs from and have an L.
			if i := strings.IndexByte(it.Name, 'L'); i > 2 && it.Name[0] == 'F' && it.Kind == "bus" && !strings.HasSuffix(it.Name, "LV") {
				key := it.Name[:i]
				if first, ok := moves[key]; ok && math.Hypot(first.X-by.X, first.Y-by.Y) > 1e-6 {
					t.Errorf("seed %d: the lateral at %s came apart: %v and %v", seed, key, first, by)
				}
				moves[key] = by
			}
		}
		if len(moves) < 2 {
			t.Errorf("seed %d: %d laterals: this test would check little", seed, len(moves))
		}
	}
}

// TestConditionsKeepTheArrangement: a condition changes symbols and words;
// what stands left of and above what stays.
func TestConditionsKeepTheArrangement(t *testing.T) {
	doc := example(t, "velmora")
	states, _ := doc.States()
	base := draw(t, doc, Options{})
	for _, s := range states {
		d, err := Draw(doc, s, Options{})
		if err != nil {
			t.Fatal(err)
		}
		if len(d.Items) != len(base.Items) {
			t.Fatalf("%s: %d items, want %d", s.Name, len(d.Items), len(base.Items))
		}
		for i, it := range d.Items {
			if it.Name != base.Items[i].Name || it.Kind != base.Items[i].Kind {
				t.Fatalf("%s: item %d is %s %s, want %s %s", s.Name, i, it.Kind, it.Name, base.Items[i].Kind, base.Items[i].Name)
			}
		}
	}
}

// TestShapeTellsPosition: a device looks different open and closed without
// its label and without colour.
func TestShapeTellsPosition(t *testing.T) {
	doc := example(t, "velmora")
	for _, set := range []string{IEC, IEEE} {
		for _, name := range []string{"52-11", "R1", "S7", "F-L1"} {
			var looks []string
			for _, open := range []bool{false, true} {
				s := AsWritten(doc)
				s.Open[name] = open
				b := &builder{doc: doc, state: s, set: set}
				p := b.device(b.deviceNamed(name), false)
				var shapes []drawing.Element
				for _, e := range p.elements {
					if text, ok := e.(drawing.Text); !ok || text.Class == "symbol" {
						shapes = append(shapes, drawing.Move(e, at(0, -p.anchor)))
					}
				}
				page := &drawing.Page{Width: 20, Height: 20, Elements: shapes}
				looks = append(looks, string(drawing.SVG(page)))
			}
			if looks[0] == looks[1] {
				t.Errorf("%s symbols: %s looks the same open and closed", set, name)
			}
		}
	}
}

// TestDead: what no source reaches is drawn so, and nothing else.
func TestDead(t *testing.T) {
	doc := parse(t, radial(30, 1))
	s := AsWritten(doc)
	s.Open["CB1"] = true
	b := &builder{doc: doc, state: s, set: IEEE}
	b.graph()
	for _, e := range doc.Buses.Entries {
		want := e.Name != "HV" && e.Name != "MAIN"
		if got := b.nodes[e.Name].dead; got != want {
			t.Errorf("bus %s: dead %v with CB1 open, want %v (by hand)", e.Name, got, want)
		}
	}
}

// tangled writes a random study: a tree of buses with loops, couplers, shunts of
// many kinds and names long and short.
func tangled(t *rapid.T) string {
	n := rapid.IntRange(1, 14).Draw(t, "buses")
	name := func(i int) string {
		return fmt.Sprintf("B%d%s", i, []string{"", " north pole", "-x"}[i%3])
	}
	var b strings.Builder
	section := map[string]*strings.Builder{}
	add := func(key, format string, args ...any) {
		if section[key] == nil {
			section[key] = &strings.Builder{}
		}
		fmt.Fprintf(section[key], "  "+format+"\n", args...)
	}
	branches := 0
	coupled := map[[2]int]bool{} // of two couplers side by side the lead of one may touch the other's label: docs/oneline.md
	branch := func(i, j int) {
		k := fmt.Sprintf("K%d", branches)
		branches++
		kind := rapid.SampledFrom([]string{"line", "line", "line", "transformer", "reactor", "regulator", "device"}).Draw(t, "branch")
		switch kind {
		case "line":
			add("lines", "%s: { from: %s, to: %s, z1: 0.3 + j0.6 ohm/km, z0: 0.7 + j1.9 ohm/km, length: 1.2 km }", k, name(i), name(j))
		case "transformer":
			add("transformers", "%s: { from: %s, to: %s, group: YNd1, rating: 5 MVA, voltages: 10/10 kV, impedance: 6 %%, neutral: 12 ohm }", k, name(i), name(j))
		case "reactor":
			add("reactors", "%s: { from: %s, to: %s, z: j0.3 ohm }", k, name(i), name(j))
		case "regulator":
			add("regulators", "%s: { from: %s, to: %s, connection: wye, impedance: 0.4 %% on 5 MVA, x/r: 4 }", k, name(i), name(j))
		case "device":
			if coupled[[2]int{i, j}] || coupled[[2]int{j, i}] {
				return
			}
			coupled[[2]int{i, j}] = true
			add("switches", "%s: { from: %s, to: %s }", "D"+k, name(i), name(j))
			return
		}
		for side, at := range []string{name(i), name(j)} {
			switch rapid.IntRange(0, 5).Draw(t, "device") {
			case 0:
				add("breakers", "CB%s%d: { in: %s, near: %s, normally: %s }", k, side, k, at, rapid.SampledFrom([]string{"open", "closed"}).Draw(t, "position"))
				add("current transformers", "CT%s%d: { at: CB%s%d, ratio: 600/5 A }", k, side, k, side)
				for r := range rapid.IntRange(0, 2).Draw(t, "relays") {
					add("relays", "R%s%d%d: { sees: { current: CT%s%d }, trips: CB%s%d }", k, side, r, k, side, k, side)
				}
			case 1:
				add("fuses", "F%s%d: { in: %s, near: %s, link: 40K }", k, side, k, at)
			case 2:
				add("voltage transformers", "V%s%d: { in: %s, near: %s, ratio: 7200/120 V }", k, side, k, at)
			}
		}
	}
	for i := range n {
		add("buses", "%s: { voltage: 10 kV }", name(i))
		if i > 0 && rapid.IntRange(0, 9).Draw(t, "island") > 0 {
			branch(rapid.IntRange(max(0, i-4), i-1).Draw(t, "parent"), i)
		}
		for range rapid.IntRange(0, 2).Draw(t, "shunts") {
			k := fmt.Sprintf("S%d-%d", i, branches)
			branches++
			switch rapid.IntRange(0, 5).Draw(t, "shunt") {
			case 0:
				add("loads", "%s: { at: %s, power: 1 MVA, pf: 0.9 lag }", k, name(i))
			case 1:
				add("capacitors", "%s: { at: %s, power: 600 kvar, connection: earthed-wye }", k, name(i))
			case 2:
				add("synchronous machines", "%s: { at: %s, rating: 2 MVA, subtransient: 20 %%, x/r: 20, neutral: 40 ohm }", k, name(i))
			case 3:
				add("voltage transformers", "%s: { at: %s, ratio: 7200/120 V }", k, name(i))
				for r := range rapid.IntRange(0, 2).Draw(t, "relays") {
					add("relays", "R%s%d: { sees: { voltage: %s } }", k, r, k)
				}
			case 4:
				add("earthing transformers", "%s: { at: %s, z0: j12 ohm, neutral: 20 ohm }", k, name(i))
			case 5:
				add("supply", "%s: { at: %s, maximum: { three-phase: 8 kA, x/r: 10 } }", k, name(i))
			}
		}
	}
	if n > 2 {
		for range rapid.IntRange(0, 3).Draw(t, "loops") {
			i := rapid.IntRange(0, n-1).Draw(t, "from")
			j := rapid.IntRange(0, n-1).Draw(t, "to")
			if i != j {
				branch(i, j)
			}
		}
	}
	b.WriteString("feederwright: 1\nstudy: tangled\nfrequency: 50 Hz\n")
	for _, key := range []string{"supply", "buses", "lines", "transformers", "earthing transformers", "reactors", "regulators", "switches", "breakers", "fuses", "loads", "capacitors", "synchronous machines", "current transformers", "voltage transformers", "relays"} {
		if s := section[key]; s != nil {
			b.WriteString(key + ":\n" + s.String())
		}
	}
	return b.String()
}

// Nothing overlaps in any network, but for one thing that is told in
// docs/oneline.md: where loops are dense, a conductor may touch a label. It may
// in a few of a hundred drawings, and not in more.
func TestAnyNetwork(t *testing.T) {
	drawn, touched := 0, 0
	defer func() {
		if touched*20 > drawn+20 {
			t.Errorf("in %d of %d networks a conductor touches a label", touched, drawn)
		}
	}()
	rapid.Check(t, func(t *rapid.T) {
		drawn++
		text := tangled(t)
		doc, ds := study.Read(oneFile(text), "study.yaml")
		if doc == nil || ds.Errors() > 0 {
			t.Fatalf("the study is refused: %v\n%s", ds, text)
		}
		o := Options{Symbols: rapid.SampledFrom([]string{IEC, IEEE}).Draw(t, "symbols"), Paper: paperNamed(rapid.SampledFrom([]string{"", "A4", "A3"}).Draw(t, "paper"))}
		d, err := Draw(doc, AsWritten(doc), o)
		if err != nil {
			t.Fatal(err)
		}
		touches := false
		for _, c := range complaints(doc, d) {
			if strings.Contains(c, "a conductor runs through the label of") {
				touches = true
				continue
			}
			t.Errorf("%s", c)
		}
		if touches {
			touched++
		}
		if t.Failed() {
			t.Logf("%s", text)
		}
	})
}

func BenchmarkLayout300(b *testing.B) {
	doc := parse(b, radial(300, 7))
	for _, paper := range []string{"fit", "A3"} {
		b.Run(paper, func(b *testing.B) {
			for b.Loop() {
				if _, err := Draw(doc, AsWritten(doc), Options{Paper: paperNamed(paper)}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
