// Package server gives studies to pages: an HTTP API described by OpenAPI, live events, and the page itself. It computes
// nothing: it asks the packages below, once for each state of the files, and passes on what they say.
//
// It is made for one person on one machine. It answers to its own host names alone, refuses writes from other origins,
// reads and writes nothing outside of the folders of its studies, and wants a token where it listens to more than the
// loopback interface.
package server

import (
	"context"
	"crypto/sha256"
	"crypto/subtle"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"net"
	"net/http"
	"os"
	"path"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"sync"
	"time"

	"github.com/danielgtaylor/huma/v2"
	"github.com/danielgtaylor/huma/v2/adapters/humago"
	"github.com/klauspost/compress/gzhttp"
)

const mostBody = 8 << 20 // bytes of a request

// Options say what is served, and to whom.
type Options struct {
	Path    string   // a study file, a folder with a study.yaml, or a folder of such folders
	Hosts   []string // host names it answers to, without port; localhost, 127.0.0.1 and ::1 always
	Token   string   // wanted in every request, if not ""
	Page    fs.FS    // the built page; nil: none was built
	Program string   // name and version
	Poll    time.Duration
}

// A Server serves studies.
type Server struct {
	sessions []*session
	program  string
	hosts    []string
	token    string
	page     fs.FS
	ending   chan struct{}
	end      func() // closes it
	stop     context.CancelFunc
	handler  http.Handler
	api_     huma.API
}

// New opens the studies of a path.
func New(o Options) (*Server, error) {
	s := &Server{program: o.Program, token: o.Token, page: o.Page, ending: make(chan struct{}), hosts: append([]string{"localhost", "127.0.0.1", "::1"}, o.Hosts...)}
	s.end = sync.OnceFunc(func() { close(s.ending) })
	mains, err := find(o.Path)
	if err != nil {
		return nil, err
	}
	ctx, stop := context.WithCancel(context.Background())
	s.stop = stop
	if o.Poll == 0 {
		o.Poll = 400 * time.Millisecond
	}
	for _, m := range mains {
		id := filepath.Base(filepath.Dir(m))
		if b := filepath.Base(m); b != "study.yaml" {
			id += "-" + strings.TrimSuffix(b, filepath.Ext(b))
		}
		for slices.ContainsFunc(s.sessions, func(x *session) bool { return x.id == id }) {
			id += "-2"
		}
		x, err := openSession(id, filepath.Dir(m), filepath.Base(m))
		if err != nil {
			s.Close()
			return nil, fmt.Errorf("open %s: %w", m, err)
		}
		s.sessions = append(s.sessions, x)
		go x.poll(ctx, o.Poll)
	}
	s.handler = s.routes()
	return s, nil
}

// find lists the main files that a path means.
func find(from string) ([]string, error) {
	info, err := os.Stat(from)
	if err != nil {
		return nil, err
	}
	if from, err = filepath.EvalSymlinks(from); err != nil {
		return nil, err
	}
	if from, err = filepath.Abs(from); err != nil {
		return nil, err
	}
	if !info.IsDir() {
		return []string{from}, nil
	}
	if main := filepath.Join(from, "study.yaml"); isFile(main) {
		return []string{main}, nil
	}
	entries, err := os.ReadDir(from)
	if err != nil {
		return nil, err
	}
	var list []string
	for _, e := range entries {
		if main := filepath.Join(from, e.Name(), "study.yaml"); e.IsDir() && isFile(main) {
			list = append(list, main)
		}
	}
	if len(list) == 0 {
		return nil, fmt.Errorf("%s holds no study.yaml, and no folder with one: give a study file, its folder, or a folder of studies", from)
	}
	return list, nil
}

func isFile(path string) bool {
	info, err := os.Lstat(path)
	return err == nil && info.Mode().IsRegular()
}

// Close ends what runs.
func (s *Server) Close() {
	s.stop()
	s.end()
	for _, x := range s.sessions {
		x.stopExamining()
		x.store.Close()
	}
}

// ServeHTTP implements http.Handler.
func (s *Server) ServeHTTP(w http.ResponseWriter, r *http.Request) { s.handler.ServeHTTP(w, r) }

// OpenAPI is the description of the API, as JSON.
func (s *Server) OpenAPI() ([]byte, error) { return s.api_.OpenAPI().MarshalJSON() }

// schemaName tells types of one name apart by their package.
func schemaName(t reflect.Type, hint string) string {
	name := huma.DefaultSchemaNamer(t, hint)
	for t.Kind() == reflect.Pointer || t.Kind() == reflect.Slice {
		t = t.Elem()
	}
	pkg := path.Base(t.PkgPath())
	if t.Name() == "" || pkg == "server" || pkg == "." || strings.HasPrefix(name, "Request") {
		return name
	}
	return strings.ToUpper(pkg[:1]) + pkg[1:] + name
}

