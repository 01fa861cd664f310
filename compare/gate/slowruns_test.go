package gate

import (
	"math"
	"slices"
	"testing"

	"tunegate/compare"
)

// A third of the runs of each session, slower by 15 %, moves no median, and costs 5 % of
// the time. Runs that something else slowed now and then are no loss.
func TestLossInSomeRuns(t *testing.T) {
	old := inRuns(41, studioBench(), "C", 6, 3, 0)
	slower := func(seed uint64, by float64, when func(v compare.Value) bool) []compare.Value {
		rows := inRuns(seed, studioBench(), "N", 6, 3, 0)
		for i, v := range rows {
			if v.Benchmark == "mesh-solve" && when(v) {
				rows[i].Value *= 1 + by
			}
		}
		return rows
	}
	third := func(v compare.Value) bool { return v.Run == "3" }
	other := []string{"3", "1", "2", "2", "1", "3"}
	any := func(v compare.Value) bool { return v.Run == other[v.Session[1]-'1'] }
	want := []string{"cool-curve slow-runs mesh-solve (undecided)"}
	for _, c := range []struct {
		name    string
		rows    []compare.Value
		outcome Outcome
		want    []string
	}{
		{"the last run", slower(42, 0.15, third), Undecided, want},
		{"any run", slower(43, 0.15, any), Undecided, want},
		{"in two sessions", slower(44, 0.15, func(v compare.Value) bool { return v.Session < "N3" && v.Run == "2" }), Passed, nil},
		{"little", slower(45, 0.012, third), Passed, nil},
		{"none", slower(46, 0, third), Passed, nil},
		{"faster", slower(47, -0.15, third), Passed, nil},
	} {
		g := between(t, *studioPolicy(), profiles{tuned("cool-curve", lowered, old)}, profiles{tuned("cool-curve", lower, c.rows)})
		wantReasons(t, c.name, g, c.outcome, c.want...)
	}
	reduced := slower(50, 0.15, third)
	reduced = slices.DeleteFunc(reduced, func(v compare.Value) bool { return v.Run != "1" })
	for i, v := range reduced {
		mean := v.Value
		if v.Benchmark == "mesh-solve" {
			mean *= math.Cbrt(1.15)
		}
		reduced[i].Run, reduced[i].Reduced = "", &compare.Reduction{Runs: 3, Mean: mean, Smallest: v.Value, Largest: v.Value}
	}
	wantReasons(t, "reduced", between(t, *studioPolicy(), profiles{tuned("cool-curve", lowered, old)},
		profiles{tuned("cool-curve", lower, reduced)}), Undecided, want...)
	both := slower(48, 0.15, third)
	for i := range both {
		both[i].Session = "C" + both[i].Session[1:]
	}
	g := between(t, *studioPolicy(), profiles{tuned("cool-curve", lowered, both)},
		profiles{tuned("cool-curve", lower, slower(49, 0.15, third))})
	wantReasons(t, "as before", g, Passed)
}

// A profile that lay there without runs is judged against its baseline, also where that
// did not change.
func TestFirstRunsOfAKnownProfile(t *testing.T) {
	for level, want := range map[float64]Outcome{402: Passed, 430: Failed} {
		base := repository("main", &compare.Policy{}, tuned(factory, "auto"), tuned(boost, raised).from(factory))
		base.Unjudged = map[string]*compare.Rows{factory: compare.RowsOf(slices.Clone(tiles("F", 412))...)}
		head := repository("head", &compare.Policy{}, tuned(factory, "auto"), tuned(boost, raised, tiles("B", level)).from(factory))
		if g := gated(t, base, head); g.Outcome != want || want == Failed && g.Reasons[0].Kind != ReasonRegression {
			t.Errorf("%v: %s, %q", level, g.Outcome, reasons(g))
		}
	}
}
