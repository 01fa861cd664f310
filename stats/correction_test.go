package stats

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"tunegate/stats/internal/numeric"
)

func TestCorrections(t *testing.T) { // by hand
	for _, c := range []struct{ p, holm, bh []float64 }{
		{nil, []float64{}, []float64{}},
		{[]float64{0.03}, []float64{0.03}, []float64{0.03}},
		{[]float64{0.04, 0.01}, []float64{0.04, 0.02}, []float64{0.04, 0.02}},
		// Holm: 3 x 0.01, 2 x 0.02, then not below that; step-up: 3/1 x 0.01, 3/2 x 0.02, 0.03.
		{[]float64{0.03, 0.01, 0.02}, []float64{0.04, 0.03, 0.04}, []float64{0.03, 0.03, 0.03}},
		{[]float64{0.5, 0.9, 0.4}, []float64{1, 1, 1}, []float64{0.75, 0.9, 0.75}},
		{[]float64{1, 0, 1}, []float64{1, 0, 1}, []float64{1, 0, 1}},
	} {
		near := func(a, b float64) bool { return math.Abs(a-b) < 1e-15 }
		if got := Holm(c.p); len(got) != len(c.holm) || !slices.EqualFunc(got, c.holm, near) {
			t.Errorf("Holm(%v) = %v, want %v", c.p, got, c.holm)
		}
		if got := BenjaminiHochberg(c.p); len(got) != len(c.bh) || !slices.EqualFunc(got, c.bh, near) {
			t.Errorf("BenjaminiHochberg(%v) = %v, want %v", c.p, got, c.bh)
		}
	}
}

// By hand: shares of 1/4 and 3/4. 0.02 over 1 is less than 0.09 over 3, and takes 4 times
// itself; what is left of the weights is the other's own.
func TestWeightedHolm(t *testing.T) {
	got := WeightedHolm([]float64{0.09, 0.02}, []float64{3, 1})
	if want := []float64{0.09, 0.08}; !slices.EqualFunc(got, want, func(a, b float64) bool { return math.Abs(a-b) < 1e-15 }) {
		t.Errorf("%v, want %v", got, want)
	}
	// An adjusted p does not fall in the order in which tests are taken.
	if got := WeightedHolm([]float64{0.03, 0.02}, []float64{3, 1}); got[0] != 0.04 || got[1] != 0.04 {
		t.Errorf("%v, want 0.04 for both", got)
	}
}

// Both by their definitions: Holm rejects, at level a, the smallest p values as
// long as each holds (m-k) p <= a; Benjamini and Hochberg all up to the last
// that holds m p <= k a. An adjusted p is the smallest level that rejects.
func TestCorrectionsReject(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := rapid.SliceOfN(rapid.Float64Range(0, 1), 1, 12).Draw(t, "p")
		level := rapid.SampledFrom([]float64{0.01, 0.05, 0.1, 0.5}).Draw(t, "level")
		given := slices.Clone(p)
		holm, bh := Holm(p), BenjaminiHochberg(p)
		if !slices.Equal(p, given) {
			t.Fatal("the argument was changed")
		}
		s := numeric.Sorted(p)
		m := float64(len(p))
		stop, last := math.Inf(1), -1.0 // first p that Holm keeps; last that the other rejects
		for k, v := range s {
			if (m-float64(k))*v > level && v < stop {
				stop = v
			}
			if m*v/float64(k+1) <= level {
				last = v
			}
		}
		for i, v := range p {
			if math.Abs(holm[i]-level) > 1e-12 && (holm[i] <= level) != (v < stop) {
				t.Fatalf("Holm at %v: %v of %v becomes %v", level, v, s, holm[i])
			}
			if math.Abs(bh[i]-level) > 1e-12 && (bh[i] <= level) != (v <= last) {
				t.Fatalf("Benjamini-Hochberg at %v: %v of %v becomes %v", level, v, s, bh[i])
			}
			if bh[i] > holm[i]+1e-15 || bh[i] < v || holm[i] > 1 {
				t.Fatalf("%v becomes %v and %v", v, holm[i], bh[i])
			}
		}
	})
}
