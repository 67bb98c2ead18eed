package server

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"slices"
	"sync"
	"time"

	"feederwright/finding"
	"feederwright/flow"
	"feederwright/review"
	"feederwright/server/store"
	"feederwright/study"
)

// A session is one study that is open: its files, and what they come to.
type session struct {
	id, main string
	store    *store.Store
	exam     examination

	mu      sync.Mutex
	now     *state // of the files as they are
	good    *state // the last that computed; now, unless now is broken
	watched map[chan event]bool
	read    *reading // of what is about to be written, so that it needn't be read again
}

// expect keeps a reading of texts that will be written next.
func (s *session) expect(r reading) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.read = &r
}

// A state is the files at one moment, and everything computed from them. What is computed is computed once, by whoever asks
// first; the others wait.
type state struct {
	version string
	files   []store.File
	doc     *study.Document
	states  []study.State
	diags   study.Diagnostics

	// opened has the cases of all conditions; ask holds it while a request uses them.
	opened func() (*review.Report, error)
	ask    sync.Mutex
	flows  func() ([]*flow.Case, error)
	judged func() (*review.Report, error)
	spent  func() time.Duration // of judging
}

// broken tells whether nothing can be computed.
func (s *state) broken() bool { return s.doc == nil || s.diags.Errors() > 0 }

func newState(files []store.File, doc *study.Document, states []study.State, diags study.Diagnostics) *state {
	s := &state{version: store.Together(files), files: files, doc: doc, states: states, diags: diags}
	s.opened = sync.OnceValues(func() (*review.Report, error) { return review.Open(doc, states) })
	s.flows = sync.OnceValues(func() ([]*flow.Case, error) {
		r, err := s.opened()
		if err != nil {
			return nil, err
		}
		return r.Flows()
	})
	var took time.Duration
	s.judged = sync.OnceValues(func() (*review.Report, error) {
		start := time.Now()
		// Cases of its own: judging takes longer than a request should wait for.
		r, err := review.Open(doc, states)
		if err != nil {
			return nil, err
		}
		err = r.Judge()
		took = time.Since(start)
		return r, err
	})
	s.spent = func() time.Duration { s.judged(); return took }
	return s
}

// An event tells pages that something happened.
type event struct {
	name string
	data any
}

func openSession(id, dir, main string) (*session, error) {
	st, err := store.Open(dir)
	if err != nil {
		return nil, err
	}
	s := &session{id: id, main: main, store: st, watched: map[chan event]bool{}}
	s.refresh("page")
	return s, nil
}

// texts reads the files that a study was last made of, and finds whether one differs.
func (s *session) texts(names []string) (files []store.File) {
	for _, n := range names {
		f, err := s.store.Read(n)
		if err != nil {
			f = store.File{Name: n, Version: "absent"}
		}
		files = append(files, f)
	}
	return files
}

// refresh looks at the files, and where they changed makes a new state and tells the pages. by says who changed them: page or
// outside.
func (s *session) refresh(by string) *state {
	s.mu.Lock()
	defer s.mu.Unlock()
	names := []string{s.main}
	if s.now != nil {
		names = names[:0]
		for _, f := range s.now.files {
			names = append(names, f.Name)
		}
		if files := s.texts(names); store.Together(files) == s.now.version {
			return s.now
		}
	}
	// Read until what was parsed is what stands on disk: somebody may write in between.
	var st *state
	for range 10 {
		var doc *study.Document
		var states []study.State
		var diags study.Diagnostics
		if r := s.read; r != nil && r.doc != nil {
			doc, states, diags, s.read = r.doc, r.states, r.diags, nil // if it isn't what stands on disk, it is read below
		} else {
			doc, states, diags = study.Open(s.store.FS(), s.main)
		}
		names = []string{s.main}
		if doc != nil {
			for _, f := range doc.Files {
				if !slices.Contains(names, f.Name) {
					names = append(names, f.Name)
				}
			}
		}
		files := s.texts(names)
		st = newState(files, doc, states, diags)
		if doc == nil || slices.EqualFunc(doc.Files, files, func(a study.SourceFile, b store.File) bool { return string(a.Text) == string(b.Text) }) {
			break
		}
	}
	for _, f := range st.files {
		if f.Version != "absent" {
			_ = s.store.Seen(f) // a version less to go back to is no reason to show nothing
		}
	}
	before := s.now
	s.now = st
	if !st.broken() {
		s.good = st
	}
	if before != nil {
		var names []string
		for _, f := range st.files {
			if !slices.ContainsFunc(before.files, func(b store.File) bool { return b.Name == f.Name && b.Version == f.Version }) {
				names = append(names, f.Name)
			}
		}
		s.tell(event{"changed", changedEvent{Version: st.version, Files: names, By: by, Broken: st.broken(), Errors: st.diags.Errors()}})
	}
	if !st.broken() {
		time.AfterFunc(pause, func() { s.judge(st) })
	}
	return st
}

