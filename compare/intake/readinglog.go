package intake

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"time"

	"tunegate/compare"
	"tunegate/compare/english"
	"tunegate/compare/intake/internal/workbook"
	"tunegate/compare/readings"
)

// logExamples says what a log begins with.
const logExamples = `a header such as "time,phase,power [W],temperature [°C]"`

// ReadLogs reads monitoring logs in turn and returns the runs that the rules
// find in them, and notes about the logs as text. list is a CSV of starts and
// ends, empty for none; "-" among the paths is stdin. Memory does not grow with
// the length of a log. An error is a readings.RulesError for rules that cannot
// hold together, a *LogError for what a rule would mend, and a
// *compare.PlacedError for anything else about content.
func ReadLogs(paths []string, stdin io.Reader, rules readings.Rules, list string) (*readings.Result, []string, error) {
	if err := rules.Check(list != ""); err != nil {
		return nil, nil, err
	}
	listForm := unknownForm
	if list != "" {
		err := openPath(list, stdin, func(r io.Reader, name string) (err error) {
			rules.Windows, listForm, err = readRunList(newText(newSource(r), name), rules.TimeForm)
			return err
		})
		if err != nil {
			return nil, nil, err
		}
		if len(paths) > 1 && listForm != zonedForm && listForm != localForm {
			return nil, nil, fmt.Errorf("%s: a list for several logs needs times with a date; "+
				"read the logs one by one, each with a list of its own", list)
		}
	}
	c, err := readings.NewCollector(rules)
	if err != nil {
		return nil, nil, describeReadings(err)
	}
	var notes noteList
	usedStdin := list == "-"
	for _, path := range paths {
		if path == "-" && usedStdin {
			return nil, nil, errors.New(`"-" stands twice among the files, but standard input can be read once only; name it once`)
		}
		usedStdin = usedStdin || path == "-"
		path, sheet := cutSheet(path)
		err := openPath(path, stdin, func(r io.Reader, name string) error {
			s := &sink{noted: map[string]bool{}, pool: newPool(), names: newNames(), options: &options{}}
			src := newSource(r)
			s.options.sheet = sheet
			err := readLog(src, name, s, rules, listForm, c)
			s.noteEncoding(src)
			notes.add(path, s.tally.Notes, s.tally.about)
			return err
		})
		if err != nil {
			return nil, nil, err
		}
	}
	found, err := c.Result()
	if err != nil {
		return nil, nil, describeReadings(err)
	}
	return found, notes.list(), nil
}

func errNotJSON(src *text, h head) error {
	return placed(compare.Place{File: src.name, Line: h.skipped + 1, Column: 1}, "found JSON, expected %s", src.expects)
}

// openTable reads up to the header of a CSV file.
func openTable(src *text, s *sink) (*table, error) {
	lines := bufio.NewReaderSize(src, chunkSize)
	head, err := readHead(lines, src)
	if err != nil {
		return nil, err
	}
	if head.json {
		return nil, errNotJSON(src, head)
	}
	return newTable(newCSVGrid(src, lines, head), src.name, src.expects, s)
}

// logReader reads the rows of one log.
type logReader struct {
	*table
	rules  readings.Rules
	clock  *logClock
	time   []int // the time column, or date and time
	marker int   // -1 for none
	flags  []flagColumn
	// unitless are columns left out because their header states no unit.
	unitless []int
	columns  []logColumn
	row      readings.Reading
	missing  int // cells without a reading
	same     int // rows with the time of the row before
	anew     bool
}

// flagColumn is a column with a cell that makes a run invalid.
type flagColumn struct {
	index, rule int // rule counts from 0
	cell        string
}

type logColumn struct {
	readings.Column
	index  int
	mapped bool
}

