package compare

import (
	"cmp"
	"fmt"
	"path"
	"slices"
	"strings"
)

// Correction says how p values of several scores are adjusted for each other.
type Correction string

// The corrections. The empty value means JointCorrection.
const (
	// JointCorrection exchanges whole sessions for all scores and costs together.
	JointCorrection   Correction = "joint"
	Holm              Correction = "holm"
	BenjaminiHochberg Correction = "benjamini-hochberg"
	NoCorrection      Correction = "none"
)

// Policy is what the owner of the results decided. The zero value is the
// policy that states nothing.
type Policy struct {
	Source     string  // the file it came from; empty for none
	Confidence float64 // such as 0.95; 0: DefaultConfidence
	Correction Correction
	Burden     Burden
	// FewestRuns and FewestSessions are what a gate wants on each side of a
	// score; 0 for no demand.
	FewestRuns     int
	FewestSessions int
	// WidestBlindSpot is the largest blind spot of a ratio-scale score that a
	// gate lets pass, in per cent; nil for no demand.
	WidestBlindSpot *float64
	// SetAsideAllowed is how many new runs of a profile may be set aside.
	SetAsideAllowed int
	Removed         Removal // what a gate makes of a profile that is gone
	// SuiteTolerance is that of the suite and of its classes, in per cent; nil
	// for the default.
	SuiteTolerance *float64
	SuiteDecides   *bool   // whether a regression of the suite fails; nil: it does
	Bench          Minutes // what a session and a run take, as far as it states that
	Entries        []Entry
	Overrides      []Override // stronger than any entry; the last that applies wins
	// OverridesFrom names where the overrides were stated, for people; empty:
	// FromCall.
	OverridesFrom string
}

// Where a value in force comes from, unless a policy states it.
const (
	FromData    = "the data"
	FromUnit    = "the unit"
	FromCall    = "the call's tolerance" // an override
	FromDefault = "default"
)

// DoesSuiteDecide reports whether a regression of the suite fails.
func (p Policy) DoesSuiteDecide() bool { return p.SuiteDecides == nil || *p.SuiteDecides }

func (p Policy) overridesFrom() string { return cmp.Or(p.OverridesFrom, FromCall) }

// CheckOverrides is an error where a tolerance given for a name fits none of
// these series, as after a typing error.
func (p Policy) CheckOverrides(series ...*Series) error {
	for _, o := range p.Overrides {
		if o.Name == "" {
			continue
		}
		var names []string
		used := false
		for _, s := range series {
			if m, err := ResolveAnyway(Policy{Entries: p.Entries, Source: p.Source}, s); err == nil {
				used = used || o.applies(m)
				if !slices.Contains(names, m.Name()) {
					names = append(names, m.Name())
				}
			}
		}
		if !used {
			return fmt.Errorf("%s %q fits no score, and no cost by its whole name; there are %s (a cost of every benchmark is \"* power\")",
				p.overridesFrom(), o.Name, List(names, 12))
		}
	}
	return nil
}

// Burden says what a gate has to see before it lets a change pass.
type Burden string

// The burdens. The empty value means Harm.
const (
	Harm   Burden = "harm"   // fail on a regression
	Safety Burden = "safety" // pass only where the interval excludes a loss beyond the tolerance
)

// Removal says what a gate makes of a profile that is gone.
type Removal string

// The removals. The empty value means RemovalReview.
const (
	RemovalReview  Removal = "review" // a person has to agree
	RemovalFails   Removal = "fail"
	RemovalAllowed Removal = "allow"
)

// Override is a tolerance given for this one comparison.
type Override struct {
	// Name is a metric's name or a pattern for names; empty: every score. A cost
	// decides only where it is named: by its whole name, or by a pattern with a
	// part for the metric behind the one for the benchmark, as in "* power".
	Name      string
	Tolerance float64 // as in Entry
}

func (o Override) applies(m Metric) bool {
	if o.Name == "" || !NameMatches(o.Name, m.Name()) {
		return o.Name == "" && m.Role == Score
	}
	if m.Role == Score || o.Name == m.Name() {
		return true
	}
	for i, c := range o.Name {
		if c == ' ' && NameMatches(o.Name[:i], m.Benchmark) && NameMatches(o.Name[i+1:], m.Metric) {
			return true
		}
	}
	return false
}

// DefaultConfidence is the confidence where none is stated.
const DefaultConfidence = 0.95

