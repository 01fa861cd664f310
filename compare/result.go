package compare

import (
	"fmt"
	"math"
	"slices"
	"sort"

	"tunegate/stats"
)

// power is the chance with which advice and blind spots are stated.
const power = 0.8

// reduce takes the sides' runs in and decides what is compared: blocks that
// hold both sides where they can settle at least as much as what is not in
// blocks, else sessions or runs. The two are never mixed.
func (r *Result) reduce(b, a *Series) error {
	sides := func(keep func(Observation) bool) (err error) {
		if r.before, err = sampleOf(r.Metric, b, keep); err != nil {
			return err
		}
		r.after, err = sampleOf(r.Metric, a, keep)
		return err
	}
	if err := sides(func(Observation) bool { return true }); err != nil {
		return err
	}
	defer func() { r.Before, r.After = r.before.Side, r.after.Side }()
	for label := range r.before.blocked {
		if len(r.after.blocked[label]) > 0 {
			r.blocks = append(r.blocks, label)
		}
	}
	if len(r.blocks) == 0 {
		return nil
	}
	sort.Strings(r.blocks)
	r.fillBlocks()
	all := r.before.Runs + r.after.Runs
	blocked, before, after := r.blockFloor(), r.before, r.after
	if err := sides(func(o Observation) bool { return o.Block == "" }); err != nil {
		return err
	}
	if loose := r.before.Runs + r.after.Runs; loose > 0 && stats.SmallestP(len(r.before.values), len(r.after.values)) < blocked {
		r.leftOut = fmt.Sprintf("left out: %d of %d runs, those in blocks, because the runs outside blocks can settle more; the two are never mixed", all-loose, all)
		r.blocks, r.differences, r.strata = nil, nil, nil
		return nil
	}
	r.before, r.after = before, after
	in := map[string]bool{}
	for _, label := range r.blocks {
		in[label] = true
	}
	if err := sides(func(o Observation) bool { return in[o.Block] }); err != nil {
		return err
	}
	if out := all - r.before.Runs - r.after.Runs; out > 0 {
		r.leftOut = fmt.Sprintf("left out: %d of %d runs, those outside complete blocks; blocked and unblocked runs are never mixed", out, all)
	}
	return nil
}

// fillBlocks turns complete blocks into strata where every block has several
// spells on both sides, else into one difference a block.
func (r *Result) fillBlocks() {
	several := true
	for _, label := range r.blocks {
		b, a := spellValues(r.before.blocked[label]), spellValues(r.after.blocked[label])
		several = several && len(b) > 1 && len(a) > 1
		r.strata = append(r.strata, stats.Stratum{Before: b, After: a})
		size := 1.0 // of a logarithm
		if r.Scale != Ratio {
			size = magnitude(b, a)
		}
		r.differences = append(r.differences, tidied(r.middle(a)-r.middle(b), size))
	}
	if several {
		r.differences = nil
	} else {
		r.strata = nil
	}
}

func spellValues(spells []spell) []float64 {
	v := make([]float64, len(spells))
	for i, s := range spells {
		v[i] = s.value
	}
	sort.Float64s(v)
	return v
}

func (r *Result) blockFloor() float64 {
	if r.strata != nil {
		return stats.SmallestStratifiedP(r.strata)
	}
	return stats.SmallestSignedRankP(len(r.differences))
}

