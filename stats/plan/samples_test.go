package plan

import (
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"tunegate/stats"
	"tunegate/stats/internal/numeric"
	"tunegate/stats/internal/statstest"
)

// pilotCount is how many pilots each cell of the planning tests draws. For the
// full table: go test ./stats/plan -run 'Blind|Needed|BootstrapEnd' -pilots 1500 -v
var pilotCount = flag.Int("pilots", 0, "pilots a cell in tests of planning; 0 for the usual number")

// pilots returns the number for this run, and whether the whole table is asked
// for.
func pilots(usual int) (n int, whole bool) {
	switch {
	case *pilotCount > 0:
		return *pilotCount, true
	case statstest.RaceEnabled:
		return max(12, usual/12), false
	}
	return usual, false
}

// chance collects how often the rule fired, a share for each pilot; pilots are
// what varies most, so their spread gives the standard error.
type chance struct{ shares []float64 }

func (c *chance) add(share float64) { c.shares = append(c.shares, share) }

func (c *chance) mean() float64 { return numeric.Mean(c.shares) }

func (c *chance) se() float64 { return math.Sqrt(numeric.Variance(c.shares) / float64(len(c.shares))) }

// check holds the mean between bounds, less one standard error as in
// TestPromises, two where few pilots were drawn.
func (c *chance) check(t *testing.T, what string, least, most float64) {
	t.Helper()
	given := c.se()
	if statstest.RaceEnabled {
		given *= 2
	}
	mark := ""
	if c.mean() < 0.75 || c.mean() > 0.85 {
		mark = "  <- outside 75 to 85"
	}
	t.Logf("%-44s %5.1f %% (standard error %.1f)%s", what, 100*c.mean(), 100*c.se(), mark)
	if c.mean() < least-given || c.mean() > most+given {
		t.Errorf("%s: caught in %.1f %%, want %v to %v %%", what, 100*c.mean(), 100*least, 100*most)
	}
}

// repeated is the share of repetitions in which fires says yes.
func repeated(times int, fires func() bool) float64 {
	n := 0
	for range times {
		if fires() {
			n++
		}
	}
	return float64(n) / float64(times)
}

// foundReal is the rule for "a real change" in full: test and interval.
func foundReal(x, y []float64, design Design, seed uint64) (lo, hi float64, real bool) {
	if stats.MannWhitney(x, y).PUsed > design.Alpha+numeric.Slack {
		return 0, 0, false
	}
	in, ok := stats.ChangeInterval(x, y, design.Confidence, planResamples, seed)
	return in.Lo, in.Hi, ok && (in.Lo > 0 || in.Hi < 0)
}

// foundLoss is the rule for a loss beyond the margin.
func foundLoss(x, y []float64, margin float64, design Design, seed uint64) bool {
	if !(stats.HodgesLehmann(x, y) < -margin) {
		return false
	}
	_, hi, real := foundReal(x, y, design, seed)
	return real && hi < 0
}

// slower draws scores: the noise shapes are slowdowns, which lower a score.
func slower(g *rand.Rand, shape string, n int) []float64 {
	return statstest.Negated(statstest.Draw(g, shape, n))
}

// The loss that BlindSpot names is caught with the design's power: on average
// over pilots, since a pilot knows its spread only roughly.
func TestBlindSpot(t *testing.T) {
	statstest.FullTier(t, "a simulation")
	count, whole := pilots(130)
	type cell struct {
		shape  string
		n      [2]int
		alpha  float64
		margin float64
	}
	var cells []cell
	for _, shape := range statstest.ShapeNames {
		for _, n := range []int{5, 8, 12, 20, 30} {
			for _, alpha := range []float64{0.05, 0.05 / 6} {
				if whole || shape == "normal" || (n == 5 || n == 20) && alpha == 0.05 || n == 8 && alpha < 0.05 {
					cells = append(cells, cell{shape, [2]int{n, n}, alpha, 0})
				}
			}
		}
	}
	cells = append(cells, cell{"normal", [2]int{8, 8}, 0.05, 1}, cell{"normal", [2]int{20, 20}, 0.05, 1},
		cell{"normal", [2]int{15, 5}, 0.05, 0})
	if whole { // a few skewed values say little about the tail on their side
		cells = append(cells, cell{"skew", [2]int{20, 6}, 0.05, 0}, cell{"skew", [2]int{6, 20}, 0.05, 0})
	}
	for i, c := range cells {
		name := fmt.Sprintf("%s, %d and %d at %.4f, margin %v", c.shape, c.n[0], c.n[1], c.alpha, c.margin)
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			g := statstest.Generator(300 + uint64(i))
			design := Design{Confidence: 0.95, Alpha: c.alpha, Power: 0.8}
			caught := chance{}
			for p := range count {
				loss, ok := blindSpot(slower(g, c.shape, c.n[0]), slower(g, c.shape, c.n[1]), c.margin, design)
				if !ok || !(loss > c.margin) {
					t.Fatalf("pilot %d: loss %v, %v", p, loss, ok)
				}
				caught.add(repeated(5, func() bool {
					return foundLoss(slower(g, c.shape, c.n[0]), statstest.Moved(slower(g, c.shape, c.n[1]), 1, -loss), c.margin, design, uint64(p))
				}))
			}
			least, most := 0.70, 0.90
			switch {
			case c.n[0] != c.n[1] && c.shape != "normal":
				least, most = 0.60, 0.95
			case c.margin > 0:
				least, most = 0.75, 0.88 // at 8 and 8 values 86 % were measured
			case c.shape == "normal":
				least, most = 0.75, 0.85
			}
			caught.check(t, name, least, most)
		})
	}
}

