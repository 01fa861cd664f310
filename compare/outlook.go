package compare

import (
	"math"
	"slices"

	"tunegate/stats/plan"
)

// power is the chance with which plans and blind spots are stated.
const power = 0.8

// Outlook is what follows from a judgement: what these runs could not see, and
// how many would settle the tolerance.
type Outlook struct {
	CanSettle     bool
	MinSampleSize int      // values a side (or blocks) from which a verdict is possible
	MaxConfidence float64  // highest confidence at which these runs could settle
	BlindSpot     *float64 // smallest loss caught four times in five; nil where none is
	Needs         []Need   // what is open, or a policy asks for

	planner, further Planner
}

// Question is what more values have to answer, four times in five.
type Question string

// The questions.
const (
	ToSettleAny Question = "any"     // a change, however large: below this nothing is settled
	ToConfirm   Question = "confirm" // what was seen: a hint, planned for the nearer end of its 80 % interval
	ToSettle    Question = "settle"  // a change as large as the tolerance
	ToCatch     Question = "catch"   // a loss as large as the blind spot that the policy allows
)

// Need is how many values it takes to answer a question.
type Need struct {
	Question Question
	Change   float64 // the size of the change that is planned for, as shown; 0 for any
	Size     int     // values a side, or blocks, in all
	Hours    float64 // at the bench, of what is missing; 0 where the minutes are not known
	AtLeast  bool    // it may take more hours: a run takes at least as long as the scores say
}

// Need is the answer to a question; nil where it does not arise or no number would do.
func (o *Outlook) Need(q Question) *Need {
	if i := slices.IndexFunc(o.Needs, func(n Need) bool { return n.Question == q }); i >= 0 {
		return &o.Needs[i]
	}
	return nil
}

// Outlook works out what follows from a judgement at a confidence; the policy
// says how many runs it wants in any case.
func (m *Measurement) Outlook(j Judgement, confidence float64, policy Policy) Outlook {
	alpha := math.Min(j.CriticalP, 1-confidence)
	planner := m.Planner(plan.Design{Confidence: confidence, CriticalP: j.FamilyP, Power: power}, policy)
	further := m.Planner(j.Next, policy)
	o := Outlook{planner: planner, further: further,
		CanSettle: m.MinP <= alpha+slack && m.Interval != nil, MinSampleSize: m.MinSize(planner, alpha),
		MaxConfidence: math.Max(0, 1-m.MinP*(1-confidence)/j.CriticalP)}
	if m.Role == Info {
		return o
	}
	spot, ok := planner.plan.BlindSpot(planner.margin)
	if loss := m.LossOf(spot); ok && o.CanSettle && !math.IsInf(loss, 0) && !math.IsNaN(loss) {
		o.BlindSpot = &loss
	}
	add := func(q Question, change float64, n int) {
		o.Needs = append(o.Needs, Need{q, change, n, policy.Bench.Hours(m, n), policy.Bench.RunFrom == MinutesScores})
	}
	if !o.CanSettle {
		add(ToSettleAny, 0, o.MinSampleSize)
	}
	need := func(q Question, change, shift, margin float64) {
		if n, ok := further.SizeToCatch(shift, margin); ok {
			add(q, change, max(n, planner.Wanted, o.MinSampleSize))
		}
	}
	if near, ok := planner.NearEnd(); ok && j.Verdict != nil && *j.Verdict == Hint {
		need(ToConfirm, m.LossOf(near), near, 0)
	}
	if t := m.tolerance(); t > 0 && j.Verdict != nil && !j.Verdict.Settled() {
		need(ToSettle, t, planner.margin, 0)
	}
	if w := m.WidestBlindSpot; w != nil && (o.BlindSpot == nil || *o.BlindSpot > *w) && m.LossShift(*w) > planner.margin {
		need(ToCatch, *w, m.LossShift(*w), planner.margin)
	}
	return o
}

// MinSize is the smallest number of values a side, or of blocks, with which the test
// can reach alpha.
func (m *Measurement) MinSize(p Planner, alpha float64) int {
	return max(p.Pilot.MinSize(alpha), m.minSize)
}

