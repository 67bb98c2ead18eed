package tables

import (
	"encoding"
	"reflect"
	"slices"
	"strings"

	"feederwright/quantity"
	"feederwright/study"
)

// The tables follow the types of the study: every key that holds one value is
// a column, under the key's own name. What a table adds to that is here.

// A table is one kind of CSV file.
type table struct {
	file    string
	key     string // of the table in the study; "" for the head of it
	kind    string // what one row is called
	about   string // what stands in it, for the reader
	item    reflect.Type
	usual   []string   // columns of the templates; an export has these, and others as needed
	example [][]string // rows of the template, under the usual columns
	cables  bool       // rows are lines that may have parallel runs
	levels  reflect.Type
	columns []*column // all that it may have: the usual ones, then the others
}

// all are the tables, in the order in which they are listed.
var all = withColumns([]*table{
	{
		file: "study.csv", kind: "study", item: reflect.TypeFor[study.Document](),
		about:   "What holds for the whole study, in one row.",
		usual:   []string{"study", "frequency"},
		example: [][]string{{"Example works", "50 Hz"}},
	},
	{
		file: "supply.csv", key: "supply", kind: "infeed", item: reflect.TypeFor[study.Infeed](), levels: reflect.TypeFor[study.InfeedLevel](),
		about: "The system that feeds the network: one row for each infeed and level (maximum, minimum, future).",
		usual: []string{"name", "at", "level", "three-phase", "x/r", "z0", "source"},
		example: [][]string{
			{"grid", "INTAKE", "maximum", "10.5 kA", "12", "", "letter of the network owner, invented"},
			{"grid", "INTAKE", "minimum", "7.2 kA", "10", "", "letter of the network owner, invented"},
		},
	},
	{
		file: "buses.csv", key: "buses", kind: "bus", item: reflect.TypeFor[study.Bus](),
		about: "Every busbar, pole and terminal where something is connected.",
		usual: []string{"name", "voltage", "phases", "note"},
		example: [][]string{
			{"INTAKE", "66 kV", "", ""},
			{"MAIN", "11 kV", "", "main switchboard"},
			{"MILL", "11 kV", "", ""},
			{"POLE-1", "11 kV", "", "overhead line to the pumps"},
			{"PUMPS", "11 kV", "", ""},
		},
	},
	{
		file: "transformers.csv", key: "transformers", kind: "transformer", item: reflect.TypeFor[study.Transformer](),
		about: "Two-winding three-phase transformers, as on their nameplates.",
		usual: []string{"name", "from", "to", "group", "rating", "voltages", "impedance", "x/r", "losses", "zero-sequence", "neutral", "from neutral", "to neutral", "source"},
		example: [][]string{
			{"T1", "INTAKE", "MAIN", "Dyn11", "20/25 MVA", "66/11 kV", "10 % on 20 MVA", "", "95 kW", "9.2 % on 20 MVA", "6.35 ohm", "", "", "nameplate"},
			{"T2", "INTAKE", "MAIN", "Dyn11", "20 MVA", "66/11 kV", "10.2 %", "20", "", "9.4 %", "6.35 ohm", "", "", "nameplate"},
		},
	},
	{
		file: "line_types.csv", key: "line types", kind: "line type", item: reflect.TypeFor[study.LineType](),
		about: "Conductor and cable types, which sections.csv and cables.csv refer to: one row for each, by impedances. How a line is built is written in the study.",
		usual: []string{"name", "phases", "z1", "z0", "z", "c1", "c0", "ampacity", "short-time", "source", "assumed"},
		example: [][]string{
			{"CU300", "", "0.0791 + j0.0980 ohm/km", "0.412 + j0.061 ohm/km", "", "0.41 uF/km", "0.41 uF/km", "560 A", "42.9 kA", "sheet of the cable, invented", "z0"},
			{"AL100", "", "0.2870 + j0.3350 ohm/km", "0.435 + j1.420 ohm/km", "", "", "", "300 A", "9.4 kA", "line-constant calculation, invented", ""},
		},
	},
	{
		file: "sections.csv", key: "lines", kind: "line", item: reflect.TypeFor[study.Line](),
		about: "Sections of overhead line, and cables that have no number in the cable schedule.",
		usual: []string{"name", "from", "to", "type", "length", "phases", "note"},
		example: [][]string{
			{"POLE-1-PUMPS", "POLE-1", "PUMPS", "AL100", "2.4 km", "", ""},
		},
	},
	{
		file: "cables.csv", key: "lines", kind: "line", item: reflect.TypeFor[study.Line](), cables: true,
		about: "The cable schedule. A cable of several parallel runs is one row; it becomes as many lines, named C1 run 1, C1 run 2.",
		usual: []string{"name", "from", "to", "type", "length", "runs", "source", "note"},
		example: [][]string{
			{"C-101", "MAIN", "MILL", "CU300", "420 m", "2", "cable schedule, invented", ""},
			{"C-102", "MAIN", "POLE-1", "CU300", "65 m", "", "cable schedule, invented", "to the cable head"},
		},
	},
	{
		file: "loads.csv", key: "loads", kind: "load", item: reflect.TypeFor[study.Load](),
		about: "Loads.",
		usual: []string{"name", "at", "power", "pf", "phases", "connection", "kind", "connected transformers"},
		example: [][]string{
			{"mill", "MILL", "6.5 MVA", "0.88 lag", "", "", "two mill drives and auxiliaries", "8 MVA"},
			{"pumps", "PUMPS", "0.9 MVA", "0.85 lag", "", "", "irrigation", "1.2 MVA"},
		},
	},
	{
		file: "switches.csv", key: "switches", kind: "switch", item: reflect.TypeFor[study.Device](),
		about: "Switches, links and bus couplers; above all those that are normally open. Breakers, fuses and reclosers are written in the study.",
		usual: []string{"name", "in", "near", "from", "to", "normally", "note"},
		example: [][]string{
			{"TIE-1", "", "", "MILL", "PUMPS", "open", "closed when C-102 is out"},
			{"S-1", "POLE-1-PUMPS", "POLE-1", "", "", "", ""},
		},
	},
})

