// Package schema holds the JSON Schemas of what tunegate prints.
package schema

import "embed"

// Files holds one file a form: comparison, gate, policy, reruns and more, each NAME.schema.json.
//
//go:embed *.schema.json
var Files embed.FS
