package report

import (
	"fmt"
	"io"
	"strings"

	"tunegate/compare"
	"tunegate/compare/gate"
)

// maxAnnotations is how many errors, warnings or notices GitHub shows of one
// step (its documentation of the limits, from memory).
const maxAnnotations = 10

// Annotations writes a gate as GitHub Actions workflow commands, which mark
// the runs file and line in a pull request (GitHub's documentation, "Workflow
// commands for GitHub Actions"). Every reason gets one before any gets more.
func Annotations(w io.Writer, p GatePage) error {
	g := p.Gate
	var b strings.Builder
	command := func(kind string, at compare.Place, message string) {
		b.WriteString("::" + kind + " ")
		if at.File != "" {
			fmt.Fprintf(&b, "file=%s,", property(at.File))
			if at.Line > 0 {
				fmt.Fprintf(&b, "line=%d,", at.Line)
			}
		}
		fmt.Fprintf(&b, "title=%s::%s\n", property(p.Commands.Gate), data(message))
	}
	each := max(1, maxAnnotations/max(1, len(g.Reasons)))
	for _, r := range g.Reasons {
		kind := "error"
		if r.Decides != gate.Failed {
			kind = "warning"
		}
		sites := p.sitesOf(r, each)
		if len(sites) == 0 {
			sites = []compare.Place{{}}
		}
		for _, at := range sites {
			command(kind, at, Clean(subject(r))+": "+p.Commands.reasonText(r))
		}
	}
	for _, j := range g.Judged {
		if s := blindSpotText(j); s != "" && j.Outcome == gate.Passed {
			command("notice", compare.Place{}, Clean(j.Profile)+": passed; "+s)
		}
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// Warning writes a warning as a workflow command that marks no file.
func Warning(w io.Writer, title, message string) error {
	_, err := fmt.Fprintf(w, "::warning title=%s::%s\n", property(title), data(message))
	return err
}

// data escapes a message, property what stands before it. Control characters
// that the form has no escape for are left out.
func data(s string) string {
	s = strings.NewReplacer("%", "%25", "\r", "%0D", "\n", "%0A").Replace(s)
	return Clean(s)
}

func property(s string) string {
	return strings.NewReplacer(":", "%3A", ",", "%2C").Replace(data(s))
}

// WithoutCommands changes text that goes into a log of GitHub Actions so that
// no name in it is taken for a workflow command: a line that begins with two
// colons, or ##[ anywhere (the older form; from memory).
func WithoutCommands(text string) string {
	lines := strings.Split(strings.ReplaceAll(text, "##[", "## ["), "\n")
	for i, l := range lines {
		if bare := strings.TrimSpace(l); strings.HasPrefix(bare, "::") {
			lines[i] = strings.Replace(l, "::", ": :", 1)
		}
	}
	return strings.Join(lines, "\n")
}
