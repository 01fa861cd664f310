package stats

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"tunegate/stats/internal/numeric"
	"tunegate/stats/internal/statstest"
)

// plainBootstrap is the percentile bootstrap as a textbook has it, for ascending
// samples: every resample's median difference, in order.
func plainBootstrap(x, y []float64, resamples int, seed uint64, tail float64) (lo, hi float64) {
	medians := make([]float64, resamples)
	cx, cy := make([]uint16, len(x)+1), make([]uint16, len(y)+1)
	var g *rand.PCG
	for r := range medians {
		if r%chunkSize == 0 {
			g = rand.NewPCG(seed, uint64(r/chunkSize))
		}
		drawBelow(g, cx)
		drawBelow(g, cy)
		medians[r] = numeric.MedianDifference(timesEach(x, cx), timesEach(y, cy))
	}
	slices.Sort(medians)
	cut := int(tail * float64(resamples))
	return medians[cut], medians[resamples-1-cut]
}

func timesEach(x []float64, below []uint16) (out []float64) {
	for i, v := range x {
		out = append(out, slices.Repeat([]float64{v}, int(below[i+1]-below[i]))...)
	}
	return out
}

// percentileInterval is the bootstrap's own interval, which ChangeInterval has a
// part of.
func percentileInterval(before, after []float64, resamples int, seed uint64, tail float64) (lo, hi float64) {
	x, y := numeric.Sorted(before), numeric.Sorted(after)
	if swapFirst(x, y) {
		lo, hi = newBootstrap(y, x, resamples, seed, tail).interval()
		return -hi, -lo
	}
	return newBootstrap(x, y, resamples, seed, tail).interval()
}

// The fast way against the plain one, to the bit: fine and coarse values, in
// either order, intervals that the bootstrap reaches beyond and others.
func TestBootstrapAgainstThePlainOne(t *testing.T) {
	const resamples = 2100 // the last chunk is not full
	g := statstest.Generator(75)
	reached := 0
	for _, size := range [][2]int{{7, 7}, {12, 9}, {9, 30}, {30, 30}, {60, 60}, {100, 100}, {300, 300}} {
		if (statstest.RaceEnabled || testing.Short()) && size[0] > 60 {
			continue // the plain one takes seconds
		}
		for _, step := range []float64{0, 0.5, 2} {
			x, y := numeric.Sorted(statstest.Draw(g, "skew", size[0])), numeric.Sorted(statstest.Draw(g, "outlier", size[1]))
			if step > 0 {
				x, y = statstest.Rounded(x, step), statstest.Rounded(y, step)
			}
			if newDistinct(x).resamples()*newDistinct(y).resamples() <= enumerationLimit {
				continue // TestBootstrapAgainstListing has them
			}
			if swapFirst(x, y) {
				x, y = y, x
			}
			for _, tail := range []float64{0.005, 0.025, 0.2} {
				lo, hi := plainBootstrap(x, y, resamples, 5, tail)
				centre := numeric.MedianDifference(x, y)
				for _, share := range []float64{0, 0.9, 1.1} {
					in := Interval{Lo: centre - share*(centre-lo), Hi: centre + share*(hi-centre)}
					want := in.Including(lo).Including(hi)
					if got := in.includingBootstrap(x, y, resamples, 5, tail); got != want {
						t.Errorf("%v values, grid %v, tail %v, %v of the interval: %v, want %v", size, step, tail, share, got, want)
					}
					turned := Interval{Lo: -in.Hi, Hi: -in.Lo}.includingBootstrap(y, x, resamples, 5, tail)
					if turned.Lo != -want.Hi || turned.Hi != -want.Lo {
						t.Errorf("%v values, grid %v, tail %v, sides swapped: %v, want the mirror of %v", size, step, tail, turned, want)
					}
					if want != in {
						reached++
					}
				}
				if gotLo, gotHi := newBootstrap(x, y, resamples, 5, tail).interval(); gotLo != lo || gotHi != hi {
					t.Errorf("%v values, grid %v, tail %v: [%v, %v], want [%v, %v]", size, step, tail, gotLo, gotHi, lo, hi)
				}
			}
		}
	}
	if reached < 50 {
		t.Errorf("the bootstrap reached beyond in %d cases only", reached)
	}
}

// Small samples of equal sides, and with an interval to stretch, as if all
// resamples were known.
func TestListedBootstrapStretches(t *testing.T) {
	g := statstest.Generator(76)
	for _, size := range [][2]int{{4, 4}, {5, 5}, {6, 6}, {3, 9}} {
		for _, step := range []float64{0, 0.5} {
			x, y := statstest.Draw(g, "skew", size[0]), statstest.Draw(g, "outlier", size[1])
			if step > 0 {
				x, y = statstest.Rounded(x, step), statstest.Rounded(y, step)
			}
			for _, sides := range [][2][]float64{{x, y}, {y, x}, {x, x}} {
				lo, hi := percentileInterval(sides[0], sides[1], 2000, 5, 0.025)
				if slices.Equal(sides[0], sides[1]) {
					lo, hi = -numeric.Mid(hi, -lo), numeric.Mid(hi, -lo)
				}
				centre := HodgesLehmann(sides[0], sides[1])
				for _, share := range []float64{0, 0.9, 1.1} {
					in := Interval{Lo: centre - share*(centre-lo), Hi: centre + share*(hi-centre)}
					want := in.Including(lo).Including(hi)
					if got := in.includingBootstrap(sides[0], sides[1], 2000, 5, 0.025); got != want {
						t.Errorf("%v values, grid %v, %v of the interval: %v, want %v", size, step, share, got, want)
					}
				}
			}
		}
	}
}

