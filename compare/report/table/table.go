// Package table is a table of results without a form: columns, and rows of cells
// that are numbers, words or verdicts. It is written as CSV, or with other tables
// and a document as a workbook, so that both hold the same.
//
// It knows nothing of commands. Package report builds the tables.
package table

import (
	"math"
	"strings"

	"tunegate/compare/report/doc"
)

// Kind is what the cells of a column hold. Any of them may be empty.
type Kind string

// The kinds of columns.
const (
	Words   Kind = "text"
	Number  Kind = "number"
	Whole   Kind = "whole number"
	YesNo   Kind = "yes or no"
	Verdict Kind = "verdict"
)

// Column is a column with a name that is stable and says what it holds.
type Column struct {
	Name    string `json:"name"`
	Kind    Kind   `json:"kind"`
	Meaning string `json:"meaning"`
}

// Table is a table of results. Each row has as many cells as there are columns.
type Table struct {
	Name    string // of its sheet in a workbook, at most 31 characters
	Columns []Column
	Rows    [][]Cell
}

// Cell is a value of a table. The zero value is an empty cell.
type Cell struct {
	text   string
	number *float64
	format Format
	tone   doc.Tone
}

// Format is how a spreadsheet shows a number.
type Format struct {
	Places  int    // behind the point; below zero for as many as it takes
	Signed  bool   // with a plus above zero
	Percent bool   // the number is a fraction and is shown in per cent; CSV holds the per cent
	Unit    string // shown behind the number
	Exact   bool   // a reading, with all of its digits in a CSV
}

// General shows a number with as many digits as it takes.
var General = Format{Places: -1}

// Text is a cell of words.
func Text(s string) Cell { return Cell{text: Clean(s)} }

// Label is a cell with a text as it is, for data that are read back.
func Label(s string) Cell { return Cell{text: s} }

// Toned is a cell of words that a workbook shows as a verdict, in the colour of the
// tone.
func Toned(s string, tone doc.Tone) Cell { return Cell{text: Clean(s), tone: tone} }

// Num is a number; a cell without one where it is infinite or none.
func Num(v float64, f Format) Cell {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return Cell{}
	}
	v += 0 // of two zeros the one without a sign
	return Cell{number: &v, format: f}
}

// Opt is the number that p points at; an empty cell for nil.
func Opt(p *float64, f Format) Cell {
	if p == nil {
		return Cell{}
	}
	return Num(*p, f)
}

// Int is a whole number.
func Int(n int) Cell { return Num(float64(n), Format{}) }

// Flag is yes or no. "true" would be turned into a spreadsheet's own word for it.
func Flag(b bool) Cell {
	if b {
		return Cell{text: "yes"}
	}
	return Cell{text: "no"}
}

// Clean makes a text harmless and draws its arrows.
func Clean(s string) string { return doc.Clean(strings.ReplaceAll(s, doc.Arrow, "→")) }

// Lines joins texts into one cell.
func Lines(texts []string) Cell { return Text(strings.Join(texts, "; ")) }
