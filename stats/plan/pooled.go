package plan

import (
	"math"
	"sort"

	"tunegate/stats"
	"tunegate/stats/internal/numeric"
)

// Estimate is an estimate whose like is foreseen in closed form: half the width
// of its interval, its standard error and the degrees of freedom of that. With
// more values both sizes shrink with the root of their number.
type Estimate struct{ Half, SE, DF float64 }

// outlook of the estimate with so many times the values: real where the
// interval leaves 0 out, and the test at its critical p, taken to be as wide.
func (e Estimate) outlook(times float64, design Design) closed {
	half := e.Half * math.Max(1, numeric.NormalQuantile(1-design.Alpha/2)/numeric.NormalQuantile((1+design.Confidence)/2))
	return closed{reach: half / math.Sqrt(times), se: e.SE / math.Sqrt(times), df: e.DF * times}
}

func (e Estimate) known() bool {
	return e.SE > 0 && !math.IsInf(e.SE, 0) && e.Half >= 0 && !math.IsInf(e.Half, 0)
}

func (e Estimate) scaled(factor float64) Estimate {
	size := math.Abs(factor) // a half-width and an error have no direction
	return Estimate{e.Half * size, e.SE * size, e.DF}
}

type pooled struct {
	Estimate
	runs, scores int
}

// Pooled is the pilot of an estimate over several scores that are measured
// independently of each other, with so many runs of each a side.
func Pooled(e Estimate, runs, scores int) Pilot { return pooled{e, runs, scores} }

// Spread is 0: each score has its own.
func (p pooled) Spread() float64 { return 0 }

func (p pooled) DF() float64 { return p.Estimate.DF }

func (p pooled) Scaled(factor float64) Pilot { return pooled{p.scaled(factor), p.runs, p.scores} }

func (p pooled) MinSize(alpha float64) int {
	for n := 2; ; n++ {
		if 2*math.Pow(stats.SmallestP(n, n)/2, float64(p.scores)) <= alpha+numeric.Slack { // assignments multiply
			return n
		}
	}
}

func (p pooled) forecast(d Design) forecast { return p.Estimate.forecast(d, p.runs, 1) }

type jointSessions struct {
	Estimate
	sessions int
}

// JointSessions is the pilot of an estimate over several scores that are
// measured in the same sessions, so many a side.
func JointSessions(e Estimate, sessions int) Pilot { return jointSessions{e, sessions} }

// Spread is 0: each score has its own.
func (j jointSessions) Spread() float64 { return 0 }

func (j jointSessions) DF() float64 { return j.Estimate.DF }

func (j jointSessions) Scaled(factor float64) Pilot {
	return jointSessions{j.scaled(factor), j.sessions}
}

func (j jointSessions) MinSize(alpha float64) int { return MinSampleSize(alpha) }

func (j jointSessions) forecast(d Design) forecast {
	return j.Estimate.forecast(d, j.sessions, MinSampleSize(d.criticalP()))
}

// closedForecast scales an estimate of so many values.
type closedForecast struct {
	estimate        Estimate
	design          Design
	values, minSize int
}

func (e Estimate) forecast(d Design, values, minSize int) forecast {
	if !e.known() {
		return nil
	}
	return closedForecast{e, d, values, minSize}
}

func (f closedForecast) own() (outlook, bool) { return f.estimate.outlook(1, f.design), true }

func (f closedForecast) at(n int) outlook {
	return f.estimate.outlook(float64(n)/float64(f.values), f.design)
}

func (f closedForecast) floor() int { return f.minSize }

// size is at least the pilot's own, in steps of a thousandth or so: a plan is
// worth two digits.
func (f closedForecast) size(loss, margin, power float64) (n int, ok bool) {
	catches := func(times float64) bool { return f.estimate.outlook(times, f.design).caught(loss, margin) >= power }
	times := 1.0
	if !catches(1) {
		if !catches(maxPlanned) {
			return 0, false
		}
		const steps = 10_000
		at := func(k int) float64 { return math.Exp(float64(k) / steps * math.Log(maxPlanned)) }
		times = at(sort.Search(steps, func(k int) bool { return catches(at(k)) }))
	}
	return max(f.minSize, int(math.Ceil(times*float64(f.values)-1e-9))), true
}
