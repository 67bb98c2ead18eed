package server

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"path"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"
	"time"

	"feederwright/fault"
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

	cases []func() (*fault.Case, error) // of each condition
	flows []func() (*flow.Case, error)
	ask   sync.Mutex // held while cases are used: they keep what they worked out

	judged func() (*review.Report, error)
	spent  func() time.Duration // of judging
	over   atomic.Bool          // nobody wants it any more

	mu   sync.Mutex
	kept map[string]any // answers by what was asked
}

// broken tells whether nothing can be computed.
func (s *state) broken() bool { return s.doc == nil || s.diags.Errors() > 0 }

func newState(files []store.File, doc *study.Document, states []study.State, diags study.Diagnostics) *state {
	s := &state{version: store.Together(files), files: files, doc: doc, states: states, diags: diags, kept: map[string]any{}}
	for _, state := range states {
		c := sync.OnceValues(func() (*fault.Case, error) {
			c, err := fault.Open(doc, state)
			if err != nil {
				return nil, fmt.Errorf("condition %q: %w", state.Name, err)
			}
			return c, nil
		})
		s.cases = append(s.cases, c)
		s.flows = append(s.flows, sync.OnceValues(func() (*flow.Case, error) {
			if c, err := c(); err != nil || c.Flow != nil {
				if err != nil {
					return nil, err
				}
				return c.Flow, nil
			}
			f, err := flow.Open(doc, state)
			if err != nil {
				return nil, fmt.Errorf("condition %q, load flow: %w", state.Name, err)
			}
			return f, nil
		}))
	}
	var took time.Duration
	s.judged = sync.OnceValues(func() (*review.Report, error) {
		start := time.Now()
		// Cases of its own: judging takes longer than a request should wait for.
		r, err := review.Open(doc, states)
		if err != nil {
			return nil, err
		}
		r.Stop = s.over.Load
		err = r.Judge()
		took = time.Since(start)
		return r, err
	})
	s.spent = func() time.Duration { s.judged(); return took }
	return s
}

const mostKept = 500 // answers of one state

// once gives the answer to what was asked: of several who ask the same at once, or later, the first computes it.
func once[T any](s *state, asked string, compute func() (T, error)) (T, error) {
	s.mu.Lock()
	f, ok := s.kept[asked].(func() (T, error))
	if !ok {
		if len(s.kept) >= mostKept {
			clear(s.kept)
		}
		f = sync.OnceValues(compute)
		s.kept[asked] = f
	}
	s.mu.Unlock()
	return f()
}

// each calls do for every condition picked, spread over the processors, and gives the first error in their order.
func each(picked []int, do func(k, i int) error) error {
	errs := make([]error, len(picked))
	var next atomic.Int64
	var wait sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), len(picked)) {
		wait.Go(func() {
			for k := int(next.Add(1)) - 1; k < len(picked); k = int(next.Add(1)) - 1 {
				errs[k] = do(k, picked[k])
			}
		})
	}
	wait.Wait()
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
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
			f = store.File{Name: n, Version: store.Absent}
		}
		files = append(files, f)
	}
	return files
}

// names are the files to look after: those that were read, those asked for that are not there, and, while there are mistakes,
// those from before them: a main file that doesn't parse names no others.
func (s *session) names(doc *study.Document, diags study.Diagnostics) []string {
	names := []string{s.main}
	add := func(name string) {
		if !slices.Contains(names, name) {
			names = append(names, name)
		}
	}
	if doc != nil {
		for _, f := range doc.Files {
			add(f.Name)
		}
		for _, ref := range doc.Include.V {
			if name := path.Join(path.Dir(s.main), string(ref)); fs.ValidPath(name) {
				add(name)
			}
		}
	}
	if s.good != nil && (doc == nil || diags.Errors() > 0) {
		for _, f := range s.good.files {
			add(f.Name)
		}
	}
	return names
}

// readOf tells whether a document was made of these files.
func readOf(doc *study.Document, files []store.File) bool {
	if doc == nil {
		return false
	}
	for _, f := range files {
		i := slices.IndexFunc(doc.Files, func(d study.SourceFile) bool { return d.Name == f.Name })
		if i >= 0 && (f.Version == store.Absent || !bytes.Equal(doc.Files[i].Text, f.Text)) {
			return false
		}
	}
	return true
}

