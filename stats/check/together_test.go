package check

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"tunegate/stats/internal/numeric"
	"tunegate/stats/internal/statstest"
)

// The bars at which the checks of a series together call at most 5 % of clean
// ones. Trend and dependence are easy to see where they matter and outliers
// hard, so they do not get the same share.
const (
	trendBar      = 0.0075
	dependenceBar = 0.01
	outlierBar    = 0.0125
	modesBar      = 0.01
	sessionsBar   = 0.003 // of differing by more than twice the variance of runs
	copiesBar     = 0.005 // of each of the two tests
)

var checkNames = [...]string{"trend", "dependence", "outlier", "two modes", "sessions", "copies"}

// checker applies all checks to sessions of the same sizes. Outlier and modes
// are compared with bars on their scores, found once, which is what their p
// values come from.
type checker struct{ far, modes float64 }

func newChecker(sizes []int) checker {
	return checker{outlierScoreBar(sizes, outlierBar), modesScoreBar(sizes, modesBar)}
}

func (c checker) alarms(sessions [][]float64) (hit [len(checkNames)]bool) {
	_, _, p := MannKendall(sessions)
	hit[0] = p <= trendBar
	_, p = Lag1Test(sessions)
	hit[1] = p <= dependenceBar
	d, step := newDeviations(sessions), resolution(sessions...)
	_, score := farthest(d.value, step)
	hit[2] = score > c.far
	_, score = bestSplit(numeric.Sorted(d.value), step)
	hit[3] = score > c.modes
	_, p = SessionsApart(sessions, 2)
	hit[4] = p <= sessionsBar
	all := slices.Concat(sessions...)
	_, p = Repeats(all)
	_, q := RepeatedStretch(all)
	hit[5] = math.Min(p, q) <= copiesBar
	return hit
}

// count is the share of series with each alarm, and with any.
func (c checker) count(repeats int, make func() [][]float64) (each [len(checkNames)]float64, any float64) {
	for range repeats {
		hit := c.alarms(make())
		for i, h := range hit {
			if h {
				each[i] += 1 / float64(repeats)
			}
		}
		if slices.Contains(hit[:], true) {
			any += 1 / float64(repeats)
		}
	}
	return each, any
}

func inWords(each [len(checkNames)]float64) string {
	s := ""
	for i, share := range each {
		s += fmt.Sprintf("  %s %.1f", checkNames[i], 100*share)
	}
	return s
}

var checkedSizes = map[string][]int{"10 runs": {10}, "20 runs": {20}, "60 runs": {60}, "4 sessions of 5": statstest.EqualSizes(4, 5),
	"8 sessions of 3": statstest.EqualSizes(8, 3), "3 sessions of 10": statstest.EqualSizes(3, 10)}

// At most 5 % of clean series raise any alarm: normal, skewed and heavy-tailed noise, with
// and without half of the variance between sessions, read finely and in steps
// of a quarter and of three times the standard deviation of runs.
func TestChecksTogetherOnCleanSeries(t *testing.T) {
	statstest.FullTier(t, "a simulation")
	repeats, given := 2000, 1.0
	if statstest.RaceEnabled {
		repeats, given = 100, 3
	}
	for name, sizes := range checkedSizes {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			c := newChecker(sizes)
			for i, shape := range []string{"normal", "skew", "t5"} {
				for j, kind := range []struct{ rho, step float64 }{{0, 0.001}, {0.5, 0.001}, {0.3, 0.25}, {0.3, 3}} {
					if kind.rho == 0.5 && len(sizes) == 1 {
						continue
					}
					g := statstest.Generator(500 + uint64(4*i+j))
					each, any := c.count(repeats, func() [][]float64 {
						sessions := statstest.Clean(g, shape, sizes, kind.rho)
						for k, s := range sessions {
							sessions[k] = statstest.Rounded(s, kind.step)
						}
						return sessions
					})
					t.Logf("%s, rho %v, steps of %v: any alarm %.1f %%;%s", shape, kind.rho, kind.step, 100*any, inWords(each))
					if any > 0.05+given*statstest.StandardError(0.05, repeats) {
						t.Errorf("%s, rho %v, steps of %v: %.1f %% raise an alarm, promised are at most 5 %%", shape, kind.rho, kind.step, 100*any)
					}
				}
			}
		})
	}
}

