// Package gate decides whether a change of a results repository may be merged.
//
// A Snapshot is one state of the repository: its policy, and the settings and runs
// of each profile. Judge takes two snapshots, compares every profile that differs
// between them, and returns a Gate: an Outcome, and a Reason for everything that
// speaks against the merge. A profile whose settings changed is compared with
// itself before, a new one with the baseline that it names, and one with new runs
// only is asked whether it still repeats (Question). The base's policy is in force,
// so that a merge cannot relax the rules that it is judged by. What passes was judged
// and could have failed, or nothing that is judged changed; what could not be judged is
// Undecided, and some of that a person may agree to (Agree). ChangeOfRows says how two
// lists of rows differ.
//
// Reasons and notes are values. Package report puts them into words.
//
// Stable are the words of Outcome and Question, and the kinds of reasons, which the
// JSON output uses.
package gate

import (
	"cmp"
	"fmt"
	"slices"

	"tunegate/compare"
	"tunegate/compare/doubts"
	"tunegate/compare/internal/work"
)

// Outcome is what a gate says.
type Outcome string

// The outcomes.
const (
	Passed    Outcome = "passed"    // judged, and it could have failed; or nothing that is judged changed
	Failed    Outcome = "failed"    // against the policy
	Undecided Outcome = "undecided" // not to be judged with these runs, or a person has to agree
)

// Agreement is what a person may agree to, so that it no longer keeps a gate from
// passing.
type Agreement string

// The agreements. There is none to a loss, a cap that is broken, or copied rows.
const (
	AgreePolicy  Agreement = "policy"  // a policy that is looser
	AgreeRemoved Agreement = "removed" // a profile that is gone
	AgreeNew     Agreement = "new"     // a profile that nothing older stands against
)

// Agreements lists what may be agreed to.
func Agreements() []Agreement { return []Agreement{AgreePolicy, AgreeRemoved, AgreeNew} }

// Gate is the check of a results repository between two states.
type Gate struct {
	Base    string
	Head    string
	Outcome Outcome
	// PolicyOf says whose policy is in force: "base", "head" where the base
	// has none, or "default" where neither has.
	PolicyOf      string
	PolicyFile    string
	PolicyChanges []PolicyChange  // what the head's policy changes, and other baselines
	Caps          []compare.Entry // what that policy or the head's caps
	Proposed      Outcome         // under the head's policy; empty where it changes nothing
	Reasons       []Reason        // what speaks against it, the weightiest first
	Judged        []*Judgement
	Removed       []string    // profiles that are gone
	Unchanged     int         // profiles with nothing to judge
	Agreed        []Agreement // what it was agreed to, as far as that counted
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
	Before     string // its name before, where it was renamed
	Question   Question
	Against    string // the profile compared with, where it is another one
	First      bool   // the first profile of the repository with runs
	Settings   []Difference
	Warnings   []Note
	Comparison *compare.Comparison // nil where nothing could be compared
	// SinceAnchor is the comparison with the profile's anchor, where that is not
	// what it is compared with anyway.
	SinceAnchor *compare.Comparison
	Doubts      *doubts.Report // what looks unsafe about the runs; nil where nobody looked
	Outcome     Outcome
}

