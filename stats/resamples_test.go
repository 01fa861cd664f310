package stats

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"tunegate/stats/internal/numeric"
	"tunegate/stats/internal/statstest"
)

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

// Drawn resamples follow the distribution that enumeration lists, within five
// Monte-Carlo standard errors.
func TestListingAgainstDrawing(t *testing.T) {
	for i, step := range []float64{0, 0.5} {
		g := statstest.Generator(5 + uint64(i))
		x, y := numeric.Sorted(statstest.Draw(g, "normal", 5)), numeric.Sorted(statstest.Draw(g, "outlier", 5))
		if step > 0 {
			x, y = statstest.Rounded(x, step), statstest.Rounded(y, step)
		}
		w, r := newPairWalk(x, y, 5, 5), resample{make([]uint16, 6), make([]uint16, 6), 1}
		drawn := make([]float64, 200_000)
		src := rand.NewPCG(6, 0)
		for i := range drawn {
			drawBelow(src, r.x)
			drawBelow(src, r.y)
			drawn[i] = medianOf(w, r, w.centre())
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

// What metrics of the same sizes share is drawn once, whichever of them asks for
// it first; and another seed draws something else.
func TestBootstrapOfManyAtOnce(t *testing.T) {
	g := statstest.Generator(12)
	x, y := numeric.Sorted(statstest.Draw(g, "outlier", 30)), numeric.Sorted(statstest.Draw(g, "bimodal", 30))
	const resamples = DefaultResamples + 137 // the last chunk is not full
	lo, hi := newBootstrap(x, y, resamples, 5, 0.025).interval()
	got := make([][2]float64, 8)
	numeric.OnAllCores(len(got), func(k int) {
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

// Weights within bounds are those of the plain sums, in whatever parts they are bounded.
func TestWeighed(t *testing.T) {
	g := statstest.Generator(13)
	for _, c := range []chunkKey{{4, 9, 1000, 0, 1}, {10, 10, 1000, 2, 1}, {16, 16, 137, 1, 5}, {1, 256, 30, 0, 2}, {3, 2, 1, 0, 3}, {30, 31, 200, 0, 3}, {17, 16, 50, 0, 4}, {100, 327, 9, 0, 4}, {200, 200, 9, 0, 4}} {
		chunk := newChunk(c)
		for range 20 {
			place := make([]uint16, c.m)
			for i := range place {
				place[i] = uint16(g.IntN(c.n + 1))
			}
			slices.Sort(place)
			total := c.m * c.n
			middle := g.IntN(total + 1)
			for _, bounds := range [][2]int{{0, total}, {middle, total}, {0, middle}, {middle, min(middle+2, total)}, {total, total}, {0, 0}} {
				var want []int32
				for k := range c.count {
					r, weight := chunk.resample(k), 0
					for i, before := range place {
						for j := range int(before) {
							weight += int(r.x[i+1]-r.x[i]) * int(r.y[j+1]-r.y[j])
						}
					}
					if weight >= bounds[0] && weight <= bounds[1] {
						want = append(want, int32(weight))
					}
				}
				var got []int32
				for _, w := range chunk.add(nil, newWeighing(place, c.n, bounds[0], bounds[1]), make([]uint64, chunkSize)) {
					got = append(got, w.weight)
				}
				if !slices.Equal(got, want) {
					t.Fatalf("%v, %v within %v: %v, want %v", c, place, bounds, got, want)
				}
			}
		}
	}
}

// What metrics of the same sizes share.
func BenchmarkResamples(b *testing.B) {
	for b.Loop() {
		newChunk(chunkKey{30, 30, chunkSize, 0, 1})
	}
}
