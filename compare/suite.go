package compare

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// Suite is a pool and what became of it: several scores judged as one.
type Suite struct {
	*Pool
	*Result
	LeftOut []string // scores that are not in it, and why
}

// Suites judges pools together, and works out what follows. settled says whether
// a part is settled by itself, for the notes; nil for none.
func (t Terms) Suites(pools []*Pool, policy Policy, settled func(*Measurement) bool) []*Suite {
	measured := make([]*Measurement, len(pools))
	for i, p := range pools {
		measured[i] = p.Measured
	}
	out := make([]*Suite, len(pools))
	for i, r := range t.Results(measured, 0, policy, nil) {
		if settled != nil {
			r.Notes = pools[i].notes(r, slices.ContainsFunc(r.Parts, settled), t.Confidence)
		}
		out[i] = &Suite{pools[i], r, []string{}}
	}
	return out
}

// suites pools a comparison's scores: all of them, and those of each workload
// class. There is no suite where fewer than two can be pooled.
func (c *Comparison) suites(p *Pairing, policy Policy) (whole *Suite, classes []*Suite, notes []Note) {
	classes = []*Suite{}
	scores, names, byClass, leftOut := c.poolable()
	leftOut = append(leftOut, p.Missing...)
	for _, name := range c.Absent {
		if !slices.ContainsFunc(leftOut, func(s string) bool { return strings.HasPrefix(s, name+" (") }) {
			leftOut = append(leftOut, name+" (missing on both sides)")
		}
	}
	pool, note := c.Pool(PoolOf{Name: WholeSuite, Whole: true}, scores, policy)
	if note != nil {
		notes = append(notes, *note)
	}
	if pool == nil {
		return nil, classes, notes
	}
	settled := map[*Measurement]bool{}
	for _, r := range c.Results {
		settled[r.Measurement] = r.Verdict != nil && r.Verdict.Settled()
	}
	isSettled := func(m *Measurement) bool { return settled[m] }
	whole = c.Suites([]*Pool{pool}, policy, isSettled)[0]
	whole.LeftOut = append(whole.LeftOut, leftOut...)
	if len(names) == 1 && len(byClass[names[0]]) == len(scores) {
		names = nil // the only class is the suite
	}
	var pools []*Pool
	for _, name := range names {
		pool, note := c.Pool(PoolOf{Name: name}, byClass[name], policy)
		if note != nil {
			notes = append(notes, *note)
		}
		if pool != nil {
			pools = append(pools, pool)
		}
	}
	return whole, c.Suites(pools, policy, isSettled), notes
}

// poolable lists the scores that can be in a suite, and by workload class in
// order of appearance, and those that cannot.
func (c *Comparison) poolable() (scores []*Measurement, names []string, byClass map[string][]*Measurement, leftOut []string) {
	byClass = map[string][]*Measurement{}
	for _, r := range c.Results {
		switch {
		case r.Role != Score || !r.Named:
			continue
		case r.Scale != Ratio:
			leftOut = append(leftOut, fmt.Sprintf("%s (a difference in %s is no ratio)", r.Name(), OrWord(r.Unit, "its unit")))
			continue
		}
		scores = append(scores, r.Measurement)
		if r.Class == "" {
			continue
		}
		if byClass[r.Class] == nil {
			names = append(names, r.Class)
		}
		byClass[r.Class] = append(byClass[r.Class], r.Measurement)
	}
	return scores, names, byClass, leftOut
}

// notes states what a careful reader would ask about a suite; settled says that
// one of its scores is settled by itself.
func (p *Pool) notes(r *Result, settled bool, confidence float64) []Note {
	out := noteList{}
	switch {
	case len(r.Parts) > 1 && !settled && r.Real:
		out.add("together", "together these scores settle what none of them settles alone")
	case p.Pooling == BySuiteBlock && len(r.Blocks) < p.maxBlocks():
		out.add("incomplete-blocks", "%d of %d blocks hold every score of it; the others are left out", len(r.Blocks), p.maxBlocks())
	}
	switch {
	case p.Pooling == ByOrder:
		out.add("shared-luck", "its scores rise and fall together from run to run (p = %.2g), so the first runs of all scores count "+
			"as one, and so on; label each pass in a column `session`", p.LuckP)
	case p.Pooling == ByScore && len(r.Parts) > 1:
		out.add("independent-scores", "takes the scores' runs for independent of each other; where one pass ran all of them, "+
			"its luck is in all of them: label each pass in a column `session`")
	}
	if p.Pooling == ByJointSession {
		out.add("incomplete-sessions", "some sessions lack some of its scores: sessions are resampled and exchanged whole, whatever they hold")
		if r.Interval == nil && r.Reaches(1-confidence) {
			out.add("too-incomplete", "too few sessions hold each of its scores to give it an interval")
		}
	}
	if places := p.Places(); places >= 0 && len(r.Parts) > 1 && math.Abs(100*(p.Arithmetic-p.geometric())) > math.Pow10(-places) {
		out.add("arithmetic", "the average of the scores' percentages is %+.*f %%, their geometric mean %+.*f %%: ratios multiply, "+
			"and an average of percentages changes its answer with the side that counts as 100 %%",
			places, 100*p.Arithmetic, places, 100*p.geometric())
	}
	return out
}

// geometric is the weighted geometric mean of the scores' own changes; Change
// is near it, but made from sessions where there are some.
func (p *Pool) geometric() float64 {
	log, total := 0.0, 0.0
	for i, part := range p.Measured.Parts {
		log += p.Weights[i] * math.Log1p(part.Change)
		total += p.Weights[i]
	}
	return math.Expm1(log / total)
}

func (p *Pool) maxBlocks() int {
	n := 0
	for _, part := range p.Measured.Parts {
		n = max(n, len(part.Blocks))
	}
	return n
}

// Places is to how many decimals of a per cent the change is quoted; -1 where
// there is no interval.
func (p *Pool) Places() int {
	in := p.Measured.Interval
	if in == nil {
		return -1
	}
	return min(Places((in[1]-in[0])/2*100), 4)
}
