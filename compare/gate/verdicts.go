package gate

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"tunegate/compare"
	"tunegate/compare/doubts"
	"tunegate/compare/internal/work"
)

// measure files a profile's rows, checks what needs no comparison and notes what is
// to be measured and judged with every other profile of the merge, since all of them
// are corrected for each other. Against its anchor the verdicts alone count.
func (g *judging) measure(j *Judgement, before, after *compare.Rows, names [2]string, anchor bool) error {
	runsBefore, err := collect(names[0], before)
	if err != nil {
		return err
	}
	runsAfter, err := collect(names[1], after)
	if err != nil {
		return err
	}
	b, a := runsBefore.Series(), runsAfter.Series()
	if !anchor {
		if err := g.checkRuns(j, b, a, after); err != nil {
			return err
		}
	}
	if err := sameMeaning(g.policy, b, a, names[0]); err != nil {
		return err
	}
	p := pending{of: j, before: b, after: a, names: names}
	if anchor {
		p.kind = sinceAnchor
	}
	g.pending = append(g.pending, p)
	return nil
}

// measureAll measures what is pending; what cannot be compared is a reason.
func (g *judging) measureAll() error {
	var measured []pending
	for i, p := range g.pending {
		opt := g.opt
		opt.Progress = work.PartOf(g.opt.Progress, i, len(g.pending))
		m, err := compare.Measure(p.before, p.after, p.names, g.policy, opt)
		if err == nil {
			p.measured = m
			measured = append(measured, p)
			continue
		}
		var placed *compare.PlacedError
		switch {
		case errors.As(err, &placed):
			return err
		case p.kind == sinceAnchor: // what it no longer measures was asked for when it was left out
		case p.of.Question == AskRepeat:
			g.add(p.of, Reason{Kind: ReasonNew, Rows: firstRow(p.after, ""), Detail: err.Error(), Decides: Undecided, Agreement: AgreeNew})
			if err := g.checkSizesAlone(p.of, p.after); err != nil {
				return err
			}
		default:
			g.add(p.of, Reason{Kind: ReasonNoRuns, Rows: firstRow(p.after, ""), Detail: err.Error()})
		}
	}
	var err error
	g.pending, err = g.withWholeSessions(measured)
	return err
}

// pending is a profile that is not yet judged.
type pending struct {
	of            *Judgement
	before, after []*compare.Series
	names         [2]string
	kind          pendingKind
	counted       int // runs a session that count, where kind is wholeSessions
	measured      *compare.Measured
}

// pendingKind says what a comparison is for.
type pendingKind int

const (
	theChange     pendingKind = iota
	sinceAnchor               // before is the profile's anchor
	wholeSessions             // with the runs of each session that the change leaves out
)

// judgeTogether judges everything that is measured and holds it to the policy.
func (g *judging) judgeTogether() error {
	all := make([]*compare.Measured, len(g.pending))
	for i, p := range g.pending {
		all[i] = p.measured
	}
	var compared []doubts.Compared
	var looked []*Judgement
	for i, c := range compare.JudgeTogether(nil, all...) {
		p := g.pending[i]
		switch p.kind {
		case sinceAnchor:
			p.of.SinceAnchor = c
			if _, apart := p.otherMachine(); !apart || p.of.Question != AskRepeat {
				g.checkSinceAnchor(p.of, p.after)
			}
			continue
		case wholeSessions:
			g.checkLaterRuns(p, c)
			continue
		}
		p.of.Comparison = c
		if g.withDoubts {
			compared, looked = append(compared, doubts.Compared{Comparison: c, Before: p.before, After: p.after}), append(looked, p.of)
		}
		of, apart := p.otherMachine()
		if apart {
			g.add(p.of, Reason{Kind: ReasonNew, Decides: Undecided, Agreement: AgreeNew, Rows: firstRow(p.after, ""), Detail: of})
		}
		if !apart || p.of.Question != AskRepeat {
			g.checkVerdicts(p.of, p.after)
		}
		g.checkDemands(p.of, p.after)
		g.checkShortSittings(p.of, p.after)
		if err := g.checkSlowRuns(p); err != nil {
			return err
		}
		g.checkUnmeasured(p.of, p.before, p.after)
	}
	reports, err := doubts.OfComparisons(compared, g.policy, compare.Options{Better: g.opt.Better})
	for i, r := range reports {
		looked[i].Doubts = r
	}
	return err
}