// eachResample visits all n^n ways to draw n values with repeats.
func eachResample(x []float64, visit func([]float64)) {
	draw := make([]float64, len(x))
	var fill func(k int)
	fill = func(k int) {
		if k == len(x) {
			visit(draw)
			return
		}
		for _, v := range x {
			draw[k] = v
			fill(k + 1)
		}
	}
	fill(0)
}

func TestBootstrapAgainstListing(t *testing.T) { // counting
	g := statstest.Generator(4)
	for _, size := range [][2]int{{1, 3}, {2, 2}, {2, 3}, {3, 3}, {4, 3}, {2, 5}} {
		for _, step := range []float64{0, 0.5, 2} {
			x, y := statstest.Draw(g, "normal", size[0]), statstest.Draw(g, "skew", size[1])
			if step > 0 {
				x, y = statstest.Rounded(x, step), statstest.Rounded(y, step)
			}
			var all []float64
			eachResample(x, func(rx []float64) {
				rx = slices.Clone(rx)
				eachResample(y, func(ry []float64) { all = append(all, numeric.Middle(statstest.AllDifferences(rx, ry))) })
			})
			slices.Sort(all)
			for _, confidence := range []float64{0.5, 0.8, 0.95, 0.9999999} {
				cut := int((1 - confidence) / 2 * float64(len(all)))
				lo, hi := percentileInterval(x, y, 1, 0, (1-confidence)/2)
				if lo != all[cut] || hi != all[len(all)-1-cut] {
					t.Errorf("before %v, after %v at %v: [%v, %v], listed [%v, %v]",
						x, y, confidence, lo, hi, all[cut], all[len(all)-1-cut])
				}
			}
		}
	}
}

// The walk over weighted pairs against the selection on the resample itself,
// which TestKthDifferenceAgainstAllPairs holds to all pairs.
func TestPairWalkMedian(t *testing.T) {
	g := statstest.Generator(7)
	for _, size := range [][2]int{{1, 1}, {1, 9}, {2, 3}, {5, 8}, {30, 30}, {20, 140}, {100, 100}} {
		for _, step := range []float64{0, 0.125, 1} {
			x, y := statstest.Draw(g, "normal", size[0]), statstest.Draw(g, "bimodal", size[1])
			if step > 0 {
				x, y = statstest.Rounded(x, step), statstest.Rounded(y, step)
			}
			x, y = numeric.Sorted(x), numeric.Sorted(y)
			w := newPairWalk(x, y, len(x), len(y))
			check := func(what string, r resample) {
				t.Helper()
				want := numeric.MedianDifference(timesEach(x, r.x), timesEach(y, r.y))
				if got := medianOf(w, r, w.centre()); got != want {
					t.Fatalf("%v values, grid %v, %s: median %v, want %v", size, step, what, got, want)
				}
				// From either end of the differences.
				if got := w.median(r, 0, 0); got != want {
					t.Fatalf("%v values, grid %v, %s: median %v from below, want %v", size, step, what, got, want)
				}
				if got := w.median(r, len(w.pairs), len(x)*len(y)); got != want {
					t.Fatalf("%v values, grid %v, %s: median %v from above, want %v", size, step, what, got, want)
				}
			}
			src, r := rand.NewPCG(8, uint64(size[0])), resample{make([]uint16, len(x)+1), make([]uint16, len(y)+1), 1}
			for range 200 {
				drawBelow(src, r.x)
				drawBelow(src, r.y)
				check("drawn", r)
			}
			// As far out as a resample can lie.
			for _, ends := range [][2]int{{0, len(y) - 1}, {len(x) - 1, 0}} {
				clear(r.x)
				clear(r.y)
				for i := ends[0] + 1; i < len(r.x); i++ {
					r.x[i] = uint16(len(x))
				}
				for j := ends[1] + 1; j < len(r.y); j++ {
					r.y[j] = uint16(len(y))
				}
				check("all of one value", r)
			}
			// Half of the weight to each end: the middle two ranks lie far apart.
			clear(r.x)
			for i := len(x)/2 + 1; i < len(r.x); i++ {
				r.x[i] = uint16(len(x))
			}
			for j := range y {
				r.y[j+1] = uint16(len(y) / 2)
			}
			r.y[0], r.y[len(y)] = 0, uint16(len(y))
			check("torn", r)
		}
	}
}

