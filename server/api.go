package server

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/danielgtaylor/huma/v2"
	"github.com/danielgtaylor/huma/v2/sse"
	"github.com/xuri/excelize/v2"

	"feederwright/answer"
	"feederwright/drawing"
	"feederwright/duty"
	"feederwright/fault"
	"feederwright/finding"
	"feederwright/flow"
	"feederwright/oneline"
	"feederwright/profile"
	"feederwright/quantity"
	"feederwright/review"
	"feederwright/server/store"
	"feederwright/strip"
	"feederwright/study"
)

// Of is which results an answer shows.
type Of struct {
	Version string `json:"version" doc:"Version of all files together that the results are of."`
	Stale   bool   `json:"stale" doc:"The files have mistakes now: these are the last good results."`
}

type (
	changedEvent struct {
		Version string   `json:"version"`
		Files   []string `json:"files"`
		By      string   `json:"by" enum:"page,outside"`
		Broken  bool     `json:"broken"`
		Errors  int      `json:"errors"`
	}
	resultsEvent struct {
		Version     string         `json:"version"`
		Millisecond float64        `json:"duration_millisecond"`
		Tally       map[string]int `json:"tally,omitempty"`
		Error       string         `json:"error,omitempty"`
	}
	helloEvent struct {
		Version string `json:"version"`
	}
)

// A Diagnostic is one doubt about the files, in the words of package study.
type Diagnostic struct {
	File     string    `json:"file"`
	Line     int       `json:"line"`
	Column   int       `json:"column"`
	Severity string    `json:"severity" enum:"error,warning"`
	Object   string    `json:"object"`
	Problem  string    `json:"problem"`
	Why      string    `json:"why"`
	Fix      string    `json:"fix"`
	Excerpt  string    `json:"excerpt"`
	Related  []Related `json:"related"`
}

// Related is a second place that a diagnostic is about.
type Related struct {
	File    string `json:"file"`
	Line    int    `json:"line"`
	Column  int    `json:"column"`
	Text    string `json:"text"`
	Excerpt string `json:"excerpt"`
}

func diagnostics(ds study.Diagnostics) []Diagnostic {
	list := []Diagnostic{}
	for _, d := range ds {
		x := Diagnostic{d.At.File, d.At.Line, d.At.Col, d.Severity.String(), d.Object, d.Problem, d.Why, d.Fix, d.Excerpt, []Related{}}
		for _, r := range d.Related {
			x.Related = append(x.Related, Related{r.At.File, r.At.Line, r.At.Col, r.Text, r.Excerpt})
		}
		list = append(list, x)
	}
	return list
}

// A Finding is a judgement with its identity.
type Finding struct {
	ID       string          `json:"id"`
	Accepted bool            `json:"is_accepted"`
	Reopened bool            `json:"is_reopened"`
	Finding  finding.Finding `json:"finding"`
}

// StudyID is the path of a study.
type StudyID struct {
	Study string `path:"study" doc:"Identity of the study, from the list."`
}

// ConditionQuery picks conditions.
type ConditionQuery struct {
	StudyID
	Condition string `query:"condition" doc:"Condition or parts of its name; empty: all."`
}

