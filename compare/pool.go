package compare

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"tunegate/stats"
)

// WholeSuite names the suite over all scores.
const WholeSuite = "suite"

// Pooling says what counts once in a suite: each holds every score, and counts by
// the weighted sum of its logarithms.
type Pooling string

// The ways of pooling.
const (
	BySuiteSession Pooling = "sessions"
	BySuiteBlock   Pooling = "blocks"
	BySuiteMachine Pooling = "machines"
	// BySuitePass: no sessions are recorded. The k-th runs of all scores are one
	// pass, so that what a pass has in common counts once.
	BySuitePass Pooling = "passes"
)

// Pool is several measured metrics of one role, pooled into one measurement: the
// weighted geometric mean of scores' ratios (Change is how much faster the suite
// is), or the weighted mean of costs. Before and After of scores are relative to
// each score's median before, so that before is 1.
type Pool struct {
	Scores  []string
	Weights []float64
	Pooling Pooling
	// Arithmetic is what averaging the percentages would say.
	Arithmetic float64
	// Incomplete of so many Rows lack a score and are left out: sessions or passes
	// of both sides.
	Incomplete, Rows int
	Measured         *Measurement
}

// PoolOf says what to pool.
type PoolOf struct {
	Name    string
	Whole   bool      // it is the suite of a comparison, which needs two scores
	Factors []float64 // of the parts' weights; nil for 1
}

// Pool pools measurements of one role. Where it cannot, the pool is nil and a note
// says why; there is no note where there are too few.
func (t Terms) Pool(of PoolOf, parts []*Measurement, policy Policy) (*Pool, *Note) {
	if len(parts) == 0 || len(parts) == 1 && of.Whole {
		return nil, nil
	}
	cannot := func(kind NoteKind) (*Pool, *Note) { return nil, &Note{Kind: kind, Suite: of.Name} }
	if p := parts[0]; p.Scale != Ratio && slices.ContainsFunc(parts, func(r *Measurement) bool { return r.Unit != p.Unit }) {
		return cannot(NoteUnitsDiffer)
	}
	p := newPooling(of, parts, policy)
	first := parts[0]
	mixed := slices.ContainsFunc(parts, func(r *Measurement) bool {
		return r.Replication != first.Replication || (r.Blocks == nil) != (first.Blocks == nil)
	})
	has := func(unit Replication) bool {
		return slices.ContainsFunc(parts, func(r *Measurement) bool { return r.Replication == unit })
	}
	switch {
	case mixed && has(ByMachine):
		return cannot(NoteSomeMachines)
	case mixed && has(ByBlock):
		return cannot(NoteSomeBlocks)
	case len(parts) > 1 && has(BySession) && !p.labelled():
		return cannot(NoteSomeLabels)
	}
	out := &Pool{Scores: p.names, Weights: p.weights, Arithmetic: p.arithmetic(), Pooling: map[Replication]Pooling{ByBlock: BySuiteBlock,
		ByMachine: BySuiteMachine, BySession: BySuiteSession, ByRun: BySuitePass}[first.Replication]}
	if len(parts) == 1 {
		out.Measured = p.renamed(first)
		return out, nil
	}
	var pair *Pair
	if pair, out.Incomplete, out.Rows = p.complete(out.Pooling); pair == nil {
		return nil, &Note{Kind: NoteNoCommon, Suite: of.Name, Replication: first.Replication}
	}
	out.Measured = p.measure(pair, t)
	return out, nil
}

// SuiteWord names a suite in a sentence.
func SuiteWord(name string) string {
	if name == WholeSuite {
		return "suite"
	}
	return "suite of " + name
}

// SuiteTolerance is the tolerance of a suite and where it is from: the policy's,
// else the one given for every score, else the default.
func SuiteTolerance(policy Policy) (tolerance float64, from string) {
	t, from := defaultTolerance(Ratio), FromDefault
	if policy.SuiteTolerance != nil {
		t, from = *policy.SuiteTolerance, policy.Source
	}
	for _, o := range policy.Overrides {
		if o.Name == "" {
			t, from = o.Tolerance, policy.overridesFrom()
		}
	}
	return t / 100, from
}

// SuiteMetric is what is in force for a suite of scores.
func SuiteMetric(name string, policy Policy) Metric {
	t, from := SuiteTolerance(policy)
	return Metric{Benchmark: name, Metric: DefaultMetric, Better: Higher, Scale: Ratio, Role: Score, Weight: 1, Named: true,
		Tolerance: &t, ToleranceFrom: from}
}

// pooling is the parts of a suite in the order of their names, so that the order
// of rows changes no bit.
type pooling struct {
	metric  Metric
	decides bool
	parts   []*Measurement
	names   []string
	weights []float64
	total   float64 // of the weights
}