// measure fills in estimate, test, interval and what follows from them.
func (r *Result) measure(c *Comparison) {
	if r.pooled != nil {
		r.measurePooled(c)
		return
	}
	var exact bool
	var lo, hi float64
	var ok bool
	switch {
	case r.strata != nil:
		t := stats.VanElteren(r.strata)
		r.Test, r.T, exact, r.P, r.PVerdict = "van-elteren", &t.T, t.Exact, t.P, t.PVerdict
		r.Superiority = t.T / float64(len(r.strata))
		r.shift = stats.StratifiedMedian(r.strata)
		lo, hi, ok = stats.StratifiedInterval(r.strata, c.Confidence)
		r.IntervalMethod = "stratified inversion"
		r.Replication, r.Replicates = ByBlock, [2]int{len(r.strata), len(r.strata)}
	case r.differences != nil:
		t := stats.SignedRank(r.differences)
		r.Test, r.W, exact, r.P, r.PVerdict = "signed-rank", &t.W, t.Exact, t.P, t.PVerdict
		for _, d := range r.differences {
			if d > 0 {
				r.Superiority++
			} else if d == 0 {
				r.Superiority += 0.5
			}
		}
		r.Superiority /= float64(len(r.differences))
		r.shift = stats.WalshMedian(r.differences)
		lo, hi, ok = stats.SignedRankInterval(r.differences, c.Confidence)
		r.IntervalMethod = "signed-rank inversion"
		if !ok && len(r.differences) >= 3 {
			lo, hi, ok = stats.StudentInterval(r.differences, c.Confidence)
			r.IntervalMethod = "Student, assumes normal differences"
		}
		r.Replication, r.Replicates = ByBlock, [2]int{len(r.differences), len(r.differences)}
	default:
		t := stats.MannWhitney(r.before.values, r.after.values)
		r.Test, r.U, exact, r.P, r.PVerdict = "mann-whitney", &t.U, t.Exact, t.P, t.PVerdict
		m, n := len(r.before.values), len(r.after.values)
		r.Superiority = t.U / float64(m) / float64(n)
		r.shift = stats.HodgesLehmann(r.before.values, r.after.values)
		b, a, ungrouped := r.ungrouped()
		in, found := stats.ChangeInterval(b, a, c.Confidence, c.Resamples, c.Seed)
		if ungrouped && found { // it still holds the estimate, and 0 where the test of the readings does
			if in = in.Including(r.shift); r.PVerdict > 1-c.Confidence+slack {
				in = in.Including(0)
			}
		}
		lo, hi, ok = in.Lo, in.Hi, found
		r.IntervalMethod = "bootstrap and rank inversion"
		if in.Placements {
			r.IntervalMethod = "placements and rank inversion"
		}
		r.Replication, r.Replicates = ByRun, [2]int{m, n}
		if r.before.Sessions > 0 || r.after.Sessions > 0 {
			r.Replication = BySession
		}
	}
	r.Method = "normal"
	if exact {
		r.Method = "exact"
	}
	if r.Better == Lower {
		r.Superiority = 1 - r.Superiority
	}
	r.PFloor = r.floorP()
	if r.Scale != Ratio {
		r.shift = tidied(r.shift, magnitude(r.before.raw, r.after.raw))
	}
	r.Change = r.display(r.shift)
	r.widened = r.coarse()
	if ok {
		r.Interval = r.displayed(lo-r.widened, hi+r.widened)
	} else {
		r.IntervalMethod = ""
		if r.PFloor < 1 && r.blocks == nil {
			b, a, _ := r.ungrouped()
			r.Range = r.displayed(a[0]-b[len(b)-1]-r.widened, a[len(a)-1]-b[0]+r.widened)
			r.RangeLevel = 1 - r.PFloor
		}
	}
	if r.Role == Score && r.Better == Lower && IsTime(r.Unit) {
		saved := 1 - math.Exp(r.shift)
		r.TimeSaved = &saved
	}
}

// floorP is the smallest p that so many untied values can reach.
func (r *Result) floorP() float64 {
	if r.blocks != nil {
		return r.blockFloor()
	}
	return stats.SmallestP(len(r.before.values), len(r.after.values))
}

// step is that of readings in steps, in the metric's unit; 0 where they are
// fine, or where there are too few to show one.
func (r *Result) step() float64 {
	if r.Parts != nil || r.Before.Runs < 2 || r.After.Runs < 2 {
		return 0 // a suite's readings are its scores'
	}
	all := slices.Concat(r.before.raw, r.after.raw)
	stats.Sort(all)
	tick := stats.Tick(all)
	if r.Unit == ShareOfTime {
		// Worked out from all readings of a run, not read off in steps: where
		// it is 0 before and 100 after, 100 is no step. The last digit of a
		// whole percentage is taken for one.
		tick = math.Min(tick, 1)
	}
	if !onGrid(tick, all) {
		return 0
	}
	if r.Scale == Ratio { // steps are counted from zero, so none is larger than a reading
		tick = math.Min(tick, all[0])
	}
	return tick
}

// ungrouped returns both sides as compared, with readings in steps spread over
// them; a constant side says nothing of where in its step it lies. ok reports
// whether they are.
func (r *Result) ungrouped() (before, after []float64, ok bool) {
	b, a := r.before.values, r.after.values
	step := r.step()
	if step == 0 || b[0] == b[len(b)-1] || a[0] == a[len(a)-1] {
		return b, a, false
	}
	at := func(v float64) float64 {
		if r.Scale == Ratio {
			return step / math.Exp(v)
		}
		return step
	}
	return stats.Ungrouped(b, at), stats.Ungrouped(a, at), true
}

