package gate

import (
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"tunegate/compare"
	"tunegate/compare/internal/comparetest"
)

// The reasons come in order of weight, whatever profile they are about; equal
// ones in the order of the profiles.
func TestOrderOfReasons(t *testing.T) {
	old := []*Profile{
		tuned(factory, "auto", tiles("F", 412), meshes("F", 268), heat("F", 80)),
		tuned("cool-curve", lowered, tiles("C", 409), meshes("C", 266)),
	}
	policy := compare.Policy{FewestRuns: 7, WidestBlindSpot: ptr(0.01), Burden: compare.Safety,
		Entries: []compare.Entry{{Benchmark: "*"}, {Benchmark: "*", Metric: "temperature", Cap: ptr(93.0), Tolerance: ptr(1.0)},
			{Benchmark: "scene-scrub", Required: ptr(true)}}}
	g := between(t, policy, old, profiles{
		tuned(factory, "auto", tiles("F", 412)[1:], meshes("F", 268), heat("F", 80), tiles("G", 424.5)),
		tuned("cool-curve", lower, tiles("C", 409), meshes("C", 266)),
		tuned(boost, raised, tiles("B", 424), meshes("B", 280), heat("B", 97), aside("crashed", tiles("Z", 500)[:1]...)).from(factory),
		tuned("fixed-all", "fixed", tiles("X", 425)).from("factroy"),
	})
	want := []string{ReasonStale, ReasonAltered, ReasonRegression, ReasonRise, ReasonDrift, ReasonCap, ReasonSetAside,
		ReasonRequired, ReasonNoRuns,
		ReasonBaseline, ReasonFewRuns, ReasonUnmeasured, ReasonSafety, ReasonBlindSpot}
	var kinds, who []string
	for _, r := range g.Reasons {
		kinds = append(kinds, r.Kind)
		if r.Kind == ReasonRequired {
			who = append(who, r.Profile)
		}
	}
	if d := cmp.Diff(want, slices.Compact(slices.Clone(kinds))); d != "" {
		t.Errorf("-want +got\n%s", d)
	}
	if d := cmp.Diff([]string{boost, factory}, who); d != "" {
		t.Error(d)
	}
}

// A reason about a metric points at its first new row.
func TestReasonsPointAtRows(t *testing.T) {
	old := tuned(factory, "auto", tiles("F", 412), meshes("F", 268))
	now := tuned(boost, raised, tiles("B", 402), meshes("B", 280)).from(factory)
	g := between(t, compare.Policy{FewestRuns: 7, WidestBlindSpot: ptr(0.01)}, profiles{old}, profiles{old, now})
	for _, r := range g.Reasons {
		if r.Result == nil {
			t.Errorf("%s is about no metric", r.Kind)
			continue
		}
		line := map[string]int{"tile-render": 2, "mesh-solve": 8, "suite": 2}[r.Result.Name()]
		switch {
		case r.When == "before":
			if r.Rows.Len() != 0 {
				t.Errorf("%s: the base's rows are none of the request's: %+v", r.Kind, r.Rows.List())
			}
		case r.Rows.Len() != 1 || r.Rows.At(0).At != (compare.Place{File: "profiles/boost-lift/runs/B.csv", Line: line, Column: 2}):
			t.Errorf("%s of %s: %+v", r.Kind, r.Result.Name(), r.Rows.List())
		}
	}
	gone := between(t, compare.Policy{}, profiles{old}, profiles{old, tuned(boost, raised).from(factory)}).Reasons[0]
	if gone.Kind != ReasonNoRuns || gone.Rows.At(0).At.File != "profiles/boost-lift/settings.toml" {
		t.Errorf("%+v", gone)
	}
}

