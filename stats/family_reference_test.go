package stats_test

import (
	"testing"

	"tunegate/stats"
	"tunegate/stats/internal/statstest"
)

// familyCase is a family answered by enumeration in R (fixtures/reference/family.R,
// which also holds the enumeration to multtest).
type familyCase struct {
	ID     string `json:"id"`
	Groups []struct {
		Before      [][]float64 `json:"before"`
		After       [][]float64 `json:"after"`
		Differences [][]float64 `json:"differences"`
		Steps       []float64   `json:"steps"`
	} `json:"groups"`
	Own [][]float64 `json:"own"`
	P   [][]float64 `json:"p"`
	// Intervals holds the ends of simultaneous intervals at 95 %, none where a
	// member has no spread.
	Intervals [][][2]*float64 `json:"intervals"`
}

func (c familyCase) groups() (out []stats.Group) {
	for _, g := range c.Groups {
		out = append(out, stats.Group{Before: g.Before, After: g.After, Differences: g.Differences, Steps: g.Steps})
	}
	return out
}

func TestReferenceFamilyP(t *testing.T) {
	seen := map[string]int{}
	for _, c := range statstest.Answers[familyCase](t, "family.jsonl", 100) {
		groups := c.groups()
		for i, p := range stats.FamilyP(groups, 10_000, 1) {
			g := groups[i]
			for k := range p {
				own := 0.0
				if len(g.Differences) > 0 {
					seen["blocks"]++
					own = stats.StudentP(g.Differences[k], g.Steps[k])
				} else {
					seen["sides"]++
					own = stats.WelchP(g.Before[k], g.After[k], g.Steps[k])
				}
				if !statstest.Near(own, c.Own[i][k], 1e-9, 1e-12) {
					t.Errorf("%s: member %d of group %d: own p %v, want %v", c.ID, k, i, own, c.Own[i][k])
				}
				if !statstest.Near(p[k], c.P[i][k], 1e-9, 1e-12) {
					t.Errorf("%s: member %d of group %d: %v, want %v", c.ID, k, i, p[k], c.P[i][k])
				}
				if p[k] <= 0.05 {
					seen["corrected to 5 % or less"]++
				}
			}
		}
	}
	for _, what := range []string{"blocks", "sides", "corrected to 5 % or less"} {
		if seen[what] < 50 {
			t.Errorf("%d members: %s", seen[what], what)
		}
	}
}

func TestReferenceSimultaneousIntervals(t *testing.T) {
	seen := 0
	for _, c := range statstest.Answers[familyCase](t, "family.jsonl", 100) {
		for i, intervals := range stats.SimultaneousIntervals(c.groups(), 0.95, 10_000, 1) {
			for k, in := range intervals {
				want := c.Intervals[i][k]
				if want[0] == nil {
					t.Errorf("%s: member %d of group %d has no interval", c.ID, k, i)
					continue
				}
				seen++
				if !statstest.Near(in.Lo, *want[0], 1e-9, 1e-9) || !statstest.Near(in.Hi, *want[1], 1e-9, 1e-9) {
					t.Errorf("%s: member %d of group %d: [%v, %v], want [%v, %v]", c.ID, k, i, in.Lo, in.Hi, *want[0], *want[1])
				}
			}
		}
	}
	if seen < 500 {
		t.Errorf("%d intervals are held", seen)
	}
}
