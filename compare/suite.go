package compare

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"sort"
	"strings"

	"tunegate/stats"
)

// WholeSuite names the suite over all scores.
const WholeSuite = "suite"

// Basis says from what a suite's interval and test were made.
type Basis string

// The bases of a suite.
const (
	// BySuiteSession: every session holds every score; a session counts once,
	// by the weighted sum of its logarithms.
	BySuiteSession Basis = "sessions"
	// ByJointSession: some sessions lack scores; sessions are resampled and
	// exchanged whole.
	ByJointSession Basis = "sessions, some incomplete"
	// BySuiteBlock: as BySuiteSession, within blocks.
	BySuiteBlock Basis = "blocks"
	// ByScore: no sessions are recorded, so every score is resampled by itself
	// and the rank test is stratified over scores.
	ByScore Basis = "runs, score by score"
	// ByOrder: no sessions are recorded, but the scores rise and fall together
	// from run to run; the k-th run of all scores counts once.
	ByOrder Basis = "runs, in their order"
)

// Suite is the weighted geometric mean of several scores' ratios, judged as one
// metric: Change is how much faster the suite is. Before and After are relative
// to each score's median before, so that before is 1.
type Suite struct {
	Scores  []string  `json:"scores"`
	Weights []float64 `json:"weights"`
	LeftOut []string  `json:"left_out"` // scores that are not in it, and why
	Basis   Basis     `json:"basis"`
	// Arithmetic is what averaging the percentages would say.
	Arithmetic float64 `json:"arithmetic_mean"`
	*Result

	luck float64 // p of the test whether runs share their luck; 0 where it was not made
}

// pooled is the part of a Result that several scores share: what the basis
// ByScore or ByJointSession works on, turned so that plus is better.
type pooled struct {
	components    []stats.Component
	ungrouped     []stats.Component // the same with readings in steps spread over them, for the interval
	before, after stats.Joint
	weights       []float64
	size          int // of the larger side: sessions, or runs of a score
	closed        stats.Closed
}

// pool pools the scores: all of them, and those of each workload class. There
// is no suite where fewer than two can be pooled.
func (c *Comparison) pool(policy Policy) {
	var scores []*Result
	var leftOut []string
	classes := map[string][]*Result{}
	var names []string
	for _, r := range c.Results {
		switch {
		case r.Role != Score || !r.Named:
			continue
		case r.Scale != Ratio:
			leftOut = append(leftOut, fmt.Sprintf("%s (a difference in %s is no ratio)", r.Name(), orWord(r.Unit, "its unit")))
			continue
		}
		scores = append(scores, r)
		if r.Class == "" {
			continue
		}
		if classes[r.Class] == nil {
			names = append(names, r.Class)
		}
		classes[r.Class] = append(classes[r.Class], r)
	}
	leftOut = append(leftOut, c.lacking...)
	for _, name := range c.Absent {
		if !slices.ContainsFunc(leftOut, func(s string) bool { return strings.HasPrefix(s, name+" (") }) {
			leftOut = append(leftOut, name+" (missing on both sides)")
		}
	}
	if c.Suite = c.suite(pooling{name: WholeSuite, whole: true}, scores, policy); c.Suite == nil {
		return
	}
	c.Suite.LeftOut = append(c.Suite.LeftOut, leftOut...)
	rule := rule{c.Correction, c.Confidence, policy, nil}
	rule.settle([]*Result{c.Suite.Result}, 0)
	if len(names) == 1 && len(classes[names[0]]) == len(scores) {
		names = nil // the only class is the suite
	}
	var results []*Result
	for _, name := range names {
		s := c.suite(pooling{name: name}, classes[name], policy)
		c.Classes = append(c.Classes, s)
		results = append(results, s.Result)
	}
	rule.settle(results, 0)
	for _, s := range append([]*Suite{c.Suite}, c.Classes...) {
		s.addNotes(c)
	}
}

