package main

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"

	"github.com/spf13/cobra"

	"feederwright/dossier"
	"feederwright/doubt"
	"feederwright/evidence"
	"feederwright/review"
	"feederwright/study"
)

// dossierFormats are the values of --formats of dossier.
var dossierFormats = []string{"html", "pdf", "xlsx"}

type dossierOptions struct {
	dir, paper, condition, issued, date, format string
	formats                                     []string
	doubt                                       bool
}

func newDossier() *cobra.Command {
	var o dossierOptions
	c := &cobra.Command{
		Use:   "dossier STUDY -o DIR",
		Short: "Write the report set of a study: HTML, PDF and XLSX",
		Long: `Dossier writes a folder with what a study comes to, to be read, printed, checked
and signed: what is assumed and missing, the findings, conditions, supply, fault
currents, what relays see, workings, plant, the evidence for the methods, sources,
cautions, the limits of the models, and a block for signatures.

It is marked DRAFT until --issued names an issue. The folder is written whole or
not at all. A folder that is there already is replaced only if it is a dossier
that this command wrote, unchanged since, and not issued.

STUDY is a study file, or a folder with a study.yaml.`,
		Example: `  feederwright dossier examples/velmora -o velmora-dossier
  feederwright dossier my-study -o issue-a --issued "A" --paper letter --formats pdf,xlsx`,
		Args: exactly(1, "a study: a study file, or a folder with a study.yaml"),
		RunE: func(c *cobra.Command, args []string) error {
			return runDossier(args[0], o, c.OutOrStdout(), c.ErrOrStderr())
		},
	}
	addFormat(c, &o.format)
	f := c.Flags()
	f.StringVarP(&o.dir, "output", "o", "", "folder to write")
	f.StringVar(&o.paper, "paper", "a4", "paper: a4 or letter")
	f.StringSliceVar(&o.formats, "formats", dossierFormats, "what to write: html, pdf, xlsx")
	f.StringVar(&o.condition, "condition", "", "condition or parts of its name (default: all)")
	f.StringVar(&o.issued, "issued", "", "name of the issue, as A or 1; without it the dossier is a draft")
	f.StringVar(&o.date, "date", "", "date on the dossier, year-month-day (default: today)")
	f.BoolVar(&o.doubt, "doubt", false, "add which datum matters, as feederwright doubt; takes longer")
	return c
}

func (o *dossierOptions) check() (dossier.Paper, error) {
	var paper dossier.Paper
	if err := checkFormat(o.format); err != nil {
		return paper, err
	}
	if o.dir == "" {
		return paper, fmt.Errorf("dossier wants -o and the folder to write")
	}
	found := slices.IndexFunc(dossier.Papers, func(p dossier.Paper) bool { return strings.EqualFold(p.Name, o.paper) })
	if found < 0 {
		return paper, fmt.Errorf("--paper %s: want a4 or letter", o.paper)
	}
	if len(o.formats) == 0 {
		return paper, fmt.Errorf("--formats: want one or more of %s", strings.Join(dossierFormats, ", "))
	}
	for _, f := range o.formats {
		if !slices.Contains(dossierFormats, f) {
			return paper, fmt.Errorf("--formats %s: want one or more of %s", f, strings.Join(dossierFormats, ", "))
		}
	}
	if o.date == "" {
		o.date = time.Now().Format(time.DateOnly)
	} else if _, err := time.Parse(time.DateOnly, o.date); err != nil {
		return paper, fmt.Errorf("--date %s: want year-month-day, as 2026-11-25", o.date)
	}
	if o.issued = strings.TrimSpace(o.issued); len([]rune(o.issued)) > 20 {
		return paper, fmt.Errorf("--issued %s: want at most 20 characters, as it stands on every page", o.issued)
	}
	return dossier.Papers[found], nil
}

// dossierJSON is the output of dossier --format json, and with the files alone
// the list that lies in the folder. Keys only grow.
type dossierJSON struct {
	Dossier int               `json:"feederwright_dossier"` // version of the list
	Study   string            `json:"study"`
	Hash    string            `json:"study_hash"`
	Date    string            `json:"date"`
	Issue   string            `json:"issue"`
	Files   []dossierFileJSON `json:"files"`
}

