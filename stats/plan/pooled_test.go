package plan

import (
	"math"
	"testing"

	"tunegate/stats"
	"tunegate/stats/internal/statstest"
)

func TestPooledPlanNeedsSpread(t *testing.T) {
	for name, c := range map[string][]stats.Component{
		"one value": {{Before: []float64{1}, After: []float64{2, 3}, Weight: 1}, {Before: []float64{1, 2}, After: []float64{2, 3}, Weight: 1}},
		"constant":  {{Before: []float64{1, 1}, After: []float64{2, 2}, Weight: 1}},
	} {
		se, df := stats.PooledError(c)
		if spot, ok := New(Pooled(Estimate{1, se, df}, 2, len(c)), Design{0.95, 0.05, 0.8}).BlindSpot(0); ok {
			t.Errorf("%s: blind spot %v, want none", name, spot)
		}
	}
}

// The stated blind spot of a suite without sessions is caught about four times
// in five.
func TestPooledBlindSpotHolds(t *testing.T) {
	statstest.FullTier(t, "a simulation")
	design := Design{0.95, 0.05, 0.8}
	for _, tt := range []struct{ components, runs int }{{8, 3}, {6, 5}, {4, 10}} {
		g := statstest.Generator(uint64(tt.runs))
		caught, n := 0, 600
		if statstest.RaceEnabled {
			n = 100
		}
		for r := range n {
			side := func(loss float64) []stats.Component {
				c := make([]stats.Component, tt.components)
				for i := range c {
					before, after := statstest.Draw(g, "normal", tt.runs), statstest.Draw(g, "normal", tt.runs)
					c[i] = stats.Component{Before: before, After: statstest.Moved(after, 1, -loss), Weight: 1}
				}
				return c
			}
			pilot := side(0)
			se, df := stats.PooledError(pilot)
			lo, hi, _ := stats.PooledInterval(pilot, 0.95, planResamples, uint64(r))
			loss, ok := New(Pooled(Estimate{(hi - lo) / 2, se, df}, tt.runs, tt.components), design).BlindSpot(0)
			if !ok {
				t.Fatal("no blind spot")
			}
			if _, hi, ok := stats.PooledInterval(side(loss), 0.95, planResamples, uint64(r)); ok && hi < 0 {
				caught++
			}
		}
		share := float64(caught) / float64(n)
		t.Logf("%d of %d and %d: caught %.1f %%", tt.components, tt.runs, tt.runs, 100*share)
		if math.Abs(share-0.8) > 0.08+2*statstest.StandardError(0.8, n)*float64(map[bool]int{true: 1}[statstest.RaceEnabled]) {
			t.Errorf("%d of %d and %d: caught %.1f %%, want about 80 %%", tt.components, tt.runs, tt.runs, 100*share)
		}
	}
}
