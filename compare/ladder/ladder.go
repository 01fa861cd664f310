// Package ladder judges a chain of profiles, each tried on top of the one before:
// every step, the total, what each profile costs beside the first, which ones
// nothing beats, and which is best for each class of work.
package ladder

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"tunegate/compare"
	"tunegate/compare/doubts"
)

// MaxRungs is the largest number of profiles on a ladder.
const MaxRungs = 12

// Ladder is a chain of profiles.
type Ladder struct {
	Profiles []string
	compare.Terms
	Policy  string   // the file; empty for none
	Scores  []string // that every profile has: what the suite is made of
	Weights []float64
	LeftOut []string // scores that some profile lacks, and which
	Steps   []*Step  // from each profile to the next
	Total   *Step    // from the first to the last, measured; the step where there is one
	Product float64  // of the steps' ratios, less 1
	// Explained says whether noise explains the gap between the product and the
	// measured total.
	Explained bool
	Rungs     []*Rung
	FrontCost string   // the cost of the front; empty where none is recorded
	FrontOf   []string // the benchmarks that it is measured on
	Works     []*Work
	SetAside  []compare.ExcludedRun
	Notes     []compare.Note
	Doubts    *doubts.Report // what looks unsafe about the data
}

// Step is one comparison on a ladder. Its scores share the correction with
// those of all steps, its suite with the suites of all steps.
type Step struct {
	From, To   string
	Comparison *compare.Comparison // of the metrics; the suite stands here
	Suite      *compare.Suite      // nil where no score can be pooled
}

// Measured lists the steps and, where it is not the only step, the total.
func (l *Ladder) Measured() []*Step {
	if len(l.Steps) == 1 {
		return l.Steps
	}
	return append(slices.Clone(l.Steps), l.Total)
}

// Rung is what a profile costs and brings beside the first one. Fields are nil
// where nothing is recorded, and for the first profile, but Front.
type Rung struct {
	Profile    string
	Speed      *compare.Suite
	Power      *compare.Suite
	Heat       *compare.Suite // temperature rise where ambient is recorded, else temperature
	Energy     *compare.Suite // of a job
	Efficiency *compare.Suite // work per joule
	Front      Front
	BeatenBy   []string // profiles that beat it, or may
}

// climb is what a ladder is worked out from.
type climb struct {
	compare.Terms
	profiles []string
	policy   compare.Policy
	opt      compare.Options
	sides    [][]*compare.Series
	common   map[compare.MetricID]bool // scores that every profile has
	pairs    map[[2]int]*pair
}

// pair is two profiles measured against each other.
type pair struct {
	*compare.Pairing
	metrics []*compare.Measurement
	notes   []compare.Note // why something could not be pooled
}

// Climb judges a chain of profiles, sides[i] being the series of profiles[i], and
// which of them is best for the mix, if one is given. It is an error when a link
// of the chain is not measured, a *compare.PlacedError where a value is at fault.
func Climb(profiles []string, sides [][]*compare.Series, mix []Share, policy compare.Policy, opt compare.Options) (*Ladder, error) {
	if len(profiles) < 2 || len(profiles) > MaxRungs {
		return nil, fmt.Errorf("a ladder has 2 to %d profiles, found %d", MaxRungs, len(profiles))
	}
	c := &climb{Terms: compare.TermsOf(policy, opt), profiles: profiles, policy: policy, opt: opt, pairs: map[[2]int]*pair{}}
	if err := policy.CheckOverrides(slices.Concat(sides...)...); err != nil {
		return nil, err
	}
	for _, side := range sides {
		derived, err := derive(side, policy)
		if err != nil {
			return nil, err
		}
		c.sides = append(c.sides, derived)
	}
	if err := c.measure(); err != nil {
		return nil, err
	}
	l := &Ladder{Profiles: profiles, Terms: c.Terms, Policy: policy.Source, LeftOut: []string{}, SetAside: []compare.ExcludedRun{}, Notes: []compare.Note{}}
	if err := c.findCommon(l); err != nil {
		return nil, err
	}
	pools := c.poolSteps()
	l.Rungs = c.rungs()
	mixNotes, err := c.works(l, mix)
	if err != nil {
		return nil, err
	}
	c.front(l)
	c.steps(l, pools)
	l.Notes = append(l.Notes, mixNotes...)
	l.Notes = append(l.Notes, c.notes(l)...)
	for _, s := range l.Measured() {
		for _, run := range s.Comparison.SetAside {
			if !slices.Contains(l.SetAside, run) {
				l.SetAside = append(l.SetAside, run)
			}
		}
		for _, n := range s.Comparison.Notes {
			if !slices.Contains(l.Notes, n) {
				l.Notes = append(l.Notes, n)
			}
		}
	}
	if l.Doubts, err = doubts.Check(slices.Concat(sides...), policy, compare.Options{Better: opt.Better}); err != nil {
		return nil, err
	}
	return l, nil
}

