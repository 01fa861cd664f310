package ladder

import (
	"math"
	"slices"

	"tunegate/compare"
)

// Front says whether a profile is on the front that nothing beats on both speed
// and cost.
type Front string

// Places on the front.
const (
	OnFront     Front = "front"
	Beaten      Front = "beaten"
	FrontUnsure Front = "not clear" // beaten by the estimates, but not by more than noise
	NoFront     Front = ""          // no cost is recorded
)

// front marks the profiles that nothing beats on both speed and cost: power, or
// energy or heat where no power is recorded. Another profile beats one where it
// is really better in one of the two and worse by more than the tolerance in
// neither; it may beat one where it is better by the estimate in one and really
// worse in neither. Speed and cost of all pairs are one family, so that of profiles
// that are alike at most one choice in twenty calls any beaten.
func (c *climb) front(l *Ladder) {
	metric := c.firstPriced(MetricPower, MetricEnergy, MetricRise, MetricTemperature)
	if l.FrontCost = metric; metric == "" {
		return
	}
	for b := range c.priced(metric) {
		l.FrontOf = append(l.FrontOf, b)
	}
	slices.Sort(l.FrontOf)
	tolerance, _ := compare.SuiteTolerance(c.policy)
	both := c.eachPair(
		func(p *pair) *compare.Pool { return c.pool(p, compare.PoolOf{Name: "speed"}, c.scores(p)) },
		func(p *pair) *compare.Pool { return c.costs(p, metric) })
	speed, cost := both[0], both[1]
	for i, rung := range l.Rungs {
		rung.Front = OnFront
		var perhaps []string
		for k, other := range c.profiles {
			if k == i {
				continue
			}
			at := [2]int{min(i, k), max(i, k)}
			s, e := standing(speed[at], k > i, 1, tolerance), standing(cost[at], k > i, -1, tolerance)
			switch {
			case s.notWorse && e.notWorse && (s.better || e.better):
				rung.Front, rung.BeatenBy = Beaten, append(rung.BeatenBy, other)
			case !s.worse && !e.worse && (s.ahead || e.ahead):
				perhaps = append(perhaps, other)
			}
		}
		if rung.Front == OnFront && len(perhaps) > 0 {
			rung.Front, rung.BeatenBy = FrontUnsure, perhaps
		}
	}
}

// judged is a pool's measurement with what became of it among others.
type judged struct {
	*compare.Measurement
	compare.Judgement
}

// eachPair judges quantities between every two profiles, all of them and all pairs
// corrected together. A pick may return nil.
func (c *climb) eachPair(picks ...func(*pair) *compare.Pool) []map[[2]int]*judged {
	type place struct {
		pick int
		pair [2]int
	}
	var places [][]place
	var measured [][]*compare.Measurement
	for i := range c.profiles {
		for j := i + 1; j < len(c.profiles); j++ {
			var at []place
			var of []*compare.Measurement
			for k, pick := range picks {
				if pool := pick(c.pairs[[2]int{i, j}]); pool != nil {
					at, of = append(at, place{k, [2]int{i, j}}), append(of, pool.Measured)
				}
			}
			places, measured = append(places, at), append(measured, of)
		}
	}
	out := make([]map[[2]int]*judged, len(picks))
	for k := range out {
		out[k] = map[[2]int]*judged{}
	}
	for i, list := range c.Judge(measured...) {
		for k, j := range list {
			out[places[i][k].pick][places[i][k].pair] = &judged{measured[i][k], j}
		}
	}
	return out
}

// stand is how one profile stands to another in one quantity.
type stand struct {
	ahead         bool // by the estimate
	better, worse bool // really
	notWorse      bool // the interval excludes a loss beyond the tolerance
}

// standing reads a comparison of two profiles: for the later one where later
// is set. sign is 1 where more is better. The tolerance of a difference is one
// unit.
func standing(r *judged, later bool, sign, tolerance float64) stand {
	if r == nil {
		return stand{}
	}
	lo, hi, change := math.Inf(-1), math.Inf(1), r.Change
	if r.Interval != nil {
		lo, hi = r.Interval[0], r.Interval[1]
	}
	if r.Scale != compare.Ratio {
		tolerance = 1
	}
	if !later {
		sign = -sign
	}
	if sign < 0 {
		lo, change = -hi, -change
	}
	return stand{ahead: change > 0, better: r.Real && change > 0, worse: r.Real && change < 0, notWorse: lo >= -tolerance}
}
