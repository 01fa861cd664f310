package numeric

import (
	"math"
	"testing"

	"tunegate/stats/internal/statstest"
)

func TestNoncentralTCDF(t *testing.T) { // R 4.2.2: pt with ncp
	type answer struct {
		DF  float64 `json:"df"`
		NCP float64 `json:"ncp"`
		T   float64 `json:"t"`
		P   float64 `json:"p"`
	}
	largest := 0.0
	for _, c := range statstest.Answers[answer](t, "noncentral-t.jsonl", 990) {
		got := NoncentralTCDF(c.T, c.DF, c.NCP)
		largest = math.Max(largest, math.Abs(got-c.P))
		if math.Abs(got-c.P) > 1e-10 {
			t.Errorf("df %v, ncp %v, t %v: %v, want %v", c.DF, c.NCP, c.T, got, c.P)
		}
	}
	t.Logf("largest difference %v", largest)
	if got, want := NoncentralTCDF(2.5, math.Inf(1), 1), NormalCDF(1.5); got != want {
		t.Errorf("of a known spread %v, want %v", got, want)
	}
}

func BenchmarkNoncentralTCDF(b *testing.B) {
	for range b.N {
		NoncentralTCDF(3.5, 12, 2.2)
	}
}