// otherMachine reports whether the new runs are of one machine and the old ones of
// another, so that nothing tells the settings from the machine, and says so. Of the same
// settings on a further machine a difference is no drift either.
func (p pending) otherMachine() (text string, apart bool) {
	for _, x := range p.measured.Pairs {
		was, now := x.Machines[0], x.Machines[1]
		if len(was) == 1 && len(now) == 1 && was[0] != "" && now[0] != "" && !strings.EqualFold(was[0], now[0]) {
			return fmt.Sprintf("they are of the machine %s, and the old ones of %s, so that the settings cannot be told from the machine; "+
				"measure on %[2]s", now[0], was[0]), true
		}
	}
	return "", false
}

// judgeAlone holds runs to what needs nothing to compare them with.
func (g *judging) judgeAlone(j *Judgement, rows *compare.Rows) error {
	runs, err := collect(j.Profile, rows)
	if err != nil || rows.Len() == 0 {
		return err
	}
	if err := g.checkRuns(j, nil, runs.Series(), rows); err != nil {
		return err
	}
	return g.checkSizesAlone(j, runs.Series())
}

// withheldCure is how many more sessions a side a loss that is withheld asks for: with
// two more, what other rows reach by chance costs a thirteenth.
const withheldCure = 2

// checkVerdicts turns the verdicts of a comparison into reasons.
func (g *judging) checkVerdicts(j *Judgement, after []*compare.Series) {
	for _, r := range j.Comparison.Judged() {
		if r.Verdict == nil || !r.Decides {
			continue
		}
		reason := Reason{Kind: string(*r.Verdict), Result: r, Rows: firstRowOf(after, r)}
		if j.Question == AskRepeat {
			reason.Kind = ReasonDrift
		}
		switch {
		case r.Harmful():
			g.add(j, reason)
		case r.HarmWithheld():
			reason.Kind, reason.Decides, reason.Limit = ReasonWithheld, Undecided, slices.Min(r.Replicates[:])+withheldCure
			g.add(j, reason)
		case j.Question == AskRepeat && r.Real:
			reason.Decides = Passed
			g.add(j, reason)
		}
	}
}

// checkSinceAnchor finds the losses since the profile's anchor that the last change
// alone does not show. More runs of the same settings change nothing about what landed,
// and of that a loss up to the tolerance was taken before: they fail where the whole
// interval lies beyond it.
func (g *judging) checkSinceAnchor(j *Judgement, after []*compare.Series) {
	shown := g.failures(j)
	for _, r := range j.SinceAnchor.Failures() {
		reason := Reason{Kind: string(*r.Verdict), Result: r, Rows: firstRowOf(after, r), Anchor: true}
		if j.Question == AskRepeat {
			if _, hi, ok := r.GainInterval(); !ok || hi >= -*r.Tolerance {
				continue
			}
			reason.Kind = ReasonDrift
		}
		if !shown[r.ID()] {
			g.add(j, reason)
		}
	}
}

// firstRowOf is the first row of a result's metric, of a suite the first of all.
func firstRowOf(series []*compare.Series, r *compare.Result) *compare.Rows {
	if r.Parts != nil {
		return firstRow(series, "")
	}
	return firstRow(series, r.Name())
}

// checkDemands holds the scores of a comparison to what the policy wants of every one,
// and to what a judgement needs: that a loss could have been seen. Scores with the
// same fault share a reason, which is about the worst of them.
func (g *judging) checkDemands(j *Judgement, after []*compare.Series) {
	var found demands
	for _, r := range j.Comparison.Results {
		if r.Verdict == nil || !r.Decides || r.Role != compare.Score {
			continue
		}
		about, rows := Reason{Result: r, Decides: Undecided}, firstRowOf(after, r)
		now := r.After.Side
		if j.Question == AskRepeat { // what is judged together is all that the profile has
			now.Runs, now.Sessions = now.Runs+r.Before.Runs, now.Sessions+r.Before.Sessions
		} else {
			g.sizes(&found, Reason{Result: r, When: "before"}, r.Before.Side)
		}
		g.sizes(&found, Reason{Result: r, When: "now", Rows: rows}, now)
		blind := r.BlindSpot == nil && !r.Verdict.Settled()
		about.Rows = rows
		if blind {
			about.Kind, about.Limit = ReasonBlind, max(r.MinSampleSize, 1)
			found.add(about, r.Name())
			continue
		}
		if g.policy.Burden == compare.Safety && !r.Harmful() {
			if lo, _, _ := r.GainInterval(); r.Interval == nil || lo < -*r.Tolerance {
				about.Kind = ReasonSafety
				found.add(about, r.Name())
			}
		}
		if r.WidestBlindSpot != nil && (r.BlindSpot == nil || *r.BlindSpot > *r.WidestBlindSpot) {
			about.Kind = ReasonBlindSpot
			found.add(about, r.Name())
		}
	}
	for _, r := range found {
		g.add(j, r)
	}
}

