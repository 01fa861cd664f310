package stats

import (
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// blockPlanSize is the largest number of blocks that is simulated; larger
// plans scale from it.
const blockPlanSize = 20

// exactBlocks is up to how many blocks a plan asks the exact distribution how
// wide van Elteren's test is; beyond it the normal one is within one per cent,
// and a search up to a million blocks would take ten seconds.
const exactBlocks = 200

// BlocksNeeded returns how many blocks of one difference each it takes to find
// a true change of d real, as Needed does for independent sides: the exact
// signed-rank test on the smoothed pilot differences, scaled above 20 blocks.
func BlocksNeeded(differences []float64, d float64, design Design) (blocks int, ok bool) {
	return BlocksToCatch(differences, d, 0, design)
}

// BlocksToCatch is SizeToCatch for blocks of one difference each.
func BlocksToCatch(differences []float64, loss, margin float64, design Design) (blocks int, ok bool) {
	if len(differences) < 2 || variance(differences) == 0 || !(loss > margin) {
		return 0, false
	}
	floor := 1
	for SmallestSignedRankP(floor) > design.bar()+slack {
		floor++
	}
	see := signedRankOutlook(differences, design)
	return smallestSize(floor, func(n int) bool { return see(n).caught(loss, margin) >= design.Power })
}

// BlocksBlindSpot is BlindSpot for blocks of one difference each.
func BlocksBlindSpot(differences []float64, margin float64, design Design) (loss float64, ok bool) {
	n := len(differences)
	if n < 2 || variance(differences) == 0 || SmallestSignedRankP(n) > design.bar()+slack {
		return 0, false
	}
	return signedRankOutlook(differences, design)(n).smallestCaught(design.Power, margin), true
}

// StrataNeeded returns how many blocks of the pilot's usual shape it takes to
// find a true change of d real, under van Elteren's test. Where one side has a
// lone spell in every block its spread is taken to be the other side's.
func StrataNeeded(strata []Stratum, d float64, design Design) (blocks int, ok bool) {
	return StrataToCatch(strata, d, 0, design)
}

// StrataToCatch is SizeToCatch for blocks of the pilot's usual shape.
func StrataToCatch(strata []Stratum, loss, margin float64, design Design) (blocks int, ok bool) {
	see, floor, ok := stratifiedOutlook(strata, design)
	if !ok || !(loss > margin) {
		return 0, false
	}
	return smallestSize(floor, func(n int) bool { return see(n).caught(loss, margin) >= design.Power })
}

// StrataBlindSpot is BlindSpot for blocks of several spells a side.
func StrataBlindSpot(strata []Stratum, margin float64, design Design) (loss float64, ok bool) {
	see, floor, ok := stratifiedOutlook(strata, design)
	if !ok || len(strata) < floor || SmallestStratifiedP(strata) > design.bar()+slack {
		return 0, false
	}
	return see(len(strata)).smallestCaught(design.Power, margin), true
}

func signedRankOutlook(differences []float64, design Design) func(int) outlook {
	simulate := func(n int) cloud {
		p, src := newPilot(differences), rand.NewPCG(planSeed, uint64(n))
		nothing := WalshMedian(p.residual) // as in newSimulation
		g := rand.New(src)
		df := math.Max(1, 2*float64(len(differences)-1)/3)
		chi := distuv.ChiSquared{K: df, Src: src}
		c := cloud{make([]float64, planRepeats), make([]float64, planRepeats)}
		critical := signedRankCritical(n, design.bar())
		d := make([]float64, n)
		for r := range planRepeats {
			p.fill(g, d)
			w := walshAverages(d)
			e, scale := middle(w), math.Sqrt(df/chi.Rand())
			c.estimate[r], c.reach[r] = scale*(e-nothing), scale*(regionEnd(w, critical)-e)
		}
		return c
	}
	width := func(n int) float64 {
		v := float64(n)
		all := v * (v + 1) / 2
		return (all/2 - float64(signedRankCritical(n, design.bar())) + 0.5) / math.Sqrt(v*(v+1)*(2*v+1)/24)
	}
	return scaledOutlook(blockPlanSize, simulate, width)
}

// scaledOutlook simulates up to a size and scales the largest cloud beyond it:
// estimates with the root of the size, reaches also with the width of the test
// in standard errors.
func scaledOutlook(largest int, simulate func(int) cloud, width func(int) float64) func(int) outlook {
	seen := map[int]cloud{}
	return func(n int) outlook {
		from := min(n, largest)
		base, ok := seen[from]
		if !ok {
			base = simulate(from)
			seen[from] = base
		}
		if n == from {
			return base
		}
		spread := math.Sqrt(float64(from) / float64(n))
		grow := spread * width(n) / width(from)
		c := cloud{make([]float64, len(base.estimate)), make([]float64, len(base.reach))}
		for i := range base.estimate {
			c.estimate[i], c.reach[i] = spread*base.estimate[i], grow*base.reach[i]
		}
		return c
	}
}

// stratifiedOutlook plans blocks with the pilot's usual (median) numbers of
// spells, from its residuals within blocks, pooled by side.
func stratifiedOutlook(strata []Stratum, design Design) (see func(int) outlook, floor int, ok bool) {
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
	case variance(before)+variance(after) == 0:
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
	shape := func(blocks int) []Stratum {
		s := make([]Stratum, blocks)
		for b := range s {
			s[b] = Stratum{make([]float64, m), make([]float64, n)}
		}
		return s
	}
	floor = 1
	for SmallestStratifiedP(shape(floor)) > design.bar()+slack {
		floor++
	}
	simulate := func(blocks int) cloud {
		pb, pa, src := newPilot(before), newPilot(after), rand.NewPCG(planSeed, uint64(blocks))
		nothing := HodgesLehmann(pb.residual, pa.residual) // as in newSimulation
		g := rand.New(src)
		df := math.Max(1, 2*float64(freedom)/3)
		chi := distuv.ChiSquared{K: df, Src: src}
		c := cloud{make([]float64, planRepeats), make([]float64, planRepeats)}
		s := shape(blocks)
		critical, _ := stratifiedCritical(s, design.bar())
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
			e, scale := middle(d), math.Sqrt(df/chi.Rand())
			c.estimate[r], c.reach[r] = scale*(e-nothing), scale*(regionEnd(d, skip)-e)
		}
		return c
	}
	width := func(blocks int) float64 {
		if blocks > exactBlocks {
			return normalQuantile(1 - design.bar()/2)
		}
		t, _ := stratifiedCritical(shape(blocks), design.bar())
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
	centre, n := mean(x), float64(len(x))
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
