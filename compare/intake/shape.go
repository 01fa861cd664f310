package intake

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"tunegate/compare"
	"tunegate/compare/intake/internal/workbook"
	"tunegate/compare/internal/pattern"
)

type shape int

const (
	longShape shape = iota
	wideShape
	sheetShape
)

func (s shape) String() string {
	return [...]string{"one row a value", "one row a run", "benchmarks down, runs across"}[s]
}

const headerExamples = `a header line such as "benchmark,unit,value", "run,tile-render [s],tile-render power [W]" or ` +
	`"benchmark,unit,Run 1,Run 2,Run 3"`

// headCell is what a cell of a header says.
type headCell struct {
	text string // as it is read: mended, and mapped
	heading
	err    error // of the heading
	column column
	known  bool // as column is named, or by a word for it
	word   bool // by a word for it
	run    runHead
}

// runHead is a header that may be that of a run: Run 1, Lauf 2, 3rd pass, #4, 5.
type runHead struct {
	stem   string // as foldWord leaves it, "" for a number alone
	number int    // 0 for no run
	strong bool   // the stem says run, and nothing else
}

var (
	runBehind = pattern.Lazy(`^(.*?)[ _.#-]*([0-9]{1,6})[.)]?$`)
	runLetter = pattern.Lazy(`^(\pL{3,})[ _-]+([a-h])$`)
	runAhead  = pattern.Lazy(`^([0-9]{1,6})(?:st|nd|rd|th|er|re|e|eme|o|a|º|ª)?[.)]? +(\pL[\pL ]*)$`)
)

// runHeadOf reads the header of a column that may hold one run of each row.
func runHeadOf(name string) runHead {
	folded := foldWord(name)
	stem, digits := "", ""
	if m := runBehind().FindStringSubmatch(folded); m != nil {
		stem, digits = strings.TrimRight(m[1], " #"), m[2]
		if stem == "" && strings.Contains(folded, "#") {
			stem = "#"
		}
	} else if m := runAhead().FindStringSubmatch(folded); m != nil {
		stem, digits = m[2], m[1]
	} else if m := runLetter().FindStringSubmatch(folded); m != nil && strongRunWords[m[1]] {
		return runHead{m[1], int(m[2][0]-'a') + 1, true}
	} else {
		return runHead{}
	}
	n, err := strconv.Atoi(digits)
	if err != nil || n == 0 || stem != "" && stem != "#" && !strings.ContainsFunc(stem, unicode.IsLetter) { // 267.2 is no run
		return runHead{}
	}
	return runHead{stem, n, strongRunWords[stem]}
}

// readHead reads the cells of a header.
func readHeads(cells []string, opt *options) []headCell {
	heads := make([]headCell, len(cells))
	for i, cell := range cells {
		h := &heads[i]
		h.text = opt.mapped(mendMojibake(unbroken(cell)))
		if h.text == "" {
			continue
		}
		h.heading, h.err = parseHeading(h.text)
		if h.err == nil {
			h.heading = unitInWords(h.heading)
		}
		if h.column, h.known = columnNamed(h.text); !h.known {
			h.column, h.word = columnWords[foldWord(h.text)]
			h.known = h.word
		}
		if h.err == nil && !h.known {
			h.run = runHeadOf(h.name)
		}
	}
	return heads
}

// unbroken is a text without line breaks, which a header may have for want of width.
func unbroken(cell string) string {
	if strings.ContainsAny(cell, "\n\r") {
		return strings.Join(strings.Fields(cell), " ")
	}
	return strings.TrimSpace(cell)
}

