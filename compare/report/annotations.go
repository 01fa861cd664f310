package report

import (
	"fmt"
	"io"
	"strings"

	"tunegate/compare"
)

// mostAnnotations is how many places of one reason are marked.
const mostAnnotations = 10

// Annotations writes a gate as GitHub Actions workflow commands, which mark
// the runs file and line in a pull request (GitHub's documentation, "Workflow
// commands for GitHub Actions").
func Annotations(w io.Writer, g *compare.Gate) error {
	var b strings.Builder
	command := func(kind string, at *compare.Place, title, message string) {
		b.WriteString("::" + kind + " ")
		if at != nil && at.File != "" {
			fmt.Fprintf(&b, "file=%s,", property(at.File))
			if at.Line > 0 {
				fmt.Fprintf(&b, "line=%d,", at.Line)
			}
			if at.Column > 0 {
				fmt.Fprintf(&b, "col=%d,", at.Column)
			}
		}
		fmt.Fprintf(&b, "title=%s::%s\n", property(title), data(message))
	}
	for _, r := range g.Reasons {
		kind := "error"
		if r.Decides != compare.Failed {
			kind = "warning"
		}
		message := r.Profile + ": " + ReasonText(r)
		if len(r.Rows) == 0 {
			command(kind, nil, "tunegate gate", message)
		}
		for i, v := range r.Rows {
			if i == mostAnnotations {
				break
			}
			command(kind, &v.At, "tunegate gate", message)
		}
	}
	for _, j := range g.Judged {
		if s := BlindSpot(j); s != "" && j.Outcome == compare.Passed {
			command("notice", nil, "tunegate gate", j.Profile+": passed; "+s)
		}
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// data escapes a message, property what stands before it.
func data(s string) string {
	return strings.NewReplacer("%", "%25", "\r", "%0D", "\n", "%0A").Replace(s)
}

func property(s string) string {
	return strings.NewReplacer(":", "%3A", ",", "%2C").Replace(data(s))
}
