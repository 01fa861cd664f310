package stats

import (
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"tunegate/stats/internal/statstest"
)

func TestMatchSizesByHand(t *testing.T) {
	for _, c := range []struct {
		name                string
		before, after       []int
		wantBefore, wantAft []int
		matched             bool
	}{
		{"equal", []int{3, 3, 3}, []int{3, 3}, []int{3, 3, 3}, []int{3, 3}, false},
		{"the same mix in another order", []int{1, 3, 2}, []int{2, 1, 3}, []int{1, 3, 2}, []int{2, 1, 3}, false},
		{"one size each", []int{5, 5}, []int{2, 2, 2}, []int{2, 2}, []int{2, 2, 2}, true},
		{"one in four that is shorter", []int{3, 3, 3, 3}, []int{3, 1, 3, 3}, []int{3, 3, 3, 3}, []int{3, 1, 3, 3}, false},
		{"one in three", []int{3, 3, 3}, []int{3, 1, 3}, []int{3, 3, 3}, []int{3, 1, 3}, false},
		{"two in three", []int{3, 3, 3}, []int{3, 1, 1}, []int{3, 1, 1}, []int{3, 1, 1}, true},
		{"a half that is shorter", []int{7, 7}, []int{1, 7, 1, 7}, []int{7, 1}, []int{1, 7, 1, 7}, true},
		{"shorter ones on both sides", []int{4, 2}, []int{3, 1}, []int{3, 1}, []int{3, 1}, true},
		{"an empty side", []int{4, 2}, nil, []int{4, 2}, nil, false},
	} {
		keep, matched := MatchSizes([][]int{c.before}, [][]int{c.after})
		if !slices.Equal(keep[0][0], c.wantBefore) || !slices.Equal(keep[1][0], c.wantAft) || matched != c.matched {
			t.Errorf("%s: %v, %v, want %v and %v, %v", c.name, keep, matched, c.wantBefore, c.wantAft, c.matched)
		}
	}
	// Within groups: the same sizes on both sides, crossed, are matched in each.
	keep, matched := MatchSizes([][]int{{5}, {2}}, [][]int{{2}, {5, 5}})
	if want := [2][][]int{{{2}, {2}}, {{2}, {2, 2}}}; !matched || !reflect.DeepEqual(keep, want) {
		t.Errorf("two groups: %v, %v, want %v", keep, matched, want)
	}
}

// Sides of as many groups keep the same sizes, and no group more than it has.
func TestMatchSizesAgree(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 20).Draw(t, "groups")
		side := rapid.SliceOfN(rapid.IntRange(1, 7), n, n)
		sizes := [2][]int{side.Draw(t, "before"), side.Draw(t, "after")}
		keep, matched := MatchSizes([][]int{sizes[0]}, [][]int{sizes[1]})
		var sorted [2][]int
		for i := range keep {
			for k, v := range keep[i][0] {
				if v < 1 || v > sizes[i][k] {
					t.Fatalf("%v keep %v", sizes, keep)
				}
			}
			sorted[i] = slices.Sorted(slices.Values(keep[i][0]))
		}
		if matched && !slices.Equal(sorted[0], sorted[1]) {
			t.Fatalf("%v keep %v", sizes, keep)
		}
	})
}

// Sessions of 1 to 7 exponential runs, any mix between the sides: the rank test keeps
// 5 %. Without matching the first two are called different in more than 8 %, so the
// test would fail.
func TestMatchedSizesKeepTheLevel(t *testing.T) {
	g := statstest.Generator(44)
	mixes := map[string]func(i int) (before, after int){
		"2 and 7":               func(int) (int, int) { return 2, 7 },
		"7 and a half of 2":     func(i int) (int, int) { return 7, []int{2, 7}[i%2] },
		"2 to 6 and 1 to 7":     func(int) (int, int) { return 2 + g.IntN(5), 1 + g.IntN(7) },
		"1 in 3 of one run":     func(i int) (int, int) { return 5, []int{1, 5, 5}[i%3] },
		"even against odd ones": func(i int) (int, int) { return []int{2, 4, 6}[i%3], []int{3, 5, 7}[i%3] },
	}
	repetitions := 1500
	for name, mix := range mixes {
		alarms := 0
		for range repetitions {
			if sessionsDiffer(g, 30, mix) {
				alarms++
			}
		}
		// 6 % and three standard errors of it.
		if share := float64(alarms) / float64(repetitions); share > 0.06+3*0.0061 {
			t.Errorf("%s: %.1f %% false alarms", name, 100*share)
		}
	}
}

func sessionsDiffer(g *rand.Rand, n int, mix func(i int) (before, after int)) bool {
	var sizes [2][]int
	for i := range n {
		b, a := mix(i)
		sizes[0], sizes[1] = append(sizes[0], b), append(sizes[1], a)
	}
	keep, _ := MatchSizes([][]int{sizes[0]}, [][]int{sizes[1]})
	var sides [2][]float64
	for side := range sides {
		for _, k := range keep[side][0] {
			runs := make([]float64, k)
			for r := range runs {
				runs[r] = g.ExpFloat64()
			}
			sides[side] = append(sides[side], Median(runs))
		}
	}
	return MannWhitney(sides[0], sides[1]).PUsed <= 0.05
}
