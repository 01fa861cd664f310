// Package intake reads everything that comes from outside: files of runs (ReadFiles),
// monitoring logs (ReadLogs), the policy (Policy), settings (Settings), claims
// (Claims), git repositories of results (OpenRepository), and values typed on a
// command line (ParseNumbers, ParseTolerance and others).
//
// Readers of runs hand each value on as it is read and hold no file in memory. An
// error about content is a *compare.PlacedError: file, line and column, what was
// found and what was expected. No error names an option of a command.
//
// Stable are the forms of the files. The functions may change with any release.
package intake

import (
	"bufio"
	"fmt"
	"io"

	"tunegate/compare"
)

// Tally counts what a reader met. Every value handed to add is counted once,
// in one of the three numbers.
type Tally struct {
	Values   int      // numbers that count
	Missing  int      // empty cells: runs not done yet
	SetAside int      // values of rows that say valid = no, with or without a number
	Notes    []string // what else to tell, such as: column "Average" skipped: ...
}

// Read reads runs from r and calls add for each value, in order. It stops at
// the first error, also at one from add. name is the file in error places.
// An error about content is a *compare.PlacedError. Lines count from 1;
// columns count from 1 in characters, not bytes.
//
// The shape is recognised by the first line that holds more than white space and
// separators, in this order:
//
//  1. It begins with { : JSON Lines, one object a line (RFC 8259).
//  2. Else it is a CSV header (RFC 4180), separated by comma, semicolon or
//     tab, see separatorOf. With a column "value" it is a long CSV: one row is
//     one value.
//  3. With run columns (Run 1, R2, #3, 4) and a column "benchmark", or a first
//     cell left empty, it is a sheet: benchmarks down, runs across.
//  4. Else, without a column "benchmark", it is a wide CSV: one row is one
//     run, each column of numbers a metric.
//
// Column names ignore case. Names of profiles, benchmarks and metrics that differ
// in case or composition only are one, spelled as first met; one that could be
// taken for another is an error. All other names are taken as written, with outer
// white space removed. A value whose row names no profile has an empty
// Profile, and one whose row names no metric an empty Metric.
//
// Values come in file order, but for one case: empty cells at the head of a
// wide column follow as soon as the first number tells that it is a metric.
func Read(r io.Reader, name string, add func(compare.Value) error) (Tally, error) {
	return readNamed(r, name, newNames(), add)
}

// readNamed is Read where other files have names, too.
func readNamed(r io.Reader, name string, known *names, add func(compare.Value) error) (Tally, error) {
	s := &sink{add: add, noted: map[string]bool{}, pool: newPool(), names: known}
	err := read(newText(r, name), s)
	return s.tally, err
}

func read(src *text, s *sink) error {
	lines := bufio.NewReaderSize(src, chunkSize)
	head, err := readHead(lines, src)
	if err != nil {
		return err
	}
	if head.json {
		return readJSONLines(src, lines, head, s)
	}
	t, err := newTable(src, lines, head, s)
	if err != nil {
		return err
	}
	form, err := t.shape()
	if err != nil {
		return err
	}
	switch form {
	case longShape:
		return t.readLong()
	case sheetShape:
		return t.readSheet()
	}
	return t.readWide()
}

// sink takes values and notes on their way out.
type sink struct {
	add   func(compare.Value) error
	tally Tally
	noted map[string]bool
	pool  *pool
	names *names
	last  [nameKinds]struct{ found, spelled string } // of the value before
}

func (s *sink) put(v *compare.Value) error {
	for kind, name := range [nameKinds]*string{profileName: &v.Profile, benchmarkName: &v.Benchmark, metricName: &v.Metric} {
		if last := &s.last[kind]; *name != last.found {
			spelled, err := s.names.spell(nameKind(kind), *name)
			if err != nil {
				return placed(v.At, "%v", err)
			}
			last.found, last.spelled = *name, spelled
		}
		*name = s.last[kind].spelled
	}
	switch {
	case v.SetAside:
		s.tally.SetAside++
	case v.Missing:
		s.tally.Missing++
	default:
		s.tally.Values++
	}
	return s.add(*v)
}

// maxNotes keeps a file of a thousand odd columns from flooding the screen.
const maxNotes = 50

// note keeps a note once.
func (s *sink) note(format string, args ...any) {
	if len(s.tally.Notes) > maxNotes {
		return
	}
	text := fmt.Sprintf(format, args...)
	if s.noted[text] {
		return
	}
	s.noted[text] = true
	if len(s.tally.Notes) == maxNotes {
		text = "more notes left out"
	}
	s.tally.Notes = append(s.tally.Notes, text)
}

// placed is an error at a place.
func placed(at compare.Place, format string, args ...any) error {
	return &compare.PlacedError{At: at, Msg: fmt.Sprintf(format, args...)}
}

// excerpt quotes what was found, cut to what fits a line; control characters
// come out escaped.
func excerpt(found string) string {
	const most = 40
	n := 0
	for i := range found {
		if n == most {
			return fmt.Sprintf("%q...", found[:i])
		}
		n++
	}
	return fmt.Sprintf("%q", found)
}
