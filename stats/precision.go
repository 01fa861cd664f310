package stats

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// PrecisionSize returns how many values a side bring the interval's half-width
// down to the given one on average, in the unit of the values. Computed as for
// Needed; ok likewise.
func PrecisionSize(before, after []float64, halfWidth, confidence float64) (size int, ok bool) {
	if len(before) < 2 || len(after) < 2 || variance(before)+variance(after) == 0 || !(halfWidth > 0) {
		return 0, false
	}
	design := Design{Confidence: confidence, Alpha: 1 - confidence, Power: 0.5}
	plan := NewPlan(before, after, design)
	return smallestSize(max(2, FloorSize(design.bar())), func(n int) bool { return usualReach(plan.outlook(n, n)) <= halfWidth })
}

// BlocksPrecision is PrecisionSize for blocks of one difference each.
func BlocksPrecision(differences []float64, halfWidth, confidence float64) (blocks int, ok bool) {
	if len(differences) < 2 || variance(differences) == 0 || !(halfWidth > 0) {
		return 0, false
	}
	design := Design{Confidence: confidence, Alpha: 1 - confidence, Power: 0.5}
	floor := 1
	for SmallestSignedRankP(floor) > design.bar()+slack {
		floor++
	}
	see := signedRankOutlook(differences, design)
	return smallestSize(floor, func(n int) bool { return usualReach(see(n)) <= halfWidth })
}

// StrataPrecision is PrecisionSize for blocks of the pilot's usual shape.
func StrataPrecision(strata []Stratum, halfWidth, confidence float64) (blocks int, ok bool) {
	design := Design{Confidence: confidence, Alpha: 1 - confidence, Power: 0.5}
	see, floor, ok := stratifiedOutlook(strata, design)
	if !ok || !(halfWidth > 0) {
		return 0, false
	}
	return smallestSize(floor, func(n int) bool { return usualReach(see(n)) <= halfWidth })
}

// usualReach is the mean distance from the estimate to the region's end. In a
// cloud the spread of each repetition is uncertain; its median repetition is
// the one with the pilot's own.
func usualReach(o outlook) float64 {
	if c, ok := o.(closed); ok {
		return c.reach
	}
	return middle(sorted(o.(cloud).reach))
}

// SpreadRange returns by which factors a standard deviation from df degrees of
// freedom may be too large and too small, at the given confidence: the true
// one lies between lo and hi times it (chi-square interval of a variance, for
// normal noise).
func SpreadRange(df, confidence float64) (lo, hi float64) {
	chi := distuv.ChiSquared{K: df}
	return math.Sqrt(df / chi.Quantile((1+confidence)/2)), math.Sqrt(df / chi.Quantile((1-confidence)/2))
}

// Spread is the standard deviation that counts for a comparison of two sides:
// the root of the mean of both variances.
func Spread(before, after []float64) float64 {
	return math.Sqrt((variance(before) + variance(after)) / 2)
}

// NormalScores returns n values with mean 0 and exactly the given standard
// deviation, spread as normal ones are: a pilot for a spread that somebody
// states.
func NormalScores(n int, sd float64) []float64 {
	x := make([]float64, n)
	for i := range x {
		x[i] = normalQuantile((float64(i) + 0.625) / (float64(n) + 0.25)) // Blom's scores
	}
	unit := math.Sqrt(variance(x))
	for i := range x {
		x[i] *= sd / unit
	}
	return x
}

// ShiftedSuperiority is P(X < Y) for two normal samples of equal spread whose
// centres lie d standard deviations apart: Phi(d / sqrt(2)).
func ShiftedSuperiority(d float64) float64 { return normalCDF(d / math.Sqrt2) }
