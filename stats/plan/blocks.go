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

type blocks []float64

// Blocks is the pilot of blocks with one difference each. The rule is the exact
// signed-rank test on the smoothed pilot differences, scaled above 20 blocks.
// Fewer than two differences, or equal ones, give no forecast.
func Blocks(differences []float64) Pilot { return blocks(differences) }

func (b blocks) Spread() float64 { return commonSpread(b, b) }

func (b blocks) DF() float64 { return float64(len(b) - 1) }

func (b blocks) Scaled(factor float64) Pilot { return blocks(scaled(b, factor)) }

func (b blocks) MinSize(alpha float64) int {
	n := 1
	for stats.SmallestSignedRankP(n) > alpha+numeric.Slack {
		n++
	}
	return n
}

func (b blocks) forecast(d Design) forecast {
	if len(b) < 2 || numeric.Variance(b) == 0 {
		return nil
	}
	f := blockForecast{outlook: signedRankOutlook(b, d), minSize: b.MinSize(d.criticalP())}
	if stats.SmallestSignedRankP(len(b)) <= d.criticalP()+numeric.Slack {
		f.pilot = len(b)
	}
	return f
}

// blockForecast is the forecast for blocks of either kind.
type blockForecast struct {
	outlook func(blocks int) outlook
	minSize int // that the test can settle
	pilot   int // blocks of the pilot; 0 where they can settle nothing
}

func (f blockForecast) own() (outlook, bool) {
	if f.pilot == 0 {
		return nil, false
	}
	return f.outlook(f.pilot), true
}

func (f blockForecast) at(n int) outlook { return f.outlook(n) }

func (f blockForecast) floor() int { return f.minSize }

func (f blockForecast) size(loss, margin, power float64) (n int, ok bool) {
	return smallestSize(f.minSize, func(n int) bool { return f.outlook(n).caught(loss, margin) >= power })
}

func signedRankOutlook(differences []float64, design Design) func(int) outlook {
	simulate := func(n int) cloud {
		p, src := newPilot(differences), rand.NewPCG(planSeed, uint64(n))
		nothing := stats.WalshMedian(p.residual) // as in newSimulation
		g := rand.New(src)
		df := math.Max(1, 2*float64(len(differences)-1)/3)
		chi := distuv.ChiSquared{K: df, Src: src}
		c := cloud{make([]float64, planRepeats), make([]float64, planRepeats)}
		critical := stats.SignedRankCritical(n, design.criticalP())
		d := make([]float64, n)
		for r := range planRepeats {
			p.fill(g, d)
			slices.Sort(d)
			e, scale, end := numeric.MiddleWalsh(d), math.Sqrt(df/chi.Rand()), math.Inf(1)
			if critical > 0 {
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
