// Package doubts looks for what would make a verdict on runs unsafe: too few of
// them, drift, dependence, outliers, two modes, coarse or copied readings, copied runs,
// and sides that were measured at different times. It gives no verdict and removes no
// value.
//
// Check takes series before anything is compared, OfComparison those of a
// comparison, OfComparisons those of all that are judged in one call. The Report that
// they return lists each Finding with its evidence and a Grade: fine, look, or stop.
// The tests are those of tunegate/stats/check.
//
// The tests of one call are one family: over all its series and checks, clean runs
// are called anything in at most one call in twenty, in normal, exponential and
// Student's t noise (TestCleanCalls measures it). What is left to find is measured
// in TestPower.
//
// Stable are the words of Grade and the names of the checks.
package doubts

import (
	"math"
	"slices"
	"strings"
	"time"

	descriptive "github.com/montanaflynn/stats"

	"tunegate/compare"
	"tunegate/compare/internal/work"
	"tunegate/stats"
	"tunegate/stats/check"
	"tunegate/stats/plan"
)

// Grade says how much a finding matters.
type Grade string

// The grades, of a finding and of data as a whole.
const (
	GradeFine  Grade = "fine"
	GradeCheck Grade = "check" // a verdict may stand, but check this first
	GradeStop  Grade = "stop"  // a verdict would not be safe
)

// Finding is one thing about runs that would make a verdict unsafe.
type Finding struct {
	Grade    Grade
	Check    string // see the constants
	Profile  string // both names, or a list of them, where it is about several
	Series   string // the metric's name, or AllSeries
	Evidence Evidence
}

// AllSeries stands for every series of a profile.
const AllSeries = "all"

// Evidence is what a finding rests on. Which fields are filled depends on its
// check; package report puts it into words.
type Evidence struct {
	Count, Of   int                 // values and how many settle something, readings, equal pairs, runs in a row, in a group of all
	Replication compare.Replication // what is counted
	InARow      bool                // of copied values: a stretch of them occurs twice
	Value       float64             // the step of readings, the only reading, or the one that lies far out
	Unit        string              // of Value
	Spread      float64             // standard deviation of readings in steps
	Statistic   float64             // tau of a drift, modified z-score of an outlier, F of sessions
	P           float64             // corrected for all that was looked at in the call
	Key         string              // of a condition
	Recorded    []Recorded          // the condition's values, as profiles bring them up
	Without     []string            // profiles that record no such condition
	Copies      *Copies             // runs that stand in two places
	Gap         time.Duration       // between the last run of one side and the first of the other
}

// Recorded is a value of a condition, empty where it is stated as such, and the
// profiles that record it.
type Recorded struct {
	Value    string
	Profiles []string
}

// The checks. The levels of those that test something stand below.
const (
	CheckFewRuns    = "too few runs"
	CheckNoSessions = "no sessions"
	CheckApart      = "sides at different times"
	CheckCoarse     = "coarse readings"
	CheckDrift      = "drift"
	CheckDependence = "dependent runs"
	CheckOutlier    = "outlier"
	CheckModes      = "two modes"
	CheckSessions   = "sessions far apart"
	CheckCopied     = "copied values"
	CheckCopies     = "copied runs"
	CheckNoSpread   = "no spread"
	CheckConditions = "conditions differ"
	CheckReduced    = "reduced data" // what only runs show was not looked at
)

// checksLevel is the chance that the statistical checks of a call find anything in
// clean runs, over all series and checks together.
const checksLevel = 0.049

// shares of checksLevel, in parts of all that are made: drift and
// dependence are easy to see where they matter and outliers hard.
var shares = map[string]float64{CheckDrift: 15, CheckDependence: 20, CheckOutlier: 25, CheckModes: 20, CheckSessions: 6, CheckCopied: 10}

// farApart is by how many times the variance of runs that of sessions has to exceed it
// before sessions are far apart.
const farApart = 2

