package numeric

import "math"

// NoncentralTCDF is the distribution function of Student's noncentral t with df
// degrees of freedom, which may be fractional, and noncentrality ncp: the chance
// of (Z + ncp) / U <= t for a normal Z and U the root of chi-square over df,
//
//	E Phi(t U - ncp)
//
// by the trapezoidal rule over ln U. Its error falls exponentially with the step
// where the integrand is smooth and vanishes at both ends (Trefethen and Weideman,
// SIAM Review 56:385-458, 2014); it stays below 1e-10 for df from 1 on. AS 243
// (Lenth, Applied Statistics 38:185-189, 1989), a series, fails at large ncp.
func NoncentralTCDF(t, df, ncp float64) float64 {
	if math.IsInf(df, 1) {
		return NormalCDF(t - ncp)
	}
	// The step is fine for the density of ln U, whose standard deviation is near
	// 1/sqrt(2 df), and for Phi, which rises over 1/ncp in ln U.
	step := math.Min(0.13, 0.6/math.Sqrt(2*df+ncp*ncp))
	const negligible = -27 // e^-27 is 2e-12
	sum, total := NormalCDF(t-ncp), 1.0
	for _, by := range []float64{step, -step} {
		factor, y, u := math.Exp(by), by, 1.0
		for {
			u *= factor
			logDensity := df * (y - (u*u-1)/2) // over that of U = 1
			if logDensity < negligible {
				break
			}
			w := math.Exp(logDensity)
			total += w
			sum += w * NormalCDF(t*u-ncp)
			y += by
		}
	}
	return sum / total
}