// The policy in force is the base's; a change of it is told with both outcomes.
func TestPolicyInForce(t *testing.T) {
	strict := compare.Policy{Source: "tunegate.toml", Entries: []compare.Entry{{Benchmark: "*", Tolerance: ptr(0.5)}}}
	loose := compare.Policy{Source: "tunegate.toml", Entries: []compare.Entry{{Benchmark: "*", Tolerance: ptr(9.0)}}}
	old := tuned(factory, "auto", tiles("F", 412))
	slow := profiles{old, tuned(boost, raised, tiles("B", 424)).from(factory)}
	for _, c := range []struct {
		name         string
		base, head   *compare.Policy
		outcome      Outcome
		of, file     string
		proposed     Outcome
		changes, say string // say: the notes
	}{
		{"the same", &strict, &strict, Failed, "base", "tunegate.toml", "", "", ""},
		{"loosened", &strict, &loose, Failed, "base", "tunegate.toml", Passed, "tile-render: tolerance 0.5 %, 9 %", ""},
		{"tightened", &loose, &strict, Passed, "base", "tunegate.toml", Failed, "tile-render: tolerance 9 %, 0.5 %", ""},
		{"removed", &loose, nil, Undecided, "base", "tunegate.toml", Failed, "removed; tile-render: tolerance 9 %, 0.5 %", ""},
		{"only the head has one, looser than the defaults", nil, &loose, Undecided, "head", "tunegate.toml", "",
			"tile-render: tolerance 0.5 %, 9 %", "policy-of-head"},
		{"only the head has one", nil, &strict, Failed, "head", "tunegate.toml", "", "", "policy-of-head"},
		{"none", nil, nil, Failed, "default", "", "", "", "no-policy"},
	} {
		g := gated(t, repository("main", c.base, old), repository("the working tree", c.head, slow...))
		if g.Outcome != c.outcome || g.PolicyOf != c.of || g.PolicyFile != c.file || g.Proposed != c.proposed {
			t.Errorf("%s: %s by the policy of the %s (%q), proposed %q", c.name, g.Outcome, g.PolicyOf, g.PolicyFile, g.Proposed)
		}
		if got := strings.Join(changed(g.PolicyChanges), "; "); got != c.changes {
			t.Errorf("%s: changes %q\nwant %q", c.name, got, c.changes)
		}
		if got := noteTexts(g.Notes); got != c.say {
			t.Errorf("%s: notes %q", c.name, got)
		}
	}
}

// Bad input in what is judged is an error, also where only the new policy says so.
func TestGateErrors(t *testing.T) {
	old := tuned(factory, "auto", tiles("F", 412))
	now := tuned(boost, raised, tiles("B", 402)).from(factory)
	with := func(change func(*compare.Value)) *Profile {
		rows := tiles("B", 402)
		change(&rows[3])
		return tuned(boost, raised, rows).from(factory)
	}
	zero := with(func(v *compare.Value) { v.Value = 0 })
	mixed := with(func(v *compare.Value) { v.Unit = "ms" })
	other := tuned(boost, raised, comparetest.SixSessions("tile-render", "fps", "B", 4)).from(factory)
	undirected := tuned(boost, raised, comparetest.SixSessions("tile-render", "MB", "B", 4))
	inMS := compare.Policy{Entries: []compare.Entry{{Benchmark: "tile-render", Unit: "ms"}}}
	for _, c := range []struct {
		name string
		now  *Profile
		head *compare.Policy
		want string
	}{
		{"zero", zero, &compare.Policy{}, "profiles/boost-lift/runs/B.csv:5:2: tile-render is 0"},
		{"two units on a side", mixed, &compare.Policy{}, "profiles/boost-lift/runs/B.csv:5:2: tile-render is in \"ms\" here but in \"s\""},
		{"other units", other, &compare.Policy{},
			"profiles/boost-lift/runs/B.csv:2:2: tile-render is in \"fps\" here but in \"s\" at profiles/factory"},
		{"no direction", undirected, &compare.Policy{}, "profiles/boost-lift/runs/B.csv:2: tile-render is in \"MB\", which does not say"},
		{"under the new policy", now, &inMS,
			"under the new policy: profiles/boost-lift/runs/B.csv:2: tile-render is measured in \"s\", but the policy says \"ms\""},
	} {
		g, err := Judge(repository("main", &compare.Policy{}, old), repository("head", c.head, old, c.now), compare.Options{Resamples: 1000})
		if g != nil || err == nil || !strings.HasPrefix(err.Error(), c.want) {
			t.Errorf("%s: %v\nwant %s...", c.name, err, c.want)
		}
	}
}