// pooling says what a suite is for.
type pooling struct {
	name    string
	whole   bool      // it is the suite of a comparison, which needs two scores
	factors []float64 // of the policy's weights; nil for 1
}

// suite makes one of scores, or of costs; nil where it cannot, and then a note
// says why.
func (c *Comparison) suite(of pooling, parts []*Result, policy Policy) *Suite {
	name, factors := of.name, of.factors
	if len(parts) == 0 || len(parts) == 1 && of.whole {
		return nil
	}
	if p := parts[0]; p.Scale != Ratio && slices.ContainsFunc(parts, func(r *Result) bool { return r.Unit != p.Unit }) {
		c.note("no-suite", "no mean of %s: it is measured in different units", name)
		return nil
	}
	// By name, so that the order of rows changes no bit.
	order := make([]int, len(parts))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(i, j int) int {
		a, b := parts[i], parts[j]
		return cmp.Or(cmp.Compare(a.Benchmark, b.Benchmark), cmp.Compare(a.Metric.Metric, b.Metric.Metric))
	})
	s := &Suite{LeftOut: []string{}}
	var sorted []*Result
	total, arithmetic := 0.0, 0.0
	blocks, sessions := 0, 0
	for _, i := range order {
		r, weight := parts[i], parts[i].Weight
		if factors != nil {
			weight *= factors[i]
		}
		sorted = append(sorted, r)
		s.Scores, s.Weights = append(s.Scores, r.Name()), append(s.Weights, weight)
		total += weight
		arithmetic += weight * r.Change
		switch r.Replication {
		case ByBlock:
			blocks++
		case BySession:
			sessions++
		}
	}
	s.Result = suiteResult(name, sorted, policy)
	s.counts = of.whole && policy.SuiteDecides
	s.Arithmetic = arithmetic / total
	switch {
	case len(parts) == 1:
		s.lone()
		return s
	case blocks == len(parts):
		if !s.byRows(true) {
			c.note("no-suite", "no %s: no block holds every score on both sides", suiteWord(name))
			return nil
		}
		s.Basis = BySuiteBlock
	case blocks > 0:
		c.note("no-suite", "no %s: some scores are compared in blocks and some are not; the two are never mixed", suiteWord(name))
		return nil
	case sessions > 0 && !s.labelled():
		c.note("no-suite", "no %s: some of its runs have a session label and some have none, so nobody knows which of them share a reboot's luck; label all", suiteWord(name))
		return nil
	case sessions > 0 && s.byRows(false):
		s.Basis = BySuiteSession
	case sessions > 0:
		s.Basis = ByJointSession
		s.jointly()
	default:
		s.Basis = ByScore
		if s.luck = s.sharedLuck(c); s.luck <= luckBar && s.byOrder() {
			s.Basis = ByOrder
			break
		}
		s.byScore()
	}
	s.measure(c)
	s.widenCoarse()
	return s
}

// lone makes the suite of a single part: that part, under the suite's name.
func (s *Suite) lone() {
	part := s.Parts[0]
	m := s.Metric
	m.Unit, m.Better = part.Unit, part.Better
	r := *part
	r.Metric, r.Parts, r.Notes = m, s.Parts, []Note{}
	s.Result = &r
	s.Basis = map[Replication]Basis{ByBlock: BySuiteBlock, BySession: BySuiteSession, ByRun: ByScore}[r.Replication]
}

func suiteWord(name string) string {
	if name == WholeSuite {
		return "suite"
	}
	return "suite of " + name
}

// suiteTolerance is the policy's, else the one given for every score, else the
// default.
func suiteTolerance(policy Policy) (*float64, string) {
	t, from := defaultTolerance(Ratio), "default"
	if policy.SuiteTolerance != nil {
		t, from = *policy.SuiteTolerance, policy.Source
	}
	for _, o := range policy.Overrides {
		if o.Name == "" {
			t, from = o.Tolerance, "--tolerance"
		}
	}
	t /= 100
	return &t, from
}

