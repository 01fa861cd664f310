package compare

import (
	"fmt"
	"math"
)

// Pair is one metric with its two sides as they are set against each other.
// Whatever is measured, judged or planned later leaves it as it is.
type Pair struct {
	Metric
	Before, After Sample
	Blocks        []string       // complete blocks, in order; nil where none are used
	Parts         []*Measurement // what a suite pools; nil for a metric
	Excluded      *Exclusion     // runs that blocks kept out; nil for none
	UnitFrom      string         // the side that states the unit, where only one does: "before" or "after"

	layout     layout
	resolution float64 // step of readings in steps, in the metric's unit; 0 where they are fine, and for a suite
	decides    bool    // of a suite: its regression changes the exit status
}

// unitAt is the size, in the metric's unit, of a difference of 1 as compared: on
// logarithms that at the smaller side.
func (p *Pair) unitAt() float64 {
	if p.Scale == Ratio {
		return math.Min(p.Before.Median, p.After.Median)
	}
	return 1
}

// usualRuns is the usual number of runs a session, on the side that has fewer.
func (p *Pair) usualRuns() float64 { return math.Min(p.Before.UsualRuns, p.After.UsualRuns) }

// Pairing is what is compared with what: every metric that both profiles have.
type Pairing struct {
	Before, After string // the profiles
	Pairs         []*Pair
	OnlyBefore    []string // metrics without a partner
	OnlyAfter     []string
	SetAside      []ExcludedRun
	NoValidRun    []string // metrics without a valid run on either side
	Missing       []string // scores that one side lacks, and which side
}

// ExcludedRun is a run that does not count, and why.
type ExcludedRun struct {
	Profile   string
	Benchmark string
	Session   string
	Run       string
	Reason    string
	At        string
}

// PairUp finds the metrics that both sides have and reduces their runs to what
// counts once. The sides' series may come in any order. It is an error where
// there are none, and a *PlacedError where a value is at fault.
func PairUp(before, after []*Series, names [2]string, policy Policy, opt Options) (*Pairing, error) {
	p := &Pairing{Before: names[0], After: names[1]}
	wanted := func(s *Series) bool { return opt.Wants(s.ID()) }
	right := map[MetricID]*Series{}
	for _, s := range after {
		right[s.ID()] = s
	}
	// What both sides have is reduced on all cores; notes and the first error
	// follow in order.
	pairs, failed := make([]*Pair, len(before)), make([]error, len(before))
	OnAllCores(len(before), func(i int) {
		b := before[i]
		if a := right[b.ID()]; a != nil && wanted(b) {
			pairs[i], failed[i] = NewPair(b, a, policy, opt)
		}
	})
	met := map[MetricID]bool{}
	for i, b := range before {
		if !wanted(b) {
			continue
		}
		a := right[b.ID()]
		if a == nil {
			p.OnlyBefore = append(p.OnlyBefore, b.ID().Name())
			p.noteMissing(policy, b, "missing after")
			continue
		}
		met[b.ID()] = true
		p.listSetAside(b)
		p.listSetAside(a)
		if failed[i] != nil {
			return nil, failed[i]
		}
		switch pair := pairs[i]; {
		case pair.Before.Runs == 0 && pair.After.Runs == 0:
			p.NoValidRun = append(p.NoValidRun, pair.Name())
			p.noteMissing(policy, a, "no valid run")
		case pair.Before.Runs == 0:
			p.OnlyAfter = append(p.OnlyAfter, pair.Name()+" (no valid run before)")
			p.noteMissing(policy, a, "no valid run before")
		case pair.After.Runs == 0:
			p.OnlyBefore = append(p.OnlyBefore, pair.Name()+" (no valid run after)")
			p.noteMissing(policy, b, "no valid run after")
		default:
			p.Pairs = append(p.Pairs, pair)
		}
	}
	for _, a := range after {
		if wanted(a) && !met[a.ID()] {
			p.OnlyAfter = append(p.OnlyAfter, a.ID().Name())
			p.noteMissing(policy, a, "missing before")
		}
	}
	if len(p.Pairs) == 0 {
		return nil, fmt.Errorf("%s and %s have no benchmark in common with a valid run on both sides%s", p.Before, p.After, p.whatIsMissing())
	}
	return p, nil
}

