package intake

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"tunegate/compare"
)

// looks is what a path that is not read looks like.
type looks int

const (
	likeNothing looks = iota
	likeRuns          // where its content is that of runs
	likeResults
)

// looksLike tells what a path below the root looks like that is not read: run
// files or settings in another place below profiles, or a file of another kind
// among runs, are results. A page about the runs is none. Elsewhere, and where a
// name is hidden, a run file's content has to tell. inside is false of a path
// that lies beside the root.
func looksLike(below string, inside bool) looks {
	parts := strings.Split(below, "/")
	what, _ := useOf(below)
	ending := strings.ToLower(path.Ext(below))
	switch {
	case inside && what > onTheWay:
		return likeNothing
	case !inside || parts[0] != profilesFolder || slices.ContainsFunc(parts, hidden):
		if runFileEndings[ending] {
			return likeRuns
		}
		return likeNothing
	case runFileEndings[ending], parts[len(parts)-1] == settingsName, len(parts) > 3 && parts[2] == runsFolder && ending != ".md":
		return likeResults
	}
	return likeNothing
}

// notice files a path that is not read by what it looks like.
func (s *state) notice(below string, inside bool, e treeEntry) {
	file := resultFile{e.path, e.object}
	switch looksLike(below, inside) {
	case likeRuns:
		if e.mode != linkMode && e.mode != submoduleMode {
			s.suspects = append(s.suspects, file)
		}
	case likeResults:
		s.overlooked = append(s.overlooked, file)
	}
}

// overlooked names the files of after that look like results, where none are
// read.
func (l *loader) overlooked() ([]string, error) {
	var names []string
	for _, file := range l.after.overlooked {
		names = append(names, placeOf(file.path).File)
	}
	for _, file := range l.after.suspects {
		found, err := l.holdsRuns(&file)
		if err != nil {
			return nil, err
		}
		if found {
			names = append(names, placeOf(file.path).File)
		}
	}
	slices.Sort(names)
	return names, nil
}

// maxSuspect is how much of a file is read to learn whether it holds runs.
const maxSuspect = 64 << 10

// holdsRuns reports whether a file begins as one of runs does.
func (l *loader) holdsRuns(file *resultFile) (found bool, err error) {
	done := errors.New("one is enough")
	visit := func(r io.Reader) error {
		// What is wrong with it does not matter: it is not read.
		Read(io.LimitReader(r, maxSuspect), file.path, func(compare.Value) error {
			found = true
			return done
		})
		return nil
	}
	if file.object != "" {
		return found, l.blobs.read(file.object, visit)
	}
	f, err := os.Open(filepath.Join(l.repository.git.dir, filepath.FromSlash(file.path)))
	if err != nil {
		return false, fmt.Errorf("%s: cannot be opened: %w", placeOf(file.path).File, err)
	}
	defer f.Close()
	return found, visit(f)
}
