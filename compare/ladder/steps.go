package ladder

import (
	"math"
	"slices"

	"tunegate/compare"
)

// ends are the profiles of each step and, where there are several, of the total.
func (c *climb) ends() [][2]int {
	last := len(c.profiles) - 1
	var out [][2]int
	for i := range last {
		out = append(out, [2]int{i, i + 1})
	}
	if last > 1 {
		out = append(out, [2]int{0, last})
	}
	return out
}

// poolSteps pools the scores of each step and of the total.
func (c *climb) poolSteps() map[*pair]*compare.Pool {
	out := map[*pair]*compare.Pool{}
	for _, at := range c.ends() {
		p := c.pairs[at]
		if pool := c.pool(p, compare.PoolOf{Name: "suite, " + p.Before + " to " + p.After}, c.scores(p)); pool != nil {
			out[p] = pool
		}
	}
	return out
}

// steps judges each step and the total: suites corrected together, and what decides
// in them corrected together over all of them.
func (c *climb) steps(l *Ladder, pooled map[*pair]*compare.Pool) {
	var pools []*compare.Pool
	var totals, families [][]*compare.Measurement
	results, settled := map[*compare.Measurement]*compare.Result{}, map[*compare.Measurement]bool{}
	keep := func(all []*compare.Measurement, judged []compare.Judgement) {
		for _, r := range c.Results(all, judged, c.policy, nil) {
			results[r.Measurement], settled[r.Measurement] = r, r.Verdict != nil && r.Verdict.Settled()
		}
	}
	alone := c.Terms
	alone.Correction = compare.NoCorrection
	for _, at := range c.ends() {
		p := c.pairs[at]
		if pool := pooled[p]; pool != nil {
			pools, totals = append(pools, pool), append(totals, []*compare.Measurement{pool.Measured})
		}
		var family, others []*compare.Measurement
		for _, m := range p.metrics {
			if m.InFamily() {
				family = append(family, m)
			} else {
				others = append(others, m)
			}
		}
		families = append(families, family)
		keep(others, alone.Judge(others)[0])
	}
	for i, judged := range c.Judge(families...) {
		keep(families[i], judged)
	}
	suites := map[*compare.Pool]*compare.Suite{}
	for _, s := range c.Suites(pools, slices.Concat(c.Judge(totals...)...), c.policy,
		func(m *compare.Measurement) bool { return settled[m] }) {
		suites[s.Pool] = s
	}
	for _, at := range c.ends() {
		p := c.pairs[at]
		var of []*compare.Result
		for _, m := range p.metrics {
			of = append(of, results[m])
		}
		l.Steps = append(l.Steps, &Step{From: p.Before, To: p.After, Suite: suites[pooled[p]],
			Comparison: compare.NewComparison(p.Pairing, c.Terms, c.policy, of, p.notes)})
	}
	last := len(c.profiles) - 1
	l.Total, l.Steps = l.Steps[len(l.Steps)-1], l.Steps[:last]
	log := 0.0
	for _, s := range l.Steps {
		if s.Suite != nil {
			log += math.Log1p(s.Suite.Change)
		}
	}
	l.Product = math.Expm1(log)
	if last > 1 {
		var measured []*compare.Measurement
		for _, at := range c.ends() {
			if pool := pooled[c.pairs[at]]; pool != nil {
				measured = append(measured, pool.Measured)
			}
		}
		if len(measured) == last+1 {
			l.Gap = gapOf(newLinks(measured, c.ends()), c.Terms)
		}
	}
}
