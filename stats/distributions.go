package stats

import "gonum.org/v1/gonum/stat/distuv"

func normalQuantile(p float64) float64 { return distuv.UnitNormal.Quantile(p) }

func normalCDF(z float64) float64 { return distuv.UnitNormal.CDF(z) }

// studentQuantile is Student's t quantile; df may be fractional.
func studentQuantile(p, df float64) float64 {
	return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: df}.Quantile(p)
}