// The size that Needed advises finds a true change real with the design's
// power: on average over pilots.
func TestNeeded(t *testing.T) {
	statstest.FullTier(t, "a simulation")
	count, whole := pilots(120)
	type cell struct {
		shape  string
		pilot  int
		change float64 // in true standard deviations
		alpha  float64
	}
	var cells []cell
	for _, shape := range statstest.ShapeNames {
		for _, pilot := range []int{5, 10, 30} {
			for _, change := range []float64{0.5, 1, 1.5, 2} {
				for _, alpha := range []float64{0.05, 0.05 / 6} {
					if whole || shape == "normal" && alpha == 0.05 &&
						(change == 1 || pilot == 30 && change < 2 || pilot == 10 && change == 2 || pilot == 5 && change == 0.5) {
						cells = append(cells, cell{shape, pilot, change, alpha})
					}
				}
			}
		}
	}
	for i, c := range cells {
		name := fmt.Sprintf("%s, pilots of %d, %v sd at %.4f", c.shape, c.pilot, c.change, c.alpha)
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			g := statstest.Generator(400 + uint64(i))
			change := c.change * math.Sqrt(numeric.Variance(statstest.Draw(statstest.Generator(1), c.shape, 200_000)))
			design := Design{Confidence: 0.95, Alpha: c.alpha, Power: 0.8}
			found, total := chance{}, 0
			for p := range count {
				size, ok := needed(slower(g, c.shape, c.pilot), slower(g, c.shape, c.pilot), change, design)
				if !ok {
					t.Fatalf("pilot %d: no size", p)
				}
				total += size
				sign := float64(1 - 2*(p%2))
				found.add(repeated(4, func() bool {
					_, _, real := foundReal(slower(g, c.shape, size), statstest.Moved(slower(g, c.shape, size), 1, sign*change), design, uint64(p))
					return real
				}))
			}
			least, most := 0.75, 0.85
			switch {
			case c.shape != "normal":
				least, most = 0.65, 0.93
			case c.change >= 1.5:
				most = 0.88 // a few values a side: one more is a step of up to 10 points
			}
			found.check(t, fmt.Sprintf("%s (%d a side)", name, total/count), least, most)
		})
	}
}

// The planned region against the one in force, where the bootstrap has a say,
// too: the half-widths of test and interval together above the estimate, as a
// ratio of means.
func TestPlannedRegion(t *testing.T) {
	statstest.FullTier(t, "a simulation")
	count, _ := pilots(250)
	away, cells := 0.0, 0
	for i, shape := range statstest.ShapeNames {
		for j, n := range []int{5, 8, 12, 20, 30} {
			g := statstest.Generator(500 + uint64(10*i+j))
			var planned, real float64
			for r := range count {
				x, y := slower(g, shape, n), slower(g, shape, n)
				in, _ := stats.ChangeInterval(x, y, 0.95, planResamples, uint64(r))
				e, end := newRankRule(n, n, Design{0.95, 0.05, 0.8}).ends(x, y)
				test := numeric.KthDifference(numeric.Sorted(x), numeric.Sorted(y), n*n+1-stats.RankCritical(n, n, 0.05))
				planned += end - e
				real += math.Max(in.Hi, test) - e
			}
			ratio := planned / real
			within := 0.02
			if statstest.RaceEnabled {
				within *= 2
			}
			t.Logf("%-8s %2d a side: the planned region is %.3f of the half-width", shape, n, ratio)
			away += math.Abs(ratio - 1)
			cells++
			if math.Abs(ratio-1) > within {
				t.Errorf("%s, %d a side: the planned region is %.3f of the half-width", shape, n, ratio)
			}
		}
	}
	t.Logf("%.1f %% off on average", 100*away/float64(cells))
	if away/float64(cells) > 0.012 {
		t.Errorf("the planned region is off by %.1f %% on average, want less than 1.2 %%", 100*away/float64(cells))
	}
}

