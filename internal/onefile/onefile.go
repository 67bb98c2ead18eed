// Package onefile is a file system of one file held in memory.
package onefile

import (
	"bytes"
	"io/fs"
	"time"
)

// An FS holds one file in its root.
type FS struct {
	Name string
	Text []byte
}

// Open opens the file.
func (f FS) Open(name string) (fs.File, error) {
	if name != f.Name {
		return nil, &fs.PathError{Op: "open", Path: name, Err: fs.ErrNotExist}
	}
	return &file{bytes.NewReader(f.Text), f}, nil
}

type file struct {
	*bytes.Reader
	of FS
}

func (f *file) Stat() (fs.FileInfo, error) { return info{f.of}, nil }
func (f *file) Close() error               { return nil }

type info struct{ of FS }

func (i info) Name() string       { return i.of.Name }
func (i info) Size() int64        { return int64(len(i.of.Text)) }
func (i info) Mode() fs.FileMode  { return 0o444 }
func (i info) ModTime() time.Time { return time.Time{} }
func (i info) IsDir() bool        { return false }
func (i info) Sys() any           { return nil }
