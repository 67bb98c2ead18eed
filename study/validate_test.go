package study

import (
	"bytes"
	"os"
	"strings"
	"testing"
	"testing/fstest"

	"pgregory.net/rapid"
)

// sound is a study without mistakes; the tests below change one thing in it.
const sound = `feederwright: 1
study: sound
frequency: 50 Hz
supply:
  grid: { at: HV, maximum: { three-phase: 950 MVA, x/r: 9, voltage factor: 1.1 }, minimum: { three-phase: 430 MVA, x/r: 7, voltage factor: 1.0 } }
buses:
  HV: { voltage: 33 kV }
  MV: { voltage: 11 kV }
  M2: { voltage: 11 kV }
  E1: { voltage: 11 kV }
  E2: { voltage: 11 kV, phases: L2 }
transformers:
  T1: { from: HV, to: MV, group: Dyn11, rating: 16/20 MVA, voltages: 33/11 kV, impedance: 10 % on 16 MVA, zero-sequence: 10 % on 16 MVA, x/r: 18, neutral: 15.88 ohm, from taps: -15 % to +5 % in 16 steps, from tap: 0 % }
  T2: { from: HV, to: M2, group: Dyn11, rating: 16 MVA, voltages: 33/11 kV, impedance: 10 %, zero-sequence: 10 %, losses: 89 kW, neutral: 15.88 ohm }
line types:
  C240: { z1: 0.125 + j0.092 ohm/km, z0: 1.72 + j0.085 ohm/km, c1: 0.42 uF/km, c0: 0.42 uF/km }
  S: { phases: 1, z: 1.2 + j0.8 ohm/km, b: 1.2 uS/km }
lines:
  F1: { from: MV, to: E1, type: C240, length: 1.2 km }
  F2: { from: E1, to: E2, type: S, length: 0.9 km, phases: L2 }
switches:
  BS: { from: MV, to: M2 }
breakers:
  CB: { in: F1, near: MV, opens in: 60 ms, interrupts: 25 kA }
fuses:
  FU: { in: F2, near: E1, link: 80 A }
capacitors:
  C1: { at: E1, power: 300 kvar, connection: wye }
loads:
  W1: { at: E1, power: 1 MVA, pf: 0.9 lag }
current transformers:
  CT: { at: CB, facing: E1, ratio: 400/1 A }
  CN: { in: T1, neutral: to, ratio: 400/1 A }
voltage transformers:
  VT: { at: MV, ratio: 6.35 kV/63.5 V, connection: wye }
relays:
  R: { sees: { current: CT, ground: CN, voltage: VT }, trips: CB }
conditions:
  strong: { infeed: maximum }
  weak: { infeed: minimum, open: [BS] }
`

func diagnose(t testing.TB, text string) Diagnostics {
	doc, ds := Read(fstest.MapFS{"s.yaml": {Data: []byte(text)}}, "s.yaml")
	if doc == nil {
		t.Fatalf("not read: %v", ds)
	}
	ds = append(ds, doc.Validate()...)
	_, more := doc.States()
	return append(ds, more...)
}

func TestSoundStudyHasNoDiagnostics(t *testing.T) {
	for _, d := range diagnose(t, sound) {
		t.Errorf("%s", d.Text())
	}
}

