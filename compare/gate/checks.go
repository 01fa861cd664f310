package gate

import (
	"cmp"
	"slices"
	"strings"

	"tunegate/compare"
	"tunegate/compare/internal/executions"
)

// checkRuns looks at what needs no comparison: caps, runs set aside, required
// metrics. rows are what after is made of.
func (g *judging) checkRuns(j *Judgement, before, after []*compare.Series, rows *compare.Rows) error {
	if err := g.checkCaps(j, after, rows); err != nil {
		return err
	}
	g.countSetAside(j, after)
	if missing := missingRequired(g.policy, before, after); len(missing) > 0 {
		g.add(j, Reason{Kind: ReasonRequired, Names: missing, Rows: firstRow(after, "")})
	}
	return nil
}

// checkCaps looks for valid runs beyond a cap, and for warm-ups, which are as hot. A unit
// that contradicts the policy's is an error, and so are rows that stand for several runs
// without the largest of them: else they would escape the cap.
func (g *judging) checkCaps(j *Judgement, series []*compare.Series, rows *compare.Rows) error {
	var warmUps []uint32 // their places in rows
	if slices.ContainsFunc(series, func(s *compare.Series) bool { return s.WarmUps > 0 }) {
		for i, v := range rows.All() {
			if strings.EqualFold(v.Run, compare.WarmUp) && !v.SetAside && !v.Missing {
				warmUps = append(warmUps, uint32(i))
			}
		}
	}
	for _, s := range series {
		m, err := g.capped(s)
		if err != nil {
			return compare.ErrorAt(compare.FirstPlace(s), "%w", err)
		}
		if err := checkLargest(m, s); err != nil {
			return err
		}
		if m.Cap == nil {
			continue
		}
		over, found := Reason{Kind: ReasonCap, Metric: &m}, false
		beyond := func(value float64, reduced *compare.Reduction) bool {
			if reduced != nil {
				value = reduced.Largest
			}
			if value <= *m.Cap {
				return false
			}
			if !found || value > over.Worst {
				over.Worst, found = value, true
			}
			return true
		}
		var runs []int
		for i, o := range s.All() {
			if !o.SetAside && !o.Missing && beyond(o.Value, o.Reduced) {
				runs = append(runs, i)
			}
		}
		var warm []uint32
		for _, i := range warmUps {
			if v := rows.At(int(i)); v.ID() == s.ID() && beyond(v.Value, v.Reduced) {
				warm = append(warm, i)
			}
		}
		if found {
			over.Rows = compare.JoinRows(s.Pick(runs...), rows.Pick(warm))
			g.add(j, over)
		}
	}
	return nil
}

// checkLargest refuses rows of a capped metric that stand for several runs and do not say
// how high the highest was.
func checkLargest(m compare.Metric, s *compare.Series) error {
	if m.Cap == nil || !s.IsReduced() {
		return nil
	}
	for _, o := range s.All() {
		if !o.SetAside && !o.Missing && o.Reduced != nil && o.Reduced.NoLargest {
			return compare.ErrorAt(o.At, "%s has a cap, and this row stands for %d runs without saying how high the highest was; write the "+
				"largest of them into the column largest", m.Name(), o.Reduced.Runs)
		}
	}
	return nil
}

// capped is the metric of a series, with the cap that holds it. A column whose header is
// the name of a capped metric, or ends in it, is held to that cap: without a column of its
// benchmark beside it nothing else tells what it measures.
func (g *judging) capped(s *compare.Series) (compare.Metric, error) {
	m, err := compare.ResolveAnyway(g.policy, s)
	if err != nil || m.Cap != nil || s.Metric != compare.DefaultMetric || m.Role == compare.Score && s.Unit != "" {
		return m, err
	}
	for from := 0; ; {
		of := *s
		if of.Metric = s.Benchmark[from:]; from > 0 {
			of.Benchmark = strings.TrimSpace(s.Benchmark[:from])
		}
		if slices.ContainsFunc(g.policy.Caps(), func(e compare.Entry) bool { return compare.NameMatches(e.ID().Metric, of.Metric) }) {
			held, err := compare.ResolveAnyway(g.policy, &of)
			held.Benchmark, held.Metric = s.Benchmark, s.Metric
			return held, err
		}
		next := strings.IndexByte(s.Benchmark[from:], ' ')
		if next < 0 {
			return m, nil
		}
		from += next + 1
	}
}

// checkSetAside counts the runs that are set aside where nothing else is judged, and holds
// what is left to the fewest runs and sessions.
func (g *judging) checkSetAside(j *Judgement, rows, left *compare.Rows) error {
	runs, err := collect(j.Profile, rows)
	if err != nil {
		return err
	}
	g.countSetAside(j, runs.Series())
	if !left.HasRun() || g.policy.FewestRuns+g.policy.FewestSessions == 0 {
		return nil
	}
	if runs, err = collect(j.Profile, left); err != nil {
		return err
	}
	return g.checkSizesAlone(j, runs.Series())
}

// countSetAside counts the runs that are set aside, each once though it may
// stand in several rows, one a metric.
func (g *judging) countSetAside(j *Judgement, series []*compare.Series) {
	count, runs := executions.New(), map[executions.Execution]bool{}
	over := Reason{Kind: ReasonSetAside, Limit: g.policy.SetAsideAllowed}
	if !slices.ContainsFunc(series, (*compare.Series).AnySetAside) {
		return
	}
	var rows []*compare.Rows
	reasons := map[string]bool{}
	for _, s := range series {
		var places []int
		at := 0
		count.Each(s, func(id executions.Execution, o compare.Observation) {
			if o.SetAside {
				runs[id] = true
				places = append(places, at)
				if !reasons[o.Reason] {
					reasons[o.Reason] = true
					over.Names = append(over.Names, o.Reason)
				}
			}
			at++
		})
		rows = append(rows, s.Pick(places...))
	}
	if over.Count = len(runs); over.Count > over.Limit {
		over.Rows = compare.JoinRows(rows...)
		g.add(j, over)
	}
}

// measured lists what has a valid run.
func measured(series []*compare.Series) map[compare.MetricID]bool {
	has := map[compare.MetricID]bool{}
	for _, s := range series {
		for _, o := range s.All() {
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
		unit, better := cmp.Or(b.Unit, a.Unit), cmp.Or(b.Better, a.Better)
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
func firstRow(series []*compare.Series, name string) *compare.Rows {
	for _, s := range series {
		if s.Len() > 0 && (name == "" || s.ID().Name() == name) {
			return s.Pick(0)
		}
	}
	return nil
}