// Report is what the data look like before anything is judged.
type Report struct {
	Grade    Grade
	Series   int // looked at
	Findings []Finding
}

// Check looks at every series on its own, and at sides that will be compared. Of
// the options Better and Progress count. An error is a *compare.PlacedError.
func Check(series []*compare.Series, policy compare.Policy, opt compare.Options) (*Report, error) {
	all, err := look(series, policy, opt)
	if err != nil {
		return nil, err
	}
	return gather(all, significant(all), policy).With(slices.Concat(copiesOf(series), reduced(series))...), nil
}

// Compared is a comparison and the series of both sides.
type Compared struct {
	*compare.Comparison
	Before, After []*compare.Series
}

// OfComparison looks at every series that was compared, in the only comparison of a
// call.
func OfComparison(c Compared, policy compare.Policy, opt compare.Options) (*Report, error) {
	reports, err := OfComparisons([]Compared{c}, policy, opt)
	if err != nil {
		return nil, err
	}
	return reports[0], nil
}

// OfComparisons looks at every series that was compared in one call, and makes a report
// for each comparison. The tests of all of them are one family, in which a series that
// stands in several comparisons counts once. Options and error are those of Check.
func OfComparisons(all []Compared, policy compare.Policy, opt compare.Options) ([]*Report, error) {
	var series []*compare.Series
	at := map[*compare.Series]int{} // among them
	of := make([][]int, len(all))   // the series of each comparison
	for i, c := range all {
		by := map[compare.MetricID]*compare.Result{}
		for _, r := range c.Results {
			by[r.ID()] = r
		}
		for _, s := range slices.Concat(c.Before, c.After) {
			r := by[s.ID()]
			if r == nil {
				continue
			}
			if _, met := at[s]; !met {
				at[s] = len(series)
				known := *s // one side may state what holds for both
				known.Unit, known.Better = r.Unit, r.Better
				series = append(series, &known)
			}
			of[i] = append(of[i], at[s])
		}
	}
	looked, err := look(series, policy, opt)
	if err != nil {
		return nil, err
	}
	found := significant(looked)
	reports := make([]*Report, len(all))
	for i, places := range of {
		var pair []*compare.Series
		var own []checked
		var ownFound [][]Finding
		for _, k := range places {
			pair, own, ownFound = append(pair, series[k]), append(own, looked[k]), append(ownFound, found[k])
		}
		reports[i] = gather(own, ownFound, policy).With(slices.Concat(copiesOf(pair), reduced(pair))...)
	}
	return reports, nil
}

// look looks at every series on its own.
func look(series []*compare.Series, policy compare.Policy, opt compare.Options) ([]checked, error) {
	all := make([]checked, len(series))
	for i, s := range series {
		direction := s.Better
		if direction == "" && compare.TraitsOf(s.Unit).Better == "" {
			direction = opt.Better
		}
		m, err := policy.Resolve(s.Benchmark, s.Metric, s.Unit, direction)
		if err != nil {
			return nil, compare.ErrorAt(compare.FirstPlace(s), "%w", err)
		}
		all[i] = checked{profile: s.Profile, metric: m}
	}
	done := work.NewProgress(len(all), opt.Progress)
	failed := make([]error, len(all))
	work.OnAllCores(len(all), func(i int) {
		failed[i] = all[i].check(series[i])
		done.Step()
	})
	for _, err := range failed {
		if err != nil {
			return nil, err
		}
	}
	return all, nil
}

// checked is what a series shows by itself, however many it is judged with.
type checked struct {
	profile     string
	metric      compare.Metric
	values      int // what counts once
	labelled    bool
	perMachine  bool
	blocked     bool
	first, last int64     // times of its runs outside blocks, in Unix nanoseconds
	findings    []Finding // of checks that are no tests
	tests       []Finding // what each test would be, with its own p
}