// measure measures every two profiles against each other. A link of the chain
// without a common benchmark is an error; of other pairs findCommon says so.
func (c *climb) measure() error {
	done := compare.NewProgress(len(c.profiles)*(len(c.profiles)-1)/2, c.opt.Progress)
	for i := range c.profiles {
		for j := i + 1; j < len(c.profiles); j++ {
			p, err := compare.PairUp(c.sides[i], c.sides[j], [2]string{c.profiles[i], c.profiles[j]}, c.policy, c.opt)
			var placed *compare.PlacedError
			switch {
			case errors.As(err, &placed):
				return err
			case err != nil && j == i+1:
				return fmt.Errorf("a chain needs every link measured: %w", err)
			case err == nil:
				c.pairs[[2]int{i, j}] = &pair{Pairing: p, metrics: c.MeasureAll(p.Pairs, nil)}
			}
			done.Step()
		}
	}
	return nil
}

// findCommon finds the scores that every profile has: only they can be chained.
func (c *climb) findCommon(l *Ladder) error {
	links := map[compare.MetricID]int{} // steps that have both sides of a score
	var order []*compare.Measurement
	for i := range c.profiles {
		for j := i + 1; j < len(c.profiles); j++ {
			p := c.pairs[[2]int{i, j}]
			if p == nil {
				continue
			}
			for _, m := range p.metrics {
				if !m.InFamily() || m.Scale != compare.Ratio || isCost(m.ID().Metric) {
					continue
				}
				if _, met := links[m.ID()]; !met {
					links[m.ID()] = 0
					order = append(order, m)
				}
				if j == i+1 {
					links[m.ID()]++
				}
			}
		}
	}
	c.common = map[compare.MetricID]bool{}
	for _, m := range order {
		if links[m.ID()] == len(c.profiles)-1 {
			c.common[m.ID()] = true
			l.Scores, l.Weights = append(l.Scores, m.Name()), append(l.Weights, m.Weight)
			continue
		}
		var without []string
		for p, name := range c.profiles {
			if !slices.ContainsFunc(c.sides[p], func(s *compare.Series) bool { return s.ID() == m.ID() }) {
				without = append(without, name)
			}
		}
		l.LeftOut = append(l.LeftOut, fmt.Sprintf("%s (no valid run for %s)", m.Name(), compare.OrWord(strings.Join(without, ", "), "some profile that has it")))
	}
	if len(c.common) == 0 {
		return fmt.Errorf("no score was measured on every profile (%s), and steps measured on different work cannot be chained; run one benchmark on all of them",
			strings.Join(c.profiles, ", "))
	}
	return nil
}

// isCost reports a metric that a ladder weighs as a cost, whatever its role.
func isCost(metric string) bool {
	return slices.Contains([]string{MetricPower, MetricEnergy, MetricTemperature, compare.MetricAmbient, MetricRise, MetricEfficiency}, metric)
}

// scores lists a pair's scores that every profile has.
func (c *climb) scores(p *pair) []*compare.Measurement {
	var out []*compare.Measurement
	for _, m := range p.metrics {
		if m.Role == compare.Score && c.common[m.ID()] {
			out = append(out, m)
		}
	}
	return out
}

// pool pools metrics of two profiles; nil where it cannot, which a note of the
// pair says.
func (c *climb) pool(p *pair, of compare.PoolOf, parts []*compare.Measurement) *compare.Pool {
	pool, note := c.Pool(of, parts, c.policy)
	if note != nil {
		p.notes = append(p.notes, *note)
	}
	return pool
}

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

