package gate

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"

	"tunegate/compare"
	"tunegate/compare/internal/comparetest"
)

// A profile that is gone is for a person to decide, unless the policy says otherwise;
// one without runs guarded nothing.
func TestRemovedProfile(t *testing.T) {
	old := profiles{tuned(factory, "auto", tiles("F", 412)), tuned("cool-curve", lowered, tiles("C", 409)), tuned("fixed-all", "fixed")}
	for _, c := range []struct {
		removed compare.Removal
		outcome Outcome
		want    []string
	}{
		{"", Undecided, []string{"cool-curve profile-removed (undecided)"}},
		{compare.RemovalReview, Undecided, []string{"cool-curve profile-removed (undecided)"}},
		{compare.RemovalFails, Failed, []string{"cool-curve profile-removed"}},
		{compare.RemovalAllowed, Passed, nil},
	} {
		g := between(t, compare.Policy{Removed: c.removed}, old, old[:1])
		wantReasons(t, string(c.removed), g, c.outcome, c.want...)
		if d := cmp.Diff([]string{"cool-curve", "fixed-all"}, g.Removed); d != "" {
			t.Error(d)
		}
		if agreed := g.Agree(AgreeRemoved); (agreed.Outcome == Passed) != (c.removed != compare.RemovalFails) {
			t.Errorf("%q, agreed: %s", c.removed, agreed.Outcome)
		}
	}
}

// A profile under a new name is the one that it was.
func TestRenamedProfile(t *testing.T) {
	stays := tuned(factory, "auto", tiles("F", 412))
	old := profiles{stays, tuned("cool-curve", lowered, tiles("C", 409), meshes("C", 266)).from(factory)}
	again := tuned("calm", lowered, tiles("C", 409), meshes("C", 266)).from(factory)
	g := between(t, compare.Policy{}, old, profiles{stays, again})
	wantReasons(t, "the name alone", g, Passed)
	if g.Unchanged != 2 || len(g.Judged) != 0 || noteTexts(g.Notes) != "renamed cool-curve" {
		t.Errorf("the name alone: %d unchanged, %q", g.Unchanged, noteTexts(g.Notes))
	}
	for _, c := range []struct {
		name    string
		now     *Profile
		outcome Outcome
		want    []string
	}{
		{"and slower runs added", tuned("calm", lowered, tiles("C", 409), meshes("C", 266), tiles("D", 425), meshes("D", 266.3)).from(factory),
			Failed,
			[]string{"calm drift tile-render", "calm drift suite"}},
		{"and a row left out", tuned("calm", lowered, tiles("C", 409)[1:], meshes("C", 266)).from(factory), Failed,
			[]string{"calm altered-rows"}},
		{"and runs set aside", tuned("calm", lowered, aside("slow", tiles("C", 409)[:2]...), tiles("C", 409)[2:], meshes("C", 266)).from(factory),
			Failed,
			[]string{"calm set-aside"}},
		{"and other settings", tuned("calm", lower, tiles("C", 409), meshes("C", 266), tiles("D", 405), meshes("D", 265)).from(factory), Failed,
			[]string{"calm stale-runs"}},
		{"with runs of its own", tuned("calm", lowered, tiles("D", 405), meshes("D", 265)), Undecided,
			[]string{"cool-curve profile-removed (undecided)", "calm new-without-baseline (undecided)"}},
	} {
		wantReasons(t, c.name, between(t, compare.Policy{}, old, profiles{stays, c.now}), c.outcome, c.want...)
	}
}

