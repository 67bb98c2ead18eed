package tables

import (
	"bytes"
	"io/fs"
	"reflect"
	"testing"
	"testing/fstest"

	"feederwright/examples"
	"feederwright/study"
)

func folder(files []File) fs.FS {
	m := fstest.MapFS{}
	for _, f := range files {
		m[f.Name] = &fstest.MapFile{Data: f.Text}
	}
	return m
}

func mustRead(t interface {
	Helper()
	Fatalf(string, ...any)
}, fsys fs.FS, head Head) *study.Document {
	t.Helper()
	im, ms := Read(fsys, head)
	if ms.Errors() > 0 {
		text := ""
		for _, m := range ms {
			text += m.Text() + "\n"
		}
		t.Fatalf("the tables are refused:\n%s", text)
	}
	return im.Study
}

// held is all that tables hold of a study: the values with their texts and
// origins, by table, name and key. Places, order and notation are no part of it.
func held(doc *study.Document) map[string]any {
	all := make(map[string]any)
	for _, t := range allTables() {
		w := &writer{doc: doc}
		for _, s := range w.sources(t.key) {
			values(all, t.key+" / "+s.name, s.item)
		}
	}
	values(all, "study", reflect.ValueOf(doc).Elem())
	delete(all, "study / include") // the cable schedule has a file of its own
	delete(all, "study / exclude") // conditions are not in tables
	return all
}

func allTables() []*table {
	var list []*table
	for _, t := range all {
		if t.key != "" && !t.cables {
			list = append(list, t)
		}
	}
	return list
}

func values(all map[string]any, path string, item reflect.Value) {
	keyed(item.Type(), func(f reflect.StructField, key string) {
		v := item.FieldByIndex(f.Index)
		switch {
		case v.Kind() == reflect.Pointer && !v.IsNil() && v.Elem().Kind() == reflect.Struct && path != "study":
			values(all, path+" / "+key, v.Elem())
		case isValue(v.Type()) && v.FieldByName("Given").Bool():
			all[path+" / "+key] = v.FieldByName("V").Interface()
			// The texts differ only in how a matrix stands in its brackets.
			if v.FieldByName("V").Kind() != reflect.Slice {
				all[path+" / "+key+" (text)"] = v.FieldByName("Text").String()
			}
		}
	})
}

// TestTemplates: the templates are tables without a doubt in them, and come
// back from the study that they make byte for byte.
func TestTemplates(t *testing.T) {
	files := Templates()
	im, ms := Read(folder(files), Head{})
	for _, m := range ms {
		t.Errorf("the templates have a mistake:\n%s", m.Text())
	}
	again, left := Write(im.Study)
	if len(left) > 0 {
		t.Errorf("left out: %v", left)
	}
	same(t, files[:len(files)-1], again)
}

func same(t interface{ Errorf(string, ...any) }, want, got []File) {
	if len(got) != len(want) {
		t.Errorf("%d tables come back, want %d", len(got), len(want))
		return
	}
	for i := range want {
		if want[i].Name != got[i].Name || !bytes.Equal(want[i].Text, got[i].Text) {
			t.Errorf("%s comes back as %s:\n%s\nwant\n%s", want[i].Name, got[i].Name, got[i].Text, want[i].Text)
		}
	}
}

// TestExamples: a study, its tables, and the study made of them hold the same
// network; and the tables of that are the same bytes.
func TestExamples(t *testing.T) {
	for _, name := range []string{"velmora", "first-study", "harnmoor"} {
		t.Run(name, func(t *testing.T) {
			fsys, err := fs.Sub(examples.Files, name)
			if err != nil {
				t.Fatal(err)
			}
			doc, ds := study.Read(fsys, "study.yaml")
			if ds.Errors() > 0 {
				t.Fatal(ds)
			}
			if main := doc.LineTypes.Find("MAIN"); name == "harnmoor" && main.Item.IsBuilt() {
				// Tables have no place for how a line is built; its constants stand in for it.
				given := doc.LineTypes.Find("TWO").Item
				main.Item = study.LineType{Electrical: given.Electrical}
			}
			files, _ := Write(doc)
			again := mustRead(t, folder(files), Head{})
			want, got := held(doc), held(again)
			if len(want) < 40 {
				t.Fatalf("%d values: this test would check little", len(want))
			}
			for key, v := range want {
				if !reflect.DeepEqual(got[key], v) {
					t.Errorf("%s: %v, want %v", key, got[key], v)
				}
			}
			for key := range got {
				if _, known := want[key]; !known {
					t.Errorf("%s is new", key)
				}
			}
			files2, left := Write(again)
			if len(left) > 0 {
				t.Errorf("left out the second time: %v", left)
			}
			same(t, files, files2)
		})
	}
}
