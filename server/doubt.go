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
	version string // of the files that the report is of
	report  *doubt.Report
	err     error

	running  string // version of the files being examined; "" if none are
	number   int    // of the examination; an older one ends when it sees another
	done, of int
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
	Done    int          `json:"studies_done" doc:"While running: studies judged, of studies_total."`
	Total   int          `json:"studies_total"`
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
	if e.running == version {
		out.State, out.Done, out.Total = "running", e.done, e.of
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

// progressEvent tells how far an examination is.
type progressEvent struct {
	What string `json:"what" enum:"doubt"`
	Done int    `json:"done"`
	Of   int    `json:"of"`
}

// examine begins an examination, unless one runs or is there. One of earlier files ends.
func (x *session) examine(st *state) {
	e := &x.exam
	e.mu.Lock()
	defer e.mu.Unlock()
	if e.running == st.version || e.version == st.version {
		return
	}
	e.number++
	number := e.number
	e.running, e.done, e.of = st.version, 0, 0
	step := func(done, of int) bool {
		e.mu.Lock()
		current := e.number == number
		news := current && done > e.done && done*20/of > e.done*20/of // twenty times in all
		if current {
			e.done, e.of = max(done, e.done), of
		}
		e.mu.Unlock()
		if news {
			x.announce(event{"progress", progressEvent{"doubt", done, of}})
		}
		return current
	}
	go func() {
		report, err := doubt.Examine(st.doc, st.states, doubt.Options{Step: step})
		e.mu.Lock()
		if e.number != number {
			e.mu.Unlock()
			return
		}
		e.running, e.version, e.report, e.err = "", st.version, report, err
		e.mu.Unlock()
		x.announce(event{"doubt", doubtEvent{st.version, x.doubtNow(st.version).State}})
	}()
}

// stopExamining ends an examination whose files are no longer the ones shown.
func (x *session) stopExamining() {
	e := &x.exam
	e.mu.Lock()
	defer e.mu.Unlock()
	e.number++
	e.running = ""
}

func (s *Server) doubt(_ context.Context, in *StudyID) (*body[Doubt], error) {
	x, err := s.session(in.Study)
	if err != nil {
		return nil, err
	}
	st := x.refresh("outside")
	return &body[Doubt]{x.doubtNow(st.version)}, nil
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
