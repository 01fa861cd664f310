package check

import (
	"math"
	"testing"

	"tunegate/stats/internal/numeric"
)

// A gamma distribution of shape k has mean and variance k and third cumulant
// 2k, so its own tail comes back: of exponential noise exp(-x), of the sum of
// two exp(-x) (1 + x) (algebra). Without skewness it is the normal tail, 0.025
// at 1.959964 (tables), and between the two nothing jumps.
func TestPearsonTail(t *testing.T) {
	for _, c := range []struct {
		cumulants
		observed, want float64
	}{
		{cumulants{mean: 1, variance: 1, third: 2}, 3, math.Exp(-3)},
		{cumulants{mean: 2, variance: 2, third: 4}, 5, 6 * math.Exp(-5)},
		{cumulants{mean: -2, variance: 2, third: -4}, -5, 1 - 6*math.Exp(-5)},
		{cumulants{mean: 7, variance: 4}, 7 + 2*1.959963984540054, 0.025},
		{cumulants{mean: 1, variance: 1, third: 2}, -1, 1},
		{cumulants{mean: 1, variance: 1, third: 2}, 90, 1e-4}, // never below a drawn one
	} {
		if got := c.pearsonTail(c.observed); math.Abs(got-c.want) > 1e-10 {
			t.Errorf("%+v beyond %v: %v, want %v", c.cumulants, c.observed, got, c.want)
		}
	}
	for _, z := range []float64{-2, 0, 1.5, 3} {
		for _, sign := range []float64{-1, 1} {
			skewed := cumulants{variance: 1, third: sign * 1.0001e-4}.pearsonTail(z)
			if plain := numeric.NormalCDF(-z); math.Abs(skewed-plain) > 5e-4*plain {
				t.Errorf("z = %v: %v with next to no skewness, %v without", z, skewed, plain)
			}
		}
	}
}

// momentsOf are mean, variance and third cumulant of equally likely values.
func momentsOf(x []float64) (mean, variance, third float64) {
	for _, v := range x {
		mean += v / float64(len(x))
	}
	for _, v := range x {
		variance += (v - mean) * (v - mean) / float64(len(x))
		third += (v - mean) * (v - mean) * (v - mean) / float64(len(x))
	}
	return mean, variance, third
}

func sameMoments(t *testing.T, what string, got cumulants, all []float64) {
	t.Helper()
	mean, variance, third := momentsOf(all)
	scale := math.Sqrt(variance) + math.Abs(mean) + 1e-300
	for _, c := range [][3]float64{{got.mean, mean, scale}, {got.variance, variance, scale * scale},
		{got.third, third, scale * scale * scale}} {
		if math.Abs(c[0]-c[1]) > 1e-10*c[2] {
			t.Errorf("%s: mean, variance, third %v, want %v %v %v", what, got, mean, variance, third)
			return
		}
	}
}
