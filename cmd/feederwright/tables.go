package main

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"feederwright/internal/atomicfile"
	"feederwright/quantity"
	"feederwright/study"
	"feederwright/tables"
)

// newJSON is the output of new --format json. Keys only grow.
type newJSON struct {
	Folder   string          `json:"folder"`   // what was made; "" where nothing was
	Files    []string        `json:"files"`    // in it
	Read     []string        `json:"read"`     // tables that were read
	Ignored  []tables.Cell   `json:"ignored"`  // headings of columns that were not
	Mistakes tables.Mistakes `json:"mistakes"` // in the tables
	Left     []tables.Left   `json:"left"`     // what tables don't hold
}

func emptyNewJSON() newJSON {
	return newJSON{Files: []string{}, Read: []string{}, Ignored: []tables.Cell{}, Mistakes: tables.Mistakes{}, Left: []tables.Left{}}
}

// newTables writes the templates of tables into a new folder.
func newTables(dir, format string, stdout io.Writer) error {
	files := tables.Templates()
	if err := makeFolder(dir, files); err != nil {
		return err
	}
	if format == "json" {
		return writeJSON(stdout, made(emptyNewJSON(), dir, files))
	}
	_, err := fmt.Fprintf(stdout, "wrote %s in %s, and a README.txt\nnext: fill them in, then feederwright new my-study --from %s\n", plural(len(files)-1, "table"), dir, dir)
	return err
}

func made(out newJSON, dir string, files []tables.File) newJSON {
	out.Folder = dir
	for _, f := range files {
		out.Files = append(out.Files, f.Name)
	}
	return out
}

// newFromTables makes a study of a folder of tables. Where they have mistakes
// it writes none, and tells all of them.
func newFromTables(c *cobra.Command, dir, from, format string, head tables.Head) error {
	if err := isFolder(from); err != nil {
		return err
	}
	if head.Frequency != "" {
		var f quantity.Frequency
		if err := f.UnmarshalText([]byte(head.Frequency)); err != nil {
			return fmt.Errorf("--frequency: %w", err)
		}
	}
	if head.Title == "" && !hasTable(from, "study.csv") {
		head.Title = filepath.Base(filepath.Clean(dir))
	}
	root, err := os.OpenRoot(from) // as with a study: what a link leads out of the folder to is no part of it
	if err != nil {
		return err
	}
	defer root.Close()
	im, mistakes := tables.Read(root.FS(), head)
	out := emptyNewJSON()
	out.Read = append(out.Read, im.Tables...)
	out.Ignored = append(out.Ignored, im.Ignored...)
	out.Mistakes = append(out.Mistakes, mistakes...)
	stdout, stderr := c.OutOrStdout(), c.ErrOrStderr()
	if mistakes.Errors() > 0 {
		if format == "json" {
			if err := writeJSON(stdout, out); err != nil {
				return err
			}
			return errSaid
		}
		for _, m := range mistakes {
			fmt.Fprintln(stderr, m.Text())
		}
		fmt.Fprintf(stderr, "feederwright: %s: %s. Nothing was written.\n", from, countMistakes(mistakes))
		return errSaid
	}
	schema, err := study.Schema()
	if err != nil {
		return err
	}
	files := []tables.File{}
	for _, f := range im.Files {
		files = append(files, tables.File{Name: f.Name, Text: f.Text})
	}
	files = append(files, tables.File{Name: "study.schema.json", Text: schema})
	if err := makeFolder(dir, files); err != nil {
		return err
	}
	if format == "json" {
		return writeJSON(stdout, made(out, dir, files))
	}
	for _, m := range mistakes {
		fmt.Fprintln(stderr, m.Text())
	}
	for _, i := range im.Ignored {
		fmt.Fprintf(stderr, "%s: not read: %s\n", i, i.Text)
	}
	fmt.Fprintf(stdout, "wrote %s from %s (%s)\n", filepath.Join(dir, tables.MainFile), from, contents(im.Study))
	if len(mistakes) > 0 {
		fmt.Fprintf(stdout, "%s; see above\n", countMistakes(mistakes))
	}
	_, err = fmt.Fprintf(stdout, "next: feederwright check %s\n", dir)
	return err
}