func TestValidate(t *testing.T) {
	tests := []struct {
		old, new string // one change of the sound study
		severity Severity
		at       string // line:column text that the message points at
		problem  string
	}{
		{"three-phase: 950 MVA", "three-phase: 950 kA", Error, "950 kA", "950 kA is more than any system delivers"},
		{"three-phase: 950 MVA", "three-phase: 9.5 MVA", Error, "9.5 MVA", "9.5 MVA at 33 kV is only 166 A"},
		{"x/r: 9,", "x/r: 0,", Error, "0", "x/r 0 is not above zero"},
		{"x/r: 9,", "x/r: 0.1,", Warning, "0.1", "x/r 0.1 is unusual"},
		{"three-phase: 430 MVA", "three-phase: 1200 MVA", Error, "1200 MVA", "20.99 kA is stronger than the maximum of 16.62 kA"},
		{"{ three-phase: 950 MVA, x/r: 9, voltage factor: 1.1 }", "{ three-phase: 950 MVA, x/r: 9, voltage factor: 1.1, line-to-ground: 12 kA }", Error, "12 kA", "line-to-ground x/r is not given"},
		{"{ three-phase: 950 MVA, x/r: 9, voltage factor: 1.1 }", "{ three-phase: 950 MVA, x/r: 9, line-to-ground: 60 kA, line-to-ground x/r: 9 }", Error, "60 kA", "the two levels give Z0 ="},
		{"{ three-phase: 950 MVA, x/r: 9, voltage factor: 1.1 }", "{ three-phase: 950 MVA, x/r: 9, at voltage: 19 kV }", Error, "19 kV", "a level at 19 kV for a bus of 33 kV"},
		{"{ three-phase: 950 MVA, x/r: 9, voltage factor: 1.1 }", "{ z1: 0.1 - j1 ohm }", Error, "0.1 - j1 ohm", "z1 0.1 - j1 ohm is not possible"},
		{"{ three-phase: 950 MVA, x/r: 9, voltage factor: 1.1 }", "{ z1: 0.01 + j1 pu on 1 MVA }", Warning, "0.01 + j1 pu on 1 MVA", "z1 gives a three-phase fault current of"},
		{"voltages: 33/11 kV, impedance: 10 % on 16 MVA", "voltages: 11/33 kV, impedance: 10 % on 16 MVA", Error, "11/33 kV", `rated 11/33 kV between bus "HV" of 33 kV and bus "MV" of 11 kV`},
		{"impedance: 10 % on 16 MVA", "impedance: 0.10 % on 16 MVA", Error, "0.10 % on 16 MVA", "0.10 % on 16 MVA is not plausible"},
		{"impedance: 10 % on 16 MVA", "impedance: 10 % on 18 MVA", Warning, "10 % on 18 MVA", "18 MVA is none of the ratings 16/20 MVA"},
		{"impedance: 10 % on 16 MVA", "impedance: 850 % on 16 MVA", Error, "850 % on 16 MVA", "850 % on 16 MVA is not possible"},
		{"losses: 89 kW", "losses: 89 MW", Error, "89 MW", "losses of 89 MW on 16 MVA are 556.3 % of resistance, beside 10 % of impedance"},
		{", losses: 89 kW", "", Error, "T2", "neither x/r nor losses are given"},
		{"zero-sequence: 10 %, losses", "losses", Error, "T2", "zero-sequence is not given"},
		{"89 kW, neutral: 15.88 ohm", "89 kW", Error, "T2", "how the neutral of Dyn11 is earthed is not said"},
		{"group: Dyn11, rating: 16 MVA", "group: Dd0, rating: 16 MVA", Error, "15.88 ohm }\nline", "Dd0 has no neutral brought out"},
		{"group: Dyn11, rating: 16 MVA", "group: Dyn1, rating: 16 MVA", Error, "Dyn1", "the vector groups round the loop T1, BS, T2 do not close: they leave 60°"},
		{"from tap: 0 %", "from tap: 6 %", Error, "6 %", "6 % is outside the range -15 % to +5 % in 16 steps"},
		{"from tap: 0 %", "from tap: 0.7 %", Warning, "0.7 %", "0.7 % lies between two steps"},
		{"z1: 0.125 + j0.092 ohm/km", "z1: 0.125 + j0.092 ohm/m", Error, "0.125 + j0.092 ohm/m", "0.125 + j0.092 ohm/m is 125 + j92 ohm/km"},
		{"z1: 0.125 + j0.092 ohm/km, z0: 1.72 + j0.085 ohm/km", "z1: 0.125 + j0.092 ohm/km", Error, "0.125 + j0.092 ohm/km", "z0 is not given"},
		{"z1: 0.125 + j0.092 ohm/km, z0: 1.72 + j0.085 ohm/km", "matrix: [[0.3 + j0.6 ohm/km, 0.5 + j0.9 ohm/km], [0.5 + j0.9 ohm/km, 0.3 + j0.6 ohm/km]]", Error, "[[0.3", "the matrix is not that of passive conductors"},
		{"b: 1.2 uS/km", "b: 1.2 S/km", Error, "1.2 S/km", "1.2 S/km is not plausible"},
		{"length: 1.2 km", "length: 1200 km", Warning, "1200 km", "length 1200 km is long for medium voltage"},
		{", length: 1.2 km", "", Error, "F1", "length is not given"},
		{"phases: L2 }\nswitches", "phases: L1 L2 }\nswitches", Error, "L1 L2", `phase A is not at bus "E2", which has B`},
		{"  F1: { from: MV, to: E1", "  F1: { from: HV, to: E1", Error, "E1", `from bus "HV" of 33 kV to bus "E1" of 11 kV`},
		{"near: MV, opens", "near: HV, opens", Error, "HV", `bus "HV" is no end of "F1"`},
		{"opens in: 60 ms", "opens in: 60 s", Warning, "60 s", "opens in 60 s"},
		{"interrupts: 25 kA", "interrupts: 25 A", Warning, "25 A", "interrupts 25 A"},
		{"BS: { from: MV, to: M2 }", "BS: { from: MV, to: MV }", Error, "MV", `both sides are at bus "MV"`},
		{"facing: E1", "facing: HV", Error, "HV", `it cannot face bus "HV"`},
		{"CN: { in: T1, neutral: to,", "CN: { in: T1, neutral: from,", Error, "from", "that winding of T1, Dyn11, has no neutral"},
		{"6.35 kV/63.5 V, connection: wye", "11 kV/110 V, connection: wye", Warning, "11 kV/110 V", "ratio 11 kV/110 V measures line-to-earth at a bus of 11 kV"},
		{"sees: { current: CT, ground: CN, voltage: VT }", "sees: {}", Error, "R", "it sees nothing"},
		{"E2: { voltage: 11 kV, phases: L2 }", "E2: { voltage: 11 kV }", Warning, "E2", "nothing brings phase AC here"},
		{"frequency: 50 Hz", "frequency: 400 Hz", Warning, "400 Hz", "400 Hz is not usual"},
		{"feederwright: 1", "feederwright: 2", Error, "2", "2"},
		{"C1: { at: E1, power: 300 kvar, connection: wye }", "C1: { at: E2, power: 300 kvar, connection: delta }", Error, "delta", "connection delta on phase B alone"},
		{"W1: { at: E1, power: 1 MVA, pf: 0.9 lag }", "W1: { at: E2, power: 1 MVA, pf: 0.9 lag, phases: L3 }", Error, "L3", `phase C is not at bus "E2", which has B`},
	}
	for _, tt := range tests {
		if strings.Count(sound, tt.old) != 1 {
			t.Fatalf("%q stands %d times in the sound study", tt.old, strings.Count(sound, tt.old))
		}
		text := strings.Replace(sound, tt.old, tt.new, 1)
		ds := diagnose(t, text)
		at, _, _ := strings.Cut(tt.at, "\n")
		found := false
		for _, d := range ds {
			points := strings.HasPrefix(text[d.At.Start:], strings.SplitN(at, " }", 2)[0])
			found = found || d.Severity == tt.severity && strings.Contains(d.Problem, tt.problem) && points && d.Excerpt != ""
		}
		if !found {
			t.Errorf("%s → %s: no %s %q at %q in:\n%s", tt.old, tt.new, tt.severity, tt.problem, at, texts(ds))
		}
	}
}

