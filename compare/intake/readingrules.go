package intake

import (
	"fmt"
	"slices"
	"strings"

	"tunegate/compare"
	"tunegate/compare/readings"
)

// readingKeys are the keys of the rules for monitoring logs, and what each
// expects.
var readingKeys = map[string]string{
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
	"duration":      "true or false",
	"invalid":       `a header and a cell, such as "Throttling = Yes"`,
}

// ReadingRule states one rule; of a rule that may stand several times it adds
// one. The key is one of those that the policy's [readings] knows. The error says
// what was found and what was expected.
func ReadingRule(r *readings.Rules, key, value string) error {
	err := readingRule(r, key, strings.TrimSpace(value))
	if err != nil {
		return fmt.Errorf("%w; expected %s", err, readingKeys[key])
	}
	return nil
}

func readingRule(r *readings.Rules, key, value string) error {
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
	limits := func(into *[]readings.Limit, isPercent bool) error {
		l, err := readingLimit(value, isPercent)
		*into = append(slices.Clone(*into), l)
		return err
	}
	limit := func(into **readings.Limit) error {
		l, err := readingLimit(value, false)
		*into = &l
		return err
	}
	const day = 86_400
	switch key {
	case "column":
		return readingColumn(r, value)
	case "time-column":
		r.TimeColumn = value
	case "time-form":
		r.TimeForm = value
		_, err := layoutOf(value)
		return err
	case "marker":
		r.Marker = value
	case "threshold":
		return limit(&r.Threshold)
	case "load":
		return limit(&r.Load)
	case "longest-dip":
		return number(&r.MaxDip, 0, day)
	case "shortest-run":
		return number(&r.MinRun, 0, day)
	case "warm-up":
		return number(&r.WarmUp, 0, day)
	case "gap-steps":
		return number(&r.GapSteps, 1, 1e6)
	case "gap-share":
		return number(&r.MaxGapShare, 0, 100)
	case "keep-cut-runs":
		return flag(&r.KeepCutRuns)
	case "watt-hours":
		return flag(&r.WattHours)
	case "duration":
		return flag(&r.Duration)
	case "invalid":
		i := strings.LastIndexByte(value, '=')
		if i <= 0 || strings.TrimSpace(value[i+1:]) == "" {
			return fmt.Errorf("found %s without a header, = and a cell", excerpt(value))
		}
		f := readings.Flag{Header: strings.TrimSpace(value[:i]), Cell: strings.TrimSpace(value[i+1:])}
		r.Invalid = append(slices.Clone(r.Invalid), f)
	case "maximum":
		return pattern(&r.Maximum)
	case "constant":
		return pattern(&r.Constant)
	case "percentile":
		return limits(&r.Percentiles, true)
	case "above":
		return limits(&r.Above, false)
	case "below":
		return limits(&r.Below, false)
	}
	return nil
}

// readingLimit reads "power = 120".
func readingLimit(value string, isPercent bool) (readings.Limit, error) {
	i := strings.LastIndexByte(value, '=')
	if i < 0 {
		return readings.Limit{}, fmt.Errorf("found %s without =", excerpt(value))
	}
	b := readings.Limit{Column: strings.TrimSpace(value[:i])}
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

// readingColumn reads "Package power (W) = power [W]". Stated again, a header
// that the policy maps is mapped anew.
func readingColumn(r *readings.Rules, value string) error {
	i := strings.LastIndexByte(value, '=')
	if i < 0 {
		return fmt.Errorf("found %s without =", excerpt(value))
	}
	h, err := parseHeading(strings.TrimSpace(value[i+1:]))
	if err != nil {
		return err
	}
	c := readings.Column{Header: strings.TrimSpace(value[:i]), Name: h.name, Unit: h.unit, Better: h.better}
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

// IsReadingRule reports whether ReadingRule knows a key.
func IsReadingRule(key string) bool { return readingKeys[key] != "" }