// What nothing older stands against is for a person to decide, but for the first
// profile of a repository.
func TestNothingOlder(t *testing.T) {
	old, lift := tuned(factory, "auto", tiles("F", 412)), tuned(boost, raised, tiles("B", 402))
	from := tuned(boost, raised, tiles("B", 402)).from(factory)
	for _, c := range []struct {
		name       string
		base, head profiles
		outcome    Outcome
		want       []string
	}{
		{"the first", nil, profiles{old}, Passed, nil},
		{"the first, whose settings were there", profiles{tuned(factory, "auto")}, profiles{old}, Passed, nil},
		{"two at once, without a baseline", nil, profiles{old, lift}, Undecided,
			[]string{"boost-lift new-without-baseline (undecided)", "factory new-without-baseline (undecided)"}},
		{"the first, and one against it", nil, profiles{old, from}, Undecided, []string{"boost-lift baseline-is-new (undecided)"}},
		{"a second", profiles{old}, profiles{old, lift}, Undecided, []string{"boost-lift new-without-baseline (undecided)"}},
		{"runs for settings that were there", profiles{old, tuned(boost, raised)}, profiles{old, lift}, Undecided,
			[]string{"boost-lift new-without-baseline (undecided)"}},
		{"a baseline of the same request", profiles{tuned("cool-curve", lowered, tiles("C", 409))},
			profiles{tuned("cool-curve", lowered, tiles("C", 409)), old, from}, Undecided,
			[]string{"factory new-without-baseline (undecided)", "boost-lift baseline-is-new (undecided)"}},
		{"a baseline that has runs since", profiles{tuned(factory, "auto"), tuned("cool-curve", lowered, tiles("C", 409))},
			profiles{old, tuned("cool-curve", lowered, tiles("C", 409)), from}, Undecided,
			[]string{"factory new-without-baseline (undecided)", "boost-lift baseline-is-new (undecided)"}},
	} {
		g := between(t, compare.Policy{}, c.base, c.head)
		wantReasons(t, c.name, g, c.outcome, c.want...)
		agreed := g.Agree(AgreeNew, AgreePolicy)
		if agreed.Outcome != Passed || len(agreed.Agreed) > 1 || len(c.want) > 0 && agreed.Agreed[0] != AgreeNew {
			t.Errorf("%s, agreed to %v: %s", c.name, agreed.Agreed, agreed.Outcome)
		}
	}
	hot := tuned(factory, "auto", tiles("F", 412), heat("F", 96))
	wantReasons(t, "the first, and hot", between(t, capped, nil, profiles{hot}), Failed, "factory cap tile-render temperature")
}

// Agreement never covers a loss, a cap or copies, and leaves what it is made to alone.
func TestAgreementIsNoPass(t *testing.T) {
	old := tuned(factory, "auto", sittings(1, "F", 6, 412, 2, "tile-render"), heat("F", 80))
	loose := capped
	loose.WidestBlindSpot = ptr(9.0)
	strict := capped
	strict.WidestBlindSpot = ptr(3.0)
	all := []Agreement{AgreeNew, AgreePolicy, AgreeRemoved}
	for name, now := range map[string]*Profile{
		"a loss": tuned(boost, raised, tiles("B", 424), heat("B", 80.5)).from(factory),
		"hot":    tuned(boost, raised, tiles("B", 402), heat("B", 96)).from(factory),
		"copied": tuned(boost, raised, sittings(1, "B", 6, 412, 2, "tile-render"), heat("B", 80.5)).from(factory),
	} {
		g := gated(t, repository("main", &strict, old, tuned("cool-curve", lowered, tiles("C", 409))), repository("head", &loose, old, now))
		agreed := g.Agree(all...)
		if d := cmp.Diff([]Agreement{AgreePolicy, AgreeRemoved}, agreed.Agreed); agreed.Outcome != Failed || d != "" {
			t.Errorf("%s: %s, agreed to %v", name, agreed.Outcome, agreed.Agreed)
		}
		if slices.ContainsFunc(g.Reasons, func(r Reason) bool { return r.Agreement != "" && r.Decides == Passed }) {
			t.Errorf("%s: agreeing changed the gate itself: %q", name, reasons(g))
		}
	}
}