type dossierFileJSON struct {
	Name   string `json:"name"`
	Path   string `json:"path,omitempty"`
	Bytes  int    `json:"bytes"`
	SHA256 string `json:"sha256"`
}

func runDossier(path string, o dossierOptions, stdout, stderr io.Writer) error {
	paper, err := o.check()
	if err != nil {
		return err
	}
	if err := replaceable(o.dir); err != nil {
		return err
	}
	// The outside checks run beside the reading and the computing.
	var outcomes []evidence.Outcome
	var wait sync.WaitGroup
	wait.Go(func() { outcomes = evidence.Verify(evidence.Cases()) })
	defer wait.Wait()
	doc, states, diags, err := load(path, stderr)
	if err != nil {
		return err
	}
	if o.condition != "" {
		if states, err = study.Select(states, o.condition); err != nil {
			return err
		}
	}
	report, err := review.Open(doc, states)
	if err != nil {
		return err
	}
	if err := report.Judge(); err != nil {
		return err
	}
	wait.Wait()
	in := dossier.Input{Doc: doc, States: states, Report: report, Warnings: diags, Evidence: evidenceOf(outcomes),
		Hash: study.Hash(doc), Date: o.date, Program: program, Issue: o.issued}
	if o.doubt {
		if in.Doubt, err = doubt.Examine(doc, states, doubt.Options{}); err != nil {
			return err
		}
	}
	book, err := dossier.Build(&in, dossier.Chapters())
	if err != nil {
		return err
	}
	files := map[string][]byte{}
	for _, f := range o.formats {
		var data []byte
		switch f {
		case "html":
			data = dossier.HTML(book, paper)
		case "pdf":
			data, err = dossier.PDF(book, paper)
		case "xlsx":
			data, err = dossier.XLSX(book)
		}
		if err != nil {
			return err
		}
		files["dossier."+f] = data
	}
	list := dossierJSON{Dossier: 1, Study: doc.Title.V, Hash: in.Hash, Date: o.date, Issue: o.issued}
	for _, f := range dossierFormats {
		if data, ok := files["dossier."+f]; ok {
			sum := sha256.Sum256(data)
			list.Files = append(list.Files, dossierFileJSON{Name: "dossier." + f, Bytes: len(data), SHA256: hex.EncodeToString(sum[:])})
		}
	}
	manifest, err := json.MarshalIndent(list, "", "  ")
	if err != nil {
		return err
	}
	files[manifestName] = append(manifest, '\n')
	if err := replaceFolder(o.dir, files); err != nil {
		return err
	}
	for i := range list.Files {
		list.Files[i].Path = filepath.Join(o.dir, list.Files[i].Name)
	}
	if o.format == "json" {
		return writeJSON(stdout, list)
	}
	state := "DRAFT"
	if o.issued != "" {
		state = "issue " + o.issued
	}
	fmt.Fprintf(stdout, "%s: dossier, %s, %s\n", doc.Title.V, state, plural(len(states), "condition"))
	for _, f := range list.Files {
		fmt.Fprintf(stdout, "  %s  %d kB\n", f.Path, (f.Bytes+999)/1000)
	}
	return nil
}

// program is what outputs name as their maker.
const program = "feederwright"

func evidenceOf(outcomes []evidence.Outcome) dossier.Evidence {
	var ev dossier.Evidence
	for _, o := range outcomes {
		c := dossier.Check{ID: o.Case.ID, Title: o.Case.Title, Method: o.Case.Method, Source: o.Case.Source, Label: string(o.Case.Label),
			Publication: o.Case.Publication, Values: len(o.Values), Holds: o.Holds()}
		for _, v := range o.Values {
			c.Share = max(c.Share, share(v))
		}
		ev.Checks = append(ev.Checks, c)
	}
	for _, g := range evidence.Gaps {
		ev.Gaps = append(ev.Gaps, dossier.Gap(g))
	}
	return ev
}

// manifestName is the file by which a folder is known as a dossier.
const manifestName = "dossier.json"

