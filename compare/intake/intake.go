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
	"slices"

	"tunegate/compare"
	"tunegate/compare/english"
)

// Tally counts what a reader met. Every value handed to add is counted once,
// in one of the three numbers.
type Tally struct {
	Values   int      // numbers that count
	Missing  int      // empty cells: runs not done yet
	SetAside int      // values of rows that say valid = no, with or without a number
	Notes    []string // what else to tell, such as: column "Average" skipped: ...
	Unread   []string // sheets, in quotes, that may hold runs and were not read

	about  map[string]string // what notes say that differ from file to file
	shared noteList          // of ReadFiles
}

// Read reads runs from r and calls add for each value, in order. It goes on behind a
// fault of the content, and ends with all of them, at most 20: a
// *compare.PlacedError, or a *FaultList of several. Any other error, also one from
// add, ends it at once. name is the file in error places. Lines count from 1; columns
// count from 1 in characters, not bytes.
//
// A file that is packed is a workbook. Of another one the shape is recognised by the
// first line that holds more than white space and separators, in this order:
//
//  1. It begins with { : JSON Lines, one object a line (RFC 8259).
//  2. Else it is CSV (RFC 4180), separated by comma, semicolon or tab, see
//     separatorOf. Its header is found by locate. With a column "value" it is a long
//     CSV: one row is one value.
//  3. With run columns (Run 1, Lauf 2, #3, 4) and a column of benchmarks, or one of
//     names on their left, it is a sheet: benchmarks down, runs across.
//  4. Else, without a column "benchmark", it is a wide CSV: one row is one
//     run, each column of numbers a metric.
//
// Column names ignore case. Names of profiles, benchmarks and metrics that differ
// in case or composition only are one, spelled as first met; one that could be
// taken for another is an error. All other names are taken as written, with outer
// white space removed. A value whose row names no profile has an empty
// Profile, or that of its sheet where several sheets of a workbook hold runs, and
// one whose row names no metric an empty Metric.
//
// Values come in file order, but for one case: empty cells at the head of a
// wide column follow as soon as the first number tells that it is a metric.
func Read(r io.Reader, name string, add func(compare.Value) error) (Tally, error) {
	return readRuns(r, name, newNames(), &options{}, func(v *compare.Value) error { return add(*v) })
}

// readRuns is Read where other files have names, too. What add is given it may change;
// it is overwritten afterwards.
func readRuns(r io.Reader, name string, known *names, opt *options, add func(*compare.Value) error) (Tally, error) {
	s := newSink(known, opt, add)
	src := newSource(r)
	err := error(nil)
	if src.isPacked() {
		err = s.readBook(src, name)
	} else {
		err = s.readText(newText(src, name))
	}
	s.noteEncoding(src)
	return s.tally, s.result(err)
}

func newSink(known *names, opt *options, add func(*compare.Value) error) *sink {
	return &sink{add: add, noted: map[string]bool{}, pool: newPool(), names: known, options: opt}
}

// readText reads CSV or JSON Lines.
func (s *sink) readText(src *text) error {
	lines := bufio.NewReaderSize(src, chunkSize)
	head, err := readHead(lines, src)
	if err != nil {
		return err
	}
	if head.json {
		return readJSONLines(src, lines, head, s)
	}
	return s.readGrid(newCSVGrid(src, lines, head), src.name)
}

// sink takes values and notes on their way out.
type sink struct {
	options *options
	faults  []error
	mute    bool   // the header has faults, and values may be misread
	sheet   string // of a workbook, that notes are about
	ofSheet []sheetNote
	profile string // of rows that name none
	add     func(*compare.Value) error
	tally   Tally
	noted   map[string]bool
	pool    *pool
	names   *names
	last    [nameKinds]struct{ found, spelled string } // of the value before
	spelled bool                                       // the value's benchmark and metric are spelled as they count
	// couldEnd reports whether the file could end behind the row read last, and nothing
	// would be found wrong; nil where nobody knows. It changes nothing that counts.
	couldEnd func() bool
}

func (s *sink) put(v *compare.Value) error {
	if s.mute {
		return nil
	}
	if v.Profile == "" {
		v.Profile = s.profile
	}
	err := s.spell(profileName, &v.Profile)
	if err == nil && !s.spelled {
		if err = s.spell(benchmarkName, &v.Benchmark); err == nil {
			err = s.spell(metricName, &v.Metric)
		}
	}
	if err != nil {
		return placed(v.At, "%v", err)
	}
	switch {
	case v.SetAside:
		s.tally.SetAside++
	case v.Missing:
		s.tally.Missing++
	default:
		s.tally.Values++
	}
	return s.add(v)
}

// spell gives a name the spelling that counts.
func (s *sink) spell(kind nameKind, name *string) error {
	last := &s.last[kind]
	if *name != last.found {
		spelled, err := s.names.spell(kind, *name)
		if err != nil {
			return err
		}
		last.found, last.spelled = *name, spelled
	}
	*name = last.spelled
	return nil
}

// maxNotes keeps a file of a thousand odd columns from flooding the screen.
const maxNotes = 50

// note keeps a note once.
func (s *sink) note(format string, args ...any) {
	s.noteAbout("", format, args...)
}

// noteAbout keeps a note once, and what it says as those of other files do.
func (s *sink) noteAbout(about, format string, args ...any) {
	if len(s.tally.Notes) > maxNotes {
		return
	}
	text := fmt.Sprintf(format, args...)
	if s.sheet != "" {
		s.noteOfSheet(about, text)
		return
	}
	if s.noted[text] {
		return
	}
	s.noted[text] = true
	if len(s.tally.Notes) == maxNotes {
		text, about = "more notes left out", ""
	}
	s.tally.Notes = append(s.tally.Notes, text)
	if about != "" {
		if s.tally.about == nil {
			s.tally.about = map[string]string{}
		}
		s.tally.about[text] = about
	}
}

// sheetNote is a note about sheets of a workbook.
type sheetNote struct {
	about, text string
	sheets      []string
}

func (s *sink) noteOfSheet(about, text string) {
	for i := range s.ofSheet {
		if n := &s.ofSheet[i]; n.text == text {
			if !slices.Contains(n.sheets, s.sheet) {
				n.sheets = append(n.sheets, s.sheet)
			}
			return
		}
	}
	if len(s.ofSheet) <= maxNotes {
		s.ofSheet = append(s.ofSheet, sheetNote{about, text, []string{s.sheet}})
	}
}

// noteSheets notes what there is to tell of the sheets.
func (s *sink) noteSheets() {
	s.sheet = ""
	for _, n := range s.ofSheet {
		s.noteAbout(n.about, "%s %s: %s", english.Noun(len(n.sheets), "sheet"), compare.List(quotedAll(n.sheets), 8), n.text)
	}
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
