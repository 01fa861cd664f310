package report

import (
	"testing"

	"tunegate/compare"
	"tunegate/compare/gate"
)

// A headline says the finding and its price; the wording has no outside source.
func TestComparisonHeadline(t *testing.T) {
	up := timeScore(compare.Uplift, 0.0246, 0.0225, 0.029)
	down := timeScore(compare.Regression, -0.0196, -0.0236, -0.0156)
	open := timeScore(compare.Noise, 0.003, -0.012, 0.026)
	level := timeScore(compare.Level, 0, -0.001, 0.002)
	power := func(v compare.Verdict, change float64) *compare.Result {
		r := of("W", compare.Lower, compare.Ratio, compare.Cost, v, change, change-0.01, change+0.01)
		r.Metric.Metric = "power"
		return r
	}
	heat := func(v compare.Verdict, change float64) *compare.Result {
		r := of("°C", compare.Lower, compare.Interval, compare.Cost, v, change, change-0.5, change+0.5)
		r.Metric.Metric = "temperature"
		return r
	}
	more, less := power(compare.Rise, 0.2), power(compare.Fall, -0.1)
	hot, cool, same := heat(compare.Rise, 12), heat(compare.SlightFall, -7), heat(compare.Noise, 0.2)
	whole := together(up, level, more, hot)
	whole.Suite = &compare.Suite{Result: timeScore(compare.Uplift, 0.037, 0.03, 0.04)}
	for _, c := range []struct {
		name string
		c    *compare.Comparison
		want string
	}{
		{"a suite's gain and its price", whole, "boost-lift is 3.7 % faster than factory for 20.0 % more power and 12.0 °C more heat"},
		{"a gain", together(up, more, hot), "With boost-lift, tile-render is 2.46 % faster for 20.0 % more power and 12.0 °C more heat"},
		{"a gain, and less heat", together(up, more, cool),
			"With boost-lift, tile-render is 2.46 % faster for 20.0 % more power at 7.0 °C less heat"},
		{"a gain that costs less", together(up, less), "With boost-lift, tile-render is 2.46 % faster at 10.0 % less power"},
		{"a gain without costs", together(up, same), "With boost-lift, tile-render is 2.46 % faster"},
		{"a loss for less power", together(down, less), "With boost-lift, tile-render is 1.96 % slower at 10.0 % less power"},
		{"a loss for more power", together(down, more), "With boost-lift, tile-render is 1.96 % slower; power rose by 20.0 %"},
		{"both", together(up, down, more),
			"With boost-lift, tile-render is 2.46 % faster, but tile-render is 1.96 % slower; power rose by 20.0 %"},
		{"open", together(open, more, cool),
			"Whether boost-lift changes a score is not settled; power rose by 20.0 %; temperature fell by 7.0 °C"},
		{"costs alone", together(more), "With boost-lift: power rose by 20.0 %"},
	} {
		if got := comparisonHeadline(c.c, c.c.Before, c.c.After); got != c.want {
			t.Errorf("%s: %q\nwant %q", c.name, got, c.want)
		}
	}
}