// A looser policy is for a person to decide; a tighter one is said.
func TestLoosenedPolicy(t *testing.T) {
	old := tuned(factory, "auto", tiles("F", 412), heat("F", 80))
	policy := func(change func(*compare.Policy)) *compare.Policy {
		p := compare.Policy{Burden: compare.Harm, Correction: compare.JointCorrection, FewestRuns: 3, FewestSessions: 3,
			WidestBlindSpot: ptr(3.0), SetAsideAllowed: 1, SuiteTolerance: ptr(1.0),
			Entries: []compare.Entry{{Benchmark: "*", Tolerance: ptr(0.5), Required: ptr(true)},
				{Benchmark: "*", Metric: "temperature", Cap: ptr(93.0)},
				{Benchmark: "*", Metric: "power", Cap: ptr(200.0)}}}
		change(&p)
		return &p
	}
	for _, c := range []struct {
		name   string
		looser bool
		change func(*compare.Policy)
	}{
		{"nothing", false, func(*compare.Policy) {}},
		{"confidence up", true, func(p *compare.Policy) { p.Confidence = 0.99 }},
		{"confidence down", false, func(p *compare.Policy) { p.Confidence = 0.9 }},
		{"another correction, less strict", true, func(p *compare.Policy) { p.Correction = compare.Holm }},
		{"no correction", false, func(p *compare.Policy) { p.Correction = compare.NoCorrection }},
		{"burden safety", false, func(p *compare.Policy) { p.Burden = compare.Safety }},
		{"removals allowed", true, func(p *compare.Policy) { p.Removed = compare.RemovalAllowed }},
		{"removals fail", false, func(p *compare.Policy) { p.Removed = compare.RemovalFails }},
		{"fewer runs", true, func(p *compare.Policy) { p.FewestRuns = 2 }},
		{"fewer sessions", true, func(p *compare.Policy) { p.FewestSessions = 0 }},
		{"more sessions", false, func(p *compare.Policy) { p.FewestSessions = 4 }},
		{"more set aside", true, func(p *compare.Policy) { p.SetAsideAllowed = 2 }},
		{"a wider blind spot", true, func(p *compare.Policy) { p.WidestBlindSpot = ptr(4.0) }},
		{"any blind spot", true, func(p *compare.Policy) { p.WidestBlindSpot = nil }},
		{"a narrower one", false, func(p *compare.Policy) { p.WidestBlindSpot = ptr(2.0) }},
		{"a suite's larger tolerance", true, func(p *compare.Policy) { p.SuiteTolerance = ptr(2.0) }},
		{"a suite's usual tolerance", false, func(p *compare.Policy) { p.SuiteTolerance = nil }},
		{"a suite that decides nothing", true, func(p *compare.Policy) { p.SuiteDecides = ptr(false) }},
		{"a larger tolerance", true, func(p *compare.Policy) { p.Entries[0].Tolerance = ptr(0.6) }},
		{"a smaller tolerance", false, func(p *compare.Policy) { p.Entries[0].Tolerance = ptr(0.4) }},
		{"required no more", true, func(p *compare.Policy) { p.Entries[0].Required = nil }},
		{"a higher cap", true, func(p *compare.Policy) { p.Entries[1].Cap = ptr(94.0) }},
		{"a lower cap", false, func(p *compare.Policy) { p.Entries[1].Cap = ptr(92.0) }},
		{"no cap", true, func(p *compare.Policy) { p.Entries[1].Cap = nil }},
		{"no cap on what is not measured yet", true, func(p *compare.Policy) { p.Entries = p.Entries[:2] }},
		{"one more cap", false, func(p *compare.Policy) {
			p.Entries = append(p.Entries, compare.Entry{Benchmark: "gpu-*", Metric: "power", Cap: ptr(90.0)})
		}},
		{"a score that is an info", true, func(p *compare.Policy) {
			p.Entries = append(p.Entries, compare.Entry{Benchmark: "tile-render", Role: compare.Info})
		}},
		{"a metric gone", true, func(p *compare.Policy) { p.Entries = p.Entries[1:] }},
	} {
		base, head := repository("main", policy(func(*compare.Policy) {}), old), repository("head", policy(c.change), old)
		g := gated(t, base, head)
		if looser := len(g.Reasons) == 1 && g.Reasons[0].Kind == ReasonPolicy && g.Outcome == Undecided; looser != c.looser {
			t.Errorf("%s: %s, %q", c.name, g.Outcome, changed(g.PolicyChanges))
		}
		if agreed := g.Agree(AgreePolicy); agreed.Outcome != Passed || c.looser != (len(agreed.Agreed) == 1) {
			t.Errorf("%s: agreed to %v, and %s", c.name, agreed.Agreed, agreed.Outcome)
		}
	}
	lift := func(baseline string) *Profile { return tuned(boost, raised, tiles("B", 402)).from(baseline) }
	cool := tuned("cool-curve", lowered, tiles("C", 409))
	g := between(t, compare.Policy{}, profiles{old, cool, lift(factory)}, profiles{old, cool, lift("cool-curve")})
	wantReasons(t, "another baseline", g, Undecided, " policy-loosened (undecided)")
	another := []PolicyChange{{Kind: BaselineChanged, Key: boost, Before: factory, Now: "cool-curve", Loosens: true}}
	if c := g.Reasons[0].Changes; !slices.Equal(changed(c), changed(another)) || c[0].Key != boost {
		t.Errorf("another baseline: %+v", c)
	}
	anchored := lift(factory)
	anchored.Anchor = "0123456789abcdef"
	g = between(t, compare.Policy{}, profiles{old, lift(factory)}, profiles{old, anchored})
	wantReasons(t, "an anchor", g, Undecided, " policy-loosened (undecided)")
	if c := g.Reasons[0].Changes; c[0].Kind != AnchorChanged || c[0].Now != anchored.Anchor || g.Agree(AgreePolicy).Outcome != Passed {
		t.Errorf("an anchor: %+v", c)
	}
	g = between(t, compare.Policy{}, profiles{old, lift("")}, profiles{old, lift(factory)})
	wantReasons(t, "a baseline, where there was none", g, Passed)
}

