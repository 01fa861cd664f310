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
	defer func() { total.Notes, total.shared = notes.list(), notes }()
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
		total.Unread = append(total.Unread, tally.Unread...)
		name, _ := cutSheet(path)
		if path == "-" {
			name = stdinName
		}
		notes.add(name, tally.Notes, tally.about)
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
	files int
	notes []sharedNote
	index map[string]int
}

// sharedNote is a note, or several that say alike, of files.
type sharedNote struct {
	text, first string // of the first file
	files       int
	differ      bool // the texts do
}

// add takes the notes of a file. about is what those say that differ from file to file.
func (l *noteList) add(path string, notes []string, about map[string]string) {
	l.files++
	if l.index == nil {
		l.index = map[string]int{}
	}
	for _, note := range notes {
		key := note
		if alike, ok := about[note]; ok {
			key = "\x00" + alike
		}
		l.join(key, sharedNote{note, path, 1, false})
	}
}

func (l *noteList) join(key string, n sharedNote) {
	i, met := l.index[key]
	if !met {
		l.index[key] = len(l.notes)
		l.notes = append(l.notes, n)
		return
	}
	known := &l.notes[i]
	known.files += n.files
	known.differ = known.differ || n.differ || known.text != n.text
}

// merge takes what another list holds.
func (l *noteList) merge(other noteList) {
	l.files += other.files
	if l.index == nil {
		l.index = map[string]int{}
	}
	keys := make([]string, len(other.notes))
	for key, i := range other.index {
		keys[i] = key
	}
	for i, n := range other.notes {
		l.join(keys[i], n)
	}
}

// list is what there is to tell.
func (l *noteList) list() []string {
	var out []string
	for _, n := range l.notes {
		of := n.first
		if n.files > 1 {
			of = english.Count(n.files, "file")
			if n.files < l.files {
				of = fmt.Sprintf("%d of %s", n.files, english.Count(l.files, "file"))
			}
			switch {
			case n.differ:
				of += ", as in " + n.first
			case n.files < l.files:
				of += ", such as " + n.first
			}
		}
		out = append(out, of+": "+n.text)
	}
	return out
}

// JoinNotes are the notes about the files of several calls of ReadFiles.
func JoinNotes(tallies ...Tally) []string {
	var l noteList
	for _, t := range tallies {
		l.merge(t.shared)
	}
	return l.list()
}
