package compare

import (
	"errors"
	"fmt"
)

// judge compares and holds the comparison to the policy.
func (g *Gate) judge(policy Policy, j *Judgement, before, after []Value, names [2]string, opt Options) error {
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
	c, err := Compare(b, a, names, policy, opt)
	if err != nil {
		var placed *PlacedError
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
	g.checkVerdicts(policy, j, a)
	if j.Question != AskRepeat {
		g.checkUnmeasured(policy, j, b, a)
	}
	return nil
}

// judgeAlone holds runs to what needs nothing to compare them with.
func (g *Gate) judgeAlone(policy Policy, j *Judgement, rows []Value) error {
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
func (g *Gate) checkRuns(policy Policy, j *Judgement, before, after []*Series) error {
	if err := g.checkCaps(policy, j, after); err != nil {
		return err
	}
	g.checkSetAside(policy, j, after)
	if missing := missingRequired(policy, before, after); len(missing) > 0 {
		g.add(j, Reason{Kind: ReasonRequired, Names: missing, Rows: firstRow(after, "")})
	}
	return nil
}

// resolveAnyway resolves a metric of which it does not matter whether more is
// better.
func resolveAnyway(policy Policy, s *Series) (Metric, error) {
	better := s.Better
	if better == "" {
		better = Higher
	}
	return policy.Resolve(s.Benchmark, s.Metric, s.Unit, better)
}

func (o Observation) row(s *Series) Value {
	return Value{Profile: s.Profile, Benchmark: s.Benchmark, Metric: s.Metric, Unit: s.Unit, Session: o.Session, Run: o.Run,
		Value: o.Value, Missing: o.Missing, SetAside: o.SetAside, Reason: o.Reason, At: o.At}
}

// checkCaps looks for valid runs beyond a cap. A unit that contradicts the
// policy's is an error: else it would escape the cap.
func (g *Gate) checkCaps(policy Policy, j *Judgement, series []*Series) error {
	for _, s := range series {
		m, err := resolveAnyway(policy, s)
		if err != nil {
			return &PlacedError{firstPlace(s), err.Error()}
		}
		if m.Cap == nil {
			continue
		}
		over := Reason{Kind: ReasonCap, Cap: m}
		for _, o := range s.Observations {
			if o.SetAside || o.Missing || o.Value <= *m.Cap {
				continue
			}
			if len(over.Rows) == 0 || o.Value > over.Worst {
				over.Worst = o.Value
			}
			over.Rows = append(over.Rows, o.row(s))
		}
		if len(over.Rows) > 0 {
			g.add(j, over)
		}
	}
	return nil
}

// checkSetAside counts the runs that are set aside, each once though it may
// stand in several rows, one a metric.
func (g *Gate) checkSetAside(policy Policy, j *Judgement, series []*Series) {
	count, runs := newExecutions(), map[execution]bool{}
	over := Reason{Kind: ReasonSetAside, Limit: policy.SetAsideAllowed}
	for _, s := range series {
		count.each(s, func(id execution, o Observation) {
			if o.SetAside {
				runs[id] = true
				over.Rows = append(over.Rows, o.row(s))
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
func measured(series []*Series) map[MetricID]bool {
	has := map[MetricID]bool{}
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
func missingRequired(policy Policy, before, after []*Series) []string {
	has := measured(after)
	var missing []string
	want := func(s *Series) {
		k := s.ID()
		if has[k] {
			return
		}
		if m, err := resolveAnyway(policy, s); err == nil && m.Required {
			has[k] = true // say it once
			missing = append(missing, m.Name())
		}
	}
	for _, e := range policy.Entries {
		if e.exact() {
			want(&Series{SeriesKey: SeriesKey{Benchmark: e.Benchmark, Metric: e.metric()}})
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
func sameMeaning(policy Policy, before, after []*Series, was string) error {
	old := map[MetricID]*Series{}
	for _, s := range before {
		old[s.ID()] = s
	}
	for _, a := range after {
		b := old[a.ID()]
		if b == nil {
			continue
		}
		unit, better := orWord(b.Unit, a.Unit), Better(orWord(string(b.Better), string(a.Better)))
		then, errThen := policy.Resolve(b.Benchmark, b.Metric, b.Unit, b.Better)
		now, errNow := policy.Resolve(b.Benchmark, b.Metric, unit, better)
		if errThen != nil || errNow != nil {
			continue // comparing them says so
		}
		at := a.unitAt
		if b.Unit != "" || a.Unit == "" {
			at = a.betterAt
		}
		if then.Role != now.Role || then.Scale != now.Scale || then.Better != now.Better {
			return &PlacedError{at, fmt.Sprintf("%s is a %s here, %s is better, on %s scale; in %s it is a %s, %s is better, on %s scale; "+
				"new runs cannot change what a metric means: write unit and better as they were, or state them in the policy",
				now.Name(), now.Role, now.Better, scaleWord(now.Scale), was, then.Role, then.Better, scaleWord(then.Scale))}
		}
	}
	return nil
}

func scaleWord(s Scale) string {
	if s == Interval {
		return "an interval"
	}
	return "a ratio"
}

// firstRow is the first row of a metric, by its name, or of all.
func firstRow(series []*Series, name string) []Value {
	for _, s := range series {
		if len(s.Observations) > 0 && (name == "" || s.ID().Name() == name) {
			return []Value{s.Observations[0].row(s)}
		}
	}
	return nil
}

// checkVerdicts turns a comparison into reasons.
func (g *Gate) checkVerdicts(policy Policy, j *Judgement, after []*Series) {
	for _, r := range j.Comparison.Judged() {
		if r.Verdict == nil || !r.CountsForGate {
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
		case *r.Verdict == Regression:
			g.add(j, Reason{Kind: kind, Result: r, Rows: rows})
		case j.Question == AskRepeat && r.Real:
			g.add(j, Reason{Kind: kind, Result: r, Rows: rows, Decides: Passed})
		}
		if r.Role != Score || r.Parts != nil { // the suite's scores answer for themselves
			continue
		}
		g.checkSize(policy, j, r, "before", r.Before, nil)
		g.checkSize(policy, j, r, "now", r.After, rows)
		if policy.Burden == Safety && *r.Verdict != Regression {
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
func (g *Gate) checkUnmeasured(policy Policy, j *Judgement, before, after []*Series) {
	has, had := measured(after), measured(before)
	demands := map[string][]string{}
	for _, s := range before {
		k := s.ID()
		m, err := resolveAnyway(policy, s)
		if err != nil || has[k] || !had[k] || m.Role != Score || !m.Named {
			continue
		}
		j.Unmeasured = append(j.Unmeasured, m.Name())
		switch {
		case policy.Burden == Safety:
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
func (g *Gate) checkSize(policy Policy, j *Judgement, r *Result, when string, s Side, rows []Value) {
	if s.Runs < policy.FewestRuns {
		g.add(j, Reason{Kind: ReasonFewRuns, Result: r, Rows: rows, Count: s.Runs, Limit: policy.FewestRuns, When: when, What: "run"})
	}
	if s.Sessions < policy.FewestSessions {
		g.add(j, Reason{Kind: ReasonFewRuns, Result: r, Rows: rows, Count: s.Sessions, Limit: policy.FewestSessions, When: when, What: "session"})
	}
}

// checkSizesAlone does so for runs without a partner. An error is about a
// value, or a score of which nobody says whether more is better.
func (g *Gate) checkSizesAlone(policy Policy, j *Judgement, series []*Series) error {
	for _, s := range series {
		m, err := policy.Resolve(s.Benchmark, s.Metric, s.Unit, s.Better)
		if err != nil {
			return &PlacedError{firstPlace(s), err.Error()}
		}
		if m.Role != Score || !m.Named {
			continue
		}
		side, err := sampleOf(m, s, func(Observation) bool { return true })
		if err != nil {
			return err
		}
		g.checkSize(policy, j, &Result{Metric: m, After: side.Side}, "now", side.Side, firstRow([]*Series{s}, ""))
	}
	return nil
}
