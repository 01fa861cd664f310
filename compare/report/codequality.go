package report

import (
	"io"

	"tunegate/compare"
	"tunegate/compare/gate"
)

// qualityJSON is an entry of a code-quality report as GitLab reads it (its
// documentation, "Code Quality report format", from memory).
type qualityJSON struct {
	Description string          `json:"description"`
	CheckName   string          `json:"check_name"`
	Fingerprint string          `json:"fingerprint"`
	Severity    string          `json:"severity"`
	Location    qualityLocation `json:"location"`
}

type qualityLocation struct {
	Path  string       `json:"path"`
	Lines qualityLines `json:"lines"`
}

type qualityLines struct {
	Begin int `json:"begin"`
}

// qualitySeverities: what fails blocks the merge, what is open has to be dealt with
// before it, and a warning is for information.
var qualitySeverities = map[gate.Outcome]string{gate.Failed: "blocker", gate.Undecided: "major", gate.Passed: "info"}

// GateCodeQuality writes a gate as a code-quality report: an entry a reason, at the
// first line that it is about. A file as a whole is line 1.
func GateCodeQuality(w io.Writer, p GatePage) error {
	out := []qualityJSON{}
	prints := fingerprints(p.Reasons)
	for i, r := range p.Reasons {
		at := compare.Place{File: "."} // the repository, where the reason is about no file
		if sites := p.sitesOf(r, 1); len(sites) > 0 {
			at = sites[0]
		}
		out = append(out, qualityJSON{Description: Clean(subject(r)) + ": " + p.Commands.reasonText(r), CheckName: r.Kind,
			Fingerprint: prints[i], Severity: qualitySeverities[r.Decides],
			Location: qualityLocation{at.File, qualityLines{max(at.Line, 1)}}})
	}
	return encode(w, out)
}
