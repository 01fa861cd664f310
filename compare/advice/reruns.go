// Package advice plans what to run next.
//
// PlanReruns says how many runs or sessions a comparison needs, from pilot runs;
// PlanFromSpread says so from a standard deviation alone. Sheet puts the runs of a
// plan in an order, balanced and otherwise drawn at random. CountPasses says what
// counted stability passes prove about a failure rate.
//
// Sizes are values a side, or blocks; the numerics are those of
// tunegate/stats/plan.
package advice

import (
	"fmt"
	"math"
	"slices"

	descriptive "github.com/montanaflynn/stats"
	"gonum.org/v1/gonum/floats"

	"tunegate/compare"
	"tunegate/compare/internal/work"
	"tunegate/stats/plan"
)

// Wish says what a plan of further runs is for.
type Wish struct {
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
	Looks          int // planned looks at the data, 1 or 2; 0 for one
	// Hours, or else Sessions more a side, is what may be spent on what is open; 0 of
	// both for a list of budgets.
	Hours    float64
	Sessions int
	WarmUps  int // of a benchmark in a session, before the runs that count
}

// Reruns answers how often to run.
type Reruns struct {
	Profiles   []string
	Confidence float64
	Correction compare.Correction
	Power      float64
	Scores     int
	Family     compare.Family // what they are; zero where their number was stated
	CriticalP  float64        // what the uncorrected p of one score has to reach
	Metrics    []*Plan
	// Overall is the confidence that two planned looks keep together, Confidence then
	// that of each; 0 for one look.
	Overall float64
	Next    *Next // what to run next; nil of a single profile and of a spread
}

// Size is a planned number of values a side, or of blocks, with the numbers
// that the pilot's uncertain spread leaves possible four times in five.
type Size struct {
	For      float64 // the change or the half-width
	N        int
	Min, Max int
}

// Plan is the advice for one metric.
type Plan struct {
	*compare.Result
	Spread  float64 // standard deviation of what counts once; a fraction on a ratio scale
	MinSize int     // values a side, or blocks, below which nothing can be settled
	// WantedRuns and WantedSessions are what the policy wants a side, 0 for no
	// demand. The advice is never below it.
	WantedRuns, WantedSessions int
	See                        *Size
	SeeHours                   float64 // that both sides of See take from nothing; 0 where minutes are not known
	SeeFrom                    SeeFrom
	Precise                    *Size
	Noether                    int // runs a side by Noether's formula; 0 in blocks
	Between                    float64
	WithinSd                   float64 // of runs of one session; both 0 where no session has two runs
	BestRuns                   float64 // runs a session by Cochran's rule; 0 where it cannot be told
	Schedules                  []Schedule
}

// SeeFrom is where the change to be seen comes from.
type SeeFrom string

// The sources of the change to be seen.
const (
	SeeTolerance SeeFrom = "tolerance"
	SeeStated    SeeFrom = "stated"
	SeeObserved  SeeFrom = "nearer end of the observed change" // of its 80 % interval
)

// Schedule is one way to split the work.
type Schedule struct {
	RunsPerSession int
	Sessions       int     // a side
	Minutes        float64 // of both sides together; 0 where no times are given
	Cheapest       bool
}

// PlanReruns plans from the pilot runs of two profiles, or of one taken for
// both sides. An error is a *compare.PlacedError where a value is at fault.
func PlanReruns(before, after []*compare.Series, names []string, policy compare.Policy, wish Wish, opt compare.Options) (*Reruns, error) {
	return planReruns(before, after, names, policy, wish, opt, false)
}

