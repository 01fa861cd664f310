package stats

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"tunegate/stats/internal/numeric"
	"tunegate/stats/internal/statstest"
)

// What is promised at a nominal 95 and 5 %: intervals cover the true change in
// at least 93 % of repetitions, and no more than 6 % of those without a change
// are called real.
const (
	minCoverage    = 0.93
	maxFalseAlarms = 0.06
)

// repetitions are so many that a promise broken by 2 points shows: at 2,000
// the standard error is 0.57 points of coverage and 0.53 of false alarms. The
// bounds below give one of it away, so that a true coverage of 91 % or 8 % of
// false alarms fail in 19 of 20 choices of seeds (TestSimulationCanFail). Under
// the race detector there are fewer, and two standard errors are given away.
func repetitions() (n int, given float64) {
	if statstest.RaceEnabled {
		return 200, 2
	}
	return 2000, 1
}

// try simulates one comparison: whether the interval covered the true change,
// and whether one without a change was called real.
type try func(g *rand.Rand, seed uint64) (covered, alarm bool)

// simulate counts over repetitions with a fixed seed.
func simulate(try try, n int, seed uint64) (coverage, alarms float64) {
	g := statstest.Generator(seed)
	for r := range n {
		covered, alarm := try(g, uint64(r))
		if covered {
			coverage++
		}
		if alarm {
			alarms++
		}
	}
	return coverage / float64(n), alarms / float64(n)
}

const simulatedResamples = 1000

// independent compares values of two sides. With the true change taken off
// the side after, what is left is a comparison without a change.
func independent(before, after func(*rand.Rand) []float64, change float64) try {
	return func(g *rand.Rand, seed uint64) (covered, alarm bool) {
		x, y := before(g), statstest.Moved(after(g), 1, -change)
		in, ok := ChangeInterval(x, y, 0.95, simulatedResamples, seed)
		covered = ok && in.Lo <= 0 && in.Hi >= 0
		return covered, ok && !covered && MannWhitney(x, y).PUsed <= 0.05+numeric.Slack
	}
}

func sample(shape string, n int, scale float64) func(*rand.Rand) []float64 {
	return func(g *rand.Rand) []float64 { return statstest.Moved(statstest.Draw(g, shape, n), scale, 0) }
}

// coarse reads values on a grid of whole numbers, noise 0.2 of a tick, true
// values and true change anywhere in a tick.
func coarse(shape string, n int) try {
	return func(g *rand.Rand, seed uint64) (covered, alarm bool) {
		side := func(level float64) []float64 {
			return statstest.Rounded(statstest.Moved(statstest.Draw(g, shape, n), 0.2, level), 1)
		}
		level, change := 60+g.Float64(), g.Float64()
		within := func(x, y []float64, change float64) bool {
			in, ok := steppedInterval(x, y, seed)
			return ok && in.Lo <= change && change <= in.Hi
		}
		x := side(level)
		y := side(level)
		return within(x, side(level+change), change), !within(x, y, 0) && MannWhitney(x, y).PUsed <= 0.05+numeric.Slack
	}
}

// signedRankBlocks compares one spell a side in each block; the block's own
// luck falls out of its difference.
func signedRankBlocks(shape string, blocks int) try {
	return func(g *rand.Rand, _ uint64) (covered, alarm bool) {
		d := make([]float64, blocks)
		for b := range d {
			luck := g.NormFloat64()
			d[b] = (luck + statstest.Shapes[shape](g)) - (luck + statstest.Shapes[shape](g))
		}
		lo, hi, ok := SignedRankInterval(d, 0.95)
		covered = ok && lo <= 0 && hi >= 0
		return covered, ok && !covered && SignedRank(d).PUsed <= 0.05+numeric.Slack
	}
}

// differing compares one spell a side in each block, by a change that differs from
// block to block with the given standard deviation, with noise of 1 and a mean of 0.
func differing(shape string, blocks int, sd float64) try {
	return func(g *rand.Rand, _ uint64) (covered, alarm bool) {
		d := make([]float64, blocks)
		for b := range d {
			d[b] = sd*g.NormFloat64() + statstest.Shapes[shape](g) - statstest.Shapes[shape](g)
		}
		p := SignedRank(d).PUsed
		lo, hi, ok := SignedRankInterval(d, 0.95)
		if !ok {
			test := Student(d, 0)
			p = test.P
			lo, hi, ok = test.Interval(0.95)
		}
		covered = ok && lo <= 0 && hi >= 0
		return covered, ok && !covered && p <= 0.05+numeric.Slack
	}
}

