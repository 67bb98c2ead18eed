package server_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"testing/fstest"
	"time"

	"feederwright/server"
)

// studies lays copies of the demonstrations out, and serves them.
func studies(t testing.TB, o server.Options) (base, dir string) {
	t.Helper()
	dir = t.TempDir()
	for _, name := range []string{"velmora", "first-study"} {
		if err := os.CopyFS(filepath.Join(dir, name), os.DirFS("../examples/"+name)); err != nil {
			t.Fatal(err)
		}
	}
	o.Path = dir
	return serve(t, o), dir
}

// serve serves what the options say until the test ends.
func serve(t testing.TB, o server.Options) (base string) {
	t.Helper()
	if o.Program == "" {
		o.Program = "test"
	}
	if o.Poll == 0 {
		o.Poll = 20 * time.Millisecond
	}
	s, err := server.New(o)
	if err != nil {
		t.Fatal(err)
	}
	h := httptest.NewServer(s)
	t.Cleanup(func() { s.Close(); h.Close() })
	return strings.Replace(h.URL, "127.0.0.1", "localhost", 1)
}

type object = map[string]any

// call makes a request and decodes its answer.
func call(t testing.TB, method, url string, in any) (int, object) {
	t.Helper()
	var body io.Reader
	if in != nil {
		b, err := json.Marshal(in)
		if err != nil {
			t.Fatal(err)
		}
		body = bytes.NewReader(b)
	}
	r, err := http.NewRequest(method, url, body)
	if err != nil {
		t.Fatal(err)
	}
	if in != nil {
		r.Header.Set("Content-Type", "application/json")
	}
	res, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	b, _ := io.ReadAll(res.Body)
	var out object
	if err := json.Unmarshal(b, &out); err != nil && len(b) > 0 && b[0] == '{' {
		t.Fatalf("%s %s: %v\n%s", method, url, err, b)
	}
	return res.StatusCode, out
}

func get(t testing.TB, url string) object {
	t.Helper()
	code, out := call(t, "GET", url, nil)
	if code != 200 {
		t.Fatalf("GET %s: %d %v", url, code, out)
	}
	return out
}

const one = "maximum, normal, no plant"

