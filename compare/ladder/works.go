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
	Name    string
	Mix     bool
	Scores  []string
	Leader  string
	Gain    *compare.Result // of the leader over the first profile; nil where it is the first
	Rivals  []string        // that the leader does not really beat
	TooFew  int             // sessions or runs a side that it takes to tell so many profiles apart; 0 where there are enough
	Settled bool
}

// Share is the part of the work that a class has in a mix.
type Share struct {
	Class string
	Part  float64
}

// works finds the fastest profile for the suite, for each class and for the
// mix. outsideMix are the classes that the mix leaves out.
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
	l.Works = append(l.Works, c.work("all scores", func(*compare.Measurement) float64 { return 1 }))
	for _, name := range names {
		l.Works = append(l.Works, c.work(name, func(m *compare.Measurement) float64 {
			if m.Class == name {
				return 1
			}
			return 0
		}))
	}
	if len(mix) == 0 {
		return nil, nil
	}
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
	w := c.work(strings.Join(words, ", "), func(m *compare.Measurement) float64 { return factor[m.Class] })
	w.Mix = true
	l.Works = append(l.Works, w)
	return outsideMix, nil
}

func classWords(names []string) string {
	if len(names) == 0 {
		return "classes are stated in a policy: class = \"rendering\" in a [[metric]]"
	}
	return "there are " + strings.Join(names, ", ")
}

// work finds the leader of one kind of work: the profile with the largest gain
// over the first, and those that it does not really beat.
func (c *climb) work(name string, factor func(*compare.Measurement) float64) *Work {
	w := &Work{Name: name, Leader: c.profiles[0]}
	pairs := c.eachPair(func(p *pair) *compare.Pool {
		var parts []*compare.Measurement
		var factors []float64
		for _, m := range c.scores(p) {
			if f := factor(m); f > 0 {
				parts, factors = append(parts, m), append(factors, f)
			}
		}
		return c.pool(p, compare.PoolOf{Name: name, Factors: factors}, parts)
	})
	leader := 0
	for j := 1; j < len(c.profiles); j++ {
		if r := pairs[[2]int{0, j}]; r != nil {
			if w.Scores == nil {
				for _, p := range r.Parts {
					w.Scores = append(w.Scores, p.Name())
				}
			}
			if r.Change > 0 && (w.Gain == nil || r.Change > w.Gain.Change) {
				w.Leader, w.Gain, leader = c.profiles[j], &compare.Result{Measurement: r.Measurement, Judgement: r.Judgement}, j
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
	alpha := c.StrictestP(len(pairs))
	for _, r := range pairs {
		if c.Correction != compare.NoCorrection && !r.Reaches(alpha) {
			w.TooFew = max(w.TooFew, plan.MinSampleSize(alpha))
		}
	}
	return w
}
