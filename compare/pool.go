package compare

import (
	"cmp"
	"maps"
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"

	"tunegate/stats"
	"tunegate/stats/check"
)

// WholeSuite names the suite over all scores.
const WholeSuite = "suite"

// Pooling says from what a suite's interval and test were made.
type Pooling string

// The ways of pooling.
const (
	// BySuiteSession: every session holds every score; a session counts once,
	// by the weighted sum of its logarithms.
	BySuiteSession Pooling = "sessions"
	// ByJointSession: some sessions lack scores; sessions are resampled and
	// exchanged whole.
	ByJointSession Pooling = "sessions, some incomplete"
	// BySuiteBlock: as BySuiteSession, within blocks.
	BySuiteBlock Pooling = "blocks"
	// ByScore: no sessions are recorded, so every score is resampled by itself
	// and the rank test is stratified over scores.
	ByScore Pooling = "runs, score by score"
	// ByOrder: no sessions are recorded, but the scores rise and fall together
	// from run to run; the k-th run of all scores counts once.
	ByOrder Pooling = "runs, in their order"
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
	// LuckP is the p of the test whether runs share their luck; 0 where it was
	// not made.
	LuckP    float64
	Measured *Measurement
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
	blocks, sessions := 0, 0
	for _, part := range parts {
		switch part.Replication {
		case ByBlock:
			blocks++
		case BySession:
			sessions++
		}
	}
	out := &Pool{Scores: p.names, Weights: p.weights, Arithmetic: p.arithmetic()}
	var pair *Pair
	switch {
	case len(parts) == 1:
		out.Pooling = map[Replication]Pooling{ByBlock: BySuiteBlock, BySession: BySuiteSession, ByRun: ByScore}[parts[0].Replication]
		out.Measured = p.renamed(parts[0])
		return out, nil
	case blocks == len(parts):
		if pair = p.byRows(true); pair == nil {
			return cannot(NoteNoCommonBlock)
		}
		out.Pooling = BySuiteBlock
	case blocks > 0:
		return cannot(NoteSomeBlocks)
	case sessions > 0 && !p.labelled():
		return cannot(NoteSomeLabels)
	case sessions > 0:
		out.Pooling = BySuiteSession
		if pair = p.byRows(false); pair == nil {
			out.Pooling, pair = ByJointSession, p.jointly(t)
		}
	default:
		if out.LuckP = p.sharedLuck(t.Seed); out.LuckP <= maxLuckP {
			out.Pooling, pair = ByOrder, p.byOrder()
		}
		if pair == nil {
			out.Pooling, pair = ByScore, p.byScore(t)
		}
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
	p := &pooling{metric: SuiteMetric(of.Name, policy), decides: of.Whole && policy.SuiteDecides}
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

// pair makes a pair of the suite; sides may be nil.
func (p *pooling) pair(b, a *Series) *Pair {
	pair, err := PairOf(p.metric, b, a)
	if err != nil {
		return nil
	}
	pair.Parts, pair.decides = p.parts, p.decides
	if pair.resolution > 0 { // a suite's readings are its scores'
		pair.resolution = 0
		if pair.Blocks == nil {
			pair.layout = newTwoSamples(p.metric, [2]Sample{pair.Before, pair.After}, 0)
		}
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
		step = math.Max(step, p.weights[i]*(part.resolution/part.unitAt()))
	}
	widen /= p.total
	_, pooled := pair.layout.(pooledLayout)
	if sizes := pair.layout.sizes(); step > 0 && !pooled && pair.Blocks == nil && min(sizes[0], sizes[1]) >= manySums {
		widen += stats.CoarseWidening(pair.Before.Values, pair.After.Values, step/p.total)
	}
	return widen
}

// maxLuckP is the p up to which runs are taken to share their luck. A false alarm
// costs some power; a missed effect makes noise look real.
const maxLuckP = 0.1

// sharedLuck tests whether the k-th runs of all scores rise and fall together,
// as where one pass runs the whole suite; 1 where that cannot be told.
func (p *pooling) sharedLuck(seed uint64) float64 {
	var sides [][][]float64
	for side := range 2 {
		var rows [][]float64
		for _, part := range p.parts {
			raw := part.sides()[side].Raw
			row := make([]float64, len(raw))
			for k, v := range raw {
				row[k] = part.Turned(part.working(v))
			}
			rows = append(rows, row)
		}
		sides = append(sides, rows)
	}
	return check.CommonEffect(sides, p.weights, 199, seed)
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

// spellKey is one session, or one spell within a block.
type spellKey struct{ block, session string }

func (a spellKey) compare(b spellKey) int {
	return cmp.Or(cmp.Compare(a.block, b.block), cmp.Compare(a.session, b.session))
}

// labelled reports whether every run of every part has a session label.
func (p *pooling) labelled() bool {
	for _, part := range p.parts {
		for _, side := range part.sides() {
			for x := range side.Spells() {
				if x.Label == "" && x.Block == "" {
					return false
				}
			}
		}
	}
	return true
}

// rows lists a side's values, turned and relative to the side before, by
// session or spell.
func (p *Pair) rows(side *Sample, inBlocks bool) map[spellKey]float64 {
	centre := p.centre()
	rows := map[spellKey]float64{}
	if inBlocks {
		for _, block := range p.Blocks {
			for _, k := range side.blocked[block] {
				s := side.sessions[k]
				rows[spellKey{block, s.Label}] = p.Turned(s.Value) - centre
			}
		}
		return rows
	}
	for s := range side.Spells() {
		rows[spellKey{s.Block, s.Label}] = p.Turned(s.Value) - centre
	}
	return rows
}

// byRows reduces each session or spell that holds every score to the weighted
// mean of its logarithms; the ordinary test and interval follow. It is nil where
// sessions lack scores; of blocks those that hold every score are used.
func (p *pooling) byRows(inBlocks bool) *Pair {
	var sides [2]*Series
	for side := range sides {
		sums, seen := map[spellKey]float64{}, map[spellKey]int{}
		for i, part := range p.parts {
			for k, v := range part.rows(part.sides()[side], inBlocks) {
				sums[k] += p.weights[i] * v
				seen[k]++
			}
		}
		out := p.series()
		for _, k := range slices.SortedFunc(maps.Keys(sums), spellKey.compare) {
			switch {
			case seen[k] == len(p.parts):
				out.Observations = append(out.Observations, Observation{Value: p.metric.InUnit(sums[k] / p.total), Block: k.block, Session: k.session})
			case !inBlocks:
				return nil
			}
		}
		if len(out.Observations) == 0 {
			return nil
		}
		sides[side] = out
	}
	pair := p.pair(sides[0], sides[1])
	if pair == nil || inBlocks && pair.Blocks == nil {
		return nil
	}
	return pair
}

func (p *pooling) series() *Series {
	return &Series{SeriesKey: SeriesKey{Benchmark: p.metric.Benchmark, Metric: p.metric.Metric}}
}

// byOrder makes the k-th run of all scores one value.
func (p *pooling) byOrder() *Pair {
	var sides [2]*Series
	for side := range sides {
		out := p.series()
		for k := range p.parts[0].sides()[side].Raw {
			sum := 0.0
			for i, part := range p.parts {
				sum += p.weights[i] * (part.Turned(part.working(part.sides()[side].Raw[k])) - part.centre())
			}
			out.Observations = append(out.Observations, Observation{Value: p.metric.InUnit(sum / p.total)})
		}
		sides[side] = out
	}
	return p.pair(sides[0], sides[1])
}

// jointly keeps sessions as rows of values, NaN where one lacks a score.
func (p *pooling) jointly(t Terms) *Pair {
	var sides [2]stats.Joint
	for side := range sides {
		rows := map[spellKey][]float64{}
		for column, part := range p.parts {
			centre := part.centre()
			for x := range part.sides()[side].Spells() {
				k := spellKey{x.Block, x.Label}
				if rows[k] == nil {
					rows[k] = slices.Repeat([]float64{math.NaN()}, len(p.parts))
				}
				rows[k][column] = part.Turned(x.Value) - centre
			}
		}
		for _, k := range slices.SortedFunc(maps.Keys(rows), spellKey.compare) {
			sides[side] = append(sides[side], rows[k])
		}
	}
	l := jointSessions{sides[0], sides[1], p.weights, t.Resamples}
	return p.relative(l, l.shift(), len(sides[0]), len(sides[1]))
}

// byScore keeps the scores apart.
func (p *pooling) byScore(t Terms) *Pair {
	l := pooledScores{resamples: t.Resamples}
	for i, part := range p.parts {
		turned := func(x []float64) []float64 { return floats.ScaleTo(make([]float64, len(x)), part.Turned(1), x) }
		component := func(before, after []float64) stats.Component {
			return stats.Component{Before: turned(before), After: turned(after), Weight: p.weights[i]}
		}
		sides := part.layout.(twoSamples)
		l.components = append(l.components, component(sides.before, sides.after))
		l.spread = append(l.spread, component(sides.spread[0], sides.spread[1]))
	}
	return p.relative(l, l.shift(), 0, 0)
}

// relative makes a pair where no values per session exist: as if before were its
// own measure. What is after follows from the change.
func (p *pooling) relative(l layout, shift float64, sessionsBefore, sessionsAfter int) *Pair {
	pair := &Pair{Metric: p.metric, Parts: p.parts, decides: p.decides, layout: l}
	for i, side := range pair.sides() {
		for _, part := range p.parts {
			side.Runs += part.sides()[i].Runs
		}
		at := p.metric.InUnit([2]float64{0, shift}[i])
		side.Median, side.Mean, side.Min, side.Max = at, at, at, at
		side.Sessions = [2]int{sessionsBefore, sessionsAfter}[i]
	}
	return pair
}