// replaceable tells whether a folder may be written: it is not there, it is
// empty, or it is a dossier of ours that nobody has touched or issued.
func replaceable(dir string) error {
	info, err := os.Stat(dir)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil
	case err != nil:
		return err
	case !info.IsDir():
		return fmt.Errorf("%s is a file; give a folder to write the dossier to", dir)
	}
	entries, err := os.ReadDir(dir)
	if err != nil {
		return err
	}
	if len(entries) == 0 {
		return nil
	}
	keep := func(why string) error {
		return fmt.Errorf("%s is left as it is: %s; give another folder", dir, why)
	}
	data, err := os.ReadFile(filepath.Join(dir, manifestName))
	if err != nil {
		return keep("it is not empty, and not a dossier")
	}
	var list dossierJSON
	if err := json.Unmarshal(data, &list); err != nil || list.Dossier != 1 {
		return keep("its " + manifestName + " is not that of a dossier")
	}
	if list.Issue != "" {
		return keep(fmt.Sprintf("it holds issue %s", list.Issue))
	}
	known := map[string]string{}
	for _, f := range list.Files {
		known[f.Name] = f.SHA256
	}
	for _, e := range entries {
		if e.Name() == manifestName {
			continue
		}
		sum, ours := known[e.Name()]
		if !ours {
			return keep(fmt.Sprintf("%s in it is not of a dossier", e.Name()))
		}
		data, err := os.ReadFile(filepath.Join(dir, e.Name()))
		if err != nil {
			return err
		}
		if got := sha256.Sum256(data); hex.EncodeToString(got[:]) != sum {
			return keep(fmt.Sprintf("%s was changed since it was written", e.Name()))
		}
	}
	return nil
}

// replaceFolder writes a folder with some files, whole or not at all: beside
// its place, and then renamed there.
func replaceFolder(dir string, files map[string][]byte) (err error) {
	dir = filepath.Clean(dir)
	if real, err := filepath.EvalSymlinks(dir); err == nil {
		dir = real
	}
	parent := filepath.Dir(dir)
	if err := os.MkdirAll(parent, 0o777); err != nil {
		return err
	}
	fresh, err := os.MkdirTemp(parent, "."+filepath.Base(dir)+"-new-")
	if err != nil {
		return fmt.Errorf("write %s: %w", dir, err)
	}
	defer func() {
		if err != nil {
			os.RemoveAll(fresh)
			err = fmt.Errorf("write %s: %w", dir, err)
		}
	}()
	for name, data := range files {
		if err := writeSynced(filepath.Join(fresh, name), data); err != nil {
			return err
		}
	}
	mode := fs.FileMode(0o777) &^ umask(parent)
	old := ""
	if info, err := os.Stat(dir); err == nil {
		mode = info.Mode().Perm()
		if old, err = os.MkdirTemp(parent, "."+filepath.Base(dir)+"-old-"); err != nil {
			return err
		}
		if err := os.Rename(dir, filepath.Join(old, "was")); err != nil {
			os.RemoveAll(old)
			return err
		}
	}
	if err := os.Chmod(fresh, mode); err != nil {
		return err
	}
	if err := os.Rename(fresh, dir); err != nil {
		if old != "" {
			_ = os.Rename(filepath.Join(old, "was"), dir) // what was there comes back
			os.RemoveAll(old)
		}
		return err
	}
	if old != "" {
		return os.RemoveAll(old)
	}
	return nil
}

// umask is what the process takes from the permissions of a new folder.
func umask(parent string) fs.FileMode {
	probe := filepath.Join(parent, fmt.Sprintf(".probe-%d", os.Getpid()))
	if os.Mkdir(probe, 0o777) != nil {
		return 0o022
	}
	defer os.Remove(probe)
	info, err := os.Stat(probe)
	if err != nil {
		return 0o022
	}
	return 0o777 &^ info.Mode().Perm()
}

func writeSynced(path string, data []byte) error {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o666)
	if err != nil {
		return err
	}
	_, err = f.Write(data)
	if err == nil {
		err = f.Sync()
	}
	if e := f.Close(); err == nil {
		err = e
	}
	return err
}
