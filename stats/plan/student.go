package plan

import (
	"math"

	"tunegate/stats/internal/numeric"
)

// studentT is Student's t quantile, to 1e-4 of it, for one p above a half and df
// from 1 on: its logarithm is nearly linear in 1/df over short distances. Computing
// it each time would take most of the time of a plan.
type studentT [129]float64

var studentTs = numeric.Memo[float64, *studentT]{Max: 64}

func studentTOf(p float64) *studentT {
	return studentTs.Get(p, func() *studentT {
		var s studentT
		s[0] = math.Log(numeric.NormalQuantile(p))
		for i := 1; i < len(s); i++ {
			s[i] = math.Log(numeric.StudentQuantile(p, float64(len(s)-1)/float64(i)))
		}
		return &s
	})
}

// student is Student's t quantile, of normal noise where df is +Inf.
func student(p, df float64) float64 {
	switch {
	case p >= 0.6:
		return studentTOf(p).at(df)
	case math.IsInf(df, 1):
		return numeric.NormalQuantile(p)
	}
	return numeric.StudentQuantile(p, df)
}

func (s *studentT) at(df float64) float64 {
	place := float64(len(s)-1) / math.Max(1, df)
	i := min(int(place), len(s)-2)
	return math.Exp(s[i] + (place-float64(i))*(s[i+1]-s[i]))
}