// coarse returns by how much rounded readings move the ends, as compared.
func (r *Result) coarse() float64 {
	tick := r.step()
	if tick == 0 {
		return 0
	}
	b, a, allowance := r.before.reduced(r.Metric), r.after.reduced(r.Metric), stats.RoundingAllowance
	if r.blocks != nil { // what varies from block to block is no spread
		b, a, allowance = r.withinBlocks(), r.withinBlocks(), stats.CoarseWidening
	}
	widen := allowance(b, a, tick)
	if min(len(b), len(a)) > 1 && (widen > 0 || stats.Coarse(b, a, tick)) { // a lone value shows no spread
		r.Tick = tick
	}
	return r.compared(widen)
}

// compared turns a part of a step into a difference as compared: on logarithms
// that at the smaller side.
func (r *Result) compared(step float64) float64 {
	if r.Scale == Ratio {
		return step / math.Min(r.before.Median, r.after.Median)
	}
	return step
}

// onGrid reports whether ascending readings show that tick is a step of theirs:
// all gaps are whole steps, and one of them repeats, or the smallest gap does.
// Fine readings do neither, though two of them on a side, or differences within
// blocks, may well lie closer together than any two readings.
func onGrid(tick float64, all []float64) bool {
	steps, repeats := 0, false
	for i := 1; i < len(all); i++ {
		switch gap := all[i] - all[i-1]; {
		case gap <= 1e-9*math.Abs(all[i]):
			repeats = true
		case math.Abs(gap/tick-math.Round(gap/tick)) > 0.01:
			return false
		case gap <= tick*(1+1e-6):
			steps++
		}
	}
	return repeats || steps > 1
}

// withinBlocks lists the differences of all blocks in the metric's unit.
func (r *Result) withinBlocks() []float64 {
	at := 1.0
	if r.Scale == Ratio {
		at = math.Min(r.before.Median, r.after.Median)
	}
	var out []float64
	for _, d := range r.differences {
		out = append(out, d*at)
	}
	for _, s := range r.strata {
		for _, x := range s.Before {
			for _, y := range s.After {
				out = append(out, (y-x)*at)
			}
		}
	}
	return out
}

// display turns a shift as compared into the change that is shown: a fraction
// on a ratio scale; plus is better for a score, more for everything else.
func (r *Result) display(shift float64) float64 {
	if r.Role == Score && r.Better == Lower {
		shift = -shift
	}
	if r.Scale == Ratio {
		return math.Expm1(shift)
	}
	return shift
}

func (r *Result) displayed(lo, hi float64) *[2]float64 {
	if r.Scale != Ratio {
		size := magnitude(r.before.raw, r.after.raw)
		lo, hi = tidied(lo, size), tidied(hi, size)
	}
	if r.Unit == ShareOfTime { // no share changes by more than all of it
		lo, hi = math.Max(lo, -100), math.Min(hi, 100)
	}
	a, b := r.display(lo), r.display(hi)
	return &[2]float64{math.Min(a, b), math.Max(a, b)}
}

// Gain turns a change that is shown so that plus is better.
func (r *Result) Gain(change float64) float64 {
	if r.Role != Score && r.Better == Lower {
		return -change
	}
	return change
}

// GainInterval is the interval, or the range where there is none, turned so
// that plus is better. ok is false where there is neither.
func (r *Result) GainInterval() (lo, hi float64, ok bool) {
	in := r.Interval
	if in == nil {
		in = r.Range
	}
	if in == nil {
		return 0, 0, false
	}
	a, b := r.Gain(in[0]), r.Gain(in[1])
	return math.Min(a, b), math.Max(a, b), true
}

// judge gives the verdict once the corrected p is known.
func (r *Result) judge(confidence float64) {
	alpha := 1 - confidence
	outside := r.Interval != nil && (r.Interval[0] > 0 || r.Interval[1] < 0)
	r.Real = outside && r.PAdjusted <= alpha+slack
	r.AloneNotAmong = outside && !r.Real && r.PVerdict <= alpha+slack
	if r.Role == Info {
		return
	}
	tolerance := 0.0
	if r.Tolerance != nil {
		tolerance = *r.Tolerance
	}
	lo, hi := math.Inf(-1), math.Inf(1)
	if r.Interval != nil {
		lo, hi, _ = r.GainInterval()
	}
	v := judge(r.Real, r.Gain(r.Change), lo, hi, tolerance, r.PFloor <= alpha+slack)
	r.Verdict = &v
	r.CountsForGate = r.Named && (r.Role == Score || r.Tolerance != nil)
	if r.Parts != nil {
		r.CountsForGate = r.counts
	}
}