// api registers every operation.
func (s *Server) api(a huma.API) {
	get := func(id, path, summary string) huma.Operation {
		return huma.Operation{OperationID: id, Method: http.MethodGet, Path: path, Summary: summary}
	}
	post := func(id, path, summary string) huma.Operation {
		return huma.Operation{OperationID: id, Method: http.MethodPost, Path: path, Summary: summary, MaxBodyBytes: mostBody}
	}
	huma.Register(a, get("health", "/api/health", "That the server runs"), func(context.Context, *struct{}) (*body[Health], error) {
		return &body[Health]{Body: Health{OK: true, Program: s.program}}, nil
	})
	huma.Register(a, get("studies", "/api/studies", "The studies that are open"), s.listStudies)
	huma.Register(a, get("study", "/api/studies/{study}", "One study: files, mistakes, conditions, undo"), s.getStudy)
	huma.Register(a, get("home", "/api/studies/{study}/home", "Tallies, worst findings, what is assumed"), s.home)
	huma.Register(a, get("findings", "/api/studies/{study}/findings", "All findings, the worst first"), s.findings)
	huma.Register(a, get("doubt", "/api/studies/{study}/doubt", "Which datum matters, as far as it was asked"), s.doubt)
	huma.Register(a, post("begin-doubt", "/api/studies/{study}/doubt", "Ask which datum matters; an event says when it is known"), s.beginDoubt)
	huma.Register(a, post("accept", "/api/studies/{study}/accept", "Accept a finding, with reason and initials"), s.accept)
	huma.Register(a, post("withdraw", "/api/studies/{study}/withdraw", "Withdraw an acceptance"), s.withdraw)
	huma.Register(a, get("places", "/api/studies/{study}/places", "Places of faults, ends of the network"), s.places)
	huma.Register(a, get("fault", "/api/studies/{study}/fault", "One fault as everybody sees it"), s.fault)
	huma.Register(a, get("faults", "/api/studies/{study}/faults", "The table of faults at every bus"), s.faults)
	huma.Register(a, get("faults-csv", "/api/studies/{study}/faults.csv", "The same as CSV"), s.faultsCSV)
	huma.Register(a, get("faults-xlsx", "/api/studies/{study}/faults.xlsx", "The same as a workbook"), s.faultsXLSX)
	huma.Register(a, get("profile", "/api/studies/{study}/profile", "Currents, voltage and load along a path"), s.profile)
	huma.Register(a, get("strip", "/api/studies/{study}/strip.svg", "A path drawn as a feeder strip"), s.strip)
	huma.Register(a, get("duty", "/api/studies/{study}/duty", "Duties and ratings"), s.duty)
	huma.Register(a, get("flow", "/api/studies/{study}/flow", "Load flow"), s.flow)
	huma.Register(a, get("map", "/api/studies/{study}/map", "The one-line diagram, with what stands where"), s.drawMap)
	huma.Register(a, get("entry", "/api/studies/{study}/entry", "One entry of the study, as written"), s.entry)
	huma.Register(a, post("edit", "/api/studies/{study}/edit", "Change the study in place"), s.edit)
	huma.Register(a, post("undo", "/api/studies/{study}/undo", "Take the last edit back"), s.undo)
	huma.Register(a, post("redo", "/api/studies/{study}/redo", "Make it again"), s.redo)
	huma.Register(a, post("check", "/api/studies/{study}/check", "Check a text without writing it"), s.check)
	huma.Register(a, get("file", "/api/studies/{study}/file", "The text of one file"), s.getFile)
	huma.Register(a, huma.Operation{OperationID: "put-file", Method: http.MethodPut, Path: "/api/studies/{study}/file", Summary: "Write the text of one file", MaxBodyBytes: mostBody}, s.putFile)
	huma.Register(a, get("history", "/api/studies/{study}/history", "Versions of a file that can be had back"), s.history)
	huma.Register(a, get("past", "/api/studies/{study}/past", "The text of one of them"), s.past)
	huma.Register(a, get("schema", "/api/schema", "JSON Schema of the study file"), func(context.Context, *struct{}) (*body[any], error) {
		text, err := study.Schema()
		if err != nil {
			return nil, err
		}
		return &body[any]{Body: json.RawMessage(text)}, nil
	})
	sse.Register(a, get("events", "/api/studies/{study}/events", "What happens to the study, as it happens"),
		map[string]any{"hello": helloEvent{}, "changed": changedEvent{}, "results": resultsEvent{}, "doubt": doubtEvent{}}, s.events)
}

type body[T any] struct{ Body T }

// Health is that the server runs.
type Health struct {
	OK      bool   `json:"ok"`
	Program string `json:"program"`
}

// raw is an answer that is no JSON.
type raw struct {
	ContentType string `header:"Content-Type"`
	Disposition string `header:"Content-Disposition"`
	Body        []byte
}

