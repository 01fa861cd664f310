package compare

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"tunegate/compare/internal/work"
)

// Pair is one metric with its two sides as they are set against each other.
// Whatever is measured, judged or planned later leaves it as it is.
type Pair struct {
	Metric
	Before, After Sample
	Blocks        []string       // complete blocks, in order; nil where none are used
	Parts         []*Measurement // what a suite pools; nil for a metric
	Excluded      *Exclusion     // runs that blocks kept out; nil for none
	RunsMatched   bool           // sessions count by fewer than their runs, see matchRuns
	Machines      [2][]string    // of each side, see Series.Machines
	UnitFrom      string         // the side that states the unit, where only one does: "before" or "after"

	layout     layout
	resolution [2]float64 // steps of each side's readings, in the metric's unit; 0 where too few show one, and for a suite
	decides    bool       // of a suite: its regression changes the exit status
	minSize    int        // from so many values a side on there is a test; 0 where the layout alone says so
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
	Unpaired      []Omission // metrics without a partner, in order of appearance
	SetAside      []ExcludedRun
}

// Omission is a metric that cannot be compared, or a score that cannot be in a
// suite, and why.
type Omission struct {
	Name  string
	Score bool // which a policy names, where there is one
	Why   OmissionReason
	Unit  string // of NoRatio
}

// OmissionReason says why a metric is left out.
type OmissionReason string

// The reasons, as phrases.
const (
	MissingBefore    OmissionReason = "missing before"
	MissingAfter     OmissionReason = "missing after"
	MissingBoth      OmissionReason = "missing on both sides"
	NoValidRunBefore OmissionReason = "no valid run before"
	NoValidRunAfter  OmissionReason = "no valid run after"
	NoValidRun       OmissionReason = "no valid run" // on either side
	NoRatio          OmissionReason = "no ratio"     // but a difference in a unit
)

// OnlySide is the side that alone has a valid run, "before" or "after"; empty
// where neither has.
func (o Omission) OnlySide() string {
	switch o.Why {
	case MissingAfter, NoValidRunAfter:
		return "before"
	case MissingBefore, NoValidRunBefore:
		return "after"
	}
	return ""
}

// ExcludedRun is a run that does not count, and why.
type ExcludedRun struct {
	Profile   string
	Benchmark string
	Machine   string
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
	work.OnAllCores(len(before), func(i int) {
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
			p.omit(policy, b, MissingAfter)
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
			p.omit(policy, a, NoValidRun)
		case pair.Before.Runs == 0:
			p.omit(policy, a, NoValidRunBefore)
		case pair.After.Runs == 0:
			p.omit(policy, b, NoValidRunAfter)
		default:
			p.Pairs = append(p.Pairs, pair)
		}
	}
	for _, a := range after {
		if wanted(a) && !met[a.ID()] {
			p.omit(policy, a, MissingBefore)
		}
	}
	if len(p.Pairs) == 0 {
		return nil, fmt.Errorf("%s and %s have no benchmark in common with a valid run on both sides%s", p.Before, p.After, p.whatIsMissing())
	}
	return p, nil
}

// omit notes a metric that cannot be compared.
func (p *Pairing) omit(policy Policy, s *Series, why OmissionReason) {
	m, err := ResolveAnyway(policy, s)
	p.Unpaired = append(p.Unpaired, Omission{Name: s.ID().Name(), Score: err == nil && m.Scored(), Why: why})
}

func (p *Pairing) whatIsMissing() string {
	names := map[string][]string{}
	for _, o := range p.Unpaired {
		side, name := o.OnlySide(), o.Name
		if o.Why == NoValidRunBefore || o.Why == NoValidRunAfter {
			name += " (" + string(o.Why) + ")"
		}
		names[side] = append(names[side], name)
	}
	text := ""
	for _, side := range []string{"before", "after"} {
		if len(names[side]) > 0 {
			text += "; only " + side + ": " + List(names[side], 6)
		}
	}
	if len(names[""]) > 0 {
		text += "; no valid run on either side yet: " + List(names[""], 12)
	}
	return text
}

// listSetAside lists each run that is set aside once, though all its metrics are.
func (p *Pairing) listSetAside(s *Series) {
	if !s.AnySetAside() {
		return
	}
	for at, id := range s.RunIDs() {
		o := s.At(at)
		if !o.SetAside {
			continue
		}
		run := ExcludedRun{s.Profile, s.Benchmark, o.Machine, o.Session, id.String(), o.Reason, ""}
		same := func(other ExcludedRun) bool { other.At = ""; return other == run }
		if !slices.ContainsFunc(p.SetAside, same) {
			run.At = o.At.String()
			p.SetAside = append(p.SetAside, run)
		}
	}
}

// Absent lists the scores that the policy names exactly and not both sides have.
func (p *Pairing) Absent(policy Policy) []Metric {
	met := map[MetricID]bool{}
	for _, pair := range p.Pairs {
		met[pair.ID()] = true
	}
	var absent []Metric
	for _, e := range policy.Entries {
		if !e.Exact() || met[e.ID()] {
			continue
		}
		met[e.ID()] = true
		if m, err := policy.Resolve(e.Benchmark, e.metric(), "", Higher); err == nil && m.Role == Score {
			absent = append(absent, m)
		}
	}
	return absent
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
// resolved already. Where a side holds several machines each counts once. It is a
// *PlacedError where sessions would have to count by their first runs and are reduced.
func PairOf(m Metric, b, a *Series) (*Pair, error) {
	machines := [2][]string{b.Machines(), a.Machines()}
	if b.perMachine || a.perMachine || len(machines[0]) > 1 || len(machines[1]) > 1 {
		b, a = b.ByMachine(), a.ByMachine()
	}
	p, err := sideBySide(m, func(keep func(block string) bool) (sides [2]Sample, err error) {
		if sides[0], err = reduce(m, b, keep); err == nil {
			sides[1], err = reduce(m, a, keep)
		}
		return sides, err
	})
	if err != nil {
		return nil, err
	}
	if p.RunsMatched && (p.Before.Reduced || p.After.Reduced) {
		return nil, ErrorAt(FirstPlace(b, a), "sessions of %s hold unequal numbers of runs (usually %s before and %s after), and reduced rows "+
			"cannot be cut to their first ones; reduce the first few runs of each session only, as many as most sessions have",
			m.Name(), Decimal(p.Before.UsualRuns, 12), Decimal(p.After.UsualRuns, 12))
	}
	p.Machines = machines
	return p, nil
}

// resolveSides is what is in force for a metric of which each side may state unit
// and direction.
func resolveSides(b, a *Series, policy Policy, opt Options) (m Metric, unitFrom string, err error) {
	if b.Unit != a.Unit && b.Unit != "" && a.Unit != "" {
		return m, "", ErrorAt(a.UnitAt, "%s is in %q here but in %q at %s; write both sides in the same unit",
			b.ID().Name(), a.Unit, b.Unit, b.UnitAt)
	}
	if b.Better != a.Better && b.Better != "" && a.Better != "" {
		return m, "", ErrorAt(a.BetterAt, "%s says better = %s here but %s at %s; state one direction for a metric",
			b.ID().Name(), a.Better, b.Better, b.BetterAt)
	}
	better, unit := cmp.Or(b.Better, a.Better), cmp.Or(b.Unit, a.Unit)
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
		if s.Len() > 0 {
			at := s.At(0).At
			at.Column = 0
			return at
		}
	}
	return Place{}
}
