package report

import (
	"encoding/csv"
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"

	"tunegate/compare"
)

// SensorsFormat names the JSON form of what monitoring logs have given. Its
// schema is schema/sensors.schema.json.
const SensorsFormat = "tunegate-sensors-1"

// SensorsCSV writes the runs of monitoring logs as a long CSV that compare
// reads.
func SensorsCSV(w io.Writer, s *compare.Sensors) error {
	c := csv.NewWriter(w)
	if err := c.Write([]string{"benchmark", "metric", "unit", "better", "profile", "session", "run", "time", "valid", "reason", "value"}); err != nil {
		return err
	}
	for _, r := range s.Runs {
		for _, v := range r.Metrics {
			valid, reason, value := "", "", ""
			if r.Reason != "" || v.Reason != "" {
				valid, reason = "no", r.Reason
				if reason == "" {
					reason = v.Reason
				}
			}
			if v.Value != nil {
				value = sensorValue(*v.Value)
			}
			err := c.Write([]string{Clean(r.Benchmark), Clean(v.Metric), Clean(v.Unit), string(v.Better), Clean(r.Profile), Clean(r.Session),
				Clean(r.RunLabel(v)), zonedTime(r.Start), valid, Clean(reason), value})
			if err != nil {
				return err
			}
		}
	}
	c.Flush()
	return c.Error()
}

// sensorValue writes a value to seven significant digits: more than any sensor
// has, and not the noise of binary numbers.
func sensorValue(v float64) string {
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

// SensorsText writes what stands beside the runs: how many were found, what was
// set aside and why, the rules, what was odd.
func SensorsText(w io.Writer, s *compare.Sensors, opt TextOptions) error {
	t := newTerminal(opt)
	per := map[string]int{}
	var order []string
	for _, r := range s.Runs {
		if per[r.Benchmark] == 0 {
			order = append(order, r.Benchmark)
		}
		per[r.Benchmark]++
	}
	var parts []string
	for _, b := range order {
		parts = append(parts, fmt.Sprintf("%s %d", Clean(b), per[b]))
	}
	aside := "none set aside"
	if n := s.SetAside(); n > 0 {
		aside = fmt.Sprintf("%d set aside", n)
	}
	t.paragraph("", "  ", fmt.Sprintf("%s in %s (%s); %s", plural(len(s.Runs), "run"), plural(len(s.Logs), "log"), strings.Join(parts, ", "), aside))
	if lines := setAsideLines(s); len(lines) > 0 {
		t.line("Set aside")
		for _, l := range lines {
			t.paragraph("  ", "    ", l)
		}
	}
	t.line("Notes")
	for _, n := range s.Notes {
		t.paragraph("  ", "    ", Clean(n.Text))
	}
	if s.Hazard() {
		t.paragraph("", "", Caution)
	}
	return t.flush(w)
}

// mostSetAside is how many lines of what was set aside a screen takes; the CSV
// and the JSON have all.
const mostSetAside = 20

func setAsideLines(s *compare.Sensors) []string {
	var lines []string
	seen := map[string]bool{}
	for _, r := range s.Runs {
		for _, v := range r.Metrics {
			reason := r.Reason
			if reason == "" {
				reason = v.Reason
			}
			if reason == "" {
				continue
			}
			where := r.Benchmark
			if r.Session != "" {
				where += ", session " + r.Session
			}
			line := Clean(fmt.Sprintf("%s, run %s, line %d of %s: %s", where, r.RunLabel(v), r.Line, r.Log, reason))
			if !seen[line] {
				seen[line] = true
				lines = append(lines, line)
			}
		}
	}
	if len(lines) > mostSetAside {
		lines = append(lines[:mostSetAside:mostSetAside], fmt.Sprintf("and %d more, in the CSV under valid = no", len(lines)-mostSetAside))
	}
	return lines
}

// SensorsJSON writes the same as JSON, at full precision.
func SensorsJSON(w io.Writer, s *compare.Sensors) error {
	out := struct {
		Format   string              `json:"format"`
		WarmUp   float64             `json:"warm_up_seconds"`
		GapSteps float64             `json:"gap_steps"`
		GapShare float64             `json:"gap_share_percent"`
		Logs     []compare.SensorLog `json:"logs"`
		Runs     []compare.SensorRun `json:"runs"`
		SetAside int                 `json:"runs_set_aside"`
		Notes    []compare.Note      `json:"notes"`
		Caution  string              `json:"caution,omitempty"`
	}{SensorsFormat, s.Rules.WarmUp, s.Rules.GapSteps, s.Rules.GapShare, s.Logs, s.Runs, s.SetAside(), s.Notes, ""}
	if s.Hazard() {
		out.Caution = Caution
	}
	return encode(w, out)
}
