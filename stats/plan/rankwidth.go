package plan

import (
	"math"

	"tunegate/stats"
	"tunegate/stats/internal/numeric"
)

// rankWidth is the half-width of the joined region in standard errors of a
// normal sample: what the test needs at Alpha, or the interval at Confidence
// with two sides of equal spread.
func rankWidth(m, n int, design Design) float64 {
	mn := float64(m) * float64(n)
	limit := mn*float64(min(m, n)) >= 200_000 // near enough from some 60 a side
	interval := inversionWidths.Get(widthKey{m, n, design.Confidence}, func() float64 {
		width := math.Sqrt(equalSpreadRatio(m, n, design.Confidence))
		if limit {
			return width * numeric.NormalQuantile((1+design.Confidence)/2)
		}
		return width * inversionReach(m, n, design.Confidence) / math.Sqrt(mn*float64(m+n+1)/12)
	})
	if limit {
		return math.Max(numeric.NormalQuantile(1-design.Alpha/2), interval)
	}
	test := (mn/2 - float64(stats.RankCritical(m, n, design.Alpha)) + 0.5) / math.Sqrt(mn*float64(m+n+1)/12)
	return math.Max(test, interval)
}

type widthKey struct {
	m, n       int
	confidence float64
}

var inversionWidths = numeric.Memo[widthKey, float64]{Max: 256}

// equalSpreadRatio is t_w / t_p of SpreadInversion where both sides spread alike.
func equalSpreadRatio(m, n int, confidence float64) float64 {
	if m == n { // then Welch's degrees of freedom are the pooled ones
		return 1
	}
	a, b := 1/float64(m), 1/float64(n)
	df := (a + b) * (a + b) / (a*a/float64(m-1) + b*b/float64(n-1))
	return numeric.StudentQuantile((1+confidence)/2, df) / numeric.StudentQuantile((1+confidence)/2, float64(m+n-2))
}

// studentRatio is t_w / t_p of SpreadInversion over the degrees of freedom that
// Welch and Satterthwaite can give, in equal steps of their reciprocal, in which
// it is nearly linear: computing Student's quantile each time would be slow.
type studentRatio struct {
	least, most float64 // reciprocals
	ratio       [17]float64
}

var studentRatios = numeric.Memo[widthKey, *studentRatio]{Max: 256}

func studentRatioOf(m, n int, confidence float64) *studentRatio {
	return studentRatios.Get(widthKey{m, n, confidence}, func() *studentRatio { return newStudentRatio(m, n, confidence) })
}

func newStudentRatio(m, n int, confidence float64) *studentRatio {
	s := &studentRatio{least: 1 / float64(m+n-2), most: 1 / float64(min(m, n)-1)}
	p := (1 + confidence) / 2
	pooled := numeric.StudentQuantile(p, float64(m+n-2))
	for i := range s.ratio {
		df := 1 / (s.least + (s.most-s.least)*float64(i)/float64(len(s.ratio)-1))
		s.ratio[i] = numeric.StudentQuantile(p, df) / pooled
	}
	return s
}

func (s *studentRatio) at(df float64) float64 {
	if s.most == s.least {
		return s.ratio[0]
	}
	place := (1/df - s.least) / (s.most - s.least) * float64(len(s.ratio)-1)
	i := min(max(0, int(place)), len(s.ratio)-2)
	return s.ratio[i] + (place-float64(i))*(s.ratio[i+1]-s.ratio[i])
}