// plan says what these runs could not see, and how many would settle the
// tolerance. bar is what the uncorrected p has to reach.
func (r *Result) plan(confidence, bar float64, policy Policy) {
	r.wanted = r.fewest(policy, r.usualRuns())
	for i, part := range r.Parts {
		if wanted := part.fewest(policy, part.usualRuns()); i == 0 || wanted > r.wanted {
			r.wanted = wanted
		}
	}
	r.CanSettle = r.PFloor <= math.Min(bar, 1-confidence)+slack && r.Interval != nil
	r.SettlesAt = math.Max(0, 1-r.PFloor*(1-confidence)/bar)
	r.FloorSize = r.floorSize(math.Min(bar, 1-confidence))
	if r.Role == Info {
		return
	}
	tolerance := 0.0
	if r.Tolerance != nil {
		tolerance = *r.Tolerance
	}
	margin := r.lossShift(tolerance)
	design := stats.Design{Confidence: confidence, Alpha: bar, Power: power}
	turn := 1.0
	if r.Better == Lower {
		turn = -1
	}
	r.planner = planner{design: design, margin: margin, widen: r.widened}
	switch {
	case r.pooled != nil:
		r.planner.pooled = r.pooled
	case r.strata != nil:
		for _, s := range r.strata {
			r.planner.strata = append(r.planner.strata, stats.Stratum{Before: scaled(s.Before, turn), After: scaled(s.After, turn)})
		}
	case r.differences != nil:
		r.planner.differences = scaled(r.differences, turn)
	default:
		r.planner.before, r.planner.after = scaled(r.before.values, turn), scaled(r.after.values, turn)
		r.planner.plan = stats.NewPlan(r.planner.before, r.planner.after, design)
	}
	if spot, ok := r.planner.blindSpot(); ok && (r.pooled == nil || r.CanSettle) {
		r.BlindSpot = finite(r.lossOf(spot))
	}
	if r.Verdict != nil && !r.Verdict.Settled() && tolerance > 0 {
		if n, ok := r.planner.sizeToCatch(margin, 0); ok {
			n = max(n, r.wanted)
			r.Needed, r.NeededFor = &n, &tolerance
		}
	}
}

// SizeToCatch returns how many values a side (or blocks) would catch a loss of
// the given size, as BlindSpot states it. ok is false where no number would:
// a loss within the tolerance is none that counts. It is never fewer than the
// policy wants, and more than there are where BlindSpot is larger.
func (r *Result) SizeToCatch(loss float64) (n int, ok bool) {
	shift := r.lossShift(loss)
	if shift <= r.planner.margin {
		return 0, false
	}
	n, ok = r.planner.sizeToCatch(shift, r.planner.margin)
	if r.BlindSpot != nil && *r.BlindSpot > loss { // both are simulated, and can differ by a hair
		n = max(n, min(r.Replicates[0], r.Replicates[1])+1)
	}
	return max(n, r.wanted), ok
}

// TooCoarse reports whether the readings' steps are why no number of runs can be
// advised: not where every run gave the same value in steps that are finer than
// the tolerance, which some more runs would settle.
func (r *Result) TooCoarse() bool {
	if r.Tick == 0 || r.Tolerance == nil || !(*r.Tolerance > 0) {
		return false
	}
	return r.planner.spread() > 0 || r.widened >= r.lossShift(*r.Tolerance)
}

// planner is the pilot, turned so that plus is better, and the rule it plans
// for.
type planner struct {
	design        stats.Design
	margin        float64 // the tolerance, as a shift
	before, after []float64
	differences   []float64
	strata        []stats.Stratum
	pooled        *pooled
	widen         float64     // by how much coarse readings move the interval's ends
	plan          *stats.Plan // of before and after
}

// blindSpot is the smallest loss that would have been caught: with the interval
// and the coarse readings' part left behind, and beyond the margin.
func (p planner) blindSpot() (loss float64, ok bool) {
	loss, ok = p.fineBlindSpot(p.margin)
	if ok && p.widen > 0 {
		least, _ := p.fineBlindSpot(0)
		loss = math.Max(loss, least+p.widen)
	}
	return loss, ok
}

// sizeToCatch is the number that catches a shift beyond the margin.
func (p planner) sizeToCatch(shift, margin float64) (n int, ok bool) {
	n, ok = p.fineSizeToCatch(shift, margin)
	if ok && p.widen > 0 {
		var least int
		if least, ok = p.fineSizeToCatch(shift-p.widen, 0); ok {
			n = max(n, least)
		}
	}
	return n, ok
}

