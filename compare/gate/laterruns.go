package gate

import (
	"math"
	"slices"

	"tunegate/compare"
	"tunegate/stats"
)

// byWholeSessions is a comparison in which the new sessions hold more runs than the old
// ones, and count by their first: its metrics again, each session by the median of all its
// runs. nil where every run counts.
func (p pending) byWholeSessions() *pending {
	later := map[compare.MetricID]bool{}
	fewest := 0.0
	for _, x := range p.measured.Pairs {
		more := float64(x.After.Runs) > float64(x.After.Sessions)*x.Before.UsualRuns
		if x.RunsMatched && more && x.Role != compare.Info {
			if fewest == 0 || x.Before.UsualRuns < fewest {
				fewest = x.Before.UsualRuns
			}
			later[x.ID()] = true
		}
	}
	if len(later) == 0 {
		return nil
	}
	whole := pending{of: p.of, names: p.names, kind: wholeSessions, counted: int(math.Round(fewest))}
	for _, s := range p.before {
		if later[s.ID()] {
			whole.before = append(whole.before, onceASession(s, stats.Median))
		}
	}
	for _, s := range p.after {
		if later[s.ID()] {
			whole.after = append(whole.after, onceASession(s, stats.Median))
		}
	}
	return &whole
}

// onceASession is a series with one run a session, the middle of those that count. A row
// that stands for several runs has a middle of its own, and keeps it.
func onceASession(s *compare.Series, middle func(runs []float64) float64) *compare.Series {
	type session struct{ machine, block, label string }
	values, first := map[session][]float64{}, []compare.Observation{}
	for _, o := range s.All() {
		if o.Missing || o.SetAside {
			continue
		}
		at := session{o.Machine, o.Block, o.Session}
		if at.label == "" && at.block == "" { // a run by itself
			first = append(first, o)
			continue
		}
		if values[at] == nil {
			first = append(first, o)
		}
		values[at] = append(values[at], o.Value)
	}
	for i, o := range first {
		if runs := values[session{o.Machine, o.Block, o.Session}]; len(runs) > 0 {
			first[i].Value = stats.RoundDecimal(middle(runs), stats.MaxAbs(runs))
		}
	}
	return s.With(first...)
}

// checkLaterRuns finds losses that the runs hold which do not count, since the old sessions
// have fewer, and what they leave room for beyond the widest blind spot. Medians of
// different numbers of runs differ a little by themselves, so that the whole interval has
// to lie beyond the tolerance; and what makes later runs of a sitting slower may have done
// so before, unseen: as many runs as before tell.
func (g *judging) checkLaterRuns(p pending, c *compare.Comparison) {
	shown := g.failures(p.of)
	about := Reason{Kind: ReasonLaterRuns, Decides: Undecided, Limit: p.counted}
	beyond := func(r *compare.Result) bool {
		_, hi, ok := r.GainInterval()
		return r.Harmful() && ok && hi < -*r.Tolerance
	}
	for _, r := range c.Results {
		wide := r.Verdict != nil && r.Role == compare.Score && r.WidestBlindSpot != nil &&
			(r.BlindSpot == nil || *r.BlindSpot > *r.WidestBlindSpot)
		if !r.Decides || shown[r.ID()] || !beyond(r) && !wide {
			continue
		}
		about.Names = append(about.Names, r.Name())
		worst := about.Result
		if worst == nil || beyond(r) && !beyond(worst) || beyond(r) == beyond(worst) && math.Abs(r.Change) > math.Abs(worst.Change) {
			about.Result, about.Rows = r, firstRowOf(p.after, r)
		}
	}
	if about.Result != nil {
		g.add(p.of, about)
	}
}

// checkShortSittings finds the scores and the capped metrics whose new sessions end before
// the old ones do: what comes with the later runs of a sitting, throttling and heat, was
// not measured. More runs of the same settings may be fewer, since the old ones stay.
func (g *judging) checkShortSittings(j *Judgement, after []*compare.Series) {
	if j.Question == AskRepeat {
		return
	}
	about := Reason{Kind: ReasonLaterRuns, When: "now", Decides: Undecided}
	for _, r := range j.Comparison.Results {
		judged := r.Verdict != nil && r.Decides && r.Role == compare.Score
		now, before := int(r.After.UsualRuns), int(r.Before.UsualRuns)
		if !judged && r.Cap == nil || now == 0 || now >= before {
			continue
		}
		about.Names = append(about.Names, r.Name())
		if about.Result == nil {
			about.Result, about.Rows, about.Count, about.Limit = r, firstRowOf(after, r), now, before
		}
		about.Count, about.Limit = min(about.Count, now), max(about.Limit, before)
	}
	if about.Result != nil {
		g.add(j, about)
	}
}

// failures are the metrics that a profile's comparison fails by.
func (g *judging) failures(j *Judgement) map[compare.MetricID]bool {
	failed := map[compare.MetricID]bool{}
	if j.Comparison != nil {
		for _, r := range j.Comparison.Failures() {
			failed[r.ID()] = true
		}
	}
	return failed
}

// withWholeSessions measures the comparisons once more that leave runs out.
func (g *judging) withWholeSessions(all []pending) ([]pending, error) {
	out := slices.Clone(all)
	for _, p := range all {
		whole := p.byWholeSessions()
		if whole == nil || p.kind == sinceAnchor {
			continue
		}
		opt := g.opt
		opt.Progress = nil
		var err error
		if whole.measured, err = compare.Measure(whole.before, whole.after, whole.names, g.policy, opt); err != nil {
			return nil, err
		}
		out = append(out, *whole)
	}
	return out, nil
}
