package compare

import (
	"fmt"
	"math"

	"tunegate/stats"
)

// RerunsWish says what a plan of further runs is for.
type RerunsWish struct {
	// Change is what has to be seen, as people write it: in per cent on a ratio
	// scale, in the unit else; nil for the tolerance.
	Change *float64
	// Within is the wanted half-width of the interval; nil for Change.
	Within *float64
	Power  float64 // chance to see it; 0 for 0.8
	// Scores is the number of scores that will be judged together; 0 for those
	// in the pilot.
	Scores         int
	SessionMinutes float64 // what a session takes before its first run
	RunMinutes     float64
	Looks          int // planned looks at the data; 0 or 1 for one
}

// Reruns answers how often to run.
type Reruns struct {
	Profiles   []string
	Confidence float64
	Correction Correction
	Power      float64
	Scores     int
	Bar        float64 // what the uncorrected p of one score has to reach
	Metrics    []*RerunPlan
	Looks      []Look
}

// Advice is a planned number of values a side, or of blocks, with the numbers
// that the pilot's uncertain spread leaves possible four times in five.
type Advice struct {
	For         float64 // the change or the half-width
	N           int
	Least, Most int
}

// Look is one planned look at the data.
type Look struct {
	Share      float64 // of all runs made by then
	Confidence float64 // that a verdict needs at this look
}

// RerunPlan is the advice for one metric.
type RerunPlan struct {
	*Result
	Spread float64 // standard deviation of what counts once; a fraction on a ratio scale
	Floor  int     // values a side, or blocks, below which nothing can be settled
	// WantedRuns and WantedSessions are what the policy wants a side, 0 for no
	// demand. The advice is never below it.
	WantedRuns, WantedSessions int
	See                        *Advice
	SeeFrom                    string // where the change to be seen comes from: "tolerance", "--change" or "observed change"
	Precise                    *Advice
	Noether                    int // runs a side by Noether's formula; 0 in blocks
	Between                    float64
	WithinSd                   float64 // of runs of one session; both 0 where no session has two runs
	BestRuns                   float64 // runs a session by Cochran's rule; 0 where it cannot be told
	Schedules                  []Schedule
}

// Schedule is one way to split the work.
type Schedule struct {
	RunsPerSession int
	Sessions       int     // a side
	Minutes        float64 // of both sides together; 0 where no times are given
	Cheapest       bool
}

// PlanReruns plans from the pilot runs of two profiles, or of one taken for
// both sides.
func PlanReruns(before, after []*Series, names []string, policy Policy, wish RerunsWish, opt Options) (*Reruns, error) {
	c := &Comparison{Confidence: policy.Confidence, Correction: policy.Correction, Resamples: opt.Resamples, Seed: opt.Seed}
	c.Before, c.After = names[0], names[len(names)-1]
	c.fillDefaults()
	if err := c.pairUp(before, after, policy, opt); err != nil {
		return nil, err
	}
	scores := 0
	for _, r := range c.Results {
		if r.Role == Score {
			scores++
		}
	}
	c.progress = newProgress(2*len(c.Results)+scores, opt.Progress)
	c.measure()
	c.decide(policy, opt)
	p := &Reruns{Profiles: names, Confidence: c.Confidence, Correction: c.Correction, Power: wish.Power, Scores: wish.Scores}
	if p.Power == 0 {
		p.Power = power
	}
	if p.Scores == 0 {
		p.Scores = max(1, c.Family)
	}
	p.Bar = 1 - c.Confidence
	if c.Correction != NoCorrection {
		p.Bar /= float64(p.Scores) // the strictest step, whatever the others do
	}
	for look := 1; wish.Looks > 1 && look <= wish.Looks; look++ {
		p.Looks = append(p.Looks, Look{float64(look) / float64(wish.Looks), LookConfidence(c.Confidence, look, wish.Looks)})
	}
	single := len(names) == 1
	for _, r := range c.Results {
		if r.Role == Score {
			p.Metrics = append(p.Metrics, p.planFor(r, policy, wish, single))
			c.progress.step()
		}
	}
	if len(p.Metrics) == 0 {
		return nil, fmt.Errorf("there is no score to plan for; costs and infos decide nothing")
	}
	return p, nil
}

// PlanFromSpread plans from a stated spread alone: the standard deviation of
// what counts once, a fraction on a ratio scale.
func PlanFromSpread(spread float64, policy Policy, wish RerunsWish) (*Reruns, error) {
	var runs [2]Runs
	for i, name := range []string{"before", "after"} {
		for k, v := range stats.NormalScores(40, spread) {
			value := Value{Profile: name, Benchmark: "the benchmark", Unit: "s", Value: math.Exp(v), Session: fmt.Sprint(k)}
			if err := runs[i].Add(value); err != nil {
				return nil, err
			}
		}
	}
	p, err := PlanReruns(runs[0].Series(), runs[1].Series(), []string{"before", "after"}, policy, wish, Options{Resamples: 1000})
	if err != nil {
		return nil, err
	}
	p.Profiles = nil
	for _, m := range p.Metrics { // a spread that is stated is not uncertain
		for _, a := range []*Advice{m.See, m.Precise} {
			if a != nil {
				a.Least, a.Most = a.N, a.N
			}
		}
	}
	return p, nil
}

