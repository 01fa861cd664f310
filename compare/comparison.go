package compare

import (
	"slices"

	"tunegate/compare/internal/work"
)

// Options are the settings of one comparison that are not policy.
type Options struct {
	Resamples int // 0: stats.DefaultResamples
	Seed      uint64
	Better    Better // direction of metrics that state none; empty: an error for them
	// Look judges the first or second of two planned looks, at the confidence that
	// keeps the policy's over both; 0 for a single one.
	Look    int
	Minutes Minutes // what a session and a run take, as stated for this call; see MinutesOf
	// Wanted says which metrics to look at; nil for all.
	Wanted func(MetricID) bool
	// Progress is called with how much of the work is done, from one goroutine at
	// a time; nil means that no progress is reported.
	Progress func(done, total int)
}

// Wants reports whether a metric is to be looked at.
func (o Options) Wants(id MetricID) bool { return o.Wanted == nil || o.Wanted(id) }

// Comparison is everything known about two profiles. Changes and intervals of
// scores are turned so that plus is better; those of costs and infos keep
// their natural sign.
type Comparison struct {
	Before, After string
	Terms
	Policy   string     // the file; empty for none
	Caps     []Entry    // what the policy caps
	Family   Family     // corrected together, in all comparisons that are judged with this one
	Absent   []string   // scores that the policy names and not both sides have
	Unpaired []Omission // metrics without a partner, in order of appearance
	SetAside []ExcludedRun
	Minutes  Minutes // what a session and a run take, as far as known
	Results  []*Result
	// Suite pools the scores, Classes those of each workload class; nil where
	// there are fewer than two.
	Suite   *Suite
	Classes []*Suite
	Notes   []Note
}

// Compare judges after against before. The sides' series may come in any
// order; runs of other profiles are not looked at. An error means that nothing
// was judged: a *PlacedError where a value is at fault.
func Compare(before, after []*Series, names [2]string, policy Policy, opt Options) (*Comparison, error) {
	progress := opt.Progress
	opt.Progress = work.PartOf(progress, 0, 2)
	m, err := Measure(before, after, names, policy, opt)
	if err != nil {
		return nil, err
	}
	return JudgeTogether(work.PartOf(progress, 1, 2), m)[0], nil
}

// Measured is two profiles measured against each other, not yet judged.
type Measured struct {
	*Pairing
	Terms
	all     []*Measurement
	suite   *Pool   // nil where there are fewer than two scores to pool
	classes []*Pool // of workload classes
	notes   []Note  // why something was not pooled
	policy  Policy  // with the minutes that are known
	opt     Options
}

// Measure measures after against before, as Compare does.
func Measure(before, after []*Series, names [2]string, policy Policy, opt Options) (*Measured, error) {
	if err := policy.CheckOverrides(slices.Concat(before, after)...); err != nil {
		return nil, err
	}
	p, err := PairUp(before, after, names, policy, opt)
	if err != nil {
		return nil, err
	}
	out := &Measured{Pairing: p, Terms: TermsOf(policy, opt), policy: policy, opt: opt}
	out.policy.Bench = MinutesOf(opt.Minutes, policy, p.Pairs, before, after)
	out.all = out.MeasureAll(p.Pairs, work.NewProgress(len(p.Pairs), opt.Progress).Step)
	out.pool()
	return out, nil
}

// JudgeTogether judges comparisons of one policy together: everything that can
// change the exit status is corrected for each other. progress is called as in
// Options.
func JudgeTogether(progress func(done, total int), all ...*Measured) []*Comparison {
	if len(all) == 0 {
		return nil
	}
	terms, families := all[0].Terms, make([][]*Measurement, len(all))
	for i, m := range all {
		families[i] = m.family()
	}
	family, judged, out := terms.FamilyOf(families...), terms.Judge(families...), make([]*Comparison, len(all))
	rows := 0
	for _, m := range all {
		rows += len(m.all)
	}
	done := work.NewProgress(rows, progress).Step
	for i, m := range all {
		out[i] = m.comparison(families[i], judged[i], done)
		out[i].Family = family
		out[i].Notes = out[i].notes(m.notes)
	}
	return out
}

