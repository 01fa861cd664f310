package stats_test

import (
	"testing"

	"tunegate/stats"
	"tunegate/stats/internal/statstest"
)

// SciPy 1.10.1 (integrate.trapezoid) and NumPy 1.24.2 (quantile, inverted_cdf),
// made by fixtures/reference/overtime.py.
func TestReferenceOverTime(t *testing.T) {
	type overTimeCase struct {
		Times     []float64 `json:"times"`
		Values    []float64 `json:"values"`
		Weights   []float64 `json:"weights"`
		Integral  float64   `json:"integral"`
		Shares    []float64 `json:"shares"`
		Quantiles []float64 `json:"quantiles"`
	}
	for i, c := range statstest.Answers[overTimeCase](t, "overtime.jsonl", 60) {
		var sum stats.Trapezoid
		var q stats.WeightedQuantiles
		for k, v := range c.Values {
			if k > 0 {
				sum.Add(c.Times[k]-c.Times[k-1], c.Values[k-1], v)
			}
			q.Add(v, c.Weights[k])
		}
		if !statstest.Near(sum.Integral(), c.Integral, 1e-12, 1e-12) {
			t.Errorf("case %d: integral %v, want %v", i, sum.Integral(), c.Integral)
		}
		for k, p := range c.Shares {
			if got, off := q.Quantile(p); got != c.Quantiles[k] || off != 0 {
				t.Errorf("case %d: %v-quantile %v within %v, want %v", i, p, got, off, c.Quantiles[k])
			}
		}
	}
}
