package server_test

import (
	"bufio"
	"context"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"feederwright/server"
)

// listen gives the events of a study, as "name data".
func listen(t *testing.T, v string) (wait func(prefix, holds string)) {
	t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), 5*time.Minute) // a busy machine takes its time
	t.Cleanup(cancel)
	r, err := http.NewRequestWithContext(ctx, "GET", v+"/events", nil)
	if err != nil {
		t.Fatal(err)
	}
	res, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { res.Body.Close() })
	events := make(chan string, 1000)
	go func() {
		defer close(events)
		in := bufio.NewScanner(res.Body)
		name := ""
		for in.Scan() {
			if n, ok := strings.CutPrefix(in.Text(), "event: "); ok {
				name = n
			}
			if d, ok := strings.CutPrefix(in.Text(), "data: "); ok {
				events <- name + " " + d
			}
		}
	}()
	return func(prefix, holds string) {
		t.Helper()
		for e := range events {
			if strings.HasPrefix(e, prefix) {
				if !strings.Contains(e, holds) {
					t.Errorf("%s lacks %s", e, holds)
				}
				return
			}
		}
		t.Fatalf("no event %s", prefix)
	}
}

func put(t *testing.T, v, name string, base any, text string) (int, object) {
	t.Helper()
	return call(t, "PUT", v+"/file?name="+name, object{"base": base, "text": text})
}

// An included file with mistakes, one that is gone, and a main file that doesn't parse and so names no others: in each case all
// files can be seen, written and mended, in the page and outside, and nothing in them is lost.
func TestIncludes(t *testing.T) {
	base, dir := studies(t, server.Options{})
	v := base + "/api/studies/velmora"
	main, other := filepath.Join(dir, "velmora", "study.yaml"), filepath.Join(dir, "velmora", "conductors.yaml")
	goodMain, _ := os.ReadFile(main)
	goodOther, _ := os.ReadFile(other)
	state := func(want string) {
		t.Helper()
		st := get(t, v)
		if st["state"] != want || len(st["files"].([]any)) != 2 {
			t.Fatalf("state %v, want %s; files %v", st["state"], want, st["files"])
		}
	}
	state("good")
	// The included file breaks outside, and is mended in the page.
	os.WriteFile(other, []byte("line types: [\n"), 0o666)
	state("stale")
	f := get(t, v+"/file?name=conductors.yaml")
	if code, out := put(t, v, "conductors.yaml", f["version"], string(goodOther)); code != 200 || out["state"] != "good" {
		t.Fatalf("%d %v", code, out)
	}
	// The main file doesn't parse; the other is written all the same.
	os.WriteFile(main, []byte("include: [conductors.yaml]\na: [\n"), 0o666)
	state("stale")
	f = get(t, v+"/file?name=conductors.yaml")
	if code, out := put(t, v, "conductors.yaml", f["version"], string(goodOther)+"# seen\n"); code != 200 || out["state"] != "stale" {
		t.Fatalf("%d %v", code, out)
	}
	os.WriteFile(main, goodMain, 0o666)
	state("good")
	// The included file is taken away, and comes back from its versions.
	os.Remove(other)
	state("stale")
	f = get(t, v+"/file?name=conductors.yaml")
	if f["version"] != "absent" || f["text"] != "" {
		t.Errorf("a file that is gone: %v", f)
	}
	list := get(t, v+"/history?name=conductors.yaml")["versions"].([]any)
	if code, out := call(t, "POST", v+"/restore", object{"name": "conductors.yaml", "number": list[0].(object)["number"], "base": "absent"}); code != 200 || out["state"] != "good" {
		t.Fatalf("restore: %d %v", code, out)
	}
	if b, _ := os.ReadFile(other); string(b) != string(goodOther)+"# seen\n" {
		t.Errorf("restored: %q", b)
	}
	if code, _ := call(t, "POST", v+"/restore", object{"name": "conductors.yaml", "number": list[0].(object)["number"], "base": "absent"}); code != 409 {
		t.Errorf("restored over a file that is there: %d", code)
	}
	if code, _ := call(t, "POST", v+"/restore", object{"name": "../x.yaml", "number": 1, "base": "absent"}); code != 404 {
		t.Errorf("restored outside: %d", code)
	}
	// Taken away and put back outside.
	os.Remove(other)
	state("stale")
	os.WriteFile(other, goodOther, 0o666)
	state("good")
}

