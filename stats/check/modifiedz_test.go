package check

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"tunegate/stats/internal/numeric"
	"tunegate/stats/internal/statstest"
)

func TestModifiedZByHand(t *testing.T) {
	// In order 2.9 3.1 3.2 3.2 3.3 3.3 3.5 3.7 8.1: median 3.3. Distances from it
	// in order 0 0 0.1 0.1 0.2 0.2 0.4 0.4 4.8: MAD 0.2. So the largest has
	// 0.6745 * 4.8 / 0.2 (the formula of Iglewicz and Hoaglin 1993).
	x := []float64{3.2, 3.3, 8.1, 3.2, 2.9, 3.7, 3.1, 3.5, 3.3}
	if got := numeric.MAD(x); math.Abs(got-0.2) > 1e-12 {
		t.Errorf("MAD = %v, want 0.2", got)
	}
	z := ModifiedZ(x)
	if math.Abs(z[2]-0.6745*4.8/0.2) > 1e-10 || z[1] != 0 {
		t.Errorf("modified z = %v, want 16.188 for 8.1 and 0 for 3.3", z)
	}
}

func TestModifiedZWithoutMAD(t *testing.T) {
	z := ModifiedZ([]float64{60, 60, 60, 61, 60, 60, 60, 60, 60, 60})
	want := 10 * math.Sqrt(2/math.Pi) // mean distance 1/10
	for i, got := range z {
		if i == 3 && math.Abs(got-want) > 1e-12 || i != 3 && got != 0 {
			t.Errorf("z[%d] = %v, want %v for the other value and 0 else", i, got, want)
		}
	}
	for _, got := range ModifiedZ([]float64{7, 7, 7}) {
		if got != 0 {
			t.Errorf("z = %v of a constant, want 0", got)
		}
	}
	for _, f := range []func(){func() { numeric.MAD(nil) }, func() { ModifiedZ(nil) }} {
		if !statstest.Panics(f) {
			t.Error("no values, no panic")
		}
	}
}

// In normal noise both forms are standard deviations, and the usual bar of 3.5
// is far from normal noise only: in 20 values of exponential noise it is passed
// more often than not, which is why Outlier exists.
func TestModifiedZIsForNormalNoise(t *testing.T) {
	g := statstest.Generator(360)
	x := statstest.Draw(g, "normal", 100_001)
	if got := numeric.MAD(x); math.Abs(got-0.6745) > 0.01 {
		t.Errorf("MAD of normal noise = %v, want 0.6745 standard deviations", got)
	}
	if got := numeric.Mean(numeric.Distances(x)); math.Abs(got-math.Sqrt(2/math.Pi)) > 0.01 {
		t.Errorf("mean distance = %v, want 0.798 standard deviations", got)
	}
	passed := func(shape string) float64 {
		count := 0
		for range 2000 {
			z := ModifiedZ(statstest.Draw(g, shape, 20))
			if math.Max(slices.Max(z), -slices.Min(z)) > 3.5 {
				count++
			}
		}
		return float64(count) / 2000
	}
	normal, skew := passed("normal"), passed("skew")
	t.Logf("3.5 is passed in %.0f %% of 20 normal and %.0f %% of 20 exponential values", 100*normal, 100*skew)
	if normal > 0.15 || skew < 0.5 {
		t.Errorf("3.5 is passed in %v and %v, want at most 0.15 and at least 0.5", normal, skew)
	}
}

func TestModifiedZProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := statstest.AnySample(t, "x", 1, 20, true)
		z, turned := ModifiedZ(x), ModifiedZ(statstest.Moved(x, -4, 0))
		for i := range z {
			if turned[i] != -z[i] && !(z[i] == 0 && turned[i] == 0) {
				t.Errorf("z = %v, turned and scaled %v", z, turned)
			}
		}
	})
}
