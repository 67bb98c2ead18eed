package tables

import (
	"fmt"
	"slices"
	"strings"

	"feederwright/quantity"
	"feederwright/study"
)

// refer looks up what a cell refers to and returns what stands for it in the
// study, and whether that is told to be wrong; "" where there is no such thing.
func (r *reader) refer(in *input, row, i int, text string) (meant string, silent bool) {
	c := in.columns[i]
	kinds := strings.Split(c.refers, "|")
	for _, kind := range kinds {
		if other, bad := r.bad[kind][text]; bad {
			return other, true
		}
		if kind == "line" && r.known[kind][text] && r.inRuns(text) {
			r.complain(study.Error, in, row, i, r.object(in, row, c), fmt.Sprintf("%q is a cable of several runs", text), "each run is a line of its own in the study, named "+runName(text, 1)+" and so on",
				"name one run; what stands before all of them needs a bus between")
			return "", true
		}
	}
	var files, names []string
	kinds = slices.DeleteFunc(kinds, func(kind string) bool { return len(filesOf(kind)) == 0 })
	for _, kind := range kinds {
		if r.known[kind][text] {
			return text, false
		}
	}
	for _, kind := range kinds {
		if !r.hasNames(kind) {
			return "", true
		}
		files = append(files, filesOf(kind)...)
		names = append(names, r.good[kind]...)
	}
	problem := fmt.Sprintf("there is no %s %q in %s", listed(kinds, "or"), text, listed(files, "or"))
	fix := "add it to " + listed(files, "or")
	near, ok := "", false
	if len(names) <= r.compared {
		r.compared -= len(names)
		near, ok = quantity.Nearest(text, names)
	}
	switch {
	case ok:
		problem += fmt.Sprintf("; did you mean %q?", near)
		fix = "write " + near
	case 0 < len(names) && len(names) <= 12:
		fix = "write " + listed(names, "or") + ", or " + fix
	}
	r.complain(study.Error, in, row, i, r.object(in, row, c), problem, "", fix)
	return "", true
}

// hasNames says whether the names of a kind could be read: where a table that
// has them is refused, what refers to it is not blamed.
func (r *reader) hasNames(kind string) bool {
	read := 0
	for _, in := range r.sheets {
		if in.table.kind == kind {
			read++
			if in.find("name") < 0 {
				return false
			}
		}
	}
	there := 0
	for _, name := range r.im.Tables {
		if slices.Contains(filesOf(kind), strings.ToLower(name)) {
			there++
		}
	}
	return read == there && (read > 0 || kind != "bus")
}

// filesOf are the tables that have rows of a kind.
func filesOf(kind string) []string {
	var files []string
	for _, t := range all {
		if t.kind == kind {
			files = append(files, t.file)
		}
	}
	return files
}

// inRuns says whether a name is that of a cable with several runs.
func (r *reader) inRuns(name string) bool {
	for _, in := range r.sheets {
		if !in.table.cables || in.find("runs") < 0 {
			continue
		}
		for _, row := range in.data() {
			if in.field(row, in.find("name")).text == name {
				n, ok := readRuns(in.field(row, in.find("runs")).text)
				return ok && n > 1
			}
		}
	}
	return false
}
