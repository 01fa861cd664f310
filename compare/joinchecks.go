package compare

import (
	"fmt"
	"maps"
	"math"
	"reflect"
	"slices"
	"strings"
)

// soundTerms is an error where no options could have made a part.
func (j *joining) soundTerms() error {
	for _, p := range j.parts {
		t := p.Terms
		_, unknown := ParseCorrection(string(t.Policy.Correction))
		switch c := t.Policy.Confidence; {
		case !(c >= 0.5 && c < 1), unknown != nil, t.Resamples < 1, t.Resamples > MostResamples,
			t.Looks != 0 && (t.Look < 1 || t.Look > t.Looks || t.Looks > MostLooks), p.Share < 0, p.Share > p.Shares, (p.Share == 0) != (p.Shares == 0):
			return &PlacedError{Place{File: p.Name, Line: 1}, "its terms are none that a part can have; make it anew with tunegate compare --part"}
		}
	}
	return nil
}

// sameTerms is an error where parts were made by different rules.
func (j *joining) sameTerms() error {
	const advice = "make all parts of a comparison with the same tunegate, profiles, options and policy"
	a := j.parts[0]
	for _, b := range j.parts[1:] {
		if what := a.Terms.differs(b.Terms); what[0] != "" {
			return fmt.Errorf("%s was made with %s, but %s with %s; %s", b.Name, what[1], a.Name, what[0], advice)
		}
		if reflect.DeepEqual(a.Terms, b.Terms) {
			continue
		}
		var metrics []Value
		for _, m := range slices.Concat(a.Metrics, b.Metrics) {
			v := Value{Benchmark: m.Benchmark, Metric: m.Metric}
			for _, s := range []*PartSeries{m.Before, m.After} {
				if s != nil {
					v.Unit, v.Better = orWord(v.Unit, s.Unit), Better(orWord(string(v.Better), string(s.Better)))
				}
			}
			metrics = append(metrics, v)
		}
		p, q := a.Terms.Policy, b.Terms.Policy
		p.Overrides, q.Overrides = nil, nil
		how := ""
		if d := PolicyDifferences(p, q, metrics); len(d) > 0 {
			how = fmt.Sprintf(" (%s, where now is %s)", list(d, 3), b.Name)
		}
		return fmt.Errorf("%s and %s were made with policies of the same name that differ%s; %s", a.Name, b.Name, how, advice)
	}
	return nil
}

// differs says in words in what two parts' terms differ first; empty where only
// the content of the policy can.
func (t Terms) differs(o Terms) (sides [2]string) {
	p, q := t.Policy, o.Policy
	stated := func(option string, v any) string {
		if s := fmt.Sprint(v); s != "" && s != "0" {
			return option + " " + s
		}
		return "no " + option
	}
	look := func(t Terms) string {
		if t.Looks == 0 {
			return "no --look"
		}
		return fmt.Sprintf("--look %d/%d", t.Look, t.Looks)
	}
	tolerances := func(p Policy) string {
		var out []string
		for _, o := range p.Overrides {
			name := ""
			if o.Name != "" {
				name = o.Name + "="
			}
			out = append(out, fmt.Sprintf("--tolerance %q", name+sixDigits(o.Tolerance)))
		}
		if len(out) == 0 {
			return "no --tolerance"
		}
		return strings.Join(out, " ")
	}
	for _, x := range [][2]string{
		{"tunegate " + t.Program, "tunegate " + o.Program},
		{fmt.Sprintf("the profiles %s and %s", t.Before, t.After), fmt.Sprintf("the profiles %s and %s", o.Before, o.After)},
		{"confidence " + Decimal(100*p.Confidence, 12) + " %", "confidence " + Decimal(100*q.Confidence, 12) + " %"},
		{"correction " + string(p.Correction), "correction " + string(q.Correction)},
		{look(t), look(o)},
		{stated("--better", t.Better), stated("--better", o.Better)},
		{fmt.Sprintf("--seed %d", t.Seed), fmt.Sprintf("--seed %d", o.Seed)},
		{stated("--resamples", t.Resamples), stated("--resamples", o.Resamples)},
		{tolerances(p), tolerances(q)},
		{stated("--policy", p.Source), stated("--policy", q.Source)},
	} {
		if x[0] != x[1] {
			return x
		}
	}
	return sides
}

// allShares is an error where a share of the benchmarks is missing.
func (j *joining) allShares() error {
	a := j.parts[0]
	shares := map[int]*Part{}
	for _, b := range j.parts {
		switch other := shares[b.Share]; {
		case b.Shares != a.Shares:
			return fmt.Errorf("%s is %s, but %s is %s; cut all parts of a comparison alike", b.Name, b.share(), a.Name, a.share())
		case b.Shares > 0 && other != nil:
			return fmt.Errorf("%s and %s are both %s; name each part once", other.Name, b.Name, b.share())
		}
		shares[b.Share] = b
	}
	for k := 1; k <= a.Shares; k++ {
		if shares[k] == nil {
			return fmt.Errorf("share %d/%d is missing; join all shares of a comparison, else scores that nobody looks at would flatter the others", k, a.Shares)
		}
	}
	return nil
}

