package stats

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"tunegate/stats/internal/statstest"
)

// bruteQuantile is the definition: the smallest value with at least the share p
// of the weight at or below it.
func bruteQuantile(values, weights []float64, p float64) float64 {
	order := make([]int, len(values))
	total := 0.0
	for i := range order {
		order[i] = i
		total += weights[i]
	}
	slices.SortFunc(order, func(a, b int) int {
		switch {
		case values[a] < values[b]:
			return -1
		case values[a] > values[b]:
			return 1
		}
		return 0
	})
	below := 0.0
	for _, i := range order {
		if below += weights[i]; below >= p*total*(1-1e-12) {
			return values[i]
		}
	}
	return values[order[len(order)-1]]
}

func quantiles(values, weights []float64) *WeightedQuantiles {
	var q WeightedQuantiles
	for i, v := range values {
		q.Add(v, weights[i])
	}
	return &q
}

// Worked by hand. 100 W for 6 s, 200 W for 3 s, 300 W for 1 s: half of the time
// is at or below 100, nine tenths at or below 200.
func TestWeightedQuantilesByHand(t *testing.T) {
	q := quantiles([]float64{300, 100, 200, 100}, []float64{1, 2, 3, 4})
	for p, want := range map[float64]float64{0: 100, 0.5: 100, 0.6: 100, 0.61: 200, 0.9: 200, 0.95: 300, 1: 300} {
		if got, off := q.Quantile(p); got != want || off != 0 {
			t.Errorf("p = %v: %v, off by %v; want %v", p, got, off, want)
		}
	}
	if got, _ := (&WeightedQuantiles{}).Quantile(0.5); !math.IsNaN(got) {
		t.Errorf("of nothing: %v, want NaN", got)
	}
	q.Add(1, 0)
	q.Add(1, -1)
	q.Add(1, math.NaN())
	if got, _ := q.Quantile(0); got != 100 {
		t.Errorf("a weight of zero or less counts: %v", got)
	}
}

// With equal weights: R's quantile(c(2,4,4,5,7,9,11,12,13), p, type = 1), which
// is sort(x)[ceiling(n p)] (Hyndman and Fan 1996, definition 1).
func TestWeightedQuantilesHyndmanFan(t *testing.T) {
	x := []float64{13, 2, 4, 9, 4, 12, 5, 11, 7}
	ones := slices.Repeat([]float64{1}, len(x))
	for p, want := range map[float64]float64{0.1: 2, 0.25: 4, 0.5: 7, 0.75: 11, 0.9: 13, 0.95: 13} {
		if got, _ := quantiles(x, ones).Quantile(p); got != want {
			t.Errorf("p = %v: %v, want %v", p, got, want)
		}
	}
}

// Readings in steps are exact however many they are; others stay within what
// they say and within 0.025 % of the range, whatever the noise looks like and
// in whatever order they come.
func TestWeightedQuantilesBound(t *testing.T) {
	g := statstest.Generator(864)
	const n = 60_000
	for _, c := range []struct {
		name  string
		value func(i int) float64
		exact bool
	}{
		{"steps of 0.1", func(int) float64 { return math.Round(1800+200*g.NormFloat64()) / 10 }, true},
		{"normal", func(int) float64 { return 180 + 20*g.NormFloat64() }, false},
		{"skewed", func(int) float64 { return 60 + 5*g.ExpFloat64() }, false},
		{"about zero", func(int) float64 { return g.NormFloat64() * 1e-3 }, false},
		{"rising", func(i int) float64 { return 1e6 + math.Sqrt(float64(i)) }, false},
		{"falling", func(i int) float64 { return -1e-7 * float64(i) }, false},
		{"far apart", func(i int) float64 { return math.Exp(20 * g.NormFloat64()) }, false},
	} {
		values, weights := make([]float64, n), make([]float64, n)
		for i := range values {
			values[i], weights[i] = c.value(i), 0.05+0.1*g.Float64()
		}
		q := quantiles(values, weights)
		if len(q.weights) > maxBins {
			t.Errorf("%s: %d bins", c.name, len(q.weights))
		}
		reach := slices.Max(values) - slices.Min(values)
		for _, p := range []float64{0.001, 0.05, 0.5, 0.9, 0.95, 0.99, 0.999} {
			got, off := q.Quantile(p)
			want := bruteQuantile(values, weights, p)
			if math.Abs(got-want) > off*(1+1e-9) || off > 0.00025*reach || c.exact && off != 0 {
				t.Errorf("%s, p = %v: %v, off by at most %v; want %v", c.name, p, got, off, want)
			}
		}
	}
}

func TestWeightedQuantilesProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 40).Draw(t, "n")
		values := rapid.SliceOfN(rapid.Float64Range(-100, 100), n, n).Draw(t, "values")
		weights := rapid.SliceOfN(rapid.Float64Range(0.001, 10), n, n).Draw(t, "weights")
		p := rapid.Float64Range(0, 1).Draw(t, "p")
		got, off := quantiles(values, weights).Quantile(p)
		if want := bruteQuantile(values, weights, p); got != want || off != 0 {
			t.Errorf("%v, off by %v; want %v", got, off, want)
		}
	})
}
