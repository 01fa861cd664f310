package stats

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"

	"tunegate/stats/internal/statstest"
)

func TestPassesPublished(t *testing.T) {
	// Success-run theorem, n = ln(1-C) / ln(R) rounded up: 59 for 95 %
	// reliability and 299 for 99 %, each at 95 % confidence.
	for rate, want := range map[float64]int{0.05: 59, 0.01: 299} {
		if got := CleanPasses(rate, 0.95); got != want {
			t.Errorf("CleanPasses(%v, 0.95) = %d, want %d", rate, got, want)
		}
	}
	// Rule of three: without a failure in n passes the rate is below 3/n at 95 %
	// confidence (Hanley and Lippman-Hand 1983); 2.9957 in the limit.
	for _, n := range []int{30, 100, 1000, 100_000} {
		got := UpperBound(0, n, 0.95)
		if got > 3/float64(n) || got < 2.85/float64(n) {
			t.Errorf("UpperBound(0, %d) = %v, want a little below 3/n = %v", n, got, 3/float64(n))
		}
	}
	// 682 of 925 at 95 %: 0.7076683 to 0.7654066, as R's help on binom.test
	// prints it (run in R 4.2.2; all digits in advise-passes.jsonl).
	if lo, hi := ClopperPearson(682, 925, 0.95); math.Abs(lo-0.7076683) > 5e-8 || math.Abs(hi-0.7654066) > 5e-8 {
		t.Errorf("682 of 925: [%.7f, %.7f], want [0.7076683, 0.7654066]", lo, hi)
	}
}

// What an exact interval promises, checked without simulation: at every true
// rate the outcomes whose interval covers it have at least the confidence.
func TestClopperPearsonCovers(t *testing.T) {
	for _, n := range []int{1, 2, 5, 20, 59} {
		for _, confidence := range []float64{0.8, 0.95} {
			for rate := 0.0025; rate < 1; rate += 0.005 {
				b := distuv.Binomial{N: float64(n), P: rate}
				both, upper := 0.0, 0.0
				for f := range n + 1 {
					if lo, hi := ClopperPearson(f, n, confidence); lo <= rate && rate <= hi {
						both += b.Prob(float64(f))
					}
					if rate <= UpperBound(f, n, confidence) {
						upper += b.Prob(float64(f))
					}
				}
				if both < confidence-1e-9 || upper < confidence-1e-9 {
					t.Fatalf("n = %d, rate %v: covered with %v on both sides, %v above, promised %v", n, rate, both, upper, confidence)
				}
			}
		}
	}
}

// One clean pass fewer would not prove the claim.
func TestCleanPassesIsLeast(t *testing.T) {
	for _, rate := range []float64{0.5, 0.3, 0.03, 0.01, 1e-4} {
		for _, confidence := range []float64{0.5, 0.8, 0.95, 0.999} {
			n := CleanPasses(rate, confidence)
			if bound := UpperBound(0, n, confidence); bound > rate*(1+1e-9) {
				t.Errorf("%d clean passes leave %v at %v, claimed %v", n, bound, confidence, rate)
			}
			if n > 1 {
				if bound := UpperBound(0, n-1, confidence); bound <= rate {
					t.Errorf("%d clean passes do for %v at %v, one less than said", n-1, rate, confidence)
				}
			}
		}
	}
}

func TestPassesEdges(t *testing.T) {
	if lo, hi := ClopperPearson(0, 0, 0.95); lo != 0 || hi != 1 {
		t.Errorf("no pass: [%v, %v], want [0, 1]", lo, hi)
	}
	if got := UpperBound(0, 0, 0.95); got != 1 {
		t.Errorf("no pass: bound %v, want 1", got)
	}
	if got := UpperBound(7, 7, 0.95); got != 1 {
		t.Errorf("all failed: bound %v, want 1", got)
	}
	for _, f := range []func(){
		func() { ClopperPearson(-1, 5, 0.95) }, func() { ClopperPearson(6, 5, 0.95) }, func() { ClopperPearson(1, 5, 0) },
		func() { ClopperPearson(1, 5, 1) }, func() { UpperBound(1, 0, 0.95) }, func() { UpperBound(1, 5, math.NaN()) },
		func() { CleanPasses(0, 0.95) }, func() { CleanPasses(1, 0.95) }, func() { CleanPasses(0.1, 0) }, func() { CleanPasses(0.1, 1) },
	} {
		if !statstest.Panics(f) {
			t.Error("bad counts or confidence, no panic")
		}
	}
}
