package stats

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"tunegate/stats/internal/numeric"
)

// StudentTest is the outcome of Student's one-sample test of differences.
type StudentTest struct {
	Mean  float64
	Error float64 // standard error of the mean; 0 where nothing shows it
	DF    float64
	T     float64 // Mean / Error; 0 where the error is
	P     float64 // two-sided; 1 where the error is 0
}

// Student tests whether the mean of differences is 0, for blocks too few for the
// signed-rank test: it rests on normal noise. The standard error is at least
// minError, as where rounded readings make differences equal. It panics when d is
// empty.
func Student(d []float64, minError float64) StudentTest {
	if len(d) == 0 {
		panic("stats: Student's test of no differences")
	}
	n := float64(len(d))
	t := StudentTest{Mean: numeric.Mean(d), DF: n - 1, P: 1}
	if n < 2 {
		return t
	}
	if t.Error = math.Max(math.Sqrt(numeric.Variance(d)/n), minError); t.Error > 0 {
		t.T = t.Mean / t.Error
		t.P = math.Min(1, 2*distuv.StudentsT{Sigma: 1, Nu: t.DF}.CDF(-math.Abs(t.T)))
	}
	return t
}

// Interval is Student's interval of the mean. ok is false where no standard error
// is known: below two differences, or where all are equal and no minError is given.
func (t StudentTest) Interval(confidence float64) (lo, hi float64, ok bool) {
	if t.Error == 0 {
		return math.NaN(), math.NaN(), false
	}
	half := numeric.StudentQuantile((1+confidence)/2, t.DF) * t.Error
	return t.Mean - half, t.Mean + half, true
}
