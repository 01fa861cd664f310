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

// The test by counting every assignment.
func TestPooledPermutationCountsAssignments(t *testing.T) {
	c := []Component{{[]float64{1, 4, 2}, []float64{3, 5}, 3}, {[]float64{2, 2}, []float64{1, 2, 7}, 1},
		{[]float64{9}, []float64{8, 10, 10}, 2}}
	var values [3][]float64
	at := 0.0
	for i, x := range c {
		pool := clipped(slices.Concat(x.Before, x.After))
		of := func(isAfter []bool) float64 {
			var sums, counts [2]float64
			for k, v := range pool {
				side := 0
				if isAfter[k] {
					side = 1
				}
				sums[side] += v
				counts[side]++
			}
			return x.Weight * (sums[1]/counts[1] - sums[0]/counts[0])
		}
		marks := make([]bool, len(pool))
		eachAssignment(marks, len(x.After), func() { values[i] = append(values[i], of(marks)) })
		for k := range marks {
			marks[k] = k >= len(x.Before)
		}
		at += of(marks)
	}
	var total, extreme, lower, upper float64
	for _, x := range values[0] {
		for _, y := range values[1] {
			for _, z := range values[2] {
				v := x + y + z
				total++
				if math.Abs(v) >= math.Abs(at)-1e-9 {
					extreme++
				}
				if v <= at+1e-9 {
					lower++
				}
				if v >= at-1e-9 {
					upper++
				}
			}
		}
	}
	got := PooledPermutation(c, 1000, 1)
	if !got.Exact || math.Abs(got.P-extreme/total) > 1e-12 {
		t.Errorf("p = %v (exact %v), want %v", got.P, got.Exact, extreme/total)
	}
	if want := math.Max(extreme/total, math.Min(1, 2*math.Min(lower, upper)/total)); math.Abs(got.PUsed-want) > 1e-12 {
		t.Errorf("verdict p = %v, want %v", got.PUsed, want)
	}
	// By hand: 5 of 6 pairs after > before; 2 ties and 2 of 6, so 3.5 less... by count.
	if want := (3*5.0/6 + 1*3.0/6 + 2*2.0/3) / 6; math.Abs(got.Superiority-want) > 1e-12 {
		t.Errorf("superiority %v, want %v", got.Superiority, want)
	}
}

// One large loss among many benchmarks is found, and a test of ranks alone
// would not: the suite's mean falls by two per cent, ranks say 1 of 8.
func TestPooledPermutationSeesOneLargeChange(t *testing.T) {
	g := statstest.Generator(12)
	found := 0
	for r := range 100 {
		var c []Component
		for i := range 8 {
			shift := 0.0
			if i == 0 {
				shift = -10
			}
			c = append(c, Component{statstest.Draw(g, "normal", 5), statstest.Moved(statstest.Draw(g, "normal", 5), 1, shift), 1})
		}
		if PooledPermutation(c, 2000, uint64(r)).PUsed <= 0.05 {
			found++
		}
	}
	if found < 85 {
		t.Errorf("found in %d of 100", found)
	}
}

// widenedTail is the share beyond each end of Hesterberg's expanded percentile
// interval (American Statistician 69:371-386, 2015): Phi(-sqrt(k) t), with t
// Student's quantile on Welch-Satterthwaite degrees of freedom and k^2 the
// unbiased variance of the difference of means over its plug-in variance.
func widenedTail(before, after []float64, confidence float64) float64 {
	m, n := float64(len(before)), float64(len(after))
	vb, va, df, _ := numeric.Welch(before, after)
	k := math.Sqrt((vb + va) / (vb*(m-1)/m + va*(n-1)/n))
	return numeric.NormalCDF(-math.Sqrt(k) * numeric.StudentQuantile((1+confidence)/2, df))
}

// With one component the pooled interval is the widened one, but for the
// Monte-Carlo error of either.
func TestPooledIntervalOfOneIsWidened(t *testing.T) {
	g := statstest.Generator(3)
	x, y := statstest.Draw(g, "skew", 9), statstest.Draw(g, "skew", 12)
	lo, hi := percentileInterval(x, y, 100_000, 1, widenedTail(x, y, 0.95))
	plo, phi, ok := PooledInterval([]Component{{x, y, 2.5}}, 0.95, 100_000, 2)
	if width := hi - lo; !ok || math.Abs(lo-plo) > 0.02*width || math.Abs(hi-phi) > 0.02*width {
		t.Errorf("pooled %v to %v, widened %v to %v", plo, phi, lo, hi)
	}
	if got, want := PooledShift([]Component{{x, y, 2.5}}), HodgesLehmann(x, y); got != want {
		t.Errorf("pooled shift of one is %v, want %v", got, want)
	}
}

// Above BootstrapLimit values the limit takes over; around it both agree.
func TestShiftDrawsReachTheirLimit(t *testing.T) {
	g := statstest.Generator(4)
	x, y := statstest.Draw(g, "skew", BootstrapLimit/2), statstest.Draw(g, "skew", BootstrapLimit/2+1)
	spread := func(v []float64) float64 { return math.Sqrt(numeric.Variance(v)) }
	limit := shiftDraws(x, y, 20_000, 1, 1)
	drawn := shiftDraws(x, y[1:], 20_000, 1, 1)
	if r := spread(limit) / spread(drawn); math.Abs(r-1) > 0.05 {
		t.Errorf("standard deviation of the limit is %.3f times the bootstrap's", r)
	}
}