func texts(ds Diagnostics) string {
	var b strings.Builder
	for _, d := range ds {
		b.WriteString(d.Text())
	}
	return b.String()
}

// TestMistakes holds the whole text of one run over a file full of mistakes.
func TestMistakes(t *testing.T) {
	const name = "testdata/validate/mistakes"
	doc, ds := Read(os.DirFS("testdata/validate"), "mistakes.yaml")
	ds = append(ds, doc.Validate()...)
	ds.Sort(doc.Files)
	got := []byte(texts(ds))
	if *update {
		if err := os.WriteFile(name+".txt", got, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(name + ".txt")
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got, want) {
		t.Errorf("the messages changed:\n%s", got)
	}
	if n := ds.Errors(); n < 15 {
		t.Errorf("%d errors in one run, want at least 15", n)
	}
}

// Whatever lines are missing, nothing panics.
func TestValidateNeverPanics(t *testing.T) {
	lines := strings.SplitAfter(sound, "\n")
	rapid.Check(t, func(t *rapid.T) {
		var b strings.Builder
		for _, l := range lines {
			switch rapid.IntRange(0, 12).Draw(t, "fate") {
			case 0:
				continue
			case 1: // lose one key of a flow mapping
				parts := strings.Split(l, ", ")
				i := rapid.IntRange(0, len(parts)-1).Draw(t, "part")
				l = strings.Join(append(append([]string(nil), parts[:i]...), parts[i+1:]...), ", ")
				if !strings.HasSuffix(l, "\n") {
					l += "}\n"
				}
			}
			b.WriteString(l)
		}
		doc, _ := Read(fstest.MapFS{"s.yaml": {Data: []byte(b.String())}}, "s.yaml")
		if doc != nil {
			doc.Validate()
			doc.States()
		}
	})
}
