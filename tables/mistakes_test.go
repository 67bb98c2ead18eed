package tables

import (
	"fmt"
	"io/fs"
	"reflect"
	"strings"
	"testing"
	"testing/fstest"

	"feederwright/study"
)

// small is a set of tables without a mistake, which tests spoil.
var small = map[string]string{
	"study.csv":        "study,frequency\nSmall works,50 Hz\n",
	"supply.csv":       "name,at,level,three-phase,x/r\ngrid,HV,maximum,9 kA,10\n",
	"buses.csv":        "name,voltage,phases\nHV,66 kV,\nMAIN,11 kV,\nB2,11 kV,\n",
	"transformers.csv": "name,from,to,group,rating,voltages,impedance,x/r,zero-sequence,neutral\nT1,HV,MAIN,Dyn11,20 MVA,66/11 kV,10 %,20,9 %,solid\n",
	"line_types.csv":   "name,z1,z0\nAL100,0.287 + j0.335 ohm/km,0.435 + j1.42 ohm/km\nCU300,0.0791 + j0.0980 ohm/km,0.412 + j0.061 ohm/km\n",
	"sections.csv":     "name,from,to,type,length\nS1,MAIN,B2,AL100,1.2 km\n",
	"cables.csv":       "name,from,to,type,length,runs\nC1,MAIN,B2,CU300,0.4 km,2\n",
	"loads.csv":        "name,at,power,pf\nmill,B2,2 MVA,0.9 lag\n",
	"switches.csv":     "name,in,near,from,to,normally\nS-1,S1,MAIN,,,closed\n",
}

func smallFolder(with map[string]string) fs.FS {
	m := fstest.MapFS{}
	for name, text := range small {
		m[name] = &fstest.MapFile{Data: []byte(text)}
	}
	for name, text := range with {
		if text == absent {
			delete(m, name)
			continue
		}
		m[name] = &fstest.MapFile{Data: []byte(text)}
	}
	return m
}

const absent = "\x00absent"

func told(ms Mistakes) []string {
	var list []string
	for _, m := range ms {
		list = append(list, fmt.Sprintf("%s: %s: %s: %s", m.Cell, m.Severity, m.Object, m.Problem))
	}
	return list
}

func TestSmall(t *testing.T) {
	im, ms := Read(smallFolder(nil), Head{})
	if len(ms) > 0 {
		t.Fatalf("the tables that other tests spoil have mistakes: %q", told(ms))
	}
	if im.Study == nil || len(im.Files) != 2 || len(im.Study.Lines.Entries) != 3 {
		t.Errorf("they make %d files", len(im.Files))
	}
}