// unitInWords takes a known unit off the end of a header: Zeit (s), power in W, t / s.
func unitInWords(h heading) heading {
	if h.unit != "" || h.better != "" {
		return h
	}
	if i := strings.LastIndexByte(h.name, '('); i > 0 && strings.HasSuffix(h.name, ")") {
		if unit, known := knownUnit(h.name[i+1 : len(h.name)-1]); known {
			h.name, h.unit = strings.TrimSpace(h.name[:i]), unit
		}
		return h
	}
	for _, mark := range [...]string{" in ", " / ", ", "} {
		if i := strings.LastIndex(h.name, mark); i > 0 {
			if unit, known := knownUnit(h.name[i+len(mark):]); known {
				h.name, h.unit = strings.TrimSpace(h.name[:i]), unit
				return h
			}
		}
	}
	return h
}

// unitNamed spells a unit as it is spelled here, also where the text has a word of
// another language for it, or is mojibake.
func unitNamed(text string) string {
	text = strings.TrimSpace(mendMojibake(text))
	unit := compare.CanonicalUnit(text)
	if compare.TraitsOf(unit).Better == "" {
		if word, ok := unitWords[foldWord(text)]; ok {
			return word
		}
	}
	return unit
}

// knownUnit is a unit that says which direction is better, or the plain per cent.
func knownUnit(text string) (unit string, known bool) {
	if text == "" || len(text) > 40 {
		return "", false
	}
	unit = unitNamed(text)
	return unit, unit == "%" || compare.TraitsOf(unit).Better != ""
}

// headings is a header with what its cells mean in the shape that the table has.
type headings struct {
	heads   []headCell
	columns []int // of the grid; nil: all
	shape   shape
	at      [columnCount]int // where the known columns stand, -1 where not
	runs    []bool           // which columns hold runs
	sure    bool             // it is a header beyond doubt
	err     error            // why it cannot be one
	errAt   int
}

// columnName is what a person calls a column: its number, or its letters in a
// workbook.
func (h *headings) columnName(i int, separator byte) string {
	if h.columns != nil {
		i = h.columns[i]
	}
	if separator == 0 {
		return compare.ColumnLetters(i + 1)
	}
	return fmt.Sprint(i + 1)
}

func (h *headings) fail(i int, format string, args ...any) *headings {
	if h.err == nil {
		h.err, h.errAt = fmt.Errorf(format, args...), i
	}
	return h
}

// headingsOf tells the shape of a table from its header and the rows below; Read has
// the rules.
func headingsOf(heads []headCell, columns []int, below []placedRow, separator byte) *headings {
	h := &headings{heads: heads, columns: columns, shape: wideShape, runs: make([]bool, len(heads))}
	for c := range h.at {
		h.at[c] = -1
	}
	if allNumbers(heads) {
		return h.fail(0, "found a row of numbers, expected %s; put one above", headerExamples)
	}
	for i, cell := range heads {
		if cell.known && !cell.word {
			if first := h.at[cell.column]; first >= 0 {
				h.fail(i, "column %s %q is named like column %s %q; rename or delete one of the two", h.columnName(i, separator), cell.text,
					h.columnName(first, separator), heads[first].text)
				continue
			}
			h.at[cell.column] = i
		}
	}
	words := h.at // with the words of other languages
	for i, cell := range heads {
		if cell.word && words[cell.column] < 0 && (!dateWords[foldWord(cell.text)] || datePattern().MatchString(h.firstBelow(i, below))) {
			words[cell.column] = i
		}
	}
	exactValue := h.at[colValue] >= 0
	runs, strong := h.findRuns(words, below, separator != ',')
	benchmark := h.at[colBenchmark]
	for c := range h.at {
		if column(c) != colBenchmark && column(c) != colValue && (words[c] != benchmark || benchmark < 0) {
			h.at[c] = words[c]
		}
	}
	if !runs && words[colValue] >= 0 && words[colBenchmark] < 0 {
		words[colBenchmark] = h.nameColumn(len(heads), below, separator != ',')
	}
	switch {
	case exactValue || !runs && words[colValue] >= 0 && words[colBenchmark] >= 0:
		h.at[colValue], h.at[colBenchmark] = words[colValue], words[colBenchmark]
		clear(h.runs)
		h.shape, h.sure = longShape, h.at[colBenchmark] >= 0
		if !h.sure {
			return h.without(colBenchmark)
		}
		if h.at[colRun] == h.at[colBenchmark] {
			h.at[colRun] = -1
		}
	case runs:
		h.shape, h.sure = sheetShape, true
	case strong >= 0:
		return h.fail(strong, `found the run column %q but no column "benchmark"; head the column that holds the benchmarks' names `+
			`"benchmark"`, heads[strong].text)
	case benchmark >= 0 || words[colBenchmark] >= 0 && h.beginsWithText(words[colBenchmark], below, separator != ','):
		if h.at[colBenchmark] = words[colBenchmark]; !h.statesUnit() {
			return h.withoutUnits(below, separator != ',')
		}
		h.sure = true
	default:
		h.sure = h.statesUnit() && !slices.ContainsFunc(heads, func(cell headCell) bool {
			_, err := (&decimals{comma: true}).read(cell.text)
			return err == nil // such as that of a run below a header
		})
	}
	return h
}

