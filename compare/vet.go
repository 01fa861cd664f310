package compare

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"sort"
	"strings"

	"tunegate/stats"
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
	Grade    Grade  `json:"grade"`
	Check    string `json:"check"` // see the constants
	Profile  string `json:"profile"`
	Series   string `json:"series"` // the metric's name
	Evidence string `json:"evidence"`
}

// The checks. Those that test something have the bars below.
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
// (stats/together_test.go, TestVetLeavesCleanDataAlone).
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

// Vetting is what the data look like before anything is judged.
type Vetting struct {
	Grade    Grade
	Series   int // looked at
	Findings []Finding
}

// Vet looks at every series on its own, and at sides that will be compared.
// Of the options Better and Progress count. Nothing is judged, and no value is
// left out because of it.
func Vet(series []*Series, policy Policy, opt Options) (*Vetting, error) {
	all, err := checkAll(series, policy, opt)
	if err != nil {
		return nil, err
	}
	return gather(all, policy), nil
}

// Checked is what a series shows by itself, however many it is judged with.
type Checked struct {
	Values   int       `json:"values"` // what counts once
	Labelled bool      `json:"labelled,omitempty"`
	Blocked  bool      `json:"blocked,omitempty"`
	First    int64     `json:"first,omitempty"` // times of its runs outside blocks, in Unix nanoseconds
	Last     int64     `json:"last,omitempty"`
	Findings []Finding `json:"findings,omitempty"`

	profile string
	metric  Metric
}

// checkAll looks at every series, on all cores.
func checkAll(series []*Series, policy Policy, opt Options) ([]Checked, error) {
	all := make([]Checked, len(series))
	for i, s := range series {
		direction := s.Better
		if direction == "" && TraitsOf(s.Unit).Better == "" {
			direction = opt.Better
		}
		m, err := policy.Resolve(s.Benchmark, s.Metric, s.Unit, direction)
		if err != nil {
			return nil, &PlacedError{firstPlace(s), err.Error()}
		}
		all[i] = Checked{profile: s.Profile, metric: m}
	}
	done := newProgress(len(all), opt.Progress)
	failed := make([]error, len(all))
	onAllCores(len(all), func(i int) {
		failed[i] = all[i].check(series[i])
		done.step()
	})
	for _, err := range failed {
		if err != nil {
			return nil, err
		}
	}
	return all, nil
}

// check looks at a single series.
func (c *Checked) check(series *Series) error {
	s, err := sampleOf(c.metric, series, func(Observation) bool { return true })
	if err != nil || s.Runs == 0 {
		return err
	}
	c.Values, c.Labelled, c.Blocked = len(s.values), s.labelled, len(s.blocked) > 0
	for _, o := range series.Observations {
		if o.Time == 0 || o.Block != "" || o.Missing || o.SetAside {
			continue
		}
		if c.First == 0 {
			c.First, c.Last = o.Time, o.Time
		}
		c.First, c.Last = min(c.First, o.Time), max(c.Last, o.Time)
	}
	var v Vetting
	v.one(c.metric, c.profile, s)
	c.Findings = v.Findings
	return nil
}