// Each case spoils one table. What is told must be just what is listed: the
// mistake itself at its cell, and nothing that follows from it.
func TestMistakes(t *testing.T) {
	bus := func(rows string) map[string]string {
		return map[string]string{"buses.csv": "name,voltage,phases\nHV,66 kV,\nMAIN,11 kV,\nB2,11 kV,\n" + rows}
	}
	one := func(file, text string) map[string]string { return map[string]string{file: text} }
	sections := func(text string) map[string]string { return one("sections.csv", text) }
	tests := []struct {
		name string
		with map[string]string
		want []string
	}{
		// Headings.
		{"unknown column, near one", sections("name,from,to,type,lenght\nS1,MAIN,B2,AL100,1.2 km\n"), []string{
			`sections.csv, row 1, column E: error: the table: has no column "lenght"; did you mean "length"?`,
			`sections.csv, row 2, column A (name): error: line "S1": length is not given`}},
		{"unknown column, near none", sections("name,from,to,type,length,colour\nS1,MAIN,B2,AL100,1.2 km,red\n"), []string{
			`sections.csv, row 1, column F: error: the table: has no column "colour"`}},
		{"unknown column, a word of other registers", one("loads.csv", "name,bus,power,pf\nmill,B2,2 MVA,0.9 lag\n"), []string{
			`loads.csv, row 1, column B: error: the table: has no column "bus"; did you mean "at"?`}},
		{"missing column", one("transformers.csv", "name,from,to,rating,voltages,impedance,x/r,zero-sequence,neutral\nT1,HV,MAIN,20 MVA,66/11 kV,10 %,20,9 %,solid\n"), []string{
			`transformers.csv, row 1: error: the table: has no column "group"`}},
		{"column twice", sections("name,from,to,type,length,Length (km)\nS1,MAIN,B2,AL100,1.2 km,3\n"), []string{
			`sections.csv, row 1, column F: error: the table: the column length stands there twice`}},
		{"cells without a heading", sections("name,from,to,type,length,\nS1,MAIN,B2,AL100,1.2 km,\nS2,MAIN,B2,AL100,1.2 km,why\n"), []string{
			`sections.csv, row 1, column F: error: the table: column F has no heading, but row 3 has "why" in it`}},
		{"column name missing", sections("from,to,type,length\nMAIN,B2,AL100,1.2 km\n"), []string{
			`sections.csv, row 1: error: the table: has no column "name"`}},
		{"wrong unit in a heading", sections("name,from,to,type,length (kA)\nS1,MAIN,B2,AL100,1.2\n"), []string{
			`sections.csv, row 1, column E: error: column "length": kA is not a unit that stands here, in "length (kA)"`,
			`sections.csv, row 2, column E (length (kA)): error: line "S1", length: 1.2 has no unit`}},
		{"unit in a heading, capitals", sections("name,from,to,type,length (KM)\nS1,MAIN,B2,AL100,1.2 km\n"), []string{
			`sections.csv, row 1, column E: error: column "length": KM is not a unit that stands here, in "length (KM)"`}},
		{"unit for what has none", one("supply.csv", "name,at,level,three-phase,x/r (ohm)\ngrid,HV,maximum,9 kA,10\n"), []string{
			`supply.csv, row 1, column E: error: column "x/r": ohm is given as its unit, but it has none`}},
		{"another unit in the cell", sections("name,from,to,type,length (km)\nS1,MAIN,B2,AL100,1.2 mi\n"), []string{
			`sections.csv, row 2, column E (length (km)): error: line "S1", length: "1.2 mi" under a heading that says km`}},

		{"a title above the headings", sections("Sections of the works;;;;\n\nname;from;to;type;length\nS1;MAIN;B2;AL100;1,2 km\nS2;MAIN;B2;AL100;1,2\n"), []string{
			`sections.csv, row 1, column A: error: the table: "Sections of the works" stands above the headings, which are in row 3`,
			`sections.csv, row 5, column E (length): error: line "S2", length: 1,2 has no unit`}},

		// Files.
		{"no buses", one("buses.csv", absent), []string{
			`buses.csv: error: the table: is not there`}},
		{"no rows of buses", one("buses.csv", "name,voltage\n"), []string{
			`supply.csv, row 2, column B (at): error: infeed "grid", at: there is no bus "HV" in buses.csv`,
			`buses.csv, row 1: error: the table: has no rows below its headings`,
			`transformers.csv, row 2, column B (from): error: transformer "T1", from: there is no bus "HV" in buses.csv`,
			`transformers.csv, row 2, column C (to): error: transformer "T1", to: there is no bus "MAIN" in buses.csv`,
			`sections.csv, row 2, column B (from): error: line "S1", from: there is no bus "MAIN" in buses.csv`,
			`sections.csv, row 2, column C (to): error: line "S1", to: there is no bus "B2" in buses.csv`,
			`cables.csv, row 2, column B (from): error: line "C1", from: there is no bus "MAIN" in buses.csv`,
			`cables.csv, row 2, column C (to): error: line "C1", to: there is no bus "B2" in buses.csv`,
			`loads.csv, row 2, column B (at): error: load "mill", at: there is no bus "B2" in buses.csv`,
			`switches.csv, row 2, column C (near): error: switch "S-1", near: there is no bus "MAIN" in buses.csv`}},
		{"empty table", one("loads.csv", "\n\n"), []string{
			`loads.csv: error: the table: is empty`}},
		{"no supply", one("supply.csv", absent), []string{
			`supply.csv: warning: supply: the study has no infeed`}},
		{"no study.csv", one("study.csv", absent), []string{
			`study.csv: error: the study: has no title`, `study.csv: error: the study: has no frequency`}},
		{"no frequency", one("study.csv", "study,frequency\nSmall works,\n"), []string{
			`study.csv: error: the study: has no frequency`}},
		{"two rows of study.csv", one("study.csv", "study,frequency\nA,50 Hz\nB,60 Hz\n"), []string{
			`study.csv, row 3, column A (study): error: the study: has a second row`}},
		{"misnamed table", map[string]string{"loads.csv": absent, "Load.csv": small["loads.csv"]}, []string{
			`Load.csv: error: the table: has a name that is not known`}},
		{"other files", map[string]string{"weather.csv": "a\n", "all.xlsx": "PK", "notes.txt": "x"}, []string{
			`all.xlsx: warning: the file: is not read`, `weather.csv: warning: the table: is not read`}},
		{"workbook under the name of a table", one("loads.csv", "PK\x03\x04..."), []string{
			`loads.csv: error: the table: is a workbook of a spreadsheet program`}},
		{"UTF-16", one("loads.csv", "\xff\xfen\x00a\x00"), []string{
			`loads.csv: error: the table: is UTF-16 text`}},
		{"zero bytes", one("loads.csv", "name\x00\n"), []string{
			`loads.csv: error: the table: is not text: it has a zero byte`}},
		{"Latin-1", one("loads.csv", "name,at,power,pf\nm\xfchle,B2,2 MVA,0.9 lag\n"), []string{
			`loads.csv, row 2, column A: warning: the table: is not UTF-8 text; it is read as Latin-1 (Windows code page 1252)`}},

		// Rows and cells.
		{"name twice", bus("B2,11 kV,\n"), []string{
			`buses.csv, row 5, column A (name): error: bus "B2": is defined twice`}},
		{"name in two tables", map[string]string{"cables.csv": "name,from,to,type,length,runs\nS1,MAIN,B2,CU300,0.4 km,\n"}, []string{
			`cables.csv, row 2, column A (name): error: line "S1": is defined twice`}},
		{"cable number twice", one("cables.csv", "name,from,to,type,length,runs\nC1,MAIN,B2,CU300,0.4 km,2\nC1,MAIN,B2,CU300,0.4 km,\n"), []string{
			`cables.csv, row 3, column A (name): error: line "C1": is defined twice`}},
		{"a run's name taken", sections("name,from,to,type,length\nS1,MAIN,B2,AL100,1.2 km\nC1 run 2,MAIN,B2,AL100,1.2 km\n"), []string{
			`cables.csv, row 2, column A (name): error: line "C1 run 2": is defined twice`}},
		{"line named as a transformer", sections("name,from,to,type,length\nT1,MAIN,B2,AL100,1.2 km\nS1,MAIN,B2,AL100,1.2 km\n"), []string{
			`sections.csv, row 2, column A (name): error: line "T1": has the name of a transformer`}},
		{"no name", bus(",11 kV,\n"), []string{
			`buses.csv, row 5, column A (name): error: bus: has no name`}},
		{"name with a slash", map[string]string{"buses.csv": "name,voltage\nHV,66 kV\nMAIN,11 kV\nB/2,11 kV\n",
			"sections.csv": "name,from,to,type,length\nS1,MAIN,B/2,AL100,1.2 km\n", "cables.csv": absent, "loads.csv": absent}, []string{
			`buses.csv, row 4, column A (name): error: bus: the name "B/2" has one of the characters / @ + in it`}},
		{"name with a line break", bus("\"B\n3\",11 kV,\n"), []string{
			`buses.csv, row 5, column A (name): error: bus: the name "B\n3" has a line break or a control character in it`}},
		{"long name", bus(strings.Repeat("x", 101) + ",11 kV,\n"), []string{
			`buses.csv, row 5, column A (name): error: bus: the name "` + strings.Repeat("x", 57) + `..." has 101 bytes; 100 is the most`}},
		{"name that became a date", map[string]string{"buses.csv": "name,voltage\nHV,66 kV\nMAIN,11 kV\n02-Jan,11 kV\n",
			"sections.csv": "name,from,to,type,length\nS1,MAIN,02-Jan,AL100,1.2 km\n", "cables.csv": absent, "loads.csv": absent}, []string{
			`buses.csv, row 4, column A (name): warning: bus "02-Jan": the name looks like a date`}},
		{"name that became a number", bus("1.2E+05,11 kV,\n"), []string{
			`buses.csv, row 5, column A (name): error: bus: 1.2E+05 is a number that the spreadsheet has shortened`}},
		{"quantity that became a date", one("transformers.csv", "name,from,to,group,rating,voltages (kV),impedance,x/r,zero-sequence,neutral\nT1,HV,MAIN,Dyn11,20 MVA,06-Nov,10 %,20,9 %,solid\n"), []string{
			`transformers.csv, row 2, column F (voltages (kV)): error: transformer "T1", voltages: 06-Nov is a date`}},
		{"needed cell empty", bus("B3,,\nS3"), []string{
			`buses.csv, row 5, column A (name): warning: bus "B3": nothing is connected to it`,
			`buses.csv, row 5, column B (voltage): error: bus "B3": voltage is empty`,
			`buses.csv, row 6, column A (name): warning: bus "S3": nothing is connected to it`,
			`buses.csv, row 6, column B (voltage): error: bus "S3": voltage is empty`}},
		{"unit missing", sections("name,from,to,type,length\nS1,MAIN,B2,AL100,1.2\n"), []string{
			`sections.csv, row 2, column E (length): error: line "S1", length: 1.2 has no unit`}},
		{"unit missing in many cells", sections("name,from,to,type,length\nS1,MAIN,B2,AL100,1\nS2,MAIN,B2,AL100,2\nS3,MAIN,B2,AL100,3\nS4,MAIN,B2,AL100,4\n"), []string{
			`sections.csv, row 2, column E (length): error: line "S1", length: 1 has no unit, nor have those in rows 3, 4 and 5`}},
		{"wrong unit", sections("name,from,to,type,length\nS1,MAIN,B2,AL100,1.2 kV\n"), []string{
			`sections.csv, row 2, column E (length): error: line "S1", length: 1.2 kV is a voltage; a length is wanted here`}},
		{"unknown bus", sections("name,from,to,type,length\nS1,MAIN,B22,AL100,1.2 km\n"), []string{
			`sections.csv, row 2, column C (to): error: line "S1", to: there is no bus "B22" in buses.csv; did you mean "B2"?`}},
		{"unknown branch", one("switches.csv", "name,in,near\nS-1,S2,MAIN\n"), []string{
			`switches.csv, row 2, column B (in): error: switch "S-1", in: there is no line or transformer "S2" in sections.csv, cables.csv or transformers.csv`}},
		{"unknown type", one("cables.csv", "name,from,to,type,length,runs\nC1,MAIN,B2,CU30,0.4 km,2\n"), []string{
			`cables.csv, row 2, column D (type): error: line "C1", type: there is no line type "CU30" in line_types.csv; did you mean "CU300"?`}},
		{"types without their table", one("line_types.csv", absent), []string{
			`sections.csv, row 2, column D (type): error: line "S1", type: there is no line type "AL100" in line_types.csv`,
			`cables.csv, row 2, column D (type): error: line "C1", type: there is no line type "CU300" in line_types.csv`}},
		{"not a number of runs", one("cables.csv", "name,from,to,type,length,runs\nC1,MAIN,B2,CU300,0.4 km,two\nC2,MAIN,B2,CU300,0.4 km,0\nC3,MAIN,B2,CU300,0.4 km,300\n"), []string{
			`cables.csv, row 2, column F (runs): error: line "C1", runs: "two" is no number of cables in parallel`,
			`cables.csv, row 3, column F (runs): error: line "C2", runs: "0" is no number of cables in parallel`,
			`cables.csv, row 4, column F (runs): error: line "C3", runs: "300" is no number of cables in parallel`}},
		{"switch in a cable of several runs", one("switches.csv", "name,in,near\nS-1,C1,MAIN\n"), []string{
			`switches.csv, row 2, column B (in): error: switch "S-1", in: "C1" is a cable of several runs`}},
		{"a mistake of every run, once", one("cables.csv", "name,from,to,type,length,runs\nC1,MAIN,B2,CU300,0.4 kA,3\n"), []string{
			`cables.csv, row 2, column E (length): error: line "C1 run 1", length: 0.4 kA is a current; a length is wanted here`}},
		{"formula", sections("name,from,to,type,length\nS1,MAIN,B2,AL100,=B7*2\n"), []string{
			`sections.csv, row 2, column E (length): error: line "S1", length: "=B7*2" is a formula, not its value`}},
		{"failed formula", sections("name,from,to,type,length\nS1,MAIN,#N/A,AL100,#REF!\nS2,MAIN,B2,AL100,#####\n"), []string{
			`sections.csv, row 2, column C (to): error: line "S1", to: #N/A stands here, not a value`,
			`sections.csv, row 2, column E (length): error: line "S1", length: #REF! stands here, not a value`,
			`sections.csv, row 3, column E (length): error: line "S2", length: ##### stands here, not a value`}},
		{"too many cells", sections("name,from,to,type,length\nS1,MAIN,B2,AL100,1,2 km\n"), []string{
			`sections.csv, row 2, column F: error: the table: "2 km" stands beyond the last heading`}},
		{"too many cells, so that it does not count which are empty", sections("name,from,to,type,length\nS1,,B2,AL100,1,2 km\n"), []string{
			`sections.csv, row 2, column F: error: the table: "2 km" stands beyond the last heading`}},
		{"one cell wrong and another empty", sections("name,from,to,type,length\nS1,,B2,AL100,#REF!\n"), []string{
			`sections.csv, row 2, column B (from): error: line "S1": from is empty`,
			`sections.csv, row 2, column E (length): error: line "S1", length: #REF! stands here, not a value`}},
		{"decimal comma in quotes", sections("name,from,to,type,length\nS1,MAIN,B2,AL100,\"1,2 km\"\n"), []string{
			`sections.csv, row 2, column E (length): error: line "S1", length: 1,2 has a separator inside the number`}},
		{"a dot among decimal commas", sections("name;from;to;type;length\nS1;MAIN;B2;AL100;1,2 km\nS2;MAIN;B2;AL100;1.200 m\nS3;MAIN;B2;AL100;1.200,5 m\n"), []string{
			`sections.csv, row 3, column E (length): error: line "S2", length: "1.200 m" can be read in two ways`,
			`sections.csv, row 4, column E (length): error: line "S3", length: "1.200,5 m" has a dot for thousands and a decimal comma`}},
		{"quote never closed", sections("name,from,to,type,length\nS1,MAIN,B2,AL100,\"1.2 km\nS2,MAIN,B2,AL100,1.2\n"), []string{
			`sections.csv, row 2, column E: error: the table: a quote (") is opened here and never closed`,
			`sections.csv, row 3, column E (length): error: line "S2", length: 1.2 has no unit`}},
		{"text after a quote", sections("name,from,to,type,length,note\nS1,MAIN,B2,AL100,1.2 km,\"see \"drawing 4\n"), []string{
			`sections.csv, row 2, column F: error: the table: "drawing 4" follows the closing quote of a cell`}},
		{"resistance without reactance", one("line_types.csv", "name,r1 (ohm/km),x1,r0,x0\nAL100,0.287,,0.4 ohm/km,1.4\nCU300,0.079,0.098 ohm/mi,0.4 ohm/km,j0.06 ohm/km\n"), []string{
			`line_types.csv, row 2, column C (x1): error: line type "AL100", z1: x1 is not given beside r1`,
			`line_types.csv, row 2, column E (x0): error: line type "AL100", x0: 1.4 has no unit`,
			`line_types.csv, row 3, column C (x1): error: line type "CU300", x1: is in ohm/mi, and r1 in ohm/km`}},
		{"impedance in two ways", one("line_types.csv", "name,z1,r1,x1,z0\nAL100,0.287 + j0.335 ohm/km,0.287 ohm/km,0.3 ohm/km,0.435 + j1.42 ohm/km\nCU300,,0.079 + j0.1 ohm/km,0.098 ohm/km,0.412 + j0.061 ohm/km\n"), []string{
			`line_types.csv, row 2, column C (r1): error: line type "AL100", z1: r1 is given beside z1`,
			`line_types.csv, row 3, column C (r1): error: line type "CU300", r1: "0.079 + j0.1 ohm/km" is no resistance`}},

		// The supply.
		{"no such level", one("supply.csv", "name,at,level,three-phase,x/r\ngrid,HV,maximal,9 kA,10\n"), []string{
			`supply.csv, row 2, column C (level): error: infeed "grid", level: "maximal" is no level of an infeed`}},
		{"level empty, twice, and without data", one("supply.csv", "name,at,level,three-phase,x/r\ngrid,HV,maximum,9 kA,10\ngrid,HV,,9 kA,10\ngrid,HV,maximum,9 kA,10\ngrid,,minimum,,\n"), []string{
			`supply.csv, row 3, column C (level): error: infeed "grid": level is empty`,
			`supply.csv, row 4, column C (level): error: infeed "grid": has the level maximum twice`,
			`supply.csv, row 5: error: infeed "grid", minimum: neither a three-phase level nor z1 is given`}},
		{"rows of an infeed that differ", one("supply.csv", "name,at,level,three-phase,x/r\ngrid,HV,maximum,9 kA,10\ngrid,MAIN,minimum,5 kA,9\n"), []string{
			`supply.csv, row 3, column B (at): error: infeed "grid", at: "MAIN" here, and "HV" in row 2`}},

		// What the study finds, at the cells that it comes from.
		{"both ends alike", sections("name,from,to,type,length\nS1,MAIN,MAIN,AL100,1.2 km\n"), []string{
			`sections.csv, row 2, column C (to): error: line "S1": both ends are at bus "MAIN"`}},
		{"length missing", sections("name,from,to,type,length\nS1,MAIN,B2,AL100,\n"), []string{
			`sections.csv, row 2, column E (length): error: line "S1": length is not given`}},
		{"across voltages", sections("name,length,from,to,type\nS1,1.2 km,HV,B2,AL100\n"), []string{
			`sections.csv, row 2, column D (to): error: line "S1": from bus "HV" of 66 kV to bus "B2" of 11 kV`,
			`switches.csv, row 2, column C (near): error: switch "S-1": bus "MAIN" is no end of "S1"`}},
		{"implausible", sections("name,from,to,type,length\nS1,MAIN,B2,AL100,1200 km\n"), []string{
			`sections.csv, row 2, column E (length): warning: line "S1": length 1200 km is long for medium voltage`}},
		{"in the cable schedule", one("cables.csv", "name,from,to,type,length\nC1,MAIN,B2,CU300,1200 km\n"), []string{
			`cables.csv, row 2, column E (length): warning: line "C1": length 1200 km is long for medium voltage`}},
		{"of a level", one("supply.csv", "name,at,level,three-phase,x/r\ngrid,HV,maximum,9 kA,10\ngrid,HV,minimum,12 kA,9\n"), []string{
			`supply.csv, row 3, column D (three-phase): error: infeed "grid", minimum: 12 kA is stronger than the maximum of 9 kA`}},
		{"not plausible, in a column of its own", one("line_types.csv", "name,r1 (ohm/m),x1 (ohm/m),z0\nAL100,0.287,0.335,0.435 + j1.42 ohm/km\nCU300,0.0000791,0.000098,0.412 + j0.061 ohm/km\n"), []string{
			`line_types.csv, row 2, column B (r1 (ohm/m)): error: line type "AL100", z1: 0.287 + j0.335 ohm/m is 287 + j335 ohm/km`,
			`line_types.csv, row 2, column D (z0): warning: line type "AL100": |z0| is 0.003367 times |z1|`}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			im, ms := Read(smallFolder(tt.with), Head{})
			got := told(ms)
			missing := false
			for _, w := range tt.want {
				ok := false
				for _, g := range got {
					ok = ok || g == w
				}
				if !ok {
					t.Errorf("not told: %s", w)
					missing = true
				}
			}
			for _, g := range got {
				ok := false
				for _, w := range tt.want {
					ok = ok || g == w
				}
				if !ok {
					t.Errorf("told: %s", g)
				}
			}
			if missing {
				return
			}
			if refused := ms.Errors() > 0; refused != (len(im.Files) == 0) {
				t.Errorf("%d errors, and %d files", ms.Errors(), len(im.Files))
			}
			for _, m := range ms {
				if m.Severity == study.Error && m.Fix == "" {
					t.Errorf("%s: nothing is said of how to mend it", m.Cell)
				}
			}
		})
	}
}

