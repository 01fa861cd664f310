package intake

import (
	"bytes"
	"errors"
	"fmt"
	"sort"
	"strings"

	"github.com/pelletier/go-toml/v2"
	"github.com/pelletier/go-toml/v2/unstable"

	"tunegate/compare"
)

// policyFile is tunegate.toml as it is written.
type policyFile struct {
	Confidence *float64       `toml:"confidence"`
	Correction *string        `toml:"correction"`
	Metric     []policyMetric `toml:"metric"`
}

type policyMetric struct {
	Benchmark *string  `toml:"benchmark"`
	Metric    *string  `toml:"metric"`
	Unit      *string  `toml:"unit"`
	Better    *string  `toml:"better"`
	Scale     *string  `toml:"scale"`
	Role      *string  `toml:"role"`
	Tolerance *float64 `toml:"tolerance"`
	Weight    *float64 `toml:"weight"`
}

// policyKeys are the keys that a policy knows and what each expects, those of
// a [[metric]] with a leading "metric.".
var policyKeys = map[string]string{
	"confidence":       "a number such as 95 (per cent) or 0.95",
	"correction":       `"holm", "benjamini-hochberg" or "none"`,
	"metric":           "one or more [[metric]] tables",
	"metric.benchmark": `a name or a pattern in quotes, such as "tile-*"`,
	"metric.metric":    `a name or a pattern in quotes, such as "power"`,
	"metric.unit":      `a unit in quotes, such as "s"`,
	"metric.better":    `"higher" or "lower"`,
	"metric.scale":     `"ratio" or "interval"`,
	"metric.role":      `"score", "cost" or "info"`,
	"metric.tolerance": "a number, in per cent on a ratio scale, else in the metric's unit",
	"metric.weight":    "a number above zero",
}

// Policy reads a policy from TOML. It is strict: an unknown key, a wrong type
// or a value out of range is a *compare.PlacedError with line and column, and
// where a key looks like a known one it is named.
func Policy(data []byte, name string) (compare.Policy, error) {
	p := compare.Policy{Source: name}
	data = bytes.TrimPrefix(data, []byte("\xef\xbb\xbf"))
	var f policyFile
	d := toml.NewDecoder(bytes.NewReader(data)).DisallowUnknownFields()
	if err := d.Decode(&f); err != nil {
		return p, policyError(err, name)
	}
	at := keyPlaces(data, name)
	fail := func(key, format string, args ...any) error {
		return &compare.PlacedError{At: at[key], Msg: fmt.Sprintf(format, args...)}
	}
	if f.Confidence != nil {
		c, err := compare.ParseConfidence(*f.Confidence)
		if err != nil {
			return p, fail("confidence", "confidence: %v", err)
		}
		p.Confidence = c
	}
	if f.Correction != nil {
		c, err := compare.ParseCorrection(*f.Correction)
		if err != nil {
			return p, fail("correction", "correction: %v", err)
		}
		p.Correction = c
	}
	for i, m := range f.Metric {
		prefix := fmt.Sprintf("metric %d.", i)
		e := compare.Entry{Tolerance: m.Tolerance, Weight: m.Weight, From: at[fmt.Sprintf("metric %d", i)].String()}
		for _, t := range []struct {
			key string
			in  *string
			set func(string) error
		}{
			{"benchmark", m.Benchmark, func(s string) error { e.Benchmark = s; return compare.ValidGlob(s) }},
			{"metric", m.Metric, func(s string) error { e.Metric = s; return compare.ValidGlob(s) }},
			{"unit", m.Unit, func(s string) error { e.Unit = compare.CanonicalUnit(s); return nil }},
			{"better", m.Better, func(s string) error {
				e.Better = compare.Better(s)
				return oneOf(s, string(compare.Higher), string(compare.Lower))
			}},
			{"scale", m.Scale, func(s string) error {
				e.Scale = compare.Scale(s)
				return oneOf(s, string(compare.Ratio), string(compare.Interval))
			}},
			{"role", m.Role, func(s string) error {
				e.Role = compare.Role(s)
				return oneOf(s, string(compare.Score), string(compare.Cost), string(compare.Info))
			}},
		} {
			if t.in == nil {
				continue
			}
			if strings.TrimSpace(*t.in) == "" {
				return p, fail(prefix+t.key, "%s is empty; expected %s, or leave the line out", t.key, policyKeys["metric."+t.key])
			}
			if err := t.set(*t.in); err != nil {
				return p, fail(prefix+t.key, "%s: %v", t.key, err)
			}
		}
		if t := m.Tolerance; t != nil && !(*t >= 0 && *t < 1e9) {
			return p, fail(prefix+"tolerance", "tolerance is %v; expected zero or more", *t)
		}
		if w := m.Weight; w != nil && !(*w > 0 && *w < 1e9) {
			return p, fail(prefix+"weight", "weight is %v; expected a number above zero", *w)
		}
		p.Entries = append(p.Entries, e)
	}
	return p, nil
}