func TestReading(t *testing.T) {
	base, _ := studies(t, server.Options{})
	v := base + "/api/studies/velmora"
	st := get(t, v)
	if st["state"] != "good" || len(st["conditions"].([]any)) != 28 || st["length_unit"] != "mi" || len(st["files"].([]any)) != 2 {
		t.Errorf("study: %v", st)
	}
	// The demonstration's check value: 1679 A at N3 for lg:A, from two calculations apart from this one.
	f := get(t, v+"/fault?at=N3&kind=lg:A&working=true&condition="+url.QueryEscape(one))["faults"].([]any)[0].(object)
	if i := f["current_ampere"].(float64); i < 1678.5 || i > 1679.5 {
		t.Errorf("fault at N3: %g A", i)
	}
	if len(f["vantages"].([]any)) == 0 || len(f["working"].([]any)) == 0 {
		t.Error("the fault has no vantages or no working")
	}
	if rows := get(t, v+"/faults?condition="+url.QueryEscape(one))["rows"].([]any); len(rows) < 100 {
		t.Errorf("%d rows of faults", len(rows))
	}
	h := get(t, v+"/home")
	if h["tally"].(object)["fails"].(float64) != 2 || len(h["worst"].([]any)) == 0 || len(h["unproven"].([]any)) == 0 || len(h["assumptions"].([]any)) == 0 {
		t.Errorf("home: %v", h["tally"])
	}
	if n := len(get(t, v+"/findings")["findings"].([]any)); float64(n) != h["findings"].(float64) {
		t.Errorf("%d findings, home says %v", n, h["findings"])
	}
	p := get(t, v+"/places")
	if fmt.Sprint(p["ends"]) != "[N7 L1-end L2-end L3-end]" && !strings.Contains(fmt.Sprint(p["ends"]), "N7") {
		t.Errorf("ends: %v", p["ends"])
	}
	if n := len(get(t, v+"/profile?to=N7&between=2")["points"].([]any)); n < 20 {
		t.Errorf("%d points", n)
	}
	m := get(t, v+"/map")
	if !strings.Contains(m["svg"].(string), "<svg") || len(m["items"].([]any)) < 40 {
		t.Errorf("map: %d items", len(m["items"].([]any)))
	}
	for _, it := range m["items"].([]any) {
		it := it.(object)
		if it["kind"] == "line" {
			e := get(t, v+"/entry?path="+url.QueryEscape(it["path"].(string)))
			if e["table"] != "lines" || len(e["fields"].([]any)) < 3 {
				t.Errorf("entry of %v: %v", it["name"], e)
			}
		}
	}
	if n := len(get(t, v+"/duty")["devices"].([]any)); n < 20 {
		t.Errorf("%d device duties", n)
	}
	if n := len(get(t, v+"/flow?condition="+url.QueryEscape(one))["conditions"].([]any)); n != 1 {
		t.Errorf("%d states of service", n)
	}
	for path, kind := range map[string]string{"/faults.csv": "text/csv", "/faults.xlsx": "application/vnd.openxml", "/strip.svg?to=N7": "image/svg+xml"} {
		res, err := http.Get(v + path)
		if err != nil {
			t.Fatal(err)
		}
		b, _ := io.ReadAll(res.Body)
		res.Body.Close()
		if res.StatusCode != 200 || !strings.HasPrefix(res.Header.Get("Content-Type"), kind) || len(b) < 1000 {
			t.Errorf("%s: %d, %s, %d bytes", path, res.StatusCode, res.Header.Get("Content-Type"), len(b))
		}
	}
	for path, want := range map[string]int{"/fault?at=N99&kind=lg:A": 422, "/fault?at=N3&kind=zz": 422, "/fault?at=N3": 422, "/profile?to=N99": 422,
		"/fault?at=N3&kind=lg:A&resistance=-1+ohm": 422, "/fault?at=N3&kind=lg:A&resistance=4+A": 422, "/map?condition=never": 422, "/entry?path=lines+/+none": 404,
		"/file?name=..%2Fvelmora%2Fstudy.yaml": 404, "/file?name=%2Fetc%2Fpasswd": 404, "/past?name=study.yaml&number=999": 404, "/none": 404} {
		if code, out := call(t, "GET", v+path, nil); code != want {
			t.Errorf("GET %s: %d, want %d (%v)", path, code, want, out)
		}
	}
	if code, _ := call(t, "GET", base+"/api/studies/other", nil); code != 404 {
		t.Errorf("another study: %d", code)
	}
}

