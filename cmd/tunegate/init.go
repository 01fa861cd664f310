package main

import (
	"bytes"
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"text/template"

	"github.com/urfave/cli/v2"

	"tunegate/compare/report"
)

// templates are the files of a new results repository; those in ci are filled in, for
// the CI that is wanted.
//
//go:embed templates
var templates embed.FS

func initCommand() *cli.Command {
	return &cli.Command{
		Name:      "init",
		Usage:     "write a new results repository, ready to commit",
		ArgsUsage: "[FOLDER]",
		Description: `Writes a commented policy (tunegate.toml), a first profile, a README and the file
by which CI runs the gate on every request: for GitHub, for GitLab, or a script
for any other. CI downloads the program, and unpacks only what has the checksum
that the file states. A release knows where it can be downloaded, and its file
checksums.txt holds the sums; for any other build --action or --program says
where. Else there is no CI file: none is written that could not run. Never
overwrites: a file that is there already is kept as it is, and said.

Examples:
   tunegate init results/
   tunegate init --ci gitlab --checksums checksums.txt results/
   tunegate init --action OWNER/REPO/.github/actions/gate@COMMIT
   tunegate init --ci script --program https://HOST/tunegate_linux_amd64.tar.gz#sha256=DIGITS

Exit status: 0 written; 2 a file could not be written.`,
		Flags: under(groupFiles,
			&cli.StringFlag{Name: "ci", Value: ciGitHub, Usage: "the `CI` to write for: github, gitlab, script (for any shell) or none"},
			&cli.StringFlag{Name: "checksums", Usage: "let CI download this release by the checksum in its `FILE` checksums.txt"},
			&cli.StringFlag{Name: "action", Usage: "let a GitHub workflow use this action, as `OWNER/REPO/FOLDER@REF`"},
			&cli.StringFlag{Name: "program", Usage: "let CI download the program for Linux from this `URL`: a .tar.gz, a .zip or the " +
				"program itself, with its checksum behind it: #sha256=DIGITS"},
			&cli.StringFlag{Name: "upload-action", Usage: "let a GitHub workflow keep the results with this action that uploads files, as " +
				"`OWNER/REPO@COMMIT`; a second workflow comments then, also on requests from forks"},
		),
		OnUsageError:    usageError,
		HideHelpCommand: true,
		Action:          runInit,
	}
}

// The kinds of CI that init writes for.
const (
	ciGitHub = "github"
	ciGitLab = "gitlab"
	ciScript = "script"
	ciNone   = "none"
)

// ci is what a CI file has to know.
type ci struct {
	source
	Kind   string
	Upload string // the action that uploads files; empty for none
	// Folder is where the results lie below the top of the git repository: "." at the
	// top.
	Folder string
	Fetch  string // the commands that put the program into $tools
}

// CommentAction is the action that comments, beside the one that gates.
func (c ci) CommentAction() string {
	folder, ref, _ := strings.Cut(c.Action, "@")
	return path.Dir(folder) + "/comment@" + ref
}

// statedSource is the source that the options state, else that of this build.
func statedSource(c *cli.Context) (source, error) {
	build := thisBuild()
	switch action, program, sums := c.IsSet("action"), c.IsSet("program"), c.IsSet("checksums"); {
	case action && program, action && sums, program && sums:
		return source{}, errors.New("expected one of --action, --program and --checksums, found two")
	case action:
		return actionSource(c.String("action"))
	case program:
		return programSource(c.String("program"))
	case sums:
		return releaseSource(build, c.String("checksums"))
	}
	return sourceOf(build), nil
}

