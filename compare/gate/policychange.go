package gate

import (
	"cmp"
	"fmt"
	"maps"
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
	// Loosens is set where more may pass than before, so that a person has to agree.
	Loosens bool
}

// PolicyChangeKind says what a change is about.
type PolicyChangeKind string

// The kinds of changes.
const (
	PolicyRemoved       PolicyChangeKind = "removed"
	BaselineChanged     PolicyChangeKind = "baseline" // of the profile that Key names
	AnchorChanged       PolicyChangeKind = "anchor"   // of the profile that Key names
	KeyChanged          PolicyChangeKind = "key"
	ReadingRulesChanged PolicyChangeKind = "reading rules" // which act when a log is read, not here
	NotJudgedAnyMore    PolicyChangeKind = "not judged any more"
	JudgedAgain         PolicyChangeKind = "judged again"
	NoEffect            PolicyChangeKind = "no effect" // entries, on nothing measured so far
)

// policyChanges lists what changes from the base's policy to the head's: its own
// keys, and what is in force for each metric that either state has or either
// policy names exactly. A first policy changes the defaults that older runs were
// judged by. Empty where nothing changes.
func policyChanges(base, head Snapshot) []PolicyChange {
	if base.Policy == nil {
		if !base.measured() {
			return nil
		}
		return slices.DeleteFunc(policyDifferences(base, head, metricsOf(base, head)), func(c PolicyChange) bool { return !c.Loosens })
	}
	out := policyDifferences(base, head, metricsOf(base, head))
	if head.Policy == nil {
		out = append([]PolicyChange{{Kind: PolicyRemoved, Loosens: true}}, out...)
	}
	return out
}

// baselineChanges lists the profiles that name another baseline, or anchor, than before.
func baselineChanges(base, head Snapshot) []PolicyChange {
	renamed := renamedProfiles(base, head)
	var out []PolicyChange
	for _, name := range head.names() {
		old, now := base.Profiles[cmp.Or(renamed[name], name)], head.Profiles[name].Baseline
		if old != nil && old.Baseline != "" && old.Baseline != now && renamed[now] != old.Baseline {
			out = append(out, PolicyChange{Kind: BaselineChanged, Key: name, Before: old.Baseline, Now: cmp.Or(now, "none"), Loosens: true})
		}
		if is := head.Profiles[name].Anchor; old != nil && old.Anchor != is {
			const first = "the first runs"
			out = append(out, PolicyChange{Kind: AnchorChanged, Key: name, Before: cmp.Or(old.Anchor, first), Now: cmp.Or(is, first), Loosens: true})
		}
	}
	return out
}