// planReruns is PlanReruns; known says that the pilot's spread is the true one.
func planReruns(before, after []*compare.Series, names []string, policy compare.Policy, wish Wish, opt compare.Options, known bool) (
	*Reruns, error) {
	progress := opt.Progress
	opt.Progress = work.PartOf(progress, 0, 2)
	opt.Minutes = compare.Minutes{Session: wish.SessionMinutes, Run: wish.RunMinutes}
	opt.Look = 2
	compared := len(names) == 2 && !known
	if !compared && wish.Looks < 2 {
		opt.Look = 0
	}
	opt.Minutes = compare.Minutes{Session: wish.SessionMinutes, Run: wish.RunMinutes}
	c, err := compare.Compare(before, after, [2]string{names[0], names[len(names)-1]}, policy, opt)
	if err != nil {
		return nil, err
	}
	done := work.NewProgress(len(c.Results), work.PartOf(progress, 1, 2))
	terms := c.Terms
	p := &Reruns{Profiles: names, Confidence: terms.Confidence, Overall: c.Overall, Correction: terms.Correction, Power: wish.Power,
		Scores: wish.Scores}
	if p.Power == 0 {
		p.Power = 0.8
	}
	if p.Scores == 0 {
		p.Family, p.Scores = c.Family, max(1, c.Family.Members())
	}
	p.CriticalP = terms.StrictestFamilyP(p.Scores)
	for _, r := range c.Results {
		done.Step()
		if r.Role == compare.Score {
			m := p.planFor(r, terms, policy, wish, len(names) == 1, known)
			if m.See != nil && c.Minutes.Known() && (!known || c.Minutes.RunFrom == compare.MinutesStated) {
				session := c.Minutes.Session + r.Before.UsualRuns*c.Minutes.RunOf(r.Benchmark)
				m.SeeHours = 2 * float64(m.See.N) * session / 60
			}
			p.Metrics = append(p.Metrics, m)
		}
	}
	if len(p.Metrics) == 0 {
		return nil, fmt.Errorf("there is no score to plan for; costs and infos decide nothing")
	}
	if compared {
		p.Next = NextOf(c, lastLook(before, after), policy, wish)
	}
	return p, nil
}

// PlanFromSpread plans from a stated spread alone: the standard deviation of
// what counts once, a fraction on a ratio scale.
func PlanFromSpread(spread float64, policy compare.Policy, wish Wish) (*Reruns, error) {
	var runs [2]compare.Runs
	for i, name := range []string{"before", "after"} {
		for k, v := range plan.NormalScores(40, spread) {
			value := compare.Value{Profile: name, Benchmark: "the benchmark", Unit: "s", Value: math.Exp(v), Session: fmt.Sprint(k)}
			if err := runs[i].Add(value); err != nil {
				return nil, err
			}
		}
	}
	p, err := planReruns(runs[0].Series(), runs[1].Series(), []string{"before", "after"}, policy, wish, compare.Options{Resamples: 1000}, true)
	if err != nil {
		return nil, err
	}
	p.Profiles = nil
	return p, nil
}

func (p *Reruns) planFor(r *compare.Result, terms compare.Terms, policy compare.Policy, wish Wish, single, known bool) *Plan {
	design := plan.Design{Confidence: p.Confidence, CriticalP: p.CriticalP, Power: p.Power}
	if !single && !known && wish.Scores == 0 { // as the comparison itself advises
		design = r.Next
		design.Power = p.Power
	}
	planner := r.Planner(design, policy)
	m := &Plan{Result: r, SeeFrom: SeeTolerance, MinSize: r.MinSize(planner, terms.StrictestP(p.Scores)),
		WantedRuns: policy.FewestRuns, WantedSessions: policy.FewestSessions}
	switch pilot := planner.Pilot; {
	case known:
		planner = planner.From(pilot.Known(1))
	case single && r.Blocks == nil: // both sides are the same values
		pilot.DF = float64(r.Replicates[0] - 1)
		planner = planner.From(pilot)
	}
	change := 0.0
	if r.Tolerance != nil {
		change = *r.Tolerance
	}
	switch {
	case wish.Change != nil:
		change, m.SeeFrom = *r.Stored(*wish.Change), SeeStated
	case change == 0 && !single:
		m.SeeFrom = SeeObserved
		if shift, ok := planner.NearEnd(); ok {
			change = r.LossOf(shift)
		}
	}
	m.Spread = spreadShown(r.Metric, planner.Pilot.Spread())
	if planner.Pilot.DF >= 1 {
		shift, margin := math.Abs(r.LossShift(change)), 0.0
		if m.SeeFrom == SeeStated && r.Tolerance != nil && change > *r.Tolerance { // to be estimated beyond it, too
			margin = r.LossShift(*r.Tolerance)
		}
		m.See = m.advise(change, planner, func(x compare.Planner) (int, bool) { return x.SizeToCatch(shift, margin) })
		within := change
		if wish.Within != nil {
			within = *r.Stored(*wish.Within)
		}
		half := math.Abs(r.LossShift(within))
		m.Precise = m.advise(within, planner, func(x compare.Planner) (int, bool) { return x.Precision(half) })
		if sd := planner.Pilot.Spread(); r.Blocks == nil && sd > 0 {
			m.Noether = plan.NoetherSize(plan.ShiftedSuperiority(shift/sd), p.CriticalP, p.Power)
		}
	}
	m.split(planner, policy, wish)
	return m
}

