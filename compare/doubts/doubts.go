// Package doubts looks for what would make a verdict on runs unsafe: too few of
// them, drift, dependence, outliers, two modes, coarse or copied readings, and
// sides that were measured at different times. It gives no verdict and removes no
// value.
//
// Check takes series before anything is compared, OfComparison those of a
// comparison. The Report that both return lists each Finding with its evidence and
// a Grade: fine, look, or stop. The tests are those of tunegate/stats/check.
//
// Stable are the words of Grade and the names of the checks.
package doubts

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"sort"
	"strings"

	descriptive "github.com/montanaflynn/stats"

	"tunegate/compare"
	"tunegate/stats"
	"tunegate/stats/check"
	"tunegate/stats/plan"
)

// Grade says how much a finding matters.
type Grade string

// The grades, of a finding and of data as a whole.
const (
	GradeFine Grade = "fine"
	GradeLook Grade = "look" // a verdict may stand, but look at this first
	GradeStop Grade = "stop" // a verdict would not be safe
)

// Finding is one thing about runs that would make a verdict unsafe.
type Finding struct {
	Grade    Grade
	Check    string // see the constants
	Profile  string
	Series   string // the metric's name
	Evidence string
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
	CheckNoSpread   = "no spread"
	CheckConditions = "conditions differ"
)

// Bars on the p of each statistical check. Together they call at most 5 % of
// clean series, in normal and in exponential noise, with and without sessions
// (stats/check/together_test.go, TestCleanDataIsLeftAlone).
const (
	driftBar      = 0.0075
	dependenceBar = 0.01
	outlierBar    = 0.0125
	modesBar      = 0.01
	sessionsBar   = 0.003
	copiedBar     = 0.005
	// farApart is by how many times the variance of runs that of sessions has
	// to exceed it before sessions are far apart.
	farApart = 2
)

// Report is what the data look like before anything is judged.
type Report struct {
	Grade    Grade
	Series   int // looked at
	Findings []Finding
}

// Check looks at every series on its own, and at sides that will be compared. Of
// the options Better and Progress count. An error is a *compare.PlacedError.
func Check(series []*compare.Series, policy compare.Policy, opt compare.Options) (*Report, error) {
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
	done := compare.NewProgress(len(all), opt.Progress)
	failed := make([]error, len(all))
	compare.OnAllCores(len(all), func(i int) {
		failed[i] = all[i].check(series[i])
		done.Step()
	})
	for _, err := range failed {
		if err != nil {
			return nil, err
		}
	}
	return gather(all, policy), nil
}

// OfComparison looks at every series that was compared.
func OfComparison(c *compare.Comparison, before, after []*compare.Series, policy compare.Policy, opt compare.Options) (*Report, error) {
	by := map[compare.MetricID]*compare.Result{}
	for _, r := range c.Results {
		by[r.ID()] = r
	}
	var series []*compare.Series
	for _, s := range slices.Concat(before, after) {
		if r := by[s.ID()]; r != nil {
			known := *s // one side may state what holds for both
			known.Unit, known.Better = r.Unit, r.Better
			series = append(series, &known)
		}
	}
	return Check(series, policy, opt)
}

// checked is what a series shows by itself, however many it is judged with.
type checked struct {
	profile     string
	metric      compare.Metric
	values      int // what counts once
	labelled    bool
	blocked     bool
	first, last int64 // times of its runs outside blocks, in Unix nanoseconds
	findings    []Finding
}

// check looks at a single series.
func (c *checked) check(series *compare.Series) error {
	s, err := compare.Reduce(c.metric, series)
	if err != nil || s.Runs == 0 {
		return err
	}
	c.values, c.labelled, c.blocked = len(s.Values), s.Labelled, s.Blocked()
	for _, o := range series.Observations {
		if o.Time == 0 || o.Block != "" || o.Missing || o.SetAside {
			continue
		}
		if c.first == 0 {
			c.first, c.last = o.Time, o.Time
		}
		c.first, c.last = min(c.first, o.Time), max(c.last, o.Time)
	}
	var v Report
	v.one(c.metric, c.profile, s)
	c.findings = v.Findings
	return nil
}

