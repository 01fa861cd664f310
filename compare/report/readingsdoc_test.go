package report

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"tunegate/compare/readings"
	"tunegate/compare/report/doc"
)

func TestExclusionText(t *testing.T) {
	for _, c := range []struct {
		excluded readings.Exclusion
		want     string
	}{
		{nil, ""},
		{readings.CutAtStart{}, "cut off: it began before the log did"},
		{readings.CutAtEnd{}, "cut off: the log ended before it did"},
		{readings.CutAfterDip{MaxDip: 2}, "cut off: the log ended less than 2 s behind it, so that it may have gone on"},
		{readings.CutByRestart{Line: 6}, "cut off: the log was started anew before line 6"},
		{readings.NoRows{}, "no row of the log falls into it"},
		{readings.TooFewRows{}, "fewer than two rows of the log fall into it"},
		{readings.TooMuchGap{Share: 700.0 / 11, Gap: 7, Run: 11, MaxShare: 10},
			"63.6 % of it is a gap in the log (7 s of 11 s); at most 10 % may be"},
		{readings.OnlyWarmUp{Run: 3, WarmUp: 5}, "it lasts 3 s, no longer than the warm-up of 5 s"},
		{readings.RunAgain{Run: "3", Benchmark: "a", FirstLine: 3}, "run 3 of a again, which began on line 3: a run is one unbroken stretch"},
		{readings.NoReading{Column: "fan"}, "no reading of fan in this run"},
		{readings.TooFewReadings{Column: "fan"}, "too few readings of fan in this run"},
		{readings.MissingReadings{Column: "fan", Share: 25, MaxShare: 10},
			"no reading of fan for 25.0 % of the run; at most 10 % may be missing"},
		{readings.Frozen{Column: "power", Value: 100, Unit: "W", Readings: 12},
			"power stood at 100 W in all 12 readings while other sensors moved: does the sensor hang? " +
				"If it may stand still, as a fixed clock does, name it under constant"},
		{readings.NotPositive{Metric: "fan", Unit: "rpm"}, "fan is 0 rpm; a change in per cent needs a value above zero"},
		{readings.UnknownEnergy{Column: "power", Gap: 7}, "power has no readings for 7 s of the run, and the energy of a gap is not known"},
		{readings.NeverUnderLoad{Load: readings.Limit{Column: "power", Value: 500}},
			"power was never above 500 in the time that counts"},
	} {
		if got := exclusionText(c.excluded); got != c.want {
			t.Errorf("%T: %q, want %q", c.excluded, got, c.want)
		}
	}
}

func TestReadingNotes(t *testing.T) {
	usual, longest := 1.0, 5.0
	within := func(metric string, by float64) readings.Run {
		return readings.Run{Metrics: []readings.Value{{Metric: metric, Within: by}}}
	}
	rules := readings.DefaultRules()
	rules.WarmUp, rules.Threshold = 0.5, &readings.Limit{Column: "power", Value: 50}
	for _, c := range []struct {
		name  string
		found readings.Result
		notes []string
		want  []Note
	}{
		{"nothing odd", readings.Result{Rules: readings.DefaultRules(), Logs: []readings.Log{{File: "log1", Rows: 1}}}, nil,
			[]Note{{Kind: "warm-up", Text: "no warm-up is cut: each run counts from its start"}}},
		{"all of it", readings.Result{
			Rules: rules,
			Logs: []readings.Log{
				{File: "log1", UsualStep: &usual, MaxStep: &longest, Gaps: 1}, {File: "log2", UsualStep: &longest, MaxStep: &longest},
				{File: "log3", UsualStep: &usual, MaxStep: &longest, Gaps: 2}, {File: "log4"},
			},
			Runs:           []readings.Run{within("power p95", 0.02), within("power p50", 0.125), within("power p95", 0.03), within("fan", 0)},
			Columns:        []readings.Column{{Name: "power"}, {Name: "fan"}},
			Silent:         []string{"noise", "wall"},
			ShortStretches: 2,
			Unmatched:      []readings.UnmatchedPattern{{Rule: "maximum", Pattern: "pwoer"}},
			Frozen:         []readings.FrozenColumn{{Name: "power", Runs: 3, Excluded: 3}, {Name: "fan", Runs: 1}},
		}, []string{"log1: a note"}, []Note{
			{Kind: "silent", Text: "left out, without a reading in any run: noise, wall"},
			{Kind: "warm-up", Text: "the first 0.5 s of each run are warm-up: they count for energy, and for nothing else"},
			{Kind: "step", Text: "log1, log3: the usual step is 1 s; longer ones than 5 s are gaps and not bridged; found: 3"},
			{Kind: "step", Text: "log2: the usual step is 5 s; longer ones than 5 s are gaps and not bridged; found: 0"},
			{Kind: "short", Text: "2 stretches with power above 50 lasted less than 10 s and are no runs"},
			{Kind: "unmatched", Text: `maximum: no column is called "pwoer"; there are "power", "fan"`},
			{Kind: "still", Text: "power never moved in 3 of 4 runs while other sensors did; set aside there"},
			{Kind: "still", Text: "fan never moved in 1 of 4 runs while other sensors did"},
			{Kind: "percentile", Text: "power p95 is within 0.03 of the exact value: there are too many different readings to keep them all"},
			{Kind: "percentile", Text: "power p50 is within 0.12 of the exact value: there are too many different readings to keep them all"},
			{Kind: "log", Text: "log1: a note"},
		}},
	} {
		if d := cmp.Diff(c.want, readingNotes(&c.found, c.notes)); d != "" {
			t.Errorf("%s (-want +got):\n%s", c.name, d)
		}
	}
}

// A summary of logs has no blank lines as text, because it accompanies other
// output, and each kind of line has its title.
func TestReadingsDocument(t *testing.T) {
	d := ReadingsDocument(&readings.Result{
		Rules: readings.DefaultRules(), Logs: []readings.Log{{File: "log1"}},
		Runs: []readings.Run{{Benchmark: "tile-render", Log: "log1", Line: 2, Label: "1", Excluded: readings.CutAtStart{},
			Metrics: []readings.Value{{Metric: "power", Unit: "W"}}}},
	}, nil)
	want := "1 run in 1 log (tile-render 1); 1 set aside\n" +
		"Set aside\n  tile-render, run 1, line 2 of log1: cut off: it began before the log did\n" +
		"Notes\n  no warm-up is cut: each run counts from its start\n" + caution(mainsHazard) + "\n"
	if got := textOf(t, d, doc.TextOptions{Width: 200}); got != want {
		t.Errorf("%s\nwant\n%s", got, want)
	}
	want = "## Runs from monitoring logs\n\n1 run in 1 log (tile-render 1); 1 set aside\n" +
		"\n### Set aside\n\n- tile-render, run 1, line 2 of log1: cut off: it began before the log did\n" +
		"\n### Notes\n\n- no warm-up is cut: each run counts from its start\n\n> " + caution(mainsHazard) + "\n"
	if got := markdownOf(t, d); got != want {
		t.Errorf("%s\nwant\n%s", got, want)
	}
}
