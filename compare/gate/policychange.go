package gate

import (
	"cmp"
	"fmt"
	"reflect"
	"slices"
	"strings"

	"tunegate/compare"
)

// PolicyChange is what one policy says differently from another. Which fields are
// filled depends on its kind; package report puts it into words.
type PolicyChange struct {
	Kind    PolicyChangeKind
	Metrics []string // that it is about; empty for a key of the policy itself
	Key     string   // as the policy writes it; "is" for whether a metric is judged
	// Before and Now are values as a policy states them, such as "0.5 %".
	Before, Now string
	Err         error // why a metric cannot be judged
}

// PolicyChangeKind says what a change is about.
type PolicyChangeKind string

// The kinds of changes.
const (
	PolicyRemoved       PolicyChangeKind = "removed"
	KeyChanged          PolicyChangeKind = "key"
	ReadingRulesChanged PolicyChangeKind = "reading rules" // which act when a log is read, not here
	NotJudgedAnyMore    PolicyChangeKind = "not judged any more"
	JudgedAgain         PolicyChangeKind = "judged again"
	NoEffect            PolicyChangeKind = "no effect" // entries, on nothing measured so far
)

// policyChanges lists what changes from the base's policy to the head's: its own
// keys, and what is in force for each metric that either state has or either
// policy names exactly. Empty where nothing changes, or the base has no policy.
func policyChanges(base, head Snapshot) []PolicyChange {
	if base.Policy == nil {
		return nil
	}
	out := policyDifferences(base, head, metricsOf(base, head))
	if head.Policy == nil {
		out = append([]PolicyChange{{Kind: PolicyRemoved}}, out...)
	}
	return out
}

// metricsOf lists every metric that either state has, with unit and direction.
func metricsOf(snapshots ...Snapshot) []compare.Value {
	seen := map[compare.MetricID]bool{}
	var out []compare.Value
	for _, s := range snapshots {
		for _, name := range s.names() {
			for _, v := range s.Profiles[name].Values {
				if v.Metric == "" {
					v.Metric = compare.DefaultMetric
				}
				if k := v.ID(); !seen[k] {
					seen[k] = true
					out = append(out, v)
				}
			}
		}
	}
	return out
}

// policyDifferences lists the differences of two policies: their own keys, and what
// is in force for each metric given (its benchmark, metric, unit and direction are
// looked at) and for each that either policy names exactly.
func policyDifferences(base, head Snapshot, metrics []compare.Value) []PolicyChange {
	old, new := base.policy(), head.policy()
	var out []PolicyChange
	say := func(key, a, b string) {
		if a != b {
			out = append(out, PolicyChange{Kind: KeyChanged, Key: key, Before: a, Now: b})
		}
	}
	percent := func(c float64) string {
		if c == 0 {
			c = compare.DefaultConfidence
		}
		return fmt.Sprintf("%.6g %%", 100*c)
	}
	say("confidence", percent(old.Confidence), percent(new.Confidence))
	correction := func(p compare.Policy) string { return string(cmp.Or(p.Correction, compare.Holm)) }
	burden := func(p compare.Policy) string { return string(cmp.Or(p.Burden, compare.Harm)) }
	say("correction", correction(old), correction(new))
	say("burden", burden(old), burden(new))
	say("fewest-runs", fmt.Sprint(old.FewestRuns), fmt.Sprint(new.FewestRuns))
	say("fewest-sessions", fmt.Sprint(old.FewestSessions), fmt.Sprint(new.FewestSessions))
	say("set-aside-allowed", fmt.Sprint(old.SetAsideAllowed), fmt.Sprint(new.SetAsideAllowed))
	say("widest-blind-spot", optional(old.WidestBlindSpot, "%"), optional(new.WidestBlindSpot, "%"))
	say("suite-tolerance", optional(old.SuiteTolerance, "%"), optional(new.SuiteTolerance, "%"))
	say("suite-decides", fmt.Sprint(old.DoesSuiteDecide()), fmt.Sprint(new.DoesSuiteDecide()))
	if !reflect.DeepEqual(base.ReadingRules, head.ReadingRules) {
		out = append(out, PolicyChange{Kind: ReadingRulesChanged})
	}
	var ofMetrics []PolicyChange // one for all metrics that change alike
	note := func(metric string, changes ...PolicyChange) {
		for _, c := range changes {
			at := slices.IndexFunc(ofMetrics, c.sameAs)
			if at < 0 {
				at = len(ofMetrics)
				ofMetrics = append(ofMetrics, c)
			}
			ofMetrics[at].Metrics = append(ofMetrics[at].Metrics, metric)
		}
	}
	for _, v := range withNamed(metrics, old, new) {
		a, errA := resolveUndirected(old, v)
		b, errB := resolveUndirected(new, v)
		switch {
		case errA == nil && errB == nil:
			note(a.Name(), metricDifferences(old, new, a, b)...)
		case errA == nil:
			note(b.Name(), PolicyChange{Kind: NotJudgedAnyMore, Err: errB})
		case errB == nil:
			note(a.Name(), PolicyChange{Kind: JudgedAgain, Err: errA})
		}
	}
	out = append(out, ofMetrics...)
	if len(out) == 0 && !slices.EqualFunc(old.Entries, new.Entries, sameEntry) {
		out = append(out, PolicyChange{Kind: NoEffect})
	}
	return out
}

