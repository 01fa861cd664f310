package compare

import (
	"errors"
	"fmt"
	"slices"
	"sort"
	"strings"
)

// Outcome is what a gate says.
type Outcome string

// The outcomes.
const (
	Passed    Outcome = "passed"
	Failed    Outcome = "failed"
	Undecided Outcome = "run more" // judged, but the policy wants more than the runs can give
)

// Gate is the check of a results repository between two states.
type Gate struct {
	Base    string
	Head    string
	Outcome Outcome
	// PolicyOf says whose policy is in force: "base", "head" where the base
	// has none, or "default" where neither has.
	PolicyOf      string
	PolicyFile    string
	PolicyChanges []string // what the head's policy changes
	Proposed      Outcome  // under the head's policy; empty where it changes nothing
	Reasons       []Reason // what speaks against it, the weightiest first
	Judged        []*Judgement
	Removed       []string // profiles that are gone
	Unchanged     int      // profiles with nothing to judge
	Notes         []string
}

// Reason is one thing that speaks against a profile. Which fields are filled
// depends on its kind; package report puts it into words.
type Reason struct {
	Kind    string
	Profile string
	Decides Outcome // what this alone makes of the gate; Passed for a warning
	Rows    []Value // where it stands
	Result  *Result // the metric it is about
	Cap     Metric  // the metric whose cap was passed
	Worst   float64 // the largest value beyond the cap
	Count   int     // of runs or sessions found
	Limit   int     // of runs or sessions wanted or allowed
	When    string  // "before" or "now": the side that Count is of
	What    string  // "run" or "session"
	Names   []string
	Detail  string
}

// The kinds of reasons, the weightiest first.
const (
	ReasonStale      = "stale-runs"
	ReasonAltered    = "altered-rows"
	ReasonRegression = "regression"
	ReasonDrift      = "drift"
	ReasonCap        = "cap"
	ReasonSetAside   = "set-aside"
	ReasonRequired   = "required"
	ReasonNoRuns     = "no-runs"
	ReasonBaseline   = "no-baseline"
	ReasonFewRuns    = "too-few-runs"
	ReasonSafety     = "loss-not-ruled-out"
	ReasonBlindSpot  = "blind-spot"
)

var reasonOrder = []string{ReasonStale, ReasonAltered, ReasonRegression, ReasonDrift, ReasonCap, ReasonSetAside,
	ReasonRequired, ReasonNoRuns, ReasonBaseline, ReasonFewRuns, ReasonSafety, ReasonBlindSpot}

// Question says why a profile is judged.
type Question string

// The questions a gate asks.
const (
	AskSettings Question = "settings changed"
	AskRepeat   Question = "does it still repeat?"
	AskNew      Question = "new profile"
)

// Judgement is one profile's comparison within a gate.
type Judgement struct {
	Profile    string
	Question   Question
	Against    string   // the profile compared with, where it is another one
	Settings   []string // what is set differently
	Warnings   []string
	Comparison *Comparison // nil where nothing could be compared
	Outcome    Outcome
}

// JudgeGate judges what changed from base to head under the base's policy, or
// the head's where the base has none. Where the head's policy differs, the
// outcome under it is told, too. An error means bad input: nothing was judged.
func JudgeGate(base, head Snapshot, opt Options) (*Gate, error) {
	inForce, whose := Policy{}, "default"
	switch {
	case base.Policy != nil:
		inForce, whose = *base.Policy, "base"
	case head.Policy != nil:
		inForce, whose = *head.Policy, "head"
	}
	g, err := judgeUnder(inForce, base, head, opt)
	if err != nil {
		return nil, err
	}
	g.PolicyOf = whose
	g.PolicyFile = base.PolicyFile
	if whose == "head" {
		g.PolicyFile = head.PolicyFile
		g.Notes = append(g.Notes, fmt.Sprintf("%s has no policy; the one of %s is in force", base.Name, head.Name))
	}
	if whose == "default" {
		g.Notes = append(g.Notes, "there is no tunegate.toml; the defaults are in force (tunegate init writes one)")
	}
	if base.Policy != nil {
		proposed := Policy{}
		if head.Policy != nil {
			proposed = *head.Policy
		}
		g.PolicyChanges = append(g.PolicyChanges, PolicyDifferences(*base.Policy, proposed, metricsOf(base, head))...)
		if head.Policy == nil {
			g.PolicyChanges = append([]string{"the policy is removed"}, g.PolicyChanges...)
		}
		if len(g.PolicyChanges) > 0 {
			other, err := judgeUnder(proposed, base, head, opt)
			if err != nil {
				return nil, fmt.Errorf("under the new policy: %w", err)
			}
			g.Proposed = other.Outcome
		}
	}
	return g, nil
}

