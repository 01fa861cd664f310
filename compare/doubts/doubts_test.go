package doubts

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"

	"tunegate/compare"
	"tunegate/compare/internal/comparetest"
)

// timedRuns files values around 100 s as one profile's runs: one session where
// perSession is 0, else sessions of that many runs.
func timedRuns(t *testing.T, values []float64, perSession int) []*compare.Series {
	t.Helper()
	var r compare.Runs
	for i, v := range values {
		x := compare.Value{Profile: "factory", Benchmark: "tile-render", Unit: "s", Value: math.Round(v*1000) / 1000}
		if perSession > 0 {
			x.Session = string(rune('a' + i/perSession))
		}
		if err := r.Add(x); err != nil {
			t.Fatal(err)
		}
	}
	return r.Series()
}

// statistical reports whether a check that tests something found anything.
func statistical(v *Report) bool {
	for _, f := range v.Findings {
		switch f.Check {
		case CheckFewRuns, CheckNoSessions, CheckApart, CheckCoarse, CheckNoSpread:
		default:
			return true
		}
	}
	return false
}

// The statistical checks together call at most 5 % of clean series, in normal
// and in skewed noise, with and without sessions. 600 series a cell: standard
// error 0.9 points.
func TestCleanDataIsLeftAlone(t *testing.T) {
	comparetest.FullTier(t, "a simulation")
	repeats := 600
	if comparetest.RaceEnabled {
		repeats = 60
	}
	for _, shape := range []string{"normal", "skew"} {
		for _, c := range []struct{ runs, perSession int }{{20, 0}, {10, 0}, {18, 3}, {30, 5}, {12, 1}, {600, 0}, {600, 150}} {
			g := rand.New(rand.NewPCG(7, uint64(c.runs*10+c.perSession)))
			draw := comparetest.Shape(shape)
			called := 0
			for range repeats {
				x := make([]float64, c.runs)
				luck := 0.0
				for i := range x {
					if c.perSession > 0 && i%c.perSession == 0 {
						luck = draw(g) // half of the variance lies between sessions
					}
					x[i] = 100 * math.Exp(0.01*(draw(g)+luck))
				}
				v, err := Check(timedRuns(t, x, c.perSession), compare.Policy{}, compare.Options{})
				if err != nil {
					t.Fatal(err)
				}
				if statistical(v) {
					called++
				}
			}
			share := 100 * float64(called) / float64(repeats)
			t.Logf("%s noise, %d runs, %d a session: %.1f %% called", shape, c.runs, c.perSession, share)
			if limit := 5 + 2*100*math.Sqrt(0.05*0.95/float64(repeats)); share > limit {
				t.Errorf("%s noise, %d runs, %d a session: %.1f %% of clean series called, above %.1f %%", shape, c.runs, c.perSession, share, limit)
			}
		}
	}
}

// Faults of stated size are found, each by the check that is for it.
func TestFaultsAreFound(t *testing.T) {
	repeats := 200
	if comparetest.RaceEnabled {
		repeats = 20
	}
	noise := func(g *rand.Rand, sd float64) []float64 {
		x := make([]float64, 20)
		for i := range x {
			x[i] = 100 * (1 + sd*g.NormFloat64())
		}
		return x
	}
	for _, c := range []struct {
		name   string
		check  string
		least  float64 // share found, in per cent
		series func(*rand.Rand) []float64
	}{
		{"a drift of 2 % over 20 runs, noise 0.5 %", CheckDrift, 90, func(g *rand.Rand) []float64 {
			x := noise(g, 0.005)
			for i := range x {
				x[i] *= 1 + 0.02*float64(i)/19
			}
			return x
		}},
		{"one run 10 standard deviations out", CheckOutlier, 75, func(g *rand.Rand) []float64 {
			x := noise(g, 0.005)
			x[g.IntN(20)] = 100 * (1 + 10*0.005)
			return x
		}},
		{"four runs of twenty 3 % slow, noise 0.3 %", CheckModes, 80, func(g *rand.Rand) []float64 {
			x := noise(g, 0.003)
			for _, i := range g.Perm(20)[:4] {
				x[i] *= 1.03
			}
			return x
		}},
		{"the first ten runs copied", CheckCopied, 95, func(g *rand.Rand) []float64 {
			x := noise(g, 0.005)
			copy(x[10:], x[:10])
			return x
		}},
	} {
		g := rand.New(rand.NewPCG(8, 8))
		found := 0
		for range repeats {
			v, err := Check(timedRuns(t, c.series(g), 0), compare.Policy{}, compare.Options{})
			if err != nil {
				t.Fatal(err)
			}
			for _, f := range v.Findings {
				if f.Check == c.check {
					found++
					break
				}
			}
		}
		share := 100 * float64(found) / float64(repeats)
		t.Logf("%s: found in %.0f %%", c.name, share)
		if share < c.least && !comparetest.RaceEnabled {
			t.Errorf("%s: found in %.0f %%, want at least %.0f %%", c.name, share, c.least)
		}
	}
}

