package main

import (
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
	"path/filepath"
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
GitHub workflow that runs the gate on every pull request. A release knows where
a workflow can fetch it. For any other build --action or --program says so; else
no workflow is written. Never overwrites: a file that is there already is kept
as it is, and said.

Examples:
   tunegate init results/
   tunegate init --action OWNER/REPO/.github/actions/gate@COMMIT
   tunegate init --program https://HOST/tunegate_linux_amd64.tar.gz

Exit status: 0 written; 2 a file could not be written.`,
		Flags: under(groupFiles,
			&cli.StringFlag{Name: "action", Usage: "let the workflow use this action, as `OWNER/REPO/FOLDER@REF`"},
			&cli.StringFlag{Name: "program", Usage: "let the workflow download the program for Linux from this `URL`: a .tar.gz, a .zip or the " +
				"program itself; #sha256=DIGITS behind it states the checksum"},
		),
		OnUsageError:    usageError,
		HideHelpCommand: true,
		Action:          runInit,
	}
}

// ci is what a workflow has to know.
type ci struct {
	source
	// Folder is where the results lie below the top of the git repository;
	// empty at the top.
	Folder string
}

// statedSource is the source that the options state, else that of this build.
func statedSource(c *cli.Context) (source, error) {
	switch action, program := c.IsSet("action"), c.IsSet("program"); {
	case action && program:
		return source{}, errors.New("expected --action or --program, found both")
	case action:
		return actionSource(c.String("action"))
	case program:
		return programSource(c.String("program"))
	}
	return sourceOf(thisBuild()), nil
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
	from, err := statedSource(c)
	if err != nil {
		return err
	}
	files, err := newRepository(ci{from, below})
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
	fmt.Fprint(c.App.Writer, "\n"+aboutSource(from))
	return nil
}

// aboutSource says where the workflow gets the program from, or asks for it.
func aboutSource(s source) string {
	switch {
	case s.Action != "" && s.Release != "":
		return "The workflow uses the action of release " + s.Release + ", " + s.Action + ".\n"
	case s.Action != "":
		return "The workflow uses the action " + s.Action + ".\n"
	case s.Module != "":
		return "The workflow installs " + s.Module + ".\n"
	case s.Program != "" && s.SHA256 == "":
		return "The workflow downloads " + s.Program + ".\nIt checks no checksum: put #sha256= and its digits behind the URL.\n"
	case s.Program != "":
		return "The workflow downloads " + s.Program + "\nand checks its checksum.\n"
	}
	return `There is no CI file: this build is no release, so it does not know where a CI job
could fetch it. Say where, and call init once more:
   tunegate init --action OWNER/REPO/.github/actions/gate@COMMIT
   tunegate init --program https://HOST/tunegate_linux_amd64.tar.gz
`
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
func newRepository(c ci) ([]newFile, error) {
	if strings.Contains(c.Folder, "${{") {
		return nil, fmt.Errorf("folder %q holds ${{, which a workflow would take for an expression; rename it", c.Folder)
	}
	var out []newFile
	err := fs.WalkDir(templates, "templates", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		target := strings.ReplaceAll(strings.TrimPrefix(name, "templates/"), "dot-", ".")
		if !c.known() && strings.HasPrefix(target, ".github/") {
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
		if err := t.Execute(&filled, c); err != nil {
			return err
		}
		out = append(out, newFile{target, []byte(filled.String())})
		return nil
	})
	return out, err
}
