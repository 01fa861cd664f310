package intake

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
)

type shape int

const (
	longShape shape = iota
	wideShape
	sheetShape
)

const headerExamples = `a header line such as "benchmark,unit,value", "run,tile-render [s],tile-render power [W]" or ` +
	`"benchmark,unit,Run 1,Run 2,Run 3"`

// shape tells the shape of a CSV file from its header; Read has the rules. It
// names the column of benchmarks of a sheet whose first cell is empty.
func (t *table) shape() (shape, error) {
	if t.allNumbers() {
		return 0, t.failHead(0, "found a row of numbers, expected %s; put one above", headerExamples)
	}
	if t.at[colValue] >= 0 {
		if t.at[colBenchmark] < 0 {
			return 0, t.without(colBenchmark)
		}
		return longShape, nil
	}
	runs, others, counted := 0, 0, true
	spelled := -1
	for i, name := range t.head {
		h, err := parseHeading(name)
		if err != nil {
			continue
		}
		if n, bare, ok := runHeading(h.name); ok {
			runs++
			counted = counted && n == runs
			if !bare && spelled < 0 {
				spelled = i
			}
		} else if _, known := columnNamed(h.name); !known && name != "" && !isStatistic(h.name) {
			others++
		}
	}
	switch {
	case runs > 0 && t.at[colBenchmark] >= 0:
		return sheetShape, nil
	case runs > 0 && t.head[0] == "" && others == 0 && (counted || spelled >= 0):
		t.at[colBenchmark] = 0
		t.unnamed = t.unnamed[1:]
		return sheetShape, nil
	case spelled >= 0:
		return 0, t.failHead(spelled, `found the run column %q but no column "benchmark"; head the column that holds the benchmarks' names `+
			`"benchmark"`, t.head[spelled])
	case t.at[colBenchmark] >= 0:
		return 0, t.without(colValue)
	}
	return wideShape, nil
}

// allNumbers reports whether the header holds numbers alone: a file without
// one. Behind an empty first cell they may number the runs of a sheet.
func (t *table) allNumbers() bool {
	if t.head[0] == "" {
		return false
	}
	for _, name := range t.head {
		if _, err := parseNumber(name, t.numbers.comma); name != "" && err != nil {
			return false
		}
	}
	return true
}

// without is the error of a long CSV that lacks a column it needs. A name
// that was probably meant for it is pointed at.
func (t *table) without(c column) error {
	for i, name := range t.head {
		if _, known := columnNamed(name); known {
			continue
		}
		if near, ok := mistypedColumn(name, t.has); ok && near == c {
			return t.failHead(i, "%w", errMistyped("column", name, c))
		}
		if h, err := parseHeading(name); err == nil && strings.EqualFold(h.name, c.String()) {
			return t.failHead(i, `found column %q, expected %q alone; put the unit into a column "unit"`, name, c)
		}
	}
	if c == colValue {
		return t.failHead(t.at[colBenchmark], `found column "benchmark" but neither a column "value" nor run columns such as "Run 1"; `+
			`expected %s`, headerExamples)
	}
	return t.failHead(t.at[colValue], `found column "value" but no column "benchmark"; expected %s`, headerExamples)
}

func (t *table) has(c column) bool { return t.at[c] >= 0 }

var runPattern = regexp.MustCompile(`^(run|r|#|)[ _.-]?#?\s*([0-9]{1,6})$`)

// runHeading reads the header of a run column of a sheet: Run 1, run1, R1, #1
// or 1. bare says that it is a number alone.
func runHeading(name string) (n int, bare, ok bool) {
	m := runPattern.FindStringSubmatch(strings.ToLower(name))
	if m == nil {
		return 0, false, false
	}
	n, err := strconv.Atoi(m[2])
	return n, name == m[2], err == nil
}

// isAverage reports whether a header or a row label announces an average of
// runs. Such a column is no run; the figure is worked out here.
func isAverage(name string) bool {
	// Asked for every row: most names end here.
	if name == "" || !strings.ContainsRune("aAmM", rune(name[0])) {
		return false
	}
	switch statisticName(name) {
	case "average", "avg", "mean", "median":
		return true
	}
	return false
}

// isStatistic reports whether a header of a sheet announces a figure drawn
// from the runs (common practice in spreadsheets, no source).
func isStatistic(name string) bool {
	switch statisticName(name) {
	case "min", "minimum", "max", "maximum", "best", "worst",
		"stdev", "std", "stddev", "std dev", "sd", "standard deviation", "variance", "cv",
		"spread", "range", "sum", "total", "%":
		return true
	}
	return isAverage(name)
}

var statisticMarks = strings.NewReplacer(".", "", "_", " ", "-", " ")

// statisticName brings "Std. Dev. (s)" down to "std dev".
func statisticName(name string) string {
	name = strings.ToLower(name)
	if i := strings.IndexByte(name, '('); i > 0 && strings.HasSuffix(name, ")") {
		name = name[:i]
	}
	return strings.TrimSpace(statisticMarks.Replace(name))
}

func errBareNumberHeading(name string) error {
	return fmt.Errorf("found the number %s in the header line, expected %s; put one above", excerpt(name), headerExamples)
}