// medianOf looks for the median difference of a resample from a place on.
func medianOf(w *pairWalk, r resample, from place) float64 {
	return w.median(r, from.pairs, newWeighing(from.y, len(w.y), 0, w.weight).of(r))
}

func TestBootstrapProperties(t *testing.T) {
	intervals := map[string]func(x, y []float64) (lo, hi float64, ok bool){
		"percentile": func(x, y []float64) (float64, float64, bool) {
			in := Interval{Lo: math.Inf(1), Hi: math.Inf(-1)}.includingBootstrap(x, y, 500, 3, 0.025)
			return in.Lo, in.Hi, true
		},
		"change": func(x, y []float64) (float64, float64, bool) {
			in, ok := ChangeInterval(x, y, 0.95, 500, 3)
			return in.Lo, in.Hi, ok
		},
		"spread": func(x, y []float64) (float64, float64, bool) { return SpreadInversion(x, y, 0.95) },
		"placement": func(x, y []float64) (float64, float64, bool) {
			lo, hi := placementInterval(x, y, 0.95)
			return lo, hi, true
		},
	}
	for name, interval := range intervals {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			same := func(t *rapid.T, what string, lo, hi float64, ok bool, wantLo, wantHi float64, wantOK bool, within float64) {
				if ok != wantOK || ok && !(math.Abs(lo-wantLo) <= within && math.Abs(hi-wantHi) <= within) {
					t.Fatalf("%s: [%v, %v], %v, want [%v, %v], %v", what, lo, hi, ok, wantLo, wantHi, wantOK)
				}
			}
			rapid.Check(t, func(t *rapid.T) {
				x, y := statstest.AnySides(t, 2, 15, true)
				if len(x)+len(y) > 11 && rapid.IntRange(0, 19).Draw(t, "same values") == 0 {
					y = x
				}
				lo, hi, ok := interval(x, y)
				if lo > hi {
					t.Fatalf("[%v, %v]", lo, hi)
				}
				tlo, thi, tok := interval(y, x)
				same(t, "sides swapped", -thi, -tlo, tok, lo, hi, ok, 0)

				slo, shi, sok := interval(statstest.Shuffled(t, x), statstest.Shuffled(t, y))
				same(t, "values in another order", slo, shi, sok, lo, hi, ok, 0)

				shift := rapid.Float64Range(-1000, 1000).Draw(t, "shift")
				slo, shi, sok = interval(statstest.Moved(x, 1, shift), statstest.Moved(y, 1, shift))
				same(t, "a constant on both sides", slo, shi, sok, lo, hi, ok, 1e-9)
			})
		})
	}
}

// What DefaultResamples promises: the standard deviation of an end over seeds
// is at most 2 % of the interval's width, on average over data sets.
func TestMonteCarloError(t *testing.T) {
	statstest.FullTier(t, "a simulation")
	sets, seeds := 6, 20
	if statstest.RaceEnabled {
		sets, seeds = 1, 8
	}
	g := statstest.Generator(13)
	total, cells := 0.0, 0
	for _, shape := range statstest.ShapeNames {
		for _, n := range []int{7, 15, 30} {
			mean, worst := 0.0, 0.0
			for range sets {
				x, y := statstest.Draw(g, shape, n), statstest.Draw(g, shape, n)
				var ends [2][]float64
				width := 0.0
				for seed := range seeds {
					lo, hi := percentileInterval(x, y, DefaultResamples, uint64(seed), 0.025)
					ends[0], ends[1] = append(ends[0], lo), append(ends[1], hi)
					width += (hi - lo) / float64(seeds)
				}
				for _, e := range ends {
					share := math.Sqrt(numeric.Variance(e)) / width
					mean += share / float64(2*sets)
					worst = max(worst, share)
				}
			}
			t.Logf("%-8s %2d a side: %.2f %% of the width on average, at most %.2f %%", shape, n, 100*mean, 100*worst)
			total += mean
			cells++
		}
	}
	if mean := total / float64(cells); mean > 0.02 {
		t.Errorf("an end's Monte-Carlo error is %.2f %% of the width on average, want at most 2 %%", 100*mean)
	} else {
		t.Logf("on average %.2f %% of the width", 100*mean)
	}
}

func BenchmarkBootstrap(b *testing.B) {
	for _, n := range []int{4, 5, 6, 7, 10, 30, 60, 100} {
		for _, step := range []float64{0, 0.5} {
			g := statstest.Generator(uint64(n))
			x, y := statstest.Draw(g, "normal", n), statstest.Draw(g, "normal", n)
			if step > 0 {
				x, y = statstest.Rounded(x, step), statstest.Rounded(y, step)
			}
			b.Run(fmt.Sprintf("%d, grid %v", n, step), func(b *testing.B) {
				b.ReportAllocs()
				for b.Loop() {
					ChangeInterval(x, y, 0.95, DefaultResamples, 1)
				}
			})
		}
	}
}
