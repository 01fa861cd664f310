package stats

import "math"

// Interval is a confidence interval of after minus before.
type Interval struct {
	Lo, Hi float64
	// Placements is set where the sides were too large for the bootstrap and
	// its limit for large samples was used.
	Placements bool
}

// BootstrapLimit is the number of values on both sides together up to which
// the bootstrap is run; beyond it PlacementInterval takes its place.
const BootstrapLimit = 1000

// ChangeInterval returns the interval in force for independent sides: the
// outer ends of the rank test's inversion and of the widened bootstrap. So 0
// outside it means that the untied rank test rejects, too. ok is false where
// the rank test can reject nothing at this confidence, or a side has fewer
// than two values.
func ChangeInterval(before, after []float64, confidence float64, resamples int, seed uint64) (in Interval, ok bool) {
	if len(before) < 2 || len(after) < 2 {
		return Interval{math.NaN(), math.NaN(), false}, false
	}
	in.Lo, in.Hi, ok = RankInterval(before, after, confidence)
	if !ok {
		return in, false
	}
	var lo, hi float64
	if len(before)+len(after) <= BootstrapLimit {
		lo, hi, ok = WidenedInterval(before, after, confidence, resamples, seed)
	} else {
		in.Placements = true
		lo, hi, ok = PlacementInterval(before, after, confidence)
	}
	if ok { // else both sides are constant and the inversion is one point
		in.Lo, in.Hi = math.Min(in.Lo, lo), math.Max(in.Hi, hi)
	}
	return in, true
}

// PlacementInterval is the limit that the widened bootstrap interval reaches
// in large samples, without resampling: the rank of the estimate among the
// m n differences plus and minus sqrt(k) t standard deviations, the variance
// of U taken from the placements of each side within the other (Fligner and
// Policello, JASA 76:162-168, 1981), so that unequal spreads are allowed for.
// ok as for WidenedInterval.
func PlacementInterval(before, after []float64, confidence float64) (lo, hi float64, ok bool) {
	tail, ok := widenedTail(before, after, confidence)
	if !ok {
		return math.NaN(), math.NaN(), false
	}
	x, y := sorted(before), sorted(after)
	lo, hi = placementEnds(x, y, medianDifference(x, y), tail)
	return lo, hi, true
}

// placementEnds are the ends for ascending x and y that leave tail beyond each.
func placementEnds(x, y []float64, estimate, tail float64) (lo, hi float64) {
	mn := len(x) * len(y)
	reach := -normalQuantile(tail) * math.Sqrt(placementVariance(x, y, estimate))
	low := int(math.Floor(float64(mn)/2 - reach))
	low = min(max(low, 1), mn)
	return kthDifference(x, y, low), kthDifference(x, y, mn+1-low)
}

// placementVariance is the plug-in variance of U for ascending x and y - shift:
// the squared deviations of the placements of each side, summed. A pair whose
// difference is the shift counts half; differences are compared as they are
// computed elsewhere, so that rounding breaks no tie.
func placementVariance(x, y []float64, shift float64) float64 {
	below, upTo := make([]int, len(x)), make([]int, len(x))
	countDifferences(x, y, shift, below, false)
	countDifferences(x, y, shift, upTo, true)
	ofX, ofY := make([]float64, len(x)), make([]float64, len(y))
	for i := range x {
		ofX[i] = float64(below[i]+upTo[i]) / 2
	}
	over, from := 0, 0 // x values that y_j - shift lies over, or not under
	for j := range y {
		for over < len(x) && upTo[over] <= j {
			over++
		}
		for from < len(x) && below[from] <= j {
			from++
		}
		ofY[j] = float64(over+from) / 2
	}
	return variance(ofX)*float64(len(x)-1) + variance(ofY)*float64(len(y)-1)
}
