package stats

import (
	"fmt"
	"math"
	"slices"
	"testing"
)

// The ends that come from the tails alone are those of all medians, whatever
// the guess: fine and coarse values, drawn and enumerated, tails of any size.
func TestTailsAgainstAllMedians(t *testing.T) {
	g := generator(80)
	wrong := 0
	for _, size := range [][2]int{{4, 5}, {6, 6}, {7, 8}, {9, 30}, {30, 30}, {120, 100}} {
		for _, step := range []float64{0, 0.5, 2} {
			x, y := draw(g, "skew", size[0]), draw(g, "bimodal", size[1])
			if step > 0 {
				x, y = rounded(x, step), rounded(y, step)
			}
			x, y = sorted(x), sorted(y)
			w := newPairWalk(x, y)
			name := fmt.Sprintf("%v values, grid %v", size, step)
			listed := resamplesOf(w.x)*resamplesOf(w.y) <= enumerationLimit
			var xs, ys []multiset
			if listed {
				xs, ys = multisets(w.x), multisets(w.y)
			}
			for _, tail := range []float64{0.0001, 0.013, 0.025, 0.2, 0.45} {
				lo, hi := bootstrapOrdered(x, y, 3000, 7, tail)
				var wantLo, wantHi float64
				if listed { // everything at once, without a guess
					var all []likely
					sum := 0.0
					for _, x := range xs {
						for _, y := range ys {
							all = append(all, likely{w.median(x.count, y.below), x.probability * y.probability})
							sum += x.probability * y.probability
						}
					}
					if math.Abs(sum-1) > 1e-9 {
						t.Fatalf("%s: all resamples have probability %v", name, sum)
					}
					wantLo, _ = quantileOf(all, tail, 1)
					wantHi, _ = quantileOf(all, tail, -1)
				} else {
					drawn := drawnResamples(resampling{len(x), len(y), 3000, 7})
					all, highs := w.drawnTails(drawn, everything)
					if len(all) != 3000 || len(highs) != 3000 {
						t.Fatalf("%s: %d and %d medians of 3000", name, len(all), len(highs))
					}
					slices.Sort(all)
					cut := int(tail * 3000)
					wantLo, wantHi = all[cut], all[2999-cut]
					if lows, _ := w.drawnTails(drawn, w.guess(drawn, guessDraws, tail)); len(lows) <= cut {
						wrong++
					}
				}
				if lo != wantLo || hi != wantHi {
					t.Errorf("%s, tail %v: [%v, %v], want [%v, %v] as from all medians", name, tail, lo, hi, wantLo, wantHi)
				}
			}
		}
	}
	if wrong > 2 {
		t.Errorf("%d guesses of tails were too small", wrong)
	}
}
