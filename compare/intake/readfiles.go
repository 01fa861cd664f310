package intake

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"tunegate/compare"
	"tunegate/compare/english"
)

// stdinName stands for standard input in error places.
const stdinName = "standard input"

// Reading is how files of runs are read.
type Reading struct {
	ProfileOf func(path string) string // of rows that name none; nil: ProfileName
	Words     Words                    // beside those that are known
}

// ReadFiles reads each path with Read, in order, and calls add for each value.
// "-" is stdin, and "runs.xlsx#boost" the sheet boost of a workbook. The tallies are
// added up; a note says which file it is about. It stops at the first file with an
// error.
func ReadFiles(paths []string, stdin io.Reader, how Reading, add func(compare.Value) error) (total Tally, err error) {
	profileOf := how.ProfileOf
	if profileOf == nil {
		profileOf = ProfileName
	}
	var notes noteList
	known := newNames()
	defer func() { total.Notes = notes.list() }()
	usedStdin := false
	for _, path := range paths {
		if path == "-" && usedStdin {
			return total, errors.New(`"-" stands twice among the files, but standard input can be read once only; name it once`)
		}
		usedStdin = usedStdin || path == "-"
		profile, err := known.spell(profileName, profileOf(path))
		if err != nil {
			return total, fmt.Errorf("%s: %w", path, err)
		}
		tally, err := readFile(path, stdin, known, how.Words, func(v *compare.Value) error {
			if v.Profile == "" {
				v.Profile = profile
			}
			return add(*v)
		})
		total.Values += tally.Values
		total.Missing += tally.Missing
		total.SetAside += tally.SetAside
		name, _ := cutSheet(path)
		if path == "-" {
			name = stdinName
		}
		notes.add(name, tally.Notes)
		if err != nil {
			return total, err
		}
	}
	return total, nil
}

func readFile(path string, stdin io.Reader, known *names, words Words, add func(*compare.Value) error) (tally Tally, err error) {
	opt := &options{words: words}
	path, opt.sheet = cutSheet(path)
	err = openPath(path, stdin, func(r io.Reader, name string) (err error) {
		tally, err = readRuns(r, name, known, opt, add)
		return err
	})
	return tally, err
}

// openPath hands a file, or stdin for "-", to a reader.
func openPath(path string, stdin io.Reader, read func(r io.Reader, name string) error) error {
	if path == "-" {
		if stdin == nil {
			return errors.New("standard input is not there to be read; name a file instead of -")
		}
		return read(stdin, stdinName)
	}
	file, err := openRegular(path)
	if err != nil {
		return err
	}
	defer file.Close()
	return read(bufio.NewReaderSize(file, chunkSize), path)
}

// ProfileName is the profile of a file whose rows name none: in a results
// repository the folder that holds the profile's settings and runs, elsewhere
// the file's base name without the ending; "stdin" for "-".
func ProfileName(path string) string {
	if path == "-" {
		return "stdin"
	}
	if folder := profileFolder(path); folder != "" {
		return filepath.Base(folder)
	}
	path, _ = cutSheet(path)
	base := filepath.Base(path)
	if name := strings.TrimSuffix(base, filepath.Ext(base)); name != "" {
		return name
	}
	return base
}

// noteList joins the notes that several files share.
type noteList struct {
	order []string
	first map[string]string // the first file with a note
	files map[string]int
}

func (l *noteList) add(path string, notes []string) {
	if l.first == nil {
		l.first, l.files = map[string]string{}, map[string]int{}
	}
	for _, note := range notes {
		if l.files[note] == 0 {
			l.order = append(l.order, note)
			l.first[note] = path
		}
		l.files[note]++
	}
}

func (l *noteList) list() []string {
	var out []string
	for _, note := range l.order {
		switch more := l.files[note] - 1; more {
		case 0:
			out = append(out, l.first[note]+": "+note)
		default:
			out = append(out, fmt.Sprintf("%s and %s: %s", l.first[note], english.Count(more, "more file"), note))
		}
	}
	return out
}
