package gate

import (
	"errors"

	"tunegate/compare"
	"tunegate/compare/doubts"
)

// judge compares and holds the comparison to the policy.
func (g *Gate) judge(policy compare.Policy, j *Judgement, before, after []compare.Value, names [2]string, opt compare.Options) error {
	runsBefore, err := collect(names[0], before)
	if err != nil {
		return err
	}
	runsAfter, err := collect(names[1], after)
	if err != nil {
		return err
	}
	b, a := runsBefore.Series(), runsAfter.Series()
	if err := g.checkRuns(policy, j, b, a); err != nil {
		return err
	}
	if err := sameMeaning(policy, b, a, names[0]); err != nil {
		return err
	}
	c, err := compare.Compare(b, a, names, policy, opt)
	if err != nil {
		var placed *compare.PlacedError
		switch {
		case errors.As(err, &placed):
			return err
		case j.Question == AskRepeat:
			j.Warnings = append(j.Warnings, "there is nothing to hold the new runs against: "+err.Error())
			return g.checkSizesAlone(policy, j, a)
		}
		g.add(j, Reason{Kind: ReasonNoRuns, Rows: firstRow(a, ""), Detail: err.Error()})
		return nil
	}
	j.Comparison = c
	if g.withDoubts {
		if j.Doubts, err = doubts.OfComparison(c, b, a, policy, compare.Options{Better: opt.Better}); err != nil {
			return err
		}
	}
	g.checkVerdicts(policy, j, a)
	if j.Question != AskRepeat {
		g.checkUnmeasured(policy, j, b, a)
	}
	return nil
}

// judgeAlone holds runs to what needs nothing to compare them with.
func (g *Gate) judgeAlone(policy compare.Policy, j *Judgement, rows []compare.Value) error {
	runs, err := collect(j.Profile, rows)
	if err != nil || len(rows) == 0 {
		return err
	}
	if err := g.checkRuns(policy, j, nil, runs.Series()); err != nil {
		return err
	}
	return g.checkSizesAlone(policy, j, runs.Series())
}

// checkRuns looks at what needs no comparison: caps, runs set aside, required
// metrics.
func (g *Gate) checkRuns(policy compare.Policy, j *Judgement, before, after []*compare.Series) error {
	if err := g.checkCaps(policy, j, after); err != nil {
		return err
	}
	g.checkSetAside(policy, j, after)
	if missing := missingRequired(policy, before, after); len(missing) > 0 {
		g.add(j, Reason{Kind: ReasonRequired, Names: missing, Rows: firstRow(after, "")})
	}
	return nil
}

// checkCaps looks for valid runs beyond a cap. A unit that contradicts the
// policy's is an error: else it would escape the cap.
func (g *Gate) checkCaps(policy compare.Policy, j *Judgement, series []*compare.Series) error {
	for _, s := range series {
		m, err := compare.ResolveAnyway(policy, s)
		if err != nil {
			return compare.ErrorAt(compare.FirstPlace(s), "%v", err)
		}
		if m.Cap == nil {
			continue
		}
		over := Reason{Kind: ReasonCap, Metric: &m}
		for _, o := range s.Observations {
			if o.SetAside || o.Missing || o.Value <= *m.Cap {
				continue
			}
			if len(over.Rows) == 0 || o.Value > over.Worst {
				over.Worst = o.Value
			}
			over.Rows = append(over.Rows, s.Row(o))
		}
		if len(over.Rows) > 0 {
			g.add(j, over)
		}
	}
	return nil
}

// checkSetAside counts the runs that are set aside, each once though it may
// stand in several rows, one a metric.
func (g *Gate) checkSetAside(policy compare.Policy, j *Judgement, series []*compare.Series) {
	count, runs := compare.NewExecutions(), map[compare.Execution]bool{}
	over := Reason{Kind: ReasonSetAside, Limit: policy.SetAsideAllowed}
	for _, s := range series {
		count.Each(s, func(id compare.Execution, o compare.Observation) {
			if o.SetAside {
				runs[id] = true
				over.Rows = append(over.Rows, s.Row(o))
				over.Names = append(over.Names, o.Reason)
			}
		})
	}
	if over.Count = len(runs); over.Count > over.Limit {
		over.Names = unique(over.Names)
		g.add(j, over)
	}
}

func unique(words []string) []string {
	var out []string
	seen := map[string]bool{}
	for _, w := range words {
		if !seen[w] {
			seen[w] = true
			out = append(out, w)
		}
	}
	return out
}

// measured lists what has a valid run.
func measured(series []*compare.Series) map[compare.MetricID]bool {
	has := map[compare.MetricID]bool{}
	for _, s := range series {
		for _, o := range s.Observations {
			if !o.SetAside && !o.Missing {
				has[s.ID()] = true
				break
			}
		}
	}
	return has
}

// missingRequired lists required metrics without a valid run after: those that
// the policy names exactly, and those that a pattern requires and the other
// side has.
func missingRequired(policy compare.Policy, before, after []*compare.Series) []string {
	has := measured(after)
	var missing []string
	want := func(s *compare.Series) {
		k := s.ID()
		if has[k] {
			return
		}
		if m, err := compare.ResolveAnyway(policy, s); err == nil && m.Required {
			has[k] = true // say it once
			missing = append(missing, m.Name())
		}
	}
	for _, e := range policy.Entries {
		if e.Exact() {
			want(&compare.Series{SeriesKey: compare.SeriesKey{Benchmark: e.Benchmark, Metric: e.ID().Metric}})
		}
	}
	for _, s := range before {
		want(s)
	}
	return missing
}

