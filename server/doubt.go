package server

import (
	"context"
	"net/http"
	"sync"

	"github.com/danielgtaylor/huma/v2"

	"feederwright/doubt"
)

// An examination is which datum matters, for one state of the files. It takes seconds, so it is begun on request and asked
// for again; the event "doubt" says that it is there.
type examination struct {
	mu      sync.Mutex
	version string
	running bool
	report  *doubt.Report
	err     error
}

// DoubtChange is a judgement that would be another.
type DoubtChange struct {
	Finding string `json:"finding"`
	From    string `json:"from" doc:"Verdict as it is; empty: there is no such finding."`
	To      string `json:"to"`
}

// DoubtDatum is one value in doubt.
type DoubtDatum struct {
	Name        string        `json:"datum"`
	Kind        string        `json:"kind" doc:"range stated, assumed, missing or default."`
	Value       string        `json:"value,omitempty"`
	Place       string        `json:"place"`
	Range       string        `json:"range,omitempty" doc:"Basis of the values tried."`
	Untried     string        `json:"untried,omitempty"`
	Consequence string        `json:"consequence"`
	Changes     []DoubtChange `json:"changes" doc:"Findings whose verdict would be another, at some value tried."`
}

// Doubt is which datum matters.
type Doubt struct {
	Version string       `json:"version"`
	State   string       `json:"state" enum:"none,running,done,failed" doc:"none: not begun for the files as they are."`
	Error   string       `json:"error,omitempty"`
	Data    []DoubtDatum `json:"data"`
	LeftOut int          `json:"left_out" doc:"Data not tried for want of room."`
	Runs    int          `json:"runs" doc:"How often the study was judged."`
}

type doubtEvent struct {
	Version string `json:"version"`
	State   string `json:"state"`
}

func (x *session) doubtNow(version string) Doubt {
	e := &x.exam
	e.mu.Lock()
	defer e.mu.Unlock()
	out := Doubt{Version: version, State: "none", Data: []DoubtDatum{}}
	if e.running {
		out.State = "running"
		return out
	}
	if e.version != version {
		return out
	}
	if e.err != nil {
		out.State, out.Error = "failed", e.err.Error()
		return out
	}
	out.State, out.LeftOut, out.Runs = "done", e.report.LeftOut, e.report.Runs
	for i := range e.report.Data {
		d := &e.report.Data[i]
		j := DoubtDatum{Name: d.Name, Kind: string(d.Kind), Value: d.Value, Place: d.Place, Range: d.Range, Untried: d.Untried, Consequence: string(d.Consequence), Changes: []DoubtChange{}}
		seen := map[DoubtChange]bool{}
		for _, t := range d.Trials {
			for _, c := range t.Changes {
				k := DoubtChange{c.Finding, c.From, c.To}
				if !seen[k] {
					seen[k] = true
					j.Changes = append(j.Changes, k)
				}
			}
		}
		out.Data = append(out.Data, j)
	}
	return out
}

// examine begins an examination, unless one runs or is there.
func (x *session) examine(st *state) {
	e := &x.exam
	e.mu.Lock()
	defer e.mu.Unlock()
	if e.running || e.version == st.version {
		return
	}
	e.running = true
	go func() {
		report, err := doubt.Examine(st.doc, st.states, doubt.Options{})
		e.mu.Lock()
		e.running, e.version, e.report, e.err = false, st.version, report, err
		e.mu.Unlock()
		x.mu.Lock()
		x.tell(event{"doubt", doubtEvent{st.version, x.doubtNow(st.version).State}})
		x.mu.Unlock()
	}()
}

func (s *Server) doubt(_ context.Context, in *StudyID) (*body[Doubt], error) {
	x, err := s.session(in.Study)
	if err != nil {
		return nil, err
	}
	return &body[Doubt]{x.doubtNow(x.refresh("outside").version)}, nil
}

func (s *Server) beginDoubt(_ context.Context, in *StudyID) (*body[Doubt], error) {
	x, err := s.session(in.Study)
	if err != nil {
		return nil, err
	}
	st := x.refresh("outside")
	if st.broken() {
		return nil, huma.NewError(http.StatusConflict, "the study has mistakes; which datum matters can be asked when it computes")
	}
	x.examine(st)
	return &body[Doubt]{x.doubtNow(st.version)}, nil
}
