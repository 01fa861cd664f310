// Package schema holds the JSON Schemas of what tunegate prints.
package schema

import "embed"

// Files holds one file a form: comparison.schema.json.
//
//go:embed *.schema.json
var Files embed.FS