// steps judges each step and the total: suites corrected together, and scores
// corrected together over all of them.
func (c *climb) steps(l *Ladder, pooled map[*pair]*compare.Pool) {
	var pools []*compare.Pool
	var scores, others []*compare.Measurement
	absent := 0
	for _, at := range c.ends() {
		p := c.pairs[at]
		for _, m := range p.Absent(c.policy) {
			if c.opt.Wants(m.ID()) {
				absent++
			}
		}
		if pool := pooled[p]; pool != nil {
			pools = append(pools, pool)
		}
		for _, m := range p.metrics {
			if m.InFamily() {
				scores = append(scores, m)
			} else {
				others = append(others, m)
			}
		}
	}
	results, settled := map[*compare.Measurement]*compare.Result{}, map[*compare.Measurement]bool{}
	for _, r := range append(c.Results(scores, absent, c.policy, nil), c.ResultsAlone(others, c.policy, nil)...) {
		results[r.Measurement], settled[r.Measurement] = r, r.Verdict != nil && r.Verdict.Settled()
	}
	suites := map[*compare.Pool]*compare.Suite{}
	for _, s := range c.Suites(pools, c.policy, func(m *compare.Measurement) bool { return settled[m] }) {
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
	l.Explained = explained(l)
}

// explained reports whether noise explains the gap between the product and the
// measured total: it lies within their half-widths, added as independent ones
// are.
func explained(l *Ladder) bool {
	squares := 0.0
	for _, s := range l.Measured() {
		if s.Suite == nil || s.Suite.Interval == nil {
			return false
		}
		half := (math.Log1p(s.Suite.Interval[1]) - math.Log1p(s.Suite.Interval[0])) / 2
		squares += half * half
	}
	gap := math.Log1p(l.Product) - math.Log1p(l.Total.Suite.Change)
	return gap*gap <= squares
}

// rungs works out what each profile costs and brings beside the first, each
// quantity judged by itself.
func (c *climb) rungs() []*Rung {
	heat := c.firstPriced(MetricRise, MetricTemperature)
	rungs := []*Rung{{Profile: c.profiles[0]}}
	for j := 1; j < len(c.profiles); j++ {
		p := c.pairs[[2]int{0, j}]
		alone := func(pool *compare.Pool) *compare.Suite {
			if pool == nil {
				return nil
			}
			terms := c.Terms
			terms.Correction = compare.NoCorrection
			return terms.Suites([]*compare.Pool{pool}, c.policy, nil)[0]
		}
		rungs = append(rungs, &Rung{Profile: c.profiles[j],
			Speed: alone(c.pool(p, compare.PoolOf{Name: "speed"}, c.scores(p))),
			Power: alone(c.costs(p, MetricPower)), Heat: alone(c.costs(p, heat)),
			Energy: alone(c.costs(p, MetricEnergy)), Efficiency: alone(c.costs(p, MetricEfficiency))})
	}
	return rungs
}

// notes says what a careful reader would ask about the chain.
func (c *climb) notes(l *Ladder) []compare.Note {
	var out []compare.Note
	note := func(kind, format string, args ...any) {
		out = append(out, compare.Note{Kind: kind, Text: fmt.Sprintf(format, args...)})
	}
	if n := len(l.Steps); n > 1 && l.Total.Suite != nil && l.Total.Suite.Interval != nil {
		s := l.Total.Suite
		p := s.Places()
		text := "each step has noise of its own, which explains the gap; the measured total counts"
		if !l.Explained {
			text = "that is more than their noise explains: the steps were measured in other sittings or blocks, " +
				"or something changed between them; the measured total counts"
		}
		if compare.Decimal(100*l.Product, p) != compare.Decimal(100*s.Change, p) {
			note("product", "the %d steps multiply to %+.*f %%, measured last against first it is %+.*f %%; %s", n, p, 100*l.Product, p, 100*s.Change, text)
		}
	}
	for _, metric := range []string{MetricPower, MetricEnergy, MetricTemperature} {
		if names := c.unpriced(metric); len(names) > 0 {
			note("cost-left-out", "%s is compared on benchmarks that have it for every profile; left out: %s", metric, compare.List(names, 6))
		}
	}
	if len(c.profiles) > 2 {
		note("choice", "the fastest profile is picked by the same runs that measure it, so its gain is a little flattered; "+
			"which profile beats which is corrected over all pairs")
	}
	return out
}
