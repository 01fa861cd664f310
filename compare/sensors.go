package compare

import (
	"fmt"
	"math"
	"strings"
)

// SensorRules say how a monitoring log becomes runs and their metrics. Start
// from DefaultSensorRules.
type SensorRules struct {
	Columns    []SensorColumn // headers mapped to names; Header, Name, Unit and Better are looked at
	TimeColumn string         // header of the time column; empty: by its usual names
	TimeForm   string         // how times are written, such as "DD.MM.YYYY hh:mm:ss"; empty: told from the first row

	// Where runs begin and end: exactly one of the three.
	Marker    string         // header of a column that names the benchmark while it runs
	Threshold *SensorBar     // a run is a stretch above it
	Windows   []SensorWindow // a list of starts and ends

	LongestDip  float64 // s below the threshold that are still the same run
	ShortestRun float64 // s; shorter stretches above the threshold are no runs
	WarmUp      float64 // s from the start of a run that count for energy only
	GapSteps    float64 // a step longer than so many usual steps is a gap
	GapShare    float64 // per cent of a run that may be gap
	KeepCut     bool    // count runs that touch the log's start or end

	Maximum     []string    // patterns of columns whose maximum is wanted
	Percentiles []SensorBar // per cent of the time, by pattern of columns
	Above       []SensorBar // share of time above a limit, by pattern of columns
	Below       []SensorBar // share of time below it
	Load        *SensorBar  // under load is where this column is above its value
	Constant    []string    // patterns of columns that may rightly stand still
	WattHours   bool        // energy in Wh, too

	Benchmark, Profile, Session string // for runs that do not say themselves
	SessionPerLog               bool   // each log is a session named after its file
}

// DefaultSensorRules are the rules of somebody who states none.
func DefaultSensorRules() SensorRules {
	return SensorRules{LongestDip: 2, ShortestRun: 10, GapSteps: 5, GapShare: 10}
}

// SensorColumn is a column of a log.
type SensorColumn struct {
	Header     string // as the log writes it
	Name       string // the metric's
	Unit       string
	Better     Better  // where the unit does not say
	Factor     float64 // from the log's unit to Unit; 0 counts as 1
	FromPolicy bool    // a log without it is no error
}

// SensorBar is a number for a column.
type SensorBar struct {
	Column string // a name, or a pattern of names
	Value  float64
}

// SensorWindow is one line of a list of runs.
type SensorWindow struct {
	Benchmark, Run, Session, Profile string
	Start, End                       int64 // ns, as the log's times
	StartText                        string
	At                               Place
}

// SensorLogHead describes a log before its rows.
type SensorLogHead struct {
	File    string
	At      Place // of its header
	Columns []SensorColumn
	Clock   bool // times of day alone: they count from midnight before the first row
}

// SensorReading is one row of a log.
type SensorReading struct {
	Line     int
	Time     int64     // ns from an origin that the log's form of time sets
	TimeText string    // as written
	Part     int       // rises where the log was started anew and its clock with it
	Marker   string    // of the marker column
	Values   []float64 // one a column; NaN where there is no reading
}

// SensorRun is a run that was found.
type SensorRun struct {
	Log       string        `json:"log"`
	Line      int           `json:"first_line"`
	LastLine  int           `json:"last_line"`
	Benchmark string        `json:"benchmark"`
	Profile   string        `json:"profile"`
	Session   string        `json:"session"`
	Run       string        `json:"run"`
	Start     string        `json:"start"` // as the log, or the list, writes it
	Seconds   float64       `json:"seconds"`
	Counted   float64       `json:"counted_seconds"` // behind the warm-up
	Gap       float64       `json:"gap_seconds"`
	Rows      int           `json:"rows"`
	Reason    string        `json:"set_aside,omitempty"` // empty: it counts
	Metrics   []SensorValue `json:"metrics"`
}

// SensorValue is one metric of a run.
type SensorValue struct {
	Column string   `json:"column"`
	Metric string   `json:"metric"`
	Unit   string   `json:"unit"`
	Better Better   `json:"better,omitempty"` // where the unit does not say, or says otherwise
	Value  *float64 `json:"value"`
	Within float64  `json:"within,omitempty"`    // by how much a percentile can be off
	Reason string   `json:"set_aside,omitempty"` // why this metric alone does not count
	source string   // the column whose readings it rests on
}