// A study whose included file was never there opens, says so, and takes the file.
func TestMissingInclude(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "s")
	if err := os.CopyFS(dir, os.DirFS("../examples/velmora")); err != nil {
		t.Fatal(err)
	}
	text, _ := os.ReadFile(filepath.Join(dir, "conductors.yaml"))
	os.Remove(filepath.Join(dir, "conductors.yaml"))
	v := serve(t, server.Options{Path: dir}) + "/api/studies/s"
	if st := get(t, v); st["state"] != "broken" || len(st["diagnostics"].([]any)) == 0 {
		t.Fatalf("%v", st["state"])
	}
	if code, _ := call(t, "GET", v+"/home", nil); code != 503 {
		t.Errorf("home of what never computed: %d", code)
	}
	if code, out := put(t, v, "conductors.yaml", "absent", string(text)); code != 200 || out["state"] != "good" {
		t.Errorf("%d %v", code, out["state"])
	}
}

// Line ends stay as they are in the file: a browser's text field knows one kind.
func TestLineEnds(t *testing.T) {
	base, dir := studies(t, server.Options{})
	v := base + "/api/studies/first-study"
	file := filepath.Join(dir, "first-study", "study.yaml")
	text, _ := os.ReadFile(file)
	os.WriteFile(file, []byte(strings.ReplaceAll(string(text), "\n", "\r\n")), 0o666)
	f := get(t, v+"/file?name=study.yaml")
	mine := strings.Replace(string(text), "length: 2.0 mi", "length: 2.5 mi", 1)
	if code, out := put(t, v, "study.yaml", f["version"], mine); code != 200 || out["state"] != "good" {
		t.Fatalf("%d %v", code, out)
	}
	now, _ := os.ReadFile(file)
	if string(now) != strings.ReplaceAll(mine, "\n", "\r\n") {
		t.Errorf("line ends have changed: %q", now[:60])
	}
	st := get(t, v)
	if code, out := call(t, "POST", v+"/edit", object{"base": st["version"], "what": "length", "changes": []object{{"op": "set", "path": "lines / MAIN-P1 / length", "value": "2.6 mi"}}}); code != 200 {
		t.Fatalf("%d %v", code, out)
	}
	now, _ = os.ReadFile(file)
	if string(now) != strings.ReplaceAll(strings.Replace(mine, "2.5 mi", "2.6 mi", 1), "\n", "\r\n") {
		t.Error("an edit changed line ends")
	}
}

// Whoever writes is told right, though the server looks at the files all the time.
func TestBy(t *testing.T) {
	base, dir := studies(t, server.Options{Poll: time.Millisecond})
	v := base + "/api/studies/first-study"
	file := filepath.Join(dir, "first-study", "study.yaml")
	wait := listen(t, v)
	wait("hello", "version")
	text, _ := os.ReadFile(file)
	for i := range 4 {
		f := get(t, v+"/file?name=study.yaml")
		if code, _ := put(t, v, "study.yaml", f["version"], string(text)+strings.Repeat("# a\n", i+1)); code != 200 {
			t.Fatal(code)
		}
		wait("changed", `"by":"page"`)
		// In one step, as most editors do: half a file would be a change of its own.
		beside := filepath.Join(dir, "beside")
		if err := os.WriteFile(beside, append(text, strings.Repeat("# b\n", i+1)...), 0o666); err != nil {
			t.Fatal(err)
		}
		if err := os.Rename(beside, file); err != nil {
			t.Fatal(err)
		}
		wait("changed", `"by":"outside"`)
	}
	if code, _ := call(t, "POST", v+"/undo", object{}); code != 200 && code != 409 {
		t.Error(code)
	}
}

