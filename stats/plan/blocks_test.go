package plan

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"tunegate/stats"
	"tunegate/stats/internal/numeric"
	"tunegate/stats/internal/statstest"
)

// blockDifferences draws blocks with one spell a side, after - before.
func blockDifferences(g *rand.Rand, shape string, blocks int, change float64) []float64 {
	x, y := slower(g, shape, blocks), slower(g, shape, blocks)
	d := make([]float64, blocks)
	for b := range d {
		d[b] = y[b] - x[b] + change
	}
	return d
}

// realInBlocks is the rule for blocks: estimate, and whether test and interval both
// leave out 0.
func realInBlocks(d []float64, design Design) (estimate float64, real bool) {
	lo, hi, ok := stats.SignedRankInterval(d, design.Confidence)
	p, estimate := stats.SignedRank(d).PUsed, stats.WalshMedian(d)
	if !ok {
		test := stats.Student(d, 0)
		p, estimate = test.P, test.Mean
		lo, hi, ok = test.Interval(design.Confidence)
	}
	return estimate, ok && (lo > 0 || hi < 0) && p <= design.Alpha+numeric.Slack
}

// As TestBlindSpot and TestNeeded, for blocks.
func TestBlockPlans(t *testing.T) {
	statstest.FullTier(t, "a simulation")
	for i, shape := range statstest.ShapeNames {
		for j, blocks := range []int{4, 8, 15} {
			count, whole := pilots(120)
			if !whole && shape != "normal" {
				continue
			}
			// A pilot's spread is taken to be less certain than normal noise
			// leaves it (spreadDF), and plans beyond 20 blocks are scaled from
			// there: both err towards more blocks, not fewer.
			least, most := 0.75, 0.88
			if shape != "normal" {
				least, most = 0.65, 0.93
			}
			for l, alpha := range []float64{0.05, 0.05 / 6} {
				design := Design{Confidence: 0.95, Alpha: alpha, Power: 0.8}
				seed := 700 + uint64(100*i+10*j+l)
				name := fmt.Sprintf("%d blocks of %s at %.4f", blocks, shape, alpha)
				t.Run(name+", blind spot", func(t *testing.T) {
					t.Parallel()
					g := statstest.Generator(seed)
					caught := chance{}
					for p := range count {
						loss, ok := blocksBlindSpot(blockDifferences(g, shape, blocks, 0), 0, design)
						if !ok || !(loss > 0) || math.IsInf(loss, 0) {
							t.Fatalf("pilot %d: loss %v, %v", p, loss, ok)
						}
						caught.add(repeated(6, func() bool {
							estimate, real := realInBlocks(blockDifferences(g, shape, blocks, -loss), design)
							return real && estimate < 0
						}))
					}
					caught.check(t, name+", blind spot", least, most)
				})
				if l > 0 && !whole {
					continue
				}
				for c, change := range []float64{0.5, 1, 2} {
					name := fmt.Sprintf("%s, %v sd", name, change)
					t.Run(name, func(t *testing.T) {
						t.Parallel()
						count := count / 2
						if whole {
							count = *pilotCount / 4
						}
						g := statstest.Generator(seed + 5000 + uint64(c))
						sd := math.Sqrt(numeric.Variance(statstest.Draw(statstest.Generator(1), shape, 200_000)))
						found, total := chance{}, 0
						for p := range count {
							size, ok := blocksNeeded(blockDifferences(g, shape, blocks, 0), change*sd, design)
							if !ok {
								t.Fatalf("pilot %d: no size", p)
							}
							total += size
							signed := change * sd * float64(1-2*(p%2))
							found.add(repeated(6, func() bool {
								_, real := realInBlocks(blockDifferences(g, shape, size, signed), design)
								return real
							}))
						}
						most := 0.93 // a few blocks: one more is a step of up to 10 points
						found.check(t, fmt.Sprintf("%s (%d)", name, total/max(1, count)), least, most)
					})
				}
			}
		}
	}
}

func TestBlockPlanEdges(t *testing.T) {
	design := Design{0.95, 0.05, 0.8}
	g := statstest.Generator(800)
	d := blockDifferences(g, "normal", 20, 0)
	for n := range 8 { // Student's test at 2 to 5, ranks from 6 on
		loss, ok := blocksBlindSpot(d[:n], 0, design)
		if ok != (n >= 2) || ok && !(loss > 0 && loss < 100) {
			t.Errorf("%d blocks: %v, %v", n, loss, ok)
		}
	}
	if _, ok := blocksBlindSpot([]float64{2, 2, 2, 2, 2, 2, 2}, 0, design); ok {
		t.Error("a blind spot without any spread")
	}
	if size, ok := blocksNeeded(d, 1000, design); !ok || size != 2 {
		t.Errorf("a huge change: %d blocks, %v, want the floor of 2", size, ok)
	}
	// Among 8 the signed-rank test settles nothing from 6 to 8 blocks (2 / 2^8 is above
	// 0.05 / 8).
	among := Design{0.95, 0.05 / 8, 0.8}
	for n := 2; n <= 9; n++ {
		if _, ok := blocksBlindSpot(d[:n], 0, among); ok != (n < 6 || n > 8) {
			t.Errorf("%d blocks among 8: a blind spot: %v", n, ok)
		}
		if got, _ := New(Blocks(d, false), among).Foresee(1000, []int{n}); (got[0].Chance > 0.7) != (n < 6 || n > 8) {
			t.Errorf("%d blocks among 8: a huge change is found with a chance of %v", n, got[0].Chance)
		}
	}
	for _, change := range []float64{0, -1, math.NaN(), 1e-9} {
		if size, ok := blocksNeeded(d, change, design); ok {
			t.Errorf("a change of %v: %d blocks", change, size)
		}
	}
}

func BenchmarkBlocksNeeded(b *testing.B) {
	d := blockDifferences(statstest.Generator(803), "normal", 8, 0)
	b.ReportAllocs()
	for b.Loop() {
		blocksNeeded(d, 0.5, Design{0.95, 0.05, 0.8})
	}
}
