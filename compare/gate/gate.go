// Package gate says whether what changed in a results repository may be merged:
// it judges each profile that differs between two snapshots under a policy.
package gate

import (
	"fmt"
	"slices"
	"sort"
	"strings"

	"tunegate/compare"
	"tunegate/compare/doubts"
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

	withDoubts bool
}

// Reason is one thing that speaks against a profile. Which fields are filled
// depends on its kind; package report puts it into words.
type Reason struct {
	Kind    string
	Profile string
	Decides Outcome         // what this alone makes of the gate; Passed for a warning
	Rows    []compare.Value // where it stands; a metric's first new row where it is about the metric
	Result  *compare.Result // the metric it is about, where it was compared
	Metric  *compare.Metric // the metric it is about, where it was not
	Worst   float64         // the largest value beyond the cap
	Count   int             // of runs or sessions found
	Limit   int             // of runs or sessions wanted or allowed
	When    string          // "before" or "now": the side that Count is of
	What    string          // "run" or "session"
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
	Comparison *compare.Comparison // nil where nothing could be compared
	Doubts     *doubts.Report      // what looks unsafe about the runs; nil where nobody looked
	// Unmeasured are the scores that there were before and that the new runs
	// lack, where that question is asked: any loss in them goes unseen.
	Unmeasured []string
	Outcome    Outcome
}

// Judge judges what changed from base to head under the base's policy, or
// the head's where the base has none. Where the head's policy differs, the
// outcome under it is told, too. An error means bad input: nothing was judged.
func Judge(base, head Snapshot, opt compare.Options) (*Gate, error) {
	inForce, whose := compare.Policy{}, "default"
	switch {
	case base.Policy != nil:
		inForce, whose = *base.Policy, "base"
	case head.Policy != nil:
		inForce, whose = *head.Policy, "head"
	}
	proposed, changes := compare.Policy{}, []string(nil)
	if base.Policy != nil {
		proposed = head.policy()
		changes = PolicyDifferences(base, head, metricsOf(base, head))
		if head.Policy == nil {
			changes = append([]string{"the policy is removed"}, changes...)
		}
	}
	tell, rounds := opt.Progress, 1
	if len(changes) > 0 {
		rounds = 2
	}
	opt.Progress = compare.PartOfProgress(tell, 0, rounds)
	g, err := judgeUnder(inForce, base, head, opt, true)
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
	if len(head.Overlooked) > 0 {
		g.Notes = append(g.Notes, fmt.Sprintf("not read: %s; runs are .csv, .tsv, .jsonl or .ndjson files below profiles/NAME/runs, and settings stand in profiles/NAME/settings.toml",
			compare.List(head.Overlooked, 3)))
	}
	if len(changes) > 0 {
		opt.Progress = compare.PartOfProgress(tell, 1, rounds)
		other, err := judgeUnder(proposed, base, head, opt, false)
		if err != nil {
			return nil, fmt.Errorf("under the new policy: %w", err)
		}
		g.PolicyChanges, g.Proposed = changes, other.Outcome
	}
	return g, nil
}

// metricsOf lists every metric that either state has, with unit and direction.
func metricsOf(snapshots ...Snapshot) []compare.Value {
	seen := map[compare.MetricID]bool{}
	var out []compare.Value
	for _, s := range snapshots {
		for _, name := range s.names() {
			for _, v := range s.Profiles[name].Values {
				if v.Metric == "" {
					v.Metric = compare.DefaultMetric
				}
				if k := v.ID(); !seen[k] {
					seen[k] = true
					out = append(out, v)
				}
			}
		}
	}
	return out
}

// JudgeUnder judges what changed from base to head under one policy, and does not
// look at what is unsafe about the data.
func JudgeUnder(policy compare.Policy, base, head Snapshot, opt compare.Options) (*Gate, error) {
	return judgeUnder(policy, base, head, opt, false)
}