// sameAs reports whether two changes say the same, of whatever metrics.
func (c PolicyChange) sameAs(d PolicyChange) bool {
	return c.Kind == d.Kind && c.Key == d.Key && c.Before == d.Before && c.Now == d.Now &&
		(c.Err == nil) == (d.Err == nil) && (c.Err == nil || c.Err.Error() == d.Err.Error())
}

// policy is the state's policy; the one that states nothing where it has none.
func (s Snapshot) policy() compare.Policy {
	if s.Policy == nil {
		return compare.Policy{}
	}
	return *s.Policy
}

// withNamed adds the metrics that the policies name exactly.
func withNamed(metrics []compare.Value, policies ...compare.Policy) []compare.Value {
	out := slices.Clone(metrics)
	seen := map[compare.MetricID]bool{}
	for _, v := range metrics {
		seen[v.ID()] = true
	}
	for _, p := range policies {
		for _, e := range p.Entries {
			k := e.ID()
			if e.Exact() && !seen[k] {
				seen[k] = true
				out = append(out, compare.Value{Benchmark: k.Benchmark, Metric: k.Metric})
			}
		}
	}
	return out
}

// resolveUndirected resolves a metric; an unstated direction is no
// error here.
func resolveUndirected(p compare.Policy, v compare.Value) (compare.Metric, error) {
	m, err := p.Resolve(v.Benchmark, v.Metric, v.Unit, v.Better)
	if err != nil && v.Better == "" {
		_, err = p.Resolve(v.Benchmark, v.Metric, v.Unit, compare.Higher)
	}
	return m, err
}

// sameEntry compares what two entries say, not where.
func sameEntry(a, b compare.Entry) bool {
	same := func(x, y *float64) bool { return x == y || x != nil && y != nil && *x == *y }
	required := a.Required == b.Required || a.Required != nil && b.Required != nil && *a.Required == *b.Required
	return required && same(a.Tolerance, b.Tolerance) && same(a.Weight, b.Weight) && same(a.Cap, b.Cap) &&
		same(a.WidestBlindSpot, b.WidestBlindSpot) &&
		[7]string{a.ID().Benchmark, a.ID().Metric, a.Unit, string(a.Better), string(a.Scale), string(a.Role), a.Class} ==
			[7]string{b.ID().Benchmark, b.ID().Metric, b.Unit, string(b.Better), string(b.Scale), string(b.Role), b.Class}
}

func metricDifferences(old, new compare.Policy, a, b compare.Metric) []PolicyChange {
	var out []PolicyChange
	say := func(key, x, y string) {
		if x != y {
			out = append(out, PolicyChange{Kind: KeyChanged, Key: key, Before: x, Now: y})
		}
	}
	sized := func(m compare.Metric, v *float64) string {
		if v == nil {
			return "none"
		}
		if m.Scale == compare.Ratio {
			return fmt.Sprintf("%.6g %%", 100**v)
		}
		return strings.TrimSpace(fmt.Sprintf("%.6g %s", *v, m.Unit))
	}
	named := map[bool]string{true: "judged", false: "not judged"}
	say("is", named[a.Named], named[b.Named])
	say("unit", cmp.Or(a.Unit, "none"), cmp.Or(b.Unit, "none"))
	say("better", cmp.Or(string(a.Better), "not stated"), cmp.Or(string(b.Better), "not stated"))
	say("scale", string(a.Scale), string(b.Scale))
	say("role", string(a.Role), string(b.Role))
	say("tolerance", sized(a, a.Tolerance), sized(b, b.Tolerance))
	say("cap", optional(a.Cap, a.Unit), optional(b.Cap, b.Unit))
	say("weight", fmt.Sprint(a.Weight), fmt.Sprint(b.Weight))
	say("class", cmp.Or(a.Class, "none"), cmp.Or(b.Class, "none"))
	say("required", fmt.Sprint(a.Required), fmt.Sprint(b.Required))
	const spot = "widest-blind-spot"
	whole := func(m compare.Metric, p compare.Policy) bool {
		return m.WidestBlindSpot == nil || m.Sources[spot] == p.Source
	}
	if !whole(a, old) || !whole(b, new) { // else said for the whole
		say(spot, sized(a, a.WidestBlindSpot), sized(b, b.WidestBlindSpot))
	}
	return out
}

func optional(v *float64, unit string) string {
	if v == nil {
		return "none"
	}
	return strings.TrimSpace(fmt.Sprintf("%.6g %s", *v, unit))
}