// family lists what can change the exit status.
func (m *Measured) family() (out []*Measurement) {
	for _, x := range m.all {
		if x.InFamily() {
			out = append(out, x)
		}
	}
	if m.suite != nil && m.suite.Measured.InFamily() {
		out = append(out, m.suite.Measured)
	}
	return out
}

// comparison puts results together; what cannot change the exit status is judged by
// itself.
func (m *Measured) comparison(family []*Measurement, judged []Judgement, done func()) *Comparison {
	verdict := map[*Measurement]Judgement{}
	for i, x := range family {
		verdict[x] = judged[i]
	}
	alone := m.Terms
	alone.Correction = NoCorrection
	of := func(x *Measurement) Judgement {
		if j, ok := verdict[x]; ok {
			return j
		}
		return alone.Judge([]*Measurement{x})[0][0]
	}
	judgements := make([]Judgement, len(m.all))
	for i, x := range m.all {
		judgements[i] = of(x)
	}
	c := newComparison(m.Pairing, m.Terms, m.policy, m.Results(m.all, judgements, m.policy, done))
	for _, absent := range m.Absent(m.policy) {
		if m.opt.Wants(absent.ID()) {
			c.Absent = append(c.Absent, absent.Name())
		}
	}
	if m.suite != nil {
		settled := c.settled()
		c.Suite = m.Suites([]*Pool{m.suite}, []Judgement{of(m.suite.Measured)}, m.policy, settled)[0]
		c.Suite.LeftOut = m.leftOut(c.Absent)
		classes := make([]*Measurement, len(m.classes))
		for i, p := range m.classes {
			classes[i] = p.Measured
		}
		c.Classes = m.Suites(m.classes, m.Judge(classes)[0], m.policy, settled)
	}
	return c
}

// settled says whether a score is settled by itself.
func (c *Comparison) settled() func(*Measurement) bool {
	settled := map[*Measurement]bool{}
	for _, r := range c.Results {
		settled[r.Measurement] = r.Verdict != nil && r.Verdict.Settled()
	}
	return func(m *Measurement) bool { return settled[m] }
}

func newComparison(p *Pairing, terms Terms, policy Policy, results []*Result) *Comparison {
	return &Comparison{Before: p.Before, After: p.After, Terms: terms, Policy: policy.Source, Caps: policy.Caps(), Minutes: policy.Bench,
		Unpaired: p.Unpaired, SetAside: p.SetAside, Results: results}
}

// NewComparison puts results that were judged with others together, without a
// suite. notes are what came up on the way.
func NewComparison(p *Pairing, terms Terms, policy Policy, results []*Result, notes []Note) *Comparison {
	c := newComparison(p, terms, policy, results)
	c.Notes = c.notes(notes)
	return c
}

// MeasureAll measures pairs on all cores; done is called for each; nil
// means that no progress is reported.
func (t Terms) MeasureAll(pairs []*Pair, done func()) []*Measurement {
	out := make([]*Measurement, len(pairs))
	work.OnAllCores(len(pairs), func(i int) {
		out[i] = pairs[i].Measure(t)
		if done != nil {
			done()
		}
	})
	return out
}

// Scored reports whether a metric is a score that the policy names, where there is
// one.
func (m Metric) Scored() bool { return m.Role == Score && m.Named }

// Judged lists everything with a row of its own: the metrics, the suite, its
// classes.
func (c *Comparison) Judged() []*Result {
	out := slices.Clone(c.Results)
	if c.Suite != nil {
		out = append(out, c.Suite.Result)
	}
	for _, s := range c.Classes {
		out = append(out, s.Result)
	}
	return out
}

// Failures lists the results that make the program fail.
func (c *Comparison) Failures() []*Result {
	return slices.DeleteFunc(c.Judged(), func(r *Result) bool { return !r.Decides || !r.Harmful() })
}
