package intake

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/pelletier/go-toml/v2"
	"github.com/pelletier/go-toml/v2/unstable"

	"tunegate/compare"
	"tunegate/compare/readings"
)

// policyTOML is tunegate.toml as it is written.
type policyTOML struct {
	Confidence *float64       `toml:"confidence"`
	Correction *string        `toml:"correction"`
	Burden     *string        `toml:"burden"`
	Removed    *string        `toml:"removed"`
	Runs       *int           `toml:"fewest-runs"`
	Sessions   *int           `toml:"fewest-sessions"`
	BlindSpot  *float64       `toml:"widest-blind-spot"`
	SetAside   *int           `toml:"set-aside-allowed"`
	Suite      *float64       `toml:"suite-tolerance"`
	Decides    *bool          `toml:"suite-decides"`
	Words      []string       `toml:"map"`
	Trust      []string       `toml:"trust"`
	Metric     []policyMetric `toml:"metric"`
	Bench      struct {
		Run     *float64 `toml:"run-minutes"`
		Session *float64 `toml:"session-minutes"`
	} `toml:"bench"`
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
	Cap       *float64 `toml:"cap"`
	Class     *string  `toml:"class"`
	Required  *bool    `toml:"required"`
	BlindSpot *float64 `toml:"widest-blind-spot"`
}

// policyKeys are the keys that a policy knows and what each expects, those of
// a [[metric]] with a leading "metric.".
var policyKeys = map[string]string{
	"confidence":               "a number such as 95 (per cent) or 0.95",
	"correction":               `"joint", "holm", "benjamini-hochberg" or "none"`,
	"burden":                   `"harm" (fail on a regression) or "safety" (pass only where the interval excludes a loss beyond the tolerance)`,
	"removed":                  `"review" (a person has to agree), "fail" or "allow"`,
	"fewest-runs":              "a whole number, zero or more",
	"fewest-sessions":          "a whole number, zero or more",
	"widest-blind-spot":        "a number above zero, in per cent",
	"set-aside-allowed":        "a whole number, zero or more",
	"suite-tolerance":          "a number, zero or more, in per cent",
	"suite-decides":            "true or false",
	"map":                      `a list of headers and units and what they mean, such as ["Einheit = unit"]`,
	"trust":                    `a list of names of benchmarks or metrics, or patterns, such as ["cold-start*"]`,
	"metric.cap":               "a number in the metric's unit",
	"metric.class":             `a workload class in quotes, such as "rendering"`,
	"metric.required":          "true or false",
	"metric.widest-blind-spot": "a number above zero, in per cent on a ratio scale, else in the metric's unit",
	"metric":                   "one or more [[metric]] tables",
	"readings":                 "one [readings] table",
	"bench":                    "one [bench] table",
	"bench.run-minutes":        "a number above zero: what a run takes",
	"bench.session-minutes":    "a number above zero: what a session takes before its first run",
	"metric.benchmark":         `a name or a pattern in quotes, such as "tile-*"`,
	"metric.metric":            `a name or a pattern in quotes, such as "power"`,
	"metric.unit":              `a unit in quotes, such as "s"`,
	"metric.better":            `"higher" or "lower"`,
	"metric.scale":             `"ratio" or "interval"`,
	"metric.role":              `"score", "cost" or "info"`,
	"metric.tolerance":         "a number, in per cent on a ratio scale, else in the metric's unit",
	"metric.weight":            "a number above zero",
}

// PolicyFile is what a policy file states.
type PolicyFile struct {
	Policy   compare.Policy
	Readings *readings.Rules          // for monitoring logs; nil where none are stated
	Stated   map[string]bool          // the keys at its top level that it states
	At       map[string]compare.Place // where each key stands, see gate.Snapshot
	Words    Words                    // what words of sheets mean
	Trust    []string                 // readings that CheckSlips leaves alone
}

// Policy reads a policy from TOML. It is strict: an unknown key, a wrong type
// or a value out of range is a *compare.PlacedError with line and column, and
// where a key looks like a known one it is named.
func Policy(data []byte, name string) (PolicyFile, error) {
	data = tomlText(data)
	at, err := policyPlaces(data, name)
	if err != nil {
		return PolicyFile{}, err
	}
	rules, err := policyReadings(data, name)
	if err != nil {
		return PolicyFile{}, err
	}
	stated := map[string]bool{}
	for key := range at {
		if !strings.HasPrefix(key, "metric") && !strings.Contains(key, ".") {
			stated[key] = true
		}
	}
	file := PolicyFile{Readings: rules, Stated: stated, At: at}
	if file.Policy, err = judgingPolicy(data, name, at); err != nil {
		return file, err
	}
	return file, file.readSheets(data, name, at)
}

