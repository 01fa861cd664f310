package plan

import (
	"math"

	"tunegate/stats/internal/numeric"
)

// NoetherSize returns how many values each of two equal sides needs so that
// the two-sided rank test at alpha finds, with the given power, a difference
// under which a value of one side beats a value of the other with the chance
// pBetter (ties counted half):
//
//	n = (z(1 - alpha/2) + z(power))^2 / (6 (pBetter - 1/2)^2), rounded up
//
// (Noether, JASA 82:645-647, 1987). It is a formula for large samples and allows
// for neither the exact test nor the interval, as Plan.Size does. It returns 0
// where a million values a side would not do, so for pBetter = 1/2. It panics
// unless alpha and power lie within 0 and 1 and pBetter does or is one of them.
func NoetherSize(pBetter, alpha, power float64) int {
	if !(pBetter >= 0 && pBetter <= 1) || !numeric.Inside(alpha) || !numeric.Inside(power) {
		panic("plan: chance, alpha or power is no probability")
	}
	z := math.Max(0, numeric.NormalQuantile(1-alpha/2)+numeric.NormalQuantile(power))
	off := pBetter - 0.5
	size := math.Max(1, math.Ceil(z*z/(6*off*off)))
	if !(size <= maxPlanned) {
		return 0
	}
	return int(size)
}

// ShiftedSuperiority is P(X < Y) for two normal samples of equal spread whose
// centres lie d standard deviations apart: Phi(d / sqrt(2)).
func ShiftedSuperiority(d float64) float64 { return numeric.NormalCDF(d / math.Sqrt2) }
