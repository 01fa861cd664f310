package intake

import (
	"fmt"
	"strings"
)

// column is a column, or a key in JSON Lines, with a fixed meaning.
type column int

const (
	colBenchmark column = iota
	colValue
	colMetric
	colUnit
	colBetter
	colProfile
	colMachine
	colSession
	colBlock
	colRun
	colTime
	colValid
	colReason
	colLook
	columnCount
)

var columnNames = [columnCount]string{"benchmark", "value", "metric", "unit", "better",
	"profile", "machine", "session", "block", "run", "time", "valid", "reason", "look"}

func (c column) String() string { return columnNames[c] }

// columnNamed finds a column by its name, case ignored.
func columnNamed(name string) (column, bool) {
	for c, known := range columnNames {
		if len(name) == len(known) && strings.EqualFold(name, known) {
			return column(c), true
		}
	}
	return 0, false
}

// mistypedColumn finds the known column that a name is probably meant for: one
// that is not there and is one edit away, or two where the known name is long
// and both begin with the same letter ("version" is not "session").
func mistypedColumn(name string, there func(column) bool) (column, bool) {
	name = strings.ToLower(name)
	best, bestEdits := columnCount, 3
	for c, known := range columnNames {
		if there(column(c)) || column(c) == colLook { // one letter from many words
			continue
		}
		most := 1
		if len(known) >= 5 && name != "" && name[0] == known[0] {
			most = 2
		}
		if edits := columnEdits(name, known, most); edits <= most && edits < bestEdits {
			best, bestEdits = column(c), edits
		}
	}
	return best, best < columnCount
}

// columnEdits counts the insertions, deletions, replacements and swaps of
// neighbours that turn a into b (optimal string alignment distance; Damerau
// 1964, Wagner and Fischer 1974). It gives up with most + 1 where the lengths
// alone say more.
func columnEdits(a, b string, most int) int {
	if len(a)-len(b) > most || len(b)-len(a) > most {
		return most + 1
	}
	before, above, row := make([]int, len(b)+1), make([]int, len(b)+1), make([]int, len(b)+1)
	for j := range above {
		above[j] = j
	}
	for i := 1; i <= len(a); i++ {
		row[0] = i
		for j := 1; j <= len(b); j++ {
			cost := 1
			if a[i-1] == b[j-1] {
				cost = 0
			}
			row[j] = min(above[j]+1, row[j-1]+1, above[j-1]+cost)
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				row[j] = min(row[j], before[j-2]+1)
			}
		}
		before, above, row = above, row, before
	}
	return above[len(b)]
}

// errMistyped is the error about a column that looks like a known one.
func errMistyped(what, name string, c column) error {
	return fmt.Errorf("%s %s is unknown and close to %q; write %q if that is meant, else rename it to something less alike",
		what, excerpt(name), c, c)
}
