package gate

import "tunegate/compare"

// Reason is one thing that speaks against a profile. Which fields are filled
// depends on its kind; package report puts it into words.
type Reason struct {
	Kind     string
	Profile  string
	Question Question        // why the profile is judged
	Decides  Outcome         // what this alone makes of the gate; Passed for a warning
	Rows     []compare.Value // where it stands; a metric's first new row where it is about the metric
	Result   *compare.Result // the metric it is about, where it was compared
	Metric   *compare.Metric // the metric it is about, where it was not
	Worst    float64         // the largest value beyond the cap
	Count    int             // of runs or sessions found
	Limit    int             // of runs or sessions wanted or allowed
	When     string          // "before" or "now": the side that Count is of
	What     string          // "run" or "session"
	Names    []string        // of metrics, profiles, or reasons why runs are set aside
	Detail   string          // the base, the baseline, or why nothing could be compared
}

// About names the metric that the reason is about; empty where it is about the
// profile as a whole.
func (r Reason) About() string {
	switch {
	case r.Result != nil:
		return r.Result.Name()
	case r.Metric != nil:
		return r.Metric.Name()
	}
	return ""
}

// The kinds of reasons, the weightiest first.
const (
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
	ReasonFewRuns    = "too-few-runs"
	ReasonSafety     = "loss-not-excluded"
	ReasonBlindSpot  = "blind-spot"
)

var reasonOrder = []string{ReasonStale, ReasonAltered, ReasonRegression, ReasonRise, ReasonFall, ReasonDrift, ReasonCap, ReasonSetAside,
	ReasonRequired, ReasonNoRuns, ReasonBaseline, ReasonFewRuns, ReasonSafety, ReasonBlindSpot}

// Note is something that a reader should know besides the reasons. Which fields
// are filled depends on its kind; package report puts it into words.
type Note struct {
	Kind    NoteKind
	Profile string
	Rows    []compare.Value // where it stands
	Names   []string        // of files
	Changed []Difference    // what is recorded differently
	Detail  string          // why nothing could be compared
}

// NoteKind says what a note is about.
type NoteKind string

// The kinds of notes on a gate.
const (
	NoteHeadPolicy NoteKind = "policy-of-head" // the base has none, so the head's is in force
	NoteDefaults   NoteKind = "no-policy"      // neither has one, so the defaults are in force
	NoteNotRead    NoteKind = "not-read"       // files that look like results, where none are read
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
	NoteNoBaseline      NoteKind = "names-no-baseline" // a new profile with nothing to judge it against
	NoteNothingBefore   NoteKind = "nothing-before"    // new runs with nothing to hold them against
)