// Entry states things about the metrics that it matches. An empty or nil field
// states nothing.
type Entry struct {
	Benchmark string // glob; empty matches every benchmark
	Metric    string // glob; empty means the default metric, score
	Unit      string
	Better    Better
	Scale     Scale
	Role      Role
	// Tolerance is in per cent on a ratio scale, in the metric's unit on an
	// interval scale, as people write it.
	Tolerance *float64
	Weight    *float64
	// Cap is a value, in the metric's unit, that no run may pass.
	Cap      *float64
	Class    string // of workload: a free label
	Required *bool
	// WidestBlindSpot is as Policy's, for these metrics; in the unit on an
	// interval scale.
	WidestBlindSpot *float64
	From            string // where it was stated, for people: "tunegate.toml:12"
}

// ID is the entry's patterns, or the metric that it names exactly.
func (e Entry) ID() MetricID { return MetricID{e.benchmark(), e.metric()} }

func (e Entry) metric() string { return cmp.Or(e.Metric, DefaultMetric) }

func (e Entry) benchmark() string { return cmp.Or(e.Benchmark, "*") }

func (e Entry) matches(benchmark, metric string) bool {
	return NameMatches(e.benchmark(), benchmark) && NameMatches(e.metric(), metric)
}

// Exact reports whether the entry names one metric of one benchmark.
func (e Entry) Exact() bool { return !isGlob(e.benchmark()) && !isGlob(e.metric()) }

func isGlob(s string) bool { return strings.ContainsAny(s, "*?[\\") }

// NameMatches reports whether a name fits a pattern: * stands for any
// characters, ? for one, [ab] for a or b. A slash is a character like any
// other, since a name is no path. A pattern that ValidGlob refuses fits nothing.
func NameMatches(pattern, name string) bool {
	noPath := strings.NewReplacer("/", "\x00")
	ok, err := path.Match(noPath.Replace(pattern), noPath.Replace(name))
	return err == nil && ok
}

// ValidGlob returns an error for a pattern that can never be matched.
func ValidGlob(pattern string) error {
	if _, err := path.Match(pattern, ""); err != nil {
		return fmt.Errorf("%q is not a name pattern: * stands for any characters, ? for one, [ab] for a or b", pattern)
	}
	return nil
}

// specificity orders entries: an exact name before a pattern, a pattern with
// more literal characters before one with fewer.
func (e Entry) specificity() []int {
	literal := func(s string) (int, int) {
		if !isGlob(s) {
			return 1, len(s)
		}
		return 0, len(s) - strings.Count(s, "*") - strings.Count(s, "?")
	}
	b1, b2 := literal(e.benchmark())
	m1, m2 := literal(e.metric())
	return []int{b1, b2, m1, m2}
}

// Metric is one quantity measured on one benchmark, with everything that is in
// force for it.
type Metric struct {
	Benchmark string
	Metric    string
	Unit      string
	Better    Better
	Scale     Scale
	Role      Role
	// Tolerance is a fraction on a ratio scale (0.005), in the unit on an
	// interval scale; nil where there is none.
	Tolerance     *float64
	ToleranceFrom string
	Weight        float64
	Cap           *float64
	Class         string
	Required      bool
	// WidestBlindSpot is as Tolerance: a fraction, or in the unit.
	WidestBlindSpot *float64
	// Named is false where a policy names metrics, but not this one.
	Named bool
	// Sources says where each value comes from, by the policy's key: a place
	// in a policy, the policy's OverridesFrom, or one of the constants.
	Sources map[string]string
}

// ID is the metric's identity, whatever is in force for it.
func (m Metric) ID() MetricID { return MetricID{m.Benchmark, m.Metric} }

// Name is what people call the metric: the benchmark alone for its score.
func (m Metric) Name() string { return m.ID().Name() }

// defaultTolerance of a score, as people write it: 0.5 % on a ratio scale, one
// unit else.
func defaultTolerance(s Scale) float64 {
	if s == Ratio {
		return 0.5
	}
	return 1
}

// setTolerance takes a tolerance as people write it.
func (m *Metric) setTolerance(t float64, from string) {
	m.Tolerance, m.ToleranceFrom, m.Sources["tolerance"] = m.Stored(t), from, from
}

// Stored turns a size as people write it, in per cent or in the unit, into the
// one that is kept.
func (m *Metric) Stored(size float64) *float64 {
	if m.Scale == Ratio {
		size /= 100
	}
	return &size
}

