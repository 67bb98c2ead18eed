package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"
)

// A shared buffer may be written by the command while the test reads it.
type shared struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (s *shared) Write(p []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.b.Write(p)
}

func (s *shared) String() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.b.String()
}

// check --watch checks again when the study changes, goes on after a mistake,
// and ends with Ctrl-C.
func TestWatch(t *testing.T) {
	dir := copyExamples(t)
	file := filepath.Join(dir, "first-study", "study.yaml")
	text := read1(t, file)
	var out, errs shared
	done := make(chan int)
	go func() { done <- run([]string{"check", file, "--watch"}, &out, &errs) }()
	wait := func(what string) {
		t.Helper()
		for end := time.Now().Add(20 * time.Second); time.Now().Before(end); time.Sleep(20 * time.Millisecond) {
			if strings.Contains(out.String(), what) {
				return
			}
		}
		t.Fatalf("no %q in:\n%s%s", what, out.String(), errs.String())
	}
	wait("First study: 2 conditions")
	write(t, file, strings.Replace(text, "12.47 kV }", "12.47 }", 1))
	wait("12.47 has no unit")
	write(t, file, strings.Replace(text, "study: First study", "study: Second study", 1))
	wait("Second study: 2 conditions")
	if err := syscall.Kill(os.Getpid(), syscall.SIGINT); err != nil {
		t.Fatal(err)
	}
	select {
	case code := <-done:
		if code != 0 {
			t.Errorf("exit code %d, want 0", code)
		}
	case <-time.After(20 * time.Second):
		t.Fatal("it goes on after Ctrl-C")
	}
}