// refresh looks at the files, and where they changed makes a new state and tells the pages. by says who changed them: page or
// outside.
func (s *session) refresh(by string) *state {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.renew(by)
}

// settling is how long files that were changed outside must stay as they are.
const settling = 15 * time.Millisecond

// renew is refresh for a caller who holds mu.
func (s *session) renew(by string) *state {
	if s.now != nil {
		names := make([]string, len(s.now.files))
		for i, f := range s.now.files {
			names[i] = f.Name
		}
		files := s.texts(names)
		if store.Together(files) == s.now.version {
			return s.now
		}
		// An editor may be writing just now, in place: what it has written so far is not what it means.
		for range 20 {
			if by != "outside" {
				break
			}
			time.Sleep(settling)
			later := s.texts(names)
			settled := store.Together(later) == store.Together(files)
			if files = later; settled {
				break
			}
		}
	}
	// Read until what was parsed is what stands on disk: somebody may write in between.
	var st *state
	for range 10 {
		var doc *study.Document
		var states []study.State
		var diags study.Diagnostics
		if r := s.read; r != nil && r.doc != nil {
			doc, states, diags = r.doc, r.states, r.diags // if it isn't what stands on disk, it is read below
		} else {
			doc, states, diags = study.Open(s.store.FS(), s.main)
		}
		s.read = nil
		files := s.texts(s.names(doc, diags))
		st = newState(files, doc, states, diags)
		if readOf(doc, files) {
			break
		}
	}
	for _, f := range st.files {
		if f.Version != store.Absent {
			_ = s.store.Seen(f) // a version less to go back to is no reason to show nothing
		}
	}
	before := s.now
	s.now = st
	if !st.broken() {
		if s.good != nil {
			s.good.over.Store(true)
		}
		s.stopExamining()
		s.good = st
	}
	if before != nil {
		names := []string{}
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
	if errors.Is(err, review.ErrStopped) {
		return
	}
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

// announce is tell for who doesn't hold mu.
func (s *session) announce(e event) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.tell(e)
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

// within is a report of some conditions of the state. The caller holds ask.
func (st *state) within(condition string) (*review.Report, error) {
	picked, err := st.pick(condition)
	if err != nil {
		return nil, err
	}
	cases := make([]*fault.Case, len(picked))
	if err := each(picked, func(k, i int) (err error) { cases[k], err = st.cases[i](); return err }); err != nil {
		return nil, err
	}
	return review.Of(st.doc, cases), nil
}

// flowsOf are the states of service of some conditions.
func (st *state) flowsOf(condition string) ([]*flow.Case, error) {
	picked, err := st.pick(condition)
	if err != nil {
		return nil, err
	}
	flows := make([]*flow.Case, len(picked))
	return flows, each(picked, func(k, i int) (err error) { flows[k], err = st.flows[i](); return err })
}

// pick finds conditions by name or parts of it.
func (st *state) pick(condition string) ([]int, error) {
	states, err := st.condition(condition)
	if err != nil {
		return nil, err
	}
	var picked []int
	for i := range st.states {
		if slices.ContainsFunc(states, func(s study.State) bool { return s.Name == st.states[i].Name }) {
			picked = append(picked, i)
		}
	}
	return picked, nil
}

// judgement is the findings of the results that are shown.
func (s *session) judgement() (*review.Report, *state, Of, error) {
	for {
		st, stale, err := s.results()
		if err != nil {
			return nil, nil, Of{}, err
		}
		r, err := st.judged()
		if errors.Is(err, review.ErrStopped) {
			continue // the files have changed since: their findings are wanted
		}
		return r, st, Of{st.version, stale}, err
	}
}

func tally(fs []finding.Finding) map[string]int {
	t := finding.Tally(fs)
	m := map[string]int{}
	for _, v := range finding.Verdicts {
		m[v.String()] = t[v]
	}
	return m
}

// save writes files and shows what they come to. It is held against others who look at the files, so that the pages hear
// who changed them.
func (s *session) save(what string, writes []store.Write) error {
	return s.write(func() error { return s.store.Save(what, writes) })
}

func (s *session) write(do func() error) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if err := do(); err != nil {
		return err
	}
	s.renew("page")
	return nil
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