// The headline of a failed gate is its reason, without a commit's hash.
func TestGateHeadline(t *testing.T) {
	slower := timeScore(compare.Regression, -0.0179, -0.0206, -0.0139)
	power := of("W", compare.Lower, compare.Ratio, compare.Cost, compare.Rise, 0.094, 0.081, 0.104)
	power.Metric.Metric = "power"
	limit := 93.0
	capped := compare.Metric{Benchmark: "tile-render", Metric: "temperature", Unit: "°C", Cap: &limit}
	for _, c := range []struct {
		reason gate.Reason
		want   string
	}{
		{gate.Reason{Kind: gate.ReasonRegression, Result: slower}, "tile-render is 1.79 % slower with boost-lift (1.39 to 2.06 %)"},
		{gate.Reason{Kind: gate.ReasonRise, Result: power}, "tile-render power is " + changeText(power) + " with boost-lift (8.1 to 10.4 %)"},
		{gate.Reason{Kind: gate.ReasonDrift, Result: slower},
			"tile-render is 1.79 % slower with boost-lift (1.39 to 2.06 %) although the settings are the same"},
		{gate.Reason{Kind: gate.ReasonCap, Metric: &capped, Worst: 96.4},
			"tile-render temperature reached 96.4 °C with boost-lift, beyond the cap of 93 °C"},
		{gate.Reason{Kind: gate.ReasonStale}, "boost-lift still has runs from before its settings changed"},
		{gate.Reason{Kind: gate.ReasonAltered, Detail: "main (1a2b3c4)"}, "runs of boost-lift were removed or altered"},
		{gate.Reason{Kind: gate.ReasonSetAside, Count: 2}, "2 runs of boost-lift set aside, more than the policy allows"},
		{gate.Reason{Kind: gate.ReasonRequired, Names: []string{"mesh-solve"}}, "boost-lift has no new runs of mesh-solve"},
		{gate.Reason{Kind: gate.ReasonBaseline, Detail: "factroy"}, "the baseline of boost-lift is missing"},
		{gate.Reason{Kind: gate.ReasonFewRuns, Names: []string{"tile-render"}, What: "run", Count: 3, When: "now", Limit: 4},
			"with boost-lift, tile-render has 3 runs now, and the policy wants at least 4: add 1 more"},
		{gate.Reason{Kind: gate.ReasonCopies, Detail: "factory"}, "0 rows of boost-lift repeat rows of factory"},
		{gate.Reason{Kind: gate.ReasonRegression, Result: slower, Anchor: true},
			"tile-render is 1.79 % slower with boost-lift (1.39 to 2.06 %) since its first runs"},
		{gate.Reason{Kind: gate.ReasonDrift, Result: slower, Anchor: true},
			"tile-render is 1.79 % slower with boost-lift (1.39 to 2.06 %) since its first runs"},
		{gate.Reason{Kind: gate.ReasonLaterRuns, Result: slower, When: "now", Names: []string{"tile-render"}, Count: 1, Limit: 3},
			"with boost-lift, sessions hold as few as 1 run, and the old ones 3"},
		{gate.Reason{Kind: gate.ReasonLaterRuns, Result: slower, Names: []string{"tile-render"}, Limit: 1},
			"tile-render is 1.79 % slower with boost-lift (1.39 to 2.06 %) by all runs of each session"},
		{gate.Reason{Kind: gate.ReasonLaterRuns, Result: timeScore(compare.Noise, -0.01, -0.06, 0.04), Names: []string{"tile-render"}, Limit: 1},
			"with boost-lift, a large loss of tile-render could hide in runs that do not count"},
		{gate.Reason{Kind: gate.ReasonRemoved}, "boost-lift is removed"},
		{gate.Reason{Kind: gate.ReasonPolicy}, "the policy is loosened, and a person has to agree"},
		{gate.Reason{Kind: gate.ReasonNew}, "nothing older stands against boost-lift, and a person has to agree"},
		{gate.Reason{Kind: gate.ReasonNewBase}, "nothing older stands against boost-lift, and a person has to agree"},
		{gate.Reason{Kind: gate.ReasonNoRuns}, "boost-lift has no runs that can be judged"},
		{gate.Reason{Kind: gate.ReasonUnmeasured, Names: []string{"mesh-solve"}}, "mesh-solve was not measured with boost-lift"},
	} {
		c.reason.Profile, c.reason.Decides = "boost-lift", gate.Failed
		failed := &gate.Gate{Outcome: gate.Failed, Reasons: []gate.Reason{c.reason}}
		if got := GateClosing(failed); got != "Failed: "+c.want {
			t.Errorf("%s: %q\nwant %q", c.reason.Kind, got, "Failed: "+c.want)
		}
		failed.Reasons = append(failed.Reasons, c.reason, c.reason)
		if got := GateClosing(failed); got != "Failed: "+c.want+", and 2 more reasons" {
			t.Errorf("three of %s: %q", c.reason.Kind, got)
		}
	}
}

// The mark of a commit says the direction by its shape and by its colour whether
// that is better.
func TestPointBadge(t *testing.T) {
	for _, c := range []struct {
		r    *compare.Result
		want badge
	}{
		{timeScore(compare.Uplift, 0.02, 0.01, 0.03), badge{triangle, "better", false}},
		{timeScore(compare.Regression, -0.02, -0.03, -0.01), badge{triangleDown, "worse", false}},
		{timeScore(compare.Noise, 0.01, -0.01, 0.03), badge{disc, "open", true}},
		{of("W", compare.Lower, compare.Ratio, compare.Cost, compare.Rise, 0.02, 0.01, 0.03), badge{triangle, "worse", false}},
		{of("W", compare.Lower, compare.Ratio, compare.Cost, compare.Fall, -0.02, -0.03, -0.01), badge{triangleDown, "better", false}},
		{of("W", compare.Higher, compare.Ratio, compare.Cost, compare.Fall, -0.02, -0.03, -0.01), badge{triangleDown, "worse", false}},
		{of("MHz", compare.Higher, compare.Ratio, compare.Info, "", -0.02, -0.03, -0.01), badge{triangleDown, "muted", false}},
	} {
		if got := pointBadge(c.r); got != c.want {
			t.Errorf("%s %v: %v, want %v", c.r.Role, c.r.Change, got, c.want)
		}
	}
}
