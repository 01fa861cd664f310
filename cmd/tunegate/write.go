package main

import (
	"bytes"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"sync"

	"github.com/urfave/cli/v2"

	"tunegate/compare/report"
)

// unfinished are the temporary files of this process, so that an interrupt
// leaves none behind.
var unfinished struct {
	sync.Mutex
	names map[string]bool
}

func removeUnfinished() {
	unfinished.Lock()
	defer unfinished.Unlock()
	for name := range unfinished.names {
		os.Remove(name)
	}
}

// writeWhole writes a file whole or not at all: into a temporary file beside
// it, which then takes its name.
func writeWhole(path string, data []byte) (err error) {
	f, err := os.CreateTemp(filepath.Dir(path), ".tunegate-*")
	if err != nil {
		return fmt.Errorf("cannot write %s: %w", path, err)
	}
	unfinished.Lock()
	if unfinished.names == nil {
		unfinished.names = map[string]bool{}
	}
	unfinished.names[f.Name()] = true
	unfinished.Unlock()
	defer func() {
		if err != nil {
			os.Remove(f.Name())
			err = fmt.Errorf("cannot write %s: %w", path, err)
		}
		unfinished.Lock()
		delete(unfinished.names, f.Name())
		unfinished.Unlock()
	}()
	if _, err = f.Write(data); err != nil {
		f.Close()
		return err
	}
	mode := os.FileMode(0o644)
	if old, statErr := os.Stat(path); statErr == nil {
		mode = old.Mode().Perm()
	}
	if err = f.Chmod(mode); err != nil {
		f.Close()
		return err
	}
	if err = f.Close(); err != nil {
		return err
	}
	return os.Rename(f.Name(), path)
}

// writeNew writes a file that must not exist yet, and removes it again where
// it cannot be finished.
func writeNew(path string, data []byte) error {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if err != nil {
		return fmt.Errorf("cannot write %s: %w", path, err)
	}
	_, err = f.Write(data)
	if closed := f.Close(); err == nil {
		err = closed
	}
	if err != nil {
		os.Remove(path)
		return fmt.Errorf("cannot write %s: %w", path, err)
	}
	return nil
}

// output is one form and the file it goes to.
type output struct{ form, path string }

// parseWrites reads the values of --write, such as json=result.json.
func parseWrites(values []string, forms []string) ([]output, error) {
	var out []output
	seen := map[string]bool{}
	for _, v := range values {
		form, path, ok := strings.Cut(v, "=")
		known := false
		for _, f := range forms {
			known = known || f == form
		}
		if !ok || path == "" || !known {
			return nil, fmt.Errorf("--write %q; expected FORM=FILE with one of the forms %s", v, strings.Join(forms, ", "))
		}
		if seen[filepath.Clean(path)] {
			return nil, fmt.Errorf("--write names %s twice; give each form a file of its own", path)
		}
		seen[filepath.Clean(path)] = true
		out = append(out, output{form, path})
	}
	return out, nil
}

// deliver writes the asked forms to files, and the screen's or the JSON form
// to standard output. The files come first: what cannot be written leaves the
// screen silent.
func deliver(c *cli.Context, writes []output, forms map[string]func(io.Writer) error, screen func(io.Writer) error) error {
	for _, o := range writes {
		data, err := render(forms[o.form])
		if err == nil {
			err = writeWhole(o.path, data)
		}
		if err != nil {
			return err
		}
	}
	if c.Bool("json") {
		screen = forms["json"]
	}
	if inActions() {
		screen = harmlessInActions(screen, c.Bool("json"))
	}
	if err := screen(c.App.Writer); err != nil {
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