// metricsOf lists every metric that either state has, with unit and direction.
func metricsOf(snapshots ...Snapshot) []compare.Value {
	seen := map[compare.MetricID]bool{}
	var out []compare.Value
	for _, s := range snapshots {
		for _, name := range s.names() {
			for _, v := range s.Profiles[name].Values.All() {
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
	say := func(key, a, b string, loosens bool) {
		if a != b {
			out = append(out, PolicyChange{Kind: KeyChanged, Key: key, Before: a, Now: b, Loosens: loosens})
		}
	}
	percent := func(c float64) string { return fmt.Sprintf("%.6g %%", 100*c) }
	was, is := cmp.Or(old.Confidence, compare.DefaultConfidence), cmp.Or(new.Confidence, compare.DefaultConfidence)
	say("confidence", percent(was), percent(is), is > was || old.Burden == compare.Safety)
	ranked := func(key string, a, b string, fromStrict ...string) {
		say(key, a, b, slices.Index(fromStrict, b) > slices.Index(fromStrict, a))
	}
	ranked("correction", string(cmp.Or(old.Correction, compare.JointCorrection)), string(cmp.Or(new.Correction, compare.JointCorrection)),
		string(compare.NoCorrection), string(compare.BenjaminiHochberg), string(compare.JointCorrection), string(compare.Holm))
	ranked("burden", string(cmp.Or(old.Burden, compare.Harm)), string(cmp.Or(new.Burden, compare.Harm)),
		string(compare.Safety), string(compare.Harm))
	ranked("removed", string(cmp.Or(old.Removed, compare.RemovalReview)), string(cmp.Or(new.Removed, compare.RemovalReview)),
		string(compare.RemovalFails), string(compare.RemovalReview), string(compare.RemovalAllowed))
	say("fewest-runs", fmt.Sprint(old.FewestRuns), fmt.Sprint(new.FewestRuns), new.FewestRuns < old.FewestRuns)
	say("fewest-sessions", fmt.Sprint(old.FewestSessions), fmt.Sprint(new.FewestSessions), new.FewestSessions < old.FewestSessions)
	say("set-aside-allowed", fmt.Sprint(old.SetAsideAllowed), fmt.Sprint(new.SetAsideAllowed), new.SetAsideAllowed > old.SetAsideAllowed)
	say("widest-blind-spot", optional(old.WidestBlindSpot, "%"), optional(new.WidestBlindSpot, "%"),
		higherLimit(old.WidestBlindSpot, new.WidestBlindSpot))
	usual := defaultSuiteTolerance
	say("suite-tolerance", optional(old.SuiteTolerance, "%"), optional(new.SuiteTolerance, "%"),
		higherLimit(cmp.Or(old.SuiteTolerance, &usual), cmp.Or(new.SuiteTolerance, &usual)))
	say("suite-decides", fmt.Sprint(old.DoesSuiteDecide()), fmt.Sprint(new.DoesSuiteDecide()), old.DoesSuiteDecide())
	say("run-minutes", fmt.Sprint(old.Bench.Run), fmt.Sprint(new.Bench.Run), false)
	say("session-minutes", fmt.Sprint(old.Bench.Session), fmt.Sprint(new.Bench.Session), false)
	out = append(out, sheetDifferences(base, head)...)
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
			note(b.Name(), PolicyChange{Kind: NotJudgedAnyMore, Err: errB, Loosens: true})
		case errB == nil:
			note(a.Name(), PolicyChange{Kind: JudgedAgain, Err: errA})
		}
	}
	out = append(out, ofMetrics...)
	lost := slices.ContainsFunc(old.Entries, func(e compare.Entry) bool {
		unused := !slices.ContainsFunc(metrics, func(v compare.Value) bool {
			return compare.NameMatches(e.ID().Benchmark, v.Benchmark) && compare.NameMatches(e.ID().Metric, v.Metric)
		})
		return unused && !e.Exact() && !slices.ContainsFunc(new.Entries, func(x compare.Entry) bool { return sameEntry(e, x) })
	})
	if lost || len(out) == 0 && !slices.EqualFunc(old.Entries, new.Entries, sameEntry) {
		out = append(out, PolicyChange{Kind: NoEffect, Loosens: lost})
	}
	return out
}

// sheetDifferences lists the words of sheets that mean something else, each of which
// may change what is read from then on, and the readings that are trusted, or no longer.
func sheetDifferences(base, head Snapshot) []PolicyChange {
	var out []PolicyChange
	say := func(key, before, now string, loosens bool) {
		out = append(out, PolicyChange{Kind: KeyChanged, Key: key, Before: cmp.Or(before, "none"), Now: cmp.Or(now, "none"), Loosens: loosens})
	}
	words := maps.Clone(base.Words)
	if words == nil {
		words = map[string]string{}
	}
	maps.Copy(words, head.Words)
	stated := func(word string, of map[string]string) string {
		if of[word] == "" {
			return ""
		}
		return word + " = " + of[word]
	}
	for _, word := range slices.Sorted(maps.Keys(words)) {
		if before, now := stated(word, base.Words), stated(word, head.Words); before != now {
			say("map", before, now, true)
		}
	}
	for _, name := range base.Trust {
		if !slices.Contains(head.Trust, name) {
			say("trust", name, "", false)
		}
	}
	for _, name := range head.Trust {
		if !slices.Contains(base.Trust, name) {
			say("trust", "", name, true)
		}
	}
	return out
}

// defaultSuiteTolerance is that of a suite in per cent, where none is stated.
const defaultSuiteTolerance = 0.5

// higherLimit reports whether a limit rises or is given up; nil is no limit.
func higherLimit(before, now *float64) bool {
	return before != nil && (now == nil || *now > *before)
}

// sameAs reports whether two changes say the same, of whatever metrics.
func (c PolicyChange) sameAs(d PolicyChange) bool {
	return c.Kind == d.Kind && c.Loosens == d.Loosens && c.Key == d.Key && c.Before == d.Before && c.Now == d.Now &&
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
	say := func(key, x, y string, loosens bool) {
		if x != y {
			out = append(out, PolicyChange{Kind: KeyChanged, Key: key, Before: x, Now: y, Loosens: loosens})
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
	say("is", named[a.Named], named[b.Named], a.Named && (a.Role == compare.Score || a.Tolerance != nil || a.Cap != nil))
	say("unit", cmp.Or(a.Unit, "none"), cmp.Or(b.Unit, "none"), a.Unit != "")
	say("better", cmp.Or(string(a.Better), "not stated"), cmp.Or(string(b.Better), "not stated"), a.Better != "")
	say("scale", string(a.Scale), string(b.Scale), true)
	say("role", string(a.Role), string(b.Role), a.Role == compare.Score || b.Role == compare.Info)
	say("tolerance", sized(a, a.Tolerance), sized(b, b.Tolerance), higherLimit(a.Tolerance, b.Tolerance))
	say("cap", optional(a.Cap, a.Unit), optional(b.Cap, b.Unit), higherLimit(a.Cap, b.Cap))
	say("weight", fmt.Sprint(a.Weight), fmt.Sprint(b.Weight), true)
	say("class", cmp.Or(a.Class, "none"), cmp.Or(b.Class, "none"), false)
	say("required", fmt.Sprint(a.Required), fmt.Sprint(b.Required), a.Required)
	const spot = "widest-blind-spot"
	whole := func(m compare.Metric, p compare.Policy) bool {
		return m.WidestBlindSpot == nil || m.Sources[spot] == p.Source
	}
	if !whole(a, old) || !whole(b, new) { // else said for the whole
		say(spot, sized(a, a.WidestBlindSpot), sized(b, b.WidestBlindSpot), higherLimit(a.WidestBlindSpot, b.WidestBlindSpot))
	}
	return out
}

func optional(v *float64, unit string) string {
	if v == nil {
		return "none"
	}
	return strings.TrimSpace(fmt.Sprintf("%.6g %s", *v, unit))
}