// failure turns an error into an answer: conflicts, mistakes of the caller, mistakes of the study.
func failure(err error) error {
	var c *store.ConflictError
	var e *study.EditError
	switch {
	case err == nil:
		return nil
	case errors.As(err, &c):
		details := []error{}
		for i := range c.Conflicts {
			details = append(details, &huma.ErrorDetail{Message: "changed since by somebody else", Location: c.Conflicts[i].File, Value: c.Conflicts[i]})
		}
		return huma.NewError(http.StatusConflict, err.Error(), details...)
	case errors.Is(err, fs.ErrNotExist):
		return huma.NewError(http.StatusNotFound, err.Error())
	case errors.Is(err, store.ErrNothing):
		return huma.NewError(http.StatusConflict, err.Error())
	case errors.Is(err, errBroken):
		return huma.NewError(http.StatusServiceUnavailable, err.Error())
	case errors.As(err, &e):
		return huma.NewError(http.StatusUnprocessableEntity, err.Error())
	}
	var h huma.StatusError
	if errors.As(err, &h) {
		return err
	}
	return huma.NewError(http.StatusUnprocessableEntity, err.Error())
}

// A StudyEntry is one study of the list.
type StudyEntry struct {
	ID    string `json:"id"`
	Title string `json:"title"`
	File  string `json:"file"`
	State string `json:"state" enum:"good,broken"`
}

func (s *Server) listStudies(context.Context, *struct{}) (*body[[]StudyEntry], error) {
	list := []StudyEntry{}
	for _, x := range s.sessions {
		st := x.refresh("outside")
		e := StudyEntry{ID: x.id, Title: x.id, File: x.main, State: "good"}
		if st.doc != nil {
			e.Title = st.doc.Title.V
		}
		if st.broken() {
			e.State = "broken"
		}
		list = append(list, e)
	}
	return &body[[]StudyEntry]{list}, nil
}

func (s *Server) session(id string) (*session, error) {
	for _, x := range s.sessions {
		if x.id == id {
			return x, nil
		}
	}
	return nil, huma.NewError(http.StatusNotFound, fmt.Sprintf("no study is called %q", id))
}

// Condition is one way the system can stand.
type Condition struct {
	Name string `json:"name"`
	Note string `json:"note,omitempty"`
}

// FileEntry is one file of a study.
type FileEntry struct {
	Name    string `json:"name"`
	Version string `json:"version"`
	Bytes   int    `json:"bytes"`
}

// StudyState is what a page needs to know of a study before anything else.
type StudyState struct {
	ID          string       `json:"id"`
	Title       string       `json:"title"`
	Version     string       `json:"version"`
	State       string       `json:"state" enum:"good,stale,broken" doc:"stale: the files have mistakes, and results are the last good ones; broken: there are none."`
	Files       []FileEntry  `json:"files"`
	Diagnostics []Diagnostic `json:"diagnostics"`
	Conditions  []Condition  `json:"conditions"`
	Phases      []string     `json:"phases"`
	Hertz       float64      `json:"frequency_hertz"`
	LengthUnit  string       `json:"length_unit"`
	LengthMetre float64      `json:"length_unit_metre"`
	Undo        string       `json:"undo" doc:"What undo would take back; empty: nothing."`
	Redo        string       `json:"redo"`
	Loaded      bool         `json:"loaded" doc:"There are loads, so that there is a load flow."`
}

func (s *Server) getStudy(_ context.Context, in *StudyID) (*body[StudyState], error) {
	x, err := s.session(in.Study)
	if err != nil {
		return nil, err
	}
	return &body[StudyState]{x.describe()}, nil
}

func (x *session) describe() StudyState {
	now := x.refresh("outside")
	out := StudyState{ID: x.id, Title: x.id, Version: now.version, State: "good", Files: []FileEntry{}, Diagnostics: diagnostics(now.diags), Conditions: []Condition{}, Phases: []string{}}
	for _, f := range now.files {
		out.Files = append(out.Files, FileEntry{f.Name, f.Version, len(f.Text)})
	}
	shown := now
	if now.broken() {
		out.State = "broken"
		x.mu.Lock()
		if x.good != nil {
			out.State, shown = "stale", x.good
		}
		x.mu.Unlock()
	}
	if d := shown.doc; d != nil {
		out.Title, out.Hertz, out.Loaded = d.Title.V, float64(d.Frequency.V), flow.Loaded(d)
		out.LengthUnit, out.LengthMetre = d.LengthUnit()
		for p := range 3 {
			out.Phases = append(out.Phases, fault.PhaseName(d, p))
		}
	}
	for _, c := range shown.states {
		out.Conditions = append(out.Conditions, Condition{Name: c.Name, Note: strings.Join(append(append([]string{}, c.Diff...), c.Note), "; ")})
	}
	out.Undo, out.Redo = x.store.Can()
	return out
}