// What is accepted, in as many forms as spreadsheets write it: each makes the
// same study as the tables of small do.
func TestForms(t *testing.T) {
	want := held(mustRead(t, smallFolder(nil), Head{}))
	one := func(file, text string) map[string]string { return map[string]string{file: text} }
	tests := []struct {
		name string
		with map[string]string
	}{
		{"carriage returns", one("buses.csv", "name,voltage,phases\r\nHV,66 kV,\r\nMAIN,11 kV,\r\nB2,11 kV,\r\n")},
		{"carriage returns alone", one("buses.csv", "name,voltage,phases\rHV,66 kV,\rMAIN,11 kV,\rB2,11 kV,")},
		{"byte order mark", one("buses.csv", "\ufeff"+small["buses.csv"])},
		{"blank lines", one("buses.csv", "\n,,\nname,voltage,phases\n\nHV,66 kV,\n,,\nMAIN,11 kV,\nB2,11 kV,\n\n\n")},
		{"short rows", one("buses.csv", "name,voltage,phases\nHV,66 kV\nMAIN,11 kV,,,\nB2,11 kV")},
		{"spaces round cells", one("buses.csv", " name , voltage\nHV , 66 kV\n\u00a0MAIN,11\u00a0kV\nB2,11 kV\t\n")},
		{"semicolons", one("buses.csv", "name;voltage\nHV;66 kV\nMAIN;11 kV\nB2;11 kV\n")},
		{"tabs", one("buses.csv", "name\tvoltage\nHV\t66 kV\nMAIN\t11 kV\nB2\t11 kV\n")},
		{"line that tells the separator", one("buses.csv", "sep=;\nname;voltage\nHV;66 kV\nMAIN;11 kV\nB2;11 kV\n")},
		{"quotes everywhere", one("buses.csv", "\"name\",\"voltage\"\n\"HV\",\"66 kV\"\n\"MAIN\",\"11 kV\"\n\"B2\",\"11 kV\"\n")},
		{"texts kept by an equals sign", one("buses.csv", "name,voltage\nHV,66 kV\n\"=\"\"MAIN\"\"\",11 kV\n=\"B2\",11 kV\n")},
		{"columns in another order", one("buses.csv", "voltage,phases,name\n66 kV,,HV\n11 kV,,MAIN\n11 kV,,B2\n")},
		{"capitals and underscores in headings", one("transformers.csv", "NAME,From,to,Group,rating,voltages,impedance,X/R,Zero-Sequence,neutral,FROM_TAP\nT1,HV,MAIN,Dyn11,20 MVA,66/11 kV,10 %,20,9 %,solid,\n")},
		{"a heading on two lines", one("buses.csv", "name,\"voltage\n(kV)\"\nHV,66\nMAIN,11\nB2,11\n")},
		{"columns left out", one("buses.csv", "name,# from the map,voltage\nHV,x,66 kV\nMAIN,y,11 kV\nB2,z,11 kV\n")},
		{"capitals in the file's name", map[string]string{"buses.csv": absent, "Buses.CSV": small["buses.csv"]}},
		{"rows of a supply that say it once", one("supply.csv", "name,level,at,three-phase,x/r\ngrid,MAXIMUM,HV,9 kA,10\n")},
		{"runs with a sign", one("cables.csv", "name,from,to,type,length,runs\nC1,MAIN,B2,CU300,0.4 km,2 ×\n")},
		{"runs on rows of their own", one("cables.csv", "name,from,to,type,length\nC1 run 1,MAIN,B2,CU300,0.4 km\nC1 run 2,MAIN,B2,CU300,0.4 km\n")},
		{"resistance and reactance", one("line_types.csv", "name,r1,x1,r0 (ohm/km),x0 (ohm/km)\nAL100,0.287 ohm/km,0.335 ohm/km,0.435,1.42\nCU300,0.0791 ohm/km,j0.0980 ohm/km,0.412,0.061\n")},
		{"Latin-1 with nothing beyond ASCII that counts", one("loads.csv", "name,at,power,pf,#\nmill,B2,2 MVA,0.9 lag,M\xfchle\n")},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			sameHeld(t, want, held(mustRead(t, smallFolder(tt.with), Head{})))
		})
	}
	// Texts of quantities stay as typed, but for these.
	units := []struct{ name, file, text string }{
		{"units in headings", "sections.csv", "name,from,to,type,length [km]\nS1,MAIN,B2,AL100,1.2\n"},
		{"units in headings and cells", "sections.csv", "name,from,to,type,length (km)\nS1,MAIN,B2,AL100,1.2 km\n"},
		{"decimal commas", "sections.csv", "name;from;to;type;length (km)\nS1;MAIN;B2;AL100;1,2\n"},
		{"decimal commas of a complex number", "line_types.csv", "name;z1;z0\nAL100;0,287 + j0,335 ohm/km;0,435 + j1,42 ohm/km\nCU300;0,0791 + j0,0980 ohm/km;0,412 + j0,061 ohm/km\n"},
		{"unit of a complex number", "line_types.csv", "name,z1 (ohm/km),z0 (ohm/km)\nAL100,0.287 + j0.335,0.435 + j1.42\nCU300,0.0791 + j0.0980,0.412 + j0.061\n"},
		{"units of a nameplate", "transformers.csv", "name,from,to,group,rating (MVA),voltages (kV),impedance (%),x/r,zero-sequence (%),neutral (ohm)\nT1,HV,MAIN,Dyn11,20,66/11,10,20,9,solid\n"},
	}
	for _, tt := range units {
		t.Run(tt.name, func(t *testing.T) {
			sameHeld(t, want, held(mustRead(t, smallFolder(one(tt.file, tt.text)), Head{})))
		})
	}
}

