package plan

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
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

// realInBlocks is the rule for blocks of one spell a side: test and interval.
func realInBlocks(d []float64, design Design) (lo, hi float64, real bool) {
	lo, hi, ok := stats.SignedRankInterval(d, design.Confidence)
	return lo, hi, ok && (lo > 0 || hi < 0) && stats.SignedRank(d).PUsed <= design.Alpha+numeric.Slack
}

// twoSpells draws blocks of two spells a side with a level of their own.
func twoSpells(g *rand.Rand, shape string, blocks int, change float64) []stats.Stratum {
	strata := make([]stats.Stratum, blocks)
	for b := range strata {
		luck := 3 * g.NormFloat64()
		strata[b] = stats.Stratum{
			Before: statstest.Moved(slower(g, shape, 2), 1, luck),
			After:  statstest.Moved(slower(g, shape, 2), 1, luck+change),
		}
	}
	return strata
}

func realInStrata(strata []stats.Stratum, design Design) (lo, hi float64, real bool) {
	lo, hi, ok := stats.StratifiedInterval(strata, design.Confidence)
	return lo, hi, ok && (lo > 0 || hi < 0) && stats.VanElteren(strata).PUsed <= design.Alpha+numeric.Slack
}

// blockPlans are the two kinds of blocks behind one set of functions of the
// generator: what a pilot advises, and whether fresh data obey.
type blockPlan struct {
	name      string
	blindSpot func(g *rand.Rand, shape string, blocks int, design Design) (float64, bool)
	needed    func(g *rand.Rand, shape string, blocks int, change float64, design Design) (int, bool)
	loss      func(g *rand.Rand, shape string, blocks int, change float64, design Design) bool // found, and negative
	real      func(g *rand.Rand, shape string, blocks int, change float64, design Design) bool
}

var blockPlans = []blockPlan{
	{"blocks",
		func(g *rand.Rand, shape string, blocks int, design Design) (float64, bool) {
			return blocksBlindSpot(blockDifferences(g, shape, blocks, 0), 0, design)
		},
		func(g *rand.Rand, shape string, blocks int, change float64, design Design) (int, bool) {
			return blocksNeeded(blockDifferences(g, shape, blocks, 0), change, design)
		},
		func(g *rand.Rand, shape string, blocks int, change float64, design Design) bool {
			d := blockDifferences(g, shape, blocks, change)
			_, hi, real := realInBlocks(d, design)
			return real && hi < 0 && stats.WalshMedian(d) < 0
		},
		func(g *rand.Rand, shape string, blocks int, change float64, design Design) bool {
			_, _, real := realInBlocks(blockDifferences(g, shape, blocks, change), design)
			return real
		}},
	{"strata",
		func(g *rand.Rand, shape string, blocks int, design Design) (float64, bool) {
			return strataBlindSpot(twoSpells(g, shape, blocks, 0), 0, design)
		},
		func(g *rand.Rand, shape string, blocks int, change float64, design Design) (int, bool) {
			return strataNeeded(twoSpells(g, shape, blocks, 0), change, design)
		},
		func(g *rand.Rand, shape string, blocks int, change float64, design Design) bool {
			s := twoSpells(g, shape, blocks, change)
			_, hi, real := realInStrata(s, design)
			return real && hi < 0 && stats.StratifiedMedian(s) < 0
		},
		func(g *rand.Rand, shape string, blocks int, change float64, design Design) bool {
			_, _, real := realInStrata(twoSpells(g, shape, blocks, change), design)
			return real
		}},
}

// As TestBlindSpot and TestNeeded, for blocks.
func TestBlockPlans(t *testing.T) {
	statstest.FullTier(t, "a simulation")
	for k, plan := range blockPlans {
		sizes := [][]int{{8, 15}, {4, 8}}[k]
		for i, shape := range statstest.ShapeNames {
			for j, blocks := range sizes {
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
					seed := 700 + uint64(1000*k+100*i+10*j+l)
					name := fmt.Sprintf("%d %s of %s at %.4f", blocks, plan.name, shape, alpha)
					t.Run(name+", blind spot", func(t *testing.T) {
						t.Parallel()
						g := statstest.Generator(seed)
						caught := chance{}
						for p := range count {
							loss, ok := plan.blindSpot(g, shape, blocks, design)
							if !ok || !(loss > 0) || math.IsInf(loss, 0) {
								t.Fatalf("pilot %d: loss %v, %v", p, loss, ok)
							}
							caught.add(repeated(6, func() bool { return plan.loss(g, shape, blocks, -loss, design) }))
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
								size, ok := plan.needed(g, shape, blocks, change*sd, design)
								if !ok {
									t.Fatalf("pilot %d: no size", p)
								}
								total += size
								signed := change * sd * float64(1-2*(p%2))
								found.add(repeated(6, func() bool { return plan.real(g, shape, size, signed, design) }))
							}
							most := 0.93 // a few blocks: one more is a step of up to 10 points
							found.check(t, fmt.Sprintf("%s (%d)", name, total/max(1, count)), least, most)
						})
					}
				}
			}
		}
	}
}

