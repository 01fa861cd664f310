package gate

import (
	"fmt"
	"testing"

	"tunegate/compare"
)

// sitting lists the scores of a profile, one a session, in four sessions.
func sitting(profile, benchmark, letter string, values ...float64) []compare.Value {
	var out []compare.Value
	for i, v := range values {
		session := fmt.Sprint(letter, i+1)
		out = append(out, compare.Value{Profile: profile, Benchmark: benchmark, Metric: "score", Unit: "s", Value: v, Session: session})
	}
	return out
}

// Four and four sessions wholly apart are an assignment in 35. What else reaches the
// same p in one of 35 costs it its verdict, so a request could hide a loss behind rows
// made for that. It is then open, never passed.
func TestNothingHidesALoss(t *testing.T) {
	before := []float64{412.31, 412.93, 411.86, 412.55}
	slow := []float64{433.12, 432.71, 434.05, 433.34} // 5 % more time
	scaled := func(values []float64) []float64 {
		var out []float64
		for _, v := range values {
			out = append(out, v*2) // exact, so that every p is the same
		}
		return out
	}
	// Two clusters, far apart: half of either on each side, so that nothing changed.
	clustersBefore, clustersNow := []float64{100.01, 100.02, 900.01, 900.03}, []float64{100.04, 100.06, 900.05, 900.08}
	old := tuned(factory, "auto", sitting(factory, "tile-render", "F", before...))
	loses := func(more ...[]compare.Value) *Profile {
		return tuned(boost, raised, append([][]compare.Value{sitting(boost, "tile-render", "B", slow...)}, more...)...).from(factory)
	}
	other := func(name, letter string, values ...float64) *Profile {
		return tuned(name, letter, sitting(name, "mesh-solve", letter, values...))
	}
	mixed, twice := other("cool-curve", "M", clustersBefore...), other("cool-curve", "M", scaled(before)...)
	both := tuned(factory, "auto", sitting(factory, "tile-render", "F", before...), sitting(factory, "mesh-solve", "F", clustersBefore...))
	for _, c := range []struct {
		name     string
		old, now profiles
		want     Outcome
		kind     string
	}{
		{"alone", profiles{old}, profiles{old, loses()}, Failed, ReasonRegression},
		{"beside itself, scaled", profiles{old, twice},
			profiles{old, twice, loses(), other("fixed-all", "X", scaled(slow)...).from("cool-curve")}, Undecided, ReasonWithheld},
		{"beside a profile in two clusters", profiles{old, mixed},
			profiles{old, mixed, loses(), other("fixed-all", "X", clustersNow...).from("cool-curve")}, Undecided, ReasonWithheld},
		{"beside a benchmark in two clusters", profiles{both}, profiles{both, loses(sitting(boost, "mesh-solve", "B", clustersNow...))},
			Undecided, ReasonWithheld},
	} {
		g := between(t, compare.Policy{}, c.old, c.now)
		if g.Outcome != c.want || g.Reasons[0].Kind != c.kind {
			t.Errorf("%s: %s, first for %s; want %s for %s", c.name, g.Outcome, g.Reasons[0].Kind, c.want, c.kind)
		}
	}
}