func readLog(src *source, name string, s *sink, rules readings.Rules, listForm timeForm, c *readings.Collector) error {
	t, end, err := openLog(src, name, s, rules)
	if err != nil {
		return err
	}
	defer end()
	l := &logReader{table: t, rules: rules, marker: -1}
	if err := l.findColumns(); err != nil {
		return err
	}
	headers, rows := 0, 0
	for {
		header, err := l.next()
		if err == io.EOF {
			break
		}
		if err != nil {
			return err
		}
		if header {
			headers++
			l.anew = true
			continue
		}
		if rows == 0 {
			l.dropText()
		}
		restarted, err := l.read()
		if err != nil {
			return err
		}
		if restarted && len(rules.Windows) > 0 {
			return l.fail(l.time[0], "the log was started anew here and its numbers begin again, "+
				"so that a list of runs fits more than one place; split the log")
		}
		if rows == 0 {
			if listForm != unknownForm && l.clock.form != listForm {
				return l.fail(l.time[0], "the log has %s, but the list of runs has %s; write both alike", l.clock.form, listForm)
			}
			if err := l.begin(c); err != nil {
				return err
			}
		}
		rows++
		if err := c.Row(l.row); err != nil {
			return describeReadings(err)
		}
	}
	if rows == 0 {
		return l.failHead(0, "found a header without rows, expected at least one row below it")
	}
	if headers > 0 {
		s.note("the header stands again in %s, skipped here: the logger was started anew", english.Count(headers, "row"))
	}
	if l.missing > 0 {
		s.note("cells without a reading (empty, N/A and the like): %d", l.missing)
	}
	if l.same > 0 {
		s.note("rows with the time of the row before: %d; a clock with finer steps would weigh them better", l.same)
	}
	return describeReadings(c.End())
}

// begin describes the log to the collector.
func (l *logReader) begin(c *readings.Collector) error {
	head := readings.LogHead{File: l.headAt[0].File, At: l.headAt[0], Clock: l.clock.form == clockForm}
	if sheet := l.options.sheet; sheet != "" {
		head.File, head.Sheet = head.File+"#"+l.headAt[0].Sheet, l.headAt[0].Sheet
	}
	for _, k := range l.columns {
		head.Columns = append(head.Columns, k.Column)
	}
	return describeReadings(c.Begin(head))
}

// next goes to the next row and reports whether it is the header once more. A
// last line that breaks off, as a logger leaves it that was stopped, is left
// out.
func (l *logReader) next() (header bool, err error) {
	if err := l.table.next(); err != nil {
		return false, err
	}
	same, like := len(l.cells) == len(l.head), false
	for i, cell := range l.cells {
		cell = strings.TrimSpace(cell)
		same = same && cell == l.head[i]
		if cell != "" && cell == l.head[l.time[0]] {
			like = true
		}
	}
	if same {
		return true, nil
	}
	if like {
		return false, l.fail(0, "found a header again, but with other columns than in line %d; split the log here", l.headAt[0].Line)
	}
	if len(l.cells) < len(l.head) {
		short, line := l.checkRow(), l.place(0).Line
		if err := l.table.next(); err == io.EOF {
			l.note("line %d, the last one, breaks off and is left out", line)
			return false, io.EOF
		}
		return false, short
	}
	return false, l.checkRow()
}

// read reads the row in hand. It reports whether the numbers that are its time
// have begun anew behind a repeated header.
func (l *logReader) read() (restarted bool, err error) {
	text := l.timeText(l.time[0])
	if len(l.time) > 1 {
		text += " " + l.timeText(l.time[1])
	}
	line := l.place(0).Line
	if noReading(text) {
		return false, l.fail(l.time[0], "found no time, expected one in every row")
	}
	before := l.clock.last
	at, err := l.clock.next(text)
	var back errBack
	if errors.As(err, &back) {
		if l.clock.form != countForm || !l.anew {
			hint := "a log runs forward; was the clock set? split the log here"
			if l.clock.form == clockForm {
				hint = "only a step back of more than 12 hours is midnight; split the log here"
			}
			return false, l.fail(l.time[0], "found the time %s, %.6g s before that of line %d; %s",
				excerpt(text), float64(back.by)/1e9, l.row.Line, hint)
		}
		l.clock.begun = false
		l.row.Part++
		restarted = true
		at, err = l.clock.next(text)
	}
	if err != nil {
		return false, l.failTime(l.time[0], err)
	}
	if l.row.Line > 0 && !restarted && at == before {
		l.same++
	}
	l.anew = false
	l.row.Line, l.row.Time, l.row.Marker = line, at, ""
	l.row.TimeText = strings.Clone(text)
	if l.marker >= 0 {
		if cell := strings.TrimSpace(l.cells[l.marker]); !noReading(cell) {
			if err := checkName(cell); err != nil {
				return false, l.fail(l.marker, "%w", err)
			}
			l.row.Marker = l.pool.keep(cell)
		}
	}
	l.row.Flag = 0
	for _, f := range l.flags {
		if foldWord(l.cells[f.index]) == f.cell && l.row.Flag == 0 {
			l.row.Flag = f.rule + 1
		}
	}
	l.row.Values = l.row.Values[:0]
	for _, k := range l.columns {
		v, err := l.value(k)
		if err != nil {
			return false, err
		}
		l.row.Values = append(l.row.Values, v)
	}
	return restarted, nil
}