func TestPooledNeedsSpread(t *testing.T) {
	for name, c := range map[string][]Component{
		"one value": {{[]float64{1}, []float64{2, 3}, 1}, {[]float64{1, 2}, []float64{2, 3}, 1}},
		"constant":  {{[]float64{1, 1}, []float64{2, 2}, 1}},
	} {
		if lo, hi, ok := PooledInterval(c, 0.95, 1000, 1); ok {
			t.Errorf("%s: interval %v to %v, want none", name, lo, hi)
		}
	}
}

func TestPooledMirrors(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var forth, back []Component
		for i := range rapid.IntRange(1, 4).Draw(t, "components") {
			x, y := statstest.AnySides(t, 2, 8, true)
			if slices.Equal(numeric.Sorted(x), numeric.Sorted(y)) {
				t.Skip("equal sides are their own mirror, their draws are not")
			}
			w := float64(i + 1)
			forth, back = append(forth, Component{x, y, w}), append(back, Component{y, x, w})
		}
		lo, hi, ok := PooledInterval(forth, 0.95, 1000, 7)
		blo, bhi, bok := PooledInterval(back, 0.95, 1000, 7)
		if ok != bok || ok && (lo != -bhi || hi != -blo) {
			t.Fatalf("%v to %v, swapped %v to %v", lo, hi, blo, bhi)
		}
	})
}

// pooledTry compares several components of m + n values each, of any spread,
// with unequal true changes that are taken off again.
func pooledTry(shape string, components, m, n int, weights bool) try {
	return func(g *rand.Rand, seed uint64) (covered, alarm bool) {
		c := make([]Component, components)
		for i := range c {
			spread := 0.5 + 1.5*g.Float64()
			c[i] = Component{statstest.Moved(statstest.Draw(g, shape, m), spread, 0), statstest.Moved(statstest.Draw(g, shape, n), spread, 0), 1}
			if weights {
				c[i].Weight = float64(1 + i%3)
			}
		}
		lo, hi, ok := PooledInterval(c, 0.95, simulatedResamples, seed)
		covered = ok && lo <= 0 && hi >= 0
		return covered, ok && !covered && PooledPermutation(c, simulatedResamples, seed).PUsed <= 0.05+numeric.Slack
	}
}

func TestPooledPromise(t *testing.T) {
	statstest.FullTier(t, "a simulation")
	n, given := repetitions()
	for _, tt := range []struct {
		components, m, n int
		weights          bool
	}{{8, 3, 3, false}, {2, 5, 5, false}, {6, 4, 8, true}, {20, 3, 3, true}} {
		for _, shape := range statstest.ShapeNames {
			t.Run(fmt.Sprintf("%s, %d of %d and %d", shape, tt.components, tt.m, tt.n), func(t *testing.T) {
				t.Parallel()
				coverage, alarms := simulate(pooledTry(shape, tt.components, tt.m, tt.n, tt.weights), n, 31)
				t.Logf("coverage %.1f %%, false alarms %.1f %%", 100*coverage, 100*alarms)
				if coverage < minCoverage-given*statstest.StandardError(minCoverage, n) {
					t.Errorf("coverage %.1f %%", 100*coverage)
				}
				if alarms > maxFalseAlarms+given*statstest.StandardError(maxFalseAlarms, n) {
					t.Errorf("false alarms %.1f %%", 100*alarms)
				}
			})
		}
	}
}

// Where the normal limit takes over it agrees with drawing.
func TestPooledPermutationReachesItsLimit(t *testing.T) {
	for seed := range uint64(6) {
		g := statstest.Generator(40 + seed)
		var many, few []Component
		for range 10 {
			x, y := statstest.Draw(g, "skew", 20), statstest.Moved(statstest.Draw(g, "skew", 20), 1, 0.06*float64(seed))
			many = append(many, Component{x, y, 1})
			few = append(few, Component{x, y[:len(y)-1], 1}) // 390 values
		}
		limit := PooledPermutation(many, 10_000, 1)
		drawn := PooledPermutation(few, 10_000, 1)
		if !limit.Normal || drawn.Normal {
			t.Fatal("400 values take the limit, 390 do not")
		}
		// One value in twenty is not the same, so p may differ a little.
		if math.Abs(numeric.NormalQuantile(1-limit.P/2)-numeric.NormalQuantile(1-drawn.P/2)) > 0.35 {
			t.Errorf("p %v by the limit, %v drawn", limit.P, drawn.P)
		}
	}
}

// Above BootstrapLimit a component that is constant on both sides moves
// nothing and has an interval of one point; the others' stays.
func TestPooledIntervalWithAConstantComponent(t *testing.T) {
	g := statstest.Generator(77)
	n := BootstrapLimit/2 + 1
	same := slices.Repeat([]float64{5}, n)
	noisy := Component{Before: statstest.Draw(g, "normal", n), After: statstest.Draw(g, "normal", n), Weight: 1}
	lo, hi, ok := PooledInterval([]Component{noisy, {Before: same, After: same, Weight: 1}}, 0.95, 10_000, 1)
	alone, alsoAlone, _ := PooledInterval([]Component{noisy}, 0.95, 10_000, 1)
	if !ok || math.Abs(lo-alone/2) > 0.05*(hi-lo) || math.Abs(hi-alsoAlone/2) > 0.05*(hi-lo) {
		t.Errorf("%v to %v beside a constant, %v; half of %v to %v is wanted", lo, hi, ok, alone, alsoAlone)
	}
}
