package report

import (
	"io"

	"tunegate/compare/readings"
)

// readingsFormat names the JSON form of what monitoring logs have given. Its
// schema is schema/readings.schema.json.
const readingsFormat = "tunegate-readings-1"

type readingsJSON struct {
	Format   string           `json:"format"`
	WarmUp   float64          `json:"warm_up_seconds"`
	GapSteps float64          `json:"gap_steps"`
	GapShare float64          `json:"gap_share_percent"`
	Logs     []readingLogJSON `json:"logs"`
	Runs     []readingRunJSON `json:"runs"`
	SetAside int              `json:"runs_set_aside"`
	Notes    []noteJSON       `json:"notes"`
	Caution  string           `json:"caution,omitempty"`
}

type readingLogJSON struct {
	File      string   `json:"file"`
	Rows      int      `json:"rows"`
	UsualStep *float64 `json:"usual_step_seconds"`
	MaxStep   *float64 `json:"longest_step_seconds"` // that is no gap
	Gaps      int      `json:"gaps"`
}

type readingRunJSON struct {
	Log       string             `json:"log"`
	Line      int                `json:"first_line"`
	LastLine  int                `json:"last_line"`
	Benchmark string             `json:"benchmark"`
	Profile   string             `json:"profile"`
	Machine   string             `json:"machine,omitempty"`
	Session   string             `json:"session"`
	Run       string             `json:"run"`
	Start     string             `json:"start"`
	Seconds   float64            `json:"seconds"`
	Counted   float64            `json:"counted_seconds"`
	Gap       float64            `json:"gap_seconds"`
	Rows      int                `json:"rows"`
	Excluded  string             `json:"set_aside,omitempty"`
	Metrics   []readingValueJSON `json:"metrics"`
}

type readingValueJSON struct {
	Column   string   `json:"column"`
	Metric   string   `json:"metric"`
	Unit     string   `json:"unit"`
	Better   string   `json:"better,omitempty"`
	Value    *float64 `json:"value"`
	Within   float64  `json:"within,omitempty"`
	Excluded string   `json:"set_aside,omitempty"`
}

// ReadingsJSON writes the runs of monitoring logs as JSON at full precision, with
// what stands beside them.
func ReadingsJSON(w io.Writer, found *readings.Result, logNotes []string) error {
	out := readingsJSON{
		Format: readingsFormat, WarmUp: found.Rules.WarmUp, GapSteps: found.Rules.GapSteps, GapShare: found.Rules.MaxGapShare,
		Logs: each(found.Logs, func(l readings.Log) readingLogJSON { return readingLogJSON(l) }), Runs: each(found.Runs, newReadingRunJSON),
		SetAside: found.ExcludedRuns(), Notes: notesJSON(readingNotes(found, logNotes)),
	}
	out.Caution = caution(readingsHazard(found))
	return encode(w, out)
}

func newReadingRunJSON(r readings.Run) readingRunJSON {
	return readingRunJSON{
		Log: r.Log, Line: r.Line, LastLine: r.LastLine, Benchmark: r.Benchmark, Profile: r.Profile, Machine: r.Machine, Session: r.Session,
		Run: r.Label, Start: r.Start, Seconds: r.Seconds, Counted: r.Counted, Gap: r.Gap, Rows: r.Rows, Excluded: exclusionText(r.Excluded),
		Metrics: readingValuesJSON(r.Metrics),
	}
}

// readingValuesJSON keeps nil, which is null: a log without any column of readings.
func readingValuesJSON(values []readings.Value) []readingValueJSON {
	if values == nil {
		return nil
	}
	return each(values, func(v readings.Value) readingValueJSON {
		return readingValueJSON{
			Column: v.Column, Metric: v.Metric, Unit: v.Unit, Better: string(v.Better), Value: v.Value, Within: v.Within,
			Excluded: exclusionText(v.Excluded),
		}
	})
}
