package stats

import (
	"math"
	"testing"
)

// luckySides draws two sides of runs whose quantities share a part of their
// variance.
func luckySides(seed uint64, quantities, runs int, shared float64) ([][][]float64, []float64) {
	g := generator(seed)
	var sides [][][]float64
	var weights []float64
	for range quantities {
		weights = append(weights, 1)
	}
	for range 2 {
		luck := draw(g, "normal", runs)
		var side [][]float64
		for range quantities {
			row := draw(g, "normal", runs)
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
func TestSharedLuck(t *testing.T) {
	n := 400
	for _, tt := range []struct {
		quantities, runs int
		shared           float64
		least, most      float64 // share called at 10 %
	}{{8, 3, 0, 0.06, 0.14}, {6, 6, 0, 0.06, 0.14}, {8, 3, 0.5, 0.75, 1}, {6, 6, 0.5, 0.9, 1}, {6, 10, 0.5, 0.97, 1}} {
		called := 0
		for r := range n {
			sides, w := luckySides(uint64(r), tt.quantities, tt.runs, tt.shared)
			if SharedLuck(sides, w, 199, 1) <= 0.1 {
				called++
			}
		}
		share := float64(called) / float64(n)
		t.Logf("%d quantities, %d runs, %v shared: called %.1f %%", tt.quantities, tt.runs, tt.shared, 100*share)
		if share < tt.least || share > tt.most {
			t.Errorf("%d quantities, %d runs, %v shared: called %.1f %%", tt.quantities, tt.runs, tt.shared, 100*share)
		}
	}
	if p := SharedLuck([][][]float64{{{1, 2}, {1, 2}}}, []float64{1, 1}, 99, 1); p != 1 {
		t.Errorf("two runs show nothing, p = %v", p)
	}
}
