package stats

import (
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

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

func TestEnumerateAgainstListing(t *testing.T) { // counting
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
				lo, hi := PercentileInterval(x, y, confidence, 1, 0)
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
func TestEnumerateAgainstDrawing(t *testing.T) {
	for i, step := range []float64{0, 0.5} {
		g := generator(5 + uint64(i))
		x, y := sorted(draw(g, "normal", 5)), sorted(draw(g, "outlier", 5))
		if step > 0 {
			x, y = rounded(x, step), rounded(y, step)
		}
		w := newPairWalk(x, y)
		drawn := make([]float64, 200_000)
		f, table := w.newFold(), &resampleTable{resampling: resampling{m: 5, n: 5}}
		src, cx, below := rand.NewPCG(6, 0), make([]uint16, 5), make([]uint16, 6)
		for i := range drawn {
			table.draw(src, cx, below)
			drawn[i] = w.median(f.fold(cx, below))
		}
		slices.Sort(drawn)
		n := float64(len(drawn))
		for _, tail := range []float64{0.003, 0.025, 0.1, 0.4} {
			lo, hi := w.enumerate(tail)
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
	cut := 0
	g := generator(7)
	for _, size := range [][2]int{{1, 1}, {1, 9}, {2, 3}, {5, 8}, {30, 30}, {65, 65}, {20, 400}, {120, 150}, {250, 200}} {
		for _, step := range []float64{0, 0.125, 1} {
			x, y := draw(g, "normal", size[0]), draw(g, "bimodal", size[1])
			if step > 0 {
				x, y = rounded(x, step), rounded(y, step)
			}
			x, y = sorted(x), sorted(y)
			w := newPairWalk(x, y)
			f := w.newFold()
			px, py := make([]uint16, len(x)), make([]uint16, len(y)+1) // by position
			cx, cy := make([]uint16, len(w.x.value)), make([]uint16, len(w.y.value))
			if len(w.pairs) < len(w.x.value)*len(w.y.value) {
				cut++
			}
			check := func(what string) {
				t.Helper()
				rx, ry := expand(w.x.value, cx), expand(w.y.value, cy)
				if len(rx) != len(x) || len(ry) != len(y) {
					t.Fatalf("%v values: resample of %d and %d", size, len(rx), len(ry))
				}
				below := make([]uint16, len(cy)+1)
				for j, c := range cy {
					below[j+1] = below[j] + c
				}
				m := w.median(cx, below)
				if want := medianDifference(rx, ry); m != want {
					t.Fatalf("%v values, grid %v, %s: median %v, want %v", size, step, what, m, want)
				}
				// Bounds on one side, on the other and at the median itself.
				for b, want := range map[bounds]tail{{m, math.Inf(1)}: lower, {math.Inf(-1), m}: upper, {m, m}: either} {
					if got := w.tailOf(cx, below, w.placesOf(b)); got != want {
						t.Fatalf("%v values, grid %v, %s: median %v is in tail %d of %v, want %d", size, step, what, m, got, b, want)
					}
					if got := w.medianFrom(w.anchorNear(b.low), cx, below); got != m {
						t.Fatalf("%v values, grid %v, %s: median %v from elsewhere, want %v", size, step, what, got, m)
					}
				}
			}
			src := rand.NewPCG(8, uint64(size[0]))
			for range 200 {
				(&resampleTable{}).draw(src, px, py)
				clear(cx)
				clear(cy)
				for i, k := range w.x.at {
					cx[k] += px[i]
				}
				for j, k := range w.y.at {
					cy[k] += py[j+1] - py[j]
				}
				if fx, fbelow := f.fold(px, py); !slices.Equal(expand(w.x.value, fx), expand(w.x.value, cx)) || int(fbelow[len(cy)]) != len(y) {
					t.Fatalf("%v values, grid %v: folded to %v and %v", size, step, fx, fbelow)
				}
				check("drawn")
			}
			// As far out as a resample can lie: beyond any window.
			for _, ends := range [][2]int{{0, len(cy) - 1}, {len(cx) - 1, 0}} {
				clear(cx)
				clear(cy)
				cx[ends[0]], cy[ends[1]] = uint16(len(x)), uint16(len(y))
				check("all of one value")
			}
			// Half of the weight to each end: the middle two ranks lie far apart.
			clear(cx)
			clear(cy)
			cx[len(cx)/2] = uint16(len(x))
			cy[0] += uint16(len(y) / 2)
			cy[len(cy)-1] += uint16(len(y) - len(y)/2)
			check("torn")
		}
	}
	if cut < 3 {
		t.Errorf("the window was cut in %d cases only", cut)
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

// widenedTail by hand for equal spreads and sizes: variances 1 and 1, three a
// side: df = 4, k^2 = 3/2, t = 2.776 (any table of Student's t).
func TestWidenedTail(t *testing.T) {
	tail, ok := widenedTail([]float64{1, 2, 3}, []float64{11, 12, 13}, 0.95)
	want := math.Erfc(math.Pow(1.5, 0.25)*2.776445/math.Sqrt2) / 2
	if !ok || math.Abs(tail-want) > 1e-8 {
		t.Errorf("tail = %v, %v, want %v", tail, ok, want)
	}
	// One side constant: Welch's degrees of freedom are those of the other.
	tail, ok = widenedTail([]float64{5, 5, 5, 5, 5, 5, 5}, []float64{1, 2, 3}, 0.95)
	want = math.Erfc(math.Pow(1.5, 0.25)*4.302653/math.Sqrt2) / 2
	if !ok || math.Abs(tail-want) > 1e-8 {
		t.Errorf("one side constant: tail = %v, %v, want %v", tail, ok, want)
	}
	for _, c := range [][2][]float64{{{1}, {1, 2}}, {{1, 2}, {1}}, {{4, 4}, {5, 5, 5}}} {
		if _, ok := widenedTail(c[0], c[1], 0.95); ok {
			t.Errorf("%v and %v: ok", c[0], c[1])
		}
	}
	// Large samples: the plain percentile interval.
	x := draw(generator(10), "normal", 5000)
	if tail, _ := widenedTail(x, x, 0.95); math.Abs(tail-0.025) > 1e-4 {
		t.Errorf("5000 and 5000 values: tail = %v, want nearly 0.025", tail)
	}
}

// The scale of the values must not matter, up to where squares of variances
// leave the range of a float64.
func TestWidenedTailScale(t *testing.T) {
	x, y := []float64{1, 2, 4}, []float64{3, 7, 8, 9}
	want, _ := widenedTail(x, y, 0.95)
	for _, scale := range []float64{1e-150, 1e-90, 1e90, 1e150} {
		if got, ok := widenedTail(moved(x, scale, 0), moved(y, scale, 0), 0.95); !ok || !alike(got, want) {
			t.Errorf("scale %v: tail = %v, %v, want %v", scale, got, ok, want)
		}
	}
}

func TestBootstrapProperties(t *testing.T) {
	intervals := map[string]func(x, y []float64) (lo, hi float64, ok bool){
		"percentile": func(x, y []float64) (float64, float64, bool) {
			lo, hi := PercentileInterval(x, y, 0.95, 500, 3)
			return lo, hi, true
		},
		"widened": func(x, y []float64) (float64, float64, bool) { return WidenedInterval(x, y, 0.95, 500, 3) },
		"rank":    func(x, y []float64) (float64, float64, bool) { return RankInterval(x, y, 0.95) },
		"change": func(x, y []float64) (float64, float64, bool) {
			in, ok := ChangeInterval(x, y, 0.95, 500, 3)
			return in.Lo, in.Hi, ok
		},
		"spread": func(x, y []float64) (float64, float64, bool) { return SpreadInversion(x, y, 0.95) },
		"placement": func(x, y []float64) (float64, float64, bool) {
			lo, hi := PlacementInterval(x, y, 0.95)
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

// The same samples on both sides: swapping changes nothing, so the interval
// must mirror itself.
func TestBootstrapOfEqualSides(t *testing.T) {
	for _, n := range []int{3, 9, 40} {
		x := draw(generator(11), "skew", n)
		if lo, hi := PercentileInterval(x, x, 0.95, 1000, 1); lo != -hi {
			t.Errorf("%d values on both sides: [%v, %v]", n, lo, hi)
		}
	}
}

// Neither the number of cores nor chance may show: 300 and 300 values at the
// default number of resamples are shared among workers.
func TestBootstrapOnAnyCores(t *testing.T) {
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(0))
	g := generator(12)
	x, y := draw(g, "outlier", 300), draw(g, "bimodal", 300)
	resamples := DefaultResamples + 137 // the last chunk is not full
	if raceEnabled {
		resamples = 4000 + 137
	}
	var want [2]float64
	for _, cores := range []int{1, 2, 7} {
		runtime.GOMAXPROCS(cores)
		lo, hi := PercentileInterval(x, y, 0.95, resamples, 5)
		if cores == 1 {
			want = [2]float64{lo, hi}
		} else if lo != want[0] || hi != want[1] {
			t.Errorf("%d cores: [%v, %v], want %v as on one", cores, lo, hi, want)
		}
	}
	if lo, hi := PercentileInterval(x, y, 0.95, resamples, 6); lo == want[0] && hi == want[1] {
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
					lo, hi, _ := WidenedInterval(x, y, 0.95, DefaultResamples, uint64(seed))
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

func BenchmarkWidenedInterval(b *testing.B) {
	benchmarkSizes(b, func(x, y []float64) { WidenedInterval(x, y, 0.95, DefaultResamples, 1) })
}

// What metrics of the same sizes share.
func BenchmarkResamples(b *testing.B) {
	benchmarkSizes(b, func(x, y []float64) {
		t := &resampleTable{resampling: resampling{len(x), len(y), DefaultResamples, 1}}
		var space resampleSpace
		for c := range t.chunks() {
			t.chunk(c, &space)
		}
	})
}