// An edit changes the bytes of one value; undo brings them back; mistakes are refused and told.
func TestEditing(t *testing.T) {
	base, dir := studies(t, server.Options{})
	v := base + "/api/studies/velmora"
	file := filepath.Join(dir, "velmora", "study.yaml")
	before, _ := os.ReadFile(file)
	current := func() float64 {
		return get(t, v+"/fault?at=N3&kind=3ph&condition="+url.QueryEscape(one))["faults"].([]any)[0].(object)["current_ampere"].(float64)
	}
	was := current()
	st := get(t, v)
	code, out := call(t, "POST", v+"/edit", object{"base": st["version"], "what": "length of N1-N2", "changes": []object{{"op": "set", "path": "lines / N1-N2 / length", "value": "2.0 mi"}}})
	if code != 200 || out["undo"] != "length of N1-N2" {
		t.Fatalf("edit: %d %v", code, out)
	}
	after, _ := os.ReadFile(file)
	if want := strings.Replace(string(before), "type: L336, length: 1.6 mi }", "type: L336, length: 2.0 mi }", 1); string(after) != want {
		t.Error("the edit changed more than the length")
	}
	if now := current(); !(now < was-50) {
		t.Errorf("a longer line: %g A, before %g A", now, was)
	}
	// From a version that is no longer: refused.
	if code, _ := call(t, "POST", v+"/edit", object{"base": st["version"], "what": "x", "changes": []object{{"op": "set", "path": "lines / N1-N2 / length", "value": "3 mi"}}}); code != 409 {
		t.Errorf("an edit of an old version: %d", code)
	}
	st = get(t, v)
	for _, c := range []object{{"op": "set", "path": "lines / N1-N2 / length", "value": "three"}, {"op": "set", "path": "lines / N1-N2 / to", "value": "N99"}, {"op": "set", "path": "nothing / N1 / x", "value": "1"}, {"op": "remove", "path": "buses / N2"}} {
		if code, out := call(t, "POST", v+"/edit", object{"base": st["version"], "what": "x", "changes": []object{c}}); code != 422 || out["detail"] == "" {
			t.Errorf("%v: %d %v", c, code, out)
		}
	}
	code, out = call(t, "POST", v+"/edit", object{"base": st["version"], "what": "rename", "changes": []object{{"op": "rename", "path": "buses / N3", "value": "POLE-3"}}})
	if code != 200 {
		t.Fatalf("rename: %d %v", code, out)
	}
	get(t, v+"/fault?at=POLE-3&kind=3ph&condition="+url.QueryEscape(one))
	for range 2 {
		if code, out := call(t, "POST", v+"/undo", object{}); code != 200 {
			t.Fatalf("undo: %d %v", code, out)
		}
	}
	if now, _ := os.ReadFile(file); string(now) != string(before) {
		t.Error("undo did not bring the file back")
	}
	if now := current(); now != was {
		t.Errorf("after undo %g A, before %g A", now, was)
	}
	if code, _ := call(t, "POST", v+"/undo", object{}); code != 409 {
		t.Errorf("undo of nothing: %d", code)
	}
	if code, _ := call(t, "POST", v+"/redo", object{}); code != 200 {
		t.Errorf("redo: %d", code)
	}
}

// A broken file opens, with the last good results and its mistakes; mended, all is well.
func TestBroken(t *testing.T) {
	base, dir := studies(t, server.Options{})
	v := base + "/api/studies/velmora"
	file := filepath.Join(dir, "velmora", "study.yaml")
	good, _ := os.ReadFile(file)
	f := get(t, v+"/file?name=study.yaml")
	broken := strings.Replace(f["text"].(string), "length: 1.6 mi", "length: 1.6", 1)
	if ds := checked(t, v, broken); len(ds) == 0 {
		t.Error("check finds nothing in a broken text")
	}
	if now, _ := os.ReadFile(file); string(now) != string(good) {
		t.Fatal("check wrote the file")
	}
	code, out := call(t, "PUT", v+"/file?name=study.yaml", object{"base": f["version"], "text": broken})
	if code != 200 || out["state"] != "stale" {
		t.Fatalf("a broken text: %d %v", code, out["state"])
	}
	d := out["diagnostics"].([]any)[0].(object)
	if d["line"].(float64) < 1 || d["problem"] == "" || d["file"] != "study.yaml" {
		t.Errorf("%v", d)
	}
	if h := get(t, v+"/home"); h["stale"] != true || h["findings"].(float64) == 0 {
		t.Errorf("home of a broken file: %v", h["stale"])
	}
	// What isn't even YAML.
	f = get(t, v+"/file?name=study.yaml")
	if code, out := call(t, "PUT", v+"/file?name=study.yaml", object{"base": f["version"], "text": "a: [\n"}); code != 200 || out["state"] != "stale" {
		t.Fatalf("no YAML: %d %v", code, out)
	}
	f = get(t, v+"/file?name=study.yaml")
	if code, out := call(t, "PUT", v+"/file?name=study.yaml", object{"base": f["version"], "text": string(good)}); code != 200 || out["state"] != "good" {
		t.Fatalf("mended: %d %v", code, out["state"])
	}
	if h := get(t, v+"/home"); h["stale"] != false {
		t.Error("still stale")
	}
	// And all versions can be had back.
	list := get(t, v+"/history?name=study.yaml")["versions"].([]any)
	if len(list) < 4 {
		t.Errorf("%d versions", len(list))
	}
	old := get(t, fmt.Sprintf("%s/past?name=study.yaml&number=%.0f", v, list[len(list)-1].(object)["number"].(float64)))
	if old["text"] != string(good) {
		t.Error("the first version is not the first text")
	}
}

