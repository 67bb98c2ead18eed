// Package examples embeds the demonstration studies, all invented, so that
// commands and tests can use them without their files.
package examples

import "embed"

// Files holds the studies, one folder each.
//
//go:embed */*.yaml
var Files embed.FS