func newPooling(of PoolOf, parts []*Measurement, policy Policy) *pooling {
	order := make([]int, len(parts))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(i, j int) int { return parts[i].ID().Compare(parts[j].ID()) })
	p := &pooling{metric: SuiteMetric(of.Name, policy), decides: of.Whole && policy.DoesSuiteDecide()}
	if first := parts[0]; first.Role != Score {
		m := &p.metric
		m.Better, m.Scale, m.Role, m.Tolerance, m.ToleranceFrom = first.Better, first.Scale, first.Role, nil, ""
		if m.Scale == Interval {
			m.Unit = first.Unit
		}
	}
	for _, i := range order {
		weight := parts[i].Weight
		if of.Factors != nil {
			weight *= of.Factors[i]
		}
		p.parts, p.names, p.weights = append(p.parts, parts[i]), append(p.names, parts[i].Name()), append(p.weights, weight)
		p.total += weight
	}
	return p
}

// arithmetic is the weighted mean of the parts' changes.
func (p *pooling) arithmetic() float64 {
	sum := 0.0
	for i, part := range p.parts {
		sum += p.weights[i] * part.Change
	}
	return sum / p.total
}

// pair makes a pair of the suite.
func (p *pooling) pair(b, a *Series) *Pair {
	pair, err := PairOf(p.metric, b, a)
	if err != nil {
		return nil
	}
	pair.Parts, pair.decides = p.parts, p.decides
	pair.resolution = [2]float64{} // a suite's readings are its scores'
	if pair.Blocks == nil {
		pair.layout = newTwoSamples(p.metric, [2]Sample{pair.Before, pair.After}, pair.resolution)
	}
	return pair
}

// renamed is the suite of a single part: that part, under the suite's name.
func (p *pooling) renamed(part *Measurement) *Measurement {
	pair := *part.Pair
	pair.Metric, pair.Parts, pair.decides = p.metric, p.parts, p.decides
	pair.Unit, pair.Better = part.Unit, part.Better
	m := *part
	m.Pair = &pair
	return &m
}

// measure measures the suite, and moves the ends of its interval out by what
// rounded readings of the scores allow.
func (p *pooling) measure(pair *Pair, t Terms) *Measurement {
	m := pair.measure(t)
	m.setInterval(0)
	m.widened = p.rounding(pair)
	if in := m.Interval; in != nil && m.widened > 0 {
		lo, hi := in[0], in[1]
		if m.Scale == Ratio {
			lo, hi = math.Log1p(lo), math.Log1p(hi)
		}
		m.Interval = m.displayedRange(lo-m.widened, hi+m.widened)
	}
	return m
}

// manySums is from how many values a side on sums of readings in steps count as
// readings in steps themselves: 14 sums of two scores that spread by 0.75 steps or
// more are covered in 94 to 96 % as they are, 30 in 90, 120 in 61 to 86 %.
const manySums = 15

// rounding is by how much rounded readings move the ends: the scores' widenings,
// weighted, and where many values are sums of readings what the largest step of a
// sum does.
func (p *pooling) rounding(pair *Pair) float64 {
	widen, step := 0.0, 0.0
	for i, part := range p.parts {
		widen += p.weights[i] * part.widened
		step = math.Max(step, p.weights[i]*(part.step()/part.unitAt()))
	}
	widen /= p.total
	if sizes := pair.layout.sizes(); step > 0 && pair.Blocks == nil && min(sizes[0], sizes[1]) >= manySums {
		widen += math.Max(stats.CoarseWidening(pair.Before.Values, step/p.total), stats.CoarseWidening(pair.After.Values, step/p.total))
	}
	return widen
}

// sides are both sides, so that they can be gone through.
func (p *Pair) sides() [2]*Sample { return [2]*Sample{&p.Before, &p.After} }

// Turned is a compared value as suites add it up: of scores so that plus is
// better, of everything else as it is.
func (m Metric) Turned(v float64) float64 {
	if m.Role == Score && m.Better == Lower {
		return -v
	}
	return v
}

// centre is what a part is taken relative to: its median before, on a ratio
// scale.
func (p *Pair) centre() float64 {
	if p.Scale != Ratio {
		return 0
	}
	return p.Turned(stats.Median(p.Before.Values))
}

// rowKey is one machine, one session, one spell within a block, or one pass.
type rowKey struct {
	machine, block, session string
	pass                    int
}

func (a rowKey) compare(b rowKey) int {
	if a.machine != b.machine || a.block != b.block {
		return cmp.Or(strings.Compare(a.machine, b.machine), strings.Compare(a.block, b.block))
	}
	return cmp.Or(strings.Compare(a.session, b.session), cmp.Compare(a.pass, b.pass))
}