func checked(t *testing.T, v, text string) []any {
	code, out := call(t, "POST", v+"/check", object{"file": "study.yaml", "text": text})
	if code != 200 {
		t.Fatalf("check: %d %v", code, out)
	}
	return out["diagnostics"].([]any)
}

// A change from outside is picked up and told; a write from before it is a conflict that shows three texts.
func TestOutside(t *testing.T) {
	base, dir := studies(t, server.Options{})
	v := base + "/api/studies/velmora"
	file := filepath.Join(dir, "velmora", "study.yaml")
	f := get(t, v+"/file?name=study.yaml")
	wait := listen(t, v)
	wait("hello", `"version"`)
	text := f["text"].(string)
	theirs := strings.Replace(text, "length: 1.3 mi", "length: 1.4 mi", 1)
	if err := os.WriteFile(file, []byte(theirs), 0o666); err != nil {
		t.Fatal(err)
	}
	wait("changed", `"by":"outside"`)
	wait("results", `"tally"`)
	mine := strings.Replace(text, "length: 5.2 mi", "length: 2.5 mi", 1)
	code, out := call(t, "PUT", v+"/file?name=study.yaml", object{"base": f["version"], "text": mine})
	if code != 409 {
		t.Fatalf("a write from before: %d %v", code, out)
	}
	c := out["errors"].([]any)[0].(object)["value"].(object)
	if c["base"] != text || c["mine"] != mine || c["theirs"] != theirs || c["clean"] != true || !strings.Contains(c["merged"].(string), "1.4 mi") || !strings.Contains(c["merged"].(string), "2.5 mi") {
		t.Error("the conflict does not show three texts")
	}
	if now, _ := os.ReadFile(file); string(now) != theirs {
		t.Error("a refused write changed the file")
	}
	if code, _ := call(t, "PUT", v+"/file?name=study.yaml", object{"base": c["version"], "text": c["merged"]}); code != 200 {
		t.Errorf("the choice: %d", code)
	}
	wait("changed", `"by":"page"`)
}

func TestAccepting(t *testing.T) {
	base, dir := studies(t, server.Options{})
	v := base + "/api/studies/velmora"
	worst := get(t, v+"/home")["worst"].([]any)[0].(object)["id"]
	if code, out := call(t, "POST", v+"/accept", object{"finding": worst, "reason": "replaced next year", "by": "QX"}); code != 200 {
		t.Fatalf("accept: %d %v", code, out)
	}
	if text, _ := os.ReadFile(filepath.Join(dir, "velmora", "study.yaml")); !strings.Contains(string(text), "replaced next year") {
		t.Error("the acceptance is not in the file")
	}
	if now := get(t, v+"/home")["worst"].([]any)[0].(object)["id"]; now == worst {
		t.Error("an accepted finding is still the worst")
	}
	if code, _ := call(t, "POST", v+"/accept", object{"finding": worst, "reason": "", "by": "QX"}); code != 422 {
		t.Errorf("without a reason: %d", code)
	}
	if code, _ := call(t, "POST", v+"/accept", object{"finding": "no/such", "reason": "x", "by": "QX"}); code != 404 {
		t.Errorf("no such finding: %d", code)
	}
	if code, out := call(t, "POST", v+"/withdraw", object{"finding": worst}); code != 200 {
		t.Errorf("withdraw: %d %v", code, out)
	}
	if now := get(t, v+"/home")["worst"].([]any)[0].(object)["id"]; now != worst {
		t.Error("it is not open again")
	}
}

// Which datum matters is begun on request, and known after a while.
func TestDoubt(t *testing.T) {
	base, _ := studies(t, server.Options{})
	v := base + "/api/studies/first-study"
	if d := get(t, v+"/doubt"); d["state"] != "none" {
		t.Errorf("before it is asked: %v", d["state"])
	}
	if code, d := call(t, "POST", v+"/doubt", object{}); code != 200 || d["state"] == "none" {
		t.Fatalf("%d %v", code, d)
	}
	for range 200 {
		d := get(t, v+"/doubt")
		if d["state"] == "done" {
			if len(d["data"].([]any)) == 0 || d["runs"].(float64) < 2 {
				t.Errorf("%v", d)
			}
			return
		}
		time.Sleep(50 * time.Millisecond)
	}
	t.Error("it never came to an end")
}

