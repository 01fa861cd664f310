package compare_test

import (
	"math"
	"reflect"
	"slices"
	"testing"

	"tunegate/compare"
	"tunegate/compare/internal/comparetest"
)

func TestABrokenPromiseShows(t *testing.T) {
	if comparetest.RaceEnabled {
		t.Skip("too few repetitions under the race detector")
	}
	n := comparetest.Repetitions()
	for _, c := range []struct{ promised, broken float64 }{
		{comparetest.MinCoverage, comparetest.MinCoverage - 0.02}, {comparetest.MaxFalseAlarms, comparetest.MaxFalseAlarms + 0.02},
		{comparetest.MaxFalseLevel, comparetest.MaxFalseLevel + 0.02},
	} {
		bound := c.promised + math.Copysign(comparetest.Allowance(c.promised, n), c.broken-c.promised)
		// Counts of 1,500 are near enough to normal.
		z := math.Abs(c.broken-bound) / math.Sqrt(c.broken*(1-c.broken)/float64(n))
		if chance := math.Erfc(-z/math.Sqrt2) / 2; chance < 0.95 {
			t.Errorf("a true share of %v fails the bound %v with a chance of %.2f only", c.broken, bound, chance)
		}
	}
}

func TestSimulationIsCompare(t *testing.T) {
	for _, s := range []comparetest.Sitting{{Sessions: 5, Runs: 3}, {Sessions: 8, Runs: 3, Unlabelled: true},
		{Blocks: 6, Sessions: 1, Runs: 2}, {Blocks: 3, Sessions: 2, Runs: 1}} {
		s.Unit, s.Change = "s", 0.02
		before, after := s.Simulated(5, comparetest.NoiseShapes[0].Draw, 3)
		c, err := compare.Compare(before, after, comparetest.Names, comparetest.Uncorrected, compare.Options{Resamples: 1000, Seed: 1})
		if err != nil {
			t.Fatal(err)
		}
		for i, r := range comparetest.Verdicts(t, before, after, comparetest.Uncorrected) {
			if want := c.Results[i]; !reflect.DeepEqual(r.Measurement, want.Measurement) || !reflect.DeepEqual(r.Judgement, want.Judgement) {
				t.Errorf("%+v: %+v, %+v; want %+v, %+v", s, r.Measurement, r.Judgement, want.Measurement, want.Judgement)
			}
		}
	}
}

// false alarms and coverage of the true change.
func alarmsAndCoverage(results []*compare.Result, change float64) (alarms, coverage float64) {
	for _, r := range results {
		if r.Real {
			alarms++
		}
		shown := math.Expm1(r.Turned(change))
		if r.Interval != nil && r.Interval[0] <= shown && shown <= r.Interval[1] {
			coverage++
		}
	}
	n := float64(len(results))
	return alarms / n, coverage / n
}

func TestFalseAlarmsAndCoverage(t *testing.T) {
	comparetest.FullTier(t, "a simulation")
	t.Parallel()
	type cell struct {
		name string
		comparetest.Sitting
		shapes       int
		coverageOnly bool
	}
	cells := []cell{
		{"5 sessions of 3 runs", comparetest.Sitting{Sessions: 5, Runs: 3, Unit: "s"}, 4, false},
		{"8 sessions of 3 runs", comparetest.Sitting{Sessions: 8, Runs: 3, Unit: "s"}, 4, false},
		{"8 sessions of 3 runs, 0.5 % readings", comparetest.Sitting{Sessions: 8, Runs: 3, Unit: "fps", Step: 0.3}, 2, false},
		{"8 sessions of 3 runs, 3 % more", comparetest.Sitting{Sessions: 8, Runs: 3, Unit: "s", Change: 0.03}, 1, true},
		{"8 sessions of 3 runs, 3 % more fps", comparetest.Sitting{Sessions: 8, Runs: 3, Unit: "fps", Change: 0.03}, 1, true},
		{"6 blocks", comparetest.Sitting{Blocks: 6, Sessions: 1, Runs: 3, Unit: "s"}, 4, false},
		{"10 blocks", comparetest.Sitting{Blocks: 10, Sessions: 1, Runs: 3, Unit: "s"}, 4, false},
		{"3 blocks of 2 and 2 spells", comparetest.Sitting{Blocks: 3, Sessions: 2, Runs: 3, Unit: "s"}, 4, false},
		{"6 blocks of 2 and 2 spells", comparetest.Sitting{Blocks: 6, Sessions: 2, Runs: 3, Unit: "s"}, 4, false},
		{"6 blocks of 2 and 2 spells, 3 % more", comparetest.Sitting{Blocks: 6, Sessions: 2, Runs: 3, Unit: "s", Change: 0.03}, 1, true},
	}
	n := comparetest.Repetitions()
	seed := uint64(0)
	for _, c := range cells {
		for _, shape := range comparetest.NoiseShapes[:c.shapes] {
			seed++
			before, after := c.Simulated(n, shape.Draw, seed)
			alarms, coverage := alarmsAndCoverage(comparetest.Verdicts(t, before, after, comparetest.Uncorrected), c.Change)
			t.Logf("%s, %s: %.1f %% false alarms, covers %.1f %%", c.name, shape.Name, 100*alarms, 100*coverage)
			if !c.coverageOnly && alarms > comparetest.MaxFalseAlarms+comparetest.Allowance(comparetest.MaxFalseAlarms, n) {
				t.Errorf("%s, %s: %.1f %% false alarms, promised are at most %v %%", c.name, shape.Name, 100*alarms, 100*comparetest.MaxFalseAlarms)
			}
			if coverage < comparetest.MinCoverage-comparetest.Allowance(comparetest.MinCoverage, n) {
				t.Errorf("%s, %s: covers %.1f %%, promised are %v %%", c.name, shape.Name, 100*coverage, 100*comparetest.MinCoverage)
			}
		}
	}
}

