package report

import (
	"regexp"
	"slices"
	"strings"
	"unicode"

	"tunegate/compare"
	"tunegate/compare/readings"
)

// hazard says of what a reader has to be warned. The larger of two hazards
// includes the smaller one.
type hazard int

// The hazards.
const (
	noHazard    hazard = iota
	partsHazard        // power, energy, voltage, current or heat can damage parts
	mainsHazard        // what is shown may be measured at the mains
)

// unitHazards maps a unit in lower case to its hazard; see knownUnits of compare for "mw".
var unitHazards = map[string]hazard{
	"µw": mainsHazard, "mw": mainsHazard, "w": mainsHazard, "kw": mainsHazard,
	"va": mainsHazard, "kva": mainsHazard, "mva": mainsHazard,
	"µa": mainsHazard, "ma": mainsHazard, "a": mainsHazard, "ka": mainsHazard,
	"mwh": mainsHazard, "wh": mainsHazard, "kwh": mainsHazard,

	"var": partsHazard, "kvar": partsHazard, "mvar": partsHazard,
	"mj": partsHazard, "j": partsHazard, "kj": partsHazard,
	"µv": partsHazard, "mv": partsHazard, "v": partsHazard, "kv": partsHazard,
	"k": partsHazard, "°c": partsHazard, "°f": partsHazard,
	// Of what the limit is, the unit does not say.
	compare.ShareOfTime: partsHazard,
}

// hazardOf is the hazard of a metric in this unit.
func hazardOf(unit string) hazard { return unitHazards[strings.ToLower(compare.CanonicalUnit(unit))] }

var (
	// hazardParts are found within a word, as in "undervolting".
	hazardParts = []string{"volt", "watt", "power", "temperature", "thermal", "limit", "curve", "offset"}
	// hazardWords are whole words: "current" also stands in "concurrent", "amp" in
	// "sample".
	hazardWords = []string{"current", "currents", "amp", "amps", "ampere", "amperes", "temp", "temps", "heat", "heating", "hot",
		"cool", "cooling", "cooler", "lift", "draw", "fan", "fans"}
	// unitWords are the units of the mains, spelled out.
	unitWords = regexp.MustCompile(`^(milli|kilo)?(watts?|amps?|amperes?)$`)
	// keyUnits are units that end a key, as in "cap-w". Single letters that count
	// variants as often ("plan-a", "rev-c") are left out.
	keyUnits = []string{"w", "mw", "kw", "va", "kva", "wh", "kwh", "ma", "mv"}
	// quantity is a number with what may be its unit.
	quantity = regexp.MustCompile(`(?:^|[^\pL\d.])[-+]?\d+(?:[.,]\d+)?\s*([°µμ]?\s?\pL+)`)
)

// hazardOfSetting is the hazard of setting key to value, judged by the words and
// units of both: "draw-limit" to "151 W" touches power, "threads" to "16"
// nothing.
func hazardOfSetting(key, value string) hazard {
	worst := noHazard
	keyWords := wordsOf(key)
	for _, w := range slices.Concat(keyWords, wordsOf(value)) {
		switch {
		case unitWords.MatchString(w):
			return mainsHazard
		case slices.Contains(hazardWords, w), slices.ContainsFunc(hazardParts, func(p string) bool { return strings.Contains(w, p) }):
			worst = partsHazard
		}
	}
	if n := len(keyWords); n > 0 && slices.Contains(keyUnits, keyWords[n-1]) {
		worst = max(worst, hazardOf(keyWords[n-1]))
	}
	for _, m := range quantity.FindAllStringSubmatch(value, -1) {
		// "3 k" and "8 a day" are no temperature and no current.
		if unit := m[1]; unit != "k" && unit != "a" {
			worst = max(worst, hazardOf(unit))
		}
	}
	return worst
}

// wordsOf are the words of a name or text in lower case: parts of letters, a
// capital behind a small letter beginning the next one.
func wordsOf(s string) []string {
	var split strings.Builder
	small := false
	for _, c := range s {
		if small && unicode.IsUpper(c) {
			split.WriteByte(' ')
		}
		small = unicode.IsLower(c)
		split.WriteRune(c)
	}
	return strings.FieldsFunc(strings.ToLower(split.String()), func(c rune) bool { return !unicode.IsLetter(c) })
}

// capsHazard is the hazard of what a policy caps, whether it was measured or not.
// A cap is not shown where nothing was measured, so that it is never the mains'
// hazard.
func capsHazard(caps []compare.Entry) hazard {
	worst := largestHazard(caps, func(e compare.Entry) hazard { return max(hazardOf(e.Unit), hazardOfSetting(e.Metric, "")) })
	return min(worst, partsHazard)
}

// readingsHazard is the largest hazard of the metrics that logs gave.
func readingsHazard(found *readings.Result) hazard {
	return largestHazard(found.Runs, func(r readings.Run) hazard {
		return largestHazard(r.Metrics, func(v readings.Value) hazard { return hazardOf(v.Unit) })
	})
}