// sameMeaning refuses new runs that would turn a metric around, or make a cost
// or an info of a score: a column `better`, or a unit where there was none, in
// the rows that are judged.
func sameMeaning(policy compare.Policy, before, after []*compare.Series, was string) error {
	old := map[compare.MetricID]*compare.Series{}
	for _, s := range before {
		old[s.ID()] = s
	}
	for _, a := range after {
		b := old[a.ID()]
		if b == nil {
			continue
		}
		unit, better := compare.OrWord(b.Unit, a.Unit), compare.Better(compare.OrWord(string(b.Better), string(a.Better)))
		then, errThen := policy.Resolve(b.Benchmark, b.Metric, b.Unit, b.Better)
		now, errNow := policy.Resolve(b.Benchmark, b.Metric, unit, better)
		if errThen != nil || errNow != nil {
			continue // comparing them says so
		}
		at := a.UnitAt
		if b.Unit != "" || a.Unit == "" {
			at = a.BetterAt
		}
		if then.Role != now.Role || then.Scale != now.Scale || then.Better != now.Better {
			return compare.ErrorAt(at, "%s is a %s here, %s is better, on %s scale; in %s it is a %s, %s is better, on %s scale; "+
				"new runs cannot change what a metric means: write unit and better as they were, or state them in the policy",
				now.Name(), now.Role, now.Better, scaleWord(now.Scale), was, then.Role, then.Better, scaleWord(then.Scale))
		}
	}
	return nil
}

func scaleWord(s compare.Scale) string {
	if s == compare.Interval {
		return "an interval"
	}
	return "a ratio"
}

// firstRow is the first row of a metric, by its name, or of all.
func firstRow(series []*compare.Series, name string) []compare.Value {
	for _, s := range series {
		if len(s.Observations) > 0 && (name == "" || s.ID().Name() == name) {
			return []compare.Value{s.Row(s.Observations[0])}
		}
	}
	return nil
}

// checkVerdicts turns a comparison into reasons.
func (g *Gate) checkVerdicts(policy compare.Policy, j *Judgement, after []*compare.Series) {
	for _, r := range j.Comparison.Judged() {
		if r.Verdict == nil || !r.Decides {
			continue
		}
		kind, rows := ReasonRegression, firstRow(after, r.Name())
		if r.Parts != nil {
			rows = firstRow(after, "")
		}
		if j.Question == AskRepeat {
			kind = ReasonDrift
		}
		switch {
		case *r.Verdict == compare.Regression:
			g.add(j, Reason{Kind: kind, Result: r, Rows: rows})
		case j.Question == AskRepeat && r.Real:
			g.add(j, Reason{Kind: kind, Result: r, Rows: rows, Decides: Passed})
		}
		if r.Role != compare.Score || r.Parts != nil { // the suite's scores answer for themselves
			continue
		}
		g.checkSize(policy, j, r.Metric, "before", r.Before.Side, nil)
		g.checkSize(policy, j, r.Metric, "now", r.After.Side, rows)
		if policy.Burden == compare.Safety && *r.Verdict != compare.Regression {
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
// out: where the policy wants losses ruled out, or a blind spot, they have to
// be measured.
func (g *Gate) checkUnmeasured(policy compare.Policy, j *Judgement, before, after []*compare.Series) {
	has, had := measured(after), measured(before)
	demands := map[string][]string{}
	for _, s := range before {
		k := s.ID()
		m, err := compare.ResolveAnyway(policy, s)
		if err != nil || has[k] || !had[k] || m.Role != compare.Score || !m.Named {
			continue
		}
		j.Unmeasured = append(j.Unmeasured, m.Name())
		switch {
		case policy.Burden == compare.Safety:
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

// checkSize holds one side of a score to the fewest runs and sessions.
func (g *Gate) checkSize(policy compare.Policy, j *Judgement, m compare.Metric, when string, s compare.Side, rows []compare.Value) {
	if s.Runs < policy.FewestRuns {
		g.add(j, Reason{Kind: ReasonFewRuns, Metric: &m, Rows: rows, Count: s.Runs, Limit: policy.FewestRuns, When: when, What: "run"})
	}
	if s.Sessions < policy.FewestSessions {
		g.add(j, Reason{Kind: ReasonFewRuns, Metric: &m, Rows: rows, Count: s.Sessions, Limit: policy.FewestSessions, When: when, What: "session"})
	}
}

// checkSizesAlone does so for runs without a partner. An error is about a
// value, or a score of which nobody says whether more is better.
func (g *Gate) checkSizesAlone(policy compare.Policy, j *Judgement, series []*compare.Series) error {
	for _, s := range series {
		m, err := policy.Resolve(s.Benchmark, s.Metric, s.Unit, s.Better)
		if err != nil {
			return compare.ErrorAt(compare.FirstPlace(s), "%v", err)
		}
		if m.Role != compare.Score || !m.Named {
			continue
		}
		side, err := compare.Reduce(m, s)
		if err != nil {
			return err
		}
		g.checkSize(policy, j, m, "now", side.Side, firstRow([]*compare.Series{s}, ""))
	}
	return nil
}
