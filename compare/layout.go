package compare

import (
	"math"
	"slices"
	"sort"

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
	// the metric's unit; coarse says that they are coarse for their spread.
	rounding(p *Pair) (widening float64, coarse bool)
	// changes calls add for the differences of which the estimate is the middle;
	// thinned says that there are too many to take them all.
	changes(add func(before, after []float64)) (thinned bool)
	// pilot is what plans rest on.
	pilot(e estimate) plan.Pilot
}

// estimate is what measuring a layout gives: after minus before, as compared.
type estimate struct {
	test        string
	statistic   float64
	p, pUsed    float64
	method      string  // "exact", "normal" or "drawn"
	superiority float64 // share of comparisons in which after is larger
	shift       float64
	interval    [2]float64
	hasInterval bool
	from        string // how the interval was made
}

// The tests, as results name them.
const (
	TestMannWhitney       = "mann-whitney"
	TestSignedRank        = "signed-rank"
	TestVanElteren        = "van-elteren"
	TestPooledPermutation = "pooled permutation"
	TestJointPermutation  = "joint permutation"
)

func exactOrNormal(exact bool) string {
	if exact {
		return "exact"
	}
	return "normal"
}

// sideBySide sets two sides against each other: blocks that hold both sides where
// they can settle at least as much as what is not in blocks, else sessions or
// runs. The two are never mixed. samplesOf reduces both sides to the runs that
// keep accepts.
func sideBySide(m Metric, samplesOf func(keep func(Observation) bool) ([2]Sample, error)) (*Pair, error) {
	sides, err := samplesOf(func(Observation) bool { return true })
	if err != nil {
		return nil, err
	}
	unblocked := func(sides [2]Sample, excluded *Exclusion) *Pair {
		step := resolutionOf(m, sides)
		return &Pair{Metric: m, Before: sides[0], After: sides[1], Excluded: excluded, resolution: step, layout: newTwoSamples(m, sides, step)}
	}
	var blocks []string
	for label := range sides[0].blocked {
		if len(sides[1].blocked[label]) > 0 {
			blocks = append(blocks, label)
		}
	}
	if len(blocks) == 0 {
		return unblocked(sides, nil), nil
	}
	sort.Strings(blocks)
	all := sides[0].Runs + sides[1].Runs
	l := newBlocks(m, sides, blocks)
	loose, err := samplesOf(func(o Observation) bool { return o.Block == "" })
	if err != nil {
		return nil, err
	}
	if n := loose[0].Runs + loose[1].Runs; n > 0 && stats.SmallestP(len(loose[0].Values), len(loose[1].Values)) < l.minP() {
		return unblocked(loose, &Exclusion{InBlocks: true, Runs: all - n, Of: all}), nil
	}
	in := map[string]bool{}
	for _, label := range blocks {
		in[label] = true
	}
	if sides, err = samplesOf(func(o Observation) bool { return in[o.Block] }); err != nil {
		return nil, err
	}
	var excluded *Exclusion
	if n := all - sides[0].Runs - sides[1].Runs; n > 0 {
		excluded = &Exclusion{Runs: n, Of: all}
	}
	return &Pair{Metric: m, Before: sides[0], After: sides[1], Blocks: blocks, Excluded: excluded, resolution: resolutionOf(m, sides),
		layout: l}, nil
}

// Exclusion says how many runs were not used because blocked and unblocked runs
// are never mixed: those in blocks, or those outside complete blocks.
type Exclusion struct {
	InBlocks bool
	Runs, Of int
}

// newBlocks takes complete blocks as strata where every block has several spells
// on both sides, else as one difference a block.
func newBlocks(m Metric, sides [2]Sample, blocks []string) layout {
	several := true
	var strata []stats.Stratum
	var differences []float64
	for _, label := range blocks {
		b, a := spellValues(sides[0].blocked[label]), spellValues(sides[1].blocked[label])
		several = several && len(b) > 1 && len(a) > 1
		strata = append(strata, stats.Stratum{Before: b, After: a})
		size := 1.0 // of a logarithm
		if m.Scale != Ratio {
			size = stats.MaxAbs(b, a)
		}
		differences = append(differences, stats.RoundDecimal(m.middle(a)-m.middle(b), size))
	}
	if several {
		return spelledBlocks{strata}
	}
	return blockDifferences{differences}
}

