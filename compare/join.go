package compare

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"reflect"
	"slices"
	"strings"
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
	const advice = "make all parts of a comparison with the same profiles, options and policy"
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

// sides builds the series anew, in the order in which one reader of all files
// would have met them.
func (j *joining) sides() (before, after []*Series, err error) {
	var readings [2][][]string
	for _, p := range j.parts {
		for i := range readings {
			if n := len(p.Readings); n > 0 {
				readings[i] = append(readings[i], filesOf(p.Readings[min(i, n-1)]))
			}
		}
	}
	sides := [2][]*Series{}
	for i := range sides {
		rank := map[string]int{}
		for k, file := range inOrder(readings[i]) {
			rank[file] = k
		}
		earliest := map[*Part]*Series{}
		for _, p := range j.parts {
			for k := range p.Metrics {
				m := &p.Metrics[k]
				side := m.Before
				if i == 1 {
					side = m.After
				}
				if side == nil {
					continue
				}
				s, err := side.series(m, p)
				if err != nil {
					return nil, nil, err
				}
				sides[i] = append(sides[i], s)
				if e := earliest[p]; e == nil || orderOf(rank, s, e) < 0 {
					earliest[p] = s
				}
			}
		}
		slices.SortFunc(sides[i], func(a, b *Series) int { return orderOf(rank, a, b) })
		if i == 0 { // parts in the order of their runs, for what they note
			slices.SortStableFunc(j.parts, func(a, b *Part) int {
				x, y := earliest[a], earliest[b]
				switch {
				case x == nil || y == nil:
					return cmp.Compare(len(b.Metrics), len(a.Metrics))
				}
				return orderOf(rank, x, y)
			})
		}
	}
	return sides[0], sides[1], nil
}

func orderOf(rank map[string]int, a, b *Series) int {
	return cmp.Or(cmp.Compare(rank[a.first.File], rank[b.first.File]), cmp.Compare(a.first.File, b.first.File), cmp.Compare(a.first.Nth, b.first.Nth),
		cmp.Compare(a.Benchmark, b.Benchmark), cmp.Compare(a.Metric, b.Metric))
}

func filesOf(reading []FileNotes) []string {
	files := make([]string, len(reading))
	for i, f := range reading {
		files[i] = f.File
	}
	return files
}

// inOrder merges lists of files into one: a file comes behind those before it in
// its list, and of files that may come next the one first by path. Lists that
// contradict each other give way to the path.
func inOrder(lists [][]string) []string {
	follows, behind := map[string][]string{}, map[string]int{}
	edges := map[[2]string]bool{}
	for _, list := range lists {
		for i, file := range list {
			behind[file] += 0
			if i > 0 && list[i-1] != file && !edges[[2]string{list[i-1], file}] {
				edges[[2]string{list[i-1], file}] = true
				follows[list[i-1]] = append(follows[list[i-1]], file)
				behind[file]++
			}
		}
	}
	byPath := func(a, b string) int {
		return cmp.Or(cmp.Compare(strings.ReplaceAll(a, `\`, "/"), strings.ReplaceAll(b, `\`, "/")), cmp.Compare(a, b))
	}
	left := slices.SortedFunc(maps.Keys(behind), byPath)
	var ready, out []string
	for _, file := range left {
		if behind[file] == 0 {
			ready = append(ready, file)
		}
	}
	done := map[string]bool{}
	for len(out) < len(left) {
		if len(ready) == 0 {
			ready = append(ready, left[slices.IndexFunc(left, func(file string) bool { return !done[file] })])
		}
		file := ready[0]
		ready = ready[1:]
		done[file] = true
		out = append(out, file)
		for _, next := range follows[file] {
			if behind[next]--; behind[next] == 0 && !done[next] {
				at, _ := slices.BinarySearchFunc(ready, next, byPath)
				ready = slices.Insert(ready, at, next)
			}
		}
	}
	return out
}

// series is the series that the columns were made of.
func (s *PartSeries) series(m *PartMetric, p *Part) (*Series, error) {
	at := Place{File: p.Name, Line: m.Line}
	n := len(s.Values)
	if len(s.Sessions) > 0 && len(s.Sessions) != n || len(s.Blocks) > 0 && len(s.Blocks) != n || len(s.Runs) > 0 && len(s.Runs) != n {
		return nil, damaged(at, m, "its columns differ in length")
	}
	out := &Series{SeriesKey: SeriesKey{s.Profile, m.Benchmark, m.Metric}, Unit: s.Unit, Better: s.Better, WarmUps: s.WarmUps, first: s.First,
		unitAt: at, betterAt: at, Observations: make([]Observation, n)}
	for i, v := range s.Values {
		o := Observation{Value: v, Missing: math.IsNaN(v), At: at}
		if len(s.Sessions) > 0 {
			o.Session = s.Sessions[i]
		}
		if len(s.Blocks) > 0 {
			o.Block = s.Blocks[i]
		}
		if len(s.Runs) > 0 {
			o.Run = s.Runs[i]
		}
		out.Observations[i] = o
	}
	for _, a := range s.SetAside {
		if a.Value < 0 || a.Value >= n {
			return nil, damaged(at, m, "a run is set aside that is not there")
		}
		o := &out.Observations[a.Value]
		o.SetAside, o.Run, o.Reason, o.At = true, a.Run, a.Reason, Place{File: a.At}
	}
	return out, nil
}

func damaged(at Place, m *PartMetric, what string) error {
	return &PlacedError{at, fmt.Sprintf("%s: %s; the part is damaged or was changed by hand: make it anew with tunegate compare --part", describe(m.Benchmark, m.Metric), what)}
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
