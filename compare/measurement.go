package compare

import (
	"math"
	"slices"
	"sort"

	"tunegate/stats"
	"tunegate/stats/plan"
)

// Terms are what everything that is judged together is measured and judged with.
type Terms struct {
	Confidence float64 // such as 0.95
	Correction Correction
	Resamples  int
	Seed       uint64
	// Look is which of two planned looks this is, 0 for a single one; Overall is the
	// confidence that both keep together, Confidence then that of each.
	Look    int
	Overall float64
}

// TermsOf is what a policy and options come to, defaults filled in.
func TermsOf(policy Policy, opt Options) Terms {
	t := Terms{Confidence: policy.Confidence, Correction: policy.Correction, Resamples: opt.Resamples, Seed: opt.Seed, Look: opt.Look}
	if t.Confidence == 0 {
		t.Confidence = DefaultConfidence
	}
	if t.Look > 0 {
		t.Overall, t.Confidence = t.Confidence, 1-plan.TwoLooksLevel(1-t.Confidence)
	}
	if t.Correction == "" {
		t.Correction = JointCorrection
	}
	if t.Resamples == 0 {
		t.Resamples = stats.DefaultResamples
	}
	return t
}

// How intervals are made, as results name it.
const (
	IntervalBootstrap  = "bootstrap and rank inversion"
	IntervalPlacements = "placements and rank inversion" // of large samples
	IntervalSignedRank = "signed-rank inversion"
	IntervalStudent    = "Student, assumes normal differences"
	IntervalWelch      = "Student, assumes normal passes" // of a suite
)

// Measurement is what the runs of one metric say by themselves. Change, interval
// and range are fractions on a ratio scale (0.0243), in the metric's unit on an
// interval scale: of a score turned so that plus is better, of everything else
// with their natural sign. Fields are nil where the runs do not give them.
type Measurement struct {
	*Pair

	Change         float64
	Interval       *[2]float64
	IntervalMethod string // one of the constants; empty without an interval
	// Range stands in for an interval where none exists at the confidence: from
	// the smallest to the largest difference, with the confidence that it has.
	Range           *[2]float64
	RangeConfidence float64
	// TimeSaved is the fraction of a lower-is-better time that is saved.
	TimeSaved *float64

	Test        string  // one of the constants
	Statistic   float64 // U (pairs with after > before), W or t of the blocks
	P           float64 // two-sided
	PUsed       float64 // the larger of P and twice the smaller tail
	Method      string  // "exact", "normal" or "none"
	MinP        float64 // the smallest that so many untied values can reach
	Superiority float64 // share of comparisons in which after is better
	Replication Replication
	Replicates  [2]int  // values that count once on each side; blocks count on both
	Resolution  float64 // the step of coarse readings, which the interval allows for; 0 for fine ones

	estimate estimate
	widened  float64 // by how much coarse readings moved the ends, as compared
}

// Measure gives estimate, test and interval of a pair.
func (p *Pair) Measure(t Terms) *Measurement {
	m := p.measure(t)
	rounding := 0.0
	if p.step() > 0 {
		rounding, m.Resolution = p.layout.rounding(p)
	}
	m.setInterval(rounding / p.unitAt())
	return m
}

// measure leaves out the interval, which coarse readings widen.
func (p *Pair) measure(t Terms) *Measurement {
	e := p.layout.measure(t)
	if p.Scale != Ratio {
		e.shift = stats.RoundDecimal(e.shift, p.magnitude())
	}
	minP := p.layout.minP()
	if e.test == TestStudent && p.layout.sizes()[0] > 1 {
		minP = 0 // it can reach any
	}
	m := &Measurement{Pair: p, Change: p.displayed(e.shift), Test: e.test, Statistic: e.statistic, P: e.p, PUsed: e.pUsed, Method: e.method,
		MinP: minP, Superiority: e.superiority, Replication: p.layout.replication(), Replicates: p.layout.sizes(), estimate: e}
	if p.Better == Lower {
		m.Superiority = 1 - m.Superiority
	}
	if p.Role == Score && p.Better == Lower && IsTime(p.Unit) {
		saved := 1 - math.Exp(e.shift)
		m.TimeSaved = &saved
	}
	return m
}

