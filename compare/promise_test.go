package compare

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
)

// What is promised of verdicts at a nominal 95 and 5 %.
const (
	leastCoverage   = 0.93 // of the true change by the interval
	mostFalseAlarms = 0.06 // of comparisons without a change that are called real
	mostFalseLevel  = 0.03 // of true losses of exactly the tolerance that are called level
)

// repetitions are so many that a promise broken by 2 points shows: at 1,500
// the standard error is 0.66 points of coverage, 0.61 of false alarms and 0.44
// of false levels. The bounds give one of it away, so that 91 %, 8 % and 5 %
// fail in 19 of 20 choices of seeds (TestABrokenPromiseShows). Under the race
// detector there are few, which only shows that nothing races.
func repetitions() int {
	if raceEnabled {
		return 20
	}
	return 1500
}

// given is how much of a promise is left to chance.
func given(share float64, n int) float64 {
	errors := 1.0
	if raceEnabled {
		errors = 3
	}
	return errors * math.Sqrt(share*(1-share)/float64(n))
}

func TestABrokenPromiseShows(t *testing.T) {
	if raceEnabled {
		t.Skip("too few repetitions under the race detector")
	}
	n := repetitions()
	for _, c := range []struct{ promised, broken float64 }{
		{leastCoverage, leastCoverage - 0.02}, {mostFalseAlarms, mostFalseAlarms + 0.02}, {mostFalseLevel, mostFalseLevel + 0.02},
	} {
		bound := c.promised + math.Copysign(given(c.promised, n), c.broken-c.promised)
		// Counts of 1,500 are near enough to normal.
		z := math.Abs(c.broken-bound) / math.Sqrt(c.broken*(1-c.broken)/float64(n))
		if chance := math.Erfc(-z/math.Sqrt2) / 2; chance < 0.95 {
			t.Errorf("a true share of %v fails the bound %v with a chance of %.2f only", c.broken, bound, chance)
		}
	}
}

// The noise shapes, with a standard deviation near 1.
var noiseShapes = []struct {
	name string
	draw func(*rand.Rand) float64
}{
	{"normal", func(g *rand.Rand) float64 { return g.NormFloat64() }},
	{"skew", func(g *rand.Rand) float64 { return g.ExpFloat64() }},
	{"bimodal", func(g *rand.Rand) float64 { // one in five misses a boost state
		if g.Float64() < 0.2 {
			return 0.5*g.NormFloat64() + 2
		}
		return 0.5 * g.NormFloat64()
	}},
	{"outlier", func(g *rand.Rand) float64 { // one in ten is hit by a long slowdown
		if g.Float64() < 0.1 {
			return 0.7*g.NormFloat64() + 3*g.ExpFloat64()
		}
		return 0.7 * g.NormFloat64()
	}},
}

// sitting is how simulated runs are laid out. Noise is 1 % of the value, half
// of its variance between sessions and half within, both of the shape; in
// blocks another 2 % are the block's own luck.
type sitting struct {
	blocks   int // 0: none
	sessions int // a side, or a side in each block
	runs     int // a session
	unlabel  bool
	step     float64 // readings are rounded to it; 0: not
	unit     string
	change   float64 // true, of the logarithm of after; times t are in s
	noise    float64 // 0: 1 %
}

// seconds is the change of the logarithm of a time that is shown as a loss of
// speed of the given size.
func seconds(loss float64) float64 { return -math.Log1p(-loss) }