// Settings that get slower step by step fail once the loss since the first runs is
// plain, though no step is.
func TestStepByStepDownhill(t *testing.T) {
	policy := compare.Policy{Entries: []compare.Entry{{Benchmark: "*", Tolerance: ptr(0.5)}}}
	state := func(step int) *Profile {
		g := comparetest.Generator(uint64(100 + step))
		rows := tiles(string(rune('A'+step)), 0)
		for i := range rows {
			rows[i].Value = math.Round(41200*math.Exp(0.002*float64(step)+0.001*g.NormFloat64())) / 100
		}
		return tuned(boost, string(rune('a'+step)), rows)
	}
	failed := -1
	for step := 1; step < 15 && failed < 0; step++ {
		base, head := repository("main", &policy, state(step-1)), repository("head", &policy, state(step))
		if g := gated(t, base, head); g.Outcome != Passed {
			t.Fatalf("step %d by itself: %s", step, g.Outcome)
		}
		base.Anchors = map[string]*Profile{boost: state(0)}
		if g := gated(t, base, head); g.Outcome == Failed {
			failed = step
			if r := g.Reasons[0]; !r.Anchor || r.Kind != ReasonRegression || r.Result.Before.Runs != 6 || judgement(t, g).SinceAnchor == nil {
				t.Errorf("%q", reasons(g))
			}
		}
	}
	if failed < 2 || failed > 5 { // 0.2 % a step, beyond 0.5 % from the third on
		t.Errorf("it fails at step %d", failed)
	}
	// An anchor that is the last state, or of other runs only, changes nothing.
	base, head := repository("main", &policy, state(0)), repository("head", &policy, state(1))
	for name, anchor := range map[string]*Profile{"the last state": state(0), "other benchmarks": tuned(boost, "x", meshes("M", 200))} {
		base.Anchors = map[string]*Profile{boost: anchor}
		g := gated(t, base, head)
		wantReasons(t, name, g, Passed)
		if judgement(t, g).SinceAnchor != nil {
			t.Errorf("%s: compared twice", name)
		}
	}
}

