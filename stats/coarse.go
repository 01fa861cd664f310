package stats

import (
	"math"
	"strconv"
	"strings"
)

// Tick returns the smallest positive gap between the pooled values: the step
// of a coarse reading, and next to nothing for a fine one. Where all values
// are the same there is no gap; then it is the last decimal place that their
// shortest notation shows, the finest step they can have been written with.
func Tick(samples ...[]float64) float64 {
	var all []float64
	for _, s := range samples {
		all = append(all, s...)
	}
	Sort(all)
	tick := math.Inf(1)
	for i := 1; i < len(all); i++ {
		if gap := all[i] - all[i-1]; gap > 1e-9*math.Abs(all[i]) {
			tick = math.Min(tick, gap)
		}
	}
	if math.IsInf(tick, 1) && len(all) > 0 {
		return lastPlace(all[0])
	}
	return tick
}

// lastPlace is the value of the last decimal that the shortest notation of v
// shows: 0.01 for 4.25, 1 for 60 and 1200.
func lastPlace(v float64) float64 {
	s := strconv.FormatFloat(v, 'f', -1, 64)
	point := strings.IndexByte(s, '.')
	if point < 0 {
		return 1
	}
	return math.Pow(10, -float64(len(s)-1-point))
}

// From manyReadings values a side on, rounding is allowed for up to a spread of
// coarseSpread ticks. One tick would be the obvious bar everywhere; but whole
// frame rates that spread by 1 to 2 were covered in 63 to 92 % at 30 to 150
// values a side, since a mean of many rounded values is sharper than the
// rounding is fair (coarsecoverage_test.go).
const (
	manyReadings = 15
	coarseSpread = 4
)

// CoarseWidening returns by how much each end of an interval has to move out
// because values were rounded: half a tick where the spread of a side is below
// one tick (four ticks from 15 values a side on), a whole one where a side is
// constant, else 0. The sides are what the interval was computed from, in the
// unit of the tick.
func CoarseWidening(before, after []float64, tick float64) float64 {
	sb, sa := math.Sqrt(variance(before)), math.Sqrt(variance(after))
	bar := tick
	if min(len(before), len(after)) >= manyReadings {
		bar = coarseSpread * tick
	}
	switch {
	case sb == 0 || sa == 0:
		return tick
	case math.Min(sb, sa) < bar*(1-1e-9): // a spread at the bar is not below it, whatever rounding says
		return tick / 2
	}
	return 0
}
