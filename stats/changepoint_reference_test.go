package stats_test

import (
	"math"
	"testing"

	"tunegate/stats"
	"tunegate/stats/internal/statstest"
)

// coin 1.4-2 in R 4.2.2 (maxstat_test on rank_trafo, every border allowed), made
// by fixtures/reference/changepoint.R. coin draws its p, 200,000 times.
func TestReferenceMaxRank(t *testing.T) {
	type maxRankCase struct {
		ID     string    `json:"id"`
		Sizes  []int     `json:"sizes"`
		Values []float64 `json:"values"`
		Z      float64   `json:"z"`
		At     int       `json:"at"`
		P      float64   `json:"p"`
		Draws  float64   `json:"draws"`
	}
	exact := 0
	for _, c := range statstest.Answers[maxRankCase](t, "changepoint.jsonl", 22) {
		var groups [][]float64
		x := c.Values
		for _, s := range c.Sizes {
			groups, x = append(groups, x[:s]), x[s:]
		}
		const resamples = 50_000
		got := stats.MaxRank(groups, resamples, 1)
		if got.At != c.At || !statstest.Near(math.Abs(got.Z), c.Z, 1e-12, 0) {
			t.Errorf("%s: |z| = %v at %d, want %v at %d", c.ID, math.Abs(got.Z), got.At, c.Z, c.At)
		}
		variance := got.P * (1 - got.P) / c.Draws
		if got.Exact {
			exact++
		} else {
			variance += got.P * (1 - got.P) / resamples
		}
		if off := math.Abs(got.P - c.P); off > 5*math.Sqrt(variance)+1.0/resamples {
			t.Errorf("%s: p = %v, want %v", c.ID, got.P, c.P)
		}
		// The level of the Nile at Aswan changed in 1898 (Cobb, Biometrika
		// 65:243-251, 1978), the 29th year being the first of the new level.
		if c.ID == "Nile" {
			if found := stats.ChangePoints(groups, 0.05, 10_000, 1); len(found) != 1 || 1871+found[0].At != 1899 || found[0].Z >= 0 {
				t.Errorf("the Nile: %+v", found)
			}
		}
	}
	if exact < 2 {
		t.Errorf("%d cases are counted exactly, want 2", exact)
	}
}