func (p planner) fineBlindSpot(margin float64) (float64, bool) {
	switch {
	case p.pooled != nil:
		return p.pooled.closed.BlindSpot(margin, p.design)
	case p.strata != nil:
		return stats.StrataBlindSpot(p.strata, margin, p.design)
	case p.differences != nil:
		return stats.BlocksBlindSpot(p.differences, margin, p.design)
	}
	return p.plan.BlindSpot(margin)
}

func (p planner) fineSizeToCatch(shift, margin float64) (int, bool) {
	switch {
	case p.pooled != nil:
		return p.pooled.sizeToCatch(shift, margin, p.design)
	case p.strata != nil:
		return stats.StrataToCatch(p.strata, shift, margin, p.design)
	case p.differences != nil:
		return stats.BlocksToCatch(p.differences, shift, margin, p.design)
	}
	return p.plan.SizeToCatch(shift, margin)
}

func (r *Result) floorSize(bar float64) int {
	if r.pooled != nil && r.pooled.components != nil {
		n, strata := 1, make([]stats.Stratum, len(r.pooled.components))
		for ; ; n++ {
			for i := range strata {
				strata[i] = stats.Stratum{Before: make([]float64, n), After: make([]float64, n)}
			}
			if stats.SmallestStratifiedP(strata) <= bar+slack && n > 1 {
				return n
			}
		}
	}
	if r.blocks == nil {
		return stats.FloorSize(bar)
	}
	if r.strata == nil {
		n := 1
		for stats.SmallestSignedRankP(n) > bar+slack {
			n++
		}
		return n
	}
	one := r.strata[:1]
	var many []stats.Stratum
	for len(many) == 0 || stats.SmallestStratifiedP(many) > bar+slack {
		many = append(many, one...)
	}
	return len(many)
}

// lossShift is the shift, as compared, of a loss that is shown as the given
// size: a score that falls by it, a lower-is-better cost that rises by it.
func (r *Result) lossShift(loss float64) float64 {
	switch {
	case r.Scale != Ratio:
		return loss
	case r.Role != Score && r.Better == Lower:
		return math.Log1p(loss)
	}
	return -math.Log1p(-loss)
}

// lossOf is the size at which a shift is shown.
func (r *Result) lossOf(shift float64) float64 {
	switch {
	case r.Scale != Ratio:
		return shift
	case r.Role != Score && r.Better == Lower:
		return math.Expm1(shift)
	}
	return -math.Expm1(-shift)
}

func scaled(x []float64, by float64) []float64 {
	out := make([]float64, len(x))
	for i, v := range x {
		out[i] = v * by
	}
	return out
}

func (p planner) precision(halfWidth float64) (int, bool) {
	if halfWidth -= p.widen; halfWidth <= 0 {
		return 0, false
	}
	switch {
	case p.strata != nil:
		return stats.StrataPrecision(p.strata, halfWidth, p.design.Confidence)
	case p.differences != nil:
		return stats.BlocksPrecision(p.differences, halfWidth, p.design.Confidence)
	}
	return stats.PrecisionSize(p.before, p.after, halfWidth, p.design.Confidence)
}

// spread is the standard deviation of what counts once.
func (p planner) spread() float64 {
	switch {
	case p.strata != nil:
		var before, after []float64
		for _, s := range p.strata {
			before = append(before, centred(s.Before)...)
			after = append(after, centred(s.After)...)
		}
		return stats.Spread(before, after)
	case p.differences != nil:
		return stats.Spread(p.differences, p.differences)
	}
	return stats.Spread(p.before, p.after)
}

// spreadBy is the same pilot with its spread multiplied.
func (p planner) spreadBy(factor float64) planner {
	p.before, p.after = scaled(p.before, factor), scaled(p.after, factor)
	p.plan = stats.NewPlan(p.before, p.after, p.design)
	if p.differences != nil {
		p.differences = scaled(p.differences, factor)
	}
	var strata []stats.Stratum
	for _, s := range p.strata {
		strata = append(strata, stats.Stratum{Before: scaled(s.Before, factor), After: scaled(s.After, factor)})
	}
	p.strata = strata
	return p
}

// centred takes the median out of the values of one spell or side.
func centred(x []float64) []float64 {
	out := append([]float64(nil), x...)
	for i := range out {
		out[i] -= median(x)
	}
	return out
}
