package stats

import (
	"math"
	"math/rand/v2"
	"testing"
)

// Whole readings that spread by one to two steps, the true change anywhere
// within a step: without moving the ends out, coverage fell to 63 to 92 % at 30
// to 150 values a side. 400 comparisons a cell, standard error at 95 % 1.1
// points.
func TestCoarseReadingsAreCovered(t *testing.T) {
	repeats := 400
	if raceEnabled {
		repeats = 40
	}
	for _, noise := range []float64{1, 1.2, 2} {
		for _, n := range []int{15, 30, 60, 150} {
			g := rand.New(rand.NewPCG(17, uint64(n)))
			covered := 0
			for range repeats {
				at, change := 100*g.Float64(), 3*g.Float64()
				x, y := make([]float64, n), make([]float64, n)
				for i := range x {
					x[i] = math.Round(at + noise*g.NormFloat64())
					y[i] = math.Round(at + change + noise*g.NormFloat64())
				}
				in, ok := ChangeInterval(x, y, 0.95, 1000, 1)
				w := CoarseWidening(x, y, Tick(x, y))
				if ok && in.Lo-w <= change && change <= in.Hi+w {
					covered++
				}
			}
			share := float64(covered) / float64(repeats)
			t.Logf("noise of %.1f steps, %d and %d: %.1f %% covered", noise, n, n, 100*share)
			if share < 0.93-2*math.Sqrt(0.93*0.07/float64(repeats)) {
				t.Errorf("noise of %.1f steps, %d and %d: %.1f %% covered", noise, n, n, 100*share)
			}
		}
	}
}
