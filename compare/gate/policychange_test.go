package gate

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"tunegate/compare"
	"tunegate/compare/internal/comparetest"
	"tunegate/compare/readings"
)

// changed lists changes of a policy, as "tile-render: tolerance 0.5 %, 9 %".
func changed(changes []PolicyChange) []string {
	var out []string
	for _, c := range changes {
		text := string(c.Kind)
		if c.Kind == KeyChanged {
			text = fmt.Sprintf("%s %s, %s", c.Key, c.Before, c.Now)
		}
		if c.Err != nil {
			text += ": " + c.Err.Error()
		}
		if len(c.Metrics) > 0 {
			text = strings.Join(c.Metrics, ", ") + ": " + text
		}
		out = append(out, text)
	}
	return out
}

func TestPolicyDifferences(t *testing.T) {
	rows := slices.Concat(tiles("F", 412), meshes("F", 268), heat("F", 80), comparetest.SixSessions("archive-pack", "MB", "F", 90))
	var one []compare.Value
	for i := 0; i < len(rows); i += 6 {
		v := rows[i]
		if v.Metric == "" {
			v.Metric = compare.DefaultMetric
		}
		one = append(one, v)
	}
	entries := func(e ...compare.Entry) compare.Policy {
		return compare.Policy{Entries: append([]compare.Entry{{Benchmark: "*"}, {Benchmark: "*", Metric: "*"}}, e...)}
	}
	for _, c := range []struct {
		name     string
		old, new compare.Policy
		want     []string
	}{
		{"nothing", entries(), entries(), nil},
		{"said and meant", compare.Policy{}, compare.Policy{Confidence: 0.95, Correction: compare.JointCorrection, Burden: compare.Harm}, nil},
		{"another place", entries(compare.Entry{Benchmark: "a*", From: "tunegate.toml:9"}),
			entries(compare.Entry{Benchmark: "a*", From: "tunegate.toml:12"}), nil},
		{"its own keys", compare.Policy{Source: "tunegate.toml", FewestSessions: 6, WidestBlindSpot: ptr(2.0)},
			compare.Policy{Source: "tunegate.toml", Confidence: 0.9, Correction: compare.NoCorrection, Burden: compare.Safety, FewestRuns: 3,
				SetAsideAllowed: 2, WidestBlindSpot: ptr(8.0)},
			[]string{"confidence 95 %, 90 %", "correction joint, none", "burden harm, safety",
				"fewest-runs 0, 3",
				"fewest-sessions 6, 0", "set-aside-allowed 0, 2", "widest-blind-spot 2 %, 8 %"}},
		{"no demand any more", compare.Policy{Source: "tunegate.toml", WidestBlindSpot: ptr(2.0)}, compare.Policy{Source: "tunegate.toml"},
			[]string{"widest-blind-spot 2 %, none"}},
		{"all scores alike", entries(compare.Entry{Benchmark: "*", Tolerance: ptr(0.5)}),
			entries(compare.Entry{Benchmark: "*", Tolerance: ptr(3.0)}),
			[]string{"tile-render, mesh-solve, archive-pack: tolerance 0.5 %, 3 %"}},
		{"a cap gone", entries(compare.Entry{Benchmark: "*", Metric: "temperature", Cap: ptr(93.0)}),
			entries(compare.Entry{Benchmark: "*", Metric: "temperature"}),
			[]string{"tile-render temperature: cap 93 °C, none"}},
		{"the rest of an entry", entries(),
			entries(compare.Entry{Benchmark: "mesh-solve", Unit: "s", Better: compare.Higher, Scale: compare.Interval, Role: compare.Info,
				Weight: ptr(2.0), Class: "cad", Required: ptr(true), WidestBlindSpot: ptr(4.0), From: "tunegate.toml:9"}),
			[]string{"mesh-solve: better lower, higher", "mesh-solve: scale ratio, interval",
				"mesh-solve: role score, info",
				"mesh-solve: tolerance 0.5 %, none", "mesh-solve: weight 1, 2", "mesh-solve: class none, cad",
				"mesh-solve: required false, true", "mesh-solve: widest-blind-spot none, 4 s"}},
		{"no longer named", compare.Policy{}, compare.Policy{Entries: []compare.Entry{{Benchmark: "tile-render"}}},
			[]string{"mesh-solve, archive-pack: is judged, not judged", "tile-render temperature: is judged, not judged"}},
		{"a unit that the runs contradict", entries(), entries(compare.Entry{Benchmark: "tile-render", Unit: "ms"}),
			[]string{`tile-render: not judged any more: tile-render is measured in "s", but the policy says "ms" ()`}},
		{"and back", entries(compare.Entry{Benchmark: "tile-render", Unit: "ms"}), entries(),
			[]string{`tile-render: judged again: tile-render is measured in "s", but the policy says "ms" ()`}},
		{"named and not measured", entries(compare.Entry{Benchmark: "scene-scrub", Unit: "fps", Required: ptr(true)}), entries(),
			[]string{"scene-scrub: unit fps, none", "scene-scrub: better higher, not stated",
				"scene-scrub: required true, false"}},
		{"nothing measured is concerned", entries(), entries(compare.Entry{Benchmark: "gpu-*", Cap: ptr(3.0)}),
			[]string{"no effect"}},
	} {
		if d := cmp.Diff(c.want, changed(policyDifferences(Snapshot{Policy: &c.old}, Snapshot{Policy: &c.new}, one))); d != "" {
			t.Errorf("%s (-want +got)\n%s", c.name, d)
		}
	}
}