// check looks at a single series.
func (c *checked) check(series *compare.Series) error {
	s, err := compare.Reduce(c.metric, series)
	if err != nil || s.Runs == 0 {
		return err
	}
	c.values, c.labelled, c.blocked = len(s.Values), s.Labelled, s.Blocked()
	if c.perMachine = len(series.Machines()) > 1; c.perMachine {
		c.blocked = false
	}
	for _, o := range series.All() {
		if o.Time == 0 || o.Block != "" || o.Missing || o.SetAside {
			continue
		}
		if c.first == 0 {
			c.first, c.last = o.Time, o.Time
		}
		c.first, c.last = min(c.first, o.Time), max(c.last, o.Time)
	}
	if !s.Reduced {
		c.one(s)
	}
	return nil
}

// gather puts together what all series show, what their tests found, and what shows
// only beside others.
func gather(all []checked, found [][]Finding, policy compare.Policy) *Report {
	v := &Report{Grade: GradeFine}
	scores := map[compare.MetricID]bool{}
	for _, c := range all {
		if m := c.metric; m.Role == compare.Score && m.Named {
			scores[m.ID()] = true
		}
	}
	floor := plan.MinSampleSize(compare.TermsOf(policy, compare.Options{}).StrictestP(len(scores)))
	unlabelled := map[string]bool{}
	for _, c := range all {
		if c.values == 0 {
			continue
		}
		v.Series++
		if !c.labelled && !c.blocked && !c.perMachine {
			unlabelled[c.profile] = true
		}
		if c.metric.Role == compare.Score && !c.blocked && c.values < floor {
			few := Evidence{Count: c.values, Of: floor, Replication: compare.ByRun}
			switch {
			case c.perMachine:
				few.Replication = compare.ByMachine
			case c.labelled:
				few.Replication = compare.BySession
			}
			v.add(Finding{GradeStop, CheckFewRuns, c.profile, c.metric.Name(), few})
		}
		for _, f := range c.findings {
			v.add(f)
		}
	}
	for _, f := range slices.Concat(found...) {
		v.add(f)
	}
	for _, c := range all {
		if unlabelled[c.profile] {
			delete(unlabelled, c.profile)
			v.add(Finding{GradeCheck, CheckNoSessions, c.profile, AllSeries, Evidence{}})
		}
	}
	v.apart(all)
	return v
}

// With is the report with more findings.
func (v *Report) With(findings ...Finding) *Report {
	out := &Report{v.Grade, v.Series, slices.Clone(v.Findings)}
	for _, f := range findings {
		out.add(f)
	}
	return out
}

func (v *Report) add(f Finding) {
	v.Findings = append(v.Findings, f)
	if f.Grade == GradeStop || v.Grade == GradeFine {
		v.Grade = f.Grade
	}
}

// one looks at a single sample, which may be of several machines.
func (c *checked) one(s compare.Sample) {
	m := c.metric
	finding := func(check string, e Evidence) Finding {
		g := GradeCheck
		if check == CheckCopied {
			g = GradeStop
		}
		return Finding{g, check, c.profile, m.Name(), e}
	}
	found := func(check string, e Evidence) { c.findings = append(c.findings, finding(check, e)) }
	tested := func(check string, e Evidence) { c.tests = append(c.tests, finding(check, e)) }
	ordered := slices.Clone(s.Raw) // once, for all that do not ask for the order of runs
	stats.Sort(ordered)
	if tick := stats.Resolution(ordered); s.Runs > 2 && s.StdDev < tick {
		found(CheckCoarse, Evidence{Value: tick, Unit: m.Unit, Spread: s.StdDev})
	}
	if s.Runs > 2 && s.Min == s.Max {
		found(CheckNoSpread, Evidence{Count: s.Runs, Value: s.Min, Unit: m.Unit})
		return
	}
	runs := sessionsOf(s)
	pairs, p := check.Repeats(ordered)
	copied := Evidence{Count: pairs, P: min(1, 2*p)}
	if length, q := check.RepeatedStretch(s.Raw); q < p {
		copied = Evidence{InARow: true, Count: length, P: min(1, 2*q)}
	}
	tested(CheckCopied, copied)
	if c.perMachine { // machines differ: their runs are no series
		return
	}
	_, tau, p := check.MannKendall(runs)
	tested(CheckDrift, Evidence{Statistic: tau, P: p})
	_, p = check.Lag1Test(runs)
	tested(CheckDependence, Evidence{P: p})
	at, _, p := check.Outlier(runs)
	far := Evidence{P: p}
	if p <= checksLevel {
		far.Value, far.Unit, far.Statistic = m.InUnit(flat(runs)[at]), m.Unit, farthest(runs)
	}
	tested(CheckOutlier, far)
	group, _, p := check.TwoModes(runs)
	tested(CheckModes, Evidence{Count: len(group), Of: s.Runs, P: p})
	if s.Labelled || s.Blocked() {
		f, p := check.SessionsApart(runs, farApart)
		tested(CheckSessions, Evidence{Statistic: f, P: p})
	}
}