func TestSecurity(t *testing.T) {
	page := fstest.MapFS{"index.html": {Data: []byte("<!doctype html><title>x</title>")}, "assets/a-1.js": {Data: []byte("1")}}
	base, dir := studies(t, server.Options{Page: page})
	v := base + "/api/studies/velmora"
	secret := filepath.Join(dir, "secret.yaml")
	if err := os.WriteFile(secret, []byte("secret: 1\n"), 0o666); err != nil {
		t.Fatal(err)
	}
	try := func(method, url string, body string, change func(*http.Request)) *http.Response {
		t.Helper()
		r, err := http.NewRequest(method, url, strings.NewReader(body))
		if err != nil {
			t.Fatal(err)
		}
		change(r)
		res, err := http.DefaultTransport.RoundTrip(r)
		if err != nil {
			t.Fatal(err)
		}
		res.Body.Close()
		return res
	}
	none := func(*http.Request) {}
	if res := try("GET", base+"/api/studies", "", func(r *http.Request) { r.Host = "evil.example" }); res.StatusCode != 421 {
		t.Errorf("another host name: %d", res.StatusCode)
	}
	for _, change := range []func(*http.Request){
		func(r *http.Request) { r.Header.Set("Origin", "http://evil.example") },
		func(r *http.Request) { r.Header.Set("Sec-Fetch-Site", "cross-site") },
	} {
		if res := try("POST", v+"/undo", "{}", change); res.StatusCode != 403 {
			t.Errorf("a write from elsewhere: %d", res.StatusCode)
		}
	}
	res := try("GET", base+"/", "", none)
	csp := res.Header.Get("Content-Security-Policy")
	if res.StatusCode != 200 || !strings.Contains(csp, "script-src 'self';") || strings.Contains(csp, "unsafe-eval") || res.Header.Get("X-Content-Type-Options") != "nosniff" {
		t.Errorf("page: %d %v", res.StatusCode, res.Header)
	}
	if res := try("GET", base+"/strip/N7", "", none); res.StatusCode != 200 {
		t.Errorf("an address within the page: %d", res.StatusCode)
	}
	if res := try("GET", base+"/assets/a-1.js", "", none); !strings.Contains(res.Header.Get("Cache-Control"), "immutable") {
		t.Errorf("asset: %v", res.Header)
	}
	if res := try("GET", base+"/assets/none.js", "", none); res.StatusCode != 404 {
		t.Errorf("an asset that isn't: %d", res.StatusCode)
	}
	if res := try("PUT", v+"/file?name=study.yaml", `{"base":"x","text":"`+strings.Repeat("a", 9<<20)+`"}`, func(r *http.Request) { r.Header.Set("Content-Type", "application/json") }); res.StatusCode != 413 {
		t.Errorf("too large a body: %d", res.StatusCode)
	}
	// A study that includes what lies outside, by name or by link, does not get it.
	if err := os.Symlink("../secret.yaml", filepath.Join(dir, "velmora", "link.yaml")); err != nil {
		t.Fatal(err)
	}
	f := get(t, v+"/file?name=study.yaml")
	for _, include := range []string{"../secret.yaml", "link.yaml", secret} {
		text := strings.Replace(f["text"].(string), "include: [conductors.yaml]", "include: [conductors.yaml, "+include+"]", 1)
		if ds := checked(t, v, text); len(ds) == 0 || strings.Contains(fmt.Sprint(ds), "secret: 1") {
			t.Errorf("include %s: %v", include, ds)
		}
		if code, _ := call(t, "GET", v+"/file?name="+url.QueryEscape(include), nil); code != 404 {
			t.Errorf("file %s: %d", include, code)
		}
	}
	if res := try("GET", base+"/api/studies/..%2f..%2fetc", "", none); res.StatusCode != 404 {
		t.Errorf("a path as a study: %d", res.StatusCode)
	}
}

