package compare

import (
	"regexp"
	"slices"
	"strings"
	"unicode"
)

// Hazard says of what a reader has to be warned. The larger of two hazards
// includes the smaller one.
type Hazard int

// The hazards.
const (
	NoHazard    Hazard = iota
	PartsHazard        // power, energy, voltage, current or heat can damage parts
	MainsHazard        // what is shown may be measured at the mains
)

// unitHazards maps a unit in lower case to its hazard; see knownUnits for "mw".
var unitHazards = map[string]Hazard{
	"µw": MainsHazard, "mw": MainsHazard, "w": MainsHazard, "kw": MainsHazard,
	"va": MainsHazard, "kva": MainsHazard, "mva": MainsHazard,
	"µa": MainsHazard, "ma": MainsHazard, "a": MainsHazard, "ka": MainsHazard,
	"mwh": MainsHazard, "wh": MainsHazard, "kwh": MainsHazard,

	"var": PartsHazard, "kvar": PartsHazard, "mvar": PartsHazard,
	"mj": PartsHazard, "j": PartsHazard, "kj": PartsHazard,
	"µv": PartsHazard, "mv": PartsHazard, "v": PartsHazard, "kv": PartsHazard,
	"k": PartsHazard, "°c": PartsHazard, "°f": PartsHazard,
	// Of what the limit is, the unit does not say.
	ShareOfTime: PartsHazard,
}

// HazardOf is the hazard of a metric in this unit.
func HazardOf(unit string) Hazard { return unitHazards[strings.ToLower(CanonicalUnit(unit))] }

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

// HazardOfSetting is the hazard of setting key to value, judged by the words and
// units of both: "draw-limit" to "151 W" touches power, "threads" to "16"
// nothing.
func HazardOfSetting(key, value string) Hazard {
	worst := NoHazard
	keyWords := words(key)
	for _, w := range slices.Concat(keyWords, words(value)) {
		switch {
		case unitWords.MatchString(w):
			return MainsHazard
		case slices.Contains(hazardWords, w), slices.ContainsFunc(hazardParts, func(p string) bool { return strings.Contains(w, p) }):
			worst = PartsHazard
		}
	}
	if n := len(keyWords); n > 0 && slices.Contains(keyUnits, keyWords[n-1]) {
		worst = max(worst, HazardOf(keyWords[n-1]))
	}
	for _, m := range quantity.FindAllStringSubmatch(value, -1) {
		// "3 k" and "8 a day" are no temperature and no current.
		if unit := m[1]; unit != "k" && unit != "a" {
			worst = max(worst, HazardOf(unit))
		}
	}
	return worst
}

// words are the words of a name or text in lower case: parts of letters, a
// capital behind a small letter beginning the next one.
func words(s string) []string {
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

// CapHazard is the hazard of what the policy caps, whether it was measured or
// not. A cap is not shown where nothing was measured, so that it is never the
// mains' hazard.
func (p Policy) CapHazard() Hazard {
	worst := NoHazard
	for _, e := range p.Entries {
		if e.Cap != nil {
			worst = max(worst, HazardOf(e.Unit), HazardOfSetting(e.Metric, ""))
		}
	}
	return min(worst, PartsHazard)
}