// ask gives the results to answer from, held for the request.
func (s *Server) ask(id string) (*session, *state, Of, func(), error) {
	x, err := s.session(id)
	if err != nil {
		return nil, nil, Of{}, nil, err
	}
	st, stale, err := x.results()
	if err != nil {
		return nil, nil, Of{}, nil, failure(err)
	}
	st.ask.Lock()
	return x, st, Of{st.version, stale}, st.ask.Unlock, nil
}

// Home is the state of a study on one screen.
type Home struct {
	Of
	Findings    int                       `json:"findings"`
	Tally       map[string]int            `json:"tally"`
	Chapters    map[string]map[string]int `json:"chapters"`
	Worst       []Finding                 `json:"worst"`
	Unproven    []Finding                 `json:"unproven"`
	Assumptions []answer.Assumption       `json:"assumptions"`
	Defaults    []string                  `json:"defaults"`
	Conditions  int                       `json:"conditions"`
	Stale       []review.Stale            `json:"stale_acceptances"`
}

func wrap(fs []finding.Finding) []Finding {
	list := []Finding{}
	for i := range fs {
		list = append(list, Finding{fs[i].ID(), fs[i].IsAccepted(), fs[i].IsReopened(), fs[i]})
	}
	return list
}

func (s *Server) home(_ context.Context, in *StudyID) (*body[Home], error) {
	x, err := s.session(in.Study)
	if err != nil {
		return nil, err
	}
	st, stale, err := x.results()
	if err != nil {
		return nil, failure(err)
	}
	r, err := st.judged()
	if err != nil {
		return nil, failure(err)
	}
	out := Home{Of: Of{st.version, stale}, Findings: len(r.Findings), Tally: tally(r.Findings), Chapters: map[string]map[string]int{},
		Worst: []Finding{}, Unproven: []Finding{}, Assumptions: answer.AssumptionsOf(st.doc), Defaults: append([]string{}, r.Defaults...), Conditions: len(st.states), Stale: append([]review.Stale{}, r.Stale...)}
	by := map[string][]finding.Finding{}
	for _, f := range r.Findings {
		by[f.Chapter] = append(by[f.Chapter], f)
	}
	for c, fs := range by {
		out.Chapters[c] = tally(fs)
	}
	for _, f := range wrap(r.Findings) {
		switch v := f.Finding.Verdict; {
		case f.Accepted || v == finding.Holds:
		case v == finding.Unproven:
			out.Unproven = append(out.Unproven, f)
		case len(out.Worst) < 8:
			out.Worst = append(out.Worst, f)
		}
	}
	return &body[Home]{out}, nil
}

// Findings are all judgements.
type Findings struct {
	Of
	Findings []Finding `json:"findings"`
}

func (s *Server) findings(_ context.Context, in *StudyID) (*body[Findings], error) {
	x, err := s.session(in.Study)
	if err != nil {
		return nil, err
	}
	st, stale, err := x.results()
	if err != nil {
		return nil, failure(err)
	}
	r, err := st.judged()
	if err != nil {
		return nil, failure(err)
	}
	return &body[Findings]{Findings{Of{st.version, stale}, wrap(r.Findings)}}, nil
}

// Acceptance says that a finding may stand.
type Acceptance struct {
	Finding string `json:"finding" minLength:"1" doc:"Identity of the finding."`
	Reason  string `json:"reason" minLength:"1" maxLength:"2000"`
	By      string `json:"by" minLength:"1" maxLength:"60" doc:"Initials or name."`
}

type acceptInput struct {
	StudyID
	Body Acceptance
}

func (s *Server) accept(_ context.Context, in *acceptInput) (*body[StudyState], error) {
	x, err := s.session(in.Study)
	if err != nil {
		return nil, err
	}
	st, stale, err := x.results()
	if err != nil {
		return nil, failure(err)
	}
	if stale {
		return nil, huma.NewError(http.StatusConflict, "the files have mistakes; findings can be accepted when they compute")
	}
	r, err := st.judged()
	if err != nil {
		return nil, failure(err)
	}
	f := r.Find(in.Body.Finding)
	if f == nil {
		return nil, huma.NewError(http.StatusNotFound, "no finding is "+in.Body.Finding)
	}
	main, err := st.file(x.main)
	if err != nil {
		return nil, failure(err)
	}
	text, err := study.Accept(x.main, main.Text, f, in.Body.Reason, in.Body.By, time.Now().Format(time.DateOnly))
	if err != nil {
		return nil, failure(err)
	}
	if _, err := x.save("accept "+in.Body.Finding, []store.Write{{Name: x.main, Base: main.Version, Text: text}}); err != nil {
		return nil, failure(err)
	}
	return &body[StudyState]{x.describe()}, nil
}

