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
var runFileEndings = map[string]bool{".csv": true, ".tsv": true, ".jsonl": true, ".ndjson": true, ".xlsx": true, ".xlsm": true}

// Expand turns command-line arguments into files, in order of the arguments:
//   - a file is itself, whatever its ending, and as often as it is named;
//   - a workbook with # and the name of a sheet behind it is that sheet;
//   - a folder is every .csv, .tsv, .jsonl, .ndjson, .xlsx and .xlsm file below it,
//     sorted by path in byte order; names that begin with a dot are left out, and so
//     are those with ~$, which mark an open workbook;
//   - a name with *, ? or [ that is no file itself is a pattern of
//     filepath.Match; each match, in the same order, is treated as an argument;
//     as in a shell, a wildcard does not match a leading dot;
//   - "-" stays "-".
//
// Paths in the list have slashes on every system, since results name them. A file
// found in a folder or by a pattern is listed once, and not again if an
// argument names it: a run read twice would count twice. It is an error when an
// argument does not exist, when a pattern matches nothing, when a folder holds no
// run file, and when one in a folder is a link.
func Expand(args []string) ([]string, error) {
	x := expansion{listed: map[string]bool{}, named: map[string]bool{}}
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
	files  []string
	listed map[string]bool // real paths of files found
	named  map[string]bool // real paths of files that arguments name
}

func (x *expansion) argument(arg string) error {
	if _, sheet := cutSheet(arg); arg == "-" || sheet != "" {
		x.files = append(x.files, arg)
		return nil
	}
	info, err := os.Stat(arg)
	switch {
	case err == nil && info.IsDir():
		return x.folder(arg)
	case err == nil:
		x.files = append(x.files, filepath.ToSlash(arg))
		return nil
	case strings.ContainsAny(arg, "*?["):
		return x.pattern(arg)
	case errors.Is(err, fs.ErrNotExist):
		return fmt.Errorf("%s: no such file or folder; check the name, or the folder the program runs in", arg)
	}
	return fmt.Errorf("%s: cannot be read: %w", arg, err)
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
			return fmt.Errorf("%s: cannot be read: %w", match, err)
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
	return strings.HasPrefix(name, ".") && name != "." && name != ".." || strings.HasPrefix(name, "~$")
}

// cutSheet takes the name of a sheet off that of a workbook: "runs.xlsx#boost". A file
// that is there by the whole name is no such argument.
func cutSheet(arg string) (file, sheet string) {
	i := strings.LastIndexByte(arg, '#')
	if i <= 0 || i == len(arg)-1 {
		return arg, ""
	}
	if _, err := os.Stat(arg); err == nil {
		return arg, ""
	}
	if info, err := os.Stat(arg[:i]); err != nil || info.IsDir() {
		return arg, ""
	}
	return arg[:i], arg[i+1:]
}

// unreadEndings are workbooks in forms that are not read.
var unreadEndings = map[string]bool{".xls": true, ".xlsb": true, ".ods": true, ".numbers": true}

// folder lists the run files below a folder. Links in it are not followed, so
// that no run is read twice; one that is named like a run file is an error.
func (x *expansion) folder(path string) error {
	var files []string
	err := fs.WalkDir(os.DirFS(path), ".", func(name string, entry fs.DirEntry, err error) error {
		at := filepath.Join(path, filepath.FromSlash(name))
		isRuns := runFileEndings[strings.ToLower(filepath.Ext(at))]
		switch {
		case err != nil:
			return fmt.Errorf("%s: this folder cannot be read: %w", at, err)
		case hidden(entry.Name()) && entry.IsDir():
			return fs.SkipDir
		case hidden(entry.Name()) || entry.IsDir():
		case unreadEndings[strings.ToLower(filepath.Ext(at))]:
			return fmt.Errorf("%s: found a workbook in a form that is not read; save it as .xlsx, or take it out of this folder", at)
		case !isRuns:
		case entry.Type()&fs.ModeSymlink != 0:
			return fmt.Errorf("%s: found a link, and links in a folder are not followed; name the file that it leads to", at)
		case entry.Type().IsRegular():
			files = append(files, at)
		}
		return nil
	})
	if err != nil {
		return err
	}
	if len(files) == 0 {
		return &NoRunsError{path}
	}
	sortPaths(files)
	for _, file := range files {
		x.found(file)
	}
	return nil
}

// NoRunsError is about a folder without run files.
type NoRunsError struct{ Folder string }

func (e *NoRunsError) Error() string {
	return e.Folder + ": no runs (.csv, .tsv, .jsonl, .ndjson, .xlsx, .xlsm) in this folder; name files that end otherwise one by one"
}

func (x *expansion) found(path string) {
	if real := realPath(path); !x.named[real] && !x.listed[real] {
		x.listed[real] = true
		x.files = append(x.files, filepath.ToSlash(path))
	}
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
