// Package templates holds the pages and the wording of the papers, embedded in
// the program. A maker may lay a changed copy of a file of papers/ in a folder
// of their own; package paper reads it in place of the one here.
package templates

import "embed"

// FS has the two folders papers (wording of sheets, text/template) and pages
// (HTML). "all:" keeps the partials whose names start with "_".
//
//go:embed all:papers all:pages
var FS embed.FS