// suiteResult is what parts of one role and scale pool to.
func suiteResult(name string, parts []*Result, policy Policy) *Result {
	m := Metric{Benchmark: name, Metric: DefaultMetric, Better: Higher, Scale: Ratio, Role: Score, Weight: 1, Named: true}
	m.Tolerance, m.ToleranceFrom = suiteTolerance(policy)
	if p := parts[0]; p.Role != Score {
		m.Better, m.Scale, m.Role, m.Tolerance, m.ToleranceFrom = p.Better, p.Scale, p.Role, nil, ""
		if m.Scale == Interval {
			m.Unit = p.Unit
		}
	}
	return &Result{Metric: m, Notes: []Note{}, Parts: parts}
}

// turned is a compared value of a part as the suite adds it up: of scores so
// that plus is better, of everything else as it is.
func (r *Result) turned(v float64) float64 {
	if r.Role == Score && r.Better == Lower {
		return -v
	}
	return v
}

// centre is what a part is taken relative to: its median before, on a ratio
// scale.
func (r *Result) centre() float64 {
	if r.Scale != Ratio {
		return 0
	}
	return r.turned(median(r.before.values))
}

// spellKey is one session, or one spell within a block.
type spellKey struct{ block, session string }

// rows lists a side's values, turned and relative to the side before, by
// session or spell. ok is false where a value has no label to go by.
func (r *Result) rows(side sample, inBlocks bool) (rows map[spellKey]float64, ok bool) {
	centre := r.centre()
	rows = map[spellKey]float64{}
	if inBlocks {
		for _, block := range r.blocks {
			for _, s := range side.blocked[block] {
				rows[spellKey{block, s.label}] = r.turned(s.value) - centre
			}
		}
		return rows, true
	}
	for s := range side.spells() {
		if s.label == "" && s.block == "" {
			return nil, false
		}
		rows[spellKey{s.block, s.label}] = r.turned(s.value) - centre
	}
	return rows, true
}

// byRows reduces each session or spell that holds every score to the weighted
// mean of its logarithms; the ordinary test and interval follow. It reports
// false where sessions lack scores; of blocks those that hold every score are
// used.
func (s *Suite) byRows(inBlocks bool) bool {
	build := func(pick func(*Result) sample) (*Series, bool) {
		sums, seen := map[spellKey]float64{}, map[spellKey]int{}
		total := 0.0
		for i, r := range s.Parts {
			rows, ok := r.rows(pick(r), inBlocks)
			if !ok {
				return nil, false
			}
			for k, v := range rows {
				sums[k] += s.Weights[i] * v
				seen[k]++
			}
			total += s.Weights[i]
		}
		out := &Series{SeriesKey: SeriesKey{Benchmark: s.Benchmark, Metric: s.Metric.Metric}}
		for _, k := range sortedKeys(sums) {
			switch {
			case seen[k] == len(s.Parts):
				out.Observations = append(out.Observations, Observation{Value: s.natural(sums[k] / total), Block: k.block, Session: k.session})
			case !inBlocks:
				return nil, false
			}
		}
		return out, true
	}
	b, okB := build(func(r *Result) sample { return r.before })
	a, okA := build(func(r *Result) sample { return r.after })
	if !okB || !okA || len(b.Observations) == 0 || len(a.Observations) == 0 {
		return false
	}
	return s.reduce(b, a) == nil && (!inBlocks || s.blocks != nil)
}

// labelled reports whether every run of every part has a session label.
func (s *Suite) labelled() bool {
	for _, r := range s.Parts {
		for _, side := range []sample{r.before, r.after} {
			for x := range side.spells() {
				if x.label == "" && x.block == "" {
					return false
				}
			}
		}
	}
	return true
}

// luckBar is the p up to which runs are taken to share their luck. A false
// alarm costs some power; a luck that is missed makes noise look real.
const luckBar = 0.1