// simulated draws n comparisons, a benchmark each.
func (s sitting) simulated(n int, draw func(*rand.Rand) float64, seed uint64) (before, after []*Series) {
	g := generator(seed)
	noise := s.noise
	if noise == 0 {
		noise = 0.01
	}
	share := math.Sqrt(0.5)
	if s.runs == 1 {
		share = 0
	}
	for i := range n {
		var sides [2]*Series
		for k := range sides {
			sides[k] = &Series{SeriesKey: SeriesKey{[2]string{factory, boost}[k], fmt.Sprint("scene-", i), DefaultMetric}, Unit: s.unit}
		}
		for b := range max(1, s.blocks) {
			luck := 0.0
			if s.blocks > 0 {
				luck = 0.02 * g.NormFloat64()
			}
			for k, side := range sides {
				for j := range s.sessions {
					own := share * draw(g)
					for range s.runs {
						v := 60 * math.Exp(luck+float64(k)*s.change+noise*(own+math.Sqrt(1-share*share)*draw(g)))
						if s.step > 0 {
							v = math.Round(v/s.step) * s.step
						}
						o := Observation{Value: v}
						if !s.unlabel {
							o.Session = fmt.Sprint(k, ".", b, ".", j)
						}
						if s.blocks > 0 {
							o.Block = fmt.Sprint(b)
						}
						side.Observations = append(side.Observations, o)
					}
				}
			}
		}
		before, after = append(before, sides[0]), append(after, sides[1])
	}
	return before, after
}

var uncorrected = Policy{Correction: NoCorrection}

// verdicts are those of Compare, each benchmark for itself, without planning:
// that changes none and takes most of the time (TestSimulationIsCompare).
func verdicts(t testing.TB, before, after []*Series, policy Policy) []*Result {
	t.Helper()
	c := &Comparison{Confidence: DefaultConfidence, Resamples: 1000, Seed: 1}
	if err := c.pairUp(before, after, policy, Options{}); err != nil {
		t.Fatal(err)
	}
	c.measure()
	for _, r := range c.Results {
		r.PAdjusted = r.PVerdict
		r.judge(c.Confidence)
	}
	return c.Results
}

func TestSimulationIsCompare(t *testing.T) {
	for _, s := range []sitting{{sessions: 5, runs: 3}, {sessions: 8, runs: 3, unlabel: true}, {blocks: 6, sessions: 1, runs: 2}, {blocks: 3, sessions: 2, runs: 1}} {
		s.unit, s.change = "s", 0.02
		before, after := s.simulated(5, noiseShapes[0].draw, 3)
		c, err := Compare(before, after, [2]string{factory, boost}, uncorrected, Options{Resamples: 1000, Seed: 1})
		if err != nil {
			t.Fatal(err)
		}
		planned := cmpopts.IgnoreFields(Result{}, "CanSettle", "MinSampleSize", "MaxConfidence", "BlindSpot", "Needed", "NeededFor", "Notes", "Among")
		if d := cmp.Diff(c.Results, verdicts(t, before, after, uncorrected), planned, cmpopts.IgnoreUnexported(Result{})); d != "" {
			t.Errorf("%+v: %s", s, d)
		}
	}
}

// false alarms and coverage of the true change.
func alarmsAndCoverage(results []*Result, change float64) (alarms, coverage float64) {
	for _, r := range results {
		if r.Real {
			alarms++
		}
		shown := r.display(change)
		if r.Interval != nil && r.Interval[0] <= shown && shown <= r.Interval[1] {
			coverage++
		}
	}
	n := float64(len(results))
	return alarms / n, coverage / n
}