// significant are the tests of each series whose p, corrected for all series and checks
// by Holm's method with shares, is at most checksLevel. That p takes the place of their
// own.
func significant(all []checked) [][]Finding {
	var p, weights []float64
	for _, c := range all {
		for _, f := range c.tests {
			p, weights = append(p, f.Evidence.P), append(weights, shares[f.Check])
		}
	}
	corrected := stats.WeightedHolm(p, weights)
	out := make([][]Finding, len(all))
	for i, c := range all {
		for _, f := range c.tests {
			if f.Evidence.P, corrected = corrected[0], corrected[1:]; f.Evidence.P <= checksLevel {
				out[i] = append(out[i], f)
			}
		}
	}
	return out
}

// reduced says of which profiles there are rows that stand for several runs.
func reduced(series []*compare.Series) []Finding {
	var profiles []string
	for _, s := range series {
		if s.IsReduced() && !slices.Contains(profiles, s.Profile) {
			profiles = append(profiles, s.Profile)
		}
	}
	if profiles == nil {
		return nil
	}
	return []Finding{{GradeCheck, CheckReduced, strings.Join(profiles, " and "), AllSeries, Evidence{}}}
}

// Copies are the copies that were found.
func (v *Report) Copies() (out []Copies) {
	for _, f := range v.Findings {
		if f.Evidence.Copies != nil {
			out = append(out, *f.Evidence.Copies)
		}
	}
	return out
}

// copiesOf are the copies among all series as findings.
func copiesOf(series []*compare.Series) []Finding {
	var out []Finding
	for _, c := range CopiesAmong(series) {
		where := c.Sides[0].Profile
		if other := c.Sides[1].Profile; other != where {
			where += " and " + other
		}
		out = append(out, Finding{GradeStop, CheckCopies, where, AllSeries, Evidence{Count: c.Runs, P: c.P, Copies: &c}})
	}
	return out
}

// sessionsOf lists the runs by session, all in one where none is recorded or
// each holds a single run.
func sessionsOf(s compare.Sample) [][]float64 {
	n := 0
	for range s.Spells() {
		n++
	}
	if n == s.Runs {
		all := make([]float64, 0, n)
		for x := range s.Spells() {
			all = append(all, x.Runs...)
		}
		return [][]float64{all}
	}
	out := make([][]float64, 0, n)
	for x := range s.Spells() {
		out = append(out, x.Runs)
	}
	return out
}

func flat(sessions [][]float64) []float64 {
	var out []float64
	for _, s := range sessions {
		out = append(out, s...)
	}
	return out
}

// farthest is the largest modified z-score of runs about their session.
func farthest(sessions [][]float64) float64 {
	var off []float64
	for _, s := range sessions {
		centre, _ := descriptive.Median(s) // it only fails on empty input
		for _, x := range s {
			off = append(off, x-centre)
		}
	}
	most := 0.0
	for _, z := range check.ModifiedZ(off) {
		most = math.Max(most, math.Abs(z))
	}
	return most
}