// An examination tells how far it is, and ends when the files change.
func TestDoubtEnds(t *testing.T) {
	base, _ := studies(t, server.Options{})
	v := base + "/api/studies/velmora"
	wait := listen(t, v)
	wait("hello", "version")
	if code, d := call(t, "POST", v+"/doubt", object{}); code != 200 || d["state"] != "running" {
		t.Fatalf("%d %v", code, d["state"])
	}
	wait("progress", `"what":"doubt"`)
	st := get(t, v)
	if code, _ := call(t, "POST", v+"/edit", object{"base": st["version"], "what": "length", "changes": []object{{"op": "set", "path": "lines / N1-N2 / length", "value": "1.9 mi"}}}); code != 200 {
		t.Fatal(code)
	}
	if d := get(t, v+"/doubt"); d["state"] != "none" {
		t.Errorf("of other files: %v", d["state"])
	}
}

// What is asked again is the same, bit for bit, and so is what another server says of the same files after edits.
func TestKept(t *testing.T) {
	base, dir := studies(t, server.Options{})
	v := base + "/api/studies/velmora"
	asked := []string{"/fault?at=N5&kind=lg:A&working=true&condition=" + url.QueryEscape(one), "/profile?to=N7&between=2&condition=" + url.QueryEscape(one),
		"/faults", "/flow?condition=" + url.QueryEscape(one), "/map?condition=" + url.QueryEscape(one), "/findings", "/places"}
	read := func(v, p string) string {
		t.Helper()
		res, err := http.Get(v + p)
		if err != nil {
			t.Fatal(err)
		}
		defer res.Body.Close()
		var b strings.Builder
		bufio.NewReader(res.Body).WriteTo(&b)
		if res.StatusCode != 200 {
			t.Fatalf("%s: %d %s", p, res.StatusCode, b.String())
		}
		return b.String()
	}
	for _, value := range []string{"1.9 mi", "2.2 mi"} {
		for _, p := range asked { // kept for the files before
			read(v, p)
		}
		st := get(t, v)
		if code, _ := call(t, "POST", v+"/edit", object{"base": st["version"], "what": "length", "changes": []object{{"op": "set", "path": "lines / N1-N2 / length", "value": value}}}); code != 200 {
			t.Fatal(code)
		}
	}
	fresh := serve(t, server.Options{Path: dir}) + "/api/studies/velmora"
	for _, p := range asked {
		one, two, other := read(v, p), read(v, p), read(fresh, p)
		if one != two {
			t.Errorf("%s: another answer the second time", p)
		}
		if one != other {
			t.Errorf("%s: another answer from another server", p)
		}
	}
}

// The map says of each thing what shape alone would: dead, open, phases; and folds laterals on request.
func TestMapItems(t *testing.T) {
	base, _ := studies(t, server.Options{})
	m := get(t, base+"/api/studies/first-study/map?condition=maximum")
	found := map[string]object{}
	for _, it := range m["items"].([]any) {
		it := it.(object)
		found[it["kind"].(string)+" "+it["name"].(string)] = it
	}
	if p := found["bus P3"]["phases"].([]any); len(p) != 1 || p[0] != "B" || len(found["line P1-P2"]["phases"].([]any)) != 3 {
		t.Errorf("phases: %v", found["bus P3"])
	}
	if found["breaker CB1"]["is_open"] != false || found["bus P1"]["is_dead"] != false || found["bus P1"]["is_open"] != nil || found["fuse F1"]["path"] != "fuses / F1" {
		t.Errorf("%v %v %v", found["breaker CB1"], found["bus P1"], found["fuse F1"])
	}
	m = get(t, base+"/api/studies/first-study/map?condition=maximum&fold=1")
	folds := m["folds"].([]any)
	if len(folds) != 1 || folds[0].(object)["at"] != "P3" {
		t.Fatalf("folds: %v", folds)
	}
	if m := get(t, base+"/api/studies/first-study/map?condition=maximum&fold=1&open=P3&open=P2"); len(m["folds"].([]any)) != 0 {
		t.Errorf("opened: %v", m["folds"])
	}
}