// setInterval shows the interval with its ends moved out, or the range.
func (m *Measurement) setInterval(widened float64) {
	m.widened = widened
	e := &m.estimate
	if e.hasInterval {
		m.Interval, m.IntervalMethod = m.displayedRange(e.interval[0]-widened, e.interval[1]+widened), e.from
		return
	}
	if m.MinP < 1 {
		if lo, hi, ok := m.layout.extent(); ok {
			m.Range, m.RangeConfidence = m.displayedRange(lo-widened, hi+widened), 1-m.MinP
		}
	}
}

// magnitude is the largest reading of both sides.
func (p *Pair) magnitude() float64 { return stats.MaxAbs(p.Before.Raw, p.After.Raw) }

// displayed turns a shift as compared into the change that is shown: a fraction
// on a ratio scale; plus is better for a score, more for everything else.
func (p *Pair) displayed(shift float64) float64 {
	if p.Role == Score && p.Better == Lower {
		shift = -shift
	}
	if p.Scale == Ratio {
		return math.Expm1(shift)
	}
	return shift
}

func (p *Pair) displayedRange(lo, hi float64) *[2]float64 {
	if p.Scale != Ratio {
		size := p.magnitude()
		lo, hi = stats.RoundDecimal(lo, size), stats.RoundDecimal(hi, size)
	}
	if p.Unit == ShareOfTime { // no share changes by more than all of it
		lo, hi = math.Max(lo, -100), math.Min(hi, 100)
	}
	a, b := p.displayed(lo), p.displayed(hi)
	return &[2]float64{math.Min(a, b), math.Max(a, b)}
}

// Reaches reports whether so many values can reach a p of alpha at all.
func (m *Measurement) Reaches(alpha float64) bool { return m.MinP <= alpha+slack }

// CanLevel reports whether so many values are enough for "level": of blocks 4, since
// the spread of fewer is hardly known, though they reach any p.
func (m *Measurement) CanLevel(confidence float64) bool {
	return m.Reaches(1-confidence) && (m.Blocks == nil || m.Replicates[0] >= 4)
}

// Gain turns a change that is shown so that plus is better.
func (m *Measurement) Gain(change float64) float64 {
	if m.Role != Score && m.Better == Lower {
		return -change
	}
	return change
}

// GainInterval is the interval, or the range where there is none, turned so
// that plus is better. ok is false where there is neither.
func (m *Measurement) GainInterval() (lo, hi float64, ok bool) {
	in := m.Interval
	if in == nil {
		in = m.Range
	}
	if in == nil {
		return 0, 0, false
	}
	a, b := m.Gain(in[0]), m.Gain(in[1])
	return math.Min(a, b), math.Max(a, b), true
}

// IsSpeed reports whether a metric, or every score of a suite, is a time or a
// rate, so that time and speed are each other's inverse.
func (m *Measurement) IsSpeed() bool {
	if m.Parts != nil {
		return !slices.ContainsFunc(m.Parts, func(p *Measurement) bool { return !p.IsSpeed() })
	}
	return IsSpeed(m.Unit)
}

// Changes lists the changes of which Change is the middle, as it is shown and
// ascending: every value after against every value before, within blocks where
// they are used. Of more than 250,000 pairs it takes those of 500 values of each
// side, evenly spaced in order; thinned says so.
func (p *Pair) Changes() (changes []float64, thinned bool) {
	size := p.magnitude()
	thinned = p.layout.changes(func(before, after []float64) {
		for _, b := range before {
			for _, a := range after {
				d := a - b
				if p.Scale != Ratio { // equal decimal readings differ by 0
					d = stats.RoundDecimal(d, size)
				}
				changes = append(changes, p.displayed(d))
			}
		}
	})
	sort.Float64s(changes)
	return changes, thinned
}