func TestToken(t *testing.T) {
	base, _ := studies(t, server.Options{Token: "s3cret", Page: fstest.MapFS{"index.html": {Data: []byte("x")}}})
	c := &http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	res, err := c.Get(base + "/api/studies")
	if err != nil || res.StatusCode != 401 {
		t.Fatalf("without: %v %v", res.StatusCode, err)
	}
	if res, _ = c.Get(base + "/?token=wrong"); res.StatusCode != 401 {
		t.Errorf("wrong: %d", res.StatusCode)
	}
	res, _ = c.Get(base + "/?token=s3cret")
	if res.StatusCode != 303 || len(res.Cookies()) != 1 || !res.Cookies()[0].HttpOnly || res.Header.Get("Location") != "/" {
		t.Fatalf("right: %d %v", res.StatusCode, res.Header)
	}
	r, _ := http.NewRequest("GET", base+"/api/studies", nil)
	r.AddCookie(res.Cookies()[0])
	if res, _ := c.Do(r); res.StatusCode != 200 {
		t.Errorf("with the cookie: %d", res.StatusCode)
	}
	r, _ = http.NewRequest("GET", base+"/api/studies", nil)
	r.Header.Set("Authorization", "Bearer s3cret")
	if res, _ := c.Do(r); res.StatusCode != 200 {
		t.Errorf("with the header: %d", res.StatusCode)
	}
}

// Fifty readers at once get one answer, while somebody edits.
func TestManyReaders(t *testing.T) {
	base, _ := studies(t, server.Options{})
	v := base + "/api/studies/velmora"
	var wg sync.WaitGroup
	for i := range 50 {
		wg.Go(func() {
			for _, p := range []string{"/home", "/fault?at=N5&kind=lg:A&condition=" + url.QueryEscape(one), "/profile?to=N7", "/places", "/map"} {
				res, err := http.Get(v + p)
				if err != nil {
					t.Error(err)
					return
				}
				io.Copy(io.Discard, res.Body)
				res.Body.Close()
				if res.StatusCode != 200 {
					t.Errorf("reader %d, %s: %d", i, p, res.StatusCode)
				}
			}
		})
	}
	for i := range 3 {
		st := get(t, v)
		call(t, "POST", v+"/edit", object{"base": st["version"], "what": "length", "changes": []object{{"op": "set", "path": "lines / N1-N2 / length", "value": fmt.Sprintf("1.%d mi", 7+i)}}})
	}
	wg.Wait()
}

// What is committed is what the program serves.
func TestOpenAPI(t *testing.T) {
	s, err := server.New(server.Options{Path: "../examples/first-study", Program: "test"})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	now, err := s.OpenAPI()
	if err != nil {
		t.Fatal(err)
	}
	var pretty bytes.Buffer
	if err := json.Indent(&pretty, now, "", " "); err != nil {
		t.Fatal(err)
	}
	pretty.WriteByte('\n')
	const file = "openapi.json"
	if os.Getenv("UPDATE") != "" {
		if err := os.WriteFile(file, pretty.Bytes(), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	if old, _ := os.ReadFile(file); !bytes.Equal(old, pretty.Bytes()) {
		t.Error("server/openapi.json is not what the program serves: UPDATE=1 go test ./server -run OpenAPI writes it")
	}
	if !strings.Contains(pretty.String(), `"openapi": "3.1`) {
		t.Error("not OpenAPI 3.1")
	}
}

// An edit, and the faults at every place after it: what a person waits for.
func BenchmarkEdit(b *testing.B) {
	base, _ := studies(b, server.Options{})
	v := base + "/api/studies/velmora"
	n := 0
	for b.Loop() {
		n++
		code, st := call(b, "GET", v, nil)
		if code != 200 {
			b.Fatal(code)
		}
		call(b, "POST", v+"/edit", object{"base": st["version"], "what": "length", "changes": []object{{"op": "set", "path": "lines / N1-N2 / length", "value": fmt.Sprintf("1.%d mi", 6+n%3)}}})
		get(b, v+"/profile?to=N7&between=4&condition="+url.QueryEscape(one))
	}
}