type withdrawInput struct {
	StudyID
	Body struct {
		Finding string `json:"finding" minLength:"1"`
	}
}

func (s *Server) withdraw(_ context.Context, in *withdrawInput) (*body[StudyState], error) {
	x, err := s.session(in.Study)
	if err != nil {
		return nil, err
	}
	st := x.refresh("outside")
	main, err := st.file(x.main)
	if err != nil {
		return nil, failure(err)
	}
	text, err := study.Withdraw(x.main, main.Text, in.Body.Finding)
	if err != nil {
		return nil, failure(err)
	}
	if _, err := x.save("withdraw "+in.Body.Finding, []store.Write{{Name: x.main, Base: main.Version, Text: text}}); err != nil {
		return nil, failure(err)
	}
	return &body[StudyState]{x.describe()}, nil
}

// Places are where faults can be, and how far paths go.
type Places struct {
	Of
	Buses []PlaceBus  `json:"buses"`
	Lines []PlaceLine `json:"lines"`
	Ends  []string    `json:"ends" doc:"Ends of the network, for strips; the longest path first is not promised."`
	Feeds []string    `json:"infeed_buses"`
}

// PlaceBus is a bus.
type PlaceBus struct {
	Name   string   `json:"name"`
	Volt   float64  `json:"nominal_volt"`
	Phases []string `json:"phases"`
	Kinds  []string `json:"kinds" doc:"Kinds of fault that its phases allow."`
}

// PlaceLine is a line; places on it are LINE/40%.
type PlaceLine struct {
	Name   string  `json:"name"`
	From   string  `json:"from"`
	To     string  `json:"to"`
	Length float64 `json:"length_metre"`
}

func (s *Server) places(_ context.Context, in *StudyID) (*body[Places], error) {
	_, st, of, done, err := s.ask(in.Study)
	if err != nil {
		return nil, err
	}
	defer done()
	r, err := st.opened()
	if err != nil {
		return nil, failure(err)
	}
	out := Places{Of: of, Buses: []PlaceBus{}, Lines: []PlaceLine{}, Ends: append([]string{}, strip.Ends(st.doc)...), Feeds: []string{}}
	n := r.Cases[0].Net
	for i := range n.Buses {
		b := &n.Buses[i]
		if b.LineEnd != "" {
			continue
		}
		p := PlaceBus{Name: b.Name, Volt: b.Nominal, Phases: []string{}, Kinds: []string{}}
		for _, c := range b.Phases.Conductors() {
			p.Phases = append(p.Phases, fault.PhaseName(st.doc, c))
		}
		for _, k := range fault.All(b.Phases) {
			p.Kinds = append(p.Kinds, k.String())
		}
		out.Buses = append(out.Buses, p)
	}
	for _, e := range st.doc.Lines.Entries {
		out.Lines = append(out.Lines, PlaceLine{e.Name, string(e.Item.From.V), string(e.Item.To.V), float64(e.Item.Length.V)})
	}
	for _, e := range st.doc.Supply.Entries {
		out.Feeds = append(out.Feeds, string(e.Item.At.V))
	}
	return &body[Places]{out}, nil
}

type faultInput struct {
	ConditionQuery
	At         string `query:"at" required:"true" doc:"Place: a bus, LINE/40% or LINE/0.7mi."`
	Kind       string `query:"kind" required:"true" doc:"Kind of fault, as lg:A."`
	Resistance string `query:"resistance" doc:"Fault resistance with its unit, as 40 ohm; empty: bolted."`
	Working    bool   `query:"working"`
}

// FaultAnswer is one fault in the conditions asked for.
type FaultAnswer struct {
	Of
	answer.Faults
}

