package compare

import (
	"slices"

	"tunegate/compare/internal/work"
	"tunegate/stats/plan"
)

// Options are the settings of one comparison that are not policy.
type Options struct {
	Resamples int // 0: stats.DefaultResamples
	Seed      uint64
	Better    Better // direction of metrics that state none; empty: an error for them
	// Look and Looks judge one of several planned looks at the data, at the
	// confidence that keeps the policy's over all of them; 0 for a single one.
	Look, Looks int
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
	Policy string  // the file; empty for none
	Caps   []Entry // what the policy caps
	// Look is which of Looks planned looks this is; Overall is the confidence
	// that all of them keep together.
	Look, Looks int
	Overall     float64
	Family      int        // scores that share the correction
	Absent      []string   // scores that the policy names and not both sides have
	Unpaired    []Omission // metrics without a partner, in order of appearance
	SetAside    []ExcludedRun
	Results     []*Result
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
	if err := policy.CheckOverrides(slices.Concat(before, after)...); err != nil {
		return nil, err
	}
	p, err := PairUp(before, after, names, policy, opt)
	if err != nil {
		return nil, err
	}
	done := work.NewProgress(2*len(p.Pairs), opt.Progress)
	terms, overall := TermsOf(policy, opt), 0.0
	if opt.Looks > 1 {
		overall = terms.Confidence
		terms.Confidence = plan.LookConfidence(overall, opt.Look, opt.Looks)
	}
	results, family := terms.JudgeMetrics(p, policy, done.Step)
	c := newComparison(p, terms, policy, results)
	c.Family = family
	if opt.Looks > 1 {
		c.Look, c.Looks, c.Overall = opt.Look, opt.Looks, overall
	}
	for _, m := range p.Absent(policy) {
		if opt.Wants(m.ID()) {
			c.Absent = append(c.Absent, m.Name())
		}
	}
	var suiteNotes []Note
	c.Suite, c.Classes, suiteNotes = c.suites(p, policy)
	c.Notes = c.notes(suiteNotes)
	return c, nil
}

func newComparison(p *Pairing, terms Terms, policy Policy, results []*Result) *Comparison {
	return &Comparison{Before: p.Before, After: p.After, Terms: terms, Policy: policy.Source, Caps: policy.Caps(),
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

// InFamily reports whether a metric shares the correction.
func (m Metric) InFamily() bool { return m.Role == Score && m.Named }

// JudgeMetrics measures what is paired up, corrects the scores for each other, and
// gives every verdict; family is how many share the correction. done is called
// twice for each metric; nil for no progress.
func (t Terms) JudgeMetrics(p *Pairing, policy Policy, done func()) (results []*Result, family int) {
	measured, absent := t.MeasureAll(p.Pairs, done), len(p.Absent(policy))
	var scores, others []*Measurement
	for _, m := range measured {
		if m.InFamily() {
			scores = append(scores, m)
		} else {
			others = append(others, m)
		}
	}
	single := t
	single.Correction = NoCorrection
	judged, alone := t.Results(scores, absent, policy, done), single.Results(others, 0, policy, done)
	for _, m := range measured {
		from := &alone
		if m.InFamily() {
			from = &judged
		}
		results, *from = append(results, (*from)[0]), (*from)[1:]
	}
	return results, len(scores) + absent
}

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