func (p *Part) share() string {
	if p.Shares == 0 {
		return "no share of the benchmarks (it was made without --share)"
	}
	return fmt.Sprintf("share %d/%d", p.Share, p.Shares)
}

// eachOnce is an error where two parts hold the same metric, or where a run that
// one of them sets aside counts in another.
func (j *joining) eachOnce() error {
	j.from = map[[2]string]*Part{}
	holders := map[string][]*Part{} // by benchmark
	for _, p := range j.parts {
		for i := range p.Metrics {
			m := &p.Metrics[i]
			k := [2]string{m.Benchmark, m.Metric}
			if other := j.from[k]; other != nil {
				return fmt.Errorf("%s is in %s and in %s; each metric belongs in one part, with all its runs of both sides", describe(m.Benchmark, m.Metric), other.Name, p.Name)
			}
			j.from[k], j.metrics[k] = p, m
			if h := holders[m.Benchmark]; len(h) == 0 || h[len(h)-1] != p {
				holders[m.Benchmark] = append(h, p)
			}
		}
	}
	for _, benchmark := range slices.Sorted(maps.Keys(holders)) {
		if len(holders[benchmark]) == 1 {
			continue
		}
		aside, counted := map[runOfSide]*Part{}, map[runOfSide]*Part{}
		for _, p := range holders[benchmark] {
			for i := range p.Metrics {
				if p.Metrics[i].Benchmark == benchmark {
					p.Metrics[i].runs(func(r runOfSide, isAside bool) {
						if isAside {
							aside[r] = p
						} else {
							counted[r] = p
						}
					})
				}
			}
		}
		for r, p := range aside {
			if other := counted[r]; other != nil && other != p {
				return fmt.Errorf("a run of %s is set aside in one of %s and %s and counts in the other; a run that is set aside counts in no metric, so keep a benchmark in one part", benchmark, p.Name, other.Name)
			}
		}
	}
	return nil
}

// runOfSide names a run: by its label, or by its number within its session.
type runOfSide struct {
	profile, session, label string
	nth                     int
}

// runs visits the runs of both sides.
func (m *PartMetric) runs(visit func(r runOfSide, isAside bool)) {
	for _, s := range []*PartSeries{m.Before, m.After} {
		if s == nil {
			continue
		}
		isAside := map[int]bool{}
		for _, a := range s.SetAside {
			isAside[a.Value] = true
		}
		nth := map[string]int{}
		for i, v := range s.Values {
			r := runOfSide{profile: s.Profile}
			if i < len(s.Sessions) {
				r.session = s.Sessions[i]
			}
			nth[r.session]++
			if i < len(s.Runs) {
				r.label = s.Runs[i]
			}
			if r.label == "" {
				r.nth = nth[r.session]
			}
			if isAside[i] || !math.IsNaN(v) {
				visit(r, isAside[i])
			}
		}
	}
}

// wants reports whether any part was to look at a metric.
func (j *joining) wants(benchmark, metric string) bool {
	return slices.ContainsFunc(j.parts, func(p *Part) bool { return p.Wants(benchmark, metric) })
}

// idle is an error where an option fits nothing in any part that was made with
// it.
func (j *joining) idle(policy Policy, series []*Series) error {
	idle := func(option string, states func(*Part) bool) bool {
		return !slices.ContainsFunc(j.parts, func(p *Part) bool { return states(p) && !slices.Contains(p.Idle, option) })
	}
	for _, o := range policy.Overrides {
		if idle(idleTolerance(o), func(*Part) bool { return true }) {
			if err := policy.only(o).CheckOverrides(series...); err != nil {
				return err
			}
		}
	}
	for _, p := range j.parts {
		for _, option := range []string{"only", "leave-out"} {
			patterns := func(p *Part) []string {
				if option == "only" {
					return p.Only
				}
				return p.LeaveOut
			}
			for _, pattern := range patterns(p) {
				if idle(IdlePattern(option, pattern), func(p *Part) bool { return slices.Contains(patterns(p), pattern) }) {
					return fmt.Errorf("%s fits no benchmark and no metric in any part", IdlePattern(option, pattern))
				}
			}
		}
	}
	return nil
}

// IdlePattern is how Part.Idle states a pattern of --only or --leave-out.
func IdlePattern(option, pattern string) string { return fmt.Sprintf("--%s %q", option, pattern) }
