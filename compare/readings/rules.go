package readings

import (
	"fmt"
	"strings"

	"tunegate/compare"
)

// Rules say how a monitoring log becomes runs and their metrics. Start from
// DefaultRules.
type Rules struct {
	Columns    []Column // headers mapped to names; Header, Name, Unit and Better are looked at
	TimeColumn string   // header of the time column; empty: by its usual names
	TimeForm   string   // how times are written, such as "DD.MM.YYYY hh:mm:ss"; empty: told from the first row

	// Where runs begin and end: exactly one of the three.
	Marker    string   // header of a column that names the benchmark while it runs
	Threshold *Limit   // a run is a stretch above it
	Windows   []Window // a list of starts and ends

	MaxDip      float64 // s below the threshold that are still the same run
	MinRun      float64 // s; shorter stretches above the threshold are no runs
	WarmUp      float64 // s from the start of a run that count for energy only
	GapSteps    float64 // a step longer than so many usual steps is a gap
	MaxGapShare float64 // per cent of a run that may be gap
	KeepCutRuns bool    // count runs that touch the log's start or end

	Maximum     []string // patterns of columns whose maximum is wanted
	Percentiles []Limit  // per cent of the time, by pattern of columns
	Above       []Limit  // share of time above a limit, by pattern of columns
	Below       []Limit  // share of time below it
	Load        *Limit   // under load is where this column is above its value
	Constant    []string // patterns of columns that may rightly stand still
	WattHours   bool     // energy in Wh, too
	Duration    bool     // the length of a run is its score, in s
	Invalid     []Flag   // cells that make a run invalid

	Benchmark, Profile, Session string // for runs that do not say themselves
	SessionPerLog               bool   // each log is a session named after its file
}

// DefaultRules are the rules where none is stated: dips of up to 2 s, runs of
// at least 10 s, gaps from 5 usual steps on, at most 10 % of a run.
func DefaultRules() Rules {
	return Rules{MaxDip: 2, MinRun: 10, GapSteps: 5, MaxGapShare: 10}
}

// Column is a column of a log.
type Column struct {
	Header     string // as the log writes it
	Name       string // the metric's
	Unit       string
	Better     compare.Better // where the unit does not say
	Factor     float64        // from the log's unit to Unit; 0 counts as 1
	FromPolicy bool           // a log without it is no error
}

// ColumnNames lists at most eight columns for a sentence, quoted. Without columns
// it says what to do.
func ColumnNames(columns []Column) string {
	var names []string
	for _, k := range columns {
		names = append(names, fmt.Sprintf("%q", k.Name))
	}
	if len(names) == 0 {
		return "none that could be one: map a header to a name and a unit"
	}
	return compare.List(names, 8)
}

// Limit is a number for a column: a threshold, a limit or a percentage.
type Limit struct {
	Column string // a name, or a pattern of names
	Value  float64
}

// Flag is a cell of a column that makes the run it stands in invalid, such as Yes in a
// column that says whether the machine throttled.
type Flag struct {
	Header     string // as the log writes it
	Cell       string
	FromPolicy bool // a log without the column is no error
}

// Window is one line of a list of runs.
type Window struct {
	Benchmark, Run, Session, Profile, Machine string
	Start, End                                int64 // ns, as the log's times
	StartText                                 string
	At                                        compare.Place
}

// Check returns a RulesError for rules that cannot hold together. hasList says
// whether a list of starts and ends is given, which may not be read yet.
func (r Rules) Check(hasList bool) error {
	ways := 0
	for _, given := range []bool{r.Marker != "", r.Threshold != nil, hasList} {
		if given {
			ways++
		}
	}
	switch {
	case ways == 0:
		return NoBoundaries
	case ways > 1:
		return SeveralBoundaries
	case r.Threshold != nil && r.Benchmark == "":
		return NoBenchmark
	case r.Threshold == nil && r.Benchmark != "":
		return SecondBenchmark
	case r.SessionPerLog && r.Session != "":
		return SecondSession
	case r.Duration && hasList:
		return ListedDuration
	}
	return nil
}

// RulesError is a contradiction among rules, or what they lack.
type RulesError string

// What can be wrong with rules as a whole.
const (
	NoBoundaries      RulesError = "nothing says where a run begins and ends"
	SeveralBoundaries RulesError = "where a run begins and ends is said in more than one way"
	NoBenchmark       RulesError = "a threshold finds runs but not what ran"
	SecondBenchmark   RulesError = "the marker, or the list, names the benchmark of each run"
	SecondSession     RulesError = "either one session for all logs or a session a log, not both"
	ListedDuration    RulesError = "the length of a run is its score only where the log shows it, not where a list states it"
)

func (e RulesError) Error() string { return string(e) }

// UnmatchedPattern is a pattern of a rule that fits no column.
type UnmatchedPattern struct {
	Rule    string // "maximum", "percentile", "above", "below" or "constant"
	Pattern string
}

// unmatched lists the patterns that fit none of the columns.
func (r Rules) unmatched(columns []Column) (out []UnmatchedPattern) {
	for _, rule := range []struct {
		name     string
		patterns []string
	}{
		{"maximum", r.Maximum}, {"percentile", columnsOf(r.Percentiles)}, {"above", columnsOf(r.Above)}, {"below", columnsOf(r.Below)},
		{"constant", r.Constant},
	} {
	patterns:
		for _, p := range rule.patterns {
			for _, k := range columns {
				if compare.NameMatches(p, k.Name) {
					continue patterns
				}
			}
			out = append(out, UnmatchedPattern{rule.name, p})
		}
	}
	return out
}

func columnsOf(limits []Limit) (columns []string) {
	for _, l := range limits {
		columns = append(columns, l.Column)
	}
	return columns
}

// matchesAny reports whether a name fits one of the patterns.
func matchesAny(patterns []string, name string) bool {
	for _, p := range patterns {
		if compare.NameMatches(p, name) {
			return true
		}
	}
	return false
}

// baseName is a file's name without folders and ending.
func baseName(path string) string {
	name := path[strings.LastIndexAny(path, `/\`)+1:]
	if i := strings.LastIndexByte(name, '.'); i > 0 {
		name = name[:i]
	}
	return name
}
