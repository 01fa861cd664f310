package readings

import (
	"fmt"

	"tunegate/compare"
)

// OverlapError is a window of a list that starts before an earlier one ends.
type OverlapError struct{ At, Earlier compare.Place }

// ColumnError is a rule about a column that a log does not have.
type ColumnError struct {
	At      compare.Place
	Rule    string // "load" or "threshold"
	Column  string
	Columns []Column // those of the log
}

// UnitError is a column that an earlier log has in another unit.
type UnitError struct {
	At            compare.Place
	Column        string
	Unit, Earlier string
}

// MetricError is a metric that two columns would give.
type MetricError struct {
	At             compare.Place
	Metric         string
	Column, Second string
}

// RunCountError is a number of runs that only wrong boundaries give.
type RunCountError struct {
	At   compare.Place
	Runs int // before this one
}

// RunLabelError is a run whose label a run of another log has.
type RunLabelError struct {
	At             compare.Place
	Run, Benchmark string
	Log            string // of the first of the two
}

// NoRunError says that no run was found, and what the logs hold instead.
type NoRunError struct {
	Log            string   // the last one
	Marker         string   // the column that is empty in every row; empty where runs are not marked
	Threshold      *Limit   // nil where there is none
	ShortStretches int      // above the threshold, shorter than MinRun
	MinRun         float64  // s
	Highest        *float64 // reading of the threshold's column; nil where there is none
}

func (e *OverlapError) Error() string {
	return fmt.Sprintf("%s: the run starts before the one at %s ends", e.At, e.Earlier)
}

func (e *ColumnError) Error() string {
	return fmt.Sprintf("%s: the %s needs a column %q", e.At, e.Rule, e.Column)
}

func (e *UnitError) Error() string {
	return fmt.Sprintf("%s: %s is in %q and in %q", e.At, e.Column, e.Earlier, e.Unit)
}

func (e *MetricError) Error() string {
	return fmt.Sprintf("%s: the metric %q comes from %s and from %s", e.At, e.Metric, e.Column, e.Second)
}

func (e *RunCountError) Error() string { return fmt.Sprintf("%s: more than %d runs", e.At, e.Runs) }

func (e *RunLabelError) Error() string {
	return fmt.Sprintf("%s: run %s of %s is in %s, too", e.At, e.Run, e.Benchmark, e.Log)
}

func (e *NoRunError) Error() string { return "found no run" }
