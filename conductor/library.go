package conductor

import (
	"bytes"
	"embed"
	"encoding/csv"
	"fmt"
	"io/fs"
	"math"
	"slices"
	"strconv"

	"feederwright/quantity"
)

// The layout of the files is told in data/README.md.
//
//go:embed data/*.csv
var libraryFiles embed.FS

// A Datum is one value of a conductor, with where it is from.
type Datum struct {
	Value            float64 // SI
	Unit             string  // m, m² or ohm/m
	Printed          string  // value and unit as in the source
	From, To         float64 // temperature of the metal that it holds for, °C; both NaN where it doesn't matter
	Frequency        float64 // Hz; 0 for direct current, NaN where it doesn't matter
	Source, Known    string  // publication; read, from memory, or computed
	Licence          string  // of the value as it stands here
	File             string  // file and line of the library
	Line             int
	key, rangeAsRead string
}

// Given tells whether there is a value.
func (d Datum) Given() bool { return d.Source != "" }

// A Record is one conductor of the library. What its source does not give is
// missing, not zero: see Datum.Given.
type Record struct {
	Name       string
	Family     string // ACSR, AAC, "copper, hard-drawn", "copper, class 2" ...
	Diameter   Datum  // outside, m
	GMR        Datum  // geometric mean radius, m
	Area       Datum  // nominal cross-section, m²
	Resistance []Datum
}

// Library reads the conductors that come with the program, in the order of
// their files.
func Library() ([]Record, error) { return readLibrary(libraryFiles) }

const (
	libraryHeader = "conductor,family,property,value,unit,from_degree_c,to_degree_c,frequency_hz,source,known"
	sourcesHeader = "key,publication,licence"
	sourcesFile   = "data/sources.csv"
)

// A librarySource is a line of the file of sources.
type librarySource struct{ publication, licence string }

// table reads a file of the library, without its header.
func table(files fs.FS, name, header string) ([][]string, error) {
	text, err := fs.ReadFile(files, name)
	if err != nil {
		return nil, fmt.Errorf("read library: %w", err)
	}
	first, _, _ := bytes.Cut(text, []byte("\n"))
	if string(bytes.TrimSuffix(first, []byte("\r"))) != header {
		return nil, Errors{{"file " + name, fmt.Sprintf("its first line is %q", first), "columns are known by their order", "start it with " + header}}
	}
	rows, err := csv.NewReader(bytes.NewReader(text)).ReadAll()
	if err != nil {
		return nil, fmt.Errorf("read library file %s: %w", name, err)
	}
	return rows[1:], nil
}

// readLibrary collects all faults of all files.
func readLibrary(files fs.FS) ([]Record, error) {
	names, err := fs.Glob(files, "data/*.csv")
	if err != nil {
		return nil, fmt.Errorf("read library: %w", err)
	}
	var es Errors
	rows, err := table(files, sourcesFile, sourcesHeader)
	if err != nil {
		return nil, err
	}
	sources := map[string]librarySource{}
	for _, r := range rows {
		if slices.Contains(r, "") {
			es.add("file "+sourcesFile, "a value without a source or licence can't be checked or passed on", "give key, publication and licence", "the line %q has a blank", r)
		}
		sources[r[0]] = librarySource{r[1], r[2]}
	}
	var records []Record
	index := map[string]int{}
	for _, name := range names {
		if name == sourcesFile {
			continue
		}
		rows, err := table(files, name, libraryHeader)
		if err != nil {
			return nil, err
		}
		for i, r := range rows {
			before := len(es)
			d := readDatum(name, i+2, r, sources, &es)
			if len(es) > before {
				continue
			}
			k, known := index[r[0]]
			if !known {
				k = len(records)
				index[r[0]] = k
				records = append(records, Record{Name: r[0], Family: r[1]})
			}
			records[k].put(r[1], r[2], d, &es)
		}
	}
	if len(records) == 0 && len(es) == 0 {
		es.add("library", "", "give one file of conductors in data", "it has no conductors")
	}
	if err := es.err(); err != nil {
		return nil, err
	}
	return records, nil
}

// put adds a datum to its place, which must be free.
func (r *Record) put(family, property string, d Datum, es *Errors) {
	object := d.object(r.Name)
	if family != r.Family {
		es.add(object, "", "use one family for all lines of a conductor", "its family is %q, before it was %q", family, r.Family)
	}
	single := map[string]*Datum{"diameter": &r.Diameter, "gmr": &r.GMR, "area": &r.Area}[property]
	if single == nil {
		for _, other := range r.Resistance {
			if other.rangeAsRead == d.rangeAsRead {
				es.add(object, "", "keep one", "it repeats line %d of %s", other.Line, other.File)
			}
		}
		r.Resistance = append(r.Resistance, d)
		return
	}
	if single.Given() {
		es.add(object, "", "keep one", "it repeats line %d of %s", single.Line, single.File)
	}
	*single = d
}

func (d Datum) object(name string) string {
	return fmt.Sprintf("%s:%d: conductor %q", d.File, d.Line, name)
}

