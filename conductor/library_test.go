package conductor

import (
	"fmt"
	"io/fs"
	"math"
	"strings"
	"testing"
	"testing/fstest"
)

func library(t *testing.T) []Record {
	t.Helper()
	records := must[[]Record](t)(Library())
	if len(records) < 70 {
		t.Fatalf("%d conductors: the data have more", len(records))
	}
	return records
}

// What the data must be like, beyond what reading them refuses.
func TestLibrary(t *testing.T) {
	used := map[string]bool{}
	for _, r := range library(t) {
		if len(r.Resistance) == 0 {
			t.Errorf("%s has no resistance", r.Name)
		}
		if !r.Diameter.Given() && !r.Area.Given() {
			t.Errorf("%s has no size", r.Name)
		}
		if r.GMR.Given() && !(r.GMR.Value < r.Diameter.Value/2 && r.GMR.Value > 0.2*r.Diameter.Value/2) {
			t.Errorf("%s: GMR %s with a diameter of %s", r.Name, r.GMR.Printed, r.Diameter.Printed)
		}
		for _, d := range append([]Datum{r.Diameter, r.GMR, r.Area}, r.Resistance...) {
			if d.Given() {
				used[d.Source] = true
				if d.Licence == "" {
					t.Errorf("%s: %s has no licence", r.Name, d.Printed)
				}
			}
		}
		// No metal has a lower resistance than its cross-section allows.
		area := r.Area.Value
		if !r.Area.Given() {
			area = math.Pi * r.Diameter.Value * r.Diameter.Value / 4
		}
		for _, d := range r.Resistance {
			if !(d.Value*area > leastResistivity && d.Value*area < 6e-8) {
				t.Errorf("%s: %s gives %.3g ohm·m over its cross-section", r.Name, d.Printed, d.Value*area)
			}
			// Resistance grows with temperature and with frequency.
			for _, e := range r.Resistance {
				if d.From <= e.From && d.Frequency <= e.Frequency && d.Value > e.Value {
					t.Errorf("%s: %s at %g °C and %g Hz, %s at %g °C and %g Hz", r.Name, d.Printed, d.From, d.Frequency, e.Printed, e.From, e.Frequency)
				}
			}
		}
	}
	sources := must[[][]string](t)(table(libraryFiles, sourcesFile, sourcesHeader))
	for _, s := range sources {
		if !used[s[1]] {
			t.Errorf("source %s is used by nothing", s[0])
		}
	}
}

// Tables against each other and against the equations of this package.
func TestLibraryAgainstEquations(t *testing.T) {
	checked := map[string]int{}
	for _, r := range library(t) {
		checked[r.Family]++
		switch {
		case r.Family == "AAC":
			dc := must[Resistance](t)(r.ResistanceAt(20, 0)).Value
			for _, temperature := range []float64{25, 50, 75} {
				got := must[Resistance](t)(r.ResistanceAt(temperature, 60)).Value
				hot := Aluminium.AtTemperature(dc, 20, temperature)
				// The source's values have three digits, and Daisy is 0.4 % off by itself.
				near(t, fmt.Sprintf("%s at %g °C", r.Name, temperature), got/(hot*(1+SkinEffect(hot, 60, 1))), 1, 5e-3, "derived: temperature coefficient and skin effect of IEC 60287")
			}
		case r.Family == "copper, hard-drawn":
			var strands int // the name ends in "7 strands"
			words := strings.Fields(r.Name)
			if _, err := fmt.Sscan(words[len(words)-2], &strands); err != nil {
				t.Fatalf("%s: %v", r.Name, err)
			}
			// The table takes handbook factors for hexagonal layers, and diameters to 0.001 in of some 0.3 in.
			near(t, r.Name+" GMR", StrandedGMR(strands, r.Diameter.Value/2)/r.GMR.Value, 1, 2e-3, "derived: strands on circles")
		case strings.HasSuffix(r.Family, "class 2"):
			m := AnnealedCopper
			if strings.HasPrefix(r.Family, "aluminium") {
				m = Aluminium
			}
			// Largest resistance of the standard over that of the nominal area of pure metal:
			// the real area is smaller than nominal in large sizes, lay and tolerances add in small ones.
			ratio := r.Resistance[0].Value * r.Area.Value / m.Resistivity
			if !(ratio > 1.01 && ratio < 1.14) {
				t.Errorf("%s: %s is %.3f times that of its nominal area", r.Name, r.Resistance[0].Printed, ratio)
			}
		}
	}
	for _, family := range []string{"AAC", "copper, hard-drawn", "copper, class 2", "aluminium, class 2", "ACSR"} {
		if checked[family] == 0 {
			t.Errorf("no %s in the library: this test checked nothing of it", family)
		}
	}
}

