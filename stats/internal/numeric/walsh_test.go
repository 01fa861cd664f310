package numeric

import (
	"sort"
	"testing"

	"pgregory.net/rapid"

	"tunegate/stats/internal/statstest"
)

// walshAverages lists all of them, ascending.
func walshAverages(d []float64) (w []float64) {
	for i, a := range d {
		for _, b := range d[i:] {
			w = append(w, Mid(a, b))
		}
	}
	sort.Float64s(w)
	return w
}

// Every rank, to the last bit, of sizes on both sides of what is listed, and ties
// from none to nearly all.
func TestKthWalshAgainstListing(t *testing.T) { // counting
	g := statstest.Generator(4)
	for _, n := range []int{1, 2, 3, 8, 22, 23, 40, 150} {
		for _, step := range []float64{0, 0.25, 1, 8} {
			d := Sorted(statstest.Draw(g, "outlier", n))
			if step > 0 {
				d = statstest.Rounded(d, step)
			}
			all := walshAverages(d)
			for k, want := range all {
				if got := KthWalsh(d, k+1); got != want {
					t.Fatalf("%d values, grid %v: average %d of %d is %v, want %v", n, step, k+1, len(all), got, want)
				}
			}
			if got, want := MiddleWalsh(d), Middle(all); got != want {
				t.Errorf("%d values, grid %v: the median is %v, want %v", n, step, got, want)
			}
		}
	}
}

func TestKthWalshOfAnyValues(t *testing.T) { // counting
	rapid.Check(t, func(t *rapid.T) {
		d := Sorted(statstest.AnySample(t, "values", 1, 120, true))
		all := walshAverages(d)
		k := rapid.IntRange(1, len(all)).Draw(t, "rank")
		if got := KthWalsh(d, k); got != all[k-1] {
			t.Fatalf("average %d of %v is %v, want %v", k, d, got, all[k-1])
		}
		if got, want := MiddleWalsh(d), Middle(all); got != want {
			t.Fatalf("the median of %v is %v, want %v", d, got, want)
		}
	})
}
