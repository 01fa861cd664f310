package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"

	"github.com/urfave/cli/v2"

	"tunegate/compare/intake"
	"tunegate/compare/report"
)

// files lists what this process has begun to write. Creating and renaming need
// the lock; an interrupt takes it and never releases it.
var files struct {
	sync.Mutex
	unfinished map[string]bool // temporary, or not whole yet
	written    bool            // something has got its name
}

// abandonFiles removes what is unfinished and lets nothing more be written. It
// reports whether anything was written before.
func abandonFiles() (written bool) {
	files.Lock()
	for name := range files.unfinished {
		for range 3 { // a program that was stopped may still be writing into a folder
			if os.RemoveAll(name) == nil {
				break
			}
		}
	}
	return files.written
}

// beginFolder creates a temporary folder that an interrupt removes.
func beginFolder() (string, error) {
	files.Lock()
	defer files.Unlock()
	name, err := os.MkdirTemp("", "tunegate-")
	if err == nil {
		if files.unfinished == nil {
			files.unfinished = map[string]bool{}
		}
		files.unfinished[name] = true
	}
	return name, err
}

// begin creates a file that is removed again unless it is finished.
func begin(create func() (*os.File, error)) (*os.File, error) {
	files.Lock()
	defer files.Unlock()
	f, err := create()
	if err == nil {
		if files.unfinished == nil {
			files.unfinished = map[string]bool{}
		}
		files.unfinished[f.Name()] = true
	}
	return f, err
}

// giveUp removes a file that cannot be finished.
func giveUp(name string) {
	files.Lock()
	defer files.Unlock()
	os.Remove(name)
	delete(files.unfinished, name)
}

// fill writes and closes a file that was begun.
func fill(f *os.File, data []byte) error {
	_, err := f.Write(data)
	if closed := f.Close(); err == nil {
		err = closed
	}
	return err
}

// content is a file to be written.
type content struct {
	path string
	data []byte
}

// writeWhole writes files, each whole or not at all, and none where one of them
// cannot be written: into temporary files beside them, which then take their
// names. Only where a name cannot be taken at the very end, those before it are
// there; the error says so.
func writeWhole(all []content) (err error) {
	var temporary []string
	defer func() {
		for _, name := range temporary {
			giveUp(name)
		}
	}()
	for i, c := range all {
		if target, err := filepath.EvalSymlinks(c.path); err == nil {
			c.path = target // a link stays one
			all[i].path = target
		}
		if info, err := os.Stat(filepath.Dir(c.path)); err != nil || !info.IsDir() {
			return fmt.Errorf("cannot write %s: there is no folder %s; make it first", c.path, filepath.Dir(c.path))
		}
		name, err := writeTemporary(c)
		if name != "" {
			temporary = append(temporary, name)
		}
		if err != nil {
			return fmt.Errorf("cannot write %s: %w", c.path, err)
		}
	}
	files.Lock()
	defer files.Unlock()
	for i, c := range all {
		if err := os.Rename(temporary[0], c.path); err != nil {
			err = fmt.Errorf("cannot write %s: %w", c.path, err)
			if i > 0 {
				err = fmt.Errorf("%w; %s is written", err, all[i-1].path)
			}
			// The rest is removed once the lock is free.
			return err
		}
		files.written = true
		delete(files.unfinished, temporary[0])
		temporary = temporary[1:]
	}
	return nil
}

// writeTemporary writes what a file will hold beside it, and returns the name.
func writeTemporary(c content) (name string, err error) {
	mode := os.FileMode(0o644)
	if old, err := os.Stat(c.path); err == nil {
		switch mode = old.Mode().Perm(); {
		case old.IsDir():
			return "", errors.New("this is a folder; name a file")
		case !old.Mode().IsRegular():
			return "", errors.New("this is no ordinary file; name one, or print to standard output")
		case mode&0o200 == 0:
			return "", errors.New("the file is read-only; name another")
		}
	}
	f, err := begin(func() (*os.File, error) { return os.CreateTemp(filepath.Dir(c.path), ".tunegate-*") })
	if err != nil {
		return "", err
	}
	if err := f.Chmod(mode); err != nil {
		f.Close()
		return f.Name(), err
	}
	return f.Name(), fill(f, c.data)
}

