package main

import (
	"errors"
	"fmt"
	"io"
	"net/url"
	"os"
	"regexp"
	"runtime"
	"runtime/debug"
	"strings"

	"github.com/urfave/cli/v2"

	"tunegate/compare/report"
)

// The release build stamps these with -ldflags "-X main.stampVersion=v1.2.3 ...";
// they are empty in any other build.
var stampVersion, stampCommit, stampRepository string

func versionCommand() *cli.Command {
	return &cli.Command{
		Name:  "version",
		Usage: "print version, commit and repository of this program",
		Description: `A release knows the repository that it was built in; any other build knows what
Go recorded.

Examples:
   tunegate version
   tunegate version --json

Exit status: 0 printed; 2 bad usage.`,
		Flags:           under(groupShow, &cli.BoolFlag{Name: "json", Usage: "print JSON instead of text", DisableDefaultText: true}),
		OnUsageError:    usageError,
		HideHelpCommand: true,
		Action: func(c *cli.Context) error {
			if c.NArg() > 0 {
				return fmt.Errorf("expected no argument, found %d", c.NArg())
			}
			b := thisBuild()
			return show(c, func(w io.Writer) error {
				if c.Bool("json") {
					return report.BuildJSON(w, b)
				}
				return report.BuildText(w, b)
			})
		},
	}
}

// thisBuild is what the build knows of itself: stamps first, then what Go
// recorded.
func thisBuild() report.Build {
	b := report.Build{Version: stampVersion, Commit: stampCommit, Repository: stampRepository,
		Go: runtime.Version(), System: runtime.GOOS + "/" + runtime.GOARCH}
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return b
	}
	if b.Version == "" && info.Main.Version != "(devel)" {
		b.Version = info.Main.Version
	}
	for _, s := range info.Settings {
		switch {
		case s.Key == "vcs.revision" && b.Commit == "":
			b.Commit = s.Value
		case s.Key == "vcs.time":
			b.Time = s.Value
		case s.Key == "vcs.modified":
			b.Modified = s.Value == "true"
		}
	}
	if info.Main.Sum != "" { // Go fetched this version, so that others can
		b.Module = info.Main.Path
	}
	return b
}

// source is where a CI job gets this program from: at most one of Action, Program
// and Module is set, but of a release with known checksum Action and Program.
type source struct {
	Action  string // OWNER/REPO/FOLDER@REF
	Release string // the version of Action's commit
	Program string // URL of an archive, or of the program itself, for Linux
	SHA256  string // of what Program leads to
	Module  string // PATH/cmd/tunegate@VERSION, for go install
}

// known reports whether there is a source.
func (s source) known() bool { return s.Action+s.Program+s.Module != "" }

// Archive is how Program is packed: tar, zip, or empty where it is the program.
func (s source) Archive() string {
	at, _, _ := strings.Cut(s.Program, "?")
	switch {
	case strings.HasSuffix(at, ".tar.gz"), strings.HasSuffix(at, ".tgz"):
		return "tar"
	case strings.HasSuffix(at, ".zip"):
		return "zip"
	}
	return ""
}

// gateAction is where the action lies in the repository of this program.
const gateAction = "/.github/actions/gate"

// sourceOf is where a build can be fetched: the action of the repository that a
// release was built in, at its commit; else the module that Go fetched it as.
func sourceOf(b report.Build) source {
	if at, err := url.Parse(b.Repository); err == nil && !b.Modified {
		action := strings.Trim(at.Path, "/") + gateAction + "@" + b.Commit
		if commit.MatchString(b.Commit) && actionReference.MatchString(action) {
			return source{Action: action, Release: b.Version}
		}
	}
	host, _, _ := strings.Cut(b.Module, "/")
	if strings.Contains(host, ".") && strings.HasPrefix(b.Version, "v") {
		return source{Module: b.Module + "/cmd/tunegate@" + b.Version}
	}
	return source{}
}

var (
	commit          = regexp.MustCompile(`^[0-9a-f]{40}$`)
	actionReference = regexp.MustCompile(`^[\w.-]+/[\w.-]+(/[\w.-]+)*/gate@[\w./-]+$`)
	uploadReference = regexp.MustCompile(`^[\w.-]+/[\w.-]+(/[\w.-]+)*@[0-9a-f]{40}$`)
	checksum        = regexp.MustCompile(`^[0-9a-fA-F]{64}$`)
)

// actionSource is the source that --action states.
func actionSource(reference string) (source, error) {
	if !actionReference.MatchString(reference) {
		return source{}, fmt.Errorf("--action %q; expected OWNER/REPO%s@REF, with a commit as REF", reference, gateAction)
	}
	return source{Action: reference}, nil
}

// programSource is the source that --program states: a URL, and behind # the
// checksum of what it leads to.
func programSource(address string) (source, error) {
	at, sum, _ := strings.Cut(address, "#")
	digits, stated := strings.CutPrefix(sum, "sha256=")
	u, err := url.Parse(at)
	switch {
	case err != nil || u.Host == "" || u.User != nil || u.Scheme != "https" && u.Scheme != "http" || strings.ContainsAny(at, "$\n"):
		return source{}, fmt.Errorf("--program %q; expected an https URL without a password", address)
	case !stated || !checksum.MatchString(digits):
		return source{}, fmt.Errorf("--program %q; expected #sha256= and 64 hexadecimal digits behind the URL: CI unpacks nothing else", address)
	}
	return source{Program: at, SHA256: strings.ToLower(digits)}, nil
}

// releaseFile is the URL of a file of the release that a build is of.
func releaseFile(b report.Build, name string) (at string, ok bool) {
	if sourceOf(b).Action == "" || !strings.HasPrefix(b.Version, "v") {
		return "", false
	}
	return b.Repository + "/releases/download/" + b.Version + "/" + name, true
}

// releaseSource is the release that a build is of, by the checksum that stands in a
// file like sha256sum's.
func releaseSource(b report.Build, file string) (source, error) {
	name := "tunegate_" + strings.TrimPrefix(b.Version, "v") + "_linux_amd64.tar.gz"
	at, ok := releaseFile(b, name)
	if !ok {
		return source{}, errors.New("--checksums: this build is no release; say --action or --program instead")
	}
	data, err := os.ReadFile(file)
	if err != nil {
		return source{}, fmt.Errorf("--checksums: %w", err)
	}
	for line := range strings.Lines(string(data)) {
		digits, listed, _ := strings.Cut(strings.TrimSpace(line), " ")
		if strings.TrimLeft(listed, " *") == name && checksum.MatchString(digits) {
			s := sourceOf(b)
			s.Program, s.SHA256 = at, strings.ToLower(digits)
			return s, nil
		}
	}
	return source{}, fmt.Errorf("--checksums %s: no line is of %s; it has to be the file of release %s", file, name, b.Version)
}