// RunLabel is the label of the run that a value belongs to. A metric that does
// not count in a run that does carries a label of its own: valid = no reaches
// all metrics of a label.
func (r SensorRun) RunLabel(v SensorValue) string {
	if r.Reason == "" && v.Reason != "" {
		return r.Run + " (" + v.Column + ")"
	}
	return r.Run
}

// SensorLog is what was met in one log.
type SensorLog struct {
	File    string   `json:"file"`
	Rows    int      `json:"rows"`
	Step    *float64 `json:"usual_step_seconds"`
	Longest *float64 `json:"longest_step_seconds"` // that is no gap
	Gaps    int      `json:"gaps"`
}

// Sensors is what logs have given.
type Sensors struct {
	Rules SensorRules
	Logs  []SensorLog
	Runs  []SensorRun
	Notes []Note
}

// Hazard reports whether power, voltage or heat is among what was found.
func (s *Sensors) Hazard() bool {
	for _, r := range s.Runs {
		for _, v := range r.Metrics {
			if ShowsHazard(v.Unit) {
				return true
			}
		}
	}
	return false
}

// SetAside counts the runs that do not count.
func (s *Sensors) SetAside() int {
	n := 0
	for _, r := range s.Runs {
		if r.Reason != "" {
			n++
		}
	}
	return n
}

func (s *Sensors) note(kind, format string, args ...any) {
	s.Notes = append(s.Notes, Note{kind, fmt.Sprintf(format, args...)})
}

func isPower(unit string) bool { return watts(unit) > 0 }

// watts is how many watts the unit is, 0 where it is none of power.
func watts(unit string) float64 {
	return map[string]float64{"w": 1, "mw": 1e-3, "kw": 1e3}[strings.ToLower(unit)]
}

func isClock(unit string) bool { return TraitsOf(unit) == clockTraits }

// suspectWhenStill reports whether a reading that never moves is more likely a
// sensor that hangs than the truth.
func (c SensorColumn) suspectWhenStill() bool {
	return c.Name != MetricAmbient && (isPower(c.Unit) || isHeat(c.Unit) || isClock(c.Unit))
}

// energyName is the name of the energy that belongs to a column of power:
// "energy" for "power", "board energy" for "board power", "wall energy" for
// "wall".
func energyName(power string) string {
	switch {
	case power == "power":
		return "energy"
	case strings.HasSuffix(power, " power"):
		return strings.TrimSuffix(power, "power") + "energy"
	}
	return power + " energy"
}

// shareOf describes the share of time beyond a limit: above a limit of what is
// better low and below one of what is better high, less is better.
func shareOf(c SensorColumn, limit float64, above bool) (metric string, better Better) {
	better = c.Better
	if better == "" {
		better = TraitsOf(c.Unit).Better
	}
	word := "below"
	if above {
		word = "above"
	}
	metric = strings.TrimSpace(fmt.Sprintf("%s %s %s %s", c.Name, word, Decimal(limit, 12), c.Unit))
	if above == (better == Higher) {
		return metric, Higher
	}
	return metric, ""
}

// percentileName is "power p95".
func percentileName(column string, p float64) string { return column + " p" + Decimal(p, 12) }

// matchesAny reports whether a name fits one of the patterns.
func matchesAny(patterns []string, name string) bool {
	for _, p := range patterns {
		if NameMatches(p, name) {
			return true
		}
	}
	return false
}

// inSeconds turns a time in ns into s.
func inSeconds(ns int64) float64 { return float64(ns) / 1e9 }

// nanoseconds turns s into ns, as far as they go.
func nanoseconds(s float64) int64 {
	return int64(math.Min(math.Round(s*1e9), math.MaxInt64/4))
}

// secondsText writes a duration for a sentence: "12.3 s".
func secondsText(s float64) string {
	text := Decimal(s, max(0, min(6, Places(s/100))))
	if strings.Contains(text, ".") {
		text = strings.TrimSuffix(strings.TrimRight(text, "0"), ".")
	}
	return text + " s"
}