// Resolve says what is in force for a metric: the policy first, the most
// specific entry that states a thing wins; then what the data state; then what
// the unit alone says. It is a *NoDirectionError when a score or a cost has no
// direction: that is never guessed from the numbers.
func (p Policy) Resolve(benchmark, metric, unit string, better Better) (Metric, error) {
	m := Metric{Benchmark: benchmark, Metric: metric, Unit: unit, Weight: 1, Named: len(p.Entries) == 0,
		Sources: map[string]string{"unit": FromData, "better": FromUnit, "scale": FromUnit, "role": FromUnit, "weight": FromDefault}}
	var matching []Entry
	for _, e := range p.Entries {
		if e.matches(benchmark, metric) {
			matching = append(matching, e)
			m.Named = true
		}
	}
	// most finds the most specific entry that states a key, the later one of
	// equals, and notes it as the key's source.
	most := func(key string, states func(Entry) bool) (best Entry, ok bool) {
		for _, e := range matching {
			if states(e) && (!ok || slices.Compare(e.specificity(), best.specificity()) >= 0) {
				best, ok = e, true
			}
		}
		if ok {
			m.Sources[key] = best.From
		}
		return best, ok
	}
	if e, ok := most("unit", func(e Entry) bool { return e.Unit != "" }); ok {
		if unit != "" && e.Unit != unit {
			return m, fmt.Errorf("%s is measured in %q, but the policy says %q (%s)", m.Name(), unit, e.Unit, e.From)
		}
		m.Unit = e.Unit
	}
	traits := TraitsOf(m.Unit)
	m.Better, m.Scale, m.Role = traits.Better, traits.Scale, traits.Role
	if metric == MetricAmbient && (m.Unit == "°C" || m.Unit == "°F") {
		m.Role = Info // the room's doing, not the profile's
	}
	if better != "" {
		m.Better, m.Sources["better"] = better, FromData
	}
	if e, ok := most("better", func(e Entry) bool { return e.Better != "" }); ok {
		m.Better = e.Better
	}
	if e, ok := most("scale", func(e Entry) bool { return e.Scale != "" }); ok {
		m.Scale = e.Scale
	}
	if e, ok := most("role", func(e Entry) bool { return e.Role != "" }); ok {
		m.Role = e.Role
	}
	if e, ok := most("weight", func(e Entry) bool { return e.Weight != nil }); ok {
		m.Weight = *e.Weight
	}
	if e, ok := most("cap", func(e Entry) bool { return e.Cap != nil }); ok {
		m.Cap = e.Cap
	}
	if e, ok := most("class", func(e Entry) bool { return e.Class != "" }); ok {
		m.Class = e.Class
	}
	if e, ok := most("required", func(e Entry) bool { return e.Required != nil }); ok {
		m.Required = *e.Required
	}
	if m.Role == Score {
		m.setTolerance(defaultTolerance(m.Scale), FromDefault)
		if p.WidestBlindSpot != nil && m.Scale == Ratio {
			m.WidestBlindSpot, m.Sources["widest-blind-spot"] = m.Stored(*p.WidestBlindSpot), p.Source
		}
	}
	if e, ok := most("tolerance", func(e Entry) bool { return e.Tolerance != nil }); ok {
		m.setTolerance(*e.Tolerance, e.From)
	}
	if e, ok := most("widest-blind-spot", func(e Entry) bool { return e.WidestBlindSpot != nil }); ok {
		m.WidestBlindSpot = m.Stored(*e.WidestBlindSpot)
	}
	for _, o := range p.Overrides {
		if o.applies(m) {
			m.setTolerance(o.Tolerance, p.overridesFrom())
		}
	}
	if m.Tolerance != nil && m.Scale == Ratio && *m.Tolerance >= 1 {
		return m, fmt.Errorf("a tolerance of 100 %% or more for %s would accept everything; expected per cent, such as 0.5", m.Name())
	}
	if m.Better == "" && m.Role != Info {
		return m, &NoDirectionError{m.ID(), m.Unit}
	}
	return m, nil
}

// NoDirectionError is about a score or a cost of which neither the policy nor the
// data nor the unit say whether more is better.
type NoDirectionError struct {
	Metric MetricID
	Unit   string // empty where none is stated
}

func (e *NoDirectionError) Error() string {
	if e.Unit == "" {
		return e.Metric.Name() + " has no unit"
	}
	return fmt.Sprintf("%s is in %q, which does not say whether more is better", e.Metric.Name(), e.Unit)
}

// ResolveAnyway resolves the metric of a series where it does not matter whether
// more is better.
func ResolveAnyway(policy Policy, s *Series) (Metric, error) {
	return policy.Resolve(s.Benchmark, s.Metric, s.Unit, cmp.Or(s.Better, Higher))
}

// Caps are the entries that no run may pass.
func (p Policy) Caps() []Entry {
	return slices.DeleteFunc(slices.Clone(p.Entries), func(e Entry) bool { return e.Cap == nil })
}