// Faults of stated size, and the share in which the check made for each finds
// it. The noise has a standard deviation of 0.5 % of the value (0.3 % for the
// slow runs), which is 1 here.
func TestChecksTogetherOnFaults(t *testing.T) {
	statstest.FullTier(t, "a simulation")
	faults := []struct {
		name  string
		check int
		put   func(g *rand.Rand, sessions [][]float64)
	}{
		{"drift of 2 % over a session", 0, func(_ *rand.Rand, sessions [][]float64) {
			for _, s := range sessions {
				for i := range s {
					s[i] += 4 * float64(i) / float64(len(s)-1)
				}
			}
		}},
		{"lag-1 correlation 0.5", 1, func(g *rand.Rand, sessions [][]float64) {
			for _, s := range sessions {
				copy(s, statstest.Rounded(statstest.Moved(dependent(g, "normal", len(s), 0.5), 1, 412), 0.001))
			}
		}},
		{"one run off by 6 sd", 2, func(g *rand.Rand, sessions [][]float64) {
			s := sessions[g.IntN(len(sessions))]
			s[g.IntN(len(s))] += 6
		}},
		{"one run in five 2 % slow", 3, func(g *rand.Rand, sessions [][]float64) {
			for _, s := range sessions {
				for i := range s {
					if g.Float64() < 0.2 {
						s[i] += 2 / 0.3
					}
				}
			}
		}},
		{"sessions differ by 6 sd of runs", 4, func(g *rand.Rand, sessions [][]float64) {
			for _, s := range sessions {
				luck := 6 * g.NormFloat64()
				for i := range s {
					s[i] += luck
				}
			}
		}},
		{"a session or a quarter copied", 5, func(_ *rand.Rand, sessions [][]float64) {
			if len(sessions) > 1 {
				copy(sessions[1], sessions[0])
			} else {
				s := sessions[0]
				copy(s[len(s)/2:], s[:len(s)/4])
			}
		}},
	}
	// Least shares found, some points below what was measured; none for what a
	// single session cannot show.
	least := map[string][len(checkNames)]float64{
		"10 runs":          {0.40, 0.08, 0.03, 0.07, 0, 0.08},
		"20 runs":          {0.90, 0.32, 0.20, 0.42, 0, 0.97},
		"60 runs":          {0.99, 0.85, 0.18, 0.88, 0, 0.99},
		"4 sessions of 5":  {0.90, 0.10, 0.08, 0.16, 0.55, 0.97},
		"8 sessions of 3":  {0.95, 0.04, 0.03, 0.10, 0.85, 0.97},
		"3 sessions of 10": {0.95, 0.38, 0.35, 0.45, 0.50, 0.97},
	}
	repeats := 200
	if statstest.RaceEnabled {
		repeats = 20
	}
	for name, sizes := range checkedSizes {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			c := newChecker(sizes)
			for _, fault := range faults {
				want := least[name][fault.check]
				if want == 0 {
					continue
				}
				g := statstest.Generator(520)
				each, any := c.count(repeats, func() [][]float64 {
					sessions := statstest.Clean(g, "normal", sizes, 0)
					fault.put(g, sessions)
					return sessions
				})
				t.Logf("%s: found %.0f %%;%s", fault.name, 100*any, inWords(each))
				if got := each[fault.check]; got < want-2*statstest.StandardError(want, repeats) {
					t.Errorf("%s: %s finds %.1f %%, want at least %.0f %%", fault.name, checkNames[fault.check], 100*got, 100*want)
				}
			}
		})
	}
}