func TestBlockPlanEdges(t *testing.T) {
	design := Design{0.95, 0.05, 0.8}
	g := statstest.Generator(800)
	d := blockDifferences(g, "normal", 20, 0)
	for n := range 8 { // counting: 2 / 2^n reaches 5 % at six
		loss, ok := blocksBlindSpot(d[:n], 0, design)
		if ok != (n >= 6) || ok && !(loss > 0 && loss < 100) {
			t.Errorf("%d blocks: %v, %v", n, loss, ok)
		}
	}
	if _, ok := blocksBlindSpot([]float64{2, 2, 2, 2, 2, 2, 2}, 0, design); ok {
		t.Error("a blind spot without any spread")
	}
	if size, ok := blocksNeeded(d, 1000, design); !ok || size != 6 {
		t.Errorf("a huge change: %d blocks, %v, want the floor of 6", size, ok)
	}
	for _, change := range []float64{0, -1, math.NaN(), 1e-9} {
		if size, ok := blocksNeeded(d, change, design); ok {
			t.Errorf("a change of %v: %d blocks", change, size)
		}
	}
	strata := twoSpells(g, "normal", 8, 0)
	for n := range 5 { // counting: 2 / 6^n reaches 5 % at three
		loss, ok := strataBlindSpot(strata[:n], 0, design)
		if ok != (n >= 3) || ok && !(loss > 0 && loss < 100) {
			t.Errorf("%d strata: %v, %v", n, loss, ok)
		}
	}
	if size, ok := strataNeeded(strata, 1000, design); !ok || size != 3 {
		t.Errorf("a huge change: %d strata, %v, want the floor of 3", size, ok)
	}
	for _, change := range []float64{0, -1, math.NaN(), 1e-9} {
		if size, ok := strataNeeded(strata, change, design); ok {
			t.Errorf("a change of %v: %d strata", change, size)
		}
	}
}

// One spell on a side says nothing of that side's spread: it is taken to be the
// other's.
func TestStrataWithLoneSpells(t *testing.T) {
	design := Design{0.95, 0.05, 0.8}
	g := statstest.Generator(801)
	var lone, turned []stats.Stratum
	for range 8 {
		x, y := slower(g, "normal", 1), slower(g, "normal", 3)
		lone, turned = append(lone, stats.Stratum{Before: x, After: y}), append(turned, stats.Stratum{Before: y, After: x})
	}
	for name, strata := range map[string][]stats.Stratum{"before": lone, "after": turned} {
		loss, ok := strataBlindSpot(strata, 0, design)
		if !ok || !(loss > 0.5 && loss < 3) {
			t.Errorf("lone spells %s: blind spot %v, %v", name, loss, ok)
		}
		size, ok := strataNeeded(strata, 1, design)
		if !ok || size < 4 || size > 40 {
			t.Errorf("lone spells %s: %d strata, %v", name, size, ok)
		}
	}
	single := stats.Stratum{Before: []float64{1}, After: []float64{2}}
	if _, ok := strataBlindSpot(slices.Repeat([]stats.Stratum{single}, 6), 0, design); ok {
		t.Error("a blind spot though no side of any block shows its spread")
	}
}

// Where the usual shape of the blocks could never settle, no loss is named.
func TestStrataOfMixedShapes(t *testing.T) {
	design := Design{0.95, 0.05, 0.8}
	g := statstest.Generator(802)
	strata := []stats.Stratum{{Before: slower(g, "normal", 1), After: slower(g, "normal", 1)},
		{Before: slower(g, "normal", 1), After: slower(g, "normal", 1)},
		{Before: slower(g, "normal", 5), After: slower(g, "normal", 5)}}
	if loss, ok := strataBlindSpot(strata, 0, design); ok && (math.IsInf(loss, 0) || !(loss > 0)) {
		t.Errorf("blind spot %v, %v", loss, ok)
	}
}

func BenchmarkBlocksNeeded(b *testing.B) {
	d := blockDifferences(statstest.Generator(803), "normal", 8, 0)
	b.ReportAllocs()
	for b.Loop() {
		blocksNeeded(d, 0.5, Design{0.95, 0.05, 0.8})
	}
}

func BenchmarkStrataNeeded(b *testing.B) {
	strata := twoSpells(statstest.Generator(804), "normal", 6, 0)
	b.ReportAllocs()
	for b.Loop() {
		strataNeeded(strata, 0.5, Design{0.95, 0.05, 0.8})
	}
}
