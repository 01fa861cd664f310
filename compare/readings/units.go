package readings

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"tunegate/compare"
)

// isPower reports a unit of power: real, apparent or reactive.
func isPower(unit string) bool {
	return watts(unit) > 0 || slices.Contains([]string{"va", "kva", "mva", "var", "kvar", "mvar"}, strings.ToLower(unit))
}

// watts is how many watts the unit is, 0 where it is none of real power. Apparent
// and reactive power give no energy.
func watts(unit string) float64 {
	return map[string]float64{"w": 1, "mw": 1e-3, "kw": 1e3}[strings.ToLower(unit)]
}

func isHeat(unit string) bool { return unit == "°C" || unit == "°F" }

// isClock reports a unit of frequency.
func isClock(unit string) bool { return compare.TraitsOf(unit) == compare.TraitsOf("Hz") }

// excludeWhenFrozen reports whether a reading that never changes is more likely
// a sensor that hangs than the truth.
func (c Column) excludeWhenFrozen() bool {
	return c.Name != compare.MetricAmbient && (isPower(c.Unit) || isHeat(c.Unit) || isClock(c.Unit))
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
func shareOf(c Column, limit float64, above bool) (metric string, better compare.Better) {
	better = c.Better
	if better == "" {
		better = compare.TraitsOf(c.Unit).Better
	}
	word := "below"
	if above {
		word = "above"
	}
	metric = strings.TrimSpace(fmt.Sprintf("%s %s %s %s", c.Name, word, compare.Decimal(limit, 12), c.Unit))
	if above == (better == compare.Higher) {
		return metric, compare.Higher
	}
	return metric, ""
}

// percentileName is "power p95".
func percentileName(column string, p float64) string { return column + " p" + compare.Decimal(p, 12) }

// SecondsText writes a duration in s for a sentence: "12.3 s".
func SecondsText(s float64) string {
	text := compare.Decimal(s, max(0, min(6, compare.Places(s/100))))
	if strings.Contains(text, ".") {
		text = strings.TrimSuffix(strings.TrimRight(text, "0"), ".")
	}
	return text + " s"
}

// inSeconds turns a time in ns into s.
func inSeconds(ns int64) float64 { return float64(ns) / 1e9 }

// nanoseconds turns s into ns, as far as they go.
func nanoseconds(s float64) int64 {
	return int64(math.Min(math.Round(s*1e9), math.MaxInt64/4))
}
