package stats

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// plainBootstrap is the percentile bootstrap as a textbook has it, for ascending
// samples: every resample's median difference, in order.
func plainBootstrap(x, y []float64, resamples int, seed uint64, tail float64) (lo, hi float64) {
	medians := make([]float64, resamples)
	cx, cy := make([]uint16, len(x)), make([]uint16, len(y))
	var g *rand.PCG
	for r := range medians {
		if r%chunkSize == 0 {
			g = rand.NewPCG(seed, uint64(r/chunkSize))
		}
		drawCounts(g, cx)
		drawCounts(g, cy)
		medians[r] = medianDifference(timesEach(x, cx), timesEach(y, cy))
	}
	slices.Sort(medians)
	cut := int(tail * float64(resamples))
	return medians[cut], medians[resamples-1-cut]
}

func timesEach(x []float64, times []uint16) (out []float64) {
	for i, v := range x {
		out = append(out, slices.Repeat([]float64{v}, int(times[i]))...)
	}
	return out
}

// percentileInterval is the bootstrap's own interval, which ChangeInterval has a
// part of.
func percentileInterval(before, after []float64, resamples int, seed uint64, tail float64) (lo, hi float64) {
	x, y := sorted(before), sorted(after)
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
	g := generator(75)
	reached := 0
	for _, size := range [][2]int{{7, 7}, {12, 9}, {9, 30}, {30, 30}, {60, 60}, {100, 100}, {300, 300}} {
		if raceEnabled && size[0] > 60 {
			continue
		}
		for _, step := range []float64{0, 0.5, 2} {
			x, y := sorted(draw(g, "skew", size[0])), sorted(draw(g, "outlier", size[1]))
			if step > 0 {
				x, y = rounded(x, step), rounded(y, step)
			}
			if newDistinct(x).resamples()*newDistinct(y).resamples() <= enumerationLimit {
				continue // TestBootstrapAgainstListing has them
			}
			if swapFirst(x, y) {
				x, y = y, x
			}
			for _, tail := range []float64{0.005, 0.025, 0.2} {
				lo, hi := plainBootstrap(x, y, resamples, 5, tail)
				centre := medianDifference(x, y)
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
	g := generator(76)
	for _, size := range [][2]int{{4, 4}, {5, 5}, {6, 6}, {3, 9}} {
		for _, step := range []float64{0, 0.5} {
			x, y := draw(g, "skew", size[0]), draw(g, "outlier", size[1])
			if step > 0 {
				x, y = rounded(x, step), rounded(y, step)
			}
			for _, sides := range [][2][]float64{{x, y}, {y, x}, {x, x}} {
				lo, hi := percentileInterval(sides[0], sides[1], 2000, 5, 0.025)
				if slices.Equal(sides[0], sides[1]) {
					lo, hi = -mid(hi, -lo), mid(hi, -lo)
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
	g := generator(4)
	for _, size := range [][2]int{{1, 3}, {2, 2}, {2, 3}, {3, 3}, {4, 3}, {2, 5}} {
		for _, step := range []float64{0, 0.5, 2} {
			x, y := draw(g, "normal", size[0]), draw(g, "skew", size[1])
			if step > 0 {
				x, y = rounded(x, step), rounded(y, step)
			}
			var all []float64
			eachResample(x, func(rx []float64) {
				rx = slices.Clone(rx)
				eachResample(y, func(ry []float64) { all = append(all, middle(allDifferences(rx, ry))) })
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

// Drawn resamples follow the distribution that enumeration lists, within five
// Monte-Carlo standard errors.
func TestListingAgainstDrawing(t *testing.T) {
	for i, step := range []float64{0, 0.5} {
		g := generator(5 + uint64(i))
		x, y := sorted(draw(g, "normal", 5)), sorted(draw(g, "outlier", 5))
		if step > 0 {
			x, y = rounded(x, step), rounded(y, step)
		}
		w, r := newPairWalk(x, y, 5, 5), resample{make([]uint16, 5), make([]uint16, 6), 1}
		drawn := make([]float64, 200_000)
		src := rand.NewPCG(6, 0)
		for i := range drawn {
			drawCounts(src, r.x)
			drawBelow(src, r.below)
			drawn[i] = w.medianOf(r)
		}
		slices.Sort(drawn)
		n := float64(len(drawn))
		for _, tail := range []float64{0.003, 0.025, 0.1, 0.4} {
			lo, hi := newBootstrap(x, y, 1, 0, tail).interval()
			within := 5 * math.Sqrt(tail*(1-tail)/n)
			below, _ := slices.BinarySearch(drawn, lo)
			upTo, _ := slices.BinarySearch(drawn, math.Nextafter(lo, math.Inf(1)))
			if float64(below)/n > tail+within || float64(upTo)/n < tail-within {
				t.Errorf("grid %v: %v has %v of the draws below and %v up to it, want %v between",
					step, lo, float64(below)/n, float64(upTo)/n, tail)
			}
			below, _ = slices.BinarySearch(drawn, hi)
			upTo, _ = slices.BinarySearch(drawn, math.Nextafter(hi, math.Inf(1)))
			if 1-float64(upTo)/n > tail+within || 1-float64(below)/n < tail-within {
				t.Errorf("grid %v: %v has %v of the draws above and %v from it on, want %v between",
					step, hi, 1-float64(upTo)/n, 1-float64(below)/n, tail)
			}
		}
	}
}

// The walk over weighted pairs against the selection on the resample itself,
// which TestKthDifferenceAgainstAllPairs holds to all pairs.
func TestPairWalkMedian(t *testing.T) {
	g := generator(7)
	for _, size := range [][2]int{{1, 1}, {1, 9}, {2, 3}, {5, 8}, {30, 30}, {20, 140}, {100, 100}} {
		for _, step := range []float64{0, 0.125, 1} {
			x, y := draw(g, "normal", size[0]), draw(g, "bimodal", size[1])
			if step > 0 {
				x, y = rounded(x, step), rounded(y, step)
			}
			x, y = sorted(x), sorted(y)
			w := newPairWalk(x, y, len(x), len(y))
			check := func(what string, r resample) {
				t.Helper()
				cy := make([]uint16, len(y))
				for j := range cy {
					cy[j] = r.below[j+1] - r.below[j]
				}
				want := medianDifference(timesEach(x, r.x), timesEach(y, cy))
				if got := w.medianOf(r); got != want {
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
			src, r := rand.NewPCG(8, uint64(size[0])), resample{make([]uint16, len(x)), make([]uint16, len(y)+1), 1}
			for range 200 {
				drawCounts(src, r.x)
				drawBelow(src, r.below)
				check("drawn", r)
			}
			// As far out as a resample can lie.
			for _, ends := range [][2]int{{0, len(y) - 1}, {len(x) - 1, 0}} {
				clear(r.x)
				clear(r.below)
				r.x[ends[0]] = uint16(len(x))
				for j := ends[1] + 1; j < len(r.below); j++ {
					r.below[j] = uint16(len(y))
				}
				check("all of one value", r)
			}
			// Half of the weight to each end: the middle two ranks lie far apart.
			clear(r.x)
			r.x[len(x)/2] = uint16(len(x))
			for j := range y {
				r.below[j+1] = uint16(len(y) / 2)
			}
			r.below[0], r.below[len(y)] = 0, uint16(len(y))
			check("torn", r)
		}
	}
}

func TestSelectKth(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := anySample(t, "values", 1, 60, true)
		k := rapid.IntRange(0, len(x)-1).Draw(t, "k")
		if got, want := selectKth(slices.Clone(x), k), sorted(x)[k]; got != want {
			t.Fatalf("value %d of %v is %v, want %v", k, x, got, want)
		}
	})
}

// Each value must be drawn equally often, and each resample hold the full
// number: chi-squared on 9 degrees of freedom exceeds 33.7 once in 10,000
// (tables; R's qchisq(0.9999, 9)).
func TestDrawCounts(t *testing.T) {
	for _, size := range []int{10, 9} { // two draws a number, and one left over
		src := rand.NewPCG(9, 0)
		count, total := make([]uint16, size), make([]float64, size)
		const rounds = 20_000
		for range rounds {
			drawCounts(src, count)
			sum := uint16(0)
			for i, c := range count {
				sum += c
				total[i] += float64(c)
			}
			if int(sum) != size {
				t.Fatalf("%d values drawn, want %d", sum, size)
			}
		}
		chi := 0.0
		for _, c := range total {
			chi += (c - rounds) * (c - rounds) / rounds
		}
		if chi > 33.7 {
			t.Errorf("chi-squared of %d values is %v", size, chi)
		}
	}
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
				x, y := anySides(t, 2, 15, true)
				if len(x)+len(y) > 11 && rapid.IntRange(0, 19).Draw(t, "same values") == 0 {
					y = x
				}
				lo, hi, ok := interval(x, y)
				if lo > hi {
					t.Fatalf("[%v, %v]", lo, hi)
				}
				tlo, thi, tok := interval(y, x)
				same(t, "sides swapped", -thi, -tlo, tok, lo, hi, ok, 0)

				slo, shi, sok := interval(shuffled(t, x), shuffled(t, y))
				same(t, "values in another order", slo, shi, sok, lo, hi, ok, 0)

				shift := rapid.Float64Range(-1000, 1000).Draw(t, "shift")
				slo, shi, sok = interval(moved(x, 1, shift), moved(y, 1, shift))
				same(t, "a constant on both sides", slo, shi, sok, lo, hi, ok, 1e-9)
			})
		})
	}
}

// What metrics of the same sizes share is drawn once, whichever of them asks for
// it first; and another seed draws something else.
func TestBootstrapOfManyAtOnce(t *testing.T) {
	g := generator(12)
	x, y := sorted(draw(g, "outlier", 30)), sorted(draw(g, "bimodal", 30))
	const resamples = DefaultResamples + 137 // the last chunk is not full
	lo, hi := newBootstrap(x, y, resamples, 5, 0.025).interval()
	got := make([][2]float64, 8)
	onAllCores(len(got), func(k int) {
		for sizes := range 5 { // more than are kept
			newBootstrap(x[:25+sizes], y, resamples, 5, 0.025).interval()
		}
		got[k][0], got[k][1] = newBootstrap(x, y, resamples, 5, 0.025).interval()
	})
	for _, in := range got {
		if in != [2]float64{lo, hi} {
			t.Errorf("%v, want [%v, %v] as before", in, lo, hi)
		}
	}
	if otherLo, otherHi := newBootstrap(x, y, resamples, 6, 0.025).interval(); otherLo == lo && otherHi == hi {
		t.Error("another seed gives the same interval: nothing was drawn")
	}
}

// What DefaultResamples promises: the standard deviation of an end over seeds
// is at most 2 % of the interval's width, on average over data sets.
func TestMonteCarloError(t *testing.T) {
	sets, seeds := 6, 20
	if raceEnabled {
		sets, seeds = 1, 8
	}
	g := generator(13)
	total, cells := 0.0, 0
	for _, shape := range shapeNames {
		for _, n := range []int{7, 15, 30} {
			mean, worst := 0.0, 0.0
			for range sets {
				x, y := draw(g, shape, n), draw(g, shape, n)
				var ends [2][]float64
				width := 0.0
				for seed := range seeds {
					lo, hi := percentileInterval(x, y, DefaultResamples, uint64(seed), 0.025)
					ends[0], ends[1] = append(ends[0], lo), append(ends[1], hi)
					width += (hi - lo) / float64(seeds)
				}
				for _, e := range ends {
					share := math.Sqrt(variance(e)) / width
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
			g := generator(uint64(n))
			x, y := draw(g, "normal", n), draw(g, "normal", n)
			if step > 0 {
				x, y = rounded(x, step), rounded(y, step)
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

// What metrics of the same sizes share.
func BenchmarkResamples(b *testing.B) {
	for b.Loop() {
		newChunk(chunkKey{30, 30, chunkSize, 0, 1})
	}
}