func withColumns(list []*table) []*table {
	for _, t := range list {
		t.columns = columnsOf(t)
	}
	return list
}

// A columnKind is what the cells of a column hold.
type columnKind int

const (
	scalarColumn columnKind = iota // one value of the study
	nameColumn                     // the name of the row
	levelColumn                    // which level of an infeed the row is for
	runsColumn                     // how many cables run in parallel
	listColumn                     // names, with commas between
	matrixColumn                   // rows with bars between, entries with semicolons
	partColumn                     // resistance or reactance of a series impedance
)

// A column is one column that a table may have.
type column struct {
	heading string
	kind    columnKind
	need    bool
	index   []int // of the field in the item, or in the level
	level   bool  // it belongs to the level of an infeed
	doc     string
	sample  string // a text that may stand there
	units   []string
	part    string // of a resistance or reactance, the key that it belongs to
	number  bool   // a quantity, a number or a list of them: spaces and commas are told apart
	refers  string
	words   []string // that are allowed
	series  bool     // a series impedance, which may stand in two columns
}

// half is the column of the resistance or the reactance of a series impedance:
// r1 and x1 for z1.
func (c *column) half(letter, name string) *column {
	other := "x"
	if letter == "x" {
		other = "r"
	}
	suffix := strings.TrimPrefix(c.heading, "z")
	return &column{heading: letter + suffix, kind: partColumn, part: c.heading, index: c.index, level: c.level, number: true, units: c.units, sample: "0.125 ohm/km",
		doc: name + " of " + c.heading + ", with " + other + suffix + " beside it, instead of " + c.heading + "."}
}

// unit is the usual unit of a column, "" if it has none.
func (c *column) unit() string {
	best := ""
	for _, u := range c.units {
		if len(u) > len(best) && hasUnit(c.sample, u) {
			best = u
		}
	}
	return best
}

const valuePrefix, tablePrefix = "Value[", "Table["

func isValue(t reflect.Type) bool {
	return t.Kind() == reflect.Struct && strings.HasPrefix(t.Name(), valuePrefix)
}

func isTable(t reflect.Type) bool {
	return t.Kind() == reflect.Struct && strings.HasPrefix(t.Name(), tablePrefix)
}

// keyed calls visit for every key of a type of the study, embedded ones included.
func keyed(t reflect.Type, visit func(f reflect.StructField, key string)) {
	for _, f := range reflect.VisibleFields(t) {
		if key, ok := f.Tag.Lookup("key"); ok {
			visit(f, key)
		}
	}
}

// provenance are the keys that an entry may have beside its own.
var provenance = func() map[string]bool {
	keys := make(map[string]bool)
	keyed(reflect.TypeFor[study.Provenance](), func(_ reflect.StructField, key string) { keys[key] = true })
	return keys
}()

// columnsOf are all columns that a table may have: the usual ones, then the others.
func columnsOf(t *table) []*column {
	var list []*column
	if t.key != "" {
		list = append(list, &column{heading: "name", kind: nameColumn, need: true, doc: "What it is called: at most 100 bytes, without / @ +.", sample: "NAME"})
	}
	add := func(item reflect.Type, level bool) {
		keyed(item, func(f reflect.StructField, key string) {
			if c := newColumn(f, key); c != nil {
				c.level = level
				list = append(list, c)
			}
		})
	}
	if t.levels == nil {
		add(t.item, false)
	} else {
		keyed(t.item, func(f reflect.StructField, key string) {
			if c := newColumn(f, key); c != nil && !provenance[key] {
				list = append(list, c)
			}
		})
		list = append(list, &column{heading: "level", kind: levelColumn, need: true, doc: "Which strength of the infeed the row gives: " + listed(levelWords(t), "or") + ".", sample: "maximum"})
		add(t.levels, true)
	}
	for _, c := range list {
		if c.series {
			list = append(list, c.half("r", "Resistance"), c.half("x", "Reactance"))
		}
	}
	if t.cables {
		list = append(list, &column{heading: "runs", kind: runsColumn, number: true, sample: "2",
			doc: "How many such cables run in parallel, as 2. Default 1. The impedances, charging and ratings of the type are those of one."})
	}
	if t.item == reflect.TypeFor[study.LineType]() { // how a line is built needs conductors and pole tops, which no table holds
		build := make(map[string]bool)
		keyed(reflect.TypeFor[study.Build](), func(_ reflect.StructField, key string) { build[key] = true })
		list = slices.DeleteFunc(list, func(c *column) bool { return build[c.heading] })
	}
	if t.key == "" { // what the file itself says
		list = slices.DeleteFunc(list, func(c *column) bool {
			return c.heading == "feederwright" || c.heading == "include" || c.heading == "exclude"
		})
	}
	rank := func(c *column) int {
		if i := slices.Index(t.usual, c.heading); i >= 0 {
			return i
		}
		return len(t.usual)
	}
	slices.SortStableFunc(list, func(a, b *column) int { return rank(a) - rank(b) })
	return list
}

