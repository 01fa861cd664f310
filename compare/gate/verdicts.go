package gate

import (
	"errors"

	"tunegate/compare"
	"tunegate/compare/doubts"
)

// measure measures a profile and notes what is to be judged once every profile of
// the merge is measured, since all of them are corrected for each other.
func (g *judging) measure(j *Judgement, before, after []compare.Value, names [2]string) error {
	runsBefore, err := collect(names[0], before)
	if err != nil {
		return err
	}
	runsAfter, err := collect(names[1], after)
	if err != nil {
		return err
	}
	b, a := runsBefore.Series(), runsAfter.Series()
	if err := g.checkRuns(j, b, a); err != nil {
		return err
	}
	if err := sameMeaning(g.policy, b, a, names[0]); err != nil {
		return err
	}
	m, err := compare.Measure(b, a, names, g.policy, g.opt)
	if err != nil {
		var placed *compare.PlacedError
		switch {
		case errors.As(err, &placed):
			return err
		case j.Question == AskRepeat:
			j.warn(Note{Kind: NoteNothingBefore, Detail: err.Error()})
			return g.checkSizesAlone(j, a)
		}
		g.add(j, Reason{Kind: ReasonNoRuns, Rows: firstRow(a, ""), Detail: err.Error()})
		return nil
	}
	g.pending = append(g.pending, pending{j, m, b, a})
	return nil
}

// pending is a profile that is measured and not yet judged.
type pending struct {
	of            *Judgement
	measured      *compare.Measured
	before, after []*compare.Series
}

// judgeTogether judges everything that is measured and holds it to the policy.
func (g *judging) judgeTogether() error {
	all := make([]*compare.Measured, len(g.pending))
	for i, p := range g.pending {
		all[i] = p.measured
	}
	for i, c := range compare.JudgeTogether(nil, all...) {
		p := g.pending[i]
		p.of.Comparison = c
		if g.withDoubts {
			var err error
			if p.of.Doubts, err = doubts.OfComparison(c, p.before, p.after, g.policy, compare.Options{Better: g.opt.Better}); err != nil {
				return err
			}
		}
		g.checkVerdicts(p.of, p.after)
		if p.of.Question != AskRepeat {
			g.checkUnmeasured(p.of, p.before, p.after)
		}
	}
	return nil
}

// judgeAlone holds runs to what needs nothing to compare them with.
func (g *judging) judgeAlone(j *Judgement, rows []compare.Value) error {
	runs, err := collect(j.Profile, rows)
	if err != nil || len(rows) == 0 {
		return err
	}
	if err := g.checkRuns(j, nil, runs.Series()); err != nil {
		return err
	}
	return g.checkSizesAlone(j, runs.Series())
}

// checkVerdicts turns a comparison into reasons.
func (g *judging) checkVerdicts(j *Judgement, after []*compare.Series) {
	for _, r := range j.Comparison.Judged() {
		if r.Verdict == nil || !r.Decides {
			continue
		}
		kind, rows := string(*r.Verdict), firstRow(after, r.Name())
		if r.Parts != nil {
			rows = firstRow(after, "")
		}
		if j.Question == AskRepeat {
			kind = ReasonDrift
		}
		switch {
		case r.Harmful():
			g.add(j, Reason{Kind: kind, Result: r, Rows: rows})
		case j.Question == AskRepeat && r.Real:
			g.add(j, Reason{Kind: kind, Result: r, Rows: rows, Decides: Passed})
		}
		if r.Role != compare.Score || r.Parts != nil { // the suite's scores answer for themselves
			continue
		}
		g.checkSize(j, Reason{Result: r, When: "before"}, r.Before.Side)
		g.checkSize(j, Reason{Result: r, When: "now", Rows: rows}, r.After.Side)
		if g.policy.Burden == compare.Safety && !r.Harmful() {
			if lo, _, _ := r.GainInterval(); r.Interval == nil || lo < -*r.Tolerance {
				g.add(j, Reason{Kind: ReasonSafety, Result: r, Rows: rows, Decides: Undecided})
			}
		}
		if r.WidestBlindSpot != nil && (r.BlindSpot == nil || *r.BlindSpot > *r.WidestBlindSpot) {
			g.add(j, Reason{Kind: ReasonBlindSpot, Result: r, Rows: rows, Decides: Undecided})
		}
	}
}

// checkUnmeasured finds the scores that there were and that the new runs leave
// out: where the policy wants losses excluded, or a blind spot, they have to
// be measured.
func (g *judging) checkUnmeasured(j *Judgement, before, after []*compare.Series) {
	has, had := measured(after), measured(before)
	demands := map[string][]string{}
	for _, s := range before {
		k := s.ID()
		m, err := compare.ResolveAnyway(g.policy, s)
		if err != nil || has[k] || !had[k] || m.Role != compare.Score || !m.Named {
			continue
		}
		j.Unmeasured = append(j.Unmeasured, m.Name())
		switch {
		case g.policy.Burden == compare.Safety:
			demands[ReasonSafety] = append(demands[ReasonSafety], m.Name())
		case m.WidestBlindSpot != nil:
			demands[ReasonBlindSpot] = append(demands[ReasonBlindSpot], m.Name())
		}
	}
	for _, kind := range []string{ReasonSafety, ReasonBlindSpot} {
		if len(demands[kind]) > 0 {
			g.add(j, Reason{Kind: kind, Names: demands[kind], Rows: firstRow(after, ""), Decides: Undecided})
		}
	}
}

// checkSize holds one side of a score to the fewest runs and sessions. about says
// which score and which side.
func (g *judging) checkSize(j *Judgement, about Reason, s compare.Side) {
	about.Kind = ReasonFewRuns
	if s.Runs < g.policy.FewestRuns {
		about.What, about.Count, about.Limit = "run", s.Runs, g.policy.FewestRuns
		g.add(j, about)
	}
	if s.Sessions < g.policy.FewestSessions {
		about.What, about.Count, about.Limit = "session", s.Sessions, g.policy.FewestSessions
		g.add(j, about)
	}
}

// checkSizesAlone does so for runs without a partner. An error is about a
// value, or a score without a stated direction.
func (g *judging) checkSizesAlone(j *Judgement, series []*compare.Series) error {
	for _, s := range series {
		m, err := g.policy.Resolve(s.Benchmark, s.Metric, s.Unit, s.Better)
		if err != nil {
			return compare.ErrorAt(compare.FirstPlace(s), "%w", err)
		}
		if m.Role != compare.Score || !m.Named {
			continue
		}
		side, err := compare.Reduce(m, s)
		if err != nil {
			return err
		}
		about := Reason{Metric: &m, When: "now", Rows: firstRow([]*compare.Series{s}, "")}
		g.checkSize(j, about, side.Side)
	}
	return nil
}