// advise asks for the number, and for those at both ends of what the spread may truly
// be. It is never fewer than can settle anything or than the policy wants, and nil
// where no number would do.
func (m *Plan) advise(what float64, planner compare.Planner, size func(compare.Planner) (int, bool)) *Size {
	n, ok := size(planner)
	if !ok {
		return nil
	}
	least := max(m.MinSize, planner.Wanted)
	s := &Size{For: what, N: max(n, least), Min: max(n, least), Max: max(n, least)}
	if math.IsInf(planner.Pilot.DF, 1) {
		return s
	}
	lo, hi := plan.SpreadRange(planner.Pilot.DF, 0.8)
	if n, ok := size(planner.From(planner.Pilot.Known(lo))); ok {
		s.Min = min(s.Min, max(n, least))
	}
	if n, ok := size(planner.From(planner.Pilot.Known(hi))); ok {
		s.Max = max(s.Max, n)
	}
	return s
}

// spreadShown turns a standard deviation of compared values into what is
// shown.
func spreadShown(m compare.Metric, sd float64) float64 {
	if m.Scale == compare.Ratio {
		return math.Expm1(sd)
	}
	return sd
}

// split weighs sessions against runs, where sessions hold several.
func (m *Plan) split(planner compare.Planner, policy compare.Policy, wish Wish) {
	if m.See == nil || m.Replication != compare.BySession {
		return
	}
	between, within := components(m.Measurement)
	if math.IsNaN(between) || math.IsNaN(within) {
		return
	}
	m.Between, m.WithinSd = spreadShown(m.Metric, math.Sqrt(between)), spreadShown(m.Metric, math.Sqrt(within))
	timed := wish.RunMinutes > 0
	if timed {
		if best := plan.RunsPerSession(between, within, wish.SessionMinutes, wish.RunMinutes); !math.IsInf(best, 0) {
			m.BestRuns = best
		}
	}
	usual := math.Max(1, math.Min(m.Before.UsualRuns, m.After.UsualRuns))
	now := between + within/usual
	if !(now > 0) {
		return
	}
	shift := math.Abs(m.LossShift(m.See.For))
	cheapest := -1
	for _, runs := range []int{1, 3, 5, 7, 9} { // odd, as advised
		factor := math.Sqrt((between + within/float64(runs)) / now)
		n, ok := planner.From(planner.Pilot.Scaled(factor)).SizeToCatch(shift, 0)
		if !ok {
			continue
		}
		s := Schedule{RunsPerSession: runs, Sessions: max(n, m.MinSize, m.Fewest(policy, float64(runs)))}
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

// components splits the variance of runs into what sessions and what runs of one
// session differ by. Each side has a level of its own: sessions are centred on their
// side's.
func components(m *compare.Measurement) (between, within float64) {
	var sessions [][]float64
	for _, side := range []compare.Sample{m.Before, m.After} {
		centre, _ := descriptive.Median(side.Values) // it only fails on empty input
		for s := range side.Spells() {
			sessions = append(sessions, runsLike(m.Metric, s, centre))
		}
	}
	return plan.VarianceComponents(sessions)
}

// lastLook is the last planned look that runs were made for; 0 for none.
func lastLook(sides ...[]*compare.Series) (last int) {
	for _, s := range slices.Concat(sides...) {
		for _, o := range s.All() {
			if !o.Missing {
				last = max(last, int(o.Look))
			}
		}
	}
	return last
}

// runsLike are the runs of a session less a centre, as compared; of a reduced one as
// many values with the same mean and standard deviation, which is all that a variance
// component asks of them.
func runsLike(m compare.Metric, s compare.Spell, centre float64) []float64 {
	r := s.Reduced
	if r == nil {
		runs := slices.Clone(s.Runs)
		floats.AddConst(-centre, runs)
		return runs
	}
	mean := r.Mean
	if m.Scale == compare.Ratio {
		mean = math.Log(mean)
	}
	runs := slices.Repeat([]float64{mean - centre}, r.Runs)
	if r.Runs > 1 {
		off := r.Spread * math.Sqrt(float64(r.Runs-1)/2)
		runs[0], runs[1] = runs[0]-off, runs[1]+off
	}
	return runs
}