// sharedLuck tests whether the k-th runs of all scores rise and fall together,
// as where one pass runs the whole suite; 1 where that cannot be told.
func (s *Suite) sharedLuck(c *Comparison) float64 {
	var sides [][][]float64
	for _, pick := range []func(*Result) sample{func(r *Result) sample { return r.before }, func(r *Result) sample { return r.after }} {
		var rows [][]float64
		for _, r := range s.Parts {
			row := make([]float64, len(pick(r).raw))
			for k, v := range pick(r).raw {
				row[k] = r.turned(r.working(v))
			}
			rows = append(rows, row)
		}
		sides = append(sides, rows)
	}
	return stats.SharedLuck(sides, s.Weights, 199, c.Seed)
}

// byOrder makes the k-th run of all scores one value.
func (s *Suite) byOrder() bool {
	build := func(pick func(*Result) sample) *Series {
		out := &Series{SeriesKey: SeriesKey{Benchmark: s.Benchmark, Metric: s.Metric.Metric}}
		for k := range pick(s.Parts[0]).raw {
			sum, total := 0.0, 0.0
			for i, r := range s.Parts {
				sum += s.Weights[i] * (r.turned(r.working(pick(r).raw[k])) - r.centre())
				total += s.Weights[i]
			}
			out.Observations = append(out.Observations, Observation{Value: s.natural(sum / total)})
		}
		return out
	}
	return s.reduce(build(func(r *Result) sample { return r.before }), build(func(r *Result) sample { return r.after })) == nil
}

