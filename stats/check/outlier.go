package check

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"tunegate/stats/internal/numeric"
)

// Outlier tests whether the value that lies farthest out is more than the tail
// of ordinary noise. Values are the distances of runs from the median of their
// session, so that what sessions differ by does not count; sessions of fewer than
// three are left out, and a single session is taken as it is. The score is the
// value's distance from the mean of the others, in their standard deviations,
// divided by what the others show of a long tail: their skewness g towards it
// (moment coefficient) and their excess kurtosis k, where they are above 0:
//
//	score = |x - mean| / (sd (1 + 1.25 max(0, g) + 0.8 max(0, k)))
//
// at is the index of the value with the largest score, counted through all
// sessions in order. p is the chance of so large a score among values of normal,
// of exponential or of Student's t noise with 5 degrees of freedom, whichever is
// largest, in sessions of the same sizes, from a fixed seed; it is at least 1 in
// 10,000. From limitFrom values on the score is the distance from the median over
// that of the second-farthest value, and p its limit (ratioLimit).
//
// A limit for normal noise (the usual kind; Barnett and Lewis 1994, Outliers in
// Statistical Data, chapter 6), such as 3.5 of ModifiedZ, is passed by the
// natural tail of slowdowns in more than half of the series of 20. A limit for
// normal and exponential noise is passed by Student's t in 3, 12 and 23 % of the
// series of 20, 40 and 60 where 1.25 % are promised. What holds in all three finds
// less: at p 0.0125, 6 standard deviations in normal noise in 22, 28 and 21 % of
// the series of 20, 40 and 60 and 10 standard deviations in 75, 84 and 83 %; in 10
// runs hardly ever. Score and factors were chosen by simulation among some thirty
// (ratios of the farthest values, Hill's estimate of the tail, the sum of sd and the
// second-farthest): of equal level in all three noises those that find most.
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
	step := resolution(sessions...)
	if d.long() {
		if at, score = farRatio(d.value, step); score == 0 {
			return 0, 0, 1
		}
		return d.at[at], score, limited(ratioLimit(score, len(d.value)))
	}
	out, score := farthest(d.value, step)
	if score == 0 {
		return 0, 0, 1
	}
	return d.at[out], score, d.p(score, farOut)
}

// skewWeight and tailWeight are how much of the others' skewness and excess
// kurtosis a far value is forgiven.
const (
	skewWeight = 1.25
	tailWeight = 0.8
)

// forgiven is by how much a distance in standard deviations is divided, given the
// others' skewness towards it and their kurtosis less 3.
func forgiven(skew, excess float64) float64 {
	return 1 + skewWeight*math.Max(0, skew) + tailWeight*math.Max(0, excess)
}

var farOut = &statistic{[]noise{heavyNoise, skewedNoise, normalNoise}, func(x, _ []float64) float64 { return farthestDrawn(x) }}

// farRatio is the distance of the farthest value from the median over that of the
// second-farthest, which counts at least as one step.
func farRatio(x []float64, step float64) (at int, ratio float64) {
	middle := numeric.Middle(numeric.Sorted(x))
	first, second := 0.0, 0.0
	for i, v := range x {
		switch d := math.Abs(v - middle); {
		case d > first:
			at, first, second = i, d, first
		case d > second:
			second = d
		}
	}
	if second = math.Max(second, step); second == 0 || first <= step {
		return 0, 0
	}
	return at, (first - step) / second
}

// ratioLimit is the chance that the ratio of the two farthest of n values of
// Student's t noise is at least r. With S(y) = P(|T| > y),
//
//	E S(r Y) / S(Y),   S(Y) ~ Beta(2, n-1)
//
// over the second-farthest Y (an order statistic; David and Nagaraja 2003, Order
// Statistics, section 2.1), by the midpoint rule over quantiles. For so many values
// the tails of normal and of exponential noise are shorter, so that their p is smaller
// (TestLimitsOfScores compares them).
func ratioLimit(r float64, n int) float64 {
	if r <= 1 {
		return 1
	}
	sum, seconds := 0.0, heavySeconds.Get(n, func() []tailPoint { return tailPoints(1, n, 32, 2) })
	for _, at := range seconds {
		sum += 2 * heavyTail.CDF(-r*at.y) / at.beyond
	}
	return sum / float64(len(seconds))
}

// heavyTail is the distribution of the heavy-tailed noise.
var heavyTail = distuv.StudentsT{Mu: 0, Sigma: 1, Nu: heavyDF}

// tailPoint is a value y of that noise, and the chance of one beyond it: on one end, or
// of both.
type tailPoint struct{ y, beyond float64 }

// tailPoints are the value below the j largest of n, or the j farthest on both ends, at so
// many quantiles of its distribution (the midpoint rule).
func tailPoints(j, n, points, ends int) []tailPoint {
	below := distuv.Beta{Alpha: float64(j + 1), Beta: float64(n - j)}
	out := make([]tailPoint, points)
	for i := range out {
		beyond := below.Quantile((float64(i) + 0.5) / float64(points))
		out[i] = tailPoint{-heavyTail.Quantile(beyond / float64(ends)), beyond}
	}
	return out
}

var heavySeconds = numeric.Memo[int, []tailPoint]{Max: 64}

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
	var squares, cubes, fourths float64
	for _, v := range x {
		d := v - centre
		squares += d * d
		cubes += d * d * d
		fourths += d * d * d * d
	}
	score := 0.0
	for _, d := range [2]float64{low - centre, high - centre} {
		m := -d / (n - 1) // the mean of the others
		q2, q3, q4 := squares-d*d, cubes-d*d*d, fourths-d*d*d*d
		s2 := q2 - (n-1)*m*m
		if !(s2 > 0) {
			continue
		}
		s3 := q3 - 3*m*q2 + 2*(n-1)*m*m*m
		s4 := q4 - 4*m*q3 + 6*m*m*q2 - 3*(n-1)*m*m*m*m
		skew := s3 / s2 / math.Sqrt(s2/(n-1))
		if d < 0 {
			skew = -skew
		}
		score = math.Max(score, (math.Abs(d)+math.Abs(m))/(math.Sqrt(s2/(n-2))*forgiven(skew, (n-1)*s4/(s2*s2)-3)))
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
	var squares, cubes, fourths float64
	for i, v := range x {
		if i != out {
			d := v - x[out] - centre
			squares += d * d
			cubes += d * d * d
			fourths += d * d * d * d
		}
	}
	sd := math.Max(math.Sqrt(squares/(others-1)), step/math.Sqrt(12))
	distance := math.Abs(centre) - step
	if distance <= 0 {
		return 0
	}
	skew, excess := 0.0, 0.0
	if squares > 0 {
		skew = cubes / others / math.Pow(squares/others, 1.5)
		excess = fourths*others/(squares*squares) - 3
	}
	if centre > 0 { // the others lie above
		skew = -skew
	}
	return distance / (sd * forgiven(skew, excess))
}