// timeText is what stands in a column of times: of a workbook's own time of day,
// 09:00:05.25.
func (l *logReader) timeText(i int) string {
	if l.typed != nil && l.typed[i].Kind == workbook.Duration {
		seconds := l.typed[i].Number
		return time.Unix(0, int64(math.Round(seconds*1e3))*1e6).UTC().Format("15:04:05.999")
	}
	return strings.TrimSpace(l.cells[i])
}

// maxReading is the largest reading, of either sign, that is taken for one.
const maxReading = 1e12

// value reads one cell, NaN where it holds no reading.
func (l *logReader) value(k logColumn) (float64, error) {
	cell := strings.TrimSpace(l.cells[k.index])
	if noReading(cell) {
		l.missing++
		return math.NaN(), nil
	}
	n, err := l.number(k.index, cell)
	switch {
	case err != nil:
		return 0, l.fail(k.index, "%w", err)
	case n.clock:
		return 0, l.fail(k.index, "found the time %s, expected a reading in %s", excerpt(cell), k.Unit)
	case math.Abs(n.value) > maxReading:
		return 0, l.fail(k.index, "found %s, which is too large for a reading; empty the cell", excerpt(cell))
	case n.mark != 0 && (n.doubt || n.mark != l.numbers.mark.mark) || n.grouped != 0:
		if n.value, err = l.numbers.settle(n, cell, l.place(k.index), compare.MetricID{Benchmark: k.Header}); err != nil {
			return 0, err
		}
	}
	if n.unit != "" && n.unit != k.Unit {
		return 0, l.fail(k.index, "found %s, expected a reading in %s", excerpt(cell), k.Unit)
	}
	if k.Factor != 0 {
		return n.value * k.Factor, nil
	}
	return n.value, nil
}

// noReading reports whether a cell says that there is no reading.
func noReading(cell string) bool {
	if len(cell) > len("no reading") {
		return false
	}
	switch strings.ToLower(cell) {
	case "", "-", "--", "---", "?", "n/a", "#n/a", "na", "n.a.", "nan", "null", "none", "no data", "no reading":
		return true
	}
	return false
}

// dropText leaves out columns that are not mapped and whose first cell is
// text, and says which have no unit.
func (l *logReader) dropText() {
	var names []string
	for _, i := range l.unitless {
		if word := foldWord(l.cells[i]); len(word) > 1 && (yesWords[word] || noWords[word]) {
			l.note("column %q left out: it says yes or no; where one of the two makes a run invalid, say so, as in %q", l.head[i],
				l.head[i]+" = Yes")
			continue
		}
		names = append(names, fmt.Sprintf("%q", l.head[i]))
	}
	if len(names) > 0 {
		l.note("left out, since no unit is stated in brackets: %s; what you need, map with a name and a unit", compare.List(names, 8))
	}
	l.columns = slices.DeleteFunc(l.columns, func(k logColumn) bool {
		cell := strings.TrimSpace(l.cells[k.index])
		if k.mapped || noReading(cell) {
			return false
		}
		_, err := l.number(k.index, cell)
		var wrong *numberError
		if !errors.As(err, &wrong) || !wrong.text {
			return false
		}
		l.note("column %q left out: it holds text", l.head[k.index])
		return true
	})
}