// readSheets reads what a policy says about sheets.
func (p *PolicyFile) readSheets(data []byte, name string, at map[string]compare.Place) error {
	var f policyTOML
	if err := toml.Unmarshal(data, &f); err != nil {
		return tomlError(err, data, name)
	}
	if len(f.Words) > 0 {
		p.Words = Words{}
	}
	for _, text := range f.Words {
		if err := p.Words.Add(text); err != nil {
			return placed(at["map"], "map: %v", err)
		}
	}
	for _, text := range f.Trust {
		if err := compare.ValidGlob(text); err != nil {
			return placed(at["trust"], "trust: %v", err)
		}
	}
	p.Trust = f.Trust
	return nil
}

// judgingPolicy reads all but the rules for monitoring logs; at says where each
// key stands.
func judgingPolicy(data []byte, name string, at map[string]compare.Place) (compare.Policy, error) {
	p := compare.Policy{Source: name}
	var f policyTOML
	if err := toml.Unmarshal(data, &f); err != nil {
		return p, tomlError(err, data, name)
	}
	fail := func(key, format string, args ...any) error {
		return &compare.PlacedError{At: at[key], Msg: fmt.Sprintf(format, args...)}
	}
	if f.Confidence != nil {
		c, err := parseConfidence(*f.Confidence)
		if err != nil {
			return p, fail("confidence", "confidence: %v", err)
		}
		p.Confidence = c
	}
	if f.Correction != nil {
		c, err := ParseCorrection(*f.Correction)
		if err != nil {
			return p, fail("correction", "correction: %v", err)
		}
		p.Correction = c
	}
	if f.Burden != nil {
		if err := oneOf(*f.Burden, string(compare.Harm), string(compare.Safety)); err != nil {
			return p, fail("burden", "burden: %v", err)
		}
		p.Burden = compare.Burden(*f.Burden)
	}
	if f.Removed != nil {
		if err := oneOf(*f.Removed, string(compare.RemovalReview), string(compare.RemovalFails), string(compare.RemovalAllowed)); err != nil {
			return p, fail("removed", "removed: %v", err)
		}
		p.Removed = compare.Removal(*f.Removed)
	}
	for _, n := range []struct {
		key  string
		in   *int
		into *int
	}{
		{"fewest-runs", f.Runs, &p.FewestRuns},
		{"fewest-sessions", f.Sessions, &p.FewestSessions},
		{"set-aside-allowed", f.SetAside, &p.SetAsideAllowed},
	} {
		if n.in == nil {
			continue
		}
		if *n.in < 0 {
			return p, fail(n.key, "%s is %d; expected %s", n.key, *n.in, policyKeys[n.key])
		}
		*n.into = *n.in
	}
	positive := func(key string, v *float64) error {
		if v != nil && !(*v > 0 && *v < 1e9) {
			name := key[strings.LastIndex(key, ".")+1:]
			return fail(key, "%s is %v; expected a number above zero and below 1e9", name, *v)
		}
		return nil
	}
	if err := positive("widest-blind-spot", f.BlindSpot); err != nil {
		return p, err
	}
	p.WidestBlindSpot = f.BlindSpot
	if t := f.Suite; t != nil && !(*t >= 0 && *t < 100) {
		return p, fail("suite-tolerance", "suite-tolerance is %v; expected zero or more, and below 100 (per cent)", *t)
	}
	p.SuiteTolerance, p.SuiteDecides = f.Suite, f.Decides
	for _, m := range []struct {
		key  string
		in   *float64
		into *float64
	}{{"bench.run-minutes", f.Bench.Run, &p.Bench.Run}, {"bench.session-minutes", f.Bench.Session, &p.Bench.Session}} {
		if err := positive(m.key, m.in); err != nil {
			return p, err
		}
		if m.in != nil {
			*m.into = *m.in
		}
	}
	for i, m := range f.Metric {
		prefix := fmt.Sprintf("metric %d.", i)
		e := compare.Entry{Tolerance: m.Tolerance, Weight: m.Weight, Cap: m.Cap, Required: m.Required, WidestBlindSpot: m.BlindSpot,
			From: at[fmt.Sprintf("metric %d", i)].String()}
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
			{"class", m.Class, func(s string) error { e.Class = s; return nil }},
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
			return p, fail(prefix+"tolerance", "tolerance is %v; expected zero or more, and below 1e9", *t)
		}
		if c := m.Cap; c != nil && (math.IsNaN(*c) || math.IsInf(*c, 0)) {
			return p, fail(prefix+"cap", "cap is %v; expected %s", *c, policyKeys["metric.cap"])
		}
		if err := positive(prefix+"weight", m.Weight); err != nil {
			return p, err
		}
		if err := positive(prefix+"widest-blind-spot", m.BlindSpot); err != nil {
			return p, err
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

var (
	numberKinds = []unstable.Kind{unstable.Integer, unstable.Float}
	wholeKinds  = []unstable.Kind{unstable.Integer}
	textKinds   = []unstable.Kind{unstable.String}
)

// policyKinds are the types of policyKeys that are no text in quotes.
var policyKinds = map[string][]unstable.Kind{
	"confidence":               numberKinds,
	"widest-blind-spot":        numberKinds,
	"suite-tolerance":          numberKinds,
	"suite-decides":            {unstable.Bool},
	"map":                      {unstable.Array},
	"trust":                    {unstable.Array},
	"metric.tolerance":         numberKinds,
	"metric.weight":            numberKinds,
	"metric.cap":               numberKinds,
	"metric.widest-blind-spot": numberKinds,
	"fewest-runs":              wholeKinds,
	"fewest-sessions":          wholeKinds,
	"set-aside-allowed":        wholeKinds,
	"metric.required":          {unstable.Bool},
	"bench.run-minutes":        numberKinds,
	"bench.session-minutes":    numberKinds,
}

// tomlShape is a document of plain keys, one list of tables and one table.
type tomlShape struct {
	list  string                     // its heading: metric for [[metric]]
	table string                     // its heading: bench for [bench]; empty for none
	keys  map[string]string          // what each key expects, those of list and table with its name and a dot in front
	kinds map[string][]unstable.Kind // types of keys that are no text in quotes
	each  func(key string, k tomlKey) error
}

// policyPlaces says where each key of a policy stands.
func policyPlaces(data []byte, name string) (map[string]compare.Place, error) {
	return tomlShape{list: "metric", table: "bench", keys: policyKeys, kinds: policyKinds}.places(data, name)
}

// places holds the keys of a document to those that are known and to their
// types. It says where each stands: "confidence", and "metric 0" and
// "metric 0.role" for the first [[metric]], also where that is written inline;
// "bench.run-minutes" in a table.
// The decoder alone would take Role for role, and [metric] for [[metric]].
// each, where there is one, is called for every key that passed.
func (s tomlShape) places(data []byte, name string) (map[string]compare.Place, error) {
	at := map[string]compare.Place{}
	check := func(k tomlKey, level, prefix string) error {
		own := k.path[strings.Count(level, "."):]
		key := level + own[0]
		if s.keys[key] == "" {
			return errUnknownKey(k.at, own[0], s.keys, level)
		}
		kinds := s.kinds[key]
		if kinds == nil {
			kinds = textKinds
		}
		if len(own) > 1 || !slices.Contains(kinds, k.kind) {
			return placed(k.valueAt, "%s has the wrong type; expected %s", own[0], s.keys[key])
		}
		if n := len(k.value.Data); n > maxName {
			return placed(k.valueAt, "%s has %d bytes, expected at most %d; shorten it", own[0], n, maxName)
		}
		at[prefix+own[0]] = k.at
		if s.each == nil {
			return nil
		}
		return s.each(prefix+own[0], k)
	}
	tables, prefix := 0, ""
	newTable := func(place compare.Place) {
		key := fmt.Sprintf("%s %d", s.list, tables)
		at[key], prefix = place, key+"."
		tables++
	}
	err := walkTOML(data, name, func(k tomlKey) error {
		heading := k.value == nil
		switch {
		case k.path[0] == "readings" && s.keys["readings"] != "":
			return nil // policyReadings holds it to its keys
		case s.table != "" && k.path[0] == s.table:
			return s.inTable(k, check)
		case k.path[0] != s.list:
			return check(k, "", "")
		case len(k.path) > 1 && (heading || prefix != ""):
			return check(k, s.list+".", prefix)
		case len(k.path) == 1 && k.kind == unstable.ArrayTable:
			newTable(k.at)
			return nil
		}
		wrong := placed(k.valueAt, "%s has the wrong type; expected %s", s.list, s.keys[s.list])
		if k.kind != unstable.Array {
			return wrong
		}
		for it := k.value.Children(); it.Next(); {
			if it.Node().Kind != unstable.InlineTable {
				return wrong
			}
			newTable(k.walk.place(it.Node().Raw))
			for _, inner := range k.inline(it.Node()) {
				if err := check(inner, s.list+".", prefix); err != nil {
					return err
				}
			}
		}
		prefix = ""
		return nil
	})
	return at, err
}

// inTable holds a key of the table, or the table written inline, to what is known.
func (s tomlShape) inTable(k tomlKey, check func(k tomlKey, level, prefix string) error) error {
	level := s.table + "."
	switch {
	case len(k.path) > 1:
		return check(k, level, level)
	case k.value == nil && k.kind == unstable.Table:
		return nil
	case k.kind != unstable.InlineTable:
		return placed(k.valueAt, "%s has the wrong type; expected %s", s.table, s.keys[s.table])
	}
	for _, inner := range k.inline(k.value) {
		if err := check(inner, level, level); err != nil {
			return err
		}
	}
	return nil
}
