package plan

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"

	"tunegate/stats"
	"tunegate/stats/internal/numeric"
)

// settled is the rule: found real in either direction, or held within the margin.
func settled(x, y []float64, margin float64, d Design, seed uint64) bool {
	in, ok := stats.ChangeInterval(numeric.Sorted(x), numeric.Sorted(y), d.Confidence, 400, seed)
	if ok && -margin <= in.Lo && in.Hi <= margin {
		return true
	}
	return found(x, y, 0, d, seed) || found(y, x, 0, d, seed)
}

// The chance is that of the rule itself, with exact test and interval, over true
// changes and spreads drawn from what a pilot leaves possible: within 5 points on
// average over pilots, and 12 for each number of values (drawn here, 60 pilots each).
func TestSettles(t *testing.T) {
	g := rand.New(rand.NewPCG(18, 3))
	draws := 25
	if testing.Short() {
		draws = 6
	}
	said, seen, cells := 0.0, 0.0, 0
	for _, n := range []int{3, 4, 6} {
		for _, more := range []int{1, 2, 4, 10} {
			for _, family := range []int{1, 6} {
				d := Design{Confidence: 0.95, CriticalP: stats.SidakLevel(0.05, family), Power: 0.8}
				chance, got, all := 0.0, 0, 0
				for range 60 {
					change := 3 * g.NormFloat64()
					x, y := make([]float64, n), make([]float64, n)
					for i := range n {
						x[i], y[i] = g.NormFloat64(), g.NormFloat64()+change
					}
					const margin = 1.0
					pilot := Samples(x, y)
					chance += New(pilot, d).Settles(stats.HodgesLehmann(numeric.Sorted(x), numeric.Sorted(y)), margin, more, 1)
					variance := (numeric.Variance(x) + numeric.Variance(y)) / 2
					df := float64(2 * (n - 1))
					for range draws {
						sd := math.Sqrt(variance * df / distuv.ChiSquared{K: df, Src: g}.Rand())
						a, b := append([]float64(nil), x...), append([]float64(nil), y...)
						for i, side := range []*[]float64{&a, &b} {
							centre := numeric.Mean([][]float64{x, y}[i]) + sd/math.Sqrt(float64(n))*g.NormFloat64()
							for range more {
								*side = append(*side, centre+sd*g.NormFloat64())
							}
						}
						if all++; settled(a, b, margin, d, uint64(all)) {
							got++
						}
					}
				}
				share := float64(got) / float64(all)
				chance /= 60
				t.Logf("%d and %d more, among %d: said %.1f %%, settled %.1f %%", n, more, family, 100*chance, 100*share)
				if math.Abs(chance-share) > 0.12 {
					t.Errorf("%d and %d more, among %d: said %.3f, settled %.3f", n, more, family, chance, share)
				}
				said, seen, cells = said+chance, seen+share, cells+1
			}
		}
	}
	if d := (said - seen) / float64(cells); math.Abs(d) > 0.05 {
		t.Errorf("said %.3f more than is settled", d)
	}
}