// More runs of the same settings that get slower step by step fail before much is lost,
// also where each request brings as many as there are, so that what they are judged
// against follows them: those hold against the first ones, too.
func TestRunsStepByStepDownhill(t *testing.T) {
	for name, c := range map[string]struct {
		requests int
		sessions func(have int) int
		loss     func(mean float64, request int) float64
		byAnchor bool
	}{
		"0.2 % a request":      {15, func(int) int { return 6 }, func(_ float64, k int) float64 { return 0.002 * float64(k) }, false},
		"as many as there are": {6, func(have int) int { return have }, func(mean float64, _ int) float64 { return mean + 0.003 }, true},
	} {
		for _, anchored := range []bool{false, true} {
			g := comparetest.Generator(31)
			landed := studioBench().measure(g, "profiles/factory/runs/0.csv", "R0-", 6)
			first, mean, failed := tuned(factory, "auto", landed), 0.0, 0
			for k := 1; k <= c.requests && failed == 0; k++ {
				have := len(landed) / 5
				n, loss := c.sessions(have), c.loss(mean, k)
				slower := studioBench()
				slower.noise /= 2
				rows := slower.faster(1/(1+loss)-1).measure(g, fmt.Sprintf("profiles/factory/runs/%d.csv", k), fmt.Sprintf("R%d-", k), n)
				mean = (mean*float64(have) + loss*float64(n)) / float64(have+n)
				base := repository("main", studioPolicy(), tuned(factory, "auto", landed))
				if anchored {
					base.Anchors = map[string]*Profile{factory: first}
				}
				landed = slices.Concat(landed, rows)
				judged := gated(t, base, repository("head", studioPolicy(), tuned(factory, "auto", landed)))
				if judged.Outcome == Failed {
					if failed = k; judged.Reasons[0].Kind != ReasonDrift || judged.Reasons[0].Anchor != c.byAnchor {
						t.Errorf("%s: %q", name, reasons(judged))
					}
				} else if judged.Outcome != Passed {
					t.Errorf("%s: %q", name, reasons(judged))
				}
			}
			if want := anchored || !c.byAnchor; want != (failed > 0) || failed > 6 {
				t.Errorf("%s, against the anchor %v: fails at request %d", name, anchored, failed)
			}
		}
	}
}

// Honest runs of the same settings pass, though they are held against the first ones,
// too, and also where those were faster by what the tolerance allows.
func TestHonestRunsHoldAgainstTheAnchor(t *testing.T) {
	requests := 100
	if testing.Short() || comparetest.RaceEnabled {
		requests = 10
	}
	for _, since := range []float64{0, -0.003} {
		passed, failed := 0, 0
		for i := range requests {
			g := comparetest.Generator(uint64(61000 + i))
			first := tuned(factory, "auto", studioBench().measure(g, "profiles/factory/runs/0.csv", "A", 6))
			now := studioBench().faster(since)
			landed := now.measure(g, "profiles/factory/runs/1.csv", "B", 6)
			base := repository("main", studioPolicy(), tuned(factory, "auto", landed))
			base.Anchors = map[string]*Profile{factory: first}
			more := slices.Concat(landed, now.measure(g, "profiles/factory/runs/2.csv", "C", 6))
			judged, err := Judge(base, repository("head", studioPolicy(), tuned(factory, "auto", more)), compare.Options{Resamples: 400, Seed: 1})
			if err != nil || judgement(t, judged).SinceAnchor == nil {
				t.Fatalf("%v %v", err, judged)
			}
			switch judged.Outcome {
			case Passed:
				passed++
			case Failed:
				failed++
			}
		}
		t.Logf("%.1f %% since the first runs: %d of %d pass, %d fail", 100*since, passed, requests, failed)
		n := float64(requests)
		if float64(passed) < 0.9*n || float64(failed) > n*(0.06+comparetest.Allowance(0.06, requests)) {
			t.Errorf("%.1f %% since the first runs: %d of %d pass, %d fail", 100*since, passed, requests, failed)
		}
	}
}

