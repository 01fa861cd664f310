package plan

import (
	"math"
	"testing"

	"tunegate/stats"
	"tunegate/stats/internal/numeric"
	"tunegate/stats/internal/statstest"
)

func equalLooks(k int) []float64 {
	t := make([]float64, k)
	for i := range t {
		t[i] = float64(i+1) / float64(k)
	}
	return t
}

// Each look spends its share of alpha, 4 (1 - Phi(z(alpha/4) / sqrt(t))) by t
// in all, and no other: the density of the sum among comparisons that go on,
// on an even grid by Simpson's rule, without the nodes and panels of the code.
func TestSpendingSharesByPlainIntegration(t *testing.T) {
	const steps = 400 // even
	for looks := 1; looks <= 5; looks++ {
		z, nominal := SpendingBoundaries(0.05, equalLooks(looks))
		sd := math.Sqrt(1 / float64(looks)) // of the step from look to look
		at, mass := []float64{0}, []float64{1}
		spent := 0.0
		for k := range z {
			reach := z[k] * math.Sqrt(float64(k+1)/float64(looks))
			leaves := 0.0
			for i, s := range at {
				leaves += mass[i] / 2 * (math.Erfc((reach-s)/sd/math.Sqrt2) + math.Erfc((reach+s)/sd/math.Sqrt2))
			}
			quantile := math.Sqrt2 * math.Erfinv(1-0.05/2) // of the normal at 1 - 0.05/4
			sofar := 2 * math.Erfc(quantile/math.Sqrt(float64(k+1)/float64(looks))/math.Sqrt2)
			if want := sofar - spent; math.Abs(leaves-want) > 1e-7 {
				t.Errorf("look %d of %d spends %v, want %v", k+1, looks, leaves, want)
			}
			if want := math.Erfc(z[k] / math.Sqrt2); math.Abs(nominal[k]-want) > 1e-12 {
				t.Errorf("look %d of %d: nominal %v, want %v", k+1, looks, nominal[k], want)
			}
			spent = sofar
			var nextAt, nextMass []float64
			h := 2 * reach / steps
			for j := range steps + 1 {
				s, density := -reach+float64(j)*h, 0.0
				for i, from := range at {
					d := (s - from) / sd
					density += mass[i] * math.Exp(-d*d/2) / (sd * math.Sqrt(2*math.Pi))
				}
				weight := 2 + 2*float64(j%2) // 1 4 2 4 ... 2 4 1
				if j == 0 || j == steps {
					weight = 1
				}
				nextAt, nextMass = append(nextAt, s), append(nextMass, density*weight*h/3)
			}
			at, mass = nextAt, nextMass
		}
	}
}

// All looks together are wrong in the share alpha: sums of normal increments,
// followed one by one.
func TestSpendingKeepsTotalError(t *testing.T) {
	for i, c := range []struct {
		alpha     float64
		fractions []float64
	}{
		{0.05, equalLooks(2)}, {0.05, equalLooks(5)}, {0.1, []float64{0.2, 0.25, 0.9, 1}}, {0.01, equalLooks(3)}, {0.05, equalLooks(20)},
	} {
		z, _ := SpendingBoundaries(c.alpha, c.fractions)
		g := statstest.Generator(320 + uint64(i))
		repeats := 60_000
		if statstest.RaceEnabled {
			repeats = 6000
		}
		wrong := 0
		for range repeats {
			sum, last := 0.0, 0.0
			for k, t := range c.fractions {
				sum += math.Sqrt(t-last) * g.NormFloat64()
				last = t
				if math.Abs(sum) >= z[k]*math.Sqrt(t) {
					wrong++
					break
				}
			}
		}
		if share := float64(wrong) / float64(repeats); math.Abs(share-c.alpha) > 4*statstest.StandardError(c.alpha, repeats) {
			t.Errorf("alpha %v, looks %v: wrong in %.2f %%", c.alpha, c.fractions, 100*share)
		}
	}
}

// What was judged at a look stands, whatever looks are added later.
func TestSpendingPastLooksStand(t *testing.T) {
	short, _ := SpendingBoundaries(0.05, []float64{0.3, 0.7})
	long, _ := SpendingBoundaries(0.05, []float64{0.3, 0.7, 0.71, 0.95, 1})
	for k := range short {
		if math.Abs(short[k]-long[k]) > 1e-8 { // another grid of nodes
			t.Errorf("z[%d] = %v, with more looks %v", k, short[k], long[k])
		}
	}
}