func (s *Server) fault(_ context.Context, in *faultInput) (*body[FaultAnswer], error) {
	_, st, of, done, err := s.ask(in.Study)
	if err != nil {
		return nil, err
	}
	defer done()
	r, _, err := st.within(in.Condition)
	if err != nil {
		return nil, failure(err)
	}
	q := answer.FaultQuery{Doc: st.doc, Report: r, Detail: true, Working: in.Working}
	if q.Kinds, err = fault.ParseKinds(in.Kind); err != nil {
		return nil, failure(err)
	}
	if in.Resistance != "" {
		var z quantity.Impedance
		if err := z.UnmarshalText([]byte(in.Resistance)); err != nil {
			return nil, failure(err)
		}
		if imag(z) != 0 || real(z) < 0 {
			return nil, failure(fmt.Errorf("resistance %s: want a resistance that is not negative, as 40 ohm", in.Resistance))
		}
		q.Resistance = real(z)
	}
	f, err := q.Faults([]string{in.At})
	if err != nil {
		return nil, failure(err)
	}
	return &body[FaultAnswer]{FaultAnswer{of, f}}, nil
}

// FaultRow is one row of the table: a place, a kind and a condition.
type FaultRow struct {
	Place     string   `json:"place"`
	Kind      string   `json:"kind"`
	Condition string   `json:"condition"`
	Ampere    *float64 `json:"current_ampere,omitempty"`
	XOverR    *float64 `json:"x_over_r,omitempty"`
	Unproven  string   `json:"unproven,omitempty"`
	NoSource  bool     `json:"no_source,omitempty"`
}

// FaultTable is every place, kind and condition.
type FaultTable struct {
	Of
	Rows []FaultRow `json:"rows"`
}

func (s *Server) table(in *ConditionQuery) (FaultTable, string, error) {
	_, st, of, done, err := s.ask(in.Study)
	if err != nil {
		return FaultTable{}, "", err
	}
	defer done()
	r, _, err := st.within(in.Condition)
	if err != nil {
		return FaultTable{}, "", failure(err)
	}
	q := answer.FaultQuery{Doc: st.doc, Report: r}
	f, err := q.Faults(st.doc.Buses.Names())
	if err != nil {
		return FaultTable{}, "", failure(err)
	}
	t := FaultTable{Of: of, Rows: []FaultRow{}}
	for _, x := range f.Faults {
		t.Rows = append(t.Rows, FaultRow{x.Place, x.Kind, x.Condition, x.CurrentAmpere, x.XOverR, x.Unproven, x.NoSource})
	}
	return t, st.doc.Title.V, nil
}

func (s *Server) faults(_ context.Context, in *ConditionQuery) (*body[FaultTable], error) {
	t, _, err := s.table(in)
	if err != nil {
		return nil, err
	}
	return &body[FaultTable]{t}, nil
}

var faultHead = []string{"place", "kind", "condition", "current_A", "x_over_r", "remark"}

func (r FaultRow) remark() string {
	switch {
	case r.NoSource:
		return "no source"
	case r.Unproven != "":
		return r.Unproven + " is not given"
	}
	return ""
}

func (s *Server) faultsCSV(_ context.Context, in *ConditionQuery) (*raw, error) {
	t, _, err := s.table(in)
	if err != nil {
		return nil, err
	}
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	number := func(x *float64) string {
		if x == nil {
			return ""
		}
		return strconv.FormatFloat(*x, 'g', 8, 64)
	}
	_ = w.Write(faultHead)
	for _, r := range t.Rows {
		_ = w.Write([]string{r.Place, r.Kind, r.Condition, number(r.Ampere), number(r.XOverR), r.remark()})
	}
	w.Flush()
	return &raw{"text/csv; charset=utf-8", `attachment; filename="faults.csv"`, b.Bytes()}, w.Error()
}