func sameHeld(t interface {
	Helper()
	Errorf(string, ...any)
}, want, got map[string]any) {
	t.Helper()
	for key, v := range want {
		if !reflect.DeepEqual(got[key], v) {
			t.Errorf("%s: %v, want %v", key, got[key], v)
		}
	}
	for key := range got {
		if _, known := want[key]; !known {
			t.Errorf("%s is new: %v", key, got[key])
		}
	}
}

// Rows are counted as a spreadsheet counts them, and the place in the text is
// that of the cell.
func TestPlaces(t *testing.T) {
	tests := []struct {
		name, text, cell string
		line, col        int
	}{
		{"blank lines count", "name,voltage\n\nHV,66 kV\nMAIN,11 kV\n\nB2,11\n", "buses.csv, row 6, column B (voltage)", 6, 4},
		{"a line that tells the separator does not", "sep=;\nname;voltage\nHV;66 kV\nMAIN;11 kV\nB2;11\n", "buses.csv, row 4, column B (voltage)", 5, 4},
		{"a cell with line breaks is one row", "name,voltage,note\nHV,66 kV,\"a\nb\nc\"\nMAIN,11 kV,\nB2,11,\n", "buses.csv, row 4, column B (voltage)", 6, 4},
		{"columns count characters", "name,note,voltage\nHV,,66 kV\nMAIN,,11 kV\nB2,Größe,11 KV\n", "buses.csv, row 4, column C (voltage)", 4, 13},
		{"the unit is what is wrong", "name,voltage\nHV,66 kV\nMAIN,11 kV\nB2,\"11 KV\"\n", "buses.csv, row 4, column B (voltage)", 4, 8},
		{"headings below a blank line", "\nname,voltage\nHV,66 kV\nMAIN,11 kV\nB2,11\n", "buses.csv, row 5, column B (voltage)", 5, 4},
		{"column AB", strings.Repeat(",", 26) + "name,voltage\n" + strings.Repeat(",", 26) + "HV,66 kV\n" + strings.Repeat(",", 26) + "MAIN,11 kV\n" + strings.Repeat(",", 26) + "B2,11\n", "buses.csv, row 4, column AB (voltage)", 4, 30},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			_, ms := Read(smallFolder(map[string]string{"buses.csv": tt.text}), Head{})
			if len(ms) != 1 {
				t.Fatalf("told %q, want one mistake", told(ms))
			}
			if c := ms[0].Cell; c.String() != tt.cell || c.Place.Line != tt.line || c.Place.Col != tt.col {
				t.Errorf("told of %s at line %d, column %d; want %s at %d, %d", c, c.Place.Line, c.Place.Col, tt.cell, tt.line, tt.col)
			}
		})
	}
}