func TestMinSampleSize(t *testing.T) { // counting: 2 / C(2n, n)
	for _, c := range []struct {
		alpha float64
		want  int
	}{{1, 1}, {0.34, 2}, {0.1, 3}, {0.05, 4}, {0.01, 5}, {0.05 / 8, 6}, {0.05 / 20, 6}, {0.05 / 1000, 9}} {
		if got := MinSampleSize(c.alpha); got != c.want {
			t.Errorf("MinSampleSize(%v) = %d, want %d", c.alpha, got, c.want)
		}
	}
}

// Size and BlindSpot are inverses, but for the noise of simulated plans
// and the step from them to the closed form: the pilot's own size catches a loss
// somewhat beyond its blind spot, and does not catch one well within.
func TestSizeToCatch(t *testing.T) {
	design := Design{0.95, 0.05, 0.8}
	sizes := []int{5, 8, 12, 40}
	if statstest.RaceEnabled {
		sizes = []int{5, 40}
	}
	for i, shape := range statstest.ShapeNames {
		g := statstest.Generator(610 + uint64(i))
		for _, n := range sizes {
			for _, margin := range []float64{0, 0.5, 4} {
				x, y := slower(g, shape, n), slower(g, shape, n)
				loss, ok := blindSpot(x, y, margin, design)
				if !ok {
					t.Fatalf("%s, %d values: no blind spot", shape, n)
				}
				more := margin + 1.25*(loss-margin)
				if size, ok := sizeToCatch(x, y, more, margin, design); !ok || size > n {
					t.Errorf("%s: %d values a side would catch %v beyond %v, SizeToCatch says %d, %v for %v", shape, n, loss, margin, size, ok, more)
				}
				less := margin + 0.7*(loss-margin)
				if size, ok := sizeToCatch(x, y, less, margin, design); !ok || size <= n {
					t.Errorf("%s: %d values a side would catch %v at best beyond %v, Size says %d, %v for %v",
						shape, n, loss, margin, size, ok, less)
				}
				if size, ok := sizeToCatch(x, y, margin, margin, design); ok {
					t.Errorf("a loss within the margin: %d values", size)
				}
			}
		}
	}
}

// Where no loss could be caught there is no blind spot.
func TestBlindSpotOutOfReach(t *testing.T) {
	x, y := slower(statstest.Generator(600), "normal", 20), slower(statstest.Generator(601), "normal", 20)
	for _, c := range []struct {
		name   string
		m, n   int
		design Design
		ok     bool
	}{
		{"3 and 3 at 95 %", 3, 3, Design{0.95, 0.05, 0.8}, false},
		{"3 and 3 at 90 %", 3, 3, Design{0.9, 0.1, 0.8}, true},
		{"4 and 4 at 95 %", 4, 4, Design{0.95, 0.05, 0.8}, true},
		{"5 and 5 among 8", 5, 5, Design{0.95, 0.05 / 8, 0.8}, false},
		{"6 and 6 among 8", 6, 6, Design{0.95, 0.05 / 8, 0.8}, true},
		{"the interval out of reach", 4, 4, Design{0.99, 0.05, 0.8}, false},
		{"one value", 1, 20, Design{0.5, 0.5, 0.8}, false},
	} {
		if loss, ok := blindSpot(x[:c.m], y[:c.n], 0, c.design); ok != c.ok || ok && !(loss > 0 && loss < 100) {
			t.Errorf("%s: %v, %v", c.name, loss, ok)
		}
	}
	constant := []float64{3, 3, 3, 3, 3}
	if _, ok := blindSpot(constant, constant, 0, Design{0.95, 0.05, 0.8}); ok {
		t.Error("a blind spot without any spread")
	}
	if loss, ok := blindSpot(constant, x, 0, Design{0.95, 0.05, 0.8}); !ok || !(loss > 0) {
		t.Errorf("one side constant: %v, %v", loss, ok)
	}
}