func (s *Server) faultsXLSX(_ context.Context, in *ConditionQuery) (*raw, error) {
	t, _, err := s.table(in)
	if err != nil {
		return nil, err
	}
	f := excelize.NewFile()
	defer f.Close()
	w, err := f.NewStreamWriter("Sheet1")
	if err != nil {
		return nil, err
	}
	_ = w.SetPanes(&excelize.Panes{Freeze: true, YSplit: 1, TopLeftCell: "A2", ActivePane: "bottomLeft"})
	row := make([]any, len(faultHead))
	for i, h := range faultHead {
		row[i] = h
	}
	_ = w.SetRow("A1", row)
	number := func(x *float64) any {
		if x == nil {
			return nil
		}
		return *x
	}
	for i, r := range t.Rows {
		if err := w.SetRow(fmt.Sprintf("A%d", i+2), []any{r.Place, r.Kind, r.Condition, number(r.Ampere), number(r.XOverR), r.remark()}); err != nil {
			return nil, err
		}
	}
	if err := w.Flush(); err != nil {
		return nil, err
	}
	b, err := f.WriteToBuffer()
	if err != nil {
		return nil, err
	}
	return &raw{"application/vnd.openxmlformats-officedocument.spreadsheetml.sheet", `attachment; filename="faults.xlsx"`, b.Bytes()}, nil
}

// ProfileInput is a path.
type ProfileInput struct {
	ConditionQuery
	From    string `query:"from" doc:"Bus at its start; empty: the nearest infeed."`
	To      string `query:"to" required:"true" doc:"Bus at its end."`
	Between int    `query:"between" minimum:"0" maximum:"100" doc:"Further points inside every line."`
}

// ProfileAnswer is a profile with the limits of the voltage.
type ProfileAnswer struct {
	Of
	answer.Profile
	Low  float64 `json:"voltage_low_of_nominal"`
	High float64 `json:"voltage_high_of_nominal"`
}

func (s *Server) path(in *ProfileInput) (*profile.Profile, *state, Of, error) {
	_, st, of, done, err := s.ask(in.Study)
	if err != nil {
		return nil, nil, of, err
	}
	defer done()
	r, flows, err := st.within(in.Condition)
	if err != nil {
		return nil, nil, of, failure(err)
	}
	p, err := profile.Of(r, flows, profile.Options{From: in.From, To: in.To, Between: in.Between})
	return p, st, of, failure(err)
}

func (s *Server) profile(_ context.Context, in *ProfileInput) (*body[ProfileAnswer], error) {
	p, st, of, err := s.path(in)
	if err != nil {
		return nil, err
	}
	l := flow.LimitsOf(st.doc)
	return &body[ProfileAnswer]{ProfileAnswer{of, answer.ProfileOf(st.doc, p, nil), l.VoltageLow, l.VoltageHigh}}, nil
}

type stripInput struct {
	ProfileInput
	Impedance bool `query:"impedance"`
}

func (s *Server) strip(_ context.Context, in *stripInput) (*raw, error) {
	p, st, _, err := s.path(&in.ProfileInput)
	if err != nil {
		return nil, err
	}
	o := strip.Options{Title: st.doc.Title.V, Impedance: in.Impedance}
	o.Unit, o.Metre = st.doc.LengthUnit()
	if flow.Loaded(st.doc) {
		l := flow.LimitsOf(st.doc)
		o.Low, o.High = l.VoltageLow, l.VoltageHigh
	}
	page, err := strip.Draw(p, o)
	if err != nil {
		return nil, failure(err)
	}
	return &raw{"image/svg+xml", "", drawing.SVG(page)}, nil
}

// DutyAnswer is the duties over all conditions.
type DutyAnswer struct {
	Of
	answer.Duty
}

func (s *Server) duty(_ context.Context, in *ConditionQuery) (*body[DutyAnswer], error) {
	_, st, of, done, err := s.ask(in.Study)
	if err != nil {
		return nil, err
	}
	defer done()
	r, _, err := st.within(in.Condition)
	if err != nil {
		return nil, failure(err)
	}
	states, err := st.condition(in.Condition)
	if err != nil {
		return nil, failure(err)
	}
	m, _ := duty.MethodOf(st.doc)
	cases, defaults, err := r.DutyCases(false)
	if err != nil {
		return nil, failure(err)
	}
	places, err := r.PlaceDuties(cases, st.doc.Buses.Names())
	if err != nil {
		return nil, failure(err)
	}
	devices, err := r.Duties(cases)
	if err != nil {
		return nil, failure(err)
	}
	return &body[DutyAnswer]{DutyAnswer{of, answer.DutyOf(st.doc, states, m, places, devices, defaults, answer.DutyOptions{After: 0.05})}}, nil
}

// FlowAnswer is the load flow.
type FlowAnswer struct {
	Of
	answer.Flow
}