// demands are reasons that scores share.
type demands []Reason

// add files a reason about one more score. That with fewer runs, or with the wider
// blind spot, stands for all.
func (d *demands) add(r Reason, name string) {
	at := slices.IndexFunc(*d, func(x Reason) bool { return x.Kind == r.Kind && x.When == r.When && x.What == r.What })
	if at < 0 {
		r.Names = []string{name}
		*d = append(*d, r)
		return
	}
	names := append((*d)[at].Names, name)
	if r.worseThan((*d)[at]) {
		(*d)[at] = r
	}
	(*d)[at].Names = names
}

// worseThan reports whether a reason is weightier than another of its kind.
func (r Reason) worseThan(other Reason) bool {
	switch {
	case r.Kind == ReasonFewRuns:
		return r.Count < other.Count
	case r.Kind == ReasonBlind || r.Result.BlindSpot == nil || other.Result.BlindSpot == nil:
		return r.Limit > other.Limit
	}
	return *r.Result.BlindSpot > *other.Result.BlindSpot
}

// sizes holds one side of a score to the fewest runs and sessions. about says which
// score and which side.
func (g *judging) sizes(found *demands, about Reason, s compare.Side) {
	for _, demand := range []struct {
		what         string
		count, limit int
	}{{"run", s.Runs, g.policy.FewestRuns}, {"session", s.Sessions, g.policy.FewestSessions}} {
		if demand.count < demand.limit {
			about.Kind, about.What, about.Count, about.Limit = ReasonFewRuns, demand.what, demand.count, demand.limit
			found.add(about, about.About())
		}
	}
}

// checkUnmeasured finds the scores and the capped metrics that there were and that the
// new runs leave out, so that a loss in them, or heat, goes unseen. More runs of the
// same profile may leave scores out, whose old runs stay as they are, unless they bring
// others, which may be the same under another name; and not what is capped in what they
// measure.
func (g *judging) checkUnmeasured(j *Judgement, before, after []*compare.Series) {
	has, had, benchmarks := measured(after), measured(before), map[string]bool{}
	runs, most := map[compare.MetricID]int{}, map[string]int{} // valid ones, and the most of a metric of a benchmark
	for _, s := range after {
		for _, o := range s.All() {
			if !o.SetAside && !o.Missing {
				runs[s.ID()]++
			}
		}
		most[s.Benchmark] = max(most[s.Benchmark], runs[s.ID()])
	}
	for id := range has {
		benchmarks[id.Benchmark] = true
	}
	selected := j.Question == AskRepeat && !slices.ContainsFunc(after, func(s *compare.Series) bool {
		m, err := compare.ResolveAnyway(g.policy, s)
		return err == nil && m.Scored() && has[s.ID()] && !had[s.ID()]
	})
	var names []string
	for _, s := range before {
		id := s.ID()
		m, err := g.capped(s)
		switch {
		case err == nil && m.Role == compare.Info: // the policy says that nobody asks for it
		case err == nil && m.Cap != nil && has[id] && 2*runs[id] < most[id.Benchmark]:
			names = append(names, m.Name()+" in most runs")
		case err != nil || has[id] || !had[id] || m.Required:
		case m.Cap != nil && (j.Question != AskRepeat || benchmarks[id.Benchmark]), m.Scored() && !selected:
			names = append(names, m.Name())
		}
	}
	if len(names) > 0 {
		g.add(j, Reason{Kind: ReasonUnmeasured, Names: names, Rows: firstRow(after, ""), Decides: Undecided})
	}
}

// checkSizesAlone holds runs without a partner to the fewest runs and sessions. An
// error is about a value, or a score without a stated direction.
func (g *judging) checkSizesAlone(j *Judgement, series []*compare.Series) error {
	var found demands
	for _, s := range series {
		m, err := g.policy.Resolve(s.Benchmark, s.Metric, s.Unit, s.Better)
		if err != nil {
			return compare.ErrorAt(compare.FirstPlace(s), "%w", err)
		}
		if !m.Scored() {
			continue
		}
		side, err := compare.Reduce(m, s)
		if err != nil {
			return err
		}
		g.sizes(&found, Reason{Metric: &m, When: "now", Rows: firstRow([]*compare.Series{s}, "")}, side.Side)
	}
	for _, r := range found {
		g.add(j, r)
	}
	return nil
}
