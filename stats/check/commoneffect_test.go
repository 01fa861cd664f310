package check

import (
	"fmt"
	"math"
	"testing"

	"tunegate/stats/internal/numeric"
	"tunegate/stats/internal/statstest"
)

// luckySides draws two sides of runs whose quantities share a part of their
// variance.
func luckySides(seed uint64, quantities, runs int, shared float64) ([][][]float64, []float64) {
	g := statstest.Generator(seed)
	var sides [][][]float64
	var weights []float64
	for range quantities {
		weights = append(weights, 1)
	}
	for range 2 {
		luck := statstest.Draw(g, "normal", runs)
		var side [][]float64
		for range quantities {
			row := statstest.Draw(g, "normal", runs)
			for k := range row {
				row[k] = math.Sqrt(1-shared)*row[k] + math.Sqrt(shared)*luck[k]
			}
			side = append(side, row)
		}
		sides = append(sides, side)
	}
	return sides, weights
}

// Independent quantities are called at the nominal rate, shared luck is found.
func TestCommonEffect(t *testing.T) {
	n := 400
	for _, tt := range []struct {
		quantities, runs int
		shared           float64
		least, most      float64 // share called at 10 %
	}{{8, 3, 0, 0.06, 0.14}, {6, 6, 0, 0.06, 0.14}, {8, 3, 0.5, 0.75, 1}, {6, 6, 0.5, 0.9, 1}, {6, 10, 0.5, 0.97, 1}} {
		called := 0
		for r := range n {
			sides, w := luckySides(uint64(r), tt.quantities, tt.runs, tt.shared)
			if CommonEffect(sides, w, 199, 1) <= 0.1 {
				called++
			}
		}
		share := float64(called) / float64(n)
		t.Logf("%d quantities, %d runs, %v shared: called %.1f %%", tt.quantities, tt.runs, tt.shared, 100*share)
		if share < tt.least || share > tt.most {
			t.Errorf("%d quantities, %d runs, %v shared: called %.1f %%", tt.quantities, tt.runs, tt.shared, 100*share)
		}
	}
	if p := CommonEffect([][][]float64{{{1, 2}, {1, 2}}}, []float64{1, 1}, 99, 1); p != 1 {
		t.Errorf("two runs show nothing, p = %v", p)
	}
}

// Moments over all orders of two and of three quantities, counted one by one;
// the first one may keep its order.
func TestCommonCumulantsAgainstAllOrders(t *testing.T) {
	for i, shape := range statstest.ShapeNames {
		g := statstest.Generator(uint64(50 + i))
		for _, n := range []int{3, 4} {
			side := [][]float64{statstest.Draw(g, shape, n), statstest.Draw(g, shape, n), statstest.Draw(g, shape, n)}
			weights := []float64{1, 2.5, 0.5}
			var all []float64
			numeric.Permute(side[1], n, func() {
				numeric.Permute(side[2], n, func() {
					_, seen := commonCumulants(side, weights)
					all = append(all, seen)
				})
			})
			c, _ := commonCumulants(side, weights)
			sameMoments(t, shape, c, all)
		}
	}
}

// Where the limit begins it gives the p that drawing gives, within the error
// of drawing and a tenth for the fit.
func TestCommonLimitAgainstDrawing(t *testing.T) {
	statstest.FullTier(t, "2,000 orders for each p")
	if statstest.RaceEnabled {
		t.Skip("draws for long, and nothing runs at the same time")
	}
	const draws = 1999
	for i, shape := range statstest.ShapeNames {
		for j, quantities := range []int{2, 8} {
			g := statstest.Generator(uint64(60 + 10*i + j))
			compared := 0
			for range 6 {
				var side [][]float64
				var weights []float64
				luck := statstest.Draw(g, "normal", limitFrom)
				share := 0.08 / math.Sqrt(float64(quantities))
				for q := range quantities {
					row := statstest.Draw(g, shape, limitFrom)
					for k := range row {
						row[k] += share * luck[k]
					}
					side, weights = append(side, row), append(weights, 1+float64(q%3))
				}
				sides := [][][]float64{side}
				limit, observed := commonLimit(sides, weights)
				if !limit.near() {
					continue
				}
				compared++
				drawn, got := drawnCommonEffect(sides, weights, draws, 7), limit.pearsonTail(observed)
				if math.Abs(got-drawn) > 3*statstest.StandardError(got, draws)+0.1*got {
					t.Errorf("%s, %d quantities: p %v drawn, %v by the limit", shape, quantities, drawn, got)
				}
			}
			t.Logf("%s, %d quantities: %d of 6 by the limit", shape, quantities, compared)
		}
	}
}

// Runs of several benchmarks, at the sizes that speed is stated for and where
// the limit serves.
func BenchmarkCommonEffect(b *testing.B) {
	for _, n := range []int{5, 30, 300, 3000} {
		sides, weights := luckySides(1, 8, n, 0)
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				CommonEffect(sides, weights, 199, 1)
			}
		})
	}
}
