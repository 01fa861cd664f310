package plan

import (
	"math"
	"testing"
)

func TestLookConfidence(t *testing.T) {
	upper := func(z float64) float64 { return math.Erfc(z/math.Sqrt2) / 2 }
	quantile := func(p float64) float64 { return math.Sqrt2 * math.Erfinv(1-2*p) } // of the upper tail p
	// O'Brien-Fleming type spending, two looks at 5 %: by half of the runs
	// 4 (1 - Phi(z(alpha/4) / sqrt(1/2))) may be spent.
	first := 1 - LookConfidence(0.95, 1, 2)
	if want := 4 * upper(quantile(0.05/4)/math.Sqrt(0.5)); math.Abs(first-want) > 1e-9 {
		t.Errorf("first of two looks needs p of %.7f, want %.7f", first, want)
	}
	// The second spends the rest: z2 is passed where z1 was not, and both have a
	// correlation of sqrt(1/2). Midpoints over the first z.
	z1, z2 := quantile(first/2), quantile((1-LookConfidence(0.95, 2, 2))/2)
	const steps = 10_000
	h, second := 2*z1/steps, 0.0
	for i := range steps {
		x := -z1 + (float64(i)+0.5)*h
		mean := x * math.Sqrt(0.5) // and variance 1/2 of the second, given the first
		beyond := upper((z2-mean)/math.Sqrt(0.5)) + upper((z2+mean)/math.Sqrt(0.5))
		second += h * math.Exp(-x*x/2) / math.Sqrt(2*math.Pi) * beyond
	}
	if math.Abs(first+second-0.05) > 1e-7 {
		t.Errorf("two looks are wrong in %.7f and %.7f, want 0.05 together", first, second)
	}
}
