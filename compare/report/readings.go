package report

import (
	"encoding/csv"
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"

	"tunegate/compare/readings"
)

// ReadingsCSV writes the runs of monitoring logs as a long CSV that compare
// reads.
func ReadingsCSV(w io.Writer, found *readings.Result) error {
	c := csv.NewWriter(w)
	header := []string{"benchmark", "metric", "unit", "better", "profile", "session", "run", "time", "valid", "reason", "value"}
	if err := c.Write(header); err != nil {
		return err
	}
	for _, r := range found.Runs {
		for _, v := range r.Metrics {
			valid, value := "", ""
			excluded := r.ExcludedAs(v)
			if excluded != nil {
				valid = "no"
			}
			if v.Value != nil {
				value = readingValue(*v.Value)
			}
			err := c.Write([]string{
				Clean(r.Benchmark), Clean(v.Metric), Clean(v.Unit), string(v.Better), Clean(r.Profile), Clean(r.Session),
				Clean(r.LabelOf(v)), zonedTime(r.Start), valid, Clean(exclusionText(excluded)), value,
			})
			if err != nil {
				return err
			}
		}
	}
	c.Flush()
	return c.Error()
}

// readingValue writes a value to seven significant digits: more than any sensor
// has, and not the noise of binary numbers.
func readingValue(v float64) string {
	s := strconv.FormatFloat(v, 'g', 7, 64)
	if f, err := strconv.ParseFloat(s, 64); err == nil {
		return strconv.FormatFloat(f, 'f', -1, 64)
	}
	return s
}

// zonedTime is the start of a run where it can order runs: with date and zone.
func zonedTime(start string) string {
	start = strings.ToUpper(start)
	if _, err := time.Parse(time.RFC3339, start); err != nil {
		return ""
	}
	return start
}

// ReadingsText writes what stands beside the runs: how many were found, what
// was set aside and why, the rules, what was odd. logNotes are notes of the
// reader of the logs.
func ReadingsText(w io.Writer, found *readings.Result, logNotes []string, opt TextOptions) error {
	t := newTerminal(opt)
	per := map[string]int{}
	var order []string
	for _, r := range found.Runs {
		if per[r.Benchmark] == 0 {
			order = append(order, r.Benchmark)
		}
		per[r.Benchmark]++
	}
	var parts []string
	for _, b := range order {
		parts = append(parts, fmt.Sprintf("%s %d", Clean(b), per[b]))
	}
	excluded := "none set aside"
	if n := found.ExcludedRuns(); n > 0 {
		excluded = fmt.Sprintf("%d set aside", n)
	}
	t.paragraph("", "  ", fmt.Sprintf("%s in %s (%s); %s",
		plural(len(found.Runs), "run"), plural(len(found.Logs), "log"), strings.Join(parts, ", "), excluded))
	if lines := excludedLines(found); len(lines) > 0 {
		t.line("Set aside")
		for _, l := range lines {
			t.paragraph("  ", "    ", l)
		}
	}
	t.line("Notes")
	for _, n := range readingNotes(found, logNotes) {
		t.paragraph("  ", "    ", Clean(n.Text))
	}
	if found.ShowsHazard() {
		t.paragraph("", "", Caution)
	}
	return t.flush(w)
}

// maxExcludedLines is how many lines of what was set aside a screen takes; the
// CSV and the JSON have all.
const maxExcludedLines = 20

// excludedLines lists what was set aside and why, each line once.
func excludedLines(found *readings.Result) []string {
	var lines []string
	seen := map[string]bool{}
	for _, r := range found.Runs {
		for _, v := range r.Metrics {
			excluded := r.ExcludedAs(v)
			if excluded == nil {
				continue
			}
			where := r.Benchmark
			if r.Session != "" {
				where += ", session " + r.Session
			}
			line := Clean(fmt.Sprintf("%s, run %s, line %d of %s: %s", where, r.LabelOf(v), r.Line, r.Log, exclusionText(excluded)))
			if !seen[line] {
				seen[line] = true
				lines = append(lines, line)
			}
		}
	}
	if n := len(lines) - maxExcludedLines; n > 0 {
		lines = append(lines[:maxExcludedLines:maxExcludedLines], fmt.Sprintf("and %d more, in the CSV under valid = no", n))
	}
	return lines
}

// ReadingsFormat names the JSON form of what monitoring logs have given. Its
// schema is schema/sensors.schema.json.
const ReadingsFormat = "tunegate-sensors-1"

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

// ReadingsJSON writes what ReadingsText does as JSON, and the runs at full
// precision.
func ReadingsJSON(w io.Writer, found *readings.Result, logNotes []string) error {
	out := readingsJSON{
		Format: ReadingsFormat, WarmUp: found.Rules.WarmUp, GapSteps: found.Rules.GapSteps, GapShare: found.Rules.MaxGapShare,
		SetAside: found.ExcludedRuns(), Notes: notesJSON(readingNotes(found, logNotes)),
	}
	for _, l := range found.Logs {
		out.Logs = append(out.Logs, readingLogJSON(l))
	}
	for _, r := range found.Runs {
		out.Runs = append(out.Runs, readingRunJSON{
			Log: r.Log, Line: r.Line, LastLine: r.LastLine, Benchmark: r.Benchmark, Profile: r.Profile, Session: r.Session, Run: r.Label,
			Start: r.Start, Seconds: r.Seconds, Counted: r.Counted, Gap: r.Gap, Rows: r.Rows, Excluded: exclusionText(r.Excluded),
			Metrics: readingValues(r.Metrics),
		})
	}
	if found.ShowsHazard() {
		out.Caution = Caution
	}
	return encode(w, out)
}

// readingValues keeps nil, which is null: a log without any column of readings.
func readingValues(values []readings.Value) []readingValueJSON {
	if values == nil {
		return nil
	}
	out := []readingValueJSON{}
	for _, v := range values {
		out = append(out, readingValueJSON{
			Column: v.Column, Metric: v.Metric, Unit: v.Unit, Better: string(v.Better), Value: v.Value, Within: v.Within,
			Excluded: exclusionText(v.Excluded),
		})
	}
	return out
}
