package study

import (
	"bytes"
	"os"
	"reflect"
	"regexp"
	"strings"
	"testing"
)

const referencePage = "../docs/study-reference.md"

func TestReferencePage(t *testing.T) {
	got := Reference()
	if *update {
		if err := os.WriteFile(referencePage, got, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(referencePage)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got, want) {
		t.Errorf("%s is not what the types say; go generate ./study writes it anew", referencePage)
	}
}

func TestReferenceIsWhole(t *testing.T) {
	page := string(Reference())
	// Every key of every type is on the page.
	p := make(plans)
	w := walkTypes{plans: p, see: func(f *field) {
		if !strings.Contains(page, "| `"+f.key+"` |") && !strings.Contains(page, "## "+f.key+"\n") {
			t.Errorf("%q is not described", f.key)
		}
		if f.doc == "" {
			t.Errorf("%q has no meaning", f.key)
		}
	}}
	w.structure(reflect.TypeFor[Document]())
	if w.seen < 150 {
		t.Errorf("only %d keys seen", w.seen)
	}
	// Every link leads somewhere on the page.
	links := regexp.MustCompile(`\]\(#([^)]*)\)`).FindAllStringSubmatch(page, -1)
	if len(links) < 50 {
		t.Errorf("only %d links", len(links))
	}
	heads := make(map[string]bool)
	for _, m := range regexp.MustCompile(`(?m)^#+ (.*)$`).FindAllStringSubmatch(page, -1) {
		heads[anchor(m[1])] = true
	}
	for _, m := range regexp.MustCompile(`<a id="([^"]*)">`).FindAllStringSubmatch(page, -1) {
		if heads[m[1]] {
			t.Errorf("two places are called %q", m[1])
		}
		heads[m[1]] = true
	}
	for _, l := range links {
		if !heads[l[1]] {
			t.Errorf("nothing is at #%s", l[1])
		}
	}
	// The study on the page is one that is read.
	example := page[strings.Index(page, "```yaml\n")+len("```yaml\n"):]
	example = example[:strings.Index(example, "```")]
	mustRead(t, example)
}

// walkTypes calls see for every key of the format.
type walkTypes struct {
	plans plans
	done  map[reflect.Type]bool
	seen  int
	see   func(*field)
}

func (w *walkTypes) structure(t reflect.Type) {
	if w.done[t] {
		return
	}
	if w.done == nil {
		w.done = make(map[reflect.Type]bool)
	}
	w.done[t] = true
	p := w.plans.of(t)
	for i := range p.fields {
		f := &p.fields[i]
		w.seen++
		w.see(f)
		switch f.role {
		case groupRole:
			w.structure(f.typ.Elem())
		case tableRole:
			item := itemType(f.typ)
			if len(f.kinds) > 1 {
				item = itemType(item)
			}
			w.structure(item)
		}
	}
}
