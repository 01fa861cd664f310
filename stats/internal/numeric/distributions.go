package numeric

import "gonum.org/v1/gonum/stat/distuv"

// NormalQuantile is the standard normal quantile.
func NormalQuantile(p float64) float64 { return distuv.UnitNormal.Quantile(p) }

// NormalCDF is the standard normal distribution function.
func NormalCDF(z float64) float64 { return distuv.UnitNormal.CDF(z) }

// StudentQuantile is Student's t quantile; df may be fractional.
func StudentQuantile(p, df float64) float64 {
	return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: df}.Quantile(p)
}

// Inside reports whether p lies strictly between 0 and 1.
func Inside(p float64) bool { return p > 0 && p < 1 }
