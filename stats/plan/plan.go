package plan

import (
	"math"
)

// Design says what a planned comparison must satisfy.
type Design struct {
	Confidence float64 // of the interval, such as 0.95
	// Alpha is what the p value of one comparison has to reach after the correction
	// for several; 1 - Confidence for one comparison alone.
	Alpha float64
	Power float64 // wanted chance, such as 0.8
}

// criticalP is what a p value has to reach for both halves of the rule.
func (d Design) criticalP() float64 { return math.Min(d.Alpha, 1-d.Confidence) }

// shown is the design of the interval that is shown, which is not corrected for
// several comparisons.
func (d Design) shown() Design {
	return Design{Confidence: d.Confidence, Alpha: 1 - d.Confidence, Power: 0.5}
}

// Plan answers questions about one pilot and design. It keeps what it has
// simulated, so that several questions cost little more than one. Not for use by
// several goroutines at once. A nil plan, one without a pilot, answers ok = false.
type Plan struct {
	judged, shown forecast // nil where the pilot shows nothing
	power         float64
}

// New plans from a pilot, whose values must not change afterwards; nil for none.
func New(p Pilot, d Design) *Plan {
	plan := &Plan{power: d.Power}
	if p != nil {
		plan.judged, plan.shown = p.forecast(d), p.forecast(d.shown())
	}
	return plan
}

// BlindSpot returns the smallest true loss that a comparison of the pilot's own
// size catches with the design's power: significant, and estimated beyond the
// margin (0 for "any real loss"). That the pilot's spread is itself uncertain is
// part of the chance. ok is false where no loss of any size could be caught, or
// the spread is unknown.
func (p *Plan) BlindSpot(margin float64) (loss float64, ok bool) {
	if p == nil || p.judged == nil {
		return 0, false
	}
	o, ok := p.judged.own()
	if !ok {
		return 0, false
	}
	return o.smallestCaught(p.power, margin), true
}

// Size is the inverse of BlindSpot: how many values a side, or blocks, would
// catch a true loss of this size. ok is false where the spread is unknown, the
// loss does not exceed the margin, or a million would not do.
func (p *Plan) Size(loss, margin float64) (n int, ok bool) {
	if p == nil || p.judged == nil || !(loss > margin) {
		return 0, false
	}
	return p.judged.size(loss, margin, p.power)
}

// Precision returns how many values a side, or blocks, make the half-width of the
// interval as small as the given one on average, in the unit of the values; ok as
// for Size.
func (p *Plan) Precision(halfWidth float64) (n int, ok bool) {
	if p == nil || p.shown == nil || !(halfWidth > 0) {
		return 0, false
	}
	return smallestSize(p.shown.floor(), func(n int) bool { return usualReach(p.shown.at(n)) <= halfWidth })
}

// Prospect is what comparisons of a planned size would usually show: half the
// width of the interval, in the unit of the values, and the chance to find a
// true loss significant.
type Prospect struct{ Half, Chance float64 }

// Foresee returns what comparisons of these sizes would show: the usual
// half-width of the interval at the design's confidence, as Precision takes it,
// and the chance that a true loss is significant at the design's alpha, as Size
// takes it. Half is +Inf where so few values give no interval. ok is false where
// the spread is unknown.
func (p *Plan) Foresee(loss float64, sizes []int) (out []Prospect, ok bool) {
	if p == nil || p.judged == nil {
		return nil, false
	}
	out = make([]Prospect, len(sizes))
	for i, n := range sizes {
		out[i] = Prospect{usualReach(p.shown.at(n)), p.judged.at(n).caught(loss, 0)}
	}
	return out, true
}

// forecast describes planned comparisons of one layout under one design.
type forecast interface {
	// own is the outlook of a comparison of the pilot's own size; ok is false
	// where it can find nothing significant.
	own() (o outlook, ok bool)
	// at is the outlook of n values a side, or blocks.
	at(n int) outlook
	// floor is the smallest size with an interval.
	floor() int
	// size is Plan.Size for a loss beyond the margin.
	size(loss, margin, power float64) (n int, ok bool)
}

// maxPlanned is the largest size that is planned.
const maxPlanned = 1_000_000

// smallestSize searches the smallest size, from a floor, that is enough.
func smallestSize(floor int, enough func(int) bool) (size int, ok bool) {
	low, high := floor-1, floor // low is not enough
	for !enough(high) {
		if high >= maxPlanned {
			return 0, false
		}
		low, high = high, 2*high
	}
	return firstEnough(low, high, enough), true
}

// firstEnough searches between a size that is not enough and one that is.
func firstEnough(low, high int, enough func(int) bool) int {
	for high-low > 1 {
		if m := (low + high) / 2; enough(m) {
			high = m
		} else {
			low = m
		}
	}
	return high
}
