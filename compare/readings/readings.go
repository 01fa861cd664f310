// Package readings turns monitoring logs into runs. A log is a table with a
// time column and one row each time the sensors were read. A Collector takes
// the rows of logs one by one, finds where runs begin and end by the Rules, and
// works out the metrics of each run: means, energy, temperature rise, maxima,
// percentiles and shares of time. Between two readings that are no gap apart the
// curve is taken as straight.
//
// The package reads no files and writes no sentences: what is odd about a run
// or a log comes back as values.
package readings

import "tunegate/compare"

// LogHead describes a log before its rows.
type LogHead struct {
	File    string
	Sheet   string        // of a workbook, where it was named
	At      compare.Place // of its header
	Columns []Column
	Clock   bool // times of day alone: they count from midnight before the first row
}

// Reading is one row of a log.
type Reading struct {
	Line     int
	Time     int64     // ns from an origin that the log's form of time sets
	TimeText string    // as written
	Part     int       // rises where the log was started anew and its clock with it
	Marker   string    // of the marker column
	Flag     int       // which of Rules.Invalid holds, counted from 1; 0 for none
	Values   []float64 // one a column; NaN where there is no reading
}

// Run is a run that was found.
type Run struct {
	Log       string
	Line      int // the first one
	LastLine  int
	Benchmark string
	Profile   string
	Machine   string
	Session   string
	Label     string
	Start     string  // as the log, or the list, writes it
	Seconds   float64 // from start to end
	Counted   float64 // s behind the warm-up
	Gap       float64 // s
	Rows      int
	Excluded  Exclusion // why the run does not count; nil where it does
	Metrics   []Value
}

// Value is one metric of a run.
type Value struct {
	Column   string // or the metric, where that alone may not count
	Metric   string
	Unit     string
	Better   compare.Better // where the unit does not say, or says otherwise
	Value    *float64       // nil where there is none
	Within   float64        // by how much a percentile can be off
	Excluded Exclusion      // why this metric alone does not count; nil where it does
	source   string         // the column whose readings it rests on
}

// LabelOf is the label of the run that a value belongs to. A metric that does
// not count in a run that does carries a label of its own: valid = no reaches
// all metrics of a label.
func (r Run) LabelOf(v Value) string {
	if r.Excluded == nil && v.Excluded != nil {
		return r.Label + " (" + v.Column + ")"
	}
	return r.Label
}

// ExcludedAs is why a value of the run does not count: for the run's reason,
// else for its own; nil where it counts.
func (r Run) ExcludedAs(v Value) Exclusion {
	if r.Excluded != nil {
		return r.Excluded
	}
	return v.Excluded
}

// Log is what was met in one log.
type Log struct {
	File      string
	Rows      int
	UsualStep *float64 // s; nil where time never moves
	MaxStep   *float64 // s; a longer step is a gap
	Gaps      int
}

// FrozenColumn is a column whose readings never changed in some runs while
// other columns did.
type FrozenColumn struct {
	Name     string
	Runs     int // in which it never changed
	Excluded int // of these, where it does not count for that
}

// Result is what logs have given.
type Result struct {
	Rules          Rules
	Logs           []Log
	Runs           []Run
	Columns        []Column           // of all logs
	Silent         []string           // columns without a reading in any run, left out
	ShortStretches int                // above the threshold, too short for a run
	Unmatched      []UnmatchedPattern // by rule
	Frozen         []FrozenColumn
}

// ExcludedRuns counts the runs that do not count as a whole.
func (r *Result) ExcludedRuns() int {
	n := 0
	for _, run := range r.Runs {
		if run.Excluded != nil {
			n++
		}
	}
	return n
}
