package server

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strings"

	"github.com/danielgtaylor/huma/v2"
	"go.yaml.in/yaml/v4"

	"feederwright/server/store"
	"feederwright/study"
)

// EntryField is one key of an entry, as written.
type EntryField struct {
	Key    string `json:"key"`
	Text   string `json:"text" doc:"Its value as written; of lists and groups the YAML of the value."`
	Simple bool   `json:"simple" doc:"It is one value, not a list or group."`
	Line   int    `json:"line"`
	Column int    `json:"column"`
}

// Entry is one entry of the study as written. What keys it may have, the schema says.
type Entry struct {
	Version string       `json:"version"`
	Path    string       `json:"path"`
	Table   string       `json:"table"`
	Name    string       `json:"name"`
	File    string       `json:"file"`
	Line    int          `json:"line"`
	Fields  []EntryField `json:"fields"`
}

type entryInput struct {
	StudyID
	Path string `query:"path" required:"true" doc:"Table and name, as lines / N1-N2."`
}

func (s *Server) entry(_ context.Context, in *entryInput) (*body[Entry], error) {
	x, err := s.session(in.Study)
	if err != nil {
		return nil, err
	}
	st := x.refresh("outside")
	at, err := study.ParsePath(in.Path)
	if err != nil {
		return nil, failure(err)
	}
	if len(at) == 0 || st.doc == nil {
		return nil, huma.NewError(http.StatusNotFound, "there is no entry "+in.Path)
	}
	f, err := st.file(st.doc.FileOf(at))
	if err != nil {
		return nil, failure(err)
	}
	var root yaml.Node
	if err := yaml.Unmarshal(f.Text, &root); err != nil || len(root.Content) == 0 {
		return nil, huma.NewError(http.StatusUnprocessableEntity, fmt.Sprintf("%s does not read: %v", f.Name, err))
	}
	node, key := root.Content[0], root.Content[0]
	for _, part := range at {
		found := false
		for i := 0; i+1 < len(node.Content) && node.Kind == yaml.MappingNode; i += 2 {
			if node.Content[i].Value == part {
				key, node, found = node.Content[i], node.Content[i+1], true
				break
			}
		}
		if !found {
			return nil, huma.NewError(http.StatusNotFound, "there is no entry "+in.Path)
		}
	}
	out := Entry{Version: st.version, Path: at.String(), Table: at[0], Name: at[len(at)-1], File: f.Name, Line: key.Line, Fields: []EntryField{}}
	for i := 0; i+1 < len(node.Content) && node.Kind == yaml.MappingNode; i += 2 {
		k, v := node.Content[i], node.Content[i+1]
		e := EntryField{Key: k.Value, Line: k.Line, Column: k.Column, Simple: v.Kind == yaml.ScalarNode, Text: v.Value}
		if !e.Simple {
			v.Style |= yaml.FlowStyle
			text, err := yaml.Marshal(v)
			if err != nil {
				return nil, err
			}
			e.Text = strings.TrimSpace(string(text))
		}
		out.Fields = append(out.Fields, e)
	}
	return &body[Entry]{out}, nil
}

// EditChange is one change of the study.
type EditChange struct {
	Op    string `json:"op" enum:"set,remove,insert,rename" doc:"set writes one value, and adds a key that isn't there; insert adds an entry; rename changes its name everywhere."`
	Path  string `json:"path" minLength:"1" doc:"Of the value or entry: lines / N1-N2 / length."`
	Value string `json:"value,omitempty" doc:"Of set: the value as it is written in the file. Of insert: the entry's YAML. Of rename: the new name."`
	After string `json:"after,omitempty" doc:"Of insert: the entry that it comes behind."`
}

// Edit is changes made together.
type Edit struct {
	Base    string       `json:"base" minLength:"1" doc:"Version of all files together that the page shows."`
	What    string       `json:"what" minLength:"1" maxLength:"200" doc:"What was done, in words, for undo."`
	Changes []EditChange `json:"changes" minItems:"1" maxItems:"1000"`
	// Force writes although the result has mistakes that the files didn't have.
	Force bool `json:"force,omitempty" doc:"Write although the result has mistakes that the files have not."`
}

type editInput struct {
	StudyID
	Body Edit
}

// EditRefused says what would be wrong after an edit.
func refused(ds study.Diagnostics) error {
	details := []error{}
	for _, d := range diagnostics(ds) {
		if d.Severity == "error" {
			details = append(details, &huma.ErrorDetail{Message: d.Object + ": " + d.Problem, Location: fmt.Sprintf("%s:%d:%d", d.File, d.Line, d.Column), Value: d})
		}
	}
	return huma.NewError(http.StatusUnprocessableEntity, "the study would have mistakes", details...)
}

