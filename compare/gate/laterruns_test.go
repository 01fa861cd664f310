package gate

import (
	"fmt"
	"slices"
	"testing"

	"tunegate/compare"
	"tunegate/compare/internal/comparetest"
	"tunegate/stats"
)

// inRuns are sessions of so many runs; the later ones of each are slower by a share.
func inRuns(seed uint64, b bench, label string, sessions, runs int, later float64) []compare.Value {
	g := comparetest.Generator(seed)
	var out []compare.Value
	for k := range runs {
		now := b
		if k > 0 {
			now = b.faster(1/(1+later) - 1)
		}
		for _, v := range now.measure(g, fmt.Sprintf("profiles/cool-curve/runs/%s%d.csv", label, k), label, sessions) {
			v.Run = fmt.Sprint(k + 1)
			out = append(out, v)
		}
	}
	return out
}

// Where the old sessions hold a run each, only the first of the new ones count. A loss in
// the others is not passed over: settings changed, or more runs of the same.
func TestLossInLaterRuns(t *testing.T) {
	old := inRuns(1, studioBench(), "C", 6, 1, 0)
	again := func(runs int, later float64) []compare.Value { return inRuns(2, studioBench(), "N", 6, runs, later) }
	for _, c := range []struct {
		name    string
		now     *Profile
		outcome Outcome
		want    []string
	}{
		{"settings changed", tuned("cool-curve", lower, again(3, 0.05)), Undecided, []string{"cool-curve later-runs (undecided)"}},
		{"more runs", tuned("cool-curve", lowered, old, again(3, 0.05)), Undecided, []string{"cool-curve later-runs (undecided)"}},
		{"a third of them", tuned("cool-curve", lower, again(2, 0), inRuns(3, studioBench().faster(-0.05), "N", 6, 1, 0)), Passed, nil},
		{"in half of the sessions", tuned("cool-curve", lower, inRuns(4, studioBench(), "M", 6, 1, 0), again(3, 0.05)), Undecided,
			[]string{"cool-curve later-runs (undecided)"}},
		{"no loss", tuned("cool-curve", lower, again(3, 0)), Passed, nil},
		{"within the tolerance", tuned("cool-curve", lower, again(3, 0.003)), Passed, nil},
		{"as many as before", tuned("cool-curve", lower, again(1, 0)), Passed, nil},
	} {
		g := between(t, *studioPolicy(), profiles{tuned("cool-curve", lowered, old)}, profiles{c.now})
		wantReasons(t, c.name, g, c.outcome, c.want...)
		if len(c.want) > 0 {
			if r := g.Reasons[0]; r.Limit != 1 || len(r.Names) != 4 || r.Result.After.Runs%6 != 0 {
				t.Errorf("%s: %d a session, %q", c.name, r.Limit, r.Names)
			}
		}
	}
	passed := 0
	const requests = 20
	for i := range uint64(requests) {
		was := tuned("cool-curve", lowered, inRuns(200+i, studioBench(), "C", 6, 1, 0))
		now := tuned("cool-curve", lower, inRuns(300+i, studioBench().faster(0.01), "N", 6, 3, 0))
		if between(t, *studioPolicy(), profiles{was}, profiles{now}).Outcome == Passed {
			passed++
		}
	}
	if passed < requests*9/10 {
		t.Errorf("%d of %d honest requests pass", passed, requests)
	}
}

// The median of a session is the reading itself where the runs are an odd number, and
// runs that are set aside, or not made, are none of it.
func TestMedians(t *testing.T) {
	var runs compare.Runs
	for i, x := range []float64{5, 1, 3, 8, 2, 4, 99, 7} {
		v := compare.Value{Benchmark: "a", Unit: "s", Value: x, Session: []string{"A", "A", "A", "B", "B", "", "B", "A"}[i]}
		v.SetAside, v.Missing = i == 6, i == 7
		if err := runs.Add(v); err != nil {
			t.Fatal(err)
		}
	}
	var got []float64
	for _, o := range onceASession(runs.Series()[0], stats.Median).All() {
		got = append(got, o.Value)
	}
	if want := []float64{3, 5, 4}; !slices.Equal(got, want) {
		t.Errorf("medians %v, want %v", got, want)
	}
}

