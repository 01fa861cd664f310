package compare

import (
	"testing"

	"github.com/google/go-cmp/cmp"
)

func TestPolicyDifferences(t *testing.T) {
	rows := joined(tiles("F", 412), meshes("F", 268), heat("F", 80), sixSessions("archive-pack", "MB", "F", 90))
	var one []Value
	for i := 0; i < len(rows); i += 6 {
		v := rows[i]
		if v.Metric == "" {
			v.Metric = DefaultMetric
		}
		one = append(one, v)
	}
	entries := func(e ...Entry) Policy {
		return Policy{Entries: append([]Entry{{Benchmark: "*"}, {Benchmark: "*", Metric: "*"}}, e...)}
	}
	for _, c := range []struct {
		name     string
		old, new Policy
		want     []string
	}{
		{"nothing", entries(), entries(), nil},
		{"said and meant", Policy{}, Policy{Confidence: 0.95, Correction: Holm, Burden: Harm}, nil},
		{"another place", entries(Entry{Benchmark: "a*", From: "tunegate.toml:9"}), entries(Entry{Benchmark: "a*", From: "tunegate.toml:12"}), nil},
		{"its own keys", Policy{Source: "tunegate.toml", FewestSessions: 6, WidestBlindSpot: pointer(2)},
			Policy{Source: "tunegate.toml", Confidence: 0.9, Correction: NoCorrection, Burden: Safety, FewestRuns: 3, SetAsideAllowed: 2, WidestBlindSpot: pointer(8)},
			[]string{"confidence: 95 % before, 90 % now", "correction: holm before, none now", "burden: harm before, safety now", "fewest-runs: 0 before, 3 now",
				"fewest-sessions: 6 before, 0 now", "set-aside-allowed: 0 before, 2 now", "widest-blind-spot: 2 % before, 8 % now"}},
		{"no demand any more", Policy{Source: "tunegate.toml", WidestBlindSpot: pointer(2)}, Policy{Source: "tunegate.toml"},
			[]string{"widest-blind-spot: 2 % before, none now"}},
		{"all scores alike", entries(Entry{Benchmark: "*", Tolerance: pointer(0.5)}), entries(Entry{Benchmark: "*", Tolerance: pointer(3)}),
			[]string{"tile-render, mesh-solve, archive-pack: tolerance 0.5 % before, 3 % now"}},
		{"a cap gone", entries(Entry{Benchmark: "*", Metric: "temperature", Cap: pointer(95)}), entries(Entry{Benchmark: "*", Metric: "temperature"}),
			[]string{"tile-render temperature: cap 95 °C before, none now"}},
		{"the rest of an entry", entries(), entries(Entry{Benchmark: "mesh-solve", Unit: "s", Better: Higher, Scale: Interval, Role: Info, Weight: pointer(2), Class: "cad", Required: ptr(true), WidestBlindSpot: pointer(4), From: "tunegate.toml:9"}),
			[]string{"mesh-solve: better lower before, higher now", "mesh-solve: scale ratio before, interval now", "mesh-solve: role score before, info now",
				"mesh-solve: tolerance 0.5 % before, none now", "mesh-solve: weight 1 before, 2 now", "mesh-solve: class none before, cad now",
				"mesh-solve: required false before, true now", "mesh-solve: widest-blind-spot none before, 4 s now"}},
		{"no longer named", Policy{}, Policy{Entries: []Entry{{Benchmark: "tile-render"}}},
			[]string{"mesh-solve, tile-render temperature, archive-pack: is judged before, not judged now"}},
		{"a unit that the runs contradict", entries(), entries(Entry{Benchmark: "tile-render", Unit: "ms"}),
			[]string{`tile-render: can no longer be judged: tile-render is measured in "s", but the policy says "ms" ()`}},
		{"and back", entries(Entry{Benchmark: "tile-render", Unit: "ms"}), entries(),
			[]string{`tile-render: can be judged now; before: tile-render is measured in "s", but the policy says "ms" ()`}},
		{"named and not measured", entries(Entry{Benchmark: "scene-scrub", Unit: "fps", Required: ptr(true)}), entries(),
			[]string{"scene-scrub: unit fps before, none now", "scene-scrub: better higher before, not stated now", "scene-scrub: required true before, false now"}},
		{"nothing measured is concerned", entries(), entries(Entry{Benchmark: "gpu-*", Cap: pointer(3)}), []string{"entries, without effect on anything measured so far"}},
	} {
		if d := cmp.Diff(c.want, PolicyDifferences(c.old, c.new, one)); d != "" {
			t.Errorf("%s (-want +got)\n%s", c.name, d)
		}
	}
}

// What the policy says of metrics in other profiles counts, too, also where no
// profile is judged.
func TestPolicyChangeAlone(t *testing.T) {
	old := tuned(factory, "auto", tiles("F", 412), meshes("F", 268))
	strict, loose := Policy{Entries: []Entry{{Benchmark: "*"}}}, Policy{Entries: []Entry{{Benchmark: "*", Tolerance: pointer(9)}}}
	g := gated(t, repository("main", &strict, old), repository("the working tree", &loose, old))
	if d := cmp.Diff([]string{"tile-render, mesh-solve: tolerance 0.5 % before, 9 % now"}, g.PolicyChanges); d != "" || g.Outcome != Passed || g.Proposed != Passed || g.Unchanged != 1 {
		t.Errorf("%s, proposed %q, %d unchanged; %s", g.Outcome, g.Proposed, g.Unchanged, d)
	}
}