func (s *Server) flow(_ context.Context, in *ConditionQuery) (*body[FlowAnswer], error) {
	_, st, of, done, err := s.ask(in.Study)
	if err != nil {
		return nil, err
	}
	defer done()
	_, flows, err := st.within(in.Condition)
	if err != nil {
		return nil, failure(err)
	}
	return &body[FlowAnswer]{FlowAnswer{of, answer.FlowOf(st.doc, flows, nil, "")}}, nil
}

// MapItem is a thing of the study on the map. Lengths are in mm of the drawing.
type MapItem struct {
	ID   string  `json:"id" doc:"Identity of its group in the drawing."`
	Kind string  `json:"kind"`
	Name string  `json:"name"`
	X    float64 `json:"x"`
	Y    float64 `json:"y"`
	W    float64 `json:"w"`
	H    float64 `json:"h"`
	Path string  `json:"path,omitempty" doc:"Where it stands in the study, for the form."`
	Open *bool   `json:"is_open,omitempty" doc:"Of a device that switches: it is open in this condition."`
	Dead bool    `json:"is_dead,omitempty" doc:"No source reaches it, or one side of it."`
}

// Map is the one-line diagram of one condition.
type Map struct {
	Of
	Condition string    `json:"condition"`
	Width     float64   `json:"width"`
	Height    float64   `json:"height"`
	SVG       string    `json:"svg"`
	Items     []MapItem `json:"items"`
}

type mapInput struct {
	ConditionQuery
	Ratings bool `query:"ratings"`
}

func (s *Server) drawMap(_ context.Context, in *mapInput) (*body[Map], error) {
	_, st, of, done, err := s.ask(in.Study)
	if err != nil {
		return nil, err
	}
	defer done()
	state, name := oneline.AsWritten(st.doc), ""
	if in.Condition != "" {
		list, err := st.condition(in.Condition)
		if err != nil {
			return nil, failure(err)
		}
		state, name = list[0], list[0].Name
	}
	d, err := oneline.Draw(st.doc, state, oneline.Options{Ratings: in.Ratings})
	if err != nil {
		return nil, failure(err)
	}
	page := d.Pages[0]
	out := Map{Of: of, Condition: name, Width: page.Width, Height: page.Height, SVG: string(drawing.SVG(page)), Items: []MapItem{}}
	dead := map[string]bool{}
	for _, e := range page.Elements {
		if g, ok := e.(drawing.Group); ok {
			dead[g.ID] = dead[g.ID] || drawnDead(g)
		}
	}
	for _, it := range d.Items {
		var box drawing.Rect
		for _, r := range append(append([]drawing.Rect{}, it.Symbols...), it.Labels...) {
			box = box.Union(r)
		}
		m := MapItem{ID: oneline.ID(it.Kind, it.Name), Kind: it.Kind, Name: it.Name, X: box.X, Y: box.Y, W: box.W, H: box.H}
		if at, ok := st.doc.PathOf(it.Kind, it.Name); ok {
			m.Path = at.String()
		}
		m.Dead = dead[m.ID]
		switch it.Kind {
		case "switch", "breaker", "recloser", "fuse":
			open := state.Open[it.Name]
			m.Open = &open
		}
		out.Items = append(out.Items, m)
	}
	return &body[Map]{out}, nil
}

// drawnDead tells whether part of a thing is drawn as reached by no source.
func drawnDead(g drawing.Group) bool {
	return slices.ContainsFunc(g.Elements, func(e drawing.Element) bool {
		l, ok := e.(drawing.Line)
		return ok && slices.Contains(strings.Fields(l.Class), "dead")
	})
}

// events sends what happens until the page goes away.
func (s *Server) events(ctx context.Context, in *StudyID, send sse.Sender) {
	x, err := s.session(in.Study)
	if err != nil {
		return
	}
	events, stop := x.watch()
	defer stop()
	if send.Data(helloEvent{x.refresh("outside").version}) != nil {
		return
	}
	// Something from time to time, so that a connection that is gone is found.
	beat := time.NewTicker(20 * time.Second)
	defer beat.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-s.ending:
			return
		case <-beat.C:
			if send.Data(helloEvent{x.refresh("outside").version}) != nil {
				return
			}
		case e, ok := <-events:
			if !ok || send.Data(e.data) != nil {
				return
			}
		}
	}
}
