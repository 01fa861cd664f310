package compare

import (
	"fmt"
	"maps"
	"slices"
)

// Join judges parts together, and gives what Compare gives for all their runs:
// to the bit, and whatever the order of the parts. Files count in the order in
// which a part read them, else in that of their paths. What was measured is
// taken from the parts. An error means that nothing was judged; it names the
// part at fault. The part that comes with the comparison holds no metrics: it
// says what reading brought up, all parts together.
func Join(parts []*Part, progress func(done, total int)) (*Comparison, *Part, error) {
	if len(parts) == 0 {
		return nil, nil, fmt.Errorf("there is no part to join")
	}
	j := joining{parts: slices.Clone(parts), metrics: map[[2]string]*PartMetric{}}
	for _, refuse := range []func() error{j.soundTerms, j.sameTerms, j.allShares, j.eachOnce} {
		if err := refuse(); err != nil {
			return nil, nil, err
		}
	}
	before, after, err := j.sides()
	if err != nil {
		return nil, nil, err
	}
	terms := parts[0].Terms
	policy := terms.Policy
	opt := Options{Resamples: terms.Resamples, Seed: terms.Seed, Better: terms.Better, Look: terms.Look, Looks: terms.Looks, Vet: true, Wanted: j.wants, Progress: progress}
	if err := j.idle(policy, slices.Concat(before, after)); err != nil {
		return nil, nil, err
	}
	c := newComparison([2]string{terms.Before, terms.After}, policy, opt)
	if err := c.pairUp(before, after, policy, opt); err != nil {
		return nil, nil, err
	}
	checked, err := j.measured(c, slices.Concat(before, after))
	if err != nil {
		return nil, nil, err
	}
	c.progress = newProgress(len(c.Results), progress)
	c.conclude(policy, opt)
	c.vet(checked, policy)
	return c, j.together(), nil
}

// joining is parts on their way to a comparison.
type joining struct {
	parts   []*Part
	metrics map[[2]string]*PartMetric
	from    map[[2]string]*Part
}

// measured gives every result what the parts measured, and lists what they
// checked, in the order of the series.
func (j *joining) measured(c *Comparison, series []*Series) (checked []Checked, err error) {
	compared := c.compared()
	for _, p := range j.parts {
		for i := range p.Metrics {
			m, at := &p.Metrics[i], Place{File: p.Name, Line: p.Metrics[i].Line}
			r := compared[[2]string{m.Benchmark, m.Metric}]
			switch {
			case r == nil && m.Measured == nil:
				continue
			case r == nil:
				return nil, damaged(at, m, "it was measured without a valid run on both sides")
			case m.Measured == nil || m.Before.Checked == nil || m.After.Checked == nil:
				return nil, damaged(at, m, "it has runs on both sides, but was not measured")
			}
			r.take(m.Measured)
			if c.judgedAlone(r) {
				r.planned = m.Planned
			}
			if what := r.implausible(); what != "" {
				return nil, damaged(at, m, what)
			}
		}
	}
	n := len(c.Results) // of the sides before, which come first
	for _, s := range series {
		k := [2]string{s.Benchmark, s.Metric}
		if compared[k] == nil {
			continue
		}
		side := j.metrics[k].Before
		if len(checked) >= n {
			side = j.metrics[k].After
		}
		x := *side.Checked
		x.profile, x.metric = s.Profile, compared[k].Metric
		checked = append(checked, x)
	}
	return checked, nil
}

// implausible says what of a measurement cannot be true of the runs.
func (r *Result) implausible() string {
	test, counts := "mann-whitney", [2]int{len(r.before.values), len(r.after.values)}
	switch {
	case r.strata != nil:
		test, counts = "van-elteren", [2]int{len(r.strata), len(r.strata)}
	case r.differences != nil:
		test, counts = "signed-rank", [2]int{len(r.differences), len(r.differences)}
	}
	switch {
	case r.Test != test || r.Replicates != counts:
		return fmt.Sprintf("its runs make a %s test of %d and %d values, but its measurement is a %s test of %d and %d", test, counts[0], counts[1], r.Test, r.Replicates[0], r.Replicates[1])
	case r.Test == "mann-whitney" && r.U == nil, r.Test == "signed-rank" && r.W == nil, r.Test == "van-elteren" && r.T == nil:
		return "a test without its statistic"
	case !(r.P >= 0 && r.P <= 1 && r.PVerdict >= 0 && r.PVerdict <= 1 && r.PFloor >= 0 && r.PFloor <= 1):
		return "a p value outside of 0 to 1"
	case r.Interval != nil && r.Interval[0] > r.Interval[1]:
		return "an interval whose ends are the wrong way round"
	}
	return ""
}

// together is what reading brought up in all parts, in their order.
func (j *joining) together() *Part {
	out := &Part{Conditions: map[string]map[string]string{}}
	most := 0
	for _, p := range j.parts {
		most = max(most, len(p.Readings))
		maps.Copy(out.Conditions, p.Conditions)
		for _, n := range p.Notes {
			if !slices.Contains(out.Notes, n) {
				out.Notes = append(out.Notes, n)
			}
		}
	}
	for i := range most {
		var lists [][]string
		notes := map[string][]string{}
		for _, p := range j.parts {
			if i >= len(p.Readings) {
				continue
			}
			lists = append(lists, filesOf(p.Readings[i]))
			for _, f := range p.Readings[i] {
				for _, n := range f.Notes {
					if !slices.Contains(notes[f.File], n) {
						notes[f.File] = append(notes[f.File], n)
					}
				}
			}
		}
		reading := []FileNotes{}
		for _, file := range inOrder(lists) {
			reading = append(reading, FileNotes{file, notes[file]})
		}
		out.Readings = append(out.Readings, reading)
	}
	return out
}
