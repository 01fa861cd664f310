package stats

import (
	"math"
	"sort"
)

// Closed is an estimate whose like is foreseen in closed form: half the width
// of its interval, its standard error and the degrees of freedom of that. With
// more values both sizes shrink with the root of their number.
type Closed struct{ Half, SE, DF float64 }

// outlook of the estimate with so many times the values: real where the
// interval leaves 0 out, and the test at its bar, taken to be as wide.
func (c Closed) outlook(times float64, design Design) closed {
	half := c.Half * math.Max(1, normalQuantile(1-design.Alpha/2)/normalQuantile((1+design.Confidence)/2))
	return closed{reach: half / math.Sqrt(times), se: c.SE / math.Sqrt(times), df: c.DF * times}
}

func (c Closed) known() bool {
	return c.SE > 0 && !math.IsInf(c.SE, 0) && c.Half >= 0 && !math.IsInf(c.Half, 0)
}

// BlindSpot returns the smallest true loss that such an estimate would find
// beyond the margin with the design's power. ok is false where the error is
// unknown or 0.
func (c Closed) BlindSpot(margin float64, design Design) (loss float64, ok bool) {
	if !c.known() {
		return 0, false
	}
	return c.outlook(1, design).smallestCaught(design.Power, margin), true
}

// TimesToCatch returns by how many times more values on every side a loss would
// be found beyond the margin with the design's power; 1 where the present ones
// do. ok as for BlindSpot, and false where no number would do.
func (c Closed) TimesToCatch(loss, margin float64, design Design) (times float64, ok bool) {
	catches := func(times float64) bool {
		return c.outlook(times, design).caught(loss, margin) >= design.Power
	}
	switch {
	case !c.known() || !(loss > margin):
		return 0, false
	case catches(1):
		return 1, true
	case !catches(mostPlanned):
		return 0, false
	}
	// In steps of a thousandth or so of the size: a plan is worth two digits.
	const steps = 10_000
	at := func(k int) float64 { return math.Exp(float64(k) / steps * math.Log(mostPlanned)) }
	return at(sort.Search(steps, func(k int) bool { return catches(at(k)) })), true
}