// ciOf reads the options that say which CI file to write.
func ciOf(c *cli.Context) (ci, error) {
	kind := c.String("ci")
	if !slices.Contains([]string{ciGitHub, ciGitLab, ciScript, ciNone}, kind) {
		return ci{}, fmt.Errorf("--ci %q; expected github, gitlab, script or none", kind)
	}
	from, err := statedSource(c)
	if err != nil {
		return ci{}, err
	}
	if kind != ciGitHub {
		if c.IsSet("action") || c.IsSet("upload-action") {
			return ci{}, fmt.Errorf("--ci %s has no actions; say --program or --checksums", kind)
		}
		from.Action = "" // a release has both
	}
	upload := c.String("upload-action")
	if upload != "" && !uploadReference.MatchString(upload) {
		return ci{}, fmt.Errorf("--upload-action %q; expected OWNER/REPO@COMMIT with the 40 digits of a commit", upload)
	}
	return ci{source: from, Kind: kind, Upload: upload}, nil
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
	wanted, err := ciOf(c)
	if err != nil {
		return err
	}
	top, below, err := workTree(folder)
	if err != nil {
		return err
	}
	wanted.Folder = below
	files, err := newRepository(wanted)
	if err != nil {
		return err
	}
	var stale []string // CI files that are there, and are not as wanted
	for _, f := range files {
		target := filepath.Join(folder, filepath.FromSlash(f.path))
		if strings.HasPrefix(f.path, ".git") {
			target = filepath.Join(top, filepath.FromSlash(f.path)) // CI reads it nowhere else
		}
		if _, err := os.Lstat(target); err == nil {
			fmt.Fprintf(c.App.Writer, "kept     %s (was there already)\n", printable(target))
			if there, err := os.ReadFile(target); f.ci && (err != nil || !bytes.Equal(there, f.text)) {
				stale = append(stale, printable(target))
			}
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
	about := wanted.about(thisBuild(), folder)
	if len(stale) > 0 {
		about = "CI runs " + strings.Join(stale, "\nand ") + "\nas before. For what this call says, remove that first, and call init once more.\n"
	}
	if about != "" {
		fmt.Fprint(c.App.Writer, "\n"+about)
	}
	return nil
}

// about says where CI gets the program from, or asks for it; folder is the one that init
// was called for.
func (c ci) about(b report.Build, folder string) string {
	if folder == "." {
		folder = ""
	} else {
		folder = " " + printable(shellWord(folder))
	}
	switch {
	case c.Kind == ciNone:
		return ""
	case c.Action != "" && c.SHA256 != "":
		return "CI uses the action of " + c.Action + ",\nwhich downloads release " + c.Release + " by its checksum.\n"
	case c.Action != "":
		text := "CI uses the action of " + c.Action + ",\nwhich builds the program.\n"
		if at, ok := releaseFile(b, "checksums.txt"); ok && c.Release != "" {
			text += "To let it download the release instead, fetch the file\n" + at +
				"\nremove the workflow, and call init once more:\n   tunegate init --checksums checksums.txt" + folder + "\n"
		}
		return text
	case c.Module != "":
		return "CI installs " + c.Module + ".\n"
	case c.Program != "":
		return "CI downloads " + c.Program + "\nand checks its checksum.\n"
	}
	if at, ok := releaseFile(b, "checksums.txt"); ok {
		return "There is no CI file yet: it states the checksum of what CI downloads. Fetch the file\n" + at +
			"\nand call init once more:\n   tunegate init --ci " + c.Kind + " --checksums checksums.txt" + folder + "\n"
	}
	text := `There is no CI file: this build is no release, so it does not know where a CI job
could fetch it. Say where, and call init once more:
`
	option := ""
	if c.Kind == ciGitHub {
		text += "   tunegate init --action OWNER/REPO/.github/actions/gate@COMMIT" + folder + "\n"
	} else {
		option = " --ci " + c.Kind
	}
	return text + "   tunegate init" + option + " --program https://HOST/tunegate_linux_amd64.tar.gz#sha256=DIGITS" + folder + "\n"
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
	ci   bool // filled in for a kind of CI
}

// ciFiles are those of each kind of CI: the template, and where it goes.
func (c ci) ciFiles() [][2]string {
	switch {
	case !c.known():
		return nil
	case c.Kind == ciGitLab:
		return [][2]string{{"gitlab-ci.yml", ".gitlab-ci.yml"}}
	case c.Kind == ciScript:
		return [][2]string{{"tuning-gate.sh", "tuning-gate.sh"}}
	case c.Kind == ciGitHub && c.Upload != "":
		return [][2]string{{"tuning-gate.yml", ".github/workflows/tuning-gate.yml"},
			{"tuning-comment.yml", ".github/workflows/tuning-comment.yml"}}
	case c.Kind == ciGitHub:
		return [][2]string{{"tuning-gate.yml", ".github/workflows/tuning-gate.yml"}}
	}
	return nil
}

// newRepository fills in the templates; a CI file only where it could run.
func newRepository(c ci) ([]newFile, error) {
	if c.Folder == "" {
		c.Folder = "."
	}
	if strings.Contains(c.Folder, "${{") || c.Kind == ciGitLab && strings.Contains(c.Folder, "$") {
		return nil, fmt.Errorf("folder %q holds a sign $ that CI would take for a variable; rename it", c.Folder)
	}
	t := template.New("").Delims("[[[", "]]]").Funcs(template.FuncMap{
		"text": strconv.Quote, "shell": shellWord,
		"indent": func(n int, s string) string {
			return strings.Repeat(" ", n) + strings.ReplaceAll(s, "\n", "\n"+strings.Repeat(" ", n))
		}})
	var out []newFile
	err := fs.WalkDir(templates, "templates", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		text, err := templates.ReadFile(name)
		if err != nil {
			return err
		}
		if part, is := strings.CutPrefix(name, "templates/ci/"); is {
			_, err = t.New(part).Parse(string(text))
			return err
		}
		out = append(out, newFile{path: strings.TrimPrefix(name, "templates/"), text: text})
		return nil
	})
	if err != nil || !c.known() {
		return out, err
	}
	var filled strings.Builder
	if err := t.ExecuteTemplate(&filled, "fetch", c); err != nil {
		return nil, err
	}
	c.Fetch = filled.String()
	for _, f := range c.ciFiles() {
		filled.Reset()
		if err := t.ExecuteTemplate(&filled, f[0], c); err != nil {
			return nil, err
		}
		out = append(out, newFile{path: f[1], text: []byte(filled.String()), ci: true})
	}
	return out, nil
}
