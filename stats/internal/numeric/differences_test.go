package numeric

import (
	"testing"

	"tunegate/stats/internal/statstest"
)

// Sizes on both sides of the 256 pairs that are listed, lopsided ones, and ties
// from none to nearly all.
func TestKthDifferenceAgainstAllPairs(t *testing.T) { // counting
	g := statstest.Generator(3)
	for _, size := range [][2]int{{1, 1}, {3, 4}, {16, 16}, {17, 16}, {1, 300}, {300, 1}, {2, 400}, {40, 40}, {64, 9}, {200, 300}} {
		for _, step := range []float64{0, 0.25, 1, 8} {
			x, y := Sorted(statstest.Draw(g, "outlier", size[0])), Sorted(statstest.Draw(g, "skew", size[1]))
			if step > 0 {
				x, y = statstest.Rounded(x, step), statstest.Rounded(y, step)
			}
			all := statstest.AllDifferences(x, y)
			ranks := []int{1, 2, len(all) / 4, len(all) / 3, (len(all) + 1) / 2, len(all)/2 + 1, len(all) - 1, len(all)}
			for range 20 {
				ranks = append(ranks, 1+g.IntN(len(all)))
			}
			for _, k := range ranks {
				if k < 1 || k > len(all) {
					continue
				}
				if got := KthDifference(x, y, k); got != all[k-1] {
					t.Fatalf("%v values, grid %v: difference %d of %d is %v, want %v", size, step, k, len(all), got, all[k-1])
				}
			}
			if got, want := MedianDifference(y, x), -Middle(all); got != want {
				t.Errorf("%v values, grid %v: the median is %v, want %v", size, step, got, want)
			}
		}
	}
}