func spellValues(spells []Spell) []float64 {
	v := make([]float64, len(spells))
	for i, s := range spells {
		v[i] = s.Value
	}
	sort.Float64s(v)
	return v
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

// newTwoSamples takes the step of readings in steps, 0 for fine ones.
func newTwoSamples(m Metric, sides [2]Sample, resolution float64) twoSamples {
	l := twoSamples{before: sides[0].Values, after: sides[1].Values, unit: ByRun}
	if sides[0].Sessions > 0 || sides[1].Sessions > 0 {
		l.unit = BySession
	}
	l.spread = [2][]float64{l.before, l.after}
	constant := func(x []float64) bool { return x[0] == x[len(x)-1] }
	if resolution == 0 || constant(l.before) || constant(l.after) {
		return l // a constant side says nothing of where in its step it lies
	}
	at := func(v float64) float64 {
		if m.Scale == Ratio {
			return resolution / math.Exp(v)
		}
		return resolution
	}
	l.spread, l.spreadTies = [2][]float64{stats.SpreadTies(l.before, at), stats.SpreadTies(l.after, at)}, true
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

func (l twoSamples) rounding(p *Pair) (float64, bool) {
	return roundingOf(p.Before.InUnit(p.Metric), p.After.InUnit(p.Metric), p.resolution, stats.RoundingAllowance)
}

// roundingOf applies a rule for coarse readings. A single value shows no spread.
func roundingOf(b, a []float64, resolution float64, allowance func(b, a []float64, tick float64) float64) (widening float64, coarse bool) {
	widening = allowance(b, a, resolution)
	return widening, min(len(b), len(a)) > 1 && (widening > 0 || stats.Coarse(b, a, resolution))
}

// roundingInBlocks is that of differences within blocks: what varies from block to
// block is no spread.
func roundingInBlocks(l layout, p *Pair) (float64, bool) {
	at := p.unitAt()
	var within []float64
	l.changes(func(before, after []float64) {
		for _, x := range before {
			for _, y := range after {
				within = append(within, (y-x)*at)
			}
		}
	})
	return roundingOf(within, within, p.resolution, stats.CoarseWidening)
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

// blockDifferences are blocks with one difference each.
type blockDifferences struct{ differences []float64 }

func (l blockDifferences) replication() Replication { return ByBlock }

func (l blockDifferences) sizes() [2]int { return [2]int{len(l.differences), len(l.differences)} }

func (l blockDifferences) minP() float64 { return stats.SmallestSignedRankP(len(l.differences)) }

func (l blockDifferences) measure(t Terms) estimate {
	test := stats.SignedRank(l.differences)
	e := estimate{test: TestSignedRank, statistic: test.W, p: test.P, pUsed: test.PUsed, method: exactOrNormal(test.Exact),
		shift: stats.WalshMedian(l.differences)}
	for _, d := range l.differences {
		if d > 0 {
			e.superiority++
		} else if d == 0 {
			e.superiority += 0.5
		}
	}
	e.superiority /= float64(len(l.differences))
	lo, hi, ok := stats.SignedRankInterval(l.differences, t.Confidence)
	e.from = IntervalSignedRank
	if !ok && len(l.differences) >= 3 {
		lo, hi, ok = stats.StudentInterval(l.differences, t.Confidence)
		e.from = IntervalStudent
	}
	e.interval, e.hasInterval = [2]float64{lo, hi}, ok
	return e
}

func (l blockDifferences) extent() (lo, hi float64, ok bool) { return 0, 0, false }

func (l blockDifferences) rounding(p *Pair) (float64, bool) { return roundingInBlocks(l, p) }

func (l blockDifferences) changes(add func(before, after []float64)) bool {
	add([]float64{0}, l.differences)
	return false
}

func (l blockDifferences) pilot(estimate) plan.Pilot { return plan.Blocks(l.differences) }

// spelledBlocks are blocks with several spells on each side.
type spelledBlocks struct{ strata []stats.Stratum }

func (l spelledBlocks) replication() Replication { return ByBlock }

func (l spelledBlocks) sizes() [2]int { return [2]int{len(l.strata), len(l.strata)} }

func (l spelledBlocks) minP() float64 { return stats.SmallestStratifiedP(l.strata) }

func (l spelledBlocks) measure(t Terms) estimate {
	test := stats.VanElteren(l.strata)
	e := estimate{test: TestVanElteren, statistic: test.T, p: test.P, pUsed: test.PUsed, method: exactOrNormal(test.Exact),
		superiority: test.T / float64(len(l.strata)), shift: stats.StratifiedMedian(l.strata), from: IntervalStratified}
	e.interval[0], e.interval[1], e.hasInterval = stats.StratifiedInterval(l.strata, t.Confidence)
	return e
}

func (l spelledBlocks) extent() (lo, hi float64, ok bool) { return 0, 0, false }

func (l spelledBlocks) rounding(p *Pair) (float64, bool) { return roundingInBlocks(l, p) }

func (l spelledBlocks) changes(add func(before, after []float64)) bool {
	for _, s := range l.strata {
		add(s.Before, s.After)
	}
	return false
}

func (l spelledBlocks) pilot(estimate) plan.Pilot {
	var d []float64
	for _, s := range l.strata {
		d = append(d, stats.HodgesLehmann(s.Before, s.After))
	}
	return plan.Blocks(d)
}

// resolutionOf is the step of readings in steps, in the metric's unit; 0 where
// they are fine, or where there are too few to show one.
func resolutionOf(m Metric, sides [2]Sample) float64 {
	if sides[0].Runs < 2 || sides[1].Runs < 2 {
		return 0
	}
	all := slices.Concat(sides[0].Raw, sides[1].Raw)
	stats.Sort(all)
	tick := stats.Resolution(all)
	if m.Unit == ShareOfTime {
		// Worked out from all readings of a run, not read off in steps: where
		// it is 0 before and 100 after, 100 is no step. The last digit of a
		// whole percentage is taken for one.
		tick = math.Min(tick, 1)
	}
	if !stats.OnGrid(tick, all) {
		return 0
	}
	if m.Scale == Ratio { // steps are counted from zero, so none is larger than a reading
		tick = math.Min(tick, all[0])
	}
	return tick
}