// levelWords are the levels that an infeed may have, in the order of the study.
func levelWords(t *table) []string {
	var words []string
	keyed(t.item, func(f reflect.StructField, key string) {
		if f.Type == reflect.PointerTo(t.levels) {
			words = append(words, key)
		}
	})
	return words
}

// newColumn makes a column of a key, or none where a cell can't hold it.
func newColumn(f reflect.StructField, key string) *column {
	if !isValue(f.Type) {
		return nil
	}
	v, _ := f.Type.FieldByName("V")
	c := &column{heading: key, index: f.Index, need: f.Tag.Get("need") == "yes", doc: f.Tag.Get("doc"), refers: f.Tag.Get("refers"), sample: "TEXT"}
	inner := v.Type
	text := reflect.TypeFor[encoding.TextUnmarshaler]()
	isText := reflect.PointerTo(inner).Implements(text)
	switch {
	case isText:
	case inner == reflect.TypeFor[study.Ref]():
		c.sample = "NAME"
	case inner.Kind() == reflect.String, inner.Kind() == reflect.Int:
		if words := strings.Fields(f.Tag.Get("one-of")); len(words) > 0 {
			c.sample, c.words = words[0], words
		} else if inner.Kind() == reflect.Int {
			c.sample, c.number = "1", true
		}
		return c
	case inner == reflect.TypeFor[[]study.Ref]() && key == "assumed":
		c.kind, c.sample = listColumn, "z0"
		c.doc = "Headings of this row whose values are assumed, with commas between; they are listed in every output."
		return c
	case inner.Kind() == reflect.Slice && inner.Elem().Kind() == reflect.Slice && reflect.PointerTo(inner.Elem().Elem()).Implements(text):
		c.kind = matrixColumn
		inner, isText = inner.Elem().Elem(), true
		c.doc += " In a cell: rows with | between, entries with ; between."
	default:
		return nil
	}
	if d, ok := reflect.Zero(inner).Interface().(interface{ Describe() quantity.Description }); ok && isText {
		described := d.Describe()
		c.units = described.Units
		c.series = inner == reflect.TypeFor[quantity.SeriesImpedance]() && c.kind == scalarColumn
		c.number = true
		if len(described.Examples) > 0 {
			c.sample = described.Examples[0]
		}
	}
	return c
}

// plain makes headings alike that differ by capitals, spaces or underscores only.
func plain(heading string) string {
	return strings.ToLower(strings.Join(strings.Fields(strings.ReplaceAll(heading, "_", " ")), " "))
}

// withUnit takes a heading such as length (km) apart.
func withUnit(heading string) (name, unit string) {
	for _, brackets := range []string{"()", "[]"} {
		open := strings.LastIndexByte(heading, brackets[0])
		if open > 0 && strings.HasSuffix(heading, brackets[1:]) {
			return strings.TrimSpace(heading[:open]), strings.TrimSpace(heading[open+1 : len(heading)-1])
		}
	}
	return heading, ""
}

// synonyms are headings that other tables have, for suggestions only.
var synonyms = map[string]string{
	"id": "name", "tag": "name", "number": "name", "no": "name", "no.": "name", "cable number": "name", "cable no": "name", "cable no.": "name", "cable": "name",
	"bus": "at", "node": "at", "location": "at", "bus1": "from", "bus 1": "from", "bus2": "to", "bus 2": "to", "start": "from", "end": "to", "from bus": "from", "to bus": "to",
	"kv": "voltage", "nominal voltage": "voltage", "line type": "type", "cable type": "type", "conductor": "type", "size": "type",
	"parallel": "runs", "parallel runs": "runs", "cables": "runs", "number of runs": "runs", "distance": "length", "km": "length",
	"vector group": "group", "mva": "rating", "power rating": "rating", "uk": "impedance", "uk%": "impedance", "z%": "impedance", "r/x": "x/r",
	"power factor": "pf", "cos phi": "pf", "kva": "power", "s": "power", "fault level": "three-phase", "isc": "three-phase", "remarks": "note", "remark": "note", "comment": "note", "notes": "note", "description": "note",
}
