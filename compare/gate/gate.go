// Package gate decides whether a change of a results repository may be merged.
//
// A Snapshot is one state of the repository: its policy, and the settings and runs
// of each profile. Judge takes two snapshots, compares every profile that differs
// between them, and returns a Gate: an Outcome, and a Reason for everything that
// speaks against the merge. A profile whose settings changed is compared with
// itself before, a new one with the baseline that it names, and one with new runs
// only is asked whether it still repeats (Question). The base's policy is in force,
// so that a merge cannot relax the rules that it is judged by. ChangeOfRows says
// how two lists of rows differ.
//
// Reasons and notes are values. Package report puts them into words.
//
// Stable are the words of Outcome and Question, and the kinds of reasons, which the
// JSON output uses.
package gate

import (
	"fmt"
	"slices"
	"sort"

	"tunegate/compare"
	"tunegate/compare/doubts"
	"tunegate/compare/internal/work"
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
	PolicyChanges []PolicyChange  // what the head's policy changes
	Caps          []compare.Entry // what that policy or the head's caps
	Proposed      Outcome         // under the head's policy; empty where it changes nothing
	Reasons       []Reason        // what speaks against it, the weightiest first
	Judged        []*Judgement
	Removed       []string // profiles that are gone
	Unchanged     int      // profiles with nothing to judge
	Notes         []Note
}

// Question says why a profile is judged.
type Question string

// The questions a gate asks.
const (
	AskSettings Question = "settings changed"
	AskRepeat   Question = "runs changed, same settings"
	AskNew      Question = "new profile"
)

// Judgement is one profile's comparison within a gate.
type Judgement struct {
	Profile    string
	Question   Question
	Against    string       // the profile compared with, where it is another one
	Settings   []Difference // what is set differently
	Warnings   []Note
	Comparison *compare.Comparison // nil where nothing could be compared
	Doubts     *doubts.Report      // what looks unsafe about the runs; nil where nobody looked
	// Unmeasured are the scores that there were before and that the new runs
	// lack, where that question is asked: any loss in them goes unseen.
	Unmeasured []string
	Outcome    Outcome
}

// Judge judges what changed from base to head under the base's policy, or the
// head's where the base has none. Where the head's policy differs, Proposed is
// the outcome under it. An error means bad input: nothing was judged.
func Judge(base, head Snapshot, opt compare.Options) (*Gate, error) {
	inForce, whose := compare.Policy{}, "default"
	switch {
	case base.Policy != nil:
		inForce, whose = *base.Policy, "base"
	case head.Policy != nil:
		inForce, whose = *head.Policy, "head"
	}
	changes := policyChanges(base, head)
	progress, rounds := opt.Progress, 1
	if len(changes) > 0 {
		rounds = 2
	}
	opt.Progress = work.PartOf(progress, 0, rounds)
	g, err := judge(inForce, base, head, opt, true)
	if err != nil {
		return nil, err
	}
	g.PolicyOf, g.PolicyFile, g.Caps = whose, base.PolicyFile, slices.Concat(inForce.Caps(), head.policy().Caps())
	switch whose {
	case "head":
		g.PolicyFile = head.PolicyFile
		g.Notes = append(g.Notes, Note{Kind: NoteHeadPolicy})
	case "default":
		g.Notes = append(g.Notes, Note{Kind: NoteDefaults})
	}
	g.Notes = append(g.Notes, head.Notes...)
	if len(head.Overlooked) > 0 {
		g.Notes = append(g.Notes, Note{Kind: NoteNotRead, Names: head.Overlooked})
	}
	if len(changes) > 0 {
		opt.Progress = work.PartOf(progress, 1, rounds)
		other, err := judge(head.policy(), base, head, opt, false)
		if err != nil {
			return nil, fmt.Errorf("under the new policy: %w", err)
		}
		g.PolicyChanges, g.Proposed = changes, other.Outcome
	}
	return g, nil
}

// JudgeUnder judges what changed from base to head under one policy, and does not
// look at what is unsafe about the data.
func JudgeUnder(policy compare.Policy, base, head Snapshot, opt compare.Options) (*Gate, error) {
	return judge(policy, base, head, opt, false)
}

// judging is what every judgement of a gate needs, and the gate that it adds to.
type judging struct {
	policy     compare.Policy
	base, head Snapshot
	opt        compare.Options
	withDoubts bool // look at what is unsafe about the data, too
	gate       *Gate
	pending    []pending
}

func judge(policy compare.Policy, base, head Snapshot, opt compare.Options, withDoubts bool) (*Gate, error) {
	g := &Gate{Base: base.Name, Head: head.Name, Outcome: Passed}
	for _, name := range base.names() {
		if head.Profiles[name] == nil {
			g.Removed = append(g.Removed, name)
		}
	}
	all := &judging{policy: policy, base: base, head: head, opt: opt, withDoubts: withDoubts, gate: g}
	for i, name := range head.names() {
		all.opt.Progress = work.PartOf(opt.Progress, i, len(head.Profiles))
		if err := all.profile(name); err != nil {
			return nil, err
		}
		if all.opt.Progress != nil {
			all.opt.Progress(1, 1)
		}
	}
	if err := all.judgeTogether(); err != nil {
		return nil, err
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

// add adds a reason against a profile; one that does not say what it decides fails
// the gate.
func (g *judging) add(j *Judgement, r Reason) {
	r.Profile, r.Question = j.Profile, j.Question
	if r.Decides == "" {
		r.Decides = Failed
	}
	g.gate.Reasons = append(g.gate.Reasons, r)
	j.Outcome = worse(j.Outcome, r.Decides)
}

// warn adds what a reader should know about a judgement.
func (j *Judgement) warn(n Note) {
	n.Profile = j.Profile
	j.Warnings = append(j.Warnings, n)
}