// readDatum checks one line and converts it into SI.
func readDatum(file string, line int, r []string, sources map[string]librarySource, es *Errors) Datum {
	d := Datum{File: file, Line: line, Printed: r[3] + " " + r[4], Known: r[9], key: r[8], Source: sources[r[8]].publication, Licence: sources[r[8]].licence,
		From: math.NaN(), To: math.NaN(), Frequency: math.NaN(), rangeAsRead: r[5] + " " + r[6] + " " + r[7]}
	object := d.object(r[0])
	for i, what := range []string{"name", "family", "property", "value", "unit"} {
		if r[i] == "" {
			es.add(object, "", "fill the column", "it has no %s", what)
		}
	}
	switch {
	case d.key == "":
		es.add(object, "a value without a source can't be checked", "give a key of "+sourcesFile, "it has no source")
	case d.Source == "":
		es.add(object, "a value without a source can't be checked", "add it to "+sourcesFile, "its source %q is not known", d.key)
	}
	if d.Known == "" {
		es.add(object, "a value from memory is less sure than one that was read", "say read, from memory or computed", "it isn't said how the value is known")
	}
	number := func(column int, what string) float64 {
		if r[column] == "" {
			return math.NaN()
		}
		v, err := strconv.ParseFloat(r[column], 64)
		if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
			es.add(object, "", "write a number", "its %s is %q", what, r[column])
			return math.NaN()
		}
		return v
	}
	d.From, d.To = number(5, "lower temperature"), number(6, "upper temperature")
	d.Frequency = number(7, "frequency")
	if d.From > d.To {
		es.add(object, "the range is inside out", "exchange the two", "it holds from %g °C to %g °C", d.From, d.To)
	}
	if math.IsNaN(d.From) != math.IsNaN(d.To) {
		es.add(object, "", "give both temperatures, or none", "one end of its temperature range is missing")
	}
	if d.Frequency < 0 {
		es.add(object, "", "write 0 for direct current", "its frequency is %g Hz", d.Frequency)
	}
	var err error
	switch text := []byte(d.Printed); r[2] {
	case "diameter", "gmr":
		var q quantity.Length
		err, d.Unit = q.UnmarshalText(text), "m"
		d.Value = float64(q)
	case "area":
		var q quantity.Area
		err, d.Unit = q.UnmarshalText(text), "m²"
		d.Value = float64(q)
	case "resistance":
		var q quantity.ImpedancePerLength
		err, d.Unit = q.UnmarshalText(text), "ohm/m"
		d.Value = real(q)
		if math.IsNaN(d.From) || math.IsNaN(d.Frequency) {
			es.add(object, "resistance depends on both", "give both", "its temperature or frequency is missing")
		}
	default:
		es.add(object, "", "write diameter, gmr, area or resistance", "its property is %q", r[2])
		return d
	}
	if err != nil {
		es.add(object, "", "write a number and a unit", "its %s: %v", r[2], err)
	} else if !(d.Value > 0) {
		es.add(object, "sizes and resistances are above zero", "look it up again", "its %s is %s", r[2], d.Printed)
	}
	return d
}

// A Resistance is what ResistanceAt gives.
type Resistance struct {
	Value float64 // ohm/m
	Data  []Datum // what it is from: one, or two that it lies between
}

// ResistanceAt gives the resistance in ohm/m at a temperature in °C and a
// frequency in Hz, 0 for direct current: a value of the source, or linear
// between two of its temperatures. It goes no further than the source; for
// that, see Material.AtTemperature and SkinEffect.
func (r Record) ResistanceAt(temperature, frequency float64) (Resistance, error) {
	var below, above *Datum
	var given []string
	for i := range r.Resistance {
		d := &r.Resistance[i]
		given = append(given, fmt.Sprintf("%g °C %g Hz", d.From, d.Frequency))
		if d.Frequency != frequency {
			continue
		}
		if d.From <= temperature && temperature <= d.To {
			return Resistance{d.Value, []Datum{*d}}, nil
		}
		if d.To < temperature && (below == nil || d.To > below.To) {
			below = d
		}
		if d.From > temperature && (above == nil || d.From < above.From) {
			above = d
		}
	}
	if below == nil || above == nil {
		return Resistance{}, Errors{{"conductor " + strconv.Quote(r.Name),
			fmt.Sprintf("its resistance at %g °C and %g Hz is not in the library", temperature, frequency),
			fmt.Sprintf("its source gives %q, and the library goes no further", given),
			"choose a temperature within these, or figure it from the d.c. resistance with a temperature coefficient and skin effect"}}
	}
	share := (temperature - below.To) / (above.From - below.To)
	return Resistance{below.Value + share*(above.Value-below.Value), []Datum{*below, *above}}, nil
}

// Wire makes a wire of the record, at a temperature in °C and a frequency in Hz.
func (r Record) Wire(name string, role Role, at Place, temperature, frequency float64) (Wire, error) {
	var es Errors
	object := "conductor " + strconv.Quote(r.Name)
	for _, d := range []struct {
		what  string
		datum Datum
	}{{"diameter", r.Diameter}, {"geometric mean radius", r.GMR}} {
		if !d.datum.Given() {
			es.add(object, "the inductance or capacitance of a line depends on it", "give the wire's sizes from its data sheet", "the library has no %s of it", d.what)
		}
	}
	resistance, err := r.ResistanceAt(temperature, frequency)
	if err != nil {
		es = append(es, err.(Errors)...)
	}
	if err := es.err(); err != nil {
		return Wire{}, err
	}
	return Wire{Name: name, Role: role, X: at.X, Height: at.Height, GMR: r.GMR.Value, Radius: r.Diameter.Value / 2, R: resistance.Value}, nil
}

// Find returns the record of a name.
func Find(records []Record, name string) (Record, bool) {
	i := slices.IndexFunc(records, func(r Record) bool { return r.Name == name })
	if i < 0 {
		return Record{}, false
	}
	return records[i], true
}