// Judge judges what changed from base to head under the base's policy, or the
// head's where the base has none. Where the head's policy differs, Proposed is
// the outcome under it; where it is looser, a person has to agree. An error means
// bad input: nothing was judged.
func Judge(base, head Snapshot, opt compare.Options) (*Gate, error) {
	inForce, whose := compare.Policy{}, "default"
	switch {
	case base.Policy != nil:
		inForce, whose = *base.Policy, "base"
	case head.Policy != nil:
		inForce, whose = *head.Policy, "head"
	}
	changes := policyChanges(base, head)
	allChanges := slices.Concat(changes, baselineChanges(base, head))
	proposed, caps := head.policy(), slices.Concat(inForce.Caps(), head.policy().Caps())
	var notes []Note
	file := base.PolicyFile
	switch whose {
	case "head":
		file = head.PolicyFile
		notes = append(notes, Note{Kind: NoteHeadPolicy})
	case "default":
		notes = append(notes, Note{Kind: NoteDefaults})
	}
	notes = append(notes, head.Notes...)
	if len(head.Overlooked) > 0 {
		notes = append(notes, Note{Kind: NoteNotRead, Names: head.Overlooked})
	}
	progress, rounds := opt.Progress, 1
	var other *Gate
	if len(changes) > 0 && whose == "base" {
		rounds = 2
		opt.Progress = work.PartOf(progress, 0, rounds)
		var err error
		if other, err = judge(proposed, base, head, opt, false); err != nil {
			if _, first := judge(inForce, base, head, opt, false); first != nil {
				return nil, first
			}
			return nil, fmt.Errorf("under the new policy: %w", err)
		}
	}
	opt.Progress = work.PartOf(progress, rounds-1, rounds)
	g, err := judge(inForce, base, head, opt, true)
	if err != nil {
		return nil, err
	}
	g.PolicyOf, g.PolicyFile, g.Caps, g.PolicyChanges = whose, file, caps, allChanges
	g.Notes = append(g.Notes, notes...)
	if other != nil {
		g.Proposed = other.Outcome
	}
	loosened := slices.DeleteFunc(slices.Clone(g.PolicyChanges), func(c PolicyChange) bool { return !c.Loosens })
	if len(loosened) > 0 {
		g.Reasons = append(g.Reasons, Reason{Kind: ReasonPolicy, Changes: loosened, Decides: Undecided, Agreement: AgreePolicy})
	}
	return g.settled(), nil
}

// Agree is the gate after a person agreed: the reasons that this is about no longer
// keep it from passing. Nothing else changes.
func (g *Gate) Agree(to ...Agreement) *Gate {
	out := *g
	out.Reasons, out.Agreed = slices.Clone(g.Reasons), nil
	for _, about := range Agreements() {
		if !slices.Contains(to, about) {
			continue
		}
		counted := false
		for i, r := range out.Reasons {
			if r.Agreement == about && r.Decides == Undecided {
				out.Reasons[i].Decides, counted = Passed, true
			}
		}
		if counted {
			out.Agreed = append(out.Agreed, about)
		}
	}
	return out.settled()
}

// settled is the gate with its reasons in order, those that fail it first, and with
// the outcomes that follow from them.
func (g *Gate) settled() *Gate {
	slices.SortStableFunc(g.Reasons, func(a, b Reason) int {
		return cmp.Or(b.Decides.rank()-a.Decides.rank(), slices.Index(reasonOrder, a.Kind)-slices.Index(reasonOrder, b.Kind),
			cmp.Compare(b.size(), a.size()))
	})
	g.Outcome = Passed
	for _, r := range g.Reasons {
		g.Outcome = worse(g.Outcome, r.Decides)
	}
	for i, j := range g.Judged {
		judged := *j
		judged.Outcome = Passed
		for _, r := range g.Reasons {
			if r.Profile == j.Profile {
				judged.Outcome = worse(judged.Outcome, r.Decides)
			}
		}
		g.Judged[i] = &judged
	}
	return g
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
	renamed    map[string]string // profiles of the head under other names than the base's: the base's
	opt        compare.Options
	withDoubts bool // look at what is unsafe about the data, too
	gate       *Gate
	pending    []pending
}

func judge(policy compare.Policy, base, head Snapshot, opt compare.Options, withDoubts bool) (*Gate, error) {
	all := &judging{policy: policy, base: base, head: head, renamed: renamedProfiles(base, head), opt: opt, withDoubts: withDoubts,
		gate: &Gate{Base: base.Name, Head: head.Name}}
	all.removed()
	for _, name := range head.names() {
		if err := all.profile(name); err != nil {
			return nil, err
		}
	}
	all.base, all.head = Snapshot{}, Snapshot{} // of many rows, which measuring needs no more
	if err := all.measureAll(); err != nil {
		return nil, err
	}
	if opt.Progress != nil {
		opt.Progress(1, 1)
	}
	if err := all.judgeTogether(); err != nil {
		return nil, err
	}
	return all.gate.settled(), nil
}

// rank orders outcomes: one that fails outranks one that is open.
func (o Outcome) rank() int { return slices.Index([]Outcome{Passed, Undecided, Failed}, o) }

func worse(a, b Outcome) Outcome {
	if b.rank() > a.rank() {
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
}

// warn adds what a reader should know about a judgement.
func (j *Judgement) warn(n Note) {
	n.Profile = j.Profile
	j.Warnings = append(j.Warnings, n)
}
