package plan

import (
	"math"
	"testing"

	"tunegate/stats"
	"tunegate/stats/internal/numeric"
	"tunegate/stats/internal/statstest"
)

func TestNoetherPublished(t *testing.T) {
	// 44 a side for power 0.90 at alpha 0.05 and P(X < Y) = 0.3: Noether 1987,
	// as printed in the manual of the R package statpsych.
	for _, p := range []float64{0.3, 0.7} {
		if got := NoetherSize(p, 0.05, 0.9); got != 44 {
			t.Errorf("NoetherSize(%v, 0.05, 0.9) = %d, want 44", p, got)
		}
	}
}

// At the size given, the exact rank test finds two normal samples that lie as
// far apart as pBetter says in about the promised share.
func TestNoetherHolds(t *testing.T) {
	statstest.FullTier(t, "a simulation")
	for i, c := range []struct{ pBetter, power float64 }{{0.7, 0.9}, {0.75, 0.8}, {0.35, 0.8}} {
		n := NoetherSize(c.pBetter, 0.05, c.power)
		shift := math.Sqrt2 * numeric.NormalQuantile(c.pBetter) // P(X < Y) of two normals so far apart
		g := statstest.Generator(300 + uint64(i))
		repeats := 1500
		if statstest.RaceEnabled {
			repeats = 150
		}
		found := 0
		for range repeats {
			if stats.MannWhitney(statstest.Draw(g, "normal", n), statstest.Moved(statstest.Draw(g, "normal", n), 1, shift)).P <= 0.05 {
				found++
			}
		}
		if share := float64(found) / float64(repeats); math.Abs(share-c.power) > 0.02+3*statstest.StandardError(c.power, repeats) {
			t.Errorf("%d a side find P(X < Y) = %v in %.1f %%, want about %v %%", n, c.pBetter, 100*share, 100*c.power)
		}
	}
}

func TestNoetherEdges(t *testing.T) {
	for _, p := range []float64{0.5, 0.5 + 1e-4, 0.5 - 1e-200} {
		if got := NoetherSize(p, 0.05, 0.8); got != 0 {
			t.Errorf("NoetherSize(%v) = %d, want 0: a million would not do", p, got)
		}
	}
	if got := NoetherSize(1, 0.9, 0.01); got != 1 { // found by chance alone
		t.Errorf("size = %d for a power below alpha, want 1", got)
	}
	for _, c := range [][3]float64{{-0.1, 0.05, 0.8}, {1.1, 0.05, 0.8}, {0.3, 0, 0.8}, {0.3, 1, 0.8},
		{0.3, 0.05, 0}, {0.3, 0.05, 1}, {math.NaN(), 0.05, 0.8}} {
		if !statstest.Panics(func() { NoetherSize(c[0], c[1], c[2]) }) {
			t.Errorf("NoetherSize%v does not panic", c)
		}
	}
}
