package compare

import (
	"math"

	"tunegate/stats"
	"tunegate/stats/plan"
)

// pooledLayout is a suite without a value per session.
type pooledLayout interface {
	layout
	shift() float64
}

// pooledScores are the scores of a suite, each resampled by itself; as pooled,
// plus is better.
type pooledScores struct {
	components []stats.Component
	spread     []stats.Component // with ties of readings in steps spread over the steps, for the interval
	resamples  int
}

func (l pooledScores) shift() float64 { return stats.PooledShift(l.components) }

func (l pooledScores) replication() Replication { return ByRun }

// sizes are those of the score with the fewest runs.
func (l pooledScores) sizes() (sizes [2]int) {
	for i, c := range l.components {
		if i == 0 {
			sizes = [2]int{len(c.Before), len(c.After)}
		}
		sizes = [2]int{min(sizes[0], len(c.Before)), min(sizes[1], len(c.After))}
	}
	return sizes
}

func (l pooledScores) minP() float64 { return stats.SmallestPooledP(l.components, l.resamples) }

func (l pooledScores) measure(t Terms) estimate {
	e := estimate{test: TestPooledPermutation, shift: l.shift(), from: IntervalScores}
	lo, hi, ok := stats.PooledInterval(l.spread, t.Confidence, t.Resamples, t.Seed)
	lo, hi = math.Min(lo, e.shift), math.Max(hi, e.shift) // spread readings need not hold it
	return e.permuted(stats.PooledPermutation(l.components, t.Resamples, t.Seed), lo, hi, ok && l.minP() <= 1-t.Confidence+slack)
}

// permuted fills in a permutation test and its interval.
func (e estimate) permuted(test stats.PermutationTest, lo, hi float64, ok bool) estimate {
	e.p, e.pUsed, e.superiority, e.method = test.P, test.PUsed, test.Superiority, "drawn"
	switch {
	case test.Exact:
		e.method = "exact"
	case test.Normal:
		e.method = "normal"
	}
	e.interval, e.hasInterval = [2]float64{lo, hi}, ok
	return e
}

func (l pooledScores) extent() (lo, hi float64, ok bool) { return 0, 0, false }

func (l pooledScores) rounding(*Pair) (float64, bool) { return 0, false }

func (l pooledScores) changes(func(before, after []float64)) bool { return false }

func (l pooledScores) pilot(estimate) plan.Pilot {
	n := larger(l.sizes())
	se, df := stats.PooledError(l.components)
	sd := se * math.Sqrt(float64(n))
	return plan.Pilot{N: [2]int{n, n}, SD: [2]float64{sd, sd}, DF: df, Paired: true}
}

func larger(sizes [2]int) int { return max(sizes[0], sizes[1]) }

// jointSessions are the sessions of a suite of which some lack scores (NaN); as
// pooled, plus is better.
type jointSessions struct {
	before, after stats.Joint
	weights       []float64
	resamples     int
}

func (l jointSessions) shift() float64 { return stats.JointShift(l.before, l.after, l.weights) }

func (l jointSessions) replication() Replication { return BySession }

func (l jointSessions) sizes() [2]int { return [2]int{len(l.before), len(l.after)} }

func (l jointSessions) minP() float64 {
	return stats.SmallestJointP(len(l.before), len(l.after), l.resamples)
}

func (l jointSessions) measure(t Terms) estimate {
	e := estimate{test: TestJointPermutation, shift: l.shift(), from: IntervalJoint}
	lo, hi, ok := stats.JointInterval(l.before, l.after, l.weights, t.Confidence, t.Resamples, t.Seed)
	return e.permuted(stats.JointPermutation(l.before, l.after, l.weights, t.Resamples, t.Seed), lo, hi,
		ok && l.minP() <= 1-t.Confidence+slack)
}

func (l jointSessions) extent() (lo, hi float64, ok bool) { return 0, 0, false }

func (l jointSessions) rounding(*Pair) (float64, bool) { return 0, false }

func (l jointSessions) changes(func(before, after []float64)) bool { return false }

func (l jointSessions) pilot(estimate) plan.Pilot {
	n := larger(l.sizes())
	se, df := stats.JointError(l.before, l.after, l.weights)
	sd := se * math.Sqrt(float64(n)/2)
	return plan.Pilot{N: [2]int{n, n}, SD: [2]float64{sd, sd}, DF: df}
}