// contents counts what a study made of tables has.
func contents(doc *study.Document) string {
	return strings.Join([]string{
		plural(len(doc.Buses.Entries), "bus"), plural(len(doc.Supply.Entries), "infeed"), plural(len(doc.Transformers.Entries), "transformer"),
		plural(len(doc.Lines.Entries), "line"), plural(len(doc.Loads.Entries), "load"),
	}, ", ")
}

// newTablesFrom writes a study as tables.
func newTablesFrom(dir, from, format string, stdout, stderr io.Writer) error {
	doc, _, _, err := load(from, stderr)
	if err != nil {
		return err
	}
	files, left := tables.Write(doc)
	if err := makeFolder(dir, files); err != nil {
		return err
	}
	if format == "json" {
		out := emptyNewJSON()
		out.Left = append(out.Left, left...)
		return writeJSON(stdout, made(out, dir, files))
	}
	fmt.Fprintf(stdout, "wrote %s in %s:\n", plural(len(files), "table"), dir)
	for _, f := range files {
		fmt.Fprintf(stdout, "  %s\n", f.Name)
	}
	if len(left) == 0 {
		_, err := fmt.Fprintln(stdout, "The tables hold the whole study but for its comments.")
		return err
	}
	fmt.Fprintf(stdout, "\nNot in the tables (%d):\n", len(left))
	for i := 0; i < len(left); {
		// One line for things of one kind.
		kind := left[i].Kind
		var names []string
		for ; i < len(left) && left[i].Kind == kind; i++ {
			name := left[i].Name
			if left[i].Part != "" {
				name = strings.TrimSpace(name + " (" + left[i].Part + ")")
			}
			if name != "" {
				names = append(names, name)
			}
		}
		text := kind
		if len(names) > 0 {
			text += ": " + strings.Join(names, ", ")
		}
		fmt.Fprint(stdout, fold(text, "  ", lineWidth))
	}
	_, err = fmt.Fprintln(stdout, "Comments and the order of keys are not in them either.")
	return err
}

func countMistakes(ms tables.Mistakes) string {
	e := ms.Errors()
	return fmt.Sprintf("%s, %s", plural(e, "error"), plural(len(ms)-e, "warning"))
}

func isFolder(name string) error {
	info, err := os.Stat(name)
	if err == nil && !info.IsDir() {
		err = fmt.Errorf("%s is not a folder: give the folder with the tables", name)
	}
	return err
}

func hasTable(dir, name string) bool {
	list, err := os.ReadDir(dir)
	if err != nil {
		return false
	}
	for _, e := range list {
		if strings.EqualFold(e.Name(), name) {
			return true
		}
	}
	return false
}

// makeFolder makes a folder with files in it, whole or not at all: it fills
// one beside it and renames that. The folder may exist if it is empty.
func makeFolder(dir string, files []tables.File) (err error) {
	dir = filepath.Clean(dir)
	list, err := os.ReadDir(dir)
	there := err == nil
	switch {
	case err == nil && len(list) > 0:
		return fmt.Errorf("%s has something in it already; nothing was written", dir)
	case err != nil && !errors.Is(err, fs.ErrNotExist):
		return err
	}
	if info, err := os.Lstat(dir); err == nil && !info.IsDir() {
		return fmt.Errorf("%s is a link; give the name of a new folder", dir)
	}
	if dir == "." || dir == string(filepath.Separator) {
		return fmt.Errorf("%s is no new folder; give the name of one", dir)
	}
	if err := os.MkdirAll(filepath.Dir(dir), 0o755); err != nil {
		return err
	}
	part := fmt.Sprintf("%s.part%d", dir, os.Getpid())
	if err := os.Mkdir(part, 0o755); err != nil {
		return err
	}
	defer func() {
		if err != nil {
			os.RemoveAll(part)
		}
	}()
	for _, f := range files {
		if err := atomicfile.Write(filepath.Join(part, f.Name), f.Text); err != nil {
			return err
		}
	}
	if there { // empty: renaming over it does not work on every system
		if err := os.Remove(dir); err != nil {
			return err
		}
	}
	return os.Rename(part, dir)
}