func judgeUnder(policy compare.Policy, base, head Snapshot, opt compare.Options, withDoubts bool) (*Gate, error) {
	g := &Gate{Base: base.Name, Head: head.Name, Outcome: Passed, withDoubts: withDoubts}
	for _, name := range base.names() {
		if head.Profiles[name] == nil {
			g.Removed = append(g.Removed, name)
		}
	}
	tell := opt.Progress
	for i, name := range head.names() {
		opt.Progress = compare.PartOfProgress(tell, i, len(head.Profiles))
		if err := g.profile(policy, base, head, name, opt); err != nil {
			return nil, err
		}
		if opt.Progress != nil {
			opt.Progress(1, 1)
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
func (g *Gate) profile(policy compare.Policy, base, head Snapshot, name string, opt compare.Options) error {
	now, old := head.Profiles[name], base.Profiles[name]
	j := &Judgement{Profile: name, Outcome: Passed}
	if old == nil {
		return g.newProfile(policy, head, now, j, opt)
	}
	rows := ChangeOfRows(old.Values, now.Values)
	j.Settings = append(j.Settings, Differences(old.Settings, now.Settings)...)
	conditions := Differences(old.Conditions, now.Conditions)
	if len(j.Settings) == 0 && len(rows.Added)+len(rows.Gone)+len(rows.SetAside)+len(rows.Restored) == 0 {
		if len(conditions) > 0 {
			g.Notes = append(g.Notes, fmt.Sprintf("%s: recorded conditions changed, but neither settings nor runs: %s", name, strings.Join(conditions, "; ")))
		}
		g.Unchanged++
		return nil
	}
	g.Judged = append(g.Judged, j)
	for _, v := range rows.SetAside {
		j.Warnings = append(j.Warnings, fmt.Sprintf("set aside since: %s at %s: %s", v.ID().Name(), v.At, v.Reason))
	}
	if len(rows.Restored) > 0 {
		j.Warnings = append(j.Warnings, "no longer set aside: "+Where(rows.Restored))
	}
	if len(conditions) > 0 {
		j.Warnings = append(j.Warnings, "the recorded conditions differ, so the change may not be the settings' alone: "+strings.Join(conditions, "; "))
	}
	if len(j.Settings) > 0 {
		j.Question = AskSettings
		stale, byChance, single := rows.StillThere(old.Values)
		if len(stale) > 0 {
			g.add(j, Reason{Kind: ReasonStale, Rows: stale})
		}
		if len(byChance) > 0 {
			j.Warnings = append(j.Warnings, fmt.Sprintf("rows that read as before the settings changed, taken for new runs: %s; if they are old, remove them; label sessions differently, and there is no doubt",
				Where(byChance)))
		}
		rows.Added = slices.Concat(rows.Added, byChance, single)
		if len(rows.Added) == 0 {
			g.add(j, Reason{Kind: ReasonNoRuns, Rows: []compare.Value{{At: now.At}}, Detail: "the settings changed, but there are no new runs; run the profile again"})
			return nil
		}
	} else {
		j.Question = AskRepeat
		if len(rows.Gone) > 0 {
			g.add(j, Reason{Kind: ReasonAltered, Rows: rows.Gone, Detail: base.Name})
		}
		again, err := collect(name, rows.Restored)
		if err != nil {
			return err
		}
		if err := g.checkCaps(policy, j, again.Series()); err != nil || len(rows.Added) == 0 {
			return err
		}
	}
	return g.judge(policy, j, asSittings(old.Values), asSittings(rows.Added), [2]string{name + ", before", name + ", now"}, opt)
}

// asSittings makes each block one sitting more. A block holds both sides of a
// comparison; rows of one profile from two times share none, though people begin
// at B1 again.
func asSittings(rows []compare.Value) []compare.Value {
	out := make([]compare.Value, len(rows))
	for i, v := range rows {
		out[i] = AsSitting(v)
	}
	return out
}

// AsSitting is a row whose block is one sitting more.
func AsSitting(v compare.Value) compare.Value {
	switch {
	case v.Block == "":
		return v
	case v.Session == "":
		v.Session = v.Block
	default:
		v.Session = v.Block + " / " + v.Session
	}
	v.Block = ""
	return v
}

func (g *Gate) newProfile(policy compare.Policy, head Snapshot, now *Profile, j *Judgement, opt compare.Options) error {
	j.Question = AskNew
	g.Judged = append(g.Judged, j)
	if now.Baseline == "" {
		j.Warnings = append(j.Warnings, "names no baseline, so there is nothing to judge it against; write baseline = \"PROFILE\" into its settings.toml, unless it is the first of its kind")
		return g.judgeAlone(policy, j, now.Values)
	}
	j.Against = now.Baseline
	from := head.Profiles[now.Baseline]
	if from == nil || now.Baseline == now.Name {
		g.add(j, Reason{Kind: ReasonBaseline, Detail: now.Baseline, Names: head.names(), Rows: []compare.Value{{At: now.BaselineAt}}})
		return nil
	}
	j.Settings = Differences(from.Settings, now.Settings)
	if d := Differences(from.Conditions, now.Conditions); len(d) > 0 {
		j.Warnings = append(j.Warnings, fmt.Sprintf("the recorded conditions differ from those of %s, so the change may not be the settings' alone: %s", now.Baseline, strings.Join(d, "; ")))
	}
	if len(now.Values) == 0 {
		g.add(j, Reason{Kind: ReasonNoRuns, Rows: []compare.Value{{At: now.At}}, Detail: fmt.Sprintf("there are no runs; run the profile and add them below profiles/%s/runs", now.Name)})
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
