package stats

// Prospect is what comparisons of a planned size would usually bring: half the
// width of the interval, in the unit of the values, and the chance to find a
// true loss real.
type Prospect struct{ Half, Chance float64 }

// Foresee returns what comparisons with so many values on each side, like this
// pilot, would bring: the usual half-width of the interval at the design's
// confidence, as PrecisionSize takes it, and the chance that a true loss is
// judged real at the design's alpha, as SizeToCatch takes it. Half is +Inf where
// so few values give no interval. ok is false where the pilot has fewer than two
// values on a side, or no spread.
func Foresee(before, after []float64, loss float64, design Design, sizes []int) (out []Prospect, ok bool) {
	if len(before) < 2 || len(after) < 2 || variance(before)+variance(after) == 0 {
		return nil, false
	}
	return foresee(func(d Design) func(int) outlook {
		plan := NewPlan(before, after, d)
		return func(n int) outlook { return plan.outlook(n, n) }
	}, loss, design, sizes), true
}

// BlocksForesee is Foresee for blocks of one difference each.
func BlocksForesee(differences []float64, loss float64, design Design, sizes []int) (out []Prospect, ok bool) {
	if len(differences) < 2 || variance(differences) == 0 {
		return nil, false
	}
	return foresee(func(d Design) func(int) outlook { return signedRankOutlook(differences, d) }, loss, design, sizes), true
}

// StrataForesee is Foresee for blocks of the pilot's usual shape.
func StrataForesee(strata []Stratum, loss float64, design Design, sizes []int) (out []Prospect, ok bool) {
	if _, _, ok := stratifiedOutlook(strata, design); !ok {
		return nil, false
	}
	return foresee(func(d Design) func(int) outlook {
		see, _, _ := stratifiedOutlook(strata, d)
		return see
	}, loss, design, sizes), true
}

func foresee(outlookOf func(Design) func(int) outlook, loss float64, design Design, sizes []int) []Prospect {
	// The interval that is shown is not corrected for several scores.
	shown := outlookOf(Design{Confidence: design.Confidence, Alpha: 1 - design.Confidence, Power: 0.5})
	judged := outlookOf(design)
	out := make([]Prospect, len(sizes))
	for i, n := range sizes {
		out[i] = Prospect{usualReach(shown(n)), judged(n).caught(loss, 0)}
	}
	return out
}

// Foresee is what so many times the values would bring; ok as for BlindSpot.
func (c Closed) Foresee(times, loss float64, design Design) (p Prospect, ok bool) {
	if !c.known() {
		return p, false
	}
	o := c.outlook(times, design)
	return Prospect{c.outlook(times, Design{Confidence: design.Confidence, Alpha: 1 - design.Confidence}).reach, o.caught(loss, 0)}, true
}