// The same sessions with the session column taken away: runs are pooled, and
// the false alarms that sessions prevent appear. That shows that this
// simulation can fail, and what a session label is for. A study of 3,000
// repetitions before this package was written found 15.7 % for 5 sessions of 3
// runs and 17.7 % for 8 of 3 in normal noise.
func TestPooledRunsRaiseFalseAlarms(t *testing.T) {
	comparetest.FullTier(t, "a simulation")
	t.Parallel()
	n := comparetest.Repetitions()
	for i, known := range []float64{0.157, 0.177} {
		s := comparetest.Sitting{Sessions: []int{5, 8}[i], Runs: 3, Unit: "s", Unlabelled: true}
		before, after := s.Simulated(n, comparetest.NoiseShapes[0].Draw, uint64(100+i))
		alarms, _ := alarmsAndCoverage(comparetest.Verdicts(t, before, after, comparetest.Uncorrected), 0)
		t.Logf("%d sessions of 3 runs, pooled: %.1f %% false alarms", s.Sessions, 100*alarms)
		if alarms < 0.10 && !comparetest.RaceEnabled {
			t.Errorf("%d sessions of 3 runs, pooled: %.1f %% false alarms only, known are %v %%", s.Sessions, 100*alarms, 100*known)
		}
		if off := math.Abs(alarms - known); off > 0.01+3*math.Sqrt(known*(1-known)/float64(n)) {
			t.Errorf("%d sessions of 3 runs, pooled: %.1f %% false alarms, known are %v %%", s.Sessions, 100*alarms, 100*known)
		}
	}
}

// A true loss of exactly the tolerance, 0.5 %, must not be called level in
// more than 3 %. Tight noise shows it for a loss and wide noise calls nothing
// level: the worst lies between, from 0.45 to 0.8 of the tolerance here, and
// the sizes of noise on both sides of it show that it is met. Six and six
// values are enumerated, which takes long: fewer repetitions, and a promise
// broken by 2 points fails one of the two cells in 99 of 100 choices of seeds.
func TestFalseLevel(t *testing.T) {
	comparetest.FullTier(t, "a simulation")
	t.Parallel()
	seed := uint64(200)
	for _, c := range []struct {
		size   int
		noise  []float64 // of the tolerance
		thrift int
	}{
		{4, []float64{0.2, 0.3, 0.45, 0.6, 0.9}, 1},
		{6, []float64{0.55, 0.7}, 5},
		{10, []float64{0.4, 0.6, 0.8, 1, 1.3}, 2},
	} {
		var shares []float64
		n := 2 * comparetest.Repetitions() / c.thrift
		for i, noise := range c.noise {
			seed++
			s := comparetest.Sitting{Sessions: c.size, Runs: 1, Unit: "fps", Change: math.Log(0.995), Noise: noise * 0.005}
			if i%2 == 1 { // the same loss of speed
				s.Unit, s.Change = "s", -s.Change
			}
			before, after := s.Simulated(n, comparetest.NoiseShapes[0].Draw, seed)
			level := 0.0
			for _, r := range comparetest.Verdicts(t, before, after, comparetest.Uncorrected) {
				if *r.Verdict == compare.Level {
					level += 1 / float64(n)
				}
			}
			shares = append(shares, level)
			t.Logf("%d and %d sessions, noise of %v tolerances, %s: %.1f %% level", c.size, c.size, noise, s.Unit, 100*level)
			if level > comparetest.MaxFalseLevel+comparetest.Allowance(comparetest.MaxFalseLevel, n) {
				t.Errorf("%d and %d sessions, noise of %v tolerances: %.1f %% level, promised are at most %v %%", c.size, c.size, noise, 100*level,
					100*comparetest.MaxFalseLevel)
			}
		}
		if last := len(shares) - 1; last > 2 && !comparetest.RaceEnabled {
			most := slices.Max(shares)
			if most == 0 || shares[0] == most || shares[last] == most {
				t.Errorf("%d and %d sessions: the worst noise is not met: %v", c.size, c.size, shares)
			}
		}
	}
}
