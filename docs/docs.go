// Package docs holds those pages of the documentation that the program itself
// quotes.
package docs

import _ "embed"

// Methods is the page about methods, in Markdown.
//
//go:embed methods.md
var Methods string
