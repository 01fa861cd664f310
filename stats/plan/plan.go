package plan

import (
	"math"

	"tunegate/stats/internal/numeric"
)

// Design says what a planned comparison must satisfy.
type Design struct {
	// Confidence is that of the interval, such as 0.95; the comparison's own test
	// has to reach 1 - Confidence.
	Confidence float64
	// CriticalP is what Welch's p of one comparison has to reach, given the family
	// that it is corrected with; 1 - Confidence for one comparison alone.
	CriticalP float64
	Power     float64 // wanted chance, such as 0.8
}

// Plan answers questions about one pilot and design.
type Plan struct {
	pilot  Pilot
	design Design
}

// New plans from a pilot. One that does not show a spread answers ok = false.
func New(p Pilot, d Design) Plan { return Plan{p, d} }

// BlindSpot returns the smallest true loss that a comparison of the pilot's own
// size catches with the design's power: real, and estimated beyond the margin (0
// for "any real loss"). That the pilot's spread is itself uncertain is part of the
// chance. ok is false where no loss of any size could be caught, or the spread is
// unknown.
func (p Plan) BlindSpot(margin float64) (loss float64, ok bool) {
	m, n := p.pilot.N[0], p.pilot.N[1]
	if !p.pilot.shows() || !p.pilot.reaches(m, n, 1-p.design.Confidence) {
		return 0, false
	}
	c := p.comparison(m, n)
	guess := c.se * (c.t + math.Sqrt(1+c.t*c.t/2*(1/c.df+1/c.pilotDF)))
	low, high := guess*0.8, guess
	for c.found(high) < p.design.Power {
		low, high = high, 1.2*high
	}
	for c.found(low) >= p.design.Power {
		low, high = 0.8*low, low
	}
	loss = crossing(low, high, func(loss float64) float64 { return c.found(loss) - p.design.Power })
	return math.Max(loss+p.unseen(), p.beyond(margin, c.se)), true
}

// unseen is what rounding can take from a loss: it may move the estimate towards 0 by as
// much as the interval's ends are moved outwards for it. Counted once, losses of coarse
// readings of 0.3 to 0.7 steps that were stated to be caught four times in five were
// caught in 56 to 77 %; counted twice in 69 to 89 (600 a cell).
func (p Plan) unseen() float64 { return 2 * p.pilot.Widening }

// seen is what is left of a loss at least.
func (p Plan) seen(loss float64) float64 { return loss - p.unseen() }

// beyond is the loss whose estimate lies beyond the margin with the design's power.
func (p Plan) beyond(margin, se float64) float64 {
	if !(margin > 0) {
		return 0
	}
	return margin + se*student(p.design.Power, p.pilot.DF)
}

// crossing is where a rising f passes 0 between a point below and one above: the
// secant, with the value at an end that stays halved (the Illinois method; Dowell
// and Jarratt, BIT 11:168-174, 1971). It returns a point where f is not below 0.
func crossing(low, high float64, f func(float64) float64) float64 {
	below, above := f(low), f(high)
	for side := 0; high-low > 1e-10*high && above > 0; {
		x := high - above*(high-low)/(above-below)
		if !(x > low && x < high) {
			x = (low + high) / 2
		}
		if y := f(x); y < 0 {
			if low, below = x, y; side < 0 {
				above /= 2
			}
			side = -1
		} else {
			if high, above = x, y; side > 0 {
				below /= 2
			}
			side = 1
		}
	}
	return high
}

// Size is the inverse of BlindSpot: how many values a side, or blocks, would catch a
// true loss of this size. ok is false where the spread is unknown, the loss does not
// exceed the margin, rounding could take half of it, or a million would not do.
func (p Plan) Size(loss, margin float64) (n int, ok bool) {
	if !p.pilot.shows() || !(loss > math.Max(margin, 2*p.unseen())) {
		return 0, false
	}
	z := numeric.NormalQuantile(1-p.design.CriticalP/2) + numeric.NormalQuantile(p.design.Power)
	return p.smallestSize(p.seen(loss)/z, func(n int) bool {
		c := p.comparison(n, n)
		return loss >= p.beyond(margin, c.se) && c.found(p.seen(loss)) >= p.design.Power
	})
}

// NearEnd returns the nearer end of the 80 % interval of a change that the pilot
// showed, for Size: what was seen draws attention where luck made it large, so a plan
// to confirm it should not count on its middle. ok is false where the interval holds
// 0 or the spread is unknown.
func (p Plan) NearEnd(change float64) (near float64, ok bool) {
	if !p.pilot.shows() {
		return 0, false
	}
	se, _, _ := p.pilot.standardError(p.pilot.N[0], p.pilot.N[1])
	near = math.Abs(change) - student(0.9, p.pilot.DF)*se
	return near, near > 0
}

// Precision returns how many values a side, or blocks, usually make the half-width
// of the interval as small as the given one, in the unit of the values; ok as for
// Size.
func (p Plan) Precision(halfWidth float64) (n int, ok bool) {
	if !p.pilot.shows() || !(halfWidth > p.pilot.Widening) {
		return 0, false
	}
	z := numeric.NormalQuantile((1 + p.design.Confidence) / 2)
	return p.smallestSize((halfWidth-p.pilot.Widening)/z, func(n int) bool { return p.half(n) <= halfWidth })
}

// half is the usual half-width of the interval of n values a side.
func (p Plan) half(n int) float64 {
	if !p.pilot.reaches(n, n, 1-p.design.Confidence) {
		return math.Inf(1)
	}
	se, _, df := p.pilot.standardError(n, n)
	return p.pilot.Widening + se*student((1+p.design.Confidence)/2, df)
}

// Prospect is what comparisons of a planned size would usually show: half the
// width of the interval, in the unit of the values, and the chance to find a
// true loss real.
type Prospect struct{ Half, Chance float64 }

// Foresee returns what comparisons of these sizes would show: the half-width as
// Precision takes it, and the chance as Size takes it. Half is +Inf where so few
// values give no interval. ok is false where the spread is unknown.
func (p Plan) Foresee(loss float64, sizes []int) (out []Prospect, ok bool) {
	if !p.pilot.shows() {
		return nil, false
	}
	out = make([]Prospect, len(sizes))
	for i, n := range sizes {
		out[i] = Prospect{p.half(n), p.comparison(n, n).found(p.seen(loss))}
	}
	return out, true
}

// maxPlanned is the largest size that is planned.
const maxPlanned = 1_000_000

// smallestSize searches the smallest size that is enough, beginning where the standard
// error is about the given one.
func (p Plan) smallestSize(se float64, enough func(int) bool) (size int, ok bool) {
	floor := p.pilot.MinSize(1 - p.design.Confidence)
	if p.pilot.Paired { // ranks may find less than Student's t of fewer blocks
		for ranked := MinRankBlocks(1 - p.design.Confidence); floor < ranked; floor++ {
			if enough(floor) {
				return floor, true
			}
		}
	}
	one, _, _ := p.pilot.standardError(1, 1)
	high := int(math.Min(maxPlanned, math.Max(float64(floor), one*one/(se*se))))
	low := floor - 1 // not enough
	for !enough(high) {
		if high >= maxPlanned {
			return 0, false
		}
		low, high = high, min(maxPlanned, 1+high+high/2)
	}
	for next := high - high/4 - 1; next > low; next = high - high/4 - 1 {
		if !enough(next) {
			low = next
			break
		}
		high = next
	}
	for high-low > 1 {
		if m := (low + high) / 2; enough(m) {
			high = m
		} else {
			low = m
		}
	}
	return high, true
}
