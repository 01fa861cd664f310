package stats

import (
	"math"
	"testing"

	"tunegate/stats/internal/numeric"
	"tunegate/stats/internal/statstest"
)

// steppedInterval is the interval of readings in steps of one, as package
// compare makes it, but for 0 where the test keeps it.
func steppedInterval(x, y []float64, seed uint64) (in Interval, ok bool) {
	steps, b, a := Resolutions(x, y), x, y
	if numeric.Variance(x) > 0 && numeric.Variance(y) > 0 {
		b = SpreadTies(x, func(float64) float64 { return steps[0] })
		a = SpreadTies(y, func(float64) float64 { return steps[1] })
	}
	in, ok = ChangeInterval(b, a, 0.95, simulatedResamples, seed)
	in = in.Including(HodgesLehmann(x, y))
	w := RoundingAllowance(x, y, steps)
	return Interval{in.Lo - w, in.Hi + w, in.Placements}, ok
}

// Whole readings, the true change anywhere within a step: coverage, and the
// width over that of the unrounded values. Without spreading them over their
// steps, or moving the ends out, coverage falls to 30 to 90 % from 30 values a
// side on. 300 comparisons a cell, standard error at 95 % 1.3 points.
func TestCoarseReadingsAreCovered(t *testing.T) {
	statstest.FullTier(t, "a simulation")
	repeats := 300
	if statstest.RaceEnabled {
		repeats = 30
	}
	for i, shape := range statstest.ShapeNames {
		for _, noise := range []float64{0.2, 0.5, 0.7, 1} {
			for _, n := range []int{5, 15, 60} {
				g := statstest.Generator(1700 + uint64(100*i+n))
				var covered, width, fine float64
				for r := range repeats {
					at, change := 100*g.Float64(), 5+3*g.Float64()
					x, y := statstest.Moved(statstest.Draw(g, shape, n), noise, at), statstest.Moved(statstest.Draw(g, shape, n), noise, at+change)
					unrounded, _ := ChangeInterval(x, y, 0.95, simulatedResamples, uint64(r))
					fine += unrounded.Hi - unrounded.Lo
					in, ok := steppedInterval(statstest.Rounded(x, 1), statstest.Rounded(y, 1), uint64(r))
					width += in.Hi - in.Lo
					if ok && in.Lo <= change && change <= in.Hi {
						covered++
					}
				}
				share := covered / float64(repeats)
				t.Logf("%-8s noise of %.1f steps, %d and %d: %.1f %% covered, %.2f times as wide", shape, noise, n, n, 100*share, width/fine)
				if share < 0.93-2*math.Sqrt(0.93*0.07/float64(repeats)) {
					t.Errorf("%s, noise of %.1f steps, %d and %d: %.1f %% covered", shape, noise, n, n, 100*share)
				}
				if noise >= 1 && width > 1.6*fine {
					t.Errorf("%s, noise of %.1f steps, %d and %d: %.2f times as wide as unrounded values have it", shape, noise, n, n, width/fine)
				}
			}
		}
	}
}
