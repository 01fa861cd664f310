package check

import (
	"math"

	"tunegate/stats/internal/numeric"
)

// Outlier tests whether the value that lies farthest out is more than the tail
// of ordinary noise. Values are the distances of runs from the median of their
// session, so that what sessions differ by does not count; sessions of fewer than
// three are left out, and a single session is taken as it is. The score is the
// value's distance from the mean of the others, in their standard deviations,
// divided by 1 + g where the others are skewed (moment coefficient g > 0) towards
// it:
//
//	score = |x - mean| / (sd (1 + 1.25 max(0, g)))
//
// at is the index of the value with the largest score, counted through all
// sessions in order. p is the chance of so large a score among values of normal
// or of exponential noise, whichever is larger, in sessions of the same sizes,
// from a fixed seed, or from limitFrom values on from the limit (farLimit); it is
// at least 1 in 10,000.
//
// A limit for normal noise (the usual kind; Barnett and Lewis 1994, Outliers in
// Statistical Data, chapter 6), such as 3.5 of ModifiedZ, is passed by the
// natural tail of slowdowns in more than half of the series of 20; a limit for
// exponential noise would miss 6 standard deviations in normal noise. The
// division tells the two apart as far as the others show it. Score and factor
// were chosen by simulation among some twenty, for the same level in both
// noises and the most found in normal noise: at p 0.0125, 6 standard deviations
// in half of the series of 20 and nine of ten series of 60, hardly ever in 10.
// Tails heavier than exponential count as outliers.
//
// Two outliers on one side hide each other; TwoModes looks for those. Readings
// are rounded: the distance counts less one step, as of resolution, the standard
// deviation at least as that of the rounding, step/sqrt(12). So a single
// different value among equal ones is no outlier. It returns 0, 0 and 1 for fewer
// than four values and where no distance is above a step.
func Outlier(sessions [][]float64) (at int, score, p float64) {
	d := newDeviations(sessions)
	if len(d.value) < 4 {
		return 0, 0, 1
	}
	out, score := farthest(d.value, resolution(sessions...))
	if score == 0 {
		return 0, 0, 1
	}
	return d.at[out], score, d.p(score, farOut)
}

// skewWeight is how much of the others' skewness a far value is forgiven: of 1,
// 1.25 and 1.5 the one that finds most in 20 values of normal noise.
const skewWeight = 1.25

var farOut = &statistic{[2]noise{normalNoise, skewedNoise}, func(x, _ []float64) float64 { return farthestDrawn(x) }, farLimit}

// farLimit is the chance that the value farthest out reaches a score among n
// values of normal noise. With T(c) the chance that the largest of them is
// beyond c, and g the skewness of the others, the two ends give
//
//	1 - E (1 - T(score)) (1 - T(score (1 + 1.25 |g|)))
//
// since one of them is forgiven skewness and the other is not. g is normal with
// mean 0 and variance 6(n-2)/((n+1)(n+3)) (Fisher, Proceedings of the Royal
// Society A 130:16-28, 1930); T is 1 - F(c)^n, with c about as uncertain as the
// others' mean and standard deviation make it, variance (1 + score^2/2)/n. In
// exponential noise such scores are far rarer, since its skewness is forgiven
// (TestLimitsOfScores compares both).
func farLimit(score float64, n int) float64 {
	others := float64(n - 1)
	beyond := func(c float64) float64 {
		blur := math.Sqrt((1 + c*c/2) / others)
		return normalMean(9, func(z float64) float64 {
			return -math.Expm1(float64(n) * math.Log1p(-numeric.NormalCDF(-c-blur*z)))
		})
	}
	skew := math.Sqrt(6 * (others - 2) / ((others + 1) * (others + 3)))
	one := beyond(score)
	return 1 - (1-one)*(1-normalMean(24, func(z float64) float64 {
		return beyond(score * (1 + skewWeight*skew*math.Abs(z)))
	}))
}

// normalMean is the mean of f over standard normal values, by the midpoint
// rule with so many points (an even number keeps off a kink at 0).
func normalMean(points int, f func(z float64) float64) float64 {
	const reach = 4.5
	sum, weight := 0.0, 0.0
	for i := range points {
		z := reach * (2*(float64(i)+0.5)/float64(points) - 1)
		w := math.Exp(-z * z / 2)
		sum += w * f(z)
		weight += w
	}
	return sum / weight
}

// farthestDrawn is the score of farthest for drawn values, from sums over all
// of them, less the far one. It takes a third of the time; digits that cancel
// where one value is a million times as far out as the others need no care,
// since none of a noise is.
func farthestDrawn(x []float64) float64 {
	n := float64(len(x))
	low, high, sum := x[0], x[0], 0.0
	for _, v := range x {
		sum += v
		low, high = min(low, v), max(high, v)
	}
	centre := sum / n
	var squares, cubes float64
	for _, v := range x {
		d := v - centre
		squares += d * d
		cubes += d * d * d
	}
	score := 0.0
	for _, d := range [2]float64{low - centre, high - centre} {
		move := d / (n - 1) // by which the others' mean lies on the other side
		s2 := squares - d*d - (n-1)*move*move
		if !(s2 > 0) {
			continue
		}
		s3 := cubes - d*d*d + 3*move*(squares-d*d) - 2*d*move*move
		skew := s3 / s2 / math.Sqrt(s2/(n-1))
		if d < 0 {
			skew = -skew
		}
		distance := math.Abs(d) + math.Abs(move)
		score = math.Max(score, distance/(math.Sqrt(s2/(n-2))*(1+skewWeight*math.Max(0, skew))))
	}
	return score
}

// farthest returns the index and score of the smallest or the largest value,
// whichever has the larger score.
func farthest(x []float64, step float64) (at int, score float64) {
	low, high := 0, 0
	for i, v := range x {
		if v < x[low] {
			low = i
		}
		if v > x[high] {
			high = i
		}
	}
	at, score = low, farScore(x, low, step)
	if s := farScore(x, high, step); s > score {
		return high, s
	}
	return at, score
}

func farScore(x []float64, out int, step float64) float64 {
	others := float64(len(x) - 1)
	centre := 0.0
	for i, v := range x {
		if i != out {
			centre += (v - x[out]) / others // about the value itself, to keep digits
		}
	}
	var squares, cubes float64
	for i, v := range x {
		if i != out {
			d := v - x[out] - centre
			squares += d * d
			cubes += d * d * d
		}
	}
	sd := math.Max(math.Sqrt(squares/(others-1)), step/math.Sqrt(12))
	distance := math.Abs(centre) - step
	if distance <= 0 {
		return 0
	}
	skew := 0.0
	if squares > 0 {
		skew = cubes / others / math.Pow(squares/others, 1.5)
	}
	if centre > 0 { // the others lie above
		skew = -skew
	}
	return distance / (sd * (1 + skewWeight*math.Max(0, skew)))
}
