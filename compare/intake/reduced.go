package intake

import (
	"slices"
	"strconv"
	"strings"

	"tunegate/compare"
)

// The columns of a long CSV whose rows an engine has reduced. They have a meaning only
// where there is a column "runs". Numbers have a decimal point, whatever separates the
// columns.
const (
	reducedRuns = iota
	reducedSessions
	reducedMean
	reducedSpread
	reducedSmallest
	reducedLargest
	reducedCount
)

// reducedNames are what they are headed.
var reducedNames = [reducedCount]string{"runs", "sessions", "mean", "spread", "smallest", "largest"}

// reducedColumns say where they stand, -1 where not; nil where no row is reduced.
type reducedColumns []int

func (t *table) reducedColumns() reducedColumns {
	at := make(reducedColumns, reducedCount)
	for k, name := range reducedNames {
		at[k] = slices.IndexFunc(t.head, func(head string) bool { return strings.EqualFold(head, name) })
	}
	if at[reducedRuns] < 0 {
		return nil
	}
	return at
}

// reduction reads what the value of the row in hand stands for; nil for a single run,
// and where the cell of the value is empty.
func (t *table) reduction(at reducedColumns) (*compare.Reduction, error) {
	if at == nil || t.cell(colValue) == "" || strings.TrimSpace(t.cells[at[reducedRuns]]) == "" {
		return nil, nil
	}
	value, err := t.plain(t.at[colValue], 0)
	if err != nil {
		return nil, err
	}
	of := [reducedCount]float64{reducedMean: value, reducedSmallest: value, reducedLargest: value}
	noLargest := at[reducedLargest] < 0 || strings.TrimSpace(t.cells[at[reducedLargest]]) == ""
	for k, i := range at {
		if of[k], err = t.plain(i, of[k]); err != nil {
			return nil, err
		}
	}
	const most = 1 << 53
	wrong := func(k int, expected string) (*compare.Reduction, error) {
		return nil, t.fail(at[k], "found %s under %q, expected %s", excerpt(strings.TrimSpace(t.cells[at[k]])), reducedNames[k], expected)
	}
	whole := func(v float64) bool { return v == float64(int(v)) }
	switch runs := of[reducedRuns]; {
	case !(runs >= 1 && runs <= most) || !whole(runs):
		return wrong(reducedRuns, "how many runs the value stands for")
	case !(of[reducedSessions] >= 0 && of[reducedSessions] <= runs) || !whole(of[reducedSessions]):
		return wrong(reducedSessions, "of how many sessions the runs are")
	case !(of[reducedSpread] >= 0):
		return wrong(reducedSpread, "a standard deviation")
	case of[reducedSmallest] > value:
		return wrong(reducedSmallest, "at most the value")
	case of[reducedLargest] < value:
		return wrong(reducedLargest, "at least the value")
	}
	return &compare.Reduction{Runs: int(of[reducedRuns]), Sessions: int(of[reducedSessions]), Mean: of[reducedMean],
		Spread: of[reducedSpread], Smallest: of[reducedSmallest], Largest: of[reducedLargest], NoLargest: noLargest && of[reducedRuns] > 1}, nil
}

// plain reads a number that an engine has written; an empty cell, or none, is the
// default.
func (t *table) plain(i int, otherwise float64) (float64, error) {
	if i < 0 {
		return otherwise, nil
	}
	cell := strings.TrimSpace(t.cells[i])
	if cell == "" {
		return otherwise, nil
	}
	v, err := strconv.ParseFloat(cell, 64)
	if err != nil || !(v > -maxMagnitude && v < maxMagnitude) {
		return 0, t.fail(i, "found %s, expected a number such as 412.3, as an engine writes it", excerpt(cell))
	}
	return v, nil
}
