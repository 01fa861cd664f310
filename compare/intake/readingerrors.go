package intake

import (
	"errors"
	"fmt"

	"tunegate/compare"
	"tunegate/compare/english"
	"tunegate/compare/readings"
)

// LogError is a fault of a log, or of a list of runs, that a rule would mend.
// Who states the rules says how. It wraps a *compare.PlacedError.
type LogError struct {
	Fault LogFault
	err   error
}

// LogFault is what a LogError is about.
type LogFault int

// The faults of a log that a rule mends: which column holds the time, or how
// times are written.
const (
	NoTimeColumn  LogFault = iota + 1 // no column is headed as a time column usually is
	AmbiguousDate                     // day and month of a date cannot be told apart
	UnknownTime                       // the first time is in no known form
)

func (e *LogError) Error() string { return e.err.Error() }

func (e *LogError) Unwrap() error { return e.err }

// failTime is an error at a time in the row in hand, of the same fault as the
// error that it is made of.
func (t *table) failTime(i int, err error) error {
	failed := t.fail(i, "%w", err)
	var fault *LogError
	if errors.As(err, &fault) {
		return &LogError{fault.Fault, failed}
	}
	return failed
}

// describeReadings puts an error of package readings into words. Other errors
// it leaves alone.
func describeReadings(err error) error {
	switch e := err.(type) {
	case *readings.OverlapError:
		return placed(e.At, "this run starts before the one at %s ends; "+
			"one machine runs one benchmark at a time: correct the start or the end", e.Earlier)
	case *readings.ColumnError:
		return placed(e.At, "the %s is about %q, which is no column here; there are %s", e.Rule, e.Column, readings.ColumnNames(e.Columns))
	case *readings.UnitError:
		return placed(e.At, "%s is in %q here but in %q in an earlier log; map both to one unit", e.Column, e.Unit, e.Earlier)
	case *readings.MetricError:
		return placed(e.At, "the metric %q would come from %s and from %s; map one of them to another name", e.Metric, e.Column, e.Second)
	case *readings.RunCountError:
		return placed(e.At, "found %d runs so far, which is a mistake: does something else than a benchmark's name stand in the marker column, "+
			"or does the threshold lie within the noise?", e.Runs)
	case *readings.RunLabelError:
		return placed(e.At, "run %s of %s is in %s, too; say that each log is a session of its own, "+
			"or read the logs one by one and name the session", e.Run, e.Benchmark, e.Log)
	case *readings.NoRunError:
		return placed(compare.Place{File: e.Log}, "found no run%s", whyNoRun(e))
	}
	return err
}

// whyNoRun says what the logs hold instead of runs; empty where nothing is known.
func whyNoRun(e *readings.NoRunError) string {
	switch t := e.Threshold; {
	case e.Marker != "":
		return fmt.Sprintf(": column %q is empty in every row", e.Marker)
	case t != nil && e.ShortStretches > 0:
		return fmt.Sprintf(": %s with %s above %v, none of them as long as %s",
			english.Count(e.ShortStretches, "stretch"), t.Column, t.Value, readings.SecondsText(e.MinRun))
	case t != nil && e.Highest != nil:
		return fmt.Sprintf(": %s is never above %v; its highest reading is %v", t.Column, t.Value, *e.Highest)
	}
	return ""
}
