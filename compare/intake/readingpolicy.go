package intake

import (
	"slices"
	"strings"

	"github.com/pelletier/go-toml/v2/unstable"

	"tunegate/compare/readings"
)

// policyReadings reads the table [readings]: the rules for monitoring logs, by the
// keys that ReadingRule knows. A rule that may stand several times takes a text
// or a list of texts. nil where there is no such table.
func policyReadings(data []byte, name string) (*readings.Rules, error) {
	var rules *readings.Rules
	seen := map[string]bool{}
	err := walkTOML(data, name, func(k tomlKey) error {
		if k.path[0] != "readings" {
			return nil
		}
		isTable, isKey := k.kind == unstable.Table, len(k.path) == 2 && k.value != nil
		if len(k.path) > 2 || k.kind == unstable.ArrayTable || len(k.path) == 2 && !isKey || len(k.path) == 1 && !isTable {
			return placed(k.valueAt, "readings has the wrong type; expected %s", policyKeys["readings"])
		}
		if rules == nil {
			r := readings.DefaultRules()
			rules = &r
		}
		if k.value == nil {
			return nil
		}
		key := k.path[1]
		expected, known := readingKeys[key]
		if !known {
			return errUnknownKey(k.at, key, readingKeys, "")
		}
		if seen[key] {
			return nil // decoding finds it again and says so
		}
		seen[key] = true
		values := []*unstable.Node{k.value}
		if k.kind == unstable.Array && readingLists[key] {
			values = nil
			for it := k.value.Children(); it.Next(); {
				values = append(values, it.Node())
			}
		}
		kinds := textKinds
		switch {
		case strings.HasPrefix(expected, "true"):
			kinds = policyKinds["metric.required"]
		case readingNumbers[key]:
			kinds = numberKinds
		}
		for _, v := range values {
			at := k.valueAt
			if v.Raw.Length > 0 {
				at = k.walk.place(v.Raw)
			}
			if !slices.Contains(kinds, v.Kind) {
				return placed(at, "%s has the wrong type; expected %s", key, expected)
			}
			text := string(v.Data)
			if v.Kind != unstable.String {
				text = strings.ReplaceAll(text, "_", "")
			}
			if err := ReadingRule(rules, key, text); err != nil {
				return placed(at, "%s: %v", key, err)
			}
		}
		return nil
	})
	if rules != nil {
		for i := range rules.Columns {
			rules.Columns[i].FromPolicy = true
		}
		for i := range rules.Invalid {
			rules.Invalid[i].FromPolicy = true
		}
	}
	return rules, err
}

// readingLists are the rules that may stand several times, readingNumbers those
// that are numbers.
var (
	readingLists = map[string]bool{
		"column": true, "maximum": true, "percentile": true, "above": true, "below": true, "constant": true,
		"invalid": true,
	}
	readingNumbers = map[string]bool{
		"longest-dip": true, "shortest-run": true, "warm-up": true, "gap-steps": true, "gap-share": true,
	}
)
