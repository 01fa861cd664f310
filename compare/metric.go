package compare

import (
	"cmp"
	"slices"
	"strings"
)

// Better says in which direction a metric improves.
type Better string

// The two directions. The empty value means "not stated".
const (
	Higher Better = "higher"
	Lower  Better = "lower"
)

// Scale says which arithmetic a metric allows.
type Scale string

const (
	// Ratio has a true zero (time, throughput, power): values are above zero
	// and changes are percentages.
	Ratio Scale = "ratio"
	// Interval has none (°C, °F, dB): changes are differences in the unit.
	Interval Scale = "interval"
)

// Role says what a metric is for.
type Role string

const (
	Score Role = "score" // decides
	Cost  Role = "cost"  // judged against caps and stated tolerances only
	Info  Role = "info"  // shown, never judged
)

// MetricID names one quantity measured on one benchmark.
type MetricID struct{ Benchmark, Metric string }

// Name is what people call the metric: the benchmark alone for its score, else
// both.
func (id MetricID) Name() string {
	if id.Metric == "" || id.Metric == DefaultMetric {
		return id.Benchmark
	}
	return id.Benchmark + " " + id.Metric
}

// Compare orders metrics by benchmark, then by quantity.
func (id MetricID) Compare(other MetricID) int {
	return cmp.Or(cmp.Compare(id.Benchmark, other.Benchmark), cmp.Compare(id.Metric, other.Metric))
}

// DefaultMetric is the metric of a row that names none.
const DefaultMetric = "score"

// UnitTraits is what a unit alone says about a metric. Better is empty where
// the unit leaves the direction open.
type UnitTraits struct {
	Better Better
	Scale  Scale
	Role   Role
}

var (
	timeTraits   = UnitTraits{Lower, Ratio, Score}
	burdenTraits = UnitTraits{Lower, Ratio, Cost}
	heatTraits   = UnitTraits{Lower, Interval, Cost}
	rateTraits   = UnitTraits{Higher, Ratio, Score}
	clockTraits  = UnitTraits{Higher, Ratio, Info}
	// A share of time may be 0, which no ratio is made of.
	shareTraits   = UnitTraits{Lower, Interval, Cost}
	unknownTraits = UnitTraits{"", Ratio, Score}
)

// ShareOfTime is the unit of a share of a run's time: how long a sensor was
// beyond a limit. Plain "%" says nothing about direction or zero and stays
// unknown.
const ShareOfTime = "% of time"

// knownUnits maps a unit in lower case to what it says. "mW" and "MW" are the
// same here: no workstation takes megawatts.
var knownUnits = map[string]UnitTraits{
	"ns": timeTraits, "us": timeTraits, "µs": timeTraits, "ms": timeTraits,
	"s": timeTraits, "min": timeTraits, "h": timeTraits,

	"w": burdenTraits, "mw": burdenTraits, "kw": burdenTraits,
	"va": burdenTraits, "kva": burdenTraits, "mva": burdenTraits, "var": burdenTraits, "kvar": burdenTraits, "mvar": burdenTraits,
	"j": burdenTraits, "kj": burdenTraits, "wh": burdenTraits, "kwh": burdenTraits,
	"v": burdenTraits, "mv": burdenTraits, "a": burdenTraits, "ma": burdenTraits,
	"rpm": burdenTraits,

	// A rise in K is compared as the temperatures that it is made of are.
	"k": heatTraits, "°c": heatTraits, "°f": heatTraits, "db": heatTraits, "db(a)": heatTraits, "dba": heatTraits,

	"fps": rateTraits, "points": rateTraits, "pts": rateTraits, "iops": rateTraits,

	ShareOfTime: shareTraits,

	"hz": clockTraits, "khz": clockTraits, "mhz": clockTraits, "ghz": clockTraits,
}

// CanonicalUnit spells a unit the one way used here: C and degC become °C, F
// and degF °F, the two micro signs one. Other units are kept as written, with
// outer white space removed.
func CanonicalUnit(unit string) string {
	unit = strings.ReplaceAll(strings.TrimSpace(unit), "μ", "µ")
	switch strings.ToLower(strings.ReplaceAll(unit, " ", "")) {
	case "c", "degc", "°c", "ºc":
		return "°C"
	case "f", "degf", "°f", "ºf":
		return "°F"
	}
	return unit
}

// TraitsOf says what a unit tells about a metric measured in it. Anything per
// second, minute or hour is a rate. Better is empty for a unit that leaves the
// direction open; it is never guessed.
func TraitsOf(unit string) UnitTraits {
	u := strings.ToLower(CanonicalUnit(unit))
	if t, ok := knownUnits[u]; ok {
		return t
	}
	for _, per := range []string{"/s", "/sec", "/min", "/h"} {
		if len(u) > len(per) && strings.HasSuffix(u, per) {
			return rateTraits
		}
	}
	return unknownTraits
}

// IntervalUnits lists the units of interval scales in lower case, in all spellings.
func IntervalUnits() []string {
	units := []string{"c", "degc", "ºc", "f", "degf", "ºf"} // see CanonicalUnit
	for u, t := range knownUnits {
		if t.Scale == Interval {
			units = append(units, u)
		}
	}
	slices.Sort(units)
	return units
}

var secondsIn = map[string]float64{"ns": 1e-9, "us": 1e-6, "µs": 1e-6, "ms": 1e-3, "s": 1, "min": 60, "h": 3600, "d": 86400}

// SecondsIn is how many seconds a unit of time holds; ok is false for others.
func SecondsIn(unit string) (seconds float64, ok bool) {
	seconds, ok = secondsIn[strings.ToLower(unit)]
	return seconds, ok
}

// IsTime reports whether the unit measures a duration.
func IsTime(unit string) bool { return TraitsOf(unit) == timeTraits }

// IsSpeed reports whether the unit measures a duration or a rate, so that time
// and speed are each other's inverse.
func IsSpeed(unit string) bool {
	return IsTime(unit) || strings.HasSuffix(unit, "/s") || strings.EqualFold(unit, "fps")
}

// MetricAmbient is the temperature of the room, which temperature rises are taken
// over.
const MetricAmbient = "ambient"