func TestResistanceAt(t *testing.T) {
	r, ok := Find(library(t), "AAC 1/0 AWG Poppy")
	if !ok {
		t.Fatal("no Poppy")
	}
	const mi = mile
	near(t, "between two", must[Resistance](t)(r.ResistanceAt(60, 60)).Value*mi, 0.970+0.4*(1.057-0.970), 1e-12, "derived: linear")
	near(t, "at one", must[Resistance](t)(r.ResistanceAt(75, 60)).Value*mi, 1.057, 1e-12, "published: as printed")
	for _, bad := range [][2]float64{{90, 60}, {20, 60}, {50, 50}, {math.NaN(), 60}, {25, 0}} {
		if v, err := r.ResistanceAt(bad[0], bad[1]); err == nil {
			t.Errorf("%v: %v, and should be refused", bad, v)
		}
	}
	class2, _ := Find(library(t), "95 mm2 copper class 2")
	if _, err := class2.Wire("A", PhaseA, Place{0, 9}, 20, 0); err == nil || len(err.(Errors)) != 2 {
		t.Errorf("a wire without diameter and GMR: %v", err)
	}
	if _, ok := Find(library(t), "none"); ok {
		t.Error("found what is not there")
	}
}

// TestLibraryCanFail shows reading what it must not let pass.
func TestLibraryCanFail(t *testing.T) {
	const line = "w,ACSR,resistance,0.3,ohm/km,50,50,60,k,read"
	build := func(rows ...string) fs.FS {
		return fstest.MapFS{
			"data/a.csv":  {Data: []byte(libraryHeader + "\n" + strings.Join(rows, "\n") + "\n")},
			sourcesFile:   {Data: []byte(sourcesHeader + "\nk,A Book,facts\n")},
			"data/README": {Data: []byte("not read")},
		}
	}
	if got, err := readLibrary(build(line)); err != nil || len(got) != 1 || math.Abs(got[0].Resistance[0].Value-3e-4) > 1e-18 {
		t.Fatalf("the good line: %v, %v", got, err)
	}
	tests := []struct{ name, row, want string }{
		{"blank source", "w,ACSR,resistance,0.3,ohm/km,50,50,60,,read", "it has no source"},
		{"unknown source", "w,ACSR,resistance,0.3,ohm/km,50,50,60,q,read", `its source "q" is not known`},
		{"no unit", "w,ACSR,resistance,0.3,,50,50,60,k,read", "it has no unit"},
		{"wrong unit", "w,ACSR,resistance,0.3,ohm,50,50,60,k,read", "its resistance: "},
		{"unit of something else", "w,ACSR,diameter,0.3,ohm/km,,,,k,read", "its diameter: "},
		{"inside out", "w,ACSR,resistance,0.3,ohm/km,60,50,60,k,read", "it holds from 60 °C to 50 °C"},
		{"half a range", "w,ACSR,gmr,0.3,in,60,,60,k,read", "one end of its temperature range is missing"},
		{"no temperature", "w,ACSR,resistance,0.3,ohm/km,,,60,k,read", "its temperature or frequency is missing"},
		{"no frequency", "w,ACSR,resistance,0.3,ohm/km,50,50,,k,read", "its temperature or frequency is missing"},
		{"not known how", "w,ACSR,resistance,0.3,ohm/km,50,50,60,k,", "it isn't said how the value is known"},
		{"not a number", "w,ACSR,resistance,0.3,ohm/km,warm,50,60,k,read", `its lower temperature is "warm"`},
		{"infinite", "w,ACSR,resistance,0.3,ohm/km,50,Inf,60,k,read", `its upper temperature is "Inf"`},
		{"zero", "w,ACSR,resistance,0,ohm/km,50,50,60,k,read", "its resistance is 0 ohm/km"},
		{"negative frequency", "w,ACSR,resistance,0.3,ohm/km,50,50,-1,k,read", "its frequency is -1 Hz"},
		{"unknown property", "w,ACSR,colour,0.3,ohm/km,50,50,60,k,read", `its property is "colour"`},
		{"no name", ",ACSR,resistance,0.3,ohm/km,50,50,60,k,read", "it has no name"},
		{"twice", line + "\n" + line, "it repeats line 2 of data/a.csv"},
		{"diameter twice", "w,ACSR,diameter,1,in,,,,k,read\nw,ACSR,diameter,1,in,,,,k,read", "it repeats line 2 of data/a.csv"},
		{"two families", line + "\nw,AAC,gmr,1,in,,,,k,read", `its family is "AAC", before it was "ACSR"`},
		{"a column short", "w,ACSR,gmr,1,in", "wrong number of fields"},
	}
	for _, tt := range tests {
		if _, err := readLibrary(build(tt.row)); err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%s: %v, want one with %q", tt.name, err, tt.want)
		}
	}
	if _, err := readLibrary(fstest.MapFS{sourcesFile: {Data: []byte(sourcesHeader + "\nk,A Book,\n")}, "data/a.csv": {Data: []byte(libraryHeader + "\n" + line + "\n")}}); err == nil || !strings.Contains(err.Error(), "has a blank") {
		t.Errorf("a source without a licence: %v", err)
	}
	if _, err := readLibrary(fstest.MapFS{sourcesFile: {Data: []byte(sourcesHeader + "\n")}}); err == nil {
		t.Error("an empty library is accepted")
	}
	if _, err := readLibrary(fstest.MapFS{sourcesFile: {Data: []byte(sourcesHeader + "\nk,,facts\n")}, "data/a.csv": {Data: []byte("a,b\n")}}); err == nil {
		t.Error("unknown columns are accepted")
	}
}