func (s *Server) edit(_ context.Context, in *editInput) (*body[StudyState], error) {
	x, err := s.session(in.Study)
	if err != nil {
		return nil, err
	}
	st := x.refresh("outside")
	if in.Body.Base != st.version {
		return nil, huma.NewError(http.StatusConflict, "the study has changed since; look at it again", &huma.ErrorDetail{Message: "version on disk", Location: "base", Value: st.version})
	}
	if st.doc == nil {
		return nil, huma.NewError(http.StatusUnprocessableEntity, "the file does not read; mend it as text first")
	}
	texts := map[string][]byte{}
	for _, f := range st.files {
		texts[f.Name] = f.Text
	}
	for _, c := range in.Body.Changes {
		if err := apply(st.doc, st.files, texts, c); err != nil {
			return nil, failure(err)
		}
	}
	var writes []store.Write
	for _, f := range st.files {
		if string(texts[f.Name]) != string(f.Text) {
			writes = append(writes, store.Write{Name: f.Name, Base: f.Version, Text: texts[f.Name]})
		}
	}
	read := readTexts(x.main, st.files, texts)
	if !in.Body.Force && !st.broken() && read.diags.Errors() > 0 {
		return nil, refused(read.diags)
	}
	x.expect(read)
	if err := x.save(in.Body.What, writes); err != nil {
		return nil, failure(err)
	}
	return &body[StudyState]{x.describe()}, nil
}

// apply makes one change in the texts.
func apply(doc *study.Document, files []store.File, texts map[string][]byte, c EditChange) error {
	at, err := study.ParsePath(c.Path)
	if err != nil {
		return err
	}
	if c.Op == "rename" {
		if len(at) < 2 {
			return errors.New("a rename wants table and name, as buses / N3")
		}
		var list []study.SourceFile
		for _, f := range files {
			list = append(list, study.SourceFile{Name: f.Name, Text: texts[f.Name]})
		}
		changed, err := study.RenameAll(list, study.Renaming{Table: at[:len(at)-1], From: at[len(at)-1], To: c.Value})
		if err != nil {
			return err
		}
		for _, f := range changed {
			texts[f.Name] = f.Text
		}
		return nil
	}
	name := doc.FileOf(at)
	var change study.Change
	switch c.Op {
	case "set":
		change = study.ScalarChange{At: at, Value: c.Value}
	case "remove":
		change = study.Removal{At: at}
	default:
		change = study.Insertion{At: at, Entry: c.Value, After: c.After}
	}
	text, err := study.Edited(name, texts[name], change)
	if err != nil {
		return err
	}
	texts[name] = text
	return nil
}

// A reading is what texts mean.
type reading struct {
	doc    *study.Document
	states []study.State
	diags  study.Diagnostics
}

// readTexts reads a study with some of its files changed in memory.
func readTexts(main string, files []store.File, texts map[string][]byte) reading {
	mem := study.Memory{}
	for _, f := range files {
		text := f.Text
		if t, ok := texts[f.Name]; ok {
			text = t
		}
		if f.Version != store.Absent {
			mem[f.Name] = text
		}
	}
	var r reading
	r.doc, r.states, r.diags = study.Open(mem, main)
	return r
}

func (s *Server) undo(_ context.Context, in *StudyID) (*body[StudyState], error) {
	return s.back(in.Study, (*store.Store).Undo)
}

func (s *Server) redo(_ context.Context, in *StudyID) (*body[StudyState], error) {
	return s.back(in.Study, (*store.Store).Redo)
}

func (s *Server) back(id string, move func(*store.Store) (string, error)) (*body[StudyState], error) {
	x, err := s.session(id)
	if err != nil {
		return nil, err
	}
	if err := x.write(func() error { _, err := move(x.store); return err }); err != nil {
		return nil, failure(err)
	}
	return &body[StudyState]{x.describe()}, nil
}

type checkInput struct {
	StudyID
	Body struct {
		File string `json:"file"`
		Text string `json:"text"`
	}
}

// Checked is what is wrong with a text.
type Checked struct {
	Diagnostics []Diagnostic `json:"diagnostics"`
}

