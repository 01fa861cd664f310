package stats

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"tunegate/stats/internal/numeric"
	"tunegate/stats/internal/statstest"
)

// familyCell is a family of members with common luck of which some change.
type familyCell struct {
	shape         string
	m, n, members int
	luck, spread  float64
	changed       int     // members, by 6 standard deviations
	limit         float64 // of false alarms over the rest
}

func (c familyCell) draw(g *rand.Rand) Group {
	var out Group
	side := func(n int, spread, shift float64) (members [][]float64) {
		luck := statstest.Draw(g, c.shape, n)
		for k := range c.members {
			x := statstest.Moved(statstest.Draw(g, c.shape, n), spread*math.Sqrt(1-c.luck), 0)
			for i := range x {
				x[i] += spread * math.Sqrt(c.luck) * luck[i]
				if k < c.changed {
					x[i] += shift
				}
			}
			members = append(members, x)
		}
		return members
	}
	out.Before = side(c.m, 1, 0)
	out.After = side(c.n, c.spread, 6)
	return out
}

// Strong control: a member that did not change is called real, by its own rank
// test and its corrected p, in at most 6 % of families, whether others changed or
// not; 7 % where spreads are 1:3. Intervals hold for all members at once in at
// least 93 %.
func TestFamilyPromises(t *testing.T) {
	n, drawn := 600, 400
	if testing.Short() || statstest.RaceEnabled {
		n = 120
	}
	cells := []familyCell{}
	for _, shape := range statstest.ShapeNames {
		cells = append(cells,
			familyCell{shape, 4, 4, 8, 0.3, 1, 0, maxFalseAlarms},
			familyCell{shape, 6, 6, 24, 0, 1, 0, maxFalseAlarms},
			familyCell{shape, 5, 5, 8, 0.8, 1, 2, maxFalseAlarms},
			familyCell{shape, 4, 12, 8, 0, 1, 2, maxFalseAlarms})
	}
	cells = append(cells, familyCell{"normal", 6, 6, 24, 0, 3, 0, 0.07}, familyCell{"normal", 4, 4, 8, 0, 3, 0, 0.07})
	for i, c := range cells {
		t.Run(fmt.Sprintf("%s %d and %d, %d members, luck %v, spread %v, %d changed", c.shape, c.m, c.n, c.members, c.luck, c.spread, c.changed),
			func(t *testing.T) {
				t.Parallel()
				g := statstest.Generator(700 + uint64(i))
				alarms, found, covered := 0, 0, 0
				for r := range n {
					group := c.draw(g)
					p := FamilyP([]Group{group}, drawn, uint64(r))[0]
					real := make([]bool, c.members)
					for k := range real {
						real[k] = p[k] <= 0.05+numeric.Slack && MannWhitney(group.Before[k], group.After[k]).PUsed <= 0.05+numeric.Slack
					}
					if slices.Contains(real[c.changed:], true) {
						alarms++
					}
					if c.changed > 0 && real[0] {
						found++
					}
					intervals := SimultaneousIntervals([]Group{group}, 0.95, drawn, uint64(r))[0]
					if !slices.ContainsFunc(intervals[c.changed:], func(in Interval) bool { return in.Lo > 0 || in.Hi < 0 }) {
						covered++
					}
				}
				share := func(k int) float64 { return float64(k) / float64(n) }
				t.Logf("false alarms %.1f %%, found %.1f %%, all covered %.1f %%", 100*share(alarms), 100*share(found), 100*share(covered))
				if share(alarms) > c.limit+2.6*statstest.StandardError(c.limit, n) {
					t.Errorf("%.1f %% false alarms, promised are at most %v %%", 100*share(alarms), 100*c.limit)
				}
				if share(covered) < minCoverage-2.6*statstest.StandardError(minCoverage, n) {
					t.Errorf("all covered in %.1f %%, promised are %v %%", 100*share(covered), 100*minCoverage)
				}
				if c.changed > 0 && share(found) < 0.5 {
					t.Errorf("6 standard deviations found in %.1f %%", 100*share(found))
				}
			})
	}
}

// The harness above can fail: without a correction a family of 24 has false alarms
// in about 1 - 0.96^24 (62 %) of repetitions, the rank test of 6 + 6 rejecting at
// 4.1 %.
func TestFamilyPromisesCanFail(t *testing.T) {
	c := familyCell{"normal", 6, 6, 24, 0, 1, 0, maxFalseAlarms}
	g := statstest.Generator(799)
	alarms, n := 0, 200
	for range n {
		group := c.draw(g)
		for k := range c.members {
			if MannWhitney(group.Before[k], group.After[k]).PUsed <= 0.05 {
				alarms++
				break
			}
		}
	}
	if share := float64(alarms) / float64(n); math.Abs(share-0.62) > 4*statstest.StandardError(0.62, n) {
		t.Errorf("%.1f %% false alarms without a correction, known is about 62 %%", 100*share)
	}
}