// metricsOf lists every metric that either state has, with unit and direction.
func metricsOf(snapshots ...Snapshot) []Value {
	seen := map[[2]string]bool{}
	var out []Value
	for _, s := range snapshots {
		for _, name := range s.names() {
			for _, v := range s.Profiles[name].Values {
				if v.Metric == "" {
					v.Metric = DefaultMetric
				}
				if k := [2]string{v.Benchmark, v.Metric}; !seen[k] {
					seen[k] = true
					out = append(out, v)
				}
			}
		}
	}
	return out
}

func judgeUnder(policy Policy, base, head Snapshot, opt Options) (*Gate, error) {
	g := &Gate{Base: base.Name, Head: head.Name, Outcome: Passed}
	for _, name := range base.names() {
		if head.Profiles[name] == nil {
			g.Removed = append(g.Removed, name)
		}
	}
	for _, name := range head.names() {
		if err := g.profile(policy, base, head, name, opt); err != nil {
			return nil, err
		}
	}
	rank := map[string]int{}
	for i, kind := range reasonOrder {
		rank[kind] = i
	}
	sort.SliceStable(g.Reasons, func(a, b int) bool { return rank[g.Reasons[a].Kind] < rank[g.Reasons[b].Kind] })
	for _, r := range g.Reasons {
		g.Outcome = worse(g.Outcome, r.Decides)
	}
	return g, nil
}

func worse(a, b Outcome) Outcome {
	rank := map[Outcome]int{Passed: 0, Undecided: 1, Failed: 2}
	if rank[b] > rank[a] {
		return b
	}
	return a
}

// profile asks the question that fits how a profile changed, and judges it.
func (g *Gate) profile(policy Policy, base, head Snapshot, name string, opt Options) error {
	now, old := head.Profiles[name], base.Profiles[name]
	j := &Judgement{Profile: name, Outcome: Passed}
	if old == nil {
		return g.newProfile(policy, head, now, j, opt)
	}
	rows := changeOfRows(old.Values, now.Values)
	j.Settings = append(j.Settings, differences(old.Settings, now.Settings)...)
	conditions := differences(old.Conditions, now.Conditions)
	if len(j.Settings) == 0 && len(rows.added)+len(rows.gone)+len(rows.setAside)+len(rows.restored) == 0 {
		if len(conditions) > 0 {
			g.Notes = append(g.Notes, fmt.Sprintf("%s: recorded conditions changed, but neither settings nor runs: %s", name, strings.Join(conditions, "; ")))
		}
		g.Unchanged++
		return nil
	}
	g.Judged = append(g.Judged, j)
	for _, v := range rows.setAside {
		j.Warnings = append(j.Warnings, fmt.Sprintf("set aside since: %s at %s: %s", describe(v.Benchmark, v.Metric), v.At, v.Reason))
	}
	if len(rows.restored) > 0 {
		j.Warnings = append(j.Warnings, "no longer set aside: "+places(rows.restored, 6))
	}
	if len(conditions) > 0 {
		j.Warnings = append(j.Warnings, "the recorded conditions differ, so the change may not be the settings' alone: "+strings.Join(conditions, "; "))
	}
	if len(j.Settings) > 0 {
		j.Question = AskSettings
		if stale := slices.Concat(rows.kept, rows.setAside, rows.restored); len(stale) > 0 {
			g.add(j, Reason{Kind: ReasonStale, Rows: stale})
		}
		if len(rows.added) == 0 {
			g.add(j, Reason{Kind: ReasonNoRuns, Detail: "the settings changed, but there are no new runs; run the profile again"})
			return nil
		}
	} else {
		j.Question = AskRepeat
		if len(rows.gone) > 0 {
			g.add(j, Reason{Kind: ReasonAltered, Rows: rows.gone, Detail: base.Name})
		}
		if len(rows.added) == 0 {
			return nil
		}
	}
	return g.judge(policy, j, old.Values, rows.added, [2]string{name + ", before", name + ", now"}, opt)
}