// Conditions differ only between profiles that record some, and a value that
// is empty is not one that is missing.
func TestConditions(t *testing.T) {
	recorded := map[string]map[string]string{
		"factory":    {"room": "21 °C", "driver": ""},
		"boost-lift": {"room": "24 °C"},
		"cool-curve": {"room": "24 °C", "driver": ""},
		"bare":       {},
	}
	want := []Finding{
		{GradeCheck, CheckConditions, "boost-lift, cool-curve, factory", AllSeries,
			Evidence{Key: "driver", Recorded: []Recorded{{"", []string{"cool-curve", "factory"}}}, Without: []string{"boost-lift"}}},
		{GradeCheck, CheckConditions, "boost-lift, cool-curve, factory", AllSeries,
			Evidence{Key: "room", Recorded: []Recorded{{"24 °C", []string{"boost-lift", "cool-curve"}}, {"21 °C", []string{"factory"}}}}},
	}
	if diff := cmp.Diff(want, Conditions(recorded)); diff != "" {
		t.Error(diff)
	}
	delete(recorded, "factory")
	delete(recorded["cool-curve"], "driver")
	if got := Conditions(recorded); len(got) > 0 {
		t.Errorf("equal conditions give %v", got)
	}
}

func TestProgress(t *testing.T) {
	series := comparetest.Scattered(t, comparetest.Factory, 400)
	comparetest.WantRisingProgress(t, func(o compare.Options) error {
		_, err := Check(series, compare.Policy{}, o)
		return err
	})
}

// What only one side states holds for both: the other side's series is looked at,
// too, under its unit. What was not compared is not looked at.
func TestOfComparison(t *testing.T) {
	before := slices.Concat(comparetest.Numbers("s", 60, 60, 60, 60), comparetest.Named("mesh-solve", comparetest.Numbers("s", 1, 1, 1, 1)))
	after := comparetest.Numbers("", 60.1, 60.5, 60.2, 60.4)
	b, a := comparetest.SeriesOf(t, comparetest.Factory, before), comparetest.SeriesOf(t, comparetest.Boost, after)
	if _, err := Check(a, compare.Policy{}, compare.Options{}); err == nil {
		t.Fatal("a series without a unit is looked at by itself: the check below could not fail")
	}
	c, err := compare.Compare(b, a, comparetest.Names, compare.Policy{}, compare.Options{Resamples: 1000})
	if err != nil {
		t.Fatal(err)
	}
	got, err := OfComparison(c, b, a, compare.Policy{}, compare.Options{})
	if err != nil {
		t.Fatal(err)
	}
	want := &Report{GradeCheck, 2, []Finding{
		{GradeCheck, CheckCoarse, comparetest.Factory, "tile-render", Evidence{Value: 1, Unit: "s"}},
		{GradeCheck, CheckNoSpread, comparetest.Factory, "tile-render", Evidence{Count: 4, Value: 60, Unit: "s"}},
		{GradeCheck, CheckNoSessions, comparetest.Factory, AllSeries, Evidence{}},
		{GradeCheck, CheckNoSessions, comparetest.Boost, AllSeries, Evidence{}},
	}}
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
	if a[0].Unit != "" {
		t.Errorf("the series that was compared is changed: it has the unit %q", a[0].Unit)
	}
}

// More findings make a new report, with the worst grade of all.
func TestWith(t *testing.T) {
	first := Finding{GradeCheck, CheckDrift, "factory", "tile-render", Evidence{Statistic: 0.5}}
	report := (&Report{Grade: GradeFine, Series: 2}).With(first)
	more := report.With(Finding{Grade: GradeStop, Check: CheckCopied}, Finding{Grade: GradeCheck, Check: CheckModes})
	if more.Grade != GradeStop || more.Series != 2 || len(more.Findings) != 3 {
		t.Errorf("%+v", more)
	}
	if d := cmp.Diff(&Report{GradeCheck, 2, []Finding{first}}, report); d != "" {
		t.Errorf("the report that was added to is changed: %s", d)
	}
}