// gather puts together what all series show, and finds what shows only beside
// others.
func gather(all []checked, policy compare.Policy) *Report {
	v := &Report{Grade: GradeFine}
	scores := map[compare.MetricID]bool{}
	for _, c := range all {
		if m := c.metric; m.Role == compare.Score && m.Named {
			scores[m.ID()] = true
		}
	}
	confidence := policy.Confidence
	if confidence == 0 {
		confidence = compare.DefaultConfidence
	}
	criticalP := 1 - confidence
	if policy.Correction != compare.NoCorrection {
		criticalP /= math.Max(1, float64(len(scores)))
	}
	floor := plan.MinSampleSize(criticalP)
	unlabelled := map[string]bool{}
	for _, c := range all {
		if c.values == 0 {
			continue
		}
		v.Series++
		if !c.labelled && !c.blocked {
			unlabelled[c.profile] = true
		}
		if c.metric.Role == compare.Score && !c.blocked && c.values < floor {
			unit := "runs"
			if c.labelled {
				unit = "sessions"
			}
			v.add(Finding{GradeStop, CheckFewRuns, c.profile, c.metric.Name(),
				fmt.Sprintf("%d %s, and below %d a side nothing can be settled", c.values, unit, floor)})
		}
		for _, f := range c.findings {
			v.add(f)
		}
	}
	for _, c := range all {
		if unlabelled[c.profile] {
			delete(unlabelled, c.profile)
			v.add(Finding{GradeLook, CheckNoSessions, c.profile, "all", "no session is recorded, so a verdict holds for this sitting only"})
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

// one looks at a single sample.
func (v *Report) one(m compare.Metric, profile string, s compare.Sample) {
	say := func(g Grade, check, format string, args ...any) {
		v.add(Finding{g, check, profile, m.Name(), fmt.Sprintf(format, args...)})
	}
	ordered := slices.Clone(s.Raw) // once, for all that do not ask for the order of runs
	stats.Sort(ordered)
	if tick := stats.Resolution(ordered); s.Runs > 2 && s.StdDev < tick && compare.OnGrid(tick, ordered) {
		say(GradeLook, CheckCoarse, "readings in steps of %s %s spread by %s", compare.SixDigits(tick), m.Unit,
			compare.Decimal(s.StdDev, compare.Places(s.StdDev)))
	}
	if s.Runs > 2 && s.Min == s.Max {
		say(GradeLook, CheckNoSpread, "all %d readings are %s", s.Runs, strings.TrimSpace(compare.SixDigits(s.Min)+" "+m.Unit))
		return
	}
	runs := sessionsOf(s)
	if pairs, p := check.Repeats(ordered); p <= copiedBar {
		say(GradeStop, CheckCopied, "%s of equal readings, more than readings this fine repeat by chance (p = %.2g)", pairsWord(pairs), p)
	} else if length, p := check.RepeatedStretch(s.Raw); p <= copiedBar {
		say(GradeStop, CheckCopied, "%d readings in a row occur a second time (p = %.2g)", length, p)
	}
	if _, tau, p := check.MannKendall(runs); p <= driftBar {
		word := "rise"
		if tau < 0 {
			word = "fall"
		}
		say(GradeLook, CheckDrift, "values %s from run to run (Mann-Kendall, tau %.2f, p = %.2g)", word, tau, p)
	}
	if _, p := check.Lag1Test(runs); p <= dependenceBar {
		say(GradeLook, CheckDependence, "each run resembles the one before it more than runs in another order would (lag-1 "+
			"correlation, p = %.2g)", p)
	}
	if at, _, p := check.Outlier(runs); p <= outlierBar {
		far := m.InUnit(flat(runs)[at])
		say(GradeLook, CheckOutlier, "%s %s lies beyond the tail of the others (modified z-score %.1f, p = %.2g)", compare.SixDigits(far), m.Unit,
			farthest(runs), p)
	}
	if group, _, p := check.TwoModes(runs); p <= modesBar {
		say(GradeLook, CheckModes, "%d of %d runs form a group of their own (p = %.2g)", len(group), s.Runs, p)
	}
	if s.Labelled || s.Blocked() {
		if f, p := check.SessionsApart(runs, farApart); p <= sessionsBar {
			say(GradeLook, CheckSessions, "sessions differ far more than runs of one session do (F = %.1f, p = %.2g)", f, p)
		}
	}
}

func pairsWord(n int) string {
	if n == 1 {
		return "1 pair"
	}
	return fmt.Sprintf("%d pairs", n)
}

// sessionsOf lists the runs by session, all in one where none is recorded or
// each holds a single run.
func sessionsOf(s compare.Sample) [][]float64 {
	var out [][]float64
	for x := range s.Spells() {
		out = append(out, x.Runs)
	}
	if len(out) == s.Runs {
		return [][]float64{flat(out)}
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

// apart finds profiles whose times do not overlap although no block ties them.
func (v *Report) apart(all []checked) {
	type span struct {
		profile     string
		first, last int64
	}
	by := map[string]*span{}
	for _, c := range all {
		if c.first == 0 {
			continue
		}
		x := by[c.profile]
		if x == nil {
			x = &span{c.profile, c.first, c.last}
			by[c.profile] = x
		}
		x.first, x.last = min(x.first, c.first), max(x.last, c.last)
	}
	var spans []*span
	for _, x := range by {
		spans = append(spans, x)
	}
	sort.Slice(spans, func(a, b int) bool { return spans[a].first < spans[b].first })
	for i := 1; i < len(spans); i++ {
		if a, b := spans[i-1], spans[i]; a.last < b.first {
			v.add(Finding{GradeLook, CheckApart, a.profile + " and " + b.profile, "all", "all runs of one were made before the first of the other"})
		}
	}
}

// Conditions finds what is recorded differently about profiles that will be
// compared, such as the room's temperature. Profiles without a record, and
// those that the map leaves out, say nothing.
func Conditions(recorded map[string]map[string]string) []Finding {
	var out []Finding
	var profiles []string
	keys := map[string]bool{}
	for name, conditions := range recorded {
		if len(conditions) > 0 {
			profiles = append(profiles, name)
		}
		for key := range conditions {
			keys[key] = true
		}
	}
	sort.Strings(profiles)
	for _, key := range slices.Sorted(maps.Keys(keys)) {
		var order []string // the values, as profiles bring them up
		with := map[string][]string{}
		var without []string
		for _, name := range profiles {
			value, stated := recorded[name][key]
			if !stated {
				without = append(without, name)
				continue
			}
			if with[value] == nil {
				order = append(order, value)
			}
			with[value] = append(with[value], name)
		}
		if len(order) == 1 && len(without) == 0 {
			continue
		}
		parts := make([]string, len(order))
		for i, value := range order {
			parts[i] = compare.OrWord(value, "empty") + " in " + compare.List(with[value], 6)
		}
		if len(without) > 0 {
			parts = append(parts, "not recorded in "+compare.List(without, 6))
		}
		out = append(out, Finding{GradeLook, CheckConditions, compare.List(profiles, 6), "all", key + ": " + strings.Join(parts, "; ")})
	}
	return out
}

// Summary is the findings in one line, such as "drift in factory
// tile-render; two modes in 3 series", without those that a comparison states
// anyway; empty where nothing is left.
func (v *Report) Summary() string {
	var order []string
	by := map[string][]Finding{}
	for _, f := range v.Findings {
		switch f.Check {
		case CheckFewRuns, CheckNoSessions, CheckCoarse, CheckNoSpread:
			continue
		}
		if by[f.Check] == nil {
			order = append(order, f.Check)
		}
		by[f.Check] = append(by[f.Check], f)
	}
	var parts []string
	for _, check := range order {
		fs := by[check]
		where := fs[0].Profile
		if fs[0].Series != "all" {
			where += " " + fs[0].Series
		}
		if len(fs) > 1 {
			where = fmt.Sprintf("%d series", len(fs))
		}
		parts = append(parts, check+" in "+where)
	}
	return strings.Join(parts, "; ")
}