// allNumbers reports whether a header holds numbers alone: a file without one. Behind
// an empty first cell they may number the runs of a sheet.
func allNumbers(heads []headCell) bool {
	for i, cell := range heads {
		if i == 0 && cell.text == "" {
			return false
		}
		if _, err := (&decimals{comma: true}).read(cell.text); cell.text != "" && err != nil {
			return false
		}
	}
	return true
}

// findRuns finds the columns of a sheet that hold runs, and the one of the benchmarks,
// also one that is headed otherwise, left of the runs, and holds text. strong is a
// column that holds a run by its header alone, -1 for none.
func (h *headings) findRuns(words [columnCount]int, below []placedRow, comma bool) (found bool, strong int) {
	strong = -1
	others, bare := 0, 0
	counted := true
	stems := map[string]int{}
	for i, cell := range h.heads {
		switch {
		case cell.err != nil || cell.text == "":
		case cell.run.number > 0 && cell.run.strong:
			if strong < 0 {
				strong = i
			}
		case cell.run.number > 0 && cell.run.stem == "":
			bare++
			counted = counted && cell.run.number == bare
		case cell.run.number > 0:
			stems[cell.run.stem]++
			others++
		case !cell.known && !isStatistic(cell.name):
			others++
		}
	}
	first := -1
	mark := func(wanted func(runHead) bool) {
		for i, cell := range h.heads {
			if cell.run.number > 0 && wanted(cell.run) {
				h.runs[i] = true
				if first < 0 {
					first = i
				}
			}
		}
	}
	weak := ""
	for stem, n := range stems {
		if n > max(1, stems[weak]) || n > 1 && n == stems[weak] && stem < weak {
			weak = stem
		}
	}
	switch {
	case strong >= 0:
		mark(func(r runHead) bool { return r.strong || r.stem == "" })
	case bare > 0 && (h.at[colBenchmark] >= 0 || h.heads[0].text == "" && others == 0 && counted || bare > 1 && counted):
		mark(func(r runHead) bool { return r.stem == "" })
	case weak != "":
		mark(func(r runHead) bool { return r.stem == weak })
	default:
		return false, -1
	}
	if strong < 0 && !h.holdNumbers(below, comma) {
		clear(h.runs)
		return false, -1
	}
	switch {
	case h.at[colBenchmark] >= 0:
		return true, strong
	case words[colBenchmark] >= 0 && words[colBenchmark] < first:
		h.at[colBenchmark] = words[colBenchmark]
		return true, strong
	case h.heads[0].text == "" && others == 0 && (strong >= 0 || counted):
		h.at[colBenchmark] = 0
		return true, strong
	}
	if h.at[colBenchmark] = h.nameColumn(first, below, comma); h.at[colBenchmark] >= 0 {
		return true, strong
	}
	clear(h.runs)
	return false, strong
}