// writeNew writes a file that must not exist yet, and removes it again where
// it cannot be finished.
func writeNew(path string, data []byte) error {
	f, err := begin(func() (*os.File, error) { return os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644) })
	if err != nil {
		return fmt.Errorf("cannot write %s: %w", path, err)
	}
	if err := fill(f, data); err != nil {
		giveUp(path)
		return fmt.Errorf("cannot write %s: %w", path, err)
	}
	files.Lock()
	defer files.Unlock()
	files.written = true
	delete(files.unfinished, path)
	return nil
}

// output is one form, the file it goes to, and the option that asked for it.
type output struct{ form, path, option string }

// parseWrites reads the values of --write, such as json=result.json, for a
// command that writes these forms and reads these files. What it reads it does
// not replace.
func parseWrites(c *cli.Context, forms []string, reads ...string) ([]output, error) {
	if _, err := separationOf(c); err != nil {
		return nil, err
	}
	var out []output
	seen := map[string]bool{}
	for _, v := range c.StringSlice("write") {
		form, path, ok := strings.Cut(v, "=")
		if !ok || path == "" || !slices.Contains(forms, form) {
			return nil, fmt.Errorf("--write %q; expected FORM=FILE with one of the forms %s", v, strings.Join(forms, ", "))
		}
		whole, err := filepath.Abs(path)
		if err != nil {
			return nil, fmt.Errorf("--write %q: %w", v, err)
		}
		if seen[whole] {
			return nil, fmt.Errorf("--write names %s twice; give each form a file of its own", path)
		}
		seen[whole] = true
		if name := sameFile(path, reads); name != "" {
			return nil, fmt.Errorf("--write %s would replace %s, which is read; give the result a file of its own", v, name)
		}
		out = append(out, output{form, path, "--write " + v})
	}
	return out, nil
}

// sameFile finds the one of several files, or of what arguments such as folders
// and patterns stand for, that a path leads to; empty where it leads to none.
func sameFile(path string, among []string) string {
	target, err := os.Stat(path)
	if err != nil {
		return ""
	}
	for _, arg := range among {
		runs, _ := intake.Expand([]string{arg}) // reading it says what is wrong
		for _, name := range runs {
			if info, err := os.Stat(name); err == nil && os.SameFile(info, target) {
				return name
			}
		}
	}
	return ""
}

// show prints to standard output.
func show(c *cli.Context, print func(io.Writer) error) error {
	if inActions() {
		print = harmlessInActions(print, c.Bool("json"))
	}
	if err := print(c.App.Writer); err != nil {
		return fmt.Errorf("cannot print the result: %w", err)
	}
	return nil
}

// inActions reports whether the program says that it runs in GitHub Actions,
// whose log takes some lines for commands.
func inActions() bool { return os.Getenv("GITHUB_ACTIONS") == "true" }

// harmlessInActions keeps names from files from commanding the log. In JSON
// only the older form of a command could stand, and only within a string.
func harmlessInActions(screen func(io.Writer) error, isJSON bool) func(io.Writer) error {
	return func(w io.Writer) error {
		out, err := render(screen)
		if err != nil {
			return err
		}
		if isJSON {
			out = bytes.ReplaceAll(out, []byte("##["), []byte(`#\u0023[`))
		} else {
			out = []byte(report.WithoutCommands(string(out)))
		}
		_, err = w.Write(out)
		return err
	}
}

// render writes into memory, so that nothing reaches a file before all of it
// is there.
func render(write func(io.Writer) error) ([]byte, error) {
	var b bytes.Buffer
	err := write(&b)
	return b.Bytes(), err
}
