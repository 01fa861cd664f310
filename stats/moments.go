package stats

import "math"

// Moments are the number of values, their mean and the sum of squares about it. The zero
// value is that of no values.
type Moments struct{ N, Mean, Squares float64 }

// MomentsOf are those of n values with a mean and a standard deviation.
func MomentsOf(n, mean, deviation float64) Moments {
	return Moments{n, mean, (n - 1) * deviation * deviation}
}

// LognormalMoments are those of n values of a lognormal distribution, from their
// geometric mean and the standard deviation of their logarithms.
func LognormalMoments(n, geometric, deviation float64) Moments {
	variance := deviation * deviation
	mean := geometric * math.Exp(variance/2)
	return MomentsOf(n, mean, mean*math.Sqrt(math.Expm1(variance)))
}

// Join gives the moments of both groups of values together (Chan, Golub and LeVeque,
// The American Statistician 37:242-247, 1983). One of them must have a value.
func (a Moments) Join(b Moments) Moments {
	n, d := a.N+b.N, b.Mean-a.Mean
	return Moments{n, a.Mean + d*b.N/n, a.Squares + b.Squares + d*d*a.N*b.N/n}
}

// StdDev is the standard deviation of the values as a sample; 0 for fewer than two.
func (a Moments) StdDev() float64 { return math.Sqrt(a.Squares / math.Max(1, a.N-1)) }