func (s *Server) check(_ context.Context, in *checkInput) (*body[Checked], error) {
	x, err := s.session(in.Study)
	if err != nil {
		return nil, err
	}
	st := x.refresh("outside")
	if _, err := st.file(in.Body.File); err != nil {
		return nil, failure(err)
	}
	r := readTexts(x.main, st.files, map[string][]byte{in.Body.File: []byte(in.Body.Text)})
	return &body[Checked]{Checked{diagnostics(r.diags)}}, nil
}

// FileInput names a file.
type FileInput struct {
	StudyID
	Name string `query:"name" required:"true"`
}

// FileText is a file as it is.
type FileText struct {
	Name    string `json:"name"`
	Version string `json:"version"`
	Text    string `json:"text"`
}

func (s *Server) getFile(_ context.Context, in *FileInput) (*body[FileText], error) {
	x, err := s.session(in.Study)
	if err != nil {
		return nil, err
	}
	f, err := x.refresh("outside").file(in.Name)
	if err != nil {
		return nil, failure(err)
	}
	return &body[FileText]{FileText{f.Name, f.Version, string(f.Text)}}, nil
}

type putInput struct {
	FileInput
	Body struct {
		Base string `json:"base" minLength:"1" doc:"Version of the file that the text was made from."`
		Text string `json:"text"`
		What string `json:"what,omitempty" maxLength:"200"`
	}
}

func (s *Server) putFile(_ context.Context, in *putInput) (*body[StudyState], error) {
	x, err := s.session(in.Study)
	if err != nil {
		return nil, err
	}
	f, err := x.refresh("outside").file(in.Name)
	if err != nil {
		return nil, failure(err)
	}
	what := in.Body.What
	if what == "" {
		what = "text of " + in.Name
	}
	if err := x.save(what, []store.Write{{Name: in.Name, Base: in.Body.Base, Text: lineEnds(in.Body.Text, f.Text)}}); err != nil {
		return nil, failure(err)
	}
	return &body[StudyState]{x.describe()}, nil
}

// lineEnds gives a text the line ends of the file, where it has lost them: text fields of browsers know one kind only.
func lineEnds(text string, file []byte) []byte {
	if !strings.Contains(text, "\r") && bytes.Contains(file, []byte("\r\n")) && bytes.Count(file, []byte("\n")) == bytes.Count(file, []byte("\r\n")) {
		text = strings.ReplaceAll(text, "\n", "\r\n")
	}
	return []byte(text)
}

// History is the versions of a file, newest first.
type History struct {
	Name  string       `json:"name"`
	Pasts []store.Past `json:"versions"`
}

func (s *Server) history(_ context.Context, in *FileInput) (*body[History], error) {
	x, err := s.session(in.Study)
	if err != nil {
		return nil, err
	}
	if !slices.ContainsFunc(x.refresh("outside").files, func(f store.File) bool { return f.Name == in.Name }) {
		return nil, huma.NewError(http.StatusNotFound, in.Name+" is no file of this study")
	}
	list, err := x.store.Pasts(in.Name)
	if err != nil {
		return nil, failure(err)
	}
	return &body[History]{History{in.Name, list}}, nil
}

type pastInput struct {
	FileInput
	Number int `query:"number" minimum:"1"`
}

func (s *Server) past(_ context.Context, in *pastInput) (*body[FileText], error) {
	x, err := s.session(in.Study)
	if err != nil {
		return nil, err
	}
	if _, err := x.refresh("outside").file(in.Name); err != nil {
		return nil, failure(err)
	}
	text, err := x.store.Past(in.Name, in.Number)
	if err != nil {
		return nil, failure(err)
	}
	return &body[FileText]{FileText{in.Name, store.VersionOf(text), string(text)}}, nil
}

type restoreInput struct {
	StudyID
	Body struct {
		Name   string `json:"name" minLength:"1"`
		Number int    `json:"number" minimum:"1"`
		Base   string `json:"base" minLength:"1" doc:"Version of the file that it replaces."`
	}
}

func (s *Server) restore(_ context.Context, in *restoreInput) (*body[StudyState], error) {
	x, err := s.session(in.Study)
	if err != nil {
		return nil, err
	}
	if _, err := x.refresh("outside").file(in.Body.Name); err != nil {
		return nil, failure(err)
	}
	text, err := x.store.Past(in.Body.Name, in.Body.Number)
	if err != nil {
		return nil, failure(err)
	}
	what := fmt.Sprintf("version %d of %s", in.Body.Number, in.Body.Name)
	if err := x.save(what, []store.Write{{Name: in.Body.Name, Base: in.Body.Base, Text: text}}); err != nil {
		return nil, failure(err)
	}
	return &body[StudyState]{x.describe()}, nil
}
