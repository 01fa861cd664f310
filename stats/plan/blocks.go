package plan

import (
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"tunegate/stats"
	"tunegate/stats/internal/numeric"
)

// blockPlanSize is the largest number of blocks that is simulated; larger
// plans scale from it.
const blockPlanSize = 20

type blocks struct {
	differences []float64
	student     bool
}

// Blocks is the pilot of blocks with one difference each. student says that they
// were too few for the signed-rank test, so that Student's test judged them. Planned
// sizes have the exact signed-rank test where it can reach 1 - Confidence (from 6
// blocks on at 95 %), and Student's below; both are simulated on the smoothed pilot
// differences, and scaled above 20 blocks. Fewer than two differences, or equal ones,
// give no forecast.
func Blocks(differences []float64, student bool) Pilot { return blocks{differences, student} }

func (b blocks) Spread() float64 { return commonSpread(b.differences, b.differences) }

func (b blocks) DF() float64 { return float64(len(b.differences) - 1) }

func (b blocks) Scaled(factor float64) Pilot { return blocks{scaled(b.differences, factor), b.student} }

// MinSize is 2 under Student's test, which can reach any p.
func (b blocks) MinSize(alpha float64) int {
	if b.student {
		return 2
	}
	return MinRankBlocks(alpha)
}

// MinRankBlocks returns the fewest blocks with which the signed-rank test can reach
// alpha at all.
func MinRankBlocks(alpha float64) int {
	n := 1
	for stats.SmallestSignedRankP(n) > alpha+numeric.Slack {
		n++
	}
	return n
}

func (b blocks) forecast(d Design) forecast {
	if len(b.differences) < 2 || numeric.Variance(b.differences) == 0 {
		return nil
	}
	return blockForecast{blockOutlook(b.differences, d), len(b.differences), MinRankBlocks(1 - d.Confidence), MinRankBlocks(d.criticalP())}
}

// blockForecast is the forecast for blocks.
type blockForecast struct {
	outlook func(blocks int) outlook
	pilot   int // its blocks
	// ranks is from how many blocks on the signed-rank test serves, and settles from
	// how many it can settle something.
	ranks, settles int
}

func (f blockForecast) own() (outlook, bool) {
	if f.ranks <= f.pilot && f.pilot < f.settles {
		return nil, false
	}
	return f.outlook(f.pilot), true
}

func (f blockForecast) at(n int) outlook { return f.outlook(n) }

func (f blockForecast) floor() int { return 2 }

func (f blockForecast) size(loss, margin, power float64) (n int, ok bool) {
	enough := func(n int) bool { return f.outlook(n).caught(loss, margin) >= power }
	for n := 2; n < f.ranks; n++ {
		if enough(n) {
			return n, true
		}
	}
	return smallestSize(f.settles, enough)
}

// blockOutlook simulates both tests.
func blockOutlook(differences []float64, design Design) func(int) outlook {
	simulate := func(n int) cloud {
		p, src := newPilot(differences), rand.NewPCG(planSeed, uint64(n))
		student := stats.SmallestSignedRankP(n) > 1-design.Confidence+numeric.Slack
		nothing := stats.WalshMedian(p.residual) // as in newSimulation
		if student {
			nothing = 0 // of means
		}
		g := rand.New(src)
		df := math.Max(1, 2*float64(len(differences)-1)/3)
		chi := distuv.ChiSquared{K: df, Src: src}
		c := cloud{make([]float64, planRepeats), make([]float64, planRepeats)}
		critical := stats.SignedRankCritical(n, design.criticalP())
		d := make([]float64, n)
		for r := range planRepeats {
			p.fill(g, d)
			slices.Sort(d)
			scale, end := math.Sqrt(df/chi.Rand()), math.Inf(1)
			e := numeric.MiddleWalsh(d)
			switch {
			case student:
				e = numeric.Mean(d)
				end = e + numeric.StudentQuantile(1-design.criticalP()/2, float64(n-1))*math.Sqrt(numeric.Variance(d)/float64(n))
			case critical > 0:
				end = numeric.KthWalsh(d, n*(n+1)/2+1-critical)
			}
			c.estimate[r], c.reach[r] = scale*(e-nothing), scale*(end-e)
		}
		return c
	}
	width := func(n int) float64 {
		v := float64(n)
		all := v * (v + 1) / 2
		return (all/2 - float64(stats.SignedRankCritical(n, design.criticalP())) + 0.5) / math.Sqrt(v*(v+1)*(2*v+1)/24)
	}
	return scaledOutlook(blockPlanSize, simulate, width)
}