// pause is how long judging waits after a change: faults and profiles, which a page asks for at once, come first, and
// of several changes in a row only the last is judged.
const pause = 80 * time.Millisecond

// judge computes the findings and tells when they are there.
func (s *session) judge(st *state) {
	s.mu.Lock()
	old := s.now != st
	s.mu.Unlock()
	if old {
		return
	}
	r, err := st.judged()
	e := resultsEvent{Version: st.version, Millisecond: float64(st.spent().Microseconds()) / 1e3}
	if err != nil {
		e.Error = err.Error()
	} else {
		e.Tally = tally(r.Findings)
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.now == st {
		s.tell(event{"results", e})
	}
}

// tell sends to every page; one that doesn't take it in time is dropped, and asks again when it comes back. The caller holds mu.
func (s *session) tell(e event) {
	for c := range s.watched {
		select {
		case c <- e:
		default:
			delete(s.watched, c)
			close(c)
		}
	}
}

// watch gives the events from now on.
func (s *session) watch() (events chan event, stop func()) {
	c := make(chan event, 64)
	s.mu.Lock()
	s.watched[c] = true
	s.mu.Unlock()
	return c, func() {
		s.mu.Lock()
		defer s.mu.Unlock()
		if s.watched[c] {
			delete(s.watched, c)
			close(c)
		}
	}
}

// poll looks for changes from outside until the context ends.
func (s *session) poll(ctx context.Context, every time.Duration) {
	t := time.NewTicker(every)
	defer t.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-t.C:
			s.refresh("outside")
		}
	}
}

// errBroken means that the study never computed since it was opened.
var errBroken = errors.New("the study has mistakes, and nothing could be computed yet")

// results is the state whose results are shown: of the files as they are, or the last good one, which is stale.
func (s *session) results() (st *state, stale bool, err error) {
	now := s.refresh("outside")
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.good == nil {
		return nil, false, errBroken
	}
	return s.good, s.good != now, nil
}

// condition picks states by name or parts of it; "" is all of them.
func (st *state) condition(name string) ([]study.State, error) {
	if name == "" {
		return st.states, nil
	}
	return study.Select(st.states, name)
}

// within is a report of some conditions of the state, which shares its cases. The caller holds ask.
func (st *state) within(condition string) (*review.Report, []*flow.Case, error) {
	r, err := st.opened()
	if err != nil {
		return nil, nil, err
	}
	flows, err := st.flows()
	if err != nil {
		return nil, nil, err
	}
	states, err := st.condition(condition)
	if err != nil {
		return nil, nil, err
	}
	if len(states) == len(st.states) {
		return r, flows, nil
	}
	some := *r
	some.Cases = nil
	var part []*flow.Case
	for i, c := range r.Cases {
		if slices.ContainsFunc(states, func(s study.State) bool { return s.Name == c.Model.State.Name }) {
			some.Cases, part = append(some.Cases, c), append(part, flows[i])
		}
	}
	return &some, part, nil
}

func tally(fs []finding.Finding) map[string]int {
	t := finding.Tally(fs)
	m := map[string]int{}
	for _, v := range finding.Verdicts {
		m[v.String()] = t[v]
	}
	return m
}

// save writes files and shows what they come to.
func (s *session) save(what string, writes []store.Write) (*state, error) {
	if err := s.store.Save(what, writes); err != nil {
		return nil, err
	}
	return s.refresh("page"), nil
}

// file finds a file of the state.
func (st *state) file(name string) (store.File, error) {
	for _, f := range st.files {
		if f.Name == name {
			return f, nil
		}
	}
	return store.File{}, fmt.Errorf("%s is no file of this study: %w", name, fs.ErrNotExist)
}
