package intake

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"tunegate/compare/intake/internal/workbook"
)

// total is what a row of means or sums is held to.
type total struct {
	n, since        int // rows in all, and since the last row of sums
	sum, sumSince   float64
	least, greatest float64
}

func (t *total) add(v float64) {
	if t.n == 0 || v < t.least {
		t.least = v
	}
	if t.n == 0 || v > t.greatest {
		t.greatest = v
	}
	t.n++
	t.since++
	t.sum += v
	t.sumSince += v
}

// begin begins a section behind a row of sums.
func (t *total) begin() { t.since, t.sumSince = 0, 0 }

// is says what a value is of the values added, "" for neither.
func (t *total) is(value, tolerance float64) string {
	near := func(x float64) bool { return math.Abs(value-x) <= tolerance+1e-9*math.Abs(x) }
	switch {
	case t.n == 0:
		return ""
	case near(t.sum / float64(t.n)):
		return "the mean of the rows above"
	case near(t.sum):
		return "the sum of the rows above"
	case t.since > 0 && t.since < t.n && near(t.sumSince):
		return "the sum of some rows above"
	case t.since > 0 && t.since < t.n && near(t.sumSince/float64(t.since)):
		return "the mean of some rows above"
	}
	return ""
}

// isExtreme reports whether a value is the smallest or the largest of those added.
func (t *total) isExtreme(value, tolerance float64) bool {
	return math.Abs(value-t.least) <= tolerance || math.Abs(value-t.greatest) <= tolerance
}

// derivedKind is what the header of a column says that it is worked out as.
type derivedKind int

const (
	spreadKind derivedKind = iota // a spread or a percentage: not checked, since nobody takes it for a run
	meanKind
	sumKind
	extremeKind
)

func derivedKindOf(name string) derivedKind {
	word := plainWord(name)
	switch {
	case spreadWords[word]:
		return spreadKind
	case meanWords[word]:
		return meanKind
	case sumWords[word]:
		return sumKind
	}
	return extremeKind
}

// derivedColumn is a column of a sheet that is worked out from the runs.
type derivedColumn struct {
	index int
	kind  derivedKind
	what  string // what its values were found to be
}

// check holds the column's cell to the runs of the row in hand.
func (d *derivedColumn) check(t *table, runs []float64, digits int) error {
	if d.kind == spreadKind || len(runs) == 0 {
		return nil
	}
	value, tolerance, ok := t.derivedValue(d.index, digits)
	if !ok {
		return nil
	}
	near := func(x float64) bool { return math.Abs(value-x) <= tolerance+1e-9*math.Abs(x) }
	if sum := sumOf(runs); d.kind == meanKind && near(sum/float64(len(runs))) { // most are
		d.what = cmp.Or(d.what, "the mean of the runs")
		return nil
	}
	for _, c := range derivedFrom(runs) {
		if c.kind == d.kind && near(c.value) {
			d.what = cmp.Or(d.what, c.what+" of the runs")
			return nil
		}
	}
	expected := map[derivedKind]string{
		meanKind: "the mean or the median", sumKind: "the sum", extremeKind: "the smallest or the largest",
	}
	return t.fail(d.index, "found %s in column %q, which is not %s of the runs in this row; correct it, delete the column, or rename it if "+
		"it holds a run", excerpt(strings.TrimSpace(t.cells[d.index])), t.head[d.index], expected[d.kind])
}

// found says what the column holds.
func (d *derivedColumn) found() string { return cmp.Or(d.what, "drawn from the runs") }

type derivedValue struct {
	kind  derivedKind
	what  string
	value float64
}

// derivedFrom is what people work out from the runs of a row.
func derivedFrom(runs []float64) []derivedValue {
	sorted := slices.Sorted(slices.Values(runs))
	n := len(sorted)
	logs := 0.0
	for _, v := range sorted {
		logs += math.Log(v)
	}
	return []derivedValue{
		{meanKind, "the median", (sorted[(n-1)/2] + sorted[n/2]) / 2},
		{meanKind, "the geometric mean", math.Exp(logs / float64(n))}, // no number below zero, which nothing is near
		{sumKind, "the sum", sumOf(sorted)},
		{extremeKind, "the smallest", sorted[0]},
		{extremeKind, "the largest", sorted[n-1]},
	}
}

func sumOf(values []float64) float64 {
	sum := 0.0
	for _, v := range values {
		sum += v
	}
	return sum
}

// derivedValue reads a cell that is worked out from others, and by how much rounding
// may have moved it: half of its last decimal, and half of that of what it was made
// of, which has so many decimals. ok is false where it holds no number.
func (t *table) derivedValue(i, digits int) (value, tolerance float64, ok bool) {
	cell := strings.TrimSpace(t.cells[i])
	if cell == "" {
		return 0, 0, false
	}
	var n number
	plain := false
	if t.typed == nil && !t.numbers.comma {
		n.value, _, plain = plainDecimal(cell, '.')
	}
	if !plain {
		var err error
		if n, err = t.number(i, cell); err != nil {
			return 0, 0, false
		}
	}
	if n.doubt && t.numbers.mark.mark != 0 && t.numbers.mark.mark != n.mark {
		return 0, 0, false
	}
	tolerance = 0.5 * math.Pow10(-t.decimalsOf(i))
	if t.typed == nil {
		tolerance += 0.5 * math.Pow10(-digits)
	}
	return n.value, tolerance, true
}

// decimalsOf counts the decimals that a cell is written with.
func (t *table) decimalsOf(i int) int {
	cell := t.cells[i]
	if t.typed != nil && t.typed[i].Kind == workbook.Duration {
		return 3
	}
	for n := range min(len(cell), 16) {
		switch c := cell[len(cell)-1-n]; {
		case c == '.' || c == ',':
			return n
		case c < '0' || c > '9':
			return decimalsBefore(cell[:len(cell)-n])
		}
	}
	return 0
}

// decimalsBefore counts them where something else stands behind the number.
func decimalsBefore(cell string) int {
	at := strings.LastIndexAny(cell, ".,")
	if at < 0 {
		return 0
	}
	n := 0
	for at++; at < len(cell) && cell[at] >= '0' && cell[at] <= '9'; at++ {
		n++
	}
	return min(n, 15)
}

// described says how the columns are read, and whether that is plain from their
// headers.
func (t *table) described(runs []int, s shape) (text string, plain bool) {
	var b strings.Builder
	b.WriteString(s.String())
	plain = true
	for c, i := range t.at {
		if i >= 0 && !strings.EqualFold(t.head[i], columnNames[c]) {
			fmt.Fprintf(&b, "; %s is %s", t.columnLabel(i), columnNames[c])
			plain = plain && t.head[i] == ""
		}
	}
	if len(runs) > 0 {
		fmt.Fprintf(&b, "; runs are %q", t.head[runs[0]])
		if last := runs[len(runs)-1]; len(runs) > 1 {
			fmt.Fprintf(&b, " to %q", t.head[last])
		}
	}
	return b.String(), plain
}

// columnLabel is the header of a column in quotes, or where it stands.
func (t *table) columnLabel(i int) string {
	if t.head[i] == "" {
		return "column " + t.columnName(i)
	}
	return excerpt(t.head[i])
}
