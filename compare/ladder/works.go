package ladder

import (
	"fmt"
	"math"
	"strings"

	"tunegate/compare"
	"tunegate/stats/plan"
)

// Work is one kind of work and the profile that is fastest at it.
type Work struct {
	Name   string
	Mix    bool
	Scores []string
	Leader string
	// Gain is of the leader over the first profile; nil where it is the first. Its
	// interval holds for all profiles and kinds of work at once, since the leader is
	// picked among them.
	Gain    *compare.Result
	Rivals  []string // that the leader does not really beat
	TooFew  int      // sessions or runs a side that it takes to tell so many profiles apart; 0 where there are enough
	Settled bool
}

// Share is the part of the work that a class has in a mix.
type Share struct {
	Class string
	Part  float64
}

// kind is one kind of work: how much of a score's weight is of it.
type kind struct {
	name   string
	mix    bool
	factor func(*compare.Measurement) float64
}

// works finds the fastest profile for the suite, for each class and for the
// mix; all of them are judged together. outsideMix are the classes that the mix
// leaves out.
func (c *climb) works(l *Ladder, mix []Share) (outsideMix []string, err error) {
	classes := map[string][]*compare.Measurement{}
	var names []string
	for _, m := range c.scores(c.pairs[[2]int{0, 1}]) {
		if m.Class == "" {
			continue
		}
		if classes[m.Class] == nil {
			names = append(names, m.Class)
		}
		classes[m.Class] = append(classes[m.Class], m)
	}
	kinds := []kind{{name: "all scores", factor: func(*compare.Measurement) float64 { return 1 }}}
	for _, name := range names {
		kinds = append(kinds, kind{name: name, factor: func(m *compare.Measurement) float64 {
			if m.Class == name {
				return 1
			}
			return 0
		}})
	}
	if len(mix) > 0 {
		factor := map[string]float64{}
		var words []string
		for _, share := range mix {
			if classes[share.Class] == nil {
				return nil, fmt.Errorf("the mix names the class %q, which no score of every profile has; %s", share.Class, classWords(names))
			}
			total := 0.0
			for _, m := range classes[share.Class] {
				total += m.Weight
			}
			factor[share.Class] = share.Part / total
			words = append(words, fmt.Sprintf("%s %s %%", share.Class, compare.Decimal(math.Round(1000*share.Part)/10, 12)))
		}
		for _, name := range names {
			if factor[name] == 0 {
				outsideMix = append(outsideMix, name)
			}
		}
		kinds = append(kinds, kind{strings.Join(words, ", "), true, func(m *compare.Measurement) float64 { return factor[m.Class] }})
	}
	picks := make([]func(*pair) *compare.Pool, len(kinds))
	for i, k := range kinds {
		picks[i] = func(p *pair) *compare.Pool { return c.workPool(p, k) }
	}
	judged := c.eachPair(picks...)
	tests := 0
	for _, pairs := range judged {
		tests += len(pairs)
	}
	intervals := c.gainIntervals(judged)
	for i, k := range kinds {
		l.Works = append(l.Works, c.work(k, judged[i], tests, intervals))
	}
	return outsideMix, nil
}

// workPool pools the scores of one kind of work.
func (c *climb) workPool(p *pair, k kind) *compare.Pool {
	var parts []*compare.Measurement
	var factors []float64
	for _, m := range c.scores(p) {
		if f := k.factor(m); f > 0 {
			parts, factors = append(parts, m), append(factors, f)
		}
	}
	return c.pool(p, compare.PoolOf{Name: k.name, Factors: factors}, parts)
}

// gainIntervals are those of the changes of every profile from the first, in every
// kind of work, that hold for all of them at once.
func (c *climb) gainIntervals(judged []map[[2]int]*judged) map[*compare.Measurement]*[2]float64 {
	var lists [][]*compare.Measurement
	for j := 1; j < len(c.profiles); j++ {
		var list []*compare.Measurement
		for _, pairs := range judged {
			if r := pairs[[2]int{0, j}]; r != nil {
				list = append(list, r.Measurement)
			}
		}
		lists = append(lists, list)
	}
	return c.Simultaneous(lists...)
}

func classWords(names []string) string {
	if len(names) == 0 {
		return "classes are stated in a policy: class = \"rendering\" in a [[metric]]"
	}
	return "there are " + strings.Join(names, ", ")
}

// work finds the leader of one kind of work among so many tests: the profile with the
// largest gain over the first, and those that it does not really beat.
func (c *climb) work(k kind, pairs map[[2]int]*judged, tests int, intervals map[*compare.Measurement]*[2]float64) *Work {
	w := &Work{Name: k.name, Mix: k.mix, Leader: c.profiles[0]}
	leader := 0
	for j := 1; j < len(c.profiles); j++ {
		if r := pairs[[2]int{0, j}]; r != nil {
			if w.Scores == nil {
				for _, p := range r.Parts {
					w.Scores = append(w.Scores, p.Name())
				}
			}
			if r.Change > 0 && (w.Gain == nil || r.Change > w.Gain.Change) {
				gain := *r.Measurement
				gain.Interval = intervals[r.Measurement]
				w.Leader, w.Gain, leader = c.profiles[j], &compare.Result{Measurement: &gain, Judgement: r.Judgement}, j
			}
		}
	}
	for k, rival := range c.profiles {
		if k == leader {
			continue
		}
		r := pairs[[2]int{min(k, leader), max(k, leader)}]
		if r == nil || !r.Real || (r.Change > 0) != (leader > k) {
			w.Rivals = append(w.Rivals, rival)
		}
	}
	w.Settled = len(w.Rivals) == 0
	// The strictest step of the correction, which the first of all needs.
	alpha := c.StrictestP(tests)
	for _, r := range pairs {
		if c.Correction != compare.NoCorrection && !r.Reaches(alpha) {
			w.TooFew = max(w.TooFew, plan.MinSampleSize(alpha))
		}
	}
	return w
}