// rowSums adds up the rows of the parts of a suite. Parts mostly have the same rows in
// the same order.
type rowSums struct {
	at   map[rowKey]int
	rows []rowSum
	last int // the row of the value before
}

type rowSum struct {
	key   rowKey
	sum   float64
	seen  int     // parts that have it
	part  int     // the last of them, from 1
	value float64 // there
}

func (s *rowSums) set(k rowKey, part int, value float64) {
	at := s.last + 1
	if at >= len(s.rows) || s.rows[at].key != k {
		var known bool
		if at, known = s.at[k]; !known {
			at = len(s.rows)
			s.at[k] = at
			s.rows = append(s.rows, rowSum{key: k})
		}
	}
	r := &s.rows[at]
	if s.last = at; r.part != part {
		r.part, r.seen = part, r.seen+1
	}
	r.value = value
}

// addUp adds what a part has.
func (s *rowSums) addUp(part int, weight float64) {
	for i := range s.rows {
		if r := &s.rows[i]; r.part == part {
			r.sum += weight * r.value
		}
	}
	s.last = -1
}

// labelled reports whether every run of every part has a session label.
func (p *pooling) labelled() bool {
	for _, part := range p.parts {
		for _, side := range part.sides() {
			if side.alone != nil || slices.ContainsFunc(side.sessions, func(x Spell) bool { return x.Label == "" && x.Block == "" }) {
				return false
			}
		}
	}
	return true
}

// rows hands on a side's values, turned and relative to the side before.
func (p *Pair) rows(side *Sample, by Pooling, set func(k rowKey, value float64)) {
	centre := p.centre()
	if by == BySuitePass {
		for k, v := range side.Raw {
			set(rowKey{pass: side.place(k)}, p.Turned(p.working(v))-centre)
		}
		return
	}
	for _, s := range side.Counted() {
		k := rowKey{block: s.Block, session: s.Label}
		if by == BySuiteMachine {
			k = rowKey{machine: s.Block}
		}
		set(k, p.Turned(s.Value)-centre)
	}
}

// complete reduces each session, spell or pass that holds every score to the
// weighted mean of its logarithms; the ordinary test and interval follow. The
// incomplete ones of all rows are left out. The pair is nil where a side, or every
// block, has none that is complete.
func (p *pooling) complete(by Pooling) (pair *Pair, incomplete, rows int) {
	var sides [2]*Series
	for side := range sides {
		sums := rowSums{at: map[rowKey]int{}, last: -1}
		for i, part := range p.parts {
			part.rows(part.sides()[side], by, func(k rowKey, value float64) { sums.set(k, i+1, value) })
			sums.addUp(i+1, p.weights[i])
		}
		slices.SortFunc(sums.rows, func(a, b rowSum) int { return a.key.compare(b.key) })
		out := &Series{SeriesKey: SeriesKey{Benchmark: p.metric.Benchmark, Metric: p.metric.Metric}}
		for i := range sums.rows {
			r := &sums.rows[i]
			if rows++; r.seen < len(p.parts) {
				incomplete++
				continue
			}
			out.Append(Observation{Value: p.metric.InUnit(r.sum / p.total), Machine: r.key.machine, Block: r.key.block, Session: r.key.session})
		}
		if out.Len() == 0 {
			return nil, 0, 0
		}
		sides[side] = out
	}
	if pair = p.pair(sides[0], sides[1]); pair == nil || by == BySuiteBlock && pair.Blocks == nil {
		return nil, 0, 0
	}
	if by == BySuitePass {
		pair.minSize = minPasses
		if few := pair.layout.(twoSamples); min(len(few.before), len(few.after)) < minPasses {
			pair.layout = fewPasses{few}
		}
	}
	return pair, incomplete, rows
}

// minPasses is from how many passes a side on a suite has a test. The sittings of
// fewer are not known, and their interval rests on normal noise.
const minPasses = 5

// fewPasses are too few passes for a test: the interval is Student's, about the
// difference of the means.
type fewPasses struct{ twoSamples }

func (l fewPasses) minP() float64 { return 1 }

func (l fewPasses) measure(t Terms) estimate {
	e := l.twoSamples.measure(t)
	e.test, e.statistic, e.p, e.pUsed, e.method, e.from = TestNone, 0, 1, 1, "none", IntervalWelch
	lo, hi, ok := stats.WelchInterval(l.before, l.after, t.Confidence)
	if e.hasInterval = ok; ok {
		e.shift, e.interval = (lo+hi)/2, [2]float64{lo, hi}
	}
	return e
}
