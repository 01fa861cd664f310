package intake

import (
	"fmt"
	"slices"
	"strings"

	"tunegate/compare"
)

// sensorKeys are the rules for monitoring logs, which options and the policy's
// [sensors] name alike, and what each expects.
var sensorKeys = map[string]string{
	"column":        `a header, a name and a unit, such as "Package power (W) = power [W]"`,
	"time-column":   "the header of the time column",
	"time-form":     `how times are written, such as "DD.MM.YYYY hh:mm:ss"`,
	"marker":        "the header of the column that names the benchmark while it runs",
	"threshold":     `a column and a value, such as "power = 120"`,
	"longest-dip":   "seconds, zero or more",
	"shortest-run":  "seconds, zero or more",
	"warm-up":       "seconds, zero or more",
	"gap-steps":     "a number of usual steps, 1 or more",
	"gap-share":     "per cent, from 0 to 100",
	"keep-cut-runs": "true or false",
	"maximum":       `a column's name or pattern, such as "temperature"`,
	"percentile":    `a column and a percentage between 0 and 100, such as "power = 95"`,
	"above":         `a column and a limit, such as "temperature = 90"`,
	"below":         `a column and a limit, such as "clock = 4200"`,
	"load":          `a column and a value, such as "power = 100"`,
	"constant":      `a column's name or pattern, such as "clock"`,
	"watt-hours":    "true or false",
}

// SensorRule states one rule; of a rule that may stand several times it adds
// one. The key is one of those that the policy's [sensors] knows.
func SensorRule(r *compare.SensorRules, key, value string) error {
	err := sensorRule(r, key, strings.TrimSpace(value))
	if err != nil {
		return fmt.Errorf("%w; expected %s", err, sensorKeys[key])
	}
	return nil
}

func sensorRule(r *compare.SensorRules, key, value string) error {
	if value == "" {
		return fmt.Errorf("found nothing")
	}
	if len(value) > maxName {
		return fmt.Errorf("found %d bytes, at most %d are read", len(value), maxName)
	}
	number := func(into *float64, lo, hi float64) error {
		n, err := parseNumber(value, false)
		if err != nil {
			return fmt.Errorf("found %s", excerpt(value))
		}
		if n.clock || n.value < lo || n.value > hi {
			return fmt.Errorf("found %s, which is out of range", excerpt(value))
		}
		*into = n.value
		return nil
	}
	flag := func(into *bool) error {
		*into = value == "true"
		return oneOf(value, "true", "false")
	}
	pattern := func(into *[]string) error {
		*into = append(slices.Clone(*into), value)
		return compare.ValidGlob(value)
	}
	bars := func(into *[]compare.SensorBar, isPercent bool) error {
		b, err := sensorBar(value, isPercent)
		*into = append(slices.Clone(*into), b)
		return err
	}
	bar := func(into **compare.SensorBar) error {
		b, err := sensorBar(value, false)
		*into = &b
		return err
	}
	const day = 86_400
	switch key {
	case "column":
		return sensorColumn(r, value)
	case "time-column":
		r.TimeColumn = value
	case "time-form":
		r.TimeForm = value
		_, err := layoutOf(value)
		return err
	case "marker":
		r.Marker = value
	case "threshold":
		return bar(&r.Threshold)
	case "load":
		return bar(&r.Load)
	case "longest-dip":
		return number(&r.LongestDip, 0, day)
	case "shortest-run":
		return number(&r.ShortestRun, 0, day)
	case "warm-up":
		return number(&r.WarmUp, 0, day)
	case "gap-steps":
		return number(&r.GapSteps, 1, 1e6)
	case "gap-share":
		return number(&r.GapShare, 0, 100)
	case "keep-cut-runs":
		return flag(&r.KeepCut)
	case "watt-hours":
		return flag(&r.WattHours)
	case "maximum":
		return pattern(&r.Maximum)
	case "constant":
		return pattern(&r.Constant)
	case "percentile":
		return bars(&r.Percentiles, true)
	case "above":
		return bars(&r.Above, false)
	case "below":
		return bars(&r.Below, false)
	}
	return nil
}

// sensorBar reads "power = 120".
func sensorBar(value string, isPercent bool) (compare.SensorBar, error) {
	i := strings.LastIndexByte(value, '=')
	if i < 0 {
		return compare.SensorBar{}, fmt.Errorf("found %s without =", excerpt(value))
	}
	b := compare.SensorBar{Column: strings.TrimSpace(value[:i])}
	n, err := parseNumber(strings.TrimSpace(value[i+1:]), false)
	switch {
	case b.Column == "":
		return b, fmt.Errorf("found %s without a column", excerpt(value))
	case err != nil || n.clock:
		return b, fmt.Errorf("found %s, which has no number behind =", excerpt(value))
	case isPercent && !(n.value > 0 && n.value < 100):
		return b, fmt.Errorf("found %s, which is no percentage between 0 and 100", excerpt(value))
	}
	b.Value = n.value
	return b, compare.ValidGlob(b.Column)
}

// sensorColumn reads "Package power (W) = power [W]". Stated again, a header
// that the policy maps is mapped anew.
func sensorColumn(r *compare.SensorRules, value string) error {
	i := strings.LastIndexByte(value, '=')
	if i < 0 {
		return fmt.Errorf("found %s without =", excerpt(value))
	}
	h, err := parseHeading(strings.TrimSpace(value[i+1:]))
	if err != nil {
		return err
	}
	c := compare.SensorColumn{Header: strings.TrimSpace(value[:i]), Name: h.name, Unit: h.unit, Better: h.better}
	if c.Header == "" || c.Name == "" {
		return fmt.Errorf("found %s without a header or without a name", excerpt(value))
	}
	columns := slices.Clone(r.Columns)
	for k, old := range columns {
		if old.Header != c.Header {
			continue
		}
		if !old.FromPolicy {
			return fmt.Errorf("found the header %s twice", excerpt(c.Header))
		}
		columns[k] = c
		r.Columns = columns
		return nil
	}
	r.Columns = append(columns, c)
	return nil
}

// CheckSensorRules tells of rules that cannot hold together. list says whether
// a list of starts and ends is given.
func CheckSensorRules(r compare.SensorRules, list bool) error {
	n := 0
	for _, given := range []bool{r.Marker != "", r.Threshold != nil, list} {
		if given {
			n++
		}
	}
	const ways = `state one of marker (a column that names the benchmark while it runs), threshold (such as "power = 120") and list (a CSV with benchmark, start, end)`
	switch {
	case n == 0:
		return fmt.Errorf("nothing says where a run begins and ends; %s", ways)
	case n > 1:
		return fmt.Errorf("where a run begins and ends is said in more than one way; %s", ways)
	case r.Threshold != nil && r.Benchmark == "":
		return fmt.Errorf("a threshold finds runs but not what ran; name the benchmark")
	case r.Threshold == nil && r.Benchmark != "":
		return fmt.Errorf("the marker, or the list, names the benchmark of each run; a benchmark can be named with a threshold only")
	case r.SessionPerLog && r.Session != "":
		return fmt.Errorf("either one session for all logs or a session a log, not both")
	}
	return nil
}

// IsSensorRule reports whether SensorRule knows a key.
func IsSensorRule(key string) bool { return sensorKeys[key] != "" }