func TestSpendingEdges(t *testing.T) {
	z, nominal := SpendingBoundaries(0.05, []float64{0.001, 1})
	if !math.IsInf(z[0], 1) || nominal[0] != 0 || math.Abs(z[1]-1.96) > 0.001 {
		t.Errorf("a look at a thousandth: z = %v, nominal = %v, want one that settles nothing", z, nominal)
	}
	if z, nominal := SpendingBoundaries(0.05, nil); len(z) != 0 || len(nominal) != 0 {
		t.Errorf("no look: %v, %v", z, nominal)
	}
	for _, c := range []struct {
		alpha     float64
		fractions []float64
	}{{0, equalLooks(2)}, {1, equalLooks(2)}, {math.NaN(), equalLooks(2)}, {0.05, []float64{0, 1}}, {0.05, []float64{0.5, 0.5}},
		{0.05, []float64{0.6, 0.5}}, {0.05, []float64{0.5, 1.1}}, {0.05, []float64{-0.5}}, {0.05, []float64{0.5, math.NaN()}}} {
		if !statstest.Panics(func() { SpendingBoundaries(c.alpha, c.fractions) }) {
			t.Errorf("SpendingBoundaries(%v, %v) does not panic", c.alpha, c.fractions)
		}
	}
}

// judgedReal is the program's own rule at one look: the rank test at the bar,
// and 0 outside the interval of the same error.
func judgedReal(x, y []float64, bar float64, seed uint64) bool {
	if stats.MannWhitney(x, y).PUsed > bar+numeric.Slack {
		return false
	}
	in, ok := stats.ChangeInterval(x, y, 1-bar, 1000, seed)
	return ok && (in.Lo > 0 || in.Hi < 0)
}

// falseAlarms is the share of comparisons without a change that are called
// real at any of the looks, over all noise shapes.
func falseAlarms(looks []int, bar func(look int) float64, repeats int, seed uint64) float64 {
	g := statstest.Generator(seed)
	last, alarms := looks[len(looks)-1], 0
	for r := range repeats {
		shape := statstest.ShapeNames[r%len(statstest.ShapeNames)]
		x, y := statstest.Draw(g, shape, last), statstest.Draw(g, shape, last)
		for k, n := range looks {
			if judgedReal(x[:n], y[:n], bar(k), uint64(r)) {
				alarms++
				break
			}
		}
	}
	return float64(alarms) / float64(repeats)
}

// Adding runs until the verdict pleases, under this package's own rule. A study
// of some 2,000 repetitions before this package was written found 6.2, 8.4 and
// 12.2 %. The single look is there to compare with: the exact test alone is
// wrong in 4.3 % at 10 and 10.
func TestPeeking(t *testing.T) {
	statstest.FullTier(t, "a simulation")
	repeats := 4000
	if statstest.RaceEnabled {
		repeats = 300
	}
	every := make([]int, 12)
	for i := range every {
		every[i] = 4 + i
	}
	for i, c := range []struct {
		name  string
		looks []int
		want  float64
	}{
		{"one look at 10", []int{10}, 0.040},
		{"5, then 10 runs", []int{5, 10}, 0.062},
		{"5, 8, 11, 14 runs", []int{5, 8, 11, 14}, 0.084},
		{"every size from 4 to 15", every, 0.122},
	} {
		share := falseAlarms(c.looks, func(int) float64 { return 0.05 }, repeats, 330+uint64(i))
		t.Logf("%s: %.1f %% false alarms at a nominal 5 %%", c.name, 100*share)
		if math.Abs(share-c.want) > 0.012+3*statstest.StandardError(c.want, repeats) {
			t.Errorf("%s: %.1f %% false alarms, known are about %.1f %%", c.name, 100*share, 100*c.want)
		}
		if len(c.looks) == 1 {
			continue
		}
		fractions := make([]float64, len(c.looks))
		for k, n := range c.looks {
			fractions[k] = float64(n) / float64(c.looks[len(c.looks)-1])
		}
		_, nominal := SpendingBoundaries(0.05, fractions)
		share = falseAlarms(c.looks, func(k int) float64 { return nominal[k] }, repeats, 340+uint64(i))
		t.Logf("  with the boundaries %.2g: %.1f %%", nominal, 100*share)
		if share > 0.06-0.01+2*statstest.StandardError(0.05, repeats) {
			t.Errorf("%s: %.1f %% false alarms with boundaries for 5 %%", c.name, 100*share)
		}
	}
}