func (g *Gate) newProfile(policy Policy, head Snapshot, now *Profile, j *Judgement, opt Options) error {
	j.Question = AskNew
	g.Judged = append(g.Judged, j)
	if now.Baseline == "" {
		j.Warnings = append(j.Warnings, "names no baseline, so there is nothing to judge it against; write baseline = \"PROFILE\" into its settings.toml, unless it is the first of its kind")
		g.checkRuns(policy, j, now.Values)
		return nil
	}
	j.Against = now.Baseline
	from := head.Profiles[now.Baseline]
	if from == nil || now.Baseline == now.Name {
		g.add(j, Reason{Kind: ReasonBaseline, Detail: now.Baseline, Names: head.names(), Rows: []Value{{At: now.BaselineAt}}})
		return nil
	}
	j.Settings = differences(from.Settings, now.Settings)
	if d := differences(from.Conditions, now.Conditions); len(d) > 0 {
		j.Warnings = append(j.Warnings, fmt.Sprintf("the recorded conditions differ from those of %s, so the change may not be the settings' alone: %s", now.Baseline, strings.Join(d, "; ")))
	}
	if len(now.Values) == 0 {
		g.add(j, Reason{Kind: ReasonNoRuns, Detail: fmt.Sprintf("there are no runs; run the profile and add them below profiles/%s/runs", now.Name)})
		return nil
	}
	return g.judge(policy, j, from.Values, now.Values, [2]string{now.Baseline, now.Name}, opt)
}

// add notes a reason; without a word on what it decides it fails the gate.
func (g *Gate) add(j *Judgement, r Reason) {
	r.Profile = j.Profile
	if r.Decides == "" {
		r.Decides = Failed
	}
	g.Reasons = append(g.Reasons, r)
	j.Outcome = worse(j.Outcome, r.Decides)
}

// judge compares and holds the comparison to the policy.
func (g *Gate) judge(policy Policy, j *Judgement, before, after []Value, names [2]string, opt Options) error {
	g.checkRuns(policy, j, after)
	b, err := collect(names[0], before)
	if err != nil {
		return err
	}
	a, err := collect(names[1], after)
	if err != nil {
		return err
	}
	if missing := missingRequired(policy, b.Series(), a.Series()); len(missing) > 0 {
		g.add(j, Reason{Kind: ReasonRequired, Names: missing})
	}
	c, err := Compare(b.Series(), a.Series(), names, policy, opt)
	if err != nil {
		var placed *PlacedError
		if errors.As(err, &placed) {
			return err
		}
		g.add(j, Reason{Kind: ReasonNoRuns, Detail: err.Error()})
		return nil
	}
	j.Comparison = c
	g.checkVerdicts(policy, j)
	return nil
}

// checkRuns looks at what needs no comparison: caps and runs set aside.
func (g *Gate) checkRuns(policy Policy, j *Judgement, rows []Value) {
	type over struct {
		metric Metric
		rows   []Value
	}
	var order []string
	by := map[string]*over{}
	var aside []Value
	for _, v := range rows {
		if v.SetAside {
			aside = append(aside, v)
			continue
		}
		if v.Missing {
			continue
		}
		metric := v.Metric
		if metric == "" {
			metric = DefaultMetric
		}
		m, _ := policy.Resolve(v.Benchmark, metric, v.Unit, v.Better)
		if m.Cap == nil || v.Value <= *m.Cap {
			continue
		}
		if by[m.Name()] == nil {
			by[m.Name()] = &over{metric: m}
			order = append(order, m.Name())
		}
		by[m.Name()].rows = append(by[m.Name()].rows, v)
	}
	for _, name := range order {
		o := by[name]
		worst := o.rows[0].Value
		for _, v := range o.rows {
			worst = max(worst, v.Value)
		}
		g.add(j, Reason{Kind: ReasonCap, Cap: o.metric, Worst: worst, Rows: o.rows})
	}
	// A run that is set aside may stand in several rows, one a metric.
	runs := map[[3]string]bool{}
	var why []string
	for i, v := range aside {
		run := v.Run
		if run == "" {
			run = fmt.Sprint("#", i)
		}
		runs[[3]string{v.Benchmark, v.Session, run}] = true
		why = append(why, v.Reason)
	}
	if len(runs) > policy.SetAsideAllowed {
		g.add(j, Reason{Kind: ReasonSetAside, Count: len(runs), Limit: policy.SetAsideAllowed, Rows: aside, Names: unique(why)})
	}
}