// noteMissing notes a score that cannot be in the suite.
func (p *Pairing) noteMissing(policy Policy, s *Series, why string) {
	if m, err := ResolveAnyway(policy, s); err == nil && m.Role == Score && m.Named {
		p.Missing = append(p.Missing, fmt.Sprintf("%s (%s)", m.Name(), why))
	}
}

func (p *Pairing) whatIsMissing() string {
	text := ""
	if len(p.OnlyBefore) > 0 {
		text += "; only before: " + List(p.OnlyBefore, 6)
	}
	if len(p.OnlyAfter) > 0 {
		text += "; only after: " + List(p.OnlyAfter, 6)
	}
	for _, n := range p.notes() {
		text += "; " + n.Text
	}
	return text
}

// listSetAside lists each run that is set aside once, though all its metrics are.
func (p *Pairing) listSetAside(s *Series) {
	if !s.anySetAside() {
		return
	}
	for at, id := range s.RunIDs() {
		o := &s.Observations[at]
		if !o.SetAside {
			continue
		}
		run := ExcludedRun{Profile: s.Profile, Benchmark: s.Benchmark, Session: o.Session, Run: id.String(), Reason: o.Reason}
		seen := false
		for _, other := range p.SetAside {
			other.At = ""
			seen = seen || other == run
		}
		if !seen {
			run.At = o.At.String()
			p.SetAside = append(p.SetAside, run)
		}
	}
}

// Absent lists the scores that the policy names exactly and not both sides have:
// they stay in the family, so that leaving one out gains nothing.
func (p *Pairing) Absent(policy Policy) []Metric {
	present := map[MetricID]bool{}
	for _, pair := range p.Pairs {
		present[pair.ID()] = true
	}
	return policy.absentScores(present)
}

// NewPair resolves the metric of two series, one a side, and sets their runs
// against each other. It is a *PlacedError where the sides contradict each other,
// or no direction is stated. A side without a valid run has no runs.
func NewPair(b, a *Series, policy Policy, opt Options) (*Pair, error) {
	m, unitFrom, err := resolveSides(b, a, policy, opt)
	if err != nil {
		return nil, err
	}
	p, err := PairOf(m, b, a)
	if err == nil {
		p.UnitFrom = unitFrom
	}
	return p, err
}

// PairOf sets the runs of two series against each other, as a metric that is
// resolved already.
func PairOf(m Metric, b, a *Series) (*Pair, error) {
	return sideBySide(m, func(keep func(Observation) bool) (sides [2]Sample, err error) {
		if sides[0], err = reduce(m, b, keep); err == nil {
			sides[1], err = reduce(m, a, keep)
		}
		return sides, err
	})
}

// resolveSides is what is in force for a metric of which each side may state unit
// and direction.
func resolveSides(b, a *Series, policy Policy, opt Options) (m Metric, unitFrom string, err error) {
	if b.Unit != a.Unit && b.Unit != "" && a.Unit != "" {
		return m, "", ErrorAt(a.UnitAt, "%s is in %q here but in %q at %s; both sides need the same unit",
			b.ID().Name(), a.Unit, b.Unit, b.UnitAt)
	}
	if b.Better != a.Better && b.Better != "" && a.Better != "" {
		return m, "", ErrorAt(a.BetterAt, "%s says better = %s here but %s at %s; state one direction for a metric",
			b.ID().Name(), a.Better, b.Better, b.BetterAt)
	}
	better, unit := Better(OrWord(string(b.Better), string(a.Better))), OrWord(b.Unit, a.Unit)
	m, err = policy.Resolve(b.Benchmark, b.Metric, unit, better)
	if err != nil && better == "" && opt.Better != "" { // nobody else says, not the policy's unit either
		m, err = policy.Resolve(b.Benchmark, b.Metric, unit, opt.Better)
	}
	if err != nil {
		return m, "", ErrorAt(FirstPlace(b, a), "%w", err)
	}
	if d := b.Derived; d != nil {
		m.Role, m.Scale = d.Role, d.Scale
		if m.Role != Cost {
			m.Tolerance = nil
		}
	}
	if b.Unit != a.Unit && b.Derived == nil && m.Sources["unit"] == FromData {
		unitFrom = "before"
		if b.Unit == "" {
			unitFrom = "after"
		}
	}
	return m, unitFrom, nil
}

// FirstPlace is the line of the first value of several series.
func FirstPlace(series ...*Series) Place {
	for _, s := range series {
		if len(s.Observations) > 0 {
			at := s.Observations[0].At
			at.Column = 0
			return at
		}
	}
	return Place{}
}
