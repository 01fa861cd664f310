package plan

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"tunegate/stats/internal/numeric"
)

// Settles returns the chance that a change which the pilot showed is settled once more
// values a side, or blocks, are added to the pilot: found real by the design, or held
// within the margin by the interval (0 for no margin). spread is the standard deviation
// of the added values over that of the pilot's. The chance is 0 where the pilot shows
// no spread, or where so many can settle nothing.
//
// It is a predictive chance that assumes nothing of the change and of the spread
// beforehand. With s the pilot's spread on f degrees of freedom, the true one is s / U,
// U the root of chi-square over f. Given it, the mean of n values and k more is normal
// around the mean d of the n,
//
//	d + k/(n + k) sqrt(v/n + w/k) Z
//
// v and w being the true variances of the pilot's and of the added values. The final
// spread rests on the pilot's and on g more degrees of freedom; its square is near
//
//	s^2 (f + g V / U^2) / (f + g)
//
// with V chi-square over g, and its root is taken as normal.
func (p Plan) Settles(seen, margin float64, more int, spread float64) float64 {
	m, n := p.pilot.N[0]+more, p.pilot.N[1]+more
	own := 1 - p.design.Confidence
	if !p.pilot.shows() || !p.pilot.reaches(m, n, own) {
		return 0
	}
	all, moved := p, 0.0 // all values together; the variance of how far those added move the mean
	for i, size := range p.pilot.N {
		variance, n, k := p.pilot.SD[i]*p.pilot.SD[i], float64(size), float64(more)
		all.pilot.SD[i] = math.Sqrt(variance * (n + k*spread*spread) / (n + k))
		if more > 0 && (i == 1 || !p.pilot.Paired) {
			moved += variance * (k*k/n + k*spread*spread) / ((n + k) * (n + k))
		}
	}
	c := all.comparison(m, n)
	real, level := c.t*c.se, p.pilot.ownT(m, n, own)*c.se
	share, g := 0.0, c.df-p.pilot.DF // of the final degrees of freedom that is added
	if g > 0 {
		share = g / c.df
	}
	seen = math.Abs(seen)
	chance := 0.0
	us := rootsOfChiSquare(p.pilot.DF)
	for _, u := range us {
		square := 1 - share + share/(u*u)                                // of the final spread over the expected one, on average
		variance := 2 * share * share / (u * u * u * u) / math.Max(g, 1) // of that
		final := math.Sqrt(square) * (1 - variance/(8*square*square))
		// below is the chance that the change ends below so many standard errors and an offset.
		below := func(errors, offset float64) float64 {
			sd := math.Sqrt(moved/(u*u) + errors*errors*variance/(4*square))
			if sd == 0 {
				sd = math.SmallestNonzeroFloat64
			}
			return numeric.NormalCDF((errors*final + offset - seen) / sd)
		}
		found := 1 - below(real, p.pilot.Widening) + below(-real, -p.pilot.Widening)
		if half := margin - p.pilot.Widening; margin > 0 && half > level*final {
			found += below(-level, half) - below(level, -half)
		}
		chance += math.Min(1, found)
	}
	return chance / float64(len(us))
}

// rootsOfChiSquare lists roots of chi-square over its degrees of freedom, at the
// middles of equally likely parts.
func rootsOfChiSquare(df float64) []float64 {
	if math.IsInf(df, 1) {
		return []float64{1}
	}
	return chiSquares.Get(df, func() []float64 {
		const parts = 32
		chi, out := distuv.ChiSquared{K: df}, make([]float64, parts)
		for i := range out {
			out[i] = math.Sqrt(chi.Quantile((float64(i)+0.5)/parts) / df)
		}
		return out
	})
}

var chiSquares = numeric.Memo[float64, []float64]{Max: 256}
