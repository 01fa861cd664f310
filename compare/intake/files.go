package intake

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

// runFileEndings are the endings by which a folder's run files are known, in
// lower case; the case of a file's own ending is ignored.
var runFileEndings = map[string]bool{".csv": true, ".tsv": true, ".jsonl": true, ".ndjson": true}

// partFileEndings are those of parts of a comparison.
var partFileEndings = map[string]bool{".json": true}

// Expand turns command-line arguments into files, in order of the arguments:
//   - a file is itself, whatever its ending, and as often as it is named;
//   - a folder is every .csv, .tsv, .jsonl and .ndjson file below it, sorted by
//     path in byte order; names that begin with a dot are left out;
//   - a name with *, ? or [ that is no file itself is a pattern of
//     filepath.Match; each match, in the same order, is treated as an argument;
//     as in a shell, a wildcard does not match a leading dot;
//   - "-" stays "-".
//
// Links are followed. A file found in a folder or by a pattern is listed once,
// and not again if an argument names it, however many links lead to it: a run
// read twice would count twice. It is an error when an argument does not exist,
// when a pattern matches nothing, and when a folder holds no run file.
func Expand(args []string) ([]string, error) {
	return expand(args, runFileEndings, "run file, expected .csv, .tsv, .jsonl or .ndjson")
}

// ExpandParts is Expand for parts of a comparison: of a folder every .json.
func ExpandParts(args []string) ([]string, error) {
	return expand(args, partFileEndings, "part of a comparison, expected .json")
}

func expand(args []string, endings map[string]bool, wanted string) ([]string, error) {
	x := expansion{endings: endings, wanted: wanted, listed: map[string]bool{}, named: map[string]bool{}}
	for _, arg := range args {
		if info, err := os.Stat(arg); arg != "-" && err == nil && !info.IsDir() {
			x.named[realPath(arg)] = true
		}
	}
	for _, arg := range args {
		if err := x.argument(arg); err != nil {
			return nil, err
		}
	}
	return x.files, nil
}

type expansion struct {
	endings map[string]bool // of the files that a folder stands for
	wanted  string          // what they are
	files   []string
	listed  map[string]bool // real paths of files found
	named   map[string]bool // real paths of files that arguments name
}

func (x *expansion) argument(arg string) error {
	if arg == "-" {
		x.files = append(x.files, arg)
		return nil
	}
	info, err := os.Stat(arg)
	switch {
	case err == nil && info.IsDir():
		return x.folder(arg)
	case err == nil:
		x.files = append(x.files, arg)
		return nil
	case strings.ContainsAny(arg, "*?["):
		return x.pattern(arg)
	case errors.Is(err, fs.ErrNotExist):
		return fmt.Errorf("%s: no such file or folder; check the name, or the folder the program runs in", arg)
	}
	return fmt.Errorf("%s: cannot be looked at: %w", arg, err)
}

func (x *expansion) pattern(arg string) error {
	matches, err := filepath.Glob(arg)
	if err != nil {
		return fmt.Errorf("%s: this pattern is not closed, expected * ? or [a-z]: %w", arg, err)
	}
	sortPaths(matches)
	found := 0
	for _, match := range matches {
		if hiddenMatch(arg, match) {
			continue
		}
		found++
		info, err := os.Stat(match)
		switch {
		case err != nil:
			return fmt.Errorf("%s: cannot be looked at: %w", match, err)
		case info.IsDir():
			if err := x.folder(match); err != nil {
				return err
			}
		default:
			x.found(match)
		}
	}
	if found == 0 {
		return fmt.Errorf("%s: no file or folder matches; check the pattern, or the folder the program runs in", arg)
	}
	return nil
}

// sortPaths sorts alike on every system, whatever separates folders there.
func sortPaths(paths []string) {
	slices.SortFunc(paths, func(a, b string) int {
		return strings.Compare(filepath.ToSlash(a), filepath.ToSlash(b))
	})
}

// hiddenMatch reports whether a wildcard matched a leading dot.
func hiddenMatch(pattern, match string) bool {
	p := strings.Split(filepath.ToSlash(filepath.Clean(pattern)), "/")
	m := strings.Split(filepath.ToSlash(filepath.Clean(match)), "/")
	for i := range min(len(p), len(m)) {
		if hidden(m[i]) && !strings.HasPrefix(p[i], ".") {
			return true
		}
	}
	return false
}

func hidden(name string) bool {
	return strings.HasPrefix(name, ".") && name != "." && name != ".."
}

func (x *expansion) folder(path string) error {
	w := walk{endings: x.endings, visited: map[string]bool{}}
	if err := w.below(path); err != nil {
		return err
	}
	if len(w.files) == 0 {
		return fmt.Errorf("%s: this folder holds no %s below it; name the files one by one if they end otherwise", path, x.wanted)
	}
	sortPaths(w.files)
	for _, file := range w.files {
		x.found(file)
	}
	return nil
}

func (x *expansion) found(path string) {
	if real := realPath(path); !x.named[real] && !x.listed[real] {
		x.listed[real] = true
		x.files = append(x.files, path)
	}
}

// walk collects files by their endings. filepath.WalkDir does not follow links; here each
// real folder is entered once, so that a link to a folder above ends.
type walk struct {
	endings map[string]bool
	visited map[string]bool
	files   []string
}

func (w *walk) below(folder string) error {
	real := realPath(folder)
	if w.visited[real] {
		return nil
	}
	w.visited[real] = true
	entries, err := os.ReadDir(folder)
	if err != nil {
		return fmt.Errorf("%s: this folder cannot be read: %w", folder, err)
	}
	for _, entry := range entries {
		if hidden(entry.Name()) {
			continue
		}
		path := filepath.Join(folder, entry.Name())
		isFile := w.endings[strings.ToLower(filepath.Ext(path))]
		info, err := os.Stat(path)
		switch {
		case err != nil && isFile:
			return fmt.Errorf("%s: cannot be looked at: %w", path, err)
		case err != nil:
		case info.IsDir():
			if err := w.below(path); err != nil {
				return err
			}
		case isFile && info.Mode().IsRegular():
			w.files = append(w.files, path)
		}
	}
	return nil
}

// realPath is the path with links followed, to know a file again.
func realPath(path string) string {
	if abs, err := filepath.Abs(path); err == nil {
		path = abs
	}
	if real, err := filepath.EvalSymlinks(path); err == nil {
		return real
	}
	return filepath.Clean(path)
}
