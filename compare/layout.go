package compare

import (
	"maps"
	"math"
	"slices"
	"sort"
	"strings"

	"gonum.org/v1/gonum/floats"

	"tunegate/stats"
	"tunegate/stats/plan"
)

// layout is how the values of a metric's two sides are set against each other.
// All values are as compared: logarithms on a ratio scale, ascending.
type layout interface {
	// replication is what counts once, and sizes how many of it there are on each
	// side; blocks count on both.
	replication() Replication
	sizes() [2]int
	// minP is the smallest p that so many untied values can reach.
	minP() float64
	// measure gives estimate, test and interval.
	measure(t Terms) estimate
	// extent is from the smallest to the largest difference; ok is false where a
	// range says nothing.
	extent() (lo, hi float64, ok bool)
	// rounding is by how much readings in steps move the ends of the interval, in
	// the metric's unit; coarse is the step where they are coarse for their spread,
	// else 0.
	rounding(p *Pair) (widening, coarse float64)
	// changes calls add for the differences of which the estimate is the middle;
	// thinned says that there are too many to take them all.
	changes(add func(before, after []float64)) (thinned bool)
	// exchangeable lists what may change sides under the null hypothesis: the values
	// of both sides by session, or one difference a block. Measurements of one pair
	// of sides with the same sessions are exchanged together.
	exchangeable(p *Pair) (sessions string, values [][]float64)
	// pilot is what plans rest on.
	pilot(e estimate) plan.Pilot
}

// estimate is what measuring a layout gives: after minus before, as compared.
type estimate struct {
	test        string
	statistic   float64
	p, pUsed    float64
	method      string  // "exact", "normal" or "none"
	superiority float64 // share of comparisons in which after is larger
	shift       float64
	interval    [2]float64
	hasInterval bool
	from        string // how the interval was made
}

// The tests, as results name them.
const (
	TestMannWhitney = "mann-whitney"
	TestSignedRank  = "signed-rank"
	TestStudent     = "student"
	TestNone        = "none" // of a suite of few passes
)

func exactOrNormal(exact bool) string {
	if exact {
		return "exact"
	}
	return "normal"
}

// sideBySide sets two sides against each other: blocks that hold both sides where
// they can settle at least as much by ranks as what is not in blocks, or where that
// is too little for a verdict; else sessions or runs. The two are never mixed. Where
// machines count once each is a block.
// samplesOf reduces both sides to the runs that keep accepts.
func sideBySide(m Metric, samplesOf func(keep func(block string) bool) ([2]Sample, error)) (*Pair, error) {
	sides, err := samplesOf(nil)
	if err != nil {
		return nil, err
	}
	pairOf := func(sides [2]Sample, blocks []string, excluded *Exclusion) *Pair {
		p := &Pair{Metric: m, Blocks: blocks, Excluded: excluded, resolution: resolutionOf(m, sides)}
		sides, p.RunsMatched = matchRuns(m, sides, blocks)
		p.Before, p.After = sides[0], sides[1]
		if blocks != nil {
			p.layout = newBlocks(p)
		} else {
			p.layout = newTwoSamples(m, sides, p.resolution)
		}
		return p
	}
	b, a := sides[0], sides[1]
	both := func(block string) bool { return len(b.blocked[block]) > 0 && len(a.blocked[block]) > 0 }
	outside := func(x Spell) bool { return !both(x.Block) }
	blocks := slices.DeleteFunc(slices.Collect(maps.Keys(b.blocked)), func(block string) bool { return !both(block) })
	if len(blocks) == 0 {
		return pairOf(sides, nil, nil), nil
	}
	sort.Strings(blocks)
	if !slices.ContainsFunc(b.sessions, outside) && !slices.ContainsFunc(a.sessions, outside) {
		return pairOf(sides, blocks, nil), nil
	}
	all := b.Runs + a.Runs
	loose, err := samplesOf(func(block string) bool { return block == "" || b.machines != nil && !both(block) })
	if err != nil {
		return nil, err
	}
	floor := stats.SmallestP(len(loose[0].Values), len(loose[1].Values))
	if n := loose[0].Runs + loose[1].Runs; n > 0 && floor < stats.SmallestSignedRankP(len(blocks)) && (floor <= 0.05 || len(blocks) < 2) {
		return pairOf(loose, nil, &Exclusion{InBlocks: true, Runs: all - n, Of: all}), nil
	}
	if sides, err = samplesOf(both); err != nil {
		return nil, err
	}
	var excluded *Exclusion
	if n := all - sides[0].Runs - sides[1].Runs; n > 0 {
		excluded = &Exclusion{Runs: n, Of: all}
	}
	return pairOf(sides, blocks, excluded), nil
}

// Exclusion says how many runs were not used because blocked and unblocked runs
// are never mixed: those in blocks, or those outside complete blocks.
type Exclusion struct {
	InBlocks bool
	Runs, Of int
}