func TestNeededEdges(t *testing.T) {
	design := Design{0.95, 0.05, 0.8}
	x, y := statstest.Draw(statstest.Generator(602), "normal", 10), statstest.Draw(statstest.Generator(603), "normal", 10)
	for _, c := range []struct {
		name          string
		before, after []float64
		change        float64
	}{
		{"one value", x[:1], y, 1}, {"no spread", []float64{2, 2}, []float64{3, 3}, 1},
		{"no change", x, y, 0}, {"a negative change", x, y, -1}, {"not a number", x, y, math.NaN()},
		{"out of reach", x, y, 1e-6},
	} {
		if size, ok := needed(c.before, c.after, c.change, design); ok {
			t.Errorf("%s: %d values", c.name, size)
		}
	}
	// However large the change: the test's floor.
	for _, c := range []struct {
		alpha float64
		want  int
	}{{0.05, 4}, {0.05 / 8, 6}} {
		if size, ok := needed(x, y, 1000, Design{0.95, c.alpha, 0.8}); !ok || size != c.want {
			t.Errorf("a huge change at %v: %d values, %v, want %d", c.alpha, size, ok, c.want)
		}
	}
}

// Noether's formula for large samples (JASA 82:645-647, 1987): N = (z(alpha/2) +
// z(power))^2 / (12 c (1-c) (p - 1/2)^2) in all, with p = P(X < Y). In normal
// noise a change of d standard deviations has p = Phi(d / sqrt(2)).
func TestNeededNoether(t *testing.T) {
	g := statstest.Generator(604)
	x, y := statstest.Draw(g, "normal", 400), statstest.Draw(g, "normal", 400)
	sd := math.Sqrt((numeric.Variance(x) + numeric.Variance(y)) / 2)
	for _, d := range []float64{0.1, 0.2, 0.4} {
		p := numeric.NormalCDF(d / math.Sqrt2)
		z := numeric.NormalQuantile(0.975) + numeric.NormalQuantile(0.8)
		want := z * z / (12 * 0.25 * (p - 0.5) * (p - 0.5)) / 2
		size, ok := needed(x, y, d*sd, Design{0.95, 0.05, 0.8})
		t.Logf("%v sd: %d values a side, Noether %.0f", d, size, want)
		if !ok || math.Abs(float64(size)/want-1) > 0.1 {
			t.Errorf("%v sd: %d values a side, %v, Noether %.0f", d, size, ok, want)
		}
	}
}

// More spread needs more values, more power too; another unit changes nothing.
func TestPlanningProperties(t *testing.T) {
	for i, shape := range statstest.ShapeNames {
		g := statstest.Generator(605 + uint64(i))
		for _, n := range []int{5, 9, 25} {
			x, y := slower(g, shape, n), slower(g, shape, n)
			design := Design{0.95, 0.05, 0.8}
			loss, _ := blindSpot(x, y, 0, design)
			for _, c := range []struct {
				name string
				x, y []float64
				want float64
			}{
				{"another unit", statstest.Moved(x, 4, 0), statstest.Moved(y, 4, 0), 4 * loss},
				{"a change already there", x, statstest.Moved(y, 1, 3), loss},
				{"again", x, y, loss},
			} {
				if got, ok := blindSpot(c.x, c.y, 0, design); !ok || math.Abs(got-c.want) > 1e-9*c.want {
					t.Errorf("%s, %d values, %s: blind spot %v, want %v", shape, n, c.name, got, c.want)
				}
			}
			if beyond, _ := blindSpot(x, y, loss/2, design); beyond < loss {
				t.Errorf("%s, %d values: blind spot %v, beyond a margin %v", shape, n, loss, beyond)
			}
			if sure, _ := blindSpot(x, y, 0, Design{0.95, 0.05, 0.95}); sure <= loss {
				t.Errorf("%s, %d values: blind spot %v at 80 %%, %v at 95 %%", shape, n, loss, sure)
			}
			if strict, ok := blindSpot(x, y, 0, Design{0.95, 0.01, 0.8}); ok && strict < loss {
				t.Errorf("%s, %d values: blind spot %v at 5 %%, %v at 1 %%", shape, n, loss, strict)
			}
		}
	}
}

func BenchmarkBlindSpot(b *testing.B) {
	design := Design{0.95, 0.05, 0.8}
	statstest.BenchmarkSizes(b, func(x, y []float64) { blindSpot(x, y, 0, design) })
}

func BenchmarkNeeded(b *testing.B) {
	design := Design{0.95, 0.05, 0.8}
	statstest.BenchmarkSizes(b, func(x, y []float64) { needed(x, y, 0.5, design) })
}

func TestNaNPanics(t *testing.T) {
	defer func() {
		if got := recover(); got != numeric.NotANumber {
			t.Errorf("panics with %v, want %q", got, numeric.NotANumber)
		}
	}()
	blindSpot([]float64{1, math.NaN(), 3, 4, 2, 5, 7}, []float64{2, 3, 6, 8, 9, 1, 4}, 0, Design{0.95, 0.05, 0.8})
}

// planResamples is the number of resamples in what plans are held to.
const planResamples = 1000
