package stats

import (
	"math"

	"gonum.org/v1/gonum/mathext"
)

// VarianceComponents splits the variance of runs into what sessions differ by
// and what runs of one session differ by, from the mean squares of a one-way
// analysis of variance. With N runs in k sessions of n_i runs
//
//	within  = MSW
//	between = (MSB - MSW) / n0, at least 0
//	n0      = (N - sum of n_i^2 / N) / (k - 1)
//
// (the method of moments for unequal sessions; Searle, Casella and McCulloch
// 1992, Variance Components, section 3.6; n0 = n where all have n runs). The
// sum of both is the variance of one run of a new session. Sessions without
// values are ignored. within is NaN where no session has two runs, between is
// NaN there and below two sessions.
func VarianceComponents(sessions [][]float64) (between, within float64) {
	m := meanSquares(sessions)
	return math.Max(0, (m.between-m.within)/m.size), m.within
}

// RunsPerSession returns the number of runs a session for which the mean of
// all sessions is known best for the time that sessions and runs take:
//
//	m = sqrt(sessionCost / runCost) * sqrt(within / between)
//
// (Cochran 1977, Sampling Techniques, section 10.6, with many runs to choose
// from). between and within are variances as of VarianceComponents;
// sessionCost is what a session takes before its first run and runCost what a
// run takes, both in one unit. The result is not rounded and may lie below 1.
// It is 0 where runs of a session do not differ, else +Inf where sessions do
// not. It panics unless runCost is above 0 and the others are at least 0.
func RunsPerSession(between, within, sessionCost, runCost float64) float64 {
	if !(between >= 0 && within >= 0 && sessionCost >= 0 && runCost > 0) {
		panic("stats: a variance or cost below 0, or runs that cost nothing")
	}
	if within == 0 {
		return 0
	}
	return math.Sqrt(sessionCost / runCost * within / between)
}

// SessionsApart tests whether sessions differ by more than ratio times the
// variance that runs of one session have: F = MSB / (MSW (1 + n0 ratio)) on
// k - 1 and N - k degrees of freedom, with n0 of VarianceComponents; p is the
// upper tail. With ratio 0 it is the F test of a one-way analysis of variance.
// For larger ratios it is exact for normal noise and equal sessions (Searle,
// Casella and McCulloch 1992, section 3.6); skewed noise raises its level:
// where sessions and runs have exponential noise of equal variance, 0.005
// became at most 0.036 for ratio 1 and 0.01 for ratio 2 (3 to 8 sessions of 2
// to 10 runs).
// Readings are rounded to a step, as of Tick; MSW counts at least as the
// variance of that rounding, step^2/12. It returns 0 and 1 below two sessions, where no session
// has two runs, and where all values are the same.
func SessionsApart(sessions [][]float64, ratio float64) (f, p float64) {
	m := meanSquares(sessions)
	if math.IsNaN(m.within) || math.IsNaN(m.between) || m.between == 0 {
		return 0, 1
	}
	step := Tick(sessions...)
	f = m.between / math.Max(m.within, step*step/12) / (1 + m.size*ratio)
	return f, mathext.RegIncBeta(m.runs/2, m.sessions/2, m.runs/(m.runs+m.sessions*f))
}

// squares are the mean squares of a one-way analysis of variance, with their
// degrees of freedom and n0, the sessions' effective number of runs. A mean
// square without degrees of freedom is NaN.
type squares struct {
	between, within float64
	sessions, runs  float64
	size            float64
}

func meanSquares(sessions [][]float64) squares {
	var all []float64
	count, sizes := 0, 0.0
	for _, s := range sessions {
		if len(s) > 0 {
			all = append(all, s...)
			count++
			sizes += float64(len(s)) * float64(len(s))
		}
	}
	if count == 0 {
		return squares{between: math.NaN(), within: math.NaN(), size: math.NaN()}
	}
	n, grand := float64(len(all)), mean(all)
	m := squares{sessions: float64(count - 1), runs: n - float64(count)}
	m.size = (n - sizes/n) / m.sessions
	for _, s := range sessions {
		if len(s) == 0 {
			continue
		}
		own := mean(s)
		m.between += float64(len(s)) * (own - grand) * (own - grand)
		for _, v := range s {
			m.within += (v - own) * (v - own)
		}
	}
	m.between /= m.sessions
	m.within /= m.runs
	if m.sessions == 0 {
		m.between = math.NaN()
	}
	if m.runs == 0 {
		m.within = math.NaN()
	}
	return m
}
