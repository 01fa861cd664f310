package compare

import (
	"fmt"
)

// pairUp finds the metrics that both sides have and reduces their runs. It is an
// error where there are none.
func (c *Comparison) pairUp(before, after []*Series, policy Policy, opt Options) error {
	if err := c.pair(before, after, policy, opt); err != nil {
		return err
	}
	if len(c.Results) == 0 {
		return fmt.Errorf("%s and %s have no benchmark in common with a valid run on both sides%s", c.Before, c.After, c.whatIsMissing())
	}
	return nil
}

func (c *Comparison) pair(before, after []*Series, policy Policy, opt Options) error {
	wanted := func(s *Series) bool { return opt.wants(s.Benchmark, s.Metric) }
	right := map[MetricID]*Series{}
	for _, s := range after {
		right[s.ID()] = s
	}
	// What both sides have is reduced on all cores; what is said about it, and
	// the first error, follow in order.
	type pair struct {
		*Result
		err error
	}
	pairs := make([]pair, len(before))
	onAllCores(len(before), func(i int) {
		b := before[i]
		if a := right[b.ID()]; a != nil && wanted(b) {
			pairs[i].Result, pairs[i].err = newResult(b, a, policy, opt)
		}
	})
	met := map[MetricID]bool{}
	var unrun []string
	for i, b := range before {
		if !wanted(b) {
			continue
		}
		a := right[b.ID()]
		if a == nil {
			c.OnlyBefore = append(c.OnlyBefore, b.ID().Name())
			c.lack(policy, b, "missing after")
			continue
		}
		met[b.ID()] = true
		c.listAside(b)
		c.listAside(a)
		r, err := pairs[i].Result, pairs[i].err
		if err != nil {
			return err
		}
		switch {
		case r.before.Runs == 0 && r.after.Runs == 0:
			unrun = append(unrun, r.Name())
			c.lack(policy, a, "no valid run")
		case r.before.Runs == 0:
			c.OnlyAfter = append(c.OnlyAfter, r.Name()+" (no valid run before)")
			c.lack(policy, a, "no valid run before")
		case r.after.Runs == 0:
			c.OnlyBefore = append(c.OnlyBefore, r.Name()+" (no valid run after)")
			c.lack(policy, b, "no valid run after")
		default:
			c.Results = append(c.Results, r)
		}
	}
	for _, a := range after {
		if wanted(a) && !met[a.ID()] {
			c.OnlyAfter = append(c.OnlyAfter, a.ID().Name())
			c.lack(policy, a, "missing before")
		}
	}
	if len(unrun) > 0 {
		c.note("no-valid-run", "no valid run on either side yet: %s", list(unrun, 12))
	}
	return nil
}

// lack notes a score that cannot be in the suite.
func (c *Comparison) lack(policy Policy, s *Series, why string) {
	if m, err := resolveAnyway(policy, s); err == nil && m.Role == Score && m.Named {
		c.lacking = append(c.lacking, fmt.Sprintf("%s (%s)", m.Name(), why))
	}
}

func (c *Comparison) whatIsMissing() string {
	text := ""
	if len(c.OnlyBefore) > 0 {
		text += "; only before: " + list(c.OnlyBefore, 6)
	}
	if len(c.OnlyAfter) > 0 {
		text += "; only after: " + list(c.OnlyAfter, 6)
	}
	for _, n := range c.Notes {
		if n.Kind == "no-valid-run" {
			text += "; " + n.Text
		}
	}
	return text
}

// listAside notes each run that is set aside once, though all its metrics are.
func (c *Comparison) listAside(s *Series) {
	if !s.anySetAside() {
		return
	}
	for at, id := range s.runs() {
		o := &s.Observations[at]
		if !o.SetAside {
			continue
		}
		a := Aside{Profile: s.Profile, Benchmark: s.Benchmark, Session: o.Session, Run: id.String(), Reason: o.Reason}
		seen := false
		for _, other := range c.SetAside {
			other.At = ""
			seen = seen || other == a
		}
		if !seen {
			a.At = o.At.String()
			c.SetAside = append(c.SetAside, a)
		}
	}
}

func newResult(b, a *Series, policy Policy, opt Options) (*Result, error) {
	at := firstPlace(b, a)
	if b.Unit != a.Unit && b.Unit != "" && a.Unit != "" {
		return nil, &PlacedError{a.unitAt, fmt.Sprintf("%s is in %q here but in %q at %s; both sides need the same unit",
			b.ID().Name(), a.Unit, b.Unit, b.unitAt)}
	}
	if b.Better != a.Better && b.Better != "" && a.Better != "" {
		return nil, &PlacedError{a.betterAt, fmt.Sprintf("%s says better = %s here but %s at %s; state one direction for a metric",
			b.ID().Name(), a.Better, b.Better, b.betterAt)}
	}
	better := b.Better
	if better == "" {
		better = a.Better
	}
	unit := b.Unit
	if unit == "" {
		unit = a.Unit
	}
	m, err := policy.Resolve(b.Benchmark, b.Metric, unit, better)
	if err != nil && better == "" && opt.Better != "" { // nobody else says, not the policy's unit either
		m, err = policy.Resolve(b.Benchmark, b.Metric, unit, opt.Better)
	}
	if err != nil {
		return nil, &PlacedError{at, err.Error()}
	}
	if b.derived {
		m.Role, m.Scale = b.role, b.scale
		if m.Role != Cost {
			m.Tolerance = nil
		}
	}
	r := &Result{Metric: m, Notes: []Note{}}
	if b.Unit != a.Unit && !b.derived && m.Sources["unit"] == "the data" {
		side := "before"
		if a.Unit == "" {
			side = "after"
		}
		r.note("unit-one-side", "no unit is stated %s; taken to be in %s there, too: state it on both sides", side, unit)
	}
	return r, r.reduce(b, a)
}

func firstPlace(series ...*Series) Place {
	for _, s := range series {
		if len(s.Observations) > 0 {
			at := s.Observations[0].At
			at.Column = 0
			return at
		}
	}
	return Place{}
}