// Planner plans from a measurement for one rule. Sizes are values a side, or
// blocks; shifts are as compared and plus is better.
type Planner struct {
	Design plan.Design
	Wanted int // values a side, or blocks, that the policy wants
	Pilot  plan.Pilot

	plan   plan.Plan
	coarse bool    // readings are in steps that are coarse for their spread
	seen   float64 // the change of these runs, as a shift
	margin float64 // the tolerance, as a shift
}

// Planner plans from these runs.
func (m *Measurement) Planner(design plan.Design, policy Policy) Planner {
	p := Planner{Design: design, Wanted: m.wantedBy(policy), coarse: m.Resolution > 0,
		seen: m.estimate.shift, margin: m.LossShift(m.tolerance())}
	pilot := m.layout.pilot(m.estimate)
	pilot.Widening = m.widened
	return p.From(pilot)
}

// From is the same planner with another pilot.
func (p Planner) From(of plan.Pilot) Planner {
	p.Pilot, p.plan = of, plan.New(of, p.Design)
	return p
}

// wantedBy is how many values a side, or blocks, the policy wants.
func (m *Measurement) wantedBy(policy Policy) int {
	wanted := m.Fewest(policy, m.usualRuns())
	for i, part := range m.Parts {
		if n := part.Fewest(policy, part.usualRuns()); i == 0 || n > wanted {
			wanted = n
		}
	}
	return max(wanted, m.minSize)
}

// Fewest is how many values a side, or blocks, the policy's fewest-runs and
// fewest-sessions come to for a score whose sessions hold so many runs; 0 for
// no demand. A plan with fewer would fail the gate. Sessions that are not recorded
// cannot be advised in runs, and count for nothing here.
func (p *Pair) Fewest(policy Policy, runsPerSession float64) int {
	if p.Role != Score {
		return 0
	}
	up := func(wanted int, each float64) int { return int(math.Ceil(float64(wanted)/math.Max(1, each) - slack)) }
	switch p.layout.replication() {
	case BySession:
		return max(policy.FewestSessions, up(policy.FewestRuns, runsPerSession))
	case ByBlock, ByMachine:
		size := p.layout.sizes()
		sessions := float64(min(p.Before.Sessions, p.After.Sessions)) / float64(max(size[0], size[1]))
		return max(up(policy.FewestSessions, sessions), up(policy.FewestRuns, sessions*runsPerSession))
	}
	return policy.FewestRuns
}

// maxCoarseSize is the largest number that is advised for readings in coarse steps:
// from there on finer readings are the remedy, and their spread is hardly known.
const maxCoarseSize = 1000

// SizeToCatch is the number that finds a shift real and beyond the margin. ok is
// false where no number would.
func (p Planner) SizeToCatch(shift, margin float64) (n int, ok bool) {
	n, ok = p.plan.Size(shift, margin)
	return n, ok && !(p.coarse && n > maxCoarseSize)
}

// Precision is the number that brings half the interval's width down to
// halfWidth. ok is false where no number would.
func (p Planner) Precision(halfWidth float64) (n int, ok bool) { return p.plan.Precision(halfWidth) }

// NearEnd is the nearer end of the 80 % interval of the change that these runs show, as
// a shift; ok is false where the interval holds 0. It is what to plan for so that the
// change is found again.
func (p Planner) NearEnd() (shift float64, ok bool) { return p.plan.NearEnd(p.seen) }

// Settles is the chance that these runs are settled once so many more values a side,
// or blocks, are added, whose spread is so many times theirs. See plan.Plan.Settles.
func (p Planner) Settles(more int, spread float64) float64 {
	return p.plan.Settles(p.seen, p.margin, more, spread)
}

// LossShift is the shift, as compared, of a loss that is shown as the given
// size: a score that falls by it, a lower-is-better cost that rises by it.
func (m Metric) LossShift(loss float64) float64 {
	switch {
	case m.Scale != Ratio:
		return loss
	case m.Role != Score && m.Better == Lower:
		return math.Log1p(loss)
	}
	return -math.Log1p(-loss)
}

// LossOf is the size at which a shift is shown.
func (m Metric) LossOf(shift float64) float64 {
	switch {
	case m.Scale != Ratio:
		return shift
	case m.Role != Score && m.Better == Lower:
		return math.Expm1(shift)
	}
	return -math.Expm1(-shift)
}
