package gate

import (
	"math"
	"slices"

	"tunegate/compare"
)

// Reason is one thing that speaks against a profile. Which fields are filled
// depends on its kind; package report puts it into words.
type Reason struct {
	Kind     string
	Profile  string
	Question Question        // why the profile is judged
	Decides  Outcome         // what this alone makes of the gate; Passed for a warning
	Rows     *compare.Rows   // where it stands; a metric's first new row where it is about the metric
	Result   *compare.Result // the metric it is about, where it was compared
	Metric   *compare.Metric // the metric it is about, where it was not
	Worst    float64         // the largest value beyond the cap
	Count    int             // of runs or sessions found
	Limit    int             // of runs or sessions wanted or allowed; of what counts once that would do
	When     string          // "before" or "now": the side that Count is of
	What     string          // "run" or "session"
	Names    []string        // of metrics, profiles, or reasons why runs are set aside
	Detail   string          // the base, the baseline, another profile, or why nothing could be compared
	// Agreement is what a person may agree to, so that the reason counts no longer;
	// empty for nothing.
	Agreement Agreement
	Changes   []PolicyChange // that loosen the policy
	Copies    *compare.Rows  // the rows that Rows repeat
	Chance    float64        // of so many equal rows without copying, at most
	Factor    float64        // Rows are Copies times that; 0 where they are equal, or shifted
	Shift     float64        // Rows are Copies plus that; 0 where they are equal, or scaled
	Anchor    bool           // it is about the change since the profile's anchor
}

// rowAt is where something stands that is no value.
func rowAt(at compare.Place) *compare.Rows { return compare.RowsOf(compare.Value{At: at}) }

// size is how large the change is that the reason is about; 0 for none, and where a
// percentage would mean nothing.
func (r Reason) size() float64 {
	if r.Result == nil || r.Result.Scale != compare.Ratio {
		return 0
	}
	return math.Abs(r.Result.Change)
}

// About names the metric that the reason is about; empty where it is about several,
// or about the profile as a whole.
func (r Reason) About() string {
	switch {
	case len(r.Names) > 1: // it is about several
	case r.Result != nil:
		return r.Result.Name()
	case r.Metric != nil:
		return r.Metric.Name()
	}
	return ""
}

// The kinds of reasons, the weightiest first.
const (
	ReasonCopies     = "copied-rows"
	ReasonStale      = "stale-runs"
	ReasonAltered    = "altered-rows"
	ReasonRegression = "regression" // as the verdict, like the next two, of costs
	ReasonRise       = "rise"
	ReasonFall       = "fall"
	ReasonDrift      = "drift"
	ReasonCap        = "cap"
	ReasonSetAside   = "set-aside"
	ReasonRequired   = "required"
	ReasonNoRuns     = "no-runs"
	ReasonBaseline   = "no-baseline"
	ReasonRemoved    = "profile-removed"
	ReasonFewRuns    = "too-few-runs"
	ReasonPolicy     = "policy-loosened"
	ReasonUnmeasured = "not-measured"
	ReasonNew        = "new-without-baseline" // a profile, or runs, that nothing older stands against
	ReasonNewBase    = "baseline-is-new"
	ReasonLaterRuns  = "later-runs" // a loss shows, or could hide, in runs that do not count, or were not made
	ReasonSlowRuns   = "slow-runs"  // a loss in some runs of each session, which medians pass over
	ReasonBlind      = "no-loss-visible"
	ReasonWithheld   = "loss-withheld" // real but for what the other rows could do by chance
	ReasonSafety     = "loss-not-excluded"
	ReasonBlindSpot  = "blind-spot"
)

var reasonOrder = []string{ReasonCopies, ReasonStale, ReasonAltered, ReasonRegression, ReasonRise, ReasonFall, ReasonDrift, ReasonCap,
	ReasonSetAside, ReasonRequired, ReasonNoRuns, ReasonBaseline, ReasonRemoved, ReasonFewRuns, ReasonPolicy, ReasonUnmeasured, ReasonNew,
	ReasonNewBase, ReasonLaterRuns, ReasonSlowRuns, ReasonWithheld, ReasonBlind, ReasonSafety, ReasonBlindSpot}

// ReasonKinds lists the kinds of reasons, in the order in which they are listed.
func ReasonKinds() []string { return slices.Clone(reasonOrder) }

// Note is something that a reader should know besides the reasons. Which fields
// are filled depends on its kind; package report puts it into words.
type Note struct {
	Kind    NoteKind
	Profile string
	Rows    *compare.Rows // where it stands
	Names   []string      // of files, or the profile's name before
	Changed []Difference  // what is recorded differently
}

// NoteKind says what a note is about.
type NoteKind string

// The kinds of notes on a gate.
const (
	NoteHeadPolicy NoteKind = "policy-of-head" // the base has none, so the head's is in force
	NoteDefaults   NoteKind = "no-policy"      // neither has one, so the defaults are in force
	NoteNotRead    NoteKind = "not-read"       // files that look like results, where none are read
	NoteRenamed    NoteKind = "renamed"        // a profile, its runs being the same
	// NoteNotCommitted: the files were judged as they lie on the disk.
	NoteNotCommitted NoteKind = "not-committed"
	// NoteNoTip: the base is a commit that no branch ends at.
	NoteNoTip      NoteKind = "base-is-no-tip"
	NoteConditions NoteKind = "conditions-only" // a profile's conditions differ, but neither settings nor runs
)

// The kinds of notes on a judgement.
const (
	NoteSetAside        NoteKind = "set-aside-since"   // a row that the base has, too
	NoteRestored        NoteKind = "restored"          // rows that are no longer set aside
	NoteOtherConditions NoteKind = "other-conditions"  // the change may not be the settings' alone
	NoteReadsAsBefore   NoteKind = "reads-as-before"   // rows equal to old ones, taken for new runs
	NoteNoBaseline      NoteKind = "names-no-baseline" // a new profile without runs, and nothing to judge it against
	NoteFirst           NoteKind = "first-of-its-kind" // the repository's first profile with runs
)