func TestLetters(t *testing.T) {
	for column, want := range map[int]string{0: "A", 25: "Z", 26: "AA", 51: "AZ", 52: "BA", 701: "ZZ", 702: "AAA"} {
		if got := letters(column); got != want {
			t.Errorf("letters(%d) = %s, want %s", column, got, want)
		}
	}
}

// TestHead: what the tables don't say, the caller may.
func TestHead(t *testing.T) {
	im, ms := Read(smallFolder(map[string]string{"study.csv": absent}), Head{Title: "From outside", Frequency: "60 Hz"})
	if len(ms) > 0 || im.Study.Title.V != "From outside" || im.Study.Frequency.V != 60 {
		t.Errorf("%q", told(ms))
	}
	_, ms = Read(smallFolder(map[string]string{"study.csv": absent}), Head{Title: "From outside", Frequency: "sixty"})
	if ms.Errors() != 1 {
		t.Errorf("a wrong frequency gives %q", told(ms))
	}
	_, ms = Read(smallFolder(nil), Head{Title: "Small works", Frequency: "60 Hz"})
	if got := told(ms); len(got) != 1 || got[0] != `study.csv, row 2, column B (frequency): error: the study: frequency is "50 Hz" here, and given as "60 Hz" with the command` {
		t.Errorf("another frequency than that of the tables gives %q", got)
	}
}