// Many scores with one fault are one reason, and the sizes are of what is judged
// together: new runs of the same settings count with the old ones.
func TestOneReasonForOneCause(t *testing.T) {
	suite := func(letter string, n int, factor float64) []compare.Value {
		var out []compare.Value
		for i, benchmark := range []string{"tile-render", "mesh-solve", "mesh-bend", "scene-scrub", "archive-pack"} {
			out = append(out, comparetest.SixSessions(benchmark, "s", letter, factor*float64(100+10*i))[:n]...)
		}
		return out
	}
	policy := compare.Policy{FewestRuns: 5, FewestSessions: 5}
	old := tuned(factory, "auto", suite("F", 6, 1))
	g := between(t, policy, profiles{old}, profiles{old, tuned(boost, raised, suite("B", 4, 0.99)).from(factory)})
	wantReasons(t, "four of five", g, Failed, "boost-lift too-few-runs", "boost-lift too-few-runs")
	if r := g.Reasons[0]; len(r.Names) != 5 || r.Count != 4 || r.Limit != 5 {
		t.Errorf("%+v", r)
	}
	g = between(t, policy, profiles{old}, profiles{tuned(factory, "auto", suite("F", 6, 1), suite("G", 3, 1.0007))})
	wantReasons(t, "a month's three, of nine", g, Passed)
	g = between(t, compare.Policy{}, profiles{old}, profiles{tuned(factory, "auto", suite("F", 6, 1), suite("G", 1, 1.0007))})
	wantReasons(t, "one more", g, Undecided, "factory no-loss-visible (undecided)")
	if r := g.Reasons[0]; len(r.Names) != 5 || r.Limit != r.Result.MinSampleSize {
		t.Errorf("%+v", r)
	}
}

// A metric with a cap has to be measured wherever it could be exceeded.
func TestCappedMetricLeftOut(t *testing.T) {
	old := tuned(factory, "auto", tiles("F", 412), heat("F", 80))
	renamed := comparetest.Metric("hotspot", heat("B", 96))
	for name, now := range map[string]*Profile{
		"left out":              tuned(boost, raised, tiles("B", 402)).from(factory),
		"under another name":    tuned(boost, raised, tiles("B", 402), renamed).from(factory),
		"set aside":             tuned(boost, raised, tiles("B", 402), aside("sensor", heat("Z", 96)...)).from(factory),
		"in runs of the same":   tuned(factory, "auto", tiles("F", 412), heat("F", 80), tiles("G", 412.3)),
		"where settings differ": tuned(factory, "fixed", tiles("G", 402)),
	} {
		head := profiles{now}
		if now.Name != factory {
			head = append(head, old)
		}
		policy := capped
		policy.SetAsideAllowed = 9
		g := between(t, policy, profiles{old}, head)
		wantReasons(t, name, g, Undecided, now.Name+" not-measured (undecided)")
		if d := cmp.Diff([]string{"tile-render temperature"}, g.Reasons[0].Names); d != "" {
			t.Errorf("%s: %s", name, d)
		}
		policy.Entries = []compare.Entry{{Benchmark: "*"}, {Benchmark: "*", Metric: "temperature", Cap: ptr(93.0), Required: ptr(true)}}
		wantReasons(t, name+", required", between(t, policy, profiles{old}, head), Failed, now.Name+" required")
	}
}
