package tables

import (
	"strings"
	"testing"
	"testing/fstest"
	"unicode/utf8"
)

// FuzzRead gives any bytes as tables: reading does not panic, a mistake has a
// place in the file it names, and what is accepted is written as tables that
// read back to the same tables.
func FuzzRead(f *testing.F) {
	add := func(with map[string]string) {
		get := func(name string) string {
			if s, ok := with[name]; ok {
				return s
			}
			return small[name]
		}
		f.Add([]byte(get("buses.csv")), []byte(get("line_types.csv")), []byte(get("cables.csv")), []byte(get("supply.csv")), []byte(get("transformers.csv")))
	}
	add(nil)
	templates := make(map[string]string)
	for _, t := range Templates() {
		templates[t.Name] = string(t.Text)
	}
	add(templates)
	for name, texts := range map[string][]string{
		"buses.csv":      {"\ufeffname;voltage\r\n\"HV\";66 kV\r\nB,1;\"1,5 kV\"", "name,voltage (kV)\nHV,66\n\"MA\nIN\",11\n=\"B2\",=1\n", "sep=;\nname;voltage\nHV;1.200,5", "name,\xfcber\n\x00", "#,name\n#REF!,\"a", "a/b,name,voltage\n,x/y,02-Jan"},
		"line_types.csv": {"name,r1 (ohm/km),x1,r0 (Ω/km),x0 (ohm/1000 ft)\nA,0.1,0.2,−1,j2\n", "name,matrix (ohm/km),assumed\nA,1+j1|1;2|,\"z1, ,z0\"\n"},
		"cables.csv":     {"name,from,to,type,length (mi),runs\nC run 1,MAIN,B2,CU300,1,2×\nC,MAIN,B2,CU300,1,1\n", "name,from,to,type,length,runs\nC,C run 1,B2,CU300,1 km,24\n"},
		"supply.csv":     {"name,level,three-phase,x/r,at\ng,future,1,2,\ng,maximum,,,HV\n,,,,\n,x,y,z,\n"},
	} {
		for _, text := range texts {
			add(map[string]string{name: text})
		}
	}
	f.Fuzz(func(t *testing.T, buses, types, cables, supply, transformers []byte) {
		m := fstest.MapFS{}
		for name, text := range small {
			m[name] = &fstest.MapFile{Data: []byte(text)}
		}
		for name, text := range map[string][]byte{"buses.csv": buses, "line_types.csv": types, "cables.csv": cables, "supply.csv": supply, "transformers.csv": transformers} {
			m[name] = &fstest.MapFile{Data: text}
		}
		im, ms := Read(m, Head{})
		for _, mistake := range ms {
			c := mistake.Cell
			if m[c.File] == nil {
				t.Fatalf("%s: there is no such file: %s", c, mistake.Text())
			}
			if p := c.Place; c.Row > 0 && (p.Line < 1 || p.Col < 1 || p.End < p.Start) {
				t.Fatalf("%s: a mistake without a place: %s", c, mistake.Text())
			}
			if text := mistake.Text(); !utf8.ValidString(text) || !strings.HasPrefix(text, c.File) {
				t.Fatalf("cannot be shown: %q", text)
			}
		}
		if ms.Errors() > 0 {
			if len(im.Files) > 0 {
				t.Fatal("a study is made in spite of errors")
			}
			return
		}
		files, left := Write(im.Study)
		if len(left) > 0 {
			t.Fatalf("left out: %v", left)
		}
		again, ms := Read(folder(files), Head{})
		if ms.Errors() > 0 {
			t.Fatalf("what is written is refused: %q", told(ms))
		}
		sameHeld(t, held(im.Study), held(again.Study))
		files2, _ := Write(again.Study)
		same(t, files, files2)
	})
}