// holdNumbers reports whether no text stands in the columns of runs in the next row.
func (h *headings) holdNumbers(below []placedRow, comma bool) bool {
	for i, isRun := range h.runs {
		k := i
		if h.columns != nil {
			k = h.columns[i]
		}
		if isRun && len(below) > 0 && k < len(below[0].cells) && strings.TrimSpace(below[0].cells[k]) != "" &&
			!isNumberCell(below[0].gridRow, k, comma) {
			return false
		}
	}
	return true
}

// nameColumn is the first of some columns that holds a text in every row and has no
// other use, -1 for none.
func (h *headings) nameColumn(before int, below []placedRow, comma bool) int {
	for i, cell := range h.heads[:before] {
		near, mistyped := mistypedColumn(cell.text, func(c column) bool { return h.at[c] >= 0 })
		if mistyped && near == colBenchmark {
			continue // its own error says so
		}
		if (!cell.known || cell.word && cell.column == colRun) && cell.err == nil && cell.unit == "" && h.holdsNames(i, below, comma) {
			return i
		}
	}
	return -1
}

// holdsNames reports whether a column holds a text in every row that has more than
// one cell.
func (h *headings) holdsNames(i int, below []placedRow, comma bool) bool {
	names := 0
	if h.columns != nil {
		i = h.columns[i]
	}
	for _, row := range below {
		if n, _ := row.filled(); n < 2 {
			continue
		}
		if i >= len(row.cells) || isNumberCell(row.gridRow, i, comma) || strings.TrimSpace(row.cells[i]) == "" {
			return false
		}
		names++
	}
	return names > 0
}

// isNumberCell reports whether a cell holds a number, also one with a unit.
func isNumberCell(row gridRow, i int, comma bool) bool {
	switch row.kind(i) {
	case workbook.Number, workbook.Percent, workbook.Duration:
		return true
	case workbook.Text:
		cell := strings.TrimSpace(row.cells[i])
		_, err := (&decimals{comma: comma}).read(cell)
		return cell != "" && err == nil
	}
	return false
}

// without is the error of a long CSV that lacks a column it needs. A name
// that was probably meant for it is pointed at.
func (h *headings) without(c column) *headings {
	has := func(c column) bool { return h.at[c] >= 0 }
	for i, cell := range h.heads {
		if cell.known {
			continue
		}
		if near, ok := mistypedColumn(cell.text, has); ok && near == c {
			return h.fail(i, "%w", errMistyped("column", cell.text, c))
		}
		if cell.err == nil && cell.unit+string(cell.better) != "" && strings.EqualFold(cell.name, c.String()) {
			return h.fail(i, `found column %q, expected %q alone; put the unit into a column "unit"`, cell.text, c)
		}
	}
	if c == colValue {
		return h.fail(h.at[colBenchmark], `found column %q but neither a column "value" nor run columns such as "Run 1"; `+
			`expected %s`, h.heads[h.at[colBenchmark]].text, headerExamples)
	}
	return h.fail(h.at[colValue], `found column "value" but no column "benchmark"; expected %s`, headerExamples)
}

// isTotal reports whether a row label announces a mean or a sum of the rows above.
func isTotal(name string) bool {
	if name == "" || len(name) > 40 || name[0] >= '0' && name[0] <= '9' || strings.ContainsAny(name, "0123456789") { // asked for every row
		return false
	}
	word := plainWord(name)
	return meanWords[word] || sumWords[word]
}

// isStatisticRow reports whether a row label announces a figure drawn from the rows
// above.
func isStatisticRow(name string) bool {
	return name != "" && len(name) <= 40 && !strings.ContainsAny(name, "0123456789") && isStatistic(name)
}

// isStatistic reports whether a header of a sheet announces a figure drawn
// from the runs.
func isStatistic(name string) bool {
	word := plainWord(name)
	return meanWords[word] || sumWords[word] || extremeWords[word] || spreadWords[word]
}

func errBareNumberHeading(name string) error {
	return fmt.Errorf("found the number %s in the header line, expected %s; put one above", excerpt(name), headerExamples)
}