func sortedKeys(m map[spellKey]float64) []spellKey {
	keys := make([]spellKey, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	sort.Slice(keys, func(i, j int) bool {
		return cmp.Or(cmp.Compare(keys[i].block, keys[j].block), cmp.Compare(keys[i].session, keys[j].session)) < 0
	})
	return keys
}

// jointly keeps sessions as rows of values, NaN where one lacks a score.
func (s *Suite) jointly() {
	s.pooled = &pooled{}
	side := func(pick func(*Result) sample) stats.Joint {
		rows := map[spellKey][]float64{}
		put := func(k spellKey, column int, v float64) {
			if rows[k] == nil {
				rows[k] = slices.Repeat([]float64{math.NaN()}, len(s.Parts))
			}
			rows[k][column] = v
		}
		for column, r := range s.Parts {
			centre := r.centre()
			for x := range pick(r).spells() {
				put(spellKey{x.block, x.label}, column, r.turned(x.value)-centre)
			}
		}
		at := map[spellKey]float64{}
		for k := range rows {
			at[k] = 0
		}
		var out stats.Joint
		for _, k := range sortedKeys(at) {
			out = append(out, rows[k])
		}
		return out
	}
	s.pooled.before, s.pooled.after = side(func(r *Result) sample { return r.before }), side(func(r *Result) sample { return r.after })
	s.pooled.weights = s.Weights
	s.Replication, s.Replicates = BySession, [2]int{len(s.pooled.before), len(s.pooled.after)}
	s.relativeSides()
}

// byScore keeps the scores apart.
func (s *Suite) byScore() {
	s.pooled = &pooled{}
	for k, r := range s.Parts {
		component := func(before, after []float64) stats.Component {
			return stats.Component{Before: scaled(before, r.turned(1)), After: scaled(after, r.turned(1)), Weight: s.Weights[k]}
		}
		b, a, _ := r.ungrouped()
		s.pooled.components = append(s.pooled.components, component(r.before.values, r.after.values))
		s.pooled.ungrouped = append(s.pooled.ungrouped, component(b, a))
	}
	s.Replication = ByRun
	for _, r := range s.Parts {
		s.Replicates[0] = leastOf(s.Replicates[0], r.Replicates[0])
		s.Replicates[1] = leastOf(s.Replicates[1], r.Replicates[1])
	}
	s.relativeSides()
}

// leastOf is the smaller of two counts, where 0 stands for none yet.
func leastOf(a, b int) int {
	if a == 0 {
		return b
	}
	return min(a, b)
}

// relativeSides fills in the sides where no values per session exist: as if
// before were its own measure. What is after follows from the change.
func (s *Suite) relativeSides() {
	for _, r := range s.Parts {
		s.Before.Runs += r.Before.Runs
		s.After.Runs += r.After.Runs
	}
	if s.Replication == BySession {
		s.Before.Sessions, s.After.Sessions = s.Replicates[0], s.Replicates[1]
	}
	one := s.natural(0)
	s.Before.Median, s.Before.Mean, s.Before.Min, s.Before.Max = one, one, one, one
}

// measurePooled is measure for the two bases without a value per session.
func (r *Result) measurePooled(c *Comparison) {
	p := r.pooled
	var t stats.PermutationTest
	var lo, hi float64
	var ok bool
	if p.components != nil {
		r.Test = "pooled permutation"
		t = stats.PooledPermutation(p.components, c.Resamples, c.Seed)
		r.shift = stats.PooledShift(p.components)
		lo, hi, ok = stats.PooledInterval(p.ungrouped, c.Confidence, c.Resamples, c.Seed)
		lo, hi = math.Min(lo, r.shift), math.Max(hi, r.shift) // spread readings need not hold it
		r.IntervalMethod = "independent bootstrap of each score"
		r.PFloor = stats.SmallestPooledP(p.components, c.Resamples)
		p.closed.SE, p.closed.DF = stats.PooledError(p.components)
	} else {
		r.Test = "joint permutation"
		t = stats.JointPermutation(p.before, p.after, p.weights, c.Resamples, c.Seed)
		r.shift = stats.JointShift(p.before, p.after, p.weights)
		lo, hi, ok = stats.JointInterval(p.before, p.after, p.weights, c.Confidence, c.Resamples, c.Seed)
		r.IntervalMethod = "joint bootstrap of sessions"
		r.PFloor = stats.SmallestJointP(len(p.before), len(p.after), c.Resamples)
		p.closed.SE, p.closed.DF = stats.JointError(p.before, p.after, p.weights)
	}
	r.P, r.PVerdict, r.Superiority = t.P, t.PVerdict, t.Superiority
	if r.Better == Lower {
		r.Superiority = 1 - r.Superiority
	}
	r.Method = "drawn"
	switch {
	case t.Exact:
		r.Method = "exact"
	case t.Normal:
		r.Method = "normal"
	}
	r.Change = r.display(r.shift)
	after := r.natural(r.shift)
	r.After.Median, r.After.Mean, r.After.Min, r.After.Max = after, after, after, after
	p.closed.Half, p.size = (hi-lo)/2, max(r.Replicates[0], r.Replicates[1])
	if ok && r.PFloor <= 1-c.Confidence+slack {
		r.Interval = r.displayed(lo, hi)
	} else {
		r.IntervalMethod = ""
	}
}

// Judged lists everything with a row of its own: the metrics, the suite, its
// classes.
func (c *Comparison) Judged() []*Result {
	out := slices.Clone(c.Results)
	if c.Suite != nil {
		out = append(out, c.Suite.Result)
	}
	for _, s := range c.Classes {
		out = append(out, s.Result)
	}
	return out
}

// manySums is from how many values a side on sums of readings in steps count as
// readings in steps themselves: 14 sums of two scores that spread by 0.75 steps or
// more are covered in 94 to 96 % as they are, 30 in 90, 120 in 61 to 86 %.
const manySums = 15

// widenCoarse moves the ends out by what rounded readings of the scores allow:
// the scores' widenings, weighted, and where many values are sums of readings
// what the largest step of a sum does.
func (s *Suite) widenCoarse() {
	widen, total, step := 0.0, 0.0, 0.0
	for i, r := range s.Parts {
		widen += s.Weights[i] * r.widened
		total += s.Weights[i]
		step = math.Max(step, s.Weights[i]*r.compared(r.step()))
	}
	s.widened = widen / total
	if step > 0 && s.pooled == nil && s.blocks == nil && min(s.Replicates[0], s.Replicates[1]) >= manySums {
		s.widened += stats.CoarseWidening(s.before.values, s.after.values, step/total)
	}
	if s.widened == 0 || s.Interval == nil {
		return
	}
	lo, hi := s.Interval[0], s.Interval[1]
	if s.Scale == Ratio {
		lo, hi = math.Log1p(lo), math.Log1p(hi)
	}
	s.Interval = s.displayed(lo-s.widened, hi+s.widened)
}

// sizeToCatch is the number of runs a score, or of sessions, on each side.
func (p *pooled) sizeToCatch(shift, margin float64, design stats.Design) (int, bool) {
	times, ok := p.closed.TimesToCatch(shift, margin, design)
	least := 1
	if p.components == nil {
		least = stats.FloorSize(math.Min(design.Alpha, 1-design.Confidence))
	}
	return max(least, int(math.Ceil(times*float64(p.size)-1e-9))), ok
}

// addNotes states what a careful reader would ask about a suite.
func (s *Suite) addNotes(c *Comparison) {
	alone := !slices.ContainsFunc(s.Parts, func(r *Result) bool { return r.Verdict != nil && r.Verdict.Settled() })
	switch {
	case len(s.Parts) > 1 && alone && s.Real:
		s.note("together", "together these scores settle what none of them settles alone")
	case s.Basis == BySuiteBlock && len(s.blocks) < s.mostBlocks():
		s.note("incomplete-blocks", "%d of %d blocks hold every score of it; the others are left out", len(s.blocks), s.mostBlocks())
	}
	switch {
	case s.Basis == ByOrder:
		s.note("shared-luck", "its scores rise and fall together from run to run (p = %.2g), so the first runs of all scores count as one, and so on; label each pass in a column `session`", s.luck)
	case s.Basis == ByScore && len(s.Parts) > 1:
		s.note("independent-scores", "takes the scores' runs for independent of each other; where one pass ran all of them, its luck is in all of them: label each pass in a column `session`")
	}
	if s.Basis == ByJointSession {
		s.note("incomplete-sessions", "some sessions lack some of its scores: sessions are resampled and exchanged whole, whatever they hold")
		if s.Interval == nil && s.PFloor <= 1-c.Confidence+slack {
			s.note("too-incomplete", "too few sessions hold each of its scores to give it an interval")
		}
	}
	if p := s.places(); p >= 0 && len(s.Parts) > 1 && math.Abs(100*(s.Arithmetic-s.geometric())) > math.Pow10(-p) {
		s.note("arithmetic", "the average of the scores' percentages is %+.*f %%, their geometric mean %+.*f %%: ratios multiply, and an average of percentages changes its answer with the side that counts as 100 %%",
			p, 100*s.Arithmetic, p, 100*s.geometric())
	}
}

// geometric is the weighted geometric mean of the scores' own changes; Change
// is near it, but made from sessions where there are some.
func (s *Suite) geometric() float64 {
	log, total := 0.0, 0.0
	for i, r := range s.Parts {
		log += s.Weights[i] * math.Log1p(r.Change)
		total += s.Weights[i]
	}
	return math.Expm1(log / total)
}

func (s *Suite) mostBlocks() int {
	n := 0
	for _, r := range s.Parts {
		n = max(n, len(r.blocks))
	}
	return n
}

// places is to how many decimals of a per cent the change is quoted; -1 where
// there is no interval.
func (s *Suite) places() int {
	if s.Interval == nil {
		return -1
	}
	return min(Places((s.Interval[1]-s.Interval[0])/2*100), 4)
}
