package study

import "io/fs"

// Open reads and validates a study, and works out its conditions. doc is nil where the file could not be read at all; states
// are empty where something is wrong. Diagnostics come in order of place.
func Open(fsys fs.FS, name string) (doc *Document, states []State, diags Diagnostics) {
	doc, diags = Read(fsys, name)
	if doc == nil {
		return nil, nil, diags
	}
	whole := diags.Errors() == 0
	more := doc.Validate()
	diags = append(diags, more...)
	if whole && more.Errors() == 0 {
		var d Diagnostics
		states, d = doc.States()
		diags = append(diags, d...)
	}
	diags.Sort(doc.Files)
	return doc, states, diags
}