// What words of sheets mean is agreed to, however it changes; a reading that is trusted
// is, one that is trusted no longer is not.
func TestPolicyDifferencesOfSheets(t *testing.T) {
	words := func(pairs ...string) map[string]string {
		out := map[string]string{}
		for i := 0; i < len(pairs); i += 2 {
			out[pairs[i]] = pairs[i+1]
		}
		return out
	}
	for _, c := range []struct {
		name     string
		old, new Snapshot
		want     []string
		loosens  bool
	}{
		{"the same", Snapshot{Words: words("maß", "unit"), Trust: []string{"a", "b"}},
			Snapshot{Words: words("maß", "unit"), Trust: []string{"b", "a"}}, nil, false},
		{"new words", Snapshot{}, Snapshot{Words: words("maß", "unit", "aufgabenname", "benchmark")},
			[]string{"map none, aufgabenname = benchmark", "map none, maß = unit"}, true},
		{"another meaning", Snapshot{Words: words("maß", "unit")}, Snapshot{Words: words("maß", "points")},
			[]string{"map maß = unit, maß = points"}, true},
		{"a word gone", Snapshot{Words: words("maß", "unit")}, Snapshot{}, []string{"map maß = unit, none"}, true},
		{"trusted", Snapshot{Trust: []string{"a"}}, Snapshot{Trust: []string{"a", "tile-*"}}, []string{"trust none, tile-*"}, true},
		{"trusted no longer", Snapshot{Trust: []string{"a"}}, Snapshot{}, []string{"trust a, none"}, false},
	} {
		got := policyDifferences(c.old, c.new, nil)
		if d := cmp.Diff(c.want, changed(got)); d != "" {
			t.Errorf("%s (-want +got)\n%s", c.name, d)
		}
		for _, change := range got {
			if change.Loosens != c.loosens {
				t.Errorf("%s: %s loosens: %v", c.name, changed([]PolicyChange{change}), change.Loosens)
			}
		}
	}
	tip := tuned(factory, "auto", tiles("F", 412))
	base, head := repository("main", &compare.Policy{}, tip), repository("head", &compare.Policy{}, tip)
	head.Words = words("maß", "unit")
	wantReasons(t, "a new word alone", gated(t, base, head), Undecided, " policy-loosened (undecided)")
	wantReasons(t, "agreed", gated(t, base, head).Agree(AgreePolicy), Passed, " policy-loosened (passed)")
}

// A policy whose rules for monitoring logs change says so, and judges as before.
func TestPolicyDifferencesOfReadingRules(t *testing.T) {
	warmUp := func(seconds float64) *readings.Rules {
		rules := readings.DefaultRules()
		rules.WarmUp, rules.Columns = seconds, []readings.Column{{Header: "Package W", Name: "power"}}
		return &rules
	}
	for _, c := range []struct {
		old, new *readings.Rules
		differ   bool
	}{{nil, nil, false}, {warmUp(0), warmUp(0), false}, {warmUp(0), warmUp(10), true}, {nil, warmUp(0), true}, {warmUp(10), nil, true}} {
		got := policyDifferences(Snapshot{ReadingRules: c.old}, Snapshot{ReadingRules: c.new}, nil)
		if c.differ != (len(got) == 1 && got[0].Kind == ReadingRulesChanged) || !c.differ && got != nil {
			t.Errorf("%v and %v: %+v", c.old, c.new, got)
		}
	}
}

// What the policy says of metrics in other profiles counts, too, also where no
// profile is judged.
func TestPolicyChangeAlone(t *testing.T) {
	old := tuned(factory, "auto", tiles("F", 412), meshes("F", 268))
	strict, loose := compare.Policy{Entries: []compare.Entry{{Benchmark: "*"}}},
		compare.Policy{Entries: []compare.Entry{{Benchmark: "*", Tolerance: ptr(9.0)}}}
	g := gated(t, repository("main", &strict, old), repository("the working tree", &loose, old))
	d := cmp.Diff([]string{"tile-render, mesh-solve: tolerance 0.5 %, 9 %"}, changed(g.PolicyChanges))
	if d != "" || g.Outcome != Undecided || g.Proposed != Passed || g.Unchanged != 1 {
		t.Errorf("%s, proposed %q, %d unchanged; %s", g.Outcome, g.Proposed, g.Unchanged, d)
	}
}
