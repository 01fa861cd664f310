package check

import (
	"math"
	"slices"
	"testing"

	"tunegate/stats/internal/numeric"
	"tunegate/stats/internal/statstest"
)

func TestSimulatedP(t *testing.T) {
	for _, p := range []float64{0.9, 0.5, 0.1, 0.02, 0.006} {
		got := simulatedP(1-p, maxDraws, 0, statstest.Generator(371).Float64)
		if math.Abs(got/p-1) > 3.5/math.Sqrt(enoughBeyond) {
			t.Errorf("p = %v, want %v within its error", got, p)
		}
		if again := simulatedP(1-p, maxDraws, 0, statstest.Generator(371).Float64); again != got {
			t.Errorf("p = %v, then %v", got, again)
		}
	}
	if got := simulatedP(2, maxDraws, 0, statstest.Generator(371).Float64); got != 1.0/(maxDraws+1) {
		t.Errorf("p = %v where no draw is beyond, want 1 in %d", got, maxDraws+1)
	}
	if got := simulatedP(0, maxDraws, 0, statstest.Generator(371).Float64); got != 1 {
		t.Errorf("p = %v where all draws are beyond, want 1", got)
	}
}

// A p value may not be small more often than it says, though the draws end
// early (Besag and Clifford 1991). Observed values and draws come from the same
// generator here, one after the other.
func TestSimulatedPHoldsItsLevel(t *testing.T) {
	statstest.FullTier(t, "a simulation")
	g := statstest.Generator(370)
	const repeats = 4000
	small := map[float64]int{0.01: 0, 0.05: 0, 0.2: 0}
	for range repeats {
		p := simulatedP(g.Float64(), 999, 0, g.Float64)
		for bar := range small {
			if p <= bar {
				small[bar]++
			}
		}
	}
	for bar, n := range small {
		if share := float64(n) / repeats; math.Abs(share-bar) > 3*statstest.StandardError(bar, repeats) {
			t.Errorf("p is at most %v in %.2f %%", bar, 100*share)
		}
	}
}

// Whoever takes the larger of two p gets the same with and without saying how
// large the other one is.
func TestSimulatedPWithEnough(t *testing.T) {
	g := statstest.Generator(372)
	spared := 0
	for range 3000 {
		observed, most, other, seed := g.Float64(), 1+g.IntN(400), g.Float64()*g.Float64(), g.Uint64()
		want := math.Max(other, simulatedP(observed, most, 0, statstest.Generator(seed).Float64))
		got := simulatedP(observed, most, other, statstest.Generator(seed).Float64)
		if got == 0 {
			spared++
		}
		if math.Max(other, got) != want {
			t.Fatalf("%d draws beyond %v beside %v: %v, want %v", most, observed, other, got, want)
		}
	}
	if spared < 500 {
		t.Errorf("%d of 3000 ended early", spared)
	}
}

// Where the limits of the scores begin they give the p that drawing gives,
// within the error of that and a tenth for the limit, also for runs in long
// sessions, in the noise that has the largest p.
func TestLimitsOfScores(t *testing.T) {
	statstest.FullTier(t, "10,000 draws for each p")
	if statstest.RaceEnabled {
		t.Skip("draws for long, and nothing runs at the same time")
	}
	const draws = 10_000
	ratio := &statistic{[]noise{heavyNoise, skewedNoise, normalNoise}, func(x, _ []float64) float64 {
		_, r := farRatio(x, 0)
		return r
	}}
	for _, sizes := range [][]int{{limitFrom}, statstest.EqualSizes(limitFrom/longSession, longSession), {4 * limitFrom}} {
		for _, s := range []struct {
			name string
			*statistic
			limit func(float64, int) float64
		}{{"outlier", ratio, ratioLimit}, {"two modes", apart, splitLimit}} {
			n := 0
			for _, size := range sizes {
				n += size
			}
			d := deviations{value: make([]float64, n), sizes: sizes}
			var scores [][]float64
			for _, null := range d.nulls(s.statistic) {
				null.g = statstest.Generator(374)
				null.p(math.Inf(1), draws, 0)
				scores = append(scores, numeric.Sorted(null.scores))
			}
			for _, p := range []float64{0.5, 0.1, 0.03, 0.0125, 0.01, 0.003} {
				at := 0.0 // in the noise that passes it most often
				for _, drawn := range scores {
					at = math.Max(at, drawn[draws-int(p*draws)])
				}
				got := s.limit(at, n)
				t.Logf("sessions of %v, %s beyond %.3f: p %v drawn, %.5f by the limit", sizes, s.name, at, p, got)
				if math.Abs(got-p) > 3*statstest.StandardError(p, draws)+0.1*p {
					t.Errorf("sessions of %v, %s beyond %.3f: p %v drawn, %v by the limit", sizes, s.name, at, p, got)
				}
			}
		}
	}
}

// A limit goes down with the score, from 1 to 0, at any size.
func TestLimitsFall(t *testing.T) {
	for _, n := range []int{limitFrom, 3000, 1_000_000} {
		for _, limit := range []func(float64, int) float64{ratioLimit, splitLimit} {
			last := 1.0
			for score := 0.0; score < 80; score += 0.25 {
				p := limit(score, n)
				if !(p >= -1e-12 && p <= last+1e-12) {
					t.Fatalf("%d values: p %v at %v after %v", n, p, score, last)
				}
				last = p
			}
			if limit(0.1, n) < 1-1e-6 || last > 1e-4 {
				t.Errorf("%d values: from %v to %v", n, limit(0.1, n), last)
			}
		}
	}
}

func TestDrawsFor(t *testing.T) {
	for _, c := range [][2]int{{0, 9999}, {20, 9999}, {1000, 9999}, {10_000, 1000}, {1_000_000, 399}} {
		if got := drawsFor(c[0]); got != c[1] {
			t.Errorf("drawsFor(%d) = %d, want %d", c[0], got, c[1])
		}
	}
}

func TestDeviations(t *testing.T) {
	d := newDeviations([][]float64{{9, 1, 5}, {4, 4}, {}, {2, 8, 4, 6}, {3}})
	if want := []float64{4, -4, 0, -3, 3, -1, 1}; !slices.Equal(d.value, want) {
		t.Errorf("deviations %v, want %v", d.value, want)
	}
	if want := []int{0, 1, 2, 5, 6, 7, 8}; !slices.Equal(d.at, want) {
		t.Errorf("places %v, want %v", d.at, want)
	}
	if want := []int{3, 4}; !slices.Equal(d.sizes, want) {
		t.Errorf("sizes %v, want %v", d.sizes, want)
	}
	if one := newDeviations([][]float64{{9, 1, 5}, {4, 4}}); !slices.Equal(one.value, []float64{9, 1, 5}) {
		t.Errorf("a single session becomes %v, want it as it is", one.value)
	}
}

// The first series of its sizes, and one that takes all the draws.
func BenchmarkNulls(b *testing.B) {
	for _, s := range []struct {
		name string
		*statistic
	}{{"outlier", farOut}, {"two modes", apart}} {
		b.Run(s.name, func(b *testing.B) {
			statstest.BenchmarkSizes(b, func(x, _ []float64) {
				d := deviations{value: x, sizes: []int{len(x)}}
				nulls := d.nulls(s.statistic)
				for i := range nulls {
					nulls[i].p(math.Inf(1), drawsFor(len(x)), 0)
				}
			})
		})
	}
}
