// Package schema holds the JSON Schemas of what tunegate prints, and the columns of its CSV.
package schema

import "embed"

// Files holds one file a form: comparison, gate, policy, reruns and more, each NAME.schema.json;
// and columns.json, the columns of each command's CSV.
//
//go:embed *.schema.json columns.json
var Files embed.FS
