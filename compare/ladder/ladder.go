// Package ladder judges a chain of profiles, each tried on top of the one before.
//
// Climb compares each profile with the one before it and the last with the first.
// The scores of all steps share one correction. The Ladder that it returns holds
// the steps, the total as measured beside the product of the steps, what each
// profile costs and brings beside the first (Rung), the profiles that no other one
// beats on both speed and cost (Front), and the fastest profile for each class of
// work (Work).
//
// Notes are kinds with values. Package report puts them into words. Stable are the
// words of Front and the names of the metrics.
package ladder

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"tunegate/compare"
	"tunegate/compare/doubts"
	"tunegate/compare/internal/work"
)

// maxRungs is the largest number of profiles on a ladder.
const maxRungs = 12

// Ladder is a chain of profiles.
type Ladder struct {
	Profiles []string
	compare.Terms
	Policy  string   // the file; empty for none
	Scores  []string // that every profile has: what the suite is made of
	Weights []float64
	LeftOut []Unmeasured // scores that some profile lacks
	Steps   []*Step      // from each profile to the next
	Total   *Step        // from the first to the last, measured; the step where there is one
	Product float64      // of the steps' ratios, less 1
	// Gap is between the product and the measured total; nil for a single step, and
	// where it cannot be judged.
	Gap       *Gap
	Rungs     []*Rung
	FrontCost string   // the cost of the front; empty where none is recorded
	FrontOf   []string // the benchmarks that it is measured on
	Works     []*Work
	SetAside  []compare.ExcludedRun
	Notes     []Note         // on the chain; the steps' comparisons have their own
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
	if len(profiles) < 2 || len(profiles) > maxRungs {
		return nil, fmt.Errorf("a ladder has 2 to %d profiles, found %d", maxRungs, len(profiles))
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
	l := &Ladder{Profiles: profiles, Terms: c.Terms, Policy: policy.Source, SetAside: []compare.ExcludedRun{}}
	if err := c.findCommon(l); err != nil {
		return nil, err
	}
	pools := c.poolSteps()
	l.Rungs = c.rungs()
	outsideMix, err := c.works(l, mix)
	if err != nil {
		return nil, err
	}
	c.front(l)
	c.steps(l, pools)
	l.Notes = c.notes(l, outsideMix)
	for _, s := range l.Measured() {
		for _, run := range s.Comparison.SetAside {
			if !slices.Contains(l.SetAside, run) {
				l.SetAside = append(l.SetAside, run)
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
	done := work.NewProgress(len(c.profiles)*(len(c.profiles)-1)/2, c.opt.Progress)
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
				if !m.Scored() || m.Scale != compare.Ratio || isCost(m.ID().Metric) {
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
		l.LeftOut = append(l.LeftOut, Unmeasured{m.Name(), without})
	}
	if len(c.common) == 0 {
		return fmt.Errorf("no score was measured on every profile (%s), and steps measured on different work cannot be chained; "+
			"run one benchmark on all of them",
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