func (p *Reruns) planFor(r *Result, policy Policy, wish RerunsWish, single bool) *RerunPlan {
	m := &RerunPlan{Result: r, SeeFrom: "tolerance", Floor: r.floorSize(math.Min(p.Bar, 1-p.Confidence)),
		WantedRuns: policy.FewestRuns, WantedSessions: policy.FewestSessions}
	design := stats.Design{Confidence: p.Confidence, Alpha: p.Bar, Power: p.Power}
	change := 0.0
	if r.Tolerance != nil {
		change = *r.Tolerance
	}
	switch {
	case wish.Change != nil:
		change, m.SeeFrom = *r.stored(*wish.Change), "--change"
	case change == 0 && !single:
		change, m.SeeFrom = math.Abs(r.Change), "observed change"
	}
	pl := r.planner
	pl.design = design
	df := float64(len(pl.before) + len(pl.after) - 2)
	switch {
	case pl.strata != nil:
		df = 0
		for _, s := range pl.strata {
			df += float64(len(s.Before) + len(s.After) - 2)
		}
	case pl.differences != nil:
		df = float64(len(pl.differences) - 1)
	case single:
		df = float64(len(pl.before) - 1)
	}
	m.Spread = r.spreadShown(pl.spread())
	if df >= 1 {
		lo, hi := stats.SpreadRange(df, 0.8)
		shift := math.Abs(r.lossShift(change))
		m.See = advise(change, lo, hi, func(f float64) (int, bool) { return pl.spreadBy(f).sizeToCatch(shift, 0) }).atLeast(r.wanted)
		within := change
		if wish.Within != nil {
			within = *r.stored(*wish.Within)
		}
		half := math.Abs(r.lossShift(within))
		m.Precise = advise(within, lo, hi, func(f float64) (int, bool) { return pl.spreadBy(f).precision(half) }).atLeast(r.wanted)
		if sd := pl.spread(); r.blocks == nil && sd > 0 {
			m.Noether = stats.NoetherSize(stats.ShiftedSuperiority(shift/sd), p.Bar, p.Power)
		}
	}
	m.split(r, pl, policy, wish)
	return m
}

// atLeast raises advice to what the policy wants anyway.
func (a *Advice) atLeast(n int) *Advice {
	if a != nil {
		a.N, a.Least, a.Most = max(a.N, n), max(a.Least, n), max(a.Most, n)
	}
	return a
}

// advise asks for the number at the pilot's spread and at both ends of what it
// may truly be.
func advise(what, lo, hi float64, size func(factor float64) (int, bool)) *Advice {
	n, ok := size(1)
	if !ok {
		return nil
	}
	a := &Advice{For: what, N: n, Least: n, Most: n}
	if least, ok := size(lo); ok {
		a.Least = min(least, n)
	}
	if most, ok := size(hi); ok {
		a.Most = max(most, n)
	}
	return a
}

// spreadShown turns a standard deviation of compared values into what is
// shown.
func (r *Result) spreadShown(sd float64) float64 {
	if r.Scale == Ratio {
		return math.Expm1(sd)
	}
	return sd
}

// split weighs sessions against runs, where sessions hold several.
func (m *RerunPlan) split(r *Result, pl planner, policy Policy, wish RerunsWish) {
	if r.blocks != nil || m.See == nil || r.Replication != BySession {
		return
	}
	// Each side has a level of its own: sessions are centred on their side's.
	var sessions [][]float64
	for _, side := range []sample{r.before, r.after} {
		centre := median(side.values)
		for s := range side.spells() {
			runs := make([]float64, len(s.runs))
			for i, v := range s.runs {
				runs[i] = v - centre
			}
			sessions = append(sessions, runs)
		}
	}
	between, within := stats.VarianceComponents(sessions)
	if math.IsNaN(between) || math.IsNaN(within) {
		return
	}
	m.Between, m.WithinSd = r.spreadShown(math.Sqrt(between)), r.spreadShown(math.Sqrt(within))
	timed := wish.RunMinutes > 0
	if timed {
		if best := stats.RunsPerSession(between, within, wish.SessionMinutes, wish.RunMinutes); !math.IsInf(best, 0) {
			m.BestRuns = best
		}
	}
	usual := math.Max(1, r.before.usualRun)
	now := between + within/usual
	if !(now > 0) {
		return
	}
	shift := math.Abs(r.lossShift(m.See.For))
	cheapest := -1
	for _, runs := range []int{1, 2, 3, 5, 7, 10} {
		factor := math.Sqrt((between + within/float64(runs)) / now)
		n, ok := pl.spreadBy(factor).sizeToCatch(shift, 0)
		if !ok {
			continue
		}
		s := Schedule{RunsPerSession: runs, Sessions: max(n, r.fewest(policy, float64(runs)))}
		if timed {
			s.Minutes = 2 * float64(s.Sessions) * (wish.SessionMinutes + float64(runs)*wish.RunMinutes)
			if cheapest < 0 || s.Minutes < m.Schedules[cheapest].Minutes {
				cheapest = len(m.Schedules)
			}
		}
		m.Schedules = append(m.Schedules, s)
	}
	if cheapest >= 0 {
		m.Schedules[cheapest].Cheapest = true
	}
}
