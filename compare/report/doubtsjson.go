package report

import (
	"io"

	"tunegate/compare"
	"tunegate/compare/doubts"
)

// doubtsFormat names the JSON form of what was found about runs. Its schema is
// schema/doubts.schema.json.
const doubtsFormat = "tunegate-doubts-1"

type doubtsJSON struct {
	Format   string        `json:"format"`
	Grade    doubts.Grade  `json:"grade"`
	Series   int           `json:"series"`
	Findings []findingJSON `json:"findings"`
}

type findingJSON struct {
	Grade    doubts.Grade `json:"grade"`
	Check    string       `json:"check"`
	Profile  string       `json:"profile"`
	Series   string       `json:"series"`
	Evidence string       `json:"evidence"`
	Why      string       `json:"why"`
	Do       string       `json:"do"`
	Need     *needJSON    `json:"need,omitempty"`
}

// DoubtsJSON writes what was found about runs as JSON.
func DoubtsJSON(w io.Writer, p DoubtsPage) error {
	return encode(w, doubtsJSON{Format: doubtsFormat, Grade: p.Grade, Series: p.Series, Findings: each(p.Findings, p.Commands.newFindingJSON)})
}

func (c Commands) newFindingJSON(f doubts.Finding) findingJSON {
	why, do := c.checkAdvice(f.Check)
	out := findingJSON{Grade: f.Grade, Check: f.Check, Profile: f.Profile, Series: f.Series, Evidence: evidenceText(f), Why: why, Do: do}
	if f.Check == doubts.CheckFewRuns {
		out.Need = &needJSON{Question: compare.ToSettleAny, Size: f.Evidence.Of}
	}
	return out
}