// matchRuns lets sessions count by their first runs, so that those of both sides, or
// of both sides in each block, count by equal numbers (stats.MatchSizes). matched is
// false where they do anyway, or nearly, and every session counts by all its runs.
func matchRuns(m Metric, sides [2]Sample, blocks []string) (out [2]Sample, matched bool) {
	if len(sides[0].sessions)+len(sides[1].sessions) == 0 {
		return sides, false
	}
	group := map[string]int{} // of a block; without blocks all are of the first
	for g, b := range blocks {
		group[b] = g
	}
	var sizes [2][][]int
	for side, s := range sides {
		sizes[side] = make([][]int, max(1, len(blocks)))
		sizes[side][0] = slices.Repeat([]int{1}, len(s.alone))
		for _, x := range s.sessions {
			g := group[x.Block]
			sizes[side][g] = append(sizes[side][g], x.sizes()...)
		}
	}
	keep, matched := stats.MatchSizes(sizes[0], sizes[1])
	if sides[0].Reduced || sides[1].Reduced { // whose first runs are not known, see PairOf
		return sides, matched
	}
	for side := range sides {
		s := &sides[side]
		for k := range s.sessions {
			x := &s.sessions[k]
			left := &keep[side][group[x.Block]]
			x.Value, *left = m.middle(x.Runs[:(*left)[0]]), (*left)[1:]
		}
		if matched {
			if s.machines != nil {
				s.countMachines(m)
			}
			s.takeValues()
			s.describe(m)
		}
	}
	return sides, matched
}

// newBlocks makes one difference a block, between the means of its spells.
func newBlocks(p *Pair) blockDifferences {
	m, n := float64(len(p.Before.Values)), float64(len(p.After.Values))
	l := blockDifferences{minError: p.stepCompared() * math.Sqrt((1/m+1/n)/12), unit: ByBlock}
	if p.Before.machines != nil {
		l.unit = ByMachine
	}
	for _, label := range p.Blocks {
		var means, sizes [2]float64
		for i, side := range p.sides() {
			var values []float64
			for _, k := range side.blocked[label] {
				values = append(values, side.Counted()[k].Value)
			}
			sort.Float64s(values)
			means[i], sizes[i] = floats.Sum(values)/float64(len(values)), stats.MaxAbs(values)
			if p.Scale == Ratio {
				sizes[i] = 1 // of a logarithm
			}
		}
		l.differences = append(l.differences, stats.RoundDecimal(means[1]-means[0], stats.MaxAbs(sizes[:])))
	}
	return l
}

// twoSamples are two independent sides: sessions, or runs.
type twoSamples struct {
	before, after []float64
	// spread are the same sides with ties of readings in steps spread over the
	// steps, for the interval.
	spread     [2][]float64
	spreadTies bool
	unit       Replication
}

// newTwoSamples takes the steps of both sides' readings, 0 for none.
func newTwoSamples(m Metric, sides [2]Sample, resolution [2]float64) twoSamples {
	l := twoSamples{before: sides[0].Values, after: sides[1].Values, unit: ByRun}
	switch {
	case sides[0].machines != nil:
		l.unit = ByMachine
	case sides[0].Sessions > 0 || sides[1].Sessions > 0:
		l.unit = BySession
	}
	l.spread = [2][]float64{l.before, l.after}
	constant := func(x []float64) bool { return x[0] == x[len(x)-1] }
	if resolution[0] == 0 || constant(l.before) || constant(l.after) {
		return l // a constant side says nothing of where in its step it lies
	}
	l.spreadTies = true
	for i := range l.spread {
		l.spread[i] = stats.SpreadTies(l.spread[i], func(v float64) float64 { return m.asCompared(resolution[i], v) })
	}
	return l
}

func (l twoSamples) replication() Replication { return l.unit }

func (l twoSamples) sizes() [2]int { return [2]int{len(l.before), len(l.after)} }

func (l twoSamples) minP() float64 { return stats.SmallestP(len(l.before), len(l.after)) }

func (l twoSamples) measure(t Terms) estimate {
	test := stats.MannWhitney(l.before, l.after)
	e := estimate{test: TestMannWhitney, statistic: test.U, p: test.P, pUsed: test.PUsed, method: exactOrNormal(test.Exact),
		superiority: test.U / float64(len(l.before)) / float64(len(l.after)), shift: stats.HodgesLehmann(l.before, l.after)}
	in, ok := stats.ChangeInterval(l.spread[0], l.spread[1], t.Confidence, t.Resamples, t.Seed)
	if l.spreadTies && ok { // it still holds the estimate, and 0 where the test of the readings does
		if in = in.Including(e.shift); e.pUsed > 1-t.Confidence+slack {
			in = in.Including(0)
		}
	}
	e.interval, e.hasInterval, e.from = [2]float64{in.Lo, in.Hi}, ok, IntervalBootstrap
	if in.Placements {
		e.from = IntervalPlacements
	}
	return e
}

func (l twoSamples) extent() (lo, hi float64, ok bool) {
	b, a := l.spread[0], l.spread[1]
	return a[0] - b[len(b)-1], a[len(a)-1] - b[0], true
}