func oneOf(s string, words ...string) error {
	for _, w := range words {
		if s == w {
			return nil
		}
	}
	return fmt.Errorf("%q is unknown; expected %s", s, `"`+strings.Join(words, `" or "`)+`"`)
}

// policyError turns a decoder's error into one with file, line and column.
func policyError(err error, name string) error {
	var strict *toml.StrictMissingError
	if errors.As(err, &strict) && len(strict.Errors) > 0 {
		e := strict.Errors[0]
		line, column := e.Position()
		key := strings.Join(e.Key(), ".")
		return &compare.PlacedError{At: compare.Place{File: name, Line: line, Column: column},
			Msg: fmt.Sprintf("unknown key %s; %s", excerpt(e.Key()[len(e.Key())-1]), nearestKey(key))}
	}
	var wrong *toml.DecodeError
	if errors.As(err, &wrong) {
		line, column := wrong.Position()
		msg := strings.TrimPrefix(wrong.Error(), "toml: ")
		if key := strings.Join(wrong.Key(), "."); policyKeys[key] != "" {
			msg = fmt.Sprintf("%s has the wrong type; expected %s", wrong.Key()[len(wrong.Key())-1], policyKeys[key])
		}
		return &compare.PlacedError{At: compare.Place{File: name, Line: line, Column: column}, Msg: msg}
	}
	return fmt.Errorf("%s: %w", name, err)
}

// nearestKey names the known key on the same level with the fewest edits, or
// lists all of that level.
func nearestKey(key string) string {
	level, last := "", key
	if i := strings.LastIndex(key, "."); i >= 0 {
		level, last = key[:i+1], key[i+1:]
	}
	var known []string
	for k := range policyKeys {
		if strings.HasPrefix(k, level) && !strings.Contains(strings.TrimPrefix(k, level), ".") {
			known = append(known, strings.TrimPrefix(k, level))
		}
	}
	sort.Strings(known)
	best, edits := "", 4
	for _, k := range known {
		if e := columnEdits(last, k, 3); e < edits {
			best, edits = k, e
		}
	}
	if best != "" {
		return fmt.Sprintf("did you mean %q?", best)
	}
	if len(known) == 0 {
		return "a policy has no such table"
	}
	return "known here: " + strings.Join(known, ", ")
}

// keyPlaces finds where each key of a valid document stands: "confidence", and
// "metric 0" and "metric 0.role" for the keys of the first [[metric]].
func keyPlaces(data []byte, name string) map[string]compare.Place {
	at := map[string]compare.Place{}
	p := unstable.Parser{}
	p.Reset(data)
	prefix, seen := "", map[string]int{}
	for p.NextExpression() {
		e := p.Expression()
		var parts []string
		var first *unstable.Node
		for it := e.Key(); it.Next(); {
			if first == nil {
				first = it.Node()
			}
			parts = append(parts, string(it.Node().Data))
		}
		if first == nil {
			continue
		}
		start := p.Shape(first.Raw).Start
		place := compare.Place{File: name, Line: start.Line, Column: start.Column}
		key := strings.Join(parts, ".")
		switch e.Kind {
		case unstable.ArrayTable, unstable.Table:
			key = fmt.Sprintf("%s %d", key, seen[key])
			seen[strings.Join(parts, ".")]++
			prefix = key + "."
			at[key] = place
		default:
			at[prefix+key] = place
		}
	}
	return at
}
