package plan

import (
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"tunegate/stats"
	"tunegate/stats/internal/numeric"
)

// exactBlocks is up to how many blocks a plan asks the exact distribution how
// wide van Elteren's test is; beyond it the normal one is within one per cent,
// and a search up to a million blocks would take ten seconds.
const exactBlocks = 200

type strata []stats.Stratum

// Strata is the pilot of blocks with several spells a side, planned in blocks of
// its usual shape under van Elteren's test. Where one side has a single spell in
// every block, the other side's spread is used for both.
func Strata(blocks []stats.Stratum) Pilot { return strata(blocks) }

// Spread is that of spells within blocks, each block's sides about their own
// median.
func (s strata) Spread() float64 {
	var before, after []float64
	for _, b := range s {
		before, after = append(before, centred(b.Before)...), append(after, centred(b.After)...)
	}
	return commonSpread(before, after)
}

// centred takes the median out of values.
func centred(x []float64) []float64 {
	out := make([]float64, len(x))
	if len(x) > 0 {
		median := numeric.Middle(numeric.Sorted(x))
		for i, v := range x {
			out[i] = v - median
		}
	}
	return out
}

func (s strata) DF() float64 {
	df := 0.0
	for _, b := range s {
		df += float64(len(b.Before) + len(b.After) - 2)
	}
	return df
}

func (s strata) Scaled(factor float64) Pilot {
	var out strata
	for _, b := range s {
		out = append(out, stats.Stratum{Before: scaled(b.Before, factor), After: scaled(b.After, factor)})
	}
	return out
}

// MinSize is in blocks of the first one's shape.
func (s strata) MinSize(alpha float64) int {
	many := s[:1:1]
	for stats.SmallestStratifiedP(many) > alpha+numeric.Slack {
		many = append(many, s[0])
	}
	return len(many)
}

func (s strata) forecast(d Design) forecast {
	see, floor, ok := stratifiedOutlook(s, d)
	if !ok {
		return nil
	}
	f := blockForecast{outlook: see, minSize: floor}
	if len(s) >= floor && stats.SmallestStratifiedP(s) <= d.criticalP()+numeric.Slack {
		f.pilot = len(s)
	}
	return f
}

// stratifiedOutlook plans blocks with the pilot's usual (median) numbers of
// spells, from its residuals within blocks, pooled by side.
func stratifiedOutlook(strata []stats.Stratum, design Design) (see func(int) outlook, floor int, ok bool) {
	var before, after []float64
	var sizes [2][]int
	freedom := 0
	for _, s := range strata {
		before = append(before, withinResiduals(s.Before)...)
		after = append(after, withinResiduals(s.After)...)
		sizes[0], sizes[1] = append(sizes[0], len(s.Before)), append(sizes[1], len(s.After))
		freedom += len(s.Before) - 1 + len(s.After) - 1
	}
	switch {
	case numeric.Variance(before)+numeric.Variance(after) == 0:
		return nil, 0, false
	case before == nil:
		before = after
	case after == nil:
		after = before
	}
	before, after = asOneSample(before), asOneSample(after)
	slices.Sort(sizes[0])
	slices.Sort(sizes[1])
	m, n := sizes[0][len(strata)/2], sizes[1][len(strata)/2]
	shape := func(blocks int) []stats.Stratum {
		s := make([]stats.Stratum, blocks)
		for b := range s {
			s[b] = stats.Stratum{Before: make([]float64, m), After: make([]float64, n)}
		}
		return s
	}
	floor = 1
	for stats.SmallestStratifiedP(shape(floor)) > design.criticalP()+numeric.Slack {
		floor++
	}
	simulate := func(blocks int) cloud {
		pb, pa, src := newPilot(before), newPilot(after), rand.NewPCG(planSeed, uint64(blocks))
		nothing := stats.HodgesLehmann(pb.residual, pa.residual) // as in newSimulation
		g := rand.New(src)
		df := math.Max(1, 2*float64(freedom)/3)
		chi := distuv.ChiSquared{K: df, Src: src}
		c := cloud{make([]float64, planRepeats), make([]float64, planRepeats)}
		s := shape(blocks)
		critical, _ := stats.StratifiedCritical(s, design.criticalP())
		skip := int(math.Round(critical * float64(m*n))) // every difference weighs 1/(mn)
		d := make([]float64, 0, blocks*m*n)
		for r := range planRepeats {
			d = d[:0]
			for b := range s {
				pb.fill(g, s[b].Before)
				pa.fill(g, s[b].After)
				for _, x := range s[b].Before {
					for _, y := range s[b].After {
						d = append(d, y-x)
					}
				}
			}
			slices.Sort(d)
			e, scale := numeric.Middle(d), math.Sqrt(df/chi.Rand())
			c.estimate[r], c.reach[r] = scale*(e-nothing), scale*(regionEnd(d, skip)-e)
		}
		return c
	}
	width := func(blocks int) float64 {
		if blocks > exactBlocks {
			return numeric.NormalQuantile(1 - design.criticalP()/2)
		}
		t, _ := stats.StratifiedCritical(shape(blocks), design.criticalP())
		perBlock := float64(m+n+1) / float64(12*m*n)
		return (float64(blocks)/2 - t) / math.Sqrt(float64(blocks)*perBlock)
	}
	return scaledOutlook(max(blockPlanSize, floor), simulate, width), floor, true
}

// withinResiduals centres the values of one side of a block, raised so that
// their spread is unbiased.
func withinResiduals(x []float64) []float64 {
	if len(x) < 2 {
		return nil
	}
	centre, n := numeric.Mean(x), float64(len(x))
	out := make([]float64, len(x))
	for i, v := range x {
		out[i] = (v - centre) * math.Sqrt(n/(n-1))
	}
	return out
}

// asOneSample takes back what an unbiased variance adds for the mean of a
// sample: these residuals have had theirs.
func asOneSample(residuals []float64) []float64 {
	n := float64(len(residuals))
	out := make([]float64, len(residuals))
	for i, v := range residuals {
		out[i] = v * math.Sqrt((n-1)/n)
	}
	return out
}
