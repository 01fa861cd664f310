package plan

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"tunegate/stats/internal/numeric"
)

// Pilot is what was measured in one layout.
type Pilot interface {
	// Spread is the standard deviation of what counts once; 0 where there is no
	// single one.
	Spread() float64
	// DF is on how many degrees of freedom the spread rests.
	DF() float64
	// Scaled is the same pilot with its values multiplied, turned where the factor
	// is negative.
	Scaled(factor float64) Pilot
	// MinSize is the smallest number of values a side, or of blocks, with which
	// the layout's test can reach alpha at all.
	MinSize(alpha float64) int

	// forecast is nil where the pilot does not show how far values spread.
	forecast(Design) forecast
}

// commonSpread is the standard deviation that counts for a comparison of two
// sides: the root of the mean of both variances.
func commonSpread(before, after []float64) float64 {
	return math.Sqrt((numeric.Variance(before) + numeric.Variance(after)) / 2)
}

func scaled(x []float64, factor float64) []float64 {
	out := make([]float64, len(x))
	for i, v := range x {
		out[i] = v * factor
	}
	return out
}

// SpreadRange returns by which factors a standard deviation from df degrees of
// freedom may be too large and too small, at the given confidence: the true
// one lies between lo and hi times it (chi-square interval of a variance, for
// normal noise).
func SpreadRange(df, confidence float64) (lo, hi float64) {
	chi := distuv.ChiSquared{K: df}
	return math.Sqrt(df / chi.Quantile((1+confidence)/2)), math.Sqrt(df / chi.Quantile((1-confidence)/2))
}

// NormalScores returns n values with mean 0 and exactly the given standard
// deviation, spread as normal ones are: a pilot for a stated spread.
func NormalScores(n int, sd float64) []float64 {
	x := make([]float64, n)
	for i := range x {
		x[i] = numeric.NormalQuantile((float64(i) + 0.625) / (float64(n) + 0.25)) // Blom's scores
	}
	unit := math.Sqrt(numeric.Variance(x))
	for i := range x {
		x[i] *= sd / unit
	}
	return x
}