func (l twoSamples) rounding(p *Pair) (widening, coarse float64) {
	b, a := p.Before.InUnit(p.Metric), p.After.InUnit(p.Metric)
	if widening = stats.RoundingAllowance(b, a, p.resolution); min(len(b), len(a)) < 2 { // a single value shows no spread
		return widening, 0
	}
	for i, side := range [2][]float64{b, a} {
		if widening > 0 && p.resolution[i] >= widening || stats.Coarse(side, p.resolution[i]) {
			coarse = math.Max(coarse, p.resolution[i])
		}
	}
	return widening, coarse
}

func (l twoSamples) exchangeable(p *Pair) (string, [][]float64) {
	b, before := p.Before.bySession()
	a, after := p.After.bySession()
	return b + "\x01" + a, [][]float64{before, after}
}

func (l twoSamples) pilot(estimate) plan.Pilot { return plan.Samples(l.before, l.after) }

// maxPairs is the largest number of pairs that are listed one by one.
const maxPairs = 250_000

func (l twoSamples) changes(add func(before, after []float64)) (thinned bool) {
	b, a := l.before, l.after
	if thinned = len(b)*len(a) > maxPairs; thinned {
		b, a = stats.Evenly(b, 500), stats.Evenly(a, 500)
	}
	add(b, a)
	return thinned
}

// blockDifferences are blocks, or machines, with one difference each.
type blockDifferences struct {
	differences []float64
	minError    float64 // the smallest standard error of their mean, from readings in steps; 0 for fine ones
	unit        Replication
}

func (l blockDifferences) replication() Replication { return l.unit }

func (l blockDifferences) sizes() [2]int { return [2]int{len(l.differences), len(l.differences)} }

func (l blockDifferences) minP() float64 { return stats.SmallestSignedRankP(len(l.differences)) }

// measure takes the signed-rank test where it can reach 1 - confidence (from 6
// blocks on at 95 %), and Student's below. Where nothing says how far the
// differences may be off there is no interval: none has width 0.
func (l blockDifferences) measure(t Terms) estimate {
	e := estimate{superiority: stats.ShareAbove(l.differences)}
	student := stats.Student(l.differences, l.minError)
	lo, hi, ok := stats.SignedRankInterval(l.differences, t.Confidence)
	if ok {
		test := stats.SignedRank(l.differences)
		e.test, e.statistic, e.p, e.pUsed, e.method = TestSignedRank, test.W, test.P, test.PUsed, exactOrNormal(test.Exact)
		e.shift, e.from = stats.WalshMedian(l.differences), IntervalSignedRank
		if lo == hi {
			lo, hi, ok = lo-l.minError, hi+l.minError, l.minError > 0
		}
	} else {
		e.test, e.statistic, e.p, e.pUsed, e.method = TestStudent, student.T, student.P, student.P, "exact"
		e.shift, e.from = student.Mean, IntervalStudent
		lo, hi, ok = student.Interval(t.Confidence)
	}
	e.interval, e.hasInterval = [2]float64{lo, hi}, ok
	return e
}

func (l blockDifferences) extent() (lo, hi float64, ok bool) { return 0, 0, false }

// rounding is that of differences within blocks: what varies from block to block is
// no spread.
func (l blockDifferences) rounding(p *Pair) (widening, coarse float64) {
	within, step := floats.ScaleTo(make([]float64, len(l.differences)), p.unitAt(), l.differences), p.step()
	if widening = stats.CoarseWidening(within, step); len(within) > 1 && (widening > 0 || stats.Coarse(within, step)) {
		coarse = step
	}
	return widening, coarse
}

func (l blockDifferences) changes(add func(before, after []float64)) bool {
	add([]float64{0}, l.differences)
	return false
}

func (l blockDifferences) exchangeable(p *Pair) (string, [][]float64) {
	return "blocks\x01" + strings.Join(p.Blocks, "\x00"), [][]float64{l.differences}
}

func (l blockDifferences) pilot(estimate) plan.Pilot { return plan.Blocks(l.differences) }

// resolutionOf are the steps of both sides' readings, in the metric's unit; 0 where
// there are too few to show one.
func resolutionOf(m Metric, sides [2]Sample) (steps [2]float64) {
	if sides[0].Runs < 2 || sides[1].Runs < 2 {
		return steps
	}
	steps = stats.Resolutions(sides[0].Raw, sides[1].Raw)
	for i := range steps {
		if m.Unit == ShareOfTime {
			// Worked out from all readings of a run, not read off in steps: where
			// it is 0 before and 100 after, 100 is no step. The last digit of a
			// whole percentage is taken for one.
			steps[i] = math.Min(steps[i], 1)
		}
		if m.Scale == Ratio { // steps are counted from zero, so none is larger than a reading
			steps[i] = math.Min(steps[i], math.Min(sides[0].Min, sides[1].Min))
		}
	}
	return steps
}

// asCompared is the size of a small difference in the metric's unit at a compared
// value, as it is compared.
func (m Metric) asCompared(step, at float64) float64 {
	if m.Scale == Ratio {
		return step / math.Exp(at)
	}
	return step
}

// step is the larger step of both sides.
func (p *Pair) step() float64 { return math.Max(p.resolution[0], p.resolution[1]) }