// TestMany: a table of mistakes gives no endless list, and takes no endless time.
func TestMany(t *testing.T) {
	var rows strings.Builder
	rows.WriteString("name,from,to,type,length\n")
	for i := range 6000 {
		fmt.Fprintf(&rows, "L%d,MAIN,X%d,AL100,1.2 kV\n", i, i)
	}
	_, ms := Read(smallFolder(map[string]string{"sections.csv": rows.String()}), Head{})
	if len(ms) != maxMistakes+1 || !strings.Contains(ms[maxMistakes].Problem, "more mistakes") || ms[maxMistakes].Severity != study.Error {
		t.Errorf("%d mistakes, the last %q", len(ms), ms[len(ms)-1].Problem)
	}
}

func TestMistakeText(t *testing.T) {
	_, ms := Read(smallFolder(map[string]string{"sections.csv": "name,from,to,type,length\nS1,MAIN,B2,AL100,\"1.2 KM\"\nS1,MAIN,B2,AL100,2 km\n"}), Head{})
	text := ""
	for _, m := range ms {
		text += m.Text() + "\n"
	}
	const want = `sections.csv, row 2, column E (length): line "S1", length: KM is no unit: capitals matter
    S1,MAIN,B2,AL100,"1.2 KM"
                          ^^
  fix: write 1.2 km

sections.csv, row 3, column A (name): line "S1": is defined twice
    S1,MAIN,B2,AL100,2 km
    ^^
  why: a name means one thing
  fix: rename one of them, or delete it
  see: sections.csv, row 2, column A (name): first defined here
    S1,MAIN,B2,AL100,"1.2 KM"
    ^^

`
	if text != want {
		t.Errorf("got\n%swant\n%s", text, want)
	}
}
