package doubts

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"tunegate/compare"
	"tunegate/compare/internal/comparetest"
)

// call files the values of each score, around 100 s, as one profile's runs: one
// session where perSession is 0, else sessions of that many runs.
func call(t *testing.T, perSession int, scores ...[]float64) []*compare.Series {
	t.Helper()
	var r compare.Runs
	for s, values := range scores {
		for i, v := range values {
			x := compare.Value{Profile: "factory", Benchmark: fmt.Sprintf("score %d", s+1), Unit: "s", Value: math.Round(v*1000) / 1000}
			if perSession > 0 {
				x.Session = fmt.Sprintf("s%d", i/perSession+1)
			}
			if err := r.Add(x); err != nil {
				t.Fatal(err)
			}
		}
	}
	return r.Series()
}

// clean draws the runs of one score, with a standard deviation of 1 %; with
// sessions half of the variance lies between them.
func clean(g *rand.Rand, shape string, runs, perSession int) []float64 {
	draw, luck := comparetest.Shape(shape), 0.0
	x := make([]float64, runs)
	for i := range x {
		if perSession > 0 && i%perSession == 0 {
			luck = draw(g)
		}
		x[i] = 100 * math.Exp(0.01*(draw(g)+luck))
	}
	return x
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

// The statistical checks call anything in at most one clean call in twenty, of one
// score and of many, in normal, exponential and Student's t noise, with and without
// sessions. 600 calls a cell: standard error 0.9 points.
func TestCleanCalls(t *testing.T) {
	type cell struct{ scores, runs, perSession int }
	cells, repeats := []cell{{1, 20, 0}, {1, 40, 0}, {1, 10, 0}, {1, 18, 3}, {1, 30, 5}, {1, 12, 1}, {1, 600, 0}, {1, 600, 150},
		{12, 12, 0}, {12, 20, 0}, {12, 24, 3}, {24, 12, 1}}, 600
	if testing.Short() || comparetest.RaceEnabled {
		cells, repeats = []cell{{1, 40, 0}, {12, 20, 0}}, 60
	}
	for _, shape := range []string{"normal", "skew", "t5"} {
		for _, c := range cells {
			g := rand.New(rand.NewPCG(7, uint64(c.scores*100_000+c.runs*10+c.perSession)))
			called := 0
			for range repeats {
				scores := make([][]float64, c.scores)
				for i := range scores {
					scores[i] = clean(g, shape, c.runs, c.perSession)
				}
				v, err := Check(call(t, c.perSession, scores...), compare.Policy{}, compare.Options{})
				if err != nil {
					t.Fatal(err)
				}
				if statistical(v) {
					called++
				}
			}
			share := 100 * float64(called) / float64(repeats)
			t.Logf("%s noise, %d scores of %d runs, %d a session: %.1f %% called", shape, c.scores, c.runs, c.perSession, share)
			if limit := 5 + 2*100*math.Sqrt(0.05*0.95/float64(repeats)); share > limit {
				t.Errorf("%s noise, %d scores of %d runs, %d a session: %.1f %% of clean calls called, above %.1f %%",
					shape, c.scores, c.runs, c.perSession, share, limit)
			}
		}
	}
}

// Faults of stated size in one series, alone and among 24, of 20 runs each in normal
// noise: each is found by the check that is for it in the share that the topic doubts
// states.
func TestPower(t *testing.T) {
	repeats := 400
	if testing.Short() || comparetest.RaceEnabled {
		repeats = 40
	}
	const sd = 0.01 // of the noise
	slow := func(x []float64, by float64, runs ...int) {
		for _, i := range runs {
			x[i] *= 1 + by*sd
		}
	}
	drift := func(by float64) func(*rand.Rand, []float64) {
		return func(_ *rand.Rand, x []float64) {
			for i := range x {
				slow(x, by*float64(i)/float64(len(x)-1), i)
			}
		}
	}
	far := func(by float64) func(*rand.Rand, []float64) {
		return func(g *rand.Rand, x []float64) { slow(x, by, g.IntN(len(x))) }
	}
	modes := func(by float64, of int) func(*rand.Rand, []float64) {
		return func(g *rand.Rand, x []float64) { slow(x, by, g.Perm(len(x))[:of]...) }
	}
	for _, c := range []struct {
		name        string
		check       string
		alone, many float64 // stated shares found, in per cent
		put         func(*rand.Rand, []float64)
	}{
		{"drift of 2 sd", CheckDrift, 39, 8, drift(2)},
		{"drift of 4 sd", CheckDrift, 98, 71, drift(4)},
		{"one run 6 sd off", CheckOutlier, 35, 0, far(6)},
		{"one run 10 sd off", CheckOutlier, 86, 4, far(10)},
		{"one run 20 sd off", CheckOutlier, 98, 71, far(20)},
		{"half of the runs 4 sd slower", CheckModes, 9, 0, modes(4, 10)},
		{"half of the runs 6 sd slower", CheckModes, 68, 14, modes(6, 10)},
		{"one run in five 10 sd slower", CheckModes, 99, 55, modes(10, 4)},
		{"the first ten runs copied", CheckCopied, 100, 100, func(_ *rand.Rand, x []float64) { copy(x[10:], x[:10]) }},
	} {
		for series, want := range map[int]float64{1: c.alone, 24: c.many} {
			g := rand.New(rand.NewPCG(8, 8))
			found := 0
			for range repeats {
				scores := make([][]float64, series)
				for i := range scores {
					scores[i] = clean(g, "normal", 20, 0)
				}
				c.put(g, scores[0])
				v, err := Check(call(t, 0, scores...), compare.Policy{}, compare.Options{})
				if err != nil {
					t.Fatal(err)
				}
				if slices.ContainsFunc(v.Findings, func(f Finding) bool { return f.Check == c.check && f.Series == "score 1" }) {
					found++
				}
			}
			share := 100 * float64(found) / float64(repeats)
			t.Logf("%s, %d series: found in %.0f %%", c.name, series, share)
			if given := 4 + 300*math.Sqrt(0.25/float64(repeats)); math.Abs(share-want) > given {
				t.Errorf("%s, %d series: found in %.0f %%, stated are %.0f %%", c.name, series, share, want)
			}
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

// Sides whose times do not overlap are named with the time between them; sides that were
// measured in turn are not.
func TestApart(t *testing.T) {
	for _, c := range []struct {
		days []int // of runs of factory, boost-lift, factory, ...
		want time.Duration
	}{{[]int{1, 12, 2, 13, 3, 14}, 9 * 24 * time.Hour}, {[]int{1, 2, 3, 4, 5, 6}, 0}} {
		var r compare.Runs
		for i, day := range c.days {
			v := compare.Value{Profile: []string{comparetest.Factory, comparetest.Boost}[i%2], Benchmark: "tile-render", Unit: "s",
				Value: 60 + float64(i)/10, Time: time.Date(2026, 3, day, 9, 0, 0, 0, time.UTC)}
			if err := r.Add(v); err != nil {
				t.Fatal(err)
			}
		}
		v, err := Check(r.Series(), compare.Policy{}, compare.Options{})
		if err != nil {
			t.Fatal(err)
		}
		var gap time.Duration
		for _, f := range v.Findings {
			if f.Check == CheckApart {
				gap = f.Evidence.Gap
			}
		}
		if gap != c.want {
			t.Errorf("days %v: %v apart, want %v", c.days, gap, c.want)
		}
	}
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
	got, err := OfComparison(Compared{c, b, a}, compare.Policy{}, compare.Options{})
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

// All comparisons of a call are one family: p is corrected for the series of all of
// them, each of which counts once, and a finding stands with every comparison that holds
// its series.
func TestOfComparisonsAreOneFamily(t *testing.T) {
	g := comparetest.Generator(3)
	pair := func(drift float64) Compared {
		var sides [2][]*compare.Series
		for k, name := range comparetest.Names {
			var values []compare.Value
			for i := range 16 {
				v := 400 + g.NormFloat64()
				if k == 1 {
					v += drift * float64(i)
				}
				values = append(values, compare.Value{Benchmark: "tile-render", Unit: "s", Value: v})
			}
			sides[k] = comparetest.SeriesOf(t, name, values)
		}
		c, err := compare.Compare(sides[0], sides[1], comparetest.Names, compare.Policy{}, compare.Options{Resamples: 200})
		if err != nil {
			t.Fatal(err)
		}
		return Compared{c, sides[0], sides[1]}
	}
	drifting := pair(0.32)
	var steady, same []Compared
	for range 8 {
		steady, same = append(steady, pair(0)), append(same, drifting)
	}
	driftP := func(all ...Compared) []float64 {
		reports, err := OfComparisons(all, compare.Policy{}, compare.Options{})
		if err != nil {
			t.Fatal(err)
		}
		var p []float64
		for _, r := range reports {
			for _, f := range r.Findings {
				if f.Check == CheckDrift {
					p = append(p, f.Evidence.P)
				}
			}
		}
		return p
	}
	alone, beside := driftP(drifting), driftP(append(steady[:1:1], drifting)...)
	if len(alone) != 1 || len(beside) != 1 || beside[0] < 1.5*alone[0] {
		t.Errorf("alone p is %v, beside another pair %v", alone, beside)
	}
	if got := driftP(append(steady, drifting)...); len(got) != 0 {
		t.Errorf("beside 8 other pairs: %v", got)
	}
	if got := driftP(same...); len(got) != 8 || got[0] != alone[0] || got[7] != alone[0] {
		t.Errorf("the same pair 8 times: %v, alone %v", got, alone)
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

// Runs of several machines are no series: one machine after the other is no drift.
func TestMachinesAreNoDrift(t *testing.T) {
	g := comparetest.Generator(4)
	var values []compare.Value
	for m := range 6 {
		for s := range 4 {
			values = append(values, compare.Value{Profile: comparetest.Factory, Benchmark: "tile-render", Unit: "s", Machine: fmt.Sprint("plover-", m),
				Session: fmt.Sprint(s), Run: "1", Value: 400 + 5*float64(m) + g.NormFloat64()})
		}
	}
	found, err := Check(comparetest.SeriesOf(t, comparetest.Factory, values), compare.Policy{}, compare.Options{})
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range found.Findings {
		if f.Check == CheckDrift || f.Check == CheckDependence || f.Check == CheckModes {
			t.Errorf("found %s: %+v", f.Check, f.Evidence)
		}
	}
}