func TestPromises(t *testing.T) {
	statstest.FullTier(t, "a simulation")
	type cell struct {
		name string
		try  try
	}
	var cells []cell
	for i, shape := range statstest.ShapeNames {
		add := func(what string, try try) { cells = append(cells, cell{shape + " " + what, try}) }
		for _, size := range [][2]int{{5, 5}, {8, 8}, {15, 15}, {15, 4}, {20, 5}} {
			add(fmt.Sprintf("%d and %d", size[0], size[1]),
				independent(sample(shape, size[0], 1), sample(shape, size[1], 1), 0))
		}
		// The 5 are the noisy ones. The true change is the median difference of
		// two such values, here of 50,000 each.
		g := statstest.Generator(60 + uint64(i))
		change := HodgesLehmann(statstest.Draw(g, shape, 50_000), statstest.Moved(statstest.Draw(g, shape, 50_000), 2, 0))
		add("10 and 5, spreads 1:2", independent(sample(shape, 10, 1), sample(shape, 5, 2), change))
		for _, n := range []int{5, 8, 15} {
			add(fmt.Sprintf("coarse, %d and %d", n, n), coarse(shape, n))
		}
		for _, blocks := range []int{6, 10} {
			add(fmt.Sprintf("%d blocks", blocks), signedRankBlocks(shape, blocks))
		}
		for _, blocks := range []int{2, 3, 5, 6, 10} {
			for _, sd := range []float64{0, 1, 2} {
				add(fmt.Sprintf("%d blocks, changes that differ by %v", blocks, sd), differing(shape, blocks, sd))
			}
		}
	}
	n, given := repetitions()
	for i, c := range cells {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			coverage, alarms := simulate(c.try, n, 100+uint64(i))
			t.Logf("covers %.1f %%, false alarms %.1f %%", 100*coverage, 100*alarms)
			if coverage < minCoverage-given*statstest.StandardError(minCoverage, n) {
				t.Errorf("covers %.1f %%, promised are %v %%", 100*coverage, 100*minCoverage)
			}
			if alarms > maxFalseAlarms+given*statstest.StandardError(maxFalseAlarms, n) {
				t.Errorf("%.1f %% false alarms, promised are at most %v %%", 100*alarms, 100*maxFalseAlarms)
			}
		})
	}
}

// meanPercentile is the plain percentile bootstrap interval of the difference
// of means, which covers too little in small samples.
func meanPercentile(x, y []float64, g *rand.Rand) (lo, hi float64) {
	estimates := make([]float64, simulatedResamples)
	average := func(x []float64) float64 {
		sum := 0.0
		for range x {
			sum += x[g.IntN(len(x))]
		}
		return sum / float64(len(x))
	}
	for r := range estimates {
		estimates[r] = average(y) - average(x)
	}
	cut := simulatedResamples / 40
	return numeric.SelectKth(estimates, cut), numeric.SelectKth(estimates, simulatedResamples-1-cut)
}

// The simulation must tell a bad interval from a good one: the same harness,
// an interval that is known to fall short. At 5 and 5 values of normal noise it
// reaches nearly as far as 1.96 plug-in standard errors, sqrt(4/5) of unbiased
// ones, which by Student's t on 8 degrees of freedom cover 88 %; a study of
// 2,000 repetitions before this package was written found 86.2 to 86.9 % in
// these four shapes.
func TestSimulationCanFail(t *testing.T) {
	statstest.FullTier(t, "a simulation")
	n, given := repetitions()
	for i, shape := range statstest.ShapeNames {
		coverage, _ := simulate(func(g *rand.Rand, _ uint64) (bool, bool) {
			lo, hi := meanPercentile(statstest.Draw(g, shape, 5), statstest.Draw(g, shape, 5), g)
			return lo <= 0 && hi >= 0, false
		}, n, 200+uint64(i))
		t.Logf("%s: the percentile interval of the mean covers %.1f %%", shape, 100*coverage)
		if bound := minCoverage - given*statstest.StandardError(minCoverage, n); coverage >= bound {
			t.Errorf("%s: %.1f %% pass for the promised %v %%", shape, 100*coverage, 100*minCoverage)
		}
		if math.Abs(coverage-0.87) > 0.015+2*statstest.StandardError(0.87, n) {
			t.Errorf("%s: covers %.1f %%, known is about 87 %%", shape, 100*coverage)
		}
	}
	if statstest.RaceEnabled {
		return
	}
	// The chance that a promise broken by 2 points fails the bound, counts being
	// near enough to normal.
	for _, c := range []struct{ broken, bound float64 }{
		{minCoverage - 0.02, minCoverage - given*statstest.StandardError(minCoverage, n)},
		{maxFalseAlarms + 0.02, maxFalseAlarms + given*statstest.StandardError(maxFalseAlarms, n)},
	} {
		if p := numeric.NormalCDF(math.Abs(c.bound-c.broken) / statstest.StandardError(c.broken, n)); p < 0.95 {
			t.Errorf("a true share of %v fails the bound %v with a chance of %.2f only", c.broken, c.bound, p)
		}
	}
}
