package stats

import (
	"math"

	"tunegate/stats/internal/numeric"
)

// Interval is a confidence interval of after minus before.
type Interval struct {
	Lo, Hi float64
	// Placements is set where the sides were too large for the bootstrap and
	// its limit for large samples was used.
	Placements bool
}

// BootstrapLimit is the number of values on both sides together up to which
// the bootstrap is run; beyond it placementInterval takes its place.
const BootstrapLimit = 200

// Including returns the interval stretched to a change.
func (in Interval) Including(d float64) Interval {
	in.Lo, in.Hi = math.Min(in.Lo, d), math.Max(in.Hi, d)
	return in
}

// ChangeInterval returns the interval in force for independent sides: the outer
// ends of SpreadInversion and of the percentile bootstrap of the Hodges-Lehmann
// estimate, and 0 as well where the rank test that verdicts use does not reject
// it. So 0 outside means that the test rejects, too: exact given the ties, the
// larger of its two p values.
//
// The test counts at 0 only, since a verdict is about no change: its whole
// inversion, with the few levels that the exact test has, makes intervals of 5
// and 5 values 13 % wider than Student's in normal noise. The region only ever
// grows by it, so every change is covered at least as often as without it, and a
// change of 0 at least as often as the test keeps 0. The price is that the region
// depends on where 0 is: where both sides move further apart, an interval that
// had been stretched to 0 becomes narrower.
//
// ok is false where the rank test can reject nothing at this confidence, or a
// side has fewer than two values.
func ChangeInterval(before, after []float64, confidence float64, resamples int, seed uint64) (in Interval, ok bool) {
	in.Lo, in.Hi, ok = SpreadInversion(before, after, confidence)
	if !ok {
		return in, false
	}
	if len(before)+len(after) <= BootstrapLimit {
		in = in.includingBootstrap(before, after, resamples, seed, (1-confidence)/2)
	} else {
		in.Placements = true
		lo, hi := placementInterval(before, after, confidence)
		in = in.Including(lo).Including(hi)
	}
	if (in.Lo > 0 || in.Hi < 0) && MannWhitney(before, after).PUsed > 1-confidence+numeric.Slack {
		in = in.Including(0)
	}
	return in, true
}

// placementInterval is the limit that the percentile bootstrap interval reaches
// in large samples, without resampling: the rank of the estimate among the
// m n differences plus and minus as many standard deviations as the confidence
// takes in a normal distribution, the variance of U taken from the placements of
// each side within the other (Fligner and Policello, JASA 76:162-168, 1981), so
// that unequal spreads are allowed for. It panics when a side is empty.
func placementInterval(before, after []float64, confidence float64) (lo, hi float64) {
	if len(before) == 0 || len(after) == 0 {
		panic("stats: interval of an empty side")
	}
	x, y := numeric.Sorted(before), numeric.Sorted(after)
	return placementEnds(x, y, numeric.MedianDifference(x, y), confidence)
}

// placementEnds is placementInterval for ascending x and y.
func placementEnds(x, y []float64, estimate, confidence float64) (lo, hi float64) {
	mn := len(x) * len(y)
	reach := numeric.NormalQuantile((1+confidence)/2) * math.Sqrt(placementVariance(x, y, estimate))
	low := int(math.Floor(float64(mn)/2 - reach))
	low = min(max(low, 1), mn)
	return numeric.KthDifference(x, y, low), numeric.KthDifference(x, y, mn+1-low)
}