func unique(words []string) []string {
	var out []string
	seen := map[string]bool{}
	for _, w := range words {
		if !seen[w] {
			seen[w] = true
			out = append(out, w)
		}
	}
	return out
}

// missingRequired lists required metrics without a valid run after: those that
// the policy names exactly, and those that a pattern requires and the other
// side has.
func missingRequired(policy Policy, before, after []*Series) []string {
	has := map[[2]string]bool{}
	for _, s := range after {
		for _, o := range s.Observations {
			if !o.SetAside && !o.Missing {
				has[[2]string{s.Benchmark, s.Metric}] = true
				break
			}
		}
	}
	var missing []string
	want := func(benchmark, metric, unit string, better Better) {
		k := [2]string{benchmark, metric}
		if has[k] {
			return
		}
		if better == "" {
			better = Higher
		}
		if m, err := policy.Resolve(benchmark, metric, unit, better); err == nil && m.Required {
			has[k] = true // say it once
			missing = append(missing, m.Name())
		}
	}
	for _, e := range policy.Entries {
		if e.exact() {
			want(e.Benchmark, e.metric(), "", "")
		}
	}
	for _, s := range before {
		want(s.Benchmark, s.Metric, s.Unit, s.Better)
	}
	return missing
}

// checkVerdicts turns a comparison into reasons.
func (g *Gate) checkVerdicts(policy Policy, j *Judgement) {
	for _, r := range j.Comparison.Results {
		if r.Verdict == nil || !r.CountsForGate {
			continue
		}
		kind := ReasonRegression
		if j.Question == AskRepeat {
			kind = ReasonDrift
		}
		switch {
		case *r.Verdict == Regression:
			g.add(j, Reason{Kind: kind, Result: r})
		case j.Question == AskRepeat && r.Real:
			g.add(j, Reason{Kind: kind, Result: r, Decides: Passed})
		}
		if r.Role != Score {
			continue
		}
		g.checkSizes(policy, j, r)
		if policy.Burden == Safety && *r.Verdict != Regression {
			if lo, _, _ := r.GainInterval(); r.Interval == nil || lo < -*r.Tolerance {
				g.add(j, Reason{Kind: ReasonSafety, Result: r, Decides: Undecided})
			}
		}
		if r.WidestBlindSpot != nil && (r.BlindSpot == nil || *r.BlindSpot > *r.WidestBlindSpot) {
			g.add(j, Reason{Kind: ReasonBlindSpot, Result: r, Decides: Undecided})
		}
	}
}

// checkSizes holds a score to the fewest runs and sessions.
func (g *Gate) checkSizes(policy Policy, j *Judgement, r *Result) {
	for _, side := range []struct {
		when string
		s    Side
	}{{"before", r.Before}, {"now", r.After}} {
		if side.s.Runs < policy.FewestRuns {
			g.add(j, Reason{Kind: ReasonFewRuns, Result: r, Count: side.s.Runs, Limit: policy.FewestRuns, When: side.when, What: "run"})
		}
		if side.s.Sessions < policy.FewestSessions {
			g.add(j, Reason{Kind: ReasonFewRuns, Result: r, Count: side.s.Sessions, Limit: policy.FewestSessions, When: side.when, What: "session"})
		}
	}
}
