package main

import (
	"embed"
	"fmt"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"runtime/debug"
	"strings"
	"text/template"

	"github.com/urfave/cli/v2"
)

// templates are the files of a new results repository. Names that a source
// tree could not hold as they are begin with "dot-".
//
//go:embed templates
var templates embed.FS

func initCommand() *cli.Command {
	return &cli.Command{
		Name:      "init",
		Usage:     "write a new results repository, ready to commit",
		ArgsUsage: "[FOLDER]",
		Description: `Writes a commented policy (tunegate.toml), a first profile, a README and a
GitHub workflow that runs the gate on every pull request; no workflow where this
build of tunegate cannot be fetched by one. Never overwrites: a file that is
there already is kept as it is, and said.

Example:
   tunegate init results/

Exit status: 0 written; 2 a file could not be written.`,
		OnUsageError:    usageError,
		HideHelpCommand: true,
		Action:          runInit,
	}
}

// build is what a workflow needs to fetch this program.
type build struct {
	Module, Version string
	Known           bool // both can be fetched
	// Folder is where the results lie below the top of the git repository;
	// empty at the top.
	Folder string
}

// thisBuild reads module and version from the build itself. A module whose
// path begins with no host, or a build without a version, cannot be fetched.
func thisBuild() build {
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return build{}
	}
	b := build{Module: info.Main.Path, Version: info.Main.Version}
	host, _, _ := strings.Cut(b.Module, "/")
	b.Known = strings.Contains(host, ".") && strings.HasPrefix(b.Version, "v") && !strings.Contains(b.Version, "+dirty")
	return b
}

func runInit(c *cli.Context) error {
	folder := "."
	switch c.NArg() {
	case 0:
	case 1:
		folder = c.Args().First()
	default:
		return fmt.Errorf("expected one folder, found %d arguments", c.NArg())
	}
	top, below, err := workTree(folder)
	if err != nil {
		return err
	}
	b := thisBuild()
	b.Folder = below
	files, err := newRepository(b)
	if err != nil {
		return err
	}
	for _, f := range files {
		target := filepath.Join(folder, filepath.FromSlash(f.path))
		if strings.HasPrefix(f.path, ".github/") {
			target = filepath.Join(top, filepath.FromSlash(f.path)) // workflows work nowhere else
		}
		if _, err := os.Lstat(target); err == nil {
			fmt.Fprintf(c.App.Writer, "kept     %s (was there already)\n", printable(target))
			continue
		}
		if err := os.MkdirAll(filepath.Dir(target), 0o755); err != nil {
			return fmt.Errorf("cannot make the folder: %w", err)
		}
		if err := writeNew(target, f.text); err != nil {
			return err
		}
		fmt.Fprintf(c.App.Writer, "written  %s\n", printable(target))
	}
	fmt.Fprintf(c.App.Writer, "\nNext: put your runs into %s,\ncommit all of it, and read %s.\n",
		printable(filepath.Join(folder, "profiles", "factory", "runs")), printable(filepath.Join(folder, "README.md")))
	if !b.Known {
		fmt.Fprint(c.App.Writer, "\nThere is no CI file: this build of tunegate has no address that a CI job could\n"+
			"install it from. The topic \"tunegate help gate\" has the lines, to fill in.\n")
	}
	return nil
}

// workTree finds the top of the git work tree that a folder, which need not
// exist yet, lies in, and its path below; the folder itself where there is
// none.
func workTree(folder string) (top, below string, err error) {
	absolute, err := filepath.Abs(folder)
	if err != nil {
		return "", "", err
	}
	for dir := absolute; ; dir = filepath.Dir(dir) {
		if _, err := os.Stat(filepath.Join(dir, ".git")); err == nil {
			if dir == absolute {
				break
			}
			below, err = filepath.Rel(dir, absolute)
			return dir, filepath.ToSlash(below), err
		}
		if dir == filepath.Dir(dir) {
			break
		}
	}
	return folder, "", nil
}

type newFile struct {
	path string // with forward slashes, below the repository
	text []byte
}

// newRepository fills in the templates; a workflow only where it could run.
func newRepository(b build) ([]newFile, error) {
	var out []newFile
	err := fs.WalkDir(templates, "templates", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		target := strings.ReplaceAll(strings.TrimPrefix(name, "templates/"), "dot-", ".")
		if !b.Known && strings.HasPrefix(target, ".github/") {
			return nil
		}
		text, err := templates.ReadFile(name)
		if err != nil {
			return err
		}
		t, err := template.New(path.Base(name)).Delims("[[[", "]]]").Parse(string(text))
		if err != nil {
			return err
		}
		var filled strings.Builder
		if err := t.Execute(&filled, b); err != nil {
			return err
		}
		out = append(out, newFile{target, []byte(filled.String())})
		return nil
	})
	return out, err
}