func (s *Server) routes() http.Handler {
	mux := http.NewServeMux()
	config := huma.DefaultConfig("Feederwright", "1")
	config.Info.Description = "Studies of medium-voltage feeders: what they come to, and their files."
	config.DocsPath, config.SchemasPath = "", ""
	config.OpenAPIPath = "/openapi"
	config.CreateHooks = nil // no links to schemas in answers
	config.Components = &huma.Components{Schemas: huma.NewMapRegistry("#/components/schemas/", schemaName)}
	s.api_ = humago.New(mux, config)
	s.api(s.api_)
	mux.Handle("/", http.HandlerFunc(s.static))

	zip, err := gzhttp.NewWrapper(gzhttp.MinSize(1024), gzhttp.ExceptContentTypes([]string{"text/event-stream", "font/woff2", "image/png",
		"application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"}))
	if err != nil {
		panic(err) // the options are constants
	}
	zipped := zip(mux)
	inner := http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if strings.HasSuffix(r.URL.Path, "/events") {
			mux.ServeHTTP(w, r)
			return
		}
		zipped.ServeHTTP(w, r)
	})
	guard := http.NewCrossOriginProtection()
	return s.headers(s.host(s.entry_(guard.Handler(inner))))
}

// policy: scripts and everything else from here alone; styles may stand in the page, as the component kit sets them.
const policy = "default-src 'none'; script-src 'self'; style-src 'self' 'unsafe-inline'; img-src 'self' data: blob:; font-src 'self'; connect-src 'self'; " +
	"form-action 'none'; base-uri 'none'; frame-ancestors 'none'"

func (s *Server) headers(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", policy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "no-referrer")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		if strings.HasPrefix(r.URL.Path, "/api/") {
			h.Set("Cache-Control", "no-store")
		}
		r.Body = http.MaxBytesReader(w, r.Body, mostBody)
		next.ServeHTTP(w, r)
	})
}

// host refuses names that are not ours: a page elsewhere could have its own name lead to this machine.
func (s *Server) host(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		name, _, err := net.SplitHostPort(r.Host)
		if err != nil {
			name = strings.Trim(r.Host, "[]")
		}
		if !slices.Contains(s.hosts, strings.ToLower(name)) {
			http.Error(w, "this server does not answer to the name "+name, http.StatusMisdirectedRequest)
			return
		}
		next.ServeHTTP(w, r)
	})
}

// entry_ wants the token, where there is one: in a header, or once in the address, which sets a cookie for the page.
func (s *Server) entry_(next http.Handler) http.Handler {
	// Cookies know no ports: servers with different tokens on one machine have different ones.
	h := sha256.Sum256([]byte("cookie of " + s.token))
	cookie := "feederwright-" + hex.EncodeToString(h[:4])
	same := func(given string) bool { return subtle.ConstantTimeCompare([]byte(given), []byte(s.token)) == 1 }
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if s.token == "" {
			next.ServeHTTP(w, r)
			return
		}
		if bearer, ok := strings.CutPrefix(r.Header.Get("Authorization"), "Bearer "); ok && same(bearer) {
			next.ServeHTTP(w, r)
			return
		}
		if c, err := r.Cookie(cookie); err == nil && same(c.Value) {
			next.ServeHTTP(w, r)
			return
		}
		if given := r.URL.Query().Get("token"); given != "" && same(given) && r.Method == http.MethodGet {
			http.SetCookie(w, &http.Cookie{Name: cookie, Value: s.token, Path: "/", HttpOnly: true, SameSite: http.SameSiteStrictMode})
			http.Redirect(w, r, path.Clean("/"+r.URL.Path), http.StatusSeeOther)
			return
		}
		http.Error(w, "this address wants the token that feederwright serve printed", http.StatusUnauthorized)
	})
}

// static gives the page. Its assets have their hash in their names and never change; the page itself is asked for every time.
func (s *Server) static(w http.ResponseWriter, r *http.Request) {
	if r.Method != http.MethodGet && r.Method != http.MethodHead {
		http.Error(w, "only the API takes this", http.StatusMethodNotAllowed)
		return
	}
	if strings.HasPrefix(r.URL.Path, "/api/") {
		http.Error(w, "the API has no "+r.URL.Path+"; see /openapi.json", http.StatusNotFound)
		return
	}
	if s.page == nil {
		w.Header().Set("Content-Type", "text/plain; charset=utf-8")
		w.WriteHeader(http.StatusServiceUnavailable)
		fmt.Fprintln(w, "This binary was built without the page. With Node.js 20 or later: make build. The API is there: /openapi.json")
		return
	}
	name := strings.TrimPrefix(r.URL.Path, "/")
	if info, err := fs.Stat(s.page, name); name == "" || err != nil || info.IsDir() {
		if strings.HasPrefix(name, "assets/") {
			http.NotFound(w, r)
			return
		}
		name = "index.html"
	}
	w.Header().Set("Cache-Control", "no-cache")
	if strings.HasPrefix(name, "assets/") {
		w.Header().Set("Cache-Control", "public, max-age=31536000, immutable")
	}
	http.ServeFileFS(w, r, s.page, name)
}

// Run serves on a listener until the context ends, and then lets requests finish.
func (s *Server) Run(ctx context.Context, l net.Listener) error {
	h := &http.Server{Handler: s, ReadHeaderTimeout: 10 * time.Second, ReadTimeout: time.Minute, IdleTimeout: 2 * time.Minute, MaxHeaderBytes: 64 << 10}
	done := make(chan error, 1)
	go func() { done <- h.Serve(l) }()
	select {
	case err := <-done:
		s.Close()
		return err
	case <-ctx.Done():
	}
	s.end() // events end, so that connections do
	end, cancel := context.WithTimeout(context.Background(), 5*time.Second)
	defer cancel()
	err := h.Shutdown(end)
	s.Close()
	if errors.Is(err, context.DeadlineExceeded) {
		return h.Close()
	}
	return err
}