// A warm-up counts for no score, and is as hot as any other run.
func TestWarmUpsHoldTheCap(t *testing.T) {
	old := tuned("cool-curve", lowered, inRuns(1, studioBench(), "C", 6, 1, 0))
	now := inRuns(2, studioBench(), "N", 6, 1, 0)
	for i := range now[:5] {
		warm := now[i]
		warm.Run, warm.At.Line = compare.WarmUp, 20
		if warm.Metric == heatMetric {
			warm.Value = 97
		}
		now = append(now, warm)
	}
	g := between(t, *studioPolicy(), profiles{old}, profiles{tuned("cool-curve", lower, now)})
	wantReasons(t, "a hot warm-up", g, Failed, "cool-curve cap tile-render temperature")
	if r := g.Reasons[0]; r.Worst != 97 || r.Rows.Len() != 1 || r.Rows.At(0).At.Line != 20 {
		t.Errorf("%+v", r)
	}
}

// One run set aside a request, each within the policy, ends where too few are left.
func TestSettingAsideLeavesEnough(t *testing.T) {
	policy := *studioPolicy() // wants 5 sessions
	policy.SetAsideAllowed = 1
	state := func(aside int) *Profile {
		rows := inRuns(1, studioBench(), "C", 6, 1, 0)
		for i := range rows[:5*aside] {
			rows[i].SetAside, rows[i].Reason = true, "fan"
		}
		return tuned("cool-curve", lowered, rows)
	}
	wantReasons(t, "the first", between(t, policy, profiles{state(0)}, profiles{state(1)}), Passed)
	g := between(t, policy, profiles{state(1)}, profiles{state(2)})
	wantReasons(t, "the second", g, Failed, "cool-curve too-few-runs")
	if r := g.Reasons[0]; r.What != "session" || r.Count != 4 || r.Limit != 5 || len(r.Names) != 4 {
		t.Errorf("%+v", r)
	}
}

// New sessions that end before the old ones do leave out what comes late in a sitting. A
// single short one, and more runs of the same settings, may.
func TestShortSittings(t *testing.T) {
	old := inRuns(11, studioBench(), "C", 6, 3, 0)
	was := tuned("cool-curve", lowered, old)
	again := func(runs int) []compare.Value { return inRuns(12, studioBench(), "N", 6, runs, 0.05) }
	full := inRuns(13, studioBench(), "N", 6, 3, 0)
	without := func(drop func(v compare.Value) bool) []compare.Value {
		return slices.DeleteFunc(slices.Clone(full), drop)
	}
	short := []string{"cool-curve later-runs (undecided)"}
	for _, c := range []struct {
		name    string
		now     *Profile
		outcome Outcome
		want    []string
		names   int
	}{
		{"one run each", tuned("cool-curve", lower, again(1)), Undecided, short, 5},
		{"no heat in the last run",
			tuned("cool-curve", lower, without(func(v compare.Value) bool { return v.Metric == heatMetric && v.Run == "3" })),
			Undecided, []string{"cool-curve later-runs tile-render temperature (undecided)"}, 1},
		{"one short session",
			tuned("cool-curve", lower, without(func(v compare.Value) bool { return v.Session == "N6" && v.Run > "1" })), Passed, nil, 0},
		{"more runs", tuned("cool-curve", lowered, old, again(1)), Passed, nil, 0},
		{"as many", tuned("cool-curve", lower, full), Passed, nil, 0},
	} {
		g := between(t, *studioPolicy(), profiles{was}, profiles{c.now})
		wantReasons(t, c.name, g, c.outcome, c.want...)
		if c.want != nil && (len(g.Reasons[0].Names) != c.names || g.Reasons[0].Limit != 3) {
			t.Errorf("%s: %d runs of %q", c.name, g.Reasons[0].Limit, g.Reasons[0].Names)
		}
	}
}