func TestFalseAlarmsAndCoverage(t *testing.T) {
	t.Parallel()
	type cell struct {
		name string
		sitting
		shapes       int
		coverageOnly bool
	}
	cells := []cell{
		{"5 sessions of 3 runs", sitting{sessions: 5, runs: 3, unit: "s"}, 4, false},
		{"8 sessions of 3 runs", sitting{sessions: 8, runs: 3, unit: "s"}, 4, false},
		{"8 sessions of 3 runs, 0.5 % readings", sitting{sessions: 8, runs: 3, unit: "fps", step: 0.3}, 2, false},
		{"8 sessions of 3 runs, 3 % more", sitting{sessions: 8, runs: 3, unit: "s", change: 0.03}, 1, true},
		{"8 sessions of 3 runs, 3 % more fps", sitting{sessions: 8, runs: 3, unit: "fps", change: 0.03}, 1, true},
		{"6 blocks", sitting{blocks: 6, sessions: 1, runs: 3, unit: "s"}, 4, false},
		{"10 blocks", sitting{blocks: 10, sessions: 1, runs: 3, unit: "s"}, 4, false},
		{"3 blocks of 2 and 2 spells", sitting{blocks: 3, sessions: 2, runs: 3, unit: "s"}, 4, false},
		{"6 blocks of 2 and 2 spells", sitting{blocks: 6, sessions: 2, runs: 3, unit: "s"}, 4, false},
		{"6 blocks of 2 and 2 spells, 3 % more", sitting{blocks: 6, sessions: 2, runs: 3, unit: "s", change: 0.03}, 1, true},
	}
	n := repetitions()
	seed := uint64(0)
	for _, c := range cells {
		for _, shape := range noiseShapes[:c.shapes] {
			seed++
			before, after := c.simulated(n, shape.draw, seed)
			alarms, coverage := alarmsAndCoverage(verdicts(t, before, after, uncorrected), c.change)
			t.Logf("%s, %s: %.1f %% false alarms, covers %.1f %%", c.name, shape.name, 100*alarms, 100*coverage)
			if !c.coverageOnly && alarms > mostFalseAlarms+given(mostFalseAlarms, n) {
				t.Errorf("%s, %s: %.1f %% false alarms, promised are at most %v %%", c.name, shape.name, 100*alarms, 100*mostFalseAlarms)
			}
			if coverage < leastCoverage-given(leastCoverage, n) {
				t.Errorf("%s, %s: covers %.1f %%, promised are %v %%", c.name, shape.name, 100*coverage, 100*leastCoverage)
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
	t.Parallel()
	n := repetitions()
	for i, known := range []float64{0.157, 0.177} {
		s := sitting{sessions: []int{5, 8}[i], runs: 3, unit: "s", unlabel: true}
		before, after := s.simulated(n, noiseShapes[0].draw, uint64(100+i))
		alarms, _ := alarmsAndCoverage(verdicts(t, before, after, uncorrected), 0)
		t.Logf("%d sessions of 3 runs, pooled: %.1f %% false alarms", s.sessions, 100*alarms)
		if alarms < 0.10 && !raceEnabled {
			t.Errorf("%d sessions of 3 runs, pooled: %.1f %% false alarms only, known are %v %%", s.sessions, 100*alarms, 100*known)
		}
		if off := math.Abs(alarms - known); off > 0.01+3*math.Sqrt(known*(1-known)/float64(n)) {
			t.Errorf("%d sessions of 3 runs, pooled: %.1f %% false alarms, known are %v %%", s.sessions, 100*alarms, 100*known)
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
		n := 2 * repetitions() / c.thrift
		for i, noise := range c.noise {
			seed++
			s := sitting{sessions: c.size, runs: 1, unit: "fps", change: math.Log(0.995), noise: noise * 0.005}
			if i%2 == 1 { // the same loss of speed
				s.unit, s.change = "s", -s.change
			}
			before, after := s.simulated(n, noiseShapes[0].draw, seed)
			level := 0.0
			for _, r := range verdicts(t, before, after, uncorrected) {
				if *r.Verdict == Level {
					level += 1 / float64(n)
				}
			}
			shares = append(shares, level)
			t.Logf("%d and %d sessions, noise of %v tolerances, %s: %.1f %% level", c.size, c.size, noise, s.unit, 100*level)
			if level > mostFalseLevel+given(mostFalseLevel, n) {
				t.Errorf("%d and %d sessions, noise of %v tolerances: %.1f %% level, promised are at most %v %%", c.size, c.size, noise, 100*level, 100*mostFalseLevel)
			}
		}
		if last := len(shares) - 1; last > 2 && !raceEnabled {
			most := slices.Max(shares)
			if most == 0 || shares[0] == most || shares[last] == most {
				t.Errorf("%d and %d sessions: the worst noise is not met: %v", c.size, c.size, shares)
			}
		}
	}
}