// gather puts together what all series show, and finds what shows only beside
// others.
func gather(all []Checked, policy Policy) *Vetting {
	v := &Vetting{Grade: GradeFine}
	scores := map[MetricID]bool{}
	for _, c := range all {
		if m := c.metric; m.Role == Score && m.Named {
			scores[m.ID()] = true
		}
	}
	confidence := policy.Confidence
	if confidence == 0 {
		confidence = DefaultConfidence
	}
	bar := 1 - confidence
	if policy.Correction != NoCorrection {
		bar /= math.Max(1, float64(len(scores)))
	}
	floor := stats.FloorSize(bar)
	unlabelled := map[string]bool{}
	for _, c := range all {
		if c.Values == 0 {
			continue
		}
		v.Series++
		if !c.Labelled && !c.Blocked {
			unlabelled[c.profile] = true
		}
		if c.metric.Role == Score && !c.Blocked && c.Values < floor {
			unit := "runs"
			if c.Labelled {
				unit = "sessions"
			}
			v.add(Finding{GradeStop, CheckFewRuns, c.profile, c.metric.Name(), fmt.Sprintf("%d %s, and below %d a side nothing can be settled", c.Values, unit, floor)})
		}
		for _, f := range c.Findings {
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

func (v *Vetting) add(f Finding) {
	v.Findings = append(v.Findings, f)
	if f.Grade == GradeStop || v.Grade == GradeFine {
		v.Grade = f.Grade
	}
}

// one looks at a single sample.
func (v *Vetting) one(m Metric, profile string, s sample) {
	say := func(g Grade, check, format string, args ...any) {
		v.add(Finding{g, check, profile, m.Name(), fmt.Sprintf(format, args...)})
	}
	ordered := slices.Clone(s.raw) // once, for all that do not ask for the order of runs
	stats.Sort(ordered)
	if tick := stats.Tick(ordered); s.Runs > 2 && s.StdDev < tick && onGrid(tick, ordered) {
		say(GradeLook, CheckCoarse, "readings in steps of %s %s spread by %s", sixDigits(tick), m.Unit, Decimal(s.StdDev, Places(s.StdDev)))
	}
	if s.Runs > 2 && s.Min == s.Max {
		say(GradeLook, CheckNoSpread, "all %d readings are %s", s.Runs, strings.TrimSpace(sixDigits(s.Min)+" "+m.Unit))
		return
	}
	runs := sessionsOf(s)
	if pairs, p := stats.Repeats(ordered); p <= copiedBar {
		say(GradeStop, CheckCopied, "%s of equal readings, more than readings this fine repeat by chance (p = %.2g)", pairsWord(pairs), p)
	} else if length, p := stats.RepeatedStretch(s.raw); p <= copiedBar {
		say(GradeStop, CheckCopied, "%d readings in a row occur a second time (p = %.2g)", length, p)
	}
	if _, tau, p := stats.MannKendallWithin(runs); p <= driftBar {
		word := "rise"
		if tau < 0 {
			word = "fall"
		}
		say(GradeLook, CheckDrift, "values %s from run to run (Mann-Kendall, tau %.2f, p = %.2g)", word, tau, p)
	}
	if _, p := stats.Lag1TestWithin(runs); p <= dependenceBar {
		say(GradeLook, CheckDependence, "each run resembles the one before it more than runs in another order would (lag-1 correlation, p = %.2g)", p)
	}
	if at, _, p := stats.OutlierTestWithin(runs); p <= outlierBar {
		far := m.natural(flat(runs)[at])
		say(GradeLook, CheckOutlier, "%s %s lies beyond the tail of the others (modified z-score %.1f, p = %.2g)", sixDigits(far), m.Unit, farthest(runs), p)
	}
	if group, _, p := stats.TwoModesWithin(runs); p <= modesBar {
		say(GradeLook, CheckModes, "%d of %d runs form a group of their own (p = %.2g)", len(group), s.Runs, p)
	}
	if s.labelled || len(s.blocked) > 0 {
		if f, p := stats.SessionsApart(runs, farApart); p <= sessionsBar {
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
func sessionsOf(s sample) [][]float64 {
	switch {
	case s.alone != nil:
		return [][]float64{s.alone}
	case len(s.sessions) == s.Runs:
		one := make([]float64, 0, s.Runs)
		for _, x := range s.sessions {
			one = append(one, x.runs...)
		}
		return [][]float64{one}
	}
	var out [][]float64
	for _, x := range s.sessions {
		out = append(out, x.runs)
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
		centre := median(s)
		for _, x := range s {
			off = append(off, x-centre)
		}
	}
	most := 0.0
	for _, z := range stats.ModifiedZ(off) {
		most = math.Max(most, math.Abs(z))
	}
	return most
}

// apart finds profiles whose times do not overlap although no block ties them.
func (v *Vetting) apart(all []Checked) {
	type span struct {
		profile     string
		first, last int64
	}
	by := map[string]*span{}
	for _, c := range all {
		if c.First == 0 {
			continue
		}
		x := by[c.profile]
		if x == nil {
			x = &span{c.profile, c.First, c.Last}
			by[c.profile] = x
		}
		x.first, x.last = min(x.first, c.First), max(x.last, c.Last)
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
func (v *Vetting) Conditions(recorded map[string]map[string]string) {
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
			parts[i] = orWord(value, "empty") + " in " + list(with[value], 6)
		}
		if len(without) > 0 {
			parts = append(parts, "not recorded in "+list(without, 6))
		}
		v.add(Finding{GradeLook, CheckConditions, list(profiles, 6), "all", key + ": " + strings.Join(parts, "; ")})
	}
}

// CheckAdvice says why a check matters and what to do.
func CheckAdvice(check string) (why, do string) {
	advice := map[string][2]string{
		CheckFewRuns:    {"so few values can split by luck alone", "make more runs, best in new sessions; tunegate reruns says how many"},
		CheckNoSessions: {"runs of one sitting share its luck, and a reboot can move all of them", "record a session label for each sitting, and make several"},
		CheckApart:      {"a warmer room, an update or wear would look like the change", "alternate the profiles; tunegate sheet plans it in blocks"},
		CheckCoarse:     {"what is smaller than a step cannot be seen", "record more digits, or a longer run"},
		CheckDrift:      {"warm-up or heat soak: which side ran when would decide", "warm up first, and alternate the profiles in blocks"},
		CheckDependence: {"runs that follow each other count for less than they seem; the interval is too narrow", "pause between runs, or make more sessions of fewer runs"},
		CheckOutlier:    {"something else may have run", "find the cause; set the run aside with a reason if it was no fair run, else keep it"},
		CheckModes:      {"a boost state or a background job that comes and goes", "find what switches; compare like with like"},
		CheckSessions:   {"more runs a session add little; the sessions are what counts", "make more sessions, and look at what changes between them"},
		CheckNoSpread:   {"measured values spread; readings this coarse, or copied, say nothing about how far", "record more digits, and check how the numbers got here"},
		CheckConditions: {"what is not the setting under test can move the result, too", "measure again under equal conditions, or publish the difference with the result"},
		CheckCopied:     {"measured values do not repeat like this", "check how the numbers got here, and measure again"},
	}
	a := advice[check]
	return a[0], a[1]
}

// Summary is the findings in one line, such as "drift in factory
// tile-render; two modes in 3 series", without those that a comparison states
// anyway; empty where nothing is left.
func (v *Vetting) Summary() string {
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
