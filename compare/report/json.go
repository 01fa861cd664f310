package report

import (
	"encoding/json"
	"io"

	"tunegate/compare"
)

// ComparisonFormat names the JSON form of a comparison; the number rises when
// a reader of the old form could misread the new one. Its schema is
// schema/comparison.schema.json.
const ComparisonFormat = "tunegate-comparison-1"

type comparisonJSON struct {
	Format string `json:"format"`
	*compare.Comparison
	Closing    string `json:"closing"`
	Caution    string `json:"caution,omitempty"`
	ExitStatus int    `json:"exit_status"`
}

// JSON writes a comparison at full precision.
func JSON(w io.Writer, c *compare.Comparison) error {
	return encode(w, newComparisonJSON(c))
}

func newComparisonJSON(c *compare.Comparison) comparisonJSON {
	out := comparisonJSON{Format: ComparisonFormat, Comparison: c, Closing: Closing(c), ExitStatus: ExitStatus(c)}
	if Hazard(c) {
		out.Caution = Caution
	}
	return out
}

// ExitStatus is 1 where something that decides has regressed, else 0.
func ExitStatus(c *compare.Comparison) int {
	if len(c.Regressions()) > 0 {
		return 1
	}
	return 0
}

func encode(w io.Writer, v any) error {
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	e.SetEscapeHTML(false)
	return e.Encode(v)
}
