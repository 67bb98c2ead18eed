// Package web holds the page of the workbench, as built. Building it needs Node.js; the binary can be built without it, and
// then has no page.
package web

import (
	"embed"
	"io/fs"
)

//go:embed all:dist
var files embed.FS

// Page is the built page, or nil where none was built.
func Page() fs.FS {
	page, err := fs.Sub(files, "dist")
	if err != nil {
		return nil
	}
	if _, err := fs.Stat(page, "index.html"); err != nil {
		return nil
	}
	return page
}
